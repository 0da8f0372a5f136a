"""Where the pixels of a picture lie on the front, and how much of each is covered."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from facade.arrays import Array
from facade.layout import Layout

TALLEST = 1.2  # of the width asked for
_LEAST_MARGIN = 24.0  # mm of surround, so that there is room for the shadow of a small front
_MARGIN = 0.05  # of the square root of the front's area


@dataclass(frozen=True)
class Frame:
    """A picture of square pixels: its size, the pixel in mm, and where its upper left corner is on the front."""

    columns: int
    rows: int
    pixel: float
    left: float
    top: float

    @property
    def x(self) -> Array:
        """Middles of the columns, mm from the left edge of the front."""
        return _places(self.left, self.pixel, self.columns, 0.5)

    @property
    def y(self) -> Array:
        """Middles of the rows from the top one down, mm above the lower edge of the front."""
        return _places(self.top, -self.pixel, self.rows, 0.5)

    @property
    def column_edges(self) -> Array:
        """Left edges of the columns and the right edge of the last, mm."""
        return _places(self.left, self.pixel, self.columns + 1)

    @property
    def row_edges(self) -> Array:
        """Upper edges of the rows and the lower edge of the last, mm, falling."""
        return _places(self.top, -self.pixel, self.rows + 1)


def _places(start: float, pixel: float, count: int, offset: float = 0.0) -> Array:
    return start + pixel * (np.arange(count, dtype=np.float64) + offset)


def frame_for(layout: Layout, width: int) -> Frame:
    """Return the frame of a picture `width` pixels wide; narrower when it would be taller than 1.2 times that."""
    margin = max(_LEAST_MARGIN, _MARGIN * math.sqrt(layout.width * layout.height))
    wide, tall = layout.width + 2 * margin, layout.height + 2 * margin
    pixel = max(wide / width, tall / (TALLEST * width))
    columns, rows = max(4, round(wide / pixel)), max(4, round(tall / pixel))
    left, top = (layout.width - columns * pixel) / 2, (layout.height + rows * pixel) / 2
    return Frame(columns, rows, pixel, left, top)


def coverage(edges: Array, spans: Sequence[tuple[float, float]]) -> Array:
    """Return the exact share of each pixel, between two of the rising `edges`, that rising, separate spans cover.

    The covered length up to a place is a broken straight line; the share is its rise over a pixel.
    """
    places = np.array(spans, dtype=np.float64).ravel()
    lengths = np.cumsum(np.diff(places, prepend=places[0]) * (np.arange(len(places)) % 2))
    share: Array = np.diff(np.interp(edges, places, lengths)) / np.diff(edges)
    return np.clip(share, 0.0, 1.0)


def row_coverage(frame: Frame, bottom: float, top: float) -> Array:
    """Return the exact share of each row that lies between `bottom` and `top`, mm."""
    return coverage(frame.row_edges[::-1], [(bottom, top)])[::-1]
