"""Gauges in odd corners: narrow doors, strips wider than the paper, deep reliefs, inches; what stands on them and where."""

from __future__ import annotations

import itertools
import re

import numpy as np
import pytest
from helpers import small_front
from hypothesis import given, settings
from hypothesis import strategies as st
from labels import box, overlapping

from facade.drawing import Drawing
from facade.front import Front
from facade.lengths import MM_PER_INCH, Unit
from facade.printing.papers import sheet_paper
from facade.slicer import stations
from facade.templates import gauges
from facade.templates.pack import plan
from facade.templates.piece import Asked, Kind, Piece, Room, Top
from facade.templates.windows import windows

A4, A4_LIES, LEAST, ROLL = Room(185.0, 250.5), Room(272.0, 163.5), Room(114.0, 122.0), Room(5055.0, 563.0)
MADE = {"mm": 1.0, "in": 1 / MM_PER_INCH}


def front_of(
    unit: str = "mm",
    *,
    doors: int = 1,
    each: int = 9,
    width: float = 18.0,
    gap: float = 3.0,
    height: float = 300.0,
    blank: float = 20.0,
    size: float = 60.0,
    seed: int = 1,
) -> Front:
    """Return a front of doors that are alike; all lengths in mm."""
    one = MADE[unit]
    door = each * width + (each - 1) * gap
    return small_front(
        unit=unit,
        front={
            "width": (doors * door + (doors - 1) * 3.0) * one,
            "height": height * one,
            "doors": doors,
            "space": 3 * one,
        },
        strips={"count": doors * each, "gap": gap * one},
        wood={"species": "white ash", "blank": blank * one, "floor": 8 * one},
        layers=[{"kind": "hills", "size": size * one, "seed": seed}],
        sampling={"step": 2 * one},
    )


CORNERS = {
    "usual": {"doors": 2},
    "inches": {"unit": "in", "each": 12, "width": 19.05, "gap": 3.175, "height": 600.0},
    "narrow strips": {"each": 60, "width": 3.0, "gap": 0.5},
    "touching": {"each": 20, "gap": 0.0},
    "wide strips": {"each": 3, "width": 90.0},
    "wider than the paper": {"each": 2, "width": 300.0},
    "one strip": {"each": 1, "width": 40.0},
    "narrow door": {"each": 2, "width": 10.0},
    "door for one hole": {"each": 4, "width": 25.0},
    "deep": {"blank": 50.0, "size": 90.0},
    "short": {"height": 40.0},
}
corners = pytest.mark.parametrize("corner", CORNERS)
rooms = pytest.mark.parametrize("room", [A4, A4_LIES, LEAST, ROLL], ids=["A4", "A4 lying", "least", "roll"])


def pieces_of(front: Front, room: Room = A4, strips: tuple[int, ...] | None = None) -> list[Piece]:
    return list(gauges.pieces(Asked(front, room, strips or tuple(range(1, front.count + 1)))))


def named(drawing: Drawing, ending: str) -> list[np.ndarray]:
    """Return the runs of all paths whose name ends so."""
    return [path.runs for path in drawing.paths if path.name.endswith(ending)]


def outline_of(drawing: Drawing) -> np.ndarray:
    (outline,) = named(drawing, "-gauge")
    return outline[0]


@corners
@rooms
def test_gauges_are_well_set(corner: str, room: Room) -> None:
    for piece in pieces_of(front_of(**CORNERS[corner]), room):
        assert piece.width <= room.width + 1e-6
        assert piece.height <= room.height + 1e-6
        drawing = piece.draw()
        assert (drawing.width, drawing.height) == (piece.width, piece.height)
        assert drawing.labels
        assert overlapping(drawing.labels) == [], piece.name
        for path in drawing.paths:
            assert path.runs.min() >= 0, (piece.name, path.name)
            assert (path.runs.max(axis=(0, 1)) <= np.array([piece.width, piece.height]) + 1e-6).all(), path.name


@corners
@rooms
def test_all_words_stand_on_the_gauge_where_they_stay_when_it_is_cut(corner: str, room: Room) -> None:
    for piece in pieces_of(front_of(**CORNERS[corner]), room):
        drawing = piece.draw()
        outline = outline_of(drawing)
        line, top = outline[:-2], outline[-1, 1]
        for label in drawing.labels:
            left, right, low, high = box(label)
            assert label.size >= 2.6
            assert line[0, 0] <= left, (piece.name, label.text)
            assert right <= line[-1, 0], (piece.name, label.text)
            between = np.linspace(left, right, 60)
            assert (low > np.interp(between, line[:, 0], line[:, 1])).all(), (piece.name, label.text)
            assert high < top, (piece.name, label.text)


@corners
def test_finger_holes_leave_wood_around_them_and_no_words_within(corner: str) -> None:
    """A finger hole is about 25 mm wide (common practice)."""
    for piece in pieces_of(front_of(**CORNERS[corner]), A4_LIES):
        drawing = piece.draw()
        outline = outline_of(drawing)
        for hole in named(drawing, "finger-hole"):
            (x0, y0), (x1, y1) = hole[0].min(axis=0), hole[0].max(axis=0)
            assert 23 <= x1 - x0 <= 27
            assert outline[:, 0].min() + 4 <= x0
            assert x1 <= outline[:, 0].max() - 4
            assert y1 <= outline[-1, 1] - 4
            assert y0 >= outline[:-2, 1].max() + 4
            for label in drawing.labels:
                left, right, low, high = box(label)
                clear = right <= x0 or left >= x1 or high <= y0 or low >= y1
                # The corners of its square are no part of a hole.
                corner_of = np.hypot(
                    max(left - (x0 + x1) / 2, (x0 + x1) / 2 - right, 0),
                    max(low - (y0 + y1) / 2, (y0 + y1) / 2 - high, 0),
                )
                assert clear or corner_of >= (x1 - x0) / 2, label.text


@corners
def test_the_waste_is_hatched_below_the_cutting_line_alone(corner: str) -> None:
    for piece in pieces_of(front_of(**CORNERS[corner]), A4_LIES):
        drawing = piece.draw()
        line = outline_of(drawing)[:-2]
        (waste,) = named(drawing, "-waste")
        places = waste.reshape(-1, 2)
        assert (places[:, 1] < np.interp(places[:, 0], line[:, 0], line[:, 1])).all()


@corners
def test_the_straight_edge_of_every_gauge_is_equally_high_above_the_back(corner: str) -> None:
    front = front_of(**CORNERS[corner])
    for piece in pieces_of(front):
        outline = outline_of(piece.draw())
        assert outline[-2:, 1] + gauges.base(front) == pytest.approx([gauges.straight_edge(front)] * 2)
        assert outline[:-2, 1].min() + gauges.base(front) >= front.surface.floor - 1e-9


def assert_touching(front: Front, piece: Piece, along: np.ndarray, face: np.ndarray) -> None:
    """The gauge's line, put back to the front, is the face at places `along` it, mm from its left end, and at both ends."""
    line = outline_of(piece.draw())[:-2]
    assert line[[0, -1], 0] - gauges.PAD == pytest.approx(along[[0, -1]], abs=1e-6)
    level = np.interp(along, line[:, 0] - gauges.PAD, line[:, 1] + gauges.base(front))
    assert np.abs(level - face).max() < 0.02, piece.name


@corners
def test_gauges_touch_the_face(corner: str) -> None:
    front = front_of(**CORNERS[corner])
    pieces = iter(pieces_of(front, A4))
    for door in front.layout.doors:
        for station in gauges.chosen_stations(front, door):
            for span in gauges.door_lengths(front, door, A4.width - 2 * gauges.PAD):
                along = np.linspace(0.0, span.end - span.start, 1501)
                face = front.surface.at(door.left + span.start + along, np.full(1, door.top - station))
                assert_touching(front, next(pieces), along, face)
    for number in gauges.chosen_strips(front, tuple(range(1, front.count + 1))):
        place = front.layout.strip(number)
        for window in windows(place.length, front.job.station, A4.width - 2 * gauges.PAD, front.job.ruler):
            along = np.linspace(0.0, window.length, 1501)
            face = front.surface.at(np.full(1, (place.left + place.right) / 2), place.top - window.start - along)
            assert_touching(front, next(pieces), along, face)
    assert next(pieces, None) is None


@settings(max_examples=10)
@given(st.floats(25.0, 200.0), st.integers(0, 99), st.integers(2, 14), st.floats(8.0, 40.0))
def test_ticks_across_are_the_edges_of_strips_and_all_of_them_are_on_some_length(
    size: float, seed: int, each: int, width: float
) -> None:
    front = front_of(each=each, width=width, size=size, seed=seed)
    door = front.layout.doors[0]
    edges = np.array([[place.left, place.right] for place in front.layout.strips]).ravel()
    spans = gauges.door_lengths(front, door, A4.width - 2 * gauges.PAD)
    across = [piece for piece in pieces_of(front) if not piece.strips]
    assert len(across) == len(spans) * len(gauges.chosen_stations(front, door))
    seen: set[int] = set()
    for piece, span in zip(across[: len(spans)], spans, strict=True):
        drawing = piece.draw()
        line = outline_of(drawing)[:-2]
        (ticks,) = named(drawing, "ticks")
        x = door.left + span.start + ticks[:, 0, 0] - gauges.PAD
        nearest = np.abs(x[:, None] - edges).argmin(axis=1)
        assert np.abs(x - edges[nearest]).max() < 1e-6
        # They rise from the cutting line, so that they stay on the gauge.
        assert ticks[:, 0, 1] == pytest.approx(np.interp(ticks[:, 0, 0], line[:, 0], line[:, 1]), abs=1e-6)
        assert (ticks[:, 1, 1] > ticks[:, 0, 1]).all()
        seen |= set(nearest.tolist())
    assert seen == set(range(len(edges)))


@corners
def test_stations_that_are_gauged_are_not_next_to_each_other(corner: str) -> None:
    front = front_of(**CORNERS[corner])
    chosen = np.array(gauges.chosen_stations(front, front.layout.doors[0]))
    if front.layout.doors[0].height > 6 * front.job.station:
        assert (np.diff(chosen) > 1.5 * front.job.station).all()


@corners
def test_three_to_five_stations_are_gauged_where_there_are_as_many(corner: str) -> None:
    front = front_of(**CORNERS[corner])
    for door in front.layout.doors:
        marks = stations(door.height, front.job.station)
        chosen = gauges.chosen_stations(front, door)
        assert list(chosen) == sorted(set(chosen))
        assert set(chosen) <= set(marks.tolist())
        assert min(3, len(marks) - 2) <= len(chosen) <= 5


@given(st.integers(3, 60), st.floats(6.0, 45.0), st.floats(180.0, 400.0))
@settings(max_examples=25)
def test_lengths_of_a_door_are_cut_within_strips_and_share_one(each: int, width: float, room: float) -> None:
    front = front_of(each=each, width=width)
    places = front.layout.strips
    found = gauges.door_lengths(front, front.layout.doors[0], room)
    assert all(one.end - one.start <= room + 1e-6 for one in found)
    for one, after in itertools.pairwise(found):
        for cut in (one.end, after.start):
            assert any(place.left < cut < place.right for place in places)
        assert one.end - after.start == pytest.approx(width + 3.0, abs=1e-6)


@corners
def test_gauges_along_are_of_strips_with_most_relief_on_their_middle_lines(corner: str) -> None:
    front = front_of(**CORNERS[corner])
    relief = {}
    for place in front.layout.strips:
        y = np.linspace(place.bottom, place.top, 400)
        relief[place.number] = np.ptp(front.surface.at(np.full(1, (place.left + place.right) / 2), y))
    chosen = gauges.chosen_strips(front, tuple(relief))
    assert len(set(chosen)) == len(chosen)
    for door in front.layout.doors:
        own = [number for number in chosen if door.first_strip <= number <= door.last_strip]
        count = door.last_strip - door.first_strip + 1
        assert len(own) == min(3, count)
        # The strip with most relief of all is among them; the stations see it a little less sharply.
        most = max(relief[number] for number in range(door.first_strip, door.last_strip + 1))
        assert max(relief[number] for number in own) >= 0.9 * most


def test_of_some_strips_there_are_gauges_along_these_alone() -> None:
    front = front_of(doors=2)
    assert {piece.strips for piece in pieces_of(front, strips=(4,))} == {(4,)}
    some = {piece.strips for piece in pieces_of(front, strips=(2, 3, 11, 12, 13, 14))}
    assert some <= {(2,), (3,), (11,), (12,), (13,), (14,)}
    assert {number <= 9 for (number,) in some} == {True, False}


@corners
def test_units_are_not_mixed(corner: str) -> None:
    front = front_of(**CORNERS[corner])
    words = " ".join(label.text for piece in pieces_of(front) for label in piece.draw().labels)
    assert not re.search(r"\bmm\b" if front.job.unit is Unit.INCH else r"\d in\b", words)


@corners
def test_every_gauge_says_what_it_is(corner: str) -> None:
    front = front_of(**CORNERS[corner])
    for piece in pieces_of(front, A4_LIES):
        words = " ".join(label.text for label in piece.draw().labels)
        assert f"strip {piece.strips[0]}" in words if piece.strips else "door 1" in words or "door 2" in words
        assert "TOP" in words


@pytest.mark.parametrize("paper", ["A4", "Letter", "A3"])
def test_no_sheet_holds_gauges_of_both_ways(paper: str) -> None:
    sheets = plan(front_of(doors=2), sheet_paper(paper), kinds=[Kind.GAUGES]).sheets
    assert {sheet.top for sheet in sheets} == {Top.UP, Top.LEFT}
    for sheet in sheets:
        assert len({placed.piece.top for placed in sheet.placed}) == 1
