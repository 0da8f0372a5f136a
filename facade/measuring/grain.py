"""To be written."""

from __future__ import annotations

from dataclasses import dataclass

from facade.job import Job
from facade.slicer import Strip


@dataclass(frozen=True)
class Grain:
    """To be written."""


def grain_of(job: Job, strip: Strip) -> Grain:
    """To be written."""
    return Grain()
