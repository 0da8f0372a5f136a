"""A drawing as SVG, true to size: one user unit is one millimetre."""

from __future__ import annotations

import itertools
from collections import Counter
from collections.abc import Iterator
from xml.etree.ElementTree import Element, SubElement, tostring

import numpy as np
import svgwrite
from svgwrite.base import Title
from svgwrite.container import Group

from facade.drawing import Drawing, Label, Path, Pen

FONT = "DejaVu Sans, sans-serif"


def to_svg(drawing: Drawing) -> str:
    """Return the drawing as an SVG document; y is turned here, once, since SVG counts it downwards."""
    width, height = _number(drawing.width), _number(drawing.height)
    # debug=False: svgwrite would check every attribute against its tables, which takes ten times as long as writing.
    document = svgwrite.Drawing(size=(f"{width}mm", f"{height}mm"), viewBox=f"0 0 {width} {height}", debug=False)
    title = Title(drawing.title)
    document.add(title)
    ids = _ids(drawing.paths)
    for pen, paths in itertools.groupby(drawing.paths, key=lambda path: path.pen):
        document.add(_Lines(pen, list(paths), ids, drawing.height))
    document.add(_Words(drawing.labels, drawing.height))
    return f'<?xml version="1.0" encoding="utf-8"?>\n{tostring(document.get_xml(), encoding="unicode")}\n'


def _ids(paths: list[Path]) -> Iterator[str]:
    """Yield the paths' names, each once in a file: "back", "back-2", "back-3"."""
    seen: Counter[str] = Counter()
    for path in paths:
        seen[path.name] += 1
        again = path.name and seen[path.name] > 1
        yield f"{path.name}-{seen[path.name]}" if again else path.name


def _number(value: float) -> str:
    """Return at most three decimals, no exponent and no needless zeros."""
    text = f"{value:.3f}".rstrip("0").rstrip(".")
    return "0" if text == "-0" else text


def _style(pen: Pen) -> dict[str, str]:
    grey = f"#{round(pen.grey * 255):02x}" + f"{round(pen.grey * 255):02x}" * 2
    if pen in (Pen.SOLID, Pen.SHADE, Pen.CLEAR):
        return {"fill": grey, "stroke": "none"}
    style = {"fill": "none", "stroke": grey, "stroke_width": _number(pen.width), "stroke_linejoin": "round"}
    if pen.dashes:
        style["stroke_dasharray"] = " ".join(map(_number, pen.dashes))
    return style


def _data(path: Path, height: float) -> str:
    """Return the path's runs as moves and straight lines."""
    flipped = path.runs.copy()
    flipped[..., 1] = height - flipped[..., 1]
    # Rounded first, so that no "-0.000" can come out.
    flipped = np.rint(flipped * 1000.0) / 1000.0 + 0.0
    one = "M" + " ".join(["%.3f %.3f"] * path.runs.shape[1]) + ("Z" if path.closed else "")
    return (one * len(path.runs)) % tuple(flipped.ravel().tolist())


# The elements in these groups are made directly, since svgwrite's own would take half of a sheet's time.


class _Lines(Group):  # type: ignore[misc]  # svgwrite carries no types
    """Paths of one pen as a group."""

    def __init__(self, pen: Pen, paths: list[Path], ids: Iterator[str], height: float) -> None:
        super().__init__(debug=False, **_style(pen))
        self._paths = paths
        self._ids = ids
        self._height = height

    def get_xml(self) -> Element:
        group: Element = super().get_xml()
        for path in self._paths:
            name = next(self._ids)
            SubElement(group, "path", {"d": _data(path, self._height), **({"id": name} if name else {})})
        return group


class _Words(Group):  # type: ignore[misc]  # svgwrite carries no types
    """All labels as one group."""

    def __init__(self, labels: list[Label], height: float) -> None:
        super().__init__(debug=False, font_family=FONT, fill="#000")
        self._labels = labels
        self._height = height

    def get_xml(self) -> Element:
        words: Element = super().get_xml()
        for style, labels in itertools.groupby(self._labels, key=lambda label: (label.size, label.anchor, label.bold)):
            size, anchor, bold = style
            weight = {"font-weight": "bold"} if bold else {}
            group = SubElement(words, "g", {"font-size": _number(size), "text-anchor": anchor.value, **weight})
            for label in labels:
                SubElement(group, "text", self._place(label)).text = label.text
        return words

    def _place(self, label: Label) -> dict[str, str]:
        x, y = _number(label.x), _number(self._height - label.y)
        turn = {"transform": f"rotate({_number(-label.turn)} {x} {y})"} if label.turn else {}
        return {"x": x, "y": y, **turn}
