"""A job file being changed: its own text with its comments, and each change said beside it."""

from __future__ import annotations

import copy
import math
from collections.abc import Iterable
from pathlib import Path
from typing import Any

import tomlkit
from tomlkit.items import AoT, Table

from facade.job.model import Job
from facade.job.reading import make_job
from facade.lengths import MM_PER_INCH, Unit

_COARSEST = 2.0  # mm; heights are taken no finer than this while looking for a change


class Draft:
    """The text of a job file as a document that remembers comments and order, with what was changed in it."""

    def __init__(self, job: Job, folder: Path | None) -> None:
        """Start from a job that was read from a file; raises ValueError for one that was not."""
        if job.text is None:
            raise ValueError("only a job that was read from a file can be relaxed")
        self._name, self._folder, self._unit = job.name, folder, job.unit
        self._document = tomlkit.parse(job.text)
        self.changes: tuple[str, ...] = ()

    def copy(self) -> Draft:
        """Return a draft that can be changed without changing this one."""
        other = copy.copy(self)
        other._document = copy.deepcopy(self._document)
        return other

    def job(self, *, coarse: bool = False) -> Job:
        """Return the job as it stands, with heights taken coarsely where that will do; raises JobError."""
        settings = self._document.unwrap()
        if coarse:
            sampling = settings.setdefault("sampling", {})
            step = make_job(self._document.unwrap(), name=self._name, folder=self._folder).sampling.step
            sampling["step"] = f"{max(step, _COARSEST)} mm"
        return make_job(settings, name=self._name, folder=self._folder)

    def text(self, head: str = "") -> str:
        """Return the job file, with lines of comment before it."""
        return head + tomlkit.dumps(self._document)

    def written(self, mm: float, *, up: bool) -> float:
        """Return a length as the job's unit has it, rounded to a tenth of a mm, or 1/256 in, up or down."""
        part = 0.1 if self._unit is Unit.MM else MM_PER_INCH / 256
        steps = math.ceil(mm / part - 1e-9) if up else math.floor(mm / part + 1e-9)
        return round(steps * part, 4) if self._unit is Unit.MM else steps / 256

    def exact(self, mm: float) -> float:
        """Return a length as the job's unit has it, not rounded but for the last digits."""
        return round(mm / self._unit.in_mm, 6)

    def say(self, change: str) -> None:
        """Note a change in words."""
        self.changes = (*self.changes, change)

    def set(self, table: str, key: str, value: Any, was: str) -> None:
        """Set a key of a table, with what it was as a comment."""
        if table not in self._document:
            self._document[table] = tomlkit.table()
        self._put(self._document[table], key, value, was)

    def set_in(self, tables: str, index: int, key: str, value: Any, was: str) -> None:
        """Set a key of one of a list of tables."""
        self._put(self._document[tables][index], key, value, was)

    def add(self, tables: str, values: dict[str, Any], why: str) -> None:
        """Add a table to a list of tables, with the reason as a comment above its keys."""
        known = self._document.get(tables)
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
            self._document.append(tables, many)
        else:
            known.append(table)

    def put(self, point: Iterable[tuple[tuple[str | int, ...], Any]]) -> None:
        """Set values at any places, as `facade.options` varies them; comments beside them stay."""
        from facade.job.places import put

        put(self._document, point)

    def _put(self, table: Any, key: str, value: Any, was: str) -> None:
        # A table that is written in two places of the file is a stand-in, and takes no comments.
        plain: Any = table if isinstance(table, Table) else None
        known = plain.item(key).trivia.comment.lstrip("# ") if plain is not None and key in plain else ""
        table[key] = value
        if plain is not None:
            said = f"was {was}" if was else "added"
            plain.item(key).comment(f"{said}; {known}" if known and not known.startswith(("was ", "added")) else said)
