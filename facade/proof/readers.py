"""Which reader compares which file: a function for each pattern of names, registered beside its definition."""

from __future__ import annotations

from collections.abc import Callable
from fnmatch import fnmatchcase
from pathlib import Path

from facade.proof.compared import Compared
from facade.proof.truth import Truth

Compare = Callable[[Path, str, Truth], list[Compared]]
"""Compares the file at a path, of a name in the manifest, with the truth; what it says may be about other files too."""

READERS: dict[str, Compare] = {}


def reader(*patterns: str) -> Callable[[Compare], Compare]:
    """Register a function as the reader of files whose names match."""

    def register(compare: Compare) -> Compare:
        READERS.update(dict.fromkeys(patterns, compare))
        return compare

    return register


def reader_of(name: str) -> Compare | None:
    """Return the reader of a file, that of the longest pattern which its name matches; None where there is none."""
    if name.startswith("cnc-"):
        import facade.proof.machines  # noqa: F401
    matching = [pattern for pattern in READERS if fnmatchcase(name, pattern)]
    return READERS[max(matching, key=len)] if matching else None
