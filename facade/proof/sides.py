"""Side templates as they are read: which strip, side and stretch a piece is says its own print; all else is held against that."""

from __future__ import annotations

import itertools
import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from facade.arrays import Array
from facade.layout import StripPlace
from facade.proof.compared import spread_along
from facade.proof.framing import look_faults
from facade.proof.svg import Line, Sheet, Word
from facade.proof.truth import ROUNDING, Truth
from facade.slicer import edge_heights, stations

# How far drawn lines may be off the surface, mm: straight runs between rows, and three decimals in the file.
STRAIGHT = 0.01
ALLOWED = STRAIGHT + ROUNDING
# Room that a piece takes beside, below and above the wood, mm: what stands there is said of it. Its name stands in the wood, below
# the floor line; above it where that is too low, or the piece too short.
ASIDE_LEFT, ASIDE_RIGHT, BELOW, ABOVE, HEAD_ABOVE = 13.4, 4.4, 7.95, 0.75, 7.4
_LEAST_FLOOR, _LEAST_LONG = 5.4, 62.0
# The sign of a side is so wide, mm; arrows are drawn so far below the floor line where that is as high as this, the shortest so long,
# and so much shorter at both ends than what is carved that way.
_SIGN, _LEAST_FLOOR_SIGN = 7.0, 3.2
_LEAST_FLOOR_STROKES, _STROKE_DOWN, _LEAST_STROKE, _STROKE_FREE = 6.6, 1.6, 7.0, 1.2
LINES = ("finished", "carve", "saw")
TRACED = ("finished", "carve")
# What every piece shows; of finished and carve line one is left out where that was asked for, where there is no waste the hatch is.
_NEEDED = ("back", "blank", "floor", "saw", "stations", "arrow", "end")
# A figure stands at its station to so many mm; one at an end may give way to the edge by as much as it is wide.
_PLACED = 0.002
_WIDEST = 20.0
# Hatch keeps so far above the saw line and below the raw face, and ticks reach so far beyond the wood, mm.
_OVER_SAW, _UNDER_RAW, _TICKS = 0.5, 0.3, 1.4
# Where the tip of the arrow to TOP stands, above the raw face, or from the end in the wood, and to what, mm: it is looked at, not
# worked to.
_ARROW_UP, _ARROW_IN, _NEAR = 4.3, 1.4, 0.1
_NAME = re.compile(r"(\d+) (LEFT|RIGHT)")
_FIGURE = re.compile(r"-?\d[\d ./]*")
_PART = re.compile(r"\bpart \d+ of \d+: ")


@dataclass(frozen=True)
class SideRead:
    """What came of one piece: which strip, its points, its largest deviation and least height, mm, its faults, and the picture's part.

    `own` are the words of its sheet that were read, by their numbers; `side` and `stretch` (mm from the top) say what it shows.
    """

    strip: int
    points: int
    deviation: float
    least: float | None
    faults: tuple[str, ...]
    along: Array
    own: frozenset[int] = frozenset()
    side: str = ""
    stretch: tuple[float, float] = (0.0, 0.0)


@dataclass(frozen=True)
class _Piece:
    """A piece on a sheet: the side its lines are named for, the ends of its back, its lines, the words in its box by their numbers."""

    side: str
    left: float
    right: float
    base: float
    lines: dict[str, Line]
    fine: tuple[Line, ...]
    ends: tuple[Line, ...]
    words: dict[int, Word]

    def figures(self, truth: Truth) -> tuple[list[tuple[float, float]], list[tuple[float, float]]]:
        """Return the two rows of figures below the back, each as places along it and lengths, mm, from the left."""
        below = [word for word in self.words.values() if word.y < self.base and _FIGURE.fullmatch(word.text)]
        rows = sorted({round(word.y, 2) for word in below}, reverse=True)
        found = [
            sorted((word.x - self.left, truth.read_number(word.text)) for word in below if abs(word.y - row) < 0.02)
            for row in rows
        ]
        return (found[0], found[1]) if len(found) == 2 else ([], [])

    @property
    def name(self) -> tuple[int, str] | None:
        """The strip and the side that its head names."""
        above = [
            found
            for word in self.words.values()
            if word.y > self.base and (found := _NAME.fullmatch(word.text)) and not word.turn
        ]
        return (int(above[0][1]), above[0][2].lower()) if above else None


def compare_sides(
    sheet: Sheet, truth: Truth, *, only: int | None = None, traced: Sequence[str] = TRACED
) -> Iterator[SideRead]:
    """Yield what comes of every piece of side templates on a sheet in true mm; with `only`, all must be that strip's.

    `traced` are the lines to trace that each must show.
    """
    for piece in _pieces(sheet, truth):
        name = piece.name
        if name is None or name[0] not in truth.front.numbers:
            yield SideRead(0, 0, 0.0, None, ("a piece names no strip and side",), np.empty(0), frozenset(piece.words))
            continue
        read = _compare(piece, *name, truth, traced)
        wrong = [f"strip {name[0]} stands on the sheet of strip {only}"] if only not in (None, name[0]) else []
        yield SideRead(
            read.strip,
            read.points,
            read.deviation,
            read.least,
            (*wrong, *read.faults),
            read.along,
            frozenset(piece.words),
            name[1],
            read.stretch,
        )


def _pieces(sheet: Sheet, truth: Truth) -> Iterator[_Piece]:
    """Yield the pieces on a sheet: its lines come piece by piece, from the arrow to TOP on to the back."""
    run: list[Line] = []
    for line in sheet.lines:
        side, _, kind = line.kind.partition("-")
        if side in ("left", "right") and kind == "arrow":
            run = []
        run.append(line)
        if side in ("left", "right") and kind == "back":
            yield _piece(sheet, side, line, run, truth)
            run = []


def _is_named_in_wood(truth: Truth, length: float) -> bool:
    """Whether a piece of a length has its name in the wood, below the floor line."""
    return truth.front.surface.floor >= _LEAST_FLOOR and length >= _LEAST_LONG - ROUNDING


def _piece(sheet: Sheet, side: str, back: Line, run: Sequence[Line], truth: Truth) -> _Piece:
    own = {line.kind.partition("-")[2]: line for line in run if line.kind.startswith(f"{side}-")}
    left, right = float(back.points[:, 0].min()), float(back.points[:, 0].max())
    base = float(back.points[:, 1].mean())
    raw = own["blank"].points[:, 1].mean() if "blank" in own else base
    upper = max(raw, base) + (ABOVE if _is_named_in_wood(truth, right - left) else HEAD_ABOVE)
    near = {
        index: word
        for index, word in enumerate(sheet.words)
        if left - ASIDE_LEFT - 0.01 <= word.x <= right + ASIDE_RIGHT + 0.01 and base - BELOW <= word.y <= upper
    }
    ends = tuple(line for line in run if line.kind == f"{side}-end")
    return _Piece(side, left, right, base, own, tuple(line for line in run if not line.name), ends, near)


def _compare(piece: _Piece, number: int, side: str, truth: Truth, traced: Sequence[str]) -> SideRead:
    """Return what comes of a piece that says which strip and side it is."""
    place = truth.front.layout.strip(number)
    said = f"{number} {side.upper()}"
    placed, heights = piece.figures(truth)
    start, misplaced = _start(placed, side, place, truth)
    faults, known = list(misplaced), KnownSurface(number, truth)
    if side != piece.side:
        faults.append(f"the lines named {piece.side} stand under the words {said}")
    along = _Along(piece, side, start)
    if not misplaced:
        faults += figure_faults(placed, heights, known, side, truth, higher=_higher(traced, truth))
    deviation, points, least, spread = 0.0, 0, None, np.full(1, -1.0)
    parts: list[tuple[Array, Array]] = []
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
    faults += look_faults(piece.lines.items())
    length = piece.right - piece.left
    stretch = (start, start + length) if side == "left" else (start - length, start)
    if not faults:
        faults += _Drawn(piece, place, side, stretch, placed, known, truth, traced).faults()
    if parts:
        from_top, off = (np.concatenate(one) for one in zip(*parts, strict=True))
        deviation, spread = float(off.max()), spread_along(from_top, off, place.length)
    else:
        faults.append("shows no line to work to")
    told = tuple(f"{said}: {fault}" for fault in faults)
    return SideRead(number, points, deviation, least, told, spread, stretch=stretch)


def _higher(traced: Sequence[str], truth: Truth) -> float:
    """Return how far above the finished line the line is that heights are to, mm: the carve line where that is shown alone."""
    return truth.front.job.wood.sanding if tuple(traced) == ("carve",) else 0.0


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


@dataclass(frozen=True)
class _Drawn:
    """A piece whose lines to work to are right, and all else that is drawn and said of it."""

    piece: _Piece
    place: StripPlace
    side: str
    stretch: tuple[float, float]
    placed: list[tuple[float, float]]
    known: KnownSurface
    truth: Truth
    traced: Sequence[str]

    def faults(self) -> Iterator[str]:
        """Yield what is wrong with it."""
        yield from self._lines()
        yield from self._stretch()
        yield from self._ticks()
        yield from self._hatch()
        yield from self._mark()
        yield from self._strokes()
        yield from self._head()
        yield from self._words()

    def _at(self, from_top: Array) -> Array:
        """Return where places from the top, mm, are on the sheet."""
        start, end = self.stretch
        return self.piece.left + (from_top - start if self.side == "left" else end - from_top)

    def _marks(self) -> Array:
        """Return the stations on the stretch, both ends of the strip among them, mm from the top."""
        marks, _ = self.known.at_stations()
        found: Array = marks[self._on(marks)]
        return found

    def _on(self, marks: Array) -> NDArray[np.bool_]:
        """Return which stations are on the stretch."""
        start, end = self.stretch
        found: NDArray[np.bool_] = (marks >= start - ROUNDING) & (marks <= end + ROUNDING)
        return found

    def _lines(self) -> Iterator[str]:
        missing = [kind for kind in _NEEDED if kind not in self.piece.lines]
        if missing:
            yield f"lacks its {missing[0]} line"
        if not set(self.traced) <= set(self.piece.lines):
            yield f"lacks its {' or its '.join(self.traced)} line"
        lines = [line for kind, line in self.piece.lines.items() if kind in (*LINES, "floor", "blank")]
        for line in lines:
            low, high = float(line.points[:, 0].min()), float(line.points[:, 0].max())
            if abs(low - self.piece.left) > ROUNDING or abs(high - self.piece.right) > ROUNDING:
                yield f"its {line.kind.partition('-')[2]} line does not go from end to end"

    def _stretch(self) -> Iterator[str]:
        """Yield what is wrong with where the stretch begins and ends, and with the lines there."""
        start, end = self.stretch
        marks = stations(self.place.length, self.truth.front.job.station)
        for at in (start, end):
            if float(np.abs(marks - at).min()) > ROUNDING:
                yield f"begins or ends at {self.truth.length(at)} from the top, which is no station"
        low, high = self.piece.base, self.piece.base + self.truth.front.job.blank
        wanted = self._at(np.array(self.stretch))
        if len(self.piece.ends) != 2:
            yield f"has {len(self.piece.ends)} ends"
            return
        for x, at in zip(wanted.tolist(), self.stretch, strict=True):
            real = at <= ROUNDING or at >= self.place.length - ROUNDING
            right = [
                line
                for line in self.piece.ends
                if _spans(line.points, (x, low), (x, high)) and (line.stroke.width > 0.2) is real
            ]
            if not right:
                yield f"its end {self.truth.length(at)} from the top is not where it should be, or looks like the other kind"

    def _ticks(self) -> Iterator[str]:
        """Yield stations that are struck elsewhere than they are, or not at all."""
        x = self._at(self._marks())
        ticks = (
            self.piece.lines["stations"].points.reshape(-1, 2, 2)
            if "stations" in self.piece.lines
            else np.empty((0, 2, 2))
        )
        raw = self.truth.front.job.blank
        for level, way, what in ((0.0, -1.0, "below"), (raw, 1.0, "above")):
            feet = np.sort(ticks[np.abs(ticks[:, 0, 1] - self.piece.base - level) <= ROUNDING][:, 0, 0])
            if len(feet) != len(x) or float(np.abs(feet - np.sort(x)).max(initial=0.0)) > ROUNDING:
                yield f"its ticks {what} the wood are not at its stations"
            reach = (ticks[:, 1, 1] - ticks[:, 0, 1])[
                np.abs(ticks[:, 0, 1] - self.piece.base - level) <= ROUNDING
            ] * way
            if len(reach) and not (reach.min() > 0.0 and reach.max() <= _TICKS + ROUNDING):
                yield f"its ticks {what} the wood reach the wrong way"
        if np.abs(ticks[:, 0, 0] - ticks[:, 1, 0]).max(initial=0.0) > ROUNDING or len(ticks) != 2 * len(x):
            yield "its ticks are not upright at its stations, one above and one below"
        yield from self._risers(x)

    def _risers(self, x: Array) -> Iterator[str]:
        """Yield fine lines that do not go from the floor to the height at their station."""
        runs = [line.points.reshape(-1, 2, 2) for line in self.piece.fine if len(line.points) % 2 == 0]
        risers = np.concatenate(runs) if runs else np.empty((0, 2, 2))
        marks, sides = self.known.at_stations()
        heights = sides[0 if self.side == "left" else 1][self._on(marks)] + _higher(self.traced, self.truth)
        floor = self.piece.base + self.truth.front.surface.floor
        order = np.argsort(x, kind="stable")
        risers = risers[np.argsort(risers[:, 0, 0], kind="stable")]
        wanted = np.stack(
            [np.column_stack([x, np.full(len(x), floor)]), np.column_stack([x, self.piece.base + heights])], axis=1
        )[order]
        if risers.shape != wanted.shape or float(np.abs(risers - wanted).max(initial=0.0)) > ROUNDING:
            yield "its fine lines do not go from the floor to the heights at its stations"

    def _hatch(self) -> Iterator[str]:
        """Yield hatch that is not in the waste, or is that of the other side: slanting lines for LEFT, crosses for RIGHT."""
        if "waste" not in self.piece.lines:
            return
        points = self.piece.lines["waste"].points
        start, end = self.stretch
        on = points[:, 0] - self.piece.left
        from_top = start + on if self.side == "left" else end - on
        height = points[:, 1] - self.piece.base
        order = np.argsort(from_top, kind="stable")
        line = self.piece.lines["saw"].points
        saw = np.interp(points[:, 0], *_rising(line[:, 0], line[:, 1])) - self.piece.base
        if (height < saw + _OVER_SAW - 0.3)[order].any() or (
            height > self.truth.front.job.blank - _UNDER_RAW + ROUNDING
        ).any():
            yield "its hatch is not in the waste alone"
        way = np.abs(np.diff(points.reshape(-1, 2, 2), axis=1)[:, 0])
        slanting = bool((way > ROUNDING).all()) if len(way) else True
        if slanting is not (self.side == "left"):
            yield "its hatch is that of the other side"

    def _mark(self) -> Iterator[str]:
        """Yield the sign at the far end that is not where it should be, or is the other side's: slants for LEFT, crosses for RIGHT."""
        if "mark" not in self.piece.lines:
            if self.truth.front.surface.floor >= _LEAST_FLOOR_SIGN and self.piece.right - self.piece.left > 160.0:
                yield "lacks the sign of its side"
            return
        slants = [[[x, 0.0], [x + 2.2, 2.2]] for x in (0.0, 2.4, 4.8)]
        crosses = [run for x in (1.0, 3.5, 6.0) for run in ([[x - 1.0, 1.1], [x + 1.0, 1.1]], [[x, 0.1], [x, 2.1]])]
        left = self.side == "left"
        up = 1.2 if self._in_wood else 0.7
        corner = (self.piece.right - 1.4 - _SIGN if left else self.piece.left + 1.4, self.piece.base + up)
        wanted = np.array(slants if left else crosses).reshape(-1, 2) + corner
        found = self.piece.lines["mark"].points
        if found.shape != wanted.shape or float(np.abs(found - wanted).max()) > ROUNDING:
            yield "its sign is that of the other side, or elsewhere"

    def _strokes(self) -> Iterator[str]:
        """Yield arrows that are not those of the grain, from crest to hollow: each is a shaft and two barbs that start at its tip."""
        start, end = self.stretch
        strokes = [
            np.clip([one.start, one.end], start, end)
            for one in self.truth.front.measures_of(self.place.number).grain.strokes
            if one.line.name.lower() == self.side
        ]
        shafts = np.array([one for one in strokes if abs(one[1] - one[0]) >= _LEAST_STROKE]).reshape(-1, 2)
        shafts = shafts + np.sign(shafts[:, 1:] - shafts[:, :1]) * np.array([_STROKE_FREE, -_STROKE_FREE])
        if self.truth.front.surface.floor < _LEAST_FLOOR_STROKES or not self._in_wood:
            shafts = shafts[:0]
        drawn = self.piece.lines["strokes"].points if "strokes" in self.piece.lines else np.empty((0, 2))
        runs = drawn.reshape(-1, 3, 2, 2) if len(drawn) % 6 == 0 else np.empty((0, 3, 2, 2))
        level = self.piece.base + self.truth.front.surface.floor - _STROKE_DOWN
        wanted = np.stack([self._at(shafts), np.full(shafts.shape, level)], axis=-1)
        if runs[:, 0].shape != wanted.shape or float(np.abs(runs[:, 0] - wanted).max(initial=0.0)) > ROUNDING:
            yield "its arrows are not those of the grain, from crest to hollow"
        elif float(np.abs(runs[:, 1:, 0] - runs[:, :1, 1]).max(initial=0.0)) > ROUNDING:
            yield "has an arrow without its tip"

    @property
    def _in_wood(self) -> bool:
        return _is_named_in_wood(self.truth, self.piece.right - self.piece.left)

    def _head(self) -> Iterator[str]:
        """Yield what is wrong with the arrow and the word that say where TOP is."""
        arrow = self.piece.lines["arrow"].points if "arrow" in self.piece.lines else np.zeros((3, 2))
        left = self.side == "left"
        tip, backs = float(arrow[0, 0]), arrow[1:3, 0]
        wanted = self.piece.left - ASIDE_LEFT + 0.5 if left else self.piece.right + ASIDE_RIGHT - 0.5
        level = self.piece.base + self.truth.front.job.blank + _ARROW_UP
        placed = abs(tip - wanted) <= _NEAR and abs(float(arrow[0, 1]) - level) <= _NEAR
        if self._in_wood:
            wanted = self.piece.left + _ARROW_IN if left else self.piece.right - _ARROW_IN
            low, high = self.piece.base, self.piece.base + self.truth.front.surface.floor
            placed = abs(tip - wanted) <= _NEAR and bool(((arrow[:, 1] > low) & (arrow[:, 1] < high)).all())
        if not placed or not ((tip < backs.min()) if left else (tip > backs.max())):
            yield "its arrow does not point to its TOP end"
        tops = [word for word in self.piece.words.values() if word.text == "TOP"]
        edge = self.piece.left + (12.0 if self._in_wood else 0.0)
        at_end = [word for word in tops if (word.x < edge if left else word.x > self.piece.right - 12.0)]
        if len(tops) != 1 or len(at_end) != 1:
            yield "does not say TOP at its TOP end"

    def _words(self) -> Iterator[str]:
        """Yield words that do not belong to the piece, or that it lacks."""
        rest = {index: word for index, word in self.piece.words.items() if not _FIGURE.fullmatch(word.text)}
        said = [word.text for word in rest.values() if word.text]
        name = f"{self.place.number} {self.side.upper()}"
        about = [word for word in said if self._is_about(word)]
        known = {name, "TOP", "station", "height", *about}
        once = [name, "TOP", "station", "height"]
        if self._in_wood and self.truth.manifest.get("cleared") is False:
            known.add("NOT CLEARED")
            once.append("NOT CLEARED")
        for word in once:
            if said.count(word) != 1:
                yield f"says {word!r} {said.count(word)} times, not once"
        more = [word for word in said if word not in known]
        if more:
            yield f"says {more[0]!r}, which is not so"
        roomy = self.piece.right - self.piece.left > 120.0
        if roomy and len(about) != 1:
            yield "does not say which strip it faces, or its blank"

    def _is_about(self, words: str) -> bool:
        """Whether words are what the head says: the neighbour, the stretch, the blank, as many as fit."""
        show, number = self.truth.front.job.ruler.text, self.truth.front.job.ruler.number
        neighbour = self.place.left_neighbour if self.side == "left" else self.place.right_neighbour
        start, end = self.stretch
        parts = [f"faces strip {neighbour}" if neighbour else f"{self.side} end of the front"]
        if self.truth.front.strip(self.place.number).ruler_error > self.truth.front.job.limit("centre_line").value:
            parts.append("centre line wanted")
        if start > ROUNDING or end < self.place.length - ROUNDING:
            parts.append(f"\0{number(start, 0)} to {show(end)} from TOP")
        if start <= ROUNDING:
            blank = self.truth.front.job.blank
            parts.append(f"blank {show(self.place.length)} x {show(self.place.width)} x {show(blank)}")
        if self._in_wood:
            parts.append(self.truth.front.mark)
        said = _PART.sub("\0", words)
        return any(said == " · ".join(parts[:count]) for count in range(1, len(parts) + 1))


def _rising(x: Array, y: Array) -> tuple[Array, Array]:
    order = np.argsort(x, kind="stable")
    return x[order], y[order]


def _spans(points: Array, low: tuple[float, float], high: tuple[float, float]) -> bool:
    """Whether a line of two points goes from one place to another, either way, to what rounding takes."""
    if len(points) != 2:
        return False
    ways = (points, points[::-1])
    return any(float(np.abs(one - np.array([low, high])).max()) <= ROUNDING for one in ways)


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
    if len(read) > 3:
        # Wide figures at the ends give way to the edge.
        read = read[1:-1]
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
        wood, blank = truth.front.job.wood, truth.front.job.blank
        if name == "saw":
            return np.minimum(np.maximum(self.left, self.right) + wood.sawing, blank)
        edge = self.left if side == "left" else self.right
        return np.minimum(edge + wood.sanding, blank) if name == "carve" else edge


def _wood(from_top: Array, number: int, truth: Truth) -> _Wood:
    front = truth.front
    return _Wood(*edge_heights(front.surface, front.layout.strip(number), from_top))


class KnownSurface:
    """The surface along one strip; asked again for the same places it is not computed again."""

    def __init__(self, number: int, truth: Truth) -> None:
        self._number, self._truth = number, truth
        self._places: Array = np.empty(0)
        self._both: tuple[Array, _Wood, _Wood] = (np.empty(0), _Wood(*np.empty((2, 0))), _Wood(*np.empty((2, 0))))

    def at_stations(self) -> tuple[Array, tuple[Array, Array]]:
        """Return the strip's stations, mm from the top, and the heights of its left and its right side there."""
        return self._truth.once(("stations", self._number), self._at_stations)

    def _at_stations(self) -> tuple[Array, tuple[Array, Array]]:
        place, front = self._truth.front.layout.strip(self._number), self._truth.front
        marks = stations(place.length, front.job.station)
        return marks, edge_heights(front.surface, place, marks)

    def _at_rows(self) -> tuple[Array, _Wood]:
        """Return the strip's own rows, mm from the top, and the heights there."""
        length, step = self._truth.front.layout.strip(self._number).length, self._truth.front.job.sampling.step
        rows = np.linspace(0.0, length, max(2, int(np.ceil(length / step - 1e-9))) + 1)
        return rows, _wood(rows, self._number, self._truth)

    def at(self, from_top: Array) -> tuple[Array, _Wood, _Wood]:
        """Return the strip's own rows between places, rising, and the heights at the places and at these rows.

        Straight runs are held against the surface at the rows, too.
        """
        if not np.array_equal(from_top, self._places):
            rows, along = self._truth.once(("rows", self._number), self._at_rows)
            inside = (rows > from_top[0]) & (rows < from_top[-1])
            wood = _wood(from_top, self._number, self._truth)
            self._both = (rows[inside], wood, _Wood(along.left[inside], along.right[inside]))
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
    others = (other for other in truth.front.numbers if other != number)
    strips = {number: "", **{other: f"is strip {other}'s" for other in others}}
    for strip, whose, way in itertools.product(strips, sides, ways):
        off = np.abs(found - _wood(ways[way], strip, truth).line(name, whose, truth))
        if float(off.max()) <= ALLOWED:
            said = ", and ".join(filter(None, (strips[strip], sides[whose], way)))
            if said:
                return said
    off = line_off(from_top, found, name, side, KnownSurface(number, truth), truth)
    return f"is {truth.length(float(off.max()))} off the surface, {truth.length(float(from_top[off.argmax()]))} from the top"


def figure_faults(
    placed: list[tuple[float, float]],
    heights: list[tuple[float, float]],
    known: KnownSurface,
    side: str,
    truth: Truth,
    *,
    higher: float = 0.0,
) -> list[str]:
    """Return the printed heights that are not the surface's at their stations, and stations that are not told."""
    if len(placed) != len(heights):
        return ["has another number of stations than of heights"]
    if not placed:
        return []
    marks, sides = known.at_stations()
    index = np.abs(marks[None, :] - np.array([said for _, said in placed])[:, None]).argmin(axis=1)
    at, wanted = marks[index], sides[0 if side == "left" else 1][index] + higher
    near = truth.printed_rounding(1)
    off = np.abs(np.array([said for _, said in heights]) - wanted)
    worst = int(off.argmax())
    if off[worst] > near:
        return [
            f"height {truth.length(heights[worst][1])} stands at station {truth.length(float(at[worst]))}, where the surface has "
            f"{truth.length(float(wanted[worst]))}"
        ]
    return [*_aside(placed, heights), *_untold(at, marks)]


def _aside(placed: list[tuple[float, float]], heights: list[tuple[float, float]]) -> list[str]:
    """Return a height that stands aside of its station; those at the ends may give way to the edge of the piece."""
    off = np.abs(np.array([x for x, _ in placed]) - np.array([x for x, _ in heights]))
    inner = np.array([2 * ASIDE_LEFT < x < placed[-1][0] - 2 * ASIDE_LEFT for x, _ in placed], dtype=bool)
    wrong = (inner & (off > _PLACED)) | (off > _WIDEST)
    return ["has a height that does not stand at its station"] if wrong.any() else []


def _untold(told: Array, marks: Array) -> list[str]:
    """Return a station that has no figures though there is room for them."""
    low, high = float(told.min()), float(told.max())
    missing = [mark for mark in marks.tolist() if low < mark < high and float(np.abs(told - mark).min()) >= _WIDEST]
    return ["has no figures at a station where there is room for them"] if missing else []


def _level_faults(piece: _Piece, truth: Truth) -> list[str]:
    """Return the level lines, blank and floor, that are not at their heights."""
    wanted = {"blank": truth.front.job.blank, "floor": truth.front.surface.floor}
    faults = []
    for name, height in wanted.items():
        if name in piece.lines:
            found = piece.lines[name].points[:, 1] - piece.base
            if float(np.abs(found - height).max()) > ROUNDING:
                faults.append(f"its {name} line is at {truth.length(float(found.mean()))}, not {truth.length(height)}")
    return faults
