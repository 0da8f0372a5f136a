"""A small finite-element model of a board with strips glued on it, seen on end: plane stress, eight-node quadrilaterals.

Elements and integration as in any textbook (e.g. K.-J. Bathe, Finite Element Procedures, chapter 5, from memory). Nothing of it
is shared with the formulas that it judges. Sizes in mm, stiffness in MPa; strips swell by a strain of 1, the board does not.
"""

from __future__ import annotations

import itertools
from dataclasses import dataclass

import numpy as np
import scipy.sparse as sparse
from scipy.sparse.linalg import spsolve

_CORNERS = np.array([[-1, -1], [1, -1], [1, 1], [-1, 1]], dtype=np.float64)
_POINTS = np.array([-np.sqrt(0.6), 0.0, np.sqrt(0.6)])
_WEIGHTS = np.array([5.0, 8.0, 5.0]) / 9.0
# The eight nodes of an element on a lattice of half elements: corners, then the middles of its sides.
_NODES = ((0, 0), (2, 0), (2, 2), (0, 2), (1, 0), (2, 1), (1, 2), (0, 1))


@dataclass(frozen=True)
class Material:
    """Stiffness in the plane of the section: along x, along y, in shear; without y and shear the same in every direction."""

    x: float
    y: float | None = None
    shear: float | None = None
    poisson: float = 0.3

    def matrix(self) -> np.ndarray:
        """Return stresses for strains xx, yy, xy in plane stress."""
        y = self.x if self.y is None else self.y
        shear = self.x / (2.0 * (1.0 + self.poisson)) if self.shear is None else self.shear
        apart = 1.0 - self.poisson**2 * y / self.x
        across = self.poisson * y / apart
        return np.array([[self.x / apart, across, 0.0], [across, y / apart, 0.0], [0.0, 0.0, shear]])


@dataclass(frozen=True)
class Section:
    """One half of a symmetric section, from its middle x = 0 to `end`: a board, and strips from left to right.

    Each strip is (left, right, glued from, glued to); a strip on the middle begins at 0.
    """

    end: float
    strips: tuple[tuple[float, float, float, float], ...]
    board: float
    thickness: float
    board_material: Material = Material(6000.0)
    strip_material: Material = Material(1000.0)


def unit(strip: float, gap: float, glued: float, board: float, thickness: float, **materials: Material) -> Section:
    """Return half of one strip with half of a gap."""
    return Section((strip + gap) / 2, ((0.0, strip / 2, 0.0, glued / 2),), board, thickness, **materials)


def curvature(section: Section, coarsest: float = 1.5, finest: float = 0.3) -> float:
    """Return the mean curvature (1/mm) of an endless row of sections: their ends stay plane, and no force holds them."""
    at, moved = _solve(section, coarsest, finest, plane_end=True)
    end = np.flatnonzero(at[:, 0] > section.end - 1e-9)
    low, high = end[at[end, 1].argmin()], end[at[end, 1].argmax()]
    return float((moved[high, 0] - moved[low, 0]) / (at[high, 1] - at[low, 1]) / section.end)


def bow(section: Section, coarsest: float = 2.0, finest: float = 0.5) -> float:
    """Return how far the back of the whole section's middle stands forward of its free ends, mm."""
    at, moved = _solve(section, coarsest, finest, plane_end=False)
    back = np.flatnonzero(at[:, 1] < 1e-9)
    middle, end = back[at[back, 0].argmin()], back[at[back, 0].argmax()]
    return float(moved[middle, 1] - moved[end, 1])


def _solve(section: Section, coarsest: float, finest: float, *, plane_end: bool) -> tuple[np.ndarray, np.ndarray]:
    """Return places (n, 2) and displacements (n, 2) of all nodes."""
    elements, at = _mesh(section, coarsest, finest)
    stiffness, force = _assemble(section, elements, at)
    kept = _held(section, at, plane_end=plane_end)
    reduced = (kept.T @ stiffness @ kept).tocsc()
    moved = kept @ spsolve(reduced, kept.T @ force)
    return at, moved.reshape(-1, 2)


def _mesh(section: Section, coarsest: float, finest: float) -> tuple[list[tuple[bool, list[int]]], np.ndarray]:
    """Return the elements, each with whether it is of a strip, and the places of nodes; glue lines join, all else is apart."""
    fine = sorted({0.0, section.end, *(x for strip in section.strips for x in strip)})
    x = _graded(fine, coarsest, finest, keep_fine=_glue_ends(section))
    y = _graded([0.0, section.board, section.board + section.thickness], coarsest, finest, keep_fine={section.board})
    top = int(np.flatnonzero(np.isclose(y, section.board))[0])
    numbers: dict[tuple[int, int, int], int] = {}
    places: list[tuple[float, float]] = []

    def node(i: int, j: int, strip: int) -> int:
        place = float(_half(x, i)), float(_half(y, j))
        if strip >= 0 and j == 2 * top:
            _, _, start, stop = section.strips[strip - 1]
            strip = 0 if start - 1e-9 <= place[0] <= stop + 1e-9 else strip
        if (i, j, strip) not in numbers:
            numbers[i, j, strip] = len(places)
            places.append(place)
        return numbers[i, j, strip]

    elements = []
    for i in range(len(x) - 1):
        middle = (x[i] + x[i + 1]) / 2
        over = next((k for k, strip in enumerate(section.strips, start=1) if strip[0] < middle < strip[1]), 0)
        for j in range(len(y) - 1):
            if j < top or over:
                strip = over if j >= top else 0
                elements.append((j >= top, [node(2 * i + a, 2 * j + b, strip) for a, b in _NODES]))
    return elements, np.array(places)


def _glue_ends(section: Section) -> set[float]:
    return {end for _, _, start, stop in section.strips for end in (start, stop) if 1e-9 < end < section.end - 1e-9}


def _half(values: np.ndarray, index: int) -> float:
    return values[index // 2] if index % 2 == 0 else (values[index // 2] + values[index // 2 + 1]) / 2


def _graded(stops: list[float], coarsest: float, finest: float, *, keep_fine: set[float]) -> np.ndarray:
    """Return places through all `stops`, close together beside those of `keep_fine`, where stresses have no bound."""
    places = [stops[0]]
    for left, right in itertools.pairwise(stops):
        from_left = _steps(right - left, coarsest, finest if left in keep_fine else coarsest)
        from_right = _steps(right - left, coarsest, finest if right in keep_fine else coarsest)
        length = right - left
        inner = [a for a in from_left if a <= length / 2] + [
            length - b for b in from_right if b < length / 2 - finest / 2
        ]
        places += [left + one for one in sorted(inner)] + [right]
    return np.array(places)


def _steps(length: float, coarsest: float, first: float) -> list[float]:
    steps, step = [], min(first, length / 2)
    while sum(steps) + step < length:
        steps.append(step)
        step = min(step * 1.6, coarsest)
    return list(np.cumsum(steps))


def _assemble(
    section: Section, elements: list[tuple[bool, list[int]]], at: np.ndarray
) -> tuple[sparse.csr_matrix, np.ndarray]:
    known: dict[tuple[bool, float, float], tuple[np.ndarray, np.ndarray]] = {}
    rows, columns, values = [], [], []
    force = np.zeros(2 * len(at))
    for is_strip, nodes in elements:
        width, height = at[nodes[2]] - at[nodes[0]]
        key = is_strip, round(width, 9), round(height, 9)
        if key not in known:
            known[key] = _element(
                width, height, section.strip_material if is_strip else section.board_material, is_strip
            )
        stiffness, swelling = known[key]
        places = np.array([(2 * node, 2 * node + 1) for node in nodes]).ravel()
        rows.append(np.repeat(places, 16))
        columns.append(np.tile(places, 16))
        values.append(stiffness.ravel())
        force[places] += swelling
    where = np.concatenate(rows), np.concatenate(columns)
    return sparse.csr_matrix((np.concatenate(values), where), shape=(2 * len(at), 2 * len(at))), force


def _element(width: float, height: float, material: Material, swells: bool) -> tuple[np.ndarray, np.ndarray]:
    """Return stiffness (16, 16) and the force of a swelling of 1 in both directions, by 3 x 3 Gauss points."""
    stresses = material.matrix()
    stiffness, force = np.zeros((16, 16)), np.zeros(16)
    for s, weight_s in zip(_POINTS, _WEIGHTS, strict=True):
        for t, weight_t in zip(_POINTS, _WEIGHTS, strict=True):
            slope = _slopes(s, t) * [2 / width, 2 / height]
            strains = np.zeros((3, 16))
            strains[0, 0::2] = strains[2, 1::2] = slope[:, 0]
            strains[1, 1::2] = strains[2, 0::2] = slope[:, 1]
            weight = weight_s * weight_t * width * height / 4
            stiffness += strains.T @ stresses @ strains * weight
            force += strains.T @ stresses @ [1.0, 1.0, 0.0] * (weight if swells else 0.0)
    return stiffness, force


def _slopes(s: float, t: float) -> np.ndarray:
    """Return the derivatives (8, 2) of the eight-node serendipity functions by s and t."""
    a, b = _CORNERS.T
    corners = np.stack([a * (1 + b * t) * (2 * a * s + b * t), b * (1 + a * s) * (a * s + 2 * b * t)], axis=1) / 4
    flat = [[-s * (1 + b * t), b * (1 - s * s) / 2] for b in (-1, 1)]
    upright = [[a * (1 - t * t) / 2, -t * (1 + a * s)] for a in (1, -1)]
    return np.vstack([corners, flat[0], upright[0], flat[1], upright[1]])


def _held(section: Section, at: np.ndarray, *, plane_end: bool) -> sparse.csr_matrix:
    """Return the matrix from free unknowns to all displacements: symmetry in the middle, one node held against falling.

    A plane end is free to shift and to turn as a whole: two unknowns for all its nodes.
    """
    total = 2 * len(at)
    middle = np.flatnonzero(at[:, 0] < 1e-9)
    end = np.flatnonzero(at[:, 0] > section.end - 1e-9) if plane_end else np.array([], dtype=int)
    falling = 2 * int(middle[at[middle, 1].argmin()]) + 1
    free = np.setdiff1d(np.arange(total), np.concatenate([2 * middle, 2 * end, [falling]]))
    rows = np.concatenate([free, 2 * end, 2 * end])
    columns = np.concatenate([np.arange(len(free)), np.full(len(end), len(free)), np.full(len(end), len(free) + 1)])
    values = np.concatenate([np.ones(len(free) + len(end)), at[end, 1]])
    return sparse.csr_matrix((values, (rows, columns)), shape=(total, len(free) + (2 if plane_end else 0)))
