"""Finger pulls as they are carved, and what is found wrong with pulls and lands on the finished surface."""

from __future__ import annotations

import math
import re
from typing import Any

import numpy as np
import pytest
from following import cures_that_do_not_cure, followed, ways_of
from helpers import a_job, refusal, small_front

from facade.checks import Finding, Weight, check_front
from facade.checks.lands import check
from facade.front import Front, build_front
from facade.job import Pull, make_job
from facade.surface import pull_depth, pull_share, pull_wall

GOOD = {"centre": [100, 60], "size": [90, 40], "depth": 12}
# The greatest second derivative of 6t^5 - 15t^4 + 10t^3, at t = (1 - 1/sqrt(3)) / 2.
BEND = 10 / math.sqrt(3)


def level_job(height: float = 22.0, **changes: Any) -> dict[str, Any]:
    """Return a job that is level at a height, 200 by 120 mm, blank 24, floor 8."""
    corners = [{"place": [x, y], "height": height} for x in (0, 200) for y in (0, 120)]
    settings: dict[str, Any] = {
        "wood": {"blank": 24, "floor": 8},
        "carving": {"fit": "as given"},
        "layers": [{"kind": "points", "points": corners}],
    }
    settings["wood"] |= changes.pop("wood", {})
    return a_job(**(settings | changes))


def level(height: float = 22.0, **changes: Any) -> Front:
    """Return the front of such a job."""
    return build_front(make_job(level_job(height, **changes)))


def pulled_job(height: float = 22.0, **changes: Any) -> dict[str, Any]:
    """Return a level job with one pull; `pull` changes what is said of it."""
    return level_job(height, pulls=[GOOD | changes.pop("pull", {})], **changes)


def pulled(height: float = 22.0, **changes: Any) -> Front:
    """Return the front of such a job."""
    return build_front(make_job(pulled_job(height, **changes)))


def wrong(front: Front) -> list[Finding]:
    return [found for found in check(front) if found.weight is not Weight.KNOW]


def only(front: Front, topic: str) -> Finding:
    (found,) = [found for found in check(front) if found.topic == topic]
    return found


def section(front: Front, x: float = 100.0, step: float = 0.1) -> tuple[np.ndarray, np.ndarray]:
    """Return y and heights upright through x."""
    y = np.arange(10.0, 110.0, step)
    return y, front.surface.at(np.array([[x]]), y[:, None])[:, 0]


def a_pull(**changes: Any) -> Pull:
    return Pull(**({"centre": (100.0, 60.0), "size": (90.0, 40.0), "depth": 12.0} | changes))


# How a pull is carved.


def test_a_pull_is_as_deep_as_said_and_changes_nothing_beyond_its_outline() -> None:
    plain, carved = level(), pulled()
    x, y = np.linspace(0, 200, 201)[None, :], np.linspace(0, 120, 121)[:, None]
    taken = plain.surface.at(x, y) - carved.surface.at(x, y)
    assert taken.max() == pytest.approx(12, abs=1e-5)
    beside, above = np.abs(x - 100) >= 45, np.abs(y - 60) >= 20
    assert np.abs(taken[np.broadcast_to(beside | above, taken.shape)]).max() == 0.0


def test_a_pull_follows_the_relief_beneath_it() -> None:
    hills = {
        "wood": {"blank": 30, "floor": 4},
        "carving": {"fit": "depth", "depth": 8},
        "layers": [{"kind": "hills", "size": 60}],
    }
    plain, carved = small_front(**hills), small_front(**hills, pulls=[GOOD])
    x, y = np.array([[90.0, 100.0, 110.0]]), np.array([[58.0], [60.0], [62.0]])
    assert plain.surface.at(x, y) - carved.surface.at(x, y) == pytest.approx(np.full((3, 3), 12.0), abs=1e-5)


def test_the_wood_taken_upright_through_the_middle_is_that_of_a_trapezium() -> None:
    """smooth_step is half on average, so that each wall counts half: depth times (height - wall)."""
    y, z = section(pulled())
    wall = math.sqrt(BEND * 12 * 3)
    assert np.trapezoid(22.0 - z, y) == pytest.approx(12 * (40 - wall), rel=1e-4)


@pytest.mark.parametrize("edge", [1.0, 3.0, 6.0])
@pytest.mark.parametrize("slope", [-0.4, 0.0, 0.25])
def test_the_rim_is_nowhere_sharper_than_said_however_the_face_slopes(edge: float, slope: float) -> None:
    pull = a_pull(edge=edge, size=(90.0, 60.0))
    y = np.arange(25.0, 95.0, 0.01)
    z = slope * y - pull_depth(pull) * pull_share(pull, np.array([[100.0]]), y[:, None])[:, 0]
    rise = np.gradient(z, y)
    convex = -np.gradient(rise, y) / (1 + rise**2) ** 1.5
    assert 1 / convex.max() >= edge * 0.999
    if slope == 0.0:
        assert 1 / convex.max() < 1.7 * edge


@pytest.mark.parametrize("size", [(90.0, 40.0), (90.0, 22.0), (30.0, 60.0), (26.0, 26.0)])
def test_a_pull_has_no_crease_anywhere(size: tuple[float, float]) -> None:
    """Slopes of neighbouring places differ by no more than the curvature of rim and walls allows."""
    pull = a_pull(size=size)
    x, y = np.arange(50.0, 150.0, 0.05)[None, :], np.array([[60.0], [63.1], [66.0]])
    for along, across in ((x, y), (y.T + 40.0, x.T - 40.0)):
        z = pull_depth(pull) * pull_share(pull, along, across)
        axis = int(along is not x) ^ 1
        bend = np.abs(np.diff(z, 2, axis=axis)) / 0.05**2
        assert bend.max() <= 1.35 / pull.edge


def test_walls_that_meet_make_a_pull_shallower_and_never_its_rim_sharper() -> None:
    pull = a_pull(size=(90.0, 24.0))
    assert pull_depth(pull) == pytest.approx(12.0**2 / (BEND * 3))
    assert pull_wall(pull, pull_depth(pull)) == pytest.approx(12.0)
    assert pull_depth(a_pull(size=(90.0, 29.0))) == 12.0


def test_no_pull_goes_below_the_floor() -> None:
    front = pulled(18.0, pull={"depth": 14})
    assert min(strip.heights.min() for strip in front.strips()) == 8.0


def test_a_cap_still_holds_over_a_pull_and_a_land_lies_under_it() -> None:
    front = pulled(
        lands=[{"centre": [100, 60], "size": [120, 60], "height": 21}],
        caps=[{"edge": "left", "width": 70, "height": 15}],
    )
    assert front.surface.at(np.array([[100.0]]), np.array([[60.0]]))[0, 0] == pytest.approx(9.0, abs=1e-5)
    assert front.surface.at(np.array([[58.0]]), np.array([[60.0]]))[0, 0] <= 15.0


def test_a_pull_is_part_of_the_design_and_its_mark() -> None:
    assert len({level().mark, pulled().mark, pulled(pull={"depth": 13}).mark}) == 3
    assert level().mark == level(pulls=[]).mark


def test_a_pull_is_carved_into_what_the_cutter_leaves_as_deep_as_before() -> None:
    front = pulled(cutter={"fit": True, "radius": 50})
    assert wrong(front) == []


@pytest.mark.parametrize(("centre", "word"), [([40, 60], "width"), ([100, 110], "height")])
def test_a_pull_that_reaches_beyond_the_front_is_refused(centre: list[float], word: str) -> None:
    message = refusal(a_job(pulls=[GOOD | {"centre": centre}]))
    assert f"`pulls[1]` must lie on the front, from 0 to its {word}" in message


# What is found of pulls.


def test_a_pull_that_fingers_fit_is_not_complained_of_but_described() -> None:
    """Half of 12 is reached in the middle of each wall, so that the clear height is the height less one wall."""
    (found,) = check(pulled())
    assert found.weight is Weight.KNOW
    clear = 40 - math.sqrt(BEND * 12 * 3)
    assert f"crosses strips 3 to 6: 12 mm deep, {clear:.1f} mm of clear height" in found.sentence
    assert "10 mm of wood left" in found.sentence


@pytest.mark.parametrize(("wide", "said"), [(90, True), (110, False)])
def test_a_pull_too_narrow_for_four_fingers_is_told_what_a_large_hand_wants(wide: float, said: bool) -> None:
    (found,) = check(pulled(pull={"size": [wide, 40]}))
    assert ("large hand" in found.sentence) is said


def cured(settings: dict[str, Any], found: Finding) -> Front:
    """Return the front of a job after the first way that a cure names."""
    return build_front(make_job(followed(settings, found.cure)))


@pytest.mark.parametrize(
    ("pull", "topic", "value"),
    [
        ({"depth": 8}, "depth of a pull", 8.0),
        ({"size": [90, 24]}, "depth of a pull", 12.0**2 / (BEND * 3)),
        ({"size": [24, 90]}, "depth of a pull", None),
        ({"size": [90, 30]}, "clear height of a pull", 30 - math.sqrt(BEND * 12 * 3)),
        ({"depth": 8, "size": [90, 30]}, "depth of a pull", 8.0),
        ({"depth": 5, "edge": 1}, "rim of a pull", None),
        ({"edge": 1, "size": [90, 30]}, "rim of a pull", None),
    ],
)
def test_what_fingers_lack_is_named_and_cured(pull: dict[str, Any], topic: str, value: float | None) -> None:
    front = pulled(pull=pull)
    found = only(front, topic)
    assert (found.weight, found.strip, found.from_top) == (Weight.LOOK, 4, pytest.approx(60, abs=26))
    if value is not None:
        assert found.value == pytest.approx(value, abs=0.06)
    assert wrong(cured(pulled_job(pull=pull), found)) == []
    assert cures_that_do_not_cure(pulled_job(pull=pull), only="lands and pulls") == []


def test_the_place_is_that_of_the_pull_on_the_strip_nearest_its_middle() -> None:
    found = only(pulled(pull={"centre": [130, 40], "depth": 8}), "depth of a pull")
    strip = pulled().layout.strip(found.strip)
    assert strip.left <= 130 <= strip.right
    assert (found.from_top, found.from_left) == (80, pytest.approx(130 - strip.left))


def test_a_floor_that_cuts_a_pull_short_is_named_and_a_land_cures_it() -> None:
    found = only(pulled(17.5), "depth of a pull")
    assert found.value == pytest.approx(9.5, abs=0.01)
    assert "the floor of 8 mm cuts it short" in found.sentence
    assert "land" in found.cure
    assert wrong(cured(pulled_job(17.5), found)) == []


def test_a_blank_too_thin_for_a_pull_is_told_by_how_much() -> None:
    """Floor 8 and 12 of depth want 20; a blank of 20 leaves 19.2 after sanding."""
    found = only(pulled(18.0, wood={"blank": 20}), "depth of a pull")
    assert "wood.blank = 20.8" in found.cure
    assert wrong(cured(pulled_job(18.0, wood={"blank": 20}), found)) == []


def test_too_little_wood_under_a_pull_stops_the_job_and_is_cured() -> None:
    front = pulled(16.5, wood={"floor": 3})
    found = only(front, "wood left")
    assert (found.weight, found.limit) == (Weight.STOPS, 6.0)
    assert found.value == pytest.approx(4.5, abs=1e-4)
    assert wrong(cured(pulled_job(16.5, wood={"floor": 3}), found)) == []


def test_a_rim_in_a_face_that_was_cut_off_flat_is_as_sharp_as_it_is_measured() -> None:
    """The relief asks for 3 mm more than the blank leaves, so that the wall breaks off the flat face at an angle."""
    found = only(pulled(26.2, pull={"depth": 16}), "rim of a pull")
    assert found.value < 2.0
    assert wrong(cured(pulled_job(26.2, pull={"depth": 16}), found)) == []


@pytest.mark.parametrize("seed", range(12))
def test_pulls_on_lively_reliefs_are_cured_in_one_turn(seed: int) -> None:
    chance = np.random.default_rng(seed)
    pull = {
        "centre": [100, 60],
        "size": [round(float(chance.uniform(40, 100)), 1), round(float(chance.uniform(20, 45)), 1)],
        "depth": round(float(chance.uniform(6, 14)), 1),
        "edge": round(float(chance.uniform(1, 4)), 1),
    }
    layers = [{"kind": "hills", "size": 120, "seed": seed}]
    settings = a_job(wood={"blank": 25, "floor": 8}, layers=layers, pulls=[pull])
    found = wrong(build_front(make_job(settings)))
    assert all(any(way.typed for way in ways_of(one.cure)) for one in found)
    assert cures_that_do_not_cure(settings, only="lands and pulls") == []


LOW_FLOOR: dict[str, Any] = {"wood": {"floor": 3}}
FAULTS = {
    "cut short by the floor": pulled_job(17.5),
    "thin blank": pulled_job(18.0, wood={"blank": 20}),
    "little wood": pulled_job(16.5, **LOW_FLOOR),
    "deeper than it need be": pulled_job(20.0, pull={"depth": 15}, **LOW_FLOOR),
    "no room for fingers at all": pulled_job(16.5, limits={"finger_height": 150}, **LOW_FLOOR),
    "on low ground": a_job(
        front={"width": 200, "height": 600},
        wood={"blank": 26, "floor": 3},
        layers=[{"kind": "waves", "trains": [{"length": 300, "direction": 90}]}],
        pulls=[GOOD | {"centre": [100, 225], "depth": 14, "size": [90, 44]}],
    ),
    "rim in a flat face": pulled_job(26.2, pull={"depth": 16}),
    "on no strip": pulled_job(
        front={"width": 200, "height": 120, "reveals": {"left": 40}}, pull={"centre": [16, 60], "size": [30, 40]}
    ),
    "across a joint": pulled_job(front={"width": 200, "height": 120, "doors": 2, "space": 3}),
    "two lands": level_job(
        12.0,
        lands=[
            {"centre": [60, 60], "size": [60, 40], "height": 20, "blend": 10},
            {"centre": [110, 60], "size": [30, 40], "height": 18, "blend": 20},
        ],
    ),
    "land across a joint": level_job(
        12.0,
        front={"width": 200, "height": 120, "doors": 2, "space": 3},
        lands=[{"centre": [100, 60], "size": [60, 40], "height": 20}],
    ),
    "inches": a_job(
        unit="in",
        front={"width": 16, "height": 8},
        strips={"count": 16},
        wood={"blank": 0.875, "floor": 0.3125},
        layers=[{"kind": "hills", "size": 3}],
        pulls=[
            {"centre": [8, 4], "size": [3, 1], "depth": 0.5, "edge": 0.0625},
            {"centre": [3, 4], "size": [3, 1.5], "depth": 0.25},
        ],
    ),
}


@pytest.mark.parametrize("fault", FAULTS)
def test_every_way_that_a_cure_names_cures(fault: str) -> None:
    assert wrong(build_front(make_job(FAULTS[fault])))
    assert cures_that_do_not_cure(FAULTS[fault], only="lands and pulls") == []


def test_a_pull_is_cured_into_one_too_shallow_for_fingers_only_where_nothing_else_works_and_says_so() -> None:
    for fault in ("little wood", "deeper than it need be", "on low ground"):
        (found,) = [one for one in wrong(build_front(make_job(FAULTS[fault]))) if one.topic == "wood left"]
        for way in (way for way in ways_of(found.cure) if way.typed):
            after = check(build_front(make_job(way.follow(FAULTS[fault]))))
            assert "depth of a pull" not in {one.topic for one in after}
    hopeless = FAULTS["no room for fingers at all"]
    (found,) = [one for one in wrong(build_front(make_job(hopeless))) if one.topic == "wood left"]
    assert "too shallow for fingers" in found.cure


def test_wood_under_a_pull_is_told_once_by_one_check() -> None:
    """4.5 mm are left: what breaks in the hand under a pull is not told as a thin strip as well."""
    stops = [one for one in check_front(pulled(16.5, **LOW_FLOOR)) if one.value == pytest.approx(4.5, abs=0.01)]
    assert [(one.check, one.topic) for one in stops] == [("lands and pulls", "wood left")]


def test_a_pull_on_low_ground_may_be_moved_to_higher_ground() -> None:
    (found,) = [one for one in wrong(build_front(make_job(FAULTS["on low ground"]))) if one.topic == "wood left"]
    moved = followed(FAULTS["on low ground"], found.cure, "pulls[1].centre")
    assert moved["pulls"][0]["centre"][1] != 225


def test_a_land_over_two_doors_is_named_and_a_band_across_them_is_meant() -> None:
    doors = {"width": 200, "height": 120, "doors": 2, "space": 3}
    land = {"centre": [100, 60], "size": [60, 40], "height": 20}
    (found,) = wrong(level(12.0, front=doors, lands=[land]))
    assert found.topic == "land across a joint"
    assert "doors 1 and 2" in found.sentence
    assert wrong(level(12.0, front=doors, lands=[land | {"size": [200, 40]}])) == []


@pytest.mark.parametrize(("hand", "x", "way"), [("left", 60, "right"), ("right", 140, "left")])
def test_a_pull_nearer_to_the_hinges_than_to_the_free_edge_wants_a_look(hand: str, x: float, way: str) -> None:
    hinges = {"pivot": "back", "sides": [hand]}
    found = only(pulled(pull={"centre": [x, 60]}, hinges=hinges), "pull at the hinges")
    assert (found.value, found.limit) == (60, 100)
    moved = cured(pulled_job(pull={"centre": [x, 60]}, hinges=hinges), found)
    assert (moved.job.pulls[0].centre[0] - x > 0) is (way == "right")
    assert wrong(moved) == []
    assert wrong(pulled(pull={"centre": [100, 60]}, hinges=hinges)) == []
    assert wrong(pulled(pull={"centre": [200 - x, 60]}, hinges=hinges)) == []


def test_the_side_of_the_hinges_follows_the_door() -> None:
    """Doors of a pair turn on their outer edges, so that pulls belong beside the joint."""
    pulls = [GOOD | {"centre": [x, 60], "size": [40, 40]} for x in (25, 75, 125, 175)]
    front = level(front={"width": 200, "height": 120, "doors": 2}, pulls=pulls, hinges={"pivot": "back"})
    found = [one for one in check(front) if one.topic == "pull at the hinges"]
    assert [(one.sentence[:6], one.door) for one in found] == [("Pull 1", 1), ("Pull 4", 2)]


def test_without_hinges_nothing_is_said_of_the_lever() -> None:
    assert wrong(pulled(pull={"centre": [46, 60]})) == []


def test_a_pull_over_the_joint_between_two_doors_wants_a_look_and_moving_it_cures() -> None:
    doors = {"width": 200, "height": 120, "doors": 2, "space": 3}
    found = only(pulled(front=doors), "pull across a joint")
    assert "doors 1 and 2" in found.sentence
    assert wrong(cured(pulled_job(front=doors), found)) == []


def test_a_pull_that_lies_on_no_strip_is_named() -> None:
    front = pulled(
        front={"width": 200, "height": 120, "reveals": {"left": 40}}, pull={"centre": [16, 60], "size": [30, 40]}
    )
    found = only(front, "pull on no strip")
    assert found.strip == 1
    assert float(re.search(r"centre = \[([\d.]+), 60\]", found.cure)[1]) > 16


def test_limits_of_pulls_may_be_set_and_are_named_as_such() -> None:
    limits = {"finger_depth": 16, "finger_height": 30, "finger_wood": 11, "finger_edge": 5}
    found = {one.topic: one for one in wrong(pulled(limits=limits))}
    values = [
        (found[topic].limit, found[topic].source[-15:])
        for topic in ("depth of a pull", "clear height of a pull", "wood left", "rim of a pull")
    ]
    assert values == [(16, "said in the job"), (30, "said in the job"), (11, "said in the job"), (5, "said in the job")]
    easy = {"finger_depth": 7, "finger_height": 12}
    assert wrong(pulled(pull={"depth": 8, "size": [90, 30]}, limits=easy)) == []


def test_a_job_in_inches_is_told_in_inches() -> None:
    front = small_front(
        unit="in",
        front={"width": 16, "height": 8, "doors": 2, "space": 0.125},
        strips={"count": 16},
        wood={"blank": 0.875, "floor": 0.3125},
        layers=[{"kind": "hills", "size": 3}],
        pulls=[
            {"centre": [8, 4], "size": [3, 1], "depth": 0.5, "edge": 0.0625},
            {"centre": [3, 4], "size": [3, 1.5], "depth": 0.25},
        ],
        lands=[{"centre": [12, 4], "size": [2, 2], "height": 0.75}, {"centre": [13, 4], "size": [2, 2], "height": 0.5}],
        hinges={"pivot": "back"},
    )
    found = check(front)
    assert len({one.topic for one in found}) >= 6
    assert not re.search(r"\bmm\b", " ".join(one.sentence + one.cure for one in found))


# What is found of lands.

LAND = {"centre": [60, 60], "size": [60, 40], "height": 20, "blend": 10}


@pytest.mark.parametrize("shape", ["rectangle", "ellipse"])
def test_a_land_that_nothing_touches_is_not_complained_of(shape: str) -> None:
    assert check(level(12.0, lands=[LAND | {"shape": shape}])) == []


def test_a_land_that_a_later_one_runs_into_is_named_and_moving_it_cures() -> None:
    other = {"centre": [110, 60], "size": [30, 40], "height": 18, "blend": 24}
    found = only(level(12.0, lands=[LAND, other]), "lands")
    assert "land 2 runs into it" in found.sentence
    strip = level().layout.strip(found.strip)
    assert strip.left <= strip.left + found.from_left <= 90.0 + 1e-9
    assert strip.left + found.from_left == pytest.approx(90.0, abs=3.0)
    for words in ("lands[2].centre", "lands[1].height"):
        settings = followed(level_job(12.0, lands=[LAND, other]), found.cure, words)
        assert wrong(build_front(make_job(settings))) == []


@pytest.mark.parametrize("keep", ["flat", "at least"])
def test_a_land_that_a_cap_cuts_is_named_and_the_lower_land_is_level(keep: str) -> None:
    land, cap = LAND | {"keep": keep}, {"edge": "left", "width": 45, "height": 15, "blend": 40}
    found = only(level(12.0, lands=[land], caps=[cap]), "lands")
    assert found.value == pytest.approx(5.0, abs=0.06)
    settings = followed(level_job(12.0, lands=[land], caps=[cap]), found.cure)
    assert settings["lands"][0]["height"] < 15
    assert wrong(build_front(make_job(settings))) == []


def test_a_pull_carved_into_a_land_does_not_spoil_it() -> None:
    land = {"centre": [100, 60], "size": [150, 80], "height": 21}
    assert wrong(pulled(12.0, lands=[land])) == []


def test_a_land_that_keeps_wood_at_least_so_thick_may_be_higher() -> None:
    assert check(level(22.0, lands=[LAND | {"keep": "at least", "height": 15}])) == []


def test_a_land_under_a_pull_that_must_be_as_high_as_the_blank_allows_can_be_told() -> None:
    """It has no height then; what is typed in its place must have one."""
    front = small_front(
        front={"width": 228.4752, "height": 165.6313, "doors": 2},
        strips={"count": 8, "gap": 6.0},
        wood={"species": "white ash", "blank": 20.0, "floor": 7.5959},
        carving={"fit": "depth", "depth": 5.5807},
        layers=[{"kind": "facets", "size": 60.32036877841918, "long": 2.4, "tilt": 0.5, "softness": 0.2, "seed": 15}],
        lands=[
            {
                "shape": "rectangle",
                "centre": [107.9421, 67.0182],
                "size": [124.9722, 58.9275],
                "height": 16.7611,
                "keep": "flat",
                "blend": 8.0,
            }
        ],
        pulls=[{"centre": [91.3901, 82.8157], "size": [34.0, 60.0], "depth": 5.0}],
    )
    assert any(one.topic == "depth of a pull" for one in check(front))
    assert not any("None" in one.cure for one in check(front))
