"""The catalogue of reliefs: every kind with its parameters, limits and defaults, read off the models themselves."""

from __future__ import annotations

from dataclasses import dataclass
from enum import Enum
from typing import Any, get_args

from annotated_types import Ge, Gt, Le, Lt, MaxLen, MinLen
from pydantic.fields import FieldInfo
from pydantic_core import PydanticUndefined

from facade.fields import LengthMark, Model
from facade.reliefs.base import KINDS, Relief

_COMMON = frozenset(Relief.model_fields)


# Limits from here on only keep numbers finite; nobody needs to be told.
_ENDLESS = 1e5


@dataclass(frozen=True)
class Parameter:
    """One parameter of a relief; limits in mm where it is a length."""

    name: str
    about: str
    type: str
    unit: str
    low: float | None
    high: float | None
    choices: tuple[str, ...]
    default: Any
    required: bool
    parts: tuple[Parameter, ...] = ()

    @property
    def limits(self) -> str:
        """What may be said, in words."""
        unit = " mm" if self.unit else ""
        if self.choices:
            return ", ".join(self.choices)
        low = "" if self.low is None or abs(self.low) >= _ENDLESS else f"from {self.low:g}"
        high = "" if self.high is None or self.high >= _ENDLESS else f"to {self.high:g}"
        if unit and (low or high):
            low, high = (low, high + unit) if high else (low + unit, high)
        return " ".join(part for part in (self.type, low, high) if part)


def kinds() -> dict[str, type[Relief]]:
    """Return all kinds of relief by name, in the order of the alphabet."""
    return dict(sorted(KINDS.items()))


def parameters(model: type[Model]) -> tuple[Parameter, ...]:
    """Return the parameters of a kind of relief, without those that every layer has."""
    own = [name for name in model.model_fields if name not in _COMMON and name != "kind"]
    return tuple(_parameter(name, model.model_fields[name]) for name in own)


def common_parameters() -> tuple[Parameter, ...]:
    """Return the parameters that every layer has, whatever its kind."""
    return tuple(_parameter(name, info) for name, info in Relief.model_fields.items())


def parameter_of(model: type[Model], name: str) -> Parameter | None:
    """Return one field of any part of a job as a parameter, None where it has none of that name."""
    info = model.model_fields.get(name)
    return _parameter(name, info) if info else None


def part_of(model: type[Model], name: str) -> type[Model] | None:
    """Return the model of the tables that a field holds, None where it holds none."""
    info = model.model_fields.get(name)
    models = _models(info.annotation) if info else []
    return models[0] if models else None


def _parameter(name: str, info: FieldInfo) -> Parameter:
    marks = [*info.metadata, *_marks(info.annotation)]
    low, high = _limits(marks)
    choices = _choices(info.annotation)
    models = _models(info.annotation)
    length = any(isinstance(mark, LengthMark) for mark in marks)
    default = None if info.default is PydanticUndefined else info.default
    return Parameter(
        name=name,
        about=info.description or "",
        type=_type(info.annotation, choices, bool(models), length),
        unit="mm" if length else "",
        low=low,
        high=high,
        choices=choices,
        default=default.value if isinstance(default, Enum) else default,
        required=info.is_required(),
        parts=parameters(models[0]) if models else (),
    )


def _marks(annotation: Any) -> list[Any]:
    here = [part for mark in getattr(annotation, "__metadata__", ()) for part in _unfolded(mark)]
    return here + [mark for part in get_args(annotation) if not isinstance(part, str) for mark in _marks(part)]


def _unfolded(mark: Any) -> list[Any]:
    """Return the limits that a pydantic field inside an annotation holds, or the mark itself."""
    return list(mark.metadata) if isinstance(mark, FieldInfo) else [mark]


def _limits(marks: list[Any]) -> tuple[float | None, float | None]:
    """Return the tightest limits; lengths of lists are no limits of numbers."""
    numbers = [mark for mark in marks if not isinstance(mark, MinLen | MaxLen)]
    lows = [mark.ge if isinstance(mark, Ge) else mark.gt for mark in numbers if isinstance(mark, Ge | Gt)]
    highs = [mark.le if isinstance(mark, Le) else mark.lt for mark in numbers if isinstance(mark, Le | Lt)]
    return max(lows, default=None), min(highs, default=None)  # type: ignore[type-var,return-value]


def _choices(annotation: Any) -> tuple[str, ...]:
    if isinstance(annotation, type) and issubclass(annotation, Enum):
        return tuple(str(choice.value) for choice in annotation)
    return ()


def _models(annotation: Any) -> list[type[Model]]:
    if isinstance(annotation, type) and issubclass(annotation, Model):
        return [annotation]
    return [model for part in get_args(annotation) if not isinstance(part, str) for model in _models(part)]


def _type(annotation: Any, choices: tuple[str, ...], tables: bool, length: bool) -> str:
    if choices:
        return "one of"
    if tables:
        return "a list of tables"
    several = "a pair of " if "tuple" in str(annotation) else ""
    if length:
        return several + ("lengths" if several else "length")
    held = _bare_types(annotation)
    return "text" if str in held else "whole number" if int in held else "number"


def _bare_types(annotation: Any) -> set[type]:
    """Return the plain types in an annotation; words of a Literal are text."""
    if isinstance(annotation, type):
        return {annotation}
    return {
        kind for part in get_args(annotation) for kind in (_bare_types(part) if not isinstance(part, str) else {str})
    }
