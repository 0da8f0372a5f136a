"""The kinds of value a job file may hold, and the frozen model that all its parts are made of."""

from __future__ import annotations

from collections.abc import Callable
from typing import Annotated, Any, TypeVar

from pydantic import BaseModel, BeforeValidator, ConfigDict, Field, ValidationInfo
from pydantic.fields import FieldInfo

from facade.lengths import Unit, read_length

LONGEST = 100_000.0  # mm; no front is longer than 100 m


class Model(BaseModel):
    """A frozen part of a job: unknown names are refused, values are validated once."""

    # Only what is asked for is built: a job in the end, not every part of it on its own before.
    model_config = ConfigDict(frozen=True, extra="forbid", allow_inf_nan=False, defer_build=True)


def _to_mm(value: object, info: ValidationInfo) -> float:
    unit = (info.context or {}).get("unit", Unit.MM)
    return read_length(value, unit)


_WRITTEN = r'^\s*[-+−]?\s*[0-9.][0-9./ -]*\s*([A-Za-z]{1,6}|["″])?\s*$'


class LengthMark:
    """Marks a float as a length, so that messages show its limits in the job's unit."""

    def __get_pydantic_json_schema__(self, core: Any, handler: Any) -> dict[str, Any]:
        handler(core)
        return {
            "anyOf": [{"type": "number"}, {"type": "string", "pattern": _WRITTEN}],
            "description": 'a length in the job\'s unit, or a text such as "18 mm" or "1 3/8 in"',
        }


_READ = BeforeValidator(_to_mm)
_LENGTH = LengthMark()

Place = Annotated[float, _READ, Field(ge=-LONGEST, le=LONGEST), _LENGTH]
"""A length of either sign, mm."""
Length = Annotated[float, _READ, Field(ge=0, le=LONGEST), _LENGTH]
"""A length of at least zero, mm."""
Size = Annotated[float, _READ, Field(gt=0, le=LONGEST), _LENGTH]
"""A length greater than zero, mm."""
Pattern = Annotated[float, _READ, Field(ge=2, le=LONGEST), _LENGTH]
"""The size of something that is carved again and again, mm; nothing finer than 2 mm can be."""
Point = tuple[Place, Place]
"""A place on the front, mm from its left and from its lower edge."""

Number = Annotated[float, Field(strict=True, ge=-1e6, le=1e6)]
Share = Annotated[float, Field(strict=True, ge=0, le=1)]
Degrees = Annotated[float, Field(strict=True, ge=-360, le=360)]
Seed = Annotated[int, Field(strict=True, ge=0, le=2**31 - 1)]


def whole_number(low: int, high: int) -> Any:
    """Return the type of a whole number from `low` to `high`."""
    return Annotated[int, Field(strict=True, ge=low, le=high)]


T = TypeVar("T")


def about(text: str, default: Any = ..., *, default_factory: Callable[[], Any] | None = None) -> Any:
    """Describe a field in plain words; without a default it must be given.

    Limits stand in the field's type: beside a type that has limits of its own they would not count.
    """
    info: FieldInfo = (
        Field(default_factory=default_factory, description=text)
        if default_factory
        else Field(default, description=text)
    )
    return info
