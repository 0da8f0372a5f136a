"""Files that are packed in a ZIP, unpacked once for all who read them one after the other."""

from __future__ import annotations

import zipfile
from collections.abc import Mapping
from functools import lru_cache
from pathlib import Path


def parts_of(path: Path) -> Mapping[str, bytes]:
    """Return the parts of a package by their names, held against their checksums; raises what a reader of ZIP raises for what is none."""
    about = path.stat()
    return _parts(path, about.st_mtime_ns, about.st_size)


@lru_cache(maxsize=1)
def _parts(path: Path, _changed: int, _size: int) -> Mapping[str, bytes]:
    with zipfile.ZipFile(path) as package:
        return {part: package.read(part) for part in package.namelist()}
