"""All measures of one strip."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from facade.job import Job
from facade.layout import Layout
from facade.measuring.bending import Bending, bending_of
from facade.measuring.close import look_closely
from facade.measuring.grain import Grain, grain_of
from facade.measuring.mass import Solid, solid_of
from facade.measuring.screws import ScrewPlan, screws_of
from facade.slicer import Spot, Strip
from facade.surface import Surface, pulled


@dataclass(frozen=True)
class Measures:
    """What the checks ask of a strip; lengths in mm, places from its top and its left.

    `step` is where its right edge differs most from the facing edge of its right neighbour, and by how much, None where
    no neighbour on the same door follows. `missed` is where straight lines between the job's own heights are furthest off its
    surface, and by how much, None where they hold; all else is read off heights as close as the surface asks for, or `apart`
    mm where that would be too many, None otherwise.
    """

    number: int
    door: int
    length: float
    width: float
    thinnest: Spot
    thickest: Spot
    thinnest_edge: Spot
    thinnest_end: Spot
    ruler_error: float
    sawn_below_face: float
    step: Spot | None
    grain: Grain
    bending: Bending
    solid: Solid
    screws: ScrewPlan
    missed: Spot | None = None
    apart: float | None = None


def measure(job: Job, layout: Layout, surface: Surface, strip: Strip) -> Measures:
    """Return the measures of a strip; they depend on nothing but the job and the strip."""
    looked = look_closely(job, layout, surface, strip)
    strip = looked.strip
    return Measures(
        number=strip.number,
        door=strip.place.door,
        length=strip.length,
        width=strip.width,
        thinnest=strip.thinnest,
        thickest=strip.thickest,
        thinnest_edge=_thinnest(strip, slice(None), [0, -1]),
        thinnest_end=_thinnest(strip, [0, -1], slice(None)),
        ruler_error=strip.ruler_error,
        sawn_below_face=strip.sawn_below_face,
        step=_step(job, layout, surface, strip),
        grain=grain_of(job, strip),
        bending=bending_of(strip),
        solid=solid_of(strip),
        screws=screws_of(job, strip),
        missed=looked.missed,
        apart=looked.apart,
    )


def _thinnest(strip: Strip, rows: slice | list[int], columns: slice | list[int]) -> Spot:
    """Return the thinnest of some rows and columns."""
    part = strip.heights[rows, columns]
    row, column = divmod(int(part.argmin()), part.shape[1])
    y, x = strip.y[rows][row], strip.x[columns][column]
    return Spot(float(strip.place.top - y), float(x - strip.place.left), float(part[row, column]))


def _step(job: Job, layout: Layout, surface: Surface, strip: Strip) -> Spot | None:
    """Return where a strip's right edge differs most from what it faces; walls of finger pulls are left out, steep as they are."""
    neighbour = strip.place.right_neighbour
    if neighbour is None or layout.strip(neighbour).door != strip.place.door:
        return None
    other, y = layout.strip(neighbour), strip.y[:, None]
    apart = np.abs(strip.right_edge - surface.at(np.array([[other.left]]), y)[:, 0])
    if job.pulls:
        facing = np.array([[strip.place.right - strip.place.moved, other.left - other.moved]])
        apart[pulled(job.pulls, facing, y).any(axis=1)] = 0.0
    row = int(apart.argmax())
    return Spot(float(strip.place.top - strip.y[row]), strip.width, float(apart[row]))
