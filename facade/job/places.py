"""Places in a job's settings, their names as messages have them, and setting what they hold."""

from __future__ import annotations

from collections.abc import Iterable
from itertools import pairwise
from typing import Any

from facade.reliefs import KINDS
from facade.reliefs.base import Relief

Value = str | int | float
Path = tuple[str | int, ...]
Point = tuple[tuple[Path, Value], ...]
"""Values at places of a job's settings: one variant."""

_COMMON = frozenset(Relief.model_fields)


def name_of(path: Path) -> str:
    """Return a place as messages name it: layers[1].size; lists are counted from 1."""
    text = "".join(f"[{part + 1}]" if isinstance(part, int) else f".{part}" for part in path)
    return text.removeprefix(".")


def put(settings: Any, point: Iterable[tuple[Path, Any]]) -> None:
    """Set values at their places in settings, as read from TOML or in a document; tables that are missing are added."""
    for path, value in point:
        place = settings
        for part, following in pairwise(path):
            if isinstance(part, str) and part not in place:
                place[part] = [] if isinstance(following, int) else {}
            place = place[part]
        if path[-1] == "kind" and place.get("kind") != value:
            _other_kind(place, str(value))
        else:
            place[path[-1]] = value


def _other_kind(layer: Any, kind: str) -> None:
    """Make a layer one of another kind, with the settings of that kind's example; what every layer has stays."""
    for name in [name for name in layer if name not in _COMMON]:
        del layer[name]
    layer["kind"] = kind
    if kind in KINDS:
        layer.update(KINDS[kind].example)
