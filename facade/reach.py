"""What a cutter can leave of a surface: the faces of the doors on grids, and the surface that follows the cutter."""

from __future__ import annotations

import math
from collections import OrderedDict
from collections.abc import Iterator
from dataclasses import dataclass, replace
from functools import cached_property
from typing import Any

import numpy as np
from numpy.typing import NDArray

from facade.arrays import Array
from facade.closing import Ball, Body, Disc, Window, closing
from facade.job import Job
from facade.job.bench import Cutter, CutterShape
from facade.layout import Layout, StripPlace
from facade.surface import GRAIN, Moved, Surface, both_at, make_surface

# The surface that follows the cutter keeps this close to what the cutter can leave, mm; what is raised by less stays as it is.
TOLERANCE = 0.01
# The grid that it rests on is no finer and no coarser than these, mm; for large cutters a hundredth of their radius.
_FINEST, _COARSE, _COARSEST = 0.1, 0.5, 1.0
_NEARLY = 0.9  # share of the cutter's own bend from which on a hollow is looked at
_LINE = 2000  # places along a side that are looked at in one go
_ROWS = 16  # that are looked at in one go, so that they stay in cache
_TILE = (512, 192)  # cells of a grid along and across that are worked out at once, even numbers
_AT_ONCE = 4_000_000  # heights that are looked at in one go
_KEPT = 8_000_000  # heights of tiles that are kept: 64 MB

Indexes = NDArray[np.intp]


def body_of(cutter: Cutter) -> Body:
    """Return the body of a cutter.

    A disc tilted by an angle to the face sweeps R / sin(angle) along the strip (common practice); its rim stays.
    """
    if cutter.shape is CutterShape.BALL:
        return Ball(cutter.radius)
    along = cutter.radius / math.sin(math.radians(cutter.tilt))
    return Disc(along, min(cutter.edge, along))


def fine_step(radius: float) -> float:
    """Return how far places of a grid may be apart to follow a circle to half of the tolerance, mm.

    Between two places it is step^2 / (8 R) off. In a tight hollow the centre itself stands on places of the grid alone: what is
    left there is up to half a step times the slope of its walls too high.
    """
    close = math.sqrt(8.0 * radius * TOLERANCE / 2.0)
    return min(max(close, _FINEST), max(_COARSE, min(radius / 100.0, _COARSEST)))


@dataclass(frozen=True)
class Face:
    """A block of neighbouring strips as the cutter finds it on the carving board, on a grid.

    `edges` are the strips' left and right edges on the front, `laid` where these lie while carving: the same, or packed
    tight. `x` (columns,) is laid, `y` (rows,) on the front; both ends are among them. Beside the block is nothing that
    the cutter meets. Where the surface has waves that could hide between places, each place stands for `parts` by `parts`
    around it: the cutter meets the highest of them, and leaves something on the lowest.
    """

    surface: Surface
    body: Body
    strips: tuple[StripPlace, ...]
    edges: Array
    laid: Array
    x: Array
    y: Array
    parts: int = 1

    @property
    def spacing(self) -> tuple[float, float]:
        """How far places are apart in x and in y, mm."""
        return float(self.x[1] - self.x[0]), float(self.y[1] - self.y[0])

    @property
    def shape(self) -> tuple[int, int]:
        """How many rows and columns there are."""
        return len(self.y), len(self.x)

    @cached_property
    def coarser(self) -> Face:
        """The same face on every second row and column."""
        return replace(self, x=self.x[::2], y=self.y[::2])

    def on_front(self, laid: Array) -> Array:
        """Return where on the front places on the carving board are."""
        return np.interp(laid, self.laid, self.edges)

    def on_board(self, x: Array) -> Array:
        """Return where on the carving board places of the front are."""
        return np.interp(x, self.edges, self.laid)

    def designed(self, window: Window) -> Array:
        """Return the surface's own heights on some rows and columns."""
        rows, columns = window
        return self.surface.at(self.on_front(self.x[columns])[None, :], self.y[rows, None])

    def _extremes(self, window: Window) -> tuple[Array, Array]:
        """Return the lowest and the highest height around the places of some rows and columns."""
        if self.parts == 1:
            heights = self.designed(window)
            return heights, heights
        (rows, columns), many = window, self.parts
        x, y = _around(self.x, columns, many), _around(self.y, rows, many)
        low, high = (np.empty((len(y) // many, len(x) // many)) for _ in range(2))
        at_once = max(1, _AT_ONCE // (len(x) * many))
        for start in range(0, len(low), at_once):
            part = slice(start, min(start + at_once, len(low)))
            some = self.surface.at(self.on_front(x)[None, :], y[many * part.start : many * part.stop, None])
            some = some.reshape(part.stop - part.start, many, -1, many)
            low[part], high[part] = some.min(axis=(1, 3)), some.max(axis=(1, 3))
        return low, high

    def left_by_cutter(self, window: Window) -> tuple[Array, Array]:
        """Return the surface's own heights on some rows and columns, and those that the cutter leaves.

        A window's numbers are those of the whole: around it is all that the cutter could meet. Where no hollow is nearly as
        tight as the cutter, it follows the face and nothing needs to be worked out.
        """
        around = self._grown(window)
        (lowest, heights), inner = self._extremes(around), _within(window, around)
        own = lowest[inner]
        if not _tight(heights, self.body, self.spacing):
            return own, heights[inner].copy()
        beyond = [
            (min(max(more - part.start, 0), ends[0][0]), min(max(part.stop + more - size, 0), ends[1][0]))
            for part, more, size, ends in zip(window, self._around, self.shape, self._overhang, strict=True)
        ]
        falls = [(ends[0][1], ends[1][1]) for ends in self._overhang]
        rows, columns = (
            slice(part.start + before, part.stop + before) for part, (before, _) in zip(inner, beyond, strict=True)
        )
        closed = closing(_continued(heights, beyond, falls), self.body, self.spacing, (rows, columns))
        return own, np.maximum(closed, own, out=closed)

    def _grown(self, window: Window) -> Window:
        """Return a window wider by all that decides its heights, as far as the grid goes."""
        rows, columns = (
            slice(max(part.start - more, 0), min(part.stop + more, size))
            for part, more, size in zip(window, self._around, self.shape, strict=True)
        )
        return rows, columns

    @cached_property
    def _overhang(self) -> tuple[tuple[tuple[int, float], ...], ...]:
        """How far the cutter's centre overhangs each side, places, and how far the surface falls from one to the next.

        Bottom and top, left and right. On a face that falls towards its edge the centre stands beyond the edge while the
        body still touches the face. As steep as the edge is anywhere, the continued face is in the way of nothing.
        """
        falls = self._falls()
        ends = []
        for pair, step, axis in ((falls[:2], self.spacing[1], 1), (falls[2:], self.spacing[0], 0)):
            lean = [self.body.lean(fall / step, fall / step)[axis] for fall in pair]
            ends.append(tuple((math.ceil(far / step), fall) for far, fall in zip(lean, pair, strict=True)))
        return tuple(ends)

    def _falls(self) -> list[float]:
        """Return the most that the surface falls from the last but one place to the last: bottom, top, left, right."""
        rows, columns = self.shape
        falls = [0.0] * 4
        for part in _parts(columns):
            low, high = self.designed((slice(0, 2), part)), self.designed((slice(rows - 2, rows), part))
            falls[0] = max(falls[0], float((low[1] - low[0]).max()))
            falls[1] = max(falls[1], float((high[0] - high[1]).max()))
        for part in _parts(rows):
            left, right = self.designed((part, slice(0, 2))), self.designed((part, slice(columns - 2, columns)))
            falls[2] = max(falls[2], float((left[:, 1] - left[:, 0]).max()))
            falls[3] = max(falls[3], float((right[:, 0] - right[:, 1]).max()))
        return falls

    @cached_property
    def _around(self) -> tuple[int, int]:
        """How many rows and columns around a place decide its height: twice what the body reaches over all heights."""
        drop = sum(max(count * fall for count, fall in ends) for ends in self._overhang)
        reach = self.body.reach(self.surface.highest - self.surface.floor + drop)
        across, along = self.spacing
        return 2 * (math.ceil(reach[1] / along) + 1), 2 * (math.ceil(reach[0] / across) + 1)


def _around(grid: Array, part: slice, many: int) -> Array:
    """Return `many` places around each of some places of a grid, none beyond its ends."""
    beside = (np.arange(many) - (many - 1) / 2.0) * float(grid[1] - grid[0]) / many
    return np.clip((grid[part, None] + beside).ravel(), grid[0], grid[-1])


def _parts(count: int) -> Iterator[slice]:
    """Yield places in parts, so that a relief works on a small piece of its lattice."""
    for start in range(0, count, _LINE):
        yield slice(start, min(start + _LINE, count))


def _within(window: Window, around: Window) -> Window:
    """Return a window as it lies in a larger one."""
    rows, columns = (
        slice(part.start - whole.start, part.stop - whole.start) for part, whole in zip(window, around, strict=True)
    )
    return rows, columns


def _tight(heights: Array, body: Body, spacing: tuple[float, float]) -> bool:
    """Whether any place is a hollow nearly as tight as the body, or tighter.

    Where the face bends upwards less than the body everywhere, the body touches any place of it without meeting another:
    the difference of the two is convex.
    """
    across, along = spacing
    bend_x, bend_y = (_NEARLY / max(radius, 1e-3) for radius in body.extent)
    for start in range(0, len(heights) - 2, _ROWS):
        some = heights[start : start + _ROWS + 2]
        middle = 2.0 * some[1:-1, 1:-1]
        spare_x = bend_x - (some[1:-1, 2:] + some[1:-1, :-2] - middle) / across**2
        spare_y = bend_y - (some[2:, 1:-1] + some[:-2, 1:-1] - middle) / along**2
        rise = some[2:] - some[:-2]
        twist = (rise[:, 2:] - rise[:, :-2]) / (4.0 * across * along)
        if min(spare_x.min(), spare_y.min()) < 0.0 or (spare_x * spare_y < twist * twist).any():
            return True
    return False


def _continued(heights: Array, beyond: list[tuple[int, int]], falls: list[tuple[float, float]]) -> Array:
    """Return heights continued downwards beyond their sides; places and fall from one to the next, rows then columns."""
    for axis in (0, 1):
        sides = []
        for at, (count, fall) in enumerate(zip(beyond[axis], falls[axis], strict=True)):
            steps = np.arange(count, 0, -1) if at == 0 else np.arange(1, count + 1)
            edge = np.take(heights, [-at], axis=axis)
            sides.append(edge - (fall * steps).reshape((-1, 1) if axis == 0 else (1, -1)))
        heights = np.concatenate([sides[0], heights, sides[1]], axis=axis)
    return heights


def faces(job: Job, layout: Layout, surface: Surface, body: Body, spacing: tuple[float, float]) -> tuple[Face, ...]:
    """Return the face of each door on a grid whose places are at most `spacing` in x and in y apart, mm."""
    found = []
    for door in layout.doors:
        strips = layout.on_door(door)
        edges = np.array([edge for strip in strips for edge in (strip.left, strip.right)])
        laid = edges
        if job.carving.packed:
            widths = np.cumsum([0.0] + [strip.width for strip in strips])
            laid = np.repeat(widths, 2)[1:-1]
        x = _grid(float(laid[0]), float(laid[-1]), spacing[0])
        found.append(Face(surface, body, strips, edges, laid, x, _grid(door.bottom, door.top, spacing[1])))
    return tuple(found)


def _grid(first: float, last: float, step: float) -> Array:
    """Return places from `first` to `last`, both included, at most `step` apart; every second is such a grid again."""
    return np.linspace(first, last, 2 * max(2, math.ceil((last - first) / (2 * step) - 1e-9)) + 1)


def without_pulls(job: Job) -> Job:
    """Return the job without its finger pulls, which are carved with other tools than the face."""
    return job.model_copy(update={"pulls": ()}) if job.pulls else job


def reachable(job: Job, layout: Layout, surface: Surface, step: float = 0.0) -> Surface:
    """Return the surface that the job's cutter can leave, where the job asks for it; otherwise the surface itself.

    `step` is the least distance of its grid's places, mm: a sketch of it where that is more than the cutter asks for.
    """
    if not job.cutter.fit:
        return surface
    if isinstance(surface, Moved):
        return surface.of(reachable(job, layout.designed, surface.carved, step))
    face = make_surface(without_pulls(job), layout, surface) if job.pulls else surface
    return Reachable(job, layout, surface, face, step)


def designed_of(surface: Surface) -> Surface:
    """Return a surface as designed, before it was raised to what a cutter can leave."""
    if isinstance(surface, Moved):
        return surface.of(designed_of(surface.carved))
    return surface.designed if isinstance(surface, Reachable) else surface


@dataclass(frozen=True)
class _Raised:
    """Places of a face that the cutter leaves higher than designed: the first row and column, and heights from there on."""

    row: int
    column: int
    heights: Array


class Reachable(Surface):
    """A surface raised to what the cutter can leave.

    It depends on the design alone: the grid that it rests on has a step of its own, which follows from the cutter.
    It is nowhere below the designed surface, and where the cutter follows that to within the tolerance it is the same.
    Tiles of the grid are worked out when they are asked for; their numbers are those of the whole.
    """

    def __init__(self, job: Job, layout: Layout, designed: Surface, face: Surface, step: float = 0.0) -> None:
        """`face` is the designed surface without its pulls; places of the grid are at least `step` mm apart."""
        self.designed = designed
        self.fitted, self.floor, self.highest = designed.fitted, designed.floor, designed.highest
        self.shortest = designed.shortest
        self._face = face
        body = body_of(job.cutter)
        across, along = body.extent
        self._faces = faces(job, layout, face, body, (max(fine_step(across), step), max(fine_step(along), step)))
        self._tiles: OrderedDict[tuple[int, int, int], _Raised | None] = OrderedDict()

    def wanted(self, x: Array, y: Array) -> Array:
        return self.designed.wanted(x, y)

    def at(self, x: Array, y: Array) -> Array:
        if self._face is self.designed:
            return self._raised(self.designed.at(x, y), x, y)
        z, designed = both_at(self._face, self.designed, x, y)
        # Pulls go into the raised face as deep as they went into the designed one.
        pulled = designed + (self._raised(z.copy(), x, y) - z)
        return np.clip(pulled, self.floor, self.highest, out=pulled)

    def _raised(self, z: Array, x: Array, y: Array) -> Array:
        """Return heights at (x, y), written over, raised to what the cutter leaves of all faces."""
        for number, face in enumerate(self._faces):
            self._raise(z, number, face, x, y)
        return z

    def _raise(self, z: Array, number: int, face: Face, x: Array, y: Array) -> None:
        """Raise heights at (x, y) to what the cutter leaves of one face."""
        for (i, j), place, column, row in _tiles_of(face, x, y):
            raised = self._tile(number, i, j)
            if raised is not None:
                z[place] = np.maximum(z[place], _between(raised.heights, column - raised.column, row - raised.row))

    def _tile(self, number: int, row: int, column: int) -> _Raised | None:
        """Return what the cutter leaves of a tile, None where that is nowhere above the face."""
        key = (number, row, column)
        if key not in self._tiles:
            self._tiles[key] = _raised(self._faces[number], row, column)
            while sum(kept.heights.size for kept in self._tiles.values() if kept) > _KEPT and len(self._tiles) > 1:
                self._tiles.popitem(last=False)
        self._tiles.move_to_end(key)
        return self._tiles[key]


def _raised(face: Face, row: int, column: int) -> _Raised | None:
    """Return the part of a tile where the cutter leaves more than the tolerance, less the tolerance.

    Where that is, is first looked for on every second row and column.
    """
    rough = face.coarser
    sketch = [
        slice(index * cells // 2, min((index + 1) * cells // 2 + 1, size))
        for index, cells, size in zip((row, column), _TILE, rough.shape, strict=True)
    ]
    own, closed = rough.left_by_cutter((sketch[0], sketch[1]))
    above = closed - own > TOLERANCE
    if not above.any():
        return None
    rows, columns = (
        _around_marks(np.flatnonzero(above.any(axis=axis)), part) for axis, part in ((1, sketch[0]), (0, sketch[1]))
    )
    own, closed = face.left_by_cutter((rows, columns))
    closed -= TOLERANCE
    return _Raised(rows.start, columns.start, closed)


def _around_marks(marks: Indexes, part: slice) -> slice:
    """Return the places from one mark before the first to one after the last; two places to a mark, marks counted in a part."""
    first = max(part.start + int(marks[0]) - 1, part.start)
    last = min(part.start + int(marks[-1]) + 1, part.stop - 1)
    return slice(2 * first, 2 * last + 1)


def _tiles_of(face: Face, x: Array, y: Array) -> Iterator[tuple[tuple[int, int], Any, Array, Array]]:
    """Yield the tiles of a face that places lie in: row and column of the tile, an index of the places, where on the grid.

    The grid's columns and rows broadcast together to the shape of what the index picks.
    """
    if x.ndim == y.ndim == 2 and x.shape[0] == 1 and y.shape[1] == 1:
        column, row = _column(face, x[0]), _on_grid(y[:, 0], face.y)
        for i, some in _by_tile(row // _TILE[0]):
            for j, others in _by_tile(column // _TILE[1]):
                yield (i, j), np.ix_(some, others), column[None, others], row[some, None]
        return
    shape = np.broadcast_shapes(x.shape, y.shape)
    column, row = _column(face, np.broadcast_to(x, shape)), _on_grid(np.broadcast_to(y, shape), face.y)
    for i, _ in _by_tile(row // _TILE[0]):
        for j, _ in _by_tile(column // _TILE[1]):
            place = (row // _TILE[0] == i) & (column // _TILE[1] == j)
            if place.any():
                yield (i, j), place, column[place], row[place]


def _column(face: Face, x: Array) -> Array:
    """Return places across the front counted in columns of a face; nan where they are beside it."""
    column = _on_grid(face.on_board(x), face.x)
    column[(x < face.edges[0] - 1e-9) | (x > face.edges[-1] + 1e-9)] = np.nan
    return column


def _by_tile(tile: Array) -> Iterator[tuple[int, Indexes]]:
    """Yield the tiles that are named, and which places name them; nan names none."""
    for number in np.unique(tile[~np.isnan(tile)]).tolist():
        yield int(number), np.flatnonzero(tile == number)


def _on_grid(place: Array, grid: Array) -> Array:
    """Return places counted in steps of an even grid, a hair less than its last; nan where they are beyond its ends."""
    last = len(grid) - 1
    counted: Array = (place - grid[0]) / (grid[1] - grid[0])
    beyond = (counted < -1e-9) | (counted > last + 1e-9)
    np.clip(counted, 0.0, np.nextafter(float(last), 0.0), out=counted)
    counted[beyond] = np.nan
    return counted


def _between(heights: Array, column: Array, row: Array) -> Array:
    """Return heights between the four places around each, in straight lines, rounded as every height is.

    Beyond the heights it is minus infinity.
    """
    rows, columns = heights.shape
    i, j = np.floor(row).astype(np.intp), np.floor(column).astype(np.intp)
    inside = (i >= 0) & (i < rows - 1) & (j >= 0) & (j < columns - 1)
    up, right = row - i, column - j
    i, j = np.clip(i, 0, rows - 2), np.clip(j, 0, columns - 2)
    below = heights[i, j] + right * (heights[i, j + 1] - heights[i, j])
    above = heights[i + 1, j] + right * (heights[i + 1, j + 1] - heights[i + 1, j])
    between: Array = below + up * (above - below)
    between *= GRAIN
    np.rint(between, out=between)
    between /= GRAIN
    between[~inside] = -np.inf
    return between
