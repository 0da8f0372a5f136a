"""Blank: is wood bought for nothing, and does the saw stay clear of the finished face?"""

from __future__ import annotations

from facade.checks.finding import Finding, Weight
from facade.front import Front


def check(front: Front) -> list[Finding]:
    """Return what of the blank is unused, and where a straight saw cut would go too deep."""
    return [*_unused(front), *_sawn_into(front)]


def _unused(front: Front) -> list[Finding]:
    show = front.job.ruler.text
    thickest = max(strip.thickest.height for strip in front.measures())
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
    worst = max(front.measures(), key=lambda one: one.sawn_below_face)
    if worst.sawn_below_face <= 0:
        return []
    show, cut = front.job.ruler.text, worst.sawn_below_face
    return [
        Finding(
            "blank",
            Weight.LOOK,
            f"Strip {worst.number} bulges between its edges: a straight cut along the saw line would go {show(cut, 2)} "
            "into the finished face.",
            strip=worst.number,
            door=worst.door,
            value=cut,
            source="measured on the surface",
            cure=f"Raise wood.sawing by {show(cut + front.job.wood.sanding, 2)}, or make strips narrower.",
        )
    ]
