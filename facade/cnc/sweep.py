"""Taking wood away: the heights that are left where a cutter has gone along straight moves."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from facade.arrays import Array
from facade.cnc.drop import BallEnd, Tool

# Along a pass the cutter is looked at so often that what stands between two places is no higher than this, mm.
_BETWEEN = 0.002
_BAND = 40_000  # heights that are worked on at once, so that they stay in cache
_SAME = 1e-6  # mm


@dataclass(frozen=True)
class Stock:
    """Heights (rows, columns) of wood at even places x (columns,) and y (rows,), mm."""

    x: Array
    y: Array
    heights: Array

    @property
    def spacing(self) -> tuple[float, float]:
        """How far places are apart in x and in y, mm."""
        return float(self.x[1] - self.x[0]), float(self.y[1] - self.y[0])


@dataclass(frozen=True)
class _Runs:
    """Cuts along y: the line x (runs,) of each, and the tip's height (runs, places) at even places along y, inf where it was not.

    There are `parts` places to a row of the stock, and `beyond` rows more at both its ends.
    """

    at: Array
    tips: Array
    parts: int
    beyond: int


def swept(stock: Stock, places: Array, cuts: NDArray[np.bool_], tool: Tool) -> Array:
    """Return the heights (rows, columns) that are left after a cutter's tip went through `places` (n, 3) in straight lines.

    `cuts` (n - 1,) tells which of the moves count: rapids are judged by themselves, they cut nothing that is allowed.
    Moves along y are swept by the row: at every place the lowest that the cutter's underside came. Others are looked at in small steps.
    """
    left = stock.heights.copy()
    along, others = (some & cuts for some in _along_y(places))
    if along.any():
        _sweep_runs(left, stock, _runs(stock, places, along, tool), tool)
    for start, end in zip(places[:-1][others], places[1:][others], strict=True):
        _sweep_move(left, stock, start, end, tool)
    return left


def _along_y(places: Array) -> tuple[NDArray[np.bool_], NDArray[np.bool_]]:
    """Return which moves run along y, and which others move at all."""
    way = np.abs(np.diff(places, axis=0))
    along = (way[:, 0] <= _SAME) & (way[:, 1] > _SAME)
    return along, ~along & (way.max(axis=1) > _SAME)


def _runs(stock: Stock, places: Array, along: NDArray[np.bool_], tool: Tool) -> _Runs:
    """Return the moves along y as runs, each going one way only."""
    step = stock.spacing[1]
    parts = 1
    if isinstance(tool, BallEnd):
        parts = max(1, math.ceil(step / math.sqrt(8.0 * tool.radius * _BETWEEN)))
    beyond = math.ceil(tool.radius / step)
    count = (len(stock.y) - 1 + 2 * beyond) * parts + 1
    y = stock.y[0] - beyond * step + np.arange(count, dtype=np.float64) * (step / parts)
    at, tips = [], []
    for first, last in _one_way(places, along):
        at.append(float(places[first, 0]))
        tips.append(_tips_at(y, places[first : last + 1, 1:]))
    order = np.argsort(at, kind="stable")
    return _Runs(np.array(at)[order], np.array(tips)[order], parts, beyond)


def _one_way(places: Array, along: NDArray[np.bool_]) -> Iterator[tuple[int, int]]:
    """Yield the first and the last place of runs of moves that go up, or down, without a turn."""
    forward = np.sign(np.diff(places[:, 1])) * along
    turns = np.flatnonzero(np.diff(np.concatenate([[0.0], forward, [0.0]])))
    for start, stop in zip(turns[:-1].tolist(), turns[1:].tolist(), strict=True):
        if forward[start]:
            yield start, stop


def _tips_at(y: Array, way: Array) -> Array:
    """Return the tip's height at places y on a way (n, 2) of y and z that goes up or down; inf where it does not go.

    A place between two of these that stands out downwards lowers both of them, so that it is not lost.
    """
    way = way if way[-1, 0] > way[0, 0] else way[::-1]
    tips = np.interp(y, way[:, 0], way[:, 1], left=np.inf, right=np.inf)
    place = (way[:, 0] - y[0]) / (y[1] - y[0])
    below = np.clip(np.floor(place), 0, len(y) - 2).astype(np.intp)
    before, after = tips[below], tips[below + 1]
    with np.errstate(invalid="ignore"):
        out = before + (place - below) * (after - before) - way[:, 1]
    some = np.isfinite(out) & (out > _BETWEEN) & (place >= 0.0) & (place <= len(y) - 1)
    for near in (below[some], below[some] + 1):
        np.minimum.at(tips, near, tips[near] - out[some])
    return tips


def _sweep_runs(left: Array, stock: Stock, runs: _Runs, tool: Tool) -> None:
    """Lower the heights to what runs leave, some columns at a time."""
    size = max(1, _BAND // len(stock.y))
    reach = _reach(runs, stock.spacing[1] / runs.parts, tool)
    phases = _phases(runs)
    for start in range(0, len(stock.x), size):
        columns = slice(start, min(start + size, len(stock.x)))
        lowest = _lowest(stock, runs, phases, columns, reach, tool)
        np.minimum(left[:, columns], lowest.T, out=left[:, columns])


def _phases(runs: _Runs) -> list[Array]:
    """Return the tips' heights so that places a row apart stand side by side, padded to whole rows."""
    return [np.ascontiguousarray(runs.tips[:, phase :: runs.parts]) for phase in range(runs.parts)]


def _reach(runs: _Runs, step: float, tool: Tool) -> tuple[float, float]:
    """Return how far beside and along the cutter's middle it may have cut what counts, mm.

    Where all runs go all the way, a neighbour or a place nearer by cuts deeper than one further away, as steep as runs are.
    """
    if not np.isfinite(runs.tips).all() or len(runs.at) < 2 or not isinstance(tool, BallEnd):
        return tool.radius, tool.radius
    along = float(np.abs(np.diff(runs.tips, axis=1)).max()) / step
    apart = np.diff(runs.at)
    new = apart > _SAME
    if not new.any():
        return tool.radius, tool.radius
    across = float((np.abs(np.diff(runs.tips, axis=0)).max(axis=1)[new] / apart[new]).max())
    slope = math.hypot(across, along)
    beside = tool.reach(slope) + 1.5 * float(apart.max())
    return min(beside, tool.radius), min(tool.reach(slope) + 2.0 * step, tool.radius)


def _lowest(
    stock: Stock, runs: _Runs, phases: list[Array], columns: slice, reach: tuple[float, float], tool: Tool
) -> Array:
    """Return the lowest that the cutter's underside came over some columns (columns, rows), inf where it never was."""
    x, rows = stock.x[columns], len(stock.y)
    lowest = np.full((len(x), rows), np.inf)
    pair = np.empty_like(lowest)
    first = np.searchsorted(runs.at, x - reach[0] - _SAME)
    last = np.searchsorted(runs.at, x + reach[0] + _SAME)
    step = stock.spacing[1] / runs.parts
    for k in range(int((last - first).max(initial=0))):
        run = np.minimum(first + k, len(runs.at) - 1)
        beside = np.where(first + k < last, runs.at[run] - x, np.inf)
        near = [phase[run] for phase in phases]
        for i in range(math.floor(reach[1] / step + 1e-9) + 1):
            rise = np.asarray(tool.rise(beside * beside + (i * step) ** 2))[:, None]
            if not np.isfinite(rise).any():
                break
            for shift in {i, -i}:
                _lower(lowest, pair, near, shift + runs.beyond * runs.parts, rise, runs.parts)
    return lowest


def _lower(lowest: Array, pair: Array, near: list[Array], shift: int, rise: Array, parts: int) -> None:
    """Lower heights by the cutter as it stood `shift` places further up its way."""
    whole, phase = divmod(shift, parts)
    tips = near[phase]
    rows = lowest.shape[1]
    start, stop = max(0, -whole), min(rows, tips.shape[1] - whole)
    if stop <= start:
        return
    some = pair[:, : stop - start]
    np.add(tips[:, start + whole : stop + whole], rise, out=some)
    np.minimum(lowest[:, start:stop], some, out=lowest[:, start:stop])


def _sweep_move(left: Array, stock: Stock, start: Array, end: Array, tool: Tool) -> None:
    """Lower the heights to what one move leaves, in steps of half a place of the grid."""
    length = float(np.hypot(*(end - start)[:2]))
    count = max(1, math.ceil(length / (min(stock.spacing) / 2)))
    for share in np.linspace(0.0, 1.0, count + 1).tolist() if length > _SAME else [1.0 if end[2] < start[2] else 0.0]:
        _stamp(left, stock, start + share * (end - start), tool)


def _stamp(left: Array, stock: Stock, place: Array, tool: Tool) -> None:
    """Lower the heights under a cutter that stands still."""
    x, y, z = place.tolist()
    c0, c1 = np.searchsorted(stock.x, [x - tool.radius, x + tool.radius])
    r0, r1 = np.searchsorted(stock.y, [y - tool.radius, y + tool.radius])
    if c0 == c1 or r0 == r1:
        return
    square = (stock.x[None, c0:c1] - x) ** 2 + (stock.y[r0:r1, None] - y) ** 2
    under = left[r0:r1, c0:c1]
    np.minimum(under, z + tool.rise(square), out=under)
