"""Sheets as a stranger reads them: SVG by the XML reader, path data by numpy or fontTools, in mm, y up.

Sheets hold moves and straight lines in plain numbers, which numpy reads; whatever else stands in path data, fontTools does, a
general library of type founders.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any
from xml.etree import ElementTree

import numpy as np

from facade.arrays import Array
from facade.proof.decimals import read_decimals

_SVG = "{http://www.w3.org/2000/svg}"
_PATH, _TEXT = f"{_SVG}path", f"{_SVG}text"
_MM = {"mm": 1.0, "cm": 10.0, "in": 25.4, "pt": 25.4 / 72, "px": 25.4 / 96, "": 25.4 / 96}
_SIZE = re.compile(r"\s*([0-9.eE+-]+)\s*([a-z]*)\s*")
_TRANSFORM = re.compile(r"(\w+)\s*\(([^)]*)\)")
_TURN = re.compile(r"-\d+$")
# Moves and lines alone: pairs that follow a move are ends of lines (Scalable Vector Graphics 2, 9.3.3).
_PLAIN_DATA = re.compile(r"(?:M[-0-9. ]+)+|M[-0-9. ]+Z")
_ANCHORS = ("start", "middle", "end")
_BOLD = ("bold", "700")
# What places an element and names it, and says nothing of how it looks.
_PLACES = frozenset({"d", "id", "x", "y"})


@dataclass(frozen=True)
class Stroke:
    """How a line looks: its width in mm, whether it is dashed, whether it is an area that is filled."""

    width: float
    dashed: bool
    filled: bool


@dataclass(frozen=True)
class Line:
    """A path: its name, its points (n, 2) in mm from the lower left corner of the sheet, and how it looks."""

    name: str
    points: Array
    stroke: Stroke = Stroke(0.0, dashed=False, filled=False)

    @property
    def kind(self) -> str:
        """Its name without the number of a later one of that name."""
        return _TURN.sub("", self.name)

    @property
    def turn(self) -> int:
        """Which one of that name it is, from 1."""
        found = _TURN.search(self.name)
        return int(found[0][1:]) if found else 1


@dataclass(frozen=True)
class Word:
    """Words, and where they stand, mm from the lower left corner.

    `anchor` says which part of them stands there, `size` is the height of the type, mm, `turn` degrees anticlockwise; `mirrored`
    where they read backwards.
    """

    text: str
    x: float
    y: float
    mirrored: bool = False
    anchor: str = "start"
    size: float = 0.0
    bold: bool = False
    turn: float = 0.0


@dataclass(frozen=True)
class Sheet:
    """A sheet as it was read: its size in mm, its paths in the order in which they are drawn, its words."""

    width: float
    height: float
    lines: tuple[Line, ...]
    words: tuple[Word, ...]
    title: str = ""

    @property
    def text(self) -> str:
        """All words, one after the other."""
        return "\n".join(word.text for word in self.words)

    def named(self, name: str) -> Line | None:
        """Return the path of a name."""
        return next((line for line in self.lines if line.name == name), None)


@dataclass(frozen=True)
class _Style:
    """What a group says of the elements in it, in the sheet's own units; "" where nothing was said."""

    width: str = ""
    dashes: str = ""
    stroke: str = ""
    fill: str = ""
    anchor: str = "start"
    size: str = ""
    weight: str = ""

    def within(self, element: ElementTree.Element) -> _Style:
        """Return what holds for what is inside an element."""
        said = element.get
        return _Style(
            said("stroke-width", self.width),
            said("stroke-dasharray", self.dashes),
            said("stroke", self.stroke),
            said("fill", self.fill),
            said("text-anchor", self.anchor),
            said("font-size", self.size),
            said("font-weight", self.weight),
        )


def read_svg(path: Path) -> Sheet:
    """Return the sheet in an SVG file; raises ValueError for what is none."""
    try:
        root = ElementTree.parse(path).getroot()
    except ElementTree.ParseError as error:
        raise ValueError(f"is no SVG: {error}") from error
    from fontTools.misc.transform import Transform  # type: ignore[import-untyped, unused-ignore]

    width, height = _in_mm(root.get("width")), _in_mm(root.get("height"))
    left, upper, wide, tall = map(float, (root.get("viewBox") or f"0 0 {width} {height}").replace(",", " ").split())
    # From the sheet's units, y down, to mm, y up.
    start = Transform(width / wide, 0, 0, -height / tall, -left * width / wide, height + upper * height / tall)
    paths: list[tuple[ElementTree.Element, Any, _Style]] = []
    words: list[Word] = []
    turned: dict[Any, _Turned] = {}
    for element, transform, style in _elements(root, start, _Style()):
        if element.tag == _PATH:
            paths.append((element, transform, style))
            continue
        if transform not in turned:
            turned[transform] = _Turned.of(transform)
        words.append(_word(element, turned[transform], style))
    title = root.findtext(f"{_SVG}title") or ""
    return Sheet(width, height, tuple(_lines(paths)), tuple(words), title)


def _lines(paths: list[tuple[ElementTree.Element, Any, _Style]]) -> Iterator[Line]:
    """Yield the paths as lines."""
    ways: dict[Any, tuple[Array, Array]] = {}
    found = _all_points([element.get("d", "") for element, _, _ in paths])
    for (element, transform, style), points in zip(paths, found, strict=True):
        if transform not in ways:
            ways[transform] = np.array(transform[:4]).reshape(2, 2), np.array(transform[4:])
        matrix, aside = ways[transform]
        yield Line(element.get("id", ""), points @ matrix + aside, _stroke(style, transform))


def _elements(
    element: ElementTree.Element, transform: Any, style: _Style
) -> Iterator[tuple[ElementTree.Element, Any, _Style]]:
    """Yield paths and words in their order, each with what leads from its own units to the sheet's, and how it looks."""
    if said := element.get("transform"):
        transform = _moved(transform, said)
    if element.tag in (_PATH, _TEXT):
        own = not _PLACES.issuperset(element.keys())
        yield element, transform, style.within(element) if own else style
        return
    inner = style.within(element)
    for child in element:
        yield from _elements(child, transform, inner)


def _stroke(style: _Style, transform: Any) -> Stroke:
    width = float(style.width or 0.0) * abs(transform[0]) if style.stroke not in ("", "none") else 0.0
    return Stroke(width, dashed=style.dashes not in ("", "none"), filled=style.fill not in ("", "none"))


def _moved(transform: Any, said: str) -> Any:
    """Return a transform and what an attribute adds to it (Scalable Vector Graphics 2, 8.5 and CSS Transforms 1, 8)."""
    for name, values in _TRANSFORM.findall(said):
        numbers = [float(value) for value in re.split(r"[\s,]+", values.strip())]
        if name == "matrix":
            transform = transform.transform(numbers)
        elif name == "translate":
            transform = transform.translate(*numbers)
        elif name == "scale":
            transform = transform.scale(*(numbers if len(numbers) == 2 else numbers * 2))
        elif name == "rotate":
            about = numbers[1:] or [0.0, 0.0]
            turned = transform.translate(*about).rotate(np.radians(numbers[0]))
            transform = turned.translate(-about[0], -about[1])
        else:
            raise ValueError(f"uses {name}(), which no sheet does")
    return transform


@dataclass(frozen=True)
class _Turned:
    """What leads from a word's own units to mm, and what it makes of the word: mirrored, so many times as high, turned by degrees."""

    transform: Any
    mirrored: bool
    larger: float
    turn: float

    @classmethod
    def of(cls, transform: Any) -> _Turned:
        """Return what a transform does."""
        a, b, c, d, _, _ = transform
        # The way from the sheet's units to mm turns y round, once.
        return cls(transform, a * d - b * c > 0, float(np.hypot(c, d)), float(np.degrees(np.arctan2(b, a))))


def _word(element: ElementTree.Element, turned: _Turned, style: _Style) -> Word:
    a, b, c, d, e, f = turned.transform
    x, y = float(element.get("x", 0)), float(element.get("y", 0))
    text = element.text or "" if not len(element) else "".join(element.itertext())
    if style.anchor not in _ANCHORS:
        raise ValueError(f"has words at {style.anchor!r}, which no sheet does")
    return Word(
        text,
        a * x + c * y + e,
        b * x + d * y + f,
        mirrored=turned.mirrored,
        anchor=style.anchor,
        size=float(style.size or 0.0) * turned.larger,
        bold=style.weight in _BOLD,
        turn=turned.turn,
    )


def _in_mm(said: str | None) -> float:
    found = _SIZE.fullmatch(said or "")
    if found is None or found[2] not in _MM:
        raise ValueError("states no size of its own")
    return float(found[1]) * _MM[found[2]]


def _all_points(data: Sequence[str]) -> list[Array]:
    """Return the points of the data of many paths, (n, 2) each, every run after the other."""
    if not data or not all(map(_PLAIN_DATA.fullmatch, data)):
        return [_points(one) for one in data]
    numbers = read_decimals(" ".join(data).translate(_NO_LETTERS).encode("ascii"))
    # A number has one point in it, so that points tell how many numbers each path has.
    counts = [one.count(".") for one in data]
    if numbers is None or any(count % 2 for count in counts):
        return [_points(one) for one in data]
    each = np.split(numbers.reshape(-1, 2), np.cumsum(counts)[:-1] // 2)
    return [_closed(points) if one.endswith("Z") else points for one, points in zip(data, each, strict=True)]


def _closed(points: Array) -> Array:
    """Return the points of a run that goes back to where it began, with that place once more at its end."""
    return points if (points[0] == points[-1]).all() else np.concatenate([points, points[:1]])


def _points(data: str) -> Array:
    """Return the points of path data (n, 2), every run after the other."""
    from fontTools.svgLib.path import parse_path  # type: ignore[import-untyped, unused-ignore]

    pen = _Pen()
    parse_path(data, pen)
    return np.array(pen.points, dtype=np.float64).reshape(-1, 2)


_NO_LETTERS = str.maketrans("MZ", "  ")


class _Pen:
    """Collects where a path goes, as fontTools' pens do."""

    def __init__(self) -> None:
        self.points: list[tuple[float, float]] = []

    def moveTo(self, point: tuple[float, float]) -> None:
        """Take the start of a run."""
        self.points.append(point)

    def lineTo(self, point: tuple[float, float]) -> None:
        """Take the end of a straight line."""
        self.points.append(point)

    def curveTo(self, *points: tuple[float, float]) -> None:
        """Take the points of a curve."""
        self.points.extend(points)

    qCurveTo = curveTo

    def closePath(self) -> None:
        """Do nothing: a closed run ends where it began."""

    def endPath(self) -> None:
        """Do nothing: the run is over."""
