"""What the paper pack is made of: pieces, each drawn at full size from its own lower left corner, in mm."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from enum import StrEnum

from facade.checks.finding import Finding
from facade.drawing import Drawing
from facade.front import Front
from facade.layout import Door
from facade.lengths import Ruler


class Kind(StrEnum):
    """The kinds of sheets, in the order in which they come out."""

    FIRST = "first"
    CALIBRATION = "calibration"
    STICKS = "sticks"
    SIDES = "sides"
    WRAPS = "wraps"
    FACES = "faces"
    HOLES = "holes"
    GAUGES = "gauges"
    BOARDS = "boards"
    LISTS = "lists"
    WRONG = "wrong"
    OFFSETS = "offsets"


class Top(StrEnum):
    """Where the TOP end of the strips is on a sheet."""

    UP = "up"
    LEFT = "left"
    BOTH_SIDES = "left for LEFT sides, right for RIGHT sides"


class Lines(StrEnum):
    """Which lines a template shows: where the wood ends when all is done, where the carver stops, or both."""

    BOTH = "both"
    CARVE = "carve"
    FINISHED = "finished"


@dataclass(frozen=True)
class Room:
    """The largest piece that a sheet takes, mm."""

    width: float
    height: float


@dataclass(frozen=True)
class Asked:
    """What pieces are asked for: of which strips, how large they may be, and what they show.

    `kinds` are the kinds of sheets in the pack, and `index` on which sheets each of them is, first and last.
    """

    front: Front
    room: Room
    strips: tuple[int, ...]
    lines: Lines = Lines.BOTH
    paper: str = "A4"
    kinds: frozenset[Kind] = frozenset()
    index: tuple[tuple[Kind, int, int], ...] = ()

    @property
    def ruler(self) -> Ruler:
        """The job's own ruler."""
        return self.front.job.ruler

    @property
    def doors(self) -> tuple[Door, ...]:
        """The doors of the strips that are asked for."""
        return tuple(door for door in self.front.layout.doors if not set(self.strips).isdisjoint(self._on(door)))

    @property
    def whole_doors(self) -> tuple[Door, ...]:
        """The doors of which all strips are asked for."""
        return tuple(door for door in self.front.layout.doors if set(self.strips).issuperset(self._on(door)))

    def _on(self, door: Door) -> list[int]:
        return [place.number for place in self.front.layout.on_door(door)]


@dataclass(frozen=True)
class Piece:
    """Something that is printed in one piece; `strips` is empty where it is about the whole front.

    Pieces that follow each other with the same words in `together` share a sheet, where one holds them all.
    `draw` gives a drawing of exactly `width` by `height` mm, and is called only when the sheet comes out. `stopped`, where there is
    one, is called instead for a front that the checks stop, with what they found that stops it.
    """

    name: str
    width: float
    height: float
    draw: Callable[[], Drawing]
    strips: tuple[int, ...] = ()
    top: Top = Top.UP
    together: str = ""
    stopped: Callable[[Sequence[Finding]], Drawing] | None = None
