"""Floor: is any place too thin to hold?"""

from __future__ import annotations

from facade.checks.finding import Finding, Weight
from facade.front import Front
from facade.rules import rule, rules


def check(front: Front) -> list[Finding]:
    """Return what is too thin, at the thinnest place of the front."""
    strip = min(front.measures(), key=lambda one: one.thinnest.height)
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
                    door=strip.door,
                    from_top=spot.from_top,
                    from_left=spot.from_left,
                    value=spot.height,
                    limit=limit,
                    source=rules()[name].kind,
                    cure=f"Raise wood.floor to {show(limit)}, or use a thicker blank.",
                )
            ]
    return []
