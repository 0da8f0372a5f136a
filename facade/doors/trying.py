"""A front as it would be with other settings, so that what is told to a maker was tried before."""

from __future__ import annotations

from dataclasses import replace

from facade.errors import JobError
from facade.front import Front, build_front
from facade.job.changing import Settings, job_with
from facade.job.model import DoorPattern, Job
from facade.layout import Layout, lay_out
from facade.reliefs import MANY_TERMS, terms

# What is said here changes neither where strips are nor how high they stand.
_SHAPE_STAYS = ("hinges", "board", "fixing", "room", "limits", "wood.moisture", "wood.rings")
# What is said here moves strips under a relief that stays where it is.
_RELIEF_STAYS = (*_SHAPE_STAYS, "strips", "front.space", "front.hidden_joint", "front.door_widths", "front.reveals")


def layout_with(job: Job, settings: Settings) -> Layout | None:
    """Return the layout of a job with other settings; None where its strips cannot be laid out."""
    changed = job_with(job, settings)
    if changed.front.hidden_joint and changed.front.space is not None:
        return None
    try:
        return lay_out(changed)
    except JobError:
        return None


def front_with(front: Front, settings: Settings) -> Front | None:
    """Return a front with other settings; None where there is none. What stays as it is is not worked out again."""
    job = job_with(front.job, settings)
    if _all_in(settings, _SHAPE_STAYS):
        return replace(front, job=job, _measured=[], _alone={})
    layout = layout_with(front.job, settings)
    if layout is None:
        return None
    if _all_in(settings, _RELIEF_STAYS) and _lies_on_the_front(job) and layout.plan is None:
        return replace(front, job=job, layout=layout, _kept={}, _measured=[], _alone={})
    try:
        return build_front(job)
    except JobError:
        return None


def is_slow(front: Front) -> bool:
    """Whether heights of a changed front take long: they rest on what a cutter can leave, all over, of a relief of many terms."""
    return front.job.cutter.fit and terms(front.job.layers) > MANY_TERMS


def _all_in(settings: Settings, tables: tuple[str, ...]) -> bool:
    return all(place.startswith(tables) for place in settings)


def _lies_on_the_front(job: Job) -> bool:
    """Tell whether heights depend on the place on the front alone, not on doors and strips."""
    carving = job.carving
    return carving.doors is DoorPattern.CONTINUOUS and not (carving.packed or job.caps or job.cutter.fit)
