"""Where everything lies on a fixture: strips, spacers, end blocks, battens, wedges, clamps, screws, and what is kept clear."""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import ArrayLike

from facade.arrays import Array
from facade.cnc.fixture import KEEP_OFF, Fixture, Held, board_size, wedge_width
from facade.cnc.screwing import NOT_HELD, Driven, Holding, Spoilboard, spoilboard_of
from facade.front import Front
from facade.job import fixture_rule
from facade.lengths import Unit
from facade.measuring.screws import clearance_hole, pilot_hole
from facade.templates.frame import rule_length
from facade.wood.species import species

_CLAMPS_APART = 400.0
_WEDGES_APART = 250.0
# Stops that the spoilboard is put back against: two at its lower edge, one at its left, mm.
_STOP, STOP_DEEP = 30.0, 10.0
# How long a pair of wedges is beside its width; how far it is slid together.
_LONG = 4.0
# Battens, wedges and spacers that would have to be lower than this hold nothing, mm: common practice.
_LEAST_LOW = 3.0
# Between the board and the proof square, mm.
_BESIDE = 20.0


@dataclass(frozen=True)
class Plan:
    """Where everything lies on a fixture, mm from the lower left corner of its first strip; rectangles are (n, 4): left, right, bottom,
    top. The corner of the spoilboard, which is the zero of files for the machine, lies at `corner`."""

    fixture: Fixture
    holding: Holding = NOT_HELD

    @property
    def front(self) -> Front:
        """The front that the strips are of."""
        return self.fixture.front

    @property
    def unit(self) -> Unit:
        """The unit of the job."""
        return self.front.job.unit

    @property
    def corner(self) -> tuple[float, float]:
        """The lower left machined corner of the spoilboard."""
        across, along = self.fixture.first_strip
        return -across, -along

    @property
    def holds_aside(self) -> bool:
        """Whether the floor leaves height for battens, wedges and spacers that the cutter does not meet."""
        return self.fixture.low >= _LEAST_LOW

    @property
    def strips(self) -> Array:
        """The strips."""
        fixture = self.fixture
        return _rectangles(fixture.lefts, fixture.rights, 0.0, fixture.length)

    @property
    def spacers(self) -> Array:
        """Low spacers in the gaps, as long as the strips; none without gaps, or where the floor leaves no height for them."""
        fixture = self.fixture
        if fixture.spacer <= 0.0 or not self.holds_aside:
            return np.empty((0, 4))
        return _rectangles(fixture.rights[:-1], fixture.lefts[1:], 0.0, fixture.length)

    @property
    def ends(self) -> Array:
        """The end blocks of waste, below and above the strips."""
        waste, length = self.fixture.waste, self.fixture.length
        return _rectangles(0.0, self.fixture.width, [-waste, length], [0.0, length + waste])

    @property
    def battens(self) -> Array:
        """Low battens, left and right; none where the floor leaves no height for them."""
        if not self.holds_aside:
            return np.empty((0, 4))
        wide, wedge = fixture_rule("fixture_batten", self.unit), wedge_width(self.unit)
        right = self.fixture.width + wedge
        waste = self.fixture.waste
        return _rectangles([-wide, right], [0.0, right + wide], -waste, self.fixture.length + waste)

    @property
    def wedges(self) -> Array:
        """Pairs of low wedges between the last strip and the right batten; none where there is no batten."""
        if not self.holds_aside:
            return np.empty((0, 4))
        wide, length = wedge_width(self.unit), self.fixture.length
        half = min(_LONG * wide, length / 3.0) / 2.0
        count = max(2, math.ceil(length / _WEDGES_APART))
        middles = (np.arange(count) + 0.5) * (length / count)
        return _rectangles(self.fixture.width, self.fixture.width + wide, middles - half, middles + half)

    @property
    def passed(self) -> Array:
        """All that the cutter may pass over, (4,)."""
        fixture, over = self.fixture, self.front.job.machine.over
        beyond = fixture.waste + over
        return np.array([-over, fixture.width + over, -beyond, fixture.length + beyond])

    @property
    def keep_out(self) -> Array:
        """Where no clamp and no screw from above may be, (4,)."""
        return self.passed + KEEP_OFF * np.array([-1.0, 1.0, -1.0, 1.0])

    @cached_property
    def board(self) -> Array:
        """The spoilboard, (4,): its outermost stretch, left and right, is for clamps; as wide as the widest fixture asks."""
        left, bottom = self.corner
        wide, long = board_size(self.front, self.fixture.widest, self.fixture.length)
        return np.array([left, left + wide, bottom, bottom + long])

    @property
    def stops(self) -> Array:
        """What the spoilboard is put back against: two stops at its lower edge, one at its left."""
        left, right, bottom, top = self.board.tolist()
        size = min(_STOP, (right - left) / 4.0, (top - bottom) / 4.0)
        middles = np.array([left + (right - left) * share for share in (0.12, 0.9)])
        below = _rectangles(middles - size / 2.0, middles + size / 2.0, bottom - STOP_DEEP, bottom)
        up = bottom + 0.7 * (top - bottom)
        return np.concatenate([below, _rectangles(left - STOP_DEEP, left, up - size / 2.0, up + size / 2.0)])

    @property
    def clamps(self) -> Array:
        """The pads of clamps on the outermost stretch of the spoilboard, its lower left corner left free."""
        left, right, bottom, top = self.board.tolist()
        clamp = fixture_rule("fixture_clamp", self.unit)
        pad = min(clamp, (top - bottom) / 3.0)
        count = max(2, math.ceil((top - bottom - 2.0 * pad) / _CLAMPS_APART) + 1)
        at = np.linspace(bottom + pad, top - pad, count)
        sides = (_rectangles(left, left + clamp, at, at + pad), _rectangles(right - clamp, right, at, at + pad))
        return np.concatenate(sides)

    @property
    def square(self) -> Array:
        """The proof square, (4,): beside the spoilboard, level with its lower edge."""
        size, left, bottom = rule_length(self.front.job.ruler), float(self.board[1]) + _BESIDE, float(self.board[2])
        return np.array([left, left + size, bottom, bottom + size])

    @cached_property
    def screws(self) -> list[Held]:
        """The screws from behind."""
        return self.fixture.screws()

    @property
    def driven(self) -> list[Driven]:
        """The screws that are in while the strips are carved."""
        return self.holding.used

    @property
    def spoilboard(self) -> Spoilboard:
        """What the spoilboard is to be."""
        return spoilboard_of(self.front.job)

    @property
    def pilot(self) -> float:
        """Diameter of the pilot holes in the strips."""
        job = self.front.job
        return pilot_hole(job.fixing.shank, softwood=species(job.wood.species).softwood)

    @property
    def clearance(self) -> float:
        """Diameter of the holes through the spoilboard: the least that lets the screw through, so that it holds its place."""
        return clearance_hole(self.front.job.fixing.shank)[0]


def _rectangles(*sides: ArrayLike) -> Array:
    """Return rectangles (n, 4) of left, right, bottom and top."""
    arrays = np.broadcast_arrays(*(np.atleast_1d(np.asarray(side, dtype=np.float64)) for side in sides))
    return np.stack(arrays, axis=-1)


def corners(rectangle: Array) -> Array:
    """Return the corners (4, 2) of a rectangle, anticlockwise from the lower left."""
    left, right, bottom, top = rectangle.tolist()
    return np.array([[left, bottom], [right, bottom], [right, top], [left, top]])
