"""Weight: what does each door weigh, and do its hinges carry it?"""

from __future__ import annotations

import math
from itertools import islice
from typing import Any

from facade.checks import lands, screws, swing, thickness
from facade.checks.asking import if_told
from facade.checks.cures import typed, ways
from facade.checks.finding import Finding, Weight, runs
from facade.checks.trying import stops_nothing
from facade.doors.timber import moisture_now, wood_density
from facade.doors.trying import front_with
from facade.doors.weight import DoorWeight, door_weights, hinge_table, hinges_needed
from facade.front import Front
from facade.job.hanging import Pivot
from facade.job.model import Job
from facade.layout import Door

_UNEVEN = 1.05  # times its even share, that a door of a lively relief may weigh
_SHEET = "the hinge's own sheet decides"
_LIGHTEST_BOARD = 350.0  # kg/m3; no board that carries screws is lighter
_OTHER = "give hinges.table the rows of a hinge that carries it, from its own sheet"


def check(front: Front) -> list[Finding]:
    """Return what the doors weigh, and where hinges are too few, too close together or beyond their table."""
    job, weights = front.job, door_weights(front)
    found = _weighed(job, weights)
    if _hangs_on_pivots(job):
        return found
    for weight, door in zip(weights, front.layout.doors, strict=True):
        if weight.hinges is None:
            found.append(_beyond_table(front, weights, weight, door))
        else:
            found += _too_few(job, weight, weight.hinges, _most_hinges(weights))
        found += _too_close(front, door)
    return found


def _most_hinges(weights: list[DoorWeight]) -> int:
    return max(weight.hinges or 0 for weight in weights)


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
            topic=f"weighed, door {some[0].door}",
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
        hinges = f"{count} by the table, {_table_source(job)}; {_SHEET}"
    return (
        f"{{}} {weight.whole.kg:.1f} kg, {weight.board.kg:.1f} kg of it the bare board; middle of mass {middle} in front of the "
        f"board's back: {hinges}."
    )


def _named(doors: list[int]) -> str:
    return f"Door {doors[0]} weighs" if len(doors) == 1 else f"Doors {runs(doors)} each weigh"


def _table_source(job: Job) -> str:
    return (
        "said in the job" if job.hinges and "table" in job.hinges.model_fields_set else "rule of thumb (hinges.table)"
    )


def _beyond_table(front: Front, weights: list[DoorWeight], weight: DoorWeight, door: Door) -> Finding:
    """Return that the table has no hinges for a door; a job that says nothing of hinges may mean panels that never turn."""
    job, table = front.job, hinge_table(front.job)
    show = job.ruler.text
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
        cure=if_told(lambda: _lighter(front, weights, most) if heavy else _lower(front, tallest)),
    )


def _lighter(front: Front, weights: list[DoorWeight], most: float) -> str:
    """Return what makes every door light enough for the table: as much for the heaviest of them."""
    job, heaviest = front.job, max(weights, key=lambda one: one.whole.kg)
    allowed = math.floor(10.0 * most / job.limit("forward_load").value) / 10.0
    less = math.ceil(10.0 * (heaviest.whole.kg - allowed)) / 10.0
    density = 10.0 * math.floor(job.board.density * (1.0 - less / heaviest.board.kg) / 10.0)
    tried = [("take a lighter board", {"board.density": density})] if density >= _LIGHTEST_BOARD else []
    tried += [("divide the front into more doors", {"front.doors": len(weights) + more}) for more in (1, 2)]
    return ways(
        f"make the door {less:.1f} kg lighter, {allowed:.1f} kg at most: narrower, a lighter board or thinner strips",
        *islice((f"{words}: {typed(job, one)}" for words, one in tried if _light_enough(front, weights, one)), 2),
        _OTHER,
    )


def _light_enough(front: Front, weights: list[DoorWeight], settings: dict[str, Any]) -> bool:
    """Return whether the table has hinges for every door of a front with other settings, and nothing else stops it anew."""
    if "front.doors" in settings:
        return _divided(front, weights, settings)
    changed = front_with(front, settings)
    if changed is None:
        return False
    changed.keep_measures(front.measures())
    return all(one.hinges is not None for one in door_weights(changed))


def _divided(front: Front, weights: list[DoorWeight], settings: dict[str, Any]) -> bool:
    """Return the same for more doors: each then weighs its share of what all weigh now, and its own hardware."""
    job = front.job
    # Places, sides and sizes that a job gives door by door do not fit other doors.
    if job.front.door_widths or job.bare_doors or (job.hinges and job.hinges.sides):
        return False
    hardware = job.board.hardware
    each = sum(one.whole.kg - hardware for one in weights) / settings["front.doors"] + hardware
    counted = _UNEVEN * each * job.limit("forward_load").value
    if hinges_needed(hinge_table(job), counted, front.layout.doors[0].height) is None:
        return False
    return stops_nothing(front, settings, (swing.check, lands.check, screws.check, thickness.check), some_strips=True)


def _lower(front: Front, tallest: float) -> str:
    job, show = front.job, front.job.ruler.text
    height = tallest + job.reveals.top + job.reveals.bottom
    # A measured opening, lands and pulls stay where they are.
    said = "" if job.opening or job.lands or job.pulls else f": {typed(job, {'front.height': height})}"
    return ways(f"make the door at most {show(tallest)} high{said}", _OTHER)


def _too_few(job: Job, weight: DoorWeight, needed: int, most: int) -> list[Finding]:
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
            cure=ways(
                f"take {most} hinges: {typed(job, {'hinges.count': most})}",
                f"give hinges.table the rows of a hinge that carries it on {meant}, from its own sheet",
            ),
        )
    ]


def _too_close(front: Front, door: Door) -> list[Finding]:
    job = front.job
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
            cure=_farther(front, door),
        )
    ]


def _farther(front: Front, door: Door) -> str:
    job, show = front.job, front.job.ruler.text
    wanted = job.ruler.up(max(one.width for one in front.layout.doors) + job.ruler.mark)
    if door.height <= wanted:
        return (
            f"The door is only {show(door.height)} high: divide it into narrower doors, or ask the hinge's own sheet what it "
            "carries on so wide a door."
        )
    return ways(
        f"set them more than {show(door.width)} apart, the door is {show(door.height)} high: {typed(job, {'hinges.between': wanted})}"
    )
