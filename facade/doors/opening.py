"""The measured opening: the size the front must have, which reading is doubtful, and where edge strips are planed."""

from __future__ import annotations

import math
from dataclasses import asdict, dataclass

import numpy as np

from facade.doors.quadrilateral import (
    DIAGONALS,
    HEIGHTS,
    LEANS,
    READ,
    WIDTHS,
    Corners,
    Name,
    Quadrilateral,
    Readings,
    Rectangle,
    covering_rectangle,
    largest_rectangle,
)
from facade.errors import JobError
from facade.job import Around, Edge, Job, Mounting, Opening, Reveals
from facade.layout import Layout, lay_out
from facade.rules import rule

# A slip is named alone when the next best explanation is so much worse (a difference of chi squares).
_CLEARLY = 2.0
TOUCHES = 0.05  # mm; a reveal that is no more is none
_FITS = 0.01  # mm; less is written off


def readings_of(opening: Opening) -> Readings:
    """Return what was measured, by name; diagonals and leans only where they were."""
    found = dict(zip((*WIDTHS, *HEIGHTS), (*opening.widths, *opening.heights), strict=True))
    if opening.diagonals is not None:
        found |= dict(zip(DIAGONALS, opening.diagonals, strict=True))
    if "plumb" in opening.model_fields_set:
        found |= dict(zip(LEANS, opening.plumb, strict=True))
    return found


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
    """What must be planed off an edge of the front so that the gap beside it stays even, mm, falling evenly along it.

    `first` is at the upper end of a side, at the left end of the upper and the lower edge; `last` at the other.
    """

    edge: Edge
    first: float
    last: float

    @property
    def upright(self) -> bool:
        """Whether it runs along a side."""
        return self.edge in (Edge.LEFT, Edge.RIGHT)

    @property
    def most(self) -> float:
        """The greater of both ends, mm."""
        return max(self.first, self.last)

    @property
    def left_on(self) -> float:
        """What this edge carries until the door hangs, mm: the usual allowance, or what must be planed if that is more."""
        return max(rule("plane_off"), self.most)


@dataclass(frozen=True)
class Span:
    """The front across or along: what the job says, what the opening gives, and the reveals that really remain, mm.

    `word` is the name of the setting; `edges` are its two ends; `reading` is the one that `fits` rests on, `tightest` its
    value; `lost` is what is lost besides because sides lean or sill and head slope.
    """

    word: str
    edges: tuple[Edge, Edge]
    given: float
    fits: float
    reading: Name
    tightest: float
    planned: tuple[float, float]

    @property
    def lost(self) -> float:
        """What leaning sides take from the tightest reading, or add to what must be covered."""
        return abs(self.tightest - self.fits)

    @property
    def doors(self) -> float:
        """From the first edge of the doors to the last."""
        return self.given - sum(self.planned)

    @property
    def remains(self) -> tuple[float, float]:
        """The reveals at both ends as they become, the doors hung in the middle of what remains."""
        return self.planned[0] + (self.fits - self.given) / 2, self.planned[1] + (self.fits - self.given) / 2


@dataclass(frozen=True)
class OpeningFit:
    """What follows from the readings for the front that stands in the opening, or before it.

    `corners` are those that all readings give together, the one that is a slip left out; `upright` is the largest upright
    rectangle that goes in, or the smallest that covers. `spans` are width and height of the front, reveals and overlap
    included; `trusted` are the readings with a slip put right; `off` is by how much readings may differ, `least` the
    least reveal and `taper_seen` how much a gap may change along an edge; all in mm.
    """

    opening: Opening
    readings: Readings
    trusted: Readings
    corners: Corners
    upright: Rectangle
    spans: tuple[Span, Span]
    doubt: Doubt | None
    tapers: tuple[Taper, ...]
    reveals: Around
    doors: tuple[tuple[float, float], ...]
    off: float
    least: float
    taper_seen: float

    @property
    def width(self) -> float:
        """The width that the front must have, reveals included, mm."""
        return self.spans[0].fits

    @property
    def height(self) -> float:
        """The height that the front must have, reveals included, mm."""
        return self.spans[1].fits

    @property
    def tightest(self) -> tuple[Name, Name]:
        """The readings that width and height rest on."""
        return self.spans[0].reading, self.spans[1].reading

    @property
    def inset(self) -> bool:
        """Whether the doors stand in the opening."""
        return self.opening.mounting is Mounting.INSET

    @property
    def squared(self) -> bool:
        """Whether diagonals tell if the opening is square."""
        return DIAGONALS[0] in self.readings

    @property
    def plumbed(self) -> bool:
        """Whether it was measured how the sides lean."""
        return LEANS[0] in self.readings

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
        """What must be planed off edges; doors that lie over their opening have no gap beside it."""
        return tuple(taper for taper in self.tapers if self.inset and taper.most > self.taper_seen)

    def stops(self, span: Span) -> bool:
        """Whether the front does not go in, or does not cover, along a span.

        An inset front may not be larger than any reading. What is lost to leaning sides besides, its reveals may take up
        if enough of them is left, and so may what readings are off by themselves.
        """
        if not self.inset:
            return span.fits - span.given > _FITS
        if span.given - span.tightest > _FITS:
            return True
        return span.given - span.fits > READ * self.off and min(span.remains) < self.least - _FITS

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
    doubt = doubt_of(readings, off)
    slip = doubt.slip if doubt else None
    corners = Quadrilateral(readings, off).corners(slip.name if slip else None)
    inset = opening.mounting is Mounting.INSET
    upright = largest_rectangle(corners) if inset else covering_rectangle(corners)
    spans = _spans(job, readings, corners, upright)
    reveals = _reveals(job, spans) if inset else job.reveals
    return OpeningFit(
        opening=opening,
        readings=readings,
        trusted=_trusted(readings, doubt),
        corners=corners,
        upright=upright,
        spans=spans,
        doubt=doubt,
        tapers=_tapers(layout, corners),
        reveals=reveals,
        doors=_doors(job, reveals, spans[0].fits, spans[1].fits),
        off=off,
        least=job.limit("reveal_least").value,
        taper_seen=job.limit("taper").value,
    )


def _trusted(readings: Readings, doubt: Doubt | None) -> Readings:
    """Return the readings, the slip among them put right."""
    slip = doubt.slip if doubt else None
    return readings if slip is None else readings | {slip.name: slip.others_give}


def _spans(job: Job, readings: Readings, corners: Corners, upright: Rectangle) -> tuple[Span, Span]:
    """Return how the front stands across and along.

    Inset doors must go in where it is tightest; doors that lie over must cover it where it is widest. Every reading holds as
    it was read: the rectangle's size counts by how much it is less, or more, than the tightest reading of its own corners.
    """
    assert job.opening is not None
    choose = min if job.opening.mounting is Mounting.INSET else max
    own, plan, around = corners.readings(), job.front, job.reveals
    sizes = ((plan.width, upright.width), (plan.height, upright.height))
    ends = ((Edge.LEFT, Edge.RIGHT), (Edge.TOP, Edge.BOTTOM))
    planned = ((around.left, around.right), (around.top, around.bottom))
    found = []
    for word, edges, names, (given, size), reveals in zip(
        ("width", "height"), ends, (WIDTHS, HEIGHTS), sizes, planned, strict=True
    ):
        reading = choose(names, key=readings.__getitem__)
        over = 2 * job.opening.overlap
        tightest = readings[reading] + over
        fits = tightest + round(size - choose(own[name] for name in names), 3)
        found.append(Span(word, edges, given, fits, reading, tightest, reveals))
    return found[0], found[1]


def _reveals(job: Job, spans: tuple[Span, Span]) -> Around:
    """Return the reveals that doors for this opening have: as the job says, but the rule's where that is too little."""
    least, usual = job.limit("reveal_least").value, usual_reveal(job)
    return Around(
        **{
            edge.value: usual if planned < max(least - _FITS, TOUCHES) else planned
            for span in spans
            for edge, planned in zip(span.edges, span.planned, strict=True)
        }
    )


def usual_reveal(job: Job) -> float:
    """Return the reveal that an inset door is given, mm, as a job writes it: the rule's, and not less than its limit."""
    return job.ruler.up(max(job.limit("reveal_least").value, rule("reveal")))


def _tapers(layout: Layout, corners: Corners) -> tuple[Taper, ...]:
    """Return what is planed off the edges of the front so that the gaps beside them stay even.

    The front hangs plumb, so that a gap changes by as much as that side of the opening leans, or its sill or head slopes,
    over the doors' own length.
    """
    up = layout.doors[0].height / float(np.median([corners.readings()[name] for name in HEIGHTS]))
    across = layout.doors[-1].right - layout.doors[0].left
    along = across / float(np.median([corners.readings()[name] for name in WIDTHS]))
    left, right = corners.left_lean * up, corners.right_lean * up
    sill, head = corners.sill_rise * along, corners.head_rise * along
    # A side that leans to the right closes in on the front at the top left, and at the bottom right; a sill that rises to
    # the right does so at the bottom right, a head at the top left.
    return (
        Taper(Edge.LEFT, max(left, 0.0), max(-left, 0.0)),
        Taper(Edge.RIGHT, max(-right, 0.0), max(right, 0.0)),
        Taper(Edge.TOP, max(head, 0.0), max(-head, 0.0)),
        Taper(Edge.BOTTOM, max(-sill, 0.0), max(sill, 0.0)),
    )


def _doors(job: Job, reveals: Around, width: float, height: float) -> tuple[tuple[float, float], ...]:
    """Return width and height of each door of a front of this size; none where its strips or reveals do not fit."""
    change: dict[str, object] = {"width": width, "height": height, "reveals": Reveals(**asdict(reveals))}
    if job.front.door_widths is not None:
        less = (job.reveals.left + job.reveals.right) - (reveals.left + reveals.right)
        more = (width - job.front.width + less) / len(job.front.door_widths)
        change["door_widths"] = tuple(each + more for each in job.front.door_widths)
    try:
        fitted = lay_out(job.model_copy(update={"front": job.front.model_copy(update=change)}))
    except JobError:
        return ()
    return tuple((door.width, door.height) for door in fitted.doors)
