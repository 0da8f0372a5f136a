"""The picture of a relaxed design: before, after, and how far the surface moved."""

from __future__ import annotations

import numpy as np
from PIL import Image

from facade.drawing import printable
from facade.front import Front
from facade.pictures.plot import INK, PAPER, Page, View, plain_front, view_of

_MARGIN, _HEAD, _FOOT = 44, 120, 110
_TITLE, _WORDS = 34, 24
_TALLEST = 900
_COARSE = 3  # pixels to a place at which the surfaces are compared


def relaxed_picture(before: Front, after: Front, most: float = 0.0, width: int = 2000) -> bytes:
    """Return a PNG of two fronts of one layout and, in grey, of how far the surface moved between them.

    `most` is how far it moved at most, mm, where that is known more closely than from the picture's own places.
    """
    wide = (width - 4 * _MARGIN) / 3
    views = [view_of(before, _MARGIN + index * (wide + _MARGIN), _HEAD, wide, _TALLEST) for index in range(3)]
    tall = round(before.layout.height * views[0].scale)
    page = Page(width, _HEAD + tall + _FOOT)
    page.words(printable(before.job.title)[:70], _MARGIN, _MARGIN - 14, _TITLE, bold=True)
    apart = _apart(before, after, views[2])
    most = max(most, float(np.where(_on_strips(before, views[2]), apart, 0.0).max()))
    apart = np.minimum(apart, most)
    heads = (f"before, mark {before.mark}", f"after, mark {after.mark}", "how far it moved")
    pictures = (plain_front(before, views[0]), plain_front(after, views[1]), _moved(apart, most, views[2], before))
    for view, head, picture in zip(views, heads, pictures, strict=True):
        page.words(head, view.left, _HEAD - 36, _WORDS)
        page.image.paste(picture, (round(view.left), _HEAD))
    _key(page, views[2], tall, wide, before.job.ruler.fine(most))
    return page.png()


def _places_across(front: Front, view: View) -> np.ndarray:
    return np.linspace(0.0, front.layout.width, max(2, round(front.layout.width * view.scale) // _COARSE))


def _on_strips(front: Front, view: View) -> np.ndarray:
    """Tell of the places across a view whether they lie on a strip: there is no wood in a gap that could move."""
    x = _places_across(front, view)
    on: np.ndarray = np.any([(x >= strip.left) & (x <= strip.right) for strip in front.layout.strips], axis=0)
    return on


def _apart(before: Front, after: Front, view: View) -> np.ndarray:
    """Return how far the surface moved at places of a view, rows from the top down."""
    layout, x = before.layout, _places_across(before, view)
    y = np.linspace(layout.height, 0.0, max(2, round(layout.height * view.scale) // _COARSE))
    return np.abs(after.surface.at(x[None, :], y[:, None]) - before.surface.at(x[None, :], y[:, None]))


def _moved(apart: np.ndarray, most: float, view: View, front: Front) -> Image.Image:
    grey = PAPER - (PAPER - 40) * apart / max(most, 1e-9)
    size = (max(2, round(front.layout.width * view.scale)), max(2, round(front.layout.height * view.scale)))
    picture = Image.fromarray(grey.astype(np.uint8)).resize(size, Image.Resampling.BILINEAR)
    page = Image.new("L", size, PAPER)
    page.paste(picture, (0, 0))
    edge = Image.new("L", (size[0] - 2, size[1] - 2))
    edge.paste(picture.crop((1, 1, size[0] - 1, size[1] - 1)))
    page.paste(INK, (0, 0, *size))
    page.paste(edge, (1, 1))
    return page


def _key(page: Page, view: View, tall: int, wide: float, most: str) -> None:
    """Draw what white and dark mean, under the third picture."""
    x, y = view.left, _HEAD + tall + 24
    page.words("0", x, y, _WORDS)
    for step in range(100):
        left = x + 30 + step * 2
        page.draw.rectangle([left, y + 2, left + 2, y + 26], fill=round(PAPER - (PAPER - 40) * step / 99))
    page.draw.rectangle([x + 30, y + 2, x + 232, y + 26], outline=INK)
    page.words(most, x + 242, y, _WORDS)
