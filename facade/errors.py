"""The errors that a user can cause, each with its one sentence and its exit code."""

from __future__ import annotations

import unicodedata
from dataclasses import dataclass
from functools import lru_cache

_LONGEST_QUOTE = 60  # letters of what a user wrote, where it is quoted
_LONGEST_LINE = 1000  # letters of one sentence


def visible(text: str) -> str:
    """Return a text in which what cannot be seen, steers a terminal or turns the writing round is a space; its length stays."""
    if text.isascii() and text.isprintable():
        return text
    # A joiner within an emblem is kept: it belongs to what is seen.
    return "".join(" " if unicodedata.category(one)[0] in "CZ" and one != "\u200d" else one for one in text)


@lru_cache(maxsize=4096)
def printable(text: str) -> str:
    """Return a text as one line that any file can hold: no control, direction or unpaired characters."""
    return " ".join(visible(text).split())


def shortened(text: str, most: int = _LONGEST_QUOTE) -> str:
    """Return what a user wrote as a sentence can hold it: on one line, its middle left out where it is long."""
    half = (most - 3) // 2
    return printable(text if len(text) <= most else f"{text[:half]}...{text[-half:]}")


class FacadeError(Exception):
    """Root of everything that `facade` raises on purpose; every line of it can be printed, whatever it quotes."""

    exit_code = 2

    def __init__(self, said: str = "") -> None:
        super().__init__("\n".join(shortened(line, _LONGEST_LINE) for line in said.split("\n")))


@dataclass(frozen=True)
class Mistake:
    """One thing that is wrong in a job: where it stands and what to do about it."""

    field: str
    sentence: str
    line: int | None = None

    def __post_init__(self) -> None:
        object.__setattr__(self, "field", shortened(self.field, 4 * _LONGEST_QUOTE))
        object.__setattr__(self, "sentence", shortened(self.sentence, _LONGEST_LINE))

    def __str__(self) -> str:
        return self.sentence if self.line is None else f"line {self.line}: {self.sentence}"


class JobError(FacadeError, ValueError):
    """A job that cannot be used; `mistakes` lists everything that is wrong with it."""

    def __init__(self, mistakes: list[Mistake]) -> None:
        self.mistakes = mistakes
        super().__init__("\n".join(map(str, mistakes)))


class FileError(FacadeError, OSError):
    """A file or folder that cannot be read or must not be written."""


class NotCleared(FacadeError):
    """A front that the checks stop, where nothing was to be written then."""

    exit_code = 1


def mistake(field: str, sentence: str) -> JobError:
    """Return the error of one mistake, ready to raise."""
    return JobError([Mistake(field, sentence)])
