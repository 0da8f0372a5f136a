"""How far a cutter may come down: the height of its tip where it first touches the ground, without cutting below it."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Protocol

import numpy as np
from numpy.typing import NDArray

from facade.arrays import Array
from facade.cnc.ground import Ground

# A path that turns up by more than this, mm in a mm from one row or line to the next, has a kink.
_KINK = 0.1
# Steps of Newton's method; and how little may stand below its line.
_STEPS, _TIGHT = 2, 0.3
# A point of contact that moved further than this, mm, in the last step is looked for further.
_STILL = 0.1
_BULGE = 0.0005  # mm that a path may stand above its chord
_BAND = 24_000  # heights that are worked on at once, so that they stay in cache


class Tool(Protocol):
    """A turning cutter, as its underside is above its tip."""

    @property
    def radius(self) -> float:
        """Radius of the cutter, mm."""

    def rise(self, square: Array) -> Array:
        """Return how far the underside is above the tip, mm, by the square of the distance from its middle; inf beside it."""

    def reach(self, slope: float) -> float:
        """Return how far from its middle the cutter may touch ground that is nowhere steeper than `slope`, mm."""


@dataclass(frozen=True)
class BallEnd:
    """A ball-ended cutter: R - sqrt(R^2 - d^2) above its tip at the distance d (plane geometry)."""

    radius: float

    def rise(self, square: Array) -> Array:
        with np.errstate(invalid="ignore"):
            root = np.sqrt(self.radius * self.radius - square)
        return np.where(np.isnan(root), np.inf, self.radius - root)

    def reach(self, slope: float) -> float:
        return self.radius * slope / math.hypot(1.0, slope)


@dataclass(frozen=True)
class FlatEnd:
    """A straight cutter with a flat end."""

    radius: float

    def rise(self, square: Array) -> Array:
        return np.where(square <= self.radius * self.radius + 1e-9, 0.0, np.inf)

    def reach(self, slope: float) -> float:
        return self.radius


def tip_heights(ground: Ground, tool: Tool, at: Array) -> Array:
    """Return the least tip heights (passes, rows) of a cutter on the lines x = `at` (passes,), at the ground's rows.

    First the places of the grid are tried, as a grey dilation does (J. Serra, "Image Analysis and Mathematical Morphology",
    1982), none left out that could touch. Then a ball's true point of contact is looked at: it lies where the ground is as steep as the
    ball, and the ball's own path is as steep there.
    """
    tips = np.concatenate([_touching(ground, tool, some) for some in _bands(ground, at)])
    if isinstance(tool, BallEnd):
        if len(at) > 1:
            most = tips + _missed(ground, tool, at, tips)
            for first, last in _spans(len(at), len(ground.y)):
                _refine(ground, tool, at, tips, first, last, most)
            _refine_kinks(ground, tool, at, tips, most)
        if ground.edges is not None:
            _clear_edges(ground, tool, at, tips)
    return tips


def _clear_edges(ground: Ground, tool: BallEnd, at: Array, tips: Array) -> None:
    """Raise the tips to what places on edges ask for, which lie between those of the grid."""
    assert ground.edges is not None
    order = np.argsort(at, kind="stable")
    lines = at[order]
    along, first = ground.spacing[1], float(ground.y[0])
    reach = min(tool.reach(ground.steepest) + along, tool.radius)
    square, flat, rows = tool.radius * tool.radius, tips.reshape(-1), tips.shape[1]
    x, y, z = ground.edges[(ground.edges[:, 0] >= lines[0] - reach) & (ground.edges[:, 0] <= lines[-1] + reach)].T
    start, stop = np.searchsorted(lines, x - reach), np.searchsorted(lines, x + reach)
    nearest = np.rint((y - first) / along).astype(np.intp)
    tall = math.ceil(reach / along)
    # For each place and one of the lines near it: which, the index of the line's first row, and the room that is left aside.
    beside = []
    for k in range(int((stop - start).max(initial=0))):
        some = np.flatnonzero(start + k < stop)
        line = start[some] + k
        beside.append((some, order[line] * rows, square - (lines[line] - x[some]) ** 2))
    for i in range(-tall, tall + 1):
        row = nearest + i
        ahead = (first + row * along - y) ** 2
        ahead[(row < 0) | (row >= rows)] = np.inf
        for some, line, aside in beside:
            room = aside - ahead[some]
            near = np.flatnonzero(room > square - reach * reach)
            places = some[near]
            index = line[near] + row[places]
            asked = z[places] + np.sqrt(room[near]) - tool.radius
            # Where the surface is smooth hardly any place asks for more than the grid did.
            more = asked > flat[index]
            np.maximum.at(flat, index[more], asked[more])


def lifted_between(ground: Ground, tool: BallEnd, tips: Array) -> Array:
    """Return tips raised where the ball's path bulges between two rows, so that straight moves from row to row cut nothing off it.

    The path is nowhere rounder than the ball: over a step h it stands at most h^2 (1 + m^2)^1.5 / (8 R) above its chord.
    """
    step = ground.spacing[1]
    bulge = np.zeros_like(tips)
    np.maximum(2.0 * tips[:, 1:-1] - tips[:, :-2] - tips[:, 2:], 0.0, out=bulge[:, 1:-1])
    slope = np.diff(tips, axis=1) / step
    most = step * step * (1.0 + slope * slope) ** 1.5 / (8.0 * tool.radius)
    above = np.maximum(np.minimum((bulge[:, :-1] + bulge[:, 1:]) / 8.0, most) - _BULGE, 0.0)
    raised = np.zeros_like(tips)
    raised[:, :-1] = above
    np.maximum(raised[:, 1:], above, out=raised[:, 1:])
    return tips + raised


def _spans(count: int, rows: int) -> list[tuple[int, int]]:
    size = max(1, _BAND * 4 // rows)
    return [(start, min(start + size, count)) for start in range(0, count, size)]


def _bands(ground: Ground, at: Array) -> list[Array]:
    size = max(1, _BAND // len(ground.y))
    return [at[start : start + size] for start in range(0, len(at), size)]


def _touching(ground: Ground, tool: Tool, at: Array) -> Array:
    """Return the tip heights that the places of the grid ask for."""
    across, along = ground.spacing
    columns, rows = len(ground.x), len(ground.y)
    nearest = np.rint((at - ground.x[0]) / across).astype(np.intp)
    # A flat end touches with its rim, between two places: it counts as so much wider.
    grown = 0.0 if isinstance(tool, BallEnd) else math.hypot(across, along) / 2
    right, left, up, down = (reach + grown for reach in _reaches(ground, tool, nearest))
    by_column = ground.heights.T
    tips = np.full((len(at), rows), -np.inf)
    pair = np.empty((len(at), rows))
    for j in range(-math.ceil(left / across) - 1, math.ceil(right / across) + 2):
        column = nearest + j
        inside = (column >= 0) & (column < columns)
        beside = ground.x[np.clip(column, 0, columns - 1)] - at
        if not (inside & (beside <= right) & (beside >= -left)).any():
            continue
        heights = by_column[np.clip(column, 0, columns - 1)]
        for i in range(math.floor(max(up, down) / along + 1e-9) + 1):
            square = np.maximum(np.hypot(beside, i * along) - grown, 0.0) ** 2
            below = np.where(inside, -tool.rise(square), -np.inf)
            if not np.isfinite(below).any():
                continue
            if i == 0:
                np.maximum(tips, heights + below[:, None], out=tips)
                continue
            some = pair[:, : rows - i]
            if i * along <= up + 1e-9:
                np.add(heights[:, i:], below[:, None], out=some)
                np.maximum(tips[:, : rows - i], some, out=tips[:, : rows - i])
            if i * along <= down + 1e-9:
                np.add(heights[:, : rows - i], below[:, None], out=some)
                np.maximum(tips[:, i:], some, out=tips[:, i:])
    return tips


def _reaches(ground: Ground, tool: Tool, nearest: NDArray[np.intp]) -> tuple[float, float, float, float]:
    """Return how far right, left, up and down of lines near some columns places of the grid may touch a cutter, mm.

    From one place to the next towards the line the underside comes down by more than the ground does, once it is as steep: then the nearer
    place asks for no less. So a place may touch no further away than where they are equally steep, and a step more.
    """
    near = math.ceil(tool.radius / ground.spacing[0]) + 2
    first, after = max(int(nearest.min()) - near, 0), int(nearest.max()) + near + 1
    steps = (*ground.spacing[:1] * 2, *ground.spacing[1:] * 2)
    steepest = (float(rise[first:after].max()) for rise in ground.rises)
    right, left, up, down = (
        min(tool.reach(slope) + step, tool.radius) for slope, step in zip(steepest, steps, strict=True)
    )
    return right, left, up, down


def _refine(ground: Ground, tool: BallEnd, at: Array, tips: Array, first: int, last: int, most: Array) -> None:
    """Raise the tips of some passes to the ball's true point of contact.

    It lies R m / sqrt(1 + m^2) from its middle where the ground has the slope m. It is looked for in two ways: the ball's own path is
    as steep, and from under its middle the ground itself leads there. What stands there is read off the nearest place of the grid
    with its slopes and bends. A point that is a hair off gives a height that is too low by the square of it, never too high. No tip comes
    above `most`: where the ground has an edge, the nearest place tells nothing.
    """
    along = ground.spacing[1]
    before, after = max(first - 1, 0), min(last + 1, len(at))
    middle = (at[first:last, None], ground.y[None, :])
    path = np.gradient(tips[before:after], at[before:after], axis=0)[first - before : last - before]
    rise_y = np.gradient(tips[first:last], along, axis=1)
    lean = _lean(tool, path, rise_y)
    square = tool.radius * tool.radius
    under = _contact(ground, tool, *middle, np.zeros_like(path), np.zeros_like(path))
    for right, up in ((lean * path, lean * rise_y), under):
        stands = _read_off(ground, *_nearest(ground, middle[0] + right, middle[1] + up))
        below = np.sqrt(np.maximum(square - right * right - up * up, 0.0)) - tool.radius
        np.maximum(tips[first:last], np.minimum(stands + below, most[first:last]), out=tips[first:last])


def _missed(ground: Ground, tool: BallEnd, at: Array, tips: Array) -> Array:
    """Return how much too low the places of a grid may leave a ball, whose path is `tips` (passes, rows) by them, mm.

    It touches no further from a place than half the diagonal of a cell, d, where the ground is as steep as its path. Where that is m the
    ball's underside bends upwards by (1 + m^2)^1.5 / R at most, and ground that is round like the ball as much downwards: together
    d^2 (1 + m^2)^1.5 / R (plane geometry).
    """
    across, along = ground.spacing
    steep = (
        1.0 + _steeper(np.diff(tips, axis=0) / np.diff(at)[:, None]) + _steeper(np.diff(tips, axis=1) / along, axis=1)
    )
    return np.asarray((across * across + along * along) / 4.0 / tool.radius * steep * np.sqrt(steep))


def _steeper(slopes: Array, *, axis: int = 0) -> Array:
    """Return the square of the steeper of both slopes beside each place, one more along the axis than slopes."""
    square = np.moveaxis(slopes * slopes, axis, 0)
    found = np.concatenate([square, square[-1:]])
    np.maximum(found[1:], square, out=found[1:])
    return np.moveaxis(found, 0, axis)


def _refine_kinks(ground: Ground, tool: BallEnd, at: Array, tips: Array, most: Array) -> None:
    """Raise tips where the ball's path has a hollow kink: there it touches at two places, of which slopes over the kink tell neither.

    The slopes on either side of the kink, both ways, lead near them; Newton's method goes on from there. `most` as in `_refine`.
    """
    along = ground.spacing[1]
    across = np.diff(at)[:, None]
    if len(at) < 3 or float(across.min()) <= 0.0:
        return
    by_line, by_row = np.diff(tips, axis=0) / across, np.diff(tips, axis=1) / along
    turn = np.zeros_like(tips)
    turn[1:-1] = np.diff(by_line, axis=0)
    turn[:, 1:-1] = np.maximum(turn[:, 1:-1], np.diff(by_row, axis=1))
    line, row = np.nonzero(turn > _KINK)
    if not len(line):
        return
    x, y = at[line], ground.y[row]
    square, found = tool.radius * tool.radius, tips[line, row]
    for beside in (-1, 0):
        slope_x = by_line[np.clip(line + beside, 0, len(at) - 2), row]
        for above in (-1, 0):
            slope_y = by_row[line, np.clip(row + above, 0, tips.shape[1] - 2)]
            lean = _lean(tool, slope_x, slope_y)
            right, up = _contact(ground, tool, x, y, lean * slope_x, lean * slope_y)
            stands = _read_off(ground, *_nearest(ground, x + right, y + up))
            below = np.sqrt(np.maximum(square - right * right - up * up, 0.0)) - tool.radius
            np.maximum(found, np.minimum(stands + below, most[line, row]), out=found)
    tips[line, row] = found


def _lean(tool: BallEnd, rise_x: Array, rise_y: Array) -> Array:
    """Return how far below a ball's centre it touches ground of these slopes, mm."""
    return np.asarray(tool.radius / np.sqrt(1.0 + rise_x * rise_x + rise_y * rise_y))


def _contact(ground: Ground, tool: BallEnd, x: Array, y: Array, right: Array, up: Array) -> tuple[Array, Array]:
    """Return how far right and up of its middle a ball above (x, y) touches the ground, looked for from so far right and up.

    There the ground's slope s leads to the contact R s / sqrt(1 + s^2); Newton's method, with the ground's bends, for on a ridge
    that is tighter than the ball plain steps would lead ever further away.
    """
    for _ in range(_STEPS):
        more_right, more_up = _newton(ground, tool, x, y, right, up)
        right, up = right + more_right, up + more_up
    far = np.nonzero((np.abs(more_right) > _STILL) | (np.abs(more_up) > _STILL))
    if len(far[0]):
        x, y = (np.broadcast_to(some, right.shape)[far] for some in (x, y))
        for _ in range(_STEPS):
            more_right, more_up = _newton(ground, tool, x, y, right[far], up[far])
            right[far] += more_right
            up[far] += more_up
    return right, up


def _newton(ground: Ground, tool: BallEnd, x: Array, y: Array, right: Array, up: Array) -> tuple[Array, Array]:
    """Return by how much a step of Newton's method brings a point of contact further right and up."""
    flat, beside, above = _nearest(ground, x + right, y + up)
    slope_x, slope_y = _slopes_off(ground, flat, beside, above)
    bend_x, bend_y, twist = (np.take(some, flat) for some in ground.bends)
    lean = _lean(tool, slope_x, slope_y)
    off_x, off_y = lean * slope_x - right, lean * slope_y - up
    along_x, along_y, across = 1.0 - lean * bend_x, 1.0 - lean * bend_y, lean * twist
    # In a hollow as tight as the ball there is no one place of contact: no wild steps.
    share = 1.0 / np.maximum(along_x * along_y - across * across, _TIGHT)
    return (
        np.clip(share * (along_y * off_x + across * off_y), -tool.radius, tool.radius),
        np.clip(share * (along_x * off_y + across * off_x), -tool.radius, tool.radius),
    )


Near = tuple[NDArray[np.intp], Array, Array]
"""The places of a grid next to some, counted through, and how far right and up of them these are, mm."""


def _nearest(ground: Ground, x: Array, y: Array) -> Near:
    across, along = ground.spacing
    column, row = (x - ground.x[0]) / across, (y - ground.y[0]) / along
    j = np.clip(np.rint(column), 1, len(ground.x) - 2)
    i = np.clip(np.rint(row), 1, len(ground.y) - 2)
    flat = (i * len(ground.x) + j).astype(np.intp)
    return flat, np.broadcast_to((column - j) * across, flat.shape), np.broadcast_to((row - i) * along, flat.shape)


def _slopes_off(ground: Ground, flat: NDArray[np.intp], right: Array, up: Array) -> tuple[Array, Array]:
    """Return the ground's slopes beside places of its grid, from slopes and bends there."""
    slope_x, slope_y = (np.take(some, flat) for some in ground.slopes)
    bend_x, bend_y, twist = (np.take(some, flat) for some in ground.bends)
    return slope_x + right * bend_x + up * twist, slope_y + up * bend_y + right * twist


def _read_off(ground: Ground, flat: NDArray[np.intp], right: Array, up: Array) -> Array:
    """Return the ground's height beside places of its grid, from slopes and bends there."""
    slope_x, slope_y = (np.take(some, flat) for some in ground.slopes)
    bend_x, bend_y, twist = (np.take(some, flat) for some in ground.bends)
    height: Array = np.take(ground.heights, flat)
    height += right * (slope_x + 0.5 * right * bend_x + up * twist) + up * (slope_y + 0.5 * up * bend_y)
    return height
