"""The one place that writes: a folder comes out whole or not at all, and nothing that is not ours is touched.

Whoever writes a folder holds its lock (`held`), fills a new one beside it, and lets the two change places; files that go into a
folder together are all on the disk before the first of them is set in its place. What a killed process has left half done is
finished, or taken back, by whoever holds the lock next.
"""

from __future__ import annotations

import errno
import glob
import hashlib
import json
import os
import re
import secrets
import shutil
import stat
import time
from collections.abc import Callable, Collection, Iterable, Iterator, Mapping
from contextlib import ExitStack, contextmanager, suppress
from dataclasses import dataclass, field
from pathlib import Path, PurePath, PurePosixPath
from typing import Any

from facade import locks
from facade.errors import FileError
from facade.locks import PATIENCE, Told
from facade.processes import heed, undisturbed

MANIFEST = "manifest.json"
# What came of proving a folder, drawn into it: it is of that build alone, and goes with it.
PROOF = "proof.png"
_WHO_MAY = "choose another folder, or ask who may write there; close programs that have files of it open"
_CURES = {
    errno.ENOSPC: "make room on that disk, then try again",
    errno.EDQUOT: "make room on that disk, then try again",
    errno.EFBIG: "make room on that disk, then try again",
    errno.EACCES: _WHO_MAY,
    errno.EPERM: _WHO_MAY,
    errno.EROFS: _WHO_MAY,
}


@dataclass(frozen=True)
class Written:
    """A file that was written: its name in the folder, its size in bytes, its SHA-256."""

    name: str
    size: int
    sha256: str


@dataclass(frozen=True)
class Held:
    """A folder whose lock is held.

    `kept` are files of others that were saved under a name that was needed, each with the name that it has now; `foreign` are those
    that were there when a new folder was begun.
    """

    target: Path
    kept: list[tuple[str, str]] = field(default_factory=list)
    foreign: list[Path] = field(default_factory=list)


def put(folder: Path, name: str, data: bytes | str) -> Written:
    """Write one file into a folder that is still being made; raises OSError, and where that folder is gone."""
    heed()
    raw = data.encode("utf-8") if isinstance(data, str) else data
    _make_folders(folder, name)
    (folder / name).write_bytes(raw)
    return Written(name, len(raw), hashlib.sha256(raw).hexdigest())


def _make_folders(folder: Path, name: str) -> None:
    """Make the folders that a name in a folder asks for, never that folder itself."""
    for parent in reversed(PurePosixPath(name).parents[:-1]):
        (folder / parent).mkdir(exist_ok=True)


# What our own pictures begin with holds these letters: the PNG keyword Software and our name (PNG specification, 11.3.4.3).
_OUR_PICTURE = b"Software\x00facade"
# As pikepdf writes it, and as typst does.
_OUR_PDF = (b"/Author (facade)", b"/Author(facade)")
_OUR_PAGE, _OUR_NOTES = b'name="generator" content="facade"', b'"made by": "facade"'


def put_pictures(pictures: Mapping[Path, bytes], *, within: Held | None = None) -> list[Path]:
    """Write pictures, PDFs and pages into one folder, all or none, and return where; those that facade made before are replaced.

    `within` is that folder, where its lock is held already. Raises FileError, and writes none, when something else is in the way.
    """

    def refuse(path: Path) -> None:
        if path.is_file() and not path.is_symlink() and _made_here(path):
            return
        if path.is_symlink() or path.exists():
            raise FileError(f"{path} was not made by facade: choose another folder, or move it away")

    _put_together(pictures, refuse, within=within)
    return list(pictures)


def _made_here(path: Path) -> bool:
    """Whether a picture, a PDF, a page or notes say that facade made it."""
    data = path.read_bytes()
    return (
        _OUR_PICTURE in data[:200]
        or _OUR_NOTES in data[:40]
        or _OUR_PAGE in data[:400]
        or (data[:5] == b"%PDF-" and any(author in data for author in _OUR_PDF))
    )


def put_new_files(files: Mapping[Path, bytes]) -> None:
    """Write files where nothing stands yet, all or none; raises FileError, and writes none, when one is there already.

    A file that is there with the very same bytes is left as it is.
    """

    def refuse(path: Path) -> None:
        if path.is_symlink() or path.is_dir() or (path.exists() and path.read_bytes() != files[path]):
            raise FileError(f"{path} is there already: choose another name, or move it away")

    _put_together(files, refuse)


def put_over(path: Path, data: bytes, known: str | None) -> None:
    """Write a file, whole, over one whose SHA-256 is `known` ("" where none was), or over any where it is None.

    Raises FileError when another stands there now.
    """

    def refuse(path: Path) -> None:
        if path.exists() and not path.is_file():
            raise FileError(f"{path.name} is no plain file: choose another name")
        if known is not None and (hash_of(path) if path.exists() else "") != known:
            raise FileError(
                f"{path.name} is there already, or was changed since it was opened: save under another name, or say that it may go"
            )

    _put_together({path: data}, refuse)


def put_settings(path: Path, data: bytes) -> None:
    """Write the user's own settings, whole; what was there before is replaced. Raises FileError."""
    _put_together({path: data}, lambda path: None)


def put_secret(path: Path, data: bytes) -> None:
    """Write a file that nobody else may read, where none stands; raises OSError, FileExistsError among them."""
    path.parent.mkdir(parents=True, exist_ok=True)
    descriptor = os.open(path, os.O_CREAT | os.O_EXCL | os.O_WRONLY, 0o600)
    with os.fdopen(descriptor, "wb") as stream:
        stream.write(data)


# Where files that belong together wait in their folder: being written, and all there, to be set in their places; what stood there
# before; and what each file is set over, so that one which was saved meanwhile is left alone.
_STAGED, _READY, _BEFORE, _OVER = ".facade-new", ".facade-ready", "before", "over.json"


def _put_together(files: Mapping[Path, bytes], refuse: Callable[[Path], None], *, within: Held | None = None) -> None:
    """Write files into one folder, all or none; `refuse(path)` raises where one must not be written."""
    folder = min((path.parent for path in files), key=lambda one: len(one.parts))
    with _said(folder), _folders_above(folder / MANIFEST):
        if within is None and (read_manifest(folder) or _former(_named(folder)).exists()):
            with held(folder):
                _stage(folder, files, refuse)
        else:
            _stage(folder, files, refuse)


def _stage(folder: Path, files: Mapping[Path, bytes], refuse: Callable[[Path], None]) -> None:
    with locks.held(folder / ".facade.lock", folder):
        with suppress(FileError):
            _finish(folder)
        for path in files:
            with _said(path):
                refuse(path)
        staged = folder / _STAGED
        shutil.rmtree(staged, ignore_errors=True)
        try:
            (staged / "files").mkdir(parents=True)
            over = {path.relative_to(folder).as_posix(): hash_of(path) if path.exists() else "" for path in files}
            for path, data in files.items():
                _put_for_good(staged / "files", path.relative_to(folder).as_posix(), data)
            _put_for_good(staged, _OVER, json.dumps(over).encode("utf-8"))
            with undisturbed():
                os.rename(staged, folder / _READY)
                _finish(folder)
        finally:
            shutil.rmtree(staged, ignore_errors=True)


def _put_for_good(folder: Path, name: str, data: bytes) -> None:
    """Write a file and have it on the disk itself before anything else is done."""
    _make_folders(folder, name)
    with (folder / name).open("wb") as stream:
        stream.write(data)
        stream.flush()
        os.fsync(stream.fileno())


def mend_files(folder: Path) -> None:
    """Set in their places what a killed process had ready for a folder; raises FileError."""
    if (folder / _READY).exists():
        with _said(folder), locks.held(folder / ".facade.lock", folder), suppress(FileError):
            _finish(folder)


def _finish(folder: Path) -> None:
    """Set what is ready in its places, all or none; what was saved there since it was made ready stays."""
    ready = folder / _READY
    if not ready.exists():
        return
    try:
        over = json.loads((ready / _OVER).read_text("utf-8"))
    except (OSError, ValueError):
        over = {}
    (ready / _BEFORE).mkdir(exist_ok=True)
    done: list[str] = []
    try:
        for name, known in over.items():
            if _stays_inside(name) and (ready / "files" / name).exists() and _set_over(ready, folder, name, known):
                done.append(name)
    except OSError:
        for name in reversed(done):
            _take_back(ready, folder, name)
        shutil.rmtree(ready, ignore_errors=True)
        raise
    shutil.rmtree(ready)


def _set_over(ready: Path, folder: Path, name: str, known: str) -> bool:
    """Set a file over what it was made to replace, and return whether it was not there already; raises FileError for anything else."""
    staged, place, before = ready / "files" / name, folder / name, ready / _BEFORE / name
    _make_folders(folder, name)
    if not known:
        if _placed_new(staged, place):
            return True
        if place.is_file() and hash_of(place) == hash_of(staged):
            return False
        raise FileError(f"{place} is there already: choose another name, or move it away")
    if not place.exists() or hash_of(place) not in (known, hash_of(staged)):
        raise FileError(f"{place} was changed while it was being written over: try again")
    _make_folders(ready / _BEFORE, name)
    _copied(place, before)
    shutil.copymode(place, staged)
    os.replace(staged, place)
    return True


def _take_back(ready: Path, folder: Path, name: str) -> None:
    if (ready / _BEFORE / name).exists():
        os.replace(ready / _BEFORE / name, folder / name)
    else:
        (folder / name).unlink(missing_ok=True)


def _placed_new(path: Path, place: Path) -> bool:
    """Move a file to a place where nothing stands, and return whether that was so."""
    try:
        os.link(path, place)
    except FileExistsError:
        return False
    except OSError:
        # A disk without links; Windows' rename never goes over a file.
        if place.exists() or place.is_symlink():
            return False
        os.rename(path, place)
        return True
    os.unlink(path)
    return True


def _copied(path: Path, place: Path) -> None:
    place.unlink(missing_ok=True)
    try:
        os.link(path, place)
    except OSError:
        shutil.copy2(path, place)


def hash_of(path: Path) -> str:
    """Return the SHA-256 of a file; raises OSError."""
    with path.open("rb") as stream:
        return hashlib.file_digest(stream, "sha256").hexdigest()


# Hashes of files by what these looked like; and so long a file must have been as it is, ns, for a change to show on its clock.
_hashes: dict[tuple[int, ...], str] = {}
_MOST_HASHES, _SETTLED = 20_000, 2_000_000_000


def _hash_as_seen(path: Path) -> str:
    """Return the SHA-256 of a file; one that looks as it did when it was last read is not read again. Raises OSError."""
    seen = _seen(path)
    if seen is None or seen not in _hashes:
        found = hash_of(path)
        settled = seen is not None and max(seen[-2:]) < time.time_ns() - _SETTLED
        if seen is None or not settled or _seen(path) != seen:
            return found
        if len(_hashes) >= _MOST_HASHES:
            _hashes.clear()
        _hashes[seen] = found
    return _hashes[seen]


def read_manifest(folder: Path) -> dict[str, Any] | None:
    """Return the manifest of a folder that a build has made, None when it holds none of ours."""
    try:
        manifest = json.loads((folder / MANIFEST).read_text("utf-8"))
        ours = isinstance(manifest["mark"], str) and all(_stays_inside(file["name"]) for file in manifest["files"])
    except (OSError, ValueError, KeyError, TypeError, RecursionError):
        return None
    return manifest if ours else None


def is_whole(folder: Path) -> bool:
    """Whether a folder holds, byte for byte, all that its manifest lists; raises OSError."""
    manifest = read_manifest(folder)
    if manifest is None:
        return False
    listed = {file["name"]: file for file in manifest["files"]}
    return all(_is_ours(folder / name, name, listed) for name in listed)


def _stays_inside(name: str) -> bool:
    """Whether a name of a manifest is that of a file in its folder."""
    path = PurePosixPath(name)
    return bool(path.parts) and not path.is_absolute() and ".." not in path.parts


# Folders


@contextmanager
def held(target: Path, *, patience: float = PATIENCE, waiting: Told | None = None) -> Iterator[Held]:
    """Hold the lock of a folder, or of the place where it is to be; what a killed process left half done there is mended first.

    Raises FileError when the folder cannot be written, or when another writes it for longer than `patience` seconds; `waiting` is told
    who that is.
    """
    target = _named(target)
    with ExitStack() as stack:
        with _said(target):
            _refuse_unusable(target)
            stack.enter_context(_folders_above(target))
            lock = target.with_name(f".{target.name}.lock")
            stack.enter_context(locks.held(lock, target, patience=patience, waiting=waiting))
            place = Held(target)
            with undisturbed():
                _bring_back(place)
        yield place


def _named(target: Path) -> Path:
    """Return the path of a folder with its own name at its end: "." has none."""
    return target if target.name not in ("", "..") else Path(os.path.abspath(target))


def mend(target: Path) -> None:
    """Mend what a killed process has left half done in place of a folder; raises FileError."""
    if _former(_named(target)).exists():
        with held(target):
            pass


@contextmanager
def unchanging(folder: Path, *, waiting: Told | None = None) -> Iterator[Held | None]:
    """Hold the lock of a folder while it is read, where one may write beside it; raises FileError."""
    folder = _named(folder)
    if (folder.exists() or _former(folder).exists()) and os.access(folder.parent, os.W_OK):
        with held(folder, waiting=waiting) as place:
            yield place
    else:
        yield None


@contextmanager
def new_folder(place: Held, wanted: Collection[str]) -> Iterator[Path]:
    """Give a folder to be filled; when the block ends well it takes the place of the one that is held, otherwise it is gone.

    Files there that are not ours are kept, also those that are saved while it is being filled. The folder must hold a manifest, and
    is held against it before and after it is put in place. Raises FileError when it cannot be put there, or when a file that is not
    ours has a name that is `wanted` for the new folder; then all is as it was.
    """
    target = place.target
    # A name of its own: what still runs of a build that was killed cannot write into it.
    fresh = target.with_name(f".{target.name}.new-{secrets.token_hex(4)}")
    try:
        with _said(target):
            if target.exists() and not os.access(target, os.W_OK):
                raise FileError(f"{target} is read-only: allow writing in it, or choose another folder with --out")
            place.foreign[:] = foreign_files(target)
            refuse_foreign(place, wanted)
            fresh.mkdir()
            if target.exists():
                shutil.copymode(target, fresh)
            yield fresh
            heed()
            _refuse_spoilt(fresh, target)
            with undisturbed():
                _swap(place, fresh)
    finally:
        shutil.rmtree(fresh, ignore_errors=True)


def carry_over(target: Path, fresh: Path, names: Iterable[str]) -> None:
    """Copy files that a former build has made into the new folder; raises OSError."""
    for name in names:
        _make_folders(fresh, name)
        shutil.copy2(target / name, fresh / name)


@contextmanager
def _said(target: Path) -> Iterator[None]:
    """Turn the system's errors into one sentence."""
    try:
        yield
    except OSError as error:
        if isinstance(error, FileError):
            raise
        cure = _CURES.get(error.errno or 0)
        raise FileError(
            f"{target} cannot be written: {error.strerror or error}{f': {cure}' if cure else ''}"
        ) from error


@contextmanager
def _folders_above(target: Path) -> Iterator[None]:
    """Make the folders above a place, and take those away again in which nothing came to lie."""
    made = [parent for parent in target.parents if not parent.exists()]
    try:
        with _said(target):
            target.parent.mkdir(parents=True, exist_ok=True)
        yield
    finally:
        with suppress(OSError):
            for parent in made:
                parent.rmdir()


def _refuse_unusable(target: Path) -> None:
    """Raise FileError where no folder of ours can be."""
    if leads_elsewhere(target) or (target.exists() and not target.is_dir()):
        raise FileError(f"{target} is not a folder: move it away, or choose another with --out")
    for parent in reversed(target.parents):
        if parent.exists() and not parent.is_dir():
            raise FileError(f"{parent} is a file, not a folder: choose another folder with --out")


def leads_elsewhere(path: Path) -> bool:
    """Whether a path is a link, or a junction of Windows, to another place."""
    try:
        found = path.lstat()
    except OSError:
        return False
    return stat.S_ISLNK(found.st_mode) or getattr(found, "st_reparse_tag", 0) == _JUNCTION


_JUNCTION = 0xA0000003  # IO_REPARSE_TAG_MOUNT_POINT of Windows


def _refuse_spoilt(folder: Path, target: Path, *, contents: bool = True) -> None:
    """Raise FileError where a folder does not hold, byte for byte or by size alone, what its manifest lists."""
    manifest = read_manifest(folder)
    if manifest is None:
        raise FileError(
            f"{target} was not written: its {MANIFEST} is not on the disk as it was made; build again, and check the disk"
        )
    for file in manifest["files"]:
        path = folder / file["name"]
        sound = path.is_file() and path.stat().st_size == file["size"]
        if not sound or (contents and hash_of(path) != file["sha256"]):
            raise FileError(
                f"{target} was not written: {file['name']} is not on the disk as it was made; build again, and check the disk"
            )


# Changing places

_TRIES = 5  # times that somebody may save something in the very moment in which it would be in the way
_LONGEST_NAME = 200  # bytes of a name to which more is put


def _former(target: Path) -> Path:
    return target.with_name(f".{target.name}.former")


def _swap(place: Held, fresh: Path) -> None:
    """Put the new folder in the place of the old one, or leave the old one there; then bring over what is not ours."""
    target = place.target
    former = _former(target)
    if former.exists():
        raise FileError(
            f"{former} could not be taken away: close the programs that have files of it open, then build again"
        )
    if target.exists():
        _rename(target, former)
    try:
        _set_in_place(fresh, target, former)
        _refuse_spoilt(target, target, contents=False)
    except BaseException:
        if not fresh.exists() and target.exists():
            _rename(target, fresh)
        if former.exists():
            _give_back_to(former, target)
        raise
    if former.exists():
        _empty_former(place, former)


def _set_in_place(fresh: Path, target: Path, former: Path) -> None:
    """Rename the new folder; what somebody has saved in its place in the meantime goes to the former one, with what else is not ours."""
    for _ in range(_TRIES):
        if target.exists() or target.is_symlink():
            former.mkdir(exist_ok=True)
            _move_all(target, former)
        try:
            _rename(fresh, target)
            return
        except OSError as error:
            if error.errno not in (errno.EEXIST, errno.ENOTEMPTY, errno.ENOTDIR):
                raise
    raise FileError(f"{target} is being written by something else at this moment: end that, then build again")


def _give_back_to(former: Path, target: Path) -> None:
    """Put the former folder back in its place; what was saved there in the meantime goes into it."""
    try:
        if target.exists() or target.is_symlink():
            _move_all(target, former)
        _rename(former, target)
    except OSError as error:
        raise FileError(
            f"{target} could not be put back: {error.strerror or error}; all of it lies in {former}, and the next build puts it back"
        ) from error


def _move_all(path: Path, into: Path) -> None:
    """Move a file, or all that a folder holds, into another folder, never over anything."""
    if leads_elsewhere(path) or not path.is_dir():
        _move(path, into, PurePath(path.name))
        return
    for one in _leaves(path):
        _move(one, into, one.relative_to(path))
    _remove_empty(path)


def _rename(path: Path, place: Path) -> None:
    """Rename a folder; Windows refuses it for a moment while a guard against viruses looks at what was just written."""
    for _ in range(20 if os.name == "nt" else 0):
        with suppress(PermissionError):
            os.rename(path, place)
            return
        time.sleep(0.1)
    os.rename(path, place)


def _bring_back(place: Held) -> None:
    """Finish a swap that was interrupted, or take it back, and clear up what it was made from."""
    target, former = place.target, _former(place.target)
    if former.exists() and read_manifest(target) is not None:
        _empty_former(place, former)
    elif former.exists():
        _give_back_to(former, target)
    ours = re.compile(re.escape(f".{target.name}.new-") + "[0-9a-z_]{8}")
    for left in target.parent.glob(f".{glob.escape(target.name)}.new-*"):
        if ours.fullmatch(left.name):
            shutil.rmtree(left, ignore_errors=True)


def _empty_former(place: Held, former: Path) -> None:
    """Bring over from the former folder what is not ours, and take the rest away, file by file as each was looked at."""
    for _ in range(_TRIES):
        found = _sorted_out(former)
        for path in found.foreign:
            name = path.relative_to(former)
            now = _move(path, place.target, name)
            if now != place.target / name:
                place.kept.append((name.as_posix(), now.relative_to(place.target).as_posix()))
        for path, seen in found.ours:
            # What was saved over it since it was looked at is looked at again.
            if _seen(path) == seen:
                _take_away(path)
        _remove_empty(former)
        if not former.exists():
            return
    if _sorted_out(former).foreign:
        raise FileError(
            f"{place.target} is written, but files are being saved in {former} all the time: move them from there"
        )


def _take_away(path: Path) -> None:
    """Delete a file of ours; one that Windows will not let go stays for the next time."""
    with suppress(PermissionError):
        if os.name == "nt":
            path.chmod(stat.S_IWRITE | stat.S_IREAD)
        path.unlink()


def _move(path: Path, root: Path, name: PurePath) -> Path:
    """Move a file, a link or an empty folder into another folder, beside what stands there, and return where it is now."""
    if leads_elsewhere(path) or path.is_dir():
        place = root / name
        if place.is_dir() and not leads_elsewhere(path):
            with suppress(OSError):
                path.rmdir()
            return place
        place = _free(root, name)
        os.rename(path, place)
        return place
    for _ in range(_TRIES):
        place = root / name
        if place.is_file() and os.path.samefile(path, place):
            # It was on its way when a process was killed.
            path.unlink()
            return place
        place = _free(root, name)
        if _placed_new(path, place):
            return place
    raise FileError(f"{path} cannot be moved to {root / name}: move it yourself")


def _free(root: Path, name: PurePath) -> Path:
    """Return a place of this name where nothing stands, or one beside it with ".kept" at its end; its folders are made."""
    place = root
    for part in name.parts[:-1]:
        place = _beside(place / part, lambda one: one.is_dir() and not leads_elsewhere(one))
        place.mkdir(exist_ok=True)
    return _beside(place / name.name, lambda one: False)


def _beside(place: Path, good: Callable[[Path], bool]) -> Path:
    """Return a place that is free or good, or the first beside it."""
    number, found = 0, place
    while (found.exists() or leads_elsewhere(found)) and not good(found):
        number += 1
        short = os.fsdecode(os.fsencode(place.name)[:_LONGEST_NAME])
        found = place.with_name(f"{short}.kept{number if number > 1 else ''}")
    return found


@dataclass(frozen=True)
class _Sorted:
    """What a folder holds: files of ours, with what they looked like; and files, links and empty folders that are not."""

    ours: tuple[tuple[Path, tuple[int, ...] | None], ...]
    foreign: tuple[Path, ...]


def _sorted_out(folder: Path) -> _Sorted:
    """Return what in a folder a build of ours has listed and is unchanged, its manifest last, and what is not."""
    manifest = read_manifest(folder)
    listed = {file["name"]: file for file in manifest["files"]} if manifest else {}
    ours, foreign = [], []
    for path in _leaves(folder):
        seen = _seen(path)
        if manifest and _is_ours(path, path.relative_to(folder).as_posix(), listed):
            ours.append((path, seen))
        else:
            foreign.append(path)
    ours.sort(key=lambda one: one[0] == folder / MANIFEST)
    return _Sorted(tuple(ours), tuple(foreign))


def foreign_files(folder: Path) -> list[Path]:
    """Return the files, and the empty folders, that no build of ours has listed, or that were changed since."""
    return list(_sorted_out(folder).foreign)


def files_in(folder: Path) -> list[Path]:
    """Return all files in a folder; what lies behind links is not in it."""
    return [path for path in _leaves(folder) if path.is_file() and not leads_elsewhere(path)]


def _leaves(folder: Path) -> Iterator[Path]:
    """Yield files, links and empty folders of a folder, in the order of their names; links are not followed."""
    with suppress(FileNotFoundError):
        for path in sorted(folder.iterdir()):
            if leads_elsewhere(path) or not path.is_dir() or not any(path.iterdir()):
                yield path
            else:
                yield from _leaves(path)


def _remove_empty(folder: Path) -> None:
    """Take away the folders in which nothing lies, the folder itself among them."""
    for path in sorted(folder.rglob("*"), reverse=True):
        if path.is_dir() and not leads_elsewhere(path):
            with suppress(OSError):
                path.rmdir()
    with suppress(OSError):
        folder.rmdir()


def _seen(path: Path) -> tuple[int, ...] | None:
    try:
        found = path.lstat()
    except OSError:
        return None
    return found.st_dev, found.st_ino, found.st_size, found.st_mtime_ns, found.st_ctime_ns


def _is_ours(path: Path, name: str, listed: Mapping[str, Any]) -> bool:
    if leads_elsewhere(path) or not path.is_file():
        return False
    if name == MANIFEST:
        return True
    if name == PROOF:
        return _OUR_PICTURE in path.read_bytes()[:200]
    return (
        name in listed
        and path.stat().st_size == listed[name].get("size")
        and _hash_as_seen(path) == listed[name].get("sha256")
    )


def refuse_foreign(place: Held, wanted: Collection[str]) -> None:
    """Raise FileError when a file that was not ours when the new folder was begun has a name that is wanted."""
    target = place.target
    folders = {parent.as_posix() for name in wanted for parent in PurePosixPath(name).parents}
    for path in place.foreign:
        name = PurePosixPath(path.relative_to(target).as_posix())
        above = {parent.as_posix() for parent in name.parents}
        if path.is_dir() and not leads_elsewhere(path) and name.as_posix() in folders:
            continue  # a folder that was emptied, and is filled anew
        if name.as_posix() in wanted or name.as_posix() in folders or above & set(wanted):
            raise FileError(
                f"{path} was not made by facade, or was changed since: move it away, or choose another folder with --out"
            )
