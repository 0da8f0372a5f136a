"""The paper pack as files: one PDF for the printer, every sheet as SVG, and the record of what was printed of which strip."""

from __future__ import annotations

import hashlib
import json
import math
from collections.abc import Callable, Collection, Iterator, Sequence
from dataclasses import asdict, dataclass, field, replace
from functools import partial
from typing import Any

import numpy as np

from facade.exporters.pdf import PdfPage, make_ready, pdf_page, to_pdf
from facade.exporters.svg import to_svg
from facade.front import Front
from facade.lengths import MM_PER_INCH, Unit
from facade.printing.correction import Correction
from facade.printing.papers import Margins, Paper, roll_paper, sheet_paper
from facade.processes import shared_out
from facade.rules import rule
from facade.slicer import stations
from facade.templates.pack import TEMPLATES, Pack, Sheet, paper_needed, plan, strips_on
from facade.templates.piece import Kind, Lines
from facade.templates.ways import sheets_of

PDF = "paper.pdf"
# Heights that differ by less do not show on paper, mm.
_SEEN = 0.01


@dataclass(frozen=True)
class Order:
    """How a pack is printed: on which paper, corrected for which printer, and what of it.

    With `doors` it is of these alone. With `strips` it is these alone; unless `alone`, what is about several strips at once
    stays whole. `by_strip` lets all sheets of a strip follow each other.
    """

    paper: Paper
    correction: Correction = field(default_factory=Correction)
    lines: Lines = Lines.BOTH
    kinds: tuple[Kind, ...] = tuple(Kind)
    strips: tuple[int, ...] | None = None
    alone: bool = True
    doors: tuple[int, ...] = ()
    by_strip: bool = False

    def as_data(self) -> dict[str, Any]:
        """Return what a manifest keeps of the order, lengths in mm."""
        return asdict(self)

    @staticmethod
    def of_data(data: dict[str, Any]) -> Order:
        """Return the order that a manifest kept; raises KeyError, TypeError or ValueError for what is none."""
        paper = dict(data["paper"])
        paper["margins"] = Margins(**paper["margins"])
        strips = None if data["strips"] is None else tuple(data["strips"])
        kinds = tuple(map(Kind, data["kinds"]))
        correction, lines = Correction(**data["correction"]), Lines(data["lines"])
        doors = tuple(data["doors"])
        of = kinds, strips, bool(data["alone"]), doors, bool(data["by_strip"])
        return Order(Paper(**paper), correction, lines, *of)


def usual_order(front: Front) -> Order:
    """Return how a build prints its pack: on A4, or Letter in a job in inches, what the way of work needs."""
    return Order(usual_paper(front), kinds=sheets_of(front.job), doors=doors_printed(front))


def doors_printed(front: Front) -> tuple[int, ...]:
    """Return the doors whose sheets are printed where none are named: the first of a wall of many, or () for all."""
    return (1,) if len(front.layout.doors) > rule("doors_printed") else ()


def usual_paper(front: Front) -> Paper:
    """Return the paper where none is named: A4, or Letter in a job in inches."""
    return sheet_paper("A4" if front.job.unit is Unit.MM else "Letter")


def pack_of(front: Front, order: Order) -> Pack:
    """Return the sheets of an order; raises JobError where something does not fit or is not there."""
    return plan(
        front,
        order.paper,
        kinds=order.kinds,
        doors=order.doors,
        strips=order.strips,
        alone=order.alone,
        correction=order.correction,
        lines=order.lines,
        by_strip=order.by_strip,
    )


Progress = Callable[[int, int], None]


# So many sheets are drawn at a time by one process.
_BATCH = 12


def paper_files(
    pack: Pack,
    numbers: Collection[int] | None = None,
    progress: Progress | None = None,
    meanwhile: Callable[[], object] = make_ready,
) -> Iterator[tuple[str, bytes]]:
    """Yield every sheet as SVG, and at last the PDF of all, each with its name; `progress(done, total)` after every sheet.

    The sheets are drawn by several processes where that is possible; the bytes do not depend on it. `meanwhile` is done beside them.
    """
    chosen = pack.chosen(numbers)
    batches = [chosen[first : first + _BATCH] for first in range(0, len(chosen), _BATCH)]
    pages: list[PdfPage] = []
    entry = ""
    for batch, drawn in zip(batches, shared_out(partial(_pages, pack), batches, meanwhile), strict=True):
        for sheet, page in zip(batch, drawn, strict=True):
            title = TEMPLATES[sheet.kind].title
            pages.append(replace(page, entry=title if title != entry else ""))
            entry = title
            yield svg_name(pack, sheet.number, sheet.kind), str(page.sheet).encode("utf-8")
            if progress:
                progress(len(pages), len(chosen))
    yield PDF, to_pdf(f"{pack.front.job.title}, mark {pack.front.mark}", pages)


def _pages(pack: Pack, sheets: Sequence[Sheet]) -> list[PdfPage]:
    drawings = [pack.drawing(sheet) for sheet in sheets]
    return [pdf_page(drawing, svg=to_svg(drawing)) for drawing in drawings]


def file_names(pack: Pack) -> Iterator[str]:
    """Yield the names of all files of a pack."""
    yield from (svg_name(pack, sheet.number, sheet.kind) for sheet in pack.sheets)
    yield PDF


def is_of_pack(name: str) -> bool:
    """Whether a file of a build's folder is part of its paper pack."""
    return name == PDF or name.startswith("paper/")


def svg_name(pack: Pack, number: int, kind: Kind) -> str:
    """Return "paper/07-sides.svg": numbers padded so that names sort as the sheets come."""
    return f"paper/{number:0{max(2, len(str(len(pack.sheets))))}d}-{kind.value}.svg"


def count_words(pack: Pack) -> str:
    """Return how much paper a pack takes: "41 sheets of A4", and what else it would take on a roll."""
    length = sum(sheet.page.width if sheet.lies else sheet.page.height for sheet in pack.sheets)
    if not pack.paper.roll:
        return f"{len(pack.sheets)} sheet{'s' if len(pack.sheets) != 1 else ''} of {pack.paper.name}"
    return f"{_long(length, pack.front)} of a {pack.paper.name}"


def _long(length: float, front: Front) -> str:
    return f"{length / 1000:.1f} m" if front.job.unit is Unit.MM else f"{length / (12 * MM_PER_INCH):.1f} ft"


def whole_pack(front: Front, order: Order, pack: Pack) -> str:
    """Return how much paper the pack of an order takes, and what else it would take on a roll of 610 mm, or 24 in."""
    used = count_words(pack)
    if order.paper.roll:
        return f"Paper: {used}."
    width = 610.0 if front.job.unit is Unit.MM else 24 * MM_PER_INCH
    rolled = replace(order, paper=roll_paper(width, front.job.ruler, order.paper.margins))
    return f"Paper: {used}, or {count_words(pack_of(front, rolled))}."


def use_words(pack: Pack) -> str:
    """Return how much of a pack's paper bears something, and what would do if its pieces could be laid without any loss."""
    if not pack.sheets:
        return ""
    rooms = [sheet.page.room.width * sheet.page.room.height for sheet in pack.sheets]
    needed = paper_needed(pack.sheets)
    shared = f"Pieces fill {needed / sum(rooms):.0%} of the room that these have for them"
    if pack.paper.roll:
        return f"{shared}; by area alone they need {_long(needed / pack.paper.short, pack.front)}."
    return f"{shared}; by area alone they need {math.ceil(needed / max(rooms))} sheets."


def door_words(front: Front, order: Order) -> str:
    """Return what is said of a wall of which some doors are printed at a time, with how much all of them take; "" for others."""
    doors = len(front.layout.doors)
    if not order.doors or order.doors != doors_printed(front):
        return ""
    whole = count_words(pack_of(front, replace(order, doors=())))
    return (
        f"A wall of {doors} doors: {whole} in all, one door at a time. This is door 1; `--door 2` is the next, `--door all` prints "
        "all of them."
    )


def strip_prints(front: Front) -> dict[int, str]:
    """Return a fingerprint of what is printed of every strip: equal where its sheets would show the same."""
    wood = front.job.wood
    prints = {}
    for place in front.layout.strips:
        marks = stations(place.length, min(front.job.station, 10.0))
        x = np.linspace(place.left, place.right, 3)
        heights = front.surface.at(x[None, :], (place.top - marks)[:, None])
        own = [place.number, place.door, place.left_neighbour, place.right_neighbour, round(place.width, 6)]
        own += [round(place.length, 6), front.job.blank, wood.floor, wood.sanding, wood.sawing, front.job.station]
        text = json.dumps(own).encode() + np.rint(heights / _SEEN).astype("<i4").tobytes()
        prints[place.number] = hashlib.sha256(text).hexdigest()[:16]
    return prints


@dataclass(frozen=True)
class Issued:
    """What was printed before: for each strip its fingerprint, and the mark that stands on its sheets."""

    mark: str
    strips: dict[int, tuple[str, str]]

    def as_data(self) -> dict[str, Any]:
        """Return it for the manifest."""
        return {"mark": self.mark, "strips": {str(number): list(self.strips[number]) for number in sorted(self.strips)}}


def issued_before(manifest: dict[str, Any] | None) -> Issued | None:
    """Return what a manifest says was printed, None where it says nothing of the kind."""
    try:
        said = (manifest or {})["printed"]
        return Issued(said["mark"], {int(number): (one[0], one[1]) for number, one in said["strips"].items()})
    except (KeyError, TypeError, ValueError, IndexError, AttributeError):
        return None


def issued_again(front: Front, manifest: dict[str, Any]) -> Issued | None:
    """Return what a manifest says was printed; what of it bears the front's own mark is as this front prints it."""
    before = issued_before(manifest)
    if before is None:
        return None
    prints = strip_prints(front)
    own = {number: (prints.get(number, ""), mark) for number, (_, mark) in before.strips.items() if mark == front.mark}
    return Issued(before.mark, {**before.strips, **own})


def changed_since(front: Front, issued: Issued) -> frozenset[int]:
    """Return the strips whose sheets would show something else than those that were printed."""
    prints = strip_prints(front)
    return frozenset(number for number, one in prints.items() if issued.strips.get(number, ("", ""))[0] != one)


@dataclass(frozen=True)
class Prepared:
    """A pack before it is drawn and the order it is of; strips whose printed sheets are still good; the record of what is printed then."""

    pack: Pack
    order: Order
    held_back: tuple[int, ...] = ()
    record: Issued | None = None

    def as_data(self) -> dict[str, Any]:
        """Return what a manifest keeps, so that the very same pack can be made again."""
        new = None if self.pack.new is None else sorted(self.pack.new)
        return {"order": self.order.as_data(), "new": new}


def prepared_again(front: Front, data: dict[str, Any]) -> Prepared:
    """Return the pack of which a manifest keeps how it was made; raises KeyError, TypeError or ValueError for what is none."""
    order, new = Order.of_data(data["order"]), data["new"]
    return Prepared(replace(pack_of(front, order), new=None if new is None else frozenset(new)), order)


def prepared(front: Front, order: Order | None, manifest: dict[str, Any] | None, *, again: bool) -> Prepared:
    """Return the pack of an order, with what is new since an earlier one was printed into the folder of this manifest.

    Without an order it is the usual pack, and counts as looked at, not as printed. Unless `again`, an order leaves out the
    sheets of strips that were printed under another mark and would show the same.
    """
    before = issued_before(manifest)
    changed = changed_since(front, before) if before and before.mark != front.mark else None
    if order is None:
        usual = usual_order(front)
        return Prepared(replace(pack_of(front, usual), new=changed), usual, record=before)
    everyone = strips_on(front, order.doors)
    held_back = () if changed is None or again else tuple(number for number in everyone if number not in changed)
    printed = [number for number in everyone if number not in held_back]
    order = replace(order, strips=tuple(printed), alone=False) if held_back else order
    kept = set(range(1, front.count + 1)) - set(printed) if before else set()
    good = {number: before.strips[number] for number in sorted(kept) if number in before.strips} if before else {}
    prints = strip_prints(front)
    record = Issued(front.mark, {**good, **{number: (prints[number], front.mark) for number in printed}})
    return Prepared(replace(pack_of(front, order), new=changed), order, held_back, record)
