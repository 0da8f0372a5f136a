"""A cutter's way as machine code.

Words, numbers and comments are those of the NIST RS274/NGC interpreter (T. Kramer, F. Proctor, E. Messina, NISTIR 6556, 2000); the other
form adds what ISO 6983-1 has besides: numbered lines, and a % sign at both ends. Straight moves only, one to a line.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence

import numpy as np
from numpy.typing import NDArray

from facade.arrays import Array
from facade.cnc.moves import Kind, Moves
from facade.drawing import printable
from facade.errors import FacadeError
from facade.job import Speeds, Words
from facade.lengths import Unit

LONGEST_LINE = 256  # characters, NISTIR 6556, 3.3
_LAST_NUMBER = 99_999  # of a line, NISTIR 6556, 3.3.1
_DECIMALS = {Unit.MM: 3, Unit.INCH: 5}
_UNIT_WORD = {Unit.MM: "G21", Unit.INCH: "G20"}
_PLAIN = str.maketrans("();", "[],")
# Seconds that the spindle gets to come up to its speed.
_SPIN_UP = 5


def as_written(moves: Moves, unit: Unit) -> Moves:
    """Return moves as a file in this unit holds them: to its last decimal, without those that go nowhere then."""
    last = unit.in_mm / 10.0 ** _DECIMALS[unit]
    ticks = np.rint(moves.places / last)
    goes = np.any(np.diff(ticks, axis=0, prepend=np.nan) != 0.0, axis=1)
    return Moves(ticks[goes] * last, moves.kinds[goes])


def machine_code(moves: Moves, head: Iterable[str], *, unit: Unit, words: Words, speeds: Speeds) -> str:
    """Return a cutter's way as the text of a file; `head` goes before it as comments.

    Modes are set before the first move: unit, plane, distance, feed; no cutter compensation, no length offset, no canned cycle; the
    first work system. It ends above the blanks with the spindle stopped.
    """
    start = _start(moves, unit, speeds)
    body = _body(moves, unit, speeds)
    lines = [*map(comment, head), *start, *body]
    if words is Words.RS274:
        return "\n".join([*lines, "M5", "M2", ""])
    return "\n".join(["%", *_numbered([*lines, "M5", "M30"]), "%", ""])


def comment(text: str) -> str:
    """Return a comment: plain letters, no brackets within, no longer than a line may be; no semicolon, at which some readers stop.

    Raises FacadeError for one that is too long, since it would say less than it should.
    """
    plain = printable(text).encode("ascii", "replace").decode().translate(_PLAIN)
    if len(plain) + 2 > LONGEST_LINE - 10:
        raise FacadeError(f"a comment in machine code must be shorter than {LONGEST_LINE} letters (got {len(plain)})")
    return f"({plain})"


def number(value: float, unit: Unit) -> str:
    """Return a length as it stands in the code: fixed decimals, no exponent, no minus before a zero; mm in, the unit out."""
    text = f"{value / unit.in_mm:.{_DECIMALS[unit]}f}"
    return text.removeprefix("-") if float(text) == 0.0 else text


def _start(moves: Moves, unit: Unit, speeds: Speeds) -> list[str]:
    x, y, z = moves.places[0].tolist()
    return [
        f"{_UNIT_WORD[unit]} G17 G90 G94",
        "G40 G49 G80 G54",
        f"G0 Z{number(z, unit)}",
        f"S{speeds.spindle:.0f} M3",
        f"G4 P{_SPIN_UP}",
        f"G0 X{number(x, unit)} Y{number(y, unit)}",
    ]


def _body(moves: Moves, unit: Unit, speeds: Speeds) -> list[str]:
    """Return a line for each move after the first: the axes that change, and the feed where it changes."""
    words, changes = zip(
        *(_axis(letter, moves.places[:, axis], unit) for axis, letter in enumerate("XYZ")), strict=True
    )
    kinds = moves.kinds[1:]
    heads = np.array(["G0", "G1", "G1"], dtype=object)[kinds].tolist()
    said = {Kind.PLUNGE: speeds.plunge, Kind.CUT: speeds.feed}
    feeds = _feeds(kinds, {kind: f" F{feed / unit.in_mm:.1f}" for kind, feed in said.items()})
    moved: list[bool] = np.any(changes, axis=0).tolist()
    rows = zip(heads, *words, feeds, moved, strict=True)
    return [f"{head}{x}{y}{z}{speed}" for head, x, y, z, speed, moves_at_all in rows if moves_at_all]


def _axis(letter: str, values: Array, unit: Unit) -> tuple[list[str], NDArray[np.bool_]]:
    """Return the word of an axis for each move after the first, " X12.500", "" where it stays, and which change; equal ones are written
    once."""
    decimals = _DECIMALS[unit]
    # Counted in the last decimal: what is rounded to the same number is no change.
    ticks = np.rint(values * (10.0**decimals / unit.in_mm)).astype(np.int64)
    changes = np.diff(ticks) != 0
    low = int(ticks.min())
    there = np.zeros(int(ticks.max()) - low + 1, dtype=bool)
    there[ticks[1:][changes] - low] = True
    different = np.flatnonzero(there)
    said = f" {letter}%.{decimals}f\n" * len(different) % tuple(((different + low) / 10.0**decimals).tolist())
    which = np.zeros(len(there), dtype=np.int32)
    which[different] = np.arange(1, len(different) + 1)
    words = np.array(["", *said.split("\n")], dtype=object)
    found: list[str] = words[np.where(changes, which[ticks[1:] - low], 0)].tolist()
    return found, changes


def _feeds(kinds: NDArray[np.uint8], words: dict[Kind, str]) -> list[str]:
    """Return the feed's word at the first cut of each kind after another: a rapid between them changes nothing."""
    cuts = np.flatnonzero(kinds != Kind.RAPID)
    new = cuts[np.diff(kinds[cuts], prepend=np.uint8(Kind.RAPID)) != 0]
    found = np.full(len(kinds), "", dtype=object)
    found[new] = [words[Kind(kind)] for kind in kinds[new].tolist()]
    said: list[str] = found.tolist()
    return said


def _numbered(lines: Sequence[str]) -> list[str]:
    """Return the lines with numbers before them, by tens, from the beginning again where they would have six digits."""
    return [f"N{(10 * index) % (_LAST_NUMBER + 1)} {line}" for index, line in enumerate(lines, start=1)]
