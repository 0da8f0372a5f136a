"""Thickness: places too thin for how a strip is fixed, for hands, clamps and screws, are named with cures that work."""

from __future__ import annotations

import re
from typing import Any

import pytest
from helpers import small_front

from facade.checks import Finding, Weight
from facade.checks.thickness import check
from facade.front import Front

CORNERS = [(x, y) for x in (0, 100, 200) for y in (0, 60, 120)]


def carved(places: dict[tuple[float, float], float], around: float = 12.0, **changes: Any) -> Front:
    """Return a front `around` mm thick with some places, from the left and from below, at heights of their own."""
    points = [{"place": place, "height": height} for place, height in (dict.fromkeys(CORNERS, around) | places).items()]
    settings: dict[str, Any] = {
        "carving": {"fit": "as given"},
        "wood": {"floor": 2},
        "layers": [{"kind": "points", "points": points}],
    }
    return small_front(**settings | changes)


def number_after(words: str, text: str) -> float:
    found = re.search(words + r" ([\d.]+)", text)
    assert found is not None, text
    return float(found[1])


def worst(found: list[Finding]) -> Finding:
    return max(found, key=lambda one: one.beyond)


def test_a_thin_place_is_named_at_its_strip_and_millimetre() -> None:
    found = worst(check(carved({(112.5, 80): 7.0})))
    assert (found.strip, found.weight, found.limit) == (5, Weight.LOOK, 8.0)
    assert found.from_top == pytest.approx(40.0, abs=4.0)
    assert found.value == pytest.approx(7.0, abs=0.5)
    assert f"Strip 5 is {found.value:.1f} mm thick {found.from_top:.0f} mm from the top" in found.sentence


@pytest.mark.parametrize(
    ("by", "height", "weight", "words"),
    [
        ("screws", 8.0, None, ""),
        ("screws", 7.5, Weight.LOOK, "screws"),
        ("glue", 7.5, None, ""),
        ("glue", 5.5, Weight.LOOK, "glued"),
        ("middle bead", 5.5, Weight.LOOK, "glued along its middle"),
        ("middle bead", 4.9, Weight.STOPS, "breaks in the hand"),
    ],
)
def test_the_limit_is_that_of_how_strips_are_fixed(by: str, height: float, weight: Weight | None, words: str) -> None:
    front = carved({}, height, fixing={"by": by})
    found = check(front)
    assert {one.weight for one in found} == (set() if weight is None else {weight})
    assert all(words in one.sentence for one in found)


def test_every_strip_is_named_once_however_many_limits_it_is_below() -> None:
    found = check(carved({}, 4.0))
    assert [one.strip for one in found] == list(range(1, 9))
    assert {one.topic for one in found} == {"thin_least"}


def test_a_thin_arris_is_named_on_its_edge() -> None:
    """Level crests run up the strips; their arrises stand in the hollows between."""
    layers = [
        {"kind": "points", "points": [{"place": [x, y], "height": 11} for x, y in ((0, 0), (9, 0), (0, 9))]},
        {"kind": "waves", "combine": "add", "trains": [{"length": 25, "height": 2, "phase": 90}]},
    ]
    front = small_front(
        strips={"count": 8, "gap": 0}, carving={"fit": "as given"}, layers=layers, limits={"thin_edge": 10.0}
    )
    found = check(front)
    assert len(found) == 8
    for one in found:
        assert "arris" in one.sentence
        assert (one.limit, one.source) == (10.0, "said in the job")
        assert min(abs(one.from_left), abs(one.from_left - 25.0)) < 1e-9
        assert one.value == pytest.approx(9.0, abs=0.01)


def test_a_thin_end_is_named_at_its_end() -> None:
    points = [{"place": [x, y], "height": height} for x in (0, 200) for y, height in ((0, 9), (120, 12))]
    layers = [{"kind": "points", "points": points}]
    found = check(small_front(carving={"fit": "as given"}, layers=layers, limits={"thin_end": 10.0}))
    assert len(found) == 8
    assert {one.from_top for one in found} == {120.0}
    assert all("at an end" in one.sentence and one.value == pytest.approx(9.0) for one in found)


def test_a_thin_land_is_named_where_it_is() -> None:
    land = {"centre": [112.5, 80], "size": [12, 16], "height": 7, "blend": 10}
    (found,) = check(carved({}, fixing={"by": "glue"}, lands=[land]))
    assert "land 1" in found.sentence
    assert (found.strip, found.limit) == (5, 8.0)
    assert found.value == pytest.approx(7.0)
    strip = carved({}).layout.strip(5)
    assert abs(strip.top - found.from_top - 80.0) <= 8.0
    assert abs(strip.left + found.from_left - 112.5) <= 6.0


@pytest.mark.parametrize("shape", ["rectangle", "ellipse"])
def test_only_the_land_itself_is_held_to_what_screws_want(shape: str) -> None:
    """Around the land the strip is thinner, which is enough for glue."""
    land = {"shape": shape, "centre": [112.5, 80], "size": [40, 30], "height": 9, "blend": 10}
    assert check(carved({}, 7.0, fixing={"by": "glue"}, lands=[land])) == []
    assert check(carved({}, 7.0, fixing={"by": "glue"}, lands=[land | {"height": 7.9}])) != []


def test_the_height_that_a_thin_land_wants_cures_it() -> None:
    land = {"centre": [112.5, 80], "size": [60, 16], "height": 6.3, "blend": 10}
    found = check(carved({}, fixing={"by": "glue"}, lands=[land]))
    height = number_after("Give land 1 a height of", found[0].cure)
    assert check(carved({}, fixing={"by": "glue"}, lands=[land | {"height": height}])) == []


@pytest.mark.parametrize("floor", [4.0, 5.5, 7.0])
def test_the_floor_that_the_cure_names_works(floor: float) -> None:
    found = check(small_front(wood={"floor": floor}))
    wanted = max(number_after("Set wood.floor to", one.cure) for one in found)
    assert check(small_front(wood={"floor": wanted})) == []


def test_the_blank_and_the_depth_that_the_cure_names_work() -> None:
    def front(blank: float, depth: float) -> Front:
        return small_front(wood={"blank": blank, "floor": 2}, carving={"fit": "depth", "depth": depth})

    found = check(front(20.0, 13.5))
    assert found
    more = max(number_after("Use blanks", one.cure) for one in found)
    assert check(front(20.0 + more, 13.5)) == []
    depth = min(number_after("carving.depth to", one.cure) for one in found)
    assert check(front(20.0, depth)) == []


def test_the_heights_and_the_land_that_the_cure_names_work() -> None:
    found = worst(check(carved({(112.5, 80): 6.4}, 14.0)))
    more = number_after("heights that are", found.cure)
    assert check(carved({(112.5, 80): 6.4 + more}, 14.0 + more)) == []
    height = number_after("keep a land of", found.cure)
    land = {"centre": [112.5, 80], "size": [150, 80], "height": height, "keep": "at least", "blend": 5}
    assert check(carved({(112.5, 80): 6.4}, 14.0, lands=[land])) == []


def test_a_blank_that_is_too_thin_for_the_limit_is_said_to_be() -> None:
    found = check(small_front(wood={"blank": 8.0, "floor": 4.0}))
    blank, floor = number_after("use blanks of", found[0].cure), number_after("Set wood.floor to", found[0].cure)
    assert (blank, floor) == (12.0, 8.0)
    assert check(small_front(wood={"blank": blank, "floor": floor})) == []


def test_limits_set_in_the_job_are_obeyed_and_said() -> None:
    found = check(carved({}, 12.0, limits={"thin_screwed": 13.0}))
    assert {(one.limit, one.source) for one in found} == {(13.0, "said in the job")}
    assert (
        check(carved({}, 4.0, limits=dict.fromkeys(("thin_least", "thin_screwed", "thin_edge", "thin_end"), 3.0))) == []
    )


@pytest.mark.parametrize(("height", "wanted"), [(5.5, True), (7.0, False)])
def test_strips_under_6_mm_come_with_the_caution_about_ripping(height: float, wanted: bool) -> None:
    assert all(("kickback" in one.caution) is wanted for one in check(carved({}, height)))


def test_lengths_that_read_alike_are_told_apart() -> None:
    (found, *_) = check(carved({}, 7.97))
    assert "7.97 mm thick" in found.sentence
    (found, *_) = check(
        small_front(unit="in", front={"width": "200 mm", "height": "120 mm"}, wood={"blank": 1, "floor": "7.6 mm"})
    )
    assert "0.2992 in thick" in found.sentence
    assert "less than 0.315 in" in found.sentence


@pytest.mark.parametrize("floor", ["4 mm", "7 mm"])
def test_a_job_in_inches_prints_no_millimetres(floor: str) -> None:
    size = {"width": "200 mm", "height": "120 mm"}
    land = {"centre": ["100 mm", "60 mm"], "size": ["60 mm", "20 mm"], "height": "7 mm"}
    front = small_front(unit="in", front=size, wood={"blank": "20 mm", "floor": floor}, lands=[land])
    found = check(front)
    assert found
    assert not any("mm" in one.sentence + one.cure + one.caution for one in found)


def test_the_floor_that_the_cure_names_in_inches_works() -> None:
    size = {"width": "200 mm", "height": "120 mm"}
    found = check(small_front(unit="in", front=size, wood={"blank": "20 mm", "floor": "7 mm"}))
    floor = re.search(r"wood.floor to (\d+/\d+) in", found[0].cure)
    assert floor is not None
    assert check(small_front(unit="in", front=size, wood={"blank": "20 mm", "floor": floor[1]})) == []
