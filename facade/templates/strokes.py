"""Arrows from crest to hollow: which way each stretch of a line along a strip is carved, so that fibres lie down."""

from __future__ import annotations

import numpy as np

from facade.arrays import Array
from facade.front import Front
from facade.measuring.grain import Line
from facade.templates.windows import Window

# All mm: the barbs of an arrow, half their width, what is left free at both its ends, and the shortest that is drawn.
_BARB, _HALF, _FREE = 2.4, 0.9, 1.2
_LEAST = 7.0


def strokes_on(front: Front, number: int, line: Line, window: Window) -> Array:
    """Return shafts and barbs of the strokes of a line on a stretch, runs (n, 2, 2): mm from the TOP end of the strip, and aside."""
    strokes = front.measures_of(number).grain.strokes
    arrows = [_arrow(stroke.start, stroke.end, window) for stroke in strokes if stroke.line is line]
    drawn = [arrow for arrow in arrows if arrow is not None]
    return np.concatenate(drawn) if drawn else np.empty((0, 2, 2))


def _arrow(start: float, end: float, window: Window) -> Array | None:
    """Return shaft and barbs of a stroke's part on a stretch, None where it is too short."""
    first, last = np.clip([start, end], window.start, window.end)
    if abs(last - first) < _LEAST:
        return None
    way = np.sign(last - first)
    tail, tip = first + way * _FREE, last - way * _FREE
    barbs = [[[tip, 0.0], [tip - way * _BARB, side]] for side in (_HALF, -_HALF)]
    return np.array([[[tail, 0.0], [tip, 0.0]], *barbs])
