"""Looking for the smallest change that clears what stops a front, or what is to be looked at too."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass, replace
from pathlib import Path

from facade.checks import Finding, Weight
from facade.checks.cures import length, setting
from facade.front import Front, build_front
from facade.job import Job
from facade.job.draft import Draft
from facade.job.model import Fit
from facade.relaxing.bounds import Allowed, allowed_by, anything
from facade.relaxing.moves import (
    Bars,
    Caps,
    Depth,
    FitCutter,
    Floor,
    Lands,
    MendPulls,
    Move,
    Pulls,
    Stretch,
    UnderPulls,
    UnderShallowPulls,
)
from facade.relaxing.seen import Moved, Seen
from facade.relaxing.trying import Level, Plan, Step, Target, Trial, Workshop, target_of

MOVES: dict[str, tuple[type[Move], ...]] = {
    "swing": (Caps, Depth),
    "cutter": (FitCutter, Stretch, Depth),
    "grain": (Stretch, Depth),
    "thickness": (Floor, Bars, Lands, Depth, Pulls, UnderPulls, UnderShallowPulls),
    "handling": (Floor, Depth, Pulls, UnderPulls, UnderShallowPulls),
    "screws": (Bars, Lands, Floor, Depth),
    "lands and pulls": (Pulls, UnderPulls, UnderShallowPulls, Floor, MendPulls),
    "looks": (Stretch, Depth),
}
"""What may clear each check; what is not named here no change of the relief can clear."""

_NO_RELIEF = ("weight", "movement", "opening", "empty door", "layout")
_SHALLOW = "shallow pulls"
# Checks that find more on a coarse grid than there is.
_OVERSTATED = ("cutter", "handling", "screws")
_ROUNDS = 16
_FIRMINGS = 8
_FEW_LANDS = 3  # more are a field: taken only where nothing else helps
_MORE = (0, 1, 2, 4, 8)  # parts more that are tried where the least that clears brings something new
_HAIR = 1e-6
_COARSELY = 0.03  # mm that a surface may have moved further than is seen on a coarse grid
_SPARE = 0.1  # mm by which a bound that is named is more than what was needed

Progress = Callable[[str], None]


@dataclass(frozen=True)
class Refused:
    """What is left of a check on a topic, and which bound of the job stood in the way of clearing it."""

    check: str
    topic: str
    weight: Weight
    reason: str


@dataclass(frozen=True)
class Relaxed:
    """A relaxed design: its job file's text, what was changed, both fronts, how far the surface moved and what the eye sees of it.

    `left` is what still stops it, or is still to be looked at where that was to be cleared too; `refused` says of each kind of
    it why.
    """

    text: str
    changes: tuple[str, ...]
    before: Front
    after: Front
    moved: Moved
    seen: Seen
    left: tuple[Finding, ...]
    refused: tuple[Refused, ...]

    def why(self, finding: Finding) -> str:
        """Return why a finding is left."""
        target = target_of(finding)
        return next(
            (
                one.reason
                for one in self.refused
                if (one.check, one.topic, one.weight) == (target.check, target.topic, finding.weight)
            ),
            "",
        )


def relax(job: Job, folder: Path | None = None, progress: Progress | None = None, *, looks: bool = False) -> Relaxed:
    """Return a design in which as little as possible is changed to clear what stops a job that was read from a file.

    `folder` is where files that the job names are; `looks` clears what is to be looked at too. One kind of finding after the
    other is cleared by the change that is seen least (`Seen`), within the job's `relax` bounds; in the end every change that is
    not needed is taken back. Changes are looked for on coarse grids, and hold on the front itself. `left` in the result holds
    what no such change clears. Raises ValueError for a job that was not read from a file.
    """
    draft = Draft(job, folder)
    search = _Search(build_front(job), draft, progress or (lambda words: None), looks=looks)
    plan = search.run()
    trial = search.real(plan)
    left = tuple(search.left(trial))
    refused = tuple(search.refusals(plan, left))
    changes = trial.draft.changes if plan else ()
    text = trial.draft.text(_head(search.start, trial, changes))
    return Relaxed(text, changes, search.start, trial.front, trial.moved, trial.seen, left, refused)


def _head(before: Front, trial: Trial, changes: Iterable[str]) -> str:
    show, moved = before.job.ruler.fine, trial.moved
    lines = [
        f"# Relaxed from mark {before.mark} to {trial.front.mark}. The surface moved {show(moved.most)} at most, "
        f"{show(moved.mean)} on average.",
        *(f"# {change}" for change in changes),
    ]
    return "\n".join(lines) + "\n\n" if changes else ""


@dataclass(frozen=True)
class _Found:
    """A plan that clears its last step's target, and what comes of it."""

    plan: Plan
    trial: Trial

    @property
    def step(self) -> Step:
        return self.plan[-1]

    @property
    def lands(self) -> int:
        """How many lands are added."""
        return len(self.trial.front.job.lands) - len(self.step.move.job.lands)


class _Search:
    """Looks for a plan on fronts whose heights are taken coarsely, then makes it firm on finer ones."""

    def __init__(self, start: Front, draft: Draft, progress: Progress, *, looks: bool) -> None:
        self.start, self._draft, self._progress, self._looks = start, draft, progress, looks
        self._workshop = Workshop(start, draft)
        self._allowed = allowed_by(start.job)
        self._checks = [check for check in MOVES if looks or check != "looks"]
        self._stuck: set[Target] = set()
        self._instead: dict[Target, set[str]] = {}  # what clearing a target would have brought instead
        self._closely = self._workshop.try_plan((), Level.CLOSE) or self.real(())
        if not self._targets(self._closely):
            self._closely = self.real(())
        self._first = self._targets(self._closely)
        self._first_roughly: set[Target] = set()

    def real(self, plan: Plan) -> Trial:
        """Return the front of a plan itself."""
        trial = self._workshop.try_plan(plan, Level.REAL)
        assert trial is not None
        return trial

    def left(self, trial: Trial) -> list[Finding]:
        """Return what still stops a front, or is still to be looked at where that counts."""
        return trial.told(lambda one: one.stops or (self._looks and one.weight is Weight.LOOK))

    # The plan.

    def run(self) -> Plan:
        """Return the plan that clears what can be cleared."""
        plan: Plan = ()
        if not self._first:
            return plan
        self._first_roughly = self._targets(self._roughly(plan))
        for _ in range(_ROUNDS):
            target = self._next(plan)
            if target is None:
                break
            best = self._best(plan, target)
            if best is None:
                self._stuck.add(target)
            else:
                plan = best
        plan = self._leaner(plan)
        return self._holding(self._firm(self._firm(plan, Level.CLOSE, self._allowed), Level.REAL, self._allowed))

    def _roughly(self, plan: Plan) -> Trial:
        trial = self._workshop.try_plan(plan, Level.ROUGH)
        assert trial is not None
        return trial

    def _targets(self, trial: Trial) -> set[Target]:
        """Return all that is to be cleared of a trial, by the checks that can be cleared."""
        return set(map(target_of, self._counted(trial.findings(self._checks))))

    def _counted(self, findings: Iterable[Finding]) -> list[Finding]:
        weights = (Weight.STOPS, Weight.LOOK) if self._looks else (Weight.STOPS,)
        return [finding for finding in findings if finding.weight in weights]

    def _next(self, plan: Plan) -> Target | None:
        """Return what is to be cleared next: what stops first, in the order of the moves.

        Where looks count, what stops is cleared so far that nothing is left to look at, if that can be.
        """
        cleared = {step.target for step in plan}
        now = self._targets(self._roughly(plan))
        # What is there roughly but not really is a fault of the coarse grid.
        wanted = {target for target in now if target in self._first or target not in self._first_roughly}
        wanted |= {one for one in self._first - self._first_roughly if not {one, replace(one, stops=False)} & cleared}
        for one in sorted(
            wanted - self._stuck, key=lambda one: (not one.stops, self._checks.index(one.check), one.topic)
        ):
            wider = replace(one, stops=False)
            return wider if self._looks and wider not in self._stuck else one
        return None

    def _best(self, plan: Plan, target: Target) -> Plan | None:
        """Return the plan that clears a target with the change that is seen least."""
        found: list[_Found] = []
        for way in self._ways(plan, target, self._allowed, lambda trial: self._hopeless(trial, found)):
            if not beyond(way.plan, way.trial, self._allowed, self.start.job):
                found.append(way)
        few = [one for one in found if one.lands <= _FEW_LANDS]
        best = min(few or found, key=_seen_least, default=None)
        return best.plan if best else None

    def _hopeless(self, trial: Trial, found: list[_Found]) -> bool:
        """Whether more of a change that a trial has too little of would move too much, or be seen more than what is found."""
        if trial.moved.most > self._allowed.moved + _HAIR:
            return True
        return any(one.lands <= _FEW_LANDS and one.trial.seen.weight < trial.seen.weight for one in found)

    def _ways(
        self, plan: Plan, target: Target, allowed: Allowed, hopeless: Callable[[Trial], bool]
    ) -> Iterator[_Found]:
        """Yield the plans that clear a target, each by the least of one more move; whether they go too far is not looked at.

        A move is given up where a trial that it does not yet clear is `hopeless`.
        """
        trial = self._roughly(plan)
        found = [one for one in trial.findings((target.check,)) if target.has(one)]
        roughly = bool(found)
        found = found or [one for one in self._closely.findings((target.check,)) if target.has(one)]
        for kind in MOVES[target.check]:
            if (kind is Caps and not allowed.caps) or (kind is FitCutter and not allowed.fit):
                continue
            if kind is Depth and Floor in MOVES[target.check] and self.start.job.carving.fit is Fit.FULL:
                continue  # From the floor to the face, a higher floor is less depth.
            move = kind(self.start, trial.front, tuple(found))
            if move.fits():
                self._progress(f"{target.check}: {kind.words}")
                cleared = self._least(plan, move, target, self._most(move, allowed), hopeless, roughly=roughly)
                if cleared is not None:
                    yield cleared

    def _least(
        self,
        plan: Plan,
        move: Move,
        target: Target,
        high: int,
        hopeless: Callable[[Trial], bool],
        *,
        roughly: bool,
    ) -> _Found | None:
        """Return the plan with the least of a move, of `high` parts at most, that clears a target and brings nothing new.

        `roughly` says that the target is there on the coarse grid.
        """
        others = tuple(step for step in plan if not (move.once and step.move.family == move.family))
        low = max((step.parts for step in plan if step not in others), default=0)

        def made(parts: int) -> _Found | None:
            longer = (*others, Step(move, parts, target))
            trial = self._workshop.try_plan(longer, Level.ROUGH)
            return _Found(longer, trial) if trial else None

        def cleared(parts: int) -> _Found | None:
            one = made(parts)
            return one if one and not any(map(target.has, one.trial.findings((target.check,)))) else None

        first: Iterable[int] = range(low, high + 1)
        if move.once and high > low:
            best = self._fewest(made, cleared, (low, high), hopeless, move, roughly=roughly)
            first = [best.step.parts + more for more in _MORE if best.step.parts + more <= high] if best else ()
        known = self._targets(self._roughly(plan)) | self._first_roughly | self._stuck
        found = (one for parts in first if (one := cleared(parts)))
        return next((one for one in found if self._brings_nothing(one.trial, target, known)), None)

    def _fewest(
        self,
        made: Callable[[int], _Found | None],
        cleared: Callable[[int], _Found | None],
        between: tuple[int, int],
        hopeless: Callable[[Trial], bool],
        move: Move,
        *,
        roughly: bool,
    ) -> _Found | None:
        """Return what is cleared by the fewest parts; None where nothing is, or what is not cleared yet is hopeless."""
        low, high = between
        best = None if roughly and move.idle else cleared(low)
        guess = move.guess(self._draft)
        tops = [low + guess, low + 2 * guess, low + math.ceil((high - low) / 4), high] if guess else []
        tops += [low + math.ceil((high - low) / part) for part in (1, 2, 4, 8)]
        for top in dict.fromkeys(min(top, high) for top in tops):
            if best or (best := cleared(top)):
                break
        near = bool(guess)
        while best and best.step.parts - low > 1:
            # A good guess is just enough.
            middle, near = best.step.parts - 1 if near else (best.step.parts + low) // 2, False
            if one := cleared(middle):
                best = one
            elif (failed := made(middle)) and hopeless(failed.trial):
                return None
            else:
                low = middle
        return best

    def _most(self, move: Move, allowed: Allowed) -> int:
        """Return the most parts of a move that bounds of its own allow."""
        most = move.parts(self._draft)
        if isinstance(move, Stretch):
            return min(most, math.floor((allowed.stretch - 1.0) * 100.0 + _HAIR))
        if isinstance(move, Depth | Floor):
            return min(most, math.ceil(most * (1.0 - allowed.depth)) + 1)
        return most

    def _brings_nothing(self, trial: Trial, target: Target, known: set[Target]) -> bool:
        """Whether nothing new comes with clearing a target, and pulls stay as deep as fingers need; what does is noted."""
        new = {one.check for one in self._targets(trial) if not self._is_known(one, known)}
        self._instead.setdefault(target, set()).update(new | (set() if trial.pulls_kept else {_SHALLOW}))
        return not new and trial.pulls_kept

    def _is_known(self, one: Target, known: set[Target]) -> bool:
        # What stopped and is only to be looked at now is nothing new.
        return one in known or (not one.stops and replace(one, stops=True) in known)

    # Making it firm.

    def _leaner(self, plan: Plan) -> Plan:
        """Return a plan without the steps, and the parts of them, that later ones have made needless."""
        for step in plan if len(plan) > 1 else ():
            less = tuple(one for one in plan if one is not step)
            if self._still(less, plan, Level.ROUGH):
                plan = less
        return self._tightened(plan, Level.ROUGH) if len(plan) > 1 else plan

    def _tightened(self, plan: Plan, level: Level) -> Plan:
        """Return a plan with as few parts of each step as will do.

        What is too little on a coarse grid is too little on a finer one, but for checks that a coarse grid overstates.
        """
        for index, step in enumerate(plan):
            while plan[index].parts > 0 and (level is Level.ROUGH or step.target.check in _OVERSTATED):
                less = (*plan[:index], replace(step, parts=plan[index].parts - 1), *plan[index + 1 :])
                if not self._still(less, plan, level):
                    break
                plan = less
        return plan

    def _still(self, less: Plan, plan: Plan, level: Level) -> bool:
        """Whether a smaller plan clears at some level all that a plan clears."""
        trial = self._workshop.try_plan(less, level)
        if trial is None or not trial.pulls_kept:
            return False
        for one in {step.target for step in plan}:
            if any(map(one.has, trial.findings((one.check,)))):
                return False
        return not self._unmet(plan, trial)

    def _unmet(self, plan: Plan, trial: Trial) -> list[Target]:
        """Return what a trial has of what its plan was to clear, or of what is new."""
        cleared = {step.target for step in plan}
        known = (self._first | self._first_roughly | self._stuck) - cleared
        return [one for one in self._targets(trial) if not self._is_known(one, known)]

    def _firm(self, plan: Plan, level: Level, allowed: Allowed) -> Plan:
        """Return a plan that holds on finer heights, with a little more of its steps where that is needed, less where it is not."""
        if not plan:
            return plan
        more = 1
        for _ in range(_FIRMINGS):
            trial = self._workshop.try_plan(plan, level)
            unmet = self._unmet(plan, trial) if trial else []
            if not unmet:
                break
            longer = tuple(self._with_more(step, unmet, more, allowed) for step in plan)
            if longer == plan:
                break
            plan, more = longer, more + (more if level is Level.CLOSE else 0)
        return self._tightened(plan, level) if level is Level.CLOSE else plan

    def _with_more(self, step: Step, unmet: list[Target], more: int, allowed: Allowed) -> Step:
        concerned = any(step.target == one or type(step.move) in MOVES[one.check] for one in unmet)
        most = self._most(step.move, allowed)
        return replace(step, parts=min(step.parts + more, most)) if concerned and step.parts < most else step

    def _holding(self, plan: Plan) -> Plan:
        """Return as much of a plan as holds on the front itself, within what the job allows."""
        while plan:
            trial = self._workshop.try_plan(plan, Level.REAL)
            if trial and not self._unmet(plan, trial) and not beyond(plan, trial, self._allowed, self.start.job):
                return plan
            plan = self._without_worst(plan, trial)
        return plan

    def _without_worst(self, plan: Plan, trial: Trial | None) -> Plan:
        """Return a plan without a step that does not do what it was for."""
        unmet = set(self._unmet(plan, trial)) if trial else set()
        failing = [step for step in plan if step.target in unmet] or [plan[-1]]
        return tuple(step for step in plan if step is not failing[-1])

    # Why not.

    def refusals(self, plan: Plan, left: Iterable[Finding]) -> Iterator[Refused]:
        """Yield of each kind of finding that is left which bound stood in the way."""
        for target in dict.fromkeys(map(target_of, left)):
            weight = Weight.STOPS if target.stops else Weight.LOOK
            yield Refused(target.check, target.topic, weight, self._reason(plan, target))

    def _reason(self, plan: Plan, target: Target) -> str:
        if target.check not in MOVES:
            can = "no change of the relief can clear it."
            return can if target.check in _NO_RELIEF else "relaxing makes no change of the relief for this."
        free = anything(self._allowed)
        ways = self._ways(plan, target, free, lambda trial: False)
        needs = [(one, lacking) for one in ways if (lacking := self._lacking(one))]
        for best, _ in sorted(needs, key=lambda one: (len(one[1]), _seen_least(one[0]))):
            firm = self._firmly(best, free)
            lacking = self._lacking(firm) if firm else []
            if lacking:
                return f"{best.step.move.words} would clear it, but it needs {' and '.join(lacking)}."
        return self._why_nothing(target)

    def _lacking(self, found: _Found) -> list[str]:
        return beyond(found.plan, found.trial, self._allowed, self.start.job, -_COARSELY)

    def _firmly(self, found: _Found, allowed: Allowed) -> _Found | None:
        """Return a way as it holds on finer heights."""
        plan = self._firm(found.plan, Level.CLOSE, allowed)
        trial = self._workshop.try_plan(plan, Level.CLOSE)
        return _Found(plan, trial) if trial and not self._unmet(plan, trial) else None

    def _why_nothing(self, target: Target) -> str:
        """Return why no change clears a target, whatever the job allows."""
        instead = self._instead.get(target, set())
        if _SHALLOW in instead or (target.check, target.topic) == ("lands and pulls", "wood left"):
            return self._for_fingers()
        if instead:
            return f"what would clear it brings findings of {' and '.join(sorted(instead))} instead."
        return "no change of the relief that relaxing makes clears it."

    def _for_fingers(self) -> str:
        job, show = self.start.job, self.start.job.ruler.text
        depth, wood = job.limit("finger_depth").value, job.limit("finger_wood").value
        words = (
            f"what would clear it leaves pulls shallower than the {show(depth)} that fingers need (limits.finger_depth)"
        )
        if depth + wood > job.highest + _HAIR:
            words += (
                f": with {show(wood)} under them (limits.finger_wood) that is {show(depth + wood)} of wood, and the blank leaves "
                f"{show(job.highest)}"
            )
        return f"{words}."


def _seen_least(found: _Found) -> tuple[float, float]:
    """Return what changes are chosen by: how much is seen; of what is seen alike how far the surface moved."""
    return round(found.trial.seen.weight, 3), found.trial.moved.mean


def beyond(plan: Plan, trial: Trial, allowed: Allowed, job: Job, spare: float = _HAIR) -> list[str]:
    """Return in words the bounds that a plan goes beyond: each with the value that it needs, and the one that the job has.

    `spare` is by how much the surface may have moved further than is allowed, mm.
    """
    found, kinds = [], {type(step.move): step for step in plan}
    if Caps in kinds and not allowed.caps:
        found.append(f"{setting('relax.caps', 'true')} (the job says false)")
    if FitCutter in kinds and not allowed.fit:
        found.append(f"{setting('relax.fit', 'true')} (the job says false)")
    if Stretch in kinds and kinds[Stretch].parts > math.floor((allowed.stretch - 1.0) * 100.0 + _HAIR):
        needed = 1.0 + kinds[Stretch].parts / 100.0
        found.append(f"{setting('relax.stretch', f'{needed:.2f}')} (the job allows {allowed.stretch:g})")
    if trial.depth_kept < allowed.depth - _HAIR and {Depth, Floor} & set(kinds):
        needed = math.floor(trial.depth_kept * 100.0) / 100.0
        found.append(f"{setting('relax.depth', f'{needed:g}')} (the job allows {allowed.depth:g})")
    if trial.moved.most > allowed.moved + spare:
        needed = job.ruler.up(trial.moved.most + _SPARE)
        words = f"{setting('relax.moved', length(job, needed))} (the job allows {job.ruler.text(allowed.moved, 3)})"
        found.append(words)
    return found
