"""Corruptions of tables and of texts: every column, every row, and what read-me files say."""

from __future__ import annotations

import csv
import io
import re
from collections.abc import Callable, Iterator

from corruptions.corruption import Act, Corruption, Nothing, matched, number, plus, replaced, text

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
        *("left bottom", "right bottom", "left top", "right top"),
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
    yield Corruption(_KINDS[TIMES], TIMES, "another sum", cell("minutes", -1, other))


def _texts() -> Iterator[Corruption]:
    """Yield what is done to read-me files: every figure and word on which work depends."""
    for what, act in (
        ("Z0 said to be the face", replaced("Z0 is the", "Z0 is not the")),
        ("another thickness of the blanks", number(r"blanks to ([\d.]+) mm", plus(1))),
        ("another thickness of the blanks below", number(r"Blanks: ([\d.]+) mm", plus(1))),
        ("another waste at the ends", number(r"([\d.]+) mm at both ends", plus(-10))),
        ("another height that may stand beside", number(r"no\s+higher\s+than\s+([\d.]+)", plus(6))),
        ("more left on for sanding", number(r"for\s+sanding\s+is\s+([\d.]+)", plus(0.3))),
        ("another width of a fixture", number(r"Fixture 1: .*?, ([\d.]+) mm by", plus(1))),
        ("a fixture's strips", replaced("strips 1 to 4", "strips 1 to 5")),
        ("another least height", number(r"least ([\d.]+)", plus(-1))),
        ("another floor", number(r"floor is ([\d.]+)", plus(-2))),
        ("the order of cutting turned round", replaced("1-rough", "2-rough")),
        ("clamps allowed within the dashed line", replaced("No clamp", "Any clamp")),
        ("lengths said to be inches", replaced("in mm", "in inches")),
        ("another mark", matched(r"mark \w{4}-\w{4}", "mark 7Q2M-X4KD")),
        ("no mark", matched(r", mark \w{4}-\w{4}", "")),
        ("another title", replaced("Small hall cabinet", "Large hall cabinet")),
        ("the cautions left out", matched(r"(?s)Cautions\..*", "")),
        ("a fixture left out", matched(r"^Fixture 2:.*\n", "")),
    ):
        yield Corruption("read-me, face", FACE, what, act)
    for what, act in (
        ("another thickness above the edges", number(r"runs ([\d.]+) mm", plus(0.5))),
        ("the lower edge in place of the higher", replaced("HIGHER", "LOWER")),
        ("another saw line", number(r"saw line: ([\d.]+)", plus(-1))),
        ("strips on their other side", replaced("LEFT side", "RIGHT side")),
        ("TOP end at the left", replaced("BOTTOM end at the left", "TOP end at the left")),
        ("another cutter", number(r"([\d.]+) mm, its edge", plus(4))),
        ("another length of the cutter", number(r"edge at least ([\d.]+)", plus(-6))),
        ("a proof square of another size", number(r"proof square must measure ([\d.]+)", plus(-1))),
        ("lengths said to be inches", replaced("in mm", "in inches")),
        ("another mark", matched(r"mark \w{4}-\w{4}", "mark 7Q2M-X4KD")),
        ("another title", replaced("Small hall cabinet", "Large hall cabinet")),
        ("the cautions left out", matched(r"(?s)Cautions\..*", "")),
    ):
        yield Corruption("read-me, side", SIDE, what, act)


CORRUPTIONS: tuple[Corruption, ...] = (*_tables(), *_texts())
