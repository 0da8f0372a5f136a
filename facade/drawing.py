"""The neutral drawing: lines and words in mm, origin at the lower left, y up. Writers only translate it."""

from __future__ import annotations

import unicodedata
from dataclasses import dataclass, field, replace
from enum import Enum, StrEnum
from functools import lru_cache

import numpy as np
from numpy.typing import ArrayLike

from facade.arrays import Array
from facade.errors import FacadeError
from facade.errors import printable as printable


class Pen(Enum):
    """What a line means, and how it looks: width mm, grey 0 (black) to 1 (white), dashes mm."""

    BACK = (0.7, 0.0, ())
    OUTLINE = (0.25, 0.0, ())
    CARVE = (0.45, 0.0, ())
    FINISHED = (0.2, 0.0, ())
    SAW = (0.3, 0.0, (5.0, 1.6))
    FLOOR = (0.25, 0.0, (0.9, 1.5))
    HATCH = (0.13, 0.35, ())
    TICK = (0.18, 0.0, ())
    FINE = (0.1, 0.45, ())
    RULE = (0.3, 0.0, ())
    FOLD = (0.35, 0.0, (2.2, 1.2))
    CONTOUR = (0.22, 0.0, ())
    CONTOUR_MAIN = (0.4, 0.0, ())
    CUT = (0.32, 0.0, ())
    HOLE = (0.28, 0.0, ())
    SCREW = (0.29, 0.0, ())
    STROKE = (0.24, 0.0, ())
    LAND = (0.27, 0.0, ())
    BOX = (0.26, 0.0, ())
    NO_SCREW = (0.9, 0.4, (0.6, 1.0))
    SOLID = (0.0, 0.0, ())
    SHADE = (0.0, 0.85, ())
    CLEAR = (0.0, 1.0, ())

    def __init__(self, width: float, grey: float, dashes: tuple[float, ...]) -> None:
        self.width = width
        self.grey = grey
        self.dashes = dashes


class Anchor(StrEnum):
    """Which part of a label stands at its place."""

    START = "start"
    MIDDLE = "middle"
    END = "end"


@dataclass(frozen=True)
class Path:
    """One or more runs of straight lines with one meaning: (runs, points, 2) in mm; `round` is the radius where they stand for a circle."""

    runs: Array
    pen: Pen
    name: str = ""
    closed: bool = False
    round: float | None = None


@dataclass(frozen=True)
class Label:
    """Words: the place is on the base line; size is the height of the type in mm, turn in degrees anticlockwise."""

    text: str
    x: float
    y: float
    size: float
    anchor: Anchor = Anchor.START
    bold: bool = False
    turn: float = 0.0

    @property
    def width(self) -> float:
        """Width that the words may take, mm, in a wide sans-serif face."""
        return text_width(self.text, self.size, bold=self.bold)


@dataclass
class Drawing:
    """A sheet of a size in mm, with what stands on it."""

    width: float
    height: float
    title: str
    paths: list[Path] = field(default_factory=list)
    labels: list[Label] = field(default_factory=list)

    def line(self, points: ArrayLike, pen: Pen, name: str = "") -> None:
        """Add one open run of lines, (points, 2)."""
        self._add(np.asarray(points)[None], pen, name)

    def shape(self, points: ArrayLike, pen: Pen, name: str = "") -> None:
        """Add one closed run of lines, (points, 2); with the pen SOLID it is filled."""
        self._add(np.asarray(points)[None], pen, name, closed=True)

    def lines(self, runs: ArrayLike, pen: Pen, name: str = "") -> None:
        """Add many open runs of one length as one path, (runs, points, 2); none add nothing."""
        if len(np.asarray(runs)):
            self._add(runs, pen, name)

    def _add(self, runs: ArrayLike, pen: Pen, name: str, *, closed: bool = False, radius: float | None = None) -> None:
        array = np.asarray(runs, dtype=np.float64)
        if not np.isfinite(array).all():
            raise FacadeError("a drawing must hold finite places only")
        self.paths.append(Path(array, pen, name, closed, radius))

    def clear_label(self, text: str, x: float, y: float, size: float) -> None:
        """Add words in the middle of x that stand clear of the lines drawn before: on a piece of white as large as they are."""
        half = text_width(text, size) * 0.42
        low, high = y - 0.12 * size, y + 0.86 * size
        self.shape([[x - half, low], [x + half, low], [x + half, high], [x - half, high]], Pen.CLEAR, "clear")
        self.label(text, x, y, size, Anchor.MIDDLE)

    def circle(self, x: float, y: float, radius: float, pen: Pen, name: str = "") -> None:
        """Add a circle as a closed run of 24 lines: for holes and dots of a few mm."""
        angles = np.arange(24) * (2.0 * np.pi / 24)
        run = np.column_stack([x + radius * np.cos(angles), y + radius * np.sin(angles)])
        self._add(run[None], pen, name, closed=True, radius=radius)

    def put(self, other: Drawing, x: float, y: float) -> None:
        """Add all that stands on another drawing, its lower left corner at (x, y)."""
        move = np.array([x, y])
        # Made directly, for there are thousands: `replace` takes longer than all the rest.
        self.paths += [Path(path.runs + move, path.pen, path.name, path.closed, path.round) for path in other.paths]
        self.labels += [
            Label(label.text, label.x + x, label.y + y, label.size, label.anchor, label.bold, label.turn)
            for label in other.labels
        ]

    def turned(self) -> Drawing:
        """Return the drawing turned by a quarter, anticlockwise: what was up is left."""
        move = np.array([self.height, 0.0])
        paths = [replace(path, runs=path.runs[..., ::-1] * np.array([-1.0, 1.0]) + move) for path in self.paths]
        labels = [replace(label, x=self.height - label.y, y=label.x, turn=label.turn + 90.0) for label in self.labels]
        return Drawing(self.height, self.width, self.title, paths, labels)

    def stretched(self, across: float, up: float) -> Drawing:
        """Return the drawing with its lengths multiplied across and up; the height of the type stays."""
        if across == up == 1.0:
            return self
        factors = np.array([across, up])
        paths = [replace(path, runs=path.runs * factors) for path in self.paths]
        labels = [replace(label, x=label.x * across, y=label.y * up) for label in self.labels]
        return Drawing(self.width * across, self.height * up, self.title, paths, labels)

    def label(
        self,
        text: str,
        x: float,
        y: float,
        size: float,
        anchor: Anchor = Anchor.START,
        *,
        bold: bool = False,
        turn: float = 0.0,
    ) -> float:
        """Add words, and return the width they may take, mm."""
        label = Label(printable(text), x, y, size, anchor, bold, turn)
        self.labels.append(label)
        return label.width


_NARROW = frozenset("iljI.,:;'|!() []fterJ/-")


def text_width(text: str, size: float, *, bold: bool = False) -> float:
    """Return a width, mm, that no common sans-serif face goes beyond at this size."""
    return _em_width(text) * size * (1.1 if bold else 1.0)


@lru_cache(maxsize=4096)
def _em_width(text: str) -> float:
    total = 0.0
    for letter in text:
        if unicodedata.east_asian_width(letter) in "WF" or ord(letter) > 0xFFFF:
            total += 1.25
        elif letter in _NARROW:
            total += 0.42
        elif letter in "mwMW%—←→@":
            total += 1.0
        else:
            total += 0.64 if letter.islower() or letter.isdigit() else 0.78
    return total


def fitted(text: str, size: float, room: float, *, bold: bool = False) -> str:
    """Return a text, cut with an ellipsis where it would be wider than `room` mm."""
    text = printable(text)
    if text_width(text, size, bold=bold) <= room:
        return text
    while text and text_width(text + "…", size, bold=bold) > room:
        text = text[:-1]
    return text.rstrip() + "…"
