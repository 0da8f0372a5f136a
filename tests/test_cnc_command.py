"""`facade cnc` and `facade proof` as they are used: what they say, their exit codes, what stays on disk."""

from __future__ import annotations

import csv
import json
from pathlib import Path

import pytest
from test_build import JOB, contents
from test_cli import run

from facade.build import write
from facade.front import build_front
from facade.job import read_job
from facade.making import Output


@pytest.fixture
def job(tmp_path: Path) -> Path:
    path = tmp_path / "small.toml"
    path.write_text(JOB)
    return path


def test_both_routes_and_a_build_share_a_folder_and_are_proved(job: Path, tmp_path: Path, capsys) -> None:
    out, folder = tmp_path / "out", tmp_path / "out" / "small"
    for route in ("side", "face"):
        assert run("cnc", job, "--route", route, "--out", out) == 0
    assert run("build", job, "--out", out, "--proof") == 0
    said = capsys.readouterr().out
    names = {path.relative_to(folder).as_posix() for path in folder.rglob("*") if path.is_file()}
    assert {"front.png", "proof.png", "cnc-side/sizes.csv", "cnc-face/times.csv", "manifest.json"} <= names
    assert any(name.endswith("_2-finish_mm.ngc") for name in names)
    assert f"{len(names) - 1} files agree" in said


def test_what_is_said_of_the_face_route_names_times_fixtures_and_blanks(job: Path, tmp_path: Path, capsys) -> None:
    assert run("cnc", job, "--route", "face", "--out", tmp_path / "out") == 0
    said = " ".join(capsys.readouterr().out.split())
    times = list(csv.DictReader((tmp_path / "out/small/cnc-face/times.csv").read_text().splitlines()))
    assert f"about {round(float(times[-1]['minutes']))} min in all" in said
    assert "Fixture 1: door 1, strips 1 to" in said
    assert "Measure yours before any file is used" in said
    assert "Have them proved before wood is cut: facade proof" in said


def test_a_route_for_a_program_to_read(job: Path, tmp_path: Path, capsys) -> None:
    assert run("cnc", job, "--route", "side", "--strip", "3", "--out", tmp_path / "out", "--json") == 0
    said = json.loads(capsys.readouterr().out)
    folder = Path(said["folder"])
    for file in said["files"]:
        assert (folder / file["name"]).stat().st_size == file["size"]


def test_a_proof_for_a_program_to_read(job: Path, tmp_path: Path, capsys) -> None:
    run("cnc", job, "--route", "side", "--strip", "3", "--out", tmp_path / "out")
    capsys.readouterr()
    assert run("proof", tmp_path / "out" / "small", "--json") == 0
    said = json.loads(capsys.readouterr().out)
    assert {file["verdict"] for file in said["files"]} == {"agrees"}


def test_a_spoilt_file_ends_a_proof_with_1_and_is_named(job: Path, tmp_path: Path, capsys) -> None:
    run("cnc", job, "--route", "face", "--out", tmp_path / "out")
    code = next((tmp_path / "out" / "small").rglob("*_2-finish_mm.ngc"))
    code.write_text(code.read_text().replace("G21", "G20", 1))
    capsys.readouterr()
    assert run("proof", tmp_path / "out" / "small") == 1
    said = capsys.readouterr().out
    assert code.name in said
    assert "Cut nothing from" in said


def test_a_folder_that_no_build_has_written_is_refused(tmp_path: Path, capsys) -> None:
    (tmp_path / "photo.txt").write_text("my own")
    assert run("proof", tmp_path) == 2
    assert "name the folder that a build has written" in capsys.readouterr().err
    assert contents(tmp_path) == {"photo.txt": b"my own"}


@pytest.mark.parametrize(
    ("settings", "options", "said"),
    [
        ("", ["--blank", "8"], "`as_built.blank` must be more than the floor, 8 mm (got 8 mm)"),
        ("", ["--keep"], "`--keep` needs something to keep: give `--blank` with it"),
        ("", ["--blank", "soon"], "--blank"),
        ("", ["--strip", "99"], "strip 99 is not there"),
        ("[machine]\nwords = 'tape'", [], "`machine.words` must be one of rs274, iso6983"),
        ("[machine]\nbed = [40, 60]", [], "`machine.bed` must reach at least"),
        ("[machine]\nbed = [300, 900]\nstrips = 8", [], "take fewer strips to a fixture"),
        ("[machine.finishing]\nspindle = 0", [], "`machine.finishing.spindle` must be more than 0"),
        ("[machine.finishing]\nstep = 0", [], "`machine.finishing.step` must be more than 0"),
        ("[machine.finishing]\nstep = 9", [], "`machine.finishing.step` must be at most the cutter's diameter"),
        ("[machine.finishing]\nradius = -1", [], "`machine.finishing.radius` must be"),
        ("[machine.roughing]\nstep = 20", [], "`machine.roughing.step` must be at most the cutter's diameter"),
        ("[machine.roughing]\nlevel = 0", [], "`machine.roughing.level` must be more than 0"),
        ("[machine]\nspeed = 3", [], "machine.speed"),
    ],
)
def test_what_a_machine_cannot_do_is_one_sentence_and_an_untouched_disk(
    settings: str, options: list[str], said: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    path = tmp_path / "job.toml"
    path.write_text(f"{JOB}\n{settings}\n")
    assert run("cnc", path, "--route", "face", "--out", tmp_path / "out", *options) == 2
    error = capsys.readouterr().err
    assert said in error
    assert len(error.strip().splitlines()) == 1
    assert "job.toml, line" in error or not settings
    assert set(contents(tmp_path)) == {"job.toml"}


@pytest.mark.parametrize(
    ("settings", "said"),
    [
        ("apart = 3", "must pass between a strip and the stop of the next"),
        ("cutter = 20\napart = 15", "must pass between a strip and the stop of the next"),
        ("length = 10\nreach = 15", "so that the holder stays above strips"),
        ("length = 10\nshank = 12", "must be at most the cutter's 8 mm"),
    ],
)
def test_a_cutter_that_does_not_go_between_strips_and_stops_is_refused(
    settings: str, said: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    path = tmp_path / "job.toml"
    path.write_text(f"{JOB}\n[machine.side]\n{settings}\n")
    assert run("cnc", path, "--route", "side", "--out", tmp_path / "out") == 2
    assert said in capsys.readouterr().err
    assert set(contents(tmp_path)) == {"job.toml"}


def test_files_of_a_front_that_the_checks_stop_say_so(tmp_path: Path, capsys) -> None:
    path = tmp_path / "thin.toml"
    path.write_text(JOB.replace("floor = 8", "floor = 3"))
    assert run("cnc", path, "--route", "face", "--out", tmp_path / "out") == 1
    assert "NOT CLEARED" in capsys.readouterr().out
    folder = tmp_path / "out" / "thin" / "cnc-face"
    for file in (*folder.glob("programs/*.ngc"), folder / "read-me.txt"):
        assert "NOT CLEARED" in file.read_text()
    assert run("cnc", path, "--route", "side", "--out", tmp_path / "strict", "--strict") == 1
    assert not (tmp_path / "strict").exists()


def test_a_build_of_another_design_takes_the_files_for_machines_away(job: Path, tmp_path: Path) -> None:
    out, folder = tmp_path / "out", tmp_path / "out" / "small"
    assert run("cnc", job, "--route", "side", "--out", out, "--proof") == 0
    assert run("build", job, "--out", out) == 0
    assert (folder / "cnc-side" / "sizes.csv").exists()
    job.write_text(JOB.replace("floor = 8", "floor = 8.5"))
    assert run("build", job, "--out", out) == 0
    assert not (folder / "cnc-side").exists()
    assert not (folder / "proof.png").exists()


def test_a_measured_blank_is_said_in_every_text(job: Path, tmp_path: Path, capsys) -> None:
    assert run("cnc", job, "--route", "face", "--blank", "19.7", "--out", tmp_path / "out") == 0
    assert "19.7 mm thick as measured, 20 mm in the job" in " ".join(capsys.readouterr().out.split())
    folder = tmp_path / "out" / "small-blank-19.7" / "cnc-face"
    for file in (*folder.glob("programs/*.ngc"), folder / "read-me.txt"):
        assert "19.7 mm" in file.read_text()


@pytest.mark.parametrize("output", [Output.CNC_SIDE, Output.CNC_FACE])
@pytest.mark.parametrize("floor", [8, 3])
def test_files_begun_before_the_checks_are_those_made_after_them(output: Output, floor: int, tmp_path: Path) -> None:
    """Asked for alone they are begun while the front is checked, beside others afterwards; a floor of 3 mm stops the job."""
    path = tmp_path / "small.toml"
    path.write_text(JOB.replace("floor = 8", f"floor = {floor}") + "\n[machine]\nwaste = 40\n")
    front = build_front(read_job(path))
    alone = write(front, tmp_path / "alone", outputs=[output])
    beside = write(front, tmp_path / "beside", outputs=[output, Output.PARTS])
    assert any(one.stops for one in alone.findings) == (floor == 3)
    first, second = (
        {file.name: file.sha256 for file in one.files if file.name.startswith("cnc-")} for one in (alone, beside)
    )
    assert first
    assert first == second
