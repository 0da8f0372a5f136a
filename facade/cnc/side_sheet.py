"""The sheet that is taken to the machine for strips on their side: the whole text, printed, in columns."""

from __future__ import annotations

from facade.cnc.side_notes import Told, side_parts
from facade.lengths import Unit
from facade.printing.correction import Correction
from facade.printing.papers import MARGIN, sheet_paper
from facade.templates.frame import Heading, Page, framed
from facade.templates.packing import packed
from facade.templates.piece import Top
from facade.templates.tables import Block, flow, flowed, heading, paragraph

JOB_SHEET = "job-sheet.pdf"
_CAUTION = "Air run first. Work held, guards on, eyes and ears protected, dust taken off. Local rules, manuals and training come first."


def job_sheet(told: Told) -> bytes:
    """Return the sheet as a PDF, A4 or Letter."""
    from facade.exporters.pdf import PdfPage, to_pdf
    from facade.exporters.svg import to_svg

    front = told.front
    paper = sheet_paper("A4" if front.job.unit is Unit.MM else "Letter")
    width, height = paper.page(lies=False)
    page = Page(width, height, MARGIN, MARGIN)
    through = flow(page.room)
    blocks: list[Block] = []
    for part in side_parts(told):
        blocks.append(heading(part.heading, through.width))
        blocks += [paragraph(text, through.width, lead=lead) for lead, text in part.notes]
    sheets = packed(flowed("job sheet", blocks, through), page.room)
    numbers = tuple(one.profile.place.number for one in told.strips)
    pages = []
    for number, placed in enumerate(sheets, start=1):
        about = Heading(
            title="Job sheet: strips on their side",
            strips=() if len(numbers) == front.count else numbers,
            sheet=number,
            sheets=len(sheets),
            top=Top.UP,
            correction=Correction().words,
            caution=_CAUTION,
            laying="Read beside the files of its folder; lengths in words count, no picture is to scale.",
            cleared=told.order.cleared,
        )
        drawing = framed(front, page, about)
        left, top = page.corner
        for one in placed:
            drawing.put(one.piece.draw(), left + one.x, top - one.down - one.piece.height)
        pages.append(PdfPage(to_svg(drawing), width, height))
    return to_pdf(f"{front.job.title}: job sheet, strips on their side, mark {front.mark}", pages)
