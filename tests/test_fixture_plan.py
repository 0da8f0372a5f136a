"""The plan of a fixture: true to size, every part where it belongs, nothing in the cutter's way, words that fit."""

from __future__ import annotations

import io
import math
import re
from functools import cache

import ezdxf
import numpy as np
import pytest
from helpers import small_front
from labels import box, overlapping
from readers import pdf_sizes, pdf_words, svg_paths

from facade.cnc.drop import BallEnd
from facade.cnc.face import held_by
from facade.cnc.fixture import KEEP_OFF, Fixture, fixtures
from facade.cnc.job_sheet import readings
from facade.cnc.machining import Stage, program, tool_of, written
from facade.cnc.moves import Kind
from facade.cnc.order import Order, Route
from facade.cnc.plan import plan_drawing, plan_files, plan_names, plan_zero
from facade.cnc.plan_parts import Plan
from facade.cnc.plan_sheet import plan_sheets
from facade.cnc.screwing import Holding, least_above, patterns, places_for_screws, seat_apart, spoilboard_of
from facade.cnc.working import order_of_work
from facade.drawing import Drawing, Path
from facade.errors import JobError
from facade.front import Front
from facade.lengths import MM_PER_INCH
from facade.templates.board_drilling import drillings

FACE = Order(Route.FACE)
TALL = {"front": {"width": 620, "height": 700}, "strips": {"count": 28}, "layers": [{"kind": "hills", "size": 300}]}
JOBS = {
    "small": {},
    "tall": TALL,
    "inch": {
        "unit": "in",
        "front": {"width": 24, "height": 30},
        "strips": {"count": 24},
        "wood": {"species": "white ash", "blank": "3/4 in", "floor": "5/16 in"},
        "layers": [{"kind": "hills", "size": 9}],
    },
    "packed": {**TALL, "carving": {"packed": True}},
    "glued": {**TALL, "fixing": {"by": "glue"}},
    "wall": {**TALL, "front": {"width": 620, "height": 2600}},
    "one": {"front": {"width": 60, "height": 120}, "strips": {"count": 1}, "layers": [{"kind": "hills", "size": 90}]},
    "thin": {**TALL, "wood": {"species": "white ash", "blank": 12, "floor": 2}},
    "large cutter": {**TALL, "machine": {"roughing": {"cutter": 25}, "waste": 60}},
}
every_job = pytest.mark.parametrize("name", JOBS)


@cache
def front_of(name: str) -> Front:
    return small_front(**JOBS[name])


@cache
def fixtures_of(name: str) -> list[Fixture]:
    return fixtures(front_of(name), FACE)


@cache
def held(name: str) -> list[Holding]:
    """Return how the fixtures of a job are held, measured from their programs."""
    found = fixtures_of(name)
    return held_by(found, [written(one, stage, cleared=True) for one in found for stage in Stage])


@cache
def drawing_of(name: str) -> Drawing:
    return plan_drawing(fixtures_of(name)[0], held(name)[0])


@cache
def sheets_of(name: str) -> list[list[Drawing]]:
    return [plan_sheets(fixture, holding) for fixture, holding in zip(fixtures_of(name), held(name), strict=True)]


@cache
def files_of(name: str) -> dict[str, bytes]:
    both = zip(fixtures_of(name), held(name), strict=True)
    return {file: data for fixture, holding in both for file, data, _ in plan_files(fixture, holding, cleared=True)}


def data_of(name: str, ending: str) -> bytes:
    """Return the first file with this ending."""
    return next(data for file, data in files_of(name).items() if file.endswith(ending))


def layers(drawing: Drawing, layer: str) -> list[Path]:
    return [path for path in drawing.paths if path.name == layer]


def boxes_of(name: str, layer: str) -> np.ndarray:
    """Return the boxes (n, 4) round the paths of a layer, left, right, bottom, top, mm from the first strip's lower left corner."""
    zero = np.array(plan_zero(fixtures_of(name)[0])) + fixtures_of(name)[0].first_strip
    found = [path.runs.reshape(-1, 2) - zero for path in layers(drawing_of(name), layer)]
    return np.array([[*np.column_stack([at.min(axis=0), at.max(axis=0)]).ravel()] for at in found]).reshape(-1, 4)


def apart(a: np.ndarray, b: np.ndarray) -> float:
    """Return how far two boxes are apart, 0 where they meet."""
    across, along = max(a[0] - b[1], b[0] - a[1], 0.0), max(a[2] - b[3], b[2] - a[3], 0.0)
    return math.hypot(across, along)


def test_the_names_are_those_of_the_files() -> None:
    assert plan_names(front_of("tall"), FACE) == list(files_of("tall"))


def test_every_fixture_has_its_plan() -> None:
    assert len(files_of("tall")) == 3 * len(fixtures_of("tall"))


def test_a_drawing_says_its_unit_in_its_name() -> None:
    assert {name.rsplit("_", 2)[-1] for name in files_of("small")} == {"mm.dxf", "mm.svg", "plan.pdf"}
    assert {name.rsplit("_", 2)[-1] for name in files_of("inch")} == {"inch.dxf", "mm.svg", "plan.pdf"}


def test_files_are_the_same_again() -> None:
    front = small_front()
    found = fixtures(front, FACE)
    made = [written(one, stage, cleared=True) for one in found for stage in Stage]
    for fixture, holding in zip(found, held_by(found, made), strict=True):
        for file, data, _ in plan_files(fixture, holding, cleared=True):
            assert files_of("small")[file] == data


@every_job
def test_the_proof_square_comes_first(name: str) -> None:
    drawing = drawing_of(name)
    assert drawing.paths[0].name == "proof square"
    side = 4 * MM_PER_INCH if name == "inch" else 100.0
    left, right, bottom, top = boxes_of(name, "proof square")[0]
    assert (right - left, top - bottom) == pytest.approx((side, side))


@every_job
def test_the_proof_square_is_beside_the_spoilboard(name: str) -> None:
    assert apart(boxes_of(name, "proof square")[0], boxes_of(name, "spoilboard")[0]) >= 10.0


@every_job
def test_everything_is_on_the_drawing(name: str) -> None:
    drawing = drawing_of(name)
    places = np.concatenate([path.runs.reshape(-1, 2) for path in drawing.paths])
    assert (places.min(axis=0) >= 0.0).all()
    assert (places.max(axis=0) <= [drawing.width, drawing.height]).all()


@every_job
def test_outlines_are_the_strips(name: str) -> None:
    fixture = fixtures_of(name)[0]
    found = boxes_of(name, "outline")
    assert found[:, 0] == pytest.approx(fixture.lefts)
    assert found[:, 1] == pytest.approx(fixture.rights)
    assert found[:, 2:] == pytest.approx(np.tile([0.0, fixture.length], (len(found), 1)))


@every_job
def test_zero_is_the_lower_left_corner_of_the_spoilboard_and_stays_free(name: str) -> None:
    """Both axes begin there, and nothing that holds the work lies on it."""
    arrows, board = boxes_of(name, "zero"), boxes_of(name, "spoilboard")[0]
    assert (arrows[:, 0].min(), arrows[:, 2].min()) == pytest.approx((board[0], board[2]))
    parts = [boxes_of(name, layer) for layer in ("outline", "waste", "battens", "wedges", "clamps")]
    corner = np.array([board[0], board[0], board[2], board[2]])
    assert min(apart(part, corner) for part in np.concatenate(parts)) >= 30.0


def test_all_fixtures_of_a_job_have_one_zero() -> None:
    for name in JOBS:
        zeros = {(plan_zero(fixture), fixture.first_strip) for fixture in fixtures_of(name)}
        assert len(zeros) == 1


@pytest.mark.parametrize(("name", "whole"), [("tall", 10.0), ("inch", MM_PER_INCH / 2)])
def test_the_first_strip_lies_a_round_way_from_zero(name: str, whole: float) -> None:
    for along in front_of(name).job.first_strip:
        assert along / whole == pytest.approx(round(along / whole))


def test_a_job_says_where_its_first_strip_lies() -> None:
    fixture = fixtures(small_front(machine={"first_strip": [150, 75]}), FACE)[0]
    box = Plan(fixture).board
    assert (box[0], box[2]) == (-150.0, -75.0)


def test_a_first_strip_too_near_the_corner_is_refused() -> None:
    with pytest.raises(JobError, match="must be at least 80 mm across and 44 mm along"):
        fixtures(small_front(machine={"first_strip": [70, 60]}), FACE)


@every_job
def test_spacers_fill_the_gaps(name: str) -> None:
    fixture, found = fixtures_of(name)[0], boxes_of(name, "spacers")
    gaps = fixture.lefts[1:] - fixture.rights[:-1]
    wide = gaps[gaps > 1e-9] if name != "thin" else gaps[:0]
    assert len(found) == len(wide)
    assert (found[:, 1] - found[:, 0]) == pytest.approx(wide)


@every_job
def test_waste_goes_on_beyond_both_ends_over_the_whole_fixture(name: str) -> None:
    fixture, (below, above) = fixtures_of(name)[0], boxes_of(name, "waste")
    assert below == pytest.approx([0.0, fixture.width, -fixture.waste, 0.0])
    assert above == pytest.approx([0.0, fixture.width, fixture.length, fixture.length + fixture.waste])


@every_job
def test_clamps_stay_off_all_that_the_cutter_passes_over(name: str) -> None:
    """The cutter's middle goes out beyond strips and waste by its radius, so that its rim comes twice as far."""
    fixture, machine = fixtures_of(name)[0], front_of(name).job.machine
    rim = 2 * max(machine.finishing.radius, machine.roughing.cutter / 2)
    out = rim + fixture.waste
    passed = np.array([-rim, fixture.width + rim, -out, fixture.length + out])
    clamps = boxes_of(name, "clamps")
    assert len(clamps) >= 4
    assert min(apart(clamp, passed) for clamp in clamps) >= KEEP_OFF - 1e-9


@every_job
def test_the_line_to_keep_out_of_runs_round_all_that_the_cutter_passes_over(name: str) -> None:
    passed, keep_out = Plan(fixtures_of(name)[0]).passed, boxes_of(name, "keep-out")[0]
    assert (keep_out - passed) * [-1, 1, -1, 1] == pytest.approx([KEEP_OFF] * 4)


@every_job
def test_everything_lies_on_the_spoilboard(name: str) -> None:
    board = boxes_of(name, "spoilboard")[0]
    parts = [boxes_of(name, layer) for layer in ("outline", "waste", "battens", "wedges", "clamps", "keep-out")]
    for left, right, bottom, top in np.concatenate(parts):
        assert board[0] - 1e-9 <= left < right <= board[1] + 1e-9
        assert board[2] - 1e-9 <= bottom < top <= board[3] + 1e-9


@every_job
def test_no_two_parts_lie_in_one_place(name: str) -> None:
    parts = [boxes_of(name, layer) for layer in ("outline", "spacers", "waste", "battens", "clamps", "stops")]
    found = np.concatenate(parts)
    left, right, bottom, top = found.T
    across = np.minimum(right[:, None], right) - np.maximum(left[:, None], left)
    along = np.minimum(top[:, None], top) - np.maximum(bottom[:, None], bottom)
    both = np.triu((across > 1e-6) & (along > 1e-6), 1)
    assert not both.any()


def test_screws_are_in_the_holes_of_the_drilling_sheet() -> None:
    """What the sheet measures from behind, across and down, is turned back here by its own words."""
    front = front_of("tall")
    door = front.layout.doors[0]
    expected = {}
    for fixture in fixtures_of("tall"):
        first = fixture.places[0]
        for hole in drillings(front, door):
            if hole.strip in fixture.numbers:
                x, y = door.right - hole.across - first.left, door.top - hole.down - first.bottom
                expected[fixture.number, hole.strip, round(x, 6), round(y, 6)] = hole.length
    found = {
        (fixture.number, screw.strip, round(screw.x, 6), round(screw.y, 6)): screw.length
        for fixture in fixtures_of("tall")
        for screw in Plan(fixture).screws
    }
    assert found == expected
    assert len(found) >= 2 * 28


@every_job
def test_pilot_holes_are_drawn_inside_their_strips(name: str) -> None:
    outlines = boxes_of(name, "outline")
    for hole in boxes_of(name, "screw pilots"):
        inside = (outlines[:, [0, 2]] < hole[[0, 2]]) & (hole[[1, 3]] < outlines[:, [1, 3]])
        assert inside.all(axis=1).sum() == 1


def test_every_screw_has_its_two_holes() -> None:
    plan = Plan(fixtures_of("tall")[0], held("tall")[0])
    pilots, driven = plan.screws, [one.held for one in plan.driven]
    bore = plan.spoilboard.bore
    for layer, wide, screws in (
        ("screw pilots", plan.pilot, pilots),
        ("screw clearance", 4.0, driven),
        ("counterbores", bore, driven),
    ):
        middles = np.array([[screw.x, screw.y] for screw in screws])
        found = boxes_of("tall", layer)
        assert (found[:, [0, 2]] + found[:, [1, 3]]) / 2 == pytest.approx(middles)
        assert (found[:, 1] - found[:, 0]) == pytest.approx([wide] * len(screws))


def test_strips_that_are_glued_get_no_holes() -> None:
    assert len(boxes_of("glued", "screw pilots")) == 0


@every_job
def test_every_strip_has_its_number_on_it(name: str) -> None:
    outlines, found = boxes_of(name, "outline"), boxes_of(name, "number")
    on = [
        np.flatnonzero(
            (outlines[:, 0] < one[0])
            & (one[1] < outlines[:, 1])
            & (outlines[:, 2] < one[2])
            & (one[3] < outlines[:, 3])
        )
        for one in found
    ]
    assert all(len(strip) == 1 for strip in on)
    assert {int(strip[0]) for strip in on} == set(range(len(outlines)))


def words(drawing: Drawing) -> str:
    return " ".join(label.text for label in drawing.labels)


@every_job
def test_no_words_of_a_sheet_touch(name: str) -> None:
    for sheets in sheets_of(name):
        for sheet in sheets:
            assert overlapping(sheet.labels) == []


@every_job
def test_words_and_lines_of_a_sheet_stay_on_its_paper(name: str) -> None:
    for sheet in sheets_of(name)[0]:
        places = np.concatenate([path.runs.reshape(-1, 2) for path in sheet.paths])
        found = np.array([box(label) for label in sheet.labels])
        assert min(found[:, 0].min(), found[:, 2].min(), places.min()) >= 3.0
        assert max(found[:, 1].max(), places[:, 0].max()) <= sheet.width - 3.0
        assert max(found[:, 3].max(), places[:, 1].max()) <= sheet.height - 3.0


@every_job
def test_no_words_are_smaller_than_can_be_read(name: str) -> None:
    assert all(label.size >= 2.6 for sheet in sheets_of(name)[0] for label in sheet.labels)


def test_a_sheet_tells_what_must_be_low_and_where_zero_is() -> None:
    fixture = fixtures_of("tall")[0]
    said = words(sheets_of("tall")[0][0])
    assert f"as high as {fixture.low:g} mm" in re.sub(r"\s+", " ", said)
    assert "x 0, y 0 is the lower left machined corner of the spoilboard" in said
    assert front_of("tall").mark in said


def test_where_the_floor_leaves_no_height_nothing_low_is_asked_for() -> None:
    said = words(sheets_of("thin")[0][0])
    assert "leaves no height for battens" in said
    assert "Battens, 2" not in said
    assert not any(layers(drawing_of("thin"), layer) for layer in ("battens", "wedges", "spacers"))


def test_every_screw_stands_in_the_table() -> None:
    fixture = fixtures_of("tall")[0]
    labels = [label.text for sheet in sheets_of("tall")[0] for label in sheet.labels]
    for one in held("tall")[0].used:
        screw = one.held
        assert f"{one.length:g}" in labels
        assert f"{screw.x + fixture.first_strip[0]:.1f}" in labels
        assert f"{screw.y + fixture.first_strip[1]:.1f}" in labels


def test_a_sheet_of_a_job_in_inches_holds_no_millimetres() -> None:
    said = " ".join(words(sheet) for sheets in sheets_of("inch") for sheet in sheets)
    assert " in " in said
    assert not re.search(r"\bmm\b", said)


def test_a_job_that_the_checks_stop_says_so_on_the_sheet() -> None:
    fixture = fixtures_of("small")[0]
    assert "NOT CLEARED" in words(plan_sheets(fixture, held("small")[0], cleared=False)[0])
    assert "NOT CLEARED" not in words(sheets_of("small")[0][0])


def test_the_pdf_is_on_the_paper_of_the_unit() -> None:
    for name, size in (("small", (210.0, 297.0)), ("inch", (8.5 * MM_PER_INCH, 11 * MM_PER_INCH))):
        data = data_of(name, ".pdf")
        assert all(page == pytest.approx(size, abs=0.1) for page in pdf_sizes(data))
        assert front_of(name).mark in pdf_words(data, 0)


def test_a_millimetre_of_the_plan_is_one_in_svg() -> None:
    text = data_of("small", ".svg").decode()
    square = svg_paths(text)["proof-square"]
    assert np.ptp(square, axis=0) == pytest.approx([100.0, 100.0], abs=1e-3)
    fixture = fixtures_of("small")[0]
    assert np.ptp(svg_paths(text)["waste"], axis=0) == pytest.approx([fixture.width, fixture.waste], abs=1e-3)


def dxf_boxes(name: str) -> tuple[dict[str, list[np.ndarray]], list[str], int]:
    """Return the boxes of a plan's DXF by layer, the layers in the order of their entities, and its unit; read by ezdxf."""
    from ezdxf import bbox

    data = data_of(name, ".dxf")
    document = ezdxf.read(io.StringIO(data.decode("utf-8")))
    found: dict[str, list[np.ndarray]] = {}
    for entity in document.modelspace():
        extents = bbox.extents([entity])
        low, high = extents.extmin, extents.extmax
        found.setdefault(entity.dxf.layer, []).append(np.array([low.x, high.x, low.y, high.y]))
    return found, list(found), document.units


@pytest.mark.parametrize(("name", "unit", "scale"), [("small", 4, 1.0), ("inch", 1, MM_PER_INCH)])
def test_the_dxf_is_the_plan_from_zero_in_the_unit_of_the_job(name: str, unit: int, scale: float) -> None:
    found, order, units = dxf_boxes(name)
    assert units == unit
    assert order[0].lower().replace("_", " ") == "proof square"
    by_name = {layer.lower().replace("_", " "): rectangles for layer, rectangles in found.items()}
    for layer in ("outline", "waste", "spacers", "battens", "keep-out", "clamps", "spoilboard", "stops"):
        across, along = front_of(name).job.first_strip
        expected = boxes_of(name, layer) + [across, across, along, along]
        assert np.array(by_name[layer]) * scale == pytest.approx(expected, abs=1e-3)


def test_holes_are_circles_in_the_dxf() -> None:
    """A drill is set on a circle's middle; many short lines have none."""
    document = ezdxf.read(io.StringIO(data_of("tall", ".dxf").decode("utf-8")))
    circles = [entity for entity in document.modelspace().query("CIRCLE") if "pilot" in entity.dxf.layer]
    plan = Plan(fixtures_of("tall")[0])
    assert [tuple(circle.dxf.center)[:2] for circle in circles] == [
        pytest.approx((one.x + plan.fixture.first_strip[0], one.y + plan.fixture.first_strip[1])) for one in plan.screws
    ]
    assert [circle.dxf.radius for circle in circles] == pytest.approx([plan.pilot / 2] * len(plan.screws), abs=1e-4)


def test_the_dxf_has_nothing_to_complain_of() -> None:
    document = ezdxf.read(io.StringIO(data_of("tall", ".dxf").decode("utf-8")))
    assert document.audit().errors == []


def apart_from_screw(tip: np.ndarray, tool, screw: np.ndarray, radius: float, high: float) -> float:
    """Return how far a cutter whose tip is at a place is from an upright cylinder, by looking round both."""
    turns = np.linspace(0.0, 2.0 * math.pi, 721)
    ring = screw + radius * np.column_stack([np.cos(turns), np.sin(turns)])
    points = np.concatenate([np.column_stack([ring, np.full(len(ring), z)]) for z in np.linspace(0.0, high, 60)])
    points = np.concatenate([points, [[*screw, high]]])
    if isinstance(tool, BallEnd):
        centre = tip + [0.0, 0.0, tool.radius]
        return float(np.sqrt(((points - centre) ** 2).sum(axis=1)).min() - tool.radius)
    aside = np.maximum(np.hypot(*(points[:, :2] - tip[:2]).T) - tool.radius, 0.0)
    return float(np.hypot(aside, np.maximum(tip[2] - points[:, 2], 0.0)).min())


@pytest.mark.parametrize("name", ["tall", "packed", "inch"])
def test_no_cutter_comes_nearer_to_a_screw_than_is_said(name: str) -> None:
    """Brute force: both cutters in small steps along all moves near a screw, against rings of points on it."""
    front, fixture, holding = front_of(name), fixtures_of(name)[0], held(name)[0]
    job, under = front.job, spoilboard_of(front.job).under_head
    assert holding.used
    for one in holding.used[:: max(1, len(holding.used) // 5)]:
        nearest = math.inf
        at = np.array([one.held.x, one.held.y]) + fixture.first_strip
        for stage in Stage:
            moves, tool = program(fixture, stage).moves, tool_of(front, stage)
            start, end = moves.places[:-1], moves.places[1:]
            near = (np.minimum(start, end)[:, :2] < at + 12).all(axis=1)
            near &= (np.maximum(start, end)[:, :2] > at - 12).all(axis=1) & (moves.kinds[1:] != Kind.RAPID)
            tips = [
                a + share * (b - a)
                for a, b in zip(start[near], end[near], strict=True)
                for share in np.linspace(0.0, 1.0, max(2, math.ceil(np.linalg.norm(b - a) / 0.5)))
            ]
            tips = np.array([tip for tip in tips if np.hypot(*(tip[:2] - at)) < 12])
            # Only those whose lowest point is near can be the nearest.
            order = np.argsort(np.hypot(np.hypot(*(tips[:, :2] - at).T), tips[:, 2] + 2.0 - (one.length - under)))[:60]
            distances = [
                apart_from_screw(tip, tool, at, job.fixing.shank / 2, one.length - under) for tip in tips[order]
            ]
            nearest = min(nearest, min(distances))
        assert one.above <= nearest + 0.01
        assert one.above >= least_above(job) - 1e-3
        if one.above < 9.9:
            assert one.above == pytest.approx(nearest, abs=0.1)


@every_job
def test_screws_bite_no_deeper_than_their_final_holes_and_can_be_bought(name: str) -> None:
    job, board = front_of(name).job, spoilboard_of(front_of(name).job)
    planned = {(one.strip, one.x, one.y): one for fixture in fixtures_of(name) for one in fixture.screws()}
    for fixture, holding in zip(fixtures_of(name), held(name), strict=True):
        assert len(places_for_screws(fixture)) == len(fixture.screws()) + 2 * len(fixture.places)
        for one in holding.used:
            assert one.bite == pytest.approx(one.length - board.under_head)
            assert one.bite >= job.limit("bite_least").value - 1e-3
            if not one.in_waste:
                assert one.bite <= planned[one.held.strip, one.held.x, one.held.y].bite + 1e-3


def test_a_screw_that_would_come_too_near_is_left_out_and_said() -> None:
    """A limit that no screw keeps leaves none in, and says for each strip that it is loose."""
    front = small_front(**TALL, limits={"screw_overcut": 30})
    found = fixtures(front, FACE)[:1]
    holding = held_by(found, [written(found[0], stage, cleared=True) for stage in Stage])[0]
    assert not holding.used
    assert len(holding.left_out) == len(found[0].screws())
    said = words(plan_sheets(found[0], holding)[0]) + words(plan_sheets(found[0], holding)[-1])
    assert "Fewer than two screws may be in each of its strips" in re.sub(r"\s+", " ", said)


def test_glued_strips_stay_longer_for_a_screw_in_the_waste_at_both_ends() -> None:
    for fixture, holding in zip(fixtures_of("glued"), held("glued"), strict=True):
        assert holding.longer
        assert set(holding.longer) | set(holding.loose(fixture.numbers)) == set(fixture.numbers)
        for one in holding.used:
            assert one.in_waste
            assert one.held.y in (-fixture.waste / 2, fixture.length + fixture.waste / 2)


@pytest.mark.parametrize(("hold", "said"), [("tape", "double-sided tape"), ("vacuum", "vacuum through the spoilboard")])
def test_what_holds_glued_strips_is_as_the_job_says(hold: str, said: str) -> None:
    front = small_front(fixing={"by": "glue"}, machine={"hold": hold})
    found = fixtures(front, FACE)
    holding = held_by(found, [written(one, stage, cleared=True) for one in found for stage in Stage])[0]
    assert not holding.used
    assert said in re.sub(r"\s+", " ", " ".join(map(words, plan_sheets(found[0], holding))))


def test_a_counterbored_spoilboard_leaves_wood_under_every_head() -> None:
    for name in JOBS:
        job, board = front_of(name).job, spoilboard_of(front_of(name).job)
        assert board.thickness == pytest.approx(job.board.thickness)
        assert board.under_head >= job.limit("board_under_head").value
        assert board.bore > board.head
        assert board.most_skimmed > 0


def test_a_thin_door_board_makes_a_thicker_spoilboard() -> None:
    job = small_front(board={"thickness": 6}).job
    assert spoilboard_of(job).under_head >= job.limit("board_under_head").value


def test_fixtures_share_a_spoilboard_where_no_hole_is_cut_by_another() -> None:
    """Two that are alike share one; one with a hole 3 mm from another's, neither the same nor apart, does not."""
    one, other, far = np.array([[10.0, 50.0]]), np.array([[10.0, 53.0]]), np.array([[10.0, 90.0]])
    assert patterns([one, one.copy(), far], 6.5) == [[0, 1, 2]]
    assert all(not {0, 1} <= set(board) for board in patterns([one, other, far], 6.5))
    assert len(patterns([one, other, far], 6.5)) == 2
    assert patterns([np.empty((0, 2)), one], 6.5) == [[0, 1]]


@every_job
def test_no_two_holes_of_a_spoilboard_cut_each_other(name: str) -> None:
    front = front_of(name)
    boards: dict[int, list[np.ndarray]] = {}
    for holding in held(name):
        boards.setdefault(holding.board, []).extend(np.array([one.held.x, one.held.y]) for one in holding.used)
    for holes in boards.values():
        places = np.unique(np.round(np.array(holes).reshape(-1, 2), 1), axis=0)
        away = np.hypot(*(places[:, None] - places[None]).transpose(2, 0, 1)) + 1e9 * np.eye(len(places))
        assert not len(places) or away.min() >= seat_apart(front) - 0.2


@pytest.mark.parametrize("name", ["tall", "packed", "inch"])
def test_the_spoilboard_lies_within_the_bed(name: str) -> None:
    """A bed as large as the spoilboard takes it; a hair smaller takes fewer strips, or is refused."""
    unit = front_of(name).job.unit
    left, right, bottom, top = Plan(fixtures_of(name)[0]).board
    bed = [(right - left) / unit.in_mm, (top - bottom) / unit.in_mm]
    assert len(fixtures(small_front(**JOBS[name], machine={"bed": bed}), FACE)) == len(fixtures_of(name))
    narrow = fixtures(small_front(**JOBS[name], machine={"bed": [bed[0] - 1, bed[1]]}), FACE)
    assert max(len(one.places) for one in narrow) <= max(len(one.places) for one in fixtures_of(name))
    with pytest.raises(JobError, match="so long is the spoilboard"):
        fixtures(small_front(**JOBS[name], machine={"bed": [bed[0], bed[1] - 1]}), FACE)


def test_what_is_to_be_read_is_the_surface_and_what_is_left_on() -> None:
    fixture = fixtures_of("tall")[0]
    front, place = front_of("tall"), fixture.places[0]
    assert len(readings(front, fixture)) == 3
    for from_top, height in readings(front, fixture):
        surface = float(front.surface.at(np.array([place.left]), np.array([place.top - from_top]))[0])
        assert height == pytest.approx(min(surface + front.job.machine.leave, fixture.blank), abs=1e-6)


@every_job
def test_the_order_of_work_holds(name: str) -> None:
    """A board is skimmed before it is drilled, drilled before it is counterbored, loaded off the bed, zeroed before it runs."""
    leads = [lead for lead, _ in order_of_work(front_of(name), fixtures_of(name), held(name))]
    screwed = any(holding.used for holding in held(name))
    wanted = ["Spoilboard", "Corner", *(["Holes", "Back"] if screwed else []), "Load", "Bed", "Zero", "Air run"]
    wanted += ["1-rough", "Change", "2-finish", "Measure"]
    assert [lead for lead in leads if lead in wanted] == wanted
    assert screwed or not {"Holes", "Back"} & set(leads)
    said = " ".join(text for _, text in order_of_work(front_of(name), fixtures_of(name), held(name)))
    board, show = spoilboard_of(front_of(name).job), front_of(name).job.ruler.text
    for size in (
        board.bought,
        board.thickness,
        board.most_skimmed,
        *((board.sunk, board.under_head) if screwed else ()),
    ):
        assert show(size) in said
