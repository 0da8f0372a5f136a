"""The carved surface as the picture needs it: heights and brightness on every second pixel, filled in smoothly."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from facade.arrays import Array
from facade.front import Front
from facade.layout import Layout
from facade.pictures.canvas import Frame
from facade.pictures.chance import Floats
from facade.pictures.finish import Finish
from facade.pictures.light import Light, ceilings, lambert, lamp_light, lit, sky

_FINEST = 2.5  # mm: pixels larger than this get a height each
_BAND = 40_000  # places whose heights are taken at once, so that they stay in cache
_SOFT_AROUND = 3.5  # mm: the softness of the shadow on the surround, which lies far below the edges that throw it
_ROOM = 0.45  # share of the surround's light that comes from the whole room: it is a backdrop, and stays quiet
_RUN_OUT = 0.3  # mm over which that shadow runs out at its ends, to the mm away from what throws it


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
    """On the grid: heights in mm, how brightly the wood is lit, and how brightly the surround is; 1 is a level face.

    `level` (rows, 1) is how brightly a level face would be lit there: 1 everywhere but under lamps that are near.
    """

    grid: Grid
    z: Floats
    wood: Floats
    surround: Floats
    level: Floats


def carve(front: Front, frame: Frame, light: Light, finish: Finish) -> Carving:
    """Return the carved surface of a front under a light, its end grain darkened by a finish."""
    grid = grid_for(frame)
    z = _heights(front, grid)
    straight, around = _shadows(front.layout, grid, z, light)
    right, up = _slopes(z, grid.step)
    wood = _direct(front.layout, grid, z, right, up, light)
    wood *= straight
    wood *= 1.0 - light.ambient
    wood += np.float32(light.ambient) * sky(z, right, up, grid.step)
    wood *= _oiled(up, finish)
    around *= 1.0 - _ROOM
    around += _ROOM * _sky_around(front.layout, grid, z)
    return Carving(grid, z, wood, around, _level(front.layout, grid, z, light))


def _direct(layout: Layout, grid: Grid, z: Floats, right: Floats, up: Floats, light: Light) -> Floats:
    """Return the light that places would take if nothing shaded them; 1 for a level face."""
    if light.lamp:
        return lamp_light(right, up, z, _rows(grid), light.lamp, layout.height)
    return lambert(right, up, light) / np.float32(light.direction[2])


def _level(layout: Layout, grid: Grid, z: Floats, light: Light) -> Floats:
    """Return how brightly a level face of middle height is lit at each row."""
    flat = np.zeros((len(grid.y), 1), dtype=np.float32)
    direct = _direct(layout, grid, flat + z.mean(dtype=np.float32), flat, flat, light)
    level: Floats = np.float32(light.ambient) + np.float32(1.0 - light.ambient) * direct
    return level


def _rows(grid: Grid) -> Floats:
    return grid.y.astype(np.float32)[:, None]


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
    rays = 0
    for shadow in ceilings(casters, grid.step, _rows(grid), layout.height, light):
        faces += lit(shadow, z)
        around += lit(shadow, 0.0, soft=_SOFT_AROUND)
        rays += 1
    faces /= rays
    around *= -1.0 / rays
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

    Light along the strips all but never crosses a gap, so that gaps count only for light across them.
    """
    first, last = layout.strips[0], layout.strips[-1]
    across = (grid.x > first.left) & (grid.x < last.right)
    if light.crosses:
        edges = np.array([edge for strip in layout.strips for edge in (strip.left, strip.right)])
        across = np.searchsorted(edges, grid.x) % 2 == 1
    along = (grid.y > first.bottom) & (grid.y < first.top)
    return (along[:, None] & across[None, :]).astype(np.float32)


def _oiled(up: Floats, finish: Finish) -> Floats:
    """Return the share of brightness that finished wood keeps: steep along the strip it shows end grain, which drinks.

    The fibres run along the strip, so that the share of end grain is the sine of the slope along it.
    """
    kept: Floats = np.sqrt(1.0 + 4.0 * up * up)
    np.reciprocal(kept, out=kept)
    kept *= finish.drinks
    kept += 1.0 - finish.drinks
    return kept


def _sky_around(layout: Layout, grid: Grid, z: Floats) -> Floats:
    """Return the share of the sky that the surround sees beside the doors."""
    aside, above = _beyond(layout, grid)
    away = (aside * aside)[None, :] + (above * above)[:, None]
    sky: Floats = np.sqrt(away / (away + z * z))
    sky += 1.0
    sky *= 0.5
    return sky
