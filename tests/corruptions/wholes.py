"""Corruptions of whole files, of the manifest and of the job: cut short, emptied, taken away, added, exchanged."""

from __future__ import annotations

import json
from collections.abc import Callable, Iterator
from typing import Any

from corruptions.corruption import MANIFEST, Act, Corruption, Folder, Nothing, changed, replaced

_FILES = (
    "strips/strip-03_mm.stl",
    "sides/strip-03.svg",
    "front.stl",
    "front.glb",
    "front.html",
    "front.png",
    "check.png",
    "opening.png",
    "offsets.csv",
    "parts.csv",
    "paper.pdf",
    "paper/*-lists.svg",
    "cnc-face/*_1-rough_mm.ngc",
    "cnc-face/*_2-finish_mm.ngc",
    "cnc-face/*_heights.png",
    "cnc-face/*_heights.txt",
    "cnc-face/*_mm.3mf",
    "cnc-face/*_plan_mm.dxf",
    "cnc-face/*_plan_mm.svg",
    "cnc-face/*_plan.pdf",
    "cnc-face/read-me.txt",
    "cnc-face/times.csv",
    "cnc-side/*strip-03_*.dxf",
    "cnc-side/*strip-03_*.svg",
    "cnc-side/sizes.csv",
    "cnc-side/read-me.txt",
    "cnc-side/job-sheet.pdf",
)


def cut_short(share: float) -> Act:
    return changed(lambda data: data[: int(share * len(data))])


def taken_away(folder: Folder, name: str) -> None:
    folder.remove(name)


def copied_to(place: str, change: Callable[[bytes], bytes] = lambda data: data) -> Act:
    """Return what puts a copy of a file elsewhere, as if a build had made it."""

    def act(folder: Folder, name: str) -> None:
        folder.put(place, change(folder.read(name)))

    return act


def _wholes() -> Iterator[Corruption]:
    for on in _FILES:
        for what, act in (("cut short", cut_short(0.4)), ("emptied", cut_short(0.0)), ("taken away", taken_away)):
            yield Corruption("whole files", on, f"{on} {what}", act)
    for on, place in (
        ("strips/strip-03_mm.stl", "strips/strip-09_mm.stl"),
        ("strips/strip-03_mm.stl", "strips/strip-03_in.stl"),
        ("paper/*-lists.svg", "paper/99-lists.svg"),
        ("sides/strip-03.svg", "sides/strip-09.svg"),
        (
            "cnc-face/*fixture-01*_2-finish_mm.ngc",
            "cnc-face/programs/fixture-03_door-2_strips-09-to-12_2-finish_mm.ngc",
        ),
        ("cnc-face/*fixture-01*_2-finish_mm.ngc", "cnc-face/finish-all.ngc"),
        ("cnc-side/*strip-03_*.dxf", "cnc-side/strip-09_door-2_right-side-up_20x20x130_mm.dxf"),
        ("front.png", "front-2.png"),
        ("parts.csv", "cnc-face/parts.csv"),
    ):
        yield Corruption("added files", on, f"{place} added, a copy of {on}", copied_to(place))
    for on, place in (
        ("strips/strip-03_mm.stl", "strips/spare.stl"),
        ("sides/strip-03.svg", "spare.svg"),
        ("cnc-face/*fixture-01*_2-finish_mm.ngc", "old/spare.ngc"),
        ("cnc-face/read-me.txt", "notes/spare.txt"),
        ("offsets.csv", "spare.csv"),
    ):
        yield Corruption("added files", on, f"{place} added, of another front", copied_to(place, _of_another))


def _of_another(data: bytes) -> bytes:
    """Return a file with another mark, as long as the former."""
    import re

    found = re.search(rb"\b[0-9A-HJKMNP-TV-Z]{4}-[0-9A-HJKMNP-TV-Z]{4}\b", data)
    if not found:
        raise Nothing("no mark")
    return data.replace(found[0], b"7Q2M-X4KD")


def told(change: Callable[[dict[str, Any]], None]) -> Act:
    """Return what changes what the manifest says."""

    def act(folder: Folder, name: str) -> None:
        before = folder.read(MANIFEST).decode("utf-8")
        manifest = json.loads(before)
        change(manifest)
        after = json.dumps(manifest, indent=1, ensure_ascii=False) + "\n"
        if after == before:
            raise Nothing("the manifest is as it was")
        folder.put(MANIFEST, after.encode())

    return act


def _set(**values: Any) -> Act:
    return told(lambda manifest: manifest.update(values))


def _about(name: str, **values: Any) -> Act:
    def change(manifest: dict[str, Any]) -> None:
        file = next(file for file in manifest["files"] if file["name"] == name)
        file.update(values)

    return told(change)


def _finding(**values: Any) -> Act:
    return told(lambda manifest: manifest["findings"][0].update(values))


def _purposes_exchanged(manifest: dict[str, Any]) -> None:
    one, other = manifest["files"][0], manifest["files"][-1]
    one["purpose"], other["purpose"] = other["purpose"], one["purpose"]


def _without_strips(manifest: dict[str, Any]) -> None:
    manifest["files"] = [file for file in manifest["files"] if not file["name"].startswith("strips/")]


def _unlisted(name: str) -> Act:
    def change(manifest: dict[str, Any]) -> None:
        if name not in [file["name"] for file in manifest["files"]]:
            raise Nothing(f"no {name}")
        manifest["files"] = [file for file in manifest["files"] if file["name"] != name]

    return told(change)


def _manifest() -> Iterator[Corruption]:
    for what, act in (
        ("cleared turned round", told(lambda m: m.update(cleared=not m["cleared"]))),
        ("findings left out", _set(findings=[])),
        ("the first finding left out", told(lambda m: m["findings"].pop(0))),
        ("a finding doubled", told(lambda m: m["findings"].append(m["findings"][0]))),
        ("a finding's sentence", _finding(sentence="All is well.")),
        ("a finding's weight", told(lambda m: m["findings"][0].update(weight="stops"))),
        ("a finding's value", told(lambda m: next(f for f in m["findings"] if "value" in f).update(value=1.0))),
        ("two findings exchanged", told(lambda m: m["findings"].reverse())),
        ("another title", _set(title="Large hall cabinet")),
        ("another unit", _set(unit="in")),
        ("lengths said to be inches", _set(lengths_here="in")),
        ("another width of the front", told(lambda m: m["front"].update(width=200.0))),
        ("another number of strips", told(lambda m: m["front"].update(strips=9))),
        ("another number of doors", told(lambda m: m["front"].update(doors=1))),
        ("another version", _set(made_by="facade 0.0.9")),
        ("another geometry", _set(geometry=1)),
        ("no geometry", told(lambda m: m.pop("geometry"))),
        ("another mark", _set(mark="7Q2M-X4KD")),
        ("other settings", _set(settings="0" * 64)),
        # That nothing was printed before, or another front, is no corruption: a sound folder may have been printed from or not.
        ("another print of a strip", told(lambda m: m["printed"]["strips"].update({"3": ["0" * 16, m["mark"]]}))),
        ("a strip said to be left out", _set(as_built="without 3, gaps 4.1")),
        ("files for machines said not to be cleared", told(lambda m: m["cnc"]["face"].update(cleared=False))),
        ("other strips for the side route", told(lambda m: m["cnc"]["side"].update(strips=[1, 2]))),
        ("the side route left out", told(lambda m: m["cnc"].pop("side"))),
        ("another purpose of a file", _about("offsets.csv", purpose="part list")),
        ("no purpose of a file", _about("front.stl", purpose="")),
        ("a wider tolerance in a purpose", told(lambda m: _wider(m))),
        ("two purposes exchanged", told(_purposes_exchanged)),
        ("files in another order", told(lambda m: m["files"].reverse())),
        ("a file listed twice", told(lambda m: m["files"].append(m["files"][3]))),
        ("a strip not listed", _unlisted("strips/strip-03_mm.stl")),
        ("the report not listed", _unlisted("front.html")),
        ("all strips not listed", told(_without_strips)),
        (
            "a file that is not there",
            told(lambda m: m["files"].append({"name": "x.stl", "purpose": "", "size": 1, "sha256": ""})),
        ),
        ("another size of a file", _about("front.png", size=1)),
        ("another hash of a file", _about("front.png", sha256="0" * 64)),
        ("a word of its own", _set(note="cut at once")),
    ):
        yield Corruption("manifest", MANIFEST, what, act)


def _wider(manifest: dict[str, Any]) -> None:
    """Say of the first solids whose tolerance is stated that they are within 1 mm."""
    import re

    for file in manifest["files"]:
        new = re.sub(r"within [\d.]+ mm", "within 1.000 mm", file["purpose"])
        if new != file["purpose"]:
            file["purpose"] = new
            return
    raise Nothing("no tolerance is stated")


def _job() -> Iterator[Corruption]:
    for what, act in (
        ("another seed", replaced("seed = 3", "seed = 4")),
        ("a lower floor", replaced("floor = 8", "floor = 7")),
        ("another title", replaced('title = "Small hall cabinet"', 'title = "Large hall cabinet"')),
        ("another light", replaced("[carving]", '[picture]\nlight = "right"\n\n[carving]')),
        ("another feed", replaced("[carving]", "[machine.finishing]\nfeed = 2000\n\n[carving]")),
        ("another species", replaced("white ash", "red oak")),
        ("another size of the front", replaced("height = 130", "height = 131")),
        ("that cannot be read", replaced("[carving]", "[carving")),
    ):
        yield Corruption("job file", "job/*.toml", what, act)


CORRUPTIONS: tuple[Corruption, ...] = (*_wholes(), *_manifest(), *_job())

UNTOUCHED: tuple[Corruption, ...] = (
    Corruption("job file", "job/*.toml", "a comment", replaced("[carving]", "# as agreed\n[carving]")),
    Corruption("manifest", MANIFEST, "written again", changed(lambda data: json.dumps(json.loads(data)).encode())),
)
