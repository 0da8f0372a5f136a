"""Thickness: is any place of a strip too thin to hold, for the way it is fixed, at its arrises, its ends and its lands?"""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Iterable, Iterator
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from facade.arrays import Array
from facade.checks.finding import Finding, Weight
from facade.checks.trying import Change, Ways, asked, land_over, raised_floor, tried, with_cures, with_gentle_land
from facade.checks.words import place, told_apart
from facade.front import Front
from facade.job import Fit, Job, Land, Pull
from facade.job.bench import Held
from facade.job.limits import Limit
from facade.layout import StripPlace
from facade.lengths import Ruler
from facade.measuring import Measures
from facade.slicer import Spot, Strip
from facade.surface import Surface, land_share, pulled

# Wood thinner than this, mm, is neither ripped nor planed by machine: common practice.
_MACHINED = 6.0
_PLACES = ("thin_edge", "thin_end")
# Lands are looked at so finely, mm: they are level, or as smooth as the relief.
_LAND_STEP = 2.0

_FIXED = {
    Held.SCREWS: ("thin_screwed", "is thin for a strip held by screws"),
    Held.GLUE: ("thin_glued", "is thin even for a strip that is glued"),
    Held.BEAD: ("thin_glued", "is thin even for a strip that is glued along its middle"),
}


# A land is a cure for one place, no more than so much of a strip, on so few strips: otherwise the floor is.
_MOST_OF_STRIP, _FEW_STRIPS = 0.34, 3
_AROUND = 2.0  # mm that a land reaches beyond the places that are too thin


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


@dataclass(frozen=True)
class _Spots:
    """The thinnest places of a strip: of all, along its arrises, at its ends."""

    all: Spot
    edge: Spot
    end: Spot


def check(front: Front) -> list[Finding]:
    """Return the strips that are too thin somewhere, each by its heaviest complaint.

    Under a finger pull the check of pulls says how much wood must be left: here such places do not count.
    """
    wanted: dict[int, float] = {}
    found = []
    lands = _thinnest_on_lands(front)
    for one in front.measures():
        complaints = list(_complaints(front.job, _spots(front, one), lands.get(one.number, [])))
        if complaints:
            wanted[one.number] = max(thin.limit.value for thin in complaints)
            found.append(_finding(front.job, one, complaints))
    return with_cures(front, found, lambda worst, some: _ways(front, worst, some, found, wanted))


def _spots(front: Front, one: Measures) -> _Spots:
    place = front.layout.strip(one.number)
    pulls = [
        pull
        for pull in front.job.pulls
        if abs(pull.centre[0] + place.moved - _middle(place)) < (pull.size[0] + place.width) / 2
    ]
    if not pulls:
        return _Spots(one.thinnest, one.thinnest_edge, one.thinnest_end)
    strip = front.strip(one.number)
    heights = _beside_pulls(strip, pulls)
    across = np.arange(len(strip.x))
    return _Spots(
        _spot(strip, heights, np.arange(len(strip.y)), across),
        _spot(strip, heights, np.arange(len(strip.y)), across[[0, -1]]),
        _spot(strip, heights, np.array([0, len(strip.y) - 1]), across),
    )


def _middle(place: StripPlace) -> float:
    return (place.left + place.right) / 2


def _beside_pulls(strip: Strip, pulls: Iterable[Pull]) -> Array:
    """Return a strip's heights, infinite where pulls are carved."""
    return np.where(pulled(pulls, strip.x[None, :] - strip.place.moved, strip.y[:, None]), np.inf, strip.heights)


def _spot(strip: Strip, heights: Array, rows: NDArray[np.intp], columns: NDArray[np.intp]) -> Spot:
    """Return the thinnest of some rows and columns."""
    part = heights[np.ix_(rows, columns)]
    row, column = divmod(int(part.argmin()), part.shape[1])
    return Spot(
        float(strip.place.top - strip.y[rows[row]]),
        float(strip.x[columns[column]] - strip.place.left),
        float(part[row, column]),
    )


def _complaints(job: Job, spots: _Spots, lands: list[tuple[int, Spot]]) -> Iterator[_Thin]:
    """Yield every limit that a strip is below."""
    fixed, words = _FIXED[job.fixing.by]
    asked = [
        _Thin(Weight.STOPS, job.limit("thin_least"), spots.all, "breaks in the hand"),
        _Thin(Weight.LOOK, job.limit(fixed), spots.all, words),
        _Thin(Weight.LOOK, job.limit("thin_edge"), spots.edge, "chips and splits along an arris"),
        _Thin(Weight.LOOK, job.limit("thin_end"), spots.end, "breaks at an end, where clamps and hands are"),
    ]
    for number, spot in lands:
        words = f"is thin for what is screwed to land {number}"
        asked.append(_Thin(Weight.LOOK, job.limit("thin_screwed"), spot, words, number))
    return (thin for thin in asked if thin.spot.height < thin.limit.value - 1e-6)


def _finding(job: Job, one: Measures, complaints: list[_Thin]) -> Finding:
    """Return the heaviest complaint about a strip."""
    # What holds all over a strip comes before what holds at its arrises and ends.
    worst = max(complaints, key=lambda thin: (thin.weight is Weight.STOPS, thin.limit.name not in _PLACES, thin.short))
    spot, limit = worst.spot, worst.limit
    thick, least = told_apart(job.ruler, spot.height, limit.value)
    return Finding(
        "thickness",
        worst.weight,
        f"Strip {one.number} is {thick} thick {place(job.ruler, spot.from_top, spot.from_left)}: "
        f"less than {least} {worst.words}.",
        topic=f"{limit.name} land {worst.land}" if worst.land else limit.name,
        strip=one.number,
        door=one.door,
        from_top=spot.from_top,
        from_left=spot.from_left,
        value=spot.height,
        limit=limit.value,
        source=limit.source,
        caution=_caution(job.ruler) if spot.height < _MACHINED else "",
    )


def _caution(ruler: Ruler) -> str:
    return (
        f"Nothing thinner than {ruler.text(_MACHINED)} is ripped between fence and blade or run through a planer: it is drawn in, "
        "breaks and is thrown back (kickback). Thin it last, by carving, held along its whole length; the machine's manual, "
        "local rules and trained practice come first."
    )


# What makes it thicker.


def _ways(front: Front, worst: Finding, some: list[Finding], found: list[Finding], wanted: dict[int, float]) -> Ways:
    """Return what makes all strips thick enough, whatever is found of them, and what does so at the worst place of a kind."""
    job = front.job
    least = job.ruler.up(max(wanted.values()))
    if least > job.highest - 1e-6:
        # Carved as deep as now.
        blank = job.ruler.up(least + job.wood.blank - job.wood.floor)
        return [raised_floor(job, least).also({"wood.blank": blank}).words(job)], []
    strips = [one.strip for one in found if one.strip is not None]
    everywhere = [raised_floor(job, least)]
    if job.carving.fit is Fit.DEPTH:
        gentler = [
            change
            for change in _as_deep(job, least, min(_lowest(one) for one in found))
            if _cleared(front, change, worst, strips)
        ]
        everywhere = gentler or everywhere
    here = _on_its_land(front, worst, least)
    if not here and len(some) <= _FEW_STRIPS:
        here = _land_there(front, worst, job.ruler.up(wanted[worst.strip or 0]))
    return [change.words(job) for change in everywhere], [change.words(job) for change in here]


def _lowest(one: Finding) -> float:
    return one.value if one.value is not None else 0.0


def _as_deep(job: Job, least: float, thinnest: float) -> Iterator[Change]:
    """Yield a thicker blank carved as deep as now, and a shallower relief, whose thinnest place is then thick enough."""
    yield Change({"wood.blank": job.ruler.up(job.wood.blank + least - thinnest)})
    share = (job.highest - least) / (job.highest - thinnest)
    shallow = job.ruler.down(share * float(job.carving.depth or 0.0))
    if shallow > 0.0:
        yield Change({"carving.depth": shallow})


def _on_its_land(front: Front, worst: Finding, least: float) -> list[Change]:
    """Return the height of the land that the thin place is on, where that cures it."""
    strip = front.layout.strip(worst.strip or 1)
    x, y = (
        np.array([[strip.left - strip.moved + (worst.from_left or 0.0)]]),
        np.array([[strip.top - (worst.from_top or 0.0)]]),
    )
    for number, land in enumerate(front.job.lands, start=1):
        if land.height is not None and land.height < least and float(land_share(land, x, y)[0, 0]) == 1.0:
            change = Change({f"lands[{number}].height": least})
            return [change] if _cleared(front, change, worst, [strip.number]) else []
    return []


def _land_there(front: Front, worst: Finding, least: float) -> list[Change]:
    """Return a land that covers all that is too thin on the worst strip, where that is no more than one place."""
    strip = front.strip(worst.strip or 1)
    thin = np.flatnonzero((_beside_pulls(strip, front.job.pulls) < least - 1e-6).any(axis=1))
    if not len(thin):
        return []
    ruler, place, whole = front.job.ruler, strip.place, front.layout
    low, high = max(float(strip.y[thin[0]]) - _AROUND, 0.0), min(float(strip.y[thin[-1]]) + _AROUND, whole.height)
    left, right = max(place.left - _AROUND, 0.0), min(place.right + _AROUND, whole.width)
    if high - low > _MOST_OF_STRIP * strip.length:
        return []
    change = Change(tables=[("lands", land_over(ruler, (left, right), (low, high), least))])
    gentle = with_gentle_land(front, change)
    return [gentle[0]] if gentle and _is_cleared(gentle[1], worst, [strip.number]) else []


def _cleared(front: Front, change: Change, worst: Finding, strips: list[int]) -> bool:
    """Return whether a change clears a kind of finding on these strips."""
    after = tried(front, change)
    return after is not None and _is_cleared(after, worst, strips)


def _is_cleared(after: Front, worst: Finding, strips: list[int]) -> bool:
    return not any(one.topic == worst.topic or one.stops for one in asked(after, check, strips))


def _thinnest_on_lands(front: Front) -> dict[int, list[tuple[int, Spot]]]:
    """Return by strip the lands on it, counted from 1, with the thinnest place on each."""
    found: dict[int, list[tuple[int, Spot]]] = defaultdict(list)
    for number, land in enumerate(front.job.lands, start=1):
        for strip in front.layout.strips:
            spot = _thinnest_on(front.surface, land, strip, front.job.pulls)
            if spot is not None:
                found[strip.number].append((number, spot))
    return found


def _thinnest_on(surface: Surface, land: Land, strip: StripPlace, pulls: Iterable[Pull]) -> Spot | None:
    """Return the thinnest place of a strip's part of a land; None where they do not meet."""
    x = _places(strip.left, strip.right, land.centre[0] + strip.moved, land.size[0])
    y = _places(strip.bottom, strip.top, land.centre[1], land.size[1]) if len(x) else x
    if not len(y):
        return None
    x, y = x[None, :], y[:, None]
    counts = (land_share(land, x - strip.moved, y) == 1.0) & ~pulled(pulls, x - strip.moved, y)
    heights = np.where(counts, surface.at(x, y), np.inf)
    row, column = divmod(int(heights.argmin()), heights.shape[1])
    height = float(heights[row, column])
    if math.isinf(height):
        return None
    return Spot(float(strip.top - y[row, 0]), float(x[0, column] - strip.left), height)


def _places(first: float, last: float, centre: float, size: float) -> Array:
    """Return places of a land that lie between `first` and `last`, the outermost among them."""
    low, high = max(first, centre - size / 2.0), min(last, centre + size / 2.0)
    return np.linspace(low, high, math.ceil((high - low) / _LAND_STEP) + 1) if low < high else np.empty(0)
