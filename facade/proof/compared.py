"""What a proof says of each file: what was compared, at how many points, how far off at most, and why it fails if it does."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from enum import StrEnum
from pathlib import Path

import numpy as np

from facade.arrays import Array
from facade.front import Front

# Places along a strip, from its TOP end, at which the largest deviation is kept for the picture.
BINS = 48


class Verdict(StrEnum):
    """What came of comparing a file."""

    AGREES = "agrees"
    FAILS = "FAILS"
    NOT_COMPARED = "not compared"


@dataclass(frozen=True)
class Compared:
    """What came of one file, or of a part of it.

    `deviation`, `allowed` and `least` (the least height left) are mm, None where nothing was measured. `faults` are why it
    fails, `follows` is the file whose fault that is, `skipped` is why it was not compared, `note` what else is worth knowing.
    `along` holds, by strip, the largest deviation in BINS parts from the TOP end; `failed` are the strips that a fault is about.
    """

    name: str
    what: str
    points: int = 0
    deviation: float | None = None
    allowed: float | None = None
    least: float | None = None
    faults: tuple[str, ...] = ()
    skipped: str = ""
    note: str = ""
    along: Mapping[int, Array] = field(default_factory=dict, compare=False)
    failed: tuple[int, ...] = ()
    follows: str = ""

    @property
    def verdict(self) -> Verdict:
        """Agrees, fails, or was not compared."""
        if self.faults:
            return Verdict.FAILS
        return Verdict.NOT_COMPARED if self.skipped else Verdict.AGREES

    @property
    def words(self) -> str:
        """The verdict, and why."""
        why = "; ".join(self.faults) or self.skipped
        return f"{self.verdict.value}: {why}" if why else self.verdict.value


@dataclass(frozen=True)
class Anew:
    """What came of making every file once more: how many there are, how many are equal byte by byte, the others by name.

    `why` says why it could not be done, "" where it was.
    """

    total: int = 0
    equal: int = 0
    differing: tuple[str, ...] = ()
    why: str = ""


@dataclass(frozen=True)
class Proof:
    """What came of a whole folder: the front that its job file gives, and every file, what others follow from first, then by name.

    `anew` is what came of making the files once more, None where that was not asked for.
    """

    folder: Path
    front: Front
    compared: tuple[Compared, ...]
    anew: Anew | None = None

    @property
    def failed(self) -> bool:
        """Whether any file fails."""
        return any(one.verdict is Verdict.FAILS for one in self.compared)

    @property
    def deviation(self) -> float:
        """The largest deviation of all, mm; 0 where nothing was measured."""
        return largest(one.deviation for one in self.compared) or 0.0

    @property
    def failed_strips(self) -> tuple[int, ...]:
        """The strips that any fault is about, from the left."""
        return tuple(sorted({number for one in self.compared for number in one.failed}))


def largest(values: Iterable[float | None]) -> float | None:
    """Return the largest of the values that there are; what is no number counts as largest."""
    known = [np.inf if np.isnan(value) else value for value in values if value is not None]
    return max(known, default=None)


def least_of(values: Iterable[float | None]) -> float | None:
    """Return the least of the values that there are."""
    return min((value for value in values if value is not None), default=None)


def spread_along(from_top: Array, deviations: Array, length: float) -> Array:
    """Return the largest deviation (points,) in each of BINS parts of a strip; where nothing was measured, -1."""
    found = np.full(BINS, -1.0)
    index = np.clip((from_top / length * BINS).astype(int), 0, BINS - 1)
    np.maximum.at(found, index, np.nan_to_num(deviations, nan=np.inf))
    return found


def joined(parts: Sequence[Compared]) -> Compared:
    """Return what came of the parts of one file as one."""
    if len(parts) == 1:
        return parts[0]
    told = [one for one in parts if not one.skipped] or list(parts)
    along: dict[int, Array] = {}
    for one in parts:
        for number, spread in one.along.items():
            along[number] = np.maximum(along[number], spread) if number in along else spread
    return Compared(
        name=parts[0].name,
        what="; ".join(dict.fromkeys(what for one in told for what in one.what.split("; ") if what)),
        points=sum(one.points for one in parts),
        deviation=largest(one.deviation for one in parts),
        allowed=largest(one.allowed for one in parts),
        least=least_of(one.least for one in parts),
        faults=tuple(dict.fromkeys(fault for one in parts for fault in one.faults)),
        skipped="" if any(not one.skipped for one in parts) else parts[0].skipped,
        note="; ".join(dict.fromkeys(one.note for one in parts if one.note)),
        along=along,
        failed=tuple(sorted({number for one in parts for number in one.failed})),
        follows=next((one.follows for one in parts if one.follows), ""),
    )
