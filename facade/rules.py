"""Rules of thumb as data: each with its name, value, unit and the kind of source it comes from."""

from __future__ import annotations

import tomllib
from dataclasses import dataclass
from functools import cache
from importlib.resources import files
from typing import Any


@dataclass(frozen=True)
class Rule:
    """One number that stands in where the maker has said nothing; `limit` tells whether a check holds a front to it.

    `values` are those of a rule that is a list, such as common sizes.
    """

    name: str
    value: float
    unit: str
    kind: str
    about: str
    limit: bool = False
    values: tuple[float, ...] = ()


@cache
def rules() -> dict[str, Rule]:
    """Return all rules by name."""
    table = tomllib.loads(files("facade").joinpath("rules.toml").read_text("utf-8"))
    return {name: _rule(name, entry) for name, entry in table.items()}


def _rule(name: str, entry: dict[str, Any]) -> Rule:
    values = tuple(entry.get("values", ()))
    # Of a list the first stands in where one number is asked for.
    return Rule(**{"name": name, "value": values[0] if values else None} | entry | {"values": values})


def rule(name: str) -> float:
    """Return the value of a rule, in its unit."""
    return rules()[name].value


def rule_values(name: str) -> tuple[float, ...]:
    """Return the values of a rule that is a list, in its unit."""
    return rules()[name].values
