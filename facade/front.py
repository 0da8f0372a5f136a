"""The road from a job to a front: layout, surface, strips."""

from __future__ import annotations

import hashlib
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field, replace

from facade.job import Job
from facade.job.model import Picture
from facade.layout import Layout, lay_out
from facade.measuring import Measures, measure
from facade.reach import designed_of, reachable
from facade.slicer import Strip, cut_strip
from facade.surface import Surface, as_carved, make_surface

# Raised by one whenever the same job would give other heights or another layout.
GEOMETRY = 2
# Strips of a front with at most this many heights are kept once they are cut: 64 MB.
_KEPT_HEIGHTS = 8_000_000
# Digits and letters that cannot be mistaken for one another on paper: no I, L, O, U.
_LETTERS = "0123456789ABCDEFGHJKMNPQRSTVWXYZ"


@dataclass(frozen=True)
class Front:
    """All that anything later needs: what was wanted, where things are, and the shape."""

    job: Job
    layout: Layout
    surface: Surface
    mark: str
    _kept: dict[int, Strip] = field(default_factory=dict, repr=False, compare=False)
    _measured: list[Measures] = field(default_factory=list, repr=False, compare=False)
    _alone: dict[int, Measures] = field(default_factory=dict, repr=False, compare=False)

    def shown(self, picture: Picture) -> Front:
        """Return the same front with another light or finish in its pictures; nothing that is cut changes."""
        return replace(self, job=self.job.model_copy(update={"picture": picture}))

    @property
    def as_designed(self) -> Front:
        """The front as it was designed, all strips where they were carved for: where places on the design count."""
        if self.layout.plan is None:
            return self
        job = self.job.model_copy(
            update={"as_built": self.job.as_built.model_copy(update={"missing": (), "stack": None})}
        )
        return Front(job, self.layout.plan, as_carved(self.surface), self.mark)

    @property
    def count(self) -> int:
        """How many strips are numbered, those that are left out among them."""
        return self.layout.count

    @property
    def numbers(self) -> tuple[int, ...]:
        """The numbers of the strips that there are, from the left."""
        return self.layout.numbers

    def strip(self, number: int) -> Strip:
        """Return one strip; raises JobError for a number that is not there."""
        if number in self._kept:
            return self._kept[number]
        strip = cut_strip(self.job, self.layout, self.surface, number)
        if strip.heights.size * self.count <= _KEPT_HEIGHTS:
            self._kept[number] = strip
        return strip

    def strips(self) -> Iterator[Strip]:
        """Yield the strips from the left, one at a time, so that a wall takes no more memory than a door."""
        return map(self.strip, self.numbers)

    def measure(self, strip: Strip) -> Measures:
        """Return what is asked of one strip."""
        return measure(self.job, self.layout, self.surface, strip)

    def measures_of(self, number: int) -> Measures:
        """Return what is asked of one strip by its number; asked again, it is not measured again."""
        if self._measured:
            return self._measured[self.layout.index(number)]
        if number not in self._alone:
            self._alone[number] = self.measure(self.strip(number))
        return self._alone[number]

    def measures(self) -> list[Measures]:
        """Return what is asked of every strip, from the left; the strips are cut once for all who ask."""
        if not self._measured:
            self.keep_measures(map(self.measure, self.strips()))
        return self._measured

    @property
    def measured(self) -> bool:
        """Whether its strips have been measured."""
        return bool(self._measured)

    def keep_measures(self, measures: Iterable[Measures]) -> None:
        """Take the measures of all strips, from the left, from whoever has cut them anyway."""
        self._measured[:] = measures


def build_front(job: Job) -> Front:
    """Return the front of a job; raises JobError when its strips cannot fit."""
    layout = lay_out(job)
    return Front(job, layout, reachable(job, layout, make_surface(job, layout)), mark_of(job))


def sketch_front(job: Job, step: float, like: Front | None = None) -> Front:
    """Return a front for a quick look: heights and what a cutter leaves no finer than `step` mm; raises JobError.

    `like` is a front with the same layers on the same layout, itself such a sketch: its relief need not be made again.
    """
    coarse = job.sampling.model_copy(update={"step": max(job.sampling.step, step)})
    job, layout = job.model_copy(update={"sampling": coarse}), lay_out(job) if like is None else like.layout
    designed = make_surface(job, layout, None if like is None else designed_of(like.surface))
    if like is None:
        designed.remember()
    return Front(job, layout, reachable(job, layout, designed, step), mark_of(job))


def mark_of(job: Job) -> str:
    """Return the short fingerprint of a design, 40 bits as eight letters and digits: "7Q2M-X4KD"."""
    digest = hashlib.sha256(f"geometry {GEOMETRY}\n{job.design()}".encode()).digest()
    number = int.from_bytes(digest[:5], "big")
    letters = "".join(_LETTERS[number >> shift & 31] for shift in range(35, -1, -5))
    return f"{letters[:4]}-{letters[4:]}"
