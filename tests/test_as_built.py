"""What came out otherwise at the bench: one plan that every sheet and file follows, held against places worked out here alone.

The oracle knows the design's layout and what came out otherwise, and nothing of how sheets are made: strips stand evenly from where
the first of a door was designed to start to where the last was designed to end; each keeps the heights it was designed with.
"""

from __future__ import annotations

import csv
import itertools
import re
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from following import cures_that_do_not_cure
from helpers import a_job, as_built, small_front
from hypothesis import given, settings
from hypothesis import strategies as st

from facade.build import write
from facade.checks import Weight, check_front
from facade.cnc.fixture import fixtures
from facade.cnc.order import Order as CncOrder
from facade.cnc.order import Route
from facade.doors.spreading import as_built_in_words, spread
from facade.errors import JobError
from facade.front import Front, build_front
from facade.job import make_job, read_job
from facade.job.draft import with_as_built
from facade.making import Output
from facade.paper import Order, pack_of, usual_paper
from facade.printing.papers import roll_paper, sheet_paper
from facade.proof import proof_lines, prove
from facade.templates.board_carving import carving_board
from facade.templates.board_drilling import drillings
from facade.templates.contours import outlines_on
from facade.templates.gauges import base
from facade.templates.list_joints import joint_steps
from facade.templates.pack import Pack
from facade.templates.piece import Kind
from facade.templates.windows import Window

NEAR = 0.05  # mm
DESIGN: dict[str, Any] = {
    "front": {"width": 345, "height": 300, "doors": 2, "space": 3},
    "strips": {"count": 14, "gap": 3},
    "wood": {"blank": 24, "floor": 10},
    "carving": {"fit": "depth", "depth": 8},
    "layers": [{"kind": "hills", "size": 120}],
}
STATES: dict[str, dict[str, Any]] = {
    "as designed": {},
    "one missing": {"missing": (4,)},
    "first of a door missing": {"missing": (8,)},
    "last of a door, and two together": {"missing": (2, 3, 7)},
    "both ends of the front": {"missing": (1, 14)},
    "stack": {"stack": 212.0},
    "stack and missing": {"stack": 209.0, "missing": (10,)},
    "spacers": {"spacers": 30.4},
    "thinner blank": {"blank": 23.3},
    "thicker blank, missing": {"blank": 25.1, "missing": (6,)},
}
states = pytest.mark.parametrize("state", STATES.values(), ids=STATES)


def designed() -> Front:
    return small_front(**DESIGN)


@dataclass(frozen=True)
class Placed:
    """A strip where it must be: its edges on the front and as it was designed, mm."""

    door: int
    left: float
    right: float
    was_left: float
    was_right: float

    def carved_at(self, x: float) -> float:
        """Return where on the design a place across the strip was carved for."""
        return self.was_left + (x - self.left) / (self.right - self.left) * (self.was_right - self.was_left)


def oracle(plan: Front, state: dict[str, Any]) -> dict[int, Placed]:
    """Return where every strip must be, from the design's layout and what came out otherwise alone."""
    found = {}
    for door in {place.door for place in plan.layout.strips}:
        own = [place for place in plan.layout.strips if place.door == door]
        kept = [place for place in own if place.number not in state.get("missing", ())]
        wide = state["stack"] / 10 if "stack" in state else own[0].width
        free = own[-1].right - own[0].left - len(kept) * wide
        for index, place in enumerate(kept):
            left = own[0].left + index * (wide + free / (len(kept) - 1))
            found[place.number] = Placed(door, left, left + wide, place.left, place.right)
    return dict(sorted(found.items()))


def heights_of(plan: Front, one: Placed, x: float, from_top: np.ndarray) -> np.ndarray:
    """Return heights of a strip at a place across the front, as it was designed."""
    top = plan.layout.strips[0].top
    return plan.surface.at(np.array([[one.carved_at(x)]]), (top - from_top)[:, None])[:, 0]


@states
def test_the_stick_says_where_strips_must_be(state: dict[str, Any]) -> None:
    plan = designed()
    wanted, seen = oracle(plan, state), []
    for one in spread(as_built(plan, **state)):
        for number, left, right in zip(one.numbers, one.left, one.right, strict=True):
            assert abs(one.door.left + left - wanted[number].left) < NEAR
            assert abs(one.door.left + right - wanted[number].right) < NEAR
            seen.append(number)
    assert seen == list(wanted)


@states
def test_boards_are_drilled_behind_the_middles_of_strips(state: dict[str, Any]) -> None:
    plan = designed()
    front, wanted = as_built(plan, **state), oracle(plan, state)
    screws = [(door, screw) for door in front.layout.doors for screw in drillings(front, door)]
    assert {screw.strip for _, screw in screws} <= set(wanted)
    assert len(screws) >= 2 * len(wanted)
    for door, screw in screws:
        one = wanted[screw.strip]
        assert door.number == one.door
        assert abs(door.right - screw.across - (one.left + one.right) / 2) < NEAR
        # A tip is as far below the finished face as is said: nowhere around it is there less wood above.
        at = np.array([screw.down - (door.top - plan.layout.strips[0].top)])
        above = float(heights_of(plan, one, (one.left + one.right) / 2, at)[0]) - screw.bite
        assert screw.cover <= above + NEAR


@states
def test_the_carving_board_holds_strips_as_far_apart_as_they_hang(state: dict[str, Any]) -> None:
    plan = designed()
    front, wanted = as_built(plan, **state), oracle(plan, state)
    for door in front.layout.doors:
        own = {number: one for number, one in wanted.items() if one.door == door.number}
        board = carving_board(front, door)
        first = next(iter(own.values()))
        there = [(left - board.strips[0, 0], right - board.strips[0, 0]) for left, right, *_ in board.strips.tolist()]
        must = [(one.left - first.left, one.right - first.left) for one in own.values()]
        assert np.abs(np.array(there) - np.array(must)).max() < NEAR
        middles = {number: board.strips[0, 0] + (one.left + one.right) / 2 - first.left for number, one in own.items()}
        for screw, (x, _) in zip(drillings(front, door), board.screws.tolist(), strict=True):
            assert abs(x - middles[screw.strip]) < NEAR


@states
def test_joints_are_those_of_the_strips_that_hang_side_by_side(state: dict[str, Any]) -> None:
    plan = designed()
    front, wanted = as_built(plan, **state), oracle(plan, state)
    pairs = list(itertools.pairwise(wanted))
    from_top = np.linspace(0.0, plan.layout.strips[0].length, 41)
    steps = joint_steps(front, [left for left, _ in pairs], from_top)
    for (left, right), found in zip(pairs, steps, strict=True):
        one, other = wanted[left], wanted[right]
        must = heights_of(plan, other, other.left, from_top) - heights_of(plan, one, one.right, from_top)
        assert np.abs(found - must).max() < NEAR


@states
def test_fixtures_hold_strips_as_far_apart_as_they_hang(state: dict[str, Any]) -> None:
    plan = designed()
    front, wanted = as_built(plan, **state), oracle(plan, state)
    held = []
    for fixture in fixtures(front, CncOrder(Route.FACE)):
        first = wanted[fixture.numbers[0]]
        for number, left in zip(fixture.numbers, fixture.lefts.tolist(), strict=True):
            assert abs(left - (wanted[number].left - first.left)) < NEAR
            held.append(number)
        assert fixture.blank == state.get("blank", 24.0)
    assert held == list(wanted)


def packed_on(front: Front, paper: str, kinds: tuple[Kind, ...]) -> Pack:
    ruler = front.job.ruler
    paper_of = roll_paper(610.0, ruler) if paper == "roll" else sheet_paper(paper)
    return pack_of(front, Order(paper_of, kinds=kinds))


@states
@pytest.mark.parametrize("paper", ["A4", "roll"])
def test_gauges_have_their_ticks_at_the_edges_of_strips_and_their_line_on_them(
    state: dict[str, Any], paper: str
) -> None:
    plan = designed()
    front, wanted = as_built(plan, **state), oracle(plan, state)
    checked = 0
    for sheet in packed_on(front, paper, (Kind.GAUGES,)).sheets:
        for piece in (one.piece for one in sheet.placed if one.piece.name.startswith("gauge across")):
            found = re.match(r"gauge across door (\d+) at ([\d.]+) mm, 1", piece.name)
            if found is None:
                continue
            drawing, door = piece.draw(), front.layout.doors[int(found[1]) - 1]
            own = [one for one in wanted.values() if one.door == door.number]
            (outline,) = [path.runs[0] for path in drawing.paths if path.name == "across-gauge"]
            line = outline[: int(outline[:, 0].argmax()) + 1]
            ticks = np.sort(np.concatenate([path.runs[:, 0, 0] for path in drawing.paths if path.name == "ticks"]))
            # The line starts at the door's LEFT edge.
            start = float(line[:, 0].min())
            edges = np.array([edge - door.left for one in own for edge in (one.left, one.right)])
            seen = edges[edges <= float(line[:, 0].max()) - start + NEAR]
            assert np.abs(ticks - start - seen).max() < NEAR
            from_top = np.array([float(found[2])])
            for one in (one for one in own if one.right - door.left <= seen.max() + NEAR):
                middle = (one.left + one.right) / 2
                height = np.interp(start + middle - door.left, line[:, 0], line[:, 1]) + base(front)
                assert abs(height - float(heights_of(plan, one, middle, from_top)[0])) < NEAR
            checked += 1
    assert checked >= 2


@states
def test_every_strip_keeps_the_heights_that_it_was_designed_with(state: dict[str, Any]) -> None:
    plan = designed()
    front, wanted = as_built(plan, **state), oracle(plan, state)
    from_top = np.linspace(0.0, plan.layout.strips[0].length, 31)
    for number, one in wanted.items():
        for share in (0.0, 0.3, 1.0):
            x = one.left + share * (one.right - one.left)
            found = front.surface.at(np.array([[x]]), (front.layout.strip(number).top - from_top)[:, None])[:, 0]
            assert np.abs(found - heights_of(plan, one, x, from_top)).max() < 1e-6


@given(
    each=st.integers(3, 12),
    gap=st.floats(0.0, 6.0),
    off=st.floats(-0.01, 0.01),
    data=st.data(),
)
@settings(max_examples=40)
def test_any_plan_is_the_oracles(each: int, gap: float, off: float, data: st.DataObject) -> None:
    strip = 22.0
    door = each * strip + (each - 1) * gap
    plan = small_front(
        front={"width": 2 * door + 3, "height": 200, "doors": 2, "space": 3},
        strips={"count": 2 * each, "width": strip, "gap": gap},
    )
    state: dict[str, Any] = {"missing": tuple(data.draw(st.sets(st.integers(1, 2 * each), max_size=4)))}
    if data.draw(st.booleans()):
        state["stack"] = 10 * strip * (1 + off)
    counts = [each - sum(first < one <= first + each for one in state["missing"]) for first in (0, each)]
    wide = state.get("stack", 10 * strip) / 10
    narrow = [(door - count * wide) / (count - 1) < min(0.2, gap) - 1e-9 for count in counts if count > 1]
    if min(counts) < 2 or ("stack" in state and any(narrow)):
        with pytest.raises(JobError, match=r"too few|plane the strips"):
            as_built(plan, **state)
        return
    front = as_built(plan, **state)
    wanted = oracle(plan, state)
    assert front.numbers == tuple(wanted)
    for number, one in wanted.items():
        place = front.layout.strip(number)
        assert (place.left, place.right) == pytest.approx((one.left, one.right), abs=1e-9)
    lefts = [None, *front.numbers[:-1]]
    assert [place.left_neighbour for place in front.layout.strips] == lefts


# The mark, the words, the job file ----------------------------------------------------------------------------------------


def test_a_job_as_designed_keeps_its_mark_and_others_have_one_each() -> None:
    marks = [as_built(designed(), **state).mark for state in STATES.values()]
    # Spacers are compared with the gap; nothing lies elsewhere.
    assert marks[list(STATES).index("spacers")] == marks[0] == designed().mark
    assert len(set(marks)) == len(STATES) - 1


@pytest.mark.parametrize(
    ("state", "said"),
    [
        ({}, ""),
        ({"spacers": 30.4}, ""),
        # Seven strips on 171 mm: gaps of (171 - 6 * 21.857) / 5.
        ({"missing": (4,)}, "without 4, gaps 7.97 on door 1"),
        ({"missing": (4, 11)}, "without 4 and 11, gaps 7.97"),
        ({"missing": (1, 2, 9)}, "without 1 to 2 and 9, gaps 7.97 to 15.43"),
        ({"blank": 23.4}, "blanks 23.4"),
    ],
)
def test_what_came_out_otherwise_is_said_in_few_words(state: dict[str, Any], said: str) -> None:
    assert as_built_in_words(as_built(designed(), **state)) == said


@pytest.mark.parametrize("paper", ["A4", "roll"])
def test_every_sheet_says_it_in_its_head(paper: str) -> None:
    front = as_built(designed(), missing=(4,), blank=23.4)
    said = as_built_in_words(front)
    pack = packed_on(front, paper, tuple(Kind))
    for sheet, drawing in pack.drawings():
        top = drawing.height - 30.0
        assert [
            one for one in drawing.labels if one.text == f"{said} ·" and one.bold and (one.y > top or one.x < 30.0)
        ], sheet.kind


def test_the_job_file_keeps_its_words_and_is_read_back_the_same(tmp_path: Path) -> None:
    path = tmp_path / "doors.toml"
    path.write_text(
        'title = "T"  # my doors\nunit = "in"\n[front]\nwidth = 40\nheight = 30\n[strips]\ncount = 40\n[wood]\n'
        'species = "white ash"\nblank = "7/8 in"  # milled in May\n[[layers]]\nkind = "hills"\nsize = 8\n',
        "utf-8",
    )
    job = read_job(path)
    changed = with_as_built(job, tmp_path, {"missing": [3], "blank": "27/32 in", "stack": 8.8})
    path.write_text(changed.text or "", "utf-8")
    again = read_job(path)
    assert (again.as_built.missing, again.as_built.blank, again.as_built.stack) == (
        (3,),
        pytest.approx(27 / 32 * 25.4),
        pytest.approx(8.8 * 25.4),
    )
    assert again == changed
    assert {"# my doors", "# milled in May"} <= set(re.findall(r"# my doors|# milled in May", path.read_text("utf-8")))
    # Said again, nothing is written anew.
    assert with_as_built(again, tmp_path, {"missing": [3]}) is again


@pytest.mark.parametrize(
    ("state", "said"),
    [
        ({"missing": [15]}, "strip 15 is not there: this front has strips 1 to 14"),
        ({"missing": [0]}, "`as_built.missing[1]` must be at least 1"),
        ({"stack": 30}, "ten strips of"),
        ({"blank": 10}, "`as_built.blank` must be more than the floor, 10 mm (got 10 mm)"),
        ({"lost": [3]}, "`as_built.lost` is not a known name"),
    ],
)
def test_what_cannot_be_is_one_sentence(state: dict[str, Any], said: str) -> None:
    with pytest.raises(JobError) as caught:
        build_front(make_job({**designed_settings(), "as_built": state}))
    assert said in str(caught.value)


def designed_settings() -> dict[str, Any]:
    return a_job(**DESIGN)


def test_a_strip_that_is_left_out_is_refused_where_it_is_asked_for() -> None:
    with pytest.raises(JobError, match=r"strip 4 is not there: it is left out \(`as_built.missing`\)"):
        as_built(designed(), missing=(4,)).strip(4)


# A thinner blank -----------------------------------------------------------------------------------------------------------


def test_depths_are_for_the_measured_blank_and_heights_are_not(tmp_path: Path) -> None:
    plan = designed()

    def offsets(front: Front, name: str) -> list[dict[str, str]]:
        folder = write(front, tmp_path / name, outputs=[Output.OFFSETS]).folder
        with (folder / "offsets.csv").open(encoding="utf-8") as stream:
            return list(csv.DictReader(stream))

    for was, now in zip(offsets(plan, "plan"), offsets(as_built(plan, blank=23.4), "thin"), strict=True):
        assert now["height_mm"] == was["height_mm"]
        assert float(now["depth_mm"]) == pytest.approx(float(was["depth_mm"]) - 0.6, abs=0.011)


def test_a_blank_that_the_surface_stands_out_of_stops_with_numbers() -> None:
    plan = designed()
    highest = max(strip.thickest.height for strip in plan.strips())
    thin = as_built(plan, blank=highest - 0.3)
    (found,) = [one for one in check_front(thin, ["cut off"]) if one.topic == "measured blank"]
    assert found.weight is Weight.STOPS
    assert "0.3 mm above them" in found.sentence
    assert float(np.max([strip.heights.max() for strip in thin.strips()])) <= highest - 0.3
    # Less wood than the sanding allowance is to be looked at; as much as that is nothing to tell.
    (found,) = [
        one for one in check_front(as_built(plan, blank=highest + 0.5), ["cut off"]) if one.topic == "measured blank"
    ]
    assert found.weight is Weight.LOOK
    assert "0.5 mm above the finished face" in found.sentence
    assert not check_front(as_built(plan, blank=highest + plan.job.wood.sanding + 0.01), ["cut off"])


@pytest.mark.parametrize("blank", [18.5, 19.5])
def test_following_any_way_out_of_a_thin_blank_clears_it(blank: float) -> None:
    job = a_job(wood={"blank": 20, "floor": 9}, layers=[{"kind": "hills", "size": 160}], as_built={"blank": blank})
    (found,) = [one for one in check_front(build_front(make_job(job)), ["cut off"]) if one.topic == "measured blank"]
    assert "as_built.blank = " in found.cure
    assert cures_that_do_not_cure(job, only="cut off") == []


# Steps, checks, words -------------------------------------------------------------------------------------------------------


def test_the_greatest_step_is_told_over_the_joint_of_two_doors_too() -> None:
    plan = small_front(**DESIGN | {"layers": [{"kind": "hills", "size": 60}]})
    front = as_built(plan, missing=(8,))
    from_top = np.linspace(0.0, plan.layout.strips[0].length, 601)
    pairs = [pair for pair in itertools.pairwise(front.numbers) if pair[1] >= 9]
    steps = np.abs(joint_steps(front, [left for left, _ in pairs], from_top)).max(axis=1)
    told = next(text for text in spread(front)[1].sentences if "greatest step" in text)
    found = re.search(r"is ([\d.]+) mm.*between strips (\d+) and (\d+)", told)
    assert found is not None
    assert float(found[1]) == pytest.approx(steps.max(), abs=0.1)
    assert (7, 9) in pairs
    assert (int(found[2]), int(found[3])) == pairs[int(steps.argmax())]


@states
def test_all_checks_can_be_asked(state: dict[str, Any]) -> None:
    front = as_built(designed(), **state)
    strips = {one.strip for one in check_front(front)} - {None}
    assert strips <= set(front.numbers)


# Proof ---------------------------------------------------------------------------------------------------------------------

_JOB = """title = "A small front"
unit = "{unit}"
front = {{ width = {width}, height = {height}, doors = 2, space = {space} }}
strips = {{ count = 8 }}
wood = {{ species = "white ash", blank = {blank}, floor = {floor} }}
carving = {{ fit = "depth", depth = {depth}, packed = {packed} }}
layers = [{{ kind = "hills", size = {size} }}]
[as_built]
{state}
"""
_MM = {
    "unit": "mm",
    "width": 203,
    "height": 150,
    "space": 3,
    "blank": 20,
    "floor": 8,
    "depth": 3,
    "size": 120,
    "packed": "false",
}
_INCH = {
    "unit": "in",
    "width": 8,
    "height": 6,
    "space": 0.125,
    "blank": 0.75,
    "floor": 0.375,
    "depth": 0.125,
    "size": 5,
    "packed": "false",
}


def built_so(folder: Path, job: dict[str, object], state: str) -> Path:
    """Return the folder of a build with a state: all that a build makes, every kind of sheet, both routes."""
    path = folder / "small.toml"
    path.write_text(_JOB.format(state=state, **job), "utf-8")
    front = build_front(read_job(path))
    routes = {Output(f"cnc-{route.value}") for route in Route}
    return write(
        front, folder / "out", outputs=set(Output) | routes, order=Order(usual_paper(front), kinds=tuple(Kind))
    ).folder


@pytest.mark.parametrize(
    ("job", "state"),
    [
        (_MM, "missing = [3]"),
        (_MM | {"packed": "true"}, "missing = [5]\nstack = 230"),
        (_MM, "blank = 17.4"),
        (_INCH, 'missing = [4]\nblank = "23/32 in"'),
    ],
    ids=["missing", "packed, stack", "blank too thin", "inches"],
)
def test_what_was_built_so_proves(job: dict[str, object], state: str, tmp_path: Path) -> None:
    proof = prove(built_so(tmp_path, job, state))
    assert not proof.failed, proof_lines(proof)


def test_a_folder_whose_job_says_another_strip_is_missing_fails(tmp_path: Path) -> None:
    folder = built_so(tmp_path, _MM, "missing = [3]")
    path = folder / "job" / "small.toml"
    path.write_text(path.read_text("utf-8").replace("missing = [3]", "missing = [2]"), "utf-8")
    assert prove(folder).failed


# Lands and pulls move with the strips that they are carved into -------------------------------------------------------------


def test_lands_and_pulls_lie_on_the_same_wood_wherever_it_hangs() -> None:
    design = DESIGN | {
        "lands": [{"centre": [60, 150], "size": [50, 60], "height": 16}],
        "pulls": [{"centre": [275, 150], "size": [34, 110], "depth": 6}],
    }
    plan = small_front(**design)
    front = as_built(plan, missing=(1, 9))
    whole = Window(0.0, 300.0, 1, 1, np.array([0.0, 300.0]))
    seen = 0
    for number in front.numbers:
        was, now = (dict(outlines_on(one.job, one.layout.strip(number), whole)) for one in (plan, front))
        assert was.keys() == now.keys()
        assert all(np.abs(was[word] - now[word]).max() < 1e-6 for word in was)
        seen += len(was)
        one, other = plan.measures_of(number), front.measures_of(number)
        assert other.grain.steepest.degrees == pytest.approx(one.grain.steepest.degrees, abs=1e-6)
        assert other.thinnest.height == pytest.approx(one.thinnest.height, abs=1e-6)
    assert seen >= 4
    lands = [one.sentence for one in check_front(plan, ["lands and pulls"]) if one.strip in (None, *front.numbers)]
    assert [one.sentence for one in check_front(front, ["lands and pulls"])] == lands


def test_a_surface_that_follows_the_cutter_is_told_of_with_a_strip_left_out() -> None:
    """The strips that are left are raised as much as they were with all of them there."""
    front = small_front(
        **DESIGN | {"layers": [{"kind": "hills", "size": 40}]}, cutter={"fit": True, "shape": "ball", "radius": 60}
    )
    left_out = as_built(front, missing=(4,))
    told, fewer = ([one for one in check_front(each) if one.check == "cutter"] for each in (front, left_out))
    assert len(told) == len(fewer) == 1
    assert 0.0 < (fewer[0].value or 0.0) <= (told[0].value or 0.0)


@pytest.mark.parametrize("unit", ["mm", "in"])
def test_how_a_sheet_is_printed_is_not_cut_off_by_what_is_said_before_it(unit: str) -> None:
    """Strips left out on two doors, and another blank, are many words on upright paper."""
    scale = 1.0 if unit == "mm" else 25.4
    design = {
        "unit": unit,
        "front": {"width": 519 / scale, "height": 300 / scale, "doors": 3, "space": 3 / scale},
        "strips": {"count": 21, "gap": 3 / scale},
        "wood": {"blank": 24 / scale, "floor": 10 / scale},
        "carving": {"fit": "depth", "depth": 8 / scale},
        "layers": [{"kind": "hills", "size": 120 / scale}],
    }
    front = as_built(small_front(**design), missing=(4, 11), blank=23.4)
    for paper in ("A4", "Letter"):
        for sheet, drawing in packed_on(front, paper, (Kind.FIRST, Kind.LISTS, Kind.FACES)).drawings():
            printed = [one.text for one in drawing.labels if one.text.startswith("PRINT AT 100 %")]
            assert [words.endswith("not corrected for a printer") for words in printed] == [True], (sheet.kind, printed)
