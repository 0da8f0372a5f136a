"""Heights as a grey picture of 16 bits, and the text beside it that says what a grey and a pixel are."""

from __future__ import annotations

import io
import math
from dataclasses import dataclass

import numpy as np

from facade.arrays import Array
from facade.drawing import printable
from facade.front import Front
from facade.lengths import MM_PER_INCH, Unit

WHITE = 65535
# Beyond this level pictures shrink by a thirtieth and take four times as long.
_LEVEL = 1


@dataclass(frozen=True)
class Sampled:
    """Heights (rows, columns) in mm above the back, first row at the bottom, evenly spaced over `width` by `length` mm.

    The outermost places lie on the edges and the ends. `what` names what they are of, `notes` are sentences about it.
    """

    heights: Array
    width: float
    length: float
    what: str
    notes: tuple[str, ...] = ()

    @property
    def spacing(self) -> tuple[float, float]:
        """How far places are apart across and along, mm."""
        rows, columns = self.heights.shape
        return self.width / (columns - 1), self.length / (rows - 1)


def highest_of(front: Front) -> float:
    """Return the height in mm that white stands for: the job's blank, up to a whole mm or quarter of an inch.

    A blank that was measured does not change it: a picture stays the same, whatever it is carved from.
    """
    part = 1.0 if front.job.unit is Unit.MM else MM_PER_INCH / 4
    return math.ceil(front.job.wood.blank / part - 1e-9) * part


def height_picture(heights: Array, highest: float) -> bytes:
    """Return heights in mm (rows, columns), first row at the bottom, as a PNG as the front is seen: its first row is the TOP end.

    Black, 0, is the back; white, 65535, is `highest` mm.
    """
    from PIL import Image

    greys = np.rint(heights[::-1] * (WHITE / highest)).clip(0, WHITE).astype("<u2")
    buffer = io.BytesIO()
    Image.fromarray(np.ascontiguousarray(greys)).save(buffer, format="PNG", compress_level=_LEVEL)
    return buffer.getvalue()


def height_notes(front: Front, sampled: Sampled, highest: float) -> str:
    """Return what a reader of a height picture must know, in the job's unit; inches are decimal."""
    unit = front.job.unit
    lines = [
        f"Height picture of {sampled.what}",
        f"{printable(front.job.title)}, mark {front.mark}",
        f"All lengths here are in {'mm' if unit is Unit.MM else 'inches'}.",
        "",
        *_about_pixels(sampled, unit),
        "",
        *_about_greys(sampled, highest, unit),
        "",
        "Zero: x 0, y 0 is the lower left corner of the wood, the middle of the lower left pixel; height 0 is the back.",
        *sampled.notes,
    ]
    return "\n".join(lines) + "\n"


def _about_pixels(sampled: Sampled, unit: Unit) -> list[str]:
    rows, columns = sampled.heights.shape
    across, along = sampled.spacing
    width, length = _long(sampled.width, unit), _long(sampled.length, unit)
    rim = f"{_long(columns * across, unit)} x {_long(rows * along, unit)} {unit.value}"
    corner = f"x {_long(-across / 2, unit)}, y {_long(-along / 2, unit)}"
    return [
        f"Picture: PNG, 16-bit grey, {columns} pixels across, {rows} pixels along.",
        "It is seen as the front is seen: its first row is the TOP end, its left column the left edge.",
        f"Size of the wood: {width} {unit.value} across, {length} {unit.value} along.",
        "A pixel's grey is the height in its MIDDLE; the middles of the outermost pixels lie on the edges and the ends.",
        f"Across: {_long(across, unit)} {unit.value} a pixel, exactly {width} / {columns - 1}.",
        f"Along: {_long(along, unit)} {unit.value} a pixel, exactly {length} / {rows - 1}.",
        f"For a reader that stretches the picture from rim to rim: it is {rim} then, its lower left corner at {corner}.",
    ]


def _about_greys(sampled: Sampled, highest: float, unit: Unit) -> list[str]:
    top, word = _long(highest, unit), unit.value
    low, high = (_long(float(end), unit) for end in (sampled.heights.min(), sampled.heights.max()))
    return [
        f"Grey 0, black, is the back: height 0. Grey {WHITE}, white, is height {top} {word}.",
        f"Grey step: {_long(highest / WHITE, unit)} {word}, exactly {top} / {WHITE}.",
        f"Height = grey x {top} / {WHITE}.",
        f"Heights are those of the finished surface, what remains after sanding: {low} to {high} {word}.",
    ]


def _long(mm: float, unit: Unit) -> str:
    """Return a length as a decimal number, without needless zeros."""
    text = f"{mm / unit.in_mm:.9f}".rstrip("0").rstrip(".")
    return "0" if text == "-0" else text
