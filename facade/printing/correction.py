"""What a printer gets wrong in its two directions, from lines that were measured on paper."""

from __future__ import annotations

from dataclasses import dataclass

from facade.errors import mistake
from facade.lengths import MM_PER_INCH, Ruler, Unit

# Beyond this share a printer is not inaccurate: the print dialog has fitted the page. Common practice.
MOST = 0.02
# Beyond this share a figure is no measurement of the line.
_ABSURD = 0.06
_LINES = {
    Unit.MM: ((180.0, 120.0, 60.0), (250.0, 230.0, 180.0, 120.0)),
    Unit.INCH: (
        tuple(inches * MM_PER_INCH for inches in (7, 5, 3)),
        tuple(inches * MM_PER_INCH for inches in (10, 9, 7, 5)),
    ),
}


@dataclass(frozen=True)
class Correction:
    """By what lengths are multiplied before printing, along a sheet's short and long side, and for which printer."""

    short: float = 1.0
    long: float = 1.0
    printer: str = ""

    def factors(self, *, lies: bool) -> tuple[float, float]:
        """Return the factors across and up a page."""
        return (self.long, self.short) if lies else (self.short, self.long)

    @property
    def words(self) -> str:
        """What every sheet says about it."""
        if not self.printer:
            return "not corrected for a printer"
        return f"corrected for: {self.printer}, short side {_percent(self.short)}, long side {_percent(self.long)}"


def _percent(factor: float) -> str:
    change = f"{abs(factor - 1.0) * 100.0:.2f}".rstrip("0").rstrip(".")
    sign = "±" if change == "0" else "+" if factor > 1.0 else "−"
    return f"{sign}{change} %"


def fitting_lines(short_room: float, long_room: float, unit: Unit) -> tuple[float, float]:
    """Return the longest lines, mm, that a calibration sheet has room for along its short and its long side."""
    short, long = _LINES[unit]
    return next(one for one in short if one <= short_room), next(one for one in long if one <= long_room)


def correction(printer: str, ruler: Ruler, short: float, long: float) -> Correction:
    """Return the correction from what the two lines of the calibration sheet measure, mm; which lengths they have shows in that.

    Raises JobError for a figure that is no measurement of a line, or off by more than 2 %.
    """
    factors: list[float] = []
    for name, lengths, measured in zip(("short", "long"), _LINES[ruler.unit], (short, long), strict=True):
        true = min(lengths, key=lambda length: abs(measured - length))
        off = measured / true - 1.0
        say = f"the {name} line measures {ruler.text(measured, 2)} instead of {ruler.text(true)}"
        if abs(off) > _ABSURD:
            raise mistake(name, f"{say}, which no printer does: type what a steel rule says on the calibration sheet")
        if abs(off) > MOST:
            raise mistake(
                name,
                f"{say}, {abs(off) * 100:.1f} % off and more than {MOST * 100:g} %: the print dialog has fitted the page. Choose 100 %, "
                '"actual size", print the calibration sheet again and measure again',
            )
        factors.append(true / measured)
    return Correction(factors[0], factors[1], printer)
