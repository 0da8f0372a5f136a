"""Sticks in odd corners: narrow and wide strips, touching ones, many doors, inches; what stands on them and where."""

from __future__ import annotations

import itertools
import re
from collections.abc import Sequence
from fractions import Fraction
from typing import Any

import numpy as np
import pytest
from helpers import as_built, small_front
from hypothesis import given, settings
from hypothesis import strategies as st
from labels import box, overlapping

from facade.doors.spreading import spread
from facade.drawing import Drawing
from facade.errors import JobError
from facade.front import Front
from facade.lengths import MM_PER_INCH, Unit
from facade.printing.papers import sheet_paper
from facade.templates import sticks
from facade.templates.pack import plan
from facade.templates.piece import Asked, Kind, Piece, Room, Top

A4_LIES, A3_LIES, LEAST, ROLL = Room(272.0, 163.5), Room(395.0, 250.5), Room(114.0, 104.0), Room(5055.0, 563.0)
MADE = {"mm": 1.0, "in": 1 / MM_PER_INCH}


def front_of(
    unit: str = "mm",
    *,
    doors: int = 1,
    each: int = 6,
    width: float = 18.0,
    gap: float = 3.0,
    edge: float = 0.0,
    height: float = 300.0,
    size: float = 60.0,
) -> Front:
    """Return a front of doors that are alike; all lengths in mm."""
    one = MADE[unit]
    door = each * width + (each - 1) * gap + 2 * edge
    return small_front(
        unit=unit,
        front={
            "width": (doors * door + (doors - 1) * 3.0) * one,
            "height": height * one,
            "doors": doors,
            "space": 3 * one,
        },
        strips={"count": doors * each, "gap": gap * one, "edge": edge * one},
        wood={"species": "white ash", "blank": 20 * one, "floor": 8 * one},
        layers=[{"kind": "hills", "size": size * one}],
        sampling={"step": 2 * one},
    )


CORNERS = {
    "usual": {},
    "inches": {"unit": "in", "each": 21, "width": 19.05, "gap": 3.175, "height": 1371.6},
    "narrow": {"each": 70, "width": 1.8, "gap": 0.4},
    "touching": {"each": 30, "gap": 0.0},
    "wide": {"each": 3, "width": 180.0},
    "wider than the paper": {"each": 2, "width": 400.0},
    "one strip": {"each": 1, "width": 40.0},
    "two doors": {"doors": 2, "each": 12, "edge": 1.5},
    "many doors": {"doors": 7, "each": 9},
    "over a thousand": {"each": 60, "width": 20.0},
    "short": {"height": 40.0},
    "long in inches": {"unit": "in", "height": 2400.0},
}
corners = pytest.mark.parametrize("corner", CORNERS)
rooms = pytest.mark.parametrize("room", [A4_LIES, A3_LIES, LEAST, ROLL], ids=["A4", "A3", "least", "roll"])


def pieces_of(front: Front, room: Room, state: dict[str, Any] | None = None) -> list[Piece]:
    front = as_built(front, **state or {})
    return list(sticks.pieces(Asked(front, room, front.numbers)))


def assert_well_set(pieces: Sequence[Piece], room: Room) -> None:
    """Every piece fits, and its words are large enough, apart and inside."""
    for piece in pieces:
        assert piece.width <= room.width + 1e-6, piece.name
        assert piece.height <= room.height + 1e-6, piece.name
        drawing = piece.draw()
        assert (drawing.width, drawing.height) == (piece.width, piece.height)
        assert overlapping(drawing.labels) == [], piece.name
        for label in drawing.labels:
            left, right, low, high = box(label)
            assert label.size >= 2.6
            assert min(left, low) >= -0.01, (piece.name, label.text)
            assert right <= piece.width + 0.01, (piece.name, label.text)
            assert high <= piece.height + 0.01, (piece.name, label.text)
        for path in drawing.paths:
            assert path.runs.min() >= 0, (piece.name, path.name)
            assert (path.runs.max(axis=(0, 1)) <= np.array([piece.width, piece.height]) + 1e-6).all(), (
                piece.name,
                path.name,
            )


@corners
@rooms
def test_sticks_are_well_set(corner: str, room: Room) -> None:
    assert_well_set(pieces_of(front_of(**CORNERS[corner]), room), room)


@pytest.mark.parametrize(
    "state", [{"stack": 180.9}, {"missing": (3, 9)}, {"stack": 179.0, "spacers": 30.2, "missing": (1,)}]
)
def test_sticks_of_what_was_measured_are_well_set(state: dict[str, Any]) -> None:
    assert_well_set(pieces_of(front_of(doors=3, each=12), A4_LIES, state), A4_LIES)


@corners
def test_units_are_not_mixed(corner: str) -> None:
    front = front_of(**CORNERS[corner])
    # Strips a little narrower leave gaps in every corner.
    measured = {"stack": 9.9 * front.layout.strips[0].width}
    words = " ".join(label.text for piece in pieces_of(front, A4_LIES, measured) for label in piece.draw().labels)
    assert not re.search(r"\bmm\b" if front.job.unit is Unit.INCH else r"\d in\b", words)


def lengths_of(pieces: Sequence[Piece], what: str) -> list[Piece]:
    return [piece for piece in pieces if piece.name.startswith(what)]


def figures(drawing: Drawing, unit: Unit, gutter: float) -> list[tuple[float, float]]:
    """Return what the figures beside the marks say, mm, and how far along the piece they stand."""
    found = []
    for label in drawing.labels:
        if label.size == 2.6 and re.fullmatch(r"\d+\.\d" if unit is Unit.MM else r"\d+( \d+/\d+)?|\d+/\d+", label.text):
            along = label.x - (0.28 * label.size if label.turn else 0.0)
            said = float(sum(Fraction(part) for part in label.text.split()))
            found.append((said * unit.in_mm, along - gutter))
    return found


@corners
@pytest.mark.parametrize("room", [A4_LIES, LEAST], ids=["A4", "least"])
def test_a_figure_stands_at_its_mark_on_every_length(corner: str, room: Room) -> None:
    """All figures of a length give the place of its left end: each carries its distance from the one end."""
    front = front_of(**CORNERS[corner])
    half = front.job.ruler.mark / 2 + 1e-6
    division = front.layout.divisions[0]
    lengths = sticks.lengths(front.layout.doors[0].width, division.width + division.gap, room.width - 2 * sticks.GUTTER)
    pieces = lengths_of(pieces_of(front, room), "position stick")
    assert len(pieces) == len(lengths)
    for piece, length in zip(pieces, lengths, strict=True):
        found = np.array(figures(piece.draw(), front.job.unit, sticks.GUTTER)).reshape(-1, 2)
        assert found[:, 0] - found[:, 1] == pytest.approx([length.start] * len(found), abs=half), piece.name


@pytest.mark.parametrize("corner", [name for name in CORNERS if name not in ("wide", "wider than the paper")])
@pytest.mark.parametrize("room", [A4_LIES, LEAST], ids=["A4", "least"])
def test_neighbouring_lengths_share_a_strip_and_a_gap(corner: str, room: Room) -> None:
    front = front_of(**CORNERS[corner])
    division, door = front.layout.divisions[0], front.layout.doors[0]
    found = sticks.lengths(door.width, division.width + division.gap, room.width - 2 * sticks.GUTTER)
    assert found[0].start == 0.0
    assert found[-1].end == pytest.approx(door.width, abs=1e-9)
    for one, after in itertools.pairwise(found):
        assert one.end - after.start >= division.width + division.gap - 1e-9
    assert len(found) == len({piece.name for piece in lengths_of(pieces_of(front, room), "position stick")})


@given(st.floats(10.0, 6000.0), st.floats(2.0, 400.0), st.floats(90.0, 5000.0))
def test_lengths_fit_cover_and_overlap(whole: float, overlap: float, room: float) -> None:
    found = sticks.lengths(whole, overlap, room)
    assert all(one.end - one.start <= room + 1e-6 for one in found)
    assert (found[0].start, found[-1].end) == pytest.approx((0.0, whole), abs=1e-6)
    for one, after in itertools.pairwise(found):
        assert one.end - after.start >= min(overlap, 25.0) - 1e-6


@settings(max_examples=25)
@given(
    st.integers(2, 40),
    st.floats(6.0, 60.0),
    st.floats(0.3, 6.0),
    st.floats(0.0, 5.0),
    st.floats(-0.012, 0.012),
    st.data(),
)
def test_edges_widths_and_gaps_add_up_on_every_door(
    each: int, width: float, gap: float, edge: float, off: float, data: st.DataObject
) -> None:
    front = front_of(doors=2, each=each, width=width, gap=gap, edge=edge)
    missing = data.draw(st.sets(st.integers(1, 2 * each), max_size=3))
    own = front.layout.divisions[0]
    try:
        found = spread(as_built(front, stack=10 * own.width * (1 + off), missing=tuple(missing)))
    except JobError as error:
        said = str(error)
        assert "plane the strips" in said or "too few" in said
        return
    for one in found:
        gaps = one.left[1:] - one.right[:-1]
        assert np.ptp(gaps) < 1e-9
        assert (gaps >= min(0.2, own.gap) - 1e-6).all()
        whole = one.left[0] + len(one.numbers) * one.width + gaps.sum() + (one.door.width - one.right[-1])
        assert whole == pytest.approx(one.door.width, abs=1e-9)
        # Where the doors were designed to begin and end, strips do.
        assert one.left[0] == pytest.approx(own.edge, abs=1e-9)
        assert one.right[-1] == pytest.approx(one.door.width - own.edge, abs=1e-9)
        assert set(one.numbers) == set(range(one.door.first_strip, one.door.last_strip + 1)) - missing


def test_the_greatest_step_with_a_strip_left_out_is_that_of_the_surface() -> None:
    front = front_of(each=9, size=30.0)
    (found,) = spread(as_built(front, missing=(5,)))
    (told,) = [text for text in found.sentences if "greatest step" in text]
    y = np.linspace(front.layout.doors[0].bottom, front.layout.doors[0].top, 1201)[:, None]

    def greatest(numbers: Sequence[int]) -> float:
        places = [front.layout.strip(number) for number in numbers]
        rights = front.surface.at(np.array([[place.right for place in places[:-1]]]), y)
        lefts = front.surface.at(np.array([[place.left for place in places[1:]]]), y)
        return float(np.abs(rights - lefts).max())

    after, before = map(float, re.findall(r"([\d.]+) mm(?:, where|: between)", told))
    assert after == pytest.approx(greatest(found.numbers), abs=0.1)
    assert before == pytest.approx(greatest(range(1, 10)), abs=0.1)
    assert after > before


def test_a_gap_more_than_twice_as_wide_is_warned_of() -> None:
    (few,) = spread(as_built(front_of(each=6), missing=(3,)))
    (many,) = spread(as_built(front_of(each=43), missing=(3,)))
    assert few.gap > 6.0 > many.gap
    assert any("twice" in text for text in few.sentences)
    assert not any("twice" in text for text in many.sentences)


def test_measurements_in_inches_are_told_in_inches() -> None:
    front = front_of("in", each=20, width=19.05, gap=3.175)
    (found,) = spread(as_built(front, stack=7.54 * MM_PER_INCH, spacers=1.27 * MM_PER_INCH))
    words = " ".join(found.sentences)
    assert "0.754 in each instead of 3/4 in" in words
    assert "mm" not in words


def test_a_door_that_was_spread_anew_has_a_stick_of_its_own() -> None:
    pieces = pieces_of(front_of(doors=3, each=8), A3_LIES, {"missing": (12,)})
    names = {piece.name.rpartition(",")[0] for piece in lengths_of(pieces, "position stick")}
    assert names == {"position stick, doors 1 and 3", "position stick, door 2"}


def test_the_table_lists_every_edge_of_every_strip() -> None:
    front = front_of(doors=2, each=11, edge=1.5)
    cells = [
        label
        for piece in pieces_of(front, A3_LIES)
        if piece.name.startswith("Positions")
        for label in piece.draw().labels
        if label.size == 2.8
    ]
    rows: dict[tuple[float, int], list[str]] = {}
    for label in sorted(cells, key=lambda label: label.x):
        rows.setdefault((round(label.y, 3), sum(label.x > at for at in (100.0, 200.0))), []).append(label.text)
    listed = {number: tuple(map(float, row[1:3])) for row in rows.values() for number in map(int, row[-2:])}
    for place in front.layout.strips:
        left = front.layout.doors[place.door - 1].left
        assert listed[place.number] == pytest.approx((place.left - left, place.right - left), abs=0.051)


@pytest.mark.parametrize("unit", ["mm", "in"])
def test_no_sheet_holds_both_sticks(unit: str) -> None:
    """The TOP of a story stick is at its left end, that of a position stick is not."""
    sheets = plan(front_of(unit, doors=2), sheet_paper("A3"), kinds=[Kind.STICKS]).sheets
    tops = [{placed.piece.top for placed in sheet.placed} for sheet in sheets]
    assert all(len(top) == 1 for top in tops)
    assert {Top.UP, Top.LEFT} == set.union(*tops)
    for sheet in sheets:
        stories = [placed.piece.name for placed in sheet.placed if placed.piece.name.startswith("story")]
        assert not stories or sheet.top is Top.LEFT
