"""Pictures, read by Pillow and held against the front painted anew, pixel by pixel."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from facade.proof.anew import check_pictures_anew, front_picture_anew
from facade.proof.compared import Compared
from facade.proof.readers import reader
from facade.proof.truth import Truth
from facade.version import __version__

# Shades of 255 by which a pixel may differ: another machine's sines differ in their last bit, which turns a rounded shade by one.
SHADES = 2
_MOST_SHIFTED = 12  # pixels that are tried each way
_EVEN = 0.9  # of the pixels, beyond which a change goes over the whole picture

Shades = NDArray[np.uint8]
"""A picture's shades, (rows, columns) of grey, or (rows, columns, 3) of red, green and blue."""
Pixels = NDArray[np.int16]
Paint = Callable[[], Shades]


@reader("front.png")
def compare_front_picture(path: Path, name: str, truth: Truth) -> list[Compared]:
    """Compare the picture of the front with the front painted anew."""
    return [_compared(path, name, truth, "every pixel with the front painted anew", lambda: front_picture_anew(truth))]


@reader("check.png", "opening.png")
def compare_check_picture(path: Path, name: str, truth: Truth) -> list[Compared]:
    """Compare the picture of what the checks found with what they find now."""
    what = "every pixel with what the checks find, drawn anew"
    return [_compared(path, name, truth, what, lambda: _shades(check_pictures_anew(truth)[name]))]


@reader("*.png")
def compare_picture(path: Path, name: str, truth: Truth) -> list[Compared]:
    """Compare whether a picture opens and shows something."""
    read, faults = _opened(path)
    if read is not None and read.min() == read.max():
        faults.append("shows a single shade")
    return [Compared(name, "opens, shows something", faults=tuple(faults))]


def _compared(path: Path, name: str, truth: Truth, what: str, paint: Paint) -> Compared:
    found, faults = _opened(path)
    if found is None:
        return Compared(name, "", faults=tuple(faults))
    if truth.manifest.get("made_by") != f"facade {__version__}":
        single = ["shows a single shade"] if found.min() == found.max() else []
        return Compared(
            name, "opens, shows something", faults=(*faults, *single), note="of another version: not painted anew"
        )
    painted = paint()
    if found.shape[:2] != painted.shape[:2]:
        said = f"is {found.shape[1]} x {found.shape[0]} pixels, not {painted.shape[1]} x {painted.shape[0]}"
        return Compared(name, "", faults=(*faults, said))
    if not np.array_equal(found, painted):
        read, wanted = _pixels(found), _pixels(painted)
        off = np.abs(read - wanted).max(axis=2)
        if off.max() > SHADES:
            faults.append(_in_words(read, wanted, off))
    return Compared(name, what, points=found.shape[0] * found.shape[1], faults=tuple(faults))


def _opened(path: Path) -> tuple[Shades | None, list[str]]:
    """Return the shades of a picture, and what is wrong with it."""
    from PIL import Image, UnidentifiedImageError

    try:
        with Image.open(path) as picture:
            if picture.format != "PNG":
                return None, [f"is a picture of the kind {picture.format}, not PNG"]
            return _shades_of(picture), []
    except (UnidentifiedImageError, OSError, SyntaxError, ValueError) as error:
        return None, [f"does not open as a picture: {error}"]


def _shades(data: bytes) -> Shades:
    import io

    from PIL import Image

    with Image.open(io.BytesIO(data)) as picture:
        return _shades_of(picture)


def _shades_of(picture: Any) -> Shades:
    return np.asarray(picture if picture.mode in ("L", "RGB") else picture.convert("RGB"))


def _pixels(shades: Shades) -> Pixels:
    """Return red, green and blue of each pixel, (rows, columns, 3)."""
    three = shades if shades.ndim == 3 else np.repeat(shades[:, :, None], 3, axis=2)
    return three.astype(np.int16)


def _in_words(read: Pixels, wanted: Pixels, off: NDArray[np.int16]) -> str:
    """Return how a picture differs from the one painted anew: mirrored, shifted, of other shades, or where."""
    if read.min() == read.max():
        return "shows a single shade"
    for said, turned in (
        ("looks mirrored left to right", wanted[:, ::-1]),
        ("looks mirrored top to bottom", wanted[::-1]),
        ("looks turned end for end", wanted[::-1, ::-1]),
    ):
        if np.abs(read - turned).max() <= SHADES:
            return said
    moved = _shifted(read, wanted)
    if moved:
        return f"is shifted by {moved[1]} pixels to the right and {moved[0]} down"
    share = float((off > SHADES).mean())
    if share > _EVEN:
        by = (read - wanted).reshape(-1, 3).mean(axis=0)
        said = "darker" if by.max() < 0 else "lighter" if by.min() > 0 else "of other colours, or of another front,"
        return f"is {said} than the front painted anew: red, green and blue by {by[0]:+.1f}, {by[1]:+.1f}, {by[2]:+.1f} shades of 255"
    row, column = np.unravel_index(int(off.argmax()), off.shape)
    return (
        f"differs from what is painted anew at {int((off > SHADES).sum()):,} of {off.size:,} pixels, by {int(off.max())} shades "
        f"of 255 at most, {column} from the left and {row} from the top"
    )


def _shifted(read: Pixels, wanted: Pixels) -> tuple[int, int] | None:
    """Return by how many rows and columns a picture is shifted, None where no shift brings it near."""
    rows, columns = read.shape[:2]
    room = _MOST_SHIFTED
    if min(rows, columns) <= 4 * room:
        return None
    inner = read[room:-room:7, room:-room:7, 1]
    for down in range(-room, room + 1):
        for right in range(-room, room + 1):
            some = wanted[room - down : rows - room - down : 7, room - right : columns - room - right : 7, 1]
            if (down or right) and np.abs(inner - some).max() <= SHADES:
                return down, right
    return None
