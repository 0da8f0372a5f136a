"""Rules of thumb as data: each with its name, value, unit and the kind of source it comes from."""

from __future__ import annotations

import tomllib
from dataclasses import dataclass
from functools import cache
from importlib.resources import files


@dataclass(frozen=True)
class Rule:
    """One number that stands in where the maker has said nothing; `limit` tells whether a check holds a front to it.

    `kind` is what stands behind it: "handbook", "rule of thumb" or "choice"; `key` is where a job says another one.
    """

    name: str
    value: float
    unit: str
    kind: str
    about: str
    limit: bool = False
    key: str = ""

    @property
    def place(self) -> str:
        """Where a job says another one."""
        return f"limits.{self.name}" if self.limit else self.key

    @property
    def source(self) -> str:
        """What stands behind it, in words, with the place where a job says another one: "our choice (limits.thin_edge)"."""
        words = "our choice" if self.kind == "choice" else self.kind
        return f"{words} ({self.place})" if self.place else words


@cache
def rules() -> dict[str, Rule]:
    """Return all rules by name."""
    table = tomllib.loads(files("facade").joinpath("rules.toml").read_text("utf-8"))
    return {name: Rule(name=name, **entry) for name, entry in table.items()}


def rule(name: str) -> float:
    """Return the value of a rule, in its unit."""
    return rules()[name].value
