"""Sizes of paper, and how much of a sheet can be printed on. All mm."""

from __future__ import annotations

from dataclasses import dataclass

from facade.errors import mistake
from facade.lengths import MM_PER_INCH, Ruler

# ISO 216:2007, series A; mm.
_ISO = {"A0": (841, 1189), "A1": (594, 841), "A2": (420, 594), "A3": (297, 420), "A4": (210, 297)}
# US sizes, exact from the inch.
_US = {"Letter": (8.5, 11), "Legal": (8.5, 14), "Tabloid": (11, 17)}
SIZES: dict[str, tuple[float, float]] = {
    **{name: (float(short), float(long)) for name, (short, long) in _ISO.items()},
    **{name: (short * MM_PER_INCH, long * MM_PER_INCH) for name, (short, long) in _US.items()},
}
# A page of a PDF is at most 14 400 points long (PDF 1.7, ISO 32000-1, annex C, table C.1): 5080 mm.
LONGEST_PAGE = 5080.0
# Common practice: what home printers leave unprinted is 3 to 6 mm, and a little more at the ends.
MARGIN = 8.0


@dataclass(frozen=True)
class Margins:
    """What a printer leaves unprinted, mm: along the two long sides of a sheet, and at its two short ends."""

    sides: float = MARGIN
    ends: float = MARGIN


@dataclass(frozen=True)
class Paper:
    """A kind of paper, mm; a roll's `long` is the longest page that is cut from it."""

    name: str
    short: float
    long: float
    margins: Margins
    roll: bool = False

    def page(self, *, lies: bool) -> tuple[float, float]:
        """Return width and height of a page, lying or upright."""
        return (self.long, self.short) if lies else (self.short, self.long)

    def page_margins(self, *, lies: bool) -> tuple[float, float]:
        """Return what cannot be printed on at the left and right of a page, and at its top and bottom."""
        margins = self.margins
        return (margins.ends, margins.sides) if lies else (margins.sides, margins.ends)


def sheet_paper(name: str, margins: Margins | None = None) -> Paper:
    """Return cut paper by its name, "A4" or "letter"; raises JobError for a name or margins that cannot be."""
    known = {size.lower(): size for size in SIZES}
    if name.lower() not in known:
        raise mistake("paper", f"paper {name!r} is not known: choose from {', '.join(SIZES)}, or give a roll's width")
    size = known[name.lower()]
    return _with_room(Paper(size, *SIZES[size], margins or Margins()))


def roll_paper(width: float, ruler: Ruler, margins: Margins | None = None) -> Paper:
    """Return paper from a roll of a width in mm; raises JobError for a width or margins that cannot be."""
    if not 100.0 <= width <= LONGEST_PAGE:
        raise mistake(
            "roll",
            f"a roll's width must be {ruler.text(100.0)} to {ruler.text(LONGEST_PAGE)} (got {ruler.text(width)}): "
            "measure the paper across",
        )
    return _with_room(Paper(f"{ruler.text(width)} roll", width, LONGEST_PAGE, margins or Margins(), roll=True))


def _with_room(paper: Paper) -> Paper:
    """Return the paper; raises JobError where its margins leave no room for what every sheet carries."""
    for margin, side in ((paper.margins.sides, paper.short), (paper.margins.ends, paper.long)):
        if margin < 0 or side - 2 * margin < 90.0:
            raise mistake(
                "margins",
                f"margins must be 0 mm or more and leave at least 90 mm of the paper (got {margin:g} mm on {paper.name}, "
                f"{side:g} mm): printers leave 3 to 13 mm unprinted",
            )
    return paper
