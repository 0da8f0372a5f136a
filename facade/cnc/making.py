"""Files of a route as they are made: by several processes, each file kept at once by the one that has made it."""

from __future__ import annotations

from abc import ABC, abstractmethod
from collections.abc import Callable, Iterable, Iterator, Sequence
from contextlib import AbstractContextManager
from typing import Any, Generic, TypeVar

from facade.checks.finding import Finding
from facade.cnc.order import Order
from facade.front import Front
from facade.processes import sharing

File = tuple[str, bytes, str]
"""A file's name in the folder of its order, what is in it, and what it is for."""

Kept = TypeVar("Kept")
Task = Callable[[], Any]


class Making(ABC, Generic[Kept]):
    """The files of an order while they are made: tasks that processes share, and the rest, made of what comes of these, in their order.

    `keep` is done with every file where it is made, and what it returns is given; it must be short, for it is sent back from there.
    """

    def __init__(self, front: Front, order: Order, keep: Callable[[File], Kept]) -> None:
        self.front = front
        self.order = order
        self.keep = keep

    @property
    @abstractmethod
    def tasks(self) -> Sequence[Task]:
        """What processes may share; raises JobError when the strips, the cutters and the machine do not go together."""

    @abstractmethod
    def findings(self, results: Iterator[Any]) -> list[Finding]:
        """Return what the route finds wrong with the front; takes of the results what it needs to know that."""

    @abstractmethod
    def files(self, results: Iterator[Any]) -> Iterator[Kept]:
        """Yield what comes of every file; asked after `findings`."""

    def kept(self, files: Iterable[File]) -> list[Kept]:
        """Return what comes of some files."""
        return [self.keep(file) for file in files]


def begun(making: Making[Any]) -> AbstractContextManager[Iterator[Any]]:
    """Begin with the tasks at once, and give what comes of them in their order, whenever it is taken."""
    return sharing(_done, making.tasks)


def _done(task: Task) -> Any:
    return task()


def all_made(making: Making[Kept]) -> Iterator[Kept]:
    """Yield what comes of every file, whatever is found."""
    with begun(making) as results:
        making.findings(results)
        yield from making.files(results)


def as_it_is(file: File) -> File:
    """Return a file for who asked for it: nothing is done with it where it is made."""
    return file
