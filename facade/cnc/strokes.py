"""Figures to be engraved: each a few straight strokes of a single line, of our own drawing."""

from __future__ import annotations

import numpy as np

from facade.arrays import Array

# Figures stand in a box of 4 wide and 6 high; the next one begins 5.5 further on.
_HIGH, _PITCH = 6.0, 5.5

_FIGURES: dict[str, tuple[tuple[tuple[float, float], ...], ...]] = {
    "0": (((1.2, 0), (2.8, 0), (4, 1.2), (4, 4.8), (2.8, 6), (1.2, 6), (0, 4.8), (0, 1.2), (1.2, 0)),),
    "1": (((0.8, 4.6), (2.2, 6), (2.2, 0)), ((0.8, 0), (3.6, 0))),
    "2": (((0, 4.8), (1.2, 6), (2.8, 6), (4, 4.8), (4, 3.8), (0, 0), (4, 0)),),
    "3": (((0, 6), (4, 6), (1.8, 3.6), (2.8, 3.6), (4, 2.4), (4, 1.2), (2.8, 0), (1.2, 0), (0, 1.2)),),
    "4": (((3, 0), (3, 6), (0, 1.8), (4, 1.8)),),
    "5": (((4, 6), (0.3, 6), (0, 3.2), (1.2, 3.7), (2.8, 3.7), (4, 2.5), (4, 1.2), (2.8, 0), (1.2, 0), (0, 1.2)),),
    "6": (((3.6, 5.4), (2.8, 6), (1.2, 6), (0, 4.8), (0, 1.2), (1.2, 0), (2.8, 0), (4, 1.2), (4, 2.2), (2.8, 3.4), (1.2, 3.4), (0, 2.2)),),
    "7": (((0, 6), (4, 6), (1.4, 0)), ((1.2, 3), (3.6, 3))),
    "8": (
        ((1.2, 3.2), (0, 4.2), (0, 5), (1.2, 6), (2.8, 6), (4, 5), (4, 4.2), (2.8, 3.2), (1.2, 3.2)),
        ((1.2, 3.2), (0, 2.2), (0, 1), (1.2, 0), (2.8, 0), (4, 1), (4, 2.2), (2.8, 3.2)),
    ),
    "9": (((0.4, 0.6), (1.2, 0), (2.8, 0), (4, 1.2), (4, 4.8), (2.8, 6), (1.2, 6), (0, 4.8), (0, 3.8), (1.2, 2.6), (2.8, 2.6), (4, 3.8)),),
    "-": (((0.6, 3), (3.4, 3)),),
    "L": (((0, 6), (0, 0), (3.6, 0)),),
    "R": (((0, 0), (0, 6), (2.8, 6), (4, 5), (4, 4.2), (2.8, 3.2), (0, 3.2)), ((2, 3.2), (4, 0))),
    "T": (((0, 6), (4, 6)), ((2, 6), (2, 0))),
}  # fmt: skip


def strokes(text: str, x: float, y: float, height: float) -> list[Array]:
    """Return the strokes of figures as runs of places (points, 2), their lower left corner at (x, y), mm.

    Raises KeyError for a letter that has no figure: digits, "-", "L", "R" and "T" have.
    """
    scale = height / _HIGH
    runs = []
    for index, letter in enumerate(text):
        for run in _FIGURES[letter]:
            runs.append(np.array(run, dtype=np.float64) * scale + [x + index * _PITCH * scale, y])
    return runs


def strokes_width(text: str, height: float) -> float:
    """Return how wide figures are, mm."""
    return (len(text) * _PITCH - (_PITCH - 4.0)) * height / _HIGH if text else 0.0
