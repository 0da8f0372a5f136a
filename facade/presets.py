"""The presets: complete job files to start from."""

from __future__ import annotations

import tomllib
from dataclasses import dataclass
from functools import cache
from pathlib import Path

from facade.errors import FileError
from facade.job.mistakes import nearest


@dataclass(frozen=True)
class Preset:
    """A job file to start from: its name, its text, and what its first line says of it."""

    name: str
    path: Path

    @property
    def text(self) -> str:
        """The job file as it is."""
        return self.path.read_text("utf-8")

    @property
    def summary(self) -> str:
        """The first line, which says what it is."""
        return self.text.partition("\n")[0].lstrip("# ").rstrip()

    def beside(self) -> dict[str, bytes]:
        """Return the files that the job reads, by name."""
        layers = tomllib.loads(self.text).get("layers", [])
        return {layer["file"]: (self.path.parent / layer["file"]).read_bytes() for layer in layers if "file" in layer}


@cache
def presets_folder() -> Path:
    """Return the folder of the presets: inside the installed package, or beside it in a checkout."""
    package = Path(__file__).parent
    inside = package / "presets"
    return inside if inside.is_dir() else package.parent / "presets"


def presets() -> dict[str, Preset]:
    """Return all presets by name."""
    return {path.stem: Preset(path.stem, path) for path in sorted(presets_folder().glob("*.toml"))}


def preset(name: str) -> Preset:
    """Return one preset; raises FileError for a name that is not there."""
    known = presets()
    if name not in known:
        raise FileError(f"there is no preset {name!r}: {nearest(name, known)}")
    return known[name]
