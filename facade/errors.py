"""The errors that a user can cause, each with its one sentence and its exit code."""

from __future__ import annotations

from dataclasses import dataclass


class FacadeError(Exception):
    """Root of everything that `facade` raises on purpose."""

    exit_code = 2


@dataclass(frozen=True)
class Mistake:
    """One thing that is wrong in a job: where it stands and what to do about it."""

    field: str
    sentence: str
    line: int | None = None

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
