"""Solids, STL read by numpy: corners on the surface, closed, no thinner than the floor, as much wood as should be."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property
from pathlib import Path, PurePosixPath

import numpy as np
from numpy.typing import NDArray

from facade.arrays import Array
from facade.layout import StripPlace
from facade.proof.compared import Compared, spread_along
from facade.proof.gltf import read_shapes
from facade.proof.guesses import Body, guess
from facade.proof.kinds import alike, mixed
from facade.proof.readers import reader
from facade.proof.truth import ROUNDING, Truth

# A solid's mean thickness may differ by so much, mm, for its cells are halved along one diagonal.
_MEAN_THICKNESS = 0.01
# Directions of facets in a file of 32 bits may be off by so much.
_DIRECTION = 1e-3
# So far may a place be aside, mm, for being held in 32 bits: metres in a view, mm in a solid.
_ASIDE = 0.0005
# glTF is in metres.
_MM_PER_METRE = 1000.0
# Of the whole front at most so many middles of facets are looked at.
_MOST_MIDDLES = 150_000
_NUMBERED = re.compile(r"strip (\d+)")
# A binary STL: 80 letters and the number of facets, then of each its direction, its three corners, and two bytes that say nothing.
_HEAD = 84
_FACET = np.dtype([("direction", "<f4", 3), ("corners", "<f4", (3, 3)), ("attribute", "<u2")])
# So many facets are looked at in one go, for more do not stay near the processor.
_AT_ONCE = 1 << 14


@dataclass(frozen=True)
class Mesh:
    """Corners (n, 3) in mm, each once, facets (m, 3) of them, and the facets' directions as the file has them, if it does."""

    corners: Array
    facets: np.ndarray
    directions: Array | None = None

    @property
    def volume(self) -> float:
        """What it encloses where it is closed, mm3."""
        return self._skin[0]

    @property
    def otherwise(self) -> int:
        """How many facets say that they face another way than they do."""
        return self._skin[1]

    @cached_property
    def _skin(self) -> tuple[float, int]:
        """Return the volume, and how many directions are wrong."""
        places = np.ascontiguousarray(self.corners.T)
        volume, wrong = 0.0, 0
        for start in range(0, len(self.facets), _AT_ONCE):
            facets = self.facets[start : start + _AT_ONCE].T
            a, b, c = (np.take(places, corner, axis=1) for corner in facets)
            b -= a
            c -= a
            across = (b[1] * c[2] - b[2] * c[1], b[2] * c[0] - b[0] * c[2], b[0] * c[1] - b[1] * c[0])
            volume += sum(float(one @ other) for one, other in zip(a, across, strict=True)) / 6.0
            if self.directions is not None:
                wrong += _facing_otherwise(across, self.directions[start : start + _AT_ONCE])
        return volume, wrong


def _facing_otherwise(across: tuple[Array, Array, Array], directions: Array) -> int:
    """Return how many facets do not face as the cross products of their edges do, (3, n) mm2; their own directions are (n, 3)."""
    sizes = np.sqrt(across[0] * across[0] + across[1] * across[1] + across[2] * across[2])
    # Slivers have no direction that 32 bits can hold.
    plain = sizes > 1e-3
    same = np.ones(len(sizes), dtype=bool)
    with np.errstate(invalid="ignore", divide="ignore"):
        for one, said in zip(across, directions.T, strict=True):
            same &= np.abs(said - one / sizes) <= 20 * _DIRECTION
    return int((plain & ~same).sum())


@dataclass(frozen=True)
class _Read:
    """A file's mesh, and the words in it."""

    mesh: Mesh
    words: str


@reader("strips/*.stl")
def compare_strip(path: Path, name: str, truth: Truth) -> list[Compared]:
    """Compare one strip's solid, at its own lower left corner, with the surface at its place on the front."""
    number = int(PurePosixPath(name).stem.removesuffix("_mm").rpartition("-")[2])
    place, read = truth.front.layout.strip(number), read_stl(path)
    corners = read.mesh.corners
    off = _off_strip(truth, corners, number)
    face = corners[:, 2] > truth.front.surface.floor / 2
    deviation = float(off.max())
    faults = [*truth.mark_faults(read.words), *_number_faults(read.words, number), *_unit_faults(read.words)]
    said = "" if deviation <= ROUNDING else _guess_strip(truth, corners, place)
    faults += [said] if said else _body_faults(truth, read.mesh, off, place)
    faults += closed_faults(read.mesh)
    least = float(corners[face, 2].min()) if face.any() else 0.0
    faults += floor_faults(truth, least)
    along = spread_along(place.length - corners[:, 1], off, place.length)
    return [
        Compared(
            name,
            "every corner with the surface, size, closed, volume",
            points=len(corners),
            deviation=deviation,
            allowed=ROUNDING,
            least=least,
            faults=tuple(faults),
            along={number: along},
            failed=(number,) if faults else (),
        )
    ]


def _guess_strip(truth: Truth, corners: Array, place: StripPlace) -> str:
    """Return what may have happened to a strip whose corners are not on its surface, in words; "" where no guess fits."""
    body = Body(place.width, place.length, place.number)
    return guess(corners, body, lambda points, other: _off_strip(truth, points, other), _strips(truth))


def _body_faults(truth: Truth, mesh: Mesh, off: Array, place: StripPlace) -> list[str]:
    """Return what is wrong with a strip's places, size and volume by figures."""
    where = [] if float(off.max()) <= ROUNDING else [_where(truth, mesh.corners, off, place)]
    sizes = _extent_faults(truth, mesh.corners, place.width, place.length)
    return [*where, *sizes, *volume_faults(truth, mesh, (place.number,))]


@reader("front.stl")
def compare_front(path: Path, name: str, truth: Truth) -> list[Compared]:
    """Compare all strips in one file, at their places on the front."""
    read, stated = read_stl(path), truth.stated_tolerance(name) or ROUNDING
    numbers = tuple(_strips(truth))
    faults = truth.mark_faults(read.words) + _unit_faults(read.words) + closed_faults(read.mesh)
    faults += volume_faults(truth, read.mesh, numbers, stated)
    return [_whole(truth, name, read.mesh, stated, faults)]


@reader("front.glb")
def compare_view(path: Path, name: str, truth: Truth) -> list[Compared]:
    """Compare the view in metres with the front: strips by their names, each on its own surface, doors behind them."""
    meshes = {name: Mesh(corners * _MM_PER_METRE, facets) for name, corners, facets in read_shapes(path)}
    strips = {number: meshes.get(f"strip {number}") for number in _strips(truth)}
    faults = truth.mark_faults(path.read_bytes()[:2_000_000].decode("latin-1"))
    missing = [number for number, mesh in strips.items() if mesh is None]
    faults += [f"holds no strip {missing[0]}"] if missing else []
    doors = [f"door {door.number}" for door in truth.front.layout.doors]
    faults += [f"holds no {door}" for door in doors if door not in meshes]
    found = [mesh for mesh in strips.values() if mesh is not None]
    if not found:
        return [Compared(name, "", faults=tuple(faults))]
    for number, mesh in strips.items():
        place = truth.front.layout.strip(number)
        if mesh is not None and not faults and not _within(mesh.corners, place):
            faults.append(f"its strip {number} is not at that strip's place")
    whole = _joined_meshes(found)
    stated = truth.stated_tolerance(name) or ROUNDING
    return [_whole(truth, name, whole, stated, _without_place_if_scaled(truth, whole, faults))]


def _without_place_if_scaled(truth: Truth, mesh: Mesh, faults: list[str]) -> list[str]:
    """Return the faults without those of places where the whole is of another size or turned, which is said by itself."""
    whole = _guess_whole(truth, mesh.corners) if faults else ""
    return [fault for fault in faults if not (whole and fault.startswith("its strip"))]


def _whole(truth: Truth, name: str, mesh: Mesh, stated: float, faults: list[str]) -> Compared:
    """Return what comes of the corners and the middles of the facets of the whole front."""
    front, corners = truth.front, mesh.corners
    off = _off_front(truth, corners)
    faults = list(faults)
    if not float(off.max()) <= ROUNDING:
        faults.append(_guess_whole(truth, corners) or _where_on_front(truth, corners, off))
    middles = _middles(mesh, front.surface.floor / 2)
    between = np.abs(middles[:, 2] - truth.heights_at(*np.round(middles[:, :2], 6).T)).max(initial=0.0)
    faults += _extent_faults(truth, corners, *_span(truth))
    faces = corners[corners[:, 2] > front.surface.floor / 2, 2]
    least = float(faces.min()) if len(faces) else 0.0
    return Compared(
        name,
        "every corner and the middles of facets with the surface, size, closed, volume"
        if name.endswith("stl")
        else "every corner and the middles of facets with the surface, size, unit",
        points=len(corners) + len(middles),
        deviation=max(float(off.max()), float(between)),
        allowed=stated + ROUNDING,
        least=least,
        faults=(*faults, *floor_faults(truth, least), *_between_faults(truth, float(between), stated)),
    )


def _between_faults(truth: Truth, between: float, stated: float) -> list[str]:
    """Return the fault of facets that are further off between their corners than the manifest states."""
    if between <= stated + ROUNDING:
        return []
    return [
        f"between their corners its facets are up to {truth.length(between)} off the surface, {truth.length(stated)} is stated"
    ]


def read_stl(path: Path) -> _Read:
    """Return the mesh in a binary STL; raises ValueError for what is none."""
    data = path.read_bytes()
    if len(data) < _HEAD or len(data) != _HEAD + int.from_bytes(data[80:_HEAD], "little") * _FACET.itemsize:
        raise ValueError("its length does not fit its number of facets")
    facets = np.frombuffer(data, dtype=_FACET, offset=_HEAD)
    if not len(facets):
        raise ValueError("it holds no facets")
    corners = np.ascontiguousarray(facets["corners"]).reshape(-1, 3).T.copy()
    if not np.isfinite(corners).all():
        raise ValueError("a corner in it is no number")
    # Two corners are one where all their bits agree.
    one, index = alike(list(corners.view("<u4")))
    places = np.take(corners, one, axis=1).T.astype(np.float64)
    mesh = Mesh(places, index.reshape(-1, 3), np.ascontiguousarray(facets["direction"]))
    return _Read(mesh, data[:80].decode("utf-8", "replace").strip())


def _unit_faults(words: str) -> list[str]:
    return [] if re.search(r"\bunit mm\b", words) else ["does not say that it is in mm"]


def _joined_meshes(meshes: Sequence[Mesh]) -> Mesh:
    starts = np.cumsum([0] + [len(mesh.corners) for mesh in meshes])
    facets = [mesh.facets + start for mesh, start in zip(meshes, starts, strict=False)]
    return Mesh(np.concatenate([mesh.corners for mesh in meshes]), np.concatenate(facets))


def _strips(truth: Truth) -> tuple[int, ...]:
    return truth.front.numbers


def _off_strip(truth: Truth, corners: Array, number: int) -> Array:
    """Return how far corners at a strip's own origin are off its surface or its back, mm."""
    place = truth.front.layout.strip(number)
    return off_surface(truth, corners + np.array([place.left, place.bottom, 0.0]))


def _off_front(truth: Truth, corners: Array) -> Array:
    return off_surface(truth, corners)


def off_surface(truth: Truth, corners: Array) -> Array:
    """Return how far corners (n, 3) are off the back or the surface, whichever is nearer, mm."""
    off = _off_at(truth, corners, 0.0)
    for aside in (_ASIDE, -_ASIDE):
        far = ~(off <= ROUNDING)
        # Where the surface steps between two strips, the last bit of a place in 32 bits decides on which side it lies.
        if far.any():
            off[far] = np.minimum(off[far], _off_at(truth, corners[far], aside))
    return off


def _off_at(truth: Truth, corners: Array, aside: float) -> Array:
    z = corners[:, 2]
    heights = truth.heights_at(corners[:, 0] + aside, corners[:, 1])
    nearer: Array = np.minimum(np.abs(z), np.abs(z - heights))
    return nearer


def _guess_whole(truth: Truth, corners: Array) -> str:
    width, length = _span(truth)
    strips = truth.front.layout.strips
    origin = np.array([strips[0].left, strips[0].bottom, 0.0])
    low = corners.min(axis=0) * [1.0, 1.0, 0.0]
    return guess(corners - low, Body(width, length), lambda points, _: off_surface(truth, points + origin), range(0))


def _span(truth: Truth) -> tuple[float, float]:
    """Return width and height from the first strip to the last, mm."""
    strips = truth.front.layout.strips
    return strips[-1].right - strips[0].left, strips[0].length


def _within(corners: Array, place: StripPlace) -> bool:
    low, high = corners.min(axis=0), corners.max(axis=0)
    found = np.array([low[0], high[0], low[1], high[1]])
    return bool(np.abs(found - [place.left, place.right, place.bottom, place.top]).max() <= ROUNDING)


def _middles(mesh: Mesh, floor: float) -> Array:
    """Return the middles of facets that belong to the face, all three corners above the back; of very many every second, third ..."""
    some = mesh.facets[:: -(-len(mesh.facets) // _MOST_MIDDLES)]
    three = mesh.corners[some]
    on_face = (three[:, :, 2] > floor).all(axis=1)
    across = np.ptp(three[:, :, :2], axis=1).min(axis=1) > 1e-4
    middles: Array = three[on_face & across].mean(axis=1)
    return middles


def _extent_faults(truth: Truth, corners: Array, width: float, length: float) -> list[str]:
    wide, long = np.ptp(corners[:, :2], axis=0)
    return [
        f"is {truth.length(float(found))} {word}, not {truth.length(wanted)}"
        for found, wanted, word in ((wide, width, "wide"), (long, length, "long"))
        if abs(found - wanted) > ROUNDING
    ]


def _number_faults(words: str, number: int) -> list[str]:
    found = _NUMBERED.search(words)
    return [f"says that it is strip {found[1]}"] if found and int(found[1]) != number else []


def closed_faults(mesh: Mesh) -> list[str]:
    """Return what is wrong with a solid's skin: every edge must be used as often one way as the other, every facet face outwards."""
    count = np.uint64(len(mesh.corners))
    first = np.ascontiguousarray(mesh.facets.T, dtype=np.uint64)
    second = first[[1, 2, 0]]
    one_way, other_way = (first * count + second).ravel(), (second * count + first).ravel()
    if _sum_of(one_way) != _sum_of(other_way):
        one_way, other_way = np.sort(one_way), np.sort(other_way)
        gaps = int(len(one_way) - np.isin(one_way, other_way, assume_unique=True).sum())
        return [f"is not closed: {gaps} edges have no other side"]
    wrong = mesh.otherwise
    return [f"{wrong} facets say that they face another way than they do"] if wrong else []


def _sum_of(numbers: NDArray[np.uint64]) -> int:
    """Return a sum of 64 bits to which each number adds what looks like chance: of other numbers it is another, of another order not."""
    return int(mixed([mixed([numbers])]).sum())


def volume_faults(truth: Truth, mesh: Mesh, numbers: Sequence[int], allowed: float = 0.0) -> list[str]:
    """Return the fault of a closed solid whose volume is not the integral of the surface: by the mean thickness, mm."""
    strips = [truth.front.strip(number) for number in numbers]
    area = sum(strip.width * strip.length for strip in strips)
    found, wanted = mesh.volume / area, sum(strip.volume for strip in strips) / area
    if abs(found - wanted) <= _MEAN_THICKNESS + allowed:
        return []
    return [f"holds wood of {truth.length(found)} on average, not {truth.length(wanted)}"]


def floor_faults(truth: Truth, least: float) -> list[str]:
    floor = truth.front.surface.floor
    if least >= floor - ROUNDING:
        return []
    return [f"is {truth.length(least)} thin, below the floor of {truth.length(floor)}"]


def _where(truth: Truth, corners: Array, off: Array, place: StripPlace) -> str:
    worst = corners[int(np.nanargmax(off))]
    return (
        f"is {truth.length(float(off.max()))} off the surface, {truth.length(place.length - worst[1])} from the top and "
        f"{truth.length(worst[0])} from its left edge"
    )


def _where_on_front(truth: Truth, corners: Array, off: Array) -> str:
    worst = corners[int(np.nanargmax(off))]
    top = truth.front.layout.strips[0].top
    return (
        f"is {truth.length(float(off.max()))} off the surface, {truth.length(top - worst[1])} from the top and "
        f"{truth.length(worst[0])} from the left of the front"
    )
