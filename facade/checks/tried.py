"""Whether a change that a cure is about to name would stop a front elsewhere."""

from __future__ import annotations

from collections.abc import Callable, Iterable

from facade.checks.asking import asking
from facade.checks.finding import Finding
from facade.checks.trying import part_of
from facade.doors.trying import Settings, front_with
from facade.front import Front

_SOME = 8  # strips at the least, where not all are measured

Check = Callable[[Front], list[Finding]]


def stops_nothing(
    front: Front, settings: Settings, checks: Iterable[Check], *, same_strips: bool = False, some_strips: bool = False
) -> bool:
    """Return whether a front with other settings can be, and none of some checks stops it that did not stop it before.

    `same_strips`: what was measured of its strips holds. `some_strips`: only some of them are measured, evenly from left to right.
    """
    changed = front_with(front, settings)
    if changed is None:
        return False
    if same_strips:
        changed.keep_measures(front.measures())
    if some_strips:
        changed = part_of(changed, range(1, changed.count + 1, max(1, changed.count // _SOME)))
    for check in checks:
        stopped = _stopped(check, changed)
        if stopped and stopped - _stopped(check, front):
            return False
    return True


def _stopped(check: Check, front: Front) -> set[str]:
    with asking():
        return {one.topic or one.sentence for one in check(front) if one.stops}
