"""The paper pack as it is printed: true to size, complete on every sheet, the same in every format."""

from __future__ import annotations

import io
import json
from dataclasses import replace
from functools import cache
from pathlib import Path

import numpy as np
import pypdfium2
import pytest
from helpers import a_job, as_built, small_front
from labels import box, overlapping
from readers import pdf_lines, pdf_sizes, pdf_words, svg_paths
from test_sides import ODD_TITLE

from facade.build import write, write_part
from facade.drawing import Drawing
from facade.errors import FileError, JobError
from facade.exporters.pdf import pdf_page, to_pdf
from facade.exporters.svg import to_svg
from facade.front import Front, build_front
from facade.job import make_job
from facade.making import Output
from facade.paper import Order, count_words, pack_of, paper_files, strip_prints
from facade.printing.correction import Correction
from facade.printing.papers import SIZES, Margins, roll_paper, sheet_paper
from facade.slicer import edge_heights
from facade.templates.frame import rule_length
from facade.templates.pack import TEMPLATES, Pack, Sheet
from facade.templates.piece import Kind, Lines

KINDS = list(TEMPLATES)
HALL = Correction(1.005, 0.996, "hall printer")


@cache
def front_in(unit: str, length: float = 0.0) -> Front:
    inch = unit == "in"
    width, length = (0.75, length or 17.3) if inch else (18, length or 430)
    settings = a_job(
        title="Hall cabinet",
        unit=unit,
        front={"width": 12 * width + 22 * 3 / (25.4 if inch else 1), "height": length, "doors": 2},
        wood={"species": "white ash", "blank": 0.875 if inch else 20, "floor": 0.375 if inch else 8},
        layers=[{"kind": "hills", "size": 5 if inch else 110, "seed": 3}],
    )
    settings["strips"] = {"width": width}
    return build_front(make_job(settings))


@cache
def pack_in(unit: str, kind: Kind, paper: str = "A4", correction: Correction | None = None) -> Pack:
    front = front_in(unit)
    chosen = roll_paper(610, front.job.ruler) if paper == "roll" else sheet_paper(paper, Margins(6, 13))
    return pack_of(front, Order(chosen, correction or Correction(), kinds=(kind,)))


@cache
def drawings(
    unit: str, kind: Kind, paper: str = "A4", correction: Correction | None = None
) -> list[tuple[Sheet, Drawing]]:
    return list(pack_in(unit, kind, paper, correction).drawings())


@cache
def pdf(unit: str, kind: Kind, paper: str = "A4", correction: Correction | None = None) -> bytes:
    return dict(paper_files(pack_in(unit, kind, paper, correction)))["paper.pdf"]


every_kind = pytest.mark.parametrize("kind", KINDS)
both_units = pytest.mark.parametrize("unit", ["mm", "in"])


@every_kind
@pytest.mark.parametrize("paper", sorted(SIZES))
def test_pages_have_the_size_of_their_paper(kind: Kind, paper: str) -> None:
    for size, sheet in zip(pdf_sizes(pdf("mm", kind, paper)), pack_in("mm", kind, paper).sheets, strict=True):
        assert size == pytest.approx(sheet_paper(paper).page(lies=sheet.lies), abs=0.01)


@every_kind
@both_units
def test_every_sheet_says_what_it_must(kind: Kind, unit: str) -> None:
    front = front_in(unit)
    sheets = drawings(unit, kind, "A4", HALL)
    for sheet, drawing in sheets:
        words = " | ".join(label.text for label in drawing.labels)
        said = "not corrected" if kind is Kind.CALIBRATION else "corrected for: hall printer"
        for needed in (
            f"Mark {front.mark}",
            f"Sheet {sheet.number} of {len(sheets)}",
            "Hall cabinet",
            "PRINT AT 100 %",
            "TOP",
            said,
        ):
            assert needed in words
        wood, show = front.job.wood, front.job.ruler.text
        assert show(wood.sanding) in words
        assert show(wood.sawing) in words
        assert ("4 in" if unit == "in" else "100 mm") in words
        assert {"rule-along", "rule-up", "top-arrow"} <= {path.name for path in drawing.paths}


@every_kind
@both_units
def test_no_sheet_mixes_units(kind: Kind, unit: str) -> None:
    words = " ".join(label.text for _, drawing in drawings(unit, kind) for label in drawing.labels).split()
    assert ("mm" in words) == (unit == "mm")
    if unit == "mm":
        assert "in." not in words
        assert "inches," not in words


@every_kind
@both_units
@pytest.mark.parametrize("paper", ["A4", "Letter", "A3", "roll"])
def test_no_two_labels_of_a_sheet_overlap(kind: Kind, unit: str, paper: str) -> None:
    for _, drawing in drawings(unit, kind, paper):
        assert overlapping(drawing.labels) == []


@every_kind
@both_units
@pytest.mark.parametrize(("paper", "correction"), [("A4", None), ("A4", HALL), ("Tabloid", HALL), ("roll", HALL)])
def test_nothing_lies_outside_what_can_be_printed(
    kind: Kind, unit: str, paper: str, correction: Correction | None
) -> None:
    pack = pack_in(unit, kind, paper, correction)
    for sheet, drawing in drawings(unit, kind, paper, correction):
        aside, ends = pack.paper.page_margins(lies=sheet.lies)
        for path in drawing.paths:
            low, high = path.runs.min(axis=(0, 1)), path.runs.max(axis=(0, 1))
            assert low[0] >= aside - 0.01
            assert low[1] >= ends - 0.01
            assert high[0] <= drawing.width - aside + 0.01
            assert high[1] <= drawing.height - ends + 0.01
        for label in drawing.labels:
            left, right, bottom, top = box(label)
            assert left >= aside - 0.3, label.text
            assert right <= drawing.width - aside + 0.3, label.text
            assert bottom >= ends - 0.6, label.text
            assert top <= drawing.height - ends + 0.3, label.text


def svg_of(drawing: Drawing) -> dict[str, np.ndarray]:
    return svg_paths(to_svg(drawing))


@every_kind
@both_units
def test_rules_measure_true_once_the_printer_has_erred(kind: Kind, unit: str) -> None:
    """The printer multiplies by what the correction divides by; then both rules are 100 mm, or 4 in."""
    rule = rule_length(front_in(unit).job.ruler)
    sheet, drawing = drawings(unit, kind, "A4", HALL)[0]
    factors = (Correction() if kind is Kind.CALIBRATION else HALL).factors(lies=sheet.lies)
    paths = svg_of(drawing)
    # The frame may stand along the left end of a page: its rules are then along the other sides.
    along, up = (1, 0) if sheet.page.turned else (0, 1)
    assert np.ptp(paths["rule-along"][:, along]) / factors[along] == pytest.approx(rule, abs=0.01)
    assert np.ptp(paths["rule-up"][:, up]) / factors[up] == pytest.approx(rule, abs=0.01)


@every_kind
def test_pdf_and_svg_hold_the_same_lines(kind: Kind) -> None:
    data = pdf("mm", kind, "A4", HALL)
    for page, (_, drawing) in enumerate(drawings("mm", kind, "A4", HALL)[:3]):
        found = np.concatenate([lines for lines, _ in pdf_lines(data, page)])
        found[:, 1] = drawing.height - found[:, 1]
        assert_same_places(found, places_in_svg(drawing))


def places_in_svg(drawing: Drawing) -> np.ndarray:
    """Return all corners of all paths of the SVG, read by svgelements, mm, y down."""
    from svgelements import SVG, Path

    elements = SVG.parse(io.StringIO(to_svg(drawing)), ppi=25.4).elements()
    return np.array(
        [
            [point.x, point.y]
            for one in elements
            if isinstance(one, Path)
            for point in one.as_points()
            if point is not None
        ]
    )


def assert_same_places(found: np.ndarray, drawn: np.ndarray) -> None:
    """Both ways: every place of one is a place of the other, within 0.01 mm."""
    from scipy.spatial import cKDTree

    assert cKDTree(drawn).query(found)[0].max() < 0.01
    assert cKDTree(found).query(drawn)[0].max() < 0.01


@every_kind
def test_words_in_the_pdf_are_those_of_the_drawing(kind: Kind) -> None:
    for page, (_, drawing) in enumerate(drawings("mm", kind)[:2]):
        read = pdf_words(pdf("mm", kind), page)
        missing = [label.text for label in drawing.labels if "".join(label.text.split()) not in read]
        assert missing == []


def test_words_stand_where_they_are_drawn() -> None:
    document = pypdfium2.PdfDocument(pdf("mm", Kind.SIDES))
    _, drawing = drawings("mm", Kind.SIDES)[0]
    text = document[0].get_textpage()
    label = next(label for label in drawing.labels if label.text == "1 LEFT")
    # Where words of a page run two ways pdfium parts letters into lines of their own.
    letters = [(index, text.get_text_range(index, 1)) for index in range(text.count_chars())]
    letters = [(index, letter) for index, letter in letters if not letter.isspace()]
    found = letters["".join(letter for _, letter in letters).index("1LEFT")][0]
    left, bottom, _, top = (value * 25.4 / 72 for value in text.get_charbox(found))
    assert left == pytest.approx(label.x, abs=1.5)
    assert bottom == pytest.approx(label.y, abs=0.5)
    assert top - bottom == pytest.approx(0.73 * label.size, abs=0.5)


@both_units
def test_carve_lines_in_the_pdf_follow_the_front(unit: str) -> None:
    """Read as vectors by pdfium, the correction undone, each end and corner of a carve line is a height of the front."""
    front, data = front_in(unit), pdf(unit, Kind.SIDES, "A4", HALL)
    checked = 0
    for page, (sheet, drawing) in enumerate(drawings(unit, Kind.SIDES, "A4", HALL)):
        across, up = HALL.factors(lies=sheet.lies)
        backs = [path.runs[0] / (across, up) for path in drawing.paths if path.name in ("left-back", "right-back")]
        lines = [
            points / (across, up)
            for points, width in pdf_lines(data, page)
            if abs(width - 0.45) < 0.005 and len(points) > 2
        ]
        assert len(backs) == len(lines) == len(sheet.placed)
        for one, back, line in zip(sheet.placed, backs, lines, strict=True):
            strip = front.strip(one.piece.strips[0])
            left_side = "LEFT" in one.piece.name
            window = window_of(front, strip.number, one.piece.name, sheet, pack_in(unit, Kind.SIDES, "A4", HALL))
            along = line[:, 0] - back[:, 0].min()
            from_top = window[0] + along if left_side else window[1] - along
            heights = edge_heights(front.surface, strip.place, from_top)[0 if left_side else 1]
            assert np.abs(line[:, 1] - back[0, 1] - strip.sanding - heights).max() < 0.02
            checked += len(line)
    assert checked > 100


def window_of(front: Front, number: int, name: str, sheet: Sheet, pack: Pack) -> tuple[float, float]:
    from facade.templates.sides import GUTTER_LEFT, GUTTER_RIGHT
    from facade.templates.windows import windows

    room = pack.sheets[0].page.room.width - GUTTER_LEFT - GUTTER_RIGHT
    part = int(name.rpartition(" ")[2])
    found = windows(front.layout.strip(number).length, front.job.station, room, front.job.ruler)[part - 1]
    return found.start, found.end


def test_the_same_pack_gives_the_same_bytes() -> None:
    front = front_in("mm")
    order = Order(sheet_paper("A4"), kinds=(Kind.SIDES,))
    assert dict(paper_files(pack_of(front, order))) == dict(paper_files(pack_of(front, order)))


def test_the_readers_list_names_the_kinds_of_sheets() -> None:
    order = Order(sheet_paper("A4"), kinds=(Kind.SIDES, Kind.LISTS))
    data = dict(paper_files(pack_of(front_in("mm"), order)))["paper.pdf"]
    entries = [entry.get_title() for entry in pypdfium2.PdfDocument(data).get_toc()]
    assert entries == [TEMPLATES[Kind.SIDES].title, TEMPLATES[Kind.LISTS].title]


def test_an_odd_title_cannot_break_the_pdf() -> None:
    front = small_front(title=ODD_TITLE)
    data = dict(paper_files(pack_of(front, Order(sheet_paper("A4"), kinds=(Kind.SIDES,)))))["paper.pdf"]
    assert len(pypdfium2.PdfDocument(data)) > 0


def test_a_page_longer_than_readers_open_is_refused_with_the_cure() -> None:
    with pytest.raises(JobError, match="tiles"):
        to_pdf("long", [pdf_page(Drawing(6000, 300, "long"))])


def test_lines_can_be_chosen() -> None:
    front = front_in("mm")
    for lines, names in (
        (Lines.CARVE, {"left-carve"}),
        (Lines.FINISHED, {"left-finished"}),
        (Lines.BOTH, {"left-carve", "left-finished"}),
    ):
        pack = pack_of(front, Order(sheet_paper("A4"), lines=lines, kinds=(Kind.SIDES,), strips=(1,)))
        drawing = next(iter(pack.drawings()))[1]
        assert {path.name for path in drawing.paths} & {"left-carve", "left-finished"} == names


def test_the_count_says_sheets_or_metres_of_a_roll() -> None:
    assert count_words(pack_in("mm", Kind.SIDES)) == f"{len(pack_in('mm', Kind.SIDES).sheets)} sheets of A4"
    rolled = pack_in("mm", Kind.SIDES, "roll")
    area = sum(sheet.page.width * sheet.page.height for sheet in rolled.sheets)
    assert count_words(rolled) == f"{area / 610 / 1000:.1f} m of a 610 mm roll"
    assert " ft of a 24" in count_words(
        pack_of(front_in("in"), Order(roll_paper(609.6, front_in("in").job.ruler), kinds=(Kind.SIDES,)))
    )


def test_a_roll_wastes_less_than_cut_paper() -> None:
    cut = sum(sheet.page.width * sheet.page.height for sheet in pack_in("mm", Kind.SIDES).sheets)
    rolled = sum(sheet.page.width * sheet.page.height for sheet in pack_in("mm", Kind.SIDES, "roll").sheets)
    assert rolled < cut


@pytest.mark.parametrize("paper", [roll_paper(130, front_in("mm").job.ruler), sheet_paper("A4", Margins(55, 55))])
def test_paper_too_small_for_a_sheet_is_refused(paper: object) -> None:
    with pytest.raises(JobError, match="take larger paper"):
        pack_of(front_in("mm"), Order(paper, kinds=(Kind.SIDES,)))


@pytest.mark.parametrize("paper", [sheet_paper("A4", Margins(50, 8)), sheet_paper("A4", Margins(40, 8))])
def test_a_strip_larger_than_its_paper_is_refused_with_the_cure(paper: object) -> None:
    thick = small_front(wood={"species": "white ash", "blank": 120, "floor": 8}, limits={"blank_thickest": 120})
    with pytest.raises(JobError, match="take larger paper"):
        pack_of(thick, Order(paper, kinds=(Kind.SIDES,)))


# What was printed before.


def land_at(x: float) -> dict[str, object]:
    return {"centre": [x, 60], "size": [16, 30], "height": 15, "blend": 4}


def local_change(folder: Path, x: float | None) -> Front:
    """Return a front that differs from the others near x alone."""
    settings = a_job(carving={"fit": "depth", "depth": 8}, lands=[land_at(x)] if x else [])
    path = folder / "doors.toml"
    text = "\n".join(_toml(settings))
    path.write_text(text, "utf-8")
    from facade import read_job

    return build_front(read_job(path))


def _toml(settings: dict) -> list[str]:
    plain = [f"{name} = {json.dumps(value)}" for name, value in settings.items() if not isinstance(value, dict | list)]
    tables = [
        f"[{name}]\n" + "\n".join(f"{key} = {json.dumps(one)}" for key, one in table.items())
        for name, table in settings.items()
        if isinstance(table, dict)
    ]
    arrays = [
        f"[[{name}]]\n" + "\n".join(f"{key} = {json.dumps(one)}" for key, one in table.items())
        for name, many in settings.items()
        if isinstance(many, list)
        for table in many
    ]
    return [*plain, *tables, *arrays]


@pytest.fixture
def order() -> Order:
    return Order(sheet_paper("A4"), kinds=(Kind.SIDES,))


def test_strips_that_a_change_does_not_reach_keep_their_fingerprint(tmp_path: Path) -> None:
    before, after = strip_prints(local_change(tmp_path, None)), strip_prints(local_change(tmp_path, 20.0))
    changed = {number for number in before if before[number] != after[number]}
    assert changed
    assert 8 not in changed


def words_of(folder: Path) -> dict[str, str]:
    return {path.name: path.read_text("utf-8") for path in (folder / "doors" / "paper").glob("*.svg")}


def test_a_changed_design_prints_its_changed_strips_alone_and_marks_them_new(tmp_path: Path, order: Order) -> None:
    write(local_change(tmp_path, None), tmp_path, outputs=[Output.PAPER], order=order)
    assert not any(">NEW<" in text for text in words_of(tmp_path).values())
    front = local_change(tmp_path, 20.0)
    build = write(front, tmp_path, outputs=[Output.PAPER], order=order, again=False)
    assert build.pack is not None
    printed = {number for sheet in build.pack.sheets for number in sheet.strips}
    assert printed == build.pack.new
    assert printed | set(build.held_back) == set(range(1, 9))
    assert all(">NEW<" in text for text in words_of(tmp_path).values())


def test_asked_for_all_the_unchanged_strips_come_without_the_word(tmp_path: Path, order: Order) -> None:
    write(local_change(tmp_path, None), tmp_path, outputs=[Output.PAPER], order=order)
    build = write(local_change(tmp_path, 20.0), tmp_path, outputs=[Output.PAPER], order=order, again=True)
    assert build.held_back == ()
    said = {">NEW<" in text for text in words_of(tmp_path).values()}
    assert True in said


def test_what_was_printed_is_remembered_over_builds_and_changes(tmp_path: Path, order: Order) -> None:
    first = local_change(tmp_path, None)
    write(first, tmp_path, outputs=[Output.PAPER], order=order)
    write(local_change(tmp_path, 180.0), tmp_path, outputs=[Output.OFFSETS])
    build = write(local_change(tmp_path, 20.0), tmp_path, outputs=[Output.PAPER], order=order, again=False)
    record = json.loads((tmp_path / "doors" / "manifest.json").read_text("utf-8"))["printed"]["strips"]
    assert {record[str(number)][1] for number in build.held_back} == {first.mark}


def test_nothing_of_an_earlier_pack_stays(tmp_path: Path, order: Order) -> None:
    front = local_change(tmp_path, None)
    write(front, tmp_path, outputs=[Output.PAPER, Output.OFFSETS], order=order)
    larger = write(front, tmp_path, outputs=[Output.PAPER], order=replace(order, paper=sheet_paper("A2")))
    assert larger.pack is not None
    assert len(words_of(tmp_path)) == len(larger.pack.sheets)
    assert (tmp_path / "doors" / "offsets.csv").is_file()


def test_a_single_strip_of_a_changed_design_is_marked_new(tmp_path: Path, order: Order) -> None:
    write(local_change(tmp_path, None), tmp_path, outputs=[Output.PAPER], order=order)
    front = local_change(tmp_path, 20.0)
    for number, new in ((1, True), (8, False)):
        alone = Order(sheet_paper("A4"), kinds=(Kind.SIDES,), strips=(number,))
        folder, _ = write_part(front, tmp_path, f"strip-{number}", alone)
        text = next((folder / "paper").glob("*.svg")).read_text("utf-8")
        assert (">NEW<" in text) == new


def test_a_part_leaves_the_rest_alone(tmp_path: Path, order: Order) -> None:
    front = local_change(tmp_path, None)
    write(front, tmp_path, outputs=[Output.PAPER], order=order)
    before = {path: path.read_bytes() for path in (tmp_path / "doors").rglob("*") if path.is_file()}
    folder, _ = write_part(front, tmp_path, "strip-3", Order(sheet_paper("A4"), kinds=(Kind.SIDES,), strips=(3,)))
    assert (folder / "paper.pdf").is_file()
    assert before == {path: path.read_bytes() for path in (tmp_path / "doors").rglob("*") if path.is_file()}


def test_a_part_says_what_the_checks_said_or_that_they_were_not_asked(tmp_path: Path, order: Order) -> None:
    front = local_change(tmp_path, None)
    alone = Order(sheet_paper("A4"), kinds=(Kind.SIDES,), strips=(3,))
    _, pack = write_part(front, tmp_path, "strip-3", alone)
    assert pack.cleared is None
    assert ">NOT CHECKED<" in next((tmp_path / "doors-strip-3" / "paper").glob("*.svg")).read_text("utf-8")
    build = write(front, tmp_path, outputs=[Output.PAPER], order=order)
    _, pack = write_part(front, tmp_path, "strip-3", alone)
    assert pack.cleared == (not any(finding.stops for finding in build.findings))


def test_a_foreign_file_in_the_way_is_left_alone(tmp_path: Path, order: Order) -> None:
    front = local_change(tmp_path, None)
    (tmp_path / "doors").mkdir()
    (tmp_path / "doors" / "paper.pdf").write_bytes(b"mine")
    with pytest.raises(FileError, match="was not made by facade"):
        write(front, tmp_path, outputs=[Output.PAPER], order=order)
    assert (tmp_path / "doors" / "paper.pdf").read_bytes() == b"mine"


def test_a_sheet_number_that_is_not_there_is_refused(tmp_path: Path, order: Order) -> None:
    with pytest.raises(JobError, match="sheet 99 is not there"):
        write_part(local_change(tmp_path, None), tmp_path, "sheet-99", order, sheets=(99,))
    assert not list(tmp_path.glob("doors*/"))


def test_a_strip_that_is_not_there_is_refused() -> None:
    with pytest.raises(JobError, match="strip 99 is not there"):
        pack_of(front_in("mm"), Order(sheet_paper("A4"), strips=(99,), kinds=(Kind.SIDES,)))
    with pytest.raises(JobError, match="strip 99 is not there"):
        as_built(front_in("mm"), missing=(99,))
