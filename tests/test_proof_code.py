"""Machine code is run on blanks in the computer: what was made agrees, and every planted fault is caught and named."""

from __future__ import annotations

import re
from collections.abc import Callable
from pathlib import Path

import pytest

from facade.build import write
from facade.cnc.order import Order, Route
from facade.front import build_front
from facade.job import read_job
from facade.making import Output
from facade.proof.code import compare_code
from facade.proof.compared import Compared
from facade.proof.truth import Truth, read_truth

FINISH = "cnc-face/programs/fixture-01_door-1_strips-01-to-08_2-finish_mm.ngc"
ROUGH = FINISH.replace("2-finish", "1-rough")
FACE = Order(Route.FACE)
MACHINE = "[machine.finishing]\nradius = 3\n"
JOB = """
title = "A small front"
front = { width = 200, height = 120 }
strips = { count = 8 }
wood = { species = "white ash", blank = 20, floor = 8 }
layers = [{ kind = "hills", size = 60 }]
"""


def made(folder: Path, machine: str = MACHINE, order: Order = FACE) -> Path:
    """Build a small front's machine code into a folder."""
    job = folder / "small.toml"
    job.write_text(JOB + machine)
    return write(build_front(read_job(job)), folder / "out", outputs=[Output.CNC_FACE], cnc=order).folder


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return made(tmp_path_factory.mktemp("proved"))


@pytest.fixture
def truth(folder: Path, tmp_path: Path) -> Truth:
    """The same build in a folder of its own, that a test may spoil."""
    import shutil

    shutil.copytree(folder, tmp_path / folder.name)
    return read_truth(tmp_path / folder.name)


def compared(truth: Truth) -> dict[str, Compared]:
    return {name: of(truth, name) for name in (ROUGH, FINISH)}


def of(truth: Truth, name: str) -> Compared:
    """Return what is said of one program; what is said of its row in the table of times is left out."""
    return next(one for one in compare_code(truth.folder / name, name, truth) if one.name == name)


def spoilt(truth: Truth, change: Callable[[str], str], name: str = FINISH) -> Compared:
    path = truth.folder / name
    before = path.read_text("ascii")
    after = change(before)
    assert after != before
    path.write_text(after, "ascii")
    return of(truth, name)


def with_z(text: str, change: Callable[[float], float]) -> str:
    return re.sub(r"(?m)^(G1 .*?Z)([\d.]+)", lambda found: f"{found[1]}{change(float(found[2])):.3f}", text)


def test_what_was_made_agrees(truth: Truth) -> None:
    for one in compared(truth).values():
        assert one.faults == ()
        assert one.least >= 8.0
    finish = compared(truth)[FINISH]
    assert finish.deviation < 0.04
    assert sorted(finish.along) == list(range(1, 9))


@pytest.mark.parametrize(
    ("machine", "order"),
    [
        ('[machine]\nwords = "iso6983"\n', Order(Route.FACE)),
        ("[machine.finishing]\nradius = 2\nstep = 0.9\n", Order(Route.FACE)),
        ("[machine.finishing]\nradius = 12\n", Order(Route.FACE)),
        ("", Order(Route.FACE, (3, 4, 7))),
        ("", Order(Route.FACE, None, 19.3)),
        ("[carving]\npacked = true\n", Order(Route.FACE)),
    ],
    ids=["iso6983", "step", "large ball", "some strips", "measured blank", "packed"],
)
def test_other_orders_agree_too(tmp_path: Path, machine: str, order: Order) -> None:
    truth = read_truth(made(tmp_path, machine, order))
    names = [name for name in truth.files if name.endswith(".ngc")]
    found = [one for name in names for one in compare_code(truth.folder / name, name, truth)]
    assert len(found) == 2 * len(names) > 0
    assert [one.faults for one in found] == [()] * len(found)


def test_a_cut_that_is_too_deep_is_caught(truth: Truth) -> None:
    one = spoilt(truth, lambda text: with_z(text, lambda z: z - 0.02))
    assert re.search(r"cuts strip \d 0\.02\d mm too deep", one.faults[0])


def test_a_single_dip_is_caught_with_its_strip(truth: Truth) -> None:
    places = (truth.folder / FINISH).read_text("ascii").splitlines()
    line = next(
        index
        for index, words in enumerate(places)
        if index > 2000 and re.match(r"G1 Y\d+\.\d+ Z", words) and 70 < float(words.split()[1][1:]) < 140
    )

    def dipped(text: str) -> str:
        lines = text.splitlines(keepends=True)
        lines[line] = re.sub(r"Z([\d.]+)", lambda found: f"Z{float(found[1]) - 1:.3f}", lines[line])
        return "".join(lines)

    one = spoilt(truth, dipped)
    assert "too deep" in one.faults[0]
    assert len(one.failed) <= 2


def test_a_cut_that_is_too_high_is_caught(truth: Truth) -> None:
    one = spoilt(truth, lambda text: with_z(text, lambda z: z + 0.06))
    assert "standing on strip" in one.faults[0]


def test_missing_passes_are_caught(truth: Truth) -> None:
    """Every fifth line of the file is left out, from its middle on: whole passes are cut short."""

    def shortened(text: str) -> str:
        lines = text.splitlines(keepends=True)
        middle = len(lines) // 2
        return "".join(
            lines[:middle] + [line for line in lines[middle:-40] if " X" not in line or line[1] == "0"] + lines[-40:]
        )

    assert spoilt(truth, shortened).faults


def test_mirrored_code_is_caught(truth: Truth) -> None:
    def mirrored(text: str) -> str:
        return re.sub(r"(?m)^(G[01].*?X)(-?[\d.]+)", lambda found: f"{found[1]}{200 - float(found[2]):.3f}", text)

    assert any("too deep" in fault for fault in spoilt(truth, mirrored).faults)


def test_code_in_another_unit_is_caught(truth: Truth) -> None:
    one = spoilt(truth, lambda text: text.replace("G21", "G20"))
    assert any("does not say once that it is in mm" in fault for fault in one.faults)


def test_numbers_in_inches_under_a_head_in_mm_are_caught(truth: Truth) -> None:
    def shrunk(text: str) -> str:
        return re.sub(r"(?m)(?<=[XYZ])-?\d+\.\d+", lambda found: f"{float(found[0]) / 25.4:.4f}", text)

    assert spoilt(truth, shrunk).faults


def test_a_rapid_through_wood_is_caught(truth: Truth) -> None:
    one = spoilt(truth, lambda text: text.replace("M5\n", "G0 X100.000 Y60.000\nG0 Z12.000\nG0 Z30.000\nM5\n"))
    assert any("rapid" in fault for fault in one.faults)


def test_a_way_beside_the_fixture_is_caught(truth: Truth) -> None:
    one = spoilt(truth, lambda text: text.replace("M5\n", "G0 X900.000 Y60.000\nG1 Z25.000\nG0 Z30.000\nM5\n"))
    assert any("beside the fixture, to X900.00" in fault for fault in one.faults)


def test_a_way_below_what_may_stand_beside_the_strips_is_caught(truth: Truth) -> None:
    one = spoilt(truth, lambda text: text.replace("M5\n", "G0 X0.000 Y-30.000\nG1 Z2.000\nG0 Z30.000\nM5\n"))
    assert any("where spacers and battens are" in fault for fault in one.faults)


def test_code_of_another_front_is_caught(truth: Truth) -> None:
    one = spoilt(truth, lambda text: text.replace(truth.front.mark, "0000-0000"))
    assert "another front" in one.faults[0]


@pytest.mark.parametrize(
    ("change", "said"),
    [
        (lambda text: text.replace("M3", "M5", 1), "before its spindle turns"),
        (lambda text: text.replace(" G90", "", 1), "before G90 is set"),
        (lambda text: text.replace("M2\n", ""), "does not stop its spindle and end"),
        (lambda text: re.sub(r" F[\d.]+", "", text, count=1), "before a feed is set"),
        (lambda text: text.replace("G1 Y", "G1 Y1..", 1), "no words and numbers"),
        (lambda text: text.replace("G54\n", "G54 (" + "x" * 300 + ")\n", 1), "256 are allowed"),
        (lambda text: text.replace("G54\n", "G54 Q3\n", 1), "not used here: Q"),
    ],
)
def test_what_breaks_the_standard_s_rules_is_caught(truth: Truth, change: Callable[[str], str], said: str) -> None:
    """NISTIR 6556: modes, spindle, feed, end, numbers, length of lines."""
    assert any(said in fault for fault in spoilt(truth, change).faults)


def test_roughing_into_what_finishing_leaves_is_caught(truth: Truth) -> None:
    one = spoilt(truth, lambda text: with_z(text, lambda z: z - 1.5), ROUGH)
    assert "too deep" in one.faults[0]


def test_roughing_alone_is_compared_where_there_is_no_finishing(truth: Truth) -> None:
    (truth.folder / FINISH).unlink()
    assert of(truth, ROUGH).faults == ()


def test_the_least_height_left_is_that_of_the_surface_and_what_is_left_on(truth: Truth) -> None:
    front = truth.front
    thinnest = min(strip.thinnest.height for strip in front.strips())
    least = compared(truth)[FINISH].least
    assert least == pytest.approx(thinnest + front.job.machine.leave, abs=0.03)
