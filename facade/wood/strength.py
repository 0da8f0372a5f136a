"""Density, strength and screws, by the formulas of the Wood Handbook.

Source: Forest Products Laboratory, Wood Handbook, FPL-GTR-282 (2021), chapters 4, 5 and 8. Strengths are averages of small
clear specimens, never design values.
"""

from __future__ import annotations

from facade.wood.moisture import FIBRE_SATURATION, coefficient_at

WATER = 1000.0  # kg/m3


def basic_gravity(gravity_12: float) -> float:
    """Return the specific gravity on green volume from that on volume at 12 % moisture: Eq. (4-13), solved for it."""
    return gravity_12 / (1.0 + 0.265 * gravity_12 * (1.0 - 12.0 / FIBRE_SATURATION))


def gravity_at(basic: float, moisture: float) -> float:
    """Return the specific gravity, oven-dry mass on volume at `moisture` %: Wood Handbook, FPL-GTR-282, Eq. (4-13)."""
    swollen = 1.0 - 0.265 * basic * (1.0 - min(moisture, FIBRE_SATURATION) / FIBRE_SATURATION)
    return basic / swollen


def density(gravity: float, moisture: float) -> float:
    """Return the density in kg/m3 of wood with specific gravity `gravity` at `moisture` %: FPL-GTR-282, Eq. (4-14)."""
    return WATER * gravity * (1.0 + moisture / 100.0)


def strength_at(dry: float, green: float, moisture: float, meeting_point: float = 25.0) -> float:
    """Return a strength at `moisture` % from that at 12 % and that of green wood, in their unit.

    Wood Handbook, FPL-GTR-282, Eq. (5-3); `meeting_point` is the moisture where drying begins to count. Wetter wood has the
    green value.
    """
    if moisture >= meeting_point:
        return green
    return float(dry * (dry / green) ** ((12.0 - moisture) / (meeting_point - 12.0)))


def stiffness_across(bending_stiffness: float, radial: float, tangential: float, ring_angle: float) -> float:
    """Return the stiffness across a strip, in the unit of its bending stiffness along the grain: never too low.

    `radial` and `tangential` are shares of the stiffness along the grain, which is 1.1 times what bending tests give (Wood
    Handbook, FPL-GTR-282, chapter 5, from memory). Between flat-sawn, 0 degrees, and quarter-sawn, 90, real wood is softer than
    this straight mean, since rings slide on each other easily.
    """
    return 1.1 * bending_stiffness * coefficient_at(radial, tangential, ring_angle)


def withdrawal(gravity_12: float, shank: float, bite: float) -> float:
    """Return the average force in N that pulls a wood screw out of side grain; mm.

    Wood Handbook, FPL-GTR-282, Eq. (8-10): ultimate, with a lead hole; `bite` is the threaded length in the wood. About a fifth
    of it is taken as allowable.
    """
    return 108.25 * gravity_12**2 * shank * bite
