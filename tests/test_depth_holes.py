"""Depth holes: never too deep, few settings of the stop, and maps that agree with the list."""

from __future__ import annotations

import re
from collections.abc import Iterable
from functools import cache
from typing import Any

import numpy as np
import pytest
from helpers import PLAIN_KINDS, a_job, layer_of, small_front
from hypothesis import given
from hypothesis import strategies as st
from labels import box, overlapping

from facade.drawing import Drawing
from facade.front import Front, build_front
from facade.job import make_job
from facade.lengths import Unit
from facade.templates.holes import BELOW, GUTTER_LEFT, pieces
from facade.templates.piece import Asked, Piece, Room, Top
from facade.templates.stops import Line, Stops, lines_of, plan_stops, point_length, spacing

A4 = Room(272.0, 163.5)
# Strips: length, width, blank, floor, unit and kind of relief.
JOBS: list[tuple[float, float, float, float, str, str]] = [
    (803, 18, 20, 8, "mm", "hills"),
    (803, 18, 22, 9.5, "mm", "swell"),
    (400, 60, 50, 10, "mm", "hills"),
    (150, 8, 20, 5, "mm", "hills"),
    (30, 8, 20, 5, "mm", "hills"),
    (60, 40, 20, 8, "mm", "hills"),
    (30.5, 0.75, 0.875, 0.375, "in", "hills"),
    (6, 2.25, 2, 0.5, "in", "hills"),
]


@cache
def front_of(length: float, width: float, blank: float, floor: float, unit: str, kind: str) -> Front:
    settings = a_job(
        unit=unit,
        front={"width": 12 * width, "height": length, "doors": 2},
        wood={"blank": blank, "floor": floor},
        layers=[{"kind": kind, "size": 4 * width + length / 8}],
    )
    settings["strips"] = {"width": width}
    return build_front(make_job(settings))


@pytest.fixture(scope="module", params=JOBS, ids=lambda one: "-".join(map(str, one)))
def front(request: pytest.FixtureRequest) -> Front:
    return front_of(*request.param)


def asked_of(front: Front, strips: Iterable[int] | None = None, room: Room = A4) -> Asked:
    return Asked(front, room, tuple(strips or range(1, front.count + 1)))


def clearances(front: Front, stops: Stops) -> np.ndarray:
    """Return how far the bottom of each hole stays above the finished face over its footprint (holes, places)."""
    holes = stops.holes
    angle = np.linspace(0, 2 * np.pi, 37)[None, :, None]
    away = np.linspace(0, stops.bit / 2, 9)[None, None, :]
    lefts = np.array([place.left for place in front.layout.strips])[holes.strip - 1]
    tops = np.array([place.top for place in front.layout.strips])[holes.strip - 1]
    x = (lefts + holes.from_left)[:, None, None] + away * np.cos(angle)
    y = (tops - holes.from_top)[:, None, None] + away * np.sin(angle)
    # A cone of 118 degrees stands on its point.
    bottom = (
        front.job.wood.blank - np.array(stops.settings)[holes.setting][:, None, None] + away / np.tan(np.radians(59))
    )
    return (bottom - front.surface.at(x, y)).reshape(len(holes.strip), -1)


def test_no_hole_comes_nearer_to_the_finished_face_than_sanding_removes(front: Front) -> None:
    """Holes stay 0.5 to 1 mm shallow, so that sanding removes the dimple: common practice."""
    stops = plan_stops(front)
    assert len(stops.holes.strip)
    assert clearances(front, stops).min() >= 0.5


def test_every_hole_is_within_one_step_of_what_it_should_be(front: Front) -> None:
    stops = plan_stops(front)
    least = clearances(front, stops).min(axis=1)
    # What the surface may do between the places looked at is a tenth of a millimetre at most.
    assert (least - stops.shallow).max() < stops.step + 0.1
    depth = np.array(stops.settings)[stops.holes.setting]
    assert (depth <= stops.holes.wanted + 1e-6).all()
    assert (stops.holes.wanted - depth < stops.step + 1e-6).all()


@given(blank=st.floats(10, 80), share=st.floats(0.15, 0.8), kind=st.sampled_from(PLAIN_KINDS))
def test_three_to_six_settings_do_for_any_front(blank: float, share: float, kind: str) -> None:
    few_settings(small_front(wood={"blank": blank, "floor": share * blank}, layers=[layer_of(kind)]), finest=0.5)


@given(blank=st.floats(0.4, 3.2), share=st.floats(0.15, 0.8), size=st.floats(1, 6))
def test_three_to_six_settings_do_for_any_front_in_inches(blank: float, share: float, size: float) -> None:
    front = small_front(
        unit="in",
        front={"width": 8, "height": 5},
        wood={"blank": blank, "floor": share * blank},
        layers=[{"kind": "hills", "size": size}],
    )
    few_settings(front, finest=25.4 / 32)


def few_settings(front: Front, *, finest: float) -> None:
    """Assert that there are no more settings than six, and three wherever the finest step makes as many."""
    stops = plan_stops(front)
    assert len(stops.settings) <= 6
    if len(np.unique(np.floor(stops.holes.wanted / finest))) > 5:
        assert len(stops.settings) >= 3
    depth = np.array(stops.settings)[stops.holes.setting]
    assert ((stops.holes.wanted - depth > -1e-6) & (stops.holes.wanted - depth < stops.step + 1e-6)).all()


def test_settings_are_round_in_the_unit_of_the_job(front: Front) -> None:
    stops = plan_stops(front)
    unit = 0.5 if front.job.unit is Unit.MM else 25.4 / 32
    parts = np.array(stops.settings) / unit
    assert np.abs(parts - np.rint(parts)).max() < 1e-9
    assert np.abs(np.array([front.job.ruler.down(one) for one in stops.settings]) - stops.settings).max() < 1e-6


def test_point_of_a_twist_drill_is_three_tenths_of_its_diameter() -> None:
    """Usual rule for points of 118 degrees: 0.3 d."""
    assert point_length(10.0) == pytest.approx(3.0, abs=0.01)


def test_whole_bit_is_in_the_wood_with_a_rim_to_spare(front: Front) -> None:
    stops = plan_stops(front)
    holes = stops.holes
    width = np.array([place.width for place in front.layout.strips])[holes.strip - 1]
    length = np.array([place.length for place in front.layout.strips])[holes.strip - 1]
    rim = stops.bit / 2 + 1.0
    for at, size in ((holes.from_left, width), (holes.from_top, length)):
        assert (at >= rim).all()
        assert (at <= size - rim).all()


@pytest.mark.parametrize(("width", "lines"), [(4.0, []), (8.0, [Line.CENTRE]), (18.0, list(Line)), (60.0, list(Line))])
def test_narrow_strips_have_holes_in_the_centre_alone(width: float, lines: list[Line]) -> None:
    assert [line for line, _ in lines_of(width, 3.0)] == lines


@given(st.floats(1, 1000))
def test_holes_are_50_to_100_mm_apart_on_stations_or_parts_of_one(station: float) -> None:
    """Every 50 to 75 mm, or so: common practice; stations decide."""
    every = spacing(station)
    assert 50 - 1e-6 <= every <= 100
    parts = every / station if station < 50 else station / every
    assert parts == pytest.approx(round(parts))


def test_deepest_hole_place_of_a_line_is_drilled_or_near_one_that_is(front: Front) -> None:
    stops = plan_stops(front)
    place = front.layout.strip(2)
    holes = stops.holes.of(2)
    for line, aside in lines_of(place.width, stops.bit):
        at = holes.from_top[holes.line == list(Line).index(line)]
        every = spacing(front.job.station)
        marks = np.arange(every, place.length - 4.0, every)
        if not len(at) or not len(marks):
            continue
        heights = front.surface.at(np.array([place.left + aside]), place.top - marks)
        assert np.abs(at - marks[heights.argmin()]).min() < 0.5


def test_relief_too_shallow_for_holes_says_so_on_one_piece() -> None:
    front = small_front(wood={"blank": 20, "floor": 8}, carving={"fit": "depth", "depth": 0.4})
    assert not plan_stops(front).settings
    (only,) = pieces(asked_of(front))
    assert "No depth holes" in words_of(only.draw())


def words_of(drawing: Drawing) -> str:
    return " ".join(label.text for label in drawing.labels)


def maps_of(front: Front, strips: Iterable[int] | None = None) -> list[Piece]:
    return [piece for piece in pieces(asked_of(front, strips)) if piece.strips]


def circles(drawing: Drawing) -> np.ndarray:
    """Return the circles (n, 3): middle and radius."""
    runs = [path.runs for path in drawing.paths if path.name == "holes"]
    if not runs:
        return np.empty((0, 3))
    middle = runs[0][:, :-1].mean(axis=1)
    radius = np.hypot(*(runs[0] - middle[:, None]).T).max(axis=0)
    return np.column_stack([middle, radius])


def stretch_of(piece: Piece, drawing: Drawing) -> float:
    """Return where a map begins, mm from the top: what its first figure says, in the job's unit."""
    edge = next(path for path in drawing.paths if path.name == "left-edge")
    assert edge.runs[0, 0, 0] == GUTTER_LEFT
    window = piece.draw.args[4]  # type: ignore[attr-defined]
    assert np.ptp(edge.runs[0, :, 0]) == pytest.approx(window.length)
    return float(window.start)


def test_circles_undo_to_the_planned_holes_and_every_hole_is_on_a_map(front: Front) -> None:
    assert_all_on_maps(front)


@pytest.mark.parametrize("station", [1, 2.3, 45, 110])
def test_every_hole_is_whole_on_a_map_however_far_apart_stations_are(station: float) -> None:
    front = small_front(
        front={"width": 200, "height": 1001}, sampling={"station": station}, layers=[{"kind": "hills", "size": 90}]
    )
    assert_all_on_maps(front)


def assert_all_on_maps(front: Front) -> None:
    """Assert that the maps show the planned holes and no others, each whole."""
    stops = plan_stops(front)
    for number in range(1, front.count + 1):
        holes = stops.holes.of(number)
        planned = {(round(a, 3), round(b, 3)) for a, b in zip(holes.from_top, holes.from_left, strict=True)}
        seen = set()
        for piece in maps_of(front, [number]):
            drawing = piece.draw()
            start = stretch_of(piece, drawing)
            for x, y, radius in circles(drawing):
                assert radius == pytest.approx(stops.bit / 2, abs=1e-6)
                seen.add((round(start + x - GUTTER_LEFT, 3), round(y - BELOW, 3)))
        assert seen == planned


def test_circles_lie_in_the_face_and_left_is_below(front: Front) -> None:
    for piece in maps_of(front)[:6]:
        drawing = piece.draw()
        lower, upper = (
            next(path.runs[0] for path in drawing.paths if path.name == name) for name in ("left-edge", "right-edge")
        )
        words = {label.text: label for label in drawing.labels}
        assert words["LEFT EDGE"].y < lower[0, 1] < upper[0, 1] < words["RIGHT EDGE"].y
        assert piece.top is Top.LEFT
        for x, y, radius in circles(drawing):
            assert lower[0, 0] <= x - radius
            assert x + radius <= lower[1, 0]
            assert lower[0, 1] < y - radius
            assert y + radius < upper[0, 1]


def listed(front: Front, strips: Iterable[int] | None = None) -> set[tuple[int, int, str, str]]:
    """Return what the list says, read from its words alone: setting, strip, line, place."""
    said: dict[tuple[int, int], str] = {}
    setting = strip = 0
    for piece in pieces(asked_of(front, strips)):
        for label in [] if piece.strips else piece.draw().labels:
            heading, lead = re.match(r"Stop (\d):", label.text), re.fullmatch(r"(\d+):", label.text)
            if heading:
                setting, strip = int(heading[1]), 0
            elif label.bold:
                strip = int(lead[1]) if lead else 0
            elif strip:
                said[setting, strip] = f"{said.get((setting, strip), '')} {label.text}".strip()
    return {
        (setting, strip, line[0], place)
        for (setting, strip), words in said.items()
        for line in words.split("; ")
        for place in line[2:].split(", ")
    }


@pytest.mark.parametrize("strips", [None, (2, 5)])
def test_list_and_plan_agree(front: Front, strips: tuple[int, ...] | None) -> None:
    holes = plan_stops(front).holes
    planned = {
        (setting + 1, strip, line.value, front.job.ruler.bare(place))
        for setting, strip, line, place in zip(
            holes.setting.tolist(), holes.strip.tolist(), holes.lines(), holes.from_top.tolist(), strict=True
        )
        if strips is None or strip in strips
    }
    assert listed(front, strips) == planned


def test_numbers_beside_circles_are_their_settings(front: Front) -> None:
    stops = plan_stops(front)
    for piece in maps_of(front)[:4]:
        drawing = piece.draw()
        start = stretch_of(piece, drawing)
        holes = stops.holes.of(piece.strips[0])
        numbers = [label for label in drawing.labels if label.bold and re.fullmatch("[1-6]", label.text)]
        for x, y, radius in circles(drawing):
            at = np.hypot(holes.from_top - (start + x - GUTTER_LEFT), holes.from_left - (y - BELOW)).argmin()
            beside = min(numbers, key=lambda label: abs(label.x - x - radius) + abs(label.y - y))
            assert int(beside.text) == holes.setting[at] + 1


def test_nothing_overlaps_or_leaves_its_piece(front: Front) -> None:
    for piece in pieces(asked_of(front)):
        drawing = piece.draw()
        assert (drawing.width, drawing.height) == (piece.width, piece.height)
        assert piece.width <= A4.width
        assert piece.height <= A4.height
        assert overlapping(drawing.labels) == []
        for label in drawing.labels:
            left, right, low, high = box(label)
            assert left >= -0.1, label.text
            assert right <= piece.width + 0.1, label.text
            assert low >= -0.1, label.text
            assert high <= piece.height + 0.1, label.text
            assert label.size >= 2.6
        for path in drawing.paths:
            assert path.runs.min() >= 0
            assert path.runs[..., 0].max() <= piece.width
            assert path.runs[..., 1].max() <= piece.height


def test_numbers_of_settings_do_not_stand_on_circles(front: Front) -> None:
    for piece in maps_of(front)[:6]:
        drawing = piece.draw()
        for label in drawing.labels:
            left, right, low, high = box(label)
            for x, y, radius in circles(drawing):
                near = np.hypot(x - np.clip(x, left, right), y - np.clip(y, low, high))
                assert near > radius - 0.05, label.text


def test_job_in_inches_names_no_millimetres_and_the_other_way_round(front: Front) -> None:
    words = " ".join(words_of(piece.draw()) for piece in pieces(asked_of(front)))
    other = r"\bmm\b" if front.job.unit is Unit.INCH else r"\d in\b"
    assert not re.search(other, words)
    assert "POINT" in words


def test_settings_are_those_of_the_whole_front_on_sheets_of_some_strips() -> None:
    front = front_of(*JOBS[0])
    words = words_of(next(iter(pieces(asked_of(front, [2])))).draw())
    for number, depth in enumerate(plan_stops(front).settings, 1):
        assert f"Stop {number}: {front.job.ruler.text(depth)}" in words
    assert {number for piece in maps_of(front, [2]) for number in piece.strips} == {2}


def test_strips_too_narrow_for_the_bit_say_so() -> None:
    settings: dict[str, Any] = a_job(front={"width": 64, "height": 120}, strips={"count": 16, "gap": 0})
    (only,) = pieces(asked_of(build_front(make_job(settings))))
    assert "too narrow" in words_of(only.draw())


def test_strips_without_holes_are_named() -> None:
    land = {"centre": [18, 60], "size": [36, 120], "blend": 2}
    front = small_front(lands=[land])
    drilled = set(plan_stops(front).holes.strip.tolist())
    assert 1 not in drilled
    assert 8 in drilled
    words = " ".join(words_of(piece.draw()) for piece in pieces(asked_of(front)))
    assert "Strip 1 of 8: too narrow for the bit, or nowhere deep enough" in words
    assert all(piece.strips != (1,) for piece in pieces(asked_of(front)))


@pytest.mark.parametrize(("sanding", "below"), [(0.3, False), (0.5, False), (0.8, True), (1.5, True)])
def test_sheet_says_where_the_carve_line_comes_before_the_bottoms_of_holes(sanding: float, below: bool) -> None:
    """Where more is left for sanding than stands under the deepest holes, these reach below the carve line."""
    front = small_front(wood={"blank": 22, "floor": 8, "sanding": sanding}, layers=[layer_of("hills")])
    words = words_of(next(iter(pieces(asked_of(front)))).draw())
    assert (plan_stops(front).shallow < sanding) is below
    assert (f"carve line is {front.job.ruler.fine(sanding)} above" in words) is below
