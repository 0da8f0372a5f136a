"""Fold-round templates and face sheets: legible, inside the paper, named where they are cut, lands and pulls where they lie."""

from __future__ import annotations

import itertools

import numpy as np
import pytest
from helpers import small_front
from test_sides import box, overlap

from facade.errors import JobError
from facade.front import Front
from facade.surface import pull_share
from facade.templates import faces, wraps
from facade.templates.contours import outlines_on
from facade.templates.piece import Asked, Piece, Room
from facade.templates.sides import GUTTER_RIGHT
from facade.templates.windows import windows
from facade.templates.wraps import GUTTER_LEFT

UPRIGHT, LYING, ROLL = Room(185.0, 250.5), Room(272.0, 163.0), Room(5050.0, 560.0)
INCH = {
    "unit": "in",
    "front": {"width": 16, "height": 24},
    "strips": {"count": 20},
    "wood": {"species": "white ash", "blank": 0.875, "floor": 0.375},
    "layers": [{"kind": "hills", "size": 5}],
}
FRONTS = {
    "usual": {"front": {"width": 400, "height": 620}, "strips": {"count": 20}},
    "narrow": {"front": {"width": 80, "height": 60}, "strips": {"count": 10}},
    "one strip": {"front": {"width": 45, "height": 500}, "strips": {"count": 1}},
    "low floor": {"front": {"width": 200, "height": 300}, "wood": {"species": "white ash", "blank": 30, "floor": 2}},
    "pulls": {
        "front": {"width": 200, "height": 300},
        "pulls": [{"centre": [100, 150], "size": [60, 30], "depth": 6}],
        "lands": [{"centre": [60, 60], "size": [30, 50], "shape": "ellipse", "height": 14}],
    },
    "inch": INCH,
}


def pieces_of(front: Front, room: Room) -> list[Piece]:
    asked = Asked(front, room, tuple(range(1, front.count + 1)))
    return [*wraps.pieces(asked), *faces.pieces(asked)]


def stretch_of(front: Front, piece: Piece, room: Room) -> tuple[float, float]:
    """Return where a wrap starts and ends, mm from the top."""
    place = front.layout.strip(piece.strips[0])
    found = windows(place.length, front.job.station, room.width - GUTTER_LEFT - GUTTER_RIGHT, front.job.ruler)
    window = found[int(piece.name.rpartition(" ")[2]) - 1]
    return window.start, window.end


@pytest.fixture(scope="module", params=FRONTS)
def front(request: pytest.FixtureRequest) -> Front:
    return small_front(**FRONTS[request.param])


@pytest.mark.parametrize("room", [UPRIGHT, LYING, ROLL], ids=["upright", "lying", "roll"])
def test_no_words_overlap_and_all_stays_on_the_piece(front: Front, room: Room) -> None:
    pieces = pieces_of(front, room)
    for piece in pieces[::3] + [piece for piece in pieces if not piece.strips]:
        drawing = piece.draw()
        boxes = [(label.text, box(label)) for label in drawing.labels]
        assert [(a[0], b[0]) for a, b in itertools.combinations(boxes, 2) if overlap(a[1], b[1])] == []
        for text, (left, right, bottom, top) in boxes:
            assert min(left, bottom) >= -0.01, text
            assert right <= piece.width + 0.01, text
            assert top <= piece.height + 0.01, text
        for path in drawing.paths:
            assert path.runs.min() >= -0.01, path.name
            assert (path.runs.max(axis=(0, 1)) <= np.array([piece.width, piece.height]) + 0.01).all(), path.name


def test_words_are_in_the_jobs_unit_alone(front: Front) -> None:
    words = [f"{label.text} " for piece in pieces_of(front, UPRIGHT) for label in piece.draw().labels]
    other = " in " if front.job.unit.value == "mm" else " mm "
    assert [text for text in words if other in text] == []


def test_every_tile_says_its_stretch_whole(front: Front) -> None:
    ruler, length = front.job.ruler, front.layout.strip(1).length
    for piece in (piece for piece in faces.pieces(Asked(front, UPRIGHT, (1,))) if piece.strips):
        part = int(piece.name.rpartition(".")[2])
        window = windows(length, front.job.station, UPRIGHT.height - 18.5, ruler)[part - 1]
        stretch = f"{ruler.number(window.start, 0)} to {ruler.text(window.end)} from TOP"
        assert any(label.text.endswith(stretch) for label in piece.draw().labels)


def test_a_cut_out_wrap_still_says_what_it_is() -> None:
    """Head and gutter are cut away: strip, side and mark must stand between the two backs as well."""
    front = small_front(**FRONTS["usual"])
    for piece in wraps.pieces(Asked(front, LYING, (7,))):
        drawing = piece.draw()
        backs = {path.name: path.runs[0] for path in drawing.paths if path.name.endswith("-back")}
        low, high = backs["left-back"][0, 1], backs["right-back"][0, 1]
        left = backs["left-back"][:, 0].min()
        kept = [label.text for label in drawing.labels if low < label.y < high and box(label)[0] > left]
        assert any("7 FACE" in text for text in kept)
        start, end = (front.job.ruler.bare(place) for place in stretch_of(front, piece, LYING))
        for side in ("7 LEFT", "7 RIGHT"):
            (name,) = [text for text in kept if side in text]
            assert f"{start} to {end} mm from TOP" in name
            assert front.mark in name


def test_a_wrap_higher_than_the_paper_is_refused_with_the_cure() -> None:
    front = small_front(
        front={"width": 600, "height": 300}, strips={"count": 2}, wood={"species": "white ash", "blank": 50, "floor": 5}
    )
    with pytest.raises(JobError, match="take larger paper"):
        list(wraps.pieces(Asked(front, LYING, (1,))))


def test_outlines_of_pulls_are_those_that_are_carved() -> None:
    front = small_front(**FRONTS["pulls"])
    (pull,) = front.job.pulls
    found = 0
    for place in front.layout.strips:
        (window,) = windows(place.length, 25.0, place.length, front.job.ruler)
        for _, outline in (one for one in outlines_on(front.job, place, window) if one[0] == "pull"):
            x, y = place.left + outline[:, 0], place.top - outline[:, 1]
            inner = (outline[:, 0] > 1e-6) & (outline[:, 0] < place.width - 1e-6)
            towards = np.array(pull.centre) - np.column_stack([x, y])
            for step, wanted in ((0.03, True), (-0.03, False)):
                there = np.column_stack([x, y]) + step * towards
                carved = pull_share(pull, there[:, 0], there[:, 1]) > 0.0
                assert (carved[inner] == wanted).all()
            found += int(inner.sum())
    assert found > 20


def test_lands_and_pulls_stand_on_wraps_tiles_and_the_reduced_sheet_where_strips_have_them() -> None:
    front = small_front(**FRONTS["pulls"])
    (window,) = windows(300.0, 25.0, 300.0, front.job.ruler)
    wanted = {
        place.number: sorted(word for word, _ in outlines_on(front.job, place, window)) for place in front.layout.strips
    }
    assert sum(map(len, wanted.values())) > 4
    for piece in wraps.pieces(Asked(front, ROLL, tuple(wanted))):
        drawn = sorted(path.name for path in piece.draw().paths if path.name in ("land", "pull"))
        assert drawn == wanted[piece.strips[0]]
    for piece in faces.pieces(Asked(front, ROLL, tuple(wanted))):
        drawn = sorted(path.name for path in piece.draw().paths if path.name in ("land", "pull"))
        assert drawn == sorted(itertools.chain.from_iterable(wanted.values()))
