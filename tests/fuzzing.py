"""Job files made wrong on purpose, at any size: `python tests/fuzzing.py --cases 2000 --seed 1`.

Every field of a job, as the models have it, gets what it should not: another type, no number, endless, 0, negative, huge, next to
nothing, its limits and what lies just beyond, long texts, texts that steer a terminal. What comes of it is either a job that is built and
checked without a warning, or a refusal in printable sentences that name a field: never a traceback, a warning, a hang or a full memory.
"""

from __future__ import annotations

import argparse
import copy
import json
import math
import os
import random
import resource
import signal
import sys
import tempfile
import time
import traceback
import warnings
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import Any, get_args

# As every command says before it imports numpy: threads that wait on each other would be counted as a case's own time.
os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")

import numpy as np
import tomlkit
from PIL import Image

from facade.build import write
from facade.checks import check_front
from facade.errors import FacadeError, JobError, visible
from facade.fields import Model
from facade.front import Front, build_front
from facade.job import Job, make_job, read_job
from facade.making import Output
from facade.reliefs import KINDS
from facade.reliefs.catalogue import parameter_of

MOST_SECONDS = 30.0  # of the processor for one case; most take a tenth of a second
LARGEST_CHECKED = 3e6  # mm2; of a larger front, which takes a second a square metre, one strip is looked at
MOST_MEMORY = 3 * 1024**3  # bytes of address space beyond which a case ends in MemoryError
LONGEST_SENTENCE = 1000
_FINDINGS_TOLD = ("sentence", "cure", "caution")

Place = tuple[str | int, ...]
Change = tuple[Place, Any]
TAKE_OUT = object()
_NUMBERS = ("number", "whole number", "length")


class TookTooLong(BaseException):
    """A case that did not end in time; no `except Exception` on the way may swallow it."""


@dataclass(frozen=True)
class Failure:
    """A case that went wrong: its number, what was changed, and what came of it."""

    case: int
    changes: tuple[Change, ...]
    reason: str

    def __str__(self) -> str:
        changed = "; ".join(f"{_name(place)} = {_short(value)}" for place, value in self.changes)
        return f"case {self.case}: {changed}\n    {self.reason}"


def _name(place: Place) -> str:
    return ".".join(map(str, place))


def _short(value: Any) -> str:
    text = "(taken out)" if value is TAKE_OUT else ascii(value)
    return text if len(text) <= 80 else f"{text[:60]}... ({len(text)} letters)"


# What the cases begin from.


def files_beside(folder: Path) -> None:
    """Write the picture and the mesh that a base job reads."""
    ramp = np.add.outer(np.arange(12), np.arange(16)).astype(np.uint8) * 8
    Image.fromarray(ramp).save(folder / "valley.png")
    (folder / "roof.obj").write_text("v 0 0 0\nv 10 0 0\nv 10 8 3\nv 0 8 1\nf 1 2 3\nf 1 3 4\n")


def bases() -> list[dict[str, Any]]:
    """Return valid jobs that have every section between them, in mm and in inches."""
    kinds = sorted(set(KINDS) - {"grid", "mesh"})
    layers = [{"kind": kind, **copy.deepcopy(KINDS[kind].example)} for kind in kinds]
    whole: dict[str, Any] = {
        "title": "Whole",
        "unit": "mm",
        "front": {
            "width": 200,
            "height": 120,
            "doors": 2,
            "space": 3,
            "reveals": {"left": 2, "right": 2, "top": 2, "bottom": 2},
        },
        "strips": {"count": 8, "gap": 3},
        "wood": {"species": "white ash", "blank": 24, "floor": 8, "moisture": 9, "rings": 30},
        "carving": {"fit": "depth", "depth": 6, "doors": "mirrored"},
        "layers": layers,
        "lands": [{"centre": [50, 50], "size": [20, 20], "height": 14, "blend": 8}],
        "fades": [{"edge": "top", "width": 30, "height": 16}],
        "caps": [{"edge": "left", "width": 9, "height": 14, "door": 1, "blend": 12}],
        "pulls": [{"centre": [150, 60], "size": [40, 60], "depth": 6, "edge": 2}],
        "cutter": {"shape": "ball", "radius": 12, "fit": True},
        "fixing": {"by": "screws", "shank": 3.5, "lengths": [16, 20, 25]},
        "board": {"thickness": 18, "density": 700, "balanced": True},
        "hinges": {
            "pivot": "front",
            "opens": 110,
            "count": 2,
            "between": 90,
            "sides": ["left", "right"],
            "table": [{"mass": 20, "height": 2000, "count": 3}],
        },
        "beside": {"left": {"stands": "case side", "forward": 0}, "right": {"stands": "wall"}},
        "opening": {
            "mounting": "inset",
            "widths": [204, 204, 204],
            "heights": [124, 124, 124],
            "diagonals": [238.7, 238.7],
            "plumb": [0.2, -0.2],
            "measured": "by the maker",
        },
        "bare_doors": [{"door": 1, "bow": 0.5, "twist": 0.3}],
        "room": {"now": {"temperature": 20, "humidity": 50}, "driest": {"temperature": 21, "humidity": 30}},
        "machine": {"bed": [600, 1200], "roughing": {"cutter": 8}, "finishing": {"radius": 4}, "side": {"cutter": 8}},
        "errors": {"print": 0.1},
        "limits": {"thin_screwed": 7},
        "relax": {"depth": 0.6, "moved": 4},
        "sampling": {"step": 4, "station": 25},
        "picture": {"light": "top", "finish": "dark"},
        "work": {"way": "panel first"},
    }
    inches: dict[str, Any] = {
        "title": "Inches",
        "unit": "in",
        "fraction": 64,
        "front": {"width": 8, "height": "5 1/2"},
        "strips": {"width": "3/4", "gap": "1/8"},
        "wood": {"species": "black walnut", "blank": "7/8", "floor": "3/8"},
        "as_built": {"missing": [2], "stack": "7 33/64", "spacers": "1 1/4", "blank": "55/64"},
        "layers": [
            {"kind": "waves", "trains": [{"length": 4, "direction": 20}]},
            {"kind": "hills", "size": 3, "combine": "mask"},
        ]
        + [
            {
                "kind": "rings",
                "length": 2,
                "sources": [{"centre": [2, 2]}],
                "turn": 10,
                "stretch": 1.2,
                "mirror": "left-right",
            }
        ],
        "lands": [{"centre": [2, 2], "size": ["1 in", 1], "shape": "ellipse", "keep": "at least"}],
        "sampling": {"step": "1/8"},
    }
    files: dict[str, Any] = {
        "title": "Files",
        "front": {"width": 200, "height": 120},
        "strips": {"count": 8},
        "wood": {"species": "white ash", "blank": 20},
        "layers": [
            {"kind": "grid", "file": "valley.png", "smoothing": 1, "fill": "stretch"},
            {"kind": "mesh", "file": "roof.obj", "columns": 40, "rise": 2, "amount": 0.5},
        ],
        "sampling": {"step": 3},
    }
    small = files | {"title": "Small", "layers": [{"kind": "hills", "size": 60}]}
    return [whole, inches, files, small]


# What is changed.


def places(settings: dict[str, Any]) -> list[tuple[Place, Any]]:
    """Return every place of a job that the models know, with what they say of it as a parameter where it is a field."""
    return list(_places(Job, settings, ()))


def _places(model: type[Model], settings: dict[str, Any], place: Place) -> Iterator[tuple[Place, Any]]:
    for name, info in model.model_fields.items():
        here = (*place, name)
        yield here, parameter_of(model, name)
        held = settings.get(name)
        inner = _models(info.annotation)
        entries = enumerate(held) if isinstance(held, list) else [(None, held)]
        for index, entry in entries:
            within = here if index is None else (*here, index)
            if isinstance(entry, dict) and inner:
                kind = KINDS[entry["kind"]] if name == "layers" else inner[0]
                yield within, None
                yield from _places(kind, entry, within)
            elif index is not None:
                yield within, parameter_of(model, name)


def _models(annotation: Any) -> list[type[Model]]:
    if isinstance(annotation, type) and issubclass(annotation, Model):
        return [annotation]
    return [model for part in get_args(annotation) for model in _models(part)]


_ODD: tuple[Any, ...] = (
    TAKE_OUT, None, True, False, 0, -0.0, -1, -0.5, 1, 2, 1e-308, 5e-324, -1e-308, 1e-9, 1e-5, 0.001, 0.05, 1e3, 1e5, 99_999, 1e6, 1e15, 1e16,
    1e308, -1e308, 10**400, -(10**400), 2**31, 2**63, 2**64, math.nan, math.inf, -math.inf, "", " ", "x", "x" * 100_000, "18 mm", "-3 mm",
    "1/0", "1 3/8 in", "9" * 400, "9" * 50 + " mm", "1e5", "nan", "\0", "\n", "`", "\x1b[31mred", "\u202eder", "\ud800", "\U0001f600", "..",
    "/etc/passwd", "valley.png", [], {}, [[]], [{}], [0], [1, 2], [1, 2, 3], [math.nan, 1], [-1, -1], [1e308, 1e308], ["a", "b"], {"x": 1},
    {"\x1b[31m": 1}, {"k" * 100_000: 1}, {"\ud800": 1}, [0] * 2000, [{}] * 600, [1e-308] * 2,
)  # fmt: skip


def _value(random_: random.Random, now: Any, parameter: Any) -> Any:
    """Return something that a place may be given: odd, within its limits or just beyond, or what it has made larger or smaller."""
    road = random_.random()
    number = parameter is not None and parameter.type in _NUMBERS
    if road < (0.3 if number else 0.7):
        return copy.deepcopy(random_.choice(_ODD))
    if getattr(parameter, "choices", ()):
        return random_.choice(parameter.choices)
    if number and road < 0.75:
        value = _about_limits(random_, parameter)
        return round(value) if parameter.type == "whole number" else value
    if isinstance(now, int | float) and not isinstance(now, bool):
        return now * random_.choice([-1, 0.1, 0.01, 1e-4, 0.5, 2, 3, 10, 100, 1e4])
    if isinstance(now, list) and now:
        return random_.choice([now * 2, now * 200, now[:-1], now[::-1], [now], [now[0], *now]])
    return random_.choice(
        [10 ** random_.uniform(-12, 12), -(10 ** random_.uniform(-3, 6)), random_.randint(-100, 100_000)]
    )


def _about_limits(random_: random.Random, parameter: Any) -> float:
    """Return a number between the limits of a field, most often small ones; at a limit; or a hair beyond it."""
    low = -1e6 if parameter.low is None else float(parameter.low)
    high = 1e6 if parameter.high is None else float(parameter.high)
    limit, other = random_.choice([(low, high), (high, low)])
    inside = random_.uniform(low, high)
    small = min(high, low + 10 ** random_.uniform(-4, math.log10(high - low)))
    return random_.choice(
        [inside, small, small, small, limit, math.nextafter(limit, other), 2 * limit - math.nextafter(limit, other)]
    )


def changed(random_: random.Random) -> tuple[dict[str, Any], tuple[Change, ...]]:
    """Return the settings of a job with one to three places changed, and what was changed."""
    settings: dict[str, Any] = copy.deepcopy(random_.choice(bases()))
    changes: list[Change] = []
    for _ in range(random_.choice([1, 1, 1, 1, 2, 3])):
        place, parameter = _place(random_, settings)
        if not place or random_.random() < 0.05:
            place = (random_.choice(["extra", "titel", "wood"]),)
        value = _value(random_, _held(settings, place), parameter)
        if _put(settings, place, value):
            changes.append((place, value))
    return settings, tuple(changes)


def _place(random_: random.Random, settings: dict[str, Any]) -> tuple[Place, Any]:
    """Return a place of a job, a number's more often than another's, with what is known of it."""
    if not _is_whole(settings):
        return (), None
    known = places(settings)
    numbers = [one for one in known if one[1] is not None and one[1].type in _NUMBERS]
    return random_.choice(numbers if random_.random() < 0.6 else known)


def _is_whole(settings: Any) -> bool:
    """Whether the places of settings can still be told: layers that are tables of a known kind."""
    layers = settings.get("layers")
    return isinstance(layers, list) and all(
        isinstance(layer, dict) and layer.get("kind") in tuple(KINDS) for layer in layers
    )


def _held(settings: Any, place: Place) -> Any:
    for part in place:
        try:
            settings = settings[part]
        except (KeyError, IndexError, TypeError):
            return None
    return settings


def _put(settings: Any, place: Place, value: Any) -> bool:
    """Set or take out what stands at a place; return whether it could be."""
    for part in place[:-1]:
        if isinstance(settings, dict) and isinstance(part, str):
            settings = settings.setdefault(part, {})
        elif isinstance(settings, list) and isinstance(part, int) and part < len(settings):
            settings = settings[part]
        else:
            return False
    if isinstance(settings, dict) and value is TAKE_OUT:
        settings.pop(place[-1], None)
    elif isinstance(settings, dict) or (
        isinstance(settings, list) and isinstance(place[-1], int) and place[-1] < len(settings)
    ):
        settings[place[-1]] = None if value is TAKE_OUT else value
    else:
        return False
    return True


# What comes of it.


@contextmanager
def in_time(seconds: float) -> Iterator[None]:
    """Raise TookTooLong inside the block when it takes the processor longer."""

    def ring(*_: object) -> None:
        raise TookTooLong

    # The processor's time: a busy machine is no hang.
    before = signal.signal(signal.SIGPROF, ring)
    signal.setitimer(signal.ITIMER_PROF, seconds)
    try:
        yield
    finally:
        signal.setitimer(signal.ITIMER_PROF, 0.0)
        signal.signal(signal.SIGPROF, before)


def run_case(number: int, seed: int, folder: Path) -> tuple[str, Failure | None]:
    """Run one case and return how it ended, "built" or "refused", and what is wrong with that."""
    random_ = random.Random(f"{seed}/{number}")
    settings, changes = changed(random_)
    try:
        with warnings.catch_warnings(), in_time(MOST_SECONDS):
            warnings.simplefilter("error")
            front = build_front(_job(random_, settings, folder))
            small = front.layout.width * front.layout.height <= LARGEST_CHECKED
            reason = wrong_findings(front) if small else ""
            front.measures_of(front.count)
            if small and not reason and random_.random() < 0.04:
                _build(front, folder)
    except FacadeError as error:
        reason = wrong_refusal(error)
        return "refused", Failure(number, changes, reason) if reason else None
    except TookTooLong:
        return "failed", Failure(number, changes, f"did not end within {MOST_SECONDS:.0f} s")
    except (Exception, RecursionError) as error:
        last = traceback.extract_tb(error.__traceback__)[-1]
        ours = [frame for frame in traceback.extract_tb(error.__traceback__) if "/facade/" in frame.filename]
        where = "; ".join(f"{Path(frame.filename).name}:{frame.lineno}" for frame in [*ours[-2:], last])
        return "failed", Failure(number, changes, f"{type(error).__name__}: {_short(str(error))} at {where}")
    return "built", Failure(number, changes, reason) if reason else None


def _job(random_: random.Random, settings: dict[str, Any], folder: Path) -> Job:
    """Return the job of settings: through a file where TOML can hold them, now and then as a program hands them over."""
    if random_.random() < 0.7:
        return make_job(settings, folder=folder)
    try:
        text = tomlkit.dumps(settings)
        (folder / "job.toml").write_text(text, encoding="utf-8")
    except Exception:  # no TOML has such a value
        return make_job(settings, folder=folder)
    return read_job(folder / "job.toml")


def _build(front: Front, folder: Path) -> None:
    with tempfile.TemporaryDirectory(dir=folder) as place:
        write(
            front,
            Path(place),
            outputs=[Output.SIDES, Output.STRIPS, Output.OFFSETS, Output.PARTS, Output.PICTURE],
            workers=1,
        )


def wrong_refusal(error: FacadeError) -> str:
    """Return what is wrong with a refusal, "" where it is as it should be."""
    lines = [str(one) for one in error.mistakes] if isinstance(error, JobError) else [str(error)]
    for line in lines:
        if visible(line) != line or "\n" in line:
            return f"a sentence that cannot be printed: {_short(line)}"
        if len(line) > LONGEST_SENTENCE or len(lines) > 21:
            return f"a refusal of {len(lines)} sentences, of {len(line)} letters"
        if "`" not in line and "a job" not in line:
            return f"a sentence that names no field: {_short(line)}"
        if "input should" in line.lower() or line.endswith("."):
            return f"a sentence that is not ours: {_short(line)}"
    return "" if lines else "a refusal without a word"


def wrong_findings(front: Front) -> str:
    """Return what is wrong with the findings of a front, "" where they are as they should be."""
    for finding in check_front(front):
        told = finding.as_data()
        try:
            json.dumps(told, allow_nan=False)
        except ValueError:
            return f"a finding with a number that is none: {_short(finding.sentence)}"
        for name in _FINDINGS_TOLD:
            words = str(told.get(name) or "")
            if visible(words) != words:
                return f"a finding that cannot be printed: {_short(words)}"
            if "nan" in words.split() or "inf" in words.split():
                return f"a finding with a number that is none: {_short(words)}"
    return ""


def fuzz(cases: int, seed: int, folder: Path, first: int = 0) -> tuple[dict[str, int], list[Failure]]:
    """Run cases and return how many ended in which way, and those that failed."""
    files_beside(folder)
    ends = {"built": 0, "refused": 0, "failed": 0}
    failures = []
    for number in range(first, first + cases):
        end, failure = run_case(number, seed, folder)
        ends[end] += 1
        if failure is not None:
            failures.append(failure)
    return ends, failures


def main() -> int:
    """Run as many cases as were asked for, print what came of them, and return 1 where any failed."""
    parser = argparse.ArgumentParser(description="Job files made wrong on purpose: no traceback, no warning, no hang.")
    parser.add_argument("--cases", type=int, default=2000)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--first", type=int, default=0, help="number of the first case, to run one again")
    options = parser.parse_args()
    resource.setrlimit(resource.RLIMIT_AS, (MOST_MEMORY, MOST_MEMORY))
    began = time.perf_counter()
    with tempfile.TemporaryDirectory() as folder:
        ends, failures = fuzz(options.cases, options.seed, Path(folder), options.first)
    for failure in failures:
        print(failure)
    memory = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss // 1024
    told = ", ".join(f"{count} {end}" for end, count in ends.items())
    print(
        f"{options.cases} cases of seed {options.seed}: {told}; {len(failures)} wrong, {time.perf_counter() - began:.0f} s, {memory} MB"
    )
    return 1 if failures else 0


if __name__ == "__main__":
    sys.exit(main())
