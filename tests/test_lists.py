"""The lists: every strip once, every figure true, nothing overlapping, nothing cut off."""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Iterable, Sequence
from fractions import Fraction
from functools import cache

import numpy as np
import pytest
from helpers import a_job, small_front
from hypothesis import given, settings
from hypothesis import strategies as st
from labels import box, overlapping

from facade.drawing import Drawing, Label, Pen, printable, text_width
from facade.front import Front, build_front
from facade.job import make_job
from facade.lengths import MM_PER_INCH, Ruler, Unit
from facade.printing.papers import sheet_paper
from facade.templates import list_chart, list_joints, list_parts, list_triangle, lists
from facade.templates import offsets as list_offsets
from facade.templates.pack import plan
from facade.templates.piece import Asked, Kind, Piece, Room
from facade.templates.tables import TYPE, Column, Table, boxes, table_pieces, wrapped

ODD_TITLE = 'Doors </svg><script>alert("x")</script> ../../etc\nof \u202eذهب\u202c and 🌊 & "more" \x07'
A4, LETTER, A3, LEAST = Room(185.0, 250.5), Room(190.9, 232.9), Room(272.0, 373.5), Room(114.0, 104.0)


# What stands on a piece ---------------------------------------------------------------------------------------------------


def assert_well_set(pieces: Iterable[Piece], room: Room, unit: Unit) -> None:
    """Every piece fits and is as large as it says; its words are large enough, apart, inside, and in one unit."""
    for piece in pieces:
        assert piece.width <= room.width + 1e-6, piece.name
        assert piece.height <= room.height + 1e-6, piece.name
        drawing = piece.draw()
        assert (drawing.width, drawing.height) == pytest.approx((piece.width, piece.height)), piece.name
        assert overlapping(drawing.labels) == [], piece.name
        for label in drawing.labels:
            left, right, low, high = box(label)
            assert label.size >= 2.6, label.text
            assert min(left, low) >= -0.01, label.text
            assert right <= piece.width + 0.01, label.text
            assert high <= piece.height + 0.01, label.text
        for path in drawing.paths:
            low_corner, high_corner = path.runs.min(axis=(0, 1)), path.runs.max(axis=(0, 1))
            assert low_corner.min() >= -0.01, path.name
            assert (high_corner <= np.array([piece.width, piece.height]) + 0.01).all(), path.name
        words = " ".join(label.text for label in drawing.labels)
        assert "safe" not in words.lower()
        assert not re.search("mm" if unit is Unit.INCH else r'\d *(in\b|"|″)', words), words


def rows_of(drawings: Iterable[Drawing], cells: int) -> list[list[str]]:
    """Return the words of tables row by row, runs side by side one after the other."""
    rows = []
    for drawing in drawings:
        levels: dict[float, list[Label]] = {}
        for label in drawing.labels:
            if label.size == TYPE:
                levels.setdefault(round(label.y, 3), []).append(label)
        for labels in levels.values():
            words = [label.text for label in sorted(labels, key=lambda one: one.x)]
            rows += [words[start : start + cells] for start in range(0, len(words), cells)]
    return rows


def read(text: str, unit: Unit) -> float:
    """Return a printed number in mm."""
    parts = float(sum(Fraction(part) for part in text.split()))
    return parts * (1.0 if unit is Unit.MM else MM_PER_INCH)


def drawn(pieces: Iterable[Piece]) -> list[Drawing]:
    return [piece.draw() for piece in pieces]


def asked(front: Front, room: Room = A4, strips: Sequence[int] | None = None) -> Asked:
    return Asked(front, room, tuple(range(1, front.count + 1)) if strips is None else tuple(strips))


# Fronts -------------------------------------------------------------------------------------------------------------------


@cache
def lively(unit: str = "mm", doors: int = 2) -> Front:
    one = 1.0 if unit == "mm" else 1 / 25.4
    return small_front(
        title=ODD_TITLE,
        unit=unit,
        front={"width": 480 * one, "height": 410 * one, "doors": doors},
        strips={"count": 12 * doors},
        wood={"species": "white ash", "blank": 20 * one, "floor": 8 * one},
        layers=[{"kind": "hills", "size": 90 * one}],
        # A centre line is worth tracing on some of its strips and not on others.
        limits={"centre_line": 0.85 * one},
    )


@st.composite
def fronts(draw: st.DrawFn) -> Front:
    """Draw a front of any size, division and unit."""
    unit = draw(st.sampled_from(["mm", "in"]))
    one = 1.0 if unit == "mm" else 1 / 25.4
    doors = draw(st.integers(1, 4))
    count = draw(st.integers(1, 14)) * doors
    width = draw(st.floats(10.5, 60.0))
    length = draw(st.floats(30.0, 1400.0))
    blank = draw(st.floats(12.0, 45.0))
    gap = draw(st.sampled_from([0.0, 0.3, 3.0]))
    whole = count * width + (count - doors) * gap + 3.0 * (doors - 1)
    return build_front(
        make_job(
            a_job(
                title=ODD_TITLE,
                unit=unit,
                front={"width": whole * one, "height": length * one, "doors": doors, "space": 3.0 * one},
                strips={"count": count, "gap": gap * one},
                wood={"species": "white ash", "blank": blank * one, "floor": 6 * one},
                layers=[{"kind": "hills", "size": draw(st.floats(30.0, 300.0)) * one}],
                sampling={"step": 4 * one},
            )
        )
    )


@settings(max_examples=14)
@given(fronts(), st.sampled_from([A4, LETTER, A3, LEAST, Room(5055.0, 563.0)]))
def test_lists_of_any_front_are_well_set_on_any_paper(front: Front, room: Room) -> None:
    assert_well_set(lists.pieces(asked(front, room)), room, front.job.unit)


@pytest.mark.parametrize("paper", ["A4", "Letter", "A3"])
@pytest.mark.parametrize("unit", ["mm", "in"])
def test_lists_come_out_in_a_pack(paper: str, unit: str) -> None:
    front = lively(unit)
    pack = plan(front, sheet_paper(paper), kinds=[Kind.LISTS])
    for sheet, drawing in pack.drawings():
        assert overlapping(drawing.labels) == []
        assert set(sheet.strips) <= set(range(1, front.count + 1))
        assert sheet.strips


# Parts --------------------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("unit", ["mm", "in"])
@pytest.mark.parametrize("room", [A4, A3])
def test_part_list_agrees_with_the_strips(unit: str, room: Room) -> None:
    front = lively(unit)
    half = front.job.ruler.mark / 2 + 1e-6
    rows = rows_of(drawn(list_parts.pieces(asked(front, room))), 11)
    assert sorted(int(row[0]) for row in rows) == list(range(1, front.count + 1))
    for row in rows:
        strip = front.strip(int(row[0]))
        place = strip.place
        assert row[1] == str(place.door)
        sizes = [read(size, front.job.unit) for size in row[2].split(" x ")]
        assert sizes == pytest.approx([strip.width, strip.blank, strip.length], abs=half)
        assert row[3] == (str(strip.number - 1) if strip.number > 1 else "end")
        assert row[4] == (str(strip.number + 1) if strip.number < front.count else "end")
        assert read(row[5], front.job.unit) == pytest.approx(strip.heights.min(), abs=half)
        assert read(row[7], front.job.unit) == pytest.approx(strip.heights.max(), abs=half)
        for height, from_top in ((row[5], row[6]), (row[7], row[8])):
            nearest = np.abs(strip.from_top - read(from_top, front.job.unit)).argmin()
            listed = read(height, front.job.unit)
            assert np.abs(strip.heights[nearest] - listed).min() <= half + 0.01
        assert row[9] == ("yes" if strip.ruler_error > front.job.limit("centre_line").value else "no")


def test_part_list_is_in_hanging_order() -> None:
    drawings = drawn(list_parts.pieces(asked(lively())))
    rows = [row for drawing in drawings for row in rows_of([drawing], 11)]
    assert [int(row[0]) for row in rows] == list(range(1, lively().count + 1))


def face_difference(front: Front, one: int, other: int) -> float:
    """Return how far two faces are apart, by a grid of its own, finer than what was compared."""
    heights = []
    for number in (one, other):
        place = front.layout.strip(number)
        x, y = np.linspace(place.left, place.right, 37), np.linspace(place.bottom, place.top, 411)
        heights.append(front.surface.at(x[None, :], y[:, None]))
    return float(np.abs(heights[0] - heights[1]).max())


@pytest.mark.parametrize(
    "changes",
    [
        {"carving": {"doors": "repeated"}},
        {"carving": {"fit": "depth", "depth": 1.0}},
        {"layers": [{"kind": "waves", "trains": [{"length": 63, "direction": 0}]}]},
        {"layers": [{"kind": "waves", "trains": [{"length": 40, "direction": 90}]}]},
    ],
    ids=["repeated doors", "shallow", "waves across", "waves along"],
)
def test_strips_that_can_stand_in_are_found_both_ways_and_truly(changes: dict[str, object]) -> None:
    front = small_front(**({"front": {"width": 252, "height": 200, "doors": 2}, "strips": {"count": 12}} | changes))
    found = list_parts.interchangeable(front, range(1, 13))
    assert any(found.values())
    for one, others in found.items():
        assert one not in others
        for other in range(1, 13):
            if other == one:
                continue
            apart = face_difference(front, one, other)
            assert (other in others) == (one in found[other])
            assert apart <= 0.6 if other in others else apart > 0.4


def test_strip_that_stands_alone_has_no_other_to_stand_in() -> None:
    assert set(list_parts.interchangeable(lively(), (5,))) == {5}
    rows = rows_of(drawn(list_parts.pieces(asked(lively(), strips=[5]))), 11)
    found = list_parts.interchangeable(lively(), (5,))[5]
    assert rows[0][10] == list_parts.short_list(found, 100.0)


@given(st.sets(st.integers(1, 400), max_size=60), st.floats(21.0, 60.0))
def test_short_list_names_strips_and_counts_the_others(numbers: set[int], room: float) -> None:
    words = list_parts.short_list(sorted(numbers), room)
    assert text_width(words, TYPE) <= room
    if words == "none":
        assert not numbers
    elif "strips" in words:
        assert words == f"{len(numbers)} strips"
    else:
        named: set[int] = set()
        for first, last in re.findall(r"(?<!\+)\b(\d+)(?: to (\d+))?", words):
            named |= set(range(int(first), int(last or first) + 1))
        left_out = re.search(r"\+(\d+)", words)
        assert named <= numbers
        assert len(named) + (int(left_out[1]) if left_out else 0) == len(numbers)


def test_too_many_pairs_are_not_compared() -> None:
    front = lively()
    number = front.count
    strips = tuple(range(1, number + 1)) * (list_parts.MOST_PAIRS // number**2 + 1)
    assert list_parts.StandIns(front, strips).of(1) is None
    assert list_parts.short_list(None, 30.0) == "not compared"


# Triangle -----------------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("unit", ["mm", "in"])
@pytest.mark.parametrize("room", [A4, LEAST])
def test_triangle_crosses_the_strips_along_straight_lines(unit: str, room: Room) -> None:
    front = lively(unit)
    rows = rows_of(drawn(list_triangle.pieces(asked(front, room))), 3)
    by_strip = {int(row[0]): [read(cell, front.job.unit) for cell in row[1:]] for row in rows}
    assert sorted(by_strip) == list(range(1, front.count + 1))
    for door in front.layout.doors:
        numbers = range(door.last_strip, door.first_strip - 1, -1)
        sides = np.array([by_strip[number] for number in numbers])
        # Strips pushed together meet at one place.
        assert sides[:-1, 1] == pytest.approx(sides[1:, 0])
        crossings = np.append(sides[:, 0], sides[-1, 1])
        middle = len(numbers) // 2
        half = front.job.ruler.mark / 2 + 1e-6
        # Twelve strips of one width: a leg on either side of their middle, and the same from both.
        for leg in (crossings[: middle + 1], crossings[middle:]):
            straight = np.linspace(leg[0], leg[-1], len(leg))
            assert np.abs(leg - straight).max() <= 2 * half
        assert crossings == pytest.approx(crossings[::-1])
        assert crossings[middle] < crossings[0]
        assert crossings.min() > 0
        assert crossings.max() < front.layout.strips[0].length


def test_triangle_is_not_alike_from_both_ends() -> None:
    one = list_triangle.triangle(lively(), lively().layout.doors[0])
    length = one.places[0].length
    assert abs(one.point + one.base - length) > 10.0


def test_swapped_turned_or_flipped_strip_breaks_the_triangle() -> None:
    """Any strip in any other place, or with its ends changed, shows other marks than that place has."""
    one = list_triangle.triangle(lively(), lively().layout.doors[0])
    sides = np.column_stack([one.crossings[:-1], one.crossings[1:]])
    length = one.places[0].length
    turned = length - sides[:, ::-1]
    marks = {tuple(np.append(side, one.base)) for side in sides.round(6).tolist()}
    assert len(marks) == len(sides)
    assert all(tuple(np.append(side, length - one.base)) not in marks for side in turned.round(6).tolist())


def test_backs_are_numbered_from_right_to_left() -> None:
    front = lively()
    pictures = [piece.draw() for piece in list_triangle.pieces(asked(front)) if piece.name.startswith("triangle")]
    for door, picture in zip(front.layout.doors, pictures, strict=True):
        backs = next(path.runs for path in picture.paths if path.name == "backs")
        top = backs[..., 1].max()
        above = [label for label in picture.labels if top < label.y < top + 3 and label.text.isdigit()]
        assert len(above) > 1
        for label in above:
            position = int(np.flatnonzero((backs[:, 0, 0] <= label.x) & (label.x <= backs[:, 1, 0]))[0])
            assert int(label.text) == door.last_strip - position


def test_picture_of_the_backs_is_to_its_stated_scale() -> None:
    front = lively()
    picture = next(iter(list_triangle.pieces(asked(front)))).draw()
    said = re.search(r"1 : ([\d.]+)", picture.title)
    assert said
    paths = {path.name: path.runs for path in picture.paths}
    backs = paths["backs"]
    door = front.layout.doors[0]
    wide = sum(front.layout.strip(number).width for number in range(door.first_strip, door.last_strip + 1))
    assert len(backs) == door.last_strip - door.first_strip + 1
    assert np.ptp(backs[..., 0]) * float(said[1]) == pytest.approx(wide)
    assert np.ptp(backs[..., 1]) * float(said[1]) == pytest.approx(front.layout.strips[0].length)
    one = list_triangle.triangle(front, door)
    (left, point, right) = paths["triangle"][0]
    assert (backs[..., 1].max() - point[1]) * float(said[1]) == pytest.approx(one.point)
    assert (backs[..., 1].max() - left[1]) * float(said[1]) == pytest.approx(one.base)
    assert point[0] == pytest.approx((left[0] + right[0]) / 2)


def test_ends_are_numbered_from_the_left_as_seen_from_above() -> None:
    front = lively()
    ends = [piece for piece in list_triangle.pieces(asked(front, LEAST)) if "TOP ends" in piece.name]
    numbers = [
        int(label.text)
        for piece in ends
        for label in sorted(piece.draw().labels, key=lambda one: (-one.y, one.x))
        if label.text.isdigit()
    ]
    assert numbers == list(range(1, front.count + 1))


# Offsets ------------------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("unit", ["mm", "in"])
@pytest.mark.parametrize("room", [A4, LEAST])
def test_offsets_are_the_surface_at_the_stations(unit: str, room: Room) -> None:
    front = lively(unit)
    job, half = front.job, front.job.ruler.mark / 2 + 1e-6
    blocks = [piece for piece in list_offsets.pieces(asked(front, room)) if len(piece.strips) == 1]
    seen: dict[int, list[float]] = {}
    with_centre = 0
    length = front.layout.strips[0].length
    wanted = np.append(np.arange(0.0, length - 1e-6, job.station), length)
    for piece in blocks:
        (number,) = piece.strips
        place = front.layout.strip(number)
        centre = list_offsets.has_centre(front, number)
        with_centre += centre
        for row in rows_of([piece.draw()], 5 + centre):
            from_top, *heights = (read(cell, job.unit) for cell in row)
            seen.setdefault(number, []).append(from_top)
            # The last station is rounded to the ruler's mark.
            station = wanted[np.abs(wanted - from_top).argmin()]
            x = [place.left, place.right, (place.left + place.right) / 2][: 2 + centre]
            true = front.surface.at(np.array([x]), np.array([[place.top - station]]))[0]
            assert heights[: len(x)] == pytest.approx(true, abs=half)
            assert heights[len(x) :] == pytest.approx(job.wood.blank - true[:2], abs=half)
    assert 0 < with_centre < len(blocks)
    assert sorted(seen) == list(range(1, front.count + 1))
    for marks in seen.values():
        assert sorted(marks) == pytest.approx(wanted, abs=half)


def test_every_block_of_offsets_names_its_strip() -> None:
    for piece in list_offsets.pieces(asked(lively())):
        if len(piece.strips) == 1:
            assert piece.draw().labels[0].text.startswith(f"Strip {piece.strips[0]}, door ")


# Joints -------------------------------------------------------------------------------------------------------------------


def printed_steps(front: Front, strips: Sequence[int] | None = None) -> dict[int, list[float]]:
    """Return the printed steps of each joint, how much the right strip stands higher, the biggest last."""
    table = list_joints.joints_table(asked(front, strips=strips))
    found = {}
    for row in rows_of(drawn(table_pieces(table, A3)), 9):
        left = int(row[0].split(" | ")[0])
        steps = []
        for cell in row[2:8]:
            if cell == list_joints.EVEN:
                steps.append(0.0)
                continue
            who, size = cell.split(" +")
            assert int(who) in (left, left + 1)
            steps.append((1 if int(who) == left + 1 else -1) * float(size))
        found[left] = steps
    return found


@pytest.mark.parametrize("unit", ["mm", "in"])
def test_steps_are_what_the_facing_edges_differ_by(unit: str) -> None:
    front = lively(unit)
    marks = list_joints.listed_stations(front)
    assert marks[0] == 0.0
    assert marks[-1] == front.layout.strips[0].length
    one, half = front.job.unit.in_mm, 0.0501 if unit == "mm" else 0.000501
    printed = printed_steps(front)
    assert sorted(printed) == list(range(1, front.count))
    for number, steps in printed.items():
        left, right = front.layout.strip(number), front.layout.strip(number + 1)
        y = (left.top - marks)[:, None]
        edges = front.surface.at(np.array([[left.right, right.left]]), y)
        assert steps[:5] == pytest.approx((edges[:, 1] - edges[:, 0]) / one, abs=half)
        along = np.linspace(left.bottom, left.top, 2001)[:, None]
        edges = front.surface.at(np.array([[left.right, right.left]]), along)
        apart = np.abs(edges[:, 1] - edges[:, 0]).max() / one
        assert abs(steps[5]) == pytest.approx(apart, abs=half + 0.02 / one)


@given(st.data())
@settings(max_examples=40)
def test_two_swapped_strips_are_felt(data: st.DataObject) -> None:
    """In a lively front some joint of two swapped strips differs from its printed step by more than the ruler's mark."""
    front = lively()
    pair = data.draw(st.lists(st.integers(1, front.count), min_size=2, max_size=2, unique=True))
    order = list(range(1, front.count + 1))
    a, b = pair
    order[a - 1], order[b - 1] = b, a
    marks = list_joints.listed_stations(front)
    changed = 0.0
    for left, steps in printed_steps(front).items():
        first, second = front.layout.strip(order[left - 1]), front.layout.strip(order[left])
        y = (first.top - marks)[:, None]
        edges = front.surface.at(np.array([[first.right, second.left]]), y)
        changed = max(changed, float(np.abs(edges[:, 1] - edges[:, 0] - steps[:5]).max()))
    assert changed > front.job.ruler.mark


@pytest.mark.parametrize("unit", ["mm", "in"])
def test_edges_of_each_strip_are_the_surface_at_top_and_middle(unit: str) -> None:
    front = lively(unit)
    half = front.job.ruler.mark / 2 + 1e-6
    rows = rows_of(drawn(table_pieces(list_joints.edges_table(asked(front)), A4)), 5)
    assert sorted(int(row[0]) for row in rows) == list(range(1, front.count + 1))
    middle = list_joints.middle_station(front)
    assert abs(middle - front.layout.strips[0].length / 2) <= front.job.station
    for row in rows:
        place = front.layout.strip(int(row[0]))
        y = np.array([[place.top], [place.top - middle]])
        true = front.surface.at(np.array([[place.left, place.right]]), y).ravel()
        assert [read(cell, front.job.unit) for cell in row[1:]] == pytest.approx(true, abs=half)


def test_joint_of_two_doors_is_listed_with_both_doors() -> None:
    front = lively()
    last = front.layout.doors[0].last_strip
    rows = {row[0]: row for row in rows_of(drawn(list_joints.pieces(asked(front)))[:1], 9)}
    assert rows[f"{last} | {last + 1}"][1] == "1 | 2"
    assert rows[f"{last - 1} | {last}"][1] == "1"


# Chart --------------------------------------------------------------------------------------------------------------------


@settings(max_examples=10)
@given(fronts(), st.sampled_from([A4, LETTER, A3, LEAST]))
def test_chart_has_a_box_for_every_strip_and_step(front: Front, room: Room) -> None:
    pages = drawn(list_chart.pieces(asked(front, room)))
    count = sum(len(path.runs) for page in pages for path in page.paths if path.name == "boxes")
    assert count == front.count * len(list_chart.STEPS)
    names = Counter(label.text for page in pages for label in page.labels)
    for place in front.layout.strips:
        assert names[f"{place.door} · {place.number}"] == 2
    for page in pages:
        assert {label.text for label in page.labels if label.turn} >= set(list_chart.STEPS)


def test_chart_fills_the_page() -> None:
    for piece in list_chart.pieces(asked(lively(doors=4))):
        assert piece.height > 0.9 * A4.height
        assert piece.width > 0.95 * A4.width


# A reprint of a few strips ------------------------------------------------------------------------------------------------


def test_reprint_is_of_its_strips_and_their_joints_alone() -> None:
    front = lively()
    few = asked(front, strips=[5, 12])
    pieces = list(lists.pieces(few))
    assert {number for piece in pieces for number in piece.strips} == {4, 5, 6, 11, 12, 13}
    assert not any("triangle" in piece.name or "chart" in piece.name or "ends" in piece.name for piece in pieces)
    assert [int(row[0]) for row in rows_of(drawn(list_parts.pieces(few)), 11)] == [5, 12]
    assert sorted(printed_steps(front, [5, 12])) == [4, 5, 11, 12]
    assert_well_set(pieces, A4, Unit.MM)


def test_outermost_strip_has_one_joint_and_a_lone_strip_none() -> None:
    assert sorted(printed_steps(lively(), [1])) == [1]
    alone = small_front(front={"width": 20, "height": 120}, strips={"count": 1})
    assert list_joints.joints(asked(alone)) == []
    assert_well_set(lists.pieces(asked(alone)), A4, Unit.MM)


def test_whole_front_lists_every_strip_in_every_list() -> None:
    front = lively()
    every = set(range(1, front.count + 1))
    for home in (list_parts, list_triangle, list_offsets, list_joints, list_chart):
        assert {number for piece in home.pieces(asked(front)) for number in piece.strips} == every


def test_no_strips_make_no_lists() -> None:
    assert list(lists.pieces(asked(lively(), strips=[]))) == []


# The typesetter -----------------------------------------------------------------------------------------------------------


def numbered_table(count: int, columns: int, note: str, runs: int | None = None) -> Table:
    return Table(
        title="A table of numbers",
        columns=tuple(Column(("head", str(index)), "88888", bold=index == 0) for index in range(columns)),
        count=count,
        rows=lambda first, after: [[f"{row}.{index}" for index in range(columns)] for row in range(first, after)],
        about=[(row + 1,) for row in range(count)],
        note=note,
        runs=runs,
        words=40.0,
    )


@settings(max_examples=40)
@given(st.integers(1, 300), st.integers(1, 14), st.sampled_from(["", "A note. " * 9]), st.sampled_from([A4, A3, LEAST]))
def test_every_cell_of_a_table_stands_somewhere_and_heads_are_repeated(
    count: int, columns: int, note: str, room: Room
) -> None:
    pieces = table_pieces(numbered_table(count, columns, note), room)
    assert_well_set(pieces, room, Unit.MM)
    cells = Counter(label.text for piece in pieces for label in piece.draw().labels if label.size == TYPE)
    assert set(cells) == {f"{row}.{index}" for row in range(count) for index in range(columns)}
    assert all(times == 1 for cell, times in cells.items() if not cell.endswith(".0"))
    for piece in pieces:
        assert any(label.text == "head" for label in piece.draw().labels)


def test_parts_of_a_table_are_counted() -> None:
    pieces = table_pieces(numbered_table(200, 3, "", runs=1), A4)
    words = [[label.text for label in piece.draw().labels] for piece in pieces]
    assert len(pieces) > 2
    assert f"part 1 of {len(pieces)}" in words[0]
    for index, part in enumerate(words[1:], 2):
        assert f"continued, part {index} of {len(pieces)}" in part
    assert sum((piece.strips for piece in pieces), ()) == tuple(range(1, 201))


def test_every_fifth_row_has_a_heavier_line() -> None:
    (piece,) = table_pieces(numbered_table(23, 2, "", runs=1), A4)
    paths = {path.name: path for path in piece.draw().paths}
    fifth, others = paths["fifth-rows"], paths["rows"]
    assert fifth.pen.width > others.pen.width
    levels = np.sort(np.concatenate([fifth.runs, others.runs])[:, 0, 1])[::-1]
    assert np.diff(levels) == pytest.approx(-4.6)
    assert np.isin(levels, fifth.runs[:, 0, 1]).nonzero()[0].tolist() == [4, 9, 14, 19]


@given(st.text(max_size=120), st.floats(20.0, 120.0), st.booleans())
def test_wrapped_text_fits_and_says_the_same(text: str, room: float, bold: bool) -> None:
    lines = wrapped(text, 3.2, room, bold=bold)
    assert all(text_width(line, 3.2, bold=bold) <= room + 1e-9 for line in lines)
    assert "".join(lines).replace(" ", "") == printable(text).replace(" ", "")


def test_wrapped_words_are_broken_only_where_one_is_wider_than_the_room() -> None:
    text = "plain words of the trade are set in lines one after the other"
    assert max(text_width(word, 3.2) for word in text.split()) < 30
    assert " ".join(wrapped(text, 3.2, 30.0)) == text


@pytest.mark.parametrize("ruler", [Ruler(), Ruler(Unit.INCH, 32), Ruler(Unit.INCH, 64)])
@given(st.floats(0.0, 1.0), st.floats(0.5, 3000.0))
def test_no_number_is_wider_than_the_widest(ruler: Ruler, share: float, most: float) -> None:
    from facade.templates.tables import widest_number

    assert text_width(ruler.number(share * most), 1.0) <= text_width(widest_number(ruler, most), 1.0) + 1e-9


def test_boxes_are_closed() -> None:
    runs = boxes(np.array([0.0, 10.0]), np.array([4.0, 14.0]), 0.0, 3.0)
    assert runs.shape == (2, 5, 2)
    assert (runs[:, 0] == runs[:, -1]).all()
    assert Pen.BOX.width > 0
