"""Finding the line of a job file that a mistake stands on."""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence

Place = tuple[str | int, ...]

_HEADER = re.compile(r"\s*(\[\[?)\s*([^\[\]]+?)\s*\]\]?\s*(?:#.*)?$")
_KEY = re.compile(r"""\s*((?:[\w-]+|"[^"]*"|'[^']*')(?:\s*\.\s*(?:[\w-]+|"[^"]*"|'[^']*'))*)\s*=""")


# A key stands at the start of its line; patterns are not let loose on what may follow.
_LONGEST_KEY = 300


def _names(dotted: str) -> list[str]:
    return [part.strip().strip("\"'") for part in dotted.split(".")]


def key_lines(text: str) -> dict[Place, int]:
    """Return the line, from 1, of every header and key that starts a line of a TOML text.

    What stands inside an inline table or array is found by its key's line, which is as near as a maker needs.
    """
    lines: dict[Place, int] = {}
    for number, place in places_in(text):
        lines.setdefault(place, number)
    return lines


def places_in(text: str) -> Iterator[tuple[int, Place]]:
    """Yield the line and the place of every header and key that starts a line, in their order; of a dotted key every part."""
    counts: dict[Place, int] = {}
    table: Place = ()
    for number, whole in enumerate(text.split("\n"), start=1):
        line = whole[:_LONGEST_KEY].rstrip()
        header = _HEADER.match(line)
        if header:
            names: Place = tuple(_names(header[2]))
            table = _in_last(names[:-1], counts) + names[-1:]
            if header[1] == "[[":
                counts[table] = counts.get(table, -1) + 1
                yield number, table
                table = (*table, counts[table])
            yield number, table
            continue
        key = _KEY.match(line)
        if key:
            place = table
            for name in _names(key[1]):
                place = (*place, name)
                yield number, place


def _in_last(names: Sequence[str | int], counts: dict[Place, int]) -> Place:
    """Return the place of a parent header: inside the newest entry of each list of tables on the way."""
    place: Place = ()
    for name in names:
        place = (*place, name)
        if place in counts:
            place = (*place, counts[place])
    return place


def line_of(place: Place, lines: dict[Place, int]) -> int | None:
    """Return the line of a place, or of the nearest thing that holds it."""
    while place:
        if place in lines:
            return lines[place]
        place = place[:-1]
    return None
