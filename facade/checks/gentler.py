"""Trying what makes a relief gentler before it is told: the changed surface on a few lines along each strip, which is quick."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass
from itertools import groupby

import numpy as np

from facade.front import Front
from facade.job import Fit, Job
from facade.measuring.close import PLACES_PER_WAVE, look_closely
from facade.measuring.grain import Grain, grain_of, steepest_of
from facade.reach import designed_of
from facade.reliefs import terms
from facade.slicer import Strip, cut_strip
from facade.surface import Surface, make_surface

# Lines along a strip that a changed front is tried on are at most so far apart, their rows no closer than this, mm.
_LINES, _FINEST = 6.5, 0.1
_MOST_STRETCH = 100.0  # of a layer
_SHORTEST_TRIED = 4.0  # mm: trying changes of shorter waves takes minutes
_MOST_TRIED = 2e7  # heights of a front that show every wave of its relief, times its terms


@dataclass(frozen=True)
class Trial:
    """A changed job on the layout of a front, with its surface as designed: what a cutter fills of it is nowhere steeper."""

    front: Front
    job: Job
    surface: Surface

    def strips(self) -> Iterator[Strip]:
        """Yield every strip on a few lines along it, those of a height all at once."""
        step = max(min(self.job.sampling.step, 1.0, self.surface.shortest / PLACES_PER_WAVE), _FINEST)
        for (bottom, top), some in groupby(self.front.layout.strips, key=lambda place: (place.bottom, place.top)):
            places = list(some)
            lines = [np.linspace(one.left, one.right, max(3, int(np.ceil(one.width / _LINES)) + 1)) for one in places]
            y = np.linspace(bottom, top, max(2, int(np.ceil((top - bottom) / step))) + 1)
            heights = self.surface.at(np.concatenate(lines)[None, :], y[:, None])
            ends = np.cumsum([len(x) for x in lines])
            for place, x, part in zip(places, lines, np.split(heights, ends[:-1], axis=1), strict=True):
                yield Strip(place, x, y, part, self.job.blank, self.job.wood.sanding, self.job.wood.sawing)

    def steepest(self) -> float:
        """Return the steepest slope along the grain on these lines, pulls aside, as mm in a mm."""
        return max(math.tan(math.radians(steepest_of(self.job, strip).degrees)) for strip in self.strips())

    def grains(self) -> Iterator[Grain]:
        """Yield what every strip does along its grain, on these lines."""
        return (grain_of(self.job, strip) for strip in self.strips())

    def grain_of(self, number: int) -> Grain:
        """Return what one strip does along its grain, looked at as every check looks at it."""
        strip = cut_strip(self.job, self.front.layout, self.surface, number)
        return grain_of(self.job, look_closely(self.job, self.front.layout, self.surface, strip).strip)


def with_places(front: Front, **changed: object) -> Trial:
    """Return a front with other lands, fades, caps or pulls: its relief is the same."""
    return _with_relief_of(front, front.job.model_copy(update=changed))


def with_stretch(front: Front, times: float) -> Trial | None:
    """Return a front whose layers all have so many times their stretch; None where a layer cannot have it."""
    if max(layer.stretch for layer in front.job.layers) * times > _MOST_STRETCH:
        return None
    layers = tuple(layer.model_copy(update={"stretch": layer.stretch * times}) for layer in front.job.layers)
    job = front.job.model_copy(update={"layers": layers})
    return Trial(front, job, make_surface(job, front.layout))


def with_depth(front: Front, depth: float) -> Trial:
    """Return a front that is carved so deep, from the face down."""
    carving = front.job.carving.model_copy(update={"fit": Fit.DEPTH, "depth": depth})
    return _with_relief_of(front, front.job.model_copy(update={"carving": carving}))


def _with_relief_of(front: Front, job: Job) -> Trial:
    return Trial(front, job, make_surface(job, front.layout, designed_of(front.surface)))


def depth_of(front: Front) -> float:
    """Return how deep the relief is carved, mm: what it asks for, and no more than there is."""
    low, high = front.surface.fitted.reach
    return min(high - low, front.job.highest - front.job.wood.floor)


def coarser_first(front: Front) -> str:
    """Return what comes before any other cure of a relief whose waves are too short to try cures on, "" for all others."""
    shortest, show = front.surface.shortest, front.job.ruler.text
    if shortest >= _SHORTEST_TRIED:
        return ""
    return (
        f"draw the relief coarser first, with longer waves or fewer sizes of them: it has some of {show(shortest, 3)}, and cures are "
        f"tried from {show(_SHORTEST_TRIED)} on"
    )


def coarser_before_gentler(front: Front) -> str:
    """Return the same where trying a gentler relief or another cutter takes long for all of its front, "" for all others."""
    heights = front.layout.width * front.layout.height * (PLACES_PER_WAVE / front.surface.shortest) ** 2
    return coarser_first(front) if heights * terms(front.job.layers) > _MOST_TRIED else ""


def first_that_holds(values: Iterable[float], holds: Callable[[float], bool]) -> float | None:
    """Return the first of some values with which a trial holds, None where none does."""
    return next((value for value in values if holds(value)), None)
