"""Position stick and story stick: where strips go on a door and where stations are on a strip, all measured from one end.

Both are transferred to a straight piece of wood, with a steel rule laid from the one end: every mark carries its distance from
there, so that lengths of paper need not be joined true.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from functools import partial

import numpy as np

from facade.arrays import Array
from facade.drawing import Anchor, Drawing, Pen, text_width
from facade.errors import mistake
from facade.front import Front
from facade.lengths import Ruler
from facade.slicer import stations
from facade.templates.frame import LARGE, PLAIN, SMALL
from facade.templates.hatch import upright
from facade.templates.piece import Asked, Piece, Room, Top
from facade.templates.spreading import DoorSpread, spread
from facade.templates.tables import Column, Table, flow, flowed, paragraph, table_pieces, widest_number

# All mm. A stick's body, and the rows of figures above and below it.
_BODY = 13.0
_ABOVE, _BELOW = 16.5, 11.0
_ENDS = 14.0
_CHECKPOINT = 5
_OFF = 0.3  # common practice: a checkpoint may be off by so much


def pieces(asked: Asked) -> Iterator[Piece]:
    """Yield the sticks of every kind of door and of strip, in lengths that fit, what is to be known of them, and a table."""
    front = asked.front
    doors = spread(front, asked.bench)
    yield from _told(asked, doors)
    for alike in _alike(doors):
        yield from _position_stick(asked, alike)
    yield from _story_stick(asked)
    for alike in _alike(doors):
        yield from table_pieces(_table(front, alike), Room(min(asked.room.width, 420.0), asked.room.height))


def _alike(doors: Sequence[DoorSpread]) -> list[list[DoorSpread]]:
    """Return the doors in groups whose strips lie alike."""
    groups: list[list[DoorSpread]] = []
    for door in doors:
        for group in groups:
            same = len(group[0].left) == len(door.left) and abs(group[0].door.width - door.door.width) < 1e-6
            if (
                same
                and np.allclose(group[0].left, door.left, atol=1e-6)
                and np.allclose(group[0].right, door.right, atol=1e-6)
            ):
                group.append(door)
                break
        else:
            groups.append([door])
    return groups


def _doors_in_words(doors: Sequence[DoorSpread]) -> str:
    numbers = [str(one.door.number) for one in doors]
    return f"door {numbers[0]}" if len(numbers) == 1 else f"doors {', '.join(numbers[:-1])} and {numbers[-1]}"


def _told(asked: Asked, doors: Sequence[DoorSpread]) -> Iterator[Piece]:
    """Yield how a stick is made, and what the measured strips and spacers ask for."""
    room = Room(min(asked.room.width, 180.0), asked.room.height)
    off = asked.ruler.text(_OFF) if asked.ruler.mark <= _OFF else f"1/{round(25.4 / 2 / asked.ruler.mark) * 2} in"
    words = [
        "Lay a straight, planed stick and a steel rule beside each other, from ONE end: the left edge of the door, or the "
        "TOP end of a strip. Strike every mark at its own figure. Lengths of paper overlap, and are never joined edge to edge.",
        f"Every fifth strip is a checkpoint: within {off} of the stick, or spread what is left over the gaps at once.",
        *dict.fromkeys(sentence for door in doors for sentence in door.sentences),
    ]
    through = flow(room, room.width)
    yield from flowed("sticks", [paragraph(text, through.width) for text in words], through)


@dataclass(frozen=True)
class _Length:
    """A length of a stick from `start` to `end`, mm from its one end."""

    start: float
    end: float
    part: int
    parts: int


def _lengths(ends: Array, whole: float, room: float, ruler: Ruler) -> list[_Length]:
    """Return lengths that begin and end between marks; each repeats the last marks (one strip and gap) of the one before.

    `ends` (n,) are the places, rising, at which a length may begin or end; neighbours overlap from one of them to the next.
    """
    found: list[tuple[float, float]] = []
    first = 0
    while True:
        last = int(np.searchsorted(ends, ends[first] + room + 1e-9, side="right")) - 1
        if last - first < 2 and last < len(ends) - 1:
            raise mistake(
                "paper",
                f"a length of the position stick has room for {ruler.text(room)}, which holds no two strips: take larger paper",
            )
        found.append((float(ends[first]), float(ends[last])))
        if last == len(ends) - 1:
            return [_Length(start, end, part, len(found)) for part, (start, end) in enumerate(found, 1)]
        first = last - 1


def _position_stick(asked: Asked, doors: Sequence[DoorSpread]) -> Iterator[Piece]:
    one = doors[0]
    middles = (one.right[:-1] + one.left[1:]) / 2
    ends = np.concatenate([[0.0], middles, [one.door.width]])
    for length in _lengths(ends, one.door.width, asked.room.width - 2 * _ENDS, asked.ruler):
        width = _width(length, asked.room)
        name = f"position stick, {_doors_in_words(doors)}, {length.part}"
        height = _ABOVE + _BODY + _BELOW
        yield Piece(name, width, height, partial(_draw_positions, asked, doors, length, width, height))


def _width(length: _Length, room: Room) -> float:
    """Return how wide a length's piece is: its head needs some room too."""
    return max(length.end - length.start + 2 * _ENDS, min(170.0, room.width))


def _draw_positions(asked: Asked, doors: Sequence[DoorSpread], length: _Length, width: float, height: float) -> Drawing:
    one, ruler = doors[0], asked.ruler
    piece = Drawing(width, height, "position stick")
    title = f"POSITION STICK, {_doors_in_words(doors)}: {ruler.text(one.door.width)} wide, from its LEFT edge"
    _body(piece, ruler, title, length, one.door.width, ("LEFT", "RIGHT"), asked.front.mark)
    inside = (one.left >= length.start - 1e-6) & (one.right <= length.end + 1e-6)
    left, right = one.left[inside], one.right[inside]
    x_left, x_right = left - length.start + _ENDS, right - length.start + _ENDS
    base, top = _BELOW, _BELOW + _BODY
    piece.lines(upright(x_left, base - 1.4, top), Pen.OUTLINE, "left-edges")
    piece.lines(upright(x_right, base, top), Pen.OUTLINE, "right-edges")
    rank = np.flatnonzero(inside) + 1
    fat = 0.0
    for index, (a, b) in enumerate(zip(x_left.tolist(), x_right.tolist(), strict=True)):
        checkpoint = rank[index] % _CHECKPOINT == 0
        number = "/".join(str(door.strips[rank[index] - 1]) for door in doors)
        size = LARGE if checkpoint else PLAIN
        if text_width(number, size, bold=checkpoint) > b - a - 0.6:
            number, size = (
                number.split("/")[0],
                min(size, (b - a - 0.6) / text_width(number.split("/")[0], 1.0, bold=True)),
            )
        piece.label(
            number, (a + b) / 2, base + (5.4 if checkpoint else 2.6), size, Anchor.MIDDLE, bold=bool(checkpoint)
        )
        if checkpoint:
            # A black foot tells a checkpoint from afar.
            piece.shape(
                [[a + 0.6, base + 0.4], [b - 0.6, base + 0.4], [b - 0.6, base + 1.6], [a + 0.6, base + 1.6]], Pen.SOLID
            )
        figure = ruler.bare(float(left[index])) if ruler.mark >= 0.5 else ruler.number(float(left[index]))
        wide = text_width(figure, SMALL) / 2
        if a - wide >= fat:
            piece.label(figure, a, base - 4.8, SMALL, Anchor.MIDDLE)
            fat = a + wide + 1.0
    piece.label("left edge of each strip", width - 0.5, 1.0, SMALL, Anchor.END)
    return piece


def _body(
    piece: Drawing, ruler: Ruler, title: str, length: _Length, whole: float, ends: tuple[str, str], mark: str
) -> None:
    """Draw the body of a stick and its head; a real end of the stick is full, where it goes on it is pale."""
    base, top, left = _BELOW, _BELOW + _BODY, _ENDS
    right = left + length.end - length.start
    piece.line([[left, base], [right, base]], Pen.CUT, "stick-edge")
    piece.line([[left, top], [right, top]], Pen.OUTLINE)
    for x, real, word, anchor in (
        (left, length.start == 0.0, ends[0], Anchor.END),
        (right, abs(length.end - whole) < 1e-9, ends[1], Anchor.START),
    ):
        piece.line([[x, base - (2.0 if real else 0.0)], [x, top]], Pen.BACK if real else Pen.FINE, "stick-end")
        if real:
            aside = -1.2 if anchor is Anchor.END else 1.2
            size = min(PLAIN, (_ENDS - 1.6) / text_width(word, 1.0, bold=True))
            piece.label(word, x + aside, base + _BODY / 2 - 1.2, size, anchor, bold=True)
    room = piece.width - 2
    size = min(LARGE, room / text_width(title, 1.0, bold=True))
    piece.label(title, 0.5, top + 8.0, size, bold=True)
    part = f"length {length.part} of {length.parts}, {ruler.bare(length.start)} to {ruler.text(length.end)} · {mark}"
    if text_width(part, SMALL) <= room:
        piece.label(part, 0.5, top + 2.6, SMALL)


def _story_stick(asked: Asked) -> Iterator[Piece]:
    """Yield the stations of every length of strip."""
    front, ruler = asked.front, asked.ruler
    for whole in sorted({round(front.layout.strip(number).length, 6) for number in asked.strips}):
        marks = stations(whole, front.job.station)
        for length in _lengths(
            marks if len(marks) > 1 else np.array([0.0, whole]), whole, asked.room.width - 2 * _ENDS, ruler
        ):
            width, height = _width(length, asked.room), _ABOVE + _BODY + _BELOW
            draw = partial(_draw_stations, asked, whole, marks, length, width, height)
            yield Piece(f"story stick, {ruler.text(whole)}, {length.part}", width, height, draw, (), Top.LEFT)


def _draw_stations(asked: Asked, whole: float, marks: Array, length: _Length, width: float, height: float) -> Drawing:
    ruler = asked.ruler
    piece = Drawing(width, height, "story stick")
    title = f"STORY STICK, strips {ruler.text(whole)} long: stations from the TOP end"
    _body(piece, ruler, title, length, whole, ("TOP", "BOTTOM"), asked.front.mark)
    inside = marks[(marks >= length.start - 1e-6) & (marks <= length.end + 1e-6)]
    x = inside - length.start + _ENDS
    fourth = np.rint(inside / asked.front.job.station).astype(int) % 4 == 0
    piece.lines(upright(x, _BELOW - 1.4, _BELOW + np.where(fourth, _BODY, 6.0)), Pen.OUTLINE, "stations")
    used = 0.0
    for place, at, long in zip(inside.tolist(), x.tolist(), fourth.tolist(), strict=True):
        figure, size = ruler.bare(place), PLAIN if long else SMALL
        half = text_width(figure, size, bold=long) / 2
        if at - half >= used:
            piece.label(figure, at, _BELOW - 5.4, size, Anchor.MIDDLE, bold=long)
            used = at + half + 0.8
    return piece


def _table(front: Front, doors: Sequence[DoorSpread]) -> Table:
    """Return the positions of the strips of doors that are alike, as a table."""
    one, ruler = doors[0], front.job.ruler
    columns = (
        Column(("strip",), "/".join(str(door.strips[-1]) for door in doors), Anchor.MIDDLE, bold=True),
        Column(("left", "edge"), widest_number(ruler, one.door.width)),
        Column(("right", "edge"), widest_number(ruler, one.door.width)),
        Column(("here",), box=4.0),
    )
    rows = partial(_rows, ruler, doors)
    about: Sequence[tuple[int, ...]] = [()] * len(one.strips)
    title = f"Positions, {_doors_in_words(doors)}"
    return Table(title, columns, len(one.strips), rows, about, note="From the left edge of the door.", words=60.0)


def _rows(ruler: Ruler, doors: Sequence[DoorSpread], first: int, after: int) -> list[tuple[str, ...]]:
    one = doors[0]
    return [
        (
            "/".join(str(door.strips[index]) for door in doors),
            ruler.number(float(one.left[index])),
            ruler.number(float(one.right[index])),
            "",
        )
        for index in range(first, after)
    ]
