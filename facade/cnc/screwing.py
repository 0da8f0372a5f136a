"""Screws while strips are carved: through the spoilboard from behind into the final pilot holes, short enough for the cutter.

The spoilboard ends as thick as the door's board, but heads are sunk into it, so that it lies flat on the machine's bed: what is left
under a head is less than on the door, and the same screw would go deeper. So shorter ones are taken, by how near the program comes.
"""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from facade.arrays import Array
from facade.cnc.drop import BallEnd, Tool
from facade.cnc.fixture import Fixture, Held
from facade.cnc.moves import Kind, Moves
from facade.front import Front
from facade.job import Job
from facade.lengths import MM_PER_INCH, Unit
from facade.measuring.screws import clearance_hole, lengths_sold, stock_lengths
from facade.rules import rule

_HAIR = 1e-4  # mm that count for nothing in wood
_STEP = 0.4  # mm between the places of a move that are looked at near a screw
_BETWEEN = 0.004  # mm that a cutter may be nearer between two of these
_FAR = 10.0  # mm; how much further a cutter stays away does not matter
_SAME = 0.05  # mm; nearer holes are one
_ENOUGH = 2  # screws that hold a strip
# A counterbore's drill: whole mm, or 1/16 in.
_DRILL = {Unit.MM: 1.0, Unit.INCH: MM_PER_INCH / 16.0}


@dataclass(frozen=True)
class Spoilboard:
    """What a spoilboard is to be, mm: how thick it is bought and skimmed, and how wide and deep heads are sunk into its back."""

    bought: float
    thickness: float
    bore: float
    sunk: float
    head: float

    @property
    def under_head(self) -> float:
        """Wood that is left under a screw's head."""
        return self.thickness - self.sunk

    @property
    def most_skimmed(self) -> float:
        """The most that may be skimmed off its top."""
        return self.bought - self.thickness


def spoilboard_of(job: Job) -> Spoilboard:
    """Return the spoilboard of a job: skimmed to the thickness of the door's board, thicker only where heads would be drawn in.

    Heads are sunk as deep as their height asks, or so much deeper that a screw that can be bought bites just as little as it may.
    """
    drill, head = _DRILL[job.unit], rule("screw_head") * job.fixing.shank
    high = rule("screw_head_high") * job.fixing.shank + rule("screw_head_below")
    least, under = _up(max(high, job.fixing.countersink), drill / 2.0), job.limit("board_under_head").value
    thickness = max(job.board.thickness, job.ruler.up(least + under))
    depths = np.arange(least, thickness - under + _HAIR, drill / 2.0)
    bites = np.array(lengths_for_cutting(job))[None, :] - (thickness - depths)[:, None]
    bites = np.where(bites >= job.limit("bite_least").value - _HAIR, bites, np.inf).min(axis=1)
    sunk = float(depths[int(np.argmin(np.round(bites, 6)))])
    return Spoilboard(
        thickness + rule("fixture_skim"), thickness, _up(head + rule("screw_head_room"), drill), sunk, head
    )


def _up(size: float, whole: float) -> float:
    return math.ceil(size / whole - 1e-9) * whole


@dataclass(frozen=True)
class Driven:
    """One screw while the strips are carved: the hole that it stands in, and how the cutter passes it, mm.

    `in_waste` tells a screw in a strip's own waste from one in a final pilot hole. `length` is None where no screw that can be bought
    may be
    in; `above` is how far the programs stay from it, `bite` how deep it goes into the wood.
    """

    held: Held
    in_waste: bool
    length: float | None
    bite: float
    above: float


@dataclass(frozen=True)
class Holding:
    """How the strips of a fixture are held: their screws, the number of the spoilboard that they take, and which fixtures share it."""

    screws: tuple[Driven, ...]
    board: int = 1
    shared: tuple[int, ...] = ()

    @property
    def used(self) -> list[Driven]:
        """The screws that are in while strips are carved."""
        return [one for one in self.screws if one.length is not None]

    @property
    def left_out(self) -> list[Driven]:
        """The screws that come too near a cutter: their holes stay empty until the carving is done."""
        return [one for one in self.screws if one.length is None and not one.in_waste]

    @property
    def longer(self) -> list[int]:
        """The strips whose blanks stay longer, for a screw in the waste at both ends."""
        return sorted({one.held.strip for one in self.used if one.in_waste})

    def loose(self, numbers: Sequence[int]) -> list[int]:
        """Return the strips that fewer than two screws hold."""
        counts = Counter(one.held.strip for one in self.used)
        return [number for number in numbers if counts[number] < _ENOUGH]


NOT_HELD = Holding(())


def lengths_for_cutting(job: Job) -> tuple[float, ...]:
    """Return the lengths of screws that may be used while strips are carved: in stock or to be bought, rising, mm."""
    return tuple(sorted({*stock_lengths(job), *lengths_sold(job)}))


def least_above(job: Job) -> float:
    """Return how far a cutter must stay from a screw, mm, as the check says it: its cover, and a cut that goes too deep."""
    return job.limit("screw_cover").value + job.limit("screw_overcut").value


def places_for_screws(fixture: Fixture) -> list[Held]:
    """Return where screws may be: in the final pilot holes, then one in the waste at both ends of every strip."""
    return [*fixture.screws(), *_in_waste(fixture)]


def _in_waste(fixture: Fixture) -> list[Held]:
    middles = ((fixture.lefts + fixture.rights) / 2.0).tolist()
    ends = (-fixture.waste / 2.0, fixture.length + fixture.waste / 2.0)
    return [
        Held(number, x, y, 0.0, fixture.blank) for number, x in zip(fixture.numbers, middles, strict=True) for y in ends
    ]


def driven(fixture: Fixture, near: Array) -> tuple[Driven, ...]:
    """Return the screws of a fixture while it is carved; `near` (places, lengths) is how far the programs stay from each, were it so long.

    In a final pilot hole the longest that goes no deeper than the hole, and that no cutter comes too near. A strip that fewer than two of
    them hold gets one in the waste at both ends as well, where its waste is long enough and machine.hold wants screws.
    """
    count = len(fixture.screws())
    chosen = [_chosen(fixture, held, row) for held, row in zip(places_for_screws(fixture), near.tolist(), strict=True)]
    final, waste = chosen[:count], chosen[count:]
    held = Counter(one.held.strip for one in final if one.length is not None)
    more = [one for one in waste if held[one.held.strip] < _ENOUGH and one.length is not None]
    pairs = Counter(one.held.strip for one in more)
    takes = fixture.front.job.machine.hold.in_waste and _waste_takes_a_screw(fixture)
    return (*final, *(one for one in more if takes and pairs[one.held.strip] == _ENOUGH))


def _chosen(fixture: Fixture, held: Held, row: Sequence[float]) -> Driven:
    job = fixture.front.job
    under, least = spoilboard_of(job).under_head, job.limit("bite_least").value
    fitting = [
        (length, length - under, above)
        for length, above in zip(lengths_for_cutting(job), row, strict=True)
        if least - _HAIR <= length - under <= held.bite + _HAIR and above >= least_above(job) - _HAIR
    ]
    length, bite, above = fitting[-1] if fitting else (None, 0.0, math.inf)
    return Driven(held, held.length == 0.0, length, bite, above)


def _waste_takes_a_screw(fixture: Fixture) -> bool:
    """Whether a screw in the middle of the waste stands far enough from both ends of it."""
    job = fixture.front.job
    return fixture.waste / 2.0 >= job.fixing.shank / 2.0 + job.limit("screw_cover").value - _HAIR


def near_screws(fixture: Fixture, moves: Moves, tool: Tool) -> Array:
    """Return how far a cutter stays from each place for a screw, were one of each length in it (places, lengths), mm; at most 10.

    `moves` as the program has them. A screw is a cylinder up to its tip; a ball is as far from it as its centre less its radius, a straight
    cutter as its underside. Along every move that may come nearest, places 0.4 mm apart are looked at: between two of them a cutter 5 mm
    away can be nearer by 0.4^2 / 8 / 5 = 0.004 mm, which is taken off.
    """
    job, screws = fixture.front.job, places_for_screws(fixture)
    tips = np.array(lengths_for_cutting(job)) - spoilboard_of(job).under_head
    found = np.full((len(screws), len(tips)), _FAR)
    if len(moves.places) < 2:
        return found
    places = moves.places - np.array([*fixture.first_strip, 0.0])
    counts = moves.kinds[1:] != Kind.RAPID
    start, end = places[:-1][counts], places[1:][counts]
    radius, reach = job.fixing.shank / 2.0, tool.radius + job.fixing.shank / 2.0 + _FAR
    order = np.argsort(start[:, 0], kind="stable")
    start, end = start[order], end[order]
    # Few moves run across: those are looked at by every screw of their own.
    widest = float(np.abs(end[:, 0] - start[:, 0]).max())
    low, high = np.minimum(start[:, 1], end[:, 1]) - reach, np.maximum(start[:, 1], end[:, 1]) + reach
    for index, screw in enumerate(screws):
        first, last = np.searchsorted(start[:, 0], [screw.x - reach - widest, screw.x + reach + widest])
        some = first + np.flatnonzero((low[first:last] <= screw.y) & (screw.y <= high[first:last]))
        at = np.array([screw.x, screw.y])
        some = some[_nearest(start[some], end[some], at, radius, tips, tool)]
        if len(some):
            way = _looked_at(start[some], end[some], at, reach)
            found[index] = np.minimum(_apart(way, at, radius, tips, tool) - _BETWEEN, _FAR)
    return found


def _nearest(start: Array, end: Array, at: Array, radius: float, tips: Array, tool: Tool) -> NDArray[np.bool_]:
    """Return which moves may come nearest to a screw of one of the lengths: along a move a cutter comes no nearer than it goes."""
    middle, half = (start + end) / 2.0, np.sqrt(((end - start) ** 2).sum(axis=1)) / 2.0
    away = _each_apart(middle, at, radius, tips, tool)
    # One of the places that are looked at is no further than this from the middle of the nearest move.
    least = away.min(axis=1, initial=_FAR) + _STEP
    return np.asarray((away - half <= least[:, None]).any(axis=0))


def _looked_at(start: Array, end: Array, at: Array, reach: float) -> Array:
    """Return places (n, 3) along moves, as far as they come near a place."""
    way = end - start
    length = np.hypot(way[:, 0], way[:, 1])
    # Only the stretch within reach of the foot of the perpendicular.
    foot = ((at - start[:, :2]) * way[:, :2]).sum(axis=1) / np.maximum(length, 1e-9)
    first, last = np.clip(foot - reach, 0.0, length), np.clip(foot + reach, 0.0, length)
    count = np.maximum(np.ceil((last - first) / _STEP).astype(np.intp), 1) + 1
    which = np.repeat(np.arange(len(start)), count)
    step = np.arange(len(which)) - np.repeat(np.cumsum(count) - count, count)
    share_here = step / (count - 1)[which]
    along = first[which] + (last - first)[which] * share_here
    share = np.where(length[which] > 1e-9, along / np.maximum(length[which], 1e-9), share_here)
    return np.asarray(start[which] + share[:, None] * way[which])


def _apart(way: Array, at: Array, radius: float, tips: Array, tool: Tool) -> Array:
    """Return the least distance of a cutter that stands at places (n, 3) from screws at one place with their tips at `tips`."""
    return np.asarray(_each_apart(way, at, radius, tips, tool).min(axis=1))


def _each_apart(way: Array, at: Array, radius: float, tips: Array, tool: Tool) -> Array:
    """Return the distances (tips, n) of a cutter at places (n, 3), as `_apart` does."""
    ball = isinstance(tool, BallEnd)
    aside = np.hypot(way[:, 0] - at[0], way[:, 1] - at[1]) - radius
    across = np.maximum(aside if ball else aside - tool.radius, 0.0)
    rise = tool.radius if ball else 0.0
    # What is below a tip is beside the screw.
    above = np.maximum(way[None, :, 2] + rise - tips[:, None], 0.0)
    return np.asarray(np.hypot(across[None, :], above) - rise)


def holdings(fixtures: Sequence[Fixture], near: Sequence[Array]) -> list[Holding]:
    """Return how the fixtures of an order are held, on as few spoilboards as their screws allow."""
    screws = [driven(fixture, some) for fixture, some in zip(fixtures, near, strict=True)]
    holes = [
        np.array([[one.held.x, one.held.y] for one in some if one.length is not None]).reshape(-1, 2) for some in screws
    ]
    boards = patterns(holes, seat_apart(fixtures[0].front)) if fixtures else []
    found = {
        index: Holding(screws[index], number, tuple(fixtures[other].number for other in board))
        for number, board in enumerate(boards, start=1)
        for index in board
    }
    return [found[index] for index in range(len(fixtures))]


def seat_apart(front: Front) -> float:
    """Return how far apart two holes through a spoilboard must be, mm, so that no head's seat is cut by another's hole."""
    job = front.job
    board = spoilboard_of(job)
    return board.head / 2.0 + clearance_hole(job.fixing.shank)[0] / 2.0 + rule("screw_seat_wall")


def patterns(parts: Sequence[Array], apart: float) -> list[list[int]]:
    """Return which fixtures may share a spoilboard, by the places (screws, 2) of their holes: as few boards as can be found.

    Two may share one where every two of their holes are one, or at least `apart`. Fixtures that clash with most are dealt out first
    (D. Welsh and M. Powell, "An upper bound for the chromatic number of a graph", 1967).
    """
    clash = [[_clash(one, other, apart) for other in parts] for one in parts]
    order = sorted(range(len(parts)), key=lambda index: -sum(clash[index]))
    boards: list[list[int]] = []
    for index in order:
        board = next((board for board in boards if not any(clash[index][other] for other in board)), None)
        if board is None:
            boards.append([index])
        else:
            board.append(index)
    return sorted(sorted(board) for board in boards)


def _clash(one: Array, other: Array, apart: float) -> bool:
    if not len(one) or not len(other):
        return False
    away = np.hypot(*(one[:, None, :] - other[None, :, :]).transpose(2, 0, 1))
    return bool(((away > _SAME) & (away < apart)).any())
