"""What every relief is: settings that give a pure function of places, and where the kinds are registered."""

from __future__ import annotations

from abc import abstractmethod
from collections.abc import Callable
from dataclasses import dataclass
from enum import StrEnum
from typing import Annotated, Any, ClassVar, TypeAlias

from pydantic import Field

from facade.arrays import Array
from facade.fields import Degrees, Model, Number, Place, about

Heights: TypeAlias = Callable[[Array, Array], Array]
"""A relief: `heights(x, y)` for any arrays that broadcast together, mm in, no unit out.

An open grid, x of shape (1, n) and y of shape (m, 1), is the quick form of a full one.
"""


@dataclass(frozen=True)
class Canvas:
    """The rectangle that a relief is made for, mm."""

    width: float
    height: float


class Combine(StrEnum):
    """How a layer joins what the layers before it have made."""

    ADD = "add"
    MULTIPLY = "multiply"
    HIGHER = "higher"
    LOWER = "lower"
    REPLACE = "replace"
    MASK = "mask"


class Mirror(StrEnum):
    """Which way a layer is turned over."""

    NONE = "none"
    LEFT_RIGHT = "left-right"
    UP_DOWN = "up-down"


class Relief(Model):
    """The settings of one layer of relief; each kind adds its own."""

    summary: ClassVar[str] = ""
    example: ClassVar[dict[str, Any]] = {}

    combine: Combine = about(
        "how it joins the layers before it: add, multiply, higher, lower, replace; "
        "a mask is not seen itself, the next layer joins only where the mask is high",
        Combine.ADD,
    )
    amount: Number = about("how strongly the layer counts; -1 turns hills into hollows", 1.0)
    stretch: Annotated[float, Field(strict=True, ge=0.1, le=100)] = about(
        "size of the pattern against its drawn size; 2 is twice as large", 1.0
    )
    turn: Degrees = about("degrees that the pattern is turned anticlockwise, about the middle of the front", 0.0)
    move: tuple[Place, Place] = about("how far the pattern is moved to the right and up", (0.0, 0.0))
    mirror: Mirror = about("none, left-right or up-down", Mirror.NONE)

    @abstractmethod
    def heights(self, canvas: Canvas) -> Heights:
        """Return the pure function of this relief, made ready for `canvas`."""

    @property
    def terms(self) -> int:
        """How many terms are added up at each place: a measure of the work."""
        return 1

    @abstractmethod
    def finest(self, canvas: Canvas) -> float:
        """Return about how short its shortest wave is as drawn, before it is stretched, mm; inf for none.

        Places an eighth of that apart hide no crest and no hollow between them. A bend that is sharper needs not count: it
        shows in the heights beside it.
        """

    def fingerprint(self) -> str:
        """Return what besides the settings decides the shape: the hash of a file read, or nothing."""
        return ""

    def files(self) -> dict[str, bytes]:
        """Return the files that were read, by their names in the job's folder."""
        return {}


KINDS: dict[str, type[Relief]] = {}


def relief_kind(kind: type[Relief]) -> type[Relief]:
    """Register a class of relief under the name that its `kind` field holds."""
    KINDS[kind.model_fields["kind"].default] = kind
    return kind
