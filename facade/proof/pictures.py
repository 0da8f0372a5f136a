"""Pictures, read by Pillow: they open, are whole, are of the size they should be, and show something."""

from __future__ import annotations

from pathlib import Path

from facade.pictures.canvas import frame_for
from facade.proof.compared import Compared
from facade.proof.readers import reader
from facade.proof.truth import Truth

# As wide as a build draws them.
_FRONT_WIDTH = 2000
_LEAST_WIDTH = 800


@reader("front.png")
def compare_front_picture(path: Path, name: str, truth: Truth) -> list[Compared]:
    """Compare the size of the picture of the front with the frame that the front needs."""
    size, faults = _opened(path, truth)
    frame = frame_for(truth.front.layout, _FRONT_WIDTH)
    if size and size != (frame.columns, frame.rows):
        faults.append(f"is {size[0]} x {size[1]} pixels, not {frame.columns} x {frame.rows}")
    return [Compared(name, "opens, size, shows something", faults=tuple(faults))]


@reader("*.png")
def compare_picture(path: Path, name: str, truth: Truth) -> list[Compared]:
    """Compare whether a picture opens and shows something."""
    size, faults = _opened(path, truth)
    if size and size[0] < _LEAST_WIDTH:
        faults.append(f"is only {size[0]} pixels wide")
    return [Compared(name, "opens, shows something", faults=tuple(faults))]


def _opened(path: Path, truth: Truth) -> tuple[tuple[int, int] | None, list[str]]:
    """Return the size of a picture, pixels, and what is wrong with it."""
    from PIL import Image, UnidentifiedImageError

    try:
        with Image.open(path) as picture:
            picture.load()
            shades = picture.convert("L").getextrema()
            words = " ".join(str(value) for value in picture.info.values() if isinstance(value, str))
    except (UnidentifiedImageError, OSError, SyntaxError) as error:
        return None, [f"does not open as a picture: {error}"]
    faults = ["shows a single shade"] if shades[0] == shades[1] else []
    # A picture need not bear a mark in its own words, but must not bear another's.
    return picture.size, faults + [fault for fault in truth.mark_faults(words) if "no mark" not in fault]
