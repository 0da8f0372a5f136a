"""Sheets as a stranger reads them: SVG by the XML reader and fontTools' reader of path data, in mm, y up.

fontTools is a general library of type founders; its reader of path data took a fifth of the time of others that were measured.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any
from xml.etree import ElementTree

import numpy as np

from facade.arrays import Array

_SVG = "{http://www.w3.org/2000/svg}"
_MM = {"mm": 1.0, "cm": 10.0, "in": 25.4, "pt": 25.4 / 72, "px": 25.4 / 96, "": 25.4 / 96}
_SIZE = re.compile(r"\s*([0-9.eE+-]+)\s*([a-z]*)\s*")
_TRANSFORM = re.compile(r"(\w+)\s*\(([^)]*)\)")


@dataclass(frozen=True)
class Line:
    """A path: its name, and its points (n, 2) in mm from the lower left corner of the sheet."""

    name: str
    points: Array

    @property
    def kind(self) -> str:
        """Its name without the number of a later one of that name."""
        return re.sub(r"-\d+$", "", self.name)

    @property
    def turn(self) -> int:
        """Which one of that name it is, from 1."""
        found = re.search(r"-(\d+)$", self.name)
        return int(found[1]) if found else 1


@dataclass(frozen=True)
class Word:
    """Words and where they stand, mm from the lower left corner; `mirrored` where they read backwards."""

    text: str
    x: float
    y: float
    mirrored: bool = False


@dataclass(frozen=True)
class Sheet:
    """A sheet as it was read: its size in mm, its paths in the order in which they are drawn, its words."""

    width: float
    height: float
    lines: tuple[Line, ...]
    words: tuple[Word, ...]

    @property
    def text(self) -> str:
        """All words, one after the other."""
        return "\n".join(word.text for word in self.words)

    def named(self, name: str) -> Line | None:
        """Return the path of a name."""
        return next((line for line in self.lines if line.name == name), None)


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
    lines: list[Line] = []
    words: list[Word] = []
    for element, transform in _elements(root, start):
        if element.tag == f"{_SVG}path":
            points = _points(element.get("d", "")) @ np.array(transform[:4]).reshape(2, 2) + transform[4:]
            lines.append(Line(element.get("id", ""), points))
        elif element.tag == f"{_SVG}text":
            words.append(_word(element, transform))
    return Sheet(width, height, tuple(lines), tuple(words))


def _elements(element: ElementTree.Element, transform: Any) -> Iterator[tuple[ElementTree.Element, Any]]:
    """Yield all elements in their order, each with what leads from its own units to the sheet's."""
    said = element.get("transform")
    inner = _moved(transform, said) if said else transform
    yield element, inner
    for child in element:
        yield from _elements(child, inner)


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


def _word(element: ElementTree.Element, transform: Any) -> Word:
    x, y = transform.transformPoint((float(element.get("x", 0)), float(element.get("y", 0))))
    # The way from the sheet's units to mm turns y round, once.
    mirrored = transform[0] * transform[3] - transform[1] * transform[2] > 0
    return Word("".join(element.itertext()), x, y, mirrored)


def _in_mm(said: str | None) -> float:
    found = _SIZE.fullmatch(said or "")
    if found is None or found[2] not in _MM:
        raise ValueError("states no size of its own")
    return float(found[1]) * _MM[found[2]]


def _points(data: str) -> Array:
    """Return the points of path data (n, 2), every run after the other."""
    from fontTools.svgLib.path import parse_path  # type: ignore[import-untyped, unused-ignore]

    pen = _Pen()
    parse_path(data, pen)
    return np.array(pen.points, dtype=np.float64).reshape(-1, 2)


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
