"""Surfaces for machines: solids in STL and 3MF read by trimesh, height pictures read by Pillow with the text beside them."""

from __future__ import annotations

import math
import re
from collections.abc import Iterator
from dataclasses import dataclass
from itertools import pairwise
from pathlib import Path, PurePosixPath

import numpy as np
from numpy.typing import NDArray

from facade.arrays import Array
from facade.drawing import printable
from facade.layout import StripPlace
from facade.proof.compared import Compared, spread_along
from facade.proof.kinds import once_each
from facade.proof.laid import laid_for
from facade.proof.readers import reader
from facade.proof.solids import Mesh, closed_faults, floor_faults, read_stl, volume_faults
from facade.proof.threemf import read_3mf
from facade.proof.truth import ROUNDING, Truth

_STRIP = re.compile(r"strip-(\d+)_")
_FORMULA = re.compile(r"Height = grey x ([0-9.]+) / (\d+)\.")
_MM_PER_INCH = 25.4
_HEAD_LETTERS = 80  # of an STL, before its facets
# So far inside its strip lies the middle of a wall that is moved against the way it faces, mm.
_INWARDS = 0.01
_SLIVER = 1e-4  # mm2 seen from above; a facet that shows less is a wall
_HAIR = 1e-6
_NEAR = 0.03  # a guess is right where it brings all places this close, mm
_PLACES = 10_000.0  # to a mm
_MOST_AROUND, _MOST_KNOWN = 3, 64
_known: dict[tuple[str, int, bytes, bytes], Array] = {}
"""Heights of strips at places that were asked for: an STL and a 3MF of a strip ask for the same."""


@dataclass(frozen=True)
class _Lying:
    """A strip as it lies in a file: its left edge and its lower end there, mm."""

    place: StripPlace
    left: float
    bottom: float

    @property
    def right(self) -> float:
        return self.left + self.place.width


@dataclass(frozen=True)
class _Whole:
    """What a file is of: strips side by side, in words, and the name that a list of solids has."""

    strips: tuple[_Lying, ...]
    what: str

    @property
    def size(self) -> tuple[float, float]:
        """Width and length from the first strip to the last, mm."""
        return self.strips[-1].right - self.strips[0].left, self.strips[0].place.length


def _whole_of(name: str, truth: Truth) -> _Whole:
    """Return what a file is of, by its name; raises KeyError for nothing that this front has."""
    stem = PurePosixPath(name).name
    alone = _STRIP.match(stem)
    count = truth.front.count
    if alone:
        return _Whole((_Lying(truth.front.layout.strip(int(alone[1])), 0.0, 0.0),), f"strip {int(alone[1])} of {count}")
    laid = laid_for(name, truth)
    strips = tuple(
        _Lying(place, left, laid.bottom) for place, left in zip(laid.places, laid.lefts.tolist(), strict=True)
    )
    first, last = laid.numbers[0], laid.numbers[-1]
    which = f"strips {first} to {last} of {count}" if first != last else f"strip {first} of {count}"
    return _Whole(strips, f"fixture {laid.number}, {which}")


@reader("cnc-face/solids/*.stl", "cnc-face/solids/strips/*.stl")
def compare_stl(path: Path, name: str, truth: Truth) -> list[Compared]:
    """Compare the solids of a fixture or of one strip with the surface: corners, and the middles of facets."""
    read, whole = read_stl(path), _whole_of(name, truth)
    faults = truth.mark_faults(read.words) + _head_faults(truth, read.words, whole)
    return [
        _compared(truth, name, whole, _by_strips(read.mesh, whole), read.mesh, faults, "size, closed, volume, head")
    ]


def _head_faults(truth: Truth, words: str, whole: _Whole) -> list[str]:
    """Return what is wrong with the 80 letters before the facets, besides a mark of another front."""
    wanted = f"facade, unit mm, mark {truth.front.mark}, {whole.what}, back at z = 0"[:_HEAD_LETTERS].strip()
    return (
        []
        if words.strip("\0 ") == wanted or truth.front.mark not in words
        else [f"says {words.strip()[:60]!r} in its head"]
    )


@reader("cnc-face/solids/*.3mf", "cnc-face/solids/strips/*.3mf")
def compare_3mf(path: Path, name: str, truth: Truth) -> list[Compared]:
    """Compare the solids in a 3MF, which holds its unit and their names, with the surface."""
    model, whole = read_3mf(path), _whole_of(name, truth)
    faults = [] if model.unit == "millimeter" else [f"says that it is in {model.unit}, not in millimeters"]
    faults += truth.mark_faults(model.metadata.get("Description", ""))
    title = f"{printable(truth.front.job.title)}: {whole.what}"
    if model.metadata.get("Title") != title:
        faults.append(f"is titled {model.metadata.get('Title', '')[:60]!r}")
    named, wanted = [said for said, _ in model.solids], [f"strip {one.place.number}" for one in whole.strips]
    if len(named) != len(wanted):
        return [Compared(name, "", faults=(*faults, f"holds {len(named)} solids, not {len(wanted)}"))]
    if named != wanted:
        strange = next(one for one, other in zip(named, wanted, strict=True) if one != other)
        faults.append(f"names a solid {strange[:40]!r} that is another")
    pieces = [mesh for _, mesh in model.solids]
    return [_compared(truth, name, whole, pieces, _joined(pieces), faults, "size, closed, volume, unit, names")]


def _joined(meshes: list[Mesh]) -> Mesh:
    starts = np.cumsum([0] + [len(mesh.corners) for mesh in meshes[:-1]])
    facets = [mesh.facets + start for mesh, start in zip(meshes, starts, strict=True)]
    return Mesh(np.concatenate([mesh.corners for mesh in meshes]), np.concatenate(facets))


def _by_strips(mesh: Mesh, whole: _Whole) -> list[Mesh]:
    """Return the facets of each strip: a wall between two that touch belongs to the one that it faces away from."""
    if len(whole.strips) == 1:
        return [mesh]
    corners = np.ascontiguousarray(mesh.corners.T)
    a, b, c = (np.take(corners, index, axis=1) for index in mesh.facets.T)
    middle = (a[0] + b[0] + c[0]) / 3.0
    b -= a
    c -= a
    x, y, z = b[1] * c[2] - b[2] * c[1], b[2] * c[0] - b[0] * c[2], b[0] * c[1] - b[1] * c[0]
    inside = middle - _INWARDS * x / np.maximum(np.sqrt(x * x + y * y + z * z), 1e-12)
    between = [(one.right + other.left) / 2 for one, other in pairwise(whole.strips)]
    which = np.searchsorted(between, inside)
    return [_part(mesh, np.flatnonzero(which == index)) for index in range(len(whole.strips))]


def _part(mesh: Mesh, some: NDArray[np.intp]) -> Mesh:
    """Return some of the facets of a mesh with their corners alone."""
    facets = mesh.facets.take(some, axis=0)
    used = np.zeros(len(mesh.corners), dtype=bool)
    used[facets.ravel()] = True
    number = np.cumsum(used) - 1
    directions = None if mesh.directions is None else mesh.directions.take(some, axis=0)
    return Mesh(np.compress(used, mesh.corners.T, axis=1).T, number.take(facets), directions)


def _compared(
    truth: Truth, name: str, whole: _Whole, pieces: list[Mesh], mesh: Mesh, faults: list[str], also: str
) -> Compared:
    """Return what comes of solids that stand side by side, their backs at z = 0: each with the surface of its own strip."""
    allowed = (truth.stated_tolerance(name) or ROUNDING) + ROUNDING
    parts = [_piece(truth, piece, one, allowed) for piece, one in zip(pieces, whole.strips, strict=True)]
    worst = max(part.worst for part in parts)
    wrong = [fault for part in parts for fault in part.faults]
    if wrong:
        extents = _extent_faults(truth, mesh.corners, whole)
        wrong = [*extents, _guessed(truth, mesh.corners, whole) or wrong[0]]
    faults = [*faults, *wrong]
    least = min(part.least for part in parts)
    faults += [] if wrong else floor_faults(truth, least)
    failed = [one.place.number for one, part in zip(whole.strips, parts, strict=True) if part.faults]
    return Compared(
        name,
        f"every corner and the middle of every facet with the surface, {also}",
        points=sum(part.points for part in parts),
        deviation=worst,
        allowed=allowed,
        least=least,
        faults=tuple(dict.fromkeys(faults)),
        along={one.place.number: part.along for one, part in zip(whole.strips, parts, strict=True)},
        failed=tuple(failed or [one.place.number for one in whole.strips]) if faults else (),
    )


@dataclass(frozen=True)
class _Piece:
    """What came of one strip's solid."""

    points: int
    worst: float
    least: float
    faults: list[str]
    along: Array


def _piece(truth: Truth, mesh: Mesh, one: _Lying, allowed: float) -> _Piece:
    """Compare a strip's solid: its face with the surface, its back with z = 0, its sides, its volume, and that it is closed."""
    place = one.place
    if not len(mesh.facets):
        return _Piece(
            0, np.inf, 0.0, [f"holds nothing of strip {place.number}"], spread_along(np.empty(0), np.empty(0), 1.0)
        )
    corners = np.ascontiguousarray(mesh.corners.T) - [[one.left], [one.bottom], [0.0]]
    a, b, c = (np.take(corners, index, axis=1) for index in mesh.facets.T)
    up = (b[0] - a[0]) * (c[1] - a[1]) - (b[1] - a[1]) * (c[0] - a[0]) > _SLIVER
    on_face = np.zeros(corners.shape[1], dtype=bool)
    on_face[mesh.facets[up]] = True
    a += b
    a += c
    middles = np.compress(up, a, axis=1)
    middles /= 3.0
    face = np.compress(on_face, corners, axis=1)
    off = np.abs(corners[2])
    off[on_face] = np.abs(face[2] - _at(truth, place, face[0], face[1]))
    between = np.abs(middles[2] - _at(truth, place, middles[0], middles[1]))
    offs = np.concatenate([off, between])
    worst = float(offs.max())
    faults = list(closed_faults(mesh))
    low, high = corners.min(axis=1), corners.max(axis=1)
    aside = max(abs(low[0]), abs(low[1]), abs(high[0] - place.width), abs(high[1] - place.length))
    if aside > ROUNDING:
        faults.insert(
            0, f"strip {place.number} is not where it should be: its edges are up to {truth.length(float(aside))} off"
        )
    if not worst <= allowed:
        at = int(np.nanargmax(offs))
        point = corners[:, at] if at < len(off) else middles[:, at - len(off)]
        faults.insert(0, _where(truth, point, worst, place))
    if not faults:
        faults += volume_faults(truth, mesh, (place.number,), allowed)
    along = spread_along(place.length - np.concatenate([corners[1], middles[1]]), offs, place.length)
    return _Piece(len(offs), worst, float(face[2].min()) if face.size else 0.0, faults, along)


def _where(truth: Truth, point: Array, off: float, place: StripPlace) -> str:
    return (
        f"is {truth.length(off)} off the surface of strip {place.number}, {truth.length(place.length - float(point[1]))} from the top and "
        f"{truth.length(float(point[0]))} from its left edge"
    )


def _at(truth: Truth, place: StripPlace, x: Array, y: Array) -> Array:
    """Return a strip's finished heights at places (points,) from its lower left corner; those beside it are taken to be on its edge."""
    # Places of a solid lie on a few lines across and along, where the surface is much quicker; to a ten thousandth of a mm.
    columns, across = once_each(np.rint(x * _PLACES))
    rows, along = once_each(np.rint(y * _PLACES))
    if len(columns) * len(rows) > _MOST_AROUND * len(x):
        on_x, on_y = np.clip(x, 0.0, place.width) + place.left, np.clip(y, 0.0, place.length) + place.bottom
        return truth.front.surface.at(np.clip(on_x, place.left, place.right), np.clip(on_y, place.bottom, place.top))
    key = (truth.front.mark, place.number, columns.tobytes(), rows.tobytes())
    if key not in _known:
        if len(_known) >= _MOST_KNOWN:
            _known.pop(next(iter(_known)))
        on_x = np.clip(columns / _PLACES + place.left, place.left, place.right)
        on_y = np.clip(rows / _PLACES + place.bottom, place.bottom, place.top)
        _known[key] = truth.front.surface.at(on_x[None, :], on_y[:, None])
    return np.asarray(_known[key][along, across])


def _extent_faults(truth: Truth, corners: Array, whole: _Whole) -> Iterator[str]:
    for axis, (wanted, word) in enumerate(zip(whole.size, ("wide", "long"), strict=True)):
        size = float(np.ptp(corners[:, axis]))
        if abs(size - wanted) > ROUNDING:
            yield f"is {truth.length(size)} {word}, not {truth.length(wanted)}{_scaled(size / wanted)}"


def _scaled(ratio: float) -> str:
    """Return what a size that is so many times too large may come from."""
    for factor, said in (
        (_MM_PER_INCH, "inches read as mm"),
        (1.0 / _MM_PER_INCH, "mm read as inches"),
        (0.001, "mm read as metres"),
    ):
        if abs(ratio / factor - 1.0) < 0.01:
            return f": {said}?"
    return ""


def _guessed(truth: Truth, corners: Array, whole: _Whole) -> str:
    """Return what may have happened to solids, in words: mirrored, turned, or another strip's; "" for none of these."""
    some = corners[:: max(1, len(corners) // 600)] - corners.min(axis=0) * [1.0, 1.0, 0.0]
    width, length = whole.size
    flips = {
        (False, False): "",
        (True, False): "looks mirrored left to right",
        (False, True): "looks mirrored top to bottom",
        (True, True): "looks turned end for end",
    }
    others = [whole.strips]
    if len(whole.strips) == 1:
        number = whole.strips[0].place.number
        others += [(_Lying(place, 0.0, 0.0),) for place in truth.front.layout.strips if place.number != number]
    for meant in others:
        for (across, along), said in flips.items():
            turned = some.copy()
            turned[:, 0] = width - some[:, 0] if across else some[:, 0]
            turned[:, 1] = length - some[:, 1] if along else some[:, 1]
            if meant is whole.strips and not said:
                continue
            if _off_any(truth, turned, meant) < _NEAR:
                whose = f"is strip {meant[0].place.number}'s surface" if meant is not whole.strips else ""
                return ", and ".join(filter(None, (whose, said)))
    return ""


def _off_any(truth: Truth, points: Array, strips: tuple[_Lying, ...]) -> float:
    """Return how far places from the lower left corner are at most off the back, or off the surface of the strips at their x."""
    first, off = strips[0].left, np.full(len(points), np.inf)
    for one in strips:
        x = points[:, 0] - (one.left - first)
        some = (x > -_NEAR) & (x < one.place.width + _NEAR)
        if some.any():
            heights = _at(truth, one.place, x[some], points[some, 1])
            z = points[some, 2]
            off[some] = np.minimum(off[some], np.minimum(np.abs(z), np.abs(z - heights)))
    return float(off.max())


@reader("cnc-face/solids/*_heights.png", "cnc-face/solids/strips/*_heights.png")
def compare_heights(path: Path, name: str, truth: Truth) -> list[Compared]:
    """Compare a height picture with the surface, by the grey step that its text states."""
    from PIL import Image

    notes = path.with_suffix(".txt").read_text("utf-8")
    formula = _FORMULA.search(notes)
    if formula is None:
        return [Compared(name, "", faults=("the text beside it states no grey step",))]
    whole, unit = _whole_of(name, truth), truth.front.job.unit.in_mm
    step = float(formula[1]) * unit / int(formula[2])
    with Image.open(path) as picture:
        greys = np.asarray(picture, dtype=np.float64)[::-1]
        faults = [] if picture.mode.startswith("I;16") else [f"is of the kind {picture.mode}, not 16-bit grey"]
    off = _picture_off(truth, whole, greys * step)
    on = np.isfinite(off)
    worst, allowed = float(off[on].max()), step / 2 + _HAIR
    if worst > allowed:
        faults.append(_picture_turned(truth, whole, greys * step) or _far_off(truth, off, whole, step))
    return [
        Compared(
            name,
            "the height of every pixel with the surface, to half a grey step",
            points=int(on.sum()),
            deviation=worst,
            allowed=allowed,
            least=float((greys * step)[on].min()),
            faults=tuple(faults),
            failed=tuple(one.place.number for one in whole.strips) if faults else (),
        )
    ]


def _picture_off(truth: Truth, whole: _Whole, heights: Array) -> Array:
    """Return how far heights (rows, columns) over the strips from corner to corner are off; where two strips touch, off the nearer one."""
    width, length = whole.size
    x, y = np.linspace(0.0, width, heights.shape[1]), np.linspace(0.0, length, heights.shape[0])
    off = np.full(heights.shape, np.inf)
    first, places = whole.strips[0].left, [one.place for one in whole.strips]
    on_y = np.clip(y + places[0].bottom, places[0].bottom, places[0].top)[:, None]
    spans = [(one.left - first, one.place.left, one.place.right) for one in whole.strips]
    # Between two strips the surface goes on as behind a gap.
    spans += [
        (one.right - first, one.place.right, other.place.left)
        for one, other in pairwise(whole.strips)
        if other.left - one.right > _HAIR
    ]
    for left, start, stop in spans:
        some = np.flatnonzero((x > left - _HAIR) & (x < left + stop - start + _HAIR))
        if len(some):
            wanted = truth.front.surface.at(np.clip(x[some] - left + start, start, stop)[None, :], on_y)
            off[:, some] = np.minimum(off[:, some], np.abs(heights[:, some] - wanted))
    return off


def _picture_turned(truth: Truth, whole: _Whole, heights: Array) -> str:
    turned = {"looks mirrored left to right": heights[:, ::-1], "looks upside down": heights[::-1]}
    for words, some in turned.items():
        off = _picture_off(truth, whole, some)
        if float(off[np.isfinite(off)].max()) < 0.05:
            return words
    return ""


def _far_off(truth: Truth, off: Array, whole: _Whole, step: float) -> str:
    """Return how far a picture is off and where, with what is allowed in the same breath."""
    row, _ = divmod(int(np.where(np.isfinite(off), off, 0.0).argmax()), off.shape[1])
    from_top = whole.size[1] * (1.0 - row / (len(off) - 1))
    worst = float(off[np.isfinite(off)].max())
    off_by, where, half = small(worst, truth), truth.length(from_top), small(step / 2, truth)
    return f"is {off_by} off the surface, {where} from the top, where half a grey step of {half} is allowed"


def small(mm: float, truth: Truth) -> str:
    """Return a small length of the job's unit with as many decimals as show it."""
    unit = truth.front.job.unit
    size = mm / unit.in_mm
    decimals = max(3, 2 - math.floor(math.log10(size))) if size > 0.0 else 3
    return f"{size:.{decimals}f} {unit.value}"
