"""Lands and pulls: do fingers get in, does enough wood remain, is a door pulled at its free side, are lands what they should be?"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from facade.checks.asking import asking, is_trying
from facade.checks.cures import ways
from facade.checks.finding import Finding, Weight, runs
from facade.checks.gentler import coarser_first
from facade.checks.trying import Change, land_over, stops_at_land, tried, with_gentle_land
from facade.doors.pulls import (
    MEASURED,
    PullCure,
    PullMeasures,
    columns_on_strips,
    cure_of,
    least_wood,
    measure_pull,
    rows_on_strips,
)
from facade.front import Front
from facade.job import Fit, Hand, Job, Keep, Land, Limit, Pull
from facade.layout import Door, StripPlace
from facade.surface import land_share, pull_depth, pulled

_EVEN = 0.05  # mm that a land may be out of level
_CAP_ROUNDING = 1.0  # mm below a height cap from which it changes nothing
_HAND = 80.0  # mm; fingers of a large hand want more than this side by side
# A pull and the face around it change each other: so often a cure is measured and mended before it is given up.
_TURNS = 4
_PLACES, _TRIED = (
    13,
    6,
)  # half heights of a pull up and down that are looked at for a better place, and how many are tried
WOOD = "wood left"
_LIMITS = {WOOD, "depth of a pull", "clear height of a pull", "rim of a pull", "pull on no strip"}
_WHERE = {"pull on no strip", "pull across a joint", "pull at the hinges"}


def check(front: Front) -> list[Finding]:
    """Return what is wrong with lands and finger pulls, as they are on the finished surface, and what each pull gives."""
    if front.layout.plan is not None:
        # Where they lie is said of the design; how strips hang changes nothing of them.
        return [one for one in check(front.as_designed) if one.strip is None or one.strip in front.numbers]
    pulls = [found for number, pull in enumerate(front.job.pulls, start=1) for found in _pull(front, number, pull)]
    lands = [found for number, land in enumerate(front.job.lands, start=1) for found in _land(front, number, land)]
    return [*pulls, *lands]


# What is said of a pull.


def _pull(front: Front, number: int, pull: Pull) -> list[Finding]:
    measured = measure_pull(front, pull)
    if measured is None:
        return [_on_no_strip(front, number, pull)]
    asked = _Asked(front, number, pull, measured)
    wanting = [*asked.wood(), *asked.depth(), *asked.height(), *asked.rim()]
    if wanting and not is_trying() and (coarser := coarser_first(front)):
        wanting = [replace(one, cure=ways(coarser)) for one in wanting]
    elif wanting and not is_trying():
        some = _PullWays(front, number, pull, measured)
        found = some.found()
        wanting = [replace(one, cure=ways(*some.words(one.topic, found))) for one in wanting]
    return [*wanting, *asked.joint(), *asked.lever(), asked.facts()]


def _on_no_strip(front: Front, number: int, pull: Pull) -> Finding:
    strip = _nearest(front, pull.centre[0])
    by = (strip.left + strip.right) / 2 - pull.centre[0]
    return Finding(
        "lands and pulls",
        Weight.LOOK,
        f"Pull {number} lies on no strip: nothing of it is carved.",
        topic="pull on no strip",
        strip=strip.number,
        door=strip.door,
        from_top=strip.top - pull.centre[1],
        source="measured on the layout",
        cure=ways(*_moved(front, number, pull, [by])) or "Move it onto a strip.",
    )


def _moved(front: Front, number: int, pull: Pull, by: Iterable[float]) -> list[str]:
    """Return the first place to the right or left at which nothing is wrong with where a pull lies."""
    if is_trying():
        return []
    ruler = front.job.ruler
    for one in by:
        across = ruler.up(pull.centre[0] + one) if one > 0 else ruler.down(pull.centre[0] + one)
        change = Change({f"pulls[{number}].centre": (across, pull.centre[1])})
        after = tried(front, change)
        if after is not None and not {found.topic for found in _asked_of(after, number)} & _WHERE:
            return [change.words(front.job)]
    return []


def _asked_of(front: Front, number: int) -> list[Finding]:
    """Return what is wrong with a pull, or would be, without cures."""
    with asking():
        return [one for one in _pull(front, number, front.job.pulls[number - 1]) if one.weight is not Weight.KNOW]


@dataclass(frozen=True)
class _Asked:
    """One pull and what was measured of it."""

    front: Front
    number: int
    pull: Pull
    measured: PullMeasures

    def wood(self) -> list[Finding]:
        """Return whether too little wood is left."""
        limit, show = least_wood(self.front.job), self.front.job.ruler.text
        if self.measured.wood >= limit.value - 1e-6:
            return []
        sentence = f"Pull {self.number} leaves {show(self.measured.wood)} of wood, less than {show(limit.value)}."
        return [self._finding(Weight.STOPS, WOOD, sentence, self.measured.wood, limit, self.measured.wood_at)]

    def depth(self) -> list[Finding]:
        """Return whether it is too shallow for fingers."""
        limit, show, depth = self.front.job.limit("finger_depth"), self.front.job.ruler.text, self.measured.depth
        if depth >= limit.value - MEASURED:
            return []
        sentence = f"Pull {self.number} is {show(depth)} deep, fingers want {show(limit.value)}{self._why_shallow()}."
        return [self._finding(Weight.LOOK, "depth of a pull", sentence, depth, limit)]

    def _why_shallow(self) -> str:
        if self.measured.wood <= self.front.surface.floor + 1e-6:
            return f"; the floor of {self.front.job.ruler.text(self.front.surface.floor)} cuts it short"
        if pull_depth(self.pull) < self.pull.depth - MEASURED:
            return "; its walls, as steep as the rim's radius allows, meet before"
        return ""

    def height(self) -> list[Finding]:
        """Return whether it is too low for fingers."""
        limit, show, height = self.front.job.limit("finger_height"), self.front.job.ruler.text, self.measured.height
        if height >= limit.value - MEASURED:
            return []
        half = show(self.front.job.limit("finger_depth").value / 2)
        sentence = f"Pull {self.number} has {show(height)} of clear height at {half} below its rim, fingers want {show(limit.value)}."
        return [self._finding(Weight.LOOK, "clear height of a pull", sentence, height, limit)]

    def rim(self) -> list[Finding]:
        """Return whether its rim is too sharp."""
        limit, show, radius = self.front.job.limit("finger_edge"), self.front.job.ruler.text, self.measured.radius
        if radius >= 0.98 * limit.value:
            return []
        sentence = f"The rim of pull {self.number} has a radius of {show(radius)}, sharper than {show(limit.value)}."
        return [self._finding(Weight.LOOK, "rim of a pull", sentence, radius, limit, self.measured.radius_at)]

    def joint(self) -> list[Finding]:
        """Return whether it runs from one door to the next."""
        doors = _doors_under(self.front, self.pull)
        if len(doors) < 2:
            return []
        half = self.pull.size[0] / 2
        moves = [_onto(door, self.pull.centre[0], half) for door in doors if door.width >= 2 * half]
        by = min(moves, key=abs, default=None)
        move = [] if by is None else _moved(self.front, self.number, self.pull, [by])
        sentence = (
            f"Pull {self.number} runs over the joint between doors {' and '.join(str(door.number) for door in doors)}."
        )
        cure = ways(*move, "carve one of its own into each door")
        return [self._plain(Weight.LOOK, "pull across a joint", sentence, cure)]

    def lever(self) -> list[Finding]:
        """Return whether it is nearer to the hinges than to the free edge of its door."""
        job, layout = self.front.job, self.front.layout
        if job.hinges is None:
            return []
        door, show = _door_of(self.front, self.pull), job.ruler.text
        hand = job.hinge_side(door.number, len(layout.doors))
        edge, way = (door.left, 1.0) if hand is Hand.LEFT else (door.right, -1.0)
        arm = max(0.0, way * (self.pull.centre[0] - edge))
        lack = door.width / 2 - arm
        if lack <= 1e-6:
            return []
        other = door.width - arm
        sentence = (
            f"Pull {self.number} is {show(arm)} from the hinge edge of door {door.number}: as far from the free edge instead, at "
            f"{show(other)}, it takes {100 * arm / other:.0f} % of the force."
        )
        # Where a hand finds it: by the free edge as far as it is from the hinges now, or else just beyond the middle.
        cure = ways(*_moved(self.front, self.number, self.pull, [way * (other - arm), way * lack]))
        found = self._plain(Weight.LOOK, "pull at the hinges", sentence, cure)
        return [replace(found, value=arm, limit=door.width / 2, source="common practice")]

    def facts(self) -> Finding:
        """Return what the pull gives, with the strips that it crosses."""
        one, show = self.measured, self.front.job.ruler.text
        strips = f"strip{'s' if len(one.strips) > 1 else ''} {runs(one.strips)}"
        hand = (
            f" Four fingers of a large hand want {show(90.0, 0)} to {show(100.0, 0)} of width (common practice)."
            if one.width < _HAND
            else ""
        )
        sentence = (
            f"Pull {self.number} crosses {strips}: {show(one.depth)} deep, {show(one.height)} of clear height, "
            f"{show(one.width)} of clear width, {show(one.wood)} of wood left.{hand}"
        )
        return self._plain(Weight.KNOW, "pulls", sentence, "")

    def _finding(
        self,
        weight: Weight,
        topic: str,
        sentence: str,
        value: float,
        limit: Limit,
        place: tuple[float, float] | None = None,
    ) -> Finding:
        found = self._plain(weight, topic, sentence, "", place)
        source = f"measured on the surface; limit: {limit.source}"
        return replace(found, value=value, limit=limit.value, source=source)

    def _plain(
        self, weight: Weight, topic: str, sentence: str, cure: str, place: tuple[float, float] | None = None
    ) -> Finding:
        x, y = place or self.pull.centre
        strip = _nearest(self.front, x)
        return Finding(
            "lands and pulls",
            weight,
            sentence,
            topic=topic,
            strip=strip.number,
            door=strip.door,
            from_top=strip.top - y,
            from_left=min(max(x - strip.left, 0.0), strip.width),
            source="measured on the surface",
            cure=cure,
        )


# What cures a pull.


@dataclass(frozen=True)
class _PullWays:
    """The ways out for a pull that is too shallow, too low, too sharp, or leaves too little wood; each was tried."""

    front: Front
    number: int
    pull: Pull
    measured: PullMeasures

    def found(self) -> list[Change]:
        """Return the ways out that keep all limits of the pull."""
        some = [self._shallower(), self._made_right(), self._floor(), self._elsewhere()]
        return [change for change in some if change is not None]

    def words(self, topic: str, found: list[Change]) -> list[str]:
        """Return the ways as they are typed; a pull that fingers cannot use is the last resort, and said to be one."""
        if not found and topic == WOOD:
            found = self._too_shallow()
        words = [change.words(self.front.job) for change in found]
        return words or ["move the pull to where the face is higher and calmer, or make it another size"]

    def _at(self, field: str) -> str:
        return f"pulls[{self.number}].{field}"

    def _cures(self, after: Front | None) -> bool:
        return after is not None and not {one.topic for one in _asked_of(after, self.number)} & _LIMITS

    def _first(self, *changes: Change) -> Change | None:
        return next((change for change in changes if self._cures(tried(self.front, change))), None)

    @property
    def _lacking(self) -> float:
        """How much wood is missing below it."""
        return max(0.0, least_wood(self.front.job).value - self.measured.wood)

    def _shallower(self) -> Change | None:
        """Return less depth, where it leaves enough for fingers."""
        job = self.front.job
        if not self._lacking:
            return None
        depth = job.ruler.down(self.pull.depth - self._lacking)
        return self._first(Change({self._at("depth"): depth})) if depth >= job.limit("finger_depth").value else None

    def _made_right(self) -> Change | None:
        """Return the depth, size and rim, the level wood and the blank with which a pull keeps all its limits."""
        job, after, measured = self.front.job, self.front, self.measured
        for _ in range(_TURNS):
            cure = cure_of(after.job, after.job.pulls[self.number - 1], measured)
            change = _since(job, _with(after.job, self.number, cure), self.number, after.job.wood.blank + cure.thicker)
            made = tried(self.front, change)
            if made is None:
                return None
            if self._cures(made):
                gentle = with_gentle_land(self.front, change) if change.tables else (change, made)
                return gentle[0] if gentle else None
            again = measure_pull(made, made.job.pulls[self.number - 1])
            if again is None:
                return None
            after, measured = made, again
        return None

    def _floor(self) -> Change | None:
        """Return a floor that keeps the wood, where it leaves the pull deep enough."""
        if not self._lacking:
            return None
        return self._first(Change({"wood.floor": self.front.job.ruler.up(least_wood(self.front.job).value)}))

    def _elsewhere(self) -> Change | None:
        """Return the nearest place up or down its strips where the wood is thick enough, where it is too thin here."""
        job, pull = self.front.job, self.pull
        if self.measured.depth >= job.limit("finger_depth").value - MEASURED and not self._lacking:
            return None
        step, (x, y) = pull.size[1] / 2, pull.centre
        places = [job.ruler.up(y + side * k * step) for k in range(1, _PLACES) for side in (1, -1)]
        enough = max(job.wood.floor, least_wood(job).value) + job.limit("finger_depth").value
        inside = [place for place in places if pull.size[1] / 2 <= place <= job.front.height - pull.size[1] / 2]
        if not inside:
            return None
        high = self.front.surface.at(np.array([[x]]), np.array(inside)[:, None])[:, 0] >= enough
        some = [Change({self._at("centre"): (x, place)}) for place, thick in zip(inside, high, strict=True) if thick]
        return self._first(*some[:_TRIED])

    def _too_shallow(self) -> list[Change]:
        """Return the depth at which enough wood is left, however little fingers get."""
        ruler, depth = self.front.job.ruler, self.front.job.ruler.down(self.pull.depth - self._lacking)
        if not self._lacking or depth < ruler.mark:
            return []
        change = Change({self._at("depth"): depth}, after=", which leaves the wood but is too shallow for fingers")
        after = tried(self.front, change)
        wood = after is not None and WOOD not in {one.topic for one in _asked_of(after, self.number)}
        return [change] if wood else []


def _with(job: Job, number: int, cure: PullCure) -> Job:
    """Return a job with the pull of a cure and the land that it needs: one that is under it already becomes larger."""
    job = job.model_copy(update={"pulls": (*job.pulls[: number - 1], cure.pull, *job.pulls[number:])})
    if cure.land is None:
        return job
    ruler, pull = job.ruler, cure.pull
    # Level as far as the rim bends; what does not fit on the front is left out.
    spans = [
        (max(0.0, middle - side / 2 - 2 * pull.edge), min(whole, middle + side / 2 + 2 * pull.edge))
        for middle, side, whole in zip(pull.centre, pull.size, (job.front.width, job.front.height), strict=True)
    ]
    height = None if cure.land >= job.highest else cure.land
    land = Land(**land_over(ruler, spans[0], spans[1], height) | {"keep": Keep.FLAT})
    under = _land_under(job, pull)
    if under is None:
        return job.model_copy(update={"lands": (*job.lands, land)})
    land = land.model_copy(update={"blend": job.lands[under - 1].blend})
    return job.model_copy(update={"lands": (*job.lands[: under - 1], land, *job.lands[under:])})


def _land_under(job: Job, pull: Pull) -> int | None:
    """Return the number of the level land that a pull's middle lies on."""
    x, y = (np.array([[place]]) for place in pull.centre)
    under = [n for n, land in enumerate(job.lands, start=1) if float(land_share(land, x, y)[0, 0]) == 1.0]
    return under[-1] if under else None


def _since(before: Job, after: Job, number: int, blank: float) -> Change:
    """Return what is to be typed to come from one job to another that differs in a pull, its land and its blank."""
    settings: dict[str, Any] = {}
    old, new = before.pulls[number - 1], after.pulls[number - 1]
    for name in ("depth", "size", "edge"):
        if getattr(old, name) != getattr(new, name):
            settings[f"pulls[{number}].{name}"] = getattr(new, name)
    if blank > before.wood.blank:
        settings["wood.blank"] = before.ruler.up(blank)
        if before.carving.fit is Fit.FULL:
            # The relief stays as deep as it is.
            settings |= {"carving.fit": Fit.DEPTH, "carving.depth": before.highest - before.wood.floor}
    for index, (was, land) in enumerate(zip(before.lands, after.lands, strict=False), start=1):
        for name in ("centre", "size", "height"):
            if getattr(was, name) != getattr(land, name):
                # A height that is left out is as high as the blank allows: typed, it must be one.
                settings[f"lands[{index}].{name}"] = (
                    before.highest if land.height is None and name == "height" else getattr(land, name)
                )
    tables = [("lands", _as_table(land)) for land in after.lands[len(before.lands) :]]
    return Change(settings, tables)


def _as_table(land: Land) -> dict[str, Any]:
    table: dict[str, Any] = {"centre": land.centre, "size": land.size}
    return table if land.height is None else table | {"height": land.height}


# Where it lies.


def _nearest(front: Front, x: float) -> StripPlace:
    return min(front.layout.strips, key=lambda strip: max(strip.left - x, x - strip.right, 0.0))


def _door_of(front: Front, pull: Pull) -> Door:
    return front.layout.doors[_nearest(front, pull.centre[0]).door - 1]


def _doors_under(front: Front, one: Pull | Land) -> list[Door]:
    left, right = one.centre[0] - one.size[0] / 2, one.centre[0] + one.size[0] / 2
    return [door for door in front.layout.doors if door.left < right - 1e-6 and door.right > left + 1e-6]


def _onto(door: Door, middle: float, half: float) -> float:
    """Return how far to the right something must move to lie on a door."""
    return min(max(middle, door.left + half), door.right - half) - middle


# Lands.


def _land(front: Front, number: int, land: Land) -> list[Finding]:
    """Return where something that is carved later spoils a land, and whether a joint cuts it in two."""
    return [*_across_a_joint(front, number, land), *_spoilt_land(front, number, land)]


def _across_a_joint(front: Front, number: int, land: Land) -> Iterator[Finding]:
    """Yield that a land lies on two doors; one that is wider than a door is a band across them."""
    doors, half = _doors_under(front, land), land.size[0] / 2
    if len(doors) < 2 or any(door.width <= land.size[0] for door in doors):
        return
    strip, ruler = _nearest(front, land.centre[0]), front.job.ruler
    by = min((_onto(door, land.centre[0], half) for door in doors), key=abs)
    across = ruler.up(land.centre[0] + by) if by > 0 else ruler.down(land.centre[0] + by)
    yield Finding(
        "lands and pulls",
        Weight.LOOK,
        f"Land {number} runs over the joint between doors {' and '.join(str(door.number) for door in doors)}: each door gets a "
        "part of it.",
        topic="land across a joint",
        strip=strip.number,
        door=strip.door,
        from_top=strip.top - land.centre[1],
        from_left=min(max(land.centre[0] - strip.left, 0.0), strip.width),
        source="measured on the layout",
        cure=ways(
            *_tried_for_land(front, number, Change({f"lands[{number}].centre": (across, land.centre[1])})),
            "give each door a land of its own",
        ),
    )


def _tried_for_land(front: Front, number: int, *changes: Change) -> list[str]:
    """Return those of some changes after which nothing more is wrong with a land than is wrong with the others now."""
    if is_trying():
        return []
    some = []
    for change in changes:
        after = tried(front, change)
        if after is None:
            continue
        with asking():
            before = {(n, one.topic) for n, land in enumerate(front.job.lands, 1) for one in _land(front, n, land)}
            left = {(n, one.topic) for n, land in enumerate(after.job.lands, 1) for one in _land(after, n, land)}
        lands = [land for land in after.job.lands if land not in front.job.lands]
        if (
            not left - before
            and not any(n == number for n, _ in left)
            and not any(stops_at_land(front, after, land) for land in lands)
        ):
            some.append(change.words(front.job))
    return some


def _spoilt_land(front: Front, number: int, land: Land) -> list[Finding]:
    """Return where something that is carved later spoils a land."""
    columns, _ = columns_on_strips(front, land.centre[0], land.size[0], 2.0)
    if not len(columns):
        return []
    rows = rows_on_strips(front, land.centre[1], land.size[1], 2.0)
    x, y = columns[None, :], rows[:, None]
    height = front.job.highest if land.height is None else land.height
    off = front.surface.at(x, y) - height
    off = np.abs(off) if land.keep is Keep.FLAT else -off
    off = np.where((land_share(land, x, y) >= 1.0) & ~pulled(front.job.pulls, x, y), off, 0.0)
    row, column = np.unravel_index(int(off.argmax()), off.shape)
    if off[row, column] <= _EVEN:
        return []
    return [_spoilt(front, number, land, (float(columns[column]), float(rows[row])), float(off[row, column]))]


def _spoilt(front: Front, number: int, land: Land, place: tuple[float, float], off: float) -> Finding:
    show, strip = front.job.ruler.text, _nearest(front, place[0])
    why, cure = _spoiler(front, number, land, place)
    wanted = "level" if land.keep is Keep.FLAT else "at its height"
    return Finding(
        "lands and pulls",
        Weight.LOOK,
        f"Land {number} is {show(off, 2)} from {wanted} on strip {strip.number}, {show(strip.top - place[1])} from the top: {why}.",
        topic="lands",
        strip=strip.number,
        door=strip.door,
        from_top=strip.top - place[1],
        from_left=min(max(place[0] - strip.left, 0.0), strip.width),
        value=off,
        limit=_EVEN,
        source="measured on the surface; limit: our choice",
        cure=cure,
    )


def _spoiler(front: Front, number: int, land: Land, place: tuple[float, float]) -> tuple[str, str]:
    """Return what spoils a land, and what cures it."""
    job = front.job
    spot = (np.array([[place[0]]]), np.array([[place[1]]]))
    for later, other in enumerate(job.lands[number:], start=number + 1):
        if float(land_share(other, *spot)[0, 0]) > 0.0:
            changes = [*_apart(job, land, later, other), *_one_height(job, number, later)]
            return f"land {later} runs into it", ways(*_tried_for_land(front, number, *changes), "move one of the two")
    height = float(front.surface.at(*spot)[0, 0]) - _CAP_ROUNDING
    if job.caps:
        lower = Change({f"lands[{number}].height": job.ruler.down(height) - job.ruler.mark})
        return "a height cap cuts it", ways(*_tried_for_land(front, number, lower), "move it away from the cap")
    return "what is carved after it changes it", "Move it to where nothing else is carved."


def _apart(job: Job, land: Land, later: int, other: Land) -> Iterator[Change]:
    """Yield the later land moved out of the way, along or across, the shorter way first."""
    for axis in sorted((0, 1), key=lambda axis: _overlap(land, other, axis)):
        side = 1.0 if other.centre[axis] >= land.centre[axis] else -1.0
        centre = list(other.centre)
        moved = centre[axis] + side * _overlap(land, other, axis)
        centre[axis] = job.ruler.up(moved) if side > 0 else job.ruler.down(moved)
        yield Change({f"lands[{later}].centre": tuple(centre)})


def _one_height(job: Job, number: int, later: int) -> Iterator[Change]:
    """Yield both lands at the height of the higher one."""
    heights = [job.lands[n - 1].height for n in (number, later)]
    given = [height for height in heights if height is not None]
    if len(given) == len(heights):
        yield Change({f"lands[{n}].height": max(given) for n in (number, later)})


def _overlap(land: Land, other: Land, axis: int) -> float:
    """Return how far the other must move, across (0) or along (1), so that it with its blend no longer reaches a land."""
    return (land.size[axis] + other.size[axis]) / 2 + other.blend - abs(land.centre[axis] - other.centre[axis])
