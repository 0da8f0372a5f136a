"""Facets: nearly plane faces that meet in soft ridges, as a wide gouge leaves them."""

from __future__ import annotations

from typing import Annotated, Literal

import numpy as np
from pydantic import Field

from facade.arrays import Array
from facade.fields import Pattern, Seed, Share, about
from facade.reliefs.base import Canvas, Heights, Relief, relief_kind


def _scatter(i: Array, j: Array, seed: int, turn: int) -> Array:
    """Return a number of 0 to 1 for each lattice cell, the same on every machine (whole-number mixing only)."""
    mixed = i.astype(np.int64) * 374761393 + j.astype(np.int64) * 668265263 + (seed * 362437 + turn * 974711)
    mixed &= 0xFFFFFFFF
    mixed = ((mixed ^ (mixed >> 13)) * 1274126177) & 0xFFFFFFFF
    mixed = ((mixed ^ (mixed >> 16)) * 362437) & 0xFFFFFFFF
    scattered: Array = (mixed ^ (mixed >> 15)).astype(np.float64) / 0x100000000
    return scattered


# From so many cuts on, a place is better told by the few around it than by all.
_MANY_CUTS = 2000.0


@relief_kind
class Facets(Relief):
    """Cuts of a wide gouge: shallow dishes on scattered middles, each tilted its own way; the lowest cut stands."""

    summary = "nearly plane faces meeting in soft ridges, as from a wide gouge"
    example = {"size": 84, "long": 2.4, "tilt": 0.5, "softness": 0.2, "seed": 6}

    kind: Literal["facets"] = "facets"
    size: Pattern = about("width of a cut")
    long: Annotated[float, Field(strict=True, ge=0.25, le=8)] = about("length of a cut against its width", 2.0)
    tilt: Share = about("how much the cuts tilt and differ in depth", 0.5)
    softness: Annotated[Share, Field(gt=0)] = about("how far the ridges between cuts are rounded", 0.2)
    seed: Seed = about("another number, other cuts", 1)

    def heights(self, canvas: Canvas) -> Heights:
        # exp() in parts of this width rounds the lowest of the cuts: a soft minimum without a crease.
        soft = 0.02 + 0.18 * self.softness

        def facets(x: Array, y: Array) -> Array:
            u, v = x / self.size, y / (self.size * self.long)
            grid = u.ndim == v.ndim == 2 and u.shape[0] == 1 and v.shape[1] == 1
            if grid and np.ptp(u) * np.ptp(v) < _MANY_CUTS:
                total = self._on_grid(u[0], v[:, 0], soft)
            else:
                u, v = np.broadcast_arrays(u, v)
                total = self._at_points(u, v, soft)
            return -soft * np.log(total)

        return facets

    def finest(self, canvas: Canvas) -> float:
        # Cuts are set off their places by up to a quarter of their size, so that two may stand half a size apart.
        return 0.5 * self.size * min(self.long, 1.0)

    def _on_grid(self, u: Array, v: Array, soft: float) -> Array:
        """Return the sum of exp(-cut / soft) on columns u and rows v.

        A cut is a part across plus a part along, so that its exp() is a column times a row.
        """
        right, up, lean_right, lean_up, depth = (part.ravel()[:, None] for part in self._cuts_around(u, v, soft)[2])
        across, along = u - right, v - up
        across = np.exp((across * (across + lean_right) + depth) / -soft)
        along = np.exp(along * (along + lean_up) / -soft)
        total: Array = along.T @ across
        return total

    def _at_points(self, u: Array, v: Array, soft: float) -> Array:
        """Return the same sum at the places (u, v), over the cuts around each."""
        first, reach, parts = self._cuts_around(u, v, soft)
        i, j = (np.floor(u) - first[0]).astype(np.intp), (np.floor(v) - first[1]).astype(np.intp)
        total: Array = np.zeros(u.shape)
        for di in range(-reach, reach + 1):
            for dj in range(-reach, reach + 1):
                right, up, lean_right, lean_up, depth = (part[j + dj, i + di] for part in parts)
                right, up = u - right, v - up
                total += np.exp((right * (right + lean_right) + up * (up + lean_up) + depth) / -soft)
        return total

    def _cuts_around(self, u: Array, v: Array, soft: float) -> tuple[tuple[float, float], int, tuple[Array, ...]]:
        """Return the first cell, how many cells a cut reaches, and the cuts (rows, columns) that reach the places."""
        # What lies farther off counts for less than a rounding error.
        reach = 2 if soft < 0.06 else 3
        i = np.arange(np.floor(u.min()) - reach, np.floor(u.max()) + reach + 1)
        j = np.arange(np.floor(v.min()) - reach, np.floor(v.max()) + reach + 1)
        return (float(i[0]), float(j[0])), reach, self._cuts(*np.meshgrid(i, j))

    def _cuts(self, i: Array, j: Array) -> tuple[Array, ...]:
        """Return middle (right, up), lean (right, up) and depth of the cuts in cells (i, j).

        Every second column stands half a cut higher, as a carver sets one row of cuts between those of the last.
        """
        chance = [_scatter(i, j, self.seed, turn) - 0.5 for turn in range(5)]
        right = i + 0.5 + 0.55 * chance[0]
        up = j + 0.5 * np.mod(i, 2.0) + 0.25 + 0.55 * chance[1]
        lean = 0.5 * self.tilt
        return right, up, lean * chance[2], lean * chance[3], 0.3 * self.tilt * (chance[4] + 0.5)
