"""Folders come out whole or stay as they were, and nothing that is not ours is lost: killed, full, read-only, all at once."""

from __future__ import annotations

import errno
import hashlib
import json
import os
import platform
import shutil
import signal
import stat
import subprocess
import sys
import threading
import time
import tomllib
import urllib.request
import warnings
from collections.abc import Callable, Iterator
from contextlib import suppress
from dataclasses import asdict
from pathlib import Path

import pytest
from browsing import Served
from starlette.testclient import TestClient
from test_build import JOB, contents, retitled

from facade.build import Output, write
from facade.cli import main
from facade.errors import FileError
from facade.files import (
    MANIFEST,
    Held,
    foreign_files,
    held,
    mend_files,
    new_folder,
    put,
    put_new_files,
    put_over,
    put_pictures,
    put_settings,
)
from facade.front import Front, build_front
from facade.job import make_job, read_job
from facade.locks import Holder, process_born, system_of_processes
from facade.locks import held as held_lock
from facade.processes import Ended, ending_in_order, pool, shared_out
from facade.web.app import page_app
from facade.web.shop import Shop

OLD = {"front.png": b"old picture", "sides/strip-01.svg": b"old side", "only-old.csv": b"old table"}
NEW = {"front.png": b"new picture", "sides/strip-01.svg": b"new side", "only-new.csv": b"new table"}
MINE = {"notes.txt": b"mine", "sides/notes.txt": b"mine too", "photos/bench.jpg": b"a photograph"}
CHANGES = {"os.rename", "os.link", "os.remove", "os.rmdir", "os.mkdir", "open"}


def make(target: Path, files: dict[str, bytes]) -> Held:
    """Write a folder by the road that every build takes."""
    with held(target) as place, new_folder(place, {*files, MANIFEST}) as fresh:
        written = [asdict(put(fresh, name, data)) for name, data in files.items()]
        put(fresh, MANIFEST, json.dumps({"mark": "0000-0000", "files": written}))
    return place


def save(folder: Path, files: dict[str, bytes]) -> None:
    for name, data in files.items():
        (folder / name).parent.mkdir(parents=True, exist_ok=True)
        (folder / name).write_bytes(data)


def without_manifest(folder: Path) -> dict[str, bytes]:
    return {name: data for name, data in contents(folder).items() if name != MANIFEST}


def in_child(work: Callable[[], object]) -> int:
    """Do some work in a copy of this process and return its exit code, less than 0 for the signal that killed it."""
    with warnings.catch_warnings():
        warnings.simplefilter("ignore", DeprecationWarning)
        child = os.fork()
    if not child:
        try:
            work()
            os._exit(0)
        except BaseException as error:
            print(repr(error), file=sys.stderr)
            os._exit(1)
    return os.waitstatus_to_exitcode(os.waitpid(child, 0)[1])


def at_every_change(told: Callable[[int, str, tuple[object, ...]], None]) -> None:
    """From now on, and for good, be told of everything that is about to change on the disk, by its number."""
    count, telling = 0, False

    def hook(event: str, given: tuple[object, ...]) -> None:
        nonlocal count, telling
        writes = event != "open" or (isinstance(given[2], int) and given[2] & (os.O_WRONLY | os.O_RDWR))
        if event in CHANGES and writes and not telling:
            count, telling = count + 1, True
            try:
                told(count, event, given)
            finally:
                telling = False

    sys.addaudithook(hook)


def changes_of(work: Callable[[], object], note: Path) -> int:
    """Return how often some work changes the disk."""

    def counted() -> None:
        at_every_change(lambda number, event, given: note.write_text(str(number)))
        work()

    assert in_child(counted) == 0
    return int(note.read_text())


@pytest.fixture
def target(tmp_path: Path) -> Path:
    """A folder that was made before, with a maker's own files in it."""
    place = tmp_path / "out" / "small"
    make(place, OLD)
    save(place, MINE)
    (place / "for later").mkdir()
    return place


@pytest.fixture
def job_file(tmp_path: Path) -> Path:
    path = tmp_path / "small.toml"
    path.write_text(JOB)
    return path


@pytest.fixture
def front(job_file: Path) -> Front:
    return build_front(read_job(job_file))


# Killed


def test_killed_at_any_change_of_the_disk_nothing_is_lost_and_the_folder_is_the_old_or_the_new_one(
    target: Path, tmp_path: Path
) -> None:
    kept = tmp_path / "kept"
    shutil.copytree(target.parent, kept)
    last = changes_of(lambda: make(target, NEW), tmp_path / "count")
    assert last > 20
    seen = set()
    for number in range(1, last + 1):
        shutil.rmtree(target.parent)
        shutil.copytree(kept, target.parent)

        def killed(number: int = number) -> None:
            at_every_change(lambda count, event, given: os.kill(os.getpid(), 9) if count == number else None)
            make(target, NEW)

        assert in_child(killed) == -signal.SIGKILL
        seen.add((target.exists(), (target.parent / ".small.former").exists()))
        with held(target) as place:
            pass
        found = without_manifest(target)
        assert found in (OLD | MINE, NEW | MINE), number
        assert (target / "for later").is_dir()
        assert place.kept == []
        assert os.listdir(target.parent) == ["small"]
    # It was killed before the first rename, between the two, and after the second.
    assert seen == {(True, False), (False, True), (True, True)}


KILLED_BETWEEN = """
import os, sys
def hook(event, given, seen=[]):
    if event == "os.rename" and str(given[1]) == sys.argv[1]:
        os.kill(os.getpid(), 9)
sys.addaudithook(hook)
from facade.cli import main
main(sys.argv[2:])
"""


def killed_between_the_renames(folder: Path, *command: str | Path) -> None:
    asked = [sys.executable, "-c", KILLED_BETWEEN, str(folder), *map(str, command)]
    done = subprocess.run(asked, capture_output=True, check=False)
    assert done.returncode == -signal.SIGKILL, done.stderr
    assert not folder.exists()


@pytest.mark.parametrize("found_by", ["build", "proof", "paper", "cnc"])
def test_a_build_that_is_killed_between_the_two_renames_is_found_by_any_command_that_asks_for_its_folder(
    front: Front, job_file: Path, tmp_path: Path, found_by: str
) -> None:
    folder = write(front, tmp_path / "out", outputs=[Output.PARTS]).folder
    save(folder, MINE)
    before = contents(folder)
    killed_between_the_renames(folder, "build", job_file, "--out", tmp_path / "out", "--only", "offsets")
    more = {
        "build": ["build", job_file, "--only", "parts", "--out", folder.parent],
        "proof": ["proof", folder],
        "paper": ["paper", job_file, "--strip", "3", "--only", "sides", "--out", folder.parent],
        "cnc": ["cnc", job_file, "--route", "side", "--strip", "3", "--out", folder.parent],
    }[found_by]
    assert main([str(one) for one in more]) in (0, 1)
    found = contents(folder)
    assert {name: found[name] for name in before if name != MANIFEST} == {
        name: data for name, data in before.items() if name != MANIFEST
    }
    assert [path.name for path in folder.parent.iterdir() if path.name.startswith(".")] == []


def test_a_part_of_the_pack_that_is_killed_between_the_renames_is_put_back_too(
    job_file: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    asked = ["paper", str(job_file), "--strip", "3", "--out", str(tmp_path / "out")]
    assert main(asked) == 0
    folder = tmp_path / "out" / "small-strip-3"
    save(folder, MINE)
    before = contents(folder)
    killed_between_the_renames(folder, *asked)
    assert main(asked) == 0
    assert contents(folder) == before


# Saved meanwhile


def test_what_is_saved_at_any_moment_of_a_build_is_there_afterwards(target: Path, tmp_path: Path) -> None:
    """By its path, and by a program that stands in the old folder itself."""
    kept, saved, over = tmp_path / "kept", tmp_path / "saved", tmp_path / "over"

    def into(folder: int, name: str, data: bytes) -> None:
        with open(name, "wb", opener=lambda name, flags: os.open(name, flags, dir_fd=folder)) as stream:
            stream.write(data)

    shutil.copytree(target.parent, kept)
    for number in range(1, changes_of(lambda: make(target, NEW), tmp_path / "count") + 1):
        shutil.rmtree(target.parent)
        shutil.copytree(kept, target.parent)

        def built(number: int = number) -> None:
            old = os.open(target, os.O_RDONLY)

            def saves(count: int, event: str, given: tuple[object, ...]) -> None:
                if count != number:
                    return
                save(target, {"by-path.txt": b"by path"})
                with suppress(FileNotFoundError):  # the old folder is gone for good, and who stands in it is told so
                    into(old, "by-place.txt", b"by place")
                    saved.write_text(f"{number}")
                    if event != "os.remove" or Path(str(given[0])).name != "only-old.csv":
                        into(old, "only-old.csv", b"old table, changed by hand")
                        over.write_text(f"{number}")

            at_every_change(saves)
            make(target, NEW)

        assert in_child(built) == 0
        with held(target):
            pass  # what is saved in the last moment of all, after the old folder was found empty, is brought over by the next
        found = without_manifest(target)
        assert found.pop("by-path.txt") == b"by path", number
        assert found.pop("by-place.txt", b"") == (b"by place" if saved.read_text() == f"{number}" else b""), number
        changed = found.pop("only-old.csv", b"")
        assert changed == (b"old table, changed by hand" if over.read_text() == f"{number}" else b""), number
        assert found == NEW | MINE, number
        assert os.listdir(target.parent) == ["small"]
    assert int(saved.read_text()) > 20


@pytest.mark.skipif(os.name == "nt", reason="there the clock of a change can be set back")
def test_what_was_looked_at_before_and_changed_since_is_not_ours(target: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Though it is as long as before, and its clock was set back; files count as written long ago, so that the first look is kept."""
    monkeypatch.setattr("facade.files._SETTLED", -3_600_000_000_000)
    path = target / "only-old.csv"
    assert path not in foreign_files(target)
    before = path.stat()
    time.sleep(0.1)
    path.write_bytes(OLD["only-old.csv"].upper())
    os.utime(path, ns=(before.st_atime_ns, before.st_mtime_ns))
    assert path.stat().st_size == before.st_size
    assert path in foreign_files(target)


def test_files_saved_while_strips_are_made_are_kept_and_those_of_our_names_beside_ours(
    front: Front, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    folder = write(front, tmp_path, outputs=[Output.PARTS, Output.SIDES]).folder
    ours = contents(folder)

    def saves(done: int, total: int) -> None:
        if done == 4:
            save(folder, MINE | {"parts.csv": b"my own figures", "offsets.csv": b"my own table"})

    build = write(front, tmp_path, outputs=[Output.PARTS, Output.SIDES, Output.OFFSETS], progress=saves)
    found = contents(folder)
    assert {name: found[name] for name in MINE} == MINE
    assert (found["parts.csv.kept"], found["offsets.csv.kept"]) == (b"my own figures", b"my own table")
    assert found["parts.csv"] == ours["parts.csv"]
    assert set(build.kept) == {("parts.csv", "parts.csv.kept"), ("offsets.csv", "offsets.csv.kept")}
    again = write(front, tmp_path, outputs=[Output.PARTS])
    assert again.kept == ()
    assert contents(folder)["parts.csv.kept"] == b"my own figures"


def test_what_is_kept_beside_is_told(
    target: Path, job_file: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    script = f"""
import sys
from pathlib import Path
def hook(event, given):
    if event == "os.rename" and str(given[0]).endswith("small"):
        Path({str(tmp_path / "o" / "small" / "parts.csv")!r}).write_text("mine")
sys.addaudithook(hook)
from facade.cli import main
sys.exit(main(sys.argv[1:]))
"""
    asked = ["build", str(job_file), "--only", "parts", "--out", str(tmp_path / "o")]
    assert main(asked) == 0
    asked[asked.index("parts")] = "parts,offsets"
    done = subprocess.run([sys.executable, "-c", script, *asked], capture_output=True, text=True, check=True)
    assert "parts.csv was saved or changed while this was built: it is kept beside the new one" in " ".join(
        done.stdout.split()
    )
    assert (tmp_path / "o" / "small" / "parts.csv.kept").read_text() == "mine"


def test_an_own_file_where_a_folder_comes_to_be_and_the_other_way_round(target: Path) -> None:
    save(target, {"deep": b"a file", "table/mine.txt": b"in a folder"})
    with held(target) as place:
        pass
    shutil.move(target / "deep", target.parent / "deep")
    shutil.move(target / "table", target.parent / "table")

    def built() -> None:
        def saves(number: int, event: str, given: tuple[object, ...]) -> None:
            if event == "os.rename" and Path(str(given[0])) == target:
                shutil.move(target.parent / "deep", target / "deep")
                shutil.move(target.parent / "table", target / "table")

        at_every_change(saves)
        make(target, NEW | {"deep/of-ours.csv": b"ours", "table": b"ours too"})

    assert in_child(built) == 0
    found = without_manifest(target)
    assert (found["deep/of-ours.csv"], found["table"]) == (b"ours", b"ours too")
    assert (found["deep.kept"], found["table.kept/mine.txt"]) == (b"a file", b"in a folder")
    assert place.kept == []


def test_a_folder_of_ours_that_was_emptied_is_no_ones_own(target: Path) -> None:
    (target / "sides" / "strip-01.svg").unlink()
    (target / "sides" / "notes.txt").unlink()
    make(target, NEW)
    assert not (target / "sides.kept").exists()
    assert (target / "for later").is_dir()


def test_a_link_in_the_folder_is_kept_as_a_link_and_not_followed(target: Path, tmp_path: Path) -> None:
    save(tmp_path / "elsewhere", {"precious.txt": b"mine"})
    (target / "link").symlink_to(tmp_path / "elsewhere")
    make(target, NEW)
    assert (target / "link").is_symlink()
    assert contents(tmp_path / "elsewhere") == {"precious.txt": b"mine"}


# Failing


@pytest.mark.parametrize(
    "failing", ["the first rename", "the second rename", "the second rename, and a file saved between"]
)
def test_a_rename_that_fails_leaves_all_as_it_was(target: Path, failing: str) -> None:
    before = contents(target)

    def built() -> None:
        def fails(number: int, event: str, given: tuple[object, ...]) -> None:
            if event != "os.rename":
                return
            first, second = Path(str(given[0])) == target, ".new-" in str(given[0])
            if second and "saved" in failing:
                save(target, {"between.txt": b"mine"})
            if (first and "first" in failing) or (second and "second" in failing):
                raise OSError(errno.EACCES, "Permission denied")

        at_every_change(fails)
        with pytest.raises(FileError, match="small cannot be written: Permission denied: choose another folder"):
            make(target, NEW)

    assert in_child(built) == 0
    found = contents(target)
    if "saved" in failing:
        assert found.pop("between.txt") == b"mine"
    assert found == before
    assert os.listdir(target.parent) == ["small"]


def test_a_build_is_held_against_its_manifest_before_it_is_called_one(front: Front, tmp_path: Path) -> None:
    """What a failing disk does, done by hand: a sheet that was written is changed before the folder is put in its place."""
    before = contents(write(front, tmp_path, outputs=[Output.SIDES]).folder)

    def spoil(done: int, total: int) -> None:
        if done == total:
            (sheet,) = tmp_path.glob(".small.new-*/sides/strip-03.svg")
            sheet.write_bytes(sheet.read_bytes().replace(b"3", b"4", 1))

    with pytest.raises(FileError, match=r"sides/strip-03\.svg is not on the disk as it was made"):
        write(retitled(front), tmp_path, outputs=[Output.SIDES], progress=spoil)
    assert contents(tmp_path / "small") == before
    assert sorted(os.listdir(tmp_path)) == ["small", "small.toml"]


def limited(size: int) -> Callable[[], None]:
    import resource

    return lambda: resource.setrlimit(resource.RLIMIT_FSIZE, (size, size))


def test_a_disk_that_will_take_no_more_leaves_the_former_folder(front: Front, job_file: Path, tmp_path: Path) -> None:
    folder = write(front, tmp_path / "out", outputs=[Output.PARTS]).folder
    save(folder, MINE)
    before = contents(tmp_path / "out")
    asked = [sys.executable, "-m", "facade", "build", str(job_file), "--out", str(tmp_path / "out"), "--only", "strips"]
    done = subprocess.run(asked, capture_output=True, text=True, check=False, preexec_fn=limited(60_000))
    assert done.returncode == 2
    assert "cannot be written: File too large: make room on that disk" in done.stderr
    assert "Traceback" not in done.stderr
    assert contents(tmp_path / "out") == before
    assert os.listdir(tmp_path / "out") == ["small"]


def can_mount() -> bool:
    tried = ["unshare", "-rm", "sh", "-c", "mount -t tmpfs -o size=64k none /mnt"]
    return bool(shutil.which("unshare")) and subprocess.run(tried, capture_output=True, check=False).returncode == 0


@pytest.mark.skipif(not can_mount(), reason="no disk of its own can be made here")
def test_a_full_disk_leaves_the_former_folder(job_file: Path, tmp_path: Path) -> None:
    (tmp_path / "disk").mkdir()
    facade = f"{sys.executable} -m facade build {job_file} --out {tmp_path}/disk/out"
    script = f"""
    mount -t tmpfs -o size=300k none {tmp_path}/disk
    {facade} --only parts >/dev/null && echo mine > {tmp_path}/disk/out/small/notes.txt
    cp -r {tmp_path}/disk/out {tmp_path}/before
    {facade} --only strips,sides,offsets; echo "code $?"
    cp -r {tmp_path}/disk/out {tmp_path}/after
    """
    done = subprocess.run(["unshare", "-rm", "sh", "-c", script], capture_output=True, text=True, check=False)
    assert "code 2" in done.stdout, done.stderr
    assert "No space left on device: make room on that disk" in done.stderr
    assert "Traceback" not in done.stderr
    assert contents(tmp_path / "after") == contents(tmp_path / "before") != {}
    assert os.listdir(tmp_path / "after") == ["small"]


BOUND = [] if os.geteuid() else ["setpriv", "--bounding-set=-dac_override,-dac_read_search,-fowner"]


@pytest.mark.skipif(bool(BOUND) and not shutil.which("setpriv"), reason="nothing is read-only to this user")
@pytest.mark.parametrize("closed", ["out", "out/small"])
def test_what_is_read_only_is_said_and_left_alone(front: Front, job_file: Path, tmp_path: Path, closed: str) -> None:
    folder = write(front, tmp_path / "out", outputs=[Output.PARTS]).folder
    save(folder, MINE)
    before = contents(tmp_path / "out")
    (tmp_path / closed).chmod(0o555)
    asked = [*BOUND, sys.executable, "-m", "facade", "build", str(job_file), "--out", str(tmp_path / "out")]
    done = subprocess.run(asked, capture_output=True, text=True, check=False)
    (tmp_path / closed).chmod(0o755)
    assert done.returncode == 2
    said = {
        "out": "out/small cannot be written: Permission denied: choose another folder, or ask who may write there",
        "out/small": "out/small is read-only: allow writing in it, or choose another folder with --out",
    }[closed]
    assert said in done.stderr
    assert contents(tmp_path / "out") == before
    assert os.listdir(tmp_path / "out") == ["small"]


def test_folders_above_that_were_made_for_nothing_are_taken_away_again(front: Front, tmp_path: Path) -> None:
    def give_up(done: int, total: int) -> None:
        raise KeyboardInterrupt

    with pytest.raises(KeyboardInterrupt):
        write(front, tmp_path / "new" / "out", outputs=[Output.PARTS], progress=give_up)
    assert not (tmp_path / "new").exists()


# All at once


def test_eight_builds_of_one_name_at_once_from_processes_and_page(job_file: Path, tmp_path: Path) -> None:
    """Of two designs of one name: every build says so truly, and what stands there at last is one of the two, whole."""
    other = tmp_path / "other" / "small.toml"
    save(tmp_path, {"other/small.toml": JOB.replace("size = 160", "size = 170").encode()})
    marks = [build_front(read_job(job)).mark for job in (job_file, other)]
    app = page_app(Shop(tmp_path, job_file), 8123, "secret")
    page = TestClient(app, base_url="http://127.0.0.1:8123/secret")
    command = [sys.executable, "-m", "facade", "build", "--only", "sides,parts", "--out", str(tmp_path / "out")]
    builds = [
        subprocess.Popen([*command, str(job)], stdout=subprocess.DEVNULL, stderr=subprocess.PIPE, text=True)
        for job in (job_file, other) * 3
    ]
    numbers = [
        page.post("/build", json={"name": "small.toml", "settings": tomllib.loads(text), "text": text}).json()["build"]
        for text in (JOB, JOB.replace("size = 160", "size = 170"))
    ]
    said = [build.communicate()[1] for build in builds]
    assert [build.returncode for build in builds] == [0] * 6, said
    ended = [ended_build(page, number) for number in numbers]
    assert [one["failed"] for one in ended] == ["", ""]
    assert any("is being written by process" in one for one in said)
    manifest = json.loads((tmp_path / "out" / "small" / MANIFEST).read_text("utf-8"))
    assert manifest["mark"] in marks
    hashes = {file["name"]: file["sha256"] for file in manifest["files"]}
    found = without_manifest(tmp_path / "out" / "small")
    assert {name: hashlib.sha256(data).hexdigest() for name, data in found.items()} == hashes
    assert {"parts.csv", *(f"sides/strip-{number:02d}.svg" for number in range(1, 9))} <= set(found)
    assert manifest["mark"].encode() in found["parts.csv"]
    assert os.listdir(tmp_path / "out") == ["small"]


def ended_build(page: TestClient, number: str) -> dict:
    while not (found := page.get("/progress", params={"build": number}).json())["ended"]:
        time.sleep(0.1)
    return found


def test_a_lock_is_held_by_one_at_a_time_also_where_all_find_one_whose_process_has_ended(tmp_path: Path) -> None:
    """Twelve processes take it over and over, each time from one that was killed with it."""
    lock, inside = tmp_path / "lock", tmp_path / "inside"
    dead = a_dead_holder()

    def takes() -> None:
        for turn in range(8):
            with held_lock(lock, tmp_path, patience=600):
                descriptor = os.open(inside, os.O_CREAT | os.O_EXCL)
                os.close(descriptor)
                time.sleep(0.001)
                inside.unlink()
                if turn % 2:
                    lock.write_text(json.dumps(asdict(dead) | {"token": f"{os.getpid()}-{turn}"}))

    lock.write_text(json.dumps(asdict(dead)))
    with warnings.catch_warnings():
        warnings.simplefilter("ignore", DeprecationWarning)
        children = []
        for _ in range(12):
            child = os.fork()
            if not child:
                try:
                    takes()
                    os._exit(0)
                except BaseException as error:
                    print(repr(error), file=sys.stderr)
                    os._exit(1)
            children.append(child)
    assert [os.waitpid(child, 0)[1] for child in children] == [0] * 12
    with held_lock(lock, tmp_path, patience=1):
        pass
    assert os.listdir(tmp_path) == []


def a_dead_holder() -> Holder:
    """Return the holder that a process was which has ended."""
    child = subprocess.Popen([sys.executable, "-c", "input()"], stdin=subprocess.PIPE)
    born = process_born(child.pid)
    assert born
    child.communicate(b"\n")
    return Holder(child.pid, born, platform.node(), system_of_processes())


HOLDS = """
import sys, time
from pathlib import Path
from facade.files import held
with held(Path(sys.argv[1])):
    print("held", flush=True)
    sys.stdin.readline()
"""


@pytest.fixture
def holding(target: Path) -> Iterator[subprocess.Popen[str]]:
    """Another process that holds the lock of the folder until it gets a line, or is killed."""
    asked = [sys.executable, "-c", HOLDS, str(target)]
    with subprocess.Popen(asked, stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True) as process:
        assert process.stdout is not None
        assert process.stdout.readline() == "held\n"
        yield process
        process.kill()


def test_who_holds_it_and_for_how_long_is_said_when_patience_ends(
    front: Front, target: Path, holding: subprocess.Popen[str]
) -> None:
    before = contents(target)
    told: list[str] = []
    with pytest.raises(FileError) as caught:
        write(front, target.parent, patience=0.2, waiting=told.append)
    assert f"is being written by process {holding.pid}, for " in str(caught.value)
    assert f"delete {target.parent}/.small.lock" in str(caught.value)
    assert len(told) == 1
    assert f"process {holding.pid}, for " in told[0]
    assert contents(target) == before


def test_the_command_says_who_it_waits_for_and_goes_on_when_that_has_ended(
    job_file: Path, target: Path, holding: subprocess.Popen[str]
) -> None:
    asked = [sys.executable, "-m", "facade", "build", str(job_file), "--only", "parts", "--out", str(target.parent)]
    with subprocess.Popen(asked, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True) as build:
        assert build.stderr is not None
        said = build.stderr.readline()
        assert f"small is being written by process {holding.pid}, for " in said
        assert "waiting until it is done" in said
        assert build.poll() is None
        holding.communicate("\n")
        build.communicate()
    assert build.returncode == 0
    assert (target / "parts.csv").is_file()


def test_a_lock_whose_process_was_killed_is_taken_over(target: Path, holding: subprocess.Popen[str]) -> None:
    holding.kill()
    holding.wait()
    assert (target.parent / ".small.lock").exists()
    make(target, NEW)
    assert os.listdir(target.parent) == ["small"]


@pytest.mark.parametrize(
    ("change", "taken"),
    [
        ({}, False),
        ({"born": "another start"}, True),  # the number of the process was given to another one since
        ({"system": "another machine", "host": "another"}, False),
        ({"system": "another machine", "host": "another", "pid": 2**22 + 1}, False),
        ({"pid": 2**22 + 1}, True),
    ],
)
def test_a_lock_is_taken_over_only_where_its_process_is_known_to_have_ended(
    target: Path, holding: subprocess.Popen[str], change: dict, taken: bool
) -> None:
    lock = target.parent / ".small.lock"
    lock.write_text(json.dumps(json.loads(lock.read_text()) | change))
    if taken:
        with held(target, patience=0.2):
            pass
    else:
        with pytest.raises(FileError, match=change.get("host", "by process")), held(target, patience=0.2):
            pass


def test_a_lock_that_another_takes_over_in_the_same_moment_is_left_to_it(target: Path) -> None:
    lock, dead = target.parent / ".small.lock", a_dead_holder()
    living = Holder(os.getpid(), process_born(os.getpid()) or "", platform.node(), system_of_processes())
    lock.write_text(json.dumps(asdict(dead)))

    def takes() -> None:
        def taken(number: int, event: str, given: tuple[object, ...]) -> None:
            if event == "open" and str(given[0]).endswith(dead.token):
                lock.write_text(json.dumps(asdict(living)))

        at_every_change(taken)
        with pytest.raises(FileError, match=f"by process {living.pid}"), held(target, patience=0.1):
            pass

    assert in_child(takes) == 0
    assert json.loads(lock.read_text())["token"] == living.token
    assert sorted(os.listdir(target.parent)) == [".small.lock", "small"]


def test_a_lock_that_holds_nothing_is_taken_over_when_it_is_old_and_not_before(target: Path) -> None:
    lock = target.parent / ".small.lock"
    lock.write_text("")
    with pytest.raises(FileError, match="is being written"), held(target, patience=0.1):
        pass
    os.utime(lock, (time.time() - 60, time.time() - 60))
    with held(target, patience=0.1):
        pass
    assert os.listdir(target.parent) == ["small"]


def test_threads_of_one_process_wait_for_each_other(target: Path) -> None:
    inside: list[int] = []
    most: list[int] = []

    def takes() -> None:
        for _ in range(5):
            with held(target, patience=600):
                inside.append(1)
                most.append(len(inside))
                time.sleep(0.002)
                inside.pop()

    threads = [threading.Thread(target=takes) for _ in range(4)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert max(most) == 1
    assert len(most) == 20


def test_another_name_in_the_same_folder_is_not_waited_for_nor_cleared_up(
    target: Path, holding: subprocess.Popen[str]
) -> None:
    other = target.with_name("small.new-abcdefgh")
    with held(other) as place, new_folder(place, {MANIFEST}) as fresh:
        holding.communicate("\n")
        make(target, NEW)
        put(fresh, MANIFEST, json.dumps({"mark": "0000-0000", "files": []}))
    assert sorted(os.listdir(target.parent)) == ["small", other.name]


# Files that go into a folder together


def picture(number: int) -> bytes:
    return b"Software\x00facade" + bytes([number]) * 1000


PICTURES = {"lights.png": 1, "aside.png": 2, "detail.png": 3}


def test_pictures_that_are_killed_at_any_change_are_all_the_old_or_all_the_new_ones(tmp_path: Path) -> None:
    folder = tmp_path / "pictures"

    def old() -> dict[Path, bytes]:
        return {folder / name: picture(number) for name, number in PICTURES.items()}

    def new() -> dict[Path, bytes]:
        return {folder / name: picture(number + 10) for name, number in PICTURES.items()}

    put_pictures(old())
    save(folder, MINE)
    last = changes_of(lambda: put_pictures(new()), tmp_path / "count")
    assert last > 10
    for number in range(1, last + 1):
        put_pictures(old())

        def killed(number: int = number) -> None:
            at_every_change(lambda count, event, given: os.kill(os.getpid(), 9) if count == number else None)
            put_pictures(new())

        assert in_child(killed) == -signal.SIGKILL
        mend_files(folder)
        found = {folder / name: (folder / name).read_bytes() for name in PICTURES}
        assert found in (old(), new()), number
        put_pictures(new())
        assert contents(folder) == MINE | {path.name: data for path, data in new().items()}
        assert os.listdir(tmp_path) in (["pictures", "count"], ["count", "pictures"])


def test_of_pictures_that_cannot_all_be_written_none_is(tmp_path: Path) -> None:
    before = {tmp_path / name: picture(number) for name, number in PICTURES.items()}
    put_pictures(before)

    def fails() -> None:
        def full(number: int, event: str, given: tuple[object, ...]) -> None:
            if event == "os.rename" and str(given[1]).endswith("detail.png"):
                raise OSError(errno.EACCES, "Permission denied")

        at_every_change(full)
        with pytest.raises(FileError, match="cannot be written"):
            put_pictures(dict.fromkeys(before, b"Software\x00facade, new"))

    assert in_child(fails) == 0
    assert contents(tmp_path) == {path.name: data for path, data in before.items()}


def test_a_file_that_comes_while_new_ones_are_written_is_not_written_over(tmp_path: Path) -> None:
    def late() -> None:
        def saves(number: int, event: str, given: tuple[object, ...]) -> None:
            if event == "os.link" and str(given[1]).endswith("b.toml"):
                (tmp_path / "b.toml").write_bytes(b"mine")

        at_every_change(saves)
        with pytest.raises(FileError, match=r"b\.toml is there already"):
            put_new_files({tmp_path / "a.toml": b"a", tmp_path / "b.toml": b"b"})

    assert in_child(late) == 0
    assert contents(tmp_path) == {"b.toml": b"mine"}


def test_a_picture_in_a_folder_that_is_being_built_waits_for_the_build(
    target: Path, holding: subprocess.Popen[str]
) -> None:
    waits = threading.Thread(target=put_pictures, args=({target / "front.png.png": picture(1)},))
    waits.start()
    time.sleep(0.2)
    assert not (target / "front.png.png").exists()
    holding.communicate("\n")
    waits.join()
    assert (target / "front.png.png").is_file()


def test_eight_starts_at_once_give_one_file(tmp_path: Path) -> None:
    asked = [sys.executable, "-m", "facade", "start", "valley-chest", str(tmp_path / "mine.toml")]
    starts = [subprocess.Popen(asked, stdout=subprocess.DEVNULL) for _ in range(8)]
    assert [start.wait() for start in starts] == [0] * 8
    assert sorted(os.listdir(tmp_path)) == ["mine.toml", "valley.png"]


# Asked to end


WALL = (
    JOB.replace("width = 203", "width = 4003")
    .replace("count = 8", "count = 180")
    .replace("height = 160", "height = 2400")
)


@pytest.mark.parametrize(
    ("number", "code", "workers"),
    [(signal.SIGTERM, 143, "1"), (signal.SIGTERM, 143, "2"), (signal.SIGINT, 130, "2"), (signal.SIGHUP, 129, "2")],
)
def test_who_is_asked_to_end_clears_up_first(tmp_path: Path, number: signal.Signals, code: int, workers: str) -> None:
    """128 and the number of the signal, as shells have it; Python itself hands Ctrl-C on where it came in the midst of an import."""
    (tmp_path / "wall.toml").write_text(WALL)
    asked = [sys.executable, "-m", "facade", "build", str(tmp_path / "wall.toml"), "--out", str(tmp_path / "out")]
    asked += ["--only", "strips", "--workers", workers]
    # Where these tests run in the background, Ctrl-C is ignored by them and by what they start.
    before = signal.signal(signal.SIGINT, signal.default_int_handler)
    try:
        started = subprocess.Popen(asked, stderr=subprocess.PIPE, text=True)
    finally:
        signal.signal(signal.SIGINT, before)
    with started as build:
        while not list(tmp_path.glob("out/.wall.new-*")) and build.poll() is None:
            time.sleep(0.02)
        build.send_signal(number)
        said = build.communicate()[1]
    assert build.returncode in ((code, -number) if number == signal.SIGINT else (code,)), said
    assert "every folder is whole" in said
    assert "Traceback" not in said
    assert not (tmp_path / "out").exists()


def test_processes_are_not_left_half_started_by_who_asks_for_an_end() -> None:
    """The thread that looks after them is being started when the signal comes."""

    def shared() -> None:
        def asks(frame: object, event: str, called: object) -> None:
            if event == "c_call" and getattr(called, "__name__", "") in ("start_new_thread", "start_joinable_thread"):
                os.kill(os.getpid(), signal.SIGTERM)

        sys.setprofile(asks)
        with pytest.raises(Ended), ending_in_order(), pool(2, "fork") as copies:
            list(copies.map(abs, range(9)))

    assert in_child(shared) == 0


def test_a_swap_is_not_cut_in_two_by_who_asks_for_an_end(target: Path) -> None:
    def built() -> None:
        def asks(number: int, event: str, given: tuple[object, ...]) -> None:
            if event == "os.rename" and Path(str(given[0])) == target:
                os.kill(os.getpid(), signal.SIGTERM)

        at_every_change(asks)
        with pytest.raises(Ended), ending_in_order():
            make(target, NEW)

    assert in_child(built) == 0
    assert without_manifest(target) == NEW | MINE
    assert os.listdir(target.parent) == ["small"]


def test_who_asks_for_an_end_is_heard_where_the_asking_gets_lost(target: Path) -> None:
    """What is raised while something is being cleared up is printed and dropped by the interpreter."""

    class Asks:
        def __del__(self) -> None:
            os.kill(os.getpid(), signal.SIGTERM)
            for _ in range(1000):
                pass

    def makes() -> None:
        with ending_in_order(), held(target) as place, new_folder(place, {MANIFEST}) as fresh:
            asks = Asks()
            del asks
            put(fresh, MANIFEST, json.dumps({"mark": "0000-0000", "files": []}))

    def built() -> None:
        sys.unraisablehook = lambda lost: None
        with pytest.raises(Ended):
            makes()

    before = contents(target)
    assert in_child(built) == 0
    assert contents(target) == before
    assert os.listdir(target.parent) == ["small"]


SPAWNED = """
import os, sys, threading, time
from pathlib import Path
from facade.build import Output, write
from facade.front import build_front
from facade.job import read_job
if __name__ == "__main__":
    threading.Thread(target=time.sleep, args=(600,), daemon=True).start()  # so that the process cannot be copied
    write(build_front(read_job(sys.argv[1])), sys.argv[2], outputs=[Output.STRIPS], workers=2)
"""


@pytest.mark.skipif(not Path("/proc/self/task").exists(), reason="the system does not tell of a process's children")
def test_workers_that_were_started_anew_end_with_the_process_that_started_them(tmp_path: Path) -> None:
    """As on Windows, where no process can be copied, and none is told that its parent has ended."""
    (tmp_path / "wall.toml").write_text(WALL)
    (tmp_path / "script.py").write_text(SPAWNED)
    asked = [sys.executable, str(tmp_path / "script.py"), str(tmp_path / "wall.toml"), str(tmp_path / "out")]
    build = subprocess.Popen(asked)
    workers: set[str] = set()
    while not list(tmp_path.glob("out/.wall.new-*/strips/*")) and build.poll() is None:
        for task in Path(f"/proc/{build.pid}/task").iterdir():
            workers |= set((task / "children").read_text().split())
        time.sleep(0.05)
    build.kill()
    build.wait()
    assert len(workers) >= 2
    while [pid for pid in workers if process_born(int(pid)) is not None]:
        time.sleep(0.05)


def test_a_worker_that_is_killed_is_said_in_a_sentence(tmp_path: Path) -> None:
    script = """
import os
from facade.errors import FacadeError
from facade.processes import shared_out
os.cpu_count = lambda: 2
try:
    list(shared_out(lambda one: os.kill(os.getpid(), 9), [1, 2]))
except FacadeError as error:
    print(error)
"""
    done = subprocess.run([sys.executable, "-c", script], capture_output=True, text=True, check=True)
    assert "was ended by the system, which may have run out of memory" in done.stdout
    assert list(shared_out(str, [1])) == ["1"]


@pytest.mark.skipif(not Path("/proc/self/task").exists(), reason="the system does not tell of a process's threads")
def test_work_is_shared_out_again_and_again_also_after_a_pdf_was_set() -> None:
    """A thread that has ended is counted a moment longer, one that a library leaves for good: who has one cannot be copied."""
    script = """
import os
os.cpu_count = lambda: 2
from facade.drawing import Drawing
from facade.exporters.pdf import pdf_page, to_pdf
from facade.processes import shared_out
def alone():
    return os.getpid() in set(shared_out(lambda one: os.getpid(), [1, 2]))
print([alone() for _ in range(20)].count(True))
for words in ("ours to set", "not ours: \u6728"):
    drawing = Drawing(90, 90, "A sheet")
    drawing.label(words, 10, 10, 4)
    to_pdf("A sheet", [pdf_page(drawing)])
print([alone() for _ in range(20)].count(True))
"""
    environment = {**os.environ, "OPENBLAS_NUM_THREADS": "1"}
    asked = [sys.executable, "-c", script]
    done = subprocess.run(asked, capture_output=True, text=True, check=True, env=environment)
    assert done.stdout.split() == ["0", "0"]


# Modes and names


@pytest.fixture
def strict_umask() -> Iterator[None]:
    before = os.umask(0o027)
    yield
    os.umask(before)


def mode(path: Path) -> int:
    return stat.S_IMODE(path.stat().st_mode)


@pytest.mark.usefixtures("strict_umask")
def test_files_and_folders_have_the_modes_that_the_user_asks_for(front: Front, tmp_path: Path) -> None:
    folder = write(front, tmp_path / "out", outputs=[Output.PARTS, Output.SIDES], workers=2).folder
    put_new_files({tmp_path / "new" / "a.toml": b"a"})
    put_pictures({tmp_path / "new" / "a.png": picture(1)})
    put_settings(tmp_path / "settings" / "printers.json", b"[]")
    for path in (*folder.rglob("*"), folder, *(tmp_path / "new").rglob("*"), *(tmp_path / "settings").rglob("*")):
        assert mode(path) == (0o750 if path.is_dir() else 0o640), path


def test_what_is_written_over_keeps_its_mode(front: Front, target: Path, tmp_path: Path) -> None:
    path = tmp_path / "a.toml"
    path.write_bytes(b"old")
    path.chmod(0o600)
    put_over(path, b"new", None)
    target.chmod(0o700)
    make(target, NEW)
    assert (path.read_bytes(), mode(path), mode(target)) == (b"new", 0o600, 0o700)


BAD_NAMES = {
    ".toml": "needs a name before its ending",
    ".hidden.toml": "must not begin with a dot",
    "hall..toml": "must not end in a dot",
    "hall .toml": "must not end in a blank",
    "CON.toml": "Windows keeps for a device",
    "nul.toml": "Windows keeps for a device",
    "Com1.toml": "Windows keeps for a device",
    "lpt9.old.toml": "Windows keeps for a device",
    "aux .b.toml": "Windows keeps for a device",
}


@pytest.mark.parametrize("name", BAD_NAMES)
def test_names_that_not_every_system_can_hold_are_refused_wherever_they_are_given(
    name: str, job_file: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    (tmp_path / name).write_text(JOB)
    before = contents(tmp_path)
    written = ["start", "hall-cabinet"], ["relax", job_file], ["options", job_file, "--take", "B", "--out"]
    read = [
        ["build", tmp_path / name, "--out", tmp_path / "out"],
        ["check", tmp_path / name],
        ["open", tmp_path / name],
    ]
    for asked in [*read, *([*one, tmp_path / "new" / name] for one in written)]:
        if "--take" in asked:
            continue  # it needs options that were shown first; the same sentence is asked for below
        assert main([str(one) for one in asked]) == 2, asked
        said = capsys.readouterr().err
        assert BAD_NAMES[name] in said
        assert "Traceback" not in said
    with pytest.raises(FileError, match=BAD_NAMES[name]):
        make_job(tomllib.loads(JOB), name=Path(name).stem)
    assert contents(tmp_path) == before


@pytest.mark.parametrize("name", ["hall.cabinet", "console", "com10", "hall - 2", "Schrank für Ä", "nullified"])
def test_names_that_every_system_can_hold_are_taken(name: str) -> None:
    assert make_job(tomllib.loads(JOB), name=name).name == name


# The page's own process


def test_a_page_that_is_stopped_clears_up_what_it_was_building(tmp_path: Path) -> None:
    (tmp_path / "shop").mkdir()
    (tmp_path / "shop" / "small.toml").write_text(JOB)
    served = Served(tmp_path / "shop" / "small.toml")
    body = json.dumps({"name": "small.toml", "settings": tomllib.loads(JOB), "text": JOB}).encode()
    request = urllib.request.Request(f"{served.url}build", body, {"Content-Type": "application/json"})
    urllib.request.urlopen(request).close()
    out = tmp_path / "shop" / "out"
    while not list(out.glob(".small.new-*")):
        time.sleep(0.01)
    served.process.send_signal(signal.SIGTERM)
    served.process.communicate()
    assert served.process.returncode == 143
    assert list(out.glob(".*")) == []
    assert (out / "small" / MANIFEST).is_file() or not out.exists()
