"""Pictures: the front as it will look, in its wood and its light, and what the checks found on it."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from facade.pictures.check import check_picture
    from facade.pictures.front import front_picture, pictured
    from facade.pictures.lights import light_words
    from facade.pictures.relaxed import relaxed_picture
    from facade.pictures.reliefs import relief_picture
    from facade.pictures.sheets import album

__all__ = ["album", "check_picture", "front_picture", "light_words", "pictured", "relaxed_picture", "relief_picture"]

# Who asks for one kind of picture need not wait for what the others import.
_HOMES = {
    "check_picture": "check",
    "front_picture": "front",
    "pictured": "front",
    "light_words": "lights",
    "relaxed_picture": "relaxed",
    "relief_picture": "reliefs",
    "album": "sheets",
}


def __getattr__(name: str) -> Any:
    if name not in _HOMES:
        raise AttributeError(f"module {__name__!r} has no attribute {name!r}")
    from importlib import import_module

    return getattr(import_module(f"{__name__}.{_HOMES[name]}"), name)
