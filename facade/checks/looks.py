"""Gaps and looks: what is seen between the strips, whether the relief looks stepped, and how well neighbours will meet."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from facade.arrays import Array
from facade.checks.finding import Finding, Weight
from facade.front import Front
from facade.job import Job
from facade.job.bench import ErrorBudget
from facade.job.limits import Limit
from facade.layout import Division, Door
from facade.measuring import Measures
from facade.surface import Surface, land_share

# Gaps narrower than this hide no step: strips that all but touch.
TIGHT = 0.5
# A crest counts when the face falls by this on both sides of it before it rises higher.
PROMINENCE = 0.5
# One wave in ten is shorter than what is taken as the shortest: single odd crests do not count.
_SHORTEST = 0.1
_ROW_APART, _MOST_ROWS, _ACROSS = 25.0, 121, 2.0
# Greatest slope of the smooth step that a land runs out by, 6t^5 - 15t^4 + 10t^3, at its middle.
_STEEPEST = 1.875
_HAIR = 1e-6
_STEPS = {
    "print": "the print",
    "laying": "laying the sheet",
    "trace": "the pencil line",
    "saw": "saw or disc",
    "sanding": "sanding",
    "thickness": "thickness of the blanks",
    "mounting": "mounting",
}


def check(front: Front) -> list[Finding]:
    """Return what is seen between strips, steps between neighbours, too short waves, and the sum of errors."""
    return [*_steps(front), *_stepped(front), *_errors(front), *_seen_in(front)]


def see_in_angle(gap: float, depth: float) -> float:
    """Return how many degrees from straight on the backing of a gap is still seen; gap and depth in one unit, depth above 0.

    atan(gap / depth): from farther aside the edge of the nearer strip hides it.
    """
    return math.degrees(math.atan2(gap, depth))


@dataclass(frozen=True)
class ErrorSum:
    """What all steps of the work may be off where two strips meet, mm: as a rule (root of the sum of squares), and at worst.

    `worst` is the step that adds most; `halved` the root when that step is off by half as much; `as_a_set` what remains of
    the root where strips are faired together: thickness and mounting alone.
    """

    root: float
    straight: float
    worst: str
    halved: float
    as_a_set: float


def error_sum(errors: ErrorBudget) -> ErrorSum:
    """Return what the steps of the work add up to: independent errors by the root of the sum of their squares."""
    sizes = {name: float(getattr(errors, name)) for name in _STEPS}
    worst = max(sizes, key=sizes.__getitem__)
    return ErrorSum(
        root=math.hypot(*sizes.values()),
        straight=sum(sizes.values()),
        worst=worst,
        halved=math.hypot(*(sizes | {worst: sizes[worst] / 2}).values()),
        as_a_set=math.hypot(sizes["thickness"], sizes["mounting"]),
    )


def crests(heights: Array, least: float) -> list[tuple[int, int]]:
    """Return the crests of a line of heights that rise and fall by `least`, each as the first and last index of its top.

    A crest's prominence is how far the line falls from it, on the side where it falls less, before it rises higher.
    """
    slope = np.diff(heights)
    moving = np.flatnonzero(slope)
    turns = np.flatnonzero(np.diff(slope[moving] > 0.0))
    first, last = moving[turns] + 1, moving[turns + 1]
    found: list[tuple[int, int]] = []
    low, top, place = float(heights[0]), None, (0, 0)
    # The end is no crest, but the line may fall to it.
    ends = [*zip(first.tolist(), last.tolist(), strict=True), (len(heights) - 1, len(heights) - 1)]
    for here, height in zip(ends, [*heights[first].tolist(), float(heights[-1])], strict=True):
        if top is None:
            low = min(low, height)
            if height - low >= least:
                top, place = height, here
        elif height > top:
            top, place = height, here
        elif top - height >= least:
            found.append(place)
            low, top = height, None
    return found


def waves_across(surface: Surface, door: Door, left: float, right: float) -> Array:
    """Return the distances in mm between neighbouring crests across a door, from `left` to `right`, over all its rows, rising."""
    x = np.linspace(left, right, max(3, math.ceil((right - left) / _ACROSS) + 1))
    rows = surface.at(x[None, :], _rows(door)[:, None])
    apart = [np.diff([_top(x, row, *crest) for crest in crests(row, PROMINENCE)]) for row in rows]
    return np.sort(np.concatenate(apart))


def _rows(door: Door) -> Array:
    return np.linspace(door.bottom, door.top, min(_MOST_ROWS, math.ceil(door.height / _ROW_APART) + 1))


def _top(x: Array, heights: Array, first: int, last: int) -> float:
    """Return where a crest is highest: the top of the parabola through three places, or the middle of what is level."""
    if last > first:
        return float(x[first] + x[last]) / 2
    before, top, after = heights[first - 1 : first + 2].tolist()
    aside = float((after - before) / (2 * top - before - after))
    return float(x[first]) + aside * float(x[1] - x[0]) / 2


def _stepped(front: Front) -> Iterator[Finding]:
    """Yield that strips are too wide for the shortest waves, where it is seen: a straight face misses them."""
    job, limit, missed = front.job, front.job.limit("strips_per_wave"), front.job.limit("centre_line")
    off = float(np.median([strip.ruler_error for strip in front.measures()]))
    if off <= missed.value:
        return
    found = list(_shortest_waves(front))
    if not found:
        return
    wave, division = min(found, key=lambda one: one[0] / _pitch(one[1]))
    strips = wave / _pitch(division)
    if strips >= limit.value - _HAIR:
        return
    yield Finding(
        "looks",
        Weight.LOOK,
        f"One wave in ten across the front is {_show(job, wave, 0)} or shorter: {strips:.1f} strips and gaps. With fewer than "
        f"{limit.value:g} the relief looks stepped, where faces are straight across: on half of the strips they miss it by "
        f"more than {job.ruler.fine(off)}.",
        value=strips,
        limit=limit.value,
        unit="strips",
        source=limit.source,
        cure=_finer(job, division, wave, limit),
    )


def _shortest_waves(front: Front) -> Iterator[tuple[float, Division]]:
    """Yield the shortest wave across each door that has any, mm, and how the door is divided."""
    for door, division in zip(front.layout.doors, front.layout.divisions, strict=True):
        first, last = front.layout.strip(door.first_strip), front.layout.strip(door.last_strip)
        waves = waves_across(front.surface, door, first.left, last.right)
        if len(waves):
            yield float(waves[math.ceil(_SHORTEST * len(waves)) - 1]), division


def _pitch(division: Division) -> float:
    return division.width + division.gap


def _finer(job: Job, division: Division, wave: float, limit: Limit) -> str:
    """Return the strips, or the waves, that would look smooth."""
    longer = math.ceil(limit.value * _pitch(division) / wave * 10 - _HAIR) / 10
    width = job.ruler.down(wave / limit.value - division.gap)
    narrower = f"strips of {_show(job, width)}, " if width >= job.limit("narrow_strip").value - _HAIR else ""
    return (
        f"Take {narrower}waves {longer:.1f} times as long, or trace a centre line on every strip and carve the faces hollow and "
        "round."
    )


def _steps(front: Front) -> Iterator[Finding]:
    for strip in front.measures():
        if strip.step is None:
            continue
        gap = front.layout.strip(strip.number + 1).left - front.layout.strip(strip.number).right
        limit = front.job.limit("step_seen" if gap >= TIGHT - _HAIR else "mismatch_tight")
        if strip.step.height > limit.value + _HAIR:
            yield _step(front, strip, gap, limit)


def _allowed(job: Job, gap: float) -> Limit:
    return job.limit("mismatch" if gap >= TIGHT - _HAIR else "mismatch_tight")


def _step(front: Front, strip: Measures, gap: float, limit: Limit) -> Finding:
    job, spot = front.job, strip.step
    assert spot is not None
    return Finding(
        "looks",
        Weight.LOOK,
        f"{_show(job, spot.from_top, 0)} from the top the facing edges of strips {strip.number} and {strip.number + 1} differ by "
        f"{job.ruler.fine(spot.height)}: the relief climbs so much across the gap of {job.ruler.fine(gap)}, and more than "
        f"{job.ruler.fine(limit.value)} shows as a step.",
        topic="steps between neighbours",
        strip=strip.number,
        door=strip.door,
        from_top=spot.from_top,
        from_left=spot.from_left,
        value=spot.height,
        limit=limit.value,
        source=limit.source,
        cure=_gentler(front, strip, gap, limit.value),
    )


def _gentler(front: Front, strip: Measures, gap: float, limit: float) -> str:
    """Return what makes a step smaller: it is slope times gap."""
    assert strip.step is not None
    job, (lowest, highest), share = front.job, front.surface.fitted.reach, limit / strip.step.height
    # Narrower gaps move the strips, and another place of the relief comes to lie in the gap: a little more for that.
    narrower = job.ruler.down(gap * share * 0.95)
    ways = [f"gaps of {_show(job, narrower)} (strips.gap)"] if narrower >= TIGHT else []
    land = _land_there(front, strip, gap, limit)
    if land:
        ways.append(land)
    else:
        ways.append(
            f'a relief of {_show(job, job.ruler.down((highest - lowest) * share))} (carving.fit = "depth", carving.depth)'
        )
        ways += [] if job.carving.packed else ["strips carved packed tight (carving.packed)"]
    return f"Take {', '.join(ways[:-1])}{' or ' if len(ways) > 1 else ''}{ways[-1]}."


def _land_there(front: Front, strip: Measures, gap: float, limit: float) -> str:
    """Return how far a land must run out that makes the step, nothing where none does."""
    assert strip.step is not None
    place = front.layout.strip(strip.number)
    x, y = np.array([place.right, place.right + gap]), np.array([place.top - strip.step.from_top])
    for land in front.job.lands:
        rise = abs(float(np.diff(land_share(land, x, y))[0]))
        if rise > _HAIR:
            blend = _STEEPEST * strip.step.height / rise * gap / limit
            return f"a blend of {_show(front.job, front.job.ruler.up(blend))} round the land there (lands, blend)"
    return ""


def _errors(front: Front) -> Iterator[Finding]:
    """Yield what the steps of the work add up to at the joint of two strips."""
    job, total = front.job, error_sum(front.job.errors)
    gaps = [division.gap for division in front.layout.divisions if division.count > 1]
    if not gaps or total.root == 0.0:
        return
    limit, worst = _allowed(job, min(gaps)), _STEPS[total.worst]
    # Such estimates are good to a tenth at best.
    about = round(total.root, 1)
    beyond = about > limit.value + _HAIR
    yield Finding(
        "looks",
        Weight.LOOK if beyond else Weight.KNOW,
        f"Where two strips meet the work is off by about {job.ruler.fine(about)} as a rule (root of the sum of squares) and by "
        f"{job.ruler.fine(total.straight)} at worst; {'more than' if beyond else 'up to'} {job.ruler.fine(limit.value)} "
        f"{'shows' if beyond else 'is hidden'}. Most comes from {worst}, {job.ruler.fine(getattr(job.errors, total.worst))}: halved, "
        f"that alone would make it {job.ruler.fine(total.halved)}.",
        value=total.root,
        limit=limit.value,
        source=limit.source,
        cure=(_better(job, total, limit.value) if beyond else "")
        + f"Strips faired together as a set keep only what thickness and mounting are off: {job.ruler.fine(total.as_a_set)}.",
    )


def _better(job: Job, total: ErrorSum, limit: float) -> str:
    """Return how good the worst step would have to be, or all of them where that one is not enough."""
    size = float(getattr(job.errors, total.worst))
    rest = total.root**2 - size**2
    if limit**2 > rest:
        better = math.floor(math.sqrt(limit**2 - rest) * 100) / 100
        return f"Bring {_STEPS[total.worst]} to {job.ruler.fine(better)} (errors.{total.worst}). "
    return f"Every step must be better: {math.floor(100 * limit / total.root)} % of what it is. "


def _seen_in(front: Front) -> Iterator[Finding]:
    """Yield from where the backing is seen between the strips."""
    job = front.job
    seen = [_angles(front, door, division.gap) for door, division in _with_gaps(front)]
    if not seen:
        return
    least, most = min(low for low, _ in seen), max(high for _, high in seen)
    gaps = sorted({division.gap for _, division in _with_gaps(front)})
    between = " to ".join(
        job.ruler.fine(gap) for gap in ([gaps[0], gaps[-1]] if gaps[-1] - gaps[0] > 0.05 else gaps[:1])
    )
    yield Finding(
        "looks",
        Weight.KNOW,
        f"In the gaps of {between} the backing is seen only within {least:.0f} to {most:.0f} degrees of straight on, by the height "
        "of the edges; from further aside the eye sees the sides of the strips.",
        value=most,
        unit="degrees",
        source="measured on the surface",
        cure="Finish the sides of the strips like their faces, before mounting.",
    )


def _with_gaps(front: Front) -> list[tuple[Door, Division]]:
    pairs = zip(front.layout.doors, front.layout.divisions, strict=True)
    return [(door, division) for door, division in pairs if division.count > 1 and division.gap > _HAIR]


def _angles(front: Front, door: Door, gap: float) -> tuple[float, float]:
    """Return the least and the greatest see-in angle of a door's gaps, by the lower of the two edges at each place."""
    strips = front.layout.strips[door.first_strip - 1 : door.last_strip]
    edges = [[strip.right for strip in strips[:-1]], [strip.left for strip in strips[1:]]]
    y = _rows(door)[:, None]
    left, right = (front.surface.at(np.array([side]), y) for side in edges)
    lower = np.minimum(left, right)
    return see_in_angle(gap, float(lower.max())), see_in_angle(gap, float(lower.min()))


def _show(job: Job, mm: float, decimals: int = 1) -> str:
    return job.ruler.text(mm, decimals)
