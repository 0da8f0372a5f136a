"""Lights of a room, their shadows and what they make of a relief; finishes; rings cut by a face; eyes that stand aside."""

from __future__ import annotations

import io
import math
from dataclasses import replace
from pathlib import Path

import numpy as np
import pypdfium2
import pytest
from helpers import small_front
from PIL import Image
from test_cli import run

from facade.front import Front
from facade.job.model import Edge, FinishKind, LightFrom, Picture
from facade.pictures.aside import DISTANCE, Eye, _with_depth, eye_of
from facade.pictures.canvas import Frame
from facade.pictures.carving import carve
from facade.pictures.elevation import elevation
from facade.pictures.finish import finish_of
from facade.pictures.front import painted
from facade.pictures.light import Lamp, Light, ceiling, lamp_ceiling, lamp_light, lit, sky
from facade.pictures.lights import contrast, light_of
from facade.pictures.sheets import aside_sheet, detail, lights_sheet
from facade.pictures.wood import Figure, from_pith
from facade.wood import species

WAVES = {"kind": "waves", "trains": [{"length": 80, "direction": 0}]}
LEVEL = WAVES | {"amount": 0}


def front_of(layer: dict = WAVES, **changes) -> Front:
    return small_front(layers=[layer], **changes)


def frame_of(front: Front, pixel: float = 0.5) -> Frame:
    layout = front.layout
    return Frame(round(layout.width / pixel), round(layout.height / pixel), pixel, 0.0, layout.height)


def floats(*values: float) -> np.ndarray:
    return np.array(values, dtype=np.float32)


# Lambert's cosine law on a wave


@pytest.mark.parametrize("height", [15.0, 30.0, 45.0])
def test_contrast_of_a_wave_is_lamberts(height: float) -> None:
    """Without light from the room a slope of b takes sin(h + b) of light h above the face (J. H. Lambert, "Photometria", 1760)."""
    front = front_of()
    light = Light(180.0, height, ambient=0.0, spread=0.001)
    carving = carve(front, frame_of(front), light, finish_of(FinishKind.RAW))
    x = np.linspace(0.0, 200.0, 4001)
    slope = np.arctan(np.gradient(front.surface.at(x, np.full_like(x, 60.0)), x))
    strips = front.layout.strips
    wooden = np.any([(x > strip.left) & (x < strip.right) for strip in strips], axis=0)
    bright = np.maximum(np.sin(math.radians(height) + slope[wooden]), 0.0)
    if (np.abs(np.degrees(slope)) < height).all():
        low, high = np.percentile(bright, [2.5, 97.5])
        assert contrast(front, carving) == pytest.approx(high / low, rel=0.03)
    else:
        assert contrast(front, carving) > 10.0


def test_flat_light_hardly_shows_a_relief_that_raking_light_shows() -> None:
    """Common practice: a broad relief looks alive by the window and flat in front light."""
    front = small_front(
        layers=[{"kind": "waves", "trains": [{"length": 150, "direction": 0}]}], carving={"fit": "depth", "depth": 5}
    )
    seen = {
        light: painted(front, frame_of(front), Picture(light=light, light_height=15.0)).contrast for light in LightFrom
    }
    assert seen[LightFrom.FRONT] < 1.1
    assert seen[LightFrom.LEFT] > 1.8


# Shadows


@pytest.mark.parametrize("azimuth", [150.0, 200.0, 30.0, 300.0, 115.0, 245.0])
def test_slanting_shadow_of_a_step_is_as_long_as_the_step_over_the_tangent(azimuth: float) -> None:
    """Measured across the step, a wall of 5 mm over half the field, shadows are shorter by the cosine of the slant."""
    step, tall, height = 0.5, 5.0, 20.0
    light = Light(azimuth, height)
    right, up, _ = light.direction
    along_x = abs(right) >= abs(up)
    line = np.zeros(240, dtype=np.float32)
    line[:80] = tall
    heights = np.repeat(line[None, :], 240, axis=0) if along_x else np.repeat(line[:, None], 240, axis=1)
    if (along_x and right > 0) or (not along_x and up < 0):
        heights = heights[::-1, ::-1]
    tangent = math.tan(math.radians(height))
    dark = ceiling(heights, step, light, tangent) > heights + 1e-4
    middle = dark[120] if along_x else dark[:, 120]
    share = max(abs(right), abs(up)) / math.hypot(right, up)
    assert middle.sum() * step == pytest.approx(tall / tangent * share, abs=1.5 * step)


def test_a_light_turned_by_nothing_is_a_light_from_the_side() -> None:
    heights = np.random.default_rng(3).random((40, 60)).astype(np.float32) * 6
    for azimuth in (0.0, 90.0, 180.0, 270.0):
        straight = ceiling(heights, 1.0, Light(azimuth, 20.0), 0.4)
        assert ceiling(heights, 1.0, Light(azimuth + 1e-6, 20.0), 0.4) == pytest.approx(straight, abs=1e-3)


@pytest.mark.parametrize("edge", [Edge.TOP, Edge.BOTTOM])
def test_shadow_of_a_lamp_ends_on_the_line_from_the_lamp_over_the_edge(edge: Edge) -> None:
    """Similar triangles: over an edge t high at a distance d a lamp H before the back throws a shadow as far as d H / (H - t)."""
    lamp, tall, step = Lamp(edge, beyond=40.0, out=60.0), 500.0, 0.5
    y = np.arange(tall, 0.0, -step, dtype=np.float32)[:, None]
    away = lamp.beyond + (tall - y if edge is Edge.TOP else y)
    heights = np.where(away <= 140.0, 12.0, 0.0).astype(np.float32)
    dark = lamp_ceiling(heights, y, lamp, tall, lamp.out) > heights + 1e-4
    assert float(away[dark].max()) == pytest.approx(140.0 * 60.0 / (60.0 - 12.0), abs=1.5 * step)


def test_light_of_a_row_of_lamps_falls_off_with_its_distance() -> None:
    """A long row lights a face by cos / distance, so that a level face takes out / distance^2."""
    lamp = Lamp(Edge.TOP, beyond=100.0, out=200.0)
    y = floats(500.0, 0.0)[:, None]
    near, far = lamp_light(0 * y, 0 * y, 0 * y, y, lamp, 500.0)[:, 0].tolist()
    assert near / far == pytest.approx((600.0**2 + 200.0**2) / (100.0**2 + 200.0**2))


def test_a_slope_towards_a_lamp_is_brighter() -> None:
    for edge, up in ((Edge.TOP, -0.2), (Edge.BOTTOM, 0.2)):
        lamp, y, zero = Lamp(edge, 50.0, 100.0), floats(250.0)[:, None], floats(0.0)[:, None]
        towards, level = (lamp_light(zero, floats(lean)[:, None], zero, y, lamp, 500.0)[0, 0] for lean in (up, 0.0))
        assert towards > level


def test_hollows_see_less_of_the_room_than_level_faces() -> None:
    level = np.zeros((60, 60), dtype=np.float32)
    assert sky(level, level, level, 1.0) == pytest.approx(1.0)
    slot = level.copy()
    slot[:, :28] = slot[:, 32:] = 20.0
    assert sky(slot, level, level, 1.0)[30, 30] < 0.7
    assert sky(slot, level, level, 1.0)[30, 10] == pytest.approx(1.0)


def test_gaps_stay_dark_in_flat_light() -> None:
    front = front_of(wood={"species": "black walnut"})
    pixels = painted(front, frame_of(front), Picture(light=LightFrom.FRONT, finish=FinishKind.DARK)).pixels
    strips = front.layout.strips
    gap = round((strips[0].right + strips[1].left) / 2 / 0.5)
    wood = round((strips[0].left + strips[0].right) / 2 / 0.5)
    assert pixels[100:140, gap].mean() < pixels[100:140, wood].mean()


# Wood and finish


def test_a_plane_cuts_rings_in_ellipses() -> None:
    """A cylinder of radius r about an axis that leans by m to the mm: a plane cuts it in an ellipse of half axes r and r / m."""
    lean, radius, depth, z = 0.25, 40.0, 30.0, 12.0
    turn = np.linspace(0.3, 2.8, 25)
    y = (radius * np.sin(turn) - depth - z) / lean
    aside = floats(*(radius * np.cos(turn)))
    far = from_pith(aside, floats(depth), floats(lean), floats(0.0), y, floats(z))
    assert np.diag(far) == pytest.approx(radius, rel=1e-5)


def test_a_plane_along_the_pith_shows_straight_grain() -> None:
    y = np.linspace(0.0, 500.0, 6)
    far = from_pith(floats(5.0, 20.0), floats(30.0), floats(0.0), floats(0.0), y, floats(10.0))
    assert np.ptp(far, axis=0) == pytest.approx(0.0, abs=1e-4)


def test_rays_show_beside_the_pith_and_not_over_it() -> None:
    """Rays run from the pith outwards: a face shows them broad where it is cut along them, quartered, and on edge over the pith."""
    strips = front_of().layout.strips
    x, y, z = np.linspace(0.0, 200.0, 800), np.linspace(120.0, 0.0, 60), np.full((60, 800), 14.0, dtype=np.float32)
    plain, rayed = (Figure(replace(species("white oak"), rays=rays), strips, x, 120.0, 0.25) for rays in (0.0, 1.0))
    lighter = rayed.light_at(y, z) - plain.light_at(y, z)
    lean = np.abs(np.arctan(plain._from_pith / (plain._depth + 14.0)))
    assert lighter.min() > -1e-6
    assert lighter[:, lean < 0.15].max(initial=0.0) < 0.002
    assert lighter[:, lean > 0.7].max() > 0.05


def test_steep_places_drink_more_oil_and_raw_wood_hardly_any() -> None:
    kept = {}
    for kind in FinishKind:
        front = front_of({"kind": "waves", "trains": [{"length": 80, "direction": 90}]})
        light = Light(180.0, 60.0, ambient=1.0)
        wood = carve(front, frame_of(front), light, finish_of(kind)).wood
        kept[kind] = float(wood.min() / wood.max())
    assert kept[FinishKind.DARK] < kept[FinishKind.OIL] < kept[FinishKind.RAW]


def test_finishes_darken_in_their_order() -> None:
    front = front_of()
    bright = [painted(front, frame_of(front), Picture(finish=kind)).pixels.mean() for kind in FinishKind]
    assert bright == sorted(bright, reverse=True)


# Eyes that stand aside


def test_faces_stand_where_the_line_of_sight_meets_them() -> None:
    """A face z before the back hides the place of the back that lies on the line from the eye through it."""
    front = front_of(LEVEL)
    frame = Frame(880, 480, 0.25, -10.0, 120.0)
    eye = Eye(x=700.0, y=60.0, out=900.0)
    light = light_of(front.job.picture, front.layout.height)
    straight = np.zeros((frame.rows, frame.columns, 3), dtype=np.uint8)
    strip = front.layout.strips[3]
    inside = (frame.x > strip.left) & (frame.x < strip.right)
    straight[:, inside] = 250
    found = _with_depth(front, frame, straight, eye, light)[240, :, 0]
    z = float(front.surface.at(np.array([100.0]), np.array([60.0]))[0])
    wanted = [(x - eye.x * z / eye.out) / (1.0 - z / eye.out) for x in (strip.left, strip.right)]
    bright = frame.x[found > 240]
    assert bright.min() == pytest.approx(wanted[0], abs=0.8)
    assert bright.max() == pytest.approx(wanted[1], abs=0.8)


def test_from_far_aside_sides_are_seen_and_backs_of_gaps_are_not() -> None:
    front = front_of(LEVEL)
    frame = frame_of(front, 0.25)
    light = light_of(front.job.picture, front.layout.height)
    strips = front.layout.strips
    edges = np.array([edge for strip in strips for edge in (strip.left, strip.right)])
    wooden = np.searchsorted(edges, frame.x) % 2 == 1
    straight = np.where(wooden, 200, 1)[None, :, None].repeat(frame.rows, 0).repeat(3, 2).astype(np.uint8)
    middle = slice(frame.columns // 4, frame.columns // 2)
    on = _with_depth(front, frame, straight, eye_of(front, 0.0), light)[frame.rows // 2, middle, 0]
    aside = _with_depth(front, frame, straight, eye_of(front, 60.0), light)[frame.rows // 2, middle, 0]
    assert (on == 1).any()
    assert not (aside == 1).any()
    assert ((aside > 20) & (aside < 180)).any()


def test_an_eye_is_two_metres_away_wherever_it_stands() -> None:
    front = front_of()
    for aside in (-60.0, 0.0, 45.0):
        eye = eye_of(front, aside)
        assert math.hypot(eye.x - front.layout.width / 2, eye.out) == pytest.approx(DISTANCE)


# Sheets


def test_a_detail_prints_at_full_size() -> None:
    front = front_of()
    with Image.open(io.BytesIO(detail(front, 100.0, 60.0, front.job.picture))) as picture:
        dots = picture.info["dpi"][0]
        assert picture.width / dots * 25.4 == pytest.approx(120.0, abs=0.2)
        greys = np.asarray(picture.convert("L")).mean(axis=0)
    # Gaps are dark: two of them are as far apart as a strip and a gap.
    dark = np.flatnonzero(greys < greys.min() + 25)
    starts = dark[np.flatnonzero(np.diff(dark, prepend=-10) > 3)]
    strips = front.layout.strips
    assert np.diff(starts).mean() / dots * 25.4 == pytest.approx(strips[1].left - strips[0].left, abs=0.3)


@pytest.mark.parametrize(("width", "height"), [(200, 120), (900, 800), (3000, 2400)])
def test_an_elevation_is_to_the_scale_it_states(width: float, height: float) -> None:
    front = small_front(front={"width": width, "height": height}, strips={"count": 12})
    document = pypdfium2.PdfDocument(elevation(front))
    words = document[0].get_textpage().get_text_range()
    scale = int(words.split("1 : ")[1].split()[0])
    picture = next(one for one in document[0].get_objects() if one.type == pypdfium2.raw.FPDF_PAGEOBJ_IMAGE)
    left, _, right, _ = picture.get_bounds()
    assert (right - left) / 72 * 25.4 * scale == pytest.approx(width, rel=0.002)
    assert front.mark in words
    assert f"{width} mm" in words


def test_six_lights_and_views_from_aside_are_one_sheet_each() -> None:
    front = front_of()
    for data in (lights_sheet(front, 900), aside_sheet(front, 900, "seated")):
        with Image.open(io.BytesIO(data)) as picture:
            assert picture.width == 900
            assert picture.mode == "RGB"


def test_pictures_are_written_and_written_again_but_never_over_others(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    from test_build import JOB

    job = tmp_path / "small.toml"
    job.write_text(JOB)
    command = ("pictures", job, "--out", tmp_path / "seen", "--detail", "100,60", "--finish", "dark")
    assert run(*command) == run(*command) == 0
    assert {path.name for path in (tmp_path / "seen").iterdir()} == {
        "lights.png",
        "aside.png",
        "elevation.pdf",
        "detail.png",
    }
    (tmp_path / "seen" / "elevation.pdf").write_bytes(b"%PDF-1.4 a bill")
    assert run(*command) == 2
    assert "was not made by facade" in capsys.readouterr().err
    assert run("pictures", job, "--out", tmp_path / "other", "--detail", "900,60") == 2
    assert "`--detail` must be on the front" in capsys.readouterr().err
    assert not (tmp_path / "other").exists()


def test_light_and_finish_do_not_change_the_mark() -> None:
    marks = {small_front(picture={"light": light.value, "finish": "raw"}).mark for light in LightFrom}
    assert marks == {small_front().mark}


def test_half_of_a_soft_edge_is_half_lit() -> None:
    assert lit(floats(1.0), floats(1.0 - 0.175)) == pytest.approx(0.5)
