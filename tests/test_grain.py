"""Grain: crests, hollows, strokes, slopes and fibres of known shapes, and what the check says of them."""

from __future__ import annotations

import math
import re
from collections.abc import Callable
from itertools import pairwise
from typing import Any

import numpy as np
import pytest
from helpers import small_front, small_job
from scipy.signal import find_peaks

from facade.checks import Finding, Weight, grouped
from facade.checks.grain import check
from facade.front import Front
from facade.layout import StripPlace
from facade.measuring.grain import PROMINENCE, Ends, Grain, Kind, Line, Stroke, Turn, grain_of, strokes
from facade.slicer import Strip

LENGTH, WIDTH = 400.0, 18.0


def strip_of(heights: Callable[[np.ndarray, np.ndarray], np.ndarray], *, rows: int = 401, columns: int = 19) -> Strip:
    """Return a strip with heights of (from left, from top)."""
    place = StripPlace(1, 1, 100.0, 100.0 + WIDTH, 50.0, 50.0 + LENGTH, None, None)
    x, y = np.linspace(place.left, place.right, columns), np.linspace(place.bottom, place.top, rows)
    z = heights(x[None, :] - place.left, place.top - y[:, None])
    return Strip(place, x, y, np.broadcast_to(z, (rows, columns)).astype(float), 40.0, 0.8, 1.5)


def grain(heights: Callable[[np.ndarray, np.ndarray], np.ndarray], **how: int) -> Grain:
    return grain_of(small_job(), strip_of(heights, **how))


def along(places: list[float], heights: list[float]) -> Callable[[np.ndarray, np.ndarray], np.ndarray]:
    """Return heights that run straight between places from the top, alike across the strip."""
    return lambda x, y: np.interp(y, places, heights) + 0.0 * x


def turns_on(found: Grain, line: Line) -> list[Turn]:
    return [turn for turn in found.turns if turn.line is line]


# Turns


@pytest.mark.parametrize("columns", [19, 20])
def test_crests_and_hollows_of_a_wave_are_found_far_finer_than_the_step(columns: int) -> None:
    """The crests of a wave that runs a little askew stand at different places on its three lines."""
    found = grain(lambda x, y: 12.0 + 3.0 * np.cos(2.0 * np.pi * (y - 30.3 - 0.5 * x) / 97.0), columns=columns)
    for line, from_left in ((Line.LEFT, 0.0), (Line.CENTRE, WIDTH / 2), (Line.RIGHT, WIDTH)):
        wanted = [30.3 + 0.5 * from_left + 48.5 * k for k in range(-1, 9)]
        wanted = [place for place in wanted if 0.0 < place < LENGTH]
        assert [turn.from_top for turn in turns_on(found, line)] == pytest.approx(wanted, abs=1e-3)
        assert {round(turn.height, 2) for turn in turns_on(found, line) if turn.kind is Kind.CREST} == {15.0}
        assert {round(turn.height, 2) for turn in turns_on(found, line) if turn.kind is Kind.HOLLOW} == {9.0}


def test_a_level_crest_gives_its_middle() -> None:
    (turn, *others) = turns_on(grain(along([0, 100, 150, 400], [8, 14, 14, 9])), Line.CENTRE)
    assert others == []
    assert (turn.kind, turn.from_top, turn.height) == (Kind.CREST, pytest.approx(125.0), 14.0)


@pytest.mark.parametrize(("height", "counted"), [(0.9 * PROMINENCE, False), (1.1 * PROMINENCE, True)])
def test_a_ripple_counts_from_its_prominence_on(height: float, counted: bool) -> None:
    ripple = along([0, 190, 200, 210, 400], [8, 12, 12 - height, 12, 8])
    kinds = [turn.kind for turn in turns_on(grain(ripple), Line.LEFT)]
    assert kinds == ([Kind.CREST, Kind.HOLLOW, Kind.CREST] if counted else [Kind.CREST])


def test_ends_are_no_turns() -> None:
    assert grain(along([0, 400], [8, 14])).turns == ()
    assert grain(along([0, 3, 397, 400], [8, 8.01, 13.99, 14])).turns == ()
    assert grain(lambda x, y: 10.0 + 0.0 * (x + y)).turns == ()


def rough_strip(seed: int) -> Strip:
    layer = {"kind": "hills", "size": 40, "octaves": 5, "seed": seed}
    return small_front(front={"width": 60, "height": 500}, strips={"count": 2}, layers=[layer]).strip(1)


@pytest.mark.parametrize("seed", range(6))
def test_turns_are_the_prominent_peaks_that_scipy_finds(seed: int) -> None:
    strip = rough_strip(seed)
    found = grain_of(small_job(), strip)
    for line, heights in ((Line.LEFT, strip.left_edge[::-1]), (Line.RIGHT, strip.right_edge[::-1])):
        for kind, sign in ((Kind.CREST, 1.0), (Kind.HOLLOW, -1.0)):
            peaks, _ = find_peaks(sign * heights, prominence=PROMINENCE)
            places = [turn.from_top for turn in turns_on(found, line) if turn.kind is kind]
            assert places == pytest.approx(strip.from_top[::-1][peaks], abs=0.51)


@pytest.mark.parametrize("seed", range(6))
def test_crests_and_hollows_alternate(seed: int) -> None:
    found = grain_of(small_job(), rough_strip(seed))
    for line in Line:
        turns = turns_on(found, line)
        assert len(turns) > 5
        assert all(first.kind is not second.kind for first, second in pairwise(turns))
        assert all(first.from_top < second.from_top for first, second in pairwise(turns))


# Strokes


def test_strokes_run_from_crests_and_ends_down_into_hollows() -> None:
    found = grain(along([0, 100, 250, 400], [10, 15, 8, 12]))
    of_centre = [stroke for stroke in found.strokes if stroke.line is Line.CENTRE]
    assert [(round(one.start), round(one.end)) for one in of_centre] == [(100, 0), (100, 250), (400, 250)]


def test_strokes_follow_from_turns_and_end_heights_alone() -> None:
    hollow = Turn(Line.RIGHT, Kind.HOLLOW, 120.0, 8.0)
    assert strokes([hollow], [Ends(Line.RIGHT, 9.0, 12.0)], 300.0) == (
        Stroke(Line.RIGHT, 0.0, 120.0),
        Stroke(Line.RIGHT, 300.0, 120.0),
    )
    assert strokes([], [Ends(Line.LEFT, 9.0, 12.0)], 300.0) == (Stroke(Line.LEFT, 300.0, 0.0),)
    assert strokes([], [Ends(Line.LEFT, 12.0, 9.0)], 300.0) == (Stroke(Line.LEFT, 0.0, 300.0),)
    assert strokes([], [Ends(Line.LEFT, 12.0, 12.01)], 300.0) == ()


@pytest.mark.parametrize("seed", range(6))
def test_strokes_cover_every_line_go_downhill_and_meet_only_in_hollows(seed: int) -> None:
    strip = rough_strip(seed)
    found = grain_of(small_job(), strip)
    for line, heights in ((Line.LEFT, strip.left_edge[::-1]), (Line.RIGHT, strip.right_edge[::-1])):
        of_line = [stroke for stroke in found.strokes if stroke.line is line]
        spans = sorted((min(one.start, one.end), max(one.start, one.end)) for one in of_line)
        assert [spans[0][0], spans[-1][1]] == [0.0, strip.length]
        assert all(first[1] == second[0] for first, second in pairwise(spans))
        hollows = {turn.from_top for turn in turns_on(found, line) if turn.kind is Kind.HOLLOW}
        met = [one.end for one in of_line if 0.0 < one.end < strip.length]
        assert set(met) == hollows
        assert all(met.count(hollow) == 2 for hollow in hollows)
        at = np.interp([[one.start, one.end] for one in of_line], strip.from_top[::-1], heights)
        assert (at[:, 0] > at[:, 1]).all()


# Slopes


def test_the_steepest_place_of_a_wave_is_named_with_its_slope() -> None:
    """z = a cos(2 pi y / l) is steepest where it crosses its middle, with slope 2 pi a / l; here a grows to the right."""
    found = grain(lambda x, y: 14.0 + (2.0 + 0.1 * x) * np.cos(2.0 * np.pi * y / 800.0 * 5.0), rows=1601).steepest
    assert found.degrees == pytest.approx(math.degrees(math.atan(2.0 * math.pi * 3.8 / 160.0)), abs=1e-3)
    assert found.from_left == pytest.approx(WIDTH)
    assert min(abs(found.from_top - place) for place in (40.0, 120.0, 200.0, 280.0, 360.0)) < 0.5


@pytest.mark.parametrize("rows", [201, 401, 1601])
def test_a_straight_slope_has_its_angle_whatever_the_step(rows: int) -> None:
    found = grain(along([0, 100, 110, 400], [8, 8, 14, 14]), rows=rows).steepest
    assert found.degrees == pytest.approx(math.degrees(math.atan(0.6)))
    assert found.from_top == pytest.approx(105, abs=5)


def test_stretches_steeper_than_the_limit_are_listed_from_the_top_and_joined_when_close() -> None:
    places = [0, 50, 60, 69, 79, 200, 210, 221, 231, 400]
    found = grain(along(places, [8, 8, 12, 12, 16, 16, 12, 12, 8, 8]))
    assert [(one.start, one.end) for one in found.stretches] == [(50, 79), (200, 210), (221, 231)]


def test_the_limit_of_steep_stretches_can_be_set() -> None:
    gentle = strip_of(along([0, 100, 200, 400], [8, 8, 20, 20]))  # 6.8 degrees
    assert grain_of(small_job(), gentle).stretches == ()
    (found,) = grain_of(small_job(limits={"slope_watch": 6.0}), gentle).stretches
    assert (found.start, found.end) == pytest.approx((100.0, 200.0))


# Fibres


def test_fibre_below_a_round_crest_is_the_chord_of_its_circle() -> None:
    """3 mm below the top of a circle of radius r the chord is 2 sqrt(6 r - 9)."""
    radius = 20.0

    def crest(x: np.ndarray, y: np.ndarray) -> np.ndarray:
        return np.maximum(12.0 - radius + np.sqrt(np.maximum(radius**2 - (y - 130.2) ** 2, 0.0)), 4.0) + 0.0 * x

    found = grain(crest, rows=4001).shortest
    assert found is not None
    assert found.length == pytest.approx(2.0 * math.sqrt(6.0 * radius - 9.0), abs=1e-3)
    assert found.from_top == pytest.approx(130.2, abs=1e-3)


def test_fibre_at_an_end_that_falls_inwards_reaches_to_where_it_has_fallen_3_mm() -> None:
    found = grain(along([0, 20, 400], [16, 8, 9])).shortest
    assert found is not None
    assert (found.from_top, found.length) == pytest.approx((0.0, 3.0 / 0.4))
    found = grain(along([0, 380, 400], [9, 8, 16])).shortest
    assert found is not None
    assert (found.from_top, found.length) == pytest.approx((400.0, 3.0 / 0.4))


def test_the_end_of_a_strip_cuts_the_fibre_of_a_crest_beside_it() -> None:
    found = grain(along([0, 6, 26, 400], [15, 16, 8, 9])).shortest
    assert found is not None
    assert (found.from_top, found.length) == pytest.approx((6.0, 6.0 + 3.0 / 0.4), abs=0.25)


def test_the_shortest_fibre_is_looked_for_on_all_three_lines() -> None:
    def ridge(x: np.ndarray, y: np.ndarray) -> np.ndarray:
        return 8.0 + np.maximum(6.0 - 0.5 * (1.0 + x / WIDTH) * np.abs(y - 200.0), 0.0)

    found = grain(ridge).shortest
    assert found is not None
    assert (found.from_left, found.length) == pytest.approx((WIDTH, 6.0))


@pytest.mark.parametrize("heights", [[10, 12.9, 10], [13, 10.1, 13], [10, 10, 10]])
def test_where_no_fibre_is_cut_none_is_named(heights: list[float]) -> None:
    assert grain(along([0, 200, 400], heights)).shortest is None


# The check


def waves(length: float, rise: float, **changes: Any) -> Front:
    """Return a front of level crests, `length` apart and `rise` above and below 12 mm; its lower edge is in a hollow."""
    level = [{"place": [x, y], "height": "12 mm"} for x, y in ((0, 0), (9, 0), (0, 9))]
    trains = [{"length": f"{length} mm", "direction": 90, "height": rise, "phase": 90}]
    layers = [{"kind": "points", "points": level}, {"kind": "waves", "combine": "add", "trains": trains}]
    settings: dict[str, Any] = {"carving": {"fit": "as given"}, "wood": {"blank": 24, "floor": 4}, "layers": layers}
    return small_front(**settings | changes)


def rise_of(degrees: float, length: float = 60.0) -> float:
    """Return the height of a wave whose steepest slope is so many degrees: 2 pi a / l."""
    return math.tan(math.radians(degrees)) * length / (2.0 * math.pi)


def steep(front: Front) -> list[Finding]:
    return [finding for finding in check(front) if finding.unit == "degrees"]


def short(front: Front) -> list[Finding]:
    return [finding for finding in check(front) if finding.topic == "short grain"]


@pytest.mark.parametrize(
    ("degrees", "weight", "limit"),
    [(14.0, None, None), (18.0, Weight.KNOW, 15.0), (32.0, Weight.LOOK, 30.0), (37.0, Weight.STOPS, 35.0)],
)
def test_a_slope_weighs_by_the_limit_it_is_beyond(degrees: float, weight: Weight | None, limit: float | None) -> None:
    found = steep(waves(60.0, rise_of(degrees)))
    assert {(one.weight, one.limit) for one in found} == (set() if weight is None else {(weight, limit)})
    assert all(one.value == pytest.approx(degrees, abs=0.1) for one in found)


def test_steep_strips_are_drawn_together_one_finding_each() -> None:
    found = steep(waves(60.0, rise_of(32.0)))
    assert [one.strip for one in found] == list(range(1, 9))
    (group,) = grouped(found)
    assert len(group.strips) == 7


def planted(**changes: Any) -> Front:
    """Return a level front with a steep hill on its fifth strip, 40 mm from the top."""
    around = [{"place": [x, y], "height": 12} for x in (0, 90, 135, 200) for y in (0, 62, 98, 120)]
    hill = {"kind": "points", "points": [*around, {"place": [112.5, 80], "height": 22}]}
    return small_front(
        **{"carving": {"fit": "as given"}, "wood": {"blank": 26, "floor": 4}, "layers": [hill]} | changes
    )


def test_a_planted_steep_place_is_named_at_its_strip_and_millimetre() -> None:
    front = planted()
    worst = max(steep(front), key=lambda one: one.value or 0.0)
    strip = front.strip(5)
    assert worst.strip == 5
    assert worst.from_top is not None
    assert 0.0 < abs(worst.from_top - 40.0) < 20.0
    row = int(np.abs(strip.from_top - worst.from_top).argmin())
    column = int(np.abs(strip.x - strip.place.left - worst.from_left).argmin())
    around = strip.heights[row - 1 : row + 2, column]
    step = strip.y[1] - strip.y[0]
    assert np.degrees(np.arctan(np.abs(np.diff(around)).max() / step)) == pytest.approx(worst.value, abs=1e-6)
    assert f"Strip 5 rises at {worst.value:.0f} degrees, {worst.from_top:.0f} mm from the top" in worst.sentence


def number_after(words: str, text: str) -> float:
    found = re.search(words + r" (\d+(?:\.\d+)?)", text)
    assert found is not None
    return float(found[1])


@pytest.mark.parametrize("degrees", [31.0, 36.0, 50.0])
def test_stretching_as_the_cure_says_leaves_nothing_to_look_at(degrees: float) -> None:
    rise = rise_of(degrees)
    (group,) = grouped(steep(waves(60.0, rise)))
    times = number_after("very layer", group.worst.cure)
    assert {one.weight for one in steep(waves(60.0 * times, rise))} == {Weight.KNOW}


@pytest.mark.parametrize("degrees", [31.0, 36.0, 50.0])
def test_heights_lessened_as_the_cure_says_leave_nothing_to_look_at(degrees: float) -> None:
    rise = rise_of(degrees)
    (group,) = grouped(steep(waves(60.0, rise)))
    depth = number_after("carving.depth =", group.worst.cure)
    cured = waves(60.0, rise, carving={"fit": "depth", "depth": depth})
    assert {one.weight for one in steep(cured)} == {Weight.KNOW}


@pytest.mark.parametrize("carving", [{"fit": "full"}, {"fit": "depth", "depth": 11.0}])
def test_carving_as_deep_as_the_cure_says_leaves_nothing_to_look_at(carving: dict[str, Any]) -> None:
    layers = [{"kind": "waves", "trains": [{"length": 45, "direction": 90}]}]
    group, *_ = grouped(steep(small_front(carving=carving, layers=layers)))
    assert group.worst.weight is Weight.STOPS
    depth = number_after("carving.depth =", group.worst.cure)
    cured = steep(small_front(carving={"fit": "depth", "depth": depth}, layers=layers))
    assert {one.weight for one in cured} <= {Weight.KNOW}


def test_where_it_is_watched_the_stretches_for_a_finer_grit_are_named() -> None:
    front = waves(100.0, rise_of(18.0, 100.0))
    (found, *_) = steep(front)
    stretches = front.measures()[0].grain.stretches
    assert len(stretches) == 3
    for stretch in stretches:
        assert f"{stretch.start:.0f} mm to {stretch.end:.0f} mm" in found.cure


def test_limits_of_slope_set_in_the_job_are_obeyed_and_said() -> None:
    found = steep(waves(60.0, rise_of(18.0), limits={"slope_steep": 17.0}))
    assert {(one.weight, one.limit, one.source) for one in found} == {(Weight.LOOK, 17.0, "said in the job")}
    assert steep(waves(60.0, rise_of(32.0), limits={"slope_watch": 33.0, "slope_steep": 33.0})) == []


LEVEL = [{"kind": "points", "points": [{"place": [x, y], "height": 8} for x, y in ((0, 0), (200, 0), (0, 120))]}]


@pytest.mark.parametrize("blend", [0.0, 4.0])
def test_the_blend_of_a_land_is_named_and_its_cure_works(blend: float) -> None:
    land = {"centre": [100, 60], "size": [60, 20], "height": 14, "blend": blend}

    def with_blend(wide: float) -> Front:
        return small_front(carving={"fit": "as given"}, layers=LEVEL, lands=[land | {"blend": wide}])

    worst = max(steep(with_blend(blend)), key=lambda one: one.value or 0.0)
    assert worst.weight is Weight.STOPS
    wide = number_after(r"lands\[1\].blend =", worst.cure)
    assert wide == pytest.approx(15 / 8 * 6 / math.tan(math.radians(30)), rel=0.08)
    assert {one.weight for one in steep(with_blend(wide))} <= {Weight.KNOW}


def test_the_blend_of_a_cap_is_named_and_its_cure_works() -> None:
    layers = [{"kind": "points", "points": [{"place": [x, y], "height": 18} for x, y in ((0, 0), (200, 0), (0, 120))]}]

    def capped(blend: float) -> Front:
        caps = [{"edge": "top", "width": 20, "height": 8, "blend": blend}]
        return small_front(carving={"fit": "as given"}, layers=layers, caps=caps)

    worst = max(steep(capped(10.0)), key=lambda one: one.value or 0.0)
    cured = capped(number_after(r"caps\[1\].blend =", worst.cure))
    assert {one.weight for one in steep(cured)} <= {Weight.KNOW}


def test_the_width_of_a_fade_is_named_and_its_cure_works() -> None:
    def faded(width: float) -> Front:
        fades = [{"edge": "bottom", "width": width, "height": 18}]
        return small_front(carving={"fit": "as given"}, layers=LEVEL, fades=fades)

    worst = max(steep(faded(15.0)), key=lambda one: one.value or 0.0)
    cured = faded(number_after(r"fades\[1\].width =", worst.cure))
    assert {one.weight for one in steep(cured)} <= {Weight.KNOW}


def with_pull(depth: float, layers: list[dict[str, Any]]) -> Front:
    pulls = [{"centre": [100, 60], "size": [60, 40], "depth": depth}]
    carving = {"fit": "as given"}
    return small_front(carving=carving, wood={"blank": 30, "floor": 4}, layers=layers, pulls=pulls)


def test_the_walls_of_a_finger_pull_are_good_to_know_and_hide_no_other_slope() -> None:
    level = [{"kind": "points", "points": [{"place": [x, y], "height": 20} for x, y in ((0, 0), (9, 0), (0, 9))]}]
    found = steep(with_pull(12.0, level))
    assert {one.weight for one in found} == {Weight.KNOW}
    assert {one.strip for one in found} <= {3, 4, 5, 6}
    assert all(40.0 <= one.from_top <= 80.0 for one in found if one.from_top)
    ridge = [
        {"kind": "waves", "combine": "add", "trains": [{"length": 30, "direction": 90, "height": rise_of(40.0, 30.0)}]}
    ]
    both = steep(with_pull(12.0, [*level, *ridge]))
    assert {one.strip for one in both if one.weight is Weight.STOPS} == set(range(1, 9))
    assert {one.strip for one in both if one.weight is Weight.KNOW} >= {one.strip for one in found}


def test_a_rounder_rim_makes_the_walls_of_a_pull_as_gentle_as_the_cure_says() -> None:
    level = [{"kind": "points", "points": [{"place": [x, y], "height": 12} for x, y in ((0, 0), (9, 0), (0, 9))]}]

    def walls(edge: float) -> list[Finding]:
        pulls = [{"centre": [100, 60], "size": [60, 60], "depth": 6, "edge": edge}]
        how = {"carving": {"fit": "as given"}, "wood": {"floor": 4}, "sampling": {"step": 0.25}}
        return steep(small_front(**how, layers=level, pulls=pulls))

    (found,) = grouped(walls(3.0))
    edge = number_after(r"pulls\[1\].edge =", found.worst.cure)
    assert edge > 3.0
    assert walls(edge) == []


def test_short_grain_is_named_at_its_crest_and_its_cure_works() -> None:
    found = short(waves(20.0, 4.0))
    # On a wave of height a and length l the fibre d below a crest is l / pi * acos(1 - d / a) long.
    assert [one.value for one in found] == pytest.approx([20.0 / math.pi * math.acos(0.25)] * 8, rel=0.02)
    assert {one.weight for one in found} == {Weight.LOOK}
    assert found[0].from_top is not None
    assert (found[0].from_top + 10.0) % 20.0 == pytest.approx(0.0, abs=0.1)
    times = number_after("very layer", found[0].cure)
    assert short(waves(20.0 * times, 4.0)) == []


def test_the_radius_that_the_cure_names_gives_fibres_of_the_limit() -> None:
    (found, *_) = short(waves(20.0, 4.0, limits={"short_grain": 16.0}))
    radius = number_after("radius of at least", found.cure)
    assert (found.limit, found.source) == (16.0, "said in the job")
    assert 2.0 * math.sqrt(6.0 * radius - 9.0) == pytest.approx(16.0, abs=0.1)


def test_gentle_strips_are_not_complained_of() -> None:
    assert check(waves(120.0, 3.0)) == []


@pytest.mark.parametrize("degrees", [18.0, 60.0])
def test_a_job_in_inches_prints_no_millimetres(degrees: float) -> None:
    size = {"width": "200 mm", "height": "120 mm"}
    wood = {"blank": "24 mm", "floor": "4 mm"}
    found = check(waves(20.0, max(rise_of(degrees, 20.0), 3.5), unit="in", front=size, wood=wood))
    assert {one.topic for one in found} >= {"short grain"}
    assert " in " in found[0].sentence
    assert not any("mm" in one.sentence + one.cure + one.caution for one in found)
