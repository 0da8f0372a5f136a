"""The runs of a drawing as text, for writers of lines: all places of a sheet at once, for there are tens of thousands."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cache

import numpy as np
from numpy.typing import NDArray

from facade.drawing import Path

_Objects = NDArray[np.object_]
# Whole mm that are written out beforehand: the longest page that readers open.
_KNOWN = 5100


@dataclass(frozen=True)
class Words:
    """What a writer puts round the places of a run: before the first, after the first, after each other, and after the last.

    After the last place of a closed run stands `closed` in place of `last`.
    """

    before: str
    first: str
    other: str
    last: str
    closed: str


def runs_as(words: Words, paths: Sequence[Path], height: float) -> list[str]:
    """Return the runs of each path as text, places in mm with three decimals, y counted downwards from `height`."""
    if not paths:
        return []
    counts = _counts(paths, height)
    rest = np.abs(counts)
    whole = rest // 1000
    rest -= whole * 1000
    parts = np.empty((len(counts), 4), dtype=object)
    parts[:, 0], parts[:, 2] = _wholes(whole[:, 0], counts[:, 0]), _wholes(whole[:, 1], counts[:, 1])
    parts[:, 1] = _rests(words)[rest[:, 0]]
    parts[:, 3] = _rests(words)[rest[:, 1] + 1000 * _follows(paths)]
    return (words.before + "".join(parts.ravel().tolist())).split("\0")[: len(paths)]


def showing(paths: Sequence[Path], height: float) -> list[bool]:
    """Return of each path whether it leads anywhere as it is written: a line from a place to itself shows nothing."""
    if not paths:
        return []
    starts = np.cumsum([0, *(path.runs.size // 2 for path in paths[:-1])])
    counts = _counts(paths, height)
    spread = np.maximum.reduceat(counts, starts) != np.minimum.reduceat(counts, starts)
    return [bool(shows) for shows in spread.any(axis=1)]


def _counts(paths: Sequence[Path], height: float) -> NDArray[np.int64]:
    """Return all places (n, 2) in thousandths of a mm, y counted downwards."""
    places = np.concatenate([path.runs.reshape(-1, 2) for path in paths])
    places[:, 1] = height - places[:, 1]
    return np.rint(places * 1000.0).astype(np.int64)


def _wholes(whole: NDArray[np.int64], counts: NDArray[np.int64]) -> _Objects:
    if counts.min() >= 0 and whole.max() < _KNOWN:
        return _known_wholes()[whole]
    signs = ["-" if count < 0 else "" for count in counts.tolist()]
    return np.array([f"{sign}{number}." for sign, number in zip(signs, whole.tolist(), strict=True)], dtype=object)


@cache
def _known_wholes() -> _Objects:
    return np.array([f"{number}." for number in range(_KNOWN)], dtype=object)


# What follows a place, by its number in the table of rests: a space, then as `_follows` counts.
_SPACE, _FIRST, _OTHER, _RUN, _CLOSED, _PATH, _CLOSED_PATH = range(7)


@cache
def _rests(words: Words) -> _Objects:
    ends = words.last, words.closed
    following = (" ", words.first, words.other, *(f"{end}{words.before}" for end in ends))
    following += tuple(f"{end}\0{words.before}" for end in ends)
    return np.array([f"{number:03d}{after}" for after in following for number in range(1000)], dtype=object)


def _follows(paths: Sequence[Path]) -> NDArray[np.int64]:
    """Return for each place of all paths what follows it."""
    found = []
    for path in paths:
        count, length = path.runs.shape[:2]
        one = np.full((count, length), _OTHER)
        one[:, 0] = _FIRST
        one[:, -1] = _CLOSED if path.closed else _RUN
        one[-1, -1] = _CLOSED_PATH if path.closed else _PATH
        found.append(one.ravel())
    return np.concatenate(found)
