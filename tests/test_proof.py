"""Proof of a build: an untouched one passes, and each planted fault is caught and named."""

from __future__ import annotations

import base64
import csv
import hashlib
import io
import json
import re
import shutil
import zipfile
from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np
import pypdf
import pytest
import trimesh
from PIL import Image
from PIL.PngImagePlugin import PngInfo

from facade.build import write
from facade.errors import FileError
from facade.front import Front, build_front
from facade.job import read_job
from facade.making import Output
from facade.paper import Order, usual_paper
from facade.printing.correction import Correction
from facade.printing.papers import sheet_paper
from facade.proof import Compared, Proof, Verdict, proof_lines, proof_picture, prove
from facade.proof.anew import make_anew
from facade.proof.holes import settings_in
from facade.proof.listing import compare_manifest
from facade.proof.svg import Line, Sheet, Word
from facade.proof.truth import read_truth
from facade.templates.piece import Kind, Lines

JOB = """title = "A small front"
unit = "{unit}"
[front]
width = {width}
height = {height}
doors = 2
space = {space}
[strips]
count = 8
[wood]
species = "white ash"
blank = {blank}
floor = {floor}
[carving]
doors = "{doors}"
fit = "depth"
depth = {depth}
[[layers]]
kind = "hills"
size = {size}
"""
MM = {
    "unit": "mm",
    "width": 203,
    "height": 160,
    "space": 3,
    "blank": 20,
    "floor": 8,
    "depth": 3,
    "doors": "continuous",
    "size": 160,
}
INCH = {
    "unit": "in",
    "width": 8,
    "height": 7,
    "space": 0.125,
    "blank": 0.75,
    "floor": 0.375,
    "depth": 0.125,
    "doors": "continuous",
    "size": 6,
}
KINDS = (Kind.CALIBRATION, Kind.SIDES, Kind.WRAPS, Kind.HOLES, Kind.LISTS)
STRIP = "strips/strip-03_mm.stl"
SIDE = "sides/strip-03.svg"


def built(folder: Path, settings: dict[str, object], correction: Correction | None = None) -> Path:
    """Return the folder of a build of a small front."""
    job = folder / "small.toml"
    job.write_text(JOB.format(**settings), "utf-8")
    front = build_front(read_job(job))
    order = Order(usual_paper(front), correction or Correction(), kinds=KINDS)
    return write(front, folder / "out", order=order).folder


@pytest.fixture(scope="module")
def untouched(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return built(tmp_path_factory.mktemp("mm"), MM)


@pytest.fixture(scope="module")
def good(untouched: Path) -> Proof:
    return prove(untouched)


@pytest.fixture
def folder(untouched: Path, tmp_path: Path) -> Path:
    """Return a copy of the build that may be spoilt."""
    return Path(shutil.copytree(untouched, tmp_path / "small"))


@pytest.fixture(scope="module")
def front(good: Proof) -> Front:
    return good.front


def repair(folder: Path, *names: str) -> None:
    """Make the manifest say what is in the files now, so that only what they show can tell."""
    path = folder / "manifest.json"
    manifest = json.loads(path.read_text("utf-8"))
    for file in manifest["files"]:
        if file["name"] in names:
            data = (folder / file["name"]).read_bytes()
            file |= {"size": len(data), "sha256": hashlib.sha256(data).hexdigest()}
    path.write_text(json.dumps(manifest), "utf-8")


def rewrite(folder: Path, name: str, change: Callable[[str], str]) -> None:
    path = folder / name
    path.write_text(change(path.read_text("utf-8")), "utf-8")
    repair(folder, name)


def rewrite_solid(folder: Path, name: str, change: Callable[[np.ndarray], np.ndarray]) -> None:
    """Change the corners of an STL, (facets, 3, 3) mm, and leave its header and its facets' directions right."""
    raw = bytearray((folder / name).read_bytes())
    facets = np.frombuffer(
        raw, np.dtype([("normal", "<f4", 3), ("corners", "<f4", (3, 3)), ("attribute", "<u2")]), offset=84
    )
    corners = change(facets["corners"].astype(np.float64))
    facets["corners"] = corners
    sides = np.cross(corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0])
    facets["normal"] = sides / np.linalg.norm(sides, axis=1)[:, None]
    (folder / name).write_bytes(raw)
    repair(folder, name)


def of(proof: Proof, name: str) -> Compared:
    (found,) = (one for one in proof.compared if one.name == name)
    return found


def failing(proof: Proof) -> set[str]:
    return {one.name for one in proof.compared if one.verdict is Verdict.FAILS}


# An untouched build


def test_an_untouched_build_passes(good: Proof) -> None:
    assert [one.words for one in good.compared if one.verdict is not Verdict.AGREES] == []
    assert not good.failed


def test_every_file_of_the_manifest_is_in_the_proof_once(untouched: Path, good: Proof) -> None:
    manifest = json.loads((untouched / "manifest.json").read_text("utf-8"))
    names = [one.name for one in good.compared]
    assert names == sorted({file["name"] for file in manifest["files"]} | {"manifest.json"})


def test_strips_are_within_rounding_of_the_surface(good: Proof) -> None:
    strips = [one for one in good.compared if one.name.startswith("strips/")]
    assert len(strips) == 8
    assert max(one.deviation or 0.0 for one in strips) < 0.0005


def test_no_file_is_off_by_more_than_its_tolerance(good: Proof) -> None:
    measured = [one for one in good.compared if one.deviation is not None and one.allowed is not None]
    assert len(measured) > 20
    assert all(one.deviation <= one.allowed for one in measured)


def test_side_templates_are_within_a_hundredth_and_rounding(good: Proof) -> None:
    sides = [one for one in good.compared if one.name.endswith("-sides.svg") or one.name.startswith("sides/")]
    assert max(one.deviation or 0.0 for one in sides) < 0.011


def test_least_heights_are_those_of_the_strips(good: Proof, front: Front) -> None:
    for strip in front.strips():
        read = of(good, f"strips/strip-{strip.number:02d}_mm.stl").least
        assert read == pytest.approx(strip.thinnest.height, abs=1e-5)


def test_every_corner_of_a_strip_counts(good: Proof, untouched: Path) -> None:
    mesh = trimesh.load(untouched / STRIP, force="mesh")
    assert of(good, STRIP).points == len(mesh.vertices)


def test_a_build_in_inches_passes_and_says_no_mm(tmp_path: Path) -> None:
    proof = prove(built(tmp_path, INCH))
    assert not proof.failed, proof_lines(proof)
    told = [line for line in proof_lines(proof) if "agree" in line or "off at most" in line]
    assert not any(" mm" in line for line in told)


def test_sheets_corrected_for_a_printer_pass(tmp_path: Path) -> None:
    proof = prove(built(tmp_path, MM, Correction(1.004, 0.993, "hall printer")))
    assert not proof.failed, proof_lines(proof)


def test_doors_that_all_but_touch_with_other_heights_pass(tmp_path: Path) -> None:
    proof = prove(built(tmp_path, MM | {"doors": "repeated", "space": 0.00001}))
    assert not proof.failed, proof_lines(proof)


# Planted faults


def test_a_changed_byte_is_named_by_its_file(folder: Path) -> None:
    raw = bytearray((folder / STRIP).read_bytes())
    raw[2000] ^= 1
    (folder / STRIP).write_bytes(raw)
    proof = prove(folder)
    assert failing(proof) == {STRIP}
    assert "not those that were written" in of(proof, STRIP).words


@pytest.mark.parametrize("place", [12, 15, 16, 20, 23, 30, 47], ids=lambda place: f"byte {place} of a facet")
def test_a_changed_byte_is_seen_in_the_solid_alone(folder: Path, place: int) -> None:
    raw = bytearray((folder / STRIP).read_bytes())
    raw[84 + 50 * 401 + place] ^= 1
    (folder / STRIP).write_bytes(raw)
    repair(folder, STRIP)
    proof = prove(folder)
    assert failing(proof) == {STRIP}
    assert proof.failed_strips == (3,)


def test_a_changed_direction_of_a_facet_is_seen(folder: Path) -> None:
    raw = bytearray((folder / STRIP).read_bytes())
    raw[84 + 50 * 401 + 11] ^= 0x80
    (folder / STRIP).write_bytes(raw)
    repair(folder, STRIP)
    assert "face another way" in of(prove(folder), STRIP).words


def test_a_missing_facet_leaves_the_solid_open(folder: Path) -> None:
    raw = bytearray((folder / STRIP).read_bytes())
    count = int.from_bytes(raw[80:84], "little") - 1
    raw[80:84] = count.to_bytes(4, "little")
    (folder / STRIP).write_bytes(raw[:-50])
    repair(folder, STRIP)
    assert "not closed" in of(prove(folder), STRIP).words


def test_inches_taken_for_mm_are_named(folder: Path) -> None:
    rewrite_solid(folder, STRIP, lambda corners: corners * 25.4)
    proof = prove(folder)
    assert failing(proof) == {STRIP}
    assert "25.4 times too large: inches read as mm?" in of(proof, STRIP).words


def test_a_solid_mirrored_left_to_right_is_named(folder: Path, front: Front) -> None:
    width = front.layout.strip(3).width
    rewrite_solid(folder, STRIP, lambda corners: (corners * [-1, 1, 1] + [width, 0, 0])[:, ::-1])
    assert "looks mirrored left to right" in of(prove(folder), STRIP).words


def test_a_solid_mirrored_top_to_bottom_is_named(folder: Path) -> None:
    rewrite_solid(folder, STRIP, lambda corners: (corners * [1, -1, 1] + [0, 160, 0])[:, ::-1])
    assert "looks mirrored top to bottom" in of(prove(folder), STRIP).words


def test_a_place_that_is_too_deep_is_named_with_its_depth(folder: Path) -> None:
    def deeper(corners: np.ndarray) -> np.ndarray:
        one = corners[np.unravel_index(corners[..., 2].argmax(), corners.shape[:2])].copy()
        corners[(corners == one).all(axis=-1)] += [0, 0, 5.0 - one[2]]
        return corners

    rewrite_solid(folder, STRIP, deeper)
    words = of(prove(folder), STRIP).words
    assert "below the floor" in words
    assert "off the surface" in words


def test_two_strips_that_were_exchanged_are_named(folder: Path) -> None:
    other = "strips/strip-06_mm.stl"
    first, second = (folder / STRIP).read_bytes(), (folder / other).read_bytes()
    (folder / STRIP).write_bytes(second)
    (folder / other).write_bytes(first)
    repair(folder, STRIP, other)
    proof = prove(folder)
    assert failing(proof) == {STRIP, other}
    assert "is strip 6's surface" in of(proof, STRIP).words
    assert "says that it is strip 6" in of(proof, STRIP).words
    assert "is strip 3's surface" in of(proof, other).words


def test_a_whole_front_that_is_mirrored_is_named(folder: Path, front: Front) -> None:
    width = front.layout.strips[-1].right + front.layout.strips[0].left
    rewrite_solid(folder, "front.stl", lambda corners: (corners * [-1, 1, 1] + [width, 0, 0])[:, ::-1])
    assert "looks mirrored left to right" in of(prove(folder), "front.stl").words


def test_a_view_in_mm_is_named(folder: Path) -> None:
    scene = trimesh.load_scene(folder / "front.glb", process=False)
    scene.apply_scale(1000.0)
    (folder / "front.glb").write_bytes(scene.export(file_type="glb"))
    repair(folder, "front.glb")
    assert "1000 times too large" in of(prove(folder), "front.glb").words


def test_a_flipped_sheet_is_named(folder: Path) -> None:
    def flip(text: str) -> str:
        head, _, rest = text.partition("<title>")
        width = head.split('viewBox="0 0 ')[1].split()[0]
        return f'{head}<g transform="translate({width} 0) scale(-1 1)"><title>{rest.replace("</svg>", "</g></svg>")}'

    rewrite(folder, SIDE, flip)
    proof = prove(folder)
    assert failing(proof) == {SIDE}
    assert "looks mirrored" in of(proof, SIDE).words


def test_lines_that_alone_are_flipped_are_named(folder: Path) -> None:
    rewrite(folder, SIDE, lambda text: flipped_line(text, "left-finished"))
    assert "3 LEFT: its finished line looks mirrored left to right" in of(prove(folder), SIDE).words


def flipped_line(text: str, name: str) -> str:
    """Return an SVG with one path turned about its own middle."""
    before, after = data_of(text, name)
    numbers = np.array(after.lstrip("M").split(), dtype=np.float64).reshape(-1, 2)
    numbers[:, 0] = numbers[0, 0] + numbers[-1, 0] - numbers[:, 0]
    return text.replace(before, before.replace(after, "M" + " ".join(f"{value:.3f}" for value in numbers.ravel())))


def data_of(text: str, name: str) -> tuple[str, str]:
    """Return the element of a named path, and its path data."""
    (element,) = (part for part in text.split("<path ") if f'id="{name}"' in part)
    return element, element.split('d="')[1].split('"')[0]


def test_left_and_right_that_were_exchanged_are_named(folder: Path) -> None:
    def exchange(text: str) -> str:
        for line in ("finished", "carve"):
            left, right = (data_of(text, f"{side}-{line}")[1] for side in ("left", "right"))
            bases = [float(data_of(text, f"{side}-back")[1].split()[1]) for side in ("left", "right")]
            ends = [
                np.array(data_of(text, f"{side}-back")[1].lstrip("M").split(), dtype=float)[::2]
                for side in ("left", "right")
            ]
            text = text.replace(left, "@@").replace(right, moved(left, bases[1] - bases[0], ends[1]))
            text = text.replace("@@", moved(right, bases[0] - bases[1], ends[0]))
        return text

    def moved(data: str, down: float, ends: np.ndarray) -> str:
        """Return a line as it is seen from the other side, and on that side's back."""
        numbers = np.array(data.lstrip("M").split(), dtype=np.float64).reshape(-1, 2)
        numbers = np.column_stack([ends.sum() - numbers[:, 0], numbers[:, 1] + down])
        return "M" + " ".join(f"{value:.3f}" for value in numbers.ravel())

    rewrite(folder, SIDE, exchange)
    proof = prove(folder)
    assert failing(proof) == {SIDE}
    assert "left and right are exchanged" in of(proof, SIDE).words


def test_sides_under_the_wrong_words_are_named(folder: Path) -> None:
    rewrite(
        folder, SIDE, lambda text: text.replace("3 LEFT", "@@").replace("3 RIGHT", "3 LEFT").replace("@@", "3 RIGHT")
    )
    assert "the lines named left stand under the words 3 RIGHT" in of(prove(folder), SIDE).words


def test_a_sheet_of_another_strip_is_named(folder: Path) -> None:
    shutil.copy(folder / "sides/strip-06.svg", folder / SIDE)
    repair(folder, SIDE)
    words = of(prove(folder), SIDE).words
    assert "strip 6 stands on the sheet of strip 3" in words


def test_a_changed_figure_on_a_sheet_is_named(folder: Path, front: Front) -> None:
    height = front.job.ruler.number(float(front.strip(3).left_edge[-1]))
    rewrite(folder, SIDE, lambda text: text.replace(f">{height}</text>", ">19.9</text>", 1))
    assert "19.900 mm stands at station" in of(prove(folder), SIDE).words


def test_a_sheet_that_is_no_longer_true_to_size_is_named(folder: Path) -> None:
    def smaller(text: str) -> str:
        size = text.split('width="')[1].split("mm")[0]
        return text.replace(f'width="{size}mm"', f'width="{float(size) * 0.97:.3f}mm"', 1)

    rewrite(folder, SIDE, smaller)
    assert "its rules measure 97.000 mm, not 100.000 mm" in of(prove(folder), SIDE).words


def test_a_page_of_the_pdf_printed_smaller_is_named(folder: Path) -> None:
    reader = pypdf.PdfReader(folder / "paper.pdf")
    writer = pypdf.PdfWriter(clone_from=reader)
    writer.pages[1].add_transformation(pypdf.Transformation().scale(0.97))
    data = io.BytesIO()
    writer.write(data)
    (folder / "paper.pdf").write_bytes(data.getvalue())
    repair(folder, "paper.pdf")
    proof = prove(folder)
    assert failing(proof) == {"paper.pdf"}
    assert "page 2 is printed at 0.9700 of its size" in of(proof, "paper.pdf").words


def test_a_pdf_that_lacks_a_page_is_named(folder: Path) -> None:
    writer = pypdf.PdfWriter(clone_from=pypdf.PdfReader(folder / "paper.pdf"))
    writer.remove_page(len(writer.pages) - 1)
    data = io.BytesIO()
    writer.write(data)
    (folder / "paper.pdf").write_bytes(data.getvalue())
    repair(folder, "paper.pdf")
    assert "pages, but there are" in of(prove(folder), "paper.pdf").words


def test_a_file_of_another_front_is_named(folder: Path, tmp_path: Path) -> None:
    another = built(tmp_path, MM | {"size": 120})
    for name in (STRIP, SIDE, "offsets.csv", "front.stl"):
        shutil.copy(another / name, folder / name)
    repair(folder, STRIP, SIDE, "offsets.csv", "front.stl")
    proof = prove(folder)
    assert failing(proof) == {STRIP, SIDE, "offsets.csv", "front.stl"}
    assert all("it is of another front" in of(proof, name).words for name in failing(proof))


@pytest.mark.parametrize("repaired", [False, True], ids=["plain", "with the manifest made to match"])
def test_a_changed_job_file_is_named_first_and_alone(folder: Path, repaired: bool) -> None:
    path = folder / "job/small.toml"
    path.write_text(path.read_text("utf-8").replace("size = 160", "size = 150"), "utf-8")
    if repaired:
        repair(folder, "job/small.toml")
    proof = prove(folder)
    assert proof.failed
    assert proof.compared[0].name == "job/small.toml"
    others = [one for one in proof.compared if one.name != "job/small.toml"]
    assert {one.follows for one in others} == {"job/small.toml"}
    lines = proof_lines(proof)
    told = lines[lines.index("FAILS:") + 1 : lines.index("", lines.index("FAILS:"))]
    assert len(told) == 1
    assert f"({len(others)} files follow from it)" in told[0]


def test_a_change_of_the_job_that_changes_no_wood_is_named(folder: Path) -> None:
    rewrite(folder, "job/small.toml", lambda text: text.replace("[strips]", "[picture]\nfinish = 'dark'\n[strips]"))
    proof = prove(folder)
    assert "is not of the settings in the job file" in of(proof, "manifest.json").words
    assert "front.png" in failing(proof)


def test_many_files_that_fail_alike_are_told_in_one_line(folder: Path) -> None:
    for number in range(1, 7):
        (folder / f"strips/strip-{number:02d}_mm.stl").unlink()
    text = proof_lines(prove(folder))
    assert [line for line in text if "is missing" in line] == [
        "  strips/strip-01_mm.stl and 5 more of that folder: is missing"
    ]


# Marks


OTHER = "7Q2M-X4KD"


def bearing(kind: str) -> bytes:
    """Return a file of a kind that bears another mark."""
    file = io.BytesIO()
    if kind == "pdf":
        writer = pypdf.PdfWriter()
        writer.add_blank_page(200, 200)
        writer.add_metadata({"/Title": f"Doors, mark {OTHER}"})
        writer.write(file)
    elif kind == "png":
        words = PngInfo()
        words.add_text("Comment", f"a front, mark {OTHER}", zip=True)
        Image.new("L", (9, 9)).save(file, "PNG", pnginfo=words)
    elif kind == "3mf":
        with zipfile.ZipFile(file, "w", zipfile.ZIP_DEFLATED) as package:
            package.writestr("3D/3dmodel.model", f'<model><metadata name="Title">mark {OTHER}</metadata></model>')
    elif kind == "stl":
        file.write(f"facade, unit mm, mark {OTHER}, strip 3".encode().ljust(80) + (0).to_bytes(4, "little"))
    elif kind == "csv":
        file.write(f"strip,mark\n1,{OTHER}\n".encode())
    elif kind == "json":
        file.write(json.dumps({"mark": OTHER}).encode())
    else:
        file.write(f"(Mark {OTHER})\nG21\n".encode())
    return file.getvalue()


@pytest.mark.parametrize("kind", ["pdf", "png", "3mf", "stl", "csv", "json", "ngc"])
def test_a_file_of_another_front_fails_wherever_it_lies_and_whatever_it_is_called(folder: Path, kind: str) -> None:
    (folder / "kept").mkdir()
    (folder / "kept/holiday.jpg").write_bytes(bearing(kind))
    proof = prove(folder)
    assert failing(proof) == {"kept/holiday.jpg"}
    assert f"bears mark {OTHER}" in of(proof, "kept/holiday.jpg").words


def test_a_mark_in_the_words_of_a_picture_of_ours_is_read(folder: Path) -> None:
    with Image.open(folder / "front.png") as picture:
        words = PngInfo()
        words.add_text("Comment", f"mark {OTHER}")
        picture.save(folder / "front.png", pnginfo=words)
    repair(folder, "front.png")
    proof = prove(folder)
    assert failing(proof) == {"front.png"}
    assert f"bears mark {OTHER}" in of(proof, "front.png").words


# The manifest


def without_strip(manifest: dict[str, Any]) -> None:
    manifest["files"] = [file for file in manifest["files"] if file["name"] != STRIP]


def another_purpose(manifest: dict[str, Any]) -> None:
    next(file for file in manifest["files"] if file["name"] == SIDE)["purpose"] = "to light the stove with"


MANIFEST_FAULTS: dict[str, Callable[[dict[str, Any]], object]] = {
    "mark": lambda manifest: manifest.update(mark=OTHER),
    "title": lambda manifest: manifest.update(title="Another front"),
    "unit": lambda manifest: manifest.update(unit="in"),
    "width": lambda manifest: manifest["front"].update(width=204.0),
    "strips": lambda manifest: manifest["front"].update(strips=9),
    "cleared": lambda manifest: manifest.update(cleared=not manifest["cleared"]),
    "a finding less": lambda manifest: manifest["findings"].pop(),
    "another finding": lambda manifest: manifest["findings"][0].update(sentence="All is well."),
    "settings": lambda manifest: manifest.update(settings="0" * 64),
    "a key that no build writes": lambda manifest: manifest.update(made_for="another shop"),
    "an output less": lambda manifest: manifest["outputs"].remove("strips"),
    "an output that there is not": lambda manifest: manifest["outputs"].append("music"),
    "a strip less": without_strip,
    "a file twice": lambda manifest: manifest["files"].append(manifest["files"][0]),
    "a purpose": another_purpose,
    "an order of a route": lambda manifest: manifest.update(
        cnc={"face": {"strips": None, "blank": None, "cleared": True}}
    ),
    "printed strips of another front": lambda manifest: manifest.update(
        printed={"mark": OTHER, "strips": {"99": ["a", OTHER]}}
    ),
}


@pytest.mark.parametrize("change", MANIFEST_FAULTS.values(), ids=MANIFEST_FAULTS)
def test_what_a_manifest_says_otherwise_is_named(folder: Path, change: Callable[[dict[str, Any]], object]) -> None:
    path = folder / "manifest.json"
    manifest = json.loads(path.read_text("utf-8"))
    change(manifest)
    path.write_text(json.dumps(manifest), "utf-8")
    assert compare_manifest(read_truth(folder)).faults


def test_the_manifest_of_an_untouched_build_has_no_fault(untouched: Path) -> None:
    assert compare_manifest(read_truth(untouched)).faults == ()


def test_a_sheet_that_is_in_no_list_any_more_is_missed(folder: Path) -> None:
    path = folder / "manifest.json"
    manifest = json.loads(path.read_text("utf-8"))
    gone = sorted(file["name"] for file in manifest["files"] if file["name"].endswith("-sides.svg"))[0]
    manifest["files"] = [file for file in manifest["files"] if file["name"] != gone]
    path.write_text(json.dumps(manifest), "utf-8")
    (folder / gone).unlink()
    assert any("does not list sheet" in fault for fault in compare_manifest(read_truth(folder)).faults)


# Made anew


def test_an_untouched_build_is_equal_byte_by_byte_when_it_is_made_anew(untouched: Path) -> None:
    proof = prove(untouched, anew=True)
    assert not proof.failed
    assert proof.anew is not None
    assert proof.anew.equal == proof.anew.total == len(proof.compared)
    assert f"Made anew: {len(proof.compared)} of {len(proof.compared)} equal." in proof_lines(proof)


def test_bytes_that_say_the_same_otherwise_are_seen_when_they_are_made_anew(folder: Path) -> None:
    with Image.open(folder / "front.png") as picture:
        pixels = np.asarray(picture)
    Image.fromarray(pixels).save(folder / "front.png", compress_level=9)
    repair(folder, "front.png")
    assert not prove(folder).failed
    proof = prove(folder, anew=True)
    assert "is not what this version makes of the job file" in of(proof, "front.png").words
    # The list of files holds sizes and fingerprints, so that it differs too.
    assert proof.anew is not None
    assert set(proof.anew.differing) == {"front.png", "manifest.json"}


def test_without_it_the_last_words_say_that_bytes_were_not_made_anew(good: Proof) -> None:
    assert proof_lines(good)[-1].startswith("Bytes were not made anew")


def test_another_version_says_that_it_cannot_make_the_bytes_anew(folder: Path) -> None:
    path = folder / "manifest.json"
    manifest = json.loads(path.read_text("utf-8"))
    path.write_text(json.dumps(manifest | {"made_by": "facade 0.0.1"}), "utf-8")
    anew = make_anew(read_truth(folder))
    assert anew.equal == 0
    assert "made by facade 0.0.1" in anew.why


def test_a_pack_printed_with_an_order_of_its_own_is_made_anew_as_it_was_ordered(tmp_path: Path) -> None:
    job = tmp_path / "small.toml"
    job.write_text(JOB.format(**MM), "utf-8")
    front = build_front(read_job(job))
    order = Order(sheet_paper("A3"), Correction(1.004, 0.993, "hall printer"), Lines.CARVE, (Kind.SIDES, Kind.STICKS))
    folder = write(front, tmp_path / "out", outputs=[Output.PAPER], order=order).folder
    # What was printed before, and what changed since, is on the sheets of the next pack.
    changed = job.with_name("small.toml")
    changed.write_text(JOB.format(**MM | {"size": 161}), "utf-8")
    write(
        build_front(read_job(changed)), tmp_path / "out", outputs=[Output.PAPER, Output.PARTS], order=order, again=False
    )
    proof = prove(folder, anew=True)
    assert not proof.failed, proof_lines(proof)
    assert proof.anew is not None
    assert proof.anew.equal == proof.anew.total


@pytest.mark.parametrize(("name", "column"), [("offsets.csv", "height_mm"), ("parts.csv", "thinnest_mm")])
def test_a_changed_figure_in_a_table_is_named(folder: Path, name: str, column: str) -> None:
    with (folder / name).open(newline="", encoding="utf-8") as stream:
        rows = list(csv.DictReader(stream))
    rows[5][column] = f"{float(rows[5][column]) + 0.1:.2f}"
    with (folder / name).open("w", newline="", encoding="utf-8") as stream:
        writer = csv.DictWriter(stream, list(rows[0]))
        writer.writeheader()
        writer.writerows(rows)
    repair(folder, name)
    proof = prove(folder)
    assert failing(proof) == {name}
    assert f"{column} is {rows[5][column]}, but the surface gives" in of(proof, name).words


def test_a_missing_file_is_named(folder: Path) -> None:
    (folder / STRIP).unlink()
    proof = prove(folder)
    assert failing(proof) == {STRIP}
    assert "is missing" in of(proof, STRIP).words


def test_a_picture_that_does_not_open_is_named(folder: Path) -> None:
    path = folder / "front.png"
    path.write_bytes(path.read_bytes()[:5000])
    repair(folder, "front.png")
    assert "does not open" in of(prove(folder), "front.png").words


SPOILT = [
    STRIP,
    SIDE,
    "front.stl",
    "front.glb",
    "front.png",
    "offsets.csv",
    "parts.csv",
    "paper.pdf",
    "paper/03-sides.svg",
]


@pytest.mark.parametrize("name", SPOILT)
@pytest.mark.parametrize("share", [0.0, 0.4], ids=["empty", "cut short"])
def test_a_spoilt_file_fails_and_stops_nothing(folder: Path, name: str, share: float) -> None:
    data = (folder / name).read_bytes()
    (folder / name).write_bytes(data[: int(share * len(data))])
    repair(folder, name)
    assert name in failing(prove(folder))


def test_a_picture_that_the_job_reads_is_no_picture_of_ours(tmp_path: Path) -> None:
    Image.effect_noise((20, 20), 60).save(tmp_path / "grid.png")
    job = tmp_path / "small.toml"
    job.write_text(JOB.format(**MM).replace('kind = "hills"\nsize = 160', 'kind = "grid"\nfile = "grid.png"'), "utf-8")
    proof = prove(write(build_front(read_job(job)), tmp_path / "out", outputs=[Output.PARTS]).folder)
    assert of(proof, "job/grid.png").what == "bytes with the manifest"
    assert not proof.failed, proof_lines(proof)


def test_a_file_that_is_not_ours_is_listed_and_does_no_harm(folder: Path) -> None:
    (folder / "notes.txt").write_text("glue on Friday")
    proof = prove(folder)
    assert not proof.failed
    assert of(proof, "notes.txt").words == "not compared: not ours: no build has listed it"


def test_a_kind_without_a_reader_is_listed_as_not_compared(folder: Path) -> None:
    path = folder / "manifest.json"
    (folder / "cutting.abc").write_text("1")
    manifest = json.loads(path.read_text("utf-8"))
    manifest["files"].append({"name": "cutting.abc", "purpose": "", "size": 1, "sha256": ""})
    path.write_text(json.dumps(manifest), "utf-8")
    repair(folder, "cutting.abc")
    assert of(prove(folder), "cutting.abc").verdict is Verdict.NOT_COMPARED


def test_a_manifest_with_a_name_that_leads_out_of_the_folder_is_none_of_ours(folder: Path) -> None:
    path = folder / "manifest.json"
    manifest = json.loads(path.read_text("utf-8"))
    manifest["files"].append({"name": "../small.toml", "purpose": "", "size": 1, "sha256": ""})
    path.write_text(json.dumps(manifest), "utf-8")
    with pytest.raises(FileError, match=r"no manifest\.json of ours"):
        prove(folder)


def test_a_folder_that_no_build_has_made_is_refused(tmp_path: Path) -> None:
    with pytest.raises(FileError, match=r"no manifest\.json of ours"):
        prove(tmp_path)


# Telling it


def test_the_table_names_every_kind_of_file(good: Proof) -> None:
    text = "\n".join(proof_lines(good))
    for name in ("front.stl", "front.glb", "offsets.csv", "parts.csv", "paper.pdf", "sides/*.svg, 8 files", "strips/"):
        assert name in text


def test_every_fault_is_told(folder: Path) -> None:
    (folder / STRIP).unlink()
    rewrite(folder, SIDE, lambda text: text.replace("Sheet 3 of 8", "Sheet 4 of 8"))
    text = "\n".join(proof_lines(prove(folder)))
    assert f"{STRIP}: is missing" in text
    assert f"{SIDE}: says that it is sheet 4 of 8" in text


def test_progress_ends_at_the_number_of_files(untouched: Path) -> None:
    told: list[tuple[int, int]] = []
    prove(untouched, lambda done, total: told.append((done, total)))
    assert told[-1][0] == told[-1][1] == len(json.loads((untouched / "manifest.json").read_text("utf-8"))["files"])


def test_the_picture_opens_and_a_fault_changes_it(folder: Path, good: Proof) -> None:
    rewrite_solid(folder, STRIP, lambda corners: corners * [1, 1, 0.97])
    pictures = [Image.open(io.BytesIO(proof_picture(proof))) for proof in (good, prove(folder))]
    shades = [np.asarray(picture).astype(int) for picture in pictures]
    assert shades[0].shape == shades[1].shape
    # The failing strip is black where it was light.
    assert shades[1].mean() < shades[0].mean()


# Fold-round templates


def test_a_wrap_with_a_turned_line_is_named(folder: Path) -> None:
    name = next(path.relative_to(folder).as_posix() for path in sorted(folder.glob("paper/*-wraps.svg")))
    rewrite(folder, name, lambda text: flipped_line(text, "right-carve"))
    proof = prove(folder)
    assert name in failing(proof)
    assert "RIGHT: its carve line looks mirrored left to right" in of(proof, name).words


def test_wraps_are_compared_with_the_surface(good: Proof) -> None:
    wraps = [one for one in good.compared if one.name.endswith("-wraps.svg")]
    assert wraps
    assert all(one.deviation is not None and one.deviation < 0.011 for one in wraps)


# The report


def test_a_report_with_other_heights_or_a_request_is_caught(folder: Path) -> None:
    def lifted(text: str) -> str:
        head, inside, tail = re.split(r'(?<=id="scene">")([^"]+)', text, maxsplit=1)
        data = bytearray(base64.b64decode(inside))
        data[-3001] ^= 0x10
        return head + base64.b64encode(bytes(data)).decode() + tail

    rewrite(folder, "front.html", lifted)
    assert "off the surface of strip" in of(prove(folder), "front.html").words
    rewrite(folder, "front.html", lambda text: text.replace("<main>", '<main><img src="https://example.org/x.png">'))
    assert "asks for https://example.org/x.png" in of(prove(folder), "front.html").words


# Depth holes


def holes_sheet(folder: Path) -> str:
    """Return the name of a sheet with a map of holes on it."""
    names = sorted(path.relative_to(folder).as_posix() for path in folder.glob("paper/*-holes.svg"))
    return next(name for name in names if 'id="holes"' in (folder / name).read_text("utf-8"))


def test_every_hole_is_looked_at(untouched: Path, good: Proof, front: Front) -> None:
    drawn = {
        name: sum(
            part.count("M") for part in (untouched / name).read_text("utf-8").split("<path ") if 'id="holes' in part
        )
        for name in (one.name for one in good.compared if one.name.endswith("-holes.svg"))
    }
    assert sum(drawn.values()) > 0
    for name, count in drawn.items():
        assert of(good, name).points == count + 4


def test_a_list_of_holes_that_goes_on_over_a_whole_sheet_is_read_to_its_end(untouched: Path) -> None:
    """The second sheet holds figures alone; the settings go on behind it, as far as the first map."""

    def sheet(*words: str, maps: tuple[Line, ...] = ()) -> Sheet:
        return Sheet(297.0, 210.0, maps, tuple(Word(text, 0.0, 0.0) for text in words))

    edge = Line("left-edge", np.zeros((2, 2)))
    sheets = [
        sheet("Stop 1: 2 mm (700 holes)"),
        sheet("25 L 4", "50 R 3"),
        sheet("Stop 2: 4 mm (1 hole)", maps=(edge,)),
    ]
    behind = sheet("Stop 3: 6 mm (1 hole)")
    assert settings_in(iter([*sheets, behind]), read_truth(untouched)) == {1: 2.0, 2: 4.0}


def test_a_hole_with_too_deep_a_setting_is_named(folder: Path) -> None:
    name = holes_sheet(folder)
    number = 'text-anchor="start" font-weight="bold"'
    rewrite(folder, name, lambda text: deeper_holes(text, number))
    assert "into the finished face" in of(prove(folder), name).words


def deeper_holes(text: str, start: str) -> str:
    """Return an SVG whose bold figures of the first setting of the stop are those of the third."""
    groups = text.split("<g ")
    return "<g ".join(group.replace(">1</text>", ">3</text>") if start in group else group for group in groups)
