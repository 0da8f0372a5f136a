"""Face sheets: lines of equal depth over a whole door, at full size in tiles of whole strips, and reduced to one page.

A tile is laid on the strips' edges and on the stations struck on the wood, never on another tile.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from functools import partial

import numpy as np

from facade.arrays import Array
from facade.drawing import Anchor, Drawing, Pen, fitted, text_width
from facade.errors import mistake
from facade.front import Front
from facade.layout import Door
from facade.lengths import MM_PER_INCH, Unit
from facade.slicer import stations
from facade.templates.contours import Spacing, contours, falls, outlines_on, spacing_of
from facade.templates.frame import LARGE, PLAIN, SMALL
from facade.templates.hatch import level
from facade.templates.piece import Asked, Lines, Piece
from facade.templates.tables import reduction
from facade.templates.windows import Window, windows

# All mm. Beside a tile stand its stations, above and below it the strips' numbers.
_TICK, _TO_FIGURE = 2.4, 0.6
_ABOVE, _BELOW = 12.5, 6.0
_LEAST_APART = 9.0  # between two depths written on one line


def pieces(asked: Asked) -> Iterator[Piece]:
    """Yield each door reduced to a page, then its tiles at full size."""
    for door in asked.front.layout.doors:
        own = asked.front.layout.on_door(door)
        numbers = [place.number for place in own if place.number in asked.strips]
        if len(numbers) == len(own):
            yield _reduced(asked, door)
        if numbers:
            yield from _tiles(asked, door, numbers)


def key(front: Front, lines: Lines) -> Sequence[tuple[Pen, str]]:
    """Return what the lines mean, in words."""
    spacing, show = spacing_of(front), front.job.ruler.text
    return (
        (Pen.CONTOUR, f"equal depth, every {show(spacing.step, 3)}; ticks: deeper"),
        (Pen.CONTOUR_MAIN, f"every {show(spacing.step * spacing.heavy, 3)}"),
        (Pen.OUTLINE, "strip's edge, on the wood's"),
        (Pen.LAND, "land or pull"),
    )


def _tiles(asked: Asked, door: Door, numbers: Sequence[int]) -> Iterator[Piece]:
    front, room = asked.front, asked.room
    columns = _columns(asked, numbers)
    length = front.layout.strip(numbers[0]).length
    for index, column in enumerate(columns, 1):
        width = _tile_width(front, column)
        for window in windows(length, front.job.station, room.height - _ABOVE - _BELOW, asked.ruler):
            height = _ABOVE + window.length + _BELOW
            words = f"Door {door.number}: column {index} of {len(columns)}, part {window.part} of {window.parts}"
            draw = partial(_draw_tile, front, column, window, words, width, height)
            yield Piece(f"face of door {door.number}, {index}.{window.part}", width, height, draw, tuple(column))


def _columns(asked: Asked, numbers: Sequence[int]) -> list[list[int]]:
    """Return runs of neighbouring strips that fit the room side by side; raises JobError where not one does."""
    columns: list[list[int]] = []
    for number in numbers:
        longer = (
            [*columns[-1], number]
            if columns and columns[-1][-1] == asked.front.layout.strip(number).left_neighbour
            else [number]
        )
        if columns and len(longer) > 1 and _tile_width(asked.front, longer) <= asked.room.width:
            columns[-1] = longer
        else:
            columns.append([number])
    if _tile_width(asked.front, columns[0]) > asked.room.width and len(columns[0]) == 1:
        show = asked.ruler.text
        wide = asked.front.layout.strip(columns[0][0]).width
        raise mistake(
            "paper", f"a strip {show(wide)} wide does not fit on a face sheet of {asked.paper}: take larger paper"
        )
    return columns


def _tile_width(front: Front, column: Sequence[int]) -> float:
    layout, length = front.layout, front.layout.strip(column[0]).length
    # Which stretch it is must not be cut short.
    head = text_width(_stretch_words(front, layout.strip(column[0]).door, length, length), SMALL) + 2.0
    return max(layout.strip(column[-1]).right - layout.strip(column[0]).left + 2 * _aside(front), head)


def _stretch_words(front: Front, door: int, start: float, end: float) -> str:
    """Return which stretch of which door a tile is of, as short as can be."""
    ruler = front.job.ruler
    return f"Door {door} · {ruler.number(start, 0)} to {ruler.text(end)} from TOP"


def _aside(front: Front) -> float:
    """Return how much room stations take beside a tile, mm: a tick, and the widest figure."""
    marks = stations(front.layout.strips[0].length, front.job.station).tolist()
    widest = max(text_width(front.job.ruler.bare(mark), PLAIN) for mark in marks)
    return 2 * _TO_FIGURE + _TICK + widest + 0.1


def _draw_tile(front: Front, column: Sequence[int], window: Window, words: str, width: float, height: float) -> Drawing:
    piece = Drawing(width, height, words)
    layout = front.layout
    origin, top = layout.strip(column[0]).left - _aside(front), _BELOW + window.length
    spacing = spacing_of(front)
    for number in column:
        place = layout.strip(number)
        left, right = place.left - origin, place.right - origin
        ends = [place for place, real in ((top, window.start == 0.0), (_BELOW, window.end == place.length)) if real]
        piece.lines([[[x, _BELOW], [x, top]] for x in (left, right)], Pen.OUTLINE, f"strip-{number}")
        piece.lines([[[left, y], [right, y]] for y in ends], Pen.OUTLINE, "strip-end")
        _strip_depths(piece, front, number, window, spacing, np.array([left, top]))
        for word, outline in outlines_on(front.job, place, window):
            drawn = np.column_stack([left + outline[:, 0], top - (outline[:, 1] - window.start)])
            piece.shape(drawn, Pen.LAND, word)
        size = min(LARGE, (right - left - 0.6) / text_width(str(number), 1.0, bold=True))
        for y in (top + 1.6, 1.4):
            piece.label(str(number), (left + right) / 2, y, max(size, SMALL), Anchor.MIDDLE, bold=True)
    _tile_stations(piece, front, window, top)
    short = _stretch_words(front, layout.strip(column[0]).door, window.start, window.end)
    _tile_head(piece, [f"{words} · {short.partition(' · ')[2]}", short], top + 8.4)
    return piece


def _tile_head(piece: Drawing, ways: Sequence[str], y: float) -> None:
    """Write the longest of the ways that fits, large if it can be; which stretch it is must not be cut short."""
    room = piece.width - 1.0
    sizes = [(words, size, bold) for words in ways for size, bold in ((PLAIN, True), (SMALL, False))]
    fits = (one for one in sizes if text_width(one[0], one[1], bold=one[2]) <= room)
    words, size, bold = next(fits, (fitted(ways[-1], SMALL, room), SMALL, False))
    piece.label(words, 0.5, y, size, bold=bold)


def _tile_stations(piece: Drawing, front: Front, window: Window, top: float) -> None:
    ruler, aside = front.job.ruler, _aside(front)
    y = top - (window.stations - window.start)
    left, right = aside - _TO_FIGURE, piece.width - aside + _TO_FIGURE
    ticks = [
        level(np.full(len(y), left - _TICK), np.full(len(y), left), y),
        level(np.full(len(y), right), np.full(len(y), right + _TICK), y),
    ]
    piece.lines(np.concatenate(ticks), Pen.TICK, "stations")
    used = top + 10.0
    for place, height in zip(window.stations.tolist(), y.tolist(), strict=True):
        if used - height >= 4.6:
            piece.label(ruler.bare(place), left - _TICK - _TO_FIGURE, height - 1.1, PLAIN, Anchor.END)
            piece.label(ruler.bare(place), right + _TICK + _TO_FIGURE, height - 1.1, PLAIN)
            used = height


def _strip_depths(piece: Drawing, front: Front, number: int, window: Window, spacing: Spacing, corner: Array) -> None:
    """Draw a strip's lines of equal depth, its upper left corner at `corner`, and write depths where there is room."""
    middle, taken = front.layout.strip(number).width / 2, [window.start - 1.0, window.end + 1.0]
    lines = contours(front, number, window.start, window.end, spacing)
    down = falls(front, number, lines)
    inside = (down[..., 1] >= window.start).all(axis=1) & (down[..., 1] <= window.end).all(axis=1)
    ticks = np.stack([down[inside][..., 0], window.start - down[inside][..., 1]], axis=-1) + corner
    piece.lines(ticks, Pen.CONTOUR, "falls")
    for one in lines:
        places = np.column_stack([one.places[:, 0], window.start - one.places[:, 1]]) + corner
        piece.line(places, spacing.pen(one.index), "depth")
        nearest = int(np.abs(one.places[:, 0] - middle).argmin())
        at = float(one.places[nearest, 1])
        text, aside = front.job.ruler.bare(one.depth), float(one.places[nearest, 0])
        if text_width(text, SMALL) > 2 * (middle - abs(aside - middle)) - 0.6 or abs(aside - middle) > middle / 2:
            continue
        if (
            min(abs(at + 3.0 - other) for other in taken) >= _LEAST_APART - 3.0
            and window.start + 1 < at < window.end - 4
        ):
            piece.clear_label(text, corner[0] + aside, corner[1] + window.start - at - 1.0, SMALL)
            taken.append(at + 3.0)


def _reduced(asked: Asked, door: Door) -> Piece:
    """Return a door on one page, at the least usual reduction that fits."""
    room = asked.room
    width, height = min(room.width, 420.0), min(room.height, 420.0)
    scale = reduction(door.width, door.height, width - 12.0, height - 24.0)
    wide, tall = max(door.width / scale + 12.0, 120.0), door.height / scale + 24.0
    return Piece(
        f"face of door {door.number}, reduced", wide, tall, partial(_draw_reduced, asked.front, door, scale, wide, tall)
    )


def _draw_reduced(front: Front, door: Door, scale: float, width: float, height: float) -> Drawing:
    piece = Drawing(width, height, f"door {door.number}, reduced")
    left, base = (width - door.width / scale) / 2, 10.0
    spacing = spacing_of(front)
    places = front.layout.on_door(door)
    fifth = places[0].width / scale < text_width("00", SMALL, bold=True) + 1.0
    for place in places:
        number = place.number
        x, top = left + (place.left - door.left) / scale, base + (place.top - door.bottom) / scale
        for one in contours(front, number, 0.0, place.length, spacing):
            drawn = one.places[:: max(1, int(scale / 2))] if len(one.places) > 12 else one.places
            piece.line(
                np.column_stack([x + drawn[:, 0] / scale, top - drawn[:, 1] / scale]), spacing.pen(one.index), "depth"
            )
        whole = Window(0.0, place.length, 1, 1, np.array([0.0, place.length]))
        for word, outline in outlines_on(front.job, place, whole):
            drawn = np.column_stack([x + outline[:, 0] / scale, top - outline[:, 1] / scale])
            piece.shape(drawn, Pen.LAND, word)
        box = [[x, top - place.length / scale], [x + place.width / scale, top]]
        piece.shape([box[0], [box[1][0], box[0][1]], box[1], [box[0][0], box[1][1]]], Pen.FINE, "strip")
        if not fifth or number % 5 == 0:
            piece.label(
                str(number),
                x + place.width / scale / 2,
                base + door.height / scale + 1.6,
                SMALL,
                Anchor.MIDDLE,
                bold=True,
            )
    right, upper = left + door.width / scale, base + door.height / scale
    piece.shape([[left, base], [right, base], [right, upper], [left, upper]], Pen.OUTLINE, "door")
    piece.label(
        f"Door {door.number}, scale 1 : {scale:g}, measure nothing from it", 1.0, height - 5.0, PLAIN, bold=True
    )
    _scale_bar(piece, front, scale, left)
    return piece


def _scale_bar(piece: Drawing, front: Front, scale: float, left: float) -> None:
    ruler = front.job.ruler
    usual = (100.0, 50.0, 20.0, 10.0) if ruler.unit is Unit.MM else tuple(MM_PER_INCH * inches for inches in (4, 2, 1))
    whole = next((one for one in usual if one / scale <= (piece.width - left) / 2), usual[-1])
    long = whole / scale
    piece.lines(
        [[[left, 4.0], [left + long, 4.0]], [[left, 3.0], [left, 5.0]], [[left + long, 3.0], [left + long, 5.0]]],
        Pen.RULE,
        "scale-bar",
    )
    ways = (f"{ruler.text(whole)} at this scale; measure on the full-size tiles", f"{ruler.text(whole)} at this scale")
    room = piece.width - left - long - 3.0
    words = next((way for way in ways if text_width(way, SMALL) <= room), ruler.text(whole))
    piece.label(words, left + long + 2.0, 3.1, SMALL)
