"""Gaps and looks: see-in angles, steps between neighbours, waves too short for the strips, and the sum of errors."""

from __future__ import annotations

import copy
import re
import tomllib
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from following import cures_that_do_not_cure, followed, ways_of
from helpers import a_job, small_front, small_job
from scipy.signal import find_peaks

from facade.checks import Finding, Weight
from facade.checks.looks import check, error_sum, see_in_angle
from facade.checks.waves import crests, waves_across
from facade.front import Front, build_front
from facade.job import make_job
from facade.job.bench import ErrorBudget


def plane_job(across: float, *, left: float = 10.0, **changes: Any) -> dict[str, Any]:
    """Return a job, 200 wide, whose face climbs by `across` mm a mm from left to right."""
    points = [{"place": [x, y], "height": left + across * x} for x in (0, 200) for y in (0, 120)]
    settings: dict[str, Any] = {
        "wood": {"blank": 130, "floor": 5},
        "carving": {"fit": "as given"},
        "layers": [{"kind": "points", "points": points}],
    }
    limits = {"blank_thickest": 130} | changes.pop("limits", {})
    return a_job(**(settings | changes), limits=limits)


def plane(across: float, **changes: Any) -> Front:
    """Return the front of such a job."""
    return build_front(make_job(plane_job(across, **changes)))


def waves_job(length: float, **changes: Any) -> dict[str, Any]:
    """Return a job of 28 strips of 18 and gaps of 3, with waves of this length straight across it."""
    settings: dict[str, Any] = {
        "front": {"width": 585, "height": 120},
        "strips": {"count": 28, "width": 18, "gap": 3},
        "layers": [{"kind": "waves", "trains": [{"length": length}]}],
    }
    return a_job(**(settings | changes))


def waves(length: float, **changes: Any) -> Front:
    """Return the front of such a job."""
    return build_front(make_job(waves_job(length, **changes)))


def found(front: Front, words: str, weight: Weight = Weight.LOOK) -> list[Finding]:
    return [one for one in check(front) if one.weight is weight and words in one.sentence]


@pytest.mark.parametrize(("gap", "depth", "degrees"), [(2, 18, 6), (3, 20, 8.5), (4, 15, 15)])
def test_see_in_angles_are_those_of_the_gaps_own_triangle(gap: float, depth: float, degrees: float) -> None:
    """Closed form atan(gap / depth): half the answers of common practice, 6, 8.5 and 15 degrees."""
    assert see_in_angle(gap, depth) == pytest.approx(degrees, abs=0.4)
    assert np.tan(np.radians(see_in_angle(gap, depth))) == pytest.approx(gap / depth)


def test_the_backing_is_seen_by_the_height_of_the_lower_edge() -> None:
    """A face that climbs from 10 to 30: the first gap's lower edge is 10 + 0.1 * 22.375, the last one's 10 + 0.1 * 174.625."""
    (said,) = found(plane(0.1), "backing", Weight.KNOW)
    assert said.value == pytest.approx(np.degrees(np.arctan(3 / 12.2375)), abs=1e-3)
    assert f"within {np.degrees(np.arctan(3 / 27.4625)):.0f} to {said.value:.0f} degrees" in said.sentence


def test_nothing_is_seen_between_strips_that_touch() -> None:
    assert not found(plane(0.0, strips={"count": 8, "gap": 0}), "backing", Weight.KNOW)


@pytest.mark.parametrize("slope", [0.1, 0.32, 0.35, 0.4])
def test_facing_edges_differ_by_slope_times_gap(slope: float) -> None:
    steps = found(plane(slope), "differ")
    if slope * 3 <= 1.0:
        assert not steps
    else:
        assert [one.strip for one in steps] == list(range(1, 8))
        assert all(one.value == pytest.approx(slope * 3, abs=1e-5) and one.limit == 1.0 for one in steps)


def test_a_step_is_named_at_its_strip_and_its_place() -> None:
    """The fourth gap, from 98.5 to 101.5, is crossed by the steep side of a land that ends 30 from the top."""
    land = {"centre": [82, 90], "size": [24, 10], "height": 16, "blend": 12}
    front = plane(0.0, lands=[land])
    steps = found(front, "differ")
    assert [one.strip for one in steps] == [4]
    assert 25 <= steps[0].from_top <= 35
    left, right = (front.surface.at(np.array([[x]]), np.array([[90.0]]))[0, 0] for x in (98.5, 101.5))
    assert steps[0].value == pytest.approx(abs(left - right), abs=0.05)
    cured = followed(plane_job(0.0, lands=[land]), steps[0].cure, "blend")
    assert cured["lands"][0]["blend"] > 12
    assert not found(build_front(make_job(cured)), "differ")


DEEP = {"species": "white ash", "blank": 26, "floor": 8}
HILLS = [{"kind": "hills", "size": 60}]
WIDE = {"width": 207, "height": 120}
FAULTS = {
    "climbs": plane_job(0.4),
    "a land": plane_job(0.0, lands=[{"centre": [82, 90], "size": [24, 10], "height": 16, "blend": 12}]),
    "count": a_job(layers=HILLS, strips={"count": 8, "gap": 3}),
    "count and width": a_job(layers=HILLS, front=WIDE, strips={"count": 10, "width": 18}),
    "width": a_job(layers=HILLS, front=WIDE, strips={"count": None, "width": 18}),
    "width and gap": a_job(layers=HILLS, front=WIDE, strips={"count": None, "width": 18, "gap": 3}),
    "two doors, hidden joint": a_job(
        layers=HILLS,
        front={"width": 207, "height": 120, "doors": 2, "hidden_joint": True},
        strips={"count": None, "width": 18, "gap": 3},
    ),
    "doors of their own width": a_job(
        layers=HILLS,
        front={"width": 270, "height": 120, "door_widths": [102, 165]},
        strips={"count": None, "width": 18, "gap": 3},
    ),
    "flat": plane_job(0.0),
    "hardly carved": a_job(carving={"fit": "as given"}, layers=[HILLS[0] | {"amount": 0.001}]),
    "pencil": plane_job(0.05, errors={"trace": 0.6}),
    "tight": plane_job(0.05, strips={"count": 8, "gap": 0.1}),
    "short waves": waves_job(77),
    "rather short waves": waves_job(120, wood=DEEP),
    "rather short waves, count alone": waves_job(120, wood=DEEP, strips={"count": 28, "width": None, "gap": None}),
    "inches": a_job(
        unit="in",
        front={"width": 24, "height": 5},
        strips={"count": None, "width": "3/4 in", "gap": "1/8 in"},
        wood={"blank": "7/8 in", "floor": "5/16 in"},
        layers=[{"kind": "waves", "trains": [{"length": "2 1/2 in"}]}],
        errors={"saw": "1/32 in"},
    ),
}
FAULTS = {
    name: settings | {"strips": {key: value for key, value in settings["strips"].items() if value is not None}}
    for name, settings in FAULTS.items()
}


@pytest.mark.parametrize("fault", FAULTS)
def test_every_way_that_a_cure_names_clears_the_whole_front(fault: str) -> None:
    front = build_front(make_job(FAULTS[fault]))
    assert any(one.weight is Weight.LOOK for one in check(front))
    assert all(one.topic for one in check(front))
    assert cures_that_do_not_cure(FAULTS[fault], only="looks") == []


@pytest.mark.parametrize("preset", ["sideboard", "two-winds"])
def test_steps_of_presets_are_cleared_by_what_is_said(preset: str) -> None:
    """The worst step of one strip may be gone and another strip's be the worst: the whole front counts."""
    folder = Path(__file__).parents[1] / "presets"
    settings = tomllib.loads((folder / f"{preset}.toml").read_text("utf-8"))
    front = build_front(make_job(copy.deepcopy(settings), folder=folder))
    (worst, *_) = sorted(found(front, "differ"), key=lambda one: -one.value)
    typed = [way for way in ways_of(worst.cure) if way.typed]
    assert len(typed) >= 2
    for way in typed:
        assert not found(build_front(make_job(way.follow(settings), folder=folder)), "differ")


@pytest.mark.parametrize("fault", [name for name in FAULTS if "strips.gap" in name or "width" in name])
def test_a_gap_that_is_typed_is_the_gap_that_comes_of_it(fault: str) -> None:
    (worst, *_) = found(build_front(make_job(FAULTS[fault])), "differ")
    cured = followed(FAULTS[fault], worst.cure, "strips.gap")
    layout = build_front(make_job(cured)).layout
    assert [one.gap for one in layout.divisions] == pytest.approx(
        [cured["strips"]["gap"]] * len(layout.divisions), abs=0.01
    )
    assert max(one.edge for one in layout.divisions) < 0.5


def test_a_relief_with_nothing_to_carve_is_said_and_a_pull_in_it_is_something() -> None:
    (said,) = found(plane(0.0), "nothing to carve")
    assert said.value == 0.0
    pull = {"centre": [100, 60], "size": [90, 40], "depth": 4}
    assert not found(plane(0.0, pulls=[pull]), "nothing to carve")
    assert not found(plane(0.01), "nothing to carve")


def test_strips_that_all_but_touch_are_held_to_the_tighter_step() -> None:
    assert not found(plane(0.4, strips={"count": 8, "gap": 0.45}), "differ")
    steps = found(plane(0.5, strips={"count": 8, "gap": 0.45}), "differ")
    assert {one.limit for one in steps} == {0.2}
    assert len(steps) == 7


def test_twist_along_a_strip_is_no_fault() -> None:
    """A face that climbs steeply along, the other way on each side: the edges differ from end to end, neighbours do not."""
    twisted = [{"place": [x, y], "height": 20 + (x - 100) * (y - 60) / 800} for x in (0, 200) for y in (0, 120)]
    front = small_front(
        wood={"blank": 60, "floor": 5}, carving={"fit": "as given"}, layers=[{"kind": "points", "points": twisted}]
    )
    assert max(abs(front.strip(4).twist)) > 0.5
    assert not [one for one in check(front) if one.weight is not Weight.KNOW]


def test_default_errors_come_to_about_a_half_and_are_just_good_enough() -> None:
    """Root of the sum of squares, and plain sum, of 0.1 0.2 0.25 0.3 0.2 0.1 0.1 (arithmetic)."""
    total = error_sum(small_job().errors)
    assert total.root == pytest.approx(np.sqrt(np.sum(np.square([0.1, 0.2, 0.25, 0.3, 0.2, 0.1, 0.1]))))
    assert total.straight == pytest.approx(1.25)
    assert total.worst == "saw"
    assert total.halved == pytest.approx(np.sqrt(total.root**2 - 0.3**2 + 0.15**2))
    assert total.as_a_set == pytest.approx(np.hypot(0.1, 0.1))
    (said,) = found(plane(0.0), "at worst", Weight.KNOW)
    assert "about 0.5 mm" in said.sentence
    assert "1.25 mm" in said.sentence
    assert "saw or disc, 0.3 mm" in said.sentence


def test_the_worst_step_is_named_and_its_cure_works() -> None:
    (said,) = found(plane(0.0, errors={"trace": 0.6}), "at worst")
    assert said.value == pytest.approx(np.sqrt(error_sum(ErrorBudget()).root ** 2 - 0.25**2 + 0.6**2))
    assert "the pencil line, 0.6 mm" in said.sentence
    cured = followed(plane_job(0.0, errors={"trace": 0.6}), said.cure, "errors.trace")
    assert not found(build_front(make_job(cured)), "at worst")


def test_tight_joints_are_held_to_the_tighter_limit_and_all_steps_must_be_better() -> None:
    strips = {"count": 8, "gap": 0.1}
    (said,) = found(plane(0.0, strips=strips), "at worst")
    assert said.limit == 0.2
    cured = followed(plane_job(0.0, strips=strips), said.cure, "errors.saw")
    assert all(cured["errors"][name] < size for name, size in ErrorBudget().model_dump().items())
    assert not found(build_front(make_job(cured)), "at worst")


@pytest.mark.parametrize("seed", range(12))
def test_crests_are_those_whose_prominence_is_enough(seed: int) -> None:
    """Against scipy.signal.find_peaks, over random walks."""
    line = np.cumsum(np.random.default_rng(seed).normal(0, 0.3, 400))
    wanted, _ = find_peaks(line, prominence=0.5)
    assert len(wanted) > 10
    assert crests(line, 0.5) == [(place, place) for place in wanted.tolist()]


def test_a_level_top_is_one_crest_and_the_ends_are_none() -> None:
    line = np.array([3.0, 3, 0, 0, 1, 1, 1, 0.5, 0.6, 0, 0, 2, 2])
    _, about = find_peaks(line, prominence=0.5, plateau_size=1)
    assert (
        crests(line, 0.5)
        == list(zip(about["left_edges"].tolist(), about["right_edges"].tolist(), strict=True))
        == [(4, 6)]
    )
    assert crests(np.zeros(20), 0.5) == crests(np.arange(20.0), 0.5) == []


@pytest.mark.parametrize("length", [40.0, 77.0, 130.0])
def test_waves_are_measured_from_crest_to_crest(length: float) -> None:
    front = waves(length)
    door = front.layout.doors[0]
    apart = waves_across(front.surface, door, door.left, door.right)
    assert len(apart) >= 3
    assert apart == pytest.approx(length, abs=0.2)


def test_waves_too_short_for_the_strips_want_a_look() -> None:
    (said,) = found(waves(77), "wave")
    assert said.value == pytest.approx(77 / 21, abs=0.02)
    assert said.limit == 8
    assert "77 mm" in said.sentence


def test_strips_as_narrow_and_waves_as_long_as_is_asked_for_cure_it() -> None:
    (said,) = found(waves(120, wood=DEEP), "wave")
    for words in ("strips.width", "stretch"):
        cured = followed(waves_job(120, wood=DEEP), said.cure, words)
        assert not found(build_front(make_job(cured)), "wave")


def test_strips_too_narrow_to_rip_are_no_cure() -> None:
    (said,) = found(waves(60), "wave")
    assert "strips.width" not in said.cure
    assert "times its stretch" in said.cure


def test_short_waves_that_a_straight_face_follows_are_no_fault() -> None:
    assert not found(waves(77, carving={"fit": "depth", "depth": 2}), "wave")


def test_waves_of_strips_carved_packed_are_measured_as_they_hang() -> None:
    (said,) = found(waves(77, carving={"packed": True}), "wave")
    assert said.value == pytest.approx(77 / 18, rel=0.06)


def test_limits_of_the_job_are_obeyed_and_said_to_be_so() -> None:
    assert not found(waves(77, limits={"strips_per_wave": 3}), "wave")
    (said,) = found(waves(77, limits={"strips_per_wave": 6}), "wave")
    assert (said.limit, said.source) == (6, "said in the job")
    assert not found(plane(0.4, limits={"step_seen": 1.3}), "differ")
    assert {one.source for one in found(plane(0.1, limits={"step_seen": 0.25}), "differ")} == {"said in the job"}
    assert found(plane(0.0, limits={"mismatch": 0.4}), "at worst")


def test_a_calm_front_wants_no_look() -> None:
    said = check(plane(0.05))
    assert {one.weight for one in said} == {Weight.KNOW}
    assert len(said) == 2


def test_an_inch_job_prints_no_millimetres() -> None:
    settings: dict[str, Any] = {
        "unit": "in",
        "front": {"width": 24, "height": 5},
        "strips": {"width": "3/4 in", "gap": "1/8 in"},
        "wood": {"blank": "7/8 in", "floor": "5/16 in"},
        "layers": [{"kind": "waves", "trains": [{"length": "2 1/2 in"}]}],
        "errors": {"saw": "1/32 in"},
    }
    said = check(small_front(**settings))
    assert len([one for one in said if one.weight is Weight.LOOK]) >= 3
    for one in said:
        assert "mm" not in one.sentence + one.cure
        assert "0 in" not in re.findall(r"[\d. /]+ in\b", one.sentence + one.cure)


def test_nothing_is_called_safe() -> None:
    for front in (plane(0.0), plane(0.2), waves(77)):
        assert not any("safe" in f"{one.sentence} {one.cure} {one.caution}".lower() for one in check(front))
