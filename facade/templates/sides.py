"""Side templates: both sides of a strip at full size, to be stuck or traced on the wood.

Each side is drawn as it is seen when looking at it, its back along the bottom: so TOP is at the left end of a LEFT side and
at the right end of a RIGHT side. The two also differ in their hatch, slanting lines against crosses, which survives grey print.
A piece is laid on the stations that were struck on the wood, never on another piece.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from enum import Enum
from functools import partial

import numpy as np

from facade.arrays import Array
from facade.checks.finding import Finding
from facade.drawing import Anchor, Drawing, Pen, text_width
from facade.front import Front
from facade.layout import StripPlace
from facade.measuring.grain import Line
from facade.slicer import Strip, edge_heights
from facade.templates.frame import COLUMN, FOOT, HEAD, NOT_CLEARED, PLAIN, SMALL, Heading, Page, framed, rule_length
from facade.templates.hatch import crosses, slants, upright
from facade.templates.pack import TEMPLATES, shown_of
from facade.templates.piece import Asked, Kind, Lines, Piece, Top
from facade.templates.strokes import strokes_on
from facade.templates.windows import Window, windows
from facade.thinning import thin

# All mm. Beside the wood stand the names of the rows of figures, below it the figures. Which side it is stands in the wood, below
# the floor line; where that has no room for it, above the wood.
GUTTER_LEFT = 13.4
GUTTER_RIGHT = 4.4
_NAMES = 9.95
BELOW = 7.95
ABOVE = 0.75
_HEAD_ABOVE = 7.4
_LEAST_FLOOR, _LEAST_LONG = 5.4, 62.0
# Between the name and the floor line arrows show which way is carved, where the floor is as high as this.
_LEAST_FLOOR_ARROWS, _ARROWS_DOWN = 6.6, 1.6
# At the other end stands the sign of its side, like the hatch, which is there only where there is waste.
_MARK = 7.0
_LEAST_FLOOR_SIGN = 3.2
_PLACES, _HEIGHTS = 4.1, 7.5
# Straight runs of a drawn line stay this close to the surface.
LINE_TOLERANCE = 0.01
MARGIN = 10.0


class Side(Enum):
    """A side of a strip, by where its TOP end is when one looks at it with the back at the bottom."""

    LEFT = "left"
    RIGHT = "right"

    @property
    def top_at_left(self) -> bool:
        """Whether TOP is at the left end of the drawing."""
        return self is Side.LEFT

    def along(self, from_top: Array, window: Window) -> Array:
        """Return how far places lie from the left end of a drawing of this side."""
        return from_top - window.start if self.top_at_left else window.end - from_top

    def neighbour(self, place: StripPlace) -> str:
        """Say what it faces."""
        number = place.left_neighbour if self is Side.LEFT else place.right_neighbour
        return f"faces strip {number}" if number else f"{self.value} end of the front"


def pieces(asked: Asked) -> Iterator[Piece]:
    """Yield both sides of every strip, in stretches that fit the room."""
    job = asked.front.job
    for number in asked.strips:
        length = asked.front.layout.strip(number).length
        for window in windows(length, job.station, asked.room.width - GUTTER_LEFT - GUTTER_RIGHT, asked.ruler):
            for side in Side:
                yield side_piece(asked.front, number, side, window, lines=asked.lines)


def side_piece(
    front: Front, number: int, side: Side, window: Window, *, lines: Lines = Lines.BOTH, cleared: bool = True
) -> Piece:
    """Return a stretch of one side of a strip as a piece."""
    above = ABOVE if _named_in_wood(front, window) else _HEAD_ABOVE
    width, height = GUTTER_LEFT + window.length + GUTTER_RIGHT, BELOW + front.job.blank + above
    draw = partial(_draw, front, number, side, window, lines, cleared, width, height)
    stopped = partial(_draw_stopped, front, number, side, window, lines, width, height)
    name, pair = f"strip {number} {side.name}, {window.part}", f"strip {number}, {window.part}"
    return Piece(name, width, height, draw, (number,), Top.BOTH_SIDES, pair, stopped)


def _named_in_wood(front: Front, window: Window) -> bool:
    """Whether the wood below the floor line has room for which side it is."""
    return front.surface.floor >= _LEAST_FLOOR and window.length >= _LEAST_LONG


def key(front: Front, lines: Lines) -> Sequence[tuple[Pen, str]]:
    """Return what each line means, in words."""
    wood, show = front.job.wood, front.job.ruler.text
    told = "; heights are to it" if lines is Lines.CARVE else ""
    carve = (Pen.CARVE, f"carve to here, then sand {show(wood.sanding)} off{told}")
    finished = (Pen.FINISHED, "finished line; heights are to it")
    shown = {Lines.BOTH: (carve, finished), Lines.CARVE: (carve,), Lines.FINISHED: (finished,)}[lines]
    saw = (Pen.SAW, f"saw here, {show(wood.sawing)} above the higher side")
    return (*shown, saw, (Pen.FLOOR, "floor: nothing below"), (Pen.STROKE, "carve this way"))


def side_sheet(front: Front, strip: Strip, *, cleared: bool = True) -> Drawing:
    """Return a sheet cut to measure that holds both whole sides of one strip; one that is not `cleared` by the checks says so."""
    (window,) = windows(strip.length, front.job.station, strip.length, front.job.ruler)
    both = [side_piece(front, strip.number, side, window, cleared=cleared) for side in Side]
    room = max(2 * both[0].height + 4.0, rule_length(front.job.ruler) + 2.0)
    width = 2 * MARGIN + COLUMN + max(both[0].width, 250.0)
    page = Page(width, 2 * MARGIN + HEAD + room + FOOT, MARGIN, MARGIN)
    drawn = [piece.draw() for piece in both]
    heading = Heading(
        title="Side template",
        strips=(strip.number,),
        sheet=strip.number,
        sheets=front.count,
        top=Top.BOTH_SIDES,
        correction="not corrected for a printer",
        key=shown_of(key(front, Lines.BOTH), drawn),
        caution=TEMPLATES[Kind.SIDES].caution,
        cleared=cleared,
    )
    sheet = framed(front, page, heading)
    left, top = page.corner
    for index, piece in enumerate(drawn):
        sheet.put(piece, left, top - (index + 1) * piece.height - 4.0 * index)
    return sheet


@dataclass(frozen=True)
class Profile:
    """Lines of a side on a stretch, (points,) mm: from the top, and heights above the back."""

    from_top: Array
    finished: Array
    saw: Array


def profile_of(front: Front, strip: Strip, side: Side, window: Window) -> Profile:
    """Return a side's lines: the strip's own rows, fewer where straight runs do, and both ends of the stretch exact."""
    from_top = strip.from_top[::-1]
    inside = slice(*np.searchsorted(from_top, (window.start + 1e-6, window.end - 1e-6)))
    edge = (strip.left_edge if side is Side.LEFT else strip.right_edge)[::-1]
    lines_of_side = [edge, strip.saw_line[::-1]]
    if float(edge.max()) + strip.sanding > strip.blank:
        # Where a blank is too thin for it the carve line ends at the raw face, in a corner of its own.
        lines_of_side.append(strip.carve_line(edge))
    lines = np.column_stack(lines_of_side)[inside]
    kept = thin(lines, LINE_TOLERANCE) if len(lines) > 1 else np.arange(len(lines))
    ends = np.array([window.start, window.end])
    both = np.stack(edge_heights(front.surface, strip.place, ends))
    saw = np.minimum(both.max(axis=0) + strip.sawing, strip.blank)
    at_ends = np.column_stack([both[0 if side is Side.LEFT else 1], saw])
    drawn = np.concatenate([at_ends[:1], lines[kept, :2], at_ends[1:]])
    return Profile(np.concatenate([ends[:1], from_top[inside][kept], ends[1:]]), drawn[:, 0], drawn[:, 1])


def _draw_stopped(
    front: Front,
    number: int,
    side: Side,
    window: Window,
    lines: Lines,
    width: float,
    height: float,
    findings: Sequence[Finding],
) -> Drawing:
    return _draw(front, number, side, window, lines, False, width, height)


def _draw(
    front: Front, number: int, side: Side, window: Window, lines: Lines, cleared: bool, width: float, height: float
) -> Drawing:
    strip, name = front.strip(number), side.value
    piece = Drawing(width, height, f"strip {number} {side.name}")
    x, base, floor = GUTTER_LEFT, BELOW, front.surface.floor
    raw, end = base + strip.blank, GUTTER_LEFT + window.length
    profile = profile_of(front, strip, side, window)
    along = x + side.along(profile.from_top, window)
    finished, saw = base + profile.finished, base + profile.saw
    if _named_in_wood(front, window):
        _name_in_wood(piece, front, strip, side, window, cleared=cleared)
    else:
        _head(piece, front, strip, side, window, raw)
        if floor >= _LEAST_FLOOR_SIGN and window.length > 4 * _MARK:
            _draw_sign(piece, side, x, end, 0.7)
    hatch = slants if side.top_at_left else crosses
    piece.lines(hatch(along, saw + 0.5, raw - 0.3), Pen.HATCH, f"{name}-waste")
    _stations(piece, front, strip, side, window, lines)
    if _named_in_wood(front, window) and floor >= _LEAST_FLOOR_ARROWS:
        runs = strokes_on(front, number, Line.LEFT if side.top_at_left else Line.RIGHT, window)
        at = np.stack([x + side.along(runs[..., 0], window), base + floor - _ARROWS_DOWN + runs[..., 1]], axis=-1)
        piece.lines(at, Pen.STROKE, f"{name}-strokes")
    piece.line([[x, base + floor], [end, base + floor]], Pen.FLOOR, f"{name}-floor")
    _outline(piece, window, side, x, end, base, raw, strip.length)
    if lines is not Lines.CARVE:
        piece.line(np.column_stack([along, finished]), Pen.FINISHED, f"{name}-finished")
    if lines is not Lines.FINISHED:
        piece.line(np.column_stack([along, base + strip.carve_line(profile.finished)]), Pen.CARVE, f"{name}-carve")
    piece.line(np.column_stack([along, saw]), Pen.SAW, f"{name}-saw")
    piece.line([[x, base], [end, base]], Pen.BACK, f"{name}-back")
    return piece


def _outline(
    piece: Drawing, window: Window, side: Side, x: float, end: float, base: float, raw: float, length: float
) -> None:
    """Draw the raw face and the ends: a real end of the strip full, where it goes on pale."""
    piece.line([[x, raw], [end, raw]], Pen.OUTLINE, f"{side.value}-blank")
    top_x, bottom_x = (x, end) if side.top_at_left else (end, x)
    for at, real in ((top_x, window.start == 0.0), (bottom_x, window.end == length)):
        piece.line([[at, base], [at, raw]], Pen.OUTLINE if real else Pen.FINE, f"{side.value}-end")


def _head(piece: Drawing, front: Front, strip: Strip, side: Side, window: Window, raw: float) -> None:
    """Write which side of which strip it is, and draw the arrow to the TOP end."""
    way = -1.0 if side.top_at_left else 1.0
    left, right, y = 0.5, piece.width - 0.5, raw + 2.6
    tip = left if side.top_at_left else right
    piece.shape(
        [[tip, y + 1.7], [tip - way * 6.4, y + 4.3], [tip - way * 6.4, y - 0.9]], Pen.SOLID, f"{side.value}-arrow"
    )
    wide = piece.label("TOP", tip - way * 7.4, y, 4.6, Anchor.START if side.top_at_left else Anchor.END, bold=True)
    x = left + 7.4 + wide + 4 if side.top_at_left else GUTTER_LEFT
    room = (right if side.top_at_left else right - 7.4 - wide - 2) - x
    name = f"{strip.number} {side.name}"
    used = text_width(name, 5.2, bold=True) + 3
    if used < room:
        piece.label(name, x, y, 5.2, bold=True)
        words = _fitting(_about(front, strip, side, window), PLAIN, room - used)
        piece.label(words, x + used, y, PLAIN)
    else:
        piece.label(name, x, y, SMALL, bold=True)


def _about(front: Front, strip: Strip, side: Side, window: Window) -> list[str]:
    """Return what the head says, from the most needed on; the size of the blank once."""
    ruler, wants_centre = front.job.ruler, strip.ruler_error > front.job.limit("centre_line").value
    size = f"{ruler.number(window.start, 0)} to {ruler.text(window.end)} from TOP"
    where = [f"part {window.part} of {window.parts}: {size}"] if window.parts > 1 else []
    blank = f"blank {ruler.text(strip.length)} x {ruler.text(strip.width)} x {ruler.text(strip.blank)}"
    centre = ["centre line wanted"] if wants_centre else []
    return [side.neighbour(strip.place), *centre, *where, *([blank] if window.part == 1 else [])]


def _fitting(parts: list[str], size: float, room: float) -> str:
    """Return as many of the parts as fit, in their order."""
    words = ""
    for part in parts:
        longer = f"{words} · {part}" if words else part
        if text_width(longer, size) > room:
            break
        words = longer
    return words


def _name_in_wood(piece: Drawing, front: Front, strip: Strip, side: Side, window: Window, *, cleared: bool) -> None:
    """Write below the floor line which side of which strip it is, from the arrow to the TOP end on; it stays when it is cut out."""
    floor = front.surface.floor
    size, y = min(4.6, floor - (3.4 if floor >= _LEAST_FLOOR_ARROWS else 2.2)), BELOW + 1.2
    way, anchor = (1.0, Anchor.START) if side.top_at_left else (-1.0, Anchor.END)
    start, end = GUTTER_LEFT, GUTTER_LEFT + window.length
    x = (start if side.top_at_left else end) + way * 1.4
    middle, half = y + 0.365 * size, 0.5 * size
    corners = [[x, middle], [x + way * 1.2 * size, middle + half], [x + way * 1.2 * size, middle - half]]
    piece.shape(corners, Pen.SOLID, f"{side.value}-arrow")
    x += way * (1.2 * size + 1.0)
    for words in ("TOP", f"{strip.number} {side.name}", *(() if cleared else (NOT_CLEARED,))):
        x += way * (piece.label(words, x, y, size, anchor, bold=True) + 2.4)
    room = (end - x if side.top_at_left else x - start) - 1.4
    if room > 4 * _MARK:
        _draw_sign(piece, side, start, end, 1.2)
        room -= _MARK + 2.4
    about = _fitting([*_about(front, strip, side, window), front.mark], min(PLAIN, size), room)
    if about:
        piece.label(about, x, y, min(PLAIN, size), anchor)


def _draw_sign(piece: Drawing, side: Side, left: float, right: float, up: float) -> None:
    """Draw the sign of a side at the end of its wood that is away from TOP, `up` mm above the back."""
    far = right - 1.4 - _MARK if side.top_at_left else left + 1.4
    piece.lines(_sign(side) + np.array([far, BELOW + up]), Pen.TICK, f"{side.value}-mark")


def _sign(side: Side) -> Array:
    """Return three slanting lines or three crosses, `_MARK` mm wide, as runs from their lower left corner."""
    if side.top_at_left:
        return np.array([[[x, 0.0], [x + 2.2, 2.2]] for x in (0.0, 2.4, 4.8)])
    runs = [[[[x - 1.0, 1.1], [x + 1.0, 1.1]], [[x, 0.1], [x, 2.1]]] for x in (1.0, 3.5, 6.0)]
    return np.array(runs).reshape(-1, 2, 2)


def _stations(piece: Drawing, front: Front, strip: Strip, side: Side, window: Window, lines: Lines) -> None:
    """Draw a tick at each station, above and below the wood, and write its distance from the top and its height.

    Heights are those of the finished line, or of the carve line where that is drawn alone.
    """
    ruler, base, raw = front.job.ruler, BELOW, BELOW + strip.blank
    marks = window.stations
    heights = edge_heights(front.surface, strip.place, marks)[0 if side is Side.LEFT else 1]
    if lines is Lines.CARVE:
        heights = strip.carve_line(heights)
    at = GUTTER_LEFT + side.along(marks, window)
    # Every fourth is longer: 100 mm, or 4 in, in the usual steps.
    reach = np.where(np.rint(marks / front.job.station).astype(int) % 4 == 0, 1.4, 0.9)
    ticks = np.concatenate([upright(at, base, base - reach), upright(at, raw, raw + 0.5 * reach)])
    piece.lines(ticks, Pen.TICK, f"{side.value}-stations")
    piece.lines(upright(at, base + front.surface.floor, base + heights), Pen.FINE)
    places = [ruler.bare(mark) for mark in marks.tolist()]
    figures = [ruler.number(height) for height in heights.tolist()]
    piece.label("station", _NAMES, base - _PLACES, SMALL, Anchor.END)
    piece.label("height", _NAMES, base - _HEIGHTS, SMALL, Anchor.END)
    chosen = _roomy(at, places, figures)
    for index in chosen:
        half = text_width(places[index], PLAIN) / 2
        x = min(max(at[index], _NAMES + 0.3 + half), piece.width - half)
        piece.label(places[index], x, base - _PLACES, PLAIN, Anchor.MIDDLE)
    for index in chosen:
        half = text_width(figures[index], PLAIN, bold=True) / 2
        x = min(max(at[index], _NAMES + 0.5 + half), piece.width - half)
        piece.label(figures[index], x, base - _HEIGHTS, PLAIN, Anchor.MIDDLE, bold=True)


def _roomy(at: Array, places: list[str], heights: list[str]) -> list[int]:
    """Return the stations whose labels fit beside each other; the last one always keeps its own."""
    wide = [
        max(text_width(place, PLAIN), text_width(height, PLAIN, bold=True)) + 1.2
        for place, height in zip(places, heights, strict=True)
    ]
    last = len(at) - 1
    chosen: list[int] = []
    for index in range(last):
        far = not chosen or abs(at[index] - at[chosen[-1]]) >= (wide[index] + wide[chosen[-1]]) / 2
        if far and abs(at[last] - at[index]) >= (wide[index] + wide[last]) / 2:
            chosen.append(index)
    return [*chosen, last]
