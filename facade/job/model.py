"""The job: what the maker wants, frozen, all lengths in mm. Nothing is computed here."""

from __future__ import annotations

import json
import math
from dataclasses import asdict, dataclass
from enum import StrEnum
from typing import Annotated, Any

from pydantic import AfterValidator, Field, PrivateAttr

from facade.fields import Degrees, Length, Model, Number, Point, Size, about, whole_number
from facade.job.as_built import AsBuilt
from facade.job.bench import Cutter, ErrorBudget, Fixing, Way, Work
from facade.job.hanging import BareDoor, Beside, Board, Hand, Hinges, Mounting, Opening, Pull, Room
from facade.job.limits import Limit, Limits, limit_of
from facade.job.machine import Machine, first_on_side, fixture_rule
from facade.lengths import Ruler, Unit
from facade.reliefs import AnyRelief
from facade.rules import rule
from facade.wood import species_names


class Fit(StrEnum):
    """How the relief's own numbers become millimetres."""

    FULL = "full"
    DEPTH = "depth"
    AS_GIVEN = "as given"


class DoorPattern(StrEnum):
    """How the relief runs from door to door."""

    CONTINUOUS = "continuous"
    MIRRORED = "mirrored"
    REPEATED = "repeated"


class Edge(StrEnum):
    """An edge of the front or of a door."""

    LEFT = "left"
    RIGHT = "right"
    TOP = "top"
    BOTTOM = "bottom"


class Shape(StrEnum):
    """Outline of a land."""

    RECTANGLE = "rectangle"
    ELLIPSE = "ellipse"


class Keep(StrEnum):
    """What a land asks of the wood."""

    FLAT = "flat"
    AT_LEAST = "at least"


class Reveals(Model):
    """Space between the doors and what stands around them; a side left out has none, or in an inset opening the rule's."""

    left: Length | None = about("left of the first door", None)
    right: Length | None = about("right of the last door", None)
    top: Length | None = about("above the doors", None)
    bottom: Length | None = about("below the doors", None)


@dataclass(frozen=True)
class Around:
    """The reveals as they hold, mm."""

    left: float
    right: float
    top: float
    bottom: float


class FrontPlan(Model):
    """The whole visible face."""

    width: Annotated[Size, Field(ge=10)] = about("width of the whole face, reveals included")
    height: Annotated[Size, Field(ge=10, le=10_000)] = about("height of the whole face, reveals included")
    doors: whole_number(1, 60) = about("how many doors, side by side", 1)  # type: ignore[valid-type]
    door_widths: Annotated[tuple[Size, ...], Field(min_length=1, max_length=60)] | None = about(
        "widths of doors that are not all alike, from the left", None
    )
    space: Length | None = about("space between two doors", None)
    hidden_joint: bool = about(
        "make the joint between two doors as wide as a gap, so that it disappears among them", False
    )
    reveals: Reveals = about(
        "space around the doors; a side left out has none, or in an inset opening the rule's",
        default_factory=Reveals.model_construct,
    )


class StripPlan(Model):
    """Any two or three of these; the rest is solved."""

    count: whole_number(1, 10_000) | None = about("strips on the whole front", None)  # type: ignore[valid-type]
    width: Annotated[Size, Field(ge=1, le=500)] | None = about("width of a strip", None)
    gap: Length | None = about("gap between two strips", None)
    edge: Length | None = about("from the outermost strip to the edge of its door", None)


def _known_species(name: str) -> str:
    if name not in species_names():
        raise ValueError(f"must be one of {', '.join(species_names())}")
    return name


class WoodPlan(Model):
    """What the strips are made of and how much may be taken away."""

    species: Annotated[str, AfterValidator(_known_species)] = about("species of the strips")
    blank: Annotated[Size, Field(le=200)] = about("thickness of a blank, milled and not yet carved")
    floor: Annotated[Size, Field(ge=1)] = about(
        "least height that may remain when all is done", default_factory=lambda: rule("floor")
    )
    sanding: Length = about(
        "sanding allowance: carve line above finished line", default_factory=lambda: rule("sanding")
    )
    sawing: Length = about(
        "sawing allowance: saw line above the higher finished edge line", default_factory=lambda: rule("sawing")
    )
    moisture: Annotated[Number, Field(ge=1, le=30)] | None = about(
        "moisture of the wood when it is milled and mounted, %, as a meter reads; left out, what it settles at in the room",
        None,
    )
    rings: Annotated[Degrees, Field(ge=0, le=90)] = about(
        "degrees between growth rings and face: 0 flat-sawn, 45 rift-sawn, 90 quarter-sawn", 0.0
    )


class Carving(Model):
    """How the relief is laid on the front and fitted to the wood."""

    fit: Fit = about(
        "full: from the floor to the face; depth: as deep as `depth`; "
        "as given: finished heights above the back, in mm where the relief has no lengths",
        Fit.FULL,
    )
    depth: Size | None = about("from the highest to the lowest place of the carving, for the fit 'depth'", None)
    doors: DoorPattern = about(
        "continuous: one relief over all doors; mirrored: every second door turned over; repeated",
        DoorPattern.CONTINUOUS,
    )
    packed: bool = about("true: strips are carved packed tight; false: the relief runs on behind the gaps", False)
    board: bool = about(
        "true: strips are carved on a carving board, screwed down along their whole length until they are mounted",
        False,
    )


class Land(Model):
    """A place kept flat or thick, under a pull or a screw."""

    shape: Shape = about("rectangle or ellipse", Shape.RECTANGLE)
    centre: Point = about("middle of the land: from the left, from the lower edge of the front")
    size: tuple[Size, Size] = about("width and height of the land")
    height: Size | None = about("finished height of the land; left out, as high as the blank allows", None)
    keep: Keep = about("flat: level at the height; at least: nothing lower than the height", Keep.FLAT)
    blend: Length = about("distance over which the land runs into the relief", default_factory=lambda: rule("blend"))


class Fade(Model):
    """The relief dies away towards an edge of the front."""

    edge: Edge = about("left, right, top or bottom edge of the front")
    width: Size = about("distance from the edge over which the relief dies away")
    height: Size | None = about("finished height at the edge; left out, as high as the blank allows", None)


class Cap(Model):
    """The relief is kept low along an edge of doors, so that they swing clear."""

    edge: Edge = about("left, right, top or bottom edge of the door")
    door: whole_number(1, 60) | None = about("number of the door from the left; left out, every door", None)  # type: ignore[valid-type]
    width: Length = about("distance from the edge over which nothing is higher than the cap")
    height: Size = about("greatest finished height there")
    blend: Size = about(
        "distance beyond, over which the relief may rise to the face", default_factory=lambda: rule("blend")
    )


class Bounds(Model):
    """How far `facade relax` may change a design."""

    depth: Annotated[Number, Field(gt=0, le=1)] = about("least share of the depth that must remain", 0.5)
    stretch: Annotated[Number, Field(ge=1, le=10)] = about("most that waves may become longer, in times", 1.5)
    moved: Size = about("most that any place of the surface may move", 6.0)
    caps: bool = about("true: height caps along edges of doors are allowed", True)
    fit: bool = about("true: smoothing to the cutter is allowed", True)


class Sampling(Model):
    """How finely heights are taken and listed; the design does not depend on it."""

    step: Annotated[Size, Field(ge=0.05, le=50)] = about(
        "distance between the places where heights are taken", default_factory=lambda: rule("step")
    )
    station: Annotated[Size, Field(ge=1, le=1000)] | None = about(
        "distance between stations along a strip; left out, 25 mm or 1 in", None
    )


class LightFrom(StrEnum):
    """Where the light of a picture comes from."""

    LEFT = "left"
    RIGHT = "right"
    TOP = "top"
    BOTTOM = "bottom"
    FRONT = "front"
    CEILING = "ceiling"
    STRIP_ABOVE = "strip above"
    STRIP_BELOW = "strip below"


class FinishKind(StrEnum):
    """What is on the wood in pictures."""

    RAW = "raw"
    OIL = "oil"
    DARK = "dark"


class Picture(Model):
    """How the front is lit and finished in its pictures."""

    light: LightFrom = about(
        "where the light comes from: a window left or right, far light from top or bottom, flat from the front, a row of lamps in the "
        "ceiling, a light strip close above or below",
        LightFrom.LEFT,
    )
    light_height: Annotated[float, Field(strict=True, ge=5, le=85)] = about(
        "degrees of a light from the side above the face; 15 is raking", 24.0
    )
    light_turn: Annotated[float, Field(strict=True, ge=-80, le=80)] = about(
        "degrees by which a light from the side is turned, anticlockwise as the front is seen", 0.0
    )
    finish: FinishKind = about("raw, oil or dark", FinishKind.OIL)


class Job(Model):
    """Everything that the maker has said, in mm."""

    title: Annotated[str, Field(min_length=1, max_length=200)] = about("name of the job, printed on every sheet")
    unit: Unit = about("mm or in: the unit of bare numbers, and of everything that is printed", Unit.MM)
    fraction: Annotated[int, Field(strict=True)] = about(
        "inches are printed to the nearest 1/32, or what is said here", 32
    )
    front: FrontPlan = about("the whole visible face")
    strips: StripPlan = about("how the doors are divided into strips")
    wood: WoodPlan = about("species, blank and allowances")
    carving: Carving = about("how the relief is laid on and fitted", default_factory=Carving.model_construct)
    layers: Annotated[tuple[AnyRelief, ...], Field(min_length=1, max_length=64)] = about("the relief, layer by layer")
    lands: Annotated[tuple[Land, ...], Field(max_length=500)] = about("places kept flat or thick", ())
    fades: Annotated[tuple[Fade, ...], Field(max_length=20)] = about("edges towards which the relief dies away", ())
    caps: Annotated[tuple[Cap, ...], Field(max_length=200)] = about("height caps along edges of doors", ())
    pulls: Annotated[tuple[Pull, ...], Field(max_length=100)] = about("finger pulls carved into the relief", ())
    cutter: Cutter = about("what the face is shaped with", default_factory=Cutter.model_construct)
    fixing: Fixing = about("how strips are held to their door", default_factory=Fixing.model_construct)
    board: Board = about("the board that carries the strips of a door", default_factory=Board.model_construct)
    hinges: Hinges | None = about("how the doors turn; left out, swing is not checked", None)
    beside: Beside = about("what stands at the two ends of the front", default_factory=Beside.model_construct)
    opening: Opening | None = about("the opening as it was measured", None)
    as_built: AsBuilt = about(
        "what came out at the bench otherwise than designed", default_factory=AsBuilt.model_construct
    )
    bare_doors: Annotated[tuple[BareDoor, ...], Field(max_length=60)] = about(
        "doors that were hung empty and measured", ()
    )
    room: Room = about("the air that the wood lives in", default_factory=Room.model_construct)
    machine: Machine = about("the machine that cuts strips", default_factory=Machine.model_construct)
    work: Work = about("how the strips are made, and so which sheets are printed", default_factory=Work.model_construct)
    errors: ErrorBudget = about(
        "what each step may be off where two strips meet", default_factory=ErrorBudget.model_construct
    )
    limits: Limits = about("limits of the checks that differ from the rules", default_factory=Limits.model_construct)
    relax: Bounds = about("how far `facade relax` may change the design", default_factory=Bounds.model_construct)
    sampling: Sampling = about("how finely heights are taken and listed", default_factory=Sampling.model_construct)
    picture: Picture = about("how front.png is lit", default_factory=Picture.model_construct)

    _name: str = PrivateAttr("job")
    _text: str | None = PrivateAttr(None)

    @property
    def name(self) -> str:
        """The job file's name without its ending: the name of the folder that the build goes into."""
        return self._name

    @property
    def text(self) -> str | None:
        """The job file's own text, to be kept beside what is made from it; None for a job made in Python."""
        return self._text

    @property
    def ruler(self) -> Ruler:
        """Writes lengths in the job's unit."""
        return Ruler(self.unit, self.fraction)

    @property
    def machine_unit(self) -> Unit:
        """The unit of machine code and of drawings for a machine."""
        return self.machine.unit or self.unit

    @property
    def first_strip(self) -> tuple[float, float]:
        """Where the first strip of every fixture lies, across and along from the machined corner of the spoilboard, mm.

        As the job says, or as near as waste, cutter, battens and clamps allow, rounded up to whole 10 mm or 1/2 in.
        """
        if self.machine.first_strip is not None:
            return self.machine.first_strip
        whole = fixture_rule("fixture_whole", self.unit)
        across, along = (math.ceil(size / whole - 1e-9) * whole for size in self.machine.least_first_strip(self.unit))
        return across, along

    @property
    def first_on_side(self) -> tuple[float, float]:
        """Where the first strip lies on its side, along and across, mm from the lower left corner of its board: the files' zero."""
        return first_on_side(self.machine, self.unit)

    @property
    def station(self) -> float:
        """Distance between stations, mm."""
        return self.sampling.station or rule("station" if self.unit is Unit.MM else "station_inch")

    @property
    def blank(self) -> float:
        """Thickness of the blanks that there are, mm: as measured, or as designed where nothing was measured."""
        return self.wood.blank if self.as_built.blank is None else self.as_built.blank

    @property
    def as_designed(self) -> Job:
        """The job as it was before anything came out otherwise at the bench."""
        return self.model_copy(update={"as_built": AsBuilt.model_construct()}) if self.as_built != AsBuilt() else self

    @property
    def way(self) -> Way:
        """How the strips are made: as the job says, or else by what it says of the carving board and of a machine."""
        if self.work.way is not None:
            return self.work.way
        if self.carving.board or self.carving.packed:
            return Way.AS_A_SET
        return Way.MACHINE if self.machine != Machine() else Way.SAWN_SIDES

    @property
    def highest(self) -> float:
        """Greatest finished height: what a blank as designed leaves after sanding, mm. A measured blank does not refit the relief."""
        return self.wood.blank - self.wood.sanding

    @property
    def sides_by_rule(self) -> tuple[Edge, ...]:
        """The sides of an inset front whose reveal is not said, so that the rule's is taken."""
        if self.opening is None or self.opening.mounting is not Mounting.INSET:
            return ()
        return tuple(edge for edge in Edge if getattr(self.front.reveals, edge.value) is None)

    @property
    def reveals(self) -> Around:
        """The space around the doors as it holds: what is said, the rule's around inset doors, else none; mm."""
        by_rule = self.sides_by_rule
        said = {edge: getattr(self.front.reveals, edge.value) for edge in Edge}
        return Around(**{edge.value: rule("reveal") if edge in by_rule else said[edge] or 0.0 for edge in Edge})

    def limit(self, name: str) -> Limit:
        """Return a limit that the checks hold the front to; raises KeyError for a name that is none."""
        return limit_of(self.limits, name)

    def hinge_side(self, door: int, doors: int) -> Hand:
        """Return the side of a door, of `doors`, that its hinges are on."""
        sides = self.hinges.sides if self.hinges else None
        if sides is not None:
            return sides[(door - 1) % len(sides)]
        # Doors open in pairs from their middle; one that is left alone at the right turns on its right edge.
        return Hand.RIGHT if door % 2 == 0 or (door == doors and doors > 1) else Hand.LEFT

    def design(self) -> str:
        """Return everything that decides how the wood is cut, as one text: equal designs give equal texts.

        How finely it is sampled, how it is lit and what it is called are no part of it.
        """
        settings: dict[str, Any] = self.model_dump(
            mode="json",
            include={"front", "strips", "wood", "carving", "layers", "lands", "fades", "caps"},
            exclude={"wood": {"moisture", "rings"}, "carving": {"board"}},
        )
        # What is left out is told as it holds: with an opening around them the same doors become smaller.
        settings["front"]["reveals"] = asdict(self.reveals)
        if self.pulls:
            settings |= self.model_dump(mode="json", include={"pulls"})
        if as_built := self.as_built.design():
            settings |= {"as_built": as_built}
        if self.cutter.fit:
            settings |= self.model_dump(mode="json", include={"cutter"}, exclude={"cutter": {"sizes"}})
        settings["files"] = [layer.fingerprint() for layer in self.layers]
        return json.dumps(settings, sort_keys=True, ensure_ascii=True, separators=(",", ":"))
