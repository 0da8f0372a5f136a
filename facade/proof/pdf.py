"""Pages of a PDF as pdfium reads them: their size, their paths in mm, their words."""

from __future__ import annotations

import ctypes
from collections import deque
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from functools import cache, lru_cache
from itertools import repeat
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from facade.arrays import Array

_MM_PER_POINT = 25.4 / 72
_HYPHENS = (2, 0xFFFE)
_FEW_POINTS = 8  # of which each is asked for by itself
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
    """The letters on a page without its spaces: what they are, where each stands, (n, 2) mm, and pdfium's own number of each.

    `said` is all that it says, spaces and ends of lines among it.
    """

    letters: str
    places: Array
    numbers: NDArray[np.int64]
    text: Any
    said: str = ""

    def end_of(self, index: int, turn: float = 0.0) -> float:
        """Return where the next letter would begin after one, mm from the left; from below where letters stand upright."""
        import pypdfium2.raw as raw  # type: ignore[import-untyped, unused-ignore]

        box = raw.FS_RECTF()
        raw.FPDFText_GetLooseCharBox(self.text.raw, int(self.numbers[index]), box)
        return float(box.right if abs(turn) < 1.0 else box.top if turn > 0 else box.bottom) * _MM_PER_POINT


def page_letters(page: Any) -> PageLetters:
    """Return the letters on a page with their places."""
    text = page.get_textpage()
    count, handle = text.count_chars(), ctypes.cast(text.raw, ctypes.c_void_p).value
    places: Array = np.empty((count, 2))
    start, place = places.ctypes.data, _bare("FPDFText_GetCharOrigin", 4)
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
    codes = _codes(text, count)
    # pdfium gives the hyphen at the end of a line a number of its own.
    codes[np.isin(codes, _HYPHENS)] = ord("-")
    seen = np.flatnonzero(~np.isin(codes, _blanks()))
    return PageLetters(_written(codes[seen]), places[seen] * _MM_PER_POINT, seen, text, _written(codes))


def _codes(text: Any, count: int) -> NDArray[np.uint32]:
    """Return the numbers of all letters of a page in Unicode, (count,)."""
    import pypdfium2.raw as raw  # type: ignore[import-untyped, unused-ignore]

    whole = (ctypes.c_ushort * (count + 1))()
    if raw.FPDFText_GetText(text.raw, 0, count, whole) == count + 1:
        return np.array(whole[:count], dtype=np.uint32)
    # Some letter takes two numbers of 16 bits, or is left out of the text: then each is asked for.
    handle = ctypes.cast(text.raw, ctypes.c_void_p).value
    return np.fromiter(map(_bare("FPDFText_GetUnicode", 2), repeat(handle), range(count)), dtype=np.uint32, count=count)


@cache
def _blanks() -> NDArray[np.uint32]:
    """Return the numbers of what shows nothing."""
    return np.array([0, *(code for code in range(0x10000) if chr(code).isspace())], dtype=np.uint32)


def _written(codes: NDArray[np.uint32]) -> str:
    return codes.astype("<u4").tobytes().decode("utf-32-le", "surrogatepass")


@cache
def _bare(name: str, takes: int) -> Any:
    """Return a function of pdfium that takes plain numbers: a page has thousands of letters, and changing each costs most."""
    import pypdfium2.raw as raw  # type: ignore[import-untyped, unused-ignore]

    address = ctypes.cast(getattr(raw, name), ctypes.c_void_p).value or 0
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
        handle = ctypes.cast(self.handle, ctypes.c_void_p).value
        own = _side_by_side(handle, self.count)
        if own is None:
            own = _one_by_one(handle, range(self.count))
        found: Array = (own.astype(np.float64) @ self.matrix[:2] + self.matrix[2]) * _MM_PER_POINT
        return found


def _one_by_one(handle: int | None, numbers: Sequence[int]) -> NDArray[np.float32]:
    """Return some of the points of a path, (n, 2), by their numbers."""
    own = np.empty((len(numbers), 2), dtype=np.float32)
    start, size = own.ctypes.data, own.nbytes
    segments = map(_pointed("FPDFPath_GetPathSegment"), repeat(handle), numbers)
    deque(
        map(
            _placed("FPDFPathSegment_GetPoint"),
            segments,
            range(start, start + size, 8),
            range(start + 4, start + size, 8),
        ),
        0,
    )
    return own


def _side_by_side(handle: int | None, count: int) -> NDArray[np.float32] | None:
    """Return the points of a path, (n, 2), where pdfium keeps them one behind the other; None where it does not.

    That it does is asked of it: its first, second and last lie evenly apart, and the first, a middle one and the last are what it says.
    """
    if count < _FEW_POINTS:
        return None
    segment = _pointed("FPDFPath_GetPathSegment")
    first, second, last = (segment(handle, number) or 0 for number in (0, 1, count - 1))
    apart = second - first
    if not first or apart < 8 or apart % 4 or last - first != apart * (count - 1):
        return None
    # No further than to the end of the last point, which is known to be there.
    floats = (ctypes.c_float * ((last - first) // 4 + 2)).from_address(first)
    kept = np.frombuffer(memoryview(floats).cast("B"), dtype=np.float32)
    step = apart // 4
    own = np.column_stack([kept[::step], kept[1::step]])
    some = (0, count // 2, count - 1)
    return own if (own[list(some)] == _one_by_one(handle, some)).all() else None


@cache
def _pointed(name: str) -> Any:
    """Return a function of pdfium that gives the part of a thing by its number, as a plain number."""
    import pypdfium2.raw as raw  # type: ignore[import-untyped, unused-ignore]

    address = ctypes.cast(getattr(raw, name), ctypes.c_void_p).value or 0
    return ctypes.CFUNCTYPE(ctypes.c_void_p, ctypes.c_void_p, ctypes.c_int)(address)


@cache
def _placed(name: str) -> Any:
    """Return a function of pdfium that writes the two numbers of a place."""
    import pypdfium2.raw as raw  # type: ignore[import-untyped, unused-ignore]

    address = ctypes.cast(getattr(raw, name), ctypes.c_void_p).value or 0
    return ctypes.CFUNCTYPE(ctypes.c_int, ctypes.c_void_p, ctypes.c_void_p, ctypes.c_void_p)(address)


def page_paths(page: Any) -> list[PagePath]:
    """Return the paths on a page in the order in which they are drawn."""
    import pypdfium2.raw as raw  # type: ignore[import-untyped, unused-ignore]

    handle = ctypes.cast(page.raw, ctypes.c_void_p).value
    of_page = map(_pointed("FPDFPage_GetObject"), repeat(handle), range(raw.FPDFPage_CountObjects(page)))
    return list(_paths(list(of_page), _EVEN, page))


# pypdfium2's own list of objects makes a value of every letter on the page; only paths are wanted here.
def _paths(handles: list[int], outer: Array, page: Any) -> Iterator[PagePath]:
    """Yield the paths among objects, and those of the forms among them."""
    import pypdfium2.raw as raw  # type: ignore[import-untyped, unused-ignore]

    kinds = map(_bare("FPDFPageObj_GetType", 1), handles)
    wanted = (raw.FPDF_PAGEOBJ_PATH, raw.FPDF_PAGEOBJ_FORM)
    for number, kind in [(number, kind) for number, kind in zip(handles, kinds, strict=True) if kind in wanted]:
        handle = ctypes.cast(number, raw.FPDF_PAGEOBJECT)
        if kind == raw.FPDF_PAGEOBJ_PATH:
            yield PagePath(handle, _followed(_matrix(handle), outer), page)
        else:
            count = raw.FPDFFormObj_CountObjects(handle)
            within = map(_pointed("FPDFFormObj_GetObject"), repeat(number), range(count))
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
