"""The picture of a front: its light is Lambert's, its shadows are as long as they must be, its wood is a solid."""

from __future__ import annotations

import io
import math
from dataclasses import replace
from itertools import pairwise
from typing import Any

import numpy as np
import pytest
from helpers import small_front
from PIL import Image

from facade.front import Front
from facade.job import Edge
from facade.job.model import FinishKind
from facade.pictures import front_picture
from facade.pictures.canvas import Frame, coverage, frame_for
from facade.pictures.carving import carve
from facade.pictures.finish import finish_of
from facade.pictures.light import AMBIENT, Light, ceiling, ceilings, eased_edge, lambert, lit, slot_light, slot_sky
from facade.pictures.wood import Figure, board_numbers
from facade.wood import species, species_names

WIDTH = 400
RIDGE = {"kind": "waves", "trains": [{"length": 400, "direction": 0}]}
LEVEL = RIDGE | {"amount": 0}


OILED = finish_of(FinishKind.OIL)


def pixels_of(front: Front, width: int = WIDTH) -> np.ndarray:
    """Return the levels of a front's picture as another program reads them, (rows, columns, 3)."""
    return np.asarray(Image.open(io.BytesIO(front_picture(front, width)))).astype(np.float64)


def lit_front(light: str = "left", height: float = 24.0, **changes: Any) -> Front:
    return small_front(picture={"light": light, "light_height": height}, **changes)


def slope(rise: float) -> np.ndarray:
    return np.full((4, 4), rise, dtype=np.float32)


def strip_columns(front: Front, frame: Frame) -> tuple[np.ndarray, np.ndarray]:
    """Return the columns that lie wholly on a strip, and those that lie wholly in a gap."""
    share = coverage(frame.column_edges, [(strip.left, strip.right) for strip in front.layout.strips])
    inside = (frame.x > front.layout.strips[0].left) & (frame.x < front.layout.strips[-1].right)
    return share == 1.0, (share == 0.0) & inside


def test_same_front_gives_the_same_bytes() -> None:
    assert front_picture(lit_front(), WIDTH) == front_picture(lit_front(), WIDTH)


@pytest.mark.parametrize("width", [37, 400, 401])
def test_picture_is_as_wide_as_asked(width: int) -> None:
    front = small_front()
    frame = frame_for(front.layout, width)
    picture = Image.open(io.BytesIO(front_picture(front, width)))
    assert (picture.format, picture.mode) == ("PNG", "RGB")
    assert picture.size == (width, frame.rows)
    assert frame.rows * frame.pixel == pytest.approx(168.0, abs=frame.pixel)


@pytest.mark.parametrize(("width", "height", "count"), [(450, 2400, 18), (30000, 3000, 1400), (150, 150, 10)])
def test_any_shape_of_front_has_a_picture_that_is_not_too_tall(width: float, height: float, count: int) -> None:
    meant = {"front_widest": 30_000}
    front = small_front(front={"width": width, "height": height}, strips={"count": count, "gap": 2}, limits=meant)
    rows, columns, _ = pixels_of(front, 300).shape
    assert columns <= 300
    assert rows <= 361
    assert columns == 300 or rows == 360


@pytest.mark.parametrize("edge", list(Edge))
@pytest.mark.parametrize("height", [45.0, 30.0, 15.0])
@pytest.mark.parametrize("lean", [2.0, 5.0, 10.0])
def test_planes_are_lit_by_lamberts_law(edge: Edge, height: float, lean: float) -> None:
    rise = math.tan(math.radians(lean))
    to_right = {Edge.LEFT: rise, Edge.RIGHT: -rise}.get(edge, 0.0)
    to_up = {Edge.BOTTOM: rise, Edge.TOP: -rise}.get(edge, 0.0)
    facing = lambert(slope(to_right), slope(to_up), Light.beyond(edge, height))
    away = lambert(slope(-to_right), slope(-to_up), Light.beyond(edge, height))
    assert facing == pytest.approx(math.sin(math.radians(height + lean)), rel=1e-5)
    assert away == pytest.approx(math.sin(math.radians(height - lean)), rel=1e-5)


@pytest.mark.parametrize(("height", "ratio"), [(60.0, 1.1), (45.0, 1.2), (30.0, 1.4), (15.0, 2.0)])
def test_five_degrees_show_as_the_trade_knows_them(height: float, ratio: float) -> None:
    rise = math.tan(math.radians(5.0))
    light = Light.beyond(Edge.LEFT, height)
    found = lambert(slope(rise), slope(0.0), light) / lambert(slope(-rise), slope(0.0), light)
    assert np.round(found, 1) == pytest.approx(ratio)


def test_a_place_turned_away_from_the_light_takes_none() -> None:
    assert np.all(lambert(slope(-1.0), slope(0.0), Light.beyond(Edge.LEFT, 30.0)) == 0.0)


@pytest.mark.parametrize("edge", list(Edge))
@pytest.mark.parametrize("height", [10.0, 15.0, 30.0])
def test_shadow_of_a_step_is_as_long_as_the_step_over_the_tangent(edge: Edge, height: float) -> None:
    step, tall, stands = 0.5, 5.0, 40
    line = np.zeros(200, dtype=np.float32)
    line[:stands] = tall
    heights = np.repeat(line[None, :], 3, axis=0)
    if edge in (Edge.TOP, Edge.BOTTOM):
        heights = heights.T
    if edge in (Edge.RIGHT, Edge.BOTTOM):
        heights = heights[::-1, ::-1]
    tangent = math.tan(math.radians(height))
    dark = ceiling(heights, step, Light.beyond(edge, height), tangent) > heights + 1e-4
    lengths = dark.sum(axis=1 if edge in (Edge.LEFT, Edge.RIGHT) else 0) * step
    assert lengths == pytest.approx(tall / tangent, abs=step)


def test_shadow_grows_lighter_outward() -> None:
    heights = np.zeros((1, 300), dtype=np.float32)
    heights[:, :20] = 10.0
    light = Light.beyond(Edge.LEFT, 24.0)
    share = np.mean(
        [lit(shadow, heights) for shadow in ceilings(heights, 0.25, np.zeros((1, 1), dtype=np.float32), 1.0, light)],
        axis=0,
    )[0, 20:]
    assert share[0] == 0.0
    assert share[-1] == 1.0
    assert np.all(np.diff(share) >= 0.0)
    assert ((share > 0.05) & (share < 0.95)).sum() * 0.25 > 5.0


def test_level_front_is_evenly_lit() -> None:
    front = lit_front(layers=[LEVEL])
    frame = frame_for(front.layout, WIDTH)
    wood = carve(front, frame, Light.beyond(Edge.LEFT, 24.0), OILED).wood
    assert wood == pytest.approx(1.0, abs=1e-3)


@pytest.mark.parametrize("edge", [Edge.LEFT, Edge.RIGHT])
def test_carved_slopes_keep_lamberts_ratio_beside_the_light_of_the_room(edge: Edge) -> None:
    front = lit_front(edge, layers=[RIDGE])
    frame = frame_for(front.layout, WIDTH)
    light = Light.beyond(edge, 30.0)
    carving = carve(front, frame, light, OILED)
    middle = len(carving.grid.y) // 2
    inside = np.flatnonzero((carving.grid.x > 5) & (carving.grid.x < 195))
    x = carving.grid.x[inside]
    nudge = 0.01
    y = np.array([[carving.grid.y[middle]]])
    steep = (front.surface.at(x[None, :] + nudge, y) - front.surface.at(x[None, :] - nudge, y))[0] / (2 * nudge)
    lean = np.arctan(steep) * (1.0 if edge is Edge.LEFT else -1.0)
    wanted = (1 - AMBIENT) * np.sin(np.radians(30.0) + lean) / math.sin(math.radians(30.0))
    wanted += AMBIENT * (1 + np.cos(lean)) / 2
    assert np.ptp(wanted) > 0.2
    assert carving.wood[middle, inside] == pytest.approx(wanted, abs=0.01)


def test_light_from_the_other_side_turns_bright_and_dark_flanks_over() -> None:
    frame = frame_for(small_front().layout, WIDTH)
    left_flank, right_flank = [], []
    for edge in ("left", "right"):
        front = lit_front(edge, layers=[RIDGE])
        steep = np.diff(front.surface.at(frame.x.clip(0, 200)[None, :], np.array([[60.0]]))[0], append=0.0)
        on_strips, _ = strip_columns(front, frame)
        columns = pixels_of(front)[frame.rows // 3 : -frame.rows // 3].mean(axis=(0, 2))
        left_flank.append(columns[on_strips & (steep > 0.01)].mean())
        right_flank.append(columns[on_strips & (steep < -0.01)].mean())
    assert left_flank[0] > right_flank[0] + 15
    assert left_flank[1] < right_flank[1] - 15


@pytest.mark.parametrize("edge", list(Edge))
def test_gaps_are_darker_than_strips(edge: Edge) -> None:
    front = lit_front(edge, strips={"count": 8, "gap": 3})
    frame = frame_for(front.layout, WIDTH)
    on_strips, in_gaps = strip_columns(front, frame)
    columns = pixels_of(front)[frame.rows // 3 : -frame.rows // 3].mean(axis=(0, 2))
    assert in_gaps.sum() >= 7
    assert columns[in_gaps].max() < 0.6 * columns[on_strips].min()


def test_deeper_gap_sees_less_sky() -> None:
    distance, shades = np.zeros(1, dtype=np.float32), []
    for wall in (8.0, 14.0, 20.0):
        high = np.full(1, wall, dtype=np.float32)
        shades.append(2 * slot_sky(distance, distance + 3.0, high)[0])
        assert shades[-1] == pytest.approx(math.hypot(1.0, wall / 3.0) - wall / 3.0, abs=1e-5)
    assert shades[0] > shades[1] > shades[2]


def test_light_across_a_slot_reaches_its_bottom_only_beyond_the_shadow() -> None:
    wall, light = np.full(2, 10.0, dtype=np.float32), Light.beyond(Edge.LEFT, 45.0)
    from_left = np.array([6.0, 14.0], dtype=np.float32)
    assert slot_light(from_left, 20 - from_left, wall, wall, light) == pytest.approx([0.0, 1.0])
    along = slot_light(from_left, 20 - from_left, wall, wall, Light.beyond(Edge.TOP, 45.0))
    assert np.all(along > 0.9)


def test_pixels_are_covered_exactly() -> None:
    spans = [(0.3, 1.7), (2.05, 2.2), (2.6, 6.0)]
    assert coverage(np.arange(8.0), spans) == pytest.approx([0.7, 0.7, 0.55, 1, 1, 1, 0])


@pytest.mark.parametrize("gap", [1.0, 2.0, 3.0])
def test_every_gap_takes_its_exact_width_wherever_pixels_fall(gap: float) -> None:
    """A gap of about a pixel must not shimmer."""
    front = small_front(front={"width": 600, "height": 120}, strips={"count": 29, "gap": gap})
    frame = frame_for(front.layout, 331)
    share = coverage(frame.column_edges, [(strip.left, strip.right) for strip in front.layout.strips])
    strips = front.layout.strips
    for one, other in pairwise(strips):
        near = (frame.x > one.left + one.width / 2) & (frame.x < other.right - other.width / 2)
        uncovered = (1.0 - share)[near]
        assert uncovered.sum() * frame.pixel == pytest.approx(gap, abs=1e-9)


def test_rounded_edge_shines_towards_the_light_only() -> None:
    light = Light.beyond(Edge.LEFT, 24.0)
    assert eased_edge(light, Edge.LEFT) > 1.5
    assert eased_edge(light, Edge.RIGHT) < 0.6
    assert eased_edge(light, Edge.TOP) == pytest.approx(math.pi / 4, abs=1e-3)


def figure_of(front: Front, **changes: float) -> tuple[Figure, np.ndarray, np.ndarray]:
    """Return a front's figure, of ash with some changes, and the places on which it is asked."""
    x, y = np.arange(0.25, front.layout.width, 0.5), np.arange(100.0, 20.0, -0.5)
    return Figure(replace(species("white ash"), **changes), front.layout.strips, x, front.layout.height, 0.5), x, y


@pytest.mark.parametrize("changes", [{"streak": 0.0}, {"contrast": 0.0, "pores": 0.0}], ids=["rings", "fibres"])
def test_wood_is_a_solid_and_shows_other_figure_when_carved_deeper(changes: dict[str, float]) -> None:
    figure, x, y = figure_of(small_front(), **changes)
    flat = np.full((len(y), len(x)), 18.0, dtype=np.float32)
    carved = flat.copy()
    carved[:, 200:] -= 4.0
    before, after = figure.light_at(y, flat), figure.light_at(y, carved)
    assert np.array_equal(before[:, :200], after[:, :200])
    assert np.abs(before[:, 200:] - after[:, 200:]).mean() > 0.03


def test_deeper_carving_gives_another_figure_in_the_picture() -> None:
    """Without any slope between: two level fronts of different height, same light."""
    pictures = [pixels_of(small_front(wood={"blank": blank}, layers=[LEVEL])) for blank in (20, 24)]
    middle = (slice(50, -50), slice(80, -80))
    assert np.abs(pictures[0][middle] - pictures[1][middle]).mean() > 3.0


def test_grain_runs_along_the_strip() -> None:
    figure, x, y = figure_of(small_front())
    light = figure.light_at(y, np.full((len(y), len(x)), 18.0, dtype=np.float32))
    assert np.abs(np.diff(light, axis=1)).mean() > 3.0 * np.abs(np.diff(light, axis=0)).mean()


def test_strips_of_a_board_are_neighbours() -> None:
    front = small_front(front={"width": 1200, "height": 300}, strips={"count": 54, "gap": 3})
    numbers = board_numbers(front.layout.strips)
    assert len(numbers) == 54
    assert set(np.diff(numbers)) == {0, 1}
    assert all(3 <= numbers.count(number) <= 9 for number in set(numbers) - {numbers[-1]})


def test_every_species_has_its_own_look() -> None:
    looks = {name: pixels_of(small_front(wood={"species": name}), 120).mean(axis=(0, 1)) for name in species_names()}
    for name, look in looks.items():
        assert all(np.abs(look - other).max() > 0.5 for one, other in looks.items() if one != name)
    assert looks["black walnut"].sum() < looks["white ash"].sum() - 60
