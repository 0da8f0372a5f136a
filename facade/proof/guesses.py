"""What may have happened to places that do not agree: taken for another unit, mirrored, of another strip. Each is tried."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np

from facade.arrays import Array
from facade.lengths import MM_PER_INCH

# A guess is right where it brings every place this close, mm.
NEAR = 0.02
_MOST_TRIED = 600
_SCALES = (
    (MM_PER_INCH, "is 25.4 times too large: inches read as mm?"),
    (1.0 / MM_PER_INCH, "is 25.4 times too small: mm read as inches?"),
    (10.0, "is 10 times too large: cm read as mm?"),
    (0.1, "is 10 times too small: mm read as cm?"),
    (1000.0, "is 1000 times too large: m read as mm?"),
    (0.001, "is 1000 times too small: mm read as m?"),
)
_TURNS = (
    ((True, False), "looks mirrored left to right"),
    ((False, True), "looks mirrored top to bottom"),
    ((True, True), "looks turned end for end"),
)

Off = Callable[[Array, int], Array]
"""How far places (n, 3) are off the surface of a strip, mm."""


@dataclass(frozen=True)
class Body:
    """A box that a solid should fill, mm, and the strip that it should be; 0 for the whole front."""

    width: float
    length: float
    strip: int = 0


def guess(points: Array, body: Body, off: Off, others: Sequence[int]) -> str:
    """Return what may have happened to the places (n, 3) of a solid, in words; "" where no guess brings them near the surface."""
    some = points[:: max(1, len(points) // _MOST_TRIED)]
    scale, said = _scale_of(points, body)
    for number in (body.strip, *(other for other in others if other != body.strip)):
        for flips, turned in (((False, False), ""), *_TURNS):
            if scale == 1.0 and number == body.strip and not turned:
                continue
            if float(off(_flipped(some / scale, flips, body), number).max()) <= NEAR:
                return ", and ".join(filter(None, (said, _whose(number, body), turned)))
    return said


def _whose(number: int, body: Body) -> str:
    return f"is strip {number}'s surface" if number != body.strip else ""


def _scale_of(points: Array, body: Body) -> tuple[float, str]:
    """Return by what the places seem to have been multiplied, and what that says."""
    wide, long = np.ptp(points[:, :2], axis=0)
    for scale, said in _SCALES:
        if abs(wide / scale - body.width) < 0.01 * body.width and abs(long / scale - body.length) < 0.01 * body.length:
            return scale, said
    return 1.0, ""


def _flipped(points: Array, flips: tuple[bool, bool], body: Body) -> Array:
    found = points.copy()
    for axis, (flip, size) in enumerate(zip(flips, (body.width, body.length), strict=True)):
        if flip:
            found[:, axis] = size - found[:, axis]
    return found


def even_scale(found: Array, wanted: Array) -> tuple[float, float] | None:
    """Return the factors across and up, negative where mirrored, that lead from wanted places (n, 2) to found ones; None where none do."""
    factors = []
    for axis in range(2):
        spread = float(np.ptp(wanted[:, axis]))
        if spread < 1.0:
            return None
        factor, offset = np.polyfit(wanted[:, axis], found[:, axis], 1)
        if float(np.abs(wanted[:, axis] * factor + offset - found[:, axis]).max()) > NEAR:
            return None
        factors.append(float(factor))
    return factors[0], factors[1]
