"""How finely a strip must be looked at to be judged, and how far straight lines between the job's own heights miss its surface.

The job's step decides how finely heights are written, never what is found: a strip is cut anew, more finely, where its heights
could hide a wave, or where it bends much between them.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from facade.arrays import Array, sag, sags
from facade.job import Job
from facade.layout import Layout, StripPlace
from facade.lengths import MM_PER_INCH, Unit
from facade.reliefs import MANY_TERMS, terms
from facade.slicer import Spot, Strip, cut_strip
from facade.surface import Surface, pull_depth, pull_wall

# With fewer places to a wave a crest could hide between them.
PLACES_PER_WAVE = 8.0
_SHORTEST_RUN = 0.5  # mm; what runs out over less is a wall, whatever the step
# Two rows are too far apart where the slope changes from one to the next by more than this share of the greatest. On a wave
# that is 16 places to its length, which give its slope to 3 %: cos(pi / 16) sin(pi / 16) / (pi / 16) = 0.974.
_TURN, _GENTLE = 2.0 * math.pi / 16.0, 0.17  # slopes below 10 degrees are within every limit
# A strip is cut anew where its surface may sag more between its heights, mm, and until it sags no more than half of that.
_BEND = 0.1
# Halving the distance of heights quarters what a bend sags, halves what a fold does and leaves what a wall does: from between the
# first two on, closer heights tell nothing more of it.
_FOLD = 1.5
_STEPS = (25.0, 10.0, 5.0, 2.0, 1.0, 0.5, 0.2, 0.1, 0.05)  # mm
_STEPS_INCH = (1.0, 1 / 2, 1 / 4, 1 / 8, 1 / 16, 1 / 32, 0.02, 0.01, 0.005, 0.002)
# Heights of a front, and of one strip, that are worked out to judge it: more of them stand further apart across the strip. Of a
# relief of many terms there are as many fewer.
_MOST, _MOST_ON_STRIP, _FEWEST_ON_STRIP = 40_000_000, 400_000, 60_000
_FEWEST_COLUMNS = 8
# Shares of a cell at which the surface is compared with straight lines: no wave repeats with them (the golden and the silver mean).
_ASIDE = ((0.5, 0.5), (0.618034, 0.414214), (0.236068, 0.707107))


@dataclass(frozen=True)
class Looked:
    """A strip as it is judged, and where straight lines between the job's own heights are furthest off its surface.

    The height of `missed` is how far off; it is None where they hold. `apart` is how far the heights by which the strip is judged
    stand apart, mm, where they had to stand so far apart that waves of its relief may hide between them; None where none can.
    """

    strip: Strip
    missed: Spot | None
    apart: float | None = None


def finer_steps(job: Job, step: float) -> list[float]:
    """Return the round steps below a step, mm, the coarsest first."""
    steps = _STEPS if job.unit is Unit.MM else [one * MM_PER_INCH for one in _STEPS_INCH]
    return [one for one in steps if one < step - 1e-9]


def shortest_on(job: Job, surface: Surface, place: StripPlace) -> float:
    """Return about how short the shortest thing is that could hide between heights of a strip, mm.

    That is a wave, a land, a pull, or what runs out over some length, which is half a wave.
    """
    sizes, runs = [], []
    for land in job.lands:
        if _meets(place, land.centre, land.size, land.blend):
            sizes.append(min(land.size) + 2.0 * land.blend)
            runs.append(land.blend)
    for pull in job.pulls:
        if _meets(place, pull.centre, pull.size, 0.0):
            sizes.append(min(pull.size))
            runs.append(pull_wall(pull, pull_depth(pull)))
    runs += [cap.blend for cap in job.caps if cap.door in (None, place.door)]
    runs += [fade.width for fade in job.fades]
    return min([surface.shortest, *sizes, *(2.0 * run for run in runs if run >= _SHORTEST_RUN)])


def _meets(place: StripPlace, centre: tuple[float, float], size: tuple[float, float], around: float) -> bool:
    """Tell whether what has a middle and a size, and runs out around it, lies on a strip."""
    return all(
        first - half / 2.0 - around < middle < last + half / 2.0 + around
        for first, last, middle, half in zip(
            (place.left - place.moved, place.bottom), (place.right - place.moved, place.top), centre, size, strict=True
        )
    )


def look_closely(job: Job, layout: Layout, surface: Surface, strip: Strip) -> Looked:
    """Return a strip as finely as its own surface asks for, the same one where it is fine enough."""
    needed = shortest_on(job, surface, strip.place) / PLACES_PER_WAVE
    step, bends = _step_of(strip), sags(strip.heights)
    bend = float(bends.max())
    if 2.0 * step <= needed:
        # Nothing hides and every slope is told: only where it folds or bends sharply may lines be off.
        return Looked(strip, _missed_where(surface, strip, bends) if bend > _BEND else None)
    known = step <= needed
    if known and bend <= _BEND and not _turns_quickly(strip):
        return Looked(strip, None)
    close = strip
    for finer, across in _affordable(job, layout, strip, needed):
        close = cut_strip(job, layout, surface, strip.number, finer, across)
        before, bend = bend, sag(close.heights)
        folded = known and bend > before * (finer / step) ** _FOLD
        known, step = finer <= needed, finer
        if known and (folded or (bend <= _BEND / 2.0 and (2.0 * step <= needed or not _turns_quickly(close)))):
            break
    return Looked(close, _missed(surface, strip, close), _too_far_apart(surface, close))


def _too_far_apart(surface: Surface, strip: Strip) -> float | None:
    """Return how far heights of a strip stand apart where waves of the relief may hide between them, None where none can."""
    apart = _step_of(strip)
    return apart if apart > surface.shortest / PLACES_PER_WAVE + 1e-9 else None


def _turns_quickly(strip: Strip) -> bool:
    """Tell whether a strip's slope along the grain changes too much from row to row to be read off them."""
    rise = np.diff(strip.heights, axis=0)
    steepest = max(float(rise.max()), -float(rise.min()))
    if steepest < _GENTLE * strip.length / (len(strip.y) - 1):
        return False
    turn = np.diff(rise, axis=0)
    return max(float(turn.max(initial=0.0)), -float(turn.min(initial=0.0))) > _TURN * steepest


def _step_of(strip: Strip) -> float:
    return max(float(strip.x[1] - strip.x[0]), float(strip.y[1] - strip.y[0]))


def _affordable(job: Job, layout: Layout, strip: Strip, needed: float) -> Iterator[tuple[float, float]]:
    """Yield how far rows and columns may stand apart, ever closer, from where no wave can hide between rows."""
    most = min(_MOST_ON_STRIP, _MOST // len(layout.strips)) * MANY_TERMS // max(MANY_TERMS, terms(job.layers))
    most = max(_FEWEST_ON_STRIP, most)
    steps = finer_steps(job, _step_of(strip))
    # The first that is close enough, or the finest.
    first = next((number for number, one in enumerate(steps) if one <= needed), len(steps) - 1)
    for step in steps[max(first, 0) :]:
        columns = most * step / strip.length
        if columns < _FEWEST_COLUMNS:
            return
        yield step, max(step, strip.width / columns)


def _missed(surface: Surface, strip: Strip, close: Strip) -> Spot:
    """Return where straight lines between a strip's heights are furthest off the surface, and how far."""
    here = _furthest(strip, close.x, close.y, close.heights)
    return max([here, *_beside(surface, strip, close.x, close.y)], key=lambda spot: spot.height)


def _missed_where(surface: Surface, strip: Strip, bends: Array) -> Spot:
    """Return the same for the rows alone between which a strip bends sharply."""
    rows = np.flatnonzero((bends > _BEND).any(axis=1)) + 1
    near = np.zeros(len(strip.y), dtype=bool)
    near[np.clip(np.concatenate([rows - 1, rows, rows + 1]), 0, len(strip.y) - 1)] = True
    return max(_beside(surface, strip, strip.x, strip.y[near]), key=lambda spot: spot.height)


def _beside(surface: Surface, strip: Strip, across: Array, along: Array) -> Iterator[Spot]:
    """Yield where lines are furthest off at a share of each cell of a grid, share after share."""
    for right, up in _ASIDE:
        x, y = _aside(across, right), _aside(along, up)
        yield _furthest(strip, x, y, surface.at(x[None, :], y[:, None]))


def _aside(places: Array, share: float) -> Array:
    """Return a place within each cell, at a share of it."""
    return places[:-1] + share * np.diff(places)


def _furthest(strip: Strip, x: Array, y: Array, heights: Array) -> Spot:
    """Return where heights at (x, y) are furthest off the straight lines between a strip's own, which are evenly apart."""
    column, row = _cells(strip.x, x), _cells(strip.y, y)
    (i, across), (j, along) = column, row
    low, high = strip.heights[j], strip.heights[j + 1]
    lines = low + along[:, None] * (high - low)
    off = np.abs(lines[:, i] + across * (lines[:, i + 1] - lines[:, i]) - heights)
    worst, beside = divmod(int(off.argmax()), len(x))
    return Spot(float(strip.place.top - y[worst]), float(x[beside] - strip.place.left), float(off[worst, beside]))


def _cells(grid: Array, places: Array) -> tuple[np.ndarray, Array]:
    """Return in which cell of an even grid each place is, and how far through it, 0 to 1."""
    counted = (places - grid[0]) / (grid[1] - grid[0])
    cell = np.clip(np.floor(counted), 0, len(grid) - 2).astype(np.intp)
    return cell, counted - cell


def missed_at(job: Job, layout: Layout, surface: Surface, number: int, step: float) -> float:
    """Return how far straight lines between heights at most `step` apart miss a strip's surface, 0 where they hold, mm."""
    missed = look_closely(job, layout, surface, cut_strip(job, layout, surface, number, step)).missed
    return missed.height if missed else 0.0


def missed_around(job: Job, layout: Layout, surface: Surface, number: int, step: float, from_top: float) -> float:
    """Return the same for the rows alone around a place, mm from the top."""
    strip = cut_strip(job, layout, surface, number, step, around=(from_top, 2.0 * job.sampling.step))
    return max(spot.height for spot in _beside(surface, strip, strip.x, strip.y))
