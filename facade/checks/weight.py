"""Weight: what does each door weigh, and do its hinges carry it?"""

from __future__ import annotations

import math

from facade.checks.finding import Finding, Weight, runs
from facade.doors.timber import moisture_now, wood_density
from facade.doors.weight import DoorWeight, door_weights, hinge_table
from facade.front import Front
from facade.job.hanging import Pivot
from facade.job.model import Job
from facade.layout import Door

_SHEET = "the hinge's own sheet decides"
_OTHER = "give hinges.table the rows of a hinge that carries it, from its own sheet"


def check(front: Front) -> list[Finding]:
    """Return what the doors weigh, and where hinges are too few, too close together or beyond their table."""
    job, weights = front.job, door_weights(front)
    found = _weighed(job, weights)
    if _hangs_on_pivots(job):
        return found
    for weight, door in zip(weights, front.layout.doors, strict=True):
        found += [_beyond_table(job, weight, door)] if weight.hinges is None else _too_few(job, weight, weight.hinges)
        found += _too_close(job, door)
    return found


def _hangs_on_pivots(job: Job) -> bool:
    return job.hinges is not None and job.hinges.pivot is Pivot.KNIFE


def _counted(job: Job, weight: DoorWeight) -> float:
    """Return what a door counts for its hinges, kg: its weight sits in front of its board."""
    return weight.whole.kg * job.limit("forward_load").value


def _weighed(job: Job, weights: list[DoorWeight]) -> list[Finding]:
    """Return what the doors weigh; doors of which the same is said are named together."""
    alike: dict[str, list[DoorWeight]] = {}
    for weight in weights:
        alike.setdefault(_said(job, weight), []).append(weight)
    return [
        Finding(
            "weight",
            Weight.KNOW,
            said.format(_named([weight.door for weight in some])),
            door=some[0].door,
            value=some[0].whole.kg,
            unit="kg",
            source=f"volume of the strips, {wood_density(job):.0f} kg/m3 at {moisture_now(job):.1f} % moisture",
        )
        for said, some in alike.items()
    ]


def _said(job: Job, weight: DoorWeight) -> str:
    """Return what is said of a door, with room for its number."""
    middle = job.ruler.text(weight.whole.z + job.board.thickness, 0)
    if _hangs_on_pivots(job):
        hinges = "two pivots carry it, and their own sheet decides"
    elif weight.hinges is None:
        hinges = f"more than the hinge table holds; {_SHEET}"
    else:
        count = f"{weight.hinges} hinge{'s' if weight.hinges > 1 else ''}"
        hinges = f"{count} by the table ({_table_source(job)}; {_SHEET})"
    return (
        f"{{}} {weight.whole.kg:.1f} kg, {weight.board.kg:.1f} kg of it the bare board; middle of mass {middle} in front of the "
        f"board's back: {hinges}."
    )


def _named(doors: list[int]) -> str:
    return f"Door {doors[0]} weighs" if len(doors) == 1 else f"Doors {runs(doors)} each weigh"


def _table_source(job: Job) -> str:
    return "said in the job" if job.hinges and "table" in job.hinges.model_fields_set else "rule of thumb"


def _beyond_table(job: Job, weight: DoorWeight, door: Door) -> Finding:
    """Return that the table has no hinges for a door; a job that says nothing of hinges may mean panels that never turn."""
    show, table = job.ruler.text, hinge_table(job)
    most, tallest = max(row.mass for row in table), max(row.height for row in table)
    counted = _counted(job, weight)
    heavy = counted > most
    what = f"counts as {counted:.1f} kg for its hinges" if heavy else f"is {show(door.height)} high"
    limit = f"{most:.1f} kg" if heavy else show(tallest)
    return Finding(
        "weight",
        Weight.LOOK if job.hinges is None else Weight.STOPS,
        f"Door {weight.door} {what}, more than the hinge table holds: {limit}.",
        topic="table",
        door=weight.door,
        value=counted if heavy else door.height,
        limit=most if heavy else tallest,
        unit="kg" if heavy else "mm",
        source=_table_source(job),
        cure=_lighter(job, weight, most) if heavy else f"Make the door at most {show(tallest)} high, or {_OTHER}.",
    )


def _lighter(job: Job, weight: DoorWeight, most: float) -> str:
    allowed = math.floor(10.0 * most / job.limit("forward_load").value) / 10.0
    less = math.ceil(10.0 * (weight.whole.kg - allowed)) / 10.0
    return f"Make the door {less:.1f} kg lighter, {allowed:.1f} kg at most: narrower, a lighter board or thinner strips; or {_OTHER}."


def _too_few(job: Job, weight: DoorWeight, needed: int) -> list[Finding]:
    meant = job.hinges.count if job.hinges else None
    if meant is None or meant >= needed:
        return []
    return [
        Finding(
            "weight",
            Weight.LOOK,
            f"Door {weight.door} weighs {weight.whole.kg:.1f} kg and hangs on {meant} hinge{'s' if meant > 1 else ''}: the table asks "
            f"for {needed}, since its weight sits in front of its board and counts as {_counted(job, weight):.1f} kg. It would sag.",
            topic="count",
            door=weight.door,
            value=meant,
            limit=needed,
            unit="hinges",
            source=_table_source(job),
            cure=f"Take {needed} hinges (hinges.count = {needed}), unless the hinge's own sheet carries it on {meant}.",
        )
    ]


def _too_close(job: Job, door: Door) -> list[Finding]:
    between = job.hinges.between if job.hinges else None
    if between is None or between > door.width + 1e-9:
        return []
    show = job.ruler.text
    return [
        Finding(
            "weight",
            Weight.LOOK,
            f"The hinges of door {door.number} are {show(between)} from topmost to lowest, no more than the door is wide, "
            f"{show(door.width)}: it pulls hard on the upper one and sags.",
            topic="between",
            door=door.number,
            value=between,
            limit=door.width,
            source="rule of thumb",
            cure=_farther(job, door),
        )
    ]


def _farther(job: Job, door: Door) -> str:
    show = job.ruler.text
    if door.height <= door.width:
        return (
            f"The door is only {show(door.height)} high: divide it into narrower doors, or ask the hinge's own sheet what it "
            "carries on so wide a door."
        )
    return f"Set them more than {show(door.width)} apart: the door is {show(door.height)} high."
