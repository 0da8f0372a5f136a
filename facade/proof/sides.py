"""Side templates as they are read: which strip, side and stretch a piece is says its own print; its lines are held against that."""

from __future__ import annotations

import itertools
import re
from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from facade.arrays import Array
from facade.layout import StripPlace
from facade.proof.compared import spread_along
from facade.proof.svg import Line, Sheet, Word
from facade.proof.truth import ROUNDING, Truth
from facade.slicer import edge_heights, stations
from facade.templates.sides import ABOVE, BELOW, GUTTER_LEFT, GUTTER_RIGHT, LINE_TOLERANCE

# How far drawn lines may be off the surface, mm: straight runs between rows, and three decimals in the file.
ALLOWED = LINE_TOLERANCE + ROUNDING
_NAME = re.compile(r"(\d+) (LEFT|RIGHT)")
LINES = ("finished", "carve", "saw")
_FIGURE = re.compile(r"-?\d[\d ./]*")


@dataclass(frozen=True)
class SideRead:
    """What came of one piece: which strip, its points, its largest deviation and least height, mm, its faults, and the picture's part."""

    strip: int
    points: int
    deviation: float
    least: float | None
    faults: tuple[str, ...]
    along: Array


@dataclass(frozen=True)
class _Piece:
    """A piece on a sheet: the side its lines are named for, the ends of its back, what lies in its box."""

    side: str
    turn: int
    left: float
    right: float
    base: float
    lines: dict[str, Line]
    words: tuple[Word, ...]

    def figures(self, truth: Truth) -> tuple[list[tuple[float, float]], list[tuple[float, float]]]:
        """Return the two rows of figures below the back, each as places along it and lengths, mm, from the left."""
        below = [word for word in self.words if word.y < self.base and _FIGURE.fullmatch(word.text)]
        rows = sorted({round(word.y, 2) for word in below}, reverse=True)
        found = [
            sorted((word.x - self.left, truth.read_number(word.text)) for word in below if abs(word.y - row) < 0.02)
            for row in rows
        ]
        return (found[0], found[1]) if len(found) == 2 else ([], [])

    @property
    def name(self) -> tuple[int, str] | None:
        """The strip and the side that its head names."""
        above = [found for word in self.words if word.y > self.base and (found := _NAME.fullmatch(word.text))]
        return (int(above[0][1]), above[0][2].lower()) if above else None


def compare_sides(sheet: Sheet, truth: Truth, *, only: int | None = None) -> Iterator[SideRead]:
    """Yield what comes of every piece of side templates on a sheet in true mm; with `only`, all must be that strip's."""
    for piece in _pieces(sheet):
        name = piece.name
        if name is None or not 1 <= name[0] <= truth.front.count:
            yield SideRead(0, 0, 0.0, None, ("a piece names no strip and side",), np.empty(0))
            continue
        read = _compare(piece, *name, truth)
        wrong = [f"strip {name[0]} stands on the sheet of strip {only}"] if only not in (None, name[0]) else []
        yield SideRead(read.strip, read.points, read.deviation, read.least, (*wrong, *read.faults), read.along)


def _pieces(sheet: Sheet) -> Iterator[_Piece]:
    for back in sheet.lines:
        side, _, kind = back.kind.partition("-")
        if kind != "back" or side not in ("left", "right"):
            continue
        own = {
            line.kind.partition("-")[2]: line
            for line in sheet.lines
            if line.turn == back.turn and line.kind.startswith(f"{side}-")
        }
        left, right = float(back.points[:, 0].min()), float(back.points[:, 0].max())
        base = float(back.points[:, 1].mean())
        raw = own["blank"].points[:, 1].mean() if "blank" in own else base
        upper = max(raw, base) + ABOVE
        # A mirrored piece has its wider edge at the right.
        near = [
            word
            for word in sheet.words
            if left - GUTTER_LEFT - 0.01 <= word.x <= right + GUTTER_RIGHT + 0.01 and base - BELOW <= word.y <= upper
        ]
        yield _Piece(side, back.turn, left, right, base, own, tuple(near))


def _compare(piece: _Piece, number: int, side: str, truth: Truth) -> SideRead:
    """Return what comes of a piece that says which strip and side it is."""
    place = truth.front.layout.strip(number)
    said = f"{number} {side.upper()}"
    placed, heights = piece.figures(truth)
    start, misplaced = _start(placed, side, place, truth)
    faults = list(misplaced)
    if side != piece.side:
        faults.append(f"the lines named {piece.side} stand under the words {said}")
    along = _Along(piece, side, start)
    if not misplaced:
        faults += _figure_faults(placed, heights, number, side, truth)
    deviation, points, least, spread = 0.0, 0, None, np.full(1, -1.0)
    parts, known = [], KnownSurface(number, truth)
    for name in LINES:
        if name in piece.lines:
            from_top, found = along.read(piece.lines[name])
            off = line_off(from_top, found, name, side, known, truth)
            parts.append((from_top, off))
            points += len(off)
            if not float(off.max()) <= ALLOWED and not misplaced:
                faults.append(f"its {name} line {guess_line(from_top, found, name, number, side, truth)}")
            if name == "finished":
                least = float(found.min())
    faults += _level_faults(piece, truth)
    if parts:
        from_top, off = (np.concatenate(one) for one in zip(*parts, strict=True))
        deviation, spread = float(off.max()), spread_along(from_top, off, place.length)
    else:
        faults.append("shows no line to work to")
    return SideRead(number, points, deviation, least, tuple(f"{said}: {fault}" for fault in faults), spread)


@dataclass(frozen=True)
class _Along:
    """How places on a piece become places on its strip."""

    piece: _Piece
    side: str
    start: float

    def read(self, line: Line) -> tuple[Array, Array]:
        """Return a line's distances from the top, rising, and its heights above the back, mm."""
        on = line.points[:, 0] - self.piece.left
        from_top = self.start + on if self.side == "left" else self.start - on
        order = from_top.argsort(kind="stable")
        return from_top[order], (line.points[:, 1] - self.piece.base)[order]


def _start(placed: list[tuple[float, float]], side: str, place: StripPlace, truth: Truth) -> tuple[float, list[str]]:
    """Return which place from the top is at the left end of a piece, by its printed stations, and what is wrong with these."""
    marks = stations(place.length, truth.front.job.station)
    near = truth.printed_rounding(1)
    read = []
    for x, said in placed:
        nearest = float(marks[np.abs(marks - said).argmin()])
        if abs(nearest - said) > near:
            return 0.0, [f"station {truth.length(said)} is none of this front"]
        read.append((x, nearest))
    if not read:
        return 0.0, ["names no station"]
    way = 1.0 if side == "left" else -1.0
    same, other = (np.array([mark - sign * way * x for x, mark in read]) for sign in (1.0, -1.0))
    if np.ptp(same) <= 2 * ROUNDING:
        return float(np.median(same)), []
    end = min(mark for _, mark in read) if side == "left" else max(mark for _, mark in read)
    if np.ptp(other) <= 2 * ROUNDING:
        return end, ["looks mirrored left to right: its TOP is at the wrong end"]
    (first, low), (last, high) = read[0], read[-1]
    scale = abs(last - first) / abs(high - low) if high != low else 1.0
    return end, [f"its stations are {scale:.4f} of the distance apart that they say"]


@dataclass(frozen=True)
class _Wood:
    """What the surface gives at places along a strip, mm: heights of its left and its right side."""

    left: Array
    right: Array

    def line(self, name: str, side: str, truth: Truth) -> Array:
        """Return the heights that a line of a side should have there."""
        wood = truth.front.job.wood
        if name == "saw":
            return np.minimum(np.maximum(self.left, self.right) + wood.sawing, wood.blank)
        edge = self.left if side == "left" else self.right
        return edge + wood.sanding if name == "carve" else edge


def _wood(from_top: Array, number: int, truth: Truth) -> _Wood:
    front = truth.front
    return _Wood(*edge_heights(front.surface, front.layout.strip(number), from_top))


def _rows(from_top: Array, number: int, truth: Truth) -> Array:
    """Return the strip's own rows within a line, mm from the top: straight runs are held against the surface there too."""
    length, step = truth.front.layout.strip(number).length, truth.front.job.sampling.step
    rows = np.linspace(0.0, length, max(2, int(np.ceil(length / step - 1e-9))) + 1)
    inside: Array = rows[(rows > from_top[0]) & (rows < from_top[-1])]
    return inside


class KnownSurface:
    """The surface along one strip; asked again for the same places it is not computed again."""

    def __init__(self, number: int, truth: Truth) -> None:
        self._number, self._truth = number, truth
        self._places: Array = np.empty(0)
        self._both: tuple[Array, _Wood, _Wood] = (
            np.empty(0),
            _Wood(np.empty(0), np.empty(0)),
            _Wood(np.empty(0), np.empty(0)),
        )

    def at(self, from_top: Array) -> tuple[Array, _Wood, _Wood]:
        """Return the rows between places, and the heights at the places and at the rows."""
        if not np.array_equal(from_top, self._places):
            rows = _rows(from_top, self._number, self._truth)
            wood = _wood(np.concatenate([from_top, rows]), self._number, self._truth)
            count = len(from_top)
            self._both = (
                rows,
                _Wood(wood.left[:count], wood.right[:count]),
                _Wood(wood.left[count:], wood.right[count:]),
            )
            self._places = from_top
        return self._both


def line_off(from_top: Array, found: Array, name: str, side: str, known: KnownSurface, truth: Truth) -> Array:
    """Return how far a line is off at its points, (points,) mm; at each also the largest of the rows up to the next."""
    rows, at_points, at_rows = known.at(from_top)
    off: Array = np.abs(found - at_points.line(name, side, truth))
    if len(rows):
        between = np.abs(np.interp(rows, from_top, found) - at_rows.line(name, side, truth))
        np.maximum.at(off, np.searchsorted(from_top, rows) - 1, between)
    return off


def guess_line(from_top: Array, found: Array, name: str, number: int, side: str, truth: Truth) -> str:
    """Return what may have happened to a line that does not agree, in words."""
    ways = {"": from_top, "looks mirrored left to right": from_top[0] + from_top[-1] - from_top}
    sides = {side: "", "right" if side == "left" else "left": "is the other side's: left and right are exchanged"}
    others = (other for other in range(1, truth.front.count + 1) if other != number)
    strips = {number: "", **{other: f"is strip {other}'s" for other in others}}
    for strip, whose, way in itertools.product(strips, sides, ways):
        off = np.abs(found - _wood(ways[way], strip, truth).line(name, whose, truth))
        if float(off.max()) <= ALLOWED:
            said = ", and ".join(filter(None, (strips[strip], sides[whose], way)))
            if said:
                return said
    off = line_off(from_top, found, name, side, KnownSurface(number, truth), truth)
    return f"is {truth.length(float(off.max()))} off the surface, {truth.length(float(from_top[off.argmax()]))} from the top"


def _figure_faults(
    placed: list[tuple[float, float]], heights: list[tuple[float, float]], number: int, side: str, truth: Truth
) -> list[str]:
    """Return the printed heights that are not the surface's at their stations."""
    if len(placed) != len(heights):
        return ["has another number of stations than of heights"]
    if not placed:
        return []
    place = truth.front.layout.strip(number)
    marks = stations(place.length, truth.front.job.station)
    at = np.array([marks[np.abs(marks - said).argmin()] for _, said in placed])
    wanted = edge_heights(truth.front.surface, place, at)[0 if side == "left" else 1]
    near = truth.printed_rounding(1)
    off = np.abs(np.array([said for _, said in heights]) - wanted)
    worst = int(off.argmax())
    if off[worst] <= near:
        return []
    return [
        f"height {truth.length(heights[worst][1])} stands at station {truth.length(float(at[worst]))}, where the surface has "
        f"{truth.length(float(wanted[worst]))}"
    ]


def _level_faults(piece: _Piece, truth: Truth) -> list[str]:
    """Return the level lines, blank and floor, that are not at their heights."""
    wanted = {"blank": truth.front.job.wood.blank, "floor": truth.front.surface.floor}
    faults = []
    for name, height in wanted.items():
        if name in piece.lines:
            found = piece.lines[name].points[:, 1] - piece.base
            if float(np.abs(found - height).max()) > ROUNDING:
                faults.append(f"its {name} line is at {truth.length(float(found.mean()))}, not {truth.length(height)}")
    return faults
