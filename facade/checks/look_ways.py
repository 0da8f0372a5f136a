"""What makes a front look better: narrower gaps or strips that keep the layout, a shallower relief, longer waves."""

from __future__ import annotations

import itertools
import math
from collections.abc import Iterator
from dataclasses import replace
from typing import Any

import numpy as np

from facade.checks import handling, movement, screws
from facade.checks.finding import Finding
from facade.checks.trying import Change, Ways, asked, new_stops, part_of, tried
from facade.checks.waves import pitch, shortest_wave
from facade.doors.clearing import Topic, turns
from facade.front import Front
from facade.job import DoorPattern, Fit, Job
from facade.job.limits import Limit
from facade.surface import land_share, make_surface, pulled

# What the findings about looks are called.
FLAT, STEPS, LEFT_OUT, SHORT_WAVES, ERRORS, SEEN = (
    "flat relief",
    "steps between neighbours",
    "strips left out",
    "waves short for the strips",
    "errors at a joint",
    "backing seen",
)
# Gaps narrower than this hide no step: strips that all but touch.
TIGHT = 0.5
# Greatest slope of the smooth step that a land runs out by, 6t^5 - 15t^4 + 10t^3, at its middle.
_STEEPEST = 1.875
# A gap moves the strips, and another place of the relief comes to lie in it: so often a little less is tried.
_TURNS, _LESS = 6, 0.95
_LONGER = (1.0, 1.2, 1.5, 2.0, 2.5)  # times what is reckoned, that waves are made longer
_HUNDREDTHS = 100.0
_AS_TYPED = 0.01  # mm that a gap may differ from what was typed
_HAIR = 1e-6


def step_limit(job: Job, gap: float) -> Limit:
    """Return the step between facing edges that shows across a gap."""
    return job.limit("step_seen" if gap >= TIGHT - _HAIR else "mismatch_tight")


def carved_depth(front: Front) -> float:
    """Return how far the highest and the lowest place of all strips are apart, mm."""
    strips = front.measures()
    return max(one.thickest.height for one in strips) - min(one.thinnest.height for one in strips)


# A flat relief.


def ways_for_flat(front: Front, worst: Finding) -> Ways:
    """Return the depth that a relief which rises and falls can have; a level one wants another layer."""
    job, fitted = front.job, front.surface.fitted
    room = job.highest - job.wood.floor
    if fitted.highest - fitted.lowest <= 1e-9 * max(1.0, abs(fitted.lowest), abs(fitted.highest)):
        return ["add a layer that rises and falls (facade reliefs shows them)"], []
    for share in (0.75, 0.5, 0.25):
        change = _as_deep(job, job.ruler.down(share * room))
        after = tried(front, change)
        if after is None or asked_depth(after) < job.limit("flat_relief").value:
            continue
        if not new_stops(front, after, [screws.check]) and not _too_steep(after):
            return [change.words(job)], []
    return ["give the relief more depth (carving.fit), or its layers more height (layers.amount)"], []


def asked_depth(after: Front) -> float:
    """Return the depth that a relief is asked for, mm."""
    low, high = after.surface.fitted.reach
    return high - low


def _too_steep(after: Front) -> bool:
    from facade.checks import cutter, grain

    return any(one.stops for check in (cutter.check, grain.check) for one in asked(after, check))


def _as_deep(job: Job, depth: float) -> Change:
    fit: dict[str, Any] = {} if job.carving.fit is Fit.DEPTH else {"carving.fit": Fit.DEPTH}
    return Change(fit | {"carving.depth": depth})


# Steps between neighbours.


def ways_for_steps(front: Front, worst: Finding) -> Ways:
    """Return what makes steps smaller on the whole front, each way tried: a step is slope times gap."""
    job, step, limit = front.job, float(worst.value or 0.0), float(worst.limit or 0.0)
    share = limit / step
    if (land := _land_at(front, worst)) is not None:
        changes = list(_longer_blends(front, worst, land))
        return ([], [change.words(job) for change in changes]) if changes else ([], ["move the land off the joint"])
    everywhere = [_narrower_gaps(front, worst, share), _shallower(front, share)]
    if not job.carving.packed:
        everywhere.append(_packed(front))
    return [change.words(job) for change in everywhere if change is not None], []


def _packed(front: Front) -> Change | None:
    change = Change({"carving.packed": True})
    after = tried(front, change)
    return change if after is not None and _clear(after) and not _weaker(front, after) else None


def _clear(after: Front | None) -> bool:
    """Return whether no step of a front shows: all facing edges are looked at where strips are measured."""
    return after is not None and not list(steps_that_show(after))


def steps_that_show(front: Front) -> Iterator[int]:
    """Yield the strips whose right neighbour differs from them by more than may show."""
    strips, job = front.layout.strips, front.job
    pairs = [(one, other) for one, other in itertools.pairwise(strips) if one.door == other.door]
    if not pairs:
        return
    bottom, top = strips[0].bottom, strips[0].top
    y = np.linspace(bottom, top, max(2, math.ceil((top - bottom) / job.sampling.step - 1e-9)) + 1)[:, None]
    # What a cutter fills is nowhere steeper than what was designed, and takes long to work out.
    surface = getattr(front.surface, "designed", front.surface)
    left, right = (surface.at(np.array([x]), y) for x in ([a.right for a, _ in pairs], [b.left for _, b in pairs]))
    apart = np.abs(left - right)
    if job.pulls:
        at_pulls = [
            pulled(job.pulls, np.array([x]), y)
            for x in ([a.right - a.moved for a, _ in pairs], [b.left - b.moved for _, b in pairs])
        ]
        apart[at_pulls[0] | at_pulls[1]] = 0.0
    apart = apart.max(axis=0)
    for (one, other), height in zip(pairs, apart.tolist(), strict=True):
        if height > step_limit(job, other.left - one.right).value + _HAIR:
            yield one.number


def _first_clear(front: Front, changes: list[Change]) -> Change | None:
    return next((change for change in changes if _clear(tried(front, change))), None)


def _narrower_gaps(front: Front, worst: Finding, share: float) -> Change | None:
    """Return narrower gaps that the layout gives as they are typed, and at which nothing else stops."""
    strip = front.layout.strip(worst.strip or 1)
    gap = front.layout.strip(strip.right_neighbour or strip.number).left - strip.right
    for turn in range(_TURNS):
        narrower = front.job.ruler.down(gap * share * _LESS**turn)
        if narrower < TIGHT:
            return None
        for change in _gaps_typed(front, narrower):
            after = tried(front, change)
            if after is None or any(
                abs(one.gap - narrower) > _AS_TYPED for one in after.layout.divisions if one.count > 1
            ):
                continue
            if [one.count for one in after.layout.divisions] != [one.count for one in front.layout.divisions]:
                continue
            # As many strips, as thick as they were: what moisture does to them need not be measured again.
            if not _clear(after) or new_stops(front, _as_measured(after, front), [movement.check]):
                continue
            # The joint between the doors is as wide as a gap: where it is too narrow to turn, a narrower one is too.
            if front.job.hinges and front.job.front.hidden_joint and not turns(after, Topic.MEETING):
                return None
            return change
    return None


def _as_measured(after: Front, front: Front) -> Front:
    known = replace(after, _measured=[])
    known.keep_measures(front.measures())
    return known


def _gaps_typed(front: Front, gap: float) -> Iterator[Change]:
    """Yield how gaps of this width are typed, as many strips as now, with as little as may be left over beside the outermost."""
    job, divisions, doors = front.job, front.layout.divisions, front.layout.doors
    plan = job.strips
    width = min(
        (door.width - 2 * (plan.edge or 0.0) - (one.count - 1) * gap) / one.count
        for door, one in zip(doors, divisions, strict=True)
    )
    if job.front.hidden_joint:
        # All doors are divided as one, the joints among the gaps.
        total = sum(one.count for one in divisions)
        whole = doors[-1].right - doors[0].left - 2 * (plan.edge or 0.0)
        width = (whole - (total - 1) * gap) / total
    width = math.floor(width * _HUNDREDTHS + _HAIR) / _HUNDREDTHS
    if plan.width is None:
        yield Change({"strips.gap": gap})
    else:
        if plan.count is None and len(set(divisions)) == 1:
            yield Change(
                {"strips.count": sum(one.count for one in divisions), "strips.width": width, "strips.gap": gap}
            )
        yield Change({"strips.width": width, "strips.gap": gap})


def _shallower(front: Front, share: float) -> Change | None:
    """Return how deep the relief may be, so that no step shows."""
    job = front.job
    depth = asked_depth(front) * share
    some = [_as_deep(job, job.ruler.down(depth * _LESS**turn)) for turn in range(3)]
    change = _first_clear(front, some)
    if (
        change is not None
        and job.carving.fit is Fit.AS_GIVEN
        and new_stops(front, tried(front, change) or front, [screws.check])
    ):
        return None
    return change


def _land_at(front: Front, worst: Finding) -> tuple[int, float, float] | None:
    """Return the land whose run-out makes a step: its number, how much of it falls into the gap, and the gap, mm."""
    strip = front.layout.strip(worst.strip or 1)
    right = front.layout.strip(strip.right_neighbour or strip.number).left
    x, y = np.array([strip.right, right]), np.array([strip.top - (worst.from_top or 0.0)])
    for number, land in enumerate(front.job.lands, start=1):
        rise = abs(float(np.diff(land_share(land, x, y))[0]))
        if rise > _HAIR:
            return number, rise, right - strip.right
    return None


def _longer_blends(front: Front, worst: Finding, land: tuple[int, float, float]) -> Iterator[Change]:
    """Yield how far a land must run out, so that its strip shows no step."""
    number, rise, gap = land
    blend = _STEEPEST * float(worst.value or 0.0) / rise * gap / float(worst.limit or 1.0)
    for turn in range(_TURNS):
        change = Change({f"lands[{number}].blend": front.job.ruler.up(blend / _LESS ** (2 * turn))})
        after = tried(front, change)
        if after is not None and worst.strip not in set(steps_that_show(after)):
            yield change
            return


# Waves that are short for the strips.


def ways_for_short_waves(front: Front, worst: Finding) -> Ways:
    """Return narrower strips and longer waves, each tried, and what can be done at the bench."""
    some = [_narrower_strips(front, worst), _longer_waves(front, worst)]
    bench = "trace a centre line on every strip and carve the faces hollow and round"
    return [*(change.words(front.job) for change in some if change is not None), bench], []


def _smooth(after: Front | None) -> bool:
    if after is None:
        return False
    found = shortest_wave(after)
    return found is None or found[0] / pitch(found[1]) >= after.job.limit("strips_per_wave").value - _HAIR


def _narrower_strips(front: Front, worst: Finding) -> Change | None:
    job, shortest = front.job, shortest_wave(front)
    if shortest is None or job.carving.doors is not DoorPattern.CONTINUOUS or job.carving.packed:
        return None
    wave, division = shortest
    times = job.limit("strips_per_wave").value / (wave / pitch(division))
    for more in (1.0, 1.05, 1.1):
        for change in _strips_typed(front, times * more):
            after = tried(front, change)
            if after is None or min(one.width for one in after.layout.strips) < job.limit("narrow_strip").value:
                continue
            gaps = [
                abs(one.gap - was.gap) for one, was in zip(after.layout.divisions, front.layout.divisions, strict=True)
            ]
            if max(gaps) <= job.ruler.mark and _smooth(after):
                return None if _weaker(front, after) else change
    return None


def _weaker(front: Front, after: Front) -> bool:
    """Return whether other strips find no room for screws, or break: asked where they are weakest now, and of some others."""
    # As designed: what a cutter fills makes strips no thinner, and takes long to work out.
    after = replace(after, surface=getattr(after.surface, "designed", after.surface), _kept={}, _measured=[], _alone={})
    weakest = sorted(front.measures(), key=lambda one: one.bending.strength)[:2]
    middles = [(front.layout.strip(one.number).left + front.layout.strip(one.number).right) / 2 for one in weakest]
    strips = after.layout.strips
    near = [min(strips, key=lambda strip: abs(strip.left + strip.right - 2 * x)).number for x in middles]
    numbers = {*near, *(strip.number for strip in strips[:: max(1, len(strips) // 4)])}
    part, checks = part_of(after, sorted(numbers)), [screws.check, handling.check]
    return new_stops(front, part, checks)


def _strips_typed(front: Front, times: float) -> Iterator[Change]:
    """Yield how so many times as many strips are typed."""
    job, divisions = front.job, front.layout.divisions
    plan, doors = job.strips, front.layout.doors
    counts = [math.ceil(one.count * times - _HAIR) for one in divisions]
    gap, edge = divisions[0].gap, plan.edge or 0.0
    if plan.count is not None and plan.width is None:
        yield Change({"strips.count": sum(counts)})
        return
    width = min((door.width - 2 * edge - (count - 1) * gap) / count for door, count in zip(doors, counts, strict=True))
    width = math.floor(width * _HUNDREDTHS + _HAIR) / _HUNDREDTHS
    if plan.count is None:
        yield Change({"strips.width": width})
        yield Change({"strips.width": width, "strips.gap": gap})
    else:
        yield Change({"strips.count": sum(counts), "strips.width": width})


def _longer_waves(front: Front, worst: Finding) -> Change | None:
    limit, strips = float(worst.limit or 0.0), float(worst.value or 1.0)
    for more in _LONGER:
        change = Change(stretch=math.ceil(limit / strips * more * 10 - _HAIR) / 10)
        job = change.made(front.job)
        # As deep as now, near enough: crests count from half a millimetre on.
        surface = make_surface(job, front.layout, front.surface, layers=False)
        if _smooth(replace(front, job=job, surface=surface, _kept={}, _measured=[], _alone={})):
            after = tried(front, change)
            if after is not None and not _weaker(front, after):
                return change
    return None
