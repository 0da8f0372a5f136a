"""A drawing as SVG, true to size: one user unit is one millimetre."""

from __future__ import annotations

import itertools
from collections import Counter
from collections.abc import Iterator
from functools import lru_cache

from facade.drawing import Drawing, Label, Path, Pen
from facade.exporters.runs import Words, runs_as

FONT = "DejaVu Sans, sans-serif"
FILLED = (Pen.SOLID, Pen.SHADE, Pen.CLEAR)
# Moves and straight lines.
_DATA = Words("M", " ", " ", "", "Z")
_DECLARATION = '<?xml version="1.0" encoding="utf-8"?>\n'
_NAMESPACES = (
    'xmlns="http://www.w3.org/2000/svg" xmlns:ev="http://www.w3.org/2001/xml-events" '
    'xmlns:xlink="http://www.w3.org/1999/xlink"'
)


def to_svg(drawing: Drawing) -> str:
    """Return the drawing as an SVG document; y is turned here, once, since SVG counts it downwards."""
    width, height = number(drawing.width), number(drawing.height)
    outer = (
        f'<svg baseProfile="full" height="{height}mm" version="1.1" viewBox="0 0 {width} {height}" width="{width}mm" '
        f"{_NAMESPACES}><defs />{_titled(drawing.title)}"
    )
    return f"{_DECLARATION}{outer}{''.join(_body(drawing))}</svg>\n"


def to_template(drawing: Drawing) -> str:
    """Return the same document, its outer tags by svgwrite."""
    import svgwrite
    from svgwrite.base import Title

    width, height = number(drawing.width), number(drawing.height)
    # debug=False: svgwrite would check every attribute against its tables, which takes ten times as long as writing.
    document = svgwrite.Drawing(size=(f"{width}mm", f"{height}mm"), viewBox=f"0 0 {width} {height}", debug=False)
    document.add(Title(drawing.title))
    return f"{_DECLARATION}{document.tostring().removesuffix('</svg>')}{''.join(_body(drawing))}</svg>\n"


def _titled(title: str) -> str:
    return f"<title>{_escaped(title)}</title>" if title else "<title />"


def _escaped(text: str) -> str:
    return text.replace("&", "&amp;").replace("<", "&lt;").replace(">", "&gt;")


@lru_cache(maxsize=1 << 16)
def number(value: float) -> str:
    """Return at most three decimals, no exponent and no needless zeros."""
    text = f"{value:.3f}".rstrip("0").rstrip(".")
    return "0" if text == "-0" else text


def _body(drawing: Drawing) -> Iterator[str]:
    """Yield the lines, those of one pen that follow each other as a group, then all words as one."""
    ids, data = _ids(drawing.paths), iter(runs_as(_DATA, drawing.paths, drawing.height))
    for pen, paths in itertools.groupby(drawing.paths, key=lambda path: path.pen):
        yield f"<g {_style(pen)}>"
        for _ in paths:
            name = _escaped(next(ids)).replace('"', "&quot;")
            known = f' id="{name}"' if name else ""
            yield f'<path d="{next(data)}"{known} />'
        yield "</g>"
    words = f'<g fill="#000" font-family="{FONT}"'
    yield f"{words}>{''.join(_words(drawing))}</g>" if drawing.labels else f"{words} />"


def _ids(paths: list[Path]) -> Iterator[str]:
    """Yield the paths' names, each once in a file: "back", "back-2", "back-3"."""
    seen: Counter[str] = Counter()
    for path in paths:
        seen[path.name] += 1
        again = path.name and seen[path.name] > 1
        yield f"{path.name}-{seen[path.name]}" if again else path.name


def _style(pen: Pen) -> str:
    grey = f"#{round(pen.grey * 255):02x}" + f"{round(pen.grey * 255):02x}" * 2
    if pen in FILLED:
        return f'fill="{grey}" stroke="none"'
    dashes = f'stroke-dasharray="{" ".join(map(number, pen.dashes))}" ' if pen.dashes else ""
    return f'fill="none" stroke="{grey}" {dashes}stroke-linejoin="round" stroke-width="{number(pen.width)}"'


def _words(drawing: Drawing) -> Iterator[str]:
    """Yield the labels, those of one type that follow each other as a group."""
    for style, labels in itertools.groupby(drawing.labels, key=lambda label: (label.size, label.anchor, label.bold)):
        size, anchor, bold = style
        weight = ' font-weight="bold"' if bold else ""
        yield f'<g font-size="{number(size)}" text-anchor="{anchor.value}"{weight}>'
        for label in labels:
            place = _place(label, drawing.height)
            yield f"<text {place}>{_escaped(label.text)}</text>" if label.text else f"<text {place} />"
        yield "</g>"


def _place(label: Label, height: float) -> str:
    x, y = number(label.x), number(height - label.y)
    turn = f' transform="rotate({number(-label.turn)} {x} {y})"' if label.turn else ""
    return f'x="{x}" y="{y}"{turn}'
