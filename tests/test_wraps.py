"""Fold-round templates and face sheets: folded round the strip their lines lie on the surface; nothing is mirrored."""

from __future__ import annotations

import itertools

import numpy as np
import pytest
from helpers import small_front
from hypothesis import given, settings
from hypothesis import strategies as st

from facade.drawing import Pen
from facade.front import Front
from facade.lengths import Unit
from facade.measuring.grain import Line
from facade.slicer import edge_heights, stations
from facade.templates import faces, sides, wraps
from facade.templates.contours import contours, spacing_of
from facade.templates.piece import Asked, Piece, Room
from facade.templates.sides import GUTTER_RIGHT
from facade.templates.windows import Window, windows
from facade.templates.wraps import GUTTER_LEFT

ROOM = Room(180.0, 163.0)
sizes, seeds = st.floats(40, 200), st.integers(0, 99)


def front_of(size: float = 70, seed: int = 1, **changes: object) -> Front:
    wide = {
        "front": {"width": 204, "height": 330},
        "strips": {"count": 10},
        "layers": [{"kind": "hills", "size": size, "seed": seed}],
    }
    return small_front(**(wide | changes))


def window_of(front: Front, piece: Piece, room: Room = ROOM) -> Window:
    length = front.layout.strip(piece.strips[0]).length
    part = int(piece.name.rpartition(" ")[2])
    return windows(length, front.job.station, room.width - GUTTER_LEFT - GUTTER_RIGHT, front.job.ruler)[part - 1]


def wraps_of(front: Front, *strips: int) -> list[Piece]:
    return list(wraps.pieces(Asked(front, ROOM, strips)))


def folded(front: Front, piece: Piece, places: np.ndarray) -> np.ndarray:
    """Return where places of the sheet end up when it is folded back round the blank by 90 degrees along both folds.

    x to the right of the strip's left side, y from its top, z above its back; the sheet lies on the face, its TOP end at the
    strip's, seen with TOP at the left: across the sheet then runs from the strip's left to its right, upwards on paper.
    """
    folds = sorted({float(path.runs[0, 0, 1]) for path in piece.draw().paths if path.pen is Pen.FOLD})
    blank, width = front.job.wood.blank, folds[1] - folds[0]
    from_top = places[:, 0] - GUTTER_LEFT + window_of(front, piece).start
    across = places[:, 1]
    below, above = np.maximum(folds[0] - across, 0.0), np.maximum(across - folds[1], 0.0)
    return np.column_stack([np.clip(across - folds[0], 0.0, width), from_top, blank - below - above])


@settings(max_examples=12)
@given(sizes, seeds, st.integers(1, 10))
def test_folded_round_the_strip_finished_lines_lie_on_the_surface(size: float, seed: int, number: int) -> None:
    front = front_of(size, seed)
    place = front.layout.strip(number)
    for piece in wraps_of(front, number):
        for name, x in (("left-finished", place.left), ("right-finished", place.right)):
            line = next(path.runs[0] for path in piece.draw().paths if path.name == name)
            on_strip = folded(front, piece, line)
            assert np.allclose(on_strip[:, 0], x - place.left, atol=1e-9)
            heights = front.surface.at(np.array([[x]]), (place.top - on_strip[:, 1])[:, None])[:, 0]
            assert np.abs(on_strip[:, 2] - heights).max() < 0.02


@settings(max_examples=8)
@given(sizes, seeds)
def test_folded_round_the_strip_depth_lines_lie_on_the_surface(size: float, seed: int) -> None:
    front = front_of(size, seed)
    place, step = front.layout.strip(4), spacing_of(front).step
    for piece in wraps_of(front, 4):
        for path in (path for path in piece.draw().paths if path.name == "depth"):
            on_strip = folded(front, piece, path.runs[0])
            depths = front.job.wood.blank - surface_along(
                front, place.left + on_strip[:, 0], place.top - on_strip[:, 1]
            )
            assert np.abs(depths - np.rint(depths[0] / step) * step).max() < 0.05


def surface_along(front: Front, x: np.ndarray, y: np.ndarray) -> np.ndarray:
    """Return the heights at single places."""
    return np.array(
        [float(front.surface.at(np.array([[a]]), np.array([[b]]))[0, 0]) for a, b in zip(x, y, strict=True)]
    )


def test_a_wrap_and_the_side_templates_show_the_same_lines() -> None:
    front = front_of()
    piece = wraps_of(front, 3)[0]
    window = window_of(front, piece)
    lines = {path.name: path.runs[0] for path in piece.draw().paths if path.name}
    left = {
        path.name: path.runs[0]
        for path in sides.side_piece(front, 3, sides.Side.LEFT, window).draw().paths
        if path.name
    }
    back = left["left-back"][0, 1]
    assert np.allclose(left["left-carve"][:, 1] - back, lines["left-carve"][:, 1] - lines["left-back"][0, 1])
    assert np.allclose(left["left-carve"][:, 0] - sides.GUTTER_LEFT, lines["left-carve"][:, 0] - GUTTER_LEFT)


def test_facing_sides_of_neighbours_laid_together_differ_by_slope_times_gap() -> None:
    """Common practice: hold neighbours together, and the two lines nearly agree."""
    front = front_of()
    right, left = wraps_of(front, 3)[0], wraps_of(front, 4)[0]
    a = folded(front, right, next(path.runs[0] for path in right.draw().paths if path.name == "right-finished"))
    b = folded(front, left, next(path.runs[0] for path in left.draw().paths if path.name == "left-finished"))
    apart = np.abs(np.interp(a[:, 1], b[:, 1], b[:, 2]) - a[:, 2]).max()
    x = np.linspace(front.layout.strip(3).right, front.layout.strip(4).left, 20)
    heights = front.surface.at(x[None, :], np.linspace(0, 330, 300)[:, None])
    slope = np.abs(np.diff(heights, axis=1) / np.diff(x)).max()
    assert apart <= slope * (x[-1] - x[0]) + 0.02


@settings(max_examples=8)
@given(sizes, seeds)
def test_arrows_run_downhill_and_meet_only_in_hollows(size: float, seed: int) -> None:
    front = front_of(size, seed)
    place = front.layout.strip(2)
    for piece in wraps_of(front, 2):
        for name, x in (("strokes-left", place.left), ("strokes-right", place.right)):
            shafts = [
                run
                for path in piece.draw().paths
                if path.name == name
                for run in path.runs
                if abs(run[0, 0] - run[1, 0]) > 2.5
            ]
            from_top = (
                np.array(shafts)[..., 0] - GUTTER_LEFT + window_of(front, piece).start if shafts else np.empty((0, 2))
            )
            heights = [surface_along(front, np.full(2, x), place.top - ends) for ends in from_top]
            assert all(start >= end - 0.06 for start, end in heights)
            for (first, _), (second, _) in itertools.pairwise(
                sorted((min(ends), tuple(ends)) for ends in from_top.tolist())
            ):
                assert second >= first


def test_arrows_are_those_of_the_grain() -> None:
    front = front_of()
    strokes = [stroke for stroke in front.measures_of(5).grain.strokes if stroke.line is Line.LEFT]
    room = Room(900.0, 163.0)
    (piece,) = wraps.pieces(Asked(front, room, (5,)))
    runs = np.concatenate([path.runs for path in piece.draw().paths if path.name == "strokes-left"])
    shafts = runs[np.abs(runs[:, 0, 0] - runs[:, 1, 0]) > 2.5]
    drawn = sorted((float(run[0, 0]) - GUTTER_LEFT, float(run[1, 0]) - GUTTER_LEFT) for run in shafts)
    wanted = sorted((one.start, one.end) for one in strokes if abs(one.end - one.start) >= 7.0)
    assert np.allclose(drawn, wanted, atol=1.3)


def test_no_screw_zones_and_screws_are_where_they_were_planned() -> None:
    front = front_of()
    plan = front.measures_of(5).screws
    (piece,) = wraps.pieces(Asked(front, Room(900.0, 163.0), (5,)))
    barred = [path.runs for path in piece.draw().paths if path.name == "no-screw"]
    drawn = sorted((float(run[0, 0]) - GUTTER_LEFT, float(run[1, 0]) - GUTTER_LEFT) for runs in barred for run in runs)
    assert np.allclose(drawn, [one for one in sorted(plan.barred) if one[1] - one[0] > 0.5], atol=1e-6)
    screws = [path.runs for path in piece.draw().paths if path.name == "screws"]
    if plan.screws:
        middles = sorted({round(float(run[:, 0].mean()) - GUTTER_LEFT, 3) for runs in screws for run in runs})
        assert np.allclose(middles, [screw.from_top for screw in plan.screws], atol=1e-3)


# Contours and face sheets.


@settings(max_examples=10)
@given(sizes, seeds)
def test_contours_lie_at_their_depth(size: float, seed: int) -> None:
    front = front_of(size, seed)
    place, spacing = front.layout.strip(6), spacing_of(front)
    for one in contours(front, 6, 25.0, 300.0, spacing):
        sample = one.places[:: max(1, len(one.places) // 12)]
        heights = surface_along(front, place.left + sample[:, 0], place.top - sample[:, 1])
        assert np.abs(front.job.wood.blank - heights - one.depth).max() < 0.05
        assert one.depth == pytest.approx(one.index * spacing.step)
        assert one.places[:, 0].min() >= -1e-9
        assert one.places[:, 0].max() <= place.width + 1e-9


def test_lines_are_spaced_in_the_jobs_unit() -> None:
    assert spacing_of(front_of()).step == 2.0
    inch = small_front(
        unit="in",
        front={"width": 8, "height": 5},
        wood={"species": "white ash", "blank": 0.875, "floor": 0.375},
        layers=[{"kind": "hills", "size": 3}],
    )
    assert inch.job.unit is Unit.INCH
    assert spacing_of(inch).step == pytest.approx(25.4 / 16)


def tiles_of(front: Front, room: Room) -> list[Piece]:
    everyone = tuple(range(1, front.count + 1))
    return [piece for piece in faces.pieces(Asked(front, room, everyone)) if piece.strips]


@settings(max_examples=12)
@given(st.floats(120, 900), st.floats(110, 400), st.floats(120, 400))
def test_every_station_of_every_strip_is_whole_on_some_tile(length: float, wide: float, high: float) -> None:
    front = small_front(
        front={"width": 204, "height": length}, strips={"count": 10}, layers=[{"kind": "hills", "size": 90}]
    )
    room = Room(wide, high)
    printed: dict[int, set[str]] = {number: set() for number in range(1, 11)}
    for piece in tiles_of(front, room):
        assert piece.width <= wide + 1e-6
        assert piece.height <= high + 1e-6
        figures = {label.text for label in piece.draw().labels}
        for number in piece.strips:
            printed[number] |= figures
    wanted = {front.job.ruler.bare(mark) for mark in stations(length, front.job.station).tolist()[:-2]}
    assert all(wanted <= printed[number] for number in printed)


def test_lines_on_both_sheets_of_an_overlap_agree() -> None:
    front = front_of()
    upper, lower = tiles_of(front, Room(400.0, 200.0))[:2]
    places = [
        np.concatenate([path.runs[0] for path in piece.draw().paths if path.name == "depth"])
        for piece in (upper, lower)
    ]
    found = windows(330.0, front.job.station, 200.0 - 18.5, front.job.ruler)
    on_front = []
    for points, piece, window in zip(places, (upper, lower), found, strict=False):
        from_top = window.start + (piece.height - 12.5 - points[:, 1])
        on_front.append(
            np.column_stack([points[:, 0], from_top])[(from_top > found[1].start + 1) & (from_top < found[0].end - 1)]
        )
    from scipy.spatial import cKDTree

    assert len(on_front[0]) > 20
    assert cKDTree(on_front[1]).query(on_front[0])[0].max() < 0.6
    for points in on_front:
        heights = surface_along(
            front,
            points[:, 0] - faces._aside(front) + front.layout.strip(1).left,
            front.layout.strip(1).top - points[:, 1],
        )
        depths = (front.job.wood.blank - heights) / spacing_of(front).step
        assert np.abs(depths - np.rint(depths)).max() < 0.03


def test_strips_stand_on_a_tile_as_they_hang() -> None:
    front = front_of()
    (piece,) = tiles_of(front, Room(400.0, 500.0))
    for number in range(1, 11):
        run = next(path.runs for path in piece.draw().paths if path.name == f"strip-{number}")
        place = front.layout.strip(number)
        assert run[0, 0, 0] - faces._aside(front) == pytest.approx(place.left - front.layout.strip(1).left, abs=1e-9)
        assert run[1, 0, 0] - run[0, 0, 0] == pytest.approx(place.width, abs=1e-9)


def test_edge_heights_and_wraps_agree_at_stations() -> None:
    front = front_of()
    piece = wraps_of(front, 1)[0]
    window = window_of(front, piece)
    depths = front.job.wood.blank - np.stack(edge_heights(front.surface, front.layout.strip(1), window.stations))
    words = [label.text for label in piece.draw().labels]
    for depth in depths.ravel().tolist()[::3]:
        assert front.job.ruler.number(depth) in words
