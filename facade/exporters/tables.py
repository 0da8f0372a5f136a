"""The table of offsets and the part list as CSV, in the job's unit."""

from __future__ import annotations

import csv
import io
from collections.abc import Iterable, Sequence

import numpy as np

from facade.front import Front
from facade.slicer import Strip, edge_heights, stations


def _csv(rows: Iterable[Sequence[object]]) -> str:
    text = io.StringIO()
    csv.writer(text, lineterminator="\n").writerows(rows)
    return text.getvalue()


def offsets_head(front: Front) -> str:
    """Return the first line of the table of offsets."""
    unit = front.job.unit.value
    return _csv([["strip", "side", f"station_{unit}", f"height_{unit}", f"depth_{unit}", "mark"]])


def offsets_rows(front: Front, strip: Strip) -> str:
    """Return a strip's lines of the table of offsets: finished heights above the back and depths below the raw face.

    Stations count from the TOP end; the left side comes first.
    """
    number = front.job.ruler.number
    marks = stations(strip.length, front.job.station)
    sides = zip(("left", "right"), edge_heights(front.surface, strip.place, marks), strict=True)
    return _csv(
        [strip.number, side, number(mark, 2), number(height, 2), number(strip.blank - height, 2), front.mark]
        for side, heights in sides
        for mark, height in zip(marks.tolist(), heights.tolist(), strict=True)
    )


def parts_head(front: Front) -> str:
    """Return the first line of the part list."""
    unit = front.job.unit.value
    lengths = ["length", "width", "thickness", "from_front_left"]
    spots = ["thinnest", "thinnest_from_top", "thickest", "thickest_from_top", "greatest_twist", "straight_face_off"]
    return _csv(
        [
            ["strip", "door", *(f"{name}_{unit}" for name in lengths), "left_neighbour", "right_neighbour"]
            + [f"{name}_{unit}" for name in spots]
            + [
                "centre_line",
                "volume_cm3",
                "waste_cm3",
                "saw_takes_percent",
                "slope_along_deg",
                "slope_across_deg",
                "mark",
            ]
        ]
    )


def parts_row(front: Front, strip: Strip) -> str:
    """Return a strip's line of the part list."""
    place, number = strip.place, front.job.ruler.number
    thin, thick = strip.thinnest, strip.thickest
    twist = float(strip.twist[np.abs(strip.twist).argmax()])
    lengths = (strip.length, strip.width, strip.blank, place.left)
    spots = (thin.height, thin.from_top, thick.height, thick.from_top, twist, strip.ruler_error)
    return _csv(
        [
            [strip.number, place.door, *(number(length, 2) for length in lengths)]
            + [place.left_neighbour or "end", place.right_neighbour or "end"]
            + [number(spot, 2) for spot in spots]
            + [
                "yes" if strip.ruler_error > front.job.limit("centre_line").value else "no",
                f"{strip.volume / 1000:.1f}",
                f"{strip.waste / 1000:.1f}",
            ]
            + [f"{100 * strip.saw_share:.0f}", f"{strip.slope_along:.1f}", f"{strip.slope_across:.1f}", front.mark]
        ]
    )
