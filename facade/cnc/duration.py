"""How long a cutter's way takes on a machine that must speed up and slow down."""

from __future__ import annotations

import numpy as np

from facade.arrays import Array
from facade.cnc.moves import Moves
from facade.job import Machine, Speeds

# A machine rounds the corner between two moves by about this much without stopping, mm; common practice.
_ROUNDED = 0.02
_SHORTEST = 1e-9


def move_times(moves: Moves, machine: Machine, speeds: Speeds) -> Array:
    """Return the seconds that each move takes (n - 1,), from the first place on.

    A machine goes round a corner no faster than it could follow a circle that cuts it by 0.02 mm; between corners it speeds up and slows
    down evenly (uniform acceleration: v^2 = u^2 + 2 a s).
    """
    limits = np.array([machine.rapid, speeds.plunge, speeds.feed])[moves.kinds[1:]] / 60.0
    lengths, pull = moves.lengths, machine.acceleration
    corners = np.minimum(_corner_squares(moves.places, lengths, pull), _square_between(limits))
    corners = _reached(corners, lengths, pull)
    corners = _reached(corners[::-1], lengths[::-1], pull)[::-1]
    return _times(corners[:-1], corners[1:], limits, lengths, pull)


def _square_between(speeds: Array) -> Array:
    """Return the squares of the speeds that hold at the places: the lower of both moves; still at both ends."""
    return np.concatenate([[0.0], np.minimum(speeds[:-1], speeds[1:]) ** 2, [0.0]])


def _corner_squares(places: Array, lengths: Array, pull: float) -> Array:
    """Return the squares of the speeds at which corners can be rounded, (n,): a R, R = d sin(t/2) / (1 - sin(t/2))."""
    ways = np.diff(places, axis=0) / np.maximum(lengths, _SHORTEST)[:, None]
    opening = np.clip(-(ways[:-1] * ways[1:]).sum(axis=1), -1.0, 1.0)
    half = np.sqrt((1.0 - opening) / 2.0)
    radius = _ROUNDED * half / np.maximum(1.0 - half, 1e-12)
    return np.concatenate([[0.0], pull * radius, [0.0]])


def _reached(squares: Array, lengths: Array, pull: float) -> Array:
    """Return the squares of the speeds that can be reached from the places before: v^2 grows by 2 a s."""
    gained = 2.0 * pull * np.concatenate([[0.0], np.cumsum(lengths)])
    return np.asarray(np.minimum.accumulate(squares - gained) + gained)


def _times(before: Array, after: Array, speeds: Array, lengths: Array, pull: float) -> Array:
    """Return the time of each move: speeding up, going on, slowing down."""
    peak = np.minimum(pull * lengths + (before + after) / 2.0, speeds**2)
    first, last, top = np.sqrt(before), np.sqrt(after), np.sqrt(np.maximum(peak, 0.0))
    level = lengths - (2.0 * peak - before - after) / (2.0 * pull)
    cruise = np.where(top > 0.0, np.maximum(level, 0.0) / np.maximum(top, _SHORTEST), 0.0)
    return (2.0 * top - first - last) / pull + cruise


def total_time(moves: Moves, machine: Machine, speeds: Speeds) -> float:
    """Return the seconds that a whole way takes."""
    return float(move_times(moves, machine, speeds).sum())
