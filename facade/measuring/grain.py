"""Along the grain: crests and hollows, the strokes between them, steep places, and fibres that are cut short.

The grain runs straight along the strip.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from enum import StrEnum
from itertools import pairwise

import numpy as np

from facade.arrays import Array
from facade.job import Job
from facade.slicer import Strip

# Ripples that rise or fall less, mm, are no crests and hollows: the hand does not feel them, and the first stroke of
# sandpaper takes them off.
PROMINENCE = 0.05
# Fibres are looked at so far below a crest or an end, mm: what lies above breaks off with the fibres that carry it.
FIBRE_DEPTH = 3.0
# Steep stretches that are closer, mm, are sanded as one.
_APART = 10.0


class Line(StrEnum):
    """A line along a strip."""

    LEFT = "left edge"
    CENTRE = "centre"
    RIGHT = "right edge"


class Kind(StrEnum):
    """What a line does where it turns."""

    CREST = "crest"
    HOLLOW = "hollow"


@dataclass(frozen=True)
class Turn:
    """A crest or a hollow of a line, mm from the top and above the back."""

    line: Line
    kind: Kind
    from_top: float
    height: float


@dataclass(frozen=True)
class Ends:
    """Heights of a line at the two ends of the strip, mm."""

    line: Line
    top: float
    bottom: float


@dataclass(frozen=True)
class Stroke:
    """A stretch of a line that is carved downhill, with the grain, from `start` to `end`, both mm from the top."""

    line: Line
    start: float
    end: float


@dataclass(frozen=True)
class Steepest:
    """The place where a strip rises or falls most along the grain."""

    from_top: float
    from_left: float
    degrees: float


@dataclass(frozen=True)
class Stretch:
    """A part of a strip that is steep somewhere across it, both mm from the top."""

    start: float
    end: float


@dataclass(frozen=True)
class Fibre:
    """Unbroken fibre 3 mm below a crest or an end, which is at `from_top` and `from_left`; mm."""

    from_top: float
    from_left: float
    length: float


@dataclass(frozen=True)
class Grain:
    """What a strip does along the grain. Turns are sorted by line, then from the top.

    `steepest` leaves out finger pulls, whose walls are steep by nature: `pull_wall` has the steepest of them. `stretches` are
    steeper than the limit "slope_watch" and want a finer grit; `shortest` is None where no fibre is cut. `step` is how far apart
    the heights are that it was read off, mm along the strip.
    """

    length: float
    turns: tuple[Turn, ...]
    ends: tuple[Ends, ...]
    steepest: Steepest
    pull_wall: Steepest | None
    stretches: tuple[Stretch, ...]
    shortest: Fibre | None
    step: float

    @property
    def strokes(self) -> tuple[Stroke, ...]:
        """The strokes that carve the strip with its grain."""
        return strokes(self.turns, self.ends, self.length)


@dataclass(frozen=True)
class _Profile:
    """Heights `z` of a line at `x` mm from the top, evenly apart."""

    line: Line
    from_left: float
    x: Array
    z: Array


def grain_of(job: Job, strip: Strip) -> Grain:
    """Return what a strip does along the grain."""
    profiles = _profiles(strip)
    turns = {profile.line: list(_turns(profile)) for profile in profiles}
    fibres = [fibre for profile in profiles for fibre in _fibres(profile, turns[profile.line])]
    steepest, wall, stretches = _slopes(job, strip)
    return Grain(
        length=strip.length,
        turns=tuple(turn for profile in profiles for turn in turns[profile.line]),
        ends=tuple(Ends(profile.line, float(profile.z[0]), float(profile.z[-1])) for profile in profiles),
        steepest=steepest,
        pull_wall=wall,
        stretches=stretches,
        shortest=min(fibres, key=lambda fibre: fibre.length, default=None),
        step=strip.length / (len(strip.y) - 1),
    )


def _profiles(strip: Strip) -> list[_Profile]:
    """Return the two edges and the line midway between them, from the top."""
    x = strip.from_top[::-1].copy()
    last = len(strip.x) - 1
    # With an even number of columns none is in the middle: then it is midway between two.
    centre = (strip.heights[:, last // 2] + strip.heights[:, (last + 1) // 2]) / 2.0
    lines = (
        (Line.LEFT, 0.0, strip.left_edge),
        (Line.CENTRE, strip.width / 2.0, centre),
        (Line.RIGHT, strip.width, strip.right_edge),
    )
    return [_Profile(line, from_left, x, z[::-1].copy()) for line, from_left, z in lines]


def _turns(profile: _Profile) -> Iterator[Turn]:
    """Yield crests and hollows in turn, from the top; a level stretch counts as one place."""
    z = profile.z
    changes = np.flatnonzero(z[1:] != z[:-1])
    first, last = np.append(0, changes + 1), np.append(changes, len(z) - 1)
    levels = z[first]
    rising = levels[1:] > levels[:-1]
    bends = np.flatnonzero(rising[1:] != rising[:-1]) + 1
    for kept in _prominent([float(z[0]), *levels[bends].tolist(), float(z[-1])]):
        bend = int(bends[kept - 1])
        kind = Kind.CREST if rising[bend - 1] else Kind.HOLLOW
        yield Turn(profile.line, kind, *_vertex(profile, int(first[bend]), int(last[bend])))


def _prominent(heights: list[float]) -> list[int]:
    """Return which of the lows and highs of a line, its two ends around them, stand out; crests and hollows then alternate.

    A turn counts once the line has gone PROMINENCE towards it and as much away from it. The ends do not count.
    """
    kept: list[int] = []
    low = high = 0
    rising: bool | None = None
    for index, height in enumerate(heights):
        low = index if height < heights[low] else low
        high = index if height > heights[high] else high
        if rising is not True and height - heights[low] >= PROMINENCE:
            kept += [low] if rising is False else []
            rising, high = True, index
        elif rising is not False and heights[high] - height >= PROMINENCE:
            kept += [high] if rising else []
            rising, low = False, index
    return kept


def _vertex(profile: _Profile, first: int, last: int) -> tuple[float, float]:
    """Return place and height of a turn: the vertex of the parabola through three heights, or the middle of a level stretch."""
    x, z = profile.x, profile.z
    if first < last:
        return float(x[first] + x[last]) / 2.0, float(z[first])
    before, here, after = z[first - 1 : first + 2].tolist()
    share = 0.5 * (before - after) / (before - 2.0 * here + after)
    step = float(x[first + 1] - x[first - 1]) / 2.0
    return float(x[first]) + share * step, here - 0.25 * (before - after) * share


def strokes(turns: Iterable[Turn], ends: Iterable[Ends], length: float) -> tuple[Stroke, ...]:
    """Return the strokes of every line of a strip: downhill from every crest, so that they meet in hollows alone.

    The ends of the strip are starts and ends like crests and hollows. A line that is level has none.
    """
    turns = tuple(turns)
    return tuple(
        stroke for line in ends for stroke in _strokes([turn for turn in turns if turn.line is line.line], line, length)
    )


def _strokes(turns: list[Turn], ends: Ends, length: float) -> Iterator[Stroke]:
    if not turns and abs(ends.top - ends.bottom) < PROMINENCE:
        return
    falling = _falls_from_top(turns, ends.top, ends.bottom)
    for upper, lower in pairwise([0.0, *(turn.from_top for turn in turns), length]):
        yield Stroke(ends.line, upper, lower) if falling else Stroke(ends.line, lower, upper)
        falling = not falling


def _falls_from_top(turns: list[Turn], top: float, bottom: float) -> bool:
    """Tell whether a line falls from its top end on."""
    return turns[0].kind is Kind.HOLLOW if turns else top > bottom


def _falls_from_bottom(turns: list[Turn], top: float, bottom: float) -> bool:
    """Tell whether a line falls from its bottom end up."""
    return turns[-1].kind is Kind.HOLLOW if turns else bottom > top


def _fibres(profile: _Profile, turns: list[Turn]) -> Iterator[Fibre]:
    """Yield the fibres below crests, and below ends from which the line falls, of those that are cut."""
    x, z = profile.x, profile.z
    top, bottom, lowest = float(z[0]), float(z[-1]), float(z.min())
    heads = [(turn.from_top, turn.height) for turn in turns if turn.kind is Kind.CREST]
    heads += [(float(x[0]), top)] if _falls_from_top(turns, top, bottom) else []
    heads += [(float(x[-1]), bottom)] if _falls_from_bottom(turns, top, bottom) else []
    for from_top, height in heads:
        if height - FIBRE_DEPTH >= lowest:
            yield Fibre(from_top, profile.from_left, _fibre_length(profile, from_top, height - FIBRE_DEPTH))


def _fibre_length(profile: _Profile, from_top: float, level: float) -> float:
    """Return how far a line stays above a level around a place; the ends of the strip cut fibres too."""
    x = profile.x
    below = np.flatnonzero(profile.z <= level)
    after = int(np.searchsorted(x[below], from_top))
    upper = _crossing(profile, int(below[after - 1]), 1, level) if after > 0 else float(x[0])
    lower = _crossing(profile, int(below[after]), -1, level) if after < len(below) else float(x[-1])
    return lower - upper


def _crossing(profile: _Profile, below: int, towards: int, level: float) -> float:
    """Return where a line crosses a level between a place below it and the next one above it."""
    x, z = profile.x, profile.z
    share = (level - z[below]) / (z[below + towards] - z[below])
    return float(x[below] + share * (x[below + towards] - x[below]))


def steepest_of(job: Job, strip: Strip) -> Steepest:
    """Return the steepest place of a strip, its finger pulls left out."""
    return _slopes(job, strip)[0]


def _slopes(job: Job, strip: Strip) -> tuple[Steepest, Steepest | None, tuple[Stretch, ...]]:
    """Return the steepest place from one row to the next, that of the pulls on the strip, and the stretches to watch."""
    rise: Array = np.abs(np.diff(strip.heights, axis=0))
    watch = math.tan(math.radians(job.limit("slope_watch").value)) * strip.length / (len(strip.y) - 1)
    steep = np.flatnonzero(rise.max(axis=1)[::-1] > watch)
    walls = []
    for pull in job.pulls:
        rows = _span(strip.y, pull.centre[1], pull.size[1])
        columns = _span(strip.x, pull.centre[0] + strip.place.moved, pull.size[0])
        if rise[rows, columns].size:
            walls.append(_steepest(strip, rise, rows, columns))
            rise[rows, columns] = 0.0
    everywhere = slice(0, len(rise)), slice(0, len(strip.x))
    return (
        _steepest(strip, rise, *everywhere),
        max(walls, key=lambda wall: wall.degrees, default=None),
        _stretches(steep, strip.length / (len(strip.y) - 1)) if len(steep) else (),
    )


def _span(places: Array, centre: float, size: float) -> slice:
    """Return which of rising places are within a size around a centre, with one to spare on both sides."""
    first, last = np.searchsorted(places, (centre - size / 2.0, centre + size / 2.0))
    return slice(max(int(first) - 1, 0), int(last) + 1) if first < last else slice(0, 0)


def _steepest(strip: Strip, rise: Array, rows: slice, columns: slice) -> Steepest:
    """Return the steepest place within some rows and columns of the rise from row to row."""
    part = rise[rows, columns]
    row, column = divmod(int(part.argmax()), part.shape[1])
    row, column = row + rows.start, column + columns.start
    return Steepest(
        from_top=float(strip.place.top - (strip.y[row] + strip.y[row + 1]) / 2.0),
        from_left=float(strip.x[column] - strip.place.left),
        degrees=math.degrees(math.atan(float(rise[row, column]) / float(strip.y[row + 1] - strip.y[row]))),
    )


def _stretches(steep: np.ndarray, step: float) -> tuple[Stretch, ...]:
    """Return the stretches that steps, counted from the top, make up; rounding does not part what is just 10 mm apart."""
    parts = np.split(steep, np.flatnonzero((np.diff(steep) - 1) * step > _APART - 1e-6) + 1)
    return tuple(Stretch(float(part[0]) * step, float(part[-1] + 1) * step) for part in parts)
