"""`facade paper` and `facade printer` as they are typed."""

from __future__ import annotations

import json
from pathlib import Path

import pypdfium2
import pytest
from helpers import a_job
from readers import pdf_sizes
from test_paper import _toml

from facade.cli import SHEETS, main
from facade.job import read_job
from facade.printing import printers
from facade.templates.piece import Kind


@pytest.fixture
def job(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.setattr(printers, "settings_file", lambda: tmp_path / "settings" / "printers.json")
    path = tmp_path / "doors.toml"
    path.write_text("\n".join(_toml(a_job(title="Small doors"))), "utf-8")
    return path


def run(capsys: pytest.CaptureFixture[str], *words: object) -> tuple[int, str, str]:
    code = main(list(map(str, words)))
    said = capsys.readouterr()
    return code, said.out, said.err


def test_the_kinds_of_the_command_are_those_of_the_pack() -> None:
    assert tuple(Kind) == SHEETS


def test_the_whole_pack(job: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    code, out, _ = run(capsys, "paper", job, "--out", tmp_path)
    assert code in (0, 1)
    count = len(pypdfium2.PdfDocument(tmp_path / "doors" / "paper.pdf"))
    assert out.startswith(f"Paper: {count} sheets of A4, or ")
    assert len(list((tmp_path / "doors" / "paper").glob("*.svg"))) == count
    assert "Read me first" in out
    assert ("NOT CLEARED" in out) == (code == 1)


def test_one_strip_alone_lands_beside_the_rest(job: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    code, out, _ = run(capsys, "paper", job, "--out", tmp_path, "--strip", 3, "--json")
    assert code == 0
    said = json.loads(out)
    assert said["folder"] == str(tmp_path / "doors-strip-3")
    assert {(tmp_path / "doors-strip-3" / name).is_file() for name in said["files"]} == {True}
    assert not (tmp_path / "doors").exists()


def test_sheets_keep_their_numbers_when_they_come_alone(
    job: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    run(capsys, "paper", job, "--out", tmp_path)
    whole = {path.name: path.read_bytes() for path in (tmp_path / "doors" / "paper").glob("*.svg")}
    run(capsys, "paper", job, "--out", tmp_path, "--sheet", "2,4-5")
    alone = {path.name: path.read_bytes() for path in (tmp_path / "doors-sheet-2-4-5" / "paper").glob("*.svg")}
    assert len(alone) == 3
    assert alone == {name: whole[name] for name in alone}


@pytest.mark.parametrize(
    ("size", "page"), [("Letter", (215.9, 279.4)), ("tabloid", (279.4, 431.8)), ("A3", (297, 420))]
)
def test_paper_of_any_size(
    job: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str], size: str, page: tuple[float, float]
) -> None:
    run(capsys, "paper", job, "--out", tmp_path, "--paper", size, "--only", "first,sides")
    sizes = pdf_sizes((tmp_path / "doors-first-sides" / "paper.pdf").read_bytes())
    assert sizes[0] == pytest.approx(page, abs=0.01)
    assert sizes[-1] == pytest.approx(page[::-1], abs=0.01)


def test_a_roll(job: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    run(capsys, "paper", job, "--out", tmp_path, "--roll", "24 in", "--only", "sides")
    for sides in pdf_sizes((tmp_path / "doors-sides" / "paper.pdf").read_bytes()):
        assert min(abs(side - 609.6) for side in sides) <= 0.01


def test_a_measured_printer_is_used_and_said(job: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    code, out, _ = run(
        capsys, "printer", "hall printer", "--short", 179.1, "--long", "251 mm", "--paper", "A3", "--margins", "5,13"
    )
    assert code == 0
    assert "short side +0.5 %, long side −0.4 %" in out
    assert "hall printer: A3, margins 5 mm at the sides, 13 mm at the ends" in run(capsys, "printer")[1]
    run(capsys, "paper", job, "--out", tmp_path, "--printer", "hall printer", "--strip", 1)
    folder = tmp_path / "doors-strip-1"
    assert pdf_sizes((folder / "paper.pdf").read_bytes())[0] == pytest.approx((420, 297), abs=0.01)
    assert "corrected for: hall printer" in next((folder / "paper").glob("*.svg")).read_text("utf-8")
    run(capsys, "printer", "hall printer", "--forget")
    assert "No printer was measured yet" in run(capsys, "printer")[1]


def test_what_came_out_otherwise_is_printed_beside_the_pack_that_stands(
    job: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    run(capsys, "paper", job, "--out", tmp_path)
    before, text = contents(tmp_path / "doors"), job.read_text("utf-8")
    _, out, _ = run(capsys, "paper", job, "--out", tmp_path, "--missing", "3", "--stack", "224.5")
    folder = tmp_path / "doors-missing-3-stack-224.5"
    assert str(folder / "paper.pdf") in out
    sheets = [path.read_text("utf-8") for path in sorted((folder / "paper").glob("*.svg"))]
    assert all("without 3, strips 22.45 wide" in sheet for sheet in sheets)
    assert (folder / "job" / "doors.toml").read_text("utf-8").endswith("missing = [3] # added\nstack = 224.5 # added\n")
    assert contents(tmp_path / "doors") == before
    assert job.read_text("utf-8") == text


def test_what_came_out_otherwise_can_be_kept_in_the_job_file(
    job: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    run(capsys, "paper", job, "--out", tmp_path)
    job.write_text("# my own words\n" + job.read_text("utf-8"), "utf-8")
    _, _, err = run(capsys, "paper", job, "--out", tmp_path, "--missing", "3", "--blank", "19.5 mm", "--keep")
    assert "# my own words" in job.read_text("utf-8")
    state = read_job(job).as_built
    assert (state.missing, state.blank) == ((3,), 19.5)
    # Another plan replaces the pack that stands, and says so before it does.
    assert "as designed: this pack" in err
    assert "without 3" in err
    # From now on the job is built so, without being asked.
    mark = json.loads((tmp_path / "doors" / "manifest.json").read_text("utf-8"))["mark"]
    run(capsys, "paper", job, "--out", tmp_path)
    again = json.loads((tmp_path / "doors" / "manifest.json").read_text("utf-8"))
    assert again["mark"] == mark
    assert again["front"]["strips"] == 7
    assert run(capsys, "paper", job, "--out", tmp_path, "--missing", "3", "--keep")[2] == ""


@pytest.mark.parametrize(
    "words", [["--strip", 3], ["--sheet", 2], ["--roll", 610], ["--line", "carve"], ["--only", "sticks"]]
)
def test_a_part_or_a_variant_never_replaces_the_whole_pack(
    words: list[object], job: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    run(capsys, "paper", job, "--out", tmp_path)
    before = contents(tmp_path / "doors")
    assert run(capsys, "paper", job, "--out", tmp_path, *words)[0] != 2
    assert contents(tmp_path / "doors") == before


def contents(folder: Path) -> dict[str, bytes]:
    return {path.relative_to(folder).as_posix(): path.read_bytes() for path in folder.rglob("*") if path.is_file()}


def test_what_was_printed_and_did_not_change_is_not_printed_again(
    job: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    text = job.read_text("utf-8") + '\n[carving]\nfit = "depth"\ndepth = 8\n'
    job.write_text(text, "utf-8")
    run(capsys, "paper", job, "--out", tmp_path)
    land = "\n[[lands]]\ncentre = [20, 60]\nsize = [16, 30]\nheight = 15\nblend = 4\n"
    job.write_text(text + land, "utf-8")
    _, out, _ = run(capsys, "paper", job, "--out", tmp_path)
    assert "Not printed again" in out
    assert "marked NEW" in out
    lists = " ".join(path.read_text("utf-8") for path in (tmp_path / "doors" / "paper").glob("*-lists.svg"))
    assert "riangle" in lists
    _, out, _ = run(capsys, "paper", job, "--out", tmp_path, "--all")
    assert "Not printed again" not in out


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (["--strip", "99"], "strip 99 is not there: this front has strips 1 to 8"),
        (["--sheet", "900"], "sheet 900 is not there"),
        (["--missing", "99"], "strip 99 is not there"),
        (["--margins", "120"], "margins"),
        (["--margins", "1,2,3"], "`--margins` are one length, or two"),
        (["--paper", "A9"], "'A9' is not known"),
        (["--paper", "A4", "--roll", "610"], "not both"),
        (["--roll", "12"], "a roll's width must be"),
        (["--roll", "wide"], "`--roll` must be a length"),
        (["--keep"], "`--keep` needs something to keep"),
        (["--missing", "3", "--keep", "--paper", "A9"], "'A9' is not known"),
        (["--blank", "0"], "`--blank` must be more than 0"),
        (["--blank", "5"], "`as_built.blank` must be more than the floor"),
        (["--stack", "0"], "`--stack` must be more than 0"),
        (["--stack", "2500"], "ten strips"),
        (["--spacers", "300"], "ten spacers"),
        (["--printer", "nobody"], "'nobody' is not known"),
    ],
)
def test_bad_input_is_one_sentence_and_changes_nothing(
    job: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str], words: list[str], said: str
) -> None:
    before = sorted(tmp_path.rglob("*"))
    code, out, err = run(capsys, "paper", job, "--out", tmp_path, *words)
    assert code == 2
    assert said in err
    assert err.startswith("facade: ")
    assert len(err.splitlines()) == 1
    assert sorted(tmp_path.rglob("*")) == before
    assert "Paper:" not in out


@pytest.mark.parametrize("words", [["--only", "foo"], ["--strip", "x"], ["--strip", "9-3"], ["--sheet", ""]])
def test_words_that_are_none_are_refused(job: Path, words: list[str]) -> None:
    with pytest.raises(SystemExit) as caught:
        main(["paper", str(job), *words])
    assert caught.value.code == 2


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (["hall", "--short", "0", "--long", "250"], "must be more than 0"),
        (["hall", "--short", "180", "--long", "2500"], "which no printer does"),
        (["hall", "--short", "175", "--long", "250"], "print dialog"),
        (["hall", "--short", "180"], "type what both lines"),
        (["  ", "--short", "180", "--long", "250"], "needs a name"),
        (["hall", "--forget"], "'hall' is not known"),
    ],
)
def test_figures_that_cannot_be_are_refused(
    job: Path, capsys: pytest.CaptureFixture[str], words: list[str], said: str
) -> None:
    code, _, err = run(capsys, "printer", *words)
    assert code == 2
    assert said in err
    assert not printers.settings_file().exists()
