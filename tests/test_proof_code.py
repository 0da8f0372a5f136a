"""Machine code is run on blanks in the computer: what was made agrees, and every planted fault is caught and named."""

from __future__ import annotations

import json
import math
import re
import shutil
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from facade.build import write
from facade.cnc.order import Order, Route
from facade.front import build_front
from facade.job import read_job
from facade.lengths import Unit
from facade.making import Output
from facade.proof import prove
from facade.proof.carved import GOUGE, carved, foretold
from facade.proof.code import compare_code
from facade.proof.compared import Compared
from facade.proof.laid import Laid, laid_for
from facade.proof.programs import Program, read_program
from facade.proof.sweeping import Cutter, lowest_over, parts_of
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
        ("[machine.finishing]\nradius = 3\nstep = 2.5\n", Order(Route.FACE, strips=(3, 4))),
        ("[machine.finishing]\nradius = 12\n", Order(Route.FACE)),
        ("", Order(Route.FACE, (3, 4, 7))),
        ("[as_built]\nblank = 19.3\n", Order(Route.FACE)),
        ("[carving]\npacked = true\n", Order(Route.FACE)),
    ],
    ids=["iso6983", "step", "wide step", "large ball", "some strips", "measured blank", "packed"],
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


def put(line: str) -> Callable[[str], str]:
    """Put a line between the moves, in the middle of a file."""

    def change(text: str) -> str:
        lines = text.splitlines(keepends=True)
        return "".join([*lines[: len(lines) // 2], f"{line}\n", *lines[len(lines) // 2 :]])

    return change


@pytest.mark.parametrize(
    "line",
    [
        *(
            "G91",
            "G92 X0",
            "G55",
            "G53 G0 Z0.000",
            "G28",
            "G93",
            "G41 D1",
            "G42",
            "G43 H1",
            "G81 X1.000 Y1.000 Z1.000 R2.000",
        ),
        *(
            "G2 X1.000 Y1.000 R5.000",
            "G3 X1.000 Y1.000 I1.000",
            "G10 L2 P1 X1.000",
            "G20",
            "G21",
            "G61",
            "G64",
            "G18",
            "G38.2 Z1.000",
        ),
        *(
            "M0",
            "M1",
            "M2",
            "M30",
            "M5",
            "M4",
            "M3",
            "M6",
            "M7",
            "M8",
            "M9",
            "S20000",
            "T2",
            "F1000.0",
            "G4 P0",
            "O100 sub",
            "#1=2",
        ),
        *(
            "G1 X[1+2]",
            "G1X10.000",
            "G1 X10",
            "g1 x10.000",
            "G01 X10.000",
            "/G1 X10.000",
            "(a comment)",
            "%",
            "",
            "G1",
            "G0 F100.0 X1.000",
        ),
    ],
)
def test_any_other_line_between_the_moves_is_caught(truth: Truth, line: str) -> None:
    assert spoilt(truth, put(line)).faults


@pytest.mark.parametrize(
    ("change", "said"),
    [
        (lambda text: text.replace("G4 P5", "G4 P0"), "waits 0 s"),
        (lambda text: text.replace("G4 P5", "G4 P4.9"), "waits 4.9 s"),
        (lambda text: text.replace("G4 P5\n", ""), "does not wait for its spindle"),
        (lambda text: text.replace("S18000", "S1800"), "turns its spindle 1800 times"),
        (lambda text: text.replace("F3000.0", "F30000.0"), "cuts at F30000.0, not F3000.0"),
        (lambda text: text.replace("F3000.0", "F3000.1"), "cuts at F3000.1, not F3000.0"),
        (lambda text: text.replace("F1000.0", "F3000.0"), "comes down at F3000.0, not F1000.0"),
        (
            lambda text: text.replace("F1000.0", "F9.9").replace("F3000.0", "F1000.0").replace("F9.9", "F3000.0"),
            "not F1000.0",
        ),
        (lambda text: text.replace("Z30.000", "Z24.000"), "travels lower than Z30.00"),
        (lambda text: text.replace("Z30.000", "Z40.000"), "not at Z30.00"),
        (lambda text: re.sub(r"G0 Z21.000\n", "G0 Z20.500\n", text), "comes down in a rapid"),
        (lambda text: text.replace("G21 G17", "G21 G21 G17"), "does not say once that it is in mm"),
        (lambda text: text.replace("G40 ", ""), "set aside"),
        (lambda text: text.replace("G54\n", "G55\n"), "not used here: G55"),
        (lambda text: text.replace("M3\n", "M3 M8\n"), "not used here: M8"),
        (lambda text: text.replace("M5\nM2\n", "M2\n"), "does not stop its spindle and end"),
        (lambda text: text.replace("M5\nM2\n", "M5\nM2\nM2\n"), "does not stop its spindle and end"),
    ],
)
def test_what_is_not_as_the_job_has_it_is_caught(truth: Truth, change: Callable[[str], str], said: str) -> None:
    """Waits, turns, feeds at each kind of move, clear height, the start and the end."""
    assert any(said in fault for fault in spoilt(truth, change).faults)


@pytest.mark.parametrize(
    ("old", "new"),
    [
        (r"strips 1 to 8", "strips 1 to 9"),
        (r"Zero: lower left", "Zero: lower right"),
        (r"at X 80 mm", "at X 90 mm"),
        (r"blanks 20 mm", "blanks 22 mm"),
        (r"waste of 25 mm", "waste of 20 mm"),
        (r"spacers 3 mm", "spacers 2 mm"),
        (r"higher than 6 mm", "higher than 8 mm"),
        (r"radius 3 mm", "radius 4 mm"),
        (r"2 edges", "3 edges"),
        (r"must reach [\d.]+ mm", "must reach 9.00 mm"),
        (r"Spindle 18000", "Spindle 8000"),
        (r"feed 3000 mm/min", "feed 300 mm/min"),
        (r", 1000 mm/min", ", 100 mm/min"),
        (r"0.083 mm a tooth", "0.043 mm a tooth"),
        (r"runs at \d+ m/min", "runs at 9 m/min"),
        (r"at most 0.020 mm expected", "at most 0.030 mm expected"),
        (r"for sanding: 0.3 mm", "for sanding: 0.2 mm"),
        (r"X [\d.]+ to", "X 1.00 to"),
        (r"Z [\d.]+ to", "Z 1.00 to"),
        (r"Time: about \d+ min", "Time: about 5 min"),
        (r"400 mm/s2", "800 mm/s2"),
        (r"Stay by the machine. ", ""),
        (r"\(All lengths in mm.\)\n", ""),
        (r"NOT CLEARED", "CLEARED"),
        (r"(\(A small front.*\)\n)", r"\1(Take any cutter.)\n"),
    ],
)
def test_a_head_that_says_something_else_is_caught(truth: Truth, old: str, new: str) -> None:
    assert "its head" in spoilt(truth, lambda text: re.sub(old, new, text, count=1)).faults[0]


def passes_of(text: str) -> list[tuple[int, int]]:
    """Where each pass begins and ends among the lines: from a rapid down to the next rapid up."""
    lines = text.splitlines()
    starts = [index for index, line in enumerate(lines) if re.match(r"G0 X.*", line) and index > 10]
    return list(zip(starts, [*starts[1:], len(lines) - 2], strict=True))


def over(lines: list[str], index: int, y: str | None = None) -> str:
    """Return the line that goes over a pass's first place with both its axes, whatever stood before; at another y where it is given."""
    before = "".join(lines[: index + 1])
    last_x, last_y = (re.findall(rf"{axis}(-?[0-9.]+)", before)[-1] for axis in "XY")
    return f"G0 X{last_x} Y{y or last_y}\n"


def test_half_of_a_roughing_pass_left_out_is_caught(truth: Truth) -> None:
    """The last pass of the deepest level is begun in the middle of its way."""

    def halved(text: str) -> str:
        lines = text.splitlines(keepends=True)
        first, after = max(passes_of(text), key=lambda one: one[1] - one[0])
        places = [index for index in range(first, after) if re.match(r"G1 Y[\d.]+ Z[\d.]+", lines[index])]
        middle = places[len(places) // 2]
        y, z = re.findall(r"[YZ]([\d.]+)", lines[middle])
        lines[first] = over(lines, first, y)
        lines[first + 2] = re.sub(r"Z[\d.]+", f"Z{z}", lines[first + 2])
        feed = "" if " F2500.0" in lines[middle + 1] else " F2500.0"
        return "".join([*lines[: first + 3], lines[middle + 1].rstrip() + feed + "\n", *lines[middle + 2 :]])

    said = spoilt(truth, halved, ROUGH).faults
    assert any("leaves out a pass" in fault or "in one move" in fault for fault in said)


def test_a_roughing_pass_left_out_is_caught(truth: Truth) -> None:
    def without(text: str) -> str:
        lines = text.splitlines(keepends=True)
        longest = max(passes_of(text), key=lambda one: one[1] - one[0])
        return "".join([*lines[: longest[0]], over(lines, longest[1]), *lines[longest[1] + 1 :]])

    assert any("leaves out a pass" in fault or "in one move" in fault for fault in spoilt(truth, without, ROUGH).faults)


def test_a_missing_level_of_roughing_is_caught(truth: Truth) -> None:
    """All passes of the first level are left out: the next takes twice as much."""

    def lowest(lines: list[str]) -> float:
        return min(
            float(found[1]) for line in lines if line.startswith("G1") and (found := re.search(r"Z([\d.]+)", line))
        )

    def without(text: str) -> str:
        lines = text.splitlines(keepends=True)
        passes = passes_of(text)
        deep = [lowest(lines[first:after]) for first, after in passes]
        levels = math.ceil((20.0 - min(deep)) / 5.0)
        second = next(index for index, z in enumerate(deep) if z < 20.0 - (20.0 - min(deep)) / levels - 0.01)
        start = passes[second][0]
        return "".join([*lines[: passes[0][0]], over(lines, start), *lines[start + 1 :]])

    said = spoilt(truth, without, ROUGH).faults
    assert any("in one move" in fault for fault in said), said


@pytest.mark.parametrize(("aside", "caught"), [(-0.001, False), (-0.003, True)])
def test_what_is_cut_too_deep_is_held_to_its_tolerance_from_both_sides(
    truth: Truth, aside: float, caught: bool
) -> None:
    """The worst place of the file is brought just inside, and just outside, what is allowed."""
    laid = laid_for(FINISH, truth)
    program = read_program((truth.folder / FINISH).read_text("ascii"), Unit.MM, truth.front.job.machine.words)
    ridges, worst = foretold(laid), deepest(truth, laid, program)
    moved = replace(program, places=program.places + [0.0, 0.0, -GOUGE - worst + aside + 0.002])
    assert any("too deep" in fault for fault in carved(truth, laid, moved, ridges).faults) is caught


def deepest(truth: Truth, laid: Laid, program: Program) -> float:
    """How far off the surface and what is left on it the deepest place is, mm: below it where negative."""
    parts = parts_of(program.places, program.cuts)
    found = []
    for index, (left, right) in enumerate(zip(laid.lefts.tolist(), laid.rights.tolist(), strict=True)):
        x, y = (
            np.linspace(low, high, math.ceil((high - low) / 0.5 - 1e-9) + 1)
            for low, high in ((left, right), (laid.bottom, laid.top))
        )
        under = lowest_over(x, y, parts, Cutter(3.0, ball=True))
        found.append(float((under - laid.heights(index, x, y) - truth.front.job.machine.leave).min()))
    return min(found)


LARGE_BALL = "[machine.finishing]\nradius = 12\n[limits]\nball_standing = 0.1\n"


@pytest.fixture(scope="module")
def standing(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Built with a ball that is much larger than the hollows are tight."""
    return made(tmp_path_factory.mktemp("standing"), LARGE_BALL)


def test_a_ball_that_leaves_too_much_stops_its_route(standing: Path) -> None:
    truth = read_truth(standing)
    (found,) = truth.manifest["cnc"]["face"]["findings"]
    assert (found["check"], found["weight"], found["limit"]) == ("ball", "stops", 0.1)
    assert found["value"] > 0.1
    assert truth.manifest["cnc"]["face"]["cleared"] is False
    assert "NOT CLEARED" in (standing / FINISH).read_text("ascii")
    assert prove(standing).failed is False


def test_each_way_out_of_a_ball_that_leaves_too_much_is_a_way_out(standing: Path, tmp_path: Path) -> None:
    (found,) = read_truth(standing).manifest["cnc"]["face"]["findings"]
    radius, by_hand = (
        re.search(rf"{key} = (\d+(?:\.\d+)?)", found["cure"]) for key in (r"finishing\.radius", r"ball_standing")
    )
    assert radius
    assert by_hand
    ways = {
        "smaller": LARGE_BALL.replace("radius = 12", f"radius = {float(radius[1])}"),
        "by hand": LARGE_BALL.replace("standing = 0.1", f"standing = {float(by_hand[1])}"),
    }
    for name, machine in ways.items():
        (tmp_path / name).mkdir()
        manifest = read_truth(made(tmp_path / name, machine)).manifest
        order = manifest["cnc"]["face"]
        assert (order["findings"], order["cleared"]) == ([], manifest["cleared"])


@pytest.mark.parametrize("change", [lambda found: [], lambda found: [{**found[0], "value": found[0]["value"] / 2.0}]])
def test_what_the_ball_leaves_is_held_to_what_the_manifest_says(
    standing: Path, tmp_path: Path, change: Callable[[list[dict[str, object]]], list[dict[str, object]]]
) -> None:
    shutil.copytree(standing, tmp_path / standing.name)
    manifest = json.loads((tmp_path / standing.name / "manifest.json").read_text("utf-8"))
    manifest["cnc"]["face"]["findings"] = change(manifest["cnc"]["face"]["findings"])
    (tmp_path / standing.name / "manifest.json").write_text(json.dumps(manifest), "utf-8")
    assert any("tighter than the ball" in fault for fault in of(read_truth(tmp_path / standing.name), FINISH).faults)
