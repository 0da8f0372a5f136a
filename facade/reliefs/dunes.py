"""Dunes: ridges raised by wind, with a long windward side and a short lee."""

from __future__ import annotations

import math
from typing import Annotated, Literal

import numpy as np
from pydantic import Field

from facade.arrays import Array
from facade.fields import Degrees, Pattern, Seed, Share, about
from facade.reliefs.base import Canvas, Heights, Relief, relief_kind
from facade.reliefs.undulation import undulation


def lopsided_wave(cycles: Array, windward: float) -> Array:
    """Return a smooth wave of -1 to 1 that rises over the share `windward` of each cycle and falls over the rest.

    The angle of 1 - s e^(ia) seen from 0: a sine for windward = 0.5, nearing a saw-tooth as windward nears 1.
    Its crest and hollow stand at cos(a) = s, which gives s = cos(pi (1 - windward)).
    """
    lean = math.cos(math.pi * (1.0 - windward))
    angle = cycles * (-2.0 * math.pi)
    if lean < 1e-9:
        plain: Array = np.sin(angle)
        return plain
    wave: Array = np.arctan2(lean * np.sin(angle), 1.0 - lean * np.cos(angle))
    wave /= math.asin(lean)
    return wave


@relief_kind
class Dunes(Relief):
    """Wind ridges whose crests wander and whose heights vary along them."""

    summary = "wind ridges: long windward side, short lee, wandering crests"
    example = {"length": 190, "wind": -25, "wander": 0.5, "seed": 3}

    kind: Literal["dunes"] = "dunes"
    length: Pattern = about("from crest to crest along the wind")
    wind: Degrees = about("degrees anticlockwise from the right that the wind blows towards", 0.0)
    windward: Annotated[float, Field(strict=True, ge=0.5, le=0.9)] = about(
        "share of the length that rises slowly", 0.63
    )
    wander: Share = about("how far crests stray, in lengths", 0.4)
    uneven: Share = about("how much the height of a crest varies along it", 0.35)
    seed: Seed = about("another number, another set of dunes", 1)

    def heights(self, canvas: Canvas) -> Heights:
        turn = math.radians(self.wind)
        far = 3.4 * self.length

        def dunes(x: Array, y: Array) -> Array:
            downwind = (x * math.cos(turn) + y * math.sin(turn)) / self.length
            u, v = x / far, y / far
            wander = undulation(u, v, seed=self.seed)
            wave = lopsided_wave(downwind + 1.6 * self.wander * wander, self.windward)
            if self.uneven:
                wave *= 1.0 - self.uneven * (0.5 - 0.9 * undulation(1.3 * u, 1.3 * v, seed=self.seed, turn=1))
            return wave

        return dunes

    def finest(self, canvas: Canvas) -> float:
        return self.length / (1.0 + self.wander)
