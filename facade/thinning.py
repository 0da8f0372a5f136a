"""Leaving out what does not count: fewer points where straight lines between them stay true enough."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from facade.arrays import Array

# Points are judged in blocks; within a block every kept point is as far from the next.
_BLOCKS = (24, 12, 6, 4, 3, 2)


def every_other(indexes: NDArray[np.intp]) -> NDArray[np.intp]:
    """Return every second index, and the last."""
    half = indexes[::2]
    return half if half[-1] == indexes[-1] else np.append(half, indexes[-1])


Known = dict[tuple[int, int, int], Array]
"""How far blocks are from straight runs, by where they begin, their size and the step in them, mm."""


def thin(lines: Array, tolerance: float, known: Known | None = None) -> NDArray[np.intp]:
    """Return the indexes of the points to keep, both ends among them.

    `lines` is (points,) or (points, lines), evenly spaced along each line; straight runs between kept points stay within
    `tolerance` mm of every line. Who asks for the same lines with several tolerances gives what is `known` of them, empty at first.
    """
    known = {} if known is None else known
    lines = lines if lines.ndim == 2 else lines[:, None]
    start, last = 0, len(lines) - 1
    kept = []
    for size in _BLOCKS:
        blocks = (last - start) // size
        if blocks:
            end = start + blocks * size
            kept.append(start + _kept_in_blocks(lines[start : end + 1], size, tolerance, known, start))
            start = end
    return np.concatenate([*kept, np.arange(start, last + 1)])


def _kept_in_blocks(lines: Array, size: int, tolerance: float, known: Known, start: int) -> NDArray[np.intp]:
    """Return the kept indexes of whole blocks of `size`, without the very last point."""
    blocks = (len(lines) - 1) // size
    steps = np.ones(blocks, dtype=np.intp)
    for step in (step for step in range(2, size + 1) if size % step == 0):
        if (start, size, step) not in known:
            known[start, size, step] = _errors(lines, size, step)
        near = known[start, size, step] <= tolerance
        if not near.any():
            break
        steps[near] = step
    return np.flatnonzero((np.arange(size) % steps[:, None] == 0).ravel())


def _errors(lines: Array, size: int, step: int) -> Array:
    """Return each block's greatest distance from straight runs between every `step`-th of its points."""
    runs = lines[:-1].reshape(-1, step, lines.shape[1])
    first, after = lines[:-1:step, None], lines[step::step, None]
    share = (np.arange(step) / step)[:, None]
    away = np.abs(first + share * (after - first) - runs)
    errors: Array = away.reshape(-1, size * lines.shape[1]).max(axis=1)
    return errors


def thin_each(lines: Array, tolerance: float) -> NDArray[np.bool_]:
    """Return which points of each line to keep, (lines, points), every line on its own, both ends among them.

    `lines` is (lines, points), evenly spaced; straight runs between kept points stay within `tolerance` mm.
    """
    return thin_runs(lines.ravel(), np.full(*lines.shape), tolerance).reshape(lines.shape)


def thin_runs(runs: Array, counts: NDArray[np.intp], tolerance: float) -> NDArray[np.bool_]:
    """Return which points (n,) of runs of so many points each, one after the other in `runs` (n,), to keep, as `thin_each` does."""
    keep = np.zeros(len(runs), dtype=bool)
    start, left = np.cumsum(counts) - counts, counts - 1
    for size in _BLOCKS:
        blocks = left // size
        total = int(blocks.sum())
        if not total:
            continue
        first = np.arange(total) - np.repeat(np.cumsum(blocks) - blocks, blocks)
        # Each block with the point after it.
        places = (np.repeat(start, blocks) + size * first)[:, None] + np.arange(size + 1)
        keep[places[:, :-1]] = _kept_in_parts(runs[places], tolerance)
        start, left = start + blocks * size, left - blocks * size
    keep[start] = keep[start + left] = True
    return keep


def _kept_in_parts(parts: Array, tolerance: float) -> NDArray[np.bool_]:
    """Return which points of parts (parts, size + 1) to keep, (parts, size), without the last of each."""
    size = parts.shape[1] - 1
    steps = np.ones(len(parts), dtype=np.intp)
    near = np.arange(len(parts))
    for step in (step for step in range(2, size + 1) if size % step == 0):
        some = parts[near]
        first, after = some[:, :-1:step, None], some[:, step::step, None]
        runs = some[:, :-1].reshape(len(some), -1, step)
        away = np.abs(first + np.arange(step) / step * (after - first) - runs).max(axis=(1, 2))
        near = near[away <= 2.0 * tolerance]
        steps[near[away[away <= 2.0 * tolerance] <= tolerance]] = step
        if not len(near):
            break
    return np.asarray(np.arange(size) % steps[:, None] == 0)
