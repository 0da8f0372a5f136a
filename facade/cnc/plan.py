"""The plan of a fixture, as files: a drawing at full size for the machine, and a sheet to be read beside it.

It is seen from above, as the strips are seen on the door: x 0, y 0 is the lower left corner of the first strip.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

from facade.cnc.fixture import Fixture, file_stem, fixtures
from facade.cnc.order import Order
from facade.cnc.plan_parts import Plan, corners
from facade.cnc.plan_sheet import plan_sheets
from facade.cnc.strokes import strokes, strokes_width
from facade.drawing import Drawing, Pen
from facade.front import Front

# Round the drawing, and the arms of the cross at zero, mm.
_MARGIN = 5.0
_CROSS = 10.0
# Strokes of a strip's number: mm high at most, as wide as this share of the strip at most, and how far from its lower end, mm.
_NUMBER = 8.0
_NUMBER_WIDE = 0.7
_NUMBER_UP = 12.0
_DXF = "plan of a fixture at full size, a layer for each part, its zero at x 0, y 0: to drill the spoilboard and to lay it out"
_SVG = "the same plan as SVG, at full size"
_PDF = "the fixture in words and reduced: its parts, its screws, how it is loaded and what must stay low"


def plan_zero(fixture: Fixture) -> tuple[float, float]:
    """Return where on its plan x 0, y 0 of the fixture is, mm."""
    board = Plan(fixture).board
    return _MARGIN - float(board[0]), _MARGIN - float(board[2])


def plan_drawing(fixture: Fixture) -> Drawing:
    """Return a fixture as seen from above, at full size; the proof square comes first, and every part has a layer of its own."""
    plan = Plan(fixture)
    zero_x, zero_y = plan_zero(fixture)
    front = fixture.front
    width = zero_x + float(plan.square[1]) + _MARGIN
    height = zero_y + float(max(plan.board[3], plan.square[3])) + _MARGIN
    title = f"{front.job.title}: plan of fixture {fixture.number}, mark {front.mark}"
    drawing, parts = Drawing(width, height, title), Drawing(0.0, 0.0, "")
    parts.shape(corners(plan.square), Pen.RULE, "proof square")
    _draw_parts(parts, plan)
    _draw_holes(parts, plan)
    _draw_numbers(parts, plan)
    drawing.put(parts, zero_x, zero_y)
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
    )
    for rectangles, pen, name in shown:
        for rectangle in rectangles:
            parts.shape(corners(rectangle), pen, name)
    for left, right, bottom, top in plan.wedges.tolist():
        parts.line([[left, bottom], [right, top]], Pen.FINISHED, "wedges")
    parts.lines([[[-_CROSS, 0.0], [_CROSS, 0.0]], [[0.0, -_CROSS], [0.0, _CROSS]]], Pen.BACK, "zero")


def _draw_holes(parts: Drawing, plan: Plan) -> None:
    for diameter, name in ((plan.pilot, "screw pilots"), (plan.clearance, "screw clearance")):
        for screw in plan.screws:
            parts.circle(screw.x, screw.y, diameter / 2.0, Pen.HOLE, name)


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
    # An SVG holds its unit, and ours is always mm; a DXF is in the unit of the job.
    return f"{file_stem(fixture, 'plan')}.dxf", f"{fixture.name}_plan_mm.svg", f"{fixture.name}_plan.pdf"


def plan_files(front: Front, order: Order) -> Iterator[tuple[str, bytes, str]]:
    """Yield the plans of all fixtures: name in the folder of the order, what is in the file, what it is for.

    Raises JobError as `fixtures` does.
    """
    for fixture in fixtures(front, order):
        yield from zip(_names(fixture), _data(fixture, order.cleared), (_DXF, _SVG, _PDF), strict=True)


def _data(fixture: Fixture, cleared: bool) -> tuple[bytes, bytes, bytes]:
    from facade.exporters.dxf import to_dxf
    from facade.exporters.pdf import PdfPage, to_pdf
    from facade.exporters.svg import to_svg

    drawing, front = plan_drawing(fixture), fixture.front
    pages = [PdfPage(to_svg(sheet), sheet.width, sheet.height) for sheet in plan_sheets(fixture, cleared=cleared)]
    dxf = to_dxf(drawing, front.job.unit, plan_zero(fixture))
    pdf = to_pdf(f"{front.job.title}: plan of fixture {fixture.number}, mark {front.mark}", pages)
    return dxf.encode("utf-8"), to_svg(_with_plain_ids(drawing)).encode("utf-8"), pdf


def _with_plain_ids(drawing: Drawing) -> Drawing:
    """Return a drawing whose names have no spaces: the ids of an SVG may have none."""
    return replace(drawing, paths=[replace(path, name=path.name.replace(" ", "-")) for path in drawing.paths])
