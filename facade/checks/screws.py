"""Screws: does every strip hold two of them, deep enough and well below the carved face?"""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Iterator

from facade.checks.finding import Finding, Weight
from facade.checks.screw_ways import (
    APART,
    FREE,
    HEADS,
    NARROW,
    NO_ROOM,
    SHALLOW,
    SHORT,
    SIDES,
    ScrewWays,
    around,
    widest_stretch,
)
from facade.checks.trying import with_cures
from facade.front import Front
from facade.job import Job
from facade.job.bench import Held
from facade.lengths import MM_PER_INCH, Ruler, Unit
from facade.measuring import Measures
from facade.measuring.screws import (
    Needs,
    NoRoom,
    Screw,
    clearance_hole,
    cover_while_carving,
    length_while_carving,
    needs_of,
    pilot_hole,
    widest_shank,
)
from facade.wood.species import species
from facade.wood.strength import withdrawal

# About so much of the force that pulls a screw out is taken as allowable: Wood Handbook, FPL-GTR-282, chapter 8.
ALLOWABLE = 0.2
_HANDBOOK = "Wood Handbook, FPL-GTR-282, chapter 8"
# Drills of inch sizes come in 1/64 in.
_DRILLS = 64
_HAIR = 1e-4  # mm that count for nothing in wood


def check(front: Front) -> list[Finding]:
    """Return which strips cannot take two screws, which are held poorly, and what screws the front takes."""
    if front.job.fixing.by is not Held.SCREWS:
        return []
    needs, strips = needs_of(front.job), front.measures()
    found = [*_sunk_heads(front.job), *_near_sides(front)]
    for strip in strips:
        if strip.screws.reason is not None:
            found.append(_without_two(front.job, needs, strip))
            continue
        found += [
            *_shallow(front.job, needs, strip),
            *_far_apart(front.job, strip),
            *_loose(front.job, needs, strip),
        ]
    return [*with_cures(front, found, ScrewWays(front, check).of), *_planned(front, strips)]


def _sunk_heads(job: Job) -> Iterator[Finding]:
    """Yield that heads are sunk so deep that too little of the board is left under them."""
    limit, left = job.limit("board_under_head"), job.board.thickness - job.fixing.countersink
    if not job.fixing.countersink or left >= limit.value - _HAIR:
        return
    yield Finding(
        "screws",
        Weight.STOPS if left <= 0.0 else Weight.LOOK,
        f"Heads sunk {_show(job, job.fixing.countersink)} leave {_show(job, max(left, 0.0))} of the board of "
        f"{_show(job, job.board.thickness)} under them: with less than {_show(job, limit.value)} they are drawn into it.",
        topic=HEADS,
        value=left,
        limit=limit.value,
        source=limit.source,
    )


def _without_two(job: Job, needs: Needs, strip: Measures) -> Finding:
    if strip.screws.reason is NoRoom.THIN and strip.screws.room_for_two >= needs.bite - _HAIR:
        return _not_in_stock(job, needs, strip)
    say = {NoRoom.NARROW: _narrow, NoRoom.SHORT: _short, NoRoom.THIN: _thin}
    return say[strip.screws.reason or NoRoom.THIN](job, needs, strip)


def _narrow(job: Job, needs: Needs, strip: Measures) -> Finding:
    limit = job.limit("screw_cover")
    left = max(0.0, strip.width / 2 - needs.radius)
    return Finding(
        "screws",
        Weight.STOPS,
        f"Strip {strip.number} is {_show(job, strip.width)} wide: beside a screw of {_drill(job, 2 * needs.radius)} "
        f"{_show(job, left)} of wood is left, less than {_show(job, limit.value)}.",
        topic=NARROW,
        strip=strip.number,
        door=strip.door,
        value=left,
        limit=limit.value,
        source=limit.source,
    )


def _short(job: Job, needs: Needs, strip: Measures) -> Finding:
    return Finding(
        "screws",
        Weight.STOPS,
        f"Strip {strip.number} is {_show(job, strip.length)} long: two screws that stand {_show(job, needs.end)} from its ends "
        f"and {_show(job, needs.least_apart)} apart find no room.",
        topic=SHORT,
        strip=strip.number,
        door=strip.door,
        value=strip.length,
        limit=2 * needs.end + needs.least_apart,
        source=job.limit("screw_end").source,
    )


def _not_in_stock(job: Job, needs: Needs, strip: Measures) -> Finding:
    """Return that the wood takes two screws, of lengths that the stock does not have."""
    low, high = needs.sunk + needs.bite, needs.sunk + strip.screws.room_for_two
    longer = [one for one in needs.lengths if one > high]
    nearest = min(longer) if longer else max(needs.lengths)
    why = f"one of {_show(job, nearest)} {'comes out of its face or too near it' if longer else 'bites too little'}"
    fitting = _show(job, low) if _show(job, low) == _show(job, high) else f"{_show(job, low)} to {_show(job, high)}"
    return Finding(
        "screws",
        Weight.STOPS,
        f"Strip {strip.number} has wood for two screws {fitting} long, but the stock has none such: {why}.",
        topic=NO_ROOM,
        strip=strip.number,
        door=strip.door,
        from_top=strip.screws.best,
        from_left=strip.width / 2,
        value=nearest,
        limit=high if longer else low,
        source=job.limit("bite_least").source,
    )


def _thin(job: Job, needs: Needs, strip: Measures) -> Finding:
    plan, limit = strip.screws, job.limit("bite_least")
    there = max(0.0, plan.room_for_two + needs.cover)
    return Finding(
        "screws",
        Weight.STOPS,
        f"Strip {strip.number} has no room for two screws: each needs {_show(job, needs.bite + needs.cover)} of wood over a length "
        f"of {_show(job, around(needs))}, {_show(job, needs.bite)} to bite and {_show(job, needs.cover)} over its tip; there is at "
        f"most {_show(job, there)} at two places.",
        topic=NO_ROOM,
        strip=strip.number,
        door=strip.door,
        from_top=plan.best,
        from_left=strip.width / 2,
        value=there,
        limit=needs.bite + needs.cover,
        source=limit.source,
    )


def _near_sides(front: Front) -> Iterator[Finding]:
    job, limit = front.job, front.job.limit("screw_edge")
    for door, division in zip(front.layout.doors, front.layout.divisions, strict=True):
        shanks = division.width / 2 / job.fixing.shank
        if (
            shanks >= limit.value - _HAIR
            or widest_shank(division.width, job.limit("screw_cover").value) < job.fixing.shank - _HAIR
        ):
            continue
        yield Finding(
            "screws",
            Weight.LOOK,
            f"Screws of {_drill(job, job.fixing.shank)} in strips of {_show(job, division.width)} stand {shanks:.1f} shanks from "
            f"the sides: nearer than {limit.value:g} the strip may split.",
            topic=SIDES,
            door=door.number,
            value=shanks,
            limit=limit.value,
            unit="shanks",
            source=limit.source,
        )


def _shallow(job: Job, needs: Needs, strip: Measures) -> Iterator[Finding]:
    """Yield that fewer than two screws of a strip have the bite that is wanted: what is more than two may have less."""
    limit = job.limit("bite_wanted")
    second = sorted(strip.screws.screws, key=lambda screw: -screw.bite)[1]
    if second.bite >= limit.value - _HAIR:
        return
    yield Finding(
        "screws",
        Weight.KNOW,
        f"In strip {strip.number} no two screws bite {_show(job, limit.value)} or more: of {len(strip.screws.screws)} the second "
        f"deepest bites {_show(job, second.bite)}.",
        topic=SHALLOW,
        strip=strip.number,
        door=strip.door,
        from_top=second.from_top,
        from_left=strip.width / 2,
        value=second.bite,
        limit=limit.value,
        source=limit.source,
    )


def _far_apart(job: Job, strip: Measures) -> Iterator[Finding]:
    limit, apart = job.limit("screw_apart"), strip.screws.apart
    if apart <= limit.value + _HAIR:
        return
    above, below = widest_stretch(strip)
    yield Finding(
        "screws",
        Weight.LOOK,
        f"Between {_show(job, above, 0)} and {_show(job, below, 0)} from its top strip {strip.number} is too thin for a "
        f"screw: more than {_show(job, limit.value)} without one.",
        topic=APART,
        strip=strip.number,
        door=strip.door,
        from_top=above + apart / 2,
        value=apart,
        limit=limit.value,
        source=limit.source,
    )


def _loose(job: Job, needs: Needs, strip: Measures) -> Iterator[Finding]:
    """Yield an end that is free over more than half of what may be between two screws."""
    limit, screws = job.limit("screw_apart"), strip.screws.screws
    from_top, from_bottom = screws[0].from_top, strip.length - screws[-1].from_top
    free, most = max(from_top, from_bottom), max(limit.value / 2, needs.end_most)
    if free <= most + _HAIR:
        return
    end = "top" if from_top >= from_bottom else "bottom"
    yield Finding(
        "screws",
        Weight.LOOK,
        f"Strip {strip.number} is too thin for a screw over {_show(job, free, 0)} from its {end} end: that end is free to bend and "
        f"lift over more than {_show(job, most)}.",
        topic=f"{FREE} at the {end}",
        strip=strip.number,
        door=strip.door,
        from_top=free if end == "top" else strip.length - free,
        value=free,
        limit=most,
        source=limit.source,
    )


def _planned(front: Front, strips: list[Measures]) -> Iterator[Finding]:
    """Yield what screws the front takes, and how they are put in."""
    job, needs = front.job, needs_of(front.job)
    screws = [screw for strip in strips for screw in strip.screws.screws]
    if not screws:
        return
    wood, limit = species(job.wood.species), job.limit("bite_least")
    least, most = min(screw.bite for screw in screws), max(screw.bite for screw in screws)
    force = withdrawal(wood.gravity, job.fixing.shank, least)
    low, high = clearance_hole(job.fixing.shank)
    yield Finding(
        "screws",
        Weight.KNOW,
        f"{len(screws)} screws from behind: {_counted(job, screws)}; {_spread(job, strips)}. Pilot hole "
        f"{_drill(job, pilot_hole(job.fixing.shank, softwood=wood.softwood), down=True)}, no deeper than the screw bites; holes in "
        f"the board {_drill(job, low)} to {_drill(job, high)}, so that the strips may move. The screws bite "
        f"{_show(job, least)} to {_show(job, most)}: the least of them holds on average about {force:.0f} N (ultimate), of which "
        f"a fifth, {force * ALLOWABLE:.0f} N, counts.",
        topic="screws",
        value=least,
        limit=limit.value,
        source=_HANDBOOK,
        cure="Lay the screws out by strip and place: in a shorter one's hole a longer one comes out of the face."
        if len({screw.length for screw in screws}) > 1
        else "",
        caution=_disc(job, needs, screws),
    )


def _counted(job: Job, screws: list[Screw]) -> str:
    counts = sorted(Counter(screw.length for screw in screws).items())
    words = [f"{count} of {_show(job, length)}" for length, count in counts]
    return " and ".join([", ".join(words[:-1]), words[-1]]) if len(words) > 1 else words[0]


def _spread(job: Job, strips: list[Measures]) -> str:
    """Return how many a strip has, and how they stand."""
    held = [strip for strip in strips if strip.screws.screws]
    counts = {len(strip.screws.screws) for strip in held}
    each = str(min(counts)) if len(counts) == 1 else f"{min(counts)} to {max(counts)}"
    ends = [end for one in held for end in (one.screws.screws[0].from_top, one.length - one.screws.screws[-1].from_top)]
    return (
        f"{each} to a strip, at most {_show(job, max(strip.screws.apart for strip in held), 0)} apart, the outermost "
        f"{_show(job, min(ends), 0)} to {_show(job, max(ends), 0)} from the ends"
    )


def _disc(job: Job, needs: Needs, screws: list[Screw]) -> str:
    overcut, deep = job.limit("screw_overcut"), cover_while_carving(job)
    near = [screw for screw in screws if screw.cover < deep - _HAIR]
    shorter = sum(length_while_carving(job, needs, screw) is not None for screw in near)
    instead = "take a shorter one of the stock in the same hole while you carve" if shorter else ""
    after = "put them in when the carving is done" if shorter < len(near) else ""
    which = (
        f" {len(near)} of these {'has' if len(near) == 1 else 'have'} less: {', or '.join(filter(None, (instead, after)))}."
        if near
        else ""
    )
    return (
        "A carbide disc that meets a screw breaks and throws its splinters: in what is still to be carved keep every tip "
        f"{_show(job, deep)} below the finished face, {_show(job, needs.cover)} of cover and {_show(job, overcut.value)} for a cut that "
        f"goes too deep, {overcut.source}.{which} Set a stop on the drill and clamp the strip. Local rules, the tools' manuals and "
        "trained practice come first."
    )


def _show(job: Job, mm: float, decimals: int = 1) -> str:
    return job.ruler.text(mm, decimals)


def _drill(job: Job, mm: float, *, down: bool = False) -> str:
    """Return a diameter as drills and screws have it; rounded down where more would be too much."""
    unit = 0.1 if job.unit is Unit.MM else MM_PER_INCH / _DRILLS
    parts = math.floor(mm / unit + _HAIR) if down else round(mm / unit)
    return Ruler(job.unit, max(_DRILLS, job.fraction)).text(parts * unit)
