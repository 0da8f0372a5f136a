"""Rules of thumb as data: each with its name, value, unit and the kind of source it comes from."""

from __future__ import annotations

import math
import tomllib
from dataclasses import dataclass
from functools import cache
from importlib.resources import files


@dataclass(frozen=True)
class Rule:
    """One number that stands in where the maker has said nothing; `limit` tells whether a check holds a front to it.

    Some have no one value but a list of `values`, such as the sizes in which a thing is sold.
    """

    name: str
    unit: str
    kind: str
    about: str
    value: float = math.nan
    limit: bool = False
    values: tuple[float, ...] = ()


@cache
def rules() -> dict[str, Rule]:
    """Return all rules by name."""
    table = tomllib.loads(files("facade").joinpath("rules.toml").read_text("utf-8"))
    return {
        name: Rule(name=name, **entry | {"values": tuple(entry.get("values", ()))}) for name, entry in table.items()
    }


def rule(name: str) -> float:
    """Return the value of a rule, in its unit."""
    return rules()[name].value


def rule_values(name: str) -> tuple[float, ...]:
    """Return the values of a rule that has a list of them, in its unit."""
    return rules()[name].values
