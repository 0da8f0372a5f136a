"""The calibration sheet: lines along both sides of the paper, each drawn twice, to be measured with a steel rule.

A printer's error differs in its two directions, and may differ within a sheet where the paper ran in askew. The sheet itself is
printed without any correction.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from functools import partial

import numpy as np

from facade.drawing import Anchor, Drawing, Pen
from facade.errors import JobError, mistake
from facade.front import Front
from facade.lengths import Unit
from facade.printing.correction import MOST, fitting_lines
from facade.printing.papers import MARGIN, SIZES
from facade.templates.frame import COLUMN, FOOT, HEAD
from facade.templates.piece import Asked, Lines, Piece, Room
from facade.templates.tables import PLAIN, PLAIN_PITCH, SMALL, TITLE, boxes, wrapped

# What a printer is trusted with as it is: common practice.
ACCEPTED = 0.002
# All mm. How far from the edge of the piece a line runs, what its ends keep free, half its end ticks, and the words beside it.
INSET = 9.0
_TO_EDGE = 0.4
_TICK = 2.5
_BESIDE = 2.0
_INNER = INSET + 9.0
# Instructions are no wider than reads easily; a page of a roll is so long, and no more of it is used across.
_WIDEST = 200.0
_ROLL_PAGE = 400.0
_ROLL_ACROSS = 260.0
# A row of the table that is filled in, and its parts from the left.
_ROW = 8.4
_NAMES = 62.0
_BOX_WIDE = 44.0
_TABLE_APART = 8.0
_HAIR = 1e-6


@dataclass(frozen=True)
class _Lengths:
    """The lines of a sheet, mm: along its short and its long side, and whether the short side is across the page."""

    short: float
    long: float
    upright: bool

    @property
    def level(self) -> float:
        """Length of the level lines."""
        return self.short if self.upright else self.long

    @property
    def rising(self) -> float:
        """Length of the upright lines."""
        return self.long if self.upright else self.short


def pieces(asked: Asked) -> Iterator[Piece]:
    """Yield the sheet's one piece; raises JobError where the paper has no room for it."""
    roll = _is_roll(asked)
    lengths = _lengths(asked)
    width = min(asked.room.width, _ROLL_PAGE) if roll else asked.room.width
    height = min(asked.room.height, _ROLL_ACROSS) if roll else asked.room.height
    words = instructions(asked)
    inner = Room(width - 2 * _INNER, height - 2 * _INNER)
    beside = _beside(inner)
    if _words_height(words, inner, beside=beside) > inner.height:
        raise _no_room(asked)
    yield Piece("calibration", width, height, partial(_draw, asked, lengths, words, width, height))


def key(front: Front, lines: Lines) -> Sequence[tuple[Pen, str]]:
    """Return what the lines mean, in words."""
    return ((Pen.TICK, "lines to measure, from the middle of one end tick to the middle of the other"),)


def _is_roll(asked: Asked) -> bool:
    return asked.paper not in SIZES


def _lengths(asked: Asked) -> _Lengths:
    """Return the lengths of the lines: cut paper stands, a roll lies and is cut to length."""
    room, roll = asked.room, _is_roll(asked)
    short, long = (room.height, min(room.width, _ROLL_PAGE)) if roll else (room.width, room.height)
    try:
        lengths = fitting_lines(short - _TO_EDGE, long - _TO_EDGE, asked.ruler.unit)
    except StopIteration:
        raise _no_room(asked) from None
    return _Lengths(*lengths, upright=not roll)


def _no_room(asked: Asked) -> JobError:
    return mistake(
        "paper",
        f"a sheet of {asked.paper} has no room for the calibration sheet: take larger paper, or smaller margins",
    )


def command(asked: Asked) -> str:
    """Return the command that takes what was measured, as far as it is known."""
    unit = "--unit in " if asked.ruler.unit is Unit.INCH else ""
    paper = "" if _is_roll(asked) else f"--paper {asked.paper} "
    return f'facade printer "NAME" {unit}{paper}{_margins_option(asked)}--short ... --long ...'


def _margins_option(asked: Asked) -> str:
    """Return the option for margins that are not the usual ones: the printer is kept with its margins."""
    if _is_roll(asked):
        return ""
    short, long = SIZES[asked.paper]
    sides, ends = (short - COLUMN - asked.room.width) / 2, (long - HEAD - FOOT - asked.room.height) / 2
    if max(abs(sides - MARGIN), abs(ends - MARGIN)) < _HAIR:
        return ""
    each = [asked.ruler.text(margin, 3).removesuffix(f" {asked.ruler.unit.value}") for margin in (sides, ends)]
    return f"--margins {','.join(margin.replace(' ', '-') for margin in each)} "


def instructions(asked: Asked) -> tuple[str, ...]:
    """Return what is to be done with the sheet, in sentences."""
    ruler = asked.ruler
    lengths = _lengths(asked)
    fine = "1/64 in" if ruler.unit is Unit.INCH else "0.2 mm"
    sides = (
        "The SHORT SIDE goes across the roll, the LONG SIDE along it."
        if _is_roll(asked)
        else "SHORT SIDE and LONG SIDE are the paper's own, however a page is turned."
    )
    allowed = f"{ruler.fine(lengths.short * ACCEPTED)} on {ruler.text(lengths.short)}"
    allowed_long = f"{ruler.fine(lengths.long * ACCEPTED)} on {ruler.text(lengths.long)}"
    return (
        f"1. Print at 100 %, “actual size”. This sheet is always printed without correction. {sides}",
        f"2. Let the paper lie for an hour where you work. Measure lines A, B, C and D with a steel rule, to {fine}, and write down "
        "what it says.",
        f"3. Accept the printer as it is where all four are within {ACCEPTED * 100:g} %: {allowed}, {allowed_long}.",
        "4. Otherwise type the mean of A and B for the short side, the mean of C and D for the long side, and your own name for the "
        "printer:",
        command(asked),
        f"5. Off by more than {MOST * 100:g} %: the page was fitted to the paper. Look at the print dialog, and print this sheet again.",
        f"6. A and B, or C and D, differ by more than {ACCEPTED * 100:g} %, or a corner of lines is not square by a try square: the paper "
        "ran in askew. Straighten the stack, and print this sheet again.",
        "7. Measure again after a change of paper, tray, printer or weather.",
    )


def _beside(inner: Room) -> bool:
    """Whether the table stands beside the instructions, where the room is wide."""
    return inner.width >= 2 * (_NAMES + _BOX_WIDE) + _TABLE_APART


def _column(inner: Room, *, beside: bool) -> float:
    taken = _NAMES + _BOX_WIDE + _TABLE_APART if beside else 0.0
    return min(inner.width - taken, _WIDEST)


def _words_height(words: Sequence[str], inner: Room, *, beside: bool) -> float:
    lines = sum(len(_lines_of(text, _column(inner, beside=beside))) for text in words)
    text = lines * PLAIN_PITCH + len(words) * 1.2
    table = 6.0 + 4 * _ROW
    return max(text, table) if beside else text + table + _TABLE_APART


def _lines_of(text: str, width: float) -> list[str]:
    return wrapped(text, PLAIN, width, bold=text.startswith("facade "))


def _draw(asked: Asked, lengths: _Lengths, words: Sequence[str], width: float, height: float) -> Drawing:
    piece = Drawing(width, height, "calibration")
    _level_lines(piece, asked, lengths)
    _rising_lines(piece, asked, lengths)
    inner = Room(width - 2 * _INNER, height - 2 * _INNER)
    beside = _beside(inner)
    column = _column(inner, beside=beside)
    top = height - _INNER
    y = _instructions(piece, words, column, top)
    if beside:
        _table(piece, asked, lengths, _INNER + column + _TABLE_APART, top)
    else:
        _table(piece, asked, lengths, _INNER, y - _TABLE_APART)
    return piece


def _names(lengths: _Lengths) -> tuple[tuple[str, str], tuple[str, str]]:
    """Return what level and upright lines are called: letters, and the side that they run along."""
    return (
        (("AB", "SHORT SIDE"), ("CD", "LONG SIDE")) if lengths.upright else (("CD", "LONG SIDE"), ("AB", "SHORT SIDE"))
    )


def _level_lines(piece: Drawing, asked: Asked, lengths: _Lengths) -> None:
    """Draw a line near the top and one near the bottom, with their words inwards of them."""
    letters, side = _names(lengths)[0]
    left = (piece.width - lengths.level) / 2
    for letter, y, base in ((letters[0], piece.height - INSET, -_BESIDE - 4.0), (letters[1], INSET, _BESIDE)):
        _line(piece, letter, [[left, y], [left + lengths.level, y]])
        piece.label(
            f"{letter}   {side}: {asked.ruler.text(lengths.level)}",
            piece.width / 2,
            y + base,
            TITLE,
            Anchor.MIDDLE,
            bold=True,
        )


def _rising_lines(piece: Drawing, asked: Asked, lengths: _Lengths) -> None:
    """Draw a line near the left and one near the right, with their words inwards of them."""
    letters, side = _names(lengths)[1]
    low = (piece.height - lengths.rising) / 2
    for letter, x, base in ((letters[0], INSET, _BESIDE + 4.0), (letters[1], piece.width - INSET, -_BESIDE)):
        _line(piece, letter, [[x, low], [x, low + lengths.rising]])
        piece.label(
            f"{letter}   {side}: {asked.ruler.text(lengths.rising)}",
            x + base,
            piece.height / 2,
            TITLE,
            Anchor.MIDDLE,
            bold=True,
            turn=90,
        )


def _line(piece: Drawing, letter: str, ends: Sequence[Sequence[float]]) -> None:
    """Draw a line with a fine tick at each end."""
    places = np.array(ends)
    way = np.abs(places[1] - places[0]) > _HAIR
    aside = np.where(way, 0.0, _TICK)
    piece.line(places, Pen.TICK, f"line-{letter}")
    piece.lines(np.stack([places - aside, places + aside], axis=1), Pen.TICK, f"ends-{letter}")


def _instructions(piece: Drawing, words: Sequence[str], width: float, top: float) -> float:
    """Write the instructions, and return the level below them."""
    y = top
    for text in words:
        for line in _lines_of(text, width):
            piece.label(line, _INNER, y - 3.3, PLAIN, bold=text.startswith("facade "))
            y -= PLAIN_PITCH
        y -= 1.2
    return y


def _table(piece: Drawing, asked: Asked, lengths: _Lengths, left: float, top: float) -> None:
    """Draw a box for what the steel rule says of each line."""
    piece.label("the steel rule says", left + _NAMES, top - 3.3, SMALL)
    rows = [(letter, "SHORT SIDE", lengths.short) for letter in "AB"] + [
        (letter, "LONG SIDE", lengths.long) for letter in "CD"
    ]
    low = top - 6.0 - _ROW * np.arange(1, 5)
    for (letter, side, length), y in zip(rows, low.tolist(), strict=True):
        piece.label(letter, left, y + 2.2, TITLE, bold=True)
        piece.label(f"{side}: {asked.ruler.text(length)}", left + 7.0, y + 2.2, PLAIN)
    box = boxes(left + _NAMES, left + _NAMES + _BOX_WIDE, low + 0.6, low + _ROW - 0.6)
    piece.lines(box, Pen.BOX, "boxes")
