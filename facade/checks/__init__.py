"""Checks: one file per question, each with `check(front) -> list[Finding]`. What was checked is said; nothing is promised."""

from __future__ import annotations

from facade.checks import blank, centre_line, cut_off, floor, layout
from facade.checks.finding import Finding, Weight
from facade.front import Front

CHECKS = (floor.check, cut_off.check, blank.check, centre_line.check, layout.check)

__all__ = ["CHECKS", "Finding", "Weight", "check_front"]


def check_front(front: Front) -> list[Finding]:
    """Return all findings, the heaviest first."""
    order = list(Weight)
    findings = [finding for check in CHECKS for finding in check(front)]
    return sorted(findings, key=lambda finding: order.index(finding.weight))
