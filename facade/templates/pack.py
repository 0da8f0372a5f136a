"""The paper pack: which sheets there are, what is on each, and each as a drawing."""

from __future__ import annotations

import itertools
from collections.abc import Collection, Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from enum import Enum
from importlib import import_module

from facade.checks.finding import Finding
from facade.drawing import Drawing, Pen
from facade.errors import JobError, mistake
from facade.front import Front
from facade.printing.correction import Correction
from facade.printing.papers import Paper
from facade.templates.frame import COLUMN, Heading, Page, framed, rule_length
from facade.templates.packing import Placed, extent, packed
from facade.templates.piece import Asked, Kind, Lines, Piece, Room, Top


class Lay(Enum):
    """How a page lies before the maker: upright, lying, or lying with the frame along its left end."""

    STANDS = "stands"
    LIES = "lies"
    TURNED = "turned"


_LYING = (Lay.LIES, Lay.TURNED)


@dataclass(frozen=True)
class Template:
    """A kind of sheet: what it is called, what it is for, where its pieces come from, and how its pages lie.

    `about_strips` says that its pieces belong to single strips. Its pages may lie, stand, or lie with their frame `turned`: whichever
    takes fewest. With `in_order` its pieces come as they follow each other; otherwise small ones fill up sheets before them.
    """

    title: str
    purpose: str
    home: str
    about_strips: bool = False
    pages: tuple[Lay, ...] = (Lay.STANDS,)
    in_order: bool = False
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
        pages=_LYING,
    ),
    Kind.SIDES: Template(
        "Side templates",
        "both sides of every strip, stuck or traced on the wood",
        "sides",
        about_strips=True,
        pages=_LYING,
        in_order=True,
        caution=_CUTTING,
        laying=_LAYING,
    ),
    Kind.WRAPS: Template(
        "Fold-round templates",
        "left side, face and right side in one piece, folded round the strip",
        "wraps",
        about_strips=True,
        pages=_LYING,
        in_order=True,
        caution=_CUTTING,
        laying=_FOLDING,
    ),
    Kind.FACES: Template(
        "Face sheets",
        "lines of equal depth over a whole door, at full size and on one page",
        "faces",
        pages=tuple(Lay),
        caution=_CUTTING,
    ),
    Kind.HOLES: Template(
        "Depth holes",
        "where to drill how deep, with few settings of the stop",
        "holes",
        about_strips=True,
        pages=_LYING,
        in_order=True,
        caution=_DRILLING,
    ),
    Kind.GAUGES: Template(
        "Check gauges",
        "negative profiles to cut from card, to feel the flow across the strips",
        "gauges",
        pages=tuple(Lay),
    ),
    Kind.BOARDS: Template(
        "Boards", "drilling the door boards for screws, and the carving board", "boards", caution=_DRILLING
    ),
    Kind.LISTS: Template("Lists", "parts, triangle, joints to feel, chart to tick", "lists"),
    Kind.WRONG: Template(
        "If something goes wrong",
        "fault by fault what to do, the cheapest way first, with the time it takes",
        "wrong",
        caution=_CUTTING,
    ),
    Kind.OFFSETS: Template(
        "Table of offsets",
        "heights at every station, to be plotted by a steel rule: the way that needs no true printer",
        "offsets",
        about_strips=True,
        pages=(Lay.STANDS, Lay.LIES),
        in_order=True,
    ),
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
        drawn = [self._drawn(one.piece) for one in sheet.placed]
        heading = Heading(
            title=template.title,
            strips=sheet.strips,
            sheet=sheet.number,
            sheets=len(self.sheets),
            top=sheet.top,
            correction=corrected.words,
            key=shown_of(template.key(self.front, self.lines), drawn),
            caution=template.caution,
            laying=template.laying,
            new=self.new is not None and (not sheet.strips or bool(self.new & set(sheet.strips))),
            cleared=self.cleared,
        )
        drawing = framed(self.front, sheet.page, heading)
        left, top = sheet.page.corner
        for one, piece in zip(sheet.placed, drawn, strict=True):
            drawing.put(piece, left + one.x, top - one.down - one.piece.height)
        return drawing.stretched(*corrected.factors(lies=sheet.lies))

    def _drawn(self, piece: Piece) -> Drawing:
        stopped = piece.stopped if self.cleared is False else None
        return stopped(self.stops) if stopped else piece.draw()

    def chosen(self, numbers: Collection[int] | None = None) -> list[Sheet]:
        """Return the sheets of these numbers, or all; raises JobError for a number that is not there."""
        for number in numbers or ():
            if not 1 <= number <= len(self.sheets):
                raise mistake("sheet", f"sheet {number} is not there: this pack has sheets 1 to {len(self.sheets)}")
        return [sheet for sheet in self.sheets if numbers is None or sheet.number in numbers]

    def drawings(self) -> Iterator[tuple[Sheet, Drawing]]:
        """Yield the sheets, each with its drawing."""
        return ((sheet, self.drawing(sheet)) for sheet in self.sheets)


def shown_of(key: Sequence[tuple[Pen, str]], drawn: Iterable[Drawing]) -> list[tuple[Pen, str]]:
    """Return of a key what is on these drawings."""
    pens = {path.pen for drawing in drawn for path in drawing.paths}
    return [(pen, meaning) for pen, meaning in key if pen in pens]


def plan(
    front: Front,
    paper: Paper,
    *,
    kinds: Collection[Kind] = tuple(Kind),
    doors: Sequence[int] = (),
    strips: Sequence[int] | None = None,
    alone: bool = True,
    correction: Correction | None = None,
    lines: Lines = Lines.BOTH,
    by_strip: bool = False,
) -> Pack:
    """Return the sheets of a front on a paper; raises JobError where something does not fit, or a strip is not there.

    With `doors` there are sheets of these alone. With `strips` there are sheets of these alone; unless `alone`, what is about
    several strips at once stays whole. `by_strip` lets all sheets of a single strip follow each other, instead of those of a kind.
    """
    everyone = strips_on(front, doors)
    chosen = everyone if strips is None else tuple(strips)
    for number in chosen:
        front.layout.strip(number)
    correction = correction or Correction()
    asked = Asked(front, Room(0.0, 0.0), chosen, lines, paper.name, frozenset(kinds))
    wanted = [kind for kind in Kind if kind in kinds]
    laid: list[list[Sheet]] = []
    for kind in wanted:
        if by_strip and TEMPLATES[kind].about_strips:
            if kind is next(one for one in wanted if TEMPLATES[one].about_strips):
                laid += _strip_by_strip(front, paper, correction, asked, wanted)
            continue
        own = Correction() if kind is Kind.CALIBRATION else correction
        of = asked if alone or TEMPLATES[kind].about_strips else replace(asked, strips=everyone)
        laid.append(_sheets(front, kind, paper, own, of))
    if Kind.FIRST in wanted:
        laid[0] = _with_index(front, paper, correction, asked, laid)
    numbered = itertools.count(1)
    sheets = tuple(replace(sheet, number=next(numbered)) for some in laid for sheet in some)
    return Pack(front, paper, correction, lines, sheets)


def _strip_by_strip(
    front: Front, paper: Paper, correction: Correction, asked: Asked, wanted: Sequence[Kind]
) -> Iterator[list[Sheet]]:
    """Yield for each strip the sheets of all kinds that are about single strips, so that they follow each other."""
    for number in asked.strips:
        of = replace(asked, strips=(number,))
        yield from (_sheets(front, kind, paper, correction, of) for kind in wanted if TEMPLATES[kind].about_strips)


def _with_index(
    front: Front, paper: Paper, correction: Correction, asked: Asked, laid: Sequence[Sequence[Sheet]]
) -> list[Sheet]:
    """Return the first sheets as they say on which sheets each kind is: where that takes another sheet, all others move."""
    first = list(laid[0])
    for _ in range(3):
        kinds = [sheet.kind for some in (first, *laid[1:]) for sheet in some]
        index = [(kind, kinds.index(kind) + 1, len(kinds) - kinds[::-1].index(kind)) for kind in dict.fromkeys(kinds)]
        before = len(first)
        first = _sheets(front, Kind.FIRST, paper, correction, replace(asked, index=tuple(index)))
        if len(first) == before:
            break
    return first


def strips_on(front: Front, doors: Sequence[int]) -> tuple[int, ...]:
    """Return the strips of some doors, or all; raises JobError for a door that is not there."""
    count = len(front.layout.doors)
    doors_there = f"doors 1 to {count}" if count > 1 else "one door"
    for number in doors:
        if not 1 <= number <= count:
            raise mistake("door", f"door {number} is not there: this front has {doors_there}")
    return tuple(place.number for place in front.layout.strips if not doors or place.door in doors)


def _sheets(front: Front, kind: Kind, paper: Paper, correction: Correction, asked: Asked) -> list[Sheet]:
    """Return the sheets of one kind, not numbered yet, as its pages lie where they take least paper."""
    template = TEMPLATES[kind]
    # A page of a roll is cut to length, whichever way it lies.
    ways = (Lay.LIES, Lay.STANDS) if paper.roll else template.pages
    tried, refused = [], []
    for lay in ways:
        page = _page(front, paper, correction, lay)
        try:
            pieces = template.pieces(replace(asked, room=page.room))
            _refuse_larger(pieces, page.room, asked)
        except JobError as error:
            refused.append(error)
            continue
        # A sheet has one TOP.
        runs = [list(run) for _, run in itertools.groupby(pieces, key=lambda piece: piece.top)]
        laid = [placed for run in runs for placed in packed(run, page.room, in_order=template.in_order)]
        tried.append([_sheet(kind, page, lay, placed, paper) for placed in laid])
    if not tried:
        raise refused[0]
    return min(tried, key=lambda sheets: paper_taken(sheets) if paper.roll else len(sheets))


def paper_taken(sheets: Iterable[Sheet]) -> float:
    """Return the area of paper that sheets take, mm2."""
    return sum(sheet.page.width * sheet.page.height for sheet in sheets)


def paper_needed(sheets: Iterable[Sheet]) -> float:
    """Return the area of all pieces on sheets, mm2: less paper than this cannot do."""
    return sum(one.piece.width * one.piece.height for sheet in sheets for one in sheet.placed)


def _refuse_larger(pieces: Sequence[Piece], room: Room, asked: Asked) -> None:
    show = asked.ruler.text
    for piece in pieces:
        if piece.width > room.width + 1e-6 or piece.height > room.height + 1e-6:
            raise mistake(
                "paper",
                f"{piece.name} needs {show(piece.width)} x {show(piece.height)}, but a sheet of {asked.paper} has room for "
                f"{show(room.width)} x {show(room.height)}: take larger paper",
            )


def _sheet(kind: Kind, page: Page, lay: Lay, placed: list[Placed], paper: Paper) -> Sheet:
    if paper.roll:
        # A page of a roll is as long as what is on it, and as the frame needs.
        least = 240.0
        used, room = extent(placed), page.room
        if lay is Lay.STANDS:
            page = replace(page, height=max(least, used[1] + page.height - room.height))
        else:
            page = replace(page, width=max(least, used[0] + page.width - room.width))
    return Sheet(kind, 0, page, lay is not Lay.STANDS, tuple(placed))


def _page(front: Front, paper: Paper, correction: Correction, lay: Lay) -> Page:
    """Return a page in true mm: what is smaller on paper because the printer prints too large holds less."""
    lies = lay is not Lay.STANDS
    across, up = correction.factors(lies=lies)
    width, height = paper.page(lies=lies)
    aside, ends = paper.page_margins(lies=lies)
    page = Page(width / across, height / up, aside / across, ends / up, turned=lay is Lay.TURNED)
    rule, show = rule_length(front.job.ruler), front.job.ruler.text
    framed = page.upright
    if framed.width - 2 * framed.aside - COLUMN < rule + 12 or min(page.room.width, page.room.height) < rule + 2:
        raise mistake(
            "paper",
            f"{paper.name} with margins of {show(aside)} and {show(ends)} leaves no room for the rules of a sheet: take larger paper",
        )
    return page
