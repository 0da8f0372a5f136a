"""What files are held against: the front that the job file in their folder gives, built anew, and the manifest."""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass
from fractions import Fraction
from pathlib import Path, PurePosixPath
from typing import Any

import numpy as np

from facade.arrays import Array
from facade.build import JOB_PURPOSE
from facade.errors import FileError
from facade.files import MANIFEST, read_manifest
from facade.front import Front, build_front
from facade.job import read_job

# Files hold three decimals, or numbers of 32 bits: what is off by less than this, mm, is rounding and no fault.
ROUNDING = 0.002
MARK = re.compile(r"[Mm]ark ([0-9A-HJKMNP-TV-Z]{4}-[0-9A-HJKMNP-TV-Z]{4})")
_WITHIN = re.compile(r"within ([0-9.]+) mm")


@dataclass(frozen=True)
class Truth:
    """The front built anew, the folder, and its manifest with its files by name."""

    front: Front
    folder: Path
    manifest: Mapping[str, Any]
    files: Mapping[str, Mapping[str, Any]]

    def heights_at(self, x: Array, y: Array) -> Array:
        """Return the finished heights at places on the front, x and y (points,), mm."""
        # Places of most files lie on a grid, where the surface is much quicker.
        columns, across = np.unique(x, return_inverse=True)
        rows, along = np.unique(y, return_inverse=True)
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
        found = set(MARK.findall(text))
        wrong = sorted(found - {self.front.mark})
        if wrong:
            return [f"bears mark {wrong[0]}, but the job file gives {self.front.mark}: it is of another front"]
        return [] if found else ["bears no mark"]

    def stated_tolerance(self, name: str) -> float | None:
        """Return how close its purpose in the manifest says a file is to the surface, mm."""
        found = _WITHIN.search(str(self.files[name].get("purpose", "")))
        return float(found[1]) if found else None

    def sheets(self) -> list[str]:
        """Return the names of the paper pack's sheets in their order."""
        return sorted(name for name in self.files if name.startswith("paper/"))


def read_truth(folder: Path) -> Truth:
    """Return what the files of a folder are held against; raises FileError where it is not a build's folder, JobError for its job."""
    manifest = read_manifest(folder)
    if manifest is None:
        raise FileError(f"{folder} holds no {MANIFEST} of ours: name the folder that a build has written")
    files = {str(file["name"]): file for file in manifest["files"]}
    return Truth(build_front(read_job(folder / _job_name(folder, files))), folder, manifest, files)


def _job_name(folder: Path, files: Mapping[str, Mapping[str, Any]]) -> str:
    """Return the name of the job file in a build's folder."""
    jobs = [
        name
        for name, file in files.items()
        if file.get("purpose") == JOB_PURPOSE and PurePosixPath(name).match("job/*.toml")
    ]
    jobs.sort(key=lambda name: (PurePosixPath(name).stem != folder.name, name))
    if not jobs:
        raise FileError(f"{folder} holds no job file to build the front from: build it anew from a job file")
    return jobs[0]
