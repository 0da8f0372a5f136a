"""The species that a front may be made of, read from the data file beside this one."""

from __future__ import annotations

import tomllib
from dataclasses import dataclass
from functools import cache
from importlib.resources import files
from typing import Any


@dataclass(frozen=True)
class Species:
    """How a species looks and what it bears: colours as 0 to 255, ring width in mm, strengths of figure 0 to 1.

    `late` is the power with which a ring darkens from its start to its end; `rays` is how strongly ray flecks show on quartered faces, 0
    to 1. Mechanical data: `gravity` is oven-dry mass on
    volume at 12 % moisture; `bending` (modulus of rupture) and `stiffness` (modulus of elasticity) in MPa at 12 %, averages
    of small clear specimens; `across_radial` and `across_tangential` the stiffness across the grain over that along it;
    `radial` and `tangential` the change of size per 1 % moisture; `source` says what comes from a table and what from memory;
    `handbook`, `memory` and `thumb` name the values of each kind.
    """

    name: str
    light: tuple[int, int, int]
    dark: tuple[int, int, int]
    ring: float
    contrast: float
    streak: float
    late: float
    pores: float
    rays: float
    gravity: float
    bending: float
    bending_green: float
    stiffness: float
    stiffness_green: float
    across_radial: float
    across_tangential: float
    radial: float
    tangential: float
    shrinkage_radial: float
    shrinkage_tangential: float
    meeting_point: float
    softwood: bool
    handbook: tuple[str, ...]
    memory: tuple[str, ...]
    source: str
    thumb: tuple[str, ...] = ()

    def status(self, value: str) -> str:
        """Return what stands behind a value, by its name: handbook, from memory, rule of thumb or by eye. Raises KeyError for others."""
        kinds = {"handbook": self.handbook, "from memory": self.memory, "rule of thumb": self.thumb, "by eye": _BY_EYE}
        return {name: kind for kind, names in kinds.items() for name in names}[value]


# For pictures only.
_BY_EYE = ("light", "dark", "ring", "contrast", "streak", "late", "pores", "rays")


def _colour(text: str) -> tuple[int, int, int]:
    red, green, blue = bytes.fromhex(text.removeprefix("#"))
    return red, green, blue


@cache
def _all() -> dict[str, Species]:
    table = tomllib.loads(files("facade.wood").joinpath("species.toml").read_text("utf-8"))
    return {name: _one(name, entry) for name, entry in table.items()}


def _one(name: str, entry: dict[str, Any]) -> Species:
    light, dark = _colour(entry.pop("light")), _colour(entry.pop("dark"))
    handbook, memory, thumb = (tuple(entry.pop(kind, ())) for kind in ("handbook", "memory", "thumb"))
    return Species(name=name, light=light, dark=dark, handbook=handbook, memory=memory, thumb=thumb, **entry)


def species_names() -> list[str]:
    """Return the names of all species."""
    return list(_all())


def species(name: str) -> Species:
    """Return one species; raises KeyError for a name that is not in the data file."""
    return _all()[name]
