"""The picture of the measured opening: what is crooked drawn larger, the front that fits it, and where strips are planed."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property

from facade.checks import Weight
from facade.checks.opening import check
from facade.doors.opening import OpeningFit, Taper, fit_opening
from facade.doors.quadrilateral import DIAGONALS, HEIGHTS, LEANS, WIDTHS, Name, Spot
from facade.drawing import printable
from facade.errors import mistake
from facade.front import Front
from facade.job import Edge
from facade.pictures.plot import INK, PAPER, Page, font, wrapped

# Pixels of a picture 1600 wide; all grow with its width.
_WIDTH = 1600
_MARGIN, _COLUMN, _ROOM, _RISE = 50, 290, 120, 170
_TALLEST, _SHORTEST = 860, 560
_TITLE, _WORDS, _READING = 38, 29, 33
_HEAD, _LINE, _APART = 130, 40, 16
_TIMES = (10, 5, 2, 1)
_LARGER = {
    10: "Deviations are drawn ten times as large.",
    5: "Deviations are drawn five times as large.",
    2: "Deviations are drawn twice as large.",
    1: "Deviations are drawn as they are.",
    0: "It is more crooked than can be drawn: deviations are cut short.",
}
_FILL, _THIN, _WEDGE = 232, 120, 70
# Both ends of each edge of a rectangle, in shares of its sides, sides from the top down; and which way is inward.
_ENDS = {
    Edge.LEFT: ((0.0, 1.0), (0.0, 0.0)),
    Edge.RIGHT: ((1.0, 1.0), (1.0, 0.0)),
    Edge.TOP: ((0.0, 1.0), (1.0, 1.0)),
    Edge.BOTTOM: ((0.0, 0.0), (1.0, 0.0)),
}
_INWARD = {Edge.LEFT: (1.0, 0.0), Edge.RIGHT: (-1.0, 0.0), Edge.TOP: (0.0, -1.0), Edge.BOTTOM: (0.0, 1.0)}

Box = tuple[float, float, float, float]


def opening_picture(front: Front, width: int = 1600) -> bytes:
    """Return a PNG, `width` pixels wide, of the opening of a front with all its readings; grey throughout.

    Raises JobError when the job has no opening.
    """
    fit = fit_opening(front.job, front.layout)
    if fit is None:
        raise mistake("opening", "`opening` is missing: write the readings into [opening] to have it drawn")
    return _Sheet(front, fit, width).png()


@dataclass(frozen=True)
class _Shape:
    """The opening about its upright rectangle: how far its corners and the middles of its sides are from it, mm, right and up.

    Corners from the lower left on, against the clock; middles of the bottom, right, top and left side.
    """

    width: float
    height: float
    corners: tuple[Spot, Spot, Spot, Spot]
    middles: tuple[Spot, Spot, Spot, Spot]

    @property
    def most(self) -> float:
        """The furthest that any place is from the upright rectangle, mm."""
        return max(math.hypot(*spot) for spot in (*self.corners, *self.middles))


def _shape(fit: OpeningFit) -> _Shape:
    """Return the opening about the upright rectangle that goes in, or that is covered; both about its middle."""
    overlap = 0.0 if fit.inset else 2 * fit.opening.overlap
    wide, tall = max(fit.width - overlap, 1.0), max(fit.height - overlap, 1.0)
    middle = (fit.upright.left + fit.upright.right) / 2, (fit.upright.bottom + fit.upright.top) / 2
    plain = [(-wide / 2, -tall / 2), (wide / 2, -tall / 2), (wide / 2, tall / 2), (-wide / 2, tall / 2)]
    off = [
        (corner[0] - middle[0] - right[0], corner[1] - middle[1] - right[1])
        for corner, right in zip(fit.corners.around, plain, strict=True)
    ]
    across, along = (_bulge(fit, names) for names in (WIDTHS, HEIGHTS))
    bulges = ((0.0, -along), (across, 0.0), (0.0, along), (-across, 0.0))
    middles = [
        ((one[0] + two[0]) / 2 + bulge[0], (one[1] + two[1]) / 2 + bulge[1])
        for one, two, bulge in zip(off, [*off[1:], off[0]], bulges, strict=True)
    ]
    return _Shape(wide, tall, (off[0], off[1], off[2], off[3]), (middles[0], middles[1], middles[2], middles[3]))


def _bulge(fit: OpeningFit, names: tuple[Name, Name, Name]) -> float:
    """Return how far each of two facing sides stands out in its middle, mm: half of what the middle reading has more."""
    first, middle, last = (fit.trusted[name] for name in names)
    return (middle - (first + last) / 2) / 2


class _Sheet:
    """One picture of one opening."""

    def __init__(self, front: Front, fit: OpeningFit, width: int) -> None:
        self._front, self._fit, self._width = front, fit, width
        self._shape = _shape(fit)
        room = (self._px(_WIDTH - 2 * (_MARGIN + _COLUMN + _ROOM)), self._px(_TALLEST))
        self._scale = min(room[0] / self._shape.width, room[1] / self._shape.height)
        self._most = self._px(0.7 * _ROOM)
        self._times = self._exaggeration()
        self._taken: list[Box] = []
        lines = self._lines()
        tall = max(self._shape.height * self._scale + 2 * self._px(_RISE), self._px(_SHORTEST))
        self._middle = (width / 2, self._px(_HEAD) + tall / 2)
        self._foot = self._px(_HEAD) + tall + self._px(_APART)
        deep = sum(len(words) * self._px(_LINE) + self._px(_APART) for words in lines)
        self._page = Page(width, round(self._foot + deep + self._px(_MARGIN)))
        self._draw(lines)

    def png(self) -> bytes:
        """Return the picture's bytes."""
        return self._page.png()

    def _px(self, size: float) -> int:
        return max(1, round(size * self._width / _WIDTH))

    def _exaggeration(self) -> int:
        """Return how many times larger deviations are drawn: ten times, less where they would not fit."""
        most = self._shape.most * self._scale
        return next((times for times in _TIMES if times * most <= self._most), 0)

    def _draw(self, lines: list[list[str]]) -> None:
        self._head()
        for taper in self._fit.planed:
            self._wedge(taper)
        self._outline()
        self._rectangle()
        self._inner_lines()
        self._readings()
        self._columns()
        self._write(lines)

    def _head(self) -> None:
        mounting = self._fit.opening.mounting.value
        edge = self._px(_MARGIN)
        self._page.words(printable(self._front.job.title)[:62], edge, edge - 8, self._px(_TITLE), bold=True)
        words = f"The opening ({mounting}). {_LARGER[self._times]}"
        self._page.words(words, edge, edge + self._px(_TITLE) + 4, self._px(_WORDS))

    def _spot(self, across: float, up: float, off: Spot = (0.0, 0.0)) -> Spot:
        """Return the pixel of a place on the upright rectangle, shares of its sides, moved by a deviation in mm."""
        shape, scale, larger = self._shape, self._scale, self._scale * max(self._times, 1)
        x, y = (min(max(larger * one, -self._most), self._most) for one in off)
        return (
            self._middle[0] + scale * shape.width * (across - 0.5) + x,
            self._middle[1] - scale * shape.height * (up - 0.5) - y,
        )

    @cached_property
    def _corners(self) -> list[Spot]:
        places = ((0, 0), (1, 0), (1, 1), (0, 1))
        return [self._spot(*place, off) for place, off in zip(places, self._shape.corners, strict=True)]

    @cached_property
    def _middles(self) -> list[Spot]:
        places = ((0.5, 0), (1, 0.5), (0.5, 1), (0, 0.5))
        return [self._spot(*place, off) for place, off in zip(places, self._shape.middles, strict=True)]

    def _outline(self) -> None:
        around = [spot for pair in zip(self._corners, self._middles, strict=True) for spot in pair]
        self._page.draw.polygon(around, fill=_FILL)
        self._page.draw.line([*around, around[0], around[1]], fill=INK, width=self._px(4), joint="curve")

    def _rectangle(self) -> None:
        corners = [self._spot(*place) for place in ((0, 0), (1, 0), (1, 1), (0, 1))]
        for start, end in zip(corners, [*corners[1:], corners[0]], strict=True):
            self._dashes(start, end)

    def _dashes(self, start: Spot, end: Spot) -> None:
        length = math.dist(start, end)
        step = self._px(22)
        for index in range(math.ceil(length / step)):
            first, last = index * step / length, min(1.0, (index * step + self._px(14)) / length)
            self._line(_between(start, end, first), _between(start, end, last), ink=INK, wide=3)

    def _line(self, start: Spot, end: Spot, ink: int = _THIN, wide: int = 2) -> None:
        self._page.draw.line([*start, *end], fill=ink, width=self._px(wide))

    def _wedge(self, taper: Taper) -> None:
        """Draw what is planed off a straight edge that was left wider by the greater end, as a dark wedge beside the rectangle."""
        ends, by = _ENDS[taper.edge], (taper.first, taper.last)
        left = [self._spot(*end, self._inward(taper, -taper.most)) for end in ends]
        planed = [self._spot(*end, self._inward(taper, one - taper.most)) for end, one in zip(ends, by, strict=True)]
        self._page.draw.polygon([left[0], *planed, left[1]], fill=_WEDGE)

    def _inward(self, taper: Taper, by: float) -> Spot:
        across, up = _INWARD[taper.edge]
        return across * by, up * by

    def _inner_lines(self) -> None:
        lower, right, upper, left = self._middles
        self._line(left, right)
        self._line(lower, upper)
        if self._fit.opening.diagonals is not None:
            self._line(self._corners[3], self._corners[1])
            self._line(self._corners[2], self._corners[0])

    def _readings(self) -> None:
        """Write widths and diagonals where they were taken; heights at the sides stand in the columns."""
        low_left, low_right, up_right, up_left = self._corners
        out = self._px(60)
        top, bottom = min(up_left[1], up_right[1]) - out, max(low_left[1], low_right[1]) + out
        self._dimension((up_left[0], top), (up_right[0], top), Name.TOP)
        self._dimension((low_left[0], bottom), (low_right[0], bottom), Name.BOTTOM)
        lower, right, upper, left = self._middles
        if self._fit.opening.diagonals is not None:
            self._label_on(up_left, low_right, (0.16, 0.25, 0.33, 0.38), DIAGONALS[0])
            self._label_on(up_right, low_left, (0.3, 0.42, 0.2), DIAGONALS[1])
        self._label_on(upper, lower, (0.82, 0.7, 0.5), Name.UPRIGHT)
        self._label_on(left, right, (0.5, 0.35, 0.65, 0.2), Name.ACROSS)

    def _label_on(self, start: Spot, end: Spot, shares: Sequence[float], name: Name) -> None:
        """Write a reading on its line, at the first of some places that lies inside and covers no other reading."""
        spots = [_between(start, end, share) for share in shares]
        clear = [spot for spot in spots if not any(_overlap(self._frame(spot, name), other) for other in self._taken)]
        left, right = self._spot(0, 0)[0], self._spot(1, 0)[0]
        inside = [spot for spot in clear if left <= self._frame(spot, name)[0] and self._frame(spot, name)[2] <= right]
        spot = (inside or clear or spots)[0]
        self._taken.append(self._frame(spot, name))
        self._label(spot, name)

    def _dimension(self, start: Spot, end: Spot, name: Name) -> None:
        tick = self._px(14)
        self._line(start, end)
        for x, y in (start, end):
            self._line((x, y - tick), (x, y + tick))
        self._label(_between(start, end, 0.5), name)

    def _label(self, middle: Spot, name: Name, anchor: str = "mm") -> None:
        """Write a reading on white, or white on black where it is in doubt."""
        doubted = self._fit.doubtful(name) is not None
        self._page.draw.rectangle(self._frame(middle, name, anchor), fill=INK if doubted else PAPER)
        ink = PAPER if doubted else INK
        self._page.words(self._text(name), *middle, self._px(_READING), bold=True, anchor=anchor, ink=ink)

    def _frame(self, middle: Spot, name: Name, anchor: str = "mm") -> Box:
        """Return the box that a reading takes up."""
        face, edge = font(self._px(_READING)), self._px(7)
        box = self._page.draw.textbbox(middle, self._text(name), font=face, anchor=anchor)
        return box[0] - edge, box[1] - edge, box[2] + edge, box[3] + edge

    def _text(self, name: Name) -> str:
        return self._front.job.ruler.text(self._fit.readings[name])

    def _columns(self) -> None:
        """Write at both sides how they lean, how high they are, and what is planed there."""
        heights, leans = (HEIGHTS[0], HEIGHTS[2]), LEANS
        for index, (height, lean) in enumerate(zip(heights, leans, strict=True)):
            at_right = index == 1
            x = self._width - self._px(_MARGIN) if at_right else self._px(_MARGIN)
            self._side_height(at_right, x, height)
            if lean in self._fit.readings:
                self._beside(
                    self._lean_words(lean), x, self._middle[1] - self._px(190), at_right, self._fit.doubtful(lean)
                )
        for taper in self._fit.planed:
            if taper.upright:
                at_right = taper.edge is Edge.RIGHT
                x = self._width - self._px(_MARGIN) if at_right else self._px(_MARGIN)
                self._planing(taper, x, self._middle[1] + self._px(80), at_right)
            else:
                self._planing_along(taper)

    def _side_height(self, at_right: bool, x: float, name: Name) -> None:
        corners = (self._corners[1], self._corners[2]) if at_right else (self._corners[0], self._corners[3])
        away = self._px(46)
        line = max(spot[0] for spot in corners) + away if at_right else min(spot[0] for spot in corners) - away
        tick = self._px(14)
        self._line((line, corners[0][1]), (line, corners[1][1]))
        for _, y in corners:
            self._line((line - tick, y), (line + tick, y))
        self._line((line, self._middle[1]), (x, self._middle[1]))
        self._label((x, self._middle[1]), name, "rm" if at_right else "lm")

    def _lean_words(self, name: Name) -> list[str]:
        lean = self._fit.readings[name]
        text = self._front.job.ruler.text(abs(lean))
        if text.split()[0] == "0":
            return ["stands plumb"]
        return ["leans at the top", f"{text} to the {'left' if lean < 0 else 'right'}"]

    def _planing(self, taper: Taper, x: float, y: float, at_right: bool) -> None:
        show = self._front.job.ruler.text
        strip = self._front.count if at_right else 1
        words = [
            f"plane off strip {strip}:",
            f"{show(taper.first)} at the top",
            f"{show(taper.last)} at the bottom",
        ]
        self._beside(words, x, y, at_right, None)
        wide = max(self._page.width_of(line, self._px(_WORDS)) for line in words) + self._px(10)
        self._lead((x - wide if at_right else x + wide, y + self._px(_WORDS) * 0.6), taper)

    def _planing_along(self, taper: Taper) -> None:
        """Write what is planed off the upper or lower ends, in a corner beyond the width that is written there."""
        show = self._front.job.ruler.text
        at_top, at_right = taper.edge is Edge.TOP, taper.last > taper.first
        x = self._width - self._px(_MARGIN) if at_right else self._px(_MARGIN)
        y = self._px(_HEAD) + self._px(4) if at_top else self._foot - 3 * self._px(_LINE) - 2 * self._px(_APART)
        words = [
            f"plane off the {taper.edge.value} ends:",
            f"{show(taper.first)} at the left",
            f"{show(taper.last)} at the right",
        ]
        self._beside(words, x, y, at_right, None)
        wide = max(self._page.width_of(line, self._px(_WORDS)) for line in words) + self._px(10)
        self._lead((x - wide if at_right else x + wide, y + self._px(_LINE)), taper)

    def _lead(self, start: Spot, taper: Taper) -> None:
        """Draw a line from words to the thick end of a wedge."""
        (x, y), (other_x, other_y) = _ENDS[taper.edge]
        share = 0.1 if taper.first > taper.last else 0.9
        place = x + share * (other_x - x), y + share * (other_y - y)
        end = self._spot(*place, self._inward(taper, -0.6 * taper.most))
        self._line(start, end, ink=INK)
        dot = self._px(6)
        self._page.draw.ellipse(
            [end[0] - dot, end[1] - dot, end[0] + dot, end[1] + dot], fill=PAPER, outline=INK, width=2
        )

    def _beside(self, words: Sequence[str], x: float, y: float, at_right: bool, doubt: object) -> None:
        for index, line in enumerate(words):
            text = f"{line} ?" if doubt is not None and index == len(words) - 1 else line
            self._page.words(text, x, y + index * self._px(_LINE), self._px(_WORDS), anchor="ra" if at_right else "la")

    def _lines(self) -> list[list[str]]:
        """Return what is said under the picture, each in lines that fit."""
        wide = self._width - 2 * self._px(_MARGIN)
        found = check(self._front)
        measured = self._fit.opening.measured
        said = [f"{self._legend()}{f' Measured: {measured}' if measured else ''}"]
        heaviest_first = sorted(found, key=lambda one: one.weight is Weight.KNOW)
        said += [f"{one.sentence} {one.cure}".strip() for one in heaviest_first]
        return [wrapped(printable(text), self._px(_WORDS), wide) for text in said]

    def _legend(self) -> str:
        fit, show = self._fit, self._front.job.ruler.text
        more = "" if fit.inset else f", without the {show(fit.opening.overlap, 2)} that it overlaps on each side"
        rectangle = (
            "largest upright rectangle that goes in"
            if fit.inset
            else f"smallest upright rectangle that covers it{more}"
        )
        words = f"Thick line: the opening. Dashed: the {rectangle}, {show(self._shape.width, 2)} by {show(self._shape.height, 2)}."
        if fit.planed:
            words += " Dark wedge: what is planed off an edge that was left wider, so that the gap stays even."
        if fit.doubt and fit.doubt.slips:
            words += " White on black, or with a question mark: measure again."
        return words

    def _write(self, lines: list[list[str]]) -> None:
        y = float(self._foot)
        for words in lines:
            for line in words:
                self._page.words(line, self._px(_MARGIN), y, self._px(_WORDS))
                y += self._px(_LINE)
            y += self._px(_APART)


def _between(start: Spot, end: Spot, share: float) -> Spot:
    return start[0] + share * (end[0] - start[0]), start[1] + share * (end[1] - start[1])


def _overlap(one: Box, two: Box) -> bool:
    return one[0] < two[2] and two[0] < one[2] and one[1] < two[3] and two[1] < one[3]
