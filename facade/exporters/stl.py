"""Closed solids as binary STL, in mm: 80 bytes of header, a count, 50 bytes a facet."""

from __future__ import annotations

from collections.abc import Iterable

import numpy as np

from facade.mesh import Solid

_FACET = np.dtype([("normal", "<f4", 3), ("corners", "<f4", (3, 3)), ("attribute", "<u2")])


def to_stl(solids: Iterable[Solid], header: str) -> bytes:
    """Return solids as one binary STL; the header, at most 80 letters, should say what it is and that it is in mm.

    Layout: 84 bytes and 50 a facet, little-endian; normals follow the right-hand order of the corners.
    """
    facets = [_facets(solid) for solid in solids]
    head = header.encode("ascii", "replace")[:80].ljust(80)
    count = sum(len(some) for some in facets)
    return b"".join([head, np.uint32(count).astype("<u4").tobytes(), *(some.tobytes() for some in facets)])


def _facets(solid: Solid) -> np.ndarray[tuple[int], np.dtype[np.void]]:
    facets = np.zeros(len(solid.triangles), dtype=_FACET)
    corners = solid.vertices.astype("<f4")[solid.triangles]
    first = corners[:, 0]
    a, b = corners[:, 1] - first, corners[:, 2] - first
    normal = np.empty_like(first)
    normal[:, 0] = a[:, 1] * b[:, 2] - a[:, 2] * b[:, 1]
    normal[:, 1] = a[:, 2] * b[:, 0] - a[:, 0] * b[:, 2]
    normal[:, 2] = a[:, 0] * b[:, 1] - a[:, 1] * b[:, 0]
    normal /= np.sqrt(np.einsum("ij,ij->i", normal, normal))[:, None]
    facets["normal"] = normal
    facets["corners"] = corners
    return facets
