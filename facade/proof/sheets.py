"""Printed sheets: what every one must say and measure, what is on it against the surface, and each page of the PDF with its sheet."""

from __future__ import annotations

from collections.abc import Callable, Collection, Iterator, Mapping, Sequence
from contextlib import suppress
from dataclasses import dataclass, replace
from pathlib import Path, PurePosixPath
from typing import Any

from facade.proof import gauges, pdf
from facade.proof.compared import Compared, joined, largest, least_of
from facade.proof.faces import compare_faces
from facade.proof.framing import ALONE, KINDS, Asked, FrameRead, Kind, key_words, read_frame, same_words
from facade.proof.gauges import compare_gauges
from facade.proof.holes import compare_holes, settings_in
from facade.proof.lists import figures_on, list_faults
from facade.proof.pages import compare_page
from facade.proof.readers import reader
from facade.proof.sides import ALLOWED, TRACED, compare_sides
from facade.proof.svg import Sheet, read_svg
from facade.proof.truth import ROUNDING, Truth
from facade.proof.wraps import compare_wraps

PDF = "paper.pdf"
_PAGE = "every page with its sheet: size, words and where they stand, every path"
# What a sheet of side templates shows besides its pieces.
_FRAME = ("top-arrow", "rule-along", "rule-up", "key", "not-cleared", "not-checked", "new", "")
_PIECE = ("arrow", "mark", "strokes", "waste", "stations", "floor", "blank", "end", "finished", "carve", "saw", "back")


@dataclass(frozen=True)
class SheetRead:
    """What came of a sheet: the sheet, its frame, and what was found."""

    sheet: Sheet
    frame: FrameRead
    found: Compared


@reader("sides/*.svg")
def compare_side_sheet(path: Path, name: str, truth: Truth) -> list[Compared]:
    """Compare a sheet cut to measure: both sides of one strip."""
    number = int(PurePosixPath(name).stem.rpartition("-")[2])
    sheet = read_svg(path)
    frame = read_frame(sheet, ALONE, Asked(number, truth.front.count, (number,)), truth)
    faults = [
        *truth.mark_faults(sheet.text),
        *frame.faults,
        *_title_faults(sheet, ALONE, number, truth.front.count, truth),
    ]
    return [_sides(name, sheet, truth, frame, faults, only=number)]


@reader("paper/*.svg")
def compare_sheet(path: Path, name: str, truth: Truth) -> list[Compared]:
    """Compare a sheet of the paper pack with the surface, and the page of the PDF with it."""
    number, count = truth.sheet_number(name), _count(truth)
    sheet = read_svg(path)
    word = PurePosixPath(name).stem.partition("-")[2]
    if word not in KINDS:
        return [Compared(name, "", faults=(f"is called {word!r}, which is no kind of sheet",))]
    kind = KINDS[word]
    strips = _strips_on(sheet, word, truth)
    frame = read_frame(sheet, kind, Asked(number, count, strips, _is_new(sheet, strips, truth)), truth)
    faults = [*truth.mark_faults(sheet.text), *frame.faults, *_title_faults(sheet, kind, number, count, truth)]
    found = _READS.get(word, _plain)(name, sheet, truth, frame, faults)
    return [found, *_page(sheet, number, truth, found)]


def _count(truth: Truth) -> int:
    """Return how many sheets there should be: as many as the highest number in a name, or as there are pages."""
    numbers = [truth.sheet_number(name) for name in truth.sheets()]
    try:
        pages = len(pdf.document(truth.folder / PDF))
    except (OSError, ValueError):
        pages = 0
    # A page too many is the PDF's fault, unless a sheet is missing for it.
    return max(numbers) if max(numbers) == len(numbers) else max(*numbers, pages)


def _strips_on(sheet: Sheet, word: str, truth: Truth) -> tuple[int, ...] | None:
    """Return the strips that a sheet is about by what is on it, None where that is not told by it."""
    if word in ("first", "calibration", "sticks", "wrong"):
        return ()
    if word == "sides":
        reads = [word.text.split() for word in sheet.words if word.text.endswith((" LEFT", " RIGHT"))]
        numbers = {int(one[0]) for one in reads if len(one) == 2 and one[0].isdigit()}
        return tuple(sorted(number for number in numbers if number in truth.front.numbers))
    return None


def _is_new(sheet: Sheet, strips: Sequence[int] | None, truth: Truth) -> bool:
    """Whether a sheet shows what changed since the pack was printed before, by what the manifest keeps."""
    kept: Any = truth.manifest.get("paper")
    new = kept.get("new") if isinstance(kept, dict) else None
    if not isinstance(new, list):
        return False
    if strips is None:
        # Which strips it is about it says itself: that it says NEW where it should is for the bytes to show.
        return any(word.text == "NEW" for word in sheet.words)
    return not strips or bool(set(new) & set(strips))


def _title_faults(sheet: Sheet, kind: Kind, number: int, count: int, truth: Truth) -> list[str]:
    wanted = f"{truth.front.job.title}: {kind.title}, sheet {number} of {count}"
    return [] if same_words(sheet.title, wanted) else [f"is titled {sheet.title[:60]!r}, not {wanted[:80]!r}"]


def _plain(name: str, sheet: Sheet, truth: Truth, frame: FrameRead, faults: list[str]) -> Compared:
    return Compared(
        name,
        "its head and foot with the job, rules; its lines and words with the page of the PDF",
        12,
        faults=_shortened(faults),
    )


def _holes(name: str, sheet: Sheet, truth: Truth, frame: FrameRead, faults: list[str]) -> Compared:
    """Return what comes of the maps of depth holes on a sheet: wood must be left between each hole and the finished face."""
    reads = list(compare_holes(in_true_mm(sheet, frame.factors), truth, _settings(truth)))
    return Compared(
        name,
        "depth of every hole with the surface; its head and foot, rules",
        4 + sum(read.holes for read in reads),
        faults=_shortened([*faults, *(fault for read in reads for fault in read.faults)]),
        failed=tuple(read.strip for read in reads if read.faults and read.strip),
    )


_read_settings: dict[tuple[tuple[str, int], ...], dict[int, float]] = {}


def _settings(truth: Truth) -> dict[int, float]:
    """Return the settings of the stop, read once from the lists of the sheets of depth holes."""
    names = [name for name in truth.sheets() if name.endswith("-holes.svg") and (truth.folder / name).is_file()]
    key = tuple((str(truth.folder / name), (truth.folder / name).stat().st_mtime_ns) for name in names)
    if key not in _read_settings:
        _read_settings.clear()
        _read_settings[key] = settings_in((read_svg(truth.folder / name) for name in names), truth)
    return _read_settings[key]


@reader(PDF)
def compare_pdf(path: Path, name: str, truth: Truth) -> list[Compared]:
    """Compare how many pages there are and its title; each page is compared with its sheet where that is."""
    document, sheets = pdf.document(path), len(truth.sheets())
    faults = [f"has {len(document)} pages, but there are {sheets} sheets"] if len(document) != sheets else []
    title = document.get_metadata_dict().get("Title", "")
    if not title.endswith(f"mark {truth.front.mark}"):
        faults.append(f"is titled {title[:80]!r}, without mark {truth.front.mark}")
    return [Compared(name, "number of pages", faults=tuple(faults))]


def _whole_sides(name: str, sheet: Sheet, truth: Truth, frame: FrameRead, faults: list[str]) -> Compared:
    return _sides(name, sheet, truth, frame, faults)


def _whole_wraps(name: str, sheet: Sheet, truth: Truth, frame: FrameRead, faults: list[str]) -> Compared:
    return _sides(name, sheet, truth, frame, faults, word="wraps")


def _traced(name: str, truth: Truth) -> tuple[str, ...]:
    """Return which lines to trace a sheet shows: both, or the one that the pack was asked for with."""
    asked: Any = truth.manifest.get("paper")
    line = asked.get("order", {}).get("lines") if isinstance(asked, Mapping) and name.startswith("paper/") else None
    return (line,) if line in TRACED else TRACED


def _sides(
    name: str,
    sheet: Sheet,
    truth: Truth,
    frame: FrameRead,
    faults: list[str],
    *,
    word: str = "sides",
    only: int | None = None,
) -> Compared:
    """Return what comes of the templates for sides on a sheet, laid on them or folded round, printed with the frame's factors."""
    true = in_true_mm(sheet, frame.factors)
    reads = list(
        compare_wraps(true, truth)
        if word == "wraps"
        else compare_sides(true, truth, only=only, traced=_traced(name, truth))
    )
    faults = faults + [fault for read in reads for fault in read.faults]
    if not reads:
        faults.append("shows no side of a strip")
    if only is not None and not faults:
        sides = sorted(read.side for read in reads)
        faults += [] if sides == ["left", "right"] else ["does not show both sides of its strip, each once"]
    if word == "sides" and not faults:
        faults += [*_more_on(true, frame, [read.own for read in reads]), *_key_faults(true, truth)]
    parts = [
        Compared("", "", along={read.strip: read.along}, failed=(read.strip,) if read.faults else ())
        for read in reads
        if read.strip
    ]
    whole = joined(parts) if parts else Compared("", "")
    return Compared(
        name,
        "every line, figure and word of its pieces with the surface; its head and foot, rules"
        if word == "sides"
        else "finished, carve and saw lines and figures with the surface; its head and foot, rules",
        sum(read.points for read in reads),
        largest(read.deviation for read in reads),
        ALLOWED,
        least_of(read.least for read in reads),
        faults=_shortened(faults),
        along=whole.along,
        failed=whole.failed,
    )


def _more_on(sheet: Sheet, frame: FrameRead, pieces: Sequence[frozenset[int]]) -> Iterator[str]:
    """Yield words and lines on a sheet that belong neither to its frame nor to a piece on it."""
    own = frame.own.union(*pieces)
    for index, word in enumerate(sheet.words):
        if index not in own and word.text:
            yield f"says {word.text[:60]!r}, which belongs to nothing on it"
    for line in sheet.lines:
        side, _, kind = line.kind.partition("-")
        if line.kind not in _FRAME and not (side in ("left", "right") and kind in _PIECE):
            yield f"shows a line {line.name!r}, which belongs to nothing on it"


def _key_faults(sheet: Sheet, truth: Truth) -> Iterator[str]:
    """Yield what a sheet of side templates says otherwise of its lines."""
    wood, show = truth.front.job.wood, truth.front.job.ruler.text
    shown = {line.kind.partition("-")[2] for line in sheet.lines}
    told = "" if "finished" in shown else "; heights are to it"
    wanted = [
        *([f"carve to here, then sand {show(wood.sanding)} off{told}"] if "carve" in shown else []),
        *(["finished line; heights are to it"] if "finished" in shown else []),
        f"saw here, {show(wood.sawing)} above the higher side",
        "floor: nothing below",
        *(["carve this way"] if "strokes" in shown else []),
    ]
    said = key_words(sheet, (1.0, 1.0))
    if said != wanted:
        wrong = next((one for one in said if one not in wanted), "too little")
        yield f"says {wrong!r} of what its lines mean"


def _shortened(faults: list[str], most: int = 4) -> tuple[str, ...]:
    told = list(dict.fromkeys(faults))
    return tuple(told[:most] + ([f"and {len(told) - most} more"] if len(told) > most else []))


def in_true_mm(sheet: Sheet, factors: tuple[float, float]) -> Sheet:
    """Return a sheet without the correction for its printer."""
    if factors == (1.0, 1.0):
        return sheet
    lines = tuple(replace(line, points=line.points / factors) for line in sheet.lines)
    words = tuple(replace(word, x=word.x / factors[0], y=word.y / factors[1]) for word in sheet.words)
    return replace(sheet, width=sheet.width / factors[0], height=sheet.height / factors[1], lines=lines, words=words)


def _page(sheet: Sheet, number: int, truth: Truth, found: Compared) -> list[Compared]:
    """Return what comes of the page of the PDF that should show a sheet; none where there is no PDF, which is said elsewhere.

    What is on it is held against the surface as the sheet is; where a sheet is at fault itself the page is not blamed for it.
    """
    try:
        document = pdf.document(truth.folder / PDF)
    except (OSError, ValueError):
        return []
    if PDF not in truth.files or number > len(document):
        return []
    read = compare_page(document[number - 1], sheet, truth)
    blamed = found.faults or (read.faults and truth.byte_faults(found.name))
    said = [] if blamed else [f"page {number} {fault}" for fault in read.faults[:2]]
    other = sorted(read.marks - {truth.front.mark})
    said = [*map(truth.other_mark, other[:1]), *said]
    return [Compared(PDF, _PAGE, read.points, read.deviation, ROUNDING, faults=tuple(said))]


def pages_with(names: Collection[str], truth: Truth) -> set[int]:
    """Return the pages of the PDF, counted from 1, that are looked at with the sheets among some files that are there."""
    found = set()
    for name in truth.sheets():
        if name in names and (truth.folder / name).is_file():
            with suppress(ValueError):
                found.add(truth.sheet_number(name))
    return found


def _gauges(name: str, sheet: Sheet, truth: Truth, frame: FrameRead, faults: list[str]) -> Compared:
    """Return what comes of the check gauges on a sheet."""
    reads = list(compare_gauges(in_true_mm(sheet, frame.factors), truth))
    return Compared(
        name,
        "line, ticks and numbers of every gauge with the surface; its head and foot, rules",
        sum(read.points for read in reads),
        largest(read.deviation for read in reads),
        gauges.ALLOWED,
        faults=_shortened([*faults, *(fault for read in reads for fault in read.faults)]),
    )


def _faces(name: str, sheet: Sheet, truth: Truth, frame: FrameRead, faults: list[str]) -> Compared:
    """Return what comes of the lines of equal depth on a sheet."""
    reads = list(compare_faces(in_true_mm(sheet, frame.factors), truth))
    return Compared(
        name,
        "lines of equal depth, and the depths written on them, with the surface; its head and foot, rules",
        sum(read.points for read in reads),
        faults=_shortened([*faults, *(fault for read in reads for fault in read.faults)]),
        failed=tuple(read.strip for read in reads if read.faults and read.strip),
    )


def _tables(name: str, sheet: Sheet, truth: Truth, frame: FrameRead, faults: list[str]) -> Compared:
    """Return what comes of the tables on a sheet."""
    true = in_true_mm(sheet, frame.factors)
    return Compared(
        name,
        "every figure of its tables with the surface and the layout; its head and foot, rules",
        figures_on(true),
        faults=_shortened([*faults, *list_faults(true, truth)]),
    )


_READS: dict[str, Callable[[str, Sheet, Truth, FrameRead, list[str]], Compared]] = {
    "sides": _whole_sides,
    "wraps": _whole_wraps,
    "holes": _holes,
    "gauges": _gauges,
    "faces": _faces,
    "lists": _tables,
    "offsets": _tables,
    "boards": _tables,
    "sticks": _tables,
}
