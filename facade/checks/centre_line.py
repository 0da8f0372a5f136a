"""Centre line: on which strips is a straight face between the two edge lines too far from the relief?"""

from __future__ import annotations

from facade.checks.finding import Finding, Weight
from facade.front import Front
from facade.rules import rule, rules
from facade.slicer import wants_centre_line


def check(front: Front) -> list[Finding]:
    """Return the strips on which a centre line is worth tracing, as one finding."""
    strips = [strip for strip in front.measures() if wants_centre_line(strip.ruler_error)]
    if not strips:
        return []
    show, limit = front.job.ruler.text, rule("centre_line")
    worst = max(strips, key=lambda strip: strip.ruler_error)
    which = f"strip {strips[0].number}" if len(strips) == 1 else f"strips {runs([strip.number for strip in strips])}"
    others = "; on the others a straight edge across the strip is enough."
    return [
        Finding(
            "centre line",
            Weight.KNOW,
            f"On {which} a straight face between the edge lines is more than {show(limit)} off, at most "
            f"{show(worst.ruler_error, 2)} on strip {worst.number}.",
            strip=worst.number,
            door=worst.door,
            value=worst.ruler_error,
            limit=limit,
            source=rules()["centre_line"].kind,
            cure="Trace a centre line there too" + ("." if len(strips) == front.count else others),
        )
    ]


def runs(numbers: list[int]) -> str:
    """Return rising numbers with runs drawn together: "1 to 4, 7 and 9"."""
    groups: list[list[int]] = []
    for number in numbers:
        if groups and groups[-1][-1] == number - 1:
            groups[-1].append(number)
        else:
            groups.append([number])
    words = [str(group[0]) if len(group) == 1 else f"{group[0]} to {group[-1]}" for group in groups]
    return " and ".join([", ".join(words[:-1]), words[-1]]) if len(words) > 1 else words[0]
