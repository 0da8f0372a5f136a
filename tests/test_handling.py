"""Handling: bare strips that break or whip are named where they do, with cures that work; short stock is said once."""

from __future__ import annotations

import math
import re
from typing import Any

import pytest
from following import cures_that_do_not_cure
from helpers import a_job, small_front

from facade.checks import Finding, Weight
from facade.checks.handling import PUSH, check
from facade.doors.timber import timber_of
from facade.front import Front, build_front
from facade.job import make_job
from facade.wood import species

LIMITS = {"break_force": 150.0, "break_force_least": 40.0, "whip": "8 mm"}


def level_job(height: float, **changes: Any) -> dict[str, Any]:
    """Return a job of eight even strips, 900 mm long."""
    points = [{"place": [x, y], "height": f"{height} mm"} for x, y in ((0, 0), (9, 0), (0, 9))]
    settings: dict[str, Any] = {
        "front": {"width": "200 mm", "height": "900 mm"},
        "wood": {"blank": "24 mm", "floor": "3 mm", "moisture": 12.0},
        "carving": {"fit": "as given"},
        "layers": [{"kind": "points", "points": points}],
        "limits": LIMITS,
    }
    return a_job(**settings | changes)


def level(height: float, **changes: Any) -> Front:
    """Return the front of such a job."""
    return build_front(make_job(level_job(height, **changes)))


def waves_job(**changes: Any) -> dict[str, Any]:
    """Return a job of long strips whose thickness runs from the floor to the face."""
    settings: dict[str, Any] = {
        "front": {"width": 200, "height": 900},
        "wood": {"blank": 20, "floor": 6, "moisture": 12.0},
        "strips": {"count": 12},
        "layers": [{"kind": "waves", "trains": [{"length": 300, "direction": 75}, {"length": 170, "direction": 20}]}],
        "limits": LIMITS,
    }
    return a_job(**settings | changes)


def waves(**changes: Any) -> Front:
    """Return the front of such a job."""
    return build_front(make_job(waves_job(**changes)))


def about(topic: str, front: Front) -> list[Finding]:
    return [finding for finding in check(front) if finding.topic == topic]


def number_after(words: str, text: str) -> float:
    found = re.search(words + r" ([\d.]+)", text)
    assert found is not None, text
    return float(found[1])


def width_of(front: Front) -> float:
    return front.layout.strips[0].width


@pytest.mark.parametrize(
    ("thickness", "weight"), [(14.0, None), (9.0, Weight.LOOK), (6.0, Weight.LOOK), (4.0, Weight.STOPS)]
)
def test_an_even_strip_breaks_under_the_force_of_the_handbook(thickness: float, weight: Weight | None) -> None:
    """4 MOR S / L with S = b h^2 / 6: Wood Handbook, FPL-GTR-282, Table 9-1, Eq. (9-13)."""
    front = level(thickness)
    found = about("breaks", front)
    force = 4.0 * 106.0 * width_of(front) * thickness**2 / 6.0 / 900.0
    assert {one.weight for one in found} == (set() if weight is None else {weight})
    assert [one.value for one in found] == pytest.approx([force] * 8 if weight else [], rel=0.01)
    assert all("average, clear wood" in one.sentence for one in found)


@pytest.mark.parametrize("thickness", [14.0, 9.0, 6.0])
def test_an_even_strip_bends_as_far_as_the_handbook_has_it(thickness: float) -> None:
    """P L^3 / (48 E I) and P L / (4 G A'): Wood Handbook, FPL-GTR-282, Eq. (9-2), Table 9-1."""
    front = level(thickness)
    width = width_of(front)
    bent = PUSH * 900.0**3 / (4.0 * 12_000.0 * width * thickness**3)
    bent += PUSH * 900.0 / (4.0 * 750.0 * 5.0 / 6.0 * width * thickness)
    found = about("whips", front)
    assert [one.value for one in found] == pytest.approx([bent] * 8 if bent > 8.0 else [])


def test_a_thin_place_is_named_at_its_strip_and_millimetre() -> None:
    around = [{"place": [x, y], "height": 16} for x in (0, 85, 140, 200) for y in (0, 300, 560, 640, 900)]
    layers = [{"kind": "points", "points": [*around, {"place": [112.5, 600], "height": 4}]}]
    worst = max(about("breaks", level(12.0, layers=layers)), key=lambda one: one.beyond)
    assert worst.strip == 5
    assert worst.from_top == pytest.approx(300.0, abs=3.0)
    assert f"breaks {worst.from_top:.0f} mm from the top" in worst.sentence


def test_damp_wood_breaks_and_bends_sooner() -> None:
    wood = {"blank": 24, "floor": 3}
    dry, damp = (level(6.0, wood=wood | {"moisture": moisture}) for moisture in (8.0, 16.0))
    assert about("breaks", damp)[0].value < about("breaks", dry)[0].value
    assert about("whips", damp)[0].value > about("whips", dry)[0].value


def test_without_a_reading_the_wood_has_what_the_room_gives_it() -> None:
    """At 20 degrees C wood settles at 12.0 % in air of 65 % (Wood Handbook, FPL-GTR-282, Table 4-2): the values of 12 %."""
    wood = {"moisture": None}
    room = {"now": {"temperature": 20.0, "humidity": 65.0}}
    timber = timber_of(small_front(wood=wood, room=room).job)
    assert timber.strength == pytest.approx(species("white ash").bending, rel=0.01)
    assert timber.stiffness == pytest.approx(species("white ash").stiffness, rel=0.01)


STIFF = {"limits": LIMITS | {"whip": 6.0}}
FAULTS = {
    "even and weak": level_job(9.0),
    "even and weaker": level_job(6.0),
    "even, breaks in the hand": level_job(4.0),
    "from floor to face": waves_job(**STIFF),
    "depth": waves_job(carving={"fit": "depth", "depth": 13.0}, **STIFF),
    "very long": waves_job(front={"width": 200, "height": 2400}),
    "under a pull": waves_job(
        wood={"blank": 20, "floor": 4}, pulls=[{"centre": [100, 450], "size": [120, 60], "depth": 12}], **STIFF
    ),
    "inches": level_job(6.0, unit="in"),
}


@pytest.mark.parametrize("fault", FAULTS)
def test_every_way_that_a_cure_names_clears_every_strip(fault: str) -> None:
    assert any(one.cure for one in check(build_front(make_job(FAULTS[fault]))))
    assert cures_that_do_not_cure(FAULTS[fault], only="handling") == []


def test_more_wood_is_asked_for_where_it_leaves_most_of_the_relief() -> None:
    full, deep = waves(**STIFF), waves(carving={"fit": "depth", "depth": 13.0}, **STIFF)
    assert all("wood.floor = " in one.cure for one in check(full))
    assert all("wood.blank = " in one.cure and "carving.depth = " in one.cure for one in check(deep))


@pytest.mark.parametrize("height", [4.0, 9.0])
def test_a_carving_board_said_in_the_job_makes_it_good_to_know_and_says_what_was_assumed(height: float) -> None:
    free, held = level(height), level(height, carving={"fit": "as given", "board": True})
    assert {one.weight for one in check(free)} != {Weight.KNOW}
    assert {one.weight for one in check(held)} == {Weight.KNOW}
    assert all("carving board" in one.sentence and "rests at most" in one.cure for one in check(held))
    assert [one.value for one in check(held)] == [one.value for one in check(free)]
    assert held.mark == free.mark


def test_a_pull_that_takes_the_wood_where_a_strip_breaks_is_named() -> None:
    found = [one for one in check(build_front(make_job(FAULTS["under a pull"]))) if one.topic == "breaks"]
    assert "under pull 1" in max(found, key=lambda one: one.beyond).sentence


@pytest.mark.parametrize(("topic", "height"), [("breaks", 5.0), ("whips", 5.0), ("breaks", 9.0)])
def test_with_rests_as_close_as_the_cure_says_an_even_strip_is_cleared(topic: str, height: float) -> None:
    (found, *_) = about(topic, level(height))
    apart = number_after("with rests at most", found.cure)
    assert about(topic, level(height, front={"width": 200, "height": apart})) == []
    assert about(topic, level(height, front={"width": 200, "height": apart + 20.0})) != []


def test_a_cure_that_would_take_most_of_the_relief_is_not_offered() -> None:
    (found, *_) = about("whips", waves(front={"width": 200, "height": 2400}))
    assert "wood.floor" not in found.cure
    assert "carving board" in found.cure


def test_forces_and_deflections_set_in_the_job_are_obeyed_and_said() -> None:
    stiff = {"break_force": 500.0, "break_force_least": 450.0, "whip": 0.1}
    found = check(level(14.0, limits=stiff))
    assert {(one.topic, one.weight, one.limit) for one in found} == {
        ("breaks", Weight.STOPS, 450.0),
        ("whips", Weight.LOOK, 0.1),
    }
    assert {one.source for one in found} == {"said in the job"}
    assert check(level(4.0, limits={"break_force": 1.0, "break_force_least": 1.0, "whip": 500.0})) == []


def test_a_strip_of_the_usual_size_is_not_complained_of() -> None:
    """18 x 20 mm blanks of white ash, 800 mm long, carved as far as a floor of 8 mm."""
    layers = [{"kind": "hills", "size": 160, "octaves": 2}]
    front = small_front(
        front={"width": 207, "height": 800},
        strips={"count": 10, "gap": 3},
        layers=layers,
        limits={"break_force": 100.0},
    )
    assert width_of(front) == pytest.approx(18.0)
    assert check(front) == []


def test_short_stock_is_said_once_with_its_caution_and_its_cure() -> None:
    (found,) = check(small_front(front={"width": 200, "height": 120}))
    assert (found.weight, found.value, found.limit) == (Weight.KNOW, 120.0, 300.0)
    assert "thrown back" in found.caution
    assert number_after("in one length of at least", found.cure) == 360.0
    assert check(small_front(front={"width": 200, "height": 300})) == []


def test_whipping_strips_come_with_the_caution_about_the_disc() -> None:
    (found, *_) = about("whips", level(6.0))
    assert "screw it down" in found.caution


@pytest.mark.parametrize("height", [4.0, 9.0])
def test_a_job_in_inches_prints_no_millimetres(height: float) -> None:
    front = level(height, unit="in")
    short = level(height, unit="in", front={"width": "200 mm", "height": "150 mm"})
    for one in (*check(front), *check(short)):
        assert "mm" not in one.sentence + one.cure + one.caution
    assert any(" in " in one.cure for one in check(front))


def test_rests_are_marked_in_whole_half_inches_in_a_job_in_inches() -> None:
    (found, *_) = about("whips", level(6.0, unit="in"))
    apart = re.search(r"at most (\d+)( 1/2)? in apart", found.cure)
    assert apart is not None
    span = math.cbrt(48.0 * 12_000.0 * width_of(level(6.0)) * 6.0**3 / 12.0 * 8.0 / PUSH) / 25.4
    assert 0.0 <= span - int(apart[1]) - (0.5 if apart[2] else 0.0) < 0.5
