"""How long a program runs, reckoned from the moves in its file: a machine speeds up and slows down evenly, and rounds corners."""

from __future__ import annotations

import numpy as np

from facade.arrays import Array
from facade.job import Machine
from facade.proof.programs import Program

# A machine rounds the corner between two moves by about this much without stopping, mm; common practice.
_ROUNDED = 0.02


def seconds_of(program: Program, machine: Machine) -> float:
    """Return the seconds that a program's moves take, from its first place on.

    Where two moves meet at the angle t, the circle that comes within d of their corner has the radius d sin(t / 2) / (1 - sin(t / 2)); at
    the speed v it pulls by v^2 / r (plane geometry, uniform circular motion). Speeds are reached by v^2 = u^2 + 2 a s, from rest to rest.
    """
    step = np.diff(program.places, axis=0)
    length = np.linalg.norm(step, axis=1)
    moves = length > 0.0
    if not moves.any():
        return 0.0
    step, length = step[moves], length[moves]
    most = np.where(program.rapid, machine.rapid, np.nan_to_num(program.feeds))[moves] / 60.0
    pull = machine.acceleration
    way = step / length[:, None]
    # The sine of half the angle that two moves enclose: 1 on a straight way, 0 where the cutter turns back.
    opening = np.linalg.norm(way[1:] + way[:-1], axis=1) / 2.0
    corner = pull * _ROUNDED * opening / np.maximum(1.0 - opening, 1e-12)
    squares = np.concatenate([[0.0], np.minimum(corner, np.minimum(most[1:], most[:-1]) ** 2), [0.0]])
    squares = _within_reach(squares, 2.0 * pull * length)
    squares = _within_reach(squares[::-1], 2.0 * pull * length[::-1])[::-1]
    return float(_durations(squares[:-1], squares[1:], most, length, pull).sum())


def _within_reach(squares: Array, gained: Array) -> Array:
    """Return squares of speeds that can be had: no place's is larger than that of the place before and what is gained on the way to it."""
    far = np.concatenate([[0.0], np.cumsum(gained)])
    return np.asarray(far + np.minimum.accumulate(squares - far))


def _durations(first: Array, last: Array, most: Array, length: Array, pull: float) -> Array:
    """Return how long each move takes: up to its greatest speed, on at it, down to the next."""
    top = np.minimum(most * most, (first + last) / 2.0 + pull * length)
    changing = (2.0 * np.sqrt(top) - np.sqrt(first) - np.sqrt(last)) / pull
    even = np.maximum(length - (2.0 * top - first - last) / (2.0 * pull), 0.0)
    return np.asarray(changing + even / np.sqrt(np.maximum(top, 1e-12)))
