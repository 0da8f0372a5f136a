"""Corruptions as data: what is done to which file of a build, in plain words. `tests/planting.py` plants them."""

from __future__ import annotations

from dataclasses import replace

from corruptions import code, drawings, pages, pictures, sheets, solids, tables, wholes
from corruptions.corruption import Corruption, Folder
from corruptions.known import PASSED

_ALL: tuple[Corruption, ...] = (
    *code.CORRUPTIONS,
    *drawings.CORRUPTIONS,
    *solids.CORRUPTIONS,
    *pictures.CORRUPTIONS,
    *tables.CORRUPTIONS,
    *sheets.CORRUPTIONS,
    *pages.CORRUPTIONS,
    *wholes.CORRUPTIONS,
)

ALL = tuple(replace(one, passed=PASSED.get(one.name, "")) for one in _ALL)

# The same file written again by the tools that plant: what its content says is unchanged, so that no reader may fail it.
UNTOUCHED: tuple[Corruption, ...] = (*solids.UNTOUCHED, *pictures.UNTOUCHED, *pages.UNTOUCHED, *wholes.UNTOUCHED)

__all__ = ["ALL", "UNTOUCHED", "Corruption", "Folder"]
