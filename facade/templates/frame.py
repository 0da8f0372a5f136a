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
from facade.lengths import MM_PER_INCH, Ruler, Unit
from facade.templates.piece import Room, Top

# All mm. Words are at least 2.6 high, which reads at arm's length; what must be seen first is larger.
HEAD = 15.5
FOOT = 15.0
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
    """A page, lying or upright, in true mm: its size, its margins left and right, and at top and bottom."""

    width: float
    height: float
    aside: float
    ends: float

    @property
    def room(self) -> Room:
        """The room that the frame leaves for pieces."""
        return Room(self.width - 2 * self.aside - COLUMN, self.height - 2 * self.ends - HEAD - FOOT)

    @property
    def corner(self) -> tuple[float, float]:
        """The upper left corner of the room."""
        return self.aside, self.height - self.ends - HEAD


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
    sheet = Drawing(page.width, page.height, title)
    left, right = page.aside, page.width - page.aside
    top, base = page.height - page.ends, page.ends
    _head(sheet, front, heading, left, right, top)
    _foot(sheet, job.ruler, front, heading, left, right, base)
    _rule_up(sheet, job.ruler, page)
    return sheet


def _head(sheet: Drawing, front: Front, heading: Heading, left: float, right: float, top: float) -> None:
    job = front.job
    x = left + _top_arrow(sheet, heading.top, left, top) + 3
    end = right - _flags(sheet, heading, right, top)
    place = f"Sheet {heading.sheet} of {heading.sheets}"
    mark = f"Mark {front.mark}"
    beside = max(text_width(place, LARGE, bold=True), text_width(mark, LARGE, bold=True)) + 4
    sheet.label(place, end, top - 4.6, LARGE, Anchor.END, bold=True)
    sheet.label(mark, end, top - 10.0, LARGE, Anchor.END, bold=True)
    room = end - beside - x
    sheet.label(fitted(heading.title, LARGE, room, bold=True), x, top - 4.6, LARGE, bold=True)
    about = f"{strips_in_words(heading.strips, front.count if heading.strips else len(front.numbers))} · {job.title}"
    unit = "lengths in mm" if job.unit is Unit.MM else f"lengths in inches, to 1/{job.ruler.fraction}"
    words = f"PRINT AT 100 % · {unit} · {heading.correction}"
    rows = [x, x]
    if state := as_built_in_words(front):
        # Beside strips and job where there is room for all of them, else in the row below, which is as wide as the sheet.
        wide = text_width(f"{state} ·", PLAIN, bold=True) + 1.2
        row = 0 if wide + text_width(about, PLAIN) <= room else 1
        size = SMALL if row and wide + text_width(words, SMALL) > right - x else PLAIN
        sheet.label(f"{state} ·", x, top - (9.4, 13.4)[row], size, bold=True)
        rows[row] += wide * size / PLAIN
    sheet.label(fitted(about, PLAIN, x + room - rows[0]), rows[0], top - 9.4, PLAIN)
    sheet.label(fitted(words, SMALL, right - rows[1]), rows[1], top - 13.4, SMALL)
    sheet.line([[left, top - HEAD + 1.0], [right, top - HEAD + 1.0]], Pen.RULE)


def strips_in_words(strips: Sequence[int], count: int) -> str:
    """Return "strips 1 to 4, 9 of 54", or "whole front"."""
    if not strips:
        return f"whole front, {count} strips"
    runs: list[list[int]] = []
    for number in sorted(set(strips)):
        if runs and number == runs[-1][-1] + 1:
            runs[-1].append(number)
        else:
            runs.append([number])
    parts = [str(run[0]) if len(run) == 1 else f"{run[0]} to {run[-1]}" for run in runs]
    return f"strip{'s' if len(set(strips)) > 1 else ''} {', '.join(parts)} of {count}"


def _top_arrow(sheet: Drawing, top: Top, left: float, upper: float) -> float:
    """Draw where TOP is, and return how much room that takes."""
    if top is Top.UP:
        middle = left + 4.5
        sheet.shape([[middle, upper], [middle - 3.6, upper - 6.4], [middle + 3.6, upper - 6.4]], Pen.SOLID, "top-arrow")
        sheet.label("TOP", middle, upper - 10.4, PLAIN, Anchor.MIDDLE, bold=True)
        return 10.0
    words = ("TOP, LEFT sides", "TOP, RIGHT sides") if top is Top.BOTH_SIDES else ("TOP",)
    wide = max(text_width(word, SMALL, bold=True) for word in words) + 8.5
    for row, word in enumerate(words):
        y = upper - 4.6 - 5.4 * row
        left_arrow = row == 0
        tip, back = (left, left + 6.4) if left_arrow else (left + wide, left + wide - 6.4)
        sheet.shape([[tip, y + 1.1], [back, y + 3.6], [back, y - 1.4]], Pen.SOLID, "top-arrow")
        sheet.label(
            word, back + 1 if left_arrow else back - 1, y, SMALL, Anchor.START if left_arrow else Anchor.END, bold=True
        )
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


def _foot(sheet: Drawing, ruler: Ruler, front: Front, heading: Heading, left: float, right: float, base: float) -> None:
    rule, words = rule_length(ruler), "100 mm" if ruler.unit is Unit.MM else "4 in"
    y = base + 8.3
    _rule(sheet, ruler, np.array([left, y]), np.array([1.0, 0.0]), rule, "rule-along")
    x = left + rule + 2.0
    x += sheet.label(words, x, y, PLAIN, bold=True) + 3
    sheet.label(fitted(_TOLD[heading.cleared], SMALL, right - x), x, y, SMALL)
    # What a sheet's own key does not say in words, the row above the rule does.
    above = heading.laying or (allowance_words(front) if heading.key else "")
    sheet.label(fitted(above, SMALL, right - COLUMN - left), left, base + 12.6, SMALL)
    row = base + 4.4
    sheet.label(fitted(heading.caution, SMALL, right - left), left, base + 0.6, SMALL)
    if not heading.key:
        sheet.label(fitted(allowance_words(front), SMALL, right - left), left, row, SMALL)
        return
    for pen, meaning in heading.key:
        sheet.line([[left, row + 0.9], [left + 8, row + 0.9]], pen, "key")
        left += 9.2 + sheet.label(meaning, left + 9.2, row, SMALL) + 3


def _rule_up(sheet: Drawing, ruler: Ruler, page: Page) -> None:
    """Draw the rule up the right side, from the foot of the room."""
    rule, words = rule_length(ruler), "100 mm" if ruler.unit is Unit.MM else "4 in"
    x, y = page.width - page.aside - 0.3, page.ends + FOOT
    _rule(sheet, ruler, np.array([x, y]), np.array([0.0, 1.0]), rule, "rule-up")
    sheet.label(words, x - 4.2, y + rule / 2, PLAIN, Anchor.MIDDLE, bold=True, turn=90)


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
