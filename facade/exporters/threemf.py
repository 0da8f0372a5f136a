"""Closed solids as 3MF: a ZIP of three parts, its unit inside. 3MF Core Specification 1.x, 3MF Consortium."""

from __future__ import annotations

import io
import zipfile
from collections.abc import Iterator, Sequence
from functools import cache, lru_cache
from xml.sax.saxutils import escape, quoteattr

import numpy as np
from numpy.typing import NDArray

from facade.arrays import Array
from facade.drawing import printable
from facade.mesh import Solid
from facade.version import __version__

CORE = "http://schemas.microsoft.com/3dmanufacturing/core/2015/02"
MODEL = "3D/3dmodel.model"
_HEAD = '<?xml version="1.0" encoding="UTF-8"?>\n'
_TYPES = (
    f'{_HEAD}<Types xmlns="http://schemas.openxmlformats.org/package/2006/content-types">'
    '<Default Extension="rels" ContentType="application/vnd.openxmlformats-package.relationships+xml"/>'
    '<Default Extension="model" ContentType="application/vnd.ms-package.3dmanufacturing-3dmodel+xml"/></Types>\n'
)
_RELATIONS = (
    f'{_HEAD}<Relationships xmlns="http://schemas.openxmlformats.org/package/2006/relationships">'
    f'<Relationship Id="rel0" Target="/{MODEL}" Type="http://schemas.microsoft.com/3dmanufacturing/2013/01/3dmodel"/>'
    "</Relationships>\n"
)
# The first day that a ZIP can hold: no file depends on when it was made.
_DAY = (1980, 1, 1, 0, 0, 0)
# Beyond this level files shrink by a twentieth and take twice as long.
_LEVEL = 1
_PARTS = 10_000  # to a ten thousandth of a mm
# Triangles are put into words so many at a time, in bytes of three numbers of four each.
_MANY = 256 * 12
_TRIANGLE = '<triangle v1="%d" v2="%d" v3="%d"/>'


def to_3mf(solids: Sequence[tuple[str, Solid]], title: str, mark: str) -> bytes:
    """Return solids in mm, each with its name, as one 3MF: an object and an item of the build each.

    The mark stands in the description: names of metadata other than the standard's own need a namespace.
    """
    model = "".join(_model(solids, title, mark))
    buffer = io.BytesIO()
    with zipfile.ZipFile(buffer, "w") as package:
        for name, text in (("[Content_Types].xml", _TYPES), ("_rels/.rels", _RELATIONS), (MODEL, model)):
            _put(package, name, text)
    return buffer.getvalue()


def _put(package: zipfile.ZipFile, name: str, text: str) -> None:
    about = zipfile.ZipInfo(name, _DAY)
    about.compress_type = zipfile.ZIP_DEFLATED
    # Else it would hold the system that it was made on.
    about.create_system = 0
    package.writestr(about, text.encode("utf-8"), compresslevel=_LEVEL)


def _model(solids: Sequence[tuple[str, Solid]], title: str, mark: str) -> Iterator[str]:
    yield f'{_HEAD}<model unit="millimeter" xml:lang="en" xmlns="{CORE}">\n'
    about = {"Title": title, "Description": f"mark {mark}", "Application": f"facade {__version__}"}
    for name, words in about.items():
        yield f'<metadata name="{name}">{escape(printable(words))}</metadata>\n'
    yield "<resources>\n"
    for number, (name, solid) in enumerate(solids, start=1):
        yield f'<object id="{number}" type="model" name={quoteattr(printable(name))}><mesh>\n'
        yield from _mesh(solid)
        yield "</mesh></object>\n"
    yield "</resources>\n<build>"
    yield from (f'<item objectid="{number}"/>' for number in range(1, len(solids) + 1))
    yield "</build>\n</model>\n"


def _mesh(solid: Solid) -> Iterator[str]:
    yield "<vertices>"
    yield _vertices(solid.vertices)
    yield "</vertices>\n<triangles>"
    corners = solid.triangles.astype("<u4").tobytes()
    yield from (_triangles(corners[start : start + _MANY]) for start in range(0, len(corners), _MANY))
    yield "</triangles>\n"


def _vertices(places: Array) -> str:
    """Return places (n, 3), none below the back, in words.

    They lie in rows and columns: x and y have few words, and heights are put together from those of whole mm and of their parts, which
    is three times as quick as writing out every number.
    """
    ticks = np.rint(places * _PARTS).astype(np.int64)
    words = np.empty((len(places), 4), dtype=object)
    for axis, before, after in ((0, '<vertex x="', '" y="'), (1, "", '" z="')):
        different, which = np.unique(ticks[:, axis], return_inverse=True)
        numbers = [f"{before}{tick / _PARTS:.4f}{after}" for tick in different.tolist()]
        words[:, axis] = np.array(numbers, dtype=object)[which]
    whole, part = np.divmod(ticks[:, 2], _PARTS)
    words[:, 2] = np.array([f"{mm}." for mm in range(int(whole.max()) + 1)], dtype=object)[whole]
    words[:, 3] = _parts_of_mm()[part]
    return "".join(words.ravel().tolist())


@cache
def _parts_of_mm() -> NDArray[np.object_]:
    """Return what stands behind the point of a height, and ends its vertex."""
    return np.array([f'{part:04d}"/>' for part in range(_PARTS)], dtype=object)


@lru_cache(maxsize=1024)
def _triangles(corners: bytes) -> str:
    """Return some triangles in words: faces with as many columns begin with the same ones, however many rows they have, and a fixture's
    strips have theirs in a file of their own too."""
    numbers = np.frombuffer(corners, dtype="<u4").tolist()
    return _TRIANGLE * (len(numbers) // 3) % tuple(numbers)
