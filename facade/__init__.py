"""facade: carved cabinet fronts made of many narrow vertical strips, from a job file to files on disk.

from facade import read_job, build_front, write

front = build_front(read_job("presets/hall-cabinet.toml"))
write(front, "out")
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from facade.version import __version__ as __version__

if TYPE_CHECKING:
    from facade.build import Build, write
    from facade.checks import Finding, check_front
    from facade.errors import FacadeError, FileError, JobError
    from facade.front import Front, build_front
    from facade.job import Job, make_job, read_job
    from facade.making import Output
    from facade.slicer import Strip

__all__ = [
    "Build",
    "FacadeError",
    "FileError",
    "Finding",
    "Front",
    "Job",
    "JobError",
    "Output",
    "Strip",
    "build_front",
    "check_front",
    "make_job",
    "read_job",
    "write",
]

_HOMES = {
    "facade.build": ("Build", "write"),
    "facade.checks": ("Finding", "check_front"),
    "facade.errors": ("FacadeError", "FileError", "JobError"),
    "facade.front": ("Front", "build_front"),
    "facade.job": ("Job", "make_job", "read_job"),
    "facade.making": ("Output",),
    "facade.slicer": ("Strip",),
}


def __getattr__(name: str) -> Any:
    """Import a public name from its home when it is first asked for: the command line starts quickly this way."""
    from importlib import import_module

    for home, names in _HOMES.items():
        if name in names:
            return getattr(import_module(home), name)
    raise AttributeError(f"module 'facade' has no attribute {name!r}")
