"""Cutter: what it leaves standing is named with a cure that works, and a surface fitted to it is one that it can leave."""

from __future__ import annotations

import math
import re
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from helpers import small_front
from scipy.ndimage import grey_closing

from facade.arrays import Array
from facade.build import write
from facade.checks import Finding, Weight
from facade.checks.cutter import check
from facade.closing import Ball, Disc
from facade.front import Front
from facade.reach import TOLERANCE, Face, Reachable, body_of, faces, fine_step
from facade.slicer import edge_heights

WIDTH, HEIGHT = 200.0, 300.0
DEEP = {"blank": 30, "floor": 8}


def made(tmp_path: Path, heights: Array, **changes: Any) -> Front:
    """Return a front of 200 x 300 whose finished heights are given every 1 mm, first row at the bottom."""
    np.save(tmp_path / "heights.npy", heights[::-1])
    layer = {"kind": "grid", "file": "heights.npy", "rise": 1, "fill": "stretch"}
    settings = {
        "front": {"width": WIDTH, "height": HEIGHT},
        "wood": DEEP,
        "carving": {"fit": "as given"},
        "layers": [layer],
    }
    return small_front(tmp_path, **(settings | changes))


def places() -> tuple[Array, Array]:
    """Return x of (1, columns) and y of (rows, 1), every 1 mm."""
    return np.arange(0.0, WIDTH + 0.5)[None, :], np.arange(0.0, HEIGHT + 0.5)[:, None]


def trough(radius: float, *, middle: float = 180.0, strip: int = 5, deep: float = 5.0) -> Array:
    """Return a level face at 20 with one round hollow along the strips, deepest on a strip of the small front of 8.

    The hollow is a circle of the radius along the strip, `deep` at its bottom; to both sides it runs out softly.
    """
    x, y = places()
    centre = (strip - 0.5) * WIDTH / 8
    share = np.exp(-((((x - centre) / 30.0) ** 2) ** 2))
    away = np.minimum(np.abs(y - middle), radius * 0.999)
    return 20.0 - share * np.maximum(deep - (radius - np.sqrt(radius**2 - away**2)), 0.0)


def waves(length: float, depth: float, **changes: Any) -> Front:
    """Return a front of 200 x 400 with level waves along its strips."""
    settings = {
        "front": {"width": 200, "height": 400},
        "wood": DEEP,
        "carving": {"fit": "depth", "depth": depth},
        "layers": [{"kind": "waves", "trains": [{"length": length, "direction": 90}]}],
    }
    return small_front(**(settings | changes))


def about(found: list[Finding], topic: str) -> list[Finding]:
    """Return the findings of a topic."""
    return [finding for finding in found if finding.topic == topic]


def complaints(front: Front) -> list[Finding]:
    """Return all that a front is complained of for."""
    return [finding for finding in check(front) if finding.weight is not Weight.KNOW]


def number(words: str, text: str) -> float:
    """Return the number that follows some words."""
    found = re.search(rf"{words} (\d+(?:\.\d+)?)", text)
    assert found, text
    return float(found[1])


# ------------------------------------------------------------------------------------------------------- left standing


def test_a_hollow_tighter_than_the_disc_is_named_by_strip_and_mm_with_what_is_left_in_it(tmp_path: Path) -> None:
    """A disc of 50 in a round hollow of 25 that is 5 deep: it rests on the arrises, 2 c apart, as circle geometry has it."""
    worst = about(check(made(tmp_path, trough(25.0))), "left standing")[0]
    half = math.sqrt(25**2 - 20**2)
    left = 5.0 - (50 - math.sqrt(50**2 - half**2))
    assert worst.weight is Weight.STOPS
    assert worst.strip == 5
    assert worst.from_top == pytest.approx(HEIGHT - 180, abs=1)
    assert worst.value == pytest.approx(left, abs=0.15)
    assert number("hollow of", worst.sentence) == pytest.approx(25, abs=3)
    assert "along the strip" in worst.sentence


def test_the_limit_that_is_passed_decides_how_much_it_weighs(tmp_path: Path) -> None:
    stops = about(check(made(tmp_path, trough(25.0))), "left standing")[0]
    look = about(check(made(tmp_path, trough(25.0), limits={"left_standing_most": 4.5})), "left standing")[0]
    assert (stops.weight, stops.limit, stops.source) == (Weight.STOPS, 1.0, "our choice (limits.left_standing_most)")
    assert (look.weight, look.limit, look.source) == (Weight.LOOK, 0.3, "our choice (limits.left_standing)")
    said = about(
        check(made(tmp_path, trough(25.0), limits={"left_standing": 0.2, "left_standing_most": 4.5})), "left standing"
    )[0]
    assert (said.limit, said.source) == (0.2, "said in the job")


def test_every_strip_has_one_finding_of_what_is_left_and_the_worst_comes_first(tmp_path: Path) -> None:
    found = about(check(made(tmp_path, trough(25.0))), "left standing")
    strips = [finding.strip for finding in found]
    assert len(set(strips)) == len(strips) > 1
    assert [finding.value for finding in found] == sorted((finding.value for finding in found), reverse=True)


def test_the_area_that_is_too_high_is_that_of_the_heights_beyond_the_limit() -> None:
    """Level waves: every strip stands too high over the same share of its length."""
    front = waves(80.0, 10.0)
    found = about(check(front), "left standing")[0]
    y = np.arange(0.0, 400.5)
    z = front.surface.at(np.array([[100.0]]), y[:, None])
    inside = np.sqrt(np.maximum(50.0**2 - np.arange(-50.0, 51.0) ** 2, 0.0))[:, None]
    left = (grey_closing(z, structure=inside, footprint=np.ones_like(inside), mode="nearest") - z)[60:-60]
    share = (left > 0.3).mean()
    width = front.layout.strips[0].width
    assert number("radius along the strip; at most", found.sentence) == pytest.approx(
        share * width * 400 / 100, rel=0.15
    )


@pytest.mark.parametrize(
    ("cutter", "heights"),
    [
        ({}, trough(25.0)),
        ({"radius": 80, "edge": 20}, trough(35.0)),
        ({"shape": "ball", "radius": 60}, trough(35.0)),
        ({"tilt": 30}, trough(60.0)),
        ({}, trough(12.0, deep=3.0)),
    ],
    ids=["disc", "large disc", "ball", "tilted disc", "no disc is small enough"],
)
def test_the_smaller_cutter_that_is_named_cures(tmp_path: Path, cutter: dict[str, Any], heights: Array) -> None:
    front = made(tmp_path, heights, cutter=cutter)
    cure = about(check(front), "left standing")[0].cure
    instead = cutter | {"radius": number("cutter.radius =", cure)}
    instead |= {"shape": "ball"} if "ball" in cure else {}
    instead |= {"tilt": 90} if "cutter.tilt = 90" in cure else {}
    assert about(check(made(tmp_path, heights, cutter=instead)), "left standing") == []


def test_the_cutter_that_is_named_is_the_largest_of_those_that_are_sold_that_clears_it(tmp_path: Path) -> None:
    """Discs of 50 and 75 mm, balls up to 25 mm (common practice)."""
    cure = about(check(made(tmp_path, trough(25.0))), "left standing")[0].cure
    assert number("cutter.radius =", cure) == 12.5
    for disc in (37.5, 25.0):
        assert check(made(tmp_path, trough(25.0), cutter={"radius": disc}))
    cure = about(check(made(tmp_path, trough(36.0))), "left standing")[0].cure
    assert number("cutter.radius =", cure) == 25
    assert check(made(tmp_path, trough(36.0), cutter={"radius": 37.5}))


def test_the_maker_says_which_cutters_can_be_had(tmp_path: Path) -> None:
    settings = {"sizes": [44, 56, 90]}
    cure = about(check(made(tmp_path, trough(36.0), cutter=settings)), "left standing")[0].cure
    assert "a disc of 56 mm, cutter.radius = 28" in cure
    plain, own = (made(tmp_path, trough(36.0), cutter={"fit": True} | sizes) for sizes in ({}, settings))
    assert own.mark == plain.mark


def test_where_no_cutter_clears_it_only_fitting_is_offered(tmp_path: Path) -> None:
    x, y = places()
    groove = np.where((x > 109.5) & (x < 111.5), 12.0, 20.0) + 0.0 * y
    found = about(check(made(tmp_path, groove)), "left standing")[0]
    assert found.cure.startswith("Let the surface follow the cutter")
    assert "cutter.radius" not in found.cure


@pytest.mark.parametrize("cutter", [{}, {"shape": "ball", "radius": 25}, {"tilt": 60}])
def test_a_front_that_the_cutter_follows_is_not_complained_of(cutter: dict[str, Any]) -> None:
    assert check(waves(160.0, 5.0, cutter=cutter)) == []


@pytest.mark.parametrize("cutter", [{}, {"shape": "ball", "radius": 60}])
@pytest.mark.parametrize("slope", [(0.08, 0.0), (-0.06, 0.02), (0.0, 0.06), (0.04, -0.04)])
def test_a_plane_is_left_as_it_is_to_its_very_edges(
    tmp_path: Path, slope: tuple[float, float], cutter: dict[str, Any]
) -> None:
    """On a face that falls towards its edge the cutter's centre must overhang."""
    x, y = places()
    front = made(tmp_path, 18.5 + slope[0] * (x - 100) + slope[1] * (y - 150), cutter=cutter)
    (face,) = faces(front.job, front.layout, front.surface, body_of(front.job.cutter), (1.0, 1.0))
    own, closed = face.left_by_cutter((slice(0, len(face.y)), slice(0, len(face.x))))
    assert np.abs(closed - own).max() < 1e-5
    assert check(front) == []


def test_only_wood_counts_not_what_is_left_behind_a_gap(tmp_path: Path) -> None:
    x, y = places()
    grooves = 20.0 - 3.0 * np.exp(-(((x - 100.0) / 2.0) ** 2)) + 0.0 * y
    gap = {"count": 2, "gap": 16}
    assert check(made(tmp_path, grooves, strips=gap)) == []
    assert complaints(made(tmp_path, grooves, strips={"count": 1}))


def test_a_pull_is_carved_with_other_tools_and_not_complained_of(tmp_path: Path) -> None:
    x, y = places()
    pull = {"centre": [100, 150], "size": [60, 30], "depth": 12}
    front = made(tmp_path, 25.0 + 0.0 * x * y, pulls=[pull])
    assert front.surface.at(np.array([[100.0]]), np.array([[150.0]]))[0, 0] < 20.0
    assert check(front) == []


def test_low_edges_of_doors_are_reached_from_beyond_them() -> None:
    """Beyond a cap at a door's edge the relief stands high, but there is no wood."""
    cap = {"edge": "right", "width": 20, "height": 14, "blend": 120}
    front = small_front(
        front={"width": 400, "height": 200, "doors": 2, "space": 4},
        carving={"fit": "as given"},
        layers=[{"kind": "points", "points": [{"place": p, "height": 19} for p in ([0, 0], [400, 0], [0, 200])]}],
        caps=[cap],
        cutter={"shape": "ball", "radius": 60},
    )
    assert check(front) == []


def test_packed_strips_are_looked_at_without_their_gaps() -> None:
    """Waves across the strips: packed, they are as long as the wood is wide; hung, they run on behind the gaps."""
    settings = {
        "front": {"width": 240, "height": 120},
        "strips": {"width": 10, "gap": 20},
        "wood": DEEP,
        "layers": [{"kind": "waves", "trains": [{"length": 40}]}],
        "cutter": {"shape": "ball", "radius": 14},
    }
    packed = small_front(**settings, carving={"fit": "depth", "depth": 8, "packed": True})
    (face,) = faces(packed.job, packed.layout, packed.surface, Ball(14.0), (1.0, 1.0))
    assert face.x[-1] == pytest.approx(sum(strip.width for strip in packed.layout.strips))
    own, _ = face.left_by_cutter((slice(0, len(face.y)), slice(0, len(face.x))))
    assert np.abs(np.diff(own, axis=1)).max() < 2 * math.pi / 40 * 4 * 1.1
    found = about(check(packed), "left standing")
    assert found
    for finding in found:
        assert 0.0 <= finding.from_left <= 10.0


# --------------------------------------------------------------------------------------------------------------- tight


@pytest.mark.parametrize(("length", "depth"), [(100.0, 10.0), (110.0, 12.0)])
def test_a_hollow_less_than_the_margin_wider_than_the_disc_is_named_with_its_radius(
    length: float, depth: float
) -> None:
    """A wave a sin(2 pi y / L) has the radius L^2 / (4 pi^2 a) at its bottom (calculus)."""
    front = waves(length, depth)
    found = complaints(front)
    assert {finding.topic for finding in found} == {"tight hollow"}
    assert len(found) == front.count
    worst = found[0]
    assert worst.weight is Weight.LOOK
    assert worst.value == pytest.approx(length**2 / (2 * math.pi**2 * depth), rel=0.02)
    assert (worst.limit, worst.source) == (60.0, "our choice (limits.disc_margin)")
    y = worst_place(front, worst)
    beside = front.surface.at(np.array([[0.0]]), np.array([[y - 2.0], [y], [y + 2.0]]))[:, 0]
    assert beside[1] == min(beside)


def worst_place(front: Front, finding: Finding) -> float:
    """Return how high on the front a finding is, mm."""
    assert finding.strip is not None
    assert finding.from_top is not None
    return front.layout.strip(finding.strip).top - finding.from_top


def test_a_disc_with_the_margin_cures_a_tight_hollow() -> None:
    radius = number("cutter.radius =", complaints(waves(100.0, 10.0))[0].cure)
    assert radius < 50
    assert complaints(waves(100.0, 10.0, cutter={"radius": radius})) == []


def test_waves_so_much_longer_or_shallower_cure_a_tight_hollow() -> None:
    cure = complaints(waves(100.0, 10.0))[0].cure
    longer, shallower = number("very layer", cure), number("carving.depth =", cure)
    assert complaints(waves(100.0 * longer, 10.0)) == []
    assert complaints(waves(100.0, shallower)) == []


def test_a_tilted_disc_sweeps_its_radius_over_the_sine_and_is_cured_by_its_angle() -> None:
    found = complaints(waves(140.0, 10.0, cutter={"tilt": 30}))[0]
    assert found.limit == pytest.approx(1.2 * 50 / 0.5)
    tilt = number("cutter.tilt =", found.cure)
    assert 30 < tilt < 90
    assert complaints(waves(140.0, 10.0, cutter={"tilt": tilt})) == []


def test_the_margin_that_the_job_sets_is_held_to_and_said() -> None:
    (found, *_) = complaints(waves(120.0, 9.0, limits={"disc_margin": 2}))
    assert (found.limit, found.source) == (100.0, "said in the job")
    assert complaints(waves(120.0, 9.0)) == []


def test_ripples_of_a_few_hundredths_are_no_hollows() -> None:
    front = waves(12.0, 0.05)
    assert 12.0**2 / (2 * math.pi**2 * 0.05) > 50
    assert complaints(front) == []
    assert complaints(waves(10.0, 0.09)) == []


def test_a_hollow_in_which_much_is_left_is_not_told_again_as_tight(tmp_path: Path) -> None:
    found = check(made(tmp_path, trough(25.0)))
    standing = {finding.strip for finding in about(found, "left standing")}
    assert standing
    assert not standing & {finding.strip for finding in about(found, "tight hollow")}


def test_another_hollow_of_that_strip_is_told_as_tight(tmp_path: Path) -> None:
    both = np.minimum(trough(25.0, middle=220.0), trough(48.0, middle=80.0))
    found = check(made(tmp_path, both))
    (tight,) = [finding for finding in about(found, "tight hollow") if finding.strip == 5]
    assert tight.from_top == pytest.approx(HEIGHT - 80, abs=25)
    assert 5 in {finding.strip for finding in about(found, "left standing")}


def test_for_a_ball_no_hollow_is_tight() -> None:
    assert check(waves(100.0, 10.0, cutter={"shape": "ball", "radius": 50})) == []


def test_the_first_finding_of_a_disc_warns_of_it_and_no_other(tmp_path: Path) -> None:
    cautions = [finding.caution for finding in check(made(tmp_path, trough(25.0)))]
    assert "guard" in cautions[0]
    assert not any(cautions[1:])
    assert "guard" in check(waves(80.0, 10.0, cutter={"fit": True}))[0].caution
    ball = check(made(tmp_path, trough(25.0), cutter={"shape": "ball", "radius": 50}))
    assert ball
    assert not any(finding.caution for finding in ball)


def test_inch_jobs_never_print_millimetres() -> None:
    tables = {
        "unit": "in",
        "front": {"width": 8, "height": 16},
        "strips": {"count": 8, "gap": "1/8 in"},
        "wood": {"blank": 1.25, "floor": "3/8 in"},
    }
    for depth, fit in ((0.4, False), (0.6, False), (0.6, True)):
        front = waves(4.0, depth, **tables, cutter={"fit": fit})
        found = check(front)
        assert found
        for finding in found:
            assert not re.search(r"mm|cm", finding.sentence + finding.cure)


def test_nothing_promises_that_it_is_safe(tmp_path: Path) -> None:
    for finding in (*check(made(tmp_path, trough(25.0))), *check(waves(100.0, 10.0))):
        assert "safe" not in (finding.sentence + finding.cure + finding.caution).lower()


def test_the_sampling_step_hardly_changes_what_is_found(tmp_path: Path) -> None:
    values = [
        about(check(made(tmp_path, trough(25.0), sampling={"step": step})), "left standing")[0].value
        for step in (0.5, 1, 2)
    ]
    assert values == pytest.approx([values[0]] * 3, rel=0.15)


# ----------------------------------------------------------------------------------------------------------------- fit


def finer(front: Front) -> Face:
    """Return the face of a front on the grid that fitting rests on, with a further place between every two."""
    body = body_of(front.job.cutter)
    across, along = (fine_step(radius) for radius in body.extent)
    (face,) = faces(front.job, front.layout, front.surface, body, (across, along))
    x, y = (np.linspace(grid[0], grid[-1], 2 * len(grid) - 1) for grid in (face.x, face.y))
    return replace(face, x=x, y=y)


@pytest.mark.parametrize("cutter", [{}, {"shape": "ball", "radius": 40}, {"tilt": 45}], ids=str)
def test_what_is_fitted_to_the_cutter_it_can_leave(tmp_path: Path, cutter: dict[str, Any]) -> None:
    """The sharp arrises of this hollow lie between places of the grid: a quarter of a step times their slope is missed."""
    left = []
    for fit in (False, True):
        front = made(tmp_path, trough(25.0), cutter=cutter | {"fit": fit})
        face = finer(front)
        part = tuple(slice(int(0.4 * size), int(0.8 * size)) for size in face.shape)
        own, closed = face.left_by_cutter(part)
        left.append((closed - own).max())
    assert left[0] > 1.0
    assert left[1] < 0.1


def test_in_a_soft_hollow_nothing_but_the_tolerance_is_left_of_what_is_fitted() -> None:
    face = finer(waves(80.0, 10.0, cutter={"fit": True}))
    own, closed = face.left_by_cutter((slice(300, 1200), slice(0, 90)))
    assert (closed - own).max() < 1.5 * TOLERANCE


@pytest.mark.parametrize("cutter", [{}, {"shape": "ball", "radius": 40}])
def test_of_what_is_fitted_there_is_nothing_to_complain(tmp_path: Path, cutter: dict[str, Any]) -> None:
    assert complaints(made(tmp_path, trough(25.0), cutter=cutter))
    front = made(tmp_path, trough(25.0), cutter=cutter | {"fit": True})
    assert [finding.weight for finding in check(front)] == [Weight.KNOW]


def heights_of(front: Front) -> Array:
    """Return all heights of all strips."""
    return np.concatenate([strip.heights.ravel() for strip in front.strips()])


def test_fitting_never_lowers_and_raises_by_what_was_left_standing(tmp_path: Path) -> None:
    designed, fitted = (made(tmp_path, trough(25.0), cutter={"fit": fit}) for fit in (False, True))
    raised = heights_of(fitted) - heights_of(designed)
    assert raised.min() == 0.0
    standing = about(check(designed), "left standing")[0].value
    assert raised.max() == pytest.approx(standing, abs=0.1)
    (told,) = check(fitted)
    assert told.weight is Weight.KNOW
    assert told.value == raised.max()
    assert told.strip == 5
    assert number("at all on", told.sentence) == pytest.approx(100 * (raised > 0).mean(), rel=0.05)


@pytest.mark.parametrize("cutter", [{}, {"shape": "ball", "radius": 25}])
def test_fitting_does_not_change_what_the_cutter_reaches(cutter: dict[str, Any]) -> None:
    designed, fitted = (waves(160.0, 6.0, cutter=cutter | {"fit": fit}) for fit in (False, True))
    np.testing.assert_array_equal(heights_of(fitted), heights_of(designed))
    assert "changes nothing" in check(fitted)[0].sentence


def test_a_round_hollow_is_filled_to_the_circle_of_the_ball() -> None:
    """Waves along the strips under a ball: in the middle of each hollow the fitted face is a circle of the ball's radius."""
    front = waves(80.0, 10.0, cutter={"shape": "ball", "radius": 50, "fit": True})
    y = np.linspace(0.0, 400.0, 4001)
    z = front.surface.at(np.array([[60.0]]), y[:, None])[:, 0]
    bottom = int(z[1000:2000].argmin()) + 1000
    around = np.arange(-40, 41)
    circle = 50.0 - np.sqrt(50.0**2 - (around * 0.1) ** 2)
    np.testing.assert_allclose(z[bottom + around] - z[bottom], circle, atol=TOLERANCE)


def test_lines_stations_and_scattered_places_agree_with_the_strips(tmp_path: Path) -> None:
    front = made(tmp_path, trough(25.0), cutter={"fit": True})
    strip = front.strip(5)
    left, right = edge_heights(front.surface, strip.place, strip.from_top)
    np.testing.assert_array_equal(left, strip.left_edge)
    np.testing.assert_array_equal(right, strip.right_edge)
    x, y = np.meshgrid(strip.x, strip.y)
    np.testing.assert_array_equal(front.surface.at(x.ravel(), y.ravel()), strip.heights.ravel())
    assert (front.surface.at(x, y) == strip.heights).all()


def test_places_outside_the_strips_are_as_designed(tmp_path: Path) -> None:
    edge = {"count": 8, "gap": 3, "edge": 6}
    front = made(tmp_path, trough(25.0, strip=1), cutter={"fit": True}, strips=edge)
    assert isinstance(front.surface, Reachable)
    x, y = np.array([[0.0, 5.0, WIDTH]]), np.arange(0.0, HEIGHT)[:, None]
    np.testing.assert_array_equal(front.surface.at(x, y), front.surface.designed.at(x, y))


def test_a_changed_sampling_step_does_not_change_what_is_fitted(tmp_path: Path) -> None:
    one, other = (made(tmp_path, trough(25.0), cutter={"fit": True}, sampling={"step": step}) for step in (1, 1.9))
    x, y = np.linspace(0.0, WIDTH, 90)[None, :], np.linspace(0.0, HEIGHT, 90)[:, None]
    np.testing.assert_array_equal(one.surface.at(x, y), other.surface.at(x, y))
    assert one.mark == other.mark


def test_the_mark_tells_a_fitted_design_and_its_cutter(tmp_path: Path) -> None:
    cutters = ({}, {"fit": True}, {"fit": True, "radius": 40}, {"fit": True, "shape": "ball"})
    marks = [made(tmp_path, trough(25.0), cutter=cutter).mark for cutter in cutters]
    assert len(set(marks)) == len(cutters)


def test_floor_and_blank_hold_for_what_is_fitted(tmp_path: Path) -> None:
    x, y = places()
    deep = 18.0 + 14.0 * np.cos(2 * math.pi * y / 60) + 0.0 * x
    heights = heights_of(made(tmp_path, deep, cutter={"fit": True}))
    assert heights.min() >= 8.0
    assert heights.max() <= 30.0 - 0.8


def test_a_pull_goes_into_the_fitted_face_as_deep_as_into_the_designed_one(tmp_path: Path) -> None:
    pull = {"centre": [112.5, 180], "size": [50, 30], "depth": 6, "edge": 3}
    plain, pulled = (
        made(tmp_path, trough(30.0, deep=4.0), cutter={"fit": True}, pulls=pulls) for pulls in ([], [pull])
    )
    x, y = np.array([[112.5, 20.0]]), np.array([[180.0]])
    assert plain.surface.at(x, y) - pulled.surface.at(x, y) == pytest.approx(np.array([[6.0, 0.0]]), abs=1e-5)


def test_the_same_files_with_one_worker_and_with_two(tmp_path: Path) -> None:
    front = made(tmp_path, trough(25.0), cutter={"fit": True})
    one, two = (write(front, tmp_path / str(workers), workers=workers) for workers in (1, 2))
    assert [(file.name, file.sha256) for file in one.files] == [(file.name, file.sha256) for file in two.files]


def rough_face(body: Ball | Disc, spacing: tuple[float, float]) -> Face:
    """Return the face of a front full of hollows on a grid."""
    front = small_front(wood=DEEP, layers=[{"kind": "hills", "size": 70, "octaves": 3}])
    (face,) = faces(front.job, front.layout, front.surface, body, spacing)
    return face


@pytest.mark.parametrize("body", [Ball(14.0), Disc(40.0, 5.0)], ids=str)
def test_a_part_of_a_face_is_what_it_is_in_the_whole(body: Ball | Disc) -> None:
    """So that any process may work out any tile."""
    face = rough_face(body, (1.0, 1.0))
    _, whole = face.left_by_cutter((slice(0, len(face.y)), slice(0, len(face.x))))
    own, closed = face.left_by_cutter((slice(40, 90), slice(70, 140)))
    assert (closed - own).max() > 0.1
    np.testing.assert_array_equal(closed, whole[40:90, 70:140])


def test_tiles_give_what_the_whole_front_gives() -> None:
    """On the places of the grid itself, over several tiles each way; what is raised by no more than the tolerance may be left."""
    settings = {
        "front": {"width": 300, "height": 400},
        "wood": DEEP,
        "layers": [{"kind": "hills", "size": 70, "octaves": 3}],
    }
    designed, fitted = (small_front(**settings, cutter={"fit": fit}) for fit in (False, True))
    body = body_of(fitted.job.cutter)
    across, along = (fine_step(radius) for radius in body.extent)
    (face,) = faces(designed.job, designed.layout, designed.surface, body, (across, along))
    own, closed = face.left_by_cutter((slice(0, len(face.y)), slice(0, len(face.x))))
    left = np.maximum(own, closed - TOLERANCE)
    apart = np.abs(fitted.surface.at(face.x[None, :], face.y[:, None]) - left)
    assert (closed - own).max() > 0.5
    assert len(face.x) > 3 * 192
    assert apart.max() < TOLERANCE
    assert np.mean(apart[closed - own > 2 * TOLERANCE] > 1e-6) < 0.01
