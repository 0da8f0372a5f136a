"""Empty doors: measured flat before they are clad, or not clad."""

from __future__ import annotations

import re

import pytest
from helpers import a_job, refusal, small_front

from facade.checks import Finding, Weight
from facade.checks.empty_door import check


def verdicts(*doors: dict[str, float], **changes: object) -> list[Finding]:
    return check(small_front(front={"width": 200, "height": 120, "doors": 2}, bare_doors=list(doors), **changes))


def test_doors_that_nobody_has_measured_are_one_word_for_the_front() -> None:
    (found,) = verdicts()
    assert found.weight is Weight.KNOW
    assert "string or a straightedge" in found.sentence
    assert "1.5 mm or less" in found.sentence


@pytest.mark.parametrize("door", [{"bow": 1.5, "twist": 0.4}, {"bow": 0.2, "twist": 1.5}, {"bow": 0.0}])
def test_a_door_within_the_limit_may_be_clad(door: dict[str, float]) -> None:
    found = verdicts({"door": 1} | door, {"door": 2})
    assert [one.weight for one in found] == [Weight.KNOW, Weight.KNOW]
    assert "Door 1: go" in found[0].sentence


@pytest.mark.parametrize("door", [{"bow": 2.1, "twist": 0.4}, {"bow": 0.2, "twist": 2.1}])
def test_a_door_beyond_the_limit_in_bow_or_twist_stops_the_job(door: dict[str, float]) -> None:
    first, second = verdicts({"door": 1}, {"door": 2} | door)
    assert (first.weight, second.weight) == (Weight.KNOW, Weight.STOPS)
    assert (second.door, second.value, second.limit) == (2, 2.1, 1.5)
    assert "from 2.1 mm to 1.5 mm" in second.cure


def test_a_door_that_the_cure_has_flattened_goes() -> None:
    (stopped, _) = verdicts({"door": 1, "bow": 2.4})
    flat = float(re.search(r"to ([\d.]+) mm or less", stopped.cure)[1])
    assert verdicts({"door": 1, "bow": flat})[0].weight is Weight.KNOW


def test_the_doors_that_are_still_to_be_measured_are_named() -> None:
    found = verdicts({"door": 2, "bow": 0.5})
    assert "Hang bare door 1 too" in found[-1].sentence


def test_the_limit_may_be_set_and_is_named_as_such() -> None:
    found = verdicts({"door": 1, "bow": 2.0}, {"door": 2}, limits={"warp": 2.5})
    assert {one.weight for one in found} == {Weight.KNOW}
    stopped = verdicts({"door": 1, "bow": 2.0}, {"door": 2}, limits={"warp": 0.5})[0]
    assert stopped.weight is Weight.STOPS
    assert "said in the job" in stopped.source


def test_a_job_in_inches_is_told_in_inches() -> None:
    found = check(
        small_front(
            unit="in",
            front={"width": 8, "height": 5},
            wood={"blank": 0.875, "floor": 0.3125},
            layers=[{"kind": "hills", "size": 3}],
            bare_doors=[{"door": 1, "bow": 0.125}],
        )
    )
    assert not re.search(r"\bmm\b", " ".join(one.sentence + one.cure for one in found))
    assert "1/8 in" in found[0].sentence


def test_a_door_that_is_not_there_or_is_listed_twice_is_refused() -> None:
    assert "`bare_doors[1].door` must be at most 1" in refusal(a_job(bare_doors=[{"door": 2}]))
    twice = refusal(a_job(bare_doors=[{"door": 1}, {"door": 1, "bow": 1}]))
    assert "`bare_doors[2].door` must be a door that is not listed yet (got 1)" in twice


@pytest.mark.parametrize(("doors", "sides"), [(1, ["left", "right"]), (3, ["left", "right"])])
def test_hinge_sides_must_be_as_many_as_doors(doors: int, sides: list[str]) -> None:
    settings = a_job(front={"doors": doors}, strips={"count": 6}, hinges={"pivot": "back", "sides": sides})
    assert f"as many sides as there are doors, {doors} (got 2)" in refusal(settings)


def test_hinge_sides_that_are_as_many_as_doors_are_taken() -> None:
    front = small_front(front={"doors": 2}, hinges={"pivot": "back", "sides": ["right", "right"]})
    assert front.job.hinge_side(1, 2).value == "right"
