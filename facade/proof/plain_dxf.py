"""Entities of a DXF in the plain form that most have: their places, which are nearly all of it, read in one go.

A DXF is lines in twos, a group code and its value. Which codes an LWPOLYLINE and a CIRCLE have, and in which order, is the DXF
reference's; what holds others is not plain, and for a reader of all of DXF.
"""

from __future__ import annotations

import re
from dataclasses import dataclass

from facade.arrays import Array
from facade.proof.decimals import read_decimals

_BEFORE, _AFTER = "  0\nSECTION\n  2\nENTITIES\n", "  0\nENDSEC\n"
_HEAD = r"  5\n[0-9A-F]+\n330\n[0-9A-F]+\n100\nAcDbEntity\n  8\n([^\n]+)\n100\n"
_RUN = re.compile(rf"LWPOLYLINE\n{_HEAD}AcDbPolyline\n 90\n(\d+)\n 70\n([01])\n")
_CIRCLE = re.compile(rf"CIRCLE\n{_HEAD}AcDbCircle\n 10\n(\S+)\n 20\n(\S+)\n 30\n0\.0\n 40\n(\S+)\n")
# Group codes whose values name other parts of the file: handles, which are numbered through and say nothing else.
_HANDLES = frozenset(f"{code:3d}" for code in (5, 105, 390, 399, 480, 481, 1005, *range(320, 370)))


@dataclass(frozen=True)
class Parts:
    """A DXF whose entities are plain, in its own unit.

    `runs` are layer, places (n, 2) and whether it is closed, `circles` layer, x, y and radius; `around` is all else in the file, without
    the names that its parts have for each other.
    """

    runs: tuple[tuple[str, Array, bool], ...]
    circles: tuple[tuple[str, float, float, float], ...]
    around: tuple[str, ...]


def read_plain(text: str) -> Parts | None:
    """Return what a DXF holds; None where it is not plain."""
    before, found, rest = text.partition(_BEFORE)
    entities, ended, after = rest.partition(_AFTER)
    if not found or not ended or _BEFORE in after:
        return None
    runs, circles = [], []
    for entity in entities.split("  0\n")[1:] if entities else []:
        if run := _RUN.match(entity):
            places = _places(entity[run.end() :], int(run[2]))
            if places is None:
                return None
            runs.append((run[1], places, run[3] == "1"))
        elif circle := _CIRCLE.fullmatch(entity):
            try:
                x, y, radius = map(float, circle.groups()[1:])
            except ValueError:
                return None
            circles.append((circle[1], x, y, radius))
        else:
            return None
    return Parts(tuple(runs), tuple(circles), (*_without_handles(before), _BEFORE, *_without_handles(after)))


def _places(text: str, count: int) -> Array | None:
    """Return places (count, 2) from their group codes 10 and 20; None where they hold others, or are more or fewer."""
    lines = text.split("\n")
    if count == 0 or lines[:-1:2] != [" 10", " 20"] * count or lines[-1]:
        return None
    numbers = read_decimals(" ".join(lines[1::2]).encode("ascii", "replace"))
    return None if numbers is None or len(numbers) != 2 * count else numbers.reshape(-1, 2)


def _without_handles(text: str) -> list[str]:
    """Return the lines of a part of a DXF, handles left empty."""
    lines = text.split("\n")
    for index, code in enumerate(lines[:-1:2]):
        if code in _HANDLES:
            lines[2 * index + 1] = ""
    return lines
