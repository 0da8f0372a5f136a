"""Strips: exact edges and ends, and what a maker asks of each, against simple closed forms."""

import itertools
import math

import numpy as np
import pytest
from helpers import layer_of, small_front

from facade.errors import JobError
from facade.slicer import cut_strip, edge_heights, stations

GRAIN = 1e-6  # heights are rounded to about a millionth of a millimetre
LEVEL, ACROSS, ALONG = 10.0, 0.02, 0.04  # the plane's height at the lower left corner, and its rise


def plane(x, y):
    """Return the height of the test plane."""
    return LEVEL + ACROSS * x + ALONG * y


def plane_front(level=LEVEL, across=ACROSS, along=ALONG, **changes):
    """Return a front that is one plane."""
    points = [
        {"place": [x, y], "height": level + across * x + along * y} for x, y in ((0, 0), (200, 0), (0, 120), (200, 120))
    ]
    return small_front(**{"carving": {"fit": "as given"}, "layers": [{"kind": "points", "points": points}]} | changes)


def wave_front(length, height=3.0, phase=0.0, direction=0.0, **changes):
    """Return a front of 5 strips of 40 mm without gaps, waves of this length and height about a level of 13 mm."""
    points = [{"place": place, "height": 13} for place in ([0, 0], [200, 0], [0, 120])]
    train = {"length": length, "height": height, "phase": phase, "direction": direction}
    layers = [{"kind": "points", "points": points}, {"kind": "waves", "trains": [train]}]
    return small_front(**{"carving": {"fit": "as given"}, "layers": layers, "strips": {"count": 5, "gap": 0}} | changes)


def hills_front(**changes):
    """Return a front of hills."""
    return small_front(layers=[layer_of("hills", size=40)], **changes)


# ---- The grid of a strip


@pytest.mark.parametrize("step", [0.7, 1.0, 3.0, 50.0])
def test_edges_and_ends_are_exact(step):
    for strip in hills_front(sampling={"step": step}).strips():
        assert (strip.x[0], strip.x[-1]) == (strip.place.left, strip.place.right)
        assert (strip.y[0], strip.y[-1]) == (strip.place.bottom, strip.place.top)


@pytest.mark.parametrize("step", [0.7, 1.0, 3.0])
def test_places_are_nowhere_farther_apart_than_the_step(step):
    strip = hills_front(sampling={"step": step}).strip(3)
    assert max(np.diff(strip.x).max(), np.diff(strip.y).max()) <= step + 1e-9


def test_heights_stand_by_rows_from_the_bottom_and_columns_from_the_left():
    strip = plane_front().strip(4)
    assert strip.heights.shape == (len(strip.y), len(strip.x))
    assert np.abs(strip.heights - plane(strip.x[None, :], strip.y[:, None])).max() <= GRAIN


@pytest.mark.parametrize("number", [1, 4, 8])
def test_edge_lines_are_the_surface_at_the_exact_edges(number):
    front = hills_front()
    strip = front.strip(number)
    for x, line in ((strip.place.left, strip.left_edge), (strip.place.right, strip.right_edge)):
        assert np.abs(line - front.surface.at(np.full(len(strip.y), x), strip.y)).max() <= GRAIN


def test_without_gaps_facing_edges_are_one_line():
    strips = list(hills_front(strips={"count": 8, "gap": 0}).strips())
    for left, right in itertools.pairwise(strips):
        assert np.abs(left.right_edge - right.left_edge).max() <= GRAIN


def test_rows_count_from_the_top():
    strip = hills_front(front={"height": 120, "width": 200, "reveals": {"top": 15}}).strip(1)
    assert (strip.from_top[0], strip.from_top[-1]) == (strip.length, 0.0)


@pytest.mark.parametrize("number", [0, 9])
def test_a_strip_that_is_not_there_is_refused(number):
    with pytest.raises(JobError, match="strips 1 to 8"):
        hills_front().strip(number)


def test_a_strip_depends_on_job_and_number_alone():
    """Cut first or last, kept or cut again, in another front of the same job: it is the same."""
    front = hills_front()
    alone = front.strip(5).heights
    assert np.array_equal(list(hills_front().strips())[4].heights, alone)
    assert np.array_equal(cut_strip(front.job, front.layout, front.surface, 5).heights, alone)


# ---- Thinnest and thickest


def test_the_thinnest_place_of_a_plane_is_its_low_corner():
    strip = plane_front().strip(2)
    assert (strip.thinnest.from_top, strip.thinnest.from_left) == (120.0, 0.0)
    assert strip.thinnest.height == pytest.approx(plane(strip.place.left, 0), abs=GRAIN)


def test_the_thickest_place_of_a_plane_is_its_high_corner():
    strip = plane_front().strip(2)
    assert (strip.thickest.from_top, strip.thickest.from_left) == (0.0, pytest.approx(strip.width))
    assert strip.thickest.height == pytest.approx(plane(strip.place.right, 120), abs=GRAIN)


def test_the_hollow_of_a_wave_is_found_across_the_strip():
    strip = wave_front(80, phase=180).strip(1)
    assert strip.thinnest.from_left == pytest.approx(20.0)
    assert strip.thinnest.height == pytest.approx(10.0, abs=GRAIN)


# ---- Wood


def test_the_volume_under_a_plane_is_its_middle_height_times_its_area():
    for strip in plane_front().strips():
        middle = plane((strip.place.left + strip.place.right) / 2, 60)
        assert strip.volume == pytest.approx(middle * strip.width * strip.length, rel=1e-7)


def test_whole_waves_leave_the_volume_of_their_level():
    assert wave_front(40).strip(2).volume == pytest.approx(13 * 40 * 120, rel=1e-7)


def test_wood_left_and_wood_taken_are_the_blank():
    strip = hills_front().strip(3)
    assert strip.volume + strip.waste == pytest.approx(20 * strip.width * strip.length)


@pytest.mark.parametrize("sawing", [0.8, 2.0])
def test_the_share_of_the_saw_on_a_sloping_plane(sawing):
    """The saw follows the higher edge plus its allowance; the rest is left to the disc."""
    strip = plane_front(wood={"sawing": sawing}).strip(3)
    higher = plane(strip.place.right, 60)
    middle = plane((strip.place.left + strip.place.right) / 2, 60)
    assert strip.saw_share == pytest.approx((20 - higher - sawing) / (20 - middle), abs=1e-6)


def test_of_a_strip_left_whole_the_saw_takes_nothing():
    strip = plane_front(level=20, across=0, along=0, wood={"sanding": 0, "sawing": 0}).strip(1)
    assert (strip.saw_share, strip.waste) == (0.0, pytest.approx(0.0, abs=1e-6))


# ---- Lines


def test_the_twist_of_a_plane_is_its_fall_from_left_to_right_all_along():
    strip = plane_front().strip(6)
    assert np.abs(strip.twist + ACROSS * strip.width).max() <= 2 * GRAIN


def test_the_saw_line_is_the_higher_edge_and_the_sawing_allowance():
    strip = plane_front(wood={"sawing": 1.7}).strip(2)
    assert np.abs(strip.saw_line - (plane(strip.place.right, strip.y) + 1.7)).max() <= GRAIN


def test_the_saw_line_ends_at_the_blank():
    strip = plane_front(level=17, across=0, along=0.02, wood={"sawing": 2.0}).strip(2)
    assert strip.saw_line == pytest.approx(np.minimum(19.0 + 0.02 * strip.y, 20.0), abs=GRAIN)


def test_where_edges_cross_the_higher_one_counts():
    """A wave along a strip, skewed: now its left and now its right edge is higher."""
    strip = wave_front(60, direction=45).strip(2)
    assert strip.twist.min() < -1 < 1 < strip.twist.max()
    assert (strip.higher_edge >= strip.left_edge).all()
    assert (strip.higher_edge >= strip.right_edge).all()
    assert ((strip.higher_edge == strip.left_edge) | (strip.higher_edge == strip.right_edge)).all()


def test_the_carve_line_is_an_edge_and_the_sanding_allowance():
    strip = plane_front(wood={"sanding": 0.6}).strip(2)
    assert strip.carve_line(strip.left_edge) == pytest.approx(plane(strip.place.left, strip.y) + 0.6, abs=GRAIN)


# ---- What lies between the edges


def test_a_plane_is_a_straight_face_between_its_edges():
    assert plane_front().strip(5).ruler_error <= 2 * GRAIN


@pytest.mark.parametrize("phase", [0.0, 180.0])
def test_half_a_wave_across_misses_the_straight_face_by_its_height(phase):
    assert wave_front(80, phase=phase).strip(1).ruler_error == pytest.approx(3.0, abs=2 * GRAIN)


@pytest.mark.parametrize("sawing", [1.0, 2.5])
def test_a_crest_between_the_edges_stands_above_the_saw_line(sawing):
    assert wave_front(80, wood={"sawing": sawing}).strip(1).sawn_below_face == pytest.approx(3.0 - sawing, abs=GRAIN)


def test_a_hollow_between_the_edges_is_not_sawn_into():
    assert wave_front(80, phase=180).strip(1).sawn_below_face == 0.0


def test_mean_slopes_of_a_plane_are_its_own():
    strip = plane_front().strip(5)
    assert strip.slope_along == pytest.approx(math.degrees(math.atan(ALONG)), abs=1e-4)
    assert strip.slope_across == pytest.approx(math.degrees(math.atan(ACROSS)), abs=1e-4)


def test_a_wave_across_has_no_slope_along():
    strip = wave_front(40).strip(2)
    assert strip.slope_along == pytest.approx(0.0, abs=1e-6)
    assert strip.slope_across > 10


# ---- Stations


@pytest.mark.parametrize(("length", "every"), [(700.0, 25.0), (700.0, 25.4), (24.0, 25.0), (100.0, 33.3)])
def test_stations_run_from_the_top_to_the_very_end(length, every):
    marks = stations(length, every)
    assert (marks[0], marks[-1]) == (0.0, length)
    assert np.diff(marks)[:-1] == pytest.approx(every)
    assert 0 < np.diff(marks)[-1] <= every + 1e-6


def test_a_station_that_all_but_falls_on_the_end_is_the_end():
    assert np.array_equal(stations(75.0 + 1e-9, 25.0), [0.0, 25.0, 50.0, 75.0 + 1e-9])


def test_heights_at_stations_come_straight_from_the_surface():
    """Stations need not fall on the rows of the strip's grid."""
    front = plane_front(sampling={"step": 7})
    place, down = front.layout.strip(3), np.array([0.0, 13.1, 77.7, 120.0])
    left, right = edge_heights(front.surface, place, down)
    assert left == pytest.approx(plane(place.left, 120 - down), abs=GRAIN)
    assert right == pytest.approx(plane(place.right, 120 - down), abs=GRAIN)


def test_heights_that_were_asked_for_before_are_those_of_the_same_surface_strip_and_stations() -> None:
    """Every answer is held against the surface itself, however often and in whatever order is asked."""
    fronts = [small_front(), small_front(wood={"blank": 24, "floor": 10})]
    rng = np.random.default_rng(5)
    asked = [(front, number, rng.uniform(0, 100, size)) for front in fronts for number in (1, 2, 3) for size in (2, 5)]
    for front, number, down in asked + asked[::-1]:
        place = front.layout.strip(number)
        for x, heights in zip((place.left, place.right), edge_heights(front.surface, place, down), strict=True):
            assert heights.tolist() == front.surface.at(np.full(len(down), x), place.top - down).tolist()
