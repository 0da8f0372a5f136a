"""What is not wood: the door board at the bottom of the gaps, the dark behind the reveals, and the surround."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from facade.arrays import Array
from facade.layout import Layout
from facade.pictures.canvas import Frame, coverage, row_coverage
from facade.pictures.chance import Floats
from facade.pictures.light import Light, slot_light, slot_sky

Colour = tuple[float, float, float]
# Shares of the light thrown back, linear; this project's own choice, by eye.
SURROUND: Colour = (0.655, 0.635, 0.600)
_BOARD: Colour = (0.200, 0.150, 0.110)
_BEHIND: Colour = (0.170, 0.160, 0.148)
_DOOR_BOARD = 18.0  # mm: how deep the doors are behind their strips, for the dark in reveals and spaces
_BOUNCE = 1.9  # light thrown from wall to wall brings this much more sky to the bottom than is seen from there


@dataclass(frozen=True)
class Cover:
    """Shares of columns (or of rows) covered by strips, by doors, by the block of all doors, by the whole front."""

    strips: Floats
    doors: Floats
    block: Floats
    front: Floats


def columns_covered(frame: Frame, layout: Layout) -> Cover:
    """Return what covers each column of the picture, exactly."""
    edges = frame.column_edges
    return Cover(
        _floats(coverage(edges, [(strip.left, strip.right) for strip in layout.strips])),
        _floats(coverage(edges, [(door.left, door.right) for door in layout.doors])),
        _floats(coverage(edges, [(layout.doors[0].left, layout.doors[-1].right)])),
        _floats(coverage(edges, [(0.0, layout.width)])),
    )


def rows_covered(frame: Frame, layout: Layout) -> Cover:
    """Return what covers each row of the picture, exactly; strips are as long as their doors."""
    door = layout.doors[0]
    doors = _floats(row_coverage(frame, door.bottom, door.top))
    return Cover(doors, doors, doors, _floats(row_coverage(frame, 0.0, layout.height)))


def _floats(values: Array) -> Floats:
    return values.astype(np.float32)


@dataclass(frozen=True)
class Walls:
    """The strips on both sides of each column: distances of the column's two edges from them; is there one at all."""

    left_near: Floats
    left_far: Floats
    right_near: Floats
    right_far: Floats
    left: Floats
    right: Floats

    @property
    def from_left(self) -> Floats:
        """Distance of each column's middle from the strip on its left, mm."""
        return np.float32(0.5) * (self.left_near + self.left_far)

    @property
    def from_right(self) -> Floats:
        """Distance of each column's middle from the strip on its right, mm."""
        return np.float32(0.5) * (self.right_near + self.right_far)

    def of(self, columns: NDArray[np.intp]) -> Walls:
        """Return the walls of some columns only."""
        return Walls(*(getattr(self, name)[columns] for name in self.__dataclass_fields__))


def walls_beside(frame: Frame, layout: Layout) -> Walls:
    """Return the walls beside each column, for the gap that is nearest to its middle."""
    rights = np.array([-math.inf] + [strip.right for strip in layout.strips])
    lefts = np.array([strip.left for strip in layout.strips] + [math.inf])
    middles = [(strip.left + strip.right) / 2 for strip in layout.strips]
    gap = np.searchsorted(np.array(middles), frame.x)
    start, end = rights[gap], lefts[gap]
    near, far = (np.clip(edges, start, end) for edges in (frame.column_edges[:-1], frame.column_edges[1:]))
    has_left, has_right = np.isfinite(start), np.isfinite(end)
    left, right = np.where(has_left, start, near), np.where(has_right, end, far)
    return Walls(*(_floats(one) for one in (near - left, far - left, right - far, right - near, has_left, has_right)))


class Ground:
    """Draws all that is not wood."""

    def __init__(self, frame: Frame, layout: Layout, light: Light) -> None:
        self._light = light
        self._across = columns_covered(frame, layout)
        self._along = rows_covered(frame, layout)
        self._walls = walls_beside(frame, layout)
        self._around, self._between = _round_the_doors(layout), _seen_from_behind(layout.space)

    @property
    def strips(self) -> tuple[Floats, Floats]:
        """Shares of columns and of rows that strips cover."""
        return self._across.strips, self._along.strips

    def paint(self, rows: slice, columns: NDArray[np.intp], z: Floats, surround: Floats) -> list[Floats]:
        """Return red, green and blue, linear and weighed by what the wood leaves free, of some rows and columns.

        `z` is the height of the strips beside, mm; `surround` how brightly the surround is lit there.
        """
        strips, doors, front = self._across.strips[columns], self._across.doors[columns], self._across.front[columns]
        doors_up, front_up = self._along.doors[rows, None], self._along.front[rows, None]
        board = doors_up * (doors - strips) * self._bottom(columns, z)
        block = self._across.block[columns]
        behind = (front_up * front - doors_up * block) * self._around + doors_up * (block - doors) * self._between
        outside = (1.0 - front_up * front) * surround
        colours = zip(_BOARD, _BEHIND, SURROUND, strict=True)
        return [one * board + two * behind + three * outside for one, two, three in colours]

    def _bottom(self, columns: NDArray[np.intp], z: Floats) -> Floats:
        """Return how brightly the bottom of a gap is lit: the little sky it sees, and what light comes straight in."""
        walls = self._walls.of(columns)
        left, right = z * walls.left, z * walls.right
        sky = slot_sky(walls.left_near, walls.left_far, left)
        sky += slot_sky(walls.right_near, walls.right_far, right)
        np.minimum(sky, 1.0 / _BOUNCE, out=sky)
        sky *= self._light.ambient * _BOUNCE
        direct = slot_light(walls.from_left, walls.from_right, left, right, self._light)
        direct *= 1.0 - self._light.ambient
        return np.add(sky, direct, out=sky)


def _seen_from_behind(width: float) -> float:
    """Return how much sky is seen from behind the doors through an opening `width` mm wide.

    A long slot of width g and depth h lets its bottom see sqrt(1 + (h/g)^2) - h/g of the sky on average
    (crossed strings, H. C. Hottel; from memory).
    """
    deep = 2.0 * _DOOR_BOARD / max(width, 1.0)
    return math.hypot(1.0, deep) - deep


def _round_the_doors(layout: Layout) -> float:
    """Return how much sky is seen behind the reveals: one brightness all round, that of their mean width."""
    doors = layout.doors
    reveals = (doors[0].left, layout.width - doors[-1].right, doors[0].bottom, layout.height - doors[0].top)
    return _seen_from_behind(sum(reveals) / len(reveals))
