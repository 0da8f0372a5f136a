"""Blank: is wood bought for nothing, and does the saw stay clear of the finished face?"""

from __future__ import annotations

from facade.checks.cures import length, setting, ways
from facade.checks.finding import Finding, Weight
from facade.front import Front
from facade.job import Fit


def check(front: Front) -> list[Finding]:
    """Return what of the blank is unused, and where a straight saw cut would go too deep."""
    return [*_unused(front), *_sawn_into(front)]


def _unused(front: Front) -> list[Finding]:
    show = front.job.ruler.text
    thickest = max(strip.thickest.height for strip in front.measures())
    spare = front.surface.highest - thickest
    if spare < 0.5:
        return []
    blank = front.job.ruler.up(front.job.wood.blank - spare)
    return [
        Finding(
            "blank",
            Weight.KNOW,
            f"No place is thicker than {show(thickest)}: blanks {show(spare)} thinner would do.",
            topic="unused",
            value=thickest,
            limit=front.surface.highest,
            source="measured on the surface",
            cure=ways(_thinner(front, blank)),
        )
    ]


def _thinner(front: Front, blank: float) -> str:
    """Return the blank that is enough, as a setting where the relief stays as it is: fitted to the blank, it would change with it."""
    job = front.job
    from_face = any(land.height is None for land in job.lands) or any(fade.height is None for fade in job.fades)
    room = blank - job.wood.sanding - job.wood.floor
    if job.carving.fit is Fit.AS_GIVEN and not from_face and room > 0.0:
        return f"if the boards allow it, take thinner blanks: {setting('wood.blank', length(job, blank))}"
    return "carve nearer to the face, or take thinner blanks, to which the relief is then fitted anew"


def _sawn_into(front: Front) -> list[Finding]:
    worst = max(front.measures(), key=lambda one: one.sawn_below_face)
    if worst.sawn_below_face <= 0:
        return []
    show, cut = front.job.ruler.text, worst.sawn_below_face
    sawing = front.job.ruler.up(front.job.wood.sawing + cut + front.job.wood.sanding)
    return [
        Finding(
            "blank",
            Weight.LOOK,
            f"Strip {worst.number} bulges between its edges: a straight cut along the saw line would go {show(cut, 2)} "
            "into the finished face.",
            topic="sawn into",
            strip=worst.number,
            door=worst.door,
            value=cut,
            source="measured on the surface",
            cure=ways(
                f"leave more for the saw: {setting('wood.sawing', length(front.job, sawing))}",
                "make strips narrower",
            ),
        )
    ]
