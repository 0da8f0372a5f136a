"""From a job to a few options that differ: vary, sift by the checks, choose the most different, show them."""

from __future__ import annotations

import string
import tomllib
from collections.abc import Callable, Iterable, Iterator, Sequence
from concurrent.futures import Executor
from dataclasses import dataclass
from pathlib import Path
from typing import Any, TypeVar

import numpy as np

from facade.errors import FacadeError
from facade.front import Front
from facade.job import Job
from facade.job.places import Point
from facade.options.choosing import most_different
from facade.options.space import Axis, default_axes, points, read_axis
from facade.options.trying import Shown, Trial, Tried, show, sift
from facade.processes import shared_out

LETTERS = string.ascii_uppercase
MOST_SHOWN = 12
_PICTURE = 620  # pixels that the widest option is wide
Progress = Callable[[int, int], None]
_Given = TypeVar("_Given")
_Made = TypeVar("_Made")


@dataclass(frozen=True)
class Option:
    """An option under its letter; the first is the job as it stands."""

    letter: str
    shown: Shown

    @property
    def point(self) -> Point:
        """Its own values; none for the job as it stands."""
        return self.shown.tried.point

    @property
    def front(self) -> Front:
        """Its front."""
        return self.shown.front


@dataclass(frozen=True)
class Options:
    """Options that differ, of a job; how many variants were tried, and how many of these cannot be made."""

    job: Job
    options: tuple[Option, ...]
    tried: int
    unmade: int


def axes_of(job: Job, vary: Sequence[str]) -> list[Axis]:
    """Return what is varied of a job that was read from a file; raises FacadeError where nothing can be."""
    settings = settings_of(job)
    axes = [read_axis(one, settings, job.unit) for one in vary] or default_axes(job, settings)
    if not axes:
        raise FacadeError(
            "`--vary` must say what may differ, since this relief has no lengths, directions or seed: carving.depth=4..9, say"
        )
    twice = {axis.path for axis in axes if sum(other.path == axis.path for other in axes) > 1}
    if twice:
        raise FacadeError("`--vary` must name each field once")
    return axes


def settings_of(job: Job) -> dict[str, Any]:
    """Return the settings of a job as they stand in its file; raises FacadeError for a job that was read from none."""
    if job.text is None:
        raise FacadeError("only a job that was read from a file has options")
    return tomllib.loads(job.text)


def explore(
    job: Job,
    axes: Sequence[Axis],
    *,
    folder: Path | None = None,
    count: int = 24,
    shown: int = 6,
    seed: int = 1,
    everything: bool = False,
    executor: Executor | None = None,
    progress: Progress | None = None,
) -> Options:
    """Return the most different options of a job, the job itself first.

    `count` variants are tried; unless `everything` is asked for, those that a check stops are left out. Work is shared by the processes of
    this machine, or by an `executor` as of a cluster; the result is the same. The same seed gives the same options.
    """
    settings = settings_of(job)
    varied = points(axes, count, seed, job.unit)
    trials = [Trial(settings, job.name, folder, point) for point in ((), *varied)]
    total = len(trials) + min(shown, len(trials))
    tried = list(_told(_mapped(sift, trials, executor), progress, 0, total))
    possible = [0] + [
        index for index, one in enumerate(tried) if index and not one.refused and (everything or one.can_be_made)
    ]
    shapes = [_with_values(tried[index], axes, job) for index in possible]
    chosen = [possible[index] for index in most_different(shapes, shown)]
    scale = _PICTURE / max(job.front.width, 1e-9)
    pictures = _mapped(show, [(trials[index], scale) for index in chosen], executor)
    found = list(_told(pictures, progress, len(trials), total))
    kept = [one for index, one in enumerate(found) if not index or everything or one.tried.can_be_made]
    options = tuple(Option(letter, one) for letter, one in zip(LETTERS, kept, strict=False))
    return Options(job, options, len(varied), sum(not one.can_be_made for one in tried[1:]))


def _with_values(tried: Tried, axes: Sequence[Axis], job: Job) -> np.ndarray:
    """Return a shape with the values that a shape does not show: words such as a species, each a step from the others."""
    assert tried.shape is not None
    held = dict(tried.point)
    words = [
        [float(value == held.get(axis.path)) for value in axis.values] for axis in axes if axis.path[-1] in ("species",)
    ]
    return np.concatenate([tried.shape, *(np.array(one) for one in words)])


def _mapped(work: Callable[[_Given], _Made], given: Sequence[_Given], executor: Executor | None) -> Iterable[_Made]:
    return shared_out(work, given) if executor is None else executor.map(work, given)


def _told(made: Iterable[_Made], progress: Progress | None, before: int, total: int) -> Iterator[_Made]:
    for done, one in enumerate(made, start=before + 1):
        if progress:
            progress(done, total)
        yield one
