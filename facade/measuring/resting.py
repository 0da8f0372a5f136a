"""What a cutter leaves at one place, to a few hundredths of a millimetre: how low it can rest over it, wherever its centre stands.

On a grid the centre stands on places of the grid alone, which in a tight hollow overstates what is left by up to half a step
times the slope of its walls. Here the centre is free, and the surface is looked at as finely as it asks for.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from facade.arrays import Array
from facade.closing import Body
from facade.measuring.close import PLACES_PER_WAVE
from facade.reach import Face

# The surface around a place is looked at so many times more finely than the grid; of so many places each way only the highest
# is met until the centre is found.
_FINER, _TOGETHER = 2.0, 4
_MOST = 250_000  # places that are looked at around one
_FEW = 60_000  # where even that many would be far too few to show every wave
# Centres are tried on a square of 5 each way, then on ever smaller ones of 3 around the best, down to a size, mm.
_SHRINK, _CLOSE = 0.5, 0.03
_FIRST, _THEN, _MIDDLE = (
    np.stack(np.meshgrid(ticks, ticks), axis=-1).reshape(-1, 2)
    for ticks in (np.linspace(-1.0, 1.0, 5), np.linspace(-1.0, 1.0, 3), np.zeros(1))
)
# Where a centre is moved the body comes closer to what it meets by so many times as much at most; steeper walls are not met.
_STEEPEST = 4.0
_DROP = 3.0  # mm; a centre from which the ground falls further is not tried
_HARDLY = 0.02  # mm; another spot that is worse by less is not looked at


@dataclass(frozen=True)
class Rest:
    """How much a cutter leaves at a place, mm; x on the carving board, y on the front."""

    height: float
    x: float
    y: float


@dataclass(frozen=True)
class _Ground:
    """The surface on an even grid around a place: x (columns,), y (rows,), heights (rows, columns)."""

    x: Array
    y: Array
    heights: Array

    @cached_property
    def every(self) -> tuple[Array, Array, Array]:
        """All places: x, y and height."""
        x, y = np.broadcast_arrays(self.x[None, :], self.y[:, None])
        return x.ravel(), y.ravel(), self.heights.ravel()

    @cached_property
    def tops(self) -> tuple[Array, Array, Array]:
        """The highest of every few neighbours: x, y and height."""
        rows, columns = (-(-size // _TOGETHER) for size in self.heights.shape)
        padded = np.full((rows * _TOGETHER, columns * _TOGETHER), -np.inf)
        padded[: self.heights.shape[0], : self.heights.shape[1]] = self.heights
        few = padded.reshape(rows, _TOGETHER, columns, _TOGETHER).swapaxes(1, 2).reshape(rows, columns, -1)
        row, column = np.divmod(few.argmax(axis=2), _TOGETHER)
        row += np.arange(rows)[:, None] * _TOGETHER
        column += np.arange(columns) * _TOGETHER
        return self.x[column].ravel(), self.y[row].ravel(), few.max(axis=2).ravel()

    def around(self, x: float, y: float, reach: tuple[float, float], wood: tuple[float, float]) -> _Ground:
        """Return the part within a reach of a place, on the wood between two places across."""
        low, high = max(x - reach[0], wood[0]), min(x + reach[0], wood[1])
        columns = (self.x >= low - 1e-9) & (self.x <= high + 1e-9)
        columns[int(np.abs(self.x - x).argmin())] = True
        rows = np.abs(self.y - y) <= reach[1] + 1e-9
        rows[int(np.abs(self.y - y).argmin())] = True
        return _Ground(self.x[columns], self.y[rows], self.heights[np.ix_(rows, columns)])


def rest_near(face: Face, x: float, y: float, left: float, wood: tuple[float, float]) -> Rest:
    """Return how much the cutter leaves at the worst place within a step of (x, y), on the wood between two places across.

    `left` is what a grid shows there: about as much, or more.
    """
    ground = _ground(face, x, y, left)
    near = ground.around(x, y, face.spacing, wood).every
    lowest = int(near[2].argmin())
    reach = face.body.reach(left + min(_DROP, float(near[2].max() - ground.heights.min())))
    known = np.full(len(near[0]), np.inf)
    found = []
    spot = lowest
    for _ in range(2):
        centre = _best_centre(face.body, ground, (float(near[0][spot]), float(near[1][spot])), reach)
        np.minimum(known, _above(face.body, ground.every, centre, near[0], near[1]) - near[2], out=known)
        found.append(Rest(float(known[spot]), float(near[0][spot]), float(near[1][spot])))
        worst = int(known.argmax())
        if known[worst] - known[spot] < _HARDLY:
            break
        spot = worst
    return max(found, key=lambda rest: rest.height)


def _ground(face: Face, x: float, y: float, left: float) -> _Ground:
    """Return the surface as far around a place as the cutter could meet it."""
    # Its centre stands no further off than it has risen by what is left and what the ground drops beside the place.
    deep = face.surface.highest - face.surface.floor
    aside = face.body.reach(min(left + _DROP, deep))
    reach = [far + more for far, more in zip(face.body.reach(deep), aside, strict=True)]
    fine = face.surface.shortest / PLACES_PER_WAVE / 2.0
    steps = [min(step / _FINER, fine) for step in face.spacing]
    most = _MOST if 2.0 * fine >= 2.0 * max(reach) / math.sqrt(_MOST) else _FEW
    steps = [max(step, 2.0 * far / math.sqrt(most)) for step, far in zip(steps, reach, strict=True)]
    across, along = (
        _places(max(place - far, float(grid[0])), min(place + far, float(grid[-1])), step)
        for place, far, grid, step in zip((x, y), reach, (face.x, face.y), steps, strict=True)
    )
    return _Ground(across, along, face.surface.at(face.on_front(across)[None, :], along[:, None]))


def _places(first: float, last: float, step: float) -> Array:
    return np.linspace(first, last, max(1, math.ceil((last - first) / step)) + 1)


def _best_centre(
    body: Body, ground: _Ground, spot: tuple[float, float], reach: tuple[float, float]
) -> tuple[float, float]:
    """Return from where, beside a spot, the body touches lowest over it: met by tops alone at first, by all of the ground then."""
    rough = _closed_in(body, ground.tops, spot, spot, (reach[0], reach[1]), _FIRST)
    around = (
        min(_TOGETHER * float(ground.x[1] - ground.x[0]), reach[0]),
        min(_TOGETHER * float(ground.y[1] - ground.y[0]), reach[1]),
    )
    return _closed_in(body, ground.every, spot, rough, around, _MIDDLE)


def _closed_in(
    body: Body,
    met: tuple[Array, Array, Array],
    spot: tuple[float, float],
    best: tuple[float, float],
    sizes: tuple[float, float],
    square: Array,
) -> tuple[float, float]:
    """Return the best centre on ever smaller squares around one; what is too far off to be met from these is left out."""
    while max(sizes) > _CLOSE:
        x, y = (best[axis] + sizes[axis] * square[:, axis] for axis in (0, 1))
        tips, nearly = _tips(body, met, x, y, _STEEPEST * max(sizes))
        met = (met[0][nearly], met[1][nearly], met[2][nearly])
        which = int(_beneath(body, tips, spot[0] - x, spot[1] - y).argmin())
        best = float(x[which]), float(y[which])
        # The middle alone only tells what can be met; squares begin after it.
        sizes = sizes if square is _MIDDLE else (sizes[0] * _SHRINK, sizes[1] * _SHRINK)
        square = _THEN
    return best


def _tips(
    body: Body, met: tuple[Array, Array, Array], x: Array, y: Array, margin: float = 0.0
) -> tuple[Array, NDArray[np.bool_]]:
    """Return how high the body's centre is when it rests over each of some places (n,), and what it meets there to within a margin."""
    touching = met[2] + body.below(met[0] - x[:, None], met[1] - y[:, None])
    tips: Array = touching.max(axis=1)
    nearly: NDArray[np.bool_] = np.any(touching >= tips[:, None] - margin, axis=0)
    return tips, nearly


def _above(body: Body, met: tuple[Array, Array, Array], centre: tuple[float, float], x: Array, y: Array) -> Array:
    """Return how high the body's underside is over some places (n,) when it rests over a centre; inf beside it."""
    tip = _tips(body, met, np.array([centre[0]]), np.array([centre[1]]))[0][0]
    return _beneath(body, np.broadcast_to(tip, x.shape), x - centre[0], y - centre[1])


def _beneath(body: Body, centre: Array, x: Array, y: Array) -> Array:
    """Return how high a body's underside is (x, y) mm beside its centre, whose height is given; inf beside the body, or off the face."""
    below = body.below(x, y)
    beneath: Array = np.full(below.shape, np.inf)
    np.subtract(centre, below, out=beneath, where=np.isfinite(below) & np.isfinite(centre))
    return beneath
