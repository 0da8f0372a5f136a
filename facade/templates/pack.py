"""The paper pack: which sheets there are, what is on each, and each as a drawing."""

from __future__ import annotations

import itertools
from collections.abc import Collection, Iterator, Sequence
from dataclasses import dataclass, replace
from importlib import import_module

from facade.checks.finding import Finding
from facade.drawing import Drawing, Pen
from facade.errors import mistake
from facade.front import Front
from facade.printing.correction import Correction
from facade.printing.papers import Paper
from facade.templates.frame import Heading, Page, framed, rule_length
from facade.templates.packing import Placed, extent, packed
from facade.templates.piece import Asked, Kind, Lines, Piece, Room, Top


@dataclass(frozen=True)
class Template:
    """A kind of sheet: what it is called, what it is for, where its pieces come from, and how its pages lie.

    `about_strips` says that its pieces belong to single strips. `lies` is None where either way will do.
    """

    title: str
    purpose: str
    home: str
    about_strips: bool = False
    lies: bool | None = False
    caution: str = ""
    laying: str = ""

    def pieces(self, asked: Asked) -> list[Piece]:
        """Return its pieces; what makes them is imported now."""
        return list(import_module(f"facade.templates.{self.home}").pieces(asked))

    def key(self, front: Front, lines: Lines) -> Sequence[tuple[Pen, str]]:
        """Return how its lines look and what they mean, empty where the plain words will do."""
        key = getattr(import_module(f"facade.templates.{self.home}"), "key", None)
        return key(front, lines) if key else ()


_CUTTING = (
    "Saw and disc: work held, guards on, eyes, ears and lungs protected. Local rules, manuals and training come first."
)
_DRILLING = (
    "Drilling: work held down, stop tried on waste, eyes protected. Local rules, manuals and training come first."
)
_LAYING = "Lay every piece on the stations struck on the wood, never on another piece."
_FOLDING = "Cut out, fold back along both dashed lines, backs on the back; lay on the stations struck on the wood."
TEMPLATES = {
    Kind.FIRST: Template(
        "Read me first", "order of work with its gates, what each sheet is for, how to print, stick and trace", "first"
    ),
    Kind.CALIBRATION: Template(
        "Calibration sheet", "two lines to measure: what this printer gets wrong in its two directions", "calibration"
    ),
    Kind.STICKS: Template(
        "Position stick and story stick",
        "every strip edge from one end, and the stations along a strip",
        "sticks",
        lies=True,
    ),
    Kind.SIDES: Template(
        "Side templates",
        "both sides of every strip, stuck or traced on the wood",
        "sides",
        about_strips=True,
        lies=True,
        caution=_CUTTING,
        laying=_LAYING,
    ),
    Kind.WRAPS: Template(
        "Fold-round templates",
        "left side, face and right side in one piece, folded round the strip",
        "wraps",
        about_strips=True,
        lies=True,
        caution=_CUTTING,
        laying=_FOLDING,
    ),
    Kind.FACES: Template(
        "Face sheets",
        "lines of equal depth over a whole door, at full size and on one page",
        "faces",
        lies=None,
        caution=_CUTTING,
    ),
    Kind.HOLES: Template(
        "Depth holes",
        "where to drill how deep, with few settings of the stop",
        "holes",
        about_strips=True,
        lies=True,
        caution=_DRILLING,
    ),
    Kind.GAUGES: Template(
        "Check gauges", "negative profiles to cut from card, to feel the flow across the strips", "gauges", lies=None
    ),
    Kind.BOARDS: Template(
        "Boards", "drilling the door boards for screws, and the carving board", "boards", caution=_DRILLING
    ),
    Kind.LISTS: Template("Lists", "parts, triangle, offsets, joints to feel, chart to tick", "lists"),
}


@dataclass(frozen=True)
class Sheet:
    """A sheet of the pack: its kind, its number of all, and its pieces on a page in true mm."""

    kind: Kind
    number: int
    page: Page
    lies: bool
    placed: tuple[Placed, ...]

    @property
    def strips(self) -> tuple[int, ...]:
        """The strips that it is about, none where it is about the whole front."""
        return tuple(sorted({number for one in self.placed for number in one.piece.strips}))

    @property
    def top(self) -> Top:
        """Where TOP is on it."""
        return self.placed[0].piece.top


@dataclass(frozen=True)
class Pack:
    """All sheets that were asked for.

    `new` are the strips that changed since sheets were printed under another mark, None where none were. `cleared` says that no
    check stops the job, None that they were not asked; `stops` are what they found that does.
    """

    front: Front
    paper: Paper
    correction: Correction
    lines: Lines
    sheets: tuple[Sheet, ...]
    new: frozenset[int] | None = None
    cleared: bool | None = True
    stops: tuple[Finding, ...] = ()

    def count_of(self, numbers: Collection[int] | None) -> int:
        """Return how many sheets these numbers are; all of them without."""
        return len(self.sheets) if numbers is None else len(numbers)

    def drawing(self, sheet: Sheet) -> Drawing:
        """Return a sheet as it is printed, corrected for its printer."""
        template = TEMPLATES[sheet.kind]
        corrected = Correction() if sheet.kind is Kind.CALIBRATION else self.correction
        heading = Heading(
            title=template.title,
            strips=sheet.strips,
            sheet=sheet.number,
            sheets=len(self.sheets),
            top=sheet.top,
            correction=corrected.words,
            key=template.key(self.front, self.lines),
            caution=template.caution,
            laying=template.laying,
            new=self.new is not None and (not sheet.strips or bool(self.new & set(sheet.strips))),
            cleared=self.cleared,
        )
        drawing = framed(self.front, sheet.page, heading)
        left, top = sheet.page.corner
        for one in sheet.placed:
            stopped = one.piece.stopped if self.cleared is False else None
            drawn = stopped(self.stops) if stopped else one.piece.draw()
            drawing.put(drawn, left + one.x, top - one.down - one.piece.height)
        return drawing.stretched(*corrected.factors(lies=sheet.lies))

    def chosen(self, numbers: Collection[int] | None = None) -> list[Sheet]:
        """Return the sheets of these numbers, or all; raises JobError for a number that is not there."""
        for number in numbers or ():
            if not 1 <= number <= len(self.sheets):
                raise mistake("sheet", f"sheet {number} is not there: this pack has sheets 1 to {len(self.sheets)}")
        return [sheet for sheet in self.sheets if numbers is None or sheet.number in numbers]

    def drawings(self) -> Iterator[tuple[Sheet, Drawing]]:
        """Yield the sheets, each with its drawing."""
        return ((sheet, self.drawing(sheet)) for sheet in self.sheets)


def plan(
    front: Front,
    paper: Paper,
    *,
    kinds: Collection[Kind] = tuple(Kind),
    strips: Sequence[int] | None = None,
    alone: bool = True,
    correction: Correction | None = None,
    lines: Lines = Lines.BOTH,
) -> Pack:
    """Return the sheets of a front on a paper; raises JobError where something does not fit, or a strip is not there.

    With `strips` there are sheets of these alone; unless `alone`, what is about several strips at once stays whole.
    """
    everyone = front.numbers
    chosen = everyone if strips is None else tuple(strips)
    for number in chosen:
        front.layout.strip(number)
    correction = correction or Correction()
    asked = Asked(front, Room(0.0, 0.0), chosen, lines, paper.name)
    sheets: list[Sheet] = []
    for kind in (kind for kind in Kind if kind in kinds):
        own = Correction() if kind is Kind.CALIBRATION else correction
        of = asked if alone or TEMPLATES[kind].about_strips else replace(asked, strips=everyone)
        sheets += _sheets(front, kind, paper, own, of, len(sheets))
    return Pack(front, paper, correction, lines, tuple(sheets))


def _sheets(front: Front, kind: Kind, paper: Paper, correction: Correction, asked: Asked, before: int) -> list[Sheet]:
    """Return the sheets of one kind, numbered on from those before; lying or upright, whichever takes fewer."""
    template = TEMPLATES[kind]
    ways = [True] if paper.roll else [False, True] if template.lies is None else [template.lies]
    tried = []
    for lies in ways:
        page = _page(front, paper, correction, lies=lies)
        pieces = template.pieces(replace(asked, room=page.room))
        _refuse_larger(pieces, page.room, asked)
        # A sheet has one TOP.
        runs = [list(run) for _, run in itertools.groupby(pieces, key=lambda piece: piece.top)]
        laid = [placed for run in runs for placed in packed(run, page.room)]
        tried.append([_sheet(kind, before + index, page, lies, placed, paper) for index, placed in enumerate(laid, 1)])
    return min(tried, key=len)


def _refuse_larger(pieces: Sequence[Piece], room: Room, asked: Asked) -> None:
    show = asked.ruler.text
    for piece in pieces:
        if piece.width > room.width + 1e-6 or piece.height > room.height + 1e-6:
            raise mistake(
                "paper",
                f"{piece.name} needs {show(piece.width)} x {show(piece.height)}, but a sheet of {asked.paper} has room for "
                f"{show(room.width)} x {show(room.height)}: take larger paper",
            )


def _sheet(kind: Kind, number: int, page: Page, lies: bool, placed: list[Placed], paper: Paper) -> Sheet:
    if paper.roll:
        # A page of a roll is as long as what is on it, and as the frame needs.
        least = 240.0
        page = replace(page, width=max(least, extent(placed)[0] + page.width - page.room.width))
    return Sheet(kind, number, page, lies, tuple(placed))


def _page(front: Front, paper: Paper, correction: Correction, *, lies: bool) -> Page:
    """Return a page in true mm: what is smaller on paper because the printer prints too large holds less."""
    across, up = correction.factors(lies=lies)
    width, height = paper.page(lies=lies)
    aside, ends = paper.page_margins(lies=lies)
    page = Page(width / across, height / up, aside / across, ends / up)
    rule, show = rule_length(front.job.ruler), front.job.ruler.text
    if page.room.width < rule + 12 or page.room.height < rule + 2:
        raise mistake(
            "paper",
            f"{paper.name} with margins of {show(aside)} and {show(ends)} leaves no room for the rules of a sheet: take larger paper",
        )
    return page
