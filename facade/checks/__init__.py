"""Checks: one file per question, each with `check(front) -> list[Finding]`. What was checked is said; nothing is promised."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from types import MappingProxyType

from facade.checks import (
    blank,
    centre_line,
    cut_off,
    cutter,
    empty_door,
    grain,
    handling,
    lands,
    layout,
    looks,
    movement,
    opening,
    sampling,
    screws,
    swing,
    thickness,
    weight,
)
from facade.checks.finding import Finding, Group, Weight, grouped, runs
from facade.front import Front

CHECKS = {
    "thickness": thickness.check,
    "cut off": cut_off.check,
    "cutter": cutter.check,
    "grain": grain.check,
    "handling": handling.check,
    "swing": swing.check,
    "weight": weight.check,
    "movement": movement.check,
    "screws": screws.check,
    "looks": looks.check,
    "opening": opening.check,
    "empty door": empty_door.check,
    "lands and pulls": lands.check,
    "blank": blank.check,
    "centre line": centre_line.check,
    "layout": layout.check,
    "sampling": sampling.check,
}

__all__ = ["BEFORE_STRIPS", "CHECKS", "Finding", "Group", "Weight", "check_front", "grouped", "runs"]


# These ask the surface and not the strips: they can be answered while the strips are still being made.
BEFORE_STRIPS = ("cutter", "swing")


def check_front(
    front: Front, only: Iterable[str] = CHECKS, known: Mapping[str, list[Finding]] = MappingProxyType({})
) -> list[Finding]:
    """Return the findings of all checks, or of `only` some by name, the heaviest first; `known` ones are not asked again."""
    order = list(Weight)
    findings = [finding for name in only for finding in (known[name] if name in known else CHECKS[name](front))]
    return sorted(findings, key=lambda finding: order.index(finding.weight))
