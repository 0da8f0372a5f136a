"""How far a cutter may come down: against exact contacts, against scipy, and over edges."""

from __future__ import annotations

import math

import numpy as np
import pytest
from helpers import small_front
from scipy.ndimage import grey_dilation
from scipy.optimize import minimize

from facade.cnc.drop import BallEnd, FlatEnd, tip_heights
from facade.cnc.fixture import Fixture, fixtures
from facade.cnc.ground import Ground, ground_of
from facade.cnc.order import Order, Route

RADIUS = 3.0


def wavy(x: np.ndarray, y: np.ndarray) -> np.ndarray:
    """A surface that leans and bends both ways."""
    return 12.0 + 3.0 * np.sin(x / 9.0) + 2.0 * np.cos(y / 11.0) + 0.5 * np.sin((x + y) / 7.0)


def ground(step: float, height=wavy) -> Ground:
    x, y = (np.linspace(-20.0, 20.0, round(40.0 / step) + 1) for _ in range(2))
    return Ground(x, y, height(x[None, :], y[:, None]))


def contact(x: float, y: float, height=wavy, radius: float = RADIUS) -> float:
    """Return the tip's height of a ball that touches a surface, by looking for the point of contact with scipy."""

    def below(place: np.ndarray) -> float:
        across, along = place
        return -(
            float(height(x + across, y + along))
            + math.sqrt(max(radius * radius - across * across - along * along, 0.0))
        )

    found = minimize(below, [0.0, 0.0], method="Nelder-Mead", options={"xatol": 1e-9, "fatol": 1e-12})
    return -found.fun - radius


def one_fixture(**changes) -> Fixture:
    return fixtures(small_front(**changes), Order(Route.FACE))[0]


def test_a_ball_stands_where_it_touches_the_surface() -> None:
    land, at = ground(0.5), np.arange(-10.0, 10.0, 0.77)
    tips = tip_heights(land, BallEnd(RADIUS), at)
    random = np.random.default_rng(1)
    for _ in range(40):
        line, row = int(random.integers(1, len(at) - 1)), int(random.integers(20, 60))
        assert tips[line, row] == pytest.approx(contact(at[line], land.y[row]), abs=3e-4)


def steep(x: np.ndarray, y: np.ndarray) -> np.ndarray:
    """A surface that climbs by more than a mm in a mm, both ways, to rounded crests."""
    return 40.0 + 1.3 * y + 1.1 * x + 0.9 * np.cos(x / 1.9)


def crested(x: np.ndarray, y: np.ndarray) -> np.ndarray:
    """A surface with crests somewhat tighter than the ball, that come and go along it."""
    return 12.0 + 2.0 * np.cos(x / 2.0) * np.cos(y / 3.1 + x / 9.0)


@pytest.mark.parametrize("height", [steep, crested])
def test_a_ball_goes_no_deeper_on_steep_ground_and_on_crests(height) -> None:
    """Held against the exact point of contact, looked for from several places, that asks for most; what is left is what a grid tells of crests."""
    land, at = ground(0.5, height), np.arange(-10.0, 10.0, 1.23)
    tips = tip_heights(land, BallEnd(RADIUS), at)
    aside = np.arange(-RADIUS, RADIUS + 0.01, 0.02)
    room = RADIUS**2 - aside[:, None] ** 2 - aside**2
    below = np.where(room >= 0.0, np.sqrt(np.maximum(room, 0.0)), -np.inf) - RADIUS
    random = np.random.default_rng(1)
    for _ in range(200):
        line, row = int(random.integers(1, len(at) - 1)), int(random.integers(20, 60))
        true = float((height(at[line] + aside[:, None], land.y[row] + aside) + below).max())
        assert tips[line, row] > true - 4e-3


def test_a_ball_on_level_ground_stands_on_it() -> None:
    land = ground(0.5, lambda x, y: 9.0 + 0.0 * (x + y))
    assert tip_heights(land, BallEnd(RADIUS), np.array([-1.3, 0.2, 4.4])) == pytest.approx(9.0, abs=1e-5)


def test_a_ball_on_a_slope_stands_as_plane_geometry_has_it() -> None:
    """On a plane of slope m the centre is R sqrt(1 + m^2) above it, so the tip R (sqrt(1 + m^2) - 1)."""
    land = ground(0.5, lambda x, y: 12.0 + 0.4 * x - 0.3 * y)
    at = np.array([-3.0, -1.1, 0.6, 2.0])
    tips = tip_heights(land, BallEnd(RADIUS), at)
    inner = slice(20, -20)
    wanted = 12.0 + 0.4 * at[:, None] - 0.3 * land.y[None, inner] + RADIUS * (math.sqrt(1.25) - 1.0)
    assert tips[:, inner] == pytest.approx(wanted, abs=2e-5)


@pytest.mark.parametrize("tool", [BallEnd(RADIUS), FlatEnd(RADIUS)])
def test_places_of_the_grid_are_dilated_as_scipy_does_it(tool: BallEnd | FlatEnd) -> None:
    """Grey dilation by the cutter; on the grid's own columns no tip is below scipy's, and a flat end is no more than a cell wider."""
    random = np.random.default_rng(2)
    x = y = np.arange(-12.0, 12.5, 1.0)
    land = Ground(x, y, random.uniform(5.0, 15.0, (25, 25)))
    offset = np.arange(-4.0, 5.0)
    rise = tool.rise(offset[None, :] ** 2 + offset[:, None] ** 2)
    known = grey_dilation(
        land.heights,
        footprint=np.isfinite(rise),
        structure=-np.where(np.isfinite(rise), rise, 0.0),
        mode="constant",
        cval=-1e9,
    )
    tips = tip_heights(land, tool, x).T
    assert (tips >= known - 1e-12).all()
    if isinstance(tool, BallEnd):
        # What a ball may be too low on ground as steep as its way is, on either side.
        right, up = (np.abs(np.diff(known, axis=axis)) for axis in (1, 0))
        over = [
            np.maximum(np.pad(some, before), np.pad(some, after))
            for some, before, after in (
                (right, ((0, 0), (1, 0)), ((0, 0), (0, 1))),
                (up, ((1, 0), (0, 0)), ((0, 1), (0, 0))),
            )
        ]
        spare = (1.0 + 1.0) / 4.0 / RADIUS * (1.0 + over[0] ** 2 + over[1] ** 2) ** 1.5
        assert (tips <= known + spare + 1e-12).all()


def test_a_flat_end_rests_on_the_highest_place_under_it() -> None:
    land = ground(0.25, lambda x, y: np.where((np.abs(x - 2.0) < 0.3) & (np.abs(y) < 0.3), 15.0, 8.0))
    tips = tip_heights(land, FlatEnd(RADIUS), np.array([0.0, -2.0]))
    middle = len(land.y) // 2
    assert tips[0, middle] == 15.0
    assert tips[1, middle] == 8.0


def test_the_ground_runs_out_beside_the_strips_so_that_a_ball_can_follow() -> None:
    """It goes on as steep as it comes to an edge, then ever less, bending no more than 1/curve, until it is level."""
    fixture = one_fixture()
    land = ground_of(fixture, beside=12.0, beyond=6.0, curve=5.0)
    across, _ = land.spacing
    first = int(np.flatnonzero(np.abs(land.x) < 1e-9)[0])
    slopes = np.diff(land.heights[20:-20, : first + 2], axis=1) / across
    assert np.abs(slopes[:, 0]).max() < 1e-9
    sines = slopes / np.hypot(1.0, slopes)
    assert np.abs(np.diff(sines, axis=1)).max() <= across / 5.0 * 1.05
    assert (np.abs(np.diff(np.sign(slopes), axis=1)) < 2).all()


def test_the_ground_is_the_surface_at_both_edges_and_both_ends() -> None:
    fixture = one_fixture()
    land = ground_of(fixture, beside=4.0, beyond=6.0, curve=5.0)
    for x in (0.0, fixture.width):
        for y in (0.0, fixture.length):
            row, column = np.abs(land.y - y).argmin(), np.abs(land.x - x).argmin()
            known = fixture.heights(np.array([x]), np.array([y]))[0, 0]
            assert land.heights[row, column] == pytest.approx(known, abs=1e-9)


def test_a_step_between_two_places_of_the_grid_is_not_cut_into() -> None:
    """A land without a blend has upright walls; nowhere may a ball that looks at the grid come below them."""
    land = {"centre": [100, 60.2], "size": [40.3, 30.1], "height": 19, "blend": 0}
    fixture = one_fixture(lands=[land], layers=[{"kind": "hills", "size": 60}])
    found = ground_of(fixture, beside=4.0, beyond=6.0, curve=5.0)
    at = np.arange(0.0, fixture.width, 0.9)
    tips = tip_heights(found, BallEnd(2.0), at)
    fine_x, fine_y = np.linspace(70.0, 130.0, 241), np.linspace(40.0, 80.0, 161)
    fine = fixture.heights(fine_x, fine_y)
    rows = np.flatnonzero((found.y > 42.0) & (found.y < 78.0))
    for line in np.flatnonzero((at > 74.0) & (at < 126.0))[::7].tolist():
        for row in rows[::9].tolist():
            square = (fine_x[None, :] - at[line]) ** 2 + (fine_y[:, None] - found.y[row]) ** 2
            gouge = float((fine - (tips[line, row] + BallEnd(2.0).rise(square))).max())
            assert gouge < 0.005


@pytest.mark.parametrize("seed", range(4))
def test_no_place_of_the_grid_is_cut_on_whichever_side_of_the_line_it_rises(seed: int) -> None:
    """Brute force over every place within the radius, on ground that leans to one side more steeply than to the other."""
    random = np.random.default_rng(seed)
    lean = random.uniform(-1.5, 1.5, 2)
    land = ground(0.5, lambda x, y: 60.0 + lean[0] * x + lean[1] * y + random.uniform(0.0, 0.4, (x + y).shape))
    at = np.array([-7.3, 0.1, 6.4])
    tips = tip_heights(land, BallEnd(RADIUS), at)
    for line, tip in zip(at, tips, strict=True):
        for row in range(0, len(land.y), 7):
            square = (land.x[None, :] - line) ** 2 + (land.y[:, None] - land.y[row]) ** 2
            under = np.sqrt(np.maximum(RADIUS * RADIUS - square, 0.0)) - RADIUS
            asked = np.where(square < RADIUS * RADIUS, land.heights + under, -np.inf).max()
            assert tip[row] >= asked - 1e-9
