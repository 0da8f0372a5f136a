"""Centre line: on which strips is a straight face between the two edge lines too far from the relief?"""

from __future__ import annotations

from facade.checks.finding import Finding, Weight, runs
from facade.front import Front


def check(front: Front) -> list[Finding]:
    """Return the strips on which a centre line is worth tracing, as one finding."""
    show, limit = front.job.ruler.text, front.job.limit("centre_line")
    strips = [strip for strip in front.measures() if strip.ruler_error > limit.value]
    if not strips:
        return []
    worst = max(strips, key=lambda strip: strip.ruler_error)
    which = f"strip {strips[0].number}" if len(strips) == 1 else f"strips {runs([strip.number for strip in strips])}"
    others = "; on the others a straight edge across the strip is enough."
    return [
        Finding(
            "centre line",
            Weight.KNOW,
            f"On {which} a straight face between the edge lines is more than {show(limit.value)} off, at most "
            f"{show(worst.ruler_error, 2)} on strip {worst.number}.",
            topic="centre line",
            strip=worst.number,
            door=worst.door,
            value=worst.ruler_error,
            limit=limit.value,
            source=limit.source,
            cure="Trace a centre line there too" + ("." if len(strips) == front.count else others),
        )
    ]
