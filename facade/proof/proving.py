"""The proof of a folder: every file that a build wrote is read back and compared; several processes share the files."""

from __future__ import annotations

import re
from collections import defaultdict
from collections.abc import Callable, Collection, Iterator, Sequence
from dataclasses import replace
from functools import partial
from importlib import import_module
from pathlib import Path

from facade.files import MANIFEST, PROOF
from facade.processes import shared_out
from facade.proof import pdf, profiles
from facade.proof.anew import make_anew, told_of
from facade.proof.compared import Compared, Proof, joined
from facade.proof.listing import compare_manifest
from facade.proof.marks import marks_in
from facade.proof.readers import reader_of
from facade.proof.sheets import PDF, pages_with
from facade.proof.truth import Truth, read_truth

# What the checks find is asked once for those that it is held against, and what strips are measured for with it.
_CHECKED = re.compile(r"manifest\.json|check\.png|opening\.png|.*-boards\.svg|parts\.csv")
# Files that take longest come first, each by itself.
_LONG = re.compile(r".*_2-finish_(mm|inch)\.ngc|front\.(stl|glb|png)|offsets\.csv")
# Files of one of these are asked for the same heights, or hold the same in two formats: they are read one after the other.
_TOGETHER = re.compile(r"(?:fixture|strip|together)-\d+(?=[_.])")
_BATCH = 6
_STRIP = re.compile(r"strip-(\d+)")
# So many files of a folder are asked for their marks before it is said that the job file is another one.
_ASKED = 12

Progress = Callable[[int, int], None]


def prove(
    folder: Path, progress: Progress | None = None, *, anew: bool = False, only: Collection[str] | None = None
) -> Proof:
    """Return what comes of every file in a build's folder; `progress(done, total)` is called after every few files.

    With `anew` all files are made once more, too, and compared byte by byte. With `only` the files of these names alone are read, the
    manifest where it is one of them; what is not ours is looked at all the same. Raises FileError where the folder is none of a build,
    or holds no job file; JobError where that cannot be used.
    """
    truth = read_truth(folder)
    for kept in (pdf.opened, profiles.read_dxf):
        # What was read once may have changed since.
        kept.cache_clear()
    if _is_of_another_job(truth):
        return Proof(folder, truth.front, tuple(_followers(truth)))
    if truth.manifest.get("cnc"):
        # What every process would ask for itself, and import.
        truth.front.measures()
        import_module("facade.proof.machines")
    names = [name for name in (*truth.files, MANIFEST) if only is None or name in only]
    compared = [*_compared(truth, names, progress), *_not_ours(truth)]
    made = make_anew(truth) if anew else None
    if made is not None:
        compared = list(told_of(made, compared))
    return Proof(folder, truth.front, tuple(sorted(compared, key=lambda one: _order(truth, one))), made)


def _order(truth: Truth, one: Compared) -> tuple[bool, str]:
    """Return by what files are sorted: the job file, from which all follows, first where it fails, then by name."""
    return (not (one.name == truth.job_name and one.faults), one.name)


def _compared(truth: Truth, names: Sequence[str], progress: Progress | None) -> Iterator[Compared]:
    """Yield what comes of files that the manifest lists, and of the manifest itself."""
    batches = _batches(names)
    parts: dict[str, list[Compared]] = defaultdict(list)
    done, total = 0, len(names) - (MANIFEST in names)
    for batch, found in zip(
        batches, shared_out(partial(_compare_batch, truth, frozenset(names)), batches), strict=True
    ):
        for one in found:
            parts[one.name].append(one)
        done += len(batch) - (MANIFEST in batch)
        if progress:
            progress(done, total)
    yield from map(joined, parts.values())


def _batches(names: Sequence[str]) -> list[list[str]]:
    """Return the names in batches for one process each: what takes long comes first and alone, what belongs together is read together."""
    checked = [name for name in names if _CHECKED.fullmatch(name)]
    long = [name for name in names if _LONG.fullmatch(name)]
    together: dict[str, list[str]] = {}
    others: list[str] = []
    for name in names:
        if not _CHECKED.fullmatch(name) and not _LONG.fullmatch(name):
            found = _TOGETHER.search(name)
            (together.setdefault(found[0], []) if found else others).append(name)
    return [
        *([checked] if checked else []),
        *([name] for name in long),
        *(together[name] for name in sorted(together)),
        *(others[first : first + _BATCH] for first in range(0, len(others), _BATCH)),
    ]


def _compare_batch(truth: Truth, asked: Collection[str], names: Sequence[str]) -> list[Compared]:
    return [one for name in names for one in _compare(truth, asked, name)]


def _compare(truth: Truth, asked: Collection[str], name: str) -> Iterator[Compared]:
    """Yield what comes of one file among those `asked` for: its bytes with the manifest, its marks, then what its reader says."""
    if name == MANIFEST:
        yield compare_manifest(truth)
        return
    path = truth.folder / name
    if not path.is_file():
        yield Compared(name, "", faults=("is missing",), failed=_strip_of(truth, name))
        return
    faults = truth.byte_faults(name)
    # The job file, and what it reads, are the maker's own: that their bytes are those of the build is all there is to compare.
    kept = name.startswith("job/")
    compare = None if kept else reader_of(name)
    if compare is None:
        yield Compared(
            name,
            "bytes with the manifest",
            faults=(*faults, *(() if kept else _mark_faults(path, truth))),
            skipped="" if kept else "no reader for its kind yet, its bytes are those that were written",
        )
        return
    if faults:
        yield Compared(name, "", faults=faults, failed=_strip_of(truth, name))
    try:
        read = compare(path, name, truth)
    except Exception as error:
        # Readers of others raise what they like at a spoilt file: whatever it is, it is that file's fault.
        said = str(error).strip() or type(error).__name__
        read = [Compared(name, "", faults=(f"cannot be read: {said}",), failed=_strip_of(truth, name))]
    yield from read
    if not any("bears mark" in fault for one in read if one.name == name for fault in one.faults):
        # Pages that are compared with their sheets are opened there, and their marks are looked at with them.
        wrong = _mark_faults(path, truth, pages_with(asked, truth) if name == PDF else ())
        if wrong:
            yield Compared(name, "", faults=wrong, failed=_strip_of(truth, name))


def _mark_faults(path: Path, truth: Truth, but: Collection[int] = ()) -> tuple[str, ...]:
    """Return what is wrong with the marks that a file bears, but for some pages of a PDF: that of another front."""
    other = sorted(marks_in(path, but) - {truth.front.mark})
    return (truth.other_mark(other[0]),) if other else ()


def _strip_of(truth: Truth, name: str) -> tuple[int, ...]:
    """Return the strip that a file is about by its name, none where it names none."""
    found = _STRIP.search(name)
    return (int(found[1]),) if found and int(found[1]) in truth.front.numbers else ()


def _is_of_another_job(truth: Truth) -> bool:
    """Whether the folder's files are of one front, and the job file in it gives another: then nothing else need be compared.

    A file or two of another front, or a manifest that says another mark, do not make it so.
    """
    mark = truth.manifest["mark"]
    if mark == truth.front.mark:
        return False
    names = [name for name in truth.files if not name.startswith("job/") and (truth.folder / name).is_file()]
    some = names[:: max(1, len(names) // _ASKED)]
    marks = [marks_in(truth.folder / name) for name in some]
    return sum(mark in one for one in marks) > sum(truth.front.mark in one for one in marks)


def _followers(truth: Truth) -> Iterator[Compared]:
    """Yield the job file, at fault, and all that was made from it as it was before."""
    job, mark = truth.job_name, truth.manifest["mark"]
    changed = bool(truth.byte_faults(job))
    said = "was changed since the build: it" if changed else "is not the one that these files were made from: it"
    fault = f"{said} gives mark {truth.front.mark}, the other files are of mark {mark}. Put the former one back, or build anew"
    yield Compared(job, "", faults=(fault,))
    for name in sorted({*truth.files, MANIFEST} - {job}):
        there = name == MANIFEST or (truth.folder / name).is_file()
        alone = "" if there else "is missing"
        yield Compared(name, "", faults=(alone or f"is of mark {mark}",), follows=job if there else "")
    yield from _not_ours(replace(truth, front=replace(truth.front, mark=mark)))


def _not_ours(truth: Truth) -> Iterator[Compared]:
    """Yield the files in the folder that no build has listed; one of another front fails wherever it lies and whatever it is called."""
    for path in sorted(truth.folder.rglob("*")):
        name = path.relative_to(truth.folder).as_posix()
        if path.is_file() and name not in truth.files and name not in (MANIFEST, PROOF):
            try:
                faults = _mark_faults(path, truth)
            except OSError as error:
                faults = (f"cannot be read: {error.strerror or error}",)
            yield Compared(name, "", faults=faults, skipped="" if faults else "not ours: no build has listed it")
