"""Weight: what the doors weigh agrees with sums by hand and with another library's solids; hinges are what the table asks."""

from __future__ import annotations

import copy
import re
from typing import Any

import numpy as np
import pytest
import trimesh
from following import cures_that_do_not_cure, ways_of
from helpers import a_job, small_front

from facade.checks.finding import Finding, Weight
from facade.checks.weight import check
from facade.doors.timber import moisture_now, wood_density
from facade.doors.weight import door_weights, hinge_table, hinges_needed
from facade.front import Front, build_front
from facade.job import make_job
from facade.job.hanging import HingeRow
from facade.mesh import closed_solid, strip_grid

TWO_DOORS = {"front": {"width": 203, "height": 320, "doors": 2, "space": 3, "reveals": {"left": 4, "top": 6}}}
BARE = {"finish": 0.0, "hardware": 0.0}


def level(height: float, width: float, tall: float, **changes: Any) -> Front:
    """Return a door that is covered by strips of one height, without gaps, their heights taken every 10 mm."""
    corners = [{"place": [x, y], "height": height} for x in (0, width) for y in (0, tall)]
    changes = {"wood": {"species": "sugar maple", "blank": height + 2}, "strips": {"count": 20, "gap": 0}} | changes
    return small_front(
        front={"width": width, "height": tall} | changes.pop("front", {}),
        carving={"fit": "as given"},
        layers=[{"kind": "points", "points": corners}],
        sampling={"step": 10},
        **changes,
    )


def found(front: Front, weight: Weight) -> list[Finding]:
    return [finding for finding in check(front) if finding.weight is weight]


# ---------------------------------------------------------------------------------------------------------------- mass


def test_a_level_door_weighs_what_a_sum_by_hand_gives() -> None:
    """White ash, 0.60 on volume at 12 %, is 672 kg/m3 there: Wood Handbook, FPL-GTR-282, Table 4-6a."""
    front = level(16, 450, 800, wood={"species": "white ash", "blank": 18, "moisture": 12.0})
    (door,) = door_weights(front)
    assert wood_density(front.job) == pytest.approx(672)
    assert door.strips.kg == pytest.approx(0.450 * 0.800 * 0.016 * 672)
    assert door.board.kg == pytest.approx(0.450 * 0.800 * 0.018 * 680)
    assert door.finish.kg == pytest.approx(0.450 * 0.800 * 0.1)
    assert door.hardware.kg == 0.3
    assert door.whole.kg == pytest.approx(door.strips.kg + door.board.kg + door.finish.kg + 0.3)
    front_heavy = (door.strips.kg + door.finish.kg) * 8 + door.board.kg * -9
    assert (door.whole.x, door.whole.y) == pytest.approx((225, 400))
    assert door.whole.z == pytest.approx(front_heavy / door.whole.kg)


@pytest.mark.parametrize(
    ("width", "tall", "board", "mean", "kg"),
    [(450, 800, 12, 14, 6.3), (450, 800, 18, 16, 8.2), (450, 800, 18, 22, 9.7), (500, 900, 18, 22, 12.1)],
)
def test_clad_doors_weigh_about_what_they_do_in_the_trade(
    width: float, tall: float, board: float, mean: float, kg: float
) -> None:
    """Common practice: board and strips at 680 to 720 kg/m3; a finished door is told within 8 %."""
    front = level(mean, width, tall, board={"thickness": board, **BARE})
    (door,) = door_weights(front)
    assert door.whole.kg == pytest.approx(kg, rel=0.08)


def test_a_bare_board_of_450_by_800_weighs_4_4_kg() -> None:
    assert door_weights(level(16, 450, 800))[0].board.kg == pytest.approx(4.4, abs=0.05)


def test_mass_and_middle_agree_with_the_closed_solids_of_another_library() -> None:
    front = small_front(
        **TWO_DOORS, layers=[{"kind": "hills", "size": 90}], board={"thickness": 12, "density": 650, **BARE}
    )
    heavy = wood_density(front.job)
    for door, weight in zip(front.layout.doors, door_weights(front), strict=True):
        kg, moment = 0.0, np.zeros(3)
        for number in range(door.first_strip, door.last_strip + 1):
            strip = front.strip(number)
            solid = closed_solid(strip_grid(strip))
            mesh = trimesh.Trimesh(solid.vertices, solid.triangles, process=False)
            mass = mesh.volume * 1e-9 * heavy
            kg, moment = kg + mass, moment + mass * (mesh.center_mass + [strip.place.left, strip.place.bottom, 0])
        board = trimesh.creation.box([door.width, door.height, 12])
        middle = np.array([(door.left + door.right) / 2, (door.bottom + door.top) / 2, -6])
        mass = board.volume * 1e-9 * 650
        assert weight.strips.kg == pytest.approx(kg, rel=1e-4)
        assert (weight.strips.x, weight.strips.y, weight.strips.z) == pytest.approx(moment / kg, abs=0.01)
        assert weight.whole.kg == pytest.approx(kg + mass, rel=1e-4)
        whole = (moment + mass * middle) / (kg + mass)
        assert (weight.whole.x, weight.whole.y, weight.whole.z) == pytest.approx(whole, abs=0.01)


def test_carving_takes_off_what_the_volume_says() -> None:
    flat, carved = level(16, 400, 600), level(14, 400, 600, wood={"species": "sugar maple", "blank": 18})
    less = door_weights(flat)[0].whole.kg - door_weights(carved)[0].whole.kg
    assert less == pytest.approx(0.4 * 0.6 * 0.002 * wood_density(flat.job))


def test_moisture_is_that_of_the_meter_or_else_what_the_room_gives() -> None:
    """Equilibrium at 20 C and 65 % is 12.0 %: Wood Handbook, FPL-GTR-282, Eq. (4-5)."""
    room = small_front(room={"now": {"temperature": 20.0, "humidity": 65.0}})
    assert moisture_now(room.job) == pytest.approx(11.9963, abs=1e-4)
    assert moisture_now(small_front(wood={"moisture": 8.5}).job) == 8.5
    damp, dry = (wood_density(small_front(wood={"moisture": m}).job) for m in (14.0, 6.0))
    assert damp > dry


# --------------------------------------------------------------------------------------------------------------- hinges

TABLE = hinge_table(small_front().job)


@pytest.mark.parametrize(
    ("mass", "height", "hinges"),
    [
        (6.9, 900, 2),
        (7.0, 1000, 2),
        (7.1, 900, 3),
        (6.9, 1001, 3),
        (13, 1900, 4),
        (21, 500, 5),
        (27.1, 500, None),
        (5, 2501, None),
    ],
)
def test_hinges_are_what_the_table_asks_by_mass_or_by_height(mass: float, height: float, hinges: int | None) -> None:
    """Up to 7, 14, 20, 27 kg and 1.0, 1.5, 2.0, 2.5 m: 2 to 5 hinges; common practice, as hinge charts have it."""
    assert hinges_needed(TABLE, mass, height) == hinges
    assert hinges_needed(reversed(TABLE), mass, height) == hinges


def test_weight_in_front_of_the_board_counts_for_more() -> None:
    """6.5 kg alone would hang on 2 hinges; counted 15 % more they pass 7 kg."""
    front = level(14, 400, 700, wood={"species": "sugar maple", "blank": 16, "moisture": 9.0})
    kg = door_weights(front)[0].whole.kg
    assert 7.0 / 1.15 < kg < 7.0
    assert door_weights(front)[0].hinges == 3
    plain = level(
        14, 400, 700, wood={"species": "sugar maple", "blank": 16, "moisture": 9.0}, limits={"forward_load": 1.0}
    )
    assert door_weights(plain)[0].hinges == 2


def test_every_door_is_weighed_in_one_sentence_and_alike_doors_share_it() -> None:
    front = level(12, 303, 400, front={"doors": 2, "space": 3})
    (one,) = check(front)
    assert one.weight is Weight.KNOW
    assert one.sentence.startswith("Doors 1 to 2 each weigh")
    assert f"{door_weights(front)[0].whole.kg:.1f} kg" in one.sentence
    assert "the hinge's own sheet decides" in one.sentence
    assert one.value == pytest.approx(door_weights(front)[0].whole.kg)


def test_doors_that_differ_are_each_weighed() -> None:
    front = small_front(
        front={"width": 303, "height": 200, "door_widths": [100, 200], "space": 3}, strips={"width": 18, "count": None}
    )
    assert [one.door for one in found(front, Weight.KNOW)] == [1, 2]


def test_too_few_hinges_want_a_look_and_the_number_told_is_enough() -> None:
    front = level(16, 450, 800, hinges={"pivot": "back", "count": 2})
    (look,) = found(front, Weight.LOOK)
    assert (look.value, look.limit, look.source) == (2, 3, "rule of thumb (hinges.table)")
    enough = int(re.search(r"hinges.count = (\d+)", look.cure)[1])
    assert found(level(16, 450, 800, hinges={"pivot": "back", "count": enough}), Weight.LOOK) == []


def test_hinges_no_farther_apart_than_the_door_is_wide_want_a_look() -> None:
    (look,) = found(level(16, 450, 800, hinges={"pivot": "back", "between": 450}), Weight.LOOK)
    assert (look.value, look.limit) == (450, 450)
    assert found(level(16, 450, 800, hinges={"pivot": "back", "between": 451}), Weight.LOOK) == []
    (wide,) = found(level(16, 800, 450, hinges={"pivot": "back", "between": 300}), Weight.LOOK)
    assert "divide it into narrower doors" in wide.cure


def test_a_door_heavier_than_the_table_stops_the_job_and_as_much_lighter_it_does_not() -> None:
    hinges = {"hinges": {"pivot": "back"}}
    (stop,) = found(level(20, 900, 1300, **hinges), Weight.STOPS)
    assert stop.unit == "kg"
    assert stop.value > stop.limit == 27
    less = float(re.search(r"([\d.]+) kg lighter", stop.cure)[1])
    board = 0.9 * 1.3 * 0.018
    lighter = level(20, 900, 1300, board={"density": 680 - less / board}, **hinges)
    assert found(lighter, Weight.STOPS) == []


def test_a_door_higher_than_the_table_stops_the_job() -> None:
    (stop,) = found(level(10, 200, 2600, hinges={"pivot": "back"}), Weight.STOPS)
    assert (stop.value, stop.limit, stop.unit) == (2600, 2500, "mm")


def test_panels_of_which_no_hinges_are_said_want_a_look_only() -> None:
    assert found(level(10, 200, 2600), Weight.STOPS) == []
    assert [one.limit for one in found(level(10, 200, 2600), Weight.LOOK)] == [2500]


def test_a_table_that_the_job_gives_is_the_one_that_decides() -> None:
    table = [{"mass": 40.0, "height": 3000, "count": 6}]
    front = level(20, 900, 1300, hinges={"pivot": "back", "table": table, "count": 5})
    assert hinge_table(front.job) == (HingeRow(mass=40.0, height=3000.0, count=6),)
    (look,) = found(front, Weight.LOOK)
    assert (look.limit, look.source) == (6, "said in the job")


def test_pivots_at_top_and_bottom_are_not_counted_as_hinges() -> None:
    (one,) = check(level(20, 900, 1300, hinges={"pivot": "knife", "count": 2}))
    assert one.weight is Weight.KNOW
    assert "pivots" in one.sentence


def test_a_job_in_inches_is_told_of_inches_only() -> None:
    front = small_front(
        unit="in",
        front={"width": 30, "height": 110},
        strips={"count": 20, "gap": "1/8 in"},
        wood={"species": "black walnut", "blank": "3/4 in", "floor": "5/16 in"},
        layers=[{"kind": "hills", "size": 3}],
        hinges={"pivot": "back", "between": 20},
        sampling={"step": "1/2 in"},
    )
    said = " ".join(f"{one.sentence} {one.cure}" for one in check(front))
    assert len(check(front)) == 3
    assert " in" in said
    assert not re.search(r"\bmm\b", said)


# ---------------------------------------------------------------------------------------------------- ways out, followed

FAULTY: dict[str, dict[str, Any]] = {
    "too heavy": {
        "front": {"width": 900, "height": 1300},
        "hinges": {"pivot": "back"},
        "wood": {"blank": 26, "floor": 20},
    },
    "two too heavy": {
        "front": {"width": 1600, "height": 1500, "doors": 2, "space": 6},
        "hinges": {"pivot": "front"},
        "strips": {"count": 48},
        "wood": {"blank": 24, "floor": 18},
    },
    "much too heavy": {"front": {"width": 1500, "height": 2400}, "hinges": {"pivot": "back"}, "strips": {"count": 60}},
    "too high": {"front": {"width": 200, "height": 2600, "reveals": {"top": 3}}, "hinges": {"pivot": "back"}},
    "too few hinges": {"front": {"width": 450, "height": 900}, "hinges": {"pivot": "back", "count": 2}},
    "too few on doors of their own width": {
        "front": {"width": 1003, "height": 900, "door_widths": [300, 700]},
        "strips": {"count": None, "width": 18, "gap": 2},
        "hinges": {"pivot": "back", "count": 1, "between": 250},
    },
    "too close": {"front": {"width": 450, "height": 800}, "hinges": {"pivot": "back", "between": 450}},
    "inches": {
        "unit": "in",
        "front": {"width": 36, "height": 30, "doors": 2},
        "strips": {"count": 40},
        "wood": {"species": "white oak", "blank": "7/8 in", "floor": "5/8 in"},
        "hinges": {"pivot": "back", "between": 12, "count": 2},
        "layers": [{"kind": "swell", "size": 12}],
        "sampling": {"step": "1/4 in"},
    },
}


@pytest.mark.parametrize("fault", FAULTY)
def test_every_way_out_clears_all_doors_when_it_is_typed(fault: str) -> None:
    plain = {"strips": {"count": 24}, "wood": {"blank": 22, "floor": 14}, "sampling": {"step": 8}}
    plain |= {"layers": [{"kind": "swell", "size": 300}]}
    settings = a_job(**(plain | FAULTY[fault]))
    heavy = [one for one in check(build_front(make_job(copy.deepcopy(settings)))) if one.weight is not Weight.KNOW]
    assert heavy
    assert all(one.topic and one.cure for one in heavy)
    assert cures_that_do_not_cure(settings, only="weight") == []
    if fault != "much too heavy":
        assert all(any(way.typed for way in ways_of(one.cure)) for one in heavy)


def test_no_board_is_told_that_nothing_could_be_screwed_to() -> None:
    (stop,) = found(level(20, 1500, 2400, hinges={"pivot": "back"}), Weight.STOPS)
    assert "board.density" not in stop.cure
