"""Weight: what each door weighs when it is clad, where its middle of mass is, and how many hinges that asks for."""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass

from facade.doors.timber import wood_density
from facade.front import Front
from facade.job.hanging import HingeRow, Hinges, Pivot
from facade.job.model import Job
from facade.layout import Door
from facade.measuring import Measures

_MM3 = 1e-9  # m3
_MM2 = 1e-6  # m2


@dataclass(frozen=True)
class Mass:
    """A mass in kg and its middle on the front, mm; z is 0 at the back of the strips, the board behind it."""

    kg: float
    x: float
    y: float
    z: float


@dataclass(frozen=True)
class DoorWeight:
    """What a door weighs: its parts, and all of it together.

    `hinges` is how many the table asks for; None where the door is beyond the table. Hardware is taken in the plane between
    board and strips, in the middle of the door; the finish where the strips are.
    """

    door: int
    strips: Mass
    board: Mass
    finish: Mass
    hardware: Mass
    whole: Mass
    hinges: int | None


def door_weights(front: Front) -> list[DoorWeight]:
    """Return what each door weighs, from the left."""
    measures, heavy = front.measures(), wood_density(front.job)
    return [
        _weigh(front.job, door, [one for one in measures if one.door == door.number], heavy)
        for door in front.layout.doors
    ]


def hinge_table(job: Job) -> tuple[HingeRow, ...]:
    """Return the hinge table of a job, or the usual one where it says nothing of hinges."""
    return (job.hinges or Hinges(pivot=Pivot.BACK)).table


def hinges_needed(table: Iterable[HingeRow], mass: float, height: float) -> int | None:
    """Return how many hinges a table asks for by mass in kg and by height in mm, whichever asks more; None beyond it."""
    rows = list(table)
    by_mass = min((row.count for row in rows if mass <= row.mass + 1e-9), default=None)
    by_height = min((row.count for row in rows if height <= row.height + 1e-9), default=None)
    return None if by_mass is None or by_height is None else max(by_mass, by_height)


def together(masses: Iterable[Mass]) -> Mass:
    """Return several masses as one, at their common middle."""
    parts = list(masses)
    kg = math.fsum(part.kg for part in parts)
    if kg <= 0.0:
        return parts[0]
    x, y, z = (
        math.fsum(part.kg * at for part, at in zip(parts, places, strict=True)) / kg for places in _places(parts)
    )
    return Mass(kg, x, y, z)


def _places(parts: list[Mass]) -> tuple[list[float], list[float], list[float]]:
    return [part.x for part in parts], [part.y for part in parts], [part.z for part in parts]


def _weigh(job: Job, door: Door, measures: list[Measures], heavy: float) -> DoorWeight:
    x, y, face = (door.left + door.right) / 2.0, (door.bottom + door.top) / 2.0, door.width * door.height
    solids = [strip.solid for strip in measures]
    strips = together(Mass(solid.volume * _MM3 * heavy, solid.x, solid.y, solid.z) for solid in solids)
    thick = job.board.thickness
    board = Mass(face * thick * _MM3 * job.board.density, x, y, -thick / 2.0)
    finish = Mass(face * _MM2 * job.board.finish, strips.x, strips.y, strips.z)
    hardware = Mass(job.board.hardware, x, y, 0.0)
    whole = together([strips, board, finish, hardware])
    counted = whole.kg * job.limit("forward_load").value
    needed = hinges_needed(hinge_table(job), counted, door.height)
    return DoorWeight(door.number, strips, board, finish, hardware, whole, needed)
