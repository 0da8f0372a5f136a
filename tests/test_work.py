"""Work: however fine a relief and however many its parts, checking it takes no more than so much; what is spared changes nothing."""

from __future__ import annotations

import copy
from pathlib import Path
from typing import Any

import fuzzing
import numpy as np
import pytest

import facade.surface
from facade.arrays import Array
from facade.checks import check_front
from facade.checks.trying import Change, tried
from facade.front import Front, build_front
from facade.job import make_job
from facade.reliefs import Canvas, Heights, Relief, combined, terms

# Terms of a relief added up at places: at some 10 nanoseconds each a quarter of what the fuzzer gives a case.
MOST = 6e8


def base(title: str) -> dict[str, Any]:
    """Return the settings of one of the jobs that the fuzzer begins from."""
    found = copy.deepcopy(next(one for one in fuzzing.bases() if one["title"] == title))
    # As it was designed: what was left out is no part of the worst.
    found.pop("as_built", None)
    return found


@pytest.fixture
def work(monkeypatch: pytest.MonkeyPatch) -> list[int]:
    """Count, place by place, the terms that reliefs add up from now on."""
    done: list[int] = []

    def counted(layers: list[Relief], canvas: Canvas) -> Heights:
        relief, each = combined(layers, canvas), terms(layers)

        def heights(x: Array, y: Array) -> Array:
            done.append(each * np.broadcast(x, y).size)
            return relief(x, y)

        return heights

    monkeypatch.setattr(facade.surface, "combined", counted)
    return done


@pytest.mark.parametrize(
    ("title", "table", "index", "changes"),
    [
        ("Small", "layers", 0, {"octaves": 8}),
        ("Inches", "layers", 1, {"octaves": 8}),
        ("Whole", "layers", 0, {"fold": 2.0}),
        ("Whole", "front", None, {"height": 1503.77}),
    ],
    ids=[
        "many sizes of hill",
        "many sizes of hill on a mask",
        "narrow folds among many parts",
        "a tall front of many parts",
    ],
)
def test_the_work_of_checking_is_bounded(
    tmp_path: Path, work: list[int], title: str, table: str, index: int | None, changes: dict[str, Any]
) -> None:
    """The worst kinds of job that the fuzzer has found: each took minutes once."""
    settings = base(title)
    (settings[table] if index is None else settings[table][index]).update(changes)
    check_front(build_front(make_job(settings, folder=tmp_path)))
    assert 1e7 < sum(work) < MOST


def fitted() -> Front:
    """Return a front that follows its cutter, with a pull, a land, a cap and a fade, on doors that mirror each other."""
    return build_front(make_job(base("Whole")))


@pytest.mark.parametrize("settings", [{"pulls[1].edge": 5.0}, {"lands[1].blend": 12.0}, {"caps[1].height": 13.0}])
def test_a_change_tried_on_a_surface_that_follows_the_cutter_is_the_front_built_anew(settings: dict[str, Any]) -> None:
    front, change = fitted(), Change(settings)
    quick, anew = tried(front, change), build_front(change.made(front.job))
    assert quick is not None
    for number in (1, 6, 8):
        np.testing.assert_array_equal(quick.strip(number).heights, anew.strip(number).heights)
    assert any((front.strip(n).heights != anew.strip(n).heights).any() for n in range(1, front.count + 1))


def test_the_relief_is_worked_out_once_where_a_pull_goes_into_a_surface_that_follows_the_cutter(
    work: list[int],
) -> None:
    front = fitted()
    x, y = np.linspace(101.0, 199.0, 60)[None, :], np.linspace(2.0, 118.0, 70)[:, None]
    front.surface.at(x, y)
    before = sum(work)
    # What the cutter leaves is known by now.
    front.surface.at(x, y)
    assert sum(work) - before == x.size * y.size * terms(front.job.layers)
