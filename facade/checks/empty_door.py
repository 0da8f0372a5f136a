"""Empty doors: are the bare doors, hung and measured, flat enough to be clad?"""

from __future__ import annotations

from facade.checks.finding import Finding, Weight, runs
from facade.front import Front
from facade.job import BareDoor, Limit


def check(front: Front) -> list[Finding]:
    """Return which bare doors may be clad, which may not, and which are not measured yet."""
    limit = front.job.limit("warp")
    found = [_verdict(front, door, limit) for door in sorted(front.job.bare_doors, key=lambda one: one.door)]
    return [*found, *_not_measured(front, limit)]


def _verdict(front: Front, door: BareDoor, limit: Limit) -> Finding:
    worst = max(door.bow, door.twist)
    go = worst <= limit.value + 1e-9
    return Finding(
        "empty door",
        Weight.KNOW if go else Weight.STOPS,
        _words(front, door, limit, go),
        topic="go" if go else "no go",
        door=door.door,
        value=worst,
        limit=limit.value,
        source=f"measured by you; limit: {limit.source}",
        cure="" if go else _cure(front, worst, limit),
    )


def _words(front: Front, door: BareDoor, limit: Limit, go: bool) -> str:
    show = front.job.ruler.text
    measured = f"bare, it has {show(door.bow)} of bow and {show(door.twist)} of twist"
    if go:
        return f"Door {door.door}: go; {measured}, {show(limit.value)} is allowed."
    return f"Door {door.door}: no go; {measured}, more than {show(limit.value)} before it is clad."


def _cure(front: Front, worst: float, limit: Limit) -> str:
    show = front.job.ruler.text
    return (
        f"Swap the board, or add a stiffener before cladding that brings it from {show(worst)} to {show(limit.value)} or less; "
        "then measure again, and say what you read under [[bare_doors]]."
    )


def _not_measured(front: Front, limit: Limit) -> list[Finding]:
    """Return the one word about doors that nothing is known of yet."""
    measured = {door.door for door in front.job.bare_doors}
    missing = [door.number for door in front.layout.doors if door.number not in measured]
    if not missing:
        return []
    doors = (
        "the bare doors"
        if len(missing) == len(front.layout.doors)
        else f"bare door{'s' if len(missing) > 1 else ''} {runs(missing)} too"
    )
    return [
        Finding(
            "empty door",
            Weight.KNOW,
            f"Hang {doors} and measure bow and twist before cladding, with a string or a straightedge: "
            f"go at {front.job.ruler.text(limit.value)} or less.",
            topic="not measured yet",
            limit=limit.value,
            source=limit.source,
        )
    ]
