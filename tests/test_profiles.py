"""Profiles of strips on their side: true to the surface, not mirrored, sizes that a calliper reads; read back by ezdxf and svgelements."""

from __future__ import annotations

import csv
import io
from itertools import pairwise

import numpy as np
import pytest
from ezdxf.filemanagement import read
from helpers import small_front
from readers import svg_paths

from facade.cnc.order import Order, Route
from facade.cnc.profiles import SHORTEST, profile_of
from facade.cnc.side_bays import batches, bay_of
from facade.cnc.side_drawing import FACE, FACE_MIDDLE, OUTLINE, SQUARE, STEP, STEP_MIDDLE
from facade.cnc.side_files import side_files, side_names
from facade.cnc.strokes import strokes, strokes_width
from facade.errors import JobError
from facade.front import Front
from facade.lengths import Unit
from facade.slicer import edge_heights

SIDE = Order(Route.SIDE)
INCHES = {
    "unit": "in",
    "front": {"width": 8, "height": 5},
    "strips": {"count": 6},
    "wood": {"species": "white ash", "blank": 0.8, "floor": 0.3},
    "layers": [{"kind": "hills", "size": 2.5}],
}


@pytest.fixture(scope="module", params=["mm", "in"])
def front(request: pytest.FixtureRequest) -> Front:
    return small_front(**(INCHES if request.param == "in" else {}))


@pytest.fixture(scope="module")
def files(front: Front) -> dict[str, bytes]:
    return {name: data for name, data, _ in side_files(front, SIDE)}


def space_of(data: bytes):
    return read(io.StringIO(data.decode())).modelspace()


def places(entity) -> np.ndarray:
    return np.array([point[:2] for point in entity])


def drawn(data: bytes, layer: str) -> list[np.ndarray]:
    return [places(one) for one in space_of(data).query(f'LWPOLYLINE[layer=="{layer}"]')]


def in_bay(front: Front, run: np.ndarray) -> np.ndarray:
    """Return a run of the first bay in mm from its strip's back and BOTTOM end."""
    return run * front.job.unit.in_mm - front.job.first_on_side


def dxf_of(files: dict[str, bytes], number: int) -> bytes:
    return next(
        data for name, data in files.items() if name.startswith(f"strips/strip-{number:02d}") and name.endswith("dxf")
    )


def test_the_names_are_known_beforehand(front: Front, files: dict[str, bytes]) -> None:
    assert sorted(files) == sorted(side_names(front, SIDE))


def test_names_sort_as_strips_hang_and_say_door_side_size_and_unit(front: Front, files: dict[str, bytes]) -> None:
    names = sorted(name for name in files if name.startswith("strips/") and name.endswith("dxf"))
    assert [int(name[13:15]) for name in names] == list(range(1, front.count + 1))
    unit = "mm" if front.job.unit is Unit.MM else "inch"
    assert all("_door-1_right-side-up_" in name and name.endswith(f"_{unit}.dxf") for name in names)
    wide, thick, long = (float(size) for size in names[0].split("_")[3].split("x"))
    place = front.layout.strip(1)
    assert [wide, thick, long] == pytest.approx(
        [size / front.job.unit.in_mm for size in (place.width, front.job.wood.blank, place.length)], abs=0.006
    )


def test_the_proof_square_comes_first_and_is_true(front: Front, files: dict[str, bytes]) -> None:
    for name, data in files.items():
        if name.endswith("dxf"):
            first = next(iter(space_of(data)))
            assert first.dxf.layer == "proof square"
            side = SQUARE[front.job.unit] / front.job.unit.in_mm
            assert np.ptp(places(first), axis=0) == pytest.approx([side, side], abs=1e-6)
            assert side in (100.0, 4.0)


def test_every_outline_is_one_closed_path_counter_clockwise(files: dict[str, bytes]) -> None:
    for name, data in files.items():
        if name.endswith("dxf"):
            for one in space_of(data).query(f'LWPOLYLINE[layer=="{OUTLINE}"]'):
                x, y = places(one).T
                assert one.closed
                assert np.dot(x, np.roll(y, -1)) - np.dot(y, np.roll(x, -1)) > 0


def test_no_piece_is_too_short_and_no_place_doubled(front: Front, files: dict[str, bytes]) -> None:
    for layer in (OUTLINE, "left line", "right line", "saw line", FACE, FACE_MIDDLE, STEP, STEP_MIDDLE):
        for run in drawn(dxf_of(files, 2), layer):
            pieces = np.hypot(*np.diff(run, axis=0).T) * front.job.unit.in_mm
            assert pieces.min() >= SHORTEST - 1e-3


def test_only_what_imports_everywhere_is_in_it(files: dict[str, bytes]) -> None:
    for name, data in files.items():
        if name.endswith("dxf"):
            assert {one.dxftype() for one in space_of(data)} <= {"LWPOLYLINE", "CIRCLE"}
            # AutoCAD's own rule for symbol names: none of < > / \\ " : ; ? * | , = `
            assert not any(set(one.dxf.layer) & set('<>/\\":;?*|,=`') for one in space_of(data))


@pytest.mark.parametrize("number", [1, 4])
def test_lines_stay_close_to_the_surface(front: Front, files: dict[str, bytes], number: int) -> None:
    """Against the surface every 0.05 mm, between the points too."""
    job, place = front.job, front.layout.strip(number)
    x = np.linspace(0.0, place.length, round(place.length / 0.05) + 1)
    left, right = edge_heights(front.surface, place, place.length - x)
    higher = np.maximum(left, right)
    known = {
        "left line": left,
        "right line": right,
        "saw line": np.minimum(higher + job.wood.sawing, job.wood.blank),
    }
    for layer, heights in known.items():
        run = in_bay(front, drawn(dxf_of(files, number), layer)[0])
        assert np.abs(np.interp(x, *run.T) - heights).max() <= job.machine.side.tolerance + 0.001
    face = in_bay(front, drawn(dxf_of(files, number), FACE)[0])
    assert np.abs(np.interp(x, *face.T) - np.minimum(higher + job.wood.sanding, job.wood.blank)).max() <= 0.011


def test_the_outline_is_nowhere_below_a_finished_edge_and_nowhere_above_the_blank(front: Front) -> None:
    for number in range(1, front.count + 1):
        profile = profile_of(front, number, front.job.wood.blank)
        x = profile.cut[:, 0]
        left, right = edge_heights(front.surface, profile.place, profile.place.length - x)
        assert (profile.cut[:, 1] >= np.maximum(left, right) - 1e-6).all()
        assert profile.outline[:, 1].max() <= front.job.wood.blank + 1e-9


def test_a_strips_back_begins_where_the_job_says(front: Front, files: dict[str, bytes]) -> None:
    outline = drawn(dxf_of(files, 3), OUTLINE)[0]
    assert outline.min(axis=0) * front.job.unit.in_mm == pytest.approx(front.job.first_on_side, abs=1e-4)


def test_nothing_is_mirrored() -> None:
    """A face that rises to its TOP end and falls to the right: higher at the file's right, the left line above the right one."""
    profile = profile_of(_leaning(), 4, 20.0)
    assert profile.cut[-1, 1] > profile.cut[0, 1] + 1.0
    assert (profile.left[:, 1].mean() - profile.right[:, 1].mean()) > 0.2


def _leaning() -> Front:
    given = [((0, 0), 0.5), ((200, 0), 0.0), ((0, 120), 1.0), ((200, 120), 0.5)]
    layer = {"kind": "points", "points": [{"place": list(place), "height": height} for place, height in given]}
    return small_front(layers=[layer])


def test_svg_shows_the_same_as_dxf(front: Front, files: dict[str, bytes]) -> None:
    """The outline in both, y turned once: the same width and height, and the same shape."""
    name = next(name for name in files if name.startswith("strips/strip-02") and name.endswith("svg"))
    shown = svg_paths(files[name].decode())[OUTLINE.replace(" ", "-")]
    cut = drawn(dxf_of(files, 2), OUTLINE)[0] * front.job.unit.in_mm
    assert np.ptp(shown, axis=0) == pytest.approx(np.ptp(cut, axis=0), abs=0.002)
    x, up = shown[:, 0] - shown[:, 0].min(), shown[:, 1].max() - shown[:, 1]
    top = up > 1.0
    order = np.argsort(x[top])
    face = profile_of(front, 2, front.job.wood.blank).cut
    assert np.interp(face[3:-3, 0], x[top][order], up[top][order]) == pytest.approx(face[3:-3, 1], abs=0.02)


def test_the_table_of_sizes_is_that_of_the_outlines(front: Front, files: dict[str, bytes]) -> None:
    unit = front.job.unit.value
    rounding = 0.0051 if unit == "mm" else 0.00051
    rows = list(csv.DictReader(io.StringIO(files["sizes.csv"].decode())))
    assert len(rows) == front.count
    for row in rows:
        outline = drawn(files[row["file"]], OUTLINE)[0]
        wide, high = np.ptp(outline, axis=0)
        assert float(row[f"length {unit}"]) == pytest.approx(wide, abs=rounding)
        assert float(row[f"greatest height {unit}"]) == pytest.approx(high, abs=rounding)
        assert float(row[f"width {unit}"]) == pytest.approx(
            front.layout.strip(int(row["strip"])).width / front.job.unit.in_mm, abs=rounding
        )


def test_screw_pilots_are_where_the_screws_go(front: Front, files: dict[str, bytes]) -> None:
    for number in (1, front.count):
        place = front.layout.strip(number)
        wanted = sorted(place.length - screw.from_top for screw in front.measures_of(number).screws.screws)
        found = sorted(in_bay(front, run)[:, 0].mean() for run in drawn(dxf_of(files, number), "screw pilots"))
        assert found == pytest.approx(wanted, abs=1e-3)


def test_the_number_lies_within_its_strip(front: Front, files: dict[str, bytes]) -> None:
    for number in range(1, front.count + 1):
        data = dxf_of(files, number)
        figures = in_bay(front, np.concatenate(drawn(data, "number")))
        assert figures.min() > 0.5
        heights = np.interp(figures[:, 0], *profile_of(front, number, front.job.wood.blank).left.T)
        assert (figures[:, 1] < heights).all()


def test_strips_that_are_cut_together_do_not_touch(front: Front, files: dict[str, bytes]) -> None:
    for name, data in files.items():
        if name.startswith("together/") and name.endswith("dxf"):
            blanks = sorted(drawn(data, "blank"), key=lambda run: run[:, 1].min())
            gaps = [above[:, 1].min() - below[:, 1].max() for below, above in pairwise(blanks)]
            assert min(gaps) * front.job.unit.in_mm >= 2 * front.job.machine.side.cutter - 1e-4
            assert len(blanks) == len(drawn(data, OUTLINE))


def test_the_same_front_gives_the_same_bytes(front: Front, files: dict[str, bytes]) -> None:
    assert {name: data for name, data, _ in side_files(front, SIDE)} == files


def test_an_inch_job_shows_no_mm(front: Front, files: dict[str, bytes]) -> None:
    words = files["read-me.txt"].decode() + files["sizes.csv"].decode()
    assert (" mm" in words) == (front.job.unit is Unit.MM)


def test_files_of_a_front_that_the_checks_stop_say_so() -> None:
    files = {name: data for name, data, _ in side_files(small_front(), Order(Route.SIDE, cleared=False))}
    assert b"NOT CLEARED" in files["read-me.txt"]


def test_some_strips_alone() -> None:
    order = Order(Route.SIDE, (2, 3, 6))
    assert [[place.number for place in some] for some in batches(bay_of(small_front(), order), order)] == [[2, 3], [6]]


@pytest.mark.parametrize(
    ("machine", "field"),
    [
        ({"side": {"length": 12, "reach": 20}}, "machine.side.reach"),
        ({"side": {"length": 12, "shank": 10}}, "machine.side.shank"),
        ({"side": {"cutter": 8, "apart": 8}}, "machine.side.apart"),
        ({"side": {"cutter": 20}}, "machine.waste"),
        ({"hold": "tabs", "side": {"tab": 12}}, "machine.side.tab"),
        ({"hold": "tape", "cut": "either"}, "machine.cut"),
        ({"bed": [100, 400], "strips": 8}, "machine.strips"),
        ({"bed": [600, 100]}, "machine.bed"),
        ({"bed": [10, 400]}, "machine.bed"),
    ],
)
def test_what_does_not_go_together_is_refused(machine: dict, field: str) -> None:
    with pytest.raises(JobError) as caught:
        side_names(small_front(machine=machine), SIDE)
    assert caught.value.mistakes[0].field == field
    assert "(got " in caught.value.mistakes[0].sentence


@pytest.mark.parametrize("text", ["0123456789", "-", "17", "LRT"])
def test_figures_stay_in_their_box(text: str) -> None:
    runs = np.concatenate(strokes(text, 10.0, 2.0, 6.0))
    assert (runs >= np.array([10.0, 2.0]) - 1e-9).all()
    assert (runs <= np.array([10.0 + strokes_width(text, 6.0), 8.0]) + 1e-9).all()


def test_no_two_figures_are_alike() -> None:
    drawn = {digit: tuple(map(tuple, np.concatenate(strokes(digit, 0.0, 0.0, 6.0)))) for digit in "0123456789"}
    assert len(set(drawn.values())) == 10


@pytest.mark.parametrize("height", [115.0, 115.03, 115.11, 115.17])
def test_corners_of_the_surface_itself_are_kept(height: float) -> None:
    """A pull that is too deep is cut off at the floor: its wall ends in an edge, which lies anywhere between two places."""
    front = small_front(
        front={"width": 200, "height": height},
        carving={"fit": "depth", "depth": 6},
        pulls=[{"centre": [100, 60], "size": [150, 60], "depth": 10}],
        machine={"side": {"tolerance": 0.01}},
    )
    for number in range(1, front.count + 1):
        profile = profile_of(front, number, front.job.wood.blank)
        x = np.linspace(0.0, profile.place.length, 12001)
        left, right = edge_heights(front.surface, profile.place, profile.place.length - x)
        cut = np.minimum(np.maximum(left, right) + front.job.wood.sanding, front.job.wood.blank)
        for line, heights in ((profile.left, left), (profile.right, right), (profile.cut, cut)):
            assert np.abs(np.interp(x, *line.T) - heights).max() <= 0.0101
            assert np.diff(line[:, 0]).min() >= SHORTEST - 1e-9
