"""The finishing cut: a ball runs along each strip, up and down, from outside the wood to outside the wood."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from facade.arrays import Array
from facade.cnc.drop import BallEnd, lifted_between, tip_heights
from facade.cnc.fixture import Fixture
from facade.cnc.ground import Ground, ground_of
from facade.cnc.moves import Moves, entered, joined
from facade.cnc.passes import Passes, passes_over
from facade.errors import mistake
from facade.job.machine import OUTSIDE
from facade.thinning import thin_each

# Straight moves stay this close to the ball's way, mm, which is lifted by a hair for what the grid may miss beside a contact in a hollow
# nearly as tight as the ball; together with the last decimal nothing is cut 0.005 mm too deep.
_STRAIGHT, _LIFT = 0.002, 0.0015
# The surface runs out beyond its edges in a curve that is so much wider than the ball, or more.
_WIDER = 1.25


@dataclass(frozen=True)
class Cut:
    """A cutter's way over a fixture, and the greatest ridge that is to be expected between its passes, mm."""

    moves: Moves
    scallop: float


def finishing_ground(fixture: Fixture, radius: float | None = None, *, closely: bool = True) -> Ground:
    """Return the surface that the ball leaves on a fixture: finished, with what is left on for sanding; or one of another radius, mm.

    Without looking `closely` edges are those of the grid, raised so that none is missed.
    """
    radius = fixture.front.job.machine.finishing.radius if radius is None else radius
    beyond = fixture.waste + radius + OUTSIDE
    ground = ground_of(fixture, beside=2.0 * radius + 1.0, beyond=beyond, curve=run_out(radius), closely=closely)
    return ground.lifted(fixture.front.job.machine.leave)


def run_out(radius: float) -> float:
    """Return the least radius of the curve in which the surface runs out beyond its edges, for a ball to follow, mm."""
    return _WIDER * radius


def finishing(fixture: Fixture, ground: Ground) -> Cut:
    """Return the finishing cut of a fixture, thin strips last; raises JobError where the step is wider than the cutter."""
    plan = fixture.front.job.machine.finishing
    if plan.step is not None and plan.step > 2.0 * plan.radius:
        show = fixture.front.job.ruler.text
        raise mistake(
            "machine.finishing.step",
            f"`machine.finishing.step` must be at most the cutter's diameter of {show(2 * plan.radius, 3)} (got {show(plan.step, 3)}): a "
            "tenth of it is usual",
        )
    cuts, ridges = [], []
    for index in thin_last(fixture):
        passes = passes_over(
            ground,
            float(fixture.lefts[index]),
            float(fixture.rights[index]),
            plan.radius,
            wanted=plan.scallop,
            step=plan.step,
            length=fixture.length,
        )
        ball = BallEnd(plan.radius)
        tips = lifted_between(ground, ball, tip_heights(ground, ball, passes.at)) + _LIFT
        cuts.append(entered(_up_and_down(passes, ground.y, tips), clear_height(fixture), near_height(fixture)))
        ridges.append(passes.scallop)
    return Cut(joined(cuts), max(ridges))


def clear_height(fixture: Fixture) -> float:
    """Return the height at which the cutter travels: above the blanks as they are."""
    return fixture.blank + fixture.front.job.machine.clear


def near_height(fixture: Fixture) -> float:
    """Return the height from which on the cutter comes down at its feed: just above the blanks."""
    return fixture.blank + OUTSIDE


def thin_last(fixture: Fixture) -> list[int]:
    """Return the strips' places on the fixture in the order in which they are cut: the one with the least wood left last."""
    least = [fixture.front.measures_of(number).thinnest.height for number in fixture.numbers]
    return sorted(range(len(least)), key=lambda index: -least[index])


def _up_and_down(passes: Passes, y: Array, tips: Array) -> Array:
    """Return the places of all passes one after the other, every second one downwards, without those that do not count."""
    keep = thin_each(tips, _STRAIGHT)
    # Turned in the whole array, so that one look picks every pass in its own direction.
    row = np.broadcast_to(np.arange(len(y)), tips.shape).copy()
    row[1::2] = row[1::2, ::-1]
    which = np.arange(len(tips))[:, None]
    keep, tips = keep[which, row], tips[which, row]
    x = np.broadcast_to(passes.at[:, None], tips.shape)
    return np.column_stack([x[keep], y[row][keep], tips[keep]])
