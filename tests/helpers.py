"""Small jobs and small questions that many tests share."""

from __future__ import annotations

import copy
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from facade.errors import JobError
from facade.front import Front, build_front
from facade.job import Job, make_job, read_job
from facade.job.changing import job_with
from facade.reliefs import KINDS, Canvas, Heights

FILE_KINDS = {"grid", "mesh"}
PLAIN_KINDS = sorted(set(KINDS) - FILE_KINDS)
CANVAS = Canvas(700.0, 600.0)

_SMALL: dict[str, Any] = {
    "title": "A small front",
    "front": {"width": 200, "height": 120},
    "strips": {"count": 8},
    "wood": {"species": "white ash", "blank": 20, "floor": 8},
    "layers": [{"kind": "hills", "size": 60}],
}


def a_job(**changes: Any) -> dict[str, Any]:
    """Return the settings of a small valid job; a table changes the table of that name, anything else replaces it."""
    settings = copy.deepcopy(_SMALL)
    for name, change in changes.items():
        if isinstance(change, dict):
            settings[name] = settings.get(name, {}) | change
        else:
            settings[name] = change
    return settings


def small_job(folder: Path | None = None, **changes: Any) -> Job:
    """Return a small job."""
    return make_job(a_job(**changes), folder=folder)


def small_front(folder: Path | None = None, **changes: Any) -> Front:
    """Return a small front."""
    return build_front(small_job(folder, **changes))


def as_built(front: Front, **state: Any) -> Front:
    """Return a front of which something came out otherwise than designed, lengths in mm."""
    return build_front(job_with(front.job, {f"as_built.{name}": value for name, value in state.items()}))


def layer_of(kind: str, **changes: Any) -> dict[str, Any]:
    """Return the settings of a layer of `kind` as its own example has them."""
    return {"kind": kind} | copy.deepcopy(KINDS[kind].example) | changes


def relief_of(kind: str, canvas: Canvas = CANVAS, **changes: Any) -> Heights:
    """Return the heights of a relief of `kind`."""
    return KINDS[kind].model_validate({"kind": kind} | changes).heights(canvas)


def at(heights: Heights, *places: tuple[float, float]) -> np.ndarray:
    """Return the heights at single places."""
    x, y = np.array(places, dtype=np.float64).T
    return np.broadcast_to(heights(x, y), x.shape)


def open_grid(width: float, height: float, columns: int = 31, rows: int = 23) -> tuple[np.ndarray, np.ndarray]:
    """Return places of a rectangle as an open grid, x of (1, columns) and y of (rows, 1)."""
    return np.linspace(0.0, width, columns)[None, :], np.linspace(0.0, height, rows)[:, None]


def refusal(settings: dict[str, Any], folder: Path | None = None) -> str:
    """Return what is said about a job that cannot be used, its building included."""
    with pytest.raises(JobError) as caught:
        build_front(make_job(settings, folder=folder))
    return str(caught.value)


def refusal_of_text(tmp_path: Path, text: str) -> JobError:
    """Return the error that reading a job file with this text gives."""
    path = tmp_path / "job.toml"
    path.write_text(text, encoding="utf-8")
    with pytest.raises(JobError) as caught:
        read_job(path)
    return caught.value
