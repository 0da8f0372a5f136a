"""Hills and ridges: land at several sizes, each half of the one before."""

from __future__ import annotations

import math
from typing import Annotated, Literal

import numpy as np
from pydantic import Field

from facade.arrays import Array
from facade.fields import Pattern, Seed, Share, about, whole_number
from facade.reliefs.base import Canvas, Heights, Relief, relief_kind
from facade.reliefs.noise import octaves
from facade.reliefs.undulation import undulation

# Height of the undulation, either side of a crest, where a valley is deepest.
_VALLEY = 0.7


def _smallest(size: float, octaves: int) -> float:
    """Return the width of the smallest of so many sizes of hill, each half of the one before."""
    return size / 2.0 ** (octaves - 1)


@relief_kind
class Hills(Relief):
    """Rounded hills: gradient noise in octaves, each half as long as the one before (fractal gradient noise)."""

    summary = "rounded hills and hollows at several sizes"
    example = {"size": 190, "octaves": 3, "roughness": 0.35, "seed": 4}

    kind: Literal["hills"] = "hills"
    size: Pattern = about("width of the largest hills")
    octaves: whole_number(1, 8) = about("how many sizes of hill, each half of the one before", 3)  # type: ignore[valid-type]
    roughness: Share = about("height of each size against the one before", 0.5)
    seed: Seed = about("another number, another land", 1)

    @property
    def terms(self) -> int:
        return 2 * int(self.octaves)

    def heights(self, canvas: Canvas) -> Heights:
        def hills(x: Array, y: Array) -> Array:
            total = octaves(x / self.size, y / self.size, self.octaves, roughness=self.roughness, seed=self.seed)
            # Pressed gently towards -0.6 and 0.6, so that a few high tops do not leave the rest of the land low.
            total /= np.sqrt(1.0 + (total / 0.6) ** 2)
            return total

        return hills

    def finest(self, canvas: Canvas) -> float:
        return _smallest(self.size, self.octaves)


@relief_kind
class Ridges(Relief):
    """Ridged land: noise folded at zero, so that crests run where it changed sign; finer folds ride on the crests."""

    summary = "crests like mountain ridges, rounded as much as the disc needs"
    example = {"size": 240, "octaves": 2, "rounding": 0.2, "seed": 7}

    kind: Literal["ridges"] = "ridges"
    size: Pattern = about("width of the largest ridges")
    octaves: whole_number(1, 6) = about("how many sizes of ridge, each half of the one before", 2)  # type: ignore[valid-type]
    roughness: Share = about("height of each size against the one before", 0.3)
    rounding: Annotated[Share, Field(gt=0)] = about("how round the crests are; 0.05 is keen, 0.4 is soft", 0.2)
    seed: Seed = about("another number, another range", 1)

    @property
    def terms(self) -> int:
        return 2 * int(self.octaves)

    def heights(self, canvas: Canvas) -> Heights:
        def ridges(x: Array, y: Array) -> Array:
            total = self._crests(x, y, 0)
            for octave in range(1, self.octaves):
                total += self.roughness**octave * self._crests(x, y, octave) * (0.5 + 0.5 * total)
            return total

        return ridges

    def finest(self, canvas: Canvas) -> float:
        return _smallest(self.size, self.octaves) / 2.0

    def _crests(self, x: Array, y: Array, octave: int) -> Array:
        """Return the ridges of one size: 1 on a keen crest, falling to both sides."""
        fine = 2.0**octave / self.size
        crests = undulation(x * fine, y * fine, seed=self.seed, turn=octave)
        # A sine brings the widest valleys up again, so that every valley is about as deep as the next.
        crests *= 0.5 * math.pi / _VALLEY
        np.sin(crests, out=crests)
        # sqrt(n^2 + r^2) is |n| with its fold rounded: the crest stays smooth.
        crests *= crests
        crests += (self.rounding * 1.5**octave) ** 2
        np.sqrt(crests, out=crests)
        crests *= -2.0
        crests += 1.0
        return crests
