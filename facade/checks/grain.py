"""To be written."""

from __future__ import annotations

from facade.checks.finding import Finding
from facade.front import Front


def check(front: Front) -> list[Finding]:
    """To be written."""
    return []
