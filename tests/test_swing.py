"""Swing: doors are turned as real polygons by another library, and what is told of them holds, cures included."""

from __future__ import annotations

import copy
import re
import tomllib
from typing import Any

import numpy as np
import pytest
import shapely
import shapely.affinity
from following import cures_that_do_not_cure, ways_of
from helpers import a_job, small_front

from facade.checks.finding import Finding, Weight
from facade.checks.swing import check
from facade.doors.clearing import clearing_caps, opens_leaving
from facade.doors.swing import Passage, Place, Swing, swings
from facade.front import Front, build_front
from facade.job import make_job
from facade.layout import Door

FAR = 3000.0
CASES = {"left": {"stands": "case side"}, "right": {"stands": "case side"}}
WALLS = {"left": {"stands": "wall"}, "right": {"stands": "wall"}}


def level(height: float, *, bump: tuple[float, float, float] | None = None, **changes: Any) -> Front:
    """Return a front of level height, with one place (x, y, height) that is not."""
    plan = {"width": 200, "height": 120} | changes.pop("front", {})
    corners = [{"place": [x, y], "height": height} for x in (0, plan["width"]) for y in (0, plan["height"])]
    if bump is not None:
        x, y, top = bump
        around = [(x - 6, y), (x + 6, y), (x, y - 6), (x, y + 6), (x - 40, y), (x + 40, y)]
        corners += [{"place": list(place), "height": height} for place in around]
        corners.append({"place": [x, y], "height": top})
    layers = [{"kind": "points", "points": corners}]
    changes = {"carving": {"fit": "as given"}, "layers": layers, "strips": {"count": 8, "gap": 2}} | changes
    return small_front(front=plan, **changes)


def heavy(front: Front) -> list[Finding]:
    return [finding for finding in check(front) if finding.weight is not Weight.KNOW]


def passage_of(front: Front, place: Place, door: int = 1) -> Passage:
    (found,) = (one for one in swings(front)[door - 1].passages if one.place is place)
    return found


def told(text: str, before: str) -> float:
    """Return the length in mm that follows some words."""
    return float(re.search(rf"{before} ([\d.]+) mm", text)[1])


# ------------------------------------------------------------------------------------------------ the same, by polygons


def outline(front: Front, door: Door, y: float) -> np.ndarray:
    """Return the corners of a door seen from above at height y, its relief taken every half millimetre."""
    x = [
        np.linspace(strip.left, strip.right, int(strip.width / 0.5) + 2)
        for strip in front.layout.strips[door.first_strip - 1 : door.last_strip]
    ]
    x = np.concatenate(x)
    face = np.stack([x, front.surface.at(x[None, :], np.array([[y]]))[0]], axis=1)
    back, off = -front.job.board.thickness, [0.0, 0.0]
    # A bevel takes its corner off away from the hinges.
    beyond = 1 if front.job.hinge_side(door.number, len(front.layout.doors)).value == "left" else 0
    off[beyond] = -back * np.tan(np.radians(front.job.hinges.bevel))
    start = [[door.left, 0], [door.left + off[0], back], [door.right - off[1], back], [door.right, 0], [x[-1], 0]]
    return np.concatenate([start, face[::-1], [[x[0], 0]]])


def obstacle(front: Front, one: Passage, y: float, moved: float) -> shapely.Geometry:
    """Return what stands beside a passage, moved outwards."""
    left = one.edge.value == "left"
    if one.neighbour is not None:
        shape = shapely.Polygon(outline(front, front.layout.doors[one.neighbour - 1], y)).buffer(0)
    else:
        side = front.job.beside.left if left else front.job.beside.right
        forward = side.forward if side.stands.value == "case side" else FAR
        shape = shapely.box(-FAR, -FAR, 0, forward) if left else shapely.box(0, -FAR, FAR, forward)
        shape = shape if left else shapely.affinity.translate(shape, front.layout.width)
    return shapely.affinity.translate(shape, -moved if left else moved)


def turned(front: Front, swing: Swing, y: float, step: float) -> tuple[np.ndarray, np.ndarray]:
    """Return a door as polygons at all angles up to how far it must open."""
    door = front.layout.doors[swing.door - 1]
    left = swing.hand.value == "left"
    pin = np.array([door.left + swing.pin.inward if left else door.right - swing.pin.inward, swing.pin.forward])
    angles = np.linspace(0, front.job.hinges.opens, int(front.job.hinges.opens / step) + 1)
    turn = np.radians(angles if left else -angles)[:, None]
    x, z = (outline(front, door, y) - pin).T
    corners = [x * np.cos(turn) - z * np.sin(turn), x * np.sin(turn) + z * np.cos(turn)]
    return angles, shapely.polygons(np.stack(corners, axis=2) + pin)


def first_touch(
    front: Front, swing: Swing, one: Passage, *, moved: float = 0.0, step: float = 0.25, rows: int = 1
) -> float | None:
    """Return the angle at which polygons first overlap at any height, None where they never do."""
    door, found = front.layout.doors[swing.door - 1], []
    places = np.linspace(door.bottom, door.top, int(np.ceil(door.height / 3)) + 1)[::rows]
    for y in places:
        angles, polygons = turned(front, swing, y, step)
        beside = obstacle(front, one, y, moved)
        shapely.prepare(beside)
        for index in np.flatnonzero(shapely.intersects(beside, polygons)):
            if shapely.intersection(beside, polygons[index]).area > 1e-5:
                found.append(angles[index])
                break
    return min(found, default=None)


def random_front(seed: int, bevel: float = 0.0) -> Front:
    """Return a front of one to three doors with a lively relief and hinges of any kind."""
    rng = np.random.default_rng(seed)
    doors = int(rng.integers(1, 4))
    hinges: dict[str, Any] = {
        "pivot": ["back", "front", "knife"][seed % 3],
        "opens": float(rng.choice([60, 90, 110, 125, 165])),
        "sides": [str(rng.choice(["left", "right"])) for _ in range(doors)],
        "bevel": bevel,
    }
    if rng.random() < 0.3:
        hinges |= {"inward": float(rng.uniform(0, 30)), "forward": float(rng.uniform(-25, 25))}
    ends = [
        {"stands": str(rng.choice(["case side", "wall"])), "forward": float(rng.uniform(-10, 25))} for _ in range(2)
    ]
    reveals = {side: float(rng.uniform(0.5, 14)) for side in ("left", "right")}
    return small_front(
        front={
            "width": doors * 110,
            "height": 36,
            "doors": doors,
            "space": float(rng.uniform(1, 12)),
            "reveals": reveals,
        },
        strips={"count": doors * int(rng.integers(2, 6)), "gap": 2, "edge": float(rng.choice([0, 3]))},
        wood={"floor": 6},
        hinges=hinges,
        beside={"left": ends[0], "right": ends[1]},
        layers=[{"kind": "hills", "size": float(rng.uniform(40, 120)), "seed": seed}],
    )


def bevel_gives_room(bevel: float, swing: Swing, one: Passage) -> bool:
    """Tell whether a neighbour's own bevel, which is not counted, may give a little room more: behind the faces of the boards."""
    return bevel > 0.0 and one.neighbour is not None and (swing.pin.forward < 0.0 or one.place is Place.HINGE)


BEVELLED = [(seed, 0.0) for seed in range(9)] + [(1, 4.0), (4, 12.0), (7, 3.6), (10, 8.0)]


@pytest.mark.parametrize(("seed", "bevel"), BEVELLED)
def test_polygons_turned_step_by_step_touch_where_it_is_told(seed: int, bevel: float) -> None:
    front = random_front(seed, bevel)
    for swing in swings(front):
        for one in swing.passages:
            found = first_touch(front, swing, one)
            if one.angle is None:
                assert found is None
            elif bevel_gives_room(bevel, swing, one):
                assert found is None or found >= one.angle - 1.0
            # What only just touches may fall between two steps.
            elif one.sweep - one.room > 0.1 and one.angle < front.job.hinges.opens - 0.5:
                assert found == pytest.approx(one.angle, abs=1.0)


@pytest.mark.parametrize(("seed", "bevel"), [*BEVELLED[:6], *BEVELLED[9:]])
def test_polygons_pass_with_the_room_that_is_told_and_touch_with_less(seed: int, bevel: float) -> None:
    front = random_front(seed, bevel)
    for swing in swings(front):
        for one in swing.passages:
            assert first_touch(front, swing, one, moved=one.sweep + 0.05 - one.room) is None
            if one.sweep > 0.05 and not bevel_gives_room(bevel, swing, one):
                nearer = one.sweep - 0.05 - one.room
                assert first_touch(front, swing, one, moved=nearer, step=0.05) is not None


# ------------------------------------------------------------------------------------------------------ closed forms


@pytest.mark.parametrize("hand", ["left", "right"])
@pytest.mark.parametrize("room", [3.0, 8.0])
def test_a_level_door_on_a_pin_at_its_face_meets_a_wall_with_its_far_corner(hand: str, room: float) -> None:
    """Its face lies in the pin's plane, so its far corner comes as near as -w cos a, and stands the room away at that angle."""
    front = level(
        12,
        front={"reveals": {"left": room, "right": room}},
        hinges={"pivot": "front", "sides": [hand], "opens": 120.0},
        beside=WALLS,
    )
    width = 200 - 2 * room
    one = passage_of(front, Place.HINGE)
    assert one.angle == pytest.approx(90 + np.degrees(np.arcsin(room / width)), abs=0.02)
    assert one.sweep == pytest.approx(width / 2, abs=0.01)
    assert one.strip == (8 if hand == "left" else 1)


def test_a_door_on_a_pin_at_its_back_meets_a_case_side_with_its_hinge_edge() -> None:
    """The corner of a case side flush with the board is hypot(22 + room, 18) from the pin: the hinge edge comes by there."""
    room = 2.0
    one = passage_of(
        level(20 - 0.8, front={"reveals": {"left": room}}, hinges={"pivot": "back"}, beside=CASES), Place.HINGE
    )
    corner = np.hypot(22 + room, 18)
    assert one.angle == pytest.approx(np.degrees(np.arccos(22 / corner) - np.arccos((22 + room) / corner)), abs=0.02)
    assert not one.on_board
    assert one.strip == 1


def test_a_body_that_stands_no_farther_forward_than_the_back_of_the_board_leaves_the_meeting_edge_alone() -> None:
    beside = {"right": {"stands": "case side", "forward": -18.0}}
    assert passage_of(level(12, hinges={"pivot": "front"}, beside=beside), Place.MEETING).sweep == 0.0


def test_the_hinges_own_numbers_replace_those_of_the_pivot() -> None:
    usual = level(12, hinges={"pivot": "back"}, beside=WALLS)
    own = level(12, hinges={"pivot": "back", "inward": 5, "forward": 12}, beside=WALLS)
    assert (swings(usual)[0].pin.inward, swings(usual)[0].pin.forward) == (22, -18)
    assert (swings(own)[0].pin.inward, swings(own)[0].pin.forward) == (5, 12)
    knife = level(12, hinges={"pivot": "knife"})
    assert (swings(knife)[0].pin.inward, swings(knife)[0].pin.forward) == (19, 1)


def test_a_pin_at_the_front_stands_as_high_as_the_highest_face_at_the_hinge_edge() -> None:
    front = level(12, bump=(3, 60, 17), hinges={"pivot": "front"})
    strip = front.strip(1)
    near = strip.heights[:, strip.x <= strip.place.left + 2]
    assert swings(front)[0].pin.forward == pytest.approx(near.max(), abs=0.06)


def test_doors_open_in_pairs_from_their_middle() -> None:
    front = level(12, front={"doors": 3, "space": 3}, strips={"count": 9, "gap": 2}, hinges={"pivot": "front"})
    assert [swing.hand.value for swing in swings(front)] == ["left", "right", "right"]
    # The third door turns beside the wall side; its meeting edge faces the hinge edge of the second.
    assert [(one.place.value, one.neighbour) for one in swings(front)[1].passages] == [
        ("hinge edge", 3),
        ("meeting edge", 1),
    ]


# ----------------------------------------------------------------------------------------------------------- findings


def test_without_hinges_it_is_said_once_that_swing_was_not_checked() -> None:
    (found,) = check(level(12))
    assert found.weight is Weight.KNOW
    assert "[hinges]" in found.cure


def test_a_pair_that_turns_clear_is_not_complained_of() -> None:
    front = level(
        12,
        front={"doors": 2, "space": 4.5, "reveals": {"left": 2, "right": 2}},
        hinges={"pivot": "front", "opens": 90.0},
        board={"thickness": 12},
        beside=CASES,
    )
    assert check(front) == []


def test_what_sticks_out_beside_the_pin_is_named_at_its_strip_and_its_height() -> None:
    changes: dict[str, Any] = {
        "front": {"reveals": {"left": 12}},
        "strips": {"count": 16, "gap": 2},
        "hinges": {"pivot": "knife", "inward": 4, "forward": 1, "opens": 140.0},
        "beside": {"left": CASES["left"]},
    }
    assert heavy(level(9, **changes)) == []
    (found,) = heavy(level(9, bump=(28, 80, 18), **changes))
    assert found.weight is Weight.STOPS
    assert found.strip == 2
    assert found.from_top == pytest.approx(120 - 80, abs=3)
    assert found.value == 12
    assert found.limit > found.value


def test_a_neighbour_that_stands_proud_is_named_at_its_height() -> None:
    """A place 6 mm or so beside the pin and 7 in front of it is met some 130 degrees on, by a face in the pin's plane."""
    changes: dict[str, Any] = {
        "front": {"doors": 2, "space": 5},
        "hinges": {"pivot": "front", "sides": ["left", "left"], "opens": 150.0},
        "board": {"thickness": 10},
    }
    assert heavy(level(12, **changes)) == []
    (found,) = heavy(level(12, bump=(94, 30, 19), **changes))
    assert found.door == 2
    assert "touches door 1" in found.sentence
    assert found.from_top == pytest.approx(120 - 30, abs=3)


def test_a_door_on_a_pin_at_its_back_beside_a_case_side_is_stopped_and_hinges_that_slide_are_spoken_of() -> None:
    (found,) = heavy(
        level(12, front={"reveals": {"left": 2}}, hinges={"pivot": "back"}, beside={"left": CASES["left"]})
    )
    assert found.weight is Weight.STOPS
    assert "touches the case side" in found.sentence
    assert "slides the door over" in found.cure
    assert 'hinges.pivot = "front"' in found.cure


@pytest.mark.parametrize("layers", [None, [{"kind": "hills", "size": 70, "seed": 4}]])
@pytest.mark.parametrize("pivot", ["back", "knife"])
def test_the_reveal_that_is_told_clears_a_case_side_and_less_binds(
    pivot: str, layers: list[dict[str, Any]] | None
) -> None:
    changes: dict[str, Any] = {"hinges": {"pivot": pivot}, "limits": {"swing_clearance": 0.3}}
    changes |= {"beside": {"left": {"stands": "case side"}}}
    if layers:
        # Repeated on each door: the relief moves with it when the reveal grows.
        changes |= {"layers": layers, "carving": {"fit": "full", "doors": "repeated"}}

    def with_reveal(reveal: float) -> list[Finding]:
        return heavy(level(12, front={"width": 200 + reveal, "reveals": {"left": reveal}}, **changes))

    (found,) = with_reveal(2.0)
    reveal = told(found.cure, "reveal of")
    assert with_reveal(reveal) == []
    assert [again.weight for again in with_reveal(reveal - 1.0)] == [Weight.STOPS]


def test_the_space_that_is_told_clears_a_meeting_edge_and_less_binds() -> None:
    def with_space(space: float) -> list[Finding]:
        return heavy(level(14, front={"width": 300 + space, "doors": 2, "space": space}, hinges={"pivot": "front"}))

    found = with_space(1.0)
    assert {(one.weight, one.topic) for one in found} == {(Weight.STOPS, "meeting edge")}
    space = told(found[0].cure, "space of")
    assert with_space(space) == []
    assert with_space(space - 1.2)[0].weight is Weight.STOPS


def test_the_bevel_that_is_told_clears_the_meeting_edge() -> None:
    front = level(14, front={"width": 303, "doors": 2, "space": 3}, hinges={"pivot": "front"})
    found = heavy(front)[0]
    off = told(found.cure, "so that")
    door, height, board = front.layout.doors[0], 14.0, 18.0
    corners = np.array([[door.width, height], [door.width - off, -board]])
    for angle in np.radians(np.arange(0, 30, 0.05)):
        out = corners[:, 0] * np.cos(angle) - (corners[:, 1] - height) * np.sin(angle)
        assert out.max() <= door.width + 1e-6
    assert "screws clear of the bevel" in found.caution


def test_a_single_door_binds_with_its_meeting_edge_on_a_case_side() -> None:
    front = level(
        14,
        front={"reveals": {"left": 2, "right": 0.5}},
        hinges={"pivot": "front"},
        beside={"right": {"stands": "case side", "forward": 14}},
    )
    (found,) = heavy(front)
    assert found.weight is Weight.STOPS
    assert found.topic == "meeting edge"
    assert "board behind strip 8" in found.sentence
    assert found.limit == pytest.approx(np.hypot(197.5, 32) - 197.5 + 1, abs=0.11)


def test_a_bevel_that_the_job_says_clears_what_a_square_edge_stops_and_cuts_no_strip_otherwise() -> None:
    def pair(**hinges: float) -> Front:
        return level(14, front={"width": 902, "doors": 2, "space": 2}, hinges={"pivot": "front"} | hinges)

    square = pair()
    (found, _) = heavy(square)
    degrees = float(re.search(r"hinges.bevel = (\d+\.?\d*)\b", found.cure)[1])
    bevelled = pair(bevel=degrees)
    assert heavy(bevelled) == []
    assert bevelled.mark == square.mark
    # Half as much is not enough, and is better than nothing.
    half = passage_of(pair(bevel=degrees / 2), Place.MEETING)
    assert passage_of(bevelled, Place.MEETING).sweep < half.sweep < passage_of(square, Place.MEETING).sweep


def test_a_bevel_of_the_whole_board_leaves_what_its_front_corner_swings_out() -> None:
    """sqrt(w^2 + f^2) - w of the board's front corner, f behind the pin: plane geometry."""
    front = level(14, front={"width": 903, "doors": 2, "space": 3}, hinges={"pivot": "front", "bevel": 20.0})
    assert passage_of(front, Place.MEETING).sweep == pytest.approx(np.hypot(450, 14) - 450, abs=1e-6)


CAPPED = {
    "front": {"width": 300, "height": 200, "reveals": {"left": 6}},
    "strips": {"count": 10, "gap": 2},
    "hinges": {"pivot": "knife"},
    "board": {"thickness": 16},
    "beside": {"left": CASES["left"]},
    "layers": [{"kind": "hills", "size": 90, "seed": 2}],
}


def test_the_cap_that_is_told_clears_the_hinge_edge() -> None:
    (found,) = heavy(small_front(**CAPPED))
    assert found.weight is Weight.STOPS
    words = re.search(r"\[\[caps\]\] (.+?height = [\d.]+)", found.cure)[0]
    caps = tomllib.loads(words.replace("]] ", "]]\n").replace(", ", "\n"))["caps"]
    assert heavy(small_front(**CAPPED, caps=caps)) == []


def test_a_cap_is_as_high_as_the_hinge_lets_it_be() -> None:
    (cap,) = clearing_caps(small_front(**CAPPED))
    assert (cap.door, cap.edge.value) == (1, "left")
    assert cap.height >= 8
    higher = {"door": 1, "edge": "left", "width": cap.width + 40, "height": cap.height + 0.6}
    assert heavy(small_front(**CAPPED, caps=[higher])) != []


def test_a_cap_as_low_as_an_odd_floor_is_told_exactly() -> None:
    odd = CAPPED | {"wood": {"floor": 8.03}, "front": {"width": 300, "height": 200, "reveals": {"left": 1.89}}}
    (found,) = heavy(small_front(**odd))
    assert [cap.height for cap in clearing_caps(small_front(**odd))] == [8.03]
    assert "height = 8.03" in found.cure


def test_no_cap_is_offered_where_the_board_alone_touches() -> None:
    front = level(12, front={"reveals": {"left": 2}}, hinges={"pivot": "back"}, beside=CASES)
    assert clearing_caps(front) == []
    assert "No height cap clears it." in heavy(front)[0].cure


def test_a_front_that_turns_clear_wants_no_cap() -> None:
    assert clearing_caps(level(12, hinges={"pivot": "front"})) == []
    assert clearing_caps(level(12)) == []


def test_the_pivot_that_is_told_turns_clear() -> None:
    front = level(
        12, front={"reveals": {"left": 2}}, hinges={"pivot": "back", "inward": 25}, beside={"left": CASES["left"]}
    )
    (found,) = heavy(front)
    # The pin of a hinge whose own numbers the job gives is told by its numbers.
    told = re.search(r'hinges.pivot = "front" and hinges.inward = 0 and hinges.forward = ([\d.]+)', found.cure)
    own = {"pivot": "front", "inward": 0, "forward": float(told[1])}
    assert heavy(level(12, front={"reveals": {"left": 2}}, hinges=own, beside={"left": CASES["left"]})) == []


def test_a_wall_that_lets_a_door_open_square_is_good_to_know_and_its_stop_is_told() -> None:
    changes: dict[str, Any] = {"front": {"reveals": {"left": 4, "right": 4}}, "beside": WALLS}
    (found,) = check(level(12, hinges={"pivot": "front"}, **changes))
    assert found.weight is Weight.KNOW
    assert (found.limit, found.unit) == (110, "degrees")
    stop = float(re.search(r"hinges.opens = (\d+)", found.cure)[1])
    assert 90 <= stop <= found.value
    assert check(level(12, hinges={"pivot": "front", "opens": stop}, **changes)) == []
    front = level(12, hinges={"pivot": "front"}, **changes)
    assert opens_leaving(front, passage_of(front, Place.HINGE), 0.0) == pytest.approx(found.value)


def test_a_wall_that_does_not_let_a_door_open_square_wants_a_look() -> None:
    def with_reveal(reveal: float) -> list[Finding]:
        front = {"width": 200 + reveal, "reveals": {"left": reveal}}
        return check(level(12, front=front, hinges={"pivot": "back"}, beside={"left": WALLS["left"]}))

    (found,) = with_reveal(3.0)
    assert found.weight is Weight.LOOK
    assert found.value < 90
    (again,) = with_reveal(told(found.cure, "reveal of"))
    assert again.weight is Weight.KNOW


def test_a_wall_at_the_meeting_edge_stops_a_door_that_swings_out_into_it() -> None:
    front = level(14, front={"reveals": {"right": 1.5}}, hinges={"pivot": "front"}, beside={"right": WALLS["right"]})
    (found,) = heavy(front)
    assert found.weight is Weight.STOPS
    assert "touches the wall" in found.sentence
    assert "reveal" in found.cure


def test_little_room_wants_a_look_against_the_limit_that_the_job_sets() -> None:
    changes: dict[str, Any] = {
        "front": {"reveals": {"left": 0.6, "right": 2}},
        "hinges": {"pivot": "front"},
        "beside": {"left": CASES["left"]},
    }
    (found,) = check(level(12, **changes))
    assert found.weight is Weight.LOOK
    assert found.value == pytest.approx(0.6)
    assert found.source == "our choice (limits.swing_clearance)"
    assert check(level(12, **changes, limits={"swing_clearance": 0.5})) == []
    (own,) = check(level(12, **changes, limits={"swing_clearance": 2.0}))
    assert (own.limit, own.source) == (2.0, "said in the job")


def test_a_pin_beyond_the_meeting_edge_is_named() -> None:
    (found,) = check(level(12, front={"width": 20}, strips={"count": 1}, hinges={"pivot": "back"}, beside=WALLS))
    assert found.weight is Weight.LOOK
    assert (found.value, found.limit) == (22, 20)


@pytest.mark.parametrize("pivot", ["back", "front", "knife"])
def test_a_job_in_inches_is_told_of_inches_only(pivot: str) -> None:
    front = small_front(
        unit="in",
        front={
            "width": 20,
            "height": 12,
            "doors": 2,
            "space": "1/32 in",
            "reveals": {"left": "1/4 in", "right": "1/4 in"},
        },
        strips={"count": 12, "gap": "1/8 in"},
        wood={"species": "black walnut", "blank": "3/4 in", "floor": "1/4 in"},
        layers=[{"kind": "hills", "size": 3}],
        hinges={"pivot": pivot},
        beside={"left": {"stands": "case side"}, "right": {"stands": "wall"}},
    )
    said = " ".join(f"{found.sentence} {found.cure} {found.caution}" for found in check(front))
    assert " in" in said
    assert not re.search(r"\bmm\b", said)


def test_an_open_door_reaches_a_wall_beyond_a_narrow_neighbour() -> None:
    front = small_front(
        front={"width": 380, "height": 60, "door_widths": [60, 316], "space": 4},
        strips={"width": 18, "count": None},
        hinges={"pivot": "front", "sides": ["left", "left"], "opens": 140.0},
        beside={"left": {"stands": "wall"}},
    )
    wall = next(one for one in swings(front)[1].passages if one.stands.value == "wall")
    assert wall.room == pytest.approx(64)
    assert wall.angle == pytest.approx(90 + np.degrees(np.arcsin(64 / 316)), abs=1.5)


# ------------------------------------------------------------------------------------------------------------- cures

CASE, WALL = {"stands": "case side"}, {"stands": "wall"}
FAULTY: dict[str, dict[str, Any]] = {
    "a pair that meets": {"front": {"width": 303, "doors": 2, "space": 3}, "hinges": {"pivot": "front"}},
    "a pair that all but meets": {"front": {"width": 901, "doors": 2, "space": 1.2}, "hinges": {"pivot": "knife"}},
    "a hidden joint": {
        "front": {"width": 303, "doors": 2, "hidden_joint": True},
        "strips": {"count": 14, "gap": 2},
        "hinges": {"pivot": "front"},
    },
    "a hidden joint, all of its strips given": {
        "front": {"width": 303, "doors": 2, "hidden_joint": True},
        "strips": {"count": 14, "gap": 2, "width": 19.7},
        "hinges": {"pivot": "front"},
    },
    "a hidden joint of strips of a width": {
        "front": {"width": 303, "doors": 2, "hidden_joint": True},
        "strips": {"width": 18, "gap": 2, "count": None},
        "hinges": {"pivot": "front"},
    },
    "a space, all of its strips given": {
        "front": {"width": 303, "doors": 2, "space": 2},
        "strips": {"count": 14, "gap": 2, "width": 19.7},
        "hinges": {"pivot": "front"},
    },
    "doors of their own width": {
        "front": {"width": 403, "door_widths": [150, 250], "reveals": {"left": 1.5}},
        "strips": {"width": 18, "gap": 2, "count": None},
        "hinges": {"pivot": "front"},
        "beside": {"left": CASE},
    },
    "doors of their own width and a space": {
        "front": {"width": 402, "door_widths": [150, 250], "space": 2},
        "strips": {"width": 18, "gap": 2, "count": None},
        "hinges": {"pivot": "front"},
    },
    "a pin at the back": {
        "front": {"width": 300, "reveals": {"left": 2}},
        "hinges": {"pivot": "back"},
        "beside": {"left": CASE},
    },
    "a pin of its own": {
        "front": {"width": 300, "reveals": {"left": 2}},
        "hinges": {"pivot": "back", "inward": 25},
        "beside": {"left": CASE},
    },
    "knives between three doors": {
        "front": {"width": 600, "doors": 3, "space": 2, "reveals": {"left": 2, "right": 2}},
        "strips": {"count": 24},
        "hinges": {"pivot": "knife"},
        "beside": {"left": CASE, "right": CASE},
    },
    "a proud relief at the hinges": CAPPED,
    "walls that let doors open square": {
        "front": {"width": 600, "doors": 2, "space": 4, "reveals": {"left": 4, "right": 4}},
        "strips": {"count": 24},
        "hinges": {"pivot": "front"},
        "beside": {"left": WALL, "right": WALL},
    },
    "walls that do not": {
        "front": {"width": 600, "doors": 2, "space": 4, "reveals": {"left": 4, "right": 4}},
        "strips": {"count": 24},
        "hinges": {"pivot": "back"},
        "beside": {"left": WALL, "right": WALL},
    },
    "mirrored doors": {
        "front": {"width": 600, "doors": 2, "space": 3, "reveals": {"left": 2, "right": 2}},
        "strips": {"count": 24},
        "carving": {"doors": "mirrored"},
        "hinges": {"pivot": "knife"},
        "beside": {"left": CASE, "right": CASE},
    },
    "packed strips": {
        "front": {"width": 600, "doors": 2, "space": 3, "reveals": {"left": 2, "right": 2}},
        "strips": {"count": 24},
        "carving": {"packed": True},
        "hinges": {"pivot": "knife"},
        "beside": {"left": CASE, "right": CASE},
    },
    "inches": {
        "unit": "in",
        "front": {
            "width": 20,
            "height": 12,
            "doors": 2,
            "space": "1/32 in",
            "reveals": {"left": "1/8 in", "right": "1/8 in"},
        },
        "strips": {"count": 12, "gap": "1/8 in"},
        "wood": {"species": "black walnut", "blank": "3/4 in", "floor": "3/8 in"},
        "layers": [{"kind": "hills", "size": 3}],
        "sampling": {"step": "1/8 in"},
        "hinges": {"pivot": "knife"},
        "beside": {"left": CASE, "right": WALL},
    },
    "a pair in inches": {
        "unit": "in",
        "front": {"width": "36 1/16 in", "height": 12, "doors": 2, "space": "1/16 in"},
        "strips": {"count": 36, "gap": "1/8 in"},
        "wood": {"species": "black walnut", "blank": "3/4 in", "floor": "1/2 in"},
        "layers": [{"kind": "swell", "size": 8}],
        "hinges": {"pivot": "front"},
        "board": {"thickness": "1 in"},
    },
}


@pytest.mark.parametrize("fault", FAULTY)
def test_every_way_out_clears_all_doors_when_it_is_typed(fault: str) -> None:
    settings = a_job(**({"layers": [{"kind": "hills", "size": 90, "seed": 2}]} | FAULTY[fault]))
    found = [one for one in check(build_front(make_job(copy.deepcopy(settings)))) if one.cure]
    assert any(way.typed for one in found for way in ways_of(one.cure))
    assert cures_that_do_not_cure(settings, only="swing") == []


def test_room_that_is_told_takes_into_account_that_doors_become_narrower() -> None:
    """Narrower doors swing out farther: sqrt(w^2 + t^2) - w with the width that the told space leaves, and the clearance."""
    front = level(14, front={"width": 303, "doors": 2, "space": 3}, hinges={"pivot": "front"})
    space = float(re.search(r"front.space = ([\d.]+)", heavy(front)[0].cure)[1])
    width = (303 - space) / 2
    assert np.hypot(width, 32) - width + 1.0 <= space < np.hypot(width, 32) - width + 1.0 + 0.2


def test_what_is_not_said_of_hinges_is_asked_for_in_words() -> None:
    (found,) = check(level(12))
    assert found.topic
    assert not any(way.typed for way in ways_of(found.cure))


def test_room_to_spare_never_reads_as_its_own_limit() -> None:
    for spare in (0.96, 0.99, 0.999):
        (found,) = check(
            level(12, front={"reveals": {"left": spare, "right": 2}}, hinges={"pivot": "front"}, beside={"left": CASE})
        )
        left, limit = re.search(r"with (.+?) to spare, less than (.+?), at", found.sentence).groups()
        assert left != limit
