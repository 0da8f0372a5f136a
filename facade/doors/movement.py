"""What the air does to a clad door: how far its strips grow, whether gaps close, and how far the door bows.

Everything here is elastic, with the moisture even through each strip and the board neither swelling nor creeping. Real wood
creeps, real boards swell a little the same way, and rings and plies slide on each other more easily than a body of one stiffness
does: the bow is an upper bound. Screws in wide holes let a strip slide; what friction is left is not counted.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from facade.doors.timber import moisture_in, moisture_now
from facade.doors.trying import layout_with
from facade.front import Front
from facade.job import Job
from facade.job.bench import Held
from facade.job.changing import Settings, job_with
from facade.layout import Division, Door, Layout
from facade.wood import Species, species
from facade.wood.moisture import coefficient_at, movement, movement_by_shrinkage
from facade.wood.strength import stiffness_across

# % moisture between which the handbook's coefficients of movement hold (Wood Handbook, FPL-GTR-190, Table 13-5).
_COEFFICIENTS_HOLD = (6.0, 14.0)
# Keeps the bow above that of an elastic finite-element model, whose corners pull a little more than two half-spaces do: found
# by comparison, and held by the tests.
_CORNERS = 1.15


@dataclass(frozen=True)
class Moisture:
    """Moisture of the wood, %: when it is milled and mounted, in the driest weeks, and in the dampest."""

    now: float
    driest: float
    dampest: float


def moisture_of(job: Job) -> Moisture:
    """Return what the wood of a job is at now, as a meter read it or as it settles in the room, and what it will be at."""
    return Moisture(moisture_now(job), moisture_in(job.room.driest), moisture_in(job.room.dampest))


def swelling(wood: Species, rings: float, start: float, end: float) -> float:
    """Return the change of a strip's width by its width, from `start` to `end` % moisture; below zero when it shrinks.

    By coefficient where both are within 6 to 14 %, by total shrinkage beyond (Wood Handbook, FPL-GTR-190, Eqs. (13-2) and
    (13-3)); `rings` are degrees between growth rings and face.
    """
    least, most = _COEFFICIENTS_HOLD
    if least <= min(start, end) and max(start, end) <= most:
        return movement(1.0, coefficient_at(wood.radial, wood.tangential, rings), start, end)
    shrinkage = coefficient_at(wood.shrinkage_radial, wood.shrinkage_tangential, rings)
    return movement_by_shrinkage(1.0, shrinkage, start, end)


@dataclass(frozen=True)
class Cladding:
    """The strips of one door as its board feels them; lengths in mm, stiffnesses across the door in MPa.

    `width` is that of the door, `strip` that of a strip, `thickness` the mean of the finished strips.
    """

    width: float
    count: int
    strip: float
    gap: float
    edge: float
    thickness: float
    stiffness: float
    board: float
    board_stiffness: float
    held: Held
    balanced: bool

    @property
    def pitch(self) -> float:
        """From strip to strip."""
        return self.strip + (self.gap if self.count > 1 else 0.0)

    @property
    def glued(self) -> float:
        """Width of a strip's back that is glued."""
        return {Held.GLUE: self.strip, Held.BEAD: self.strip / 3.0, Held.SCREWS: 0.0}[self.held]

    def growth(self, strain: float) -> float:
        """Return how much wider a strip becomes: what it takes from each gap, half of it from each side."""
        return self.strip * strain

    def closes(self, strain: float) -> bool:
        """Tell whether growing strips close their gaps and push."""
        return self.count > 1 and strain > 0.0 and self.gap <= self.growth(strain)

    def pushes(self, strain: float) -> float:
        """Return how much more width the whole row wants than its gaps and the edges of the door give; 0 where they give it."""
        return max(0.0, self.count * self.growth(strain) - (self.count - 1) * self.gap - 2.0 * self.edge)

    def bow(self, strain: float) -> float:
        """Return how far the middle of the door stands forward of its edges for a swelling of its strips; behind below zero.

        Until gaps close each strip bends the board by itself; from then on all do together. Strips packed tight and glued are
        taken to hold together when they shrink, too.
        """
        if self.held is Held.SCREWS or self.balanced:
            return 0.0
        together = self._together(strain)
        curvature = (strain - together) * single_curvature(self) + together * layered_curvature(
            self.thickness, self.board, self.stiffness, self.board_stiffness
        )
        clad = self.count * self.pitch - (self.pitch - self.strip)
        # An arc over the clad width, straight beyond it.
        return curvature * clad * (2.0 * self.width - clad) / 8.0

    def _together(self, strain: float) -> float:
        """Return the part of a swelling that all strips press with as one."""
        if self.count == 1:
            return 0.0
        return strain if self.gap <= 0.0 else max(0.0, strain - self.gap / self.strip)


def layered_curvature(upper: float, lower: float, upper_stiffness: float, lower_stiffness: float) -> float:
    """Return the curvature (1/mm) of two bonded layers, for a strain of 1 between them; thicknesses in mm.

    S. Timoshenko, "Analysis of bi-metal thermostats", Journal of the Optical Society of America 11(3), 1925.
    """
    m, n = upper / lower, upper_stiffness / lower_stiffness
    return 6.0 * (1.0 + m) ** 2 / ((upper + lower) * (3.0 * (1.0 + m) ** 2 + (1.0 + m * n) * (m * m + 1.0 / (m * n))))


def single_curvature(clad: Cladding) -> float:
    """Return the mean curvature (1/mm) that strips with open gaps give their board, for a swelling of 1.

    A narrow glue line of width b between two elastic half-planes that differ by a strain of 1 carries the shear
    E x / (2 sqrt(b^2/4 - x^2)), 1/E = 1/E1 + 1/E2, from the inversion of Cauchy's integral (K. L. Johnson, Contact Mechanics,
    1985, chapter 2, from memory). The force behind it, E sqrt(b^2/4 - x^2) / 2, acts at half the board's thickness, so that the
    board bends by pi E b^2 t / (32 D) in all, D its bending stiffness for a width of 1. Wide glue lines cannot bend it more than
    layers do, of any part of the strip's thickness, since a strip's top may be too far away to pull along. A hyperbolic tangent
    leads from one to the other.
    """
    b, board = clad.glued, clad.board
    together = clad.stiffness * clad.board_stiffness / (clad.stiffness + clad.board_stiffness)
    narrow = _CORNERS * math.pi * together * b * board / (32.0 * clad.board_stiffness * board**3 / 12.0)
    wide = max(
        layered_curvature(part, board, clad.stiffness, clad.board_stiffness)
        for part in np.linspace(0.05, 1.0, 20) * clad.thickness
    )
    return float(wide * math.tanh(narrow / wide) * b / clad.pitch)


@dataclass(frozen=True)
class DoorMovement:
    """One door through the year: its strips, and how much they swell from now to the driest and to the dampest weeks."""

    door: int
    cladding: Cladding
    driest: float
    dampest: float

    @property
    def closes(self) -> bool:
        """Whether gaps are closed in the dampest weeks, or in the driest where the wood is milled drier still."""
        return any(self.cladding.closes(strain) for strain in (self.driest, self.dampest))

    @property
    def growth(self) -> float:
        """The most that a strip becomes wider than now, mm; below zero when it only shrinks."""
        return self.cladding.growth(max(self.driest, self.dampest))

    @property
    def pushes(self) -> float:
        """The most that the row of strips wants beyond its gaps and edges, mm."""
        return self.cladding.pushes(max(self.driest, self.dampest))

    @property
    def bow(self) -> float:
        """The greatest bow of the door, mm: forward above zero, backward below."""
        return max((self.cladding.bow(self.driest), self.cladding.bow(self.dampest)), key=abs)


def door_movements(front: Front) -> list[DoorMovement]:
    """Return how every door of a front moves."""
    return _movements(front.job, front.layout, _thicknesses(front))


def movements_with(front: Front, settings: Settings) -> list[DoorMovement] | None:
    """Return how every door would move with other settings, its strips as thick as they are; None where there is no layout."""
    layout = layout_with(front.job, settings)
    return None if layout is None else _movements(job_with(front.job, settings), layout, _thicknesses(front))


def gaps_close(job: Job, layout: Layout) -> bool:
    """Return whether the strips of any door close their gaps through the year."""
    return any(door.closes for door in _movements(job, layout, dict.fromkeys(range(1, len(layout.doors) + 1), 1.0)))


def _thicknesses(front: Front) -> dict[int, float]:
    """Return the mean thickness of the strips of each door, mm."""
    thickness = dict.fromkeys((door.number for door in front.layout.doors), 0.0)
    for one in front.measures():
        thickness[one.door] += one.solid.volume / (one.length * one.width)
    return {
        number: some / division.count
        for (number, some), division in zip(thickness.items(), front.layout.divisions, strict=True)
    }


def _movements(job: Job, layout: Layout, thickness: Mapping[int, float]) -> list[DoorMovement]:
    moisture, wood, rings = moisture_of(job), species(job.wood.species), job.wood.rings
    driest = swelling(wood, rings, moisture.now, moisture.driest)
    dampest = swelling(wood, rings, moisture.now, moisture.dampest)
    return [
        DoorMovement(door.number, _cladding(job, door, division, thickness[door.number]), driest, dampest)
        for door, division in zip(layout.doors, layout.divisions, strict=True)
    ]


def _cladding(job: Job, door: Door, division: Division, thickness: float) -> Cladding:
    """Return the cladding of a door whose strips are `thickness` mm thick on average."""
    wood = species(job.wood.species)
    return Cladding(
        width=door.width,
        count=division.count,
        strip=division.width,
        gap=division.gap,
        edge=division.edge,
        thickness=thickness,
        stiffness=stiffness_across(wood.stiffness, wood.across_radial, wood.across_tangential, job.wood.rings),
        board=job.board.thickness,
        board_stiffness=job.board.stiffness,
        held=job.fixing.by,
        balanced=job.board.balanced,
    )
