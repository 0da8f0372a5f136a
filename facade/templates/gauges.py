"""Check gauges: negative profiles to cut from card or hardboard and lay on the carved face.

Across a door at chosen stations, over the gaps, and along chosen strips on their middle line. A gauge across is printed as it is seen
from the BOTTOM end looking to TOP, so that left is left; one along a strip as it is seen from the strip's left, TOP at the left.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from functools import partial

import numpy as np

from facade.arrays import Array
from facade.drawing import Anchor, Drawing, Pen, fitted, text_width
from facade.front import Front
from facade.layout import Door
from facade.slicer import stations
from facade.templates.frame import LARGE, PLAIN, SMALL
from facade.templates.hatch import upright
from facade.templates.piece import Asked, Piece, Top
from facade.templates.windows import Window, windows
from facade.thinning import thin

# All mm. Body above the highest place of the profile, finger hole in it, figures below the profile.
_BODY = 31.0
_HOLE = 11.0
_BELOW = 11.0
_ENDS = 9.0
_TOLERANCE = 0.01
_ACROSS, _ALONG = 4, 3  # gauges of a door


def pieces(asked: Asked) -> Iterator[Piece]:
    """Yield the gauges of every door; across it only where all its strips are asked for."""
    front = asked.front
    for door in front.layout.doors:
        numbers = range(door.first_strip, door.last_strip + 1)
        if set(numbers) <= set(asked.strips):
            yield from _across(asked, door)
        yield from _along(asked, door)


def chosen_stations(front: Front, door: Door) -> Array:
    """Return the stations for gauges across a door, mm from its strips' top: in each quarter where the face moves most."""
    top, bottom = front.layout.strip(door.first_strip).top, front.layout.strip(door.first_strip).bottom
    marks = stations(top - bottom, front.job.station)
    inner = marks[1:-1] if len(marks) > 2 else marks
    x = np.linspace(door.left, door.right, 200)
    heights = front.surface.at(x[None, :], (top - inner)[:, None])
    spread = heights.max(axis=1) - heights.min(axis=1)
    quarters = np.array_split(np.arange(len(inner)), min(_ACROSS, len(inner)))
    return np.array([inner[quarter[int(spread[quarter].argmax())]] for quarter in quarters])


def chosen_strips(front: Front, door: Door) -> list[int]:
    """Return the strips for gauges along a door: in each third the one whose middle line moves most."""
    numbers = np.arange(door.first_strip, door.last_strip + 1)
    places = [front.layout.strip(int(number)) for number in numbers]
    x = np.array([(place.left + place.right) / 2 for place in places])
    heights = front.surface.at(x[None, :], np.linspace(places[0].bottom, places[0].top, 200)[:, None])
    spread = heights.max(axis=0) - heights.min(axis=0)
    thirds = np.array_split(np.arange(len(numbers)), min(_ALONG, len(numbers)))
    return [int(numbers[third[int(spread[third].argmax())]]) for third in thirds]


@dataclass(frozen=True)
class _Profile:
    """A line of the face: places along the piece from its left end, heights above the back, mm."""

    along: Array
    heights: Array

    @property
    def low(self) -> float:
        """Its lowest place."""
        return float(self.heights.min())

    @property
    def size(self) -> tuple[float, float]:
        """Width and height of a gauge with this profile."""
        rise = float(self.heights.max()) - self.low
        return float(self.along[-1]) + 2 * _ENDS, _BELOW + rise + _BODY


def _thinned(along: Array, heights: Array) -> _Profile:
    kept = thin(heights, _TOLERANCE)
    return _Profile(along[kept], heights[kept])


def _across(asked: Asked, door: Door) -> Iterator[Piece]:
    front = asked.front
    top = front.layout.strip(door.first_strip).top
    for station in chosen_stations(front, door).tolist():
        spans = _spans(asked, door)
        for part, (first, last) in enumerate(spans, 1):
            left, right = front.layout.strip(first).left, front.layout.strip(last).right
            along = np.linspace(0.0, right - left, max(2, int(right - left) + 1))
            heights = front.surface.at((left + along)[None, :], np.array([[top - station]]))[0]
            profile = _thinned(along, heights)
            words = f"ACROSS door {door.number} at {asked.ruler.text(station)} from TOP"
            told = f"seen from the BOTTOM end, looking to TOP · part {part} of {len(spans)} · {front.mark}"
            draw = partial(_draw_across, asked, profile, (first, last), words, told)
            yield Piece(f"gauge across door {door.number} at {asked.ruler.bare(station)}, {part}", *profile.size, draw)


def _spans(asked: Asked, door: Door) -> list[tuple[int, int]]:
    """Return runs of strips whose gauge fits the room; neighbours share a strip."""
    layout, room = asked.front.layout, asked.room.width - 2 * _ENDS
    spans, first = [], door.first_strip
    while True:
        last = first
        while last < door.last_strip and layout.strip(last + 1).right - layout.strip(first).left <= room:
            last += 1
        spans.append((first, last))
        if last == door.last_strip:
            return spans
        first = last if last > first else last + 1


def _draw_across(asked: Asked, profile: _Profile, strips: tuple[int, int], words: str, told: str) -> Drawing:
    piece = _body(profile, words, told, ("LEFT", "RIGHT"))
    layout = asked.front.layout
    places = [layout.strip(number) for number in range(strips[0], strips[1] + 1)]
    edges = np.array([edge for place in places for edge in (place.left, place.right)]) - places[0].left + _ENDS
    piece.lines(upright(edges, _BELOW - 4.5, _BELOW - 1.0), Pen.TICK, "strip-edges")
    used = 0.0
    for place in places:
        middle = (place.left + place.right) / 2 - places[0].left + _ENDS
        number = str(place.number)
        half = text_width(number, PLAIN, bold=True) / 2
        if middle - half >= used:
            piece.label(number, middle, _BELOW - 8.4, PLAIN, Anchor.MIDDLE, bold=True)
            used = middle + half + 1.0
    return piece


def _along(asked: Asked, door: Door) -> Iterator[Piece]:
    front = asked.front
    for number in (number for number in chosen_strips(front, door) if number in asked.strips):
        place = front.layout.strip(number)
        for window in windows(place.length, front.job.station, asked.room.width - 2 * _ENDS, asked.ruler):
            along = np.linspace(0.0, window.length, max(2, int(window.length) + 1))
            middle = np.array([[(place.left + place.right) / 2]])
            heights = front.surface.at(middle, (place.top - window.start - along)[:, None])[:, 0]
            profile = _thinned(along, heights)
            words = f"ALONG strip {number}, middle line"
            told = f"TOP at the left · part {window.part} of {window.parts} · {front.mark}"
            draw = partial(_draw_along, asked, profile, window, words, told)
            yield Piece(f"gauge along strip {number}, {window.part}", *profile.size, draw, (number,), Top.LEFT)


def _draw_along(asked: Asked, profile: _Profile, window: Window, words: str, told: str) -> Drawing:
    piece = _body(profile, words, told, ("TOP", ""))
    at = window.stations - window.start + _ENDS
    piece.lines(upright(at, _BELOW - 4.5, _BELOW - 1.0), Pen.TICK, "stations")
    used = 0.0
    for place, x in zip(window.stations.tolist(), at.tolist(), strict=True):
        figure = asked.ruler.bare(place)
        half = text_width(figure, SMALL) / 2
        if x - half >= used:
            piece.label(figure, x, _BELOW - 8.4, SMALL, Anchor.MIDDLE)
            used = x + half + 1.0
    return piece


def _body(profile: _Profile, words: str, told: str, ends: tuple[str, str]) -> Drawing:
    """Draw the gauge: what is kept is above the thick line; its straight back is at the top."""
    width, height = profile.size
    piece = Drawing(width, height, words)
    left, right, top = _ENDS, width - _ENDS, height - 0.3
    line = np.column_stack([profile.along + _ENDS, profile.heights - profile.low + _BELOW])
    piece.line(line, Pen.CARVE, "gauge")
    piece.line(np.concatenate([line[:1], [[left, top], [right, top]], line[-1:]]), Pen.CUT, "body")
    high = float(line[:, 1].max())
    finger = (left + right) / 2 if right - left < 90 else right - _HOLE - 8
    has_hole = right - left > 60
    if has_hole:
        piece.circle(finger, high + 4.0 + _HOLE, _HOLE, Pen.CUT, "finger-hole")
    room = (finger - _HOLE - 3 if has_hole and finger > (left + right) / 2 + 1 else right) - left - 3
    if not has_hole or right - left >= 90:
        size = min(LARGE, room / text_width(words, 1.0, bold=True))
        if size >= SMALL:
            piece.label(words, left + 2, top - 6.0, size, bold=True)
            piece.label(fitted(told, SMALL, room), left + 2, top - 11.0, SMALL)
            piece.label(fitted("keep what is above the thick line", SMALL, room), left + 2, top - 15.2, SMALL)
    for word, x, anchor in ((ends[0], left - 1.0, Anchor.MIDDLE), (ends[1], right + 4.2, Anchor.MIDDLE)):
        if word:
            piece.label(word, x, (high + top) / 2, PLAIN, anchor, bold=True, turn=90)
    return piece
