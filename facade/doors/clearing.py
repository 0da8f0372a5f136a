"""What clears a door that touches what stands beside it as it turns: caps, bevels, other pins, stops, and more room.

Caps, pins, stops and room are found by turning the doors again as they would have it; bevels by a closed form.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Collection, Iterable, Iterator
from dataclasses import dataclass, replace
from enum import StrEnum
from typing import Any

import numpy as np

from facade.arrays import smooth_step
from facade.doors.gaps import with_gap
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
    swings,
    turn_of,
    usual_pin,
)
from facade.doors.trying import front_with, is_slow, layout_with
from facade.doors.turning import FAR, FINE, Outline, Pin, sums, worst_row
from facade.front import Front
from facade.job.hanging import Neighbour, Pivot
from facade.job.model import Cap, Edge, Job
from facade.lengths import Unit
from facade.rules import rule

_STEEPEST = 30.0  # degrees of a bevel, as the job has it
_TRIES = 6  # turns of giving more room until it is enough
_PARTS = 5  # halvings of room beside a wall until it is the least
_MUCH = 10.0  # mm more from which on a little less is looked for


class Topic(StrEnum):
    """What a door's swing is complained of for: the place that touches or passes too near, or a wall that stops it early."""

    HINGE = "hinge edge"
    MEETING = "meeting edge"
    WALL = "wall"


@dataclass(frozen=True)
class Trouble:
    """A door that touches something before it is as far open as it must be, or all but touches it.

    `wanted` is the room, mm, with which it would pass with the clearance wanted.
    """

    door: int
    topic: Topic
    edge: Edge
    neighbour: int | None
    touches: bool
    wanted: float

    @property
    def stops(self) -> bool:
        """Whether the door cannot be opened as it must; a wall at its hinge edge only keeps it from opening farther."""
        return self.touches and self.topic is not Topic.WALL


def topic_of(passage: Passage) -> Topic:
    """Return what a passage is complained of for."""
    if passage.place is Place.MEETING:
        return Topic.MEETING
    return Topic.WALL if passage.stands is Neighbour.WALL and passage.angle is not None else Topic.HINGE


def troubles(front: Front, turning: Iterable[Swing], topic: Topic | None = None) -> list[Trouble]:
    """Return what is wrong with the swing of doors, or only what is under a topic, with the room that each wants."""
    clearance = front.job.limit("swing_clearance").value
    wrong = (
        passage
        for swing in turning
        for passage in swing.passages
        if passage.angle is not None or passage.room - passage.sweep < clearance - 1e-6
    )
    return [
        Trouble(
            door=passage.door,
            topic=topic_of(passage),
            edge=passage.edge,
            neighbour=passage.neighbour,
            touches=passage.angle is not None,
            wanted=passage.sweep + clearance,
        )
        for passage in wrong
        if topic in (None, topic_of(passage))
    ]


def turns(front: Front, topic: Topic, *, stopped: Collection[Topic] = ()) -> bool:
    """Return whether nothing is wrong any more under a topic, and nothing stops a door that did not before (`stopped`).

    Rooms are not worked out, only whether they are enough: quick.
    """
    for door in front.layout.doors:
        turn = turn_of(front, door)
        if turn.width <= 0.0:
            return False
        for found, stops in _wrong(turn):
            if found is topic or (stops and found not in stopped):
                return False
    return True


def opens_to(front: Front) -> float:
    """Return how far every door of a front opens at least, degrees; 0 where one is stopped by anything but a wall at its hinges."""
    reached = front.job.hinges.opens if front.job.hinges else 0.0
    for door in front.layout.doors:
        turn = turn_of(front, door)
        if turn.width <= 0.0 or any(stops for _, stops in _wrong(turn)):
            return 0.0
        for one in standing(turn, turn.hand):
            if one.stands is Neighbour.WALL:
                reached = min(reached, _opens_within(turn, one, 0.0))
    return reached


def _wrong(turn: Turn) -> Iterator[tuple[Topic, bool]]:
    """Yield what is wrong with a door's swing, each with whether it stops it."""
    clearance = turn.front.job.limit("swing_clearance").value
    for one in standing(turn, turn.hand):
        if _touches(turn, one, clearance + 2.0 * FINE):
            touches = _touches(turn, one, 0.0)
            wall = one.stands is Neighbour.WALL and touches
            yield (Topic.WALL, False) if wall else (Topic.HINGE, touches)
    meets = _meets(turn)
    if meets is not None:
        yield Topic.MEETING, meets


def _meets(turn: Turn) -> bool | None:
    """Return whether a meeting edge touches, or only passes too near; None where it passes as it should."""
    for one in standing(turn, turn.other_hand)[:1]:
        passage = meeting_passage(turn, one)
        if passage.angle is not None or one.room - passage.sweep < turn.front.job.limit("swing_clearance").value:
            return passage.angle is not None
    return None


def _touches(turn: Turn, obstacle: Obstacle, clearance: float) -> bool:
    """Return whether a door comes nearer than `clearance` to something beside its hinge edge before it is as far open as it must be."""
    room = obstacle.room - clearance
    if room < 0.0:
        return True
    door, other = near_hinge(turn, obstacle)
    value = sums(turn.pin, room)
    if float(value(door.highest(), other.highest())[0]) <= turn.limit + 1e-9:
        return False
    return worst_row(value, door, other)[0] > turn.limit + 1e-9


def pivots(front: Front) -> Iterator[dict[str, Any]]:
    """Yield the settings of pivots that the job does not have; of a hinge whose own numbers were given, its new numbers."""
    job, hinges = front.job, front.job.hinges
    assert hinges is not None
    own = hinges.inward is not None or hinges.forward is not None
    for pivot in (Pivot.FRONT, Pivot.KNIFE):
        if pivot is not hinges.pivot or own:
            settings: dict[str, Any] = {"hinges.pivot": pivot}
            if own:
                pins = [
                    usual_pin(front, door, job.hinge_side(door.number, len(front.layout.doors)), pivot)
                    for door in front.layout.doors
                ]
                highest = max(pin.forward for pin in pins)
                forward = job.ruler.up(highest) if highest > 0.0 else job.ruler.down(highest)
                settings |= {"hinges.inward": job.ruler.up(pins[0].inward), "hinges.forward": forward}
            yield settings


def opens_leaving(front: Front, passage: Passage, clearance: float) -> float:
    """Return how far a door opens, degrees, until a place of its hinge edge's side is `clearance` mm from what it touches."""
    turn, obstacle = _of_passage(front, passage)
    return 0.0 if obstacle.room < clearance else _opens_within(turn, obstacle, clearance)


def _opens_within(turn: Turn, obstacle: Obstacle, clearance: float) -> float:
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


def board_bevel(turn: Turn) -> float | None:
    """Return the bevel of a board's meeting edge whose back corner then swings out nowhere, degrees, a tenth more at most.

    What `closing_bevel` takes off at the back corner, over the board's thickness; None where there is none of up to 30 degrees.
    """
    board = turn.front.job.board.thickness
    bevel = closing_bevel(turn.width, max(turn.pin.forward + board, 0.0))
    degrees = 90.0 if bevel is None else math.ceil(math.degrees(math.atan2(bevel[0], board)) * 10.0 - 1e-6) / 10.0
    return degrees if degrees <= _STEEPEST else None


def bevel(front: Front) -> dict[str, Any] | None:
    """Return the setting of a bevel with which no meeting edge that is complained of swings out; None where one has none."""
    wrong = [turn for turn in (turn_of(front, door) for door in front.layout.doors) if _meets(turn) is not None]
    found = [board_bevel(turn) for turn in wrong]
    known = [degrees for degrees in found if degrees is not None]
    return {"hinges.bevel": max(known)} if known and len(known) == len(found) else None


def room_told(job: Job, room: float) -> float:
    """Return a reveal or space rounded up as a job writes it: to a tenth of a mm, or a fraction of an inch."""
    return job.ruler.up(room)


Rooms = dict[str, float]
"""Room between doors ("space") and at both ends of the front ("left", "right"), mm."""


def rooms_that_clear(front: Front, turning: Iterable[Swing], topic: Topic) -> list[dict[str, Any]]:
    """Return settings with more room at the doors, each of which leaves nothing wrong under a topic, the plainest first.

    `turning` is how the doors turn now. More room makes doors narrower, so that they swing otherwise: it is tried until it is
    enough.
    """
    wrong = troubles(front, turning)
    ways = (_enough(front, topic, wrong, way) for way in _WAYS)
    return [settings for settings in ways if settings is not None]


def _enough(front: Front, topic: Topic, wrong: list[Trouble], way: Way) -> dict[str, Any] | None:
    """Return the settings of one way of giving room that is enough, None where there is none."""
    stopped, rooms = {one.topic for one in wrong if one.stops}, Rooms()
    for _ in range(_TRIES):
        for one in (one for one in wrong if one.topic is topic):
            name = one.edge.value if one.neighbour is None else "space"
            least = 0.0 if name == "space" else front.job.limit("reveal_least").value
            more = max(one.wanted, least, rooms.get(name, 0.0) + front.job.ruler.mark)
            rooms[name] = max(rooms.get(name, 0.0), room_told(front.job, more))
        settings = way(front, rooms)
        changed = None if settings is None else front_with(front, settings)
        if changed is None:
            return None
        if turns(changed, topic, stopped=stopped):
            # Less may do beside a wall: that is looked for where it is quickly found.
            less = topic is Topic.WALL and not is_slow(front)
            return (_less(front, rooms, way, stopped) or settings) if less else settings
        wrong = troubles(changed, swings(changed), topic)
    return None


def _less(front: Front, rooms: Rooms, way: Way, stopped: Collection[Topic]) -> dict[str, Any] | None:
    """Return the settings with the least part of more room beside walls that is enough: doors that become narrower need less.

    None where it must be all of it, or where it is little anyway.
    """
    reveals = front.job.reveals
    now = {name: front.layout.space if name == "space" else getattr(reveals, name) for name in rooms}
    if all(rooms[name] - now[name] < _MUCH for name in rooms):
        return None
    enough, too_little, found = 1.0, 0.0, None
    for _ in range(_PARTS):
        part = (enough + too_little) / 2.0
        settings = way(
            front, {name: room_told(front.job, now[name] + part * (rooms[name] - now[name])) for name in rooms}
        )
        changed = None if settings is None else front_with(front, settings)
        if changed is not None and turns(changed, Topic.WALL, stopped=stopped):
            enough, found = part, settings
        else:
            too_little = part
    return found


def _plain(front: Front, rooms: Rooms) -> dict[str, Any] | None:
    """Room as the job gives it: reveals, and a space between doors; doors of their own width become narrower."""
    job = front.job
    if job.front.hidden_joint and "space" in rooms:
        return None
    if job.front.door_widths:
        # A space that is not said is what the widths leave.
        said = {"front.space": rooms["space"]} if "space" in rooms and job.front.space is not None else {}
        return _reveals(rooms) | said | _own_widths(front, rooms)
    return _reveals(rooms) | ({"front.space": rooms["space"]} if "space" in rooms else {})


def _with_strips(front: Front, rooms: Rooms) -> dict[str, Any] | None:
    """The same where count, width and gap of the strips are all given: they become narrower with their door."""
    settings = _plain(front, rooms)
    if settings is None or layout_with(front.job, settings) is not None:
        return None
    return _narrower_strips(front, rooms, settings)


def _wider_gaps(front: Front, rooms: Rooms) -> dict[str, Any] | None:
    """Wider gaps, where the joint between doors is as wide as one, as long as they stay narrower than half a strip."""
    job, division = front.job, front.layout.divisions[0]
    gap = rooms.get("space", math.inf) + 2.0 * (job.strips.edge or 0.0)
    if not job.front.hidden_joint or gap >= division.width / 2.0:
        return None
    settings = with_gap(job, front.layout, gap)
    return None if settings is None else _reveals(rooms) | settings


def _joint_shown(front: Front, rooms: Rooms) -> dict[str, Any] | None:
    """A space of its own instead of a joint as wide as a gap, with narrower strips where they would not fit."""
    if not front.job.front.hidden_joint or "space" not in rooms:
        return None
    settings = _reveals(rooms) | {"front.hidden_joint": False, "front.space": rooms["space"]}
    return settings if layout_with(front.job, settings) else _narrower_strips(front, rooms, settings)


Way = Callable[[Front, Rooms], dict[str, Any] | None]
_WAYS: tuple[Way, ...] = (_plain, _with_strips, _wider_gaps, _joint_shown)


def _reveals(rooms: Rooms) -> dict[str, Any]:
    return {f"front.reveals.{side}": rooms[side] for side in ("left", "right") if side in rooms}


def _own_widths(front: Front, rooms: Rooms) -> dict[str, Any]:
    """Return the widths of doors of their own width with other room around them: each gives as much."""
    job, layout = front.job, front.layout
    widths, reveals = job.front.door_widths or (), job.reveals
    less = sum(rooms.get(side, getattr(reveals, side)) - getattr(reveals, side) for side in ("left", "right"))
    if "space" in rooms:
        less += (rooms["space"] - layout.space) * (len(widths) - 1)
    mark = job.ruler.mark
    each = max(0.0, math.ceil(less / len(widths) / mark - 1e-6) * mark)
    first = less - each * (len(widths) - 1)
    return {
        "front.door_widths": tuple(round(width - (each if index else first), 9) for index, width in enumerate(widths))
    }


def _narrower_strips(front: Front, rooms: Rooms, settings: dict[str, Any]) -> dict[str, Any] | None:
    """Return settings with strips as much narrower as their doors."""
    job, layout = front.job, front.layout
    count, width, gap = job.strips.count, job.strips.width, job.strips.gap
    if count is None or width is None:
        return None
    doors, reveals = len(layout.doors), job.reveals
    space = rooms.get("space", layout.space)
    ends = sum(rooms.get(side, getattr(reveals, side)) for side in ("left", "right"))
    door, each = (job.front.width - ends - (doors - 1) * space) / doors, count // doors
    edges = 2.0 * (job.strips.edge or 0.0)
    strip = job.ruler.down((door - edges - (each - 1) * (gap or layout.divisions[0].gap)) / each)
    return settings | {"strips.width": strip} if strip >= 1.0 else None


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
