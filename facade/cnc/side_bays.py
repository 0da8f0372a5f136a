"""How strips lie on their side on the machine: a board with bays, each with a batten behind, a stop at both ends, and what holds it.

Lengths are mm, x along the strips and y across them, up the machine. In a bay x 0, y 0 is the lower left corner of the strip's back;
the zero of all files is the lower left corner of the board, which stays free.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np

from facade.arrays import Array
from facade.cnc.fixture import MOST, neighbours, shared_evenly
from facade.cnc.order import Order, wanted_strips
from facade.errors import mistake
from facade.front import Front
from facade.job import Cut, Hold
from facade.job.machine import fixture_rule, side_waste
from facade.layout import StripPlace
from facade.lengths import MM_PER_INCH, Unit
from facade.measuring.screws import clearance_hole, lengths_sold
from facade.rules import rule

# What the way from strip to strip is rounded up to, mm.
_PITCH = {Unit.MM: 1.0, Unit.INCH: MM_PER_INCH / 16}
# A screw in waste stands so many of its shanks from the back; its head is so many of them wide: from memory.
_FROM_BACK, _HEAD = 1.5, 2.0
# Where a run turns from one straight into another that rises, a cutter does not come nearer to the corner than so much of its radius.
_CORNER = math.tan(math.radians(22.5))
# Further than it must be, mm: beyond a corner, and of a holder above the strip.
_MORE = 0.2
HOLDER_OFF = 2.0
_HAIR = 1e-9


@dataclass(frozen=True)
class Bay:
    """Where all that holds a strip on its side is, and where the cutter may be: alike for all strips of a front.

    `blank` is how high the raw face lies above the back.
    """

    front: Front
    blank: float

    @property
    def length(self) -> float:
        """Length of the strips."""
        return self.front.layout.strips[0].length

    @property
    def cutter(self) -> float:
        """Diameter of the cutter."""
        return self.front.job.machine.side.cutter

    @property
    def waste(self) -> float:
        """By how much the strip is longer at each end while it is cut."""
        return side_waste(self.front.job.machine)

    @property
    def keep(self) -> float:
        """What the cutter keeps off all that holds the strip."""
        return rule("side_keep")

    @property
    def stop(self) -> float:
        """Length of the stops at the ends."""
        return fixture_rule("side_stop", self.front.job.unit)

    @cached_property
    def dip(self) -> float:
        """The most by which a run may go on falling beyond an end, so that its last place is cut as it should be."""
        return min(self.keep / 2, self._line_least / 4)

    @property
    def _line_least(self) -> float:
        return self.front.surface.floor + self.front.job.wood.sanding

    @cached_property
    def lowest(self) -> float:
        """No run is lower than this."""
        return self._line_least - self.dip

    @cached_property
    def stop_up(self) -> float:
        """How far the stops at the ends reach up beside the strip, from its back."""
        least = self.lowest / 2
        return max(self.front.job.ruler.down(self.lowest - self.keep), least)

    @property
    def lead(self) -> float:
        """How far beyond the strip's ends the middle of the cutter goes down and up: its whole diameter clear of waste and stop."""
        return self.waste + self.stop + self.keep + self.cutter / 2

    @cached_property
    def over_waste(self) -> float:
        """A run over the waste is at least as high as this: it clears the screws."""
        if not self.front.job.machine.hold.in_waste:
            return 0.0
        return self.screw_up + self.head / 2 + self.keep

    @property
    def screw(self) -> float:
        """Shank of the screws in the waste."""
        return rule("side_screw")

    @property
    def head(self) -> float:
        """Width of their heads."""
        return _HEAD * self.screw

    @property
    def hole(self) -> float:
        """Diameter of their holes through the waste."""
        return clearance_hole(self.screw)[0]

    @cached_property
    def screw_length(self) -> float:
        """The shortest that can be bought and bites deep enough into the board; what would, where none can be bought."""
        wanted = self.widest + rule("side_bite")
        return min((one for one in lengths_sold(self.front.job) if one >= wanted - _HAIR), default=wanted)

    @property
    def screw_up(self) -> float:
        """How far from the back the screws stand."""
        return min(self.front.job.ruler.up(_FROM_BACK * self.screw), self.blank / 2)

    @cached_property
    def screws(self) -> Array:
        """The screws that hold the waste, (n, 2): one at each end, none where there is no waste."""
        hold = self.front.job.machine.hold
        if not hold.in_waste:
            return np.empty((0, 2))
        cut = self.cutter if hold is Hold.TABS else 0.0
        out = (cut + self.waste) / 2
        return np.array([[-out, self.screw_up], [self.length + out, self.screw_up]])

    @cached_property
    def top(self) -> float:
        """How high the cutter's rim comes at most."""
        return max(self.blank, self.over_waste) + self.front.job.machine.side.leave + self.cutter

    @cached_property
    def pitch(self) -> float:
        """From one strip to the next."""
        return self.blank + self.apart

    @cached_property
    def apart(self) -> float:
        """Room between two blanks that are cut together; raises JobError where the cutter does not pass beside a batten."""
        side, show = self.front.job.machine.side, self.front.job.ruler.text
        way = self.top - self.blank + self.keep
        if side.apart is None:
            whole = _PITCH[self.front.job.unit]
            return float(math.ceil((self.blank + way + self.stop) / whole - _HAIR) * whole - self.blank)
        least = way + rule("side_stop_least")
        if side.apart < least - _HAIR:
            raise mistake(
                "machine.side.apart",
                f"`machine.side.apart` must be at least {show(self.front.job.ruler.up(least))}: a cutter of {show(side.cutter, 3)} "
                f"must pass "
                f"between a strip and the stop of the next (got {show(side.apart, 3)}): lay the strips further apart, or take a "
                f"thinner cutter",
            )
        return side.apart

    @cached_property
    def batten(self) -> float:
        """Width of the batten behind each strip."""
        return self.apart - (self.top - self.blank + self.keep)

    @property
    def stops(self) -> list[Array]:
        """The batten behind the strip and the stops at its ends, each (4,): left, right, bottom, top."""
        low, left, right = -self.batten, -self.waste, self.length + self.waste
        return [
            np.array([left, right, low, 0.0]),
            np.array([left - self.stop, left, low, self.stop_up]),
            np.array([right, right + self.stop, low, self.stop_up]),
        ]

    @property
    def bottom_stop(self) -> Array:
        """The stop at the BOTTOM end, which takes what the cutter pushes along."""
        return self.stops[1]

    @cached_property
    def area(self) -> Array:
        """Where tape or a seal goes under the strip, (4,): clear of the cutter's tip, which goes into the board."""
        off = self.keep / 2
        return np.array([off, self.length - off, off, max(self.lowest - off, self.lowest / 2)])

    @property
    def cm2(self) -> float:
        """How large that is, cm2."""
        left, right, bottom, top = self.area.tolist()
        return float((right - left) * (top - bottom) / 100.0)

    def tab(self, end: int) -> Array:
        """Return the wood that a cut to length leaves at an end, 0 the BOTTOM and 1 the TOP one, as a closed run (places, 2)."""
        height, radius = self.front.job.machine.side.tab, self.cutter / 2
        angles = np.linspace(0.0, np.pi, 25)
        round_end = np.column_stack([-radius + radius * np.cos(angles), height + radius - radius * np.sin(angles)])
        run = np.concatenate([[[-self.cutter, 0.0], [0.0, 0.0]], round_end])
        return run if end == 0 else np.column_stack([self.length - run[:, 0], run[:, 1]])

    @cached_property
    def end_cuts(self) -> list[Array]:
        """The cuts to length where tabs hold, as the cutter's outside goes, (2, 2): from the raw face down to the tab."""
        if self.front.job.machine.hold is not Hold.TABS:
            return []
        side = self.front.job.machine.side
        down = [self.blank + side.leave + self.cutter / 2, side.tab + self.cutter / 2]
        return [np.array([[x, down[0]], [x, down[1]]]) for x in (0.0, self.length)]

    @cached_property
    def end_middles(self) -> list[Array]:
        """The same as the cutter's middle goes, in the waste."""
        aside = np.array([[-self.cutter / 2, 0.0], [self.cutter / 2, 0.0]])
        return [run + more for run, more in zip(self.end_cuts, aside[: len(self.end_cuts)], strict=True)]

    @cached_property
    def least_waste(self) -> float:
        """The shortest waste in which a screw stands clear of the cutter."""
        radius, half = self.cutter / 2, self.head / 2
        rise = math.sqrt(radius * self.dip / 2) + _CORNER * radius + 3 * _MORE + max(self.over_waste - self.lowest, 0.0)
        if self.front.job.machine.hold is Hold.TABS:
            return max(self.cutter + 2 * (half + self.keep), 2 * (rise + half) - self.cutter)
        return 2 * (rise + half)

    @property
    def first(self) -> tuple[float, float]:
        """Where the first strip lies on the board, along and across it."""
        return self.front.job.first_on_side

    def board(self, strips: int) -> tuple[float, float]:
        """Return how long the board is along the strips, and how wide, for so many of them."""
        (along, across), whole = self.first, fixture_rule("fixture_whole", self.front.job.unit)
        wide = across + (strips - 1) * self.pitch + self.top + self.keep
        return 2 * along + self.length, math.ceil(wide / whole - _HAIR) * whole

    @cached_property
    def widest(self) -> float:
        """Width of the widest strip: as high as it stands above the board on its side."""
        return max(place.width for place in self.front.layout.strips)


def turning_room(bay: Bay, slope: float) -> float:
    """Return how far a run goes on along the slope of its end, mm, so that the cutter touches its very last place.

    `slope` is that by which it falls outwards. Between two straights a circle touches each of them radius * tan(angle / 2) from their
    corner; it goes on no further than the dip.
    """
    if slope <= _HAIR:
        return 0.0
    return min(bay.cutter / 2 * math.tan(math.atan(slope) / 2) + _MORE, bay.dip / slope)


def rising_room(bay: Bay) -> float:
    """Return how far a run stays level before it rises at 45 degrees, mm."""
    return _CORNER * bay.cutter / 2 + _MORE


@dataclass(frozen=True)
class Levels:
    """How deep a strip is cut: tips of the cutter above the board, mm, from the first level to the last, below zero under the strip."""

    tips: tuple[float, ...]
    last_at_once: bool

    @property
    def each(self) -> float:
        """How deep each level is, mm."""
        return self.tips[-2] - self.tips[-1] if len(self.tips) > 1 else 0.0


def levels(front: Front, width: float) -> Levels:
    """Return the levels in which a strip as wide as this is cut.

    The last run, which takes little, is cut at its whole depth where the cutting edge is long enough, or is not said.
    """
    side = front.job.machine.side
    deep = width + side.below
    edge = side.length or deep
    most = min(side.level or side.cutter, edge)
    count = max(1, math.ceil(deep / most - _HAIR))
    tips = tuple(width - deep * (k + 1) / count for k in range(count))
    return Levels(tips, edge >= deep - _HAIR)


def bay_of(front: Front, order: Order) -> Bay:
    """Return the bays of an order.

    Raises JobError for a cutter that does not reach down, a way between stops that is too narrow for it, waste that is too short for
    its screw, and a strip that would be held by friction alone.
    """
    bay = Bay(front, front.job.blank)
    _refuse_cutter(bay)
    _refuse_friction(front)
    _ = bay.apart
    _refuse_waste(bay)
    _refuse_tab(bay)
    return bay


def batches(bay: Bay, order: Order) -> list[list[StripPlace]]:
    """Return the strips that are cut together, from the left; raises JobError for a bed that is too small."""
    return _batches(bay, wanted_strips(bay.front, order))


def _batches(bay: Bay, numbers: Sequence[int]) -> list[list[StripPlace]]:
    most = _most(bay)
    return [some for run in neighbours(bay.front, numbers) for some in shared_evenly(run, most)]


def bays_of_board(bay: Bay) -> int:
    """Return how many bays the board has: as many as the most strips of the front that are cut together, whatever is asked for."""
    return max(map(len, _batches(bay, bay.front.numbers)))


def _refuse_cutter(bay: Bay) -> None:
    """Raise JobError for a cutter that cannot come down beside the widest strip."""
    ruler, side, widest = bay.front.job.ruler, bay.front.job.machine.side, bay.widest
    show, deep = ruler.text, widest + side.below
    least = ruler.up(deep + HOLDER_OFF)
    if side.reach is not None and side.reach < deep + HOLDER_OFF - _HAIR:
        raise mistake(
            "machine.side.reach",
            f"`machine.side.reach` must be at least {show(least)}, so that the holder stays above strips {show(widest, 3)} wide (got "
            f"{show(side.reach, 3)}): clamp the cutter further out, or take a longer one",
        )
    short = side.length is not None and side.length < deep - _HAIR
    if short and side.shank is not None and side.shank > side.cutter + _HAIR:
        raise mistake(
            "machine.side.shank",
            f"`machine.side.shank` must be at most the cutter's {show(side.cutter, 3)}: with an edge of {show(side.length or 0.0, 3)} the "
            f"shank goes down beside the wood of strips {show(widest, 3)} wide (got {show(side.shank, 3)}): take a cutter with a thinner "
            "shank, or with a longer edge",
        )


def _refuse_waste(bay: Bay) -> None:
    machine, ruler = bay.front.job.machine, bay.front.job.ruler
    if machine.hold.in_waste and machine.waste < bay.least_waste - _HAIR:
        raise mistake(
            "machine.waste",
            f"`machine.waste` must be at least {ruler.text(ruler.up(bay.least_waste))} where strips on their side are held by "
            f"{machine.hold.value}, so that a screw stands in it clear of a cutter of {ruler.text(bay.cutter, 3)} (got "
            f"{ruler.text(machine.waste, 3)}): leave more waste, or take a thinner cutter",
        )


def _refuse_tab(bay: Bay) -> None:
    machine, show = bay.front.job.machine, bay.front.job.ruler.text
    if machine.hold is Hold.TABS and machine.side.tab > bay.lowest + _HAIR:
        raise mistake(
            "machine.side.tab",
            f"`machine.side.tab` must be at most {show(bay.front.job.ruler.down(bay.lowest))}, below the face of the "
            f"thinnest end (got "
            f"{show(machine.side.tab, 3)}): leave smaller tabs, or hold strips by screws",
        )


def _refuse_friction(front: Front) -> None:
    machine = front.job.machine
    if machine.cut is Cut.EITHER and not machine.hold.in_waste:
        raise mistake(
            "machine.cut",
            f'`machine.cut` must be "climb" where strips on their side are held by {machine.hold.value} (got "either"): going back, the '
            "cutter pulls a strip off its batten, and nothing but friction would hold it; or hold strips by screws",
        )


def _most(bay: Bay) -> int:
    """Return how many strips the bed takes; raises JobError where it takes none, or fewer than were asked for."""
    machine, show = bay.front.job.machine, bay.front.job.ruler.text
    most = machine.strips or MOST
    if machine.bed is None:
        return most
    across, along = machine.bed
    length, _ = bay.board(1)
    if length > along + _HAIR:
        raise mistake(
            "machine.bed",
            f"`machine.bed` must reach at least {show(length)} along strips of {show(bay.length)}, with the stops at their ends and the "
            f"cutter's way beyond them (got {show(along)}): take a machine that reaches further",
        )
    fit = next((count for count in range(most, 0, -1) if bay.board(count)[1] <= across + _HAIR), 0)
    if fit < (machine.strips or 1):
        raise mistake(
            "machine.strips" if fit else "machine.bed",
            f"`machine.bed` reaches {show(across)} across, enough for {fit} strips on their sides with battens and the cutter between them "
            f"(got `machine.strips` of {machine.strips or 1}): take fewer strips at a time",
        )
    return fit
