"""Sampling: do sheets and solids, drawn in straight lines between the job's heights, show the surface itself?"""

from __future__ import annotations

from collections.abc import Sequence

from facade.checks.asking import if_told
from facade.checks.cures import length, setting, ways
from facade.checks.finding import Finding, Weight
from facade.checks.words import place, told_apart
from facade.front import Front
from facade.measuring import Measures
from facade.measuring.close import PLACES_PER_WAVE, finer_steps, missed_around, missed_at
from facade.slicer import Spot


def check(front: Front) -> list[Finding]:
    """Return the strips between whose heights the surface is too far off straight lines, the worst place of each, and what may hide.

    Half a millimetre is what a gap hides of a step between neighbours; what is drawn further off is another shape, and stops.
    """
    return [*_between_heights(front), *_not_looked_at(front)]


def _between_heights(front: Front) -> list[Finding]:
    limit = front.job.limit("between_heights")
    off = [(one, one.missed) for one in front.measures() if one.missed and one.missed.height > limit.value]
    if not off:
        return []
    worst_first = [one for one, _ in sorted(off, key=lambda pair: -pair[1].height)]
    cure = if_told(lambda: _cure(front, worst_first))
    return [_finding(front, one, missed, cure) for one, missed in off]


def _finding(front: Front, one: Measures, missed: Spot, cure: str) -> Finding:
    job = front.job
    show = job.ruler
    stops = missed.height > job.limit("between_heights_most").value
    limit = job.limit("between_heights_most" if stops else "between_heights")
    by, most = told_apart(show, missed.height, limit.value)
    return Finding(
        "sampling",
        Weight.STOPS if stops else Weight.LOOK,
        f"The face of strip {one.number} runs {by} off the straight lines between its heights, "
        f"{place(show, missed.from_top, missed.from_left)}: these are {show.text(job.sampling.step, 3)} apart, "
        f"and beyond {most} sheets, templates and solids show another shape.",
        topic="between heights",
        strip=one.number,
        door=one.door,
        from_top=missed.from_top,
        from_left=missed.from_left,
        value=missed.height,
        limit=limit.value,
        source=limit.source,
        cure=cure,
    )


def _not_looked_at(front: Front) -> list[Finding]:
    """Return, where a relief was too fine for strips to be judged all over, how far apart the heights are that they were judged by."""
    apart = max((one.apart for one in front.measures() if one.apart), default=None)
    if apart is None:
        return []
    show, shortest = front.job.ruler, front.surface.shortest
    return [
        Finding(
            "sampling",
            Weight.KNOW,
            f"The relief has waves of {show.text(shortest, 3)}, too fine to be followed all over a strip: strips were judged by heights "
            f"up to {show.text(apart, 3)} apart, and a place that is thinner, steeper or further off may lie between them.",
            topic="not looked at all over",
            value=apart,
            limit=shortest / PLACES_PER_WAVE,
            source="measured on the relief: so many heights to a wave show it",
            cure=ways("draw the relief coarser, with longer waves or fewer sizes of them"),
        )
    ]


def _cure(front: Front, off: Sequence[Measures]) -> str:
    """Return the step that holds on all of these strips, found by trying; none holds a wall."""
    job, limit = front.job, front.job.limit("between_heights").value
    for step in finer_steps(job, job.sampling.step):
        if _holds(front, off, step, limit):
            return ways(f"take heights closer together: {setting('sampling.step', length(job, step))}")
    return (
        "No distance between heights draws a wall: let what stands there run out softly, with a longer blend, a wider fade, or a "
        "rounder rim."
    )


def _holds(front: Front, off: Sequence[Measures], step: float, limit: float) -> bool:
    """Whether straight lines between heights a step apart hold around the worst places of some strips, and all over the first."""
    where = front.job, front.layout, front.surface
    around = (missed_around(*where, one.number, step, one.missed.from_top) for one in off if one.missed)
    return all(missed <= limit for missed in around) and missed_at(*where, off[0].number, step) <= limit
