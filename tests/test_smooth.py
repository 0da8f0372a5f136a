"""Smooth joins: how a blend rises, held to what K. Perlin published of it."""

from __future__ import annotations

from fractions import Fraction

import numpy as np
import pytest

from facade.arrays import smooth_step


@pytest.mark.parametrize("part", [Fraction(1, 8), Fraction(1, 4), Fraction(1, 3), Fraction(1, 2), Fraction(5, 7)])
def test_a_blend_rises_as_published(part: Fraction) -> None:
    """6t^5 - 15t^4 + 10t^3 (K. Perlin, "Improving Noise", 2002), reckoned in whole fractions."""
    wanted = 6 * part**5 - 15 * part**4 + 10 * part**3
    assert float(smooth_step(np.array([float(part)]))[0]) == pytest.approx(float(wanted), abs=1e-15)


@pytest.mark.parametrize("end", [0.0, 1.0])
def test_a_blend_begins_and_ends_without_a_slope_and_without_a_bend(end: float) -> None:
    """Its first and second differences over ever smaller steps vanish there, the second faster than the step squared."""
    for step in (1e-2, 1e-3):
        before, at, after = smooth_step(np.array([end - step, end, end + step]))
        assert abs(after - before) / step < 20.0 * step**2
        assert abs(after - 2.0 * at + before) / step**2 < 20.0 * step


def test_a_blend_never_falls_and_is_the_same_from_both_ends() -> None:
    t = np.linspace(-0.5, 1.5, 2001)
    rise = smooth_step(t)
    assert (np.diff(rise) >= 0.0).all()
    assert (rise[0], rise[-1]) == (0.0, 1.0)
    assert np.abs(rise + smooth_step(1.0 - t) - 1.0).max() < 1e-12
