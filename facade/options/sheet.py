"""The sheet of options: all at one scale and in one light, a letter under each, as PDF and as a picture."""

from __future__ import annotations

import io
import math
from dataclasses import dataclass

from PIL import Image

from facade.drawing import Drawing, Pen, fitted
from facade.exporters.pdf import Picture, pdf_page, to_pdf, to_picture
from facade.options.exploring import Option, Options
from facade.options.telling import figure_lines, tried_text, value_lines, verdict_line
from facade.pictures.lights import light_words
from facade.pictures.plot import png

_WIDE, _TALL = 420.0, 297.0  # A3, lying; mm
_MARGIN, _GAP, _HEAD, _FOOT = 12.0, 9.0, 22.0, 10.0
_TITLE, _LETTER, _TYPE, _SMALL = 7.0, 7.0, 3.3, 2.9
_LINE = 4.7
_MOST_VALUES = 3  # lines of an option's own values
_LINES = 6 + _MOST_VALUES
_DOTS = 130


@dataclass(frozen=True)
class Sheet:
    """The sheet as PDF and as PNG."""

    pdf: bytes
    png: bytes


def options_sheet(options: Options) -> Sheet:
    """Return the sheet of options on A3."""
    drawing = Drawing(_WIDE, _TALL, f"{options.job.title}: options")
    _head(drawing, options)
    pictures = [_put(drawing, options, index) for index in range(len(options.options))]
    pdf = to_pdf(drawing.title, [pdf_page(drawing, pictures=pictures)])
    with Image.open(io.BytesIO(to_picture(pdf, _DOTS))) as picture:
        return Sheet(pdf, png(picture.convert("RGB")))


def _head(drawing: Drawing, options: Options) -> None:
    job = options.job
    drawing.label(fitted(job.title, _TITLE, _WIDE - 2 * _MARGIN, bold=True), _MARGIN, _TALL - 15.0, _TITLE, bold=True)
    light = light_words(job.picture)
    said = f"{tried_text(options)}. All at one scale; {light}."
    drawing.label(fitted(said, _TYPE, _WIDE - 2 * _MARGIN), _MARGIN, _TALL - 21.0, _TYPE)
    foot = (
        "What is shown was checked as by the command facade check. Colours and figure of the wood are by eye. "
        "Take one: facade options JOB --take LETTER"
    )
    drawing.label(fitted(foot, _SMALL, _WIDE - 2 * _MARGIN), _MARGIN, 5.0, _SMALL)


def _grid(count: int) -> tuple[int, int]:
    """Return how many options stand side by side and in how many rows."""
    columns = min(count, 4 if count > 6 else 3)
    return columns, math.ceil(count / columns)


def _put(drawing: Drawing, options: Options, index: int) -> Picture:
    """Write what is said of an option below the place of its picture, and return the picture."""
    columns, rows = _grid(len(options.options))
    wide = (_WIDE - 2 * _MARGIN - (columns - 1) * _GAP) / columns
    tall = (_TALL - _HEAD - _FOOT - 4.0) / rows
    left, top = _MARGIN + index % columns * (wide + _GAP), _TALL - _HEAD - 4.0 - index // columns * tall
    room = tall - _LINE * (_LINES + 1) - 3.0
    option = options.options[index]
    sizes = [_size(one) for one in options.options]
    scale = min(wide / max(size[0] for size in sizes), room / max(size[1] for size in sizes))
    across, up = (side * scale for side in sizes[index])
    _words(drawing, option, left, top - room - _LINE - 1.0, wide)
    return Picture(option.shown.picture, left + (wide - across) / 2, _TALL - top + room - up, across, up)


def _size(option: Option) -> tuple[int, int]:
    """Return the pixels of an option's picture; all have as many to the mm."""
    with Image.open(io.BytesIO(option.shown.picture)) as picture:
        return picture.size


def _words(drawing: Drawing, option: Option, left: float, y: float, wide: float) -> None:
    drawing.label(option.letter, left, y - 2.4, _LETTER, bold=True)
    drawing.label(f"Mark {option.shown.tried.mark}", left + 9.0, y, _TYPE, bold=True)
    verdict = verdict_line(option)
    drawing.label(fitted(verdict, _TYPE, wide - 9.0), left + 9.0, y - _LINE, _TYPE, bold=bool(option.shown.tried.stops))
    values = value_lines(option)
    if len(values) > _MOST_VALUES:
        values = [*values[: _MOST_VALUES - 1], ", ".join(values[_MOST_VALUES - 1 :])]
    for line, text in enumerate([*figure_lines(option), *values], start=2):
        drawing.label(fitted(text, _SMALL, wide), left, y - line * _LINE, _SMALL)
    drawing.line([[left, y + 3.6], [left + wide, y + 3.6]], Pen.FINE, "option")
