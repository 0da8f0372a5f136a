"""What has to change in a job together with the size or the reveals of its front, so that its strips still lie evenly.

Each candidate is laid out, and only one that lays out is given back.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping
from types import MappingProxyType

from facade.errors import JobError
from facade.job import Edge, Job, Land, Pull
from facade.job.changing import job_with
from facade.layout import Layout, lay_out
from facade.lengths import MM_PER_INCH, Unit

Settings = dict[str, float | tuple[float, ...]]
"""Places in a job with their new values, mm."""

_KEPT = 0.1  # mm by which a gap or space that was said may change without being named
_FINE = 0.01  # mm; strips are told as finely as this, in inches to a thousandth


def fitting_settings(
    job: Job,
    *,
    width: float | None = None,
    height: float | None = None,
    reveals: Mapping[Edge, float] = MappingProxyType({}),
) -> Settings | None:
    """Return the settings that give a front this size or these reveals, and what else must change in its strips or doors.

    As many strips as before, and gaps and spaces as before, are wanted first; then whatever lays out. None where nothing does.
    """
    asked: Settings = {
        f"front.{word}": size for word, size in (("width", width), ("height", height)) if size is not None
    }
    asked |= {f"front.reveals.{edge.value}": size for edge, size in reveals.items()}
    job = job.as_designed
    before, found = lay_out(job), []
    for more in _candidates(job, before, asked):
        layout = _laid_out(job_with(job, more))
        if layout is not None:
            found.append((_disturbed(job, before, layout), more))
    return min(found, key=lambda one: one[0])[1] if found else None


def _candidates(job: Job, before: Layout, asked: Settings) -> Iterator[Settings]:
    """Yield what was asked alone, and with doors of other widths, narrower strips and another edge besides."""
    yield asked
    wanted = job_with(job, asked)
    if job.front.door_widths is not None:
        yield asked | {"front.door_widths": _door_widths(wanted, before)}
        return
    width = _strip_width(wanted, before)
    if width is not None:
        yield asked | {"strips.width": width}
        if job.strips.edge is not None:
            edge = _edge(wanted, before, width)
            yield asked | {"strips.width": width, "strips.edge": edge}


def _inner(job: Job) -> float:
    return job.front.width - job.reveals.left - job.reveals.right


def _door_widths(job: Job, before: Layout) -> tuple[float, ...]:
    """Return the widths of doors that share evenly what the front has less, with the spaces as they were."""
    widths = job.front.door_widths or ()
    room = _inner(job) - (len(widths) - 1) * before.space
    less = (sum(widths) - room) / len(widths)
    first = [job.ruler.down(width - less) for width in widths[:-1]]
    return (*first, round(room - sum(first), 6))


def _strip_width(job: Job, before: Layout) -> float | None:
    """Return the width with which as many strips, and gaps as wide as before, fill the doors."""
    doors, division = len(before.doors), before.divisions[0]
    if job.strips.width is None:
        return None
    edge = job.strips.edge or 0.0
    if job.front.hidden_joint and doors > 1:
        count, room = division.count * doors, _inner(job)
    else:
        count, room = division.count, (_inner(job) - (doors - 1) * before.space) / doors
    part = _FINE if job.unit is Unit.MM else MM_PER_INCH / 1000
    width = (room - 2 * edge - (count - 1) * division.gap) / count
    return round(math.floor(width / part + 1e-6) * part, 9) if width > part else None


def _edge(job: Job, before: Layout, width: float) -> float:
    doors, division = len(before.doors), before.divisions[0]
    room = (_inner(job) - (doors - 1) * before.space) / doors
    return max((room - division.count * width - (division.count - 1) * division.gap) / 2, 0.0)


def _laid_out(job: Job) -> Layout | None:
    """Return the layout of a job whose lands and pulls still lie on its front; None where it cannot be."""
    on_front: tuple[Land | Pull, ...] = (*job.lands, *job.pulls)
    sides = (job.front.width, job.front.height)
    if any(one.centre[axis] + one.size[axis] / 2 > sides[axis] + 1e-9 for one in on_front for axis in (0, 1)):
        return None
    try:
        return lay_out(job)
    except JobError:
        return None


def _disturbed(job: Job, before: Layout, after: Layout) -> int:
    """Return how much of what was said or seen would not be as it was: the number of strips, gaps, spaces."""
    count = len(after.strips) != len(before.strips)
    gaps = zip(before.divisions, after.divisions, strict=True)
    gap = job.strips.gap is not None and any(abs(one.gap - two.gap) > _KEPT for one, two in gaps)
    space = abs(after.space - before.space) > _KEPT
    return 2 * count + gap + space
