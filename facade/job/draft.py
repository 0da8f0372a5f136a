"""A job file being changed: its own text with its comments, and each change said beside it."""

from __future__ import annotations

import copy
import json
import math
import tomllib
from collections.abc import Callable, Iterable, Mapping
from pathlib import Path
from typing import Any

import tomlkit
from tomlkit.items import AoT, Table

from facade.errors import JobError
from facade.job.model import Job
from facade.job.places import name_of
from facade.job.places import put as put_at
from facade.job.reading import make_job
from facade.lengths import MM_PER_INCH, Unit, inch_fraction, read_length

_PARTS = 256  # of an inch: what changed lengths are rounded to; in a job in mm it is a tenth
_MISSING = object()

Written = int | float | str
"""A length as a job file has it: a number in the job's unit, or a fraction of an inch as text."""


class Draft:
    """A job file that remembers comments and order, with what was changed in it.

    What was there before a change is always what the maker wrote, however often it is changed again.
    """

    def __init__(self, job: Job, folder: Path | None) -> None:
        """Start from a job that was read from a file; raises ValueError for one that was not."""
        if job.text is None:
            raise ValueError("only a job that was read from a file can be relaxed")
        self._job, self._text, self._folder = job, job.text, folder
        self._first = tomllib.loads(job.text)
        self._typed = tomlkit.parse(job.text)
        self._settings = copy.deepcopy(self._first)
        self._set: dict[tuple[str | int, ...], tuple[Any, str]] = {}
        self._edits: tuple[Callable[[Any], None], ...] = ()
        self._said: dict[str, str] = {}

    @property
    def changes(self) -> tuple[str, ...]:
        """What was changed, in words."""
        return tuple(self._said.values())

    def copy(self) -> Draft:
        """Return a draft that can be changed without changing this one."""
        other = copy.copy(self)
        other._settings, other._set, other._said = copy.deepcopy(self._settings), dict(self._set), dict(self._said)
        return other

    def key(self) -> str:
        """Return the settings as they stand, as one text: equal drafts give equal texts."""
        return json.dumps(self._settings, sort_keys=True, default=str)

    def job(self) -> Job:
        """Return the job as it stands; raises JobError. Layers that did not change are not read again."""
        settings = copy.deepcopy(self._settings)
        settings["layers"] = self._layers(settings["layers"])
        try:
            return make_job(settings, name=self._job.name, folder=self._folder)
        except JobError:
            # So that a mistake in a layer is told with the names that it has in the file.
            return make_job(copy.deepcopy(self._settings), name=self._job.name, folder=self._folder)

    def _layers(self, layers: list[dict[str, Any]]) -> list[Any]:
        """Return layers, those that are as the maker wrote them, but for their stretch, as they were read."""
        first = self._first["layers"]
        if len(layers) != len(first):
            return layers
        return [_layer(known, now, was) for known, now, was in zip(self._job.layers, layers, first, strict=True)]

    def text(self, head: str = "") -> str:
        """Return the job file, with lines of comment before it."""
        document = tomlkit.parse(self._text)
        for edit in self._edits:
            edit(document)
        for path, (value, left_out) in self._set.items():
            _write(document, path, value, self._was(path), left_out)
        return head + tomlkit.dumps(document)

    # Lengths.

    def written(self, mm: float, *, up: bool) -> Written:
        """Return a length as the job's unit has it, rounded to a tenth of a mm, or 1/256 in, up or down."""
        part = self.part
        steps = math.ceil(mm / part - 1e-6) if up else math.floor(mm / part + 1e-6)
        if self._job.unit is Unit.INCH:
            return f"{inch_fraction(steps / _PARTS, _PARTS)} in"
        return _plain(round(steps * part, 4))

    @property
    def part(self) -> float:
        """The least step between two lengths as they are written, mm."""
        return 0.1 if self._job.unit is Unit.MM else MM_PER_INCH / _PARTS

    def exact(self, mm: float) -> Written:
        """Return a length as the job's unit has it, not rounded but for the last digits."""
        return _plain(round(mm / self._job.unit.in_mm, 6))

    def mm(self, written: Written) -> float:
        """Return what is written, in mm."""
        return read_length(written, self._job.unit)

    def told(self, written: Written) -> str:
        """Return what is written in words, with the very same figures."""
        return written if isinstance(written, str) else f"{written:g} {self._job.unit.value}"

    def before(self, *path: str | int, otherwise: str) -> str:
        """Return a length in words as the maker wrote it, in the job's unit; `otherwise` where it was left out."""
        value = _at(self._first, path)
        if value is _MISSING:
            return otherwise
        unit = self._job.unit.value
        own = not isinstance(value, str) or value.endswith(f" {unit}")
        return self.told(value) if own else self._job.ruler.text(self.mm(value), 3)

    def now(self, *path: str | int) -> float | None:
        """Return the length at a place as it stands, mm; None where nothing is said."""
        value = _at(self._settings, path)
        return None if value is _MISSING else self.mm(value)

    # Changes.

    def say(self, key: str, change: str) -> None:
        """Note a change in words; of two that have one key the later holds."""
        self._said[key] = change

    def set(self, path: tuple[str | int, ...], value: Any, left_out: str) -> None:
        """Set the value at a place, beside it what the maker had there; `left_out` says what held where that was nothing."""
        put_at(self._settings, [(path, value)])
        self._set[path] = (value, left_out)

    def add(self, tables: str, values: dict[str, Any], why: str) -> None:
        """Add a table to a list of tables, with the reason as a comment above its keys."""
        self._settings.setdefault(tables, []).append(copy.deepcopy(values))
        self._edits = (*self._edits, lambda document: _add(document, tables, values, why))

    def put(self, point: Iterable[tuple[tuple[str | int, ...], Any]]) -> None:
        """Set values at any places, as `facade.options` varies them; comments beside them stay."""
        values = tuple(point)
        put_at(self._settings, values)
        self._edits = (*self._edits, lambda document: put_at(document, values))

    def _was(self, path: tuple[str | int, ...]) -> str | None:
        """Return how the maker wrote a value; None where there was none."""
        item = _at(self._typed, path)
        return None if item is _MISSING else item.as_string() if hasattr(item, "as_string") else str(item)


def with_as_built(job: Job, folder: Path | None, settings: Mapping[str, Any]) -> Job:
    """Return a job with other settings in its `as_built`, as they would be typed, and its text with them; itself where they hold.

    Raises JobError for settings that cannot be.
    """
    draft = Draft(job, folder)
    for name, value in settings.items():
        draft.set(("as_built", name), value, "")
    changed = draft.job()
    if changed.as_built == job.as_built:
        return job
    changed._text = draft.text().rstrip("\n") + "\n"
    return changed


def _plain(number: float) -> int | float:
    return int(number) if number == int(number) else number


def _layer(known: Any, now: dict[str, Any], was: dict[str, Any]) -> Any:
    """Return a layer as it was read where nothing changed, or nothing but its stretch; else its settings, to be read."""
    if now == was:
        return known
    if _but_stretch(now) == _but_stretch(was) and isinstance(now.get("stretch"), int | float):
        return known.model_copy(update={"stretch": float(now["stretch"])})
    return now


def _but_stretch(layer: dict[str, Any]) -> dict[str, Any]:
    return {key: value for key, value in layer.items() if key != "stretch"}


def _at(settings: Any, path: tuple[str | int, ...]) -> Any:
    """Return what is at a place, `_MISSING` where nothing is."""
    for part in path:
        try:
            # A document gives plain truth values; its items know how they were written.
            settings = settings.item(part) if isinstance(part, str) and hasattr(settings, "item") else settings[part]
        except (LookupError, TypeError):
            return _MISSING
    return settings


def _write(document: Any, path: tuple[str | int, ...], value: Any, was: str | None, left_out: str) -> None:
    """Set a value in a document, and say beside it what was there."""
    table = _at(document, path[:-1])
    known = _comment_at(table, path[-1])
    put_at(document, [(path, value)])
    said = f"was {was}" if was is not None else f"added; {left_out}" if left_out else "added"
    key = str(path[-1])
    for one in _tables(_at(document, path[:-1]), key):
        one.item(key).comment(f"{said}; {known}" if known else said)
        return
    # Within braces no comment can stand: it stands behind them.
    whole = document.item(path[0])
    if hasattr(whole, "trivia"):
        before = whole.trivia.comment.lstrip("# ")
        whole.comment("; ".join(filter(None, (f"{name_of(path)} {said}", before))))


def _tables(table: Any, key: str) -> list[Any]:
    """Return the table that holds a key with lines of its own; more than one part where a file has it in several places."""
    parts = [table] if isinstance(table, Table) else list(getattr(table, "_tables", ()))
    return [part for part in parts if key in part]


def _comment_at(table: Any, key: str | int) -> str:
    """Return the maker's comment behind a value."""
    return next((part.item(key).trivia.comment.lstrip("# ") for part in _tables(table, str(key))), "")


def _add(document: Any, tables: str, values: dict[str, Any], why: str) -> None:
    known = document.get(tables)
    if known is not None and not isinstance(known, AoT):
        known.append(values)
        return
    table = tomlkit.table()
    table.add(tomlkit.comment(f"added: {why}"))
    for key, value in values.items():
        table.add(key, value)
    if known is None:
        many = tomlkit.aot()
        many.append(table)
        document.append(tables, many)
    else:
        known.append(table)
