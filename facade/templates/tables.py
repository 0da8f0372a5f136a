"""A small typesetter: tables and running text as pieces.

A table is as wide as its heads and its widest words need. It stands in as many runs side by side as the room has, and goes on
in further pieces with its heads repeated. Running text is a row of blocks that flows through columns and pages.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from functools import partial

import numpy as np
from numpy.typing import ArrayLike

from facade.arrays import Array
from facade.drawing import Anchor, Drawing, Pen, printable, text_width
from facade.lengths import MM_PER_INCH, Ruler, Unit
from facade.templates.piece import Piece, Room

# All mm. Type of cells, of heads and notes, of running text, of titles; and how far apart their lines are.
TYPE = 2.8
SMALL = 2.6
PLAIN = 3.2
TITLE = 4.2
PITCH = 4.6
SMALL_PITCH = 3.7
PLAIN_PITCH = 4.6
TITLE_PITCH = 5.6
# Beside the words of a cell, between two runs of a table, between two columns of running text.
PAD = 0.9
RUNS_APART = 5.0
GUTTER = 6.0
# A run of fewer rows than this is not worth its heads.
_LEAST_ROWS = 8
_HAIR = 1e-6
# A picture is reduced by one of these.
SCALES = (1, 2, 2.5, 4, 5, 8, 10, 15, 20, 25, 30, 40, 50, 75, 100, 150, 200, 300, 400, 500, 750, 1000)

Row = Sequence[str]


@dataclass(frozen=True)
class Column:
    """A column of a table: its head, line by line, where its words stand, and the widest of them.

    With a `box`, mm wide, it holds empty boxes to fill in or to tick, and no words. It is at least `least` mm wide.
    """

    head: tuple[str, ...]
    widest: str = ""
    anchor: Anchor = Anchor.END
    bold: bool = False
    box: float = 0.0
    least: float = 0.0

    @property
    def width(self) -> float:
        """Width, mm, room beside the words included."""
        heads = max(text_width(line, SMALL, bold=True) for line in self.head)
        words = text_width(self.widest, TYPE, bold=self.bold)
        return max(max(heads, self.box, words) + 2 * PAD, self.least)

    def place(self, left: float) -> float:
        """Return where words stand in the column that begins at `left`."""
        share = {Anchor.START: 0.0, Anchor.MIDDLE: 0.5, Anchor.END: 1.0}[self.anchor]
        return left + PAD + share * (self.width - 2 * PAD)


@dataclass(frozen=True)
class Table:
    """A table: `rows(first, after)` gives the words of the rows from `first` on and before `after`, and is asked when they are drawn.

    `about` are the strips that each of the `count` rows is about. The first `key` columns are repeated where the table is
    too wide for the room; `runs` is how many runs stand side by side, as many as there is room for where it is None.
    `words` is the least width that its title and note are given.
    """

    title: str
    columns: tuple[Column, ...]
    count: int
    rows: Callable[[int, int], Sequence[Row]]
    about: Sequence[tuple[int, ...]]
    note: str = ""
    key: int = 1
    runs: int | None = None
    words: float = 90.0


@dataclass(frozen=True)
class _Cut:
    """How a table is cut to a room: which columns, how many runs side by side, the rows of a run, and of a piece."""

    columns: tuple[int, ...]
    runs: int
    length: int
    rows: int
    width: float
    head: tuple[str, ...]
    note: tuple[str, ...]


def table_pieces(table: Table, room: Room) -> list[Piece]:
    """Return a table as pieces that fit the room, in the order of its rows."""
    pieces = []
    for columns in _column_groups(table, room.width):
        cut = _cut(table, columns, room)
        parts = math.ceil(table.count / cut.rows)
        for part in range(parts):
            first, after = part * cut.rows, min((part + 1) * cut.rows, table.count)
            told = _part_words(part, parts)
            height = _top(cut, table, told) + min(cut.length, after - first) * PITCH + 0.5
            draw = partial(_draw_part, table, cut, first, after, told, height)
            about = tuple(sorted({number for numbers in table.about[first:after] for number in numbers}))
            pieces.append(Piece(f"{table.title}{told and f', {told}'}", cut.width, height, draw, about))
    return pieces


def _part_words(part: int, parts: int) -> str:
    if parts == 1:
        return ""
    return f"{'continued, ' if part else ''}part {part + 1} of {parts}"


def _column_groups(table: Table, room: float) -> list[tuple[int, ...]]:
    """Return the columns in groups that fit side by side, each beginning with the key."""
    key = tuple(range(table.key))
    used = sum(table.columns[index].width for index in key)
    groups: list[tuple[int, ...]] = [key]
    width = used
    for index in range(table.key, len(table.columns)):
        wide = table.columns[index].width
        if width + wide > room and len(groups[-1]) > len(key):
            groups.append(key)
            width = used
        groups[-1] += (index,)
        width += wide
    return groups


def _run_width(table: Table, columns: Sequence[int]) -> float:
    return sum(table.columns[index].width for index in columns)


def _cut(table: Table, columns: tuple[int, ...], room: Room) -> _Cut:
    one = _run_width(table, columns)
    across = max(1, int((room.width + RUNS_APART + _HAIR) / (one + RUNS_APART)))
    runs = min(across, table.runs or max(1, table.count // _LEAST_ROWS))
    width = min(room.width, max(runs * one + (runs - 1) * RUNS_APART, table.words))
    head = tuple(wrapped(table.title, TITLE, width, bold=True))
    note = tuple(wrapped(table.note, SMALL, width)) if table.note else ()
    bare = _Cut(columns, runs, 0, 0, width, head, note)
    length = math.ceil(table.count / runs)
    if length > _rows_that_fit(bare, table, "", room):
        parts = math.ceil(table.count / (_rows_that_fit(bare, table, "part", room) * runs))
        length = math.ceil(math.ceil(table.count / parts) / runs)
    return replace(bare, length=length, rows=length * runs)


def _rows_that_fit(cut: _Cut, table: Table, told: str, room: Room) -> int:
    return max(1, int((room.height - _top(cut, table, told) - 0.5 + _HAIR) / PITCH))


def _top(cut: _Cut, table: Table, told: str) -> float:
    """Return the height of all that stands above the rows, mm."""
    return len(cut.head) * TITLE_PITCH + (len(cut.note) + bool(told)) * SMALL_PITCH + 1.0 + _heads_height(table, cut)


def _heads_height(table: Table, cut: _Cut) -> float:
    return max(len(table.columns[index].head) for index in cut.columns) * SMALL_PITCH + 1.0


def block_size(table: Table) -> tuple[float, float]:
    """Return width and height, mm, of a table in one piece with the runs that it asks for, however large that is."""
    runs = table.runs or 1
    columns = tuple(range(len(table.columns)))
    one = _run_width(table, columns)
    width = max(runs * one + (runs - 1) * RUNS_APART, table.words)
    head = tuple(wrapped(table.title, TITLE, width, bold=True))
    cut = _Cut(columns, runs, 0, 0, width, head, tuple(wrapped(table.note, SMALL, width)) if table.note else ())
    return width, _top(cut, table, "") + math.ceil(table.count / runs) * PITCH + 0.5


def _draw_part(table: Table, cut: _Cut, first: int, after: int, told: str, height: float) -> Drawing:
    piece = Drawing(cut.width, height, table.title)
    y = _words_above(piece, cut, told, height)
    rows = table.rows(first, after)
    base = y - _heads_height(table, cut)
    columns = [table.columns[index] for index in cut.columns]
    lefts = np.concatenate([[0.0], np.cumsum([column.width for column in columns])]).tolist()
    step = lefts[-1] + RUNS_APART
    used = math.ceil(len(rows) / cut.length)
    for run in range(used):
        part = rows[run * cut.length : (run + 1) * cut.length]
        for index, column, left in zip(cut.columns, columns, lefts, strict=False):
            _column(piece, column, run * step + left, base, [row[index] for row in part])
    _rules(piece, cut, first, len(rows), lefts[-1], base)
    return piece


def _words_above(piece: Drawing, cut: _Cut, told: str, height: float) -> float:
    """Write title, part and note, and return the level below them."""
    y = height
    for line in cut.head:
        piece.label(line, 0.0, y - 4.0, TITLE, bold=True)
        y -= TITLE_PITCH
    for line in (*((told,) if told else ()), *cut.note):
        piece.label(line, 0.0, y - 2.5, SMALL)
        y -= SMALL_PITCH
    return y - 1.0


def _column(piece: Drawing, column: Column, left: float, base: float, words: Sequence[str]) -> None:
    """Write a column's head above `base` and its words below, or draw its boxes."""
    x = column.place(left)
    for index, line in enumerate(reversed(column.head)):
        if line:
            piece.label(line, x, base + 1.3 + index * SMALL_PITCH, SMALL, column.anchor, bold=True)
    if column.box:
        middle = left + column.width / 2
        y = base - PITCH * np.arange(len(words))
        piece.lines(boxes(middle - column.box / 2, middle + column.box / 2, y - 4.1, y - 0.5), Pen.BOX, "boxes")
        return
    for index, text in enumerate(words):
        if text:
            piece.label(text, x, base - (index + 1) * PITCH + 1.2, TYPE, column.anchor, bold=column.bold)


def boxes(left: ArrayLike, right: ArrayLike, low: ArrayLike, high: ArrayLike) -> Array:
    """Return closed rectangles as runs (n, 5, 2)."""
    x0, x1, y0, y1 = np.broadcast_arrays(*map(np.atleast_1d, (left, right, low, high)))
    corners = [(x0, y0), (x1, y0), (x1, y1), (x0, y1), (x0, y0)]
    return np.stack([np.stack(corner, axis=-1) for corner in corners], axis=1)


def _rules(piece: Drawing, cut: _Cut, first: int, rows: int, width: float, base: float) -> None:
    """Draw a line under the heads and under every row, heavier under every fifth of the whole table."""
    index = np.arange(rows)
    run, row = np.divmod(index, cut.length)
    left = run * (width + RUNS_APART)
    y = base - (row + 1) * PITCH
    under = np.stack([np.stack([left, y], axis=-1), np.stack([left + width, y], axis=-1)], axis=1)
    fifth = (first + index + 1) % 5 == 0
    piece.lines(under[~fifth], Pen.FINE, "rows")
    piece.lines(under[fifth], Pen.OUTLINE, "fifth-rows")
    starts = np.unique(left)
    heads = np.array([[[x, base], [x + width, base]] for x in starts.tolist()])
    piece.lines(heads, Pen.RULE, "heads")


def widest_number(ruler: Ruler, most: float) -> str:
    """Return the widest words that `ruler.number` may give for lengths of 0 to `most` mm."""
    if ruler.unit is Unit.MM:
        return ruler.number(most)
    whole = int(most / MM_PER_INCH)
    return f"{whole} {ruler.fraction - 1}/{ruler.fraction}" if whole else f"{ruler.fraction - 1}/{ruler.fraction}"


def tolerance(ruler: Ruler, mm: float) -> str:
    """Return how far something may be off, in words: in inches a decimal of two figures, as a feeler or a calliper has it."""
    return ruler.fine(mm) if ruler.unit is Unit.MM else f"{mm / MM_PER_INCH:.2g} in"


def wrapped(text: str, size: float, room: float, *, bold: bool = False) -> list[str]:
    """Return a text in lines that are at most `room` mm wide; a word that is wider is broken."""
    lines: list[str] = []
    line = ""
    for word in printable(text).split(" "):
        longer = f"{line} {word}" if line else word
        if text_width(longer, size, bold=bold) <= room:
            line = longer
            continue
        if line:
            lines.append(line)
        *broken, line = _broken(word, size, room, bold=bold)
        lines += broken
    return [*lines, line]


def _broken(word: str, size: float, room: float, *, bold: bool) -> list[str]:
    """Return a word in stretches that are at most `room` wide."""
    parts = [""]
    for letter in word:
        if parts[-1] and text_width(parts[-1] + letter, size, bold=bold) > room:
            parts.append("")
        parts[-1] += letter
    return parts


def reduction(width: float, height: float, room_width: float, room_height: float) -> float:
    """Return the least usual reduction by which a size fits a room, 5 for 1 : 5."""
    least = max(width / room_width, height / room_height)
    return next((scale for scale in SCALES if scale >= least), float(math.ceil(least)))


@dataclass(frozen=True)
class Block:
    """A part of running text: its height, mm, and how it is drawn with its upper left corner at (left, top).

    One that `leads` is never the last of its column: a heading.
    """

    height: float
    draw: Callable[[Drawing, float, float], None]
    leads: bool = False


@dataclass(frozen=True)
class Flow:
    """The columns that running text flows through on a page: how many, and how wide, mm."""

    room: Room
    columns: int
    width: float


def flow(room: Room, column: float = 86.0) -> Flow:
    """Return as many columns as the room has place for, of at least `column` mm where it is wide enough."""
    count = max(1, int((room.width + GUTTER) / (column + GUTTER)))
    return Flow(room, count, (room.width - (count - 1) * GUTTER) / count)


def heading(text: str, width: float) -> Block:
    """Return a heading with a line under it."""
    lines = wrapped(text, TITLE, width, bold=True)
    return Block(2.4 + len(lines) * TITLE_PITCH + 1.6, partial(_draw_heading, lines, width), leads=True)


def _draw_heading(lines: Sequence[str], width: float, piece: Drawing, left: float, top: float) -> None:
    y = top - 2.4
    for line in lines:
        piece.label(line, left, y - 4.2, TITLE, bold=True)
        y -= TITLE_PITCH
    piece.line([[left, y], [left + width, y]], Pen.RULE, "heading")


def paragraph(text: str, width: float, *, lead: str = "", alone: bool = False) -> Block:
    """Return a paragraph; `lead` is a word or two in bold before it, on a line of their own where they are long or `alone`."""
    beside = text_width(f"{lead} ", PLAIN, bold=True) if lead else 0.0
    alone = bool(lead) and (alone or beside > 0.35 * width)
    indent = 0.0 if alone else beside
    lines = wrapped(text, PLAIN, width - indent)
    height = (len(lines) + alone) * PLAIN_PITCH + 1.2
    return Block(height, partial(_draw_text, lines, indent, lead, alone))


def _draw_text(
    lines: Sequence[str], indent: float, lead: str, alone: bool, piece: Drawing, left: float, top: float
) -> None:
    y = top
    if lead:
        piece.label(lead, left, y - 3.3, PLAIN, bold=True)
        y -= PLAIN_PITCH * alone
    for line in lines:
        piece.label(line, left + indent, y - 3.3, PLAIN)
        y -= PLAIN_PITCH


# A tick box, and what stands beside it.
_BOX = 4.0
_BESIDE_BOX = 6.4


def tick(text: str, width: float, *, lead: str = "", dated: str = "") -> Block:
    """Return a paragraph behind a box to tick, headed by `lead`; with `dated`, a line to write on follows it."""
    room = width - _BESIDE_BOX
    title = wrapped(lead, PLAIN, room, bold=True) if lead else []
    lines = wrapped(text, PLAIN, room) if text else []
    height = max((len(title) + len(lines)) * PLAIN_PITCH, _BOX + 0.4) + (7.0 if dated else 0.0) + 1.2
    return Block(height, partial(_draw_tick, title, lines, dated, width))


def _draw_tick(
    title: Sequence[str], lines: Sequence[str], dated: str, width: float, piece: Drawing, left: float, top: float
) -> None:
    piece.lines(boxes(left + 0.2, left + 0.2 + _BOX, top - 0.2 - _BOX, top - 0.2), Pen.BOX, "tick")
    x, y = left + _BESIDE_BOX, top
    for bold, part in ((True, title), (False, lines)):
        for line in part:
            piece.label(line, x, y - 3.3, PLAIN, bold=bold)
            y -= PLAIN_PITCH
    if dated:
        y -= 5.4
        start = x + piece.label(dated, x, y, SMALL) + 1.5
        piece.line([[start, y - 0.4], [left + width, y - 0.4]], Pen.TICK, "to-write-on")


def flowed(name: str, blocks: Sequence[Block], through: Flow, top: Block | None = None) -> list[Piece]:
    """Return running text as pieces, a page each, no higher than needed; `top` goes above all columns of the first."""
    units = _units(blocks)
    above = top.height + 2.0 if top else 0.0
    if through.room.height - above < max(unit[0] for unit in units):
        # No room beside it: it has a page to itself.
        alone = [_page_piece(name, [[]], through, above, top)]
        return alone + _pages(name, units, through, 0.0, None)
    return _pages(name, units, through, above, top)


_Unit = tuple[float, tuple[Block, ...]]


def _units(blocks: Sequence[Block]) -> list[_Unit]:
    """Return the blocks with their height, each heading together with what it leads."""
    units: list[_Unit] = []
    held: tuple[Block, ...] = ()
    for block in blocks:
        held += (block,)
        if not block.leads:
            units.append((sum(one.height for one in held), held))
            held = ()
    return units


def _pages(name: str, units: Sequence[_Unit], through: Flow, above: float, top: Block | None) -> list[Piece]:
    full = through.room.height
    pages = _filled(units, through.columns, full - above, full)
    # All columns of all pages a little shorter, as long as that takes no further page.
    spare = 0.0
    while spare + 4.0 < full - above:
        trial = _filled(units, through.columns, full - above - spare - 4.0, full - spare - 4.0)
        if trial is None or pages is None or len(trial) > len(pages):
            break
        pages, spare = trial, spare + 4.0
    assert pages is not None, f"{name} has a part that is higher than the room"
    return [
        _page_piece(name, columns, through, above if number == 0 else 0.0, top if number == 0 else None)
        for number, columns in enumerate(pages)
    ]


def _filled(units: Sequence[_Unit], columns: int, first: float, others: float) -> list[list[list[_Unit]]] | None:
    """Return the units by pages and columns of these heights, None where one is higher than a column."""
    if max(unit[0] for unit in units) > min(first, others):
        return None
    pages: list[list[list[_Unit]]] = [[[]]]
    left = first
    for unit in units:
        if unit[0] > left + _HAIR:
            if len(pages[-1]) == columns:
                pages.append([[]])
            else:
                pages[-1].append([])
            left = first if len(pages) == 1 else others
        pages[-1][-1].append(unit)
        left -= unit[0]
    return pages


def _page_piece(name: str, columns: Sequence[Sequence[_Unit]], through: Flow, above: float, top: Block | None) -> Piece:
    height = above + max(sum(unit[0] for unit in column) for column in columns)
    return Piece(name, through.room.width, height, partial(_draw_page, name, columns, through, above, height, top))


def _draw_page(
    name: str,
    columns: Sequence[Sequence[_Unit]],
    through: Flow,
    above: float,
    height: float,
    top: Block | None,
) -> Drawing:
    piece = Drawing(through.room.width, height, name)
    if top:
        top.draw(piece, 0.0, height)
    for number, column in enumerate(columns):
        left, y = number * (through.width + GUTTER), height - above
        for _, blocks in column:
            for block in blocks:
                block.draw(piece, left, y)
                y -= block.height
    return piece
