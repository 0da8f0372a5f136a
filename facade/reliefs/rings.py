"""Rings: circular waves from one or more sources, as from stones dropped into a pond."""

from __future__ import annotations

import math
from typing import Annotated, Literal

import numpy as np
from pydantic import Field

from facade.arrays import Array
from facade.fields import Degrees, Model, Number, Pattern, Point, about
from facade.reliefs.base import Canvas, Heights, Relief, relief_kind


class Source(Model):
    """The place that rings spread from; it may lie outside the front."""

    centre: Point = about("where the rings start: from the left, from the lower edge")
    height: Number = about("height of these rings against the others", 1.0)
    phase: Degrees = about("degrees that the crests are shifted outward", 0.0)


@relief_kind
class Rings(Relief):
    """Circular waves: the sum of height * cos(2 pi r / length - phase), each dying away from its source."""

    summary = "circular waves from several sources, meeting and crossing"
    example = {
        "length": 135,
        "decay": 500,
        "sources": [{"centre": [190, 420]}, {"centre": [520, 180], "height": 0.8}],
    }

    kind: Literal["rings"] = "rings"
    length: Pattern = about("from ring to ring")
    decay: Pattern | None = about(
        "distance over which the rings fall to about a third; left out, they never fall", None
    )
    sources: Annotated[tuple[Source, ...], Field(min_length=1, max_length=32)] = about("where rings start")

    @property
    def terms(self) -> int:
        return len(self.sources)

    def heights(self, canvas: Canvas) -> Heights:
        def rings(x: Array, y: Array) -> Array:
            return sum(
                (self._rings_of(source, x, y) for source in self.sources[1:]), self._rings_of(self.sources[0], x, y)
            )

        return rings

    def finest(self, canvas: Canvas) -> float:
        return self.length

    def _rings_of(self, source: Source, x: Array, y: Array) -> Array:
        right, up = source.centre
        square = (x - right) ** 2 + (y - up) ** 2
        ring: Array = np.sqrt(square)
        ring *= 2.0 * math.pi / self.length
        ring -= math.radians(source.phase)
        np.cos(ring, out=ring)
        if self.decay is not None:
            # The root keeps the middle of the pond round where a plain exp(-r) would leave a point.
            core = self.length / 4.0
            ring *= np.exp((core - np.sqrt(square + core * core)) / self.decay)
        ring *= source.height
        return ring
