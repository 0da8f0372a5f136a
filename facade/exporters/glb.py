"""The front as binary glTF 2.0: metres, y up, z towards the viewer, in the colour of its wood."""

from __future__ import annotations

import json
import struct
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from facade.front import Front
from facade.mesh import Grid, face_triangles
from facade.wood import species

_FLOAT, _UINT = 5126, 5125  # component types of glTF 2.0
_VERTICES, _INDEXES = 34962, 34963  # buffer view targets
_METRES = 0.001


@dataclass(frozen=True)
class _Part:
    """Vertices, their normals and triangles, ready for the buffer; mm."""

    name: str
    material: int
    vertices: NDArray[np.float32]
    normals: NDArray[np.float32]
    triangles: NDArray[np.uint32]


def to_glb(front: Front, grids: Sequence[Grid]) -> bytes:
    """Return the strips, at their places on the front, and the doors behind them as one GLB."""
    wood = species(front.job.wood.species)
    colour = [(3 * light + dark) / 4 / 255 for light, dark in zip(wood.light, wood.dark, strict=True)]
    materials = [_material("wood", colour, 0.75), _material("door board", [0.09, 0.075, 0.065], 0.95)]
    return _packed(_parts(front, grids), materials, f"facade, mark {front.mark}")


def _parts(front: Front, grids: Sequence[Grid]) -> Iterator[_Part]:
    for number, grid in zip(front.numbers, grids, strict=True):
        yield _strip_part(f"strip {number}", grid)
    for door in front.layout.doors:
        # A hair behind the strips' backs, or the two would flicker in one plane.
        yield _board_part(f"door {door.number}", door.left, door.right, door.bottom, door.top, -0.2)


def _material(name: str, colour: Sequence[float], roughness: float) -> dict[str, Any]:
    # glTF wants linear light; screens' colours are about its 2.2th root.
    linear = [round(part**2.2, 5) for part in colour]
    return {
        "name": name,
        "doubleSided": False,
        "pbrMetallicRoughness": {
            "baseColorFactor": [*linear, 1.0],
            "metallicFactor": 0.0,
            "roughnessFactor": roughness,
        },
    }


def _strip_part(name: str, grid: Grid) -> _Part:
    """Return a strip's face with smooth normals and its four sides with flat ones."""
    rows, columns = grid.heights.shape
    x, y = np.broadcast_to(grid.x, (rows, columns)), np.broadcast_to(grid.y[:, None], (rows, columns))
    face = np.stack([x, y, grid.heights], -1)
    uphill, right = np.gradient(grid.heights, grid.y, grid.x)
    normals = np.stack([-right, -uphill, np.ones_like(right)], -1)
    normals /= np.linalg.norm(normals, axis=-1, keepdims=True)
    pieces = [(face.reshape(-1, 3), normals.reshape(-1, 3), face_triangles(rows, columns))]
    sides = ((face[0], (0, -1, 0)), (face[:, -1], (1, 0, 0)), (face[-1, ::-1], (0, 1, 0)), (face[::-1, 0], (-1, 0, 0)))
    pieces += [_side(line, normal) for line, normal in sides]
    starts = np.cumsum([0] + [len(piece[0]) for piece in pieces])
    triangles = np.concatenate([piece[2] + start for piece, start in zip(pieces, starts, strict=False)])
    vertices = np.concatenate([piece[0] for piece in pieces]).astype(np.float32)
    return _Part(
        name,
        0,
        vertices,
        np.concatenate([piece[1] for piece in pieces]).astype(np.float32),
        triangles.astype(np.uint32),
    )


def _side(
    line: NDArray[np.float64], normal: tuple[int, int, int]
) -> tuple[NDArray[np.float64], NDArray[np.float64], NDArray[np.uint32]]:
    """Return the wall under a line of the rim, which runs anticlockwise seen from the front."""
    count = len(line)
    vertices = np.concatenate([line * [1, 1, 0], line])
    return vertices, np.tile(np.array(normal, dtype=np.float64), (2 * count, 1)), face_triangles(2, count)


def _board_part(name: str, left: float, right: float, bottom: float, top: float, z: float) -> _Part:
    corners = np.array([[left, bottom, z], [right, bottom, z], [left, top, z], [right, top, z]], dtype=np.float32)
    return _Part(name, 1, corners, np.tile(np.array([0, 0, 1], dtype=np.float32), (4, 1)), face_triangles(2, 2))


def _packed(parts: Iterable[_Part], materials: list[dict[str, Any]], maker: str) -> bytes:
    buffer = bytearray()
    views: list[dict[str, Any]] = []
    accessors: list[dict[str, Any]] = []
    meshes, nodes = [], []

    def store(data: NDArray[Any], target: int, **accessor: Any) -> int:
        raw = data.tobytes()
        views.append({"buffer": 0, "byteOffset": len(buffer), "byteLength": len(raw), "target": target})
        accessors.append({"bufferView": len(views) - 1, **accessor})
        buffer.extend(raw)
        return len(accessors) - 1

    for part in parts:
        metres = (part.vertices * np.float32(_METRES)).astype("<f4")
        low, high = metres.min(axis=0).tolist(), metres.max(axis=0).tolist()
        count = len(metres)
        place = store(metres, _VERTICES, componentType=_FLOAT, count=count, type="VEC3", min=low, max=high)
        normal = store(part.normals.astype("<f4"), _VERTICES, componentType=_FLOAT, count=count, type="VEC3")
        indexes = store(
            part.triangles.astype("<u4"), _INDEXES, componentType=_UINT, count=part.triangles.size, type="SCALAR"
        )
        attributes = {"POSITION": place, "NORMAL": normal}
        meshes.append(
            {
                "name": part.name,
                "primitives": [{"attributes": attributes, "indices": indexes, "material": part.material}],
            }
        )
        nodes.append({"name": part.name, "mesh": len(meshes) - 1})
    tree = {
        "asset": {"version": "2.0", "generator": maker},
        "scene": 0,
        "scenes": [{"nodes": list(range(len(nodes)))}],
        "nodes": nodes,
        "meshes": meshes,
        "materials": materials,
        "accessors": accessors,
        "bufferViews": views,
        "buffers": [{"byteLength": len(buffer)}],
    }
    return _container(json.dumps(tree, separators=(",", ":")).encode("ascii"), buffer)


def _container(tree: bytes, buffer: bytearray) -> bytes:
    """Return the GLB container: header, JSON chunk padded with spaces, binary chunk padded with zeros, both to 4 bytes."""
    tree += b" " * (-len(tree) % 4)
    buffer += b"\0" * (-len(buffer) % 4)
    whole = 12 + 8 + len(tree) + 8 + len(buffer)
    head = struct.pack("<4sII", b"glTF", 2, whole)
    return b"".join(
        [head, struct.pack("<I4s", len(tree), b"JSON"), tree, struct.pack("<I4s", len(buffer), b"BIN\0"), buffer]
    )
