"""Depth holes as they are read: every hole at the setting of the stop that stands beside it, held against the finished surface."""

from __future__ import annotations

import math
import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np

from facade.arrays import Array
from facade.layout import StripPlace
from facade.proof.starts import start_of
from facade.proof.svg import Line, Sheet, Word
from facade.proof.truth import ROUNDING, Truth

# A twist drill's point takes up its half diameter over the tangent of half its angle, 118 degrees, as the sheets say.
_HALF_POINT = math.tan(math.radians(118.0 / 2))
# Room that a map takes beside, below and above the face, mm.
ASIDE_LEFT, ASIDE_RIGHT, BELOW, ABOVE = 1.0, 5.0, 3.75, 3.65
_SETTING = re.compile(r"Stop (\d+): ([\d /.]+) (mm|in) \(\d+ holes?\)")
_RUN = 25  # points of a drawn circle
_DIRECTIONS = np.linspace(0.0, 2.0 * np.pi, 16, endpoint=False)


@dataclass(frozen=True)
class HolesRead:
    """What came of the map of one strip: its holes, and the least wood between one and the finished face, mm."""

    strip: int
    holes: int
    least: float | None
    faults: tuple[str, ...]


def settings_in(sheets: Iterator[Sheet], truth: Truth) -> dict[int, float]:
    """Return the depths, mm, that the lists on sheets give to the numbers of the stop."""
    found: dict[int, float] = {}
    for sheet in sheets:
        found |= {int(number): truth.read_number(depth) for number, depth, _ in _SETTING.findall(sheet.text)}
        if any(line.kind == "left-edge" for line in sheet.lines):
            # The lists come first: behind them are maps alone.
            break
    return found


def compare_holes(sheet: Sheet, truth: Truth, settings: dict[int, float]) -> Iterator[HolesRead]:
    """Yield what comes of every map of holes on a sheet in true mm; `settings` are the depths of the stop by its numbers."""
    for edge in sheet.lines:
        if edge.kind == "left-edge":
            holes = _holes_on(sheet, edge)
            if holes is not None:
                yield _compare(sheet, edge, holes, truth, settings)


def _holes_on(sheet: Sheet, edge: Line) -> Line | None:
    """Return the holes between a map's left edge and its right edge, None where it has none."""
    other = next((line for line in sheet.lines if (line.kind, line.turn) == ("right-edge", edge.turn)), edge)
    low, high = np.vstack([edge.points, other.points]).min(axis=0), np.vstack([edge.points, other.points]).max(axis=0)
    inside = (line for line in sheet.lines if line.kind == "holes")
    return next((line for line in inside if (line.points >= low).all() and (line.points <= high).all()), None)


def _compare(sheet: Sheet, edge: Line, holes: Line, truth: Truth, settings: dict[int, float]) -> HolesRead:
    left, right, base = float(edge.points[:, 0].min()), float(edge.points[:, 0].max()), float(edge.points[0, 1])
    place = _place(sheet.words, left, right, base, truth)
    if place is None:
        return HolesRead(0, 0, None, ("a map of holes names no strip",))
    row = _near(sheet.words, left - ASIDE_LEFT, right + ASIDE_RIGHT, base - BELOW - 0.1, base)
    start = start_of(row, left, place, truth)
    if start is None:
        return HolesRead(place.number, 0, None, (f"{place.number}: a map of holes says not where it starts",))
    runs = holes.points.reshape(-1, _RUN, 2)
    middles, radius = runs[:, :-1].mean(axis=1), float(np.ptp(runs[0, :, 0])) / 2
    low, high = base - 2.0, float(runs[..., 1].max()) + 2.0
    digits = [word for word in sheet.words if word.text.isdigit() and low <= word.y <= high]
    depths = [_depth(middle, radius, digits, settings) for middle in middles]
    faults = [f"{place.number}: a hole has no setting of the stop"] if None in depths else []
    known = np.array([depth is not None for depth in depths])
    from_top, from_left = start + middles[known, 0] - left, middles[known, 1] - base
    if not len(from_top):
        return HolesRead(place.number, 0, None, tuple(faults))
    left_over = _left_over(
        from_top, from_left, np.array([depth for depth in depths if depth is not None]), radius, place, truth
    )
    worst = int(left_over.argmin())
    if left_over[worst] < -ROUNDING:
        faults.append(
            f"{place.number}: the hole {truth.length(float(from_top[worst]))} from the top goes "
            f"{truth.length(-float(left_over[worst]))} into the finished face"
        )
    return HolesRead(place.number, len(from_top), float(left_over[worst]), tuple(faults))


def _near(words: tuple[Word, ...], left: float, right: float, low: float, high: float) -> Iterator[Word]:
    return (word for word in words if left <= word.x <= right and low <= word.y <= high)


def _place(words: tuple[Word, ...], left: float, right: float, base: float, truth: Truth) -> StripPlace | None:
    """Return the strip that the head of a map names: its number stands right of TOP, above the map."""
    near = [word for word in words if left - ASIDE_LEFT <= word.x <= right + ASIDE_RIGHT and word.y >= base]
    tops = [word for word in near if word.text == "TOP"]
    numbers = [word for word in near if word.text.isdigit()]
    for place in truth.front.layout.strips if tops else ():
        low, high = base + place.width, base + place.width + ABOVE
        left_of = [word.x for word in tops if low <= word.y <= high]
        said = str(place.number)
        if left_of and any(word.text == said and low <= word.y <= high and word.x > left_of[0] for word in numbers):
            return place
    return None


def _depth(middle: Array, radius: float, words: Sequence[Word], settings: dict[int, float]) -> float | None:
    """Return how deep a hole is, by the number that stands right beside it."""
    beside = [
        word
        for word in words
        if word.text.isdigit() and 0.0 < word.x - middle[0] - radius < 1.0 and abs(word.y - middle[1]) < 2.0
    ]
    return settings.get(int(beside[0].text)) if len(beside) == 1 else None


def _left_over(
    from_top: Array, from_left: Array, depths: Array, radius: float, place: StripPlace, truth: Truth
) -> Array:
    """Return how much wood stands between each hole (n,) and the finished face, mm: under its point, and round its rim."""
    blank, surface = truth.front.job.blank, truth.front.surface
    x, y = place.left + from_left, place.top - from_top
    under = blank - depths - surface.at(x, y)
    round_x, round_y = x[:, None] + radius * np.cos(_DIRECTIONS), y[:, None] + radius * np.sin(_DIRECTIONS)
    rim = blank - depths + radius / _HALF_POINT - surface.at(round_x, round_y).max(axis=1)
    least: Array = np.minimum(under, rim)
    return least
