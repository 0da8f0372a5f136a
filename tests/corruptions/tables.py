"""Corruptions of tables and of texts: every column, every row, and what read-me files say."""

from __future__ import annotations

import csv
import io
import re
from collections.abc import Callable, Iterator

from corruptions.corruption import (
    Act,
    Corruption,
    Nothing,
    copy_of,
    exchanged,
    lines,
    matched,
    number,
    plus,
    replaced,
    text,
)

Rows = list[list[str]]

PARTS, OFFSETS, SIZES, TIMES = "parts.csv", "offsets.csv", "cnc-side/sizes.csv", "cnc-face/times.csv"
FACE, SIDE = "cnc-face/read-me.txt", "cnc-side/read-me.txt"
_WORDS = {"yes": "no", "no": "yes", "end": "4", "left": "right", "right": "left"}


def rows(change: Callable[[Rows], Rows]) -> Act:
    """Return what changes the rows of a table, its head among them; its ends of lines stay."""

    def edit(said: str) -> str:
        end = "\r\n" if "\r\n" in said else "\n"
        written = io.StringIO()
        csv.writer(written, lineterminator=end).writerows(change(list(csv.reader(io.StringIO(said)))))
        return written.getvalue()

    return text(edit)


def cell(column: str, row: int, change: Callable[[str], str]) -> Act:
    """Return what changes one cell: the column that the head names, the row counted from 1."""

    def edit(some: Rows) -> Rows:
        names = [name for name in some[0] if name.startswith(column)]
        if not names:
            raise Nothing(f"no column {column}")
        index = some[0].index(names[0])
        some[row][index] = change(some[row][index])
        return some

    return rows(edit)


def other(said: str) -> str:
    """Return another value of the same kind: a number a little larger, another word."""
    if said in _WORDS:
        return _WORDS[said]
    try:
        value = float(said)
    except ValueError:
        return said + "x"
    decimals = len(said.partition(".")[2])
    return f"{value + (0.1 if decimals else 1):.{decimals}f}"


def exchanged_rows(some: Rows) -> Rows:
    some[2], some[3] = some[3], some[2]
    return some


def exchanged_numbers(some: Rows) -> Rows:
    """Exchange what two rows say, but not how they are called."""
    some[2][1:], some[3][1:] = some[3][1:], some[2][1:]
    return some


def exchanged_heads(some: Rows) -> Rows:
    some[0][2], some[0][3] = some[0][3], some[0][2]
    return some


def one_tenth(some: Rows) -> Rows:
    """Write a point one place further to the left in one row."""
    for index, said in enumerate(some[2]):
        if re.fullmatch(r"\d+\.\d+", said):
            some[2][index] = f"{float(said) / 10:.2f}"
            return some
    raise Nothing("no number with a point")


_COLUMNS = {
    PARTS: (
        *("strip", "door", "length", "width", "thickness", "from_front_left", "left_neighbour", "right_neighbour"),
        *(
            "thinnest_mm",
            "thinnest_from",
            "thickest_mm",
            "thickest_from",
            "greatest_twist",
            "straight_face",
            "centre_line",
        ),
        *("volume", "waste", "saw_takes", "slope_along", "slope_across", "mark"),
    ),
    OFFSETS: ("strip", "side", "station", "height", "depth", "mark"),
    SIZES: (
        *("strip", "door", "file", "length", "width", "greatest height", "height at bottom", "height at top"),
        *("left bottom", "right bottom", "left top", "right top", "step cuts"),
    ),
    TIMES: (
        *("fixture", "door", "first strip", "last strip", "file", "cutter", "moves", "minutes"),
        *("x from", "x to", "y from", "y to", "z from", "z to"),
    ),
}
_KINDS = {PARTS: "part list, CSV", OFFSETS: "offsets, CSV", SIZES: "sizes, CSV", TIMES: "times, CSV"}


def _tables() -> Iterator[Corruption]:
    for on, columns in _COLUMNS.items():
        for column in columns:
            yield Corruption(_KINDS[on], on, f"another value of: {column}", cell(column, 3, other))
        for what, act in (
            ("two rows exchanged", rows(exchanged_rows)),
            ("two rows' figures exchanged", rows(exchanged_numbers)),
            ("a row missing", rows(lambda some: [*some[:2], *some[3:]])),
            ("a row doubled", rows(lambda some: [*some[:3], *some[2:]])),
            ("two words of the head exchanged", rows(exchanged_heads)),
            ("another unit in the head", matched(r"(_|\s)mm", r"\1in", every=True)),
            ("a point one place to the left", rows(one_tenth)),
            ("figures parted by semicolons", replaced(",", ";", 0)),
        ):
            yield Corruption(_KINDS[on], on, what, act)
    yield Corruption(_KINDS[TIMES], TIMES, "another sum", cell("minutes", -1, lambda said: f"{float(said) + 2:.1f}"))


def line_gone(which: int) -> Act:
    """Return what leaves out a line of a text that is not empty, counted from the first."""

    def change(said: list[str]) -> list[str]:
        there = [index for index, line in enumerate(said) if line.strip()]
        return [line for index, line in enumerate(said) if index != there[which]]

    return lines(change)


def _texts() -> Iterator[Corruption]:
    """Yield what is done to read-me files: figures from the first to the last, words that work depends on, lines left out."""
    for kind, on in (("read-me, face", FACE), ("read-me, side", SIDE)):
        for which in (0, 1, 2, 3, 4, 6, 8, 10, 12, -3, -1):
            told = f"figure {which + 1}" if which >= 0 else f"figure {-which} from the end"
            yield Corruption(
                kind, on, f"{told} 1 more", number(r"(?<![\w.-])(\d+(?:\.\d+)?)(?= mm)", plus(1), which=which)
            )
        for which in (3, 7, 12, 18, 24, -2):
            yield Corruption(kind, on, f"line {which} left out", line_gone(which))
        for what, act in (
            ("lower left reads upper right", matched("(?i)lower left", "upper right")),
            ("TOP reads BOTTOM", matched(r"\bTOP\b", "BOTTOM")),
            ("lengths said to be inches", replaced(" in mm", " in inches")),
            ("another mark", matched(r"mark \w{4}-\w{4}", "mark 7Q2M-X4KD")),
            ("no mark", matched(r", mark \w{4}-\w{4}", "")),
            ("another title", replaced("Small hall cabinet", "Large hall cabinet")),
            ("the cautions left out", matched(r"(?s)^Cautions.*\Z", "")),
            ("a sentence added", matched(r"\Z", "Hold short strips by hand.\n")),
            ("a not left out", matched(r"\b(not|No|nothing) ", "")),
            ("another's read-me under its name", copy_of("cnc-*/read-me.txt")),
        ):
            yield Corruption(kind, on, what, act)
    for what, act in (
        ("a fixture's strips", replaced("strips 1 to 4", "strips 1 to 5")),
        ("the files' order turned round", exchanged("1-rough", "2-finish")),
    ):
        yield Corruption("read-me, face", FACE, what, act)
    for what, act in (
        ("HIGHER reads LOWER", replaced("HIGHER", "LOWER")),
        ("LEFT side reads RIGHT side", replaced("LEFT side", "RIGHT side")),
        ("climb cutting reads conventional", replaced("climb cutting", "conventional cutting")),
        ("OUTSIDE reads MIDDLE", replaced("OUTSIDE", "MIDDLE")),
    ):
        yield Corruption("read-me, side", SIDE, what, act)


CORRUPTIONS: tuple[Corruption, ...] = (*_tables(), *_texts())
