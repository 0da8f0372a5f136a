"""Cut off: would the relief, as it was given, go below the floor or out of the blank?"""

from __future__ import annotations

from facade.checks.finding import Finding, Weight
from facade.front import Front


def check(front: Front) -> list[Finding]:
    """Return where floor and face cut the relief off flat, the worst place of each."""
    low, high = front.surface.fitted.reach
    found = []
    if low < front.surface.floor - 1e-6:
        found += _worst(front, -1.0, front.surface.floor, "goes {} below the floor", "Lower the floor by {}")
    if high > front.surface.highest + 1e-6:
        found += _worst(
            front,
            1.0,
            front.surface.highest,
            "rises {} above what the blank leaves after sanding",
            "Use blanks {} thicker",
        )
    return found


def _worst(front: Front, sign: float, limit: float, words: str, cure: str) -> list[Finding]:
    """Return the place where the relief goes furthest beyond a limit, upwards (sign 1) or downwards (-1)."""
    furthest, place = 1e-6, None
    for strip in front.strips():
        beyond = sign * (front.surface.wanted(strip.x[None, :], strip.y[:, None]) - limit)
        if float(beyond.max()) > furthest:
            furthest, place = float(beyond.max()), (strip, divmod(int(beyond.argmax()), len(strip.x)))
    if place is None:
        return []
    strip, (row, column) = place
    show, from_top = front.job.ruler.text, float(strip.from_top[row])
    return [
        Finding(
            "cut off",
            Weight.LOOK,
            f"The relief {words.format(show(furthest, 2))} on strip {strip.number}, {show(from_top)} from the top, "
            "and was cut off flat there.",
            strip=strip.number,
            door=strip.place.door,
            from_top=from_top,
            from_left=float(strip.x[column] - strip.place.left),
            value=limit + sign * furthest,
            limit=limit,
            source="measured on the surface",
            cure=_cure(cure.format(show(furthest, 2)), furthest < limit / 2),
        )
    ]


def _cure(less: str, within_reason: bool) -> str:
    fit = 'fit the relief with fit = "full" or "depth"'
    return f"{less}, or {fit}." if within_reason else f"{fit[:1].upper()}{fit[1:]}."
