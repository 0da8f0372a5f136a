"""Handling: does a bare strip break or whip while it is carved and carried, before it is mounted?"""

from __future__ import annotations

import math

from facade.checks.finding import Finding, Weight
from facade.checks.words import at_least, at_most, told_apart
from facade.doors.timber import Timber, timber_of
from facade.front import Front
from facade.job import Fit, Job
from facade.lengths import MM_PER_INCH, Unit
from facade.measuring import Measures

PUSH = 10.0  # N, a light push at mid-span: about what a disc is led with
_MOST_OF_RELIEF = 0.5  # a cure that takes more of the relief is none
_MARGIN = 1.01  # on thicknesses: slanting sections gain a little less from more wood than even ones


def check(front: Front) -> list[Finding]:
    """Return the strips that break or whip too easily, and whether they are short for machines."""
    timber = timber_of(front.job)
    found = [
        finding
        for one in front.measures()
        for finding in (_breaks(front.job, one, timber), _whips(front.job, one, timber))
    ]
    return [*(finding for finding in found if finding), *_short(front)]


def _breaks(job: Job, one: Measures, timber: Timber) -> Finding | None:
    force = one.bending.breaking_force(timber.strength)
    wanted, least = job.limit("break_force"), job.limit("break_force_least")
    if force >= max(wanted.value, least.value):
        return None
    stops = force < least.value
    limit, show = least if stops else wanted, job.ruler.text
    cleared = max(wanted.value, least.value)
    return Finding(
        "handling",
        Weight.STOPS if stops else Weight.LOOK,
        f"Strip {one.number}, resting on its ends, breaks {show(one.bending.from_top, 0)} from the top, where it is "
        f"{show(one.bending.thickness)} thick, under {_newtons(force, limit.value)} at its middle: less than {limit.value:g} N "
        f"{'breaks in the hand' if stops else 'wants care'} (average, clear wood: a knot halves it or worse).",
        topic="breaks",
        strip=one.number,
        door=one.door,
        from_top=one.bending.from_top,
        from_left=one.width / 2,
        value=force,
        limit=limit.value,
        unit="N",
        source=limit.source,
        cure=_cure(
            job,
            even=_strong(one, timber, force),
            wanted=_strong(one, timber, cleared),
            span=4.0 * timber.strength * one.bending.least_modulus / cleared,
        ),
    )


def _newtons(force: float, limit: float) -> str:
    """Return a force in words, with more decimals where it would read as its limit."""
    return f"{force:.0f} N" if f"{force:.0f}" != f"{limit:.0f}" else f"{force:.2f} N"


def _whips(job: Job, one: Measures, timber: Timber) -> Finding | None:
    deflection, limit = one.bending.deflection(PUSH, timber.stiffness), job.limit("whip")
    if deflection <= limit.value:
        return None
    bent, most = told_apart(job.ruler, deflection, limit.value)
    return Finding(
        "handling",
        Weight.LOOK,
        f"Strip {one.number}, resting on its ends, bends by {bent} under {PUSH:g} N at its middle: more than {most} whips under "
        "the disc (average, clear wood).",
        topic="whips",
        strip=one.number,
        door=one.door,
        from_top=one.length / 2,
        from_left=one.width / 2,
        value=deflection,
        limit=limit.value,
        source=limit.source,
        cure=_cure(
            job,
            even=_stiff(one, timber, deflection),
            wanted=_stiff(one, timber, limit.value),
            span=math.cbrt(48.0 * timber.stiffness * one.bending.least_inertia * limit.value / PUSH),
        ),
        caution="A strip that springs lets a disc grab and throws it back: screw it down along its whole length, never hold it by "
        "hand; guard on, both hands on the tool. The tool's manual, local rules and trained practice come first.",
    )


def _strong(one: Measures, timber: Timber, force: float) -> float:
    """Return the thickness, mm, of an even strip of its length and width that breaks under `force`: 4 MOR S / L, S = b h^2 / 6."""
    return math.sqrt(1.5 * force * one.length / (timber.strength * one.width))


def _stiff(one: Measures, timber: Timber, deflection: float) -> float:
    """Return the thickness, mm, of an even strip of its length and width that bends so far: P L^3 / (48 E I), I = b h^3 / 12."""
    return one.length * math.cbrt(PUSH / (4.0 * timber.stiffness * one.width * deflection))


def _cure(job: Job, *, even: float, wanted: float, span: float) -> str:
    """Return what clears a strip: more wood, or rests at most `span` mm apart.

    The strip does as well as an even one `even` mm thick and should do as well as one of `wanted`. What is added to all its
    heights counts at least as if it were added to that: bending by Minkowski's inequality for powers below 1, breaking since
    most thickness is wanted at mid-span.
    """
    rests = (
        f"carve it screwed to a carving board, with rests at most {_round_span(job, span)} apart under it whenever it is off, "
        "and keep its ends at full thickness until it is mounted."
    )
    wood = _more_wood(job, even, wanted * _MARGIN)
    return f"{wood}; or {rests}" if wood else f"{rests[0].upper()}{rests[1:]}"


def _more_wood(job: Job, even: float, wanted: float) -> str:
    """Return the wood that clears a strip, in words; nothing where most of the relief would be lost."""
    ruler, highest, floor = job.ruler, job.highest, job.wood.floor
    more = at_least(ruler, wanted - even)
    if job.carving.fit is Fit.AS_GIVEN:
        return f"Give the relief heights that are {more} greater" if wanted <= (highest + even) / 2 else ""
    # All heights drawn towards the face by this share.
    share = (wanted - even) / (highest - even) if highest > even else 1.0
    if share > _MOST_OF_RELIEF:
        return ""
    if job.carving.fit is Fit.FULL:
        return f"Set wood.floor to {at_least(ruler, floor + share * (highest - floor))}"
    shallow = at_most(ruler, (1.0 - share) * float(job.carving.depth or 0.0))
    return f"Use blanks {more} thicker, or set carving.depth to {shallow}"


def _round_span(job: Job, span: float) -> str:
    """Return a distance between rests in words, rounded down to what one marks on a bench."""
    step = 10.0 if job.unit is Unit.MM else MM_PER_INCH / 2.0
    return job.ruler.text(max(1.0, math.floor(span / step)) * step)


def _short(front: Front) -> list[Finding]:
    """Return once whether strips are short for ripping and holding."""
    length, show = min(strip.length for strip in front.layout.strips), front.job.ruler.text
    limit = front.job.limit("short_blank")
    if length >= limit.value:
        return []
    strips = math.ceil(limit.value / length)
    return [
        Finding(
            "handling",
            Weight.KNOW,
            f"Strips are {show(length)} long: stock shorter than {show(limit.value)} is hard to rip, to plane and to hold.",
            topic="short",
            value=length,
            limit=limit.value,
            source=limit.source,
            cure=f"Mill and rip {strips} strips in one length of at least {show(strips * length)}, and cut them apart after.",
            caution="Short stock tips into the blade and is thrown back, and planers do not hold it between their rollers: crosscut it "
            "last, or use a push block made for short stock. Guard and riving knife stay on; the machine's manual, local rules and "
            "trained practice come first.",
        )
    ]
