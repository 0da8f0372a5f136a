"""Reading heights from files that stand beside a job: grey pictures, arrays, tables and meshes."""

from __future__ import annotations

import hashlib
import io
import zipfile
from collections.abc import Callable
from pathlib import Path, PureWindowsPath

import numpy as np
from numpy.typing import NDArray

from facade.arrays import Array

LARGEST_FILE = 256 * 1024 * 1024  # bytes
MOST_SAMPLES = 40_000_000
# Files mark their holes with numbers such as -3.4e38; no height is as large as this, whatever its unit.
GREATEST_SAMPLE = 1e9
# Triangles of a mesh that cover more cells than this, across or along, are drawn piece by piece.
_TILE = 512


def read_beside(folder: Path | None, name: str) -> bytes:
    """Return the bytes of file `name` inside `folder`; raises ValueError with the reason and the cure otherwise."""
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
        return path.read_bytes()
    except OSError as error:
        raise ValueError(f"cannot be read ({error.strerror or error})") from error


def fingerprint(data: bytes) -> str:
    """Return the SHA-256 of a file's bytes."""
    return hashlib.sha256(data).hexdigest()


def read_samples(name: str, data: bytes) -> Array:
    """Return the heights in a file as an array (rows, columns), first row at the top.

    The ending of the name says the form: .png (8 or 16 bit grey), .npy, .npz (one array), .csv. Raises ValueError.
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
    if np.abs(samples).max() > GREATEST_SAMPLE:
        raise ValueError(
            f"must hold heights of at most {GREATEST_SAMPLE:g} (it reaches {np.abs(samples).max():g}): fill its holes first"
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
    try:
        with Image.open(io.BytesIO(data), formats=["PNG"]) as picture:
            picture.load()
    except Exception as error:  # the library raises whatever its parsers met
        raise ValueError("is a damaged or cut-off PNG picture: export it again") from error
    if picture.mode not in ("L", "I;16", "I;16B", "I", "1"):
        raise ValueError("must be a grey picture of 8 or 16 bits: save it as grey first")
    return np.asarray(picture, dtype=np.float64)


def _npy(data: bytes) -> Array:
    stream = io.BytesIO(data)
    try:
        version = np.lib.format.read_magic(stream)
        header = np.lib.format.read_array_header_1_0 if version == (1, 0) else np.lib.format.read_array_header_2_0
        shape, _, kind = header(stream)
        _limit(int(np.prod([float(side) for side in shape])))
        if kind.kind not in "iuf":
            raise ValueError("must hold plain numbers")
        stream.seek(0)
        return np.asarray(np.load(stream, allow_pickle=False), dtype=np.float64)
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
            array = box.read(inside[0])
    except Exception as error:  # the library raises whatever its parsers met
        if isinstance(error, ValueError) and str(error).startswith("must"):
            raise
        raise ValueError("is not a whole .npz file") from error
    return _npy(array)


def _csv(data: bytes) -> Array:
    try:
        lines = [line for line in data.decode("utf-8-sig").splitlines() if line.split("#")[0].strip()]
        rows = np.loadtxt(lines, delimiter=",", ndmin=2, dtype=np.float64) if lines else np.empty((0, 0))
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
    triangles = _triangles(kind, data)
    low, high = triangles.min(axis=(0, 1)), triangles.max(axis=(0, 1))
    if not np.isfinite([low, high]).all() or (high - low)[:2].min() <= 0:
        raise ValueError("must have some width and height when seen from the front, and finite corners")
    cell = float(high[0] - low[0]) / (columns - 1)
    rows = int(np.ceil((high[1] - low[1]) / cell - 1e-9)) + 1
    _limit(rows * columns)
    heights = np.full(rows * columns, low[2])
    _draw_heights(heights, columns, (triangles - [low[0], low[1], 0.0]) / [cell, cell, 1.0])
    return heights.reshape(rows, columns)[::-1], cell


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
        chunk = max(1, 2_000_000 // (tile * tile))
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
