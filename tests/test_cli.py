"""The command line as a maker uses it: what it says, its exit codes, and that bad input changes nothing."""

from __future__ import annotations

import json
import re
import subprocess
import sys
from pathlib import Path

import jsonschema
import numpy as np
import pytest
from test_build import JOB, contents

from facade.cli import main
from facade.presets import presets


def run(*arguments: str | Path) -> int:
    return main([str(argument) for argument in arguments])


@pytest.fixture
def job(tmp_path: Path) -> Path:
    path = tmp_path / "small.toml"
    path.write_text(JOB)
    return path


def test_start_lists_the_presets(capsys: pytest.CaptureFixture[str]) -> None:
    assert run("start") == 0
    listed = capsys.readouterr().out
    assert all(name in listed for name in presets())


def test_start_writes_a_job_that_builds(tmp_path: Path) -> None:
    assert run("start", "valley-chest", tmp_path / "mine.toml") == 0
    assert run("check", tmp_path / "mine.toml") == 0


def test_start_never_overwrites(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    (tmp_path / "mine.toml").write_text("my own")
    assert run("start", "hall-cabinet", tmp_path / "mine.toml") == 2
    assert "is there already" in capsys.readouterr().err
    assert contents(tmp_path) == {"mine.toml": b"my own"}


def test_start_writes_nothing_when_a_file_beside_is_in_the_way(tmp_path: Path) -> None:
    (tmp_path / "valley.png").write_text("my own")
    assert run("start", "valley-chest", tmp_path / "mine.toml") == 2
    assert contents(tmp_path) == {"valley.png": b"my own"}


def test_start_knows_the_nearest_preset(capsys: pytest.CaptureFixture[str]) -> None:
    assert run("start", "hall-cabinett") == 2
    assert "did you mean `hall-cabinet`" in capsys.readouterr().err


def test_build_says_what_was_made_and_what_to_look_at_first(job: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert run("build", job, "--out", job.parent / "out") == 0
    said = capsys.readouterr().out
    assert said.index("Look first at") < said.index("sides/")
    assert re.search(r"8 strips on 2 doors, mark [0-9A-Z]{4}-[0-9A-Z]{4}", said)


def test_build_says_its_rules_of_thumb(job: Path, capsys: pytest.CaptureFixture[str]) -> None:
    run("build", job, "--out", job.parent / "out", "--only", "parts")
    said = capsys.readouterr().out
    assert re.search(r"sanding +0\.8 mm +our choice \(wood\.sanding\)", said)
    assert "floor" not in said.split("taken from the rules")[1]


def test_build_for_a_program_to_read(job: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert run("build", job, "--out", job.parent / "out", "--only", "parts,offsets", "--json") == 0
    data = json.loads(capsys.readouterr().out)
    assert {file["name"] for file in data["files"]} == {"parts.csv", "offsets.csv", "job/small.toml"}


def test_check_stops_a_strip_that_breaks_in_the_hand(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    (tmp_path / "thin.toml").write_text(JOB.replace("floor = 8", "floor = 3"))
    assert run("check", tmp_path / "thin.toml") == 1
    said = capsys.readouterr().out
    assert re.search(r"Strip \d+ is 3 mm thick [\d.]+ mm from the top", said)
    assert "safe" not in said.lower()


def test_check_for_a_program_to_read(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    (tmp_path / "thin.toml").write_text(JOB.replace("floor = 8", "floor = 3"))
    run("check", tmp_path / "thin.toml", "--json")
    data = json.loads(capsys.readouterr().out)
    worst = min((one for one in data["findings"] if one["check"] == "thickness"), key=lambda one: one["value"])
    assert data["cleared"] is False
    assert worst["weight"] == "stops"
    assert worst["value"] == pytest.approx(3.0, abs=0.05)
    assert worst["limit"] == 5.0


def test_schema_accepts_what_it_describes(job: Path, tmp_path: Path) -> None:
    import tomllib

    assert run("schema", "--out", tmp_path / "job.schema.json") == 0
    schema = json.loads((tmp_path / "job.schema.json").read_text("utf-8"))
    jsonschema.validate(tomllib.loads(JOB), schema)
    with pytest.raises(jsonschema.ValidationError):
        jsonschema.validate(tomllib.loads(JOB.replace("count", "cuont")), schema)


def test_reliefs_lists_every_kind(capsys: pytest.CaptureFixture[str]) -> None:
    from facade.reliefs import KINDS

    assert run("reliefs") == 0
    listed = capsys.readouterr().out
    assert all(re.search(rf"^ +{kind} ", listed, re.MULTILINE) for kind in KINDS)


def test_reliefs_shows_parameters_with_limits_and_defaults(capsys: pytest.CaptureFixture[str]) -> None:
    assert run("reliefs", "hills") == 0
    said = capsys.readouterr().out
    assert re.search(r"octaves .*\n +whole number from 1 to 8; default \d", said)


def test_catalogue_for_a_program_holds_every_parameter_of_every_kind(capsys: pytest.CaptureFixture[str]) -> None:
    from facade.reliefs import KINDS, Relief

    run("reliefs", "--json")
    data = json.loads(capsys.readouterr().out)
    for name, kind in KINDS.items():
        own = set(kind.model_fields) - set(Relief.model_fields) - {"kind"}
        assert {parameter["name"] for parameter in data[name]["parameters"]} == own


def test_unknown_relief_is_named_with_the_nearest(capsys: pytest.CaptureFixture[str]) -> None:
    assert run("reliefs", "wave") == 2
    assert "did you mean `waves`" in capsys.readouterr().err


BAD = {
    "not TOML": "title = = 3",
    "unknown key": JOB.replace("doors", "dors"),
    "wrong type": JOB.replace("doors = 2", 'doors = "two"'),
    "not a number": JOB.replace("blank = 20", "blank = nan"),
    "infinity": JOB.replace("blank = 20", "blank = inf"),
    "negative": JOB.replace("blank = 20", "blank = -20"),
    "zero": JOB.replace("width = 203", "width = 0"),
    "huge": JOB.replace("width = 203", "width = 1e300"),
    "huge whole number": JOB.replace("width = 203", "width = 1" + 400 * "0"),
    "floor above blank": JOB.replace("floor = 8", "floor = 21"),
    "strips that do not fit": JOB.replace("count = 8", "count = 8\nwidth = 60"),
    "strips that cannot be shared out": JOB.replace("count = 8", "count = 7"),
    "ten thousand strips of a tenth": JOB.replace("count = 8", "count = 10000\nwidth = 0.1").replace(
        "width = 203", "width = 1003"
    ),
    "land outside": JOB + "[[lands]]\ncentre = [200, 80]\nsize = [40, 40]\n",
    "no such grid file": JOB + '[[layers]]\nkind = "grid"\nfile = "none.png"\n',
    "grid outside the folder": JOB + '[[layers]]\nkind = "grid"\nfile = "../../etc/passwd"\n',
    "grid at the root": JOB + '[[layers]]\nkind = "grid"\nfile = "/etc/hostname"\n',
    "grid named by a way round": JOB + '[[layers]]\nkind = "grid"\nfile = "../FOLDER/heights.npy"\n',
    "grid named from the root": JOB + '[[layers]]\nkind = "grid"\nfile = "PARENT/FOLDER/heights.npy"\n',
    "millimetres in a job in inches": JOB.replace('title = "A small front"', 'title = "A small front"\nunit = "in"'),
    "mesh that is none": JOB + '[[layers]]\nkind = "mesh"\nfile = "bad.toml"\n',
}


@pytest.mark.parametrize("text", BAD.values(), ids=BAD.keys())
def test_bad_input_is_one_clear_sentence_and_an_untouched_disk(
    text: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    np.save(tmp_path / "heights.npy", np.eye(3))
    (tmp_path / "bad.toml").write_text(text.replace("PARENT", str(tmp_path.parent)).replace("FOLDER", tmp_path.name))
    before = contents(tmp_path)
    assert run("build", tmp_path / "bad.toml", "--out", tmp_path / "out") == 2
    said = capsys.readouterr()
    assert said.out == ""
    assert "Traceback" not in said.err
    assert said.err
    assert all(re.search(r"bad\.toml, line \d+: ", line) for line in said.err.splitlines())
    assert contents(tmp_path) == before


def test_a_job_that_is_not_there(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert run("build", tmp_path / "none.toml") == 2
    assert "is not there" in capsys.readouterr().err


def test_a_folder_is_no_job(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert run("build", tmp_path) == 2
    assert "is a folder" in capsys.readouterr().err


def test_bytes_that_are_no_text_are_no_job(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    (tmp_path / "bad.toml").write_bytes(b"\xff\xfe\x00title")
    assert run("build", tmp_path / "bad.toml") == 2
    assert "UTF-8" in capsys.readouterr().err


@pytest.mark.parametrize("title", ["</svg><b>x", "../../up", "two\\nlines", "🌊", "\\u202eمرحبا", "x\\u0007y"])
def test_an_odd_title_is_never_a_path_and_never_markup(title: str, tmp_path: Path) -> None:
    (tmp_path / "odd.toml").write_text(JOB.replace("A small front", title), encoding="utf-8")
    assert run("build", tmp_path / "odd.toml", "--out", tmp_path / "out", "--only", "sides,parts") == 0
    assert [path.name for path in (tmp_path / "out").iterdir()] == ["odd"]
    assert {path.name for path in tmp_path.iterdir()} == {"odd.toml", "out"}


def test_an_unknown_output_is_refused(job: Path, capsys: pytest.CaptureFixture[str]) -> None:
    with pytest.raises(SystemExit) as stopped:
        run("build", job, "--only", "sidez")
    assert stopped.value.code == 2
    assert "sidez" in capsys.readouterr().err


def test_python_dash_m_facade_answers() -> None:
    said = subprocess.run([sys.executable, "-m", "facade", "--help"], capture_output=True, text=True, check=True).stdout
    assert all(command in said for command in ("start", "build", "check", "reliefs"))


def test_help_imports_nothing_heavy() -> None:
    code = "import sys; from facade.cli import main\ntry: main(['--help'])\nexcept SystemExit: pass\nprint([m for m in ('numpy', 'pydantic', 'PIL') if m in sys.modules])"
    said = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True).stdout
    assert said.splitlines()[-1] == "[]"


def test_a_console_that_cannot_show_a_letter_is_no_reason_to_fail(tmp_path: Path) -> None:
    (tmp_path / "odd.toml").write_text(JOB.replace("A small front", "Türen 木 🌊"), encoding="utf-8")
    command = [sys.executable, "-m", "facade", "check", str(tmp_path / "odd.toml")]
    done = subprocess.run(
        command, capture_output=True, env={"PYTHONIOENCODING": "ascii", "PATH": "/usr/bin"}, check=False
    )
    assert (done.returncode, done.stderr) == (0, b"")


def test_a_title_cannot_speak_to_the_terminal(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    (tmp_path / "odd.toml").write_text(JOB.replace("A small front", "\\u001b[31mred\\nline"), encoding="utf-8")
    assert run("check", tmp_path / "odd.toml") == 0
    assert "\x1b" not in capsys.readouterr().out


def test_one_strip_is_one_strip(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    (tmp_path / "one.toml").write_text(JOB.replace("count = 8", "count = 1").replace("doors = 2\nspace = 3\n", ""))
    run("build", tmp_path / "one.toml", "--out", tmp_path / "out", "--only", "parts")
    assert "1 strip on 1 door," in capsys.readouterr().out


def test_only_rules_that_count_are_said(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    wide = JOB.replace("count = 8", "width = 18\ngap = 3").replace("width = 203", "width = 620")
    (tmp_path / "three.toml").write_text(wide.replace("doors = 2\nspace = 3", "door_widths = [100, 300, 200]"))
    run("check", tmp_path / "three.toml")
    said = capsys.readouterr().out
    assert "24 mm, 21.5 mm" in " ".join(said.split())
    assert not re.search(r"^ +(space|gap) ", said.split("taken from the rules")[1], re.MULTILINE)


def test_start_into_a_folder_names_the_file_after_the_preset(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    (tmp_path / "my doors").mkdir()
    assert run("start", "linen-cupboard", tmp_path / "my doors") == 0
    assert (tmp_path / "my doors" / "linen-cupboard.toml").is_file()
    assert "facade build '" in capsys.readouterr().out


def test_check_tells_one_strip(job: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert run("check", job, "--strip", "3") == 0
    said = capsys.readouterr().out
    assert "Strip 3, door 1" in said
    assert "carve left edge" in said


def test_check_of_a_strip_that_is_not_there_is_refused(job: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert run("check", job, "--strip", "99") == 2
    assert "strip 99 is not there" in capsys.readouterr().err


def test_check_of_one_strip_for_a_program_to_read(job: Path, capsys: pytest.CaptureFixture[str]) -> None:
    run("check", job, "--strip", "3", "--json")
    data = json.loads(capsys.readouterr().out)
    assert data["strip"]["number"] == 3
    assert {finding["strip"] for finding in data["findings"]} <= {3}
    assert {turn["kind"] for turn in data["strip"]["grain"]["turns"]} <= {"crest", "hollow"}


def test_check_draws_its_picture_again_and_again_but_never_over_another(job: Path, tmp_path: Path) -> None:
    folder = tmp_path / "pictures"
    assert run("check", job, "--pictures", folder) == 0
    assert run("check", job, "--pictures", folder) == 0
    (folder / "check.png").write_bytes(b"a photograph")
    assert run("check", job, "--pictures", folder) == 2
    assert (folder / "check.png").read_bytes() == b"a photograph"


def test_a_build_that_findings_stop_says_so_on_every_sheet(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    (tmp_path / "thin.toml").write_text(JOB.replace("floor = 8", "floor = 3"))
    assert run("build", tmp_path / "thin.toml", "--out", tmp_path / "out") == 1
    assert "NOT CLEARED" in capsys.readouterr().out
    sheets = list((tmp_path / "out" / "thin" / "sides").glob("*.svg"))
    assert len(sheets) == 8
    assert all("NOT CLEARED" in sheet.read_text("utf-8") for sheet in sheets)
    manifest = json.loads((tmp_path / "out" / "thin" / "manifest.json").read_text("utf-8"))
    assert manifest["cleared"] is False


def test_a_strict_build_that_findings_stop_writes_nothing(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    (tmp_path / "thin.toml").write_text(JOB.replace("floor = 8", "floor = 3"))
    assert run("build", tmp_path / "thin.toml", "--out", tmp_path / "out", "--strict") == 1
    assert "nothing was written" in capsys.readouterr().err
    assert not (tmp_path / "out").exists()


def test_a_build_that_nothing_stops_does_not_say_not_cleared(job: Path, tmp_path: Path) -> None:
    assert run("build", job, "--out", tmp_path / "out", "--strict") == 0
    assert all(
        "NOT CLEARED" not in sheet.read_text("utf-8") for sheet in (tmp_path / "out" / "small" / "sides").glob("*.svg")
    )
