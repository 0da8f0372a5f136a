"""Closing by a cutter's body: bit for bit what an independent library gives, and the closed form of a hollow."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.ndimage import grey_closing

from facade.arrays import Array
from facade.closing import Ball, Body, Disc, closing

SQUARE = (1.0, 1.0)
BODIES = [Ball(7.0), Ball(12.5), Disc(14.0, 4.0), Disc(11.0, 11.0), Disc(9.0, 0.0)]


def structure(body: Body, spacing: tuple[float, float]) -> tuple[Array, Array]:
    """Return a body as the library wants it: heights on a grid, and which places belong to it."""
    x, y = (
        np.arange(-int(reach / step) - 1, int(reach / step) + 2) * step
        for reach, step in zip(body.extent, spacing, strict=True)
    )
    below = body.below(x[None, :], y[:, None])
    inside = np.isfinite(below)
    return np.where(inside, below, 0.0), inside


def closed_by_library(heights: Array, body: Body, spacing: tuple[float, float], mode: str = "nearest") -> Array:
    """Return the closing by scipy.

    Its borders "nearest", "mirror" and "reflect" repeat heights further away than they are, where a body that nowhere
    comes down again away from its middle cannot meet them first: all three give what an open border gives.
    """
    shape, inside = structure(body, spacing)
    return grey_closing(heights, footprint=inside, structure=shape, mode=mode)


def relief(kind: str, shape: tuple[int, int] = (70, 55), spacing: tuple[float, float] = SQUARE, seed: int = 3) -> Array:
    """Return heights: waves with a greatest slope of 0.12 or 1, a random walk, or noise without any order."""
    chance = np.random.default_rng(seed)
    if kind == "random":
        return chance.normal(0.0, 2.0, shape)
    if kind == "rough":
        return np.cumsum(np.cumsum(chance.normal(0.0, 0.05, shape), axis=0), axis=1)
    x, y = np.arange(shape[1]) * spacing[0], np.arange(shape[0])[:, None] * spacing[1]
    z = np.zeros(shape)
    for turn, phase in chance.uniform(0.0, 2 * np.pi, (5, 2)):
        length = chance.uniform(18.0, 60.0)
        z += length * np.sin(2 * np.pi / length * (x * np.cos(turn) + y * np.sin(turn)) + phase)
    slope = np.hypot(*np.gradient(z, spacing[1], spacing[0])).max()
    return z * {"gentle": 0.12, "steep": 1.0}[kind] / slope


def cylinder(radius: float, width: float, x: Array) -> Array:
    """Return a level face at 0 with a round hollow of a radius and a width in its middle, along the other direction."""
    chord = np.sqrt(radius**2 - (width / 2) ** 2)
    return np.where(np.abs(x) < width / 2, chord - np.sqrt(np.maximum(radius**2 - x**2, 0.0)), 0.0)


def crescent(cutter: float, hollow: float, width: float, x: Array) -> Array:
    """Return what a circle that rests on the two arrises of a hollow leaves standing in it, by plain circle geometry."""
    rest = np.sqrt(cutter**2 - (width / 2) ** 2) - np.sqrt(np.maximum(cutter**2 - x**2, 0.0))
    return np.where(np.abs(x) < width / 2, rest, 0.0) - cylinder(hollow, width, x)


def steepened(radius: float, width: float) -> float:
    """Return how much more a circle bends, measured upright, at the arris of a hollow than at its bottom: (1 + z'^2)^(3/2)."""
    return (1 + (width / 2) ** 2 / (radius**2 - (width / 2) ** 2)) ** 1.5


@pytest.mark.parametrize("spacing", [SQUARE, (0.7, 1.0), (1.3, 0.6)])
@pytest.mark.parametrize("body", BODIES, ids=str)
@pytest.mark.parametrize("kind", ["gentle", "steep", "rough", "random"])
def test_closing_is_that_of_scipy_bit_for_bit(kind: str, body: Body, spacing: tuple[float, float]) -> None:
    heights = relief(kind, spacing=spacing)
    np.testing.assert_array_equal(closing(heights, body, spacing), closed_by_library(heights, body, spacing))


@pytest.mark.parametrize("mode", ["reflect", "mirror", "nearest"])
def test_any_border_that_repeats_heights_is_an_open_border(mode: str) -> None:
    heights, body = relief("steep"), Ball(9.0)
    np.testing.assert_array_equal(closing(heights, body, SQUARE), closed_by_library(heights, body, SQUARE, mode))


@settings(max_examples=40, deadline=None)
@given(
    st.integers(0, 10**6),
    st.tuples(st.integers(1, 30), st.integers(1, 30)),
    st.floats(0.01, 20.0),
    st.sampled_from([*BODIES, Ball(0.4), Ball(40.0), Disc(40.0, 6.0)]),
    st.tuples(st.sampled_from([0.4, 1.0, 1.7]), st.sampled_from([0.5, 1.0, 2.0])),
)
def test_closing_of_any_grid_is_that_of_scipy(seed, shape, scale, body, spacing) -> None:
    heights = np.random.default_rng(seed).normal(0.0, scale, shape)
    np.testing.assert_array_equal(closing(heights, body, spacing), closed_by_library(heights, body, spacing))


@pytest.mark.parametrize("kind", ["gentle", "steep", "random"])
@pytest.mark.parametrize("body", BODIES, ids=str)
def test_a_window_is_a_part_of_the_whole(kind: str, body: Body) -> None:
    heights = relief(kind)
    window = (slice(20, 41), slice(0, 13))
    np.testing.assert_array_equal(closing(heights, body, SQUARE, window), closing(heights, body, SQUARE)[window])


def test_a_ball_is_a_sphere_and_a_disc_a_torus_by_their_own_equations() -> None:
    x, y = np.linspace(-3.9, 3.9, 40)[None, :], np.linspace(-8.0, 8.0, 50)[:, None]
    ball = Ball(10.0).below(x, y)
    np.testing.assert_allclose(x**2 + y**2 + ball**2, 100.0)
    z = Disc(12.0, 4.0).below(x, y)
    np.testing.assert_allclose((np.hypot(y, z) - 8.0) ** 2 + x**2, 16.0)


def test_a_disc_as_thick_as_it_is_wide_is_a_ball() -> None:
    x, y = np.linspace(-5.0, 5.0, 21)[None, :], np.linspace(-5.0, 5.0, 21)[:, None]
    np.testing.assert_allclose(Disc(8.0, 8.0).below(x, y), Ball(8.0).below(x, y))


@pytest.mark.parametrize("turned", [False, True])
@pytest.mark.parametrize("step", [1.0, 0.5])
def test_a_ball_of_50_leaves_the_crescent_of_a_hollow_of_40(step: float, turned: bool) -> None:
    """The arrises and the middle are places of the grid: the result is then exact."""
    x, width = np.arange(-40.0, 40.0 + step / 2, step), 36.0
    heights = np.broadcast_to(cylinder(40.0, width, x), (int(60 / step), len(x)))
    heights = np.ascontiguousarray(heights.T if turned else heights)
    left = closing(heights, Ball(50.0), (step, step)) - heights
    expected = np.broadcast_to(crescent(50.0, 40.0, width, x), (int(60 / step), len(x)))
    np.testing.assert_allclose(left, expected.T if turned else expected, atol=1e-9)
    assert left.max() == pytest.approx(40.0 - np.sqrt(40**2 - 18**2) - 50.0 + np.sqrt(50**2 - 18**2))


@pytest.mark.parametrize("shift", [0.13, 0.5, 0.81])
def test_between_places_of_the_grid_the_crescent_is_off_by_the_slope_at_the_arris_over_a_step(shift: float) -> None:
    """An arris that lies between two places is taken for a place up to a step further out or in."""
    step, width = 1.0, 36.0
    x = np.arange(-40.0, 40.0, step) + shift
    heights = np.ascontiguousarray(np.broadcast_to(cylinder(40.0, width, x), (40, len(x))))
    left = closing(heights, Ball(50.0), (step, step)) - heights
    slope = (width / 2) / np.sqrt(50**2 - (width / 2) ** 2)
    assert np.abs(left - crescent(50.0, 40.0, width, x)).max() < slope * step


@pytest.mark.parametrize("shift", [0.0, 0.4])
@pytest.mark.parametrize("step", [2.0, 1.0, 0.5])
def test_a_ball_of_50_leaves_next_to_nothing_in_a_hollow_of_60(step: float, shift: float) -> None:
    """Accuracy of a grid: the centre runs on a circle of 60 - 50, on which it stands up to h / 2 from where it should.

    Above the place half-way between the ball is then h^2 / 8 (1 / 50 + 1 / 10) too high, more on a slope.
    """
    x = np.arange(-40.0, 40.0, step) + shift
    heights = np.ascontiguousarray(np.broadcast_to(cylinder(60.0, 36.0, x), (40, len(x))))
    left = closing(heights, Ball(50.0), (step, step)) - heights
    assert left.max() < step**2 / 8 * (1 / 50 + 1 / 10) * steepened(60.0, 36.0)


def test_a_disc_leaves_the_crescent_of_its_whole_radius_along_and_of_its_rim_across() -> None:
    x = np.arange(-40.0, 40.5, 1.0)
    along = np.ascontiguousarray(np.broadcast_to(cylinder(40.0, 36.0, x)[:, None], (len(x), 30)))
    left = closing(along, Disc(50.0, 5.0), SQUARE) - along
    np.testing.assert_allclose(left, np.broadcast_to(crescent(50.0, 40.0, 36.0, x)[:, None], left.shape), atol=1e-9)
    across = np.ascontiguousarray(np.broadcast_to(cylinder(8.0, 12.0, x), (30, len(x))))
    left = closing(across, Disc(50.0, 10.0), SQUARE) - across
    np.testing.assert_allclose(left, np.broadcast_to(crescent(10.0, 8.0, 12.0, x), left.shape), atol=1e-9)
    left = closing(across, Disc(50.0, 5.0), SQUARE) - across
    assert left.max() < 1 / 8 * (1 / 5 + 1 / 3) * steepened(8.0, 12.0)


@pytest.mark.parametrize("body", BODIES, ids=str)
@pytest.mark.parametrize("kind", ["gentle", "steep", "rough", "random"])
def test_closing_raises_only_and_does_so_once(kind: str, body: Body) -> None:
    heights = relief(kind)
    once = closing(heights, body, SQUARE)
    assert (once >= heights - 1e-12).all()
    np.testing.assert_allclose(closing(once, body, SQUARE), once, atol=1e-12)


@pytest.mark.parametrize("body", BODIES, ids=str)
def test_a_higher_surface_is_left_higher(body: Body) -> None:
    low = relief("steep")
    high = low + np.abs(relief("random", seed=8))
    assert (closing(high, body, SQUARE) >= closing(low, body, SQUARE)).all()


@pytest.mark.parametrize("body", BODIES, ids=str)
def test_a_plane_is_left_as_it_is(body: Body) -> None:
    """Nearer to the border than the body leans, its centre would have to stand beyond the grid."""
    x, y = np.arange(60.0)[None, :], np.arange(60.0)[:, None]
    plane = 0.3 * x - 0.5 * y
    inner = (slice(15, 45), slice(15, 45))
    np.testing.assert_allclose(closing(plane, body, SQUARE)[inner], plane[inner], atol=1e-12)


@pytest.mark.parametrize(
    ("large", "small"), [(Ball(20.0), Ball(12.0)), (Disc(20.0, 4.0), Disc(13.0, 4.0)), (Disc(20.0, 4.0), Ball(4.0))]
)
def test_a_smaller_cutter_leaves_less(large: Body, small: Body) -> None:
    """To the accuracy of a fine grid: a large body is a heap of small ones only where these may stand anywhere."""
    spacing = (0.5, 0.5)
    heights = relief("steep", (90, 90), spacing)
    more, less = closing(heights, large, spacing), closing(heights, small, spacing)
    assert (less <= more + 0.5**2 / 8 * (1 / 4 + 1)).all()
    assert (more - less).max() > 0.1


@pytest.mark.parametrize("body", [Ball(20.0), Disc(20.0, 5.0)])
def test_reach_and_lean_are_where_the_body_has_risen_and_is_as_steep(body: Body) -> None:
    for axis in (0, 1):

        def below(far: float, axis: int = axis) -> float:
            place = [np.array(0.0), np.array(0.0)]
            place[axis] = np.array(far)
            return float(body.below(*place))

        assert below(0.0) - below(body.reach(2.5)[axis]) == pytest.approx(2.5)
        lean = body.lean(0.4, 0.4)[axis]
        assert (below(lean - 1e-5) - below(lean + 1e-5)) / 2e-5 == pytest.approx(0.4, rel=1e-4)
    assert body.reach(1000.0) == body.extent
