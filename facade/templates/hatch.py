"""Hatch, and runs of many short lines: what tells waste, left and right apart in grey print."""

from __future__ import annotations

import numpy as np

from facade.arrays import Array


def upright(x: Array, low: Array | float, high: Array | float) -> Array:
    """Return upright runs (n, 2, 2) at each x."""
    return np.stack([_places(x, low), _places(x, high)], axis=1)


def level(left: Array, right: Array, y: Array | float) -> Array:
    """Return level runs (n, 2, 2) from left to right."""
    return np.stack([_places(left, y), _places(right, y)], axis=1)


def _places(x: Array, y: Array | float) -> Array:
    places = np.empty((*np.broadcast_shapes(np.shape(x), np.shape(y)), 2))
    places[..., 0], places[..., 1] = x, y
    return places


def slants(along: Array, low: Array, high: float, pitch: float = 3.0, grain: float = 0.25) -> Array:
    """Return slanting lines between a line (points,) and a level above it, runs (n, 2, 2): the hatch of LEFT sides."""
    along, low = _rising(along, low)
    bottom = float(low.min())
    if high - bottom < 0.6:
        return np.empty((0, 2, 2))
    rise = np.arange(0.0, high - bottom + grain, grain)
    rise = rise[bottom + rise <= high]
    starts = np.arange(along[0] - rise[-1], along[-1], pitch)
    x, y = starts[:, None] + rise, bottom + rise
    inside = (x >= along[0]) & (x <= along[-1]) & (y >= np.interp(x, along, low))
    edges = np.diff(np.pad(inside.astype(np.int8), ((0, 0), (1, 1))), axis=1)
    (line, first), (_, after) = np.nonzero(edges == 1), np.nonzero(edges == -1)
    last = after - 1
    long = last > first
    line, first, last = line[long], first[long], last[long]
    return np.stack([_places(x[line, first], y[first]), _places(x[line, last], y[last])], axis=1)


def crosses(along: Array, low: Array, high: float, pitch: float = 4.0, arm: float = 0.75) -> Array:
    """Return crosses between a line (points,) and a level above it, runs (n, 2, 2): the hatch of RIGHT sides."""
    along, low = _rising(along, low)
    levels = np.arange(high - 1.1, float(low.min()), -2.6)
    runs = [np.empty((0, 2, 2))]
    for row, height in enumerate(levels):
        x = np.arange(along[0] + 1.2 + (pitch / 2) * (row % 2), along[-1] - 1.0, pitch)
        clear = np.maximum(np.interp(x - arm, along, low), np.interp(x + arm, along, low)) <= height - arm - 0.1
        x = x[clear]
        runs += [level(x - arm, x + arm, height), upright(x, height - arm, height + arm)]
    return np.concatenate(runs)


def _rising(along: Array, low: Array) -> tuple[Array, Array]:
    return (along[::-1], low[::-1]) if along[0] > along[-1] else (along, low)
