"""Pages of the PDF held against the sheets that they should show: size, every path point by point, all words with their places."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from facade.arrays import Array
from facade.proof import pdf
from facade.proof.guesses import even_scale
from facade.proof.marks import said_in
from facade.proof.svg import Line, Sheet, Word
from facade.proof.truth import ROUNDING, Truth

# Words stand on a page where they do on the sheet to so many mm; where their end is what is placed there, to so much more of
# their size, for a last letter's width is not known to the face's own spacing. Letters on one base line differ by less than the last.
PLACED = 0.01
ENDED = 0.04
_LEVEL = 0.002
_FEW = 8  # points that may all be one
# Sizes of pages are printed with four decimals of a mm, and kept in points with three.
PAGE_SIZE = 0.01
# Letters that every writer draws one by one, in their order, from the left.
_PLAIN = ((0x21, 0x24F), (0x370, 0x4FF), (0x2010, 0x203B), (0x2190, 0x21FF))


@dataclass(frozen=True)
class PageRead:
    """What came of a page: how far its paths are off at most, mm, their points, its faults, and the marks that it bears."""

    deviation: float
    points: int
    faults: tuple[str, ...]
    marks: frozenset[str] = frozenset()


def compare_page(page: Any, sheet: Sheet, truth: Truth) -> PageRead:
    """Return what comes of a page beside its sheet."""
    paths = [path.points() for path in pdf.page_paths(page)]
    # A line from a place to itself shows nothing, and is on no page.
    lines = [line for line in sheet.lines if len(line.points) > _FEW or (line.points != line.points[:1]).any()]
    deviation, drawn = _drawn(paths, lines, truth)
    faults = [*_size_faults(page, sheet, truth), *drawn]
    # What moves lines moves words: one cause is told once.
    letters = pdf.page_letters(page)
    faults = faults or word_faults(letters, sheet.words, truth)
    marks = frozenset(said_in(letters.said.encode("utf-8", "replace")))
    return PageRead(deviation, sum(map(len, paths)), tuple(faults), marks)


def _drawn(paths: Sequence[Array], lines: Sequence[Line], truth: Truth) -> tuple[float, list[str]]:
    """Return how far the paths of a page are off the lines of its sheet, mm, and what is wrong with them."""
    if len(paths) != len(lines):
        return 0.0, [f"has {len(paths)} paths, its sheet {len(lines)}"]
    for path, line in zip(paths, lines, strict=True):
        if len(path) != len(line.points):
            return 0.0, [f"has {len(path)} points in {line.name or 'a path'}, its sheet {len(line.points)}"]
    if not paths:
        return 0.0, []
    found, wanted = np.concatenate(paths), np.concatenate([line.points for line in lines])
    worst = float(np.abs(found - wanted).max(initial=0.0))
    return worst, [] if worst <= ROUNDING else [_off_in_words(found, wanted, worst, truth)]


def _off_in_words(found: Array, wanted: Array, worst: float, truth: Truth) -> str:
    """Return how a page is off its sheet: of another size, mirrored, or else by how much."""
    factors = even_scale(found, wanted)
    if factors is not None:
        mirrored = [
            word for factor, word in zip(factors, ("left to right", "top to bottom"), strict=True) if factor < 0
        ]
        if mirrored:
            return f"looks mirrored {' and '.join(mirrored)}"
        if max(abs(factor - 1.0) for factor in factors) > 1e-4:
            return f"is printed at {factors[0]:.4f} of its size across and {factors[1]:.4f} up: print at 100 %"
        return f"is shifted by {truth.length(worst)}"
    return f"has lines that are {truth.length(worst)} off those of its sheet"


def _size_faults(page: Any, sheet: Sheet, truth: Truth) -> list[str]:
    if page.get_rotation():
        return [f"is turned by {page.get_rotation()} degrees"]
    found = pdf.page_size(page)
    if max(abs(found[0] - sheet.width), abs(found[1] - sheet.height)) <= PAGE_SIZE:
        return []
    return [
        f"is {truth.length(found[0])} x {truth.length(found[1])}, its sheet {truth.length(sheet.width)} x {truth.length(sheet.height)}"
    ]


def word_faults(page: pdf.PageLetters, words: Sequence[Word], truth: Truth) -> list[str]:
    """Return what a page says otherwise than its sheet, or elsewhere.

    Words that do not overlap stand on one base line as their letters do, from the left: so which letter belongs to which word
    needs no guess.
    """
    free = np.ones(len(page.letters), dtype=bool)
    said = [(word, "".join(word.text.split())) for word in words]
    said = [(word, text) for word, text in said if text]
    faults = [fault for word, text in said if abs(word.turn) > 1.0 for fault in _turned_faults(page, word, text, free)]
    order = np.flatnonzero(free)
    order = order[np.argsort(page.places[order, 1], kind="stable")]
    heights = page.places[order, 1]
    for some in _rows([one for one in said if abs(one[0].turn) <= 1.0]):
        levels = [word.y for word, _ in some]
        first, after = np.searchsorted(heights, (min(levels) - _LEVEL, max(levels) + _LEVEL))
        own = order[first:after]
        own = own[np.lexsort((own, page.places[own, 0]))]
        free[own] = False
        faults += _row_faults(page, some, own, truth)
    left = "".join(page.letters[index] for index in np.flatnonzero(free))
    if left and not faults:
        faults.append(f"says {left[:40]!r}, which its sheet does not")
    return faults


def _rows(said: list[tuple[Word, str]]) -> Iterator[list[tuple[Word, str]]]:
    """Yield words that stand on one base line together, from the left."""
    said.sort(key=lambda one: one[0].y)
    start = 0
    for index in range(1, len(said) + 1):
        if index == len(said) or said[index][0].y - said[index - 1][0].y > 2 * _LEVEL:
            yield sorted(said[start:index], key=lambda one: one[0].x)
            start = index


def _row_faults(
    page: pdf.PageLetters, words: Sequence[tuple[Word, str]], own: NDArray[np.int64], truth: Truth
) -> list[str]:
    """Return what is wrong with the letters `own`, from the left, of the words on one base line."""
    wanted = "".join(text for _, text in words)
    if not wanted.isascii() and not all(_is_plain(letter) for letter in wanted):
        # Other scripts join letters, or run the other way: how many there are is not known.
        return [] if len(own) else [f"does not say {wanted[:40]!r}"]
    found = "".join(page.letters[index] for index in own)
    if found != wanted:
        return [_other_words(words, found)]
    faults, at = [], 0
    for word, text in words:
        start, end = own[at], own[at + len(text) - 1]
        at += len(text)
        x, near = float(page.places[start, 0]), PLACED
        if word.anchor != "start":
            until = page.end_of(int(end))
            x = until if word.anchor == "end" else (x + until) / 2
            near += ENDED * word.size
        if abs(x - word.x) > near or abs(float(page.places[start, 1]) - word.y) > _LEVEL:
            aside = max(abs(x - word.x), abs(float(page.places[start, 1]) - word.y))
            faults.append(f"has {word.text!r} {truth.length(aside)} aside of where its sheet has it")
    return faults


def _is_plain(letter: str) -> bool:
    return any(first <= ord(letter) <= last for first, last in _PLAIN)


def _other_words(words: Sequence[tuple[Word, str]], found: str) -> str:
    """Return what a row of words says otherwise: the first that is not there."""
    for word, text in words:
        if not found.startswith(text):
            return f"says {found[: max(len(text), 12)]!r} where its sheet says {word.text!r}"
        found = found[len(text) :]
    return f"says {found[:40]!r}, which its sheet does not"


def _turned_faults(page: pdf.PageLetters, word: Word, text: str, free: NDArray[np.bool_]) -> list[str]:
    """Return what is wrong with a word that stands upright; its letters are no longer free."""
    own = np.flatnonzero(free & (np.abs(page.places[:, 0] - word.x) < _LEVEL))
    own = own[np.argsort(page.places[own, 1], kind="stable")]
    if word.turn < 0:
        own = own[::-1]
    if not all(_is_plain(letter) for letter in text):
        # As in a row: of other scripts it is not known how many letters there are.
        behind = own[(page.places[own, 1] - word.y) * np.sign(word.turn) >= -PLACED] if word.anchor == "start" else own
        free[behind] = False
        return [] if len(behind) else [f"does not say {word.text!r} upright where its sheet does"]
    found = "".join(page.letters[index] for index in own)
    at = found.find(text)
    if at < 0:
        return [f"does not say {word.text!r} upright where its sheet does"]
    own = own[at : at + len(text)]
    free[own] = False
    y, near = float(page.places[own[0], 1]), PLACED
    if word.anchor != "start":
        until = page.end_of(int(own[-1]), word.turn)
        y = until if word.anchor == "end" else (y + until) / 2
        near += ENDED * word.size
    return [] if abs(y - word.y) <= near else [f"has {word.text!r} elsewhere than its sheet"]
