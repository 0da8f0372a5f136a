"""The array type that passes between the rooms, and the smooth joins that shapes are made with."""

from __future__ import annotations

from typing import TypeAlias

import numpy as np
from numpy.typing import NDArray

Array: TypeAlias = NDArray[np.float64]


def smooth_step(t: Array) -> Array:
    """Rise from 0 at t <= 0 to 1 at t >= 1 with level first and second derivatives at both ends.

    6t^5 - 15t^4 + 10t^3, from K. Perlin, "Improving Noise", ACM TOG 21(3), 2002.
    """
    t = np.clip(t, 0.0, 1.0)
    rise: Array = t * t * t * (t * (t * 6.0 - 15.0) + 10.0)
    return rise


def smooth_minimum(a: Array, b: Array | float, radius: float) -> Array:
    """Return the lower of a and b, rounded where they cross; never above either.

    Within `radius` of the crossing the result is a parabola, at most radius / 4 lower.
    """
    near = np.maximum(radius - np.abs(a - b), 0.0)
    low: Array = np.minimum(a, b) - near * near / (4.0 * radius)
    return low


def smooth_maximum(a: Array, b: Array | float, radius: float) -> Array:
    """Return the higher of a and b, rounded where they cross; never below either."""
    near = np.maximum(radius - np.abs(a - b), 0.0)
    high: Array = np.maximum(a, b) + near * near / (4.0 * radius)
    return high


def sag(heights: Array) -> float:
    """Return how far a smooth surface is at most off the facets between evenly sampled heights (rows, columns), mm.

    Over a triangle a surface of second derivatives up to b is off its plane by b r^2 / 2 at most, r the radius of the circle through
    the corners (S. Waldron, "The error in linear interpolation at the vertices of a simplex", 1998); here half a cell's diagonal.
    """
    return float(sags(heights).max(initial=0.0))


def sags(heights: Array) -> Array:
    """Return the same around every height that is not on the border, (rows - 2, columns - 2)."""
    bend = (heights[:, 2:] - 2.0 * heights[:, 1:-1] + heights[:, :-2])[1:-1]
    along = (heights[2:] - 2.0 * heights[1:-1] + heights[:-2])[:, 1:-1]
    twist = (heights[2:, 2:] - heights[2:, :-2] - heights[:-2, 2:] + heights[:-2, :-2]) / 4.0
    # The greater principal second difference.
    most: Array = np.abs(bend + along) / 2.0 + np.hypot((bend - along) / 2.0, twist)
    most /= 4.0
    return most
