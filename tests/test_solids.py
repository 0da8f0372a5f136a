"""Solids: closed, as large as their heights say, and cut by a stranger where our edge lines are."""

from __future__ import annotations

import io
import json
import struct

import numpy as np
import pytest
import trimesh
from helpers import small_front
from matplotlib.tri import LinearTriInterpolator, Triangulation

from facade.arrays import sag
from facade.build import Output, write
from facade.exporters.glb import to_glb
from facade.exporters.stl import facets, to_stl
from facade.front import Front
from facade.mesh import closed_solid, face_triangles, strip_grid, thinned_grid


@pytest.fixture(scope="module")
def front() -> Front:
    return small_front(
        front={"width": 203, "height": 320, "doors": 2, "space": 3}, layers=[{"kind": "hills", "size": 90}]
    )


def read_stl(data: bytes) -> trimesh.Trimesh:
    return trimesh.load(io.BytesIO(data), file_type="stl", force="mesh")


def cut_at(mesh: trimesh.Trimesh, x: float) -> tuple[np.ndarray, np.ndarray]:
    """Return the upper line (y, z) of a mesh cut by trimesh at x."""
    cut = trimesh.intersections.mesh_plane(mesh, plane_normal=[1, 0, 0], plane_origin=[x, 0, 0]).reshape(-1, 3)
    cut = cut[cut[:, 2] > 1e-6]
    order = np.lexsort((-cut[:, 2], np.round(cut[:, 1], 4)))
    cut = cut[order]
    first = np.r_[True, np.diff(np.round(cut[:, 1], 4)) > 0]
    return cut[first, 1], cut[first, 2]


def test_every_edge_of_a_solid_is_used_twice_in_opposite_ways(front: Front) -> None:
    triangles = closed_solid(strip_grid(front.strip(2))).triangles.astype(np.int64)
    edges = np.concatenate([triangles[:, [0, 1]], triangles[:, [1, 2]], triangles[:, [2, 0]]])
    forward = edges[:, 0] * (triangles.max() + 1) + edges[:, 1]
    backward = edges[:, 1] * (triangles.max() + 1) + edges[:, 0]
    assert len(np.unique(forward)) == len(forward)
    assert np.array_equal(np.sort(forward), np.sort(backward))


@pytest.mark.parametrize("number", [1, 4, 8])
def test_written_strip_is_watertight_and_its_volume_is_the_integral_of_its_heights(front: Front, number: int) -> None:
    strip = front.strip(number)
    mesh = read_stl(to_stl([facets(closed_solid(strip_grid(strip)))], "a strip"))
    assert mesh.is_watertight
    assert mesh.is_winding_consistent
    assert mesh.volume == pytest.approx(strip.volume, rel=1e-3)


def test_strip_stands_at_its_own_origin_with_its_back_at_zero(front: Front) -> None:
    strip = front.strip(5)
    mesh = read_stl(to_stl([facets(closed_solid(strip_grid(strip)))], "a strip"))
    assert mesh.bounds[0] == pytest.approx([0, 0, 0], abs=1e-6)
    assert mesh.bounds[1] == pytest.approx([strip.width, strip.length, strip.thickest.height], abs=1e-4)


def test_no_vertex_is_below_the_floor_or_above_the_blank(front: Front) -> None:
    mesh = read_stl(to_stl([facets(closed_solid(strip_grid(front.strip(3))))], "a strip"))
    carved = mesh.vertices[mesh.vertices[:, 2] > 1e-6, 2]
    assert carved.min() >= front.surface.floor - 1e-5
    assert carved.max() <= front.surface.highest + 1e-5


@pytest.mark.parametrize("side", ["left", "right"])
def test_edge_lines_agree_with_cuts_of_the_written_strips(front: Front, side: str) -> None:
    for strip in front.strips():
        mesh = read_stl(to_stl([facets(closed_solid(strip_grid(strip)))], "a strip"))
        x = 1e-4 if side == "left" else strip.width - 1e-4
        y, z = cut_at(mesh, x)
        edge = strip.left_edge if side == "left" else strip.right_edge
        assert np.abs(np.interp(strip.y - strip.place.bottom, y, z) - edge).max() < 0.02


def test_edge_lines_agree_with_cuts_of_the_written_front(
    front: Front, tmp_path_factory: pytest.TempPathFactory
) -> None:
    build = write(front, tmp_path_factory.mktemp("whole"), outputs=[Output.SOLID])
    mesh = trimesh.load(build.folder / "front.stl", force="mesh")
    for strip in front.strips():
        for x, edge in ((strip.place.left + 1e-3, strip.left_edge), (strip.place.right - 1e-3, strip.right_edge)):
            y, z = cut_at(mesh, x)
            assert np.abs(np.interp(strip.y, y, z) - edge).max() < 0.02


def test_written_front_is_one_closed_solid_a_strip(front: Front, tmp_path_factory: pytest.TempPathFactory) -> None:
    build = write(front, tmp_path_factory.mktemp("whole"), outputs=[Output.SOLID])
    mesh = trimesh.load(build.folder / "front.stl", force="mesh")
    assert mesh.is_watertight
    assert len(mesh.split(only_watertight=True)) == front.count
    assert mesh.volume == pytest.approx(sum(strip.volume for strip in front.strips()), rel=1e-3)


def test_stl_is_84_bytes_and_50_a_facet(front: Front) -> None:
    solid = closed_solid(strip_grid(front.strip(1)))
    data = to_stl([facets(solid)], "a strip")
    assert len(data) == 84 + 50 * len(solid.triangles)
    assert struct.unpack("<I", data[80:84])[0] == len(solid.triangles)


def test_stl_header_names_unit_and_mark_and_does_not_begin_with_solid(
    front: Front, tmp_path_factory: pytest.TempPathFactory
) -> None:
    build = write(front, tmp_path_factory.mktemp("strips"), outputs=[Output.STRIPS])
    head = (build.folder / "strips" / "strip-03_mm.stl").read_bytes()[:80].decode("ascii")
    assert front.mark in head
    assert " mm" in head
    assert not head.startswith("solid")


def test_normals_in_the_file_point_out(front: Front) -> None:
    data = to_stl([facets(closed_solid(strip_grid(front.strip(1))))], "a strip")
    found = np.frombuffer(data[84:], dtype=np.dtype([("n", "<f4", 3), ("c", "<f4", (3, 3)), ("a", "<u2")]))
    corners = found["c"].astype(float)
    cross = np.cross(corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0])
    cross /= np.linalg.norm(cross, axis=1, keepdims=True)
    assert np.abs(cross - found["n"]).max() < 1e-3


def test_thinned_strip_stays_within_its_tolerance(front: Front) -> None:
    strip = front.strip(2)
    grid, reached = thinned_grid(strip, 0.01, 1_000_000)
    assert reached == pytest.approx(0.01 + sag(strip.heights))
    along = np.stack([np.interp(strip.y, grid.y, line) for line in grid.heights.T], axis=1)
    whole = np.stack([np.interp(strip.x, grid.x, line) for line in along])
    # Rows and columns are each thinned within the tolerance.
    assert np.abs(whole - strip.heights).max() <= 0.0201


@pytest.mark.parametrize("tolerance", [0.02, 0.05, 0.1])
def test_no_height_is_further_from_the_facets_of_a_thinned_strip_than_said(front: Front, tolerance: float) -> None:
    """Facets as matplotlib draws them between the corners that are kept."""
    strip = front.strip(4)
    grid, _ = thinned_grid(strip, tolerance, 1_000_000)
    x, y = np.meshgrid(grid.x, grid.y)
    drawn = Triangulation(x.ravel(), y.ravel(), face_triangles(len(grid.y), len(grid.x)))
    on_facets = LinearTriInterpolator(drawn, grid.heights.ravel())(*np.meshgrid(strip.x, strip.y))
    assert grid.heights.size < strip.heights.size
    assert np.abs(on_facets - strip.heights).max() <= tolerance + 1e-9


def test_thinning_gives_way_where_too_much_would_be_kept(front: Front) -> None:
    grid, reached = thinned_grid(front.strip(2), 0.001, 40)
    assert grid.heights.size <= 40
    assert reached > 0.001


def glb_tree(data: bytes) -> dict:
    length = struct.unpack("<I", data[12:16])[0]
    return json.loads(data[20 : 20 + length])


@pytest.fixture(scope="module")
def glb(front: Front) -> bytes:
    return to_glb(front, [strip_grid_on_front(strip) for strip in front.strips()])


def strip_grid_on_front(strip):  # type: ignore[no-untyped-def]
    return thinned_grid(strip, 0.01, 100_000)[0]


def test_glb_is_read_in_metres_y_up_and_z_towards_the_viewer(front: Front, glb: bytes) -> None:
    scene = trimesh.load(io.BytesIO(glb), file_type="glb")
    low, high = scene.bounds
    strips = front.layout.strips
    assert high[:2] - low[:2] == pytest.approx([0.203, 0.320], abs=1e-6)
    assert high[2] == pytest.approx(max(strip.thickest.height for strip in front.strips()) / 1000, abs=2e-5)
    strip = scene.geometry["strip 3"]
    assert strip.bounds[:, 0] == pytest.approx([strips[2].left / 1000, strips[2].right / 1000], abs=1e-6)


def test_glb_follows_the_container_of_gltf_2(glb: bytes) -> None:
    """glTF 2.0 specification, Khronos 2021: magic, version, whole length, JSON chunk, binary chunk, both on 4 bytes."""
    magic, version, length = struct.unpack("<4sII", glb[:12])
    assert (magic, version, length) == (b"glTF", 2, len(glb))
    json_length = struct.unpack("<I", glb[12:16])[0]
    assert json_length % 4 == 0
    assert glb[16:20] == b"JSON"
    assert glb[20 + json_length + 4 : 20 + json_length + 8] == b"BIN\0"


def test_glb_is_accepted_by_another_reader(glb: bytes) -> None:
    import pygltflib

    tree = pygltflib.GLTF2.load_from_bytes(glb)
    assert tree.asset.version == "2.0"
    assert sum(mesh.name.startswith("strip") for mesh in tree.meshes) == 8


def test_glb_normals_are_of_unit_length_and_face_out(front: Front, glb: bytes) -> None:
    scene = trimesh.load(io.BytesIO(glb), file_type="glb", process=False)
    strip = scene.geometry["strip 2"]
    normals = np.asarray(strip.vertex_normals)
    assert np.linalg.norm(normals, axis=1) == pytest.approx(np.ones(len(normals)), abs=1e-4)
    across = np.cross(*np.moveaxis(np.diff(strip.triangles, axis=1), 1, 0))
    assert (np.einsum("ij,ij->i", across, normals[strip.faces[:, 0]]) > -1e-9).all()


def test_glb_wears_the_colour_of_its_wood(glb: bytes) -> None:
    red, green, blue, _ = glb_tree(glb)["materials"][0]["pbrMetallicRoughness"]["baseColorFactor"]
    assert 1 > red > green > blue > 0
