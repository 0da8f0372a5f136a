"""Tables, read by the csv module: every figure with the surface, to the rounding that it is printed with."""

from __future__ import annotations

import csv
from collections.abc import Callable, Iterator, Sequence
from pathlib import Path

import numpy as np

from facade.proof.compared import Compared, largest
from facade.proof.readers import reader
from facade.proof.truth import Truth
from facade.slicer import Strip, edge_heights, stations

# The columns, in their order.
_OFFSETS = ("strip", "side", "station_{unit}", "height_{unit}", "depth_{unit}", "mark")
_PARTS = (
    *("strip", "door", "length_{unit}", "width_{unit}", "thickness_{unit}", "from_front_left_{unit}"),
    *("left_neighbour", "right_neighbour", "thinnest_{unit}", "thinnest_from_top_{unit}", "thickest_{unit}"),
    *("thickest_from_top_{unit}", "greatest_twist_{unit}", "straight_face_off_{unit}", "centre_line", "volume_cm3"),
    *("waste_cm3", "saw_takes_percent", "slope_along_deg", "slope_across_deg", "mark"),
)
# Half of the last digit of figures with one decimal, and without.
_TENTH, _WHOLE = 0.05 + 1e-6, 0.5 + 1e-6
_DECIMALS = 2  # of lengths in the tables
_MOST_TOLD = 3

Row = dict[str, str]
Wanted = tuple[str, float, float]
"""A column, what should stand in it, and by how much it may be off."""


@reader("offsets.csv")
def compare_offsets(path: Path, name: str, truth: Truth) -> list[Compared]:
    """Compare stations, heights and depths of every strip's two sides with the surface."""
    unit, blank = truth.front.job.unit.value, truth.front.job.blank
    heads = [one.format(unit=unit) for one in _OFFSETS]
    rows, faults = _rows(path, heads), []
    near = truth.printed_rounding(_DECIMALS)
    wanted = list(_wanted_offsets(truth))
    faults += _count_faults(rows, len(wanted)) + _mark_faults(rows, truth)
    deviations, least, failed = [0.0], [blank], set()
    for line, (row, (number, side, station, height)) in enumerate(zip(rows, wanted, strict=False), start=2):
        said = f"line {line} (strip {number} {side}, {truth.length(station)} from the top)"
        if (row["strip"], row["side"]) != (str(number), side):
            faults.append(f"{said} is said to be strip {row['strip']} {row['side']}")
            continue
        columns = (
            (f"station_{unit}", station, near),
            (f"height_{unit}", height, near),
            (f"depth_{unit}", blank - height, near),
        )
        off, wrong = _row_off(row, columns, truth)
        deviations.append(off)
        least.append(_number_or(row[f"height_{unit}"], truth, blank))
        faults += [f"{said}: {one}" for one in wrong]
        failed |= {number} if wrong else set()
    return [
        _table(
            name,
            "every column: stations, heights and depths with the surface",
            3 * len(rows),
            deviations,
            near,
            faults,
            failed,
            min(least),
        )
    ]


@reader("parts.csv")
def compare_parts(path: Path, name: str, truth: Truth) -> list[Compared]:
    """Compare every strip's sizes, extremes, volumes and slopes with the strip cut anew."""
    front, heads = truth.front, [one.format(unit=truth.front.job.unit.value) for one in _PARTS]
    rows = _rows(path, heads)
    faults = _count_faults(rows, len(front.numbers)) + _mark_faults(rows, truth)
    near, lengths, failed = truth.printed_rounding(_DECIMALS), 0, set()
    deviations: list[float] = [0.0]
    least = [front.job.blank]
    for row, strip in zip(rows, front.strips(), strict=False):
        wrong = [
            f"strip {strip.number}: {one}" for one in _part_words(row, strip, front.job.limit("centre_line").value)
        ]
        off, more = _row_off(row, _part_lengths(truth, strip, near), truth)
        _, others = _row_off(row, _part_figures(strip), truth, plain=True)
        wrong += [f"strip {strip.number}: {one}" for one in (*more, *others)]
        deviations.append(off)
        least.append(_number_or(row[f"thinnest_{front.job.unit.value}"], truth, strip.blank))
        lengths += 17
        faults += wrong
        failed |= {strip.number} if wrong else set()
    return [
        _table(
            name,
            "every column: sizes, neighbours, extremes, volumes and slopes with the strips cut anew",
            lengths,
            deviations,
            near,
            faults,
            failed,
            min(least),
        )
    ]


def _table(
    name: str,
    what: str,
    points: int,
    deviations: list[float],
    near: float,
    faults: list[str],
    failed: set[int],
    least: float,
) -> Compared:
    told = faults[:_MOST_TOLD] + ([f"and {len(faults) - _MOST_TOLD} more"] if len(faults) > _MOST_TOLD else [])
    return Compared(
        name, what, points, largest(deviations), near, least, faults=tuple(told), failed=tuple(sorted(failed))
    )


def _rows(path: Path, heads: Sequence[str]) -> list[Row]:
    """Return the rows of a table by the names of its columns; raises ValueError for what is no table, or has other columns."""
    with path.open(newline="", encoding="utf-8") as stream:
        reader = csv.DictReader(stream, restval="", strict=True)
        if list(reader.fieldnames or ()) != list(heads):
            other = next((one for one in reader.fieldnames or () if one not in heads), "none, or in another order")
            raise ValueError(f"its columns are not those of such a table: {other[:40]!r}")
        rows = list(reader)
    if any(None in row for row in rows):
        raise ValueError("a line has more figures than there are columns")
    return rows


def _wanted_offsets(truth: Truth) -> Iterator[tuple[int, str, float, float]]:
    """Yield strip, side, station from the top and height, mm, in the order in which they should stand."""
    front = truth.front
    for place in front.layout.strips:
        marks = stations(place.length, front.job.station)
        both = edge_heights(front.surface, place, marks)
        for side, heights in zip(("left", "right"), both, strict=True):
            for mark, height in zip(marks.tolist(), heights.tolist(), strict=True):
                yield place.number, side, mark, height


def _row_off(
    row: Row, columns: Iterator[Wanted] | tuple[Wanted, ...], truth: Truth, *, plain: bool = False
) -> tuple[float, list[str]]:
    """Return how far a row's figures are off at most, and those that are further off than their rounding; `plain` ones have no unit."""
    most, wrong = 0.0, []
    for column, wanted, near in columns:
        try:
            found = float(row[column]) if plain else truth.read_number(row[column])
        except (KeyError, ValueError):
            wrong.append(f"{column} is no number ({row.get(column, '')!r})")
            continue
        most = max(most, abs(found - wanted))
        if not abs(found - wanted) <= near:
            show: Callable[[float], str] = (lambda value: f"{value:.2f}") if plain else truth.length
            wrong.append(f"{column} is {row[column]}, but the surface gives {show(wanted)}")
    return most, wrong


def _part_lengths(truth: Truth, strip: Strip, near: float) -> Iterator[Wanted]:
    unit, thin, thick = truth.front.job.unit.value, strip.thinnest, strip.thickest
    twist = float(strip.twist[np.abs(strip.twist).argmax()])
    lengths = {
        "length": strip.length,
        "width": strip.width,
        "thickness": strip.blank,
        "from_front_left": strip.place.left,
        "thinnest": thin.height,
        "thinnest_from_top": thin.from_top,
        "thickest": thick.height,
        "thickest_from_top": thick.from_top,
        "greatest_twist": twist,
        "straight_face_off": strip.ruler_error,
    }
    return ((f"{column}_{unit}", value, near) for column, value in lengths.items())


def _part_figures(strip: Strip) -> Iterator[Wanted]:
    figures = {
        "volume_cm3": (strip.volume / 1000, _TENTH),
        "waste_cm3": (strip.waste / 1000, _TENTH),
        "saw_takes_percent": (100 * strip.saw_share, _WHOLE),
        "slope_along_deg": (strip.slope_along, _TENTH),
        "slope_across_deg": (strip.slope_across, _TENTH),
    }
    return ((column, value, near) for column, (value, near) in figures.items())


def _part_words(row: Row, strip: Strip, centre_line: float) -> Iterator[str]:
    place = strip.place
    wanted = {
        "strip": place.number,
        "door": place.door,
        "left_neighbour": place.left_neighbour or "end",
        "right_neighbour": place.right_neighbour or "end",
        "centre_line": "yes" if strip.ruler_error > centre_line else "no",
    }
    for column, value in wanted.items():
        if row.get(column) != str(value):
            yield f"{column} is {row.get(column)!r}, not {value}"


def _count_faults(rows: list[Row], wanted: int) -> list[str]:
    return [] if len(rows) == wanted else [f"has {len(rows)} rows, not {wanted}"]


def _mark_faults(rows: list[Row], truth: Truth) -> list[str]:
    wrong = sorted({row.get("mark", "") for row in rows} - {truth.front.mark})
    return (
        [f"bears mark {wrong[0] or 'none'}, but the job file gives {truth.front.mark}: it is of another front"]
        if wrong
        else []
    )


def _number_or(text: str, truth: Truth, other: float) -> float:
    try:
        return truth.read_number(text)
    except ValueError:
        return other
