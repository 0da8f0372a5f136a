"""Drawings of strips on their side: every line, every layer, every label, held against what job, layout and surface ask for."""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from functools import lru_cache
from pathlib import Path, PurePosixPath

import numpy as np

from facade.arrays import Array
from facade.drawing import printable
from facade.front import Front
from facade.job import Cut, Hold
from facade.layout import StripPlace
from facade.measuring.screws import clearance_hole, pilot_hole
from facade.proof.compared import Compared, joined, spread_along
from facade.proof.lying import Asked, Face, Lying, box, face_of, widened
from facade.proof.profiles import Read, apart_of, read_dxf, square_faults
from facade.proof.readers import reader
from facade.proof.svg import Sheet, read_svg
from facade.proof.truth import ROUNDING, Truth
from facade.rules import rule
from facade.slicer import edge_heights
from facade.wood.species import species

_WHAT = (
    "unit, proof square, layers, zero, board, stops, screws; runs of the cutter with their ways in and out, outline, both edge lines "
    "and saw line with the surface"
)
_SCALED = {25.4: ": inches read as mm?", 0.039: ": mm read as inches?"}
# A guess at what happened to a strip's lines is right where it brings them this close, mm.
_NEAR = 0.03
# Mm between places that are looked at along a profile, and along the way of the cutter's middle.
_BETWEEN, _ALONG = 0.25, 1.0
# How near a step cut must be to where it should be, mm: its corners are where no piece of it is too short.
_STEP_NEAR, _MIDDLE_NEAR = 0.15, 0.05
_CROSS = 10.0
_OUTLINE, _FACE, _STEP, _END = "outline - not a cut", "face cut", "step cut", "end cut"
_STRIP = re.compile(r"strip-(\d+)_")
_TOGETHER = re.compile(r"together-(\d+)_")
# What a digit's strokes cross: a line a quarter of its height up and one three quarters up, left, in the middle or right; and one up its
# middle, at the bottom, between or at the top.
_DIGITS = {
    ("lr", "lr", "bt"): "0",
    ("m", "m", "bt"): "1",
    ("m", "r", "bmt"): "2",
    ("r", "m", "bmt"): "3",
    ("r", "mr", "mm"): "4",
    ("r", "l", "bmt"): "5",
    ("lr", "l", "bmt"): "6",
    ("m", "r", "mmt"): "7",
    ("lr", "lr", "bmt"): "8",
    ("r", "lr", "bmt"): "9",
}


@lru_cache(maxsize=4)
def _lying(front: Front, blank: float, strips: tuple[int, ...], cleared: bool) -> Lying:
    return Lying(front, Asked(strips, blank, cleared))


def lying_of(truth: Truth) -> Lying:
    """Return where strips lie on their side by what was asked for."""
    asked = Asked.of(truth.front, truth.manifest)
    return _lying(truth.front, asked.blank, asked.strips, asked.cleared)


@reader("cnc-side/*.dxf")
def compare_profiles(path: Path, name: str, truth: Truth) -> list[Compared]:
    """Compare all that a drawing holds with where it should be, strip by strip."""
    read, lying = read_dxf(path, truth.front.job.machine_unit), lying_of(truth)
    places = _meant(name, lying)
    faults = [*read.faults, *square_faults(truth, read), *_name_faults(name, lying)]
    if not faults and len(read.on(_OUTLINE)) != len(places):
        faults.append(f"holds {len(read.on(_OUTLINE))} outlines, not {len(places)}")
    if faults:
        # One cause, one line: what follows from it is not told.
        return [Compared(name, _WHAT, faults=tuple(faults), failed=tuple(place.number for place in places))]
    meant = [_Meant(truth, lying, place, index) for index, place in enumerate(places)]
    parts = [_profile(one, read, name) for one in meant]
    whole = joined(parts)
    if not whole.faults:
        faults += list(_layer_faults(read, meant)) or list(_fixed_faults(truth, read, lying, meant))
    return [
        replace(
            whole,
            what=_WHAT,
            faults=(*faults, *whole.faults),
            failed=tuple(place.number for place in places) if faults else whole.failed,
        )
    ]


def _meant(name: str, lying: Lying) -> list[StripPlace]:
    """Return the strips that a file is of, by its name; raises KeyError for one that no order gives."""
    stem = PurePosixPath(name).name
    alone = _STRIP.match(stem)
    if alone:
        return [lying.front.layout.strip(int(alone[1]))]
    together = _TOGETHER.match(stem)
    if together is None or not 1 <= int(together[1]) <= len(lying.together):
        raise KeyError("no strips of this front are called so")
    return lying.together[int(together[1]) - 1]


def _name_faults(name: str, lying: Lying) -> Iterator[str]:
    path = PurePosixPath(name)
    together = _TOGETHER.match(path.name)
    wanted = lying.batch_stem(int(together[1])) if together else lying.strip_stem(_meant(name, lying)[0])
    if path.stem != wanted:
        yield f"should be called {wanted}{path.suffix}"


@dataclass(frozen=True)
class _Meant:
    """A strip as it should lie in a file: which it is, and in which bay from the zero, from 0."""

    truth: Truth
    lying: Lying
    place: StripPlace
    index: int

    @property
    def origin(self) -> Array:
        """Where its back and its BOTTOM end are."""
        along, across = self.lying.front.job.first_on_side
        return np.array([along, across + self.index * self.lying.pitch])

    def one(self, read: Read, layer: str) -> Array | None:
        """Return its run on a layer that has one for each strip, as it lies in its bay; None where there is none."""
        runs = read.on(layer)
        return runs[self.index] - self.origin if self.index < len(runs) else None

    def inside(self, runs: Sequence[Array]) -> list[Array]:
        """Return those of some runs that lie within its bay, as they lie in it."""
        low, high = float(self.origin[1]) - self.lying.batten, float(self.origin[1]) + self.lying.top
        return [run - self.origin for run in runs if low < float(run[:, 1].mean()) < high]


def _profile(meant: _Meant, read: Read, name: str) -> Compared:
    """Return what comes of one strip's lines."""
    truth, lying, place = meant.truth, meant.lying, meant.place
    side = lying.front.job.machine.side
    face = face_of(lying, place, _BETWEEN)
    wanted = {
        "left line": face.left,
        "right line": face.right,
        "saw line": face.saw,
        _OUTLINE: face.cut,
        _FACE: face.cut,
    }
    allowed = side.tolerance + ROUNDING
    found, faults = {}, []
    for layer, heights in wanted.items():
        line = meant.one(read, layer)
        if line is None:
            faults.append(f"has no {layer} for strip {place.number}")
            continue
        along = line if layer == _FACE else _face(line, closed=layer == _OUTLINE)
        found[layer] = np.abs(np.interp(face.x, *along[np.argsort(along[:, 0], kind="stable")].T) - heights)
        if layer != _FACE:
            faults += _size_faults(truth, line, place, layer)
    off = np.max(list(found.values()), axis=0) if found else np.zeros(1)
    worst = float(off.max())
    if worst > allowed and not faults:
        faults.append(_guessed(meant, read, face) or _where(truth, found, place, face.x))
    if not faults:
        faults += _run_faults(meant, read)
    outline = meant.one(read, _OUTLINE)
    assert outline is not None
    ahead = _face(outline, closed=True)
    return Compared(
        name,
        "",
        points=len(face.x) * len(found),
        deviation=worst,
        allowed=allowed,
        least=float(ahead[:, 1].min()) if len(ahead) else 0.0,
        faults=tuple(faults),
        along={place.number: spread_along(place.length - face.x, off, place.length)} if found else {},
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


def _guessed(meant: _Meant, read: Read, face: Face) -> str:
    """Return what may have happened to a strip's lines, in words: mirrored, sides exchanged, of another strip; "" for none of these."""
    truth, place = meant.truth, meant.place
    lines = {layer: meant.one(read, layer) for layer in ("left line", "right line")}
    seen = {
        layer: np.interp(face.x, *line[np.argsort(line[:, 0])].T) for layer, line in lines.items() if line is not None
    }
    tries = [(place.number, "")] + [
        (number, f"is strip {number}'s surface") for number in truth.front.numbers if number != place.number
    ]
    for number, whose in tries:
        other = truth.front.layout.strip(number)
        left, right = edge_heights(truth.front.surface, other, other.length - face.x)
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


def _run_faults(meant: _Meant, read: Read) -> Iterator[str]:
    """Yield what is wrong with the runs of the cutter along a strip's face."""
    lying, number = meant.lying, meant.place.number
    side, cut = lying.front.job.machine.side, lying.front.job.machine.cut
    face = meant.one(read, _FACE)
    assert face is not None
    on_strip = face[(face[:, 0] > -ROUNDING) & (face[:, 0] < lying.length + ROUNDING)]
    wanted = lying.with_leads(on_strip)
    if face.shape != wanted.shape or float(np.abs(face - wanted).max()) > 2 * ROUNDING:
        yield f"its face cut of strip {number} does not come in and go out where it should"
        return
    yield from _middle_faults(meant, meant.one(read, f"{_FACE} middle"), face, _FACE)
    wood = lying.asked.blank - float(on_strip[:, 1].min())
    count = lying.steps(wood)
    steps, middles = meant.inside(read.on(_STEP)), meant.inside(read.on(f"{_STEP} middle"))
    if not len(steps) == len(middles) == count:
        yield f"has {len(steps)} step cuts for strip {number}, not {count}"
        return
    x = np.arange(face[0, 0], face[-1, 0], _BETWEEN)
    for k, (step, middle) in enumerate(zip(steps, middles, strict=True), start=1):
        back = cut is Cut.EITHER and k % 2 == 0
        if (step[0, 0] > step[-1, 0]) != back or (middle[0, 0] > middle[-1, 0]) != back:
            yield f"its step cut {k} of strip {number} goes the other way"
            return
        line, way = (step[::-1], middle[::-1]) if back else (step, middle)
        height = np.maximum(np.interp(x, *face.T) + side.leave, lying.asked.blank - k * side.step)
        off = float(np.abs(np.interp(x, *line.T) - height).max())
        ends = float(np.abs(line[[0, -1], 0] - face[[0, -1], 0]).max())
        if max(off, ends) > _STEP_NEAR:
            yield f"its step cut {k} of strip {number} is {meant.truth.length(max(off, ends))} off"
            return
        yield from _middle_faults(meant, way, line, f"{_STEP} {k}")


def _middle_faults(meant: _Meant, middle: Array | None, line: Array, what: str) -> Iterator[str]:
    """Yield where the way of the cutter's middle is not the line widened by its radius."""
    number = meant.place.number
    near = 2 * meant.lying.front.job.machine.side.tolerance + ROUNDING if what == _FACE else _MIDDLE_NEAR
    if middle is None:
        yield f"has no {what} middle for strip {number}"
        return
    if (
        float(np.abs(middle[[0, -1], 0] - line[[0, -1], 0]).max()) > ROUNDING
        or float(np.diff(middle[:, 0]).min()) <= 0.0
    ):
        yield f"its {what} middle of strip {number} does not come in and go out where it should"
        return
    x = np.linspace(line[0, 0], line[-1, 0], max(2, round((line[-1, 0] - line[0, 0]) / _ALONG)))
    off = float(np.abs(np.interp(x, *middle.T) - widened(line, meant.lying.radius, x)).max())
    if off > near:
        yield f"its {what} middle of strip {number} is {meant.truth.length(off)} off"


def _layer_faults(read: Read, meant: Sequence[_Meant]) -> Iterator[str]:
    """Yield what is on no layer that should be there, and layers that should hold nothing."""
    lying = meant[0].lying
    hold = lying.front.job.machine.hold
    wanted = {
        "proof square",
        "zero",
        "board",
        "stops",
        "keep-out",
        "blank",
        _OUTLINE,
        "left line",
        "right line",
        "saw line",
        "number",
    }
    wanted |= {_FACE, f"{_FACE} middle"}
    if lying.waste:
        wanted |= {"holding screws", "screw heads"}
    else:
        wanted |= {"holding area"}
    wanted |= {Hold.SCREWS: {"saw to length"}, Hold.TABS: {"tabs", _END, f"{_END} middle"}}.get(hold, set())
    may = {_STEP, f"{_STEP} middle", "screw pilots"}
    for layer in sorted(wanted - read.layers):
        yield f"holds nothing on the layer {layer!r}"
    for layer in sorted(read.layers - wanted - may):
        yield f"holds a layer {layer!r}, which it should not"


def _fixed_faults(truth: Truth, read: Read, lying: Lying, meant: Sequence[_Meant]) -> Iterator[str]:
    """Yield what holds a strip, or is marked on it, and is not where it should be."""
    length, wide = lying.board(lying.bays)
    cross = [np.array([[-_CROSS, 0.0], [_CROSS, 0.0]]), np.array([[0.0, -_CROSS], [0.0, _CROSS]])]
    yield from _shape_faults(truth, read.on("board"), [box(0.0, 0.0, length, wide)], "board")
    yield from _shape_faults(truth, read.on("zero"), cross, "zero")
    wanted: dict[str, list[Array]] = {}
    holes: dict[str, list[tuple[float, float, float]]] = {"holding screws": [], "screw heads": []}
    for one in meant:
        for layer, runs in _shapes(one, read).items():
            wanted.setdefault(layer, []).extend(run + one.origin for run in runs)
        hole = clearance_hole(rule("side_screw"))[0] / 2
        for x, y in lying.screws:
            for layer, radius in (("holding screws", hole), ("screw heads", rule("side_screw"))):
                holes[layer].append((x + one.origin[0], y + one.origin[1], radius))
    for layer, runs in wanted.items():
        yield from _shape_faults(truth, read.on(layer), runs, layer)
    for layer, circles in holes.items():
        found = read.holes_on(layer)
        if len(found) != len(circles):
            yield f"holds {len(found)} holes on the layer {layer!r}, not {len(circles)}"
        elif len(circles) and float(np.abs(found - np.array(circles)).max()) > ROUNDING:
            yield f"its {layer} are up to {truth.length(float(np.abs(found - np.array(circles)).max()))} off"
    for one in meant:
        yield from _number_faults(one, read)


def _shape_faults(truth: Truth, found: Sequence[Array], wanted: Sequence[Array], layer: str) -> Iterator[str]:
    """Yield how far shapes on a layer are from where they should be, one by one."""
    if len(found) != len(wanted):
        yield f"holds {len(found)} runs on the layer {layer!r}, not {len(wanted)}"
        return
    off = max((apart_of(one, other) for one, other in zip(found, wanted, strict=True)), default=0.0)
    if off > ROUNDING:
        yield f"its {layer} is up to {truth.length(off)} off"


def _shapes(one: _Meant, read: Read) -> dict[str, list[Array]]:
    """Return the shapes of a strip's bay whose places are fixed, by layer."""
    lying, job = one.lying, one.lying.front.job
    hold, blank = job.machine.hold, lying.asked.blank
    shapes = {
        "stops": lying.stops,
        "blank": [box(-lying.waste, 0.0, lying.length + lying.waste, blank)],
        "keep-out": [_keep_out(one, read)],
        "screw pilots": _pilots(one),
        _END: [outside for outside, _ in lying.end_cuts],
        f"{_END} middle": [middle for _, middle in lying.end_cuts],
    }
    if hold is Hold.SCREWS:
        shapes["saw to length"] = [np.array([[x, -2.0], [x, blank + 2.0]]) for x in (0.0, lying.length)]
    if hold is Hold.TABS:
        shapes["tabs"] = [_tab(lying), np.array([lying.length, 0.0]) + np.array([-1.0, 1.0]) * _tab(lying)]
    if not lying.waste:
        shapes["holding area"] = [lying.area]
    return shapes


def _tab(lying: Lying) -> Array:
    """Return the wood at the BOTTOM end below the round end of a cut to length."""
    side, radius = lying.front.job.machine.side, lying.radius
    turn = np.radians(np.arange(0.0, 180.1, 7.5))
    arc = np.column_stack([radius * (np.cos(turn) - 1.0), side.tab + radius * (1.0 - np.sin(turn))])
    return np.concatenate([[[-2 * radius, 0.0], [0.0, 0.0]], arc])


def _keep_out(one: _Meant, read: Read) -> Array:
    """Return what is kept clear of all but the strip: what the cutter passes over along the face, and what it keeps off."""
    lying, face = one.lying, one.one(read, _FACE)
    assert face is not None
    off = lying.lead + lying.radius + lying.keep
    x, y = face.T
    left, right, low = (float(value) - lying.keep for value in (y[0], y[-1], y.min()))
    first = min([0.0, *x[y < y[0] - 1e-9].tolist()])
    last = max([lying.length, *x[y < y[-1] - 1e-9].tolist()])
    if not (y < y[0] - 1e-9).any():
        first = 0.0
    if lying.end_cuts:
        out = 2 * lying.radius + lying.keep
        first, last = min(first, -out), max(last, lying.length + out)
        low = min(low, lying.front.job.machine.side.tab - lying.keep)
    top = lying.top + lying.keep
    corners = [(-off, left), (first, left), (first, low), (last, low), (last, right), (lying.length + off, right)]
    return np.array([*corners, (lying.length + off, top), (-off, top)])


def _pilots(one: _Meant) -> list[Array]:
    front = one.lying.front
    half = pilot_hole(front.job.fixing.shank, softwood=species(front.job.wood.species).softwood) / 2
    screws = front.measures_of(one.place.number).screws.screws
    middles = [(one.place.length - screw.from_top, screw.bite) for screw in screws]
    return [box(middle - half, 0.0, middle + half, bite) for middle, bite in middles]


def _number_faults(one: _Meant, read: Read) -> Iterator[str]:
    """Yield what is wrong with the number that is engraved: its figures are read."""
    strokes = one.inside(read.on("number"))
    found = figures(strokes)
    if found != str(one.place.number):
        yield f"its number for strip {one.place.number} reads {found or 'nothing'}"
        return
    places = np.concatenate(strokes)
    if abs(float(places[:, 1].min()) - 1.5) > ROUNDING or not 8.0 - ROUNDING <= float(places[:, 0].min()) <= 9.0:
        yield f"its number for strip {one.place.number} does not stand at its BOTTOM end"


def figures(strokes: Sequence[Array]) -> str:
    """Return the digits that strokes make, figure by figure from the left: strokes one above the other belong together."""
    found: list[list[Array]] = []
    end = -np.inf
    for run in sorted(strokes, key=lambda run: float(run[:, 0].min())):
        if float(run[:, 0].min()) > end:
            found.append([])
        found[-1].append(run)
        end = max(end, float(run[:, 0].max()))
    return "".join(map(_digit, found))


def _digit(runs: Sequence[Array]) -> str:
    """Return the digit that some strokes are, by what they cross; "?" for none."""
    places = np.concatenate(runs)
    low = places.min(axis=0)
    size = np.maximum(places.max(axis=0) - low, 1e-6)
    pieces = np.concatenate([np.stack([run[:-1], run[1:]], axis=1) for run in runs])
    pieces = (pieces - low) / size
    across = ["".join(_letter(x, 0.3, 0.7, "lmr") for x in _crossed(pieces, 1, up)) for up in (0.2517, 0.7483)]
    upwards = "".join(_letter(y, 0.1, 0.9, "bmt") for y in _crossed(pieces, 0, 0.47))
    return _DIGITS.get((across[0], across[1], upwards), "?")


def _crossed(pieces: Array, axis: int, level: float) -> list[float]:
    """Return where pieces (n, 2, 2) cross a level of x (axis 0) or y (axis 1), rising; those that lie close together once."""
    first, after = pieces[:, 0], pieces[:, 1]
    some = (first[:, axis] - level) * (after[:, axis] - level) < 0.0
    first, after = first[some], after[some]
    share = (level - first[:, axis]) / (after[:, axis] - first[:, axis])
    found = np.sort(first[:, 1 - axis] + share * (after[:, 1 - axis] - first[:, 1 - axis]))
    return [float(one) for index, one in enumerate(found) if index == 0 or one - found[index - 1] > 0.05]


def _letter(share: float, low: float, high: float, letters: str) -> str:
    return letters[0] if share < low else letters[2] if share > high else letters[1]


@reader("cnc-side/*.svg")
def compare_picture(path: Path, name: str, truth: Truth) -> list[Compared]:
    """Compare every line of an SVG with the DXF of its name, both read by others, and every word with what it should be."""
    beside = name.removesuffix(".svg") + ".dxf"
    if beside not in truth.files or not (truth.folder / beside).is_file():
        return [Compared(name, "", faults=("there is no DXF of its name to compare it with",))]
    sheet, read = read_svg(path), read_dxf(truth.folder / beside, truth.front.job.machine_unit)
    square = next((line.points for line in sheet.lines if line.kind == "proof-square"), None)
    if square is None or not read.runs:
        return [Compared(name, "", faults=("holds no proof square",))]
    move = square.min(axis=0) - read.runs[0].places.min(axis=0)
    off, faults = same_lines(sheet, read, move)
    if off > ROUNDING:
        faults.append(f"its lines are up to {truth.length(off)} off those of {PurePosixPath(beside).name}")
    faults += truth.mark_faults(path.read_text("utf-8"))
    if not faults:
        faults += _word_faults(sheet, name, lying_of(truth), move)
    return [
        Compared(
            name,
            "every line with the DXF of its name; every word; mark",
            points=sum(len(line.points) for line in sheet.lines),
            deviation=off if np.isfinite(off) else None,
            allowed=ROUNDING,
            faults=tuple(faults),
        )
    ]


def same_lines(sheet: Sheet, read: Read, move: Array) -> tuple[float, list[str]]:
    """Return how far the lines of a picture are off those of its DXF, mm, and which there are too few or too many of."""
    off, faults = 0.0, []
    shown: dict[str, list[Array]] = {}
    for line in sheet.lines:
        # The cross at zero is one path of two lines.
        runs = np.split(line.points, 2) if line.kind == "zero" and len(line.points) == 4 else [line.points]
        shown.setdefault(line.kind, []).extend(run - move for run in runs)
    for layer in sorted(read.layers):
        lines, runs, holes = shown.pop(layer.replace(" ", "-"), []), read.on(layer), read.holes_on(layer)
        missing = len(runs) + len(holes) - len(lines)
        if missing:
            faults.append(f"holds {len(lines)} lines called {layer!r}, its DXF {len(runs) + len(holes)}")
            continue
        off = max([off, *(apart_of(one, run) for one, run in zip(lines, runs, strict=False))])
        for round_one, (x, y, radius) in zip(lines[len(runs) :], holes.tolist(), strict=True):
            off = max(off, float(np.abs(np.hypot(*(round_one - [x, y]).T) - radius).max()))
    faults += [f"holds lines called {kind!r}, which its DXF does not" for kind in sorted(shown)]
    return off, faults


def _word_faults(sheet: Sheet, name: str, lying: Lying, move: Array) -> Iterator[str]:
    """Yield the words that are not those that should be there, or stand elsewhere."""
    wanted = _words(name, lying)
    found = [(word.text, word.x - float(move[0]), word.y - float(move[1])) for word in sheet.words]
    if any(word.mirrored for word in sheet.words):
        yield "holds words that read backwards"
    missing = [text for text, _, _ in wanted if text not in [word for word, _, _ in found]]
    if missing or len(found) != len(wanted):
        yield f"does not say {missing[0]!r}" if missing else "says more than it should"
        return
    for text, x, y in wanted:
        if not any(word == text and abs(at - x) < 0.01 and abs(up - y) < 0.01 for word, at, up in found):
            yield f"says {text!r} elsewhere"


def _words(name: str, lying: Lying) -> list[tuple[str, float, float]]:
    """Return the words of a drawing and where they stand, mm from its zero."""
    front, places = lying.front, _meant(name, lying)
    together = _TOGETHER.match(PurePosixPath(name).name)
    what = f"strips cut together, {int(together[1])}" if together else f"strip {places[0].number}"
    title = printable(f"{front.job.title}: {what}, mark {front.mark}")
    along, across = front.job.first_on_side
    aside = lying.waste + lying.stop / 2
    found = [("ZERO x 0 y 0", 10.0, -5.0), (title, 0.0, lying.board(lying.bays)[1] + 5.0)]
    for index, place in enumerate(places):
        up = across + index * lying.pitch - 6.0
        found += [
            ("BOTTOM", along - aside, up),
            (f"strip {place.number}", along + lying.length / 2, up),
            ("TOP", along + lying.length + aside, up),
        ]
    return found
