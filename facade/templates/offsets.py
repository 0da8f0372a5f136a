"""The table of offsets: heights and depths of each strip's sides at its stations, to plot and to join with a thin batten.

What is plotted by a steel rule knows nothing of printers and of damp paper.
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Callable, Iterator, Sequence
from functools import partial

import numpy as np

from facade.drawing import Drawing, text_width
from facade.front import Front
from facade.lengths import Ruler, Unit
from facade.slicer import edge_heights, stations
from facade.templates.packing import APART
from facade.templates.piece import Asked, Piece
from facade.templates.tables import (
    PLAIN,
    PLAIN_PITCH,
    RUNS_APART,
    TITLE,
    TITLE_PITCH,
    Column,
    Row,
    Table,
    block_size,
    table_pieces,
    widest_number,
    wrapped,
)

# So many runs of a strip's stations may stand side by side.
_MOST_RUNS = 8
# The blocks of so few strips are kept low.
_FEW = 3
_FINEST = 64
# Kept free beside a strip's block, mm.
_BESIDE = 1.2


def pieces(asked: Asked) -> Iterator[Piece]:
    """Yield how to use the table, and a block for each strip that is asked for."""
    yield _opening(asked)
    columns = {centre: _columns(asked, centre=centre) for centre in (False, True)}
    usual = partial(_offsets_table, asked, asked.strips[0], columns[False], False)
    for number, runs in zip(asked.strips, itertools.cycle(_runs_of_a_sheet(asked, usual))):
        centre = has_centre(asked.front, number)
        yield from table_pieces(_offsets_table(asked, number, columns[centre], centre, runs), asked.room)


def finer(ruler: Ruler) -> Ruler:
    """Return the ruler that heights are listed by: in inches to 1/64 at least, since 1/32 may put a line 0.4 mm off."""
    return ruler if ruler.unit is Unit.MM else Ruler(Unit.INCH, max(_FINEST, ruler.fraction))


def _opening(asked: Asked) -> Piece:
    """Return what is said before the first block, as wide as the room."""
    ruler = finer(asked.ruler)
    plotted = "the nearest 0.5 mm" if ruler.unit is Unit.MM else f"the nearest 1/{ruler.fraction} in"
    text = (
        "From TOP: the station, struck with the story stick. High: finished height above the BACK. Deep: depth below the raw face "
        f"of the blank, {ruler.text(asked.front.job.blank)} above the BACK. L, R: LEFT and RIGHT side; C: centre line, where it is "
        f"worth tracing. Plot to {plotted}, spring a thin batten through the points, and draw. These are finished heights: carve "
        "to the sanding allowance above them."
    )
    lines = wrapped(text, PLAIN, asked.room.width)
    height = TITLE_PITCH + len(lines) * PLAIN_PITCH + 1.5
    draw = partial(_draw_opening, lines, asked.room.width, height)
    return Piece("Table of offsets", asked.room.width, height, draw, asked.strips)


def _draw_opening(lines: list[str], width: float, height: float) -> Drawing:
    piece = Drawing(width, height, "Table of offsets")
    piece.label("Table of offsets", 0.0, height - 4.2, TITLE, bold=True)
    for index, line in enumerate(lines):
        piece.label(line, 0.0, height - TITLE_PITCH - index * PLAIN_PITCH - 3.2, PLAIN)
    return piece


def has_centre(front: Front, number: int) -> bool:
    """Whether a strip's centre line is worth tracing."""
    return front.strip(number).ruler_error > front.job.limit("centre_line").value


def _offsets_table(asked: Asked, number: int, columns: tuple[Column, ...], centre: bool, runs: int) -> Table:
    """Return a strip's block as a table, its stations in so many runs side by side."""
    front = asked.front
    place = front.layout.strip(number)
    count = len(stations(place.length, front.job.station))
    wide = runs * sum(column.width for column in columns) + (runs - 1) * RUNS_APART
    return Table(
        title=f"Strip {number}, door {place.door}",
        columns=columns,
        count=count,
        rows=partial(offset_rows, asked, number, centre),
        about=[(number,)] * count,
        runs=runs,
        words=wide + _BESIDE,
    )


def _columns(asked: Asked, *, centre: bool) -> tuple[Column, ...]:
    ruler, job = finer(asked.ruler), asked.front.job
    height = widest_number(ruler, job.blank)
    marks = stations(asked.front.layout.strips[0].length, job.station)
    from_top = max((ruler.bare(mark) for mark in marks.tolist()), key=lambda words: text_width(words, 1.0))
    return (
        Column(("from", "TOP"), from_top),
        Column(("high", "L"), height, bold=True),
        Column(("", "R"), height, bold=True),
        *((Column(("", "C"), height, bold=True),) if centre else ()),
        Column(("deep", "L"), height),
        Column(("", "R"), height),
    )


def _runs_of_a_sheet(asked: Asked, usual: Callable[[int], Table]) -> Sequence[int]:
    """Return in how many runs each of the blocks of a sheet stands, so that a sheet holds many; `usual` gives a block of so many runs.

    Few blocks are as low as can be instead, so that they have place under the other lists.
    """
    shelves = []
    for runs in range(1, _MOST_RUNS + 1):
        width, height = block_size(usual(runs))
        across = int((asked.room.width + APART) / (width + APART))
        if across:
            shelves.append((height + APART, (runs,) * across))
    if len(asked.strips) <= _FEW:
        return shelves[-1][1][:1] if shelves else (1,)
    return _best_filling(asked.room.height + APART, shelves) or (_MOST_RUNS,)


def _best_filling(room: float, shelves: Sequence[tuple[float, tuple[int, ...]]]) -> tuple[int, ...]:
    """Return the blocks, by their runs, that fill a height best: most blocks, and of these those of the fewest runs.

    Shelves are of a height and of so many blocks of so many runs; whole millimetres are filled one after the other.
    """
    best: list[tuple[int, ...]] = [()]
    for high in range(1, int(room) + 1):
        filled = [best[high - math.ceil(height)] + blocks for height, blocks in shelves if math.ceil(height) <= high]
        best.append(max([best[-1], *filled], key=lambda blocks: (len(blocks), -sum(blocks))))
    # The high ones first: they find place under what is said before the first block.
    return tuple(sorted(best[-1]))


def offset_rows(asked: Asked, number: int, centre: bool, first: int, after: int) -> list[Row]:
    """Return the words of some stations of a strip: from the top, heights left, right and in the middle, depths left and right."""
    front, ruler = asked.front, finer(asked.ruler)
    place, blank = front.layout.strip(number), front.job.blank
    marks = stations(place.length, front.job.station)[first:after]
    left, right = edge_heights(front.surface, place, marks)
    high = [left, right]
    if centre:
        middle = np.array([[(place.left + place.right) / 2]])
        high.append(front.surface.at(middle, (place.top - marks)[:, None])[:, 0])
    columns = [[ruler.number(value) for value in heights.tolist()] for heights in (*high, blank - left, blank - right)]
    return list(zip([ruler.bare(mark) for mark in marks.tolist()], *columns, strict=True))
