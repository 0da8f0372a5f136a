"""Lands and pulls: do fingers get in, does enough wood remain, is a door pulled at its free side, are lands what they should be?"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, replace

import numpy as np

from facade.arrays import Array
from facade.checks.finding import Finding, Weight, runs
from facade.doors.pulls import (
    MEASURED,
    PullCure,
    PullMeasures,
    columns_on_strips,
    cure_of,
    measure_pull,
    rows_on_strips,
)
from facade.front import Front
from facade.job import Hand, Job, Keep, Land, Limit, Pull
from facade.layout import Door, StripPlace
from facade.surface import land_share, pull_depth, pull_share

_EVEN = 0.05  # mm that a land may be out of level
_CAP_ROUNDING = 1.0  # mm below a height cap from which it changes nothing
_HAND = 80.0  # mm; fingers of a large hand want more than this side by side


def check(front: Front) -> list[Finding]:
    """Return what is wrong with lands and finger pulls, as they are on the finished surface, and what each pull gives."""
    pulls = [found for number, pull in enumerate(front.job.pulls, start=1) for found in _pull(front, number, pull)]
    lands = [found for number, land in enumerate(front.job.lands, start=1) for found in _land(front, number, land)]
    return [*pulls, *lands]


# What is said of a pull.


def _pull(front: Front, number: int, pull: Pull) -> list[Finding]:
    measured = measure_pull(front, pull)
    if measured is None:
        return [_on_no_strip(front, number, pull)]
    asked = _Asked(front, number, pull, measured)
    return [*asked.wood(), *asked.depth(), *asked.height(), *asked.rim(), *asked.joint(), *asked.lever(), asked.facts()]


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
        cure=f"Move its middle {front.job.ruler.text(front.job.ruler.up(abs(by)))} to the {_way(by)}.",
    )


@dataclass(frozen=True)
class _Asked:
    """One pull and what was measured of it."""

    front: Front
    number: int
    pull: Pull
    measured: PullMeasures

    def wood(self) -> list[Finding]:
        """Return whether too little wood is left."""
        limit, show = self.front.job.limit("finger_wood"), self.front.job.ruler.text
        if self.measured.wood >= limit.value - 1e-6:
            return []
        sentence = f"Pull {self.number} leaves {show(self.measured.wood)} of wood, less than {show(limit.value)}."
        return [self._finding(Weight.STOPS, "wood left", sentence, self.measured.wood, limit, self.measured.wood_at)]

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
        show, half = self.front.job.ruler.text, self.pull.size[0] / 2
        moves = [_onto(door, self.pull.centre[0], half) for door in doors if door.width >= 2 * half]
        by = min(moves, key=abs, default=None)
        move = "" if by is None else f"Move its middle {show(self.front.job.ruler.up(abs(by)))} to the {_way(by)}, or "
        sentence = (
            f"Pull {self.number} runs over the joint between doors {' and '.join(str(door.number) for door in doors)}."
        )
        cure = f"{move}{'carve' if move else 'Carve'} one of its own into each door."
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
        cure = f"Move its middle at least {show(job.ruler.up(lack))} to the {_way(way)}."
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
        found = self._plain(weight, topic, sentence, _cure(self.front, self.number, self.pull, self.measured), place)
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


def _cure(front: Front, number: int, pull: Pull, measured: PullMeasures) -> str:
    """Return the depth, size, rim and land with which a pull keeps all its limits."""
    job, show, name = front.job, front.job.ruler.text, f"pulls[{number}]"
    cure = cure_of(job, pull, measured)
    parts = [
        f"{name}.{field} to {show(getattr(cure.pull, field))}"
        for field in ("depth", "edge")
        if getattr(cure.pull, field) > getattr(pull, field) + 1e-9
    ]
    if cure.pull.size != pull.size:
        parts.append(f"{name}.size to {' by '.join(show(side, 2) for side in cure.pull.size)}")
    change = f"Set {' and '.join(parts)}" if parts else ""
    land = _land_under(job, cure)
    return f"{change}{'; ' if change and land else ''}{land if not change else land[:1].lower() + land[1:]}."


def _land_under(job: Job, cure: PullCure) -> str:
    """Return the land that a pull needs, in words; nothing where it needs none."""
    if cure.land is None:
        return ""
    show = job.ruler.text
    wide, high = (show(job.ruler.up(side + 4 * cure.pull.edge)) for side in cure.pull.size)
    blanks = f"Use blanks {show(cure.thicker)} thicker, and keep" if cure.thicker else "Keep"
    level = "as high as the blank allows" if cure.land >= job.highest else f"at {show(cure.land)}"
    return f"{blanks} the wood level {level} under it, with a land of {wide} by {high}"


# Where it lies.


def _nearest(front: Front, x: float) -> StripPlace:
    return min(front.layout.strips, key=lambda strip: max(strip.left - x, x - strip.right, 0.0))


def _door_of(front: Front, pull: Pull) -> Door:
    return front.layout.doors[_nearest(front, pull.centre[0]).door - 1]


def _doors_under(front: Front, pull: Pull) -> list[Door]:
    left, right = pull.centre[0] - pull.size[0] / 2, pull.centre[0] + pull.size[0] / 2
    return [door for door in front.layout.doors if door.left < right - 1e-6 and door.right > left + 1e-6]


def _onto(door: Door, middle: float, half: float) -> float:
    """Return how far to the right something must move to lie on a door."""
    return min(max(middle, door.left + half), door.right - half) - middle


def _way(by: float) -> str:
    return "right" if by > 0 else "left"


# Lands.


def _land(front: Front, number: int, land: Land) -> list[Finding]:
    """Return where something that is carved later spoils a land."""
    columns, _ = columns_on_strips(front, land.centre[0], land.size[0], 2.0)
    if not len(columns):
        return []
    rows = rows_on_strips(front, land.centre[1], land.size[1], 2.0)
    x, y = columns[None, :], rows[:, None]
    height = front.job.highest if land.height is None else land.height
    off = front.surface.at(x, y) - height
    off = np.abs(off) if land.keep is Keep.FLAT else -off
    off = np.where((land_share(land, x, y) >= 1.0) & ~_pulled(front.job.pulls, x, y), off, 0.0)
    row, column = np.unravel_index(int(off.argmax()), off.shape)
    if off[row, column] <= _EVEN:
        return []
    return [_spoilt(front, number, land, (float(columns[column]), float(rows[row])), float(off[row, column]))]


def _pulled(pulls: Iterable[Pull], x: Array, y: Array) -> np.ndarray:
    """Return where pulls are carved: they are meant to be."""
    inside = np.zeros(np.broadcast_shapes(x.shape, y.shape), dtype=bool)
    for pull in pulls:
        inside |= pull_share(pull, x, y) > 0.0
    return inside


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
        source="measured on the surface; limit: choice",
        cure=cure,
    )


def _spoiler(front: Front, number: int, land: Land, place: tuple[float, float]) -> tuple[str, str]:
    """Return what spoils a land, and what cures it."""
    job, show = front.job, front.job.ruler.text
    spot = (np.array([[place[0]]]), np.array([[place[1]]]))
    for later, other in enumerate(job.lands[number:], start=number + 1):
        if float(land_share(other, *spot)[0, 0]) > 0.0:
            apart = show(job.ruler.up(_overlap(land, other)))
            return f"land {later} runs into it", f"Move one of the two {apart} away, or give both one height."
    height = float(front.surface.at(*spot)[0, 0]) - _CAP_ROUNDING
    if job.caps and height >= job.wood.floor:
        return (
            "a height cap cuts it",
            f"Set lands[{number}].height to {show(job.ruler.up(height) - job.ruler.mark)}.",
        )
    if job.caps:
        return "a height cap cuts it", f"Move it, or keep the cap {show(_CAP_ROUNDING)} higher than the land."
    return "what is carved after it changes it", "Move it to where nothing else is carved."


def _overlap(land: Land, other: Land) -> float:
    """Return how far one must move, across or along, so that the other with its blend no longer reaches it."""
    return min(
        (land.size[axis] + other.size[axis]) / 2 + other.blend - abs(land.centre[axis] - other.centre[axis])
        for axis in (0, 1)
    )
