"""Bending of strips against closed forms and handbook values.

Formulas: Forest Products Laboratory, Wood Handbook, FPL-GTR-282, Eqs. (9-2) to (9-4), (9-13), Table 9-1, and the text of
Eq. (9-9); the bending terms are also those of Roark's Formulas for Stress and Strain (beam on simple supports, load at mid-span).
"""

from __future__ import annotations

import math
from collections.abc import Callable

import numpy as np
import pytest
import shapely
from scipy.integrate import quad

from facade.layout import StripPlace
from facade.measuring.bending import Bending, bending_of, sections
from facade.slicer import Strip

# Sugar maple at 12 %: Wood Handbook, FPL-GTR-282, Table 5-3a.
STIFFNESS, STRENGTH = 12_600.0, 109.0


def strip_of(
    heights: Callable[[np.ndarray, np.ndarray], np.ndarray], width: float, length: float, rows: int = 701
) -> Strip:
    """Return a strip with heights of (from left, from bottom)."""
    place = StripPlace(1, 1, 0.0, width, 0.0, length, None, None)
    x, y = np.linspace(0.0, width, 19), np.linspace(0.0, length, rows)
    z = np.broadcast_to(heights(x[None, :], y[:, None]), (rows, 19)).astype(float)
    return Strip(place, x, y, z, 40.0, 0.8, 1.5)


def even(width: float, thickness: float, length: float, rows: int = 701) -> Bending:
    return bending_of(strip_of(lambda x, y: np.array(thickness), width, length, rows))


def test_a_strip_of_sugar_maple_bends_and_breaks_as_the_handbook_has_it() -> None:
    """b 30, h 12, L 700 mm: I 4320 mm4, S 720 mm3; bending 1.3128 mm and shear 0.0074 mm under 10 N; 4 MOR S / L = 448.5 N."""
    strip = even(30.0, 12.0, 700.0)
    assert strip.deflection(10.0, STIFFNESS) == pytest.approx(1.3128 + 0.0074, abs=1e-4)
    assert strip.breaking_force(STRENGTH) == pytest.approx(448.5, abs=0.05)
    assert (strip.least_inertia, strip.least_modulus) == pytest.approx((4320.0, 720.0))


def test_half_as_thick_it_bends_eight_times_as_far_and_breaks_under_a_quarter() -> None:
    strip = even(30.0, 6.0, 700.0)
    shear = 700.0 / 4.0 * 10.0 / (STIFFNESS / 16.0 * 5.0 / 6.0 * 30.0 * 6.0)
    assert strip.deflection(10.0, STIFFNESS) - shear == pytest.approx(10.5024, abs=1e-4)
    assert strip.breaking_force(STRENGTH) == pytest.approx(112.1, abs=0.05)


@pytest.mark.parametrize("rows", [3, 4, 29, 700, 701])
@pytest.mark.parametrize(("width", "thickness", "length"), [(18.0, 8.0, 800.0), (25.0, 30.0, 120.0)])
def test_an_even_strip_is_exact_however_many_rows(width: float, thickness: float, length: float, rows: int) -> None:
    """P L^3 / (48 E I) + P L / (4 G A'), I = b h^3 / 12, A' = 5 b h / 6, G = E / 16: Eqs. (9-2) to (9-4) and Table 9-1."""
    bent = length**3 / (48.0 * width * thickness**3 / 12.0)
    sheared = length / 4.0 * 16.0 / (5.0 / 6.0 * width * thickness)
    assert even(width, thickness, length, rows).compliance == pytest.approx(bent + sheared, rel=1e-12)


@pytest.mark.parametrize("rows", [701, 702])
def test_an_even_strip_breaks_in_the_middle(rows: int) -> None:
    strip = even(18.0, 8.0, 700.0, rows)
    assert strip.from_top == pytest.approx(350.0, abs=0.51)
    assert strip.thickness == pytest.approx(8.0)
    assert strip.strength == pytest.approx(4.0 * 18.0 * 64.0 / 6.0 / 700.0, rel=2e-3)


def double_taper(end: float, middle: float, length: float) -> Callable[[np.ndarray, np.ndarray], np.ndarray]:
    return lambda x, y: end + (middle - end) * (1.0 - np.abs(2.0 * y / length - 1.0)) + 0.0 * x


@pytest.mark.parametrize(("end", "middle"), [(6.0, 18.0), (18.0, 6.0), (10.0, 11.0)])
def test_a_double_taper_bends_by_the_closed_form(end: float, middle: float) -> None:
    """With h = a + c x from each rest to mid-span, m = x / 2 and I = b h^3 / 12.

    The two halves give 2 * 12 / (4 b) times the integral of x^2 / h^3, which with h in place of x is
    (ln h + 2 a / h - a^2 / (2 h^2)) / c^3 between a and h at mid-span; shear gives 2 * 24 / 5 / b times ln(h / a) / c.
    """
    width, length = 20.0, 600.0
    slope = (middle - end) / (length / 2.0)

    def at(h: float) -> float:
        return math.log(h) + 2.0 * end / h - end**2 / (2.0 * h**2)

    bent = 6.0 / width * (at(middle) - at(end)) / slope**3
    sheared = 48.0 / 5.0 / width * math.log(middle / end) / slope
    exact = bent + sheared
    errors = [
        abs(bending_of(strip_of(double_taper(end, middle, length), width, length, rows)).compliance / exact - 1.0)
        for rows in (151, 301, 601)
    ]
    assert errors[-1] < 5e-5
    # Halved steps quarter what is left.
    assert errors[0] / errors[1] == pytest.approx(4.0, rel=0.05)
    assert errors[1] / errors[2] == pytest.approx(4.0, rel=0.05)


def test_a_strip_that_tapers_from_end_to_end_bends_as_direct_integration_has_it() -> None:
    width, length, low, high = 18.0, 500.0, 7.0, 19.0

    def thickness(y: float) -> float:
        return low + (high - low) * y / length

    bent = quad(
        lambda y: (min(y, length - y) / 2.0) ** 2 * 12.0 / (width * thickness(y) ** 3), 0, length, points=[250.0]
    )[0]
    sheared = quad(lambda y: 0.25 * 16.0 * 1.2 / (width * thickness(y)), 0, length)[0]
    strip = bending_of(strip_of(lambda x, y: low + (high - low) * y / length + 0.0 * x, width, length, 501))
    assert strip.compliance == pytest.approx(bent + sheared, rel=1e-4)


def test_a_tapering_strip_breaks_where_section_and_moment_are_worst() -> None:
    """S / (x / 2) = b (a + c x)^2 / (3 x) is least at x = a / c from the thin end: there the thickness is twice the end's."""
    length, end = 800.0, 4.0
    slope = end / 250.0
    strip = bending_of(strip_of(lambda x, y: end + slope * (length - y) + 0.0 * x, 18.0, length, 801))
    assert strip.from_top == pytest.approx(250.0, abs=1.0)
    assert strip.thickness == pytest.approx(2.0 * end, abs=0.02)
    assert strip.strength == pytest.approx(4.0 * 18.0 * end * slope / 3.0, rel=1e-4)


def test_a_thin_place_is_where_a_strip_breaks() -> None:
    groove = strip_of(lambda x, y: 16.0 - 10.0 * np.exp(-(((y - 300.0) / 8.0) ** 2)) + 0.0 * x, 18.0, 800.0, 801)
    assert bending_of(groove).from_top == pytest.approx(500.0, abs=1.0)
    assert bending_of(groove).thickness == pytest.approx(6.0, abs=0.05)


def polygon_values(top: np.ndarray, width: float) -> tuple[float, float, float]:
    """Return area, second moment about the level axis through the centroid and modulus, by Green's formulas over the outline."""
    x = np.linspace(0.0, width, len(top))
    outline = shapely.Polygon([*zip(x, top, strict=True), (width, 0.0), (0.0, 0.0)])
    middle = outline.centroid.y
    ring = np.array(shapely.geometry.polygon.orient(outline).exterior.coords) - [0.0, middle]
    (x0, y0), (x1, y1) = ring[:-1].T, ring[1:].T
    inertia = float(((x0 * y1 - x1 * y0) * (y0 * y0 + y0 * y1 + y1 * y1)).sum()) / 12.0
    return outline.area, inertia, inertia / max(middle, float(top.max()) - middle)


@pytest.mark.parametrize(
    "top",
    [
        np.linspace(8.0, 20.0, 19),
        np.linspace(19.0, 5.0, 2),
        8.0 + 6.0 * np.abs(np.linspace(-1.0, 1.0, 11)),
        12.0 + 5.0 * np.sin(np.linspace(0.0, 7.0, 23)),
    ],
)
def test_sections_with_slanting_and_hollow_tops_are_those_of_their_polygons(top: np.ndarray) -> None:
    section = sections(top[None, :], 18.0)
    found = (float(section.area[0]), float(section.inertia[0]), float(section.modulus[0]))
    assert found == pytest.approx(polygon_values(top, 18.0), rel=1e-12)


def test_a_slanting_section_has_the_moment_of_a_trapezium() -> None:
    """Parallel sides a and b, w apart: w (a + b) (a^2 + b^2) / 12 about the back, less area times centroid squared."""
    a, b, w = 8.0, 20.0, 18.0
    area = w * (a + b) / 2.0
    centroid = (a * a + a * b + b * b) / (3.0 * (a + b))
    about_back = w * (a + b) * (a * a + b * b) / 12.0
    section = sections(np.array([[a, b]]), w)
    assert float(section.inertia[0]) == pytest.approx(about_back - area * centroid**2, rel=1e-12)


# Moment and shear of the load, and of a unit load where the deflection is wanted, at the share s of a beam of length 1 under a
# total load of 1; then k_b and k_s of the case.
TABLE_9_1 = {
    "simple supports, load at mid-span": (
        lambda s: np.minimum(s, 1 - s) / 2,
        lambda s: np.where(s < 0.5, 0.5, -0.5),
        lambda s: np.minimum(s, 1 - s) / 2,
        lambda s: np.where(s < 0.5, 0.5, -0.5),
        1 / 48,
        1 / 4,
    ),
    "simple supports, even load": (
        lambda s: s * (1 - s) / 2,
        lambda s: 0.5 - s,
        lambda s: np.minimum(s, 1 - s) / 2,
        lambda s: np.where(s < 0.5, 0.5, -0.5),
        5 / 384,
        1 / 8,
    ),
    "both ends clamped, load at mid-span": (
        lambda s: np.minimum(s, 1 - s) / 2 - 1 / 8,
        lambda s: np.where(s < 0.5, 0.5, -0.5),
        lambda s: np.minimum(s, 1 - s) / 2 - 1 / 8,
        lambda s: np.where(s < 0.5, 0.5, -0.5),
        1 / 192,
        1 / 4,
    ),
    "cantilever, load at its end": (lambda s: 1 - s, np.ones_like, lambda s: 1 - s, np.ones_like, 1 / 3, 1.0),
    "cantilever, even load": (lambda s: (1 - s) ** 2 / 2, lambda s: 1 - s, lambda s: 1 - s, np.ones_like, 1 / 8, 1 / 2),
}


@pytest.mark.parametrize("case", TABLE_9_1)
def test_sections_of_an_even_strip_bend_as_every_beam_of_the_table(case: str) -> None:
    """Wood Handbook, FPL-GTR-282, Table 9-1, all five cases, by the unit-load theorem over the strip's own sections."""
    moment, shear, unit_moment, unit_shear, bending, shearing = TABLE_9_1[case]
    length, rows = 600.0, 2001
    across = sections(np.full((rows, 19), 12.0), 30.0)
    s = np.linspace(0.0, 1.0, rows)
    bent = np.trapezoid(moment(s) * unit_moment(s) / across.inertia, s) * length**3
    sheared = np.trapezoid(shear(s) * unit_shear(s) / (5 / 6 * across.area / 16), s) * length
    assert bent == pytest.approx(bending * length**3 / (30.0 * 12.0**3 / 12.0), rel=1e-5)
    assert sheared == pytest.approx(shearing * length / (5 / 6 * 30.0 * 12.0 / 16.0), rel=1e-3)


@pytest.mark.parametrize(("free", "clamped"), [(6.0, 18.0), (9.0, 12.0)])
def test_half_a_strip_that_thickens_to_its_middle_is_a_tapered_cantilever(free: float, clamped: float) -> None:
    """P on the end of a cantilever whose depth runs straight from h0 to h1 over a: with r = h1 - h0 the integral of x^2 / I is
    12 a^3 / (b r^3) (ln(h1 / h0) + 2 h0 / h1 - h0^2 / (2 h1^2) - 3 / 2); elementary integration. Twice P at mid-span of the
    double strip bends it as far."""
    width, half = 20.0, 300.0
    rise = clamped - free
    bent = (
        12.0
        * half**3
        / (width * rise**3)
        * (math.log(clamped / free) + 2 * free / clamped - free**2 / (2 * clamped**2) - 1.5)
    )
    sheared = 16.0 * 6.0 / 5.0 * half / (width * rise) * math.log(clamped / free)
    strip = bending_of(strip_of(double_taper(free, clamped, 2 * half), width, 2 * half, rows=2001))
    assert strip.deflection(2.0, 1.0) == pytest.approx(bent + sheared, rel=1e-4)
