"""Trying changes: drafts made into fronts, roughly while looking and closely in the end; what is known is not asked again."""

from __future__ import annotations

import math
from collections import OrderedDict
from collections.abc import Callable, Iterable
from dataclasses import dataclass
from enum import Enum
from functools import cached_property

import numpy as np

from facade.arrays import Array
from facade.checks import CHECKS, Finding, Weight, check_front
from facade.checks.asking import asking
from facade.doors.pulls import MEASURED, measure_pull
from facade.errors import JobError
from facade.front import Front, build_front, sketch_front
from facade.job import Job
from facade.job.bench import CutterShape, Held
from facade.job.draft import Draft
from facade.measuring import Measures
from facade.measuring.standing import bands, left_standing, tight_hollows
from facade.reach import body_of, faces, without_pulls
from facade.relaxing.moves import Move, deep
from facade.relaxing.seen import Moved, Places, Seen, how_far
from facade.surface import make_surface

_KEPT = 6  # trials of which the fronts are kept
_OF_SURFACE = ("cutter", "swing", "lands and pulls")  # checks that ask the surface and not the strips
# A move counts on what those before it have made of the draft: depth on the floor, lands on both.
_ORDER = (
    "FitCutter",
    "Stretch",
    "Floor",
    "Depth",
    "Caps",
    "Lands",
    "Bars",
    "Pulls",
    "UnderPulls",
    "UnderShallowPulls",
    "MendPulls",
)


class Level(Enum):
    """How finely a trial is looked at: the distance of heights in mm; the front itself in the end."""

    ROUGH = 2.0
    CLOSE = 1.0
    REAL = 0.0


@dataclass(frozen=True)
class Target:
    """What is to be cleared: findings of a check on one topic, those that stop, or those to look at too."""

    check: str
    topic: str
    stops: bool

    def has(self, finding: Finding) -> bool:
        """Whether a finding is one of these."""
        weights = (Weight.STOPS,) if self.stops else (Weight.STOPS, Weight.LOOK)
        return finding.check == self.check and topic_of(finding) == self.topic and finding.weight in weights


def topic_of(finding: Finding) -> str:
    """Return what a finding is about, as far as changes of the relief tell it apart."""
    if finding.check == "grain":
        return finding.topic if finding.topic == "short grain" else "slope"
    return "" if finding.check in ("thickness", "swing") else finding.topic


def target_of(finding: Finding) -> Target:
    """Return what a finding makes to be cleared."""
    return Target(finding.check, topic_of(finding), finding.stops)


@dataclass(frozen=True)
class Step:
    """A move in a plan, by how many parts, and what it clears."""

    move: Move
    parts: int
    target: Target


Plan = tuple[Step, ...]


class Trial:
    """A draft made into a front at some level, and what comes of it; answered when asked."""

    def __init__(self, workshop: Workshop, draft: Draft, level: Level, front: Front) -> None:
        self.draft, self.level, self.front = draft, level, front
        self._workshop = workshop
        self._found: dict[str, list[Finding]] = {}

    def findings(self, checks: Iterable[str]) -> list[Finding]:
        """Return what some checks find, without cures; each is asked once."""
        asked = list(checks)
        for check in asked:
            if check not in self._found:
                if check not in _OF_SURFACE:
                    self._measure()
                sketched = check == "cutter" and self.level is not Level.REAL
                with asking():
                    found = _left_by_cutter(self.front, self.level) if sketched else CHECKS[check](self.front)
                self._found[check] = found
        return [finding for check in asked for finding in self._found[check]]

    def told(self, counts: Callable[[Finding], bool]) -> list[Finding]:
        """Return what all checks find of what counts, the heaviest first, with cures."""
        checks = {finding.check for finding in self.findings(CHECKS) if counts(finding)}
        return [finding for finding in check_front(self.front, checks) if counts(finding)]

    def _measure(self) -> None:
        """Measure the strips, those alone that differ from a front that was measured before."""
        if not self.front.measured and self.level is not Level.REAL:
            self.front.keep_measures(self._workshop.measures(self.front, self.level))

    @cached_property
    def heights(self) -> Array:
        """Heights at the places where surfaces are compared."""
        return self._workshop.places.heights(self.front)

    @cached_property
    def moved(self) -> Moved:
        """How far the surface moved from the maker's own."""
        return how_far(self._workshop.before(self.level).front, self.front)

    @cached_property
    def seen(self) -> Seen:
        """How much the eye sees of the change."""
        return self._workshop.places.seen(self._workshop.before(self.level).heights, self.heights)

    @cached_property
    def depth_kept(self) -> float:
        """The share of the depth carved that remains."""
        before = deep(self._workshop.start)
        return deep(self.front) / before if before > 0.0 else 1.0

    @cached_property
    def pulls_kept(self) -> bool:
        """Whether every finger pull is as deep as fingers need, or as deep as it was."""
        least = self.front.job.limit("finger_depth").value
        return all(
            now >= min(least, was) - MEASURED
            for was, now in zip(self._workshop.pulls_before, _pull_depths(self.front), strict=True)
        )


class Workshop:
    """Makes trials of one design, and remembers them."""

    def __init__(self, start: Front, draft: Draft) -> None:
        """`start` is the maker's own front, `draft` its unchanged file."""
        self.start, self._draft = start, draft
        self.places = Places(start.layout)
        self._kept: OrderedDict[tuple[str, Level], Trial] = OrderedDict()
        self._like: dict[tuple[Level, tuple[float, ...]], Front] = {}
        self._measured: dict[Level, Front] = {}
        self._before: dict[Level, Trial] = {}

    def try_plan(self, plan: Plan, level: Level) -> Trial | None:
        """Return what a plan gives, None where it makes no job."""
        draft = self._draft.copy()
        try:
            for step in sorted(plan, key=lambda step: _ORDER.index(type(step.move).__name__)):
                step.move.make(draft, step.parts)
            return self._trial(draft, level)
        except JobError:
            return None

    def _trial(self, draft: Draft, level: Level) -> Trial:
        key = (draft.key(), level)
        if key not in self._kept:
            self._kept[key] = Trial(self, draft, level, self._front(draft, level))
            while len(self._kept) > _KEPT:
                self._kept.popitem(last=False)
        self._kept.move_to_end(key)
        return self._kept[key]

    def _front(self, draft: Draft, level: Level) -> Front:
        job = draft.job()
        if level is Level.REAL:
            return self._trial(draft, Level.CLOSE).front if _close_is_real(job) else build_front(job)
        same = (level, tuple(layer.stretch for layer in job.layers))
        if same not in self._like:
            # Other waves come and go; the maker's own stay.
            own = tuple(layer.stretch for layer in self.start.job.layers)
            self._like = {key: front for key, front in self._like.items() if key[0] is not level or key[1] == own}
            self._like[same] = sketch_front(job, level.value)
        return sketch_front(job, level.value, self._like[same])

    def before(self, level: Level) -> Trial:
        """Return the maker's own front, looked at as finely as another."""
        if level is Level.REAL and _close_is_real(self.start.job):
            level = Level.CLOSE
        if level not in self._before:
            self._before[level] = self._trial(self._draft, level)
        return self._before[level]

    @cached_property
    def pulls_before(self) -> list[float]:
        """How deep the maker's finger pulls are, mm."""
        return _pull_depths(self.start)

    def measures(self, front: Front, level: Level) -> list[Measures]:
        """Return the measures of all strips of a front; those that are as on the last front measured are known."""
        known = self._measured.get(level)
        self._measured[level] = front
        if known is None:
            return [front.measure(strip) for strip in front.strips()]
        same = [np.array_equal(strip.heights, front.strip(strip.number).heights) for strip in known.strips()]
        # What a strip is asked holds the edge of its right neighbour too.
        alike = [one and other for one, other in zip(same, [*same[1:], True], strict=True)]
        before = known.measures()
        return [
            before[index] if alike[index] else front.measure(front.strip(number))
            for index, number in enumerate(front.numbers)
        ]


def _close_is_real(job: Job) -> bool:
    """Whether a close look at a job is the real one: its heights are taken no finer, and the surface itself has no grid."""
    return job.sampling.step >= Level.CLOSE.value and not job.cutter.fit


def _pull_depths(front: Front) -> list[float]:
    measured = [measure_pull(front, pull) for pull in front.job.pulls]
    return [math.inf if one is None else one.depth for one in measured]


def asked(front: Front, checks: Iterable[str]) -> list[str]:
    """Return those of some checks that have anything to look at on a front."""
    job = front.job
    idle = {
        "swing": job.hinges is None,
        "screws": job.fixing.by is not Held.SCREWS,
    }
    return [check for check in checks if not idle.get(check, False)]


def _left_by_cutter(front: Front, level: Level) -> list[Finding]:
    """Return what the cutter leaves standing on each strip, and hollows tight for a disc, with neither words nor cures."""
    job, cutter = front.job, front.job.cutter
    if cutter.fit:
        return []
    body, look, most = body_of(cutter), job.limit("left_standing").value, job.limit("left_standing_most").value
    surface = make_surface(without_pulls(job), front.layout, front.surface) if job.pulls else front.surface
    across, along = (min(level.value, max(radius / 3.0, 0.25)) for radius in body.extent)
    needed = job.limit("disc_margin").value * cutter.radius / math.sin(math.radians(cutter.tilt))
    found = []
    for number, face in enumerate(faces(job, front.layout, surface, body, (across, along))):
        for band in bands(number, face, look):
            for one in left_standing(band, look):
                weight, limit = (Weight.STOPS, most) if one.height > most else (Weight.LOOK, look)
                found.append(_plain(weight, "left standing", one.strip.number, one.height, limit))
            if cutter.shape is CutterShape.DISC:
                for hollow in tight_hollows(band, needed, look):
                    found.append(_plain(Weight.LOOK, "tight hollow", hollow.strip.number, hollow.radius, needed))
    return found


def _plain(weight: Weight, topic: str, strip: int, value: float, limit: float) -> Finding:
    return Finding("cutter", weight, "", topic=topic, strip=strip, value=value, limit=limit)
