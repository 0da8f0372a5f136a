"""What the roughing cut does: run on the blanks move by move, held to the job's levels, and looked through for what is missing."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from facade.arrays import Array
from facade.proof.carved import GOUGE
from facade.proof.laid import Laid
from facade.proof.programs import Program
from facade.proof.sweeping import Cutter, Move, Way, parts_of, sweeps
from facade.proof.truth import Truth

_STEP = 1.0  # mm between places that are looked at, at most
_HAIR = 0.001
# Where less than this would come off, mm, a level may be left out; so far may straight moves run above the ground.
_WORTH = 0.1
# More than a level may come off by what the level before left out, mm.
_MORE = 0.2
# A cutter that is so much wider, mm, never comes lower: what a program's own grid of places may make of it.
_WIDER = 1.5
# Passes are so far apart where the job says nothing, of the cutter's diameter: a rule of thumb of our own.
_APART = 0.4


@dataclass(frozen=True)
class Roughed:
    """What came of a fixture: points, least height in mm, faults, the strips these are about, and which share of the way is in air."""

    points: int
    least: float
    faults: tuple[str, ...]
    failed: tuple[int, ...]
    air: float
    deviation: None = None
    allowed: None = None
    along: dict[int, Array] = field(default_factory=dict)

    def note(self, truth: Truth) -> str:
        """Return what else is worth knowing."""
        return f"{self.air:.0%} of the way at a feed is in air"


@dataclass(frozen=True)
class _Wood:
    """The wood of a fixture on a grid, (columns, rows): what is to be left on it, which columns are strips and which rows no waste."""

    x: Array
    y: Array
    wanted: Array
    on_strip: NDArray[np.bool_]
    on_length: NDArray[np.bool_]


def roughed(truth: Truth, laid: Laid, program: Program) -> Roughed:
    """Return what comes of the roughing cut: nothing that is wanted is cut, no move takes more than a level, and nothing is left out."""
    machine = truth.front.job.machine
    flat = Cutter(machine.roughing.cutter / 2, ball=False)
    wood, parts = _wood(laid), parts_of(program.places, program.cuts)
    stock, most, air = _run(laid, wood, parts, flat)
    strips = stock[wood.on_strip][:, wood.on_length]
    off = strips - np.minimum(wood.wanted[wood.on_strip][:, wood.on_length] + machine.leave, laid.blank)
    faults, failed = [], set()
    if float(off.min()) < -GOUGE:
        column, row = divmod(int(off.argmin()), off.shape[1])
        number = laid.strip_under(float(wood.x[wood.on_strip][column]))
        failed.add(number)
        faults.append(
            f"cuts strip {number} {truth.length(-float(off.min()))} too deep, "
            f"{truth.length(laid.top - float(wood.y[wood.on_length][row]))} from the top"
        )
    level = machine.roughing.level
    if most.depth > level + _MORE:
        failed.add(most.strip)
        faults.append(
            f"takes {truth.length(most.depth)} of wood in one move, over strip {most.strip} {_from_top(truth, laid, most.y)}; "
            f"a level is at most {truth.length(level)}"
        )
    for said, number in _left_out(truth, laid, wood, parts):
        failed.add(number)
        faults.append(said)
    return Roughed(strips.size, float(strips.min()), tuple(faults), tuple(sorted(failed)), air)


def _from_top(truth: Truth, laid: Laid, y: float) -> str:
    if y > laid.top or y < laid.bottom:
        return f"in the waste at its {'TOP' if y > laid.top else 'lower'} end"
    return f"{truth.length(laid.top - y)} from the top"


def _even(first: float, last: float) -> Array:
    return np.linspace(first, last, max(2, math.ceil((last - first) / _STEP - 1e-9)) + 1)


def _wood(laid: Laid) -> _Wood:
    waste = laid.front.job.machine.waste
    x, y = _even(laid.left, laid.right), _even(laid.bottom - waste, laid.top + waste)
    strip = np.any((x[:, None] >= laid.lefts - 1e-9) & (x[:, None] <= laid.rights + 1e-9), axis=1)
    length = (y >= laid.bottom - 1e-9) & (y <= laid.top + 1e-9)
    ground = laid.ground(x, y[length])
    ends = [int(some.sum()) for some in (y < laid.bottom - 1e-9, y > laid.top + 1e-9)]
    return _Wood(x, y, _rising_on(ground, *ends).T, np.asarray(strip), length)


@dataclass(frozen=True)
class _Most:
    """The most wood that a move takes off, mm deep, and where."""

    depth: float = 0.0
    strip: int = 0
    y: float = 0.0


def _run(laid: Laid, wood: _Wood, parts: list[Way | Move], flat: Cutter) -> tuple[Array, _Most, float]:
    """Return the stock that is left (columns, rows), the most that a move takes off, and which share of the way takes nothing."""
    stock = np.full(wood.wanted.shape, laid.blank)
    stock[~wood.on_strip] = -np.inf
    most, gone, idle = _Most(), 0.0, 0.0
    for part in parts:
        long = _length(part)
        gone += long
        swept = next(iter(sweeps(wood.x, wood.y, [part], flat)), None)
        if swept is None:
            idle += long
            continue
        under = stock[swept.columns, swept.rows]
        taken = under - swept.lowest
        deepest = int(taken.argmax())
        depth = float(taken.flat[deepest])
        if depth <= _HAIR:
            idle += long
            continue
        if isinstance(part, Way):
            idle += long * float((taken.max(axis=0) <= _HAIR).mean())
        if depth > most.depth:
            column, row = divmod(deepest, taken.shape[1])
            where = laid.strip_under(float(wood.x[swept.columns][column]))
            most = _Most(depth, where, float(wood.y[swept.rows][row]))
        np.minimum(under, swept.lowest, out=under)
    return stock, most, idle / gone if gone else 1.0


def _length(part: Way | Move) -> float:
    if isinstance(part, Way):
        return float(np.hypot(np.diff(part.y), np.diff(part.z)).sum())
    return float(np.linalg.norm(part.end - part.start))


def _left_out(truth: Truth, laid: Laid, wood: _Wood, parts: list[Way | Move]) -> Iterator[tuple[str, int]]:
    """Yield where no pass came as low as a flat end can go, with the strip: at every place one must have been within half a step."""
    plan, leave = truth.front.job.machine.roughing, truth.front.job.machine.leave
    step = plan.step if plan.step is not None else _APART * plan.cutter
    aside = step / 2 + float(wood.x[1] - wood.x[0]) / 2 + _HAIR
    came = np.full(wood.wanted.shape, np.inf)
    for part in parts:
        if not isinstance(part, Way):
            continue
        first, after = np.searchsorted(wood.x, [part.x - aside, part.x + aside])
        start, stop = np.searchsorted(wood.y, [float(part.y[0]) - _HAIR, float(part.y[-1]) + _HAIR])
        under = came[first:after, start:stop]
        np.minimum(under, np.interp(wood.y[start:stop], part.y, part.z), out=under)
    low = _highest_near(wood, plan.cutter / 2 + aside + _WIDER) + leave + plan.leave
    left = np.where(low < laid.blank - _WORTH, np.minimum(came, laid.blank) - low - _WORTH, -np.inf)
    left[~wood.on_strip] = -np.inf
    worst = int(left.argmax())
    if left.flat[worst] > _WORTH:
        column, row = divmod(worst, left.shape[1])
        number = laid.strip_under(float(wood.x[column]))
        more = truth.length(float(left.flat[worst]) + _WORTH)
        yield (
            f"leaves out a pass, or a part of one: {more} more stands over strip {number} than its cutter "
            f"must leave, {_from_top(truth, laid, float(wood.y[row]))}",
            number,
        )


def _highest_near(wood: _Wood, reach: float) -> Array:
    """Return the highest ground within so far of each place, (columns, rows): it rises on beyond the sides as it does before them."""
    beside = math.ceil(reach / float(wood.x[1] - wood.x[0]))
    ground, columns = _rising_on(wood.wanted, beside, beside), len(wood.x)
    found = np.full(wood.wanted.shape, -np.inf)
    across, along = float(wood.x[1] - wood.x[0]), float(wood.y[1] - wood.y[0])
    for j in range(-beside, beside + 1):
        half = math.floor(math.sqrt(max(reach * reach - (j * across) ** 2, 0.0)) / along)
        some = _highest_along(ground[beside + j : beside + j + columns], half)
        np.maximum(found, some, out=found)
    return found


def _rising_on(heights: Array, before: int, after: int) -> Array:
    """Return heights (n, m) with rows before and after, even with theirs, that rise on as steeply as they did, or are level."""
    first = heights[0] + np.arange(before, 0, -1)[:, None] * np.maximum(heights[0] - heights[1], 0.0)
    last = heights[-1] + np.arange(1, after + 1)[:, None] * np.maximum(heights[-1] - heights[-2], 0.0)
    return np.concatenate([first, heights, last])


def _highest_along(heights: Array, half: int) -> Array:
    """Return the highest of each place and the `half` before and after it along the rows."""
    from scipy.ndimage import maximum_filter1d

    return np.asarray(maximum_filter1d(heights, 2 * half + 1, axis=1, mode="nearest"))
