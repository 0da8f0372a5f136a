"""Check gauges: negative profiles of the finished surface, to be cut from card or hardboard and held against the wood.

Those across lie over all strips of a door at a station, and show hollows and humps that single strips hide; those along lie on the
middle line of a strip. Each is drawn as it is seen by who holds it: across, from the BOTTOM end looking to TOP, so that left is left;
along, from the LEFT side, so that TOP is at the left end.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from functools import partial

import numpy as np

from facade.arrays import Array
from facade.drawing import Anchor, Drawing, Pen, text_width
from facade.front import Front
from facade.layout import Door, StripPlace
from facade.slicer import stations
from facade.templates.hatch import slants, upright
from facade.templates.piece import Asked, Kind, Lines, Piece, Top
from facade.templates.sticks import Length, lengths
from facade.templates.tables import PLAIN, SMALL, TITLE, wrapped
from facade.templates.windows import Window, windows
from facade.thinning import thin

# So many gauges along strips a door gets.
_ALONG = 3
# All mm. The straight edge is so far above the highest wood that there may be; the waste drawn below the floor; beside a gauge.
BODY = 42.0
BELOW = 6.0
PAD = 1.0
_FINGER = 12.5
_FINGER_DOWN = 18.5
_TICK = 3.0
_ENDS_UP = 7.6
# Heights are taken this close together; straight runs between kept points stay this close to the surface.
_STEP = 0.25
_TOLERANCE = 0.008
# Narrower gauges have no hole for a finger, and narrower still none of the words but their name, on end.
_LEAST_HOLE = 70.0
_LEAST_WORDS = 44.0
_LEAST_TWO_HOLES = 150.0
# Lengths of a gauge overlap by this where a strip is too wide to be cut within.
_LEAST_OVERLAP = 25.0
_HAIR = 1e-6


def pieces(asked: Asked) -> Iterator[Piece]:
    """Yield the gauges across every door whose strips are all asked for, and those along some strips of those asked for.

    Beside side templates these are left out: the lines on the sides show what they would.
    """
    front = asked.front
    for door in asked.whole_doors:
        for station in chosen_stations(front, door):
            yield from _across(asked, door, station)
    shown_by_sides = Kind.SIDES in asked.kinds and Kind.FACES not in asked.kinds
    if not shown_by_sides or not asked.whole_doors:
        for number in chosen_strips(front, asked.strips):
            yield from _along(asked, number)


def key(front: Front, lines: Lines) -> Sequence[tuple[Pen, str]]:
    """Return what the lines mean, in words."""
    return (
        (Pen.CUT, "cut here: finished surface"),
        (Pen.HOLE, "finger hole"),
        (Pen.TICK, "edge of a strip, or station"),
        (Pen.HATCH, "waste"),
    )


# Which ones ---------------------------------------------------------------------------------------------------------------


def chosen_stations(front: Front, door: Door) -> tuple[float, ...]:
    """Return the stations that a door is gauged at, mm from TOP: near both ends, the middle, the highest and the lowest place."""
    marks = stations(door.height, front.job.station)
    marks = marks[1:-1] if len(marks) > 3 else marks
    places = front.layout.on_door(door)
    heights = _on_middle_lines(front, places, marks)
    last = len(marks) - 1
    middle = int(np.abs(marks - door.height / 2).argmin())
    highest, lowest = int(heights.max(axis=1).argmax()), int(heights.min(axis=1).argmin())
    wanted = {0, last, middle}
    for index in (highest, lowest):
        # The station next to one that is gauged anyway tells nothing new.
        if min(abs(index - other) for other in wanted) > 1:
            wanted.add(index)
    return tuple(float(marks[index]) for index in sorted(wanted))


def chosen_strips(front: Front, asked: Sequence[int]) -> tuple[int, ...]:
    """Return the strips that are gauged along: of every third of a door's strips that are asked for, the one with most relief."""
    found: list[int] = []
    for door in front.layout.doors:
        numbers = [place.number for place in front.layout.on_door(door) if place.number in asked]
        if not numbers:
            continue
        places = [front.layout.strip(number) for number in numbers]
        relief = np.ptp(_on_middle_lines(front, places, stations(door.height, front.job.station)), axis=0)
        for part in np.array_split(np.arange(len(numbers)), min(_ALONG, len(numbers))):
            found.append(numbers[int(part[relief[part].argmax()])])
    return tuple(found)


def _on_middle_lines(front: Front, places: Sequence[StripPlace], from_top: Array) -> Array:
    """Return heights on the strips' middle lines, (stations, strips)."""
    x = np.array([[(place.left + place.right) / 2 for place in places]])
    return front.surface.at(x, (places[0].top - from_top)[:, None])


# How large they are -------------------------------------------------------------------------------------------------------


def straight_edge(front: Front) -> float:
    """Return how high the straight edge of every gauge is above the back of the strips, mm."""
    return front.surface.highest + BODY


def base(front: Front) -> float:
    """Return the height above the back that is at the foot of every piece, mm."""
    return front.surface.floor - BELOW


def _height(front: Front) -> float:
    return straight_edge(front) + PAD - base(front)


def _across(asked: Asked, door: Door, station: float) -> Iterator[Piece]:
    front = asked.front
    for length in door_lengths(front, door, asked.room.width - 2 * PAD):
        width = length.end - length.start + 2 * PAD
        draw = partial(_draw_across, front, door, station, length, width)
        name = f"gauge across door {door.number} at {asked.ruler.text(station)}, {length.part}"
        yield Piece(name, width, _height(front), draw)


def door_lengths(front: Front, door: Door, room: float) -> tuple[Length, ...]:
    """Return lengths of a door, mm from its LEFT edge, cut within strips and overlapping from the middle of one to the next."""
    places = front.layout.on_door(door)
    middles = [(place.left + place.right) / 2 - door.left for place in places[1:-1]]
    cuts = np.array([0.0, *middles, door.width])
    last = len(cuts) - 1
    for parts in range(1, last):
        starts = [part * (last - 1) // parts for part in range(parts + 1)]
        spans = [(float(cuts[starts[part]]), float(cuts[starts[part + 1] + 1])) for part in range(parts)]
        if max(end - start for start, end in spans) <= room + _HAIR:
            return tuple(Length(start, end, part, parts) for part, (start, end) in enumerate(spans, 1))
    # Strips too wide, or too few, to be cut within.
    return lengths(door.width, _LEAST_OVERLAP, room)


def _along(asked: Asked, number: int) -> Iterator[Piece]:
    front = asked.front
    length = front.layout.strip(number).length
    for window in windows(length, front.job.station, asked.room.width - 2 * PAD, asked.ruler):
        width = window.length + 2 * PAD
        draw = partial(_draw_along, front, number, window, width)
        name = f"gauge along strip {number}, {window.part}"
        yield Piece(name, width, _height(front), draw, (number,), Top.LEFT)


# How they are drawn -------------------------------------------------------------------------------------------------------


@dataclass(frozen=True)
class _Words:
    """What stands on a gauge: its name, where it goes, which way it is held, and its two ends."""

    name: str
    place: str
    held: str
    held_in_short: str
    left: str
    right: str


def _draw_across(front: Front, door: Door, station: float, length: Length, width: float) -> Drawing:
    show = front.job.ruler.text
    along = _close(length.end - length.start)
    x = door.left + length.start + along
    heights = front.surface.at(x, np.full(1, door.top - station))
    places = front.layout.on_door(door)
    seen = [place for place in places if place.right > x[0] and place.left < x[-1]]
    part = f"part {length.part} of {length.parts} · " if length.parts > 1 else ""
    first, last = seen[0].number, seen[-1].number
    numbers = f"strip {first}" if first == last else f"strips {first} to {last}"
    words = _Words(
        f"ACROSS door {door.number} at {show(station)} from TOP",
        f"{part}{numbers} · {front.mark}",
        "This face looks at you when you stand at the BOTTOM end and look to TOP.",
        "This face to you, from BOTTOM to TOP.",
        "LEFT",
        "RIGHT",
    )
    piece = Drawing(width, _height(front), words.name)
    profile = _gauge(piece, front, along, heights, words, "across")
    edges = np.array([edge for place in seen for edge in (place.left, place.right)]) - x[0]
    at = edges[(edges >= -_HAIR) & (edges <= along[-1] + _HAIR)]
    _ticks(piece, at, profile)
    middles = np.array([(place.left + place.right) / 2 for place in seen]) - x[0]
    _along_the_edge(piece, front, middles, [str(place.number) for place in seen], profile)
    return piece


def _draw_along(front: Front, number: int, window: Window, width: float) -> Drawing:
    ruler, place = front.job.ruler, front.layout.strip(number)
    along = _close(window.length)
    middle = np.full(1, (place.left + place.right) / 2)
    heights = front.surface.at(middle, place.top - window.start - along)
    part = f"part {window.part} of {window.parts}: " if window.parts > 1 else ""
    words = _Words(
        f"ALONG strip {number}, on its middle line",
        f"{part}{ruler.bare(window.start)} to {ruler.text(window.end)} from TOP · {front.mark}",
        "This face looks at you when you stand on the LEFT of the strip, TOP to your left.",
        "This face to you, TOP to your left.",
        "TOP",
        "BOTTOM",
    )
    piece = Drawing(width, _height(front), words.name)
    profile = _gauge(piece, front, along, heights, words, "along")
    at = window.stations - window.start
    _ticks(piece, at, profile)
    _along_the_edge(piece, front, at, [ruler.bare(mark) for mark in window.stations.tolist()], profile)
    return piece


def _close(length: float) -> Array:
    """Return places from 0 to a length, both exact, close together."""
    return np.linspace(0.0, length, math.ceil(length / _STEP) + 1)


@dataclass(frozen=True)
class _Profile:
    """The cutting line of a gauge on its piece, (points,) mm."""

    x: Array
    y: Array

    def at(self, places: Array) -> Array:
        """Return its level at places along the gauge."""
        return np.interp(PAD + places, self.x, self.y)

    def highest(self, start: float, end: float) -> float:
        """Return its highest level between two places on the piece."""
        inside = (self.x > start) & (self.x < end)
        return float(max(np.interp([start, end], self.x, self.y).max(), self.y[inside].max(initial=0.0)))


def _gauge(piece: Drawing, front: Front, along: Array, heights: Array, words: _Words, name: str) -> _Profile:
    """Draw the outline, the waste below it, the finger holes and the words; return the cutting line."""
    kept = thin(heights, _TOLERANCE)
    profile = _Profile(PAD + along[kept], heights[kept] - base(front))
    top = piece.height - PAD
    left, right = float(profile.x[0]), float(profile.x[-1])
    # slants() fills from a line upwards, the waste lies below it.
    waste = slants(profile.x, 0.6 - profile.y, -0.4)
    waste[..., 1] *= -1.0
    piece.lines(waste, Pen.HATCH, f"{name}-waste")
    line = np.column_stack([profile.x, profile.y])
    piece.shape(np.concatenate([line, [[right, top], [left, top]]]), Pen.CUT, f"{name}-gauge")
    holes = _holes(left, right)
    for x in holes:
        piece.circle(x, top - _FINGER_DOWN, _FINGER, Pen.HOLE, "finger-hole")
    _write(piece, front, words, left, right, holes)
    return profile


def _holes(left: float, right: float) -> list[float]:
    """Return where finger holes go: near both ends of a long gauge, at the left of a short one, none in a narrow one."""
    aside = _FINGER + 5.0
    if right - left < _LEAST_HOLE:
        return []
    return [left + aside] if right - left < _LEAST_TWO_HOLES else [left + aside, right - aside]


def _write(piece: Drawing, front: Front, words: _Words, left: float, right: float, holes: Sequence[float]) -> None:
    """Write what the gauge is, between its finger holes, and name its ends."""
    top = piece.height - PAD
    low = front.surface.highest - base(front) + _ENDS_UP
    if right - left < _LEAST_WORDS:
        _on_end(piece, words, left, right, low, top)
        return
    start = holes[0] + _FINGER + 4.0 if holes else left + 3.0
    room = (holes[1] - _FINGER - 4.0 if len(holes) > 1 else right - 3.0) - start
    y = top - 7.0
    lines = [(line, TITLE, True) for line in wrapped(words.name, TITLE, room, bold=True)]
    # How it is held comes first of the rest: a gauge turned over is another one.
    held = min((wrapped(one, SMALL, room) for one in (words.held, words.held_in_short)), key=len)
    lines += [(line, SMALL, False) for line in held]
    lines += [(line, PLAIN, False) for line in wrapped(words.place, PLAIN, room)]
    for line, size, bold in lines:
        if y < low + 4.4:
            break
        piece.label(line, start, y, size, bold=bold)
        y -= size * 1.45
    piece.label(words.left, left + 3.0, low, PLAIN, bold=True)
    piece.label(words.right, right - 3.0, low, PLAIN, Anchor.END, bold=True)


def _on_end(piece: Drawing, words: _Words, left: float, right: float, low: float, top: float) -> None:
    """Write what a narrow gauge is on end, as much as there is room for."""
    x = left + 4.4
    texts = (words.name, f"{words.left} is here", words.held_in_short, words.place)
    for line in (line for text in texts for line in wrapped(text, SMALL, top - low - 2.0, bold=True)):
        if x + 0.6 > right - 1.0:
            return
        piece.label(line, x, low, SMALL, bold=True, turn=90)
        x += 4.2


def _ticks(piece: Drawing, at: Array, profile: _Profile) -> None:
    """Draw ticks on the gauge, up from its cutting line."""
    level = profile.at(at)
    piece.lines(upright(PAD + at, level, level + _TICK), Pen.TICK, "ticks")


def _along_the_edge(piece: Drawing, front: Front, at: Array, words: Sequence[str], profile: _Profile) -> None:
    """Write numbers along the cutting line, above the ticks, where there is room for them."""
    used = PAD
    right = float(profile.x[-1])
    for place, text in zip((PAD + at).tolist(), words, strict=True):
        wide = text_width(text, PLAIN)
        x = min(max(place, PAD + 1.0 + wide / 2), right - 1.0 - wide / 2)
        if x - wide / 2 < used or abs(x - place) > wide:
            continue
        level = profile.highest(x - wide / 2, x + wide / 2)
        piece.label(text, x, level + _TICK + 0.8, PLAIN, Anchor.MIDDLE)
        used = x + wide / 2 + 1.0
