"""Boards: where to drill the door boards for the strips' screws, seen from the back, and the board on which a set is carved."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Sequence
from functools import partial

import numpy as np

from facade.drawing import Anchor, Drawing, Pen, fitted, text_width
from facade.front import Front
from facade.job.bench import Held
from facade.layout import Door, StripPlace
from facade.lengths import MM_PER_INCH, Unit
from facade.measuring.screws import Screw, clearance_hole, pilot_hole
from facade.templates.frame import PLAIN, SMALL
from facade.templates.hatch import level, upright
from facade.templates.piece import Asked, Piece, Room
from facade.templates.tables import (
    Block,
    Column,
    Table,
    flow,
    flowed,
    heading,
    paragraph,
    reduction,
    table_pieces,
    tick,
    widest_number,
)
from facade.wood import species

# The carving board, mm: dummy strips left and right, waste beyond both ends, and what clamps keep away from what is carved.
# Common practice: 20 to 30 of waste, so that a disc does not round the ends; clamps at least 10 away.
WASTE = {Unit.MM: 25.0, Unit.INCH: MM_PER_INCH}
CLAMP_CLEAR = {Unit.MM: 10.0, Unit.INCH: MM_PER_INCH / 2}
CLAMP = {Unit.MM: 50.0, Unit.INCH: 2 * MM_PER_INCH}
_WIDEST = 420.0


def pieces(asked: Asked) -> Iterator[Piece]:
    """Yield the drilling of every door, and the carving board of every kind of door."""
    room = Room(min(asked.room.width, _WIDEST), min(asked.room.height, _WIDEST))
    front = asked.front
    if front.job.fixing.by is Held.SCREWS:
        for door in front.layout.doors:
            yield _board_from_behind(front, door, room)
            yield from table_pieces(_drilling(front, door), room)
        yield from _screw_words(front, room)
    else:
        through = flow(room, min(room.width, 170.0))
        words = f"Strips are held by {front.job.fixing.by.value}: the door boards are not drilled."
        yield from flowed("door boards", [paragraph(words, through.width)], through)
    for doors in _alike(front):
        yield _carving_board(front, doors, room)
        yield from _carving_words(front, doors, room)


def _strips(front: Front, door: Door) -> list[StripPlace]:
    return [front.layout.strip(number) for number in range(door.first_strip, door.last_strip + 1)]


def from_behind(door: Door, x: float) -> float:
    """Return how far a place of the front is from the edge of its door's board that is at the left when seen from the back, mm."""
    return door.right - x


def from_board_top(door: Door, place: StripPlace, screw: Screw) -> float:
    """Return how far a screw is from the top edge of its door's board, mm."""
    return door.top - place.top + screw.from_top


def _drilling(front: Front, door: Door) -> Table:
    """Return every strip's row of holes: where it is seen from the back, and its screws from the board's TOP edge."""
    ruler, places = front.job.ruler, _strips(front, door)[::-1]
    most = max((len(front.measures()[place.number - 1].screws.screws) for place in places), default=0)
    columns = [
        Column(("strip",), "000", Anchor.MIDDLE, bold=True),
        Column(("from left", "edge"), widest_number(ruler, door.width)),
    ]
    for index in range(1, most + 1):
        columns.append(Column((f"screw {index}", "from TOP"), widest_number(ruler, door.height)))
        columns.append(Column(("length",), ruler.bare(max(screw_lengths(front), default=35.0))))
    columns.append(Column(("done",), box=4.0))
    return Table(
        f"Drilling door {door.number}, seen from the BACK",
        tuple(columns),
        len(places),
        partial(_drilling_rows, front, door, places, most),
        [()] * len(places),
        note="Places are from the board's left edge as seen from the back, and from its TOP edge.",
        words=120.0,
    )


def screw_lengths(front: Front) -> set[float]:
    """Return the lengths of all screws that are planned."""
    return {screw.length for measures in front.measures() for screw in measures.screws.screws}


def _drilling_rows(
    front: Front, door: Door, places: Sequence[StripPlace], most: int, first: int, after: int
) -> list[list[str]]:
    ruler, rows = front.job.ruler, []
    for place in places[first:after]:
        screws = front.measures()[place.number - 1].screws.screws
        row = [str(place.number), ruler.number(from_behind(door, (place.left + place.right) / 2))]
        for screw in screws:
            row += [ruler.number(from_board_top(door, place, screw)), ruler.bare(screw.length)]
        rows.append([*row, *["–"] * (2 * (most - len(screws))), ""])
    return rows


def _screw_words(front: Front, room: Room) -> Iterator[Piece]:
    """Yield holes and screws in words: sizes, how many of each length, which strips have none, what is left before a tip."""
    job, show = front.job, front.job.ruler.text
    through = flow(room, min(room.width, 86.0))
    count = Counter(screw.length for measures in front.measures() for screw in measures.screws.screws)
    least, most = clearance_hole(job.fixing.shank)
    pilot = pilot_hole(job.fixing.shank, softwood=species(job.wood.species).softwood)
    cover = min((screw.cover for measures in front.measures() for screw in measures.screws.screws), default=0.0)
    none = [str(measures.number) for measures in front.measures() if not measures.screws.screws]
    words = [
        f"Holes in the board {job.ruler.fine(least, 1)} to {job.ruler.fine(most, 1)}, so that strips may move; "
        f"pilot holes in the strips {job.ruler.fine(pilot, 1)}.",
        "Screws: "
        + (", ".join(f"{number} of {show(length)}" for length, number in sorted(count.items())) or "none")
        + ".",
        f"Tips stay at least {show(job.ruler.down(cover))} below the finished face. With a wrong length or a wrong hole a tip comes out, "
        "or a disc meets it: sort screws by length, and try the first of each on a spare.",
    ]
    if none:
        words.append(
            f"No room for two screws: strip{'s' if len(none) > 1 else ''} {', '.join(none)}. Ask the checks for a cure."
        )
    blocks = [heading("Screws", through.width), *(paragraph(text, through.width) for text in words)]
    yield from flowed("screws", blocks, through)


def _board_from_behind(front: Front, door: Door, room: Room) -> Piece:
    scale = reduction(door.width, door.height, min(room.width, 200.0) - 30.0, room.height - 30.0)
    width, height = max(door.width / scale + 30.0, 110.0), door.height / scale + 26.0
    return Piece(
        f"door {door.number} from the back",
        width,
        height,
        partial(_draw_from_behind, front, door, scale, width, height),
    )


def _draw_from_behind(front: Front, door: Door, scale: float, width: float, height: float) -> Drawing:
    piece = Drawing(width, height, f"door {door.number} from the back")
    left, base = (width - door.width / scale) / 2, 9.0
    right, top = left + door.width / scale, base + door.height / scale
    piece.shape([[left, base], [right, base], [right, top], [left, top]], Pen.OUTLINE, "board")
    runs, screws = [], []
    for place in _strips(front, door):
        a, b = (left + from_behind(door, x) / scale for x in (place.right, place.left))
        low, high = base + (place.bottom - door.bottom) / scale, base + (place.top - door.bottom) / scale
        runs += [[[a, low], [a, high]], [[b, low], [b, high]]]
        middle = (a + b) / 2
        planned = front.measures()[place.number - 1].screws.screws
        screws += [(middle, top - from_board_top(door, place, one) / scale) for one in planned]
        number = str(place.number)
        if place.number in (door.first_strip, door.last_strip) or place.number % 5 == 0:
            edge = min(
                abs(place.number - other) for other in (door.first_strip, door.last_strip) if other != place.number
            )
            if place.number in (door.first_strip, door.last_strip) or edge * place.width / scale > text_width(
                "000", SMALL, bold=True
            ):
                piece.label(number, middle, base - 4.0, SMALL, Anchor.MIDDLE, bold=True)
    piece.lines(runs, Pen.FINE, "strips")
    if screws:
        x, y = np.array(screws).T
        arm = min(1.3, 0.4 * _strips(front, door)[0].width / scale + 0.4)
        piece.lines(np.concatenate([level(x - arm, x + arm, y), upright(x, y - arm, y + arm)]), Pen.HOLE, "screws")
    piece.label(f"Door {door.number} SEEN FROM THE BACK, scale 1 : {scale:g}", 0.5, height - 5.0, PLAIN, bold=True)
    hinge = front.job.hinge_side(door.number, len(front.layout.doors)).value
    seen = {"left": "right", "right": "left"}[hinge]
    piece.label(f"TOP; hinges at the {seen}, seen from here", 0.5, height - 9.6, SMALL)
    return piece


def _alike(front: Front) -> list[list[Door]]:
    """Return the doors in groups that one carving board serves."""
    groups: dict[tuple[float, ...], list[Door]] = {}
    for door in front.layout.doors:
        places = _strips(front, door)
        size = (round(places[-1].right - places[0].left, 4), round(places[0].length, 4), len(places))
        groups.setdefault(size, []).append(door)
    return list(groups.values())


def carving_board(front: Front, door: Door) -> dict[str, float]:
    """Return the sizes of a carving board in mm: the carved area, dummies and waste around it, clamps beyond, the whole board."""
    unit, places = front.job.unit, _strips(front, door)
    gap = places[1].left - places[0].right if len(places) > 1 else 0.0
    carved_width, carved_length = places[-1].right - places[0].left, places[0].length
    beside = gap + places[0].width + CLAMP_CLEAR[unit] + CLAMP[unit]
    above = WASTE[unit] + CLAMP_CLEAR[unit] + CLAMP[unit]
    return {
        "gap": gap,
        "strip": places[0].width,
        "carved_width": carved_width,
        "carved_length": carved_length,
        "beside": beside,
        "above": above,
        "width": carved_width + 2 * beside,
        "length": carved_length + 2 * above,
    }


def _carving_board(front: Front, doors: Sequence[Door], room: Room) -> Piece:
    size = carving_board(front, doors[0])
    scale = reduction(size["width"], size["length"], min(room.width, 200.0) - 12.0, room.height - 24.0)
    width, height = max(size["width"] / scale + 12.0, 110.0), size["length"] / scale + 16.0
    return Piece("carving board", width, height, partial(_draw_carving_board, front, doors, scale, width, height))


def _draw_carving_board(front: Front, doors: Sequence[Door], scale: float, width: float, height: float) -> Drawing:
    piece, door, unit = Drawing(width, height, "carving board"), doors[0], front.job.unit
    size = carving_board(front, door)
    corner = np.array([(width - size["width"] / scale) / 2, 1.5])
    wide, long = size["width"], size["length"]

    def box(left: float, low: float, right: float, high: float, pen: Pen, name: str) -> None:
        piece.shape(np.array([[left, low], [right, low], [right, high], [left, high]]) / scale + corner, pen, name)

    left, low = size["beside"], size["above"]
    right, high = wide - left, long - low
    box(0.0, 0.0, wide, long, Pen.OUTLINE, "board")
    clamp = CLAMP[unit]
    box(clamp, clamp, wide - clamp, long - clamp, Pen.FLOOR, "clamps-outside")
    dummies = (
        (left - size["gap"] - size["strip"], left - size["gap"]),
        (right + size["gap"], right + size["gap"] + size["strip"]),
    )
    for a, b in dummies:
        box(a, low, b, high, Pen.BOX, "dummy")
    outer = (dummies[0][0], dummies[1][1])
    for a, b in ((low - WASTE[unit], low), (high, high + WASTE[unit])):
        box(outer[0], a, outer[1], b, Pen.BOX, "end-waste")
    for place in _strips(front, door):
        offset = left + place.left - front.layout.strip(door.first_strip).left
        box(offset, low, offset + place.width, high, Pen.FINE, "strip")
    words = "door" if len(doors) == 1 else "doors"
    numbers = ", ".join(str(one.number) for one in doors)
    title = f"Carving board, {words} {numbers}, scale 1 : {scale:g}"
    piece.label(fitted(title, PLAIN, width - 1.0, bold=True), 0.5, height - 5.0, PLAIN, bold=True)
    piece.label("clamps outside the dashed line", 0.5, height - 9.6, SMALL)
    return piece


def _carving_words(front: Front, doors: Sequence[Door], room: Room) -> Iterator[Piece]:
    """Yield what to cut for the carving board, and how the set is held on it."""
    show, unit, size = front.job.ruler.text, front.job.unit, carving_board(front, doors[0])
    through = flow(room, min(room.width, 86.0))
    wide = through.width
    count = doors[0].last_strip - doors[0].first_strip + 1
    length, blank = show(size["carved_length"]), front.job.wood.blank
    ends = show(size["carved_width"] + 2 * (size["gap"] + size["strip"]))
    blocks: list[Block] = [
        heading("Carving board: to cut", wide),
        tick(f"board, flat and at least as thick as the door's: {show(size['width'])} x {show(size['length'])}", wide),
        tick(f"2 dummy strips, {length} x {show(size['strip'])} x {show(blank)}, left and right of the set", wide),
        tick(
            f"2 end pieces, {ends} x {show(WASTE[unit])} x {show(blank)}, beyond both ends, so that the disc rounds none",
            wide,
        ),
        tick(
            f"{2 * (count + 1)} spacers, {show(size['gap'], 2)} thick, two in each gap, lower than the saw line", wide
        ),
        heading("Carving board: how it holds", wide),
        paragraph(
            "Strips lie in their order, TOP at one end, packed with spacers between dummies and end pieces, held by screws from behind "
            "in their final holes. Clamps and their jaws stay outside the dashed line, "
            f"{show(CLAMP_CLEAR[unit])} and more from what is carved.",
            wide,
        ),
        paragraph(
            "No screw where the disc goes: look at the screws of every strip before carving, and at their lengths. Guards on, both hands, "
            "eyes, ears and lungs protected. Local rules, the maker's manuals and trained practice come first.",
            wide,
        ),
    ]
    yield from flowed("carving board, what to cut", blocks, through)
