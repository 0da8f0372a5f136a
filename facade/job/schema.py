"""The JSON Schema of a job file, so that editors can complete and check it."""

from __future__ import annotations

import json
from typing import Any

from facade.fields import Model
from facade.job.model import Job


def job_schema() -> dict[str, Any]:
    """Return the JSON Schema (draft 2020-12) of a job file."""
    _build_parts(Model)
    schema = Job.model_json_schema(mode="validation")
    return {"$schema": "https://json-schema.org/draft/2020-12/schema", "title": "A facade job", **schema}


def _build_parts(model: type[Model]) -> None:
    """Build every part of a job on its own, which a job does not need, and by which the schema writes defaults."""
    for part in model.__subclasses__():
        part.model_rebuild()
        _build_parts(part)


def job_schema_text() -> str:
    """Return the schema as text, ready to be written beside job files."""
    return json.dumps(job_schema(), indent=1, ensure_ascii=False) + "\n"
