"""The finished surface for other people's machines: solids and height pictures, strip by strip and fixture by fixture.

Heights are counted from the back, whatever blank is put on: what is thicker or thinner shows above the face alone.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import replace

import numpy as np

from facade.arrays import Array, sag
from facade.cnc.fixture import Fixture, fixtures
from facade.cnc.making import File
from facade.cnc.order import Order, strip_word, wanted_strips
from facade.cnc.standing import TOLD_FROM, standing_findings, standing_of
from facade.exporters.heights import Sampled, height_notes, height_picture, highest_of
from facade.exporters.stl import facets, to_stl
from facade.exporters.threemf import to_3mf
from facade.front import Front
from facade.measuring import Measures
from facade.mesh import Grid, Solid, closed_solid, rounded_up, thinned_grid
from facade.slicer import Strip, cut_strip
from facade.templates.frame import strips_in_words

# No facet is further than this from the surface, mm, where heights this far apart at the least can tell.
TOLERANCE, FINEST = 0.02, 0.25
_HAIR = 1e-9
_ENDINGS = ("_mm.stl", "_mm.3mf", "_heights.png", "_heights.txt")
_PURPOSES = (
    "{} as closed solids in mm, back at z = 0, facets within {:g} mm of the finished surface",
    "{}: the same solids as 3MF, which holds its unit: mm; facets within {:g} mm of the finished surface",
    "{}: finished heights as a 16-bit grey picture; its text file says what a grey and a pixel are",
    "{}: what a grey and a pixel of the height picture are",
)


def surface_names(front: Front, order: Order) -> list[str]:
    """Return the names of all files that `fixture_files` gives of an order's fixtures, in its order; raises JobError as it does."""
    stems = [stem for fixture in fixtures(front, order) for stem in _stems(fixture)]
    return [stem + ending for stem in stems for ending in _ENDINGS]


def _stems(fixture: Fixture) -> list[str]:
    return [*(_strip_stem(fixture.front, number) for number in fixture.numbers), _fixture_stem(fixture)]


def _fixture_stem(fixture: Fixture) -> str:
    return f"solids/{fixture.name}"


def _strip_stem(front: Front, number: int) -> str:
    return f"solids/strips/strip-{strip_word(front, number)}"


def fixture_files(fixture: Fixture) -> list[File]:
    """Return the files of a fixture's strips and of the fixture itself."""
    front, found, solids, farthest = fixture.front, [], [], TOLERANCE
    for place, left in zip(fixture.places, fixture.lefts.tolist(), strict=True):
        grid, within = close_grid(front, place.number)
        solid, name = closed_solid(grid), f"strip {place.number}"
        sampled = _strip_sampled(front, front.strip(place.number))
        found += _files(front, _strip_stem(front, place.number), [(name, solid)], within, sampled)
        solids.append((name, _moved(solid, left + fixture.first_strip[0], fixture.first_strip[1])))
        farthest = max(farthest, within)
    return found + _files(front, _fixture_stem(fixture), solids, farthest, _fixture_sampled(fixture))


def _files(front: Front, stem: str, solids: Sequence[tuple[str, Solid]], within: float, sampled: Sampled) -> list[File]:
    highest = highest_of(front)
    data = (
        to_stl(
            (facets(solid) for _, solid in solids), f"facade, unit mm, mark {front.mark}, {sampled.what}, back at z = 0"
        ),
        to_3mf(solids, f"{front.job.title}: {sampled.what}", front.mark),
        height_picture(sampled.heights, highest),
        height_notes(front, sampled, highest).encode("utf-8"),
    )
    kind = "one strip" if len(solids) == 1 else "the strips of a fixture"
    purposes = (words.format(kind, rounded_up(within)) for words in _PURPOSES)
    return [(stem + ending, some, why) for ending, some, why in zip(_ENDINGS, data, purposes, strict=True)]


def close_grid(front: Front, number: int) -> tuple[Grid, float]:
    """Return a strip's heights at its own origin, on as few rows and columns as keep facets within the tolerance, and how near they are.

    Where the surface bends too much for the job's step of sampling, it is sampled anew, at half the step, and half of that.
    """
    strip, step = front.strip(number), front.job.sampling.step
    while sag(strip.heights) > TOLERANCE / 2 and step / 2 >= FINEST:
        step /= 2
        strip = cut_strip(front.job, front.layout, front.surface, number, step)
    # What the surface sags between heights is taken off the tolerance, but never more than half of it.
    grid, within = thinned_grid(strip, TOLERANCE - min(sag(strip.heights), TOLERANCE / 2), strip.heights.size)
    return replace(grid, x=grid.x - strip.place.left, y=grid.y - strip.place.bottom), within


def _moved(solid: Solid, right: float, up: float) -> Solid:
    return replace(solid, vertices=solid.vertices + np.array([right, up, 0.0]))


def _strip_sampled(front: Front, strip: Strip) -> Sampled:
    return Sampled(strip.heights, strip.width, strip.length, f"strip {strip.number} of {front.count}")


def _fixture_sampled(fixture: Fixture) -> Sampled:
    """Return a fixture's heights from the first strip's left edge to the last one's right edge, ends included, waste not."""
    front, (x, y) = fixture.front, _places(fixture)
    what = f"fixture {fixture.number}, {strips_in_words(fixture.numbers, front.count)}"
    return Sampled(fixture.heights(x, y), fixture.width, fixture.length, what, _fixture_notes(fixture))


def _places(fixture: Fixture) -> tuple[Array, Array]:
    """Return even places across and along a fixture's strips, as far apart as the job samples them, mm."""
    step = fixture.front.job.sampling.step
    across, along = (
        np.linspace(0.0, size, max(2, math.ceil(size / step - 1e-9)) + 1) for size in (fixture.width, fixture.length)
    )
    return across, along


def _fixture_notes(fixture: Fixture) -> tuple[str, ...]:
    """Say in words where each strip lies in a fixture's picture."""
    unit = fixture.front.job.unit
    lies = (
        f"Strip {place.number}: x {left / unit.in_mm:.6f} to {right / unit.in_mm:.6f} {unit.value}."
        for place, left, right in zip(fixture.places, fixture.lefts.tolist(), fixture.rights.tolist(), strict=True)
    )
    between = ("Between two strips, over the spacer, the surface goes on as behind a gap.",) if fixture.spacer else ()
    across, along = (f"{place / unit.in_mm:.6f}" for place in fixture.first_strip)
    zero = (
        f"The picture's lower left corner lies at x {across}, y {along} {unit.value} from the zero of the machine code, the machined "
        "corner of the spoilboard."
    )
    return (zero, "The waste beyond the ends of the strips is not in the picture.", *between, *lies)


def blank_report(front: Front, order: Order) -> list[str]:
    """Return what follows from the thickness of the blanks, in sentences: where raw skin may remain, and what remains at the thinnest.

    Raises JobError for a measured blank that is thinner than the strips' highest point.
    """
    measures = [front.measures_of(number) for number in wanted_strips(front, order)]
    return [
        _about_blank(front),
        *_about_skin(front, measures, front.job.blank),
        *_about_hollows(front, order),
        _about_thinnest(front, measures),
    ]


def _about_blank(front: Front) -> str:
    show, wood, measured = front.job.ruler.text, front.job.wood, front.job.as_built.blank
    if measured is None:
        return f"Blanks: {show(wood.blank, 3)} thick, as in the job. Measure yours before any file is used."
    return f"Blanks: {show(measured, 3)} thick as measured, {show(wood.blank, 3)} in the job."


def _about_skin(front: Front, measures: Sequence[Measures], blank: float) -> list[str]:
    """Say where less wood stands above the finished face than is to be left for sanding."""
    fine, leave = front.job.ruler.fine, front.job.machine.leave
    highest = max(measures, key=lambda one: one.thickest.height)
    above = fine(max(blank - highest.thickest.height, 0.0))
    where = f"strip {highest.number}, {_place(front, highest.thickest.from_top)}"
    bare = [one.number for one in measures if blank - one.thickest.height < leave - _HAIR]
    if not bare:
        return [f"Wood above the finished face: at least {above}, in {where}; {fine(leave)} is left for sanding."]
    return [
        f"Raw skin may remain on {strips_in_words(bare, front.count)}: less than the {fine(leave)} that is left for sanding stands above "
        f"the finished face there, {above} at the least, in {where}. Take thicker blanks, or look the face over before sanding."
    ]


def _about_hollows(front: Front, order: Order) -> Iterator[str]:
    """Say where the finishing ball is too large for a hollow."""
    ruler, radius = front.job.ruler, front.job.machine.finishing.radius
    found, limit = standing_of(front, order), front.job.limit("ball_standing")
    if found.left < TOLD_FROM:
        return
    said = (
        f"In hollows tighter than the ball of radius {ruler.text(radius, 3)} up to {ruler.fine(found.left)} stays standing, most in "
        f"strip {found.strip}, {_place(front, found.from_top)}"
    )
    if found.left > limit.value + 1e-6:
        cure = standing_findings(front, order)[0].cure
        yield f"{said}: more than the {ruler.fine(limit.value)} that may stay ({limit.source}). {cure}"
    else:
        yield f"{said}; {ruler.fine(limit.value)} may stay ({limit.source}). Take it off by hand."


def _about_thinnest(front: Front, measures: Sequence[Measures]) -> str:
    show, fine = front.job.ruler.text, front.job.ruler.fine
    thinnest = min(measures, key=lambda one: one.thinnest.height)
    where = f"strip {thinnest.number}, {_place(front, thinnest.thinnest.from_top)}"
    return (
        "Heights are counted from the back, so that no blank makes a strip thinner than designed: "
        f"least {fine(thinnest.thinnest.height)} when sanded, in {where}; the floor is {show(front.surface.floor, 3)}."
    )


def _place(front: Front, from_top: float) -> str:
    return f"{front.job.ruler.text(from_top)} from TOP"
