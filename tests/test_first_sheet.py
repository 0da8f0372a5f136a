"""Read me first: the front is recognised, what is said is complete and in the job's unit, and all of it can be read."""

from __future__ import annotations

import json
import re
from collections.abc import Iterable
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from helpers import a_job, small_front
from hypothesis import given, settings
from hypothesis import strategies as st
from test_lists import A3, A4, LEAST, LETTER, asked, assert_well_set, fronts, lively, overlapping

from facade.build import write, write_part
from facade.checks import Finding, Weight
from facade.drawing import Drawing, Pen, printable
from facade.front import Front, build_front
from facade.job import make_job
from facade.making import Output
from facade.paper import Order, pack_of, usual_paper
from facade.printing.papers import sheet_paper
from facade.templates import first
from facade.templates.pack import TEMPLATES, plan
from facade.templates.piece import Kind, Piece, Room
from facade.templates.ways import sheets_of


def said(pieces: Iterable[Piece]) -> str:
    """Return all words in the order in which they were written."""
    return " ".join(label.text for piece in pieces for label in piece.draw().labels)


def paths(drawing: Drawing, name: str) -> list[np.ndarray]:
    return [path.runs for path in drawing.paths if path.name == name]


@settings(max_examples=12)
@given(fronts(), st.sampled_from([A4, LETTER, A3, LEAST, Room(5055.0, 563.0)]))
def test_first_sheet_of_any_front_is_well_set_on_any_paper(front: Front, room: Room) -> None:
    pieces = first.pieces(asked(front, room))
    assert_well_set(pieces, room, front.job.unit)
    assert all(piece.strips == () for piece in pieces)


@pytest.mark.parametrize("paper", ["A4", "Letter", "A3"])
@pytest.mark.parametrize("unit", ["mm", "in"])
def test_first_sheet_takes_three_pages_at_most(paper: str, unit: str) -> None:
    pack = plan(lively(unit), sheet_paper(paper), kinds=[Kind.FIRST])
    assert 1 <= len(pack.sheets) <= 3
    assert not any(sheet.lies for sheet in pack.sheets)
    for _, drawing in pack.drawings():
        assert overlapping(drawing.labels) == []


def test_every_kind_of_sheet_is_named_with_its_purpose() -> None:
    pages = tuple((kind, 10 * place + 1, 10 * place + 9) for place, kind in enumerate(TEMPLATES))
    words = said(first.pieces(replace(asked(lively()), kinds=frozenset(TEMPLATES), index=pages)))
    for kind, start, end in pages:
        assert f"{start} to {end} {TEMPLATES[kind].title}: " in words
        assert TEMPLATES[kind].purpose[1:].rstrip(".") in words


@pytest.mark.parametrize("paper", ["A4", "Letter", "A3"])
def test_the_index_says_where_each_kind_of_sheet_is(paper: str) -> None:
    front = lively()
    pack = pack_of(front, Order(sheet_paper(paper), kinds=sheets_of(front.job)))
    words = said([one.piece for one in pack.sheets[0].placed])
    for kind in sheets_of(front.job):
        numbers = [sheet.number for sheet in pack.sheets if sheet.kind is kind]
        where = f"{numbers[0]}" if len(numbers) == 1 else f"{numbers[0]} to {numbers[-1]}"
        assert f" {where} {TEMPLATES[kind].title}:" in words


@pytest.mark.parametrize("room", [A4, A3, LEAST])
def test_title_is_said_whole(room: Room) -> None:
    front = small_front(title="Tall cupboard beside the stairs with doors of quarter-sawn ash " * 3)
    assert printable(front.job.title).replace(" ", "") in said(first.pieces(asked(front, room))).replace(" ", "")


def test_facts_of_the_job_are_said_in_its_unit() -> None:
    words = said(first.pieces(asked(lively())))
    layout, show = lively().layout, lively().job.ruler.text
    for fact in (
        f"{show(layout.width)} wide, {show(layout.height)} high",
        f"2, {show(layout.doors[0].width)} wide",
        f"24, {show(layout.strips[0].width)} wide",
        f"{show(layout.strip(2).left - layout.strip(1).right)} between strips",
        f"{show(layout.strip(13).left - layout.strip(12).right)} where two doors meet",
        "20 mm thick",
        "white ash",
        "floor, 8 mm above the BACK",
        "every 25 mm from the TOP end",
        lively().mark,
    ):
        assert fact in words


@pytest.mark.parametrize(
    ("by", "word"), [("screws", "screws from behind"), ("glue", "glue over"), ("middle bead", "bead")]
)
def test_how_strips_are_held_is_said(by: str, word: str) -> None:
    assert word in said(first.pieces(asked(small_front(fixing={"by": by}))))


def test_gates_have_a_box_and_a_line_for_the_date() -> None:
    drawings = [piece.draw() for piece in first.pieces(asked(lively()))]
    ticks = [(drawing, run[0]) for drawing in drawings for run in paths(drawing, "tick")]
    lines = [(drawing, run[0]) for drawing in drawings for run in paths(drawing, "to-write-on")]
    for gate in "ABCD":
        (found,) = [
            (drawing, label)
            for drawing in drawings
            for label in drawing.labels
            if label.text.startswith(f"GATE {gate}: ")
        ]
        drawing, label = found
        beside = [box for other, box in ticks if other is drawing and box[:, 1].min() <= label.y <= box[:, 1].max()]
        assert any(0.0 < label.x - box[:, 0].max() < 4.0 for box in beside)
        below = [line for other, line in lines if other is drawing and 0.0 < label.y - line[0, 1] < 45.0]
        assert any(abs(line[1, 0] - label.x) > 20.0 for line in below)


def test_every_line_that_a_template_draws_is_shown_with_its_allowance() -> None:
    front = small_front(wood={"species": "white ash", "blank": 20, "floor": 7, "sanding": 0.6, "sawing": 1.7})
    pieces = first.pieces(asked(front))
    pens = {path.pen for piece in pieces for path in piece.draw().paths if path.name.startswith("sample-")}
    assert pens == {Pen.CARVE, Pen.FINISHED, Pen.SAW, Pen.FLOOR, Pen.BACK, Pen.FOLD, Pen.HATCH}
    names = {path.name for piece in pieces for path in piece.draw().paths}
    assert {"sample-left", "sample-right"} <= names
    words = said(pieces)
    for allowance in ("last 0.6 mm", "saw line: 1.7 mm", "below it, 7 mm"):
        assert allowance in words


def test_small_allowance_in_inches_is_not_rounded_away() -> None:
    front = small_front(
        unit="in",
        front={"width": 8, "height": 5},
        wood={"species": "white ash", "blank": 0.75, "floor": 0.3125, "sanding": "0.01 in", "sawing": "1/16 in"},
        layers=[{"kind": "hills", "size": 2}],
    )
    words = said(first.pieces(asked(front)))
    assert "last 0 in" not in words
    assert "last 0.01" in words
    assert "saw line: 1/16 in" in words


@pytest.mark.parametrize(("unit", "rule"), [("mm", "100 mm within 0.3 mm"), ("in", "4 in within 0.012 in")])
def test_both_rules_are_to_be_measured(unit: str, rule: str) -> None:
    words = said(first.pieces(asked(lively(unit))))
    assert rule in words
    assert "100 %" in words


def test_cautions_defer_to_local_rules_manuals_and_practice() -> None:
    words = said(first.pieces(asked(lively())))
    assert "Local rules, the makers' manuals and trained practice come first" in words
    for danger in ("Disc:", "Bandsaw:", "Dust:", "Noise:", "Vibration:", "Rags:"):
        assert danger in words


# The picture --------------------------------------------------------------------------------------------------------------


def picture(front: Front, room: Room = A4) -> Drawing:
    return next(
        drawing for piece in first.pieces(asked(front, room)) if paths(drawing := piece.draw(), "picture-sections")
    )


@settings(max_examples=15)
@given(fronts(), st.sampled_from([2.0, 5.0, 10.0]))
def test_sections_stand_on_strips_alone_and_inside_their_doors(front: Front, scale: float) -> None:
    runs = first.sections(front, scale)
    rows = runs.reshape(-1, front.count, *runs.shape[1:])
    assert first._LEAST_LINES <= len(rows) <= first._MOST_LINES
    for place in front.layout.strips:
        x = rows[:, place.number - 1, :, 0] * scale
        assert x.min() == pytest.approx(place.left)
        assert x.max() == pytest.approx(place.right)
    y = rows[..., 1] * scale
    assert y.min() >= front.layout.strips[0].bottom
    assert y.max() <= front.layout.strips[0].top
    # What stands before hides what stands behind: no line crosses one below it.
    assert (np.diff(y, axis=0) >= -1e-9).all()


def test_lowest_section_is_the_surface_enlarged() -> None:
    front, scale = lively(), 5.0
    runs = first.sections(front, scale)
    lowest = runs[: front.count]
    rows = runs.reshape(-1, *lowest.shape)
    level = front.layout.strips[0].bottom + 0.2 * scale
    true = front.surface.at(lowest[..., 0].reshape(1, -1) * scale, np.array([[level]])).reshape(lowest.shape[:2])
    drawn = lowest[..., 1]
    up, across = np.ptp(drawn) / np.ptp(true), drawn - drawn.min()
    assert across == pytest.approx((true - true.min()) * up)
    assert len(rows) > 1


def test_picture_is_to_its_stated_scale_with_all_doors_and_strips() -> None:
    front = lively()
    drawing = picture(front)
    scale = next(float(label.text.split("1 : ")[1].split(".")[0]) for label in drawing.labels if "1 : " in label.text)
    (doors,), (strips,) = paths(drawing, "picture-doors"), paths(drawing, "picture-strips")
    assert len(doors) == len(front.layout.doors)
    assert len(strips) == front.count
    assert np.ptp(strips[..., 0], axis=1) * scale == pytest.approx([place.width for place in front.layout.strips])
    assert np.ptp(doors[..., 1], axis=1) * scale == pytest.approx([door.height for door in front.layout.doors])


def test_every_fifth_strip_is_numbered_in_bold_above_it() -> None:
    front = lively()
    drawing = picture(front)
    (strips,) = paths(drawing, "picture-strips")
    top = strips[..., 1].max()
    numbers = [label for label in drawing.labels if label.text.isdigit() and top < label.y < top + 3.0]
    assert {label.text for label in numbers} >= {"5", "10", "15", "20"}
    for label in numbers:
        strip = strips[int(label.text) - 1]
        assert strip[:, 0].min() < label.x < strip[:, 0].max()
        assert label.bold == (int(label.text) % 5 == 0)


def test_level_front_has_level_sections() -> None:
    front = small_front(carving={"fit": "depth", "depth": 0.001})
    rows = first.sections(front, 2.0)
    assert np.ptp(rows[..., 1], axis=1).max() == 0.0


@pytest.mark.parametrize("room", [A4, LETTER, LEAST])
@pytest.mark.parametrize("count", [1, 4, 60])
def test_what_stops_a_job_is_said_on_its_first_sheet(room: Room, count: int) -> None:
    front = lively("mm")
    findings = [
        Finding(
            "thickness",
            Weight.STOPS,
            f"Strip {index + 1} is {2 + index} mm thin, {100 + index} mm from the top, less than 8 mm.",
            topic=f"kind {index}",
            strip=index + 1,
            from_top=100.0 + index,
        )
        for index in range(count)
    ]
    piece, *_ = first.pieces(asked(front, room))
    assert piece.stopped is not None
    drawing, plain = piece.stopped(findings), piece.draw()
    assert (drawing.width, drawing.height) == (plain.width, plain.height)
    assert overlapping(drawing.labels) == []
    words = " ".join(label.text for label in drawing.labels)
    assert "NOT CLEARED: stopped by the checks." in words
    told = set(map(int, re.findall(r"\b(1\d\d) mm from", words)))
    assert told == set(range(100, 100 + len(told)))
    # What has no room is counted; nothing is left out in silence.
    more = re.search(r"and (\d+) more", words)
    assert len(told) + (int(more[1]) if more else 0) == count
    assert "NOT CLEARED" not in " ".join(label.text for label in plain.labels)
    box = next(iter(paths(drawing, "stopped"))).reshape(-1, 2)
    for label in drawing.labels:
        if re.search(r"\b1\d\d mm from|more: facade", label.text):
            assert box[:, 1].min() < label.y < box[:, 1].max()


def test_a_pack_of_a_stopped_job_says_so_in_the_wood_and_what_stops_it(tmp_path: Path) -> None:
    front = build_front(make_job(a_job(wood={"blank": 24, "floor": 3}, layers=[{"kind": "hills", "size": 40}])))
    folder = write(front, tmp_path, outputs=[Output.PAPER]).folder
    stops = [
        one for one in json.loads((folder / "manifest.json").read_text("utf-8"))["findings"] if one["weight"] == "stops"
    ]
    assert stops
    sheet = " ".join(
        found for found in re.findall(r">([^<>]+)<", (folder / "paper" / "01-first.svg").read_text("utf-8"))
    )
    assert f"strip {stops[0]['strip']}" in sheet.lower()
    assert "NOT CLEARED: stopped" in sheet
    # A part of it says the same, from the build that stands.
    part, _ = write_part(front, tmp_path, "first", Order(usual_paper(front), kinds=(Kind.FIRST,)))
    again = " ".join(re.findall(r">([^<>]+)<", (part / "paper" / "01-first.svg").read_text("utf-8")))
    assert "NOT CLEARED: stopped" in again
