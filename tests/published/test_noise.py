"""Gradient noise against the paper it comes from, and against another implementation of it.

K. Perlin, "Improving Noise", ACM Transactions on Graphics 21(3), 2002, with the values of its reference code.

`noise_values.csv` holds what `noise.pnoise2(x, y)` of the package `noise`, version 1.2.2, gives with no further arguments
at places that a float32 holds exactly. Where the package is installed it is also asked at places of its own.
"""

from pathlib import Path

import numpy as np
import pytest

from facade.reliefs import noise as ours
from facade.reliefs.noise import gradient_noise, octaves, plane_of, shift_of

STORED = np.loadtxt(Path(__file__).with_name("noise_values.csv"), delimiter=",", skiprows=1)


def asked_of_the_package():
    """Return x, y and noise as the package gives them now, or as it gave them once where it is not installed."""
    try:
        from noise import pnoise2
    except ImportError:
        return STORED
    i, j = np.meshgrid(np.arange(-9, 40), np.arange(-5, 30))
    x, y = (i * 1.40625).ravel(), (j * 2.328125).ravel()
    return np.column_stack([x, y, [pnoise2(*place) for place in zip(x, y, strict=True)]])


@pytest.fixture
def package_directions(monkeypatch):
    """Lend our noise the package's 16 directions: the last four of its table are not the paper's."""
    across = [1, -1, 1, -1, 1, -1, 1, -1, 0, 0, 0, 0, 1, -1, 0, 0]
    along = [1, 1, -1, -1, 0, 0, 0, 0, 1, -1, 1, -1, 0, 0, -1, 1]
    monkeypatch.setattr(ours, "_ACROSS", np.array(across, dtype=np.float64))
    monkeypatch.setattr(ours, "_ALONG", np.array(along, dtype=np.float64))


def places(count=400):
    """Return places all over one period of the noise."""
    return np.random.Generator(np.random.PCG64(1)).uniform(-128, 128, (2, count))


@pytest.mark.parametrize(
    ("x", "y", "plane", "value"), [(3.14, 42.0, 7, 0.13691995878400012), (-4.20, 10.0, 6, 0.14208000000000043)]
)
def test_the_reference_values_of_the_paper(x, y, plane, value):
    assert gradient_noise(np.array([x]), np.array([y]), plane=plane) == pytest.approx(value, abs=1e-12)


@pytest.mark.usefixtures("package_directions")
@pytest.mark.parametrize("reference", [STORED, asked_of_the_package()], ids=["stored", "asked now"])
def test_the_package_gives_the_same_noise_with_its_own_directions(reference):
    x, y, value = reference.T
    assert np.abs(gradient_noise(x, y) - value).max() < 2e-6


def test_noise_is_nothing_at_lattice_points():
    i, j = np.meshgrid(np.arange(-300.0, 300.0, 7.0), np.arange(-300.0, 300.0, 11.0))
    assert np.abs(gradient_noise(i, j, plane=3)).max() == 0.0


def test_noise_repeats_after_256():
    x, y = np.floor(places() * 1024) / 1024
    assert np.array_equal(gradient_noise(x + 256, y - 256), gradient_noise(x, y))


def test_noise_falls_away_from_a_lattice_point_along_its_direction_alone():
    """Slope at a lattice point is its gradient: the fade curve is level there."""
    step = 1e-6
    i, j = np.meshgrid(np.arange(16.0), np.arange(16.0))
    right = gradient_noise(i + step, j) / step
    up = gradient_noise(i, j + step) / step
    paper = {(1, 1), (-1, 1), (1, -1), (-1, -1), (1, 0), (-1, 0), (0, 1), (0, -1)}
    assert set(zip(np.rint(right).ravel(), np.rint(up).ravel(), strict=True)) == paper


@pytest.mark.parametrize("plane", [0, 6, 255])
def test_an_open_grid_gives_the_noise_of_its_points(plane):
    x, y = np.linspace(-7.3, 5.1, 61)[None, :], np.linspace(-2.2, 9.7, 47)[:, None]
    full = np.meshgrid(x[0], y[:, 0])
    assert np.abs(gradient_noise(x, y, plane) - gradient_noise(*full, plane)).max() < 1e-12


def test_one_octave_is_the_noise_itself_through_the_window_of_its_seed():
    x, y = places()
    right, up = shift_of(5)
    assert np.array_equal(octaves(x, y, 1, roughness=0.5, seed=5), gradient_noise(x + right, y + up, plane_of(5)))


def test_octaves_are_noises_each_half_as_long_and_so_much_lower():
    x, y = places()
    right, up = shift_of(9)
    wanted = sum(
        0.4**k * gradient_noise(2**k * x + right + k * 0.381966, 2**k * y + up + k * 0.381966, plane_of(9, k))
        for k in range(4)
    )
    assert np.abs(octaves(x, y, 4, roughness=0.4, seed=9) - wanted).max() < 1e-9


def test_octaves_without_roughness_are_the_first_alone():
    x, y = places()
    assert np.array_equal(octaves(x, y, 6, roughness=0.0, seed=2), octaves(x, y, 1, roughness=0.0, seed=2))
