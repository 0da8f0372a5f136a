"""What clears a door that touches what stands beside it as it turns: caps, bevels, other pins, stops, and more room.

Caps, pins and stops are found by turning the door again as they would have it; bevels by a closed form.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import replace

import numpy as np

from facade.arrays import smooth_step
from facade.doors.swing import (
    NEAR,
    Obstacle,
    Passage,
    Place,
    Swing,
    Turn,
    meeting_passage,
    near_hinge,
    standing,
    swing_of,
    swings,
    turn_of,
    usual_pin,
)
from facade.doors.turning import FAR, FINE, Outline, Pin, sums, worst_row
from facade.front import Front
from facade.job.hanging import Neighbour, Pivot
from facade.job.model import Cap, Job
from facade.lengths import Unit
from facade.rules import rule


def swing_with(front: Front, door: int, *, pivot: Pivot | None = None, opens: float | None = None) -> Swing:
    """Return how a door would turn with its pin where `pivot` usually has it, or opening `opens` degrees; the job has hinges."""
    leaf = front.layout.doors[door - 1]
    turn = turn_of(front, leaf)
    if pivot is not None:
        turn = replace(turn, pin=usual_pin(front, leaf, turn.hand, pivot))
    return swing_of(turn if opens is None else replace(turn, opens=opens))


def turns_clear(front: Front, door: int, pivot: Pivot) -> bool:
    """Return whether a door would open as far as it must without touching, with its pin where `pivot` usually has it."""
    leaf = front.layout.doors[door - 1]
    turn = turn_of(front, leaf)
    turn = replace(turn, pin=usual_pin(front, leaf, turn.hand, pivot))
    if turn.width <= 0.0 or any(_touches(turn, one) for one in standing(turn, turn.hand)):
        return False
    return all(meeting_passage(turn, one).angle is None for one in standing(turn, turn.other_hand)[:1])


def _touches(turn: Turn, obstacle: Obstacle) -> bool:
    """Return whether a door touches something beside its hinge edge before it is as far open as it must be."""
    door, other = near_hinge(turn, obstacle)
    value = sums(turn.pin, obstacle.room)
    if float(value(door.highest(), other.highest())[0]) <= turn.limit + 1e-9:
        return False
    return worst_row(value, door, other)[0] > turn.limit + 1e-9


def opens_leaving(front: Front, passage: Passage, clearance: float) -> float:
    """Return how far a door opens, degrees, until a place of its hinge edge's side is `clearance` mm from what it touches."""
    turn, obstacle = _of_passage(front, passage)
    if obstacle.room < clearance:
        return 0.0
    door, other = near_hinge(turn, obstacle)
    total, _ = worst_row(sums(turn.pin, obstacle.room - clearance), door, other)
    return min(turn.opens, 180.0 - math.degrees(total))


def closing_bevel(width: float, depth: float) -> tuple[float, float] | None:
    """Return the bevel of a meeting edge that then swings out nowhere: mm taken off at its back corner, and degrees.

    w - sqrt(w^2 - t^2), at half of asin(t / w): a chord of the circle round the pin; plane geometry. None where the door is
    too narrow for one.
    """
    if depth >= width:
        return None
    return width - math.sqrt(width**2 - depth**2), math.degrees(math.asin(depth / width)) / 2.0


def room_told(job: Job, room: float) -> float:
    """Return a reveal or space rounded up as a job writes it: to a tenth of a mm, or a fraction of an inch."""
    return job.ruler.up(room)


def clearing_caps(front: Front) -> list[Cap]:
    """Return height caps that let doors turn which touch a neighbour or a case side with their hinge edge, where caps can.

    They leave `swing_clearance`, are flat, and lie no lower than the floor. A door whose board alone touches has none, nor
    has one that only a wall keeps from opening.
    """
    stopped = (passage for swing in swings(front) for passage in swing.passages if passage.angle is not None)
    caps = (clearing_cap(front, passage) for passage in stopped if passage.stands is not Neighbour.WALL)
    return [cap for cap in caps if cap is not None]


def clearing_cap(front: Front, passage: Passage) -> Cap | None:
    """Return the highest flat cap, and the narrowest of that height, with which a hinge edge passes; None where none can.

    It leaves `swing_clearance`. Heights are rounded down, widths up, as a job writes them.
    """
    if passage.place is not Place.HINGE:
        return None
    turn, obstacle = _of_passage(front, passage)
    clear = _clears_capped(turn, obstacle)
    floor, job = front.job.wood.floor, front.job
    if not clear(floor, FAR):
        return None
    height = max(floor, job.ruler.down(_last(lambda share: clear(share, FAR), floor, job.highest)))
    part = 1.0 if job.unit is Unit.MM else job.ruler.mark
    width = -_last(lambda narrow: clear(height, -narrow), -turn.door.width, -part)
    return Cap(
        door=passage.door, edge=passage.edge, height=height, width=round(math.ceil(width / part - 1e-9) * part, 9)
    )


def _of_passage(front: Front, passage: Passage) -> tuple[Turn, Obstacle]:
    """Return the turning door of a passage at its hinge edge, and what it passes."""
    turn = turn_of(front, front.layout.doors[passage.door - 1])
    return turn, next(one for one in standing(turn, turn.hand) if one.neighbour == passage.neighbour)


def _clears_capped(turn: Turn, obstacle: Obstacle) -> Callable[[float, float], bool]:
    """Return whether a cap of a height and a width lets the door turn with the clearance wanted, whatever the row."""
    job, limit = turn.front.job, turn.limit
    door, other = (outline.highest() for outline in near_hinge(turn, obstacle))
    room = obstacle.room - job.limit("swing_clearance").value
    blend = rule("blend")

    def clear(height: float, width: float) -> bool:
        cap = height + smooth_step((door.away - width) / blend) * (job.highest + 1.0 - height)
        capped = Outline(door.away, np.minimum(door.forward, cap))
        pin = _pin_under(turn, capped)
        return room >= 0.0 and float(sums(pin, room)(capped, other)[0]) <= limit

    return clear


def _pin_under(turn: Turn, capped: Outline) -> Pin:
    """Return the pin as it stands when the face is capped: one at the front comes down with the face."""
    hinges = turn.front.job.hinges
    assert hinges is not None
    if hinges.pivot is not Pivot.FRONT or hinges.forward is not None:
        return turn.pin
    face = float(capped.forward[0, capped.away <= capped.away[3] + NEAR].max())
    return replace(turn.pin, forward=min(turn.pin.forward, face))


def _last(holds: Callable[[float], bool], low: float, high: float) -> float:
    """Return the greatest value from `low`, where it holds, to `high` at which it still holds, to 0.004 mm."""
    if holds(high):
        return high
    while high - low > FINE:
        middle = (low + high) / 2.0
        low, high = (middle, high) if holds(middle) else (low, middle)
    return low
