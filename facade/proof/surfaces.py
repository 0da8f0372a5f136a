"""Surfaces for machines: solids in STL and 3MF read by trimesh, height pictures read by Pillow with the text beside them."""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path, PurePosixPath

import numpy as np
from numpy.typing import NDArray

from facade.arrays import Array
from facade.cnc.fixture import fixtures
from facade.cnc.order import Order, Route
from facade.layout import StripPlace
from facade.proof.compared import Compared, spread_along
from facade.proof.readers import reader
from facade.proof.solids import Mesh, closed_faults, floor_faults, off_surface, read_stl
from facade.proof.truth import ROUNDING, Truth

_STRIP = re.compile(r"strip-(\d+)_")
_SOLID = re.compile(r"strip (\d+)")
_FORMULA = re.compile(r"Height = grey x ([0-9.]+) / (\d+)\.")
_MM_PER_INCH = 25.4


@reader("cnc-face/solids/*.stl", "cnc-face/solids/strips/*.stl")
def compare_stl(path: Path, name: str, truth: Truth) -> list[Compared]:
    """Compare the solids of a fixture or of one strip with the surface: corners, and the middles of facets."""
    read = read_stl(path)
    return [_compared(truth, name, read.mesh, truth.mark_faults(read.words), "size, closed")]


@reader("cnc-face/solids/*.3mf", "cnc-face/solids/strips/*.3mf")
def compare_3mf(path: Path, name: str, truth: Truth) -> list[Compared]:
    """Compare the solids in a 3MF, which holds its unit, with the surface."""
    import trimesh

    scene = trimesh.load_scene(path, process=False)
    faults = [] if scene.units == "millimeter" else [f"says that it is in {scene.units}, not in millimeters"]
    corners, facets, count = [], [], 0
    for node in scene.graph.nodes_geometry:
        matrix, of = scene.graph[node]
        mesh = scene.geometry[of]
        corners.append(np.asarray(mesh.vertices) @ matrix[:3, :3].T + matrix[:3, 3])
        facets.append(np.asarray(mesh.faces) + count)
        count += len(mesh.vertices)
    wanted = len(_places(name, truth))
    faults += [f"holds {len(corners)} solids, not {wanted}"] if len(corners) != wanted else []
    return [_compared(truth, name, Mesh(np.concatenate(corners), np.concatenate(facets)), faults, "size, closed, unit")]


def _places(name: str, truth: Truth) -> list[tuple[StripPlace, float]]:
    """Return the strips that a file is of, by its name, and where each one's left edge lies in it, mm; raises KeyError for none."""
    stem = PurePosixPath(name).name
    alone = _STRIP.match(stem)
    if alone:
        return [(truth.front.layout.strip(int(alone[1])), 0.0)]
    order = Order.of_data(Route.FACE, truth.manifest["cnc"]["face"])
    for fixture in fixtures(truth.front, order):
        if stem.startswith(f"{fixture.name}_"):
            return list(zip(fixture.places, fixture.lefts.tolist(), strict=True))
    raise KeyError("no fixture of this front is called so")


def _compared(truth: Truth, name: str, mesh: Mesh, faults: list[str], also: str) -> Compared:
    """Return what comes of solids that stand side by side, their backs at z = 0."""
    places = _places(name, truth)
    allowed = (truth.stated_tolerance(name) or ROUNDING) + ROUNDING
    if not _STRIP.match(PurePosixPath(name).name):
        # A fixture's solids lie as the machine's zero has them.
        mesh = replace(mesh, corners=mesh.corners - [*truth.front.job.first_strip, 0.0])
    corners, middles = mesh.corners, _middles(mesh)
    points = np.concatenate([corners, middles])
    on_front, found = _on_front(points, places)
    off = off_surface(truth, on_front)
    faults = [*faults, *_extent_faults(truth, corners, places), *closed_faults(mesh)]
    worst = float(off.max())
    if not worst <= allowed:
        faults.append(_guessed(truth, points, places) or _where(truth, points[int(np.nanargmax(off))], worst, places))
    face = corners[corners[:, 2] > truth.front.surface.floor / 2, 2]
    least = float(face.min()) if len(face) else 0.0
    faults += floor_faults(truth, least)
    along = {
        place.number: spread_along(place.length - points[found == index, 1], off[found == index], place.length)
        for index, (place, _) in enumerate(places)
    }
    wrong = [place.number for index, (place, _) in enumerate(places) if (off[found == index] > allowed).any()]
    return Compared(
        name,
        f"every corner and the middle of every facet with the surface, {also}",
        points=len(points),
        deviation=worst,
        allowed=allowed,
        least=least,
        faults=tuple(faults),
        along=along,
        failed=tuple(wrong or [place.number for place, _ in places]) if faults else (),
    )


def _middles(mesh: Mesh) -> Array:
    """Return the middles of facets that are no walls: those that lean over some width both ways."""
    three = mesh.corners[mesh.facets]
    leans = np.ptp(three[:, :, :2], axis=1).min(axis=1) > 1e-4
    return np.asarray(three[leans].mean(axis=1))


def _on_front(points: Array, places: list[tuple[StripPlace, float]]) -> tuple[Array, NDArray[np.intp]]:
    """Return points at their places on the front, and which of the strips each is of."""
    lefts = np.array([left for _, left in places])
    rights = lefts + np.array([place.width for place, _ in places])
    # A corner on an edge that two strips share belongs to either: their surface is one there.
    found = np.clip(np.searchsorted((rights[:-1] + lefts[1:]) / 2, points[:, 0]), 0, len(places) - 1)
    moved = points.copy()
    moved[:, 0] += np.array([place.left for place, _ in places])[found] - lefts[found]
    moved[:, 1] += places[0][0].bottom
    return moved, found


def _extent_faults(truth: Truth, corners: Array, places: list[tuple[StripPlace, float]]) -> Iterator[str]:
    width, length = places[-1][1] + places[-1][0].width, places[0][0].length
    for axis, wanted, word in ((0, width, "wide"), (1, length, "long")):
        size = float(np.ptp(corners[:, axis]))
        if abs(size - wanted) > ROUNDING:
            said = _scaled(size / wanted)
            yield f"is {truth.length(size)} {word}, not {truth.length(wanted)}{said}"


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


def _guessed(truth: Truth, points: Array, places: list[tuple[StripPlace, float]]) -> str:
    """Return what may have happened to solids, in words: mirrored, turned, or another strip's; "" for none of these."""
    some = points[:: max(1, len(points) // 600)]
    width, length = places[-1][1] + places[-1][0].width, places[0][0].length
    flips = {
        (False, False): "",
        (True, False): "looks mirrored left to right",
        (False, True): "looks mirrored top to bottom",
        (True, True): "looks turned end for end",
    }
    others = [places]
    if len(places) == 1:
        others += [[(place, 0.0)] for place in truth.front.layout.strips if place.number != places[0][0].number]
    for meant in others:
        for (across, along), said in flips.items():
            turned = some.copy()
            turned[:, 0] = width - some[:, 0] if across else some[:, 0]
            turned[:, 1] = length - some[:, 1] if along else some[:, 1]
            if float(off_surface(truth, _on_front(turned, meant)[0]).max()) < 0.03:
                whose = f"is strip {meant[0][0].number}'s surface" if meant is not places else ""
                return ", and ".join(filter(None, (whose, said)))
    return ""


def _where(truth: Truth, worst: Array, off: float, places: list[tuple[StripPlace, float]]) -> str:
    _, found = _on_front(worst[None], places)
    place, left = places[int(found[0])]
    return (
        f"is {truth.length(off)} off the surface of strip {place.number}, {truth.length(place.length - float(worst[1]))} from the top and "
        f"{truth.length(float(worst[0]) - left)} from its left edge"
    )


@reader("cnc-face/solids/*_heights.png", "cnc-face/solids/strips/*_heights.png")
def compare_heights(path: Path, name: str, truth: Truth) -> list[Compared]:
    """Compare a height picture with the surface, by the grey step that its text states."""
    from PIL import Image

    notes = path.with_suffix(".txt").read_text("utf-8")
    formula = _FORMULA.search(notes)
    if formula is None:
        return [Compared(name, "", faults=("the text beside it states no grey step",))]
    unit = truth.front.job.unit.in_mm
    step = float(formula[1]) * unit / int(formula[2])
    with Image.open(path) as picture:
        greys = np.asarray(picture, dtype=np.float64)[::-1]
        faults = [] if picture.mode.startswith("I;16") else [f"is of the kind {picture.mode}, not 16-bit grey"]
    places = _places(name, truth)
    width, length = places[-1][1] + places[-1][0].width, places[0][0].length
    x, y = np.linspace(0.0, width, greys.shape[1]), np.linspace(0.0, length, greys.shape[0])
    wanted = _heights(truth, places, x, y)
    off = np.abs(greys * step - wanted)
    on = np.isfinite(wanted)
    worst, allowed = float(off[on].max()), step / 2 + 1e-6
    if worst > allowed:
        turned = {"looks mirrored left to right": greys[:, ::-1], "looks upside down": greys[::-1]}
        said = next(
            (words for words, some in turned.items() if float(np.abs(some * step - wanted)[on].max()) < 0.05), ""
        )
        faults.append(said or f"is {truth.length(worst)} off the surface; half a grey step is {truth.length(step / 2)}")
    return [
        Compared(
            name,
            "the height of every pixel with the surface, to half a grey step",
            points=int(on.sum()),
            deviation=worst,
            allowed=allowed,
            least=float((greys * step)[on].min()),
            faults=tuple(faults),
            failed=tuple(place.number for place, _ in places) if faults else (),
        )
    ]


def _heights(truth: Truth, places: list[tuple[StripPlace, float]], x: Array, y: Array) -> Array:
    """Return the surface at the middles of pixels, nan where there is no strip."""
    found = np.full((len(y), len(x)), np.nan)
    for place, left in places:
        some = np.flatnonzero((x > left - 1e-6) & (x < left + place.width + 1e-6))
        on_front = np.clip(x[some] - left + place.left, place.left, place.right)
        found[:, some] = truth.front.surface.at(
            on_front[None, :], np.clip(y + place.bottom, place.bottom, place.top)[:, None]
        )
    return found
