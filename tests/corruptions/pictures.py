"""Corruptions of pictures: those that are looked at, and height pictures with their texts."""

from __future__ import annotations

import io
from collections.abc import Callable, Iterator

import numpy as np
from PIL import Image, ImageFilter

from corruptions.corruption import Act, Corruption, by, changed, copy_of, number, plus, replaced

FIXTURE, STRIP = "cnc-face/*fixture-01*_heights.png", "cnc-face/*strips/strip-03_heights.png"


def pixels(change: Callable[[np.ndarray], np.ndarray]) -> Act:
    """Return what changes the pixels of a picture; its kind and its words stay."""

    def edit(picture: Image.Image) -> Image.Image:
        greys = np.asarray(picture)
        return Image.fromarray(np.ascontiguousarray(change(greys.copy()).astype(greys.dtype)))

    return image(edit)


def image(change: Callable[[Image.Image], Image.Image]) -> Act:
    """Return what changes a picture; its words stay."""

    def edit(data: bytes) -> bytes:
        from PIL.PngImagePlugin import PngInfo

        with Image.open(io.BytesIO(data)) as picture:
            picture.load()
            words = PngInfo()
            for key, value in picture.info.items():
                if isinstance(value, str):
                    words.add_text(key, value)
            written = io.BytesIO()
            change(picture).save(written, "PNG", pnginfo=words, dpi=picture.info.get("dpi"))
        return written.getvalue()

    return changed(edit)


def worded(word: str) -> Act:
    """Return what writes words into a picture."""

    def edit(data: bytes) -> bytes:
        from PIL.PngImagePlugin import PngInfo

        with Image.open(io.BytesIO(data)) as picture:
            picture.load()
            words = PngInfo()
            words.add_text("Description", word)
            written = io.BytesIO()
            picture.save(written, "PNG", pnginfo=words)
        return written.getvalue()

    return changed(edit)


def bands_exchanged(some: np.ndarray) -> np.ndarray:
    """Exchange two upright bands, each an eighth of the picture."""
    wide = some.shape[1] // 8
    one, other = some[:, wide : 2 * wide].copy(), some[:, 5 * wide : 6 * wide].copy()
    some[:, wide : 2 * wide], some[:, 5 * wide : 6 * wide] = other, one
    return some


def band_darker(some: np.ndarray) -> np.ndarray:
    wide = some.shape[1] // 8
    some[:, 2 * wide : 3 * wide] = some[:, 2 * wide : 3 * wide] * 0.8
    return some


def spot(some: np.ndarray) -> np.ndarray:
    """Paint a spot of a twentieth of the picture."""
    tall, wide = some.shape[0] // 20, some.shape[1] // 20
    some[4 * tall : 5 * tall, 4 * wide : 5 * wide] = 0
    return some


def _seen() -> Iterator[Corruption]:
    """Yield what is done to pictures that are looked at."""
    for on in ("front.png", "check.png", "opening.png"):
        for what, act in (
            ("mirrored left to right", pixels(lambda some: some[:, ::-1])),
            ("upside down", pixels(lambda some: some[::-1])),
            ("two bands exchanged", pixels(bands_exchanged)),
            ("one band darker", pixels(band_darker)),
            ("darker by a tenth", pixels(lambda some: some * 0.9)),
            ("a spot painted over", pixels(spot)),
            ("all of one shade", pixels(lambda some: some * 0 + 128)),
            ("half as large", image(lambda picture: picture.resize((picture.width // 2, picture.height // 2)))),
            ("blurred", image(lambda picture: picture.filter(ImageFilter.GaussianBlur(12)))),
            ("20 pixels aside", pixels(lambda some: np.roll(some, 20, axis=1))),
            ("another mark in its words", worded("mark 7Q2M-X4KD")),
            ("another picture under its name", copy_of("front.png" if on != "front.png" else "check.png")),
        ):
            yield Corruption(f"picture, {on}", on, what, act)


def one_pixel(some: np.ndarray) -> np.ndarray:
    some[some.shape[0] // 2, some.shape[1] // 2] += 330  # 0.1 mm of 20
    return some


def _heights() -> Iterator[Corruption]:
    """Yield what is done to height pictures."""
    for kind, on, mate in (
        ("heights of a fixture, PNG", FIXTURE, "cnc-face/*fixture-02*_heights.png"),
        ("heights of a strip, PNG", STRIP, "cnc-face/*strips/strip-06_heights.png"),
    ):
        for what, act in (
            ("mirrored left to right", pixels(lambda some: some[:, ::-1])),
            ("upside down", pixels(lambda some: some[::-1])),
            ("turned end for end", pixels(lambda some: some[::-1, ::-1])),
            ("black and white exchanged", pixels(lambda some: 65535 - some.astype(int))),
            ("0.1 mm higher everywhere", pixels(lambda some: some.astype(int) + 328)),
            ("one pixel 0.1 mm higher", pixels(one_pixel)),
            ("one pixel aside", pixels(lambda some: np.roll(some, 1, axis=1))),
            ("a row missing", pixels(lambda some: some[1:])),
            ("8 bits", image(lambda picture: Image.fromarray((np.asarray(picture) >> 8).astype(np.uint8)))),
            ("every grey to 8 bits", pixels(lambda some: some >> 8 << 8)),
            ("another's heights under its name", copy_of(mate)),
        ):
            yield Corruption(kind, on, what, act)


def _notes() -> Iterator[Corruption]:
    """Yield what is done to the texts that say what a grey and a pixel are."""
    on = "cnc-face/*fixture-01*_heights.txt"
    for what, act in (
        ("another grey step in the formula", number(r"Height = grey x ([\d.]+)", plus(1))),
        ("another grey step in words", number(r"Grey step: ([\d.]+)", by(1.1))),
        ("another height of white", number(r"white, is height ([\d.]+)", plus(5))),
        ("another size of a pixel across", number(r"Across: ([\d.]+)", by(1.01))),
        ("another size of a pixel along", number(r"Along: ([\d.]+)", plus(1))),
        ("another size of the wood", number(r"Size of the wood: ([\d.]+)", plus(1))),
        ("another number of pixels", number(r"grey, (\d+) pixels", plus(1))),
        ("the first row said to be the BOTTOM end", replaced("TOP end", "BOTTOM end")),
        ("the left column said to be the right edge", replaced("left edge", "right edge")),
        ("other greatest height", number(r"to ([\d.]+) mm\.\n", plus(1))),
        ("zero at another corner", replaced("lower left corner of the wood", "upper left corner of the wood")),
        ("a strip at another place", number(r"Strip 2: x ([\d.]+)", plus(1))),
        ("strips 1 to 5", replaced("strips 1 to 4", "strips 1 to 5")),
        ("lengths said to be inches", replaced("in mm", "in inches")),
        ("another mark", number(r"mark \w{4}-\w{3}(\d)", lambda digit: (digit + 1) % 10)),
        ("said to be the carved surface", replaced("what remains after sanding", "what remains after carving")),
        ("another's text under its name", copy_of("cnc-face/*fixture-02*_heights.txt")),
        ("a line missing", replaced("Between two strips, over the spacer, the surface goes on as behind a gap.\n", "")),
    ):
        yield Corruption("heights in words", on, what, act)


CORRUPTIONS: tuple[Corruption, ...] = (*_seen(), *_heights(), *_notes())

UNTOUCHED: tuple[Corruption, ...] = tuple(
    Corruption("picture", on, f"{on} packed again", pixels(lambda some: some))
    for on in ("front.png", "check.png", "opening.png", FIXTURE)
)
