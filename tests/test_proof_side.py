"""Files of strips on their side are read back: what was made agrees, and every planted fault is caught and named."""

from __future__ import annotations

import re
import shutil
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import pytest
from ezdxf.filemanagement import readfile
from test_proof_cnc import INCH, MM

from facade.build import write
from facade.cnc.order import Order, Route
from facade.cnc.strokes import strokes
from facade.front import build_front
from facade.job import read_job
from facade.making import Output
from facade.proof import Compared
from facade.proof.compared import joined
from facade.proof.lying_drawings import figures
from facade.proof.profiles import read_dxf
from facade.proof.readers import reader_of
from facade.proof.truth import Truth, read_truth

TABS = '[machine]\nhold = "tabs"\ncut = "either"\n[machine.side]\nlength = "12 mm"\nreach = "30 mm"\nshank = "8 mm"'
VACUUM = '[machine]\nhold = "vacuum"\nstrips = 3\nunit = "in"\n[machine.side]\nlength = "30 mm"\ncutter = "6 mm"'
TAPE = (
    '[machine]\nhold = "tape"\n[machine.side]\nstep = "1.5 mm"\nleave = 0\nbelow = 0\ncutter = "16 mm"\nlevel = "5 mm"'
)


def made(folder: Path, text: str = MM, order: Order | None = None) -> Path:
    job = folder / "small.toml"
    job.write_text(text)
    front = build_front(read_job(job))
    return write(front, folder / "out", outputs=[Output("cnc-side")], cnc=order or Order(Route.SIDE)).folder


@pytest.fixture(scope="module")
def whole(tmp_path_factory: pytest.TempPathFactory) -> Truth:
    return read_truth(made(tmp_path_factory.mktemp("proved")))


@pytest.fixture
def truth(whole: Truth, tmp_path: Path) -> Truth:
    """The same files in a folder of its own, that a test may spoil."""
    shutil.copytree(whole.folder, tmp_path / "small")
    return replace(whole, folder=tmp_path / "small")


def of(truth: Truth, name: str) -> Compared:
    """Return what the reader of a file says of it, its bytes apart."""
    read_dxf.cache_clear()
    compare = reader_of(name)
    assert compare is not None
    return joined(compare(truth.folder / name, name, truth))


def names(truth: Truth) -> list[str]:
    return [name for name in truth.files if name.startswith("cnc-side/")]


def profile(truth: Truth, number: int, ending: str = "dxf") -> str:
    return next(name for name in names(truth) if f"/strip-{number:02d}_" in name and name.endswith(ending))


def redrawn(truth: Truth, name: str, change: Callable) -> Compared:
    document = readfile(truth.folder / name)
    change(document)
    document.saveas(truth.folder / name)
    return of(truth, name)


def spoilt(truth: Truth, name: str, change: Callable[[str], str]) -> Compared:
    before = (truth.folder / name).read_text()
    after = change(before)
    assert after != before
    (truth.folder / name).write_text(after)
    return of(truth, name)


def swapped(truth: Truth, one: str, other: str) -> None:
    kept = (truth.folder / one).read_bytes()
    shutil.copy(truth.folder / other, truth.folder / one)
    (truth.folder / other).write_bytes(kept)


@pytest.mark.parametrize("front", [MM, INCH], ids=["mm", "inch"])
@pytest.mark.parametrize("machine", ["", TABS, VACUUM, TAPE], ids=["screws", "tabs", "vacuum", "tape"])
def test_what_was_made_agrees(tmp_path: Path, front: str, machine: str) -> None:
    truth = read_truth(made(tmp_path, front + machine))
    assert [(name, of(truth, name).words) for name in names(truth) if of(truth, name).words != "agrees"] == []
    assert len(names(truth)) >= 19


def test_some_strips_of_a_measured_blank_agree(tmp_path: Path) -> None:
    measured = f"{MM}\n[as_built]\nblank = 21.3\n"
    truth = read_truth(made(tmp_path, measured, Order(Route.SIDE, (2, 3, 6), cleared=False)))
    assert [(name, of(truth, name).words) for name in names(truth) if of(truth, name).words != "agrees"] == []


def lines_of(document, *layers: str):
    return [one for one in document.modelspace().query("LWPOLYLINE") if not layers or one.dxf.layer in layers]


def mirrored(document) -> None:
    """Every line but what is the same both ways round: the strip's middle is at x 60 + 60."""
    for one in lines_of(document):
        if one.dxf.layer not in ("proof square", "board", "zero"):
            one.set_points([(240.0 - point[0], point[1]) for point in list(one)[::-1]], format="xy")


def exchanged(document) -> None:
    for one in document.modelspace():
        one.dxf.layer = {"left line": "right line", "right line": "left line"}.get(one.dxf.layer, one.dxf.layer)


def of_another_unit(document) -> None:
    document.header["$INSUNITS"] = 1


def smaller(document) -> None:
    for one in lines_of(document):
        one.set_points([(point[0] / 25.4, point[1] / 25.4) for point in one], format="xy")


def open_outline(document) -> None:
    for one in lines_of(document, "outline - not a cut"):
        one.closed = False


def with_text(document) -> None:
    document.modelspace().add_text("strip 4")


def shrunk_square(document) -> None:
    square = document.modelspace()[0]
    square.set_points([(point[0] * 0.99, point[1]) for point in square], format="xy")


def moved(*layers: str, x: float = 0.0, y: float = 0.0) -> Callable:
    def change(document) -> None:
        for one in document.modelspace():
            if one.dxf.layer in layers:
                one.translate(x, y, 0.0)

    return change


def without(layer: str) -> Callable:
    def change(document) -> None:
        for one in list(document.modelspace()):
            if one.dxf.layer == layer:
                document.modelspace().delete_entity(one)

    return change


def without_one_step(document) -> None:
    for layer in ("step cut", "step cut middle"):
        document.modelspace().delete_entity(lines_of(document, layer)[0])


def turned(document) -> None:
    for one in lines_of(document, "step cut", "step cut middle"):
        one.set_points([point[:2] for point in list(one)[::-1]], format="xy")


def short_way_in(document) -> None:
    one = lines_of(document, "face cut")[0]
    one.set_points([(point[0] + 10.0 * (index == 0), point[1]) for index, point in enumerate(one)], format="xy")


def lower_way_in(document) -> None:
    one = lines_of(document, "face cut")[0]
    one.set_points([(point[0], point[1] - 0.3 * (index == 0)) for index, point in enumerate(one)], format="xy")


def larger_heads(document) -> None:
    for one in document.modelspace().query('CIRCLE[layer=="screw heads"]'):
        one.dxf.radius += 0.1


@pytest.mark.parametrize(
    ("change", "said"),
    [
        (mirrored, "looks mirrored end for end"),
        (exchanged, "left and right are exchanged"),
        (of_another_unit, "does not say that it is in mm"),
        (smaller, "proof square is 3.937 mm"),
        (open_outline, "has an open run on the layer 'outline - not a cut'"),
        (with_text, "holds TEXT"),
        (shrunk_square, "proof square is 99.000 mm"),
        (moved("face cut", "face cut middle", y=0.05), "its face cut of strip 4 is 0.05"),
        (moved("face cut middle", y=0.05), "its face cut middle of strip 4 is"),
        (moved("step cut", y=-0.2), "its step cut 1 of strip 4 is 0.2"),
        (moved("step cut middle", y=0.08), "its step cut 1 middle of strip 4 is"),
        (without_one_step, "step cuts for strip 4, not"),
        (turned, "its step cut 1 of strip 4 goes the other way"),
        (short_way_in, "does not come in and go out where it should"),
        (lower_way_in, "does not come in and go out where it should"),
        (moved("stops", y=0.1), "its stops is up to 0.100 mm off"),
        (moved("holding screws", x=0.1), "its holding screws are up to 0.100 mm off"),
        (larger_heads, "its screw heads are up to 0.100 mm off"),
        (moved("keep-out", y=1.0), "its keep-out is up to 1.000 mm off"),
        (moved("board", x=1.0), "its board is up to 1.000 mm off"),
        (moved("zero", x=1.0), "its zero is up to 1.000 mm off"),
        (moved("blank", y=0.1), "its blank is up to 0.100 mm off"),
        (moved("saw to length", x=0.1), "its saw to length is up to 0.100 mm off"),
        (moved("screw pilots", x=0.1), "its screw pilots is up to 0.100 mm off"),
        (moved("number", x=5.0), "does not stand at its BOTTOM end"),
        (without("keep-out"), "holds nothing on the layer 'keep-out'"),
        (without("zero"), "holds nothing on the layer 'zero'"),
    ],
)
def test_spoilt_profiles_are_caught_and_named(truth: Truth, change: Callable, said: str) -> None:
    assert said in redrawn(truth, profile(truth, 4), change).words


def test_profiles_of_another_strip_are_caught_and_named(truth: Truth) -> None:
    swapped(truth, profile(truth, 2), profile(truth, 6))
    assert "is strip 6's surface" in of(truth, profile(truth, 2)).words


def test_an_svg_that_differs_from_its_dxf_is_caught(truth: Truth) -> None:
    name = profile(truth, 3, "svg")
    one = spoilt(truth, name, _moved_line)
    assert "off those of" in one.words


def _moved_line(text: str) -> str:
    """Move the first place of the left line by 0.3 mm."""
    found = re.search(r'd="M([\d.]+) ([\d.]+)([^"]*)" id="left[- ]line"', text)
    return text.replace(
        found[0], found[0].replace(f"M{found[1]} {found[2]}", f"M{found[1]} {float(found[2]) - 0.3:.3f}"), 1
    )


def test_a_line_just_within_the_tolerance_agrees_and_one_just_beyond_is_caught(truth: Truth) -> None:
    """0.01 mm for straight lines and 0.002 for rounding, less what the line itself is off: both edge lines moved."""
    name = profile(truth, 4)
    before = of(truth, name).deviation or 0.0
    assert "off, " in redrawn(truth, name, moved("left line", y=0.0125 + before)).words
    found = redrawn(truth, name, moved("left line", y=-0.0125 - before + 0.011 - before))
    assert found.words == "agrees"


@pytest.mark.parametrize("column", range(1, 13))
def test_every_column_of_the_sizes_is_compared(truth: Truth, column: int) -> None:
    path = truth.folder / "cnc-side/sizes.csv"
    rows = [row.split(",") for row in path.read_text().splitlines()]
    said = rows[3][column]
    rows[3][column] = f"{float(said) + 0.03:.2f}" if "." in said and "/" not in said else said + "1"
    path.write_text("\n".join(",".join(row) for row in rows) + "\n")
    one = of(truth, "cnc-side/sizes.csv")
    assert f"says {rows[3][column]} for the {rows[0][column].removesuffix(' mm')} of strip 3" in one.words
    assert one.failed == (3,)


@pytest.mark.parametrize(
    ("before", "after", "said"),
    [
        ("x 60 mm", "x 50 mm", "under 'Zero'"),
        ("20.5 mm", "10.5 mm", "under 'Stops'"),
        ("12.5 mm beyond", "2.5 mm beyond", "under 'Screws'"),
        ("16000 turns", "61000 turns", "under 'Speeds'"),
        ("off by 4 mm", "off by 8 mm", "under 'Line'"),
        ("OUTSIDE", "middle", "does not say 'OUTSIDE' under 'Line'"),
        ("right hand", "left hand", "does not say 'right hand' under 'Direction'"),
        ("at most 3 mm", "at most 30 mm", "under 'Steps'"),
        ("z 14.75 mm", "z 4.75 mm", "under 'Depth'"),
        ("about 13 min", "about 31 min", "under '4'"),
        ("Nothing is cut", "All is cut", "under 'Way in, way out'"),
        ("  Dust: ", "  Chips: ", "'Dust' should stand"),
        ("at its BOTTOM end", "at its TOP end", ""),
    ],
)
def test_a_changed_text_beside_the_drawings_is_caught(truth: Truth, before: str, after: str, said: str) -> None:
    text = (truth.folder / "cnc-side/read-me.txt").read_text()
    flat = re.sub(r"\n    (?=\S)", " ", text)
    assert before in flat
    (truth.folder / "cnc-side/read-me.txt").write_text(flat.replace(before, after, 1))
    assert said in of(truth, "cnc-side/read-me.txt").words
    # The sheet says the same as the text, so that one of them alone cannot be changed.
    assert "does not say under" in of(truth, "cnc-side/job-sheet.pdf").words


@pytest.mark.parametrize(
    ("before", "after"),
    [(">strip 3<", ">strip 4<"), (">TOP<", ">BOTTOM<"), (">ZERO x 0 y 0<", "><"), (">BOTTOM<", ">BOTTOM end<")],
)
def test_a_changed_word_in_a_picture_is_caught(truth: Truth, before: str, after: str) -> None:
    assert "does not say" in spoilt(truth, profile(truth, 3, "svg"), lambda text: text.replace(before, after, 1)).words


def test_figures_of_another_number_are_read(truth: Truth) -> None:
    """The number of strip 8 engraved on strip 3, in its drawing and in its picture."""
    other = [[point[:2] for point in one] for one in lines_of(readfile(truth.folder / profile(truth, 8)), "number")]

    def change(document) -> None:
        without("number")(document)
        for run in other:
            document.modelspace().add_lwpolyline(run, dxfattribs={"layer": "number"})

    assert "its number for strip 3 reads 8" in redrawn(truth, profile(truth, 3), change).words


@pytest.mark.parametrize("number", [*range(10), 17, 40, 206])
def test_every_figure_is_told_from_the_others(number: int) -> None:
    assert figures(strokes(str(number), 8.0, 1.5, 5.0)) == str(number)
