"""Where doors, gaps and strips are on the front, and who neighbours whom."""

from __future__ import annotations

import itertools
import math
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from functools import cached_property

from facade.errors import mistake
from facade.job import Job
from facade.lengths import Ruler
from facade.reliefs import terms
from facade.rules import Rule, rule, rules

# Widths, gaps and edges must add up to a door within this, mm.
EXACT = 1e-9
# A strip of more heights than this would not fit in a small machine's memory; more over a front, or more of them times the terms
# of its relief, would take longer than minutes.
_MOST_ON_STRIP, _MOST_ON_FRONT, _MOST_WORK = 8_000_000, 2e8, 4e9
# So many strips, or spacers, are pushed together and measured at once.
STACKED = 10
# A gap narrower than this, mm, closes when the wood swells or the finish builds up (common practice).
_LEAST_GAP = 0.2
# Spacers so many times as thick as a gap, or as thin, are not ten of them.
_FAR = 3.0
# A stack that is off by a larger share is no measurement of these strips.
_MOST_OFF = 0.1
# What reads the same on a rule, mm.
SAME = 0.005


@dataclass(frozen=True)
class Door:
    """One leaf: its number from the left and its place on the front, mm."""

    number: int
    left: float
    right: float
    bottom: float
    top: float
    first_strip: int
    last_strip: int

    @property
    def width(self) -> float:
        """Width of the door, mm."""
        return self.right - self.left

    @property
    def height(self) -> float:
        """Height of the door, mm."""
        return self.top - self.bottom


@dataclass(frozen=True)
class StripPlace:
    """Where one strip is: its number from the left over all doors, its edges, its neighbours.

    `moved` is how far to the right it hangs of where it was carved for, mm: lands and pulls on it moved along.
    """

    number: int
    door: int
    left: float
    right: float
    bottom: float
    top: float
    left_neighbour: int | None
    right_neighbour: int | None
    moved: float = 0.0

    @property
    def width(self) -> float:
        """Width of the strip, mm."""
        return self.right - self.left

    @property
    def length(self) -> float:
        """Length of the strip, mm."""
        return self.top - self.bottom


@dataclass(frozen=True)
class Division:
    """How one door is divided: count * width + (count - 1) * gap + 2 * edge is its width."""

    count: int
    width: float
    gap: float
    edge: float
    solved: str
    left_over: float

    @property
    def total(self) -> float:
        """What strips, gaps and edges add up to, mm."""
        return self.count * self.width + (self.count - 1) * self.gap + 2 * self.edge


@dataclass(frozen=True)
class Layout:
    """The front, its doors and its strips, mm from the lower left corner.

    Strips are numbered from the left as they were designed; one that is left out keeps its number, and nothing else of it is
    here. `plan` is the layout as designed, where strips hang elsewhere: they were carved for their places there.
    """

    width: float
    height: float
    space: float
    doors: tuple[Door, ...]
    strips: tuple[StripPlace, ...]
    divisions: tuple[Division, ...]
    plan: Layout | None = None

    @property
    def designed(self) -> Layout:
        """The layout as designed: this one, where nothing came out otherwise."""
        return self.plan or self

    @property
    def count(self) -> int:
        """How many strips are numbered, those that are left out among them."""
        return len(self.designed.strips)

    @cached_property
    def numbers(self) -> tuple[int, ...]:
        """The numbers of the strips that there are, from the left."""
        return tuple(place.number for place in self.strips)

    @cached_property
    def _at(self) -> dict[int, int]:
        return {number: index for index, number in enumerate(self.numbers)}

    def index(self, number: int) -> int:
        """Return which of the strips that there are has a number, from 0; raises JobError for a number that is not there."""
        if number not in self._at:
            left_out = 1 <= number <= self.count
            why = "it is left out (`as_built.missing`)" if left_out else f"this front has strips 1 to {self.count}"
            raise mistake("strip", f"strip {number} is not there: {why}")
        return self._at[number]

    def strip(self, number: int) -> StripPlace:
        """Return a strip's place; raises JobError for a number that is not there."""
        return self.strips[self.index(number)]

    def on_door(self, door: Door) -> tuple[StripPlace, ...]:
        """Return the strips of a door, from the left."""
        return tuple(place for place in self.strips if place.door == door.number)

    @property
    def missing(self) -> tuple[int, ...]:
        """The numbers of the strips that are left out."""
        there = set(self.numbers)
        return tuple(place.number for place in self.designed.strips if place.number not in there)


def lay_out(job: Job) -> Layout:
    """Return the layout of a job as it is built; raises JobError when the strips cannot fit.

    Where strips are left out, or are not as wide as designed, the first strip of a door starts and the last one ends where they
    were designed to; what lies between is shared out over the gaps.
    """
    plan = _designed(job)
    state = job.as_built
    if state.stack is not None:
        _refuse_stack(job.ruler, plan, state.stack)
    if state.spacers is not None:
        _refuse_spacers(job.ruler, plan, state.spacers)
    if state.stack is None and not state.missing:
        return plan
    missing = _missing(plan, state.missing)
    doors, strips, divisions = [], [], []
    for door, division in zip(plan.doors, plan.divisions, strict=True):
        own = plan.on_door(door)
        kept = [place for place in own if place.number not in missing]
        _refuse_few(door, own, kept)
        division, places = _shared_out(job, division, own, kept)
        doors.append(replace(door, first_strip=kept[0].number, last_strip=kept[-1].number))
        strips += places
        divisions.append(division)
    return replace(plan, doors=tuple(doors), strips=tuple(_neighbours(strips)), divisions=tuple(divisions), plan=plan)


def _missing(plan: Layout, numbers: Sequence[int]) -> frozenset[int]:
    """Return the strips that are left out; raises JobError for one that is not there."""
    for number in numbers:
        if number > plan.count:
            raise mistake(
                "as_built.missing",
                f"`as_built.missing` names strip {number}, but strip {number} is not there: this front has strips 1 to {plan.count}",
            )
    return frozenset(numbers)


def _shared_out(
    job: Job, division: Division, own: Sequence[StripPlace], kept: Sequence[StripPlace]
) -> tuple[Division, list[StripPlace]]:
    """Return how a door is divided as it is built, and where its strips go; one strip alone stands in the middle."""
    stack, count = job.as_built.stack, len(kept)
    if stack is None and count == len(own):
        return division, list(kept)
    first, last = own[0].left, own[-1].right
    width = division.width if stack is None else stack / STACKED
    gap = (last - first - count * width) / (count - 1) if count > 1 else 0.0
    if stack is not None:
        _refuse_gap(job.ruler, stack, division, width, gap, count, last - first)
    start = first if count > 1 else (first + last - width) / 2
    places = []
    for k, place in enumerate(kept):
        left = start + k * (width + gap)
        moved = left + width / 2 - (place.left + place.right) / 2
        places.append(replace(place, left=left, right=left + width, moved=moved))
    return replace(division, count=count, width=width, gap=gap), places


def _neighbours(strips: Sequence[StripPlace]) -> Iterator[StripPlace]:
    """Yield strips beside which others are left out with the neighbours that they have now."""
    numbers = [None, *(place.number for place in strips), None]
    for place, left, right in zip(strips, numbers, numbers[2:], strict=False):
        yield replace(place, left_neighbour=left, right_neighbour=right)


def _refuse_few(door: Door, strips: Sequence[StripPlace], kept: Sequence[StripPlace]) -> None:
    """Refuse a door that is left with no strip, or with one where there were more: one cannot reach both edges."""
    if len(kept) >= min(2, len(strips)):
        return
    left = "no strip" if not kept else "one strip"
    raise mistake(
        "as_built.missing",
        f"`as_built.missing` leaves {left} of {len(strips)} on door {door.number}, which is too few to spread: carve the missing again",
    )


def _refuse_stack(ruler: Ruler, plan: Layout, stack: float) -> None:
    """Refuse a stack that cannot be ten strips of every door."""
    show = ruler.fine
    widths = [division.width for division in plan.divisions]
    if max(widths) - min(widths) > SAME:
        sizes = " and ".join(dict.fromkeys(map(show, widths)))
        raise mistake(
            "as_built.stack",
            f"`as_built.stack` cannot be told for doors whose strips differ, {sizes}: leave it out, and lay each door out by its "
            "own strips",
        )
    designed = STACKED * widths[0]
    if not abs(stack - designed) <= _MOST_OFF * designed + EXACT:
        raise mistake(
            "as_built.stack",
            f"`as_built.stack` must be within {_MOST_OFF:.0%} of {show(designed)}, ten strips of {show(widths[0])} (got {show(stack)}): "
            "push ten strips together and measure across all of them",
        )


def _refuse_spacers(ruler: Ruler, plan: Layout, spacers: float) -> None:
    """Refuse spacers on a front without gaps, and such as cannot be ten of them."""
    show = ruler.fine
    gaps = [division.gap for division in plan.divisions if division.count > 1]
    if not gaps or max(gaps) < EXACT:
        raise mistake(
            "as_built.spacers",
            "`as_built.spacers` cannot be used where no strip has a gap beside it: leave them out of what was measured",
        )
    if not spacers >= STACKED * _LEAST_GAP - EXACT:
        raise mistake(
            "as_built.spacers",
            f"`as_built.spacers` must be at least {show(STACKED * _LEAST_GAP)}, ten spacers of {show(_LEAST_GAP)} (got {show(spacers)}): "
            "push ten spacers together and measure across all of them",
        )
    if not max(gaps) / _FAR <= spacers / STACKED <= max(gaps) * _FAR:
        raise mistake(
            "as_built.spacers",
            f"`as_built.spacers` cannot be {show(spacers)} for ten spacers where gaps are {show(max(gaps))}: "
            "push ten spacers together and measure across all of them",
        )


def _refuse_gap(
    ruler: Ruler, stack: float, division: Division, width: float, gap: float, count: int, whole: float
) -> None:
    """Refuse gaps that are too narrow, unless the design has none either."""
    show, least = ruler.fine, min(_LEAST_GAP, division.gap)
    if count == 1 or gap >= least - EXACT:
        return
    widest = (whole - (count - 1) * least) / count
    left = f"gaps of {show(gap)}" if gap > 0 else "no gaps"
    raise mistake(
        "as_built.stack",
        f"`as_built.stack` of {show(stack)} makes strips of {show(width)}, which leaves {left} where {show(least)} is the least: "
        f"plane the strips to {show(widest)} or less",
    )


def _designed(job: Job) -> Layout:
    """Return the layout as it was designed; raises JobError when the strips cannot fit."""
    front = job.front
    inner = front.width - job.reveals.left - job.reveals.right
    height = front.height - job.reveals.top - job.reveals.bottom
    _room_for_doors(job, inner, height)
    if front.door_widths is not None:
        space, divisions = _doors_of_own_width(job, front.door_widths, inner)
        widths = front.door_widths
    elif front.hidden_joint and front.doors > 1:
        space, divisions = _doors_with_hidden_joint(job, inner)
        widths = tuple(division.total for division in divisions)
    else:
        space = _space(job)
        width = (inner - (front.doors - 1) * space) / front.doors
        if width <= 0:
            raise mistake(
                "front.space",
                f"`front.space` of {job.ruler.text(space, 3)} between {front.doors} doors leaves no door on a front of "
                f"{job.ruler.text(front.width, 3)}: make it smaller, or have fewer doors",
            )
        count = _per_door(job, front.doors)
        divisions = (divide(job, width, count),) * front.doors
        widths = (width,) * front.doors
    return _placed(job, space, widths, divisions)


def _space(job: Job) -> float:
    return rule("space") if job.front.space is None else job.front.space


def _room_for_doors(job: Job, width: float, height: float) -> None:
    for size, side, word in ((width, job.front.width, "width"), (height, job.front.height, "height")):
        if size <= 0:
            raise mistake(
                "front.reveals",
                f"`front.reveals` must leave some of the {word} of {job.ruler.text(side, 3)} (they leave {job.ruler.text(size, 3)}): "
                "make them smaller",
            )


def _per_door(job: Job, doors: int) -> int | None:
    """Return how many strips each of `doors` equal doors gets."""
    count: int | None = job.strips.count
    if count is None:
        return None
    if count % doors:
        raise mistake(
            "strips.count",
            f"`strips.count` must be a multiple of the number of doors, {doors} (got {count}): "
            f"take {' or '.join(str(near * doors) for near in (count // doors, count // doors + 1) if near)}",
        )
    return count // doors


def _doors_of_own_width(job: Job, widths: tuple[float, ...], inner: float) -> tuple[float, tuple[Division, ...]]:
    show = job.ruler.text
    if job.strips.count is not None:
        raise mistake(
            "strips.count",
            "`strips.count` cannot be shared out over doors of different widths: give `strips.width` instead",
        )
    if job.front.hidden_joint:
        raise mistake("front.hidden_joint", "`front.hidden_joint` needs doors of one width: give `front.space` instead")
    joints = len(widths) - 1
    left = inner - sum(widths)
    space = _space(job) if job.front.space is not None or not joints else left / joints
    if space < 0 or abs(left - joints * space) > 1e-6:
        raise mistake(
            "front.door_widths",
            f"`front.door_widths` must add up to {show(inner - joints * max(space, 0.0), 3)}, the front less reveals and spaces "
            f"(they add up to {show(sum(widths), 3)}): change a width, or leave `front.space` out",
        )
    return space, tuple(divide(job, width, None) for width in widths)


def _doors_with_hidden_joint(job: Job, inner: float) -> tuple[float, tuple[Division, ...]]:
    """Divide the doors as one, since with the joint as wide as a gap every gap on the front is the same."""
    doors = job.front.doors
    whole = divide(job, inner, job.strips.count, doors=doors)
    _per_door(job, doors)
    space = whole.gap - 2 * whole.edge
    if space <= 0:
        solved = job.strips.edge is None
        raise mistake(
            "strips.edge",
            f"`strips.edge` must be less than half of the gap of {job.ruler.text(whole.gap, 3)} for a hidden joint "
            f"({'solved as' if solved else 'got'} {job.ruler.text(whole.edge, 3)}): "
            f"leave {'one of count, width and gap' if solved else 'the edge'} out, or the hidden joint",
        )
    each = Division(whole.count // doors, whole.width, whole.gap, whole.edge, whole.solved, whole.left_over)
    return space, (each,) * doors


def divide(job: Job, width: float, count: int | None, *, doors: int = 1) -> Division:
    """Return how `width` mm is divided into `count` strips, or into as many as fit, a multiple of `doors`.

    What the job gives is kept; the first that it leaves out of gap, width and edge is solved. When count is solved and
    nothing else is free, what is left over widens the gaps. Raises JobError when nothing fits.
    """
    plan, usual_gap = job.strips, rule("gap")
    edge = plan.edge or 0.0
    if width - 2 * edge < 1.0:
        raise mistake(
            "strips.edge",
            f"`strips.edge` must be less than half of the {job.ruler.text(width, 3)} that there are "
            f"(got {job.ruler.text(edge, 3)}): make it smaller, or leave it out",
        )
    if count is None and plan.width is None:
        raise mistake("strips", "`strips` needs a `count` or a `width`: give one of them, the rest is solved")
    if count is not None and plan.width is not None and plan.gap is not None:
        return _solve_edge(job, width, count, plan.width, plan.gap)
    if count is not None and plan.width is not None:
        return _solve_gap(job, width, count, plan.width, edge, "gap", 0.0)
    if count is not None:
        return _solve_width(job, width, count, usual_gap if plan.gap is None else plan.gap, edge)
    assert plan.width is not None
    gap = usual_gap if plan.gap is None else plan.gap
    exact = (width - 2 * edge + gap) / (plan.width + gap)
    # A hair's tolerance, or a front made for exactly 43 strips would lose one to the last bit.
    count = math.floor(exact + 1e-6) if plan.gap is not None else max(round(exact), doors)
    count = min(count, math.floor((width - 2 * edge) / plan.width + 1e-6)) // doors * doors
    _refuse_none(job, (width - 2 * edge - (doors - 1) * (plan.gap or 0.0)) / doors, count, plan.width)
    # Only a gap that was asked for can leave something over; otherwise the gap itself is what is solved.
    left_over = 0.0 if plan.gap is None else width - count * plan.width - (count - 1) * gap - 2 * edge
    if plan.gap is not None and plan.edge is None and doors == 1:
        return Division(count, plan.width, gap, max(left_over, 0.0) / 2, "count and edge", left_over)
    if count == 1:
        return replace(_solve_edge(job, width, 1, plan.width, 0.0), solved="count and edge")
    return _solve_gap(job, width, count, plan.width, edge, "count and gap", left_over)


def _refuse_none(job: Job, width: float, count: int, strip: float) -> None:
    if count < 1:
        raise mistake(
            "strips.width",
            f"`strips.width` must be at most what a door gives, {job.ruler.text(width, 3)} (got {job.ruler.text(strip, 3)}): "
            "make strips narrower",
        )
    if count > 10_000:
        raise mistake("strips.width", f"`strips.width` would give {count} strips, more than 10000: make strips wider")


def _solve_gap(
    job: Job, width: float, count: int, strip: float, edge: float, solved: str, left_over: float
) -> Division:
    if count == 1:
        return _solve_edge(job, width, 1, strip, 0.0)
    gap = (width - 2 * edge - count * strip) / (count - 1)
    if gap < -EXACT:
        fit = math.floor((width - 2 * edge) / strip)
        raise mistake(
            "strips.count",
            f"`strips` do not fit: {count} strips of {job.ruler.text(strip, 3)} and two edges of {job.ruler.text(edge, 3)} need "
            f"{job.ruler.text(count * strip + 2 * edge, 3)}, there is {job.ruler.text(width, 3)}: "
            f"at most {fit} of this width fit, or make them {job.ruler.text((width - 2 * edge) / count, 3)} wide",
        )
    return Division(count, strip, max(gap, 0.0), edge, solved, left_over)


def _solve_width(job: Job, width: float, count: int, gap: float, edge: float) -> Division:
    strip = (width - 2 * edge - (count - 1) * gap) / count
    if strip < 1.0:
        raise mistake(
            "strips.count",
            f"`strips` do not fit: {count} strips with gaps of {job.ruler.text(gap, 3)} would be {job.ruler.text(strip, 3)} wide, "
            f"less than {job.ruler.text(1.0, 3)}: take fewer strips, or a smaller gap",
        )
    return Division(count, strip, gap, edge, "width", 0.0)


def _solve_edge(job: Job, width: float, count: int, strip: float, gap: float) -> Division:
    show = job.ruler.text
    edge = (width - count * strip - (count - 1) * gap) / 2
    need = count * strip + (count - 1) * gap
    if edge < -EXACT:
        raise mistake(
            "strips.count",
            f"`strips` do not fit: {count} strips of {show(strip, 3)} with gaps of {show(gap, 3)} need {show(need, 3)}, "
            f"there is {show(width, 3)}: take fewer or narrower strips, or leave one of count, width and gap out",
        )
    given = job.strips.edge
    if given is not None and abs(given - edge) > 1e-3:
        raise mistake(
            "strips.edge",
            f"`strips.edge` does not agree with count, width and gap, which leave {show(edge, 3)} (got {show(given, 3)}): "
            "leave one of the four out",
        )
    return Division(count, strip, gap, max(edge, 0.0), "edge" if given is None else "nothing: all was given", 0.0)


def _placed(job: Job, space: float, widths: tuple[float, ...], divisions: tuple[Division, ...]) -> Layout:
    front, reveals = job.front, job.reveals
    bottom, top = reveals.bottom, front.height - reveals.top
    total = sum(division.count for division in divisions)
    doors, strips = [], []
    left, number = reveals.left, 1
    for index, (width, division) in enumerate(zip(widths, divisions, strict=True), start=1):
        if division.width < 1.0:
            raise mistake(
                "strips.width",
                f"`strips.width` must be at least {job.ruler.text(1.0, 3)} (got {job.ruler.text(division.width, 3)}): make strips wider",
            )
        _refuse_too_fine(job, division.width, top - bottom)
        first = number
        for k in range(division.count):
            # Each edge is measured from the door's, never from the strip before, so that nothing adds up.
            start = left + division.edge + k * (division.width + division.gap)
            strips.append(
                StripPlace(
                    number=number,
                    door=index,
                    left=start,
                    right=start + division.width,
                    bottom=bottom,
                    top=top,
                    left_neighbour=number - 1 if number > 1 else None,
                    right_neighbour=number + 1 if number < total else None,
                )
            )
            number += 1
        doors.append(Door(index, left, left + width, bottom, top, first, number - 1))
        left += width + space
    return Layout(front.width, front.height, space, tuple(doors), tuple(strips), divisions)


def _refuse_too_fine(job: Job, width: float, length: float) -> None:
    """Refuse more heights than fit in memory, strip by strip, or than are worked out in minutes, over the whole front."""
    step, parts = job.sampling.step, terms(job.layers)
    on_strip = width * length / step**2 / _MOST_ON_STRIP
    on_front = job.front.width * job.front.height / step**2 / min(_MOST_ON_FRONT, _MOST_WORK / (parts + 4))
    if max(on_strip, on_front) <= 1.0:
        return
    coarser = job.ruler.text(job.ruler.up(step * math.sqrt(max(on_strip, on_front))), 2)
    size = f"for strips of {job.ruler.text(length, 2)} by {job.ruler.text(width, 2)}"
    if on_front > on_strip:
        size = "on a front as large as this, of a relief of as many parts"
    raise mistake(
        "sampling.step",
        f"`sampling.step` must be at least {coarser} {size} (got {job.ruler.text(step, 3)}): {job.ruler.text(1.0, 3)} is usual",
    )


def layout_notes(job: Job, layout: Layout) -> list[str]:
    """Return in plain sentences what was given, what was solved and what is left over."""
    show = job.ruler.text
    notes = []
    for door, division in zip(layout.doors, layout.divisions, strict=True):
        # Equal doors may differ in the last bit; what reads the same is said once.
        alike = [one.number for one in layout.doors if show(one.width, 3) == show(door.width, 3)]
        if door.number != alike[0]:
            continue
        which = _which(alike, len(layout.doors))
        strips = f"{division.count} strip{'s' if division.count > 1 else ''} of {show(division.width, 2)}"
        edges = f", edges of {show(division.edge, 2)}" if division.edge > EXACT else ", no edges"
        gaps = f", gaps of {show(division.gap, 2)}" if division.count > 1 else ""
        notes.append(f"{which} of {show(door.width, 2)}: {strips}{gaps}{edges}. Solved: {division.solved}.")
        if abs(division.left_over) > 1e-6:
            where = "went into the edges" if "edge" in division.solved else "was shared out over the gaps"
            notes.append(f"Left over after whole strips: {show(division.left_over, 2)}; it {where}.")
    if len(layout.doors) > 1:
        notes.append(_joint_note(job, layout))
    return notes


def _joint_note(job: Job, layout: Layout) -> str:
    """Return what stands between doors, and between the outermost strips on both sides of it."""
    show = job.ruler.text
    joints = [layout.space + left.edge + right.edge for left, right in itertools.pairwise(layout.divisions)]
    widths = list(dict.fromkeys(show(joint, 2) for joint in joints))
    hidden = all(abs(joint - layout.divisions[0].gap) < 1e-6 for joint in joints)
    same = ", as wide as a gap, so that it disappears" if hidden else ""
    which = (
        f"the joint between their strips is {widths[0]}"
        if len(widths) == 1
        else f"the joints between their strips are {', '.join(widths)}"
    )
    return f"Space between doors: {show(layout.space, 2)}; {which}{same}."


def rules_used(job: Job, layout: Layout) -> list[Rule]:
    """Return the rules that stand in where the job says nothing, of those that count in this layout."""
    used = [name for name in ("floor", "sanding", "sawing") if name not in job.wood.model_fields_set]
    kept = [division for division in layout.divisions if division.count > 1 and "gap" not in division.solved]
    if kept and job.strips.gap is None and "edge" not in kept[0].solved:
        used.append("gap")
    front = job.front
    if len(layout.doors) > 1 and front.space is None and not front.hidden_joint and front.door_widths is None:
        used.append("space")
    if job.sides_by_rule:
        used.append("reveal")
    if any("blend" not in one.model_fields_set for one in (*job.lands, *job.caps)):
        used.append("blend")
    return [rules()[name] for name in used]


def _which(doors: list[int], total: int) -> str:
    """Return doors in words: "Each door", "Doors 1 and 3"."""
    if len(doors) == total:
        return "Each door" if total > 1 else "The door"
    if len(doors) == 1:
        return f"Door {doors[0]}"
    return f"Doors {', '.join(map(str, doors[:-1]))} and {doors[-1]}"


def runs_of(numbers: Iterable[int]) -> list[range]:
    """Return rising numbers as runs of those that follow each other."""
    runs: list[range] = []
    for number in numbers:
        if runs and number == runs[-1].stop:
            runs[-1] = range(runs[-1].start, number + 1)
        else:
            runs.append(range(number, number + 1))
    return runs


def run_in_words(run: range) -> str:
    """Return a run as "3", or "7 to 9"."""
    return str(run[0]) if len(run) == 1 else f"{run[0]} to {run[-1]}"
