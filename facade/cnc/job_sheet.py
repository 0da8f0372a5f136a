"""The sheet that is taken to the machine: order of work, zero, cutters, files with their minutes, holding, what to measure, cautions."""

from __future__ import annotations

import math
from collections.abc import Sequence
from functools import partial

import numpy as np

from facade.arrays import Array
from facade.cnc.fixture import Fixture
from facade.cnc.machining import Stage, Written, minutes, plan_of, speed
from facade.cnc.making import File
from facade.cnc.order import Order, wanted_strips
from facade.cnc.plan_parts import Plan, corners
from facade.cnc.screwing import Holding
from facade.cnc.working import (
    Told,
    cautions,
    limit_words,
    loose_words,
    order_of_work,
    screw_counts,
    screws_words,
    zero_words,
)
from facade.drawing import Anchor, Drawing, Pen
from facade.front import Front
from facade.job import Finishing
from facade.lengths import Ruler, Unit
from facade.printing.correction import Correction
from facade.printing.papers import MARGIN, sheet_paper
from facade.templates.frame import PLAIN, Heading, Page, framed
from facade.templates.packing import packed
from facade.templates.piece import Piece, Room, Top
from facade.templates.tables import (
    Block,
    Column,
    Row,
    Table,
    flow,
    flowed,
    heading,
    paragraph,
    reduction,
    table_pieces,
    widest_number,
)

JOB_SHEET = "job-sheet.pdf"
_PURPOSE = "take it to the machine: order of work, zero, cutters, files with minutes, holding, what to measure"
_CAUTION = "Air run first. Work held, guards on, eyes and ears protected, dust taken off. Local rules, manuals and training come first."
# The picture of the zero is at most so high, mm.
_PICTURE = 62.0
# Where along the first strip of a fixture it is measured, as shares of its length from the TOP end.
_MEASURED = (0.2, 0.5, 0.8)


def machine_page(front: Front) -> Page:
    """Return the page of sheets that are read at a machine: A4 or Letter, upright."""
    paper = sheet_paper("A4" if front.job.unit is Unit.MM else "Letter")
    width, height = paper.page(lies=False)
    return Page(width, height, MARGIN, MARGIN)


def machine_pdf(front: Front, name: str, pieces: Sequence[Piece], strips: Sequence[int], *, cleared: bool) -> bytes:
    """Return pieces on framed sheets as a PDF; `name` is what the sheet is called."""
    from facade.exporters.pdf import pdf_page, to_pdf

    page = machine_page(front)
    sheets = packed(pieces, page.room)
    pages = []
    for number, placed in enumerate(sheets, start=1):
        about = Heading(
            title=name,
            strips=() if len(strips) == front.count else strips,
            sheet=number,
            sheets=len(sheets),
            top=Top.UP,
            correction=Correction().words,
            caution=_CAUTION,
            laying="Read beside the files of its folder. Numbers count: no picture on it is to scale.",
            cleared=cleared,
        )
        drawing = framed(front, page, about)
        left, top = page.corner
        for one in placed:
            drawing.put(one.piece.draw(), left + one.x, top - one.down - one.piece.height)
        pages.append(pdf_page(drawing))
    return to_pdf(f"{front.job.title}: {name}, mark {front.mark}", pages)


def face_sheet_file(
    front: Front, order: Order, found: Sequence[Fixture], held: Sequence[Holding], made: Sequence[Written]
) -> File:
    """Return the sheet of the face route: its name, its bytes, what it is for."""
    pieces = _pieces(front, found, held, made, machine_page(front).room)
    return (
        JOB_SHEET,
        machine_pdf(front, "Job sheet: faces", pieces, wanted_strips(front, order), cleared=order.cleared),
        _PURPOSE,
    )


def _pieces(
    front: Front, found: Sequence[Fixture], held: Sequence[Holding], made: Sequence[Written], room: Room
) -> list[Piece]:
    through = flow(room)
    plan = Plan(max(found, key=lambda one: one.width))
    blocks = [
        *_part("Zero", [("ZERO", zero_words(front))], through.width),
        *_part("Order of work", _numbered(order_of_work(front, found, held)), through.width),
        *_part("Holding", _holding(front, found, held), through.width),
        *_part("Cautions", cautions(front.job), through.width),
    ]
    size = _picture_size(plan, room)
    top = Block(size.height, partial(_draw_zero, plan, size))
    return [
        *flowed("job sheet", blocks, through, top),
        *table_pieces(_cutters(front, made), room),
        *table_pieces(_files(front, found, held, made), room),
        *table_pieces(_readings(front, found, max(one.ridge for one in made)), room),
    ]


def _part(name: str, told: Sequence[Told], width: float) -> list[Block]:
    return [heading(name, width), *(paragraph(text, width, lead=lead) for lead, text in told if text)]


def _numbered(told: Sequence[Told]) -> list[Told]:
    return [(f"{number} {lead}.", text) for number, (lead, text) in enumerate(told, start=1)]


def _holding(front: Front, found: Sequence[Fixture], held: Sequence[Holding]) -> list[Told]:
    said: list[Told] = [("Screws", limit_words(front))] if any(holding.screws for holding in held) else []
    for fixture, holding in zip(found, held, strict=True):
        counts = ", ".join(screw_counts(front.job.ruler, holding))
        what = f"Board {holding.board}. {f'Screws from behind: {counts}.' if counts else 'No screws from behind.'}"
        words = [what, screws_words(front, holding), loose_words(front, fixture, holding)]
        said.append((f"Fixture {fixture.number}", " ".join(filter(None, words))))
    return said


def _picture_size(plan: Plan, room: Room) -> Room:
    left, right, bottom, top = plan.board.tolist()
    scale = reduction(right - left, top - bottom, room.width * 0.8, _PICTURE)
    return Room(room.width, (top - bottom) / scale + 14.0)


def _draw_zero(plan: Plan, size: Room, piece: Drawing, left: float, top: float) -> None:
    """Draw the spoilboard with the strips, and its zero large."""
    low, high, bottom, upper = plan.board.tolist()
    ruler, (across, along) = plan.front.job.ruler, plan.fixture.first_strip
    scale = reduction(high - low, upper - bottom, size.width * 0.8, _PICTURE)
    shift = np.array([left + 24.0 - low / scale, top - size.height + 11.0 - bottom / scale])
    for rectangles, pen, name in (
        (plan.board[None], Pen.BACK, "spoilboard"),
        (plan.strips, Pen.OUTLINE, "outline"),
        (plan.ends, Pen.CUT, "waste"),
        (plan.clamps, Pen.BOX, "clamps"),
        (plan.stops, Pen.BOX, "stops"),
    ):
        for rectangle in rectangles:
            piece.shape(corners(rectangle) / scale + shift, pen, name)
    zero = shift + np.array(plan.corner) / scale
    reach = min(16.0, (upper - bottom) / scale / 2)
    draw_zero_arrows(piece, zero, reach)
    x, y = zero.tolist()
    piece.label("ZERO", x - 2.5, y - 7.0, 5.0, Anchor.MIDDLE, bold=True)
    piece.label("x 0, y 0", x + 9.0, y - 7.0, PLAIN)
    piece.label("z 0: skimmed top", x + 24.0, y - 7.0, PLAIN)
    beside = left + 24.0 + (high - low) / scale + 4.0
    notes = (
        "First strip of every fixture:",
        f"x {ruler.text(across)}, y {ruler.text(along)}",
        "clamps and stops where drawn",
    )
    for row, note in enumerate(notes):
        piece.label(note, beside, top - 6.0 - 4.6 * row, PLAIN)


def draw_zero_arrows(piece: Drawing, at: Array, reach: float) -> None:
    """Draw two arrows from the zero, to the right and up, as long as `reach`, mm."""
    tip, back, half = reach, reach - 2.4, 1.2
    along_x = [[[0.0, 0.0], [tip, 0.0]], [[back, half], [tip, 0.0]], [[back, -half], [tip, 0.0]]]
    along_y = [[[b, a] for a, b in stroke] for stroke in along_x]
    piece.lines(np.array(along_x + along_y) + at, Pen.BACK, "zero")


def _cutters(front: Front, made: Sequence[Written]) -> Table:
    job = front.job
    ruler, machine = Ruler(job.unit, job.fraction), job.machine
    deep = {stage: max(one.deep for one in made if one.stage is stage) for stage in Stage}
    rows = []
    for stage in Stage:
        plan = plan_of(front, stage)
        ball = isinstance(plan, Finishing)
        size = 2 * plan.radius if isinstance(plan, Finishing) else plan.cutter
        rows.append(
            (
                stage.value,
                f"{'ball' if ball else 'straight'}, {ruler.text(size, 3)}",
                ruler.text(ruler.up(deep[stage])),
                str(plan.flutes),
                f"{plan.spindle:.0f}",
                speed(plan.feed, job.unit),
                speed(plan.plunge, job.unit),
            )
        )
    columns = tuple(
        Column(head, max((row[index] for row in rows), key=len), anchor=Anchor.START, bold=index == 0)
        for index, head in enumerate(
            (
                ("file",),
                ("cutter",),
                ("out of its", "holder by"),
                ("edges",),
                ("turns", "a minute"),
                ("feed", "in the cut"),
                ("feed on", "the way in"),
            )
        )
    )
    note = (
        f"Left on for sanding: {ruler.text(machine.leave, 3)}. A cutter must stand out of its holder at least so far, with some "
        "more to spare; "
        "its edge at least as long as a level is deep."
    )
    return Table("Cutters", columns, len(rows), partial(_some, rows), [()] * len(rows), note, runs=1)


def _some(rows: Sequence[Row], first: int, after: int) -> list[Row]:
    return list(rows[first:after])


def _files(front: Front, found: Sequence[Fixture], held: Sequence[Holding], made: Sequence[Written]) -> Table:
    """Return the files in the order in which they are run, and what is done between them."""
    rows: list[Row] = []
    about: list[tuple[int, ...]] = []
    for fixture, holding in zip(found, held, strict=True):
        for stage in Stage:
            one = next(one for one in made if one.fixture == fixture.number and one.stage is stage)
            before = (
                f"load fixture {fixture.number} on board {holding.board}, air run"
                if stage is Stage.ROUGH
                else "change the cutter, set z again"
            )
            rows.append((str(fixture.number), before, one.name.removeprefix("programs/"), minutes(one.seconds)))
            about.append(tuple(fixture.numbers))
    total = minutes(sum(one.seconds for one in made))
    columns = (
        Column(("fix-", "ture"), "00", bold=True),
        Column(("before it",), max((str(row[1]) for row in rows), key=len), anchor=Anchor.START),
        Column(("file in programs/",), max((str(row[2]) for row in rows), key=len), anchor=Anchor.START),
        Column(("minutes",), max((str(row[3]) for row in rows), key=len)),
    )
    note = f"Run from top to bottom. About {total} in all, at the feeds of the job, without changing and loading."
    return Table("Files", columns, len(rows), partial(_some, rows), about, note, runs=1)


def readings(front: Front, fixture: Fixture) -> list[tuple[float, float]]:
    """Return what is to be read at the left edge of a fixture's first strip: how far from TOP, and the height above its back as it comes
    off
    the machine, mm."""
    place, leave = fixture.places[0], front.job.machine.leave
    whole = 10.0 if front.job.unit is Unit.MM else 12.7
    found = []
    for share in _MEASURED:
        from_top = min(max(math.floor(share * place.length / whole) * whole, 0.0), place.length)
        height = float(front.surface.at(np.array([[place.left]]), np.array([[place.top - from_top]]))[0, 0])
        found.append((from_top, min(height + leave, fixture.blank)))
    return found


def _readings(front: Front, found: Sequence[Fixture], ridge: float) -> Table:
    job = front.job
    rows = [
        (str(fixture.number), str(fixture.numbers[0]), job.ruler.bare(from_top), _fine(height, job.unit))
        for fixture in found
        for from_top, height in readings(front, fixture)
    ]
    columns = (
        Column(("fix-", "ture"), "00", bold=True),
        Column(("strip",), str(front.count), bold=True),
        Column(("from TOP",), widest_number(job.ruler, found[0].length)),
        Column(("height at", "left edge"), _fine(100.0, job.unit)),
    )
    note = (
        "By a height gauge on the spoilboard while the strip is held, by a calliper once it is off; "
        f"{job.ruler.text(job.machine.leave, 3)} for "
        f"sanding is in it. Ridges of up to {job.ruler.fine(ridge)} stand above it.{' Decimal inches.' if job.unit is Unit.INCH else ''}"
    )
    about = [(fixture.numbers[0],) for fixture in found for _ in _MEASURED]
    return Table("What a calliper should read", columns, len(rows), partial(_some, rows), about, note)


def _fine(mm: float, unit: Unit) -> str:
    return f"{mm:.2f}" if unit is Unit.MM else f"{mm / unit.in_mm:.3f}"
