"""Proof owes the writers nothing: what files are held against is worked out without the rooms that wrote them."""

import ast
from pathlib import Path

import facade.proof

WRITERS = ("cnc", "templates", "exporters", "pictures", "viewing")
# The module that makes files anew to compare bytes, and the picture of the proof itself, which no file is held against.
ALLOWED = {"anew.py": WRITERS, "picture.py": WRITERS}
# Kinds of files whose readers still lean on their writers.


def imported(path: Path) -> set[str]:
    """Return the rooms that a module imports from."""
    found = set()
    for line in ast.walk(ast.parse(path.read_text("utf-8"))):
        names = []
        if isinstance(line, ast.ImportFrom):
            names = [line.module or "", *(f"{line.module}.{alias.name}" for alias in line.names)]
        elif isinstance(line, ast.Import):
            names = [alias.name for alias in line.names]
        found |= {name.split(".")[1] for name in names if name.startswith("facade.")}
    return found


def test_readers_do_not_import_from_rooms_that_write() -> None:
    leaning = {
        path.name: sorted(rooms)
        for path in Path(facade.proof.__file__).parent.glob("*.py")
        if (rooms := imported(path) & set(WRITERS) - set(ALLOWED.get(path.name, ())))
    }
    assert leaning == {}


def test_machine_files_are_read_without_their_writers() -> None:
    """Not even through another module of the proof: what a reader of machine files imports from `proof/` leans on no writer either."""
    folder = Path(facade.proof.__file__).parent

    def all_of(name: str, seen: set[str]) -> set[str]:
        for line in ast.walk(ast.parse((folder / name).read_text("utf-8"))):
            if isinstance(line, ast.ImportFrom) and line.module and line.module.startswith("facade.proof."):
                other = f"{line.module.split('.')[2]}.py"
                if other not in seen:
                    all_of(other, seen | {other})
                    seen.add(other)
        return seen

    for name in ("code.py", "carved.py", "roughed.py", "heads.py", "plans.py", "face_words.py", "surfaces.py"):
        for other in {name} | all_of(name, set()):
            assert not imported(folder / other) & set(WRITERS), other
