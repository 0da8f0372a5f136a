"""What a corruption is, the folder that it spoils, and the edits of which corruptions are made."""

from __future__ import annotations

import hashlib
import json
import re
import shutil
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from fnmatch import fnmatchcase
from pathlib import Path
from typing import Any

MANIFEST = "manifest.json"

Act = Callable[["Folder", str], None]
"""Spoils a folder, by the name of the file that it is about."""


@dataclass(frozen=True)
class Corruption:
    """What is done to a file: its kind, the pattern of its name, what is done in plain words, and how.

    Of several files whose names match it is the first that holds `holds`. `passed` says why content alone may pass it over.
    """

    kind: str
    on: str
    what: str
    act: Act
    holds: str = ""
    passed: str = ""

    @property
    def name(self) -> str:
        """How it is called in the table and in tests."""
        return f"{self.kind}: {self.what}"


@dataclass
class Folder:
    """A build's folder that may be spoilt and made good again from another copy."""

    path: Path
    good: Path
    touched: set[str] = field(default_factory=set)

    def names(self, pattern: str) -> list[str]:
        """Return the names that the good manifest lists and a pattern matches, sorted."""
        manifest = json.loads((self.good / MANIFEST).read_text("utf-8"))
        return sorted(file["name"] for file in manifest["files"] if fnmatchcase(file["name"], pattern))

    def chosen(self, corruption: Corruption) -> str:
        """Return the file that a corruption is about; raises LookupError where there is none."""
        if corruption.on == MANIFEST:
            return MANIFEST
        for name in self.names(corruption.on):
            if not corruption.holds or corruption.holds.encode() in self.read(name):
                return name
        raise LookupError(f"no file {corruption.on} that holds {corruption.holds!r}, for: {corruption.name}")

    def read(self, name: str) -> bytes:
        """Return what a file holds."""
        return (self.path / name).read_bytes()

    def differs(self, name: str) -> bool:
        """Whether a file is another one than in the good build, or there in one of them alone."""
        one, other = self.path / name, self.good / name
        return one.is_file() != other.is_file() or (one.is_file() and one.read_bytes() != other.read_bytes())

    def put(self, name: str, data: bytes) -> None:
        """Write a file."""
        self.touched.add(name)
        path = self.path / name
        path.parent.mkdir(parents=True, exist_ok=True)
        path.unlink(missing_ok=True)
        path.write_bytes(data)

    def remove(self, name: str) -> None:
        """Take a file away."""
        self.touched.add(name)
        (self.path / name).unlink()

    def match(self) -> None:
        """Make the manifest say what is in the files now: size and hash, no line for one that is gone, one for each that is new."""
        if MANIFEST in self.touched:
            return
        manifest = json.loads((self.path / MANIFEST).read_text("utf-8"))
        listed = {file["name"]: file for file in manifest["files"]}
        for name in self.touched:
            if not (self.path / name).is_file():
                listed.pop(name, None)
                continue
            data = self.read(name)
            known = listed.setdefault(name, {"name": name, "purpose": self.purpose_like(name, listed)})
            known |= {"size": len(data), "sha256": hashlib.sha256(data).hexdigest()}
        manifest["files"] = sorted(listed.values(), key=lambda file: file["name"])
        self.put(MANIFEST, (json.dumps(manifest, indent=1, ensure_ascii=False) + "\n").encode())

    def purpose_like(self, name: str, listed: dict[str, Any]) -> str:
        """Return the purpose of a file of the same kind, for one that was added."""
        ending = name.rpartition(".")[2]
        return next((file["purpose"] for one, file in listed.items() if one.endswith(f".{ending}")), "")

    def mend(self) -> None:
        """Make the folder as good as it was."""
        for name in self.touched:
            (self.path / name).unlink(missing_ok=True)
            if (self.good / name).is_file():
                shutil.copyfile(self.good / name, self.path / name)
        self.touched.clear()


# Edits


class Nothing(ValueError):
    """An edit that changed nothing: what it was to change is no longer there."""


def changed(change: Callable[[bytes], bytes]) -> Act:
    """Return what changes the bytes of a file."""

    def act(folder: Folder, name: str) -> None:
        before = folder.read(name)
        after = change(before)
        if after == before:
            raise Nothing(f"{name} is as it was")
        folder.put(name, after)

    return act


def text(change: Callable[[str], str], encoding: str = "utf-8") -> Act:
    """Return what changes the text of a file; its ends of lines stay."""
    return changed(lambda data: change(data.decode(encoding)).encode(encoding))


def together(*acts: Act) -> Act:
    """Return what does one thing after the other."""

    def act(folder: Folder, name: str) -> None:
        for one in acts:
            one(folder, name)

    return act


def replaced(old: str, new: str, times: int = 1) -> Act:
    """Return what writes other words in place of some, as often as asked; 0 for everywhere."""

    def change(said: str) -> str:
        if old not in said:
            raise Nothing(f"{old!r} is not there")
        return said.replace(old, new, times or -1)

    return text(change)


def exchanged(one: str, other: str) -> Act:
    """Return what writes each of two words in place of the other, everywhere."""

    def change(said: str) -> str:
        if one not in said or other not in said:
            raise Nothing(f"{one!r} or {other!r} is not there")
        return said.replace(one, "\0").replace(other, one).replace("\0", other)

    return text(change)


def matched(pattern: str, new: str | Callable[[re.Match[str]], str], *, which: int = 0, every: bool = False) -> Act:
    """Return what writes something else in place of the match of that index, or of every match."""

    def change(said: str) -> str:
        found = list(re.finditer(pattern, said, re.MULTILINE))
        if not found:
            raise Nothing(f"{pattern!r} matches nothing")
        for match in reversed(found if every else [found[which]]):
            said = (
                said[: match.start()]
                + (match.expand(new) if isinstance(new, str) else new(match))
                + said[match.end() :]
            )
        return said

    return text(change)


def number(pattern: str, change: Callable[[float], float], *, which: int = 0, every: bool = False) -> Act:
    """Return what changes the number that is the pattern's first group, with as many decimals as it had."""

    def new(match: re.Match[str]) -> str:
        decimals = len(match[1].partition(".")[2])
        start = match.start(1) - match.start()
        written = f"{change(float(match[1])):.{decimals}f}"
        return match[0][:start] + written + match[0][start + len(match[1]) :]

    return matched(pattern, new, which=which, every=every)


def lines(change: Callable[[list[str]], Sequence[str]]) -> Act:
    """Return what changes the lines of a text."""
    return text(lambda said: "\n".join(change(said.split("\n"))))


def plus(by: float) -> Callable[[float], float]:
    """Return what adds to a number."""
    return lambda value: value + by


def by(factor: float) -> Callable[[float], float]:
    """Return what multiplies a number."""
    return lambda value: value * factor


def copy_of(pattern: str, which: int = 0) -> Act:
    """Return what puts another file, the one of that index whose name matches, under this name."""

    def act(folder: Folder, name: str) -> None:
        others = [one for one in folder.names(pattern) if one != name]
        if not others or folder.read(others[which]) == folder.read(name):
            raise Nothing(f"no other file {pattern}")
        folder.put(name, folder.read(others[which]))

    return act


def swapped_with(pattern: str, which: int = 0) -> Act:
    """Return what exchanges the file with another whose name matches."""

    def act(folder: Folder, name: str) -> None:
        others = [one for one in folder.names(pattern) if one != name]
        if not others:
            raise Nothing(f"no other file {pattern}")
        one, other = folder.read(name), folder.read(others[which])
        folder.put(name, other)
        folder.put(others[which], one)

    return act
