"""Looking for the smallest change that clears what stops a front."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from facade.checks import CHECKS, Finding, check_front
from facade.errors import JobError
from facade.front import Front, build_front
from facade.job import Job
from facade.job.draft import Draft
from facade.relaxing.moves import MOVES, Move

_HALVINGS = 6  # so that an amount is found to a sixty-fourth
_ROUNDS = 8
_PLACES = 200  # places across and along at which two surfaces are compared

Progress = Callable[[str], None]


@dataclass(frozen=True)
class Moved:
    """How far a surface moved: the greatest and the mean distance over the wood, mm, and where the greatest is."""

    most: float
    mean: float
    strip: int
    from_top: float


@dataclass(frozen=True)
class Relaxed:
    """A relaxed design: its job file's text, what was changed, both fronts, how far the surface moved, what still stops it."""

    text: str
    changes: tuple[str, ...]
    before: Front
    after: Front
    moved: Moved
    left: tuple[Finding, ...]


@dataclass(frozen=True)
class _Trial:
    """A changed draft, the moves that made it, and what comes of it."""

    draft: Draft
    applied: tuple[tuple[Move, float], ...]
    front: Front
    stopped: tuple[Finding, ...]
    moved: Moved


def relax(job: Job, folder: Path | None = None, progress: Progress | None = None) -> Relaxed:
    """Return a design in which as little as possible is changed to clear what stops a job that was read from a file.

    `folder` is where files that the job names are. One kind of finding after the other is cleared by the change that moves
    the surface least, within the job's `relax` bounds; in the end every change that is not needed is taken back. `left` in
    the result holds what no such change clears. Raises ValueError for a job that was not read from a file.
    """
    draft = Draft(job, folder)
    before = build_front(job)
    search = _Search(before, progress or (lambda words: None))
    draft = search.run(draft)
    after = build_front(draft.job())
    left = _stopping(after)
    moved = how_far(before, after)
    return Relaxed(draft.text(_head(before, after, draft, moved)), draft.changes, before, after, moved, left)


def _head(before: Front, after: Front, draft: Draft, moved: Moved) -> str:
    show = before.job.ruler.text
    far = f"{show(moved.most, 2)} at most, {show(moved.mean, 2)} on average"
    lines = [
        f"# Relaxed from mark {before.mark} to {after.mark}. The surface moved {far}.",
        *(f"# {change}" for change in draft.changes),
    ]
    return "\n".join(lines) + "\n\n" if draft.changes else ""


def _stopping(front: Front, only: Iterable[str] = CHECKS) -> tuple[Finding, ...]:
    return tuple(finding for finding in check_front(front, only) if finding.stops)


def how_far(before: Front, after: Front) -> Moved:
    """Return how far the surface moved between two fronts of one layout."""
    layout = before.layout
    most, total, area = (0.0, 1, 0.0), 0.0, 0.0
    for strip in layout.strips:
        x = np.linspace(strip.left, strip.right, 5)
        y = np.linspace(strip.bottom, strip.top, _PLACES)
        apart = np.abs(after.surface.at(x[None, :], y[:, None]) - before.surface.at(x[None, :], y[:, None]))
        total += float(apart.mean()) * strip.width * strip.length
        area += strip.width * strip.length
        row = int(apart.max(axis=1).argmax())
        most = max(most, (float(apart.max()), strip.number, strip.top - float(y[row])), key=lambda one: one[0])
    return Moved(most[0], total / area, most[1], most[2])


def _turn(holds: Callable[[float], bool], good: float, bad: float) -> float:
    """Return the amount nearest to `bad` at which something still holds that holds at `good` and not at `bad`."""
    for _ in range(_HALVINGS):
        middle = (good + bad) / 2
        good, bad = (middle, bad) if holds(middle) else (good, middle)
    return good


class _Search:
    """Tries changes on fronts whose heights are taken coarsely, and the best ones on the front itself."""

    def __init__(self, before: Front, progress: Progress) -> None:
        self._before = before
        self._progress = progress
        self._stuck: set[str] = set()

    def run(self, draft: Draft) -> Draft:
        self._start = draft
        trial = self._try(draft, (), coarse=False)
        for _ in range(_ROUNDS):
            target = self._target(trial)
            if trial is None or target is None:
                break
            best = self._best(trial, target)
            if best is None:
                self._stuck.add(target)
                continue
            trial = best
        return self._without_needless(trial).draft if trial else draft

    def _target(self, trial: _Trial | None) -> str | None:
        """Return the check that is to be cleared next."""
        stopped = {finding.check for finding in trial.stopped} if trial else set()
        return next((check for check in MOVES if check in stopped - self._stuck), None)

    def _best(self, trial: _Trial, check: str) -> _Trial | None:
        """Return the trial that clears a check and moves the surface least."""
        found = []
        for kind in MOVES[check]:
            move = kind(trial.front, tuple(one for one in trial.stopped if one.check == check))
            if move.allowed():
                self._progress(f"{check}: {kind.__doc__ or ''}")
                cleared = self._least(trial, move, check)
                found += [cleared] if cleared else []
        return min(found, key=lambda one: one.moved.mean, default=None)

    def _least(self, trial: _Trial, move: Move, check: str) -> _Trial | None:
        """Return the trial with the least amount of a move that clears a check and stops nothing new."""
        known = {finding.check for finding in trial.stopped}

        def cleared(amount: float, *, coarse: bool) -> _Trial | None:
            draft = trial.draft.copy()
            move.make(draft, amount)
            found = self._try(draft, (*trial.applied, (move, amount)), coarse=coarse)
            stops = {finding.check for finding in found.stopped} if found else known
            return found if found and check not in stops and stops <= known else None

        if move.exact:
            return cleared(1.0, coarse=False)
        most = self._most(trial, move)
        if cleared(most, coarse=True) is None:
            return None
        amount = _turn(lambda share: cleared(share, coarse=True) is not None, most, 0.0)
        # What is coarsely enough may want a little more on the real heights.
        tries = (min(most, amount + more) for more in (0.0, 0.02, 0.06, 1.0))
        return next((found for share in tries if (found := cleared(share, coarse=False))), None)

    def _most(self, trial: _Trial, move: Move) -> float:
        """Return the greatest amount of a move that keeps the surface within how far it may move."""

        def within(amount: float) -> bool:
            draft = trial.draft.copy()
            move.make(draft, amount)
            return self._front_within(draft, coarse=True) is not None

        return 1.0 if within(1.0) else _turn(within, 0.0, 1.0)

    def _try(self, draft: Draft, applied: tuple[tuple[Move, float], ...], *, coarse: bool) -> _Trial | None:
        """Return what a draft gives, None when it is no job or moves the surface further than the maker allows."""
        found = self._front_within(draft, coarse=coarse)
        if found is None:
            return None
        front, moved = found
        return _Trial(draft, applied, front, _stopping(front, MOVES), moved)

    def _front_within(self, draft: Draft, *, coarse: bool) -> tuple[Front, Moved] | None:
        try:
            front = build_front(draft.job(coarse=coarse))
        except JobError:
            return None
        moved = how_far(self._before, front)
        return (front, moved) if moved.most <= self._before.job.relax.moved + 1e-9 else None

    def _without_needless(self, trial: _Trial) -> _Trial:
        """Return the trial without the moves that a later one has made needless."""
        known = {finding.check for finding in trial.stopped}
        for needless in trial.applied if len(trial.applied) > 1 else ():
            kept = tuple(one for one in trial.applied if one is not needless)
            draft = self._start.copy()
            for move, amount in kept:
                move.make(draft, amount)
            found = self._try(draft, kept, coarse=False)
            if found and {finding.check for finding in found.stopped} <= known and found.moved.mean <= trial.moved.mean:
                trial = found
        return trial
