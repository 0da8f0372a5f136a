"""Drawings for machines: DXF read by ezdxf, its plain entities apart, and what in it is not what a machine's program reads well."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path
from typing import Any

import numpy as np

from facade.arrays import Array
from facade.lengths import MM_PER_INCH, Unit
from facade.proof.plain_dxf import Parts, read_plain
from facade.proof.truth import ROUNDING, Truth

# DXF reference: $INSUNITS 1 inch, 4 millimetre.
_UNITS = {1: Unit.INCH, 4: Unit.MM}
_KINDS = ("LWPOLYLINE", "CIRCLE")
# Sides of the proof square, and the shortest piece of a run that machines take without hesitating, mm.
_SQUARE = {Unit.MM: 100.0, Unit.INCH: 4 * MM_PER_INCH}
_SHORTEST = 0.2
_OPEN_ON = ("left line", "right line", "saw line", "saw to length", "number", "zero", "wedges")
_CUTS = ("face cut", "step cut", "end cut")
_LINES = (
    "outline",
    "outline - not a cut",
    "left line",
    "right line",
    "saw line",
    *_CUTS,
    *(f"{cut} middle" for cut in _CUTS),
)


@dataclass(frozen=True)
class Run:
    """A run of lines of a drawing for a machine: its layer, its places (n, 2) in mm, whether it is closed."""

    layer: str
    places: Array
    closed: bool


@dataclass(frozen=True)
class Read:
    """A drawing for a machine as read: its runs in their order, holes as x, y and radius in mm (n, 3), and what is wrong with it.

    `hole_layers` are the layers of the holes.
    """

    runs: tuple[Run, ...]
    holes: Array
    faults: tuple[str, ...] = ()
    hole_layers: tuple[str, ...] = ()

    def on(self, layer: str) -> list[Array]:
        """Return the places of the runs on a layer."""
        return [run.places for run in self.runs if run.layer == layer]

    def holes_on(self, layer: str) -> Array:
        """Return the holes on a layer, (n, 3)."""
        return self.holes[[name == layer for name in self.hole_layers]]

    @property
    def layers(self) -> set[str]:
        """The layers that hold something."""
        return {run.layer for run in self.runs} | set(self.hole_layers)


# What stands around the entities of the files that were read whole, and the unit that these say.
_whole: dict[tuple[str, ...], Unit | None] = {}
_MOST_WHOLE = 64


@lru_cache(maxsize=16)
def read_dxf(path: Path, unit: Unit) -> Read:
    """Return what a DXF holds, and what in it is not what a machine's program reads well; raises ValueError for what is none.

    Of files that are the same around their entities one is read whole, and of the others the entities, where these are plain.
    """
    plain = _plain(path)
    if plain is None:
        return _read_whole(path, unit)[0]
    if plain.around not in _whole:
        read, said = _read_whole(path, unit)
        if len(_whole) >= _MOST_WHOLE:
            _whole.clear()
        _whole[plain.around] = said
        return read
    said = _whole[plain.around]
    return _read(said, unit, plain.runs, plain.circles)


def _plain(path: Path) -> Parts | None:
    try:
        return read_plain(path.read_bytes().decode("utf-8"))
    except UnicodeDecodeError:
        return None


def _read_whole(path: Path, unit: Unit) -> tuple[Read, Unit | None]:
    """Return what a DXF holds as ezdxf reads all of it, and the unit that it says, None for one that is not known."""
    from ezdxf.filemanagement import readfile
    from ezdxf.lldxf.const import DXFError

    try:
        document = readfile(path)
    except (DXFError, OSError, UnicodeDecodeError) as error:
        raise ValueError(f"is no DXF: {error}") from error
    said = _UNITS.get(document.header.get("$INSUNITS", 0))
    space: list[Any] = list(document.modelspace())
    other = sorted({one.dxftype() for one in space} - set(_KINDS))
    strange = [f"holds {', '.join(other)}, which not every program reads"] if other else []
    runs = [
        (one.dxf.layer, np.array([point[:2] for point in one], dtype=np.float64), bool(one.closed))
        for one in space
        if one.dxftype() == "LWPOLYLINE"
    ]
    circles = [
        (one.dxf.layer, one.dxf.center.x, one.dxf.center.y, one.dxf.radius)
        for one in space
        if one.dxftype() == "CIRCLE"
    ]
    return _read(said, unit, runs, circles, strange), said


def _read(
    said: Unit | None,
    unit: Unit,
    found: Sequence[tuple[str, Array, bool]],
    circles: Sequence[tuple[str, float, float, float]],
    strange: Sequence[str] = (),
) -> Read:
    """Return what is read of runs and circles in the unit that a file says."""
    faults = [] if said is unit else [f"does not say that it is in {_word(unit)}"]
    faults += strange
    scale = (said or unit).in_mm
    runs = tuple(Run(layer, places * scale, closed) for layer, places, closed in found)
    faults += [fault for run in runs for fault in _run_faults(run)]
    holes = np.array([[number * scale for number in one[1:]] for one in circles]).reshape(-1, 3)
    return Read(runs, holes, tuple(dict.fromkeys(faults)), tuple(one[0] for one in circles))


def _word(unit: Unit) -> str:
    return "mm" if unit is Unit.MM else "inches"


def _run_faults(run: Run) -> Iterator[str]:
    if not np.isfinite(run.places).all() or len(run.places) < 2:
        yield f"has a run on the layer {run.layer!r} that is none"
        return
    opened = run.layer in _OPEN_ON or run.layer.removesuffix(" middle") in _CUTS
    if opened == run.closed and run.layer != "wedges":
        yield f"has {'a closed' if run.closed else 'an open'} run on the layer {run.layer!r}"
    pieces = np.hypot(*np.diff(run.places, axis=0).T)
    if run.layer in _LINES and float(pieces.min()) < _SHORTEST - ROUNDING:
        yield f"has a piece of {float(pieces.min()):.3f} mm on the layer {run.layer!r}"
    if run.closed and float(np.abs(run.places[0] - run.places[-1]).max()) < ROUNDING / 2:
        yield f"doubles the first place of a run on the layer {run.layer!r}"
    if run.closed and _area(run.places) < 0.0:
        yield f"has a run on the layer {run.layer!r} that goes clockwise"


def _area(places: Array) -> float:
    x, y = places.T
    return float(np.dot(x, np.roll(y, -1)) - np.dot(y, np.roll(x, -1))) / 2


def square_faults(truth: Truth, read: Read) -> list[str]:
    """Return what is wrong with the proof square: it must come first, and be true."""
    side = _SQUARE[truth.front.job.unit]
    if not read.runs or read.runs[0].layer != "proof square":
        return ["does not begin with the proof square"]
    found = np.ptp(read.runs[0].places, axis=0)
    if float(np.abs(found - side).max()) <= ROUNDING:
        return []
    return [
        f"its proof square is {truth.length(float(found[0]))} by {truth.length(float(found[1]))}, not {truth.length(side)}"
    ]


def apart_of(one: Array, other: Array) -> float:
    """Return how far the places of two runs are apart at most: one by one where they are as many, otherwise each from the nearest."""
    if len(one) == len(other):
        least = min(float(np.abs(one - some).max()) for some in (other, other[::-1]))
        if least <= ROUNDING:
            return least
    round_one, round_other = _without_end(one), _without_end(other)
    if len(round_one) == len(round_other):
        # A closed run may begin elsewhere, or say its first place once more.
        for some in (round_other, round_other[::-1]):
            start = int(np.abs(some - round_one[0]).max(axis=1).argmin())
            turned: Array = np.roll(some, -start, axis=0) if start else some
            least = float(np.abs(round_one - turned).max())
            if least <= ROUNDING:
                return least
    return max(_farthest(one, other), _farthest(other, one))


def _without_end(run: Array) -> Array:
    """Return the places of a run without its last one where that is its first again."""
    return run[:-1] if len(run) > 1 and float(np.abs(run[0] - run[-1]).max()) <= ROUNDING else run


def _farthest(some: Array, others: Array) -> float:
    """Return how far any of some places is from the nearest of the others."""
    return float(np.abs(some[:, None, :] - others[None, :, :]).max(axis=2).min(axis=1).max())
