"""Untouched builds that must be proved: `python tests/planting.py --sound` (make sound).

Jobs of all kinds are built with everything: facets with lands in mm and in inches, and every preset as it is, packed, mirrored, with a
machine in the other unit, and with the words of ISO 6983. Whatever a proof says of one is a false alarm, or a fault of the writer.
"""

from __future__ import annotations

import re
import tempfile
import time
from collections import Counter
from collections.abc import Iterator
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass
from multiprocessing import get_context
from pathlib import Path
from typing import Any

import tomlkit

from facade.build import write
from facade.cnc.order import Order as CncOrder
from facade.cnc.order import Route
from facade.errors import JobError
from facade.front import Front, build_front
from facade.job import read_job
from facade.making import Output
from facade.paper import Order, usual_paper
from facade.presets import presets
from facade.proof import prove
from facade.proof.compared import Compared, Verdict

# Of fronts larger than this, mm2, whatever can be made of some strips is, unless they are as they are.
_LARGE = 2e6
_FACETS = """title = "Facets with lands"
unit = "{unit}"
front = {{ width = {width}, height = {height}, doors = 2 }}
strips = {{ count = 12 }}
wood = {{ species = "white ash", blank = {blank}, floor = {floor} }}
lands = [{{ centre = [{x}, {y}], size = [{x}, {x}], height = {land}, blend = {blend} }}]
layers = [{{ kind = "facets", size = {size} }}]
"""
_MM = {"width": 300, "height": 200, "blank": 20, "floor": 8, "x": 60, "y": 90, "land": 15, "blend": 30, "size": 60}
_INCH = {
    "width": 12,
    "height": 8,
    "blank": 0.75,
    "floor": 0.375,
    "x": 2.5,
    "y": 3.5,
    "land": 0.6,
    "blend": 1.25,
    "size": 2.5,
}
_OF_STRIPS = (Output.PAPER, Output.CNC_SIDE, Output.CNC_FACE)


@dataclass(frozen=True)
class Untouched:
    """A job that is built and proved: its name and text, files beside it, what is made of it, and what of that of some strips alone."""

    name: str
    text: str
    beside: dict[str, bytes]
    outputs: tuple[Output, ...] = tuple(Output)
    some: tuple[Output, ...] = ()

    def built(self, folder: Path) -> Path:
        """Return the folder of its build; raises JobError where the job cannot be."""
        for file, data in self.beside.items():
            (folder / file).write_bytes(data)
        job = folder / "job.toml"
        job.write_text(self.text, "utf-8")
        front = build_front(read_job(job))
        # No sheet knows of the machine: where that alone is another, those of one strip will do.
        alone = Output.SIDES not in self.outputs
        strips = (front.count,) if alone else self._strips(front, Output.PAPER)
        paper = Order(usual_paper(front), strips=strips, alone=alone)
        routes = {Output(f"cnc-{route.value}"): route for route in Route}
        others = [output for output in self.outputs if output not in routes]
        made = write(front, folder / "out", outputs=others, workers=None, order=paper)
        for output, route in routes.items():
            # One after the other: what was made before is kept.
            made = write(front, folder / "out", outputs=[output], cnc=CncOrder(route, self._strips(front, output)))
        return made.folder

    def _strips(self, front: Front, output: Output) -> tuple[int, ...] | None:
        """Return the strips of which an output is made, None for all."""
        large = front.layout.width * front.layout.height > _LARGE and bool(self.some)
        return some_strips(front) if output in self.some or (large and output in _OF_STRIPS) else None


def some_strips(front: Front) -> tuple[int, ...]:
    """Return the numbers of the outer strips of the front, of three on both sides of each joint between doors, and of every ninth."""
    ends = [place for door in front.layout.doors for place in (door.first_strip, door.last_strip)]
    near = {number for end in ends for number in range(end - 2, end + 3)}
    return tuple(sorted(number for number in near | set(range(5, front.count, 9)) if 1 <= number <= front.count))


def untouched_jobs(*, whole: bool = False) -> Iterator[Untouched]:
    """Yield jobs of all kinds: facets with lands and every preset as it is, with everything, and every preset otherwise.

    Packed strips are made for machines whole; mirrored, or for another machine, some strips are, and sheets are of those, unless `whole`.
    Where the machine alone is another, what it does not come into is left out, but for the sheets of a strip.
    """
    yield Untouched("facets with lands in mm", _FACETS.format(unit="mm", **_MM), {})
    yield Untouched("facets with lands in inches", _FACETS.format(unit="in", **_INCH), {})
    paper, some = ((), ()) if whole else ((Output.PAPER,), _OF_STRIPS)
    for name, preset in presets().items():
        job, beside = tomlkit.parse(preset.text), preset.beside()
        yield Untouched(f"{name}, as it is", preset.text, beside)
        carving = job["carving"]
        if not carving.get("packed"):
            text = _with_setting(preset.text, "carving", "packed", True)
            yield Untouched(f"{name}, packed", text, beside, some=paper)
        if carving.get("doors") != "mirrored" and _doors(job) > 1:
            text = _with_setting(preset.text, "carving", "doors", "mirrored")
            yield Untouched(f"{name}, mirrored", text, beside, some=some)
        unit = "mm" if job.get("unit") == "in" else "in"
        text = _with_setting(preset.text, "machine", "unit", unit)
        yield Untouched(f"{name}, machine in {unit}", text, beside, _OF_STRIPS, some)
        text = _with_setting(preset.text, "machine", "words", "iso6983")
        yield Untouched(f"{name}, iso6983", text, beside, _OF_STRIPS, some)


def _doors(job: Any) -> int:
    front = job["front"]
    return len(front["door_widths"]) if "door_widths" in front else int(front.get("doors", 1))


def _with_setting(text: str, table: str, key: str, value: object) -> str:
    """Return the text of a job file with another setting."""
    job: Any = tomlkit.parse(text)
    if table not in job:
        job[table] = tomlkit.table()
    job[table][key] = value
    return tomlkit.dumps(job)


@dataclass(frozen=True)
class Told:
    """What came of one job: the files that were proved and what is said of them, or why the job cannot be."""

    files: tuple[str, ...] = ()
    faults: tuple[str, ...] = ()
    cannot: str = ""
    seconds: float = 0.0


def told_of(one: Untouched) -> Told:
    """Build a job, prove it, and return what came of it."""
    began = time.perf_counter()
    with tempfile.TemporaryDirectory() as folder:
        try:
            proof = prove(one.built(Path(folder)))
        except JobError as error:
            return Told(cannot=str(error))
    faults = tuple(f"{found.name}: {fault}" for found in proof.compared for fault in _against(found))
    return Told(tuple(found.name for found in proof.compared), faults, seconds=time.perf_counter() - began)


def _against(found: Compared) -> tuple[str, ...]:
    """Return what a proof says against a file that nobody touched, or why it was not compared."""
    return found.faults if found.verdict is Verdict.FAILS else (found.words,) if found.skipped else ()


def sound(only: str, *, whole: bool = False) -> int:
    """Build the jobs whose names hold one of the words `only`, prove each, and print what was proved; return 1 where anything fails."""
    some = [one for one in untouched_jobs(whole=whole) if any(word in one.name for word in only.split(";"))]
    failed, proved, began = [], Counter[str](), time.perf_counter()
    # Each in a process of its own: what a job leaves in memory is given back.
    with ProcessPoolExecutor(1, get_context("spawn"), max_tasks_per_child=1) as alone:
        for one, told in zip(some, alone.map(told_of, some), strict=True):
            if told.cannot:
                print(f"cannot be     {one.name}: {told.cannot}", flush=True)
                continue
            failed += [one.name] if told.faults else []
            proved.update(map(_kind, told.files))
            verdict = "FALSE ALARM" if told.faults else "sound"
            print(f"{verdict:12} {told.seconds:5.1f} s  {one.name}: {len(told.files)} files", flush=True)
            print("".join(f"    {fault}\n" for fault in told.faults[:8]), end="", flush=True)
    print(f"Proved in {time.perf_counter() - began:.0f} s: {_listed(proved)}.")
    print(f"False alarms in {len(failed)} jobs: {'; '.join(failed)}." if failed else "No false alarm.")
    return 1 if failed else 0


def _listed(proved: Counter[str]) -> str:
    return ", ".join(f"{count} {kind}" for kind, count in sorted(proved.items()))


def _kind(name: str) -> str:
    """Return what kind of file a name is of: its folder and its ending."""
    folder, _, _ = name.rpartition("/")
    ending = re.sub(r".*\.", ".", name)
    return f"{folder}/*{ending}" if folder else name
