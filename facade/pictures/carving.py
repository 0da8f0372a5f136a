"""The carved surface as the picture needs it: heights and brightness on every second pixel, filled in smoothly."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from facade.arrays import Array
from facade.front import Front
from facade.layout import Layout
from facade.pictures.canvas import Frame
from facade.pictures.chance import Floats
from facade.pictures.light import AMBIENT, Light, ceilings, lambert, lit

_FINEST = 2.5  # mm: pixels larger than this get a height each
_BAND = 40_000  # places whose heights are taken at once, so that they stay in cache
_SOFT_AROUND = 3.5  # mm: the softness of the shadow on the surround, which lies far below the edges that throw it
_ROOM = 0.45  # share of the surround's light that comes from the whole room: it is a backdrop, and stays quiet
_RUN_OUT = 0.3  # mm over which that shadow runs out at its ends, to the mm away from what throws it
_DRINK = 0.5  # end grain drinks oil: how much darker it is than the face of a strip


@dataclass(frozen=True)
class Grid:
    """The places where heights are taken: every `stride`-th pixel, one beyond the last."""

    x: Array
    y: Array
    step: float
    stride: int

    def fill(self, known: Floats, rows: slice, columns: int) -> Floats:
        """Return the values at the pixels of some rows, from a row that is on the grid; shape (rows, columns)."""
        if self.stride == 1:
            return known[rows, :columns].copy()
        lines = _between(known[rows.start // 2 : (rows.stop + 2) // 2].T, columns).T
        return _between(lines, rows.stop - rows.start)


def _between(known: Floats, count: int) -> Floats:
    """Return `count` lines: the known ones, and between each two of them their mean."""
    filled = np.empty((count, known.shape[1]), dtype=np.float32)
    filled[::2] = known[: (count + 1) // 2]
    odd = filled[1::2]
    np.add(known[: len(odd)], known[1 : len(odd) + 1], out=odd)
    odd *= 0.5
    return filled


def grid_for(frame: Frame) -> Grid:
    """Return the grid of a frame: every second pixel, or every pixel where these are coarse."""
    stride = 2 if frame.pixel <= _FINEST else 1
    step = frame.pixel * stride
    x = frame.x[0] + np.arange(frame.columns // stride + 1) * step
    y = frame.y[0] - np.arange(frame.rows // stride + 1) * step
    return Grid(x, y, step, stride)


@dataclass(frozen=True)
class Carving:
    """On the grid: heights in mm, how brightly the wood is lit, and how brightly the surround is; 1 is a level face."""

    grid: Grid
    z: Floats
    wood: Floats
    surround: Floats


def carve(front: Front, frame: Frame, light: Light) -> Carving:
    """Return the carved surface of a front under a light."""
    grid = grid_for(frame)
    z = _heights(front, grid)
    straight, around = _shadows(front.layout, grid, z, light)
    right, up = _slopes(z, grid.step)
    wood = lambert(right, up, light)
    wood *= straight
    wood *= (1.0 - AMBIENT) / light.direction[2]
    wood += _sky(right, up)
    wood *= _oiled(up)
    around *= 1.0 - _ROOM
    around += _ROOM * _sky_around(front.layout, grid, z)
    return Carving(grid, z, wood, around)


def _heights(front: Front, grid: Grid) -> Floats:
    """Return the heights; beyond the front they are those of its edge."""
    x = np.clip(grid.x, 0.0, front.layout.width)[None, :]
    y = np.clip(grid.y, 0.0, front.layout.height)[:, None]
    z = np.empty((len(grid.y), len(grid.x)), dtype=np.float32)
    tall = max(1, _BAND // len(grid.x))
    for start in range(0, len(y), tall):
        z[start : start + tall] = front.surface.at(x, y[start : start + tall])
    return z


def _slopes(z: Floats, step: float) -> tuple[Floats, Floats]:
    """Return the slopes to the right and up."""
    right: Floats = np.gradient(z, step, axis=1)
    up: Floats = np.gradient(z, -step, axis=0)
    return right, up


def _shadows(layout: Layout, grid: Grid, z: Floats, light: Light) -> tuple[Floats, Floats]:
    """Return the share of the light's rays that reach the carved faces, and that reach the surround."""
    casters = z * _standing(layout, grid, light)
    faces, around = np.zeros_like(z), np.zeros_like(z)
    for shadow in ceilings(casters, grid.step, light):
        faces += lit(shadow, z)
        around += lit(shadow, 0.0, soft=_SOFT_AROUND)
    faces /= len(light.tangents)
    around *= -1.0 / len(light.tangents)
    around += 1.0
    around *= _ends(layout, grid, light)
    return faces, np.subtract(1.0, around, out=around)


def _ends(layout: Layout, grid: Grid, light: Light) -> Floats:
    """Return how much of the shadow on the surround is left: its two ends run out, for the light has a width."""
    aside, above = _beyond(layout, grid)
    first, last = layout.strips[0], layout.strips[-1]
    if light.sideways:
        inside = np.minimum(grid.y - first.bottom, first.top - grid.y)[:, None]
        away = aside[None, :]
    else:
        inside = np.minimum(grid.x - first.left, last.right - grid.x)[None, :]
        away = above[:, None]
    left: Floats = np.clip(inside / (_RUN_OUT * away + 1.0), 0.0, 1.0).astype(np.float32)
    return left


def _beyond(layout: Layout, grid: Grid) -> tuple[Floats, Floats]:
    """Return how far columns are beside, and rows above or below, the block of all strips, mm."""
    first, last = layout.strips[0], layout.strips[-1]
    aside = np.maximum(np.maximum(first.left - grid.x, grid.x - last.right), 0.0)
    above = np.maximum(np.maximum(first.bottom - grid.y, grid.y - first.top), 0.0)
    return aside.astype(np.float32), above.astype(np.float32)


def _standing(layout: Layout, grid: Grid, light: Light) -> Floats:
    """Return 1 where there is wood to throw a shadow, 0 elsewhere.

    Light along the strips never crosses a gap, so that gaps count only for light across them.
    """
    first, last = layout.strips[0], layout.strips[-1]
    across = (grid.x > first.left) & (grid.x < last.right)
    if light.sideways:
        edges = np.array([edge for strip in layout.strips for edge in (strip.left, strip.right)])
        across = np.searchsorted(edges, grid.x) % 2 == 1
    along = (grid.y > first.bottom) & (grid.y < first.top)
    return (along[:, None] & across[None, :]).astype(np.float32)


def _sky(right: Floats, up: Floats) -> Floats:
    """Return the light from the whole room: a place leaning by b sees (1 + cos b) / 2 of it."""
    sky: Floats = np.sqrt(1.0 + right * right + up * up)
    np.reciprocal(sky, out=sky)
    sky += 1.0
    sky *= AMBIENT / 2.0
    return sky


def _oiled(up: Floats) -> Floats:
    """Return the share of brightness that oiled wood keeps: steep along the strip it shows end grain, which drinks."""
    kept: Floats = np.sqrt(1.0 + 4.0 * up * up)
    np.reciprocal(kept, out=kept)
    kept *= _DRINK
    kept += 1.0 - _DRINK
    return kept


def _sky_around(layout: Layout, grid: Grid, z: Floats) -> Floats:
    """Return the share of the sky that the surround sees beside the doors."""
    aside, above = _beyond(layout, grid)
    away = (aside * aside)[None, :] + (above * above)[:, None]
    sky: Floats = np.sqrt(away / (away + z * z))
    sky += 1.0
    sky *= 0.5
    return sky
