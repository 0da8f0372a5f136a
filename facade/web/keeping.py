"""The last few fronts, kept so that a slider's next question is answered at once: as many as a number of bytes allows."""

from __future__ import annotations

import ctypes
import gc
import sys
import threading
import types
from collections import OrderedDict
from contextlib import suppress

import numpy as np

from facade.front import Front

# Fronts of doors take a few MB each; what walls and large scans take is given back as soon as the next front is there.
MOST_BYTES = 192 * 1024 * 1024
MOST = 6
_WORTH_GIVING_BACK = 8 * 1024 * 1024


class Fronts:
    """Fronts by their settings, the newest last; the newest is kept whatever it takes."""

    def __init__(self, most_bytes: int = MOST_BYTES) -> None:
        self._most = most_bytes
        self._kept: OrderedDict[str, Front] = OrderedDict()
        self._sizes: dict[str, int] = {}
        self._lock = threading.Lock()

    def get(self, key: str) -> Front | None:
        """Return a front that is kept, None where it is not."""
        with self._lock:
            if key in self._kept:
                self._kept.move_to_end(key)
            return self._kept.get(key)

    def keep(self, key: str, front: Front) -> None:
        """Keep a front, or what it has grown to since, and let go those that were not asked for longest."""
        size = bytes_of(front)
        with self._lock:
            self._kept[key], self._sizes[key] = front, size
            self._kept.move_to_end(key)
            left = 0
            while len(self._kept) > 1 and (len(self._kept) > MOST or self.bytes > self._most):
                oldest, _ = self._kept.popitem(last=False)
                left += self._sizes.pop(oldest)
        if left > _WORTH_GIVING_BACK:
            give_back()

    @property
    def bytes(self) -> int:
        """How much the fronts that are kept take."""
        return sum(self._sizes.values())


def give_back() -> None:
    """Give memory that is free back to the system, where the system's allocator keeps it otherwise."""
    gc.collect()
    if sys.platform == "linux":
        with suppress(OSError, AttributeError):
            ctypes.CDLL(None).malloc_trim(0)


def bytes_of(thing: object) -> int:
    """Return how many bytes a value and all that it holds take, each part once, without modules, types and what functions look up."""
    seen: set[int] = set()
    total, unseen = 0, [thing]
    while unseen:
        one = unseen.pop()
        if id(one) in seen or isinstance(one, type | types.ModuleType):
            continue
        seen.add(id(one))
        if isinstance(one, np.ndarray):
            if one.base is not None:
                unseen.append(one.base)
            else:
                total += one.nbytes
            continue
        total += sys.getsizeof(one)
        if isinstance(one, types.FunctionType):
            unseen += [one.__closure__, one.__defaults__]
        elif not isinstance(one, int | float | str | bytes):
            unseen += gc.get_referents(one)
    return total
