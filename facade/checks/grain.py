"""Grain: where is a strip so steep along its grain that fibres tear or chip, and where are they cut too short to hold?"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np

from facade.checks.asking import if_told, is_trying
from facade.checks.cures import carved_to, length, setting, stretched, ways
from facade.checks.finding import Finding, Weight
from facade.checks.gentler import (
    Trial,
    coarser_before_gentler,
    depth_of,
    first_that_holds,
    with_depth,
    with_places,
    with_stretch,
)
from facade.checks.words import at_least, place, told_apart
from facade.fields import LONGEST
from facade.front import Front
from facade.job import Edge, Job, Pull
from facade.job.limits import Limit
from facade.layout import Layout
from facade.measuring import Measures
from facade.measuring.grain import FIBRE_DEPTH, Fibre, Grain, Steepest, Stretch
from facade.surface import land_share, pull_depth

_MOST_STRETCHES = 3  # named in a sentence
_MARGIN = 1.01  # the steepest place may fall between two rows
_SPARE = 1.005  # or between two of the lines that a cure is tried on
# What a closed form asks for is tried as it is, then with more of it; a land's cure on so many strips.
_MORE = (1.0, 1.07, 1.2, 1.4, 1.8)
_TRIED = 3

_SLOPES = (
    (Weight.STOPS, "slope_most", "beyond {} fibres chip off at the strip's edge"),
    (Weight.LOOK, "slope_steep", "beyond {} fibres are short and tear"),
    (Weight.KNOW, "slope_watch", "beyond {} carve from the crest down, and watch the cut"),
)


@dataclass(frozen=True)
class _Cause:
    """What makes a place steep: lands, caps or fades of the job, which of them, counted from 1, and what is too short there, mm."""

    part: str
    number: int
    key: str
    reach: float

    @property
    def table(self) -> str:
        """The name of its list in the job."""
        return f"{self.part}s"


@dataclass(frozen=True)
class _Steep:
    """A strip that is steeper than a limit, the heaviest that it is beyond; `cause` is None where it is the relief itself."""

    measures: Measures
    weight: Weight
    limit: Limit
    words: str
    cause: _Cause | None

    @property
    def degrees(self) -> float:
        return self.measures.grain.steepest.degrees

    @property
    def made_by(self) -> str:
        """What makes it steep: "land 1"; "" for the relief itself."""
        return f"{self.cause.part} {self.cause.number}" if self.cause else ""

    @property
    def topic(self) -> str:
        """What it is about: the limit, and what is to be changed."""
        return f"{self.limit.name} {self.made_by}".strip()


def check(front: Front) -> list[Finding]:
    """Return the strips that are steep, each at its steepest place, those with short grain, and the walls of finger pulls."""
    measures = front.measures()
    steep = [found for one in measures if (found := _steep(front, one))]
    short = [one for one in measures if _is_short(front.job, one)]
    return [*_too_steep(front, steep), *_too_short(front, short), *_pull_walls(front, measures)]


def _steep(front: Front, one: Measures) -> _Steep | None:
    return _steepness(front, front.job, one.number, one.grain, one)


def _steepness(front: Front, job: Job, number: int, grain: Grain, one: Measures) -> _Steep | None:
    """Return how steep a strip is by what it does along its grain, as it is or when it is tried."""
    for weight, name, words in _SLOPES:
        limit = job.limit(name)
        if grain.steepest.degrees > limit.value + 1e-6:
            cause = None if weight is Weight.KNOW else _cause(front.layout, job, number, grain)
            return _Steep(replace(one, grain=grain), weight, limit, words, cause)
    return None


def _too_steep(front: Front, steep: list[_Steep]) -> list[Finding]:
    """Return a finding for each steep strip; those of one cause share the cure of the steepest of them."""
    cures: dict[str, str] = {}
    for one in () if is_trying() else sorted(steep, key=lambda one: -one.degrees):
        if one.weight is not Weight.KNOW and one.made_by not in cures:
            same = [other for other in steep if other.made_by == one.made_by]
            cures[one.made_by] = _longer_run(front, one, same) if one.cause else _gentler(front, one.degrees)
    return [_steep_finding(front, one, cures.get(one.made_by, "")) for one in steep]


def _steep_finding(front: Front, one: _Steep, cure: str) -> Finding:
    job, steepest, limit = front.job, one.measures.grain.steepest, one.limit
    rise, most = _degrees(steepest.degrees, limit.value)
    return Finding(
        "grain",
        one.weight,
        f"Strip {one.measures.number} rises at {rise} degrees, {place(job.ruler, steepest.from_top, steepest.from_left)}: "
        f"{one.words.format(f'{most} degrees')}.",
        topic=one.topic,
        strip=one.measures.number,
        door=one.measures.door,
        from_top=steepest.from_top,
        from_left=steepest.from_left,
        value=steepest.degrees,
        limit=limit.value,
        unit="degrees",
        source=limit.source,
        cure=cure if one.weight is not Weight.KNOW else _finer_grit(job, one.measures.grain.stretches),
    )


def _pull_walls(front: Front, measures: list[Measures]) -> list[Finding]:
    """Return how steep the walls of finger pulls are, strip by strip: by nature, so that they are no more than good to know."""
    limit = front.job.limit("slope_steep")
    steep = [(one, wall) for one in measures if (wall := one.grain.pull_wall) and wall.degrees > limit.value + 1e-6]
    rims: dict[int | None, str] = {}
    for one, wall in () if is_trying() else sorted(steep, key=lambda pair: -pair[1].degrees):
        which = _pull_at(front, one, wall)
        if which is not None and which not in rims:
            rims[which] = _rounder_rim(front, one.number, which, wall)
    return [_wall_finding(front.job, one, wall, limit, rims.get(_pull_at(front, one, wall), "")) for one, wall in steep]


def _wall_finding(job: Job, one: Measures, wall: Steepest, limit: Limit, rim: str) -> Finding:
    rise, most = _degrees(wall.degrees, limit.value)
    return Finding(
        "grain",
        Weight.KNOW,
        f"The walls of the finger pull on strip {one.number} rise at {rise} degrees, "
        f"{place(job.ruler, wall.from_top, wall.from_left)}: beyond {most} degrees fibres are short and tear.",
        topic="pull walls",
        strip=one.number,
        door=one.door,
        from_top=wall.from_top,
        from_left=wall.from_left,
        value=wall.degrees,
        limit=limit.value,
        unit="degrees",
        source=limit.source,
        cure=ways(
            "cut them last, from the rim down, with a sharp gouge or a small ball cutter, and sand them one grit finer",
            rim,
        ),
    )


def _pull_at(front: Front, one: Measures, wall: Steepest) -> int | None:
    """Return which pull of the job a wall belongs to, counted from 0."""
    strip = front.layout.strip(one.number)
    spot = strip.left - strip.moved + wall.from_left, strip.top - wall.from_top
    return next((which for which, pull in enumerate(front.job.pulls) if _is_inside(pull, spot)), None)


def _rounder_rim(front: Front, number: int, which: int, wall: Steepest) -> str:
    """Return the rim that brings the walls of a pull to the limit without making it less deep; "" for none."""
    job, pull, most = front.job, front.job.pulls[which], front.job.limit("slope_steep").value
    if coarser_before_gentler(front):
        return ""

    def rounder(edge: float) -> Pull:
        return pull.model_copy(update={"edge": edge})

    def holds(edge: float) -> bool:
        if pull_depth(rounder(edge)) < pull_depth(pull) - 1e-6:
            return False
        pulls = (*job.pulls[:which], rounder(edge), *job.pulls[which + 1 :])
        after = with_places(front, pulls=pulls).grain_of(number).pull_wall
        return after is None or after.degrees <= most

    edges = (job.ruler.up(pull.edge * _times(wall.degrees, most) ** 2 * more) for more in _MORE)
    edge = first_that_holds((one for one in edges if one < LONGEST), holds)
    if edge is None:
        return ""
    return f"give it a rounder rim: {setting(f'pulls[{which + 1}].edge', length(job, edge))}"


def _is_inside(pull: Pull, spot: tuple[float, float]) -> bool:
    return all(
        abs(place - middle) <= size / 2.0 + 1.0
        for place, middle, size in zip(spot, pull.centre, pull.size, strict=True)
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


def _gentler(front: Front, degrees: float) -> str:
    """Return how the relief becomes gentle enough for both limits, so that the cure leaves nothing to look at; each way was tried."""
    job = front.job
    most = min(job.limit("slope_most").value, job.limit("slope_steep").value)
    steepest = math.tan(math.radians(most)) / _SPARE
    cure = ways(*_relief_ways(front, _times(degrees, most), lambda trial: trial.steepest() <= steepest))
    return f"{cure or 'Draw longer waves, or shallower ones.'} What stays steep is sanded one grit finer."


def _relief_ways(front: Front, times: float, good: Callable[[Trial], bool]) -> list[str]:
    """Return how many times longer, and how deep, waves do to all strips what is asked for; nothing that was not seen to."""
    if coarser := coarser_before_gentler(front):
        return [coarser]

    def longer(value: float) -> bool:
        trial = with_stretch(front, value)
        return trial is not None and good(trial)

    def shallower(value: float) -> bool:
        return value > 0.0 and good(with_depth(front, value))

    ruler, deep = front.job.ruler, depth_of(front)
    stretch = first_that_holds((math.ceil(times * more * 100.0 - 1e-6) / 100.0 for more in _MORE), longer)
    depth = first_that_holds((ruler.down(deep / (times * more)) for more in _MORE), shallower)
    return [*([stretched(stretch)] if stretch else []), *([carved_to(front.job, depth)] if depth else [])]


def _longer_run(front: Front, worst: _Steep, same: list[_Steep]) -> str:
    """Return over what length a land, a cap or a fade is to run out, tried on the strips that it makes the steepest."""
    job, cause = front.job, worst.cause
    assert cause is not None
    if coarser := coarser_before_gentler(front):
        return ways(coarser)
    most = min(job.limit("slope_most").value, job.limit("slope_steep").value)
    strips = sorted(
        (one for one in same if one.cause and one.cause.number == cause.number), key=lambda one: -one.degrees
    )

    def holds(value: float) -> bool:
        parts = list(getattr(job, cause.table))
        parts[cause.number - 1] = parts[cause.number - 1].model_copy(update={cause.key: value})
        trial = with_places(front, **{cause.table: tuple(parts)})
        return all(_is_cured(front, trial, one) for one in strips[:_TRIED])

    runs = (job.ruler.up(cause.reach * _times(worst.degrees, most) * more) for more in _MORE)
    run = first_that_holds((one for one in runs if one < LONGEST), holds)
    if run is None:
        return f"Bring the height of {cause.part} {cause.number} nearer to that of the relief around it, or carve it less deep."
    place_ = f"{cause.table}[{cause.number}].{cause.key}"
    return ways(f"let {cause.part} {cause.number} run out over more: {setting(place_, length(job, run))}")


def _is_cured(front: Front, trial: Trial, one: _Steep) -> bool:
    """Whether a strip is no longer steep by the same cause, nor stopped by another, when something is tried."""
    after = _steepness(front, trial.job, one.measures.number, trial.grain_of(one.measures.number), one.measures)
    if after is None or after.weight is Weight.KNOW:
        return True
    return (after.cause is None or after.topic != one.topic) and after.weight is Weight.LOOK if one.cause else False


def _times(degrees: float, wanted: float) -> float:
    """Return how many times gentler a slope must become."""
    return _MARGIN * math.tan(math.radians(degrees)) / math.tan(math.radians(max(wanted, 1.0)))


def _cause(layout: Layout, job: Job, number: int, grain: Grain) -> _Cause | None:
    """Return what besides the relief makes the steepest place of a strip: the border of a land, a cap or a fade."""
    strip, steepest, step = layout.strip(number), grain.steepest, grain.step
    x, y = strip.left - strip.moved + steepest.from_left, strip.top - steepest.from_top
    door = layout.doors[strip.door - 1]
    # Between two rows a short border is steeper than it is measured: as if it were a step longer.
    for which, land in enumerate(job.lands, start=1):
        above, below = land_share(land, np.array([[x]]), np.array([[y + step / 2], [y - step / 2]]))[:, 0]
        if above != below:
            # A smooth step, 15/8 as steep as a straight ramp of its length, is to take the place of a wall.
            return _Cause("land", which, "blend", max(land.blend + step, step * 15.0 / 8.0))
    for which, cap in enumerate(job.caps, start=1):
        border = cap.width - step, cap.width + cap.blend + step
        if cap.door in (None, door.number) and _between(y, cap.edge, door.bottom, door.top, *border):
            return _Cause("cap", which, "blend", cap.blend + step)
    for which, fade in enumerate(job.fades, start=1):
        if _between(y, fade.edge, 0.0, job.front.height, 0.0, fade.width + step):
            return _Cause("fade", which, "width", fade.width + step)
    return None


def _between(y: float, edge: Edge, bottom: float, top: float, nearest: float, furthest: float) -> bool:
    """Tell whether a place is between two distances from an upper or lower edge."""
    return edge in (Edge.TOP, Edge.BOTTOM) and nearest <= (top - y if edge is Edge.TOP else y - bottom) <= furthest


def _is_short(job: Job, one: Measures) -> bool:
    fibre = one.grain.shortest
    return fibre is not None and fibre.length < job.limit("short_grain").value - 1e-6


def _too_short(front: Front, short: list[Measures]) -> list[Finding]:
    """Return a finding for each strip with short grain; all share the cure of the shortest."""
    fibres = [one.grain.shortest for one in short if one.grain.shortest]
    if not fibres:
        return []
    job, limit = front.job, front.job.limit("short_grain")
    radius = (limit.value**2 / 4.0 + FIBRE_DEPTH**2) / (2.0 * FIBRE_DEPTH)
    steepest = max(job.limit("slope_most").value, *(one.grain.steepest.degrees for one in front.measures()))

    worst = min(short, key=lambda one: one.grain.shortest.length if one.grain.shortest else math.inf)

    def holds(trial: Trial) -> bool:
        # The strip that is worst now may well be so when tried.
        return _is_long(trial.grain_of(worst.number), limit.value) and all(
            _is_long(grain, limit.value) and grain.steepest.degrees <= steepest for grain in trial.grains()
        )

    times = limit.value / max(min(fibre.length for fibre in fibres), 0.1)
    rounded = f"round it there to a radius of at least {at_least(job.ruler, radius)}"
    cure = if_told(lambda: ways(*_relief_ways(front, times, holds), rounded))
    return [_short_finding(job, one, fibre, cure) for one, fibre in zip(short, fibres, strict=True)]


def _is_long(grain: Grain, least: float) -> bool:
    return grain.shortest is None or grain.shortest.length >= least


def _short_finding(job: Job, one: Measures, fibre: Fibre, cure: str) -> Finding:
    show, limit = job.ruler.text, job.limit("short_grain")
    length_, least = told_apart(job.ruler, fibre.length, limit.value)
    return Finding(
        "grain",
        Weight.LOOK,
        f"Strip {one.number} has short grain {place(job.ruler, fibre.from_top, fibre.from_left)}: {show(FIBRE_DEPTH)} below its "
        f"surface there the fibres are {length_} long, and less than {least} breaks off.",
        topic="short grain",
        strip=one.number,
        door=one.door,
        from_top=fibre.from_top,
        from_left=fibre.from_left,
        value=fibre.length,
        limit=limit.value,
        source=limit.source,
        cure=cure,
    )
