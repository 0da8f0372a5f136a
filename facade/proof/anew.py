"""The same version makes the same bytes: every file made once more from the job file, and compared byte by byte.

This is the one reader that knows the writers. It says nothing of what is right: that the other readers do.
"""

from __future__ import annotations

import hashlib
import tempfile
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from facade.errors import FacadeError
from facade.files import MANIFEST
from facade.proof.compared import Anew, Compared, Verdict
from facade.proof.truth import Truth
from facade.version import __version__

OTHER_BYTES = (
    "is not what this version makes of the job file: its bytes differ, though nothing that it says was found wrong"
)
NOT_THERE = "is made of this job, but is not there"


def make_anew(truth: Truth) -> Anew:
    """Return what comes of making every file of a folder once more; raises OSError."""
    made_by = truth.manifest.get("made_by")
    if made_by != f"facade {__version__}":
        return Anew(
            why=f"cannot be made anew: it was made by {made_by or 'no version that it names'}, this is facade {__version__}"
        )
    from facade.build import make_again

    with tempfile.TemporaryDirectory(prefix="facade-proof-") as place:
        try:
            made = make_again(truth.front, Path(place), dict(truth.manifest))
        except (KeyError, TypeError, ValueError, FacadeError) as error:
            said = error if isinstance(error, FacadeError) else "its manifest does not say what was asked for"
            return Anew(why=f"cannot be made anew: {said}")
        wanted = {file.name: file.sha256 for file in made}
    there = [*truth.files, MANIFEST]
    names = sorted({*there, *wanted})
    differing = tuple(name for name in names if _digest(truth.folder / name) != wanted.get(name))
    return Anew(len(names), len(names) - len(differing), differing)


def _digest(path: Path) -> str | None:
    """Return the SHA-256 of a file (FIPS 180-4), None where there is none."""
    if not path.is_file():
        return None
    with path.open("rb") as stream:
        return hashlib.file_digest(stream, "sha256").hexdigest()


def told_of(anew: Anew, compared: list[Compared]) -> Iterator[Compared]:
    """Yield what came of the files, those that readers passed but that are not what is made anew with a fault."""
    differing = set(anew.differing)
    for one in compared:
        differs = one.name in differing and one.verdict is not Verdict.FAILS
        yield replace(one, faults=(OTHER_BYTES,), skipped="") if differs else one
    for name in sorted(differing - {one.name for one in compared}):
        yield Compared(name, "", faults=(NOT_THERE,))


def front_picture_anew(truth: Truth) -> NDArray[np.uint8]:
    """Return the pixels of the picture of the front, painted anew."""
    from facade.pictures.front import painted_front

    return painted_front(truth.front).pixels


def check_pictures_anew(truth: Truth) -> dict[str, bytes]:
    """Return the pictures of what the checks find, drawn anew, by name."""
    from facade.build import check_pictures

    return check_pictures(truth.front, truth.findings())


def report_anew(truth: Truth) -> bytes:
    """Return the report of the front, made anew."""
    from facade.viewing.report import report

    return report(truth.front)
