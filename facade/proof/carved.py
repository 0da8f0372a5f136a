"""What the finishing cut leaves of each strip: run on its blank in the computer and held against the surface."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from facade.arrays import Array
from facade.closing import Ball, closing
from facade.proof.compared import spread_along
from facade.proof.laid import Laid
from facade.proof.programs import Program
from facade.proof.sweeping import Cutter, Move, Way, lowest_over, parts_of
from facade.proof.truth import Truth

# What a cutter may go too deep, and ridges be higher than was foretold, mm.
GOUGE, RIDGES = 0.005, 0.02
# By how much what hollows keep may differ from what was foretold on another grid, mm.
STANDING = 0.05
_STEP = 0.5  # mm between places that are looked at, at most
_HAIR = 0.001
# A hollow nearly as tight as the ball counts as if it were so much wider where ridges are foretold.
_TIGHTEST = 0.15


@dataclass(frozen=True)
class _Cut:
    """One strip after the cut, (rows, columns): how far off it is, where that counts for ridges, and what hollows keep."""

    x: Array
    y: Array
    off: Array
    above: Array
    kept: float


@dataclass(frozen=True)
class Carved:
    """What came of a fixture: points, deviation and least height in mm, faults, the strips these are about.

    `kept` is what hollows tighter than the ball keep at most in each strip, `ridge` what stands at most besides, mm.
    """

    points: int
    deviation: float
    allowed: float
    least: float
    faults: tuple[str, ...]
    failed: tuple[int, ...]
    along: dict[int, Array]
    kept: dict[int, float]
    ridge: float

    def note(self, truth: Truth) -> str:
        """Return what else is worth knowing."""
        most = max(self.kept.values())
        return f"{truth.length(most)} left in hollows tighter than the ball" if most else ""


def carved(truth: Truth, laid: Laid, program: Program, ridges: float) -> Carved:
    """Return what the finishing cut leaves: nothing too deep, no ridge higher than was foretold."""
    plan, leave = truth.front.job.machine.finishing, truth.front.job.machine.leave
    ball = Cutter(plan.radius, ball=True)
    parts = parts_of(program.places, program.cuts)
    spans = np.array([_span(part) for part in parts]).reshape(-1, 2)
    faults: list[str] = []
    failed, along, deviation, least, ridge, points = [], {}, 0.0, math.inf, 0.0, 0
    kept: dict[int, float] = {}
    for index, place in enumerate(laid.places):
        left, right = float(laid.lefts[index]), float(laid.rights[index])
        near = (spans[:, 1] >= left - ball.radius) & (spans[:, 0] <= right + ball.radius)
        cut = _cut(laid, index, [parts[some] for some in np.flatnonzero(near).tolist()], ball, leave, ridges)
        wrong = [*_deep(truth, laid, place.number, cut), *_standing(truth, laid, place.number, cut, ridges)]
        faults += wrong
        failed += [place.number] if wrong else []
        deviation = max(deviation, float(np.abs(np.where(cut.off > 0.0, cut.above, cut.off)).max()))
        ridge = max(ridge, float(cut.above.max()))
        least = min(least, float((cut.off + _wanted(laid, index, cut.x, cut.y, leave)).min()))
        kept[place.number] = cut.kept
        points += cut.off.size
        along[place.number] = spread_along(laid.top - cut.y, np.abs(cut.off).max(axis=1), laid.length)
    faults = [*_worst(faults), *_hollow_faults(truth, kept)]
    return Carved(points, deviation, ridges + RIDGES, least, tuple(faults), tuple(failed), along, kept, ridge)


def _hollow_faults(truth: Truth, kept: Mapping[int, float]) -> Iterator[str]:
    """Yield where the manifest does not say, as it is, that hollows keep more than may stay standing."""
    limit, told = truth.front.job.limit("ball_standing").value, _told_of_ball(truth)
    worst = max(kept, key=lambda number: kept[number])
    if not told and kept[worst] > limit + STANDING:
        yield (
            f"leaves {truth.length(kept[worst])} standing on strip {worst} in a hollow tighter than the ball; {truth.length(limit)} may "
            "stay, and nothing in the manifest says so"
        )
    for number, said in told.items():
        if number in kept and (abs(kept[number] - said) > STANDING or said <= limit):
            yield (
                f"leaves {truth.length(kept[number])} standing on strip {number} in hollows tighter than the ball, but the manifest says "
                f"{truth.length(said)}"
            )
        elif number not in kept and kept[worst] > said + STANDING:
            yield (
                f"leaves {truth.length(kept[worst])} standing on strip {worst} in hollows tighter than the ball, but the manifest says "
                f"that most, {truth.length(said)}, is left on strip {number}"
            )


def _told_of_ball(truth: Truth) -> dict[int, float]:
    """Return what the manifest says that the ball leaves standing, mm, by strip; raises KeyError where it says that in another way."""
    found = truth.manifest["cnc"]["face"]["findings"]
    return {int(one["strip"]): float(one["value"]) for one in found if one["check"] == "ball"}


def _worst(faults: list[str]) -> list[str]:
    """Return the first few of what is wrong with strips, and how many more there are."""
    return faults if len(faults) <= 2 else [*faults[:2], f"and {len(faults) - 2} more of its strips are cut wrongly"]


def _span(part: Way | Move) -> tuple[float, float]:
    """Return the least and the greatest x of a part of a way."""
    if isinstance(part, Way):
        return part.x, part.x
    ends = float(part.start[0]), float(part.end[0])
    return min(ends), max(ends)


def _wanted(laid: Laid, index: int, x: Array, y: Array, leave: float) -> Array:
    return np.minimum(laid.heights(index, x, y) + leave, laid.blank)


def _even(first: float, last: float) -> Array:
    return np.linspace(first, last, max(2, math.ceil((last - first) / _STEP - 1e-9)) + 1)


def _cut(laid: Laid, index: int, parts: list[Way | Move], ball: Cutter, leave: float, ridges: float) -> _Cut:
    x, y = _even(float(laid.lefts[index]), float(laid.rights[index])), _even(laid.bottom, laid.top)
    wanted = _wanted(laid, index, x, y, leave)
    off = np.minimum(lowest_over(x, y, parts, ball), laid.blank) - wanted
    if float(off.max()) <= ridges + RIDGES:
        return _Cut(x, y, off, off, 0.0)
    kept = _kept(laid, index, x, y, ball.radius)
    return _Cut(x, y, off, off - kept, float(np.minimum(off, kept).max()))


def _kept(laid: Laid, index: int, x: Array, y: Array, radius: float) -> Array:
    """Return how much a ball must leave standing on a strip (rows, columns): in a hollow tighter than itself, or beside a step."""
    apart = float(x[1] - x[0])
    beside = math.ceil(2.0 * radius / apart)
    wide = x[0] + apart * np.arange(-beside, len(x) + beside)
    ground = laid.ground(wide, y)
    inside = slice(beside, beside + len(x))
    # Beside the fixture there is nothing that the ball could meet.
    nothing = float(ground[np.isfinite(ground)].min()) - 3.0 * radius
    ground[~np.isfinite(ground)] = nothing
    own = laid.heights(index, x, y)
    spacing = (apart, float(y[1] - y[0]))
    window = (slice(0, len(y)), inside)
    left = closing(ground, Ball(radius), spacing, window) - own
    # A step lies somewhere between two places: the ball is kept off by the higher of them.
    high = np.maximum(ground, np.maximum(np.roll(ground, 1, axis=1), np.roll(ground, -1, axis=1)))
    more = closing(high, Ball(radius), spacing, window) - own
    tight = _grown(left > _HAIR)
    return np.where(tight, np.maximum(more, 0.0), 0.0)


def most_kept(laid: Laid) -> float:
    """Return how much the finishing ball must leave standing on the strips of a fixture at most, mm."""
    y, radius = _even(laid.bottom, laid.top), laid.front.job.machine.finishing.radius
    strips = zip(laid.lefts.tolist(), laid.rights.tolist(), strict=True)
    return max(float(_kept(laid, index, _even(*edges), y, radius).max()) for index, edges in enumerate(strips))


def _grown(some: NDArray[np.bool_]) -> NDArray[np.bool_]:
    """Return which places are among some, or next to one."""
    for axis in (0, 1):
        along = np.moveaxis(some, axis, 0)
        wide = along.copy()
        wide[1:] |= along[:-1]
        wide[:-1] |= along[1:]
        some = np.moveaxis(wide, 0, axis)
    return some


def foretold(laid: Laid) -> float:
    """Return the greatest ridge between passes that the job asks for, mm, or that its step gives.

    Across passes s apart that run along y a ball of radius R, climbing by fy on ground that leans by fx, cuts an ellipse that bends by
    e = (1 + fx^2 + fy^2)^1.5 / ((1 + fy^2) R); ground that bends by fxx itself leaves a ridge of s^2 / 8 times e / (1 - fxx / e)
    (plane geometry).
    """
    return _foretold(laid)[0]


def highest_foretold(laid: Laid) -> float:
    """Return the greatest ridge that may be foretold, mm: in hollows as tight as they count, wherever the grid of a program finds them."""
    return _foretold(laid)[1]


def _foretold(laid: Laid) -> tuple[float, float]:
    """Return the ridges as the strips bend at places half a mm apart, and as they would bend in the tightest hollows."""
    plan = laid.front.job.machine.finishing
    if plan.step is None:
        return plan.scallop, plan.scallop
    bend = lean = 0.0
    for index in range(len(laid.places)):
        x, y = _even(float(laid.lefts[index]), float(laid.rights[index])), _even(laid.bottom, laid.top)
        heights = laid.heights(index, x, y)
        fy, fx = np.gradient(heights, y, x)
        fxx = np.gradient(fx, x, axis=1)
        own = (1.0 + fx * fx + fy * fy) ** 1.5 / ((1.0 + fy * fy) * plan.radius)
        bend = max(bend, float((own / np.maximum(1.0 - fxx / own, _TIGHTEST)).max()))
        lean = max(lean, float(own.max()))
    # No ridge is higher than where both passes just meet.
    return _ridge(plan.step, 1.0 / bend), _ridge(plan.step, max(_TIGHTEST / lean, plan.step / 2.0))


def _ridge(step: float, radius: float) -> float:
    """Return the height of the ridge between two passes of a ball on level ground, mm (plane geometry)."""
    return radius - math.sqrt(max(radius * radius - step * step / 4.0, 0.0))


def _deep(truth: Truth, laid: Laid, number: int, cut: _Cut) -> Iterator[str]:
    """Yield that a strip is cut too deep, and where most."""
    row, _ = divmod(int(cut.off.argmin()), cut.off.shape[1])
    worst = -float(cut.off.min())
    if worst > GOUGE:
        yield (
            f"cuts strip {number} {truth.length(worst)} too deep, {truth.length(laid.top - float(cut.y[row]))} from the top; "
            f"{truth.length(GOUGE)} is allowed"
        )


def _standing(truth: Truth, laid: Laid, number: int, cut: _Cut, ridges: float) -> Iterator[str]:
    """Yield that more is left standing on a strip than the ridges foretold, besides what hollows tighter than the ball keep."""
    row, _ = divmod(int(cut.above.argmax()), cut.above.shape[1])
    worst = float(cut.above.max())
    if worst > ridges + RIDGES:
        yield (
            f"leaves {truth.length(worst)} standing on strip {number}, {truth.length(laid.top - float(cut.y[row]))} from the top; "
            f"{truth.length(ridges)} was foretold and {truth.length(RIDGES)} more is allowed"
        )
