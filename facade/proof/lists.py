"""Tables of the paper pack: every figure and word of parts, offsets, edges, joints, the triangle, places and screws with the surface."""

from __future__ import annotations

import itertools
import math
import re
from collections.abc import Callable, Iterator, Sequence

import numpy as np

from facade.arrays import Array
from facade.layout import Door, StripPlace
from facade.measuring.screws import Screw, needs_of
from facade.proof.ruled import RuledTable, numbers_of, tables_on
from facade.proof.svg import Sheet
from facade.proof.truth import ROUNDING, Truth
from facade.slicer import edge_heights, stations

_OFFSETS = re.compile(r"Strip (\d+), door (\d+)")
_POSITIONS = re.compile(r"Positions on doors? (.+)")
_SCREWS = re.compile(r"Door (\d+), seen from the BACK: screws")
_SPACERS = re.compile(r"Carving board, door (\d+): spacers")
_CROSSINGS = re.compile(r"Where the legs cross, door (\d+)")
_STEP = re.compile(r"(\d+) \+([0-9.]+)")
# Where a strip is thickest or thinnest stands on paper to a whole number; heights there may be equal at several places.
_JOINTS = 5  # stations of a joint that are listed, both ends among them
_JOINT_STEP = 2.0  # mm at which the biggest step is looked for
_POINT, _BASE = 0.1, 0.75  # of the length: where point and base line of the triangle are
_UPPER = 0.2  # of the length: where the upper spacers stand, the lower ones as far from the other end
_SPACER = {"mm": 40.0, "in": 38.1}  # mm: how long spacers are
_ALONG_SPACER = 9
_FINEST = 64  # parts of an inch in which heights of the table of offsets are printed at least


def list_faults(sheet: Sheet, truth: Truth) -> Iterator[str]:
    """Yield what is wrong with the tables on a sheet in true mm."""
    for table in tables_on(sheet):
        for pattern, read in _READS:
            found = pattern.fullmatch(table.title)
            if found:
                try:
                    yield from (f"{table.title}: {fault}" for fault in read(table, found, truth))
                except (ValueError, IndexError) as error:
                    yield f"{table.title}: cannot be read ({error})"
                break
    yield from _chart_faults(sheet, truth)


def figures_on(sheet: Sheet) -> int:
    """Return how many cells the tables on a sheet have."""
    return sum(len(table.rows) * len(table.heads) for table in tables_on(sheet))


def _differ(said: Array, wanted: Array, near: float) -> int | None:
    """Return which figure is further off than `near`, None where none is; what is missing counts as off."""
    off = np.abs(said - wanted)
    wrong = np.flatnonzero(~(off <= near))
    return int(wrong[0]) if len(wrong) else None


def _column_fault(
    table: RuledTable, column: int | None, wanted: Sequence[float] | Array, near: float, truth: Truth, what: str
) -> Iterator[str]:
    """Yield the first figure of a column that is not what the surface gives, mm."""
    if column is None:
        return
    values = np.asarray(wanted, dtype=np.float64)
    index = _differ(numbers_of(table, column, truth.read_number), values, near)
    if index is not None:
        cells = table.rows[index].cells
        yield f"row {index + 1} ({cells[0]}) says {what} {cells[column] or 'nothing'}, which is {truth.length(float(values[index]))}"


def _word_fault(table: RuledTable, column: int | None, wanted: Sequence[str], what: str) -> Iterator[str]:
    """Yield the first words of a column that are not those that should stand there."""
    if column is None:
        return
    for index, (row, words) in enumerate(zip(table.rows, wanted, strict=True)):
        if row.cells[column] != words:
            yield f"row {index + 1} ({row.cells[0]}) says {what} {row.cells[column] or 'nothing'!r}, which is {words!r}"
            return


def _strips_of(table: RuledTable, truth: Truth, *, falling: bool = False) -> list[int]:
    """Return the strips that the rows are of; raises ValueError where one is none of this front, or comes twice."""
    numbers = [int(row.cells[0]) for row in table.rows]
    order = numbers[::-1] if falling else numbers
    if any(number not in truth.front.numbers for number in numbers) or order != sorted(set(order)):
        raise ValueError("its strips do not come one after the other, each once")
    return numbers


def _parts(table: RuledTable, _: re.Match[str], truth: Truth) -> Iterator[str]:
    front, ruler = truth.front, truth.front.job.ruler
    strips = [front.strip(number) for number in _strips_of(table, truth)]
    places = [strip.place for strip in strips]
    yield from _word_fault(table, table.column("door"), [str(place.door) for place in places], "door")
    sizes = [" x ".join(ruler.bare(one) for one in (strip.width, strip.blank, strip.length)) for strip in strips]
    yield from _word_fault(table, table.column("width x thickness x length"), sizes, "its size")
    for head, numbers in (
        ("left of it", [place.left_neighbour for place in places]),
        ("right of it", [place.right_neighbour for place in places]),
    ):
        yield from _word_fault(table, table.column(head), [str(number or "end") for number in numbers], head)
    limit = front.job.limit("centre_line").value
    lines = ["yes" if strip.ruler_error > limit else "no" for strip in strips]
    yield from _word_fault(table, table.column("centre line"), lines, "centre line")
    near, whole = truth.printed_rounding(1), truth.printed_rounding(0)
    for head, spots in (
        ("thin- nest", [strip.thinnest for strip in strips]),
        ("thick- est", [strip.thickest for strip in strips]),
    ):
        column = table.column(head)
        yield from _column_fault(table, column, [spot.height for spot in spots], near, truth, head.replace("- ", ""))
        # Columns that a narrow sheet keeps apart may leave one of the two places alone.
        after = None if column is None else column + 1
        if after is not None and after < len(table.heads) and table.heads[after] == "from TOP":
            yield from _column_fault(table, after, [spot.from_top for spot in spots], whole, truth, "its place")


def _offsets(table: RuledTable, found: re.Match[str], truth: Truth) -> Iterator[str]:
    front, number = truth.front, int(found[1])
    if number not in front.numbers:
        yield "is of no strip of this front"
        return
    place, blank = front.layout.strip(number), front.job.blank
    if int(found[2]) != place.door:
        yield f"strip {number} is on door {place.door}"
    marks = stations(place.length, front.job.station)
    near = truth.printed_rounding(1)
    said = numbers_of(table, 0, truth.read_number)
    first = int(np.abs(marks - said[0]).argmin())
    some = marks[first : first + len(said)]
    if len(some) != len(said) or _differ(said, some, near) is not None:
        yield "its stations are not those of the strip"
        return
    left, right = edge_heights(front.surface, place, some)
    middle = front.surface.at(np.array([[(place.left + place.right) / 2]]), (place.top - some)[:, None])[:, 0]
    wanted = [
        ("high L", 0, left),
        ("R", 0, right),
        ("C", 0, middle),
        ("deep L", 0, blank - left),
        ("R", 1, blank - right),
    ]
    unit, fraction = front.job.unit.in_mm, max(_FINEST, front.job.ruler.fraction)
    near = near if unit == 1.0 else 0.5 * unit / fraction + 1e-6
    for head, turn, heights in wanted:
        yield from _column_fault(table, table.column(head, turn), heights, near, truth, head)


def _edges(table: RuledTable, _: re.Match[str], truth: Truth) -> Iterator[str]:
    places = [truth.front.layout.strip(number) for number in _strips_of(table, truth)]
    middle = _middle_station(truth)
    shown = truth.front.job.ruler.bare(middle)
    for start, at in (("TOP", 0.0), (f"at {shown}", middle)):
        # On an open grid the surface is much quicker, and all strips of a front end at one height but for its doors.
        x = np.array([[place.left, place.right] for place in places]).reshape(1, -1)
        tops, rows = np.unique([place.top for place in places], return_inverse=True)
        found = truth.front.surface.at(x, tops[:, None] - at) if places else np.empty((0, 0))
        for side, index in (("LEFT", 0), ("RIGHT", 1)):
            heights = [float(found[row, 2 * one + index]) for one, row in enumerate(rows.tolist())]
            column = table.column(f"{start} {side}")
            if column is None:
                yield f"has no column {start} {side}"
            yield from _column_fault(table, column, heights, truth.printed_rounding(1), truth, f"{side} {start}")


def _joint_stations(truth: Truth) -> Array:
    marks = stations(truth.front.layout.strips[0].length, truth.front.job.station)
    found: Array = marks[np.unique(np.rint(np.linspace(0, len(marks) - 1, _JOINTS)).astype(int))]
    return found


def _middle_station(truth: Truth) -> float:
    marks = _joint_stations(truth)
    return float(marks[len(marks) // 2])


def _joints(table: RuledTable, _: re.Match[str], truth: Truth) -> Iterator[str]:
    front, ruler = truth.front, truth.front.job.ruler
    numbers = [int(row.cells[0].partition(" | ")[0]) for row in table.rows]
    beside = dict(itertools.pairwise(front.numbers))
    if [row.cells[0] for row in table.rows] != [f"{number} | {beside.get(number)}" for number in numbers]:
        yield "names joints that are not there"
        return
    pairs = [(front.layout.strip(number), front.layout.strip(beside[number])) for number in numbers]
    doors = [str(one.door) if one.door == other.door else f"{one.door} | {other.door}" for one, other in pairs]
    yield from _word_fault(table, table.column("door"), doors, "door")
    marks, length = _joint_stations(truth), front.layout.strips[0].length
    close = np.unique(np.concatenate([marks, np.linspace(0.0, length, max(2, int(length / _JOINT_STEP) + 1))]))
    y = front.layout.strips[0].top - close
    sides = np.array([[other.left for _, other in pairs], [one.right for one, _ in pairs]])
    left, right = (
        np.split(front.surface.at(sides.reshape(1, -1), y[:, None]), 2, axis=1) if pairs else np.empty((2, 0, 0))
    )
    steps = list((left - right).T)
    for mark in marks.tolist():
        head = "at TOP" if mark == 0.0 else "at the bottom" if mark == length else f"at {ruler.bare(mark)}"
        index = int(np.abs(close - mark).argmin())
        yield from _step_faults(table, table.column(head), [float(one[index]) for one in steps], pairs, head, truth)
    column = table.column("biggest step")
    biggest = [float(one[np.abs(one).argmax()]) for one in steps]
    yield from _step_faults(table, column, biggest, pairs, "biggest step", truth, signed=False)
    where = table.column("from TOP")
    if where is None or column is None:
        return
    for row, one in zip(table.rows, steps, strict=True):
        if row.cells[where]:
            at = truth.read_number(row.cells[where])
            near = np.abs(close - at) <= truth.printed_rounding(0) + ROUNDING
            if not near.any() or np.abs(one[near]).max() < np.abs(one).max() - 1e-6:
                yield f"{row.cells[0]} has its biggest step elsewhere than {row.cells[where]} from TOP"
                return


def _step_faults(
    table: RuledTable,
    column: int | None,
    steps: Sequence[float],
    pairs: Sequence[tuple[StripPlace, StripPlace]],
    what: str,
    truth: Truth,
    *,
    signed: bool = True,
) -> Iterator[str]:
    """Yield the first joint of which another step, or another strip, is said to stand higher than does."""
    if column is None:
        return
    scale, decimals = (1.0, 1) if truth.front.job.unit.in_mm == 1.0 else (truth.front.job.unit.in_mm, 3)
    near = 0.5 * 10.0**-decimals + 1e-6
    for row, step, (left, right) in zip(table.rows, steps, pairs, strict=True):
        words = row.cells[column]
        found = _STEP.fullmatch(words)
        size = 0.0 if words == "even" else float(found[2]) if found else math.nan
        higher = right.number if step > 0 else left.number
        # Of two biggest steps alike either may be told.
        side = found is None or not signed or int(found[1]) == higher
        if not abs(size - abs(step) / scale) <= near or not side:
            yield f"{row.cells[0]} says {what} {words!r}, which is {higher} +{abs(step) / scale:.{decimals}f}"
            return


def _triangle(table: RuledTable, found: re.Match[str], truth: Truth) -> Iterator[str]:
    front = truth.front
    door = _door(truth, int(found[1]))
    if door is None:
        yield "is of no door of this front"
        return
    numbers = _strips_of(table, truth, falling=True)
    places = front.layout.on_door(door)[::-1]
    edges = np.concatenate([[0.0], np.cumsum([place.width for place in places])])
    length, station = places[0].length, front.job.station
    step = station if length >= 8 * station else front.job.ruler.mark
    point, base = (max(1, round(share * length / step)) * step for share in (_POINT, _BASE))
    crossings = point + (base - point) * np.abs(edges - edges[-1] / 2) / (edges[-1] / 2)
    index = [place.number for place in places]
    at = [index.index(number) for number in numbers if number in index]
    if len(at) != len(numbers):
        yield "names strips of another door"
        return
    near = truth.printed_rounding(1)
    yield from _column_fault(table, table.column("RIGHT side"), crossings[at], near, truth, "RIGHT side")
    yield from _column_fault(
        table, table.column("LEFT side"), crossings[np.array(at, dtype=int) + 1], near, truth, "LEFT side"
    )


def _door(truth: Truth, number: int) -> Door | None:
    return next((door for door in truth.front.layout.doors if door.number == number), None)


def _positions(table: RuledTable, found: re.Match[str], truth: Truth) -> Iterator[str]:
    numbers = [int(one) for one in re.findall(r"\d+", found[1])]
    doors = [door for number in numbers if (door := _door(truth, number)) is not None]
    if len(doors) != len(numbers) or not doors:
        yield "is of no door of this front"
        return
    places = [int(row.cells[0]) for row in table.rows]
    first = {door.number: truth.front.layout.designed.doors[door.number - 1].first_strip for door in doors}
    wanted = [first[doors[0].number] + place - 1 for place in places]
    if any(number not in truth.front.numbers for number in wanted):
        yield "names places on which no strip hangs"
        return
    strips = [truth.front.layout.strip(number) for number in wanted]
    near = truth.printed_rounding(1)
    for head, edges in (
        ("LEFT edge", [strip.left - doors[0].left for strip in strips]),
        ("RIGHT edge", [strip.right - doors[0].left for strip in strips]),
    ):
        yield from _column_fault(table, table.column(head), edges, near, truth, head)
    last = doors[0].last_strip - first[doors[0].number] + 1
    checks = ["check" if place % 5 == 0 or place == last else "" for place in places]
    yield from _word_fault(table, table.column("check"), checks, "check")
    for door in doors:
        column = table.column(f"door {door.number} strip" if len(doors) > 1 else "strip")
        yield from _word_fault(table, column, [str(first[door.number] + place - 1) for place in places], "strip")


def _screws(table: RuledTable, found: re.Match[str], truth: Truth) -> Iterator[str]:
    front, ruler = truth.front, truth.front.job.ruler
    door = _door(truth, int(found[1]))
    if door is None:
        yield "is of no door of this front"
        return
    wanted, carving = [], []
    for place in reversed(front.layout.on_door(door)):
        number = place.number
        across = door.right - (place.left + place.right) / 2
        for screw in front.measures_of(number).screws.screws:
            down = door.top - place.top + screw.from_top
            wanted.append((number, across, down, screw.length, ruler.down(screw.bite), ruler.down(screw.cover)))
            carving.append(_while_carving(truth, screw))
    said = [int(row.cells[0]) for row in table.rows]
    numbers = [one[0] for one in wanted]
    start = next((at for at in range(len(numbers)) if numbers[at : at + len(said)] == said), None)
    if start is None:
        yield "has other strips, or more or fewer screws, than the door"
        return
    # A strip's screws may go on from another sheet: the places tell which they are.
    column = table.column("from TOP edge")
    downs = numbers_of(table, column, truth.read_number)
    starts = [at for at in range(len(numbers)) if numbers[at : at + len(said)] == said]
    near = truth.printed_rounding(1)
    start = next(
        (
            at
            for at in starts
            if _differ(downs, np.array([one[2] for one in wanted[at : at + len(said)]]), near) is None
        ),
        start,
    )
    some = wanted[start : start + len(said)]
    yield from _word_fault(table, table.column("while carving"), carving[start : start + len(said)], "while carving")
    for index, head in enumerate(("from left edge, BACK", "from TOP edge", "screw length", "bite", "cover"), 1):
        yield from _column_fault(table, table.column(head), [one[index] for one in some], near, truth, head)


def _while_carving(truth: Truth, screw: Screw) -> str:
    """Return what may stand in a screw's hole while its strip is carved: the longest of the stock with its tip deep enough, or "after"."""
    job, needs = truth.front.job, needs_of(truth.front.job)
    tip = screw.cover + screw.bite - job.limit("screw_cover").value - job.limit("screw_overcut").value
    fitting = [
        one
        for one in needs.lengths
        if one <= screw.length + 1e-4 and needs.bite <= one - needs.sunk + 1e-4 <= tip + 2e-4
    ]
    return job.ruler.bare(max(fitting)) if fitting else "after"


def _spacers(table: RuledTable, found: re.Match[str], truth: Truth) -> Iterator[str]:
    ruler = truth.front.job.ruler
    door = _door(truth, int(found[1]))
    if door is None:
        yield "is of no door of this front"
        return
    names = ["B", *(str(place.number) for place in truth.front.layout.on_door(door)), "B"]
    gaps = [row.cells[0] for row in table.rows]
    all_gaps = [f"{one} and {other}" for one, other in itertools.pairwise(names)]
    if any(gap not in all_gaps for gap in gaps):
        yield "names gaps that are not there"
        return
    # B stands at both ends: the first is the one before the first strip.
    at = [all_gaps.index(gap) for gap in gaps]
    for head, share in (("upper spacer", _UPPER), ("lower spacer", 1.0 - _UPPER)):
        lower = _spacer_levels(truth, door, share)
        wanted = [ruler.down(float(lower[index])) for index in at]
        yield from _column_fault(table, table.column(head), wanted, truth.printed_rounding(1), truth, head)


def _spacer_levels(truth: Truth, door: Door, share: float) -> Array:
    """Return how high the spacers in each gap of a door are, (gaps,) mm: level with the lower carve line beside them, nowhere higher."""
    front, unit = truth.front, truth.front.job.unit
    places = front.layout.on_door(door)
    length = places[0].length
    half = min(_SPACER[unit.value], length / 5) / 2
    along = share * length + np.linspace(-half, half, _ALONG_SPACER)
    edges = np.array([edge for place in places for edge in (place.left, place.right)])
    lowest = front.surface.at(edges[None, :], (places[0].top - along)[:, None]).min(axis=0)
    beside = np.minimum(lowest[1:-1:2], lowest[2::2])
    found: Array = np.concatenate([lowest[:1], beside, lowest[-1:]]) + front.job.wood.sanding
    return found


def _chart_faults(sheet: Sheet, truth: Truth) -> Iterator[str]:
    """Yield rows of the wall chart that name another door than their strip's: "2 · 17"."""
    for word in sheet.words:
        found = re.fullmatch(r"(\d+) · (\d+)", word.text)
        if found is None:
            continue
        number = int(found[2])
        if number not in truth.front.numbers or truth.front.layout.strip(number).door != int(found[1]):
            yield f"Wall chart: {word.text!r} is no door and strip of this front"


_Read = Callable[[RuledTable, re.Match[str], Truth], Iterator[str]]
_READS: tuple[tuple[re.Pattern[str], _Read], ...] = (
    (re.compile("Part list"), _parts),
    (_OFFSETS, _offsets),
    (re.compile("Edges of each strip"), _edges),
    (re.compile("Joints to feel"), _joints),
    (_CROSSINGS, _triangle),
    (_POSITIONS, _positions),
    (_SCREWS, _screws),
    (_SPACERS, _spacers),
)
