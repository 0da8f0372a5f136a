"""The list of mutations is one that can be run: each old text is there, each room is covered, each test file is there."""

from __future__ import annotations

import ast

import mutating
import pytest

# Those whose faults would cost wood, or hurt.
ROOMS = {"surface", "slicer", "layout", "sides", "code", "fixture", "proof", "files"}
ALL = mutating.mutations()


def test_there_are_enough_over_all_rooms() -> None:
    assert len(ALL) >= 50
    assert {one.room for one in ALL} >= ROOMS


@pytest.mark.parametrize("one", ALL, ids=lambda one: f"{one.file}: {one.new.strip()[:60]}")
def test_a_mutation_can_be_planted(one: mutating.Mutation) -> None:
    assert one.there == 1, "the old text is no longer there once: write the mutation anew"
    assert one.new != one.old
    ast.parse((mutating.ROOT / one.file).read_text("utf-8").replace(one.old, one.new))


def test_the_tests_that_must_notice_are_there() -> None:
    named = {name for one in ALL for name in one.tests}
    assert [name for name in sorted(named) if not (mutating.ROOT / "tests" / name.partition("::")[0]).is_file()] == []
    assert all(one.tests and one.why.endswith(".") for one in ALL)


def test_no_mutation_is_listed_twice() -> None:
    assert len({(one.file, one.old, one.new) for one in ALL}) == len(ALL)
