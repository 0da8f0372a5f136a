"""An option becomes a job file; what was shown under which letter is kept beside the sheet."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

from facade.errors import FacadeError, FileError
from facade.front import build_front
from facade.job import Job
from facade.job.draft import Draft
from facade.job.places import Point, name_of
from facade.options.exploring import Options

NOTES = "options.json"
_MADE_BY = "facade"
_WANTED, _NAMED = {"letter", "mark", "values"}, {"place", "value"}


def notes_of(options: Options) -> bytes:
    """Return which letter means what, for a program to read and for `take`."""
    found: dict[str, Any] = {
        "made by": _MADE_BY,
        "job": options.job.name,
        "mark": options.options[0].shown.tried.mark,
        "options": [
            {
                "letter": option.letter,
                "mark": option.shown.tried.mark,
                "values": [
                    {"place": list(path), "field": name_of(path), "value": value} for path, value in option.point
                ],
                "cleared": not option.shown.tried.stops,
                "figures": vars(option.shown.tried.figures) | {"contrast": round(option.shown.contrast, 3)},
            }
            for option in options.options
        ],
    }
    return (json.dumps(found, indent=1, ensure_ascii=False) + "\n").encode("utf-8")


def take(job: Job, folder: Path | None, notes: Path, letter: str) -> tuple[str, str]:
    """Return the text of the job file of an option that was shown, and its mark.

    Raises FileError where no options were shown or the job has changed since, FacadeError for a letter that was not.
    """
    kept = _kept(notes)
    if kept.get("mark") != build_front(job).mark:
        raise FileError(
            f"{notes} was made from another state of this job: run facade options again, then take a letter"
        )
    found = next((one for one in kept["options"] if one["letter"] == letter.upper()), None)
    if found is None:
        letters = ", ".join(one["letter"] for one in kept["options"])
        raise FacadeError(f"`--take` must be one of {letters} (got {letter!r})")
    point: Point = tuple((tuple(one["place"]), one["value"]) for one in found["values"])
    draft = Draft(job, folder)
    draft.put(point)
    taken = build_front(draft.job())
    if taken.mark != found["mark"]:
        raise FileError(
            f"{notes} shows mark {found['mark']}, but this job gives {taken.mark}: run facade options again"
        )
    return draft.text(f"# Option {found['letter']} of {job.name}, mark {taken.mark}.\n"), taken.mark


def _kept(notes: Path) -> dict[str, Any]:
    try:
        kept: dict[str, Any] = json.loads(notes.read_text("utf-8"))
        assert kept["made by"] == _MADE_BY
        assert all(
            set(one) >= _WANTED and all(set(value) >= _NAMED for value in one["values"]) for one in kept["options"]
        )
    except FileNotFoundError as error:
        raise FileError(f"{notes} is not there: run facade options first, then take a letter") from error
    except (OSError, ValueError, KeyError, TypeError, AssertionError, RecursionError) as error:
        raise FileError(f"{notes} cannot be used: run facade options again") from error
    return kept
