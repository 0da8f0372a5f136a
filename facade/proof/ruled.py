"""Tables on sheets as they are read: the rules that are drawn say where columns and rows are, the words between them what stands there."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np

from facade.arrays import Array
from facade.proof.svg import Line, Sheet, Word

# Heads are set in type of one size, titles in another, mm; a row's words stand so far above the rule under it.
_HEAD_TYPE, _TITLE_TYPE, _ABOVE_RULE = 2.6, 4.2, 1.2
_HEAD_LINE, _HEAD_PITCH, _MOST_HEADS = 1.3, 3.7, 3
_NEAR = 0.02
_ROWS = ("rows", "fifth-rows")


@dataclass(frozen=True)
class Row:
    """A row of a table: what stands in each of its columns by their order, "" for nothing."""

    cells: tuple[str, ...]


@dataclass(frozen=True)
class RuledTable:
    """A table on a sheet: its title, the heads of its columns from the left, its rows in their order."""

    title: str
    heads: tuple[str, ...]
    rows: tuple[Row, ...]

    def column(self, head: str, turn: int = 0) -> int | None:
        """Return which column has a head, the `turn`-th of those of that name; None where there is none."""
        found = [index for index, one in enumerate(self.heads) if one == head]
        return found[turn] if turn < len(found) else None


def tables_on(sheet: Sheet) -> Iterator[RuledTable]:
    """Yield the tables on a sheet in true mm, in the order in which they are drawn."""
    before: list[Line] = []
    for line in sheet.lines:
        if line.kind in _ROWS:
            # Of one table every fifth row's lines come straight behind the others'.
            follows = line.kind == "fifth-rows" and before and before[-1].kind == "rows"
            before = [*before, line] if follows else [line]
        elif line.kind == "heads":
            found = _table(sheet, line, before)
            if found is not None:
                yield found
            before = []
        elif line.name:
            before = []


def _table(sheet: Sheet, heads: Line, rows: Sequence[Line]) -> RuledTable | None:
    runs = heads.points.reshape(-1, 2, 2)
    if not len(runs) or not rows:
        return None
    base = float(runs[0, 0, 1])
    under = np.concatenate([line.points.reshape(-1, 2, 2) for line in rows])
    words = [word for word in sheet.words if abs(word.turn) < 1.0]
    title = _title(words, float(runs[0, 0, 0]), base)
    over = [word for word in words if base < word.y < base + _HEAD_LINE + _MOST_HEADS * _HEAD_PITCH]
    levelled: dict[int, list[Word]] = {}
    for word in words:
        if word.text and word.y < base:
            levelled.setdefault(round(word.y * 10), []).append(word)
    named, read = None, []
    for run in runs[np.argsort(runs[:, 0, 0])]:
        left, right = float(run[0, 0]), float(run[1, 0])
        columns = _columns([word for word in over if left - _NEAR <= word.x <= right + _NEAR], base)
        named = named or tuple(head for _, head in columns)
        levels = np.sort(under[np.abs(under[:, 0, 0] - left) < _NEAR][:, 0, 1])[::-1]
        for level in levels.tolist():
            at = round((level + _ABOVE_RULE) * 10)
            near = [word for step in (-1, 0, 1) for word in levelled.get(at + step, ())]
            read.append(_row(near, columns, left, right, level))
    return RuledTable(title, named or (), tuple(read))


def _title(words: Sequence[Word], left: float, base: float) -> str:
    """Return the title over a table: the large words at its left edge, those next above it, line by line."""
    large = [
        word
        for word in words
        if word.bold and abs(word.size - _TITLE_TYPE) < _NEAR and abs(word.x - left) < _NEAR and word.y > base
    ]
    large.sort(key=lambda word: word.y)
    lines = large[:1]
    for word in large[1:]:
        if word.y - lines[-1].y > 6.0:
            break
        lines.append(word)
    return " ".join(word.text for word in reversed(lines))


def _columns(words: Sequence[Word], base: float) -> list[tuple[float, str]]:
    """Return the columns of a run from the left: where their words stand, and their heads, line by line."""
    found: dict[float, list[Word]] = {}
    for word in words:
        over = (word.y - base - _HEAD_LINE) / _HEAD_PITCH
        if (
            word.bold
            and abs(word.size - _HEAD_TYPE) < _NEAR
            and -0.02 < over < _MOST_HEADS
            and abs(over - round(over)) < 0.01
        ):
            at = next((x for x in found if abs(x - word.x) < _NEAR), word.x)
            found.setdefault(at, []).append(word)
    return [(x, " ".join(word.text for word in sorted(found[x], key=lambda word: -word.y))) for x in sorted(found)]


def _row(words: Sequence[Word], columns: Sequence[tuple[float, str]], left: float, right: float, level: float) -> Row:
    own = [
        word
        for word in words
        if abs(word.y - level - _ABOVE_RULE) < _NEAR and left - _NEAR <= word.x <= right + _NEAR and word.text
    ]
    return Row(tuple(next((word.text for word in own if abs(word.x - x) < _NEAR), "") for x, _ in columns))


def numbers_of(table: RuledTable, column: int | None, read: object) -> Array:
    """Return the figures of a column as `read` gives them, nan where there is none."""
    assert callable(read)
    return np.array(
        [np.nan if column is None or not row.cells[column] else read(row.cells[column]) for row in table.rows]
    )
