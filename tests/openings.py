"""Openings and fronts that stand in them, for several tests."""

from __future__ import annotations

import math
from typing import Any

from helpers import a_job

from facade.doors.quadrilateral import Name
from facade.front import Front, build_front
from facade.job import make_job

Point = tuple[float, float]


def corners_to_readings(bottom_right: Point, top_right: Point, top_left: Point) -> dict[Name, float]:
    """Return what an exact tape and plumb line read on a quadrilateral with its lower left corner at (0, 0)."""
    low_left = (0.0, 0.0)

    def middle(one: Point, two: Point) -> Point:
        return (one[0] + two[0]) / 2, (one[1] + two[1]) / 2

    return {
        Name.TOP: math.dist(top_left, top_right),
        Name.ACROSS: math.dist(middle(low_left, top_left), middle(bottom_right, top_right)),
        Name.BOTTOM: math.dist(low_left, bottom_right),
        Name.LEFT: math.dist(low_left, top_left),
        Name.UPRIGHT: math.dist(middle(low_left, bottom_right), middle(top_left, top_right)),
        Name.RIGHT: math.dist(bottom_right, top_right),
        Name.FALLING: math.dist(top_left, bottom_right),
        Name.RISING: math.dist(top_right, low_left),
        Name.LEFT_LEAN: top_left[0],
        Name.RIGHT_LEAN: top_right[0] - bottom_right[0],
    }


# A little out of square, as cases are.
CROOKED = corners_to_readings((900.0, 0.6), (901.1, 700.4), (0.9, 699.5))


def as_opening(readings: dict[Name, float], **more: Any) -> dict[str, Any]:
    """Return an opening's settings from readings; diagonals and leans only where they are among them."""
    opening: dict[str, Any] = {"mounting": "inset"} | more
    groups = {
        "widths": (Name.TOP, Name.ACROSS, Name.BOTTOM),
        "heights": (Name.LEFT, Name.UPRIGHT, Name.RIGHT),
        "diagonals": (Name.FALLING, Name.RISING),
        "plumb": (Name.LEFT_LEAN, Name.RIGHT_LEAN),
    }
    for field, names in groups.items():
        if names[0] in readings:
            opening.setdefault(field, [readings[name] for name in names])
    return opening


def job_in(opening: dict[str, Any] | None, **changes: Any) -> dict[str, Any]:
    """Return the settings of two doors of 700 between reveals of 2 all round, in an opening or in none that was measured."""
    front = {
        "width": 900,
        "height": 700,
        "doors": 2,
        "space": 3,
        "reveals": dict.fromkeys(("left", "right", "top", "bottom"), 2),
    }
    more = {} if opening is None else {"opening": opening}
    # Heights are no part of what is asked here: few are taken, of a gentle relief.
    settings = (
        {
            "front": front,
            "strips": {"count": 40},
            "sampling": {"step": "5 mm"},
            "layers": [{"kind": "hills", "size": "600 mm"}],
        }
        | more
        | changes
    )
    settings["front"] = front | settings["front"]
    made = a_job(**settings)
    # What is changed to None is left out.
    left_out = {
        name: {key: value for key, value in made[name].items() if value is not None} for name in ("front", "strips")
    }
    return made | left_out


def front_in(opening: dict[str, Any] | None, **changes: Any) -> Front:
    """Return the front of such a job."""
    return build_front(make_job(job_in(opening, **changes)))


def right_angled(width: float = 900, height: float = 700, **more: Any) -> dict[str, Any]:
    """Return the settings of an opening that is a right rectangle."""
    return {"mounting": "inset", "widths": [width] * 3, "heights": [height] * 3} | more
