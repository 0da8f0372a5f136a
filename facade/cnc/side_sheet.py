"""The sheet that is taken to the machine for strips on their side: a bay of the board drawn, and the whole text in columns."""

from __future__ import annotations

import math
from functools import partial

import numpy as np

from facade.arrays import Array
from facade.cnc.job_sheet import JOB_SHEET as JOB_SHEET
from facade.cnc.job_sheet import machine_page, machine_pdf
from facade.cnc.side_bays import Bay
from facade.cnc.side_drawing import keep_out
from facade.cnc.side_notes import Told, side_parts
from facade.drawing import Anchor, Drawing, Pen
from facade.job import Hold
from facade.templates.frame import PLAIN, SMALL
from facade.templates.piece import Room
from facade.templates.tables import Block, flow, flowed, heading, paragraph, reduction

# The picture of a bay is at most so high, and about so high where a bay is long and low, mm; words round it.
_PICTURE, _LOW, _WORDS = 70.0, 34.0, 5.0


def job_sheet(told: Told) -> bytes:
    """Return the sheet as a PDF, A4 or Letter."""
    room = machine_page(told.front).room
    through = flow(room)
    blocks: list[Block] = []
    for part in side_parts(told):
        blocks.append(heading(part.heading, through.width))
        blocks += [paragraph(text, through.width, lead=lead) for lead, text in part.notes]
    size = _picture_size(told.bay, room)
    pieces = flowed("job sheet", blocks, through, Block(size.height, partial(_draw_bay, told, size)))
    numbers = [one.profile.place.number for one in told.strips]
    return machine_pdf(told.front, "Job sheet: strips on their side", pieces, numbers, cleared=told.order.cleared)


def _picture_size(bay: Bay, room: Room) -> Room:
    return Room(room.width, _tall(bay) / _scales(bay, room)[1] + 4 * _WORDS)


def _scales(bay: Bay, room: Room) -> Array:
    """Return by how much the picture is smaller along and across; what is long and low is drawn less small across."""
    along = reduction(bay.board(1)[0], _tall(bay), room.width - 2 * _WORDS, _PICTURE)
    times = max(1, math.floor(_LOW * along / _tall(bay)))
    return np.array([along, along / times])


def _tall(bay: Bay) -> float:
    """Return how much of the board is shown, from its lower edge to above the first bay, mm."""
    return bay.first[1] + bay.top + bay.keep


def _draw_bay(told: Told, size: Room, piece: Drawing, left: float, top: float) -> None:
    """Draw the first bay with the first strip in it, reduced: the board's corner, what holds, what is cut, what is kept clear."""
    bay, lying = told.bay, told.strips[0]
    scales = _scales(bay, size)
    corner = np.array([left + _WORDS, top - size.height + 3 * _WORDS])
    first = corner + np.array(bay.first) / scales

    def at(run: Array) -> Array:
        return np.asarray(run / scales + first)

    length, wide = (np.array([bay.board(1)[0], _tall(bay)]) / scales).tolist()
    piece.line(corner + np.array([[0.0, wide], [0.0, 0.0], [length, 0.0], [length, wide]]), Pen.BACK, "board")
    for stop in bay.stops:
        piece.shape(at(_corners(stop)), Pen.BOX, "stops")
    piece.shape(at(_corners(np.array([-bay.waste, bay.length + bay.waste, 0.0, bay.blank]))), Pen.OUTLINE, "blank")
    piece.shape(at(keep_out(bay, lying.runs)), Pen.FOLD, "keep-out")
    piece.line(at(lying.runs.last.outside), Pen.CUT, "face-cut")
    for run in bay.end_cuts:
        piece.line(at(run), Pen.CUT, "end-cut")
    for x, y in at(bay.screws).tolist():
        piece.circle(x, y, max(bay.head / 2 / scales[0], 0.8), Pen.HOLE, "screws")
    if not bay.front.job.machine.hold.in_waste:
        piece.shape(at(_corners(bay.area)), Pen.FLOOR, "holding-area")
    cross = np.array([[[-3.0, 0.0], [3.0, 0.0]], [[0.0, -3.0], [0.0, 3.0]]])
    piece.lines(corner + cross, Pen.BACK, "zero")
    piece.label("ZERO", corner[0] + 1.5, corner[1] - 4.6, PLAIN, bold=True)
    times = round(float(scales[0] / scales[1]))
    words = (
        f"first bay, reduced{f', {times} times less across' if times > 1 else ''}: {_shown(bay.front.job.machine.hold)}"
    )
    piece.label(words, corner[0] + 1.5, corner[1] - 4.6 - _WORDS, SMALL)
    for words, x in (("BOTTOM", 0.0), ("TOP", bay.length)):
        piece.label(words, float(at(np.array([x, 0.0]))[0]), corner[1] + wide + 1.5, SMALL, Anchor.MIDDLE, bold=True)


def _shown(hold: Hold) -> str:
    """Return what the picture shows besides the strip."""
    held = {
        Hold.SCREWS: "screws in the waste",
        Hold.TABS: "screws in the waste, end cuts",
        Hold.VACUUM: "the sealed area",
        Hold.TAPE: "the tape",
    }[hold]
    return f"batten, stops, {held}; dashed: keep-out"


def _corners(rectangle: Array) -> Array:
    left, right, bottom, top = rectangle.tolist()
    return np.array([[left, bottom], [right, bottom], [right, top], [left, top]])
