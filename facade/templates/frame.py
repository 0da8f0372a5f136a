"""The frame of a printed sheet: what every sheet carries, drawn once for all of them, so that none comes out without.

Job, mark, strips, sheet i of n, TOP, "print at 100 %", the printer's correction, what the lines mean in words, and a rule both ways.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from facade.arrays import Array
from facade.doors.spreading import as_built_in_words
from facade.drawing import Anchor, Drawing, Pen, fitted, printable, text_width
from facade.front import Front
from facade.layout import run_in_words, runs_of
from facade.lengths import MM_PER_INCH, Ruler, Unit
from facade.templates.piece import Room, Top

# All mm. Words are at least 2.6 high, which reads at arm's length; what must be seen first is larger.
HEAD = 15.5
FOOT = 15.0
NARROW_FOOT = 19.0
COLUMN = 9.0
SMALL = 2.6
PLAIN = 3.2
LARGE = 4.6
NOT_CLEARED = "NOT CLEARED"
NOT_CHECKED = "NOT CHECKED"
NEW = "NEW"


_TOLD = {
    True: "Both rules must read true by a steel rule.",
    False: "Stopped by the checks: cut nothing.",
    None: "Not checked: ask the checks first.",
}


@dataclass(frozen=True)
class Page:
    """A page, lying or upright, in true mm: its size, its margins left and right, and at top and bottom.

    On one that is `turned` the frame stands along its left end, read from the right, and leaves pieces a shorter and higher room.
    """

    width: float
    height: float
    aside: float
    ends: float
    turned: bool = False

    @property
    def foot(self) -> float:
        """Height of the foot: where the frame is narrow, what lines mean takes another row."""
        return NARROW_FOOT if self.turned else FOOT

    @property
    def room(self) -> Room:
        """The room that the frame leaves for pieces."""
        framed = self.upright
        room = Room(framed.width - 2 * framed.aside - COLUMN, framed.height - 2 * framed.ends - HEAD - self.foot)
        return Room(room.height, room.width) if self.turned else room

    @property
    def corner(self) -> tuple[float, float]:
        """The upper left corner of the room."""
        if self.turned:
            return self.aside + HEAD, self.height - self.ends - COLUMN
        return self.aside, self.height - self.ends - HEAD

    @property
    def upright(self) -> Page:
        """The page as it is when one reads its frame."""
        return Page(self.height, self.width, self.ends, self.aside) if self.turned else self


@dataclass(frozen=True)
class Heading:
    """What the frame says on one sheet.

    `key` is how lines look and what they mean, `caution` is for the work that the sheet is used at.
    """

    title: str
    strips: Sequence[int]
    sheet: int
    sheets: int
    top: Top
    correction: str
    key: Sequence[tuple[Pen, str]] = ()
    caution: str = ""
    laying: str = ""
    new: bool = False
    cleared: bool | None = True


def framed(front: Front, page: Page, heading: Heading) -> Drawing:
    """Return a page that carries what every sheet does, ready for its pieces."""
    job = front.job
    title = f"{printable(job.title)}: {heading.title}, sheet {heading.sheet} of {heading.sheets}"
    turned, page = page.turned, page.upright
    sheet = Drawing(page.width, page.height, title)
    left, right = page.aside, page.width - page.aside
    top, base = page.height - page.ends, page.ends
    _head(sheet, front, heading, left, right, top, turned=turned)
    foot = NARROW_FOOT if turned else FOOT
    _foot(sheet, job.ruler, front, heading, left, right, base, foot)
    _rule_up(sheet, job.ruler, page, base + foot, turned=turned)
    return sheet.turned() if turned else sheet


def _head(
    sheet: Drawing, front: Front, heading: Heading, left: float, right: float, top: float, *, turned: bool
) -> None:
    job = front.job
    x = left + _top_arrow(sheet, heading.top, left, top, turned=turned) + 3
    end = right - _flags(sheet, heading, right, top)
    place = f"Sheet {heading.sheet} of {heading.sheets}"
    mark = f"Mark {front.mark}"
    beside = max(text_width(place, LARGE, bold=True), text_width(mark, LARGE, bold=True)) + 4
    sheet.label(place, end, top - 4.6, LARGE, Anchor.END, bold=True)
    sheet.label(mark, end, top - 10.0, LARGE, Anchor.END, bold=True)
    room = end - beside - x
    sheet.label(fitted(heading.title, LARGE, room, bold=True), x, top - 4.6, LARGE, bold=True)
    about = f"{strips_in_words(heading.strips, front.count if heading.strips else len(front.numbers))} · {job.title}"
    units = ["lengths in mm", "mm"]
    if job.unit is Unit.INCH:
        units = [f"lengths in inches, to 1/{job.ruler.fraction}", f"inches, to 1/{job.ruler.fraction}", "inches"]
    words, *shorter = (f"PRINT AT 100 % · {unit} · {heading.correction}" for unit in units)
    rows = [x, x]
    if state := as_built_in_words(front):
        # Beside strips and job where there is room for all of them, else in the row below, which is as wide as the sheet.
        wide = text_width(f"{state} ·", PLAIN, bold=True) + 1.2
        row = 0 if wide + text_width(about, PLAIN) <= room else 1
        size = SMALL if row and wide + text_width(words, SMALL) > right - x else PLAIN
        sheet.label(f"{state} ·", x, top - (9.4, 13.4)[row], size, bold=True)
        rows[row] += wide * size / PLAIN
    sheet.label(fitted(about, PLAIN, x + room - rows[0]), rows[0], top - 9.4, PLAIN)
    size = PLAIN if text_width(words, PLAIN) <= right - rows[1] else SMALL
    # Rather the unit in fewer words than how it is printed cut off.
    words = next((one for one in (words, *shorter) if text_width(one, size) <= right - rows[1]), words)
    sheet.label(fitted(words, size, right - rows[1]), rows[1], top - 13.4, size)
    sheet.line([[left, top - HEAD + 1.0], [right, top - HEAD + 1.0]], Pen.RULE)


def strips_in_words(strips: Sequence[int], count: int) -> str:
    """Return "strips 1 to 4, 9 of 54", or "whole front"."""
    if not strips:
        return f"whole front, {count} strips"
    runs = runs_of(sorted(set(strips)))
    parts = [run_in_words(run) for run in runs]
    return f"strip{'s' if len(set(strips)) > 1 else ''} {', '.join(parts)} of {count}"


def _top_arrow(sheet: Drawing, top: Top, left: float, upper: float, *, turned: bool) -> float:
    """Draw where TOP is, and return how much room that takes; in a frame that is `turned`, left of the page is up."""
    if top is Top.BOTH_SIDES:
        words = ("TOP, LEFT sides", "TOP, RIGHT sides")
        wide = max(text_width(word, SMALL, bold=True) for word in words) + 8.5
        for row, word in enumerate(words):
            y = upper - 4.6 - 5.4 * row
            first = row == 0
            tip, back = (left, left + 6.4) if first or turned else (left + wide, left + wide - 6.4)
            anchor = Anchor.START if first or turned else Anchor.END
            corners = [[tip, y + 1.1], [back, y + 3.6], [back, y - 1.4]]
            if turned:
                x, way = left + 3.2, 1.0 if first else -1.0
                corners = [[x, y + 1.1 + 2.2 * way], [x - 2.4, y + 1.1 - 2.2 * way], [x + 2.4, y + 1.1 - 2.2 * way]]
            sheet.shape(corners, Pen.SOLID, "top-arrow")
            sheet.label(word, back + 1 if anchor is Anchor.START else back - 1, y, SMALL, anchor, bold=True)
        return wide
    if (top is Top.UP) is not turned:
        middle = left + 4.5
        sheet.shape([[middle, upper], [middle - 3.6, upper - 6.4], [middle + 3.6, upper - 6.4]], Pen.SOLID, "top-arrow")
        sheet.label("TOP", middle, upper - 10.4, PLAIN, Anchor.MIDDLE, bold=True)
        return 10.0
    wide, y = text_width("TOP", SMALL, bold=True) + 8.5, upper - 4.6
    tip, back = (left + wide, left + wide - 6.4) if turned else (left, left + 6.4)
    sheet.shape([[tip, y + 1.1], [back, y + 3.6], [back, y - 1.4]], Pen.SOLID, "top-arrow")
    sheet.label("TOP", back + (-1 if turned else 1), y, SMALL, Anchor.END if turned else Anchor.START, bold=True)
    return wide


def _flags(sheet: Drawing, heading: Heading, right: float, top: float) -> float:
    """Draw NEW and NOT CLEARED in black frames at the right end of the head, and return the room they take."""
    used = 0.0
    for said, word in (
        (heading.cleared is False, NOT_CLEARED),
        (heading.cleared is None, NOT_CHECKED),
        (heading.new, NEW),
    ):
        if said:
            wide = text_width(word, LARGE, bold=True) + 4
            x = right - used - wide
            sheet.shape(
                [[x, top - 9.4], [x + wide, top - 9.4], [x + wide, top], [x, top]],
                Pen.BACK,
                word.lower().replace(" ", "-"),
            )
            sheet.label(word, x + wide / 2, top - 6.4, LARGE, Anchor.MIDDLE, bold=True)
            used += wide + 3
    return used


def allowance_words(front: Front) -> str:
    """Return what the lines stand for, in words, as every sheet says it."""
    wood, show = front.job.wood, front.job.ruler.text
    return (
        f"Heights: finished, above the back. Carve line {show(wood.sanding)} higher, for sanding. "
        f"Saw line {show(wood.sawing)} above the higher side."
    )


def rule_length(ruler: Ruler) -> float:
    """Return the length of a sheet's rules, mm: 100 mm or 4 in."""
    return 100.0 if ruler.unit is Unit.MM else 4 * MM_PER_INCH


def _foot(
    sheet: Drawing,
    ruler: Ruler,
    front: Front,
    heading: Heading,
    left: float,
    right: float,
    base: float,
    high: float,
) -> None:
    rule, words = rule_length(ruler), "100 mm" if ruler.unit is Unit.MM else "4 in"
    y = base + high - 6.7
    _rule(sheet, ruler, np.array([left, y]), np.array([1.0, 0.0]), rule, "rule-along")
    x = left + rule + 2.0
    x += sheet.label(words, x, y, PLAIN, bold=True) + 3
    sheet.label(fitted(_TOLD[heading.cleared], SMALL, right - x), x, y, SMALL)
    # What a sheet's own key does not say in words, the row above the rule does.
    above = heading.laying or (allowance_words(front) if heading.key else "")
    sheet.label(fitted(above, SMALL, right - COLUMN - left), left, base + high - 2.4, SMALL)
    sheet.label(fitted(heading.caution, SMALL, right - left), left, base + 0.6, SMALL)
    if not heading.key:
        sheet.label(fitted(allowance_words(front), SMALL, right - left), left, base + 4.4, SMALL)
        return
    _key(sheet, heading.key, left, right, base + 4.4, rows=2 if high > FOOT else 1)


# A line of the key, and what stands beside it, mm; between two rows of it.
_SAMPLE, _BESIDE, _NEXT, _KEY_PITCH = 8.0, 1.2, 3.0, 4.2
_SHORT_SAMPLE = 5.4


def _key(sheet: Drawing, key: Sequence[tuple[Pen, str]], left: float, right: float, low: float, *, rows: int) -> None:
    """Draw how lines look and what they mean, in as few rows, the upper first, and as large as there is room for."""
    large = _key_rows(key, PLAIN, right - left)
    size, parts = (PLAIN, large) if len(large) <= rows else (SMALL, _key_rows(key, SMALL, right - left))
    wide, apart = _SAMPLE, _NEXT
    if len(parts) > rows:
        # All of it in one row: shorter samples, closer together.
        parts, wide, apart = [list(key)], _SHORT_SAMPLE, 1.8
    for row, part in enumerate(parts):
        x, y = left, low + _KEY_PITCH * (len(parts) - 1 - row)
        for pen, meaning in part:
            _sample(sheet, pen, x, y + 0.9, wide)
            x += wide + _BESIDE
            x += sheet.label(meaning, x, y, size) + apart


def _sample(sheet: Drawing, pen: Pen, x: float, y: float, wide: float) -> None:
    """Draw how something looks on the sheet, `wide` mm wide from x, about the level y: a line, or its sign."""
    middle = x + wide / 2
    if pen is Pen.STROKE:
        tip = x + wide - 0.6
        sheet.lines(
            [[[x, y], [tip, y]], [[tip, y], [tip - 2.0, y + 0.8]], [[tip, y], [tip - 2.0, y - 0.8]]], pen, "key"
        )
    elif pen is Pen.SCREW:
        sheet.lines([[[middle - 1.3, y], [middle + 1.3, y]], [[middle, y - 1.3], [middle, y + 1.3]]], pen, "key")
    elif pen is Pen.HOLE:
        sheet.circle(middle, y, 1.2, pen, "key")
    else:
        sheet.line([[x, y], [x + wide, y]], pen, "key")


def _key_rows(key: Sequence[tuple[Pen, str]], size: float, room: float) -> list[list[tuple[Pen, str]]]:
    """Return a key in rows no wider than `room`."""
    rows: list[list[tuple[Pen, str]]] = [[]]
    used = 0.0
    for pen, meaning in key:
        wide = _SAMPLE + _BESIDE + text_width(meaning, size)
        if rows[-1] and used + wide > room:
            rows.append([])
            used = 0.0
        rows[-1].append((pen, meaning))
        used += wide + _NEXT
    return rows


def _rule_up(sheet: Drawing, ruler: Ruler, page: Page, low: float, *, turned: bool) -> None:
    """Draw the rule up the right side, from the foot of the room; its words never stand on their heads."""
    rule, words = rule_length(ruler), "100 mm" if ruler.unit is Unit.MM else "4 in"
    x, y = page.width - page.aside - 0.3, low
    _rule(sheet, ruler, np.array([x, y]), np.array([0.0, 1.0]), rule, "rule-up")
    beside, turn = (7.0, -90.0) if turned else (4.2, 90.0)
    sheet.label(words, x - beside, y + rule / 2, PLAIN, Anchor.MIDDLE, bold=True, turn=turn)


def _rule(sheet: Drawing, ruler: Ruler, start: Array, way: Array, length: float, name: str) -> None:
    parts = 10 if ruler.unit is Unit.MM else 16
    aside = np.array([-way[1], way[0]])
    sheet.line([start, start + way * length], Pen.RULE, name)
    ticks = []
    for k in range(parts + 1):
        at = start + way * (length * k / parts)
        long = 3.5 if k in (0, parts) else 2.6 if k % (parts // 2 if parts == 10 else 4) == 0 else 1.6
        ticks.append([at, at + aside * long])
    sheet.lines(ticks, Pen.TICK)
