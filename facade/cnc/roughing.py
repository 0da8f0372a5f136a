"""The roughing cut: a straight cutter takes the waste off in levels, and leaves some on for the ball."""

from __future__ import annotations

import itertools
import math
from collections.abc import Iterator, Sequence
from typing import NamedTuple

import numpy as np

from facade.arrays import Array
from facade.cnc.drop import FlatEnd, tip_heights
from facade.cnc.finishing import clear_height, near_height, run_out, thin_last
from facade.cnc.fixture import Fixture
from facade.cnc.ground import Ground, ground_of
from facade.cnc.moves import Moves, entered, joined
from facade.errors import mistake
from facade.job.machine import OUTSIDE
from facade.thinning import thin_runs

_GRID = 1.0  # mm; what is left on covers what it misses
_STRAIGHT = 0.05  # mm that straight moves may run from the cutter's way
_WORTH = 0.05  # mm; where a level takes off less, it is left out
# Two cuts on one line with less between them than this, mm, are one: the cutter runs on over the ground.
_NEAR = 60.0
_STEP = 0.4  # of the cutter's diameter


def roughing_ground(fixture: Fixture) -> Ground:
    """Return the surface that roughing must not cut into: finished, with all that is left on."""
    machine = fixture.front.job.machine
    beyond = fixture.waste + machine.roughing.cutter / 2 + OUTSIDE
    ground = ground_of(
        fixture,
        beside=machine.roughing.cutter,
        beyond=beyond,
        curve=run_out(machine.finishing.radius),
        step=_GRID,
    )
    return ground.lifted(machine.leave + machine.roughing.leave)


def roughing(fixture: Fixture, ground: Ground) -> Moves | None:
    """Return the roughing cut of a fixture, None where there is nothing to take off; raises JobError for a step that is too wide."""
    plan = fixture.front.job.machine.roughing
    step = _STEP * plan.cutter if plan.step is None else plan.step
    if step > plan.cutter:
        show = fixture.front.job.ruler.text
        raise mistake(
            "machine.roughing.step",
            f"`machine.roughing.step` must be at most the cutter's diameter of {show(plan.cutter, 3)} (got {show(step, 3)}): 0.4 of it is "
            "usual",
        )
    at = np.linspace(0.0, fixture.width, max(1, math.ceil(fixture.width / step - 1e-9)) + 1)
    tips = tip_heights(ground, FlatEnd(plan.cutter / 2), at)
    order = _order(fixture, at)
    found = [
        one
        for above, level in _levels(fixture.blank, float(tips.min()), plan.level)
        for one in _level(ground.y, tips, order, above, level)
    ]
    cuts = _cuts(at, ground.y, found)
    return joined([entered(cut, clear_height(fixture), near_height(fixture)) for cut in cuts]) if cuts else None


def _levels(top: float, bottom: float, most: float) -> list[tuple[float, float]]:
    """Return the levels from the top, each with the one above it, all equal."""
    count = max(1, math.ceil((top - bottom) / most - 1e-9))
    places = np.linspace(top, min(bottom, top), count + 1).tolist()
    return list(itertools.pairwise(places))


def _order(fixture: Fixture, at: Array) -> list[int]:
    """Return the lines in the order in which they are cut: those of thin strips last."""
    middles = (fixture.lefts + fixture.rights) / 2
    strip = np.abs(at[:, None] - middles).argmin(axis=1)
    rank = {index: place for place, index in enumerate(thin_last(fixture))}
    return sorted(range(len(at)), key=lambda line: (rank[int(strip[line])], line))


class _Stretch(NamedTuple):
    """A stretch of one line that is cut at one level: its rows, how high the tip goes at each, and whether it is cut downwards."""

    line: int
    rows: slice
    way: Array
    down: bool


def _level(y: Array, tips: Array, order: list[int], above: float, level: float) -> Iterator[_Stretch]:
    """Yield the stretches of one level in their order, each line begun at the end that is nearer."""
    here = float(y[0])
    for line in order:
        way = np.maximum(tips[line], level)
        stretches = _stretches(way < above - _WORTH, y)
        down = bool(stretches) and abs(here - y[stretches[0][0]]) > abs(here - y[stretches[-1][1]])
        for first, last in stretches[::-1] if down else stretches:
            rows = slice(first, last + 1)
            yield _Stretch(line, rows, way[rows], down)
            here = float(y[first] if down else y[last])


def _cuts(at: Array, y: Array, stretches: Sequence[_Stretch]) -> list[Array]:
    """Return the cuts (n, 3) along stretches, without places that do not count."""
    if not stretches:
        return []
    counts = np.array([len(one.way) for one in stretches])
    keep = np.split(
        thin_runs(np.concatenate([one.way for one in stretches]), counts, _STRAIGHT), np.cumsum(counts)[:-1]
    )
    cuts = []
    for one, some in zip(stretches, keep, strict=True):
        along = y[one.rows][some]
        cut = np.column_stack([np.full(len(along), at[one.line]), along, one.way[some]])
        cuts.append(cut[::-1] if one.down else cut)
    return cuts


def _stretches(cuts: Array, y: Array) -> list[tuple[int, int]]:
    """Return the first and last row of the stretches that are cut, each one row longer where the cutter meets the ground."""
    turns = np.flatnonzero(np.diff(np.concatenate([[False], cuts, [False]])))
    found: list[tuple[int, int]] = []
    for start, stop in zip(turns[::2].tolist(), turns[1::2].tolist(), strict=True):
        first, last = max(start - 1, 0), min(stop, len(y) - 1)
        if found and y[first] - y[found[-1][1]] < _NEAR:
            first = found.pop()[0]
        found.append((first, last))
    return found
