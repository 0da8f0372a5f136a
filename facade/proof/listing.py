"""The manifest: its mark and figures, what the checks found, and that its list of files is whole."""

from __future__ import annotations

import hashlib
import re
from collections.abc import Iterator, Mapping
from typing import TYPE_CHECKING, Any

from facade.files import MANIFEST
from facade.front import GEOMETRY, Front
from facade.proof.built import as_built_in_words, placing_faults
from facade.proof.compared import Compared
from facade.proof.laid import fixture_names, ordered, unit_word
from facade.proof.lying_drawings import lying_of
from facade.proof.truth import Truth
from facade.version import __version__

if TYPE_CHECKING:
    from facade.checks import Finding

_MOST_TOLD = 4
# What each kind of file is for, as a manifest says it (its words go on behind these in some).
_PURPOSES = {
    "sides/": "full-size template of both sides of a strip: print at 100 %, stick or trace, saw and carve to its lines",
    "strips/": "one strip as a closed solid in mm, back at z = 0, for CNC and preview",
    "offsets.csv": "table of offsets: heights at stations, to be plotted without a printer",
    "parts.csv": "part list: size, neighbours, thinnest place, waste and slopes of every strip",
    "front.stl": "all strips in their places as one file of closed solids in mm, for preview; facets within # mm of the surface",
    "front.glb": "the front in 3-D for a phone or a browser, in metres; facets within # mm of the surface",
    "front.png": "the front as it will look under a raking light, for the client; *, bright slopes to dark ones # : 1",
    "front.html": "the front to turn and to light in any browser, one file that asks for nothing",
    "paper": "the paper pack, true to size: print paper.pdf at 100 %; the same sheets as SVG in paper/",
    "check.png": "where the checks found something, marked on the front; thickness and slope of every strip",
    "opening.png": "the opening as it was measured, and the front in it",
    "job/": "the job file as it was when this was made, and what it reads",
}
# Which files come of what was asked for, one each; strips, sides, paper and routes have many.
_SINGLE = {
    "offsets": "offsets.csv",
    "parts": "parts.csv",
    "solid": "front.stl",
    "view": "front.glb",
    "picture": "front.png",
    "report": "front.html",
    "check": "check.png",
}
_MANY = ("sides", "strips", "paper", "cnc-side", "cnc-face")
_KEYS = [
    "made_by",
    "mark",
    "geometry",
    "settings",
    "title",
    "unit",
    "lengths_here",
    "front",
    "as_built",
    "cleared",
    "findings",
    "printed",
    "outputs",
    "paper",
    "cnc",
    "files",
]
_KINDS = (
    "first",
    "calibration",
    "sticks",
    "sides",
    "wraps",
    "faces",
    "holes",
    "gauges",
    "boards",
    "lists",
    "wrong",
    "offsets",
)
# What is about single strips; asked for strip by strip these come one strip after the other.
_OF_STRIPS = ("sides", "wraps", "holes", "offsets")
_SHEET = re.compile(r"paper/(\d+)-([a-z]+)\.svg")


def compare_manifest(truth: Truth) -> Compared:
    """Return what comes of the manifest itself."""
    found = truth.findings()
    faults = [*_figures(truth), *_found(truth, found), *_whole(truth), *_purposes(truth), *_printed(truth)]
    told = tuple(faults[:_MOST_TOLD]) + ((f"and {len(faults) - _MOST_TOLD} more",) if len(faults) > _MOST_TOLD else ())
    what = "mark, sizes and counts with the job file; what the checks find; list of files whole"
    return Compared(MANIFEST, what, 6 + len(found) + len(truth.files), faults=told)


def _figures(truth: Truth) -> Iterator[str]:
    front, manifest = truth.front, truth.manifest
    if manifest["mark"] != front.mark:
        yield f"bears mark {manifest['mark']}, but the job file gives {front.mark}: it is of another front"
    if manifest.get("geometry") != GEOMETRY:
        yield f"was {manifest.get('made_by', 'made')}, whose heights are others than this version's"
    wanted = {"title": front.job.title, "unit": front.job.unit.value, "lengths_here": "mm"}
    yield from (
        f"says {key} {manifest.get(key)!r}, not {value!r}"
        for key, value in wanted.items()
        if manifest.get(key) != value
    )
    sizes = {
        "width": front.layout.width,
        "height": front.layout.height,
        "doors": len(front.layout.doors),
        "strips": len(front.numbers),
    }
    said = manifest.get("front", {})
    said = said if isinstance(said, Mapping) else {}
    yield from (f"says {key} {said.get(key)}" for key, value in sizes.items() if said.get(key) != value)
    yield from placing_faults(front)
    if manifest.get("as_built", "") != as_built_in_words(front):
        yield f"says {manifest.get('as_built', 'nothing')!r} of what came out otherwise than designed"
    yield from (f"holds {key!r}, which no build writes" for key in manifest if key not in _KEYS)
    if _is_of_this_version(truth) and manifest.get("settings") != _settings(front):
        yield "is not of the settings in the job file: that was changed since"


def _is_of_this_version(truth: Truth) -> bool:
    return truth.manifest.get("made_by") == f"facade {__version__}"


def _settings(front: Front) -> str:
    """Return the fingerprint of everything that decides the bytes (FIPS 180-4): version, mark, all settings."""
    text = f"{__version__}\n{front.mark}\n{front.job.model_dump_json()}"
    return hashlib.sha256(text.encode("utf-8")).hexdigest()


def _found(truth: Truth, findings: list[Finding]) -> Iterator[str]:
    """Yield what the manifest says otherwise of the checks than they do now."""
    stops = any(finding.stops for finding in findings)
    if truth.manifest.get("cleared") is not (not stops):
        yield f"says that the front is {'' if stops else 'not '}cleared, but the checks {'stop it' if stops else 'do not stop it'}"
    if not _is_of_this_version(truth):
        return
    said, wanted = truth.manifest.get("findings"), [finding.as_data() for finding in findings]
    if not isinstance(said, list) or len(said) != len(wanted):
        count = len(said) if isinstance(said, list) else "no list of"
        yield f"holds {count} findings, the checks have {len(wanted)}"
        return
    for one, other in zip(said, wanted, strict=True):
        if one != other:
            yield f"has a finding that the checks do not: {str(one)[:80]}"
            return


def _whole(truth: Truth) -> Iterator[str]:
    """Yield what is missing in the list of files, and what does not belong there."""
    names, outputs = set(truth.files), truth.manifest.get("outputs")
    if len(names) != len(truth.manifest["files"]):
        yield "lists a file twice"
    if not isinstance(outputs, list):
        if _is_of_this_version(truth):
            yield "does not say what was asked for"
        return
    yield from (
        f"was asked for {one!r}, which is nothing that is made" for one in outputs if one not in (*_SINGLE, *_MANY)
    )
    wanted = {_SINGLE[one] for one in outputs if one in _SINGLE} | _job_files(truth)
    if "check" in outputs and truth.front.job.opening:
        wanted.add("opening.png")
    digits = max(2, len(str(truth.front.count)))
    numbers = [f"strip-{number:0{digits}d}" for number in truth.front.numbers]
    wanted |= {f"sides/{one}.svg" for one in numbers if "sides" in outputs}
    wanted |= {f"strips/{one}_mm.stl" for one in numbers if "strips" in outputs}
    if "paper" in outputs:
        wanted |= {"paper.pdf", *(name for name in names if name.startswith("paper/"))}
        yield from _pack(truth)
    for route in ("cnc-side", "cnc-face"):
        files = {name for name in names if name.startswith(f"{route}/")}
        wanted |= (
            _route_files(truth, route) if route in outputs and route[4:] in truth.manifest.get("cnc", {}) else set()
        )
        if route in outputs and not files:
            yield f"lists nothing of {route}, which was asked for"
    missing, more = sorted(wanted - names), sorted(names - wanted)
    if missing:
        yield f"does not list {_some(missing)}"
    if more:
        yield f"lists {_some(more)}, which nothing that was asked for gives"


def _route_files(truth: Truth, route: str) -> set[str]:
    """Return the names of the files of a route, by what was asked for; how strips share fixtures is read off the names."""
    if route == "cnc-side":
        lying = lying_of(truth)
        stems = [f"strips/{lying.strip_stem(truth.front.layout.strip(number))}" for number in lying.asked.strips]
        stems += [f"together/{lying.batch_stem(index + 1)}" for index in range(len(lying.together))]
        found = {f"{stem}.{ending}" for stem in stems for ending in ("dxf", "svg")} | {"sizes.csv"}
    else:
        unit = unit_word(truth.front)
        solids = ("_mm.stl", "_mm.3mf", "_heights.png", "_heights.txt")
        digits = max(2, len(str(truth.front.count)))
        found = {"times.csv"}
        for number in ordered(truth).strips:
            found |= {f"solids/strips/strip-{number:0{digits}d}{ending}" for ending in solids}
        for fixture in fixture_names(truth):
            found |= {f"programs/{fixture}_{cut}_{unit}.ngc" for cut in ("1-rough", "2-finish")}
            found |= {f"drawings/{fixture}_plan{ending}" for ending in (f"_{unit}.dxf", "_mm.svg", ".pdf")}
            found |= {f"solids/{fixture}{ending}" for ending in solids}
    return {f"{route}/{name}" for name in (*found, "read-me.txt", "job-sheet.pdf")}


def _some(names: list[str]) -> str:
    return names[0] + (f" and {len(names) - 1} more" if len(names) > 1 else "")


def _job_files(truth: Truth) -> set[str]:
    """Return the names of the job file and of what it reads."""
    return {truth.job_name} | {f"job/{name}" for layer in truth.front.job.layers for name in layer.files()}


def _is_by_strip(truth: Truth) -> bool:
    """Whether the sheets were asked for strip by strip."""
    paper: Any = truth.manifest.get("paper")
    order = paper.get("order") if isinstance(paper, Mapping) else None
    return isinstance(order, Mapping) and order.get("by_strip") is True


def _pack(truth: Truth) -> Iterator[str]:
    """Yield what is wrong with the names of the sheets: numbered on from 1, their kinds in order."""
    read = [_SHEET.fullmatch(name) for name in truth.sheets()]
    if not read or None in read:
        yield "lists no sheets" if not read else "lists what is no sheet in paper/"
        return
    numbers = [int(one[1]) for one in read if one]
    kinds = [one[2] for one in read if one]
    gaps = sorted(set(range(1, max(numbers) + 1)) - set(numbers))
    if gaps:
        yield f"does not list sheet {gaps[0]} of the paper pack"
    elif len(numbers) != max(numbers):
        yield "lists a sheet of the paper pack twice"
    order = [_KINDS.index(kind) if kind in _KINDS else -1 for kind in kinds]
    if _is_by_strip(truth):
        first = next((kind for kind in _KINDS if kind in kinds and kind in _OF_STRIPS), "")
        order = [_KINDS.index(first) if kind in _OF_STRIPS else at for kind, at in zip(kinds, order, strict=True)]
    if -1 in order or order != sorted(order):
        yield "lists the sheets of the paper pack in an order that none comes out in"


def _purposes(truth: Truth) -> Iterator[str]:
    """Yield the files that are said to be for something else than they are."""
    if not _is_of_this_version(truth):
        return
    for name, file in truth.files.items():
        wanted = next((said for start, said in _PURPOSES.items() if name.startswith(start)), None)
        purpose = file.get("purpose")
        if wanted is not None and not _pattern(wanted).fullmatch(str(purpose)):
            yield f"says that {name} is {str(purpose)[:60]!r}"
        elif wanted is None and not purpose:
            yield f"does not say what {name} is for"


def _pattern(words: str) -> re.Pattern[str]:
    """Return a pattern of words in which # stands for a number and * for any words."""
    return re.compile(re.escape(words).replace(r"\#", r"[0-9.e-]+").replace(r"\*", ".+"))


def _stopped(order: Mapping[str, Any]) -> bool:
    """Whether a route's own findings, which the readers of its files hold against these, stop it."""
    found = order.get("findings", [])
    return not isinstance(found, list) or any(isinstance(one, dict) and one.get("weight") == "stops" for one in found)


def _printed(truth: Truth) -> Iterator[str]:
    """Yield what is wrong with the record of printed strips: which there are, and how each was ordered."""
    cleared = truth.manifest.get("cleared")
    cnc: Any = truth.manifest.get("cnc", {})
    for route, order in cnc.items() if isinstance(cnc, Mapping) else ():
        if route not in ("side", "face") or f"cnc-{route}" not in truth.manifest.get("outputs", [f"cnc-{route}"]):
            yield f"keeps how {route!r} was ordered, which was not asked for"
        elif not isinstance(order, Mapping) or order.get("cleared") is not (cleared and not _stopped(order)):
            yield f"says of the files in cnc-{route} otherwise whether the checks clear them"
    printed: Any = truth.manifest.get("printed")
    if printed is not None:
        numbers = {str(place.number) for place in truth.front.layout.strips}
        strips = printed.get("strips", {}) if isinstance(printed, Mapping) else {}
        if not strips or set(strips) - numbers:
            yield "keeps a record of printed strips that are not of this front"
