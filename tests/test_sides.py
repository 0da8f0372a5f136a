"""The side sheet: true to size, nothing mirrored, nothing overlapping, nothing cut off."""

from __future__ import annotations

import numpy as np
import pytest
from helpers import a_job, small_front
from labels import box, overlap, overlapping
from readers import rasterised, svg_paths

from facade.drawing import Drawing, Label, Pen, fitted, printable
from facade.exporters.svg import to_svg
from facade.exporters.tables import offsets_rows
from facade.front import Front, build_front
from facade.job import make_job
from facade.templates.sides import MARGIN, side_sheet

ODD_TITLE = 'Doors </svg><script>alert("x")</script> ../../etc\nof \u202eذهب\u202c and 🌊 & "more" \x07'

# Length, strip width, blank, floor and unit: the corners of what a maker may ask for, and the usual.
CORNERS = [
    (30, 8, 10, 5, "mm"),
    (60, 40, 20, 8, "mm"),
    (100, 18, 20, 8, "mm"),
    (130, 18, 20, 8, "mm"),
    (150, 8, 10, 5, "mm"),
    (150, 60, 50, 10, "mm"),
    (2400, 8, 10, 5, "mm"),
    (2400, 60, 50, 10, "mm"),
    (803, 18, 20, 8, "mm"),
    (700, 20, 30, 2, "mm"),
    (6, 0.75, 0.5, 0.25, "in"),
    (30.5, 0.75, 0.875, 0.375, "in"),
    (94.5, 2.25, 2, 0.5, "in"),
]


def front_of(length: float, width: float, blank: float, floor: float, unit: str, title: str = "Hall cabinet") -> Front:
    settings = a_job(
        title=title,
        unit=unit,
        front={"width": 12 * width, "height": length, "doors": 2},
        strips={"width": width, "count": None},
        wood={"blank": blank, "floor": floor},
        layers=[{"kind": "hills", "size": 4 * width + length / 8}],
    )
    settings["strips"] = {"width": width}
    return build_front(make_job(settings))


@pytest.fixture(scope="module", params=CORNERS, ids=lambda one: "-".join(map(str, one)))
def corner(request: pytest.FixtureRequest) -> tuple[Front, Drawing]:
    front = front_of(*request.param)
    return front, side_sheet(front, front.strip(3))


def test_no_two_labels_overlap(corner: tuple[Front, Drawing]) -> None:
    assert overlapping(corner[1].labels) == []


def test_no_label_leaves_the_printable_sheet(corner: tuple[Front, Drawing]) -> None:
    sheet = corner[1]
    for label in sheet.labels:
        left, right, bottom, top = box(label)
        assert left >= 5.0, label.text
        assert right <= sheet.width - 5.0, label.text
        assert bottom >= 5.0, label.text
        assert top <= sheet.height - 5.0, label.text


def test_no_line_leaves_the_printable_sheet(corner: tuple[Front, Drawing]) -> None:
    sheet = corner[1]
    for path in sheet.paths:
        low, high = path.runs.min(axis=(0, 1)), path.runs.max(axis=(0, 1))
        assert low.min() >= MARGIN - 2.0
        assert high[0] <= sheet.width - MARGIN + 2.0
        assert high[1] <= sheet.height - MARGIN + 2.0


def test_no_label_but_those_in_the_wood_stands_on_a_side(corner: tuple[Front, Drawing]) -> None:
    sheet = corner[1]
    blanks = [path.runs[0] for path in sheet.paths if path.name.endswith("-blank")]
    sides = [(*np.sort(blank[:, 0])[[0, -1]], *np.sort(blank[:, 1])[[0, -1]]) for blank in blanks]
    on_wood = [label.text for label in sheet.labels if any(overlap(box(label), side) for side in sides)]
    assert all("LEFT" in text or "RIGHT" in text for text in on_wood)


def test_words_in_the_wood_stay_in_the_wood(corner: tuple[Front, Drawing]) -> None:
    sheet = corner[1]
    blanks = [path.runs[0] for path in sheet.paths if path.name.endswith("-blank")]
    left, right = blanks[0][:, 0].min(), blanks[0][:, 0].max()
    for label in sheet.labels:
        if "←" in label.text or "→" in label.text:
            assert left < box(label)[0]
            assert box(label)[1] < right


def test_no_label_touches_the_arrow_to_the_top(corner: tuple[Front, Drawing]) -> None:
    sheet = corner[1]
    arrows = [path.runs[0] for path in sheet.paths if path.name.endswith("-arrow")]
    assert len(arrows) == 4
    for arrow in arrows:
        around = (*np.sort(arrow[:, 0])[[0, -1]], *np.sort(arrow[:, 1])[[0, -1]])
        assert [label.text for label in sheet.labels if overlap(box(label), around)] == []


def test_hatch_stays_in_the_waste(corner: tuple[Front, Drawing]) -> None:
    _, sheet = corner
    paths = {path.name: path.runs for path in sheet.paths if path.name}
    for side in ("left", "right"):
        if f"{side}-waste" not in paths:
            continue
        places = paths[f"{side}-waste"].reshape(-1, 2)
        saw = paths[f"{side}-saw"][0]
        saw = saw[saw[:, 0].argsort()]
        assert (places[:, 1] >= np.interp(places[:, 0], saw[:, 0], saw[:, 1]) - 0.3).all()
        assert places[:, 1].max() <= paths[f"{side}-blank"][0][:, 1].max()


@pytest.fixture(scope="module")
def hall() -> Front:
    return front_of(803, 18, 20, 8, "mm")


@pytest.fixture(scope="module")
def hall_paths(hall: Front) -> dict[str, np.ndarray]:
    return svg_paths(to_svg(side_sheet(hall, hall.strip(3))))


def side_line(paths: dict[str, np.ndarray], side: str, line: str) -> tuple[np.ndarray, np.ndarray]:
    """Return a line's distances from the side's left end and heights above its back, from what a stranger read."""
    back = paths[f"{side}-back"]
    points = paths[f"{side}-{line}"]
    return points[:, 0] - back[:, 0].min(), back[0, 1] - points[:, 1]


@pytest.mark.parametrize("side", ["left", "right"])
def test_printed_lines_agree_with_the_table_of_offsets(
    hall: Front, hall_paths: dict[str, np.ndarray], side: str
) -> None:
    rows = [row.split(",") for row in offsets_rows(hall, hall.strip(3)).splitlines()]
    stations = np.array([[float(row[2]), float(row[3])] for row in rows if row[1] == side])
    along, height = side_line(hall_paths, side, "finished")
    # Seen from the right, TOP is at the right end.
    from_top = along if side == "left" else 803 - along
    order = from_top.argsort()
    read = np.interp(stations[:, 0], from_top[order], height[order])
    assert np.abs(read - stations[:, 1]).max() < 0.02


@pytest.mark.parametrize("side", ["left", "right"])
def test_carve_line_is_the_finished_line_plus_the_sanding_allowance(
    hall_paths: dict[str, np.ndarray], side: str
) -> None:
    finished, carve = side_line(hall_paths, side, "finished"), side_line(hall_paths, side, "carve")
    assert np.abs(carve[1] - finished[1] - 0.8).max() < 0.002


@pytest.mark.parametrize("side", ["left", "right"])
def test_saw_line_is_above_both_finished_lines(hall: Front, hall_paths: dict[str, np.ndarray], side: str) -> None:
    strip = hall.strip(3)
    along, saw = side_line(hall_paths, side, "saw")
    from_top = along if side == "left" else 803 - along
    for edge in (strip.left_edge, strip.right_edge):
        assert (saw >= np.minimum(np.interp(from_top, strip.from_top[::-1], edge[::-1]) + 1.5, 20) - 0.02).all()


@pytest.mark.parametrize(("side", "edge"), [("left", "left"), ("right", "right")])
def test_figures_under_a_side_are_the_surface_at_its_own_edge(hall: Front, side: str, edge: str) -> None:
    """Read as a maker does: of the figures in the row "height" each stands under a station, and is the height there."""
    sheet, place = side_sheet(hall, hall.strip(3)), hall.layout.strip(3)
    rows = sorted((label.y for label in sheet.labels if label.text == "height"), reverse=True)
    where = sorted((label.y for label in sheet.labels if label.text == "station"), reverse=True)
    index = 0 if side == "left" else 1
    heights = {
        label.x: float(label.text) for label in sheet.labels if label.y == rows[index] and label.text != "height"
    }
    stations = {
        label.x: float(label.text) for label in sheet.labels if label.y == where[index] and label.text != "station"
    }
    assert len(stations) > 10
    x = np.array([[place.left if edge == "left" else place.right]])
    for at, from_top in stations.items():
        nearest = min(heights, key=lambda one: abs(one - at))
        assert abs(nearest - at) < 4.0
        assert heights[nearest] == pytest.approx(
            float(hall.surface.at(x, np.array([[place.top - from_top]]))[0, 0]), abs=0.0501
        )


def test_sides_say_what_they_face(hall: Front) -> None:
    words = " | ".join(label.text for label in side_sheet(hall, hall.strip(3)).labels)
    assert "faces strip 2" in words
    assert "faces strip 4" in words


def test_top_points_left_on_a_left_side_and_right_on_a_right_side(hall: Front) -> None:
    sheet = side_sheet(hall, hall.strip(3))
    tops = [label for label in sheet.labels if label.text == "TOP"]
    middle = sheet.width / 2
    left, right = sorted(tops, key=lambda label: -label.y)
    assert left.x < middle < right.x


def test_left_side_stands_above_the_right_with_both_backs_at_the_bottom(hall_paths: dict[str, np.ndarray]) -> None:
    # y counts downwards in the file.
    for side in ("left", "right"):
        assert hall_paths[f"{side}-back"][0, 1] > hall_paths[f"{side}-finished"][:, 1].max()
    assert hall_paths["left-back"][0, 1] < hall_paths["right-blank"][:, 1].min()


@pytest.mark.parametrize(("unit", "length", "rule"), [("mm", 803, 100.0), ("in", 30.5, 101.6)])
def test_both_rules_measure_true(unit: str, length: float, rule: float) -> None:
    width, blank = (18, 20) if unit == "mm" else (0.75, 0.875)
    front = front_of(length, width, blank, 8 if unit == "mm" else 0.375, unit)
    paths = svg_paths(to_svg(side_sheet(front, front.strip(1))))
    along, up = paths["rule-along"], paths["rule-up"]
    assert np.ptp(along[:, 0]) == pytest.approx(rule, abs=0.01)
    assert np.ptp(up[:, 1]) == pytest.approx(rule, abs=0.01)


def test_rasterised_rule_measures_100_mm(hall: Front) -> None:
    dots = 254
    sheet = side_sheet(hall, hall.strip(3))
    picture = rasterised(to_svg(sheet), dots)
    assert picture.shape[1] == pytest.approx(sheet.width * dots / 25.4, abs=1.0)
    rule = next(path.runs[0] for path in sheet.paths if path.name == "rule-along")
    row = round((sheet.height - rule[0, 1]) * dots / 25.4)
    first, last = round(rule[0, 0] * 10), round(rule[1, 0] * 10)
    dark = np.flatnonzero(picture[row - 2 : row + 3, first - 20 : last + 20].min(axis=0) < 100)
    # The end ticks are 0.18 mm wide, half of it beyond the rule's ends.
    assert np.ptp(dark) / 10 == pytest.approx(100.0 + 0.18, abs=0.1)


def test_size_in_the_file_is_in_mm_with_a_matching_view_box(hall: Front) -> None:
    sheet = side_sheet(hall, hall.strip(3))
    text = to_svg(sheet)
    assert f'width="{sheet.width:g}mm"' in text
    assert f'height="{sheet.height:g}mm"' in text
    assert f'viewBox="0 0 {sheet.width:g} {sheet.height:g}"' in text


def test_facing_sides_of_neighbours_differ_by_what_the_surface_does_across_the_gap(hall: Front) -> None:
    """Hold two neighbours together and the traced lines nearly agree: within slope times gap (common practice)."""
    right = svg_paths(to_svg(side_sheet(hall, hall.strip(3))))
    left = svg_paths(to_svg(side_sheet(hall, hall.strip(4))))
    along, height = side_line(right, "right", "finished")
    facing, other = side_line(left, "left", "finished")
    apart = np.abs(np.interp(803 - along[::-1], facing, other) - height[::-1]).max()
    gap = hall.layout.strip(4).left - hall.layout.strip(3).right
    across = np.linspace(hall.layout.strip(3).right, hall.layout.strip(4).left, 20)
    heights = hall.surface.at(across[None, :], np.linspace(0, 803, 400)[:, None])
    slope = np.abs(np.diff(heights, axis=1) / np.diff(across)).max()
    assert apart <= slope * gap + 0.02


def test_every_sheet_says_what_it_must(corner: tuple[Front, Drawing]) -> None:
    front, sheet = corner
    words = " | ".join(label.text for label in sheet.labels)
    for needed in ("PRINT AT 100 %", f"Mark {front.mark}", "strip 3 of", "Sheet 3 of", "3 LEFT", "3 RIGHT", "TOP"):
        assert needed in words
    assert front.job.unit.value == "mm" or " mm" not in words


def test_outermost_strips_say_that_nothing_stands_beside_them(hall: Front) -> None:
    words = " ".join(label.text for label in side_sheet(hall, hall.strip(1)).labels)
    assert "left end of the front" in words


def test_title_cannot_break_the_file() -> None:
    front = small_front(title=ODD_TITLE)
    text = to_svg(side_sheet(front, front.strip(1)))
    assert "<script>" not in text
    assert "\x07" not in text
    assert "\u202e" not in text
    assert "left-back" in svg_paths(text)


def test_printable_text_is_one_line_without_control_characters() -> None:
    assert printable("a\nb\t\u202ec\x00 d") == "a b c d"


def test_long_words_are_cut_with_an_ellipsis() -> None:
    short = fitted("a title far too long for its place", 4.0, 30.0)
    assert short.endswith("…")
    assert Label(short, 0, 0, 4.0).width <= 30.0


def test_drawing_refuses_places_that_are_not_finite() -> None:
    from facade.errors import FacadeError

    with pytest.raises(FacadeError):
        Drawing(10, 10, "").line([[0, 0], [float("nan"), 1]], Pen.TICK)


def test_numbers_in_the_file_have_no_exponent_and_no_minus_zero() -> None:
    drawing = Drawing(100, 100, "")
    drawing.line([[1e-7, 100 + 1e-7], [3e-5, 50]], Pen.TICK)
    places = to_svg(drawing).split(' d="')[1].split('"')[0]
    assert "e" not in places
    assert "-0" not in places


def test_an_f_is_not_turned_over() -> None:
    """The drawing counts y upwards, the file downwards: the stroke at the top of an F must come first in the file."""
    drawing = Drawing(20, 30, "")
    drawing.line([[5, 5], [5, 25], [15, 25]], Pen.TICK, "long")
    drawing.line([[5, 15], [12, 15]], Pen.TICK, "short")
    paths = svg_paths(to_svg(drawing))
    assert paths["long"][:, 1].min() == pytest.approx(5, abs=0.001)
    assert paths["short"][0, 1] == pytest.approx(15, abs=0.001)
    assert paths["long"][:, 0].max() == pytest.approx(15, abs=0.001)


def test_names_in_a_file_come_once() -> None:
    from xml.etree import ElementTree

    drawing = Drawing(20, 30, "")
    for y in (5, 10, 15):
        drawing.line([[5, y], [15, y]], Pen.TICK, "back")
    names = [element.get("id") for element in ElementTree.fromstring(to_svg(drawing)).iter() if element.get("id")]
    assert names == ["back", "back-2", "back-3"]
