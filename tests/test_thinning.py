"""Thinning: what is left out stays within the tolerance, and both ends are kept."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from facade.thinning import every_other, thin, thin_each, thin_runs


def bent_lines(count: int, bend: float) -> np.ndarray:
    """Return two lines of `count` points, a wave and a slope."""
    t = np.arange(count, dtype=np.float64)
    return np.column_stack([5.0 * np.sin(bend * t), 0.01 * t * t])


@given(st.integers(2, 400), st.floats(0.0, 1.0), st.floats(0.001, 2.0))
def test_straight_runs_between_kept_points_stay_within_the_tolerance(count, bend, tolerance):
    lines = bent_lines(count, bend)
    keep = thin(lines, tolerance)
    places = np.arange(count)
    for line in lines.T:
        assert np.abs(np.interp(places, keep, line[keep]) - line).max() <= tolerance + 1e-12


@given(st.integers(1, 400), st.floats(0.0, 1.0))
def test_both_ends_are_kept(count, bend):
    keep = thin(bent_lines(count, bend), 0.05)
    assert (keep[0], keep[-1]) == (0, count - 1)


@given(st.integers(1, 300))
def test_every_other_keeps_both_ends_and_half_of_the_rest(count):
    half = every_other(np.arange(count))
    assert (half[0], half[-1]) == (0, count - 1)
    assert len(half) <= count // 2 + 1


def test_a_straight_stretch_is_thinned_though_the_rest_is_bent():
    lines = np.concatenate([np.zeros(120), np.sin(0.5 * np.arange(121.0))])
    keep = thin(lines, 0.001)
    assert (keep < 110).sum() <= 6
    assert (keep > 120).sum() >= 110


def test_a_straight_line_is_thinned_to_the_longest_step_and_no_further():
    assert np.diff(thin(np.linspace(0.0, 9.0, 1001), 0.01)).max() == 24


def test_without_tolerance_a_curve_keeps_every_point():
    assert len(thin(bent_lines(50, 0.3), 0.0)) == 50


def test_the_worst_line_decides_for_all():
    calm, lively = np.zeros(200), 3.0 * np.sin(np.arange(200.0))
    together = thin(np.column_stack([calm, lively]), 0.05)
    assert together.tolist() == thin(lively, 0.05).tolist()


@pytest.mark.parametrize("tolerance", [0.01, 0.1, 1.0])
def test_a_larger_tolerance_never_keeps_more(tolerance):
    lines = bent_lines(300, 0.1)
    assert len(thin(lines, 2 * tolerance)) <= len(thin(lines, tolerance))


def test_straight_runs_over_each_line_leave_none_by_more_than_allowed() -> None:
    """Held by drawing the runs between the points that are kept, over waves whose bends lie on both sides of what is allowed."""
    places = np.arange(97.0)
    lines = np.array(
        [size * np.sin(places / long) for size in (0.02, 0.1, 0.5, 2.0) for long in (3.0, 7.0, 19.0, 40.0)]
    )
    for tolerance in (0.002, 0.01, 0.05):
        for line, keep in zip(lines, thin_each(lines, tolerance), strict=True):
            assert np.abs(np.interp(places, places[keep], line[keep]) - line).max() <= tolerance + 1e-12


def test_runs_of_any_length_are_thinned_as_each_would_be_alone() -> None:
    lines = [2.0 * np.sin(np.arange(count) / 7.0) for count in (1, 2, 3, 25, 49, 97, 100)]
    together = thin_runs(np.concatenate(lines), np.array([len(line) for line in lines]), 0.02)
    alone = [thin_each(line[None], 0.02)[0] for line in lines]
    assert together.tolist() == np.concatenate(alone).tolist()
    assert all(keep[0] and keep[-1] for keep in alone)


def test_what_is_known_of_lines_changes_nothing() -> None:
    lines = np.column_stack([bent_lines(300, 0.1), 0.3 * np.sin(np.arange(300.0) / 9.0)])
    known: dict = {}
    for tolerance in (0.2, 0.02, 0.05, 0.001):
        assert thin(lines, tolerance, known).tolist() == thin(lines, tolerance).tolist()
