"""Timber: the wood of the strips as it is when it is milled and mounted: its moisture, density, strength and stiffness."""

from __future__ import annotations

from dataclasses import dataclass

from facade.job.hanging import Climate
from facade.job.model import Job
from facade.wood import species
from facade.wood.moisture import equilibrium_moisture
from facade.wood.strength import basic_gravity, density, gravity_at, strength_at


@dataclass(frozen=True)
class Timber:
    """Bending strength and stiffness of the wood as it is, MPa: averages of small clear specimens."""

    strength: float
    stiffness: float


def moisture_in(air: Climate) -> float:
    """Return the moisture in % that wood settles at in a climate."""
    return equilibrium_moisture(air.temperature, air.humidity)


def moisture_now(job: Job) -> float:
    """Return the moisture of the strips in %: as the job says it, or as the wood settles where it is milled and mounted."""
    said = job.wood.moisture
    return moisture_in(job.room.now) if said is None else said


def wood_density(job: Job) -> float:
    """Return the density of the strips in kg/m3 at their moisture: Wood Handbook, FPL-GTR-282, Eq. (4-13) and (4-14)."""
    moisture = moisture_now(job)
    return density(gravity_at(basic_gravity(species(job.wood.species).gravity), moisture), moisture)


def timber_of(job: Job) -> Timber:
    """Return the wood's strength and stiffness at its moisture."""
    wood, moisture = species(job.wood.species), moisture_now(job)
    return Timber(
        strength_at(wood.bending, wood.bending_green, moisture, wood.meeting_point),
        strength_at(wood.stiffness, wood.stiffness_green, moisture, wood.meeting_point),
    )
