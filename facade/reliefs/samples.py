"""Reading heights from files that stand beside a job: grey pictures, arrays, tables and meshes."""

from __future__ import annotations

import hashlib
import io
import json
import math
import re
import warnings
import zipfile
from collections.abc import Callable
from pathlib import Path, PureWindowsPath
from typing import IO, Any

import numpy as np
from numpy.typing import NDArray

from facade.arrays import Array

LARGEST_FILE = 256 * 1024 * 1024  # bytes
LARGEST_TABLE = 16 * 1024 * 1024  # bytes of a text of numbers, which takes much longer to read
MOST_SAMPLES = 20_000_000
MOST_TRIANGLES = 1_000_000
MOST_CORNERS = 64  # of one face
MOST_COVERED = 100_000_000  # places that the triangles of a mesh cover, one by one: about ten seconds
_FEWEST_COLUMNS = 16
_MOST_NODES = 10_000  # parts of a GLB
# Files mark their holes with numbers such as -3.4e38; no height is as large as this, whatever its unit.
GREATEST_SAMPLE = 1e9
# Triangles of a mesh that cover more cells than this, across or along, are drawn piece by piece.
_TILE = 512


def file_beside(folder: Path | None, name: str) -> Path:
    """Return the place of file `name` inside `folder`; raises ValueError with the reason and the cure otherwise."""
    if folder is None:
        raise ValueError("needs a job file, beside which the file is looked for")
    if Path(name).is_absolute() or PureWindowsPath(name).drive or ".." in PureWindowsPath(name).parts:
        raise ValueError("must lie in the folder of the job file: copy it there and name it without '..'")
    try:
        path = (folder / name).resolve()
    except (OSError, RuntimeError, ValueError) as error:  # links in a circle, or a name that no file can have
        raise ValueError("must be the name of a file beside the job file") from error
    try:
        if not path.is_relative_to(folder.resolve()):
            raise ValueError("must lie in the folder of the job file: copy it there and name it without '..'")
        if not path.is_file():
            raise ValueError("is not there: put it beside the job file")
        if path.stat().st_size > LARGEST_FILE:
            raise ValueError(f"must be at most {LARGEST_FILE // 2**20} MB: thin it out")
        return path
    except OSError as error:
        raise ValueError(f"cannot be read ({error.strerror or error})") from error


def bytes_of(path: Path) -> bytes:
    """Return the bytes of a file; raises ValueError with the reason."""
    try:
        return path.read_bytes()
    except OSError as error:
        raise ValueError(f"cannot be read ({error.strerror or error})") from error


def fingerprint(data: bytes) -> str:
    """Return the SHA-256 of a file's bytes."""
    return hashlib.sha256(data).hexdigest()


def read_samples(name: str, data: bytes) -> Array:
    """Return the heights in a file as an array (rows, columns), first row at the top.

    The ending of the name says the form: .png (8 or 16 bit grey), .npy, .npz (one array), .csv. Numbers of 8, 16 and 32 bits
    stay as they are: a picture takes no more memory than it must. Raises ValueError.
    """
    readers: dict[str, Callable[[bytes], Array]] = {".png": _png, ".npy": _npy, ".npz": _npz, ".csv": _csv}
    reader = readers.get(Path(name).suffix.lower())
    if reader is None:
        raise ValueError("must end in .png, .npy, .npz or .csv")
    samples = reader(data)
    if samples.ndim != 2 or min(samples.shape) < 2:
        raise ValueError(f"must hold at least 2 rows of 2 heights (it holds {' x '.join(map(str, samples.shape))})")
    if not np.isfinite(samples).all():
        raise ValueError("must hold finite heights only: fill its holes first")
    most = max(-float(samples.min()), float(samples.max()))
    if most > GREATEST_SAMPLE:
        raise ValueError(
            f"must hold heights of at most {GREATEST_SAMPLE:g} (it reaches {most:g}): fill its holes first"
        )
    return samples


def _limit(count: int) -> None:
    if count > MOST_SAMPLES:
        raise ValueError(f"must hold at most {MOST_SAMPLES // 1_000_000} million heights: thin it out")


def _png(data: bytes) -> Array:
    from PIL import Image

    # The size is read here, before the library sees the file: a few bytes may promise a picture that fills the memory.
    if not data.startswith(b"\x89PNG\r\n\x1a\n") or data[12:16] != b"IHDR" or len(data) < 24:
        raise ValueError("is not a PNG picture")
    _limit(int.from_bytes(data[16:20], "big") * int.from_bytes(data[20:24], "big"))
    if data[25:26] not in (b"\0", b""):
        raise ValueError("must be a grey picture of 8 or 16 bits: save it as grey first")
    try:
        with Image.open(io.BytesIO(data), formats=["PNG"]) as picture:
            picture.load()
    except Exception as error:  # the library raises whatever its parsers met
        raise ValueError("is a damaged or cut-off PNG picture: export it again") from error
    if picture.mode not in ("L", "I;16", "I;16B", "I", "1"):
        raise ValueError("must be a grey picture of 8 or 16 bits: save it as grey first")
    return _compact(np.asarray(picture))


def _compact(samples: NDArray[Any]) -> Array:
    """Return samples as they are where each takes four bytes at most, as float64 otherwise; either way they count alike."""
    small = samples.dtype.kind in "iuf" and samples.dtype.itemsize <= 4
    compact: Array = samples if small else samples.astype(np.float64)
    return compact


def _npy(data: bytes) -> Array:
    return _array(io.BytesIO(data))


def _array(stream: IO[bytes]) -> Array:
    """Return the array that a stream holds, piece by piece where it is packed, so that it is in memory only once."""
    try:
        version = np.lib.format.read_magic(stream)
        header = np.lib.format.read_array_header_1_0 if version == (1, 0) else np.lib.format.read_array_header_2_0
        shape, _, kind = header(stream)
        _limit(int(np.prod([float(side) for side in shape])))
        if kind.kind not in "iuf":
            raise ValueError("must hold plain numbers")
        stream.seek(0)
        return _compact(np.lib.format.read_array(stream, allow_pickle=False))
    except Exception as error:  # the library raises whatever its parsers met
        if isinstance(error, ValueError) and str(error).startswith("must"):
            raise
        raise ValueError("is not a whole .npy array") from error


def _npz(data: bytes) -> Array:
    try:
        with zipfile.ZipFile(io.BytesIO(data)) as box:
            inside = [info for info in box.infolist() if info.filename.endswith(".npy")]
            if len(inside) != 1:
                raise ValueError(f"must hold exactly one array (it holds {len(inside)})")
            _limit(inside[0].file_size // 8)
            if inside[0].file_size > LARGEST_FILE:
                raise ValueError(f"must hold at most {LARGEST_FILE // 2**20} MB: thin it out")
            with box.open(inside[0]) as stream:
                return _array(stream)
    except Exception as error:  # the library raises whatever its parsers met
        if isinstance(error, ValueError) and str(error).startswith(("must", "is not a whole")):
            raise
        raise ValueError("is not a whole .npz file") from error


def _csv(data: bytes) -> Array:
    if len(data) > LARGEST_TABLE:
        raise ValueError(f"must be at most {LARGEST_TABLE // 2**20} MB as a table: save it as .npy, or thin it out")
    _limit(data.count(b",") + data.count(b"\n"))
    try:
        lines = (line for line in io.StringIO(data.decode("utf-8-sig")) if line.split("#")[0].strip())
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")  # an empty table is refused in our own words
            rows = np.loadtxt(lines, delimiter=",", ndmin=2, dtype=np.float64)
    except (ValueError, UnicodeDecodeError) as error:
        raise ValueError("must be a table of numbers, commas between them, every row as long as the first") from error
    _limit(rows.size)
    return rows


def read_mesh_heights(name: str, data: bytes, columns: int) -> tuple[Array, float]:
    """Return the heights of a mesh as seen from the front, (rows, columns), first row at the top, and the cell's size.

    x of the mesh is to the right, y up, z towards the viewer; where nothing is seen stands the mesh's lowest z.
    Raises ValueError when the file is not an STL, OBJ or GLB with triangles in it.
    """
    kind = Path(name).suffix.lower().removeprefix(".")
    if kind not in ("stl", "obj", "glb"):
        raise ValueError("must end in .stl, .obj or .glb")
    _refuse_large_mesh(kind, data)
    triangles = _triangles(kind, data)
    low, high = triangles.min(axis=(0, 1)), triangles.max(axis=(0, 1))
    if not np.isfinite([low, high]).all() or (high - low)[:2].min() <= 0:
        raise ValueError("must have some width and height when seen from the front, and finite corners")
    cell = float(high[0] - low[0]) / (columns - 1)
    rows = int(np.ceil((high[1] - low[1]) / cell - 1e-9)) + 1
    if rows * columns > MOST_SAMPLES:
        fewer = math.floor(columns * math.sqrt(MOST_SAMPLES / (rows * columns)))
        raise ValueError(
            f"must give at most {MOST_SAMPLES // 1_000_000} million heights (at {columns} columns they are {rows * columns}): "
            + (f"set columns to {fewer} or fewer" if fewer >= _FEWEST_COLUMNS else "it is much too tall for its width")
        )
    triangles = (triangles - [low[0], low[1], 0.0]) / [cell, cell, 1.0]
    _refuse_long_work(triangles, columns)
    heights = np.full(rows * columns, low[2])
    _draw_heights(heights, columns, triangles)
    return heights.reshape(rows, columns)[::-1], cell


def _refuse_large_mesh(kind: str, data: bytes) -> None:
    """Raise ValueError for more than a general library should be given, as the file itself says, before it sees the file."""
    counts = {"stl": _stl_triangles, "obj": _obj_triangles, "glb": _glb_triangles}
    count = counts[kind](data)
    if count > MOST_TRIANGLES:
        raise ValueError(
            f"must hold at most {MOST_TRIANGLES // 1_000_000} million triangles (it holds {count}): thin it out"
        )


def _stl_triangles(data: bytes) -> int:
    told = int.from_bytes(data[80:84], "little")
    if len(data) == 84 + 50 * told:
        return told
    return max(data.count(b"vertex"), data.count(b"VERTEX")) // 3


def _obj_triangles(data: bytes) -> int:
    count = 0
    for face in re.finditer(rb"^[ \t]*f[ \t]([^\r\n]*)", data.replace(b"\\\n", b" "), re.MULTILINE):
        corners = len(face[1].split())
        if corners > MOST_CORNERS:
            raise ValueError(
                f"must have faces of at most {MOST_CORNERS} corners (one has {corners}): cut its faces into triangles"
            )
        count += max(corners - 2, 1)
    return count


def _glb_triangles(data: bytes) -> int:
    """Return how many triangles a GLB draws, a part as often as it is placed (glTF 2.0, sections 3.5 to 3.7)."""
    try:
        told = json.loads(data[20 : 20 + int.from_bytes(data[12:16], "little")])
        counts = [int(one["count"]) for one in told.get("accessors", ())]
        meshes = [
            sum(counts[one.get("indices", one["attributes"]["POSITION"])] for one in mesh["primitives"])
            for mesh in told.get("meshes", ())
        ]
        nodes = told.get("nodes", ())
        placed = [meshes[node["mesh"]] for node in nodes if "mesh" in node]
    except Exception as error:  # whatever is missing or of another kind in it
        raise ValueError("is not a readable GLB mesh") from error
    if len(nodes) > _MOST_NODES:
        raise ValueError(f"must have at most {_MOST_NODES} parts (it has {len(nodes)}): join them")
    return int(max(sum(placed), sum(meshes), *counts, 0)) // 3


def _refuse_long_work(triangles: Array, columns: int) -> None:
    """Raise ValueError for triangles, corners in (column, row, z), that cover too many places in all."""
    across, up = (np.floor(np.ptp(triangles[:, :, axis], axis=1)) + 1.0 for axis in (0, 1))
    covered = float((across * up).sum())
    if covered > MOST_COVERED:
        fewer = max(_FEWEST_COLUMNS, math.floor(columns * math.sqrt(MOST_COVERED / covered)))
        raise ValueError(
            f"has triangles that cover {covered / 1e6:.0f} million places at {columns} columns, more than "
            f"{MOST_COVERED // 1_000_000} million: set columns to {fewer} or fewer, or take out what lies behind"
        )


def _triangles(kind: str, data: bytes) -> Array:
    import trimesh

    try:
        # An open stream gives the reader no folder in which it could follow names inside the file.
        mesh = trimesh.load(io.BytesIO(data), file_type=kind, force="mesh", process=False)
        triangles = np.asarray(getattr(mesh, "triangles", ()), dtype=np.float64)
    except Exception as error:  # the library raises whatever its parsers met
        raise ValueError(f"is not a readable {kind.upper()} mesh") from error
    if triangles.shape[1:] != (3, 3) or not len(triangles):
        raise ValueError("holds no triangles")
    return triangles


def _draw_heights(heights: Array, columns: int, triangles: Array) -> None:
    """Raise each cell to the highest triangle above it; corners are (column, row, z), triangles grouped by their size."""
    rows = len(heights) // columns
    first = np.ceil(triangles[:, :, :2].min(axis=1) - 1e-9).astype(np.int64)
    last = np.floor(triangles[:, :, :2].max(axis=1) + 1e-9).astype(np.int64)
    span = np.maximum((last - first).max(axis=1) + 1, 0)
    for power in range(int(span.max()).bit_length() + 1):
        side = 1 << power
        group = np.flatnonzero((span <= side) & (span > side // 2))
        tile = min(side, _TILE)
        chunk = max(1, 500_000 // (tile * tile))
        for start in range(0, len(group), chunk):
            some = group[start : start + chunk]
            wide, tall = (int(reach) for reach in (last[some] - first[some]).max(axis=0) + 1)
            for right in range(0, wide, tile):
                for up in range(0, tall, tile):
                    piece = (min(tile, wide - right), min(tile, tall - up))
                    _draw_group(heights, columns, rows, triangles[some], first[some] + np.array([right, up]), piece)


def _draw_group(
    heights: Array, columns: int, rows: int, triangles: Array, first: NDArray[np.int64], piece: tuple[int, int]
) -> None:
    i = first[:, 0, None, None] + np.arange(piece[0])[None, None, :]
    j = first[:, 1, None, None] + np.arange(piece[1])[None, :, None]
    a, b, c = (triangles[:, k, :, None, None] for k in range(3))
    area = (b[:, 0] - a[:, 0]) * (c[:, 1] - a[:, 1]) - (c[:, 0] - a[:, 0]) * (b[:, 1] - a[:, 1])
    with np.errstate(divide="ignore", invalid="ignore"):
        v = ((i - a[:, 0]) * (c[:, 1] - a[:, 1]) - (c[:, 0] - a[:, 0]) * (j - a[:, 1])) / area
        w = ((b[:, 0] - a[:, 0]) * (j - a[:, 1]) - (i - a[:, 0]) * (b[:, 1] - a[:, 1])) / area
        inside = (v >= -1e-9) & (w >= -1e-9) & (v + w <= 1 + 1e-9) & (i < columns) & (j < rows) & (i >= 0) & (j >= 0)
        z = a[:, 2] + v * (b[:, 2] - a[:, 2]) + w * (c[:, 2] - a[:, 2])
    np.maximum.at(heights, (j * columns + i)[inside], z[inside])
