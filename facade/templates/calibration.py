"""The calibration sheet: two lines to be measured, which tell what a printer gets wrong along the two sides of its paper."""

from __future__ import annotations

from collections.abc import Iterator
from functools import partial

import numpy as np

from facade.drawing import Anchor, Drawing, Pen
from facade.lengths import Ruler, Unit
from facade.printing.correction import MOST, fitting_lines
from facade.templates.frame import LARGE
from facade.templates.piece import Asked, Piece, Room
from facade.templates.tables import flow, flowed, paragraph, tick

_EDGE = 6.0  # mm from the edge of the piece to its lines
_TICK = 4.0


def pieces(asked: Asked) -> Iterator[Piece]:
    """Yield the one piece that fills the sheet: each line twice, so that a skew shows."""
    # On a roll the page lies, and is no longer than it must be.
    room = Room(
        min(asked.room.width, 420.0), asked.room.height if asked.room.width < 420.0 else min(asked.room.height, 280.0)
    )
    draw = partial(_draw, asked.ruler, asked.paper, room)
    yield Piece("calibration sheet", room.width, room.height, draw)


def _draw(ruler: Ruler, paper: str, room: Room) -> Drawing:
    piece = Drawing(room.width, room.height, "calibration sheet")
    lies = room.width > room.height
    across, up = fitting_lines(min(room.width, room.height), max(room.width, room.height), ruler.unit)[
        :: -1 if lies else 1
    ]
    names = ("LONG SIDE", "SHORT SIDE") if lies else ("SHORT SIDE", "LONG SIDE")
    left = (room.width - across) / 2
    for y in (_EDGE + 2.0, room.height - _EDGE):
        _line(piece, (left, y), (left + across, y), "short-line" if not lies else "long-line")
        piece.label(f"{names[0]}: {ruler.text(across)}", room.width / 2, y - 5.4, LARGE, Anchor.MIDDLE, bold=True)
    low = (room.height - up) / 2
    for x in (_EDGE, room.width - _EDGE):
        _line(piece, (x, low), (x, low + up), "long-line" if not lies else "short-line")
        piece.label(
            f"{names[1]}: {ruler.text(up)}",
            x + (8.4 if x == _EDGE else -4.6),
            room.height / 2,
            LARGE,
            Anchor.MIDDLE,
            bold=True,
            turn=90,
        )
    words = _words(ruler, paper, room)
    piece.put(words.draw(), (room.width - words.width) / 2, room.height - 22.0 - words.height)
    return piece


def _line(piece: Drawing, start: tuple[float, float], end: tuple[float, float], name: str) -> None:
    """Draw a fine line with ticks at its ends, at right angles."""
    first, last = np.array(start), np.array(end)
    way = (last - first) / np.linalg.norm(last - first)
    aside = np.array([-way[1], way[0]]) * _TICK / 2
    piece.line([first, last], Pen.TICK, name)
    piece.lines([[first - aside, first + aside], [last - aside, last + aside]], Pen.TICK)


def _words(ruler: Ruler, paper: str, room: Room) -> Piece:
    """Return the instructions as a block between the lines."""
    wide = min(room.width - 44.0, 150.0)
    unit = " --unit in" if ruler.unit is Unit.INCH else ""
    size = f" --paper {paper}" if " " not in paper else ""
    blocks = [
        paragraph(
            "This sheet is always printed without correction. Short side and long side are the paper's own, however the page is turned.",
            wide,
        ),
        tick(
            "Print at 100 %, or actual size, with fit to page off, on the paper and from the tray of the templates.",
            wide,
        ),
        tick("Lay a steel rule on both lines of each side. The two of one side should agree; take their middle.", wide),
        tick("SHORT SIDE reads: ______________", wide),
        tick("LONG SIDE reads: ______________", wide),
        tick(f'Type both figures: facade printer "NAME"{size}{unit} --short ... --long ...', wide),
        tick('Print the pack with: facade paper JOB --printer "NAME". Then check both rules of one sheet.', wide),
        paragraph("Off by 0.2 % or less needs no correction.", wide, alone=True),
        paragraph(
            f"Off by more than {MOST * 100:g} %: the print dialog has fitted the page. Choose 100 % and print this sheet again.",
            wide,
        ),
        paragraph(
            "Measure again after a change of paper, tray, printer or weather: paper grows and shrinks with the damp.",
            wide,
        ),
    ]
    return flowed("calibration", blocks, flow(Room(wide, room.height - 60.0), wide))[0]
