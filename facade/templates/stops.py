"""Depth holes: where to drill into the face how deep, with few settings of the drill's stop.

A hole is drilled to where the carver stops: when its bottom just vanishes. It stays on the shallow side everywhere under the bit.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import lru_cache

import numpy as np

from facade.arrays import Array
from facade.front import Front
from facade.lengths import MM_PER_INCH, Ruler, Unit
from facade.slicer import stations

# The bit, mm, and its point: 118 degrees, as twist drills are ground (common practice).
BIT = {Unit.MM: 3.0, Unit.INCH: MM_PER_INCH / 8}
POINT = 0.5 / math.tan(math.radians(59.0))  # of the bit's diameter
# What the deepest point of a hole stays above the finished face, mm, so that sanding takes its mark off: common practice.
SHALLOW = 0.5
# Holes of a line are about so far apart, mm: common practice, 50 to 75.
_APART = 50.0
_MOST = 6
_STEPS = {
    Unit.MM: (1.0, 2.0, 3.0, 4.0, 5.0, 10.0),
    Unit.INCH: tuple(MM_PER_INCH * part for part in (1 / 32, 1 / 16, 1 / 8, 3 / 16, 1 / 4, 1 / 2)),
}
_LINES = ("L", "C", "R")


@dataclass(frozen=True)
class Hole:
    """A hole: on which line of a strip, mm from its top and its left edge, and the number of its stop setting, from 1."""

    line: str
    from_top: float
    from_left: float
    setting: int


@dataclass(frozen=True)
class Stops:
    """The settings of a whole front, mm from the raw face to the bit's point, rising by `step`; and each strip's holes."""

    settings: tuple[float, ...]
    step: float
    holes: dict[int, tuple[Hole, ...]]


def stops_of(front: Front) -> Stops:
    """Return the depth holes of a front; with no setting where it is carved too little for any."""
    return _stops(_Held(front))


class _Held:
    """A front that is the same as another when their marks and their stations are."""

    def __init__(self, front: Front) -> None:
        self.front = front
        self._key = (front.mark, front.job.unit, front.job.station)

    def __hash__(self) -> int:
        return hash(self._key)

    def __eq__(self, other: object) -> bool:
        return isinstance(other, _Held) and other._key == self._key


@lru_cache(maxsize=4)
def _stops(held: _Held) -> Stops:
    front = held.front
    places = {number: _places(front, number) for number in range(1, front.count + 1)}
    rooms = {number: _room(front, number, from_top, across) for number, (from_top, across) in places.items()}
    deepest = max((float(room.max()) for room in rooms.values() if room.size), default=0.0)
    steps = _STEPS[front.job.unit]
    step = next((one for one in steps if deepest / one < _MOST + 1), steps[-1])
    used = sorted(
        {int(index) for room in rooms.values() for index in np.floor(room / step + 1e-9).ravel() if index >= 1}
    )
    number_of = {index: number for number, index in enumerate(used, 1)}
    holes = {}
    for strip, room in rooms.items():
        from_top, across = places[strip]
        indexes = np.floor(room / step + 1e-9).astype(int)
        names = _LINES if len(across) == 3 else ("C",)
        holes[strip] = tuple(
            Hole(names[column], float(from_top[row]), float(across[column]), number_of[int(indexes[row, column])])
            for row, column in np.argwhere(indexes >= 1).tolist()
        )
    return Stops(tuple(index * step for index in used), step, holes)


def _places(front: Front, number: int) -> tuple[Array, Array]:
    """Return where holes may be on a strip: from its top (rows,), and from its left edge (one line or three,)."""
    place, bit = front.layout.strip(number), BIT[front.job.unit]
    marks = stations(place.length, front.job.station)[1:-1]
    every = max(1, math.ceil(_APART / front.job.station - 1e-6))
    from_top = marks[every - 1 :: every] if len(marks) >= every else marks[:1]
    inset = bit / 2 + 1.0
    wide = place.width >= 4 * bit
    across = np.array([inset, place.width / 2, place.width - inset] if wide else [place.width / 2])
    return from_top, across


def _room(front: Front, number: int, from_top: Array, across: Array) -> Array:
    """Return how deep the point of the bit may go at every place (rows, lines), mm below the raw face.

    Cylinder and cone stay SHALLOW above the finished face, looked at on a small grid under the bit.
    """
    place, radius = front.layout.strip(number), BIT[front.job.unit] / 2
    steps = np.linspace(-radius, radius, 5)
    x, y = place.left + across[:, None] + steps, place.top - from_top[:, None] + steps
    depths = front.job.wood.blank - front.surface.at(x.reshape(1, -1), y.reshape(-1, 1))
    depths = depths.reshape(len(from_top), 5, len(across), 5)
    away = np.hypot(steps[:, None], steps)
    # The cone is that much shallower away from its point; the corners of the grid are beyond the bit.
    spare = np.where(away <= radius * (1 + 1e-9), away / math.tan(math.radians(59.0)), np.inf)
    room: Array = (depths + spare[:, None, :]).min(axis=(1, 3)) - SHALLOW
    return room


def bit_in_words(ruler: Ruler) -> str:
    """Return what the settings are measured with."""
    return f"bit of {ruler.text(BIT[ruler.unit])}, set from the raw face to its point"
