"""What is asked of a job's text and settings before anything else looks at them: their size, their depth, their letters."""

from __future__ import annotations

import re
from collections.abc import Iterator
from typing import Any

from facade.errors import JobError, Mistake, mistake
from facade.job.places import Path, name_of

LARGEST_JOB = 256 * 1024  # bytes; the longest preset has 2 KB
MOST_VALUES = 30_000
DEEPEST = 24  # tables and lists inside one another; a job needs five
_PLACES_NAMED = 20

# Texts and comments, which may hold any bracket and dot, are taken whole; one that is not closed is taken to its end.
_TOKEN = re.compile(
    r'"""(?:\\.|[^\\])*?(?:"""|\Z)|\'\'\'.*?(?:\'\'\'|\Z)|"(?:\\.|[^"\\\n])*"?|\'[^\'\n]*\'?|#[^\n]*|[\[\]{}.=,\n]',
    re.DOTALL,
)


def refuse_large_text(text: str) -> None:
    """Raise JobError for the text of a job file that no file can hold, that is too long, or nested too deeply, to be read."""
    try:
        size = len(text.encode("utf-8"))
    except UnicodeEncodeError as error:
        line = text.count("\n", 0, error.start) + 1
        raise JobError(
            [Mistake("", "there is half of a letter, which no file can keep: type it anew", line)]
        ) from error
    if size > LARGEST_JOB:
        raise mistake("", f"a job file {too_large(size)}")
    deep = _line_too_deep(text)
    if deep is not None:
        raise JobError([Mistake("", _too_deep(), deep)])


def too_large(size: int) -> str:
    """Return what is said of a job file of so many bytes."""
    return (
        f"must be at most {LARGEST_JOB // 1024} KB (it has {size // 1024} KB): leave out what is not of the job, and keep long "
        'tables of heights in a file of their own beside it (kind = "grid")'
    )


def _too_deep() -> str:
    return f"this is not a job: it is nested more than {DEEPEST} deep, a job needs five levels at most"


def _line_too_deep(text: str) -> int | None:
    """Return the line in which tables and lists, or the parts of a dotted name, are nested too deeply."""
    depth = dots = 0
    for token in _TOKEN.finditer(text):
        found = token[0]
        depth += (found in "[{") - (found in "]}")
        dots = dots + 1 if found == "." else dots if found[0] in "\"'" else 0
        # Brackets of a table's name close again on their line.
        if depth > DEEPEST or dots > DEEPEST:
            return text.count("\n", 0, token.start()) + 1
        depth = max(depth, 0)
    return None


def refuse_overgrown(settings: Any) -> None:
    """Raise JobError for settings of too many values, nested too deeply, or with letters that no file can hold.

    They may come from a program or from the page, which know no text.
    """
    wrong = []
    for count, (place, value) in enumerate(_values(settings)):
        if count > MOST_VALUES:
            raise mistake("", f"a job holds at most {MOST_VALUES} values: leave out what is not of the job")
        if len(place) > DEEPEST:
            raise mistake(name_of(place[:3]), _too_deep())
        if _is_broken(value) or (place and _is_broken(place[-1])):
            wrong.append(place)
    if wrong:
        raise JobError([_broken(place) for place in wrong[:_PLACES_NAMED]])


def _values(settings: Any) -> Iterator[tuple[Path, Any]]:
    """Yield every value with its place, tables and lists too, however deep they are."""
    waiting: list[tuple[Path, Any]] = [((), settings)]
    while waiting:
        place, value = waiting.pop()
        yield place, value
        if isinstance(value, dict):
            waiting += [((*place, str(name)), inner) for name, inner in value.items()]
        elif isinstance(value, list | tuple):
            waiting += [((*place, index), inner) for index, inner in enumerate(value)]


def _is_broken(value: Any) -> bool:
    return isinstance(value, str) and not value.isascii() and any("\ud800" <= letter <= "\udfff" for letter in value)


def _broken(place: Path) -> Mistake:
    return Mistake(name_of(place), f"`{name_of(place)}` holds half of a letter, which no file can keep: type it anew")
