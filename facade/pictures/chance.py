"""Chance that is the same every time: numbers hashed from whole numbers, and smooth sheets drawn from them."""

from __future__ import annotations

import math
from dataclasses import dataclass
from itertools import pairwise
from typing import TypeAlias

import numpy as np
from numpy.typing import NDArray

from facade.arrays import Array

Floats: TypeAlias = NDArray[np.float32]
"""The arrays of a picture: single precision is ample for 256 levels."""

_MASK = np.uint64(0xFFFFFFFF)


def chance(*keys: int | NDArray[np.int64]) -> Floats:
    """Return a number of 0 to 1 for each combination of whole numbers; keys broadcast together.

    The mixing is the 32-bit finaliser of the public-domain hash MurmurHash3, once for each key; from memory.
    """
    mixed = np.zeros(1, dtype=np.uint64)
    for key in keys:
        mixed = mixed ^ (np.asarray(key, dtype=np.int64).astype(np.uint64) * np.uint64(0x9E3779B1) & _MASK)
        mixed = (mixed ^ (mixed >> np.uint64(16))) * np.uint64(0x85EBCA6B) & _MASK
        mixed = (mixed ^ (mixed >> np.uint64(13))) * np.uint64(0xC2B2AE35) & _MASK
        mixed = mixed ^ (mixed >> np.uint64(16))
    return (mixed.astype(np.float64) / 2.0**32).astype(np.float32)


def one_chance(*keys: int) -> float:
    """Return a single number of 0 to 1 for a combination of whole numbers."""
    return float(chance(*keys)[0])


def even_noise(count: int, width: float, seed: int) -> Floats:
    """Return `count` numbers of mean 0 and spread 1 that keep company over `width` places."""
    reach = max(1, round(width))
    white = chance(np.arange(count + 2 * reach), seed) - np.float32(0.5)
    if reach > 1:
        kernel = np.hanning(reach + 2)[1:-1]
        white = np.convolve(white, kernel / np.sqrt((kernel**2).sum()), "same")
    noise: Floats = (white[reach : reach + count] * math.sqrt(12.0)).astype(np.float32)
    return noise


@dataclass(frozen=True)
class Sheet:
    """Values known on level lines `spacing` mm apart, smooth between them: shape (lines, n), line 0 at `bottom`."""

    lines: Floats
    spacing: float
    bottom: float
    even: bool = False

    def add_to(self, rows: Floats, y: Array) -> None:
        """Add the sheet at the heights y, falling, to the rows of an array of shape (len(y), n).

        An even sheet keeps its spread halfway between two lines, where a plain blend would be calmer.
        """
        place = np.clip((y - self.bottom) / self.spacing, 0.0, len(self.lines) - 1.001)
        below = place.astype(np.intp)
        share = place - below
        share = share * share * (3.0 - 2.0 * share)
        scale = np.hypot(share, 1.0 - share) if self.even else np.ones_like(share)
        high, low = (share / scale).astype(np.float32), ((1.0 - share) / scale).astype(np.float32)
        cuts = [0, *(np.flatnonzero(np.diff(below)) + 1).tolist(), len(y)]
        for start, end in pairwise(cuts):
            line = below[start]
            rows[start:end] += low[start:end, None] * self.lines[line]
            rows[start:end] += high[start:end, None] * self.lines[line + 1]


def lines_needed(height: float, spacing: float) -> int:
    """Return how many lines a sheet of this height needs."""
    return int(height / spacing) + 3
