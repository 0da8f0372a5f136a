"""The runs of a straight cutter along the face of a strip on its side: open, from beyond one end to beyond the other.

Each is given twice: as the cutter's outside goes, and as its middle goes. The last run is the line itself; those before it take the
wood off in steps from the raw face.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from facade.arrays import Array
from facade.cnc.profiles import SHORTEST, Profile, crossings, with_corners
from facade.cnc.side_bays import Bay, rising_room, turning_room
from facade.job import Cut
from facade.thinning import thin_each

_HAIR = 1e-9
# A line that turns by more than this slope from one place to the next has a corner there; mm between places of a close look.
_KINK, _FINE = 0.04, 0.05
# Step cuts may be off by so much, mm; their places are looked over so many times for those that say nothing.
_UNEVEN, _PASSES = 0.03, 8


@dataclass(frozen=True)
class Run:
    """One run, (points, 2) each, mm in its bay: `outside` is where the cutter's outside goes, `middle` where its middle does."""

    outside: Array
    middle: Array


@dataclass(frozen=True)
class Runs:
    """What is cut along a strip's face: the steps in their order, then the last run.

    `standing` is what that leaves in hollows tighter than the cutter, mm, and `standing_at` where from the TOP end; `most` is the
    most wood that a run meets, mm.
    """

    steps: tuple[Run, ...]
    last: Run
    standing: float
    standing_at: float
    most: float


def runs_of(bay: Bay, profile: Profile) -> Runs:
    """Return the runs along a strip's face, steps first."""
    machine = bay.front.job.machine
    side = machine.side
    line = _with_leads(bay, profile.cut)
    wood = bay.blank - float(profile.cut[:, 1].min())
    # What is left for the last run may be a little uneven: fewer places do.
    uneven = min(_UNEVEN, side.leave / 8)
    count = math.ceil((wood - side.leave) / side.step - _HAIR) if wood > side.step + _HAIR else 0
    above = line + np.array([0.0, side.leave])
    outsides = [_fewer(_not_below(above, bay.blank - k * side.step), uneven) for k in range(1, count + 1)]
    *middles, last_middle = _middle(bay, [*outsides, line])
    last, steps = Run(line, last_middle), []
    for k, (outside, middle) in enumerate(zip(outsides, middles, strict=True), start=1):
        step = Run(outside, _fewer(middle, uneven))
        # To and fro where the job has no wish: the last run always begins at the BOTTOM end.
        steps.append(Run(step.outside[::-1], step.middle[::-1]) if machine.cut is Cut.EITHER and k % 2 == 0 else step)
    standing, at = _standing(bay, last)
    return Runs(tuple(steps), last, standing, bay.length - at, min(wood, side.step) if steps else wood)


def _with_leads(bay: Bay, cut: Array) -> Array:
    """Return a line along the face with its way in and its way out."""
    turned = _turned(bay, cut)
    way_in = _turned(bay, _lead(bay, turned[-1], turned[-2]))
    return np.concatenate([way_in, cut, _lead(bay, cut[-1], cut[-2])])


def _turned(bay: Bay, line: Array) -> Array:
    """Return a line as it would be with the strip turned end for end."""
    return np.column_stack([bay.length - line[:, 0], line[:, 1]])[::-1]


def _lead(bay: Bay, end: Array, before: Array) -> Array:
    """Return the places of a run beyond the TOP end of its line, outwards, (places, 2).

    It goes on as the line falls until the cutter has touched the very end, then level, and rises where it must clear screws.
    """
    x, y = end.tolist()
    slope = float((before[1] - y) / (x - before[0]))
    further = turning_room(bay, slope)
    if further > _HAIR:
        further = max(further, SHORTEST)
    y -= max(slope, 0.0) * further
    x += further
    places = [[x, y]] if further else []
    if y < bay.over_waste - _HAIR:
        x += rising_room(bay)
        places += [[x, y], [x + max(bay.over_waste - y, SHORTEST), bay.over_waste]]
        y = bay.over_waste
    places.append([bay.length + bay.lead, y])
    return np.array(places)


def _not_below(line: Array, level: float) -> Array:
    """Return a line where it is above a level, and the level where it is not, its corners kept and no piece too short."""
    x, y = line.T
    corners = crossings(x, y, np.full(len(x), level))
    places = np.column_stack([x, np.maximum(y, level)])
    # What lies below it says nothing.
    keep = y >= level
    for x_corner in corners[:, 1].tolist():
        keep &= np.abs(x - x_corner) >= SHORTEST
    keep[[0, -1]] = True
    found = np.concatenate([places[keep], corners[:, 1:]])
    found = found[np.argsort(found[:, 0], kind="stable")]
    apart = np.r_[True, np.diff(found[:, 0]) >= SHORTEST]
    apart[-1] = True
    return found[apart]


def _fewer(run: Array, tolerance: float) -> Array:
    """Return a run without places that lie on the straight between their neighbours, to within a tolerance in all, mm."""
    for _ in range(_PASSES):
        before, here, after = run[:-2], run[1:-1], run[2:]
        share = (here[:, 0] - before[:, 0]) / (after[:, 0] - before[:, 0])
        away = np.abs(before[:, 1] + share * (after[:, 1] - before[:, 1]) - here[:, 1])
        drop = away <= tolerance / _PASSES + _HAIR
        # Of neighbours one stays, by which the other was judged.
        if not drop.any():
            break
        drop[1::2] &= ~(drop[:-1:2][: len(drop[1::2])] | np.append(drop[2::2], False)[: len(drop[1::2])])
        run = run[np.concatenate([[True], ~drop, [True]])]
    return run


def _middle(bay: Bay, outsides: Sequence[Array]) -> list[Array]:
    """Return where a cutter's middle goes whose outside goes along lines or, in hollows tighter than it, as near as it can.

    The lines all begin and end at the same places along the strip.
    """
    x, middles = _middles(bay, outsides)
    keep = thin_each(middles, bay.front.job.machine.side.tolerance / 2)
    return [with_corners(x, line, some, _kinks(x, line)) for line, some in zip(middles, keep, strict=True)]


def _kinks(x: Array, heights: Array) -> Array:
    """Return where a line has a corner between two places, its hollow side up: the place before, x and height, (corners, 3), mm.

    There a cutter turns from one side of a hollow to the other; straight lines from both sides meet in the corner.
    """
    step = float(x[1] - x[0])
    slope = np.diff(heights) / step
    turns = np.pad(slope[2:] - slope[:-2], 2)
    # Beside a corner the line seems to turn too, though less; two places on it turns as a bent line does.
    middle, bent = turns[2:-2], np.maximum(np.maximum(turns[:-4], turns[4:]), 0.0)
    at = np.flatnonzero((middle - bent > _KINK) & (middle >= turns[1:-3]) & (middle >= turns[3:-1])) + 1
    turn = middle[at - 1]
    along = (heights[at + 1] - heights[at] - slope[at + 1] * step) / -turn
    inside = (along > 0.0) & (along < step)
    at, along = at[inside], along[inside]
    return np.column_stack([at, x[at] + along, heights[at] + slope[at - 1] * along])


def _middles(bay: Bay, outsides: Sequence[Array]) -> tuple[Array, Array]:
    """Return places along runs, SHORTEST apart at least, and the heights of the middle at each (runs, places): lines widened by the
    circle."""
    radius = bay.cutter / 2
    first, last = outsides[0][0, 0], outsides[0][-1, 0]
    count = math.floor((last - first) / SHORTEST)
    x = np.linspace(first, last, count + 1)
    # Twice as fine, and on beyond both ends.
    step = (last - first) / (2 * count)
    reach = math.floor(radius / step)
    fine = first + (np.arange(2 * count + 1 + 2 * reach) - reach) * step
    heights = np.stack([np.interp(fine, *line.T) for line in outsides])
    rise = np.sqrt(radius * radius - (np.arange(-reach, reach + 1) * step) ** 2)
    middles = np.full((len(outsides), count + 1), -np.inf)
    for k in range(2 * reach + 1):
        np.maximum(middles, heights[:, k : k + 2 * count + 1 : 2] + rise[k], out=middles)
    # Corners that stand out lie between the fine places: the circle rolls over each of them.
    for line, middle in zip(outsides, middles, strict=True):
        slope = np.diff(line[:, 1]) / np.diff(line[:, 0])
        for corner_x, corner_y in line[1:-1][slope[:-1] - slope[1:] > _KINK].tolist():
            near = slice(*np.searchsorted(x, (corner_x - radius, corner_x + radius)))
            over = corner_y + np.sqrt(np.maximum(radius * radius - (x[near] - corner_x) ** 2, 0.0))
            np.maximum(middle[near], over, out=middle[near])
    return x, middles


def _standing(bay: Bay, last: Run) -> tuple[float, float]:
    """Return the most that the last run leaves standing on its line, mm, and where from the BOTTOM end.

    Asked at the line's own places, among which are its corners.
    """
    places = last.outside[(last.outside[:, 0] >= -_HAIR) & (last.outside[:, 0] <= bay.length + _HAIR)]
    radius = bay.cutter / 2
    aside = np.linspace(-radius, radius, 2 * math.ceil(radius / _FINE) + 1)
    low = np.sqrt(np.maximum(radius * radius - aside * aside, 0.0))
    middles = np.interp(places[:, :1] + aside, last.middle[:, 0], last.middle[:, 1])
    left = (middles - low).min(axis=1) - places[:, 1]
    worst = int(left.argmax())
    return max(float(left[worst]), 0.0), float(places[worst, 0])
