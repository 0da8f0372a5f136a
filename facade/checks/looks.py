"""Gaps and looks: what is seen between the strips, whether the relief looks stepped, and how well neighbours will meet."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator
from dataclasses import dataclass

import numpy as np

from facade.checks.cures import typed
from facade.checks.finding import Finding, Weight
from facade.checks.look_ways import (
    ERRORS,
    FLAT,
    LEFT_OUT,
    SEEN,
    SHORT_WAVES,
    STEPS,
    TIGHT,
    carved_depth,
    step_limit,
    ways_for_flat,
    ways_for_short_waves,
    ways_for_steps,
)
from facade.checks.trying import Change, Ways, with_cures
from facade.checks.waves import pitch, rows_of, shortest_wave
from facade.front import Front
from facade.job import Job
from facade.job.bench import ErrorBudget
from facade.job.limits import Limit
from facade.layout import Division, Door
from facade.measuring import Measures

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
    found = [*_flat(front), *_steps(front), *_stepped(front), *_errors(front), *_seen_in(front)]
    return with_cures(front, found, lambda worst, some: _ways(front, worst), untried=(ERRORS, LEFT_OUT, SEEN))


def _ways(front: Front, worst: Finding) -> Ways:
    """Return the ways out for a kind of finding."""
    by_topic: dict[str, Callable[[Front, Finding], Ways]] = {
        FLAT: ways_for_flat,
        STEPS: ways_for_steps,
        LEFT_OUT: lambda front, worst: (["carve what is missing again", "fair the two edges together"], []),
        SHORT_WAVES: ways_for_short_waves,
        ERRORS: _ways_for_errors,
        SEEN: lambda front, worst: (["finish the sides of the strips like their faces, before mounting"], []),
    }
    return by_topic[worst.topic](front, worst)


def _flat(front: Front) -> Iterator[Finding]:
    """Yield that nothing is carved that could be seen."""
    limit, show = front.job.limit("flat_relief"), front.job.ruler.fine
    deep = carved_depth(front)
    if deep >= limit.value - _HAIR:
        return
    yield Finding(
        "looks",
        Weight.LOOK,
        f"The highest and the lowest place of all strips are {show(deep)} apart, less than {show(limit.value)}: the relief is flat, "
        "there is nothing to carve.",
        topic=FLAT,
        value=deep,
        limit=limit.value,
        source=limit.source,
    )


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


def _stepped(front: Front) -> Iterator[Finding]:
    """Yield that strips are too wide for the shortest waves, where it is seen: a straight face misses them."""
    job, limit, missed = front.job, front.job.limit("strips_per_wave"), front.job.limit("centre_line")
    off = float(np.median([strip.ruler_error for strip in front.measures()]))
    if off <= missed.value:
        return
    shortest = shortest_wave(front)
    if shortest is None:
        return
    wave, division = shortest
    strips = wave / pitch(division)
    if strips >= limit.value - _HAIR:
        return
    yield Finding(
        "looks",
        Weight.LOOK,
        f"One wave in ten across the front is {_show(job, wave, 0)} or shorter: {strips:.1f} strips and gaps. With fewer than "
        f"{limit.value:g} the relief looks stepped, where faces are straight across: on half of the strips they miss it by "
        f"more than {job.ruler.fine(off)}.",
        topic=SHORT_WAVES,
        value=strips,
        limit=limit.value,
        unit="strips",
        source=limit.source,
    )


def _steps(front: Front) -> Iterator[Finding]:
    for strip in front.measures():
        if strip.step is None:
            continue
        here = front.layout.strip(strip.number)
        right = front.layout.strip(here.right_neighbour or strip.number)
        gap = right.left - here.right
        limit = step_limit(front.job, gap)
        if strip.step.height > limit.value + _HAIR:
            yield _step(front, strip, right.number, gap, limit)


def _allowed(job: Job, gap: float) -> Limit:
    return job.limit("mismatch" if gap >= TIGHT - _HAIR else "mismatch_tight")


def _step(front: Front, strip: Measures, right: int, gap: float, limit: Limit) -> Finding:
    job, spot = front.job, strip.step
    assert spot is not None
    left_out = right != strip.number + 1
    climbs = (
        "what was carved between them is left out"
        if left_out
        else f"the relief climbs so much across the gap of {job.ruler.fine(gap)}"
    )
    return Finding(
        "looks",
        Weight.LOOK,
        f"{_show(job, spot.from_top, 0)} from the top the facing edges of strips {strip.number} and {right} differ by "
        f"{job.ruler.fine(spot.height)}: {climbs}, and more than "
        f"{job.ruler.fine(limit.value)} shows as a step.",
        topic=LEFT_OUT if left_out else STEPS,
        strip=strip.number,
        door=strip.door,
        from_top=spot.from_top,
        from_left=spot.from_left,
        value=spot.height,
        limit=limit.value,
        source=limit.source,
    )


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
        topic=ERRORS,
        value=total.root,
        limit=limit.value,
        source=limit.source,
    )


def _ways_for_errors(front: Front, worst: Finding) -> Ways:
    job, total = front.job, error_sum(front.job.errors)
    better = [] if worst.weight is Weight.KNOW or worst.limit is None else [_better(job, total, worst.limit)]
    as_a_set = job.ruler.fine(total.as_a_set)
    return [
        *(
            f"work more closely, as a trial piece shows it, and say so: {typed(job, change.settings)}"
            for change in better
        ),
        f"fair strips together as a set, which keeps only what thickness and mounting are off: {as_a_set}",
    ], []


def _better(job: Job, total: ErrorSum, limit: float) -> Change:
    """Return how good the worst step would have to be, or all of them where that one is not enough."""
    size = float(getattr(job.errors, total.worst))
    rest = total.root**2 - size**2
    # Half a tenth more is told as the limit: no need to ask for all of it, but none to ask for less than that either.
    if limit**2 > rest:
        return Change({f"errors.{total.worst}": _fine(math.sqrt(limit**2 - rest))})
    share = limit / total.root
    return Change({f"errors.{name}": _fine(share * float(getattr(job.errors, name))) for name in _STEPS})


def _fine(mm: float) -> float:
    """Return a length rounded down to hundredths of a millimetre."""
    return math.floor(mm * 100) / 100


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
        topic=SEEN,
        value=most,
        unit="degrees",
        source="measured on the surface",
    )


def _with_gaps(front: Front) -> list[tuple[Door, Division]]:
    pairs = zip(front.layout.doors, front.layout.divisions, strict=True)
    return [(door, division) for door, division in pairs if division.count > 1 and division.gap > _HAIR]


def _angles(front: Front, door: Door, gap: float) -> tuple[float, float]:
    """Return the least and the greatest see-in angle of a door's gaps, by the lower of the two edges at each place."""
    strips = front.layout.on_door(door)
    edges = [[strip.right for strip in strips[:-1]], [strip.left for strip in strips[1:]]]
    y = rows_of(door)[:, None]
    left, right = (front.surface.at(np.array([side]), y) for side in edges)
    lower = np.minimum(left, right)
    return see_in_angle(gap, float(lower.max())), see_in_angle(gap, float(lower.min()))


def _show(job: Job, mm: float, decimals: int = 1) -> str:
    return job.ruler.text(mm, decimals)
