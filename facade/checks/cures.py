"""Cures as the job file says them, so that they can be typed as they stand.

A cure is one way out or several, with "; or " between them. What belongs to one way is joined by "and". Whatever is to be
changed in the job is written by `setting` or `added`; the rest of a sentence is for the maker. `tests/following.py` reads these
sentences, does what they say, and holds that the finding is gone.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import Any

from facade.job import Fit, Job
from facade.lengths import Unit

_PLAIN = frozenset(
    {"hinges.opens", "hinges.bevel", "wood.moisture", "wood.rings", "board.density"}
)  # numbers, no lengths


def length(job: Job, mm: float) -> str:
    """Return a length as the job file has it, exact where it is no fraction: `9.2`, or `"3/8 in"` in a job in inches."""
    text = job.ruler.text(mm, 3)
    return text.removesuffix(" mm") if job.unit is Unit.MM else f'"{text}"'


def lengths(job: Job, mm: Iterable[float]) -> str:
    """Return several lengths as a list of the job file."""
    return f"[{', '.join(length(job, one) for one in mm)}]"


def setting(place: str, value: str) -> str:
    """Return a setting with its value: `wood.floor = 9.2`, `lands[1].blend = 20`; lists are counted from 1."""
    return f"{place} = {value}"


def typed(job: Job, settings: Mapping[str, Any]) -> str:
    """Return settings as the job file says them, joined by "and"; numbers are lengths in mm unless their place holds another kind."""
    return " and ".join(setting(place, value_typed(job, place, value)) for place, value in settings.items())


def value_typed(job: Job, place: str, value: Any) -> str:
    """Return a value as the job file has it; a number is a length in mm unless its place holds another kind."""
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, str):
        return f'"{value}"'
    if isinstance(value, tuple):
        return lengths(job, value)
    return f"{value:g}" if isinstance(value, int) or place in _PLAIN else length(job, value)


def added(tables: str, values: Mapping[str, str]) -> str:
    """Return a table that is added to a list of tables: `[[caps]] door = 1, edge = "left", width = 12, height = 14`."""
    return f"[[{tables}]] {', '.join(setting(key, value) for key, value in values.items())}"


def stretched(times: float) -> str:
    """Return how much longer the waves of all layers are to be made: both along and across."""
    return f"give every layer {times:g} times its stretch (layers.stretch)"


def carved_to(job: Job, depth: float) -> str:
    """Return how a relief is carved less deep, down from the face."""
    fit = "" if job.carving.fit is Fit.DEPTH else setting("carving.fit", '"depth"') + " and "
    return f"carve it less deep: {fit}{setting('carving.depth', length(job, depth))}"


def ways(*some: str) -> str:
    """Return ways out of a finding as one sentence; empty ones are left out."""
    text = "; or ".join(filter(None, some))
    return f"{text[:1].upper() if not text.startswith('[') else '['}{text[1:]}." if text else ""
