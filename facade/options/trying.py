"""One variant: what comes of it, in figures and in a picture; each by itself, so that any number of processes can share the work."""

from __future__ import annotations

import copy
from collections.abc import Mapping
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

import numpy as np

from facade.arrays import Array
from facade.checks import Weight, check_front
from facade.checks.asking import asking
from facade.errors import FacadeError
from facade.front import Front, build_front
from facade.job import make_job
from facade.job.places import Point, put

_COARSE = 3.0  # mm between heights while variants are only sifted
_ACROSS, _ALONG = 26, 22  # places at which the shapes of two variants are compared
_BANDS = 6


@dataclass(frozen=True)
class Trial:
    """What is to be tried: a job's settings as read from TOML, where its files are, and the variant's own values."""

    settings: Mapping[str, Any]
    name: str
    folder: Path | None
    point: Point

    def front(self, step: float | None = None) -> Front:
        """Return the variant's front, its heights no finer than `step` mm; raises JobError for one that cannot be."""
        settings = copy.deepcopy(dict(self.settings))
        put(settings, self.point)
        front = build_front(make_job(settings, name=self.name, folder=self.folder))
        if step is None or front.job.sampling.step >= step:
            return front
        sampling = front.job.sampling.model_copy(update={"step": step})
        return replace(front, job=front.job.model_copy(update={"sampling": sampling}))


@dataclass(frozen=True)
class Figures:
    """What a variant is in figures; lengths in mm, wood of the blanks in mm3, slopes in degrees, waste as a share of the blanks."""

    strips: int
    depth: float
    thinnest: float
    steepest: float
    waste: float
    blanks: float


@dataclass(frozen=True)
class Tried:
    """What came of a variant: its mark and figures, what stops it in sentences, how much else there is to look at, and its shape.

    `refused` says why there is no such front; then there is nothing else.
    """

    point: Point
    mark: str = ""
    figures: Figures | None = None
    stops: tuple[str, ...] = ()
    looks: int = 0
    shape: Array | None = None
    refused: str = ""

    @property
    def can_be_made(self) -> bool:
        """Whether it is a front that nothing stops."""
        return not self.refused and not self.stops


@dataclass(frozen=True)
class Shown:
    """A variant as it is shown: all heights taken, checked as `facade check` does, and its picture as PNG."""

    tried: Tried
    front: Front
    picture: bytes
    contrast: float


def sift(trial: Trial) -> Tried:
    """Return what comes of a variant, from coarse heights."""
    try:
        front = trial.front(_COARSE)
    except FacadeError as error:
        return Tried(trial.point, refused=str(error).splitlines()[0])
    return replace(_tried(front, trial.point), shape=shape_of(front))


def show(work: tuple[Trial, float]) -> Shown:
    """Return a variant as it is shown, its picture at so many pixels to the mm."""
    from facade.pictures.canvas import frame_for
    from facade.pictures.front import painted, png_of

    trial, scale = work
    front = trial.front()
    margins = frame_for(front.layout, 1000)
    width = margins.columns * margins.pixel * scale
    found = painted(front, frame_for(front.layout, max(60, round(width))), front.job.picture)
    return Shown(_tried(front, trial.point), front, png_of(found.pixels), found.contrast)


def _tried(front: Front, point: Point) -> Tried:
    with asking():
        findings = check_front(front)
    measures = front.measures()
    lowest = min(one.thinnest.height for one in measures)
    wood = front.job.blank * sum(one.width * one.length for one in measures)
    figures = Figures(
        strips=len(front.numbers),
        depth=max(one.thickest.height for one in measures) - lowest,
        thinnest=lowest,
        steepest=max(one.grain.steepest.degrees for one in measures),
        waste=1.0 - sum(one.solid.volume for one in measures) / wood,
        blanks=wood,
    )
    stops = tuple(finding.sentence for finding in findings if finding.stops)
    return Tried(point, front.mark, figures, stops, sum(finding.weight is Weight.LOOK for finding in findings))


def shape_of(front: Front) -> Array:
    """Return what tells a shape from others, (n,): its heights, how much of it is in waves of each size, its slopes and depth."""
    layout, surface = front.layout, front.surface
    x, y = np.linspace(0.0, layout.width, _ACROSS), np.linspace(0.0, layout.height, _ALONG)
    z = surface.at(x[None, :], y[:, None])
    thick = max(front.job.wood.blank, 1e-9)
    level = z - z.mean()
    spread = float(level.std())
    heights = level.ravel() / max(spread, 1e-9) / np.sqrt(level.size) if spread > 1e-9 else level.ravel() * 0.0
    up, right = np.gradient(z, y, x)
    slopes = np.array([np.abs(up).mean(), np.abs(right).mean()]) * 4.0
    return np.concatenate([heights, _waves(level), slopes, [np.ptp(z) / thick, front.count / 200.0]])


def _waves(level: Array) -> Array:
    """Return the share of a shape that is in waves of each size, from the longest to the shortest."""
    power = np.abs(np.fft.rfft2(level)) ** 2
    often = np.hypot(np.fft.fftfreq(_ALONG)[:, None] * _ALONG, np.fft.rfftfreq(_ACROSS)[None, :] * _ACROSS)
    band = np.clip(np.floor(np.log2(np.maximum(often, 1e-9)) * 2.0), -1, _BANDS - 1).astype(int) + 1
    shares = np.bincount(band.ravel(), weights=power.ravel(), minlength=_BANDS + 1)
    return np.asarray(shares / max(float(shares.sum()), 1e-12))
