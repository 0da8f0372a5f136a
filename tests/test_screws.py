"""Screws from behind: they stay below the face, away from ends and from one another, and what cannot be held is named."""

from __future__ import annotations

import re
from itertools import pairwise
from typing import Any

import numpy as np
import pytest
import trimesh
from following import cures_that_do_not_cure, findings_of, followed, ways_of
from helpers import a_job, small_front

from facade.checks import Finding, Weight
from facade.checks.screws import check
from facade.front import Front, build_front
from facade.job import make_job
from facade.measuring.screws import NoRoom, ScrewPlan, clearance_hole, pilot_hole, stock_lengths, widest_shank
from facade.mesh import closed_solid, face_triangles, strip_grid
from facade.slicer import Strip
from facade.wood.strength import withdrawal

BOARD = 18.0
LIVELY: list[dict[str, Any]] = [
    {"kind": "hills", "size": 60},
    {"kind": "facets", "size": 40},
    {"kind": "ridges", "size": 70},
    {"kind": "waves", "trains": [{"length": 45, "direction": 30}]},
]


def spot(down: float, height: float, *, long: float = 16.0) -> dict[str, Any]:
    """Return a place of another height, all across strip 5, its middle this far from the top."""
    return {"down": down, "size": [22.3, long], "height": height, "blend": 2}


def level_job(height: float, *spots: dict[str, Any], long: float = 480, **changes: Any) -> dict[str, Any]:
    """Return a level job of this height, 200 wide, with spots of others on it."""
    lands = [
        {key: value for key, value in one.items() if key != "down"} | {"centre": [112.6875, long - one["down"]]}
        for one in spots
    ]
    points = [{"place": [x, y], "height": height} for x in (0, 200) for y in (0, long)]
    settings: dict[str, Any] = {
        "front": {"width": 200, "height": long},
        "wood": {"floor": 4, "blank": 40},
        "carving": {"fit": "as given"},
        "layers": [{"kind": "points", "points": points}],
    }
    return a_job(**(settings | changes | {"lands": [*lands, *changes.get("lands", [])]}))


def level(height: float, *spots: dict[str, Any], long: float = 480, **changes: Any) -> Front:
    """Return the front of such a job."""
    return build_front(make_job(level_job(height, *spots, long=long, **changes)))


def lively(layer: dict[str, Any], **changes: Any) -> Front:
    settings: dict[str, Any] = {"front": {"width": 200, "height": 300}, "wood": {"blank": 26}, "layers": [layer]}
    return small_front(**(settings | changes))


def plans(front: Front) -> list[ScrewPlan]:
    return [measures.screws for measures in front.measures()]


def found(front: Front, weight: Weight, topic: str = "") -> list[Finding]:
    return [one for one in check(front) if one.weight is weight and topic in one.topic]


def tips(strip: Strip, plan: ScrewPlan, radius: float) -> list[np.ndarray]:
    """Return for each screw places on its tip's disc, its rim, and its shank below, in the strip's own millimetres."""
    turn = np.linspace(0, 2 * np.pi, 16, endpoint=False)
    circle = np.stack([np.cos(turn), np.sin(turn)], axis=1)
    clouds = []
    for screw in plan.screws:
        middle = np.array([strip.width / 2, strip.length - screw.from_top, 0.0])
        discs = [(0.0, 0.0), *((share * radius, down) for share in (0.5, 1.0) for down in (0.0, 2.0))]
        for_each = [
            np.column_stack([middle[:2] + out * circle, np.full(len(turn), screw.bite - down)]) for out, down in discs
        ]
        clouds.append(np.concatenate(for_each))
    return clouds


def distances_to_face(strip: Strip, clouds: list[np.ndarray]) -> list[float]:
    """Return how near each cloud of places comes to the carved face, by trimesh."""
    solid = closed_solid(strip_grid(strip))
    face = trimesh.Trimesh(solid.vertices, face_triangles(*strip.heights.shape), process=False)
    nearest = []
    for cloud in clouds:
        near = np.abs(face.triangles_center[:, 1] - cloud[0, 1]) < 10
        part = trimesh.Trimesh(face.vertices, face.faces[near], process=False)
        nearest.append(float(trimesh.proximity.closest_point_naive(part, cloud)[1].min()))
    return nearest


def turns_around(strip: Strip, place: np.ndarray) -> float:
    """Return how often the solid's surface winds round a place: 1 inside, 0 outside (solid angles of its triangles)."""
    solid = closed_solid(strip_grid(strip))
    a, b, c = (solid.vertices[solid.triangles[:, k]] - place for k in range(3))
    la, lb, lc = (np.linalg.norm(v, axis=1) for v in (a, b, c))
    over = np.einsum("ij,ij->i", a, np.cross(b, c))
    under = la * lb * lc + (a * b).sum(1) * lc + (b * c).sum(1) * la + (c * a).sum(1) * lb
    return float(2 * np.arctan2(over, under).sum() / (4 * np.pi))


@pytest.mark.parametrize("layer", LIVELY, ids=lambda layer: layer["kind"])
def test_no_screw_comes_nearer_to_the_carved_face_than_its_cover(layer: dict[str, Any]) -> None:
    front = lively(layer)
    seen = 0
    for number in (1, 3, 4, 6, 8):
        strip, plan = front.strip(number), front.measures()[number - 1].screws
        for screw, distance in zip(plan.screws, distances_to_face(strip, tips(strip, plan, 1.75)), strict=True):
            assert distance >= 3.0 - 0.02
            assert screw.cover == pytest.approx(distance, abs=0.12)
            seen += 1
    assert seen >= 10


@pytest.mark.parametrize("step", [0.5, 2.5, 4.0])
def test_the_cover_holds_however_coarsely_heights_are_taken(step: float) -> None:
    """The plan is made on a coarse grid, the distance is measured on a fine one."""
    layer = {"kind": "waves", "trains": [{"length": 70, "direction": 30}]}
    coarse, fine = lively(layer, sampling={"step": step}), lively(layer, sampling={"step": 0.5})
    for number in (2, 5, 7):
        strip, plan = fine.strip(number), coarse.measures()[number - 1].screws
        assert len(plan.screws) >= 2
        assert min(distances_to_face(strip, tips(strip, plan, 1.75))) >= 3.0 - (0.02 if step < 1 else 0.15)


@pytest.mark.parametrize("layer", LIVELY[:2], ids=lambda layer: layer["kind"])
def test_tips_are_inside_the_wood(layer: dict[str, Any]) -> None:
    front = lively(layer)
    for number in (2, 7):
        strip, plan = front.strip(number), front.measures()[number - 1].screws
        assert len(plan.screws) >= 2
        for cloud in tips(strip, plan, 1.75):
            assert turns_around(strip, cloud[0]) == pytest.approx(1.0, abs=1e-6)


@pytest.mark.parametrize("layer", LIVELY, ids=lambda layer: layer["kind"])
def test_where_none_may_stand_none_would_fit_and_elsewhere_one_does(layer: dict[str, Any]) -> None:
    """The least screw that bites, 25 long in a board of 18, measured against every height of the strip one by one."""
    front = lively(layer)
    strip, plan = front.strip(4), front.measures()[3].screws
    tip, radius, cover = 25.0 - BOARD, 1.75, 3.0
    aside = strip.x - strip.place.left - strip.width / 2
    wrong = 0
    for y, from_top in zip(strip.y, strip.from_top, strict=True):
        barred = any(start < from_top < end for start, end in plan.barred)
        beyond = np.maximum(np.hypot(aside[None, :], (strip.y - y)[:, None]) - radius, 0)
        nearest = np.hypot(beyond, np.maximum(strip.heights - tip, 0)).min()
        if not 40 <= from_top <= strip.length - 40:
            assert barred or from_top in (0.0, strip.length)
        elif abs(nearest - cover) > 0.2:
            wrong += barred == (nearest > cover)
    assert wrong == 0


@pytest.mark.parametrize("layer", LIVELY, ids=lambda layer: layer["kind"])
def test_screws_keep_their_distance_from_ends_sides_and_each_other(layer: dict[str, Any]) -> None:
    front = lively(layer, front={"width": 200, "height": 1200}, wood={"blank": 30})
    for strip in front.measures():
        places = [screw.from_top for screw in strip.screws.screws]
        assert len(places) >= 2
        assert min(places) >= 40 - 1e-6
        assert max(places) <= 1200 - 40 + 1e-6
        assert all(below - above >= 5 * 3.5 for above, below in pairwise(places))
        assert strip.width / 2 >= 2.5 * 3.5
        assert not any(start < place < end for place in places for start, end in strip.screws.barred)
        assert strip.screws.apart <= 450 + 1e-6 or found(front, Weight.LOOK, "far apart")


@pytest.mark.parametrize(("long", "count"), [(120, 2), (480, 2), (540, 2), (700, 3), (900, 3), (1400, 4), (2400, 7)])
def test_a_strip_that_is_thick_all_over_gets_as_many_screws_as_keep_neighbours_near(long: float, count: int) -> None:
    for plan in plans(level(15, long=long)):
        places = [screw.from_top for screw in plan.screws]
        assert len(places) == count
        assert 40 <= places[0] <= 60
        assert 40 <= long - places[-1] <= 60
        assert max(below - above for above, below in pairwise(places)) <= 450
        assert {screw.length for screw in plan.screws} == {30.0}
        assert [screw.cover for screw in plan.screws] == pytest.approx([3.0] * count, abs=1e-4)


def test_nine_millimetres_on_a_board_of_eighteen_take_a_screw_of_24_at_most() -> None:
    front = level(9, fixing={"lengths": [20, 22, 24, 25, 30]})
    assert {screw.length for plan in plans(front) for screw in plan.screws} == {24.0}
    assert {screw.bite for plan in plans(front) for screw in plan.screws} == {6.0}


def test_a_screw_of_25_comes_through_nine_millimetres_and_is_never_planned() -> None:
    front = level(9, fixing={"lengths": [25]})
    assert not any(plan.screws for plan in plans(front))
    stops = found(front, Weight.STOPS)
    assert [one.strip for one in stops] == list(range(1, 9))
    # 24 are 18 of board and 6 of bite; 3 mm of the 9 stay over the tip.
    assert all(one.value == 25.0 and one.limit == pytest.approx(24.0, abs=1e-4) for one in stops)


COMMON = {12, 13, 15, 16, 20, 25, 30, 35, 40, 45, 50, 60}
COMMON_INCH = {1 / 2, 5 / 8, 3 / 4, 1, 5 / 4, 3 / 2, 7 / 4, 2}
INCHES: dict[str, Any] = {
    "unit": "in",
    "front": {"width": 8, "height": 20},
    "strips": {"count": 8, "gap": "1/8 in"},
    "wood": {"species": "white ash", "blank": "1 in", "floor": "1/4 in"},
    "carving": {"fit": "depth", "depth": "5/8 in"},
    "layers": [{"kind": "hills", "size": 3}],
}
FAULTS = {
    "a stock of 25": level_job(9, fixing={"lengths": [25]}),
    "a stock of long screws": level_job(18, fixing={"lengths": [60]}),
    "a stock of short screws": level_job(18, fixing={"lengths": [16]}),
    "nothing common fits": level_job(9),
    "thin but for one ridge": level_job(8, spot(200, 16.0)),
    "thin blank": level_job(8, wood={"floor": 4, "blank": 8.8}),
    "narrow": level_job(15, strips={"count": 22, "gap": 2}),
    "a little narrow": level_job(15, strips={"count": 18, "gap": 2}),
    "near the sides": level_job(15, strips={"width": 17, "gap": 3}),
    "very near the sides": level_job(15, strips={"width": 14, "gap": 3}),
    "short": level_job(15, long=90),
    "shallow, short stock": level_job(12, fixing={"lengths": [25]}),
    "shallow": level_job(10.5),
    "shallow, no wood to spare": level_job(10, fixing={"lengths": [25]}),
    "far apart": level_job(15, spot(650, 8.0, long=700), long=1300),
    "free at its top": level_job(15, spot(150, 8.0, long=300), long=900),
    "heads sunk deep": level_job(15, fixing={"countersink": 12}),
    "heads sunk through": level_job(15, fixing={"countersink": 19}),
    "lively": a_job(front={"width": 200, "height": 300}, wood={"blank": 16, "floor": 4}, layers=[LIVELY[0]]),
    "inches": a_job(**INCHES),
    "inches, narrow": a_job(**INCHES | {"strips": {"count": 28, "gap": "1/8 in"}}),
    "inches, short": a_job(**INCHES | {"front": {"width": 8, "height": 3}}),
    "inches, long stock": a_job(**INCHES, fixing={"lengths": [2]}),
    "inches, short stock": a_job(**INCHES, fixing={"lengths": [0.75]}),
    "inches, thin": a_job(**INCHES | {"wood": {"blank": "1/2 in", "floor": "1/4 in"}, "carving": {"fit": "full"}}),
}


@pytest.mark.parametrize("fault", FAULTS)
def test_every_way_that_a_cure_names_holds_the_strips(fault: str) -> None:
    said = [one for one in check(build_front(make_job(FAULTS[fault]))) if one.topic != "screws"]
    assert said
    assert all(one.cure for one in said)
    assert cures_that_do_not_cure(FAULTS[fault], only="screws") == []


@pytest.mark.parametrize("fault", FAULTS)
def test_whatever_is_to_be_bought_is_sold(fault: str) -> None:
    """Common lengths of wood screws (common practice); shanks No. 4 to No. 10: Wood Handbook, FPL-GTR-282, Table 8-9."""
    inches = "inches" in fault
    stock = set(make_job(FAULTS[fault]).fixing.lengths or ())
    for one in check(build_front(make_job(FAULTS[fault]))):
        for way in (way for way in ways_of(one.cure) if way.typed):
            fixing = make_job(way.follow(FAULTS[fault])).fixing
            bought = list(set(fixing.lengths or ()) - stock)
            assert all(
                min(abs(length / (25.4 if inches else 1) - usual) for usual in (COMMON_INCH if inches else COMMON))
                < 1e-3
                for length in bought
            )
            assert fixing.shank == 3.5 or round(fixing.shank, 2) in (
                {2.84, 3.18, 3.51, 3.84, 4.17, 4.50, 4.83} if inches else {3.0, 4.0, 4.5, 5.0}
            )
            assert 18.0 - fixing.countersink >= 8.0 - 1e-6 or fixing.countersink > 10


def test_a_stock_of_long_screws_is_named_as_the_cause() -> None:
    """18 mm of wood on a board of 18: 24 bites 6, 33 leaves 3 over its tip, 60 comes out of the face."""
    (first, *_) = found(level(18, fixing={"lengths": [60]}), Weight.STOPS)
    assert "24 mm to 33 mm long, but the stock has none such: one of 60 mm comes out of its face" in first.sentence
    cured = followed(level_job(18, fixing={"lengths": [60]}), first.cure, "fixing.lengths")
    assert cured["fixing"]["lengths"] == [25, 60]


def test_heads_are_sunk_before_a_screw_is_asked_for_that_nobody_sells() -> None:
    (first, *_) = found(level(9), Weight.STOPS)
    cured = followed(level_job(9), first.cure)
    assert 0 < cured["fixing"]["countersink"] <= 10
    assert "lengths" not in cured["fixing"]


def test_a_shop_may_sell_other_screws() -> None:
    fixing = {"lengths": [60], "lengths_sold": [26, 44], "shanks_sold": [2.0, 3.2]}
    (first, *_) = found(level(18, fixing=fixing), Weight.STOPS)
    assert "fixing.lengths = [26, 60]" in first.cure
    strips = {"count": 18, "gap": 2}
    (first, *_) = found(level(15, strips=strips, fixing={"shanks_sold": [2.0, 3.2]}), Weight.STOPS)
    assert "fixing.shank = 3.2" in first.cure
    (first, *_) = found(level(15, strips=strips, fixing={"shanks_sold": [2.0]}), Weight.STOPS)
    assert "fixing.shank" not in first.cure
    assert "glue" in first.cure


def test_glue_is_not_asked_for_where_gaps_would_close() -> None:
    """Glued strips that push each other stop the job; a bead along the middle, or nothing, is left then."""
    tight = {"strips": {"count": 22, "gap": 0}, "room": {"now": {"temperature": 21, "humidity": 30}}}
    (first, *_) = found(level(15, **tight), Weight.STOPS, "narrow")
    for way in (way for way in ways_of(first.cure) if way.typed):
        assert not new_stops(way.follow(level_job(15, **tight)), level_job(15, **tight))


def new_stops(after: dict[str, Any], before: dict[str, Any]) -> set[tuple[str, str]]:
    now, then = ({(one.check, one.topic) for one in findings_of(job) if one.stops} for job in (after, before))
    return now - then


@pytest.mark.parametrize(("sunk", "weight"), [(0, None), (10, None), (11, Weight.LOOK), (18, Weight.STOPS)])
def test_a_head_sunk_too_deep_is_drawn_into_the_board(sunk: float, weight: Weight | None) -> None:
    said = [one for one in check(level(20, fixing={"countersink": sunk})) if one.topic == "heads sunk too deep"]
    assert [one.weight for one in said] == ([] if weight is None else [weight])


def test_a_head_that_is_sunk_bites_so_much_deeper() -> None:
    for sunk in (0.0, 1.0, 2.0):
        front = level(12, fixing={"lengths": [25], "countersink": sunk})
        assert {screw.bite for plan in plans(front) for screw in plan.screws} == {25 - BOARD + sunk}


def test_a_thicker_board_takes_longer_screws() -> None:
    assert {screw.length for plan in plans(level(15, board={"thickness": 22})) for screw in plan.screws} == {30.0}
    assert {screw.length for plan in plans(level(15, board={"thickness": 12})) for screw in plan.screws} == {20.0}


def test_a_thin_place_moves_the_screw_away_on_that_strip_alone() -> None:
    thick, thin = level(15), level(15, spot(50, 5.0))
    changed = [n for n, (before, after) in enumerate(zip(plans(thick), plans(thin), strict=True), 1) if before != after]
    assert changed == [5]
    plan = plans(thin)[4]
    assert any(start <= 50 <= end for start, end in plan.barred)
    assert all(abs(screw.from_top - 50) > 1.75 for screw in plan.screws)
    assert min(distances_to_face(thin.strip(5), tips(thin.strip(5), plan, 1.75))) >= 3 - 0.02


def test_a_thin_place_in_the_middle_pushes_the_middle_screw_aside() -> None:
    before, after = plans(level(15, long=800))[4], plans(level(15, spot(400, 5.0), long=800))[4]
    assert [screw.from_top for screw in before.screws][1] == pytest.approx(400, abs=1)
    assert abs([screw.from_top for screw in after.screws][1] - 400) > 4
    assert after.apart <= 450


def test_a_strip_too_thin_for_two_screws_stops_the_job_by_number() -> None:
    """One ridge across strip 5, level 8: a screw finds room on it nowhere but there."""
    front = level(8, spot(200, 16.0))
    plan = plans(front)[4]
    assert plan.reason is NoRoom.THIN
    stops = found(front, Weight.STOPS, "no room for two")
    assert [one.strip for one in stops] == list(range(1, 9))
    assert next(one for one in stops if one.strip == 5).from_top == pytest.approx(200, abs=6)
    assert all(one.value < one.limit for one in stops)


def test_lands_across_the_strips_give_each_two_screws() -> None:
    front = level(8)
    cured = followed(level_job(8), found(front, Weight.STOPS)[0].cure, "[[lands]]")
    assert len(cured["lands"]) == 2
    assert all(len(plan.screws) == 2 for plan in plans(build_front(make_job(cured))))
    lower = cured | {"lands": [land | {"height": land["height"] - 1.2} for land in cured["lands"]]}
    assert len(found(build_front(make_job(lower)), Weight.STOPS)) == 8


def test_the_floor_that_is_asked_for_is_no_higher_than_screws_want() -> None:
    """The shortest screw that bites, 25, reaches 7 above the back; 3 mm stay over its tip."""
    cured = followed(level_job(8), found(level(8), Weight.STOPS)[0].cure, "wood.floor")
    assert cured["wood"]["floor"] == 10


def test_a_strip_too_narrow_for_its_screws_is_named_with_the_screw_that_fits() -> None:
    narrow = level(15, strips={"count": 18, "gap": 2})
    width = narrow.layout.strips[0].width
    stops = found(narrow, Weight.STOPS, "narrow")
    assert [one.strip for one in stops] == list(range(1, 19))
    cured = followed(level_job(15, strips={"count": 18, "gap": 2}), stops[0].cure, "fixing.shank")
    assert 2.8 <= cured["fixing"]["shank"] <= widest_shank(width, 3.0) < 3.5


def test_what_is_too_narrow_for_the_thinnest_screw_is_glued() -> None:
    """Below No. 4, 2.84 mm (Wood Handbook, FPL-GTR-282, Table 8-9), no screw is asked for."""
    strips = {"count": 22, "gap": 2}
    assert widest_shank(level(15, strips=strips).layout.strips[0].width, 3.0) < 2.8
    (first, *_) = found(level(15, strips=strips), Weight.STOPS, "narrow")
    assert "fixing.shank" not in first.cure
    assert 'fixing.by = "' in first.cure


def test_screws_near_the_sides_want_a_look_and_thinner_ones_do_not() -> None:
    """Half of 17 is 2.4 shanks of 3.5: under two and a half shanks from the side is 8.75."""
    strips = {"width": 17, "gap": 3}
    (near,) = found(level(15, strips=strips), Weight.LOOK, "sides")
    assert near.value == pytest.approx(17 / 2 / 3.5)
    assert near.limit == 2.5
    cured = followed(level_job(15, strips=strips), near.cure)
    assert cured["fixing"]["shank"] == 3.0
    assert not found(build_front(make_job(cured)), Weight.LOOK, "sides")


def test_a_strip_too_short_for_two_screws_is_named() -> None:
    stops = found(level(15, long=90), Weight.STOPS, "short")
    assert len(stops) == 8
    cured = followed(level_job(15, long=90), stops[0].cure, "screw_end")
    assert all(len(plan.screws) == 2 for plan in plans(build_front(make_job(cured))))


def test_shallow_screws_are_named() -> None:
    looks = found(level(12, fixing={"lengths": [25]}), Weight.KNOW, "shallow")
    assert [one.strip for one in looks] == list(range(1, 9))
    assert {one.value for one in looks} == {7.0}


def test_two_screws_that_bite_deep_enough_hold_a_strip_and_a_third_may_be_shallow() -> None:
    front = level(15, spot(400, 10.0, long=420), long=800)
    assert sorted(screw.bite for screw in plans(front)[4].screws) == [7, 12, 12]
    assert not found(front, Weight.LOOK)
    (ends,) = found(level(10, spot(400, 15.0, long=420), long=800), Weight.KNOW, "shallow")[4:5]
    assert (ends.strip, ends.value) == (5, 7)


@pytest.mark.parametrize(("thin", "bite"), [(80, 12), (105, 12), (130, 7)])
def test_a_screw_at_an_end_stands_somewhat_further_in_for_the_bite_that_is_wanted(thin: float, bite: float) -> None:
    plan = plans(level(15, spot(thin / 2, 10.0, long=thin)))[4]
    assert plan.screws[0].bite == bite
    assert plan.screws[0].from_top == pytest.approx(thin + 4 if bite == 12 else 50, abs=4)


def test_a_long_thin_stretch_is_named_and_a_land_cures_it() -> None:
    hollow = spot(650, 8.0, long=700)
    front = level(15, hollow, long=1300)
    (far,) = [one for one in found(front, Weight.LOOK, "far apart") if one.strip == 5]
    assert far.value > 450
    assert 300 < far.from_top < 1000
    cured = followed(level_job(15, hollow, long=1300), far.cure, "[[lands]]")
    assert not [one for one in found(build_front(make_job(cured)), Weight.LOOK, "far apart") if one.strip == 5]


def test_an_end_without_a_screw_is_named_and_a_land_cures_it() -> None:
    hollow = spot(150, 8.0, long=300)
    front = level(15, hollow, long=900)
    (free,) = [one for one in found(front, Weight.LOOK, "free end") if one.strip == 5]
    assert free.value > 225
    assert "top end" in free.sentence
    cured = followed(level_job(15, hollow, long=900), free.cure, "[[lands]]")
    assert not [one for one in found(build_front(make_job(cured)), Weight.LOOK, "free end") if one.strip == 5]


@pytest.mark.parametrize("by", ["glue", "middle bead"])
def test_strips_that_are_glued_get_no_screws_and_nothing_is_said(by: str) -> None:
    front = level(5, fixing={"by": by})
    assert check(front) == []
    assert set(plans(front)) == {ScrewPlan()}


def test_a_clean_front_is_told_its_screws_and_nothing_else() -> None:
    front = level(15, long=800)
    (said,) = check(front)
    assert said.weight is Weight.KNOW
    assert "24 of 30 mm" in said.sentence
    assert "pencil" not in said.caution
    assert "carbide disc" in said.caution
    assert "24 of these have less" in said.caution


def test_screws_are_counted_by_length() -> None:
    front = lively(LIVELY[0], wood={"blank": 30}, limits={"bite_wanted": 6})
    (said,) = found(front, Weight.KNOW)
    counted = {float(length): int(count) for count, length in re.findall(r"(\d+) of (\d+) mm", said.sentence)}
    planned = [screw.length for plan in plans(front) for screw in plan.screws]
    assert counted == {length: planned.count(length) for length in set(planned)}
    assert len(counted) > 1


def test_what_a_screw_holds_is_the_handbooks_average() -> None:
    """Withdrawal from side grain, Wood Handbook, FPL-GTR-282, Eq. (8-10): white ash 0.60, shank 3.5, 12 deep."""
    (said,) = found(level(15, long=800), Weight.KNOW)
    ultimate, fifth = (
        float(number)
        for number in re.search(r"about (\d+) N \(ultimate\), of which a fifth, (\d+) N", said.sentence).groups()
    )
    assert ultimate == pytest.approx(108.25 * 0.60**2 * 3.5 * 12, abs=0.5)
    assert ultimate == pytest.approx(withdrawal(0.60, 3.5, 12), abs=0.5)
    assert fifth == pytest.approx(ultimate / 5, abs=0.5)


@pytest.mark.parametrize(("shank", "soft", "hard"), [(3.51, 1.64, 2.11), (4.17, 1.95, 2.50), (4.83, 2.25, 2.90)])
def test_pilot_holes_follow_the_handbook(shank: float, soft: float, hard: float) -> None:
    """Lead holes of 70 and 90 % of a root of two thirds of the shank, shanks No. 6, 8 and 10 (Wood Handbook, FPL-GTR-282, ch. 8)."""
    assert pilot_hole(shank, softwood=True) == pytest.approx(soft, abs=0.006)
    assert pilot_hole(shank, softwood=False) == pytest.approx(hard, abs=0.006)


def test_softwood_takes_a_smaller_pilot_hole_and_the_board_a_wider_one() -> None:
    assert "Pilot hole 2.1 mm" in found(level(15), Weight.KNOW)[0].sentence
    pine = level(15, wood={"species": "douglas-fir", "floor": 4, "blank": 40})
    assert "Pilot hole 1.6 mm" in found(pine, Weight.KNOW)[0].sentence
    assert clearance_hole(3.5) == (4.0, 4.5)


def test_limits_of_the_job_are_obeyed_and_said_to_be_so() -> None:
    front = level(12, fixing={"lengths": [25]}, limits={"bite_wanted": 7, "screw_cover": 5, "screw_apart": 200})
    assert not found(front, Weight.KNOW, "shallow")
    assert {len(plan.screws) for plan in plans(front)} == {3}
    assert {plan.apart for plan in plans(front)} != {0.0}
    deep = level(12, fixing={"lengths": [25]}, limits={"screw_cover": 5.5})
    assert len(found(deep, Weight.STOPS)) == 8
    wanted = found(level(12, fixing={"lengths": [25]}, limits={"bite_wanted": 7.5}), Weight.KNOW, "shallow")
    assert {one.source for one in wanted} == {"said in the job"}
    assert {one.limit for one in wanted} == {7.5}


def test_an_inch_job_has_inch_screws_and_prints_no_millimetres() -> None:
    settings: dict[str, Any] = {
        "unit": "in",
        "front": {"width": 8, "height": 20},
        "strips": {"count": 8, "gap": "1/8 in"},
        "wood": {"species": "white ash", "blank": "1 in", "floor": "1/4 in"},
        "carving": {"fit": "depth", "depth": "5/8 in"},
        "layers": [{"kind": "hills", "size": 3}],
    }
    front = small_front(**settings)
    assert {round(length / 25.4, 4) for length in stock_lengths(front.job)} == COMMON_INCH
    thin = small_front(
        **settings
        | {
            "carving": {"fit": "as given"},
            "layers": [
                {
                    "kind": "points",
                    "points": [
                        {"place": [0, 0], "height": "5/16 in"},
                        {"place": [8, 20], "height": "5/16 in"},
                        {"place": [0, 20], "height": "5/16 in"},
                    ],
                }
            ],
        }
    )
    short = small_front(**settings | {"front": {"width": 8, "height": 3}})
    narrow = small_front(**settings | {"strips": {"count": 28, "gap": "1/8 in"}})
    said = [one for front in (front, thin, short, narrow) for one in check(front)]
    assert {one.weight for one in said} >= {Weight.STOPS, Weight.KNOW}
    for one in said:
        words = f"{one.sentence} {one.cure} {one.caution}"
        assert "mm" not in words
        assert " in" in words


def test_nothing_is_called_safe() -> None:
    for front in (level(15), level(8), level(12), level(15, long=90)):
        assert not any("safe" in f"{one.sentence} {one.cure} {one.caution}".lower() for one in check(front))


def test_the_same_strip_gets_the_same_plan() -> None:
    assert plans(lively(LIVELY[0])) == plans(lively(LIVELY[0]))
