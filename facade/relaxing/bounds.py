"""How far a design may be changed, and what stands in the way of changing it further."""

from __future__ import annotations

from dataclasses import dataclass, replace

from facade.job import Job

# What is tried, beyond what the maker allows, to say what a change would have needed.
_LEAST_DEPTH, _MOST_STRETCH, _MOST_MOVED = 0.05, 10.0, 1000.0


@dataclass(frozen=True)
class Allowed:
    """What a job allows: its table [relax]; `moved` in mm."""

    depth: float
    stretch: float
    moved: float
    caps: bool
    fit: bool


def allowed_by(job: Job) -> Allowed:
    """Return what a job allows."""
    bounds = job.relax
    return Allowed(bounds.depth, bounds.stretch, bounds.moved, bounds.caps, bounds.fit)


def anything(allowed: Allowed) -> Allowed:
    """Return the same with every bound of the table [relax] lifted as far as it goes."""
    return replace(allowed, depth=_LEAST_DEPTH, stretch=_MOST_STRETCH, moved=_MOST_MOVED, caps=True, fit=True)
