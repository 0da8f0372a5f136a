"""What helps where screws do not hold a strip: other screws that can be bought, heads sunk, wood kept for them, or glue."""

from __future__ import annotations

import itertools
import math
from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass, replace
from typing import Any

from facade.checks import movement
from facade.checks.finding import Finding, Weight
from facade.checks.trying import Change, Ways, asked, land_over, new_stops, raised_floor, tried, with_gentle_land
from facade.front import Front
from facade.job import Job
from facade.job.bench import Held
from facade.layout import StripPlace
from facade.lengths import MM_PER_INCH, Unit
from facade.measuring import Measures
from facade.measuring.screws import Needs, lengths_sold, needs_of, screws_of, shanks_sold, widest_shank
from facade.rules import rule

# What the findings about screws are called.
HEADS, NARROW, SHORT, NO_ROOM = (
    "heads sunk too deep",
    "too narrow for its screws",
    "too short for two screws",
    "no room for two screws",
)
SIDES, SHALLOW, APART, FREE = "screws near the sides", "shallow screws", "screws far apart", "free end"

_TO_CARVE = 1.0  # mm between floor and face that a blank asked for leaves at least
_MOST_LANDS = 6  # that a cure asks for
_FEW_STRIPS = 3  # on so few a land each is a cure
_TRIED = 6  # strips that a change is tried on, the worst first; on the others it is reckoned
_BOUGHT = 3  # lengths that are bought at most
# What a millimetre of sinking, and a screw that must be bought, count for against a millimetre of wood.
_SINKING, _BUYING = 0.3, 0.5
_HAIR = 1e-4


def around(needs: Needs) -> float:
    """Return the length over which the wood about a tip counts."""
    return 2.0 * (needs.radius + needs.cover)


def widest_stretch(strip: Measures) -> tuple[float, float]:
    """Return the two neighbouring screws that are farthest apart, mm from the top."""
    places = [screw.from_top for screw in strip.screws.screws]
    return max(itertools.pairwise(places), key=lambda pair: pair[1] - pair[0])


@dataclass(frozen=True)
class ScrewWays:
    """The ways out for the findings about a front's screws; `check` is asked again of what they change."""

    front: Front
    check: Callable[[Front], list[Finding]]

    def of(self, worst: Finding, some: list[Finding]) -> Ways:
        """Return the ways out for findings of one kind."""
        kind = _Kind(self.front, self.check, worst, some)
        if worst.topic.startswith(FREE):
            return kind.free()
        by_topic: dict[str, Callable[[], Ways]] = {
            HEADS: kind.heads,
            NARROW: kind.narrow,
            SHORT: kind.short,
            NO_ROOM: kind.no_room,
            SIDES: kind.sides,
            SHALLOW: kind.shallow,
            APART: kind.apart,
        }
        return by_topic[worst.topic]()


@dataclass(frozen=True)
class _Kind:
    """Findings of one kind: the worst of them, and the ways out."""

    front: Front
    check: Callable[[Front], list[Finding]]
    worst: Finding
    some: list[Finding]

    @property
    def _job(self) -> Job:
        return self.front.job

    @property
    def _needs(self) -> Needs:
        return needs_of(self._job)

    @property
    def _strips(self) -> list[int]:
        """The strips that are spoken of, the worst first."""
        order = sorted(self.some, key=lambda one: -one.beyond)
        return [one.strip for one in order if one.strip is not None]

    def _said(self, *changes: Change | None) -> list[str]:
        return [change.words(self._job) for change in changes if change is not None]

    # Kinds.

    def heads(self) -> Ways:
        """Less sunk, with screws of other lengths where those in stock then find no wood."""
        job = self._job
        most = job.ruler.down(max(0.0, job.board.thickness - job.limit("board_under_head").value))
        some: list[dict[str, Any]] = [{"fixing.countersink": most}, {"fixing.countersink": 0.0}]
        some += [one | {"fixing.lengths": self._all_lengths()} for one in some]
        return self._said(next((change for change in map(Change, some) if self._holds(change)), None)), []

    def narrow(self) -> Ways:
        """Thinner screws of those that can be bought, or glue."""
        job, width = self._job, min(self.front.layout.strip(number).width for number in self._strips)
        fitting = widest_shank(width, job.limit("screw_cover").value)
        return self._said(self._thinner(width, fitting), self._glued()) or ["make the strips wider"], []

    def short(self) -> Ways:
        """Glue, or screws nearer to the ends."""
        job, needs = self._job, self._needs
        length = min(self.front.layout.strip(number).length for number in self._strips)
        nearer = job.ruler.down((length - needs.least_apart) / 2 - 1.0)
        closer = None
        if max(needs.least_apart, needs.radius + needs.cover) <= nearer < needs.end:
            closer = self._first(Change({"limits.screw_end": nearer}), most=len(self._strips))
        return self._said(self._glued(), closer) or ["make the strips longer"], []

    def no_room(self) -> Ways:
        """Other screws where the stock alone is the cause, else wood kept for two of them; or glue."""
        needs = self._needs
        if all(_room_for_two(self.front.measures_of(number), needs) >= needs.bite - _HAIR for number in self._strips):
            return self._said(*self._other_screws(needs.bite), self._glued()) or ["carve less deep there"], []
        middle = (needs.end + min(needs.end_most, max(needs.end, (self._place.length - needs.least_apart) / 2))) / 2
        lands = self._lands([middle, self._place.length - middle])
        return self._said(self._floor(), self._glued()), self._said(lands)

    def sides(self) -> Ways:
        """Thinner screws, or care."""
        width = min(self.front.layout.divisions[(one.door or 1) - 1].width for one in self.some)
        thinner = self._thinner(width, self._by_rule(width))
        return [*self._said(thinner), "try the pilot hole on scrap first"], []

    def shallow(self) -> Ways:
        """Other screws, heads sunk, or more wood."""
        wanted = self._job.limit("bite_wanted").value
        everywhere = [change for change in self._other_screws(wanted) if change is not None]
        if everywhere:
            return self._said(*everywhere), []
        return self._said(self._floor(wanted)), []

    def apart(self) -> Ways:
        """Wood kept between two screws, or a higher floor."""
        above, below = widest_stretch(self.front.measures_of(self._strips[0]))
        more = math.ceil((below - above) / self._job.limit("screw_apart").value - _HAIR)
        between = [above + (below - above) * k / more for k in range(1, more)]
        lands = self._lands(between) if len(between) <= _MOST_LANDS else None
        return self._said(self._floor()), self._said(lands)

    def free(self) -> Ways:
        """Wood kept near the free end, or a higher floor."""
        needs = self._needs
        from_end = (needs.end + needs.end_most) / 2
        lands = self._lands([from_end if self.worst.topic.endswith("top") else self._place.length - from_end])
        return self._said(self._floor()), self._said(lands)

    # Ways.

    @property
    def _place(self) -> StripPlace:
        return self.front.layout.strip(self._strips[0])

    def _by_rule(self, width: float) -> float:
        return width / 2 / max(self._job.limit("screw_edge").value, 1e-3)

    def _thinner(self, width: float, fitting: float) -> Change | None:
        """Return the thickest screw that can be bought and fits, as far from the sides as it should be if there is one."""
        least = rule("screw_shank_least")
        sold = [shank for shank in shanks_sold(self._job) if least - _HAIR <= shank <= fitting + _HAIR]
        far = [shank for shank in sold if shank <= self._by_rule(width) + _HAIR]
        return self._first(*(Change({"fixing.shank": shank}) for shank in (far or sold)[-1:]))

    def _glued(self) -> Change | None:
        """Return glue, or a bead of it, where that stops nothing else."""
        for by in (Held.GLUE, Held.BEAD):
            change = Change({"fixing.by": by})
            after = tried(self.front, change)
            if after is not None and not new_stops(self.front, after, [movement.check]):
                return change
        return None

    def _all_lengths(self) -> tuple[float, ...]:
        return tuple(sorted({*self._needs.lengths, *lengths_sold(self._job)}))

    def _other_screws(self, bite: float) -> Iterator[Change | None]:
        """Yield screws to be bought, and heads to be sunk, so that two bite so deep in each of the strips."""
        job = self._job
        bought = self._bought(bite) if job.fixing.lengths else None
        yield bought
        yield self._sunk(bite, buying=bool(job.fixing.lengths) and bought is None)

    def _bought(self, bite: float) -> Change | None:
        """Return the fewest lengths that can be bought and do."""
        stock = self._needs.lengths
        new = [one for one in lengths_sold(self._job) if one not in stock]
        for count in range(1, _BOUGHT + 1):
            for some in itertools.combinations(new, count):
                change = Change({"fixing.lengths": tuple(sorted({*stock, *some}))})
                if self._does(change, bite):
                    return change
        return None

    def _sunk(self, bite: float, *, buying: bool) -> Change | None:
        """Return how deep heads are to be sunk, as little as may be, so that screws in stock do, or those with one bought."""
        stock = self._needs.lengths
        new = [one for one in lengths_sold(self._job) if one not in stock] if buying else []
        sunk = [Change({"fixing.countersink": depth}) for depth in self._depths()]
        bought = [change.also({"fixing.lengths": tuple(sorted({*stock, one}))}) for change in sunk for one in new]
        return next((change for change in (*sunk, *bought) if self._does(change, bite)), None)

    def _does(self, change: Change, bite: float) -> bool:
        """Return whether all strips take two screws then, and these bite so deep: reckoned for all, tried on the worst."""
        needs = needs_of(change.made(self._job))
        tips = [length - needs.sunk for length in needs.lengths]
        own = set(self._strips)
        for strip in self.front.measures():
            room, least = _room_for_two(strip, self._needs), bite if strip.number in own else needs.bite
            if room >= needs.bite - _HAIR and not any(least - _HAIR <= tip <= room + _HAIR for tip in tips):
                return False
        return self._holds(change)

    def _first(self, *changes: Change, most: int = _TRIED) -> Change | None:
        return next((change for change in changes if self._holds(change, most=most)), None)

    def _holds(self, change: Change, *, most: int = _TRIED) -> bool:
        """Return whether a change of the screws alone clears the kind on its worst strips, and stops nothing new there."""
        after = tried(self.front, change)
        if after is None:
            return False
        strips = self._strips or [strip.number for strip in self.front.layout.strips]
        return self._is_clear(_replanned(self.front, after, strips[:most]))

    def _is_clear(self, after: Front) -> bool:
        stopped = {one.topic for one in self.some if one.stops}

        def counts(one: Finding) -> bool:
            # What stopped may not come back as something to look at either.
            as_heavy = one.weight is not Weight.KNOW or self.worst.weight is Weight.KNOW
            return as_heavy if one.topic == self.worst.topic else one.stops and one.topic not in stopped

        return not any(map(counts, asked(after, self.check)))

    def _depths(self) -> list[float]:
        """Return how deep heads may be sunk beyond what they are now."""
        job, fixing = self._job, self._job.fixing
        step = 0.5 if job.unit is Unit.MM else MM_PER_INCH / 32
        most = job.board.thickness - job.limit("board_under_head").value
        first = math.floor(fixing.countersink / step + _HAIR) + 1
        return [round(k * step, 6) for k in range(first, math.floor(most / step + _HAIR) + 1)]

    def _tip(self, bite: float, *, sunk: bool) -> tuple[float, dict[str, Any]] | None:
        """Return a low tip above the back that bites so deep, and what is to be bought, or sunk where that is allowed."""
        needs, now = self._needs, self._job.fixing.countersink
        some: list[tuple[float, float, dict[str, Any]]] = []
        for deeper in (now, *(self._depths() if sunk else [])):
            for length in self._all_lengths():
                tip = length - needs.sunk + deeper - now
                if tip < bite - _HAIR:
                    continue
                settings: dict[str, Any] = {} if deeper == now else {"fixing.countersink": deeper}
                if length not in needs.lengths:
                    settings["fixing.lengths"] = tuple(sorted({*needs.lengths, length}))
                some.append((tip + _SINKING * (deeper - now) + _BUYING * (length not in needs.lengths), tip, settings))
        best = min(some, key=lambda one: one[0], default=None)
        return best[1:] if best else None

    def _floor(self, bite: float | None = None) -> Change | None:
        """Return a floor at which screws find wood anywhere."""
        job, tip = self._job, self._tip(self._needs.bite if bite is None else bite, sunk=True)
        if tip is None:
            return None
        thick = job.ruler.up(tip[0] + self._needs.cover)
        change = raised_floor(job, thick).also(tip[1])
        if thick >= job.highest - _TO_CARVE:
            change = change.also({"wood.blank": job.ruler.up(thick + job.wood.blank - job.wood.floor)})
        after = tried(self.front, change)
        if after is None:
            return None
        return change if self._is_clear(_part(after, self._strips[:_TRIED])) else None

    def _lands(self, from_top: Iterable[float]) -> Change | None:
        """Return lands at places from the top: on the worst strip where few are spoken of, else across all of them."""
        job, tip = self._job, self._tip(self._needs.bite, sunk=False)
        if tip is None:
            return None
        height, half = job.ruler.up(tip[0] + self._needs.cover), around(self._needs) / 2 + 2.0
        if height > job.highest:
            return None
        strips = self._strips if len(self._strips) > _FEW_STRIPS else self._strips[:1]
        if len(strips) != max(strips) - min(strips) + 1:
            return None
        first, last = (self.front.layout.strip(number) for number in (min(strips), max(strips)))
        across = ((first.left + first.right) / 2 - half, (last.left + last.right) / 2 + half)
        spans = [(self._place.top - place - half, self._place.top - place + half) for place in from_top]
        lands = [("lands", land_over(job.ruler, across, span, height)) for span in spans]
        gentle = with_gentle_land(self.front, Change(tip[1], lands)) if lands else None
        return gentle[0] if gentle and self._is_clear(_part(gentle[1], strips[:_TRIED])) else None


def _room_for_two(strip: Measures, needs: Needs) -> float:
    """Return how high tips may reach at two places of a strip: at least so high where it has screws already."""
    if strip.screws.reason is not None:
        return strip.screws.room_for_two
    rooms = sorted((screw.bite + screw.cover - needs.cover for screw in strip.screws.screws), reverse=True)
    return rooms[1]


def _part(front: Front, strips: Iterable[int]) -> Front:
    """Return a front of which only these strips are measured."""
    part = replace(front, _measured=[])
    part.keep_measures([front.measures_of(number) for number in strips])
    return part


def _replanned(before: Front, after: Front, strips: Iterable[int]) -> Front:
    """Return a front with the screws of some strips planned anew, their heights as they were."""
    part = replace(after, _measured=[])
    part.keep_measures(
        [replace(before.measures_of(number), screws=screws_of(after.job, before.strip(number))) for number in strips]
    )
    return part
