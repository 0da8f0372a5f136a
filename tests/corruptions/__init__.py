"""Corruptions as data: what is done to which file of a build, in plain words. `tests/planting.py` plants them."""

from __future__ import annotations

from corruptions import code, drawings, pages, pictures, sheets, solids, tables, wholes
from corruptions.corruption import Corruption, Folder

ALL: tuple[Corruption, ...] = (
    *code.CORRUPTIONS,
    *drawings.CORRUPTIONS,
    *solids.CORRUPTIONS,
    *pictures.CORRUPTIONS,
    *tables.CORRUPTIONS,
    *sheets.CORRUPTIONS,
    *pages.CORRUPTIONS,
    *wholes.CORRUPTIONS,
)

# The same file written again by the tools that plant: what its content says is unchanged, so that no reader may fail it.
UNTOUCHED: tuple[Corruption, ...] = (*solids.UNTOUCHED, *pictures.UNTOUCHED, *pages.UNTOUCHED, *wholes.UNTOUCHED)

__all__ = ["ALL", "UNTOUCHED", "Corruption", "Folder"]
