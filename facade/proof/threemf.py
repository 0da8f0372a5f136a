"""Solids in a 3MF: a ZIP of three parts with its unit inside (3MF Core Specification 1.x), read by lxml, its many numbers apart."""

from __future__ import annotations

import re
import zipfile
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from facade.arrays import Array
from facade.proof.solids import Mesh

_MODEL = "3D/3dmodel.model"
_CORE = "{http://schemas.microsoft.com/3dmanufacturing/core/2015/02}"
_NUMBER = r"-?\d+\.\d{4}"
_BLOCKS = re.compile(
    rf'<vertices>(?P<vertices>(?:<vertex x="{_NUMBER}" y="{_NUMBER}" z="{_NUMBER}"/>)*+)</vertices>'
    r'|<triangles>(?P<triangles>(?:<triangle v1="\d+" v2="\d+" v3="\d+"/>)*+)</triangles>'
)
_NUMBERS_ALONE = bytes(code if chr(code).isdigit() or chr(code) == "-" else 32 for code in range(128)) + b" " * 128


@dataclass(frozen=True)
class Model:
    """What a 3MF holds: its unit, its metadata, and its solids in mm by their names, in the order in which they are built."""

    unit: str
    metadata: dict[str, str]
    solids: list[tuple[str, Mesh]]


def read_3mf(path: Path) -> Model:
    """Return what a 3MF holds; raises ValueError, KeyError or what its readers raise for what is none."""
    from lxml import etree

    with zipfile.ZipFile(path) as archive:
        # What is read is held against its checksum.
        parts = {part: archive.read(part) for part in archive.namelist()}
    text = parts[_MODEL].decode("utf-8")
    blocks: dict[str, list[str]] = {"vertices": [], "triangles": []}
    rest, position = [], 0
    for found in _BLOCKS.finditer(text):
        kind = found.lastgroup or ""
        blocks[kind].append(found[kind])
        rest.append(text[position : found.start()] + f"<{kind}/>")
        position = found.end()
    corners = [_numbers(some) / 10_000.0 for some in blocks["vertices"]]
    facets = [_numbers(_without_digits(some)) for some in blocks["triangles"]]
    # What is left holds the structure, and few numbers.
    bare = "".join([*rest, text[position:]])
    root = etree.fromstring(bare.encode("utf-8"))
    objects = root.findall(f"{_CORE}resources/{_CORE}object")
    if not len(objects) == len(corners) == len(facets) or root.findall(f".//{_CORE}vertex"):
        raise ValueError("its solids are not written as ours are")
    meshes = {
        one.get("id"): (one.get("name", ""), Mesh(some, index.astype(np.intp)))
        for one, some, index in zip(objects, corners, facets, strict=True)
    }
    items = root.findall(f"{_CORE}build/{_CORE}item")
    if any(item.get("transform") for item in items):
        raise ValueError("it moves a solid from where its corners are")
    metadata = {one.get("name", ""): one.text or "" for one in root.findall(f"{_CORE}metadata")}
    return Model(root.get("unit", "millimeter"), metadata, [meshes[item.get("objectid")] for item in items])


def _without_digits(text: str) -> str:
    """Return a text of triangles without the digits in the names of their corners."""
    return text.replace("v1=", "").replace("v2=", "").replace("v3=", "")


def _numbers(text: str) -> Array:
    """Return the numbers (n, 3) in a text without their points."""
    raw = text.encode("ascii").translate(_NUMBERS_ALONE, b".").decode("ascii")
    whole = np.fromstring(raw, dtype=np.int64, sep=" ") if raw.strip() else np.empty(0)
    return np.asarray(whole.reshape(-1, 3), dtype=np.float64)
