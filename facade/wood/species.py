"""The species that a front may be made of, read from the data file beside this one."""

from __future__ import annotations

import tomllib
from dataclasses import dataclass
from functools import cache
from importlib.resources import files


@dataclass(frozen=True)
class Species:
    """How a species looks: colours as 0 to 255, ring width in mm, strengths of figure 0 to 1.

    `late` is the power with which a ring darkens from its start to its end.
    """

    name: str
    light: tuple[int, int, int]
    dark: tuple[int, int, int]
    ring: float
    contrast: float
    streak: float
    late: float
    pores: float


def _colour(text: str) -> tuple[int, int, int]:
    red, green, blue = bytes.fromhex(text.removeprefix("#"))
    return red, green, blue


@cache
def _all() -> dict[str, Species]:
    table = tomllib.loads(files("facade.wood").joinpath("species.toml").read_text("utf-8"))
    return {
        name: Species(name=name, light=_colour(entry.pop("light")), dark=_colour(entry.pop("dark")), **entry)
        for name, entry in table.items()
    }


def species_names() -> list[str]:
    """Return the names of all species."""
    return list(_all())


def species(name: str) -> Species:
    """Return one species; raises KeyError for a name that is not in the data file."""
    return _all()[name]
