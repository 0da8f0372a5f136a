"""Waves across a front, from crest to crest: the shortest of them say how narrow strips must be."""

from __future__ import annotations

import math
from collections.abc import Iterator

import numpy as np

from facade.arrays import Array
from facade.front import Front
from facade.layout import Division, Door
from facade.surface import Surface

# A crest counts when the face falls by this on both sides of it before it rises higher.
PROMINENCE = 0.5
# One wave in ten is shorter than what is taken as the shortest: single odd crests do not count.
_SHORTEST = 0.1
_ROW_APART, _MOST_ROWS, _ACROSS = 25.0, 121, 2.0


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
    rows = surface.at(x[None, :], rows_of(door)[:, None])
    apart = [np.diff([_top(x, row, *crest) for crest in crests(row, PROMINENCE)]) for row in rows]
    return np.sort(np.concatenate(apart))


def rows_of(door: Door) -> Array:
    """Return places along a door at which it is looked at."""
    return np.linspace(door.bottom, door.top, min(_MOST_ROWS, math.ceil(door.height / _ROW_APART) + 1))


def _top(x: Array, heights: Array, first: int, last: int) -> float:
    """Return where a crest is highest: the top of the parabola through three places, or the middle of what is level."""
    if last > first:
        return float(x[first] + x[last]) / 2
    before, top, after = heights[first - 1 : first + 2].tolist()
    aside = float((after - before) / (2 * top - before - after))
    return float(x[first]) + aside * float(x[1] - x[0]) / 2


def shortest_wave(front: Front) -> tuple[float, Division] | None:
    """Return the wave across, mm, that is shortest for the strips of its door, and how that door is divided; None without waves."""
    return min(_shortest_waves(front), key=lambda one: one[0] / pitch(one[1]), default=None)


def _shortest_waves(front: Front) -> Iterator[tuple[float, Division]]:
    """Yield the shortest wave across each door that has any, mm, and how the door is divided."""
    for door, division in zip(front.layout.doors, front.layout.divisions, strict=True):
        first, last = front.layout.strip(door.first_strip), front.layout.strip(door.last_strip)
        waves = waves_across(front.surface, door, first.left, last.right)
        if len(waves):
            yield float(waves[math.ceil(_SHORTEST * len(waves)) - 1]), division


def pitch(division: Division) -> float:
    """Return the distance from strip to strip, mm."""
    return division.width + division.gap
