"""What the proof reads in one go is what general readers make of the same file: corners, places, letters, numbers."""

from __future__ import annotations

import re
import struct
import zipfile
from pathlib import Path

import numpy as np
import pytest
import trimesh
from ezdxf.filemanagement import readfile
from lxml import etree

from facade.arrays import Array
from facade.build import write
from facade.cnc.order import Order, Route
from facade.front import build_front
from facade.job import read_job
from facade.lengths import Unit
from facade.making import Output
from facade.proof import gltf, pdf, profiles, svg
from facade.proof.decimals import read_decimals
from facade.proof.kinds import alike, once_each
from facade.proof.plain_dxf import read_plain
from facade.proof.profiles import apart_of, read_dxf
from facade.proof.solids import Mesh, closed_faults, read_stl
from facade.proof.threemf import read_3mf

JOB = """
title = "Read back"
front = { width = 120, height = 110 }
strips = { count = 4 }
wood = { species = "white ash", blank = 20, floor = 8 }
layers = [{ kind = "hills", size = 60 }]
"""
WANTED = [Output(name) for name in ("strips", "view", "paper")]


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    place = tmp_path_factory.mktemp("read")
    job = place / "back.toml"
    job.write_text(JOB)
    front = build_front(read_job(job))
    write(front, place / "out", outputs=WANTED)
    for route in Route:
        found = write(front, place / "out", outputs=[Output(f"cnc-{route.value}")], cnc=Order(route)).folder
    return found


def some(folder: Path, pattern: str) -> list[Path]:
    found = sorted(folder.glob(pattern))
    assert found
    return found


def test_things_alike_are_told_as_numpy_tells_them() -> None:
    random = np.random.default_rng(7)
    for kinds, count in ((1, 5), (40, 3000), (2500, 3000), (3000, 3000)):
        parts = random.integers(0, 2**32, (3, kinds), dtype=np.uint32)[:, random.integers(0, kinds, count)]
        one, index = alike(list(parts))
        assert (parts[:, one][:, index] == parts).all()
        assert len(one) == np.unique(parts, axis=1).shape[1]


def test_values_once_each_are_those_of_numpy() -> None:
    random = np.random.default_rng(8)
    for values in (random.integers(-9, 9, 500) / 7.0, random.normal(size=500), np.array([0.0, -0.0, 2.5]), np.empty(0)):
        found, index = once_each(values)
        wanted, at = np.unique(values, return_inverse=True)
        assert (found == wanted).all()
        assert (index == at).all()


@pytest.mark.parametrize("text", ["1.5 -2.25\n 30.125", "0.0 -0.5 7.", "123456.789012 .5", "-.25", ""])
def test_decimals_are_what_python_reads(text: str) -> None:
    found = read_decimals(text.encode())
    assert found is not None
    assert found.tolist() == [float(one) for one in text.split()]


@pytest.mark.parametrize(
    "text",
    [
        "1.5 2",
        "1.2.3 4",
        "1.5 2.5.",
        "1.5e3",
        "1.5 x.5",
        "1.5-2.5",
        "--1.5",
        "99999999999999999.5",
        "nan",
        "1.0 12.5,3.0",
    ],
)
def test_numbers_that_are_written_otherwise_are_left_to_others(text: str) -> None:
    assert read_decimals(text.encode()) is None


def test_paths_in_plain_data_are_what_fonttools_makes_of_them(folder: Path) -> None:
    for path in [*some(folder, "paper/*.svg")[:6], *some(folder, "cnc-side/**/*.svg")[:2]]:
        data = [one.get("d", "") for one in etree.parse(path).iter(f"{svg._SVG}path")]
        for found, one in zip(svg._all_points(data), data, strict=True):
            wanted = svg._points(one)
            assert found.shape == wanted.shape
            assert np.abs(found - wanted).max(initial=0.0) < 1e-9


def test_plain_drawings_are_what_ezdxf_reads(folder: Path) -> None:
    for path in some(folder, "cnc-*/**/*.dxf"):
        plain = read_plain(path.read_text("utf-8"))
        assert plain is not None
        space = list(readfile(path).modelspace())
        runs = [one for one in space if one.dxftype() == "LWPOLYLINE"]
        circles = [one for one in space if one.dxftype() == "CIRCLE"]
        assert [(layer, closed) for layer, _, closed in plain.runs] == [(one.dxf.layer, one.closed) for one in runs]
        for (_, places, _), one in zip(plain.runs, runs, strict=True):
            assert (places == np.array([point[:2] for point in one])).all()
        wanted = [(one.dxf.layer, one.dxf.center.x, one.dxf.center.y, one.dxf.radius) for one in circles]
        assert list(plain.circles) == wanted


@pytest.mark.parametrize(
    ("before", "after"),
    [
        (" 10\n", " 11\n"),
        (" 70\n1\n", " 70\n129\n"),
        ("AcDbPolyline\n 90\n4\n", "AcDbPolyline\n 90\n5\n"),
        ("LWPOLYLINE\n", "POLYLINE\n"),
        ("100\nAcDbPolyline\n", " 48\n2.0\n100\nAcDbPolyline\n"),
    ],
)
def test_a_drawing_that_is_not_plain_is_read_whole(folder: Path, before: str, after: str) -> None:
    head, begin, entities = some(folder, "cnc-side/**/*.dxf")[0].read_text("utf-8").partition("ENTITIES\n")
    spoilt = entities.replace(before, after, 1)
    assert spoilt != entities
    assert read_plain(head + begin + spoilt) is None


def test_what_stands_around_the_entities_is_read_whole_where_it_is_another(folder: Path, tmp_path: Path) -> None:
    path = some(folder, "cnc-side/**/*.dxf")[0]
    read_dxf.cache_clear()
    assert not read_dxf(path, Unit.MM).faults
    text = path.read_text("utf-8")
    inches = tmp_path / "inches.dxf"
    inches.write_text(re.sub(r"(\$INSUNITS\n 70\n)4\n", r"\g<1>1\n", text))
    assert "does not say that it is in mm" in read_dxf(inches, Unit.MM).faults
    broken = tmp_path / "broken.dxf"
    broken.write_text(text.replace("ENDTAB", "ENDTABLE", 1).replace("  2\nTABLES\n", "  2\nTABLES\nno code\n", 1))
    with pytest.raises(ValueError, match="is no DXF"):
        read_dxf(broken, Unit.MM)


def test_plain_solids_are_what_trimesh_reads(folder: Path) -> None:
    for path in [*some(folder, "strips/*.stl"), *some(folder, "cnc-face/solids/*.stl")]:
        mesh, wanted = read_stl(path).mesh, trimesh.load_mesh(path, process=False)
        assert (mesh.corners[mesh.facets] == wanted.triangles).all()
        assert len(mesh.corners) == len(np.unique(wanted.vertices.astype("<f4"), axis=0))
        assert mesh.volume == pytest.approx(wanted.volume, rel=1e-9)
        assert not mesh.otherwise
        assert not closed_faults(mesh)


def test_a_solid_is_closed_where_every_edge_is_used_both_ways(folder: Path) -> None:
    """By counting: of random facets that are taken out, turned, or said twice."""
    mesh, random = read_stl(some(folder, "strips/*.stl")[0]).mesh, np.random.default_rng(9)
    for turn in range(12):
        facets = mesh.facets.copy()
        which = int(random.integers(len(facets)))
        if turn % 4 == 0:
            facets = np.delete(facets, which, axis=0)
        elif turn % 4 == 1:
            facets[which] = facets[which][::-1]
        elif turn % 4 == 2:
            facets[which] = facets[(which + 1) % len(facets)]
        else:
            facets = facets[random.permutation(len(facets))]
        edges = np.concatenate([facets[:, pair] for pair in ([0, 1], [1, 2], [2, 0])])
        keys, others = (np.sort(some_edges @ [len(mesh.corners), 1]) for some_edges in (edges, edges[:, ::-1]))
        assert bool(closed_faults(Mesh(mesh.corners, facets))) is not np.array_equal(keys, others)


def test_plain_packages_are_what_lxml_reads(folder: Path) -> None:
    for path in some(folder, "cnc-face/solids/**/*.3mf"):
        with zipfile.ZipFile(path) as package:
            root = etree.fromstring(package.read("3D/3dmodel.model"))
        for (_, mesh), part in zip(read_3mf(path).solids, root.iter("{*}mesh"), strict=True):
            corners = [[float(one.get(axis)) for axis in "xyz"] for one in part.iter("{*}vertex")]
            facets = [[int(one.get(name)) for name in ("v1", "v2", "v3")] for one in part.iter("{*}triangle")]
            assert np.abs(mesh.corners - corners).max() < 1e-9
            assert (mesh.facets == facets).all()


@pytest.mark.parametrize(
    ("before", "after"),
    [
        (b'<vertex x="', b'<vert5ex x="'),
        (b' v2="', b' v4="'),
        (b'" y="', b'" y="1-'),
        (b"</vertices>", b"<vertex/></vertices>"),
    ],
)
def test_a_package_that_is_written_otherwise_is_refused(
    folder: Path, tmp_path: Path, before: bytes, after: bytes
) -> None:
    spoilt = tmp_path / "spoilt.3mf"
    with zipfile.ZipFile(some(folder, "cnc-face/solids/**/*.3mf")[0]) as package, zipfile.ZipFile(spoilt, "w") as other:
        for part in package.namelist():
            other.writestr(part, package.read(part).replace(before, after, 1))
    with pytest.raises((ValueError, etree.XMLSyntaxError)):
        read_3mf(spoilt)


def test_plain_views_are_what_trimesh_reads(folder: Path) -> None:
    path = folder / "front.glb"
    plain = gltf._plain(path.read_bytes())
    assert plain is not None
    whole = {name: (corners, facets) for name, corners, facets in gltf._any(path)}
    assert {name for name, _, _ in plain} == set(whole)
    for name, corners, facets in plain:
        assert (corners == whole[name][0]).all()
        assert (facets == whole[name][1]).all()


def test_a_view_that_is_not_plain_is_read_by_trimesh(folder: Path, tmp_path: Path) -> None:
    data = (folder / "front.glb").read_bytes()
    size = struct.unpack("<I", data[12:16])[0]
    said = data[20 : 20 + size].replace(b'"mesh":0', b'"mesh":0,"translation":[0.25,0,0]', 1)
    said += b" " * (-len(said) % 4)
    numbers = data[20 + size :]
    moved = tmp_path / "front.glb"
    moved.write_bytes(
        data[:8] + struct.pack("<II", 20 + len(said) + len(numbers), len(said)) + b"JSON" + said + numbers
    )
    assert gltf._plain(moved.read_bytes()) is None
    before, after = (
        {name: corners for name, corners, _ in gltf.read_shapes(path)} for path in (folder / "front.glb", moved)
    )
    first = next(name for name, corners in after.items() if not np.array_equal(corners, before[name]))
    assert np.abs(after[first] - before[first] - [0.25, 0.0, 0.0]).max() < 1e-6


def test_letters_and_paths_of_a_page_are_those_that_are_asked_for_one_by_one(folder: Path) -> None:
    import ctypes

    from pypdfium2 import raw

    document = pdf.document(folder / "paper.pdf")
    for index in range(0, len(document), 3):
        page = document[index]
        letters = pdf.page_letters(page)
        codes = [raw.FPDFText_GetUnicode(letters.text.raw, int(number)) for number in letters.numbers]
        assert letters.letters == "".join("-" if code == 2 else chr(code) for code in codes)
        for path in pdf.page_paths(page):
            handle = ctypes.cast(path.handle, ctypes.c_void_p).value
            kept = pdf._side_by_side(handle, path.count)
            assert kept is None or (kept == pdf._one_by_one(handle, range(path.count))).all()


def test_closed_runs_may_begin_anywhere_and_go_either_way() -> None:
    run = np.random.default_rng(10).random((40, 2)) * 100.0
    ended = np.concatenate([run, run[:1]])
    others: list[Array] = [run, ended, np.roll(run, 7, axis=0), np.roll(run[::-1], 9, axis=0)]
    assert all(apart_of(ended, other) == apart_of(other, ended) == 0.0 for other in others)
    moved = run.copy()
    moved[3] += 0.5
    assert apart_of(ended, moved) == pytest.approx(0.5)
    assert profiles.ROUNDING < 0.5
