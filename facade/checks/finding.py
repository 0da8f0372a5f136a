"""What a check has to say, and how much it weighs."""

from __future__ import annotations

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
    """One thing a check has to say; lengths in mm, places from the strip's top and left."""

    check: str
    weight: Weight
    sentence: str
    strip: int | None = None
    door: int | None = None
    from_top: float | None = None
    from_left: float | None = None
    value: float | None = None
    limit: float | None = None
    source: str = ""
    cure: str = ""

    def as_data(self) -> dict[str, Any]:
        """Return the finding for a program to read, without what is not known."""
        return {key: value for key, value in asdict(self).items() if value not in (None, "")}
