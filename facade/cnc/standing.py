"""What the finishing ball leaves standing in hollows that are tighter than itself, and whether that is too much."""

from __future__ import annotations

import math
from typing import NamedTuple

import numpy as np

from facade.arrays import Array
from facade.checks.cures import length, setting, ways
from facade.checks.finding import Finding, Weight
from facade.closing import Ball, closing
from facade.cnc.finishing import finishing_ground
from facade.cnc.fixture import Fixture, fixtures
from facade.cnc.ground import Ground
from facade.cnc.order import Order
from facade.front import Front
from facade.lengths import MM_PER_INCH, Unit
from facade.processes import shared_out
from facade.rules import rule_values

_HAIR = 1e-9
# What a ball leaves standing in hollows is said from here on, mm: a grid cannot tell less.
TOLD_FROM = 0.05
# A hollow that bends by less than this share of what the ball does is wider than the ball, whatever differences on a grid miss.
_WIDER = 0.9


class Standing(NamedTuple):
    """What a ball leaves standing at most, mm, and where."""

    left: float
    strip: int
    from_top: float


def most_standing(fixture: Fixture, radius: float) -> Standing:
    """Return where on a fixture's strips a ball leaves most standing.

    What it leaves is held against the finished surface itself, strip by strip up to both its edges: where two packed strips meet in a
    step, all of it counts that the ball cannot reach at its foot.
    """
    ground = finishing_ground(fixture, radius, closely=False)
    reached = closing(ground.heights, Ball(radius), ground.spacing) - fixture.front.job.machine.leave
    rows = np.flatnonzero((ground.y >= -_HAIR) & (ground.y <= fixture.length + _HAIR))
    found = []
    for place, left, right in zip(fixture.places, fixture.lefts.tolist(), fixture.rights.tolist(), strict=True):
        inside = ground.x[(ground.x > left + _HAIR) & (ground.x < right - _HAIR)]
        x = np.concatenate([[left], inside, [right]])
        y = np.clip(ground.y[rows] + place.bottom, place.bottom, place.top)
        true = fixture.front.surface.at(np.clip(x - left + place.left, place.left, place.right)[None, :], y[:, None])
        stands = _across(reached[rows], ground.x, x) - true
        row, column = divmod(int(stands.argmax()), len(x))
        found.append(Standing(float(stands[row, column]), place.number, place.top - float(y[row])))
    return max(found, key=lambda one: one.left)


def _across(heights: Array, x: Array, at: Array) -> Array:
    """Return heights (rows, columns) at other places across, straight in between."""
    right = np.clip(np.searchsorted(x, at), 1, len(x) - 1)
    share = (at - x[right - 1]) / (x[right] - x[right - 1])
    return np.asarray(heights[:, right - 1] * (1.0 - share) + heights[:, right] * share)


def standing_on(fixture: Fixture, ground: Ground) -> Standing:
    """Return where the job's ball leaves most standing on a fixture; nothing at all where no hollow of its ground is as tight as the ball.

    A ball's underside bends by 1 / R at least in every direction. Where smooth ground bends upwards by less than that everywhere, a ball
    that touches it at one place stands above it at all others, so it reaches every place.
    """
    radius = fixture.front.job.machine.finishing.radius
    if (
        ground.smooth
        and ground.tightest * radius < _WIDER
        and fixture.front.job.limit("ball_standing").value >= TOLD_FROM
    ):
        return Standing(0.0, fixture.numbers[0], 0.0)
    return most_standing(fixture, radius)


_last: tuple[Front, Order, Standing] | None = None


def standing_of(front: Front, order: Order) -> Standing:
    """Return where on the strips of an order the job's ball leaves most standing; the last answer is kept."""
    if _last is None or _last[0] is not front or _last[1] != order.as_asked:
        remember(front, order, _worst(fixtures(front, order), front.job.machine.finishing.radius))
    assert _last is not None
    return _last[2]


def remember(front: Front, order: Order, worst: Standing) -> None:
    """Keep where on the strips of an order the job's ball leaves most standing."""
    global _last
    _last = (front, order.as_asked, worst)


def _worst(found: list[Fixture], radius: float) -> Standing:
    return max(shared_out(lambda fixture: most_standing(fixture, radius), found), key=lambda one: one.left)


def standing_findings(front: Front, order: Order) -> list[Finding]:
    """Return the finding of a ball that leaves more standing than may stay; none where it does not."""
    job, limit = front.job, front.job.limit("ball_standing")
    worst = standing_of(front, order)
    if worst.left <= limit.value + 1e-6:
        return []
    radius = job.machine.finishing.radius
    return [
        Finding(
            "ball",
            Weight.STOPS,
            f"The finishing ball of radius {job.ruler.text(radius, 3)} leaves {job.ruler.fine(worst.left)} standing on strip "
            f"{worst.strip}, "
            f"{job.ruler.text(worst.from_top)} from the top, in a hollow tighter than itself; {job.ruler.fine(limit.value)} may stay.",
            topic="left standing by the machine",
            strip=worst.strip,
            from_top=worst.from_top,
            value=worst.left,
            limit=limit.value,
            source=limit.source,
            cure=ways(_smaller_ball(front, order), _by_hand(front, worst)),
        )
    ]


def _smaller_ball(front: Front, order: Order) -> str:
    """Return the largest smaller ball that is sold and leaves no more than may stay, tried on every strip; "" for none."""
    job = front.job
    inch = job.unit is Unit.INCH
    sold = [
        size * (MM_PER_INCH if inch else 1.0) / 2.0 for size in rule_values("ball_sizes_inch" if inch else "ball_sizes")
    ]
    found = fixtures(front, order)
    for radius in sorted((one for one in sold if 0.5 <= one < job.machine.finishing.radius), reverse=True):
        if _worst(found, radius).left <= job.limit("ball_standing").value:
            return f"take a smaller ball: {setting('machine.finishing.radius', length(job, radius))}"
    return ""


def _by_hand(front: Front, worst: Standing) -> str:
    job = front.job
    mark = 0.05 if job.unit is Unit.MM else MM_PER_INCH / 64.0
    most = math.ceil(worst.left / mark + 1e-6) * mark
    return f"carve such places by hand, and say so: {setting('limits.ball_standing', length(job, round(most, 9)))}"
