"""Blank: does the relief fit under the raw face, is wood bought for nothing, does the saw stay clear of the face?"""

from __future__ import annotations

from facade.checks.finding import Finding, Weight
from facade.front import Front
from facade.slicer import Strip


def check(front: Front) -> list[Finding]:
    """Return what does not fit in the blank, or leaves some of it unused."""
    return [*_cut_off(front), *_unused(front), *_sawn_into(front)]


def _cut_off(front: Front) -> list[Finding]:
    if front.surface.fitted.reach[1] <= front.surface.highest + 1e-6:
        return []
    tallest, worst = 0.0, None
    for strip in front.strips():
        above = front.surface.wanted(strip.x[None, :], strip.y[:, None]) - front.surface.highest
        if float(above.max()) > tallest + 1e-6:
            tallest, worst = float(above.max()), (strip, divmod(int(above.argmax()), len(strip.x)))
    if worst is None:
        return []
    strip, (row, column) = worst
    show, from_top = front.job.ruler.text, float(strip.from_top[row])
    return [
        Finding(
            "blank",
            Weight.LOOK,
            f"The relief rises {show(tallest, 2)} above what the blank leaves after sanding, on strip {strip.number} "
            f"{show(from_top)} from the top, and was cut off flat there.",
            strip=strip.number,
            door=strip.place.door,
            from_top=from_top,
            from_left=float(strip.x[column] - strip.place.left),
            value=front.surface.highest + tallest,
            limit=front.surface.highest,
            source="measured on the surface",
            cure=f'Use blanks {show(tallest, 2)} thicker, or fit the relief with fit = "full" or "depth".',
        )
    ]


def _unused(front: Front) -> list[Finding]:
    show = front.job.ruler.text
    thickest = max(strip.thickest.height for strip in front.strips())
    spare = front.surface.highest - thickest
    if spare < 0.5:
        return []
    return [
        Finding(
            "blank",
            Weight.KNOW,
            f"No place is thicker than {show(thickest)}: blanks {show(spare)} thinner would do.",
            value=thickest,
            limit=front.surface.highest,
            source="measured on the surface",
            cure=f"Set wood.blank to {show(front.job.wood.blank - spare)}, if the boards allow it.",
        )
    ]


def _sawn_into(front: Front) -> list[Finding]:
    worst: Strip | None = max(front.strips(), key=lambda one: one.sawn_below_face, default=None)
    if worst is None or worst.sawn_below_face <= 0:
        return []
    show, cut = front.job.ruler.text, worst.sawn_below_face
    return [
        Finding(
            "blank",
            Weight.LOOK,
            f"Strip {worst.number} bulges between its edges: a straight cut along the saw line would go {show(cut, 2)} "
            "into the finished face.",
            strip=worst.number,
            door=worst.place.door,
            value=cut,
            limit=0.0,
            source="measured on the surface",
            cure=f"Raise wood.sawing by {show(cut + front.job.wood.sanding, 2)}, or make strips narrower.",
        )
    ]
