"""Where words of a drawing are: their boxes in the face that comes with us, wider than most."""

from __future__ import annotations

from collections.abc import Sequence
from functools import cache

import matplotlib
import numpy as np
from PIL import ImageFont

from facade.drawing import Anchor, Label

_FONTS = f"{matplotlib.get_data_path()}/fonts/ttf"
Box = tuple[float, float, float, float]


@cache
def ink_width(text: str, bold: bool) -> float:
    """Return the width of words of size 1 in DejaVu Sans."""
    name = "DejaVuSans-Bold.ttf" if bold else "DejaVuSans.ttf"
    return ImageFont.truetype(f"{_FONTS}/{name}", 100).getlength(text) / 100


def box(label: Label) -> Box:
    """Return where a label's ink may be: left, right, bottom, top."""
    width = ink_width(label.text, label.bold) * label.size
    start = -{Anchor.START: 0.0, Anchor.MIDDLE: width / 2, Anchor.END: width}[label.anchor]
    if label.turn:
        return label.x - 0.76 * label.size, label.x + 0.2 * label.size, label.y + start, label.y + start + width
    return label.x + start, label.x + start + width, label.y - 0.2 * label.size, label.y + 0.76 * label.size


def overlap(a: Sequence[float], b: Sequence[float]) -> bool:
    """Whether two boxes share a place."""
    return a[0] < b[1] and b[0] < a[1] and a[2] < b[3] and b[2] < a[3]


def overlapping(labels: Sequence[Label]) -> list[tuple[str, str]]:
    """Return the words that touch each other."""
    if not labels:
        return []
    left, right, low, high = np.array([box(label) for label in labels]).T
    touch = (left[:, None] < right) & (left < right[:, None]) & (low[:, None] < high) & (low < high[:, None])
    return [(labels[a].text, labels[b].text) for a, b in np.argwhere(np.triu(touch, 1)).tolist()]
