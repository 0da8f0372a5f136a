"""The surface cut into numbered strips: exact edges, heights on a strip's own grid, and what a maker asks of each."""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import cached_property
from weakref import WeakKeyDictionary

import numpy as np

from facade.arrays import Array
from facade.job import Job
from facade.layout import Layout, StripPlace
from facade.surface import Surface


@dataclass(frozen=True)
class Spot:
    """A place on a strip and its height, mm; from the top and from the strip's left edge."""

    from_top: float
    from_left: float
    height: float


@dataclass(frozen=True)
class Strip:
    """One strip: its place, its allowances and its finished heights.

    `x` (columns,) and `y` (rows,) are mm on the front, both edges and both ends among them; `heights` is (rows, columns),
    first row at the bottom.
    """

    place: StripPlace
    x: Array
    y: Array
    heights: Array
    blank: float
    sanding: float
    sawing: float

    @property
    def number(self) -> int:
        """The strip's number, from 1 at the left."""
        return self.place.number

    @property
    def width(self) -> float:
        """Width, mm."""
        return self.place.width

    @property
    def length(self) -> float:
        """Length, mm."""
        return self.place.length

    @property
    def from_top(self) -> Array:
        """The rows' distances from the top end, mm, falling as y rises."""
        return self.place.top - self.y

    @property
    def left_edge(self) -> Array:
        """Finished heights along the left side, from the bottom end up."""
        return self.heights[:, 0]

    @property
    def right_edge(self) -> Array:
        """Finished heights along the right side, from the bottom end up."""
        return self.heights[:, -1]

    @cached_property
    def higher_edge(self) -> Array:
        """The higher of the two edge lines at each row."""
        return np.maximum(self.left_edge, self.right_edge)

    @cached_property
    def saw_line(self) -> Array:
        """The higher edge line plus the sawing allowance, never above the blank."""
        return np.minimum(self.higher_edge + self.sawing, self.blank)

    @property
    def twist(self) -> Array:
        """Left minus right edge line at each row."""
        return self.left_edge - self.right_edge

    def carve_line(self, edge: Array) -> Array:
        """Return an edge line plus the sanding allowance, never above the blank."""
        return np.minimum(edge + self.sanding, self.blank)

    @cached_property
    def thinnest(self) -> Spot:
        """The thinnest place."""
        return self._spot(int(self.heights.argmin()))

    @cached_property
    def thickest(self) -> Spot:
        """The thickest place."""
        return self._spot(int(self.heights.argmax()))

    def _spot(self, index: int) -> Spot:
        row, column = divmod(index, len(self.x))
        return Spot(
            float(self.place.top - self.y[row]),
            float(self.x[column] - self.place.left),
            float(self.heights[row, column]),
        )

    @cached_property
    def volume(self) -> float:
        """Wood that remains, mm3: the integral of the heights by the trapezium rule."""
        across = np.trapezoid(self.heights, self.x, axis=1)
        return float(np.trapezoid(across, self.y))

    @property
    def waste(self) -> float:
        """Wood that is taken off the blank, mm3."""
        return self.blank * self.width * self.length - self.volume

    @cached_property
    def saw_share(self) -> float:
        """Share of the waste that the saw takes, 0 to 1."""
        sawn = float(np.trapezoid(self.blank - self.saw_line, self.y)) * self.width
        return sawn / self.waste if self.waste > 1e-9 else 0.0

    @cached_property
    def slope_along(self) -> float:
        """Mean slope along the strip, degrees."""
        return _mean_slope(np.diff(self.heights, axis=0), self.y)

    @cached_property
    def slope_across(self) -> float:
        """Mean slope across the strip, degrees."""
        return _mean_slope(np.diff(self.heights, axis=1).T, self.x)

    @cached_property
    def ruler_error(self) -> float:
        """Greatest distance between the relief and a straight face between the two edge lines, mm."""
        share = (self.x - self.x[0]) / (self.x[-1] - self.x[0])
        face = self.left_edge[:, None] + share * (self.right_edge - self.left_edge)[:, None]
        face -= self.heights
        return max(float(face.max()), -float(face.min()))

    @cached_property
    def sawn_below_face(self) -> float:
        """How far the saw line runs below the finished face between the edges, mm; 0 when it nowhere does."""
        return max(0.0, float((self.heights.max(axis=1) - self.saw_line).max()))


def _mean_slope(rise: Array, along: Array) -> float:
    return math.degrees(float(np.arctan(np.abs(rise) / np.diff(along)[:, None]).mean()))


def cut_strip(
    job: Job,
    layout: Layout,
    surface: Surface,
    number: int,
    step: float | None = None,
    across: float | None = None,
    *,
    around: tuple[float, float] | None = None,
) -> Strip:
    """Return strip `number`, its heights at most `step` mm apart, as the job says if None; raises JobError when it is not there.

    `across` the strip they may be further apart than along it. `around` a place, mm from the top, and so far to both sides is all
    that is cut where it is given.
    """
    place, step = layout.strip(number), step or job.sampling.step
    x, y = _between(place.left, place.right, across or step), _between(place.bottom, place.top, step)
    if around:
        near = np.abs(place.top - around[0] - y) <= max(around[1], 2.0 * step)
        y = y[near]
    heights = surface.at(x[None, :], y[:, None])
    return Strip(place, x, y, heights, job.blank, job.wood.sanding, job.wood.sawing)


def _between(first: float, last: float, step: float) -> Array:
    """Return places from `first` to `last`, both exact and included, at most `step` apart."""
    return np.linspace(first, last, max(2, math.ceil((last - first) / step - 1e-9)) + 1)


def stations(length: float, every: float) -> Array:
    """Return the stations of a strip, mm from its top: every `every` mm, and its bottom end."""
    marks = np.arange(0.0, length, every)
    # A station that all but falls on the end would print over it.
    marks = marks[marks < length - 1e-6]
    return np.append(marks, length)


def edge_heights(surface: Surface, place: StripPlace, from_top: Array) -> tuple[Array, Array]:
    """Return the finished heights at stations along the left and the right side, straight from the surface; not to be written over.

    What was asked before is kept: each side of a strip, its templates and its tables ask for the same stations.
    """
    known = _edges.setdefault(surface, {})
    asked = (place.left, place.right, place.top, from_top.tobytes())
    if asked not in known:
        if len(known) >= _KEPT_EDGES:
            known.clear()
        known[asked] = _edge_heights(surface, place, from_top)
        for heights in known[asked]:
            heights.flags.writeable = False
    return known[asked]


def _edge_heights(surface: Surface, place: StripPlace, from_top: Array) -> tuple[Array, Array]:
    y = place.top - from_top
    both = surface.at(np.array([[place.left, place.right]]), y[:, None])
    return both[:, 0], both[:, 1]


_KEPT_EDGES = 512
_edges: WeakKeyDictionary[Surface, dict[tuple[float, float, float, bytes], tuple[Array, Array]]] = WeakKeyDictionary()
