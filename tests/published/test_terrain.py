"""Open terrain becomes a front: an elevation model of the US Geological Survey that matplotlib carries as a sample."""

import matplotlib.cbook
import numpy as np
import pytest
from helpers import small_front

ROWS, COLUMNS = 120, 160
FRONT = {"width": 4.5 * (COLUMNS - 1), "height": 4.2 * (ROWS - 1)}
WOOD = {"blank": 30, "floor": 9, "sanding": 0.8}


@pytest.fixture(scope="module")
def elevation():
    """Return part of the land at the Jacksboro fault, metres above the sea, north at the top."""
    whole = matplotlib.cbook.get_sample_data("jacksboro_fault_dem.npz")["elevation"]
    return whole[100 : 100 + ROWS, 60 : 60 + COLUMNS]


@pytest.fixture
def land(tmp_path, elevation):
    """Return a front whose relief is that land, stretched over it."""
    np.save(tmp_path / "land.npy", elevation)
    layer = {"kind": "grid", "file": "land.npy", "fill": "stretch"}
    return small_front(tmp_path, front=FRONT, wood=WOOD, strips={"count": 12, "gap": 3}, layers=[layer])


def places(parts):
    """Return the places of the samples, first row at the top, with `parts` places from each to the next."""
    x = np.linspace(0.0, FRONT["width"], parts * (COLUMNS - 1) + 1)
    y = np.linspace(FRONT["height"], 0.0, parts * (ROWS - 1) + 1)
    return x[None, :], y[:, None]


def test_every_sample_stands_at_its_place_and_in_its_proportion(land, elevation):
    share = (elevation - elevation.min()) / np.ptp(elevation)
    fitted = land.surface.fitted
    assert np.abs(land.surface.at(*places(1)) - (fitted.offset + fitted.scale * share)).max() < 1e-5


def test_the_land_uses_all_of_the_wood_and_no_more(land):
    """The spline may swing a little beyond its samples; it is the spline that is fitted."""
    x, y = places(8)
    coarse = land.surface.wanted(x, y)
    near = np.linspace(-0.6, 0.6, 101)
    found = []
    for index in (coarse.argmin(), coarse.argmax()):
        row, column = divmod(index, coarse.shape[1])
        found.append(land.surface.wanted(x[:, column] + near[None, :], y[row] + near[:, None]))
    assert (found[0].min(), found[1].max()) == pytest.approx((9.0, 29.2), abs=1e-4)


def test_the_spline_swings_little_beyond_the_land(land):
    fitted = land.surface.fitted
    assert -0.05 < fitted.lowest <= 0.0
    assert 1.0 <= fitted.highest < 1.05


def test_strips_carry_the_land(land, elevation):
    """Wood left is the mean height, as the samples under the strips have it."""
    x, _ = places(1)
    heights = land.surface.fitted.offset + land.surface.fitted.scale * (elevation - elevation.min()) / np.ptp(elevation)
    for strip in land.strips():
        inside = (x[0] >= strip.place.left) & (x[0] <= strip.place.right)
        assert strip.volume / (strip.width * strip.length) == pytest.approx(heights[:, inside].mean(), abs=0.3)


def test_north_is_at_the_top(land, elevation):
    top, bottom = (land.surface.at(places(1)[0], np.array([[y]])).mean() for y in (FRONT["height"], 0.0))
    assert (top > bottom) == (elevation[0].mean() > elevation[-1].mean())
