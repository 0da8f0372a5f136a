"""Depth holes: a map of each strip to lay on its raw face, and a list by setting of the stop, so that each is set once.

A map shows the face of a strip as it lies with its TOP end at the left: its LEFT edge is the lower one.
"""

from __future__ import annotations

import math
import weakref
from collections.abc import Iterator, Sequence
from functools import partial

import numpy as np

from facade.arrays import Array
from facade.drawing import Anchor, Drawing, Label, Pen, text_width
from facade.front import Front
from facade.layout import StripPlace
from facade.lengths import Ruler
from facade.templates.frame import PLAIN, SMALL, strips_in_words
from facade.templates.hatch import upright
from facade.templates.piece import Asked, Lines, Piece, Room, Top
from facade.templates.stops import Holes, Line, Stops, lines_of, plan_stops
from facade.templates.tables import Block, flow, flowed, heading, paragraph
from facade.templates.windows import Window, windows

# All mm. Above the wood stands which strip it is, below it the stations.
GUTTER_LEFT = 1.0
GUTTER_RIGHT = 5.0
BELOW = 3.75
ABOVE = 3.65
_NARROWEST = 62.0
_NUMBER = 4.0
# Two stretches of a strip overlap by so much at least, so that every hole is whole on one of them.
_OVERLAP = 10.0
# The list is laid out no wider and no higher than this.
_WIDEST = 400.0
_HIGHEST = 280.0
_COLUMN = 86.0
_HAIR = 1e-6


def pieces(asked: Asked) -> Iterator[Piece]:
    """Yield the list by setting of the stop, then the maps of the strips that have holes, in stretches that fit the room."""
    stops = _stops_of(asked.front)
    yield from _list(asked, stops)
    for number in asked.strips:
        holes = stops.holes.of(number)
        if len(holes.strip):
            place = asked.front.layout.strip(number)
            for window in _windows(asked, place.length):
                yield _map(asked.front, stops, holes, place, window)


# The front that was planned last, so that it is planned once however often its pieces are asked for.
_last: list[tuple[weakref.ref[Front], Stops]] = []


def _stops_of(front: Front) -> Stops:
    if not (_last and _last[0][0]() is front):
        _last[:] = [(weakref.ref(front), plan_stops(front))]
    return _last[0][1]


def key(front: Front, lines: Lines) -> Sequence[tuple[Pen, str]]:
    """Return what each line means, in words."""
    return ((Pen.HOLE, "hole, and the number of its setting of the stop"), (Pen.TICK, "station, from the TOP end"))


def _windows(asked: Asked, length: float) -> tuple[Window, ...]:
    station = asked.front.job.station
    every = station * math.ceil(_OVERLAP / station)
    return windows(length, every, asked.room.width - GUTTER_LEFT - GUTTER_RIGHT, asked.ruler)


def _map(front: Front, stops: Stops, holes: Holes, place: StripPlace, window: Window) -> Piece:
    width = max(GUTTER_LEFT + window.length + GUTTER_RIGHT, _NARROWEST)
    height = BELOW + place.width + ABOVE
    draw = partial(_draw, front, stops, holes, place, window, width, height)
    return Piece(f"depth holes of strip {place.number}, {window.part}", width, height, draw, (place.number,), Top.LEFT)


def shown(holes: Holes, window: Window, bit: float) -> Holes:
    """Return the holes that are whole on a stretch."""
    rim = bit / 2
    return holes.chosen((holes.from_top >= window.start + rim) & (holes.from_top <= window.end - rim))


def _draw(
    front: Front, stops: Stops, holes: Holes, place: StripPlace, window: Window, width: float, height: float
) -> Drawing:
    piece = Drawing(width, height, f"depth holes of strip {place.number}")
    here = shown(holes, window, stops.bit)
    x, y = GUTTER_LEFT + here.from_top - window.start, BELOW + here.from_left
    _outline(piece, place, window)
    piece.lines(_circles(x, y, stops.bit / 2), Pen.HOLE, "holes")
    size = PLAIN if place.width >= 24.0 else SMALL
    for at, level, setting in zip(x.tolist(), y.tolist(), here.setting.tolist(), strict=True):
        piece.label(str(setting + 1), at + stops.bit / 2 + 0.5, level - 0.36 * size, size, bold=True)
    _stations(piece, front.job.ruler, front.job.station, window, here, place.width)
    _head(piece, front, stops, place, window)
    return piece


def _outline(piece: Drawing, place: StripPlace, window: Window) -> None:
    """Draw the edges, and the ends: a real end of the strip full, where it goes on pale."""
    left, right = GUTTER_LEFT, GUTTER_LEFT + window.length
    low, high = BELOW, BELOW + place.width
    piece.line([[left, low], [right, low]], Pen.OUTLINE, "left-edge")
    piece.line([[left, high], [right, high]], Pen.OUTLINE, "right-edge")
    for at, real in ((left, window.start == 0.0), (right, window.end == place.length)):
        piece.line([[at, low], [at, high]], Pen.OUTLINE if real else Pen.FINE, "end")


def _circles(x: Array, y: Array, radius: float) -> Array:
    """Return circles as runs (n, 25, 2) that end where they begin."""
    angles = np.arange(25) * (2 * np.pi / 24)
    return np.stack([x[:, None] + radius * np.cos(angles), y[:, None] + radius * np.sin(angles)], axis=-1)


def _stations(piece: Drawing, ruler: Ruler, station: float, window: Window, here: Holes, width: float) -> None:
    """Draw ticks at the stations and write the figures of those with holes; LEFT EDGE stands where they leave room."""
    low, high = BELOW, BELOW + width
    marks = station * np.arange(math.ceil(window.start / station - 1e-6), int(window.end / station + 1e-6) + 1)
    at = GUTTER_LEFT + np.append(marks, window.end) - window.start
    piece.lines(np.concatenate([upright(at, low, low - 0.8), upright(at, high, high - 0.8)]), Pen.TICK, "stations")
    places = np.unique(np.concatenate([[window.start, window.end], here.from_top])).tolist()
    # Both ends first: the stretch is laid on them.
    places.sort(key=lambda place: place not in (window.start, window.end))
    taken: list[tuple[float, float]] = []
    for place in places:
        text = ruler.bare(place)
        half = text_width(text, PLAIN) / 2
        x = min(max(GUTTER_LEFT + place - window.start, half), piece.width - half)
        if all(x + half + 1.0 <= start or end + 1.0 <= x - half for start, end in taken):
            piece.label(text, x, 0.56, PLAIN, Anchor.MIDDLE)
            taken.append((x - half, x + half))
    _left_edge(piece, sorted(taken))


_LEFT_EDGE = "LEFT EDGE"


def _left_edge(piece: Drawing, taken: list[tuple[float, float]]) -> None:
    """Write LEFT EDGE into the first gap between figures; where none is wide enough the figures that it needs go."""
    wide = text_width(_LEFT_EDGE, SMALL, bold=True)
    ends = [0.0, *(end + 1.0 for _, end in taken)]
    starts = [*(start - 1.0 for start, _ in taken), piece.width]
    gaps = [end for end, start in zip(ends, starts, strict=True) if start - end >= wide]
    x = gaps[0] if gaps else ends[1]
    if not gaps:
        keep = [label for label in piece.labels if not _in_row(label, x, x + wide)]
        piece.labels[:] = keep
    piece.label(_LEFT_EDGE, x, 0.56, SMALL, bold=True)


def _in_row(label: Label, left: float, right: float) -> bool:
    """Whether a figure of the row of stations stands between two places."""
    half = label.width / 2
    return label.anchor is Anchor.MIDDLE and label.x + half > left - 1.0 and label.x - half < right + 1.0


def _head(piece: Drawing, front: Front, stops: Stops, place: StripPlace, window: Window) -> None:
    """Write which strip it is and which edge lies below, and as much of the rest as fits."""
    y = BELOW + place.width + 0.6
    x, tip = GUTTER_LEFT, y + 1.2
    piece.shape([[x, tip], [x + 4.0, tip + 1.6], [x + 4.0, tip - 1.6]], Pen.SOLID, "arrow")
    x += 4.8
    x += piece.label("TOP", x, y, PLAIN, bold=True) + 2.0
    x += piece.label(str(place.number), x, y - 0.1, _NUMBER, bold=True) + 2.0
    x += piece.label("RIGHT EDGE", x, y, SMALL, bold=True) + 2.0
    show = front.job.ruler
    part = f"{show.bare(window.start)} to {show.text(window.end)} from TOP, part {window.part} of {window.parts}"
    where = [part] if window.parts > 1 else []
    words = ""
    for one in (*where, front.mark, _settings_in_short(stops, show)):
        longer = f"{words} · {one}" if words else one
        if text_width(longer, SMALL) > piece.width - x:
            break
        words = longer
    if words:
        piece.label(words, x, y, SMALL)


def _settings_in_short(stops: Stops, ruler: Ruler) -> str:
    """Return the settings: "stop 1: 2, 2: 4, 3: 6 mm"."""
    figures = ", ".join(f"{number}: {ruler.bare(depth)}" for number, depth in enumerate(stops.settings, 1))
    return f"stop {figures} {ruler.unit.value}"


def _list(asked: Asked, stops: Stops) -> Iterator[Piece]:
    """Yield how the holes are drilled, and for each setting of the stop the strips with their places."""
    room = Room(min(asked.room.width, _WIDEST), min(asked.room.height, _HIGHEST))
    through = flow(room, min(_COLUMN, room.width))
    blocks = _opening(asked, stops, through.width)
    if stops.settings:
        for setting in range(len(stops.settings)):
            blocks += _of_setting(asked, stops, setting, through.width)
        blocks += _without(asked, stops, through.width)
    for piece in flowed("Depth holes by setting of the stop", blocks, through):
        yield Piece(piece.name, piece.width, piece.height, piece.draw, (), Top.LEFT)


def _opening(asked: Asked, stops: Stops, width: float) -> list[Block]:
    ruler = asked.ruler
    show = ruler.text
    if not stops.settings:
        words = f"{_why_none(asked, stops)}: no depth holes, work to the lines on the sides."
        return [heading("No depth holes", width), paragraph(words, width)]
    left = f"{ruler.fine(stops.shallow)} to about {ruler.fine(stops.shallow + stops.step)}"
    return [
        heading("Depth holes: set the stop once for each list", width),
        paragraph(
            f"Twist drill of {show(stops.bit)}, point of 118 degrees. Every depth is to the POINT of the bit, below the raw face "
            f"of the blank ({show(asked.front.job.blank)}). The point is {ruler.fine(stops.point)} long; that is allowed for.",
            width,
            lead="Bit",
        ),
        paragraph(
            "Drill from the raw face, before the saw. Set the stop by the depth of a hole in waste, not by the drill's scale.",
            width,
            lead="Drill",
        ),
        paragraph(
            f"Stop when the bottoms just vanish: {left} then still stand above the finished face. {_to_carve_line(asked, stops)}",
            width,
            lead="Carve",
        ),
        paragraph(
            "Figures are places from the TOP end. L is the line near the LEFT edge, C the centre, R near the RIGHT edge: "
            f"{_lines_in_words(asked, stops)}.",
            width,
            lead="Places",
        ),
    ]


def _to_carve_line(asked: Asked, stops: Stops) -> str:
    """Say what holes and carve line have to do with each other: where sanding takes off more, the deepest holes reach below it."""
    sanding = asked.front.job.wood.sanding
    if sanding <= stops.shallow + _HAIR:
        return "Go on to the carve line by the sides."
    return (
        f"The carve line is {asked.ruler.fine(sanding)} above it. Where it comes first, stop there: sanding takes out what is left of "
        "a hole. Elsewhere go on to it by the sides."
    )


def _why_none(asked: Asked, stops: Stops) -> str:
    bit, shallow = asked.ruler.text(stops.bit), asked.ruler.fine(stops.shallow)
    if not any(lines_of(place.width, stops.bit) for place in asked.front.layout.strips):
        return f"The strips are too narrow for holes of a {bit} bit"
    return f"The relief is nowhere deep enough for a hole of a {bit} bit that ends {shallow} above the finished face"


def _lines_in_words(asked: Asked, stops: Stops) -> str:
    """Return how far the outer lines are from their edges, as far as strips have such."""
    outer = stops.holes.from_left[stops.holes.line == 0]
    if not len(outer):
        return "these strips are narrow and have C alone"
    figures = sorted({asked.ruler.bare(at) for at in outer.tolist()})
    return f"L and R are {' or '.join(figures[:3])} {asked.ruler.unit.value} from their edges"


def _of_setting(asked: Asked, stops: Stops, setting: int, width: float) -> list[Block]:
    """Return the places that are drilled with one setting of the stop, strip by strip."""
    chosen = stops.holes.chosen(
        (stops.holes.setting == setting) & np.isin(stops.holes.strip, np.array(asked.strips, dtype=np.intp))
    )
    depth = asked.ruler.text(stops.settings[setting])
    count = len(chosen.strip)
    title = f"Stop {setting + 1}: {depth} ({count} hole{'' if count == 1 else 's'})"
    if not count:
        return [heading(title, width), paragraph("None on these strips.", width)]
    texts = [asked.ruler.bare(place) for place in chosen.from_top.tolist()]
    places: dict[int, dict[Line, list[str]]] = {}
    for strip, line, text in zip(chosen.strip.tolist(), chosen.lines(), texts, strict=True):
        places.setdefault(strip, {}).setdefault(line, []).append(text)
    blocks = [heading(title, width)]
    for strip in asked.strips:
        if strip in places:
            lines = [f"{line.value} {', '.join(places[strip][line])}" for line in Line if line in places[strip]]
            blocks.append(paragraph("; ".join(lines), width, lead=f"{strip}:"))
    return blocks


def _without(asked: Asked, stops: Stops, width: float) -> list[Block]:
    """Return which strips have no holes, nothing where all have some."""
    drilled = set(stops.holes.strip.tolist())
    none = [number for number in asked.strips if number not in drilled]
    if not none:
        return []
    words = f"{strips_in_words(none, asked.front.count)}: too narrow for the bit, or nowhere deep enough."
    return [heading("Without holes", width), paragraph(words[0].upper() + words[1:], width)]
