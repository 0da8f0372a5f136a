"""Which of many places are the same one: found without sorting them, for most of what comes from files repeats a few places."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from facade.arrays import Array

# Odd factors that spread the bits of a word over all of it (D. Knuth, The Art of Computer Programming 3, 6.4: by the golden ratio).
_SPREADING = (np.uint64(0x9E3779B97F4A7C15), np.uint64(0xC2B2AE3D27D4EB4F), np.uint64(0x165667B19E3779F9))
# Two kinds that fall on one slot are told apart in the next round; what is left after so many is sorted.
_ROUNDS = 4


def alike(parts: Sequence[NDArray[np.unsignedinteger]]) -> tuple[NDArray[np.intp], NDArray[np.intp]]:
    """Return one of each kind of things, rising, and of which kind each is, (n,): two are one where all their parts (n,) agree."""
    keys = mixed(parts)
    one = _one_of_each(keys)
    if any((part.take(one) != part).any() for part in parts):
        # Two kinds have the same key, which all but never happens.
        _, at, index = np.unique(np.stack(parts), axis=1, return_index=True, return_inverse=True)
        one = at[index.ravel()]
    is_one = one == np.arange(len(keys))
    return np.flatnonzero(is_one), (np.cumsum(is_one) - 1).take(one)


def mixed(parts: Sequence[NDArray[np.unsignedinteger]]) -> NDArray[np.uint64]:
    """Return a key of 64 bits for each of many things, (n,), in which every bit of its parts (n,) counts."""
    keys = parts[0] * _SPREADING[0]
    for part in parts[1:]:
        keys ^= keys >> np.uint64(29)
        keys += part
        keys *= _SPREADING[1]
    keys ^= keys >> np.uint64(32)
    keys *= _SPREADING[2]
    return keys


def _one_of_each(keys: NDArray[np.uint64]) -> NDArray[np.intp]:
    """Return for each key, (n,), where the last one that is the same stands."""
    power = max(len(keys), 2).bit_length()
    found = np.arange(len(keys))
    rest, own = found, keys
    for turn in range(_ROUNDS):
        slots = ((own * _SPREADING[turn % 3] if turn else own) >> np.uint64(64 - power)).astype(np.intp)
        table = np.empty(1 << power, dtype=np.intp)
        table[slots] = rest
        last = table.take(slots)
        same = keys.take(last) == own
        if turn == 0:
            found = last
        else:
            found[rest] = last
        if same.all():
            return found
        rest, own = rest[~same], own[~same]
    _, at, index = np.unique(own, return_index=True, return_inverse=True)
    found[rest] = rest[at][index]
    return found


def once_each(values: Array) -> tuple[Array, NDArray[np.intp]]:
    """Return the values once each, rising, and which of them each is, (n,): as numpy.unique, but quick where there are few."""
    # Zero has two signs, and is one place.
    values = np.asarray(values, dtype=np.float64) + 0.0
    one, index = alike([values.view(np.uint64)])
    rising, where = np.unique(values[one], return_inverse=True)
    return rising, where.take(index)
