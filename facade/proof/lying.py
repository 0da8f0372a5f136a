"""Where strips lie on their side, what holds them and what is cut, worked out anew from job, layout and surface alone.

Lengths are mm, x along the strips and y across them. In its bay a strip's back and BOTTOM end are at x 0, y 0.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property, lru_cache
from typing import Any

import numpy as np

from facade.arrays import Array
from facade.front import Front
from facade.job import Hold
from facade.layout import StripPlace
from facade.lengths import MM_PER_INCH, Unit
from facade.rules import rule
from facade.slicer import edge_heights

# Most strips that are cut together where the job says nothing.
_TOGETHER = 12
# The tangent of half of 45 degrees; how much further than it must be a run goes on; the least piece of a run.
_HALF_TURN = math.sqrt(2.0) - 1.0
_FURTHER = 0.2
_SHORT = 0.2
# A line that falls off by more than this slope at a place has a corner there.
_CORNER = 0.05
_HAIR = 1e-9


@dataclass(frozen=True)
class Asked:
    """What was asked for, as the manifest keeps it: strips, raw thickness, whether the checks let it pass."""

    strips: tuple[int, ...]
    blank: float
    cleared: bool

    @staticmethod
    def of(front: Front, manifest: Mapping[str, Any]) -> Asked:
        """Return what the manifest says was asked for of strips on their side."""
        said = manifest["cnc"]["side"]
        strips = tuple(said["strips"] or front.numbers)
        return Asked(strips, front.job.blank, bool(said["cleared"]))


@dataclass(frozen=True)
class Lying:
    """Strips on their side: what is alike for all of them."""

    front: Front
    asked: Asked

    @cached_property
    def length(self) -> float:
        """Length of the strips."""
        return self.front.layout.strips[0].length

    @cached_property
    def radius(self) -> float:
        """Radius of the cutter."""
        return self.front.job.machine.side.cutter / 2

    @cached_property
    def waste(self) -> float:
        """By how much a strip is longer at each end."""
        machine = self.front.job.machine
        return machine.waste if machine.hold in (Hold.SCREWS, Hold.TABS) else 0.0

    @cached_property
    def keep(self) -> float:
        """What the cutter keeps off what holds a strip."""
        return rule("side_keep")

    @cached_property
    def stop(self) -> float:
        """Length of the stops."""
        return rule("side_stop") if self.front.job.unit is Unit.MM else rule("side_stop_inch")

    @cached_property
    def lead(self) -> float:
        """From a strip's end to where the cutter's middle goes down."""
        return self.waste + self.stop + self.keep + self.radius

    @cached_property
    def _line_least(self) -> float:
        return self.front.surface.floor + self.front.job.wood.sanding

    @cached_property
    def dip(self) -> float:
        """How far a run may fall beyond an end."""
        return min(self.keep / 2, self._line_least / 4)

    @cached_property
    def stop_up(self) -> float:
        """How far the end stops reach up."""
        low = self._line_least - self.dip
        return max(self.front.job.ruler.down(low - self.keep), low / 2)

    @cached_property
    def screw_up(self) -> float:
        """How far from the back the screws in the waste stand."""
        return min(self.front.job.ruler.up(1.5 * rule("side_screw")), self.asked.blank / 2)

    @cached_property
    def over_waste(self) -> float:
        """A run over the waste is no lower than this."""
        return self.screw_up + rule("side_screw") + self.keep if self.waste else 0.0

    @cached_property
    def screws(self) -> list[tuple[float, float]]:
        """The screws in the waste."""
        if not self.waste:
            return []
        tabs = self.front.job.machine.hold is Hold.TABS
        out = self.waste / 2 + (self.radius if tabs else 0.0)
        return [(-out, self.screw_up), (self.length + out, self.screw_up)]

    @cached_property
    def top(self) -> float:
        """How high the cutter's rim comes."""
        return max(self.asked.blank, self.over_waste) + self.front.job.machine.side.leave + 2 * self.radius

    @cached_property
    def pitch(self) -> float:
        """From strip to strip."""
        apart = self.front.job.machine.side.apart
        if apart is not None:
            return self.asked.blank + apart
        whole = 1.0 if self.front.job.unit is Unit.MM else MM_PER_INCH / 16
        return math.ceil((self.top + self.keep + self.stop) / whole - _HAIR) * whole

    @cached_property
    def batten(self) -> float:
        """Width of the batten behind a strip."""
        return self.pitch - self.top - self.keep

    @cached_property
    def stops(self) -> list[Array]:
        """Batten and stops, their corners."""
        start, end = -self.waste, self.length + self.waste
        return [
            box(start, -self.batten, end, 0.0),
            box(start - self.stop, -self.batten, start, self.stop_up),
            box(end, -self.batten, end + self.stop, self.stop_up),
        ]

    @cached_property
    def area(self) -> Array:
        """Where tape or seal goes."""
        low = self._line_least - self.dip
        return box(self.keep / 2, self.keep / 2, self.length - self.keep / 2, max(low - self.keep / 2, low / 2))

    @cached_property
    def end_cuts(self) -> list[tuple[Array, Array]]:
        """The cuts to length of tabbed strips: as the cutter's outside and as its middle goes."""
        if self.front.job.machine.hold is not Hold.TABS:
            return []
        side = self.front.job.machine.side
        start, end = self.asked.blank + side.leave + self.radius, side.tab + self.radius
        return [
            (np.array([[x, start], [x, end]]), np.array([[x + out, start], [x + out, end]]))
            for x, out in ((0.0, -self.radius), (self.length, self.radius))
        ]

    def board(self, bays: int) -> tuple[float, float]:
        """Return length and width of a board with so many bays."""
        along, across = self.front.job.first_on_side
        whole = 10.0 if self.front.job.unit is Unit.MM else MM_PER_INCH / 2
        wide = math.ceil((across + (bays - 1) * self.pitch + self.top + self.keep) / whole - _HAIR) * whole
        return 2 * along + self.length, wide

    @cached_property
    def bays(self) -> int:
        """How many bays the board has: enough for the most strips of the whole front that are cut together."""
        return max(map(len, self._together(self.front.numbers)))

    @cached_property
    def together(self) -> list[list[StripPlace]]:
        """The strips that are cut together, from the left."""
        return self._together(self.asked.strips)

    def _together(self, numbers: Sequence[int]) -> list[list[StripPlace]]:
        machine, places = self.front.job.machine, {place.number: place for place in self.front.layout.strips}
        most = machine.strips or _TOGETHER
        if machine.bed is not None:
            across = machine.bed[0] + _HAIR
            most = max(count for count in range(1, most + 1) if count == 1 or self.board(count)[1] <= across)
        runs: list[list[StripPlace]] = []
        for number in numbers:
            place = places[number]
            if runs and runs[-1][-1].number == number - 1 and runs[-1][-1].door == place.door:
                runs[-1].append(place)
            else:
                runs.append([place])
        found = []
        for run in runs:
            parts = math.ceil(len(run) / most)
            small, more = divmod(len(run), parts)
            first = 0
            for part in range(parts):
                after = first + small + (part < more)
                found.append(run[first:after])
                first = after
        return found

    def strip_stem(self, place: StripPlace) -> str:
        """Return what a strip's files are called."""
        unit = self.front.job.machine_unit
        shown = [
            f"{size:.2f}".rstrip("0").rstrip(".") if unit is Unit.MM else f"{size / unit.in_mm:.3f}"
            for size in (place.width, self.front.job.blank, place.length)
        ]
        return f"strip-{self._padded(place.number)}_door-{place.door}_right-side-up_{'x'.join(shown)}_{self._unit_word}"

    def batch_stem(self, index: int) -> str:
        """Return what the files of strips that are cut together are called, from 1."""
        places = self.together[index - 1]
        first, last = self._padded(places[0].number), self._padded(places[-1].number)
        strips = f"strip-{first}" if len(places) == 1 else f"strips-{first}-to-{last}"
        return f"together-{index:02d}_door-{places[0].door}_{strips}_{self._unit_word}"

    def _padded(self, number: int) -> str:
        return str(number).zfill(max(2, len(str(self.front.count))))

    @property
    def _unit_word(self) -> str:
        return "mm" if self.front.job.machine_unit is Unit.MM else "inch"

    def with_leads(self, line: Array) -> Array:
        """Return a line along the face, (points, 2) from the BOTTOM end, with its way in and out as they should be."""
        left = self._lead(line[0, 1], (line[1, 1] - line[0, 1]) / (line[1, 0] - line[0, 0]))
        right = self._lead(line[-1, 1], (line[-2, 1] - line[-1, 1]) / (line[-1, 0] - line[-2, 0]))
        before = [[-out, up] for out, up in reversed(left)]
        after = [[self.length + out, up] for out, up in right]
        return np.concatenate([before, line, after])

    def _lead(self, up: float, slope: float) -> list[tuple[float, float]]:
        """Return how a run goes on beyond an end: out from it and up, its slope being by how much it falls outwards."""
        found, out = [], 0.0
        if slope > _HAIR:
            # A circle that rolls from one straight onto another touches each r tan(turn / 2) from their corner.
            turn = math.atan(slope)
            out = max(min(self.radius * math.tan(turn / 2) + _FURTHER, self.dip / slope), _SHORT)
            up -= slope * out
            found.append((out, up))
        if up < self.over_waste - _HAIR:
            out += _HALF_TURN * self.radius + _FURTHER
            found.append((out, up))
            found.append((out + max(self.over_waste - up, _SHORT), self.over_waste))
            up = self.over_waste
        return [*found, (self.lead, up)]

    def steps(self, wood: float) -> int:
        """Return how many step cuts a strip needs of which so much wood is taken at its lowest place."""
        side = self.front.job.machine.side
        return math.ceil((wood - side.leave) / side.step - _HAIR) if wood > side.step + _HAIR else 0

    def tips(self, width: float) -> list[float]:
        """Return how deep the cutter's tip goes level by level, above the board."""
        side = self.front.job.machine.side
        deep = width + side.below
        most = min(side.level or 2 * self.radius, side.length or deep)
        count = max(1, math.ceil(deep / most - _HAIR))
        return [width - deep * k / count for k in range(1, count + 1)]


@dataclass(frozen=True)
class Face:
    """A strip's face every quarter of a millimetre or so, (places,): x from its BOTTOM end, both edges, and the lines above them."""

    x: Array
    left: Array
    right: Array
    cut: Array
    saw: Array


@lru_cache(maxsize=160)
def face_of(lying: Lying, place: StripPlace, between: float) -> Face:
    """Return a strip's face, at places that far apart, mm."""
    wood, blank = lying.front.job.wood, lying.asked.blank
    x = np.linspace(0.0, place.length, max(2, round(place.length / between)) + 1)
    left, right = edge_heights(lying.front.surface, place, place.length - x)
    higher = np.maximum(left, right)
    return Face(x, left, right, np.minimum(higher + wood.sanding, blank), np.minimum(higher + wood.sawing, blank))


def box(left: float, bottom: float, right: float, top: float) -> Array:
    """Return the corners of a rectangle, anticlockwise from the lower left."""
    return np.array([[left, bottom], [right, bottom], [right, top], [left, top]])


def widened(line: Array, radius: float, x: Array) -> Array:
    """Return how high the middle of a circle is at places x that rolls along above a line, (points, 2) with x rising."""
    step = min(0.1, radius / 20)
    reach = math.floor(radius / step)
    aside = np.arange(-reach, reach + 1) * step
    rise = np.sqrt(np.maximum(radius * radius - aside * aside, 0.0))
    heights = np.interp(x[:, None] + aside, line[:, 0], line[:, 1]) + rise
    found: Array = heights.max(axis=1)
    # Corners that stand out of the line are met exactly.
    slope = np.diff(line[:, 1]) / np.diff(line[:, 0])
    corners = line[1:-1][slope[:-1] - slope[1:] > _CORNER]
    for corner_x, corner_y in corners.tolist():
        some = np.abs(x - corner_x) < radius
        over = corner_y + np.sqrt(radius * radius - (x[some] - corner_x) ** 2)
        found[some] = np.maximum(found[some], over)
    return found
