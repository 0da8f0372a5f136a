"""Layers: placing a pattern on the front, and joining layers into one relief."""

import numpy as np
import pytest
from helpers import CANVAS, at, layer_of, open_grid

from facade.reliefs import KINDS, combined
from facade.reliefs.layers import placed

X, Y = open_grid(CANVAS.width, CANVAS.height)
MIDDLE = np.array([CANVAS.width / 2, CANVAS.height / 2])


def layer(kind="hills", **changes):
    """Return one layer of relief."""
    return KINDS[kind].model_validate(layer_of(kind, **changes))


def heights_of(*layers):
    """Return the joined heights of layers on the open grid."""
    return combined(layers, CANVAS)(X, Y)


ONE, TWO = layer("hills", seed=4), layer("waves")
LOW, HIGH = heights_of(ONE), heights_of(TWO)


@pytest.mark.parametrize(
    ("combine", "law"),
    [
        ("add", np.add),
        ("multiply", np.multiply),
        ("replace", lambda below, layer: layer),
    ],
)
def test_two_layers_join_as_said(combine, law):
    joined = heights_of(ONE, layer("waves", combine=combine))
    assert np.allclose(joined, law(LOW, HIGH), atol=1e-12)


@pytest.mark.parametrize(("combine", "law", "side"), [("higher", np.maximum, 1.0), ("lower", np.minimum, -1.0)])
def test_higher_and_lower_are_rounded_where_two_layers_cross_and_nowhere_else(combine, law, side):
    joined = heights_of(ONE, layer("waves", combine=combine))
    beyond = side * (joined - law(LOW, HIGH))
    crossing = np.abs(LOW - HIGH) < 0.1
    assert beyond.min() >= 0.0
    assert beyond.max() <= 0.025
    assert np.abs(beyond[~crossing]).max() == 0.0


@pytest.mark.parametrize("combine", ["add", "multiply", "higher", "lower", "replace"])
def test_the_first_layer_stands_alone_however_it_would_join(combine):
    assert np.array_equal(heights_of(layer("hills", seed=4, combine=combine)), LOW)


def test_amount_multiplies():
    assert np.allclose(heights_of(layer("hills", seed=4, amount=-2.5)), -2.5 * LOW, atol=1e-12)


def mask_of(height):
    """Return a mask that is `height` everywhere: a train of waves so long that its crest fills the front."""
    return layer("waves", trains=[{"length": 1e5, "direction": 0, "phase": -90}], combine="mask", amount=height)


def test_a_full_mask_lets_all_of_the_next_layer_through():
    assert np.allclose(heights_of(ONE, mask_of(1.2), TWO), LOW + HIGH, atol=1e-9)


def test_a_shut_mask_lets_nothing_of_the_next_layer_through():
    assert np.allclose(heights_of(ONE, mask_of(-1.2), TWO), LOW, atol=1e-9)


def test_a_shut_mask_hides_a_first_layer_down_to_flat():
    assert np.abs(heights_of(mask_of(-1.2), ONE)).max() == 0.0


def test_masks_in_a_row_multiply():
    half = heights_of(mask_of(1e-9), TWO)
    quarter = heights_of(mask_of(1e-9), mask_of(1e-9), TWO)
    assert np.allclose(quarter, half / 2, atol=1e-6)


def test_a_mask_counts_for_the_next_layer_only():
    assert np.allclose(heights_of(ONE, mask_of(-1.2), TWO, TWO), LOW + HIGH, atol=1e-9)


@pytest.mark.parametrize("name", ["left-right", "up-down"])
def test_a_mirrored_layer_is_the_other_side_at_the_mirrored_place(name):
    across = name == "left-right"
    there = (CANVAS.width - X, Y) if across else (X, CANVAS.height - Y)
    mirrored = placed(layer("facets", mirror=name), CANVAS)(X, Y)
    assert np.allclose(mirrored, placed(layer("facets"), CANVAS)(*there), atol=1e-9)


def test_a_moved_layer_is_found_that_far_right_and_up():
    moved = placed(layer("rings", move=(31.0, -12.0)), CANVAS)
    assert np.allclose(moved(X + 31.0, Y - 12.0), placed(layer("rings"), CANVAS)(X, Y), atol=1e-9)


def test_a_stretched_layer_grows_from_the_middle():
    plain, stretched = placed(layer("hills"), CANVAS), placed(layer("hills", stretch=2.0), CANVAS)
    away = np.array([40.0, -25.0])
    assert at(stretched, MIDDLE + 2 * away) == pytest.approx(at(plain, MIDDLE + away), abs=1e-9)


@pytest.mark.parametrize("degrees", [30.0, 90.0, -140.0])
def test_a_turned_layer_turns_anticlockwise_about_the_middle(degrees):
    turn = np.radians(degrees)
    away = np.array([90.0, 35.0])
    there = np.array([[np.cos(turn), -np.sin(turn)], [np.sin(turn), np.cos(turn)]]) @ away
    plain, turned = placed(layer("swell"), CANVAS), placed(layer("swell", turn=degrees), CANVAS)
    assert at(turned, MIDDLE + there) == pytest.approx(at(plain, MIDDLE + away), abs=1e-9)


def test_a_whole_turn_changes_nothing():
    assert np.allclose(heights_of(layer("dunes", turn=360.0)), heights_of(layer("dunes")), atol=1e-8)


def test_a_pattern_is_mirrored_before_it_is_turned():
    both = placed(layer("facets", mirror="left-right", turn=90.0), CANVAS)
    mirrored = placed(layer("facets", mirror="left-right"), CANVAS)
    assert at(both, MIDDLE + [-20.0, 70.0]) == pytest.approx(at(mirrored, MIDDLE + [70.0, 20.0]), abs=1e-9)


def test_joining_leaves_what_each_layer_gives_untouched():
    first = combined([ONE, TWO], CANVAS)
    again = first(X, Y)
    assert np.array_equal(first(X, Y), again)
