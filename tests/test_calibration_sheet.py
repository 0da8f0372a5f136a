"""The calibration sheet: its lines measure what it says, along the paper's own sides, and exact figures correct nothing."""

from __future__ import annotations

import shlex

import numpy as np
import pytest
from helpers import small_front
from readers import pdf_lines, svg_paths

from facade.cli import main
from facade.exporters.svg import to_svg
from facade.front import Front
from facade.paper import Order, pack_of, paper_files
from facade.printing import printers
from facade.printing.correction import Correction, correction
from facade.printing.papers import SIZES, Margins, roll_paper, sheet_paper
from facade.templates.piece import Kind


def front_in(unit: str) -> Front:
    inch = {"front": {"width": 8, "height": 5}, "wood": {"species": "white ash", "blank": 0.875, "floor": 0.375}}
    return small_front(unit=unit, **(inch | {"layers": [{"kind": "hills", "size": 3}]} if unit == "in" else {}))


def lines_on(front: Front, order: Order) -> dict[str, np.ndarray]:
    ((_, drawing),) = pack_of(front, order).drawings()
    return {letter: svg_paths(to_svg(drawing))[f"line-{letter}"][[0, -1]] for letter in "ABCD"}


def length(line: np.ndarray) -> float:
    return float(np.linalg.norm(line[1] - line[0]))


@pytest.mark.parametrize("unit", ["mm", "in"])
@pytest.mark.parametrize("margins", [Margins(5, 5), Margins(8, 8), Margins(5, 13)])
@pytest.mark.parametrize("name", sorted(SIZES))
def test_exact_figures_need_no_correction(name: str, margins: Margins, unit: str) -> None:
    """A, B along the short side and C, D along the long side of an upright sheet."""
    front = front_in(unit)
    lines = lines_on(front, Order(sheet_paper(name, margins), kinds=(Kind.CALIBRATION,)))
    assert length(lines["A"]) == pytest.approx(length(lines["B"]), abs=0.003)
    assert length(lines["C"]) == pytest.approx(length(lines["D"]), abs=0.003)
    assert abs(lines["A"][0, 1] - lines["A"][1, 1]) < 0.001
    assert abs(lines["C"][0, 0] - lines["C"][1, 0]) < 0.001
    found = correction("hall printer", front.job.ruler, length(lines["A"]), length(lines["C"]))
    assert (found.short, found.long) == pytest.approx((1.0, 1.0), abs=2e-5)


def test_a4_has_lines_of_180_and_250_mm() -> None:
    lines = lines_on(front_in("mm"), Order(sheet_paper("A4"), kinds=(Kind.CALIBRATION,)))
    assert [length(lines[letter]) for letter in "ABCD"] == pytest.approx([180, 180, 250, 250], abs=0.003)


def test_a_roll_has_lines_both_ways() -> None:
    front = front_in("mm")
    lines = lines_on(front, Order(roll_paper(610, front.job.ruler), kinds=(Kind.CALIBRATION,)))
    ways = {abs(line[1] - line[0]).argmax() for line in lines.values()}
    assert ways == {0, 1}


def test_it_is_printed_without_correction_whatever_the_printer() -> None:
    order = Order(sheet_paper("A4"), Correction(1.01, 0.99, "hall printer"), kinds=(Kind.CALIBRATION,))
    plain = Order(sheet_paper("A4"), kinds=(Kind.CALIBRATION,))
    assert dict(paper_files(pack_of(front_in("mm"), order))) == dict(paper_files(pack_of(front_in("mm"), plain)))


def test_a_printer_that_errs_is_put_right_to_0_2_mm(monkeypatch: pytest.MonkeyPatch, tmp_path, capsys) -> None:
    """Printed at 0.995 across and 1.004 along, measured to a tenth of a millimetre: a line of 250 mm then is 250.0 +-0.2."""
    monkeypatch.setattr(printers, "settings_file", lambda: tmp_path / "printers.json")
    front = front_in("mm")
    across, along = 0.995, 1.004
    data = dict(paper_files(pack_of(front, Order(sheet_paper("A4"), kinds=(Kind.CALIBRATION,)))))["paper.pdf"]
    printed = [
        points * (across, along) for points, width in pdf_lines(data) if abs(width - 0.18) < 0.01 and len(points) == 2
    ]
    short = max(np.ptp(points[:, 0]) for points in printed if np.ptp(points[:, 1]) < 0.01)
    long = max(np.ptp(points[:, 1]) for points in printed if np.ptp(points[:, 0]) < 0.01)
    assert main(["printer", "hall", "--short", f"{short:.1f}", "--long", f"{long:.1f}"]) == 0
    found = printers.printer("hall").correction
    sheet = dict(paper_files(pack_of(front, Order(sheet_paper("A4"), found, kinds=(Kind.FIRST,)))))["paper.pdf"]
    rules = [
        points * (across, along) for points, width in pdf_lines(sheet) if abs(width - 0.3) < 0.01 and len(points) == 2
    ]
    level = [np.ptp(points[:, 0]) for points in rules if np.ptp(points[:, 1]) < 0.01]
    upright = [np.ptp(points[:, 1]) for points in rules if np.ptp(points[:, 0]) < 0.01]
    assert min(abs(2.5 * one - 250) for one in level) < 0.2
    assert min(abs(2.5 * one - 250) for one in upright) < 0.2


@pytest.mark.parametrize("unit", ["mm", "in"])
def test_the_command_on_the_sheet_is_understood(unit: str, monkeypatch: pytest.MonkeyPatch, tmp_path, capsys) -> None:
    monkeypatch.setattr(printers, "settings_file", lambda: tmp_path / "printers.json")
    front = front_in(unit)
    order = Order(sheet_paper("Letter", Margins(5, 13)), kinds=(Kind.CALIBRATION,))
    ((_, drawing),) = pack_of(front, order).drawings()
    lines = lines_on(front, order)
    # It may take two lines, both bold.
    texts = [label for label in drawing.labels if label.bold and label.size == 3.2 and not label.turn]
    first = next(index for index, label in enumerate(texts) if label.text.startswith("facade printer"))
    below = [label.text for label in texts[first:] if label.x == texts[first].x and texts[first].y - label.y < 10]
    command = " ".join(below)
    figures = iter((lines["A"], lines["C"]))
    words = [
        front.job.ruler.text(length(next(figures)), 3).split()[0] if word == "..." else word
        for word in shlex.split(command)[1:]
    ]
    assert main(words) == 0
    assert printers.printers()["NAME"].short == pytest.approx(1.0, abs=1e-4)
