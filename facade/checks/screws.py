"""Screws: does every strip hold two of them, deep enough and well below the carved face?"""

from __future__ import annotations

import itertools
import math
from collections import Counter
from collections.abc import Iterator

from facade.checks.finding import Finding, Weight
from facade.front import Front
from facade.job import Job
from facade.job.bench import Held
from facade.lengths import MM_PER_INCH, Ruler, Unit
from facade.measuring import Measures
from facade.measuring.screws import Needs, NoRoom, Screw, clearance_hole, needs_of, pilot_hole, widest_shank
from facade.wood.species import species
from facade.wood.strength import withdrawal

# About so much of the force that pulls a screw out is taken as allowable: Wood Handbook, FPL-GTR-282, chapter 8.
ALLOWABLE = 0.2
_HANDBOOK = "Wood Handbook, FPL-GTR-282, chapter 8"
# Drills of inch sizes come in 1/64 in.
_DRILLS = 64
_TO_CARVE = 1.0  # mm between floor and face that a blank asked for leaves at least
_HAIR = 1e-4  # mm that count for nothing in wood


def check(front: Front) -> list[Finding]:
    """Return which strips cannot take two screws, which are held poorly, and what screws the front takes."""
    if front.job.fixing.by is not Held.SCREWS:
        return []
    needs, strips = needs_of(front.job), front.measures()
    found = [*_near_sides(front)]
    for strip in strips:
        if strip.screws.reason is not None:
            found.append(_without_two(front.job, needs, strip))
            continue
        found += [
            *_shallow(front.job, needs, strip),
            *_far_apart(front.job, needs, strip),
            *_loose(front.job, needs, strip),
        ]
    return [*found, *_planned(front, strips)]


def _without_two(job: Job, needs: Needs, strip: Measures) -> Finding:
    say = {NoRoom.NARROW: _narrow, NoRoom.SHORT: _short, NoRoom.THIN: _thin}
    return say[strip.screws.reason or NoRoom.THIN](job, needs, strip)


def _narrow(job: Job, needs: Needs, strip: Measures) -> Finding:
    limit = job.limit("screw_cover")
    left = max(0.0, strip.width / 2 - needs.radius)
    fitting = min(widest_shank(strip.width, limit.value), _widest_by_rule(job, strip.width))
    return Finding(
        "screws",
        Weight.STOPS,
        f"Strip {strip.number} is {_show(job, strip.width)} wide: beside a screw of {_drill(job, 2 * needs.radius)} "
        f"{_show(job, left)} of wood is left, less than {_show(job, limit.value)}.",
        topic="too narrow for its screws",
        strip=strip.number,
        door=strip.door,
        value=left,
        limit=limit.value,
        source=limit.source,
        cure=f"Take screws of at most {_drill(job, fitting, down=True)} (fixing.shank), or glue the strips (fixing.by)."
        if fitting >= 1.0
        else "Glue the strips (fixing.by), or make them "
        f"{_show(job, job.ruler.up(2 * (needs.radius + limit.value)))} wide (strips.width).",
    )


def _short(job: Job, needs: Needs, strip: Measures) -> Finding:
    limit = job.limit("screw_end")
    least = max(5.0 * job.fixing.shank, needs.radius + needs.cover)
    nearer = job.ruler.down((strip.length - needs.least_apart) / 2 - 1.0)
    cure = "Glue the strips (fixing.by)."
    if least <= nearer < needs.end:
        cure = (
            f"Glue the strips (fixing.by), or let screws stand {_show(job, nearer)} from the ends (limits.screw_end)."
        )
    return Finding(
        "screws",
        Weight.STOPS,
        f"Strip {strip.number} is {_show(job, strip.length)} long: two screws that stand {_show(job, needs.end)} from its ends "
        f"and {_show(job, needs.least_apart)} apart find no room.",
        topic="too short for two screws",
        strip=strip.number,
        door=strip.door,
        value=strip.length,
        limit=2 * needs.end + needs.least_apart,
        source=limit.source,
        cure=cure,
    )


def _thin(job: Job, needs: Needs, strip: Measures) -> Finding:
    plan, limit = strip.screws, job.limit("bite_least")
    tip, fresh = _least_tip(job, needs)
    thick, there = job.ruler.up(tip + needs.cover), max(0.0, plan.room_for_two + needs.cover)
    if plan.room_for_two >= needs.bite - _HAIR:
        low, high = (needs.sunk + bite for bite in (needs.bite, plan.room_for_two))
        cure = f"Put screws of {_length_between(job, low, high)} in stock (fixing.lengths)."
    else:
        cure = _land_cure(job, needs, strip, thick) + (
            f" It takes screws of {fresh} (fixing.lengths)." if fresh else ""
        )
    return Finding(
        "screws",
        Weight.STOPS,
        f"Strip {strip.number} has no room for two screws: each needs {_show(job, thick)} of wood over a length of "
        f"{_show(job, _around(needs))}, {_show(job, tip)} to bite and {_show(job, needs.cover)} over its tip; there is at most "
        f"{_show(job, there)} at two places.",
        topic="no room for two screws",
        strip=strip.number,
        door=strip.door,
        from_top=plan.best,
        from_left=strip.width / 2,
        value=there,
        limit=tip + needs.cover,
        source=limit.source,
        cure=cure,
    )


def _least_tip(job: Job, needs: Needs) -> tuple[float, str]:
    """Return the least height that a tip needs above the back, and the length to buy where the stock has none for it."""
    biting = [tip for tip in (length - needs.sunk for length in needs.lengths) if tip >= needs.bite - _HAIR]
    if biting and biting[0] + needs.cover < job.highest - _HAIR:
        return biting[0], ""
    return needs.bite, _length_between(job, needs.sunk + needs.bite, needs.sunk + needs.bite)


def _land_cure(job: Job, needs: Needs, strip: Measures, thick: float) -> str:
    """Return how a strip that is too thin gets wood of this thickness for two screws."""
    glue = "or glue the strips (fixing.by)."
    blank = thick + _TO_CARVE + job.wood.sanding
    if thick >= job.highest - _HAIR:
        return f"It takes blanks of {_show(job, job.ruler.up(blank))} (wood.blank) and a floor of {_show(job, thick)} (wood.floor), {glue}"
    where = (needs.end + min(needs.end_most, max(needs.end, (strip.length - needs.least_apart) / 2))) / 2
    return (
        f"{_land(job, needs, thick)}, {_show(job, where, 0)} from its top and from its bottom end; or raise wood.floor to "
        f"{_show(job, thick)}, {glue}"
    )


def _land(job: Job, needs: Needs, thick: float) -> str:
    side = _show(job, job.ruler.up(_around(needs) + 4.0))
    return f'Keep a land (lands, keep = "at least") {_show(job, thick)} high, {side} by {side}'


def _around(needs: Needs) -> float:
    """Return the length over which the wood about a tip counts."""
    return 2.0 * (needs.radius + needs.cover)


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
            topic="screws near the sides",
            door=door.number,
            value=shanks,
            limit=limit.value,
            unit="shanks",
            source=limit.source,
            cure=f"Take screws of at most {_drill(job, _widest_by_rule(job, division.width), down=True)} (fixing.shank), or "
            "try the pilot hole on scrap first.",
        )


def _widest_by_rule(job: Job, width: float) -> float:
    return width / 2 / max(job.limit("screw_edge").value, 1e-3)


def _shallow(job: Job, needs: Needs, strip: Measures) -> Iterator[Finding]:
    """Yield that fewer than two screws of a strip have the bite that is wanted: what is more than two may have less."""
    limit = job.limit("bite_wanted")
    second = sorted(strip.screws.screws, key=lambda screw: -screw.bite)[1]
    if second.bite >= limit.value - _HAIR:
        return
    few = [screw for screw in strip.screws.screws if screw.bite < limit.value - _HAIR]
    # As many as are missing from two, those first that have most wood over them.
    missing = 2 - (len(strip.screws.screws) - len(few))
    few = sorted(few, key=lambda screw: -screw.bite - screw.cover)[:missing]
    yield Finding(
        "screws",
        Weight.KNOW,
        f"In strip {strip.number} no two screws bite {_show(job, limit.value)} or more: of {len(strip.screws.screws)} the second "
        f"deepest bites {_show(job, second.bite)}.",
        topic="shallow screws",
        strip=strip.number,
        door=strip.door,
        from_top=second.from_top,
        from_left=strip.width / 2,
        value=second.bite,
        limit=limit.value,
        source=limit.source,
        cure=_deeper(job, needs, few, limit.value),
    )


def _deeper(job: Job, needs: Needs, few: list[Screw], wanted: float) -> str:
    """Return how shallow screws get the bite that is wanted."""
    # A tip that is raised by a length comes nearer to the face by no more than that.
    spare = min(screw.bite + screw.cover - needs.cover for screw in few) - wanted
    low = needs.sunk + wanted
    if spare < -_HAIR:
        places = " and ".join(_show(job, place, 0) for place in sorted(screw.from_top for screw in few))
        return (
            f"{_land(job, needs, job.ruler.up(wanted + needs.cover))}, {places} from its top, with screws of "
            f"{_length_between(job, low, low)} in stock (fixing.lengths)."
        )
    sink = wanted - min(screw.bite for screw in few)
    sunk = job.ruler.up(job.fixing.countersink + sink)
    cure = f"Put screws of {_length_between(job, low, low + spare)} in stock (fixing.lengths)"
    if sunk > job.fixing.countersink + sink + spare + _HAIR:
        return f"{cure}."
    return f"{cure}, or sink the heads {_show(job, sunk)} into the board (fixing.countersink)."


def _far_apart(job: Job, needs: Needs, strip: Measures) -> Iterator[Finding]:
    limit, apart = job.limit("screw_apart"), strip.screws.apart
    if apart <= limit.value + _HAIR:
        return
    places = [screw.from_top for screw in strip.screws.screws]
    above = next(upper for upper, lower in itertools.pairwise(places) if lower - upper == apart)
    more = math.ceil(apart / limit.value - _HAIR)
    wanted = [_show(job, above + apart * k / more, 0) for k in range(1, more)]
    yield Finding(
        "screws",
        Weight.LOOK,
        f"Between {_show(job, above, 0)} and {_show(job, above + apart, 0)} from its top strip {strip.number} is too thin for a "
        f"screw: more than {_show(job, limit.value)} without one.",
        topic="screws far apart",
        strip=strip.number,
        door=strip.door,
        from_top=above + apart / 2,
        value=apart,
        limit=limit.value,
        source=limit.source,
        cure=f"{_land(job, needs, _thick_enough(job, needs))}, {' and '.join(wanted)} from its top.",
    )


def _thick_enough(job: Job, needs: Needs) -> float:
    return job.ruler.up(_least_tip(job, needs)[0] + needs.cover)


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
        topic="free ends",
        strip=strip.number,
        door=strip.door,
        from_top=free if end == "top" else strip.length - free,
        value=free,
        limit=most,
        source=limit.source,
        cure=f"{_land(job, needs, _thick_enough(job, needs))}, {_show(job, (needs.end + needs.end_most) / 2, 0)} from that end.",
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
    overcut = job.limit("screw_overcut")
    deep = needs.cover + overcut.value
    near = sum(screw.cover < deep - _HAIR for screw in screws)
    which = (
        f" {near} of these {'has' if near == 1 else 'have'} less: put them in when the carving is done." if near else ""
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


def _length_between(job: Job, low: float, high: float) -> str:
    """Return the shortest screw from `low` to `high` mm, as round as may be."""
    unit = 0.5 if job.unit is Unit.MM else job.ruler.mark
    round_one = math.ceil(low / unit - _HAIR) * unit
    return _show(job, round_one) if round_one <= high + _HAIR else job.ruler.text(low, 3)
