"""Corruptions planted in a build: `python tests/planting.py` (make planting).

A small cabinet is built with everything: all sheets of paper, both routes for machines, all pictures. Into a copy of it each corruption of
`tests/corruptions/` is planted twice: plain, the manifest as it was, and with the manifest made to say what the file is now, so that only
what is in the files can tell. What the proof says of each is counted by kinds of files; what it passes over is listed. It ends with 1 when
less than 98 % of the second kind are caught by what readers found in the files, or less than all with the bytes made anew.

    python tests/planting.py --only "machine code"      # the kinds whose names hold these words
    python tests/planting.py --sound                    # no false alarm: presets by both routes, packed, mirrored, inches, facets
"""

from __future__ import annotations

import argparse
import os
import shutil
import sys
import tempfile
import time
from collections import Counter
from collections.abc import Collection, Iterator, Sequence
from dataclasses import dataclass
from enum import StrEnum
from functools import partial
from pathlib import Path

# As every command says before it imports numpy: with threads of its own this process could not be copied to share the work.
os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")

from corruptions import ALL, UNTOUCHED, Corruption, Folder
from corruptions.corruption import MANIFEST, Nothing
from sounding import sound

from facade.build import write
from facade.errors import FacadeError
from facade.front import build_front
from facade.job import read_job
from facade.making import Output
from facade.paper import Order, usual_paper
from facade.processes import shared_out
from facade.proof import Proof, prove
from facade.proof.anew import NOT_THERE, OTHER_BYTES
from facade.proof.compared import Verdict
from facade.proof.truth import read_truth
from facade.templates.piece import Kind

LEAST_BY_CONTENT = 0.98
# Kinds of files that speak of others beside them.
_SPEAKING = (".csv", ".txt", ".dxf", ".svg", ".pdf")
JOB = """title = "Small hall cabinet"

[front]
width = 190
height = 130
doors = 2
space = 3

[strips]
count = 8
gap = 3

[wood]
species = "white ash"
blank = 20
floor = 8

[carving]
fit = "depth"
depth = 6

[opening]
mounting = "overlay"
widths = [186, 186.5, 186]
heights = [126, 126, 126.5]
diagonals = [224.7, 224.9]

[machine.roughing]
level = 2

[[layers]]
kind = "swell"
size = 160
seed = 3
"""


class How(StrEnum):
    """By what a corruption was caught."""

    CONTENT = "content"
    ANEW = "bytes anew"
    HASH = "hash alone"
    NOT = "NOT CAUGHT"


@dataclass(frozen=True)
class Outcome:
    """What came of a corruption: its kind and what was done, to which file, how it was caught, and what was said of it first."""

    kind: str
    what: str
    file: str
    how: How
    plain: bool
    said: str
    seconds: float


def built(folder: Path, text: str = JOB, name: str = "hall") -> Path:
    """Return the folder of a build with everything that can be made."""
    job = folder / f"{name}.toml"
    job.write_text(text, "utf-8")
    front = build_front(read_job(job))
    order = Order(usual_paper(front), kinds=tuple(Kind))
    return write(front, folder / "out", outputs=tuple(Output), order=order).folder


def planted(good: Path, corruption: Corruption) -> Outcome:
    """Return what comes of a corruption planted into a copy of a good build; raises Nothing, LookupError where it cannot be."""
    began = time.perf_counter()
    folder = _copy(good)
    name = folder.chosen(corruption)
    try:
        corruption.act(folder, name)
        plain = _bytes_tell(folder) or bool(_faults(folder))
        folder.match()
        faults = _faults(folder)
    finally:
        folder.mend()
    by_content = [fault for fault, anew in faults if not anew]
    how = How.CONTENT if by_content else How.ANEW if faults else How.HASH if plain else How.NOT
    said = next(iter(by_content), next((fault for fault, _ in faults), ""))
    return Outcome(corruption.kind, corruption.what, name, how, plain, said, time.perf_counter() - began)


def _copy(good: Path) -> Folder:
    """Return this process's own copy of a good build."""
    path = good.parent / f"copy-{os.getpid()}" / good.name
    if not path.is_dir():
        shutil.copytree(good, path)
    return Folder(path, good)


def _bytes_tell(folder: Folder) -> bool:
    """Whether what the manifest says of sizes and hashes tells that files were touched, as it does first of all in a proof."""
    try:
        truth = read_truth(folder.path)
    except FacadeError:
        return True
    return any(
        name in truth.files and (not (folder.path / name).is_file() or bool(truth.byte_faults(name)))
        for name in folder.touched
    )


def _faults(folder: Folder) -> list[tuple[str, bool]]:
    """Return what a proof finds in a folder, and whether it is the bytes made anew that tell.

    The files that were touched are proved first; where nothing is found in them, those that speak of the same are; then the bytes count.
    """
    try:
        for names in _rounds(folder):
            found = _told(prove(folder.path, only=names))
            if found:
                return found
        return _differing(folder)
    except FacadeError as error:
        return [(str(error), False)]


def _rounds(folder: Folder) -> Iterator[Collection[str] | None]:
    """Yield the names of the files that are proved one round after the other, None for all."""
    if any(name.startswith("job/") for name in folder.touched) or folder.touched == {MANIFEST}:
        yield {MANIFEST}
        yield None
        return
    alone = folder.touched - {MANIFEST}
    lost_or_new = any((folder.path / name).is_file() != (folder.good / name).is_file() for name in alone)
    yield {*alone, MANIFEST} if lost_or_new else alone
    yield {name for one in alone for name in _speaking_of(folder, one)} | alone | {MANIFEST}


def _speaking_of(folder: Folder, name: str) -> Iterator[str]:
    """Yield the files beside one that speak of the same: tables and texts of a folder of what lies in it, pages of sheets."""
    top = name.partition("/")[0]
    if top in ("paper", "paper.pdf"):
        yield from ("paper.pdf", *folder.names("paper/*"))
    elif top.startswith("cnc-"):
        programs = (".ngc",) if name.endswith(".csv") else ()
        yield from (one for one in folder.names(f"{top}/*") if one.endswith((*_SPEAKING, *programs)))


def _differing(folder: Folder) -> list[tuple[str, bool]]:
    """Return the files that are not what is made anew.

    Where manifest and job say the same as in the good build, that is what is made anew, as was proved of it before.
    """
    if folder.touched == {MANIFEST} or any(name.startswith("job/") for name in folder.touched):
        proof = prove(folder.path, anew=True)
        # What cannot be made anew any more is told as such.
        cannot = [(f"made anew: {proof.anew.why}", True)] if proof.anew and proof.anew.why else []
        return [*_told(proof), *cannot]
    return [(f"{name}: differs", True) for name in sorted(folder.touched - {MANIFEST}) if folder.differs(name)]


def _told(proof: Proof) -> list[tuple[str, bool]]:
    """Return each fault that a proof tells, and whether it is the bytes made anew that tell it."""
    return [
        (f"{one.name}: {fault}", fault in (OTHER_BYTES, NOT_THERE))
        for one in proof.compared
        if one.verdict is Verdict.FAILS
        for fault in one.faults
    ]


# Telling it


def table(outcomes: Sequence[Outcome]) -> Iterator[str]:
    """Yield what came of all corruptions as lines: by kinds of files, then those that content alone does not tell."""
    kinds = list(dict.fromkeys(one.kind for one in outcomes))
    wide = max(map(len, kinds), default=4) + 2
    yield f"{'kind of file':{wide}} planted   plain  content  bytes anew  hash alone  not caught"
    for kind in [*kinds, "all"]:
        some = [one for one in outcomes if kind in (one.kind, "all")]
        count = Counter(one.how for one in some)
        plain = sum(one.plain for one in some)
        yield (
            f"{kind:{wide}} {len(some):7}  {plain:6} {count[How.CONTENT]:8}  {count[How.ANEW]:10}  {count[How.HASH]:10}  {count[How.NOT]:10}"
        )
    why = {(one.kind, one.what): one.passed for one in ALL}
    told = [f"{one.kind}: {one.what}" for one in outcomes if one.how is How.CONTENT and why[one.kind, one.what]]
    if told:
        yield f"Told by now, to be taken out of tests/corruptions/known.py: {'; '.join(told)}"
    for how in (How.ANEW, How.HASH, How.NOT):
        missed = [one for one in outcomes if one.how is how]
        if missed:
            yield ""
            yield f"{how.value}:"
        for one in missed:
            yield f"  {one.kind}: {one.what} ({one.file})" + (
                f": {why[one.kind, one.what]}" if why[one.kind, one.what] else ""
            )


def short(outcomes: Sequence[Outcome]) -> list[str]:
    """Return why the proof is not good enough, as sentences; none where it is."""
    caught = Counter(one.how for one in outcomes)
    by_content, anew = caught[How.CONTENT], caught[How.CONTENT] + caught[How.ANEW]
    said = []
    if by_content < LEAST_BY_CONTENT * len(outcomes):
        said.append(f"Only {by_content} of {len(outcomes)} are caught by content, {LEAST_BY_CONTENT:.0%} are wanted.")
    if anew < len(outcomes):
        said.append(f"Only {anew} of {len(outcomes)} are caught with the bytes made anew, all are wanted.")
    return said


def main() -> int:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--only", default="", help="kinds of files, or jobs, whose names hold these words")
    parser.add_argument("--every", type=int, default=1, help="plant every so manyth alone")
    parser.add_argument("--told", action="store_true", help="tell of each what was said first")
    parser.add_argument("--sound", action="store_true", help="prove untouched builds instead")
    parser.add_argument("--whole", action="store_true", help="of untouched builds, leave no strip out of any")
    options = parser.parse_args()
    if options.sound:
        return sound(options.only, whole=options.whole)
    began = time.perf_counter()
    with tempfile.TemporaryDirectory() as folder:
        good = built(Path(folder))
        print(
            f"Built in {time.perf_counter() - began:.1f} s: {sum(path.is_file() for path in good.rglob('*'))} files.",
            flush=True,
        )
        whole = prove(good, anew=True)
        if whole.failed or whole.anew is None or whole.anew.differing or whole.anew.why:
            print("\n".join(["The untouched build is not proved:", *(fault for fault, _ in _told(whole))]))
            return 1
        print(f"Untouched it is proved, made anew {whole.anew.equal} of {whole.anew.total} equal.", flush=True)
        some = [one for one in ALL if options.only in one.name][:: options.every]
        outcomes = []
        for outcome in shared_out(partial(_planted_or_told, good), some):
            if isinstance(outcome, str):
                print(f"CANNOT BE PLANTED: {outcome}", flush=True)
                continue
            outcomes.append(outcome)
            if options.told:
                print(
                    f"{outcome.how.value:12} {outcome.seconds:5.2f} s  {outcome.kind}: {outcome.what}: {outcome.said[:200]}",
                    flush=True,
                )
        print("\n".join(table(outcomes)))
        alarms = list(false_alarms(good))
        print(
            "\n".join(
                [f"False alarm: {one}" for one in alarms]
                or [f"No false alarm in {len(UNTOUCHED)} files written again."]
            )
        )
    why = [*short(outcomes), *(["Not every corruption can be planted."] if len(outcomes) < len(some) else [])]
    print("\n".join(why or ["Good."]), f"{time.perf_counter() - began:.0f} s.")
    return 1 if why or alarms else 0


def _planted_or_told(good: Path, corruption: Corruption) -> Outcome | str:
    try:
        return planted(good, corruption)
    except (Nothing, LookupError, StopIteration, ValueError, AssertionError) as error:
        return f"{corruption.name}: {type(error).__name__} {error}"


def false_alarms(good: Path) -> Iterator[str]:
    """Yield what is said of files that were written again and say the same."""
    for one in UNTOUCHED:
        outcome = planted_again(good, one)
        if outcome:
            yield f"{one.name}: {outcome}"


def planted_again(good: Path, untouched: Corruption) -> str:
    """Return what the content of a file that was written again is said to be wrong with; "" for nothing."""
    folder = _copy(good)
    try:
        try:
            untouched.act(folder, folder.chosen(untouched))
        except Nothing:
            return ""
        folder.match()
        return "; ".join(fault for fault, anew in _faults(folder) if not anew)
    finally:
        folder.mend()


if __name__ == "__main__":
    sys.exit(main())
