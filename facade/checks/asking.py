"""Asking a check without cures: while one cure is tried, or a design is looked for, no others are made."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from contextlib import contextmanager
from contextvars import ContextVar

_without: ContextVar[bool] = ContextVar("without_cures", default=False)


@contextmanager
def asking() -> Iterator[None]:
    """Within this, checks that are asked make no cures."""
    token = _without.set(True)
    try:
        yield
    finally:
        _without.reset(token)


def is_trying() -> bool:
    """Whether a cure is being tried: no others are made then."""
    return _without.get()


def if_told(cure: Callable[[], str]) -> str:
    """Return a cure; "" while another one is tried."""
    return "" if is_trying() else cure()
