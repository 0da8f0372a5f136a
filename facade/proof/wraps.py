"""Fold-round templates as they are read: the lines of both sides of a strip, held against the surface."""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass, replace

import numpy as np

from facade.arrays import Array
from facade.layout import StripPlace
from facade.proof.compared import spread_along
from facade.proof.faces import compare_depths, depth_words, fall_faults
from facade.proof.framing import look_faults
from facade.proof.sides import ALLOWED, ASIDE_RIGHT, LINES, KnownSurface, SideRead, guess_line, line_off
from facade.proof.starts import start_of
from facade.proof.svg import Line, Sheet, Word
from facade.proof.truth import ROUNDING, Truth
from facade.slicer import edge_heights, stations

ASIDE_LEFT = 17.4  # mm beside the wood in which its parts are named
_BELOW = 5.6  # mm under the back in which the places stand
_WIDEST = 20.0  # mm that a figure at an end may stand aside of its station
_FIGURES = re.compile(r"-?\d[\d ./]*")
_HEAD = 14.0  # mm above the upper back in which the head stands


def compare_wraps(sheet: Sheet, truth: Truth) -> Iterator[SideRead]:
    """Yield what comes of both sides of every fold-round template on a sheet in true mm."""
    lines = {line.name: line for line in sheet.lines}
    for back in sheet.lines:
        if back.kind == "left-back":
            ending = back.name.removeprefix("left-back")
            other = lines.get(f"right-back{ending}")
            place = None if other is None else _place(sheet.words, back, other, truth)
            if other is None or place is None:
                yield SideRead(0, 0, 0.0, None, ("a fold-round template names no strip",), np.empty(0))
                continue
            yield from _both(sheet, lines, ending, (back, other), place, truth)


def _place(words: tuple[Word, ...], lower: Line, upper: Line, truth: Truth) -> StripPlace | None:
    """Return the strip whose number stands right of TOP over a template."""
    left, right, base = lower.points[:, 0].min(), lower.points[:, 0].max(), upper.points[0, 1]
    head = [
        word for word in words if left - ASIDE_LEFT <= word.x <= right + ASIDE_RIGHT and base < word.y < base + _HEAD
    ]
    # The head of this template is the lowest over it; above that may stand the next one.
    top = min((word for word in head if word.text == "TOP"), key=lambda word: word.y, default=None)
    if top is None:
        return None
    beside = [word for word in head if abs(word.y - top.y) < 0.5 and word.x > top.x and word.text.isdigit()]
    numbers = [int(word.text) for word in sorted(beside, key=lambda word: word.x)]
    known = [number for number in numbers if number in truth.front.numbers]
    return truth.front.layout.strip(known[0]) if known else None


def _both(
    sheet: Sheet, lines: dict[str, Line], ending: str, backs: tuple[Line, Line], place: StripPlace, truth: Truth
) -> Iterator[SideRead]:
    """Yield both sides of a template: the left one stands up from its back, the right one hangs down from its own."""
    left, right = float(backs[0].points[:, 0].min()), float(backs[0].points[:, 0].max())
    base = float(backs[0].points[0, 1])
    row = [
        word for word in sheet.words if left - 0.1 <= word.x <= right + ASIDE_RIGHT and -_BELOW < word.y - base < -0.5
    ]
    start = start_of(row, left, place, truth)
    told = [] if start is None else list(_Wrap(sheet, ending, backs, place, start, truth).faults())
    for side, back, way in (("left", backs[0], 1.0), ("right", backs[1], -1.0)):
        own = {name: line for name in LINES if (line := lines.get(f"{side}-{name}{ending}")) is not None}
        if start is None or not own:
            yield SideRead(
                place.number, 0, 0.0, None, (f"{place.number} {side.upper()}: says not where it starts",), np.empty(0)
            )
            continue
        level = float(back.points[0, 1])
        read = {
            name: (start + line.points[:, 0] - left, way * (line.points[:, 1] - level)) for name, line in own.items()
        }
        found = _side(read, side, place, truth)
        # What is wrong with all of it is told once, with its left side, and only where that is right itself.
        yield replace(found, faults=found.faults or tuple(told)) if side == "left" else found


@dataclass(frozen=True)
class _Wrap:
    """A fold-round template and all that is drawn and said of it besides the lines to work to."""

    sheet: Sheet
    ending: str
    backs: tuple[Line, Line]
    place: StripPlace
    start: float
    truth: Truth

    @property
    def _ends(self) -> tuple[float, float]:
        points = self.backs[0].points[:, 0]
        return float(points.min()), float(points.max())

    @property
    def _levels(self) -> tuple[float, float, float, float]:
        """Return where back, fold, fold and back should be, going up, mm on the sheet."""
        low = float(self.backs[0].points[0, 1])
        blank = self.truth.front.job.blank
        return low, low + blank, low + blank + self.place.width, low + 2 * blank + self.place.width

    def faults(self) -> Iterator[str]:
        """Yield what is wrong with it."""
        for fault in (*self._lines(), *self._figures(), *self._words(), *self._face()):
            yield f"{self.place.number}: {fault}"

    def _inside(self, kind: str) -> list[Line]:
        """Return the lines of a kind on this template."""
        (left, right), (low, _, _, high) = self._ends, self._levels
        corners = (np.array([left - 0.01, low - 3.0]), np.array([right + 0.01, high + 3.0]))
        return [
            line
            for line in self.sheet.lines
            if line.kind == kind and (line.points >= corners[0]).all() and (line.points <= corners[1]).all()
        ]

    def _lines(self) -> Iterator[str]:
        low, fold, other, high = self._levels
        if abs(float(self.backs[1].points[0, 1]) - high) > ROUNDING:
            yield "its backs are not two thicknesses of the blank and the strip's width apart"
            return
        folds = sorted(float(line.points[:, 1].mean()) for line in self._inside("fold"))
        if len(folds) != 2 or max(abs(folds[0] - fold), abs(folds[1] - other)) > ROUNDING:
            yield "its folds are not at the raw face"
        floor = self.truth.front.surface.floor
        for side, level in (("left", low + floor), ("right", high - floor)):
            line = self.sheet.named(f"{side}-floor{self.ending}")
            if line is None or float(np.abs(line.points[:, 1] - level).max()) > ROUNDING:
                yield f"its {side} floor line is not at the floor"
        named = {line.name: line for line in self.sheet.lines}
        kinds = ("finished", "carve", "saw", "back", "floor", "waste")
        looked = ((kind, named.get(f"{side}-{kind}{self.ending}")) for side in ("left", "right") for kind in kinds)
        yield from look_faults((kind, line) for kind, line in looked if line is not None)
        ticks = [line.points for line in self._inside("stations")]
        at = np.unique(np.round(ticks[0][:, 0], 2)) if ticks else np.empty(0)
        wanted = self._ends[0] + self._marks() - self.start
        if len(at) != len(wanted) or float(np.abs(at - wanted).max(initial=0.0)) > 0.01:
            yield "its ticks are not at its stations"

    def _marks(self) -> Array:
        marks = stations(self.place.length, self.truth.front.job.station)
        end = self.start + self._ends[1] - self._ends[0]
        found: Array = marks[(marks >= self.start - ROUNDING) & (marks <= end + ROUNDING)]
        return found

    def _figures(self) -> Iterator[str]:
        """Yield figures that are not the stations, or not the depths there."""
        low, _, _, high = self._levels
        heights = edge_heights(self.truth.front.surface, self.place, self._marks())
        depths = [self.truth.front.job.blank - side for side in heights]
        rows = [self._row(low - 4.4), self._row(low + 1.5), self._row(high - 3.6)]
        if not rows[0] or any(row and [x for x, _ in row] != [x for x, _ in rows[0]] for row in rows[1:]):
            yield "its depths do not stand at its stations"
            return
        near = self.truth.printed_rounding(1)
        for index, (x, said) in enumerate(rows[0]):
            off = np.abs(self._marks() - said)
            mark = int(off.argmin())
            aside = abs(x - self._ends[0] - self._marks()[mark] + self.start)
            if off[mark] > near or aside > (_WIDEST if index in (0, len(rows[0]) - 1) else ROUNDING):
                yield f"says station {self.truth.length(said)} where that is not"
                return
            for side, row, wanted in (("left", rows[1], depths[0]), ("right", rows[2], depths[1])):
                if row and abs(row[index][1] - wanted[mark]) > near:
                    yield (
                        f"says depth {self.truth.length(row[index][1])} on its {side} side at station {self.truth.length(said)}, "
                        f"which is {self.truth.length(float(wanted[mark]))}"
                    )
                    return

    def _row(self, y: float) -> list[tuple[float, float]]:
        left, right = self._ends
        near = [
            word
            for word in self.sheet.words
            if abs(word.y - y) < 0.01 and left - 0.1 <= word.x <= right + 0.1 and _FIGURES.fullmatch(word.text)
        ]
        return sorted((word.x, self.truth.read_number(word.text)) for word in near)

    def _words(self) -> Iterator[str]:
        """Yield words that name another strip, side, stretch or neighbour."""
        (left, right), (low, _, _, high) = self._ends, self._levels
        said = [
            word.text
            for word in self.sheet.words
            if left - ASIDE_LEFT <= word.x <= right + ASIDE_RIGHT
            and low - _BELOW <= word.y <= high + _HEAD - 5.0
            and not word.turn
        ]
        show, bare, number = (getattr(self.truth.front.job.ruler, name) for name in ("text", "bare", "number"))
        end, mark = self.start + right - left, self.truth.front.mark
        sides = {}
        for side, neighbour in (("left", self.place.left_neighbour), ("right", self.place.right_neighbour)):
            sides[side] = f"faces strip {neighbour}" if neighbour else f"{side} end of the front"
        ways = [f"{side} {words}" if words.startswith("faces") else words for side, words in sides.items()]
        stretch = f"{number(self.start, 0)} to {show(end)} from TOP"
        head = re.compile(r"part \d+ of \d+: " + re.escape(" · ".join([stretch, *ways, mark])))
        about = [word for word in said if word.startswith("part ")]
        whole = " · ".join([stretch, *ways, mark])
        fits = [one for one in about if head.fullmatch(one) or _is_start(one, whole)]
        if len(fits) != 1 or len(about) != 1:
            yield f"says {about[0][:60] if about else 'nothing'!r} of its stretch and neighbours"
        for side, words in sides.items():
            name = f"← {self.place.number} {side.upper()}"
            longer = f"{name} · {bare(self.start)} to {show(end)} from TOP"
            allowed = {name, longer, f"{longer} · {mark}", f"{longer} · {mark} · {words}"}
            own = [one for one in said if one.startswith("← ") and f" {side.upper()}" in one]
            if any(one not in allowed for one in own) or len(own) > 1:
                yield f"says {own[0]!r} in the wood of its {side} side"
        if any(one.endswith(" FACE") and one != f"← {self.place.number} FACE" for one in said):
            yield "names another face"
        for word in ("LEFT", "FACE", "RIGHT", "TOP"):
            if said.count(word) != 1:
                yield f"says {word} {said.count(word)} times, not once"

    def _face(self) -> Iterator[str]:
        """Yield lines of equal depth on its face that are not where the surface is so deep."""
        (left, right), (_, fold, other, _) = self._ends, self._levels
        lines = [
            line
            for line in self._inside("depth")
            if line.points[:, 1].min() >= fold - 0.01 and line.points[:, 1].max() <= other + 0.01
        ]
        placed = [
            (line, np.column_stack([line.points[:, 1] - fold, line.points[:, 0] - left + self.start])) for line in lines
        ]
        middle = (fold + other) / 2
        words = [
            (word.x - left + self.start, word.text)
            for word in depth_words(self.sheet.words)
            if abs(word.y - middle + 0.9) <= self.place.width / 4 + 0.01 and left < word.x < right
        ]
        yield from compare_depths(placed, self.place, self.truth, words).faults
        ticks = [
            np.column_stack([line.points[:, 1] - fold, line.points[:, 0] - left + self.start])
            for line in self._inside("falls")
        ]
        yield from fall_faults(ticks, self.place, self.truth)


def _is_start(said: str, whole: str) -> bool:
    """Whether words that were cut for want of room are the start of the whole ones, behind which part of how many it is."""
    return said.endswith("…") and whole.startswith(said[:-1].partition(": ")[2].rstrip())


def _side(read: dict[str, tuple[Array, Array]], side: str, place: StripPlace, truth: Truth) -> SideRead:
    known, faults = KnownSurface(place.number, truth), []
    all_off, places = [], []
    for name, (from_top, found) in read.items():
        off = line_off(from_top, found, name, side, known, truth)
        if not float(off.max()) <= ALLOWED:
            said = guess_line(from_top, found, name, place.number, side, truth)
            faults.append(f"{place.number} {side.upper()}: its {name} line {said}")
        all_off.append(off)
        places.append(from_top)
    off, from_top = np.concatenate(all_off), np.concatenate(places)
    least = float(read["finished"][1].min()) if "finished" in read else None
    return SideRead(
        place.number, len(off), float(off.max()), least, tuple(faults), spread_along(from_top, off, place.length)
    )
