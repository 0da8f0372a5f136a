"""A cutter's way: straight moves of its tip, mm from the zero of the machine's files."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from enum import IntEnum
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from facade.arrays import Array


class Kind(IntEnum):
    """What a move is for."""

    RAPID = 0
    PLUNGE = 1
    CUT = 2


@dataclass(frozen=True)
class Moves:
    """Places (n, 3) that are gone to in straight lines one after the other, and what each move is for (n,).

    The first is gone to from wherever the cutter stands, above everything.
    """

    places: Array
    kinds: NDArray[np.uint8]

    @cached_property
    def lengths(self) -> Array:
        """Lengths of the moves from each place to the next (n - 1,)."""
        lengths: Array = np.sqrt((np.diff(self.places, axis=0) ** 2).sum(axis=1))
        return lengths

    @cached_property
    def extent(self) -> Array:
        """Least and greatest x, y and z of the moves that are no rapids, (2, 3)."""
        some = self.places[self.kinds != Kind.RAPID]
        return np.stack([some.min(axis=0), some.max(axis=0)])


def moved(moves: Moves, across: float, along: float) -> Moves:
    """Return the same moves further to the right and further up, mm."""
    return Moves(moves.places + np.array([across, along, 0.0]), moves.kinds)


def joined(parts: Sequence[Moves]) -> Moves:
    """Return moves one after the other."""
    return Moves(np.concatenate([part.places for part in parts]), np.concatenate([part.kinds for part in parts]))


def entered(cut: Array, clear: float, near: float) -> Moves:
    """Return a cut (n, 3) with its way in and out: over its first place at `clear`, down to `near`, at the feed into its place,
    along, straight up.

    Its first place must lie outside the wood, or where the wood was taken off before; `near` must be above the blanks.
    """
    above, ahead, away = cut[:1].copy(), cut[:1].copy(), cut[-1:].copy()
    above[:, 2] = away[:, 2] = clear
    ahead[:, 2] = np.maximum(near, ahead[:, 2])
    kinds = np.full(len(cut) + 3, Kind.CUT, dtype=np.uint8)
    kinds[:2] = kinds[-1] = Kind.RAPID
    kinds[2] = Kind.PLUNGE
    return Moves(np.concatenate([above, ahead, cut, away]), kinds)
