"""Boards: screws where they were planned though left and right change places, and nothing in the disc's way."""

from __future__ import annotations

import re
from collections import Counter
from functools import cache
from typing import Any

import numpy as np
import pytest
from helpers import a_job, small_front
from labels import box, overlapping

from facade.checks import check_front
from facade.drawing import Drawing, Label
from facade.front import Front, build_front
from facade.job import make_job
from facade.lengths import Unit
from facade.measuring.screws import lengths_sold
from facade.paper import Order, pack_of
from facade.printing.papers import sheet_paper
from facade.templates.board_carving import CarvingBoard, alike, carving_board
from facade.templates.board_drilling import drillings, strips_of, while_carving, without_screws
from facade.templates.board_setting import SPACERS_AT, spacer_length, spacer_levels
from facade.templates.boards import pieces
from facade.templates.piece import Asked, Kind, Piece, Room

A4 = Room(185.0, 250.5)
JOBS: dict[str, dict[str, Any]] = {
    "hall": {
        "front": {"width": 926, "height": 800, "doors": 2},
        "strips": {"width": 18, "gap": 3},
        "hinges": {"pivot": "front"},
    },
    "low": {"front": {"width": 600, "height": 160, "doors": 1}, "strips": {"width": 24, "gap": 2}},
    "tall": {"front": {"width": 500, "height": 2400, "doors": 1}, "strips": {"width": 40, "gap": 0}},
    "wide": {"front": {"width": 3000, "height": 700, "doors": 2}, "strips": {"width": 16, "gap": 2}},
    "unlike": {
        "front": {"door_widths": [300, 420], "width": 724, "height": 700, "doors": 2, "space": 4},
        "strips": {"width": 20, "gap": 3},
    },
    "reveals": {
        "front": {"width": 500, "height": 700, "reveals": {"left": 5, "right": 9, "top": 30, "bottom": 7}},
        "strips": {"width": 20, "gap": 3, "edge": 6},
    },
    "inches": {
        "unit": "in",
        "front": {"width": 36, "height": 30, "doors": 2},
        "strips": {"width": 0.75, "gap": 0.125},
        "wood": {"blank": 1.125, "floor": 0.5},
        "hinges": {"pivot": "back"},
        "layers": [{"kind": "hills", "size": 8}],
    },
    "packed": {
        "front": {"width": 905, "height": 700, "doors": 2, "space": 5},
        "strips": {"width": 18, "gap": 3, "edge": 6},
        "carving": {"packed": True},
    },
    "one strip": {"front": {"width": 50, "height": 600}, "strips": {"count": 1, "width": 40}},
}


@cache
def front_of(name: str) -> Front:
    job = JOBS[name]
    # A table of the job stands alone: the small job's own count of strips would contradict it.
    settings = a_job() | {"wood": {"blank": 25, "floor": 12}, "layers": [{"kind": "hills", "size": 200}]} | job
    settings["wood"] = settings["wood"] | {"species": "white ash"}
    return build_front(make_job(settings))


@pytest.fixture(scope="module", params=JOBS)
def front(request: pytest.FixtureRequest) -> Front:
    return front_of(request.param)


def all_pieces(front: Front, strips: tuple[int, ...] | None = None) -> list[Piece]:
    return list(pieces(Asked(front, A4, strips or tuple(range(1, front.count + 1)))))


def words_of(found: list[Piece]) -> str:
    return " ".join(label.text for piece in found for label in piece.draw().labels)


def lines_named(drawing: Drawing, name: str) -> np.ndarray:
    found = [path.runs for path in drawing.paths if path.name == name]
    return np.concatenate(found) if found else np.empty((0, 2, 2))


def test_holes_seen_from_the_back_map_back_to_the_middle_lines_and_the_planned_screws(front: Front) -> None:
    for door in front.layout.doors:
        found = set()
        for one in drillings(front, door):
            place = front.layout.strip(one.strip)
            assert door.right - one.across == pytest.approx((place.left + place.right) / 2, abs=1e-9)
            found.add((one.strip, round(one.down - (door.top - place.top), 6), one.length))
        planned = {
            (place.number, round(screw.from_top, 6), screw.length)
            for place in strips_of(front, door)
            for screw in front.measures()[place.number - 1].screws.screws
        }
        assert found == planned
        assert planned


def test_a_bevelled_board_is_told_where_it_is_drilled_and_a_square_one_is_not() -> None:
    """18 mm at 5 degrees take 18 tan 5 = 1.57 mm off."""
    for bevel, told in ((5.0, True), (0.0, False)):
        words = words_of(all_pieces(small_front(hinges={"pivot": "front", "bevel": bevel})))
        assert ("Bevel its edge away from the hinges by 5 degrees" in words) is told
        assert ("1.6 mm come off the back one" in words) is told


def test_strips_run_the_other_way_seen_from_the_back(front: Front) -> None:
    for door in front.layout.doors:
        across = [(one.across, one.strip) for one in drillings(front, door)]
        assert across == sorted(across, key=lambda one: one[0])
        assert [number for _, number in across] == sorted((number for _, number in across), reverse=True)


def drilling_pictures(front: Front) -> list[Drawing]:
    drawn = [piece.draw() for piece in all_pieces(front)]
    return [one for one in drawn if any(label.text == "AS SEEN FROM THE BACK" for label in one.labels)]


def test_picture_shows_every_screw_at_its_place_on_the_board(front: Front) -> None:
    pictures = drilling_pictures(front)
    assert len(pictures) == len(front.layout.doors)
    for door, drawing in zip(front.layout.doors, pictures, strict=True):
        board = lines_named(drawing, "board")[0]
        left, top = board[:, 0].min(), board[:, 1].max()
        scale = door.width / np.ptp(board[:, 0])
        said = next(label.text for label in drawing.labels if "1 : " in label.text)
        assert f"1 : {scale:g}" == re.search(r"1 : [\d.]+", said)[0]  # type: ignore[index]
        assert np.ptp(board[:, 1]) * scale == pytest.approx(door.height)
        # Two arms make a cross, both of them with their middle on the screw.
        middles = lines_named(drawing, "screws").mean(axis=1)
        found = np.column_stack([middles[:, 0] - left, top - middles[:, 1]]) * scale
        planned = np.array([[one.across, one.down] for one in drillings(front, door)])
        assert len(found) == 2 * len(planned)
        apart = np.hypot(*(found[:, None] - planned).transpose(2, 0, 1))
        assert apart.min(axis=1).max() < 1e-6
        assert Counter(apart.argmin(axis=1).tolist()) == dict.fromkeys(range(len(planned)), 2)


def test_hinges_are_on_the_other_side_seen_from_the_back() -> None:
    front = front_of("hall")
    # A pair opens from its middle: the left door turns on its left edge.
    for drawing, right in zip(drilling_pictures(front), (True, False), strict=True):
        board = lines_named(drawing, "board")[0]
        (words,) = [label for label in drawing.labels if label.text == "HINGE SIDE"]
        assert (words.x > board[:, 0].max()) if right else (words.x < board[:, 0].min())


def test_table_lists_every_screw_and_words_count_them_by_length(front: Front) -> None:
    ruler = front.job.ruler
    for door in front.layout.doors:
        screws = drillings(front, door)
        strips = tuple(range(door.first_strip, door.last_strip + 1))
        words = words_of(all_pieces(front, strips))
        for length, count in Counter(one.length for one in screws).items():
            assert f"{count} of {ruler.text(length)}" in words
        tables = [piece for piece in all_pieces(front, strips) if piece.strips]
        cells = Counter(label.text for piece in tables for label in piece.draw().labels)
        wanted = Counter(ruler.number(one.down) for one in screws)
        assert all(cells[figure] >= count for figure, count in wanted.items())


def test_strips_with_no_room_for_screws_are_named() -> None:
    front = small_front(strips={"count": 8}, front={"width": 200, "height": 40}, wood={"blank": 20, "floor": 8})
    (door,) = front.layout.doors
    refused = without_screws(front, door)
    planned = {one.strip for one in drillings(front, door)}
    assert refused
    assert set(refused) | planned == set(range(1, 9))
    assert "NO SCREWS" in words_of(all_pieces(front))
    assert "too short for two screws" in words_of(all_pieces(front))


@pytest.mark.parametrize("by", ["glue", "middle bead"])
def test_glued_strips_have_no_drilling_and_one_piece_says_so(by: str) -> None:
    front = small_front(fixing={"by": by})
    found = all_pieces(front)
    assert [piece.name for piece in found].count("no screws") == 1
    words = words_of(found)
    assert "not drilled for screws" in words
    assert "AS SEEN FROM THE BACK" not in words
    assert not any(len(lines_named(piece.draw(), "screws")) for piece in found)


def boards_of(front: Front) -> list[CarvingBoard]:
    return [carving_board(front, door) for door in front.layout.doors]


def test_clamps_stay_10_mm_off_all_that_the_disc_runs_over(front: Front) -> None:
    """A disc must not meet a clamp or a screw: 10 mm is the least, by the maker's own rule."""
    for board in boards_of(front):
        (carved,) = board.carved
        for left, right, bottom, top in board.clamps:
            beside = max(carved[0] - right, left - carved[1])
            above = max(carved[2] - top, bottom - carved[3])
            assert max(beside, above) >= 10.0 - 1e-9
            assert left >= 0
            assert bottom >= 0
            assert right <= board.width + 1e-9
            assert top <= board.height + 1e-9


def test_carved_area_holds_strips_dummies_and_20_to_30_mm_of_waste_at_both_ends(front: Front) -> None:
    """Waste of 20 to 30 mm at both ends keeps edges from being rounded: common practice."""
    for door, board in zip(front.layout.doors, boards_of(front), strict=True):
        (carved,) = board.carved
        for parts in (board.strips, board.dummies, board.ends, board.spacers):
            if len(parts):
                assert (parts[:, 0] >= carved[0] - 1e-9).all()
                assert (parts[:, 1] <= carved[1] + 1e-9).all()
                assert (parts[:, 2] >= carved[2] - 1e-9).all()
                assert (parts[:, 3] <= carved[3] + 1e-9).all()
        for waste in (board.strips[0, 2] - carved[2], carved[3] - board.strips[0, 3]):
            assert 20 <= waste <= 30
        places = strips_of(front, door)
        assert np.diff(board.strips[:, :2]).ravel() == pytest.approx([place.width for place in places])
        apart = np.diff([place.left for place in places])
        if front.job.carving.packed:
            apart = np.array([place.width for place in places[1:]])
        assert np.diff(board.strips[:, 0]) == pytest.approx(apart)


def test_two_spacers_fill_each_gap_and_the_dummies_stand_a_gap_away(front: Front) -> None:
    for door, board in zip(front.layout.doors, boards_of(front), strict=True):
        division = front.layout.divisions[door.number - 1]
        gap = division.gap if division.count > 1 and not front.job.carving.packed else 0.0
        assert board.strips[0, 0] - board.dummies[0, 1] == pytest.approx(gap)
        assert board.dummies[1, 0] - board.strips[-1, 1] == pytest.approx(gap)
        assert len(board.spacers) == (2 * (division.count + 1) if gap else 0)
        for left, right, _, _ in board.spacers:
            assert right - left == pytest.approx(gap)
            assert ((board.strips[:, 1] <= left + 1e-9) | (board.strips[:, 0] >= right - 1e-9)).all()


def test_spacers_are_flush_with_the_lower_carve_line_beside_them_and_nowhere_higher(front: Front) -> None:
    """A spacer that stands out is in the disc's way; one far below leaves a gap that a disc catches in."""
    sanding, unit = front.job.wood.sanding, front.job.unit
    for door in front.layout.doors:
        places = strips_of(front, door)
        levels = spacer_levels(front, door)
        assert levels.shape == (2, len(places) + 1)
        assert (levels >= front.surface.floor + sanding - 1e-9).all()
        for share, row in zip(SPACERS_AT, levels, strict=True):
            half = spacer_length(places[0].length, unit) / 2
            y = places[0].top - share * places[0].length + np.linspace(-half, half, 81)
            for gap, level in enumerate(row):
                sides = [places[gap - 1].right] if gap else []
                sides += [places[gap].left] if gap < len(places) else []
                lowest = (front.surface.at(np.array(sides), y[:, None]) + sanding).min()
                assert lowest - 0.1 <= level - 1e-9 <= lowest + 0.1


def rows_of_tables(front: Front, title: str, columns: int) -> set[tuple[str, ...]]:
    """Return the rows of the tables of a title, read from where their words stand; runs stand side by side."""
    found = set()
    for piece in all_pieces(front):
        if piece.name.startswith(title):
            levels: dict[float, list[Label]] = {}
            for label in piece.draw().labels:
                levels.setdefault(round(label.y, 3), []).append(label)
            for level in levels.values():
                words = [label.text for label in sorted(level, key=lambda label: label.x)]
                found |= {tuple(words[at : at + columns]) for at in range(0, len(words), columns)}
    return found


def test_tables_give_each_door_the_heights_of_its_own_spacers(front: Front) -> None:
    ruler = front.job.ruler
    for door in front.layout.doors:
        rows = rows_of_tables(front, f"Carving board, door {door.number}: spacers", 3)
        if not len(carving_board(front, door).spacers):
            assert not rows
            continue
        names = ["B", *map(str, range(door.first_strip, door.last_strip + 1)), "B"]
        for gap, levels in enumerate(spacer_levels(front, door).T):
            upper, lower = (ruler.number(ruler.down(level)) for level in levels)
            assert (f"{names[gap]} and {names[gap + 1]}", upper, lower) in rows


def test_heights_of_spacers_in_words_are_those_of_all_doors_that_a_board_serves() -> None:
    front = front_of("hall")
    show, doors = front.job.ruler, front.layout.doors
    levels = [spacer_levels(front, door) for door in doors]
    assert abs(levels[0].min() - levels[1].min()) > show.mark, "the two doors must differ for this test to say anything"
    low, high = min(one.min() for one in levels), max(one.max() for one in levels)
    words = words_of(all_pieces(front))
    assert f"from {show.text(show.down(low))} to {show.text(show.down(high))} high" in words


def test_strips_that_are_carved_packed_tight_lie_so_on_their_board() -> None:
    front = front_of("packed")
    words = words_of(all_pieces(front))
    assert "No spacers: these strips are carved packed tight" in words
    assert "Fill every gap" not in words
    for door, board in zip(front.layout.doors, boards_of(front), strict=True):
        assert not len(board.spacers)
        assert board.strips[1:, 0] == pytest.approx(board.strips[:-1, 1])
        rows = rows_of_tables(front, f"Carving board, door {door.number}, seen from the BACK", 2)
        for place, strip in zip(strips_of(front, door), board.strips, strict=True):
            across = board.width - (strip[0] + strip[1]) / 2
            assert (str(place.number), front.job.ruler.number(across)) in rows


def test_screws_of_the_carving_board_are_in_their_final_holes(front: Front) -> None:
    """They stand on the middle lines of their strips. Seen from the back, they lie where the drilling sheet says, and further by
    what the sheet of the board says; where strips are packed tight, only down."""
    for door, board in zip(front.layout.doors, boards_of(front), strict=True):
        drilled = drillings(front, door)
        across = board.width - board.screws[:, 0]
        down = board.height - board.screws[:, 1]
        middles = board.strips[[one.strip - door.first_strip for one in drilled], :2].mean(axis=1)
        assert board.screws[:, 0] == pytest.approx(middles)
        further = across - [one.across for one in drilled], down - [one.down for one in drilled]
        assert np.ptp(further[1]) < 1e-9
        left, top = board.strip_corner
        edge = front.layout.divisions[door.number - 1].edge
        if not front.job.carving.packed:
            assert np.ptp(further[0]) < 1e-9
            assert further[0][0] == pytest.approx(left - edge)
        assert further[1][0] == pytest.approx(board.height - top)


def test_one_board_serves_doors_that_are_alike() -> None:
    hall, unlike = front_of("hall"), front_of("unlike")
    assert [[door.number for door in group] for group in alike(hall, hall.layout.doors)] == [[1, 2]]
    assert len(alike(unlike, unlike.layout.doors)) == 2
    assert "One board serves doors 1 and 2" in words_of(all_pieces(hall))
    assert "One board serves" not in words_of(all_pieces(unlike))


def test_least_cover_of_the_tips_is_said(front: Front) -> None:
    words = words_of(all_pieces(front))
    for door in front.layout.doors:
        least = min(one.cover for one in drillings(front, door))
        assert f"They stay at least {front.job.ruler.text(front.job.ruler.down(least))}" in re.sub(r"\s+", " ", words)


def test_nothing_overlaps_or_leaves_its_piece(front: Front) -> None:
    for piece in all_pieces(front):
        drawing = piece.draw()
        assert (drawing.width, drawing.height) == (piece.width, piece.height)
        assert piece.width <= A4.width + 1e-9
        assert piece.height <= A4.height + 1e-9
        assert overlapping(drawing.labels) == []
        for label in drawing.labels:
            left, right, low, high = box(label)
            assert left >= -0.1, label.text
            assert right <= piece.width + 0.1, label.text
            assert low >= -0.1, label.text
            assert high <= piece.height + 0.1, label.text
            assert label.size >= 2.6, label.text
        for path in drawing.paths:
            assert path.runs.min() >= 0, path.name
            assert path.runs[..., 0].max() <= piece.width, path.name
            assert path.runs[..., 1].max() <= piece.height, path.name


def test_words_stand_clear_of_the_boards(front: Front) -> None:
    for piece in all_pieces(front):
        drawing = piece.draw()
        for board in lines_named(drawing, "board"):
            low, high = board.min(axis=0), board.max(axis=0)
            for label in drawing.labels:
                left, right, bottom, top = box(label)
                assert right <= low[0] or left >= high[0] or top <= low[1] or bottom >= high[1], label.text


def test_job_in_inches_names_no_millimetres_and_the_other_way_round(front: Front) -> None:
    words = words_of(all_pieces(front))
    other = r"\bmm\b" if front.job.unit is Unit.INCH else r"\d in\b"
    assert not re.search(other, words)
    assert (" in" if front.job.unit is Unit.INCH else " mm") in words


def test_sheets_of_some_strips_are_about_their_door_alone() -> None:
    front = front_of("hall")
    words = words_of(all_pieces(front, (2,)))
    assert "back of door 1" in words
    assert "back of door 2" not in words
    assert {number for piece in all_pieces(front, (2,)) for number in piece.strips} == {2}


def test_while_carving_no_tip_is_nearer_to_the_face_than_the_check_allows() -> None:
    """By the check: cover and what a cut may go too deep; the longest of the stock that stays so deep and bites."""
    front = small_front(front={"width": 200, "height": 400}, wood={"blank": 26, "floor": 9})
    job = front.job
    deep = job.limit("screw_cover").value + job.limit("screw_overcut").value
    screws = [one for door in front.layout.doors for one in drillings(front, door)]
    stock = sorted(set(lengths_sold(job)))
    kinds = set()
    for one in screws:
        fitting = [
            length
            for length in stock
            if length <= one.length
            and one.cover + one.length - length >= deep - 1e-6
            and one.bite - (one.length - length) >= job.limit("bite_least").value - 1e-6
        ]
        assert one.carving == (max(fitting) if fitting else None)
        kinds.add("after" if one.carving is None else "same" if one.carving == one.length else "shorter")
    assert "shorter" in kinds
    (caution,) = {one.caution for one in check_front(front, ["screws"]) if one.topic == "screws"}
    near = sum(one.cover < deep - 1e-4 for one in screws)
    assert f"{near} of these ha" in caution
    words = while_carving(job, screws)
    said = [int(number) for number in re.findall(r"(\d+) (?:shorter|put in after)", words)]
    assert sum(said) == near


def test_a_front_that_takes_no_screws_is_nowhere_held_by_them() -> None:
    front = small_front(strips={"count": 40}, front={"width": 200, "height": 300})
    assert not any(front.measures_of(number).screws.screws for number in front.numbers)
    pack = pack_of(front, Order(sheet_paper("A4"), kinds=(Kind.FIRST, Kind.BOARDS)))
    words = " ".join(label.text for _, drawing in pack.drawings() for label in drawing.labels)
    assert "Screws from behind" not in words
    assert "screws from behind" not in words
    assert "no strip takes two screws" in words
