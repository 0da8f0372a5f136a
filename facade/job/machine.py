"""The machine that cuts strips, its cutters, and how strips are held on it."""

from __future__ import annotations

from enum import StrEnum
from typing import Annotated

from pydantic import Field

from facade.fields import Length, Model, Number, Size, about, whole_number
from facade.rules import rule

Speed = Annotated[Number, Field(gt=0, le=100_000)]
Flutes = whole_number(1, 12)


class Words(StrEnum):
    """How machine code is written; both forms are open standards."""

    RS274 = "rs274"
    ISO6983 = "iso6983"


class Side(Model):
    """A straight cutter that cuts the profile of a strip lying on its side."""

    cutter: Annotated[Size, Field(ge=1, le=60)] = about(
        "diameter of the straight cutter", default_factory=lambda: rule("side_cutter")
    )
    length: Annotated[Size, Field(le=300)] | None = about(
        "its cutting length; left out, it is not held against the strip's width", None
    )
    apart: Size | None = about("room between two strips on the fixture; left out, twice the cutter", None)
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
    side: Side = about("the cutter for profiles", default_factory=Side.model_construct)
    roughing: Roughing = about("the cutter that takes the waste off", default_factory=Roughing.model_construct)
    finishing: Finishing = about("the cutter that carves the face", default_factory=Finishing.model_construct)
