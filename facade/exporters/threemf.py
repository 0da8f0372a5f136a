"""Closed solids as 3MF: a ZIP of three parts, its unit inside. 3MF Core Specification 1.x, 3MF Consortium.

The triangles of strips with as many columns begin alike, and a strip's are in the file of its fixture too. So they are put into words and
deflated a piece at a time, each piece once: the ZIP is put together here, since a library's writer takes whole texts only.
"""

from __future__ import annotations

import struct
import zlib
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
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
# ZIP, PKWARE's APPNOTE 6.3, 4.3: heads of a file and of its entry in the list at the end, and that end. All say version 2.0, no flags,
# deflated, and the first day that a ZIP can hold, so that no file depends on when or on what system it was made.
_COMMON = "5H3L2H"
_FILE, _LISTED, _END = (struct.Struct(f"<4s{rest}") for rest in (_COMMON, f"H{_COMMON}3H2L", "4H2LH"))
_VERSION, _METHOD, _FIRST_DAY = 20, 8, 1 << 5 | 1
# Beyond this level files shrink by a twentieth and take twice as long.
_LEVEL = 1
# RFC 1951: an empty last block, after pieces that each end at a whole byte.
_LAST = b"\x03\x00"
_PARTS = 10_000  # to a ten thousandth of a mm
# Triangles go into a piece so many at a time, in bytes of three numbers of four each.
_MANY = 2048 * 12
_TRIANGLE = '<triangle v1="%d" v2="%d" v3="%d"/>'


@dataclass(frozen=True)
class _Piece:
    """A piece of a file, and the same deflated: it refers to nothing before it and ends at a whole byte."""

    raw: bytes
    deflated: bytes


def to_3mf(solids: Sequence[tuple[str, Solid]], title: str, mark: str) -> bytes:
    """Return solids in mm, each with its name, as one 3MF: an object and an item of the build each.

    The mark stands in the description: names of metadata other than the standard's own need a namespace.
    """
    return _zipped(
        {
            "[Content_Types].xml": [_piece(_TYPES)],
            "_rels/.rels": [_piece(_RELATIONS)],
            MODEL: list(_model(solids, title, mark)),
        }
    )


def _piece(text: str) -> _Piece:
    raw, deflating = text.encode("utf-8"), zlib.compressobj(_LEVEL, zlib.DEFLATED, -zlib.MAX_WBITS)
    return _Piece(raw, deflating.compress(raw) + deflating.flush(zlib.Z_FULL_FLUSH))


def _zipped(files: Mapping[str, Sequence[_Piece]]) -> bytes:
    """Return files, each of pieces, as one ZIP."""
    parts: list[bytes] = []
    listed: list[bytes] = []
    at = 0
    for words, pieces in files.items():
        name, data = words.encode("ascii"), [*(one.deflated for one in pieces), _LAST]
        crc = 0
        for one in pieces:
            crc = zlib.crc32(one.raw, crc)
        size, whole = sum(map(len, data)), sum(len(one.raw) for one in pieces)
        common = (_VERSION, 0, _METHOD, 0, _FIRST_DAY, crc, size, whole, len(name), 0)
        listed.append(_LISTED.pack(b"PK\x01\x02", _VERSION, *common, 0, 0, 0, 0, at) + name)
        parts += [_FILE.pack(b"PK\x03\x04", *common), name, *data]
        at += _FILE.size + len(name) + size
    end = _END.pack(b"PK\x05\x06", 0, 0, len(listed), len(listed), sum(map(len, listed)), at, 0)
    return b"".join([*parts, *listed, end])


def _model(solids: Sequence[tuple[str, Solid]], title: str, mark: str) -> Iterator[_Piece]:
    about = {"Title": title, "Description": f"mark {mark}", "Application": f"facade {__version__}"}
    said = "".join(f'<metadata name="{name}">{escape(printable(words))}</metadata>\n' for name, words in about.items())
    yield _piece(f'{_HEAD}<model unit="millimeter" xml:lang="en" xmlns="{CORE}">\n{said}<resources>\n')
    for number, (name, solid) in enumerate(solids, start=1):
        head = f'<object id="{number}" type="model" name={quoteattr(printable(name))}><mesh>\n<vertices>'
        yield _piece(f"{head}{_vertices(solid.vertices)}</vertices>\n<triangles>")
        corners = solid.triangles.astype("<u4").tobytes()
        yield from (_triangles(corners[start : start + _MANY]) for start in range(0, len(corners), _MANY))
        yield _piece("</triangles>\n</mesh></object>\n")
    items = "".join(f'<item objectid="{number}"/>' for number in range(1, len(solids) + 1))
    yield _piece(f"</resources>\n<build>{items}</build>\n</model>\n")


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


@lru_cache(maxsize=128)
def _triangles(corners: bytes) -> _Piece:
    """Return some triangles in words."""
    numbers = np.frombuffer(corners, dtype="<u4").tolist()
    return _piece(_TRIANGLE * (len(numbers) // 3) % tuple(numbers))
