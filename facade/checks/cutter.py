"""Cutter: where does what shapes the face leave wood standing, and which hollows are tight for a disc?

Finger pulls are left out: they are carved with other tools. Strips that are carved packed tight are looked at as they lie
then, without gaps.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from facade.checks.finding import Finding, Weight
from facade.closing import Ball, Body, Disc
from facade.front import Front
from facade.job.bench import CutterShape
from facade.lengths import MM_PER_INCH, Unit
from facade.measuring.standing import (
    BASE,
    Standing,
    Tight,
    bands,
    columns_of,
    first_that_clears,
    left_standing,
    tight_hollows,
)
from facade.reach import Face, Reachable, body_of, faces, without_pulls
from facade.surface import Surface, make_surface

_STEP = 1.0  # mm between the places that are looked at, whatever the job's own step
_SMALLEST_DISC = 25.0  # mm: radius of a carving disc of 50 mm, the smallest common size (common practice)
_SMALLEST_BALL = 1.0  # mm
_LINES = ("left edge", "middle", "right edge")
_CAUTION = (
    "A grinder kicks back where its disc catches in a tight hollow or an open gap. Keep the guard on and both hands on the "
    "grinder, screw the strip down instead of holding it, and fit only discs that the grinder's maker allows, rated for its "
    "speed. Its manual, trained practice and the rules where you work come first."
)


def check(front: Front) -> list[Finding]:
    """Return what the cutter leaves standing and, for a disc, hollows along a strip that are tight for it.

    Heights are taken every millimetre, more finely for a small cutter: in a tight hollow the grid overstates what is left by
    up to half a step times the slope of its walls. A surface that follows the cutter is only told
    of; the disc then fits its hollows without a margin.
    """
    if front.job.cutter.fit:
        return [_warned(front, _change(front))]
    body, limit = body_of(front.job.cutter), front.job.limit("left_standing").value
    laid = faces(front.job, front.layout, _carved(front), body, _spacing(body))
    standing: list[Standing] = []
    tight: list[Tight] = []
    for number, face in enumerate(laid):
        for band in bands(number, face, limit):
            standing += left_standing(band, limit)
            if _with_disc(front):
                tight += tight_hollows(band, _needed(front), limit)
    found = [*_standing_findings(front, laid, standing), *_tight_findings(front, tight)]
    return [_warned(front, finding) for finding in found[:1]] + found[1:]


def _warned(front: Front, finding: Finding) -> Finding:
    """Return a finding with what to mind where a disc is spoken of."""
    return replace(finding, caution=_CAUTION) if _with_disc(front) else finding


def _with_disc(front: Front) -> bool:
    return front.job.cutter.shape is CutterShape.DISC


def _tool(front: Front) -> str:
    return "disc" if _with_disc(front) else "ball"


def _carved(front: Front) -> Surface:
    """Return the surface that the cutter shapes: without pulls."""
    return make_surface(without_pulls(front.job), front.layout) if front.job.pulls else front.surface


def _spacing(body: Body) -> tuple[float, float]:
    """Return how far apart heights are taken in x and in y: less where the cutter itself is small."""
    across, along = (min(_STEP, max(radius / 3.0, 0.25)) for radius in body.extent)
    return across, along


def _needed(front: Front) -> float:
    """Return the least radius of a hollow along a strip that the disc follows with its margin."""
    cutter = front.job.cutter
    return front.job.limit("disc_margin").value * cutter.radius / math.sin(math.radians(cutter.tilt))


def _standing_findings(front: Front, laid: Sequence[Face], standing: list[Standing]) -> list[Finding]:
    """Return a finding for each strip on which much is left standing, the worst first."""
    standing = sorted(standing, key=lambda one: -one.height)
    cure = _smaller(front, laid, standing) if standing else ""
    return [_standing_finding(front, laid[one.face], one, cure) for one in standing]


def _standing_finding(front: Front, face: Face, one: Standing, cure: str) -> Finding:
    show, look, most = front.job.ruler.text, front.job.limit("left_standing"), front.job.limit("left_standing_most")
    stops = one.height > most.value
    limit = most if stops else look
    x = float(face.on_front(np.array([one.x]))[0])
    from_top, from_left = one.strip.top - one.y, min(max(x - one.strip.left, 0.0), one.strip.width)
    return Finding(
        "cutter",
        Weight.STOPS if stops else Weight.LOOK,
        f"The {_tool(front)} leaves {show(one.height, 2)} standing on strip {one.strip.number}, {show(from_top)} from the top "
        f"and {show(from_left)} from its left edge{_hollow(front, face, one)}; {_area(front, one.area)} of this strip stay "
        f"more than {show(look.value, 2)} too high.",
        topic="left standing",
        strip=one.strip.number,
        door=one.strip.door,
        from_top=from_top,
        from_left=from_left,
        value=one.height,
        limit=limit.value,
        source=limit.source,
        cure=_either(cure, f"set cutter.fit = true, which raises this place by {show(one.height, 2)}"),
    )


def _either(*cures: str) -> str:
    """Return cures as one sentence."""
    text = ", or ".join(filter(None, cures))
    return f"{text[:1].upper()}{text[1:]}." if text else ""


def _area(front: Front, area: float) -> str:
    return f"{area / 100.0:.1f} sq cm" if front.job.unit is Unit.MM else f"{area / MM_PER_INCH**2:.2f} sq in"


def _hollow(front: Front, face: Face, one: Standing) -> str:
    """Return in words how tight the hollow is where the most is left standing; "" where that is no hollow."""
    x, y = (
        np.clip(place + np.array([-BASE, 0.0, BASE]), grid[0], grid[-1])
        for place, grid in ((one.x, face.x), (one.y, face.y))
    )
    z = face.surface.at(face.on_front(x)[None, :], y[:, None])
    across = (z[1, 2] + z[1, 0] - 2.0 * z[1, 1]) / BASE**2
    along = (z[2, 1] + z[0, 1] - 2.0 * z[1, 1]) / BASE**2
    twist = (z[2, 2] + z[0, 0] - z[0, 2] - z[2, 0]) / (4.0 * BASE**2)
    bend, where = (across + along) / 2.0 + math.hypot((across - along) / 2.0, twist), ""
    if _with_disc(front):
        rim, whole = face.body.extent
        bend, where = (along, " along the strip") if along * whole > across * rim else (across, " across the strip")
    return f", in a hollow of {front.job.ruler.text(1.0 / bend, 0)} radius{where}" if bend > 1e-4 else ""


def _smaller(front: Front, laid: Sequence[Face], standing: Sequence[Standing]) -> str:
    """Return in words the largest smaller cutter that leaves less than the limit on every strip; "" for none.

    A smaller body of the same kind reaches all that a larger one reaches, so that only the places where the larger one
    leaves too much are looked at; a ball instead of a disc is tried on every strip.
    """
    cutter, show = front.job.cutter, front.job.ruler.text
    limit = front.job.limit("left_standing").value
    places = [(one.face, one.window) for one in standing]
    clears = f"(cutter.radius), which leaves less than {show(limit, 2)} on every strip"
    if _with_disc(front):
        radii = _radii_down(front, cutter.radius, _SMALLEST_DISC, with_first=cutter.tilt < 90)
        discs = [Disc(radius, min(cutter.edge, radius)) for radius in radii]
        which = first_that_clears(laid, places, discs, limit)
        if which is not None:
            upright = " held upright (cutter.tilt = 90)" if cutter.tilt < 90 else ""
            return f"take a disc{upright} of radius {show(radii[which], 3)} {clears}"
        places += [
            (number, (slice(0, len(face.y)), part)) for number, face in enumerate(laid) for part in columns_of(face)
        ]
    start = min(cutter.radius, _SMALLEST_DISC) if _with_disc(front) else cutter.radius
    radii = _radii_down(front, start, _SMALLEST_BALL, with_first=False)
    which = first_that_clears(laid, places, [Ball(radius) for radius in radii], limit)
    if which is None:
        return ""
    instead = ' (cutter.shape = "ball")' if _with_disc(front) else ""
    return f"take a ball-ended cutter{instead} of radius {show(radii[which], 3)} {clears}"


def _unit(front: Front) -> float:
    """Return what radii are rounded to: 1 mm or 1/16 in."""
    return 1.0 if front.job.unit is Unit.MM else MM_PER_INCH / 16.0


def _radii_down(front: Front, start: float, end: float, *, with_first: bool) -> list[float]:
    """Return round radii from `start` down to `end`."""
    unit = _unit(front)
    count = math.ceil(start / unit - 1e-6)
    round_ones = [number * unit for number in range(count - 1, 0, -1) if number * unit >= end - 1e-6]
    return [start, *round_ones] if with_first else round_ones


def _tight_findings(front: Front, tight: list[Tight]) -> list[Finding]:
    """Return a finding for each strip with a hollow that is tight for the disc, the tightest first."""
    return [_tight_finding(front, one) for one in sorted(tight, key=lambda one: one.radius)]


def _tight_finding(front: Front, one: Tight) -> Finding:
    show, cutter, needed = front.job.ruler.text, front.job.cutter, _needed(front)
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
        cure=_tight_cure(front, one.radius, needed),
    )


def _tight_cure(front: Front, radius: float, needed: float) -> str:
    """Return how to hold the disc, or which disc follows a hollow with its margin, and how else waves would have to be."""
    show, unit, cutter = front.job.ruler.text, _unit(front), front.job.cutter
    sine = needed * math.sin(math.radians(cutter.tilt)) / radius
    if sine <= 1.0:
        upright = (
            f"hold the disc at {math.ceil(math.degrees(math.asin(sine)))} degrees or more to the face (cutter.tilt)"
        )
        return _either(upright, _waves(radius, needed))
    disc = math.floor(radius / front.job.limit("disc_margin").value / unit + 1e-6) * unit
    take = f"take a disc of radius {show(disc, 3)} or less (cutter.radius){', held upright (cutter.tilt = 90)' if cutter.tilt < 90 else ''}"
    return _either(take if disc >= _SMALLEST_DISC else "", _waves(radius, needed))


def _waves(radius: float, needed: float) -> str:
    """Return how much longer or shallower waves would do: radius grows with the square of the length."""
    longer = math.ceil(math.sqrt(needed / radius) * 100.0) / 100.0
    shallower = math.floor(radius / needed * 100.0) / 100.0
    return f"make the waves there {longer:.2f} times as long or {shallower:.2f} times as deep"


def _change(front: Front) -> Finding:
    """Return how much the designed surface was raised to what the cutter can leave."""
    assert isinstance(front.surface, Reachable)
    most, places, raised, where = 0.0, 0, 0, None
    for strip in front.strips():
        above = strip.heights - front.surface.designed.at(strip.x[None, :], strip.y[:, None])
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
