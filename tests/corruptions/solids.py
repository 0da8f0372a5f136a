"""Corruptions of solids: STL, 3MF and GLB."""

from __future__ import annotations

import io
import json
import re
import struct
import zipfile
from collections.abc import Callable, Iterator
from typing import Any

import numpy as np

from corruptions.corruption import Act, Corruption, Nothing, changed, copy_of, swapped_with

FACET = np.dtype([("normal", "<f4", 3), ("corners", "<f4", (3, 3)), ("attribute", "<u2")])
Corners = np.ndarray

STRIP, FRONT = "strips/strip-03_mm.stl", "front.stl"
CNC_STRIP, FIXTURE = "cnc-face/*strips/strip-03_mm.stl", "cnc-face/*fixture-01*_mm.stl"
SCENE = "front.glb"
LENGTH = 130.0


# STL


def corners(change: Callable[[Corners], Corners]) -> Act:
    """Return what changes the corners of an STL, (facets, 3, 3) mm, and leaves its directions right."""

    def edit(data: bytes) -> bytes:
        raw = bytearray(data)
        facets = np.frombuffer(raw, FACET, offset=84)
        new = change(facets["corners"].astype(np.float64))
        facets["corners"] = new
        sides = np.cross(new[:, 1] - new[:, 0], new[:, 2] - new[:, 0])
        long = np.linalg.norm(sides, axis=1)[:, None]
        facets["normal"] = np.where(long > 0, sides / np.where(long > 0, long, 1.0), 0.0)
        return bytes(raw)

    return changed(edit)


def one_corner(by: tuple[float, float, float]) -> Callable[[Corners], Corners]:
    """Return what shifts the highest corner, in every facet that it is a corner of."""

    def change(some: Corners) -> Corners:
        highest = some.reshape(-1, 3)[some[..., 2].argmax()].copy()
        some[(some == highest).all(axis=-1)] += by
        return some

    return change


def facets(change: Callable[[np.ndarray], np.ndarray]) -> Act:
    """Return what changes the list of facets of an STL."""

    def edit(data: bytes) -> bytes:
        new = change(np.frombuffer(data, FACET, offset=84).copy())
        return data[:80] + struct.pack("<I", len(new)) + new.tobytes()

    return changed(edit)


def turned_over(some: np.ndarray) -> np.ndarray:
    some[len(some) // 2]["normal"] *= -1
    return some


def wound_back(some: np.ndarray) -> np.ndarray:
    some[len(some) // 2]["corners"] = some[len(some) // 2]["corners"][::-1].copy()
    return some


def header(old: bytes, new: bytes) -> Act:
    """Return what changes the words in the header of an STL."""

    def edit(data: bytes) -> bytes:
        if old not in data[:80]:
            raise Nothing(f"{old!r} is not in the header")
        return data[:80].replace(old, new)[:80].ljust(80) + data[80:]

    return changed(edit)


def _mirror(axis: int, size: float) -> Callable[[Corners], Corners]:
    def change(some: Corners) -> Corners:
        some[..., axis] = size - some[..., axis]
        return some[:, ::-1]

    return change


def _stl(kind: str, on: str, mate: str | None) -> Iterator[Corruption]:
    """Yield what is done to an STL."""
    acts: list[tuple[str, Act]] = [
        ("0.1 mm higher", corners(lambda c: c + [0, 0, 0.1])),
        ("its face 0.1 mm higher", corners(lambda c: np.where(c[..., 2:] > 1, c + [0, 0, 0.1], c))),
        ("0.1 mm to the right", corners(lambda c: c + [0.1, 0, 0])),
        ("one part in a thousand longer", corners(lambda c: c * [1, 1.001, 1])),
        ("1 % thinner", corners(lambda c: c * [1, 1, 0.99])),
        ("inches", corners(lambda c: c / 25.4)),
        ("mirrored left to right", corners(lambda c: _mirror(0, float(c[..., 0].max()))(c))),
        ("mirrored top to bottom", corners(_mirror(1, LENGTH))),
        ("one corner 0.1 mm lower", corners(one_corner((0, 0, -0.1)))),
        ("one corner 5 mm lower", corners(one_corner((0, 0, -5.0)))),
        ("a facet missing", facets(lambda f: f[:-1])),
        ("a facet doubled", facets(lambda f: np.concatenate([f, f[-1:]]))),
        ("a facet that faces inwards", facets(turned_over)),
        ("a facet wound the other way", facets(wound_back)),
        ("another unit in its header", header(b"unit mm", b"unit in")),
    ]
    if mate:
        acts += [
            ("another strip under its name", copy_of(mate)),
            ("exchanged with another strip", swapped_with(mate)),
            ("another strip in its header", header(b"strip 3", b"strip 4")),
        ]
    for what, act in acts:
        yield Corruption(kind, on, what, act)
    yield Corruption(kind, on, "another mark in its header", _mark)


def _mark_of(data: bytes) -> bytes:
    found = re.search(rb"mark (\w{4}-\w{4})", data)
    if not found:
        raise Nothing("no mark")
    return found[1]


_mark: Act = changed(lambda data: data.replace(_mark_of(data), b"7Q2M-X4KD"))


# 3MF


def model(change: Callable[[str], str]) -> Act:
    """Return what changes the model in a 3MF; its package stays as it was."""

    def edit(data: bytes) -> bytes:
        written = io.BytesIO()
        with zipfile.ZipFile(io.BytesIO(data)) as old, zipfile.ZipFile(written, "w", zipfile.ZIP_DEFLATED) as new:
            for about in old.infolist():
                inside = old.read(about)
                if about.filename.endswith(".model"):
                    inside = change(inside.decode("utf-8")).encode("utf-8")
                new.writestr(about, inside)
        return written.getvalue()

    return changed(edit)


def vertices(change: Callable[[float, float, float], tuple[float, float, float]], which: int | None = None) -> Act:
    """Return what changes the corners of a 3MF, or the one of that index."""

    def new(said: str) -> str:
        found = list(re.finditer(r'<vertex x="([-\d.]+)" y="([-\d.]+)" z="([-\d.]+)"/>', said))
        for match in reversed(found if which is None else [found[which]]):
            x, y, z = change(*(float(value) for value in match.groups()))
            written = f'<vertex x="{x:.4f}" y="{y:.4f}" z="{z:.4f}"/>'
            said = said[: match.start()] + written + said[match.end() :]
        return said

    return model(new)


def worded(old: str, new: str) -> Act:
    def change(said: str) -> str:
        found = re.sub(old, new, said, count=1)
        if found == said:
            raise Nothing(f"{old!r} is not there")
        return found

    return model(change)


def _3mf() -> Iterator[Corruption]:
    """Yield what is done to a 3MF, of a fixture and of a strip."""
    for kind, on, mate in (
        ("solids of a fixture, 3MF", "cnc-face/*fixture-01*_mm.3mf", "cnc-face/*fixture-02*_mm.3mf"),
        ("strip for machines, 3MF", "cnc-face/*strips/strip-03_mm.3mf", "cnc-face/*strips/strip-06_mm.3mf"),
    ):
        for what, act in (
            ("its unit inches", worded('unit="millimeter"', 'unit="inch"')),
            ("0.1 mm higher", vertices(lambda x, y, z: (x, y, z + 0.1))),
            ("0.1 mm to the right", vertices(lambda x, y, z: (x + 0.1, y, z))),
            ("1 % larger", vertices(lambda x, y, z: (x * 1.01, y * 1.01, z * 1.01))),
            ("one corner 0.1 mm lower", vertices(lambda x, y, z: (x, y, z - 0.1), which=3)),
            ("a facet missing", worded(r'<triangle v1="\d+" v2="\d+" v3="\d+"/>', "")),
            ("another mark", worded(r"mark \w{4}-\w{4}", "mark 7Q2M-X4KD")),
            ("no mark", worded(r"mark \w{4}-\w{4}", "")),
            ("another strip's name on an object", worded(r'name="strip \d+"', 'name="strip 8"')),
            ("another title", worded(r'(name="Title">)[^<]*', r"\1Another front")),
            ("an item moved", worded(r'(<item objectid="\d+")', r'\1 transform="1 0 0 0 1 0 0 0 1 0.5 0 0"')),
            ("another file under its name", copy_of(mate)),
        ):
            yield Corruption(kind, on, what, act)


# GLB


def glb(change: Callable[[dict[str, Any], bytearray], None]) -> Act:
    """Return what changes the description and the numbers of a GLB."""

    def edit(data: bytes) -> bytes:
        said = struct.unpack("<I", data[12:16])[0]
        about = json.loads(data[20 : 20 + said])
        numbers = bytearray(data[28 + said :])
        change(about, numbers)
        text = json.dumps(about, separators=(",", ":")).encode()
        text += b" " * (-len(text) % 4)
        chunks = (
            struct.pack("<I4s", len(text), b"JSON")
            + text
            + struct.pack("<I4s", len(numbers), b"BIN\0")
            + bytes(numbers)
        )
        return struct.pack("<4sII", b"glTF", 2, 12 + len(chunks)) + chunks

    return changed(edit)


def positions(change: Callable[[np.ndarray], np.ndarray], mesh: int | None = None) -> Act:
    """Return what changes the corners (n, 3), m, of a mesh, or of all."""

    def edit(about: dict[str, Any], numbers: bytearray) -> None:
        for index, one in enumerate(about["meshes"]):
            if mesh is not None and index != mesh:
                continue
            accessor = about["accessors"][one["primitives"][0]["attributes"]["POSITION"]]
            view = about["bufferViews"][accessor["bufferView"]]
            places = np.frombuffer(numbers, "<f4", accessor["count"] * 3, view.get("byteOffset", 0)).reshape(-1, 3)
            places[:] = change(places.astype(np.float64))
            accessor["min"], accessor["max"] = places.min(axis=0).tolist(), places.max(axis=0).tolist()

    return glb(edit)


def _described(change: Callable[[dict[str, Any]], None]) -> Act:
    return glb(lambda about, _: change(about))


def _names_exchanged(about: dict[str, Any]) -> None:
    nodes = about["nodes"]
    nodes[1]["name"], nodes[2]["name"] = nodes[2]["name"], nodes[1]["name"]


def _meshes_exchanged(about: dict[str, Any]) -> None:
    nodes = about["nodes"]
    nodes[1]["mesh"], nodes[2]["mesh"] = nodes[2]["mesh"], nodes[1]["mesh"]


def _moved_node(about: dict[str, Any]) -> None:
    about["nodes"][2]["translation"] = [0.001, 0.0, 0.0]


def _lost_node(about: dict[str, Any]) -> None:
    about["scenes"][0]["nodes"] = about["scenes"][0]["nodes"][1:]


def _another_wood(about: dict[str, Any]) -> None:
    about["materials"][0]["pbrMetallicRoughness"]["baseColorFactor"] = [0.05, 0.02, 0.01, 1.0]


def _another_mark(about: dict[str, Any]) -> None:
    about["asset"]["generator"] = "facade, mark 7Q2M-X4KD"


def _lower_corner(places: np.ndarray) -> np.ndarray:
    places[places[:, 2].argmax(), 2] -= 0.0005
    return places


def _glb() -> Iterator[Corruption]:
    for what, act in (
        ("in mm, not in metres", positions(lambda p: p * 1000)),
        ("1 % larger", positions(lambda p: p * 1.01)),
        ("0.5 mm higher", positions(lambda p: p + [0, 0, 0.0005])),
        ("0.5 mm to the right", positions(lambda p: p + [0.0005, 0, 0])),
        ("one strip 0.5 mm thicker", positions(lambda p: np.where(p[:, 2:] > 0.001, p + [0, 0, 0.0005], p), mesh=3)),
        ("mirrored left to right", positions(lambda p: p * [-1, 1, 1] + [0.19, 0, 0])),
        ("one corner 0.5 mm lower", positions(_lower_corner, mesh=1)),
        ("two strips' names exchanged", _described(_names_exchanged)),
        ("two strips' shapes exchanged", _described(_meshes_exchanged)),
        ("a strip moved by 1 mm", _described(_moved_node)),
        ("a strip missing", _described(_lost_node)),
        ("another wood", _described(_another_wood)),
        ("another mark", _described(_another_mark)),
        ("no mark", _described(lambda about: about["asset"].update(generator="facade"))),
    ):
        yield Corruption("front in 3-D, GLB", SCENE, what, act)


CORRUPTIONS: tuple[Corruption, ...] = (
    *_stl("strip, STL", STRIP, "strips/strip-06_mm.stl"),
    *_stl("front, STL", FRONT, None),
    *_stl("strip for machines, STL", CNC_STRIP, "cnc-face/*strips/strip-06_mm.stl"),
    *_stl("solids of a fixture, STL", FIXTURE, None),
    Corruption(
        "solids of a fixture, STL", FIXTURE, "another fixture under its name", copy_of("cnc-face/*fixture-02*_mm.stl")
    ),
    *_3mf(),
    *_glb(),
)

UNTOUCHED: tuple[Corruption, ...] = (
    Corruption("front in 3-D, GLB", SCENE, "written again", changed(lambda data: data)),
    Corruption(
        "strip for machines, 3MF", "cnc-face/*strips/strip-03_mm.3mf", "packed again", model(lambda said: said + "\n")
    ),
)
