"""To be written."""

from __future__ import annotations

from dataclasses import dataclass

from facade.slicer import Strip


@dataclass(frozen=True)
class Bending:
    """To be written."""


def bending_of(strip: Strip) -> Bending:
    """To be written."""
    return Bending()
