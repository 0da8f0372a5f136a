"""Trying a cure before it is printed: the job with a change, its front, and the same question asked of it again.

One object holds both what is printed and what is tried, so that they cannot differ. While one cure is tried no others are made.
"""

from __future__ import annotations

from collections.abc import Callable, Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from typing import Any

from facade.checks import cutter, grain
from facade.checks.asking import asking, is_trying
from facade.checks.cures import added, stretched, typed, value_typed, ways
from facade.checks.finding import Finding
from facade.checks.gentler import coarser_first
from facade.doors.trying import front_with
from facade.errors import JobError
from facade.front import Front, build_front
from facade.job import Cap, DoorPattern, Fade, Job, Keep, Land, Pull
from facade.job.changing import Settings, job_with
from facade.job.reading import agrees
from facade.layout import Division, Door, StripPlace, lay_out
from facade.lengths import MM_PER_INCH, Ruler, Unit
from facade.reach import designed_of, reachable
from facade.surface import make_surface

Check = Callable[[Front], list[Finding]]

_SOME = 8  # strips at the least, where not all are measured
_BEYOND = 20.0  # mm round a land that is looked at too
_BLENDS = (2.0, 3.0, 4.0, 6.0, 8.0)  # times 25 mm, or inches, that a land may run out over where the usual is too steep
_TABLES: Mapping[str, type[Land | Pull | Cap]] = {"lands": Land, "pulls": Pull, "caps": Cap}


@dataclass(frozen=True)
class Change:
    """What one way out changes in a job: settings by their place, tables that are added, and longer waves; lengths in mm.

    `after` is said behind it. Values are floats for lengths, whole numbers, truths, names, or lists of lengths.
    """

    settings: Mapping[str, Any] = field(default_factory=dict)
    tables: Sequence[tuple[str, Mapping[str, Any]]] = ()
    stretch: float | None = None
    after: str = ""

    def words(self, job: Job) -> str:
        """Return the change as it is typed."""
        set_to = typed(job, self.settings)
        tables = [
            added(name, {key: value_typed(job, key, value) for key, value in table.items()})
            for name, table in self.tables
        ]
        parts = [f"set {set_to}" if set_to else "", f"add {' and '.join(tables)}" if tables else ""]
        parts += [stretched(self.stretch) if self.stretch else ""]
        return " and ".join(filter(None, parts)) + self.after

    def made(self, job: Job) -> Job:
        """Return the job with the change."""
        job = job_with(job, self.settings)
        for name, table in self.tables:
            job = job.model_copy(update={name: (*getattr(job, name), _TABLES[name](**table))})
        if self.stretch:
            layers = [layer.model_copy(update={"stretch": layer.stretch * self.stretch}) for layer in job.layers]
            job = job.model_copy(update={"layers": tuple(layers)})
        return job

    def blended(self, blend: float) -> Change:
        """Return the change with another blend of the lands that it adds."""
        return replace(self, tables=[(name, {**table, "blend": blend}) for name, table in self.tables])

    def also(self, settings: Mapping[str, Any]) -> Change:
        """Return the change with further settings."""
        return replace(self, settings={**self.settings, **settings})


def tried(front: Front, change: Change) -> Front | None:
    """Return the front of a job with a change; None where that is no job, or no front comes of it."""
    try:
        job = change.made(front.job)
        if not agrees(job):
            return None
        if _same_heights(job, front):
            return replace(front, job=job, _measured=[], _alone={})
        if not _same_relief(job, front):
            return build_front(job)
        layout = front.layout if job.strips is front.job.strips else lay_out(job)
        surface = make_surface(job, layout, designed_of(front.surface))
        return Front(job, layout, reachable(job, layout, surface), front.mark)
    except JobError:
        return None


def _same_heights(job: Job, front: Front) -> bool:
    """Return whether nothing that decides the heights was changed in a job: its strips are those of the front then."""
    names = ("layers", "front", "strips", "as_built", "wood", "lands", "fades", "caps", "pulls", "cutter", "sampling")
    same = all(getattr(job, name) is getattr(front.job, name) for name in names)
    return same and job.carving.model_copy(update={"board": front.job.carving.board}) == front.job.carving


def _same_relief(job: Job, front: Front) -> bool:
    """Return whether a changed job's relief is that of a front: what was not changed is the very same object."""
    before = front.job
    if job.layers is not before.layers or job.front is not before.front:
        return False
    if job.carving.doors is not before.carving.doors or job.carving.packed is not before.carving.packed:
        return False
    if job.strips is not before.strips and front.layout.plan is not None:
        # Strips that hang elsewhere than they were carved for take their heights with them.
        return False
    # A relief that runs on behind the gaps does not depend on where they are.
    runs_on = job.carving.doors is DoorPattern.CONTINUOUS and not job.carving.packed
    return runs_on or job.strips is before.strips


def part_of(front: Front, strips: Iterable[int]) -> Front:
    """Return a front of which only these strips are measured, so that a check looks at them alone."""
    part = replace(front, _measured=[])
    part.keep_measures([front.measures_of(number) for number in strips])
    return part


def window(front: Front, across: tuple[float, float], along: tuple[float, float]) -> Front:
    """Return a front of the strips from left to right, no longer than from bottom to top: to ask about one place of it.

    Strips and doors are numbered anew.
    """
    layout = front.layout
    low, high = (min(max(end, layout.strips[0].bottom), layout.strips[0].top) for end in along)
    doors: list[Door] = []
    divisions: list[Division] = []
    strips: list[StripPlace] = []
    for door, division in zip(layout.doors, layout.divisions, strict=True):
        inside = [strip for strip in layout.on_door(door) if strip.right > across[0] and strip.left < across[1]]
        if not inside:
            continue
        first, number = len(strips) + 1, len(doors) + 1
        for strip in inside:
            here = len(strips) + 1
            strips.append(
                replace(
                    strip,
                    number=here,
                    door=number,
                    bottom=low,
                    top=high,
                    left_neighbour=here - 1,
                    right_neighbour=here + 1,
                )
            )
        sides = {"left": inside[0].left - division.edge, "right": inside[-1].right + division.edge}
        doors.append(
            replace(door, number=number, bottom=low, top=high, first_strip=first, last_strip=len(strips), **sides)
        )
        divisions.append(replace(division, count=len(inside)))
    if not strips or high - low < 1.0:
        return front
    strips[0] = replace(strips[0], left_neighbour=None)
    strips[-1] = replace(strips[-1], right_neighbour=None)
    part = replace(layout, doors=tuple(doors), strips=tuple(strips), divisions=tuple(divisions), plan=None)
    return replace(front, layout=part, _kept={}, _measured=[], _alone={})


def asked(front: Front, check: Check, strips: Iterable[int] | None = None) -> list[Finding]:
    """Return what a check finds on a changed front, on some strips alone where they are named, without cures."""
    with asking():
        return check(front if strips is None else part_of(front, strips))


def new_stops(before: Front, after: Front, checks: Iterable[Check]) -> bool:
    """Return whether any of some checks is stopped by something on the changed front that did not stop it before."""
    for check in checks:
        stops = {one.topic for one in asked(after, check) if one.stops}
        if stops and stops - {one.topic for one in asked(before, check) if one.stops}:
            return True
    return False


def stops_nothing(
    front: Front, settings: Settings, checks: Iterable[Check], *, same_strips: bool = False, some_strips: bool = False
) -> bool:
    """Return whether a front with other settings can be, and none of some checks stops it that did not stop it before.

    `same_strips`: what was measured of its strips holds. `some_strips`: only some of them are measured, evenly from left to right.
    """
    after = front_with(front, settings)
    if after is None:
        return False
    if same_strips:
        after.keep_measures(front.measures())
    if some_strips:
        after = part_of(after, after.numbers[:: max(1, len(after.numbers) // _SOME)])
    return not new_stops(front, after, checks)


def stops_at_land(before: Front, after: Front, land: Land) -> bool:
    """Return whether a new land, running out into the relief, is steeper or more hollow than can be carved."""
    spans = [
        (middle - side / 2 - land.blend - _BEYOND, middle + side / 2 + land.blend + _BEYOND)
        for middle, side in zip(land.centre, land.size, strict=True)
    ]
    there = [window(front, spans[0], spans[1]) for front in (before, after)]
    return new_stops(there[0], there[1], [grain.check, cutter.check])


def with_gentle_land(front: Front, change: Change) -> tuple[Change, Front] | None:
    """Return a change that adds lands, and its front, with blends as long as they must be to be carved; None if none are."""
    unit = 25.0 if front.job.unit is Unit.MM else MM_PER_INCH
    for blend in (None, *(unit * times for times in _BLENDS)):
        gentler = change if blend is None else change.blended(blend)
        after = tried(front, gentler)
        if after is None:
            return None
        if not any(stops_at_land(front, after, land) for land in after.job.lands[-len(change.tables) :]):
            return gentler, after
    return None


Ways = tuple[list[str], list[str]]
"""Ways out that hold wherever a finding is told, and ways that hold at one place only."""


def with_cures(
    front: Front,
    findings: Sequence[Finding],
    ways_for: Callable[[Finding, list[Finding]], Ways],
    *,
    untried: Collection[str] = (),
) -> list[Finding]:
    """Return findings with their cures, worked out once for each kind of finding, for the worst of it: that is what is shown.

    `ways_for` gets the worst of one weight and all of its topic. The others carry the ways that hold everywhere, or say where
    the worst is. Ways of `untried` topics are words alone.
    """
    if is_trying():
        return list(findings)
    coarser = coarser_first(front)
    topics: dict[str, list[Finding]] = {}
    for one in findings:
        topics.setdefault(one.topic, []).append(one)
    cured: dict[int, Finding] = {}
    for some in topics.values():
        for weight in {one.weight for one in some}:
            alike = [one for one in some if one.weight is weight]
            worst = max(alike, key=lambda one: one.beyond)
            too_fine = coarser and worst.topic not in untried
            everywhere, here = ([coarser], []) if too_fine else ways_for(worst, some)
            others = ways(*everywhere) or f"As on strip {worst.strip}, at its own place."
            for one in alike:
                cured[id(one)] = replace(one, cure=ways(*here, *everywhere) if one is worst else others)
    return [cured[id(one)] for one in findings]


def raised_floor(job: Job, height: float) -> Change:
    """Return a floor of this height; nothing in the job may be said to lie below it."""
    settings = {"wood.floor": height}
    named: dict[str, tuple[Fade | Land | Cap, ...]] = {"fades": job.fades, "lands": job.lands, "caps": job.caps}
    for name, some in named.items():
        for index, one in enumerate(some, start=1):
            if one.height is not None and one.height < height:
                settings[f"{name}[{index}].height"] = height
    return Change(settings)


def land_over(
    ruler: Ruler, across: tuple[float, float], along: tuple[float, float], height: float | None
) -> dict[str, Any]:
    """Return a land that keeps at least a height over a rectangle of the front, from left to right and from bottom to top.

    Its middle and its size are lengths as they are read off a rule; it reaches a little less far where the front ends.
    """
    centre, size = [], []
    for low, high in (across, along):
        low, high = ruler.up(low), ruler.down(high)
        size.append(round(high - low, 6))
        centre.append(round((low + high) / 2, 6))
    return {"centre": tuple(centre), "size": tuple(size), "height": height, "keep": Keep.AT_LEAST}
