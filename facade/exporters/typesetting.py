"""Pages of SVG as one PDF set by typst: for words that our own face has not, or whose letters join or run the other way."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any, cast

from facade.exporters.faces import FONTS
from facade.processes import by_a_copy


@dataclass(frozen=True)
class Typed:
    """A page: its SVG, its size in mm, and the words under which it is found in the reader's list, "" for none."""

    svg: str
    width: float
    height: float
    entry: str = ""


def typeset(title: str, pages: Sequence[Typed]) -> bytes:
    """Return a PDF; the same pages give the same bytes where the same faces are installed."""
    # typst starts threads, after which this process could not be copied any more.
    return by_a_copy(_set, (title, pages))


def _set(asked: tuple[str, Sequence[Typed]]) -> bytes:
    import typst

    title, pages = asked
    files = {f"{number}.svg": page.svg.encode("utf-8") for number, page in enumerate(pages)}
    files["main.typ"] = _source(title, pages).encode("utf-8")
    fonts = typst.Fonts(include_system_fonts=True, include_embedded_fonts=False, font_paths=[str(FONTS)])
    # Its types do not say that the input may be several files by name.
    return bytes(cast(Any, typst.compile)(files, font_paths=fonts, pdf_tags=False))


def _source(title: str, pages: Sequence[Typed]) -> str:
    lines = [
        "#set page(margin: 0pt)",
        f'#set document(title: {_text(title)}, author: "facade", date: none)',
        "#show heading: none",
    ]
    for number, page in enumerate(pages):
        entry = f"#place(top + left, heading(level: 1, {_text(page.entry)}))" if page.entry else ""
        image = f'#place(top + left, image("{number}.svg", width: 100%, height: 100%))'
        lines.append(f"#page(width: {page.width:.4f}mm, height: {page.height:.4f}mm)[{entry}{image}]")
    return "\n".join(lines) + "\n"


def _text(words: str) -> str:
    """Return words as a typst string."""
    return '"' + words.replace("\\", "\\\\").replace('"', '\\"').replace("\n", " ") + '"'
