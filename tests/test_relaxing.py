"""Relaxing: the smallest change that clears what stops a job, in a new job file; honest where nothing does."""

from __future__ import annotations

import tomllib
from pathlib import Path

import numpy as np
import pytest

from facade.checks import Weight, check_front
from facade.front import build_front
from facade.job import read_job
from facade.relaxing import Relaxed, relax

BASE = """
# A small front of our own.
title = "A trial"
[front]
width = 207
height = 300
[strips]
count = 10     # ten
gap = 3
[wood]
species = "white ash"
blank = 20
floor = 8      # a floor
[[layers]]
kind = "waves"
trains = [{ length = 140, direction = 70 }]
"""


def relaxed(tmp_path: Path, text: str, name: str = "trial") -> Relaxed:
    path = tmp_path / f"{name}.toml"
    path.write_text(text, encoding="utf-8")
    return relax(read_job(path), tmp_path)


def stopping(text: str, tmp_path: Path) -> set[str]:
    path = tmp_path / "again.toml"
    path.write_text(text, encoding="utf-8")
    return {one.check for one in check_front(build_front(read_job(path))) if one.weight is Weight.STOPS}


def test_what_nothing_stops_is_left_as_it_is(tmp_path: Path) -> None:
    made = relaxed(tmp_path, BASE)
    assert made.changes == ()
    assert made.text == BASE
    assert made.left == ()
    assert made.moved.most == 0.0


STEEP = (
    BASE.replace("length = 140, direction = 70", "length = 45, direction = 90")
    + '[cutter]\nshape = "ball"\nradius = 6\n'
)
STANDING = BASE.replace("length = 140, direction = 70", "length = 50, direction = 90").replace(
    "[[layers]]", '[carving]\nfit = "depth"\ndepth = 6\n[[layers]]'
)
THIN = BASE.replace("floor = 8 ", "floor = 4 ")
JAMS = (
    BASE.replace("height = 300", "height = 300\nreveals = { left = 4 }").replace("width = 207", "width = 211")
    + '[hinges]\npivot = "back"\ninward = 60\nforward = -4\n[beside]\nleft = { stands = "case side", forward = 30 }\n'
)


@pytest.mark.parametrize(
    ("text", "check"), [(STEEP, "grain"), (STANDING, "cutter"), (THIN, "thickness"), (JAMS, "swing")]
)
def test_what_stops_a_job_is_cleared_in_the_new_job_file(text: str, check: str, tmp_path: Path) -> None:
    assert check in stopping(text, tmp_path)
    made = relaxed(tmp_path, text)
    assert made.left == ()
    assert made.changes
    assert stopping(made.text, tmp_path) == set()


def test_comments_stay_and_every_change_says_what_was_there(tmp_path: Path) -> None:
    made = relaxed(tmp_path, THIN)
    assert "# ten" in made.text
    assert "# was 4; a floor" in made.text
    assert all(f"# {change}" in made.text for change in made.changes)
    assert tomllib.loads(made.text)["wood"]["floor"] >= 5.0


def test_no_more_is_changed_than_is_needed(tmp_path: Path) -> None:
    """A little less of the same change no longer clears it."""
    made = relaxed(tmp_path, THIN)
    floor = tomllib.loads(made.text)["wood"]["floor"]
    assert stopping(THIN.replace("floor = 4 ", f"floor = {floor - 0.3} "), tmp_path)


def test_how_far_the_surface_moved_is_measured_on_both_fronts(tmp_path: Path) -> None:
    made = relaxed(tmp_path, THIN)
    strip = made.before.strip(made.moved.strip)
    apart = np.abs(made.after.strip(made.moved.strip).heights - strip.heights)
    assert made.moved.most == pytest.approx(float(apart.max()), abs=0.05)
    row = int(np.abs(strip.from_top - made.moved.from_top).argmin())
    assert float(apart[row].max()) == pytest.approx(made.moved.most, abs=0.1)
    assert 0.0 < made.moved.mean <= made.moved.most


def test_no_place_moves_further_than_the_maker_allows(tmp_path: Path) -> None:
    tight = THIN + "[relax]\nmoved = 0.2\n"
    made = relaxed(tmp_path, tight)
    assert made.changes == ()
    assert {one.check for one in made.left} >= {"thickness"}


def test_what_no_change_of_the_relief_clears_is_left_and_named(tmp_path: Path) -> None:
    small = '[opening]\nmounting = "inset"\nwidths = [205, 205, 205]\nheights = [300, 300, 300]\n'
    made = relaxed(tmp_path, BASE + small)
    assert made.changes == ()
    assert {one.check for one in made.left} == {"opening"}


def test_a_job_in_inches_is_relaxed_in_inches(tmp_path: Path) -> None:
    inches = (
        THIN.replace('title = "A trial"', 'title = "A trial"\nunit = "in"')
        .replace("width = 207", 'width = "207 mm"')
        .replace("height = 300", 'height = "300 mm"')
        .replace("gap = 3", 'gap = "3 mm"')
        .replace("blank = 20", 'blank = "20 mm"')
        .replace("floor = 4 ", 'floor = "4 mm" ')
        .replace("length = 140", 'length = "140 mm"')
    )
    made = relaxed(tmp_path, inches)
    assert made.left == ()
    assert not any(" mm" in change for change in made.changes)
    assert min(strip.thinnest.height for strip in made.after.measures()) >= 5.0


def test_only_a_job_from_a_file_can_be_relaxed() -> None:
    from helpers import small_job

    with pytest.raises(ValueError, match="read from a file"):
        relax(small_job())
