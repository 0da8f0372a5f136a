"""Wood taken away in the computer: what a cutter leaves, against plane geometry and against every place looked at in turn."""

from __future__ import annotations

import math
from typing import NamedTuple

import numpy as np
import pytest
from helpers import small_front

from facade.cnc.drop import BallEnd, FlatEnd, Tool
from facade.cnc.finishing import finishing, finishing_ground
from facade.cnc.fixture import fixtures
from facade.cnc.ground import Ground
from facade.cnc.moves import Kind
from facade.cnc.order import Order, Route
from facade.cnc.passes import bend_between, passes_over, scallop, step_for
from facade.cnc.roughing import roughing, roughing_ground
from facade.proof.sweeping import Cutter, lowest_over, parts_of

RADIUS = 3.0


class Stock(NamedTuple):
    """Heights (rows, columns) of wood at places x (columns,) and y (rows,), mm."""

    x: np.ndarray
    y: np.ndarray
    heights: np.ndarray


def swept(stock: Stock, places: np.ndarray, cuts: np.ndarray, tool: Tool) -> np.ndarray:
    """Return what a cutter leaves of wood, as the proof works it out."""
    cutter = Cutter(tool.radius, ball=isinstance(tool, BallEnd))
    return np.minimum(stock.heights, lowest_over(stock.x, stock.y, parts_of(places, cuts), cutter))


def block(step: float = 0.1, size: float = 8.0, top: float = 20.0) -> Stock:
    places = np.linspace(-size, size, round(2 * size / step) + 1)
    return Stock(places, places, np.full((len(places), len(places)), top))


def all_cuts(places: np.ndarray) -> np.ndarray:
    return np.ones(len(places) - 1, dtype=bool)


def test_the_ridge_between_two_passes_on_level_ground() -> None:
    """Plane geometry: R - sqrt(R^2 - s^2/4); a 6 mm ball at 0.5 mm leaves 0.0104348, and s^2/8R is near it."""
    assert scallop(3.0, 0.5) == pytest.approx(0.0104348, abs=5e-8)
    assert scallop(3.0, 0.5) == pytest.approx(0.5**2 / (8 * 3.0), rel=2e-3)


@pytest.mark.parametrize(
    ("diameter", "height", "step"),
    [(6, 0.005, 0.346266), (6, 0.05, 1.090871), (12, 0.05, 1.545962), (12.7, 0.1, 2.244994)],
)
def test_the_step_for_a_ridge(diameter: float, height: float, step: float) -> None:
    """Plane geometry: 2 sqrt(2 R h - h^2)."""
    assert step_for(diameter / 2, height) == pytest.approx(step, abs=1e-6)


@pytest.mark.parametrize(
    ("diameter", "step", "height"),
    [(6, 1.0, 0.0419601), (6.35, 0.635, 0.0159149), (12, 1.2, 0.0300754), (25.4, 2.54, 0.0636595)],
)
def test_a_simulated_ridge_is_as_high_as_geometry_has_it(diameter: float, step: float, height: float) -> None:
    radius = diameter / 2
    stock = Stock(np.linspace(-step, step, 81), np.linspace(0.0, 10.0, 41), np.full((41, 81), 20.0))
    ways = [np.array([[x, -5.0, 12.0], [x, 15.0, 12.0]]) for x in (-step, 0.0, step)]
    places = np.concatenate(ways)
    left = swept(stock, places, np.array([True, False, True, False, True]), BallEnd(radius))
    assert left.min() == pytest.approx(12.0, abs=1e-9)
    assert left.max() - 12.0 == pytest.approx(height, abs=1e-6)


@pytest.mark.parametrize("degrees", [30.0, 45.0, 60.0])
def test_on_a_tilted_plane_passes_are_further_apart(degrees: float) -> None:
    """Square to a plane that is tilted across the passes the ridge is that of s / cos a; upright it is higher by 1 / cos a."""
    tilt = math.radians(degrees)
    bend = float(bend_between(RADIUS, *(np.array([one]) for one in (math.tan(tilt), 0.0, 0.0)))[0])
    square_to_it = scallop(RADIUS, 0.5 / math.cos(tilt))
    assert 0.5**2 / 8 * bend == pytest.approx(square_to_it / math.cos(tilt), rel=0.02)


@pytest.mark.parametrize(
    ("slope_x", "slope_y", "bend_x"),
    [
        (0.0, 0.0, 0.0),
        (0.6, 0.0, 0.0),
        (0.0, 0.7, 0.0),
        (0.5, 0.6, 0.0),
        (0.0, 0.0, 0.08),
        (0.3, -0.4, -0.1),
        (-0.4, 0.3, 0.06),
    ],
)
def test_ridges_on_slopes_and_curves_are_as_predicted(slope_x: float, slope_y: float, bend_x: float) -> None:
    """Simulated: passes 0.4 mm apart over ground with these slopes and this bend across."""
    step, x = 0.4, np.linspace(-12.0, 12.0, 481)
    y = np.linspace(-6.0, 6.0, 97)
    height = 20.0 + slope_x * x[None, :] + slope_y * y[:, None] + 0.5 * bend_x * x[None, :] ** 2
    ground = Ground(x, y, height)
    from facade.cnc.drop import tip_heights

    at = np.arange(-3.0, 3.0 + step / 2, step)
    tips = tip_heights(ground, BallEnd(RADIUS), at)
    inner = slice(40, -40)
    ways = [np.column_stack([np.full(len(y), one), y, tip]) for one, tip in zip(at, tips, strict=True)]
    places = np.concatenate(ways)
    cuts = all_cuts(places)
    cuts[len(y) - 1 :: len(y)] = False
    # A ridge is a sharp edge: it is looked for at places close together.
    x = np.linspace(-0.35, 0.35, 281)
    height = 20.0 + slope_x * x[None, :] + slope_y * y[:, None] + 0.5 * bend_x * x[None, :] ** 2
    left = swept(Stock(x, y, np.full(height.shape, 60.0)), places, cuts, BallEnd(RADIUS))
    ridge = float((left - height)[inner].max())
    bend = float(bend_between(RADIUS, *(np.array([one]) for one in (slope_x, slope_y, bend_x)))[0])
    assert ridge == pytest.approx(step**2 / 8 * bend, abs=0.0015, rel=0.06)


def test_a_sweep_along_y_is_what_every_place_of_the_cutter_gives() -> None:
    """Against the lowest underside of 4,000 places along the way, one after the other."""
    stock = block(0.4)
    y = np.linspace(-10.0, 10.0, 41)
    places = np.column_stack([np.full(41, 0.7), y, 14.0 + 2.0 * np.sin(y / 3.0)])
    left = swept(stock, places, all_cuts(places), BallEnd(RADIUS))
    fine = np.linspace(-10.0, 10.0, 4001)
    tips = np.interp(fine, y, places[:, 2])
    square = (stock.x - 0.7) ** 2
    known = stock.heights.copy()
    for place, tip in zip(fine.tolist(), tips.tolist(), strict=True):
        known = np.minimum(known, tip + BallEnd(RADIUS).rise(square[None, :] + (stock.y[:, None] - place) ** 2))
    # Close to the rim the ball is upright, and a step along it counts for more.
    deep = np.abs(stock.x - 0.7) < RADIUS / 2
    assert (left - known)[:, deep].max() < 0.004
    assert (left - known)[:, deep].min() > -0.006


def test_a_single_dip_between_two_rows_is_not_lost() -> None:
    stock = block(0.5)
    places = np.array([[0.0, -9.0, 15.0], [0.0, 0.2, 15.0], [0.0, 0.25, 12.0], [0.0, 0.3, 15.0], [0.0, 9.0, 15.0]])
    assert swept(stock, places, all_cuts(places), BallEnd(RADIUS)).min() == pytest.approx(12.0, abs=0.02)


def test_a_move_aslant_is_swept_too() -> None:
    stock = block(0.25)
    places = np.array([[-6.0, -6.0, 13.0], [6.0, 6.0, 13.0]])
    left = swept(stock, places, all_cuts(places), FlatEnd(1.0))
    away = np.abs(stock.x[None, :] - stock.y[:, None]) / math.sqrt(2.0)
    middle = (np.abs(stock.x)[None, :] < 5.0) & (np.abs(stock.y)[:, None] < 5.0)
    assert (left[middle & (away < 0.9)] == 13.0).all()
    assert (left[middle & (away > 1.05)] == 20.0).all()


def test_rapids_cut_nothing_here() -> None:
    stock = block(0.5)
    places = np.array([[0.0, -9.0, 12.0], [0.0, 9.0, 12.0]])
    assert swept(stock, places, np.array([False]), BallEnd(RADIUS)).min() == 20.0


@pytest.mark.parametrize("seed", range(4))
def test_the_cut_of_a_random_job_is_its_surface_and_the_ridges_foretold(seed: int) -> None:
    """What is left of blanks after roughing and finishing, on every strip: no gouge beyond 0.005 mm, ridges within 0.02 mm."""
    random = np.random.default_rng(seed)
    layers = [{"kind": "swell", "size": float(random.uniform(60, 120)), "seed": seed}]
    machine = {
        "finishing": {
            "radius": float(random.choice([2.0, 3.0, 4.0])),
            "scallop": float(random.choice([0.01, 0.02, 0.04])),
        },
        "leave": float(random.uniform(0.0, 0.5)),
    }
    front = small_front(layers=layers, machine=machine, wood={"species": "white ash", "blank": 20, "floor": 12})
    for fixture in fixtures(front, Order(Route.FACE)):
        x, y = np.linspace(0.0, fixture.width, 401), np.linspace(0.0, fixture.length, 241)
        stock = Stock(x, y, np.full((241, 401), fixture.blank))
        rough = roughing(fixture, roughing_ground(fixture))
        assert rough is not None
        wanted = fixture.heights(x, y) + front.job.machine.leave
        left = swept(stock, rough.places, rough.kinds[1:] != Kind.RAPID, FlatEnd(front.job.machine.roughing.cutter / 2))
        on = fixture.on_strip(x)
        assert (left - wanted)[:, on].min() > 0.3
        cut = finishing(fixture, finishing_ground(fixture))
        left = swept(
            Stock(x, y, left),
            cut.moves.places,
            cut.moves.kinds[1:] != Kind.RAPID,
            BallEnd(front.job.machine.finishing.radius),
        )
        off = (left - wanted)[:, on]
        assert off.min() > -0.005
        assert off.max() < cut.scallop + 0.02


def test_thin_strips_are_cut_last() -> None:
    front = small_front()
    fixture = fixtures(front, Order(Route.FACE))[0]
    cut = finishing(fixture, finishing_ground(fixture))
    starts = np.flatnonzero(cut.moves.kinds == Kind.PLUNGE)
    middles = (fixture.lefts + fixture.rights) / 2
    order = [int(np.abs(middles - cut.moves.places[start, 0] - 9.0).argmin()) for start in starts]
    least = [front.strip(fixture.numbers[index]).thinnest.height for index in order]
    assert len(order) == front.count
    assert least == sorted(least, reverse=True)


def test_a_tighter_ridge_takes_more_passes() -> None:
    fixture = fixtures(small_front(), Order(Route.FACE))[0]
    ground = finishing_ground(fixture)
    counts = [len(passes_over(ground, 0.0, 20.0, 3.0, wanted=wanted, step=None).at) for wanted in (0.04, 0.01)]
    assert counts[1] == pytest.approx(2 * counts[0], rel=0.1)


def test_a_given_step_is_kept_and_its_ridge_told() -> None:
    fixture = fixtures(small_front(layers=[{"kind": "hills", "size": 200}]), Order(Route.FACE))[0]
    found = passes_over(finishing_ground(fixture), 0.0, 20.0, 3.0, wanted=0.02, step=1.0)
    assert np.diff(found.at).max() <= 1.0 + 1e-12
    assert found.scallop >= scallop(3.0, float(np.diff(found.at).max()))
