"""The calibration sheet: lines as long as it says, on any paper, and a command that takes what was measured."""

from __future__ import annotations

import re
import shlex
from functools import cache
from pathlib import Path

import numpy as np
import pytest
from helpers import small_front
from labels import box, overlapping

from facade.cli import main
from facade.drawing import Drawing
from facade.errors import JobError
from facade.front import Front
from facade.lengths import MM_PER_INCH, Ruler, Unit
from facade.printing import printers
from facade.printing.correction import Correction, correction
from facade.printing.papers import SIZES, Margins, Paper, roll_paper, sheet_paper
from facade.templates.pack import plan
from facade.templates.piece import Kind, Piece

UNITS = {"mm": Unit.MM, "in": Unit.INCH}


@cache
def front_in(unit: str) -> Front:
    one = 1.0 if unit == "mm" else 1 / MM_PER_INCH
    return small_front(
        unit=unit,
        front={"width": 200 * one, "height": 120 * one},
        wood={"species": "white ash", "blank": 20 * one, "floor": 8 * one},
        layers=[{"kind": "hills", "size": 60 * one}],
    )


def papers(unit: str) -> list[Paper]:
    """Return every size with margins that printers have, and rolls."""
    cut = [sheet_paper(size, Margins(side, end)) for size in SIZES for side, end in ((5, 5), (8, 8), (5, 13), (13, 13))]
    return [*cut, *(roll_paper(width, Ruler(UNITS[unit])) for width in (210, 420, 610, 914))]


def calibration_piece(unit: str, paper: Paper) -> Piece:
    (sheet,) = plan(front_in(unit), paper, kinds=[Kind.CALIBRATION]).sheets
    (placed,) = sheet.placed
    return placed.piece


def lines_of(drawing: Drawing) -> dict[str, np.ndarray]:
    """Return the ends (2, 2) of the lines to measure, by their letters."""
    return {path.name[-1]: path.runs[0] for path in drawing.paths if path.name.startswith("line-")}


def length_of(line: np.ndarray) -> float:
    return float(np.linalg.norm(line[1] - line[0]))


def stated(drawing: Drawing, side: str, unit: Unit) -> set[float]:
    """Return the lengths, mm, that the words give for a side."""
    sizes = [re.search(rf"{side}: (\d+) {unit.value}$", label.text) for label in drawing.labels]
    return {int(size[1]) * unit.in_mm for size in sizes if size}


@pytest.mark.parametrize("unit", ["mm", "in"])
def test_lines_are_as_long_as_the_words_say_on_any_paper(unit: str) -> None:
    for paper in papers(unit):
        drawing = calibration_piece(unit, paper).draw()
        lines = lines_of(drawing)
        assert sorted(lines) == ["A", "B", "C", "D"]
        for letters, side in (("AB", "SHORT SIDE"), ("CD", "LONG SIDE")):
            (length,) = stated(drawing, side, UNITS[unit])
            assert [length_of(lines[letter]) for letter in letters] == pytest.approx([length] * 2, abs=1e-9)


@pytest.mark.parametrize("unit", ["mm", "in"])
def test_lines_read_true_ask_for_no_correction_and_lines_read_long_for_shorter_ones(unit: str) -> None:
    for paper in papers(unit):
        lines = lines_of(calibration_piece(unit, paper).draw())
        short, long = length_of(lines["A"]), length_of(lines["C"])
        ruler = Ruler(UNITS[unit], 64)
        exact = correction("it", ruler, short, long)
        assert (exact.short, exact.long) == pytest.approx((1.0, 1.0), abs=1e-12)
        off = correction("it", ruler, short * 1.004, long * 0.995)
        assert (off.short * 1.004, off.long * 0.995) == pytest.approx((1.0, 1.0), abs=1e-12)


@pytest.mark.parametrize("unit", ["mm", "in"])
def test_each_line_is_drawn_along_its_side_of_the_paper_and_again_far_away(unit: str) -> None:
    for paper in papers(unit):
        piece = calibration_piece(unit, paper)
        lines = lines_of(piece.draw())
        for one, other, along in (("A", "B", 0), ("C", "D", 1)):
            # The paper stands; a roll lies.
            axis = 1 - along if paper.roll else along
            size = (piece.width, piece.height)[1 - axis]
            for letter in (one, other):
                assert lines[letter][0, 1 - axis] == lines[letter][1, 1 - axis]
            assert abs(lines[one][0, 1 - axis] - lines[other][0, 1 - axis]) > 0.7 * size


@pytest.mark.parametrize("unit", ["mm", "in"])
def test_nothing_overlaps_or_leaves_the_piece(unit: str) -> None:
    for paper in papers(unit):
        piece = calibration_piece(unit, paper)
        drawing = piece.draw()
        assert overlapping(drawing.labels) == [], paper.name
        for label in drawing.labels:
            left, right, low, high = box(label)
            assert label.size >= 2.6
            assert min(left, low) >= 0, (paper.name, label.text)
            assert right <= piece.width, (paper.name, label.text)
            assert high <= piece.height, (paper.name, label.text)
        for path in drawing.paths:
            assert path.runs.min() >= 0, (paper.name, path.name)
            assert (path.runs.max(axis=(0, 1)) <= (piece.width, piece.height)).all(), (paper.name, path.name)


@pytest.mark.parametrize("unit", ["mm", "in"])
def test_no_words_stand_on_a_line_to_measure(unit: str) -> None:
    for paper in papers(unit):
        drawing = calibration_piece(unit, paper).draw()
        for line in lines_of(drawing).values():
            (x0, y0), (x1, y1) = line
            for label in drawing.labels:
                left, right, low, high = box(label)
                assert right <= x0 or left >= x1 or high <= y0 or low >= y1, label.text


@pytest.mark.parametrize("unit", ["mm", "in"])
def test_units_are_not_mixed(unit: str) -> None:
    for paper in papers(unit):
        words = " ".join(label.text for label in calibration_piece(unit, paper).draw().labels)
        assert not re.search(r"\d *in\b" if unit == "mm" else r"\bmm\b", words.replace("--unit in", ""))


@pytest.fixture
def kept(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    path = tmp_path / "printers.json"
    monkeypatch.setattr(printers, "settings_file", lambda: path)
    return path


@pytest.mark.parametrize("unit", ["mm", "in"])
@pytest.mark.parametrize(
    ("size", "side", "end"), [("A4", 8, 8), ("A3", 5, 13), ("Letter", 6.35, 12.7), ("Tabloid", 5, 9)]
)
def test_the_command_on_the_sheet_keeps_the_printer_with_its_paper_and_margins(
    unit: str, size: str, side: float, end: float, kept: Path
) -> None:
    drawing = calibration_piece(unit, sheet_paper(size, Margins(side, end))).draw()
    # Printed on as many lines as it needs, all of them bold.
    bold = [label for label in drawing.labels if label.bold and label.size < 4 and not label.turn]
    typed = " ".join(label.text for label in sorted(bold, key=lambda label: -label.y))
    lines = lines_of(drawing)
    for option, letter, share in (("--short", "A", 1.01), ("--long", "C", 0.99)):
        read = length_of(lines[letter]) * share / UNITS[unit].in_mm
        typed = typed.replace(f"{option} ...", f"{option} {read:.6f}")
    program, *words = shlex.split(typed.replace("NAME", "hall printer"))
    assert program == "facade"
    assert main(words) == 0
    found = printers.printer("hall printer")
    assert found.paper == size
    assert (found.margins.sides, found.margins.ends) == pytest.approx((side, end), abs=0.01)
    assert (found.short, found.long) == pytest.approx((1 / 1.01, 1 / 0.99), abs=1e-5)


def test_the_sheet_is_printed_without_correction() -> None:
    wrong = Correction(1.015, 0.99, "hall printer")
    pack = plan(front_in("mm"), sheet_paper("A4"), kinds=[Kind.CALIBRATION], correction=wrong)
    ((_, drawing),) = pack.drawings()
    lines = lines_of(drawing)
    (short,), (long,) = stated(drawing, "SHORT SIDE", Unit.MM), stated(drawing, "LONG SIDE", Unit.MM)
    assert length_of(lines["A"]) == pytest.approx(short, abs=1e-9)
    assert length_of(lines["D"]) == pytest.approx(long, abs=1e-9)


def test_limits_on_the_sheet_are_0_2_and_2_percent() -> None:
    """Common practice: up to 0.2 % is within what paper does with the weather, beyond 2 % the dialog fitted the page."""
    drawing = calibration_piece("mm", sheet_paper("A4")).draw()
    words = " ".join(label.text for label in drawing.labels)
    assert "within 0.2 %" in words
    assert "more than 2 %" in words
    lines = lines_of(drawing)
    for letter in "AC":
        length = length_of(lines[letter])
        assert f"{length * 0.002:.2f}".rstrip("0").rstrip(".") + f" mm on {length:g} mm" in words


@pytest.mark.parametrize("margins", [Margins(30, 60), Margins(45, 30)])
def test_paper_without_room_for_the_sheet_is_refused_with_the_cure(margins: Margins) -> None:
    with pytest.raises(JobError, match="take larger paper"):
        plan(front_in("mm"), sheet_paper("A4", margins), kinds=[Kind.CALIBRATION])
