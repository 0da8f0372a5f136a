"""Pages of a PDF as pdfium reads them: their size, their paths in mm, their words."""

from __future__ import annotations

import ctypes
from collections import deque
from collections.abc import Iterator
from dataclasses import dataclass
from functools import lru_cache
from itertools import repeat
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from facade.arrays import Array

_MM_PER_POINT = 25.4 / 72
_HYPHEN = 2
_EVEN: Array = np.array([[1.0, 0.0], [0.0, 1.0], [0.0, 0.0]])


@lru_cache(maxsize=1)
def opened(path: Path, _changed: int) -> Any:
    """Return a PDF, opened once; `_changed` tells a changed file from the former. Raises ValueError for what is none."""
    import pypdfium2  # type: ignore[import-untyped, unused-ignore]

    try:
        return pypdfium2.PdfDocument(path.read_bytes())
    except pypdfium2.PdfiumError as error:
        raise ValueError(f"is no PDF: {error}") from error


def document(path: Path) -> Any:
    """Return a PDF as it is on disk now; raises ValueError, OSError."""
    return opened(path, path.stat().st_mtime_ns)


def page_size(page: Any) -> tuple[float, float]:
    """Return width and height of a page, mm."""
    width, height = page.get_size()
    return width * _MM_PER_POINT, height * _MM_PER_POINT


@dataclass(frozen=True)
class PageLetters:
    """The letters on a page without its spaces: what they are, where each stands, (n, 2) mm, and pdfium's own number of each."""

    letters: str
    places: Array
    numbers: NDArray[np.int64]
    text: Any

    def end_of(self, index: int, turn: float = 0.0) -> float:
        """Return where the next letter would begin after one, mm from the left; from below where letters stand upright."""
        import pypdfium2.raw as raw  # type: ignore[import-untyped, unused-ignore]

        box = raw.FS_RECTF()
        raw.FPDFText_GetLooseCharBox(self.text.raw, int(self.numbers[index]), box)
        return float(box.right if abs(turn) < 1.0 else box.top if turn > 0 else box.bottom) * _MM_PER_POINT


def page_letters(page: Any) -> PageLetters:
    """Return the letters on a page with their places."""
    import pypdfium2.raw as raw  # type: ignore[import-untyped, unused-ignore]

    text = page.get_textpage()
    count, handle = text.count_chars(), ctypes.cast(text.raw, ctypes.c_void_p).value
    places: Array = np.empty((count, 2))
    letter, place = _bare(raw.FPDFText_GetUnicode, 2), _bare(raw.FPDFText_GetCharOrigin, 4)
    codes = list(map(letter, repeat(handle), range(count)))
    start = places.ctypes.data
    deque(
        map(
            place,
            repeat(handle),
            range(count),
            range(start, start + 16 * count, 16),
            range(start + 8, start + 16 * count + 8, 16),
        ),
        0,
    )
    # pdfium gives the hyphen at the end of a line a number of its own.
    letters = ["-" if code == _HYPHEN else chr(code) for code in codes]
    seen = np.array([index for index, one in enumerate(letters) if not one.isspace() and one != "\0"], dtype=np.int64)
    return PageLetters("".join(letters[index] for index in seen), places[seen] * _MM_PER_POINT, seen, text)


def _bare(function: Any, takes: int) -> Any:
    """Return a function of pdfium that takes plain numbers: a page has thousands of letters, and changing each costs most."""
    address = ctypes.cast(function, ctypes.c_void_p).value or 0
    kinds = (ctypes.c_void_p, ctypes.c_int, ctypes.c_void_p, ctypes.c_void_p)[:takes]
    return ctypes.CFUNCTYPE(ctypes.c_int, *kinds)(address)


@dataclass(frozen=True)
class PagePath:
    """A path on a page: pdfium's own handle, what leads from its places to the page's, (3, 2), and the page, which keeps it alive."""

    handle: Any
    matrix: Array
    page: Any

    @property
    def count(self) -> int:
        """How many points it has."""
        import pypdfium2.raw as raw  # type: ignore[import-untyped, unused-ignore]

        return int(raw.FPDFPath_CountSegments(self.handle))

    def points(self) -> Array:
        """Return its points (n, 2), mm from the lower left corner of the page."""
        import pypdfium2.raw as raw  # type: ignore[import-untyped, unused-ignore]

        count, handle = self.count, ctypes.cast(self.handle, ctypes.c_void_p).value
        own = np.empty((count, 2), dtype=np.float32)
        start = own.ctypes.data
        segments = map(_pointed(raw.FPDFPath_GetPathSegment), repeat(handle), range(count))
        point = _placed(raw.FPDFPathSegment_GetPoint)
        deque(map(point, segments, range(start, start + 8 * count, 8), range(start + 4, start + 8 * count + 4, 8)), 0)
        found: Array = (own.astype(np.float64) @ self.matrix[:2] + self.matrix[2]) * _MM_PER_POINT
        return found


def _pointed(function: Any) -> Any:
    """Return a function of pdfium that gives the part of a thing by its number, as a plain number."""
    address = ctypes.cast(function, ctypes.c_void_p).value or 0
    return ctypes.CFUNCTYPE(ctypes.c_void_p, ctypes.c_void_p, ctypes.c_int)(address)


def _placed(function: Any) -> Any:
    """Return a function of pdfium that writes the two numbers of a place."""
    address = ctypes.cast(function, ctypes.c_void_p).value or 0
    return ctypes.CFUNCTYPE(ctypes.c_int, ctypes.c_void_p, ctypes.c_void_p, ctypes.c_void_p)(address)


def page_paths(page: Any) -> list[PagePath]:
    """Return the paths on a page in the order in which they are drawn."""
    import pypdfium2.raw as raw  # type: ignore[import-untyped, unused-ignore]

    handle = ctypes.cast(page.raw, ctypes.c_void_p).value
    of_page = map(_pointed(raw.FPDFPage_GetObject), repeat(handle), range(raw.FPDFPage_CountObjects(page)))
    return list(_paths(list(of_page), _EVEN, page))


# pypdfium2's own list of objects makes a value of every letter on the page; only paths are wanted here.
def _paths(handles: list[int], outer: Array, page: Any) -> Iterator[PagePath]:
    """Yield the paths among objects, and those of the forms among them."""
    import pypdfium2.raw as raw  # type: ignore[import-untyped, unused-ignore]

    kinds = map(_bare(raw.FPDFPageObj_GetType, 1), handles)
    wanted = (raw.FPDF_PAGEOBJ_PATH, raw.FPDF_PAGEOBJ_FORM)
    for number, kind in [(number, kind) for number, kind in zip(handles, kinds, strict=True) if kind in wanted]:
        handle = ctypes.cast(number, raw.FPDF_PAGEOBJECT)
        if kind == raw.FPDF_PAGEOBJ_PATH:
            yield PagePath(handle, _followed(_matrix(handle), outer), page)
        else:
            count = raw.FPDFFormObj_CountObjects(handle)
            within = map(_pointed(raw.FPDFFormObj_GetObject), repeat(number), range(count))
            yield from _paths(list(within), _followed(_matrix(handle), outer), page)


def _matrix(handle: Any) -> Array:
    import pypdfium2.raw as raw  # type: ignore[import-untyped, unused-ignore]

    read = raw.FS_MATRIX()
    if not raw.FPDFPageObj_GetMatrix(handle, read):
        return _EVEN
    return np.array([[read.a, read.b], [read.c, read.d], [read.e, read.f]], dtype=np.float64)


def _followed(inner: Array, outer: Array) -> Array:
    """Return what leads through one matrix (3, 2) and then through another."""
    found = inner @ outer[:2]
    found[2] += outer[2]
    return found
