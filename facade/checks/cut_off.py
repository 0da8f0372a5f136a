"""Cut off: would the relief, as it was given, go below the floor or out of the blank?"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

from facade.checks.cures import length, setting, ways
from facade.checks.finding import Finding, Weight
from facade.checks.words import place, told_apart
from facade.front import Front
from facade.job import Fit
from facade.measuring.close import look_closely

_HAIR = 1e-6
_LEAST_FLOOR, _MOST_BLANK = 1.0, 200.0  # mm, that a job may ask for


@dataclass(frozen=True)
class _Bound:
    """What cuts the relief off: above (sign 1) or below (-1), at which height, in words, and what moves it."""

    sign: float
    height: float
    words: str
    cure: Callable[[Front, float], str]


def check(front: Front) -> list[Finding]:
    """Return where floor and face cut the relief off flat, the worst place of each."""
    low, high = front.surface.fitted.reach
    floor, face = front.surface.floor, front.surface.highest
    found = []
    if low < floor - _HAIR:
        found += _worst(front, _Bound(-1.0, floor, "goes {} below the floor", _lower_floor))
    if high > face + _HAIR:
        found += _worst(front, _Bound(1.0, face, "rises {} above what the blank leaves after sanding", _thicker_blank))
    return found


def _worst(front: Front, bound: _Bound) -> list[Finding]:
    """Return the place where the relief goes furthest beyond a bound."""
    furthest, spot = _HAIR, None
    for one in front.strips():
        strip = look_closely(front.job, front.layout, front.surface, one).strip
        beyond = bound.sign * (front.surface.wanted(strip.x[None, :], strip.y[:, None]) - bound.height)
        if float(beyond.max()) > furthest:
            furthest, spot = float(beyond.max()), (strip, divmod(int(beyond.argmax()), len(strip.x)))
    if spot is None:
        return []
    strip, (row, column) = spot
    from_top, from_left = float(strip.from_top[row]), float(strip.x[column] - strip.place.left)
    by, _ = told_apart(front.job.ruler, furthest, 0.0)
    return [
        Finding(
            "cut off",
            Weight.LOOK,
            f"The relief {bound.words.format(by)} on strip {strip.number}, {place(front.job.ruler, from_top, from_left)}, "
            "and was cut off flat there.",
            topic="floor" if bound.sign < 0 else "blank",
            strip=strip.number,
            door=strip.place.door,
            from_top=from_top,
            from_left=from_left,
            value=bound.height + bound.sign * furthest,
            limit=bound.height,
            source="measured on the surface",
            cure=ways(bound.cure(front, furthest), _fitted(front)),
        )
    ]


def _lower_floor(front: Front, beyond: float) -> str:
    """Return the floor that the relief reaches down to; "" where strips as thin as that would stop the job."""
    job = front.job
    low = min(front.surface.floor - beyond, front.surface.fitted.reach[0])
    floor = job.ruler.down(low)
    if floor < max(_LEAST_FLOOR, job.limit("thin_least").value):
        return ""
    return f"lower the floor: {setting('wood.floor', length(job, floor))}"


def _thicker_blank(front: Front, beyond: float) -> str:
    """Return the blanks that the relief fits into."""
    job = front.job
    high = max(front.surface.highest + beyond, front.surface.fitted.reach[1])
    blank = job.ruler.up(high + job.wood.sanding)
    return f"use thicker blanks: {setting('wood.blank', length(job, blank))}" if blank <= _MOST_BLANK else ""


def _fitted(front: Front) -> str:
    """Return how the relief is brought between floor and face: as deep as it is where there is room, else as deep as there is."""
    job, (low, high) = front.job, front.surface.fitted.reach
    if job.carving.fit is not Fit.AS_GIVEN:
        return ""
    room = front.surface.highest - front.surface.floor
    if high - low >= room:
        return "fit it between floor and face: " + setting("carving.fit", '"full"')
    deep = job.ruler.down(high - low)
    if deep <= 0.0:
        return f"draw it between {job.ruler.text(front.surface.floor)} and {job.ruler.text(front.surface.highest)}"
    fit = setting("carving.fit", '"depth"')
    return f"let it hang from the face as deep as it is: {fit} and {setting('carving.depth', length(job, deep))}"
