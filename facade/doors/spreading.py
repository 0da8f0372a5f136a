"""Where the strips of each door go, and in words what came out otherwise than designed and what follows from it."""

from __future__ import annotations

import itertools
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

import numpy as np

from facade.arrays import Array
from facade.front import Front
from facade.layout import SAME, STACKED, Division, Door, Layout, StripPlace, run_in_words, runs_of
from facade.lengths import Ruler, Unit
from facade.surface import Surface, as_carved

# The last strip may be so far from its place, mm (common practice).
CHECKPOINT = 0.3
# Steps between facing edges are looked for at about every 5 mm.
_STEP = 5.0
_HAIR = 1e-9
# So many runs of missing strips are named in the head of a sheet.
_RUNS_NAMED = 3


@dataclass(frozen=True)
class DoorSpread:
    """Where the strips of a door go: `left` and `right` edges (strips,), mm from the LEFT edge of the door.

    `places` are the strips as they were designed to be counted within the door, from 1 at the left. `sentences` say what was
    measured and what follows, none where the design stands as it is.
    """

    door: Door
    numbers: tuple[int, ...]
    places: tuple[int, ...]
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
            and abs(self.door.width - other.door.width) < SAME
            and bool(np.allclose(self.left, other.left, rtol=0.0, atol=SAME))
            and bool(np.allclose(self.right, other.right, rtol=0.0, atol=SAME))
        )


def spread(front: Front) -> tuple[DoorSpread, ...]:
    """Return where the strips go on every door, as the layout has them."""
    layout = front.layout
    return tuple(_on_door(front, door, division) for door, division in zip(layout.doors, layout.divisions, strict=True))


def as_built_in_words(front: Front) -> str:
    """Return in few words what came out otherwise than designed, "" where nothing did: "without 23, gaps 4.1"."""
    layout, job = front.layout, front.job
    said = []
    if layout.missing:
        said.append(f"without {_named(layout.missing, 'strip')}")
    if job.as_built.stack is not None:
        said.append(f"strips {_bare(job.ruler, layout.divisions[0].width)} wide")
    if layout.plan is not None:
        said.append(_gaps_in_words(job.ruler, layout, layout.plan))
    if job.as_built.blank is not None:
        said.append(f"blanks {_bare(job.ruler, job.blank)}")
    return ", ".join(filter(None, said))


def _bare(ruler: Ruler, mm: float) -> str:
    """Return a small length without its unit: "4.05", "27/32", or to a thousandth of an inch where it is no fraction."""
    text = ruler.fine(mm).removesuffix(f" {ruler.unit.value}")
    return f"{mm / ruler.unit.in_mm:.3f}".rstrip("0") if ruler.unit is Unit.INCH and "." in text else text


def _named(numbers: Sequence[int], thing: str) -> str:
    """Return "23", "3 and 7 to 9", or of many how many they are: "8 strips"."""
    runs = runs_of(numbers)
    if len(runs) > _RUNS_NAMED:
        return f"{len(numbers)} {thing}s"
    return _listed([run_in_words(run) for run in runs])


def _gaps_in_words(ruler: Ruler, layout: Layout, plan: Layout) -> str:
    """Return the gaps where some are not as designed: "gaps 4.1", "gaps 4.1 on door 2" where others are, "gaps 3 to 4.1"."""
    changed: dict[str, list[int]] = {}
    for door, now, was in zip(layout.doors, layout.divisions, plan.divisions, strict=True):
        if now.count > 1 and abs(now.gap - was.gap) >= SAME:
            changed.setdefault(_bare(ruler, now.gap), []).append(door.number)
    if len(changed) == 1 and next(iter(changed.values())) == [door.number for door in layout.doors]:
        return f"gaps {next(iter(changed))}"
    if len(changed) > 1:
        gaps = [division.gap for division in layout.divisions if division.count > 1]
        return f"gaps {_bare(ruler, min(gaps))} to {_bare(ruler, max(gaps))}"
    if not changed:
        return ""
    (gap, doors), *_ = changed.items()
    named = _named(doors, "door")
    if not named.endswith("s"):
        named = f"door{'s' if len(doors) > 1 else ''} {named}"
    return f"gaps {gap} on {named}"


def _on_door(front: Front, door: Door, division: Division) -> DoorSpread:
    layout = front.layout
    planned = layout.designed.doors[door.number - 1]
    strips, kept = layout.designed.on_door(planned), layout.on_door(door)
    first, ruler, state = planned.first_strip, front.job.ruler, front.job.as_built
    sentences: list[str] = []
    if state.stack is not None:
        was = layout.designed.divisions[door.number - 1]
        sentences += _stack_words(ruler, state.stack, was, division, whole=len(kept) == len(strips))
    if len(kept) < len(strips):
        sentences += _missing_words(front, door, division)
    if state.spacers is not None and len(kept) > 1:
        sentences.append(_spacer_words(ruler, state.spacers / STACKED, division.gap, len(kept)))
    return DoorSpread(
        door,
        tuple(place.number for place in kept),
        tuple(place.number - first + 1 for place in kept),
        np.array([place.left for place in kept]) - door.left,
        np.array([place.right for place in kept]) - door.left,
        division.width,
        division.gap,
        tuple(sentences),
    )


def _instead(ruler: Ruler, true: float, designed: float) -> str:
    """Return "18.09 mm instead of 18 mm", or "18 mm as designed"."""
    show = ruler.fine
    return f"{show(true)} as designed" if abs(true - designed) < SAME else f"{show(true)} instead of {show(designed)}"


def _stack_words(ruler: Ruler, stack: float, was: Division, now: Division, *, whole: bool) -> list[str]:
    show = ruler.fine
    each = f"{show(now.width)} each" + (f" instead of {show(was.width)}" if abs(now.width - was.width) >= SAME else "")
    said = [f"Ten strips measure {show(stack)}: {each}."]
    if whole and now.count > 1:
        said.append(f"Gap {_instead(ruler, now.gap, was.gap)}, so that the last strip lands on the edge.")
    return said


def _missing_words(front: Front, door: Door, division: Division) -> list[str]:
    """Say what leaving strips out does: to the gaps, to the places, and to the steps between facing edges."""
    ruler, layout = front.job.ruler, front.layout
    plan, kept = layout.designed, layout.on_door(door)
    was = plan.divisions[door.number - 1]
    out = [number for number in layout.missing if plan.strip(number).door == door.number]
    carved = [plan.strip(place.number) for place in kept]
    moved = max(abs(now.left + now.right - then.left - then.right) / 2 for now, then in zip(kept, carved, strict=True))
    before = _greatest_step(as_carved(front.surface), plan, door)
    after = _greatest_step(front.surface, layout, door)
    said = [
        f"Without strip{'s' if len(out) > 1 else ''} {_listed(map(str, out))} the gap is "
        f"{_instead(ruler, division.gap, was.gap)}, and the last strip lands on the edge.",
        f"No strip moves more than {ruler.text(ruler.up(moved))} from the place that it was carved for.",
    ]
    if after is not None and before is not None:
        said.append(
            f"The greatest step between facing edges is {ruler.fine(after.height, 1)}, where it was {ruler.fine(before.height, 1)}: "
            f"between strips {after.left} and {after.right}{', where two doors meet' if after.joint else ''}, "
            f"{ruler.text(after.from_top, 0)} from TOP."
        )
    if division.gap > 2 * was.gap + _HAIR:
        said.append(
            "The gap is more than twice as wide as designed and will be seen: carve the missing again if you can."
        )
    return said


@dataclass(frozen=True)
class _Step:
    """The greatest step between facing edges, mm: between which strips, how far from TOP, and whether where two doors meet."""

    height: float
    left: int
    right: int
    from_top: float
    joint: bool


def _greatest_step(surface: Surface, layout: Layout, door: Door) -> _Step | None:
    """Return the greatest step at the strips of a door, those to its neighbouring doors among them; None where no strips meet."""
    pairs: list[tuple[StripPlace, StripPlace]] = [
        pair for pair in itertools.pairwise(layout.strips) if door.number in (pair[0].door, pair[1].door)
    ]
    if not pairs:
        return None
    top, length = layout.strips[0].top, layout.strips[0].length
    from_top = np.linspace(0.0, length, max(2, int(length / _STEP) + 1))
    y = (top - from_top)[:, None]
    rights = surface.at(np.array([[left.right for left, _ in pairs]]), y)
    lefts = surface.at(np.array([[right.left for _, right in pairs]]), y)
    steps = np.abs(rights - lefts)
    row, joint = np.unravel_index(int(steps.argmax()), steps.shape)
    left, right = pairs[int(joint)]
    height = float(steps[row, joint])
    return _Step(height, left.number, right.number, float(from_top[row]), left.door != right.door)


def _spacer_words(ruler: Ruler, spacer: float, gap: float, count: int) -> str:
    """Compare spacers with the gap: how far off the last strip ends with them."""
    show = ruler.fine
    off = (spacer - gap) * (count - 1)
    if abs(off) <= CHECKPOINT:
        return f"With spacers of {show(spacer)} for a gap of {show(gap)} the last strip ends within {show(CHECKPOINT)} of its place."
    cure = f"plane them to {show(gap)}" if off > 0 else f"make spacers of {show(gap)}"
    return f"With spacers of {show(spacer)} the last strip would end {show(abs(off), 1)} {'beyond' if off > 0 else 'short'}: {cure}."


def _listed(words: Iterable[str]) -> str:
    """Return "3", "3 and 4", "3, 4 and 9"."""
    some = list(words)
    return some[0] if len(some) == 1 else f"{', '.join(some[:-1])} and {some[-1]}"
