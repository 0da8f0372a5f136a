"""Files for machines are read back: what was made agrees, and every planted fault is caught and named."""

from __future__ import annotations

import hashlib
import io
import json
import re
import shutil
from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest
from ezdxf.filemanagement import readfile
from PIL import Image

from facade.build import write
from facade.cnc.order import Order, Route
from facade.front import build_front
from facade.job import read_job
from facade.making import Output
from facade.proof import Compared, prove
from facade.proof.face_words import _page_faults
from facade.proof.truth import read_truth

JOB = """
title = "A small front"
{unit}
front = {{ width = {width}, height = {height} }}
strips = {{ count = 8 }}
wood = {{ species = "white ash", blank = {blank}, floor = {floor} }}
layers = [{{ kind = "hills", size = {size} }}]
"""
MM = JOB.format(unit="", width=200, height=120, blank=20, floor=8, size=60)
INCH = JOB.format(unit='unit = "in"', width=8, height=5, blank='"3/4 in"', floor='"3/8 in"', size=2.5)
NAME = "fixture-01_door-1_strips-01-to-08"
FIXTURE = f"cnc-face/solids/{NAME}"


def made(folder: Path, text: str = MM) -> Path:
    job = folder / "small.toml"
    job.write_text(text)
    front = build_front(read_job(job))
    for route in Route:
        found = write(front, folder / "out", outputs=[Output(f"cnc-{route.value}")], cnc=Order(route)).folder
    return found


@pytest.fixture(scope="module")
def whole(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return made(tmp_path_factory.mktemp("proved"))


@pytest.fixture
def folder(whole: Path, tmp_path: Path) -> Path:
    """The same files in a folder of its own, that a test may spoil."""
    shutil.copytree(whole, tmp_path / whole.name)
    return tmp_path / whole.name


def without_hashes(folder: Path) -> None:
    """Set sizes and hashes in the manifest to what the files are now, so that only their content can tell."""
    manifest = json.loads((folder / "manifest.json").read_text())
    for file in manifest["files"]:
        data = (folder / file["name"]).read_bytes()
        file["size"], file["sha256"] = len(data), hashlib.sha256(data).hexdigest()
    (folder / "manifest.json").write_text(json.dumps(manifest))


def of(folder: Path, name: str) -> Compared:
    without_hashes(folder)
    return next(one for one in prove(folder).compared if one.name == name)


def spoilt(folder: Path, name: str, change: Callable[[str], str]) -> Compared:
    before = (folder / name).read_text()
    after = change(before)
    assert after != before
    (folder / name).write_text(after)
    return of(folder, name)


def swapped(folder: Path, one: str, other: str) -> None:
    kept = (folder / one).read_bytes()
    shutil.copy(folder / other, folder / one)
    (folder / other).write_bytes(kept)


def profile(folder: Path, number: int, ending: str = "dxf") -> str:
    return next(
        f"cnc-side/strips/{path.name}" for path in (folder / "cnc-side/strips").glob(f"strip-{number:02d}_*.{ending}")
    )


@pytest.mark.parametrize("text", [MM, INCH], ids=["mm", "inch"])
def test_what_was_made_agrees_and_everything_is_compared(tmp_path: Path, text: str) -> None:
    proof = prove(made(tmp_path, text))
    assert [(one.name, one.words) for one in proof.compared if one.words != "agrees"] == []
    assert proof.deviation < 0.05


def test_every_file_of_both_routes_is_in_the_table(whole: Path) -> None:
    names = {one.name for one in prove(whole).compared}
    for path in whole.rglob("*"):
        assert path.is_dir() or path.relative_to(whole).as_posix() in names


def test_a_corrupted_byte_is_caught(folder: Path) -> None:
    path = folder / FIXTURE
    path = path.with_name(f"{path.name}_mm.stl")
    data = bytearray(path.read_bytes())
    data[2000] ^= 0x10
    path.write_bytes(bytes(data))
    one = next(one for one in prove(folder).compared if one.name == path.relative_to(folder).as_posix())
    assert "its bytes are not those that were written" in one.words


@pytest.mark.parametrize("ending", ["_mm.stl", "_mm.3mf"])
def test_swapped_strips_are_caught_and_named(folder: Path, ending: str) -> None:
    swapped(folder, f"cnc-face/solids/strips/strip-02{ending}", f"cnc-face/solids/strips/strip-07{ending}")
    one = of(folder, f"cnc-face/solids/strips/strip-02{ending}")
    assert "is strip 7's surface" in one.words
    assert one.failed == (2,)


def test_a_solid_in_another_unit_is_caught(folder: Path) -> None:
    name = "cnc-face/solids/strips/strip-03_mm.3mf"
    import zipfile

    with zipfile.ZipFile(folder / name) as archive:
        parts = {entry: archive.read(entry) for entry in archive.namelist()}
    parts["3D/3dmodel.model"] = parts["3D/3dmodel.model"].replace(b'unit="millimeter"', b'unit="inch"')
    with zipfile.ZipFile(folder / name, "w") as archive:
        for entry, data in parts.items():
            archive.writestr(entry, data)
    assert "not in millimeters" in of(folder, name).words


def test_a_mirrored_solid_is_caught_and_named(folder: Path) -> None:
    import trimesh

    name = f"{FIXTURE}_mm.stl"
    mesh = trimesh.load(folder / name, process=False)
    mesh.vertices[:, 0] = mesh.bounds[1, 0] - mesh.vertices[:, 0]
    mesh.invert()
    (folder / name).write_bytes(mesh.export(file_type="stl"))
    assert "looks mirrored left to right" in of(folder, name).words


def test_a_solid_that_is_25_times_too_large_is_caught(folder: Path) -> None:
    import trimesh

    name = "cnc-face/solids/strips/strip-05_mm.stl"
    mesh = trimesh.load(folder / name, process=False)
    mesh.vertices *= 25.4
    (folder / name).write_bytes(mesh.export(file_type="stl"))
    assert "inches read as mm?" in of(folder, name).words


def repainted(folder: Path, name: str, change: Callable[[np.ndarray], np.ndarray]) -> Compared:
    with Image.open(folder / name) as picture:
        greys = np.asarray(picture)
    buffer = io.BytesIO()
    Image.fromarray(np.ascontiguousarray(change(greys))).save(buffer, "PNG")
    (folder / name).write_bytes(buffer.getvalue())
    return of(folder, name)


@pytest.mark.parametrize(
    ("change", "said"),
    [
        (lambda greys: greys[::-1], "looks upside down"),
        (lambda greys: greys[:, ::-1], "looks mirrored left to right"),
        (lambda greys: greys + np.uint16(3), "off the surface"),
        (lambda greys: (greys // 256).astype(np.uint8), "not 16-bit grey"),
    ],
    ids=["upside down", "mirrored", "three greys too light", "8 bits"],
)
def test_spoilt_height_pictures_are_caught(folder: Path, change: Callable, said: str) -> None:
    assert said in repainted(folder, f"{FIXTURE}_heights.png", change).words


def test_a_text_with_another_grey_step_is_caught(folder: Path) -> None:
    path = folder / f"{FIXTURE}_heights.txt"
    path.write_text(path.read_text().replace("grey x 20 /", "grey x 21 /"))
    assert "off the surface" in of(folder, f"{FIXTURE}_heights.png").words


def redrawn(folder: Path, name: str, change: Callable) -> Compared:
    document = readfile(folder / name)
    change(document)
    document.saveas(folder / name)
    return of(folder, name)


def test_a_moved_screw_on_a_plan_is_caught(folder: Path) -> None:
    def change(document) -> None:
        for hole in document.modelspace().query("CIRCLE")[:2]:
            hole.translate(3.0, 0.0, 0.0)
        for hole in document.modelspace().query("CIRCLE"):
            if abs(hole.dxf.center.x - document.modelspace().query("CIRCLE")[0].dxf.center.x + 3.0) < 0.1:
                hole.translate(3.0, 0.0, 0.0)

    assert "off" in redrawn(folder, f"cnc-face/drawings/{NAME}_plan_mm.dxf", change).words


def test_a_clamp_in_the_way_of_the_cutter_is_caught(folder: Path) -> None:
    def change(document) -> None:
        document.modelspace().query('LWPOLYLINE[layer=="clamps"]')[0].translate(60.0, 0.0, 0.0)

    assert "a clamp inside what is kept clear" in redrawn(folder, f"cnc-face/drawings/{NAME}_plan_mm.dxf", change).words


def test_files_of_another_front_are_caught(folder: Path, tmp_path: Path) -> None:
    """A read-me, a height picture's text, machine code and a solid of a front with another relief."""
    (tmp_path / "other").mkdir()
    other = made(tmp_path / "other", MM.replace('kind = "hills"', 'kind = "hills", seed = 5'))
    names = [
        "cnc-side/read-me.txt",
        f"{FIXTURE}_heights.txt",
        f"cnc-face/programs/{NAME}_1-rough_mm.ngc",
        "cnc-face/solids/strips/strip-01_mm.stl",
    ]
    for name in names:
        shutil.copy(other / name, folder / name)
    without_hashes(folder)
    found = {one.name: one.words for one in prove(folder).compared}
    for name in names:
        assert "it is of another front" in found[name]


def test_a_time_that_does_not_add_up_is_caught(folder: Path) -> None:
    one = spoilt(folder, "cnc-face/times.csv", lambda text: re.sub(r"all,,,[\d.]+", "all,,,9999.0", text))
    assert "add up to" in one.words


def test_a_spoilt_folder_is_still_read_to_its_end(folder: Path) -> None:
    """Every file is cut in half: each fails by itself, none ends the proof."""
    for path in folder.rglob("cnc-*/**/*.*"):
        path.write_bytes(path.read_bytes()[: path.stat().st_size // 2])
    without_hashes(folder)
    proof = prove(folder)
    assert proof.failed
    assert sum(one.name.startswith("cnc-") for one in proof.compared) > 60


PLAN = f"cnc-face/drawings/{NAME}_plan_mm"


def hole_changed(layer: str, change: Callable) -> Callable:
    def changed(document) -> None:
        change(document.modelspace().query(f'CIRCLE[layer=="{layer}"]'))

    return changed


def layer_moved(layer: str) -> Callable:
    def changed(document) -> None:
        for one in document.modelspace().query(f'LWPOLYLINE[layer=="{layer}"]'):
            one.translate(0.0, 0.5, 0.0)

    return changed


def numbers_exchanged(document) -> None:
    """The numbers of the first two strips change places."""
    runs = document.modelspace().query('LWPOLYLINE[layer=="number"]')
    for one in runs:
        x = min(point[0] for point in one)
        one.translate(25.375 if x < 80 + 23 else -25.375 if x < 80 + 48 else 0.0, 0.0, 0.0)


@pytest.mark.parametrize(
    ("change", "said"),
    [
        (
            hole_changed("screw pilots", lambda holes: holes[0].translate(0.0, 0.01, 0.0)),
            "its screws are up to 0.010 mm off",
        ),
        (
            hole_changed("screw pilots", lambda holes: setattr(holes[0].dxf, "radius", 2.0)),
            "its screw pilots are 4.000 mm wide",
        ),
        (
            hole_changed("screw clearance", lambda holes: setattr(holes[0].dxf, "radius", 3.0)),
            "its screw clearance are 6.000 mm wide",
        ),
        (hole_changed("counterbores", lambda holes: holes[0].translate(1.0, 0.0, 0.0)), "does not sink every hole"),
        (hole_changed("screw pilots", lambda holes: holes[0].dxf.__setattr__("layer", "counterbores")), "pilot holes"),
        (numbers_exchanged, "its number for strip 1 reads 2"),
        *(
            (layer_moved(layer), layer)
            for layer in ("outline", "waste", "battens", "keep-out", "spoilboard", "spacers")
        ),
        (layer_moved("zero"), "zero"),
        (layer_moved("stops"), "stops"),
    ],
)
def test_spoilt_plans_are_caught_and_named(folder: Path, change: Callable, said: str) -> None:
    assert said in redrawn(folder, f"{PLAN}.dxf", change).words


def test_screws_from_the_wrong_ends_are_caught(folder: Path) -> None:
    """Every hole is counted from the lower ends of the strips instead of their TOP ends."""

    def turned(document) -> None:
        for hole in document.modelspace().query("CIRCLE"):
            hole.translate(0.0, 2 * (50.0 + 60.0 - hole.dxf.center.y), 0.0)

    assert "off" in redrawn(folder, f"{PLAN}.dxf", turned).words


@pytest.mark.parametrize(
    ("name", "old", "new"),
    [
        ("cnc-face/times.csv", ",ball ", ",straight "),
        ("cnc-face/times.csv", "_1-rough_mm.ngc,straight 8.00,", "_1-rough_mm.ngc,straight 8.00,1"),
        ("cnc-face/times.csv", ",280.00,", ",281.00,"),
        ("cnc-face/times.csv", "1,1,1,8,", "1,1,1,7,"),
        ("cnc-face/times.csv", "minutes", "hours"),
        ("cnc-face/read-me.txt", "x 80 mm", "x 90 mm"),
        ("cnc-face/read-me.txt", "18 mm must", "15 mm must"),
        ("cnc-face/read-me.txt", "lower left machined", "lower right machined"),
        ("cnc-face/read-me.txt", "12. 2-finish", "12. 3-finish"),
        ("cnc-face/read-me.txt", "the floor is 8 mm", "the floor is 6 mm"),
        ("cnc-face/read-me.txt", "Raise z by 30 mm", "Raise z by 3 mm"),
        (f"{FIXTURE}_heights.txt", "x 80.000000", "x 90.000000"),
        (f"{FIXTURE}_heights.txt", "201 pixels across", "200 pixels across"),
        (f"{FIXTURE}_heights.txt", "Strip 2: x 25.375000", "Strip 2: x 25.385000"),
        (f"{FIXTURE}_heights.txt", "its first row is the TOP end", "its first row is the lower end"),
        ("cnc-face/solids/strips/strip-03_heights.txt", "strip 3 of 8", "strip 4 of 8"),
    ],
)
def test_a_changed_word_or_number_is_caught(folder: Path, name: str, old: str, new: str) -> None:
    assert spoilt(
        folder, name, lambda text: re.sub(re.escape(old).replace(r"\ ", r"\s+"), new, text, count=1)
    ).words.startswith("FAILS")


def test_sheets_of_a_job_with_other_speeds_are_caught(folder: Path, tmp_path: Path) -> None:
    """Speeds do not change a design, nor its mark: the sheet must be read to tell."""
    (tmp_path / "other").mkdir()
    other = made(tmp_path / "other", MM + "[machine.finishing]\nspindle = 12000\n")
    shutil.copy(other / "cnc-face/job-sheet.pdf", folder / "cnc-face/job-sheet.pdf")
    assert "'18000' under 'turns a minute'" in of(folder, "cnc-face/job-sheet.pdf").words


def test_plans_of_a_thinner_spoilboard_are_caught(folder: Path, tmp_path: Path) -> None:
    (tmp_path / "other").mkdir()
    other = made(tmp_path / "other", MM + "[machine]\nwaste = 30\n")
    shutil.copy(other / f"cnc-face/drawings/{NAME}_plan.pdf", folder / f"cnc-face/drawings/{NAME}_plan.pdf")
    assert "does not say" in of(folder, f"cnc-face/drawings/{NAME}_plan.pdf").words


def test_what_is_off_and_what_is_allowed_are_both_more_than_nothing(folder: Path) -> None:
    words = repainted(folder, f"{FIXTURE}_heights.png", lambda greys: greys + np.uint16(1)).words
    found = re.search(r"is ([\d.]+) mm off the surface, .* half a grey step of ([\d.]+) mm is allowed", words)
    assert found
    assert float(found[1]) > float(found[2]) > 0.0
    assert float(found[2]) == pytest.approx(20 / 65535 / 2, rel=0.02)


def test_solids_of_strips_that_touch_agree_with_their_own_strips(tmp_path: Path) -> None:
    """Packed facets step where two strips touch: each solid has the heights of its own side."""
    text = MM.replace('kind = "hills"', 'kind = "facets"') + "[carving]\npacked = true\n"
    job = tmp_path / "packed.toml"
    job.write_text(text)
    folder = write(
        build_front(read_job(job)), tmp_path / "out", outputs=[Output.CNC_FACE], cnc=Order(Route.FACE)
    ).folder
    solids = [one for one in prove(folder).compared if one.name.endswith((".stl", ".3mf"))]
    assert len(solids) == 18
    assert [one.words for one in solids] == ["agrees"] * 18


def test_a_head_that_is_cut_off_at_a_blank_agrees(tmp_path: Path) -> None:
    """The head of an STL holds 80 letters, of which the last is a blank here."""
    job = tmp_path / "wide.toml"
    job.write_text(
        MM.replace("width = 200", "width = 1450")
        .replace("height = 120", "height = 60")
        .replace("count = 8 }", "count = 101 }")
    )
    order = Order(Route.FACE, strips=(18, 19, 20))
    folder = write(build_front(read_job(job)), tmp_path / "out", outputs=[Output.CNC_FACE], cnc=order).folder
    (solid,) = folder.glob("cnc-face/solids/*.stl")
    assert solid.read_bytes()[79:80] == b" "
    assert [one.faults for one in prove(folder, only=[f"cnc-face/solids/{solid.name}"]).compared] == [()]


def test_a_fixture_in_which_no_screw_may_be_agrees(tmp_path: Path) -> None:
    """A limit that no screw keeps leaves none in, neither in the strips nor in their waste."""
    job = tmp_path / "loose.toml"
    job.write_text(MM + "limits = { screw_overcut = 30 }\n")
    folder = write(build_front(read_job(job)), tmp_path / "out", outputs=[Output.CNC_FACE]).folder
    names = [path.relative_to(folder).as_posix() for path in folder.rglob("*") if path.suffix in (".pdf", ".txt")]
    assert names
    assert [one.faults for one in prove(folder, only=names).compared] == [()] * len(names)


@pytest.mark.parametrize(
    ("line", "agrees"),
    [
        ("strips 1, 3, 5, 7, 9, 11, 13, 15, 17, 19,…", True),
        ("strips 1, 3, 5, 7, 9, 12, 13,…", False),
        ("strips 1…", False),
    ],
)
def test_a_title_may_be_cut_off_by_the_strips_before_it(folder: Path, line: str, agrees: bool) -> None:
    manifest = json.loads((folder / "manifest.json").read_text())
    manifest["cnc"]["face"]["strips"] = list(range(1, 60, 2))
    (folder / "manifest.json").write_text(json.dumps(manifest))
    truth = read_truth(folder)
    cleared = "" if manifest["cnc"]["face"]["cleared"] else "NOT CLEARED\n"
    page = f"Sheet 1 of 1\n{cleared}Mark {truth.front.mark}\n{line}\n"
    assert (_page_faults(truth, [page]) == []) is agrees
