"""The ways in which a design may be relaxed: each a change of its job file by a number of small parts, from none to the most."""

from __future__ import annotations

import math
from abc import ABC, abstractmethod
from dataclasses import dataclass
from functools import cached_property

from facade.checks import Finding, runs
from facade.doors.clearing import clearing_caps
from facade.doors.pulls import PullCure, cure_of, measure_pull
from facade.front import Front
from facade.job import Job, Pull
from facade.job.bench import CutterShape
from facade.job.draft import Draft, Written
from facade.job.model import Cap, Fit
from facade.measuring.screws import needs_of
from facade.relaxing.bars import Bar, merged, thin_bars
from facade.surface import pull_depth

_HAIR = 1e-6
_ROUND_SCREWS = 12.0  # mm to either side of a screw's place that a land for it reaches
_HIGHER = 8  # parts by which a land may be raised, or a cap lowered, where it is just not enough
_MOST_STRETCH = 10.0
_STRETCHED = 0.01  # by which waves become longer in one part


@dataclass(frozen=True)
class Move(ABC):
    """A change that may clear what was `found` on a front as it is `now`.

    `start` is the maker's own front: how far a move may go, and what it says was there before, counts from that.
    """

    start: Front
    now: Front
    found: tuple[Finding, ...]

    words = ""
    once = True  # of two moves of one family in a plan the later stands for both
    idle = True  # by no parts it changes nothing

    @property
    def family(self) -> str:
        """What a move is one of."""
        return type(self).__name__

    @property
    def job(self) -> Job:
        """The maker's job."""
        return self.start.job

    def fits(self) -> bool:
        """Whether it is a change at all for what was found."""
        return True

    @abstractmethod
    def parts(self, draft: Draft) -> int:
        """Return the most parts by which it may change a design, were all else allowed."""

    def guess(self, draft: Draft) -> int:
        """Return the parts that may be just enough, 0 where nothing is known."""
        return 0

    @property
    def worst(self) -> Finding:
        """The finding that is furthest beyond its limit."""
        return max(self.found, key=lambda finding: finding.beyond)

    @property
    def times(self) -> float:
        """How many times too much the worst finding is, at least 1; of degrees their tangents count."""
        worst = self.worst
        if worst.value is None or not worst.limit or worst.value <= worst.limit:
            return 1.0
        if worst.unit == "degrees":
            return math.tan(math.radians(worst.value)) / math.tan(math.radians(worst.limit))
        return worst.value / worst.limit

    @property
    def short(self) -> float:
        """How much too thin the worst finding is, mm; 0 where it is something else."""
        worst = self.worst
        if worst.value is None or worst.limit is None or worst.unit != "mm":
            return 0.0
        return max(0.0, worst.limit - worst.value)

    @abstractmethod
    def make(self, draft: Draft, parts: int) -> None:
        """Change a draft by so many parts, and say so."""


class Caps(Move):
    """Height caps along edges that do not swing clear."""

    words = "height caps"
    once = False

    def fits(self) -> bool:
        return bool(self._caps)

    @cached_property
    def _caps(self) -> list[Cap]:
        return clearing_caps(self.now)

    def parts(self, draft: Draft) -> int:
        return _HIGHER

    def make(self, draft: Draft, parts: int) -> None:
        for cap in self._caps:
            width, height = draft.written(cap.width, up=True), draft.written(cap.height - parts * draft.part, up=False)
            if draft.mm(height) < self.now.job.wood.floor:
                height = draft.exact(self.now.job.wood.floor)
            values = {"door": cap.door, "edge": cap.edge.value, "width": width, "height": height}
            draft.add("caps", values, "so that the door swings clear")
            draft.say(
                f"cap {cap.door} {cap.edge.value}",
                f"Height cap on door {cap.door}, along its {cap.edge.value} edge: nothing higher than {draft.told(height)} "
                f"within {draft.told(width)}, so that it swings clear.",
            )


class FitCutter(Move):
    """Smoothing to what the cutter can leave."""

    words = "smoothing to the cutter"

    def fits(self) -> bool:
        return not self.job.cutter.fit and all(one.topic != "tight hollow" for one in self.found)

    def parts(self, draft: Draft) -> int:
        return 0

    def make(self, draft: Draft, parts: int) -> None:
        draft.set(("cutter", "fit"), True, "left out, it is false")
        kind = "disc" if self.job.cutter.shape is CutterShape.DISC else "ball"
        draft.say("fit", f"Hollows filled to what the {kind} can leave: cutter.fit = true.")


class Stretch(Move):
    """Longer waves."""

    words = "longer waves"

    def guess(self, draft: Draft) -> int:
        return math.ceil((self.times - 1.0) / _STRETCHED - _HAIR)

    def parts(self, draft: Draft) -> int:
        return round((_MOST_STRETCH - 1.0) / _STRETCHED)

    def make(self, draft: Draft, parts: int) -> None:
        factor = round(1.0 + parts * _STRETCHED, 2)
        stretched = [min(round(layer.stretch * factor, 4), 100.0) for layer in self.job.layers]
        for index, stretch in enumerate(stretched):
            draft.set(("layers", index, "stretch"), stretch, "left out, it is 1")
        same = len(set(stretched)) == 1
        words = f"{stretched[0]:g}" if same else ", ".join(f"{one:g}" for one in stretched)
        which = (
            "of every layer" if same and len(stretched) > 1 else "of the layers in turn" if not same else "of the layer"
        )
        draft.say(
            "stretch", f"Waves {factor:g} times as long, in both directions: the stretch {which} becomes {words}."
        )


class Depth(Move):
    """Less depth, from the face down."""

    words = "less depth"

    @property
    def idle(self) -> bool:  # type: ignore[override]
        return self.job.carving.fit is not Fit.AS_GIVEN

    def guess(self, draft: Draft) -> int:
        return math.ceil(max(self.short, deep(self.start) * (1.0 - 1.0 / self.times)) / draft.part - _HAIR)

    def parts(self, draft: Draft) -> int:
        return math.floor(deep(self.start) / draft.part + _HAIR) - 1

    def make(self, draft: Draft, parts: int) -> None:
        job, was = self.job, deep(self.start)
        floor = draft.now("wood", "floor") or job.wood.floor
        depth = draft.written(
            min(draft.mm(draft.written(was, up=False)) - parts * draft.part, job.highest - floor), up=False
        )
        carved = job.ruler.text(was, 2)
        if job.carving.fit is not Fit.DEPTH:
            draft.set(("carving", "fit"), Fit.DEPTH.value, f'left out, it is "{Fit.FULL.value}"')
        draft.set(("carving", "depth"), depth, f"carved {carved} deep before")
        before = draft.before("carving", "depth", otherwise=carved)
        draft.say("depth", f"Carved {draft.told(depth)} deep instead of {before}.")


class Floor(Move):
    """A higher floor: low places are filled, or the relief is carved less deep."""

    words = "a higher floor"

    def guess(self, draft: Draft) -> int:
        return math.ceil(self.short / draft.part - _HAIR)

    def parts(self, draft: Draft) -> int:
        return math.floor((self.job.highest - self.job.wood.floor) / draft.part + _HAIR) - 1

    def make(self, draft: Draft, parts: int) -> None:
        job, was = self.job, self.job.wood.floor
        floor = draft.written(was + parts * draft.part, up=True)
        before = job.ruler.text(was, 3)
        draft.set(("wood", "floor"), floor, f"left out, it is {before}")
        depth = draft.now("carving", "depth")
        if depth is not None and depth > job.highest - draft.mm(floor):
            draft.set(("carving", "depth"), draft.written(job.highest - draft.mm(floor), up=False), "")
        draft.say(
            "floor",
            f"Floor at {draft.told(floor)} instead of {draft.before('wood', 'floor', otherwise=before)}: nothing is carved thinner.",
        )


class Lands(Move):
    """Lands where strips are too thin: under their screws, or where they are thin, neighbours under one."""

    words = "lands"
    once = False
    whole = False

    def fits(self) -> bool:
        return bool(self._bars) and self._height < self.job.highest + _HAIR

    @cached_property
    def _screws(self) -> bool:
        return any(one.check == "screws" for one in self.found)

    @cached_property
    def _height(self) -> float:
        """The height that what was found asks for, mm."""
        limits = [one.limit for one in self.found if one.limit is not None and one.unit == "mm"]
        if not self._screws:
            return max(limits, default=math.inf)
        needs = needs_of(self.job)
        tips = [length - needs.sunk for length in needs.lengths]
        return min((tip for tip in tips if tip >= needs.bite - _HAIR), default=needs.bite) + needs.cover

    @cached_property
    def _bars(self) -> tuple[Bar, ...]:
        numbers = sorted({one.strip for one in self.found if one.strip is not None})
        if not self._screws:
            return thin_bars(self.now, numbers, self._height, whole=self.whole)
        return merged(self.now, [bar for number in numbers for bar in self._for_screws(number)])

    def _for_screws(self, number: int) -> list[Bar]:
        place, end = self.now.layout.strip(number), needs_of(self.job).end + _ROUND_SCREWS
        middles = [place.bottom + end, place.top - end]
        if all(one.topic == "screws far apart" for one in self.found):
            middles = [
                place.top - one.from_top for one in self.found if one.strip == number and one.from_top is not None
            ]
        return [Bar(number, number, middle - _ROUND_SCREWS, middle + _ROUND_SCREWS) for middle in middles]

    def parts(self, draft: Draft) -> int:
        return min(_HIGHER, math.floor((self.job.highest - self._height) / draft.part + _HAIR))

    def make(self, draft: Draft, parts: int) -> None:
        height = draft.written(min(self._height + parts * draft.part, self.job.highest), up=True)
        if draft.mm(height) > self.job.highest:
            height = draft.exact(self.job.highest)
        for bar in self._bars:
            layout = self.now.layout
            first, last = layout.strip(bar.first), layout.strip(bar.last)
            centre, size = _on_grid(draft, self.job, (first.left, last.right), (bar.bottom, bar.top))
            strips = f"strip{'s' if bar.last > bar.first else ''} {runs(range(bar.first, bar.last + 1))}"
            from_top = self.job.ruler.text(first.top - draft.mm(centre[1]))
            _add_land(draft, centre, size, height, f"{strips} would be too thin there, {from_top} from the top")
            draft.say(
                f"land {strips} {from_top}",
                f"A land on {strips}, {' by '.join(map(draft.told, size))}, its middle {from_top} from the top: at least "
                f"{draft.told(height)} thick.",
            )


class Bars(Lands):
    """Bars along what is thin of a strip, neighbours under one."""

    words = "bars along the strips"
    whole = True

    def fits(self) -> bool:
        return not self._screws and super().fits() and self._bars != Lands(self.start, self.now, self.found)._bars


class Pulls(Move):
    """Shallower finger pulls, as deep as fingers need."""

    words = "shallower pulls"

    def fits(self) -> bool:
        return self._spare > _HAIR

    @property
    def _spare(self) -> float:
        """How much deeper than fingers need the deepest pull is, mm."""
        return max((pull.depth for pull in self.job.pulls), default=0.0) - self.job.limit("finger_depth").value

    def parts(self, draft: Draft) -> int:
        return max(0, math.ceil(self._spare / draft.part - _HAIR))

    def make(self, draft: Draft, parts: int) -> None:
        least = draft.mm(draft.written(self.job.limit("finger_depth").value, up=True))
        for index, pull in enumerate(self.job.pulls):
            if pull.depth > least + _HAIR:
                _shallower(draft, self.job, index, max(pull.depth - parts * draft.part, least))


@dataclass(frozen=True)
class _Under:
    """A finger pull that leaves too little wood: its number from 0, the depth that it gets, the land that it then needs; mm."""

    index: int
    pull: Pull
    depth: float
    height: float


class UnderPulls(Move):
    """Thicker wood under finger pulls: a land as high as the pull goes deep, and what must remain."""

    words = "thicker lands under pulls"
    idle = False

    @property
    def family(self) -> str:
        return UnderPulls.__name__

    def fits(self) -> bool:
        least = self.job.limit("finger_depth").value
        return bool(self._under) and all(one.depth >= min(least, one.pull.depth) - _HAIR for one in self._under)

    def _depth(self, pull: Pull, room: float) -> float:
        """Return how deep a pull becomes where there is room for so much: as deep as may be."""
        return min(pull.depth, room)

    @cached_property
    def _under(self) -> list[_Under]:
        limits = [one.limit for one in self.found if one.limit is not None and one.unit == "mm"]
        need = max(*limits, self.job.limit("finger_wood").value, self.job.wood.floor)
        found = []
        for index, pull in enumerate(self.job.pulls):
            measured = measure_pull(self.start, pull)
            if measured is not None and measured.wood < need - _HAIR:
                depth = self._depth(pull, self.job.highest - need)
                carved = pull_depth(pull.model_copy(update={"depth": max(depth, _HAIR)}))
                found.append(_Under(index, pull, depth, need + carved))
        return found

    def parts(self, draft: Draft) -> int:
        spare = min(self.job.highest - one.height for one in self._under)
        return min(_HIGHER, max(0, math.floor(spare / draft.part + _HAIR)))

    def make(self, draft: Draft, parts: int) -> None:
        for one in self._under:
            height = draft.written(min(one.height + parts * draft.part, self.job.highest), up=True)
            if draft.mm(height) > self.job.highest:
                height = draft.exact(self.job.highest)
            _land_under(draft, self.job, one.index, one.pull, height)
            if one.depth < one.pull.depth - _HAIR:
                _shallower(draft, self.job, one.index, one.depth)


class UnderShallowPulls(UnderPulls):
    """Thicker wood under finger pulls that go no deeper than fingers need."""

    words = "thicker lands under shallower pulls"

    def fits(self) -> bool:
        return super().fits() and any(one.depth < one.pull.depth - _HAIR for one in self._under)

    def _depth(self, pull: Pull, room: float) -> float:
        return min(pull.depth, room, max(self.job.limit("finger_depth").value, 0.0))


def _land_under(draft: Draft, job: Job, index: int, pull: Pull, height: Written) -> None:
    """Add a land under a pull, wider than it by its rim on all sides."""
    across, along = (
        (middle - size / 2.0 - 2.0 * pull.edge, middle + size / 2.0 + 2.0 * pull.edge)
        for middle, size in zip(pull.centre, pull.size, strict=True)
    )
    centre, size = _on_grid(draft, job, across, along)
    _add_land(draft, centre, size, height, f"pull {index + 1} would leave too little wood")
    draft.say(
        f"under pull {index}",
        f"A land under pull {index + 1}, {' by '.join(map(draft.told, size))}: at least {draft.told(height)} thick before the "
        "pull goes into it.",
    )


def _shallower(draft: Draft, job: Job, index: int, depth: float) -> None:
    """Make a pull shallower, though never than fingers need."""
    was = job.pulls[index].depth
    written = draft.written(depth, up=depth <= job.limit("finger_depth").value + _HAIR)
    draft.set(("pulls", index, "depth"), written, "")
    before = draft.before("pulls", index, "depth", otherwise=job.ruler.text(was, 3))
    draft.say(f"pull {index}", f"Pull {index + 1} is {draft.told(written)} deep instead of {before}.")


class MendPulls(Move):
    """Finger pulls deep, high and round enough."""

    words = "pulls as fingers need them"
    idle = False

    def fits(self) -> bool:
        return bool(self._cures)

    @cached_property
    def _cures(self) -> list[tuple[int, Pull, PullCure]]:
        found = []
        for index, pull in enumerate(self.now.job.pulls):
            measured = measure_pull(self.now, pull)
            cure = None if measured is None else cure_of(self.now.job, pull, measured)
            if cure is not None and cure.pull != pull and not cure.thicker:
                found.append((index, self.job.pulls[index], cure))
        return found

    def parts(self, draft: Draft) -> int:
        return _HIGHER

    def make(self, draft: Draft, parts: int) -> None:
        show = self.job.ruler.text
        for index, pull, cure in self._cures:
            more, words = parts * draft.part, []
            for key, name, was, wanted in (
                ("depth", "deep", pull.depth, cure.pull.depth),
                ("edge", "round at its rim", pull.edge, cure.pull.edge),
            ):
                if wanted > was + _HAIR:
                    value = draft.written(wanted + more, up=True)
                    before = draft.before("pulls", index, key, otherwise=show(was, 3))
                    draft.set(("pulls", index, key), value, f"left out, it is {before}")
                    words.append(f"{draft.told(value)} {name} instead of {before}")
            if cure.pull.size != pull.size:
                size = [draft.written(side + more, up=True) for side in cure.pull.size]
                draft.set(("pulls", index, "size"), size, "")
                words.append(f"{' by '.join(map(draft.told, size))} over its rim")
            draft.say(f"pull {index}", f"Pull {index + 1} is {', '.join(words)}.")
            if cure.land is not None:
                _land_under(draft, self.job, index, cure.pull, draft.exact(cure.land))


def deep(front: Front) -> float:
    """Return how deep a front is carved, mm: what its job says, or what floor and blank leave of its relief."""
    job, surface = front.job, front.surface
    if job.carving.fit is Fit.DEPTH and job.carving.depth is not None:
        return min(job.carving.depth, job.highest - job.wood.floor)
    low, high = surface.fitted.reach
    return max(0.0, min(high, surface.highest) - max(low, surface.floor))


def _on_grid(
    draft: Draft, job: Job, across: tuple[float, float], along: tuple[float, float]
) -> tuple[list[Written], list[Written]]:
    """Return centre and size of a rectangle as they are written: not smaller, and on the front."""
    middles, sizes = [], []
    for (low, high), side in zip((across, along), (job.front.width, job.front.height), strict=True):
        last = math.floor(side / draft.part + _HAIR)
        start = max(0, math.floor(low / draft.part + _HAIR))
        end = min(last, math.ceil(high / draft.part - _HAIR))
        if (end - start) % 2:
            # An even number of parts, so that its middle falls on one.
            start, end = (start, end + 1) if end < last else (start - 1, end) if start else (start, end - 1)
        middles.append(draft.written((start + end) / 2 * draft.part, up=True))
        sizes.append(draft.written((end - start) * draft.part, up=True))
    return middles, sizes


def _add_land(draft: Draft, centre: list[Written], size: list[Written], height: Written, why: str) -> None:
    draft.add("lands", {"centre": centre, "size": size, "height": height, "keep": "at least"}, why)
