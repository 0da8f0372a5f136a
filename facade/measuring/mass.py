"""Volume and middle of a strip's finished wood."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from facade.slicer import Strip


@dataclass(frozen=True)
class Solid:
    """A strip's finished wood: volume in mm3, and its centre of volume on the front, mm."""

    volume: float
    x: float
    y: float
    z: float


def solid_of(strip: Strip) -> Solid:
    """Return volume and centre of a strip by the trapezium rule over its heights."""
    heights = strip.heights
    across = np.trapezoid(heights, strip.x, axis=1)
    volume = float(np.trapezoid(across, strip.y))
    x = float(np.trapezoid(np.trapezoid(heights * strip.x, strip.x, axis=1), strip.y)) / volume
    y = float(np.trapezoid(across * strip.y, strip.y)) / volume
    z = float(np.trapezoid(np.trapezoid(heights * heights, strip.x, axis=1), strip.y)) / (2.0 * volume)
    return Solid(volume, x, y, z)
