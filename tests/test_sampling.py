"""Sampling: relief finer than the grid is seen as it is, whatever the step, and said where the job's heights do not show it."""

from __future__ import annotations

import copy
import math
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import trimesh
from following import cures_that_do_not_cure
from helpers import CANVAS, PLAIN_KINDS, a_job, layer_of, relief_of
from hypothesis import given, settings
from hypothesis import strategies as st

from facade.checks import Finding, Weight, check_front, cutter, grain, sampling
from facade.front import Front, build_front
from facade.job import make_job
from facade.measuring.close import look_closely
from facade.reliefs import KINDS

DEEP = {"blank": 30, "floor": 8}


def front_of(job: dict[str, Any], folder: Path | None = None) -> Front:
    return build_front(make_job(copy.deepcopy(job), folder=folder))


def waves(
    length: float, height: float, *, step: float = 1.0, width: float = 60, stretch: float = 1.0
) -> dict[str, Any]:
    """Return a job of level waves, `height` either side of their middle, on two strips of a face 150 mm high."""
    layer = {
        "kind": "waves",
        "stretch": stretch,
        "trains": [{"length": length / stretch, "direction": 90, "phase": 20}],
    }
    return a_job(
        front={"width": width, "height": 150},
        strips={"count": 2},
        wood=DEEP,
        carving={"fit": "depth", "depth": 2.0 * height},
        layers=[layer],
        sampling={"step": step},
    )


def steepest(front: Front) -> float:
    return max(one.grain.steepest.degrees for one in front.measures())


def slope_of(length: float, height: float) -> float:
    """Return the steepest slope of a wave a sin(2 pi y / l), degrees: atan(2 pi a / l) (calculus)."""
    return math.degrees(math.atan(2.0 * math.pi * height / length))


# --------------------------------------------------------------------------------------------------------- what is judged


@pytest.mark.parametrize("step", [0.25, 1.0, 5.0, 50.0])
@pytest.mark.parametrize("length", [2.0, 3.0, 4.0, 7.0])
def test_the_slope_of_short_waves_is_told_whatever_the_step(length: float, step: float) -> None:
    """At 1 mm waves of 2 mm are sampled where they cross their middle, and would be flat."""
    front = front_of(waves(length, 0.5, step=step))
    assert math.tan(math.radians(steepest(front))) == pytest.approx(math.pi / length, rel=0.04)


def test_waves_that_would_come_out_flat_are_stopped_for_their_slope_and_looked_at_for_their_step() -> None:
    found = check_front(front_of(waves(2.0, 0.5)))
    assert {one.strip for one in found if one.check == "grain" and one.stops} == {1, 2}
    assert {one.strip for one in found if one.check == "sampling"} == {1, 2}
    assert {one.strip for one in found if one.check == "cutter" and one.weight is not Weight.KNOW} == {1, 2}


@settings(max_examples=25, deadline=None)
@given(
    length=st.floats(1.5, 40.0),
    share=st.floats(0.01, 0.2),
    step=st.floats(0.25, 5.0),
)
def test_the_slope_told_is_that_of_the_wave_and_what_lines_miss_is_said(
    length: float, share: float, step: float
) -> None:
    """What straight lines miss of a wave at even places is worked out along one line, a thousand places to a wave."""
    height = min(share * length, 4.0)
    front = front_of(waves(length, height, step=step, width=24, stretch=0.5))
    analytic = 2.0 * math.pi * height / length
    # Slopes far below every limit are read off fewer places.
    assert math.tan(math.radians(steepest(front))) == pytest.approx(analytic, rel=0.05 if analytic > 0.18 else 0.11)
    strip = front.strip(1)
    y = np.linspace(strip.y[0], strip.y[-1], int(150 / length * 1000) + 1)
    exact = front.surface.at(np.array([[float(strip.x[0])]]), y[:, None])[:, 0]
    missed = float(np.abs(np.interp(y, strip.y, strip.heights[:, 0]) - exact).max())
    found = sampling.check(front)
    assert bool(found) == (missed > 0.1) or missed == pytest.approx(0.1, rel=0.1)
    if found:
        assert found[0].value == pytest.approx(missed, rel=0.1, abs=0.01)


def test_the_radius_of_a_short_hollow_is_told() -> None:
    """A wave a sin(2 pi y / l) has the radius l^2 / (4 pi^2 a) at its bottom (calculus)."""
    worst = next(one for one in cutter.check(front_of(waves(4.0, 0.12))) if one.topic == "tight hollow")
    assert worst.value == pytest.approx(4.0**2 / (4.0 * math.pi**2 * 0.12), rel=0.1)


def test_a_disc_leaves_all_of_what_is_far_too_short_for_it() -> None:
    (worst, *_) = cutter.check(front_of(waves(4.0, 0.5)))
    # A circle of radius R on two crests l apart hangs l^2 / (8 R) down between them (circle geometry).
    assert worst.value == pytest.approx(1.0 - 4.0**2 / (8.0 * 50.0), abs=0.05)


def test_a_smooth_front_is_judged_by_its_own_heights() -> None:
    front = front_of(a_job(layers=[{"kind": "swell", "size": 150}]))
    for strip in front.strips():
        assert look_closely(front.job, front.layout, front.surface, strip).strip is strip
    assert sampling.check(front) == []


# ------------------------------------------------------------------------------------------------------------ the finding


def cured(job: dict[str, Any], folder: Path | None = None) -> list[Finding]:
    """Return what is found of the sampling of a job, having followed its cure."""
    found = sampling.check(front_of(job, folder))
    assert cures_that_do_not_cure(job, folder, only="sampling") == []
    return found


@pytest.mark.parametrize(("length", "height"), [(2.0, 0.5), (4.0, 0.6), (6.0, 1.5)])
def test_the_step_that_is_named_holds(length: float, height: float) -> None:
    found = cured(waves(length, height))
    assert {one.strip for one in found} == {1, 2}
    assert "sampling.step = 0." in found[0].cure


@pytest.mark.parametrize(("height", "weight"), [(0.2, Weight.LOOK), (0.6, Weight.STOPS)])
def test_what_a_gap_hides_wants_a_look_and_more_stops(height: float, weight: Weight) -> None:
    """Waves of 2 mm at 1 mm are drawn flat or nearly so: what is missed is about their height either side."""
    job = waves(2.0, height)
    assert {one.weight for one in sampling.check(front_of(job))} == {weight}


def test_another_limit_can_be_said() -> None:
    (found, *_) = sampling.check(front_of(waves(2.0, 0.2) | {"limits": {"between_heights_most": 0.15}}))
    assert (found.weight, found.limit, found.source) == (Weight.STOPS, 0.15, "said in the job")
    assert sampling.check(front_of(waves(2.0, 0.2) | {"limits": {"between_heights": 0.5}})) == []


def test_a_coarse_step_hides_nothing() -> None:
    hills = a_job(layers=[{"kind": "hills", "size": 60}])
    fine, coarse = front_of(hills), front_of(hills | {"sampling": {"step": 50}})
    assert steepest(coarse) == pytest.approx(steepest(fine), abs=1.0)
    assert min(one.thinnest.height for one in coarse.measures()) == pytest.approx(
        min(one.thinnest.height for one in fine.measures()), abs=0.1
    )
    assert cured(hills | {"sampling": {"step": 50}})


def test_a_land_and_a_pull_between_heights_are_seen() -> None:
    level = {"sampling": {"step": 25}, "layers": [{"kind": "hills", "size": 160, "octaves": 1}]}
    land = a_job(**level, lands=[{"centre": [112.5, 66], "size": [6, 6], "height": 14, "blend": 2}])
    pull = a_job(**level, pulls=[{"centre": [112.5, 66], "size": [12, 12], "depth": 5, "edge": 1}])
    for job in (land, pull):
        assert 5 in {one.strip for one in cured(job) if one.stops}


@pytest.mark.parametrize(("length", "hides"), [(4.0, False), (2.0, False), (0.5, True), (0.3, True)])
def test_waves_that_are_too_many_to_follow_are_said(length: float, hides: bool) -> None:
    """Eight heights to a wave show it; what is said is how far apart they stand in truth."""
    front = front_of(waves(length, length / 10.0, stretch=0.1))
    found = [one for one in sampling.check(front) if one.topic == "not looked at all over"]
    assert bool(found) == hides
    looked = [look_closely(front.job, front.layout, front.surface, strip).strip for strip in front.strips()]
    apart = max(float(np.diff(places).max()) for strip in looked for places in (strip.x, strip.y))
    assert (apart > length / 8.0 + 1e-9) == hides
    for one in found:
        assert one.weight is Weight.KNOW
        assert one.value == pytest.approx(apart)
        assert front.job.ruler.text(apart, 3) in one.sentence


def test_no_step_is_named_for_a_wall() -> None:
    job = a_job(
        layers=[{"kind": "hills", "size": 160, "octaves": 1}],
        lands=[{"centre": [100, 60], "size": [40, 30], "height": 14, "blend": 0}],
    )
    (found, *_) = sampling.check(front_of(job))
    assert "sampling.step =" not in found.cure
    assert "blend" in found.cure


@pytest.mark.parametrize("fine", [True, False])
def test_a_mesh_finer_than_the_step_is_said(tmp_path: Path, fine: bool) -> None:
    """A corrugated sheet, level across: its slope is that of its own waves, by calculus."""
    length, y = (4.0 if fine else 40.0), np.arange(0.0, 150.01, 0.5)
    across, along = np.meshgrid([0.0, 60.0], y)
    corners = np.stack([across, along, 15.0 + 0.5 * np.sin(2.0 * math.pi * along / length)], axis=-1).reshape(-1, 3)
    faces = [face for k in range(len(y) - 1) for face in ((2 * k, 2 * k + 1, 2 * k + 3), (2 * k, 2 * k + 3, 2 * k + 2))]
    trimesh.Trimesh(corners, faces, process=False).export(tmp_path / "sheet.stl")
    layer = {"kind": "mesh", "file": "sheet.stl", "columns": 241, "rise": 1, "fill": "stretch"}
    job = waves(length, 0.5) | {"carving": {"fit": "as given"}, "layers": [layer]}
    front = front_of(job, tmp_path)
    assert steepest(front) == pytest.approx(slope_of(length, 0.5), rel=0.05)
    assert bool(sampling.check(front)) is fine


@pytest.mark.parametrize("fine", [True, False])
def test_a_scan_finer_than_the_step_is_said(tmp_path: Path, fine: bool) -> None:
    """Ripples of 2 mm, or of 40, on samples 0.4 mm apart: 500 by 300 on a front of 200 by 120."""
    y = np.linspace(0.0, 120.0, 301)[:, None] + np.zeros(501)
    np.save(tmp_path / "scan.npy", 15.0 + 0.5 * np.sin(2.0 * math.pi * y / (2.0 if fine else 40.0)))
    layer = {"kind": "grid", "file": "scan.npy", "rise": 1, "fill": "stretch"}
    job = a_job(carving={"fit": "as given"}, wood=DEEP, layers=[layer])
    found = sampling.check(front_of(job, tmp_path))
    assert bool(found) == fine
    expected = slope_of(2.0 if fine else 40.0, 0.5)
    # The spline through 5 samples to a wave is a little less steep than the wave.
    assert steepest(front_of(job, tmp_path)) == pytest.approx(expected, rel=0.08)
    assert cures_that_do_not_cure(job, tmp_path, only="sampling") == []


def test_inch_jobs_print_no_millimetres() -> None:
    job = a_job(
        unit="in",
        front={"width": 2, "height": 4},
        strips={"count": 2},
        wood={"blank": 1, "floor": 0.3},
        carving={"fit": "depth", "depth": 0.04},
        layers=[{"kind": "waves", "trains": [{"length": 0.1, "direction": 90}]}],
    )
    (found, *_) = cured(job)
    assert "mm" not in found.sentence + found.cure
    assert 'sampling.step = "0.' in found.cure


# ---------------------------------------------------------------------------------------------------- how fine a relief is


@pytest.mark.parametrize("kind", PLAIN_KINDS)
def test_an_eighth_of_the_shortest_wave_hides_nothing(kind: str) -> None:
    """Eight places to a sine miss at most (1 - cos(pi / 8)) / 2 = 4 % of its range; twice that is allowed for other shapes."""
    layer = layer_of(kind)
    heights = relief_of(kind, **{key: value for key, value in layer.items() if key != "kind"})
    shortest = KINDS[kind].model_validate(layer).finest(CANVAS)
    step = shortest / 8.0
    y = np.arange(0.0, CANVAS.height, step)
    close = np.linspace(0.0, y[-1], 5 * len(y))
    worst, low, high = 0.0, math.inf, -math.inf
    for x in np.linspace(0.0, CANVAS.width, 23):
        there = np.broadcast_to(heights(np.array([[x]]), close[:, None]), (len(close), 1))[:, 0]
        known = np.broadcast_to(heights(np.array([[x]]), y[:, None]), (len(y), 1))[:, 0]
        worst = max(worst, float(np.abs(np.interp(close, y, known) - there).max()))
        low, high = min(low, float(there.min())), max(high, float(there.max()))
    assert worst < 0.08 * (high - low)


@pytest.mark.parametrize("lengths", [(2.0, 2.3), (3.1, 2.7), (4.0, 3.7)])
def test_short_waves_are_fitted_from_floor_to_face_and_cut_off_nowhere(lengths: tuple[float, float]) -> None:
    """Two trains beat; where both crests meet is the highest place, found here on ten places to a wave."""
    trains = [
        {"length": length, "direction": turn, "phase": 35} for length, turn in zip(lengths, (90, 75), strict=True)
    ]
    front = front_of(a_job(wood=DEEP, layers=[{"kind": "waves", "trains": trains}]))
    x, y = np.arange(0.0, 200.0, 0.25), np.arange(0.0, 120.0, 0.25)
    heights = front.surface.wanted(x[None, :], y[:, None])
    range_ = front.surface.highest - front.surface.floor
    assert heights.max() <= front.surface.highest + 0.001 * range_
    assert heights.min() >= front.surface.floor - 0.001 * range_
    assert heights.max() > front.surface.highest - 0.05 * range_
    assert heights.min() < front.surface.floor + 0.05 * range_


# --------------------------------------------------------------------------------------------------------- small grooves


def lowest_circle(length: float, height: float, radius: float) -> float:
    """Return how far above the bottom of a groove y = a (1 - cos(2 pi x / l)) a circle rests at the lowest, by brute force."""
    across = np.linspace(-radius, radius, 40_001)
    under = np.sqrt(radius**2 - across**2)
    rests = []
    for middle in np.linspace(-1.0, 1.0, 41):
        groove = height * (1.0 - np.cos(2.0 * math.pi * (middle + across) / length))
        rests.append(float((groove + under).max()) - math.sqrt(radius**2 - middle**2))
    return min(rests)


@pytest.mark.parametrize("phase", [0.0, 37.0, 111.0])
@pytest.mark.parametrize(
    ("length", "height", "radius"), [(20.0, 2.0, 12.0), (14.0, 1.0, 12.0), (9.0, 1.2, 6.0), (40.0, 4.0, 25.0)]
)
def test_wood_left_in_a_groove_is_that_above_the_lowest_circle(
    length: float, height: float, radius: float, phase: float
) -> None:
    job = waves(length, height)
    job["layers"][0]["trains"][0]["phase"] = phase
    job["cutter"] = {"shape": "ball", "radius": radius}
    (worst, *_) = cutter.check(front_of(job))
    assert worst.value == pytest.approx(lowest_circle(length, height, radius), abs=0.05)


def test_the_groove_that_was_overstated() -> None:
    assert lowest_circle(20.0, 2.0, 12.0) == pytest.approx(1.011, abs=0.001)


# ----------------------------------------------------------------------------------------------------------------- cures


@pytest.mark.parametrize(
    "changes",
    [
        {"layers": [{"kind": "hills", "size": 60}]},
        {"layers": [{"kind": "hills", "size": 90}], "lands": [{"centre": [100, 60], "size": [60, 40], "blend": 5}]},
        {"layers": [{"kind": "hills", "size": 110, "octaves": 2}], "cutter": {"tilt": 60}},
        {
            "layers": [{"kind": "waves", "trains": [{"length": 90, "direction": 90}]}],
            "carving": {"fit": "depth", "depth": 9},
        },
        {"layers": [{"kind": "swell", "size": 90}], "cutter": {"shape": "ball", "radius": 40}},
        {"layers": [{"kind": "dunes", "length": 80}], "fades": [{"edge": "top", "width": 8}]},
        {
            "layers": [{"kind": "hills", "size": 160, "octaves": 1}],
            "caps": [{"edge": "bottom", "width": 10, "height": 12, "blend": 6}],
        },
    ],
    ids=["hills", "land", "tilted disc", "waves", "ball", "fade", "cap"],
)
@pytest.mark.parametrize("unit", ["mm", "in"])
def test_cures_of_slope_and_cutter_cure(changes: dict[str, Any], unit: str) -> None:
    job = a_job(wood=DEEP, **changes)
    if unit == "in":
        job = {"unit": "in"} | in_mm(job)
    front = front_of(job)
    assert [one for one in [*grain.check(front), *cutter.check(front)] if one.cure]
    for check in ("grain", "cutter", "cut off", "blank"):
        assert cures_that_do_not_cure(job, only=check) == []


_LENGTHS = {"width", "height", "size", "length", "blank", "floor", "depth", "blend", "radius", "centre", "gap"}


def in_mm(value: Any, key: str = "") -> Any:
    """Return settings with every length as a text in mm, so that a job in inches has them too."""
    if isinstance(value, dict):
        return {name: in_mm(part, name) for name, part in value.items()}
    if isinstance(value, list | tuple):
        return [in_mm(part, key) for part in value]
    return f"{value} mm" if key in _LENGTHS and isinstance(value, int | float) else value
