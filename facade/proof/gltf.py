"""The view in 3-D: a binary glTF in the plain form that ours has, read by numpy; any other by trimesh.

glTF 2.0: a head of 12 bytes, then parts of 8 bytes of head each, the first JSON, the second the numbers that it speaks of.
"""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import numpy as np

from facade.arrays import Array

_FLOATS, _WHOLE, _SHORT = 5126, 5125, 5123
_TRIANGLES = 4


def read_shapes(path: Path) -> list[tuple[str, Array, np.ndarray]]:
    """Return the shapes in a view with their names: corners (n, 3) in place, in metres, and facets (m, 3) of them."""
    try:
        found = _plain(path.read_bytes())
    except (KeyError, IndexError, TypeError, ValueError, AttributeError):
        found = None
    return _any(path) if found is None else found


def _plain(data: bytes) -> list[tuple[str, Array, np.ndarray]] | None:
    """Return the shapes in a view whose nodes only name a mesh of one part; None for another view, or what errors there are in it."""
    if data[:8] != b"glTF\2\0\0\0" or int.from_bytes(data[8:12], "little") != len(data):
        return None
    middle = 20 + int.from_bytes(data[12:16], "little")
    said, numbers = json.loads(data[20:middle]), data[middle + 8 :]
    if data[16:20] != b"JSON" or data[middle + 4 : middle + 8] != b"BIN\0" or said.get("extensionsRequired"):
        return None
    nodes = [said["nodes"][index] for index in said["scenes"][said["scene"]]["nodes"]]
    meshes = [said["meshes"][node["mesh"]] for node in nodes]
    if any(set(node) != {"name", "mesh"} for node in nodes) or len({mesh["name"] for mesh in meshes}) < len(meshes):
        return None
    found = []
    for mesh in meshes:
        (part,) = mesh["primitives"]
        if part.get("mode", _TRIANGLES) != _TRIANGLES:
            return None
        corners = _read(said, numbers, part["attributes"]["POSITION"], {_FLOATS: "<f4"}, "VEC3")
        facets = _read(said, numbers, part["indices"], {_WHOLE: "<u4", _SHORT: "<u2"}, "SCALAR")
        found.append((str(mesh["name"]), corners.astype(np.float64), facets.astype(np.intp).reshape(-1, 3)))
    return found


def _read(said: dict[str, Any], numbers: bytes, index: int, kinds: dict[int, str], shape: str) -> np.ndarray:
    """Return the numbers of an accessor; raises KeyError or ValueError where it is not plain."""
    accessor = said["accessors"][index]
    view = said["bufferViews"][accessor["bufferView"]]
    if accessor["type"] != shape or {"sparse", "normalized"} & set(accessor) or "byteStride" in view or view["buffer"]:
        raise ValueError("is not plain")
    each = 3 if shape == "VEC3" else 1
    start = view.get("byteOffset", 0)
    some = numbers[start : start + view["byteLength"]]
    found = np.frombuffer(
        some, kinds[accessor["componentType"]], accessor["count"] * each, accessor.get("byteOffset", 0)
    )
    return found.reshape(-1, each)


def _any(path: Path) -> list[tuple[str, Array, np.ndarray]]:
    """Return the shapes in any view."""
    import trimesh

    scene = trimesh.load_scene(path, process=False)
    found = []
    for node in scene.graph.nodes_geometry:
        matrix, name = scene.graph[node]
        mesh = scene.geometry[name]
        found.append((str(name), np.asarray(mesh.vertices) @ matrix[:3, :3].T + matrix[:3, 3], np.asarray(mesh.faces)))
    return found
