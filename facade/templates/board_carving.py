"""The carving board: the strips of a door held as a set, with waste all round them that the disc may round over."""

from __future__ import annotations

import itertools
import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from functools import partial

import numpy as np

from facade.arrays import Array
from facade.drawing import Anchor, Drawing, Pen
from facade.front import Front
from facade.job.bench import Held
from facade.layout import Door
from facade.lengths import MM_PER_INCH, Unit
from facade.measuring.screws import cover_while_carving
from facade.templates.board_drilling import (
    COLUMN,
    HIGHEST,
    WIDEST,
    crossed,
    drillings,
    number_row,
    strips_of,
    while_carving,
)
from facade.templates.board_setting import SPACERS_AT, row_table, spacer_length, spacer_levels, spacer_table
from facade.templates.frame import PLAIN
from facade.templates.piece import Asked, Piece, Room
from facade.templates.tables import Block, boxes, flow, flowed, paragraph, reduction, table_pieces

# All mm, in each unit: waste beyond the ends, what clamps and screws from above keep off the carved area, a clamp's pad. Common
# practice.
_END = {Unit.MM: 25.0, Unit.INCH: MM_PER_INCH}
_KEEP_OFF = {Unit.MM: 10.0, Unit.INCH: MM_PER_INCH / 2}
_CLAMP = {Unit.MM: 50.0, Unit.INCH: 2 * MM_PER_INCH}
_CLAMPS_APART = 400.0
_PICTURE = 0.61
_WORDS = 14.5
_LETTERS = 5.0
_ASIDE = 5.0
_NUMBERS = 4.0
_TITLE = 5.0


@dataclass(frozen=True)
class CarvingBoard:
    """A carving board as seen from the front, mm from its lower left corner; rectangles are (n, 4): left, right, bottom, top.

    `carved` is all that the disc runs over: strips, dummies and end blocks.
    """

    width: float
    height: float
    carved: Array
    strips: Array
    dummies: Array
    ends: Array
    spacers: Array
    clamps: Array
    screws: Array

    @property
    def strip_corner(self) -> tuple[float, float]:
        """The upper left corner of the first strip."""
        return float(self.strips[0, 0]), float(self.strips[0, 3])


def carving_board(front: Front, door: Door) -> CarvingBoard:
    """Return the carving board for the strips of a door, with its screws; strips lie on it as they are carved."""
    unit, division = front.job.unit, front.layout.divisions[door.number - 1]
    places = strips_of(front, door)
    gap = carving_gap(front, door)
    margin, end = _CLAMP[unit] + _KEEP_OFF[unit], _END[unit]
    left, bottom = margin + division.width + gap, margin + end
    lefts = left + np.arange(len(places), dtype=np.float64) * (division.width + gap)
    widths = np.array([place.width for place in places])
    length = places[0].length
    right, top = float(lefts[-1] + widths[-1]), bottom + length
    strips = _rectangles(lefts, lefts + widths, bottom, top)
    first, last = left - gap - division.width, right + gap
    dummies = _rectangles([first, last], [first + division.width, last + division.width], bottom - end, top + end)
    ends = _rectangles([left, left], [right, right], [bottom - end, top], [bottom, top + end])
    carved = _rectangles(first, last + division.width, bottom - end, top + end)
    middles = {place.number: x for place, x in zip(places, (lefts + widths / 2).tolist(), strict=True)}
    screws = np.array([[middles[one.strip], top - one.down] for one in drillings(front, door)]).reshape(-1, 2)
    screws[:, 1] += door.top - places[0].top
    width, height = float(carved[0, 1]) + margin, top + end + margin
    return CarvingBoard(
        width,
        height,
        carved,
        strips,
        dummies,
        ends,
        _spacers(strips, gap, unit),
        _clamps(width, height, _CLAMP[unit]),
        screws,
    )


def carving_gap(front: Front, door: Door) -> float:
    """Return the gap between strips as they are carved, mm: none where the job has them carved packed tight."""
    division = front.layout.divisions[door.number - 1]
    return 0.0 if front.job.carving.packed or division.count == 1 else division.gap


def closer_than_on_door(front: Front, door: Door) -> bool:
    """Whether strips are carved packed tight that have gaps on their door."""
    division = front.layout.divisions[door.number - 1]
    return front.job.carving.packed and division.count > 1 and division.gap > 0.0


def _rectangles(
    left: Array | Sequence[float] | float,
    right: Array | Sequence[float] | float,
    bottom: Array | Sequence[float] | float,
    top: Array | Sequence[float] | float,
) -> Array:
    """Return rectangles (n, 4)."""
    sides = np.broadcast_arrays(
        *(np.atleast_1d(np.asarray(side, dtype=np.float64)) for side in (left, right, bottom, top))
    )
    return np.stack(sides, axis=-1)


def _spacers(strips: Array, gap: float, unit: Unit) -> Array:
    """Return two spacers in each gap, those beside the dummies among them; none without gaps."""
    if gap <= 0.0:
        return np.empty((0, 4))
    left = np.append(strips[0, 0] - gap, strips[:, 1])
    right = np.append(strips[:, 0], strips[-1, 1] + gap)
    bottom, top = strips[0, 2], strips[0, 3]
    half = spacer_length(top - bottom, unit) / 2
    middles = [top - share * (top - bottom) for share in SPACERS_AT]
    return np.concatenate([_rectangles(left, right, middle - half, middle + half) for middle in middles])


def _clamps(width: float, height: float, pad: float) -> Array:
    """Return the pads of clamps along the left and the right side of a board, about evenly apart."""
    count = max(2, math.ceil((height - pad) / _CLAMPS_APART) + 1)
    bottom = np.linspace(0.0, height - pad, count)
    return np.concatenate(
        [_rectangles(0.0, pad, bottom, bottom + pad), _rectangles(width - pad, width, bottom, bottom + pad)]
    )


def alike(front: Front, doors: Sequence[Door]) -> list[list[Door]]:
    """Return the doors in groups that one carving board serves: as many strips, of one width, length and gap."""
    groups: dict[tuple[float, ...], list[Door]] = {}
    for door in doors:
        division = front.layout.divisions[door.number - 1]
        size = (division.width, division.gap, strips_of(front, door)[0].length)
        groups.setdefault((division.count, *(round(one, 6) for one in size)), []).append(door)
    return list(groups.values())


def carving_pieces(asked: Asked, doors: Sequence[Door]) -> Iterator[Piece]:
    """Yield the picture of the carving board that serves these doors with what to cut for it, and what is set for each door."""
    room = Room(min(asked.room.width, WIDEST), min(asked.room.height, HIGHEST))
    through = flow(room, min(COLUMN, room.width))
    board = carving_board(asked.front, doors[0])
    words = [*_to_cut(asked.front, doors, board), *_use(asked.front, doors, board)]
    blocks = [paragraph(text, through.width, lead=lead) for lead, text in words if text]
    name = f"carving board of door {doors[0].number}"
    yield from flowed(name, blocks, through, _picture(asked.front, doors, board, room))
    for door in doors:
        if len(board.spacers):
            yield from table_pieces(spacer_table(asked.front, door, asked.strips), room)
        if _screwed(asked.front, [door]) and closer_than_on_door(asked.front, door):
            yield from table_pieces(row_table(asked.front, door, rows_from_back(board), asked.strips), room)


def rows_from_back(board: CarvingBoard) -> list[float]:
    """Return how far each strip's row is from the edge that is left when seen from the back, mm, in the order of the strips."""
    return [board.width - middle for middle in board.strips[:, :2].mean(axis=1).tolist()]


def _screwed(front: Front, doors: Sequence[Door]) -> bool:
    """Whether the strips of any of these doors are held by screws; where none takes two of them they are not, whatever the job says."""
    return any(front.measures_of(place.number).screws.screws for door in doors for place in strips_of(front, door))


def _to_cut(front: Front, doors: Sequence[Door], board: CarvingBoard) -> list[tuple[str, str]]:
    """Return what is to be cut, by the letters of the picture."""
    job, show = front.job, front.job.ruler.text
    length = show(float(board.dummies[0, 3] - board.dummies[0, 2]))
    width = show(float(board.dummies[0, 1] - board.dummies[0, 0]))
    blank, end = show(job.blank), board.ends[0]
    cut = [
        (
            "A",
            f"Board, 1: {show(board.width)} x {show(board.height)}, {show(job.board.thickness)} thick as the door's, so that "
            "screws bite as deep.",
        ),
        ("B", f"Dummy strips, 2: {length} x {width} x {blank}, of waste."),
        ("C", f"End blocks, 2: {show(float(end[1] - end[0]))} x {show(float(end[3] - end[2]))} x {blank}, of waste."),
    ]
    cut.append(("D", "Clamps, on the outermost stretch of the board only."))
    return [*cut, ("E", _spacers_in_words(front, doors, board))]


def _spacers_in_words(front: Front, doors: Sequence[Door], board: CarvingBoard) -> str:
    """Say which spacers are cut: those of each door have heights of their own."""
    ruler = front.job.ruler
    if not len(board.spacers):
        return f"No spacers: {_why_no_spacers(front, doors[0])}."
    levels = np.concatenate([spacer_levels(front, door) for door in doors])
    low, high = (ruler.text(ruler.down(float(level))) for level in (levels.min(), levels.max()))
    tall = low if low == high else f"from {low} to {high}"
    left, right, bottom, top = board.spacers[0].tolist()
    each, where = (" for each door", "tables") if len(doors) > 1 else ("", "table")
    return (
        f"Spacers, {len(board.spacers)}{each}: {ruler.text(right - left, 2)} x {ruler.text(top - bottom)}, two in each gap, black in "
        f"the picture; flush with the rough level there: {tall} high, each as in the {where} of spacers."
    )


def _why_no_spacers(front: Front, door: Door) -> str:
    if closer_than_on_door(front, door):
        return "these strips are carved packed tight, and get their gaps on the door"
    return "there are no gaps"


def _use(front: Front, doors: Sequence[Door], board: CarvingBoard) -> list[tuple[str, str]]:
    """Return how the board is used, and what must not be done."""
    job, show = front.job, front.job.ruler.text
    numbers = [door.number for door in doors]
    several = f"{', '.join(map(str, numbers[:-1]))} and {numbers[-1]}" if len(numbers) > 1 else ""
    serves = f"One board serves doors {several}; drill each door's own screw holes through it." if several else ""
    off = show(_KEEP_OFF[job.unit])
    keep = (
        f"Never a screw where the disc goes: none from the front inside the dashed line, which runs {off} outside dummies and end "
        f"blocks. Clamps stay outside it too. {_open_gaps(board)}: a disc catches in an open one. Local rules, the maker's manuals "
        "and trained practice come first."
    )
    screwed = _screwed(front, doors)
    return [
        ("Serves", serves),
        ("Strips", _held(front, doors[0], board) if screwed else _unscrewed(front)),
        ("B and C", _waste_held(front)),
        *((f"Screws, door {door.number}", while_carving(job, drillings(front, door))) for door in doors if screwed),
        ("Caution", keep),
    ]


def _open_gaps(board: CarvingBoard) -> str:
    return "Fill every gap" if len(board.spacers) else "Leave no gap open"


def _held(front: Front, door: Door, board: CarvingBoard) -> str:
    """Say how strips are screwed to the board, and where its holes are."""
    show, edge = front.job.ruler.text, front.layout.divisions[door.number - 1].edge
    left, top = board.strip_corner
    if closer_than_on_door(front, door):
        return (
            "Screws from behind, in the final holes of the strips, as long as may be while carving. The strips lie closer here than on "
            "their door, so that the rows across are those of the table for this board; down, they lie "
            f"{show(board.height - top)} further from the TOP edge than the drilling sheet of the door says."
        )
    return (
        "Screws from behind, in their final holes, as long as may be while carving. From the back of this board the rows lie "
        f"{show(left - edge)} further from the left edge than the drilling sheet of the door says, and {show(board.height - top)} "
        "further from the TOP edge."
    )


def _unscrewed(front: Front) -> str:
    none = (
        "These strips take no two screws"
        if front.job.fixing.by is Held.SCREWS
        else "These strips get no screws on their door"
    )
    return (
        f"{none}. Hold them down here by a way that was tried on waste first, and shut them in "
        "between dummies and end blocks."
    )


def _waste_held(front: Front) -> str:
    """Say how dummies and end blocks are held: nothing of the surface is below the floor, nor may a tip be near it."""
    job = front.job
    reach = job.wood.floor - cover_while_carving(job)
    if reach < job.limit("bite_least").value:
        return "Glue them down: they are too thin for screws once they are carved."
    return (
        f"Screws from behind, their tips no higher than {job.ruler.text(job.ruler.down(reach))} above the board: there may be no "
        "more wood than the floor."
    )


def _picture(front: Front, doors: Sequence[Door], board: CarvingBoard, room: Room) -> Block:
    """Return the board from the front, reduced."""
    above, below = _WORDS + _LETTERS, _NUMBERS + 1.0
    scale = reduction(board.width, board.height, room.width - 2 * _ASIDE, room.height * _PICTURE - above - below)
    height = above + board.height / scale + below
    return Block(height, partial(_draw_picture, front, tuple(doors), board, scale))


def _draw_picture(
    front: Front, doors: Sequence[Door], board: CarvingBoard, scale: float, piece: Drawing, left: float, top: float
) -> None:
    named = "door" if len(doors) == 1 else "doors"
    which = f"Carving board, {named} {', '.join(str(door.number) for door in doors)}"
    piece.label(which, left, top - 4.6, _TITLE, bold=True)
    words = f"seen from the FRONT · TOP is up · 1 : {scale:g} · screws as in door {doors[0].number}, from behind"
    piece.label(words, left, top - 9.6, PLAIN)
    x, y = left + _ASIDE, top - _WORDS - _LETTERS - board.height / scale
    off = _KEEP_OFF[front.job.unit]
    outside = board.carved + np.array([-off, off, -off, off])
    whole = _rectangles(0.0, board.width, 0.0, board.height)
    for rectangles, pen, name in (
        (whole, Pen.BACK, "board"),
        (outside, Pen.FOLD, "keep-off"),
        (board.strips, Pen.OUTLINE, "strips"),
        (board.dummies, Pen.CUT, "dummies"),
        (board.ends, Pen.CUT, "ends"),
        (board.clamps, Pen.BOX, "clamps"),
    ):
        piece.lines(_placed(rectangles, scale, x, y), pen, name)
    for spacer in _placed(board.spacers, scale, x, y):
        piece.shape(spacer[:4], Pen.SOLID, "spacer")
    piece.lines(crossed(x + board.screws[:, 0] / scale, y + board.screws[:, 1] / scale), Pen.OUTLINE, "screws")
    _letters(piece, board, scale, x, y)
    middles = x + board.strips[:, :2].mean(axis=1) / scale
    number_row(piece, middles, y - 3.4, [place.number for place in strips_of(front, doors[0])], left, piece.width)


def _placed(rectangles: Array, scale: float, x: float, y: float) -> Array:
    left, right, bottom, top = rectangles.T / scale
    return boxes(x + left, x + right, y + bottom, y + top)


def _letters(piece: Drawing, board: CarvingBoard, scale: float, x: float, y: float) -> None:
    """Write which part is which round the board: A board, B dummies, C end blocks, D clamps."""
    top, right = y + board.height / scale, x + board.width / scale
    level = top + 1.4
    at = [(float(one[0] + one[1]) / 2 / scale, "B") for one in board.dummies]
    at.append((float(board.ends[0, 0] + board.ends[0, 1]) / 2 / scale, "C"))
    at = [(0.0, "A"), *sorted(at)]
    for (near, letter), (far, _) in itertools.pairwise([*at, (math.inf, "")]):
        if far - near >= PLAIN:
            piece.label(letter, x + near, level, PLAIN, Anchor.MIDDLE, bold=True)
    for clamp in board.clamps:
        middle = y + float(clamp[2] + clamp[3]) / 2 / scale
        beside = x - 2.4 if clamp[0] == 0.0 else right + 2.4
        piece.label("D", beside, middle - 1.1, PLAIN, Anchor.MIDDLE, bold=True)
