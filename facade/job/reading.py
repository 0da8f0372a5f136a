"""Reading a job file: text in, a valid job out, or every mistake at once."""

from __future__ import annotations

import tomllib
from pathlib import Path
from typing import Any

from pydantic import ValidationError

from facade.errors import FileError, JobError, Mistake
from facade.job.guarding import LARGEST_JOB, refuse_large_text, refuse_overgrown, too_large
from facade.job.hanging import Mounting, Pull
from facade.job.lines import Place, key_lines, line_of
from facade.job.mistakes import field_name, mistakes_of, the_first
from facade.job.model import Fit, Job, Land
from facade.job.naming import refuse_name
from facade.job.slips import out_of_scale
from facade.job.toml_slips import slip_of
from facade.lengths import Ruler, Unit
from facade.reliefs import Combine, terms

_MOST_TERMS = 3000  # of a relief at one place


def read_job(path: str | Path) -> Job:
    """Return the job in a TOML file.

    Raises FileError when the file cannot be read, JobError with all mistakes when it is not a valid job.
    """
    path = Path(path)
    text = _text(path)
    settings = settings_of(text)
    job = make_job(settings, name=path.stem, folder=path.parent, lines=key_lines(text))
    job._text = text
    return job


def settings_of(text: str) -> dict[str, Any]:
    """Return the settings that the text of a job file holds; raises JobError for a text that is too long, too deep or no TOML."""
    refuse_large_text(text)
    try:
        return tomllib.loads(text)
    except tomllib.TOMLDecodeError as error:
        raise JobError([slip_of(text, error)]) from error
    except (ValueError, RecursionError) as error:
        raise JobError([Mistake("", "this is not a job: a number in it has too many digits")]) from error


def with_lines(error: JobError, job: Job) -> JobError:
    """Return an error that was found later, in layout say, with the lines of the job file that it speaks of."""
    lines = key_lines(job.text or "")
    found = [
        Mistake(one.field, one.sentence, one.line or line_of(tuple(one.field.split(".")), lines))
        for one in error.mistakes
    ]
    return JobError(found)


def make_job(
    settings: dict[str, Any], *, name: str = "job", folder: Path | None = None, lines: dict[Place, int] | None = None
) -> Job:
    """Return the job that `settings`, as read from TOML, describe; files it names are looked for in `folder`.

    Raises JobError with all mistakes.
    """
    lines = lines or {}
    unit = Unit.INCH if settings.get("unit") == Unit.INCH else Unit.MM
    refuse_name(name)
    refuse_overgrown(settings)
    try:
        # Layers that read one file share what was read.
        job = Job.model_validate(settings, context={"unit": unit, "folder": folder, "read": {}})
    except ValidationError as error:
        raise JobError(mistakes_of(error, Job, lines, Ruler(unit))) from error
    job._name = name
    mistakes = [Mistake(field_name(place), text, line_of(place, lines)) for place, text in _disagreements(job)]
    if mistakes:
        raise JobError(the_first(sorted(mistakes, key=lambda one: one.line or 0), len(mistakes)))
    return job


def _text(path: Path) -> str:
    try:
        if path.is_dir():
            raise FileError(f"{path} is a folder: name a job file")
        if path.exists() and not path.is_file():
            raise FileError(f"{path} is not a plain file: name a job file")
        if path.stat().st_size > LARGEST_JOB:
            raise FileError(f"{path} {too_large(path.stat().st_size)}")
        return path.read_bytes().decode("utf-8-sig")
    except FileNotFoundError as error:
        raise FileError(f"{path} is not there: write it with `facade start`, or check the name") from error
    except (UnicodeDecodeError, ValueError) as error:
        raise FileError(f"{path} is not a text in UTF-8: save it as one") from error
    except OSError as error:
        if isinstance(error, FileError):
            raise
        raise FileError(f"{path} cannot be read: {error.strerror}") from error


def agrees(job: Job) -> bool:
    """Return whether nothing in a job disagrees with anything else in it."""
    return not _disagreements(job)


def _disagreements(job: Job) -> list[tuple[Place, str]]:
    """Return what cannot be true together, each with its place."""
    show = job.ruler.text
    wood, front, carving = job.wood, job.front, job.carving
    found: list[tuple[Place, str]] = []
    if job.fraction not in (16, 32, 64, 128):
        found.append((("fraction",), f"`fraction` must be 16, 32, 64 or 128 (got {job.fraction}): 32 is usual"))
    if wood.floor >= job.highest:
        found.append(
            (
                ("wood", "floor"),
                f"`wood.floor` must be lower than the blank less the sanding allowance, {show(job.highest, 3)} "
                f"(got {show(wood.floor, 3)}): use a thicker blank or a lower floor",
            )
        )
    if job.as_built.blank is not None and job.as_built.blank <= wood.floor:
        found.append(
            (
                ("as_built", "blank"),
                f"`as_built.blank` must be more than the floor, {show(wood.floor, 3)} (got {show(job.as_built.blank, 3)}): blanks as thin "
                "as this hold nothing of the relief, mill others",
            )
        )
    if wood.sawing < wood.sanding:
        found.append(
            (
                ("wood", "sawing"),
                f"`wood.sawing` must be at least the sanding allowance, {show(wood.sanding, 3)} (got {show(wood.sawing, 3)}): "
                "the saw would cut below the carve line",
            )
        )
    if carving.fit is Fit.DEPTH and carving.depth is None:
        found.append((("carving", "fit"), '`carving.depth` is missing: the fit "depth" needs it'))
    if carving.depth is not None and carving.fit is not Fit.DEPTH:
        found.append((("carving", "depth"), '`carving.depth` counts only with fit = "depth": say so, or leave it out'))
    room = job.highest - wood.floor
    if carving.depth is not None and carving.depth > room + 1e-9 and room > 0:
        found.append(
            (
                ("carving", "depth"),
                f"`carving.depth` must be at most {show(room, 3)}, from the floor to the face less sanding "
                f"(got {show(carving.depth, 3)}): carve less deep, or use a thicker blank",
            )
        )
    if front.door_widths is not None and front.doors not in (1, len(front.door_widths)):
        found.append(
            (
                ("front", "doors"),
                f"`front.doors` must agree with `front.door_widths`, which lists {len(front.door_widths)} (got {front.doors}): "
                "leave one of them out",
            )
        )
    if front.hidden_joint and front.space is not None:
        found.append(
            (("front", "space"), "`front.space` and `front.hidden_joint` cannot both be given: leave one of them out")
        )
    found += _too_much_work(job)
    found += out_of_scale(job)
    found += _heights_too_high(job)
    found += _outside_the_front(job)
    found += _doors_that_are_not_there(job)
    doors = len(front.door_widths) if front.door_widths else front.doors
    for index, cap in enumerate(job.caps):
        if cap.door is not None and cap.door > doors:
            found.append(
                (
                    ("caps", index, "door"),
                    f"`caps[{index + 1}].door` must be at most {doors}, the number of doors (got {cap.door})",
                )
            )
    if job.layers[-1].combine is Combine.MASK:
        last = len(job.layers)
        found.append(
            (
                ("layers", last - 1, "combine"),
                f"`layers[{last}]` is a mask with no layer after it: add the layer that it lets through",
            )
        )
    return found


def _too_much_work(job: Job) -> list[tuple[Place, str]]:
    """Return what would keep a machine busy for hours: too many terms in the relief."""
    held = terms(job.layers)
    if held > _MOST_TERMS:
        return [
            (
                ("layers",),
                f"`layers` must hold at most {_MOST_TERMS} points, trains, rings and the like in all (they hold {held}): "
                'leave some out, or keep many heights in a file beside the job (kind = "grid")',
            )
        ]
    return []


def _heights_too_high(job: Job) -> list[tuple[Place, str]]:
    show = job.ruler.text
    found: list[tuple[Place, str]] = []
    named: list[tuple[str, int, float | None]] = [("lands", i, land.height) for i, land in enumerate(job.lands)]
    named += [("fades", i, fade.height) for i, fade in enumerate(job.fades)]
    named += [("caps", i, cap.height) for i, cap in enumerate(job.caps)]
    for kind, index, height in named:
        if height is not None and not job.wood.floor <= height <= job.highest + 1e-9:
            found.append(
                (
                    (kind, index, "height"),
                    f"`{kind}[{index + 1}].height` must be from the floor, {show(job.wood.floor, 3)}, to the blank less the sanding "
                    f"allowance, {show(job.highest, 3)} (got {show(height, 3)}): change it",
                )
            )
    return found


def _outside_the_front(job: Job) -> list[tuple[Place, str]]:
    """Return what does not lie wholly on the front: lands and pulls."""
    show = job.ruler.text
    found: list[tuple[Place, str]] = []
    named: list[tuple[str, int, Land | Pull]] = [("lands", i, land) for i, land in enumerate(job.lands)]
    named += [("pulls", i, pull) for i, pull in enumerate(job.pulls)]
    for kind, index, one in named:
        reach = ((one.size[0] / 2, job.front.width, "width"), (one.size[1] / 2, job.front.height, "height"))
        for centre, (half, side, word) in zip(one.centre, reach, strict=True):
            if centre - half < -1e-9 or centre + half > side + 1e-9:
                found.append(
                    (
                        (kind, index, "centre"),
                        f"`{kind}[{index + 1}]` must lie on the front, from 0 to its {word} of {show(side, 3)} "
                        f"(it runs from {show(centre - half, 3)} to {show(centre + half, 3)}): move it or make it smaller",
                    )
                )
    return found


def _doors_that_are_not_there(job: Job) -> list[tuple[Place, str]]:
    """Return where bare doors, hinge sides and the opening do not agree with the doors that there are."""
    doors = len(job.front.door_widths) if job.front.door_widths else job.front.doors
    found: list[tuple[Place, str]] = []
    numbers = [one.door for one in job.bare_doors]
    for index, number in enumerate(numbers):
        place, name = ("bare_doors", index, "door"), f"`bare_doors[{index + 1}].door`"
        if number > doors:
            found.append((place, f"{name} must be at most {doors}, the number of doors (got {number}): change it"))
        elif number in numbers[:index]:
            found.append(
                (place, f"{name} must be a door that is not listed yet (got {number}): leave one of the two out")
            )
    if job.hinges is not None and job.hinges.sides is not None and len(job.hinges.sides) != doors:
        found.append(
            (
                ("hinges", "sides"),
                f"`hinges.sides` must list as many sides as there are doors, {doors} (got {len(job.hinges.sides)}): "
                "give each door its own, or leave it out",
            )
        )
    if job.opening is not None and job.opening.mounting is Mounting.INSET and job.opening.overlap:
        found.append(
            (
                ("opening", "overlap"),
                '`opening.overlap` counts only with mounting = "overlay": say so, or leave it out',
            )
        )
    return found
