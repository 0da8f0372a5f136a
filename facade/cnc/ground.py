"""The surface of a fixture's strips as a cutter finds it: heights on a fine even grid, continued beyond all sides."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from facade.arrays import Array
from facade.cnc.fixture import Fixture

STEP = 0.5  # mm between places of the grid, at most
# The surface in the middle of a cell may be off what its corners tell by this much, mm, before it counts as an edge.
_EDGE = 0.002
# Where it stands out by more than this, mm, it is looked at in so many parts of a cell each way.
_SHARP, _PARTS = 0.001, 4
_SHARPER, _MORE_PARTS = 0.004, 8
# Beyond an edge the surface runs out in an arc of at most this radius, mm, over at most this share of what there is.
_WIDEST, _AT_MOST = 60.0, 0.8


@dataclass(frozen=True)
class Ground:
    """Heights (rows, columns) at x (columns,) and y (rows,), mm; the strips' outer edges and both ends are among the places.

    Beyond the strips the surface runs out level, in a curve that a ball can follow, so that it rolls over an edge and out. Where the
    surface has an edge between two places of the grid, `edges` (n, 3) are places on the surface itself, near one another along it; or,
    where they are None, the places beside it are raised to it. `smooth` tells that edges were looked for, and that there are none.
    """

    x: Array
    y: Array
    heights: Array
    edges: Array | None = None
    smooth: bool = False

    @property
    def spacing(self) -> tuple[float, float]:
        """How far places are apart in x and in y, mm."""
        return float(self.x[1] - self.x[0]), float(self.y[1] - self.y[0])

    @cached_property
    def slopes(self) -> tuple[Array, Array]:
        """First derivatives in x and in y, (rows, columns), by central differences."""
        across, along = self.spacing
        return _central(self.heights, across, axis=1), _central(self.heights, along, axis=0)

    @cached_property
    def bends(self) -> tuple[Array, Array, Array]:
        """Second derivatives in x, in y and mixed, (rows, columns)."""
        across, along = self.spacing
        twist = _central(self.slopes[0], along, axis=0)
        return _second(self.heights, across, axis=1), _second(self.heights, along, axis=0), twist

    @cached_property
    def steepest(self) -> float:
        """The most that the heights rise or fall over a mm from one place to the next, in either direction."""
        across, along = self.spacing
        rise_x, rise_y = np.abs(np.diff(self.heights, axis=1)).max(), np.abs(np.diff(self.heights, axis=0)).max()
        return float(math.hypot(rise_x / across, rise_y / along))

    @cached_property
    def rises(self) -> tuple[Array, Array, Array, Array]:
        """The most that it rises over a mm to the next place, never less than 0: to the right and to the left from each column to the
        next (columns - 1,), up and down along each column (columns,)."""
        across, along = self.spacing
        aside, up = np.diff(self.heights, axis=1), np.diff(self.heights, axis=0)
        found = aside.max(axis=0) / across, -aside.min(axis=0) / across, up.max(axis=0) / along, -up.min(axis=0) / along
        right, left, upwards, downwards = (np.maximum(rise, 0.0) for rise in found)
        return right, left, upwards, downwards

    @cached_property
    def tightest(self) -> float:
        """The most that it bends upwards in any direction, 1/mm, as a hollow of the radius R does by 1 / R: the greater principal bend."""
        right, up, twist = self.bends
        turn = (right - up) / 2.0
        return float(((right + up) / 2.0 + np.sqrt(turn * turn + twist * twist)).max())

    def lifted(self, mm: float) -> Ground:
        """Return the ground with so much left on it everywhere."""
        edges = None if self.edges is None else self.edges + np.array([0.0, 0.0, mm])
        return replace(self, heights=self.heights + mm, edges=edges)


def _central(values: Array, step: float, *, axis: int) -> Array:
    values = np.moveaxis(values, axis, 0)
    found = np.empty_like(values)
    found[1:-1] = (values[2:] - values[:-2]) / (2.0 * step)
    found[0], found[-1] = (values[1] - values[0]) / step, (values[-1] - values[-2]) / step
    return np.moveaxis(found, 0, axis)


def _second(values: Array, step: float, *, axis: int) -> Array:
    values = np.moveaxis(values, axis, 0)
    found = np.zeros_like(values)
    found[1:-1] = (values[2:] + values[:-2] - 2.0 * values[1:-1]) / (step * step)
    return np.moveaxis(found, 0, axis)


def ground_of(
    fixture: Fixture, *, beside: float, beyond: float, curve: float, step: float = STEP, closely: bool = False
) -> Ground:
    """Return the finished surface of a fixture's strips.

    It goes on by `beside` mm left and right and `beyond` mm past both ends, where it becomes level in a curve of the radius `curve`,
    mm, or in a wider one that ends above the fixture's `low`; it is never lower than that. Looked at `closely` it knows its edges, for a
    ball.
    """
    columns, rows = (max(2, math.ceil(size / step - 1e-9)) for size in (fixture.width, fixture.length))
    across, along = fixture.width / columns, fixture.length / rows
    more_x, more_y = math.ceil(beside / across), math.ceil(beyond / along)
    x = np.linspace(0.0, fixture.width, columns + 1)
    y = np.linspace(0.0, fixture.length, rows + 1)
    heights, edges, smooth = _with_edges(fixture, x, y, closely=closely)
    heights = _continued(heights, more_x, across, curve, fixture.low, axis=1)
    heights = _continued(heights, more_y, along, curve, fixture.low, axis=0)
    np.maximum(heights, fixture.low, out=heights)
    wide, tall = _more(x, more_x, across), _more(y, more_y, along)
    return Ground(wide, tall, heights, edges, smooth)


def _more(places: Array, count: int, step: float) -> Array:
    before = places[0] - step * np.arange(count, 0, -1, dtype=np.float64)
    return np.concatenate([before, places, places[-1] + step * np.arange(1, count + 1, dtype=np.float64)])


def _continued(heights: Array, count: int, step: float, curve: float, low: float, *, axis: int) -> Array:
    """Return heights with `count` more rows or columns at both sides."""
    heights = np.moveaxis(heights, axis, 0)
    far = step * np.arange(1, count + 1, dtype=np.float64)[:, None]
    first = _run_out(heights[0], (heights[1] - heights[0]) / step, far[::-1], curve, low)
    last = _run_out(heights[-1], (heights[-2] - heights[-1]) / step, far, curve, low)
    return np.moveaxis(np.concatenate([first, heights, last]), 0, axis)


def _run_out(edge: Array, falls: Array, far: Array, curve: float, low: float) -> Array:
    """Return heights `far` (places, 1) beyond an edge (n,), to which the surface falls by `falls` (n,) mm in a mm: an arc, then level.

    The wider the arc, the less the bend changes at the edge: it is as wide as there is height for.
    """
    deep = 1.0 / np.sqrt(1.0 + falls * falls)
    room = (edge - low) / np.maximum(1.0 - deep, 1e-9)
    radius = np.where(falls > 0.0, np.clip(room, curve, _WIDEST), _WIDEST)
    radius = np.maximum(np.minimum(radius, _AT_MOST * far.max() / np.maximum(np.abs(falls) * deep, 1e-9)), curve)
    to_level = np.maximum(radius * np.abs(falls) * deep - far, 0.0)
    return np.asarray(edge + np.sign(falls) * (radius * deep - np.sqrt(radius * radius - to_level * to_level)))


def _with_edges(fixture: Fixture, x: Array, y: Array, *, closely: bool) -> tuple[Array, Array | None, bool]:
    """Return heights at places and, `closely`, places on edges and whether it has none; else heights beside an edge are raised.

    In the middle of a cell a smooth surface is what its sixteen nearest corners tell; where it does not, the four corners are
    raised by twice as much, at most to the highest place near: wherever between them the edge is, nothing of it is missed.
    """
    heights = fixture.heights(x, y)
    middles = fixture.heights((x[:-1] + x[1:]) / 2, (y[:-1] + y[1:]) / 2)
    above = middles - _midpoints(_midpoints(heights, axis=0), axis=1)
    if closely:
        # Where edges are known they need no raising, which would keep a ball off what stands beside them.
        off = np.maximum(above, _above_corners(x, y, heights, middles))
        joints = list(_joints(fixture, y))
        smooth = float(np.abs(above).max()) <= _EDGE and not any(map(len, joints))
        return heights, np.concatenate([*_edges(fixture, x, y, off, above), *joints]), smooth
    off = np.abs(above)
    if off.max() <= _EDGE:
        return heights, None, False
    raised = np.zeros_like(heights)
    near = heights.copy()
    lift = np.where(off > _EDGE, 2.0 * off, 0.0)
    for rows in (slice(0, -1), slice(1, None)):
        for columns in (slice(0, -1), slice(1, None)):
            np.maximum(raised[rows, columns], lift, out=raised[rows, columns])
            np.maximum(near[rows, columns], middles, out=near[rows, columns])
    for axis in (0, 1):
        near = _highest_of_three(near, axis=axis)
    return np.where(raised > 0.0, np.minimum(heights + raised, near), heights), None, False


def _above_corners(x: Array, y: Array, heights: Array, middles: Array) -> Array:
    """Return how far the middles of cells stand at most above what slopes and bends at one of their corners tell, as a ball reads them."""
    ground = Ground(x, y, heights)
    right, up = (size / 2.0 for size in ground.spacing)
    (slope_x, slope_y), (bend_x, bend_y, twist) = ground.slopes, ground.bends
    level = heights + (right * right * bend_x + up * up * bend_y) / 2.0
    aside, along, turned = right * slope_x, up * slope_y, right * up * twist
    least = np.full_like(middles, np.inf)
    for rightwards, columns in ((True, slice(0, -1)), (False, slice(1, None))):
        for upwards, rows in ((True, slice(0, -1)), (False, slice(1, None))):
            told = _added(level[rows, columns], aside[rows, columns], up=rightwards)
            told = _added(told, along[rows, columns], up=upwards)
            np.minimum(least, _added(told, turned[rows, columns], up=rightwards == upwards), out=least)
    return np.asarray(middles - least)


def _added(values: Array, more: Array, *, up: bool) -> Array:
    return values + more if up else values - more


def _edges(fixture: Fixture, x: Array, y: Array, off: Array, above: Array) -> list[Array]:
    """Return places (n, 3) on the surface in the cells where it bends more sharply than the grid can tell, `off` mm, and next to them.

    Along the strips' outermost edges and ends the grid goes on in an arc that is not the surface: there they are given too.
    """
    sharp = _grown(off > _SHARP)
    sharp[:, [0, -1]] = sharp[[0, -1]] = True
    sharper = _grown(above > _SHARPER)
    return [
        _within(fixture, x, y, cells, parts) for cells, parts in ((sharp & ~sharper, _PARTS), (sharper, _MORE_PARTS))
    ]


def _joints(fixture: Fixture, y: Array) -> Iterator[Array]:
    """Yield places (n, 3) on the higher edge of each step between two strips that touch: a grid has one height for both."""
    tall = np.linspace(y[0], y[-1], (len(y) - 1) * _MORE_PARTS + 1)
    along = (tall + fixture.places[0].bottom)[:, None]
    for left, right, x in zip(fixture.places[:-1], fixture.places[1:], fixture.lefts[1:].tolist(), strict=True):
        if fixture.spacer <= 1e-9:
            one, other = (
                fixture.front.surface.at(np.array([[edge]]), along)[:, 0] for edge in (left.right, right.left)
            )
            step = np.abs(one - other) > _SHARP
            yield np.column_stack([np.full(len(tall), x), tall, np.maximum(one, other)])[step]


def _grown(cells: NDArray[np.bool_]) -> NDArray[np.bool_]:
    """Return cells with all eight that are next to each."""
    for axis in (0, 1):
        before = np.moveaxis(cells, axis, 0)
        grown = before.copy()
        grown[1:] |= before[:-1]
        grown[:-1] |= before[1:]
        cells = np.moveaxis(grown, 0, axis)
    return cells


def _within(fixture: Fixture, x: Array, y: Array, cells: NDArray[np.bool_], parts: int) -> Array:
    """Return places (n, 3) on the surface, so many parts of a cell apart each way."""
    row, column = np.nonzero(cells)
    if not len(row):
        return np.empty((0, 3))
    # Counted in parts from the first place, so that what two cells share is given once.
    share, wide = np.arange(parts + 1), (len(x) - 1) * parts + 1
    places = (row[:, None, None] * parts + share[:, None]) * wide + column[:, None, None] * parts + share
    places = np.sort(places, axis=None)
    up, right = np.divmod(places[np.r_[True, np.diff(places) > 0]], wide)
    places_x, places_y = x[0] + (x[1] - x[0]) / parts * right, y[0] + (y[1] - y[0]) / parts * up
    return np.column_stack([places_x, places_y, fixture.heights_at(places_x, places_y)])


def _midpoints(values: Array, *, axis: int) -> Array:
    """Return values half way between places, by the cubic through four of them; at the sides by the nearest two."""
    values = np.moveaxis(values, axis, 0)
    middle = (values[:-1] + values[1:]) / 2
    if len(values) > 3:
        middle[1:-1] = (9.0 * (values[1:-2] + values[2:-1]) - values[:-3] - values[3:]) / 16.0
        for end, (a, b, c) in ((0, values[:3]), (-1, values[:-4:-1])):
            middle[end] = (3.0 * a + 6.0 * b - c) / 8.0
    return np.moveaxis(middle, 0, axis)


def _highest_of_three(values: Array, *, axis: int) -> Array:
    values = np.moveaxis(values, axis, 0)
    found = values.copy()
    np.maximum(found[1:], values[:-1], out=found[1:])
    np.maximum(found[:-1], values[1:], out=found[:-1])
    return np.moveaxis(found, 0, axis)
