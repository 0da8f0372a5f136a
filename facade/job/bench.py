"""What the strips are shaped with, and how they are fixed to the doors."""

from __future__ import annotations

from enum import StrEnum
from typing import Annotated

from pydantic import Field

from facade.fields import Degrees, Length, Model, Size, about
from facade.rules import rule


class CutterShape(StrEnum):
    """The body that shapes the face."""

    DISC = "disc"
    BALL = "ball"


class Cutter(Model):
    """What shapes the face: a carving disc standing on its rim along the strip, or a ball-ended cutter."""

    shape: CutterShape = about(
        "disc: a carving disc, run along the strips; ball: a ball-ended cutter", CutterShape.DISC
    )
    radius: Annotated[Size, Field(ge=0.5, le=500)] = about(
        "radius of the ball, or of the disc", default_factory=lambda: rule("disc_radius")
    )
    edge: Annotated[Size, Field(le=500)] = about(
        "radius of the disc's rim, across the way it runs", default_factory=lambda: rule("disc_edge")
    )
    tilt: Annotated[Degrees, Field(ge=5, le=90)] = about(
        "degrees between the disc and the face: 90 on its rim; flatter, it follows wider hollows only", 90.0
    )
    sizes: Annotated[tuple[Size, ...], Field(min_length=1, max_length=40)] | None = about(
        "diameters of the discs, or of the balls, that can be had, of which the checks name one; left out, the usual ones",
        None,
    )
    fit: bool = about("true: the surface becomes the one that the cutter can leave", False)


class Held(StrEnum):
    """How strips are held to their door."""

    SCREWS = "screws"
    GLUE = "glue"
    BEAD = "middle bead"


class Fixing(Model):
    """How strips are held to their door."""

    by: Held = about(
        "screws: from behind, in wide holes; glue: over the whole back; middle bead: glue on the middle third",
        Held.SCREWS,
    )
    shank: Annotated[Size, Field(ge=1, le=12)] = about(
        "diameter of a screw's shank", default_factory=lambda: rule("screw_shank")
    )
    lengths: Annotated[tuple[Size, ...], Field(min_length=1, max_length=40)] | None = about(
        "lengths of the screws in stock, from under the head to the tip; left out, the usual ones", None
    )
    countersink: Length = about("how deep a screw's head is sunk into the board", 0.0)
    lengths_sold: Annotated[tuple[Size, ...], Field(min_length=1, max_length=40)] | None = about(
        "lengths of screws that can be bought; left out, the common ones", None
    )
    shanks_sold: Annotated[tuple[Size, ...], Field(min_length=1, max_length=40)] | None = about(
        "shanks of screws that can be bought; left out, the common ones", None
    )


class Way(StrEnum):
    """How the strips are made: which sheets are needed follows from it."""

    AS_A_SET = "as a set"
    SAWN_SIDES = "sawn sides"
    PANEL_FIRST = "panel first"
    MACHINE = "machine"


class Work(Model):
    """How the maker goes about it; the design is the same."""

    way: Way | None = about(
        "as a set: ripped first, then carved together on a carving board; sawn sides: ripped first, each side sawn to its line; "
        "panel first: a panel carved, then ripped; machine: carved by machine; left out, by what else the job says",
        None,
    )


class ErrorBudget(Model):
    """What each step may be off where two strips meet."""

    print: Length = about("the print, checked on its rules", default_factory=lambda: rule("error_print"))
    laying: Length = about("laying the sheet on the wood", default_factory=lambda: rule("error_laying"))
    trace: Length = about("the pencil line", default_factory=lambda: rule("error_trace"))
    saw: Length = about("saw or disc", default_factory=lambda: rule("error_saw"))
    sanding: Length = about("sanding", default_factory=lambda: rule("error_sanding"))
    thickness: Length = about("thickness of the blanks", default_factory=lambda: rule("error_thickness"))
    mounting: Length = about("mounting on the door", default_factory=lambda: rule("error_mounting"))
