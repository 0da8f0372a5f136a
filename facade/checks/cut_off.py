"""Cut off: would the relief go below the floor or out of the blank, as it was given or in blanks as they were measured?"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

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
    if front.job.as_built.blank is not None:
        found += _measured(front, front.job.as_built.blank)
    if low < floor - _HAIR:
        found += _worst(front, _Bound(-1.0, floor, "goes {} below the floor", _lower_floor))
    if high > front.job.highest + _HAIR and face == front.job.highest:
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


def _measured(front: Front, blank: float) -> list[Finding]:
    """Return where the carved surface stands above blanks as they were measured, or so high that sanding has less to take.

    The highest place that the design asks for decides: heights from the back hold, whatever the blank.
    """
    job, highest = front.job, None
    for one in front.strips():
        strip = look_closely(job, front.layout, front.surface, one).strip
        wanted = np.minimum(front.surface.wanted(strip.x[None, :], strip.y[:, None]), job.highest)
        if highest is None or float(wanted.max()) > highest[0]:
            highest = float(wanted.max()), strip, divmod(int(wanted.argmax()), len(strip.x))
    if highest is None or highest[0] + job.wood.sanding <= blank + _HAIR:
        return []
    height, strip, (row, column) = highest
    from_top, from_left = float(strip.from_top[row]), float(strip.x[column] - strip.place.left)
    where = f"strip {strip.number}, {place(job.ruler, from_top, from_left)}"
    show, above = job.ruler.fine, height > blank + _HAIR
    sentence = (
        f"Measured blanks of {show(blank)} are too thin: the carved surface stands {show(height)} above the back on {where}, "
        f"{show(height - blank)} above them, and is cut off flat there."
        if above
        else f"Measured blanks of {show(blank)} leave {show(blank - height)} above the finished face on {where}, less than the "
        f"{show(job.wood.sanding)} that sanding may take: stop the cutter at the raw face there, and sand less."
    )
    thicker = setting("as_built.blank", length(job, job.ruler.up(height + job.wood.sanding)))
    refitted = setting("wood.blank", length(job, blank))
    refits = above and job.carving.fit is Fit.FULL and not (job.lands or job.fades or job.caps or job.pulls)
    return [
        Finding(
            "cut off",
            Weight.STOPS if above else Weight.LOOK,
            sentence,
            topic="measured blank",
            strip=strip.number,
            door=strip.place.door,
            from_top=from_top,
            from_left=from_left,
            value=blank,
            limit=height if above else height + job.wood.sanding,
            source="measured on the surface",
            cure=ways(
                f"mill thicker blanks: {thicker}",
                f"carve all strips anew for these: {refitted}" if refits else "",
            ),
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
