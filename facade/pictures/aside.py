"""The front as it is seen by somebody who stands or sits aside: gaps close up, the sides of strips show, far edges run together."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from PIL import Image

from facade.arrays import Array
from facade.front import Front
from facade.job.model import Picture
from facade.pictures.canvas import Frame
from facade.pictures.chance import Floats
from facade.pictures.front import Pixels, painted
from facade.pictures.light import Light
from facade.pictures.lights import light_of

DISTANCE = 2000.0  # mm from the middle of the front to the eye
# Heights of eyes above the floor, and of the lower edge of a cabinet's front: common practice.
EYES = {"standing": 1550.0, "seated": 1200.0}
_HANGS = 700.0
_SLICES = 64  # levels that a ray is followed through, from the highest place down to the back
_WALL = (205, 203, 199)  # beyond the picture: as bright as the surround
_BAND = 60_000  # rays followed at once
# Sides of strips: the share of brightness that they have at the face where light falls on them or not, and down in the gap.
_LIT, _TURNED, _DEEP = 0.85, 0.42, 0.30


@dataclass(frozen=True)
class Eye:
    """Where an eye is: mm from the lower left corner of the front, `out` before its back."""

    x: float
    y: float
    out: float


def eye_of(front: Front, aside: float, posture: str = "standing") -> Eye:
    """Return the eye of somebody `aside` degrees to the right of the middle of the front (left of it where below 0), 2 m away."""
    turn = math.radians(aside)
    return Eye(
        front.layout.width / 2 + DISTANCE * math.sin(turn), EYES[posture] - _HANGS, max(DISTANCE * math.cos(turn), 1.0)
    )


def seen(front: Front, frame: Frame, picture: Picture, eye: Eye) -> Image.Image:
    """Return the front as an eye sees it, in perspective; pixels of the frame are those in the plane of its back."""
    straight = painted(front, frame, picture).pixels
    light = light_of(picture, front.layout.height)
    flat = _with_depth(front, frame, straight, eye, light)
    return _in_perspective(Image.fromarray(flat), frame, eye)


def _with_depth(front: Front, frame: Frame, straight: Pixels, eye: Eye, light: Light) -> Pixels:
    """Return what the eye sees in front of each place of the plane of the backs."""
    high = float(front.surface.highest)
    heights = _standing(front, frame)
    found = np.empty_like(straight)
    tall = max(1, _BAND // frame.columns)
    for start in range(0, frame.rows, tall):
        rows = slice(start, min(start + tall, frame.rows))
        found[rows] = _band(frame, rows, straight, heights, high, eye, light)
    return found


def _standing(front: Front, frame: Frame) -> Floats:
    """Return the heights at the pixels, 0 where there is no wood."""
    layout = front.layout
    edges = np.array([edge for strip in layout.strips for edge in (strip.left, strip.right)])
    across = np.searchsorted(edges, frame.x) % 2 == 1
    along = (frame.y > layout.strips[0].bottom) & (frame.y < layout.strips[0].top)
    heights = np.zeros((frame.rows, frame.columns), dtype=np.float32)
    inner = np.ix_(np.flatnonzero(along), np.flatnonzero(across))
    heights[inner] = front.surface.at(frame.x[across][None, :], frame.y[along][:, None])
    return heights


def _band(
    frame: Frame, rows: slice, straight: Pixels, heights: Floats, high: float, eye: Eye, light: Light
) -> NDArray[np.uint8]:
    """Return some rows: every ray is followed from the highest place of the front to its back, until it meets wood."""
    x, y = (places.ravel() for places in np.meshgrid(frame.x, frame.y[rows]))
    to_right, to_up = (eye.x - x) / eye.out, (eye.y - y) / eye.out
    place, level = np.zeros(x.shape, dtype=np.intp), np.zeros(x.shape, dtype=np.float32)
    side = np.zeros(x.shape, dtype=bool)
    known, left = heights.ravel(), np.arange(len(x))
    in_gap = np.zeros(x.shape, dtype=bool)  # whether each ray that is left was in a gap a level ago
    for z in np.linspace(high, 0.0, _SLICES):
        at = _index(frame, x[left] + to_right[left] * z, y[left] + to_up[left] * z)
        here = known[at]
        meets = here >= z
        met = left[meets]
        place[met], level[met], side[met] = at[meets], z, in_gap[meets] & (here[meets] > 0.0)
        left, in_gap = left[~meets], here[~meets] == 0.0
    colours = straight.reshape(-1, 3)[place].astype(np.float32)
    colours *= _side_share(side, to_right, level, known[place], light)[:, None]
    return np.rint(colours).astype(np.uint8).reshape(-1, frame.columns, 3)


def _index(frame: Frame, x: Array, y: Array) -> NDArray[np.intp]:
    """Return which pixel, counted row by row, each place of the front is in; beyond the picture the nearest."""
    column = ((x - frame.left) / frame.pixel).astype(np.intp)
    row = ((frame.top - y) / frame.pixel).astype(np.intp)
    index: NDArray[np.intp] = np.clip(row, 0, frame.rows - 1) * frame.columns + np.clip(column, 0, frame.columns - 1)
    return index


def _side_share(side: NDArray[np.bool_], to_right: Array, level: Floats, height: Floats, light: Light) -> Floats:
    """Return the share of brightness of places: 1 on faces, less on the sides of strips, least deep in a gap."""
    # An eye on the right sees right sides: they are lit where the light comes from the right.
    towards = np.where(to_right > 0.0, light.direction[0], -light.direction[0])
    at_face = np.where(towards > 0.05, _LIT, _TURNED)
    deep = level / np.maximum(height, 1e-3)
    share = np.where(side, _DEEP + (at_face - _DEEP) * deep, 1.0)
    return share.astype(np.float32)


def _in_perspective(flat: Image.Image, frame: Frame, eye: Eye) -> Image.Image:
    """Return the plane as the eye has it before it: its near edge larger than its far one."""
    middle = frame.left + frame.columns * frame.pixel / 2
    turn = math.atan2(eye.x - middle, eye.out)
    corners = [(0, 0), (frame.columns, 0), (frame.columns, frame.rows), (0, frame.rows)]
    seen_at = np.array([_projected(frame, eye, middle, turn, *corner) for corner in corners])
    low, high = seen_at.min(axis=0), seen_at.max(axis=0)
    wide, tall = (max(2, round(size / frame.pixel)) for size in (high - low).tolist())
    places = (seen_at - low) / frame.pixel
    return flat.transform(
        (wide, tall),
        Image.Transform.PERSPECTIVE,
        _homography(places, corners),
        Image.Resampling.BICUBIC,
        fillcolor=_WALL,
    )


def _projected(frame: Frame, eye: Eye, middle: float, turn: float, column: float, row: float) -> tuple[float, float]:
    """Return where a corner stands in a picture upright before the eye, mm at the distance of the middle; y down."""
    x, y = frame.left + column * frame.pixel - eye.x, frame.top - row * frame.pixel - eye.y
    aside = x * math.cos(turn) + eye.out * math.sin(turn)
    away = -x * math.sin(turn) + eye.out * math.cos(turn)
    return aside * DISTANCE / away, -y * DISTANCE / away


def _homography(places: Array, corners: list[tuple[int, int]]) -> list[float]:
    """Return the eight coefficients that take places of the picture to pixels of the plane."""
    rows, wanted = [], []
    for (x, y), (u, v) in zip(places.tolist(), corners, strict=True):
        rows += [[x, y, 1, 0, 0, 0, -u * x, -u * y], [0, 0, 0, x, y, 1, -v * x, -v * y]]
        wanted += [u, v]
    coefficients: list[float] = np.linalg.solve(np.array(rows, dtype=np.float64), np.array(wanted)).tolist()
    return coefficients
