"""Check gauges: they touch the finished face, from end to end, and lie where they say."""

from __future__ import annotations

import itertools

import numpy as np
import pytest
from helpers import small_front
from hypothesis import given, settings
from hypothesis import strategies as st

from facade.front import Front
from facade.templates import gauges
from facade.templates.piece import Asked, Piece, Room, Top
from facade.templates.windows import windows

ROOM = Room(180.0, 250.0)


def front_of(**changes: object) -> Front:
    wide = {"front": {"width": 420, "height": 300, "doors": 2}, "strips": {"count": 18}}
    return small_front(**(wide | changes))


def gauges_of(front: Front, strips: tuple[int, ...] | None = None) -> list[Piece]:
    return list(gauges.pieces(Asked(front, ROOM, strips or tuple(range(1, front.count + 1)))))


def cutting_line(piece: Piece, name: str) -> np.ndarray:
    """Return the line to be cut, (points, 2), without the straight edge."""
    outline = next(path.runs[0] for path in piece.draw().paths if path.name == name)
    return outline[:-2]


@settings(max_examples=15)
@given(size=st.floats(40, 200), seed=st.integers(0, 99), blank=st.sampled_from([20, 30]))
def test_gauges_across_touch_the_face(size: float, seed: int, blank: int) -> None:
    front = front_of(
        wood={"species": "white ash", "blank": blank, "floor": 8},
        layers=[{"kind": "hills", "size": size, "seed": seed}],
    )
    for door in front.layout.doors:
        for station in gauges.chosen_stations(front, door):
            lengths = gauges.door_lengths(front, door, ROOM.width - 2 * gauges.PAD)
            named = [
                piece
                for piece in gauges_of(front)
                if piece.name.startswith(f"gauge across door {door.number} at {front.job.ruler.text(station)},")
            ]
            assert len(named) == len(lengths)
            for length, piece in zip(lengths, named, strict=True):
                line = cutting_line(piece, "across-gauge")
                x = door.left + length.start + line[:, 0] - gauges.PAD
                level = line[:, 1] + gauges.base(front)
                # Looked at between the corners of the line too.
                between = np.linspace(x[0], x[-1], 997)
                face = front.surface.at(between[None, :], np.array([[door.top - station]]))[0]
                assert np.abs(np.interp(between, x, level) - face).max() < 0.02
                assert level.min() >= front.surface.floor - 1e-6


@settings(max_examples=10)
@given(size=st.floats(40, 200), seed=st.integers(0, 99))
def test_gauges_along_touch_the_middle_line(size: float, seed: int) -> None:
    front = front_of(layers=[{"kind": "hills", "size": size, "seed": seed}])
    along = [piece for piece in gauges_of(front) if piece.strips]
    assert along
    for piece in along:
        place = front.layout.strip(piece.strips[0])
        part = int(piece.name.rpartition(" ")[2])
        window = windows(place.length, front.job.station, ROOM.width - 2 * gauges.PAD, front.job.ruler)[part - 1]
        line = cutting_line(piece, "along-gauge")
        from_top = window.start + line[:, 0] - gauges.PAD
        between = np.linspace(from_top[0], from_top[-1], 997)
        middle = np.array([[(place.left + place.right) / 2]])
        face = front.surface.at(middle, (place.top - between)[:, None])[:, 0]
        assert np.abs(np.interp(between, from_top, line[:, 1] + gauges.base(front)) - face).max() < 0.02
        assert piece.top is Top.LEFT


def test_lengths_of_a_door_overlap_and_reach_both_its_edges() -> None:
    front = front_of()
    for door in front.layout.doors:
        lengths = gauges.door_lengths(front, door, 120.0)
        assert lengths[0].start == 0
        assert lengths[-1].end == pytest.approx(door.width)
        assert all(after.start < before.end for before, after in itertools.pairwise(lengths))


def test_a_single_strip_gets_no_gauge_across() -> None:
    assert all(piece.strips == (3,) for piece in gauges_of(front_of(), (3,)))


def test_left_is_left_seen_from_the_bottom_end() -> None:
    for piece in (piece for piece in gauges_of(front_of()) if not piece.strips):
        labels = {label.text: label.x for label in piece.draw().labels}
        assert labels["LEFT"] < labels["RIGHT"]
        numbers = [(int(text), x) for text, x in labels.items() if text.isdigit()]
        assert [x for _, x in sorted(numbers)] == sorted(x for _, x in numbers)
