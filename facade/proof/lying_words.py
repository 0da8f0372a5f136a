"""What is written of strips on their side: their sizes, the text beside the drawings, the sheet that is taken to the machine."""

from __future__ import annotations

import csv
import re
from collections.abc import Iterator, Sequence
from functools import lru_cache
from pathlib import Path

import numpy as np

from facade.arrays import Array
from facade.front import Front
from facade.job import Cut, Hold
from facade.lengths import Unit
from facade.measuring.screws import clearance_hole, lengths_sold, pilot_hole
from facade.proof.compared import Compared
from facade.proof.lying import Lying, face_of, widened
from facade.proof.lying_drawings import lying_of
from facade.proof.readers import reader
from facade.proof.truth import Truth
from facade.rules import rule

_SIZES, _READ_ME = "cnc-side/sizes.csv", "cnc-side/read-me.txt"
_COLUMNS = (
    "length",
    "width",
    "greatest height",
    "height at bottom end",
    "height at top end",
    "left bottom finished",
    "right bottom finished",
    "left top finished",
    "right top finished",
)
# Mm between places that are looked at along a strip, and where it is looked at closely.
_BETWEEN, _CLOSE = 0.25, 0.05
_STANDS_OUT, _PRESSES, _HELD_ASIDE = 2.0, {Unit.MM: 8.0, Unit.INCH: 11.6}, 0.3
_CM2_IN_SQUARE_INCH = 6.4516
_NUMBER = re.compile(
    r"(?<![\w-])-?\d+(?: \d+/\d+|/\d+|\.\d+)?(?![\w])(?: (?:mm/min|in/min|mm|in|N|lb|cm2|square inches|min)\b)?"
)
_HEADINGS = (
    "Strips, view, zero",
    "Board and holding",
    "Cutter",
    "What is cut",
    "Order of work",
    "What to measure",
    "Cautions",
    "Layers",
)
# How far what is left in a hollow may be off what it is said to be, mm.
_STANDING_NEAR = 0.02
_WORTH = 0.05


@reader(_SIZES)
def compare_sizes(path: Path, name: str, truth: Truth) -> list[Compared]:
    """Compare every column of the table of sizes with the surface."""
    lying, unit = lying_of(truth), truth.front.job.unit
    rows = list(csv.DictReader(path.read_text("utf-8").splitlines()))
    if [row.get("strip") for row in rows] != [str(number) for number in lying.asked.strips]:
        return [Compared(name, "every column with the surface", faults=("does not list every strip once",))]
    if list(rows[0]) != ["strip", "door", "file", *(f"{column} {unit.value}" for column in _COLUMNS), "step cuts"]:
        return [Compared(name, "every column with the surface", faults=("has other columns",))]
    last = 0.005 if unit is Unit.MM else 0.0005 * unit.in_mm
    faults, failed, worst = [], set(), 0.0
    for row in rows:
        number = int(row["strip"])
        for column, wanted, more in _row(lying, number):
            said = row[column if column in row else f"{column} {unit.value}"]
            off = 0.0 if isinstance(wanted, str) else abs(float(said) * unit.in_mm - wanted)
            wrong = said != wanted if isinstance(wanted, str) else off > last + more + 1e-6
            worst = max(worst, off)
            if wrong:
                faults.append(f"says {said} for the {column} of strip {number}")
                failed.add(number)
    return [
        Compared(
            name,
            "every column with the surface",
            points=len(rows) * (len(_COLUMNS) + 4),
            deviation=worst,
            allowed=last + truth.front.job.machine.side.tolerance,
            faults=tuple(faults),
            failed=tuple(sorted(failed)),
        )
    ]


def _row(lying: Lying, number: int) -> Iterator[tuple[str, str | float, float]]:
    """Yield what a strip's row should say: the column, its words or mm, and how far a straight line may be off it, mm."""
    place = lying.front.layout.strip(number)
    face, near = face_of(lying, place, _BETWEEN), lying.front.job.machine.side.tolerance
    yield "door", str(place.door), 0.0
    yield "file", f"strips/{lying.strip_stem(place)}.dxf", 0.0
    yield "length", place.length, 0.0
    yield "width", place.width, 0.0
    yield "greatest height", float(face.cut.max()), near
    for end, column in ((0, "height at bottom end"), (-1, "height at top end")):
        yield column, float(face.cut[end]), 0.0
    for end, where in ((0, "bottom"), (-1, "top")):
        yield f"left {where} finished", float(face.left[end]), 0.0
        yield f"right {where} finished", float(face.right[end]), 0.0
    yield "step cuts", str(_steps(lying, number)), 0.0


@lru_cache(maxsize=256)
def _steps(lying: Lying, number: int) -> int:
    face = face_of(lying, lying.front.layout.strip(number), _BETWEEN)
    return lying.steps(lying.asked.blank - float(face.cut.min()))


@reader(_READ_ME)
def compare_read_me(path: Path, name: str, truth: Truth) -> list[Compared]:
    """Compare every number of the text with what it should be, and the words on which the cut hangs."""
    lying = lying_of(truth)
    text = path.read_text("utf-8")
    faults = list(truth.mark_faults(text))
    if not text.startswith(f"{truth.front.job.title}, mark {truth.front.mark}\n"):
        faults.append("does not begin with the title of the job and its mark")
    if ("NOT CLEARED" in text) == lying.asked.cleared:
        faults.append("says NOT CLEARED" if lying.asked.cleared else "does not say NOT CLEARED")
    notes = notes_of(text)
    if not faults:
        faults += _note_faults(lying, notes)
    return [Compared(name, "every number, leading words; mark", points=len(notes), faults=tuple(faults))]


def notes_of(text: str) -> list[tuple[str, str]]:
    """Return the notes of a text, each with the words that lead it: a note goes on in lines that are set further in."""
    notes: list[tuple[str, str]] = []
    for line in text.splitlines():
        if re.match(r"    \S", line) and notes:
            lead, said = notes[-1]
            notes[-1] = (lead, f"{said} {line.strip()}")
        elif found := re.match(r"  (\S.*)", line):
            lead, _, said = found[1].partition(": ")
            notes.append((lead, said.strip()))
        elif line and line not in _HEADINGS and notes:
            notes.append(("?", line))
    return notes


def _note_faults(lying: Lying, notes: Sequence[tuple[str, str]]) -> Iterator[str]:
    """Yield which notes are not those that should be there, and which of their numbers or words are wrong."""
    wanted = list(_wanted(lying))
    hollows = [said for lead, said in notes if lead == "Hollows"]
    found = [note for note in notes if note[0] != "Hollows"]
    leads, others = [lead for lead, _ in found], [lead for lead, _, _ in wanted]
    if leads != others:
        odd = next((one for one, other in zip(leads, others, strict=False) if one != other), "less")
        yield f"says {odd!r} where {next((b for a, b in zip(leads, others, strict=False) if a != b), 'nothing')!r} should stand"
        return
    for (lead, said), (_, numbers, words) in zip(found, wanted, strict=True):
        seen, should = _NUMBER.findall(said), [part for number in numbers for part in _NUMBER.findall(number)]
        if not _same(lying, lead, seen, should):
            missing = [number for number in should if number not in seen] or should
            yield f"says {', '.join(seen) or 'no number'} under {lead!r}, not {', '.join(missing)}"
        for word in words:
            if word not in said:
                yield f"does not say {word!r} under {lead!r}"
    yield from _hollow_faults(lying, hollows)


def _same(lying: Lying, lead: str, seen: Sequence[str], should: Sequence[str]) -> bool:
    """Return whether numbers are those that should be there: minutes, and heights read off straight lines, to what counts."""
    if list(seen) == list(should) or len(seen) != len(should):
        return list(seen) == list(should)
    if lead.isdigit() and int(lead) > 3:
        minutes = [int(some[-1].split()[0]) for some in (seen, should)]
        return list(seen[:-1]) == list(should[:-1]) and abs(minutes[0] - minutes[1]) <= 1
    if lead not in ("Calliper", "By hand"):
        return False
    near = (0.1 if lead == "By hand" else 0.02) if lying.front.job.unit is Unit.MM else lying.front.job.ruler.mark
    values = np.array([[_mm(lying.front, number) for number in some] for some in (seen, should)])
    return bool(np.abs(values[0] - values[1]).max() <= near + 1e-6)


def _wanted(lying: Lying) -> Iterator[tuple[str, list[str], list[str]]]:
    """Yield the notes that should be there: what leads each, its numbers as they are printed, and words on which the cut hangs."""
    front, show = lying.front, lying.front.job.ruler.text
    unit = "mm" if front.job.machine_unit is Unit.MM else "inches"
    yield "Unit", [], [f"DXF is in {unit}"]
    widths = sorted({show(front.layout.strip(number).width, 2) for number in lying.asked.strips})
    long = show(lying.length + 2 * lying.waste, 2)
    yield "Blanks", [show(lying.asked.blank, 3), *widths, long, *([show(lying.waste)] if lying.waste else [])], []
    yield (
        "View",
        [],
        ["LEFT side", "right side up", "back along the bottom", "BOTTOM end at the left", "TOP end at the right"],
    )
    along, across = front.job.first_on_side
    yield (
        "Zero",
        ["0", "0", show(along), show(across), show(lying.pitch, 3), "0"],
        ["EVERY file", "lower left corner of the board", "top of the board"],
    )
    length, wide = lying.board(lying.bays)
    yield "Board", [show(length, 2), show(wide, 2), str(lying.bays)], []
    widest = show(max(place.width for place in front.layout.strips), 2)
    up = show(lying.stop_up, 3)
    yield (
        "Stops",
        [long, show(lying.batten, 3), show(lying.stop, 3), show(lying.batten + lying.stop_up, 3), up, widest],
        [],
    )
    yield "Push", [], ["BOTTOM end"]
    yield from _held(lying)
    yield "Clear", [], ["nothing but the strip"]
    yield from _cutter(lying)
    yield from _cuts(lying)
    yield from _order(lying)
    yield from _measured(lying)
    yield from ((lead, [], []) for lead in ("Held", "Machine", "Dust", "First"))
    yield from _layers(lying)


def _held(lying: Lying) -> Iterator[tuple[str, list[str], list[str]]]:
    job, show = lying.front.job, lying.front.job.ruler.text
    hold, side = job.machine.hold, job.machine.side
    if lying.waste:
        shank, widest = rule("side_screw"), max(place.width for place in lying.front.layout.strips)
        least = widest + rule("side_bite")
        long = min((one for one in lengths_sold(job) if one >= least - 1e-9), default=least)
        out = -lying.screws[0][0]
        yield (
            "Screws",
            [
                show(out, 2),
                show(lying.screw_up, 2),
                show(shank, 2),
                show(long, 2),
                show(2 * shank, 2),
                show(clearance_hole(shank)[0], 2),
                show(pilot_hole(shank, softwood=False), 1),
                show(long - widest, 1),
                show(lying.keep, 2),
            ],
            ["waste at each end"],
        )
        yield "Middle", [], ["batten"]
    if hold is Hold.SCREWS:
        yield "Ends", [], ["sawn to length"]
    if hold is Hold.TABS:
        yield (
            "Tabs",
            [show(side.tab, 3), show(side.tab + lying.radius, 3), show(2 * lying.radius, 3)],
            ["Saw them by hand"],
        )
    if hold in (Hold.TAPE, Hold.VACUUM):
        size = np.ptp(lying.area, axis=0)
        cm2 = float(size[0] * size[1]) / 100.0
        metric = job.unit is Unit.MM
        said = [show(float(size[0])), show(float(size[1]))]
        said.append(f"{cm2:.0f} cm2" if metric else f"{cm2 / _CM2_IN_SQUARE_INCH:.1f} square inches")
        if hold is Hold.VACUUM:
            pressed = _PRESSES[job.unit] * (cm2 if metric else cm2 / _CM2_IN_SQUARE_INCH)
            force = "N" if metric else "lb"
            said += ["0.8", f"{pressed:.0f} {force}", f"{_HELD_ASIDE * pressed:.0f} {force}"]
        yield hold.value.capitalize(), [*said, "0"], ["atten and stops"]


def _cutter(lying: Lying) -> Iterator[tuple[str, list[str], list[str]]]:
    job, ruler = lying.front.job, lying.front.job.ruler
    side, show = job.machine.side, job.ruler.text
    deep = max(place.width for place in lying.front.layout.strips) + side.below
    yield "Kind", [show(side.cutter, 3), str(side.flutes)], ["straight"]
    if side.length is None:
        yield "Edge", [show(ruler.up(deep), 2)], ["no thicker than the cutter"]
    else:
        short = side.length < deep - 1e-9
        shank = [show(side.shank, 3)] if short and side.shank is not None else []
        yield "Edge", [show(side.length, 3), show(deep, 3), *shank], ["no thicker than the cutter"] if short else []
    reach = [show(side.reach, 3)] if side.reach is not None else []
    yield "Holder", [show(ruler.up(deep + _STANDS_OUT)), *reach], ["above the strips"]
    chip = ruler.fine(side.feed / (side.spindle * side.flutes), 3)
    yield "Speeds", [f"{side.spindle:.0f}", _feed(job.unit, side.feed), _feed(job.unit, side.plunge), chip], []


def _feed(unit: Unit, feed: float) -> str:
    return f"{feed / unit.in_mm:.0f} {unit.value}/min"


def _cuts(lying: Lying) -> Iterator[tuple[str, list[str], list[str]]]:
    front, ruler = lying.front, lying.front.job.ruler
    machine, show = front.job.machine, front.job.ruler.text
    side = machine.side
    yield (
        "Line",
        [show(front.job.wood.sanding, 2), show(lying.radius, 3)],
        ["OPEN run", "face cut:", "HIGHER", "OUTSIDE", "side of the raw face", "face cut middle", "Never both"],
    )
    yield "Way in, way out", [show(lying.lead, 3)], ["Nothing is cut at the back"]
    both = ["right hand", "climb cutting", "clockwise", "BOTTOM end to the TOP end"]
    yield "Direction", [], [*both, "to and fro" if machine.cut is Cut.EITHER else "every run"]
    most = max(_steps(lying, number) for number in lying.asked.strips)
    yield "Steps", [str(most), show(side.step, 3), show(side.leave, 3)] if most else [show(side.step, 3)], []
    for width in sorted({round(front.layout.strip(number).width, 6) for number in lying.asked.strips}):
        tips = lying.tips(width)
        said = [
            show(width, 2),
            *map(ruler.fine, tips),
            str(len(tips)),
            *([ruler.fine(side.below)] if side.below else []),
        ]
        once = most and (side.length is None or side.length >= width + side.below - 1e-9) and len(tips) > 1
        yield (
            "Depth",
            [*said, ruler.fine(tips[-1])] if once else said,
            ["at once"] if once else ["every run at one level"],
        )
    if machine.hold is Hold.TABS:
        yield "End cuts", [], ["in the waste", "end cut middle"]


def _order(lying: Lying) -> Iterator[tuple[str, list[str], list[str]]]:
    square = "100 mm" if lying.front.job.unit is Unit.MM else "4 in"
    yield "1", [square], ["board's corner"]
    yield "2", [], ["in the air"]
    yield "3", [str(lying.asked.strips[0])], ["in scrap"]
    for index, places in enumerate(lying.together, start=1):
        numbers = [str(index), str(places[0].number), *([str(places[-1].number)] if len(places) > 1 else [])]
        minutes = sum(_minutes(lying, place.number) for place in places)
        yield str(index + 3), [*numbers, str(places[0].door), f"{max(1, round(minutes))} min"], ["lowest bay"]


@lru_cache(maxsize=256)
def _minutes(lying: Lying, number: int) -> float:
    """Return about how long a strip's runs take: the speeds of the job along the lines, down to each, and back."""
    machine, place = lying.front.job.machine, lying.front.layout.strip(number)
    side, face = machine.side, face_of(lying, place, _BETWEEN)
    line = np.column_stack([face.x, face.cut])
    steps, deep = _steps(lying, number), len(lying.tips(place.width))
    long = side.length is None or side.length >= place.width + side.below - 1e-9
    once = 1 if steps and long else deep
    ends = sum(float(np.hypot(*np.diff(middle, axis=0).T).sum()) for _, middle in lying.end_cuts)
    runs = [np.maximum(face.cut + side.leave, lying.asked.blank - k * side.step) for k in range(1, steps + 1)]
    along = deep * sum(_long(line[:, 0], run) for run in runs) + once * _long(line[:, 0], face.cut)
    along += (deep * steps + once) * 2 * lying.lead + deep * ends
    down = (deep * (steps + len(lying.end_cuts)) + once) * (machine.clear + place.width)
    return along / side.feed + down / side.plunge + (along + down) / machine.rapid


def _long(x: Array, heights: Array) -> float:
    return float(np.hypot(np.diff(x), np.diff(heights)).sum())


def _measured(lying: Lying) -> Iterator[tuple[str, list[str], list[str]]]:
    show, number = lying.front.job.ruler.text, lying.asked.strips[0]
    face = face_of(lying, lying.front.layout.strip(number), 0.2)
    heights = [show(float(one), 2) for one in (face.cut.max(), face.cut[0], face.cut[-1])]
    yield "Calliper", [str(number), *heights], ["greatest", "sizes.csv"]
    twists = []
    for strip in lying.asked.strips:
        one = face_of(lying, lying.front.layout.strip(strip), _BETWEEN)
        twists.append(float(np.abs(one.left - one.right).max()))
    yield "By hand", [show(max(twists), 1)], ["lower edge"]


def _layers(lying: Lying) -> Iterator[tuple[str, list[str], list[str]]]:
    job, show = lying.front.job, lying.front.job.ruler.text
    hold = job.machine.hold
    yield "proof square", ["100 mm" if job.unit is Unit.MM else "4 in"], []
    yield "zero, board", ["0", "0"], []
    yield "face cut", [], ["TO BE CUT", "outside"]
    yield "face cut middle", [], ["middle"]
    yield "step cut", [], ["TO BE CUT", "outside"]
    yield "step cut middle", [], ["middle"]
    yield "outline - not a cut", [], ["would go through stops and back"]
    yield "left line, right line", [], ["finished height"]
    yield "saw line", [show(job.wood.sawing, 2)], ["higher edge"]
    yield "screw pilots", [], []
    yield "stops, keep-out", [], []
    if lying.waste:
        yield "holding screws, screw heads", [], []
    if hold is Hold.SCREWS:
        yield "saw to length", [], []
    if hold is Hold.TABS:
        yield "end cut", [], ["TO BE CUT"]
    if not lying.waste:
        yield "holding area", [], [{Hold.TAPE: "tape"}.get(hold, "seal")]


def _hollow_faults(lying: Lying, said: Sequence[str]) -> Iterator[str]:
    """Yield which notes of what stays standing in hollows are wrong."""
    found: dict[int, tuple[float, float]] = {}
    more = 0
    for text in said:
        if one := re.match(r"Strip (\d+): the cutter leaves (.+?) standing in a hollow (.+?) from the TOP end", text):
            found[int(one[1])] = (_mm(lying.front, one[2]), _mm(lying.front, one[3]))
        elif others := re.match(r"(\d+) more strips? ", text):
            more = int(others[1])
        else:
            yield f"says {text[:30]!r} of hollows"
    standing = {number: _standing(lying, number, _BETWEEN) for number in lying.asked.strips}
    counted = [
        sum(float(left.max()) > _WORTH + near for _, left in standing.values())
        for near in (_STANDING_NEAR, -_STANDING_NEAR)
    ]
    if not counted[0] <= len(found) + more <= counted[1]:
        yield f"tells of {len(found) + more} strips with hollows tighter than the cutter, not {counted[0]}"
    for number, (left, from_top) in found.items():
        if number not in standing:
            yield f"tells of a hollow in strip {number}"
            continue
        # Where the edges cross there is a corner, which only a fine look finds.
        at, most = _standing(lying, number, _CLOSE)
        near = np.abs(at - (lying.length - from_top)) <= lying.front.job.ruler.mark
        if abs(float(most.max()) - left) > _STANDING_NEAR or float(most[near].max(initial=0.0)) < left - _STANDING_NEAR:
            yield f"says that {lying.front.job.ruler.fine(left)} stays standing in strip {number}"


def _mm(front: Front, text: str) -> float:
    from facade.lengths import read_length

    return read_length(text, front.job.unit)


@lru_cache(maxsize=256)
def _standing(lying: Lying, number: int, between: float) -> tuple[Array, Array]:
    """Return what the cutter leaves standing along a strip, mm: places from its BOTTOM end, and how much at each."""
    face = face_of(lying, lying.front.layout.strip(number), between)
    line = lying.with_leads(np.column_stack([face.x, face.cut]))
    radius = lying.radius
    count = round((lying.length + 2 * radius) / between)
    x = np.linspace(-radius, lying.length + radius, count + 1)
    middles = widened(line, radius, x)
    closed = -widened(np.column_stack([x, -middles]), radius, face.x)
    return face.x, np.maximum(closed - face.cut, 0.0)


@reader("cnc-side/job-sheet.pdf")
def compare_job_sheet(path: Path, name: str, truth: Truth) -> list[Compared]:
    """Compare the sheet with the text beside it, note by note, and its mark and its numbers of sheets."""
    import pypdfium2

    document = pypdfium2.PdfDocument(path)
    pages = [document[index].get_textpage().get_text_bounded() for index in range(len(document))]
    faults = [fault for page in pages for fault in truth.mark_faults(page)]
    faults += [
        f"does not say that it is sheet {number} of {len(pages)}"
        for number, page in enumerate(pages, start=1)
        if f"Sheet {number} of {len(pages)}" not in page
    ]
    if any(("NOT CLEARED" in page) == lying_of(truth).asked.cleared for page in pages):
        faults.append("says of a front that it is cleared what the checks do not")
    beside = truth.folder / _READ_ME
    notes = notes_of(beside.read_text("utf-8")) if beside.is_file() else []
    layers = next((index for index, (lead, _) in enumerate(notes) if lead == "proof square"), len(notes))
    printed = _bare("".join(pages))
    for lead, said in notes[:layers]:
        if _bare(lead + said) not in printed:
            faults.append(f"does not say under {lead!r} what {_READ_ME} says")
    return [
        Compared(
            name,
            "every note with the text beside it; mark and number of every page",
            points=layers,
            faults=tuple(dict.fromkeys(faults)),
        )
    ]


def _bare(text: str) -> str:
    """Return a text without spaces and line ends, in which a printed text and a typed one differ."""
    return re.sub(r"[\s\x00-\x1f￾]+", "", text)
