"""Bars: where lands must lie, as few of them as may be. What is thin along a strip lies under one, neighbours under one together."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

import numpy as np

from facade.front import Front

_BEYOND = 4.0  # mm that a bar reaches beyond what is too thin
_NEAR = 60.0  # mm; bars on neighbouring strips that are no further apart along them are one: twice the usual blend of a land
_HAIR = 1e-6


@dataclass(frozen=True)
class Bar:
    """A stretch of neighbouring strips, from `bottom` to `top`, mm on the front."""

    first: int
    last: int
    bottom: float
    top: float


def thin_bars(front: Front, numbers: Iterable[int], least: float, *, whole: bool) -> tuple[Bar, ...]:
    """Return the bars under which all that is thinner than `least` on some strips lies; `whole` takes one for each strip."""
    bars = []
    for number in numbers:
        strip = front.strip(number)
        rows = np.flatnonzero((strip.heights < least - _HAIR).any(axis=1))
        apart: np.ndarray | list[int] = [] if whole else np.flatnonzero(np.diff(strip.y[rows]) > _NEAR) + 1
        for run in np.split(rows, apart) if len(rows) else ():
            low, high = float(strip.y[run[0]]) - _BEYOND, float(strip.y[run[-1]]) + _BEYOND
            bars.append(Bar(number, number, max(low, strip.place.bottom), min(high, strip.place.top)))
    return merged(front, bars)


def merged(front: Front, bars: Sequence[Bar]) -> tuple[Bar, ...]:
    """Return bars with those drawn together that lie side by side on neighbouring strips of one door."""
    found: list[Bar] = []
    for bar in sorted(bars, key=lambda bar: (bar.first, bar.bottom)):
        whole = bar
        # What has grown may reach others now.
        while near := [one for one in found if _side_by_side(front, one, whole)]:
            found = [one for one in found if one not in near]
            whole = _around([whole, *near])
        found.append(whole)
    return tuple(found)


def _around(bars: Sequence[Bar]) -> Bar:
    return Bar(
        min(bar.first for bar in bars),
        max(bar.last for bar in bars),
        min(bar.bottom for bar in bars),
        max(bar.top for bar in bars),
    )


def _side_by_side(front: Front, one: Bar, other: Bar) -> bool:
    """Tell whether two bars are so near that they are one: on the same or neighbouring strips of one door."""
    beside = one.first <= other.last + 1 and other.first <= one.last + 1
    same_door = front.layout.strip(one.first).door == front.layout.strip(other.first).door
    return beside and same_door and max(one.bottom, other.bottom) - min(one.top, other.top) <= _NEAR
