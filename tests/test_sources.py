"""Sources: every number that stands in says what stands behind it and where a job says another one, wherever it is told."""

from __future__ import annotations

import re
from typing import Any

import pytest
from helpers import a_job, small_front, small_job

from facade.checks import Weight, check_front
from facade.front import build_front
from facade.job import make_job
from facade.job.model import Job
from facade.layout import rules_used
from facade.rules import rules
from facade.screen import rule_lines

KINDS = {"handbook", "rule of thumb", "choice"}
LIMITS = sorted(name for name, one in rules().items() if one.limit)
OTHERS = sorted(name for name, one in rules().items() if one.key)


def test_every_rule_is_of_a_known_kind_and_says_what_it_is() -> None:
    assert {one.kind for one in rules().values()} <= KINDS
    assert all(one.about for one in rules().values())
    assert not any(one.limit and one.key for one in rules().values())


@pytest.mark.parametrize("name", LIMITS)
def test_a_limit_tells_its_source_and_the_key_that_overwrites_it(name: str) -> None:
    limit = small_job().limit(name)
    assert limit.source.startswith(("handbook (", "rule of thumb (", "our choice ("))
    key = re.search(r"\(limits\.(\w+)\)", limit.source)[1]
    own = small_job(limits={key: limit.value + 1}).limit(name)
    assert (own.value, own.source) == (limit.value + 1, "said in the job")


def at(job: Any, place: str) -> Any:
    for part in place.split("."):
        job = getattr(job, part)
    return job


@pytest.mark.parametrize("name", OTHERS)
def test_a_rule_that_is_no_limit_names_the_place_where_a_job_says_another_one(name: str) -> None:
    settings = a_job(
        lands=[{"centre": [100, 60], "size": [10, 10]}],
        caps=[{"edge": "left", "width": 5, "height": 12}],
        hinges={"pivot": "back"},
    )
    del settings["wood"]["floor"]
    job: Job = make_job(settings)
    for place in rules()[name].key.split(", "):
        table, _, key = place.rpartition(".")
        held = getattr(job, table)[0] if table in ("lands", "caps") else at(job, table)
        assert key in type(held).model_fields
        # What a job leaves out is the rule, or is worked out with it.
        assert getattr(held, key) in (rules()[name].value, None)


def test_the_rules_that_stand_in_are_told_with_their_source_and_their_place() -> None:
    front = build_front(make_job(a_job(wood={"floor": 8}, front={"doors": 2})))
    lines = [line for line in rule_lines(front) if line.startswith("  ")]
    assert len(lines) == len(rules_used(front.job, front.layout)) >= 3
    assert all(re.search(r"(rule of thumb|our choice|handbook) \([a-z_.]+\): ", line) for line in lines)
    assert any("rule of thumb (strips.gap)" in line for line in lines)


def test_every_limit_that_a_finding_is_held_to_says_where_it_comes_from() -> None:
    """A number of ours is told with its key, so that it can be overwritten; what is measured or said in the job has none."""
    fronts = [
        small_front(wood={"floor": 3}, strips={"count": 25, "gap": 0.3}, layers=[{"kind": "hills", "size": 30}]),
        small_front(fixing={"by": "glue"}, strips={"gap": 0}, wood={"species": "white oak"}),
        small_front(
            front={"width": 300, "height": 400, "doors": 2, "space": 2},
            hinges={"pivot": "front", "count": 1, "between": 100},
            cutter={"shape": "ball", "radius": 25},
        ),
    ]
    heavy = [one for front in fronts for one in check_front(front) if one.weight is not Weight.KNOW]
    assert len({one.topic for one in heavy}) > 8
    for one in heavy:
        assert "choice" not in one.source or re.search(r"our choice \([a-z_.]+\)", one.source)
        assert one.source != "handbook" or one.check == "movement"


def test_every_finding_of_some_checks_has_a_topic() -> None:
    for front in (
        small_front(),
        small_front(front={"doors": 2}, hinges={"pivot": "back"}, strips={"count": 40, "gap": 0.2}),
        small_front(front={"width": 20}, strips={"count": 1}, hinges={"pivot": "back"}),
        small_front(bare_doors=[{"door": 1, "bow": 4}]),
    ):
        for one in check_front(front):
            if one.check in ("swing", "movement", "layout", "weight", "empty door"):
                assert one.topic
