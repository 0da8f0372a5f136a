"""Door boards and the carving board: seen from the back, every screw in its strip, clamps away from what is carved."""

from __future__ import annotations

import numpy as np
import pytest
from helpers import small_front

from facade.front import Front
from facade.templates import boards
from facade.templates.boards import CLAMP_CLEAR, carving_board, from_behind, from_board_top
from facade.templates.piece import Asked, Piece, Room

ROOM = Room(180.0, 250.0)


def front_of(**changes: object) -> Front:
    wide = {
        "front": {"width": 420, "height": 500, "doors": 2, "reveals": {"left": 2, "right": 2, "top": 3, "bottom": 5}},
        "strips": {"count": 18},
        "wood": {"species": "white ash", "blank": 26, "floor": 12},
        "layers": [{"kind": "hills", "size": 120}],
    }
    return small_front(**(wide | changes))


def pieces_of(front: Front) -> list[Piece]:
    return list(boards.pieces(Asked(front, ROOM, tuple(range(1, front.count + 1)))))


def words_of(front: Front) -> str:
    return " ".join(label.text for piece in pieces_of(front) for label in piece.draw().labels)


def test_the_drawing_from_behind_is_the_front_turned_round() -> None:
    front = front_of()
    for door in front.layout.doors:
        piece = next(piece for piece in pieces_of(front) if piece.name == f"door {door.number} from the back")
        paths = {path.name: path.runs for path in piece.draw().paths if path.name}
        low, high = paths["board"][0].min(axis=0), paths["board"][0].max(axis=0)
        scale = door.width / (high[0] - low[0])
        middles = np.unique(np.round(paths["screws"].mean(axis=1), 6), axis=0)
        drawn = {(round((x - low[0]) * scale, 3), round((high[1] - y) * scale, 3)) for x, y in middles.tolist()}
        planned = set()
        for number in range(door.first_strip, door.last_strip + 1):
            place = front.layout.strip(number)
            for screw in front.measures()[number - 1].screws.screws:
                # Back to the front's own coordinates: the strip's middle line, and the screw's place from its top.
                across = from_behind(door, (place.left + place.right) / 2)
                assert door.right - across == pytest.approx((place.left + place.right) / 2)
                assert from_board_top(door, place, screw) == pytest.approx(door.top - (place.top - screw.from_top))
                planned.add((round(across, 3), round(from_board_top(door, place, screw), 3)))
        assert drawn == planned


def test_numbers_run_from_right_to_left_seen_from_the_back() -> None:
    front = front_of()
    piece = next(piece for piece in pieces_of(front) if piece.name == "door 1 from the back")
    numbers = sorted((label.x, int(label.text)) for label in piece.draw().labels if label.text.isdigit())
    assert [number for _, number in numbers] == sorted((number for _, number in numbers), reverse=True)
    assert "SEEN FROM THE BACK" in words_of(front)


def test_hinges_are_on_the_other_side_seen_from_the_back() -> None:
    front = front_of()
    for door in front.layout.doors:
        side = front.job.hinge_side(door.number, 2).value
        piece = next(piece for piece in pieces_of(front) if piece.name == f"door {door.number} from the back")
        said = next(label.text for label in piece.draw().labels if "hinges" in label.text)
        assert {"left": "right", "right": "left"}[side] in said
        assert f"at the {side}" not in said


def test_the_table_lists_every_screw() -> None:
    front = front_of()
    show = front.job.ruler.number
    words = words_of(front).split()
    for measures in front.measures():
        door = front.layout.doors[measures.door - 1]
        place = front.layout.strip(measures.number)
        assert show(from_behind(door, (place.left + place.right) / 2)) in words
        for screw in measures.screws.screws:
            assert show(from_board_top(door, place, screw)) in words


def test_screws_are_counted_by_length() -> None:
    front = front_of()
    lengths = [screw.length for measures in front.measures() for screw in measures.screws.screws]
    for length in set(lengths):
        assert f"{lengths.count(length)} of {front.job.ruler.text(length)}" in words_of(front)


def test_strips_without_room_for_screws_are_named() -> None:
    front = front_of(wood={"species": "white ash", "blank": 14, "floor": 5}, fixing={"lengths": [30]})
    none = [measures.number for measures in front.measures() if not measures.screws.screws]
    assert none
    assert "No room for two screws" in words_of(front)


def test_glued_strips_need_no_drilling() -> None:
    words = words_of(front_of(fixing={"by": "glue"}))
    assert "not drilled" in words
    assert "SEEN FROM THE BACK" not in words


@pytest.mark.parametrize("unit", ["mm", "in"])
def test_clamps_and_screws_stay_away_from_what_is_carved(unit: str) -> None:
    """At least 10 mm (common practice)."""
    inch = {
        "front": {"width": 16, "height": 20},
        "strips": {"count": 16},
        "wood": {"species": "white ash", "blank": 1, "floor": 0.5},
    }
    front = front_of(unit=unit, **(inch | {"layers": [{"kind": "hills", "size": 5}]} if unit == "in" else {}))
    size = carving_board(front, front.layout.doors[0])
    piece = next(piece for piece in pieces_of(front) if piece.name == "carving board")
    boxes: dict[str, list[np.ndarray]] = {}
    for path in piece.draw().paths:
        boxes.setdefault(path.name, []).append(path.runs[0])
    board = np.concatenate(boxes["board"])
    scale = size["width"] / np.ptp(board[:, 0])
    carved = np.concatenate(boxes["strip"])
    clamps = np.concatenate(boxes["clamps-outside"])
    for axis in (0, 1):
        assert (carved[:, axis].min() - clamps[:, axis].min()) * scale >= 10.0
        assert (clamps[:, axis].max() - carved[:, axis].max()) * scale >= 10.0
    for name in ("dummy", "end-waste"):
        some = np.concatenate(boxes[name])
        for axis in (0, 1):
            assert (some[:, axis].min() - clamps[:, axis].min()) * scale >= CLAMP_CLEAR[front.job.unit] - 1e-6
            assert (clamps[:, axis].max() - some[:, axis].max()) * scale >= CLAMP_CLEAR[front.job.unit] - 1e-6


def test_end_waste_is_20_to_30_mm_long() -> None:
    """Common practice: so that the disc does not round the ends of the strips."""
    piece = next(piece for piece in pieces_of(front_of()) if piece.name == "carving board")
    size = carving_board(front_of(), front_of().layout.doors[0])
    runs = [path.runs[0] for path in piece.draw().paths if path.name == "end-waste"]
    board = next(path.runs[0] for path in piece.draw().paths if path.name == "board")
    scale = size["width"] / np.ptp(board[:, 0])
    assert all(20 <= np.ptp(run[:, 1]) * scale <= 30 for run in runs)


def test_doors_that_are_alike_share_a_carving_board() -> None:
    assert len([piece for piece in pieces_of(front_of()) if piece.name == "carving board"]) == 1
    assert "doors 1, 2" in words_of(front_of())
