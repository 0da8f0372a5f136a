"""The plan of a fixture, as files: a drawing at full size for the machine, and a sheet to be read beside it.

It is seen from above, as the strips are seen on the door: x 0, y 0 is the lower left machined corner of the spoilboard.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from facade.cnc.fixture import Fixture, file_stem, fixtures
from facade.cnc.order import Order
from facade.cnc.plan_parts import STOP_DEEP, Plan, corners
from facade.cnc.plan_sheet import plan_sheets
from facade.cnc.screwing import Holding
from facade.cnc.strokes import strokes, strokes_width
from facade.drawing import Drawing, Pen
from facade.front import Front

# The folder of plans in that of the route.
DRAWINGS = "drawings"
# Round the drawing, and the arrows at zero with their heads and letters, mm.
_MARGIN = 5.0
_ARROW, _HEAD, _LETTER = 40.0, 5.0, 6.0
# Strokes of a strip's number: mm high at most, as wide as this share of the strip at most, and how far from its lower end, mm.
_NUMBER = 8.0
_NUMBER_WIDE = 0.7
_NUMBER_UP = 12.0
_DXF = "plan of a fixture at full size, a layer for each part, its zero at x 0, y 0: to drill the spoilboard and to lay it out"
_SVG = "the same plan as SVG, at full size"
_PDF = "the fixture in words and reduced: its parts, its screws, how it is loaded and what must stay low"


def plan_zero(fixture: Fixture) -> tuple[float, float]:
    """Return where on its plan x 0, y 0 is, mm: the machined corner of the spoilboard."""
    return _MARGIN + STOP_DEEP, _MARGIN + STOP_DEEP


def plan_drawing(fixture: Fixture, holding: Holding) -> Drawing:
    """Return a fixture as seen from above, at full size; the proof square comes first, and every part has a layer of its own."""
    plan = Plan(fixture, holding)
    front = fixture.front
    strip_x, strip_y = (zero + at for zero, at in zip(plan_zero(fixture), fixture.first_strip, strict=True))
    width = strip_x + float(plan.square[1]) + _MARGIN
    height = strip_y + float(max(plan.board[3], plan.square[3])) + _MARGIN
    title = f"{front.job.title}: plan of fixture {fixture.number}, mark {front.mark}"
    drawing, parts = Drawing(width, height, title), Drawing(0.0, 0.0, "")
    parts.shape(corners(plan.square), Pen.RULE, "proof square")
    _draw_parts(parts, plan)
    _draw_holes(parts, plan)
    _draw_numbers(parts, plan)
    _draw_zero(parts, plan)
    drawing.put(parts, strip_x, strip_y)
    return drawing


def _draw_parts(parts: Drawing, plan: Plan) -> None:
    """Draw what lies on the fixture, and where nothing may stand."""
    shown = (
        (plan.board[None], Pen.BACK, "spoilboard"),
        (plan.strips, Pen.OUTLINE, "outline"),
        (plan.spacers, Pen.FINISHED, "spacers"),
        (plan.ends, Pen.CUT, "waste"),
        (plan.battens, Pen.CUT, "battens"),
        (plan.wedges, Pen.FINISHED, "wedges"),
        (plan.keep_out[None], Pen.FOLD, "keep-out"),
        (plan.clamps, Pen.BOX, "clamps"),
        (plan.stops, Pen.BOX, "stops"),
    )
    for rectangles, pen, name in shown:
        for rectangle in rectangles:
            parts.shape(corners(rectangle), pen, name)
    for left, right, bottom, top in plan.wedges.tolist():
        parts.line([[left, bottom], [right, top]], Pen.FINISHED, "wedges")


def _draw_zero(parts: Drawing, plan: Plan) -> None:
    """Draw both axes from the zero of files for the machine, each an arrow with its letter."""
    x, y = plan.corner
    tip, back, half = _ARROW, _ARROW - _HEAD, _HEAD / 2.0
    far, aside, size = _ARROW + _HEAD, _LETTER / 2.0, _LETTER
    along_x = [[[0.0, 0.0], [tip, 0.0]], [[back, half], [tip, 0.0]]]
    along_y = [[[0.0, 0.0], [0.0, tip]], [[half, back], [0.0, tip]]]
    letter_x = [[[far, 0.0], [far + size, size]], [[far, size], [far + size, 0.0]]]
    letter_y = [[[0.0, far + size], [aside, far + aside]], [[size, far + size], [aside, far + aside]]]
    letter_y += [[[aside, far], [aside, far + aside]]]
    for run in (*along_x, *along_y, *letter_x, *letter_y):
        parts.line(np.array(run) + np.array([x, y]), Pen.BACK, "zero")


def _draw_holes(parts: Drawing, plan: Plan) -> None:
    for screw in plan.screws:
        parts.circle(screw.x, screw.y, plan.pilot / 2.0, Pen.HOLE, "screw pilots")
    for diameter, name in ((plan.clearance, "screw clearance"), (plan.spoilboard.bore, "counterbores")):
        for one in plan.driven:
            parts.circle(one.held.x, one.held.y, diameter / 2.0, Pen.HOLE, name)


def _draw_numbers(parts: Drawing, plan: Plan) -> None:
    """Write the number of every strip on it, in the middle of its lower end."""
    for place, (left, right, _, top) in zip(plan.fixture.places, plan.strips.tolist(), strict=True):
        text = str(place.number)
        height = min(_NUMBER, _NUMBER_WIDE * (right - left) / strokes_width(text, 1.0), top / 4.0)
        start = (left + right - strokes_width(text, height)) / 2.0
        for run in strokes(text, start, min(_NUMBER_UP, top / 4.0), height):
            parts.line(run, Pen.FINISHED, "number")


def plan_names(front: Front, order: Order) -> list[str]:
    """Return the names of all files that `plan_files` gives, in its order; raises JobError as it does."""
    return [name for fixture in fixtures(front, order) for name in _names(fixture)]


def _names(fixture: Fixture) -> tuple[str, str, str]:
    # An SVG holds its unit, and ours is always mm; a DXF is in the unit of the machine.
    stem = f"{DRAWINGS}/{fixture.name}_plan"
    return f"{DRAWINGS}/{file_stem(fixture, 'plan')}.dxf", f"{stem}_mm.svg", f"{stem}.pdf"


def plan_files(fixture: Fixture, holding: Holding, *, cleared: bool) -> list[tuple[str, bytes, str]]:
    """Return the plan of a fixture that is held so: name in the folder of the order, what is in the file, what it is for."""
    return list(zip(_names(fixture), _data(fixture, holding, cleared), (_DXF, _SVG, _PDF), strict=True))


def _data(fixture: Fixture, holding: Holding, cleared: bool) -> tuple[bytes, bytes, bytes]:
    from facade.exporters.dxf import to_dxf
    from facade.exporters.pdf import pdf_page, to_pdf
    from facade.exporters.svg import to_svg

    drawing, front = plan_drawing(fixture, holding), fixture.front
    pages = [pdf_page(sheet) for sheet in plan_sheets(fixture, holding, cleared=cleared)]
    dxf = to_dxf(drawing, front.job.machine_unit, plan_zero(fixture))
    pdf = to_pdf(f"{front.job.title}: plan of fixture {fixture.number}, mark {front.mark}", pages)
    return dxf.encode("utf-8"), to_svg(_with_plain_ids(drawing)).encode("utf-8"), pdf


def _with_plain_ids(drawing: Drawing) -> Drawing:
    """Return a drawing whose names have no spaces: the ids of an SVG may have none."""
    return replace(drawing, paths=[replace(path, name=path.name.replace(" ", "-")) for path in drawing.paths])
