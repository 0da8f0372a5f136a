"""Movement: strips grow by the handbook's laws, gaps that close and doors that bow are named, and the cures cure."""

from __future__ import annotations

import copy
import re
from dataclasses import replace

import pytest
from following import cures_that_do_not_cure, ways_of
from helpers import a_job, small_front

from facade.checks import Finding, Weight, grouped
from facade.checks.movement import check
from facade.doors.movement import Cladding, DoorMovement, door_movements, layered_curvature, moisture_of, swelling
from facade.front import Front, build_front
from facade.job import make_job
from facade.job.bench import Held
from facade.wood import species
from facade.wood.moisture import equilibrium_moisture

CLAD = Cladding(
    width=420.0,
    count=20,
    strip=18.0,
    gap=3.0,
    edge=1.5,
    thickness=15.0,
    stiffness=1000.0,
    board=18.0,
    board_stiffness=6000.0,
    held=Held.GLUE,
    balanced=False,
)


def oak_settings(**changes: object) -> dict[str, object]:
    """Return the settings of a door of 420 mm clad with white oak, 15 mm thick on average."""
    settings = {
        "front": {"width": 420, "height": 200},
        "strips": {"count": 20, "gap": 3},
        "wood": {"species": "white oak"},
        "carving": {"fit": "as given"},
        "layers": [{"kind": "points", "points": [{"place": [x, y], "height": 15} for x in (0, 420) for y in (0, 200)]}],
        "sampling": {"step": 5},
    }
    for name, change in changes.items():
        settings[name] = settings.get(name, {}) | change if isinstance(change, dict) else change
    return a_job(**settings)


def oak(**changes: object) -> Front:
    """Return that door."""
    return build_front(make_job(oak_settings(**changes)))


def troubles(front: Front) -> list[Finding]:
    return [one for one in check(front) if one.weight is not Weight.KNOW]


def about(front: Front, topic: str) -> list[Finding]:
    return [one for one in check(front) if one.topic == topic]


def only(front: Front) -> DoorMovement:
    (door,) = door_movements(front)
    return door


# What the air does to the wood


def test_moisture_is_what_the_meter_reads_and_else_what_the_room_gives() -> None:
    settled = moisture_of(oak().job)
    assert settled.now == equilibrium_moisture(20, 50)
    assert (settled.driest, settled.dampest) == (equilibrium_moisture(21, 30), equilibrium_moisture(21, 65))
    assert moisture_of(oak(wood={"moisture": 11}).job) == replace(settled, now=11.0)


def test_strip_swells_by_coefficient_within_6_to_14_percent() -> None:
    wood = species("white oak")
    assert swelling(wood, 0.0, 6.0, 14.0) == pytest.approx(8 * 0.00365)
    assert swelling(wood, 90.0, 14.0, 6.0) == pytest.approx(-8 * 0.00180)
    assert swelling(wood, 45.0, 8.0, 12.0) == pytest.approx(4 * (0.00365 + 0.00180) / 2)


def test_strip_swells_by_total_shrinkage_beyond_6_to_14_percent() -> None:
    """Oven-dry wood that becomes green swells by S / (100 - S); white oak: 10.5 % flat-sawn, 5.6 % quarter-sawn."""
    wood = species("white oak")
    assert swelling(wood, 0.0, 0.0, 30.0) == pytest.approx(10.5 / 89.5)
    assert swelling(wood, 90.0, 0.0, 40.0) == pytest.approx(5.6 / 94.4)
    assert swelling(wood, 45.0, 30.0, 0.0) == pytest.approx(-(10.5 + 5.6) / 200)


def test_what_swells_and_dries_again_is_as_wide_as_before() -> None:
    wood = species("black cherry")
    there, back = swelling(wood, 20.0, 4.0, 20.0), swelling(wood, 20.0, 20.0, 4.0)
    assert (1 + there) * (1 + back) == pytest.approx(1.0, abs=1e-12)


# A door and its strips


def test_gaps_close_when_a_strip_has_grown_by_a_gap() -> None:
    assert not CLAD.closes(2.99 / 18)
    assert CLAD.closes(3.0 / 18)
    assert not replace(CLAD, gap=0.0).closes(-0.01)
    assert not replace(CLAD, count=1, gap=0.0).closes(0.5)


def test_tight_row_wants_what_gaps_and_edges_do_not_give() -> None:
    tight = replace(CLAD, strip=21.0, gap=0.0, edge=0.0)
    assert tight.pushes(0.01) == pytest.approx(20 * 0.21)
    assert replace(tight, edge=2.0).pushes(0.01) == pytest.approx(20 * 0.21 - 4.0)
    assert CLAD.pushes(0.01) == 0.0


def test_screwed_and_balanced_doors_do_not_bow() -> None:
    assert replace(CLAD, held=Held.SCREWS).bow(0.02) == 0.0
    assert replace(CLAD, balanced=True, gap=0.0).bow(0.02) == 0.0


def test_a_door_bows_forward_when_its_strips_swell_and_back_by_as_much_when_they_shrink() -> None:
    assert CLAD.bow(0.01) > 0.0
    assert CLAD.bow(-0.01) == pytest.approx(-CLAD.bow(0.01))
    assert CLAD.bow(0.02) == pytest.approx(2 * CLAD.bow(0.01))


def test_a_door_bows_at_once_as_much_more_when_its_gaps_are_closed() -> None:
    """Until the gap of 0.09 mm closes, at a strain of 0.005, each strip bends alone; from then on all together."""
    narrow, tight = replace(CLAD, gap=0.09), replace(CLAD, gap=0.0)
    before, after = narrow.bow(0.005), narrow.bow(0.015)
    assert before / 0.005 == pytest.approx(narrow.bow(0.001) / 0.001)
    assert after - before == pytest.approx(tight.bow(0.01), rel=0.02)
    assert narrow.bow(-0.015) == pytest.approx(-3 * before)


def test_bow_grows_with_the_square_of_the_width_of_a_door() -> None:
    tight = replace(CLAD, strip=21.0, gap=0.0, edge=0.0)
    assert replace(tight, width=840.0, count=40).bow(0.01) == pytest.approx(4 * tight.bow(0.01))


def test_a_door_clad_in_its_middle_alone_is_straight_at_its_sides() -> None:
    """An arc of curvature k and half length a, then straight: the middle is k a^2 / 2 + k a b before ends b further out."""
    whole = replace(CLAD, count=10, strip=21.0, gap=0.0, edge=0.0, width=210.0)
    curvature = whole.bow(0.01) * 8 / 210.0**2
    middle = replace(whole, width=420.0, edge=105.0)
    assert middle.bow(0.01) == pytest.approx(curvature * (105.0**2 / 2 + 105.0 * 105.0))


def test_strips_are_as_thick_as_their_wood_is_on_average() -> None:
    assert only(oak()).cladding.thickness == pytest.approx(15.0, abs=1e-4)
    front = small_front()
    mean = sum(one.solid.volume for one in front.measures()) / sum(one.length * one.width for one in front.measures())
    assert only(front).cladding.thickness == pytest.approx(mean)


def test_every_door_has_its_own_strips() -> None:
    front = small_front(
        front={"width": 303, "door_widths": [100, 200], "space": 3}, strips={"count": None, "width": 20, "gap": 2}
    )
    one, two = door_movements(front)
    assert (one.cladding.width, two.cladding.width) == (100, 200)
    assert one.cladding.count < two.cladding.count


# What is said of it


def test_a_job_that_says_nothing_of_moisture_is_not_complained_of() -> None:
    assert troubles(small_front()) == []
    assert troubles(oak()) == []


def test_the_numbers_are_told_once_whatever_the_doors() -> None:
    for front in (oak(), small_front(front={"doors": 4})):
        (told,) = [one for one in check(front) if one.weight is Weight.KNOW]
        assert "9.3 % when milled, 6.2 % in the driest and 12.0 % in the dampest" in told.sentence
        assert "about 1 %" in told.sentence
        assert "screws" in told.sentence
    glued = about(oak(fixing={"by": "middle bead"}), "movement in numbers")[0]
    assert "upper bound" in glued.sentence


def test_change_of_a_strip_is_the_handbooks() -> None:
    """(6.19 to 9.27 to 11.94 %) x 0.00365 x 18.15 mm of white oak."""
    job = oak().job
    moisture = moisture_of(job)
    narrower, wider = ((at - moisture.now) * 0.00365 * 18.15 for at in (moisture.driest, moisture.dampest))
    (told,) = about(oak(), "movement in numbers")
    assert f"{-narrower:.2f} mm narrower and {wider:.2f} mm wider" in told.sentence


@pytest.mark.parametrize(
    ("by", "weight"), [("glue", Weight.STOPS), ("middle bead", Weight.STOPS), ("screws", Weight.LOOK)]
)
def test_gaps_that_close_are_named(by: str, weight: Weight) -> None:
    front = oak(strips={"gap": 0.1}, fixing={"by": by})
    (found,) = about(front, "gaps close")
    assert found.weight is weight
    assert (found.door, found.limit) == (1, pytest.approx(0.1))
    assert found.value == pytest.approx(only(front).growth)


@pytest.mark.parametrize("by", ["glue", "middle bead", "screws"])
@pytest.mark.parametrize("gap", [0.0, 0.1])
def test_the_gap_of_the_cure_cures_what_closes(by: str, gap: float) -> None:
    (found,) = about(oak(strips={"gap": gap}, fixing={"by": by}), "gaps close")
    wider = float(re.search(r"gaps of at least ([\d.]+) mm", found.cure)[1])
    by = "middle bead" if "middle third" in found.cure else by
    assert troubles(oak(strips={"gap": wider}, fixing={"by": by})) == []


def test_the_moisture_of_the_cure_cures_what_closes() -> None:
    (found,) = about(oak(strips={"gap": 0.1}), "gaps close")
    moisture = float(re.search(r"at ([\d.]+) % moisture", found.cure)[1])
    assert troubles(oak(strips={"gap": 0.1}, wood={"moisture": moisture})) == []
    assert about(oak(strips={"gap": 0.1}, wood={"moisture": moisture - 0.5}), "gaps close") != []


def test_the_upright_rings_of_the_cure_cure_what_closes() -> None:
    (found,) = about(oak(strips={"gap": 0.15}), "gaps close")
    assert "quarter-sawn" in found.cure
    assert troubles(oak(strips={"gap": 0.15}, wood={"rings": 90})) == []


def test_a_tight_glued_door_cannot_stay() -> None:
    found = about(oak(strips={"gap": 0}, fixing={"by": "glue"}), "door bows")
    assert [(one.weight, one.door, one.limit) for one in found] == [(Weight.STOPS, 1, 5.0)]
    strain = 0.00365 * (equilibrium_moisture(20, 50) - equilibrium_moisture(21, 30))
    layers = layered_curvature(15.0, 18.0, 1.1 * 12_300 * 0.072, 6000.0)
    assert found[0].value == pytest.approx(strain * layers * 420.0**2 / 8, rel=1e-4)


def test_a_gapped_glued_door_wants_a_look_and_a_bead_cures_it() -> None:
    (found,) = troubles(oak(fixing={"by": "glue"}))
    assert (found.weight, found.topic, found.limit, found.source) == (
        Weight.LOOK,
        "door bows",
        1.5,
        "our choice (limits.warp)",
    )
    assert "middle third" in found.cure
    assert troubles(oak(fixing={"by": "middle bead"})) == []
    promised = float(re.search(r"middle third of each strip \(bow ([\d.]+) mm", found.cure)[1])
    assert abs(only(oak(fixing={"by": "middle bead"})).bow) == pytest.approx(promised, abs=0.05)


def test_the_thicker_board_of_the_cure_cures_and_none_thinner_does() -> None:
    (found,) = troubles(oak(fixing={"by": "glue"}))
    board = float(re.search(r"board ([\d.]+) mm thick", found.cure)[1])
    assert troubles(oak(fixing={"by": "glue"}, board={"thickness": board})) == []
    assert troubles(oak(fixing={"by": "glue"}, board={"thickness": board - 1})) != []


def test_a_balanced_board_is_not_complained_of() -> None:
    assert troubles(oak(fixing={"by": "glue"}, board={"balanced": True})) == []


def test_limits_of_the_job_are_obeyed_and_named_as_such() -> None:
    (found,) = troubles(oak(fixing={"by": "glue"}, limits={"warp_most": 2.0}))
    assert (found.weight, found.limit, found.source) == (Weight.STOPS, 2.0, "said in the job")
    assert troubles(oak(fixing={"by": "glue"}, limits={"warp": 3.0})) == []


@pytest.mark.parametrize(("moisture", "words"), [(15, "damper"), (3.5, "drier")])
def test_wood_far_from_the_rooms_range_is_to_settle_first(moisture: float, words: str) -> None:
    (found,) = about(oak(wood={"moisture": moisture}), "wood not settled")
    assert found.weight is Weight.LOOK
    assert words in found.sentence
    assert (found.value, found.unit) == (moisture, "%")
    low, high = map(float, re.search(r"reads ([\d.]+) to ([\d.]+) %", found.cure).groups())
    for settled in (low, high):
        assert about(oak(wood={"moisture": settled}), "wood not settled") == []


@pytest.mark.parametrize("moisture", [4.5, 13.5])
def test_wood_within_two_percent_of_the_rooms_range_is_not_complained_of(moisture: float) -> None:
    assert about(oak(wood={"moisture": moisture}), "wood not settled") == []


def test_doors_that_are_alike_are_named_together() -> None:
    found = about(small_front(front={"doors": 4}, strips={"gap": 0}), "gaps close")
    assert [one.door for one in found] == [1, 2, 3, 4]
    (group,) = grouped(found)
    assert group.also == "Also on doors 2 to 4."


def test_a_door_with_one_strip_has_no_gaps_that_close() -> None:
    assert about(small_front(strips={"count": 1}), "gaps close") == []


@pytest.mark.parametrize("by", ["glue", "middle bead", "screws"])
@pytest.mark.parametrize("gap", [0, "1/8 in"])
def test_a_job_in_inches_speaks_of_inches(by: str, gap: str | int) -> None:
    front = small_front(
        unit="in",
        front={"width": "30 in", "height": "8 in"},
        strips={"count": 30, "gap": gap},
        wood={"species": "white oak", "blank": "3/4 in", "floor": "3/8 in"},
        layers=[{"kind": "hills", "size": 3}],
        fixing={"by": by},
        sampling={"step": "1/4 in"},
    )
    said = " ".join(f"{one.sentence} {one.cure}" for one in check(front))
    assert " in " in said
    assert not re.search(r"\bmm\b", said)


def test_nothing_is_called_safe() -> None:
    for front in (oak(strips={"gap": 0}, fixing={"by": "glue"}), oak(wood={"moisture": 20})):
        assert not any("safe" in f"{one.sentence} {one.cure}".lower() for one in check(front))


# Ways out, followed

FAULTY = {
    "glued": {"fixing": {"by": "glue"}},
    "glued and tight": {"strips": {"gap": 0}, "fixing": {"by": "glue"}},
    "a bead and tight": {"strips": {"gap": 0.1}, "fixing": {"by": "middle bead"}},
    "screwed and tight": {"strips": {"gap": 0}},
    "count and width given": {"strips": {"width": 21, "gap": None}, "fixing": {"by": "glue"}},
    "count, width and gap given": {
        "front": {"width": 422},
        "strips": {"width": 21, "gap": 0.1},
        "fixing": {"by": "middle bead"},
    },
    "width and gap given": {"strips": {"count": None, "width": 21, "gap": 0.1}},
    "width and gap given, a hidden joint": {
        "front": {"width": 842, "doors": 2, "hidden_joint": True},
        "strips": {"count": None, "width": 21, "gap": 0},
    },
    "an edge given": {"strips": {"gap": 0.05, "edge": 2}, "fixing": {"by": "middle bead"}},
    "three doors": {"front": {"width": 846, "doors": 3}, "strips": {"count": 39, "gap": 0.1}, "fixing": {"by": "glue"}},
    "doors of their own width": {
        "front": {"width": 706.3, "door_widths": [301.4, 401.9]},
        "strips": {"count": None, "width": 20, "gap": 0.1, "edge": 0},
        "fixing": {"by": "middle bead"},
    },
    "wood milled damp": {"wood": {"moisture": 16}},
    "wood milled dry, gaps that close": {"wood": {"moisture": 5}, "strips": {"gap": 0.3}},
    "glued on a board that hangs": {"fixing": {"by": "glue"}, "hinges": {"pivot": "front"}},
    "inches": {
        "unit": "in",
        "front": {"width": 30, "height": 12, "doors": 2},
        "strips": {"count": 30, "gap": 0},
        "wood": {"species": "white oak", "blank": "3/4 in", "floor": "3/8 in"},
        "layers": [{"kind": "hills", "size": 3}],
        "carving": {"fit": "full"},
        "fixing": {"by": "glue"},
        "sampling": {"step": "1/4 in"},
    },
}


@pytest.mark.parametrize("fault", FAULTY)
def test_every_way_out_clears_all_doors_when_it_is_typed(fault: str) -> None:
    settings = oak_settings(**FAULTY[fault])
    found = troubles(build_front(make_job(copy.deepcopy(settings))))
    assert found
    assert any(way.typed for one in found for way in ways_of(one.cure))
    assert cures_that_do_not_cure(settings, only="movement") == []


def test_a_thicker_board_that_would_bind_is_not_told() -> None:
    """A pair on pins at the front: a thicker board swings its back corner out farther than the space gives room."""
    plan = {"width": 843.4, "doors": 2, "space": 3.4}
    hinges = {"pivot": "front"}
    (free, *_) = troubles(oak(front=plan, strips={"count": 40}, fixing={"by": "glue"}))
    assert "board.thickness" in free.cure
    (bound, *_) = troubles(oak(front=plan | {"space": 1.6}, strips={"count": 40}, fixing={"by": "glue"}, hinges=hinges))
    thicker = re.search(r"board.thickness = (\d+)", free.cure)[1]
    assert f"board.thickness = {thicker}" not in bound.cure
