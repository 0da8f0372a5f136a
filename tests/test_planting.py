"""Some of the corruptions that `make planting` plants, over all kinds of files: what is in the files tells each of them."""

from __future__ import annotations

from collections import Counter
from pathlib import Path

import planting
import pytest
from corruptions import ALL, UNTOUCHED, Corruption

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
