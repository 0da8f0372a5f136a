"""The elevation for the client: the front at a stated scale with its measurements, its mark, and a box to sign."""

from __future__ import annotations

from facade.drawing import Anchor, Drawing, Pen, fitted
from facade.exporters.pdf import Picture, pdf_page, to_pdf
from facade.front import Front
from facade.job.model import FinishKind
from facade.lengths import Unit
from facade.pictures.canvas import Frame
from facade.pictures.front import painted, png_of
from facade.pictures.lights import light_words

_PAPERS = ((297.0, 210.0), (210.0, 297.0), (420.0, 297.0), (297.0, 420.0))  # A4 and A3, lying and upright
_SCALES = (1, 2, 5, 10, 20, 50, 100)
_LEFT, _RIGHT, _ABOVE, _BELOW = 30.0, 14.0, 26.0, 62.0  # mm of paper round the front
_DPI = 200
_TYPE, _SMALL, _TITLE = 3.4, 2.9, 6.0
_STEP = 8.0  # mm from one line of measurements to the next
_FINISHED = {FinishKind.RAW: "raw wood", FinishKind.OIL: "oiled wood", FinishKind.DARK: "darkened wood"}
_END = 1.6  # mm: half a tick


def elevation(front: Front) -> bytes:
    """Return the elevation as a PDF of A4 or A3, at the largest of the usual scales that fits one of them."""
    scale, wide, tall = _fitting(front.layout.width, front.layout.height)
    drawing = Drawing(wide, tall, f"{front.job.title}: elevation 1 : {scale}")
    left, bottom = max(_LEFT, (wide - front.layout.width / scale) / 2), tall - _ABOVE - front.layout.height / scale
    _head(drawing, front, scale)
    _measurements(drawing, front, scale, left, bottom)
    _words(drawing, front)
    picture = Picture(_picture(front, scale), left, _ABOVE, front.layout.width / scale, front.layout.height / scale)
    return to_pdf(drawing.title, [pdf_page(drawing, pictures=[picture])])


def _fitting(width: float, height: float) -> tuple[int, float, float]:
    """Return the scale, and the paper's width and height, mm."""
    for scale in _SCALES:
        for wide, tall in _PAPERS:
            if width / scale <= wide - _LEFT - _RIGHT and height / scale <= tall - _ABOVE - _BELOW:
                return scale, wide, tall
    raise AssertionError("a front is never so large")


def _picture(front: Front, scale: int) -> bytes:
    wide, tall = front.layout.width, front.layout.height
    columns = max(40, min(3000, round(wide / scale / 25.4 * _DPI)))
    pixel = wide / columns
    frame = Frame(columns, max(4, round(tall / pixel)), pixel, 0.0, tall)
    return png_of(painted(front, frame, front.job.picture).pixels)


def _head(drawing: Drawing, front: Front, scale: int) -> None:
    top = drawing.height
    mark = f"Mark {front.mark}"
    room = drawing.width - _LEFT - _RIGHT - 52.0
    drawing.label(fitted(front.job.title, _TITLE, room, bold=True), _LEFT, top - 12.0, _TITLE, bold=True)
    drawing.label(mark, drawing.width - _RIGHT, top - 12.0, 4.2, Anchor.END, bold=True)
    drawing.label(
        f"Elevation, 1 : {scale} when printed at 100 %. Lengths in {'mm' if front.job.unit is Unit.MM else 'inches'}.",
        _LEFT,
        top - 18.5,
        _SMALL,
    )


def _measurements(drawing: Drawing, front: Front, scale: int, left: float, bottom: float) -> None:
    """Draw the front's outline, and its measurements below and at its left."""
    layout, show = front.layout, front.job.ruler.text
    right, top = left + layout.width / scale, bottom + layout.height / scale
    drawing.shape([[left, bottom], [right, bottom], [right, top], [left, top]], Pen.OUTLINE, "front")
    line = bottom - 6.0
    for door in layout.doors:
        words = f"door {door.number}: {show(door.right - door.left)}" if len(layout.doors) > 1 else ""
        if words:
            _across(drawing, left + door.left / scale, left + door.right / scale, line, words)
    line -= _STEP if len(layout.doors) > 1 else 0.0
    _across(drawing, left, right, line, show(layout.width))
    _upright(drawing, left - 6.0, bottom, top, show(layout.height))


def _across(drawing: Drawing, start: float, end: float, y: float, words: str) -> None:
    drawing.line([[start, y], [end, y]], Pen.TICK, "measure")
    for x in (start, end):
        drawing.line([[x, y - _END], [x, y + _END]], Pen.RULE, "measure")
    drawing.label(fitted(words, _SMALL, end - start), (start + end) / 2, y - 4.0, _SMALL, Anchor.MIDDLE)


def _upright(drawing: Drawing, x: float, start: float, end: float, words: str) -> None:
    drawing.line([[x, start], [x, end]], Pen.TICK, "measure")
    for y in (start, end):
        drawing.line([[x - _END, y], [x + _END, y]], Pen.RULE, "measure")
    drawing.label(words, x - 2.0, (start + end) / 2, _SMALL, Anchor.MIDDLE, turn=90.0)


def _words(drawing: Drawing, front: Front) -> None:
    """Write what the front is made of, and draw the box to sign, along the lower edge of the sheet."""
    job, show, strips = front.job, front.job.ruler.text, front.layout.strips
    gap = f", gaps of {show(strips[1].left - strips[0].right)}" if len(strips) > 1 else ""
    about = [
        f"{len(strips)} strips of {job.wood.species}, {show(strips[0].width)} wide{gap}.",
        f"{show(front.surface.floor)} to {show(front.surface.highest)} thick.",
        f"Picture: {_FINISHED[job.picture.finish]}; {light_words(job.picture)}.",
        "Colours and figure are by eye: every board differs.",
    ]
    half = drawing.width / 2 - 4.0
    for index, text in enumerate(about):
        drawing.label(fitted(text, _SMALL, half - 12.0), 12.0, 32.0 - 5.6 * index, _SMALL)
    right, top = drawing.width - 12.0, 36.0
    drawing.shape([[half, 12.0], [right, 12.0], [right, top], [half, top]], Pen.BOX, "sign")
    drawing.label(f"Agreed as drawn, mark {front.mark}", half + 3.0, top - 6.0, _TYPE, bold=True)
    drawing.line([[half + 3.0, 19.0], [right - 3.0, 19.0]], Pen.RULE, "sign")
    drawing.label("name, date", half + 3.0, 14.5, _SMALL)
