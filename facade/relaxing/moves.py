"""The ways in which a design may be relaxed: each a change of its job file by an amount from none (0) to the most (1)."""

from __future__ import annotations

from abc import ABC, abstractmethod
from dataclasses import dataclass

from facade.checks import Finding
from facade.doors.clearing import clearing_caps
from facade.front import Front
from facade.job.bench import CutterShape
from facade.job.draft import Draft
from facade.job.model import Fit
from facade.layout import StripPlace


@dataclass(frozen=True)
class Move(ABC):
    """A change that may clear what stops a front; one that is `exact` has a single amount."""

    front: Front
    stopped: tuple[Finding, ...]

    exact = False

    def allowed(self) -> bool:
        """Whether the maker's bounds, and the front, leave room for it."""
        return True

    @abstractmethod
    def make(self, draft: Draft, amount: float) -> None:
        """Change a draft by an amount, and say so."""


class Caps(Move):
    """Height caps along the edges that do not swing clear."""

    exact = True

    def allowed(self) -> bool:
        return self.front.job.relax.caps and bool(clearing_caps(self.front))

    def make(self, draft: Draft, amount: float) -> None:
        show = self.front.job.ruler.text
        for cap in clearing_caps(self.front):
            width, height = draft.exact(cap.width), draft.exact(cap.height)
            values = {"door": cap.door, "edge": cap.edge.value, "width": width, "height": height}
            draft.add("caps", values, "so that the door swings clear")
            draft.say(
                f"Height cap on door {cap.door}, along its {cap.edge.value} edge: nothing higher than {show(cap.height)} "
                f"within {show(cap.width)}, so that it swings clear."
            )


class FitCutter(Move):
    """Smoothing to what the cutter can leave."""

    exact = True

    def allowed(self) -> bool:
        return self.front.job.relax.fit and not self.front.job.cutter.fit

    def make(self, draft: Draft, amount: float) -> None:
        cutter = self.front.job.cutter
        draft.set("cutter", "fit", True, "false")
        kind = "disc" if cutter.shape is CutterShape.DISC else "ball"
        draft.say(
            f"Hollows filled to what the {kind} of radius {self.front.job.ruler.text(cutter.radius)} can leave: cutter.fit = true."
        )


class Stretch(Move):
    """Longer waves."""

    def allowed(self) -> bool:
        return self.front.job.relax.stretch > 1.0

    def make(self, draft: Draft, amount: float) -> None:
        job = self.front.job
        factor = round(1.0 + amount * (job.relax.stretch - 1.0), 3)
        for index, layer in enumerate(job.layers):
            draft.set_in("layers", index, "stretch", round(layer.stretch * factor, 4), f"{layer.stretch:g}")
        draft.say(f"Waves {factor:g} times longer, in both directions: stretch of every layer.")


class Depth(Move):
    """Less depth, from the face down."""

    def allowed(self) -> bool:
        return self.front.job.relax.depth < 1.0

    def make(self, draft: Draft, amount: float) -> None:
        job, show = self.front.job, self.front.job.ruler.text
        deep = self._deep()
        wanted = deep * (1.0 - amount * (1.0 - job.relax.depth))
        depth = draft.written(wanted, up=False)
        draft.set("carving", "fit", Fit.DEPTH.value, f'"{job.carving.fit.value}"')
        draft.set("carving", "depth", depth, show(deep))
        draft.say(f"Carved {show(wanted)} deep instead of {show(deep)}.")

    def _deep(self) -> float:
        job, surface = self.front.job, self.front.surface
        if job.carving.fit is Fit.DEPTH and job.carving.depth is not None:
            return job.carving.depth
        low, high = surface.fitted.reach
        return min(high, surface.highest) - max(low, surface.floor)


class Floor(Move):
    """A higher floor: low places are filled, the rest stays."""

    def make(self, draft: Draft, amount: float) -> None:
        job, show = self.front.job, self.front.job.ruler.text
        room = (job.highest - job.wood.floor) * (1.0 - job.relax.depth)
        wanted = job.wood.floor + amount * room
        draft.set("wood", "floor", draft.written(wanted, up=True), show(job.wood.floor))
        if job.carving.fit is Fit.DEPTH and job.carving.depth is not None and job.carving.depth > job.highest - wanted:
            draft.set("carving", "depth", draft.written(job.highest - wanted - 0.1, up=False), show(job.carving.depth))
        draft.say(f"Floor at {show(wanted)} instead of {show(job.wood.floor)}: nothing is carved thinner.")


class Lands(Move):
    """A land where a strip is too thin: under its screws, or at its thinnest place."""

    exact = True

    def allowed(self) -> bool:
        strips = {finding.strip for finding in self.stopped}
        return None not in strips and len(strips) <= 12

    def make(self, draft: Draft, amount: float) -> None:
        show = self.front.job.ruler.text
        for number in sorted({finding.strip for finding in self.stopped if finding.strip is not None}):
            place = self.front.layout.strip(number)
            height = self._height(number)
            for from_top, length in self._places(number, place):
                centre = [(place.left + place.right) / 2, place.top - from_top]
                values = {
                    "centre": [draft.written(value, up=True) for value in centre],
                    "size": [draft.written(place.width, up=False), draft.written(length, up=False)],
                    "height": draft.written(height, up=True),
                    "keep": "at least",
                }
                draft.add("lands", values, f"strip {number} is too thin there")
                draft.say(f"A land on strip {number}, {show(from_top)} from its top, at least {show(height)} thick.")

    def _height(self, number: int) -> float:
        job = self.front.job
        thin = max(job.limit("thin_screwed").value, job.limit("thin_least").value)
        return min(max(thin, self._for_screws(), job.wood.floor), job.highest)

    def _for_screws(self) -> float:
        """Return the height at which the shortest screw that bites keeps its cover."""
        from facade.measuring.screws import stock_lengths

        job = self.front.job
        if not any(finding.check == "screws" for finding in self.stopped):
            return 0.0
        tips = [length + job.fixing.countersink - job.board.thickness for length in stock_lengths(job)]
        biting = [tip for tip in tips if tip >= job.limit("bite_least").value]
        return min(biting, default=job.highest) + job.limit("screw_cover").value + 0.3

    def _places(self, number: int, place: StripPlace) -> list[tuple[float, float]]:
        """Return middles and lengths of the lands: at both ends for screws, else at the thin place."""
        job = self.front.job
        if any(finding.check == "screws" and finding.strip == number for finding in self.stopped):
            end = job.limit("screw_end").value + 12.0
            return [(end, 24.0), (place.length - end, 24.0)]
        found = next(finding for finding in self.stopped if finding.strip == number)
        from_top = place.length / 2 if found.from_top is None else found.from_top
        return [(min(max(from_top, 15.0), place.length - 15.0), 30.0)]


class Pulls(Move):
    """Shallower finger pulls."""

    def allowed(self) -> bool:
        return bool(self.front.job.pulls)

    def make(self, draft: Draft, amount: float) -> None:
        job, show = self.front.job, self.front.job.ruler.text
        for index, pull in enumerate(job.pulls):
            depth = pull.depth * (1.0 - amount * (1.0 - job.relax.depth))
            draft.set_in("pulls", index, "depth", draft.written(depth, up=False), show(pull.depth))
        share = 1.0 - amount * (1.0 - job.relax.depth)
        draft.say(f"Finger pulls {share:.0%} as deep.")


MOVES: dict[str, tuple[type[Move], ...]] = {
    "swing": (Caps, Depth),
    "cutter": (FitCutter, Stretch, Depth),
    "grain": (Stretch, Depth),
    "thickness": (Floor, Lands, Depth),
    "handling": (Floor, Depth),
    "screws": (Lands, Floor, Depth),
    "lands and pulls": (Pulls,),
}
"""What may clear each check; what is not named here no change of the relief can clear."""
