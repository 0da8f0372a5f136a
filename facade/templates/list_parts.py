"""The part list: every strip in hanging order, its size, its neighbours, where it is thin and thick, and what can stand in for it."""

from __future__ import annotations

import itertools
import math
from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property, partial

import numpy as np

from facade.arrays import Array
from facade.drawing import Anchor, text_width
from facade.front import Front
from facade.layout import run_in_words, runs_of
from facade.slicer import Spot
from facade.templates.piece import Asked, Piece
from facade.templates.tables import PAD, TYPE, Column, Row, Table, table_pieces, widest_number

# Strips can stand in for each other where their sizes and their faces differ by no more than this, mm: what a gap and eased
# edges hide. Common practice.
SAME_SIZE = 0.05
SAME_FACE = 0.5
# Faces are compared on a grid of this step, mm; what agrees there is compared again on the strips' own heights.
_STEP = 5.0
# A first look at so many places rules most pairs out.
_FIRST_LOOK = 24
# More strips than these are not compared, more pairs not compared again, more heights of one strip not looked at.
MOST_PAIRS = 160_000
_MOST_AGAIN = 5000
_MOST_HEIGHTS = 20_000
# The column of strips that can stand in is so wide, mm, as the room allows.
_LEAST_WIDE = 21.0
_MOST_WIDE = 45.0


def pieces(asked: Asked) -> list[Piece]:
    """Return the part list of the strips that are asked for."""
    return table_pieces(parts_table(asked), asked.room)


def parts_table(asked: Asked) -> Table:
    """Return the part list as a table; its rows are the strips from the left."""
    columns = _columns(asked)
    spare = asked.room.width - sum(column.width for column in columns)
    wide = min(max(spare, _LEAST_WIDE), _MOST_WIDE)
    swaps = Column(("stands in", "for it"), anchor=Anchor.START, least=wide)
    fine = asked.ruler.fine(SAME_FACE)
    return Table(
        title="Part list",
        columns=(*columns[:-1], swaps, columns[-1]),
        count=len(asked.strips),
        rows=partial(part_rows, asked, StandIns(asked.front, asked.strips), wide - 2 * PAD),
        about=[(number,) for number in asked.strips],
        note=(
            "In hanging order, from the left as seen from the front. Write each board's letter in its box. Heights are finished, "
            "above the BACK, and their places from the TOP end. Centre line: trace one too where it says yes. "
            f"Stands in for it: strips of the same size whose finished face is nowhere more than {fine} higher or lower."
        ),
    )


def _columns(asked: Asked) -> tuple[Column, ...]:
    front, ruler = asked.front, asked.ruler
    number, door = str(front.count), str(len(front.layout.doors))
    length = max((place.length for place in front.layout.strips), default=0.0)
    width = max((place.width for place in front.layout.strips), default=0.0)
    blank = front.job.blank
    height, from_top = widest_number(ruler, blank), widest_number(ruler, length).removesuffix(".0")
    size = " x ".join(max({ruler.bare(one), widest_number(ruler, one)}, key=len) for one in (width, blank, length))
    return (
        Column(("strip",), number, bold=True),
        Column(("door",), door),
        Column(("board",), box=10.0),
        Column(("width x thickness", "x length"), size),
        Column(("left", "of it"), number),
        Column(("right", "of it"), number),
        Column(("thin-", "nest"), height, bold=True),
        Column(("from", "TOP"), from_top),
        Column(("thick-", "est"), height, bold=True),
        Column(("from", "TOP"), from_top),
        Column(("centre", "line"), "yes", Anchor.MIDDLE),
        Column(("there",), box=4.4),
    )


def part_rows(asked: Asked, stand_ins: StandIns, room: float, first: int, after: int) -> list[Row]:
    """Return the words of some rows; strips that can stand in are named as far as `room` mm goes."""
    return [_row(asked, number, short_list(stand_ins.of(number), room)) for number in asked.strips[first:after]]


def _row(asked: Asked, number: int, stand_ins: str) -> Row:
    strip, ruler = asked.front.strip(number), asked.ruler
    place = strip.place
    centre = strip.ruler_error > asked.front.job.limit("centre_line").value
    return (
        str(number),
        str(place.door),
        "",
        " x ".join(ruler.bare(size) for size in (strip.width, strip.blank, strip.length)),
        str(place.left_neighbour or "end"),
        str(place.right_neighbour or "end"),
        *_spot(asked, strip.thinnest),
        *_spot(asked, strip.thickest),
        "yes" if centre else "no",
        stand_ins,
        "",
    )


def _spot(asked: Asked, spot: Spot) -> tuple[str, str]:
    return asked.ruler.number(spot.height), asked.ruler.number(spot.from_top, 0)


def short_list(numbers: Sequence[int] | None, room: float) -> str:
    """Return rising numbers as words that are at most `room` mm wide: "3, 7 to 9 +12" where twelve more have no room."""
    if numbers is None:
        return "not compared"
    runs = runs_of(numbers)
    for shown in range(len(runs), 0, -1):
        left_out = sum(map(len, runs[shown:]))
        words = ", ".join(run_in_words(run) for run in runs[:shown])
        words += f" +{left_out}" if left_out else ""
        if text_width(words, TYPE) <= room:
            return words
    return f"{len(numbers)} strips" if numbers else "none"


@dataclass(frozen=True)
class StandIns:
    """Which strips of a front can stand in for some of them; compared when it is first asked."""

    front: Front
    strips: tuple[int, ...]

    def of(self, number: int) -> tuple[int, ...] | None:
        """Return the strips that can stand in for one, None where there are too many strips to compare."""
        return None if self._found is None else self._found[number]

    @cached_property
    def _found(self) -> dict[int, tuple[int, ...]] | None:
        if len(self.strips) * self.front.count > MOST_PAIRS:
            return None
        return interchangeable(self.front, self.strips)


def interchangeable(front: Front, strips: Sequence[int]) -> dict[int, tuple[int, ...]]:
    """Return for each of the strips those of the whole front that agree with it in size and face."""
    widths = np.array([place.width for place in front.layout.strips])
    lengths = np.array([place.length for place in front.layout.strips])
    faces = _faces(front)
    # Places far apart come first.
    few = faces[:, :: max(1, faces.shape[1] // _FIRST_LOOK)]
    found: dict[int, tuple[int, ...]] = {}
    for number in strips:
        one = front.layout.index(number)
        alike = (np.abs(widths - widths[one]) < SAME_SIZE) & (np.abs(lengths - lengths[one]) < SAME_SIZE)
        alike &= (np.abs(few - few[one]) <= SAME_FACE).all(axis=1)
        alike[one] = False
        near = np.flatnonzero(alike)
        near = near[(np.abs(faces[near] - faces[one]) <= SAME_FACE).all(axis=1)]
        found[number] = tuple(front.numbers[index] for index in near.tolist())
    return _compared_again(front, found)


def _faces(front: Front) -> Array:
    """Return the heights of every strip on a coarse grid of its own, edges and ends among them: (strips, places)."""
    places = front.layout.strips
    left, width = np.array([place.left for place in places]), np.array([place.width for place in places])
    across = np.linspace(0.0, 1.0, math.ceil(width.max() / _STEP) + 1)
    # All strips reach from the bottom of the doors to their top.
    y = np.linspace(places[0].bottom, places[0].top, math.ceil(places[0].length / _STEP) + 1)
    x = left[:, None] + across * width[:, None]
    heights = front.surface.at(x.reshape(1, -1), y[:, None]).reshape(len(y), len(places), len(across))
    return heights.transpose(1, 0, 2).reshape(len(places), -1)


def _compared_again(front: Front, found: dict[int, tuple[int, ...]]) -> dict[int, tuple[int, ...]]:
    """Return what still agrees on the strips' own heights, each pair judged once."""
    pairs = {(min(one, other), max(one, other)) for one, others in found.items() for other in others}
    if len(pairs) > _MOST_AGAIN:
        return found
    fine = {number: _thinned(front.strip(number).heights) for number in {*itertools.chain.from_iterable(pairs)}}
    true = {
        (one, other)
        for one, other in pairs
        if fine[one].shape == fine[other].shape and float(np.abs(fine[one] - fine[other]).max()) <= SAME_FACE
    }
    return {
        one: tuple(other for other in others if (min(one, other), max(one, other)) in true)
        for one, others in found.items()
    }


def _thinned(heights: Array) -> Array:
    return heights[:: math.ceil(heights.size / _MOST_HEIGHTS)]
