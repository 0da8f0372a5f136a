"""Drawings as one PDF, a page each, true to size. Lines stay lines, words stay words; the pages are laid out by typst."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any, cast

from facade.errors import mistake
from facade.printing.papers import LONGEST_PAGE
from facade.processes import by_a_copy

FONTS = Path(__file__).parent.parent / "fonts"


@dataclass(frozen=True)
class PdfPage:
    """A page: its SVG, its size in mm, and the words under which it is found in the reader's list, "" for none."""

    svg: str
    width: float
    height: float
    entry: str = ""


def to_pdf(title: str, pages: Sequence[PdfPage]) -> bytes:
    """Return a PDF; the same pages give the same bytes. Raises JobError for a page longer than readers open."""
    for page in pages:
        if max(page.width, page.height) > LONGEST_PAGE:
            raise mistake(
                "paper",
                f"a page of {page.width:.0f} x {page.height:.0f} mm is larger than readers open ({LONGEST_PAGE:.0f} mm): "
                "print it in tiles, on cut paper or a roll",
            )
    return by_a_copy(_set, (title, pages, {"pdf_tags": False}))


def to_picture(title: str, page: PdfPage, dots: float) -> bytes:
    """Return a page as a PNG with so many dots to the inch, as its PDF would look."""
    return by_a_copy(_set, (title, [page], {"format": "png", "ppi": dots}))


def _set(asked: tuple[str, Sequence[PdfPage], dict[str, Any]]) -> bytes:
    import typst

    title, pages, how = asked
    files = {f"{number}.svg": page.svg.encode("utf-8") for number, page in enumerate(pages)}
    files["main.typ"] = _source(title, pages).encode("utf-8")
    fonts = typst.Fonts(include_system_fonts=not _plain(pages), include_embedded_fonts=False, font_paths=[str(FONTS)])
    # Its types do not say that the input may be several files by name.
    return bytes(cast(Any, typst.compile)(files, font_paths=fonts, **how))


def _source(title: str, pages: Sequence[PdfPage]) -> str:
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


def _plain(pages: Sequence[PdfPage]) -> bool:
    """Whether our own face has every letter: only then can no other machine's faces make a difference."""
    letters = {letter for page in pages if not page.svg.isascii() for letter in page.svg}
    return all(ord(letter) in _LETTERS for letter in letters)


# What the face that comes with us certainly has: Latin, Greek, Cyrillic, punctuation and arrows.
_LETTERS = frozenset(
    [
        *range(0x20, 0x250),
        *range(0x370, 0x500),
        *range(0x2010, 0x2028),
        *range(0x2030, 0x203B),
        *range(0x2190, 0x2200),
        9,
        10,
    ]
)
