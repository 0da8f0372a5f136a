"""Gradient noise: the smooth, seeded unevenness that several reliefs are made from.

K. Perlin, "Improving Noise", ACM Transactions on Graphics 21(3), 2002: fade curve, hash by permutation and the
twelve gradient directions. `gradient_noise(x, y, plane)` is that paper's noise(x, y, z) on the level z = plane, a whole number.
"""

from __future__ import annotations

import numpy as np

from facade.arrays import Array

# The permutation of the paper's reference code.
_PERMUTATION = np.array(
    [
        151, 160, 137, 91, 90, 15, 131, 13, 201, 95, 96, 53, 194, 233, 7, 225, 140, 36, 103, 30, 69, 142, 8, 99, 37, 240, 21, 10,
        23, 190, 6, 148, 247, 120, 234, 75, 0, 26, 197, 62, 94, 252, 219, 203, 117, 35, 11, 32, 57, 177, 33, 88, 237, 149, 56, 87,
        174, 20, 125, 136, 171, 168, 68, 175, 74, 165, 71, 134, 139, 48, 27, 166, 77, 146, 158, 231, 83, 111, 229, 122, 60, 211,
        133, 230, 220, 105, 92, 41, 55, 46, 245, 40, 244, 102, 143, 54, 65, 25, 63, 161, 1, 216, 80, 73, 209, 76, 132, 187, 208,
        89, 18, 169, 200, 196, 135, 130, 116, 188, 159, 86, 164, 100, 109, 198, 173, 186, 3, 64, 52, 217, 226, 250, 124, 123, 5,
        202, 38, 147, 118, 126, 255, 82, 85, 212, 207, 206, 59, 227, 47, 16, 58, 17, 182, 189, 28, 42, 223, 183, 170, 213, 119,
        248, 152, 2, 44, 154, 163, 70, 221, 153, 101, 155, 167, 43, 172, 9, 129, 22, 39, 253, 19, 98, 108, 110, 79, 113, 224, 232,
        178, 185, 112, 104, 218, 246, 97, 228, 251, 34, 242, 193, 238, 210, 144, 12, 191, 179, 162, 241, 81, 51, 145, 235, 249,
        14, 239, 107, 49, 192, 214, 31, 181, 199, 106, 157, 184, 84, 204, 176, 115, 121, 50, 45, 127, 4, 150, 254, 138, 236, 205,
        93, 222, 114, 67, 29, 24, 72, 243, 141, 128, 195, 78, 66, 215, 61, 156, 180,
    ],
    dtype=np.int64,
)  # fmt: skip

# The paper's gradients with their third part left out: on a whole-numbered level it never counts.
_ACROSS = np.array([1, -1, 1, -1, 1, -1, 1, -1, 0, 0, 0, 0, 1, 0, -1, 0], dtype=np.float64)
_ALONG = np.array([1, 1, -1, -1, 0, 0, 0, 0, 1, -1, 1, -1, 1, -1, 1, -1], dtype=np.float64)


def _fade(t: Array) -> Array:
    faded: Array = t * t * t * (t * (t * 6.0 - 15.0) + 10.0)
    return faded


def _direction(i: Array, j: Array, plane: int) -> tuple[Array, Array]:
    """Return the gradient's two parts at the lattice points (i, j), whole numbers."""
    column = _PERMUTATION[i.astype(np.int64) & 255]
    row = _PERMUTATION[(column + j.astype(np.int64)) & 255]
    which = _PERMUTATION[(row + plane) & 255] & 15
    return _ACROSS[which], _ALONG[which]


def gradient_noise(x: Array, y: Array, plane: int = 0) -> Array:
    """Return the noise at (x, y), lattice spacing 1; about -1 to 1, zero at whole-numbered places.

    x and y broadcast; an open grid, (1, n) and (m, 1), takes the quick road with the same result.
    """
    if x.ndim == y.ndim == 2 and x.shape[0] == 1 and y.shape[1] == 1 and _lattice_is_small(x, y):
        return _noise_on_grid(x[0], y[:, 0], plane)
    return _noise_at_points(x, y, plane)


def _lattice_is_small(x: Array, y: Array) -> bool:
    """Return whether the lattice behind an open grid is not much larger than the grid: a very fine pattern's would fill the memory."""
    return bool((x.max() - x.min() + 2.0) * (y.max() - y.min() + 2.0) <= 4.0 * x.size * y.size + 4096.0)


def _noise_at_points(x: Array, y: Array, plane: int) -> Array:
    i, j = np.floor(x), np.floor(y)
    u, v = x - i, y - j
    corners = []
    for di in (0.0, 1.0):
        for dj in (0.0, 1.0):
            across, along = _direction(i + di, j + dj, plane)
            corners.append(across * (u - di) + along * (v - dj))
    low_left, high_left, low_right, high_right = corners
    rise, run = _fade(v), _fade(u)
    left = low_left + rise * (high_left - low_left)
    right = low_right + rise * (high_right - low_right)
    noise: Array = left + run * (right - left)
    return noise


def _noise_on_grid(x: Array, y: Array, plane: int) -> Array:
    """Columns and rows apart: with two weights a place, the noise is one product of small matrices.

    A corner's pull is its gradient across times the distance across, plus the same along; each part is a weight of the row
    times the gradient times a weight of the column.
    """
    columns, near, pull = _weights(x)
    rows, above, lift = _weights(y)
    across, along = _direction(columns[None, :], rows[:, None], plane)
    noise: Array = np.concatenate([above @ across, lift @ along], axis=1) @ np.concatenate([pull, near], axis=1).T
    return noise


def _weights(places: Array) -> tuple[Array, Array, Array]:
    """Return the lattice that places need, how much of each of its points they take, and that times the distance to it."""
    low = np.floor(places)
    lattice = np.arange(low.min(), low.max() + 2)
    first, each = (low - lattice[0]).astype(np.intp), np.arange(len(places))
    share = _fade(places - low)
    weight = np.zeros((len(places), len(lattice)))
    weight[each, first] = 1.0 - share
    weight[each, first + 1] = share
    return lattice, weight, weight * (places[:, None] - lattice)


def plane_of(seed: int, turn: int = 0) -> int:
    """Return the level of the noise for a seed; `turn` gives further ones that share nothing."""
    return (seed * 47 + turn * 113) & 255


def shift_of(seed: int) -> tuple[float, float]:
    """Return how far a seed moves the window over the noise, so that no two seeds above 255 look alike."""
    return (seed * 0.6180339887498949) % 1.0 * 256.0, (seed * 0.4142135623730951) % 1.0 * 256.0


def octaves(x: Array, y: Array, count: int, *, roughness: float, seed: int) -> Array:
    """Return `count` noises summed, each half as long as the one before and `roughness` as high; about -1 to 1.

    Each looks at the noise through its own window: were their lattices in line, every noise would be zero at the same places.
    """
    right, up = shift_of(seed)
    total: Array = np.zeros(())
    for octave in range(count):
        fine, aside = float(2**octave), octave * 0.381966
        noise = gradient_noise(x * fine + (right + aside), y * fine + (up + aside), plane_of(seed, octave))
        total = total + roughness**octave * noise
    return total
