"""Proof of paper, tables and pictures: every word, figure and line that is changed is seen; tolerances hold from both sides."""

from __future__ import annotations

import json
import re
import xml.etree.ElementTree as ElementTree
from collections.abc import Callable, Iterator
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from PIL import Image

from facade.build import write
from facade.front import build_front
from facade.job import read_job
from facade.lengths import Ruler
from facade.paper import Order, usual_paper
from facade.printing.correction import Correction
from facade.printing.papers import Margins, roll_paper, sheet_paper
from facade.proof import pages, pdf, pictures, proof_lines, prove, tables
from facade.proof.compared import Compared
from facade.proof.faces import compare_faces
from facade.proof.framing import PERCENT, factors_of
from facade.proof.gauges import ALLOWED as GAUGE_ALLOWED
from facade.proof.gauges import compare_gauges
from facade.proof.lists import list_faults
from facade.proof.readers import reader_of
from facade.proof.report import compare_report
from facade.proof.ruled import tables_on
from facade.proof.sides import ALLOWED, compare_sides
from facade.proof.svg import Line, Sheet, read_svg
from facade.proof.truth import ROUNDING, Truth, read_truth
from facade.proof.wraps import compare_wraps
from facade.templates.piece import Kind, Lines

JOB = """title = "A small front"
unit = "{unit}"
[front]
width = {width}
height = {height}
doors = 2
space = {space}
[strips]
count = 6
[wood]
species = "white ash"
blank = {blank}
floor = {floor}
[carving]
fit = "depth"
depth = {depth}
[[layers]]
kind = "hills"
size = {size}
"""
MM = {"unit": "mm", "width": 183, "height": 170, "space": 3, "blank": 24, "floor": 10, "depth": 6, "size": 120}
INCH = {"unit": "in", "width": 8, "height": 7, "space": 0.125, "blank": 1, "floor": 0.5, "depth": 0.25, "size": 5}
SIDE = "sides/strip-03.svg"
_SVG = "{http://www.w3.org/2000/svg}"


def built(folder: Path, settings: dict[str, object]) -> Truth:
    """Return a small front with every kind of sheet, and what its files are held against."""
    job = folder / "small.toml"
    job.write_text(JOB.format(**settings), "utf-8")
    front = build_front(read_job(job))
    return read_truth(write(front, folder / "out", order=Order(usual_paper(front), kinds=tuple(Kind))).folder)


@pytest.fixture(scope="module")
def truth(tmp_path_factory: pytest.TempPathFactory) -> Truth:
    return built(tmp_path_factory.mktemp("mm"), MM)


def sheet_of(truth: Truth, kind: str, holding: str = "") -> str:
    """Return the name of the first sheet of a kind that holds some text."""
    names = [name for name in truth.sheets() if name.endswith(f"-{kind}.svg")]
    return next(name for name in names if holding in (truth.folder / name).read_text("utf-8"))


def read(truth: Truth, name: str, path: Path) -> list[Compared]:
    """Return what the reader of a name says of what stands at a path."""
    compare = reader_of(name)
    assert compare is not None
    return compare(path, name, truth)


def faults_of(found: list[Compared]) -> list[str]:
    return [fault for one in found for fault in one.faults]


def changed(truth: Truth, name: str, path: Path, change: Callable[[ElementTree.Element], None]) -> list[str]:
    """Return what is said of a sheet after something in it was changed."""
    tree = ElementTree.parse(truth.folder / name)
    change(tree.getroot())
    tree.write(path, encoding="utf-8")
    try:
        return faults_of(read(truth, name, path))
    except (ValueError, IndexError, KeyError) as error:
        # Whatever a reader of others raises is a fault of the file.
        return [str(error)]


def other_word(text: str) -> str:
    """Return a text with its last letter or digit another one."""
    for index in range(len(text) - 1, -1, -1):
        letter = text[index]
        if letter.isdigit():
            return f"{text[:index]}{(int(letter) + 1) % 10}{text[index + 1 :]}"
        if letter.isalpha():
            return f"{text[:index]}{'x' if letter != 'x' else 'y'}{text[index + 1 :]}"
    return f"{text}x"


def words_in(root: ElementTree.Element) -> list[ElementTree.Element]:
    return [element for element in root.iter(f"{_SVG}text") if (element.text or "").strip()]


def with_word(index: int) -> Callable[[ElementTree.Element], None]:
    def change(root: ElementTree.Element) -> None:
        word = words_in(root)[index]
        word.text = other_word(word.text or "")

    return change


def with_moved_word(index: int, far: float) -> Callable[[ElementTree.Element], None]:
    def change(root: ElementTree.Element) -> None:
        word = words_in(root)[index]
        word.set("y", f"{float(word.get('y', 0)) + far:.3f}")

    return change


def with_moved_line(index: int, across: float, down: float) -> Callable[[ElementTree.Element], None]:
    def change(root: ElementTree.Element) -> None:
        line = list(root.iter(f"{_SVG}path"))[index]
        numbers = re.split(r"([-0-9.]+)", line.get("d", ""))
        moved = [float(value) for value in numbers[1::2]]
        moved = [value + (across if at % 2 == 0 else down) for at, value in enumerate(moved)]
        numbers[1::2] = [f"{value:.3f}" for value in moved]
        line.set("d", "".join(numbers))

    return change


# Every word and every line


def test_every_word_of_a_sheet_cut_to_measure_counts(truth: Truth, tmp_path: Path) -> None:
    words = words_in(ElementTree.parse(truth.folder / SIDE).getroot())
    assert len(words) > 40
    unseen = [
        word.text for index, word in enumerate(words) if not changed(truth, SIDE, tmp_path / "a.svg", with_word(index))
    ]
    assert unseen == []


def test_every_line_of_a_sheet_cut_to_measure_counts(truth: Truth, tmp_path: Path) -> None:
    """What is drawn of the frame besides its rules and arrows, lines under words and ticks, no one works to."""
    lines = list(ElementTree.parse(truth.folder / SIDE).getroot().iter(f"{_SVG}path"))
    unseen = [
        line.get("id", "")
        for index, line in enumerate(lines)
        if not changed(truth, SIDE, tmp_path / "a.svg", with_moved_line(index, 0.9, 0.0))
        and not changed(truth, SIDE, tmp_path / "a.svg", with_moved_line(index, 0.0, 0.9))
    ]
    allowed = {"", "top-arrow", "rule-along", "rule-up", "key"}
    assert {re.sub(r"-\d+$", "", name) for name in unseen} <= allowed
    # Their own rules: the one unnamed line above the head, and the ticks of two rules.
    assert unseen.count("") <= 3


@pytest.mark.parametrize("kind", [kind.value for kind in Kind])
def test_every_word_and_line_of_a_sheet_is_held_against_its_page(truth: Truth, kind: str, tmp_path: Path) -> None:
    name = sheet_of(truth, kind)
    sheet = read_svg(truth.folder / name)
    page = pdf.document(truth.folder / "paper.pdf")[truth.sheet_number(name) - 1]
    letters = pdf.page_letters(page)
    assert pages.word_faults(letters, sheet.words, truth) == []
    assert pages.compare_page(page, sheet, truth).faults == ()
    for index, word in enumerate(sheet.words):
        if not word.text.strip():
            continue
        others = list(sheet.words)
        upright, aside = (0.1, 0.5) if abs(word.turn) < 1.0 else (0.5, 0.1)
        for other in (
            replace(word, text=other_word(word.text)),
            replace(word, y=word.y + upright),
            replace(word, x=word.x + aside),
        ):
            others[index] = other
            assert pages.word_faults(letters, others, truth), other
        assert pages.word_faults(letters, [*sheet.words[:index], *sheet.words[index + 1 :]], truth), word
    points = [path.points() for path in pdf.page_paths(page)]
    for index in range(len(points)):
        moved = [one + (0.003 if at == index else 0.0) for at, one in enumerate(points)]
        assert pages._drawn(moved, _drawn_lines(sheet), truth)[1]


def _drawn_lines(sheet: Sheet) -> list[Line]:
    return [line for line in sheet.lines if (line.points != line.points[:1]).any()]


@pytest.mark.parametrize(
    ("kind", "holding"),
    [
        ("lists", "Part list"),
        ("lists", "Joints to feel"),
        ("offsets", "Strip 2, door 1"),
        ("lists", "Edges of each strip"),
    ]
    + [("lists", "Where the legs cross"), ("boards", ": screws"), ("boards", ": spacers"), ("sticks", "Positions on")],
)
def test_every_figure_of_a_table_is_held_against_the_surface(truth: Truth, kind: str, holding: str) -> None:
    """Without the page: what is looked at is the table alone."""
    sheet = read_svg(truth.folder / sheet_of(truth, kind, f">{holding}" if holding.isupper() else holding))
    assert list(list_faults(sheet, truth)) == []
    cells = {cell for table in tables_on(sheet) for row in table.rows for cell in row.cells if cell}
    figures = [
        index for index, word in enumerate(sheet.words) if word.text in cells and word.size == pytest.approx(2.8)
    ]
    assert len(figures) > 8
    unseen = []
    for index in figures:
        others = list(sheet.words)
        others[index] = replace(others[index], text=other_word(others[index].text))
        if not list(list_faults(replace(sheet, words=tuple(others)), truth)):
            unseen.append(sheet.words[index].text)
    # Which strips can stand in for each other is for the bytes to show.
    assert [text for text in unseen if text not in ("none", "check")] == []


def test_every_figure_of_a_fold_round_template_is_held_against_the_surface(truth: Truth) -> None:
    sheet = read_svg(truth.folder / sheet_of(truth, "wraps"))
    assert [fault for one in compare_wraps(sheet, truth) for fault in one.faults] == []
    figures = [index for index, word in enumerate(sheet.words) if re.fullmatch(r"\d[\d ./]*", word.text)]
    unseen = []
    for index in figures:
        others = list(sheet.words)
        others[index] = replace(others[index], text=other_word(others[index].text))
        if not any(one.faults for one in compare_wraps(replace(sheet, words=tuple(others)), truth)):
            unseen.append(sheet.words[index].text)
    assert len(figures) > 20
    assert unseen == []


def test_lines_of_equal_depth_on_other_depths_are_named(truth: Truth) -> None:
    sheet = read_svg(truth.folder / sheet_of(truth, "faces", "column 1 of"))
    reads = list(compare_faces(sheet, truth))
    assert sum(one.points for one in reads) > 50
    assert [fault for one in reads for fault in one.faults] == []
    index = max(index for index, line in enumerate(sheet.lines) if line.kind == "depth" and len(line.points) > 10)
    lines = list(sheet.lines)
    middle = lines[index].points.mean(axis=0)
    lines[index] = replace(lines[index], points=middle + (lines[index].points - middle) * 0.7)
    assert any(
        "runs where the surface is" in fault
        for one in compare_faces(replace(sheet, lines=tuple(lines)), truth)
        for fault in one.faults
    )


def test_a_mirrored_gauge_is_named(truth: Truth) -> None:
    sheet = read_svg(truth.folder / sheet_of(truth, "gauges"))
    reads = list(compare_gauges(sheet, truth))
    assert reads
    assert [fault for one in reads for fault in one.faults] == []
    lines = [
        replace(line, points=_turned(line.points)) if line.kind.endswith("-gauge") else line for line in sheet.lines
    ]
    assert any(
        "off the surface" in fault
        for one in compare_gauges(replace(sheet, lines=tuple(lines)), truth)
        for fault in one.faults
    )


def _turned(outline: np.ndarray) -> np.ndarray:
    """Return the line to cut of a gauge left for right, its straight edge as it was."""
    found = outline.copy()
    line = found[:-3]
    found[:-3] = np.column_stack([line[0, 0] + line[-1, 0] - line[::-1, 0], line[::-1, 1]])
    return found


# Heads and feet


@pytest.mark.parametrize("kind", [kind.value for kind in Kind])
@pytest.mark.parametrize(
    ("said", "instead"),
    [
        ("Sheet ", "Sheet 9"),
        ("Mark ", "Mark A"),
        ("PRINT AT 100 %", "PRINT AT 90 %"),
        ("lengths in mm", "lengths in cm"),
        ("A small front</text>", "A large front</text>"),
        (">100 mm</text>", ">150 mm</text>"),
        ("Both rules must read true", "Both rules may read true"),
    ],
)
def test_what_a_head_or_foot_says_otherwise_is_named(
    truth: Truth, kind: str, said: str, instead: str, tmp_path: Path
) -> None:
    name = sheet_of(truth, kind)
    text = (truth.folder / name).read_text("utf-8")
    assert said in text
    (tmp_path / "a.svg").write_text(text.replace(said, instead, 1), "utf-8")
    found = read(truth, name, tmp_path / "a.svg")
    assert next(one for one in found if one.name == name).faults
    # One cause is told once: the page is not blamed for its sheet.
    assert not any(one.faults for one in found if one.name != name)


def test_a_sheet_that_says_not_cleared_of_a_cleared_front_is_named(truth: Truth, tmp_path: Path) -> None:
    stopped = replace(truth, manifest={**truth.manifest, "cleared": not truth.manifest["cleared"]})
    found = faults_of(read(stopped, SIDE, truth.folder / SIDE))
    assert any("NOT CLEARED" in fault for fault in found)


# Tolerances, from both sides


def moved(sheet: Sheet, kind: str, up: float) -> Sheet:
    """Return a sheet with one line moved up by so many mm."""
    lines = [replace(line, points=line.points + [0.0, up]) if line.name == kind else line for line in sheet.lines]
    return replace(sheet, lines=tuple(lines))


@pytest.mark.parametrize(("off", "seen"), [(0.9, False), (1.1, True)], ids=["just below", "just beyond"])
@pytest.mark.parametrize("way", [1.0, -1.0], ids=["above", "below"])
def test_how_far_a_line_may_be_off_the_surface(truth: Truth, off: float, seen: bool, way: float) -> None:
    sheet = read_svg(truth.folder / SIDE)
    line = sheet.named("left-finished")
    back = sheet.named("left-back")
    assert line is not None
    assert back is not None
    place = truth.front.layout.strip(3)
    from_top = np.linspace(0.0, place.length, 400)
    heights = truth.front.surface.at(np.array([[place.left]]), (place.top - from_top)[:, None])[:, 0]
    base, left = float(back.points[0, 1]), float(back.points[:, 0].min())
    true = replace(line, points=np.column_stack([left + from_top, base + heights + way * off * ALLOWED]))
    lines = [true if one.name == "left-finished" else one for one in sheet.lines]
    (read_left, *_) = compare_sides(replace(sheet, lines=tuple(lines)), truth)
    assert any("off the surface" in fault for fault in read_left.faults) is seen


@pytest.mark.parametrize(("off", "seen"), [(0.7, False), (1.3, True)], ids=["just below", "just beyond"])
@pytest.mark.parametrize("name", ["left-blank", "left-floor", "right-end", "left-stations"])
def test_how_far_other_lines_may_be_off(truth: Truth, name: str, off: float, seen: bool) -> None:
    """Files hold three decimals, so that a line may be half of one off to begin with."""
    sheet = moved(read_svg(truth.folder / SIDE), name, off * ROUNDING)
    assert any(one.faults for one in compare_sides(sheet, truth)) is seen


@pytest.mark.parametrize(("off", "seen"), [(0.9, False), (1.1, True)], ids=["just below", "just beyond"])
def test_how_far_a_gauge_may_be_off(truth: Truth, off: float, seen: bool) -> None:
    sheet = read_svg(truth.folder / sheet_of(truth, "gauges"))
    index = next(index for index, line in enumerate(sheet.lines) if line.kind == "across-gauge")
    points = sheet.lines[index].points
    edge = float(points[:, 1].max())
    door = truth.front.layout.doors[0]
    said = re.search(r"ACROSS door 1 at\s+(\d+)", sheet.text)
    assert said is not None
    station = float(said[1])
    x = np.linspace(0.0, door.width, 1200)
    heights = truth.front.surface.at((door.left + x)[None, :], np.array([[door.top - station]]))[0]
    y = heights + edge - truth.front.surface.highest - 42.0 + off * GAUGE_ALLOWED
    outline = np.concatenate([np.column_stack([points[0, 0] + x, y]), points[-3:-1], [[points[0, 0], y[0]]]])
    lines = list(sheet.lines)
    lines[index] = replace(lines[index], points=outline)
    first = next(iter(compare_gauges(replace(sheet, lines=tuple(lines)), truth)))
    assert any("off the surface" in fault for fault in first.faults) is seen


@pytest.mark.parametrize(("off", "seen"), [(0.9, False), (1.1, True)], ids=["just below", "just beyond"])
def test_how_far_a_rule_may_be_off(truth: Truth, off: float, seen: bool) -> None:
    sheet = read_svg(truth.folder / SIDE)
    for axis, name in enumerate(("rule-along", "rule-up")):
        long = np.zeros(2)
        long[axis] = off * ROUNDING
        lines = [
            replace(line, points=np.array([line.points[0], line.points[0] + np.eye(2)[axis] * 100.0 + long]))
            if line.name == name
            else line
            for line in sheet.lines
        ]
        assert bool(factors_of(replace(sheet, lines=tuple(lines)), truth)[1]) is seen


@pytest.mark.parametrize(("off", "seen"), [(0.9, False), (1.1, True)], ids=["just below", "just beyond"])
def test_how_far_a_correction_may_be_off_what_is_stated(truth: Truth, off: float, seen: bool) -> None:
    sheet = read_svg(truth.folder / SIDE)
    words = [
        replace(
            word,
            text=word.text.replace(
                "not corrected for a printer", "corrected for: hall, short side +0.4 %, long side −0.7 %"
            ),
        )
        for word in sheet.words
    ]
    lines = []
    for line in sheet.lines:
        factor = {"rule-along": 1.004 + off * (PERCENT + ROUNDING / 100.0), "rule-up": 0.993}.get(line.name)
        lines.append(
            line if factor is None else replace(line, points=line.points[0] + (line.points - line.points[0]) * factor)
        )
    found = factors_of(replace(sheet, words=tuple(words), lines=tuple(lines)), truth)[1]
    # Rules as they were read are rounded themselves.
    assert bool(found) is seen


@pytest.mark.parametrize(("off", "seen"), [(0.7, False), (1.3, True)], ids=["just below", "just beyond"])
def test_how_far_a_word_may_be_aside_on_its_page(truth: Truth, off: float, seen: bool) -> None:
    name = sheet_of(truth, "sides")
    sheet = read_svg(truth.folder / name)
    letters = pdf.page_letters(pdf.document(truth.folder / "paper.pdf")[truth.sheet_number(name) - 1])
    index = next(index for index, word in enumerate(sheet.words) if word.anchor == "start" and word.text == "1 LEFT")
    words = list(sheet.words)
    words[index] = replace(words[index], x=words[index].x + off * pages.PLACED)
    assert bool(pages.word_faults(letters, words, truth)) is seen
    words[index] = replace(sheet.words[index], y=sheet.words[index].y + off * pages._LEVEL)
    assert bool(pages.word_faults(letters, words, truth)) is seen


@pytest.mark.parametrize(("off", "seen"), [(0.9, False), (1.1, True)], ids=["just below", "just beyond"])
def test_how_far_paths_and_sizes_of_a_page_may_be_off(truth: Truth, off: float, seen: bool) -> None:
    lines = [Line("one", np.array([[10.0, 20.0], [80.0, 40.0], [120.0, 35.0]]))]
    points = [line.points + [0.0, off * ROUNDING] for line in lines]
    assert bool(pages._drawn(points, lines, truth)[1]) is seen
    page = pdf.document(truth.folder / "paper.pdf")[0]
    width, height = pdf.page_size(page)
    sheet = Sheet(width + off * pages.PAGE_SIZE, height, (), ())
    assert bool(pages._size_faults(page, sheet, truth)) is seen


@pytest.mark.parametrize("decimals", [0, 1, 2])
@pytest.mark.parametrize("settings", [MM, INCH], ids=["mm", "inches"])
def test_how_far_a_printed_length_may_be_off(settings: dict[str, object], decimals: int, tmp_path: Path) -> None:
    """Half of the last decimal, or of the ruler's fraction of an inch: what rounds to the figure, and nothing else."""
    job = tmp_path / "small.toml"
    job.write_text(JOB.format(**settings), "utf-8")
    truth = Truth(build_front(read_job(job)), tmp_path, {}, {})
    ruler, near = truth.front.job.ruler, truth.printed_rounding(decimals)
    said = truth.read_number(ruler.number(truth.front.job.wood.blank / 3, decimals))
    for way in (1.0, -1.0):
        assert truth.read_number(ruler.number(said + way * (near - 2e-5), decimals)) == pytest.approx(said)
        assert truth.read_number(ruler.number(said + way * (near + 2e-5), decimals)) != pytest.approx(said)


@pytest.mark.parametrize(("off", "seen"), [(0.99, False), (1.01, True)], ids=["just below", "just beyond"])
def test_how_far_a_figure_of_a_table_may_be_off(truth: Truth, off: float, seen: bool) -> None:
    near = truth.printed_rounding(2)
    row = {"height_mm": "12.34", "volume_cm3": "5.0", "saw_takes_percent": "40"}
    assert bool(tables._row_off(row, (("height_mm", 12.34 + off * near, near),), truth)[1]) is seen
    for column, value, rounding in (("volume_cm3", 5.0, tables._TENTH), ("saw_takes_percent", 40.0, tables._WHOLE)):
        assert bool(tables._row_off(row, ((column, value - off * rounding, rounding),), truth, plain=True)[1]) is seen


@pytest.mark.parametrize(
    ("shades", "seen"), [(pictures.SHADES, False), (pictures.SHADES + 1, True)], ids=["just below", "just beyond"]
)
@pytest.mark.parametrize("name", ["front.png", "check.png"])
def test_how_far_a_pixel_may_be_off(truth: Truth, name: str, shades: int, seen: bool, tmp_path: Path) -> None:
    with Image.open(truth.folder / name) as picture:
        pixels = np.asarray(picture.convert("RGB")).astype(int)
    row, column = 40, 60
    pixels[row, column, 1] += shades if pixels[row, column, 1] < 128 else -shades
    Image.fromarray(pixels.astype(np.uint8)).save(tmp_path / "a.png")
    assert bool(faults_of(read(truth, name, tmp_path / "a.png"))) is seen


@pytest.mark.parametrize(("parts", "seen"), [(0, False), (2, True)], ids=["as it was", "two parts higher"])
def test_how_far_a_height_of_the_report_may_be_off(truth: Truth, parts: int, seen: bool, tmp_path: Path) -> None:
    import base64

    text = (truth.folder / "front.html").read_text("utf-8")
    inside = re.search(r'(?<=id="scene">")[^"]+', text)
    assert inside is not None
    data = bytearray(base64.b64decode(inside[0]))
    at = len(data) - 2001 + len(data) % 2 - 1
    value = int.from_bytes(data[at : at + 2], "little") + parts
    data[at : at + 2] = value.to_bytes(2, "little")
    (tmp_path / "front.html").write_text(text.replace(inside[0], base64.b64encode(bytes(data)).decode()), "utf-8")
    assert bool(faults_of(compare_report(tmp_path / "front.html", "front.html", truth))) is seen


# Pictures


def spoilt_pictures() -> Iterator[tuple[str, Callable[[np.ndarray], np.ndarray], str]]:
    yield "mirrored", lambda pixels: pixels[:, ::-1], "mirrored left to right"
    yield "upside down", lambda pixels: pixels[::-1], "mirrored top to bottom"
    yield "shifted", lambda pixels: np.roll(pixels, 3, axis=1), "shifted by 3 pixels to the right"
    yield "darkened", lambda pixels: (pixels * 0.9).astype(np.uint8), "darker than the front painted anew"
    yield "recoloured", lambda pixels: pixels[:, :, ::-1], "differs from what is painted anew"
    yield "cut", lambda pixels: pixels[:-2], "pixels, not"
    yield "one shade", lambda pixels: np.full_like(pixels, 90), "single shade"


@pytest.mark.parametrize(
    ("change", "said"), [one[1:] for one in spoilt_pictures()], ids=[one[0] for one in spoilt_pictures()]
)
def test_a_spoilt_picture_of_the_front_is_named(
    truth: Truth, change: Callable[[np.ndarray], np.ndarray], said: str, tmp_path: Path
) -> None:
    with Image.open(truth.folder / "front.png") as picture:
        pixels = np.asarray(picture.convert("RGB"))
    Image.fromarray(np.ascontiguousarray(change(pixels))).save(tmp_path / "a.png")
    found = faults_of(read(truth, "front.png", tmp_path / "a.png"))
    assert found
    assert said in found[0] or said == "differs from what is painted anew"


def test_a_picture_of_another_front_is_named(truth: Truth, tmp_path: Path) -> None:
    other = built(tmp_path, MM | {"size": 90})
    for name in ("front.png", "check.png"):
        assert faults_of(read(truth, name, other.folder / name))


# Tables as files


@pytest.mark.parametrize("name", ["offsets.csv", "parts.csv"])
def test_every_column_of_a_table_counts(truth: Truth, name: str, tmp_path: Path) -> None:
    lines = (truth.folder / name).read_text("utf-8").splitlines()
    heads, cells = lines[0].split(","), lines[4].split(",")
    for column, head in enumerate(heads):
        words = {"yes": "no", "no": "yes", "left": "right", "right": "left", "end": "3"}
        instead = words.get(cells[column], other_word(cells[column]))
        row = [*cells[:column], instead, *cells[column + 1 :]]
        (tmp_path / name).write_text("\n".join([*lines[:4], ",".join(row), *lines[5:]]) + "\n", "utf-8")
        assert faults_of(read(truth, name, tmp_path / name)), head
        other = [*heads[:column], f"{head}s", *heads[column + 1 :]]
        (tmp_path / name).write_text("\n".join([",".join(other), *lines[1:]]) + "\n", "utf-8")
        with pytest.raises(ValueError, match="columns are not those"):
            read(truth, name, tmp_path / name)


# The report


@pytest.mark.parametrize(
    ("said", "instead"),
    [("</style>", "body{background:red}</style>"), ("Drag to turn", "Drag to burn"), ("</title>", " II</title>")],
)
def test_a_changed_page_of_the_report_is_named(truth: Truth, said: str, instead: str, tmp_path: Path) -> None:
    text = (truth.folder / "front.html").read_text("utf-8")
    assert said in text
    (tmp_path / "front.html").write_text(text.replace(said, instead, 1), "utf-8")
    assert faults_of(compare_report(tmp_path / "front.html", "front.html", truth))


# No false alarm


def test_every_kind_of_sheet_in_inches_passes(tmp_path: Path) -> None:
    truth = built(tmp_path, INCH)
    for name in truth.files:
        if name.endswith((".svg", ".csv", ".png", ".html")):
            assert faults_of(read(truth, name, truth.folder / name)) == [], name


def test_a_build_keeps_what_was_asked_for_and_how(truth: Truth) -> None:
    assert "paper" in truth.manifest["outputs"]
    order = Order.of_data(truth.manifest["paper"]["order"])
    assert order == Order(usual_paper(truth.front), kinds=tuple(Kind))
    assert json.loads(json.dumps(order.as_data())) == json.loads(json.dumps(truth.manifest["paper"]["order"]))


def stopped_and_steep() -> dict[str, object]:
    return MM | {"blank": 60, "floor": 3, "depth": 50, "size": 40}


@pytest.mark.parametrize(
    ("settings", "title", "order"),
    [
        (MM, "A small front", Order(sheet_paper("A3"), lines=Lines.CARVE)),
        (MM, "A small front", Order(roll_paper(610.0, Ruler()), Correction(1.003, 0.996, "hall “printer”"))),
        (INCH, "A small front", Order(sheet_paper("Letter", Margins(6.0, 12.0)), lines=Lines.FINISHED)),
        (MM, "Türen 東京 <b> & so", Order(sheet_paper("Legal"), strips=(2, 3, 5))),
        (stopped_and_steep(), "A small front", Order(sheet_paper("A4"))),
    ],
    ids=[
        "A3, carve lines",
        "roll, corrected",
        "inches, Letter",
        "other letters, some strips",
        "stopped, steep",
    ],
)
def test_packs_of_many_kinds_pass(settings: dict[str, object], title: str, order: Order, tmp_path: Path) -> None:
    job = tmp_path / "small.toml"
    job.write_text(JOB.format(**settings).replace("A small front", title), "utf-8")
    proof = prove(write(build_front(read_job(job)), tmp_path / "out", order=order).folder)
    assert not proof.failed, proof_lines(proof)
