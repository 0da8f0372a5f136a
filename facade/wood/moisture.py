"""Moisture and movement of wood, by the formulas of the Wood Handbook.

Sources: Forest Products Laboratory, Wood Handbook, FPL-GTR-282 (2021), chapter 4, and FPL-GTR-190 (2010), chapter 13.
"""

from __future__ import annotations

import math

FIBRE_SATURATION = 30.0  # % moisture above which wood does not swell further


def equilibrium_moisture(celsius: float, humidity: float) -> float:
    """Return the moisture content in % that wood settles at; `humidity` in % of saturation, 0 to less than 100.

    Wood Handbook, FPL-GTR-282, Eq. (4-5), tabled there for -1 to 60 degrees. Good to about 1 % moisture for real wood, which
    dries and wets by different curves (FPL-GTR-229).
    """
    t, h = celsius, humidity / 100.0
    w = 349.0 + 1.29 * t + 0.0135 * t * t
    k = 0.805 + 0.000736 * t - 0.00000273 * t * t
    k1 = 6.27 - 0.00938 * t - 0.000303 * t * t
    k2 = 1.91 + 0.0407 * t - 0.000293 * t * t
    kh = k * h
    bound = kh / (1.0 - kh)
    layered = (k1 * kh + 2.0 * k1 * k2 * kh * kh) / (1.0 + k1 * kh + k1 * k2 * kh * kh)
    return 1800.0 / w * (bound + layered)


def movement(size: float, coefficient: float, moisture_from: float, moisture_to: float) -> float:
    """Return the change of a size, in its unit, for a change of moisture in %; swelling is positive.

    Wood Handbook, FPL-GTR-190, Eq. (13-2); meant for 6 to 14 % moisture.
    """
    return size * coefficient * (moisture_to - moisture_from)


def movement_by_shrinkage(size: float, shrinkage: float, moisture_from: float, moisture_to: float) -> float:
    """Return the change of a size by its total shrinkage in % from green to oven-dry, beyond 6 to 14 % moisture too.

    Wood Handbook, FPL-GTR-190, Eq. (13-3) (the formula from memory; it is the same law as FPL-GTR-282, Eq. (4-9)). Neither
    moisture counts beyond fibre saturation, 30 %.
    """
    start, end = min(moisture_from, FIBRE_SATURATION), min(moisture_to, FIBRE_SATURATION)
    return size * (end - start) / (FIBRE_SATURATION * 100.0 / shrinkage - FIBRE_SATURATION + start)


def coefficient_at(radial: float, tangential: float, ring_angle: float) -> float:
    """Return the movement coefficient across a strip whose rings stand at `ring_angle` degrees to its face.

    0 is flat-sawn (tangential), 90 quarter-sawn (radial); between them the strains turn as any small plane strain does.
    Total shrinkages, which are strains too, turn alike.
    """
    radial_share = math.sin(math.radians(ring_angle)) ** 2
    return radial * radial_share + tangential * (1.0 - radial_share)
