"""What the page asks for, worked out: fronts from settings, findings, one strip, job files read and written, builds."""

from __future__ import annotations

import io
import json
import re
import secrets
import threading
import time
import zipfile
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np
import tomlkit

from facade.checks import check_front
from facade.errors import FacadeError, FileError, JobError, Mistake, shortened
from facade.files import files_in, hash_of, leads_elsewhere, put_over
from facade.front import Front, build_front
from facade.job import make_job, read_job, settings_of
from facade.job.naming import refuse_name
from facade.lengths import Unit
from facade.presets import preset as preset_of
from facade.presets import presets
from facade.screen import verdict
from facade.slicer import edge_heights, stations
from facade.web.fields import plain
from facade.web.keeping import Fronts, give_back

_NAME = re.compile(r"[A-Za-z0-9][A-Za-z0-9 _.-]{0,79}\.toml")


@dataclass
class Build:
    """A build that runs beside the page: how far it is, and how it ended."""

    name: str
    done: int = 0
    total: int = 0
    folder: Path | None = None
    failed: str = ""
    waits: str = ""
    kept: tuple[tuple[str, str], ...] = ()
    cleared: bool = True

    def as_data(self) -> dict[str, Any]:
        """Return it for the page."""
        ended = bool(self.failed) or self.folder is not None
        return {
            "done": self.done,
            "total": self.total,
            "ended": ended,
            "failed": self.failed,
            "waits": self.waits,
            "kept": [f"{name} was saved meanwhile: it is kept as {now}." for name, now in self.kept],
            "cleared": self.cleared,
            "folder": str(self.folder.name) if self.folder else "",
        }


class Shop:
    """All that the page may reach: one folder, its job files, and the presets."""

    def __init__(self, folder: Path, first: Path | None) -> None:
        self.folder = folder.resolve()
        self.first = first
        self._fronts = Fronts()
        self._builds: dict[str, Build] = {}
        self._running: list[threading.Thread] = []
        self._stopped = threading.Event()

    # Job files

    def listed(self) -> dict[str, list[str]]:
        """Return the names of the job files in the folder, and of the presets."""
        return {
            "files": sorted(path.name for path in self.folder.glob("*.toml")),
            "presets": [name for name, one in presets().items() if not one.beside()],
        }

    def opened(self, name: str | None, preset: str | None) -> dict[str, Any]:
        """Return a job file's text, settings and hash; raises FileError or JobError."""
        if preset is not None:
            return self._loaded(preset_of(preset).text, f"{preset}.toml", "")
        path = self._path(name or "")
        job = read_job(path)
        return self._loaded(job.text or "", path.name, hash_of(path))

    def start(self) -> dict[str, Any]:
        """Return what the page begins with: the job it was opened with, or a preset."""
        if self.first is not None:
            return self.opened(self.first.name, None)
        return self.opened(None, "hall-cabinet")

    def _loaded(self, text: str, name: str, hashed: str) -> dict[str, Any]:
        settings = settings_of(text)
        unit = Unit.INCH if settings.get("unit") == Unit.INCH else Unit.MM
        return {"name": name, "text": text, "settings": plain(settings, unit), "hash": hashed}

    def saved(self, name: str, text: str, settings: Mapping[str, Any], known: str, *, over: bool) -> dict[str, Any]:
        """Write settings as a job file, over the text that they came from; raises FileError where the file there is not the one known."""
        path = self._path(name)
        self.front(settings)
        written = text_of(text, settings)
        put_over(path, written.encode("utf-8"), None if over else known)
        job = read_job(path)
        return {"name": path.name, "hash": hash_of(path), "text": written, "mark": build_front(job).mark}

    def _path(self, name: str) -> Path:
        """Return a job file's place in the folder; raises FileError for a name that leads out of it."""
        path = self.folder / name
        if not _NAME.fullmatch(name) or path.is_symlink() or path.resolve().parent != self.folder:
            raise FileError(f"the name must be plain, such as my-doors.toml, without folders (got {shortened(name)!r})")
        refuse_name(path.stem)
        return path

    # Fronts

    def front(self, settings: Mapping[str, Any]) -> Front:
        """Return the front of settings; raises JobError, for files outside the folder too."""
        key = _key(settings)
        kept = self._fronts.get(key)
        if kept is not None:
            return kept
        self._refuse_outside(settings)
        front = build_front(make_job(dict(settings), name="page", folder=self.folder))
        self._fronts.keep(key, front)
        return front

    def _refuse_outside(self, settings: Mapping[str, Any]) -> None:
        layers = settings.get("layers", [])
        for index, layer in enumerate(layers if isinstance(layers, list) else []):
            name = layer.get("file") if isinstance(layer, Mapping) else None
            if isinstance(name, str) and self._leads_out(name):
                place = f"layers[{index + 1}].file"
                said = f"`{place}` must be in the folder of the page, {self.folder.name} (got {shortened(name)!r}): move it there"
                raise JobError([Mistake(place, said)])

    def _leads_out(self, name: str) -> bool:
        try:
            return not (self.folder / name).resolve().is_relative_to(self.folder)
        except (OSError, RuntimeError, ValueError):
            return False  # no file can have this name, as reading the job says in its own words

    def findings(self, settings: Mapping[str, Any]) -> dict[str, Any]:
        """Return what the checks find, as the command does, and the numbers of the front."""
        front = self.front(settings)
        findings = check_front(front)
        measures, layout = front.measures(), front.layout
        ruler, first = front.job.ruler, layout.strips[0]
        wood = front.job.blank * sum(one.width * one.length for one in measures)
        thinnest = min(measures, key=lambda one: one.thinnest.height)
        gap = layout.strips[1].left - first.right if len(layout.strips) > 1 else 0.0
        # It holds its strips and their measures now.
        self._fronts.keep(_key(settings), front)
        return {
            "mark": front.mark,
            "verdict": verdict(findings),
            "findings": [finding.as_data() for finding in findings],
            "numbers": {
                "strips": f"{len(layout.strips)} of {ruler.text(first.width, 3)} by {ruler.text(first.length)}",
                "gap": ruler.text(gap, 3),
                "thinnest": f"{ruler.fine(thinnest.thinnest.height)} on strip {thinnest.number}",
                "steepest": f"{max(one.grain.steepest.degrees for one in measures):.0f} degrees along the grain",
                "carved away": f"{1.0 - sum(one.solid.volume for one in measures) / wood:.0%} of the blanks",
            },
        }

    def strip(self, settings: Mapping[str, Any], number: int) -> dict[str, Any]:
        """Return one strip: its sizes, both edge lines, and its table of offsets."""
        front = self.front(settings)
        place, show = front.layout.strip(number), front.job.ruler.text
        marks = stations(place.length, front.job.station)
        left, right = edge_heights(front.surface, place, marks)
        along = np.linspace(0.0, place.length, 161)
        line_left, line_right = edge_heights(front.surface, place, along)
        measures = front.measures_of(number)
        return {
            "number": number,
            "door": place.door,
            "size": f"{show(place.width, 3)} by {show(front.job.blank, 3)} by {show(place.length)}",
            "thinnest": f"{front.job.ruler.fine(measures.thinnest.height)}, {show(measures.thinnest.from_top)} from TOP",
            "blank": front.job.blank,
            "floor": front.surface.floor,
            "length": place.length,
            "from_top": along.tolist(),
            "left": line_left.tolist(),
            "right": line_right.tolist(),
            "offsets": [
                [show(mark), front.job.ruler.text(one, 1), front.job.ruler.text(other, 1)]
                for mark, one, other in zip(marks.tolist(), left.tolist(), right.tolist(), strict=True)
            ],
        }

    # Builds

    def build(self, name: str, settings: Mapping[str, Any], text: str) -> str:
        """Start a build of settings and return its number; raises JobError for what cannot be built."""
        path = self._path(name)
        self._refuse_outside(settings)
        job = make_job(dict(settings), name=path.stem, folder=self.folder)
        job._text = text_of(text, settings)
        out = self.folder / "out"
        if any(leads_elsewhere(one) or not one.resolve().is_relative_to(self.folder) for one in (out, out / path.stem)):
            raise FileError(
                f"`out` in the folder of the page must be a folder of its own, and what it holds too (got a link): move {out.name} away"
            )
        front = build_front(job)
        number, build = secrets.token_hex(8), Build(path.stem)
        self._builds[number] = build
        running = threading.Thread(target=self._run, args=(front, build), daemon=True)
        self._running = [*(one for one in self._running if one.is_alive()), running]
        running.start()
        return number

    def _run(self, front: Front, build: Build) -> None:
        from facade.build import write

        def progress(done: int, total: int) -> None:
            if self._stopped.is_set():
                raise FacadeError("the program was stopped")
            build.done, build.total, build.waits = done, total, ""

        def waiting(words: str) -> None:
            build.waits = words

        try:
            made = write(front, self.folder / "out", progress=progress, waiting=waiting)
            build.cleared = not any(finding.stops for finding in made.findings)
            build.kept = made.kept
            build.folder = made.folder
        except (FacadeError, OSError, MemoryError) as error:
            build.failed = str(error) or "there was not enough memory for this build"
        finally:
            give_back()

    def stop(self, seconds: float = 30.0) -> None:
        """Let builds that are under way clear up what they have begun, and wait for that so long at most."""
        self._stopped.set()
        end = time.monotonic() + seconds
        for running in self._running:
            running.join(max(0.0, end - time.monotonic()))

    def progress(self, number: str) -> dict[str, Any]:
        """Return how far a build is; raises FileError for a number that is none."""
        return self._build(number).as_data()

    def pack(self, number: str) -> bytes:
        """Return all files of a build that has ended, as a zip."""
        build = self._build(number)
        if build.folder is None:
            raise FileError("this build has not ended: wait until it has")
        buffer = io.BytesIO()
        with zipfile.ZipFile(buffer, "w", zipfile.ZIP_DEFLATED, compresslevel=1) as archive:
            for path in files_in(build.folder):
                archive.write(path, f"{build.folder.name}/{path.relative_to(build.folder).as_posix()}")
        return buffer.getvalue()

    def _build(self, number: str) -> Build:
        if number not in self._builds:
            raise FileError("this build is not known: the program was started anew since; build again")
        return self._builds[number]


def _key(settings: Mapping[str, Any]) -> str:
    return json.dumps(settings, sort_keys=True, default=str)


def text_of(text: str, settings: Mapping[str, Any]) -> str:
    """Return a job file's text with what differs in settings set in it; comments and order of the rest stay."""
    known = settings_of(text)
    document = tomlkit.parse(text)
    unit = Unit.INCH if known.get("unit") == Unit.INCH else Unit.MM
    try:
        _merge(document, settings, plain(known, unit))
        written = tomlkit.dumps(document)
    except (TypeError, ValueError, KeyError, IndexError, AttributeError, RecursionError) as error:
        raise FileError(
            "these settings cannot be set in this text: open the job file again, and change it anew"
        ) from error
    settings_of(written)
    return written


def _merge(table: Any, wanted: Mapping[str, Any], known: Mapping[str, Any]) -> None:
    for name in [name for name in table if name not in wanted]:
        del table[name]
    for name, value in wanted.items():
        before = known.get(name)
        if value == before:
            continue
        if isinstance(value, Mapping) and isinstance(before, Mapping):
            _merge(table[name], value, before)
        elif isinstance(before, list) and _alike(value, before):
            for index, (one, other) in enumerate(zip(value, before, strict=True)):
                _merge(table[name][index], one, other)
        else:
            table[name] = value


def _alike(value: Any, before: list[Any]) -> bool:
    """Whether a value is a list of as many tables as there were before."""
    lists = isinstance(value, list) and len(value) == len(before)
    return lists and all(isinstance(one, Mapping) for one in (*value, *before)) and bool(value)
