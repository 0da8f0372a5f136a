"""What a cutter leaves of heights on a grid: the exact grey closing by the cutter's body."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Protocol

import numpy as np
from numpy.typing import NDArray

from facade.arrays import Array

# An offset is left out only when another is better by more than this, mm: rounding can then never make a difference.
_MARGIN = 1e-9
# With fewer offsets than this, looking for more to leave out takes longer than it saves.
_FEW = 12
# Steps towards the middle of the body, rows and columns: the cheap ones, and those that pay where many offsets are left.
_STRAIGHT = ((1, 0), (0, 1))
_SLANTING = ((1, 1), (1, 2), (2, 1))
_BAND = 12_000  # heights that are worked on at once, so that they stay in cache

Window = tuple[slice, slice]
"""Rows and columns of a grid, both with a start and a stop."""


class Body(Protocol):
    """The underside of a cutter, the same on all four sides of its middle and nowhere rising away from it."""

    @property
    def extent(self) -> tuple[float, float]:
        """How far the body reaches from its middle in x and in y, mm."""

    def below(self, x: Array, y: Array) -> Array:
        """Return how far the underside is below the cutter's centre, (x, y) mm from its middle; -inf beside the body."""

    def reach(self, rise: float) -> tuple[float, float]:
        """Return how far from its middle, in x and in y, the underside has risen by `rise` mm; at most the extent."""

    def lean(self, across: float, along: float) -> tuple[float, float]:
        """Return how far from its middle, in x and in y, the underside is as steep as these slopes, mm in a mm."""


@dataclass(frozen=True)
class Ball:
    """A ball-ended cutter: z = -sqrt(R^2 - x^2 - y^2)."""

    radius: float

    @property
    def extent(self) -> tuple[float, float]:
        return self.radius, self.radius

    def below(self, x: Array, y: Array) -> Array:
        return _root(self.radius * self.radius - (x * x + y * y))

    def reach(self, rise: float) -> tuple[float, float]:
        chord = half_chord(self.radius, rise)
        return chord, chord

    def lean(self, across: float, along: float) -> tuple[float, float]:
        return self.radius * _sine(across), self.radius * _sine(along)


@dataclass(frozen=True)
class Disc:
    """A disc that stands on its rim and runs along y: a torus, z = -sqrt(((R - r) + sqrt(r^2 - x^2))^2 - y^2).

    `radius` R is that of the whole disc, `edge` r that of its rim, at most R; 0 is the blade that follows one line.
    """

    radius: float
    edge: float

    @property
    def extent(self) -> tuple[float, float]:
        return self.edge, self.radius

    def below(self, x: Array, y: Array) -> Array:
        rim = _root(self.edge * self.edge - x * x)
        return np.where(rim >= 0.0, _root((self.radius - self.edge + rim) ** 2 - y * y), -np.inf)

    def reach(self, rise: float) -> tuple[float, float]:
        return half_chord(self.edge, rise), half_chord(self.radius, rise)

    def lean(self, across: float, along: float) -> tuple[float, float]:
        return self.edge * _sine(across), self.radius * _sine(along)


def half_chord(radius: float, rise: float) -> float:
    """Return how far from its lowest point a circle has risen by `rise`, at most its radius."""
    return math.sqrt(rise * (2.0 * radius - rise)) if rise < radius else radius


def _sine(slope: float) -> float:
    return slope / math.hypot(1.0, slope)


def _root(square: Array) -> Array:
    """Return the square root, -inf where there is none."""
    with np.errstate(invalid="ignore"):
        root: Array = np.where(square >= 0.0, np.sqrt(square), -np.inf)
    return root


def closing(heights: Array, body: Body, spacing: tuple[float, float], window: Window | None = None) -> Array:
    """Return the heights that are left where the body goes wherever it can without cutting below them.

    `heights` (rows, columns), `spacing` in x and y, mm. The cutter's centre stays over the grid, and beyond it there is
    nothing that the body could meet; with a `window` only that part of the result is worked out, the same numbers.

    This is the dilation of the heights by the body, then the erosion of what that gives (J. Serra, "Image Analysis and
    Mathematical Morphology", 1982). Both are exact: an offset u of the body is left out only when for a step d towards
    its middle b(u - d) - b(u) is more than f rises over d anywhere, since u - d then touches first wherever u might.
    """
    rows, columns = heights.shape
    window = window or (slice(0, rows), slice(0, columns))
    # The centre may stand as far beside a place as the body has risen by the whole range of the heights.
    around = _grown(window, body.reach(float(np.ptp(heights))), spacing, heights.shape)
    centres = _dilation(heights, body, spacing, around)
    np.negative(centres, out=centres)
    inner = tuple(slice(w.start - a.start, w.stop - a.start) for w, a in zip(window, around, strict=True))
    closed = _dilation(centres, body, spacing, (inner[0], inner[1]))
    return np.negative(closed, out=closed)


def _grown(window: Window, reach: tuple[float, float], spacing: tuple[float, float], shape: tuple[int, ...]) -> Window:
    """Return a window wider by the reach in x and y, as far as the grid goes."""
    more = (math.ceil(reach[1] / spacing[1]) + 1, math.ceil(reach[0] / spacing[0]) + 1)
    rows, columns = (
        slice(max(0, part.start - some), min(size, part.stop + some))
        for part, some, size in zip(window, more, shape, strict=True)
    )
    return rows, columns


def _dilation(field: Array, body: Body, spacing: tuple[float, float], window: Window) -> Array:
    """Return the greatest of field(p + u) + b(u) over all offsets u of the body, for the places p of a window."""
    lines = _offsets(field, body, spacing)
    tall, wide = max(lines), max(max(line) for line in lines.values())
    rows, columns = window
    first, last = rows.start - tall, columns.start - wide
    padded = _cut(field, (first, rows.stop + tall), (last, columns.stop + wide))
    count, across = rows.stop - rows.start, columns.stop - columns.start
    result = np.full((count, across), -np.inf)
    step = max(1, _BAND // (across + 2 * wide))
    pair, both = np.empty((step, across + 2 * wide)), np.empty((step, across))
    for start in range(0, count, step):
        stop = min(start + step, count)
        best = result[start:stop]
        two, four = pair[: stop - start], both[: stop - start]
        for i, line in lines.items():
            # The body is the same on all four sides: four offsets share one sum, exactly, since rounding keeps order.
            np.maximum(padded[tall - i + start : tall - i + stop], padded[tall + i + start : tall + i + stop], out=two)
            for j, below in line.items():
                np.maximum(two[:, wide - j : wide - j + across], two[:, wide + j : wide + j + across], out=four)
                four += below
                np.maximum(best, four, out=best)
    return result


def _cut(field: Array, rows: tuple[int, int], columns: tuple[int, int]) -> Array:
    """Return rows and columns of a field, -inf where it has none."""
    cut = np.full((rows[1] - rows[0], columns[1] - columns[0]), -np.inf)
    r0, r1 = max(rows[0], 0), min(rows[1], field.shape[0])
    c0, c1 = max(columns[0], 0), min(columns[1], field.shape[1])
    cut[r0 - rows[0] : r1 - rows[0], c0 - columns[0] : c1 - columns[0]] = field[r0:r1, c0:c1]
    return cut


def _offsets(field: Array, body: Body, spacing: tuple[float, float]) -> dict[int, dict[int, float]]:
    """Return, by rows and then columns from the middle, how far below its centre the body is, where that counts at all."""
    reach = body.reach(float(np.ptp(field)) + _MARGIN)
    i = np.arange(min(math.floor(reach[1] / spacing[1] + 1e-9) + 2, field.shape[0]))
    j = np.arange(min(math.floor(reach[0] / spacing[0] + 1e-9) + 2, field.shape[1]))
    below = body.below(j[None, :] * spacing[0], i[:, None] * spacing[1])
    keep = below[0, 0] - below <= float(np.ptp(field)) + _MARGIN
    for steps in (_STRAIGHT, _SLANTING):
        if keep.sum() > _FEW:
            for step in steps:
                keep &= _counts(below, step, _steepest(field, step))
    return {
        row: {int(column): float(below[row, column]) for column in np.flatnonzero(keep[row])}
        for row in np.flatnonzero(keep.any(axis=1)).tolist()
    }


def _counts(below: Array, step: tuple[int, int], steepest: float) -> NDArray[np.bool_]:
    """Return which offsets are not outdone by the one a step nearer to the middle, whatever the field."""
    i, j = step
    counts = np.ones(below.shape, dtype=bool)
    rows, columns = below.shape
    with np.errstate(invalid="ignore"):
        counts[i:, j:] = below[: max(rows - i, 0), : max(columns - j, 0)] - below[i:, j:] <= steepest + _MARGIN
    return counts


def _steepest(field: Array, step: tuple[int, int]) -> float:
    """Return the most that the field rises or falls over a step, to either side."""
    (i, j), (rows, columns) = step, field.shape
    if i >= rows or j >= columns:
        return 0.0
    most = 0.0
    tall = max(1, _BAND // columns)
    for start in range(0, rows - i, tall):
        low = field[start : min(start + tall, rows - i)]
        high = field[start + i : min(start + tall, rows - i) + i]
        for one, other in ((low[:, : columns - j], high[:, j:]), (low[:, j:], high[:, : columns - j])):
            rise = other - one
            most = max(most, float(rise.max()), -float(rise.min()))
            if not i or not j:
                break
    return most
