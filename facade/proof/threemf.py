"""Solids in a 3MF: a ZIP of three parts with its unit inside (3MF Core Specification 1.x), read by lxml, its many numbers apart."""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from facade.arrays import Array
from facade.proof.decimals import read_decimals
from facade.proof.packages import parts_of
from facade.proof.solids import Mesh

_MODEL = "3D/3dmodel.model"
_CORE = "{http://schemas.microsoft.com/3dmanufacturing/core/2015/02}"
# What is left of an element without the digits in it, and the names of its three parts as far as they hold digits.
_VERTEX, _TRIANGLE = b'<vertex x="." y="." z="."/>', b'<triangle v="" v="" v=""/>'
_DIGITS = b"0123456789-"
_NUMBERS_ALONE = bytes(code if code in b"0123456789-." else 32 for code in range(256))


@dataclass(frozen=True)
class Model:
    """What a 3MF holds: its unit, its metadata, and its solids in mm by their names, in the order in which they are built."""

    unit: str
    metadata: dict[str, str]
    solids: list[tuple[str, Mesh]]


def read_3mf(path: Path) -> Model:
    """Return what a 3MF holds; raises ValueError, KeyError or what its readers raise for what is none."""
    from lxml import etree

    text = parts_of(path)[_MODEL]
    bare, vertices = _without(text, b"vertices")
    bare, triangles = _without(bare, b"triangles")
    corners, facets = [_corners(some) for some in vertices], [_facets(some) for some in triangles]
    # What is left holds the structure, and few numbers.
    root = etree.fromstring(bare)
    objects = root.findall(f"{_CORE}resources/{_CORE}object")
    if not len(objects) == len(corners) == len(facets) or root.findall(f".//{_CORE}vertex"):
        raise ValueError("its solids are not written as ours are")
    meshes = {
        one.get("id"): (one.get("name", ""), Mesh(some, index))
        for one, some, index in zip(objects, corners, facets, strict=True)
    }
    items = root.findall(f"{_CORE}build/{_CORE}item")
    if any(item.get("transform") for item in items):
        raise ValueError("it moves a solid from where its corners are")
    metadata = {one.get("name", ""): one.text or "" for one in root.findall(f"{_CORE}metadata")}
    return Model(root.get("unit", "millimeter"), metadata, [meshes[item.get("objectid")] for item in items])


def _without(text: bytes, kind: bytes) -> tuple[bytes, list[bytes]]:
    """Return a text with the elements of a kind left empty, and what stood in each."""
    rest, inside, at = [], [], 0
    begin, end = b"<%s>" % kind, b"</%s>" % kind
    while (start := text.find(begin, at)) >= 0 and (stop := text.find(end, start)) >= 0:
        inside.append(text[start + len(begin) : stop])
        rest.append(text[at:start] + b"<%s/>" % kind)
        at = stop + len(end)
    return b"".join([*rest, text[at:]]), inside


def _corners(block: bytes) -> Array:
    """Return the corners (n, 3), mm; raises ValueError where they are written otherwise."""
    count = _many(block, _VERTEX)
    found = read_decimals(block.translate(_NUMBERS_ALONE))
    if found is None or len(found) != 3 * count:
        raise ValueError("its solids are not written as ours are")
    return found.reshape(-1, 3)


@lru_cache(maxsize=4)
def _facets(block: bytes) -> NDArray[np.intp]:
    """Return the corners of facets (m, 3) by their numbers; most strips of a front have the same. Raises ValueError as `_corners`."""
    count = _many(block, _TRIANGLE)
    found = _numbers(block.translate(_NUMBERS_ALONE), 6 * count).reshape(-1, 6)
    if (found[:, ::2] != (1, 2, 3)).any():
        raise ValueError("its solids are not written as ours are")
    facets = np.ascontiguousarray(found[:, 1::2], dtype=np.intp)
    facets.setflags(write=False)
    return facets


def _many(block: bytes, element: bytes) -> int:
    """Return how many elements a block holds and nothing else, but for their digits; raises ValueError for others."""
    bare = block.translate(None, _DIGITS)
    count = len(bare) // len(element)
    if bare != element * count:
        raise ValueError("its solids are not written as ours are")
    return count


def _numbers(text: bytes, count: int) -> NDArray[np.int64]:
    """Return the whole numbers in a text of nothing else; raises ValueError where they are not so many."""
    found = np.fromstring(text.decode("ascii"), dtype=np.int64, sep=" ") if count else np.empty(0, dtype=np.int64)
    if len(found) != count:
        raise ValueError("its solids are not written as ours are")
    return found
