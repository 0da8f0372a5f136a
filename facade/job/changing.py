"""A job with other settings, as it would be if they were typed into its file."""

from __future__ import annotations

import re
from collections.abc import Mapping
from typing import Any

from facade.job.model import Job

Settings = Mapping[str, Any]
"""Places of the job file with their values, lengths in mm: `{"front.space": 4.0, "lands[1].blend": 20.0}`."""

_PART = re.compile(r"([a-z_]+)(?:\[(\d+)\])?")


def job_with(job: Job, settings: Settings) -> Job:
    """Return a job with other settings, lists counted from 1; values are taken as they are, without being validated."""
    for place, value in settings.items():
        job = _put(job, _PART.findall(place), value)
    return job


def _put(table: Any, parts: list[tuple[str, str]], value: Any) -> Any:
    (name, index), rest = parts[0], parts[1:]
    if not index:
        return table.model_copy(update={name: _put(getattr(table, name), rest, value) if rest else value})
    some, at = list(getattr(table, name)), int(index) - 1
    some[at] = _put(some[at], rest, value) if rest else value
    return table.model_copy(update={name: tuple(some)})
