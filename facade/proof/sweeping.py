"""What a turning cutter leaves where its tip went in straight lines: at each place the lowest that its underside came, in closed form.

Along a straight move a ball's underside over a place falls and rises again, so that its lowest point is known: over a place that is d
beside the move half of the ball is r = sqrt(R^2 - d^2) wide, and on a move that climbs by m it comes lowest where its middle is
r m / sqrt(1 + m^2) before the place, or at the end of the move that is nearer to there. A flat end comes lowest at one end of the chord
that covers the place. Both are plane geometry; nothing is looked at in steps.
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from facade.arrays import Array

_SAME = 1e-6  # mm; places nearer than this are one
_RIM = 1e-9  # mm; what is so near a rim is under it


@dataclass(frozen=True)
class Cutter:
    """A turning cutter, mm: a ball-ended one, or a straight one with a flat end."""

    radius: float
    ball: bool

    def rise(self, aside: Array) -> Array:
        """Return how far its underside is above its tip, so far from its middle, mm; inf beside it."""
        if not self.ball:
            return np.where(aside <= self.radius + _RIM, 0.0, np.inf)
        square = self.radius * self.radius - aside * aside
        return np.where(square >= 0.0, self.radius - np.sqrt(np.maximum(square, 0.0)), np.inf)

    def half_chord(self, aside: Array) -> Array:
        """Return half of its width along a line that runs so far from its middle, mm; 0 beside it."""
        return np.sqrt(np.maximum(self.radius * self.radius - aside * aside, 0.0))


@dataclass(frozen=True)
class Way:
    """A stretch of a cutter's way along y at one x, mm: places `y`, rising, and the tip's heights `z` there."""

    x: float
    y: Array
    z: Array


@dataclass(frozen=True)
class Move:
    """Any other straight move of a cutter's tip, from `start` to `end`, (3,) each, mm."""

    start: Array
    end: Array


@dataclass(frozen=True)
class Swept:
    """The lowest that a cutter's underside came over a part of a grid: its rows and columns, and the heights there, mm."""

    rows: slice
    columns: slice
    lowest: Array


def parts_of(places: Array, cuts: NDArray[np.bool_]) -> list[Way | Move]:
    """Return the moves through `places` (n, 3) that count, `cuts` (n - 1,), in their order: stretches along y, and single moves."""
    step = np.diff(places, axis=0)
    along = cuts & (np.abs(step[:, 0]) <= _SAME) & (np.abs(step[:, 1]) > _SAME)
    # Stretches go one way; each other move stands by itself.
    kind = np.where(along, np.sign(step[:, 1]), 0.0)
    new = np.concatenate([[True], (np.diff(kind) != 0.0) | (kind[1:] == 0.0)])
    begins: list[int] = np.flatnonzero(new).tolist() if len(kind) else []
    found: list[Way | Move] = []
    for first, after in itertools.pairwise([*begins, len(kind)]):
        if kind[first]:
            some = places[first : after + 1][:: int(kind[first])]
            found.append(Way(float(some[0, 0]), some[:, 1], some[:, 2]))
        elif cuts[first]:
            found.append(Move(places[first], places[first + 1]))
    return found


def lowest_over(x: Array, y: Array, parts: list[Way | Move], cutter: Cutter) -> Array:
    """Return the lowest that the underside came over places x (columns,) and y (rows,), (rows, columns), inf where it never was."""
    found = np.full((len(x), len(y)), np.inf)
    for one in sweeps(x, y, parts, cutter):
        under = found[one.columns, one.rows]
        np.minimum(under, one.lowest, out=under)
    return found.T


def sweeps(x: Array, y: Array, parts: list[Way | Move], cutter: Cutter) -> Iterator[Swept]:
    """Yield what each part of a way sweeps of a grid, (columns, rows), in their order; nothing for those that pass beside it."""
    for part in parts:
        swept = _sweep_way(x, y, part, cutter) if isinstance(part, Way) else _sweep_move(x, y, part, cutter)
        if swept is not None:
            yield swept


def _under(places: Array, low: float, high: float) -> slice:
    """Return which even places lie between two, a hair more."""
    first, after = np.searchsorted(places, [low - _RIM, high + _RIM])
    return slice(int(first), int(after))


def _sweep_way(x: Array, y: Array, way: Way, cutter: Cutter) -> Swept | None:
    radius = cutter.radius
    columns = _under(x, way.x - radius, way.x + radius)
    rows = _under(y, float(way.y[0]) - radius, float(way.y[-1]) + radius)
    if columns.start == columns.stop or rows.start == rows.stop:
        return None
    half = cutter.half_chord(x[columns] - way.x)[:, None]
    return Swept(rows, columns, _lowest_along(way, y[rows], half, cutter))


def _lowest_along(way: Way, y: Array, half: Array, cutter: Cutter) -> Array:
    """Return the lowest of the underside over places y (rows,) beside a way, `half` (columns, 1) wide there, (columns, rows)."""
    length = np.diff(way.y)
    slope = np.diff(way.z) / length
    lean = np.sign(slope)
    reach = float(half.max())
    if cutter.ball:
        lean = slope / np.sqrt(1.0 + slope * slope)
        # A way nowhere steeper than this lets nothing that is further off come lower: it falls no faster than the ball's flank rises.
        reach *= float(np.abs(lean).max())
    last = len(length) - 1
    first = np.clip(np.searchsorted(way.y, y - reach - _RIM, side="right") - 1, 0, last)
    after = np.clip(np.searchsorted(way.y, y + reach + _RIM) - 1, 0, last)
    square = half * half
    found = np.full((len(half), len(y)), np.inf)
    aside, height = np.empty_like(found), np.empty_like(found)
    for k in range(int((after - first).max()) + 1):
        piece = np.minimum(first + k, after)
        m, low = slope[piece], way.y[piece] - y
        high = low + length[piece]
        # How far from the place the middle is when the underside is lowest over it.
        np.multiply(half, -lean[piece], out=aside)
        np.maximum(aside, low, out=aside)
        np.minimum(aside, high, out=aside)
        np.multiply(aside, m, out=height)
        height += way.z[piece] - m * low
        np.multiply(aside, aside, out=aside)
        np.subtract(square, aside, out=aside)
        outside = aside < -_RIM
        if cutter.ball:
            np.maximum(aside, 0.0, out=aside)
            np.sqrt(aside, out=aside)
            height -= aside
        height[outside] = np.inf
        np.minimum(found, height, out=found)
    if cutter.ball:
        found += cutter.radius
    return found


def _sweep_move(x: Array, y: Array, move: Move, cutter: Cutter) -> Swept | None:
    radius = cutter.radius
    low, high = np.minimum(move.start, move.end) - radius, np.maximum(move.start, move.end) + radius
    columns, rows = _under(x, float(low[0]), float(high[0])), _under(y, float(low[1]), float(high[1]))
    if columns.start == columns.stop or rows.start == rows.stop:
        return None
    right, up = x[columns, None] - move.start[0], y[None, rows] - move.start[1]
    length = math.hypot(*(move.end - move.start)[:2].tolist())
    if length <= _SAME:
        lowest = float(min(move.start[2], move.end[2]))
        return Swept(rows, columns, lowest + cutter.rise(np.hypot(right, up)))
    over, beside = (move.end - move.start)[:2] / length
    along, aside = right * over + up * beside, right * beside - up * over
    way = Way(0.0, np.array([0.0, length]), np.array([move.start[2], move.end[2]]))
    return Swept(rows, columns, _lowest_beside(way, along, aside, cutter))


def _lowest_beside(way: Way, along: Array, aside: Array, cutter: Cutter) -> Array:
    """Return the lowest of the underside over places `along` and `aside` of one straight move."""
    length = float(way.y[1])
    slope = float(way.z[1] - way.z[0]) / length
    lean = slope / math.hypot(1.0, slope) if cutter.ball else float(np.sign(slope))
    half = cutter.half_chord(aside)
    at = np.clip(along - half * lean, 0.0, length)
    rise = cutter.rise(np.hypot(aside, at - along))
    return np.asarray(way.z[0] + slope * at + rise)
