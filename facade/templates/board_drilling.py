"""Drilling the board of a door for the screws of its strips, as it is seen from the back: left and right have changed places."""

from __future__ import annotations

import itertools
import math
from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from functools import partial

import numpy as np

from facade.arrays import Array
from facade.drawing import Anchor, Drawing, Pen, text_width
from facade.front import Front
from facade.job import Hand, Job
from facade.layout import Door, StripPlace
from facade.lengths import Ruler, Unit
from facade.measuring.screws import (
    NoRoom,
    clearance_hole,
    cover_while_carving,
    length_while_carving,
    needs_of,
    pilot_hole,
)
from facade.templates.frame import PLAIN, SMALL, strips_in_words
from facade.templates.piece import Asked, Piece, Room
from facade.templates.tables import (
    Block,
    Column,
    Row,
    Table,
    boxes,
    flow,
    flowed,
    paragraph,
    reduction,
    table_pieces,
    widest_number,
)
from facade.wood.species import species

# Pages are laid out no wider and no higher than this, mm.
WIDEST = 277.0
HIGHEST = 400.0
COLUMN = 86.0
# The picture takes so much of a page's height, so that its words stand below it.
_PICTURE = 0.74
# Mm round the picture: words above, numbers of the strips above the board, what stands at its sides.
_WORDS = 14.5
_NUMBERS = 4.0
_ASIDE = 6.0
_CROSS = 1.1
_TITLE = 6.0
AFTER = "after"
_DRILLS_TO = 64  # drills in inches come by 1/64, or nearly so

_REASONS = {
    NoRoom.NARROW: "too narrow for the screw",
    NoRoom.SHORT: "too short for two screws",
    NoRoom.THIN: "too thin for two screws",
}


@dataclass(frozen=True)
class Drilling:
    """One hole through a board, mm: `across` from the edge that is left when seen from the back, `down` from its TOP edge.

    `carving` is the length that may stand in it while the strip is carved, None where none may.
    """

    strip: int
    across: float
    down: float
    length: float
    bite: float
    cover: float
    carving: float | None


def from_back(door: Door, x: float) -> float:
    """Return how far a place x on the front is from the board's edge that is left when seen from the back, mm."""
    return door.right - x


def middle_of(place: StripPlace) -> float:
    """Return a strip's middle line, mm on the front."""
    return (place.left + place.right) / 2


def strips_of(front: Front, door: Door) -> tuple[StripPlace, ...]:
    """Return the strips of a door, from the left as seen from the front."""
    return front.layout.on_door(door)


def drillings(front: Front, door: Door) -> list[Drilling]:
    """Return the holes of a door's board, from the left as seen from the back, each row from the top."""
    found, needs = [], needs_of(front.job)
    for place in reversed(strips_of(front, door)):
        for screw in front.measures_of(place.number).screws.screws:
            down = door.top - place.top + screw.from_top
            across = from_back(door, middle_of(place))
            carving = length_while_carving(front.job, needs, screw)
            found.append(Drilling(place.number, across, down, screw.length, screw.bite, screw.cover, carving))
    return found


def without_screws(front: Front, door: Door) -> dict[int, NoRoom]:
    """Return the strips of a door in which two screws find no room, and why."""
    plans = {place.number: front.measures_of(place.number).screws for place in strips_of(front, door)}
    return {number: plan.reason for number, plan in plans.items() if plan.reason is not None}


def drilling_pieces(asked: Asked, door: Door) -> Iterator[Piece]:
    """Yield the picture of a door's board with what is to be known, and the table of its screws."""
    room = Room(min(asked.room.width, WIDEST), min(asked.room.height, HIGHEST))
    through = flow(room, min(COLUMN, room.width))
    screws = drillings(asked.front, door)
    blocks = [paragraph(text, through.width, lead=lead) for lead, text in _words(asked.front, door, screws) if text]
    yield from flowed(f"drilling the board of door {door.number}", blocks, through, _picture(asked.front, door, room))
    chosen = [one for one in screws if one.strip in asked.strips]
    if chosen:
        yield from table_pieces(_table(asked.front, door, chosen), room)


def drill_size(ruler: Ruler, mm: float, *, down: bool = False) -> str:
    """Return a drill's size: to a tenth of a millimetre, or to 1/64 in; rounded down where more would be too much."""
    finest = ruler if ruler.unit is Unit.MM else Ruler(Unit.INCH, _DRILLS_TO)
    return finest.text(finest.down(mm) if down else mm)


def _bevel(job: Job) -> str:
    """Return the bevel of a board's meeting edge, "" where it is square."""
    if job.hinges is None or not job.hinges.bevel:
        return ""
    off = job.ruler.text(job.board.thickness * math.tan(math.radians(job.hinges.bevel)))
    return (
        f" Bevel its edge away from the hinges by {job.hinges.bevel:g} degrees before strips are on it: the front corner stays, {off} "
        "come off the back one."
    )


def _words(front: Front, door: Door, screws: Sequence[Drilling]) -> list[tuple[str, str]]:
    """Return what is to be known before a hole is drilled, each with its head."""
    job, ruler = front.job, front.job.ruler
    first, last = door.last_strip, door.first_strip
    low, high = clearance_hole(job.fixing.shank)
    pilot = pilot_hole(job.fixing.shank, softwood=species(job.wood.species).softwood)
    sunk = f" Heads sunk {ruler.text(job.fixing.countersink)}." if job.fixing.countersink else ""
    order = f"strip {first} is at the left, strip {last} at the right" if first != last else f"strip {first} alone"
    return [
        (
            "Back",
            f"This is the back of door {door.number}: {order}. Measure across from the edge that is left when you look at the "
            "back, and down from the TOP edge.",
        ),
        (
            "Board",
            f"{ruler.text(door.width)} wide, {ruler.text(door.height)} high, {ruler.text(job.board.thickness)} thick. "
            f"Holes through it {drill_size(ruler, low)} to {drill_size(ruler, high)}, so that the strips may move.{sunk}{_bevel(job)}",
        ),
        (
            "Strips",
            f"Pilot holes {drill_size(ruler, pilot, down=True)}, each no deeper than its screw bites. Set the stop by trial in waste.",
        ),
        ("Screws", _counted(ruler, job.fixing.shank, screws)),
        ("Tips", least_cover(ruler, screws)),
        ("While carving", while_carving(job, screws)),
        ("NO SCREWS", _refused(front, without_screws(front, door))),
    ]


def _counted(ruler: Ruler, shank: float, screws: Sequence[Drilling]) -> str:
    counts = Counter(one.length for one in screws)
    if not counts:
        return "None on this door."
    each = ", ".join(f"{count} of {ruler.text(length)}" for length, count in sorted(counts.items()))
    return (
        f"{each}; shank {ruler.text(shank)}. The length of each is in the table: a longer one comes through the face."
    )


def least_cover(ruler: Ruler, screws: Sequence[Drilling]) -> str:
    """Return in words how near the tips come to the finished face; empty without screws."""
    if not screws:
        return ""
    least = min(screws, key=lambda one: one.cover)
    return (
        f"They stay at least {ruler.text(ruler.down(least.cover))} away from the finished face: least in strip {least.strip}, "
        f"{ruler.text(least.down)} from TOP."
    )


def while_carving(job: Job, screws: Sequence[Drilling]) -> str:
    """Return which screws may stand in strips that are still to be carved; empty without screws."""
    if not screws:
        return ""
    ruler, deep = job.ruler, job.ruler.text(cover_while_carving(job))
    shorter = Counter(one.carving for one in screws if one.carving is not None and one.carving < one.length)
    after = sum(one.carving is None for one in screws)
    if not shorter and not after:
        return f"The same screws: every tip stays {deep} below the finished face or more."
    each = " and ".join(f"{count} of {ruler.text(length)}" for length, count in sorted(shorter.items()))
    others = [f"{sum(shorter.values())} shorter for that while, {each}"] if shorter else []
    others += [f"{after} put in after carving" if after < len(screws) else "all put in after carving"] if after else []
    return (
        f"Every tip must stay {deep} below the finished face, for a disc that meets a screw breaks. Of these {len(screws)}: "
        f"{', '.join(others)}. The table says which, under “while carving”."
    )


def _refused(front: Front, refused: dict[int, NoRoom]) -> str:
    """Return which strips get no screws, and why; empty where all do."""
    parts = []
    for reason, words in _REASONS.items():
        numbers = [number for number, why in refused.items() if why is reason]
        if numbers:
            parts.append(f"{strips_in_words(numbers, front.count)}: {words}")
    return f"{'; '.join(parts)}. Settle how they are held before any board is drilled." if parts else ""


def _picture(front: Front, door: Door, room: Room) -> Block:
    """Return the board from the back, reduced."""
    beside, above = 2 * _ASIDE, _WORDS + _NUMBERS
    scale = reduction(door.width, door.height, room.width - beside, room.height * _PICTURE - above)
    return Block(above + door.height / scale + 1.0, partial(_draw_picture, front, door, scale))


def _draw_picture(front: Front, door: Door, scale: float, piece: Drawing, left: float, top: float) -> None:
    piece.label("AS SEEN FROM THE BACK", left, top - 5.0, _TITLE, bold=True)
    words = f"door {door.number} · 1 : {scale:g} · TOP is up; the left edge here is right from the front"
    piece.label(words, left, top - 10.0, PLAIN)
    x, y = left + _ASIDE, top - _WORDS - _NUMBERS
    low, right = y - door.height / scale, x + door.width / scale
    piece.lines(boxes(x, right, low, y), Pen.BACK, "board")
    places = strips_of(front, door)
    far = np.array([[from_back(door, place.right), from_back(door, place.left)] for place in places]) / scale
    ends = np.array([[door.top - place.bottom, door.top - place.top] for place in places]) / scale
    piece.lines(boxes(x + far[:, 0], x + far[:, 1], y - ends[:, 0], y - ends[:, 1]), Pen.FLOOR, "strips")
    spots = np.array([[one.across, one.down] for one in drillings(front, door)]).reshape(-1, 2) / scale
    piece.lines(crossed(x + spots[:, 0], y - spots[:, 1]), Pen.OUTLINE, "screws")
    numbers = [place.number for place in places]
    number_row(piece, x + far.mean(axis=1), y + 1.2, numbers, left, piece.width)
    _hinge(piece, front, door, x, right, low, y)


def crossed(x: Array, y: Array) -> Array:
    """Return a cross at each place as runs (2 n, 2, 2)."""
    ends = [np.stack([x + way * _CROSS, y + _CROSS * side], axis=-1) for side in (-1, 1) for way in (-1, 1)]
    return np.concatenate([np.stack([ends[0], ends[3]], axis=1), np.stack([ends[1], ends[2]], axis=1)])


def number_row(piece: Drawing, at: Array, y: float, numbers: Sequence[int], left: float, right: float) -> None:
    """Write the numbers of strips at their middles: all of them, or as round ones as fit beside each other; the outermost always."""
    half = np.array([text_width(str(number), SMALL) / 2 + 0.3 for number in numbers])
    x = np.clip(at, left + half, right - half)
    every = next(step for step in itertools.count(1) if _fit_every(x, half, numbers, step))
    outer = {0, len(numbers) - 1}
    for index, number in enumerate(numbers):
        clear = all(index == end or abs(x[index] - x[end]) >= half[index] + half[end] for end in outer)
        if index == 0 or (clear and (index in outer or number % every == 0)):
            piece.label(str(number), float(x[index]), y, SMALL, Anchor.MIDDLE)


def _fit_every(x: Array, half: Array, numbers: Sequence[int], every: int) -> bool:
    """Whether the numbers that `every` divides stand clear of each other."""
    if every not in (1, 2) and every % 5:
        return False
    kept = np.flatnonzero(np.array(numbers) % every == 0)
    return bool((np.abs(np.diff(x[kept])) >= half[kept][:-1] + half[kept][1:]).all())


def _hinge(piece: Drawing, front: Front, door: Door, left: float, right: float, low: float, high: float) -> None:
    """Write at which side the hinges are, where the job says it: from the back it is the other one."""
    if front.job.hinges is None:
        return
    hand = front.job.hinge_side(door.number, len(front.layout.doors))
    x = left - 1.8 if hand is Hand.RIGHT else right + _ASIDE - 1.8
    size = min(PLAIN, (high - low) / text_width("HINGE SIDE", 1.0, bold=True))
    piece.label("HINGE SIDE", x, (low + high) / 2, size, Anchor.MIDDLE, bold=True, turn=90)


def _table(front: Front, door: Door, screws: Sequence[Drilling]) -> Table:
    """Return the table of a door's screws, from the left as seen from the back."""
    ruler = front.job.ruler
    far, deep = widest_number(ruler, max(door.width, door.height)), widest_number(ruler, 100.0)
    columns = (
        Column(("strip",), str(front.count), bold=True),
        Column(("from left", "edge, BACK"), far),
        Column(("from", "TOP edge"), far),
        Column(("screw", "length"), deep, bold=True),
        Column(("bite",), deep),
        Column(("cover",), deep),
        Column(("while", "carving"), max(deep, "after", key=len), bold=True),
    )
    note = (
        "Across to the row of each strip, from the board's edge that is left when seen from the back; down from its TOP edge. "
        "Bite: how deep the screw goes into the strip. Cover: wood left to the finished face. While carving: the length that may stand "
        "in the hole until the strip is carved; after: none, put it in when the carving is done."
    )
    return Table(
        f"Door {door.number}, seen from the BACK: screws",
        columns,
        len(screws),
        partial(_rows, ruler, screws),
        [(one.strip,) for one in screws],
        note,
    )


def _rows(ruler: Ruler, screws: Sequence[Drilling], first: int, after: int) -> list[Row]:
    return [
        (
            str(one.strip),
            ruler.number(one.across),
            ruler.number(one.down),
            ruler.bare(one.length),
            ruler.number(ruler.down(one.bite)),
            ruler.number(ruler.down(one.cover)),
            AFTER if one.carving is None else ruler.bare(one.carving),
        )
        for one in screws[first:after]
    ]
