"""What a cutter does to wood: chip load, cutting speed, and how wide a ball cuts."""

from __future__ import annotations

import math


def chip_load(feed: float, spindle: float, flutes: int) -> float:
    """Return the feed per tooth, mm: feed (mm/min) / (turns a minute x cutting edges) (standard milling formula)."""
    return feed / (spindle * flutes)


def effective_diameter(diameter: float, depth: float) -> float:
    """Return how wide a ball of this diameter cuts at a depth, mm: 2 sqrt(a (D - a)), the whole diameter from D / 2 on.

    Plane geometry; "Basic math for ballnose tools", Modern Machine Shop, November 2003, is about the same.
    """
    depth = min(depth, diameter / 2.0)
    return 2.0 * math.sqrt(depth * (diameter - depth))


def cutting_speed(diameter: float, spindle: float) -> float:
    """Return the speed of a cutter's edge, m/min: pi D n / 1000, D in mm, n in turns a minute (standard milling formula)."""
    return math.pi * diameter * spindle / 1000.0
