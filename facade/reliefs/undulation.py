"""Undulation: smooth unevenness that looks alike in every direction, where a single noise shows its square lattice."""

from __future__ import annotations

import math
from functools import lru_cache

import numpy as np

from facade.arrays import Array

_WAVES = 20
# Cycles per unit of length: the longest and the shortest of the waves.
_SLOWEST, _FASTEST = 0.35, 0.8
# Root of the mean square: with it hardly any place is beyond -1 and 1.
_SPREAD = 0.32


def undulation(x: Array, y: Array, *, seed: int, turn: int = 0) -> Array:
    """Return many plane waves of random direction, length and phase, added: about -1 to 1, hills about 1 wide.

    x and y broadcast; an open grid, (1, n) and (m, 1), is quickest. `turn` gives further ones that share nothing. Such a
    sum nears a Gaussian random field (S. O. Rice, "Mathematical Analysis of Random Noise", 1944, for one dimension).
    """
    across, along, phase = _plane_waves(seed, turn)
    if x.ndim == y.ndim == 2 and x.shape[0] == 1 and y.shape[1] == 1:
        # cos(a + b) = cos a cos b - sin a sin b: each wave is a column times a row.
        a, b = y * along + phase, across[:, None] * x
        total: Array = np.hstack([np.cos(a), -np.sin(a)]) @ np.vstack([np.cos(b), np.sin(b)])
    else:
        total = np.zeros(np.broadcast_shapes(x.shape, y.shape))
        for right, up, start in zip(across, along, phase, strict=True):
            total += np.cos(right * x + (up * y + start))
    total *= _SPREAD / math.sqrt(_WAVES / 2)
    return total


@lru_cache(maxsize=64)
def _plane_waves(seed: int, turn: int) -> tuple[Array, Array, Array]:
    """Return radians per unit across and along, and the phases, (waves,) each."""
    # The raw numbers of this generator are the same on every machine and in every version.
    raw = np.random.PCG64([seed, turn]).random_raw(3 * _WAVES)
    direction, quickness, phase = (np.asarray(raw) / 2.0**64).reshape(3, _WAVES)
    direction = (np.arange(_WAVES) + direction) * (math.pi / _WAVES)
    radians = (2.0 * math.pi) * (_SLOWEST + (_FASTEST - _SLOWEST) * quickness)
    return radians * np.cos(direction), radians * np.sin(direction), (2.0 * math.pi) * phase
