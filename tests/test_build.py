"""Building: the same bytes always, whole or not at all, and nothing that is not ours is touched."""

from __future__ import annotations

import hashlib
import json
import os
import signal
import subprocess
import sys
import time
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from helpers import a_job, small_front
from PIL import Image
from readers import table

from facade.build import Build, Output, write
from facade.errors import FileError, JobError
from facade.front import Front, build_front
from facade.job import make_job, read_job
from facade.making import USUAL
from facade.paper import usual_order
from facade.printing.papers import sheet_paper
from facade.screen import build_lines
from facade.slicer import stations

JOB = """title = "A small front"
[front]
width = 203
height = 160
doors = 2
space = 3
[strips]
count = 8
[wood]
species = "white ash"
blank = 20
floor = 8
[[layers]]
kind = "hills"
size = 160
"""


def contents(folder: Path) -> dict[str, bytes]:
    return {
        path.relative_to(folder).as_posix(): path.read_bytes() for path in sorted(folder.rglob("*")) if path.is_file()
    }


@pytest.fixture(scope="module")
def job_file(tmp_path_factory: pytest.TempPathFactory) -> Path:
    path = tmp_path_factory.mktemp("job") / "small.toml"
    path.write_text(JOB)
    return path


@pytest.fixture(scope="module")
def built(job_file: Path, tmp_path_factory: pytest.TempPathFactory) -> Build:
    return write(build_front(read_job(job_file)), tmp_path_factory.mktemp("out"))


@pytest.fixture
def front(job_file: Path) -> Front:
    return build_front(read_job(job_file))


def retitled(front: Front) -> Front:
    """The same front under another title: its folder must be made anew, though nothing is cut otherwise."""
    return replace(front, job=front.job.model_copy(update={"title": "As it was called before"}))


def test_everything_asked_for_is_there(built: Build) -> None:
    names = set(contents(built.folder))
    sides = {f"sides/strip-{n:02d}.svg" for n in range(1, 9)}
    strips = {f"strips/strip-{n:02d}_mm.stl" for n in range(1, 9)}
    whole = {
        "front.stl",
        "front.glb",
        "front.html",
        "front.png",
        "check.png",
        "offsets.csv",
        "parts.csv",
        "manifest.json",
        "job/small.toml",
        "paper.pdf",
    }
    sheets = {name for name in names if name.startswith("paper/")}
    assert names - sheets == sides | strips | whole
    assert built.pack is not None
    assert len(sheets) == len(built.pack.sheets)


def test_manifest_lists_every_file_with_purpose_size_and_hash(built: Build) -> None:
    found = contents(built.folder)
    manifest = json.loads(found.pop("manifest.json"))
    assert {file["name"] for file in manifest["files"]} == set(found)
    for file in manifest["files"]:
        assert file["size"] == len(found[file["name"]])
        assert file["sha256"] == hashlib.sha256(found[file["name"]]).hexdigest()
        assert len(file["purpose"]) > 20


def test_mark_stands_in_the_manifest_on_every_sheet_in_every_table_and_in_every_solid(
    built: Build, front: Front
) -> None:
    for name, data in contents(built.folder).items():
        if not name.startswith("job/") and not name.endswith(".png"):
            assert front.mark.encode() in data, name


def test_same_bytes_in_another_folder(built: Build, front: Front, tmp_path: Path) -> None:
    assert contents(write(front, tmp_path).folder) == contents(built.folder)


def test_same_bytes_with_two_workers(built: Build, front: Front, tmp_path: Path) -> None:
    assert contents(write(front, tmp_path, workers=2).folder) == contents(built.folder)


def test_same_bytes_in_another_process(built: Build, job_file: Path, tmp_path: Path) -> None:
    command = [sys.executable, "-m", "facade", "build", str(job_file), "--out", str(tmp_path)]
    subprocess.run(command, check=True, capture_output=True)
    assert contents(tmp_path / "small") == contents(built.folder)


def test_a_build_beside_its_former_self_changes_nothing(front: Front, tmp_path: Path) -> None:
    first = contents(write(front, tmp_path).folder)
    again = write(front, tmp_path)
    assert contents(again.folder) == first
    assert again.former_mark is None
    assert os.listdir(tmp_path) == ["small"]


def states(folder: Path) -> dict[str, tuple[int, int]]:
    """Return each file's own number on the disk and when it was written: another one is a file made anew."""
    return {
        path.relative_to(folder).as_posix(): (path.stat().st_ino, path.stat().st_mtime_ns)
        for path in folder.rglob("*")
        if path.is_file()
    }


def test_an_unchanged_job_is_not_made_anew(front: Front, tmp_path: Path) -> None:
    first = write(front, tmp_path)
    (first.folder / "sides" / "notes.txt").write_text("mine")
    before = states(first.folder)
    for outputs in (USUAL, [Output.PARTS, Output.PAPER]):
        again = write(build_front(front.job), tmp_path, outputs=outputs)
        assert not again.anew
        assert states(first.folder) == before
        assert (again.files, again.findings, again.mark) == (first.files, first.findings, first.mark)
        assert "\n".join(build_lines(front, again, 1.0)).count("Nothing has changed") == 1
    assert first.anew
    assert "Nothing has changed" not in "\n".join(build_lines(front, first, 1.0))


def changed_manifest(folder: Path, change: Callable[[dict], object]) -> None:
    manifest = json.loads((folder / "manifest.json").read_text())
    change(manifest)
    (folder / "manifest.json").write_text(json.dumps(manifest, indent=1, ensure_ascii=False) + "\n")


CHANGES: dict[str, Callable[[Path], object]] = {
    "a sheet is gone": lambda folder: (folder / "paper" / "02-first.svg").unlink(),
    "the job is gone": lambda folder: (folder / "job" / "small.toml").unlink(),
    "a finding was altered": lambda folder: changed_manifest(folder, lambda said: said["findings"].clear()),
    "another version made it": lambda folder: changed_manifest(folder, lambda said: said.update(made_by="facade 0")),
    "something was added": lambda folder: changed_manifest(folder, lambda said: said.update(more=1)),
    "a file is of another kind": lambda folder: changed_manifest(folder, lambda said: said["files"][0].update(more=1)),
    "an order was altered": lambda folder: changed_manifest(folder, lambda said: said["paper"].update(new=[1])),
    "the program is newer": lambda folder: os.utime(folder / "manifest.json", (1e9, 1e9)),
}


@pytest.mark.parametrize("change", CHANGES)
def test_where_anything_differs_all_is_made_anew(front: Front, tmp_path: Path, change: str) -> None:
    folder = write(front, tmp_path, outputs=[Output.PARTS, Output.PAPER]).folder
    before = contents(folder)
    CHANGES[change](folder)
    assert write(front, tmp_path, outputs=[Output.PARTS, Output.PAPER]).anew
    assert contents(folder) == before


def test_what_an_unchanged_folder_lacks_is_made(front: Front, tmp_path: Path) -> None:
    folder = write(front, tmp_path, outputs=[Output.PARTS]).folder
    assert write(front, tmp_path, outputs=[Output.PARTS, Output.OFFSETS]).anew
    assert (folder / "offsets.csv").is_file()
    order = replace(usual_order(front), paper=sheet_paper("A3"))
    assert write(front, tmp_path, outputs=[Output.PAPER], order=order).anew
    assert not write(front, tmp_path, outputs=[Output.PAPER], order=order).anew
    assert write(front, tmp_path, outputs=[Output.PAPER]).anew


def test_the_kept_job_builds_the_same_front(built: Build) -> None:
    assert build_front(read_job(built.folder / "job" / "small.toml")).mark == built.mark


def test_what_the_job_reads_is_kept_with_it(tmp_path: Path) -> None:
    np.save(tmp_path / "land.npy", np.arange(12.0).reshape(3, 4))
    (tmp_path / "land.toml").write_text(JOB.replace('kind = "hills"\nsize = 160', 'kind = "grid"\nfile = "land.npy"'))
    build = write(build_front(read_job(tmp_path / "land.toml")), tmp_path / "out", outputs=[Output.PARTS])
    assert build_front(read_job(build.folder / "job" / "land.toml")).mark == build.mark


def test_another_mark_in_the_folder_is_said(front: Front, tmp_path: Path, job_file: Path) -> None:
    write(front, tmp_path, outputs=[Output.PARTS])
    other_file = tmp_path / "small.toml"
    other_file.write_text(JOB.replace("size = 160", "size = 170"))
    other = build_front(read_job(other_file))
    assert write(other, tmp_path, outputs=[Output.PARTS]).former_mark == front.mark


def test_a_file_that_is_not_ours_is_kept(front: Front, tmp_path: Path) -> None:
    folder = write(front, tmp_path, outputs=[Output.SIDES]).folder
    (folder / "sides" / "notes.txt").write_text("mine")
    (folder / "photos").mkdir()
    (folder / "photos" / "bench.jpg").write_bytes(b"mine too")
    assert write(retitled(front), tmp_path, outputs=[Output.SIDES]).anew
    assert (folder / "sides" / "notes.txt").read_text() == "mine"
    assert (folder / "photos" / "bench.jpg").read_bytes() == b"mine too"


def test_a_file_that_is_not_ours_is_never_written_over(front: Front, tmp_path: Path) -> None:
    (tmp_path / "small").mkdir()
    (tmp_path / "small" / "offsets.csv").write_text("my own table")
    with pytest.raises(FileError, match=r"offsets\.csv was not made by facade.*--out"):
        write(front, tmp_path)
    assert contents(tmp_path) == {"small/offsets.csv": b"my own table"}


def test_a_file_of_ours_that_was_changed_is_never_written_over(front: Front, tmp_path: Path) -> None:
    folder = write(front, tmp_path, outputs=[Output.OFFSETS]).folder
    (folder / "offsets.csv").write_text((folder / "offsets.csv").read_text().replace("left", "LEFT", 1))
    before = contents(tmp_path)
    with pytest.raises(FileError, match="changed since"):
        write(front, tmp_path)
    assert contents(tmp_path) == before


def test_files_of_a_former_design_do_not_linger(front: Front, tmp_path: Path) -> None:
    write(front, tmp_path, outputs=[Output.SIDES])
    (tmp_path / "small.toml").write_text(JOB.replace("count = 8", "count = 6"))
    folder = write(build_front(read_job(tmp_path / "small.toml")), tmp_path, outputs=[Output.SIDES]).folder
    assert len(list((folder / "sides").iterdir())) == 6


def test_what_was_not_asked_for_stays_while_the_job_is_the_same(front: Front, tmp_path: Path) -> None:
    whole = contents(write(front, tmp_path, outputs=[Output.SIDES, Output.PARTS]).folder)
    again = contents(write(front, tmp_path, outputs=[Output.PARTS]).folder)
    assert again == whole


def test_a_changed_file_that_was_not_asked_for_is_kept_once_and_no_longer_listed(front: Front, tmp_path: Path) -> None:
    folder = write(front, tmp_path, outputs=[Output.SIDES, Output.PARTS]).folder
    (folder / "sides" / "strip-01.svg").write_text("with my notes")
    again = write(front, tmp_path, outputs=[Output.PARTS])
    assert (folder / "sides" / "strip-01.svg").read_text() == "with my notes"
    assert "sides/strip-01.svg" not in {file.name for file in again.files}
    assert not list(folder.rglob("*.kept"))


def test_what_was_not_asked_for_goes_when_the_job_has_changed(front: Front, tmp_path: Path) -> None:
    write(front, tmp_path, outputs=[Output.SIDES, Output.PARTS])
    (tmp_path / "small.toml").write_text(JOB.replace("size = 160", "size = 161"))
    build = write(build_front(read_job(tmp_path / "small.toml")), tmp_path, outputs=[Output.PARTS])
    assert not (build.folder / "sides").exists()


def test_a_link_in_place_of_the_folder_is_refused(front: Front, tmp_path: Path) -> None:
    (tmp_path / "elsewhere").mkdir()
    (tmp_path / "small").symlink_to(tmp_path / "elsewhere")
    with pytest.raises(FileError, match="is not a folder"):
        write(front, tmp_path)
    assert contents(tmp_path / "elsewhere") == {}


def test_no_workers_are_refused(front: Front, tmp_path: Path) -> None:
    with pytest.raises(JobError, match="at least 1"):
        write(front, tmp_path, workers=0)
    assert not (tmp_path / "small").exists()


def test_a_build_that_fails_leaves_the_former_one(front: Front, tmp_path: Path) -> None:
    before = contents(write(retitled(front), tmp_path).folder)

    def give_up(done: int, total: int) -> None:
        if done == 4:
            raise KeyboardInterrupt

    with pytest.raises(KeyboardInterrupt):
        write(front, tmp_path, progress=give_up)
    assert contents(tmp_path / "small") == before
    assert os.listdir(tmp_path) == ["small"]


@pytest.mark.parametrize("wait", [0.25, 0.5, 0.8])
def test_a_build_that_is_killed_leaves_the_former_one_or_the_new_one(
    front: Front, tmp_path: Path, job_file: Path, wait: float
) -> None:
    before = contents(write(retitled(front), tmp_path).folder)
    command = [sys.executable, "-m", "facade", "build", str(job_file), "--out", str(tmp_path)]
    process = subprocess.Popen(command, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL)
    time.sleep(wait)
    process.send_signal(signal.SIGKILL)
    process.wait()
    assert contents(tmp_path / "small") == before
    write(front, tmp_path)
    assert os.listdir(tmp_path) == ["small"]


def test_a_swap_that_was_cut_off_is_finished_by_the_next_build(front: Front, tmp_path: Path) -> None:
    folder = write(front, tmp_path, outputs=[Output.PARTS]).folder
    (folder / "notes.txt").write_text("mine")
    folder.rename(tmp_path / ".small.former")
    write(front, tmp_path, outputs=[Output.PARTS])
    assert (folder / "notes.txt").read_text() == "mine"
    assert os.listdir(tmp_path) == ["small"]


def test_progress_counts_every_strip(front: Front, tmp_path: Path) -> None:
    seen = []
    write(front, tmp_path, outputs=[Output.PARTS], progress=lambda done, total: seen.append((done, total)))
    assert seen == [(n, 8) for n in range(1, 9)]


def test_table_of_offsets_holds_the_surface(built: Build, front: Front) -> None:
    rows = table(built.folder / "offsets.csv")
    assert len(rows) == front.count * 2 * len(stations(160, 25))
    for row in rows[::7]:
        place = front.layout.strip(int(row["strip"]))
        x = place.left if row["side"] == "left" else place.right
        height = front.surface.at(np.array([[x]]), np.array([[place.top - float(row["station_mm"])]]))[0, 0]
        assert float(row["height_mm"]) == pytest.approx(height, abs=0.0051)
        assert float(row["depth_mm"]) == pytest.approx(20 - height, abs=0.0051)


def test_stations_run_from_the_top_to_the_bottom_end() -> None:
    assert stations(160, 25).tolist() == [0, 25, 50, 75, 100, 125, 150, 160]
    assert stations(150, 25).tolist() == [0, 25, 50, 75, 100, 125, 150]


def test_part_list_is_in_hanging_order_with_both_neighbours(built: Build) -> None:
    rows = table(built.folder / "parts.csv")
    assert [row["strip"] for row in rows] == [str(n) for n in range(1, 9)]
    assert [row["left_neighbour"] for row in rows] == ["end", *(str(n) for n in range(1, 8))]
    assert [row["right_neighbour"] for row in rows] == [*(str(n) for n in range(2, 9)), "end"]
    assert [row["door"] for row in rows] == ["1"] * 4 + ["2"] * 4


def test_part_list_adds_up_to_the_blanks(built: Build) -> None:
    for row in table(built.folder / "parts.csv"):
        blank = float(row["width_mm"]) * float(row["length_mm"]) * float(row["thickness_mm"]) / 1000
        assert float(row["volume_cm3"]) + float(row["waste_cm3"]) == pytest.approx(blank, abs=0.3)


def test_a_job_in_inches_is_in_inches_everywhere(tmp_path: Path) -> None:
    settings = a_job(unit="in", front={"width": 8, "height": 6}, wood={"blank": "3/4 in", "floor": "3/8 in"})
    settings["layers"] = [{"kind": "hills", "size": 3}]
    folder = write(
        build_front(make_job(settings)), tmp_path, outputs=[Output.SIDES, Output.OFFSETS, Output.PARTS]
    ).folder
    for row in table(folder / "parts.csv"):
        assert not any(name.endswith("_mm") for name in row)
        assert row["thickness_in"] == "3/4"
    assert "station_in" in table(folder / "offsets.csv")[0]
    assert " mm" not in "".join(line for line in (folder / "sides" / "strip-01.svg").read_text().split("<text")[1:])


def test_picture_is_a_whole_png_of_the_front(built: Build) -> None:
    with Image.open(built.folder / "front.png") as picture:
        picture.load()
        assert picture.width == 2000


def test_a_wall_is_made_strip_by_strip(tmp_path: Path) -> None:
    """Strips of a front too large to keep are cut when they are wanted and let go."""
    front = small_front(front={"width": 6000, "height": 2400}, strips={"count": 120}, sampling={"step": 1.0})
    first = front.strip(7)
    assert front.strip(7) is not first
    assert np.array_equal(front.strip(7).heights, first.heights)


@pytest.mark.parametrize("name", ["sides", "strips", "job"])
def test_a_file_where_a_folder_must_stand_is_refused_and_kept(front: Front, tmp_path: Path, name: str) -> None:
    (tmp_path / "small").mkdir()
    (tmp_path / "small" / name).write_text("mine")
    with pytest.raises(FileError, match="was not made by facade"):
        write(front, tmp_path)
    assert contents(tmp_path) == {f"small/{name}": b"mine"}


@pytest.mark.parametrize("inside", ["mine.txt", None])
def test_a_folder_where_a_file_must_stand_is_refused_and_kept(front: Front, tmp_path: Path, inside: str | None) -> None:
    folder = tmp_path / "small" / "parts.csv"
    folder.mkdir(parents=True)
    if inside:
        (folder / inside).write_text("mine")
    with pytest.raises(FileError, match="was not made by facade"):
        write(front, tmp_path)
    assert folder.is_dir()
    assert os.listdir(tmp_path) == ["small"]


def test_an_empty_folder_that_is_not_ours_is_kept(front: Front, tmp_path: Path) -> None:
    (tmp_path / "small" / "for later").mkdir(parents=True)
    write(front, tmp_path, outputs=[Output.PARTS])
    assert (tmp_path / "small" / "for later").is_dir()


def test_a_file_in_place_of_a_parent_folder_is_named(front: Front, tmp_path: Path) -> None:
    (tmp_path / "out").write_text("mine")
    with pytest.raises(FileError, match="is a file, not a folder"):
        write(front, tmp_path / "out" / "deeper")


def test_a_former_folder_never_loses_what_is_not_ours(front: Front, tmp_path: Path) -> None:
    folder = write(front, tmp_path, outputs=[Output.PARTS]).folder
    (folder / "notes.txt").write_text("mine")
    folder.rename(tmp_path / ".small.former")
    folder.mkdir()
    (folder / "notes.txt").write_text("mine too")
    write(front, tmp_path, outputs=[Output.PARTS])
    assert {(folder / name).read_text() for name in ("notes.txt", "notes.txt.kept")} == {"mine", "mine too"}


def test_workers_end_with_the_process_that_started_them(tmp_path: Path) -> None:
    (tmp_path / "wall.toml").write_text(
        JOB.replace("width = 203", "width = 4003")
        .replace("count = 8", "count = 180")
        .replace("height = 160", "height = 2400")
    )
    command = [
        sys.executable,
        "-m",
        "facade",
        "build",
        str(tmp_path / "wall.toml"),
        "--out",
        str(tmp_path / "out"),
        "--workers",
        "2",
    ]
    process = subprocess.Popen(command, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL)
    children = Path(f"/proc/{process.pid}/task/{process.pid}/children")
    if not children.exists():
        process.kill()
        process.wait()
        return
    workers: list[str] = []
    while len(workers) < 2 and process.poll() is None:
        workers = children.read_text().split()
        time.sleep(0.05)
    time.sleep(0.5)
    process.send_signal(signal.SIGKILL)
    process.wait()
    for _ in range(60):
        running = [
            pid
            for pid in workers
            if Path(f"/proc/{pid}/stat").exists() and " Z " not in Path(f"/proc/{pid}/stat").read_text()
        ]
        if not running:
            break
        time.sleep(0.1)
    assert workers
    assert running == []
