"""Pieces on sheets, and stretches of strips: nothing lost, nothing overlapping, little wasted."""

from __future__ import annotations

import itertools
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from facade.drawing import Drawing
from facade.errors import JobError
from facade.lengths import Ruler
from facade.slicer import stations
from facade.templates.packing import APART, extent, packed
from facade.templates.piece import Piece, Room
from facade.templates.windows import windows

ROOM = Room(250.0, 160.0)
sizes = st.lists(st.tuples(st.floats(5, 250), st.floats(5, 160)), max_size=40)


def piece(number: int, width: float, height: float) -> Piece:
    return Piece(str(number), width, height, lambda: Drawing(width, height, ""))


def pieces_of(some: list[tuple[float, float]]) -> list[Piece]:
    return [piece(number, width, height) for number, (width, height) in enumerate(some)]


@given(sizes)
def test_every_piece_comes_once(some: list[tuple[float, float]]) -> None:
    sheets = packed(pieces_of(some), ROOM)
    assert sorted(int(one.piece.name) for sheet in sheets for one in sheet) == list(range(len(some)))


@given(sizes)
def test_pieces_stay_in_the_room_and_apart(some: list[tuple[float, float]]) -> None:
    for sheet in packed(pieces_of(some), ROOM):
        width, height = extent(sheet)
        assert width <= ROOM.width + 1e-6
        assert height <= ROOM.height + 1e-6
        for a, b in itertools.combinations(sheet, 2):
            beside = max(b.x - a.x - a.piece.width, a.x - b.x - b.piece.width)
            above = max(b.down - a.down - a.piece.height, a.down - b.down - b.piece.height)
            assert max(beside, above) >= APART - 1e-6


@given(sizes)
def test_no_sheet_is_begun_while_the_next_piece_would_fit_on_the_last(some: list[tuple[float, float]]) -> None:
    sheets = packed(pieces_of(some), ROOM)
    for last, following in itertools.pairwise(sheets):
        first = min(following, key=lambda one: int(one.piece.name)).piece
        fits_below = extent(last)[1] + APART + first.height <= ROOM.height and first.width <= ROOM.width
        fits_beside = extent(last)[0] + APART + first.width <= ROOM.width and first.height <= ROOM.height
        assert not (fits_below and fits_beside)


def test_equal_pieces_fill_a_sheet() -> None:
    assert [len(sheet) for sheet in packed(pieces_of([(250, 38)] * 9), ROOM)] == [4, 4, 1]
    assert [len(sheet) for sheet in packed(pieces_of([(80, 50)] * 9), ROOM)] == [9]


lengths = st.floats(20, 3000)
rooms = st.floats(60, 1500)
steps = st.sampled_from([10.0, 25.0, 25.4, 13.7])


@given(lengths, steps, rooms)
def test_every_station_is_whole_on_a_stretch(length: float, step: float, room: float) -> None:
    found = windows(length, step, room, Ruler())
    printed = np.unique(np.concatenate([one.stations for one in found]))
    assert np.array_equal(printed, stations(length, step))


@given(lengths, steps, rooms)
def test_stretches_fit_and_overlap_by_a_station(length: float, step: float, room: float) -> None:
    found = windows(length, step, room, Ruler())
    assert found[0].start == 0
    assert found[-1].end == length
    assert all(one.length <= room + 1e-5 for one in found)
    for upper, lower in itertools.pairwise(found):
        shared = np.intersect1d(upper.stations, lower.stations)
        assert len(shared) >= 2
        assert lower.end > upper.end
    assert [one.part for one in found] == list(range(1, len(found) + 1))


@given(lengths, steps, rooms)
def test_there_is_no_stretch_too_many(length: float, step: float, room: float) -> None:
    found = windows(length, step, room, Ruler())
    if len(found) > 1:
        reach = int((room + 1e-6) / step) * step
        assert (len(found) - 1) * (reach - step) + step < length + step


def test_stations_too_far_apart_for_the_paper_are_refused() -> None:
    with pytest.raises(JobError, match="larger paper"):
        windows(900.0, 150.0, 250.0, Ruler())


@given(sizes)
def test_in_order_no_piece_comes_before_one_that_it_follows(some: list[tuple[float, float]]) -> None:
    sheets = packed(pieces_of(some), ROOM, in_order=True)
    order = [int(one.piece.name) for sheet in sheets for one in sheet]
    assert order == sorted(order)


@given(st.lists(st.tuples(st.floats(5, 250), st.floats(5, 70)), max_size=20))
def test_pieces_that_belong_together_share_a_sheet(some: list[tuple[float, float]]) -> None:
    pairs = [
        replace(piece(2 * number + side, *size), together=f"pair {number}")
        for number, size in enumerate(some)
        for side in (0, 1)
    ]
    homes: dict[str, set[int]] = {}
    for index, sheet in enumerate(packed(pairs, ROOM)):
        for one in sheet:
            homes.setdefault(one.piece.together, set()).add(index)
    assert all(len(home) == 1 for home in homes.values())
    assert len(homes) == len(some)
