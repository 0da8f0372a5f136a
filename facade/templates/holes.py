"""Sheets of depth holes: a map for every strip at full size, and a list by setting, so that the stop is set once for each."""

from __future__ import annotations

from collections.abc import Iterator
from functools import partial

import numpy as np

from facade.drawing import Anchor, Drawing, Pen, fitted, text_width
from facade.front import Front
from facade.templates.frame import PLAIN, SMALL
from facade.templates.hatch import upright
from facade.templates.piece import Asked, Piece, Room, Top
from facade.templates.sides import GUTTER_LEFT, GUTTER_RIGHT
from facade.templates.stops import BIT, SHALLOW, Stops, bit_in_words, stops_of
from facade.templates.tables import Block, Column, Table, flow, flowed, heading, paragraph, table_pieces
from facade.templates.windows import Window, windows

_BELOW, _ABOVE = 5.4, 7.0  # mm, stations below the face, which strip it is above


def pieces(asked: Asked) -> Iterator[Piece]:
    """Yield what is to be set and drilled, the list by setting, and the map of every strip."""
    front, stops = asked.front, stops_of(asked.front)
    room = Room(min(asked.room.width, 180.0), asked.room.height)
    through = flow(room, room.width)
    yield from flowed(
        "stop settings", [heading("Stop settings", through.width), *_told(asked, stops, through.width)], through
    )
    if not stops.settings:
        return
    for setting in range(1, len(stops.settings) + 1):
        yield from _listed(asked, stops, setting)
    for number in asked.strips:
        place = front.layout.strip(number)
        for window in windows(
            place.length, front.job.station, asked.room.width - GUTTER_LEFT - GUTTER_RIGHT, asked.ruler
        ):
            width, height = GUTTER_LEFT + window.length + GUTTER_RIGHT, _BELOW + place.width + _ABOVE
            draw = partial(_draw_map, front, stops, number, window, width, height)
            yield Piece(f"depth holes of strip {number}, {window.part}", width, height, draw, (number,), Top.LEFT)


def _told(asked: Asked, stops: Stops, width: float) -> Iterator[Block]:
    show = asked.ruler.text
    if not stops.settings:
        yield paragraph(
            "This front is carved too little for depth holes: trace the edge lines, and carve to them.", width
        )
        return
    depths = ", ".join(f"{number}: {show(depth, 3)}" for number, depth in enumerate(stops.settings, 1))
    yield paragraph(f"{depths}. A {bit_in_words(asked.ruler)}.", width, lead="Setting")
    yield paragraph(
        "Set the stop once for each setting, try it on waste, and drill all its holes. "
        f"Every hole ends at least {show(SHALLOW)} above the finished face, and less than {show(stops.step + SHALLOW, 2)} above it "
        "where the face is level: carve until its bottom just vanishes.",
        width,
    )


def _listed(asked: Asked, stops: Stops, setting: int) -> Iterator[Piece]:
    """Yield the list of one setting: strips, and their places from the top on each line."""
    rows = []
    for number in asked.strips:
        for line in ("L", "C", "R"):
            at = [hole.from_top for hole in stops.holes[number] if hole.setting == setting and hole.line == line]
            if at:
                rows += _rows(number, line, [asked.ruler.bare(place) for place in at])
    if not rows:
        return
    columns = (
        Column(("strip",), "000", Anchor.MIDDLE, bold=True),
        Column(("line",), "C", Anchor.MIDDLE),
        Column(("from TOP",), max((row[2] for row in rows), key=lambda text: text_width(text, 1.0)), Anchor.START),
    )
    title = f"Setting {setting}: {asked.ruler.text(stops.settings[setting - 1], 3)}"
    room = Room(min(asked.room.width, 420.0), asked.room.height)
    table = Table(
        title,
        columns,
        len(rows),
        partial(_some, rows),
        [()] * len(rows),
        note="Lines: L left, C centre, R right.",
        words=60.0,
    )
    yield from table_pieces(table, room)


_PER_ROW = 12


def _rows(number: int, line: str, places: list[str]) -> list[tuple[str, str, str]]:
    """Return a line's places in rows of a length that reads well."""
    return [
        (str(number), line, ", ".join(places[first : first + _PER_ROW])) for first in range(0, len(places), _PER_ROW)
    ]


def _some(rows: list[tuple[str, str, str]], first: int, after: int) -> list[tuple[str, str, str]]:
    return rows[first:after]


def _draw_map(front: Front, stops: Stops, number: int, window: Window, width: float, height: float) -> Drawing:
    """Draw the face of a strip as it is seen, TOP at the left: its left edge is the lower one."""
    piece, place, ruler = (
        Drawing(width, height, f"depth holes of strip {number}"),
        front.layout.strip(number),
        front.job.ruler,
    )
    left, right, base, top = GUTTER_LEFT, GUTTER_LEFT + window.length, _BELOW, _BELOW + place.width
    piece.line([[left, base], [right, base]], Pen.OUTLINE, "left-edge")
    piece.line([[left, top], [right, top]], Pen.OUTLINE, "right-edge")
    for x, real in ((left, window.start == 0.0), (right, window.end == place.length)):
        piece.line([[x, base], [x, top]], Pen.OUTLINE if real else Pen.FINE, "end")
    at = left + window.stations - window.start
    piece.lines(np.concatenate([upright(at, base - 1.2, base), upright(at, top, top + 1.0)]), Pen.TICK, "stations")
    used = 0.0
    for mark, x in zip(window.stations.tolist(), at.tolist(), strict=True):
        half = text_width(ruler.bare(mark), SMALL) / 2
        middle = min(max(x, half), width - half)
        if middle - half >= used:
            piece.label(ruler.bare(mark), middle, base - 4.0, SMALL, Anchor.MIDDLE)
            used = middle + half + 1.0
    radius = BIT[ruler.unit] / 2
    for hole in stops.holes[number]:
        x, y = left + hole.from_top - window.start, base + hole.from_left
        if left + radius <= x <= right - radius:
            piece.circle(x, y, radius, Pen.HOLE, "hole")
            piece.label(str(hole.setting), x + radius + 0.8, y - 1.0, SMALL, bold=True)
    for word, y in (("LEFT", base + 0.4), ("RIGHT", top - 2.4)):
        if place.width >= 7.0:
            piece.label(word, left - 1.2, y, SMALL, Anchor.END)
    head = f"part {window.part} of {window.parts}, from TOP at the left · {front.mark}"
    x = 0.5 + piece.label(str(number), 0.5, top + 1.8, 5.0, bold=True) + 3.0
    piece.label(fitted(head, PLAIN, width - x - 0.5), x, top + 2.0, PLAIN)
    return piece
