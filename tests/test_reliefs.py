"""Every kind of relief: what all of them promise, then what each of them is."""

import math

import numpy as np
import pytest
from helpers import CANVAS, FILE_KINDS, PLAIN_KINDS, at, layer_of, open_grid, relief_of

from facade.reliefs import KINDS, Canvas
from facade.reliefs.dunes import lopsided_wave
from facade.reliefs.noise import gradient_noise

every_kind = pytest.mark.parametrize("kind", PLAIN_KINDS)
SEEDED = [kind for kind in PLAIN_KINDS if "seed" in KINDS[kind].model_fields]
every_seeded_kind = pytest.mark.parametrize("kind", SEEDED)


def example_of(kind, **changes):
    """Return the heights of a kind's own example."""
    return relief_of(**layer_of(kind, **changes))


@every_kind
def test_the_example_gives_a_relief_with_some_depth(kind):
    z = example_of(kind)(*open_grid(CANVAS.width, CANVAS.height))
    assert np.ptp(z) > 0.1


@every_kind
def test_heights_are_finite_far_beyond_the_front(kind):
    x, y = open_grid(1e5, 1e5)
    assert np.isfinite(example_of(kind)(x - 5e4, y - 5e4)).all()


@every_kind
def test_an_open_grid_and_single_points_give_the_same_heights(kind):
    x, y = open_grid(CANVAS.width, CANVAS.height)
    full_x, full_y = np.meshgrid(x[0], y[:, 0])
    heights = example_of(kind)
    assert np.abs(heights(x, y) - heights(full_x.ravel(), full_y.ravel()).reshape(full_x.shape)).max() < 1e-9


@every_kind
def test_what_is_given_is_left_untouched(kind):
    x, y = open_grid(CANVAS.width, CANVAS.height)
    before = x.copy(), y.copy()
    example_of(kind)(x, y)
    assert np.array_equal(x, before[0])
    assert np.array_equal(y, before[1])


@every_kind
def test_a_hair_aside_the_height_is_all_but_the_same(kind):
    x, y = open_grid(CANVAS.width, CANVAS.height, 83, 71)
    heights = example_of(kind)
    assert np.abs(heights(x + 1e-6, y + 1e-6) - heights(x, y)).max() < 1e-5


@every_kind
def test_a_kind_says_what_it_is(kind):
    assert KINDS[kind].summary


def test_file_kinds_and_plain_kinds_are_all_kinds():
    assert set(PLAIN_KINDS) | FILE_KINDS == set(KINDS)


@every_seeded_kind
def test_another_seed_gives_another_relief(kind):
    x, y = open_grid(CANVAS.width, CANVAS.height)
    assert np.abs(example_of(kind, seed=1)(x, y) - example_of(kind, seed=2)(x, y)).max() > 0.1


@every_seeded_kind
@pytest.mark.parametrize("seed", [0, 255, 2**31 - 1])
def test_the_least_and_the_greatest_seed_serve(kind, seed):
    x, y = open_grid(CANVAS.width, CANVAS.height)
    assert np.ptp(example_of(kind, seed=seed)(x, y)) > 0.1


@every_seeded_kind
def test_seeds_256_apart_do_not_look_alike(kind):
    x, y = open_grid(CANVAS.width, CANVAS.height)
    assert np.abs(example_of(kind, seed=3)(x, y) - example_of(kind, seed=259)(x, y)).max() > 0.1


def test_waves_repeat_after_one_length_along_their_direction():
    waves = relief_of("waves", trains=[{"length": 80, "direction": 30}])
    step = 80 * np.array([math.cos(math.radians(30)), math.sin(math.radians(30))])
    assert at(waves, (17, 23)) == pytest.approx(at(waves, (17 + step[0], 23 + step[1])), abs=1e-9)


def test_waves_are_level_along_their_crests():
    waves = relief_of("waves", trains=[{"length": 80, "direction": 90}])
    assert at(waves, (0, 33)) == pytest.approx(at(waves, (512, 33)), abs=1e-9)


def test_a_phase_moves_crests_along_the_direction_of_travel():
    plain = relief_of("waves", trains=[{"length": 80}])
    shifted = relief_of("waves", trains=[{"length": 80, "phase": 90}])
    assert at(shifted, (20 + 20, 0)) == pytest.approx(at(plain, (20, 0)), abs=1e-9)


def test_trains_add():
    trains = [{"length": 80, "direction": 10}, {"length": 33, "direction": 70, "height": 0.4}]
    apart = sum(at(relief_of("waves", trains=[train]), (41, 7)) for train in trains)
    assert at(relief_of("waves", trains=trains), (41, 7)) == pytest.approx(apart, abs=1e-12)


def test_rings_crest_at_their_source_and_one_length_away_all_round():
    rings = relief_of("rings", length=50, sources=[{"centre": [300, 300]}])
    assert at(rings, (300, 300), (350, 300), (270, 340)) == pytest.approx(1.0, abs=1e-9)


def test_rings_fall_to_about_a_third_over_their_decay():
    rings = relief_of("rings", length=50, decay=400, sources=[{"centre": [0, 0]}])
    near, far = at(rings, (100, 0), (500, 0))
    assert far / near == pytest.approx(math.exp(-1.0), rel=0.01)


def test_a_phase_moves_rings_outward():
    rings = relief_of("rings", length=50, sources=[{"centre": [0, 0], "phase": 180}])
    assert at(rings, (25, 0)) == pytest.approx(1.0, abs=1e-9)


@pytest.mark.parametrize("windward", [0.5, 0.6, 0.72, 0.9])
def test_a_dune_rises_over_its_windward_share(windward):
    cycles = np.linspace(0.0, 1.0, 20001)
    wave = lopsided_wave(cycles, windward)
    rise = (cycles[wave.argmax()] - cycles[wave.argmin()]) % 1.0
    assert rise == pytest.approx(windward, abs=2e-4)


@pytest.mark.parametrize("windward", [0.5, 0.72, 0.9])
def test_a_dune_fills_the_range_of_minus_one_to_one(windward):
    wave = lopsided_wave(np.linspace(0.0, 1.0, 20001), windward)
    assert (wave.min(), wave.max()) == pytest.approx((-1.0, 1.0), abs=1e-6)


@pytest.mark.parametrize(
    ("kind", "sizes"),
    [
        ("hills", ["size"]),
        ("ridges", ["size"]),
        ("swell", ["size"]),
        ("facets", ["size"]),
        ("dunes", ["length"]),
        ("drape", ["fold", "fall"]),
    ],
)
def test_a_pattern_of_twice_the_size_is_the_same_drawn_twice_as_large(kind, sizes):
    x, y = open_grid(CANVAS.width, CANVAS.height)
    settings = layer_of(kind)
    larger = settings | {name: 2 * settings[name] for name in sizes}
    plain = relief_of(**settings)
    large = relief_of(**larger, canvas=Canvas(2 * CANVAS.width, 2 * CANVAS.height))
    assert np.allclose(large(2 * x, 2 * y), plain(x, y), atol=1e-9)


def test_hills_without_roughness_are_hills_of_one_size():
    x, y = open_grid(CANVAS.width, CANVAS.height)
    one, many = (relief_of("hills", size=90, octaves=count, roughness=0.0) for count in (1, 8))
    assert np.array_equal(one(x, y), many(x, y))


@pytest.mark.parametrize("rounding", [0.02, 0.3])
def test_crests_of_ridges_lie_lower_by_as_much_as_they_are_rounded(rounding):
    ridges = relief_of("ridges", size=100, octaves=1, rounding=rounding)
    x, y = open_grid(CANVAS.width, CANVAS.height, 401, 401)
    assert ridges(x, y).max() == pytest.approx(1.0 - 2 * rounding, abs=2e-3)


@pytest.mark.parametrize("lean", [-40.0, 0.0, 18.0])
def test_folds_that_are_not_carried_aside_run_straight_at_their_lean(lean):
    swell = relief_of("swell", size=100, flow=0.0, lean=lean)
    right = 300 * math.tan(math.radians(lean))
    assert at(swell, (130 + right, 300)) == pytest.approx(at(swell, (130, 0)), abs=1e-9)


def test_a_drawn_out_swell_is_calmer_along_the_strips():
    x, y = open_grid(2000, 2000, 401, 401)
    calm, round_ = (
        np.abs(np.diff(relief_of("swell", size=100, lean=0.0, draw=draw)(x, y), axis=0)).mean() for draw in (1.0, 0.0)
    )
    assert calm < 0.7 * round_


def test_still_lines_of_open_water_are_level_along_the_flow():
    stream = relief_of("stream", length=60, flow=90.0, ripple=0.0, meander=0.0)
    assert at(stream, (7, 0), (7, 333)) == pytest.approx(float(at(stream, (7, 100))[0]), abs=1e-9)


def test_a_stone_stands_above_the_water():
    stream = relief_of("stream", length=60, ripple=0.0, stones=[{"centre": [300, 300], "radius": 50, "height": 1.0}])
    x, y = open_grid(CANVAS.width, CANVAS.height, 141, 121)
    z = np.broadcast_to(stream(x, y), (121, 141))
    row, column = np.unravel_index(z.argmax(), z.shape)
    assert math.hypot(x[0, column] - 300, y[row, 0] - 300) < 50


def test_far_below_a_stone_the_stream_is_open_water_again():
    water = {"length": 60, "flow": 0.0, "ripple": 0.0, "meander": 0.0}
    near = relief_of("stream", **water, stones=[{"centre": [0, 0], "radius": 10}])
    assert at(near, (40000, 77)) == pytest.approx(at(relief_of("stream", **water), (40000, 77)), abs=1e-3)


@pytest.mark.parametrize("flow", [0.0, 37.0, 90.0])
def test_turning_the_flow_turns_the_whole_stream(flow):
    turn = math.radians(flow)
    stone = [80 * math.cos(turn), 80 * math.sin(turn)]
    there = (120 * math.cos(turn) - 30 * math.sin(turn), 120 * math.sin(turn) + 30 * math.cos(turn))
    level = relief_of("stream", length=50, flow=0.0, meander=0.0, stones=[{"centre": [80, 0], "radius": 30}])
    turned = relief_of("stream", length=50, flow=flow, meander=0.0, stones=[{"centre": stone, "radius": 30}])
    assert at(turned, there) == pytest.approx(at(level, (120, 30)), abs=1e-9)


def test_cloth_hangs_in_shallower_folds_at_the_top():
    drape = relief_of("drape", fold=100, fall=300, top=0.2, sway=0.0)
    x = np.linspace(0, 700, 701)[None, :]
    top, low = (np.ptp(drape(x, np.array([[y]]))) for y in (600.0, 0.0))
    assert top < 0.35 * low


def test_cloth_with_no_depth_at_the_top_is_flat_there():
    drape = relief_of("drape", fold=100, fall=300, top=0.0)
    assert at(drape, (0, 600), (41, 600), (333, 600)) == pytest.approx(0.0, abs=1e-12)


def test_softer_facets_are_never_higher_than_the_lowest_cut():
    x, y = open_grid(CANVAS.width, CANVAS.height)
    keen, soft = (relief_of("facets", size=80, softness=softness)(x, y) for softness in (0.01, 1.0))
    assert (soft <= keen + 1e-12).all()


def test_facets_are_longer_by_what_is_said():
    short, long = relief_of("facets", size=80, long=1.0), relief_of("facets", size=80, long=3.0)
    assert at(long, (51, 3 * 77)) == pytest.approx(at(short, (51, 77)), abs=1e-12)


def test_the_plate_passes_through_its_points():
    points = layer_of("points")["points"]
    plate = example_of("points")
    heights = [point["height"] for point in points]
    assert at(plate, *(point["place"] for point in points)) == pytest.approx(heights, abs=1e-9)


def test_a_plate_through_points_of_one_plane_is_that_plane():
    places = [(0, 0), (500, 30), (20, 400), (333, 222)]
    points = [{"place": place, "height": 3 + 0.01 * place[0] - 0.02 * place[1]} for place in places]
    plate = relief_of("points", points=points)
    assert at(plate, (100, 100), (600, 50)) == pytest.approx([2.0, 8.0], abs=1e-9)


@pytest.mark.parametrize(
    ("places", "reason"),
    [([(0, 0), (100, 100), (300, 300)], "one line"), ([(0, 0), (100, 0), (0, 100), (100, 0)], "points 2 and 4")],
)
def test_points_that_bear_no_plate_are_refused(places, reason):
    with pytest.raises(ValueError, match=reason):
        relief_of("points", points=[{"place": place, "height": 1} for place in places])


def test_a_pattern_too_fine_for_the_lattice_takes_no_more_memory_than_its_places():
    x, y = open_grid(2e6, 2e6)
    noise = gradient_noise(x, y, 3)
    assert np.array_equal(noise, gradient_noise(*np.broadcast_arrays(x, y), 3))
