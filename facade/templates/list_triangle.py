"""The triangle on the backs and the row of end numbers: by them a swapped, turned or flipped strip is seen at once.

The cabinetmaker's triangle (common practice): the strips of a door lie face down in their order, pushed together, and one large
triangle is struck across all of them.
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from functools import partial

import numpy as np

from facade.arrays import Array
from facade.drawing import Anchor, Drawing, Pen, fitted, text_width
from facade.front import Front
from facade.layout import Door, StripPlace
from facade.templates.piece import Asked, Piece, Room
from facade.templates.tables import (
    PLAIN,
    PLAIN_PITCH,
    SMALL,
    TITLE,
    TITLE_PITCH,
    Column,
    Row,
    Table,
    boxes,
    reduction,
    table_pieces,
    widest_number,
    wrapped,
)

# Where point and base line of the triangle are, as shares of the strips' length; not alike from both ends, so that a turned
# strip shows.
_POINT = 0.1
_BASE = 0.75
# The picture of a door is at most so high, mm.
_HIGHEST = 84.0
# Beside it stands the arrow to TOP, with the numbers of the outermost strips.
_ARROW = 9.5
_ARROW_HIGH = 10.5
# Of so many doors each has its own number of base lines.
_MOST_BASES = 4
# Above the picture stand the strips' numbers.
_NUMBERS = 5.0
# An end in the row of numbers, mm.
_END = 11.0
_END_PITCH = 16.0


@dataclass(frozen=True)
class Triangle:
    """The triangle of one door, mm: the places of its strips as seen from BEHIND, from the left, pushed together.

    `edges` (strips + 1,) are the joints from the left as seen from behind; `point` and `base` are measured from the TOP end.
    """

    places: tuple[StripPlace, ...]
    edges: Array
    point: float
    base: float

    @property
    def width(self) -> float:
        """Width of the strips pushed together."""
        return float(self.edges[-1])

    @property
    def crossings(self) -> Array:
        """Where its slanting legs cross the joints, mm from the TOP end: (strips + 1,)."""
        aside = np.abs(self.edges - self.width / 2) / (self.width / 2)
        return self.point + (self.base - self.point) * aside


def triangle(front: Front, door: Door) -> Triangle:
    """Return a door's triangle; its point and base are on stations where there are enough of them."""
    places = front.layout.on_door(door)[::-1]
    edges = np.concatenate([[0.0], np.cumsum([place.width for place in places])])
    length, station = places[0].length, front.job.station
    step = station if length >= 8 * station else front.job.ruler.mark
    point, base = (max(1, round(share * length / step)) * step for share in (_POINT, _BASE))
    return Triangle(places, edges, point, base)


def pieces(asked: Asked) -> Iterator[Piece]:
    """Yield for each whole door its picture with its table, and the row of end numbers."""
    for door in asked.whole_doors:
        yield from _door_pieces(asked, door)
    yield from _ends(asked)


@dataclass(frozen=True)
class _Picture:
    """A door's picture as it is drawn: what is said above it, its reduction, and where its strips begin, mm."""

    title: str
    lines: tuple[str, ...]
    scale: float
    left: float
    width: float
    above: float
    lines_of_base: int


def _door_pieces(asked: Asked, door: Door) -> Iterator[Piece]:
    """Yield a door's picture, with its table beside it where there is room, under it otherwise."""
    one, room = triangle(asked.front, door), asked.room
    bases = door.number if len(asked.front.layout.doors) <= _MOST_BASES else 1
    lines = tuple(wrapped(_how(asked, one, door, bases), PLAIN, room.width))
    numbers = _end_width(one)
    left = _ARROW + numbers
    above = TITLE_PITCH + len(lines) * PLAIN_PITCH + 2.0 + _NUMBERS
    length = one.places[0].length
    scale = reduction(one.width, length, room.width - left - numbers, min(_HIGHEST, room.height - above - 3.0))
    title = f"Triangle on the backs of door {door.number}, seen from BEHIND, reduced 1 : {scale:g}"
    picture = _Picture(title, lines, scale, left, one.width / scale, above, bases)
    high = length / scale
    aside = left + picture.width + numbers + 4.0
    table = table_pieces(
        crossings_table(asked, door, room.width - aside), Room(room.width - aside, room.height - above)
    )
    beside = len(table) == 1 and table[0].width <= room.width - aside
    height = above + max(high, _ARROW_HIGH, table[0].height if beside else 0.0) + 2.0
    draw = partial(_draw_picture, one, picture, room.width, height, table[0] if beside else None, aside)
    yield Piece(f"triangle of door {door.number}", room.width, height, draw, _numbers(one))
    if not beside:
        yield from table_pieces(crossings_table(asked, door, room.width), room)


def _numbers(one: Triangle) -> tuple[int, ...]:
    return tuple(sorted(place.number for place in one.places))


def _end_width(one: Triangle) -> float:
    return text_width(str(one.places[0].number), SMALL, bold=True) + 1.5


def _how(asked: Asked, one: Triangle, door: Door, bases: int) -> str:
    show = asked.ruler.text
    middle = len(one.places) // 2
    where = (
        f"in the middle of strip {one.places[middle].number}"
        if len(one.places) % 2
        else f"where strips {one.places[middle - 1].number} and {one.places[middle].number} meet"
    )
    tally = f", struck {bases} times for door {door.number}" if bases > 1 else ""
    return (
        "Lay the strips face down in this order, TOP ends level, pushed together without gaps. Point of the triangle: "
        f"{show(one.point)} from TOP, {where}. Base line: {show(one.base)} from TOP across all strips{tally}. Strike the legs, or join the "
        f"places in the table on each strip. Write strip and door {door.number} on every back, and the strip's number on its TOP end."
    )


def _draw_picture(
    one: Triangle, picture: _Picture, width: float, height: float, table: Piece | None, aside: float
) -> Drawing:
    piece = Drawing(width, height, picture.title)
    piece.label(fitted(picture.title, TITLE, width, bold=True), 0.0, height - 4.2, TITLE, bold=True)
    for index, line in enumerate(picture.lines):
        piece.label(line, 0.0, height - TITLE_PITCH - index * PLAIN_PITCH - 3.2, PLAIN)
    top = height - picture.above
    _draw_backs(piece, one, picture, top)
    piece.label("TOP", 0.0, top - 3.4, PLAIN, bold=True)
    arrow = np.array([[[2.5, -10.0], [2.5, -4.4]], [[1.2, -6.4], [2.5, -4.4]], [[3.8, -6.4], [2.5, -4.4]]])
    piece.lines(arrow + np.array([0.0, top]), Pen.RULE, "to-top")
    if table:
        piece.put(table.draw(), aside, top - table.height)
    return piece


def _draw_backs(piece: Drawing, one: Triangle, picture: _Picture, top: float) -> None:
    """Draw the backs in their order, their numbers above and beside them, and the triangle across them."""
    edges = picture.left + one.edges / picture.scale
    low = top - one.places[0].length / picture.scale
    piece.lines(boxes(edges[:-1], edges[1:], low, top), Pen.TICK, "backs")
    legs = top - one.crossings / picture.scale
    point = [(edges[0] + edges[-1]) / 2, top - one.point / picture.scale]
    base = float(legs[0])
    piece.shape([[edges[0], base], point, [edges[-1], base]], Pen.BACK, "triangle")
    more = base - 1.6 * np.arange(1, picture.lines_of_base)
    piece.lines([[[edges[0], y], [edges[-1], y]] for y in more.tolist() if y > low], Pen.BACK, "more-base-lines")
    shown = list(_number_places([place.number for place in one.places], edges))
    for label, x, bold in shown:
        piece.label(label, x, top + 1.3, SMALL, Anchor.MIDDLE, bold=bold)
    if len(shown) < len(one.places):
        piece.label(str(one.places[0].number), float(edges[0]) - 0.8, top - 3.0, SMALL, Anchor.END)
        piece.label(str(one.places[-1].number), float(edges[-1]) + 0.8, top - 3.0, SMALL)


def _number_places(numbers: Sequence[int], edges: Array) -> Iterator[tuple[str, float, bool]]:
    """Yield the numbers that have room over their strips, every fifth in bold: all of them, or those that are full."""
    middles = ((edges[:-1] + edges[1:]) / 2).tolist()
    wide = text_width(str(max(numbers)), SMALL, bold=True) + 0.8
    pitch = float(np.diff(edges).min())
    every = next(step for step in (1, 5, 10, 50, 100, 500, 1000, 10_000) if step * pitch >= wide or step == 10_000)
    for number, middle in zip(numbers, middles, strict=True):
        if number % every == 0 or len(numbers) == 1:
            yield str(number), middle, number % 5 == 0


def crossings_table(asked: Asked, door: Door, width: float) -> Table:
    """Return where a door's triangle crosses the sides of its strips, in their order from the left as seen from behind."""
    one = triangle(asked.front, door)
    from_top = widest_number(asked.ruler, one.places[0].length)
    return Table(
        title=f"Where the legs cross, door {door.number}",
        columns=(
            Column(("strip",), str(asked.front.count), bold=True),
            Column(("RIGHT", "side"), from_top),
            Column(("LEFT", "side"), from_top),
        ),
        count=len(one.places),
        rows=partial(crossing_rows, asked, one),
        about=[(place.number,) for place in one.places],
        note="From the TOP end, along both arrises of the back; from the left as seen from behind.",
        words=min(width, 100.0),
    )


def crossing_rows(asked: Asked, one: Triangle, first: int, after: int) -> list[Row]:
    """Return the words of some strips: where a leg crosses their RIGHT side, which is at the left from behind, and their LEFT."""
    number = asked.ruler.number
    sides = list(itertools.pairwise(one.crossings.tolist()))[first:after]
    return [
        (str(place.number), number(right), number(left))
        for place, (right, left) in zip(one.places[first:after], sides, strict=True)
    ]


_ENDS_WORDS = (
    "Once the strips are mounted the triangle cannot be seen. The numbers on the TOP ends can: seen from above, the FRONT towards you. "
    "Read them aloud from the left, then fix the strips."
)


def _ends(asked: Asked) -> Iterator[Piece]:
    """Yield the row of end numbers in as many rows as the room is wide, and as many pieces as it is high."""
    across = max(1, int((asked.room.width - 1.0) / _END))
    rows = _end_rows(asked.front, asked.whole_doors, across)
    lines = wrapped(_ENDS_WORDS, PLAIN, asked.room.width)
    above = TITLE_PITCH + len(lines) * PLAIN_PITCH + 1.0
    fits = max(1, int((asked.room.height - above) / _END_PITCH))
    for start in range(0, len(rows), fits):
        part = rows[start : start + fits]
        height = above + len(part) * _END_PITCH
        about = tuple(place.number for row in part for place in row)
        draw = partial(_draw_ends, part, lines, asked.room.width, height)
        yield Piece("numbers on the TOP ends", asked.room.width, height, draw, about)


def _end_rows(front: Front, doors: Sequence[Door], across: int) -> list[tuple[StripPlace, ...]]:
    """Return the strips from the left in rows of at most `across`, every door beginning a row of its own."""
    rows = []
    for door in doors:
        places = front.layout.on_door(door)
        each = math.ceil(len(places) / math.ceil(len(places) / across))
        rows += [places[start : start + each] for start in range(0, len(places), each)]
    return rows


def _draw_ends(rows: Sequence[Sequence[StripPlace]], lines: Sequence[str], width: float, height: float) -> Drawing:
    piece = Drawing(width, height, "numbers on the TOP ends")
    piece.label("Numbers on the TOP ends", 0.0, height - 4.2, TITLE, bold=True)
    y = height - TITLE_PITCH
    for line in lines:
        piece.label(line, 0.0, y - 3.2, PLAIN)
        y -= PLAIN_PITCH
    y -= 1.0
    for row in rows:
        left = 0.4 + np.arange(len(row)) * _END
        piece.lines(boxes(left, left + _END - 1.2, y - 15.0, y - 4.2), Pen.TICK, "ends")
        # The back, where the strip meets its board.
        piece.line([[0.4, y - 4.2], [left[-1] + _END - 1.2, y - 4.2]], Pen.BACK, "ends-back")
        piece.label(f"door {row[0].door}, behind", 0.4, y - 3.2, SMALL)
        for place, x in zip(row, left.tolist(), strict=True):
            wide = text_width("0" * len(str(place.number)), 1.0, bold=True)
            size = min(TITLE, (_END - 2.0) / wide)
            piece.label(str(place.number), x + (_END - 1.2) / 2, y - 11.0, size, Anchor.MIDDLE, bold=True)
        y -= _END_PITCH
    return piece
