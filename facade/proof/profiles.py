"""Profiles of strips on their side and plans of fixtures: DXF read by ezdxf, SVG beside it, sizes, times."""

from __future__ import annotations

import csv
import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path, PurePosixPath
from typing import Any

import numpy as np

from facade.arrays import Array
from facade.cnc.fixture import fixtures
from facade.cnc.order import Order, Route, wanted_strips
from facade.cnc.plan_parts import Plan
from facade.cnc.profiles import SHORTEST, SQUARE, batches, room_between
from facade.layout import StripPlace
from facade.lengths import Unit
from facade.proof.compared import Compared, joined, spread_along
from facade.proof.readers import reader
from facade.proof.truth import ROUNDING, Truth
from facade.slicer import edge_heights

# DXF reference: $INSUNITS 1 inch, 4 millimetre.
_UNITS = {1: Unit.INCH, 4: Unit.MM}
_KINDS = ("LWPOLYLINE", "CIRCLE")
SIZES_NAME = "cnc-side/sizes.csv"
_SIZES_WHAT = "length, width and greatest height with the outlines in the DXF files"
_CLOSED = ("outline", "blank", "keep-out", "proof square")
_LINES = ("outline", "left line", "right line", "saw line")
_SCALED = {25.4: ": inches read as mm?", 0.039: ": mm read as inches?"}
# Lines that are further apart than this are not the same, mm.
_ELSEWHERE = 5.0
# A guess at what happened to a strip's lines is right where it brings them this close, mm.
_NEAR = 0.03
_BETWEEN = 0.25  # mm between places that are looked at along a profile
_STRIP = re.compile(r"strip-(\d+)_")
_TOGETHER = re.compile(r"together-(\d+)_")


@dataclass(frozen=True)
class Run:
    """A run of lines of a drawing for a machine: its layer, its places (n, 2) in mm, whether it is closed."""

    layer: str
    places: Array
    closed: bool


@dataclass(frozen=True)
class Read:
    """A drawing for a machine as read: its runs in their order, holes as x, y and radius in mm (n, 3), and what is wrong with it."""

    runs: tuple[Run, ...]
    holes: Array
    faults: tuple[str, ...] = ()

    def on(self, layer: str) -> list[Array]:
        """Return the places of the runs on a layer."""
        return [run.places for run in self.runs if run.layer == layer]


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
    holes = [
        (one.dxf.center.x * scale, one.dxf.center.y * scale, one.dxf.radius * scale)
        for one in space
        if one.dxftype() == "CIRCLE"
    ]
    faults += [fault for run in runs for fault in _run_faults(run)]
    return Read(tuple(runs), np.array(holes).reshape(-1, 3), tuple(dict.fromkeys(faults)))


def _word(unit: Unit) -> str:
    return "mm" if unit is Unit.MM else "inches"


def _run_faults(run: Run) -> Iterator[str]:
    if not np.isfinite(run.places).all() or len(run.places) < 2:
        yield f"has a run on the layer {run.layer!r} that is none"
        return
    if run.layer in _CLOSED and not run.closed:
        yield f"has an open run on the layer {run.layer!r}"
    pieces = np.hypot(*np.diff(run.places, axis=0).T)
    if run.layer in _LINES and float(pieces.min()) < SHORTEST - ROUNDING:
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
    side = SQUARE[truth.front.job.unit]
    if not read.runs or read.runs[0].layer != "proof square":
        return ["does not begin with the proof square"]
    found = np.ptp(read.runs[0].places, axis=0)
    if float(np.abs(found - side).max()) <= ROUNDING:
        return []
    return [
        f"its proof square is {truth.length(float(found[0]))} by {truth.length(float(found[1]))}, not {truth.length(side)}"
    ]


@reader("cnc-side/strips/*.dxf", "cnc-side/together/*.dxf")
def compare_profiles(path: Path, name: str, truth: Truth) -> list[Compared]:
    """Compare outlines, edge lines and saw lines with the surface, strip by strip."""
    read = read_dxf(path, truth.front.job.machine_unit)
    faults = [*read.faults, *square_faults(truth, read)]
    places = _meant(name, truth)
    if len(read.on("outline")) != len(places):
        return [Compared(name, "", faults=(*faults, f"holds {len(read.on('outline'))} outlines, not {len(places)}"))]
    pitch = truth.front.job.wood.blank + room_between(truth.front)
    parts = [_profile(truth, name, read, place, index, index * pitch) for index, place in enumerate(places)]
    whole = joined(parts)
    rows = _size_row(truth, name, read.on("outline")[0], places[0]) if _STRIP.match(PurePosixPath(name).name) else ()
    return [
        *rows,
        Compared(
            name,
            "unit, proof square, layers, closed outlines; outline, both edge lines and saw line with the surface",
            points=whole.points,
            deviation=whole.deviation,
            allowed=whole.allowed,
            least=whole.least,
            faults=(*faults, *whole.faults),
            along=whole.along,
            failed=tuple(place.number for place in places) if faults else whole.failed,
        ),
    ]


def _meant(name: str, truth: Truth) -> list[StripPlace]:
    """Return the strips that a file is of, by its name; raises KeyError for one that no order gives."""
    stem = PurePosixPath(name).name
    alone = _STRIP.match(stem)
    if alone:
        return [truth.front.layout.strip(int(alone[1]))]
    together = _TOGETHER.match(stem)
    order = Order.of_data(Route.SIDE, truth.manifest["cnc"]["side"])
    found = batches(truth.front, order)
    if together is None or not 1 <= int(together[1]) <= len(found):
        raise KeyError("no strips of this front are called so")
    return found[int(together[1]) - 1]


def _profile(truth: Truth, name: str, read: Read, place: StripPlace, index: int, up: float) -> Compared:
    """Return what comes of one strip's lines, whose back lies at the height `up` in the file."""
    job = truth.front.job
    x = np.linspace(0.0, place.length, max(2, round(place.length / _BETWEEN)) + 1)
    left, right = edge_heights(truth.front.surface, place, place.length - x)
    higher, blank = np.maximum(left, right), job.wood.blank
    wanted = {
        "outline": np.minimum(higher + job.wood.sanding, blank),
        "left line": left,
        "right line": right,
        "saw line": np.minimum(higher + job.wood.sawing, blank),
    }
    allowed = job.machine.side.tolerance + ROUNDING
    found, faults = {}, []
    for layer, heights in wanted.items():
        runs = read.on(layer)
        if index >= len(runs):
            faults.append(f"has no {layer} for strip {place.number}")
            continue
        line = runs[index] - [0.0, up]
        found[layer] = np.abs(np.interp(x, *_face(line, closed=layer == "outline").T) - heights)
        faults += _size_faults(truth, line, place, layer)
    off = np.max(list(found.values()), axis=0) if found else np.zeros(1)
    worst = float(off.max())
    if worst > allowed and not faults:
        faults.append(_guessed(truth, read, place, index, up, wanted) or _where(truth, found, place, x))
    outline = read.on("outline")[index] - [0.0, up]
    least = float(_face(outline, closed=True)[:, 1].min())
    return Compared(
        name,
        "",
        points=len(x) * len(found),
        deviation=worst,
        allowed=allowed,
        least=least,
        faults=tuple(faults),
        along={place.number: spread_along(place.length - x, off, place.length)} if found else {},
        failed=(place.number,) if faults else (),
    )


def _face(line: Array, *, closed: bool) -> Array:
    """Return the part of a line that runs along the face, from left to right: of a closed one all but its back."""
    face = line[line[:, 1] > 0.5] if closed else line
    return np.asarray(face[np.argsort(face[:, 0], kind="stable")])


def _size_faults(truth: Truth, line: Array, place: StripPlace, layer: str) -> Iterator[str]:
    first, last = float(line[:, 0].min()), float(line[:, 0].max())
    if abs(first) > ROUNDING or abs(last - place.length) > ROUNDING:
        ratio = (last - first) / place.length
        said = _SCALED.get(round(ratio, 3), "")
        yield f"its {layer} runs from {truth.length(first)} to {truth.length(last)}, not from 0 to {truth.length(place.length)}{said}"


def _guessed(truth: Truth, read: Read, place: StripPlace, index: int, up: float, wanted: dict[str, Array]) -> str:
    """Return what may have happened to a strip's lines, in words: mirrored, sides exchanged, of another strip; "" for none of these."""
    lines = {layer: read.on(layer)[index] - [0.0, up] for layer in ("left line", "right line")}
    x = np.linspace(0.0, place.length, len(wanted["left line"]))
    seen = {layer: np.interp(x, *line[np.argsort(line[:, 0])].T) for layer, line in lines.items()}
    tries = [(place.number, "")] + [
        (number, f"is strip {number}'s surface") for number in range(1, truth.front.count + 1) if number != place.number
    ]
    for number, whose in tries:
        other = truth.front.layout.strip(number)
        left, right = edge_heights(truth.front.surface, other, other.length - x)
        for turned, said in ((False, ""), (True, "looks mirrored end for end")):
            for exchanged, swapped in ((False, ""), (True, "left and right are exchanged")):
                a, b = (right, left) if exchanged else (left, right)
                a, b = (a[::-1], b[::-1]) if turned else (a, b)
                if max(np.abs(seen["left line"] - a).max(), np.abs(seen["right line"] - b).max()) < _NEAR:
                    return ", and ".join(filter(None, (whose, said, swapped)))
    return ""


def _where(truth: Truth, found: dict[str, Array], place: StripPlace, x: Array) -> str:
    layer = max(found, key=lambda name: float(found[name].max()))
    index = int(found[layer].argmax())
    return (
        f"its {layer} of strip {place.number} is {truth.length(float(found[layer].max()))} off, "
        f"{truth.length(place.length - float(x[index]))} from the top"
    )


@reader("cnc-side/strips/*.svg", "cnc-side/together/*.svg", "cnc-face/drawings/*_plan_mm.svg")
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
        least = min(_apart(shown[index], run) for index in near)
        if least > _ELSEWHERE:
            least = min(_farthest(run, points) for points in shown)
        missing += least > _ELSEWHERE
        off = max(off, least if least <= _ELSEWHERE else 0.0)
    middles = (boxes[:, :2] + boxes[:, 2:]) / 2
    for x, y, _ in holes.tolist():
        off = max(off, float(np.abs(middles - [x, y]).max(axis=1).min()))
    return off, missing


def _apart(one: Array, other: Array) -> float:
    """Return how far the places of two runs are apart at most: one by one where they are as many, otherwise each from the nearest."""
    if len(one) == len(other):
        least = min(float(np.abs(one - some).max()) for some in (other, other[::-1]))
        if least <= ROUNDING:
            return least
    return max(_farthest(one, other), _farthest(other, one))


def _farthest(some: Array, others: Array) -> float:
    """Return how far any of some places is from the nearest of the others."""
    return float(np.abs(some[:, None, :] - others[None, :, :]).max(axis=2).min(axis=1).max())


@reader(SIZES_NAME)
def compare_sizes(path: Path, name: str, truth: Truth) -> list[Compared]:
    """Compare the number of rows of the table of sizes; each row is held against its outline where that is read."""
    order = Order.of_data(Route.SIDE, truth.manifest["cnc"]["side"])
    wanted = list(wanted_strips(truth.front, order))
    faults = () if sorted(sizes(path)) == wanted else ("does not list every strip once",)
    return [Compared(name, _SIZES_WHAT, faults=faults)]


@lru_cache(maxsize=2)
def sizes(path: Path) -> dict[int, dict[str, str]]:
    """Return the rows of the table of sizes by strip."""
    return {int(row["strip"]): row for row in csv.DictReader(path.read_text("utf-8").splitlines())}


def _size_row(truth: Truth, name: str, outline: Array, place: StripPlace) -> Iterator[Compared]:
    """Yield what comes of a strip's row in the table of sizes: its outline, as the machine's program reads it, and its width."""
    path = truth.folder / SIZES_NAME
    if SIZES_NAME not in truth.files or not path.is_file():
        return
    unit = truth.front.job.unit
    allowed = (0.0051 if unit is Unit.MM else 0.00051) * unit.in_mm + ROUNDING
    row = sizes(path)[place.number]
    wanted = {"length": np.ptp(outline[:, 0]), "width": place.width, "greatest height": np.ptp(outline[:, 1])}
    said = {what: float(row[f"{what} {unit.value}"]) * unit.in_mm for what in wanted}
    off = {what: abs(said[what] - float(size)) for what, size in wanted.items()}
    faults = [
        f"says {row[f'{what} {unit.value}']} for the {what} of strip {place.number}"
        for what in off
        if off[what] > allowed
    ]
    faults += [] if f"cnc-side/{row['file']}" == name else [f"names {row['file']} for strip {place.number}"]
    yield Compared(
        SIZES_NAME,
        _SIZES_WHAT,
        points=len(wanted),
        deviation=max(off.values()),
        allowed=allowed,
        faults=tuple(faults),
        failed=(place.number,) if faults else (),
    )


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


@reader("cnc-side/*.txt", "cnc-face/*.txt", "cnc-face/solids/*.txt", "cnc-face/solids/strips/*.txt")
def compare_words(path: Path, name: str, truth: Truth) -> list[Compared]:
    """Compare the mark in a text."""
    return [Compared(name, "mark", faults=tuple(truth.mark_faults(path.read_text("utf-8"))))]
