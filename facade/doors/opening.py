"""The measured opening: the size the front must have, which reading is doubtful, and where edge strips are planed."""

from __future__ import annotations

import math
from dataclasses import dataclass
from enum import StrEnum
from functools import cached_property

import numpy as np

from facade.arrays import Array
from facade.errors import JobError
from facade.job import Hand, Job, Mounting, Opening
from facade.layout import Layout, lay_out
from facade.rules import rule


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

# How much readings may be off, and how far cases are from right rectangles, in shares of what readings may differ by. They
# decide only which of several readings is the likeliest slip.
_READ, _BUILT = 0.25, 1.5
_LEAST = 0.05  # mm
# A slip is named alone when the next best explanation is so much worse (a difference of chi squares).
_CLEARLY = 2.0


Readings = dict[Name, float]


def readings_of(opening: Opening) -> Readings:
    """Return what was measured, by name; diagonals and leans only where they were."""
    found = dict(zip((*WIDTHS, *HEIGHTS), (*opening.widths, *opening.heights), strict=True))
    if opening.diagonals is not None:
        found |= dict(zip(DIAGONALS, opening.diagonals, strict=True))
    if "plumb" in opening.model_fields_set:
        found |= dict(zip(LEANS, opening.plumb, strict=True))
    return found


@dataclass(frozen=True)
class Corners:
    """How far the corners lie from those of a right rectangle standing on the lower left one, mm, right and up."""

    width: float
    height: float
    bottom_right: tuple[float, float]
    top_left: tuple[float, float]
    top_right: tuple[float, float]


class Quadrilateral:
    """The four corners that fit the readings best, to first order in how far they are from a right rectangle.

    Six numbers stand for the shape: right and up of the lower right, upper left and upper right corner. Each reading is a
    weighted sum of them; sides are straight. That sides stand plumb, sill and head lie level is believed weakly, and
    settles what the readings leave open.
    """

    def __init__(self, readings: Readings, off: float) -> None:
        """`off` is what readings may differ by, mm."""
        self._readings = readings
        # A limit of nothing at all would leave nothing to weigh by.
        self._off = max(off, _LEAST)
        # Medians, so that one slip does not move the rectangle.
        self.width = float(np.median([readings[name] for name in WIDTHS]))
        self.height = float(np.median([readings[name] for name in HEIGHTS]))
        self._rows = _rows(self.width, self.height)
        self._plain = _plain(self.width, self.height)

    def corners(self, without: Name | None = None) -> Corners:
        """Return the corners, all readings counted but one."""
        shape = self._solve(without)[0]
        return Corners(
            self.width,
            self.height,
            (float(shape[0]), float(shape[1])),
            (float(shape[2]), float(shape[3])),
            (float(shape[4]), float(shape[5])),
        )

    def without(self, name: Name) -> tuple[float, float]:
        """Return what the other readings give for one, and the chi square that is left when it is set aside."""
        shape, left = self._solve(name)
        return self._plain[name] + float(self._rows[name] @ shape), left

    def _solve(self, without: Name | None) -> tuple[Array, float]:
        names = [name for name in self._readings if name is not without]
        read, built = _READ * self._off, _BUILT * self._off
        rows = np.array([self._rows[name] for name in names]) / read
        wanted = np.array([self._readings[name] - self._plain[name] for name in names]) / read
        rows = np.vstack([rows, _RIGHT_ANGLED / built])
        wanted = np.append(wanted, np.zeros(len(_RIGHT_ANGLED)))
        shape = np.linalg.lstsq(rows, wanted, rcond=None)[0].astype(np.float64)
        return shape, float(((rows @ shape - wanted) ** 2).sum())


# Columns: right and up of the lower right, of the upper left, of the upper right corner.
_RIGHT_ANGLED = np.array(
    [
        [0.0, 0.0, 1.0, 0.0, 0.0, 0.0],  # left side plumb
        [-1.0, 0.0, 0.0, 0.0, 1.0, 0.0],  # right side plumb
        [0.0, 1.0, 0.0, 0.0, 0.0, 0.0],  # sill level
        [0.0, 0.0, 0.0, -1.0, 0.0, 1.0],  # head level
    ]
)


def _rows(width: float, height: float) -> dict[Name, Array]:
    """Return how much each reading grows with each of the six numbers."""
    diagonal = math.hypot(width, height)
    across, along = width / diagonal, height / diagonal
    rows = {
        Name.TOP: [0, 0, -1, 0, 1, 0],
        Name.ACROSS: [0.5, 0, -0.5, 0, 0.5, 0],
        Name.BOTTOM: [1, 0, 0, 0, 0, 0],
        Name.LEFT: [0, 0, 0, 1, 0, 0],
        Name.UPRIGHT: [0, -0.5, 0, 0.5, 0, 0.5],
        Name.RIGHT: [0, -1, 0, 0, 0, 1],
        Name.FALLING: [across, -along, -across, along, 0, 0],
        Name.RISING: [0, 0, 0, 0, across, along],
        Name.LEFT_LEAN: [0, 0, 1, 0, 0, 0],
        Name.RIGHT_LEAN: [-1, 0, 0, 0, 1, 0],
    }
    return {name: np.array(row, dtype=np.float64) for name, row in rows.items()}


def _plain(width: float, height: float) -> Readings:
    """Return the readings of a right rectangle."""
    return (
        dict.fromkeys(WIDTHS, width)
        | dict.fromkeys(HEIGHTS, height)
        | dict.fromkeys(DIAGONALS, math.hypot(width, height))
        | dict.fromkeys(LEANS, 0.0)
    )


@dataclass(frozen=True)
class Closure:
    """A sum of readings that is nought where they agree: what is left of it, mm, and what is held against what."""

    left: float
    words: str


def closures(readings: Readings) -> list[Closure]:
    """Return what is left over wherever readings say the same thing twice.

    Diagonals: in a parallelogram the squares of the four sides add up to those of the two diagonals; in any other
    quadrilateral too, less four times the square of the distance between the diagonals' middles (Euler), which is of
    second order here.
    """
    top, across, bottom = (readings[name] for name in WIDTHS)
    left, upright, right = (readings[name] for name in HEIGHTS)
    found = [
        Closure(across - (top + bottom) / 2, "the width in the middle against those at top and bottom"),
        Closure(upright - (left + right) / 2, "the height in the middle against those at left and right"),
    ]
    if Name.FALLING in readings:
        sides = math.sqrt((top**2 + bottom**2 + left**2 + right**2) / 4)
        diagonals = math.sqrt((readings[Name.FALLING] ** 2 + readings[Name.RISING] ** 2) / 2)
        found.append(Closure(diagonals - math.sqrt(2.0) * sides, "the diagonals against widths and heights"))
    if Name.LEFT_LEAN in readings:
        leans = readings[Name.RIGHT_LEAN] - readings[Name.LEFT_LEAN]
        found.append(Closure(top - bottom - leans, "the widths at top and bottom against how the sides lean"))
    return found


@dataclass(frozen=True)
class Slip:
    """A reading that the others speak against: what was read, and what they give."""

    name: Name
    read: float
    others_give: float

    @property
    def off(self) -> float:
        """How far it is off, mm."""
        return abs(self.read - self.others_give)


@dataclass(frozen=True)
class Doubt:
    """What does not agree, mm, and the readings of which one may be the slip; none where no single one explains it."""

    closure: Closure
    slips: tuple[Slip, ...]

    @property
    def slip(self) -> Slip | None:
        """The one reading that disagrees while all the others agree."""
        return self.slips[0] if len(self.slips) == 1 else None


def doubt_of(readings: Readings, off: float) -> Doubt | None:
    """Return which reading disagrees with the quadrilateral that the others give; None where they agree within `off` mm."""
    worst = max(closures(readings), key=lambda one: abs(one.left))
    if abs(worst.left) <= off:
        return None
    shape, found = Quadrilateral(readings, off), []
    for name, read in readings.items():
        others_give, left = shape.without(name)
        agree = all(abs(one.left) <= off for one in closures(readings | {name: others_give}))
        if agree:
            found.append((left, Slip(name, read, others_give)))
    found.sort(key=lambda one: one[0])
    slips = tuple(slip for left, slip in found if left <= found[0][0] + _CLEARLY)
    # Two of three that agree settle what is left open.
    odd = [odd_one(readings, names, off) for names in (WIDTHS, HEIGHTS)]
    return Doubt(worst, slips[:1] if slips and slips[0].name in odd else slips)


def odd_one(readings: Readings, names: tuple[Name, ...], off: float) -> Name | None:
    """Return the one of three readings that stands apart while the other two agree within `off` mm."""
    for name in names:
        first, second = (readings[other] for other in names if other is not name)
        if abs(first - second) <= off and min(abs(readings[name] - first), abs(readings[name] - second)) > off:
            return name
    return None


@dataclass(frozen=True)
class Taper:
    """What must be planed off the outer edge of an outermost strip, mm, falling evenly from one end to the other."""

    side: Hand
    strip: int
    at_top: float
    at_bottom: float

    @property
    def most(self) -> float:
        """The greater of both ends, mm."""
        return max(self.at_top, self.at_bottom)


@dataclass(frozen=True)
class OpeningFit:
    """What follows from the readings for the front that stands in the opening, or before it.

    `width` and `height` are those that the front must have, reveals included, and `tightest` the readings they rest on;
    `trusted` are the readings with a slip put right; `off` is by how much readings may differ, and
    `taper_seen` how much a gap may change along a side; all in mm.
    """

    opening: Opening
    readings: Readings
    trusted: Readings
    width: float
    height: float
    tightest: tuple[Name, Name]
    doubt: Doubt | None
    tapers: tuple[Taper, Taper]
    doors: tuple[tuple[float, float], ...]
    off: float
    taper_seen: float

    @property
    def inset(self) -> bool:
        """Whether the doors stand in the opening."""
        return self.opening.mounting is Mounting.INSET

    @property
    def out_of_square(self) -> float | None:
        """How far the upper side is shifted against the lower one, mm; None where no diagonals were measured.

        d sqrt(W^2 + H^2) / (2 W) for diagonals that differ by d: to first order each changes by W / sqrt(W^2 + H^2) of
        the shift, one up, the other down. A reading that is a slip counts as what the others give.
        """
        falling, rising = (self.trusted.get(name) for name in DIAGONALS)
        if falling is None or rising is None:
            return None
        wide, tall = (float(np.median([self.trusted[name] for name in names])) for names in (WIDTHS, HEIGHTS))
        return abs(falling - rising) * math.hypot(wide, tall) / (2 * wide)

    @property
    def planed(self) -> tuple[Taper, ...]:
        """What must be planed off edge strips; doors that lie over their opening have no gap beside it."""
        return tuple(taper for taper in self.tapers if self.inset and taper.most > self.taper_seen)

    @property
    def left_on(self) -> float:
        """What edge strips carry until the door hangs, mm: the usual allowance, or what must be planed if that is more."""
        return max(rule("plane_off"), *(taper.most for taper in self.tapers))

    @cached_property
    def corners(self) -> Corners:
        """The corners that the readings give, the one that is a slip left out."""
        slip = self.doubt.slip if self.doubt else None
        return Quadrilateral(self.readings, self.off).corners(slip.name if slip else None)

    def doubtful(self, name: Name) -> Slip | None:
        """Return the slip that a reading may be."""
        slips = self.doubt.slips if self.doubt else ()
        return next((slip for slip in slips if slip.name is name), None)


def fit_opening(job: Job, layout: Layout) -> OpeningFit | None:
    """Return what follows from the opening of a job, None where it has none."""
    opening = job.opening
    if opening is None:
        return None
    off = job.limit("readings").value
    readings = readings_of(opening)
    # Inset doors must go in where it is tightest; doors that lie over must cover it where it is widest.
    choose = min if opening.mounting is Mounting.INSET else max
    across, along = (choose(names, key=readings.__getitem__) for names in (WIDTHS, HEIGHTS))
    width, height = (readings[name] + 2 * opening.overlap for name in (across, along))
    doubt = doubt_of(readings, off)
    trusted = _trusted(readings, doubt)
    return OpeningFit(
        opening=opening,
        readings=readings,
        trusted=trusted,
        width=width,
        height=height,
        tightest=(across, along),
        doubt=doubt,
        tapers=_tapers(layout, trusted),
        doors=_doors(job, width, height),
        off=off,
        taper_seen=job.limit("taper").value,
    )


def _trusted(readings: Readings, doubt: Doubt | None) -> Readings:
    """Return the readings, the slip among them put right."""
    slip = doubt.slip if doubt else None
    return readings if slip is None else readings | {slip.name: slip.others_give}


def _tapers(layout: Layout, readings: Readings) -> tuple[Taper, Taper]:
    """Return what is planed off the two outermost strips so that the gaps beside them stay even.

    The front hangs plumb, so that a gap changes by as much as its side of the opening leans over the strip's length.
    Where leans were not measured the difference of the widths is shared by both sides.
    """
    first, last = layout.strips[0], layout.strips[-1]
    half = (readings[Name.TOP] - readings[Name.BOTTOM]) / 2
    share = first.length / float(np.median([readings[name] for name in HEIGHTS]))
    left, right = readings.get(Name.LEFT_LEAN, -half) * share, readings.get(Name.RIGHT_LEAN, half) * share
    # A side that leans to the right closes in on the front at the top left, and at the bottom right.
    return (
        Taper(Hand.LEFT, first.number, max(left, 0.0), max(-left, 0.0)),
        Taper(Hand.RIGHT, last.number, max(-right, 0.0), max(right, 0.0)),
    )


def _doors(job: Job, width: float, height: float) -> tuple[tuple[float, float], ...]:
    """Return width and height of each door of a front of this size; none where its strips or reveals do not fit."""
    change: dict[str, object] = {"width": width, "height": height}
    if job.front.door_widths is not None:
        more = (width - job.front.width) / len(job.front.door_widths)
        change["door_widths"] = tuple(each + more for each in job.front.door_widths)
    try:
        fitted = lay_out(job.model_copy(update={"front": job.front.model_copy(update=change)}))
    except JobError:
        return ()
    return tuple((door.width, door.height) for door in fitted.doors)
