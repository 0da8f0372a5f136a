"""Sharing work out over processes that are copies of this one, where that is possible."""

from __future__ import annotations

import os
from collections.abc import Callable, Iterator, Sequence
from pathlib import Path
from threading import Thread
from time import sleep
from typing import Any, TypeVar

_Given = TypeVar("_Given")
_Made = TypeVar("_Made")


def copies_possible() -> bool:
    """Whether this process can be copied: only while it has a single thread, and only where the system tells."""
    tasks = Path("/proc/self/task")
    return tasks.is_dir() and len(os.listdir(tasks)) == 1


def leave_with_parent() -> None:
    """End this process soon after the one that started it, which may have been killed."""
    Thread(target=_leave_with, args=(os.getppid(),), daemon=True).start()


def _leave_with(parent: int) -> None:
    while os.getppid() == parent:
        sleep(0.5)
    os._exit(1)


_shared: tuple[Callable[[Any], Any], Sequence[Any]] | None = None


def shared_out(work: Callable[[_Given], _Made], given: Sequence[_Given]) -> Iterator[_Made]:
    """Yield what `work` makes of each of `given`, in order, by copies of this process where that is possible and there are two cores.

    What goes in is copied with the process, whatever it is; what comes out is sent back.
    """
    global _shared
    workers = os.cpu_count() or 1
    if workers == 1 or len(given) < 2 or not copies_possible():
        yield from map(work, given)
        return
    from concurrent.futures import ProcessPoolExecutor
    from multiprocessing import get_context

    _shared = (work, given)
    try:
        with ProcessPoolExecutor(min(workers, len(given)), get_context("fork"), leave_with_parent) as pool:
            yield from pool.map(_work_in_copy, range(len(given)))
    finally:
        _shared = None


def _work_in_copy(index: int) -> Any:
    assert _shared is not None
    work, given = _shared
    return work(given[index])
