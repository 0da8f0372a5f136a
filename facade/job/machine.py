"""The machine that cuts strips, its cutters, and how strips are held on it."""

from __future__ import annotations

import math
import re
from dataclasses import dataclass
from enum import StrEnum
from typing import Annotated, Any

from pydantic import BeforeValidator, Field, ValidationInfo

from facade.fields import Length, Model, Number, Size, about, whole_number
from facade.lengths import Unit
from facade.rules import rule

FASTEST = 100_000.0  # mm/min
_FEED = re.compile(r"(?P<number>\d+(?:\.\d*)?|\.\d+)\s*(?:(?P<unit>mm|in)\s*/\s*min)?")


def read_feed(value: object, unit: Unit) -> float:
    """Return a feed in mm/min from a number, in the job's unit a minute, or a text such as "3000 mm/min" or "120 in/min".

    Raises ValueError with the whole cure for what is none, or too fast.
    """
    shown = unit
    known = _FEED.fullmatch(value.strip()) if isinstance(value, str) and len(value) <= 60 else None
    number: float | None = None
    if known:
        unit, number = Unit(known["unit"] or unit), float(known["number"])
    elif isinstance(value, int | float) and not isinstance(value, bool) and abs(value) < 1e15:
        number = float(value)
    if number is None or not 0.0 < number * unit.in_mm <= FASTEST:
        raise ValueError(
            f"must be a feed of more than 0 and at most {FASTEST / shown.in_mm:.0f} {shown.value}/min, "
            'such as "3000 mm/min" or "120 in/min"; a bare number is in the unit of the job'
        )
    return number * unit.in_mm


def _to_feed(value: object, info: ValidationInfo) -> float:
    return read_feed(value, (info.context or {}).get("unit", Unit.MM))


class FeedMark:
    """Marks a float as a feed, for the schema of the job file."""

    def __get_pydantic_json_schema__(self, core: Any, handler: Any) -> dict[str, Any]:
        handler(core)
        return {
            "anyOf": [{"type": "number"}, {"type": "string"}],
            "description": 'a feed in the job\'s unit a minute, or a text such as "3000 mm/min" or "120 in/min"',
        }


Feed = Annotated[float, BeforeValidator(_to_feed), FeedMark()]
"""A feed, mm/min."""
Acceleration = Annotated[Number, Field(gt=0, le=100_000)]
Turns = Annotated[Number, Field(gt=0, le=100_000)]
Flutes = whole_number(1, 12)
# The cutter's rim comes this far clear of the wood before it turns, mm.
OUTSIDE = 1.0


def fixture_rule(name: str, unit: Unit) -> float:
    """Return a size of a fixture's parts that is a round one in the unit, mm."""
    return rule(name if unit is Unit.MM else f"{name}_inch")


@dataclass(frozen=True)
class Speeds:
    """How fast a cutter turns, 1/min, and how fast it goes in the cut and on its way in, mm/min."""

    spindle: float
    feed: float
    plunge: float


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
    spindle: Turns = about("turns a minute", default_factory=lambda: rule("side_spindle"))
    feed: Feed = about("feed in the cut", default_factory=lambda: rule("side_feed"))
    plunge: Feed = about("feed down, beside the wood", default_factory=lambda: rule("side_plunge"))
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

    @property
    def speeds(self) -> Speeds:
        """How fast it turns and goes."""
        return Speeds(self.spindle, self.feed, self.plunge)


class Roughing(Model):
    """A straight cutter that takes the waste off in levels."""

    cutter: Annotated[Size, Field(ge=1, le=60)] = about(
        "diameter of the straight cutter", default_factory=lambda: rule("rough_cutter")
    )
    flutes: Flutes = about("cutting edges", 2)  # type: ignore[valid-type]
    spindle: Turns = about("turns a minute", default_factory=lambda: rule("rough_spindle"))
    feed: Feed = about("feed in the cut", default_factory=lambda: rule("rough_feed"))
    plunge: Feed = about("feed on the way in", default_factory=lambda: rule("rough_plunge"))
    level: Size = about("most that is taken in one level", default_factory=lambda: rule("rough_level"))
    step: Size | None = about("from pass to pass; left out, 0.4 of the cutter", None)
    leave: Size = about("left on for the finishing cut", default_factory=lambda: rule("rough_leave"))

    @property
    def speeds(self) -> Speeds:
        """How fast it turns and goes."""
        return Speeds(self.spindle, self.feed, self.plunge)


class Finishing(Model):
    """A ball-ended cutter that carves the face along the strips."""

    radius: Annotated[Size, Field(ge=0.5, le=30)] = about(
        "radius of the ball", default_factory=lambda: rule("finish_radius")
    )
    flutes: Flutes = about("cutting edges", 2)  # type: ignore[valid-type]
    spindle: Turns = about("turns a minute", default_factory=lambda: rule("finish_spindle"))
    feed: Feed = about("feed in the cut", default_factory=lambda: rule("finish_feed"))
    plunge: Feed = about("feed on the way in", default_factory=lambda: rule("finish_plunge"))
    scallop: Size = about("greatest height of the ridges between passes", default_factory=lambda: rule("scallop"))
    step: Size | None = about("from pass to pass, the same everywhere; left out, it follows from the scallop", None)

    @property
    def speeds(self) -> Speeds:
        """How fast it turns and goes."""
        return Speeds(self.spindle, self.feed, self.plunge)


class Machine(Model):
    """A machine with three axes, as far as its files depend on it; its own papers decide."""

    bed: tuple[Size, Size] | None = about(
        "how far it reaches across and along the strips, which the spoilboard must not exceed; left out, it is not checked",
        None,
    )
    unit: Unit | None = about("mm or in: the unit of the machine's own files; left out, that of the job", None)
    first_strip: tuple[Size, Size] | None = about(
        "where the first strip's lower left corner lies, across and along from the lower left machined corner of the spoilboard, which is "
        "the zero of all fixtures; left out, as near as waste, cutter, battens and clamps allow",
        None,
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
    rapid: Feed = about("speed of travel", default_factory=lambda: rule("machine_rapid"))
    acceleration: Acceleration = about("acceleration, mm/s2", default_factory=lambda: rule("machine_acceleration"))
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

    @property
    def over(self) -> float:
        """How far beyond the wood a cutter's rim comes, mm: its middle goes out by its own radius and a hair."""
        return 2.0 * max(self.finishing.radius, self.roughing.cutter / 2.0) + OUTSIDE

    def least_first_strip(self, unit: Unit) -> tuple[float, float]:
        """Return how near to the corner of the spoilboard the first strip may lie, across and along, mm."""
        beside = max(self.over + rule("fixture_keep_off"), fixture_rule("fixture_batten", unit))
        return beside + fixture_rule("fixture_clamp", unit), self.waste + self.over + rule("fixture_keep_off")


def first_on_side(machine: Machine, unit: Unit) -> tuple[float, float]:
    """Return where the first strip's lower left corner lies on its side, along and across, mm from the board's lower left corner.

    So far in that the cutter goes down over the board, beyond the waste and the stop, and that the corner stays free.
    """
    stop, keep, whole = fixture_rule("side_stop", unit), rule("side_keep"), fixture_rule("fixture_whole", unit)
    least = (side_waste(machine) + stop + machine.side.cutter + 2.0 * keep, stop + keep)
    along, across = (math.ceil(size / whole - 1e-9) * whole for size in least)
    return along, across


def side_waste(machine: Machine) -> float:
    """Return by how much a strip on its side is longer at each end while it is cut, mm."""
    return machine.waste if machine.hold.in_waste else 0.0
