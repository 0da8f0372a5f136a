"""The four corners of an opening from its readings, and the upright rectangles that go into it or cover it."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass
from enum import StrEnum

import numpy as np

from facade.arrays import Array


class Name(StrEnum):
    """The readings of an opening, as they are called."""

    TOP = "width at the top"
    ACROSS = "width in the middle"
    BOTTOM = "width at the bottom"
    LEFT = "height at the left"
    UPRIGHT = "height in the middle"
    RIGHT = "height at the right"
    FALLING = "diagonal from the top left"
    RISING = "diagonal from the top right"
    LEFT_LEAN = "lean of the left side"
    RIGHT_LEAN = "lean of the right side"


WIDTHS = (Name.TOP, Name.ACROSS, Name.BOTTOM)
HEIGHTS = (Name.LEFT, Name.UPRIGHT, Name.RIGHT)
DIAGONALS = (Name.FALLING, Name.RISING)
LEANS = (Name.LEFT_LEAN, Name.RIGHT_LEAN)

Readings = dict[Name, float]
Spot = tuple[float, float]

# Each reading is a way from one place of the opening to another: how much of the lower right, the upper left and the upper
# right corner is in it; the lower left one is at (0, 0). What leans is that way's part to the right, all else its length.
_WAYS = {
    Name.TOP: (0.0, -1.0, 1.0),
    Name.ACROSS: (0.5, -0.5, 0.5),
    Name.BOTTOM: (1.0, 0.0, 0.0),
    Name.LEFT: (0.0, 1.0, 0.0),
    Name.UPRIGHT: (-0.5, 0.5, 0.5),
    Name.RIGHT: (-1.0, 0.0, 1.0),
    Name.FALLING: (1.0, -1.0, 0.0),
    Name.RISING: (0.0, 0.0, 1.0),
    Name.LEFT_LEAN: (0.0, 1.0, 0.0),
    Name.RIGHT_LEAN: (-1.0, 0.0, 1.0),
}
# Left side plumb, right side plumb, sill level, head level; columns are right and up of those three corners.
_RIGHT_ANGLED = np.array(
    [
        [0.0, 0.0, 1.0, 0.0, 0.0, 0.0],
        [-1.0, 0.0, 0.0, 0.0, 1.0, 0.0],
        [0.0, 1.0, 0.0, 0.0, 0.0, 0.0],
        [0.0, 0.0, 0.0, -1.0, 0.0, 1.0],
    ]
)

# How much readings may be off, and how far cases are from right rectangles, in shares of what readings may differ by.
READ, _BUILT = 0.25, 1.5
_LEAST = 0.05  # mm
# What was not measured is taken for granted, to so small a share of what readings are off: a case that racks keeps its sill
# level; both sides of a case that is not racked lean alike, away from each other or towards each other.
_GRANTED = 1e-3
_SILL_LEVEL = _RIGHT_ANGLED[2:3]
_SIDES_ALIKE = _RIGHT_ANGLED[0:1] + _RIGHT_ANGLED[1:2]
_ROUNDS, _SETTLED = 20, 1e-7


@dataclass(frozen=True)
class Corners:
    """The corners of an opening, mm, right and up (by a plumb line) of its lower left one, which is at (0, 0)."""

    bottom_right: Spot
    top_right: Spot
    top_left: Spot

    @property
    def around(self) -> tuple[Spot, Spot, Spot, Spot]:
        """All four, from the lower left on, against the clock."""
        return (0.0, 0.0), self.bottom_right, self.top_right, self.top_left

    @property
    def left_lean(self) -> float:
        """How far the left side leans to the right from bottom to top, mm."""
        return self.top_left[0]

    @property
    def right_lean(self) -> float:
        """How far the right side leans to the right from bottom to top, mm."""
        return self.top_right[0] - self.bottom_right[0]

    @property
    def sill_rise(self) -> float:
        """How far the sill rises from left to right, mm."""
        return self.bottom_right[1]

    @property
    def head_rise(self) -> float:
        """How far the head rises from left to right, mm."""
        return self.top_right[1] - self.top_left[1]

    def readings(self) -> Readings:
        """Return what an exact tape and plumb line read on these corners."""
        spots = np.array([self.bottom_right, self.top_left, self.top_right], dtype=np.float64)
        return dict(zip(_WAYS, _read(_ways(_WAYS), spots)[0].tolist(), strict=True))


class Quadrilateral:
    """The four corners that fit the readings best, by weighted least squares on the distances themselves.

    Six numbers stand for the shape: right and up of the lower right, upper left and upper right corner; sides are straight.
    Solved by Gauss and Newton's steps, which are exact where the rows of a linear model would be off by lean^2 / 2 height:
    0.3 mm for 20 mm over 700.
    """

    def __init__(self, readings: Readings, off: float) -> None:
        """`off` is what readings may differ by, mm."""
        self._readings = readings
        # A limit of nothing at all would leave nothing to weigh by.
        self._off = max(off, _LEAST)
        # Medians, so that one slip does not move the rectangle that the steps start from.
        wide, tall = (float(np.median([readings[name] for name in names])) for names in (WIDTHS, HEIGHTS))
        self._start = np.array([[wide, 0.0], [0.0, tall], [wide, tall]])

    def corners(self, without: Name | None = None) -> Corners:
        """Return the corners, all readings counted but one.

        Without diagonals or without a plumb line the sill is taken as level, without both the opening as not racked: left
        free, what is only of second order in the readings would be read off their errors.
        """
        right, left, top = self._solve(without, self._granted())[0].tolist()
        return Corners((right[0], right[1]), (top[0], top[1]), (left[0], left[1]))

    def without(self, name: Name) -> tuple[float, float]:
        """Return what the other readings give for one, and the chi square that is left when it is set aside.

        Here it is believed that cases are about as square and plumb as cases are, which tells slips of about one size apart.
        """
        spots, left = self._solve(name, _RIGHT_ANGLED / (_BUILT * self._off))
        return float(_read(_ways([name]), spots)[0][0]), left

    def _granted(self) -> Array:
        squared, plumbed = DIAGONALS[0] in self._readings, LEANS[0] in self._readings
        rows = [] if squared and plumbed else [_SILL_LEVEL] if squared or plumbed else [_SILL_LEVEL, _SIDES_ALIKE]
        return np.vstack([np.empty((0, 6)), *rows]) / (_GRANTED * READ * self._off)

    def _solve(self, without: Name | None, believed: Array) -> tuple[Array, float]:
        """Return the three corners, rows of right and up, and the chi square that is left."""
        names = [name for name in self._readings if name is not without]
        ways, wanted = _ways(names), np.array([self._readings[name] for name in names])
        read = READ * self._off

        def misses(spots: Array) -> tuple[Array, Array]:
            values, slopes = _read(ways, spots)
            return (
                np.append((values - wanted) / read, believed @ spots.ravel()),
                np.vstack([slopes / read, believed]),
            )

        spots = self._start
        missed, slopes = misses(spots)
        for _ in range(_ROUNDS):
            step = np.linalg.lstsq(slopes, -missed, rcond=None)[0].reshape(spots.shape)
            while (again := misses(spots + step))[0] @ again[0] > missed @ missed and np.abs(step).max() > _SETTLED:
                step = step / 2.0
            spots, (missed, slopes) = spots + step, again
            if np.abs(step).max() <= _SETTLED:
                break
        return spots, float(missed @ missed)


def _ways(names: Iterable[Name]) -> tuple[Array, Array]:
    """Return the ways that some readings are, one a row, and which of them are leans."""
    listed = list(names)
    return np.array([_WAYS[name] for name in listed]), np.array([name in LEANS for name in listed])


def _read(ways: tuple[Array, Array], spots: Array) -> tuple[Array, Array]:
    """Return readings for corners, and how much each grows with each of the six numbers."""
    shares, leans = ways
    across, up = (shares @ spots).T
    length = np.maximum(np.hypot(across, up), 1e-9)
    values = np.where(leans, across, length)
    right, high = np.where(leans, 1.0, across / length), np.where(leans, 0.0, up / length)
    slopes = np.stack([shares * right[:, None], shares * high[:, None]], axis=2)
    return values, slopes.reshape(len(shares), -1)


@dataclass(frozen=True)
class Rectangle:
    """An upright rectangle, mm, in the place of the corners that it belongs to."""

    left: float
    right: float
    bottom: float
    top: float

    @property
    def width(self) -> float:
        """Its width, mm; below zero where nothing goes in."""
        return self.right - self.left

    @property
    def height(self) -> float:
        """Its height, mm."""
        return self.top - self.bottom


def covering_rectangle(corners: Corners) -> Rectangle:
    """Return the smallest upright rectangle that covers the opening."""
    across, up = zip(*corners.around, strict=True)
    return Rectangle(min(across), max(across), min(up), max(up))


def largest_rectangle(corners: Corners) -> Rectangle:
    """Return the upright rectangle of the greatest area that goes into the opening, to 0.001 mm.

    A level line from one height to another cuts a quadrilateral without hollow corners in a stretch whose left end is a
    convex and whose right end a concave function of the height. A rectangle between two heights is as wide as what both
    lines have in common, which is concave in the two heights, so that the logarithm of its area is: one peak alone.
    """
    chord = _chord(corners.around)
    heights = [up for _, up in corners.around]
    low, high = min(heights), max(heights)

    def common(bottom: float, top: float) -> tuple[float, float]:
        (left, right), (other_left, other_right) = chord(bottom), chord(top)
        return max(left, other_left), min(right, other_right)

    def area(bottom: float, top: float) -> float:
        left, right = common(bottom, top)
        # Where nothing is in common, less of it missing is nearer to the peak.
        return (right - left) * (top - bottom) if right > left else right - left

    def best_top(bottom: float) -> float:
        return _peak(lambda top: area(bottom, top), bottom, high)

    bottom = _peak(lambda one: area(one, best_top(one)), low, high)
    top = best_top(bottom)
    return Rectangle(*common(bottom, top), bottom, top)


def _chord(around: tuple[Spot, ...]) -> Callable[[float], tuple[float, float]]:
    """Return where a level line at a height enters and leaves a shape whose corners are given against the clock."""
    rights: list[tuple[float, float, float]] = []
    lefts: list[tuple[float, float, float]] = []
    for (x, y), (end_x, end_y) in zip(around, (*around[1:], around[0]), strict=True):
        rise = end_y - y
        if abs(rise) > 1e-9:
            (rights if rise > 0 else lefts).append((x, y, (end_x - x) / rise))

    def chord(height: float) -> tuple[float, float]:
        left = max((x + slope * (height - y) for x, y, slope in lefts), default=0.0)
        right = min((x + slope * (height - y) for x, y, slope in rights), default=0.0)
        return left, right

    return chord


_GOLDEN = 0.6180339887498949  # the golden section
_NEAR = 1e-5  # mm


def _peak(height: Callable[[float], float], low: float, high: float) -> float:
    """Return where a function with one peak is highest between two places, by golden section; both ends count."""
    ends = low, high
    first, second = high - _GOLDEN * (high - low), low + _GOLDEN * (high - low)
    at_first, at_second = height(first), height(second)
    while high - low > _NEAR:
        if at_first >= at_second:
            high, second, at_second = second, first, at_first
            first = high - _GOLDEN * (high - low)
            at_first = height(first)
        else:
            low, first, at_first = first, second, at_second
            second = low + _GOLDEN * (high - low)
            at_second = height(second)
    return max((*ends, (low + high) / 2.0), key=height)
