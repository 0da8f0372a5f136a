"""How a bare strip bends and where it breaks, resting on its two ends: its shape alone, whatever the species.

Load and rests stand in the plane of the strip's length and thickness; that a slanting face also turns a strip a little is left
out. Forces follow from the species' strength and stiffness by one product each.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np

from facade.arrays import Array
from facade.slicer import Strip

# Mid-span deflection from shear is k_s W L / (G A') with k_s = 1/4, G = E / 16 where it is not known, and A' = 5 A / 6 (Wood
# Handbook, FPL-GTR-282, Eq. (9-2), Table 9-1, text of Eq. (9-9), Eq. (9-4)): W / E times this, over A, for each mm of length.
_SHEAR = 16.0 / 4.0 * 6.0 / 5.0


@dataclass(frozen=True)
class Sections:
    """Cross sections, one for each row: area mm2, second moment about the level axis through the centroid mm4, modulus mm3."""

    area: Array
    inertia: Array
    modulus: Array


@dataclass(frozen=True)
class Bending:
    """A strip between two rests at its ends, loaded at mid-span.

    `compliance` (1/mm) times force over stiffness is the deflection; `strength` (mm2) times bending strength is the force that
    breaks it, at `from_top` mm, where it is `thickness` mm thick on average. `least_inertia` (mm4) and `least_modulus` (mm3) are
    those of its weakest cross section, wherever that is.
    """

    compliance: float
    strength: float
    from_top: float
    thickness: float
    least_inertia: float
    least_modulus: float

    def deflection(self, force: float, stiffness: float) -> float:
        """Return the deflection at mid-span, mm, under a force in N; stiffness in MPa."""
        return force * self.compliance / stiffness

    def breaking_force(self, strength: float) -> float:
        """Return the force in N at mid-span that breaks the strip; bending strength in MPa."""
        return strength * self.strength


def bending_of(strip: Strip) -> Bending:
    """Return how a strip bends, by the work of a unit load over its real sections, row by row."""
    across = sections(strip.heights, strip.width)
    along = strip.y - strip.place.bottom
    from_end = np.minimum(along, strip.length - along)
    strength = across.modulus[1:-1] / (from_end[1:-1] / 2.0)
    weakest = int(strength.argmin())
    return Bending(
        compliance=_compliance(along, strip.length, across),
        strength=float(strength[weakest]),
        from_top=float(strip.place.top - strip.y[weakest + 1]),
        thickness=float(across.area[weakest + 1]) / strip.width,
        least_inertia=float(across.inertia.min()),
        least_modulus=float(across.modulus.min()),
    )


def sections(heights: Array, width: float) -> Sections:
    """Return the cross sections of `heights` (rows, columns), columns evenly over `width`, their tops straight in between.

    Area, first and second moment about the back are the integrals of h, h^2 / 2 and h^3 / 3, exact for such tops; the second
    moment about the centroid follows by the parallel axis theorem. The modulus is that of the fibre furthest from the centroid.
    """
    near, far = heights[:, :-1], heights[:, 1:]
    both, product = near + far, near * far
    squares = both * both
    squares -= product  # h0^2 + h0 h1 + h1^2
    cubes = both * (squares - product)  # h0^3 + h0^2 h1 + h0 h1^2 + h1^3
    wide = width / near.shape[1]
    area = wide / 2.0 * _total(both)
    centroid = wide / 6.0 * _total(squares) / area
    inertia = wide / 12.0 * _total(cubes) - area * centroid * centroid
    furthest = np.maximum(centroid, heights.max(axis=1) - centroid)
    return Sections(area, inertia, inertia / furthest)


def _total(values: Array) -> Array:
    """Return the sum of each row: a product with ones is quicker than a sum over a short axis."""
    total: Array = values @ np.ones(values.shape[1])
    return total


def _compliance(along: Array, length: float, across: Sections) -> float:
    """Return the deflection at mid-span for unit load and stiffness: the integral of m^2 / I, and the part of shear.

    m is half the distance to the nearer rest. 1 / I runs straight from row to row, so that a strip of one thickness is exact;
    mid-span, where m turns, is a place of its own.
    """
    places: Array = np.sort(np.append(along, length / 2.0))
    soft = np.interp(places, along, 1.0 / across.inertia)
    reach = np.minimum(places, length - places)
    a, b, step = reach[:-1], reach[1:], np.diff(places)
    # The integral of x^2 f from a to b, f straight from f0 to f1: (b - a) / 12 (f0 (3a^2 + 2ab + b^2) + f1 (a^2 + 2ab + 3b^2)).
    sum_of_squares = (a + b) ** 2
    bent = step * (soft[:-1] * (sum_of_squares + 2.0 * a * a) + soft[1:] * (sum_of_squares + 2.0 * b * b))
    sheared: Any = np.trapezoid(1.0 / across.area, along)
    return float(bent.sum()) / 48.0 + _SHEAR * float(sheared)
