"""Checks: what is wrong is named at its strip and its place, with a cure that works; what is right is not complained of."""

from __future__ import annotations

from typing import Any

import pytest
from following import cures_that_do_not_cure
from helpers import a_job, small_front

from facade.checks import CHECKS, Finding, Weight, check_front
from facade.front import Front, build_front
from facade.job import make_job


def findings(front: Front, check: str) -> list[Finding]:
    return [finding for finding in check_front(front) if finding.check == check and finding.weight is not Weight.KNOW]


def as_given_job(height: float, **changes: object) -> dict[str, Any]:
    """Return a job of level height 12 with one place, on the fifth strip and 40 mm from the top, at `height`."""
    around = [{"place": [x, y], "height": 12} for x in (0, 100, 200) for y in (0, 60, 120)]
    layer = {"kind": "points", "points": [*around, {"place": [112.5, 80], "height": height}]}
    return a_job(carving={"fit": "as given"}, layers=[layer], **changes)


def as_given(height: float, **changes: object) -> Front:
    """Return its front."""
    return build_front(make_job(as_given_job(height, **changes)))


def test_a_front_that_can_be_made_has_nothing_that_stops_it_or_wants_a_look() -> None:
    front = small_front(layers=[{"kind": "hills", "size": 120, "octaves": 1}])
    assert [finding for finding in check_front(front) if finding.weight is not Weight.KNOW] == []


def test_a_place_below_the_floor_is_named_where_it_was_cut_off() -> None:
    (found,) = findings(as_given(5.0, wood={"floor": 8}), "cut off")
    assert found.strip == 5
    assert found.from_top == pytest.approx(40, abs=4)
    assert found.value == pytest.approx(5.0, abs=0.8)


def test_a_place_above_the_blank_is_named_where_it_was_cut_off() -> None:
    (found,) = findings(as_given(22.0), "cut off")
    assert found.strip == 5
    assert found.limit == pytest.approx(20 - 0.8)


@pytest.mark.parametrize(("height", "key"), [(5.0, "carving.depth"), (7.2, "wood.floor"), (22.0, "wood.blank")])
def test_the_cure_of_what_was_cut_off_works(height: float, key: str) -> None:
    (found,) = findings(as_given(height), "cut off")
    assert f"{key} = " in found.cure
    assert cures_that_do_not_cure(as_given_job(height), only="cut off") == []


def test_a_floor_on_which_strips_break_is_no_cure() -> None:
    (found,) = findings(as_given(5.0), "cut off")
    assert found.value < 5.0
    assert "wood.floor" not in found.cure


def test_a_strip_that_breaks_in_the_hand_stops_the_job() -> None:
    worst = min(findings(small_front(wood={"floor": 4}), "thickness"), key=lambda one: one.value)
    assert worst.weight is Weight.STOPS
    assert worst.value == pytest.approx(4.0, abs=0.01)


@pytest.mark.parametrize(
    ("by", "floor", "said"), [("glue", 5.5, "glued"), ("screws", 7, "screws"), ("screws", 8, None)]
)
def test_the_limit_that_is_passed_is_the_one_that_is_said(by: str, floor: float, said: str | None) -> None:
    ends = {"thin_end": 6, "thin_edge": 6}
    found = findings(small_front(wood={"floor": floor}, fixing={"by": by}, limits=ends), "thickness")
    assert {said in one.sentence for one in found} == (set() if said is None else {True})


def test_thickness_that_no_place_uses_is_said_with_a_thinner_blank() -> None:
    front = small_front(carving={"fit": "as given"}, layers=[{"kind": "hills", "size": 60, "amount": 0.001}])
    assert not any("blanks" in finding.sentence for finding in check_front(small_front()))
    unused = [finding for finding in check_front(front) if "thinner would do" in finding.sentence]
    assert len(unused) == 1
    for height in (5.0, 12.5):
        assert "wood.blank = " in next(one.cure for one in check_front(as_given(height)) if one.topic == "unused")
        assert cures_that_do_not_cure(as_given_job(height), only="blank") == []


def test_a_saw_line_that_would_cut_into_a_bulging_face_is_named() -> None:
    bulge = [{"kind": "waves", "trains": [{"length": 50, "phase": 90}]}]
    (found,) = findings(small_front(strips={"count": 4, "gap": 0}, layers=bulge), "blank")
    assert "bulges" in found.sentence
    assert "wood.sawing = " in found.cure
    assert cures_that_do_not_cure(a_job(strips={"count": 4, "gap": 0}, layers=bulge), only="blank") == []


def test_strips_too_narrow_to_hold_and_gaps_too_tight_are_named() -> None:
    sentences = " ".join(one.sentence for one in findings(small_front(strips={"count": 40, "gap": 0.2}), "layout"))
    assert "narrow" in sentences
    assert "little room to swell" in sentences


def test_no_finding_says_that_anything_is_safe() -> None:
    for front in (small_front(), small_front(wood={"floor": 4}), as_given(22.0), as_given(5.0)):
        assert not any("safe" in (one.sentence + one.cure).lower() for one in check_front(front))


def test_heaviest_findings_come_first() -> None:
    weights = [list(Weight).index(finding.weight) for finding in check_front(as_given(3.0, wood={"floor": 4}))]
    assert weights == sorted(weights)


@pytest.mark.parametrize(("count", "wanted"), [(4, True), (40, False)])
def test_strips_too_wide_for_a_straight_face_are_listed(count: int, wanted: bool) -> None:
    """A straight face across a width w misses a curve of radius R by about w^2 / (8 R) (circle geometry)."""
    front = small_front(strips={"count": count, "gap": 0}, layers=[{"kind": "waves", "trains": [{"length": 100}]}])
    assert bool([finding for finding in check_front(front) if finding.check == "centre line"]) is wanted


@pytest.mark.parametrize(
    ("numbers", "said"),
    [([3], "3"), ([1, 2, 3, 4, 7, 9], "1 to 4, 7 and 9"), ([2, 3], "2 to 3"), ([1, 5, 6], "1 and 5 to 6")],
)
def test_numbers_of_strips_are_drawn_together(numbers: list[int], said: str) -> None:
    from facade.checks import runs

    assert runs(numbers) == said


def test_every_finding_says_which_check_it_comes_from() -> None:
    front = as_given(22.0)
    for name, check in CHECKS.items():
        assert {finding.check for finding in check(front)} <= {name}
