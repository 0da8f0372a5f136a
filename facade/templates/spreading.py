"""Where every strip goes on its door: as designed, or spread anew from what strips and spacers really measure."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from facade.arrays import Array
from facade.errors import mistake
from facade.front import Front
from facade.layout import Door
from facade.lengths import Ruler
from facade.templates.piece import Bench

# Ten are measured together, so that a rule's tenth of a millimetre is a hundredth each: a shop's own trick, common practice.
STACKED = 10
# A stack that differs by more is no stack of these strips, as a share of their width.
_ABSURD = 0.1
_LEAST_GAP = 0.2  # mm
_SEEN = 2.0  # times as wide as designed, a gap is seen


@dataclass(frozen=True)
class DoorSpread:
    """The strips of a door and their edges, mm from the left edge of the door; and in sentences what is not as designed."""

    door: Door
    strips: tuple[int, ...]
    left: Array
    right: Array
    gap: float
    sentences: tuple[str, ...] = ()


def spread(front: Front, bench: Bench) -> tuple[DoorSpread, ...]:
    """Return where the strips of every door go.

    The outermost edges stay where they are designed; what strips are wider or narrower, and what missing ones leave, is shared
    by the gaps. Raises JobError for a stack that cannot be of these strips, or gaps that close.
    """
    for number in bench.missing:
        front.layout.strip(number)
    return tuple(_spread(front, bench, door) for door in front.layout.doors)


def _spread(front: Front, bench: Bench, door: Door) -> DoorSpread:
    places = [front.layout.strip(number) for number in range(door.first_strip, door.last_strip + 1)]
    kept = [place for place in places if place.number not in bench.missing]
    ruler = front.job.ruler
    if not kept:
        raise mistake(
            "missing", f"no strip of door {door.number} is left: mill new blanks, and carve them from their own sheets"
        )
    first, last = places[0].left - door.left, places[-1].right - door.left
    designed = places[0].width
    width = _measured_width(bench, designed, ruler)
    gap = (last - first - len(kept) * width) / (len(kept) - 1) if len(kept) > 1 else 0.0
    if len(kept) > 1 and gap < _LEAST_GAP:
        raise mistake(
            "stack",
            f"strips of {ruler.fine(width)} leave gaps of {ruler.fine(gap)} on door {door.number}, less than {ruler.fine(_LEAST_GAP)}: "
            "plane the strips, or leave one out",
        )
    if bench.stack is None and not bench.missing:
        left: Array = np.array([place.left for place in places]) - door.left
        right: Array = np.array([place.right for place in places]) - door.left
        gap = float(left[1] - right[0]) if len(places) > 1 else 0.0
        told = tuple(_spacers_alone(bench, gap, ruler))
        return DoorSpread(door, tuple(place.number for place in places), left, right, gap, told)
    left = first + np.arange(len(kept), dtype=np.float64) * (width + gap)
    found = DoorSpread(door, tuple(place.number for place in kept), left, left + width, gap)
    as_designed = places[1].left - places[0].right if len(places) > 1 else 0.0
    told = tuple(_sentences(front, bench, found, designed, as_designed))
    return DoorSpread(door, found.strips, found.left, found.right, gap, told)


def _measured_width(bench: Bench, designed: float, ruler: Ruler) -> float:
    if bench.stack is None:
        return designed
    width = bench.stack / STACKED
    if abs(width / designed - 1.0) > _ABSURD:
        raise mistake(
            "stack",
            f"ten strips of {ruler.text(designed, 2)} cannot measure {ruler.text(bench.stack)}: push ten together and measure "
            f"across all of them, about {ruler.text(STACKED * designed)}",
        )
    return width


def _spacers_alone(bench: Bench, gap: float, ruler: Ruler) -> Iterator[str]:
    if bench.spacers is not None and gap > 0:
        own = bench.spacers / STACKED
        if abs(own - gap) >= 0.01:
            yield f"Your spacers are {ruler.fine(own)}, the gap is {ruler.fine(gap)}: plane them to that."


def _sentences(front: Front, bench: Bench, found: DoorSpread, designed: float, as_designed: float) -> Iterator[str]:
    """Yield what changed, by how much, and what to do about it."""
    show, count = front.job.ruler.fine, len(found.strips)
    if bench.stack is not None:
        own = bench.stack / STACKED
        yield f"Ten strips measure {front.job.ruler.fine(bench.stack)}: {show(own)} each instead of {show(designed)}."
    missing = [number for number in bench.missing if found.door.first_strip <= number <= found.door.last_strip]
    if missing:
        gone = f"strip{'s' if len(missing) > 1 else ''} {', '.join(map(str, missing))}"
        yield f"Without {gone} {count} strips share door {found.door.number}."
    if count > 1:
        yield f"Gap {show(found.gap)} instead of {show(as_designed)}, so that the last strip lands on its edge."
    if bench.spacers is not None and count > 1:
        own = bench.spacers / STACKED
        beyond = (count - 1) * (own - found.gap)
        if abs(beyond) >= 0.05:
            way = "beyond" if beyond > 0 else "short of"
            yield (
                f"With your spacers of {show(own)} it would end {show(abs(beyond), 1)} {way} its edge: "
                f"make spacers of {show(found.gap)}."
            )
    if missing:
        moved, step = _moved(front, found)
        yield f"Strips hang up to {show(moved, 1)} from the place they were carved for; facing edges then differ by up to {show(step, 1)}."
    if as_designed and found.gap > _SEEN * as_designed:
        yield "Gaps so wide are seen: better carve a spare blank from this strip's own sheets."


def _moved(front: Front, found: DoorSpread) -> tuple[float, float]:
    """Return how far strips hang at most from their places, and how much facing edges then differ at most, mm."""
    places = [front.layout.strip(number) for number in found.strips]
    moved = np.abs(found.left + found.door.left - [place.left for place in places]).max()
    y = np.linspace(places[0].bottom, places[0].top, 200)
    right = front.surface.at(np.array([[place.right for place in places[:-1]]]), y[:, None])
    left = front.surface.at(np.array([[place.left for place in places[1:]]]), y[:, None])
    return float(moved), float(np.abs(right - left).max()) if len(places) > 1 else 0.0
