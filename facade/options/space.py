"""What is varied: places in a job's settings and the values that they may take, as a grid or as a sample of a space."""

from __future__ import annotations

import itertools
import math
import re
from collections.abc import Iterator, MutableMapping, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from facade.errors import FacadeError
from facade.fields import Model
from facade.job import Job
from facade.job.places import Path, Point, Value, name_of
from facade.lengths import MM_PER_INCH, Unit, read_length
from facade.reliefs import KINDS
from facade.reliefs.catalogue import Parameter, parameter_of, parameters, part_of

_PATH = re.compile(r"[A-Za-z_]+|\[\d+\]")
_RANGE = re.compile(r"\s*(.+?)\s*\.\.\s*(.+?)\s*")
# What is varied where nothing is said: lengths of a relief by these factors, directions by so many degrees, chance at will.
_SHORTER, _LONGER, _TURN, _CHANCES = 0.65, 1.5, 35.0, 999
_TURNING = ("direction", "wind")
_WHOLE, _WORDS = "whole number", ("text", "one of")


@dataclass(frozen=True)
class Axis:
    """A place in the settings and what it may hold: some values, or everything from `low` to `high`; lengths in mm."""

    path: Path
    values: tuple[Value, ...] = ()
    low: float = 0.0
    high: float = 0.0
    whole: bool = False
    length: bool = False

    def at(self, share: float, unit: Unit) -> Value:
        """Return the value at a share of 0 to 1, rounded as a maker would say it."""
        if self.values:
            return self.values[min(int(share * len(self.values)), len(self.values) - 1)]
        value = self.low + share * (self.high - self.low)
        if self.whole:
            return min(int(self.low + share * (self.high - self.low + 1)), int(self.high))
        if not self.length:
            return round(value, 2 if self.high - self.low < 10 else 0)
        part = 0.5 if unit is Unit.MM else MM_PER_INCH / 16
        return round(round(value / part) * part / unit.in_mm, 6)


def read_axis(text: str, settings: MutableMapping[str, Any], unit: Unit) -> Axis:
    """Return what "layers[1].size=120..300" or "strips.count=36,40,44" says; raises FacadeError for what says nothing."""
    name, equals, said = text.partition("=")
    path: Path = tuple(int(part[1:-1]) - 1 if part[0] == "[" else part for part in _PATH.findall(name))
    if not equals or not path or name_of(path) != name.strip():
        raise FacadeError(
            f"`--vary` must be a field and its values, such as layers[1].size=120..300 or strips.count=36,40,44 (got {text!r})"
        )
    known = _field(path, settings)
    length = known.unit == "mm"
    found = _RANGE.fullmatch(said)
    if found is None:
        return Axis(path, tuple(_value(one.strip(), known, unit, name) for one in said.split(",")), length=length)
    low, high = (_number(one, known, unit, name) for one in found.groups())
    if not low < high:
        raise FacadeError(f"`--vary {name}` must go from less to more (got {said}): write the smaller value first")
    return Axis(path, low=low, high=high, whole=known.type == _WHOLE, length=length)


def _field(path: Path, settings: MutableMapping[str, Any]) -> Parameter:
    """Return what is known of a place in the settings; raises FacadeError where a job has none such."""
    model: type[Model] | None = Job
    held: Any = settings
    for part in path[:-1]:
        if isinstance(part, int):
            held = held[part] if isinstance(held, list) and part < len(held) else None
            kind = held.get("kind") if isinstance(held, MutableMapping) else None
            # A layer's fields are those of its kind; tables within it have fields of their own.
            model = KINDS.get(str(kind), model) if len(path) > 1 and path[0] == "layers" and kind else model
        else:
            model = part_of(model, part) if model else None
            held = held.get(part) if isinstance(held, MutableMapping) else None
        if isinstance(part, int) and held is None:
            model = None
    found = parameter_of(model, str(path[-1])) if model else None
    if found is None or found.parts:
        raise FacadeError(
            f"`--vary {name_of(path)}` must be a field of this job that holds one value: `facade reliefs KIND` lists those of a relief"
        )
    return found


def _value(text: str, known: Parameter, unit: Unit, name: str) -> Value:
    if known.type in _WORDS:
        return text
    number = _number(text, known, unit, name)
    if known.unit:
        return round(number / unit.in_mm, 6)
    return int(number) if known.type == _WHOLE else number


def _number(text: str, known: Parameter, unit: Unit, name: str) -> float:
    """Return a number, a length in mm."""
    try:
        number = read_length(text, unit) if known.unit else float(text)
    except ValueError:
        number = math.nan
    if known.type in _WORDS or not math.isfinite(number) or (known.type == _WHOLE and number != int(number)):
        wanted = "some of its words, one after another with commas" if known.type in _WORDS else f"a {known.type}"
        raise FacadeError(f"`--vary {name}` must be {wanted} (got {text!r})")
    return number


def default_axes(job: Job, settings: MutableMapping[str, Any]) -> list[Axis]:
    """Return what is varied where nothing is said: chance, lengths and directions of every layer of the relief."""
    found: list[Axis] = []
    for index, layer in enumerate(settings.get("layers", [])):
        kind = KINDS[layer["kind"]]
        known = kind.model_fields
        if "seed" in known:
            found.append(Axis(("layers", index, "seed"), low=1, high=_CHANCES, whole=True))
        found += _axes_in(layer, parameters(kind), ("layers", index), job.unit)
    return found


def _axes_in(table: MutableMapping[str, Any], known: Sequence[Parameter], path: Path, unit: Unit) -> Iterator[Axis]:
    """Yield what of a layer's own numbers is varied, tables within it too."""
    for parameter in known:
        held = table.get(parameter.name)
        here = (*path, parameter.name)
        if isinstance(held, list) and parameter.parts:
            for index, part in enumerate(held):
                yield from _axes_in(part, parameter.parts, (*here, index), unit)
        elif parameter.type == "length" and held is not None and not parameter.parts:
            size = read_length(str(held), unit) if isinstance(held, str) else float(held) * unit.in_mm
            low, high = (_within(size * factor, parameter) for factor in (_SHORTER, _LONGER))
            if low < high:
                yield Axis(here, low=low, high=high, length=True)
        elif parameter.name in _TURNING:
            middle = float(held) if held is not None else float(parameter.default or 0.0)
            yield Axis(here, low=middle - _TURN, high=middle + _TURN)


def _within(size: float, parameter: Parameter) -> float:
    low = parameter.low if parameter.low is not None else -math.inf
    high = parameter.high if parameter.high is not None else math.inf
    return min(max(size, low * 1.01 if low > 0 else low), high)


def points(axes: Sequence[Axis], count: int, seed: int, unit: Unit) -> list[Point]:
    """Return the variants: all combinations where there are lists of values alone and no more than `count` of them, else a sample.

    The sample is a scrambled Sobol sequence (I. M. Sobol, 1967, in scipy): the same seed gives the same variants.
    """
    sizes = [len(axis.values) for axis in axes]
    if all(sizes) and math.prod(sizes) <= count:
        return [
            tuple((axis.path, value) for axis, value in zip(axes, values, strict=True))
            for values in itertools.product(*(axis.values for axis in axes))
        ]
    from scipy.stats import qmc

    sampler = qmc.Sobol(len(axes), scramble=True, rng=np.random.default_rng(seed))
    shares = sampler.random_base2(math.ceil(math.log2(max(count, 2))))[:count]
    found = [
        tuple((axis.path, axis.at(float(share), unit)) for axis, share in zip(axes, row, strict=True)) for row in shares
    ]
    return list(dict.fromkeys(found))
