"""What a front is held to: every limit of the checks, each of which a job may overwrite by its name."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Annotated, Any

from pydantic import Field, create_model

from facade.fields import Length, Model, Number, about
from facade.rules import Rule, rules


@dataclass(frozen=True)
class Limit:
    """A limit as it holds for a job: its value in its unit, and where it comes from, with the place where a job overwrites it."""

    name: str
    value: float
    unit: str
    source: str


def _field(limit: Rule) -> tuple[Any, Any]:
    kind: Any = Length if limit.unit == "mm" else Annotated[Number, Field(ge=0)]
    more = f", {limit.unit}" if limit.unit not in ("", "mm") else ""
    return kind | None, about(f"{limit.about}{more}", None)


if TYPE_CHECKING:

    class Limits(Model):
        """Limits that the job sets itself."""
else:
    Limits = create_model(
        "Limits",
        __base__=Model,
        __module__=__name__,
        __doc__="Limits that the job sets itself.",
        **{name: _field(limit) for name, limit in rules().items() if limit.limit},
    )


def limit_of(limits: Limits, name: str) -> Limit:
    """Return a limit: as the job sets it, or as the rules have it. Raises KeyError for a name that is no limit."""
    known = rules()[name]
    if not known.limit:
        raise KeyError(name)
    given = getattr(limits, name)
    if given is None:
        return Limit(name, known.value, known.unit, known.source)
    return Limit(name, float(given), known.unit, "said in the job")
