"""Handling: does a bare strip break or whip while it is carved and carried, before it is mounted?"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from facade.checks.finding import Finding, Weight
from facade.checks.trying import Change, Ways, asked, raised_floor, tried, with_cures
from facade.checks.words import told_apart
from facade.doors.timber import Timber, timber_of
from facade.front import Front
from facade.job import Fit, Job
from facade.lengths import MM_PER_INCH, Unit
from facade.measuring import Measures
from facade.surface import pull_share

PUSH = 10.0  # N, a light push at mid-span: about what a disc is led with
_MOST_OF_RELIEF = 0.5  # a cure that takes more of the relief is none
_TRIED = 4  # strips that more wood is tried on, the weakest first
_MARGIN = 1.01  # on thicknesses: slanting sections gain a little less from more wood than even ones


def check(front: Front) -> list[Finding]:
    """Return the strips that break or whip too easily, and whether they are short for machines."""
    timber = timber_of(front.job)
    found = [
        finding
        for one in front.measures()
        for finding in (_breaks(front, one, timber), _whips(front.job, one, timber))
        if finding is not None
    ]
    return [*with_cures(front, found, lambda worst, some: _ways(front, timber, worst, some)), *_short(front)]


def _breaks(front: Front, one: Measures, timber: Timber) -> Finding | None:
    job = front.job
    force = one.bending.breaking_force(timber.strength)
    wanted, least = job.limit("break_force"), job.limit("break_force_least")
    if force >= max(wanted.value, least.value):
        return None
    stops, under = force < least.value, _under_pull(front, one)
    limit, show = least if stops else wanted, job.ruler.text
    weight = Weight.STOPS if stops else Weight.LOOK
    return Finding(
        "handling",
        Weight.KNOW if job.carving.board else weight,
        f"Strip {one.number}, resting on its ends, breaks {show(one.bending.from_top, 0)} from the top, where it is "
        f"{show(one.bending.thickness)} thick{under}, under {_newtons(force, limit.value)} at its middle: less than {limit.value:g} N "
        f"{'breaks in the hand' if stops else 'wants care'} (average, clear wood: a knot halves it or worse).{_on_board(job)}",
        topic="breaks",
        strip=one.number,
        door=one.door,
        from_top=one.bending.from_top,
        from_left=one.width / 2,
        value=force,
        limit=limit.value,
        unit="N",
        source=limit.source,
    )


def _under_pull(front: Front, one: Measures) -> str:
    """Return the pull that takes the wood where a strip breaks, in words."""
    strip = front.layout.strip(one.number)
    x, y = (
        np.array([[strip.left, (strip.left + strip.right) / 2, strip.right]]),
        np.array([[strip.top - one.bending.from_top]]),
    )
    pulls = (n for n, pull in enumerate(front.job.pulls, start=1) if float(pull_share(pull, x, y).max()) > 0.0)
    return next((f" under pull {number}" for number in pulls), "")


def _on_board(job: Job) -> str:
    """Return what is assumed where the maker says that strips are carved on a carving board."""
    return " Carved on a carving board it never rests on its ends (carving.board)." if job.carving.board else ""


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
        Weight.KNOW if job.carving.board else Weight.LOOK,
        f"Strip {one.number}, resting on its ends, bends by {bent} under {PUSH:g} N at its middle: more than {most} whips under "
        f"the disc (average, clear wood).{_on_board(job)}",
        topic="whips",
        strip=one.number,
        door=one.door,
        from_top=one.length / 2,
        from_left=one.width / 2,
        value=deflection,
        limit=limit.value,
        source=limit.source,
        caution="A strip that springs lets a disc grab and throws it back: screw it down along its whole length, never hold it by "
        "hand; guard on, both hands on the tool. The tool's manual, local rules and trained practice come first.",
    )


def _strong(one: Measures, timber: Timber, force: float) -> float:
    """Return the thickness, mm, of an even strip of its length and width that breaks under `force`: 4 MOR S / L, S = b h^2 / 6."""
    return math.sqrt(1.5 * force * one.length / (timber.strength * one.width))


def _stiff(one: Measures, timber: Timber, deflection: float) -> float:
    """Return the thickness, mm, of an even strip of its length and width that bends so far: P L^3 / (48 E I), I = b h^3 / 12."""
    return one.length * math.cbrt(PUSH / (4.0 * timber.stiffness * one.width * deflection))


@dataclass(frozen=True)
class _Asked:
    """What one kind of finding asks of a strip: how thick an even strip would have to be, and how near rests."""

    even: float
    wanted: float
    span: float


def _asked(one: Measures, job: Job, timber: Timber, topic: str) -> _Asked:
    bending = one.bending
    if topic == "breaks":
        force = bending.breaking_force(timber.strength)
        cleared = max(job.limit("break_force").value, job.limit("break_force_least").value)
        span = 4.0 * timber.strength * bending.least_modulus / cleared
        return _Asked(_strong(one, timber, force), _strong(one, timber, cleared), span)
    most = job.limit("whip").value
    even, wanted = (_stiff(one, timber, bent) for bent in (bending.deflection(PUSH, timber.stiffness), most))
    return _Asked(even, wanted, math.cbrt(48.0 * timber.stiffness * bending.least_inertia * most / PUSH))


def _ways(front: Front, timber: Timber, worst: Finding, some: list[Finding]) -> Ways:
    """Return what clears all strips of a kind: more wood where it leaves most of the relief, and a carving board with rests."""
    job = front.job
    numbers = [one.strip or 1 for one in sorted(some, key=lambda one: -one.beyond)]
    asked_of = [_asked(front.measures_of(number), job, timber, worst.topic) for number in numbers]
    span = _round_span(job, min(one.span for one in asked_of))
    rests = f"with rests at most {span} apart under a strip whenever it is off that board, until it is mounted"
    if job.carving.board:
        return [rests.replace("with rests", "put rests").replace("that board", "its board")], []
    weakest = max(asked_of, key=lambda one: one.wanted - one.even)
    wood = [
        change.words(job)
        for change in _more_wood(job, weakest.even, weakest.wanted * _MARGIN)
        if _clears(front, change, worst.topic, numbers[:_TRIED])
    ]
    on_board = Change(
        {"carving.board": True}, after=f", and carve the strips screwed to a carving board all along, {rests}"
    )
    return [*wood, on_board.words(job)], []


def _clears(front: Front, change: Change, topic: str, numbers: list[int]) -> bool:
    """Return whether strips neither break nor whip, as the topic has it, with a change; tried on some of them."""
    after = tried(front, change)
    return after is not None and not any(one.topic == topic for one in asked(after, check, numbers))


def _more_wood(job: Job, even: float, wanted: float) -> list[Change]:
    """Return the wood that clears a strip; nothing where most of the relief would be lost.

    The strip does as well as an even one `even` mm thick and should do as well as one of `wanted`. What is added to all its
    heights counts at least as if it were added to that: bending by Minkowski's inequality for powers below 1, breaking since
    most thickness is wanted at mid-span.
    """
    ruler, highest, floor = job.ruler, job.highest, job.wood.floor
    if job.carving.fit is Fit.AS_GIVEN:
        return [raised_floor(job, ruler.up(wanted))] if wanted <= (highest + even) / 2 else []
    # All heights drawn towards the face by this share.
    share = (wanted - even) / (highest - even) if highest > even else 1.0
    if share > _MOST_OF_RELIEF:
        return []
    if job.carving.fit is Fit.FULL:
        return [raised_floor(job, ruler.up(floor + share * (highest - floor)))]
    shallow = ruler.down((1.0 - share) * float(job.carving.depth or 0.0))
    return [
        Change({"wood.blank": ruler.up(job.wood.blank + wanted - even)}),
        *([Change({"carving.depth": shallow})] if shallow > 0.0 else []),
    ]


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
