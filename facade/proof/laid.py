"""Where strips lie on a machine: reckoned from the layout and the job alone, held against the names of the files."""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import PurePosixPath

import numpy as np
from numpy.typing import NDArray

from facade.arrays import Array
from facade.front import Front
from facade.layout import StripPlace
from facade.lengths import Unit
from facade.proof.truth import Truth

FOLDER = "cnc-face"
# Common practice: most strips on a fixture; nothing beside them stands higher than so much under the floor, mm.
MOST = 12
UNDER_FLOOR = 2.0
_NAME = re.compile(r"fixture-(\d+)_door-(\d+)_strips?-(\d+)(?:-to-(\d+))?(?=_)")


@dataclass(frozen=True)
class Ordered:
    """What was asked of a route: the strips, how thick the blanks are, mm, and whether the checks let the front pass."""

    strips: tuple[int, ...]
    blank: float
    cleared: bool


@dataclass(frozen=True)
class Held:
    """A screw from behind in the middle of a strip: its place on the machine, its length, how deep it bites, mm."""

    strip: int
    x: float
    y: float
    length: float
    bite: float


@dataclass(frozen=True)
class Laid:
    """Neighbouring strips of a door as they lie on the machine, mm from its zero.

    `lefts` (strips,) are their left edges, `bottom` where their lower ends are, `widest` how wide the widest fixture of the build is.
    """

    front: Front
    number: int
    places: tuple[StripPlace, ...]
    lefts: Array
    bottom: float
    blank: float
    widest: float

    @property
    def numbers(self) -> list[int]:
        """The strips' numbers, from the left."""
        return [place.number for place in self.places]

    @property
    def rights(self) -> Array:
        """Where each strip's right edge lies."""
        return np.asarray(self.lefts + np.array([place.width for place in self.places]))

    @property
    def left(self) -> float:
        """The first strip's left edge."""
        return float(self.lefts[0])

    @property
    def right(self) -> float:
        """The last strip's right edge."""
        return float(self.rights[-1])

    @property
    def length(self) -> float:
        """Length of the strips."""
        return self.places[0].length

    @property
    def top(self) -> float:
        """Where the strips' TOP ends are."""
        return self.bottom + self.length

    @property
    def spacer(self) -> float:
        """Width of the room between two strips, 0 where they lie packed tight."""
        return float(self.lefts[1] - self.rights[0]) if len(self.places) > 1 else 0.0

    @property
    def low(self) -> float:
        """Nothing beside the strips may stand as high as this."""
        return max(self.front.surface.floor - UNDER_FLOOR, 0.0)

    @property
    def name(self) -> str:
        """What its files are called."""
        wide = max(2, len(str(self.front.count)))
        first, last = self.numbers[0], self.numbers[-1]
        strips = f"strips-{first:0{wide}d}-to-{last:0{wide}d}" if first != last else f"strip-{first:0{wide}d}"
        return f"fixture-{self.number:0{wide}d}_door-{self.places[0].door}_{strips}"

    def strip_under(self, x: float) -> int:
        """Return the number of the strip at a place across, the nearest where there is none."""
        apart = np.maximum(np.maximum(self.lefts - x, x - self.rights), 0.0)
        return self.numbers[int(apart.argmin())]

    def heights(self, index: int, x: Array, y: Array) -> Array:
        """Return the finished heights (rows, columns) of one of its strips at x (columns,) and y (rows,) of the machine.

        A place a hair beside an edge is on it: where two strips touch, each has the heights of its own side.
        """
        place = self.places[index]
        across = np.clip(x - self.lefts[index] + place.left, place.left, place.right)
        along = np.clip(y - self.bottom + place.bottom, place.bottom, place.top)
        return self.front.surface.at(across[None, :], along[:, None])

    def ground(self, x: Array, y: Array) -> Array:
        """Return the heights (rows, columns) of all its strips; the higher where two touch, and between two the relief behind the gap."""
        found = np.full((len(y), len(x)), -np.inf)
        for index, (left, right) in enumerate(zip(self.lefts.tolist(), self.rights.tolist(), strict=True)):
            some = _between(x, left, right)
            if some.any():
                found[:, some] = np.maximum(found[:, some], self.heights(index, x[some], y))
        along = np.clip(y - self.bottom + self.places[0].bottom, self.places[0].bottom, self.places[0].top)
        for index, (place, right) in enumerate(zip(self.places[:-1], self.rights[:-1].tolist(), strict=True)):
            some = _between(x, right, float(self.lefts[index + 1])) & np.isneginf(found[0])
            if some.any():
                across = x[some] - right + place.right
                found[:, some] = self.front.surface.at(across[None, :], along[:, None])
        return found

    def screws(self) -> list[Held]:
        """Return the screws that hold the strips: in their final pilot holes, which are counted from the TOP ends."""
        middles = (self.lefts + self.rights) / 2
        return [
            Held(place.number, float(middle), self.top - screw.from_top, screw.length, screw.bite)
            for place, middle in zip(self.places, middles, strict=True)
            for screw in self.front.measures_of(place.number).screws.screws
        ]


def _between(x: Array, left: float, right: float) -> NDArray[np.bool_]:
    return np.asarray((x >= left - 1e-9) & (x <= right + 1e-9))


def file_unit(front: Front) -> Unit:
    """Return the unit that the machine's files are in."""
    return front.job.machine_unit


def unit_word(front: Front) -> str:
    """Return how the unit of the machine's files is said in their names."""
    return "mm" if file_unit(front) is Unit.MM else "inch"


def ordered(truth: Truth, route: str = "face") -> Ordered:
    """Return what the manifest keeps of an order; raises KeyError where it keeps none."""
    said = truth.manifest["cnc"][route]
    strips = tuple(said["strips"]) if said["strips"] else truth.front.numbers
    return Ordered(strips, truth.front.job.blank, bool(said["cleared"]))


def laid_for(name: str, truth: Truth) -> Laid:
    """Return the fixture that a file is of, by its name; raises KeyError where it is not what such a fixture is called."""
    found = _NAME.match(PurePosixPath(name).name)
    if found is None:
        raise KeyError("no fixture of this front is called so")
    first, last = int(found[3]), int(found[4] or found[3])
    if not 1 <= first <= last <= truth.front.count:
        raise KeyError("this front has no such strips")
    laid = _laid(truth, int(found[1]), [truth.front.layout.strip(number) for number in range(first, last + 1)])
    if laid.name != found[0] or len({place.door for place in laid.places}) > 1:
        raise KeyError("no fixture of this front is called so")
    return laid


def _laid(truth: Truth, number: int, places: list[StripPlace]) -> Laid:
    """Return strips side by side as they hang on their door, or without gaps where they are carved packed tight."""
    job = truth.front.job
    across, along = job.first_strip
    if job.carving.packed:
        lefts = np.concatenate([[0.0], np.cumsum([place.width for place in places[:-1]])])
    else:
        lefts = np.array([place.left - places[0].left for place in places])
    return Laid(
        truth.front,
        number,
        tuple(places),
        lefts + across,
        along,
        ordered(truth).blank,
        truth.once("widest", lambda: _widest(truth)),
    )


def _widest(truth: Truth) -> float:
    """Return how wide the strips of the widest fixture lie together, mm, by the names of the files."""
    layout, packed = truth.front.layout, truth.front.job.carving.packed
    sizes = [0.0]
    for name in truth.files:
        if found := _NAME.match(PurePosixPath(name).name):
            some = [layout.strip(number) for number in range(int(found[3]), int(found[4] or found[3]) + 1)]
            sizes.append(sum(one.width for one in some) if packed else some[-1].right - some[0].left)
    return max(sizes)


def fixture_names(truth: Truth) -> dict[str, str]:
    """Return what the fixtures are called that the names of a build's files speak of, each with a file of it."""
    return {found[0]: name for name in truth.files if (found := _NAME.match(PurePosixPath(name).name))}


def all_laid(truth: Truth) -> list[Laid]:
    """Return the fixtures that the names of a build's files speak of, by their numbers."""
    return sorted((laid_for(name, truth) for name in fixture_names(truth).values()), key=lambda laid: laid.number)


def sharing_faults(truth: Truth) -> Iterator[str]:
    """Yield what is wrong with how strips are shared out: each lies on one fixture, in order, with no more than it may hold."""
    try:
        fixtures = all_laid(truth)
    except KeyError as error:
        yield f"{error.args[0]}: a file's name"
        return
    lie = [number for laid in fixtures for number in laid.numbers]
    missing = sorted(set(ordered(truth).strips) - set(lie))
    if missing:
        yield f"no fixture holds strip {missing[0]}"
    if len(set(lie)) != len(lie) or set(lie) - set(ordered(truth).strips):
        yield "a strip lies on two fixtures, or was not asked for"
    if [laid.number for laid in fixtures] != list(range(1, len(fixtures) + 1)) or lie != sorted(lie):
        yield "its fixtures are not numbered in the order of their strips"
    most = truth.front.job.machine.strips or MOST
    yield from (
        f"fixture {laid.number} holds {len(laid.places)} strips, more than {most}"
        for laid in fixtures
        if len(laid.places) > most
    )
