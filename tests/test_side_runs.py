"""Strips on their side: what the cutter sweeps is swept again by shapely, file by file, and held against stops, screws, wood and line."""

from __future__ import annotations

import io
from dataclasses import dataclass
from itertools import pairwise
from typing import Any

import numpy as np
import pytest
from ezdxf.filemanagement import read
from helpers import as_built, small_front
from shapely import LineString, Point, Polygon, box, unary_union

from facade.cnc.order import Order, Route
from facade.cnc.side_bays import bay_of, levels
from facade.cnc.side_drawing import END_MIDDLE, FACE, FACE_MIDDLE, OUTLINE, STEP, STEP_MIDDLE
from facade.cnc.side_files import side_files
from facade.front import Front
from facade.job import Hold
from facade.rules import rule

SIDE = Order(Route.SIDE)
KEEP = rule("side_keep")
# Hollows down to the floor at the ends, so that runs must rise over screws; and slopes that fall off the ends.
LOW = {"layers": [{"kind": "waves", "trains": [{"length": 110, "direction": 80}]}], "wood": {"blank": 20, "floor": 6}}
STEEP = {"layers": [{"kind": "waves", "trains": [{"length": 40, "direction": 85}]}]}
INCH = {
    "unit": "in",
    "front": {"width": 8, "height": 5},
    "strips": {"count": 6},
    "wood": {"species": "white ash", "blank": 0.8, "floor": 0.3},
    "layers": [{"kind": "hills", "size": 2.5}],
}
CASES: dict[str, dict[str, Any]] = {
    "screws": {},
    "screws over low ends": LOW | {"machine": {"strips": 3}},
    "to and fro": STEEP | {"machine": {"cut": "either"}},
    "a quarter of an inch": STEEP | {"machine": {"strips": 3, "side": {"cutter": "1/4 in"}}},
    "tabs": LOW | {"machine": {"hold": "tabs", "side": {"length": 12}}},
    "tape": STEEP | {"machine": {"hold": "tape", "side": {"cutter": 16, "step": 1.5}}},
    "vacuum": {"machine": {"hold": "vacuum", "side": {"cutter": 6, "leave": 0, "below": 0}}},
    "inches": INCH,
    "inches, tabs": INCH | {"machine": {"hold": "tabs"}},
    "files in inches": {"machine": {"unit": "in"}},
}


@dataclass(frozen=True)
class Drawn:
    """A drawing as another reader sees it, mm: open and closed runs by layer, circles as polygons."""

    runs: dict[str, list[np.ndarray]]
    circles: dict[str, list[Polygon]]

    def polygons(self, layer: str) -> list[Polygon]:
        return [Polygon(run) for run in self.runs.get(layer, [])] + self.circles.get(layer, [])

    @property
    def fixed(self) -> list[Polygon]:
        """All that holds strips."""
        return self.polygons("stops") + self.polygons("screw heads")

    @property
    def ways(self) -> list[np.ndarray]:
        """The ways of the cutter's middle."""
        return [run for layer in (STEP_MIDDLE, FACE_MIDDLE, END_MIDDLE) for run in self.runs.get(layer, [])]


def drawn(front: Front, data: bytes) -> Drawn:
    scale = front.job.machine_unit.in_mm
    runs: dict[str, list[np.ndarray]] = {}
    circles: dict[str, list[Polygon]] = {}
    for one in read(io.StringIO(data.decode())).modelspace():
        if one.dxftype() == "CIRCLE":
            middle = Point(one.dxf.center.x * scale, one.dxf.center.y * scale)
            circles.setdefault(one.dxf.layer, []).append(middle.buffer(one.dxf.radius * scale, quad_segs=32))
        else:
            runs.setdefault(one.dxf.layer, []).append(np.array([point[:2] for point in one]) * scale)
    return Drawn(runs, circles)


@dataclass(frozen=True)
class Case:
    front: Front
    files: dict[str, bytes]
    drawings: dict[str, Drawn]

    @property
    def radius(self) -> float:
        return self.front.job.machine.side.cutter / 2

    @property
    def strips(self) -> list[Drawn]:
        return [one for name, one in self.drawings.items() if name.startswith("strips/")]


@pytest.fixture(scope="module", params=list(CASES))
def case(request: pytest.FixtureRequest) -> Case:
    front = small_front(**CASES[request.param])
    files = {name: data for name, data, _ in side_files(front, SIDE)}
    return Case(front, files, {name: drawn(front, data) for name, data in files.items() if name.endswith("dxf")})


def swept(case: Case, ways: list[np.ndarray]) -> Polygon:
    return unary_union([LineString(way).buffer(case.radius, quad_segs=64) for way in ways])


def test_a_clean_audit(case: Case) -> None:
    for name, data in case.files.items():
        if name.endswith("dxf"):
            assert not read(io.StringIO(data.decode())).audit().has_issues


def test_no_run_touches_a_stop_a_batten_or_a_screw(case: Case) -> None:
    for name, one in case.drawings.items():
        assert len(one.polygons("stops")) == 3 * len(one.runs[OUTLINE])
        for way in one.ways:
            line = LineString(way)
            assert min(line.distance(held) for held in one.fixed) >= case.radius + KEEP - 0.02, name


def test_the_cutter_goes_down_and_up_clear_of_all_wood(case: Case) -> None:
    """Its whole disc, at both ends of every run along a face, from wood as milled, and from all that holds it."""
    for one in case.drawings.values():
        wood = one.polygons("blank") + one.fixed
        for layer in (STEP_MIDDLE, FACE_MIDDLE):
            for way in one.runs.get(layer, []):
                for end in (way[0], way[-1]):
                    assert min(Point(end).distance(other) for other in wood) >= case.radius + KEEP - 0.02
        for way in one.runs.get(END_MIDDLE, []):
            assert min(Point(way[0]).distance(other) for other in wood) >= case.radius - 1e-3


def test_nothing_is_cut_of_what_should_be_left(case: Case) -> None:
    """Nor of the back and the ends: what is swept does not reach into the outline."""
    for one in case.drawings.values():
        left = unary_union([outline.buffer(-0.02) for outline in one.polygons(OUTLINE)])
        assert swept(case, one.ways).intersection(left).area == 0.0


def test_the_way_of_the_middle_is_the_line_widened_by_the_cutter(case: Case) -> None:
    """By brute force, corners of the ways in and out too: a circle set down on the line every few thousandths of a millimetre."""
    aside = np.linspace(-case.radius, case.radius, 4001)
    rise = np.sqrt(np.maximum(case.radius**2 - aside**2, 0.0))
    for one in case.strips:
        line, middle = (run[0][np.argsort(run[0][:, 0])] for run in (one.runs[FACE], one.runs[FACE_MIDDLE]))
        for x in np.arange(middle[0, 0] + case.radius, middle[-1, 0] - case.radius, 0.07):
            wanted = (np.interp(x + aside, *line.T) + rise).max()
            assert np.interp(x, *middle.T) == pytest.approx(wanted, abs=1.2 * case.front.job.machine.side.tolerance)


def test_all_is_cut_that_should_be(case: Case) -> None:
    """Between the ends nothing stands above the line but what hollows keep that are tighter than the cutter."""
    bay = bay_of(case.front, SIDE)
    for one in case.strips:
        (blank,), (outline,) = one.polygons("blank"), one.polygons(OUTLINE)
        x0, _, x1, _ = outline.bounds
        above = blank.intersection(box(x0 + 1e-6, 0.0, x1 - 1e-6, 1e3)).difference(swept(case, one.ways))
        # The closing of the outline by the disc: what a disc from outside cannot reach.
        wide = Polygon([*one.runs[FACE][0].tolist(), (x1 + bay.lead, -200.0), (x0 - bay.lead, -200.0)])
        closed = wide.buffer(case.radius, quad_segs=64).buffer(-case.radius, quad_segs=64)
        assert above.difference(closed.buffer(0.03)).area == 0.0
        assert above.difference(outline.buffer(0.3 + case.radius / 20)).area == 0.0


def tops(x: np.ndarray, way: np.ndarray, radius: float) -> np.ndarray:
    """Return how low a disc comes at places x along a way, by brute force."""
    fine = np.linspace(way[:, 0].min(), way[:, 0].max(), 3000)
    order = np.argsort(way[:, 0])
    middles = np.interp(fine, way[order, 0], way[order, 1])
    aside = np.abs(x[:, None] - fine)
    reach = np.where(aside <= radius, middles - np.sqrt(np.maximum(radius**2 - aside**2, 0.0)), np.inf)
    return reach.min(axis=1)


def test_no_run_meets_more_wood_than_it_may(case: Case) -> None:
    side = case.front.job.machine.side
    for one in case.strips:
        (blank,) = one.polygons("blank")
        x = np.linspace(blank.bounds[0], blank.bounds[2], 400)
        wood = np.full(len(x), blank.bounds[3])
        for way in [*one.runs.get(STEP_MIDDLE, []), *one.runs[FACE_MIDDLE]]:
            lower = np.minimum(wood, tops(x, way, case.radius))
            assert (wood - lower).max() <= side.step + 0.03
            wood = lower
        if STEP_MIDDLE in one.runs:
            before = np.minimum.reduce([tops(x, way, case.radius) for way in one.runs[STEP_MIDDLE]])
            assert np.abs(before - wood).max() <= side.leave * 1.5 + 0.3


def test_the_face_is_cut_with_the_strip_at_the_right_hand(case: Case) -> None:
    """Climb cutting round the outside of a part goes clockwise: the part at the right hand of the way (common practice)."""
    machine = case.front.job.machine
    for one in case.strips:
        middle = Point(one.polygons(OUTLINE)[0].centroid)
        for layer in (FACE, FACE_MIDDLE, STEP, STEP_MIDDLE):
            for k, way in enumerate(one.runs.get(layer, []), start=1):
                right = np.cross([*(way[-1] - way[0]), 0.0], [middle.x - way[0, 0], middle.y - way[0, 1], 0.0])[2] < 0.0
                back = layer in (STEP, STEP_MIDDLE) and machine.cut == "either" and k % 2 == 0
                assert right is not back


def test_levels_reach_through_the_strip_and_none_is_deeper_than_the_edge(case: Case) -> None:
    side = case.front.job.machine.side
    for place in case.front.layout.strips:
        found = levels(case.front, place.width)
        tips = [place.width, *found.tips]
        assert tips[-1] == pytest.approx(-side.below, abs=1e-9)
        assert max(above - below for above, below in pairwise(tips)) <= (side.length or side.cutter) + 1e-9


def test_one_zero_for_all_files_at_a_corner_that_stays_free(case: Case) -> None:
    for one in case.drawings.values():
        (board,) = one.polygons("board")
        assert board.bounds[:2] == pytest.approx((0.0, 0.0), abs=1e-4)
        assert [run.mean(axis=0).tolist() for run in one.runs["zero"]] == [pytest.approx([0.0, 0.0], abs=1e-4)] * 2
        first = min(one.polygons(OUTLINE), key=lambda outline: outline.bounds[1])
        assert first.bounds[:2] == pytest.approx(case.front.job.first_on_side, abs=1e-4)
        corner = Point(0.0, 0.0).buffer(8.0)
        assert not any(
            corner.intersects(other) for other in [*one.fixed, *one.polygons("blank"), *one.polygons("keep-out")]
        )
        assert board.contains(unary_union([*one.fixed, *one.polygons("blank")]))
    assert len({one.polygons("board")[0].bounds for one in case.drawings.values()}) == 1


def test_keep_out_holds_all_that_the_cutter_passes_over_and_nothing_that_holds(case: Case) -> None:
    for one in case.drawings.values():
        keep = unary_union(one.polygons("keep-out"))
        assert keep.buffer(1e-2).contains(swept(case, one.ways))
        assert not any(keep.buffer(-1e-2).intersects(held) for held in one.fixed)


def test_what_holds_is_where_it_can_hold(case: Case) -> None:
    hold = case.front.job.machine.hold
    for one in case.drawings.values():
        outlines, blanks = unary_union(one.polygons(OUTLINE)), unary_union(one.polygons("blank"))
        assert blanks.buffer(1e-3).contains(outlines)
        if hold in (Hold.SCREWS, Hold.TABS):
            heads = one.polygons("screw heads")
            assert len(heads) == 2 * len(one.runs[OUTLINE])
            assert all(blanks.contains(head) and not outlines.intersects(head) for head in heads)
        else:
            assert not one.circles
            areas = one.polygons("holding area")
            assert len(areas) == len(one.runs[OUTLINE])
            assert outlines.contains(unary_union(areas))
            assert swept(case, one.ways).distance(unary_union(areas)) >= KEEP / 2 - 0.02


def test_end_cuts_leave_the_tabs_that_are_drawn(case: Case) -> None:
    if case.front.job.machine.hold is not Hold.TABS:
        assert not any("tabs" in one.runs or END_MIDDLE in one.runs for one in case.drawings.values())
        return
    for one in case.strips:
        (blank,), (outline,) = one.polygons("blank"), one.polygons(OUTLINE)
        x0, _, x1, _ = outline.bounds
        cut = swept(case, one.ways)
        for tab, (left, right) in zip(
            one.polygons("tabs"), ((x0 - 2 * case.radius, x0), (x1, x1 + 2 * case.radius)), strict=True
        ):
            stands = blank.intersection(box(left + 1e-6, 0.0, right - 1e-6, 1e3)).difference(cut)
            assert stands.symmetric_difference(tab).area < 0.1
            assert blank.bounds[1] == pytest.approx(tab.bounds[1], abs=1e-4)


def test_every_layer_is_named_in_the_text(case: Case) -> None:
    text = " ".join(case.files["read-me.txt"].decode().split())
    for one in case.drawings.values():
        for layer in {*one.runs, *one.circles}:
            assert layer in text


def test_the_text_names_what_holds_and_nothing_else(case: Case) -> None:
    text = case.files["read-me.txt"].decode()
    said = {
        hold
        for hold, lead in {Hold.SCREWS: "Ends:", Hold.TABS: "Tabs:", Hold.TAPE: "Tape:", Hold.VACUUM: "Vacuum:"}.items()
        if lead in text
    }
    assert said == {case.front.job.machine.hold}
    assert "safe" not in text.lower()


def test_strips_beyond_one_another_are_further_apart_than_the_cutter_comes(case: Case) -> None:
    """A strip's cutter does not meet the blank or the stops of the next bay, nor those of the bay below."""
    for one in case.drawings.values():
        rows = sorted(zip(one.polygons("blank"), one.runs[FACE_MIDDLE], strict=True), key=lambda row: row[0].bounds[1])
        for (_, way), (above, _) in pairwise(rows):
            assert LineString(way).distance(above) >= case.radius + KEEP


def test_how_strips_are_cut_and_held_does_not_change_the_mark() -> None:
    marks = {
        small_front(machine=machine).mark
        for machine in ({}, {"cut": "either"}, {"hold": "tape"}, {"side": {"step": 1}})
    }
    assert len(marks) == 1


def test_a_measured_blank_moves_the_raw_face_alone() -> None:
    front = small_front()
    thick = {name: data for name, data, _ in side_files(as_built(front, blank=21.5), Order(Route.SIDE, (3,)))}
    plain = {name: data for name, data, _ in side_files(front, Order(Route.SIDE, (3,)))}
    one, other = (
        drawn(front, next(data for name, data in files.items() if name.startswith("strips/") and name.endswith("dxf")))
        for files in (thick, plain)
    )
    assert one.polygons("blank")[0].bounds[3] - other.polygons("blank")[0].bounds[3] == pytest.approx(1.5, abs=1e-4)
    assert one.runs[FACE][0] == pytest.approx(other.runs[FACE][0], abs=1e-4)
    assert len(one.runs[STEP]) >= len(other.runs[STEP])


def test_a_short_cutter_says_what_its_shank_must_be() -> None:
    text = " ".join(
        {name: data for name, data, _ in side_files(small_front(machine={"side": {"length": 12}}), SIDE)}["read-me.txt"]
        .decode()
        .split()
    )
    assert "must be no thicker than the cutter" in text
    assert "every run at one level before the next" in text
