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
from facade.lengths import Ruler
from facade.slicer import Strip, edge_heights
from facade.templates.frame import COLUMN, FOOT, HEAD, NOT_CLEARED, PLAIN, SMALL, Heading, Page, framed, rule_length
from facade.templates.hatch import crosses, slants, upright
from facade.templates.pack import TEMPLATES
from facade.templates.piece import Asked, Kind, Lines, Piece, Top
from facade.templates.windows import Window, windows
from facade.thinning import thin

# All mm. Beside the wood stand the names of the rows of figures; below it the figures, above it which side it is.
GUTTER_LEFT = 17.4
GUTTER_RIGHT = 4.4
_NAMES = 10.6
BELOW = 9.6
ABOVE = 7.4
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
    width, height = GUTTER_LEFT + window.length + GUTTER_RIGHT, BELOW + front.job.blank + ABOVE
    draw = partial(_draw, front, number, side, window, lines, cleared, width, height)
    stopped = partial(_draw_stopped, front, number, side, window, lines, width, height)
    return Piece(f"strip {number} {side.name}, {window.part}", width, height, draw, (number,), Top.BOTH_SIDES, stopped)


def key(front: Front, lines: Lines) -> Sequence[tuple[Pen, str]]:
    """Return what each line means, in words."""
    wood, show = front.job.wood, front.job.ruler.text
    carve = (Pen.CARVE, f"carve to here, then sand {show(wood.sanding)} off")
    finished = (Pen.FINISHED, "finished line; heights are to it")
    shown = {Lines.BOTH: (carve, finished), Lines.CARVE: (carve,), Lines.FINISHED: (finished,)}[lines]
    saw = (Pen.SAW, f"saw here, {show(wood.sawing)} above the higher side")
    return (*shown, saw, (Pen.FLOOR, "floor: nothing below"))


def side_sheet(front: Front, strip: Strip, *, cleared: bool = True) -> Drawing:
    """Return a sheet cut to measure that holds both whole sides of one strip; one that is not `cleared` by the checks says so."""
    (window,) = windows(strip.length, front.job.station, strip.length, front.job.ruler)
    both = [side_piece(front, strip.number, side, window, cleared=cleared) for side in Side]
    room = max(2 * both[0].height + 4.0, rule_length(front.job.ruler) + 2.0)
    width = 2 * MARGIN + COLUMN + max(both[0].width, 250.0)
    page = Page(width, 2 * MARGIN + HEAD + room + FOOT, MARGIN, MARGIN)
    heading = Heading(
        title="Side template",
        strips=(strip.number,),
        sheet=strip.number,
        sheets=front.count,
        top=Top.BOTH_SIDES,
        correction="not corrected for a printer",
        key=key(front, Lines.BOTH),
        caution=TEMPLATES[Kind.SIDES].caution,
        cleared=cleared,
    )
    sheet = framed(front, page, heading)
    left, top = page.corner
    for index, piece in enumerate(both):
        sheet.put(piece.draw(), left, top - (index + 1) * piece.height - 4.0 * index)
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
    _head(piece, front, strip, side, window, raw)
    hatch = slants if side.top_at_left else crosses
    piece.lines(hatch(along, saw + 0.5, raw - 0.3), Pen.HATCH, f"{name}-waste")
    _stations(piece, front, strip, side, window)
    piece.line([[x, base + floor], [end, base + floor]], Pen.FLOOR, f"{name}-floor")
    _outline(piece, window, side, x, end, base, raw, strip.length)
    if lines is not Lines.CARVE:
        piece.line(np.column_stack([along, finished]), Pen.FINISHED, f"{name}-finished")
    if lines is not Lines.FINISHED:
        piece.line(np.column_stack([along, base + strip.carve_line(profile.finished)]), Pen.CARVE, f"{name}-carve")
    piece.line(np.column_stack([along, saw]), Pen.SAW, f"{name}-saw")
    piece.line([[x, base], [end, base]], Pen.BACK, f"{name}-back")
    _words_in_wood(piece, front, number, side, x, end, cleared=cleared)
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
        words = _fitting(_about(front.job.ruler, strip, side, window), PLAIN, room - used)
        piece.label(words, x + used, y, PLAIN)
    else:
        piece.label(name, x, y, SMALL, bold=True)


def _about(ruler: Ruler, strip: Strip, side: Side, window: Window) -> list[str]:
    """Return what the head says, from the most needed on; the size of the blank once."""
    size = f"{ruler.number(window.start, 0)} to {ruler.text(window.end)} from TOP"
    where = [f"part {window.part} of {window.parts}: {size}"] if window.parts > 1 else []
    blank = f"blank {ruler.text(strip.length)} x {ruler.text(strip.width)} x {ruler.text(strip.blank)}"
    return [side.neighbour(strip.place), *where, *([blank] if window.part == 1 else [])]


def _fitting(parts: list[str], size: float, room: float) -> str:
    """Return as many of the parts as fit, in their order."""
    words = ""
    for part in parts:
        longer = f"{words} · {part}" if words else part
        if text_width(longer, size) > room:
            break
        words = longer
    return words


def _words_in_wood(
    piece: Drawing, front: Front, number: int, side: Side, left: float, right: float, *, cleared: bool
) -> None:
    """Name the side again below the floor line, where it stays when the paper is cut out."""
    name = f"{number} {side.name}"
    ways = (f"TOP · {name} · {front.mark}", f"TOP · {name}", name)
    if not cleared:
        ways = (f"TOP · {name} · {front.mark} · {NOT_CLEARED}", f"TOP · {name} · {NOT_CLEARED}", NOT_CLEARED)
    largest = min(4.6, front.surface.floor - 2.2)
    for words in ways:
        text = f"← {words}" if side.top_at_left else f"{' · '.join(reversed(words.split(' · ')))} →"
        size = min(largest, (right - left - 8) / text_width(text, 1.0, bold=True))
        if size >= SMALL:
            at, anchor = (left + 4, Anchor.START) if side.top_at_left else (right - 4, Anchor.END)
            piece.label(text, at, BELOW + 1.3, size, anchor, bold=True)
            return


def _stations(piece: Drawing, front: Front, strip: Strip, side: Side, window: Window) -> None:
    """Draw a tick at each station, above and below the wood, and write its distance from the top and its height."""
    ruler, base, raw = front.job.ruler, BELOW, BELOW + strip.blank
    marks = window.stations
    heights = edge_heights(front.surface, strip.place, marks)[0 if side is Side.LEFT else 1]
    at = GUTTER_LEFT + side.along(marks, window)
    # Every fourth is longer: 100 mm, or 4 in, in the usual steps.
    reach = np.where(np.rint(marks / front.job.station).astype(int) % 4 == 0, 2.4, 1.4)
    ticks = np.concatenate([upright(at, base, base - reach), upright(at, raw, raw + 0.8 * reach)])
    piece.lines(ticks, Pen.TICK, f"{side.value}-stations")
    piece.lines(upright(at, base + front.surface.floor, base + heights), Pen.FINE)
    places = [ruler.bare(mark) for mark in marks.tolist()]
    figures = [ruler.number(height) for height in heights.tolist()]
    piece.label("station", _NAMES, base - 5.0, SMALL, Anchor.END)
    piece.label("height", _NAMES, base - 8.9, SMALL, Anchor.END)
    chosen = _roomy(at, places, figures)
    for index in chosen:
        piece.label(places[index], at[index], base - 5.0, SMALL, Anchor.MIDDLE)
    for index in chosen:
        half = text_width(figures[index], PLAIN, bold=True) / 2
        x = min(max(at[index], _NAMES + 0.5 + half), piece.width - half)
        piece.label(figures[index], x, base - 8.9, PLAIN, Anchor.MIDDLE, bold=True)


def _roomy(at: Array, places: list[str], heights: list[str]) -> list[int]:
    """Return the stations whose labels fit beside each other; the last one always keeps its own."""
    wide = [
        max(text_width(place, SMALL), text_width(height, PLAIN, bold=True)) + 1.2
        for place, height in zip(places, heights, strict=True)
    ]
    last = len(at) - 1
    chosen: list[int] = []
    for index in range(last):
        far = not chosen or abs(at[index] - at[chosen[-1]]) >= (wide[index] + wide[chosen[-1]]) / 2
        if far and abs(at[last] - at[index]) >= (wide[index] + wide[last]) / 2:
            chosen.append(index)
    return [*chosen, last]
