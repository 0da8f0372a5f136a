"""What a check has to say, how much it weighs, and how findings that say the same are drawn together."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import asdict, dataclass
from enum import StrEnum
from typing import Any


class Weight(StrEnum):
    """How much a finding weighs."""

    STOPS = "stops"
    LOOK = "look at"
    KNOW = "good to know"


@dataclass(frozen=True)
class Finding:
    """One thing a check has to say; places in mm from the strip's top and left, value and limit in `unit`.

    `topic` names what it is about within its check: findings of one check, topic and weight are shown together, the worst
    in words. `source` tells where the limit comes from. `caution` is said once, where work can hurt.
    """

    check: str
    weight: Weight
    sentence: str
    topic: str = ""
    strip: int | None = None
    door: int | None = None
    from_top: float | None = None
    from_left: float | None = None
    value: float | None = None
    limit: float | None = None
    unit: str = "mm"
    source: str = ""
    cure: str = ""
    caution: str = ""

    def as_data(self) -> dict[str, Any]:
        """Return the finding for a program to read, without what is not known."""
        data = {key: value for key, value in asdict(self).items() if value not in (None, "")}
        if self.value is None and self.limit is None:
            del data["unit"]
        return data

    @property
    def stops(self) -> bool:
        """Whether it stops the job."""
        return self.weight is Weight.STOPS

    @property
    def beyond(self) -> float:
        """How far the value is beyond its limit, as a share of the limit."""
        if self.value is None or self.limit is None:
            return 0.0
        return abs(self.value - self.limit) / max(abs(self.limit), 1e-9)


@dataclass(frozen=True)
class Group:
    """Findings that say the same of several places: the worst, and the strips, or doors, that the others are on."""

    worst: Finding
    strips: tuple[int, ...]
    doors: tuple[int, ...]

    @property
    def also(self) -> str:
        """Where else it is, in words: "Also on strips 4 to 9.", "" where it is nowhere else."""
        for thing, numbers in (("strip", self.strips), ("door", self.doors)):
            if numbers:
                return f"Also on {thing}{'s' if len(numbers) > 1 else ''} {runs(numbers)}."
        return ""


def grouped(findings: Iterable[Finding]) -> list[Group]:
    """Return findings drawn together by weight, check and topic, in the order in which each first comes."""
    groups: dict[tuple[Weight, str, str], list[Finding]] = {}
    for index, finding in enumerate(findings):
        # Without a topic a finding stands for itself.
        groups.setdefault((finding.weight, finding.check, finding.topic or f"#{index}"), []).append(finding)
    return [_group(some) for some in groups.values()]


def _group(some: list[Finding]) -> Group:
    worst = max(some, key=lambda finding: finding.beyond)
    strips = {one.strip for one in some if one.strip is not None} - {worst.strip}
    doors = {one.door for one in some if one.door is not None and one.strip is None} - {worst.door}
    return Group(worst, tuple(sorted(strips)), tuple(sorted(doors)))


def runs(numbers: Iterable[int]) -> str:
    """Return rising numbers with runs drawn together: "1 to 4, 7 and 9"."""
    groups: list[list[int]] = []
    for number in numbers:
        if groups and groups[-1][-1] == number - 1:
            groups[-1].append(number)
        else:
            groups.append([number])
    words = [str(group[0]) if len(group) == 1 else f"{group[0]} to {group[-1]}" for group in groups]
    return " and ".join([", ".join(words[:-1]), words[-1]]) if len(words) > 1 else words[0]
