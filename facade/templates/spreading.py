"""Where the strips of each door go, from what was measured at the bench: true strips, true spacers, strips left out.

The first strip starts and the last one ends where they were designed to; what lies between is shared out over the gaps. So nothing
runs out of the door, however a tenth of a millimetre a strip adds up.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from facade.arrays import Array
from facade.errors import mistake
from facade.front import Front
from facade.layout import Division, Door, StripPlace
from facade.lengths import Ruler
from facade.templates.piece import Bench

# So many strips, or spacers, are pushed together and measured at once.
STACKED = 10
# A gap narrower than this, mm, closes when the wood swells or the finish builds up (common practice).
LEAST_GAP = 0.2
# Spacers so many times as thick as a gap, or as thin, are not ten of them.
_FAR = 3.0
# A stack that is off by a larger share is no measurement of these strips.
_MOST_OFF = 0.1
# What reads the same on a rule, mm.
_SAME = 0.005
# The last strip may be so far from its place, mm (common practice).
CHECKPOINT = 0.3
# Steps between facing edges are looked for at about every 5 mm.
_STEP = 5.0
_HAIR = 1e-9


@dataclass(frozen=True)
class DoorSpread:
    """Where the strips of a door go: `left` and `right` edges (strips,), mm from the LEFT edge of the door.

    `sentences` say what was measured and what follows, none where the design stands as it is.
    """

    door: Door
    numbers: tuple[int, ...]
    left: Array
    right: Array
    width: float
    gap: float
    sentences: tuple[str, ...] = ()

    def alike(self, other: DoorSpread) -> bool:
        """Whether one stick serves both doors."""
        return (
            self.places == other.places
            and self.sentences == other.sentences
            and abs(self.door.width - other.door.width) < _SAME
            and bool(np.allclose(self.left, other.left, rtol=0.0, atol=_SAME))
            and bool(np.allclose(self.right, other.right, rtol=0.0, atol=_SAME))
        )

    @property
    def places(self) -> tuple[int, ...]:
        """The strips counted within the door, from 1 at the left."""
        return tuple(number - self.door.first_strip + 1 for number in self.numbers)


def spread(front: Front, bench: Bench) -> tuple[DoorSpread, ...]:
    """Return where the strips go on every door.

    Raises JobError for a strip that is not there, for measurements that cannot be those of this front, and where strips, or too
    few of them, do not fit a door.
    """
    missing = {front.layout.strip(number).number for number in bench.missing}
    if bench.stack is not None:
        _refuse_stack(front, bench.stack)
    if bench.spacers is not None:
        _refuse_spacers(front, bench.spacers)
    return tuple(
        _on_door(front, door, division, bench, missing)
        for door, division in zip(front.layout.doors, front.layout.divisions, strict=True)
    )


def _refuse_stack(front: Front, stack: float) -> None:
    """Refuse a stack that cannot be ten strips of every door."""
    show = front.job.ruler.fine
    widths = [division.width for division in front.layout.divisions]
    if max(widths) - min(widths) > _SAME:
        sizes = " and ".join(dict.fromkeys(map(show, widths)))
        raise mistake(
            "stack",
            f"`stack` cannot be told for doors whose strips differ, {sizes}: leave it out, and lay each door out by its own strips",
        )
    designed = STACKED * widths[0]
    if not abs(stack - designed) <= _MOST_OFF * designed + _HAIR:
        raise mistake(
            "stack",
            f"`stack` must be within {_MOST_OFF:.0%} of {show(designed)}, ten strips of {show(widths[0])} (got {show(stack)}): "
            "push ten strips together and measure across all of them",
        )


def _refuse_spacers(front: Front, spacers: float) -> None:
    """Refuse spacers on a front without gaps, and such as cannot be ten of them."""
    show = front.job.ruler.fine
    gaps = [division.gap for division in front.layout.divisions if division.count > 1]
    if not gaps or max(gaps) < _HAIR:
        raise mistake(
            "spacers",
            "`spacers` cannot be used where no strip has a gap beside it: leave them out of what was measured",
        )
    if not spacers >= STACKED * LEAST_GAP - _HAIR:
        raise mistake(
            "spacers",
            f"`spacers` must be at least {show(STACKED * LEAST_GAP)}, ten gaps of {show(LEAST_GAP)} (got {show(spacers)}): "
            "push ten spacers together and measure across all of them",
        )
    if not max(gaps) / _FAR <= spacers / STACKED <= max(gaps) * _FAR:
        raise mistake(
            "spacers",
            f"ten spacers for gaps of {show(max(gaps))} cannot measure {show(spacers)}: "
            "push ten spacers together and measure across all of them",
        )


def _on_door(front: Front, door: Door, division: Division, bench: Bench, missing: set[int]) -> DoorSpread:
    strips = front.layout.strips[door.first_strip - 1 : door.last_strip]
    kept = [place for place in strips if place.number not in missing]
    _refuse_few(door, strips, kept)
    width = division.width if bench.stack is None else bench.stack / STACKED
    first, last = strips[0].left - door.left, strips[-1].right - door.left
    measured = bench.stack is not None
    if not measured and len(kept) == len(strips):
        left = np.array([place.left for place in kept]) - door.left
        gap = division.gap
    else:
        left, gap = _shared_out(first, last, width, len(kept))
        _refuse_gap(front.job.ruler, bench, division, width, gap, len(kept), last - first)
    sentences: list[str] = []
    if bench.stack is not None:
        sentences += _stack_words(front.job.ruler, bench.stack, division, width, gap, len(kept))
    if len(kept) < len(strips):
        sentences += _missing_words(front, door, division, strips, kept, left, width, gap)
    if bench.spacers is not None and len(kept) > 1:
        sentences.append(_spacer_words(front.job.ruler, bench.spacers / STACKED, gap, len(kept)))
    return DoorSpread(door, tuple(place.number for place in kept), left, left + width, width, gap, tuple(sentences))


def _shared_out(first: float, last: float, width: float, count: int) -> tuple[Array, float]:
    """Return left edges and gap of `count` strips from `first` to `last`; one alone stands in the middle."""
    if count == 1:
        return np.array([(first + last - width) / 2]), 0.0
    gap = (last - first - count * width) / (count - 1)
    return first + np.arange(count, dtype=np.float64) * (width + gap), gap


def _refuse_few(door: Door, strips: Sequence[StripPlace], kept: Sequence[StripPlace]) -> None:
    """Refuse a door that is left with no strip, or with one where there were more: one cannot reach both edges."""
    if len(kept) >= min(2, len(strips)):
        return
    left = "no strip" if not kept else "one strip"
    raise mistake(
        "missing",
        f"`missing` leaves {left} of {len(strips)} on door {door.number}, which is too few to spread: carve the missing again",
    )


def _refuse_gap(
    ruler: Ruler, bench: Bench, division: Division, width: float, gap: float, count: int, whole: float
) -> None:
    """Refuse gaps that are too narrow, unless the design has none either."""
    show, least = ruler.fine, min(LEAST_GAP, division.gap)
    if count == 1 or bench.stack is None or gap >= least - _HAIR:
        return
    widest = (whole - (count - 1) * least) / count
    raise mistake(
        "stack",
        f"`stack` of {show(bench.stack)} makes strips of {show(width)}, which leaves {_gap_in_words(ruler, gap)} where "
        f"{show(least)} is the least: plane the strips to {show(widest)} or less",
    )


def _gap_in_words(ruler: Ruler, gap: float) -> str:
    return f"gaps of {ruler.fine(gap)}" if gap > 0 else "no gaps"


def _instead(ruler: Ruler, true: float, designed: float) -> str:
    """Return "18.09 mm instead of 18 mm", or "18 mm as designed"."""
    show = ruler.fine
    return f"{show(true)} as designed" if abs(true - designed) < _SAME else f"{show(true)} instead of {show(designed)}"


def _stack_words(ruler: Ruler, stack: float, division: Division, width: float, gap: float, count: int) -> list[str]:
    show = ruler.fine
    each = f"{show(width)} each" + (
        f" instead of {show(division.width)}" if abs(width - division.width) >= _SAME else ""
    )
    said = [f"Ten strips measure {show(stack)}: {each}."]
    if count == division.count > 1:
        said.append(f"Gap {_instead(ruler, gap, division.gap)}, so that the last strip lands on the edge.")
    return said


def _missing_words(
    front: Front,
    door: Door,
    division: Division,
    strips: Sequence[StripPlace],
    kept: Sequence[StripPlace],
    left: Array,
    width: float,
    gap: float,
) -> list[str]:
    """Say what leaving strips out does: to the gaps, to the places, and to the steps between facing edges."""
    ruler = front.job.ruler
    out = sorted({place.number for place in strips} - {place.number for place in kept})
    carved = np.array([(place.left + place.right) / 2 for place in kept]) - door.left
    moved = float(np.abs(left + width / 2 - carved).max())
    before, _, _ = _greatest_step(front, strips)
    after, between, from_top = _greatest_step(front, kept)
    said = [
        f"Without strip{'s' if len(out) > 1 else ''} {_listed(out)} the gap is {_instead(ruler, gap, division.gap)}, and the last "
        "strip lands on the edge.",
        f"No strip moves more than {ruler.text(ruler.up(moved))} from the place that it was carved for.",
        f"The greatest step between facing edges is {ruler.fine(after, 1)}, where it was {ruler.fine(before, 1)}: between strips "
        f"{kept[between].number} and {kept[between + 1].number}, {ruler.text(from_top, 0)} from TOP.",
    ]
    if gap > 2 * division.gap + _HAIR:
        said.append(
            "The gap is more than twice as wide as designed and will be seen: carve the missing again if you can."
        )
    return said


def _greatest_step(front: Front, places: Sequence[StripPlace]) -> tuple[float, int, float]:
    """Return the greatest step between facing edges as they were carved, mm, after which strip, and how far from TOP."""
    if len(places) < 2:
        return 0.0, 0, 0.0
    from_top = np.linspace(0.0, places[0].length, max(2, int(places[0].length / _STEP) + 1))
    y = (places[0].top - from_top)[:, None]
    rights = front.surface.at(np.array([[place.right for place in places[:-1]]]), y)
    lefts = front.surface.at(np.array([[place.left for place in places[1:]]]), y)
    steps = np.abs(rights - lefts)
    row, joint = np.unravel_index(int(steps.argmax()), steps.shape)
    return float(steps[row, joint]), int(joint), float(from_top[row])


def _spacer_words(ruler: Ruler, spacer: float, gap: float, count: int) -> str:
    """Compare spacers with the gap: how far off the last strip ends with them."""
    show = ruler.fine
    off = (spacer - gap) * (count - 1)
    if abs(off) <= CHECKPOINT:
        return f"With spacers of {show(spacer)} for a gap of {show(gap)} the last strip ends within {show(CHECKPOINT)} of its place."
    cure = f"plane them to {show(gap)}" if off > 0 else f"make spacers of {show(gap)}"
    return f"With spacers of {show(spacer)} the last strip would end {show(abs(off), 1)} {'beyond' if off > 0 else 'short'}: {cure}."


def _listed(numbers: Sequence[int]) -> str:
    """Return "3", "3 and 4", "3, 4 and 9"."""
    words = [str(number) for number in numbers]
    return words[0] if len(words) == 1 else f"{', '.join(words[:-1])} and {words[-1]}"
