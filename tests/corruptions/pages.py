"""Corruptions of pages: PDF and the report."""

from __future__ import annotations

import base64
import io
import json
import re
from collections.abc import Callable, Iterator
from typing import Any

import numpy as np
import pypdf
from pypdf.generic import ArrayObject, DecodedStreamObject, NameObject, TextStringObject

from corruptions.corruption import Act, Corruption, Nothing, changed, copy_of, matched, number, plus, replaced, text

PAPER, PLAN, SHEET, REPORT = "paper.pdf", "cnc-face/*fixture-01*_plan.pdf", "cnc-*/job-sheet.pdf", "front.html"


def pdf(change: Callable[[pypdf.PdfWriter], None]) -> Act:
    """Return what changes the pages of a PDF."""

    def edit(data: bytes) -> bytes:
        writer = pypdf.PdfWriter(clone_from=pypdf.PdfReader(io.BytesIO(data)))
        change(writer)
        written = io.BytesIO()
        writer.write(written)
        return written.getvalue()

    return changed(edit)


def drawn(change: Callable[[bytes], bytes], page: int = 6) -> Act:
    """Return what changes the content of a page as it stands in the file: its operators (ISO 32000-1, 8.2)."""

    def edit(writer: pypdf.PdfWriter) -> None:
        content = writer.pages[page].get_contents()
        assert content is not None
        before = content.get_data()
        after = change(before)
        if after == before:
            raise Nothing("the page is as it was")
        stream = DecodedStreamObject()
        stream.set_data(after)
        writer.pages[page][NameObject("/Contents")] = writer._add_object(stream)

    return pdf(edit)


_WORDS = re.compile(rb"BT\b.*?\bET\b", re.DOTALL)
_SHOWN = re.compile(rb"<([0-9A-F]+)> Tj")
_LINE = re.compile(rb"(?:-?[\d.]+ -?[\d.]+ l ?)+")
_POINT = re.compile(rb"(-?[\d.]+) (-?[\d.]+) l")


def _letters(said: bytes) -> list[slice]:
    """Return where the letters of a page are: each is four digits of what is shown."""
    return [slice(at, at + 4) for words in _SHOWN.finditer(said) for at in range(words.start(1), words.end(1), 4)]


def letters_gone(first: int, count: int = 4) -> Callable[[bytes], bytes]:
    """Return what leaves letters of a page out, from the one of that index."""

    def change(said: bytes) -> bytes:
        for letter in reversed(_letters(said)[first:][:count]):
            said = said[: letter.start] + said[letter.stop :]
        return said

    return change


def all_letters_gone(said: bytes) -> bytes:
    return _WORDS.sub(b"", said)


def letters_exchanged(first: int, second: int) -> Callable[[bytes], bytes]:
    """Return what writes each of two letters of a page in place of the other."""

    def change(said: bytes) -> bytes:
        letters = _letters(said)
        one, other = sorted((letters[first], letters[second]), key=lambda letter: letter.start)
        between = said[one.stop : other.start]
        return said[: one.start] + said[other] + between + said[one] + said[other.stop :]

    return change


def longest_line(change: Callable[[list[tuple[float, float]]], list[tuple[float, float]]]) -> Callable[[bytes], bytes]:
    """Return what changes the points of the line of a page that has most of them, but its first."""

    def edit(said: bytes) -> bytes:
        line = max(_LINE.finditer(said), key=lambda found: len(found[0]))
        points = [(float(x), float(y)) for x, y in _POINT.findall(line[0])]
        written = b"".join(f"{x:.3f} {y:.3f} l ".encode() for x, y in change(points))
        return said[: line.start()] + written + said[line.end() :]

    return edit


def moved(x: float, y: float) -> Callable[[list[tuple[float, float]]], list[tuple[float, float]]]:
    return lambda points: [(a + x, b + y) for a, b in points]


def middle_moved(points: list[tuple[float, float]]) -> list[tuple[float, float]]:
    at = len(points) // 2
    return [(a, b + 0.5) if index == at else (a, b) for index, (a, b) in enumerate(points)]


def _scaled(writer: pypdf.PdfWriter) -> None:
    writer.pages[6].add_transformation(pypdf.Transformation().scale(0.99))


def _shifted(writer: pypdf.PdfWriter) -> None:
    writer.pages[6].add_transformation(pypdf.Transformation().translate(3, 0))


def _mirrored(writer: pypdf.PdfWriter) -> None:
    page = writer.pages[6]
    page.add_transformation(pypdf.Transformation((-1, 0, 0, 1, float(page.mediabox.width), 0)))


def _exchanged(writer: pypdf.PdfWriter) -> None:
    one, other = writer.pages[6], writer.pages[7]
    one[NameObject("/Contents")], other[NameObject("/Contents")] = other.raw_get("/Contents"), one.raw_get("/Contents")


def _blank(writer: pypdf.PdfWriter) -> None:
    writer.pages[6][NameObject("/Contents")] = ArrayObject()


def _larger(writer: pypdf.PdfWriter) -> None:
    page = writer.pages[6]
    page.mediabox.upper_right = (float(page.mediabox.width) + 20, float(page.mediabox.height))


def _lost(writer: pypdf.PdfWriter) -> None:
    writer.remove_page(len(writer.pages) - 1)


def _doubled(writer: pypdf.PdfWriter) -> None:
    writer.add_page(writer.pages[0])


def _turned(writer: pypdf.PdfWriter) -> None:
    writer.pages[6].rotate(180)


def _titled(writer: pypdf.PdfWriter) -> None:
    writer.add_metadata({"/Title": TextStringObject("Small hall cabinet, mark 7Q2M-X4KD")})


def _pdf() -> Iterator[Corruption]:
    for what, act in (
        ("a page printed 1 % smaller", pdf(_scaled)),
        ("a page 1 mm aside", pdf(_shifted)),
        ("a page mirrored", pdf(_mirrored)),
        ("two pages exchanged", pdf(_exchanged)),
        ("a page blank", pdf(_blank)),
        ("a page of another size", pdf(_larger)),
        ("the last page missing", pdf(_lost)),
        ("a page too many", pdf(_doubled)),
        ("a page upside down", pdf(_turned)),
        ("another mark in its title", pdf(_titled)),
        ("a word of a page missing", drawn(letters_gone(40))),
        ("a word of a page missing further down", drawn(letters_gone(-20))),
        ("two letters of a page exchanged", drawn(letters_exchanged(-12, -40))),
        ("all words of a page missing", drawn(all_letters_gone)),
        ("the longest line of a page 0.5 mm lower", drawn(longest_line(moved(0.0, 0.5)))),
        ("one point of the longest line 0.5 mm off", drawn(longest_line(middle_moved))),
        ("the longest line missing", drawn(longest_line(lambda points: []))),
        ("a word of the list of joints missing", drawn(letters_gone(-30), page=-3)),
        ("two letters of the table of offsets exchanged", drawn(letters_exchanged(-9, -34), page=-1)),
        ("another PDF under its name", copy_of("cnc-face/*.pdf")),
    ):
        yield Corruption("paper pack, PDF", PAPER, what, act)
    for kind, on in (("plan, PDF", PLAN), ("job sheet, PDF", SHEET)):
        for what, act in (
            ("a word missing", drawn(letters_gone(30), page=0)),
            ("a word missing further down", drawn(letters_gone(-10), page=0)),
            ("two letters exchanged", drawn(letters_exchanged(12, 44), page=0)),
            ("all words missing", drawn(all_letters_gone, page=0)),
            ("the last page missing", pdf(_lost)),
            ("the longest line missing", drawn(longest_line(lambda points: []), page=0)),
            ("the longest line 1 mm aside", drawn(longest_line(moved(1.0, 0.0)), page=0)),
            ("another mark in its title", pdf(_titled)),
            ("another under its name", copy_of("cnc-face/*fixture-02*_plan.pdf")),
        ):
            yield Corruption(kind, on, what, act)


# The report


def scene(change: Callable[[dict[str, Any], bytearray], None]) -> Act:
    """Return what changes the scene in a report: its description, and its heights as bytes."""

    def edit(said: str) -> str:
        found = re.search(r'(?<=id="scene">)"([^"]+)"', said)
        assert found
        data = bytearray(base64.b64decode(found[1]))
        long = int.from_bytes(data[:4], "little")
        about = json.loads(data[4 : 4 + long])
        heights = data[4 + long :]
        change(about, heights)
        text_of = json.dumps(about, separators=(",", ":"), ensure_ascii=False).encode()
        text_of += b" " * (-len(text_of) % 2)
        written = base64.b64encode(len(text_of).to_bytes(4, "little") + text_of + bytes(heights)).decode()
        return said[: found.start()] + f'"{written}"' + said[found.end() :]

    return text(edit)


def described(**changes: Any) -> Act:
    def change(about: dict[str, Any], _: bytearray) -> None:
        unknown = set(changes) - set(about)
        if unknown:
            raise Nothing(f"no {unknown} in the scene")
        about.update(changes)

    return scene(change)


def heights(change: Callable[[np.ndarray], np.ndarray]) -> Act:
    def edit(_: dict[str, Any], numbers: bytearray) -> None:
        some = np.frombuffer(numbers, "<u2")
        some[:] = np.clip(change(some.astype(int)), 0, 65535)

    return scene(edit)


def _one(some: np.ndarray) -> np.ndarray:
    some[len(some) // 2] += 330
    return some


def _report() -> Iterator[Corruption]:
    for what, act in (
        ("one height 0.1 mm higher", heights(_one)),
        ("all heights 0.1 mm higher", heights(lambda some: some + 330)),
        ("mirrored top to bottom", heights(lambda some: some[::-1])),
        ("another thickness of the blanks", described(blank=22.0)),
        ("another mark in its scene", described(mark="7Q2M-X4KD")),
        ("another title in its scene", described(title="Large hall cabinet")),
        ("inches in its scene", described(unit="in")),
        ("another mark in its title", matched(r"mark \w{4}-\w{4}</title>", "mark 7Q2M-X4KD</title>")),
        ("another title", replaced("Small hall cabinet", "Large hall cabinet", 0)),
        ("a picture asked for elsewhere", replaced("<main>", '<main><img src="https://example.org/x.png">')),
        ("a script that asks elsewhere", replaced("</body>", "<script>fetch('https://example.org/')</script></body>")),
        ("a style that asks elsewhere", replaced("<style>", "<style>@import url(https://example.org/x.css);")),
        ("its policy left out", matched(r'<meta http-equiv="Content-Security-Policy"\s+content="[^"]*">', "")),
        ("its picture left out", matched(r"<canvas [^>]*></canvas>", "")),
        ("a number of its shaders", number(r"float \w+ = ([\d.]+);", plus(1))),
    ):
        yield Corruption("report, HTML", REPORT, what, act)


CORRUPTIONS: tuple[Corruption, ...] = (*_pdf(), *_report())

UNTOUCHED: tuple[Corruption, ...] = (
    Corruption("paper pack, PDF", PAPER, "written again", pdf(lambda writer: None)),
    Corruption("plan, PDF", PLAN, "written again", pdf(lambda writer: None)),
)
