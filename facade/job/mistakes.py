"""Turning what validation found into sentences that a maker can act on."""

from __future__ import annotations

import difflib
import json
from collections.abc import Iterable
from typing import Any, cast, get_args

from pydantic import ValidationError
from pydantic.fields import FieldInfo

from facade.errors import Mistake, shortened
from facade.fields import LONGEST, LengthMark, Model
from facade.job.lines import Place, line_of
from facade.lengths import MM_PER_INCH, NOTHING, Ruler, Unit
from facade.reliefs import KINDS

MOST_SHOWN = 20

_LIMITS = {
    "greater_than_equal": ("at least", "ge"),
    "greater_than": ("more than", "gt"),
    "less_than_equal": ("at most", "le"),
    "less_than": ("less than", "lt"),
}


def mistakes_of(error: ValidationError, model: type[Model], lines: dict[Place, int], ruler: Ruler) -> list[Mistake]:
    """Return every mistake that validation found, in the order of the file."""
    details = [dict(one) for one in error.errors(include_url=False) if not _follows_from_another(dict(one))]
    where = [_walk(cast(Place, one["loc"]), model) for one in details]
    at = [
        line_of(place[:-1] if one["type"] == "missing" else place, lines)
        for one, (place, _, _) in zip(details, where, strict=True)
    ]
    # Only what is shown is put into words: a hostile file may hold tens of thousands.
    order = sorted(range(len(details)), key=lambda index: at[index] or 0)
    found = [
        Mistake(field_name(where[index][0]), _sentence(details[index], *where[index], ruler), at[index])
        for index in order[:MOST_SHOWN]
    ]
    return the_first(found, len(details))


def the_first(mistakes: list[Mistake], count: int) -> list[Mistake]:
    """Return the first of `count` mistakes, and how many more there are: nobody reads a thousand."""
    more = count - MOST_SHOWN
    if more <= 0:
        return mistakes
    few = f"`{mistakes[0].field}` and the others above are the first of {count} mistakes, and {more} more follow: mend these first"
    return [*mistakes[:MOST_SHOWN], Mistake("", few)]


def _follows_from_another(detail: dict[str, Any]) -> bool:
    """A list whose entries are wrong is also called too short; only the entries' own mistakes help."""
    return bool(detail["type"] == "too_short" and len(detail["input"]) >= detail["ctx"]["min_length"])


def field_name(place: Iterable[str | int]) -> str:
    """Return a place as a maker reads it, counting from 1: layers[2].length."""
    name = ""
    for part in place:
        name += f"[{part + 1}]" if isinstance(part, int) else f"{'.' if name else ''}{shortened(part)}"
    return name


def nearest(name: str, known: Iterable[str]) -> str:
    """Return a cure for a wrong name: the nearest known one, or all of them."""
    names = list(known)
    # No name of ours is nearly as long; comparing a very long one would take its time.
    close = difflib.get_close_matches(name[:80].lower(), names, n=1, cutoff=0.6)
    return f"did you mean `{close[0]}`?" if close else f"known here: {', '.join(names)}"


def _walk(loc: tuple[str | int, ...], model: type[Model]) -> tuple[Place, type[Model], FieldInfo | None]:
    """Follow a location through the models; the kinds that pydantic puts into it are no part of the file."""
    place: Place = ()
    owner, info = model, None
    choices: list[type[Model]] = []
    for part in loc:
        if isinstance(part, str) and choices and part in KINDS and not (place and place[-1] == "kind"):
            owner, choices, info = KINDS[part], [], None
            continue
        place = (*place, part)
        if isinstance(part, int):
            continue
        info = owner.model_fields.get(part)
        inner = _models_in(info.annotation) if info else []
        if len(inner) == 1:
            owner = inner[0]
        choices = inner if len(inner) > 1 else []
    return place, owner, info


def _models_in(annotation: Any) -> list[type[Model]]:
    if isinstance(annotation, type) and issubclass(annotation, Model):
        return [annotation]
    return [model for part in get_args(annotation) for model in _models_in(part)]


def _is_length(info: FieldInfo | None) -> bool:
    if info is None:
        return False
    parts = [*info.metadata, *_metadata(info.annotation)]
    return any(isinstance(part, LengthMark) for part in parts)


def _metadata(annotation: Any) -> list[Any]:
    here = list(getattr(annotation, "__metadata__", ()))
    return here + [mark for part in get_args(annotation) for mark in _metadata(part)]


def _as_written(value: object, length: bool, ruler: Ruler) -> str:
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, str):
        return json.dumps(shortened(value), ensure_ascii=False)
    if isinstance(value, int | float):
        if value != value:
            return "nan, which is no number"
        if abs(value) > 1e15:
            return "a huge number"
        if 0 < abs(value) < NOTHING:
            return "next to nothing"
        return f"{value:g} {ruler.unit.value}" if length else f"{value:g}"
    if isinstance(value, dict):
        return "a table"
    return "a list" if isinstance(value, list | tuple) else shortened(str(value))


def looks_like_mm(inches: float) -> str:
    """Return what a figure in a job in inches is in mm, and how it is written if mm are meant."""
    text = f"{inches:g}"
    return (
        f'{text} in is {inches * MM_PER_INCH:.6g} mm; {text} looks like millimetres: write unit = "mm", or "{text} mm"'
    )


def _larger(value: object, length: bool, ruler: Ruler) -> str:
    """Return the cure for a number that is too small."""
    plain = isinstance(value, int | float) and value > 0
    return f"write a larger one{', or check the unit' if length and plain and ruler.unit is Unit.MM else ''}"


def _smaller(value: object, length: bool, ruler: Ruler) -> str:
    """Return the cure for a number that is too large."""
    plain = isinstance(value, int | float) and 0 < value < LONGEST
    if length and plain and ruler.unit is Unit.INCH:
        return looks_like_mm(float(value))  # type: ignore[arg-type]
    return f"write a smaller one{', or check the unit' if length else ''}"


def _sentence(detail: dict[str, Any], place: Place, owner: type[Model], info: FieldInfo | None, ruler: Ruler) -> str:
    kind, value, context = detail["type"], detail["input"], detail.get("ctx", {})
    name = f"`{field_name(place)}`"
    length = _is_length(info)
    got = f"(got {_as_written(value, length, ruler)})"
    if kind == "extra_forbidden":
        return f"{name} is not a known name: {nearest(str(place[-1]), owner.model_fields)}"
    if kind == "missing":
        return f"{name} is missing: add it ({info.description})" if info else f"{name} is missing: add it"
    if kind in _LIMITS:
        words, key = _LIMITS[kind]
        cure = _larger(value, length, ruler) if key[0] == "g" else _smaller(value, length, ruler)
        limit = ruler.text(context[key], 3) if length else f"{context[key]:g}"
        return f"{name} must be {words} {limit} {got}: {cure}"
    if kind == "enum" or kind == "literal_error":
        choices = str(context["expected"]).replace("'", "").replace(" or ", ", ")
        return f"{name} must be one of {choices} {got}: {nearest(str(value), choices.split(', '))}"
    if kind in ("union_tag_invalid", "union_tag_not_found"):
        at = f"`{field_name((*place, 'kind'))}`"
        if kind == "union_tag_not_found":
            return f"{at} is missing: add one of {', '.join(sorted(KINDS))}"
        tag = str(context["tag"])
        return f'{at} must be a known kind of relief (got "{shortened(tag)}"): {nearest(tag, sorted(KINDS))}'
    if kind == "value_error":
        reason = str(context["error"])
        return f"{name} {reason} {got}" if reason.startswith("must") else f"{name}: {reason}"
    if kind == "finite_number":
        return f"{name} must be a finite number {got}: change it"
    if kind in ("too_short", "too_long"):
        size = context.get("min_length", context.get("max_length"))
        return f"{name} must hold at {'least' if kind == 'too_short' else 'most'} {size} (it holds {context['actual_length']})"
    if kind in ("string_too_short", "string_too_long"):
        size = context.get("min_length", context.get("max_length"))
        bound = f"at {'least' if kind == 'string_too_short' else 'most'} {size} letter{'s' if size != 1 else ''}"
        return f"{name} must be {bound} long (it is {len(value)})"
    wanted = {
        "float_type": "a number",
        "int_type": "a whole number",
        "int_from_float": "a whole number",
        "bool_type": "true or false",
        "bool_parsing": "true or false",
        "string_type": "a text in quotes",
        "model_type": "a table",
        "model_attributes_type": "a table",
        "tuple_type": "a list",
    }.get(kind)
    if kind == "tuple_type" and isinstance(value, dict):
        tables = ".".join(part for part in place if isinstance(part, str))
        return f"{name} must be a list of tables (got a table): write [[{tables}]], in double brackets, above each"
    if kind.startswith("model_") and isinstance(value, list | tuple) and value and isinstance(value[0], dict):
        table = ".".join(part for part in place if isinstance(part, str))
        return f"{name} must be one table (got a list): write [{table}], in single brackets, once"
    if wanted is None:
        return f"{name}: {detail['msg'].lower()} {got}"
    return f"{name} must be {wanted} {got}: change it"
