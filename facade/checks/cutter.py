"""Cutter: where does what shapes the face leave wood standing, and which hollows are tight for a disc?

Finger pulls are left out: they are carved with other tools. Strips that are carved packed tight are looked at as they lie
then, without gaps.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import numpy as np

from facade.checks.asking import if_told
from facade.checks.cures import carved_to, length, setting, stretched, ways
from facade.checks.finding import Finding, Weight
from facade.checks.gentler import Trial, coarser_before_gentler, depth_of, first_that_holds, with_depth, with_stretch
from facade.closing import Ball, Body, Disc, Window
from facade.front import Front
from facade.job import Job
from facade.job.bench import CutterShape
from facade.layout import Layout
from facade.lengths import MM_PER_INCH, Unit
from facade.measuring.close import PLACES_PER_WAVE
from facade.measuring.standing import (
    Band,
    Standing,
    Tight,
    bands,
    base_at,
    columns_of,
    first_that_clears,
    left_standing,
    tight_hollows,
)
from facade.reach import Face, body_of, designed_of, faces, without_pulls
from facade.rules import rule_values
from facade.surface import Surface, make_surface

_STEP = 1.0  # mm between the places that are looked at, whatever the job's own step
_MOST_PARTS = 8  # into which that is divided where the relief has waves that are shorter still
# Of shorter waves, mm, what is left is told about: they cannot be followed as closely as they ask for.
_ABOUT = 2.0
# How much longer waves are tried, times what a closed form asks for.
_MORE = (1.0, 1.1, 1.25, 1.5)
_LINES = ("left edge", "middle", "right edge")
_CAUTION = (
    "A grinder kicks back where its disc catches in a tight hollow or an open gap. Keep the guard on and both hands on the "
    "grinder, screw the strip down instead of holding it, and fit only discs that the grinder's maker allows, rated for its "
    "speed. Its manual, trained practice and the rules where you work come first."
)


@dataclass(frozen=True)
class _Found:
    """What a cutter leaves on a front's faces, and the hollows that are tight for it."""

    laid: tuple[Face, ...]
    bands: tuple[Band, ...]
    standing: tuple[Standing, ...]
    tight: tuple[Tight, ...]


def check(front: Front) -> list[Finding]:
    """Return what the cutter leaves standing and, for a disc, hollows along a strip that are tight for it.

    Heights are taken every millimetre, more finely for a small cutter; what these show is then looked at closely at the worst
    places of every strip. A surface that follows the cutter is only told of; the disc then fits its hollows without a margin.
    """
    if front.job.cutter.fit:
        return [_warned(front, _change(front))]
    found = _looked_over(front.job, front.layout, _carved(front))
    findings = [*_standing_findings(front, found), *_tight_findings(front, found)]
    return [_warned(front, finding) for finding in findings[:1]] + findings[1:]


def _looked_over(job: Job, layout: Layout, surface: Surface) -> _Found:
    """Return what the job's cutter leaves of a surface."""
    body, limit = body_of(job.cutter), job.limit("left_standing").value
    across, along = _spacing(body)
    parts = math.ceil(max(across, along) * PLACES_PER_WAVE / surface.shortest - 1e-9)
    laid = tuple(
        replace(face, parts=min(max(parts, 1), _MOST_PARTS))
        for face in faces(job, layout, surface, body, (across, along))
    )
    standing: list[Standing] = []
    tight: list[Tight] = []
    touched = []
    for number, face in enumerate(laid):
        for band in bands(number, face, limit):
            here = list(left_standing(band, limit))
            narrow = (
                list(tight_hollows(band, _needed(job), limit, here)) if job.cutter.shape is CutterShape.DISC else []
            )
            standing += here
            tight += narrow
            if here or narrow:
                touched.append(replace(band, above=np.broadcast_to(0.0, band.above.shape)))
    return _Found(laid, tuple(touched), tuple(standing), tuple(tight))


def _warned(front: Front, finding: Finding) -> Finding:
    """Return a finding with what to mind where a disc is spoken of."""
    return replace(finding, caution=_CAUTION) if _with_disc(front) else finding


def _with_disc(front: Front) -> bool:
    return front.job.cutter.shape is CutterShape.DISC


def _tool(front: Front) -> str:
    return "disc" if _with_disc(front) else "ball"


def _carved(front: Front) -> Surface:
    """Return the surface that the cutter shapes: without pulls."""
    return make_surface(without_pulls(front.job), front.layout, front.surface) if front.job.pulls else front.surface


def _spacing(body: Body) -> tuple[float, float]:
    """Return how far apart heights are taken in x and in y: less where the cutter itself is small."""
    across, along = (min(_STEP, max(radius / 3.0, 0.25)) for radius in body.extent)
    return across, along


def _needed(job: Job, radius: float | None = None) -> float:
    """Return the least radius of a hollow along a strip that the job's disc follows with its margin, or an upright one of a radius."""
    margin = job.limit("disc_margin").value
    return margin * (radius if radius else job.cutter.radius / math.sin(math.radians(job.cutter.tilt)))


def _standing_findings(front: Front, found: _Found) -> list[Finding]:
    """Return a finding for each strip on which much is left standing, the worst first."""
    standing = sorted(found.standing, key=lambda one: -one.height)
    # A closing is nowhere steeper than what it closes, so that a surface that follows the cutter stops no grain.
    follow = f"let the surface follow the cutter, which raises such places: {setting('cutter.fit', 'true')}"
    cure = if_told(lambda: ways(coarser_before_gentler(front) or _smaller(front, found), follow)) if standing else ""
    return [_standing_finding(front, found.laid[one.face], one, cure) for one in standing]


def _standing_finding(front: Front, face: Face, one: Standing, cure: str) -> Finding:
    show, fine = front.job.ruler.text, front.job.ruler.fine
    look, most = front.job.limit("left_standing"), front.job.limit("left_standing_most")
    stops = one.height > most.value
    limit = most if stops else look
    about = "about " if front.surface.shortest < _ABOUT else ""
    x = float(face.on_front(np.array([one.x]))[0])
    from_top, from_left = one.strip.top - one.y, min(max(x - one.strip.left, 0.0), one.strip.width)
    return Finding(
        "cutter",
        Weight.STOPS if stops else Weight.LOOK,
        f"The {_tool(front)} leaves {about}{fine(one.height)} standing on strip {one.strip.number}, {show(from_top)} from the top "
        f"and {show(from_left)} from its left edge{_hollow(front, face, one)}; at most {_area(front, one.area)} of this strip stay "
        f"more than {fine(look.value)} too high.",
        topic="left standing",
        strip=one.strip.number,
        door=one.strip.door,
        from_top=from_top,
        from_left=from_left,
        value=one.height,
        limit=limit.value,
        source=limit.source,
        cure=cure,
    )


def _area(front: Front, area: float) -> str:
    return f"{area / 100.0:.1f} sq cm" if front.job.unit is Unit.MM else f"{area / MM_PER_INCH**2:.2f} sq in"


def _hollow(front: Front, face: Face, one: Standing) -> str:
    """Return in words how tight the hollow is where the most is left standing; "" where that is no hollow."""
    base = base_at(face, one.x, one.y)
    x, y = (
        np.clip(place + np.array([-base, 0.0, base]), grid[0], grid[-1])
        for place, grid in ((one.x, face.x), (one.y, face.y))
    )
    z = face.surface.at(face.on_front(x)[None, :], y[:, None])
    across = (z[1, 2] + z[1, 0] - 2.0 * z[1, 1]) / base**2
    along = (z[2, 1] + z[0, 1] - 2.0 * z[1, 1]) / base**2
    twist = (z[2, 2] + z[0, 0] - z[0, 2] - z[2, 0]) / (4.0 * base**2)
    bend, where = (across + along) / 2.0 + math.hypot((across - along) / 2.0, twist), ""
    if _with_disc(front):
        rim, whole = face.body.extent
        bend, where = (along, " along the strip") if along * whole > across * rim else (across, " across the strip")
    return (
        f", in a hollow of {front.job.ruler.text(1.0 / bend, 0 if bend < 0.1 else 1)} radius{where}"
        if bend > 1e-4
        else ""
    )


def _smaller(front: Front, found: _Found) -> str:
    """Return in words the largest smaller cutter that is sold and leaves nothing to say on any strip; "" for none.

    A smaller body of the same kind reaches all that a larger one reaches, so that only the places where the larger one
    leaves too much are looked at; a ball instead of a disc is tried on every strip.
    """
    cutter = front.job.cutter
    if cutter.shape is CutterShape.BALL:
        return _ball(front, found, "take a smaller ball", "")
    return _smaller_disc(front, found) or _ball(
        front, found, "take a ball-ended cutter instead", setting("cutter.shape", '"ball"')
    )


def _smaller_disc(front: Front, found: _Found) -> str:
    """Return in words the largest disc that is sold, held upright, that follows every hollow with its margin; "" for none."""
    cutter, limit = front.job.cutter, front.job.limit("left_standing").value
    tilted = cutter.tilt < 90
    smaller = [one for one in _sold(front, "disc") if one < cutter.radius - 1e-6]
    # The same disc held upright needs none to be bought.
    radii = [one for one in ([cutter.radius] if tilted else []) + smaller if not _is_tight(front.job, found, one)]
    discs = [Disc(radius, min(cutter.edge, radius)) for radius in radii]
    which = first_that_clears(found.laid, _places(found), discs, limit)
    if which is None:
        return ""
    upright = f" and hold it upright, {setting('cutter.tilt', '90')}" if tilted else ""
    return f"take a disc of {_diameter(front, radii[which])}, {setting('cutter.radius', length(front.job, radii[which]))}{upright}"


def _is_tight(job: Job, found: _Found, radius: float) -> bool:
    """Whether any strip that was spoken of has a hollow that is tight for an upright disc, were nothing left standing."""
    limit = job.limit("left_standing").value
    return any(next(tight_hollows(band, _needed(job, radius), limit), None) for band in found.bands)


def _ball(front: Front, found: _Found, words: str, shape: str) -> str:
    """Return in words the largest ball that is sold and leaves no more than the limit; "" for none."""
    cutter, limit = front.job.cutter, front.job.limit("left_standing").value
    places = _places(found)
    if shape:
        places += [
            (number, (slice(0, len(face.y)), part))
            for number, face in enumerate(found.laid)
            for part in columns_of(face)
        ]
    radii = [one for one in _sold(front, "ball") if one < cutter.radius - 1e-6]
    which = first_that_clears(found.laid, places, [Ball(radius) for radius in radii], limit)
    if which is None:
        return ""
    size = setting("cutter.radius", length(front.job, radii[which]))
    return f"{words}, of {_diameter(front, radii[which])}: {shape + ' and ' if shape else ''}{size}"


def _places(found: _Found) -> list[tuple[int, Window]]:
    return [(one.face, one.window) for one in found.standing]


def _sold(front: Front, what: str) -> list[float]:
    """Return the radii of the cutters that can be had, mm, the largest first: those that the job names, or the usual ones."""
    cutter, inches = front.job.cutter, front.job.unit is Unit.INCH
    if cutter.sizes and cutter.shape.value == what:
        sizes = list(cutter.sizes)
    else:
        sizes = [one * front.job.unit.in_mm for one in rule_values(f"{what}_sizes{'_inch' if inches else ''}")]
    return sorted((size / 2.0 for size in sizes), reverse=True)


def _diameter(front: Front, radius: float) -> str:
    return front.job.ruler.text(2.0 * radius, 3)


def _tight_findings(front: Front, found: _Found) -> list[Finding]:
    """Return a finding for each strip with a hollow that is tight for the disc, the tightest first."""
    tight = sorted(found.tight, key=lambda one: one.radius)
    cure = if_told(lambda: _tight_cure(front, found, tight[0].radius)) if tight else ""
    return [_tight_finding(front, one, cure) for one in tight]


def _tight_finding(front: Front, one: Tight, cure: str) -> Finding:
    show, cutter, needed = front.job.ruler.text, front.job.cutter, _needed(front.job)
    from_top = one.strip.top - one.y
    tilted = f" tilted {cutter.tilt:g} degrees" if cutter.tilt < 90 else ""
    return Finding(
        "cutter",
        Weight.LOOK,
        f"The hollow along strip {one.strip.number}, {show(from_top, 0)} from the top at its {_LINES[one.line]}, has a radius "
        f"of {show(one.radius)}: a disc of radius {show(cutter.radius)}{tilted} wants {show(needed)} or more.",
        topic="tight hollow",
        strip=one.strip.number,
        door=one.strip.door,
        from_top=from_top,
        from_left=one.strip.width * one.line / 2,
        value=one.radius,
        limit=needed,
        source=front.job.limit("disc_margin").source,
        cure=cure,
    )


def _tight_cure(front: Front, found: _Found, radius: float) -> str:
    """Return how to hold the disc, which disc follows all hollows with its margin, and how else waves would have to be.

    `radius` is that of the tightest hollow, mm.
    """
    if coarser := coarser_before_gentler(front):
        return ways(coarser)
    cutter, needed = front.job.cutter, _needed(front.job)
    sine = needed * math.sin(math.radians(cutter.tilt)) / radius
    hold = ""
    if sine <= 1.0 and not found.standing:
        tilt = math.ceil(math.degrees(math.asin(sine)) + 1e-6)
        hold = f"hold the disc nearer to upright: {setting('cutter.tilt', str(tilt))}" if tilt <= 90 else ""
    gentler = [] if found.standing else _gentler(front, needed / radius)
    return ways(hold or _smaller_disc(front, found), *gentler) or "Draw the hollows wider or shallower there."


def _gentler(front: Front, times: float) -> list[str]:
    """Return how much longer, or how deep, waves leave nothing to say: radius grows with the square of their length. Each was tried."""

    def holds(trial: Trial | None) -> bool:
        if trial is None:
            return False
        job = without_pulls(trial.job)
        surface = make_surface(job, front.layout, trial.surface) if trial.job.pulls else trial.surface
        found = _looked_over(job, front.layout, surface)
        return not found.standing and not found.tight

    ruler, deep = front.job.ruler, depth_of(front)
    stretch = first_that_holds(
        (math.ceil(math.sqrt(times) * more * 100.0 - 1e-6) / 100.0 for more in _MORE),
        lambda value: holds(with_stretch(front, value)),
    )
    depth = first_that_holds(
        (ruler.down(deep / (times * more)) for more in _MORE),
        lambda value: value > 0.0 and holds(with_depth(front, value)),
    )
    return [*([stretched(stretch)] if stretch else []), *([carved_to(front.job, depth)] if depth else [])]


def _change(front: Front) -> Finding:
    """Return how much the designed surface was raised to what the cutter can leave."""
    designed = designed_of(front.surface)
    most, places, raised, where = 0.0, 0, 0, None
    for strip in front.strips():
        above = strip.heights - designed.at(strip.x[None, :], strip.y[:, None])
        places, raised = places + above.size, raised + int((above > 0.0).sum())
        if above.max() > most:
            most, where = float(above.max()), (strip, float(strip.from_top[int(above.argmax()) // above.shape[1]]))
    if where is None:
        words = f"The {_tool(front)} follows the designed surface everywhere: cutter.fit = true changes nothing."
        return Finding("cutter", Weight.KNOW, words, topic="fit")
    strip, from_top = where
    show = front.job.ruler.text
    return Finding(
        "cutter",
        Weight.KNOW,
        f"The designed surface was raised to what the {_tool(front)} can leave: by {show(most, 2)} at most, on strip "
        f"{strip.number}, {show(from_top)} from the top, and at all on {100.0 * raised / places:.2g} % of the face.",
        topic="fit",
        strip=strip.number,
        door=strip.place.door,
        from_top=from_top,
        value=most,
        source="measured on the surface",
    )
