"""Fold-round templates as they are read: the lines of both sides of a strip, held against the surface."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from facade.arrays import Array
from facade.layout import StripPlace
from facade.proof.compared import spread_along
from facade.proof.sides import ALLOWED, ASIDE_LEFT, ASIDE_RIGHT, LINES, KnownSurface, SideRead, guess_line, line_off
from facade.proof.starts import start_of
from facade.proof.svg import Line, Sheet, Word
from facade.proof.truth import Truth

_BELOW = 5.6  # mm under the back in which the places stand
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
    known = [number for number in numbers if 1 <= number <= truth.front.count]
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
        yield _side(read, side, place, truth)


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
