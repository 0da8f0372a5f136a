"""Patterns against closed forms of published sources, and against another library."""

import math

import numpy as np
import pytest
from helpers import CANVAS, at, layer_of, relief_of, small_front
from scipy.interpolate import RBFInterpolator

from facade.reliefs.dunes import lopsided_wave
from facade.reliefs.grid import catmull_rom, spline_heights
from facade.reliefs.stream import stream_function

# ---- Flow past a round pillar of radius 1, U = 1: G. K. Batchelor, "An Introduction to Fluid Dynamics", 1967, section 6.6.

STONE = [(0.0, 0.0, 1.0)]
ROUND = np.radians(np.arange(0.0, 360.0, 5.0))


def psi(r, theta, **more):
    """Return the stream function at polar places, theta in radians."""
    r, theta = np.asarray(r, dtype=np.float64), np.asarray(theta, dtype=np.float64)
    return stream_function(r * np.cos(theta), r * np.sin(theta), STONE, **more)


@pytest.mark.parametrize(("r", "degrees", "value"), [(2.0, 90.0, 1.5), (1.5, 45.0, 0.589256), (3.0, 60.0, 2.309401)])
def test_the_stream_function_has_its_published_values(r, degrees, value):
    assert psi(r, math.radians(degrees)) == pytest.approx(value, abs=1e-6)


def test_the_stones_outline_is_a_flow_line():
    assert np.abs(psi(1.0, ROUND)).max() < 1e-12


def test_the_axis_is_a_flow_line():
    x = np.linspace(-5.0, 5.0, 101)
    assert np.abs(stream_function(x, np.zeros(101), STONE)).max() < 1e-12


@pytest.mark.parametrize("speed", [1.0, 2.5])
def test_along_the_stone_the_water_runs_at_twice_the_sine(speed):
    h = 1e-4
    outward = [psi(1.0 + k * h, ROUND, speed=speed) for k in range(3)]
    along = (-3.0 * outward[0] + 4.0 * outward[1] - outward[2]) / (2.0 * h)
    assert np.abs(along) == pytest.approx(2.0 * speed * np.abs(np.sin(ROUND)), abs=1e-6)


def test_outside_the_stone_the_flow_has_no_whirl():
    """The Laplacian of psi is zero."""
    h = 1e-3
    r, theta = np.meshgrid(np.linspace(1.05, 6.0, 40), ROUND)
    x, y = r * np.cos(theta), r * np.sin(theta)
    around = [(x + h, y), (x - h, y), (x, y + h), (x, y - h)]
    laplacian = (sum(stream_function(u, v, STONE) for u, v in around) - 4.0 * stream_function(x, y, STONE)) / h**2
    assert np.abs(laplacian).max() < 1e-4


def test_far_from_the_stone_the_water_runs_straight():
    y = np.linspace(-3.0, 3.0, 13)
    assert stream_function(np.full(13, 1e5), y, STONE, speed=1.7) == pytest.approx(1.7 * y, abs=1e-8)


def test_with_a_keen_corner_the_rounded_flow_nears_the_published_one():
    assert np.abs(psi(1.3, ROUND, keen=200.0) - psi(1.3, ROUND)).max() < 1e-6


# ---- Two sources in step: cos a + cos b = 2 cos((a + b) / 2) cos((a - b) / 2).

LENGTH = 50.0
TWO = relief_of("rings", length=LENGTH, sources=[{"centre": [-100, 0]}, {"centre": [100, 0]}])


def test_two_rings_are_a_wave_inside_an_envelope():
    x, y = np.random.Generator(np.random.PCG64(3)).uniform(-300, 300, (2, 500))
    left, right = np.hypot(x + 100, y), np.hypot(x - 100, y)
    k = math.pi / LENGTH
    assert TWO(x, y) == pytest.approx(2.0 * np.cos(k * (left + right)) * np.cos(k * (left - right)), abs=1e-9)


def test_two_rings_are_still_where_one_way_is_half_a_length_longer():
    """The nodal hyperbola through (12.5, 0), where the ways are 112.5 and 87.5."""
    t = np.linspace(-3.0, 3.0, 201)
    x, y = 12.5 * np.cosh(t), math.sqrt(100.0**2 - 12.5**2) * np.sinh(t)
    assert np.abs(TWO(x, y)).max() < 1e-9


@pytest.mark.parametrize(("lengths", "height"), [(2, 2.0), (2.5, -2.0), (4, 2.0), (4.5, -2.0)])
def test_two_rings_double_on_the_axis_between_them(lengths, height):
    y = math.sqrt((lengths * LENGTH) ** 2 - 100.0**2)
    assert at(TWO, (0.0, y)) == pytest.approx(height, abs=1e-9)


def test_a_ring_is_as_steep_as_two_pi_of_its_height_over_its_length_and_no_steeper():
    ring = relief_of("rings", length=LENGTH, sources=[{"centre": [0, 0], "height": 0.7}])
    r = np.linspace(1.0, 400.0, 40001)
    slope = np.abs(np.diff(ring(0.6 * r, 0.8 * r)) / np.diff(r)).max()
    limit = 2.0 * math.pi * 0.7 / LENGTH
    assert limit * (1.0 - 1e-5) < slope <= limit * (1.0 + 1e-9)


# ---- Thin plate: J. Duchon, 1977; the reference is scipy's interpolator.


@pytest.mark.parametrize("count", [3, 4, 12, 80])
def test_the_plate_through_points_is_that_of_scipy(count):
    random = np.random.Generator(np.random.PCG64(count))
    places, heights = random.uniform(0, 600, (count, 2)), random.uniform(-5, 15, count)
    points = [
        {"place": list(place), "height": height}
        for place, height in zip(places.tolist(), heights.tolist(), strict=True)
    ]
    asked = random.uniform(-50, 650, (300, 2))
    reference = RBFInterpolator(places, heights, kernel="thin_plate_spline", degree=1)(asked)
    assert relief_of("points", points=points)(*asked.T) == pytest.approx(reference, abs=1e-7)


# ---- The spline through samples: E. Catmull and R. Rom, "A class of local interpolating splines", 1974.

COLUMNS, ROWS = np.meshgrid(np.linspace(0, 8, 65), np.linspace(0, 6, 49))
ACROSS, DOWN = np.meshgrid(np.arange(9.0), np.arange(7.0))


def test_the_weights_are_the_published_matrix():
    t = np.linspace(0.0, 1.0, 21)
    matrix = 0.5 * np.array([[0, 2, 0, 0], [-1, 0, 1, 0], [2, -5, 4, -1], [-1, 3, -3, 1]])
    assert catmull_rom(t) == pytest.approx(np.vander(t, 4, increasing=True) @ matrix, abs=1e-12)


def test_the_spline_passes_through_its_samples():
    samples = np.random.Generator(np.random.PCG64(8)).uniform(0, 9, ACROSS.shape)
    assert spline_heights(samples, ACROSS, DOWN) == pytest.approx(samples, abs=1e-12)


def test_the_spline_of_straight_data_is_straight_up_to_the_border():
    def plane(column, row):
        return 2.0 - 0.7 * column + 1.3 * row

    assert spline_heights(plane(ACROSS, DOWN), COLUMNS, ROWS) == pytest.approx(plane(COLUMNS, ROWS), abs=1e-12)


def test_the_spline_of_two_by_two_samples_is_straight_along_every_side():
    samples = np.array([[1.0, 3.0], [2.0, 8.0]])
    side, none = np.linspace(0.0, 1.0, 11), np.zeros(11)
    assert spline_heights(samples, side, none) == pytest.approx(1.0 + 2.0 * side, abs=1e-12)
    assert spline_heights(samples, none + 1.0, side) == pytest.approx(3.0 + 5.0 * side, abs=1e-12)


def test_the_spline_of_a_bowl_is_that_bowl_a_sample_from_the_border_on():
    def bowl(column, row):
        return 0.4 * column**2 - 0.9 * column * row + 0.2 * row**2 - row

    inside = (COLUMNS >= 1) & (COLUMNS <= 7) & (ROWS >= 1) & (ROWS <= 5)
    spline = spline_heights(bowl(ACROSS, DOWN), COLUMNS, ROWS)
    assert spline[inside] == pytest.approx(bowl(COLUMNS, ROWS)[inside], abs=1e-12)


def test_the_spline_has_no_crease_at_a_sample():
    samples = np.random.Generator(np.random.PCG64(8)).uniform(0, 9, ACROSS.shape)
    i, j, h = ACROSS[1:-1, 1:-1] + 0.0, DOWN[1:-1, 1:-1] + 0.37, 1e-6
    before, here, after = (spline_heights(samples, i + k * h, j) for k in (-1, 0, 1))
    assert np.abs((after - here) - (here - before)).max() / h < 1e-3


# ---- The lopsided wave is the angle of 1 - s e^(ia); log(1 - z) = -(z + z^2/2 + z^3/3 + ...),
# M. Abramowitz and I. A. Stegun, "Handbook of Mathematical Functions", 1964, 4.1.24.


@pytest.mark.parametrize("windward", [0.55, 0.63, 0.8])
def test_a_lopsided_wave_is_its_series(windward):
    lean = math.cos(math.pi * (1.0 - windward))
    cycles = np.linspace(0.0, 1.0, 201)
    series = sum(lean**n * np.sin(-2.0 * math.pi * n * cycles) / n for n in range(1, 900))
    assert lopsided_wave(cycles, windward) == pytest.approx(series / math.asin(lean), abs=1e-9)


@pytest.mark.parametrize("windward", [0.5, 0.63, 0.8, 0.9])
def test_a_lopsided_wave_rises_over_its_windward_share_and_falls_over_the_rest(windward):
    parts = 20000
    rising = np.diff(lopsided_wave(np.linspace(0.0, 1.0, parts + 1), windward)) > 0
    assert rising.mean() == pytest.approx(windward, abs=2.0 / parts)
    assert np.count_nonzero(rising != np.roll(rising, 1)) == 2


# ---- Wood left in strips of plane waves: the integral of sin(ax + by) over a rectangle is known.


def wave_integral(train, left, right, bottom, top):
    """Return the integral of a train's sine over a rectangle, sin taken once where its crests are not plumb or level."""
    k, turn = 2.0 * math.pi / train["length"], math.radians(train.get("direction", 0.0))
    a, b = k * math.cos(turn), k * math.sin(turn)
    # The integral of e^(i(ax + by)) is that of e^(iax) times that of e^(iby); np.sinc(x) is sin(pi x) / (pi x).
    across = (right - left) * np.exp(0.5j * a * (left + right)) * np.sinc(a * (right - left) / (2.0 * math.pi))
    along = (top - bottom) * np.exp(0.5j * b * (bottom + top)) * np.sinc(b * (top - bottom) / (2.0 * math.pi))
    return train.get("height", 1.0) * (across * along).imag


@pytest.mark.parametrize(
    "trains",
    [
        [{"length": 60.0}],
        [{"length": 45.0, "direction": 90.0}],
        [{"length": 70.0, "direction": 30.0}, {"length": 41.0, "direction": -55.0, "height": 0.4}],
    ],
)
def test_the_volume_of_a_strip_of_waves_is_its_integral(trains):
    step = 0.5
    front = small_front(layers=[{"kind": "waves", "trains": trains}], sampling={"step": step})
    fitted = front.surface.fitted
    for strip in front.strips():
        place, area = strip.place, strip.width * strip.length
        waves = sum(wave_integral(train, place.left, place.right, place.bottom, place.top) for train in trains)
        # The trapezium rule errs by h^2/12 of the bend, both ways.
        bend = fitted.scale * sum(train.get("height", 1.0) * (2.0 * math.pi / train["length"]) ** 2 for train in trains)
        assert strip.volume == pytest.approx(
            fitted.offset * area + fitted.scale * waves, abs=2 * step**2 / 12 * bend * area
        )


def test_the_example_of_rings_never_exceeds_its_sources_together():
    """At most the sum of the heights: every ring lies between its height and minus its height."""
    settings = layer_of("rings") | {"decay": None}
    x, y = np.linspace(0, CANVAS.width, 351)[None, :], np.linspace(0, CANVAS.height, 301)[:, None]
    assert np.abs(relief_of(**settings)(x, y)).max() <= sum(source.get("height", 1.0) for source in settings["sources"])
