"""Paper sizes, margins, and what a printer gets wrong."""

from __future__ import annotations

from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from facade.errors import FileError, JobError
from facade.lengths import Ruler, Unit
from facade.printing import printers
from facade.printing.correction import Correction, correction, fitting_lines
from facade.printing.papers import LONGEST_PAGE, SIZES, Margins, roll_paper, sheet_paper

# ISO 216:2007, "Writing paper and certain classes of printed matter - Trimmed sizes - A and B series", series A; mm.
ISO_216 = {"A0": (841, 1189), "A1": (594, 841), "A2": (420, 594), "A3": (297, 420), "A4": (210, 297)}
# US sizes in inches (ANSI/ASME Y14.1 for 11 x 17; letter and legal: common practice).
INCHES = {"Letter": (8.5, 11), "Legal": (8.5, 14), "Tabloid": (11, 17)}


@pytest.mark.parametrize("name", ISO_216)
def test_iso_sizes(name: str) -> None:
    assert SIZES[name] == ISO_216[name]


@pytest.mark.parametrize("name", INCHES)
def test_us_sizes_are_exact_from_the_inch(name: str) -> None:
    short, long = INCHES[name]
    assert SIZES[name] == pytest.approx((short * 25.4, long * 25.4), abs=1e-9)


def test_names_are_read_in_any_case() -> None:
    assert sheet_paper("letter").name == "Letter"
    assert sheet_paper("a3").short == 297


def test_a_page_that_lies_is_as_wide_as_its_paper_is_long() -> None:
    paper = sheet_paper("A4", Margins(5, 13))
    assert paper.page(lies=True) == (297, 210)
    assert paper.page_margins(lies=True) == (13, 5)
    assert paper.page_margins(lies=False) == (5, 13)


@pytest.mark.parametrize(
    ("name", "margins", "said"),
    [
        ("A7", Margins(), "'A7' is not known"),
        ("A4", Margins(90, 8), "90 mm on A4"),
        ("A4", Margins(-1, 8), "0 mm or more"),
        ("A4", Margins(8, 200), "A4"),
    ],
)
def test_paper_that_cannot_be_is_refused(name: str, margins: Margins, said: str) -> None:
    with pytest.raises(JobError, match=said):
        sheet_paper(name, margins)


@pytest.mark.parametrize("width", [20.0, 6000.0])
def test_rolls_that_cannot_be_are_refused(width: float) -> None:
    with pytest.raises(JobError, match="roll"):
        roll_paper(width, Ruler())


def test_a_roll_has_no_page_longer_than_readers_open() -> None:
    # ISO 32000-1, annex C: 14 400 units of 1/72 in.
    assert pytest.approx(14400 * 25.4 / 72) == LONGEST_PAGE
    assert roll_paper(610, Ruler()).long == LONGEST_PAGE


@given(
    across=st.floats(0.985, 1.015),
    along=st.floats(0.985, 1.015),
    unit=st.sampled_from(Unit),
    short_room=st.floats(110, 850),
    long_room=st.floats(240, 1200),
)
def test_what_is_printed_with_the_correction_measures_true(
    across: float, along: float, unit: Unit, short_room: float, long_room: float
) -> None:
    short, long = fitting_lines(short_room, long_room, unit)
    found = correction("hall printer", Ruler(unit), short * across, long * along)
    assert found.short * across * 250 == pytest.approx(250, abs=1e-6)
    assert found.long * along * 250 == pytest.approx(250, abs=1e-6)


def test_a_printer_at_0_995_and_1_004_is_put_right() -> None:
    """A steel rule reads to a tenth at best: the lines then measure 179.1 and 251.0."""
    found = correction("hall printer", Ruler(), 179.1, 251.0)
    assert 250 * found.short * 0.995 == pytest.approx(250, abs=0.2)
    assert 250 * found.long * 1.004 == pytest.approx(250, abs=0.2)


@pytest.mark.parametrize(("short", "long"), [(0.0, 250), (180, 2500), (1.8, 250), (180, 25)])
def test_figures_that_are_no_measurement_are_refused(short: float, long: float) -> None:
    with pytest.raises(JobError, match="which no printer does"):
        correction("hall printer", Ruler(), short, long)


def test_more_than_2_percent_asks_for_the_print_dialog() -> None:
    with pytest.raises(JobError, match="print dialog"):
        correction("hall printer", Ruler(), 175.0, 250.0)


def test_the_sheet_says_for_which_printer() -> None:
    assert (
        Correction(1.004, 0.998, "hall printer").words
        == "corrected for: hall printer, short side +0.4 %, long side −0.2 %"
    )
    assert Correction().words == "not corrected for a printer"


def test_factors_follow_the_paper_however_the_page_is_turned() -> None:
    found = Correction(1.004, 0.998, "hall printer")
    assert found.factors(lies=False) == (1.004, 0.998)
    assert found.factors(lies=True) == (0.998, 1.004)


@pytest.fixture
def settings(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.setattr(printers, "settings_file", lambda: tmp_path / "facade" / "printers.json")
    return tmp_path / "facade" / "printers.json"


def test_a_printer_is_kept_and_forgotten(settings: Path) -> None:
    one = printers.Printer("Flur – Drucker", "A3", Margins(5, 13), 1.004, 0.998)
    printers.keep_printer(one)
    printers.keep_printer(printers.Printer("office", "Letter", Margins()))
    assert printers.printer("Flur – Drucker") == one
    printers.forget_printer("Flur – Drucker")
    assert list(printers.printers()) == ["office"]


def test_an_unknown_printer_is_refused_with_those_that_are_there(settings: Path) -> None:
    printers.keep_printer(printers.Printer("office", "A4", Margins()))
    with pytest.raises(JobError, match="'office'"):
        printers.printer("hall")


@pytest.mark.parametrize(
    "text",
    ["{", "[1]", '[{"name": "x", "paper": "A4", "margins": {"sides": 8, "ends": 8}, "short": 3.0, "long": 1.0}]'],
)
def test_spoilt_settings_are_refused_and_left_alone(settings: Path, text: str) -> None:
    settings.parent.mkdir()
    settings.write_text(text, "utf-8")
    with pytest.raises(FileError, match="measure the printers again"):
        printers.keep_printer(printers.Printer("office", "A4", Margins()))
    assert settings.read_text("utf-8") == text
