"""The controls of the page, read off the job's own fields: one list of parameters, whoever asks."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from facade.fields import Model
from facade.job import Job
from facade.job.model import Cap, Carving, Fade, FrontPlan, Land, Picture, StripPlan, WoodPlan
from facade.lengths import Unit, read_length
from facade.reliefs import KINDS
from facade.reliefs.catalogue import Parameter, common_parameters, parameter_of, parameters
from facade.wood import species_names

# What can be turned on the page, section by section; the rest of a job file stays as it is.
SECTIONS: dict[str, type[Model]] = {
    "front": FrontPlan,
    "strips": StripPlan,
    "wood": WoodPlan,
    "carving": Carving,
    "picture": Picture,
}
LISTS: dict[str, type[Model]] = {"lands": Land, "fades": Fade, "caps": Cap}


def controls() -> dict[str, Any]:
    """Return every control: of sections, of each kind of relief and what all layers have, of the tables of lists."""
    return {
        "sections": {name: _fields(model) for name, model in SECTIONS.items()},
        "lists": {name: _fields(model) for name, model in LISTS.items()},
        "kinds": {
            name: {"about": kind.summary, "example": kind.example, "fields": [_field(one) for one in parameters(kind)]}
            for name, kind in sorted(KINDS.items())
        },
        "layer": [_field(one) for one in common_parameters()],
    }


def _fields(model: type[Model]) -> list[dict[str, Any]]:
    found = [parameter_of(model, name) for name in model.model_fields]
    return [_field(one) for one in found if one is not None]


def _field(parameter: Parameter) -> dict[str, Any]:
    choices = tuple(species_names()) if parameter.name == "species" else parameter.choices
    default = parameter.default
    return {
        "name": parameter.name,
        "label": parameter.name.replace("_", " "),
        "about": parameter.about,
        "type": "one of" if choices else parameter.type,
        "length": parameter.unit == "mm",
        "low": parameter.low,
        "high": parameter.high,
        "choices": list(choices),
        "default": default if isinstance(default, str | int | float | bool) else None,
        "required": parameter.required,
        "parts": [_field(part) for part in parameter.parts],
    }


def plain(settings: Mapping[str, Any], unit: Unit) -> dict[str, Any]:
    """Return settings in which every length that stands as a text is a number in the job's unit, as the page shows it."""
    found: dict[str, Any] = {}
    for name, value in settings.items():
        model = Job.model_fields.get(name)
        found[name] = _plain(value, unit) if model is not None and name not in ("title", "unit") else value
    return found


def _plain(value: Any, unit: Unit) -> Any:
    if isinstance(value, Mapping):
        return {name: _plain(held, unit) for name, held in value.items()}
    if isinstance(value, list):
        return [_plain(held, unit) for held in value]
    if isinstance(value, str) and any(letter.isdigit() for letter in value):
        try:
            return round(read_length(value, unit) / unit.in_mm, 6)
        except ValueError:
            return value
    return value
