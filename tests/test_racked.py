"""The crooked opening: its corners from the readings, the upright rectangle that goes in, and what is planed at each edge."""

from __future__ import annotations

import math
import re
from typing import Any

import numpy as np
import pytest
from following import cures_that_do_not_cure
from openings import Point, as_opening, corners_to_readings, front_in, job_in, right_angled
from shapely import Polygon, box

from facade.checks import Finding, Weight
from facade.checks.opening import check
from facade.doors.opening import OpeningFit, fit_opening
from facade.doors.quadrilateral import LEANS, Corners, Name, Quadrilateral, covering_rectangle, largest_rectangle

# 900 by 700 all round, its diagonals 9.6 mm apart. In a parallelogram the squares of the diagonals differ by four times one
# side and what the other leans along it (the law of cosines, twice).
RACKED = right_angled(diagonals=[1145.0, 1135.4])
LEAN = (1145.0**2 - 1135.4**2) / (4 * 900)


def fitted(opening: dict[str, Any], **changes: Any) -> OpeningFit:
    front = front_in(opening, **changes)
    fit = fit_opening(front.job, front.layout)
    assert fit is not None
    return fit


def corners_of(readings: dict[Name, float]) -> Corners:
    return Quadrilateral(readings, 2.0).corners()


def sheared(lean: float, width: float = 900.0, height: float = 700.0) -> Corners:
    return Corners((width, 0.0), (width + lean, height), (lean, height))


def turned(degrees: float, width: float = 900.0, height: float = 700.0) -> Corners:
    """Return a right rectangle that stands out of plumb and level by one angle."""
    turn = math.radians(degrees)
    right, up = (math.cos(turn), math.sin(turn)), (-math.sin(turn), math.cos(turn))
    one, two = ((width * right[0], width * right[1]), (height * up[0], height * up[1]))
    return Corners(one, (one[0] + two[0], one[1] + two[1]), two)


def crooked(seed: int, by: float) -> Corners:
    chance = np.random.default_rng(seed)
    width, height = chance.uniform(300, 2400, 2)
    off = chance.normal(0, by, 6)
    return Corners((width + off[0], off[1]), (width + off[2], height + off[3]), (off[4], height + off[5]))


def read_on(corners: Corners) -> dict[Name, float]:
    return corners_to_readings(corners.bottom_right, corners.top_right, corners.top_left)


def stopping(found: list[Finding]) -> list[str]:
    return [one.topic for one in found if one.weight is Weight.STOPS]


# Corners.


@pytest.mark.parametrize("by", [0.5, 5.0, 20.0])
@pytest.mark.parametrize("seed", range(10))
def test_exact_readings_of_any_opening_give_its_corners_back(seed: int, by: float) -> None:
    true = crooked(seed, by)
    found = corners_of(read_on(true))
    assert max(map(math.dist, found.around, true.around)) < 0.05


@pytest.mark.parametrize("lean", [-25.0, -6.0, 0.4, 14.0])
def test_without_a_plumb_line_the_corners_over_a_level_sill_are_given_back(lean: float) -> None:
    true = Corners((900.0, 0.0), (903.0 + lean, 704.0), (lean, 700.0))
    readings = {name: value for name, value in read_on(true).items() if name not in LEANS}
    assert max(map(math.dist, corners_of(readings).around, true.around)) < 0.05


@pytest.mark.parametrize("seed", range(8))
def test_readings_that_are_a_little_off_are_weighed_together_and_not_one_believed(seed: int) -> None:
    """Ten readings, each off by up to 0.5 mm: no corner is off by more than the worst three of them could carry it."""
    true, chance = crooked(seed, 4.0), np.random.default_rng(100 + seed)
    read = {name: value + chance.uniform(-0.5, 0.5) for name, value in read_on(true).items()}
    own = corners_of(read).readings()
    assert max(map(math.dist, corners_of(read).around, true.around)) < 3.0
    assert max(abs(own[name] - read[name]) for name in read) < 1.0


@pytest.mark.parametrize(
    "readings",
    [
        [1e-300] * 8,
        [1e5] * 6 + [1.0, 1.0],
        [10.0, 1e5, 10.0, 1e5, 10.0, 1e5, 5.0, 1e5],
        [900.0, 900.0, 900.0, 700.0, 700.0, 700.0, 5.0, 5.0],
    ],
)
def test_readings_that_can_be_no_opening_give_some_corners_all_the_same(readings: list[float]) -> None:
    corners = corners_of(dict(zip(list(Name)[:8], readings, strict=True)))
    assert all(math.isfinite(one) for spot in corners.around for one in spot)
    assert math.isfinite(largest_rectangle(corners).width)


# The rectangle, against plane geometry.


@pytest.mark.parametrize("lean", [6.0, -11.5, 0.3])
def test_a_sheared_rectangle_takes_what_its_sides_leave_over_a_level_sill(lean: float) -> None:
    found = largest_rectangle(sheared(lean))
    assert (found.width, found.height) == pytest.approx((900 - abs(lean), 700), abs=0.001)
    assert found.left == pytest.approx(max(lean, 0.0), abs=0.001)


@pytest.mark.parametrize("degrees", [0.5, -1.2, 3.0])
def test_a_turned_rectangle_takes_what_both_of_its_sides_leave(degrees: float) -> None:
    """All four corners on their sides: w cos + h sin = W and w sin + h cos = H."""
    sine, cosine = abs(math.sin(math.radians(degrees))), math.cos(math.radians(degrees))
    wide = (900 * cosine - 700 * sine) / (cosine**2 - sine**2)
    tall = (700 * cosine - 900 * sine) / (cosine**2 - sine**2)
    found = largest_rectangle(turned(degrees))
    assert (found.width, found.height) == pytest.approx((wide, tall), abs=0.001)


def test_an_opening_that_narrows_upwards_takes_its_upper_width_over_its_whole_height() -> None:
    found = largest_rectangle(Corners((900.0, 0.0), (893.0, 700.0), (5.0, 700.0)))
    assert (found.left, found.right, found.bottom, found.top) == pytest.approx((5, 893, 0, 700), abs=0.001)


def test_an_opening_that_narrows_steeply_takes_more_lower_down() -> None:
    """Symmetric, 900 below, 300 above, 700 high: 900 - 600 t wide at 700 t high, most at t = 3/4."""
    found = largest_rectangle(Corners((900.0, 0.0), (600.0, 700.0), (300.0, 700.0)))
    assert (found.width, found.height) == pytest.approx((450, 525), abs=0.001)


@pytest.mark.parametrize("by", [3.0, 25.0, 90.0])
@pytest.mark.parametrize("seed", range(8))
def test_no_upright_rectangle_of_a_fine_net_is_larger_and_ours_lies_inside(seed: int, by: float) -> None:
    corners = crooked(seed, by)
    shape, found = Polygon(corners.around), largest_rectangle(corners)
    assert shape.is_valid
    assert shape.convex_hull.equals(shape)
    assert shape.buffer(1e-3, join_style="mitre").covers(box(found.left, found.bottom, found.right, found.top))
    heights = np.linspace(shape.bounds[1], shape.bounds[3], 240)
    # Where a level line meets the four sides, worked out from the corners by plain interpolation.
    crossings = []
    for (x, y), (end_x, end_y) in zip(corners.around, [*corners.around[1:], corners.around[0]], strict=True):
        share = (heights - y) / (end_y - y)
        crossings.append(np.where((share >= 0) & (share <= 1), x + share * (end_x - x), np.nan))
    left, right = np.nanmin(crossings, axis=0), np.nanmax(crossings, axis=0)
    wide = np.minimum(right[:, None], right[None, :]) - np.maximum(left[:, None], left[None, :])
    best = float((np.maximum(wide, 0.0) * np.abs(heights[:, None] - heights[None, :])).max())
    assert found.width * found.height >= best - 1e-6 * best


@pytest.mark.parametrize("seed", range(8))
def test_the_rectangle_that_covers_touches_every_side_and_holds_all_corners(seed: int) -> None:
    corners = crooked(seed, 12.0)
    found = covering_rectangle(corners)
    assert Polygon(corners.around).bounds == (found.left, found.bottom, found.right, found.top)


# What it means for the front.


def test_a_front_as_wide_as_its_racked_opening_does_not_go_in() -> None:
    found = check(front_in(RACKED))
    assert stopping(found) == ["width of the front"]
    stop = found[0]
    assert stop.limit == pytest.approx(900 - LEAN, abs=0.05)
    assert f"{LEAN:.2f} mm because its sides lean" in stop.sentence
    assert float(re.search(r"front\.width = ([\d.]+\d)", stop.cure)[1]) == pytest.approx(900 - LEAN, abs=0.15)  # type: ignore[index]


def test_sides_that_stand_plumb_over_a_sill_that_slopes_take_height_instead() -> None:
    """The same parallelogram, turned: 900 along a sill that rises by 7.8."""
    rise = LEAN * 900 / 700
    level = math.sqrt(900**2 - rise**2)
    readings = corners_to_readings((level, rise), (level, 700.0 + rise), (0.0, 700.0))
    found = check(front_in(as_opening(readings), front={"width": level}))
    assert stopping(found) == ["height of the front"]
    assert found[0].limit == pytest.approx(700 - rise, abs=0.05)
    assert "sill and head slope" in found[0].sentence


def test_a_little_rack_that_the_reveals_take_up_is_no_reason_to_stop() -> None:
    """Diagonals 1 mm apart, 0.6 mm of lean: of reveals of 2 mm 1.7 mm remain."""
    diagonal = math.hypot(900, 700)
    found = check(front_in(right_angled(diagonals=[diagonal + 0.5, diagonal - 0.5])))
    assert [one for one in found if one.weight is not Weight.KNOW and "taper" not in one.topic] == []


@pytest.mark.parametrize("reveal", [2.0, 4.0])
def test_reveals_that_do_not_take_a_rack_up_stop(reveal: float) -> None:
    reveals = dict.fromkeys(("left", "right", "top", "bottom"), reveal)
    assert stopping(check(front_in(RACKED, front={"reveals": reveals}))) == ["width of the front"]


def test_doors_laid_over_a_racked_opening_must_cover_its_lean_too() -> None:
    found = check(front_in(RACKED | {"mounting": "overlay", "overlap": 10}, front={"width": 920, "height": 720}))
    assert stopping(found) == ["width of the front"]
    assert found[0].limit == pytest.approx(920 + LEAN, abs=0.05)


def test_what_was_not_measured_is_said_with_what_it_would_tell() -> None:
    def known(opening: dict[str, Any]) -> str:
        return " ".join(one.sentence + one.cure for one in check(front_in(opening)) if one.weight is Weight.KNOW)

    diagonal = math.hypot(900, 700)
    assert "No diagonals were measured" in known(right_angled())
    assert "racked" in known(right_angled(plumb=[0, 0]))
    assert "the sill is taken as level" in known(RACKED)
    assert "7.82 mm" in known(RACKED)  # what sill and head would slope by, if the sides stood plumb: 6.08 * 900 / 700
    assert "measured:" not in known(right_angled(diagonals=[diagonal] * 2, plumb=[0, 0]))


@pytest.mark.parametrize(
    "corners",
    [
        ((900.0, 0.0), (906.0, 700.0), (6.0, 700.0)),
        ((900.0, 4.0), (905.0, 706.0), (-4.0, 697.0)),
        ((899.0, -3.0), (904.0, 695.0), (2.0, 701.0)),
    ],
)
def test_planed_as_told_every_edge_runs_along_its_side(corners: tuple[Point, Point, Point]) -> None:
    """The gap beside a plumb and level edge, measured at both of its ends to the straight side, plus what is planed there."""
    bottom_right, top_right, top_left = corners
    front = front_in(as_opening(corners_to_readings(*corners)))
    fit = fit_opening(front.job, front.layout)
    assert fit is not None
    tapers = {taper.edge.value: taper for taper in fit.tapers}
    doors = front.layout.doors
    tall, wide = doors[0].height / 700, (doors[-1].right - doors[0].left) / 900
    changes = {
        "left": -top_left[0] * tall,
        "right": (top_right[0] - bottom_right[0]) * tall,
        "top": -(top_right[1] - top_left[1]) * wide,
        "bottom": bottom_right[1] * wide,
    }
    for edge, change in changes.items():
        # From the first end (top, left) to the last (bottom, right) the gap must change by what is planed more there.
        closes = tapers[edge].last - tapers[edge].first
        assert closes == pytest.approx(change, abs=0.15), edge
        assert min(tapers[edge].first, tapers[edge].last) == 0.0


def test_planing_is_told_for_every_edge_that_wants_it_and_for_no_other() -> None:
    corners = ((900.0, 0.3), (905.0, 706.0), (0.1, 700.0))
    found = check(front_in(as_opening(corners_to_readings(*corners))))
    tapers = {one.topic: one for one in found if one.topic.startswith("taper")}
    assert set(tapers) == {"taper at the right", "taper at the top"}
    assert "right edge of strip 40: from 0 mm at the top to 5 mm at the bottom" in tapers["taper at the right"].cure
    assert "top ends of the doors: from 6 mm at the left to 0 mm at the right" in tapers["taper at the top"].cure
    assert tapers["taper at the top"].strip == 1


FRONTS: dict[str, dict[str, Any]] = {
    "strips by their number": {},
    "strips by their width": {"strips": {"count": None, "width": 18, "gap": 3}},
    "nothing left free": {"strips": {"count": 40, "width": 19, "gap": 3.5}},
    "an edge too": {"strips": {"count": 40, "width": 18.975, "gap": 3.5, "edge": 0.25}},
    "a hidden joint": {
        "front": {"space": None, "hidden_joint": True},
        "strips": {"count": None, "width": 19.4, "gap": 3},
    },
    "doors of their own": {
        "front": {"doors": 2, "door_widths": [400, 493]},
        "strips": {"count": None, "width": 18, "gap": 3},
    },
    "a land to the edge": {"lands": [{"centre": [880, 100], "size": [40, 60]}]},
    "no reveals": {"front": {"reveals": {}}},
    "reveals of nothing": {"front": {"reveals": dict.fromkeys(("left", "right", "top", "bottom"), 0)}},
}


@pytest.mark.parametrize("name", FRONTS)
@pytest.mark.parametrize("mounting", ["inset", "overlay"])
def test_what_is_told_of_a_racked_opening_cures_it(name: str, mounting: str) -> None:
    settings = job_in(RACKED | {"mounting": mounting}, **FRONTS[name])
    assert cures_that_do_not_cure(settings, only="opening") == []


def test_a_racked_opening_in_inches_is_cured_in_inches() -> None:
    opening = {"mounting": "inset", "widths": [36, 36, 36], "heights": [28, 28, 28], "diagonals": [45.8, 45.4]}
    settings = job_in(
        opening,
        unit="in",
        front={"width": 36, "height": 28, "space": 0.125, "reveals": {}},
        wood={"species": "white ash", "blank": 0.875, "floor": 0.3125},
    )
    assert cures_that_do_not_cure(settings, only="opening") == []
