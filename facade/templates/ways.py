"""Which sheets a way of work needs: those of other ways are left out, unless they are asked for."""

from __future__ import annotations

from facade.job import Job, Way
from facade.templates.piece import Kind

_EVERY = (Kind.FIRST, Kind.CALIBRATION, Kind.STICKS)
# Common practice. What shows the same surface in another way stays out: a maker works with one of them.
SHEETS_OF: dict[Way, tuple[Kind, ...]] = {
    Way.AS_A_SET: (*_EVERY, Kind.FACES, Kind.HOLES, Kind.GAUGES, Kind.BOARDS, Kind.LISTS, Kind.WRONG),
    Way.SAWN_SIDES: (*_EVERY, Kind.SIDES, Kind.GAUGES, Kind.BOARDS, Kind.LISTS, Kind.WRONG),
    Way.PANEL_FIRST: (*_EVERY, Kind.FACES, Kind.HOLES, Kind.GAUGES, Kind.BOARDS, Kind.LISTS, Kind.WRONG),
    Way.MACHINE: (*_EVERY, Kind.GAUGES, Kind.BOARDS, Kind.LISTS, Kind.WRONG),
}
# How each way goes, in a sentence (common practice).
GOES = {
    Way.AS_A_SET: "rip first, then carve all strips together on the carving board, by the lines of equal depth",
    Way.SAWN_SIDES: "rip first, lay each strip on its side, saw to its saw line, then fair the face",
    Way.PANEL_FIRST: "carve a glued panel, then rip it: the saw's kerf becomes the gap, and no strip has a second chance",
    Way.MACHINE: "a machine cuts the faces or the profiles: its files and its job sheet come from `facade cnc`",
}
# On a carving board strips are carved together.
ON_CARVING_BOARD = (Way.AS_A_SET, Way.SAWN_SIDES)


def sheets_of(job: Job) -> tuple[Kind, ...]:
    """Return the kinds of sheets that a job's way of work needs."""
    return SHEETS_OF[job.way]


def sheets_of_strips(job: Job) -> tuple[Kind, ...]:
    """Return the kinds of sheets for single strips alone: their sides whatever the way is, since no neighbour is carved with them."""
    wanted = (Kind.SIDES, Kind.HOLES, Kind.LISTS, Kind.OFFSETS)
    return tuple(kind for kind in wanted if kind is not Kind.HOLES or kind in sheets_of(job))


def way_in_words(job: Job) -> str:
    """Return the way of work, and why it is that one: "sawn sides, since the job says nothing else"."""
    if job.work.way is not None:
        why = "as the job says"
    elif job.way is Way.AS_A_SET:
        why = f"since the job has {'carving.board' if job.carving.board else 'carving.packed'} = true"
    elif job.way is Way.MACHINE:
        why = "since the job has a [machine]"
    else:
        why = "since the job says nothing else"
    return f"{job.way.value}, {why}"


def other_ways(job: Job) -> str:
    """Return the other ways as the job file says them: `work.way = "as a set"`, "panel first" or "machine"."""
    first, *others = (f'"{way.value}"' for way in Way if way is not job.way)
    return f"work.way = {first}, {', '.join(others[:-1])} or {others[-1]}"
