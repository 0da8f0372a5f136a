"""Input that would hang, fill the memory or break: refused in sentences, within bounds; what only looks heavy still works, and quickly."""

from __future__ import annotations

import io
import json
import math
import os
import resource
import struct
import subprocess
import sys
import zipfile
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import fuzzing
import numpy as np
import pytest
from helpers import a_job, refusal, refusal_of_text, small_front, small_job
from PIL import Image
from pydantic import ValidationError

from facade.arrays import Array, smooth_maximum, smooth_minimum, smooth_step
from facade.errors import FacadeError, FileError, JobError, Mistake, printable, shortened, visible
from facade.fields import Model, about
from facade.front import Front, build_front
from facade.job import Edge, Job, Keep, Shape, make_job
from facade.job.guarding import DEEPEST, LARGEST_JOB, MOST_VALUES
from facade.job.mistakes import MOST_SHOWN
from facade.reliefs import KINDS, Canvas, combined
from facade.reliefs.catalogue import parameter_of
from facade.reliefs.samples import MOST_CORNERS, MOST_COVERED, MOST_SAMPLES, read_mesh_heights, read_samples
from facade.surface import pull_depth, pull_share

GOOD = """\
title = "A small front"
[front]
width = 200
height = 120
[strips]
count = 8
[wood]
species = "white ash"
blank = 20
[[layers]]
kind = "hills"
size = 60
"""
# What a refusal may take: the bounds of the work are 2 s and 500 MB. A slow and busy machine is given time; a hang is not.
NO_HANG = 60.0  # s
MOST_MEMORY = 500  # MB
# The peak of its own memory alone: what rusage tells counts the process that it was forked from.
_RUN = (
    "import re, sys; from pathlib import Path; from facade.cli import main; code = main(sys.argv[1:]); "
    "print(int(re.search(r'VmHWM:\\s+(\\d+)', Path('/proc/self/status').read_text())[1]) // 1024); sys.exit(code)"
)


def bound_memory() -> None:
    resource.setrlimit(resource.RLIMIT_AS, (2 * 1024**3, 2 * 1024**3))


def refused(job: Path) -> list[str]:
    """Return the lines with which the command refuses a job file, run as a process of its own with little memory."""
    root = str(Path(__file__).parents[1])
    run = subprocess.run(
        [sys.executable, "-W", "always", "-c", _RUN, "check", str(job)],
        capture_output=True,
        encoding="utf-8",
        timeout=NO_HANG,
        preexec_fn=bound_memory,
        env=os.environ | {"PYTHONPATH": root},
        check=False,
    )
    lines = run.stderr.splitlines()
    assert run.returncode == 2, run.stderr[-2000:]
    assert lines
    assert len(lines) <= MOST_SHOWN + 1
    for line in lines:
        assert line.startswith("facade: ")
        assert len(line) < 1100
        assert visible(line) == line
    assert int(run.stdout) < MOST_MEMORY
    return lines


def said(job: Path) -> str:
    """Return the one sentence with which the command refuses a job file."""
    (line,) = refused(job)
    return line


def filled(line: str, size: int, start: str = GOOD) -> str:
    """Return a job's text made as long as `size` bytes with a line again and again; {} in it counts up."""
    parts, length, number = [start], len(start), 0
    while length < size:
        parts.append(line.replace("#", str(number)) + "\n")
        length += len(parts[-1])
        number += 1
    return "".join(parts[:-1])


# Long and deep job files


LONG = 3_900_000
FITS = LARGEST_JOB - 1000
TEXTS: dict[str, tuple[str, str]] = {
    "a job of many keys": (filled("k#=1", LONG), "must be at most 256 KB (it has 38"),
    "a job of one key again and again": (filled("k=1", LONG), "must be at most 256 KB"),
    "a job of many lands": (filled("[[lands]]", LONG), "must be at most 256 KB"),
    "a job of many empty tables": (GOOD + "x=[" + "{}," * 1_300_000 + "]", "must be at most 256 KB"),
    "keys that just fit": (filled("k#=1", FITS), f"at most {MOST_VALUES} values"),
    "fewer keys": (filled("k#=1", FITS // 2), "more follow: mend these first"),
    "one key that just fits": (filled("k=1", FITS), "`layers[1].k` is given twice, in lines 13 and 14"),
    "lands that just fit": (filled("[[lands]]", FITS), "more follow: mend these first"),
    "empty tables that just fit": ('title = "a"\nlayers = [' + "{}," * 80_000 + "]", f"at most {MOST_VALUES} values"),
    "fewer empty tables": ('title = "a"\nlayers = [' + "{}," * 25_000 + "]", "more follow: mend these first"),
    "a deep key": (
        GOOD + "a." * 60_000 + "a=1\n",
        f"line 13: this is not a job: it is nested more than {DEEPEST} deep",
    ),
    "a deep header": (
        GOOD + "[" + "a." * 60_000 + "a]\n",
        f"line 13: this is not a job: it is nested more than {DEEPEST} deep",
    ),
    "a deep quoted key": (GOOD + '"a".' * 30_000 + "a=1\n", f"nested more than {DEEPEST} deep"),
    "a deep list": (GOOD + "x=" + "[" * 60_000 + "]" * 60_000, f"nested more than {DEEPEST} deep"),
    "a deep table": (GOOD + "x=" + "{a=" * 40_000, f"nested more than {DEEPEST} deep"),
    "tables inside tables": (
        GOOD + "".join("[" + "a." * depth + "a]\n" for depth in range(40)),
        f"nested more than {DEEPEST} deep",
    ),
    "many headers of one table": (filled("[x#.y]", FITS), f"at most {MOST_VALUES} values"),
    "a key as long as the file": (GOOD + '"' + "k" * (FITS - 1000) + '"=1\n', "`layers[1].kkk"),
    "a text as long as the file": (GOOD.replace("white ash", "w" * (FITS - 1000)), "`wood.species` must be one of"),
    "an open text as long as the file": (GOOD + '"' * 3 + "\\" * (FITS - 1000), "this is not TOML"),
    "a key that steers the terminal": (GOOD + '"\\u001b[31mred\\u202e"=1\n', "`layers[1].[31mred` is not a known name"),
}


@pytest.mark.parametrize(("text", "words"), TEXTS.values(), ids=TEXTS.keys())
def test_a_hostile_job_file_is_refused_within_bounds(tmp_path: Path, text: str, words: str) -> None:
    (tmp_path / "job.toml").write_text(text, encoding="utf-8")
    assert any(words in line for line in refused(tmp_path / "job.toml"))


@pytest.mark.parametrize("depth", [1, DEEPEST - 5])
def test_brackets_and_dots_in_texts_and_comments_are_no_depth(tmp_path: Path, depth: int) -> None:
    quoted = GOOD.replace("A small front", "[{" * 50 + "." * 50) + "# " + "[" * 200 + "." * 200 + "\n"
    (tmp_path / "job.toml").write_text(quoted + "move = [" + "[" * depth + "1" + "]" * depth + ", 0]\n")
    with pytest.raises(JobError, match=r"move\[1\]` must be a length"):
        fuzzing.read_job(tmp_path / "job.toml")


def deep(depth: int) -> Any:
    """Return lists inside one another."""
    inner: Any = 1
    for _ in range(depth):
        inner = [inner]
    return inner


@pytest.mark.parametrize("depth", [DEEPEST + 1, 100_000])
def test_deep_settings_of_a_program_are_refused(depth: int) -> None:
    assert f"nested more than {DEEPEST} deep" in refusal(a_job(lands=deep(depth)))


def test_a_thousand_mistakes_are_counted_and_the_first_are_told() -> None:
    wrong = {f"k{number}": 1 for number in range(1254)}
    with pytest.raises(JobError) as caught:
        make_job(a_job() | wrong)
    told = caught.value.mistakes
    assert len(told) == MOST_SHOWN + 1
    assert told[0].sentence.startswith("`k0` is not a known name")
    assert "the first of 1254 mistakes, and 1234 more follow" in told[-1].sentence


@pytest.mark.parametrize("place", ["title", "layers", "key"])
def test_half_a_letter_is_named_where_it_stands(place: str) -> None:
    """JSON and Python can hold a lone surrogate; no file can, nor a page of paper."""
    broken: dict[str, dict[str, Any]] = {
        "title": {"title": "half \ud83d"},
        "layers": {"layers": [{"kind": "hills", "size": 60, "combine": "\udc00"}]},
        "key": {"wood": {"\ud800": 1}},
    }
    (line,) = refusal(a_job(**broken[place])).splitlines()
    assert "holds half of a letter, which no file can keep: type it anew" in line
    line.encode("utf-8")


# What is quoted of a user


@pytest.mark.parametrize("odd", ["\x1b[31m", "\u202e", "\u2028", "\x85", "\ud800", "\0", "\r"])
def test_what_an_error_says_can_be_printed_whatever_it_quotes(odd: str) -> None:
    for error in (FacadeError(f"a{odd}b"), FileError(f"a{odd}b"), JobError([Mistake(f"x{odd}", f"a{odd}b", 3)])):
        (line,) = str(error).splitlines()
        assert visible(line) == line
        line.encode("utf-8")


def test_what_is_long_is_cut_where_it_is_quoted() -> None:
    assert shortened("k" * 1_000_000) == "k" * 28 + "..." + "k" * 28
    assert len(str(FacadeError("x" * 1_000_000))) <= 1000
    assert printable(" a \n b\tc ") == "a b c"


def test_a_long_key_is_cut_where_it_is_named() -> None:
    (line,) = refusal(a_job(**{"k" * 1_000_000: 1})).splitlines()
    assert len(line) < 500
    assert "`kkkk" in line


def test_titles_and_names_on_the_terminal_steer_nothing(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    from facade.cli import main

    (tmp_path / "job.toml").write_text(
        GOOD.replace("A small front", "A \\u001b[2Jsmall \\u202efront"), encoding="utf-8"
    )
    main(["check", str(tmp_path / "job.toml")])
    main(["check", "--json", str(tmp_path / "job.toml")])
    main(["printer", "p\x1b[31m", "--short", "180", "--long", "250"])
    main(["check", str(tmp_path / "\x1b[31m.toml")])
    with pytest.raises(SystemExit):
        main(["check", str(tmp_path / "job.toml"), "--\x1b[31m"])
    told = capsys.readouterr()
    for line in (told.out + told.err).split("\n"):
        assert visible(line) == line


# Slips of TOML


SLIPS: dict[str, tuple[str, str, str]] = {
    "a decimal comma": ("width = 200", "width = 18,5", "line 3: `width` has a comma in its number (got 18,5): write 18.5"),
    "thousands with a comma": ("width = 200", "width = 1,200", "line 3: `width` has a comma in its number (got 1,200): write 1200"),
    "thousands with a point": ("width = 200", "width = 1.200,5", "line 3: `width` has marks between its thousands (got 1.200,5): write 1200.5"),
    "one bracket for a list": ("[[layers]]", "[layers]", "line 10: `layers` must be a list of tables (got a table): write [[layers]]"),
    "one bracket for lands": ("size = 60", "size = 60\n[lands]\nsize = [9, 9]", "line 13: `lands` must be a list of tables (got a table): write [[lands]]"),
    "two brackets for a table": ("[strips]", "[[strips]]", "line 5: `strips` must be one table (got a list): write [strips]"),
    "two brackets for a table begun before": ("size = 60", "size = 60\n[[wood]]", "line 13: `wood` is one table, begun in line 7: write [wood] once"),
    "a key twice": ("height = 120", "width = 120", "line 4: `front.width` is given twice, in lines 3 and 4"),
    "a key twice in braces": ("size = 60", "size = 60\nmove = { a = 1, a = 2 }", "line 13: `a` is given twice within its braces"),
    "a table twice": ("size = 60", "size = 60\n[front]", "line 13: the table [front] is begun twice, in lines 2 and 13"),
    "a text without quotes": ('"white ash"', "white ash", 'line 8: `species` is a text, which stands in quotes: write species = "white ash"'),
    "a text without its last quote": ('"white ash"', '"white ash', 'line 8: `species` has no closing quote: write species = "white ash"'),
    "a text without its last single quote": ('"white ash"', "'white ash", 'line 8: `species` has no closing quote: write species = "white ash"'),
    "curly quotes": ('"white ash"', "“white ash”", 'line 8: `species` has curly quotes, which only look like quotes: write species = "white ash"'),
    "no equals sign": ("count = 8", "count 8", "line 6: `count` has no equals sign: write count = 8"),
    "no equals sign before a text": ('species = "white ash"', 'species white ash', 'line 8: `species` has no equals sign: write species = "white ash"'),
    "a colon": ("count = 8", "count: 8", "line 6: `count` wants an equals sign: write count = 8"),
    "no value": ("width = 200", "width =", "line 3: `width` has no value"),
    "a unit without quotes": ("width = 200", "width = 200 mm", 'line 3: `width` is a length with its unit, which stands in quotes: write width = "200 mm"'),
    "an inch mark": ("width = 200", 'width = 8"', 'line 3: `width` is a length with its unit, which stands in quotes: write width = "8 in"'),
    "a fraction without quotes": ("width = 200", "width = 7 7/8", 'line 3: `width` is a fraction, which stands in quotes with its unit: write width = "7 7/8 in"'),
    "a zero in front": ("count = 8", "count = 08", "line 6: `count` must have digits on both sides of its point and no zero in front: write count = 8"),
    "a point in front": ("size = 60", "size = .5", "line 12: `size` must have digits on both sides of its point and no zero in front: write size = 0.5"),
    "True": ("size = 60", "size = 60\n[carving]\npacked = True", "line 14: `packed` is written in small letters without quotes, true or false: write packed = true"),
    "yes": ("size = 60", "size = 60\n[carving]\npacked = yes", "line 14: `packed` is written in small letters without quotes, true or false: write packed = true"),
    "a header without its end": ("[wood]", "[wood", "line 7: `[wood` begins no table: write [wood]"),
    "a list's header without its end": ("[[layers]]", "[[layers]", "line 10: `[[layers]` begins no table: write [[layers]]"),
    "a header of two words": ("size = 60", "size = 60\n[bare doors]", "line 13: `[bare doors]` begins no table: write [bare_doors]"),
    "a name of two words": ("size = 60", "size = 60\nripple length = 3", "line 13: `ripple length` is no name: names have no spaces, such as ripple_length"),
    "a list without its end": ("size = 60", "move = [1, 2\nsize = 60", "line 12: `move` is a list with no closing ]"),
    "braces without their end": ("height = 120", "height = 120\nreveals = { left = 2", "line 5: `reveals` is a table with no closing }"),
    "a semicolon": ("width = 200", "width = 200;", "line 3: `width` has something after its value (got ;): write width = 200 alone on its line"),
    "a letter that cannot be seen": ('"white ash"', '"white\x01ash"', "line 8: there is a letter in it that cannot be seen"),
}  # fmt: skip


@pytest.mark.parametrize(("right", "slip", "words"), SLIPS.values(), ids=SLIPS.keys())
def test_a_slip_is_said_with_its_line_and_what_to_write(tmp_path: Path, right: str, slip: str, words: str) -> None:
    assert right in GOOD
    (line,) = str(refusal_of_text(tmp_path, GOOD.replace(right, slip))).splitlines()
    assert line.startswith(words)


WRITTEN = [
    one
    for one in SLIPS
    if one.startswith(("a decimal", "a text", "curly", "no equals", "a colon", "a unit", "a zero", "True", "yes"))
]


@pytest.mark.parametrize("name", WRITTEN)
def test_what_a_slip_says_to_write_is_toml(tmp_path: Path, name: str) -> None:
    """The line is written as told: the job is read, or what is wrong with it then is another matter."""
    right, slip, _ = SLIPS[name]
    text = GOOD.replace(right, slip)
    error = refusal_of_text(tmp_path, text)
    number, told = error.mistakes[0].line, error.mistakes[0].sentence
    assert number is not None
    lines = text.split("\n")
    written = told.split("write ")[1].split(",")[0]
    lines[number - 1] = written if "=" in written else lines[number - 1].split("=")[0] + "= " + written
    (tmp_path / "job.toml").write_text("\n".join(lines), encoding="utf-8")
    fuzzing.read_job(tmp_path / "job.toml")


# Limits that hold


def models_of(model: type[Model], seen: set[type[Model]]) -> Iterator[type[Model]]:
    if model in seen:
        return
    seen.add(model)
    yield model
    for info in model.model_fields.values():
        for inner in fuzzing._models(info.annotation):
            yield from models_of(inner, seen)


NUMBERS = [
    (model, name, parameter)
    for model in models_of(Job, set())
    for name in model.model_fields
    if (parameter := parameter_of(model, name)) is not None and parameter.type in ("number", "whole number", "length")
]


@pytest.mark.parametrize(
    ("model", "name", "parameter"), NUMBERS, ids=lambda one: getattr(one, "__name__", str(one))[:40]
)
def test_a_limit_that_is_told_is_a_limit_that_holds(model: type[Model], name: str, parameter: Any) -> None:
    """The catalogue, the schema and the page tell limits; what is beyond them is refused, whatever else a type says."""
    whole, many = parameter.type == "whole number", isinstance(parameter.default, tuple)
    beyond = [
        limit + way * (1 if whole else max(1e-3, abs(limit) * 1e-6))
        for limit, way in ((parameter.low, -1), (parameter.high, 1))
        if limit is not None
    ]
    for value in beyond:
        number = int(value) if whole else value
        with pytest.raises(ValidationError) as caught:
            model.model_validate({name: [number] if many else number})
        kinds = {error["type"] for error in caught.value.errors() if error["loc"][-1] == name or name in error["loc"]}
        assert kinds & {"greater_than", "greater_than_equal", "less_than", "less_than_equal", "value_error"}, value


def test_there_are_many_numbers_with_limits() -> None:
    assert len(NUMBERS) > 100


def test_a_field_takes_no_limits_beside_its_type() -> None:
    with pytest.raises(TypeError):
        about("a share", 0.5, ge=0.1)  # type: ignore[call-arg]


@pytest.mark.parametrize("stretch", [0, 0.0, -1, 0.0999, 1e-308, 100.001])
def test_a_stretch_beyond_its_limits_is_refused(stretch: float) -> None:
    assert "`layers[1].stretch` must be at " in refusal(
        a_job(layers=[{"kind": "hills", "size": 60, "stretch": stretch}])
    )


@pytest.mark.parametrize(
    ("changes", "name"),
    [
        ({"fades": [{"edge": "top", "width": 1e-308}]}, "`fades[1].width` must be more than 0 mm (got next to nothing)"),
        ({"caps": [{"edge": "top", "width": 9, "height": 12, "blend": 1e-308}]}, "`caps[1].blend` must be more than 0 mm (got next"),
        ({"lands": [{"centre": [50, 50], "size": [1e-308, 9]}]}, "`lands[1].size[1]` must be more than 0 mm (got next to nothing)"),
        ({"pulls": [{"centre": [50, 50], "size": [9, 9], "depth": 3, "edge": 1e-308}]}, "`pulls[1].edge` must be more than 0 mm"),
    ],
)  # fmt: skip
def test_next_to_nothing_is_no_size(changes: dict[str, Any], name: str) -> None:
    assert name in refusal(a_job(**changes))


@pytest.mark.parametrize("blend", [1e-308, 5e-324, -0.0])
def test_a_blend_of_next_to_nothing_is_none(blend: float) -> None:
    land = {"centre": [50, 50], "size": [20, 20]}
    places = np.linspace(30.0, 70.0, 81)[None, :], np.linspace(30.0, 70.0, 81)[:, None]
    fronts = [small_front(lands=[land | {"blend": one}]) for one in (blend, 0)]
    assert np.array_equal(*(front.surface.at(*places) for front in fronts))


# Work, not only size


@pytest.mark.parametrize(
    ("changes", "words"),
    [
        ({"front": {"width": 99_999, "height": 9999}, "strips": {"count": 900}, "limits": {"front_widest": 1e5, "front_highest": 1e4}}, "`sampling.step` must be at least 2.3 mm"),
        ({"front": {"width": 12_000, "height": 3500}, "strips": {"count": 400}, "sampling": {"step": 0.1}}, "`sampling.step` must be at least 0.5 mm"),
        (
            {"layers": [{"kind": "points", "points": [{"place": [x % 20 * 9.9 + k / 9, x // 20 * 5.9], "height": x % 7} for x in range(400)]} for k in range(8)]},
            "`layers` must hold at most 3000 points, trains, rings and the like in all (they hold 3200)",
        ),
    ],
)  # fmt: skip
def test_more_work_than_hours_hold_is_refused(changes: dict[str, Any], words: str) -> None:
    assert words in refusal(a_job(**changes))


# Files beside a job


def stl_bytes(triangles: Array) -> bytes:
    """Return triangles (n, 3, 3) as a binary STL."""
    records = np.zeros(len(triangles), dtype=[("normal", "<f4", 3), ("corners", "<f4", (3, 3)), ("more", "<u2")])
    records["corners"] = triangles
    return bytes(80) + struct.pack("<I", len(triangles)) + records.tobytes()


def scan(side: int, height: Callable[[Array, Array], Array]) -> Array:
    """Return the triangles of a surface over 700 by 700 mm, as a scanner gives it: 2 (side - 1)^2 of them."""
    x, y = np.meshgrid(np.linspace(0.0, 700.0, side), np.linspace(0.0, 700.0, side))
    corners = np.stack([x, y, height(x, y)], axis=-1)
    a, b, c, d = corners[:-1, :-1], corners[:-1, 1:], corners[1:, 1:], corners[1:, :-1]
    return np.concatenate([np.stack(one, axis=-2).reshape(-1, 3, 3) for one in ((a, b, c), (a, c, d))])


def round_face(corners: int) -> bytes:
    """Return an OBJ of one face with so many corners."""
    turns = [2 * math.pi * corner / corners for corner in range(corners)]
    places = "".join(f"v {math.cos(turn):.6f} {math.sin(turn):.6f} {turn:.3f}\n" for turn in turns)
    return f"{places}f {' '.join(map(str, range(1, corners + 1)))}\n".encode()


def png_bytes(columns: int, rows: int) -> bytes:
    stream = io.BytesIO()
    Image.fromarray((np.add.outer(np.arange(rows), np.arange(columns)) % 251).astype(np.uint8)).save(
        stream, "PNG", compress_level=1
    )
    return stream.getvalue()


def npz_bytes(samples: np.ndarray) -> bytes:
    inner, outer = io.BytesIO(), io.BytesIO()
    np.save(inner, samples)
    with zipfile.ZipFile(outer, "w", zipfile.ZIP_DEFLATED) as box:
        box.writestr("a.npy", inner.getvalue())
    return outer.getvalue()


def glb_bytes(told: dict[str, Any]) -> bytes:
    """Return a GLB with this description and no numbers."""
    text = json.dumps(told).encode()
    text += b" " * (-len(text) % 4)
    return b"glTF" + struct.pack("<III", 2, 20 + len(text), len(text)) + b"JSON" + text


def many_parts(count: int) -> dict[str, Any]:
    return {
        "asset": {"version": "2.0"},
        "accessors": [{"count": 300_000, "componentType": 5126, "type": "VEC3"}],
        "meshes": [{"primitives": [{"attributes": {"POSITION": 0}}]}],
        "nodes": [{"mesh": 0}] * count,
        "scenes": [{"nodes": list(range(count))}],
    }


LARGE = np.random.default_rng(1).uniform(0.0, 700.0, (200_000, 3, 3))
FILES: dict[str, tuple[Callable[[], dict[str, bytes]], str, str]] = {
    "200,000 large triangles": (
        lambda: {"a.stl": stl_bytes(LARGE)},
        '[[layers]]\nkind = "mesh"\nfile = "a.stl"\n',
        "has triangles that cover 1",
    ),
    "the same at 4000 columns": (
        lambda: {"a.stl": stl_bytes(LARGE)},
        '[[layers]]\nkind = "mesh"\nfile = "a.stl"\ncolumns = 4000\n',
        "more than 100 million: set columns to 4",
    ),
    "a face of 20,000 corners": (
        lambda: {"a.obj": round_face(20_000)},
        '[[layers]]\nkind = "mesh"\nfile = "a.obj"\n',
        f"must have faces of at most {MOST_CORNERS} corners (one has 20000): cut its faces into triangles",
    ),
    "a mesh as tall as a tower": (
        lambda: {"a.stl": stl_bytes(scan(3, lambda x, y: x) * [1.0, 1000.0, 1.0])},
        '[[layers]]\nkind = "mesh"\nfile = "a.stl"\ncolumns = 4000\n',
        "must give at most 20 million heights (at 4000 columns they are",
    ),
    "a GLB of 20,000 parts": (
        lambda: {"a.glb": glb_bytes(many_parts(20_000))},
        '[[layers]]\nkind = "mesh"\nfile = "a.glb"\n',
        "must have at most 10000 parts (it has 20000)",
    ),
    "a GLB that places one part again and again": (
        lambda: {"a.glb": glb_bytes(many_parts(5000))},
        '[[layers]]\nkind = "mesh"\nfile = "a.glb"\n',
        "must hold at most 1 million triangles (it holds 500000000)",
    ),
    "a picture of 6300 by 6300 in 64 layers": (
        lambda: {"a.png": png_bytes(6300, 6300)},
        '[[layers]]\nkind = "grid"\nfile = "a.png"\n' * 64,
        "must hold at most 20 million heights",
    ),
    "pictures of 12 million heights under many names": (
        lambda: dict.fromkeys((f"{number}.png" for number in range(16)), png_bytes(4000, 3000)),
        "".join(f'[[layers]]\nkind = "grid"\nfile = "{number}.png"\n' for number in range(16)),
        "must hold at most 20 million heights in all (they hold 24 million)",
    ),
    "one picture under many roundings": (
        lambda: {"a.png": png_bytes(2500, 2500)},
        "".join(f'[[layers]]\nkind = "grid"\nfile = "a.png"\nsmoothing = {number}\n' for number in range(6)),
        "must hold at most 20 million heights in all",
    ),
    "a large picture, smoothed two hundred times": (
        lambda: {"a.png": png_bytes(4000, 4000)},
        '[[layers]]\nkind = "grid"\nfile = "a.png"\nsmoothing = 200\n',
        "too many for 200 rounds of smoothing: set smoothing to 12 or less",
    ),
    "an array of holes in a small box": (
        lambda: {"a.npz": npz_bytes(np.full((4000, 4900), np.nan))},
        '[[layers]]\nkind = "grid"\nfile = "a.npz"\n',
        "must hold finite heights only",
    ),
    "a table of one number a line": (
        lambda: {"a.csv": b"1\n" * 20_000_000},
        '[[layers]]\nkind = "grid"\nfile = "a.csv"\n',
        "must be at most 16 MB as a table: save it as .npy",
    ),
}


@pytest.mark.parametrize(("files", "layers", "words"), FILES.values(), ids=FILES.keys())
def test_a_file_that_asks_too_much_is_refused_within_bounds(
    tmp_path: Path, files: Callable[[], dict[str, bytes]], layers: str, words: str
) -> None:
    for name, data in files().items():
        (tmp_path / name).write_bytes(data)
    (tmp_path / "job.toml").write_text(GOOD.split("[[layers]]")[0] + layers)
    lines = refused(tmp_path / "job.toml")
    assert any(words in line for line in lines), lines[:3]


def test_a_scan_of_half_a_million_triangles_at_a_thousand_columns_is_read() -> None:
    """Held against the surface that was scanned; between the scan's places it is at most h^2/8 times the curvature off."""

    def surface(x: Array, y: Array) -> Array:
        return 10.0 * np.sin(x / 50.0) * np.cos(y / 60.0)

    triangles = scan(501, surface)
    assert len(triangles) == 500_000
    heights, cell = read_mesh_heights("scan.stl", stl_bytes(triangles), 1000)
    x, y = np.arange(1000) * cell, np.arange(len(heights))[::-1] * cell
    off = np.abs(heights - surface(x[None, :], y[:, None]))[:, :]
    assert off.max() < 1.4**2 / 8 * 2 * (10 / 50**2 + 10 / 60**2) + 1e-3


def test_what_a_mesh_covers_is_bounded_by_its_own_boxes() -> None:
    """One square of two triangles covers each place twice: just below the bound it is read, whatever its size in mm."""
    columns = math.floor(math.sqrt(MOST_COVERED / 2)) // 4
    heights, _ = read_mesh_heights("a.stl", stl_bytes(scan(2, lambda x, y: x + y)), columns)
    assert heights.shape == (columns, columns)
    with pytest.raises(ValueError, match="set columns to"):
        read_mesh_heights("a.stl", stl_bytes(np.tile(scan(2, lambda x, y: x + y), (40, 1, 1))), columns)


def test_layers_of_one_file_share_what_was_read(tmp_path: Path) -> None:
    (tmp_path / "a.png").write_bytes(png_bytes(40, 30))
    names = ["a.png", "./a.png"] * 32
    job = small_job(tmp_path, layers=[{"kind": "grid", "file": name} for name in names])
    layers: list[Any] = list(job.layers)
    assert len({id(layer._samples) for layer in layers}) == 1
    assert len({id(layer._file.data) for layer in layers}) == 1


def test_a_picture_is_held_in_as_many_bytes_as_it_has(tmp_path: Path) -> None:
    assert read_samples("a.png", png_bytes(40, 30)).dtype == np.uint8


@pytest.mark.parametrize("kind", ["u1", "<u2", "<f4", "f8", "<i8"])
def test_heights_do_not_depend_on_how_a_file_holds_them(tmp_path: Path, kind: str) -> None:
    samples = np.add.outer(np.arange(12) * 7, np.arange(15) ** 2) % 251
    for name, one in (("a.npy", samples.astype(kind)), ("b.npy", samples.astype("f8"))):
        np.save(tmp_path / name, one)
    x, y = np.linspace(0.0, 200.0, 201)[None, :], np.linspace(0.0, 120.0, 121)[:, None]
    found = []
    for name in ("a.npy", "b.npy"):
        relief = KINDS["grid"].model_validate({"kind": "grid", "file": name}, context={"folder": tmp_path})
        heights = relief.heights(Canvas(200.0, 120.0))
        found += [heights(x, y), heights(*np.broadcast_arrays(x, y))]
    assert np.array_equal(found[0], found[2])
    assert np.array_equal(found[1], found[3])


def test_after_some_bad_files_the_others_are_not_read(tmp_path: Path) -> None:
    for number in range(9):
        (tmp_path / f"{number}.png").write_bytes(b"no picture")
    lines = refusal(
        a_job(layers=[{"kind": "grid", "file": f"{number}.png"} for number in range(9)]), tmp_path
    ).splitlines()
    assert len(lines) == 9
    assert sum("is not a PNG picture" in line for line in lines) == 3
    assert sum("is not looked at yet: mend the files of the layers before it first" in line for line in lines) == 6


def test_the_limits_are_of_use() -> None:
    """A picture of a wall of 3 by 2 m, a height every 0.75 mm, is within them; so is what a scanner gives of it."""
    assert MOST_SAMPLES >= (3000 / 0.75) * (2000 / 0.75)


# Lands, pulls and caps are worked out where they lie, with the same heights to the last bit


def crowded(seed: int) -> Front:
    """Return a front with lands, pulls and caps all over it, some on its edges, some on top of one another."""
    chance = np.random.default_rng(seed)

    def one(most: float) -> dict[str, Any]:
        size = chance.uniform(4.0, most, 2)
        centre = [chance.uniform(side / 2, whole - side / 2) for side, whole in zip(size, (200.0, 120.0), strict=True)]
        return {"centre": centre, "size": size.tolist()}

    lands = [
        one(40.0)
        | {"shape": chance.choice(list(Shape)), "keep": chance.choice(list(Keep)), "height": chance.uniform(8.0, 19.0)}
        | {"blend": float(chance.choice([0.0, 3.0, 12.0, 40.0]))}
        for _ in range(25)
    ]
    pulls = [one(50.0) | {"depth": chance.uniform(1.0, 9.0), "edge": chance.uniform(1.0, 4.0)} for _ in range(4)]
    caps = [
        {
            "edge": edge,
            "width": chance.uniform(0.0, 20.0),
            "height": chance.uniform(9.0, 19.0),
            "blend": chance.uniform(2.0, 30.0),
        }
        | ({"door": door} if door else {})
        for edge in Edge
        for door in (None, 1, 2)
    ]
    return small_front(
        front={"doors": 2, "space": 3}, lands=lands, pulls=pulls, caps=caps, fades=[{"edge": "left", "width": 30}]
    )


def worked_out_everywhere(front: Front, x: Array, y: Array) -> Array:
    """Return the heights at (x, y) with every fade, land, pull and cap worked out at every place, plainly as it is defined."""
    job, fitted = front.job, front.surface.fitted
    relief = combined(job.layers, Canvas(front.layout.width, front.layout.height))
    z = np.array(np.broadcast_to(relief(x, y), np.broadcast_shapes(x.shape, y.shape))) * fitted.scale + fitted.offset
    for fade in job.fades:
        z = job.highest + smooth_step(np.abs(x - 0.0) / fade.width) * (z - job.highest)
    for land in job.lands:
        right, up = np.abs(x - land.centre[0]), np.abs(y - land.centre[1])
        wide, high = land.size[0] / 2, land.size[1] / 2
        if land.shape is Shape.RECTANGLE:
            away = np.hypot(np.maximum(right - wide, 0.0), np.maximum(up - high, 0.0))
        else:
            ray = np.hypot(right / wide, up / high)
            away = np.where(ray > 1.0, np.hypot(right, up) * (1.0 - 1.0 / np.maximum(ray, 1.0)), 0.0)
        share = 1.0 - smooth_step(away / land.blend) if land.blend else (away <= 0.0).astype(np.float64)
        target = land.height if land.keep is Keep.FLAT else smooth_maximum(z, float(land.height or 0.0), 1.0)
        z = z + share * (target - z)
    for pull in job.pulls:
        z = z - pull_depth(pull) * pull_share(pull, x, y)
    for cap in job.caps:
        for door in front.layout.doors:
            if cap.door in (None, door.number):
                side = {"left": door.left, "right": door.right, "top": door.top, "bottom": door.bottom}[cap.edge.value]
                place = y if cap.edge in (Edge.TOP, Edge.BOTTOM) else x
                rise = smooth_step((np.abs(place - side) - cap.width) / cap.blend)
                limit = cap.height + rise * (job.highest + 1.0 - cap.height)
                z = np.where((x >= door.left) & (x <= door.right), smooth_minimum(z, limit, 1.0), z)
    return z


@pytest.mark.parametrize("seed", range(4))
def test_lands_pulls_and_caps_are_the_same_to_the_last_bit_as_if_worked_out_everywhere(seed: int) -> None:
    front = crowded(seed)
    x, y = np.linspace(0.0, 200.0, 401), np.linspace(0.0, 120.0, 241)
    land = front.job.lands[0]
    # Edges and ends of a land and of its blend are places too.
    x = np.sort(
        np.append(x, [land.centre[0] + way * (land.size[0] / 2 + off) for way in (-1, 1) for off in (0.0, land.blend)])
    )
    grid = x[None, :], y[:, None]
    assert np.array_equal(front.surface.wanted(*grid), worked_out_everywhere(front, *grid))
    chance = np.random.default_rng(seed)
    points = chance.uniform(0.0, 200.0, 3000), chance.uniform(0.0, 120.0, 3000)
    assert np.array_equal(front.surface.wanted(*points), worked_out_everywhere(front, *points))


def test_a_land_costs_what_it_covers() -> None:
    """Counted in places that are changed: a hundred small lands touch fewer than the front has, not a hundred times as many."""
    touched = 0

    class Counted(np.ndarray[Any, Any]):
        def __setitem__(self, where: Any, value: Any) -> None:
            nonlocal touched
            touched += np.asarray(value).size
            super().__setitem__(where, value)

    lands = [{"centre": [10 + 18 * (n % 10), 8 + 11 * (n // 10)], "size": [4, 4], "blend": 2} for n in range(100)]
    front = small_front(lands=lands)
    x, y = np.linspace(0.0, 200.0, 201)[None, :], np.linspace(0.0, 120.0, 121)[:, None]
    z = np.zeros((121, 201)).view(Counted)
    for step in front.surface._steps:
        z = step(x, y, z)
    assert 100 * 9 * 9 / 2 < touched < 201 * 121


# The fuzzer itself


@pytest.mark.parametrize("base", fuzzing.bases(), ids=lambda base: base["title"])
def test_what_the_fuzzer_begins_from_is_good(tmp_path: Path, base: dict[str, Any]) -> None:
    fuzzing.files_beside(tmp_path)
    assert fuzzing.wrong_findings(build_front(make_job(base, folder=tmp_path))) == ""


def test_the_fuzzer_reaches_every_section_and_every_kind_of_relief() -> None:
    found = [place for base in fuzzing.bases() for place, _ in fuzzing.places(base)]
    assert {place[0] for place in found} == set(Job.model_fields)
    for model in models_of(Job, set()):
        assert set(model.model_fields) <= {part for place in found for part in place}, model


@pytest.mark.parametrize(
    ("error", "words"),
    [
        (FacadeError("something is wrong"), "names no field"),
        (JobError([]), "without a word"),
        (JobError([Mistake("a", "`a` Input should be a number")]), "not ours"),
        (JobError([Mistake("a", f"`a{number}` is wrong") for number in range(30)]), "30 sentences"),
    ],
)
def test_the_fuzzer_knows_a_bad_refusal(error: FacadeError, words: str) -> None:
    assert words in fuzzing.wrong_refusal(error)


def hang() -> None:
    while True:
        pass


def test_the_fuzzer_ends_what_hangs() -> None:
    with fuzzing.in_time(0.05), pytest.raises(fuzzing.TookTooLong):
        hang()


def test_jobs_made_wrong_on_purpose_are_taken_or_refused(tmp_path: Path) -> None:
    """A part of `python tests/fuzzing.py`, the same cases on every run."""
    ends, failures = fuzzing.fuzz(120, 1, tmp_path)
    assert failures == [], "\n".join(map(str, failures))
    assert ends["built"] > 10
    assert ends["refused"] > 10
