"""Position stick and story stick: every edge from one end, and gaps spread anew from what was measured."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest
from helpers import as_built, small_front
from hypothesis import given
from hypothesis import strategies as st

from facade.doors.spreading import spread
from facade.errors import JobError
from facade.front import Front
from facade.slicer import stations
from facade.templates import sticks
from facade.templates.piece import Asked, Piece, Room

ROOM = Room(250.0, 160.0)


def door_of(count: int, width: float = 18.0, gap: float = 3.0, doors: int = 1) -> Front:
    each = count // doors
    door = each * width + (each - 1) * gap
    return small_front(
        front={"width": doors * door + (doors - 1) * gap, "height": 300, "doors": doors, "space": gap},
        strips={"count": count, "width": width, "gap": gap},
    )


@given(count=st.integers(2, 60), width=st.floats(10, 40), gap=st.floats(1.5, 6), share=st.floats(0.995, 1.005))
def test_widths_and_gaps_add_up_to_the_door_whatever_was_measured(
    count: int, width: float, gap: float, share: float
) -> None:
    front = door_of(count, width, gap)
    (found,) = spread(as_built(front, stack=10 * width * share))
    door = front.layout.doors[0]
    gaps = found.left[1:] - found.right[:-1]
    assert np.allclose(found.right - found.left, width * share, atol=1e-9)
    assert np.ptp(gaps) < 1e-9
    assert found.left[0] + (found.right - found.left).sum() + gaps.sum() + door.width - found.right[
        -1
    ] == pytest.approx(door.width, abs=1e-9)
    assert found.right[-1] == pytest.approx(front.layout.strip(count).right - door.left, abs=1e-9)


def test_a_stack_of_180_9_and_spacers_of_30_2_put_the_last_edge_on_its_place() -> None:
    front = door_of(43)
    (found,) = spread(as_built(front, stack=180.9, spacers=30.2))
    designed = front.layout.strip(43).right - front.layout.doors[0].left
    mounted = found.left[0] + 43 * 18.09 + 42 * found.gap
    assert mounted == pytest.approx(designed, abs=0.1)
    said = " ".join(found.sentences)
    assert "18.09 mm each instead of 18 mm" in said
    assert "Gap 2.91 mm instead of 3 mm" in said
    # 42 spacers of 3.02 mm instead of 2.9079 mm.
    assert "4.7 mm beyond" in said


def test_spacers_alone_are_compared_with_the_gap() -> None:
    (found,) = spread(as_built(door_of(10), spacers=33.0))
    # 9 gaps, each 0.3 mm too wide.
    assert "2.7 mm beyond" in " ".join(found.sentences)
    assert "plane them to 3 mm" in " ".join(found.sentences)


@given(st.integers(1, 43))
def test_with_a_strip_missing_the_last_one_lands_on_the_edge(lost: int) -> None:
    front = door_of(43)
    (found,) = spread(as_built(front, missing=(lost,)))
    assert lost not in found.numbers
    assert len(found.numbers) == 42
    assert found.left[0] == pytest.approx(front.layout.strip(1).left, abs=1e-9)
    assert found.right[-1] == pytest.approx(front.layout.strip(43).right, abs=0.3)
    assert found.gap == pytest.approx((903.0 - 3 - 42 * 18 - 0.0 - (903 - 3 - 43 * 18 - 42 * 3)) / 41, abs=0.2)


def test_a_missing_strip_leaves_other_doors_as_they_are() -> None:
    front = door_of(20, doors=2)
    first, second = spread(as_built(front, missing=(3,)))
    assert len(first.numbers) == 9
    assert second.sentences == ()
    assert second.numbers == tuple(range(11, 21))


def test_how_far_strips_hang_from_where_they_were_carved_is_told_truly() -> None:
    front = door_of(12)
    (found,) = spread(as_built(front, missing=(5,)))
    moved = max(
        abs(left - front.layout.strip(number).left) for left, number in zip(found.left, found.numbers, strict=True)
    )
    assert f"No strip moves more than {front.job.ruler.fine(moved, 1)}" in " ".join(found.sentences)


@pytest.mark.parametrize(
    ("state", "said"),
    [
        ({"stack": 18.0}, r"ten strips of 18 mm \(got 18 mm\)"),
        ({"stack": 198.5}, r"ten strips of 18 mm \(got 198.5 mm\)"),
        ({"stack": float("nan")}, "`as_built.stack`"),
        ({"spacers": 3.0}, "ten spacers"),
        ({"spacers": 300.0}, "ten spacers"),
        ({"missing": tuple(range(1, 43))}, "leaves one strip of 43"),
        ({"missing": (44,)}, "strip 44 is not there"),
        ({"missing": tuple(range(1, 44))}, "leaves no strip of 43 on door 1"),
    ],
)
def test_what_cannot_be_is_refused(state: dict[str, Any], said: str) -> None:
    with pytest.raises(JobError, match=said):
        as_built(door_of(43), **state)


def test_strips_that_close_the_gaps_are_refused_with_the_cure() -> None:
    with pytest.raises(JobError, match="plane the strips to"):
        as_built(door_of(43, gap=1.0), stack=189.5)


def sticks_of(front: Front, room: Room = ROOM, state: dict[str, Any] | None = None) -> list[Piece]:
    front = as_built(front, **state or {})
    return list(sticks.pieces(Asked(front, room, front.numbers)))


def marks_on(piece: Piece, name: str) -> np.ndarray:
    """Return the places of marks on a piece, mm."""
    return np.sort(
        np.concatenate([path.runs[:, 0, 0] for path in piece.draw().paths if path.name == name] or [np.empty(0)])
    )


def figures_near(piece: Piece) -> list[tuple[float, float]]:
    """Return the figures printed on a piece, and where they stand."""
    return [
        (float(label.text), label.x)
        for label in piece.draw().labels
        if label.text.replace(".", "", 1).isdigit() and "." in label.text
    ]


@pytest.mark.parametrize("room", [Room(250.0, 160.0), Room(120.0, 200.0), Room(5000.0, 560.0)])
def test_every_edge_is_on_the_stick_at_its_place_from_one_end(room: Room) -> None:
    """The figure beside a mark says which edge it is; all marks of a length then lie on their edges, moved by one distance."""
    front = door_of(43)
    strips = front.layout.strips
    edges = {
        "left-edges": np.array([one.left for one in strips]),
        "right-edges": np.array([one.right for one in strips]),
    }
    seen: dict[str, set[int]] = {name: set() for name in edges}
    lengths = [piece for piece in sticks_of(front, room) if piece.name.startswith("position stick")]
    for piece in lengths:
        figure, at = min(figures_near(piece), key=lambda one: one[1])
        every = np.concatenate(list(edges.values()))
        marks = np.concatenate([marks_on(piece, name) for name in edges])
        start = every[np.abs(every - figure).argmin()] - marks[np.abs(marks - at).argmin()]
        for name, its in edges.items():
            for mark in marks_on(piece, name) + start:
                nearest = int(np.abs(its - mark).argmin())
                assert abs(its[nearest] - mark) < 0.005
                seen[name].add(nearest)
    assert all(found == set(range(43)) for found in seen.values())


def test_every_station_is_on_the_story_stick() -> None:
    front = door_of(8)
    stories = [piece for piece in sticks_of(front) if "stick, length" in piece.name and piece.name.startswith("story")]
    figures = {label.text for piece in stories for label in piece.draw().labels}
    assert {front.job.ruler.bare(mark) for mark in stations(300.0, front.job.station).tolist()} <= figures
    for piece in stories:
        assert np.allclose(np.diff(marks_on(piece, "stations")), 25.0, atol=1e-6)


def test_every_fifth_strip_is_a_checkpoint() -> None:
    bold = {
        label.text
        for piece in sticks_of(door_of(12))
        if piece.name.startswith("position")
        for label in piece.draw().labels
        if label.bold
    }
    assert {"5", "10"} <= bold
    assert not {"1", "4", "6", "11"} & bold


def test_doors_that_are_alike_share_a_stick() -> None:
    names = [piece.name for piece in sticks_of(door_of(20, doors=2)) if "position" in piece.name]
    assert all("doors 1 and 2" in name for name in names)


def test_what_was_measured_is_said_on_the_sheet() -> None:
    words = " ".join(
        label.text for piece in sticks_of(door_of(43), state={"stack": 180.9}) for label in piece.draw().labels
    )
    assert "180.9 mm" in words
    assert "18.09" in words
