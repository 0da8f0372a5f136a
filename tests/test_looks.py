"""Gaps and looks: see-in angles, steps between neighbours, waves too short for the strips, and the sum of errors."""

from __future__ import annotations

import re
from typing import Any

import numpy as np
import pytest
from helpers import small_front, small_job
from scipy.signal import find_peaks

from facade.checks import Finding, Weight
from facade.checks.looks import check, error_sum, see_in_angle
from facade.checks.waves import crests, waves_across
from facade.front import Front
from facade.job.bench import ErrorBudget


def plane(across: float, *, left: float = 10.0, **changes: Any) -> Front:
    """Return a front, 200 wide, whose face climbs by `across` mm a mm from left to right."""
    points = [{"place": [x, y], "height": left + across * x} for x in (0, 200) for y in (0, 120)]
    settings: dict[str, Any] = {
        "wood": {"blank": 130, "floor": 5},
        "carving": {"fit": "as given"},
        "layers": [{"kind": "points", "points": points}],
    }
    return small_front(**(settings | changes))


def waves(length: float, **changes: Any) -> Front:
    """Return a front of 28 strips of 18 and gaps of 3, with waves of this length straight across it."""
    settings: dict[str, Any] = {
        "front": {"width": 585, "height": 120},
        "strips": {"count": 28, "width": 18, "gap": 3},
        "layers": [{"kind": "waves", "trains": [{"length": length}]}],
    }
    return small_front(**(settings | changes))


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
    blend = float(re.search(r"a blend of ([\d.]+) mm", steps[0].cure)[1])
    assert not found(plane(0.0, lands=[land | {"blend": blend}]), "differ")


def test_the_gap_the_depth_and_the_packing_that_are_asked_for_cure_a_step() -> None:
    layers = [{"kind": "hills", "size": 60}]
    front = small_front(layers=layers, strips={"count": 8, "gap": 3})
    worst = max(found(front, "differ"), key=lambda one: one.value)
    gap = float(re.search(r"gaps of ([\d.]+) mm", worst.cure)[1])
    depth = float(re.search(r"a relief of ([\d.]+) mm", worst.cure)[1])
    assert not found(small_front(layers=layers, strips={"count": 8, "gap": gap}), "differ")
    assert not found(small_front(layers=layers, carving={"fit": "depth", "depth": depth}), "differ")
    assert not found(small_front(layers=layers, carving={"packed": True}), "differ")


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
    better = float(re.search(r"Bring the pencil line to ([\d.]+) mm", said.cure)[1])
    assert not found(plane(0.0, errors={"trace": better}), "at worst")


def test_tight_joints_are_held_to_the_tighter_limit_and_all_steps_must_be_better() -> None:
    strips = {"count": 8, "gap": 0.1}
    (said,) = found(plane(0.0, strips=strips), "at worst")
    assert said.limit == 0.2
    share = int(re.search(r"(\d+) % of what it is", said.cure)[1]) / 100
    better = {name: share * size for name, size in ErrorBudget().model_dump().items()}
    assert not found(plane(0.0, strips=strips, errors=better), "at worst")


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
    deep = {"species": "white ash", "blank": 26, "floor": 8}
    (said,) = found(waves(120, wood=deep), "wave")
    width = float(re.search(r"strips of ([\d.]+) mm", said.cure)[1])
    longer = float(re.search(r"waves ([\d.]+) times", said.cure)[1])
    assert not found(waves(120, wood=deep, strips={"count": int(588 / (width + 3)), "width": width, "gap": 3}), "wave")
    assert not found(waves(120 * longer, wood=deep), "wave")


def test_strips_too_narrow_to_rip_are_no_cure() -> None:
    (said,) = found(waves(60), "wave")
    assert "strips of" not in said.cure
    assert "times as long" in said.cure


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
