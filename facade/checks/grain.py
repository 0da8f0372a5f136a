"""Grain: where is a strip so steep along its grain that fibres tear or chip, and where are they cut too short to hold?"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from facade.checks.finding import Finding, Weight
from facade.checks.words import at_least, at_most, place, told_apart
from facade.front import Front
from facade.job import Edge, Fit, Job
from facade.job.limits import Limit
from facade.measuring import Measures
from facade.measuring.grain import FIBRE_DEPTH, Stretch
from facade.surface import land_share

_MOST_STRETCHES = 3  # named in a sentence
_MARGIN = 1.01  # the steepest place may fall between two rows

_SLOPES = (
    (Weight.STOPS, "slope_most", "beyond {} fibres chip off at the strip's edge"),
    (Weight.LOOK, "slope_steep", "beyond {} fibres are short and tear"),
    (Weight.KNOW, "slope_watch", "beyond {} carve from the crest down, and watch the cut"),
)


@dataclass(frozen=True)
class _Cause:
    """What makes a place steep: a part of the job, the setting that makes it gentler, and how long that is now, mm."""

    part: str
    setting: str
    reach: float


def check(front: Front) -> list[Finding]:
    """Return the strips that are steep, each at its steepest place, those with short grain, and the walls of finger pulls."""
    found = [
        finding
        for one in front.measures()
        for finding in (_steep(front, one), _short(front.job, one), _pull_wall(front, one))
    ]
    return [finding for finding in found if finding]


def _steep(front: Front, one: Measures) -> Finding | None:
    for weight, name, words in _SLOPES:
        limit = front.job.limit(name)
        if one.grain.steepest.degrees > limit.value + 1e-6:
            return _too_steep(front, one, weight, limit, words)
    return None


def _too_steep(front: Front, one: Measures, weight: Weight, limit: Limit, words: str) -> Finding:
    job, steepest = front.job, one.grain.steepest
    cause = None if weight is Weight.KNOW else _cause(front, one)
    rise, most = _degrees(steepest.degrees, limit.value)
    return Finding(
        "grain",
        weight,
        f"Strip {one.number} rises at {rise} degrees, {place(job.ruler, steepest.from_top, steepest.from_left)}: "
        f"{words.format(f'{most} degrees')}.",
        topic=f"{limit.name} {cause.part}" if cause else limit.name,
        strip=one.number,
        door=one.door,
        from_top=steepest.from_top,
        from_left=steepest.from_left,
        value=steepest.degrees,
        limit=limit.value,
        unit="degrees",
        source=limit.source,
        cure=_gentler(job, steepest.degrees, limit, cause)
        if weight is not Weight.KNOW
        else _finer_grit(job, one.grain.stretches),
    )


def _pull_wall(front: Front, one: Measures) -> Finding | None:
    """Return how steep the walls of a finger pull are: by nature, so that they are no more than good to know."""
    wall, limit, ruler = one.grain.pull_wall, front.job.limit("slope_steep"), front.job.ruler
    if wall is None or wall.degrees <= limit.value + 1e-6:
        return None
    rise, most = _degrees(wall.degrees, limit.value)
    return Finding(
        "grain",
        Weight.KNOW,
        f"The walls of the finger pull on strip {one.number} rise at {rise} degrees, "
        f"{place(ruler, wall.from_top, wall.from_left)}: beyond {most} degrees fibres are short and tear.",
        topic="pull walls",
        strip=one.number,
        door=one.door,
        from_top=wall.from_top,
        from_left=wall.from_left,
        value=wall.degrees,
        limit=limit.value,
        unit="degrees",
        source=limit.source,
        cure=f"Cut them last, from the rim down, with a sharp gouge or a small ball cutter, and sand them one grit finer; "
        f"a rim (pulls.edge) {_rounded_up(_times(wall.degrees, limit.value) ** 2)} times as round would bring them to {most} degrees.",
    )


def _degrees(value: float, limit: float) -> tuple[str, str]:
    """Return two angles in words, with decimals where they would read the same."""
    whole = f"{value:.0f}", f"{limit:g}"
    return whole if whole[0] != whole[1] else (f"{value:.2f}", f"{limit:g}")


def _finer_grit(job: Job, stretches: tuple[Stretch, ...]) -> str:
    show = job.ruler.text
    named = [f"{show(one.start, 0)} to {show(one.end, 0)}" for one in stretches[:_MOST_STRETCHES]]
    more = len(stretches) - len(named)
    where = ", ".join(named) + (
        f", and at {more} more stretches" if more > 1 else ", and at one more stretch" if more else ""
    )
    return f"Sand it one grit finer there ({where} from the top): end grain drinks more finish and goes darker (common practice)."


def _gentler(job: Job, degrees: float, limit: Limit, cause: _Cause | None) -> str:
    """Return what makes a steep place gentle enough: for both limits, so that the cure leaves nothing to look at."""
    wanted = min(limit.value, job.limit("slope_steep").value)
    times = _times(degrees, wanted)
    if cause:
        return f"Make {cause.setting} at least {at_least(job.ruler, cause.reach * times)}."
    return (
        f"Stretch the relief {_rounded_up(times)} times along the strips (or give its layers so much more stretch), or "
        f"{_shallower(job, times)}. What stays steep is sanded one grit finer."
    )


def _times(degrees: float, wanted: float) -> float:
    """Return how many times gentler a slope must become."""
    return _MARGIN * math.tan(math.radians(degrees)) / math.tan(math.radians(max(wanted, 1.0)))


def _rounded_up(times: float) -> str:
    return f"{math.ceil(times * 100.0 - 1e-6) / 100.0:g}"


def _shallower(job: Job, times: float) -> str:
    """Return in words how the relief becomes so many times less deep."""
    if job.carving.fit is Fit.AS_GIVEN:
        return f"give it {math.floor(100.0 / times + 1e-6) / 100.0:g} of its heights"
    depth = job.highest - job.wood.floor if job.carving.fit is Fit.FULL else float(job.carving.depth or 0.0)
    return f'carve it {at_most(job.ruler, depth / times)} deep (carving.fit = "depth")'


def _cause(front: Front, one: Measures) -> _Cause | None:
    """Return what besides the relief makes the steepest place of a strip: the border of a land, a cap or a fade."""
    strip, steepest, step = front.layout.strip(one.number), one.grain.steepest, front.job.sampling.step
    x, y = strip.left + steepest.from_left, strip.top - steepest.from_top
    job, door = front.job, front.layout.doors[strip.door - 1]
    # Between two rows a short border is steeper than it is measured: as if it were a step longer.
    for number, land in enumerate(job.lands, start=1):
        above, below = land_share(land, np.array([[x]]), np.array([[y + step / 2], [y - step / 2]]))[:, 0]
        if above != below:
            # A smooth step, 15/8 as steep as a straight ramp of its length, is to take the place of a wall.
            return _Cause("land", f"the blend of land {number}", max(land.blend + step, step * 15.0 / 8.0))
    for number, cap in enumerate(job.caps, start=1):
        border = cap.width - step, cap.width + cap.blend + step
        if cap.door in (None, door.number) and _between(y, cap.edge, door.bottom, door.top, *border):
            return _Cause("cap", f"the blend of cap {number}", cap.blend + step)
    for number, fade in enumerate(job.fades, start=1):
        if _between(y, fade.edge, 0.0, job.front.height, 0.0, fade.width + step):
            return _Cause("fade", f"the width of fade {number}", fade.width + step)
    return None


def _between(y: float, edge: Edge, bottom: float, top: float, nearest: float, furthest: float) -> bool:
    """Tell whether a place is between two distances from an upper or lower edge."""
    return edge in (Edge.TOP, Edge.BOTTOM) and nearest <= (top - y if edge is Edge.TOP else y - bottom) <= furthest


def _short(job: Job, one: Measures) -> Finding | None:
    fibre, limit, show = one.grain.shortest, job.limit("short_grain"), job.ruler.text
    if fibre is None or fibre.length >= limit.value - 1e-6:
        return None
    length, least = told_apart(job.ruler, fibre.length, limit.value)
    times = limit.value / max(fibre.length, 0.1)
    radius = (limit.value**2 / 4.0 + FIBRE_DEPTH**2) / (2.0 * FIBRE_DEPTH)
    return Finding(
        "grain",
        Weight.LOOK,
        f"Strip {one.number} has short grain {place(job.ruler, fibre.from_top, fibre.from_left)}: {show(FIBRE_DEPTH)} below its "
        f"surface there the fibres are {length} long, and less than {least} breaks off.",
        topic="short grain",
        strip=one.number,
        door=one.door,
        from_top=fibre.from_top,
        from_left=fibre.from_left,
        value=fibre.length,
        limit=limit.value,
        source=limit.source,
        cure=f"Stretch the relief {_rounded_up(times)} times along the strips, or round it there to a radius of at least "
        f"{at_least(job.ruler, radius)}.",
    )
