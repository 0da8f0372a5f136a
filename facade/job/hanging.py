"""The doors behind the strips: board, hinges, what stands beside, the opening, and the room."""

from __future__ import annotations

from enum import StrEnum
from typing import Annotated

from pydantic import Field

from facade.fields import Degrees, Length, Model, Number, Place, Point, Size, about, whole_number
from facade.rules import rule


class Hand(StrEnum):
    """The side of a door that its hinges are on, as seen from the front."""

    LEFT = "left"
    RIGHT = "right"


class Board(Model):
    """The board that carries the strips of a door, and what else hangs on its hinges."""

    thickness: Annotated[Size, Field(le=100)] = about("thickness of the board", default_factory=lambda: rule("board"))
    density: Annotated[Number, Field(ge=50, le=2000)] = about(
        "density of the board, kg/m3", default_factory=lambda: rule("board_density")
    )
    stiffness: Annotated[Number, Field(ge=100, le=30_000)] = about(
        "bending stiffness across the board, MPa", default_factory=lambda: rule("board_stiffness")
    )
    balanced: bool = about("true: its back is clad or veneered so that both faces pull alike", False)
    finish: Annotated[Number, Field(ge=0, le=5)] = about(
        "mass of dry finish, kg for a square metre of front", default_factory=lambda: rule("finish_mass")
    )
    hardware: Annotated[Number, Field(ge=0, le=50)] = about(
        "mass of pull, catch and the rest that hangs on a door, kg", default_factory=lambda: rule("hardware_mass")
    )


class Pivot(StrEnum):
    """Where a door turns."""

    BACK = "back"
    FRONT = "front"
    KNIFE = "knife"


class HingeRow(Model):
    """A line of a hinge table: up to this mass and this height, so many hinges."""

    mass: Annotated[Number, Field(gt=0)] = about("greatest mass of the door, kg")
    height: Size = about("greatest height of the door")
    count: whole_number(1, 20) = about("hinges that such a door needs")  # type: ignore[valid-type]


# Up to 7, 14, 20, 27 kg and up to 1.0, 1.5, 2.0, 2.5 m: rule of thumb, as charts of hinge makers have it. The sheet of the
# hinge in hand decides.
_HINGES = tuple(
    HingeRow.model_construct(mass=mass, height=height, count=count)
    for mass, height, count in ((7.0, 1000.0, 2), (14.0, 1500.0, 3), (20.0, 2000.0, 4), (27.0, 2500.0, 5))
)


class Hinges(Model):
    """How the doors turn; `inward` and `forward` are the hinge's own numbers and replace what the pivot stands for."""

    pivot: Pivot = about(
        "back: pin at the back face; front: pin at the face, at the hinge edge; knife: at top and bottom, in the middle of the thickness"
    )
    inward: Length | None = about("from the hinge edge of the door inwards to the pin", None)
    forward: Place | None = about("from the back of the strips forward to the pin; behind it below zero", None)
    sides: Annotated[tuple[Hand, ...], Field(min_length=1, max_length=60)] | None = about(
        "hinge side of each door, from the left; left out, pairs open from the middle and a single door has its hinges left",
        None,
    )
    opens: Annotated[Degrees, Field(ge=1, le=180)] = about("how far the doors must open, degrees", 110.0)
    bevel: Annotated[Degrees, Field(ge=0, le=30)] = about(
        "bevel of the board's edge away from the hinges, degrees; its front corner stays, its back corner comes off",
        0.0,
    )
    count: whole_number(1, 20) | None = about("hinges that are meant for each door", None)  # type: ignore[valid-type]
    between: Size | None = about("from the topmost to the lowest hinge of a door", None)
    table: Annotated[tuple[HingeRow, ...], Field(min_length=1, max_length=20)] = about(
        "hinge table, lightest doors first", _HINGES
    )


class Neighbour(StrEnum):
    """What stands beside the front."""

    NOTHING = "nothing"
    CASE = "case side"
    WALL = "wall"


class Side(Model):
    """What stands at one end of the front, from its outer edge on."""

    stands: Neighbour = about("nothing, case side or wall", Neighbour.NOTHING)
    forward: Place = about(
        "how far a case side stands forward of the back of the strips", default_factory=lambda: rule("beside")
    )


class Beside(Model):
    """What stands at the two ends of the front."""

    left: Side = about("at the left end", default_factory=Side.model_construct)
    right: Side = about("at the right end", default_factory=Side.model_construct)


class Mounting(StrEnum):
    """How doors stand to their case."""

    INSET = "inset"
    OVERLAY = "overlay"


class Opening(Model):
    """The opening as it was measured."""

    mounting: Mounting = about("inset: the doors stand in the opening; overlay: they cover it")
    widths: tuple[Size, Size, Size] = about("width at the top, in the middle, at the bottom")
    heights: tuple[Size, Size, Size] = about("height at the left, in the middle, at the right")
    diagonals: tuple[Size, Size] | None = about("diagonal from the top left, and from the top right corner", None)
    plumb: tuple[Place, Place] = about(
        "how far the left and the right side lean to the right from bottom to top; below zero to the left", (0.0, 0.0)
    )
    twist: Length = about("how far the four corners are out of one plane", 0.0)
    overlap: Length = about("overlay: how far the front reaches beyond the opening on each side", 0.0)
    measured: Annotated[str, Field(max_length=200)] = about("when, and by whom", "")


class BareDoor(Model):
    """A door that was hung empty and measured before cladding."""

    door: whole_number(1, 60) = about("number of the door from the left")  # type: ignore[valid-type]
    bow: Length = about("greatest distance from a straightedge or string, up, down or across", 0.0)
    twist: Length = about("how far the four corners are out of one plane", 0.0)


class Pull(Model):
    """A finger pull carved into the relief."""

    centre: Point = about("middle of the pull: from the left, from the lower edge of the front")
    size: tuple[Size, Size] = about("width and height of the pull, over its rim")
    depth: Size = about("depth below the relief around it")
    edge: Size = about("radius of its rim", default_factory=lambda: rule("finger_edge"))


class Climate(Model):
    """Air of a room."""

    temperature: Annotated[Number, Field(ge=-20, le=60)] = about("degrees Celsius")
    humidity: Annotated[Number, Field(ge=0, le=98)] = about("relative humidity, %")


def _climate(name: str) -> Climate:
    return Climate.model_construct(temperature=rule(f"room_{name}_t"), humidity=rule(f"room_{name}_h"))


class Room(Model):
    """The air that the wood lives in."""

    now: Climate = about("where the strips are milled and mounted", default_factory=lambda: _climate("now"))
    driest: Climate = about("the driest weeks where the front will hang", default_factory=lambda: _climate("dry"))
    dampest: Climate = about("the dampest weeks where the front will hang", default_factory=lambda: _climate("damp"))
