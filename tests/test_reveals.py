"""Reveals: room around inset doors at every side, the rule's where the job says nothing, and cures that give it."""

from __future__ import annotations

from typing import Any

import pytest
from following import cures_that_do_not_cure
from helpers import a_job, small_front
from openings import front_in, job_in, right_angled

from facade.checks import Finding, Weight, check_front
from facade.checks.opening import check
from facade.front import Front, build_front
from facade.job import make_job
from facade.rules import rule
from facade.screen import rule_lines

SIDES = ("left", "right", "top", "bottom")
CASE = {"stands": "case side", "forward": 18}


def about_reveals(front: Front) -> list[Finding]:
    return [one for one in check(front) if "reveal" in one.topic]


def around(front: Front) -> dict[str, float]:
    """Return the room around the doors, as they are laid out."""
    doors = front.layout.doors
    low, high = doors[0], doors[-1]
    return {
        "left": low.left,
        "right": front.layout.width - high.right,
        "bottom": low.bottom,
        "top": front.layout.height - low.top,
    }


# The rule's, where nothing is said.


def test_an_inset_front_that_says_nothing_gets_the_rules_reveal_all_round_and_is_told_so() -> None:
    front = front_in(right_angled(), front={"reveals": {}})
    assert around(front) == pytest.approx(dict.fromkeys(SIDES, rule("reveal")))
    assert any("reveal" in line and "2 mm" in line for line in rule_lines(front))
    assert about_reveals(front) == []


def test_what_is_said_of_one_side_stands_and_the_rule_fills_the_others() -> None:
    front = front_in(right_angled(), front={"reveals": {"left": 3.5, "top": 0}})
    assert around(front) == pytest.approx({"left": 3.5, "right": 2, "top": 0, "bottom": 2})


@pytest.mark.parametrize("opening", [None, right_angled(mounting="overlay")])
def test_without_an_inset_opening_nothing_said_is_nothing(opening: dict[str, Any] | None) -> None:
    front = front_in(opening, front={"reveals": {}})
    assert around(front) == pytest.approx(dict.fromkeys(SIDES, 0.0))
    assert not any("reveal" in line for line in rule_lines(front))


def test_reveals_that_are_all_said_are_no_rule() -> None:
    assert not any("reveal" in line for line in rule_lines(front_in(right_angled())))


def test_doors_made_smaller_by_the_rule_are_another_design_and_said_or_not_is_the_same() -> None:
    bare = front_in(None, front={"reveals": {}}).mark
    by_rule = front_in(right_angled(), front={"reveals": {}}).mark
    said = front_in(right_angled(), front={"reveals": dict.fromkeys(SIDES, 2)}).mark
    assert by_rule == said != bare
    assert said == front_in(None, front={"reveals": dict.fromkeys(SIDES, 2)}).mark


# Too little.


@pytest.mark.parametrize("side", SIDES)
def test_a_side_without_a_reveal_stops_and_is_told_what_to_type(side: str) -> None:
    front = front_in(right_angled(), front={"reveals": dict.fromkeys(SIDES, 2) | {side: 0}})
    (found,) = about_reveals(front)
    assert found.weight is Weight.STOPS
    assert f"front.reveals.{side} = 2" in found.cure


@pytest.mark.parametrize("side", SIDES)
def test_a_narrow_reveal_wants_a_look_and_one_at_the_limit_does_not(side: str) -> None:
    def found(room: float) -> list[Weight]:
        reveals = dict.fromkeys(SIDES, 2) | {side: room}
        return [one.weight for one in about_reveals(front_in(right_angled(), front={"reveals": reveals}))]

    assert found(1.5) == []
    assert found(1.4) == found(0.1) == [Weight.LOOK]
    assert found(0.04) == [Weight.STOPS]


def test_a_door_as_high_as_its_opening_is_not_called_sound() -> None:
    opening = right_angled(926, 800, widths=[926.5, 926, 926.5], heights=[800, 800.5, 800], diagonals=[1224.5, 1224])
    front = front_in(
        opening, front={"width": 926, "height": 800, "reveals": {"left": 2.5, "right": 2.5, "top": 0, "bottom": 0}}
    )
    (found,) = about_reveals(front)
    assert found.weight is Weight.STOPS
    assert "above and below" in found.sentence
    assert not any("by 800 mm" in one.sentence.partition("everywhere")[2] for one in check(front))
    assert "front.reveals.top = 2 and front.reveals.bottom = 2" in found.cure


def test_what_counts_is_the_room_that_really_remains() -> None:
    """A front 3 mm smaller than its opening leaves 1.5 mm more at both sides; one as large leaves none more."""
    none = {"front": {"reveals": dict.fromkeys(SIDES, 0)}}
    larger = [one.weight for one in about_reveals(front_in(right_angled(903, 703), **none))]
    a_little = [one.weight for one in about_reveals(front_in(right_angled(901, 701), **none))]
    assert larger == []
    assert a_little == [Weight.LOOK, Weight.LOOK]


def test_the_limit_is_the_jobs_own() -> None:
    reveals = {"front": {"reveals": dict.fromkeys(SIDES, 1.2)}}
    assert about_reveals(front_in(right_angled(), limits={"reveal_least": 1.2}, **reveals)) == []
    (sides, heights) = about_reveals(front_in(right_angled(), limits={"reveal_least": 3}, **reveals))
    assert (sides.limit, heights.limit) == (3, 3)
    assert "front.reveals.left = 3" in sides.cure
    none = front_in(right_angled(), limits={"reveal_least": 0}, front={"reveals": dict.fromkeys(SIDES, 0)})
    assert [one.weight for one in about_reveals(none)] == [Weight.STOPS, Weight.STOPS]


# Without a measured opening.


def beside(hinges: bool = True, reveals: dict[str, float] | None = None, **sides: Any) -> list[Finding]:
    more = {"hinges": {"pivot": "knife"}} if hinges else {}
    return about_reveals(small_front(front={"reveals": reveals or {}}, beside=sides, **more))


def test_beside_case_sides_every_side_of_a_hinged_door_is_held() -> None:
    found = beside(left=CASE, right=CASE)
    assert [one.weight for one in found] == [Weight.STOPS, Weight.STOPS]
    typed = " ".join(one.cure for one in found)
    assert all(f"front.reveals.{side} = 2" in typed for side in SIDES)


def test_without_hinges_only_the_sides_where_something_stands_are_held() -> None:
    (found,) = beside(hinges=False, left=CASE)
    assert "front.reveals.left = 2" in found.cure
    assert "right" not in found.cure
    (wall,) = beside(right={"stands": "wall"})
    assert "front.reveals.right = 2" in wall.cure


def test_where_nothing_is_said_to_stand_nothing_is_asked() -> None:
    assert beside() == []
    assert beside(hinges=False) == []


def test_doors_that_lie_over_their_case_sides_need_no_reveal() -> None:
    """A case side that ends where the doors' boards begin, 18 mm behind the back of the strips."""
    flush = {"stands": "case side", "forward": -18}
    assert beside(left=flush, right=flush) == []


def test_enough_reveals_beside_a_case_say_nothing() -> None:
    assert beside(left=CASE, right=CASE, reveals=dict.fromkeys(SIDES, 1.5)) == []


# Cures.


ROOMS: dict[str, dict[str, float]] = {
    "none": dict.fromkeys(SIDES, 0),
    "none above": {"left": 2, "right": 2, "top": 0, "bottom": 2},
    "narrow": dict.fromkeys(SIDES, 1),
    "one of each": {"left": 0, "right": 1, "top": 0.7, "bottom": 0},
}
DOORS: dict[str, dict[str, Any]] = {
    "strips by their number": {},
    "strips by their width": {"strips": {"count": None, "width": 18, "gap": 3}},
    "nothing left free": {"strips": {"count": 40, "width": 19, "gap": 3}},
    "one door": {"front": {"doors": 1, "space": 0}, "strips": {"count": 40, "width": 19, "gap": 3}},
    "a hidden joint": {
        "front": {"space": None, "hidden_joint": True},
        "strips": {"count": None, "width": 19.4, "gap": 3},
    },
}


def job_of(doors: str, reveals: dict[str, float], opening: dict[str, Any]) -> dict[str, Any]:
    changes = DOORS[doors]
    return job_in(opening, **changes | {"front": changes.get("front", {}) | {"reveals": reveals}})


@pytest.mark.parametrize("rooms", ROOMS)
@pytest.mark.parametrize("doors", DOORS)
def test_what_is_told_of_reveals_cures_them(doors: str, rooms: str) -> None:
    settings = job_of(doors, ROOMS[rooms], right_angled())
    assert cures_that_do_not_cure(settings, only="opening") == []


@pytest.mark.parametrize("doors", ["strips by their number", "strips by their width", "nothing left free"])
def test_reveals_that_a_small_difference_eats_up_are_cured(doors: str) -> None:
    """A front 0.4 mm too large for the rectangle of its opening, and one 1 mm too small."""
    for opening in (right_angled(diagonals=[1140.5, 1139.9]), right_angled(901, 701)):
        settings = job_of(doors, dict.fromkeys(SIDES, 0.3), opening)
        assert cures_that_do_not_cure(settings, only="opening") == []


def test_strips_that_fill_their_doors_are_made_narrower_and_stay_as_many() -> None:
    """40 strips of 18 and 38 gaps of 3 fill two doors of 417: reveals of 2 would push one strip out of each."""
    front = {"width": 837, "reveals": {"left": 0, "right": 0, "top": 2, "bottom": 2}}
    settings = job_in(right_angled(837), front=front, strips={"count": None, "width": 18, "gap": 3})
    (found,) = about_reveals(build_front(make_job(settings)))
    assert "strips.width = 17." in found.cure
    assert cures_that_do_not_cure(settings, only="opening") == []


def test_doors_of_their_own_widths_are_told_their_new_widths() -> None:
    front = {"doors": 2, "door_widths": [400, 497], "reveals": {"left": 0, "right": 0, "top": 2, "bottom": 2}}
    settings = job_in(right_angled(), front=front, strips={"count": None, "width": 18, "gap": 3})
    (found,) = about_reveals(build_front(make_job(settings)))
    assert "front.door_widths = [398, 495]" in found.cure
    assert cures_that_do_not_cure(settings, only="opening") == []


def test_reveals_of_a_job_in_inches_are_cured_in_inches() -> None:
    opening = {"mounting": "inset", "widths": [36, 36, 36], "heights": [28, 28, 28]}
    settings = job_in(
        opening,
        unit="in",
        front={"width": 36, "height": 28, "space": 0.125, "reveals": dict.fromkeys(SIDES, 0)},
        strips={"count": 40, "width": 0.775, "gap": 0.125},
        wood={"species": "white ash", "blank": 0.875, "floor": 0.3125},
    )
    found = about_reveals(build_front(make_job(settings)))
    assert all("front.reveals." in one.cure and ' in"' in one.cure for one in found)
    assert cures_that_do_not_cure(settings, only="opening") == []


def test_swing_never_asks_for_less_than_a_closed_door_must_have() -> None:
    """A knife hinge's edge hardly sweeps: 1.0 mm would clear it, 1.5 mm is the least of a closed door."""
    front = small_front(
        front={"reveals": {"left": 0.3, "right": 2, "top": 2, "bottom": 2}},
        hinges={"pivot": "front"},
        beside={"left": CASE, "right": CASE},
    )
    said = [one.cure for one in check_front(front) if one.check == "swing" and "reveal of" in one.cure]
    assert said
    least = rule("reveal_least")
    assert all(float(cure.split("reveal of ")[1].split(" mm")[0]) >= least for cure in said)


def test_a_side_left_out_is_no_length_and_a_wrong_one_is_still_named() -> None:
    from helpers import refusal

    assert "`front.reveals.left` must be at least 0" in refusal(a_job(front={"reveals": {"left": -1}}))
