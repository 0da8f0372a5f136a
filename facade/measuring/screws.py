"""Screws from behind, through the board into a strip: where it is thick enough for them, and which ones go there."""

from __future__ import annotations

import itertools
import math
from dataclasses import dataclass
from enum import StrEnum

import numpy as np
from numpy.typing import NDArray

from facade.arrays import Array
from facade.job import Job
from facade.job.bench import Held
from facade.lengths import Unit
from facade.rules import rule_values
from facade.slicer import Strip

# A screw nearer to an end, or to the next one, than so many shanks splits the wood: common practice.
_SHANKS_APART = 5.0
# The threaded part's core over the shank, and the lead hole over that core, in hardwood and in softwood: Wood Handbook,
# FPL-GTR-282, chapter 8.
_ROOT = 2.0 / 3.0
_LEAD_HARD, _LEAD_SOFT = 0.9, 0.7
# Holes in the board wider than the shank by this let the strips move: common practice.
_ROOM_TO_MOVE = (0.5, 1.0)
_FURTHER_IN = 2.0  # times as far from an end as it should be, a screw may stand for the bite that is wanted
_COARSEST = 1.0  # mm between the heights that the wood round a tip is judged by
_HAIR = 1e-4  # mm that count for nothing in wood


class NoRoom(StrEnum):
    """Why a strip cannot take two screws."""

    NARROW = "narrow"
    SHORT = "short"
    THIN = "thin"


@dataclass(frozen=True)
class Screw:
    """One screw on the strip's middle line, mm: its place from the top, its length, how deep it bites into the strip, and
    how far it stays from the carved face."""

    from_top: float
    length: float
    bite: float
    cover: float


@dataclass(frozen=True)
class ScrewPlan:
    """The screws of a strip, from its top; empty where it is not held by screws.

    `barred` are the stretches (from, to) in mm from the top where no screw of the stock may stand. Where two screws find no
    room `reason` says why; `room` then is how far above the back the best place, `best` mm from the top, lets a tip reach,
    and `room_for_two` how far the better of all pairs of places does.
    """

    screws: tuple[Screw, ...] = ()
    barred: tuple[tuple[float, float], ...] = ()
    reason: NoRoom | None = None
    best: float = 0.0
    room: float = 0.0
    room_for_two: float = 0.0

    @property
    def apart(self) -> float:
        """Greatest distance between two neighbouring screws, mm."""
        places = [screw.from_top for screw in self.screws]
        return max((below - above for above, below in itertools.pairwise(places)), default=0.0)


@dataclass(frozen=True)
class Needs:
    """What a job asks of its screws, mm: `sunk` is what of their length stays in the board."""

    radius: float
    cover: float
    lengths: tuple[float, ...]
    sunk: float
    bite: float
    bite_wanted: float
    end: float
    end_most: float
    least_apart: float
    most_apart: float


def cover_while_carving(job: Job) -> float:
    """Return how far below the finished face every tip must stay in what is still to be carved, mm: a cut may go too deep."""
    return job.limit("screw_cover").value + job.limit("screw_overcut").value


def length_while_carving(job: Job, needs: Needs, screw: Screw) -> float | None:
    """Return the length, mm, that may stand in a screw's hole while its strip is carved: its own, a shorter one, or None for none."""
    deep = cover_while_carving(job)
    for length in sorted((one for one in needs.lengths if one <= screw.length + _HAIR), reverse=True):
        less = screw.length - length
        if screw.cover + less >= deep - _HAIR:
            return length if screw.bite - less >= needs.bite - _HAIR else None
    return None


def stock_lengths(job: Job) -> tuple[float, ...]:
    """Return the lengths of the screws in stock, rising, mm; those that can be bought where it names none."""
    return tuple(sorted(set(job.fixing.lengths))) if job.fixing.lengths else lengths_sold(job)


def lengths_sold(job: Job) -> tuple[float, ...]:
    """Return the lengths of screws that can be bought, rising, mm: the common ones of the job's unit where it names none."""
    common = rule_values("screw_lengths" if job.unit is Unit.MM else "screw_lengths_inch")
    return tuple(sorted(set(job.fixing.lengths_sold or common)))


def shanks_sold(job: Job) -> tuple[float, ...]:
    """Return the shanks of screws that can be bought, rising, mm: the common ones of the job's unit where it names none."""
    common = rule_values("screw_shanks" if job.unit is Unit.MM else "screw_shanks_inch")
    return tuple(sorted(set(job.fixing.shanks_sold or common)))


def needs_of(job: Job) -> Needs:
    """Return what a job asks of its screws."""
    fixing = job.fixing
    radius, cover, apart = fixing.shank / 2, job.limit("screw_cover").value, _SHANKS_APART * fixing.shank
    end = max(job.limit("screw_end").value, apart, radius + cover)
    return Needs(
        radius=radius,
        cover=cover,
        lengths=stock_lengths(job),
        sunk=job.board.thickness - fixing.countersink,
        bite=job.limit("bite_least").value,
        bite_wanted=job.limit("bite_wanted").value,
        end=end,
        end_most=max(job.limit("screw_end_most").value, end),
        least_apart=apart,
        most_apart=job.limit("screw_apart").value,
    )


def pilot_hole(shank: float, *, softwood: bool) -> float:
    """Return the diameter in mm of the lead hole for a wood screw.

    70 % of the root in softwood, 90 % in hardwood; the root is about two thirds of the shank. Wood Handbook, FPL-GTR-282,
    chapter 8.
    """
    return _ROOT * shank * (_LEAD_SOFT if softwood else _LEAD_HARD)


def clearance_hole(shank: float) -> tuple[float, float]:
    """Return the least and greatest diameter in mm of the hole through the board, in which a strip may move."""
    return shank + _ROOM_TO_MOVE[0], shank + _ROOM_TO_MOVE[1]


def widest_shank(width: float, cover: float) -> float:
    """Return the thickest screw in mm that leaves `cover` on both sides of a strip."""
    return width - 2.0 * cover


def screws_of(job: Job, strip: Strip) -> ScrewPlan:
    """Return the screws of a strip, and where none may stand; no screws where strips are held otherwise."""
    if job.fixing.by is not Held.SCREWS:
        return ScrewPlan()
    needs = needs_of(job)
    if widest_shank(strip.width, needs.cover) < 2.0 * needs.radius - _HAIR:
        return ScrewPlan(barred=((0.0, strip.length),), reason=NoRoom.NARROW)
    half = _middle(strip)
    room = half.room(needs.radius, needs.cover)
    tips = np.array(needs.lengths) - needs.sunk
    # The longest screw that fits; before the first of the stock stands none at all.
    fits = np.searchsorted(tips, room + _HAIR, side="right")
    bites = np.concatenate([[-np.inf], tips])[fits]
    ends_kept = (half.from_top >= needs.end - _HAIR) & (half.from_top <= strip.length - needs.end + _HAIR)
    allowed = ends_kept & (bites >= needs.bite - _HAIR)
    barred = _stretches(half.from_top, allowed, strip.length)
    rows = np.flatnonzero(allowed)
    stations = _stations(half.from_top[rows], bites[rows], strip.length, needs)
    if not stations:
        return _no_room(half, np.where(ends_kept, room, -np.inf), barred, needs)
    screws = [half.screw(int(rows[k]), needs, needs.lengths[fits[rows[k]] - 1]) for k in stations]
    return ScrewPlan(tuple(screws), barred)


@dataclass(frozen=True)
class _Half:
    """The lower of a strip's two halves, folded along its middle line: what is d to the left or the right of it.

    `from_top` (rows,) rising; `aside` (columns,) rising from the middle line; `heights` (columns, rows).
    """

    from_top: Array
    aside: Array
    heights: Array

    @property
    def steps(self) -> tuple[float, float]:
        """Distance between rows, and from the middle outwards between columns."""
        return float(self.from_top[1] - self.from_top[0]), float(self.aside[-1] - self.aside[-2])

    def room(self, radius: float, cover: float) -> Array:
        """Return how high above the back a tip may reach at each row, so that the screw keeps `cover` from the face.

        The screw is a cylinder up to its tip: the body around it, at a distance of `cover`, must stay below the face.
        """
        along, across = self.steps
        # Heights are known at some places only. A ball that much larger, cut off at the cover, keeps straight lines between
        # them out of the true one, on slopes up to 45 degrees.
        ball = math.sqrt(cover * cover + (along * along + across * across) / 2.0)
        rows = len(self.from_top)
        room = np.full(rows, np.inf)
        for step in range(min(int((radius + ball) / along) + 1, rows)):
            beyond = np.maximum(np.hypot(self.aside, step * along) - radius, 0.0)
            near = int(np.searchsorted(beyond, ball))
            if not near:
                break
            above = np.minimum(np.sqrt(ball * ball - beyond[:near] ** 2), cover)
            free = (self.heights[:near] - above[:, None]).min(axis=0)
            np.minimum(room[step:], free[: rows - step], out=room[step:])
            np.minimum(room[: rows - step], free[step:], out=room[: rows - step])
        return room

    def screw(self, row: int, needs: Needs, length: float) -> Screw:
        """Return the screw of this length at a row."""
        tip, along = length - needs.sunk, self.steps[0]
        # Nothing farther aside can be nearer than what is straight above.
        reach = math.ceil((float(self.heights[0, row]) - tip + needs.radius) / along) + 1
        first = max(row - reach, 0)
        part = self.heights[:, first : row + reach + 1]
        away = (np.arange(part.shape[1]) + (first - row)) * along
        beyond = np.maximum(np.hypot(self.aside[:, None], away) - needs.radius, 0.0)
        cover = float(np.hypot(beyond, np.maximum(part - tip, 0.0)).min())
        return Screw(float(self.from_top[row]), length, tip, cover)


def _middle(strip: Strip) -> _Half:
    """Return a strip folded along its middle line, heights at most 1 mm apart."""
    x, columns = _finer(strip.x, strip.heights.T)
    count = len(x)
    inner = np.arange((count + 1) // 2)[::-1]
    folded = np.minimum(columns[inner], columns[count - 1 - inner])
    y, rows = _finer(strip.y, folded.T)
    return _Half(strip.place.top - y[::-1], (x[-1] - x[0]) / 2 - (x[inner] - x[0]), rows.T[:, ::-1])


def _finer(places: Array, heights: Array) -> tuple[Array, Array]:
    """Return places, and the rows of heights at them, with so many straight in between that they are at most 1 mm apart."""
    parts = math.ceil(float(places[1] - places[0]) / _COARSEST - 1e-9)
    if parts <= 1:
        return places, heights
    share = np.arange(parts) / parts
    between = heights[:-1, None, :] + share[:, None] * np.diff(heights, axis=0)[:, None, :]
    finer = np.concatenate([between.reshape(-1, heights.shape[1]), heights[-1:]])
    return np.linspace(places[0], places[-1], len(finer)), finer


def _stretches(from_top: Array, allowed: NDArray[np.bool_], length: float) -> tuple[tuple[float, float], ...]:
    """Return the stretches between and outside the places that are allowed."""
    turns = np.flatnonzero(np.diff(np.concatenate([[False], allowed, [False]])))
    starts, ends = from_top[turns[::2]].tolist(), from_top[turns[1::2] - 1].tolist()
    return tuple(zip([0.0, *ends], [*starts, length], strict=True))


def _stations(places: Array, bites: Array, length: float, needs: Needs) -> list[int]:
    """Return which of the places where a screw may stand get one, from the top; none where two find no room."""
    if len(places) == 0 or places[-1] - places[0] < needs.least_apart - _HAIR:
        return []
    top = _outermost(places, bites, float(places[-1]) - needs.least_apart, needs)
    most = length - float(places[top]) - needs.least_apart
    bottom = len(places) - 1 - _outermost(length - places[::-1], bites[::-1], most, needs)
    even = _evenly(places, bites, top, bottom, needs)
    if np.diff(places[even]).max() <= needs.most_apart + _HAIR:
        return even
    return _striding(places, top, bottom, needs)


def _outermost(from_end: Array, bites: Array, most: float, needs: Needs) -> int:
    """Return the place for the screw next to an end: near it, or the nearest further in, where there is most bite.

    Where it would bite less than is wanted it may stand somewhat further in.
    """
    nearest = float(from_end[0])
    far = min(needs.end_most if nearest <= needs.end_most else nearest + needs.end_most - needs.end, most)
    chosen = _best(from_end, bites, nearest, far, (nearest + far) / 2)
    if bites[chosen] >= needs.bite_wanted - _HAIR:
        return chosen
    further = min(_FURTHER_IN * needs.end_most, most)
    deep = np.flatnonzero((bites >= needs.bite_wanted - _HAIR) & (from_end <= further + _HAIR))
    return int(deep[0]) if len(deep) else chosen


def _evenly(places: Array, bites: Array, top: int, bottom: int, needs: Needs) -> list[int]:
    """Return the fewest screws that may do from `top` to `bottom`, about evenly apart, each where there is most bite."""
    whole = float(places[bottom] - places[top])
    spans = max(1, math.ceil(whole / needs.most_apart - _HAIR))
    plan = [top]
    for k in range(1, spans):
        target = float(places[top]) + k * whole / spans
        low = max(target - whole / spans / 4, float(places[bottom]) - (spans - k) * needs.most_apart)
        high = min(target + whole / spans / 4, float(places[plan[-1]]) + needs.most_apart)
        chosen = _best(places, bites, low, high, target)
        if places[chosen] - places[plan[-1]] >= needs.least_apart <= places[bottom] - places[chosen]:
            plan.append(chosen)
    return [*plan, bottom]


def _striding(places: Array, top: int, bottom: int, needs: Needs) -> list[int]:
    """Return screws from `top` to `bottom`, each as far on as may be: no neighbours too far apart where that can be had."""
    plan, last = [top], float(places[bottom]) - needs.least_apart
    while places[bottom] - places[plan[-1]] > needs.most_apart + _HAIR:
        here = float(places[plan[-1]])
        beyond = int(np.searchsorted(places, min(here + needs.most_apart, last) + _HAIR, side="right"))
        chosen = beyond - 1 if places[beyond - 1] >= here + needs.least_apart else beyond
        if places[chosen] > last:
            break
        plan.append(chosen)
    return [*plan, bottom]


def _best(places: Array, bites: Array, low: float, high: float, target: float) -> int:
    """Return the place with the most bite from `low` to `high`, the nearest to `target` of them; the nearest of all where
    there is none."""
    inside = np.flatnonzero((places >= low - _HAIR) & (places <= high + _HAIR))
    inside = inside[bites[inside] >= bites[inside].max() - _HAIR] if len(inside) else np.arange(len(places))
    return int(inside[np.abs(places[inside] - target).argmin()])


def _no_room(half: _Half, room: Array, barred: tuple[tuple[float, float], ...], needs: Needs) -> ScrewPlan:
    """Return the plan of a strip that cannot take two screws; `room` is that of the places far enough from the ends."""
    if not np.isfinite(room).any():
        return ScrewPlan(barred=barred, reason=NoRoom.SHORT)
    later = np.searchsorted(half.from_top, half.from_top + needs.least_apart - _HAIR)
    upper, lower = np.maximum.accumulate(room), np.maximum.accumulate(room[::-1])[::-1]
    pairs = np.minimum(upper, np.append(lower, -np.inf)[later])
    reason = NoRoom.THIN if np.isfinite(pairs).any() else NoRoom.SHORT
    best = int(room.argmax())
    return ScrewPlan(
        barred=barred,
        reason=reason,
        best=float(half.from_top[best]),
        room=float(room[best]),
        room_for_two=float(pairs.max()) if reason is NoRoom.THIN else 0.0,
    )
