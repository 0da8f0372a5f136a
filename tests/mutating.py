"""Mutations planted one by one: `python tests/mutating.py` (make mutations).

Each mutation of `tests/mutations.toml` is a small fault: in a copy of the tree one text of one file is replaced by another, and the tests
named beside it are run. One of them must fail. First the same tests are run on the copy as it is, where none may. It ends with 1 when a
mutation survives, when its old text is no longer there once, or when a test fails by itself.

    python tests/mutating.py --only slicer             # rooms or files whose names hold one of these words
"""

from __future__ import annotations

import argparse
import os
import shutil
import subprocess
import sys
import tempfile
import time
import tomllib
from collections import Counter
from collections.abc import Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, replace
from pathlib import Path
from queue import Queue

ROOT = Path(__file__).parent.parent
LIST = Path(__file__).parent / "mutations.toml"
_COPIED, _LINKED = (
    ("facade", "tests"),
    ("presets", "pyproject.toml", "README.md", "DEVELOPERS.md", "Makefile", "LICENSE"),
)
_FAILED, _PASSED = 1, 0  # what pytest ends with


@dataclass(frozen=True)
class Mutation:
    """A small fault: in which file of which room, what stands there and what in its place, which tests must notice, and why it matters."""

    room: str
    file: str
    old: str
    new: str
    tests: tuple[str, ...]
    why: str

    @property
    def place(self) -> str:
        """The file and the line of the old text."""
        before = (ROOT / self.file).read_text("utf-8").partition(self.old)[0]
        return f"{self.file}:{before.count(chr(10)) + 1}"

    @property
    def there(self) -> int:
        """How often the old text stands in its file."""
        return (ROOT / self.file).read_text("utf-8").count(self.old)


def mutations() -> list[Mutation]:
    """Return all mutations."""
    listed = tomllib.loads(LIST.read_text("utf-8"))["mutation"]
    return [Mutation(**one | {"tests": tuple(one["tests"])}) for one in listed]


def tree(folder: Path) -> Path:
    """Return a copy of the tree in a folder, in which code may be changed."""
    for name in _COPIED:
        shutil.copytree(ROOT / name, folder / name, ignore=shutil.ignore_patterns("__pycache__"))
    for name in _LINKED:
        (folder / name).symlink_to(ROOT / name)
    return folder


def run(folder: Path, tests: Sequence[str]) -> tuple[int, str]:
    """Return what pytest ends with over some test files of a copied tree, and the test that failed first."""
    environment = {**os.environ, "PYTHONPATH": str(folder), "PYTHONDONTWRITEBYTECODE": "1", "OPENBLAS_NUM_THREADS": "1"}
    command = [sys.executable, "-m", "pytest", "-x", "-q", "--tb=no", "-rfE", *(f"tests/{name}" for name in tests)]
    done = subprocess.run(command, cwd=folder, env=environment, capture_output=True, text=True, check=False)
    failed = [line for line in done.stdout.splitlines() if line.startswith(("FAILED ", "ERROR "))]
    return done.returncode, failed[0].partition(" - ")[0] if failed else done.stdout[-200:] + done.stderr[-200:]


def tried(mutation: Mutation, folders: Queue[Path]) -> tuple[bool, str, float]:
    """Return whether a mutation is caught, by which test, and after how many seconds."""
    folder, began = folders.get(), time.perf_counter()
    path = folder / mutation.file
    sound = path.read_text("utf-8")
    try:
        path.write_text(sound.replace(mutation.old, mutation.new), "utf-8")
        for test in mutation.tests:
            code, failed = run(folder, [test])
            if code != _PASSED:
                # A test file that cannot even be read has caught nothing.
                return code == _FAILED, failed, time.perf_counter() - began
        return False, "", time.perf_counter() - began
    finally:
        path.write_text(sound, "utf-8")
        folders.put(folder)


def main() -> int:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument(
        "--only", default="", help="rooms or files whose names hold one of these words, with commas between"
    )
    parser.add_argument("--trust", action="store_true", help="do not run the tests without a mutation first")
    parser.add_argument("--workers", type=int, default=min(2, os.cpu_count() or 1))
    options = parser.parse_args()
    some = [one for one in mutations() if any(word in f"{one.room} {one.file}" for word in options.only.split(","))]
    gone = [one for one in some if one.there != 1]
    for one in gone:
        print(f"NOT THERE ONCE ({one.there}): {one.file}: {one.old!r}")
    some = [one for one in some if one not in gone]
    with tempfile.TemporaryDirectory(prefix="mutations-") as place, ThreadPoolExecutor(options.workers) as pool:
        folders: Queue[Path] = Queue()
        for index in range(options.workers):
            folders.put(tree(Path(place) / str(index)))
        named = [] if options.trust else _tests(some)
        wrong = [name for name, code in pool.map(lambda name: _alone(name, folders), named) if code != _PASSED]
        if wrong:
            print(f"Without any mutation these fail, so that they can tell nothing: {', '.join(wrong)}")
            some = [replace(one, tests=tuple(test for test in one.tests if test not in wrong)) for one in some]
        found = list(zip(some, pool.map(lambda one: _told(one, folders), some), strict=True))
    survivors = [one for one, caught in found if not caught]
    rooms = Counter(one.room for one in some)
    print()
    print(f"{'room':12} planted  caught")
    for room, count in [*rooms.items(), ("all", len(some))]:
        caught = sum(is_caught for one, is_caught in found if room in (one.room, "all"))
        print(f"{room:12} {count:7} {caught:7}")
    for one in survivors:
        print(f"SURVIVES: {one.place}: {one.new.strip()!r} ({', '.join(one.tests)}). {one.why}")
    return 1 if survivors or gone or wrong else 0


def _tests(some: Sequence[Mutation]) -> list[str]:
    return list(dict.fromkeys(test for one in some for test in one.tests))


def _alone(name: str, folders: Queue[Path]) -> tuple[str, int]:
    folder = folders.get()
    try:
        code, failed = run(folder, [name])
        if code != _PASSED:
            print(f"{name} fails by itself: {failed}", flush=True)
        return name, code
    finally:
        folders.put(folder)


def _told(mutation: Mutation, folders: Queue[Path]) -> bool:
    caught, by, seconds = tried(mutation, folders)
    print(f"{'caught' if caught else 'SURVIVES':8} {seconds:5.1f} s  {mutation.place}  {by}", flush=True)
    return caught


if __name__ == "__main__":
    sys.exit(main())
