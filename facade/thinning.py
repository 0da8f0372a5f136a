"""Leaving out what does not count: fewer points where straight lines between them stay true enough."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from facade.arrays import Array

# Longest step between kept rows or columns; beyond it little is saved.
_LONGEST = 32


def kept(count: int, step: int) -> NDArray[np.intp]:
    """Return every `step`-th index of `count`, and the last."""
    indexes = np.arange(0, count, step)
    return indexes if indexes[-1] == count - 1 else np.append(indexes, count - 1)


def _error(lines: Array, step: int) -> float:
    """Return the greatest distance of lines (points, lines) from straight runs between every `step`-th point.

    Points are evenly spaced, as they are along and across a strip.
    """
    count = len(lines)
    keep = kept(count, step)
    low = np.minimum(np.arange(count) // step, len(keep) - 2)
    first, last = keep[low], keep[low + 1]
    share = ((np.arange(count) - first) / (last - first))[:, None]
    return float(np.abs(lines[first] * (1.0 - share) + lines[last] * share - lines).max())


def thin(lines: Array, tolerance: float) -> NDArray[np.intp]:
    """Return the indexes of the points to keep, evenly spread and both ends among them.

    `lines` is (points,) or (points, lines); straight runs between kept points stay within `tolerance` mm of every line.
    """
    lines = lines if lines.ndim == 2 else lines[:, None]
    step = 1
    while step < min(_LONGEST, len(lines) - 1):
        wider = min(step + 1 if step < 4 else step * 3 // 2, _LONGEST)
        if _error(lines, wider) > tolerance:
            break
        step = wider
    return kept(len(lines), step)
