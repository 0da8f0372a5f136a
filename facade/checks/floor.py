"""Floor: is any place too thin to hold, and does the floor cut the relief off?"""

from __future__ import annotations

from facade.checks.finding import Finding, Weight
from facade.front import Front
from facade.rules import rule, rules
from facade.slicer import Strip


def check(front: Front) -> list[Finding]:
    """Return what is too thin, at the thinnest place of the front."""
    strip = min(front.strips(), key=lambda one: one.thinnest.height)
    return [*_thin(front, strip), *_cut_off(front)]


def _thin(front: Front, strip: Strip) -> list[Finding]:
    show, spot = front.job.ruler.text, strip.thinnest
    for weight, name, words in (
        (Weight.STOPS, "thin_least", "breaks in the hand"),
        (Weight.LOOK, "thin_glued", "is thin even for a glued strip"),
        (Weight.LOOK, "thin_screwed", "is thin for a strip held by screws"),
    ):
        limit = rule(name)
        if spot.height < limit - 1e-6:
            return [
                Finding(
                    "floor",
                    weight,
                    f"Strip {strip.number} is {show(spot.height)} thick {show(spot.from_top)} from the top: "
                    f"less than {show(limit)} {words} ({rules()[name].kind}).",
                    strip=strip.number,
                    door=strip.place.door,
                    from_top=spot.from_top,
                    from_left=spot.from_left,
                    value=spot.height,
                    limit=limit,
                    source=rules()[name].kind,
                    cure=f"Raise wood.floor to {show(limit)}, or use a thicker blank.",
                )
            ]
    return []


def _cut_off(front: Front) -> list[Finding]:
    """Say where the relief, as it was given, would go below the floor and so was cut off flat."""
    if front.surface.fitted.reach[0] >= front.surface.floor - 1e-6:
        return []
    deepest, worst = 0.0, None
    for strip in front.strips():
        below = front.surface.floor - front.surface.wanted(strip.x[None, :], strip.y[:, None])
        if float(below.max()) > deepest + 1e-6:
            deepest, worst = float(below.max()), (strip, divmod(int(below.argmax()), len(strip.x)))
    if worst is None:
        return []
    strip, (row, column) = worst
    show, from_top = front.job.ruler.text, float(strip.from_top[row])
    return [
        Finding(
            "floor",
            Weight.LOOK,
            f"The relief goes {show(deepest, 2)} below the floor on strip {strip.number}, {show(from_top)} from the top, "
            "and was cut off flat there.",
            strip=strip.number,
            door=strip.place.door,
            from_top=from_top,
            from_left=float(strip.x[column] - strip.place.left),
            value=front.surface.floor - deepest,
            limit=front.surface.floor,
            source="measured on the surface",
            cure=f'Lower the floor by {show(deepest, 2)}, or fit the relief with fit = "full" or "depth".',
        )
    ]
