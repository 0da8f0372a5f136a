"""Printed sheets: what every one must say and measure, side templates against the surface, and each page of the PDF with its sheet."""

from __future__ import annotations

import re
from dataclasses import replace
from pathlib import Path, PurePosixPath

import numpy as np

from facade.lengths import MM_PER_INCH
from facade.proof import pdf
from facade.proof.compared import Compared, joined, largest, least_of
from facade.proof.holes import compare_holes, settings_in
from facade.proof.pages import compare_page
from facade.proof.readers import reader
from facade.proof.sides import ALLOWED, compare_sides
from facade.proof.svg import Line, Sheet, read_svg
from facade.proof.truth import ROUNDING, Truth
from facade.proof.wraps import compare_wraps
from facade.templates.piece import Kind

PDF = "paper.pdf"
_SHEET = re.compile(r"Sheet (\d+) of (\d+)")
_CORRECTED = re.compile(r"corrected for: .*, short side ([+−±][0-9.]+) %, long side ([+−±][0-9.]+) %")
_UNCORRECTED = "not corrected for a printer"
# Kinds of sheets that show the sides of strips.
_OF_SIDES = (Kind.SIDES, Kind.WRAPS)
_PAGE = "every page with its sheet: size, words, paths"
# Percents are printed with two decimals.
_PERCENT = 0.00005


@reader("sides/*.svg")
def compare_side_sheet(path: Path, name: str, truth: Truth) -> list[Compared]:
    """Compare a sheet cut to measure: both sides of one strip."""
    number = int(PurePosixPath(name).stem.rpartition("-")[2])
    sheet = read_svg(path)
    faults = truth.mark_faults(sheet.text) + _said_faults(sheet, number, truth.front.count)
    factors, rule_faults = _factors(sheet, truth)
    return [_sides(name, sheet, truth, factors, [*faults, *rule_faults], only=number)]


@reader("paper/*.svg")
def compare_sheet(path: Path, name: str, truth: Truth) -> list[Compared]:
    """Compare a sheet of the paper pack with the surface, and the page of the PDF with both."""
    sheets = truth.sheets()
    number = sheets.index(name) + 1
    sheet = read_svg(path)
    faults = truth.mark_faults(sheet.text) + _said_faults(sheet, number, len(sheets))
    factors, rule_faults = _factors(sheet, truth)
    faults += rule_faults
    kind = PurePosixPath(name).stem.partition("-")[2]
    if kind in _OF_SIDES:
        found = _sides(name, sheet, truth, factors, faults, kind=kind)
    elif kind == Kind.HOLES:
        found = _holes(name, sheet, truth, factors, faults)
    else:
        found = Compared(name, "mark, number, rules; its lines with the page of the PDF", 4, faults=tuple(faults))
    return [found, *_page(sheet, number, truth, factors, kind=kind)]


def _holes(name: str, sheet: Sheet, truth: Truth, factors: tuple[float, float], faults: list[str]) -> Compared:
    """Return what comes of the maps of depth holes on a sheet: wood must be left between each hole and the finished face."""
    reads = list(compare_holes(_in_true_mm(sheet, factors), truth, _settings(truth)))
    return Compared(
        name,
        "depth of every hole with the surface; mark, number, rules",
        4 + sum(read.holes for read in reads),
        faults=_shortened([*faults, *(fault for read in reads for fault in read.faults)]),
        failed=tuple(read.strip for read in reads if read.faults and read.strip),
    )


_read_settings: dict[tuple[tuple[str, int], ...], dict[int, float]] = {}


def _settings(truth: Truth) -> dict[int, float]:
    """Return the settings of the stop, read once from the lists of the sheets of depth holes."""
    names = [name for name in truth.sheets() if name.endswith(f"-{Kind.HOLES}.svg") and (truth.folder / name).is_file()]
    key = tuple((str(truth.folder / name), (truth.folder / name).stat().st_mtime_ns) for name in names)
    if key not in _read_settings:
        _read_settings.clear()
        _read_settings[key] = settings_in((read_svg(truth.folder / name) for name in names), truth)
    return _read_settings[key]


@reader(PDF)
def compare_pdf(path: Path, name: str, truth: Truth) -> list[Compared]:
    """Compare how many pages there are; each page is compared with its sheet where that is."""
    pages, sheets = len(pdf.document(path)), len(truth.sheets())
    faults = [f"has {pages} pages, but there are {sheets} sheets"] if pages != sheets else []
    return [Compared(name, "number of pages", faults=tuple(faults))]


def _sides(
    name: str,
    sheet: Sheet,
    truth: Truth,
    factors: tuple[float, float],
    faults: list[str],
    *,
    kind: str = Kind.SIDES,
    only: int | None = None,
) -> Compared:
    """Return what comes of the templates for sides on a sheet, laid on them or folded round, printed with these factors."""
    true = _in_true_mm(sheet, factors)
    reads = list(compare_wraps(true, truth) if kind == Kind.WRAPS else compare_sides(true, truth, only=only))
    faults = faults + [fault for read in reads for fault in read.faults]
    if not reads:
        faults.append("shows no side of a strip")
    parts = [
        Compared("", "", along={read.strip: read.along}, failed=(read.strip,) if read.faults else ())
        for read in reads
        if read.strip
    ]
    whole = joined(parts) if parts else Compared("", "")
    return Compared(
        name,
        "finished, carve and saw lines and figures with the surface; mark, rules",
        sum(read.points for read in reads),
        largest(read.deviation for read in reads),
        ALLOWED,
        least_of(read.least for read in reads),
        faults=_shortened(faults),
        along=whole.along,
        failed=whole.failed,
    )


def _shortened(faults: list[str], most: int = 4) -> tuple[str, ...]:
    told = list(dict.fromkeys(faults))
    return tuple(told[:most] + ([f"and {len(told) - most} more"] if len(told) > most else []))


def _in_true_mm(sheet: Sheet, factors: tuple[float, float]) -> Sheet:
    """Return a sheet without the correction for its printer."""
    if factors == (1.0, 1.0):
        return sheet
    lines = tuple(replace(line, points=line.points / factors) for line in sheet.lines)
    words = tuple(replace(word, x=word.x / factors[0], y=word.y / factors[1]) for word in sheet.words)
    return Sheet(sheet.width / factors[0], sheet.height / factors[1], lines, words)


def _said_faults(sheet: Sheet, number: int, count: int) -> list[str]:
    found = _SHEET.search(sheet.text)
    mirrored = ["looks mirrored: its words read backwards"] if any(word.mirrored for word in sheet.words) else []
    if found is None:
        return [*mirrored, "does not say which sheet it is"]
    if (int(found[1]), int(found[2])) != (number, count):
        return [*mirrored, f"says that it is sheet {found[1]} of {found[2]}"]
    return mirrored


def _factors(sheet: Sheet, truth: Truth) -> tuple[tuple[float, float], list[str]]:
    """Return by what lengths on a sheet are multiplied across and up for its printer, by its words, and what its rules get wrong."""
    wanted = 100.0 if truth.front.job.unit.in_mm == 1.0 else 4 * MM_PER_INCH
    measured = [_rule(sheet.named(name), axis) for axis, name in enumerate(("rule-along", "rule-up"))]
    if None in measured:
        return (1.0, 1.0), ["lacks a rule"]
    across, up = (float(one or 0.0) / wanted for one in measured)
    if _UNCORRECTED in sheet.text:
        wrong = [one for one in (across, up) if abs(one - 1.0) * wanted > ROUNDING]
        return (1.0, 1.0), [
            f"its rules measure {truth.length(one * wanted)}, not {truth.length(wanted)}" for one in wrong[:1]
        ]
    found = _CORRECTED.search(sheet.text)
    if found is None:
        return (across, up), []
    short, long = (1.0 + float(text.replace("−", "-").replace("±", "")) / 100.0 for text in found.groups())
    ways = ((short, long), (long, short))
    near = _PERCENT + ROUNDING / wanted
    fits = any(abs(across - one) <= near and abs(up - other) <= near for one, other in ways)
    return (across, up), [] if fits else [
        f"its rules measure {truth.length(across * wanted)} and {truth.length(up * wanted)}, which is not the correction that it states"
    ]


def _rule(line: Line | None, axis: int) -> float | None:
    """Return how long a rule is along its axis, mm, None where it is not there."""
    return None if line is None or len(line.points) < 2 else float(np.ptp(line.points[:, axis]))


def _page(sheet: Sheet, number: int, truth: Truth, factors: tuple[float, float], *, kind: str) -> list[Compared]:
    """Return what comes of the page of the PDF that should show a sheet; none where there is no PDF, which is said elsewhere."""
    path = truth.folder / PDF
    try:
        document = pdf.document(path)
    except (OSError, ValueError):
        return []
    if PDF not in truth.files or number > len(document):
        return []
    read = compare_page(document[number - 1], sheet, truth)
    parts = [
        Compared(
            PDF,
            _PAGE,
            read.points,
            read.deviation,
            ROUNDING,
            faults=tuple(f"page {number} {fault}" for fault in read.faults[:2]),
        )
    ]
    if kind in _OF_SIDES and not read.faults:
        lines = tuple(replace(line, points=points) for line, points in zip(sheet.lines, read.paths, strict=True))
        sides = _sides(PDF, replace(sheet, lines=lines), truth, factors, [], kind=kind)
        told = replace(sides, what="lines of side templates with the surface")
        parts.append(replace(told, faults=tuple(f"page {number}: {fault}" for fault in sides.faults)))
    return [joined(parts)]
