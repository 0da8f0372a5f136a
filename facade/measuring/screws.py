"""To be written."""

from __future__ import annotations

from dataclasses import dataclass

from facade.job import Job
from facade.slicer import Strip


@dataclass(frozen=True)
class ScrewPlan:
    """To be written."""


def screws_of(job: Job, strip: Strip) -> ScrewPlan:
    """To be written."""
    return ScrewPlan()
