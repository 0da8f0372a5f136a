"""What the README says is true: its examples run, its tables are complete."""

from __future__ import annotations

import io
import re
import shlex
import tomllib
from pathlib import Path

import pytest
from ezdxf.filemanagement import read
from test_quality import ROOT

from facade.build import Output, write
from facade.checks import CHECKS, check_front
from facade.cli import _parser
from facade.cnc import pack
from facade.cnc.order import Order, Route
from facade.cnc.side_files import side_files
from facade.front import build_front
from facade.job import make_job, read_job
from facade.presets import presets
from facade.reliefs import KINDS

README = (ROOT / "README.md").read_text("utf-8")


def block(first: str) -> str:
    """Return the indented block of the README that begins with a line starting so."""
    lines = README.splitlines()
    start = next(index for index, line in enumerate(lines) if line.startswith("    " + first))
    found = []
    for line in lines[start:]:
        if line.strip() and not line.startswith("    "):
            break
        found.append(line[4:])
    return "\n".join(found)


def test_the_job_file_of_the_readme_builds() -> None:
    assert build_front(make_job(tomllib.loads(block("title =")))).count == 42


def test_what_the_readme_tells_the_checks_is_understood_and_stops_nothing() -> None:
    job = make_job(tomllib.loads(f"{block('title =')}\n{block('[cutter]')}"))
    assert [finding.sentence for finding in check_front(build_front(job)) if finding.weight == "stops"] == []


def test_the_machine_of_the_readme_cuts_its_front() -> None:
    front = build_front(make_job(tomllib.loads(f"{block('title =')}\n{block('[machine]')}")))
    for route in Route:
        assert pack.names(front, Order(route))


def test_the_light_of_the_readme_is_understood() -> None:
    job = make_job(tomllib.loads(f"{block('title =')}\n{block('[picture]')}"))
    assert all(light.value in README for light in type(job.picture.light))


def test_the_readme_names_every_layer_of_a_profile() -> None:
    front = build_front(make_job(tomllib.loads(block("title ="))))
    order = Order(Route.SIDE, strips=(3, 4))
    data = [data.decode("ascii") for name, data, _ in side_files(front, order) if name.endswith("dxf")]
    layers = {one.dxf.layer for text in data for one in read(io.StringIO(text)).modelspace()}
    assert [layer for layer in sorted(layers) if layer not in README] == []
    assert len(layers) >= 8


def test_the_readme_names_every_check() -> None:
    assert set(re.findall(r"^\| ([a-z ]+) \| ", README, re.MULTILINE)) >= set(CHECKS)


def test_the_python_of_the_readme_runs(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.chdir(tmp_path)
    (tmp_path / "presets").symlink_to(ROOT / "presets")
    exec(compile(block("from facade import"), "README.md", "exec"), {})
    assert "Spot(" in capsys.readouterr().out
    assert (tmp_path / "out" / "hall-cabinet" / "front.png").is_file()


def test_the_readme_names_every_kind_of_relief() -> None:
    assert set(re.findall(r"^\| (\w+) \| ", README, re.MULTILINE)) >= set(KINDS)


def test_every_command_that_the_readme_or_the_guide_gives_is_understood() -> None:
    text = README + (ROOT / "DEVELOPERS.md").read_text("utf-8")
    given = re.findall(r"`(facade [^`]+)`", text) + re.findall(r"^    (facade .+)$", text, re.MULTILINE)
    assert len(given) >= 20
    for command in given:
        _parser().parse_args(shlex.split(command, comments=True)[1:])


def test_every_output_is_explained(tmp_path: Path) -> None:
    front = build_front(read_job(ROOT / "presets" / "linen-cupboard.toml"))
    build = write(front, tmp_path, outputs=[Output.OFFSETS, Output.PARTS, Output.VIEW, Output.SOLID])
    for file in build.files:
        assert file.name.partition("/")[0].removesuffix(".toml") in README


def test_every_picture_of_the_readme_is_there() -> None:
    for name in re.findall(r"!\[[^]]*\]\(([^)]+)\)", README):
        assert (ROOT / name).is_file(), name


def test_every_room_is_in_the_guide() -> None:
    guide = (ROOT / "DEVELOPERS.md").read_text("utf-8")
    for path in (ROOT / "facade").iterdir():
        if (path.suffix == ".py" and not path.name.startswith("__")) or (path / "__init__.py").is_file():
            assert f"`{path.name}" in guide, path.name


@pytest.mark.parametrize("name", presets())
def test_every_preset_builds_as_it_is_and_nothing_stops_it(name: str) -> None:
    front = build_front(read_job(ROOT / "presets" / f"{name}.toml"))
    assert [finding.sentence for finding in check_front(front) if finding.weight == "stops"] == []


@pytest.mark.parametrize("name", presets())
def test_every_preset_has_its_picture(name: str) -> None:
    assert (ROOT / "presets" / f"{name}.jpg").is_file()


def test_every_kind_of_sheet_is_in_the_readme() -> None:
    from facade.templates.piece import Kind

    text = (ROOT / "README.md").read_text("utf-8")
    assert [kind for kind in Kind if f"| {kind.value} |" not in text] == []
