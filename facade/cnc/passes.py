"""Where the passes of a ball run along a strip, so that the ridges between them stay as low as is wanted."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from facade.arrays import Array
from facade.cnc.ground import Ground

# However flat the ground, passes are no further apart than this share of the radius; and no nearer than this, mm.
_WIDEST, _NARROWEST = 1.0, 0.05
# A hollow nearly as tight as the ball is followed as if it were so much wider.
_TIGHTEST = 0.15
_HAIR = 1e-9


def scallop(radius: float, step: float) -> float:
    """Return the height of the ridge between two passes of a ball on level ground: R - sqrt(R^2 - s^2 / 4) (plane geometry)."""
    return radius - math.sqrt(max(radius * radius - step * step / 4.0, 0.0))


def step_for(radius: float, height: float) -> float:
    """Return how far apart passes may be for a ridge of this height on level ground: 2 sqrt(2 R h - h^2) (plane geometry)."""
    return 2.0 * math.sqrt(max(2.0 * radius * height - height * height, 0.0))


def bend_between(radius: float, slope_x: Array, slope_y: Array, bend_x: Array) -> Array:
    """Return the curvature, 1/mm, that takes the place of 1/R in a ridge's height on a slope and a curve, passes running along y.

    Across its passes a ball that climbs by fy cuts an ellipse; where the ground leans by fx that bends by
    e = (1 + fx^2 + fy^2)^1.5 / ((1 + fy^2) R). Ground that bends itself brings the passes' points of contact together or apart:
    with the passes s apart, the ridge stands s^2 / 8 times e / (1 - fxx / e) above the ground (plane geometry).
    """
    along = 1.0 + slope_y * slope_y
    own = (along + slope_x * slope_x) ** 1.5 / (along * radius)
    bend: Array = own / np.maximum(1.0 - bend_x / own, _TIGHTEST)
    return bend


@dataclass(frozen=True)
class Passes:
    """The lines x (passes,) that a ball runs along, and the greatest ridge that is to be expected between them, mm."""

    at: Array
    scallop: float


def passes_over(
    ground: Ground,
    left: float,
    right: float,
    radius: float,
    *,
    wanted: float,
    step: float | None,
    length: float = math.inf,
) -> Passes:
    """Return the passes over a strip from `left` to `right`, with ridges as `wanted` or `step` mm apart.

    The outermost passes are those that touch the strip's edges where the ground falls most steeply over them. What ridges a `step` leaves
    is told of the strip, `length` mm long from 0 on: not of the ground that runs out beyond it.
    """
    middle, bend = _centres(ground, left, right, radius)
    first, last = float(middle.min()), float(middle.max())
    if step is not None:
        count = max(1, math.ceil((last - first) / step - 1e-9))
        apart = (last - first) / count
        rows = (ground.y >= -_HAIR) & (ground.y <= length + _HAIR)
        most = float(bend[rows, 1:-1].max())
        return Passes(np.linspace(first, last, count + 1), scallop(1.0 / most, apart))
    places, widths = _widths(middle, bend, radius, wanted)
    done = np.concatenate([[0.0], np.cumsum(np.diff(places) / np.minimum(widths[:-1], widths[1:]))])
    count = max(1, math.ceil(float(done[-1]) - 1e-9))
    return Passes(np.interp(np.linspace(0.0, done[-1], count + 1), done, places), wanted)


def _centres(ground: Ground, left: float, right: float, radius: float) -> tuple[Array, Array]:
    """Return where the ball's middle is across the strip while it touches each place of it, and the ridges' bend there."""
    first, last = np.searchsorted(ground.x, [left - _HAIR, right + _HAIR])
    columns = slice(max(int(first) - 1, 0), min(int(last) + 1, len(ground.x)))
    slope_x, slope_y = (some[:, columns] for some in ground.slopes)
    x = np.clip(ground.x[columns], left, right)
    lean = slope_x / np.sqrt(1.0 + slope_x * slope_x + slope_y * slope_y)
    return x[None, :] - radius * lean, bend_between(radius, slope_x, slope_y, ground.bends[0][:, columns])


def _widths(middle: Array, bend: Array, radius: float, wanted: float) -> tuple[Array, Array]:
    """Return places across the strip, and how far apart passes may be there, by the worst place along each."""
    first, last = float(middle.min()), float(middle.max())
    count = max(2, math.ceil((last - first) / 0.5))
    cell = np.clip(((middle - first) / (last - first + 1e-12) * count).astype(np.intp), 0, count - 1)
    worst = np.zeros(count)
    np.maximum.at(worst, cell.ravel(), bend.ravel())
    worst[worst == 0.0] = worst.max()
    # A place between two cells is held to the worse of them.
    worst = np.maximum(np.append(worst, worst[-1]), np.insert(worst, 0, worst[0]))
    widths = np.array([step_for(1.0 / one, wanted) if one * wanted < 1.0 else 0.0 for one in worst.tolist()])
    return np.linspace(first, last, count + 1), np.clip(widths, _NARROWEST, _WIDEST * radius)
