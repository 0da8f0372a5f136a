"""The joints to feel at the dry layout: which strip stands higher where two meet, and by how much.

Every strip's edges at its TOP end and in its middle are listed too, so that a strip in a wrong place is found.
"""

from __future__ import annotations

import itertools
from collections.abc import Sequence
from functools import partial

import numpy as np

from facade.arrays import Array
from facade.checks.look_ways import TIGHT
from facade.drawing import Anchor
from facade.front import Front
from facade.lengths import Ruler, Unit
from facade.slicer import edge_heights, stations
from facade.templates.piece import Asked, Piece
from facade.templates.tables import Column, Row, Table, table_pieces, widest_number

# So many stations of a joint are listed, both ends among them.
_STATIONS = 5
# The biggest step is looked for about every 2 mm.
_STEP = 2.0
EVEN = "even"


def pieces(asked: Asked) -> list[Piece]:
    """Return both lists of the strips that are asked for, with the joints at both their sides."""
    found = []
    if joints(asked):
        found += table_pieces(joints_table(asked), asked.room)
    return found + table_pieces(edges_table(asked), asked.room)


def joints(asked: Asked) -> list[int]:
    """Return the strips whose RIGHT side meets a neighbour, from the left, of all joints at the strips that are asked for."""
    chosen = set(asked.strips)
    return [
        left.number
        for left, right in itertools.pairwise(asked.front.layout.strips)
        if chosen & {left.number, right.number}
    ]


def listed_stations(front: Front) -> Array:
    """Return the stations at which joints are listed, mm from the TOP end: both ends, and some between them."""
    marks = stations(front.layout.strips[0].length, front.job.station)
    chosen: Array = marks[np.unique(np.rint(np.linspace(0, len(marks) - 1, _STATIONS)).astype(int))]
    return chosen


def joints_table(asked: Asked) -> Table:
    """Return the list of joints as a table."""
    front, ruler = asked.front, asked.ruler
    marks = listed_stations(front)
    higher = f"{front.count} +{_widest_step(front)}"
    numbers = joints(asked)
    length = widest_number(ruler, front.layout.strips[0].length)
    columns = (
        Column(("joint",), f"{front.count} | {front.count}", Anchor.START, bold=True),
        Column(("door",), f"{len(front.layout.doors)} | {len(front.layout.doors)}", Anchor.START),
        *(Column(_station_head(ruler, mark, front), higher, Anchor.START) for mark in marks.tolist()),
        Column(("biggest", "step"), higher, Anchor.START, bold=True),
        Column(("from", "TOP"), length.removesuffix(".0")),
        Column(("felt",), box=4.4),
    )
    allowed = front.job.limit("mismatch_tight" if _touching(front) else "mismatch").value
    return Table(
        title="Joints to feel",
        columns=columns,
        count=len(numbers),
        rows=partial(joint_rows, asked, numbers),
        about=[(number, _beside(front, number)) for number in numbers],
        note=(
            "Dry layout, before the finish. Draw a finger across each joint at its stations. "
            f"“{numbers[0]} +{step_number(ruler, 0.3)}”: strip {numbers[0]} stands {step_number(ruler, 0.3)} higher than its neighbour; "
            f"“{EVEN}”: neither does. A step may differ from what is listed by {step_number(ruler, allowed)}; more, or the wrong strip "
            "higher: look for a swapped or turned strip first, then fair the two together."
        ),
        words=asked.room.width,
    )


def _station_head(ruler: Ruler, mark: float, front: Front) -> tuple[str, ...]:
    if mark == 0.0:
        return ("at", "TOP")
    if mark == front.layout.strips[0].length:
        return ("at the", "bottom")
    return ("at", ruler.bare(mark))


def _touching(front: Front) -> bool:
    """Whether the strips of the front touch, so that no gap hides a step."""
    gaps = [division.gap for division in front.layout.divisions if division.count > 1]
    return bool(gaps) and max(gaps) < TIGHT


def step_number(ruler: Ruler, mm: float) -> str:
    """Return a step without its unit: to a tenth of a millimetre, or to a thousandth of an inch, as feeler gauges are marked."""
    return f"{mm / ruler.unit.in_mm:.{1 if ruler.unit is Unit.MM else 3}f}"


def _widest_step(front: Front) -> str:
    return step_number(front.job.ruler, front.job.blank)


def joint_rows(asked: Asked, numbers: Sequence[int], first: int, after: int) -> list[Row]:
    """Return the words of some joints: who stands higher at each station, and where the step is biggest."""
    front, ruler = asked.front, asked.ruler
    marks = listed_stations(front)
    chosen = numbers[first:after]
    length = front.layout.strips[0].length
    close = np.linspace(0.0, length, max(2, int(length / _STEP) + 1))
    steps = joint_steps(front, chosen, np.concatenate([marks, close]))
    rows: list[Row] = []
    for number, along in zip(chosen, steps, strict=True):
        left, right = front.layout.strip(number), front.layout.strip(_beside(front, number))
        biggest = int(np.abs(along).argmax())
        doors = str(left.door) if left.door == right.door else f"{left.door} | {right.door}"
        at = np.concatenate([marks, close])[biggest]
        names = (number, right.number)
        words = [higher_words(ruler, names, step) for step in along[: len(marks)].tolist()]
        biggest_words = higher_words(ruler, names, float(along[biggest]))
        where = "" if biggest_words == EVEN else ruler.number(float(at), 0)
        rows.append((f"{number} | {right.number}", doors, *words, biggest_words, where, ""))
    return rows


def joint_steps(front: Front, numbers: Sequence[int], from_top: Array) -> Array:
    """Return how much the LEFT edge of each strip's right neighbour stands above its own RIGHT edge, mm: (joints, places)."""
    places = [(front.layout.strip(number).right, front.layout.strip(_beside(front, number)).left) for number in numbers]
    y = front.layout.strips[0].top - from_top
    heights = front.surface.at(np.array(places).reshape(1, -1), y[:, None]).reshape(len(y), len(numbers), 2)
    return (heights[..., 1] - heights[..., 0]).T


def _beside(front: Front, number: int) -> int:
    """Return the strip that hangs to the right of one that is not the last."""
    right = front.layout.strip(number).right_neighbour
    assert right is not None
    return right


def higher_words(ruler: Ruler, names: tuple[int, int], step: float) -> str:
    """Return who stands higher: "17 +0.2", or "even"; `step` is how much the second of two strips stands above the first."""
    size = step_number(ruler, abs(step))
    return EVEN if float(size) == 0.0 else f"{names[step > 0]} +{size}"


def edges_table(asked: Asked) -> Table:
    """Return the edges of every strip at the TOP end and in the middle as a table."""
    front, ruler = asked.front, asked.ruler
    height = widest_number(ruler, front.job.blank)
    middle = ruler.bare(middle_station(front))
    heights = [Column((where, side), height) for where in ("TOP", f"at {middle}") for side in ("LEFT", "RIGHT")]
    return Table(
        title="Edges of each strip",
        columns=(Column(("strip",), str(front.count), bold=True), *heights, Column(("seen",), box=4.4)),
        count=len(asked.strips),
        rows=partial(edge_rows, asked),
        about=[(number,) for number in asked.strips],
        note=f"Finished heights above the BACK, at the TOP end and at {middle} from it: by them a strip is known.",
        words=min(asked.room.width, 150.0),
    )


def middle_station(front: Front) -> float:
    """Return the station next to the middle of the strips, mm from the TOP end."""
    marks = listed_stations(front)
    return float(marks[len(marks) // 2])


def edge_rows(asked: Asked, first: int, after: int) -> list[Row]:
    """Return the words of some strips: their edges at the TOP end and in the middle."""
    front, number = asked.front, asked.ruler.number
    at = np.array([0.0, middle_station(front)])
    rows: list[Row] = []
    for strip in asked.strips[first:after]:
        left, right = edge_heights(front.surface, front.layout.strip(strip), at)
        heights = [number(float(side[k])) for k in range(2) for side in (left, right)]
        rows.append((str(strip), *heights, ""))
    return rows
