"""What is asked of the machine's files, and how strips and fixtures are called in them."""

from __future__ import annotations

from dataclasses import dataclass, replace
from enum import StrEnum
from typing import Any

from facade.checks.finding import Finding
from facade.front import Front
from facade.lengths import Unit


class Route(StrEnum):
    """How a machine is used."""

    SIDE = "side"
    FACE = "face"


@dataclass(frozen=True)
class Order:
    """Which files are wanted: the route, and the strips (all where none are named).

    `cleared` tells what the checks said, and what the route itself found (`findings`); files of a front that they stop say so.
    """

    route: Route
    strips: tuple[int, ...] | None = None
    cleared: bool = True
    findings: tuple[Finding, ...] = ()

    @property
    def as_asked(self) -> Order:
        """The order as it was before anything was found."""
        return replace(self, cleared=True, findings=())

    def as_data(self) -> dict[str, Any]:
        """Return what a manifest keeps of the order."""
        return {
            "strips": list(self.strips) if self.strips else None,
            "cleared": self.cleared,
            "findings": [finding.as_data() for finding in self.findings],
        }

    @staticmethod
    def of_data(route: Route, data: dict[str, Any]) -> Order:
        """Return the order that a manifest kept, as it was before anything was found."""
        return Order(route, tuple(data["strips"]) if data["strips"] else None, data["cleared"])

    @property
    def folder(self) -> str:
        """The folder of these files in that of the job."""
        return f"cnc-{self.route.value}"


def wanted_strips(front: Front, order: Order) -> tuple[int, ...]:
    """Return the numbers of the strips that files are wanted of, from the left; raises JobError for one that is not there."""
    numbers = order.strips or front.numbers
    for number in numbers:
        front.layout.strip(number)
    return numbers


def unit_word(front: Front) -> str:
    """Return how the unit of files for the machine is said in their names: "mm" or "inch"."""
    return "mm" if front.job.machine_unit is Unit.MM else "inch"


def strip_word(front: Front, number: int) -> str:
    """Return "07": numbers padded so that names sort as the strips hang."""
    return f"{number:0{max(2, len(str(front.count)))}d}"
