"""Swing: does every door turn past what stands beside it, and by how much does it miss or touch?

All is seen from above: x across, z forward, the back of the strips at z = 0, the board behind it. A door turns about one pin
by plane rotation; what meets first is found in `turning`, exactly within the outlines taken here.

Heights are the surface's own, at rows at most 3 mm apart, and across at most 1 mm apart near the edge, or a fortieth of the
distance from it. Gaps between strips count as filled.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from enum import StrEnum

import numpy as np

from facade.arrays import Array
from facade.doors.turning import (
    FAR,
    FINE,
    Outline,
    Pin,
    body,
    closing_sweep,
    foremost_at,
    nearest,
    steps,
    sums,
    sweep_of_all,
    worst_row,
)
from facade.front import Front
from facade.job.hanging import Hand, Neighbour, Pivot, Side
from facade.job.model import Edge
from facade.layout import Door, StripPlace
from facade.rules import rule

NEAR = 2.0  # mm from the hinge edge within which a pin at the front stands as high as the highest place

_ROW = 3.0  # mm between the heights that are looked at along a door


class Place(StrEnum):
    """The edge of a turning door that passes what stands beside it."""

    HINGE = "hinge edge"
    MEETING = "meeting edge"


@dataclass(frozen=True)
class Passage:
    """How an edge of a turning door passes what stands beside it.

    `room` is the reveal or space that there is, `sweep` the least with which the door opens as far as it must without
    touching, mm. `angle` is where it touches, in degrees, None where it does not. `strip` and `from_top` are the place that
    touches or comes nearest, mm, None where it does so along its whole height; `on_board` tells whether it is the board
    there. `neighbour` is the number of a door, None at the end of the front.
    """

    door: int
    place: Place
    edge: Edge
    stands: Neighbour
    neighbour: int | None
    room: float
    sweep: float
    angle: float | None
    strip: int
    from_top: float | None
    on_board: bool

    @property
    def against(self) -> str:
        """What stands there, in words."""
        return f"the {self.stands.value}" if self.neighbour is None else f"door {self.neighbour}"


@dataclass(frozen=True)
class Swing:
    """How a door turns: its hinge side, its pin, how far from the pin its meeting edge is, mm, and what it passes.

    A door whose pin lies beyond its meeting edge was not looked at and passes nothing.
    """

    door: int
    hand: Hand
    pin: Pin
    width: float
    passages: tuple[Passage, ...]


@dataclass(frozen=True)
class Obstacle:
    """What stands beyond an edge: a neighbour door, or the end of the front, whose body reaches `forward`."""

    stands: Neighbour
    neighbour: int | None
    room: float
    forward: float


@dataclass(frozen=True)
class Corner:
    """A corner of a board at its meeting edge: mm across from the pin and mm behind it, and how high it stands at first."""

    across: float
    behind: float
    height: float

    @property
    def radius(self) -> float:
        """From the pin, mm."""
        return math.hypot(self.across, self.behind)

    @property
    def start(self) -> float:
        """The angle at which it stands before the pin's plane while the door is closed, in radians; behind it below zero."""
        return -math.atan2(self.behind, self.across)


@dataclass(frozen=True)
class Turn:
    """A turning door: its pin, how far it opens, in degrees, and the side that its hinges are on."""

    front: Front
    door: Door
    hand: Hand
    pin: Pin
    opens: float

    @property
    def width(self) -> float:
        """From the pin to the meeting edge, mm."""
        return self.door.width - self.pin.inward

    @property
    def other_hand(self) -> Hand:
        """The side of the meeting edge."""
        return Hand.RIGHT if self.hand is Hand.LEFT else Hand.LEFT

    @property
    def corners(self) -> tuple[Corner, ...]:
        """The corners of the board at the meeting edge: the back one, and where that is bevelled the front one too."""
        board, hinges = self.front.job.board.thickness, self.front.job.hinges
        off = board * math.tan(math.radians(hinges.bevel)) if hinges else 0.0
        back = Corner(self.width - off, max(self.pin.forward + board, 0.0), -board)
        # Of a square edge the back corner swings out farthest.
        return (back, Corner(self.width, max(self.pin.forward, 0.0), 0.0)) if off > 0.0 else (back,)

    @property
    def limit(self) -> float:
        """The greatest sum of angles, in radians, that two places may stand before the board's plane without meeting."""
        return math.radians(180.0 - self.opens)


def swings(front: Front) -> list[Swing]:
    """Return how each door turns, from the left; nothing when the job says nothing of hinges."""
    if front.job.hinges is None:
        return []
    return [swing_of(turn_of(front, door)) for door in front.layout.doors]


def turn_of(front: Front, door: Door) -> Turn:
    hinges = front.job.hinges
    assert hinges is not None
    hand = front.job.hinge_side(door.number, len(front.layout.doors))
    usual = usual_pin(front, door, hand, hinges.pivot)
    inward = usual.inward if hinges.inward is None else hinges.inward
    forward = usual.forward if hinges.forward is None else hinges.forward
    return Turn(front, door, hand, Pin(inward, forward), hinges.opens)


def usual_pin(front: Front, door: Door, hand: Hand, pivot: Pivot) -> Pin:
    board, blank = front.job.board.thickness, front.job.wood.blank
    if pivot is Pivot.BACK:
        return Pin(rule("pin_inward"), -board)
    if pivot is Pivot.KNIFE:
        return Pin((board + blank) / 2.0, (blank - board) / 2.0)
    return Pin(0.0, _face_at(front, door, hand))


def _face_at(front: Front, door: Door, hand: Hand) -> float:
    """Return the highest face within 2 mm of the outer edge of a door's first strip on that side."""
    strip = _inwards(front, door, hand)[0]
    inward = np.linspace(0.0, min(NEAR, strip.width), 5)
    x = strip.left + inward if hand is Hand.LEFT else strip.right - inward
    return float(front.surface.at(x[None, :], _rows(door)[:, None]).max())


def swing_of(turn: Turn) -> Swing:
    if turn.width <= 0.0:
        return Swing(turn.door.number, turn.hand, turn.pin, turn.width, ())
    hinge = [_hinge_passage(turn, one) for one in standing(turn, turn.hand)]
    meeting = [meeting_passage(turn, one) for one in standing(turn, turn.other_hand)[:1]]
    return Swing(turn.door.number, turn.hand, turn.pin, turn.width, (*hinge, *meeting))


def standing(turn: Turn, hand: Hand) -> list[Obstacle]:
    """Return what stands beyond an edge: the neighbour, and the end of the front where the open door may reach it."""
    doors, door = turn.front.layout.doors, turn.door
    left = hand is Hand.LEFT
    found = []
    if door is not (doors[0] if left else doors[-1]):
        beside = doors[door.number - 2 if left else door.number]
        room = door.left - beside.right if left else beside.left - door.right
        found.append(Obstacle(Neighbour.NOTHING, beside.number, room, 0.0))
    end = turn.front.job.beside.left if left else turn.front.job.beside.right
    room = door.left if left else turn.front.layout.width - door.right
    if end.stands is not Neighbour.NOTHING and (not found or room < door.width):
        found.append(Obstacle(end.stands, None, room, _reach(end)))
    return found


def _reach(end: Side) -> float:
    return math.inf if end.stands is Neighbour.WALL else end.forward


def _hinge_passage(turn: Turn, obstacle: Obstacle) -> Passage:
    door, other = near_hinge(turn, obstacle)
    limit = turn.limit
    total, row = worst_row(sums(turn.pin, obstacle.room), door, other)
    sweep = sweep_of_all(turn.pin, limit, door, other)
    touches, room = total > limit + 1e-9, obstacle.room
    if not touches and sweep > FINE:
        # Where it would touch first if it stood nearer.
        room = sweep - FINE
        _, row = worst_row(sums(turn.pin, room), door, other)
    one = (door.highest(), other.highest()) if row is None else (door.row(row), other.row(row))
    met, away, forward = nearest(turn.pin, np.array([room]), *one)
    if row is None and sums(turn.pin, room)(door.lowest(), other.lowest())[0] < met[0] - 1e-4:
        row = int(door.forward[:, foremost_at(door, float(away[0]))].argmax())
    return Passage(
        door=turn.door.number,
        place=Place.HINGE,
        edge=Edge(turn.hand.value),
        stands=obstacle.stands,
        neighbour=obstacle.neighbour,
        room=obstacle.room,
        sweep=sweep,
        angle=max(0.0, 180.0 - math.degrees(total)) if touches else None,
        strip=_strip_at(turn, float(away[0])),
        from_top=None if row is None else float(turn.door.top - _rows(turn.door)[row]),
        on_board=bool(forward[0] <= 0.0),
    )


def _strip_at(turn: Turn, inward: float) -> int:
    """Return the number of the strip nearest to a place of a door, mm from its hinge edge."""
    left = turn.hand is Hand.LEFT
    x = turn.door.left + inward if left else turn.door.right - inward
    strips = _inwards(turn.front, turn.door, turn.hand)
    return min(strips, key=lambda strip: max(strip.left - x, x - strip.right)).number


def near_hinge(turn: Turn, obstacle: Obstacle) -> tuple[Outline, Outline]:
    """Return the outlines of a door and of what stands beside its hinge edge, as far as they can meet.

    Two places at one distance r from the pin, at most H in front of it, stand at most asin(H / r) each before the board's
    plane; turned by less than what these leave of 180 degrees they do not meet.
    """
    job, pin = turn.front.job, turn.pin
    # A cap may lower the face at the hinge edge, and a pin at the front with it.
    lowest_pin = min(pin.forward, job.wood.floor)
    high = max(job.highest, obstacle.forward) - lowest_pin
    reach = turn.door.width
    if high < FAR:
        half = math.sin(math.radians((180.0 - turn.opens) / 2.0))
        reach = min(turn.door.width, max(math.hypot(pin.inward, high), high / max(half, 1e-9)) + 1.0)
    return _of_turning(turn, reach + pin.inward), _of_obstacle(turn, turn.hand, obstacle, reach)


def meeting_passage(turn: Turn, obstacle: Obstacle) -> Passage:
    """Return how the meeting edge passes: of what stands behind the pin there, a corner of the board swings out farthest.

    A bevel of the neighbour's board is not counted: where a pin stands behind the boards' faces it gives a little more room.
    """
    room, hand, corners = obstacle.room, turn.other_hand, turn.corners
    away, tops = _facing(turn, hand, obstacle, closing_sweep(turn.width, corners[0].behind) + 1.0)
    each_needed = [_reached(turn, corner, tops) - turn.width - away for corner in corners]
    needed = np.maximum.reduce(each_needed)
    angle = None
    for corner, its_own in zip(corners, each_needed, strict=True):
        touched = its_own > room + 1e-9
        if touched.any():
            # Where the corner's circle crosses the line on which a facing side stands.
            beyond = np.minimum((turn.width + room + away) / corner.radius, 1.0)
            crossing = np.degrees(-np.arccos(beyond) - corner.start)
            first = max(0.0, float(np.where(touched, crossing, np.inf).min()))
            angle = first if angle is None else min(angle, first)
    each = needed.max(axis=1)
    return Passage(
        door=turn.door.number,
        place=Place.MEETING,
        edge=Edge(hand.value),
        stands=obstacle.stands,
        neighbour=obstacle.neighbour,
        room=room,
        sweep=max(0.0, float(needed.max())),
        angle=angle,
        strip=_inwards(turn.front, turn.door, hand)[0].number,
        from_top=float(turn.door.top - _rows(turn.door)[each.argmax()]) if np.ptp(each) > FINE else None,
        on_board=True,
    )


def _facing(turn: Turn, hand: Hand, obstacle: Obstacle, reach: float) -> tuple[Array, Array]:
    """Return what the meeting edge faces: mm beyond the other's near edge (points,), and how high it stands (rows, points)."""
    if obstacle.neighbour is None:
        return np.zeros(1), np.array([[obstacle.forward]])
    outline = _of_obstacle(turn, hand, obstacle, reach)
    return outline.away[1:], outline.forward[:, 1:]


def _reached(turn: Turn, corner: Corner, tops: Array) -> Array:
    """Return how far from the pin, across, a corner comes before sides that stand as high as `tops`; shape as `tops`."""
    turned = min(corner.start + math.radians(turn.opens), 0.0)
    level = np.minimum(tops, turn.pin.forward + corner.radius * math.sin(turned)) - turn.pin.forward
    across = np.sqrt(np.maximum(corner.radius**2 - level**2, 0.0))
    return np.where(tops > corner.height, across, 0.0)


def _of_turning(turn: Turn, reach: float) -> Outline:
    """Return the outline of a turning door from its hinge edge inwards."""
    left = turn.hand is Hand.LEFT
    edges = (turn.door.left, turn.door.right) if left else (turn.door.right, turn.door.left)
    return _outline(turn.front, _inwards(turn.front, turn.door, turn.hand), edges, reach)


def _of_obstacle(turn: Turn, hand: Hand, obstacle: Obstacle, reach: float) -> Outline:
    """Return the outline of what stands beyond an edge, from its own near edge outwards."""
    if obstacle.neighbour is None:
        return body(obstacle.forward)
    doors = turn.front.layout.doors
    beside = doors[obstacle.neighbour - 1]
    edges = (beside.right, doors[0].left) if hand is Hand.LEFT else (beside.left, doors[-1].right)
    return _outline(turn.front, _outwards(turn.front, turn.door, hand), edges, reach)


def _outline(front: Front, strips: Sequence[StripPlace], edges: tuple[float, float], reach: float) -> Outline:
    """Return the outline of boards and strips from the edge x of a board to another, exact at least `reach` mm far."""
    edge, end = edges
    direction, inner = math.copysign(1.0, end - edge), steps(reach)
    columns: list[Array] = []
    for strip in strips:
        near, far = sorted((direction * (strip.left - edge), direction * (strip.right - edge)))
        if near > reach and columns:
            break
        columns.append(np.concatenate([[near], inner[(inner > near) & (inner < far)], [far]]))
    away, width, back = np.concatenate(columns), abs(end - edge), -front.job.board.thickness
    heights = front.surface.at((edge + direction * away)[None, :], _rows(front.layout.doors[0])[:, None])
    near_side = np.broadcast_to([back, 0.0, 0.0], (len(heights), 3))
    far_side = np.broadcast_to([0.0, 0.0, back], (len(heights), 3))
    away = np.concatenate([[0.0, 0.0, away[0]], away, [away[-1], width, width]])
    return Outline(away, np.concatenate([near_side, heights, far_side], axis=1))


def _rows(door: Door) -> Array:
    return np.linspace(door.bottom, door.top, math.ceil(door.height / _ROW) + 1)


def _inwards(front: Front, door: Door, hand: Hand) -> tuple[StripPlace, ...]:
    """Return a door's strips from an edge inwards."""
    strips = front.layout.on_door(door)
    return strips if hand is Hand.LEFT else strips[::-1]


def _outwards(front: Front, door: Door, hand: Hand) -> tuple[StripPlace, ...]:
    """Return the strips of the doors beyond an edge of a door, from that edge on."""
    if hand is Hand.LEFT:
        return tuple(place for place in front.layout.strips if place.door < door.number)[::-1]
    return tuple(place for place in front.layout.strips if place.door > door.number)
