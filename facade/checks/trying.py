"""Trying a cure before it is printed: the changed front, looked at as far as the question goes."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass

import numpy as np

from facade.front import Front
from facade.job import Fit, Job
from facade.measuring.close import PLACES_PER_WAVE, look_closely
from facade.measuring.grain import Grain, grain_of
from facade.reach import reachable
from facade.slicer import Strip, cut_strip
from facade.surface import Surface, make_surface

# Lines along a strip that a changed front is tried on are at most so far apart, mm.
_LINES = 5.0
_MOST_STRETCH = 100.0  # of a layer


@dataclass(frozen=True)
class Trial:
    """A changed job on the layout of a front, with its surface."""

    front: Front
    job: Job
    surface: Surface

    def grains(self) -> Iterator[Grain]:
        """Yield what every strip does along its grain, on a few lines of it."""
        step = min(self.job.sampling.step, 1.0, self.surface.shortest / PLACES_PER_WAVE / 2.0)
        for place in self.front.layout.strips:
            lines = max(3, int(np.ceil(place.width / _LINES)) + 1)
            yield grain_of(self.job, self._cut(place.number, max(step, 0.1), place.width / (lines - 1)))

    def grain_of(self, number: int) -> Grain:
        """Return what one strip does along its grain, looked at as every check looks at it."""
        strip = self._cut(number, self.job.sampling.step, None)
        return grain_of(self.job, look_closely(self.job, self.front.layout, self.surface, strip).strip)

    def _cut(self, number: int, step: float, across: float | None) -> Strip:
        return cut_strip(self.job, self.front.layout, self.surface, number, step, across)


def with_places(front: Front, **changed: object) -> Trial:
    """Return a front with other lands, fades, caps or pulls: its relief is fitted as before."""
    job = front.job.model_copy(update=changed)
    designed = getattr(front.surface, "designed", front.surface)
    return Trial(front, job, reachable(job, front.layout, designed.with_steps_of(job, front.layout)))


def with_stretch(front: Front, times: float) -> Trial | None:
    """Return a front whose layers all have so many times their stretch; None where a layer cannot have it."""
    if max(layer.stretch for layer in front.job.layers) * times > _MOST_STRETCH:
        return None
    layers = tuple(layer.model_copy(update={"stretch": layer.stretch * times}) for layer in front.job.layers)
    return _with_relief(front, front.job.model_copy(update={"layers": layers}))


def with_depth(front: Front, depth: float) -> Trial:
    """Return a front that is carved so deep, from the face down."""
    carving = front.job.carving.model_copy(update={"fit": Fit.DEPTH, "depth": depth})
    return _with_relief(front, front.job.model_copy(update={"carving": carving}))


def _with_relief(front: Front, job: Job) -> Trial:
    return Trial(front, job, reachable(job, front.layout, make_surface(job, front.layout)))


def depth_of(front: Front) -> float:
    """Return how deep the relief is carved, mm: what it asks for, and no more than there is."""
    low, high = front.surface.fitted.reach
    return min(high - low, front.job.highest - front.job.wood.floor)


def first_that_holds(values: Iterable[float], holds: Callable[[float], bool]) -> float | None:
    """Return the first of some values with which a trial holds, None where none does."""
    return next((value for value in values if holds(value)), None)
