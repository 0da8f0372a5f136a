"""Stretches of a strip that fit on a sheet: from station to station, each overlapping the next by a station at least."""

from __future__ import annotations

import math
from dataclasses import dataclass

from facade.arrays import Array
from facade.errors import mistake
from facade.lengths import Ruler
from facade.slicer import stations

_HAIR = 1e-6


@dataclass(frozen=True)
class Window:
    """A stretch of a strip, mm from its top, which is `part` of `parts`; `stations` (n,) are those on it, both ends among them."""

    start: float
    end: float
    part: int
    parts: int
    stations: Array

    @property
    def length(self) -> float:
        """Length, mm."""
        return self.end - self.start


def windows(length: float, station: float, room: float, ruler: Ruler) -> tuple[Window, ...]:
    """Return the fewest stretches of a strip that are at most `room` long; raises JobError where not two stations fit.

    Every station is whole on one of them. They are about equally long, and neighbours overlap by one station at least.
    """
    marks = stations(length, station)
    if length <= room + _HAIR:
        return (Window(0.0, length, 1, 1, marks),)
    fits = int((room + _HAIR) / station)
    if fits < 2:
        raise mistake(
            "sampling.station",
            f"stations {ruler.text(station)} apart do not fit on a sheet with room for {ruler.text(room)}: take larger paper, "
            "or make `sampling.station` smaller",
        )
    last = len(marks) - 1
    parts = math.ceil((last - 1) / (fits - 1))
    # Each starts one station before the last one ends.
    starts = [part * (last - 1) // parts for part in range(parts + 1)]
    found = []
    for part in range(parts):
        first, after = starts[part], starts[part + 1] + 1
        found.append(Window(float(marks[first]), float(marks[after]), part + 1, parts, marks[first : after + 1]))
    return tuple(found)
