"""Lengths: what is read, what is refused, and how inches are written."""

import math
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from facade.lengths import Ruler, Unit, inch_fraction, read_length


@pytest.mark.parametrize(
    ("written", "mm"),
    [
        ("18", 18.0),
        ("18 mm", 18.0),
        ("18mm", 18.0),
        (" 18.5 MM ", 18.5),
        (".5 mm", 0.5),
        ("2 cm", 20.0),
        ("1.25 m", 1250.0),
        ("3/4 in", 19.05),
        ("1 3/8 in", 34.925),
        ("1-3/8 in", 34.925),
        ('23/32"', 18.25625),
        ("2 inches", 50.8),
        ("-3 mm", -3.0),
        ("−3 mm", -3.0),
    ],
)
def test_a_text_is_read_in_its_own_unit(written, mm):
    assert read_length(written, Unit.MM) == pytest.approx(mm, abs=1e-12)


@pytest.mark.parametrize("written", [2, 2.0, "2", "4/2", "1 2/2"])
def test_a_bare_number_is_in_the_unit_of_the_job(written):
    assert read_length(written, Unit.INCH) == 50.8


@pytest.mark.parametrize(
    "written",
    ["", " ", "abc", "18 furlongs", "1,5 mm", "1e3", "nan", "inf", "3/", "/4 in", "1 2 mm", "--3", "18 mm mm", "5/8/2"],
)
def test_what_is_not_a_length_is_refused(written):
    with pytest.raises(ValueError, match="must be a length such as"):
        read_length(written, Unit.MM)


@pytest.mark.parametrize("value", [None, True, [], {}, b"18"])
def test_what_is_neither_number_nor_text_is_refused(value):
    with pytest.raises(ValueError, match="must be a length"):
        read_length(value, Unit.MM)


@pytest.mark.parametrize("value", [math.nan, math.inf, -math.inf, 10**400, -(10**400)])
def test_a_number_without_end_is_refused(value):
    with pytest.raises(ValueError, match="finite"):
        read_length(value, Unit.MM)


def test_a_fraction_over_zero_is_refused():
    with pytest.raises(ValueError, match="zero"):
        read_length("1/0 in", Unit.MM)


def test_an_endless_text_is_refused_not_cut_short():
    with pytest.raises(ValueError, match="length"):
        read_length("18" + " " * 60 + "in", Unit.MM)


@given(st.integers(0, 5000), st.sampled_from([2, 4, 8, 16, 32, 64, 128]))
def test_an_inch_fraction_reads_back_as_it_was(parts, fraction):
    text = Ruler(Unit.INCH, fraction).text(parts / fraction * 25.4)
    assert read_length(text, Unit.MM) == pytest.approx(parts / fraction * 25.4, abs=1e-9)


@given(st.floats(-1000, 1000), st.sampled_from([2, 8, 16, 32, 64]))
def test_an_inch_fraction_is_the_nearest(inches, fraction):
    written = read_length(inch_fraction(inches, fraction), Unit.INCH) / 25.4
    assert abs(written - inches) <= 0.5 / fraction + 1e-9


@given(st.integers(1, 5000), st.sampled_from([2, 8, 16, 32, 64]))
def test_an_inch_fraction_is_in_lowest_terms(parts, fraction):
    last = inch_fraction(parts / fraction, fraction).split(" ")[-1]
    top, _, bottom = last.partition("/")
    assert not bottom or Fraction(last).denominator == int(bottom) > int(top)


@given(st.floats(-1e5, 1e5), st.integers(0, 3))
def test_millimetres_read_back_to_the_last_decimal_written(mm, decimals):
    text = Ruler(Unit.MM).text(mm, decimals)
    assert read_length(text, Unit.MM) == pytest.approx(mm, abs=0.5000001 * 10.0**-decimals)


@pytest.mark.parametrize("ruler", [Ruler(Unit.MM), Ruler(Unit.INCH, 16)])
def test_nothing_is_written_as_minus_zero(ruler):
    assert not ruler.text(-0.01).startswith("-")


def test_needless_zeros_are_left_out_but_not_those_that_count():
    assert [Ruler().text(mm, 3) for mm in (18.0, 18.5, 100.0)] == ["18 mm", "18.5 mm", "100 mm"]


@given(mm=st.floats(0.0, 3000.0), unit=st.sampled_from(list(Unit)), fraction=st.sampled_from([16, 32, 64]))
def test_rounding_up_and_down_to_what_a_rule_shows_is_never_short_and_at_most_a_mark_away(
    mm: float, unit: Unit, fraction: int
) -> None:
    ruler = Ruler(unit, fraction)
    up, down = ruler.up(mm), ruler.down(mm)
    assert down <= mm + 1e-4
    assert up >= mm - 1e-4
    assert up - down <= ruler.mark + 1e-8
    assert read_length(ruler.text(up), unit) == pytest.approx(up, abs=1e-6)


def test_a_small_length_is_told_in_decimals_in_inches() -> None:
    assert Ruler(Unit.INCH).fine(0.3) == "0.0118 in"
    assert Ruler().fine(0.304) == "0.3 mm"
