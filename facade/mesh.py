"""Strips as closed solids: carved face, four sides and a flat back."""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from facade.arrays import Array, sag
from facade.slicer import Strip
from facade.thinning import Known, every_other, thin


@dataclass(frozen=True)
class Grid:
    """Heights over a rectangle: x (columns,) and y (rows,) in mm, rising; heights (rows, columns) above the back."""

    x: Array
    y: Array
    heights: Array


@dataclass(frozen=True)
class Solid:
    """A closed solid: vertices (n, 3) in mm, triangles (m, 3) wound so that they are seen from outside."""

    vertices: Array
    triangles: NDArray[np.uint32]


def strip_grid(strip: Strip) -> Grid:
    """Return a strip's heights at its own origin: its lower left corner, its back at z = 0."""
    return Grid(strip.x - strip.place.left, strip.y - strip.place.bottom, strip.heights)


def thinned_grid(strip: Strip, tolerance: float, most: int) -> tuple[Grid, float]:
    """Return a strip's heights at its place on the front, on fewer rows and columns, and how far facets may be off the surface, mm.

    Every facet stays within the tolerance of all of the strip's heights, and its surface may sag between these. The tolerance,
    doubled as often as needed, gives way where more than `most` heights would be kept.
    """
    whole = Grid(strip.x, strip.y, strip.heights)
    known: tuple[Known, Known] = ({}, {})
    while True:
        grid = _close_enough(whole, tolerance, known)
        if grid.heights.size <= most or tolerance > 10.0:
            break
        tolerance *= 2.0
    rows = np.arange(len(grid.y))
    while len(rows) * len(grid.x) > most and len(rows) > 2:
        rows = every_other(rows)
    return Grid(grid.x, grid.y[rows], grid.heights[rows]), tolerance + sag(strip.heights)


def rounded_up(mm: float) -> float:
    """Return a small distance rounded up to two figures, as it is said."""
    last = 10.0 ** (math.floor(math.log10(mm)) - 1)
    return math.ceil(mm / last - 1e-9) * last


def _close_enough(whole: Grid, tolerance: float, known: tuple[Known, Known]) -> Grid:
    """Return a grid on some rows and columns of another, its facets within the tolerance.

    Rows and columns are left out one direction at a time, by ever smaller a share of the tolerance, until the facets between both
    hold it.
    """
    for share in (1.0, 0.5, 0.25, 0.125, 0.0625):
        rows = thin(whole.heights, share * tolerance, known[0])
        columns = thin(whole.heights.T, share * tolerance, known[1])
        grid = Grid(whole.x[columns], whole.y[rows], whole.heights[np.ix_(rows, columns)])
        if facet_error(grid, whole) <= tolerance:
            return grid
    return whole


def facet_error(grid: Grid, whole: Grid) -> float:
    """Return how far heights of the `whole` grid are from the facets of one on some of its rows and columns, mm at most."""
    column, across = _cells(grid.x, whole.x)
    row, along = _cells(grid.y, whole.y)
    row, along = row[:, None], along[:, None]
    low, high = grid.heights[row, column], grid.heights[row + 1, column + 1]
    # Each cell is two facets that meet from its lower left to its upper right corner.
    right = low + across * (grid.heights[row, column + 1] - low)
    right += along * (high - grid.heights[row, column + 1])
    left = low + along * (grid.heights[row + 1, column] - low)
    left += across * (high - grid.heights[row + 1, column])
    return float(np.abs(np.where(across >= along, right, left) - whole.heights).max())


def _cells(edges: Array, places: Array) -> tuple[NDArray[np.intp], Array]:
    """Return in which cell between the edges each place is, and how far through it, 0 to 1."""
    cell = np.clip(np.searchsorted(edges, places, side="right") - 1, 0, len(edges) - 2)
    return cell, (places - edges[cell]) / (edges[cell + 1] - edges[cell])


def closed_solid(grid: Grid) -> Solid:
    """Return the solid under a grid of heights: the back is a fan about its middle, so no edge meets half an edge."""
    rows, columns = grid.heights.shape
    rim = _rim(rows, columns)
    top = np.empty((rows * columns, 3))
    top[:, 0] = np.tile(grid.x, rows)
    top[:, 1] = np.repeat(grid.y, columns)
    top[:, 2] = grid.heights.ravel()
    back = top[rim]
    back[:, 2] = 0.0
    middle = [[(grid.x[0] + grid.x[-1]) / 2, (grid.y[0] + grid.y[-1]) / 2, 0.0]]
    return Solid(np.concatenate([top, back, middle]), _triangles(rows, columns))


def face_triangles(rows: int, columns: int) -> NDArray[np.uint32]:
    """Return the triangles (m, 3) of a grid's face, two to a cell, wound to be seen from the front."""
    corner = (np.arange(rows - 1)[:, None] * columns + np.arange(columns - 1)).ravel()
    right, up, across = corner + 1, corner + columns, corner + columns + 1
    pairs = np.stack([np.stack([corner, right, across], -1), np.stack([corner, across, up], -1)], axis=1)
    return pairs.reshape(-1, 3).astype(np.uint32)


def _rim(rows: int, columns: int) -> NDArray[np.intp]:
    """Return the grid's outer vertices, once round, anticlockwise seen from the front."""
    first, last = np.arange(columns), np.arange(columns) + (rows - 1) * columns
    left, right = np.arange(rows) * columns, np.arange(rows) * columns + columns - 1
    return np.concatenate([first[:-1], right[:-1], last[:0:-1], left[:0:-1]])


@lru_cache(maxsize=8)
def _triangles(rows: int, columns: int) -> NDArray[np.uint32]:
    """Return the triangles of a whole solid; strips of one size share them."""
    rim = _rim(rows, columns)
    below = rows * columns + np.arange(len(rim))
    next_rim, next_below = np.roll(rim, -1), np.roll(below, -1)
    middle = np.full(len(rim), rows * columns + len(rim))
    sides = [np.stack([rim, below, next_below], -1), np.stack([rim, next_below, next_rim], -1)]
    back = np.stack([middle, next_below, below], -1)
    return np.concatenate([face_triangles(rows, columns), *sides, back]).astype(np.uint32)
