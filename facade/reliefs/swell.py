"""Swell: long folds that are carried aside by noise, which makes them flow."""

from __future__ import annotations

import math
from typing import Annotated, Literal

import numpy as np
from pydantic import Field

from facade.arrays import Array
from facade.fields import Pattern, Seed, Share, about
from facade.reliefs.base import Canvas, Heights, Relief, relief_kind
from facade.reliefs.undulation import undulation


@relief_kind
class Swell(Relief):
    """A flowing relief: long folds whose lines are carried aside by noise, with a second, wider set rolling under them.

    The two sets are carried by different noise and keep no step, so that folds rise, run together and sink again.
    """

    summary = "long flowing folds, like a slow sea"
    example = {"size": 210, "flow": 0.6, "draw": 0.6, "seed": 5}

    kind: Literal["swell"] = "swell"
    size: Pattern = about("width of the folds")
    flow: Share = about("how far the folds are carried aside, in sizes", 0.5)
    draw: Share = about("how much the folds are drawn out along the strips; 0 is round", 0.5)
    lean: Annotated[float, Field(strict=True, gt=-80, lt=80)] = about("degrees that the folds lean to the right", 18.0)
    seed: Seed = about("another number, another swell", 1)

    def heights(self, canvas: Canvas) -> Heights:
        slant = math.tan(math.radians(self.lean)) / self.size
        far, tall = 2.4 * self.size, 2.4 * self.size * (1.0 + 1.4 * self.draw)

        def swell(x: Array, y: Array) -> Array:
            u, v = x / far, y / tall
            aside = undulation(u, v, seed=self.seed)
            under = undulation(u, v, seed=self.seed, turn=1)
            across = x / self.size - slant * y
            folds = (across + 2.0 * self.flow * aside) * (2.0 * math.pi)
            wider = (0.55 * across + 1.3 * self.flow * under) * (2.0 * math.pi)
            return np.sin(folds) + 0.55 * np.sin(wider)

        return swell

    def finest(self, canvas: Canvas) -> float:
        # Noise that rises by 2 over a width of the folds is as steep as it is anywhere.
        return self.size / (1.0 + 2.0 * self.flow)
