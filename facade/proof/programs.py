"""Machine code as text: held to a closed list of words in their places, then read as moves.

The words are those of the NIST RS274/NGC interpreter (T. Kramer, F. Proctor, E. Messina, NISTIR 6556, 2000), and what ISO 6983-1 has
besides: numbered lines and a % sign at both ends. Of these a file has six lines of start, straight moves, and an end. Anything else is a
fault, whatever it might do on one machine or another.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from facade.arrays import Array
from facade.job import Words
from facade.lengths import Unit

LONGEST_LINE = 256  # characters, NISTIR 6556, 3.3
_LAST_NUMBER = 99_999  # of a line, NISTIR 6556, 3.3.1
# Seconds that a spindle is given to come up to its speed: a rule of thumb of our own.
WAIT = 5.0
# NISTIR 6556, table 4: what must be set before anything moves, besides the unit.
_MODES = ("G17", "G90", "G94")
_UNITS = {Unit.MM: "G21", Unit.INCH: "G20"}
# Lengths have so many decimals, feeds one.
_DECIMALS = {Unit.MM: 3, Unit.INCH: 5}
_PLACE = {unit: rf"-?\d{{1,5}}\.\d{{{count}}}" for unit, count in _DECIMALS.items()}
_HEAD = re.compile(r"(?:\([^()\n]*\)\n)*+")
_MOVES = {
    unit: re.compile(rf"(?:G[01](?: X{place})?(?: Y{place})?(?: Z{place})?(?: F\d{{1,6}}\.\d)?\n)*+")
    for unit, place in _PLACE.items()
}
_START = (
    ("", r"{unit} G17 G90 G94"),
    ("moves before what was set before is set aside with G40 G49 G80 G54", r"G40 G49 G80 G54"),
    ("does not rise first", r"G0 Z(?P<z>{place})"),
    ("moves before its spindle turns", r"S(?P<spindle>\d+) M3"),
    ("does not wait for its spindle", r"G4 P(?P<wait>\d+(?:\.\d+)?)"),
    ("does not go over its first place in a rapid", r"G0 X(?P<x>{place}) Y(?P<y>{place})"),
)
_ENDS = {Words.RS274: ("M5", "M2"), Words.ISO6983: ("M5", "M30")}
# NISTIR 6556, 3.3 to 3.3.5: words of a letter and a plain number.
_STANDARD = re.compile(r"(?:[A-Z][ \t]*[-+]?(?:\d+\.?\d*|\.\d+)[ \t]*)*", re.IGNORECASE)
_WORD = re.compile(r"[A-Za-z][-+]?(?:\d+\.?\d*|\.\d+)?")
_USED = frozenset(
    {"G0", "G1", "G4", "G17", "G20", "G21", "G40", "G49", "G54", "G80", "G90", "G94", "M2", "M3", "M5", "M30"}
)
_WITH_NUMBERS = frozenset("XYZFSP")
_MOST_TOLD = 3


@dataclass(frozen=True)
class Program:
    """A file as read.

    Its comments; the places (n, 3) that its tip goes to, mm; which moves (n - 1,) are rapids, and the feed of each, mm/min; the line (n,)
    of the file that each place stands in; its spindle's turns a minute; and what is wrong with its words.
    """

    head: tuple[str, ...] = ()
    places: Array = field(default_factory=lambda: np.empty((0, 3)))
    rapid: NDArray[np.bool_] = field(default_factory=lambda: np.empty(0, dtype=bool))
    feeds: Array = field(default_factory=lambda: np.empty(0))
    lines: NDArray[np.intp] = field(default_factory=lambda: np.empty(0, dtype=np.intp))
    spindle: float = 0.0
    faults: tuple[str, ...] = ()

    @property
    def cuts(self) -> NDArray[np.bool_]:
        """Which moves are made at a feed."""
        return ~self.rapid

    @property
    def extent(self) -> Array | None:
        """Least and greatest places (2, 3) of its tip at a feed, mm; None where it cuts nothing."""
        ends = self.places[1:][self.cuts]
        return np.stack([ends.min(axis=0), ends.max(axis=0)]) if len(ends) else None


def read_program(text: str, unit: Unit, words: Words) -> Program:
    """Return what a text of machine code says; where it says anything else than it may, only its faults and its head."""
    faults: list[str] = []
    body = text
    if words is Words.ISO6983:
        body, wrong = _without_numbers(text)
        faults += wrong
    head = _HEAD.match(body)
    assert head is not None  # it matches nothing at all, too
    comments = tuple(line[1:-1] for line in head[0].splitlines())
    rest = body[head.end() :]
    start, moves_from, wrong = _start(rest, unit)
    faults += wrong
    if wrong:
        return Program(comments, faults=(*_length_faults(text), *faults))
    moves = _MOVES[unit].match(rest, moves_from)
    assert moves is not None
    end = tuple(rest[moves.end() :].splitlines())
    if end != _ENDS[words] or not rest.endswith("\n"):
        faults += _end_faults(end, words, rest[:moves_from].count("\n") + len(comments) + moves[0].count("\n"))
    faults += _length_faults(head[0]) if not faults else _length_faults(text)
    if faults:
        return Program(comments, faults=tuple(dict.fromkeys(faults)))
    return _program(comments, start, moves[0], unit, words)


def _length_faults(text: str) -> Iterator[str]:
    longest = max(map(len, text.splitlines()), default=0)
    if longest > LONGEST_LINE:
        yield f"has a line of {longest} characters; {LONGEST_LINE} are allowed"


def _without_numbers(text: str) -> tuple[str, list[str]]:
    """Return a text without the numbers of its lines and the signs at its ends, and what is wrong with those."""
    lines = text.splitlines()
    if len(lines) < 2 or lines[0] != "%" or lines[-1] != "%":
        return text, ["does not stand between two % signs"]
    bare = []
    for index, line in enumerate(lines[1:-1], start=1):
        wanted = f"N{10 * index % (_LAST_NUMBER + 1)} "
        if not line.startswith(wanted):
            return text, [f"its line {index + 1} is not numbered {wanted.strip()}: {line[:40]!r}"]
        bare.append(line[len(wanted) :])
    return "\n".join([*bare, ""]), []


def _start(rest: str, unit: Unit) -> tuple[dict[str, str], int, list[str]]:
    """Return what the lines of the start say, where the moves begin, and what is wrong with the first line that is wrong."""
    said: dict[str, str] = {}
    position = 0
    for wrong, pattern in _START:
        line = rest[position : position + 2 * LONGEST_LINE].split("\n", 1)[0]
        found = re.fullmatch(pattern.replace("{unit}", _UNITS[unit]).replace("{place}", _PLACE[unit]), line)
        if found is None:
            others = list(_line_faults(line)) + (_unit_faults(line, unit) if not wrong else [])
            return said, position, [*others, f"{wrong or 'does not begin as it should'}: {line[:40]!r}"]
        said |= found.groupdict()
        position += len(line) + 1
    return said, position, []


def _unit_faults(line: str, unit: Unit) -> list[str]:
    """Return what the first line of a start leaves out, or says otherwise."""
    said = line.split()
    units = [word for word in said if word in _UNITS.values()]
    faults = (
        [] if units == [_UNITS[unit]] else [f"does not say once that it is in {'mm' if unit is Unit.MM else 'inches'}"]
    )
    missing = [word for word in _MODES if word not in said]
    return faults + ([f"moves before {', '.join(missing)} is set"] if missing else [])


def _end_faults(end: tuple[str, ...], words: Words, lines_before: int) -> Iterator[str]:
    """Yield why a text does not end as it should after its last move."""
    wanted = _ENDS[words]
    strange = [line for line in end if line not in wanted]
    if not strange:
        yield f"does not stop its spindle and end: {' '.join(end) or 'nothing'} in place of {' '.join(wanted)}"
        return
    for line in strange[:_MOST_TOLD]:
        yield from _line_faults(line)
    yield f"its line {lines_before + 1 + end.index(strange[0])} stands where no other than moves may: {strange[0][:40]!r}"
    if end[-len(wanted) :] != wanted:
        yield "does not stop its spindle and end"


def _line_faults(line: str) -> Iterator[str]:
    """Yield what is wrong with a line's words, by themselves."""
    bare = re.sub(r"\([^()\n]*\)", "", line)
    if not _STANDARD.fullmatch(bare.strip()):
        yield f"has a line that is no words and numbers: {line[:40]!r}"
        return
    strange = sorted({word for word in _WORD.findall(bare) if not _is_used(word)})
    if strange:
        yield f"has words that are not used here: {', '.join(strange)}"


def _is_used(word: str) -> bool:
    letter, number = word[0].upper(), word[1:]
    return letter in _WITH_NUMBERS or (letter in "GM" and f"{letter}{number.lstrip('0') or '0'}" in _USED)


def _program(comments: tuple[str, ...], start: dict[str, str], moves: str, unit: Unit, words: Words) -> Program:
    first = np.array([float(start[axis]) for axis in "xyz"])
    text = _text_of(moves)
    columns = [text.column(axis, _DECIMALS[unit]) for axis in "XYZ"]
    said_feeds = text.column("F", 1)
    gone = [_carried_on(np.concatenate([[at], column])) for at, column in zip(first, columns, strict=True)]
    places = np.column_stack(gone) * unit.in_mm
    rapid = text.column("G", 0) == 0.0
    feeds = _carried_on(said_feeds) * unit.in_mm
    before = len(comments) + len(_START) + (1 if words is Words.ISO6983 else 0)
    faults = []
    bare = np.isnan(columns[0]) & np.isnan(columns[1]) & np.isnan(columns[2])
    if bare.any():
        faults.append(f"its line {before + 1 + int(bare.argmax())} names no place")
    if (np.isnan(feeds) & ~rapid).any():
        faults.append("cuts before a feed is set")
    if (rapid & ~np.isnan(said_feeds)).any():
        faults.append("gives a feed to a rapid")
    if float(start["wait"]) != WAIT:
        faults.append(f"waits {float(start['wait']):g} s for its spindle, not {WAIT:g}")
    return Program(
        comments,
        places,
        rapid,
        np.where(rapid, np.nan, feeds),
        np.arange(text.count + 1) + before,
        float(start["spindle"]),
        tuple(faults),
    )


@dataclass(frozen=True)
class _Text:
    """Lines of moves as codes of letters: where words begin and end, the letters they begin with, and the line that each stands in."""

    codes: NDArray[np.uint8]
    begins: NDArray[np.intp]
    ends: NDArray[np.intp]
    lines: NDArray[np.intp]
    count: int

    def column(self, letter: str, decimals: int) -> Array:
        """Return the numbers (count,) that stand after a letter, line by line; nan where it does not stand.

        A number is read digit by digit, from its last one on: that of a place is worth ten times the one behind it.
        """
        found = np.full(self.count, np.nan)
        some = self.codes[self.begins] == ord(letter)
        begins, ends = self.begins[some], self.ends[some]
        if not len(begins):
            return found
        whole, at, worth = np.zeros(len(begins)), ends - 1, 1.0
        for digit in range(int((ends - begins).max())):
            if decimals and digit == decimals:
                at = at - 1
            code = self.codes[np.maximum(at, begins)]
            is_digit = (code >= ord("0")) & (code <= ord("9"))
            whole += np.where(is_digit, (code - float(ord("0"))) * worth, 0.0)
            at, worth = at - 1, worth * 10.0
        minus = self.codes[begins + 1] == ord("-")
        found[self.lines[some]] = np.where(minus, -whole, whole) / 10.0**decimals
        return found


def _text_of(moves: str) -> _Text:
    codes = np.frombuffer(moves.encode("ascii"), dtype=np.uint8)
    begins = np.flatnonzero(codes >= ord("A"))
    line_ends = np.flatnonzero(codes == ord("\n"))
    # A word ends where the blank before the next one stands, or its line.
    next_blank = np.append(begins[1:] - 1, len(codes) - 1) if len(begins) else begins
    lines = np.cumsum(codes == ord("\n"))[begins] if len(begins) else begins
    return _Text(codes, begins, next_blank, lines, len(line_ends))


def _carried_on(values: Array) -> Array:
    """Return values with each gap filled by the last one before it."""
    known = np.where(np.isnan(values), 0, np.arange(len(values)))
    return np.asarray(values[np.maximum.accumulate(known)]) if len(values) else values
