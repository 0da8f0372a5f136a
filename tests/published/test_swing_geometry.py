"""Swing of thick doors against tables of plane geometry.

The exact form sqrt(w^2 + t^2) - w for the closing edge is in public trade writing; that for the hinge edge, sqrt(e^2 + p^2),
is the radius of a corner by Pythagoras. Values computed from these forms by hand, to the digits shown.
"""

from __future__ import annotations

import math

import pytest
from helpers import small_front

from facade.doors.clearing import board_bevel, closing_bevel
from facade.doors.swing import Passage, Place, Turn, swings, turn_of
from facade.doors.turning import closing_sweep
from facade.front import Front

# From the pin to the closing edge, from the pin to its back corner, and how far that swings out.
CLOSING = [
    (400, 18, 0.40480),
    (400, 30, 1.12342),
    (450, 40, 1.77428),
    (500, 50, 2.49378),
    (600, 60, 2.99254),
    (300, 40, 2.65492),
]
# From the pin to the closing edge, to its back corner, what a bevel takes off there, and its angle.
BEVELS = [(400, 30, 1.12659, 2.15), (450, 40, 1.78130, 2.55), (500, 50, 2.50628, 2.87)]
# A corner beside the pin and in front of it, its radius, and the angle at which it stands out farthest.
CORNERS = [(10, 40, 41.231, 75.96), (20, 50, 53.852, 68.20)]
# Thickness of door and relief at a hinge edge 22 mm from a pin at the back, and how far it swings out.
THICK = [(18.5, 6.7), (30, 15.2), (38, 21.9), (45, 28.1)]


def level(width: float, board: float, face: float, **hinges: object) -> Front:
    """Return a level door of one leaf with walls at both its ends."""
    corners = [{"place": [x, y], "height": face} for x in (0, width) for y in (0, 60)]
    return small_front(
        front={"width": width, "height": 60},
        strips={"count": max(1, round(width / 40)), "gap": 0},
        wood={"blank": face + 2, "floor": 1},
        carving={"fit": "as given"},
        layers=[{"kind": "points", "points": corners}],
        board={"thickness": board},
        hinges={"pivot": "back", **hinges},
        beside={"left": {"stands": "wall"}, "right": {"stands": "wall"}},
    )


def turn(width: float, board: float, face: float, **hinges: object) -> Turn:
    """Return how a level door turns."""
    front = level(width, board, face, **hinges)
    return turn_of(front, front.layout.doors[0])


def passage(width: float, board: float, face: float, place: Place, **hinges: object) -> Passage:
    """Return how a level door of one leaf passes walls at both its ends."""
    (swing,) = swings(level(width, board, face, **hinges))
    (found,) = (one for one in swing.passages if one.place is place)
    return found


@pytest.mark.parametrize(("width", "depth", "out"), CLOSING)
def test_a_closing_edge_swings_out_as_the_table_has_it(width: float, depth: float, out: float) -> None:
    assert closing_sweep(width, depth) == pytest.approx(out, abs=1e-5)
    board = 0.6 * depth
    found = passage(width, board, depth - board, Place.MEETING, pivot="front")
    assert found.sweep == pytest.approx(out, abs=1e-5)


@pytest.mark.parametrize(("width", "depth", "off", "degrees"), BEVELS)
def test_a_bevel_takes_off_what_the_table_has(width: float, depth: float, off: float, degrees: float) -> None:
    assert closing_bevel(width, depth) == pytest.approx((off, degrees), abs=5e-3)
    assert closing_bevel(width, depth)[0] == pytest.approx(off, abs=1e-5)


@pytest.mark.parametrize(("width", "depth", "off", "degrees"), BEVELS)
def test_the_bevel_of_a_board_with_its_pin_at_its_face_is_that_of_the_table(
    width: float, depth: float, off: float, degrees: float
) -> None:
    """With the pin in the plane of the board's face the bevel runs over all that stands behind the pin."""
    found = passage(width, depth, 12, Place.MEETING, inward=0, forward=0)
    assert found.sweep == pytest.approx(math.hypot(width, depth) - width, abs=1e-5)
    told = board_bevel(turn(width, depth, 12, inward=0, forward=0))
    assert degrees - 5e-3 <= told <= degrees + 0.1
    assert depth * math.tan(math.radians(told)) >= off - 1e-4
    assert passage(width, depth, 12, Place.MEETING, inward=0, forward=0, bevel=told).sweep <= 1e-6


def test_a_door_38_thick_and_450_wide_wants_a_bevel_of_about_5_degrees() -> None:
    """Common practice: 1.6 mm come off the back corner, over a board of 18 behind a pin at the front."""
    told = board_bevel(turn(450, 18, 20, pivot="front"))
    assert told == pytest.approx(5.1, abs=0.11)
    assert 18 * math.tan(math.radians(told)) == pytest.approx(450 - math.sqrt(450**2 - 38**2), abs=0.04)


def test_the_bevel_of_the_trade_clears_a_board_of_an_inch_as_narrow_as_geometry_says() -> None:
    """1/8 in in 2 in, 3.58 degrees: over a thickness t it takes t / 16 off, enough where w - sqrt(w^2 - t^2) is no more."""
    trade, thick = math.degrees(math.atan(1 / 16)), 25.4
    assert trade == pytest.approx(3.58, abs=5e-3)
    narrowest = (thick**2 + (thick / 16) ** 2) / (2 * thick / 16)
    for width, clears in ((narrowest + 1.0, True), (narrowest - 1.0, False)):
        found = passage(width, thick, 12, Place.MEETING, inward=0, forward=0, bevel=trade)
        assert (found.sweep <= 1e-6) is clears


def test_a_door_too_narrow_for_a_bevel_has_none() -> None:
    assert closing_bevel(30.0, 30.0) is None


@pytest.mark.parametrize(("beside", "before", "radius", "degrees"), CORNERS)
def test_a_hinge_edge_swings_out_by_the_radius_of_its_corner(
    beside: float, before: float, radius: float, degrees: float
) -> None:
    hinges = {"inward": beside, "opens": 90.0}
    found = passage(400, 18, before - 18, Place.HINGE, **hinges)
    assert found.sweep == pytest.approx(radius - beside, abs=5e-3)
    # It stands out farthest where the table says: one degree less opens within less.
    past = passage(400, 18, before - 18, Place.HINGE, inward=beside, opens=degrees + 0.02)
    short = passage(400, 18, before - 18, Place.HINGE, inward=beside, opens=degrees - 1.0)
    assert past.sweep == pytest.approx(radius - beside, abs=5e-3)
    assert short.sweep < radius - beside - 3e-3


@pytest.mark.parametrize(("thick", "out"), THICK)
def test_a_thick_hinge_edge_on_a_pin_at_the_back_swings_out_as_in_the_trade(thick: float, out: float) -> None:
    assert passage(400, 12, thick - 12, Place.HINGE, opens=90.0).sweep == pytest.approx(out, abs=0.06)
