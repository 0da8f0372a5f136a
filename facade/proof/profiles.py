"""Profiles of strips on their side and plans of fixtures: DXF read by ezdxf, SVG beside it, sizes, times."""

from __future__ import annotations

import csv
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path, PurePosixPath
from typing import Any

import numpy as np

from facade.arrays import Array
from facade.cnc.fixture import fixtures
from facade.cnc.order import Order, Route
from facade.cnc.plan_parts import Plan
from facade.lengths import MM_PER_INCH, Unit
from facade.proof.compared import Compared
from facade.proof.readers import reader
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
# Lines that are further apart than this are not the same, mm.
_ELSEWHERE = 5.0


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


@lru_cache(maxsize=16)
def read_dxf(path: Path, unit: Unit) -> Read:
    """Return what a DXF holds, and what in it is not what a machine's program reads well; raises ValueError for what is none."""
    from ezdxf.filemanagement import readfile
    from ezdxf.lldxf.const import DXFError

    try:
        document = readfile(path)
    except (DXFError, OSError, UnicodeDecodeError) as error:
        raise ValueError(f"is no DXF: {error}") from error
    said = _UNITS.get(document.header.get("$INSUNITS", 0))
    faults = [] if said is unit else [f"does not say that it is in {_word(unit)}"]
    space: list[Any] = list(document.modelspace())
    other = sorted({one.dxftype() for one in space} - set(_KINDS))
    faults += [f"holds {', '.join(other)}, which not every program reads"] if other else []
    scale = (said or unit).in_mm
    runs = [
        Run(one.dxf.layer, np.array([point[:2] for point in one], dtype=np.float64) * scale, bool(one.closed))
        for one in space
        if one.dxftype() == "LWPOLYLINE"
    ]
    circles = [one for one in space if one.dxftype() == "CIRCLE"]
    holes = [(one.dxf.center.x * scale, one.dxf.center.y * scale, one.dxf.radius * scale) for one in circles]
    faults += [fault for run in runs for fault in _run_faults(run)]
    layers = tuple(one.dxf.layer for one in circles)
    return Read(tuple(runs), np.array(holes).reshape(-1, 3), tuple(dict.fromkeys(faults)), layers)


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


@reader("cnc-face/drawings/*_plan_mm.svg")
def compare_same(path: Path, name: str, truth: Truth) -> list[Compared]:
    """Compare every path of an SVG with the DXF of the same name, both read by others."""
    from facade.proof.svg import read_svg

    beside = next(
        (other for other in _dxf_names(name) if other in truth.files and (truth.folder / other).is_file()), None
    )
    sheet = read_svg(path)
    if beside is None:
        return [Compared(name, "", skipped="there is no DXF of its name to compare it with")]
    read = read_dxf(truth.folder / beside, truth.front.job.machine_unit)
    shown = [line.points for line in sheet.lines if line.name]
    cut = [run.places for run in read.runs]
    # Holes are circles in one and short lines in the other: their middles count.
    square = next(
        (line.points for line in sheet.lines if line.kind == "proof-square" or line.kind == "proof square"), None
    )
    if square is None or not cut:
        return [Compared(name, "", faults=("holds no proof square",))]
    move = square.min(axis=0) - cut[0].min(axis=0)
    off, missing = _matched([points - move for points in shown], cut, read.holes)
    faults = [f"lacks {missing} of the lines of {PurePosixPath(beside).name}"] if missing else []
    if off > ROUNDING:
        faults.append(f"its lines are up to {truth.length(off)} off those of {PurePosixPath(beside).name}")
    faults += [fault for fault in truth.mark_faults(path.read_text("utf-8")) if fault]
    return [
        Compared(
            name,
            "every line with the DXF of its name; mark",
            points=sum(map(len, shown)),
            deviation=off if np.isfinite(off) else None,
            allowed=ROUNDING,
            faults=tuple(faults),
        )
    ]


def _dxf_names(name: str) -> list[str]:
    stem = name.removesuffix(".svg")
    return [f"{stem}.dxf", f"{stem.removesuffix('_mm')}_inch.dxf"]


def _matched(shown: Sequence[Array], cut: Sequence[Array], holes: Array) -> tuple[float, int]:
    """Return how far the runs that are in both are off at most, mm, and how many of the cut are not shown at all."""
    boxes = np.array([[*points.min(axis=0), *points.max(axis=0)] for points in shown])
    off, missing = 0.0, 0
    for run in cut:
        apart = np.abs(boxes - [*run.min(axis=0), *run.max(axis=0)]).max(axis=1)
        # A path of several runs is larger than each of them.
        near = np.flatnonzero(apart <= max(float(apart.min()), ROUNDING) + 1e-3).tolist()
        least = min(apart_of(shown[index], run) for index in near)
        if least > _ELSEWHERE:
            least = min(_farthest(run, points) for points in shown)
        missing += least > _ELSEWHERE
        off = max(off, least if least <= _ELSEWHERE else 0.0)
    middles = (boxes[:, :2] + boxes[:, 2:]) / 2
    for x, y, _ in holes.tolist():
        off = max(off, float(np.abs(middles - [x, y]).max(axis=1).min()))
    return off, missing


def apart_of(one: Array, other: Array) -> float:
    """Return how far the places of two runs are apart at most: one by one where they are as many, otherwise each from the nearest."""
    if len(one) == len(other):
        least = min(float(np.abs(one - some).max()) for some in (other, other[::-1]))
        if least <= ROUNDING:
            return least
    return max(_farthest(one, other), _farthest(other, one))


def _farthest(some: Array, others: Array) -> float:
    """Return how far any of some places is from the nearest of the others."""
    return float(np.abs(some[:, None, :] - others[None, :, :]).max(axis=2).min(axis=1).max())


@reader("cnc-face/drawings/*_plan_*.dxf")
def compare_plan(path: Path, name: str, truth: Truth) -> list[Compared]:
    """Compare a fixture's strips, screws and what is kept clear with where they lie."""
    order = Order.of_data(Route.FACE, truth.manifest["cnc"]["face"])
    fixture = next(one for one in fixtures(truth.front, order) if PurePosixPath(name).name.startswith(f"{one.name}_"))
    read, plan = read_dxf(path, truth.front.job.machine_unit), Plan(fixture)
    faults = [*read.faults, *square_faults(truth, read)]
    boxes = np.array([[*run.min(axis=0), *run.max(axis=0)] for run in read.on("outline")]).reshape(-1, 4)
    wanted = np.array(
        [[left, 0.0, right, fixture.length] for left, right in zip(fixture.lefts, fixture.rights, strict=True)]
    )
    across, along = truth.front.job.first_strip
    wanted = wanted + np.array([across, along, across, along])
    off = float(np.abs(boxes - wanted).max()) if boxes.shape == wanted.shape else np.inf
    screws = np.array([[screw.x, screw.y] for screw in fixture.screws()]).reshape(-1, 2) + np.array([across, along])
    for screw in screws:
        apart = np.abs(read.holes[:, :2] - screw).max(axis=1) if len(read.holes) else np.array([np.inf])
        off = max(off, float(apart.min()))
    if off > ROUNDING:
        faults.append(
            "its strips or screws are not where they lie on the fixture"
            if not np.isfinite(off)
            else f"its strips or screws are up to {truth.length(off)} off"
        )
    faults += _clamp_faults(read, plan)
    return [
        Compared(
            name,
            "unit, proof square; strips and screws with the fixture; clamps outside what is kept clear",
            points=4 * len(boxes) + len(screws),
            deviation=off if np.isfinite(off) else None,
            allowed=ROUNDING,
            faults=tuple(faults),
        )
    ]


def _clamp_faults(read: Read, plan: Plan) -> Iterator[str]:
    """Yield the fault of a clamp that stands where the cutter passes."""
    keep = read.on("keep-out")
    if not keep:
        yield "shows nothing that is kept clear"
        return
    low, high = keep[0].min(axis=0), keep[0].max(axis=0)
    for clamp in read.on("clamps"):
        if (clamp.max(axis=0) > low + ROUNDING).all() and (clamp.min(axis=0) < high - ROUNDING).all():
            yield "shows a clamp inside what is kept clear"


@reader("cnc-face/times.csv")
def compare_times(path: Path, name: str, truth: Truth) -> list[Compared]:
    """Compare the table of times with the files that there are, and its sum."""
    *rows, total = csv.DictReader(path.read_text("utf-8").splitlines())
    minutes = sum(float(row["minutes"]) for row in rows)
    faults = [
        f"names {row['file']}, which is not there" for row in rows if f"cnc-face/{row['file']}" not in truth.files
    ]
    if abs(minutes - float(total["minutes"])) > 0.051 * max(1, len(rows)):
        faults.append(f"its minutes add up to {minutes:.1f}, not {total['minutes']}")
    return [Compared(name, "its files, its sum", points=len(rows), faults=tuple(faults))]


@reader("cnc-face/drawings/*_plan.pdf", "cnc-face/job-sheet.pdf")
def compare_plan_sheet(path: Path, name: str, truth: Truth) -> list[Compared]:
    """Compare the mark and the strips that a plan's sheets name."""
    import pypdfium2

    document = pypdfium2.PdfDocument(path)
    pages = [document[index].get_textpage().get_text_bounded() for index in range(len(document))]
    faults = [fault for page in pages for fault in truth.mark_faults(page)]
    faults += [
        f"does not say that it is sheet {number} of {len(pages)}"
        for number, page in enumerate(pages, start=1)
        if f"{number} of {len(pages)}" not in page
    ]
    return [Compared(name, "mark and number of every page", points=len(pages), faults=tuple(dict.fromkeys(faults)))]


@reader("cnc-face/*.txt", "cnc-face/solids/*.txt", "cnc-face/solids/strips/*.txt")
def compare_words(path: Path, name: str, truth: Truth) -> list[Compared]:
    """Compare the mark in a text."""
    return [Compared(name, "mark", faults=tuple(truth.mark_faults(path.read_text("utf-8"))))]
