"""Strips on their side as a drawing for the machine: what is cut, what is marked, what holds them, and the zero."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from facade.arrays import Array
from facade.cnc.profiles import Profile
from facade.cnc.side_bays import Bay
from facade.cnc.side_runs import Runs
from facade.cnc.strokes import strokes
from facade.drawing import Anchor, Drawing, Pen
from facade.job import Hold
from facade.lengths import MM_PER_INCH, Unit
from facade.measuring.screws import pilot_hole
from facade.wood.species import species

# Side of the proof square, mm, in each unit.
SQUARE = {Unit.MM: 100.0, Unit.INCH: 4 * MM_PER_INCH}
# Mm: white round a drawing; the arms of the cross at zero; between board and proof square; words.
_MARGIN, _CROSS, _BESIDE, _WORDS = 5.0, 10.0, 15.0, 5.0
# Mm: figures, and where they stand; lines to saw at go so far beyond the wood.
_FIGURES, _FIGURES_IN, _FIGURES_UP = 5.0, 8.0, 1.5
_BEYOND = 2.0

# Layers, and what is on them, as the text beside the files says it.
FACE, FACE_MIDDLE = "face cut", "face cut middle"
STEP, STEP_MIDDLE = "step cut", "step cut middle"
END, END_MIDDLE = "end cut", "end cut middle"
OUTLINE = "outline - not a cut"


@dataclass(frozen=True)
class Lying:
    """A strip in its bay: its lines and its runs."""

    profile: Profile
    runs: Runs


def side_drawing(bay: Bay, strips: Sequence[Lying], title: str, bays: int) -> tuple[Drawing, tuple[float, float]]:
    """Return the drawing of some strips, one bay above the other, and where on it the files' zero is.

    `bays` is how many the board has: it is drawn as large in every file.
    """
    square = SQUARE[bay.front.job.unit]
    length, wide = bay.board(bays)
    low = square + _BESIDE
    origin = (_MARGIN + _CROSS, _MARGIN + low)
    drawing = Drawing(max(length, square) + 2 * origin[0], wide + low + 2 * _MARGIN + 2 * _WORDS, title)
    parts = Drawing(0.0, 0.0, "")
    parts.shape(_box(0.0, square, -low, -low + square), Pen.RULE, "proof square")
    parts.shape(_box(0.0, length, 0.0, wide), Pen.BACK, "board")
    parts.lines([[[-_CROSS, 0.0], [_CROSS, 0.0]], [[0.0, -_CROSS], [0.0, _CROSS]]], Pen.BACK, "zero")
    along, across = bay.first
    for index, lying in enumerate(strips):
        one = Drawing(0.0, 0.0, "")
        _draw_bay(one, bay, lying)
        _draw_strip(one, bay, lying.profile)
        _draw_cuts(one, bay, lying.runs)
        parts.put(one, along, across + index * bay.pitch)
    parts.label("ZERO x 0 y 0", _CROSS, -_WORDS, _WORDS * 0.8)
    parts.label(title, 0.0, wide + _WORDS, _WORDS)
    drawing.put(parts, *origin)
    return drawing, origin


def with_plain_ids(drawing: Drawing) -> Drawing:
    """Return a drawing whose names have no spaces: the ids of an SVG may have none."""
    return replace(drawing, paths=[replace(path, name=path.name.replace(" ", "-")) for path in drawing.paths])


def _box(left: float, right: float, bottom: float, top: float) -> list[list[float]]:
    return [[left, bottom], [right, bottom], [right, top], [left, top]]


def _draw_bay(drawing: Drawing, bay: Bay, lying: Lying) -> None:
    """Draw what holds the strip, and where nothing else may be."""
    for stop in bay.stops:
        drawing.shape(_box(*stop.tolist()), Pen.BOX, "stops")
    for x, y in bay.screws.tolist():
        drawing.circle(x, y, bay.hole / 2, Pen.HOLE, "holding screws")
        drawing.circle(x, y, bay.head / 2, Pen.HOLE, "screw heads")
    hold = bay.front.job.machine.hold
    if hold is Hold.SCREWS:
        for x in (0.0, bay.length):
            drawing.line([[x, -_BEYOND], [x, bay.blank + _BEYOND]], Pen.SAW, "saw to length")
    if hold is Hold.TABS:
        for end in (0, 1):
            drawing.shape(bay.tab(end), Pen.BOX, "tabs")
    if not hold.in_waste:
        drawing.shape(_box(*bay.area.tolist()), Pen.FOLD, "holding area")
    drawing.shape(keep_out(bay, lying.runs), Pen.FOLD, "keep-out")


def keep_out(bay: Bay, runs: Runs) -> Array:
    """Return where nothing but the strip may be, (8, 2): all that the cutter passes over, and what it keeps off."""
    line, keep = runs.last.outside, bay.keep
    beyond = bay.lead + bay.cutter / 2 + keep
    left, right, top = -beyond, bay.length + beyond, bay.top + keep
    ends = [float(line[0, 1]) - keep, float(line[-1, 1]) - keep]
    low = float(line[:, 1].min()) - keep
    # As low as anywhere from where the run first comes below its way in to where it is last below its way out.
    below = [line[line[:, 1] < line[end, 1] - 1e-9, 0] for end in (0, -1)]
    first = min(float(below[0].min()), 0.0) if len(below[0]) else 0.0
    last = max(float(below[1].max()), bay.length) if len(below[1]) else bay.length
    if bay.end_cuts:
        aside = bay.cutter + keep
        first, last = min(first, -aside), max(last, bay.length + aside)
        low = min(low, bay.front.job.machine.side.tab - keep)
    return np.array(
        [
            [left, ends[0]],
            [first, ends[0]],
            [first, low],
            [last, low],
            [last, ends[1]],
            [right, ends[1]],
            [right, top],
            [left, top],
        ]
    )


def _draw_strip(drawing: Drawing, bay: Bay, profile: Profile) -> None:
    """Draw the strip: the wood that it is cut from, its lines, its pilot holes, its number."""
    front, place = bay.front, profile.place
    job = front.job
    drawing.shape(_box(-bay.waste, place.length + bay.waste, 0.0, bay.blank), Pen.OUTLINE, "blank")
    drawing.shape(profile.outline, Pen.CONTOUR, OUTLINE)
    drawing.line(profile.left, Pen.FINISHED, "left line")
    drawing.line(profile.right, Pen.CARVE, "right line")
    drawing.line(profile.saw, Pen.SAW, "saw line")
    pilot = pilot_hole(job.fixing.shank, softwood=species(job.wood.species).softwood)
    for screw in front.measures_of(place.number).screws.screws:
        middle = place.length - screw.from_top
        drawing.shape(_box(middle - pilot / 2, middle + pilot / 2, 0.0, screw.bite), Pen.HOLE, "screw pilots")
    near = profile.cut[:, 0] < _FIGURES_IN + 5 * _FIGURES
    room = float(np.minimum(profile.left[:, 1].min(), profile.cut[near, 1].min())) - 2 * _FIGURES_UP
    size = min(_FIGURES, max(room, 1.0))
    for run in strokes(str(place.number), _FIGURES_IN, _FIGURES_UP, size):
        drawing.line(run, Pen.FINISHED, "number")
    drawing.label("BOTTOM", -bay.waste - bay.stop / 2, -_WORDS - 1.0, 3.2, Anchor.MIDDLE)
    drawing.label(f"strip {place.number}", place.length / 2, -_WORDS - 1.0, 3.2, Anchor.MIDDLE)
    drawing.label("TOP", place.length + bay.waste + bay.stop / 2, -_WORDS - 1.0, 3.2, Anchor.MIDDLE)


def _draw_cuts(drawing: Drawing, bay: Bay, runs: Runs) -> None:
    """Draw the runs in the order in which they are cut."""
    for step in runs.steps:
        drawing.line(step.outside, Pen.TICK, STEP)
        drawing.line(step.middle, Pen.FINE, STEP_MIDDLE)
    drawing.line(runs.last.outside, Pen.CUT, FACE)
    drawing.line(runs.last.middle, Pen.FINE, FACE_MIDDLE)
    for outside, middle in zip(bay.end_cuts, bay.end_middles, strict=True):
        drawing.line(outside, Pen.CUT, END)
        drawing.line(middle, Pen.FINE, END_MIDDLE)
