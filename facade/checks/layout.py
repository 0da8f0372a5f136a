"""Layout: how the doors were divided, and whether the strips can be made and hung."""

from __future__ import annotations

from facade.checks.finding import Finding, Weight
from facade.front import Front
from facade.layout import layout_notes


def check(front: Front) -> list[Finding]:
    """Return what was solved, and what about widths and gaps wants a look."""
    notes = [Finding("layout", Weight.KNOW, note) for note in layout_notes(front.job, front.layout)]
    return [*_narrow(front), *_tight(front), *notes]


def _narrow(front: Front) -> list[Finding]:
    width, limit = min(strip.width for strip in front.layout.strips), front.job.limit("narrow_strip")
    if width >= limit.value - 1e-6:
        return []
    show = front.job.ruler.text
    return [
        Finding(
            "layout",
            Weight.LOOK,
            f"Strips of {show(width, 2)} are narrow: less than {show(limit.value)} is hard to rip, hold and screw "
            f"({limit.source}).",
            value=width,
            limit=limit.value,
            source=limit.source,
            cure="Take fewer, wider strips. Ripping narrow stock: push block, riving knife, nothing thin between fence and blade.",
        )
    ]


def _tight(front: Front) -> list[Finding]:
    gap = min((division.gap for division in front.layout.divisions if division.count > 1), default=1.0)
    if gap >= 0.5:
        return []
    show = front.job.ruler.text
    return [
        Finding(
            "layout",
            Weight.LOOK,
            f"Gaps of {show(gap, 2)} leave the strips no room to swell: packed tight, they can cup the door "
            "(common practice).",
            value=gap,
            limit=0.5,
            source="rule of thumb",
            cure=f"Leave a gap of {show(2)} to {show(4)}, or hold every strip by screws in wide holes.",
        )
    ]
