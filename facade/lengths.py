"""Millimetres and inch fractions: the only place where a length changes its unit."""

from __future__ import annotations

import math
import re
from dataclasses import dataclass
from enum import StrEnum
from fractions import Fraction

# 1 in = 25.4 mm exactly since 1 July 1959 (international yard and pound agreement).
MM_PER_INCH = 25.4
NOTHING = 1e-6  # mm; less than a millionth of a millimetre is no length
_HAIR = 1e-6  # of the least length shown; what is off by less counts as on it


class Unit(StrEnum):
    """The unit that a job is written and read in."""

    MM = "mm"
    INCH = "in"

    @property
    def in_mm(self) -> float:
        """Millimetres in one of this unit."""
        return 1.0 if self is Unit.MM else MM_PER_INCH


_SUFFIXES = {
    "mm": 1.0,
    "cm": 10.0,
    "m": 1000.0,
    "in": MM_PER_INCH,
    "inch": MM_PER_INCH,
    "inches": MM_PER_INCH,
    '"': MM_PER_INCH,
    "″": MM_PER_INCH,
    "ft": 304.8,
}
_LENGTH = re.compile(
    r"""\s*(?P<sign>[-+−]?)\s*
    (?:(?P<whole>\d+)[\s-]+(?P<num>\d+)\s*/\s*(?P<den>\d+)   # 1 3/8
      |(?P<num2>\d+)\s*/\s*(?P<den2>\d+)                      # 23/32
      |(?P<decimal>\d+(?:\.\d*)?|\.\d+))                      # 18 or 18.5
    \s*(?P<suffix>[a-z"″]*)\s*""",
    re.VERBOSE | re.IGNORECASE,
)


def read_length(value: object, unit: Unit) -> float:
    """Return a length in mm from a number in `unit` or a text such as "18 mm", "1 3/8 in" or '23/32"'.

    Raises ValueError with the whole cure when the value is not a length.
    """
    if isinstance(value, bool) or not isinstance(value, int | float | str):
        raise ValueError('must be a length: a number, or a text such as "18 mm" or "1 3/8 in"')
    if isinstance(value, int | float):
        # A whole number too large for a float must not end the program.
        if not abs(value) < 1e300:
            raise ValueError("must be a finite length")
        return _in_mm(Fraction(value), unit.in_mm)
    # No length is longer; a longer text is not read at all, rather than cut short.
    found = _LENGTH.fullmatch(value) if len(value) <= 60 else None
    scale = _SUFFIXES.get((found["suffix"] or unit.value).lower()) if found else None
    if found is None or scale is None:
        raise ValueError('must be a length such as 18, "18 mm", "3/4 in" or "1 3/8 in"')
    if found["decimal"]:
        size = Fraction(found["decimal"])
    else:
        top, bottom = int(found["num"] or found["num2"]), int(found["den"] or found["den2"])
        if bottom == 0:
            raise ValueError("must not have a zero under its fraction bar")
        size = int(found["whole"] or 0) + Fraction(top, bottom)
    return _in_mm(-size if found["sign"] in ("-", "−") else size, scale)


def _in_mm(size: Fraction, scale: float) -> float:
    """Multiply exactly and round once: 7/8 in is then the same length as 22.225 mm."""
    mm = float(size * Fraction(str(scale)))
    return mm if abs(mm) >= NOTHING else 0.0


@dataclass(frozen=True)
class Ruler:
    """Writes lengths in the job's unit: millimetres with decimals, inches as fractions of `fraction`."""

    unit: Unit = Unit.MM
    fraction: int = 32

    def number(self, mm: float, decimals: int = 1) -> str:
        """Return the bare number: "12.4", or in inches the nearest fraction such as "1 3/8"."""
        if self.unit is Unit.MM:
            text = f"{mm:.{decimals}f}"
            return text.removeprefix("-") if float(text) == 0 else text
        return inch_fraction(mm / MM_PER_INCH, self.fraction)

    def text(self, mm: float, decimals: int = 1) -> str:
        """Return the number with its unit and no needless zeros: "18 mm", "3/4 in".

        From three decimals on inches are exact: a decimal number where no fraction is.
        """
        number = self.number(mm, decimals)
        if self.unit is Unit.INCH and decimals >= 3 and not self._is_fraction(mm):
            return f"{mm / MM_PER_INCH:.4f}".rstrip("0") + " in"
        if self.unit is Unit.MM and "." in number:
            number = number.rstrip("0").rstrip(".")
        return f"{number} {self.unit.value}"

    def bare(self, mm: float) -> str:
        """Return a place without its unit and without needless zeros: "125", "1 3/8"."""
        return self.text(mm).removesuffix(f" {self.unit.value}")

    @property
    def mark(self) -> float:
        """The least length that it shows, mm: a tenth of a millimetre, or its fraction of an inch."""
        return 0.1 if self.unit is Unit.MM else MM_PER_INCH / self.fraction

    def up(self, mm: float) -> float:
        """Return a length as it shows it, not less, mm."""
        return round(math.ceil(mm / self.mark - _HAIR) * self.mark, 9)

    def down(self, mm: float) -> float:
        """Return a length as it shows it, not more, mm."""
        return round(math.floor(mm / self.mark + _HAIR) * self.mark, 9)

    def fine(self, mm: float, decimals: int = 2) -> str:
        """Return a small length in words, which a fraction of an inch would not show: in inches as a decimal number."""
        return self.text(round(mm, decimals), decimals) if self.unit is Unit.MM else self.text(mm, 3)

    def _is_fraction(self, mm: float) -> bool:
        parts = mm / MM_PER_INCH * self.fraction
        return abs(parts - round(parts)) < 1e-4


def inch_fraction(inches: float, fraction: int) -> str:
    """Return `inches` to the nearest 1/`fraction` in lowest terms: 1.375 -> "1 3/8"."""
    parts = round(abs(inches) * fraction)
    sign = "-" if inches < 0 and parts else ""
    whole, rest = divmod(parts, fraction)
    if not rest:
        return f"{sign}{whole}"
    lowest = Fraction(rest, fraction)
    return f"{sign}{whole} {lowest}" if whole else f"{sign}{lowest}"
