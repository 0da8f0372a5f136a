"""Grid and mesh: reliefs read from a file beside the job, such as real terrain, a scan or a modelled shape."""

from __future__ import annotations

from abc import abstractmethod
from collections.abc import Callable
from enum import StrEnum
from functools import cached_property
from pathlib import Path, PurePosixPath
from typing import Annotated, Any, Literal

import numpy as np
from pydantic import Field, PrivateAttr, ValidationInfo, model_validator

from facade.arrays import Array
from facade.errors import shortened
from facade.fields import Place, about, whole_number
from facade.reliefs.base import Canvas, Heights, Relief, relief_kind
from facade.reliefs.samples import (
    LARGEST_FILE,
    MOST_SAMPLES,
    bytes_of,
    file_beside,
    fingerprint,
    read_mesh_heights,
    read_samples,
)

# Heights times rounds: some seconds.
_MOST_SMOOTHED = 200_000_000
_MOST_REFUSED = 3

# Share of the range of a file's heights to which straight lines between some of them must tell the others: a grey of 256.
_TOLD = 4e-3


class Fill(StrEnum):
    """How a file's heights are laid on a front of another shape."""

    COVER = "cover"
    STRETCH = "stretch"


def catmull_rom(t: Array) -> Array:
    """Return the weights (n, 4) of the samples before, at, after and next but one, at the share t between two samples.

    The spline passes through every sample and its slope is continuous (E. Catmull and R. Rom, 1974).
    """
    square, cube = t * t, t * t * t
    weights: Array = 0.5 * np.stack(
        [2 * square - cube - t, 3 * cube - 5 * square + 2, 4 * square - 3 * cube + t, cube - square], axis=-1
    )
    return weights


def spline_heights(samples: Array, column: Array, row: Array, value: Callable[[Array], Array] = np.asarray) -> Array:
    """Return the spline through `samples` (rows, columns) at places counted in samples; beyond the border it is level.

    `value` turns samples into heights: only those that are needed, so that a large picture is never held twice.
    """
    if column.ndim == row.ndim == 2 and column.shape[0] == 1 and row.shape[1] == 1:
        return _spline_on_grid(samples, column[0], row[:, 0], value)
    column, row = np.broadcast_arrays(column, row)
    i, across = _cells(column, samples.shape[1])
    j, down = _cells(row, samples.shape[0])
    total: Array = np.zeros(column.shape)
    for k in range(4):
        line = sum(across[..., m] * value(samples[j[..., k], i[..., m]]) for m in range(4))
        total += down[..., k] * line
    return total


def _cells(place: Array, count: int) -> tuple[Any, Array]:
    """Return the indexes (..., 4) of the samples around each place, and their weights."""
    place = np.clip(place, 0.0, count - 1.0)
    low = np.minimum(np.floor(place), count - 2.0)
    around = low[..., None].astype(np.intp) + np.arange(-1, 3)
    weights = catmull_rom(place - low)
    # A sample beyond the border lies in line with the last two: a slope runs straight on to the very edge.
    beyond = np.where(low == 0.0, weights[..., 0], 0.0)
    weights[..., :3] += beyond[..., None] * [-1.0, 2.0, -1.0]
    beyond = np.where(low == count - 2.0, weights[..., 3], 0.0)
    weights[..., 1:] += beyond[..., None] * [-1.0, 2.0, -1.0]
    return np.clip(around, 0, count - 1), weights


def _spline_on_grid(samples: Array, column: Array, row: Array, value: Callable[[Array], Array]) -> Array:
    i, across = _cells(column, samples.shape[1])
    j, down = _cells(row, samples.shape[0])
    first, last, top, bottom = int(i.min()), int(i.max()) + 1, int(j.min()), int(j.max()) + 1
    if bottom - top <= j.size:
        samples, j = value(samples[top:bottom, first:last]), j - top
        lines: Array = sum(down[:, k, None] * samples[j[:, k]] for k in range(4))
    else:
        lines = sum(down[:, k, None] * value(samples[j[:, k], first:last]) for k in range(4))  # type: ignore[assignment]
    grid: Array = sum(lines[:, i[:, m] - first] * across[:, m] for m in range(4))  # type: ignore[assignment]
    return grid


class _File:
    """The bytes of a file beside the job, and their fingerprint, worked out once."""

    def __init__(self, data: bytes) -> None:
        self.data = data

    @cached_property
    def fingerprint(self) -> str:
        return fingerprint(self.data)


class _Files:
    """What the layers of one job have read: each file once, all its heights within one limit."""

    def __init__(self) -> None:
        self._files: dict[Path, _File] = {}
        self._samples: dict[tuple[Any, ...], Array] = {}
        self._refused: dict[tuple[Any, ...], str] = {}

    def read(self, folder: Path | None, layer: FileRelief) -> tuple[_File, Array]:
        """Return a layer's file and heights; raises ValueError with the reason and the cure."""
        path = file_beside(folder, layer.file)
        asked = (path, *layer.form)
        if asked not in self._samples:
            self._refuse_again(asked)
            try:
                self._samples[asked] = self._heights(path, layer)
            except ValueError as error:
                self._refused[asked] = str(error)
                raise
        return self._files[path], self._samples[asked]

    def _refuse_again(self, asked: tuple[Any, ...]) -> None:
        """Raise ValueError for what was refused before: reading it takes time."""
        if asked in self._refused:
            raise ValueError(self._refused[asked])
        if len(self._refused) >= _MOST_REFUSED:
            raise ValueError("is not looked at yet: mend the files of the layers before it first")

    def _heights(self, path: Path, layer: FileRelief) -> Array:
        if path not in self._files:
            size = path.stat().st_size + sum(len(file.data) for file in self._files.values())
            if size > LARGEST_FILE:
                raise ValueError(
                    f"and the files of the layers before it must be at most {LARGEST_FILE // 2**20} MB in all: thin them out"
                )
            self._files[path] = _File(bytes_of(path))
        samples = layer.decode(self._files[path].data)
        held = samples.size + sum(other.size for other in self._samples.values())
        if held > MOST_SAMPLES:
            raise ValueError(
                f"and the files of the layers before it must hold at most {MOST_SAMPLES // 1_000_000} million heights in all "
                f"(they hold {held / 1e6:.0f} million): thin them out, or give layers of one file the same smoothing"
            )
        work = samples.size * layer.smoothing
        if work > _MOST_SMOOTHED:
            rounds = _MOST_SMOOTHED // samples.size
            raise ValueError(
                f"holds {samples.size / 1e6:.1f} million heights, too many for {layer.smoothing} rounds of smoothing: "
                f"set smoothing to {rounds} or less, or thin it out"
            )
        return _smooth(samples, layer.smoothing)


class FileRelief(Relief):
    """A relief whose heights come from a file in the job's folder."""

    file: Annotated[str, Field(max_length=255)] = about("name of the file, in the folder of the job file")
    fill: Fill = about(
        "cover: the file's shape is kept and what is too much cut off; stretch: it is stretched over the front",
        Fill.COVER,
    )
    smoothing: whole_number(0, 200) = about("rounds of smoothing, each with a sample's next neighbours", 0)  # type: ignore[valid-type]
    rise: Place | None = about(
        "height of a value of 1; left out, the file's values are brought to the range 0 to 1", None
    )

    _samples: Array = PrivateAttr()
    _file: _File = PrivateAttr()

    @model_validator(mode="after")
    def _read(self, info: ValidationInfo) -> FileRelief:
        context = info.context or {}
        shared: _Files = context.setdefault("read", {}).setdefault("files", _Files())
        try:
            self._file, self._samples = shared.read(context.get("folder"), self)
        except ValueError as error:
            raise ValueError(f"`file` {error} (got {shortened(self.file)!r})") from error
        return self

    @property
    def form(self) -> tuple[str | int, ...]:
        """What besides the file decides its heights: layers that agree in it share them."""
        return (type(self).__name__, self.smoothing)

    @abstractmethod
    def decode(self, data: bytes) -> Array:
        """Return the heights that a file's bytes hold, (rows, columns), first row at the top; raises ValueError."""

    def fingerprint(self) -> str:
        return self._file.fingerprint

    def files(self) -> dict[str, bytes]:
        return {PurePosixPath(self.file.replace("\\", "/")).as_posix(): self._file.data}

    def heights(self, canvas: Canvas) -> Heights:
        samples, rise = self._samples, self.rise
        low, high = float(samples.min()), float(samples.max())

        def value(part: Array) -> Array:
            part = np.asarray(part, dtype=np.float64)
            return (part - low) / (high - low or 1.0) if rise is None else part * rise

        rows, columns = samples.shape
        cell_x, cell_y = self._cell(canvas)
        left = (canvas.width - cell_x * (columns - 1)) / 2
        top = (canvas.height + cell_y * (rows - 1)) / 2

        def from_file(x: Array, y: Array) -> Array:
            return spline_heights(samples, (x - left) / cell_x, (top - y) / cell_y, value)

        return from_file

    def finest(self, canvas: Canvas) -> float:
        """Return four times as far as samples may be apart that tell the shape: two samples and the two beside them make a wave."""
        across, along = self._cell(canvas)
        return 4.0 * min(across * _apart(self._samples.T), along * _apart(self._samples))

    def _cell(self, canvas: Canvas) -> tuple[float, float]:
        """Return how far samples are apart across and along, mm."""
        rows, columns = self._samples.shape
        across, along = canvas.width / (columns - 1), canvas.height / (rows - 1)
        return (max(across, along),) * 2 if self.fill is Fill.COVER else (across, along)


def _apart(samples: Array) -> int:
    """Return how many rows apart samples still tell all of those between them, in straight lines, to a grey of 256."""
    close = _TOLD * float(np.ptp(samples))
    apart = 1
    while 4 * apart < len(samples):
        kept = samples[:: 2 * apart]
        # What lies midway is off the most where the shape bends; a sample that is left out lies midway at some doubling.
        between = samples[apart :: 2 * apart][: len(kept) - 1]
        if float(np.abs((kept[:-1] + kept[1:]) / 2.0 - between).max(initial=0.0)) > close:
            break
        apart *= 2
    return apart


def _smooth(samples: Array, rounds: int) -> Array:
    for _ in range(rounds):
        padded = np.pad(samples, 1, mode="edge")
        lines = 0.25 * padded[:-2] + 0.5 * padded[1:-1] + 0.25 * padded[2:]
        samples = 0.25 * lines[:, :-2] + 0.5 * lines[:, 1:-1] + 0.25 * lines[:, 2:]
    return samples


@relief_kind
class Grid(FileRelief):
    """Heights on a grid: light is high in a grey picture."""

    summary = "heights from a grey picture, an array or a table: terrain, a scan"
    example = {"file": "valley.png", "smoothing": 1}

    kind: Literal["grid"] = "grid"

    def decode(self, data: bytes) -> Array:
        return read_samples(self.file, data)


@relief_kind
class Mesh(FileRelief):
    """A mesh seen from the front: x to the right, y up, z towards the viewer."""

    summary = "the shape of an STL, OBJ or GLB as seen from the front"
    example = {"file": "shell.stl", "smoothing": 2}

    kind: Literal["mesh"] = "mesh"
    columns: whole_number(16, 4000) = about("how finely the mesh is looked at, in places across its width", 600)  # type: ignore[valid-type]

    @property
    def form(self) -> tuple[str | int, ...]:
        return (*super().form, self.columns)

    def decode(self, data: bytes) -> Array:
        return read_mesh_heights(self.file, data, self.columns)[0]
