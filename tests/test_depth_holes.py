"""Depth holes: shallow everywhere under the bit, few settings, list and map alike."""

from __future__ import annotations

import math
import re

import numpy as np
import pytest
from helpers import small_front
from hypothesis import given, settings
from hypothesis import strategies as st

from facade.front import Front
from facade.lengths import MM_PER_INCH
from facade.templates import holes
from facade.templates.piece import Asked, Piece, Room
from facade.templates.sides import GUTTER_LEFT
from facade.templates.stops import BIT, POINT, SHALLOW, stops_of

ROOM = Room(250.0, 160.0)


def front_of(size: float = 70, seed: int = 1, depth: float = 11.0, unit: str = "mm") -> Front:
    scale = 1 / MM_PER_INCH if unit == "in" else 1.0
    return small_front(
        unit=unit,
        front={"width": 204 * scale, "height": 330 * scale},
        strips={"count": 10},
        wood={"species": "white ash", "blank": 30 * scale, "floor": 8 * scale},
        carving={"fit": "depth", "depth": depth * scale},
        layers=[{"kind": "hills", "size": size * scale, "seed": seed}],
    )


fronts = st.builds(
    front_of, st.floats(50, 200), st.integers(0, 50), st.floats(3.0, 21.0), st.sampled_from(["mm", "in"])
)


def depths_below_face(front: Front, x: float, y: float, radius: float) -> tuple[np.ndarray, np.ndarray]:
    """Return places under the bit by their distance from its axis, and the finished depth below the raw face at each."""
    angles = np.linspace(0, 2 * np.pi, 25)
    away = np.repeat([0.0, radius / 3, 2 * radius / 3, radius], len(angles))
    turned = np.tile(angles, 4)
    heights = [
        float(front.surface.at(np.array([[x + r * math.cos(a)]]), np.array([[y + r * math.sin(a)]]))[0, 0])
        for r, a in zip(away.tolist(), turned.tolist(), strict=True)
    ]
    return away, front.job.wood.blank - np.array(heights)


@settings(max_examples=10)
@given(fronts)
def test_no_hole_goes_below_the_finished_face_less_its_point(front: Front) -> None:
    """Cylinder and cone of a 118 degree point, looked at finer than they were planned, stay above the face everywhere."""
    stops, radius = stops_of(front), BIT[front.job.unit] / 2
    for number, some in stops.holes.items():
        place = front.layout.strip(number)
        for hole in some[::9]:
            away, depths = depths_below_face(front, place.left + hole.from_left, place.top - hole.from_top, radius)
            bottom = stops.settings[hole.setting - 1] - away / math.tan(math.radians(59))
            assert (depths - bottom).min() >= SHALLOW - 0.05


@settings(max_examples=10)
@given(fronts)
def test_every_hole_is_within_one_step_of_what_it_should_be(front: Front) -> None:
    stops = stops_of(front)
    for number, some in stops.holes.items():
        place = front.layout.strip(number)
        for hole in some:
            under = front.surface.at(
                np.array([[place.left + hole.from_left]]), np.array([[place.top - hole.from_top]])
            )[0, 0]
            wanted = front.job.wood.blank - float(under) - SHALLOW
            assert stops.settings[hole.setting - 1] <= wanted + 1e-6
            # On a slope the bit's own radius takes some more, at most its radius times the steepest slope.
            assert wanted - stops.settings[hole.setting - 1] < stops.step + 2.0


@settings(max_examples=25)
@given(fronts)
def test_few_settings_serve_the_whole_front(front: Front) -> None:
    stops = stops_of(front)
    assert len(stops.settings) <= 6
    assert all(abs(depth / stops.step - round(depth / stops.step)) < 1e-9 for depth in stops.settings)
    used = {hole.setting for some in stops.holes.values() for hole in some}
    assert used == set(range(1, len(stops.settings) + 1))


def test_a_front_carved_as_usual_has_three_to_six_settings() -> None:
    """Common practice: three to five, and the stop reset for each once."""
    for depth in (6.0, 8.0, 11.0, 16.0, 21.0):
        assert 3 <= len(stops_of(front_of(depth=depth)).settings) <= 6


def test_the_bit_stays_in_the_strip() -> None:
    front = front_of()
    for number, some in stops_of(front).holes.items():
        width = front.layout.strip(number).width
        assert all(BIT[front.job.unit] / 2 <= hole.from_left <= width - BIT[front.job.unit] / 2 for hole in some)


def test_a_point_of_118_degrees_is_0_3_of_its_diameter_long() -> None:
    # 1 / (2 tan 59 degrees): the usual rule of the trade, 0.3 times the diameter (common practice).
    assert pytest.approx(0.3, abs=0.005) == POINT


def pieces_of(front: Front, *strips: int) -> list[Piece]:
    return list(holes.pieces(Asked(front, ROOM, strips or tuple(range(1, front.count + 1)))))


@pytest.mark.parametrize("unit", ["mm", "in"])
def test_list_and_map_hold_the_same_holes(unit: str) -> None:
    front = front_of(unit=unit)
    stops, found = stops_of(front), pieces_of(front)
    on_maps = sum(path.name == "hole" for piece in found if piece.strips for path in piece.draw().paths)
    planned = sum(map(len, stops.holes.values()))
    # Holes within the overlap of two stretches are on both maps.
    assert on_maps >= planned
    listed = 0
    for piece in (piece for piece in found if piece.name.startswith("Setting")):
        listed += sum(label.text.count(",") for label in piece.draw().labels if re.fullmatch(r"[\d /,]+", label.text))
    rows_of_lists = sum(
        math.ceil(len(places) / 12)
        for setting in range(1, len(stops.settings) + 1)
        for number in range(1, 11)
        for line in "LCR"
        if (places := [hole for hole in stops.holes[number] if hole.setting == setting and hole.line == line])
    )
    assert listed == planned - rows_of_lists


def test_a_map_undone_gives_the_planned_places() -> None:
    front = front_of()
    (piece,) = (piece for piece in holes.pieces(Asked(front, Room(900.0, 160.0), (4,))) if piece.strips)
    drawing = piece.draw()
    left_edge = next(path.runs[0] for path in drawing.paths if path.name == "left-edge")
    right_edge = next(path.runs[0] for path in drawing.paths if path.name == "right-edge")
    assert left_edge[0, 1] < right_edge[0, 1]
    circles = [path.runs[0].mean(axis=0) for path in drawing.paths if path.name == "hole"]
    drawn = sorted((round(float(x) - GUTTER_LEFT, 6), round(float(y) - float(left_edge[0, 1]), 6)) for x, y in circles)
    assert np.allclose(drawn, sorted((hole.from_top, hole.from_left) for hole in stops_of(front).holes[4]), atol=1e-6)


def test_one_strip_alone_keeps_the_settings_of_the_whole_front() -> None:
    front = front_of()
    alone = " ".join(label.text for piece in pieces_of(front, 4)[:1] for label in piece.draw().labels)
    whole = " ".join(label.text for piece in pieces_of(front)[:1] for label in piece.draw().labels)
    assert alone == whole


def test_a_front_carved_too_little_says_so() -> None:
    front = front_of(depth=0.6)
    assert stops_of(front).settings == ()
    (piece,) = pieces_of(front)
    assert "too little for depth holes" in " ".join(label.text for label in piece.draw().labels)
