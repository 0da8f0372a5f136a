"""Some of the corruptions that `make planting` plants, over all kinds of files: what is in the files tells each of them."""

from __future__ import annotations

import tomllib
from collections import Counter
from pathlib import Path

import planting
import pytest
import sounding
from corruptions import ALL, UNTOUCHED, Corruption
from helpers import small_front

from facade.job import Job, make_job
from facade.making import Output
from facade.presets import presets

# One of each kind of file, and of those that hurt most some more: the list goes round, so that a new one changes few of those chosen.
_MORE = ("machine code", "plan, DXF", "profile, DXF", "side template")


def chosen() -> list[Corruption]:
    """Return one corruption of each kind, two more of the kinds that hurt most."""
    found = []
    for kind in dict.fromkeys(one.kind for one in ALL):
        some = [one for one in ALL if one.kind == kind and not one.passed]
        found += some[:: max(1, len(some) // 3)][: 3 if kind in _MORE else 1]
    return found


@pytest.fixture(scope="module")
def good(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return planting.built(tmp_path_factory.mktemp("planted"))


def test_there_are_enough_over_all_kinds() -> None:
    counts = Counter(one.kind for one in ALL)
    assert sum(counts.values()) >= 250
    assert counts["machine code"] >= 74
    assert len(ALL) == len({one.name for one in ALL})
    assert len(chosen()) >= 40


@pytest.mark.parametrize("corruption", chosen(), ids=lambda one: one.name)
def test_what_is_planted_is_told_by_what_is_in_the_files(good: Path, corruption: Corruption) -> None:
    outcome = planting.planted(good, corruption)
    assert outcome.plain
    assert outcome.how is planting.How.CONTENT, outcome


@pytest.mark.parametrize("untouched", UNTOUCHED, ids=lambda one: one.name)
def test_a_file_that_is_written_again_and_says_the_same_is_no_fault(good: Path, untouched: Corruption) -> None:
    assert planting.planted_again(good, untouched) == ""


def job_of(one: sounding.Untouched, folder: Path) -> Job:
    for name, data in one.beside.items():
        (folder / name).write_bytes(data)
    return make_job(tomllib.loads(one.text), folder=folder)


def test_every_preset_is_proved_as_it_is_and_in_every_other_way(tmp_path: Path) -> None:
    jobs = {one.name: (one, job_of(one, tmp_path)) for one in sounding.untouched_jobs()}
    for name in presets():
        as_it_is, job = jobs[f"{name}, as it is"]
        assert (as_it_is.outputs, as_it_is.some) == (tuple(Output), ())
        ways = {way: of[1] for way, of in jobs.items() if way.startswith(f"{name}, ")}
        assert {other.carving.packed for other in ways.values()} == {job.carving.packed, True}
        assert len({other.machine_unit for other in ways.values()}) == 2
        assert len({other.machine.words for other in ways.values()}) == 2
        assert job.front.doors == 1 or "mirrored" in {other.carving.doors for other in ways.values()}
    assert {job.unit.value for one, job in jobs.values() if "facets" in one.name} == {"mm", "in"}


def test_files_for_machines_are_made_of_neighbours_on_both_sides_of_each_joint() -> None:
    front = small_front(front={"width": 700, "doors": 3}, strips={"count": 30})
    some = sounding.some_strips(front)
    assert {1, 2, 3, 28, 29, 30} <= set(some)
    for door in front.layout.doors[1:]:
        assert set(range(door.first_strip - 3, door.first_strip + 3)) <= set(some)
    assert set(some) < set(range(1, 31))
