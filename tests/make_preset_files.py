"""Makes the two files that presets read: valley.png (land worn by rain) and shell.stl (a fan shell on a plain ground).

Run it in the folder `presets`: `python ../tests/make_preset_files.py`. Both files are committed, so that nobody needs to.
"""

from __future__ import annotations

import heapq
import math
import struct

import numpy as np
from PIL import Image

ROWS, COLUMNS = 168, 288
_AROUND = [(-1, -1), (-1, 0), (-1, 1), (0, -1), (0, 1), (1, -1), (1, 0), (1, 1)]


def smooth_noise(rows: int, columns: int, size: float, random: np.random.Generator) -> np.ndarray:
    """Return a smooth random field of hills about `size` cells wide, from plane waves."""
    y, x = np.mgrid[0:rows, 0:columns]
    field = np.zeros((rows, columns))
    for _ in range(40):
        turn, phase = random.random(2) * 2 * math.pi
        wave = 2 * math.pi * (0.4 + 0.5 * random.random()) / size
        field += np.cos(wave * (x * math.cos(turn) + y * math.sin(turn)) + phase)
    return field / math.sqrt(20)


def drains(land: np.ndarray) -> tuple[list[int], np.ndarray]:
    """Return all cells from the lower edge of the land upwards, and the cell that each one drains into.

    Flooding from the outlets by height, so that no hollow keeps its water (R. Barnes and others, "Priority-Flood", 2014).
    """
    rows, columns = land.shape
    flat = land.ravel()
    into = np.full(flat.size, -1)
    heap = [(flat[k], k) for k in range((rows - 1) * columns, rows * columns)]
    for _, k in heap:
        into[k] = k
    heapq.heapify(heap)
    order = []
    while heap:
        level, k = heapq.heappop(heap)
        order.append(k)
        row, column = divmod(k, columns)
        for down, right in _AROUND:
            i, j = row + down, column + right
            if 0 <= i < rows and 0 <= j < columns and into[i * columns + j] < 0:
                near = i * columns + j
                into[near] = k
                heapq.heappush(heap, (max(flat[near], level + 1e-4), near))
    return order, into


def wear(land: np.ndarray, order: list[int], into: np.ndarray, strength: float) -> np.ndarray:
    """Return the land cut down by its streams: d z = strength * area^0.45 * slope (the stream power law), implicit."""
    columns = land.shape[1]
    flat, area = land.ravel().copy(), np.ones(land.size)
    for k in reversed(order):
        if into[k] != k:
            area[into[k]] += area[k]
    for k in order:
        near = into[k]
        if near != k:
            away = math.sqrt(2.0) if (k - near) % columns and abs(k - near) > 1 else 1.0
            share = strength * area[k] ** 0.45 / away
            flat[k] = (flat[k] + share * min(flat[near], flat[k])) / (1 + share)
    return flat.reshape(land.shape)


def creep(land: np.ndarray, rate: float) -> np.ndarray:
    """Return the land after its soil has crept downhill, which rounds crests and valley floors."""
    padded = np.pad(land, 1, mode="edge")
    around = padded[:-2, 1:-1] + padded[2:, 1:-1] + padded[1:-1, :-2] + padded[1:-1, 2:]
    return land + rate * (around - 4 * land)


def make_valley() -> np.ndarray:
    """Return land of 168 rows and 288 columns, 0 to 1, lowest at the lower edge."""
    random = np.random.default_rng(21)
    land = 5 * smooth_noise(ROWS, COLUMNS, 60, random) + 0.8 * smooth_noise(ROWS, COLUMNS, 16, random)
    land += np.linspace(16, 0, ROWS)[:, None]
    for _ in range(70):
        land[:-1] += 0.35
        order, into = drains(land)
        land = creep(wear(land, order, into, 0.03), 0.1)
    for _ in range(12):
        land = creep(land, 0.2)
    # Most of the fall towards the outlets is taken out again: depth is for valleys, not for a slope of the whole land.
    land -= 0.85 * land.mean(axis=1, keepdims=True)
    land = np.tanh((land - np.median(land)) / (1.5 * land.std()))
    land -= land.min()
    return land / land.max()


def shell_height(across: np.ndarray, up: np.ndarray) -> np.ndarray:
    """Return the height of the shell at mm from its hinge: a fan of ribs that swells and dies away to the rim, 0 to 12."""
    reach, turn = np.hypot(across, up + 100), np.arctan2(across, up + 100)
    half = math.radians(43)
    rim = 405 * (1 - 0.13 * (turn / half) ** 2 + 0.02 * np.cos(7 * math.pi * turn / half))
    out, aside = reach / rim, np.abs(turn) / half
    inside = np.clip((1.0 - out) / 0.22, 0, 1) * np.clip((1.0 - aside) / 0.4, 0, 1)
    inside = np.clip((out - 0.12) / 0.35, 0, 1) * inside
    inside = inside**2 * (3 - 2 * inside)
    ribs = 0.24 * np.cos(7 * math.pi * turn / half) * np.clip(out, 0, 1)
    return 12 * inside * (1 + ribs)


def make_shell() -> list[np.ndarray]:
    """Return triangles: the ground of 480 x 760 mm, and on it a shell of rows and columns of small faces."""
    left, bottom, width, height = -240.0, -190.0, 480.0, 760.0
    corners = np.array(
        [[left, bottom, 0], [left + width, bottom, 0], [left + width, bottom + height, 0], [left, bottom + height, 0]]
    )
    triangles = [corners[[0, 1, 2]], corners[[0, 2, 3]]]
    x, y = np.linspace(-235, 235, 49), np.linspace(-35, 385, 44)
    z = shell_height(x[None, :], y[:, None])
    for j in range(len(y) - 1):
        for i in range(len(x) - 1):
            four = np.array([[x[i + a], y[j + b], z[j + b, i + a]] for a, b in ((0, 0), (1, 0), (1, 1), (0, 1))])
            if four[:, 2].max() > 0:
                triangles += [four[[0, 1, 2]], four[[0, 2, 3]]]
    return triangles


def stl(triangles: list[np.ndarray]) -> bytes:
    """Return triangles as a binary STL; mm."""
    parts = [b"fan shell on a plain ground, mm".ljust(80), struct.pack("<I", len(triangles))]
    for corners in triangles:
        normal = np.cross(corners[1] - corners[0], corners[2] - corners[0])
        normal /= np.linalg.norm(normal)
        parts.append(np.vstack([normal, corners]).astype("<f4").tobytes() + b"\0\0")
    return b"".join(parts)


if __name__ == "__main__":
    grey = np.round(make_valley() * 65535).astype(np.uint16)
    Image.fromarray(grey).save("valley.png", optimize=True)
    with open("shell.stl", "wb") as file:
        file.write(stl(make_shell()))
