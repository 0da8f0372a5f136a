"""The finishing cut against the surface between all grids: a ball swept along every move, looked at where no grid has a place."""

from __future__ import annotations

import math

import numpy as np
import pytest
from following import ways_of
from helpers import a_job, small_front

from facade.build import write
from facade.checks import Weight
from facade.cnc.finishing import finishing_ground
from facade.cnc.fixture import Fixture, fixtures
from facade.cnc.machining import Stage, program
from facade.cnc.moves import Kind
from facade.cnc.order import Order, Route
from facade.cnc.standing import most_standing, standing_findings, standing_on
from facade.front import build_front
from facade.job import make_job
from facade.making import Output

FACE = Order(Route.FACE)
# What a cutter may go too deep, mm: a law of this project.
DEEPEST = 0.005
SMALL = {"front": {"width": 60, "height": 90}, "strips": {"count": 3}}
FACETS = {"kind": "facets", "size": 25}
LANDS = [
    {"centre": [20, 40], "size": [20, 30], "height": 14, "blend": 6},
    {"shape": "ellipse", "centre": [42, 60], "size": [20, 24], "height": 11, "blend": 3},
]
JOBS = {
    "facets": {"layers": [FACETS]},
    "sharp facets": {"layers": [{**FACETS, "softness": 0.05, "tilt": 0.9}]},
    "facets with lands": {"layers": [FACETS], "lands": LANDS},
    "packed facets with lands": {"layers": [FACETS], "lands": LANDS, "carving": {"packed": True}},
    "a small ball": {"layers": [FACETS], "machine": {"finishing": {"radius": 2}}},
    "a large ball": {"layers": [{**FACETS, "size": 40}], "machine": {"finishing": {"radius": 8}}},
    "hills": {"layers": [{"kind": "hills", "size": 40}]},
}


def under_ball(places: np.ndarray, cuts: np.ndarray, radius: float, x: np.ndarray, y: np.ndarray) -> np.ndarray:
    """Return the lowest that a ball's underside comes over points (n,), its tip going through places in straight moves.

    Over a point at the distance d from the line of a move, seen from above, the ball's middle is looked for along the move where its
    underside is lowest: on a move that climbs by m a mm at m sqrt((R^2 - d^2) / (1 + m^2)) from the foot, or at one of its ends
    (plane geometry).
    """
    lowest = np.full(len(x), np.inf)
    for start, end in zip(places[:-1][cuts], places[1:][cuts], strict=True):
        low, high = np.minimum(start, end)[:2] - radius, np.maximum(start, end)[:2] + radius
        near = np.flatnonzero((x > low[0]) & (x < high[0]) & (y > low[1]) & (y < high[1]))
        length = math.hypot(*(end - start)[:2])
        if not len(near):
            continue
        to_x, to_y = x[near] - start[0], y[near] - start[1]
        if length < 1e-9:
            tries, climb = [np.zeros(len(near))], 0.0
        else:
            way = (end - start)[:2] / length
            climb = float(end[2] - start[2]) / length
            foot = to_x * way[0] + to_y * way[1]
            square = np.maximum(to_x**2 + to_y**2 - foot**2, 0.0)
            room = np.maximum(radius**2 - square, 0.0)
            best = foot - climb * np.sqrt(room / (1.0 + climb * climb))
            tries = [np.clip(best, 0.0, length), np.zeros(len(near)), np.full(len(near), length)]
        for along in tries:
            px, py = (0.0, 0.0) if length < 1e-9 else (along * way[0], along * way[1])
            gone = (to_x - px) ** 2 + (to_y - py) ** 2
            with np.errstate(invalid="ignore"):
                height = start[2] + climb * along + radius - np.sqrt(radius**2 - gone)
            lowest[near] = np.fmin(lowest[near], height)
    return lowest


def points_on(fixture: Fixture, count: int, seed: int) -> tuple[np.ndarray, np.ndarray]:
    """Return chance places on a fixture's strips, many of them where the surface turns most."""
    random = np.random.default_rng(seed)
    x = random.uniform(0.0, fixture.width, 30 * count)
    y = random.uniform(0.0, fixture.length, 30 * count)
    x[: count // 10] = random.choice([1e-6, 0.1, 0.2, fixture.width - 0.1], count // 10)
    on = fixture.on_strip(x)
    x, y = x[on], y[on]
    step = 0.2
    middle = fixture.heights_at(x, y)
    turn = sum(
        np.abs(fixture.heights_at(x + a, y + b) + fixture.heights_at(x - a, y - b) - 2 * middle)
        for a, b in ((step, 0.0), (0.0, step))
    )
    most = np.argsort(-turn)
    chosen = np.concatenate([most[: count // 2], random.permutation(len(x))[: count // 2]])
    return x[chosen], y[chosen]


@pytest.mark.parametrize("name", JOBS)
def test_a_ball_goes_nowhere_deeper_than_it_may(name: str) -> None:
    front = small_front(**{**SMALL, **JOBS[name]})
    fixture = fixtures(front, FACE)[0]
    moves = program(fixture, Stage.FINISH).moves
    x, y = points_on(fixture, 6000, 1)
    places = moves.places - np.array([*fixture.first_strip, 0.0])
    lowest = under_ball(places, moves.kinds[1:] != Kind.RAPID, front.job.machine.finishing.radius, x, y)
    deep = fixture.heights_at(x, y) + front.job.machine.leave - lowest
    assert deep.max() <= DEEPEST


def test_the_sweep_of_this_test_is_that_of_a_ball_that_stands_everywhere() -> None:
    """Against the ball set down every hundredth of a millimetre along a climbing move."""
    places = np.array([[0.0, 0.0, 5.0], [3.0, 8.0, 7.0]])
    random = np.random.default_rng(2)
    x, y = random.uniform(-2, 5, 200), random.uniform(-2, 10, 200)
    stands = places[0] + np.linspace(0.0, 1.0, 900)[:, None] * (places[1] - places[0])
    square = (x - stands[:, :1]) ** 2 + (y - stands[:, 1:2]) ** 2
    with np.errstate(invalid="ignore"):
        known = np.nanmin(np.where(square < 9.0, stands[:, 2:] + 3.0 - np.sqrt(9.0 - square), np.inf), axis=0)
    found = under_ball(places, np.array([True]), 3.0, x, y)
    some = known < 9.0
    assert found[some] == pytest.approx(known[some], abs=2e-3)
    assert (found[some] <= known[some] + 1e-9).all()


TIGHT = {**SMALL, "layers": [FACETS], "lands": LANDS}
# Smooth hollows that are tighter than the ball.
SMOOTH = {"layers": [{"kind": "hills", "size": 60}], "machine": {"finishing": {"radius": 12}}}
# A land that ends in the gap between two strips: carved packed tight they meet in a step.
STEPS = {
    **SMALL,
    "layers": [FACETS],
    "lands": [{"centre": [9.5, 45], "size": [19, 50], "height": 16, "blend": 1.5}],
    "carving": {"packed": True},
}


def test_what_a_ball_leaves_at_a_step_between_packed_strips_is_said_as_large_as_it_is() -> None:
    """Brute force: the ball set down on points of the true surface, which steps where two packed strips meet, and what it leaves there."""
    front = small_front(**STEPS)
    fixture = fixtures(front, FACE)[0]
    radius = front.job.machine.finishing.radius
    said = most_standing(fixture, radius)
    steps = []
    for left, right in zip(fixture.places[:-1], fixture.places[1:], strict=True):
        y = np.arange(left.bottom, left.top, 0.5)
        both = front.surface.at(np.array([[left.right, right.left]]), y[:, None])
        steps.append(np.abs(both[:, 0] - both[:, 1]))
    step = max(float(one.max()) for one in steps)
    assert step > 1.0
    # At its foot a step higher than the ball is low stands nearly whole; what stands is more than the step less what the ball reaches into.
    assert said.left > 0.6 * step


@pytest.mark.parametrize("name", [*JOBS, "tight", "steps", "smooth"])
def test_where_nothing_is_said_to_stand_a_close_look_finds_no_more_than_its_grid_cannot_tell(name: str) -> None:
    """Beside the ball's closing of the whole ground: over a step h of its grid a ball of radius R may miss h^2 / (2 R), both ways."""
    front = small_front(**({**JOBS, "tight": TIGHT, "steps": STEPS, "smooth": SMOOTH}[name] | SMALL))
    fixture = fixtures(front, FACE)[0]
    ground, radius = finishing_ground(fixture), front.job.machine.finishing.radius
    said, looked = standing_on(fixture, ground), most_standing(fixture, radius)
    assert said.left or name not in ("tight", "steps", "smooth")
    if said.left:
        assert said == looked
    else:
        assert looked.left <= sum(step * step for step in ground.spacing) / (2.0 * radius)


def test_what_a_ball_leaves_standing_is_what_its_program_leaves() -> None:
    """Against the exact sweep of the finishing cut: nothing stands higher than is said, by more than the ridges."""
    front = small_front(**STEPS)
    fixture = fixtures(front, FACE)[0]
    radius = front.job.machine.finishing.radius
    one = program(fixture, Stage.FINISH)
    x, y = points_on(fixture, 6000, 3)
    places = one.moves.places - np.array([*fixture.first_strip, 0.0])
    lowest = under_ball(places, one.moves.kinds[1:] != Kind.RAPID, radius, x, y)
    stands = lowest - fixture.heights_at(x, y) - front.job.machine.leave
    assert stands.max() <= most_standing(fixture, radius).left + one.scallop + 0.02


def test_the_higher_side_of_a_step_between_packed_strips_is_cut_to_its_edge_and_no_deeper() -> None:
    """Against the exact sweep, in the last millimetre before the edge: where the land is level nothing stands but ridges."""
    land = {"centre": [9.5, 45], "size": [19, 50], "height": 14.4, "blend": 9}
    front = small_front(**{**STEPS, "lands": [land]})
    fixture = fixtures(front, FACE)[0]
    left, right = fixture.places[:2]
    y = np.random.default_rng(4).uniform(0.0, fixture.length, 3000)
    both = front.surface.at(np.array([[left.right, right.left]]), (y + left.bottom)[:, None])
    step = both[:, 0] - both[:, 1]
    assert step.max() > 0.2
    x = fixture.lefts[1] - np.random.default_rng(5).uniform(1e-6, 1.0, len(y))
    x, y = x[step > 0.1], y[step > 0.1]
    one = program(fixture, Stage.FINISH)
    places = one.moves.places - np.array([*fixture.first_strip, 0.0])
    lowest = under_ball(places, one.moves.kinds[1:] != Kind.RAPID, front.job.machine.finishing.radius, x, y)
    heights = fixture.heights_at(x, y)
    stands = lowest - heights - front.job.machine.leave
    assert stands.min() > -DEEPEST
    level = np.abs(heights - land["height"]) < 1e-3
    assert level.sum() > 100
    assert stands[level].max() < one.scallop + 0.02


def test_more_than_may_stay_standing_stops_the_route_and_nothing_else(tmp_path) -> None:
    front = small_front(**TIGHT)
    found = standing_findings(front, FACE)
    assert [one.weight for one in found] == [Weight.STOPS]
    assert found[0].value > found[0].limit == 0.5
    built = write(front, tmp_path, outputs=[Output.CNC_FACE], cnc=FACE)
    assert any(one.check == "ball" for one in built.findings)
    for file in (built.folder / "cnc-face").rglob("*.ngc"):
        assert "NOT CLEARED" in file.read_text()


def test_what_may_stay_standing_is_a_limit_of_the_job() -> None:
    assert not standing_findings(small_front(**TIGHT, limits={"ball_standing": 5}), FACE)
    assert not standing_findings(small_front(), FACE)


def test_each_way_out_of_a_ball_that_is_too_large_clears() -> None:
    settings = a_job(**{**SMALL, "layers": [{"kind": "hills", "size": 40}], "machine": {"finishing": {"radius": 12}}})
    found = standing_findings(build_front(make_job(settings)), FACE)
    assert found
    ways = [way for way in ways_of(found[0].cure) if way.typed]
    assert len(ways) == 2
    for way in ways:
        assert not standing_findings(build_front(make_job(way.follow(settings))), FACE)
