"""Grid and mesh: what is read from files beside a job, and what is refused."""

import io
import os
import struct
import zipfile
import zlib

import numpy as np
import pytest
import trimesh
from helpers import a_job, at, open_grid, refusal, small_front, small_job
from hypothesis import given, settings
from hypothesis import strategies as st
from PIL import Image

from facade.arrays import Array
from facade.front import mark_of
from facade.reliefs import KINDS, Canvas
from facade.reliefs.grid import catmull_rom, spline_heights
from facade.reliefs.samples import read_mesh_heights, read_samples

SAMPLES = np.array([[3.0, 1.0, 4.0, 1.0], [5.0, 9.0, 2.0, 6.0], [5.0, 3.0, 5.0, 8.0]])


def npy_bytes(samples: Array, **options) -> bytes:
    """Return an array as the bytes of a .npy file."""
    stream = io.BytesIO()
    np.save(stream, samples, **options)
    return stream.getvalue()


def png_bytes(samples: np.ndarray) -> bytes:
    """Return an array as the bytes of a grey PNG."""
    stream = io.BytesIO()
    Image.fromarray(samples).save(stream, "PNG")
    return stream.getvalue()


def zip_bytes(**files: bytes) -> bytes:
    """Return files as the bytes of a ZIP."""
    stream = io.BytesIO()
    with zipfile.ZipFile(stream, "w", zipfile.ZIP_DEFLATED) as box:
        for name, data in files.items():
            box.writestr(f"{name}.npy", data)
    return stream.getvalue()


def png_of_size(width: int, height: int) -> bytes:
    """Return a PNG made by hand whose header promises any size, with next to nothing behind it."""

    def chunk(kind: bytes, body: bytes) -> bytes:
        return struct.pack(">I", len(body)) + kind + body + struct.pack(">I", zlib.crc32(kind + body))

    header = struct.pack(">IIBBBBB", width, height, 8, 0, 0, 0, 0)
    return (
        b"\x89PNG\r\n\x1a\n" + chunk(b"IHDR", header) + chunk(b"IDAT", zlib.compress(b"\0" * 100)) + chunk(b"IEND", b"")
    )


def grid_layer(name: str, **changes) -> list[dict]:
    """Return the layers of a job that reads one grid."""
    return [{"kind": "grid", "file": name, **changes}]


def heights_of(folder, name: str, canvas: Canvas, kind: str = "grid", **changes):
    """Return the heights of a relief read from a file."""
    settings = {"kind": kind, "file": name, **changes}
    return KINDS[kind].model_validate(settings, context={"folder": folder}).heights(canvas)


def test_an_array_is_read_as_it_is():
    assert np.array_equal(read_samples("a.npy", npy_bytes(SAMPLES)), SAMPLES)


@pytest.mark.parametrize("kind", ["<i2", ">i2", "u1", ">f4", "f8", "<u8"])
def test_an_array_of_any_plain_numbers_is_read(kind):
    assert np.array_equal(read_samples("a.npy", npy_bytes(SAMPLES.astype(kind))), SAMPLES)


def test_an_array_stored_by_columns_is_read_the_right_way_round():
    assert np.array_equal(read_samples("a.npy", npy_bytes(np.asfortranarray(SAMPLES))), SAMPLES)


def test_a_box_with_one_array_is_read():
    assert np.array_equal(read_samples("a.npz", zip_bytes(heights=npy_bytes(SAMPLES))), SAMPLES)


def test_a_table_is_read():
    assert np.array_equal(read_samples("a.csv", b"\xef\xbb\xbf3,1,4,1\n5, 9,2,6\n5,3,5e0,8\n"), SAMPLES)


@pytest.mark.parametrize("kind", [np.uint8, np.uint16])
def test_a_grey_picture_is_read_without_loss(kind):
    samples = (SAMPLES * (np.iinfo(kind).max // 9)).astype(kind)
    assert np.array_equal(read_samples("a.png", png_bytes(samples)), samples)


@pytest.mark.parametrize("name", ["a.PNG", "a.Png"])
def test_the_ending_may_be_in_capitals(name):
    assert read_samples(name, png_bytes(SAMPLES.astype(np.uint8))).shape == SAMPLES.shape


def coloured_png() -> bytes:
    """Return a small PNG in colour."""
    return png_bytes(np.zeros((4, 4, 3), dtype=np.uint8))


REFUSED = {
    "no ending that is known": ("a.jpg", b"", "must end in"),
    "a picture that is none": ("a.png", b"not a picture at all", "PNG"),
    "a cut-off picture": (
        "a.png",
        png_bytes(np.random.default_rng(1).integers(0, 255, (64, 64), dtype=np.uint8))[:2000],
        "damaged or cut-off",
    ),
    "a picture bomb": ("a.png", png_of_size(60_000, 60_000), "at most 20 million"),
    "a picture somewhat too large": ("a.png", png_of_size(10_000, 10_000), "at most 20 million"),
    "a picture with less in it than promised": ("a.png", png_of_size(3000, 3000), "damaged or cut-off"),
    "a picture in colour": ("a.png", coloured_png(), "grey"),
    "a picture of one row": ("a.png", png_of_size(99, 1), "at least 2 rows"),
    "an empty file": ("a.npy", b"", "not a whole"),
    "a cut-off array": ("a.npy", npy_bytes(SAMPLES)[:-9], "not a whole"),
    "an array with a torn header": ("a.npy", npy_bytes(SAMPLES)[:50], "not a whole"),
    "an array of the future": ("a.npy", npy_bytes(SAMPLES).replace(b"\x01\x00", b"\x09\x00", 1), "not a whole"),
    "pickled objects": (
        "a.npy",
        npy_bytes(np.array([[{}, {}], [{}, {}]], dtype=object), allow_pickle=True),
        "plain numbers",
    ),
    "words": ("a.npy", npy_bytes(np.array([["a", "b"], ["c", "d"]])), "plain numbers"),
    "complex numbers": ("a.npy", npy_bytes(SAMPLES + 1j), "plain numbers"),
    "three dimensions": ("a.npy", npy_bytes(np.zeros((2, 2, 2))), "at least 2 rows of 2"),
    "one row": ("a.npy", npy_bytes(np.zeros((1, 9))), "at least 2 rows of 2"),
    "no heights": ("a.npy", npy_bytes(np.zeros((0, 0))), "at least 2 rows of 2"),
    "a hole": ("a.npy", npy_bytes(np.where(SAMPLES == 9.0, np.nan, SAMPLES)), "finite"),
    "an endless height": ("a.npy", npy_bytes(np.where(SAMPLES == 9.0, np.inf, SAMPLES)), "finite"),
    "a height out of all proportion": (
        "a.npy",
        npy_bytes(np.where(SAMPLES == 9.0, -1e308, 1e308)),
        "must hold heights",
    ),
    "two arrays": ("a.npz", zip_bytes(a=npy_bytes(SAMPLES), b=npy_bytes(SAMPLES)), "exactly one array"),
    "an empty box": ("a.npz", zip_bytes(), "exactly one array"),
    "a box that is none": ("a.npz", b"PK not really", "npz"),
    "a box with a torn array": ("a.npz", zip_bytes(a=npy_bytes(SAMPLES)[:-9]), "not a whole"),
    "words in a table": ("a.csv", b"1,2\n3,four\n", "table of numbers"),
    "a ragged table": ("a.csv", b"1,2\n3\n", "table of numbers"),
    "an empty table": ("a.csv", b"", "at least 2 rows"),
    "a table that is no text": ("a.csv", b"\xff\xfe1,2", "table of numbers"),
}


@pytest.mark.parametrize(("name", "data", "reason"), REFUSED.values(), ids=REFUSED.keys())
def test_is_refused_with_its_reason(name, data, reason):
    with pytest.raises(ValueError, match=reason):
        read_samples(name, data)


def test_an_array_whose_header_promises_too_much_is_refused_before_it_is_read():
    data = npy_bytes(np.zeros((2, 2))).replace(b"(2, 2)", b"(99999, 99999)".ljust(6), 1)
    with pytest.raises(ValueError, match=r"at most 20 million|not a whole"):
        read_samples("a.npy", data)


WHOLE = {
    "a.npy": npy_bytes(SAMPLES),
    "a.npz": zip_bytes(heights=npy_bytes(SAMPLES)),
    "a.png": png_bytes(np.arange(400, dtype=np.uint16).reshape(20, 20)),
    "a.csv": b"1,2,3\n4,5,6\n7,8,9\n",
}


@settings(max_examples=400)
@given(st.sampled_from(sorted(WHOLE)), st.data())
def test_a_damaged_file_is_read_or_refused_in_a_sentence(name, data):
    damaged = bytearray(WHOLE[name])
    for _ in range(data.draw(st.integers(1, 4))):
        damaged[data.draw(st.integers(0, len(damaged) - 1))] = data.draw(st.integers(0, 255))
    try:
        samples = read_samples(name, bytes(damaged[: data.draw(st.integers(0, len(damaged)))]))
    except ValueError as error:
        assert str(error).startswith(("must", "is "))  # noqa: PT017 (either outcome is right)
    else:
        assert np.isfinite(samples).all()


def test_the_first_row_is_at_the_top(tmp_path):
    np.save(tmp_path / "a.npy", SAMPLES)
    heights = heights_of(tmp_path, "a.npy", Canvas(30, 20), rise=1)
    assert at(heights, (0, 20), (30, 20), (0, 0), (10, 10)) == pytest.approx([3.0, 1.0, 5.0, 9.0])


def test_stretched_samples_reach_all_four_corners(tmp_path):
    np.save(tmp_path / "a.npy", SAMPLES)
    heights = heights_of(tmp_path, "a.npy", Canvas(500, 700), rise=1, fill="stretch")
    x, y = open_grid(500, 700, 4, 3)
    assert np.allclose(heights(x, y[::-1]), SAMPLES, atol=1e-12)


@pytest.mark.parametrize("canvas", [Canvas(300, 100), Canvas(100, 300)])
def test_covering_samples_keep_their_shape_and_their_middle(tmp_path, canvas):
    y, x = np.mgrid[2:-3:6j, -3:3:7j]
    np.save(tmp_path / "a.npy", x * x + y * y)
    heights = heights_of(tmp_path, "a.npy", canvas, rise=1)
    middle = (canvas.width / 2, canvas.height / 2 - 0.0)
    across = at(heights, (middle[0] + 40, middle[1])) - at(heights, (middle[0] - 40, middle[1]))
    assert across == pytest.approx(0.0, abs=1e-9)


def test_covering_samples_leave_no_border_bare(tmp_path):
    np.save(tmp_path / "a.npy", np.tile(np.arange(5.0), (3, 1)))
    heights = heights_of(tmp_path, "a.npy", Canvas(100, 400), rise=1)
    left, right = at(heights, (0, 200), (100, 200))
    # 5 x 3 samples on 100 x 400: cells of 200 mm, of which the middle 100 mm are seen.
    assert (left, right) == pytest.approx((1.75, 2.25))


def test_without_a_rise_samples_run_from_nothing_to_one(tmp_path):
    np.save(tmp_path / "a.npy", SAMPLES)
    x, y = open_grid(30, 20, 4, 3)
    z = heights_of(tmp_path, "a.npy", Canvas(30, 20))(x, y)
    assert (z.min(), z.max()) == (0.0, 1.0)


def test_flat_samples_give_a_flat_relief(tmp_path):
    np.save(tmp_path / "a.npy", np.full((3, 3), 7))
    z = heights_of(tmp_path, "a.npy", Canvas(30, 20))(*open_grid(30, 20))
    assert np.ptp(z) == 0.0


def test_smoothing_keeps_the_mean_of_a_wide_field_and_calms_a_peak(tmp_path):
    samples = np.zeros((41, 41))
    samples[20, 20] = 1.0
    np.save(tmp_path / "a.npy", samples)
    x, y = open_grid(40, 40, 41, 41)
    z = heights_of(tmp_path, "a.npy", Canvas(40, 40), rise=1, smoothing=3)(x, y)
    assert z.sum() == pytest.approx(1.0)
    assert z.max() < 0.2


def test_beyond_the_border_the_spline_is_level():
    columns, rows = np.array([-5.0, 0.0]), np.array([1.0, 1.0])
    assert np.ptp(spline_heights(SAMPLES, columns, rows)) == 0.0


def test_on_an_open_grid_the_spline_is_the_same_as_at_points():
    column, row = np.linspace(-0.5, 3.5, 37)[None, :], np.linspace(-0.5, 2.5, 29)[:, None]
    full = np.broadcast_arrays(column, row)
    assert np.allclose(
        spline_heights(SAMPLES, column, row), spline_heights(SAMPLES, full[0].ravel(), full[1].ravel()).reshape(29, 37)
    )


@given(st.floats(0, 1))
def test_the_weights_of_the_spline_add_up_to_one(t):
    assert catmull_rom(np.array([t])).sum() == pytest.approx(1.0, abs=1e-12)


def mesh_bytes(mesh: trimesh.Trimesh, kind: str) -> bytes:
    """Return a mesh as the bytes of a file."""
    data = mesh.export(file_type=kind)
    return data.encode() if isinstance(data, str) else data


def a_wedge() -> trimesh.Trimesh:
    """Return a wedge 8 wide and 4 tall, rising from z = 0 at the left to z = 2 at the right."""
    corners = [[0, 0, 0], [8, 0, 2], [8, 4, 2], [0, 4, 0]]
    return trimesh.Trimesh(corners, [[0, 1, 2], [0, 2, 3]], process=False)


@pytest.mark.parametrize("kind", ["stl", "obj", "glb"])
def test_a_mesh_is_seen_from_the_front(kind):
    heights, cell = read_mesh_heights(f"a.{kind}", mesh_bytes(a_wedge(), kind), 17)
    assert cell == pytest.approx(0.5)
    assert np.allclose(heights, np.tile(np.linspace(0, 2, 17), (9, 1)), atol=1e-6)


def test_of_two_faces_above_each_other_the_nearer_is_seen():
    box = trimesh.creation.box(extents=[8, 4, 3])
    heights, _ = read_mesh_heights("a.stl", mesh_bytes(box, "stl"), 17)
    assert np.allclose(heights, 1.5)


def test_where_nothing_is_seen_stands_the_lowest_place():
    ball = trimesh.creation.icosphere(subdivisions=3, radius=5.0)
    heights, _ = read_mesh_heights("a.stl", mesh_bytes(ball, "stl"), 33)
    assert heights[0, 0] == pytest.approx(-5.0, abs=1e-6)


def test_a_ball_is_seen_as_a_half_ball():
    ball = trimesh.creation.icosphere(subdivisions=5, radius=5.0)
    heights, cell = read_mesh_heights("a.stl", mesh_bytes(ball, "stl"), 101)
    across = np.arange(101) * cell - 5.0
    square = across[None, :] ** 2 + across[:, None] ** 2
    inside = square < 16.0
    assert np.abs(heights - np.sqrt(np.maximum(25.0 - square, 0)))[inside].max() < 0.02


def test_the_first_row_of_a_mesh_is_its_top():
    corners = [[0, 0, 0], [4, 0, 0], [4, 4, 2], [0, 4, 2]]
    heights, _ = read_mesh_heights(
        "a.stl", mesh_bytes(trimesh.Trimesh(corners, [[0, 1, 2], [0, 2, 3]], process=False), "stl"), 17
    )
    assert (heights[0, 8], heights[-1, 8]) == pytest.approx((2.0, 0.0), abs=1e-6)


MESH_REFUSED = {
    "no ending that is known": ("a.step", b"", "must end in"),
    "an STL that is none": ("a.stl", b"this is no mesh", "mesh|triangles"),
    "an OBJ that is none": ("a.obj", b"this is no mesh", "mesh|triangles"),
    "a GLB that is none": ("a.glb", b"this is no mesh", "mesh|triangles"),
    "an empty STL": ("a.stl", b"\0" * 84, "mesh|triangles"),
    "an STL that promises more than it holds": (
        "a.stl",
        b"\0" * 80 + struct.pack("<I", 4_000_000_000),
        "mesh|triangles",
    ),
    "a cut-off GLB": ("a.glb", mesh_bytes(a_wedge(), "glb")[:300], "mesh|triangles"),
    "corners without faces": ("a.obj", b"v 0 0 0\nv 1 0 0\nv 0 1 0\n", "mesh|triangles"),
    "corners without place": ("a.obj", b"v nan 0 0\nv 1 0 0\nv 0 1 0\nf 1 2 3\n", "finite|mesh"),
    "corners of one number": ("a.obj", b"v 0\nv 1\nv 2\nf 1 2 3\n", "mesh|triangles"),
    "a mesh without width": ("a.obj", b"v 0 0 0\nv 0 1 0\nv 0 0 1\nf 1 2 3\n", "width and height"),
    "a thread": ("a.obj", b"v 0 0 0\nv 1e-6 0 0\nv 0 1000 0\nf 1 2 3\n", "at most 20 million"),
}


@pytest.mark.parametrize(("name", "data", "reason"), MESH_REFUSED.values(), ids=MESH_REFUSED.keys())
def test_a_mesh_is_refused_with_its_reason(name, data, reason):
    with pytest.raises(ValueError, match=reason):
        read_mesh_heights(name, data, 100)


def test_a_tall_narrow_mesh_takes_no_more_memory_than_its_cells():
    corners = [[0, 0, 0], [1, 0, 0], [1, 5000, 4], [0, 5000, 4]]
    heights, _ = read_mesh_heights(
        "a.stl", mesh_bytes(trimesh.Trimesh(corners, [[0, 1, 2], [0, 2, 3]], process=False), "stl"), 16
    )
    assert np.allclose(heights[:, 7], np.linspace(4, 0, len(heights)), atol=1e-6)


def test_a_mesh_becomes_a_front(tmp_path):
    (tmp_path / "wedge.stl").write_bytes(mesh_bytes(a_wedge(), "stl"))
    front = small_front(tmp_path, layers=[{"kind": "mesh", "file": "wedge.stl", "columns": 201, "fill": "stretch"}])
    edges = front.surface.at(np.array([[0.0, 100.0, 200.0]]), np.array([[60.0]]))
    assert edges[0] == pytest.approx([8.0, (8.0 + 19.2) / 2, 19.2], abs=1e-3)


def test_a_file_in_a_folder_below_may_be_named(tmp_path):
    (tmp_path / "below").mkdir()
    np.save(tmp_path / "below" / "a.npy", SAMPLES)
    assert small_front(tmp_path, layers=grid_layer("below/a.npy")).count == 8


def outside_by_dots(folder):
    """Name a file beside the folder by way of its parent."""
    return "../secret.npy"


def outside_by_root(folder):
    """Name a file beside the folder from the root."""
    return str(folder.parent / "secret.npy")


def outside_by_link(folder):
    """Name a link in the folder to a file beside it."""
    os.symlink(folder.parent / "secret.npy", folder / "link.npy")
    return "link.npy"


def outside_by_linked_folder(folder):
    """Name a file by way of a link in the folder to the folder above."""
    os.symlink(folder.parent, folder / "up", target_is_directory=True)
    return "up/secret.npy"


@pytest.mark.parametrize("way", [outside_by_dots, outside_by_root, outside_by_link, outside_by_linked_folder])
def test_a_file_outside_the_folder_of_the_job_is_refused(tmp_path, way):
    folder = tmp_path / "job"
    folder.mkdir()
    np.save(tmp_path / "secret.npy", SAMPLES)
    assert "must lie in the folder of the job file" in refusal(a_job(layers=grid_layer(way(folder))), folder)


def test_a_link_that_leads_to_itself_is_refused(tmp_path):
    os.symlink(tmp_path / "loop.npy", tmp_path / "loop.npy")
    assert "`layers[1]`: `file`" in refusal(a_job(layers=grid_layer("loop.npy")), tmp_path)


@pytest.mark.parametrize("name", ["a\0b.npy", "", ".", "nothing-here.npy", "x" * 255 + ".npy"])
def test_a_name_that_leads_nowhere_is_refused_in_a_sentence(tmp_path, name):
    said = refusal(a_job(layers=grid_layer(name)), tmp_path)
    assert said.startswith("`layers[1]")
    assert "\n" not in said
    assert "must" in said or "is not there" in said or "cannot be read" in said


def test_a_folder_is_no_grid(tmp_path):
    (tmp_path / "a.npy").mkdir()
    assert "is not there" in refusal(a_job(layers=grid_layer("a.npy")), tmp_path)


def test_a_huge_file_is_refused_unread(tmp_path):
    with open(tmp_path / "a.npy", "wb") as file:
        file.truncate(300 * 2**20)
    assert "at most 256 MB" in refusal(a_job(layers=grid_layer("a.npy")), tmp_path)


def test_without_a_folder_there_is_no_file():
    assert "needs a job file" in refusal(a_job(layers=grid_layer("a.npy")))


def test_another_content_under_the_same_name_gives_another_mark(tmp_path):
    marks = []
    for samples in (SAMPLES, SAMPLES + 0.001 * SAMPLES**2):
        np.save(tmp_path / "a.npy", samples)
        marks.append(mark_of(small_job(tmp_path, layers=grid_layer("a.npy"))))
    assert marks[0] != marks[1]
