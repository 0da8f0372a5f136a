"""Words that several checks use: places on a strip, and lengths that are not short by rounding."""

from __future__ import annotations

from facade.lengths import Ruler


def place(ruler: Ruler, from_top: float, from_left: float) -> str:
    """Return a place on a strip in words."""
    return f"{ruler.text(from_top, 0)} from the top and {ruler.text(from_left, 0)} from its left edge"


def told_apart(ruler: Ruler, value: float, limit: float) -> tuple[str, str]:
    """Return two lengths in words, with more decimals where they would read the same."""
    short = ruler.text(value), ruler.text(limit)
    return short if short[0] != short[1] else (ruler.text(value, 3), ruler.text(limit, 3))


def at_least(ruler: Ruler, mm: float) -> str:
    """Return a length in words, rounded up to what a rule shows, so that a cure is never short by rounding."""
    return ruler.text(ruler.up(mm))
