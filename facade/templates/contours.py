"""Lines of equal depth below the raw face of a strip."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np

from facade.arrays import Array
from facade.drawing import Pen
from facade.front import Front
from facade.job import Job, Shape
from facade.layout import StripPlace
from facade.lengths import MM_PER_INCH, Unit
from facade.templates.windows import Window

# Spacing of the lines in mm, finest first, and every how many of them one is drawn heavier.
_STEPS = {
    Unit.MM: ((2.0, 5), (5.0, 2), (10.0, 5)),
    Unit.INCH: ((MM_PER_INCH / 16, 4), (MM_PER_INCH / 8, 4), (MM_PER_INCH / 4, 4)),
}
_MOST = 14  # lines between the highest and the lowest place that can still be told apart
_COARSEST = 1.0  # mm between the heights that lines are drawn through
# Ticks on the deeper side of a line, mm: how long, and about how far apart.
_FALL, _FALLS_APART = 1.3, 28.0
_OFF_LEVEL = 1e-7  # a face that is level exactly at a line's depth would give broken lines


@dataclass(frozen=True)
class Spacing:
    """How far contour lines are apart in depth, mm, and every how many of them one is heavier."""

    step: float
    heavy: int

    def pen(self, index: int) -> Pen:
        """Return the pen of the line number `index` below the raw face."""
        return Pen.CONTOUR_MAIN if index % self.heavy == 0 else Pen.CONTOUR


@dataclass(frozen=True)
class Contour:
    """A line of equal depth: its number below the raw face, its depth in mm, and places (points, 2), mm from the strip's left
    edge and from its top."""

    index: int
    depth: float
    places: Array


def spacing_of(front: Front) -> Spacing:
    """Return the finest spacing in the job's unit at which the lines of a front can be told apart."""
    deepest = front.job.blank - front.surface.floor
    steps = _STEPS[front.job.unit]
    step, heavy = next((one for one in steps if deepest / one[0] <= _MOST), steps[-1])
    return Spacing(step, heavy)


def contours(front: Front, number: int, start: float, end: float, spacing: Spacing) -> list[Contour]:
    """Return the lines of equal depth on a strip from `start` to `end` mm from its top; both its edges and both ends are exact.

    Lines through heights at most 1 mm apart, by contourpy's marching squares.
    """
    from contourpy import LineType, contour_generator

    place = front.layout.strip(number)
    across, along = _places(place.width), start + _places(end - start)
    x, y = (place.left + across)[None, :], (place.top - along)[:, None]
    depths = front.job.blank - front.surface.at(x, y)
    lines = contour_generator(across, along, depths, name="serial", line_type=LineType.Separate)
    first = math.ceil(float(depths.min()) / spacing.step - 1e-9)
    found = []
    for index in range(max(first, 1), int(float(depths.max()) / spacing.step + 1e-9) + 1):
        depth = index * spacing.step
        found += [Contour(index, depth, np.asarray(line)) for line in lines.lines(depth - _OFF_LEVEL) if len(line) > 1]
    return found


def falls(front: Front, number: int, lines: Sequence[Contour]) -> Array:
    """Return short ticks on the deeper side of lines, runs (n, 2, 2), mm from the strip's left edge and from its top.

    By them a hollow is told from a hill.
    """
    middles, across = [np.empty((0, 2))], [np.empty((0, 2))]
    for one in lines:
        steps = np.diff(one.places, axis=0)
        lengths = np.hypot(*steps.T)
        along = np.concatenate([[0.0], np.cumsum(lengths)])
        count = int(along[-1] / _FALLS_APART) + (along[-1] >= _FALLS_APART / 4)
        at = (np.arange(count) + 0.5) * along[-1] / max(count, 1)
        piece = np.clip(np.searchsorted(along, at, side="right") - 1, 0, len(steps) - 1)
        share = (at - along[piece]) / np.maximum(lengths[piece], 1e-9)
        middles.append(one.places[piece] + share[:, None] * steps[piece])
        across.append(
            np.stack([-steps[piece, 1], steps[piece, 0]], axis=-1) / np.maximum(lengths[piece], 1e-9)[:, None]
        )
    places, aside = np.concatenate(middles), np.concatenate(across)
    if not len(places):
        return np.empty((0, 2, 2))
    place = front.layout.strip(number)
    far = np.stack([places + aside * _FALL, places - aside * _FALL])
    heights = front.surface.at(place.left + far[..., 0], place.top - far[..., 1])
    ends = np.where((heights[0] <= heights[1])[:, None], far[0], far[1])
    inside = (ends[:, 0] >= 0.0) & (ends[:, 0] <= place.width)
    found: Array = np.stack([places, ends], axis=1)[inside]
    return found


def _places(length: float) -> Array:
    return np.linspace(0.0, length, max(2, math.ceil(length / _COARSEST)) + 1)


def outlines_on(job: Job, place: StripPlace, window: Window) -> Iterator[tuple[str, Array]]:
    """Yield "land" or "pull" and the closed outline (n, 2) of the part of each that falls on a stretch of a strip."""
    shapes = [("land", land.centre, _outline(land.size, land.shape is Shape.RECTANGLE)) for land in job.lands]
    shapes += [("pull", pull.centre, _slot(pull.size)) for pull in job.pulls]
    for word, centre, outline in shapes:
        on_strip = (outline + np.array(centre) - np.array([place.left - place.moved, place.top])) * np.array(
            [1.0, -1.0]
        )
        part = _within(on_strip, (0.0, window.start), (place.width, window.end))
        if len(part) > 2:
            yield word, part


def _outline(size: tuple[float, float], rectangle: bool) -> Array:
    half = np.array(size) / 2
    if rectangle:
        return np.array([[-1.0, -1.0], [1.0, -1.0], [1.0, 1.0], [-1.0, 1.0]]) * half
    angles = np.linspace(0.0, 2 * np.pi, 96, endpoint=False)
    return np.column_stack([np.cos(angles), np.sin(angles)]) * half


def _slot(size: tuple[float, float]) -> Array:
    """Return two straight sides and two half circles, as a pull is carved."""
    reach = min(size) / 2
    angles = np.linspace(0.0, 2 * np.pi, 96, endpoint=False)
    circle = np.column_stack([np.cos(angles), np.sin(angles)])
    return circle * reach + np.where(circle >= 0.0, 1.0, -1.0) * (np.array(size) / 2 - reach)


def _within(outline: Array, low: tuple[float, float], high: tuple[float, float]) -> Array:
    """Return the part of a convex outline (n, 2) in a rectangle (I. Sutherland and G. Hodgman, 1974, from memory)."""
    for axis in (0, 1):
        for sign, limit in ((1.0, low[axis]), (-1.0, -high[axis])):
            outline = _cut(outline, axis, sign, limit)
    return outline


def _cut(outline: Array, axis: int, sign: float, limit: float) -> Array:
    if not len(outline):
        return outline
    beyond = sign * outline[:, axis] - limit
    kept = []
    for index in range(len(outline)):
        here, before = beyond[index], beyond[index - 1]
        if (here >= 0) != (before >= 0):
            share = before / (before - here)
            kept.append(outline[index - 1] + share * (outline[index] - outline[index - 1]))
        if here >= 0:
            kept.append(outline[index])
    return np.array(kept)
