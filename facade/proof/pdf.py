"""Pages of a PDF as pdfium reads them: their size, their paths in mm, their words."""

from __future__ import annotations

import ctypes
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path
from typing import Any

import numpy as np

from facade.arrays import Array

_MM_PER_POINT = 25.4 / 72
# Of a longer path so many points are read, both ends among them.
_MOST_READ = 40
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


def page_words(page: Any) -> str:
    """Return the words on a page without the spaces between them."""
    return "".join(page.get_textpage().get_text_bounded().split())


@dataclass(frozen=True)
class PagePath:
    """A path on a page: pdfium's own handle, and what leads from its places to the page's, (3, 2)."""

    handle: Any
    matrix: Array

    @property
    def count(self) -> int:
        """How many points it has."""
        import pypdfium2.raw as raw  # type: ignore[import-untyped, unused-ignore]

        return int(raw.FPDFPath_CountSegments(self.handle))

    def points(self, indexes: Sequence[int]) -> Array:
        """Return some of its points (n, 2), mm from the lower left corner of the page."""
        import pypdfium2.raw as raw  # type: ignore[import-untyped, unused-ignore]

        x, y = ctypes.c_float(), ctypes.c_float()
        places = []
        for index in indexes:
            raw.FPDFPathSegment_GetPoint(raw.FPDFPath_GetPathSegment(self.handle, index), x, y)
            places.append((x.value, y.value))
        own = np.array(places, dtype=np.float64).reshape(-1, 2)
        found: Array = (own @ self.matrix[:2] + self.matrix[2]) * _MM_PER_POINT
        return found


def page_paths(page: Any) -> list[PagePath]:
    """Return the paths on a page in the order in which they are drawn."""
    import pypdfium2.raw as raw  # type: ignore[import-untyped, unused-ignore]

    count = raw.FPDFPage_CountObjects(page)
    return list(_paths((raw.FPDFPage_GetObject(page, index) for index in range(count)), _EVEN))


# pypdfium2's own list of objects makes a value of every letter on the page; only paths are wanted here.
def _paths(handles: Iterable[Any], outer: Array) -> Iterator[PagePath]:
    """Yield the paths among objects, and those of the forms among them."""
    import pypdfium2.raw as raw  # type: ignore[import-untyped, unused-ignore]

    for handle in handles:
        kind = raw.FPDFPageObj_GetType(handle)
        if kind == raw.FPDF_PAGEOBJ_PATH:
            yield PagePath(handle, _followed(_matrix(handle), outer))
        elif kind == raw.FPDF_PAGEOBJ_FORM:
            count = raw.FPDFFormObj_CountObjects(handle)
            within = (raw.FPDFFormObj_GetObject(handle, index) for index in range(count))
            yield from _paths(within, _followed(_matrix(handle), outer))


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


def some_of(count: int) -> Sequence[int]:
    """Return the indexes of points that are read of a path, spread over it."""
    if count <= _MOST_READ:
        return range(count)
    return [int(index) for index in np.linspace(0, count - 1, _MOST_READ)]
