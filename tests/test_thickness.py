"""Thickness: places too thin for how a strip is fixed, for hands, clamps and screws, are named with cures that work."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest
from following import cures_that_do_not_cure, ways_of
from helpers import a_job, small_front

from facade.checks import Finding, Weight
from facade.checks.thickness import check
from facade.front import Front, build_front
from facade.job import make_job

CORNERS = [(x, y) for x in (0, 100, 200) for y in (0, 60, 120)]


def carved_job(places: dict[tuple[float, float], float], around: float = 12.0, **changes: Any) -> dict[str, Any]:
    """Return a job `around` mm thick with some places, from the left and from below, at heights of their own."""
    points = [
        {"place": list(place), "height": height} for place, height in (dict.fromkeys(CORNERS, around) | places).items()
    ]
    settings: dict[str, Any] = {
        "carving": {"fit": "as given"},
        "wood": {"floor": 2},
        "layers": [{"kind": "points", "points": points}],
    }
    return a_job(**settings | changes)


def carved(places: dict[tuple[float, float], float], around: float = 12.0, **changes: Any) -> Front:
    """Return the front of such a job."""
    return build_front(make_job(carved_job(places, around, **changes)))


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


LAND = {"centre": [112.5, 80], "size": [60, 16], "height": 6.3, "blend": 10}
INCHES: dict[str, Any] = {"unit": "in", "front": {"width": 8, "height": 5}, "layers": [{"kind": "hills", "size": 3}]}
FAULTS = {
    "one place": carved_job({(112.5, 80): 7.0}),
    "one deep place": carved_job({(112.5, 80): 4.0}),
    "all over": carved_job({}, 4.0),
    "ends of glued strips": carved_job({}, 6.3, fixing={"by": "glue"}),
    "a land": carved_job({}, fixing={"by": "glue"}, lands=[LAND]),
    "from floor to face": a_job(wood={"floor": 4}),
    "a little": a_job(wood={"floor": 7.9}),
    "depth": a_job(wood={"floor": 2}, carving={"fit": "depth", "depth": 13.5}),
    "depth and a low land": a_job(wood={"floor": 2}, carving={"fit": "depth", "depth": 10}, lands=[LAND]),
    "thin blank": a_job(wood={"blank": 8.0, "floor": 4.0}),
    "low cap": a_job(wood={"floor": 4}, caps=[{"edge": "left", "width": 20, "height": 6}]),
    "inches": a_job(**INCHES, wood={"blank": 0.75, "floor": 0.25}),
    "inches, depth": a_job(**INCHES, wood={"blank": 0.75, "floor": 0.125}, carving={"fit": "depth", "depth": 0.5}),
}


@pytest.mark.parametrize("fault", FAULTS)
def test_every_way_that_a_cure_names_makes_strips_thick_enough(fault: str) -> None:
    found = check(build_front(make_job(FAULTS[fault])))
    assert found
    assert all(way.typed for one in found for way in ways_of(one.cure) if "As on strip" not in way.words)
    assert cures_that_do_not_cure(FAULTS[fault], only="thickness") == []


def test_many_thin_strips_get_a_floor_and_not_a_land_each() -> None:
    assert all("[[lands]]" not in one.cure for one in check(small_front(wood={"floor": 4})))
    assert "[[lands]]" in worst(check(carved({(112.5, 80): 7.0}))).cure


def test_a_land_that_is_asked_for_lies_on_the_front_and_is_no_larger_than_it_must_be() -> None:
    """Its middle and size hold every place of the strip that is below the limit, and a few millimetres more."""
    front = carved({(190, 100): 7.4})
    found = worst(check(front))
    ((_, land),) = next(way for way in ways_of(found.cure) if way.tables).tables
    strip = front.strip(found.strip)
    thin = strip.y[(strip.heights < 8.0 - 1e-6).any(axis=1)]
    bottom, top = (land["centre"][1] + side * land["size"][1] / 2 for side in (-1, 1))
    assert 0.0 <= bottom <= thin.min()
    assert thin.max() <= top <= 120.0
    assert top - bottom <= np.ptp(thin) + 5.0
    assert land["centre"][0] + land["size"][0] / 2 <= 200.0


PULL = {"centre": [100, 60], "size": [90, 40], "depth": 12}


def test_wood_under_a_pull_is_left_to_the_check_of_pulls() -> None:
    """18 mm less a pull of 12 leave 6: thin for screws, enough under fingers."""
    front = carved({}, 18.0, pulls=[PULL])
    assert min(one.thinnest.height for one in front.measures()) == pytest.approx(6.0, abs=1e-3)
    assert check(front) == []


def test_what_is_thin_beside_a_pull_is_still_named() -> None:
    found = check(carved({(112.5, 10): 7.0}, 19.0, pulls=[PULL | {"centre": [100, 90]}]))
    assert found
    assert all(one.from_top > 80 for one in found)


@pytest.mark.parametrize(
    ("height", "topics"),
    [(7.5, set()), (6.7, {"thin_end"}), (5.8, {"thin_glued"}), (4.8, {"thin_least"})],
)
def test_by_default_each_limit_is_named_in_its_own_right(height: float, topics: set[str]) -> None:
    assert {one.topic for one in check(carved({}, height, fixing={"by": "glue"}))} == topics


def test_by_default_a_thin_arris_of_a_glued_strip_is_named() -> None:
    """Between 6, enough in the middle, and 6.5 along an arris; ends are at their full thickness of 9."""
    points = [{"place": [x, y], "height": h} for y, h in ((0, 9), (60, 6.2), (120, 9)) for x in (0, 100, 200)]
    front = small_front(
        carving={"fit": "as given"},
        wood={"floor": 6.2},
        layers=[{"kind": "points", "points": points}],
        fixing={"by": "glue"},
    )
    assert {one.topic for one in check(front)} == {"thin_edge"}


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
