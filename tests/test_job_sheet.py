"""The sheet that is taken to the machine: what must be on it, in the job's unit, for every way of holding."""

from __future__ import annotations

import csv
import io
import re
from functools import cache

import pytest
from helpers import small_front
from readers import pdf_sizes, pdf_words

from facade.cnc.face import face_files, face_names
from facade.cnc.fixture import fixtures
from facade.cnc.job_sheet import JOB_SHEET, readings
from facade.cnc.order import Order, Route
from facade.front import Front
from facade.lengths import MM_PER_INCH

FACE = Order(Route.FACE)
SIZE = {"front": {"width": 420, "height": 300}, "strips": {"count": 18}, "layers": [{"kind": "hills", "size": 200}]}
JOBS = {
    "gaps": SIZE,
    "packed": {**SIZE, "carving": {"packed": True}},
    "glued": {**SIZE, "fixing": {"by": "glue"}, "machine": {"hold": "tape"}},
    "thin": {**SIZE, "wood": {"species": "white ash", "blank": 12, "floor": 2}},
    "one": {"front": {"width": 60, "height": 120}, "strips": {"count": 1}, "layers": [{"kind": "hills", "size": 90}]},
    "inch": {
        "unit": "in",
        "front": {"width": 16, "height": 12},
        "strips": {"count": 18},
        "wood": {"species": "white ash", "blank": "3/4 in", "floor": "5/16 in"},
        "layers": [{"kind": "hills", "size": 8}],
    },
}
every_job = pytest.mark.parametrize("name", JOBS)


@cache
def front_of(name: str) -> Front:
    return small_front(**JOBS[name])


@cache
def files_of(name: str) -> dict[str, bytes]:
    return {file: data for file, data, _ in face_files(front_of(name), FACE)}


@cache
def words_of(name: str) -> str:
    data = files_of(name)[JOB_SHEET]
    return bare(" ".join(pdf_words(data, page) for page in range(len(pdf_sizes(data)))))


def bare(text: str) -> str:
    """Return a text without its blanks: a PDF keeps none between its words."""
    return re.sub(r"\s+", "", text)


@every_job
def test_the_names_are_known_beforehand(name: str) -> None:
    assert sorted(face_names(front_of(name), FACE)) == sorted(files_of(name))


@every_job
def test_programs_drawings_and_solids_lie_in_folders_of_their_own(name: str) -> None:
    for file in files_of(name):
        folder, ending = file.rpartition("/")[0], file.rpartition(".")[2]
        if folder == "":
            assert file in ("job-sheet.pdf", "read-me.txt", "times.csv")
        else:
            assert folder == {
                "ngc": "programs",
                "dxf": "drawings",
                "svg": "drawings",
                "pdf": "drawings",
            }.get(ending, folder)
            assert folder in ("programs", "drawings", "solids", "solids/strips")


@every_job
def test_a_sheet_says_what_is_needed_at_the_machine(name: str) -> None:
    said = words_of(name)
    for needed in (
        "lower left machined corner of the spoilboard",
        "Order of work",
        "Cutters",
        "Holding",
        "Cautions",
        "What a calliper should read",
        "Dust",
        front_of(name).mark,
    ):
        assert bare(needed) in said, needed
    assert "safe" not in said.lower()


@every_job
def test_every_program_stands_on_it_with_the_minutes_of_the_table_of_times(name: str) -> None:
    said = words_of(name)
    *rows, _ = csv.DictReader(io.StringIO(files_of(name)["times.csv"].decode()))
    assert len(rows) == 2 * len(fixtures(front_of(name), FACE))
    for row in rows:
        assert bare(row["file"].removeprefix("programs/")) in said
        whole = max(1, round(float(row["minutes"])))
        near = {
            f"{hours} h {rest:02d} min" if hours else f"{rest} min"
            for hours, rest in (divmod(whole + d, 60) for d in (-1, 0, 1))
        }
        assert any(bare(one) in said for one in near)


@every_job
def test_what_a_calliper_reads_stands_on_it(name: str) -> None:
    front = front_of(name)
    for fixture in fixtures(front, FACE):
        for _, height in readings(front, fixture):
            shown = f"{height:.2f}" if name != "inch" else f"{height / MM_PER_INCH:.3f}"
            assert shown in words_of(name)


def test_a_sheet_in_inches_holds_no_millimetres() -> None:
    assert not re.search(r"\dmm[^a-z]", words_of("inch"))
    text = files_of("inch")["read-me.txt"].decode()
    assert not re.search(r"\d mm\b", text)


def test_what_holds_glued_strips_is_said() -> None:
    assert bare("double-sided tape") in words_of("glued")


def test_a_job_that_the_checks_stop_says_so_on_the_sheet() -> None:
    stopped = Order(Route.FACE, cleared=False)
    data = next(data for file, data, _ in face_files(front_of("one"), stopped) if file == JOB_SHEET)
    assert bare("NOT CLEARED") in bare(pdf_words(data, 0))
