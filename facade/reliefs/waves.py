"""Waves: trains of straight crests that cross the front."""

from __future__ import annotations

import math
from typing import Annotated, Literal

import numpy as np
from pydantic import Field

from facade.arrays import Array
from facade.fields import Degrees, Model, Number, Pattern, about
from facade.reliefs.base import Canvas, Heights, Relief, relief_kind


class Train(Model):
    """One train of waves."""

    length: Pattern = about("from crest to crest")
    direction: Degrees = about("degrees anticlockwise from the right that the waves travel; 90 gives level crests", 0.0)
    height: Number = about("height of this train against the others", 1.0)
    phase: Degrees = about("degrees that the crests are shifted along the direction of travel", 0.0)


def _train(train: Train, x: Array, y: Array) -> Array:
    turn = math.radians(train.direction)
    along = x * (math.cos(turn) / train.length) + y * (math.sin(turn) / train.length)
    along -= train.phase / 360.0
    along *= 2.0 * math.pi
    wave: Array = np.sin(along, out=along)
    wave *= train.height
    return wave


@relief_kind
class Waves(Relief):
    """Several trains of waves in any direction, one added to another."""

    summary = "trains of straight waves that cross each other"
    example = {
        "trains": [
            {"length": 230, "direction": 28},
            {"length": 170, "direction": -22, "height": 0.7},
            {"length": 95, "direction": 8, "height": 0.15},
        ]
    }

    kind: Literal["waves"] = "waves"
    trains: Annotated[tuple[Train, ...], Field(min_length=1, max_length=32)] = about("the trains, one table each")

    @property
    def terms(self) -> int:
        return len(self.trains)

    def heights(self, canvas: Canvas) -> Heights:
        def waves(x: Array, y: Array) -> Array:
            total = _train(self.trains[0], x, y)
            for train in self.trains[1:]:
                total += _train(train, x, y)
            return total

        return waves

    def finest(self, canvas: Canvas) -> float:
        return min((train.length for train in self.trains if train.height), default=math.inf)
