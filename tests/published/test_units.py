"""The inch: 25.4 mm exactly since 1 July 1959, by the international yard and pound agreement (a yard is 0.9144 m)."""

from fractions import Fraction

import pytest
from helpers import small_job

from facade.lengths import MM_PER_INCH, Ruler, Unit, read_length


def test_an_inch_is_a_thirty_sixth_of_the_agreed_yard():
    assert Fraction(str(MM_PER_INCH)) == Fraction("914.4") / 36


@pytest.mark.parametrize("written", [0.75, "0.75", "3/4", "0.75 in", '3/4"'])
def test_three_quarters_of_an_inch_are_read_as_19_05_mm(written):
    assert read_length(written, Unit.INCH) == 19.05


def test_19_05_mm_are_written_as_three_quarters_of_an_inch():
    assert Ruler(Unit.INCH).text(19.05) == "3/4 in"


def test_a_foot_is_304_8_mm():
    assert read_length("1 ft", Unit.MM) == 304.8


@pytest.mark.parametrize("inches", [1, 7, 48, 96])
def test_whole_inches_are_exact(inches):
    assert Fraction(read_length(inches, Unit.INCH)) == Fraction(float(Fraction(inches) * Fraction("25.4")))


def test_a_job_in_inches_is_held_in_millimetres():
    job = small_job(unit="in", front={"width": 36, "height": "2 ft"}, wood={"blank": 0.75, "floor": "5/16"})
    assert (job.front.width, job.front.height, job.wood.blank, job.wood.floor) == (914.4, 609.6, 19.05, 7.9375)
