"""Sharing work out over processes that are copies of this one, where that is possible."""

from __future__ import annotations

import os
import signal
import sys
import time
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from pathlib import Path
from threading import Thread, current_thread, main_thread
from types import FrameType
from typing import TYPE_CHECKING, Any, TypeVar, cast

from facade.errors import FacadeError

if TYPE_CHECKING:
    from concurrent.futures import ProcessPoolExecutor
    from multiprocessing.connection import Connection

_Given = TypeVar("_Given")
_Made = TypeVar("_Made")


def copies_possible() -> bool:
    """Whether this process can be copied: only while it has a single thread, and only where the system tells."""
    return _threads() == 1


def _threads() -> int:
    """Return how many threads the system counts in this process, those of libraries among them; 0 where it does not tell."""
    tasks = Path("/proc/self/task")
    return len(os.listdir(tasks)) if tasks.is_dir() else 0


# The system goes on counting a thread for a moment after it has ended, seconds at most.
_LINGERS = 1.0


def _wait_for_threads(most: int) -> None:
    """Wait until threads that have ended are no longer counted, so that this process can be copied again."""
    began = time.monotonic()
    while _threads() > most and time.monotonic() - began < _LINGERS:
        time.sleep(0.001)


# What ends a program from outside: Ctrl-C, a polite request to end, a terminal that closes.
ENDING = tuple(getattr(signal, name) for name in ("SIGINT", "SIGTERM", "SIGHUP", "SIGBREAK") if hasattr(signal, name))


class Ended(BaseException):
    """Somebody asked this process to end; `number` is the signal."""

    def __init__(self, number: int) -> None:
        super().__init__(number)
        self.number = number


_asked: int | None = None


@contextmanager
def ending_in_order() -> Iterator[None]:
    """End by raising Ended where this process is asked to end, so that what is under way is cleared up as by Ctrl-C."""
    global _asked
    if current_thread() is not main_thread():
        yield
        return
    usual = {signal.SIG_DFL, signal.default_int_handler}
    before = {number: handler for number in ENDING if (handler := signal.getsignal(number)) in usual}
    _asked = None
    for number in before:
        signal.signal(number, _end)
    told = sys.unraisablehook
    # What gets lost is heeded later, and nothing to be told.
    sys.unraisablehook = lambda lost: None if isinstance(lost.exc_value, Ended | KeyboardInterrupt) else told(lost)
    try:
        yield
    finally:
        sys.unraisablehook = told
        _asked = None
        for number, handler in before.items():
            signal.signal(number, handler)


def _end(number: int, frame: FrameType | None) -> None:
    global _asked
    _asked = number
    if number != signal.SIGINT:
        # Asked again, it is clearing up already.
        signal.signal(number, signal.SIG_IGN)
    heed()


def heed() -> None:
    """Raise what asks for an end where one was asked for: what is raised in the midst of an import or a clearing up gets lost."""
    if _asked is None or current_thread() is not main_thread():
        return
    raise KeyboardInterrupt if _asked == signal.SIGINT else Ended(_asked)


@contextmanager
def undisturbed() -> Iterator[None]:
    """Let a few steps that belong together run to their end; who asks for an end meanwhile is heard afterwards."""
    if current_thread() is not main_thread():
        yield
        return
    came: list[int] = []
    before = {number: signal.getsignal(number) for number in ENDING}
    for number, handler in before.items():
        if handler is not None:
            signal.signal(number, lambda number, frame: came.append(number))
    try:
        yield
    finally:
        for number, handler in before.items():
            if handler is not None:
                signal.signal(number, handler)
        for number in came[:1]:
            signal.raise_signal(number)


def leave_when_told(told: Connection) -> None:
    """End this process as soon as it is told, or the one that started it has ended, maybe killed; leave Ctrl-C to that one."""
    for number in ENDING:
        if callable(signal.getsignal(number)):
            signal.signal(number, signal.SIG_IGN if number == signal.SIGINT else signal.SIG_DFL)
    Thread(target=_leave_when_told, args=(told,), daemon=True).start()


def _leave_when_told(told: Connection) -> None:
    from multiprocessing import parent_process
    from multiprocessing.connection import wait

    parent = parent_process()
    wait([told] if parent is None else [told, parent.sentinel])
    os._exit(1)


def _nothing() -> None:
    pass


@contextmanager
def pool(
    workers: int, start: str, begin: Callable[..., object] = leave_when_told, given: tuple[object, ...] = ()
) -> Iterator[ProcessPoolExecutor]:
    """Give processes that share work, started as copies ("fork") or anew ("spawn"), each by `begin(told, *given)`.

    Where the block fails they are told to end at once. Raises FacadeError when one of them was ended from outside.
    """
    from concurrent.futures import ProcessPoolExecutor
    from concurrent.futures.process import BrokenProcessPool
    from multiprocessing import get_context

    context = get_context(start)
    told, tells = context.Pipe(duplex=False)
    threads = _threads()
    shared = ProcessPoolExecutor(workers, context, begin, (told, *given))
    try:
        with undisturbed():
            # The first work starts processes and a thread; one that was half started could not be waited for.
            shared.submit(_nothing)
        yield shared
    except BaseException as error:
        # Nobody takes the word out of the pipe, so that all of them hear it.
        tells.send("end")
        if isinstance(error, BrokenProcessPool):
            raise FacadeError(
                "a process that shared the work was ended by the system, which may have run out of memory: "
                "close other programs, then try again"
            ) from error
        raise
    finally:
        shared.shutdown(cancel_futures=True)
        told.close()
        tells.close()
        _wait_for_threads(threads)


_shared: tuple[Callable[[Any], Any], Sequence[Any]] | None = None


@contextmanager
def sharing(work: Callable[[_Given], _Made], given: Sequence[_Given]) -> Iterator[Iterator[_Made]]:
    """Give what `work` makes of each of `given`, in order, by copies of this process where that is possible and there are two cores.

    They begin at once, so that the caller may do something else before it takes what they have made. What goes in is copied with the
    process, whatever it is; what comes out is sent back.
    """
    global _shared
    workers = os.cpu_count() or 1
    if workers == 1 or len(given) < 2 or not copies_possible():
        yield map(work, given)
        return
    _shared = (work, given)
    try:
        with pool(min(workers, len(given)), "fork") as copies:
            yield copies.map(_work_in_copy, range(len(given)))
    finally:
        _shared = None


def shared_out(
    work: Callable[[_Given], _Made], given: Sequence[_Given], meanwhile: Callable[[], object] = _nothing
) -> Iterator[_Made]:
    """Yield what `work` makes of each of `given`, as `sharing` does; `meanwhile` is done here once that has begun."""
    with sharing(work, given) as made:
        meanwhile()
        yield from made


def by_a_copy(work: Callable[[_Given], _Made], given: _Given) -> _Made:
    """Return what `work` makes of `given`, by a copy of this process where that is possible.

    For libraries that leave threads behind: this process could not be copied any more, and had to do alone all that comes after.
    """
    global _shared
    if (os.cpu_count() or 1) == 1 or not copies_possible():
        return work(given)
    _shared = (work, [given])
    try:
        with pool(1, "fork") as copy:
            return cast(_Made, copy.submit(_work_in_copy, 0).result())
    finally:
        _shared = None


def _work_in_copy(index: int) -> Any:
    assert _shared is not None
    work, given = _shared
    return work(given[index])
