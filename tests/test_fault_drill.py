"""Fault drill: twelve faults are planted in one job, one for every question of the checks, and each must be found where it is."""

from __future__ import annotations

import io
from pathlib import Path

import numpy as np
import pytest

from facade.checks import Finding, Weight, check_front
from facade.front import Front, build_front
from facade.job import read_job
from facade.relaxing import Relaxed, relax

WIDTH, HEIGHT, LEVEL = 841, 700, 15.0  # two doors of 20 strips of 18 with gaps of 3, and 2 at both sides

JOB = """
title = "Fault drill"
[front]
width = 841
height = 700
doors = 2
space = 3
reveals = { left = 2, right = 2 }
[strips]
count = 40
gap = 3
[wood]
species = "white ash"
blank = 24
floor = 2
moisture = MOISTURE
[carving]
fit = "as given"
[[layers]]
kind = "grid"
file = "heights.npy"
rise = "1 mm"
[board]
density = DENSITY
[hinges]
pivot = "back"
inward = 16
forward = 6
count = 2
[beside]
left = { stands = "case side", forward = CASE }
[opening]
mounting = "inset"
widths = [841, 841, BOTTOM]
heights = [700, 700, 700]
[[bare_doors]]
door = 1
bow = 0.5
[[bare_doors]]
door = 2
bow = BOW
[[pulls]]
centre = [395, 200]
size = [40, 110]
depth = PULL
edge = 4
[relax]
moved = 14
depth = 0.4
"""
CLEAN = {"MOISTURE": 9, "DENSITY": 560, "CASE": -18, "BOTTOM": 841, "BOW": 0.5}
FAULTY = {"MOISTURE": 18, "DENSITY": 1700, "CASE": 30, "BOTTOM": 834, "BOW": 3.0, "PULL": 5}


def middle(strip: int) -> float:
    """Return the middle of a strip, mm from the left of the front."""
    return 2 + (strip - 1) * 21 + 9


def swelling(strip_x: float, from_top: float, wide: float, tall: float, by: float) -> np.ndarray:
    """Return a rise (or dip) of a cosine squared, `wide` and `tall` mm from its middle to its foot; first row at the top."""

    def bell(away: np.ndarray) -> np.ndarray:
        return np.where(np.abs(away) < 1.0, np.cos(np.pi / 2 * np.clip(away, -1, 1)) ** 2, 0.0)

    x, down = np.arange(WIDTH + 1.0), np.arange(HEIGHT + 1.0)
    return by * bell((x - strip_x) / wide)[None, :] * bell((down - from_top) / tall)[:, None]


def faulty_heights() -> np.ndarray:
    z = np.full((HEIGHT + 1, WIDTH + 1), LEVEL)
    z += swelling(middle(5), 150, 70, 90, -10.6)  # thickness: 4.4 mm are left
    z += swelling(middle(12), 400, 60, 22, -4.0)  # cutter: a hollow of radius 25 along the strip
    z += swelling(middle(17), 560, 60, 11, 6.0)  # grain: 40 degrees
    z += swelling(middle(25), 350, 60, 190, -9.2)  # handling: thin over a long stretch of the middle
    z += swelling(middle(36), 350, 40, 1e6, -5.9)  # screws: nowhere thick enough
    z += swelling(middle(31) + 10.5 - 7, 350, 14, 60, 5.0)  # looks: the flank falls into the gap beside strip 31
    return z


def written(folder: Path, heights: np.ndarray, values: dict[str, float]) -> Path:
    data = io.BytesIO()
    np.save(data, heights)
    (folder / "heights.npy").write_bytes(data.getvalue())
    text = JOB if "PULL" in values else JOB.partition("[[pulls]]")[0] + "[relax]" + JOB.partition("[relax]")[2]
    for name, value in values.items():
        text = text.replace(name, str(value))
    (folder / "drill.toml").write_text(text, encoding="utf-8")
    return folder / "drill.toml"


@pytest.fixture(scope="module")
def path(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return written(tmp_path_factory.mktemp("drill"), faulty_heights(), FAULTY)


@pytest.fixture(scope="module")
def front(path: Path) -> Front:
    return build_front(read_job(path))


@pytest.fixture(scope="module")
def found(front: Front) -> list[Finding]:
    return check_front(front)


@pytest.fixture(scope="module")
def relaxed(path: Path) -> Relaxed:
    return relax(read_job(path), path.parent)


@pytest.mark.parametrize(
    ("check", "strip", "from_top", "within"),
    [
        ("thickness", 5, 150, 3),
        ("cutter", 12, 400, 3),
        ("grain", 17, 560, 7),
        ("handling", 25, 350, 3),
        ("swing", 1, None, None),
        ("screws", 36, None, None),
        ("looks", 31, 350, 3),
        ("lands and pulls", 19, 500, 30),
    ],
)
def test_a_fault_of_a_strip_is_named_at_its_strip_and_its_place(
    check: str, strip: int, from_top: float | None, within: float | None, found: list[Finding]
) -> None:
    named = [one for one in found if one.check == check and one.strip == strip and one.weight is not Weight.KNOW]
    assert named
    if from_top is not None:
        assert min(abs(one.from_top - from_top) for one in named) <= within
    assert all(one.cure and one.source and one.limit is not None for one in named)


@pytest.mark.parametrize(
    ("check", "door", "words"),
    [
        ("weight", 1, "hinge"),
        ("movement", None, "18"),
        ("opening", None, "834 mm"),
        ("empty door", 2, "3 mm"),
    ],
)
def test_a_fault_of_a_door_or_of_the_whole_is_named(
    check: str, door: int | None, words: str, found: list[Finding]
) -> None:
    named = [one for one in found if one.check == check and one.weight is not Weight.KNOW and one.door == door]
    assert any(words in one.sentence for one in named)
    assert all(one.cure for one in named)


def test_the_worst_place_of_every_question_is_the_planted_one(found: list[Finding]) -> None:
    for check, strip in (("thickness", 5), ("grain", 17), ("handling", 25), ("screws", 36)):
        heaviest = next(one.weight for one in found if one.check == check)
        worst = max((one for one in found if one.check == check and one.weight is heaviest), key=lambda one: one.beyond)
        assert worst.strip == strip


def test_relaxing_clears_what_the_relief_can_clear_and_leaves_the_rest_named(relaxed: Relaxed) -> None:
    stopped = {one.check for one in check_front(relaxed.before) if one.weight is Weight.STOPS}
    assert stopped >= {"thickness", "grain", "swing", "screws", "opening", "empty door"}
    assert {one.check for one in relaxed.left} == {"opening", "empty door"}
    assert 0.0 < relaxed.moved.most <= 14.0


def test_the_same_job_without_its_faults_has_nothing_that_stops_it(tmp_path: Path) -> None:
    level = np.full((HEIGHT + 1, WIDTH + 1), LEVEL) + swelling(middle(20), 300, 400, 300, 3.0)
    clean = check_front(build_front(read_job(written(tmp_path, level, CLEAN))))
    assert [one.sentence for one in clean if one.weight is Weight.STOPS] == []
    assert [one.sentence for one in clean if one.weight is Weight.LOOK] == []
