"""Ways of work: which sheets each needs, that they are told before anything is written, and how little paper they take."""

from __future__ import annotations

import itertools
import json
from pathlib import Path

import numpy as np
import pytest
from helpers import a_job, small_front, small_job
from test_paper import _toml, front_in

from facade.cli import main
from facade.front import Front, build_front
from facade.job import Way, make_job, read_job, settings_of
from facade.paper import Order, pack_of, usual_order
from facade.presets import presets_folder
from facade.printing.papers import sheet_paper
from facade.templates.contours import contours, falls, spacing_of
from facade.templates.pack import TEMPLATES, Pack
from facade.templates.packing import extent
from facade.templates.piece import Kind, Lines
from facade.templates.ways import SHEETS_OF, sheets_of, sheets_of_strips, way_in_words

EVERY = {Kind.FIRST, Kind.CALIBRATION, Kind.STICKS, Kind.LISTS}


def hall(**changes: object) -> Front:
    return build_front(make_job(settings_of((presets_folder() / "hall-cabinet.toml").read_text("utf-8")) | changes))


def kinds_of(pack: Pack) -> list[Kind]:
    return list(dict.fromkeys(sheet.kind for sheet in pack.sheets))


@pytest.mark.parametrize(
    ("changes", "way"),
    [
        ({}, Way.SAWN_SIDES),
        ({"carving": {"board": True}}, Way.AS_A_SET),
        ({"carving": {"packed": True}}, Way.AS_A_SET),
        ({"machine": {"strips": 9}}, Way.MACHINE),
        ({"machine": {"strips": 9}, "work": {"way": "panel first"}}, Way.PANEL_FIRST),
        ({"carving": {"board": True}, "work": {"way": "sawn sides"}}, Way.SAWN_SIDES),
    ],
)
def test_the_way_is_the_jobs_own_or_follows_from_what_else_it_says(changes: dict[str, object], way: Way) -> None:
    job = small_job(**changes)
    assert job.way is way
    assert way_in_words(job).startswith(f"{way.value}, ")


@pytest.mark.parametrize("way", [way.value for way in Way])
def test_the_way_is_no_part_of_the_design(way: str) -> None:
    plain, other = small_job(), small_job(work={"way": way})
    assert other.design() == plain.design()
    assert small_front(work={"way": way}).mark == small_front().mark


def test_a_way_that_is_none_is_refused_with_the_ways_there_are() -> None:
    from helpers import refusal

    said = refusal(a_job(work={"way": "by hand"}))
    assert "work.way" in said
    assert all(way.value in said for way in Way)


def common_practice() -> dict[Way, tuple[set[Kind], set[Kind]]]:
    """Return which sheets a way cannot do without, and which it has no use for (common practice)."""
    return {
        Way.AS_A_SET: ({Kind.FACES, Kind.HOLES, Kind.GAUGES, Kind.BOARDS}, {Kind.SIDES, Kind.WRAPS}),
        Way.SAWN_SIDES: ({Kind.SIDES, Kind.GAUGES, Kind.BOARDS}, {Kind.WRAPS, Kind.FACES, Kind.HOLES}),
        Way.PANEL_FIRST: ({Kind.FACES, Kind.HOLES, Kind.GAUGES, Kind.BOARDS}, {Kind.SIDES, Kind.WRAPS}),
        Way.MACHINE: ({Kind.GAUGES, Kind.BOARDS}, {Kind.SIDES, Kind.WRAPS, Kind.FACES, Kind.HOLES}),
    }


@pytest.mark.parametrize("way", list(Way))
def test_a_pack_has_the_sheets_of_its_way_alone(way: Way) -> None:
    front = small_front(work={"way": way.value})
    kinds = set(kinds_of(pack_of(front, usual_order(front))))
    needed, useless = common_practice()[way]
    assert kinds == set(SHEETS_OF[way])
    assert kinds >= EVERY | needed
    assert not kinds & useless


def test_a_strip_alone_has_its_sides_whatever_the_way() -> None:
    for way in Way:
        assert {Kind.SIDES, Kind.OFFSETS} <= set(sheets_of_strips(small_job(work={"way": way.value})))


@pytest.mark.parametrize("way", [Way.PANEL_FIRST, Way.MACHINE])
def test_what_is_carved_otherwise_has_no_carving_board(way: Way) -> None:
    def words(front: Front) -> str:
        pack = pack_of(front, Order(sheet_paper("A4"), kinds=(Kind.BOARDS,)))
        return " ".join(label.text for _, drawing in pack.drawings() for label in drawing.labels)

    assert "arving board" in words(small_front())
    assert "arving board" not in words(small_front(work={"way": way.value}))
    assert "arving board" in words(small_front(work={"way": way.value}, carving={"board": True}))


# How much paper.


def test_a_hall_cabinet_takes_less_than_90_sheets() -> None:
    front = hall()
    assert len(pack_of(front, usual_order(front)).sheets) < 90


@pytest.mark.parametrize("way", list(Way))
@pytest.mark.parametrize("paper", ["A4", "A3"])
def test_no_sheet_is_under_a_quarter_full_but_the_last_of_its_kind(way: Way, paper: str) -> None:
    front = hall(work={"way": way.value})
    pack = pack_of(front, Order(sheet_paper(paper), kinds=sheets_of(front.job)))
    for kind in kinds_of(pack):
        # Where TOP is elsewhere a new sheet must be begun.
        of_kind = [sheet for sheet in pack.sheets if sheet.kind is kind]
        inner = [one for one, following in itertools.pairwise(of_kind) if one.top is following.top]
        for sheet in inner:
            room = sheet.page.room
            width, height = extent(sheet.placed)
            assert width * height >= 0.25 * room.width * room.height, (kind, sheet.number)


def test_left_and_right_of_a_stretch_are_on_one_sheet() -> None:
    front = hall()
    pack = pack_of(front, Order(sheet_paper("A4"), kinds=(Kind.SIDES,)))
    homes: dict[str, set[int]] = {}
    for sheet in pack.sheets:
        for one in sheet.placed:
            homes.setdefault(one.piece.together, set()).add(sheet.number)
    assert len(homes) == sum(len(sheet.placed) for sheet in pack.sheets) // 2
    assert all(len(home) == 1 for home in homes.values())


def test_the_share_of_paper_is_told_with_the_least_that_area_allows() -> None:
    from facade.paper import use_words

    pack = pack_of(hall(), Order(sheet_paper("A4"), kinds=(Kind.SIDES,)))
    rooms = [sheet.page.room.width * sheet.page.room.height for sheet in pack.sheets]
    pieces = sum(one.piece.width * one.piece.height for sheet in pack.sheets for one in sheet.placed)
    words = use_words(pack)
    assert f"{pieces / sum(rooms):.0%}" in words
    least = int(words.rpartition("need ")[2].partition(" ")[0])
    assert pieces / max(rooms) <= least < pieces / max(rooms) + 1
    assert least <= len(pack.sheets)


# A wall of many doors.


def wall_settings() -> dict[str, object]:
    return a_job(front={"width": 600, "height": 130, "doors": 6}, strips={"count": 18})


@pytest.fixture
def wall(tmp_path: Path) -> Path:
    path = tmp_path / "wall.toml"
    path.write_text("\n".join(_toml(wall_settings())), "utf-8")
    return path


def test_a_wall_is_printed_one_door_at_a_time() -> None:
    front = build_front(make_job(wall_settings()))
    pack = pack_of(front, usual_order(front))
    about = {number for sheet in pack.sheets for number in sheet.strips}
    first = front.layout.doors[0]
    # A joint to the next door is felt from both its strips.
    assert about - {first.last_strip + 1} == set(range(1, first.last_strip + 1))
    assert set(kinds_of(pack)) == set(sheets_of(front.job))


def test_doors_together_print_what_each_needs() -> None:
    front = build_front(make_job(wall_settings()))

    def names(*doors: int) -> set[str]:
        pack = pack_of(front, Order(sheet_paper("A4"), kinds=(Kind.GAUGES, Kind.SIDES, Kind.BOARDS), doors=doors))
        return {one.piece.name for sheet in pack.sheets for one in sheet.placed}

    alone = set().union(*(names(number) for number in range(1, 7)))
    assert {name for name in names() if name.startswith(("gauge", "strip"))} == {
        name for name in alone if name.startswith(("gauge", "strip"))
    }


def test_the_count_is_told_before_anything_is_written(
    wall: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    main(["paper", str(wall), "--out", str(tmp_path)])
    out = capsys.readouterr().out
    front = build_front(read_job(wall))
    whole, door = (
        pack_of(front, Order(sheet_paper("A4"), kinds=sheets_of(front.job))),
        pack_of(front, usual_order(front)),
    )
    assert out.startswith(f"Paper: {len(door.sheets)} sheets of A4, or ")
    assert f"{len(whole.sheets)} sheets of A4 in all" in out
    before = out.partition(", mark ")[0]
    assert "Way of work: sawn sides" in before
    for kind in kinds_of(door):
        count = sum(sheet.kind is kind for sheet in door.sheets)
        assert f"{count:>4}  " in before
        assert TEMPLATES[kind].title in before
    assert len(list((tmp_path / "wall" / "paper").glob("*.svg"))) == len(door.sheets)


def test_a_door_or_all_of_them_can_be_asked_for(wall: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    main(["paper", str(wall), "--out", str(tmp_path), "--door", "3", "--json"])
    said = json.loads(capsys.readouterr().out)
    assert said["folder"] == str(tmp_path / "wall-door-3")
    assert main(["paper", str(wall), "--out", str(tmp_path), "--door", "9"]) == 2
    assert "door 9 is not there: this front has doors 1 to 6" in capsys.readouterr().err
    main(["paper", str(wall), "--out", str(tmp_path), "--door", "all", "--only", "sticks", "--json"])
    assert "boards" not in capsys.readouterr().out


def test_a_build_of_a_wall_says_how_much_paper_it_makes(
    wall: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    main(["build", str(wall), "--out", str(tmp_path), "--only", "paper"])
    out = capsys.readouterr().out
    assert out.startswith("Paper: ")
    assert "one door at a time" in out


# All that one strip needs, on sheets that follow each other.


def test_strip_by_strip_all_its_sheets_follow_each_other() -> None:
    front = small_front()
    kinds = (Kind.FIRST, Kind.STICKS, Kind.SIDES, Kind.WRAPS, Kind.HOLES, Kind.OFFSETS)
    pack = pack_of(front, Order(sheet_paper("A4"), kinds=kinds, by_strip=True))
    assert [sheet.number for sheet in pack.sheets] == list(range(1, len(pack.sheets) + 1))
    of_strips = [sheet for sheet in pack.sheets if TEMPLATES[sheet.kind].about_strips]
    owners = [sheet.strips[0] if sheet.strips else None for sheet in of_strips]
    # A list by setting of the stop names no strip of its own: it goes with the map behind it.
    following = [owner for owner in owners if owner is not None]
    assert following == sorted(following)
    for number in range(1, front.count + 1):
        own = {sheet.kind for sheet in of_strips if sheet.strips == (number,)}
        assert {Kind.SIDES, Kind.WRAPS, Kind.OFFSETS} <= own
    assert not any(len(sheet.strips) > 1 for sheet in of_strips)


def test_a_pack_strip_by_strip_can_be_made_again_from_its_manifest() -> None:
    order = Order(sheet_paper("A4"), by_strip=True, doors=(2,))
    assert Order.of_data(json.loads(json.dumps(order.as_data()))) == order


# What a sheet says of itself.


@pytest.mark.parametrize("kind", list(Kind))
def test_a_key_lists_what_is_on_its_sheet_and_nothing_else(kind: Kind) -> None:
    lands = [{"centre": [60, 60], "size": [50, 40], "height": 15, "blend": 6}]
    for front in (small_front(), small_front(lands=lands)):
        pack = pack_of(front, Order(sheet_paper("A4"), kinds=(kind,)))
        for sheet in pack.sheets:
            drawing = pack.drawing(sheet)
            told = {path.pen for path in drawing.paths if path.name == "key"}
            shown = {path.pen for one in sheet.placed for path in one.piece.draw().paths}
            known = {pen for pen, _ in TEMPLATES[kind].key(front, pack.lines)}
            assert told == known & shown


def test_heights_are_those_of_the_line_that_is_drawn_alone() -> None:
    front = small_front()

    def figures(lines: Lines) -> list[float]:
        pack = pack_of(front, Order(sheet_paper("A4"), kinds=(Kind.SIDES,), strips=(3,), lines=lines))
        labels = [label for sheet in pack.sheets for one in sheet.placed for label in one.piece.draw().labels]
        return [float(label.text) for label in labels if label.bold and label.text.replace(".", "").isdigit()]

    finished, carve = figures(Lines.FINISHED), figures(Lines.CARVE)
    assert finished == figures(Lines.BOTH)
    assert len(finished) == len(carve) > 8
    # Each is rounded to 0.1 on its own.
    assert all(
        abs(high - low - front.job.wood.sanding) <= 0.1 + 1e-9 for low, high in zip(finished, carve, strict=True)
    )
    words = " ".join(meaning for _, meaning in TEMPLATES[Kind.SIDES].key(front, Lines.CARVE))
    assert "heights are to it" in words


def test_each_side_bears_its_own_sign_where_there_is_no_waste() -> None:
    front = small_front(layers=[{"kind": "hills", "size": 60}], carving={"fit": "depth", "depth": 0.2})
    pack = pack_of(front, Order(sheet_paper("A4"), kinds=(Kind.SIDES,)))
    for sheet in pack.sheets:
        for one in sheet.placed:
            side = "left" if "LEFT" in one.piece.name else "right"
            (mark,) = [path for path in one.piece.draw().paths if path.name.endswith("-mark")]
            assert mark.name == f"{side}-mark"
            slanting = np.abs(np.diff(mark.runs, axis=1)).min() > 0.5
            assert slanting == (side == "left")


def test_when_something_goes_wrong_is_one_sheet() -> None:
    for unit, paper in (("mm", "A4"), ("in", "Letter")):
        front = front_in(unit)
        pack = pack_of(front, Order(sheet_paper(paper), kinds=(Kind.WRONG,)))
        assert len(pack.sheets) == 1
        words = " ".join(label.text for label in pack.drawing(pack.sheets[0]).labels)
        for fault in ("too deep", "ruined", "too thin", "Chipped", "cupped", "true", "wet", "mixed up"):
            assert fault in words


def test_ticks_of_depth_lines_point_to_the_deeper_side() -> None:
    """The surface itself is asked at both ends of every tick."""
    front = small_front()
    ticks = falls(front, 4, contours(front, 4, 0.0, 120.0, spacing_of(front)))
    assert len(ticks) > 3
    place = front.layout.strip(4)
    heights = front.surface.at(place.left + ticks[..., 0], place.top - ticks[..., 1])
    assert (heights[:, 1] <= heights[:, 0] + 1e-9).all()
    assert np.hypot(*np.diff(ticks, axis=1)[:, 0].T) == pytest.approx(1.3)
