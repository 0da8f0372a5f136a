"""Marks, read by what a file holds and not by its name: whichever front a file is of, it says so somewhere."""

from __future__ import annotations

import base64
import binascii
import csv
import io
import re
from collections.abc import Collection, Iterator
from functools import partial
from pathlib import Path

from facade.proof.packages import parts_of

_LETTERS = "[0-9A-HJKMNP-TV-Z]{4}-[0-9A-HJKMNP-TV-Z]{4}"
# "mark 7Q2M-X4KD", "Mark: ...", '"mark": "..."', mark="..."; words and the mark stand apart by little.
_SAID = re.compile(rb"[Mm][Aa][Rr][Kk][\"':=,>\s(]{1,5}(%s)(?![0-9A-Za-z-])" % _LETTERS.encode())
_ALONE = re.compile(_LETTERS)
_SCENE = re.compile(rb"<script[^>]*id=\"scene\"[^>]*>([^<]+)<")
# Of a large file so much of both ends is looked at: solids say it in their head.
_WHOLE, _END = 4_000_000, 65_536
_MOST_PAGES = 400


def marks_in(path: Path, but: Collection[int] = ()) -> set[str]:
    """Return the marks that a file bears; raises OSError. What cannot be read as what it seems bears those in its plain bytes.

    `but` are pages of a PDF, counted from 1, whose words are looked at elsewhere.
    """
    with path.open("rb") as stream:
        start = stream.read(_END)
        size = path.stat().st_size
        if _is_solid(start, size) and size > 2 * _END:
            stream.seek(size - _END)
            return said_in(start + b"\n" + stream.read())
        data = start + stream.read(_WHOLE)
    found = said_in(data)
    for begins, read in {b"%PDF-": partial(_in_pdf, but=but), **_KINDS}.items():
        if data.startswith(begins):
            found |= _read(read, path, data)
    if b"<html" in data[:400].lower():
        found |= _read(_in_page, path, data)
    if b"mark" in data[:4000].partition(b"\n")[0]:
        found |= _read(_in_table, path, data)
    return found


def _is_solid(start: bytes, size: int) -> bool:
    """Whether these are the first bytes of a binary STL: 84 of head, 50 for each of its facets."""
    return len(start) >= 84 and size == 84 + 50 * int.from_bytes(start[80:84], "little")


def said_in(data: bytes) -> set[str]:
    """Return the marks that bytes bear as they stand."""
    # Looking for plain letters first is much quicker than for a pattern that may begin anywhere.
    lower, marks, at = data.lower(), set(), -1
    while (at := lower.find(b"mark", at + 1)) >= 0:
        if found := _SAID.match(data, at):
            marks.add(found[1].decode("ascii"))
    return marks


def _read(read: object, path: Path, data: bytes) -> set[str]:
    assert callable(read)
    try:
        return set(read(path, data))
    except Exception:
        # What is spoilt is for its reader to say.
        return set()


def _in_pdf(path: Path, _: bytes, but: Collection[int]) -> Iterator[str]:
    import pypdfium2  # type: ignore[import-untyped, unused-ignore]

    with pypdfium2.PdfDocument(path) as document:
        yield from said_in(" ".join(document.get_metadata_dict().values()).encode("utf-8"))
        for index in sorted(set(range(min(len(document), _MOST_PAGES))) - {number - 1 for number in but}):
            yield from said_in(document[index].get_textpage().get_text_range().encode("utf-8"))


def _in_picture(_: Path, data: bytes) -> Iterator[str]:
    from PIL import Image

    with Image.open(io.BytesIO(data)) as picture:
        if len(data) < _WHOLE and _has_text_behind(data):
            # What stands behind its pixels is read with them.
            picture.load()
        for value in picture.info.values():
            if isinstance(value, str):
                yield from said_in(value.encode("utf-8"))


def _has_text_behind(data: bytes) -> bool:
    """Whether a PNG holds words behind its pixels (PNG Specification, 5.3: length, name, content and checksum of each part)."""
    at, behind = 8, False
    while at + 8 <= len(data):
        name = data[at + 4 : at + 8]
        if behind and name in (b"tEXt", b"zTXt", b"iTXt", b"eXIf"):
            return True
        behind |= name == b"IDAT"
        at += 12 + int.from_bytes(data[at : at + 4], "big")
    # Parts that do not end where the file does are for a reader of pictures to make something of.
    return at != len(data)


def _in_package(path: Path, _: bytes) -> Iterator[str]:
    for part in parts_of(path).values():
        yield from said_in(part[:_WHOLE])


def _in_page(_: Path, data: bytes) -> Iterator[str]:
    scene = _SCENE.search(data)
    if scene:
        try:
            yield from said_in(base64.b64decode(scene[1][: 4 * 4096]))
        except binascii.Error:
            return


def _in_table(_: Path, data: bytes) -> Iterator[str]:
    rows = csv.DictReader(io.StringIO(data.decode("utf-8")))
    # Machine code speaks of its mark in its first line, too, and is no table.
    if "mark" not in (rows.fieldnames or ()):
        return
    for row in rows:
        if found := _ALONE.fullmatch(row.get("mark") or ""):
            yield found[0]


_KINDS = {b"\x89PNG": _in_picture, b"PK\x03\x04": _in_package}
