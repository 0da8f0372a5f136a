"""The one place that writes: a folder comes out whole or not at all, and nothing that is not ours is touched."""

from __future__ import annotations

import glob
import hashlib
import json
import os
import shutil
import tempfile
from collections.abc import Collection, Iterable, Iterator, Mapping
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path, PurePosixPath
from typing import Any

from facade.errors import FileError

MANIFEST = "manifest.json"
# What came of proving a folder, drawn into it: it is of that build alone, and goes with it.
PROOF = "proof.png"


@dataclass(frozen=True)
class Written:
    """A file that was written: its name in the folder, its size in bytes, its SHA-256."""

    name: str
    size: int
    sha256: str


def put(folder: Path, name: str, data: bytes | str) -> Written:
    """Write one file into a folder that is still being made; raises OSError."""
    raw = data.encode("utf-8") if isinstance(data, str) else data
    path = folder / name
    path.parent.mkdir(parents=True, exist_ok=True)
    path.write_bytes(raw)
    return Written(name, len(raw), hashlib.sha256(raw).hexdigest())


# What our own pictures begin with holds these letters: the PNG keyword Software and our name (PNG specification, 11.3.4.3).
_OUR_PICTURE, _OUR_PDF = b"Software\x00facade", b"/Author(facade)"
_OUR_PAGE, _OUR_NOTES = b'name="generator" content="facade"', b'"made by": "facade"'


def put_pictures(pictures: Mapping[Path, bytes]) -> list[Path]:
    """Write pictures, PDFs and pages, each whole, and return where; one that facade made before is replaced.

    Raises FileError, and writes none, when something else is in the way.
    """
    for path in pictures:
        with _said(path):
            if path.is_file() and not path.is_symlink() and _made_here(path):
                continue
            if path.is_symlink() or path.exists():
                raise FileError(f"{path} was not made by facade: choose another folder, or move it away")
    for path, data in pictures.items():
        _put_whole(path, data)
    return list(pictures)


def _made_here(path: Path) -> bool:
    """Whether a picture, a PDF, a page or notes say that facade made it."""
    data = path.read_bytes()
    return (
        _OUR_PICTURE in data[:200]
        or _OUR_NOTES in data[:40]
        or _OUR_PAGE in data[:400]
        or (data[:5] == b"%PDF-" and _OUR_PDF in data)
    )


def put_new_files(files: Mapping[Path, bytes]) -> None:
    """Write files where nothing stands yet, each whole; raises FileError, and writes none, when one is there already.

    A file that is there with the very same bytes is left as it is.
    """
    fresh = {}
    for path, data in files.items():
        with _said(path):
            if path.is_symlink() or path.is_dir() or (path.exists() and path.read_bytes() != data):
                raise FileError(f"{path} is there already: choose another name, or move it away")
        if not path.exists():
            fresh[path] = data
    for path, data in fresh.items():
        _put_whole(path, data)


def put_over(path: Path, data: bytes) -> None:
    """Write a file, whole, over the one that is there: only where its owner has agreed to that."""
    _put_whole(path, data)


def put_settings(path: Path, data: bytes) -> None:
    """Write the user's own settings, whole; what was there before is replaced. Raises FileError."""
    _put_whole(path, data)


def _put_whole(path: Path, data: bytes) -> None:
    with _said(path):
        path.parent.mkdir(parents=True, exist_ok=True)
        half = path.with_name(f".{path.name}.new")
        half.write_bytes(data)
        os.replace(half, path)


def read_manifest(folder: Path) -> dict[str, Any] | None:
    """Return the manifest of a folder that a build has made, None when it holds none of ours."""
    try:
        manifest = json.loads((folder / MANIFEST).read_text("utf-8"))
        ours = isinstance(manifest["mark"], str) and all(isinstance(file["name"], str) for file in manifest["files"])
    except (OSError, ValueError, KeyError, TypeError, RecursionError):
        return None
    return manifest if ours else None


@contextmanager
def new_folder(target: Path, wanted: Collection[str]) -> Iterator[Path]:
    """Give a folder to be filled; when the block ends well it takes the place of `target`, otherwise it is gone.

    Files in `target` that are not ours are kept. Raises FileError when `target` cannot be replaced, or when one of those
    has a name that is `wanted` for the new folder.
    """
    with _said(target):
        if target.is_symlink() or (target.exists() and not target.is_dir()):
            raise FileError(f"{target} is not a folder: move it away, or choose another with --out")
        _make_parent(target)
        _bring_back(target)
        foreign = foreign_files(target)
        _refuse_foreign(target, foreign, wanted)
        for left in target.parent.glob(f".{glob.escape(target.name)}.new-*"):
            shutil.rmtree(left)
        # A name of its own: what still runs of a build that was killed cannot write into it.
        fresh = Path(tempfile.mkdtemp(prefix=f".{target.name}.new-", dir=target.parent))
        fresh.chmod(0o755)
    try:
        with _said(target):
            yield fresh
            _swap(fresh, target, foreign)
    finally:
        shutil.rmtree(fresh, ignore_errors=True)


def carry_over(target: Path, fresh: Path, names: Iterable[str]) -> None:
    """Copy files that a former build has made into the new folder; raises OSError."""
    for name in names:
        (fresh / name).parent.mkdir(parents=True, exist_ok=True)
        shutil.copy2(target / name, fresh / name)


@contextmanager
def _said(target: Path) -> Iterator[None]:
    """Turn the system's errors into one sentence."""
    try:
        yield
    except OSError as error:
        if isinstance(error, FileError):
            raise
        raise FileError(f"{target} cannot be written: {error.strerror or error}") from error


def _make_parent(target: Path) -> None:
    for parent in reversed(target.parents):
        if parent.exists() and not parent.is_dir():
            raise FileError(f"{parent} is a file, not a folder: choose another folder with --out")
    target.parent.mkdir(parents=True, exist_ok=True)


def _former(target: Path) -> Path:
    return target.with_name(f".{target.name}.former")


def _swap(fresh: Path, target: Path, foreign: list[Path]) -> None:
    former = _former(target)
    if target.exists():
        os.rename(target, former)
    os.rename(fresh, target)
    _empty_former(former, target, [former / path.relative_to(target) for path in foreign])


def _bring_back(target: Path) -> None:
    """Finish a swap that was interrupted: bring the former folder back, or carry over what in it is not ours."""
    former = _former(target)
    if former.exists() and target.exists():
        _empty_former(former, target, foreign_files(former))
    elif former.exists():
        os.rename(former, target)


def _empty_former(former: Path, target: Path, foreign: list[Path]) -> None:
    for path in foreign:
        place = target / path.relative_to(former)
        place.parent.mkdir(parents=True, exist_ok=True)
        os.rename(path, _free(place))
    if former.exists():
        shutil.rmtree(former)


def _free(place: Path) -> Path:
    """Return the place, or one beside it with ".kept" at its end where something stands already."""
    while place.exists() or place.is_symlink():
        place = place.with_name(f"{place.name}.kept")
    return place


def foreign_files(folder: Path) -> list[Path]:
    """Return the files, and the empty folders, that no build of ours has listed, or that were changed since."""
    manifest = read_manifest(folder)
    ours = {file["name"]: file for file in manifest["files"]} if manifest else {}
    if manifest:
        ours[MANIFEST] = None
    files = (
        path for path in sorted(folder.rglob("*")) if path.is_symlink() or not path.is_dir() or not any(path.iterdir())
    )
    return [path for path in files if not _is_ours(path, path.relative_to(folder).as_posix(), ours)]


def _is_ours(path: Path, name: str, ours: dict[str, Any]) -> bool:
    if path.is_symlink() or path.is_dir():
        return False
    if name == PROOF and ours:
        return _OUR_PICTURE in path.read_bytes()[:200]
    if name not in ours:
        return False
    listed = ours[name]
    if listed is None:
        return True
    if path.stat().st_size != listed.get("size"):
        return False
    with path.open("rb") as stream:
        return bool(hashlib.file_digest(stream, "sha256").hexdigest() == listed.get("sha256"))


def _refuse_foreign(target: Path, foreign: list[Path], wanted: Collection[str]) -> None:
    folders = {parent.as_posix() for name in wanted for parent in PurePosixPath(name).parents}
    for path in foreign:
        name = PurePosixPath(path.relative_to(target).as_posix())
        above = {parent.as_posix() for parent in name.parents}
        if name.as_posix() in wanted or name.as_posix() in folders or above & set(wanted):
            raise FileError(
                f"{path} was not made by facade, or was changed since: move it away, or choose another folder with --out"
            )
