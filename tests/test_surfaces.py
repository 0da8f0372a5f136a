"""The finished surface as files for a machine: solids, height pictures, and what a measured blank means."""

from __future__ import annotations

import io
import itertools
import math
import re
import zipfile
from dataclasses import replace
from functools import cache

import lib3mf
import numpy as np
import pytest
import trimesh
from helpers import as_built, small_front
from matplotlib.tri import LinearTriInterpolator, Triangulation
from PIL import Image

from facade.cnc.fixture import Fixture, fixtures
from facade.cnc.order import Order, Route
from facade.cnc.surfaces import TOLERANCE, blank_report, close_grid, fixture_files, surface_names
from facade.errors import JobError
from facade.exporters.heights import WHITE, height_picture, highest_of
from facade.exporters.threemf import to_3mf
from facade.front import Front
from facade.lengths import MM_PER_INCH
from facade.mesh import Grid, Solid, face_triangles, facet_error, strip_grid

FACE = Order(Route.FACE)
INCHES = {
    "unit": "in",
    "front": {"width": 8, "height": 5},
    "wood": {"species": "white ash", "blank": "13/16 in", "floor": "5/16 in"},
    "layers": [{"kind": "hills", "size": 3}],
}


@cache
def front_of(unit: str = "mm") -> Front:
    """Return a small front of 8 strips, one fixture."""
    return small_front(**INCHES) if unit == "in" else small_front(sampling={"step": 2})


@cache
def files_for(front: Front, order: Order) -> list[tuple[str, bytes, str]]:
    return [one for fixture in fixtures(front, order) for one in fixture_files(fixture)]


def files_of(unit: str = "mm") -> dict[str, bytes]:
    """Return the files of that front by their names."""
    return {name: data for name, data, _ in files_for(front_of(unit), FACE)}


def fixture_of(unit: str = "mm") -> Fixture:
    return fixtures(front_of(unit), FACE)[0]


def read_3mf(data: bytes) -> lib3mf.Model:
    """Return a 3MF as lib3mf reads it, strictly."""
    model = lib3mf.get_wrapper().CreateModel()
    reader = model.QueryReader("3mf")
    reader.SetStrictModeActive(True)
    reader.ReadFromBuffer(data)
    assert reader.GetWarningCount() == 0
    return model


def meshes_of(model: lib3mf.Model) -> list[lib3mf.MeshObject]:
    """Return the meshes of a 3MF in their order."""
    found, each = [], model.GetMeshObjects()
    while each.MoveNext():
        found.append(each.GetCurrentMeshObject())
    return found


def places_of(mesh: lib3mf.MeshObject) -> np.ndarray:
    return np.array([list(vertex.Coordinates) for vertex in mesh.GetVertices()])


def solids_of(unit: str, stem: str, ending: str) -> list[trimesh.Trimesh]:
    """Return the solids in a file of a front, each in one piece: an STL as trimesh reads it, a 3MF as lib3mf does."""
    data = files_of(unit)[f"{stem}_mm.{ending}"]
    if ending == "stl":
        whole = trimesh.load(io.BytesIO(data), file_type="stl", force="mesh")
        whole.merge_vertices()
        return sorted(whole.split(only_watertight=False), key=lambda body: body.bounds[0][0])
    # The meshes are those of the model only as long as it lives.
    model = read_3mf(data)
    return [
        trimesh.Trimesh(
            places_of(mesh), [list(triangle.Indices) for triangle in mesh.GetTriangleIndices()], process=False
        )
        for mesh in meshes_of(model)
    ]


def heights_in(data: bytes, highest: float) -> np.ndarray:
    """Return what a height picture says, mm, first row at the bottom; read by Pillow."""
    return np.asarray(Image.open(io.BytesIO(data))).astype(np.float64)[::-1] * (highest / WHITE)


def test_the_names_are_those_of_the_files() -> None:
    assert surface_names(front_of(), FACE) == list(files_of())


def test_every_strip_and_every_fixture_has_its_four_files() -> None:
    assert len(files_of()) == 4 * (8 + 1)
    assert {name.rsplit(".", 1)[1] for name in files_of()} == {"stl", "3mf", "png", "txt"}


def test_a_solid_has_its_unit_in_its_name() -> None:
    assert all("_mm." in name for name in files_of("in") if name.endswith((".stl", ".3mf")))


def test_only_the_strips_that_were_asked_for_are_made() -> None:
    names = surface_names(front_of(), Order(Route.FACE, (2, 3)))
    assert {name for name in names if name.startswith("solids/strips/")} == {
        name for name in names if re.search(r"/strip-0[23]_", name)
    }
    assert len(names) == 4 * 3


def test_a_strip_that_is_not_there_is_refused() -> None:
    with pytest.raises(JobError, match="9"):
        surface_names(front_of(), Order(Route.FACE, (9,)))


def test_files_are_the_same_again() -> None:
    again = {name: data for name, data, _ in files_for(small_front(sampling={"step": 2}), FACE)}
    assert again == files_of()


def test_a_measured_blank_changes_no_surface() -> None:
    """Heights are counted from the back."""
    thick = as_built(front_of(), blank=23.0)
    thick = replace(thick, mark=front_of().mark)
    assert {name: data for name, data, _ in files_for(thick, FACE)} == files_of()


@pytest.mark.parametrize("unit", ["mm", "in"])
def test_3mf_is_in_millimetres(unit: str) -> None:
    model = read_3mf(files_of(unit)["solids/strips/strip-03_mm.3mf"])
    assert model.GetUnit() == lib3mf.ModelUnit.MilliMeter


def test_3mf_carries_title_mark_and_maker() -> None:
    model = read_3mf(files_of()["solids/strips/strip-03_mm.3mf"])
    group = model.GetMetaDataGroup()
    entries = [group.GetMetaData(index) for index in range(group.GetMetaDataCount())]
    told = {entry.GetName(): entry.GetValue() for entry in entries}
    assert "strip 3 of 8" in told["Title"]
    assert front_of().mark in told["Description"]
    assert told["Application"].startswith("facade ")


def test_3mf_of_a_strip_is_closed_for_a_strict_reader() -> None:
    model = read_3mf(files_of()["solids/strips/strip-03_mm.3mf"])
    (mesh,) = meshes_of(model)
    assert mesh.IsValid()
    assert mesh.IsManifoldAndOriented()


@pytest.mark.parametrize("unit", ["mm", "in"])
@pytest.mark.parametrize("ending", ["stl", "3mf"])
def test_a_solid_is_as_large_as_its_strip(ending: str, unit: str) -> None:
    strip = front_of(unit).strip(3)
    (mesh,) = solids_of(unit, "solids/strips/strip-03", ending)
    highest = float(strip.heights.max())
    assert mesh.bounds[0] == pytest.approx([0.0, 0.0, 0.0], abs=1e-4)
    assert mesh.bounds[1][:2] == pytest.approx([strip.width, strip.length], abs=1e-4)
    assert mesh.bounds[1][2] == pytest.approx(highest, abs=TOLERANCE)


@pytest.mark.parametrize("ending", ["stl", "3mf"])
def test_a_solid_is_closed_and_holds_the_wood_of_its_strip(ending: str) -> None:
    strip = front_of().strip(3)
    (mesh,) = solids_of("mm", "solids/strips/strip-03", ending)
    assert mesh.is_watertight
    assert mesh.is_winding_consistent
    assert mesh.volume == pytest.approx(strip.volume, abs=TOLERANCE * strip.width * strip.length)


@pytest.mark.parametrize("size", [300, 60], ids=["gentle", "steep"])
def test_every_facet_is_within_the_tolerance_of_the_surface(size: int) -> None:
    """Asked from the surface itself, four times as finely as the job samples it."""
    front = small_front(layers=[{"kind": "hills", "size": size}])
    for number in (1, 3):
        strip, (grid, within) = front.strip(number), close_grid(front, number)
        x, y = (np.linspace(0.0, side, round(4 * side) + 1) for side in (strip.width, strip.length))
        place = strip.place
        fine = Grid(x, y, front.surface.at(x[None, :] + place.left, y[:, None] + place.bottom))
        assert facet_error(grid, fine) <= within <= TOLERANCE + 1e-9


def test_the_distance_of_facets_is_what_another_library_finds() -> None:
    """A coarse grid's facets, asked for their heights through matplotlib."""
    whole = strip_grid(front_of().strip(5))
    rows, columns = [0, 17, 40, len(whole.y) - 1], [0, 5, len(whole.x) - 1]
    coarse = Grid(whole.x[columns], whole.y[rows], whole.heights[np.ix_(rows, columns)])
    x, y = (places.ravel() for places in np.meshgrid(coarse.x, coarse.y))
    facets = Triangulation(x, y, face_triangles(len(rows), len(columns)))
    found = LinearTriInterpolator(facets, coarse.heights.ravel())(*np.meshgrid(whole.x, whole.y))
    assert np.abs(found - whole.heights).max() == pytest.approx(facet_error(coarse, whole))


def test_facets_are_few_on_a_gentle_strip() -> None:
    front = small_front(layers=[{"kind": "hills", "size": 300}])
    assert close_grid(front, 2)[0].heights.size < 0.6 * front.strip(2).heights.size


def test_strips_of_a_fixture_are_objects_at_their_places() -> None:
    fixture = fixture_of()
    model = read_3mf(files_of()[f"solids/{fixture.name}_mm.3mf"])
    meshes = meshes_of(model)
    lefts = [places_of(mesh)[:, 0].min() - fixture.first_strip[0] for mesh in meshes]
    feet = [places_of(mesh)[:, 1].min() for mesh in meshes]
    assert [mesh.GetName() for mesh in meshes] == [f"strip {number}" for number in fixture.numbers]
    assert lefts == pytest.approx(fixture.lefts.tolist(), abs=1e-4)
    assert feet == pytest.approx([fixture.first_strip[1]] * 8, abs=1e-4)
    assert all(mesh.IsManifoldAndOriented() for mesh in meshes)


def test_every_object_of_a_3mf_is_built() -> None:
    model = read_3mf(files_of()[f"solids/{fixture_of().name}_mm.3mf"])
    items, count = model.GetBuildItems(), 0
    while items.MoveNext():
        count += 1
    assert count == 8


def test_solids_of_a_fixture_stand_apart_by_the_gap() -> None:
    fixture = fixture_of()
    bodies = solids_of("mm", f"solids/{fixture.name}", "stl")
    gaps = [right.bounds[0][0] - left.bounds[1][0] for left, right in itertools.pairwise(bodies)]
    assert gaps == pytest.approx([fixture.spacer] * 7, abs=1e-3)


@pytest.mark.parametrize("ending", ["stl", "3mf"])
def test_a_fixture_holds_the_wood_of_its_strips(ending: str) -> None:
    front, fixture = front_of(), fixture_of()
    bodies = solids_of("mm", f"solids/{fixture.name}", ending)
    wood = [front.strip(number).volume for number in fixture.numbers]
    assert all(body.is_watertight for body in bodies)
    assert [body.volume for body in bodies] == pytest.approx(wood, abs=TOLERANCE * fixture.width * fixture.length)


def test_packed_strips_of_a_fixture_have_no_gaps() -> None:
    front = small_front(carving={"packed": True})
    fixture = fixtures(front, FACE)[0]
    data = {name: data for name, data, _ in files_for(front, FACE)}
    mesh = trimesh.load(io.BytesIO(data[f"solids/{fixture.name}_mm.stl"]), file_type="stl", force="mesh")
    assert mesh.extents[0] == pytest.approx(sum(place.width for place in fixture.places), abs=1e-3)


def test_names_in_a_3mf_may_hold_any_letters() -> None:
    solid = Solid(
        np.array([[0.0, 0, 0], [1, 0, 0], [0, 1, 0], [0, 0, 1]]),
        np.array([[0, 2, 1], [0, 1, 3], [1, 2, 3], [0, 3, 2]], dtype=np.uint32),
    )
    model = read_3mf(to_3mf([('<a> & "b" é', solid)], 'Äsche <"&>', "AB12-CD34"))
    (mesh,) = meshes_of(model)
    assert mesh.GetName() == '<a> & "b" é'


def test_a_3mf_does_not_tell_the_day() -> None:
    with zipfile.ZipFile(io.BytesIO(files_of()["solids/strips/strip-01_mm.3mf"])) as package:
        assert {info.date_time for info in package.infolist()} == {(1980, 1, 1, 0, 0, 0)}
        assert package.testzip() is None


def test_a_height_picture_is_grey_of_16_bits() -> None:
    picture = Image.open(io.BytesIO(files_of()["solids/strips/strip-03_heights.png"]))
    assert picture.format == "PNG"
    assert picture.mode.startswith("I;16")


@pytest.mark.parametrize("unit", ["mm", "in"])
def test_a_strips_picture_is_within_half_a_grey_step_of_its_heights(unit: str) -> None:
    front = front_of(unit)
    highest = highest_of(front)
    for strip in front.strips():
        read = heights_in(files_of(unit)[f"solids/strips/strip-{strip.number:02d}_heights.png"], highest)
        assert np.abs(read - strip.heights).max() <= highest / WHITE / 2 + 1e-9


def test_a_fixtures_picture_is_that_of_the_surface_below_its_strips() -> None:
    front, fixture = front_of(), fixture_of()
    highest = highest_of(front)
    read = heights_in(files_of()[f"solids/{fixture.name}_heights.png"], highest)
    x = np.linspace(0.0, fixture.width, read.shape[1])
    y = np.linspace(0.0, fixture.length, read.shape[0])
    left = front.layout.strip(fixture.numbers[0]).left
    surface = front.surface.at((x + left)[None, :], y[:, None] + fixture.places[0].bottom)
    on_strip = fixture.on_strip(x)
    assert on_strip.sum() > 40
    assert np.abs(read - surface)[:, on_strip].max() <= highest / WHITE / 2 + 1e-6


def test_a_picture_is_seen_as_the_front_is_seen() -> None:
    """High in the upper left corner alone: so are the picture's first row and column."""
    heights = np.zeros((3, 4))
    heights[2, 0] = 15.0
    greys = np.asarray(Image.open(io.BytesIO(height_picture(heights, 20.0))))
    assert greys[0, 0] == round(15 / 20 * WHITE)
    assert np.count_nonzero(greys) == 1


def test_the_back_is_black_and_the_highest_is_white() -> None:
    greys = np.asarray(Image.open(io.BytesIO(height_picture(np.array([[0.0, 20.0]]), 20.0))))
    assert greys.tolist() == [[0, WHITE]]


def test_white_is_a_round_height_that_the_blank_does_not_pass() -> None:
    metric, inches = small_front(wood={"blank": 20.3}), front_of("in")
    assert highest_of(metric) == 21.0
    assert highest_of(inches) == pytest.approx(1.0 * MM_PER_INCH)


def test_a_whole_blank_is_white_itself() -> None:
    assert highest_of(front_of()) == 20.0


@pytest.mark.parametrize("unit", ["mm", "in"])
@pytest.mark.parametrize("which", ["strip", "fixture"])
def test_the_text_beside_a_picture_gives_its_sizes(which: str, unit: str) -> None:
    """Pixels less one, times what a pixel is, make the wood; a grey step times 65535 makes white."""
    fixture, strip = fixture_of(unit), front_of(unit).strip(3)
    stem = "solids/strips/strip-03" if which == "strip" else f"solids/{fixture.name}"
    size = (strip.width, strip.length) if which == "strip" else (fixture.width, fixture.length)
    text = files_of(unit)[f"{stem}_heights.txt"].decode()
    picture = Image.open(io.BytesIO(files_of(unit)[f"{stem}_heights.png"]))
    scale = 1.0 if unit == "mm" else MM_PER_INCH
    for way, pixels, wood in (("Across", picture.width, size[0]), ("Along", picture.height, size[1])):
        told = re.search(rf"^{way}: (\S+) {unit} a pixel, exactly (\S+) / (\d+)\.$", text, re.MULTILINE)
        assert told is not None
        assert int(told[3]) == pixels - 1
        assert float(told[2]) * scale == pytest.approx(wood, abs=1e-6)
        assert float(told[1]) * (pixels - 1) * scale == pytest.approx(wood, abs=1e-4)
    step = re.search(rf"^Grey step: \S+ {unit}, exactly (\S+) / 65535\.$", text, re.MULTILINE)
    assert step is not None
    assert float(step[1]) * scale == pytest.approx(highest_of(front_of(unit)))


def test_the_text_beside_a_picture_names_mark_and_zero() -> None:
    text = files_of()["solids/strips/strip-03_heights.txt"].decode()
    assert front_of().mark in text
    assert "strip 3 of 8" in text
    assert "Grey 0, black, is the back" in text
    assert "MIDDLE" in text


def test_no_millimetres_in_the_words_of_a_job_in_inches() -> None:
    words = [data.decode() for name, data in files_of("in").items() if name.endswith(".txt")]
    assert not any(re.search(r"\bmm\b", text) for text in words)


def test_a_thin_blank_is_told_where_raw_skin_may_remain() -> None:
    front = front_of()
    highest = {strip.number: float(strip.heights.max()) for strip in front.strips()}
    blank = max(highest.values()) + 0.1
    bare = [number for number, most in highest.items() if blank - most < front.job.machine.leave]
    said = " ".join(blank_report(as_built(front, blank=blank), FACE))
    assert 0 < len(bare) < 8
    assert "Raw skin may remain" in said
    assert all(re.search(rf"\b{number}\b", said) for number in (bare[0], bare[-1]))


def test_a_thick_blank_leaves_enough_for_sanding() -> None:
    said = " ".join(blank_report(as_built(front_of(), blank=25.0), FACE))
    assert "Raw skin" not in said
    assert "25 mm thick as measured, 20 mm in the job" in said


def test_the_least_thickness_is_told_whatever_the_blank() -> None:
    front = front_of()
    least = min(float(strip.heights.min()) for strip in front.strips())
    for blank in (None, 19.4, 25.0):
        said = blank_report(as_built(front, blank=blank), FACE)[-1]
        found = re.search(r"least ([\d.]+) mm", said)
        assert found is not None
        assert math.isclose(float(found[1]), least, abs_tol=0.005)
        assert "floor is 8 mm" in said


def test_the_report_of_a_job_in_inches_speaks_of_inches() -> None:
    front = front_of("in")
    for blank in (None, front.job.wood.blank - 0.6):
        assert not any(re.search(r"\bmm\b", said) for said in blank_report(as_built(front, blank=blank), FACE))
