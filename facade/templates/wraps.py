"""Fold-round templates: left side, face and right side of a strip in one piece, so that nothing can be mirrored.

Lying, TOP at the left; from below: the left side with its back along the lower edge, fold, face, fold, the right side with its back
along the upper edge. Folded back along both dashed lines it wraps the blank; depth is read from the fold, which is the raw face.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from functools import partial

import numpy as np

from facade.arrays import Array
from facade.drawing import Anchor, Drawing, Pen, fitted, text_width
from facade.errors import mistake
from facade.front import Front
from facade.lengths import Ruler
from facade.measuring.grain import Line
from facade.slicer import Strip, edge_heights
from facade.templates.contours import Spacing, contours, falls, outlines_on, spacing_of
from facade.templates.frame import PLAIN, SMALL
from facade.templates.hatch import crosses, level, slants, upright
from facade.templates.piece import Asked, Lines, Piece, Top
from facade.templates.sides import GUTTER_RIGHT, Side, profile_of
from facade.templates.strokes import strokes_on
from facade.templates.windows import Window, windows

# All mm: beside the wood the names of its parts, below the left side its stations, above the right side which strip it is.
GUTTER_LEFT = 17.4
BELOW, ABOVE = 5.6, 8.2


def pieces(asked: Asked) -> Iterator[Piece]:
    """Yield every strip, in stretches that fit the room."""
    front = asked.front
    for number in asked.strips:
        place = front.layout.strip(number)
        height = BELOW + 2 * front.job.blank + place.width + ABOVE
        if height > asked.room.height:
            show = asked.ruler.text
            raise mistake(
                "paper",
                f"the fold-round template of strip {number} is {show(height)} high, and {asked.paper} has room for "
                f"{show(asked.room.height)}: take larger paper, or side templates",
            )
        for window in windows(
            place.length, front.job.station, asked.room.width - GUTTER_LEFT - GUTTER_RIGHT, asked.ruler
        ):
            width = GUTTER_LEFT + window.length + GUTTER_RIGHT
            draw = partial(_draw, front, number, window, asked.lines, width, height)
            yield Piece(f"strip {number} to fold round, {window.part}", width, height, draw, (number,), Top.LEFT)


def key(front: Front, lines: Lines) -> Sequence[tuple[Pen, str]]:
    """Return what each line means, in words."""
    wood, show, spacing = front.job.wood, front.job.ruler.text, spacing_of(front)
    told = "; figures: finished depth" if lines is Lines.CARVE else ""
    carve = (Pen.CARVE, f"carve, then sand {show(wood.sanding)} off{told}")
    finished = (Pen.FINISHED, "finished")
    shown = {Lines.BOTH: (carve, finished), Lines.CARVE: (carve,), Lines.FINISHED: (finished,)}[lines]
    saw = (Pen.SAW, f"saw, {show(wood.sawing)} above")
    depth = (Pen.CONTOUR, f"depth, every {show(spacing.step, 3)}; ticks: deeper")
    signs = (Pen.STROKE, "carve this way"), (Pen.LAND, "land or pull"), (Pen.SCREW, "screw"), (Pen.NO_SCREW, "no screw")
    return (*shown, saw, (Pen.FLOOR, "floor"), (Pen.FOLD, "fold"), depth, *signs)


@dataclass(frozen=True)
class _Levels:
    """Heights on the piece, mm: back of the left side, the two folds, back of the right side."""

    left_back: float
    left_fold: float
    right_fold: float
    right_back: float


def _levels(strip: Strip) -> _Levels:
    left_fold = BELOW + strip.blank
    return _Levels(BELOW, left_fold, left_fold + strip.width, left_fold + strip.width + strip.blank)


def _draw(front: Front, number: int, window: Window, lines: Lines, width: float, height: float) -> Drawing:
    strip = front.strip(number)
    piece, at = Drawing(width, height, f"strip {number} to fold round"), _levels(strip)
    for side in Side:
        _side(piece, front, strip, side, window, lines, at)
    _frame(piece, front, strip, window, at)
    _stations(piece, front, strip, window, at)
    _face(piece, front, strip, window, at)
    _names(piece, front, strip, window, at)
    _head(piece, front.job.ruler, strip, window, front.mark)
    return piece


def _side(piece: Drawing, front: Front, strip: Strip, side: Side, window: Window, lines: Lines, at: _Levels) -> None:
    """Draw the lines and the waste of a side: the left one upwards from its back, the right one downwards."""
    profile, name = profile_of(front, strip, side, window), side.value
    x = GUTTER_LEFT + profile.from_top - window.start
    back, way = (at.left_back, 1.0) if side is Side.LEFT else (at.right_back, -1.0)
    heights = {"finished": profile.finished, "carve": strip.carve_line(profile.finished)}
    pens = {"finished": Pen.FINISHED, "carve": Pen.CARVE}
    for line in (line for line in heights if lines in (Lines.BOTH, Lines(line))):
        piece.line(np.column_stack([x, back + way * heights[line]]), pens[line], f"{name}-{line}")
    piece.line(np.column_stack([x, back + way * profile.saw]), Pen.SAW, f"{name}-saw")
    hatch = slants if side is Side.LEFT else crosses
    waste = hatch(x, profile.saw + 0.5, strip.blank - 0.3)
    piece.lines(waste * np.array([1.0, way]) + np.array([0.0, back]), Pen.HATCH, f"{name}-waste")
    floor = back + way * front.surface.floor
    piece.line([[x[0], floor], [x[-1], floor]], Pen.FLOOR, f"{name}-floor")
    piece.line([[x[0], back], [x[-1], back]], Pen.BACK, f"{name}-back")


def _frame(piece: Drawing, front: Front, strip: Strip, window: Window, at: _Levels) -> None:
    """Draw folds and ends, and name the three parts."""
    x, end = GUTTER_LEFT, GUTTER_LEFT + window.length
    for fold in (at.left_fold, at.right_fold):
        piece.line([[x, fold], [end, fold]], Pen.FOLD, "fold")
    for place, real in ((x, window.start == 0.0), (end, window.end == strip.length)):
        piece.line([[place, at.left_back], [place, at.right_back]], Pen.OUTLINE if real else Pen.FINE, "end")
    for word, low, high in (
        ("LEFT", at.left_back, at.left_fold),
        ("FACE", at.left_fold, at.right_fold),
        ("RIGHT", at.right_fold, at.right_back),
    ):
        y = (low + high) / 2 - 1.2
        # Beside the figures of depth stands what they are.
        y = max(y, low + 4.8) if word == "LEFT" else min(y, high - 7.2) if word == "RIGHT" else y
        piece.label(word, x - 1.4, y, PLAIN, Anchor.END, bold=True)


def _stations(piece: Drawing, front: Front, strip: Strip, window: Window, at: _Levels) -> None:
    """Draw ticks at stations on backs and folds, and write places below, and depths below the fold on both sides."""
    marks, ruler = window.stations, front.job.ruler
    x = GUTTER_LEFT + marks - window.start
    ticks = [upright(x, at.left_back - 1.2, at.left_back + 1.2), upright(x, at.right_back - 1.2, at.right_back + 1.2)]
    ticks += [upright(x, fold - 1.2, fold + 1.2) for fold in (at.left_fold, at.right_fold)]
    piece.lines(np.concatenate(ticks), Pen.TICK, "stations")
    piece.label("station", GUTTER_LEFT - 6.6, at.left_back - 4.4, SMALL, Anchor.END)
    depths = strip.blank - np.stack(edge_heights(front.surface, strip.place, marks))
    inside = front.surface.floor >= 4.6
    used = GUTTER_LEFT - 6.4
    for index, place in enumerate(x.tolist()):
        figures = [ruler.bare(float(marks[index])), *(ruler.number(float(side[index])) for side in depths)]
        half = max(text_width(figure, SMALL) for figure in figures) / 2
        middle = min(max(place, GUTTER_LEFT + half + 1.0), piece.width - GUTTER_RIGHT - half - 1.0)
        if middle - half < used:
            continue
        piece.label(figures[0], middle, at.left_back - 4.4, SMALL, Anchor.MIDDLE)
        if inside:
            piece.label(figures[1], middle, at.left_back + 1.5, SMALL, Anchor.MIDDLE)
            piece.label(figures[2], middle, at.right_back - 3.6, SMALL, Anchor.MIDDLE)
        used = middle + half + 1.0
    if inside:
        for y in (at.left_back + 1.5, at.right_back - 3.6):
            piece.label("depth", GUTTER_LEFT - 1.4, y, SMALL, Anchor.END)


def _head(piece: Drawing, ruler: Ruler, strip: Strip, window: Window, mark: str) -> None:
    y = piece.height - 5.2
    piece.shape([[0.5, y + 1.7], [6.9, y + 4.3], [6.9, y - 0.9]], Pen.SOLID, "wrap-arrow")
    x = 8.0 + piece.label("TOP", 8.0, y, 4.6, bold=True) + 4.0
    x += piece.label(str(strip.number), x, y, 5.2, bold=True) + 3.0
    left, right = (Side.LEFT.neighbour(strip.place), Side.RIGHT.neighbour(strip.place))
    words = [
        f"part {window.part} of {window.parts}: {ruler.number(window.start, 0)} to {ruler.text(window.end)} from TOP"
    ]
    words += [
        f"left {left}" if left.startswith("faces") else left,
        f"right {right}" if right.startswith("faces") else right,
    ]
    words += [mark]
    piece.label(fitted(" · ".join(words), SMALL, piece.width - x - 0.5), x, y, SMALL)


def _names(piece: Drawing, front: Front, strip: Strip, window: Window, at: _Levels) -> None:
    """Name both sides below their floor lines, where the words stay when the paper is cut out, if the floor is high enough."""
    ruler = front.job.ruler
    size = min(PLAIN, (front.surface.floor - 4.6) / 0.96)
    if size < SMALL:
        return
    for side, y in ((Side.LEFT, at.left_back + 4.2), (Side.RIGHT, at.right_back - 4.3 - 0.76 * size)):
        name = f"← {strip.number} {side.name}"
        stretch = f"{ruler.bare(window.start)} to {ruler.text(window.end)} from TOP"
        longer = f"{name} · {stretch} · {front.mark}"
        ways = (f"{longer} · {side.neighbour(strip.place)}", longer, f"{name} · {stretch}", name)
        room = window.length - 4.0
        words = next((way for way in ways if text_width(way, size, bold=True) < room), None)
        if words is not None:
            piece.label(words, GUTTER_LEFT + 2.0, y, size, bold=True)


def _face_name(piece: Drawing, strip: Strip, window: Window, screws: Sequence[float], origin: Array) -> float | None:
    """Name the face on its middle line, clear of screws, and return where, mm from the top; None where there is no room."""
    name = f"← {strip.number} FACE"
    half = text_width(name, PLAIN) / 2
    places = np.arange(window.start + half + 3.0, window.end - half - 3.0, 2.0)
    clear = [place for place in places.tolist() if all(abs(place - screw) > half + 2.4 for screw in screws)]
    if not clear:
        return None
    piece.clear_label(name, origin[0] + clear[0], origin[1] + strip.width / 2 - 1.2, PLAIN)
    return float(clear[0])


def _face(piece: Drawing, front: Front, strip: Strip, window: Window, at: _Levels) -> None:
    """Draw lines of equal depth, arrows from crest to hollow, lands, screws and where none may stand."""
    origin, spacing = np.array([GUTTER_LEFT - window.start, at.left_fold]), spacing_of(front)
    _depths(piece, front, strip, window, spacing, origin)
    measures = front.measures_of(strip.number)
    lane = 0.28 * strip.width
    barred = [(max(a, window.start), min(b, window.end)) for a, b in measures.screws.barred]
    runs = [[[a, lane], [b, lane]] for a, b in barred if b - a > 0.5]
    piece.lines(np.array(runs) + origin if runs else [], Pen.NO_SCREW, "no-screw")
    crosses_at = [screw.from_top for screw in measures.screws.screws if window.start < screw.from_top < window.end]
    if crosses_at:
        x, y, arm = np.array(crosses_at) + origin[0], at.left_fold + strip.width / 2, 1.6
        piece.lines(np.concatenate([level(x - arm, x + arm, y), upright(x, y - arm, y + arm)]), Pen.SCREW, "screws")
    inset = min(2.4, 0.16 * strip.width)
    for line, offset in ((Line.LEFT, inset), (Line.RIGHT, strip.width - inset)):
        runs_of_line = strokes_on(front, strip.number, line, window)
        name = f"strokes-{'left' if line is Line.LEFT else 'right'}"
        piece.lines(runs_of_line + np.array([0.0, offset]) + origin, Pen.STROKE, name)
    _lands(piece, front, strip, window, origin)


def _depths(piece: Drawing, front: Front, strip: Strip, window: Window, spacing: Spacing, origin: Array) -> None:
    """Draw the lines of equal depth and write their depths on the middle line, where there is room."""
    middle = strip.width / 2
    screws = [screw.from_top for screw in front.measures_of(strip.number).screws.screws]
    lines = contours(front, strip.number, window.start, window.end, spacing)
    down = falls(front, strip.number, lines)
    inside = (down[..., 1] >= window.start).all(axis=1) & (down[..., 1] <= window.end).all(axis=1)
    piece.lines(down[inside][..., ::-1] + origin, Pen.CONTOUR, "falls")
    for one in lines:
        piece.line(one.places[:, ::-1] + origin, spacing.pen(one.index), "depth")
    # Places along the middle line that are taken, and half of how long each is.
    taken = [(place, 1.6) for place in screws]
    named = _face_name(piece, strip, window, screws, origin)
    if named is not None:
        taken.append((named, text_width(f"← {strip.number} FACE", PLAIN) / 2))
    for one in lines:
        nearest = int(np.abs(one.places[:, 0] - middle).argmin())
        text = front.job.ruler.bare(one.depth)
        half, at = text_width(text, SMALL) / 2, float(one.places[nearest, 1])
        clear = all(abs(at - other) > half + long + 1.2 for other, long in taken)
        if (
            clear
            and window.start + half < at < window.end - half
            and abs(one.places[nearest, 0] - middle) < strip.width / 4
        ):
            piece.clear_label(text, origin[0] + at, origin[1] + float(one.places[nearest, 0]) - 0.9, SMALL)
            taken.append((at, half))


def _lands(piece: Drawing, front: Front, strip: Strip, window: Window, origin: Array) -> None:
    """Draw the outlines of lands and pulls as far as they lie on the strip."""
    for word, outline in outlines_on(front.job, strip.place, window):
        piece.shape(outline[:, ::-1] + origin, Pen.LAND, word)
