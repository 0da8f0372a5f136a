"""Thickness: is any place of a strip too thin to hold, for the way it is fixed, at its arrises, its ends and its lands?"""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from facade.arrays import Array
from facade.checks.finding import Finding, Weight
from facade.checks.words import at_least, at_most, place, told_apart
from facade.front import Front
from facade.job import Fit, Job, Land
from facade.job.bench import Held
from facade.job.limits import Limit
from facade.layout import StripPlace
from facade.lengths import Ruler
from facade.measuring import Measures
from facade.slicer import Spot
from facade.surface import Surface, land_share

# Wood thinner than this, mm, is neither ripped nor planed by machine: common practice.
_MACHINED = 6.0
# Lands are looked at so finely, mm: they are level, or as smooth as the relief.
_LAND_STEP = 2.0

_FIXED = {
    Held.SCREWS: ("thin_screwed", "is thin for a strip held by screws"),
    Held.GLUE: ("thin_glued", "is thin even for a strip that is glued"),
    Held.BEAD: ("thin_glued", "is thin even for a strip that is glued along its middle"),
}


@dataclass(frozen=True)
class _Thin:
    """A complaint: a limit that a place of a strip is below, and what comes of it; `land` counts from 1."""

    weight: Weight
    limit: Limit
    spot: Spot
    words: str
    land: int | None = None

    @property
    def short(self) -> float:
        """What is missing, as a share of the limit."""
        return 1.0 - self.spot.height / self.limit.value


def check(front: Front) -> list[Finding]:
    """Return the strips that are too thin somewhere, each by its heaviest complaint."""
    lands = _thinnest_on_lands(front)
    found = []
    for one in front.measures():
        complaints = list(_complaints(front.job, one, lands.get(one.number, [])))
        if complaints:
            found.append(_finding(front.job, one, complaints))
    return found


def _complaints(job: Job, one: Measures, lands: list[tuple[int, Spot]]) -> Iterator[_Thin]:
    """Yield every limit that a strip is below."""
    fixed, words = _FIXED[job.fixing.by]
    asked = [
        _Thin(Weight.STOPS, job.limit("thin_least"), one.thinnest, "breaks in the hand"),
        _Thin(Weight.LOOK, job.limit(fixed), one.thinnest, words),
        _Thin(Weight.LOOK, job.limit("thin_edge"), one.thinnest_edge, "chips and splits along an arris"),
        _Thin(Weight.LOOK, job.limit("thin_end"), one.thinnest_end, "breaks at an end, where clamps and hands are"),
    ]
    for number, spot in lands:
        words = f"is thin for what is screwed to land {number}"
        asked.append(_Thin(Weight.LOOK, job.limit("thin_screwed"), spot, words, number))
    return (thin for thin in asked if thin.spot.height < thin.limit.value - 1e-6)


def _finding(job: Job, one: Measures, complaints: list[_Thin]) -> Finding:
    """Return the heaviest complaint about a strip, with a cure that meets all of them."""
    worst = max(complaints, key=lambda thin: (thin.weight is Weight.STOPS, thin.short))
    spot, limit = worst.spot, worst.limit
    thick, least = told_apart(job.ruler, spot.height, limit.value)
    wanted = max(thin.limit.value for thin in complaints)
    return Finding(
        "thickness",
        worst.weight,
        f"Strip {one.number} is {thick} thick {place(job.ruler, spot.from_top, spot.from_left)}: "
        f"less than {least} {worst.words}.",
        topic=f"{limit.name} land" if worst.land else limit.name,
        strip=one.number,
        door=one.door,
        from_top=spot.from_top,
        from_left=spot.from_left,
        value=spot.height,
        limit=limit.value,
        source=limit.source,
        cure=f"{_land_cure(job, worst.land, wanted) if worst.land else _thicker(job, wanted, one.thinnest.height)}.",
        caution=_caution(job.ruler) if spot.height < _MACHINED else "",
    )


def _caution(ruler: Ruler) -> str:
    return (
        f"Nothing thinner than {ruler.text(_MACHINED)} is ripped between fence and blade or run through a planer: it is drawn in, "
        "breaks and is thrown back (kickback). Thin it last, by carving, held along its whole length; the machine's manual, "
        "local rules and trained practice come first."
    )


def _land_cure(job: Job, land: int, wanted: float) -> str:
    if wanted > job.highest - 1e-6:
        return _thicker(job, wanted, job.highest)
    return f"Give land {land} a height of {at_least(job.ruler, wanted)}, or set wood.floor to that"


def _thicker(job: Job, wanted: float, thinnest: float) -> str:
    """Return in words how a place that is `thinnest` becomes `wanted` mm thick, by how the relief is fitted."""
    ruler = job.ruler
    least, more = at_least(ruler, wanted), at_least(ruler, wanted - thinnest)
    if wanted > job.highest - 1e-6:
        as_deep = at_least(ruler, wanted + job.wood.blank - job.wood.floor)
        return f"Set wood.floor to {least}, and use blanks of {as_deep} to carve as deep as now"
    if job.carving.fit is Fit.FULL:
        cure = f"Set wood.floor to {least}"
    elif job.carving.fit is Fit.DEPTH:
        share = (job.highest - wanted) / (job.highest - thinnest)
        shallow = at_most(ruler, share * float(job.carving.depth or 0.0))
        cure = f"Use blanks {more} thicker, or set carving.depth to {shallow}"
    else:
        cure = f"Give the relief heights that are {more} greater"
    return f"{cure}, or keep a land of {least} there"


def _thinnest_on_lands(front: Front) -> dict[int, list[tuple[int, Spot]]]:
    """Return by strip the lands on it, counted from 1, with the thinnest place on each."""
    found: dict[int, list[tuple[int, Spot]]] = defaultdict(list)
    for number, land in enumerate(front.job.lands, start=1):
        for strip in front.layout.strips:
            spot = _thinnest_on(front.surface, land, strip)
            if spot is not None:
                found[strip.number].append((number, spot))
    return found


def _thinnest_on(surface: Surface, land: Land, strip: StripPlace) -> Spot | None:
    """Return the thinnest place of a strip's part of a land; None where they do not meet."""
    x = _places(strip.left, strip.right, land.centre[0], land.size[0])
    y = _places(strip.bottom, strip.top, land.centre[1], land.size[1]) if len(x) else x
    if not len(y):
        return None
    x, y = x[None, :], y[:, None]
    heights = np.where(land_share(land, x, y) == 1.0, surface.at(x, y), np.inf)
    row, column = divmod(int(heights.argmin()), heights.shape[1])
    height = float(heights[row, column])
    if math.isinf(height):
        return None
    return Spot(float(strip.top - y[row, 0]), float(x[0, column] - strip.left), height)


def _places(first: float, last: float, centre: float, size: float) -> Array:
    """Return places of a land that lie between `first` and `last`, the outermost among them."""
    low, high = max(first, centre - size / 2.0), min(last, centre + size / 2.0)
    return np.linspace(low, high, math.ceil((high - low) / _LAND_STEP) + 1) if low < high else np.empty(0)
