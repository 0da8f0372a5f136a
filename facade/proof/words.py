"""Words and numbers of texts: what is said held against what should be said, note by note."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass

_NUMBER = re.compile(r"(?<![\w.])-?\d+(?:\.\d+)?(?: \d+/\d+|/\d+)?(?![\w])")
_MOST_SHOWN = 60


@dataclass(frozen=True)
class Note:
    """What a note should say: the words that lead it, its numbers as they are printed, words that it hangs on.

    Where what it says cannot be foretold to the letter, `faults` looks at its text instead of `numbers`.
    """

    lead: str
    numbers: tuple[str, ...] = ()
    words: tuple[str, ...] = ()
    faults: Callable[[str], Iterator[str]] | None = None


def numbers_in(text: str) -> list[str]:
    """Return the numbers in a text, fractions of an inch as one."""
    return _NUMBER.findall(text)


def note_faults(said: Sequence[tuple[str, str]], wanted: Sequence[Note]) -> Iterator[str]:
    """Yield the first note that is missing or too much, or each whose numbers or words are not those that should be there."""
    leads, others = [lead for lead, _ in said], [note.lead for note in wanted]
    if leads != others:
        at = next(
            (index for index, (a, b) in enumerate(zip(leads, others, strict=False)) if a != b),
            min(len(leads), len(others)),
        )
        seen, should = (some[at][:_MOST_SHOWN] if at < len(some) else "nothing" for some in (leads, others))
        yield f"says {seen!r} where {should!r} should stand"
        return
    for (lead, text), note in zip(said, wanted, strict=True):
        found, should_be = numbers_in(text), [part for number in note.numbers for part in numbers_in(number)]
        if note.faults is not None:
            yield from note.faults(text)
        elif found != should_be:
            odd = [number for number in should_be if number not in found] or should_be
            yield f"says {', '.join(found) or 'no number'} under {lead[:_MOST_SHOWN]!r}, not {', '.join(odd) or 'none'}"
        for word in note.words:
            if word not in text:
                yield f"does not say {word[:_MOST_SHOWN]!r} under {lead[:_MOST_SHOWN]!r}"


def _same(found: Sequence[str], wanted: Sequence[str], near: float) -> bool:
    if list(found) == list(wanted) or len(found) != len(wanted):
        return list(found) == list(wanted)
    if any("/" in number for number in (*found, *wanted)):
        return False
    return all(abs(float(one) - float(other)) <= near + 1e-9 for one, other in zip(found, wanted, strict=True))


def line_faults(said: Sequence[str], wanted: Sequence[str], near: float) -> Iterator[str]:
    """Yield the first line that is not what it should be, numbers taken to be right where they are so near."""
    for index, should in enumerate(wanted):
        line = said[index] if index < len(said) else "nothing"
        same = _NUMBER.sub("#", line) == _NUMBER.sub("#", should) and _same(numbers_in(line), numbers_in(should), near)
        if line != should and not same:
            yield f"says {line[:_MOST_SHOWN]!r}, not {_from_difference(line, should)!r}"
            return
    if len(said) > len(wanted):
        yield f"says besides: {said[len(wanted)][:_MOST_SHOWN]!r}"


def _from_difference(line: str, should: str) -> str:
    """Return what should be said, from a little before the place where it differs on."""
    same = next(
        (index for index, (a, b) in enumerate(zip(line, should, strict=False)) if a != b), min(len(line), len(should))
    )
    start = max(0, same - 20) if len(should) > _MOST_SHOWN else 0
    return should[start : start + _MOST_SHOWN]


def paragraphs(text: str) -> list[str]:
    """Return the paragraphs of a text whose lines go on in lines that are set in."""
    found: list[str] = []
    for line in text.splitlines():
        if line.startswith("  ") and found:
            found[-1] = f"{found[-1]} {line.strip()}"
        elif line:
            found.append(line)
    return found


def bare(text: str) -> str:
    """Return a text without spaces, line ends and full stops after leading words, in which a printed text and a typed one differ."""
    return re.sub(r"[\s\x00-\x1f￾]+", "", text)
