"""Depth holes: where on each strip, how deep each should be, and the few settings of the depth stop that do for all of them.

A setting is the depth of the drill's point below the raw face of the blank. No part of a hole comes nearer to the finished face than
`Stops.shallow`, so that sanding takes the last of it away (common practice). Settings are rounded to the shallow side.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from enum import Enum

import numpy as np
from numpy.typing import NDArray

from facade.arrays import Array
from facade.errors import mistake
from facade.front import Front
from facade.layout import StripPlace
from facade.lengths import MM_PER_INCH, Ruler, Unit

# Twist drills of the shop, common practice: 3 mm or 1/8 in, their points of 118 degrees.
BITS = {Unit.MM: 3.0, Unit.INCH: MM_PER_INCH / 8}
_HALF_POINT = math.radians(118.0 / 2)
# What stands at least between a hole and the finished face, and the least depth worth a hole, mm.
_SHALLOW = {Unit.MM: 0.5, Unit.INCH: MM_PER_INCH / 32}
_LEAST = {Unit.MM: 1.0, Unit.INCH: MM_PER_INCH / 16}
# How far apart settings may be, mm; the usual ones, which are taken where three to six of them do: common practice.
_STEPS = {
    Unit.MM: (0.5, 1.0, 2.0, 2.5, 3.0, 4.0, 5.0, 6.0, 8.0, 10.0, 12.0, 15.0, 20.0, 25.0, 30.0, 40.0, 50.0, 75.0, 100.0),
    Unit.INCH: tuple(MM_PER_INCH / 32 * parts for parts in (1, 2, 4, 6, 8, 12, 16, 24, 32, 48, 64, 96, 128)),
}
_USUAL_STEP = {Unit.MM: 2.0, Unit.INCH: MM_PER_INCH / 16}
FEWEST, MOST = 3, 6
# Holes are so far apart along a strip at least, mm, and their rims so far from its sides: common practice.
_APART = 50.0
_RIM = 2.0
# The deepest place of a line gets a hole of its own where none is so near, mm.
_OWN = 12.0
# Three lines want so much between their middles, in diameters of the bit.
_LINES_APART = 1.5
# The surface is looked at on two rings and in the middle of a hole, and may rise so much in between, mm.
_RINGS, _DIRECTIONS, _BETWEEN = (0.5, 1.0), 16, 0.05
_AT_ONCE = 20_000  # holes
_HAIR = 1e-9


class Line(Enum):
    """A line of holes along a strip, by its letter."""

    LEFT = "L"
    CENTRE = "C"
    RIGHT = "R"


_LINES = tuple(Line)


@dataclass(frozen=True)
class Holes:
    """Holes in the order of their strips, then from the top, then from the left; all (holes,).

    `strip` are numbers; `line` counts L, C, R from 0; `from_top` and `from_left` are mm on the strip; `wanted` is how deep the
    point may go at most, mm below the raw face; `setting` counts the settings from 0.
    """

    strip: NDArray[np.intp]
    line: NDArray[np.intp]
    from_top: Array
    from_left: Array
    wanted: Array
    setting: NDArray[np.intp]

    def chosen(self, which: NDArray[np.bool_]) -> Holes:
        """Return the holes of a mask (holes,)."""
        return Holes(
            self.strip[which],
            self.line[which],
            self.from_top[which],
            self.from_left[which],
            self.wanted[which],
            self.setting[which],
        )

    def of(self, strip: int) -> Holes:
        """Return the holes of one strip."""
        return self.chosen(self.strip == strip)

    def lines(self) -> list[Line]:
        """Return the line of each hole."""
        return [_LINES[index] for index in self.line.tolist()]


@dataclass(frozen=True)
class Stops:
    """All holes of a front and the settings of the stop for them, mm.

    `step` is how far apart settings are, `shallow` what stands at least between a hole and the finished face.
    """

    bit: float
    shallow: float
    step: float
    settings: tuple[float, ...]
    holes: Holes

    @property
    def point(self) -> float:
        """Length of the drill's point, mm."""
        return point_length(self.bit)


def point_length(bit: float) -> float:
    """Return how long the point of a twist drill of a diameter is, mm: d / (2 tan 59 degrees), which is 0.3 d."""
    return bit / 2 / math.tan(_HALF_POINT)


def plan_stops(front: Front) -> Stops:
    """Return the holes of a whole front and their settings; none where nothing is deep enough."""
    unit = front.job.unit
    bit, shallow = BITS[unit], _SHALLOW[unit]
    places = _places(front, bit)
    wanted = _deepest_points(front, places, bit, shallow)
    step = _step(wanted, front.job.ruler)
    least = step * math.ceil(_LEAST[unit] / step - _HAIR)
    deep = wanted >= least - _HAIR
    rungs = np.floor(wanted / step + _HAIR).astype(np.intp)
    used, setting = np.unique(rungs[deep], return_inverse=True)
    holes = Holes(
        places.strip[deep],
        places.line[deep],
        places.from_top[deep],
        places.from_left[deep],
        wanted[deep],
        setting.astype(np.intp),
    )
    return Stops(bit, shallow, step, tuple((used * step).tolist()), holes)


def _step(wanted: Array, ruler: Ruler) -> float:
    """Return how far apart settings are: as usual, more where that makes too many of them, less where too few."""
    steps = [step for step in _STEPS[ruler.unit] if step >= ruler.mark - _HAIR]
    index = max(k for k, step in enumerate(steps) if step <= max(_USUAL_STEP[ruler.unit], steps[0]) + _HAIR)
    while index and _rungs(wanted, steps[index], ruler.unit) < FEWEST:
        index -= 1
    while _rungs(wanted, steps[index], ruler.unit) > MOST:
        index += 1
        if index == len(steps):
            raise mistake(
                "wood.blank",
                f"`wood.blank` is too thick for holes with {MOST} settings of a stop at most {ruler.text(steps[-1])} apart: "
                "make blanks thinner, or leave the sheets for depth holes out",
            )
    return steps[index]


def _rungs(wanted: Array, step: float, unit: Unit) -> int:
    """Return how many settings a step makes."""
    least = step * math.ceil(_LEAST[unit] / step - _HAIR)
    deep = wanted[wanted >= least - _HAIR]
    return len(np.unique(np.floor(deep / step + _HAIR)))


@dataclass(frozen=True)
class _Places:
    """Where holes may be, all (places,): number of the strip, line, mm on the strip, mm on the front."""

    strip: NDArray[np.intp]
    line: NDArray[np.intp]
    from_top: Array
    from_left: Array
    x: Array
    y: Array


def lines_of(width: float, bit: float) -> tuple[tuple[Line, float], ...]:
    """Return the lines of holes on a strip of a width and how far they are from its left edge, mm.

    Three where there is room for them, the centre alone on a narrow strip, and none where the bit would break out.
    """
    inset = max(bit / 2 + _RIM, width / 8)
    if width / 2 - inset >= _LINES_APART * bit:
        return (Line.LEFT, inset), (Line.CENTRE, width / 2), (Line.RIGHT, width - inset)
    return ((Line.CENTRE, width / 2),) if width >= bit + _RIM else ()


def spacing(station: float) -> float:
    """Return how far apart holes are along a strip, mm: 50 to 100, whole stations or whole parts of one."""
    return station * math.ceil(_APART / station - _HAIR) if station < _APART else station / int(station / _APART)


def _places(front: Front, bit: float) -> _Places:
    """Return where holes may be: at even distances on each line, and where the line is lowest."""
    found = [_on_strip(front, place, bit) for place in front.layout.strips]
    strip = np.repeat([place.number for place in front.layout.strips], [len(one[0]) for one in found])
    line, from_top, from_left, regular = (np.concatenate(parts) for parts in zip(*found, strict=True))
    at = np.searchsorted(front.numbers, strip)
    left = np.array([place.left for place in front.layout.strips])
    top = np.array([place.top for place in front.layout.strips])
    places = _Places(strip, line.astype(np.intp), from_top, from_left, left[at] + from_left, top[at] - from_top)
    kept = regular.astype(bool) | _lowest(front, places)
    return _Places(*(values[kept] for values in vars(places).values()))


def _on_strip(front: Front, place: StripPlace, bit: float) -> tuple[Array, Array, Array, Array]:
    """Return line, distance from the top and from the left of all places looked at on a strip, and whether it is a regular one."""
    lines = lines_of(place.width, bit)
    from_top, regular = _along(place.length, front.job.station, bit, front.job.ruler)
    index = np.array([_LINES.index(line) for line, _ in lines], dtype=np.float64)
    aside = np.array([at for _, at in lines])
    return (
        np.tile(index, len(from_top)),
        np.repeat(from_top, len(lines)),
        np.tile(aside, len(from_top)),
        np.repeat(regular, len(lines)).astype(np.float64),
    )


def _along(length: float, station: float, bit: float, ruler: Ruler) -> tuple[Array, NDArray[np.bool_]]:
    """Return the places along a strip that are looked at, as the ruler shows them, and which are the regular ones."""
    inset, every = bit / 2 + _RIM, spacing(station)
    fine = station * math.ceil(_OWN / station - _HAIR) if station < _APART else every / 2
    both = np.concatenate([_multiples(every, length), _multiples(fine, length)])
    regular = np.arange(len(both)) < len(_multiples(every, length))
    both = np.rint(both / ruler.mark) * ruler.mark
    inside = (both >= inset) & (both <= length - inset)
    # A regular place so near does as well.
    away = np.abs(both[:, None] - both[regular]).min(axis=1, initial=np.inf)
    inside &= regular | (away >= _OWN - ruler.mark)
    both, regular = both[inside], regular[inside]
    if not regular.any():
        middle = np.rint(length / 2 / ruler.mark) * ruler.mark
        fits = inset <= middle <= length - inset
        return np.array([middle])[: int(fits)], np.ones(int(fits), dtype=bool)
    order = both.argsort()
    return both[order], regular[order]


def _multiples(every: float, length: float) -> Array:
    return every * np.arange(1, int(length / every) + 1, dtype=np.float64)


def _lowest(front: Front, places: _Places) -> NDArray[np.bool_]:
    """Return which place is the lowest of its line, the uppermost of several."""
    heights = front.surface.at(places.x, places.y) if len(places.x) else places.x
    order = np.lexsort((places.from_top, heights, places.line, places.strip))
    key = places.strip[order] * len(_LINES) + places.line[order]
    lowest = np.zeros(len(order), dtype=bool)
    lowest[order[np.diff(key, prepend=-1) != 0]] = True
    return lowest


def _deepest_points(front: Front, places: _Places, bit: float, shallow: float) -> Array:
    """Return how deep the point may go at each place (places,), mm below the raw face."""
    aside, up, above = _footprint(bit)
    raw = front.job.blank - shallow - _BETWEEN
    wanted = np.empty(len(places.x))
    for first in range(0, len(wanted), _AT_ONCE):
        part = slice(first, first + _AT_ONCE)
        heights = front.surface.at(places.x[part, None] + aside, places.y[part, None] + up)
        wanted[part] = raw - (heights - above).max(axis=1)
    return wanted


def _footprint(bit: float) -> tuple[Array, Array, Array]:
    """Return the places of a hole's bottom (n,): mm aside and up from its middle, and above the point of the drill."""
    angles = np.arange(_DIRECTIONS) * (2 * np.pi / _DIRECTIONS)
    away = np.concatenate([[0.0], np.repeat(np.array(_RINGS) * bit / 2, _DIRECTIONS)])
    turn = np.concatenate([[0.0], np.tile(angles, len(_RINGS))])
    return away * np.cos(turn), away * np.sin(turn), away / math.tan(_HALF_POINT)
