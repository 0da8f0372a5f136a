"""Position stick and story stick: where strips go on a door, and where stations go on a strip, all from ONE end.

The paper is cut into lengths, but every mark on every length carries its distance from that one end: it is struck on a real stick
with a steel rule laid from there, and no length is ever joined to the next.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from functools import partial

import numpy as np
from numpy.typing import NDArray

from facade.arrays import Array
from facade.doors.spreading import CHECKPOINT, DoorSpread, spread
from facade.drawing import Anchor, Drawing, Pen, fitted, text_width
from facade.front import Front
from facade.lengths import Ruler, Unit
from facade.templates.hatch import upright
from facade.templates.piece import Asked, Lines, Piece, Top
from facade.templates.tables import (
    PLAIN,
    PLAIN_PITCH,
    SMALL,
    TITLE,
    TITLE_PITCH,
    Column,
    Row,
    Table,
    table_pieces,
    widest_number,
    wrapped,
)
from facade.templates.windows import Window, windows

# Every fifth strip, counted within its door, is checked against the stick (common practice).
EVERY = 5
# All mm. Beside the first and the last mark; the words above a stick; ticks beyond its body; between figures.
GUTTER = 9.0
_HEAD = 11.6
_TICK = 1.6
_APART = 1.2
_STORY_BODY = 7.0
_NUMBER_ROW = 5.0
_ROW_PAD = 1.6
# Figures that stand on end need so much beside each other.
_ON_END = 3.3
# Numbers of so many doors are written into one stick.
_MOST_ROWS = 3
# Where one strip and gap is more than half a sheet, lengths overlap by this.
_LEAST_OVERLAP = 25.0
# Running text is no wider than reads easily.
_WIDEST = 272.0
_HAIR = 1e-6


def pieces(asked: Asked) -> Iterator[Piece]:
    """Yield the position sticks, the table of positions, and the story stick."""
    spreads = spread(asked.front)
    doors = asked.doors
    groups = alike([one for one in spreads if one.door in doors])
    yield _text_piece(asked, "Position stick", position_words(asked, groups))
    for group in groups:
        yield from _position_pieces(asked, group)
    for group in groups:
        yield from table_pieces(_table(asked, group), asked.room)
    yield _text_piece(asked, "Story stick", story_words(asked), Top.LEFT)
    yield from _story_pieces(asked)


def key(front: Front, lines: Lines) -> Sequence[tuple[Pen, str]]:
    """Return what the lines mean, in words."""
    every = front.job.ruler.text(4 * front.job.station)
    return (
        (Pen.TICK, "edge of a strip, or station"),
        (Pen.CONTOUR_MAIN, f"checkpoint, or every {every}"),
        (Pen.BACK, "end of the stick"),
    )


# Words --------------------------------------------------------------------------------------------------------------------


def position_words(asked: Asked, groups: Sequence[Sequence[DoorSpread]]) -> list[str]:
    """Return how a position stick is made and used, and what was measured at the bench."""
    measured = [
        " ".join((*([f"{doors_in_words(group)}:".capitalize()] if len(groups) > 1 else []), *group[0].sentences))
        for group in groups
        if group[0].sentences
    ]
    return [
        *measured,
        "Plane a straight stick as long as the door is wide and square its LEFT end: that is the one end. Lay a steel rule from it, and "
        "strike every edge at its figure; the paper, laid beside it, shows that none is forgotten. Figures above the stick are LEFT "
        "edges, figures below it RIGHT edges, all from the LEFT edge of the door. Never add length to length, nor strip to strip.",
        f"Strips printed bold are checkpoints, every fifth and the last: within {_checkpoint(asked.ruler)} of the stick before you go on. "
        "Spacers set the gaps; the stick says whether they still add up.",
    ]


def _checkpoint(ruler: Ruler) -> str:
    """Return how far off a checkpoint may be: in inches the fraction next to it."""
    return ruler.text(CHECKPOINT) if ruler.unit is Unit.MM else "1/64 in"


def story_words(asked: Asked) -> list[str]:
    """Return how a story stick is made and used."""
    return [
        "Plane a stick as long as a strip, square its TOP end and mark it. Lay a steel rule from that one end, strike every station at its "
        "figure, and from the stick strike them across all strips at once, their TOP ends against a stop. Every template is laid on "
        "the stations on the wood, never on another template, and no length of this stick on another length.",
    ]


def doors_in_words(group: Sequence[DoorSpread]) -> str:
    """Return "door 1", "doors 1 and 2", "doors 1, 2 and 5"."""
    numbers = [str(one.door.number) for one in group]
    if len(numbers) == 1:
        return f"door {numbers[0]}"
    return f"doors {', '.join(numbers[:-1])} and {numbers[-1]}"


def alike(spreads: Sequence[DoorSpread]) -> list[list[DoorSpread]]:
    """Return the doors in groups that share one stick, in their order."""
    groups: list[list[DoorSpread]] = []
    for one in spreads:
        group = next((group for group in groups if group[0].alike(one)), None)
        if group is None:
            groups.append([one])
        else:
            group.append(one)
    return groups


def _text_piece(asked: Asked, title: str, words: Sequence[str], top: Top = Top.UP) -> Piece:
    width = min(asked.room.width, _WIDEST)
    lines = [wrapped(text, PLAIN, width) for text in words]
    height = TITLE_PITCH + sum(len(one) * PLAIN_PITCH + 1.2 for one in lines)
    return Piece(title, width, height, partial(_draw_text, title, lines, width, height), (), top)


def _draw_text(title: str, paragraphs: Sequence[Sequence[str]], width: float, height: float) -> Drawing:
    piece = Drawing(width, height, title)
    piece.label(title, 0.0, height - TITLE, TITLE, bold=True)
    y = height - TITLE_PITCH
    for lines in paragraphs:
        for line in lines:
            piece.label(line, 0.0, y - 3.4, PLAIN)
            y -= PLAIN_PITCH
        y -= 1.2
    return piece


# Position stick -----------------------------------------------------------------------------------------------------------


@dataclass(frozen=True)
class Length:
    """A length of a stick that is `part` of `parts`, mm from its one end."""

    start: float
    end: float
    part: int
    parts: int


def lengths(whole: float, overlap: float, room: float) -> tuple[Length, ...]:
    """Return equal lengths of a stick that are at most `room` long, neighbours overlapping by `overlap`, all mm."""
    if whole <= room + _HAIR:
        return (Length(0.0, whole, 1, 1),)
    if 2 * overlap > room:
        overlap = min(_LEAST_OVERLAP, room / 2)
    parts = math.ceil((whole - overlap) / (room - overlap) - _HAIR)
    each = (whole + (parts - 1) * overlap) / parts
    starts = [part * (each - overlap) for part in range(parts)]
    return tuple(Length(start, min(start + each, whole), part, parts) for part, start in enumerate(starts, 1))


@dataclass(frozen=True)
class _Marks:
    """The figures of a stick, one for each mark, and how they stand: level, or on end where they are wide.

    `height` is what a row of them takes, mm; `shown` (n,) says which marks have room for theirs.
    """

    words: tuple[str, ...]
    bold: NDArray[np.bool_]
    level: bool
    height: float
    shown: NDArray[np.bool_]


def _marks(ruler: Ruler, places: Array, bold: NDArray[np.bool_], *, exact: bool = True) -> _Marks:
    """Return the figures of marks at rising places, mm from the one end; bold ones come first where room is short.

    `exact` keeps needless zeros.
    """
    words = tuple((ruler.number if exact else ruler.bare)(place) for place in places.tolist())
    wide = np.array([text_width(text, SMALL, bold=True) for text in words])
    nearest = float(np.diff(places).min()) if len(places) > 1 else math.inf
    level = bool(wide.max() + _APART <= nearest)
    beside = wide + _APART if level else np.full(len(places), _ON_END)
    return _Marks(words, bold, level, SMALL if level else float(wide.max()), _with_room(places, beside, bold))


def _with_room(places: Array, beside: Array, first: NDArray[np.bool_]) -> NDArray[np.bool_]:
    """Return which of some labels have room, each `beside` wide: the last one, then those that come `first`, then the others."""
    shown = np.zeros(len(places), dtype=np.bool_)
    order = [len(places) - 1, *np.flatnonzero(first).tolist(), *np.flatnonzero(~first).tolist()]
    for index in order:
        apart = np.abs(places - places[index]) >= (beside + beside[index]) / 2 - _HAIR
        shown[index] |= bool((apart | ~shown).all())
    return shown


def _figures(piece: Drawing, marks: _Marks, at: Array, within: NDArray[np.bool_], base: float, *, above: bool) -> None:
    """Write the figures of the marks `within` this length, their row starting at `base` and growing upwards."""
    for index in np.flatnonzero(within & marks.shown).tolist():
        text, bold = marks.words[index], bool(marks.bold[index])
        if marks.level:
            piece.label(text, at[index], base, SMALL, Anchor.MIDDLE, bold=bold)
        else:
            end, anchor = (base, Anchor.START) if above else (base + marks.height, Anchor.END)
            piece.label(text, at[index] + 0.28 * SMALL, end, SMALL, anchor, bold=bold, turn=90)


def checkpoints(one: DoorSpread) -> NDArray[np.bool_]:
    """Return which strips of a door are checked against the stick: every fifth, and the last."""
    places = np.array(one.places)
    found: NDArray[np.bool_] = places % EVERY == 0
    found[-1] = True
    return found


def _position_pieces(asked: Asked, group: Sequence[DoorSpread]) -> Iterator[Piece]:
    one, ruler = group[0], asked.ruler
    bold = checkpoints(one)
    left, right = _marks(ruler, one.left, bold), _marks(ruler, one.right, bold)
    overlap = float(one.width + one.gap)
    height = _below(right) + _body(group) + _above(left) + _HEAD
    for length in lengths(one.door.width, overlap, asked.room.width - 2 * GUTTER):
        width = max(length.end - length.start + 2 * GUTTER, min(asked.room.width, 120.0))
        draw = partial(_draw_positions, asked, group, length, left, right, width, height)
        yield Piece(f"position stick, {doors_in_words(group)}, length {length.part}", width, height, draw)


def _below(marks: _Marks) -> float:
    return _TICK + 1.0 + marks.height + 0.9


def _above(marks: _Marks) -> float:
    return _TICK + 1.0 + marks.height + 0.9


def _body(group: Sequence[DoorSpread]) -> float:
    """Return how high the stick's body is: a row of strip numbers for each door, where these are few."""
    return _number_rows(group) * _NUMBER_ROW + _ROW_PAD


def _number_rows(group: Sequence[DoorSpread]) -> int:
    return len(group) if len(group) <= _MOST_ROWS else 1


def _draw_positions(
    asked: Asked, group: Sequence[DoorSpread], length: Length, left: _Marks, right: _Marks, width: float, height: float
) -> Drawing:
    one = group[0]
    piece = Drawing(width, height, "position stick")
    low = _below(right)
    high = low + _body(group)
    _draw_body(piece, length, one.door.width, low, high)
    for name, places, marks, start, end in (
        ("left-edges", one.left, left, low, high + _TICK),
        ("right-edges", one.right, right, low - _TICK, high),
    ):
        within = _within(places, length)
        at = GUTTER + places - length.start
        for pen, chosen in ((Pen.TICK, within & ~marks.bold), (Pen.CONTOUR_MAIN, within & marks.bold)):
            piece.lines(upright(at[chosen], start, end), pen, name)
        above = marks is left
        base = high + _TICK + 1.0 if above else low - _TICK - 1.0 - marks.height
        _figures(piece, marks, at, within, base, above=above)
    _numbers(piece, group, length, high)
    size = asked.ruler.text(one.door.width, 2)
    title = f"POSITION STICK, {doors_in_words(group)}{_length_words(asked.ruler, length)}"
    _head(piece, asked, title, f"All from the LEFT edge of the door, {size} wide.{_rows_words(group)}", left_end="LEFT")
    return piece


def _within(places: Array, length: Length | Window) -> NDArray[np.bool_]:
    found: NDArray[np.bool_] = (places >= length.start - _HAIR) & (places <= length.end + _HAIR)
    return found


def _length_words(ruler: Ruler, length: Length | Window) -> str:
    if length.parts == 1:
        return ""
    return f", length {length.part} of {length.parts}: {ruler.bare(length.start)} to {ruler.text(length.end)}"


def _rows_words(group: Sequence[DoorSpread]) -> str:
    """Say whose numbers stand in the body of the stick."""
    if len(group) == 1:
        return ""
    if len(group) <= _MOST_ROWS:
        return f" Numbers from above: {', '.join(f'door {one.door.number}' for one in group)}."
    return f" Numbers of door {group[0].door.number}; of the others, see the table."


def _head(piece: Drawing, asked: Asked, title: str, words: str, *, left_end: str) -> None:
    """Write what the stick is, below an arrow to its one end."""
    y, mark = piece.height, asked.front.mark
    piece.shape([[0.5, y - 3.0], [6.9, y - 0.4], [6.9, y - 5.6]], Pen.SOLID, "arrow")
    x = 8.2 + piece.label(left_end, 8.2, y - 4.6, TITLE, bold=True) + 4.0
    piece.label(fitted(title, PLAIN, piece.width - x, bold=True), x, y - 4.6, PLAIN, bold=True)
    beside = piece.label(mark, piece.width - 0.5, y - 9.6, SMALL, Anchor.END, bold=True)
    piece.label(fitted(words, SMALL, piece.width - 2.5 - beside), 0.5, y - 9.6, SMALL)


def _draw_body(piece: Drawing, length: Length | Window, whole: float, low: float, high: float) -> None:
    """Draw the stick's two edges and its ends: a real end heavy, where it goes on pale."""
    left, right = GUTTER, GUTTER + length.end - length.start
    piece.lines([[[left, low], [right, low]], [[left, high], [right, high]]], Pen.OUTLINE, "stick")
    for at, real in ((left, length.start == 0.0), (right, abs(length.end - whole) < _HAIR)):
        piece.line([[at, low], [at, high]], Pen.BACK if real else Pen.FINE, "stick-end")


def _numbers(piece: Drawing, group: Sequence[DoorSpread], length: Length, high: float) -> None:
    """Write the strips' numbers into the body, a row for each door, where there is room between their edges."""
    one = group[0]
    bold = checkpoints(one)
    middles = (one.left + one.right) / 2
    inside = _within(one.left, length) & _within(one.right, length)
    rows = group[: _number_rows(group)]
    for row, door in enumerate(rows):
        words = [str(number) for number in door.numbers]
        wide = np.array([text_width(text, PLAIN, bold=True) for text in words])
        roomy = _with_room(middles, wide + _APART, bold) & inside
        y = high - _ROW_PAD / 2 - (row + 1) * _NUMBER_ROW + 1.3
        for index in np.flatnonzero(roomy).tolist():
            x = GUTTER + middles[index] - length.start
            piece.label(words[index], x, y, PLAIN, Anchor.MIDDLE, bold=bool(bold[index]))


def _table(asked: Asked, group: Sequence[DoorSpread]) -> Table:
    """Return the edges of every strip as a table."""
    one, ruler = group[0], asked.ruler
    number = widest_number(ruler, one.door.width)
    strips = [
        Column(
            (f"door {door.door.number}", "strip") if len(group) > 1 else ("", "strip"), str(door.numbers[-1]), bold=True
        )
        for door in group
    ]
    return Table(
        title=f"Positions on {doors_in_words(group)}",
        columns=(
            Column(("", "place"), str(one.places[-1])),
            Column(("LEFT", "edge"), number),
            Column(("RIGHT", "edge"), number),
            Column(("", "check"), "check"),
            Column(("", "seen"), box=4.4),
            *strips,
        ),
        count=len(one.numbers),
        rows=partial(_table_rows, ruler, group),
        about=[()] * len(one.numbers),
        note=f"From the LEFT edge of the door. check: within {_checkpoint(ruler)} of the stick before you go on.",
        key=5,
        words=min(asked.room.width, 120.0),
    )


def _table_rows(ruler: Ruler, group: Sequence[DoorSpread], first: int, after: int) -> list[Row]:
    one, bold = group[0], checkpoints(group[0])
    return [
        (
            str(one.places[index]),
            ruler.number(float(one.left[index])),
            ruler.number(float(one.right[index])),
            "check" if bold[index] else "",
            "",
            *(str(door.numbers[index]) for door in group),
        )
        for index in range(first, after)
    ]


# Story stick --------------------------------------------------------------------------------------------------------------


def _story_pieces(asked: Asked) -> Iterator[Piece]:
    """Yield the lengths of the story stick; all strips of a front are equally long."""
    job, whole = asked.front.job, asked.front.layout.strips[0].length
    for window in windows(whole, job.station, asked.room.width - 2 * GUTTER, asked.ruler):
        bold = _every_fourth(window.stations, job.station)
        marks = _marks(asked.ruler, window.stations, bold, exact=False)
        width = max(window.length + 2 * GUTTER, min(asked.room.width, 120.0))
        height = 1.0 + _STORY_BODY + _above(marks) + _HEAD
        draw = partial(_draw_story, asked, window, whole, marks, width, height)
        yield Piece(f"story stick, length {window.part}", width, height, draw, (), Top.LEFT)


def _every_fourth(marks: Array, station: float) -> NDArray[np.bool_]:
    """Return which stations are 100 mm, or 4 in, apart in the usual steps."""
    found: NDArray[np.bool_] = np.rint(marks / station).astype(int) % 4 == 0
    return found


def _draw_story(asked: Asked, window: Window, whole: float, marks: _Marks, width: float, height: float) -> Drawing:
    piece = Drawing(width, height, "story stick")
    low, high = 1.0, 1.0 + _STORY_BODY
    _draw_body(piece, window, whole, low, high)
    at = GUTTER + window.stations - window.start
    for pen, chosen in ((Pen.TICK, ~marks.bold), (Pen.CONTOUR_MAIN, marks.bold)):
        piece.lines(upright(at[chosen], low, high + _TICK), pen, "stations")
    _figures(piece, marks, at, np.ones(len(at), dtype=np.bool_), high + _TICK + 1.0, above=True)
    title = f"STORY STICK{_length_words(asked.ruler, window)}"
    words = f"Stations from the TOP end of every strip, {asked.ruler.text(whole, 2)} long."
    _head(piece, asked, title, words, left_end="TOP")
    return piece
