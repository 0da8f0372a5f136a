"""The picture of a front as it will look, lit from one side."""

from __future__ import annotations

import io
import zlib
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from PIL import Image

from facade.front import Front
from facade.job.model import Edge, Picture
from facade.pictures.canvas import Frame, coverage, frame_for, row_coverage
from facade.pictures.carving import Carving, carve
from facade.pictures.chance import Floats
from facade.pictures.finish import Finish, finish_of
from facade.pictures.gaps import Ground
from facade.pictures.light import Light, eased_edge
from facade.pictures.lights import contrast, light_of
from facade.pictures.wood import Figure
from facade.wood.species import species

_EASED = 0.6  # mm of a strip's face that its rounded edge takes up, each side
_BAND = 32  # rows drawn at once, so that they stay in cache; even
_LEVELS = 1 << 14  # places of the table of levels
_BRIGHTEST = 3.0  # brightness at the table's end
_EXPOSURE = 0.97
_WARMTH = (0.05, -0.03, -0.01)  # red, green and blue of the deepest shadows
_SHOULDER = 0.5  # brightness above which a picture gives in, so that a bright flank keeps its figure

Pixels = NDArray[np.uint8]


def front_picture(front: Front, width: int = 2000) -> bytes:
    """Return a PNG of the front as it will look in its wood, in the light that the job asks for.

    `width` pixels wide with a plain surround; a front so tall that the picture would be taller than 1.2 times its
    width gets a narrower one. The same front gives the same bytes. Light: Lambert's cosine law with shadows thrown by
    the real heights; colours and figure of the wood are this project's own choice.
    """
    return pictured(front, width)[0]


def pictured(front: Front, width: int = 2000) -> tuple[bytes, float]:
    """Return the picture of `front_picture`, and how many times as bright bright slopes are in it as dark ones."""
    found = painted_front(front, width)
    return png_of(found.pixels), found.contrast


def painted_front(front: Front, width: int = 2000) -> Painted:
    """Return the pixels of `front_picture`."""
    return painted(front, frame_for(front.layout, width), front.job.picture)


@dataclass(frozen=True)
class Painted:
    """Pixels (rows, columns, 3) of a picture, and how many times as bright its bright slopes are as its dark ones."""

    pixels: Pixels
    contrast: float


def painted(front: Front, frame: Frame, picture: Picture) -> Painted:
    """Return a front in its wood, in the light and with the finish of a picture."""
    painter = _Painter(front, frame, light_of(picture, front.layout.height), finish_of(picture.finish))
    return Painted(painter.paint(), contrast(front, painter.carving))


def png_of(pixels: Pixels) -> bytes:
    file = io.BytesIO()
    # Wood runs upright: run lengths of differences from the row above pack it best, and quickly.
    Image.fromarray(pixels).save(file, "PNG", compress_level=1, compress_type=zlib.Z_RLE)
    return file.getvalue()


def linear(colour: tuple[int, int, int]) -> Floats:
    """Return the linear shares of an sRGB colour, 0 to 255 (IEC 61966-2-1)."""
    share = np.array(colour) / 255.0
    linear: Floats = np.where(share <= 0.04045, share / 12.92, ((share + 0.055) / 1.055) ** 2.4).astype(np.float32)
    return linear


def _level_table(warmth: float) -> Pixels:
    """Return the sRGB level for each brightness of 0 to 3, with a soft shoulder (curve: IEC 61966-2-1).

    The darkest become brighter by the share `warmth`, as light thrown from wood to wood colours a shadow.
    """
    bright = np.arange(_LEVELS) * (_BRIGHTEST * _EXPOSURE / _LEVELS)
    bright *= 1.0 + warmth * np.maximum(1.0 - bright / _SHOULDER, 0.0)
    room = 1.0 - _SHOULDER
    over = np.maximum(bright - _SHOULDER, 0.0)
    bright = np.minimum(bright, _SHOULDER) + room * (1.0 - np.exp(-over / room))
    share = np.where(bright <= 0.0031308, 12.92 * bright, 1.055 * bright ** (1.0 / 2.4) - 0.055)
    levels: Pixels = np.rint(share * 255.0).astype(np.uint8)
    return levels


class _Painter:
    """Paints band after band of a picture."""

    def __init__(self, front: Front, frame: Frame, light: Light, finish: Finish) -> None:
        layout = front.layout
        self._frame = frame
        self._ground = Ground(frame, layout, light)
        self._across, self._along = self._ground.strips
        wooden = np.flatnonzero(self._across)
        self._wooden = slice(int(wooden[0]), int(wooden[-1]) + 1)
        self._free = np.flatnonzero(self._across < 1.0)
        self.carving: Carving = carve(front, frame, light, finish)
        wood = species(front.job.wood.species)
        self._figure = Figure(wood, layout.strips, frame.x[self._wooden], layout.height, frame.pixel)
        self._gain = (self._figure.tone * _edge_gain(front, frame, light)[self._wooden]).astype(np.float32)
        self._ends = _end_gain(front, frame, light)
        self._dark, self._light = (finish.colour(linear(colour)) for colour in (wood.dark, wood.light))
        self._levels = [_level_table(warmth) for warmth in _WARMTH]

    def paint(self) -> Pixels:
        frame = self._frame
        pixels: Pixels = np.empty((frame.rows, frame.columns, 3), dtype=np.uint8)
        for start in range(0, frame.rows, _BAND):
            rows = slice(start, min(start + _BAND, frame.rows))
            for channel, values in enumerate(self._band(rows)):
                values *= _LEVELS / _BRIGHTEST
                pixels[rows, :, channel] = self._levels[channel].take(values.astype(np.int32), mode="clip")
        return pixels

    def _band(self, rows: slice) -> list[Floats]:
        """Return red, green and blue of some rows, linear."""
        carving, columns = self.carving, self._frame.columns
        z = carving.grid.fill(carving.z, rows, columns)
        surround = carving.grid.fill(carving.surround, rows, columns)
        shares = self._along[rows]
        free = self._free if shares.min() == 1.0 else np.arange(columns)
        ground = self._ground.paint(rows, free, z[:, free], surround[:, free])
        if shares.max() == 0.0:
            return ground
        wood = self._wood(rows, z)
        share = shares[:, None] * self._across[free]
        for colour, beneath in zip(wood, ground, strict=True):
            colour[:, free] = colour[:, free] * share + beneath
        return wood

    def _wood(self, rows: slice, z: Floats) -> list[Floats]:
        """Return red, green and blue of the wood as if it went over all columns."""
        carving, wooden = self.carving, self._wooden
        figure = self._figure.light_at(self._frame.y[rows], z[:, wooden])
        bright = carving.grid.fill(carving.wood, rows, self._frame.columns)[:, wooden]
        bright *= self._gain
        bright *= self._ends[rows, None]
        np.maximum(figure, 0.0, out=figure)
        figure *= bright
        planes = []
        for dark, light in zip(self._dark.tolist(), self._light.tolist(), strict=True):
            plane = np.zeros((len(z), self._frame.columns), dtype=np.float32)
            inner = plane[:, wooden]
            np.multiply(figure, np.float32(light - dark), out=inner)
            inner += bright * np.float32(dark)
            planes.append(plane)
        return planes


def _edge_gain(front: Front, frame: Frame, light: Light) -> Floats:
    """Return how much brighter each column of wood is for the rounded edges in it."""
    strips, edges = front.layout.strips, frame.column_edges
    wide = [min(_EASED, strip.width / 4) for strip in strips]
    covered = np.maximum(coverage(edges, [(strip.left, strip.right) for strip in strips]), 1e-6)
    left = coverage(edges, [(strip.left, strip.left + ease) for strip, ease in zip(strips, wide, strict=True)])
    right = coverage(edges, [(strip.right - ease, strip.right) for strip, ease in zip(strips, wide, strict=True)])
    gain = 1.0 + (left * (eased_edge(light, Edge.LEFT) - 1.0) + right * (eased_edge(light, Edge.RIGHT) - 1.0)) / covered
    return gain.astype(np.float32)


def _end_gain(front: Front, frame: Frame, light: Light) -> Floats:
    """Return how much brighter each row of wood is for the rounded ends of the strips in it."""
    strip = front.layout.strips[0]
    covered = np.maximum(row_coverage(frame, strip.bottom, strip.top), 1e-6)
    top = row_coverage(frame, strip.top - _EASED, strip.top) * (eased_edge(light, Edge.TOP) - 1.0)
    bottom = row_coverage(frame, strip.bottom, strip.bottom + _EASED) * (eased_edge(light, Edge.BOTTOM) - 1.0)
    return (1.0 + (top + bottom) / covered).astype(np.float32)
