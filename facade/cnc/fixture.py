"""Fixtures for carving on a machine: 8 to 12 strips of a door side by side on a spoilboard, waste at both ends.

Lengths are mm from the lower left corner of the back of the first strip on the fixture. In files for the machine that corner lies at
`first_strip` from their zero, the lower left machined corner of the spoilboard, which is the same for all fixtures of a job.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, field, replace

import numpy as np
from numpy.typing import NDArray

from facade.arrays import Array
from facade.cnc.order import Order, strip_word, unit_word, wanted_strips
from facade.errors import mistake
from facade.front import Front
from facade.job import fixture_rule
from facade.layout import StripPlace
from facade.lengths import MM_PER_INCH, Unit
from facade.rules import rule

# Common practice: strips on one fixture.
FEWEST, MOST = 8, 12
# What clamps and battens keep off all that the cutter passes over, mm.
KEEP_OFF = rule("fixture_keep_off")


@dataclass(frozen=True)
class Held:
    """A screw from behind through the spoilboard, in a strip's final pilot hole: its place, its length from under the head."""

    strip: int
    x: float
    y: float
    length: float
    bite: float


@dataclass(frozen=True)
class Fixture:
    """Neighbouring strips of one door as they lie on the machine.

    `lefts` (strips,) is where each strip's left edge lies; `blank` how thick the blanks are, `waste` how far wood goes on beyond
    the strips' ends, `widest` how wide the widest fixture of the order is.
    """

    front: Front
    number: int
    places: tuple[StripPlace, ...]
    lefts: Array
    blank: float
    waste: float
    widest: float
    _known: Array = field(repr=False, compare=False)
    _laid: Array = field(repr=False, compare=False)

    @property
    def numbers(self) -> list[int]:
        """The strips' numbers, from the left."""
        return [place.number for place in self.places]

    @property
    def door(self) -> int:
        """The number of the strips' door."""
        return self.places[0].door

    @property
    def rights(self) -> Array:
        """Where each strip's right edge lies."""
        rights: Array = self.lefts + np.array([place.width for place in self.places])
        return rights

    @property
    def width(self) -> float:
        """From the first strip's left edge to the last one's right edge."""
        return float(self.rights[-1])

    @property
    def length(self) -> float:
        """Length of the strips."""
        return self.places[0].length

    @property
    def spacer(self) -> float:
        """Width of the spacers between the strips, 0 where they lie packed tight."""
        return float(self.lefts[1] - self.rights[0]) if len(self.places) > 1 else 0.0

    @property
    def first_strip(self) -> tuple[float, float]:
        """Where the first strip's lower left corner lies from the zero of files for the machine, across and along."""
        return self.front.job.first_strip

    @property
    def low(self) -> float:
        """Nothing beside the strips may stand as high as this, or the cutter could meet it: less than the floor by 2 mm."""
        return max(self.front.surface.floor - 2.0, 0.0)

    @property
    def name(self) -> str:
        """Return what its files are called: names sort as the strips hang."""
        count = len(str(self.front.count))
        first, last = (strip_word(self.front, place.number) for place in (self.places[0], self.places[-1]))
        strips = f"strips-{first}-to-{last}" if first != last else f"strip-{first}"
        return f"fixture-{self.number:0{max(2, count)}d}_door-{self.door}_{strips}"

    def on_front(self, x: Array) -> Array:
        """Return where on the front places across the fixture are; beyond its strips they are the outermost edges."""
        return np.interp(x, self._laid, self._known)

    def heights(self, x: Array, y: Array) -> Array:
        """Return finished heights on an open grid, x (columns,) and y (rows,); beyond the strips' ends they go on level.

        The relief runs on behind the gaps.
        """
        bottom, top = self.places[0].bottom, self.places[0].top
        rows = np.clip(y + bottom, bottom, top)
        return self.front.surface.at(self.on_front(x)[None, :], rows[:, None])

    def heights_at(self, x: Array, y: Array) -> Array:
        """Return finished heights at places of any shape, as `heights` does on a grid."""
        bottom, top = self.places[0].bottom, self.places[0].top
        return self.front.surface.at(self.on_front(x), np.clip(y + bottom, bottom, top))

    def on_strip(self, x: Array) -> NDArray[np.bool_]:
        """Return which places across the fixture are on a strip."""
        index = np.searchsorted(self.lefts, x + 1e-9, side="right") - 1
        return np.asarray((index >= 0) & (x <= self.rights[np.maximum(index, 0)] + 1e-9), dtype=bool)

    def screws(self) -> list[Held]:
        """Return the screws that hold the strips, in their final pilot holes; none where they get none on their door."""
        found = []
        for place, left in zip(self.places, self.lefts.tolist(), strict=True):
            for screw in self.front.measures_of(place.number).screws.screws:
                y = place.length - screw.from_top
                found.append(Held(place.number, left + place.width / 2, y, screw.length, screw.bite))
        return found


def fixtures(front: Front, order: Order) -> list[Fixture]:
    """Return the fixtures of an order, from the left; raises JobError when the bed is too small for them."""
    _refuse_near_corner(front)
    runs = [
        some for run in neighbours(front, wanted_strips(front, order)) for some in shared_evenly(run, _most(front, run))
    ]
    found = [_fixture(front, number, some) for number, some in enumerate(runs, start=1)]
    widest = max(one.width for one in found)
    return [replace(one, widest=widest) for one in found]


def _refuse_near_corner(front: Front) -> None:
    """Refuse a place for the first strip that leaves no room for waste, cutter, battens and clamps."""
    job, show = front.job, front.job.ruler.text
    least = tuple(job.ruler.up(size) for size in job.machine.least_first_strip(job.unit))
    across, along = job.first_strip
    if across < least[0] - 1e-6 or along < least[1] - 1e-6:
        raise mistake(
            "machine.first_strip",
            f"`machine.first_strip` must be at least {show(least[0])} across and {show(least[1])} along from the corner of the spoilboard: "
            f"clamps, battens, waste and the cutter's way lie between (got {show(across)} and {show(along)}): write larger ones, or "
            "leave it out",
        )


def neighbours(front: Front, numbers: Sequence[int]) -> list[list[StripPlace]]:
    """Return the strips in runs of neighbours on one door."""
    runs: list[list[StripPlace]] = []
    for number in numbers:
        place = front.layout.strip(number)
        if runs and runs[-1][-1].number == number - 1 and runs[-1][-1].door == place.door:
            runs[-1].append(place)
        else:
            runs.append([place])
    return runs


def _most(front: Front, run: Sequence[StripPlace]) -> int:
    """Return the most strips of a run that a fixture may hold; raises JobError when the bed is too small."""
    machine, show = front.job.machine, front.job.ruler.text
    most = machine.strips or MOST
    if machine.bed is None:
        return most
    across, along = machine.bed
    wide, long = board_size(front, run[0].width, run[0].length)
    if long > along + 1e-6:
        raise mistake(
            "machine.bed",
            f"`machine.bed` must reach at least {show(long)} along: so long is the spoilboard for strips of {show(run[0].length)}, "
            "with their "
            f"waste and the cutter's way over it (got {show(along)}): take a machine that reaches further, or make `machine.waste` smaller",
        )
    if wide > across + 1e-6:
        raise mistake(
            "machine.bed",
            f"`machine.bed` must reach at least {show(wide)} across: so wide is the spoilboard for one strip, with the battens and clamps "
            f"beside it (got {show(across)}): take a machine that reaches further, or carve these strips by hand",
        )
    pitch = run[0].width + _gap(front, run)
    fit = next(
        count
        for count in range(most, 0, -1)
        if board_size(front, run[0].width + (count - 1) * pitch, run[0].length)[0] <= across + 1e-6
    )
    if (machine.strips or 0) > fit:
        raise mistake(
            "machine.strips",
            f"`machine.strips` must be at most {fit}: the spoilboard for more is wider than `machine.bed` reaches across, {show(across)} "
            f"(got {machine.strips}): take fewer strips to a fixture",
        )
    return fit


def board_size(front: Front, width: float, length: float) -> tuple[float, float]:
    """Return how wide and long a spoilboard for strips of this width together and this length is, mm, rounded up to a round size."""
    job, machine = front.job, front.job.machine
    across, along = job.first_strip
    beside = max(machine.over + KEEP_OFF, wedge_width(job.unit) + fixture_rule("fixture_batten", job.unit))
    size = (
        across + width + beside + fixture_rule("fixture_clamp", job.unit),
        along + length + machine.waste + machine.over + KEEP_OFF,
    )
    whole = fixture_rule("fixture_whole", job.unit)
    wide, long = (math.ceil(one / whole - 1e-9) * whole for one in size)
    return wide, long


def wedge_width(unit: Unit) -> float:
    """Return how wide a pair of wedges is, mm: 16, or 5/8 in."""
    return 16.0 if unit is Unit.MM else 0.625 * MM_PER_INCH


def shared_evenly(run: list[StripPlace], most: int) -> list[list[StripPlace]]:
    """Return a run in as few fixtures as can be, as even as can be."""
    count = -(-len(run) // most)
    return [[run[index] for index in part.tolist()] for part in np.array_split(np.arange(len(run)), count)]


def _gap(front: Front, places: Sequence[StripPlace]) -> float:
    if front.job.carving.packed or len(places) < 2:
        return 0.0
    return places[1].left - places[0].right


def _fixture(front: Front, number: int, places: Sequence[StripPlace]) -> Fixture:
    widths = np.array([place.width for place in places])
    pitch = widths + _gap(front, places)
    lefts = np.concatenate([[0.0], np.cumsum(pitch[:-1])])
    if not front.job.carving.packed:
        # As on the door, to the last bit.
        lefts = np.array([place.left - places[0].left for place in places])
    laid = np.column_stack([lefts, lefts + widths]).ravel()
    known = np.array([edge for place in places for edge in (place.left, place.right)])
    return Fixture(
        front, number, tuple(places), lefts, front.job.blank, front.job.machine.waste, float(laid[-1]), known, laid
    )


def file_stem(fixture: Fixture, what: str) -> str:
    """Return a file's name without its ending, the unit in it: "fixture-01_door-1_strips-01-to-11_rough_mm"."""
    return f"{fixture.name}_{what}_{unit_word(fixture.front)}" if what else f"{fixture.name}_{unit_word(fixture.front)}"
