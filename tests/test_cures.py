"""Cures cure: over jobs with planted faults each fault is named, and whoever does what a cure says is rid of the finding."""

from __future__ import annotations

import copy
from typing import Any

import pytest
from drill_jobs import FAULTY, IN_INCHES, SOUND, Drill, inches
from following import cures_that_do_not_cure, findings_of, ways_of

from facade.checks import Weight

BY_NAME = {drill.name: drill for drill in FAULTY}


@pytest.mark.parametrize("drill", FAULTY, ids=lambda drill: drill.name)
def test_a_planted_fault_is_named_and_its_cures_cure(drill: Drill) -> None:
    assert _named(drill, findings_of(drill.settings))
    assert cures_that_do_not_cure(drill.settings) == []


@pytest.mark.parametrize("name", IN_INCHES)
def test_the_same_holds_in_inches(name: str) -> None:
    drill = BY_NAME[name]
    found = findings_of(inches(drill.settings))
    assert _named(drill, found)
    assert not [one.cure for one in found if " mm" in one.cure or " mm" in one.sentence]
    assert cures_that_do_not_cure(inches(drill.settings)) == []


@pytest.mark.parametrize("name", SOUND)
def test_nothing_is_wrong_with_a_sound_job(name: str) -> None:
    said = [one.sentence for one in findings_of(copy.deepcopy(SOUND[name])) if one.weight is not Weight.KNOW]
    assert said == []


def test_there_are_jobs_enough_to_drill_on_and_every_check_has_some() -> None:
    from facade.checks import CHECKS

    assert len(FAULTY) >= 60
    assert len(SOUND) >= 12
    assert {drill.check for drill in FAULTY} >= set(CHECKS) - {"centre line"}
    assert len(BY_NAME) == len(FAULTY)


# What no change of the job clears: it is done at the bench, or measured again.
_AT_THE_BENCH = {"empty door"}


@pytest.mark.parametrize("drill", [one for one in FAULTY if one.weight is Weight.STOPS], ids=lambda drill: drill.name)
def test_what_stops_a_job_says_what_to_type(drill: Drill) -> None:
    stops = [one for one in findings_of(drill.settings) if one.stops and one.check not in _AT_THE_BENCH]
    assert not [one.sentence for one in stops if not any(way.typed for way in ways_of(one.cure))]


def _named(drill: Drill, found: list[Any]) -> list[Any]:
    return [
        one
        for one in found
        if one.check == drill.check
        and one.weight is drill.weight
        and (drill.says in one.topic or drill.says in one.sentence)
    ]
