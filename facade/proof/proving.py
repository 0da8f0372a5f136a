"""The proof of a folder: every file that a build wrote is read back and compared; several processes share the files."""

from __future__ import annotations

import hashlib
import re
from collections import defaultdict
from collections.abc import Callable, Iterator, Sequence
from functools import partial
from pathlib import Path, PurePosixPath

from facade.files import MANIFEST, PROOF
from facade.front import GEOMETRY
from facade.processes import shared_out
from facade.proof import pdf, profiles
from facade.proof.compared import Compared, Proof, joined
from facade.proof.readers import reader_of
from facade.proof.truth import Truth, read_truth

# Files that take longest come first, each by itself; of the others so many are read at a time by one process.
_FINISH = ("_2-finish_mm.ngc", "_2-finish_inch.ngc")
_LONG = ("front.stl", "front.glb", "parts.csv", "offsets.csv")
_BATCH = 6
_STRIP = re.compile(r"strip-(\d+)")

Progress = Callable[[int, int], None]


def prove(folder: Path, progress: Progress | None = None) -> Proof:
    """Return what comes of every file in a build's folder; `progress(done, total)` is called after every few files.

    Raises FileError where the folder is none of a build, or holds no job file; JobError where that cannot be used.
    """
    truth = read_truth(folder)
    for kept in (pdf.opened, profiles.read_dxf):
        # What was read once may have changed since.
        kept.cache_clear()
    if truth.manifest.get("cnc"):
        # What every process would ask for itself.
        truth.front.measures()
    batches = _batches(list(truth.files))
    parts: dict[str, list[Compared]] = defaultdict(list)
    done = 0
    for batch, found in zip(batches, shared_out(partial(_compare_batch, truth), batches), strict=True):
        for one in found:
            parts[one.name].append(one)
        done += len(batch)
        if progress:
            progress(done, len(truth.files))
    compared = [_manifest(truth), *map(joined, parts.values()), *_not_ours(truth)]
    return Proof(folder, truth.front, tuple(sorted(compared, key=lambda one: one.name)))


def _batches(names: Sequence[str]) -> list[list[str]]:
    """Return the names in batches for one process each: what takes long comes first and alone."""
    long = [name for name in names if name.endswith(_FINISH)] + [name for name in _LONG if name in names]
    others = [name for name in names if name not in long]
    return [[name] for name in long] + [others[first : first + _BATCH] for first in range(0, len(others), _BATCH)]


def _compare_batch(truth: Truth, names: Sequence[str]) -> list[Compared]:
    return [one for name in names for one in _compare(truth, name)]


def _compare(truth: Truth, name: str) -> Iterator[Compared]:
    """Yield what comes of one file: its bytes with the manifest, then what its reader says."""
    path = truth.folder / name
    if PurePosixPath(name).is_absolute() or ".." in PurePosixPath(name).parts:
        yield Compared(name, "", faults=("its name leads out of the folder",))
        return
    if not path.is_file():
        yield Compared(name, "", faults=("is missing",), failed=_strip_of(truth, name))
        return
    faults = _byte_faults(path, truth.files[name])
    # The job file, and what it reads, are the maker's own: that their bytes are those of the build is all there is to compare.
    kept = name.startswith("job/")
    compare = None if kept else reader_of(name)
    if compare is None:
        yield Compared(
            name,
            "bytes with the manifest",
            faults=faults,
            skipped="" if kept else "no reader for its kind yet, its bytes are those that were written",
        )
        return
    if faults:
        yield Compared(name, "", faults=faults, failed=_strip_of(truth, name))
    try:
        yield from compare(path, name, truth)
    except Exception as error:
        # Readers of others raise what they like at a spoilt file: whatever it is, it is that file's fault.
        yield Compared(
            name, "", faults=(f"cannot be read: {error or type(error).__name__}",), failed=_strip_of(truth, name)
        )


def _strip_of(truth: Truth, name: str) -> tuple[int, ...]:
    """Return the strip that a file is about by its name, none where it names none."""
    found = _STRIP.search(name)
    return (int(found[1]),) if found and 1 <= int(found[1]) <= truth.front.count else ()


def _byte_faults(path: Path, listed: object) -> tuple[str, ...]:
    """Return what is wrong with the size and the SHA-256 (FIPS 180-4) of a file by the manifest."""
    assert isinstance(listed, dict)
    size = path.stat().st_size
    if size != listed.get("size"):
        return (f"is {size} bytes, {listed.get('size')} were written",)
    with path.open("rb") as stream:
        same = hashlib.file_digest(stream, "sha256").hexdigest() == listed.get("sha256")
    return () if same else ("its bytes are not those that were written: changed since",)


def _manifest(truth: Truth) -> Compared:
    """Return what comes of the manifest itself: its mark, its sizes, and how heights were made."""
    front, manifest = truth.front, truth.manifest
    faults = []
    if manifest["mark"] != front.mark:
        faults.append(f"bears mark {manifest['mark']}, but the job file gives {front.mark}: it is of another front")
    if manifest.get("geometry") != GEOMETRY:
        faults.append(f"was {manifest.get('made_by', 'made')}, whose heights are others than this version's")
    said = manifest.get("front", {})
    wanted = {
        "width": front.layout.width,
        "height": front.layout.height,
        "doors": len(front.layout.doors),
        "strips": front.count,
    }
    faults += [f"says {key} {said.get(key)}" for key, value in wanted.items() if said.get(key) != value]
    return Compared(MANIFEST, "mark, sizes and counts with the job file", len(wanted) + 2, faults=tuple(faults))


def _not_ours(truth: Truth) -> Iterator[Compared]:
    """Yield the files in the folder that no build has listed."""
    for path in sorted(truth.folder.rglob("*")):
        name = path.relative_to(truth.folder).as_posix()
        if path.is_file() and name not in truth.files and name not in (MANIFEST, PROOF):
            yield Compared(name, "", skipped="not ours: no build has listed it")
