"""The machine that cuts strips, its cutters, and how strips are held on it."""

from __future__ import annotations

import math
from enum import StrEnum
from typing import Annotated

from pydantic import Field

from facade.fields import Length, Model, Number, Size, about, whole_number
from facade.lengths import MM_PER_INCH, Unit
from facade.rules import rule

Speed = Annotated[Number, Field(gt=0, le=100_000)]
Flutes = whole_number(1, 12)
# Places on a board are rounded up to so much, mm.
_WHOLE = {Unit.MM: 10.0, Unit.INCH: MM_PER_INCH / 2}


class Words(StrEnum):
    """How machine code is written; both forms are open standards."""

    RS274 = "rs274"
    ISO6983 = "iso6983"


class Cut(StrEnum):
    """Which way a strip on its side is cut along."""

    CLIMB = "climb"
    EITHER = "either"


class Hold(StrEnum):
    """How a strip is held while it lies on its side, besides the batten behind it and the stops at its ends."""

    SCREWS = "screws"
    TABS = "tabs"
    VACUUM = "vacuum"
    TAPE = "tape"

    @property
    def in_waste(self) -> bool:
        """Whether the strip stays longer at both ends while it is cut, with a screw in each waste."""
        return self in (Hold.SCREWS, Hold.TABS)


class Side(Model):
    """A straight cutter that cuts the profile of a strip lying on its side."""

    cutter: Annotated[Size, Field(ge=1, le=60)] = about(
        "diameter of the straight cutter", default_factory=lambda: rule("side_cutter")
    )
    length: Annotated[Size, Field(le=300)] | None = about(
        "its cutting length; one shorter than the strips are wide cuts in levels; left out, it is not held against them",
        None,
    )
    reach: Annotated[Size, Field(le=300)] | None = about(
        "how far it stands out of its holder; left out, it is not held against the strip's width", None
    )
    shank: Annotated[Size, Field(le=60)] | None = about(
        "diameter of its shank above the cutting edge; left out, it is not looked at", None
    )
    flutes: Flutes = about("cutting edges", 2)  # type: ignore[valid-type]
    spindle: Speed = about("turns a minute", default_factory=lambda: rule("side_spindle"))
    feed: Speed = about("feed in the cut, mm/min", default_factory=lambda: rule("side_feed"))
    plunge: Speed = about("feed down, beside the wood, mm/min", default_factory=lambda: rule("side_plunge"))
    step: Annotated[Size, Field(ge=0.2, le=60)] = about(
        "most wood that one run takes, from the raw face towards the line", default_factory=lambda: rule("side_step")
    )
    leave: Annotated[Length, Field(le=5)] = about(
        "left on by these runs for the last one, along the line itself", default_factory=lambda: rule("side_leave")
    )
    level: Annotated[Size, Field(ge=0.5, le=300)] | None = about(
        "most that is cut in one level along its axis; left out, its diameter, or its cutting length where that is less",
        None,
    )
    below: Annotated[Length, Field(le=5)] = about(
        "how far its tip goes into the board under the strip", default_factory=lambda: rule("side_below")
    )
    tab: Annotated[Size, Field(ge=2, le=15)] = about(
        "wood left standing at the back of both ends where strips are held by tabs",
        default_factory=lambda: rule("side_tab"),
    )
    apart: Size | None = about("room between two strips on the fixture; left out, the cutter's way and a batten", None)
    tolerance: Annotated[Size, Field(ge=0.001, le=0.1)] = about(
        "how far straight lines may run from the true profile", default_factory=lambda: rule("side_tolerance")
    )


class Roughing(Model):
    """A straight cutter that takes the waste off in levels."""

    cutter: Annotated[Size, Field(ge=1, le=60)] = about(
        "diameter of the straight cutter", default_factory=lambda: rule("rough_cutter")
    )
    flutes: Flutes = about("cutting edges", 2)  # type: ignore[valid-type]
    spindle: Speed = about("turns a minute", default_factory=lambda: rule("rough_spindle"))
    feed: Speed = about("feed in the cut, mm/min", default_factory=lambda: rule("rough_feed"))
    plunge: Speed = about("feed on a ramp, mm/min", default_factory=lambda: rule("rough_plunge"))
    level: Size = about("most that is taken in one level", default_factory=lambda: rule("rough_level"))
    step: Size | None = about("from pass to pass; left out, 0.4 of the cutter", None)
    leave: Size = about("left on for the finishing cut", default_factory=lambda: rule("rough_leave"))


class Finishing(Model):
    """A ball-ended cutter that carves the face along the strips."""

    radius: Annotated[Size, Field(ge=0.5, le=30)] = about(
        "radius of the ball", default_factory=lambda: rule("finish_radius")
    )
    flutes: Flutes = about("cutting edges", 2)  # type: ignore[valid-type]
    spindle: Speed = about("turns a minute", default_factory=lambda: rule("finish_spindle"))
    feed: Speed = about("feed in the cut, mm/min", default_factory=lambda: rule("finish_feed"))
    plunge: Speed = about("feed on a ramp, mm/min", default_factory=lambda: rule("finish_plunge"))
    scallop: Size = about("greatest height of the ridges between passes", default_factory=lambda: rule("scallop"))
    step: Size | None = about("from pass to pass, the same everywhere; left out, it follows from the scallop", None)


class Machine(Model):
    """A machine with three axes, as far as its files depend on it; its own papers decide."""

    bed: tuple[Size, Size] | None = about(
        "how far it reaches across and along the strips; left out, it is not checked", None
    )
    strips: whole_number(1, 40) | None = about(  # type: ignore[valid-type]
        "most strips on one fixture; left out, 8 to 12 as they divide a door evenly", None
    )
    words: Words = about(
        "how machine code is written: rs274 (NISTIR 6556), or iso6983 (numbered lines between two % signs)", Words.RS274
    )
    clear: Annotated[Size, Field(ge=1, le=500)] = about(
        "how far above the blanks the cutter travels", default_factory=lambda: rule("machine_clear")
    )
    rapid: Speed = about("speed of travel, mm/min", default_factory=lambda: rule("machine_rapid"))
    acceleration: Speed = about("acceleration, mm/s2", default_factory=lambda: rule("machine_acceleration"))
    leave: Length = about("left on the face for sanding", default_factory=lambda: rule("machine_leave"))
    waste: Annotated[Size, Field(ge=5, le=200)] = about(
        "waste beyond both ends of the strips, in which the cutter enters and turns",
        default_factory=lambda: rule("machine_waste"),
    )
    cut: Cut = about(
        "which way strips on their side are cut along: climb, every run from the BOTTOM end; or either, to and fro until the last",
        Cut.CLIMB,
    )
    hold: Hold = about(
        "how strips on their side are held, besides stops and batten: screws in waste at both ends, tabs, vacuum or tape",
        Hold.SCREWS,
    )
    side: Side = about("the cutter for profiles", default_factory=Side.model_construct)
    roughing: Roughing = about("the cutter that takes the waste off", default_factory=Roughing.model_construct)
    finishing: Finishing = about("the cutter that carves the face", default_factory=Finishing.model_construct)


def first_on_side(machine: Machine, unit: Unit) -> tuple[float, float]:
    """Return where the first strip's lower left corner lies on its side, along and across, mm from the board's lower left corner.

    So far in that the cutter goes down over the board, beyond the waste and the stop, and that the corner stays free.
    """
    stop, keep, whole = side_stop(unit), rule("side_keep"), _WHOLE[unit]
    along = side_waste(machine) + stop + machine.side.cutter + 2.0 * keep
    return _rounded_up(along, whole), _rounded_up(stop + keep, whole)


def side_waste(machine: Machine) -> float:
    """Return by how much a strip on its side is longer at each end while it is cut, mm."""
    return machine.waste if machine.hold.in_waste else 0.0


def side_stop(unit: Unit) -> float:
    """Return how wide the batten behind a strip on its side, and how long the stops at its ends are, mm."""
    return rule("side_stop" if unit is Unit.MM else "side_stop_inch")


def _rounded_up(size: float, whole: float) -> float:
    return math.ceil(size / whole - 1e-9) * whole
