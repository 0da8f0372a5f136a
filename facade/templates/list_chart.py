"""The wall chart: a row for each strip, a column for each step of the work, a box to tick in every one of them."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from functools import partial

import numpy as np

from facade.drawing import Anchor, Drawing, Pen, text_width
from facade.layout import StripPlace
from facade.templates.piece import Asked, Piece
from facade.templates.tables import PLAIN, SMALL, TITLE, TITLE_PITCH, boxes, wrapped

# The trade's own steps (common practice), in their order.
STEPS = (
    "selected",
    "ripped",
    "milled to size",
    "numbered",
    "sides marked",
    "sawn",
    "on carving board",
    "carved",
    "gauged",
    "sanded 80",
    "sanded 120",
    "sanded 150",
    "coat 1",
    "coat 2",
    "coat 3",
    "mounted",
    "checked",
)
# All mm. A box is between these, as the page allows.
_LEAST_HIGH = 5.4
_MOST_HIGH = 12.0
_MOST_WIDE = 15.0
_WHICH = "door · strip"
_NOTE = "One tick for each strip and step. An empty box is a missing step."


@dataclass(frozen=True)
class _Chart:
    """The measures of a page of the chart, mm."""

    places: tuple[StripPlace, ...]
    told: str
    name: float
    box: tuple[float, float]
    heads: float
    words: tuple[str, ...]

    @property
    def width(self) -> float:
        """Width of the page of the chart."""
        return 2 * self.name + len(STEPS) * self.box[0]

    @property
    def height(self) -> float:
        """Height of the page of the chart."""
        return _above(self.words) + self.heads + len(self.places) * self.box[1] + 0.5


def _above(words: Sequence[str]) -> float:
    return TITLE_PITCH + len(words) * 4.0 + 1.0


def pieces(asked: Asked) -> Iterator[Piece]:
    """Yield the chart in as few pages as its boxes allow, each as full as can be."""
    front, room = asked.front, asked.room
    places = tuple(front.layout.strip(number) for number in asked.strips)
    name = text_width(_name(places[-1]), PLAIN, bold=True) + 3.0
    heads = max(text_width(step, PLAIN) for step in (*STEPS, _WHICH)) + 2.5
    wide = min(_MOST_WIDE, (room.width - 2 * name) / len(STEPS))
    words = tuple(wrapped(_NOTE, SMALL, room.width - 1.0))
    free = room.height - _above(words) - heads - 0.5
    parts = math.ceil(len(places) / max(1, int(free / _LEAST_HIGH)))
    rows = math.ceil(len(places) / parts)
    high = min(_MOST_HIGH, free / rows)
    for part in range(parts):
        shown = places[part * rows : (part + 1) * rows]
        told = f", part {part + 1} of {parts}" if parts > 1 else ""
        chart = _Chart(shown, told, name, (wide, high), heads, words)
        about = tuple(place.number for place in shown)
        yield Piece(f"wall chart{told}", chart.width, chart.height, partial(_draw, chart), about)


def _name(place: StripPlace) -> str:
    return f"{place.door} · {place.number}"


def _draw(chart: _Chart) -> Drawing:
    piece = Drawing(chart.width, chart.height, f"Wall chart{chart.told}")
    piece.label(f"Wall chart{chart.told}", 0.0, chart.height - 4.2, TITLE, bold=True)
    for index, line in enumerate(chart.words):
        piece.label(line, 0.0, chart.height - TITLE_PITCH - index * 4.0 - 2.6, SMALL)
    base = chart.height - _above(chart.words) - chart.heads
    wide, high = chart.box
    left = chart.name + wide * np.arange(len(STEPS))
    for step, x in zip(STEPS, left.tolist(), strict=True):
        piece.label(step, x + wide / 2 + 1.1, base + 1.2, PLAIN, turn=90.0)
    low = base - high * (1 + np.arange(len(chart.places)))
    x, y = (grid.ravel() for grid in np.meshgrid(left, low))
    piece.lines(boxes(x, x + wide, y, y + high), Pen.TICK, "boxes")
    _names(piece, chart, low.tolist())
    _heavier(piece, chart, base)
    return piece


def _names(piece: Drawing, chart: _Chart, low: Sequence[float]) -> None:
    """Write door and number at both ends of every row."""
    right = chart.width - chart.name + 1.5
    y = chart.box[1] / 2 - 1.2
    for x in (chart.name - 1.7, right + 3.0):
        piece.label(_WHICH, x, low[0] + chart.box[1] + 1.2, PLAIN, turn=90.0)
    for place, level in zip(chart.places, low, strict=True):
        piece.label(_name(place), chart.name - 1.5, level + y, PLAIN, Anchor.END, bold=True)
        piece.label(_name(place), right, level + y, PLAIN, bold=True)


def _heavier(piece: Drawing, chart: _Chart, base: float) -> None:
    """Draw a heavier line under every fifth strip and between two doors, and round the whole."""
    high = chart.box[1]
    levels = [base, base - high * len(chart.places)]
    for row, place in enumerate(chart.places[:-1]):
        if place.number % 5 == 0 or place.door != chart.places[row + 1].door:
            levels.append(base - high * (row + 1))
    ends = [0.0, chart.width]
    piece.lines([[[ends[0], level], [ends[1], level]] for level in levels], Pen.CARVE, "fifth-rows")
