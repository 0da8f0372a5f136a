"""Plain grey drawing for pictures that explain: a front seen from before, in shades light enough to write on, and words."""

from __future__ import annotations

import io
import textwrap
import zlib
from dataclasses import dataclass
from functools import cache

import numpy as np
from PIL import Image, ImageDraw, ImageFont, PngImagePlugin

from facade.arrays import Array
from facade.front import Front

MAKER = "facade"
INK, PALE, PAPER = 0, 190, 255
_DARKEST, _LIGHTEST = 140.0, 248.0
_PALEST = 0.06  # least spread of brightness that fills the shades: a level front stays level
_LIGHT = (-0.62, 0.42, 0.66)  # towards the light: from the upper left, low enough to show a relief
_COARSE = 3  # pixels to a place at which the height is taken


@dataclass(frozen=True)
class View:
    """Where a front lies on a picture: pixels a mm, and the pixel of its upper left corner."""

    scale: float
    left: float
    top: float
    height: float

    def x(self, x: float) -> float:
        """Return the column of a place, mm from the left of the front."""
        return self.left + self.scale * x

    def y(self, y: float) -> float:
        """Return the row of a place, mm above the lower edge of the front."""
        return self.top + self.scale * (self.height - y)


def view_of(front: Front, left: float, top: float, wide: float, tall: float) -> View:
    """Return the view that fits a front into a box of pixels, at its upper left, in the middle across."""
    layout = front.layout
    scale = min(wide / layout.width, tall / layout.height)
    return View(scale, left + (wide - scale * layout.width) / 2, top, layout.height)


def plain_front(front: Front, view: View) -> Image.Image:
    """Return a front in pale grey shades, its gaps white and its doors outlined; as large as the view has it."""
    layout, scale = front.layout, view.scale
    wide, tall = max(2, round(layout.width * scale)), max(2, round(layout.height * scale))
    x = np.linspace(0.0, layout.width, max(2, wide // _COARSE))
    y = np.linspace(layout.height, 0.0, max(2, tall // _COARSE))
    shades = shaded(front.surface.at(x[None, :], y[:, None]), x, y)
    picture = Image.fromarray(shades.astype(np.uint8)).resize((wide, tall), Image.Resampling.BILINEAR)
    picture.paste(PAPER, mask=Image.fromarray(_no_wood(front, wide, tall)))
    draw = ImageDraw.Draw(picture)
    for door in layout.doors:
        box = [door.left, layout.height - door.top, door.right, layout.height - door.bottom]
        draw.rectangle([round(scale * place - (index > 1)) for index, place in enumerate(box)], outline=60)
    return picture


def shaded(heights: Array, x: Array, y: Array) -> Array:
    """Return grey levels of heights (rows, columns) at x (columns,) and falling y (rows,), spread over all shades.

    Brightness by Lambert's cosine law.
    """
    along, across = np.gradient(heights, y, x)
    lit = (-_LIGHT[0] * across - _LIGHT[1] * along + _LIGHT[2]) / np.sqrt(1.0 + across**2 + along**2)
    low, high = np.percentile(lit, [1, 99])
    spread = max(high - low, _PALEST)
    grey: Array = _DARKEST + (_LIGHTEST - _DARKEST) * np.clip(0.5 + (lit - (low + high) / 2) / spread, 0.0, 1.0)
    return grey


def _no_wood(front: Front, wide: int, tall: int) -> np.ndarray:
    """Return 255 where a picture of the front, `wide` by `tall` pixels, shows no strip."""
    layout = front.layout
    x = (np.arange(wide) + 0.5) * layout.width / wide
    edges = np.array([edge for strip in layout.strips for edge in (strip.left, strip.right)])
    y = layout.height - (np.arange(tall) + 0.5) * layout.height / tall
    along = (y > layout.strips[0].bottom) & (y < layout.strips[0].top)
    wood = along[:, None] & (np.searchsorted(edges, x) % 2 == 1)
    return np.where(wood, 0, 255).astype(np.uint8)


class Page:
    """A white picture that words are set on from the top down, in greys or in colours."""

    def __init__(self, width: int, height: int, *, colours: bool = False) -> None:
        self.image = Image.new("RGB" if colours else "L", (width, height), (PAPER, PAPER, PAPER) if colours else PAPER)
        self.draw = ImageDraw.Draw(self.image)

    def words(
        self, text: str, x: float, y: float, size: int, *, bold: bool = False, anchor: str = "la", ink: int = INK
    ) -> None:
        """Write one line; `anchor` as Pillow has it, "la" for the left upper corner."""
        self.draw.text(
            (x, y), text, fill=self._ink(ink), font=font(size), anchor=anchor, stroke_width=0.5 if bold else 0
        )

    def _ink(self, grey: int) -> int | tuple[int, int, int]:
        return grey if self.image.mode == "L" else (grey, grey, grey)

    def width_of(self, text: str, size: int) -> float:
        """Return how wide a line is, pixels."""
        return float(font(size).getlength(text))

    def png(self) -> bytes:
        """Return the picture as a PNG that says what made it."""
        return png(self.image)


@cache
def font(size: int) -> ImageFont.FreeTypeFont:
    """Return the plain face that comes with Pillow."""
    face = ImageFont.load_default(size)
    assert isinstance(face, ImageFont.FreeTypeFont)
    return face


def wrapped(text: str, size: int, wide: float) -> list[str]:
    """Return a text in lines not wider than `wide` pixels."""
    measure = font(size).getlength
    space = measure(" ")
    lines: list[str] = []
    used = 0.0
    for word in (part for long in text.split() for part in textwrap.wrap(long, 80)):
        room = measure(word)
        if lines and used + space + room <= wide:
            lines[-1] += f" {word}"
            used += space + room
        else:
            lines.append(word)
            used = room
    return lines


def png(image: Image.Image) -> bytes:
    """Return a PNG that says what made it, so that a later one may take its place."""
    info = PngImagePlugin.PngInfo()
    info.add_text("Software", MAKER)
    file = io.BytesIO()
    image.save(file, "PNG", compress_level=1, compress_type=zlib.Z_RLE, pnginfo=info)
    return file.getvalue()
