"""Following cures: what a cure tells a maker to type is read from its sentence, typed into the job, and the job is checked again."""

from __future__ import annotations

import copy
import re
import tomllib
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from facade.checks import Finding, Weight, check_front, grouped
from facade.checks.asking import asking
from facade.errors import JobError
from facade.front import build_front
from facade.job import make_job

_VALUE = r'"[^"]*"|\[[^\[\]]*\]|\{[^{}]*\}|-?\d+(?:\.\d+)?|true|false'
_NAME = r"[a-z_]+(?:\[\d+\])?"
_SETTING = re.compile(rf"\b({_NAME}(?:\.{_NAME})*) = ({_VALUE})")
_TABLE = re.compile(rf"\[\[([a-z_]+)\]\] ((?:[a-z_]+ = (?:{_VALUE})(?:, )?)+)")
_STRETCH = re.compile(r"every layer ([\d.]+) times its stretch")
# What lies at one place of the front: its cure need not help elsewhere.
_LOCAL = ("lands", "pulls", "caps")


@dataclass(frozen=True)
class Way:
    """One way out that a cure names: its words, and what is to be changed in the job."""

    words: str
    settings: tuple[tuple[str, Any], ...]
    tables: tuple[tuple[str, dict[str, Any]], ...]
    stretch: float | None

    @property
    def typed(self) -> bool:
        """Whether anything is to be typed into the job."""
        return bool(self.settings or self.tables or self.stretch)

    @property
    def local(self) -> bool:
        """Whether it changes one place of the front only."""
        return bool(self.tables) or any(place.startswith(_LOCAL) for place, _ in self.settings)

    def follow(self, settings: dict[str, Any]) -> dict[str, Any]:
        """Return the settings of a job with what this way says."""
        changed = copy.deepcopy(settings)
        for place, value in self.settings:
            _put(changed, place, value)
        for name, table in self.tables:
            changed[name] = [*changed.get(name, ()), table]
        for layer in changed["layers"] if self.stretch else ():
            layer["stretch"] = layer.get("stretch", 1.0) * self.stretch
        return changed


def ways_of(cure: str) -> list[Way]:
    """Return the ways out that a cure's sentence names, those that change nothing in the job too."""
    return [_way(words) for words in re.split(r"; or |\. Or: |; (?=take |leave )", cure)]


def _way(words: str) -> Way:
    tables = tuple(
        (name, tomllib.loads("t = {" + rest.rstrip(", ") + "}")["t"]) for name, rest in _TABLE.findall(words)
    )
    rest = _TABLE.sub("", words)
    settings = tuple((place, tomllib.loads(f"v = {value}")["v"]) for place, value in _SETTING.findall(rest))
    stretch = _STRETCH.search(rest)
    return Way(words, settings, tables, float(stretch[1]) if stretch else None)


def _put(settings: dict[str, Any], place: str, value: Any) -> None:
    parts = re.findall(r"([a-z_]+)(?:\[(\d+)\])?", place)
    table: Any = settings
    for name, index in parts[:-1]:
        table = table.setdefault(name, {})
        table = table[int(index) - 1] if index else table
    name, index = parts[-1]
    if index:
        table[name][int(index) - 1] = value
    else:
        table[name] = value


def findings_of(settings: dict[str, Any], folder: Path | None = None) -> list[Finding]:
    """Return all findings of a job."""
    return check_front(build_front(make_job(copy.deepcopy(settings), folder=folder)))


def cures_that_do_not_cure(settings: dict[str, Any], folder: Path | None = None, *, only: str = "") -> list[str]:
    """Return, in words, every cure of a job's findings that names a change and does not clear its finding by it.

    The worst finding of each kind is what a maker reads: each of the ways that its cure names is followed on its own.
    `only` looks at one check.
    """
    found = findings_of(settings, folder)
    wrong = []
    for group in grouped(found):
        worst = group.worst
        for way in ways_of(worst.cure) if only in ("", worst.check) else ():
            if way.typed:
                reason = _what_remains(worst, way, settings, folder, found)
                wrong += (
                    [f"{worst.check} / {worst.topic}: {worst.sentence} CURE: {way.words} BUT: {reason}"]
                    if reason
                    else []
                )
    return wrong


def _what_remains(
    worst: Finding, way: Way, settings: dict[str, Any], folder: Path | None, before: list[Finding]
) -> str:
    """Return what is still wrong, or newly wrong, after a way was followed; "" where it cured."""
    try:
        with asking():
            after = findings_of(way.follow(settings), folder)
    except JobError as error:
        return f"that is no job: {error}"
    for one in after:
        # A cure for one place need not help at another.
        same_place = not way.local or (one.strip, one.door) == (worst.strip, worst.door)
        if _named(one) == _named(worst) and same_place and _as_heavy(one, worst):
            return f"still: {one.sentence}"
    stopped = {(one.check, one.topic) for one in before if one.stops}
    new = [one for one in after if one.stops and (one.check, one.topic) not in stopped]
    return f"now: {new[0].sentence}" if new else ""


def _named(one: Finding) -> tuple[str, str]:
    return one.check, one.topic or one.sentence[:25]


def _as_heavy(one: Finding, worst: Finding) -> bool:
    """Whether a finding still counts: what stopped may not come back as something to look at either."""
    return one.weight is not Weight.KNOW or worst.weight is Weight.KNOW


def followed(settings: dict[str, Any], cure: str, words: str = "") -> dict[str, Any]:
    """Return the settings of a job with the first way of a cure that is typed, and that has these words."""
    return next(way for way in ways_of(cure) if way.typed and words in way.words).follow(settings)
