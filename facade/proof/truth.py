"""What files are held against: the front that the job file in their folder gives, built anew, and the manifest."""

from __future__ import annotations

import hashlib
import re
from collections.abc import Callable, Hashable, Mapping
from dataclasses import dataclass, field
from fractions import Fraction
from pathlib import Path, PurePosixPath
from typing import TYPE_CHECKING, Any, TypeVar

from facade.arrays import Array
from facade.errors import FileError
from facade.files import MANIFEST, read_manifest
from facade.front import Front, build_front
from facade.job import read_job
from facade.proof.kinds import once_each

if TYPE_CHECKING:
    from facade.checks import Finding

_Made = TypeVar("_Made")

# Files hold three decimals, or numbers of 32 bits: what is off by less than this, mm, is rounding and no fault.
ROUNDING = 0.002
# An "M" or an "m" stands before; to look for plain letters first is much quicker.
_MARK = re.compile(r"ark ([0-9A-HJKMNP-TV-Z]{4}-[0-9A-HJKMNP-TV-Z]{4})")
_WITHIN = re.compile(r"within ([0-9.]+) mm")
_DECIMAL = re.compile(r"-?[0-9]+(\.[0-9]+)?")
_SHEET = re.compile(r"paper/(\d+)-[a-z]+\.svg")


@dataclass(frozen=True)
class Truth:
    """The front built anew, the folder, its manifest with its files by name, and the name of the job file."""

    front: Front
    folder: Path
    manifest: Mapping[str, Any]
    files: Mapping[str, Mapping[str, Any]]
    job_name: str = ""
    _once: dict[Hashable, Any] = field(default_factory=dict, repr=False, compare=False)

    def findings(self) -> list[Finding]:
        """Return what the checks find now; asked again, they are not run again."""
        from facade.checks import check_front

        return self.once("findings", lambda: check_front(self.front))

    def once(self, name: Hashable, work: Callable[[], _Made]) -> _Made:
        """Return what `work` makes, made once for each name: what is asked of many files."""
        if name not in self._once:
            self._once[name] = work()
        made: _Made = self._once[name]
        return made

    def heights_at(self, x: Array, y: Array) -> Array:
        """Return the finished heights at places on the front, x and y (points,), mm."""
        # Places of most files lie on a grid, where the surface is much quicker.
        columns, across = once_each(x)
        rows, along = once_each(y)
        if len(columns) * len(rows) <= 2 * len(x):
            return self.front.surface.at(columns[None, :], rows[:, None])[along, across]
        return self.front.surface.at(x, y)

    def length(self, mm: float) -> str:
        """Return a length of the job's unit in words, to what counts here."""
        unit = self.front.job.unit
        return f"{mm:.3f} mm" if unit.in_mm == 1.0 else f"{mm / unit.in_mm:.4f} in"

    def read_number(self, text: str) -> float:
        """Return a length in mm from a printed number of the job's unit: "12.4", "1 3/8"; raises ValueError."""
        bare = text.strip()
        if _DECIMAL.fullmatch(bare):
            return float(bare) * self.front.job.unit.in_mm
        size = sum(map(Fraction, bare.lstrip("-").split()), Fraction(0))
        if not bare:
            raise ValueError("no number")
        return float(-size if bare.startswith("-") else size) * self.front.job.unit.in_mm

    def printed_rounding(self, decimals: int) -> float:
        """Return by how much a printed length may be off, mm: half of its last decimal, or of the ruler's fraction of an inch."""
        unit, ruler = self.front.job.unit, self.front.job.ruler
        return (0.5 * 10.0**-decimals if unit.in_mm == 1.0 else 0.5 * unit.in_mm / ruler.fraction) + 1e-6

    def mark_faults(self, text: str) -> list[str]:
        """Return what is wrong with the marks in a text: none, or another front's."""
        found = {one[1] for one in _MARK.finditer(text) if text[one.start() - 1 : one.start()] in ("M", "m")}
        wrong = sorted(found - {self.front.mark})
        if wrong:
            return [self.other_mark(wrong[0])]
        return [] if found else ["bears no mark"]

    def other_mark(self, mark: str) -> str:
        """Return what is said of a file that bears another mark than the job file gives."""
        return f"bears mark {mark}, but the job file gives {self.front.mark}: it is of another front"

    def byte_faults(self, name: str) -> tuple[str, ...]:
        """Return what is wrong with the size and the SHA-256 (FIPS 180-4) of a file by the manifest."""
        path, listed = self.folder / name, self.files[name]
        size = path.stat().st_size
        if size != listed.get("size"):
            return (f"is {size} bytes, {listed.get('size')} were written",)
        with path.open("rb") as stream:
            same = hashlib.file_digest(stream, "sha256").hexdigest() == listed.get("sha256")
        return () if same else ("its bytes are not those that were written: changed since",)

    def stated_tolerance(self, name: str) -> float | None:
        """Return how close its purpose in the manifest says a file is to the surface, mm."""
        found = _WITHIN.search(str(self.files[name].get("purpose", "")))
        return float(found[1]) if found else None

    def sheets(self) -> list[str]:
        """Return the names of the paper pack's sheets in their order."""
        return sorted(name for name in self.files if name.startswith("paper/"))

    def sheet_number(self, name: str) -> int:
        """Return which sheet of the paper pack a file is by its name; raises ValueError for a name that no sheet has."""
        found = _SHEET.fullmatch(name)
        if found is None:
            raise ValueError("no sheet of the paper pack is called so")
        return int(found[1])


def read_truth(folder: Path) -> Truth:
    """Return what the files of a folder are held against; raises FileError where it is not a build's folder, JobError for its job."""
    manifest = read_manifest(folder)
    if manifest is None:
        raise FileError(f"{folder} holds no {MANIFEST} of ours: name the folder that a build has written")
    files = {str(file["name"]): file for file in manifest["files"]}
    job = _job_name(folder, files)
    return Truth(build_front(read_job(folder / job)), folder, manifest, files, job)


def _job_name(folder: Path, files: Mapping[str, Mapping[str, Any]]) -> str:
    """Return the name of the job file in a build's folder."""
    jobs = [name for name in files if name.startswith("job/") and PurePosixPath(name).match("job/*.toml")]
    jobs.sort(key=lambda name: (PurePosixPath(name).stem != folder.name, name))
    if not jobs:
        raise FileError(f"{folder} holds no job file to build the front from: build it anew from a job file")
    return jobs[0]
