"""What is written beside carved faces: the text, the sheet for the machine, the sheets of plans, times, notes of height pictures."""

from __future__ import annotations

import csv
import math
import re
from collections.abc import Iterator, Sequence
from fractions import Fraction
from functools import lru_cache
from pathlib import Path, PurePosixPath

import numpy as np

from facade.drawing import printable
from facade.job import Finishing, Hold, Job
from facade.lengths import MM_PER_INCH, Ruler, Unit
from facade.measuring.screws import clearance_hole, pilot_hole
from facade.proof.carved import most_kept
from facade.proof.compared import Compared
from facade.proof.framing import strips_in_words
from facade.proof.heads import feed_words, in_minutes
from facade.proof.laid import FOLDER, Laid, all_laid, file_unit, laid_for, ordered, sharing_faults, unit_word
from facade.proof.pdf import document
from facade.proof.plans import (
    Seen,
    board_of,
    least_above,
    lengths_for_cutting,
    plan_of_laid,
    room_above,
    seen_screws,
    spoilboard_of,
)
from facade.proof.programs import Program
from facade.proof.readers import reader
from facade.proof.reckoning import seconds_of
from facade.proof.truth import Truth
from facade.proof.words import Note, bare, line_faults, note_faults, numbers_in, paragraphs
from facade.rules import rule
from facade.wood.species import species

READ_ME, TIMES, JOB_SHEET = f"{FOLDER}/read-me.txt", f"{FOLDER}/times.csv", f"{FOLDER}/job-sheet.pdf"
_WHITE = 65535
_STAGES = ("1-rough", "2-finish")
_COLUMNS = ("fixture", "door", "first strip", "last strip", "file", "cutter", "moves", "minutes")
_ENDS = tuple(f"{axis} {end}" for axis in "xyz" for end in ("from", "to"))
# How far heights between the places of a grid may be from what is said, mm.
_HEIGHTS_NEAR = 1e-6


@reader(f"{FOLDER}/solids/*_heights.txt", f"{FOLDER}/solids/strips/*_heights.txt")
def compare_height_notes(path: Path, name: str, truth: Truth) -> list[Compared]:
    """Compare every line of the text beside a height picture with the surface and the layout."""
    text = path.read_text("utf-8")
    faults = list(truth.mark_faults(text))
    wanted = list(_height_lines(truth, name))
    if not faults:
        faults += line_faults(text.splitlines(), wanted, _HEIGHTS_NEAR)
    return [Compared(name, "every line with surface and layout", points=len(wanted), faults=tuple(faults))]


def _height_lines(truth: Truth, name: str) -> Iterator[str]:
    front, unit = truth.front, truth.front.job.unit
    alone = re.match(r"strip-(\d+)_", PurePosixPath(name).name)
    laid = None if alone else laid_for(name, truth)
    step = front.job.sampling.step
    if laid:
        width, length = laid.right - laid.left, laid.length
        x, y = (np.linspace(0.0, size, max(2, math.ceil(size / step - 1e-9)) + 1) for size in (width, length))
        heights = laid.ground(x + laid.left, y + laid.bottom)
        first, last = laid.numbers[0], laid.numbers[-1]
        what = (
            f"fixture {laid.number}, strip{f's {first} to {last}' if first != last else f' {first}'} of {front.count}"
        )
    else:
        strip = front.strip(int(alone[1]) if alone else 0)
        width, length, heights = strip.width, strip.length, strip.heights
        what = f"strip {strip.number} of {front.count}"
    rows, columns = heights.shape
    part = 1.0 if unit is Unit.MM else MM_PER_INCH / 4.0
    top, word = _long(math.ceil(front.job.wood.blank / part - 1e-9) * part, unit), unit.value
    across, along = width / (columns - 1), length / (rows - 1)
    yield f"Height picture of {what}"
    yield f"{printable(front.job.title)}, mark {front.mark}"
    yield f"All lengths here are in {'mm' if unit is Unit.MM else 'inches'}."
    yield ""
    yield f"Picture: PNG, 16-bit grey, {columns} pixels across, {rows} pixels along."
    yield "It is seen as the front is seen: its first row is the TOP end, its left column the left edge."
    yield f"Size of the wood: {_long(width, unit)} {word} across, {_long(length, unit)} {word} along."
    yield "A pixel's grey is the height in its MIDDLE; the middles of the outermost pixels lie on the edges and the ends."
    yield f"Across: {_long(across, unit)} {word} a pixel, exactly {_long(width, unit)} / {columns - 1}."
    yield f"Along: {_long(along, unit)} {word} a pixel, exactly {_long(length, unit)} / {rows - 1}."
    rim = f"{_long(columns * across, unit)} x {_long(rows * along, unit)} {word}"
    corner = f"x {_long(-across / 2, unit)}, y {_long(-along / 2, unit)}"
    yield f"For a reader that stretches the picture from rim to rim: it is {rim} then, its lower left corner at {corner}."
    yield ""
    yield f"Grey 0, black, is the back: height 0. Grey {_WHITE}, white, is height {top} {word}."
    yield f"Grey step: {_long(float(top) * unit.in_mm / _WHITE, unit)} {word}, exactly {top} / {_WHITE}."
    yield f"Height = grey x {top} / {_WHITE}."
    low, high = (_long(float(end), unit) for end in (heights.min(), heights.max()))
    yield f"Heights are those of the finished surface, what remains after sanding: {low} to {high} {word}."
    yield ""
    yield "Zero: x 0, y 0 is the lower left corner of the wood, the middle of the lower left pixel; height 0 is the back."
    if laid:
        yield from _where_lines(laid, unit)


def _where_lines(laid: Laid, unit: Unit) -> Iterator[str]:
    x, y = (f"{place / unit.in_mm:.6f}" for place in (laid.left, laid.bottom))
    yield (
        f"The picture's lower left corner lies at x {x}, y {y} {unit.value} from the zero of the machine code, the machined corner of the "
        "spoilboard."
    )
    yield "The waste beyond the ends of the strips is not in the picture."
    if laid.spacer:
        yield "Between two strips, over the spacer, the surface goes on as behind a gap."
    for number, left, right in zip(laid.numbers, laid.lefts - laid.left, laid.rights - laid.left, strict=True):
        yield f"Strip {number}: x {left / unit.in_mm:.6f} to {right / unit.in_mm:.6f} {unit.value}."


def _long(mm: float, unit: Unit) -> str:
    text = f"{mm / unit.in_mm:.9f}".rstrip("0").rstrip(".")
    return "0" if text == "-0" else text


@lru_cache(maxsize=2)
def _times(path: Path, _changed: int) -> tuple[dict[str, str], ...]:
    return tuple(csv.DictReader(path.read_text("utf-8").splitlines()))


def times_rows(truth: Truth) -> tuple[dict[str, str], ...]:
    """Return the rows of the table of times, none where it is not there."""
    path = truth.folder / TIMES
    return _times(path, path.stat().st_mtime_ns) if path.is_file() else ()


@reader(TIMES)
def compare_times(path: Path, name: str, truth: Truth) -> list[Compared]:
    """Compare the columns of the table of times, its rows with the fixtures, and its sum; each row is held against its own program."""
    rows = times_rows(truth)
    if not rows:
        return [Compared(name, "", faults=("is empty",))]
    unit = file_unit(truth.front).value
    head = [
        *(f"{column} {unit}" if column == "cutter" else column for column in _COLUMNS),
        *(f"{end} {unit}" for end in _ENDS),
    ]
    faults = [] if list(rows[0]) == head else ["has other columns"]
    *files, total = rows
    wanted = [
        f"programs/{laid.name}_{stage}_{unit_word(truth.front)}.ngc" for laid in all_laid(truth) for stage in _STAGES
    ]
    if not faults and [row["file"] for row in files] != wanted:
        odd = next((row["file"] for row in files if row["file"] not in wanted), "")
        faults.append(
            f"names {odd}, which is not there" if odd else "does not name every program once, in the order of work"
        )
    if not faults:
        minutes = sum(float(row["minutes"]) for row in files)
        others = [value for key, value in total.items() if key not in ("file", "minutes")]
        if total["file"] != "all" or any(others):
            faults.append("does not end with the sum of all")
        if abs(minutes - float(total["minutes"])) > 0.05 * (len(files) + 1) + 1e-6:
            faults.append(f"its minutes add up to {minutes:.1f}, not {total['minutes']}")
    return [Compared(name, _TIMES_WHAT, points=len(files), faults=tuple(faults))]


_TIMES_WHAT = "every column with the moves of its program; its sum"


def times_row(truth: Truth, laid: Laid, plan: object, name: str, program: Program) -> Iterator[Compared]:
    """Yield what comes of a program's row in the table of times."""
    row = next((row for row in times_rows(truth) if f"{FOLDER}/{row.get('file')}" == name), None)
    if row is None:
        return
    unit, machine = file_unit(truth.front), truth.front.job.machine
    decimals = 2 if unit is Unit.MM else 3
    ball = isinstance(plan, Finishing)
    size = 2.0 * machine.finishing.radius if ball else machine.roughing.cutter
    words = {
        "fixture": str(laid.number),
        "door": str(laid.places[0].door),
        "first strip": str(laid.numbers[0]),
        "last strip": str(laid.numbers[-1]),
        f"cutter {unit.value}": f"{'ball' if ball else 'straight'} {size / unit.in_mm:.{decimals}f}",
        "moves": str(len(program.places)),
    }
    faults = [
        f"says {row.get(key)!r} under {key!r} of {row['file']}, not {value}"
        for key, value in words.items()
        if row.get(key) != value
    ]
    extent = program.extent
    ends = [0.0] * 6 if extent is None else extent.T.ravel().tolist()
    figures = {
        f"{end} {unit.value}": (value / unit.in_mm, 10.0**-decimals) for end, value in zip(_ENDS, ends, strict=True)
    }
    # A minute has one decimal; places are rounded in the program, and again in the table.
    figures["minutes"] = (seconds_of(program, machine) / 60.0, 0.1)
    worst = 0.0
    for key, (value, last) in figures.items():
        off = abs(float(row[key]) - value)
        worst = max(worst, off * unit.in_mm if key != "minutes" else 0.0)
        if off > 0.56 * last:
            faults.append(
                f"says {row[key]} under {key!r} of {row['file']}, not {value:.{1 if key == 'minutes' else decimals}f}"
            )
    yield Compared(TIMES, _TIMES_WHAT, points=len(words) + len(figures), deviation=worst, faults=tuple(faults))


@reader(READ_ME)
def compare_read_me(path: Path, name: str, truth: Truth) -> list[Compared]:
    """Compare every number of the text with what it should be, the words on which the work hangs, and how strips are shared out."""
    text = path.read_text("utf-8")
    faults = [*truth.mark_faults(text), *sharing_faults(truth)]
    said = paragraphs(text)
    cleared = ordered(truth).cleared
    heads = [f"{truth.front.job.title}, mark {truth.front.mark}"]
    heads += [] if cleared else ["NOT CLEARED: the checks stop this front. Cut nothing from these files."]
    if not faults and said[: len(heads)] != heads:
        faults.append("does not begin with the title of the job, its mark and whether it is cleared")
    if not faults and cleared and "NOT CLEARED" in text:
        faults.append("says NOT CLEARED")
    if not faults:
        faults += _read_me_faults(truth, said[len(heads) :])
    return [Compared(name, "every number, leading words; mark", points=len(said), faults=tuple(faults))]


def _read_me_faults(truth: Truth, said: Sequence[str]) -> Iterator[str]:
    laid = all_laid(truth)
    try:
        seen = [seen_of(truth, one) for one in laid]
    except ValueError as error:
        yield f"cannot be compared: a plan {error}"
        return
    notes = [_led(line) for line in said]
    hollows = [note for note in notes if note[0].startswith("In hollows")]
    yield from note_faults([note for note in notes if note not in hollows], list(_read_me_notes(truth, laid, seen)))
    yield from _hollow_faults(truth, hollows)


def _led(line: str) -> tuple[str, str]:
    """Return the words that lead a paragraph, up to its colon or its first three words, and the whole of it."""
    found = re.match(r"(?:\d+\. )?([A-Za-z0-9 -]{2,24}): ", line)
    if found:
        return line[: found.end() - 2], line[found.end() :]
    return " ".join(line.split()[:3]), line


def seen_of(truth: Truth, laid: Laid) -> Seen:
    """Return the screws that are in while a fixture is carved, by its plan; raises ValueError where it shows others than it may."""
    read = plan_of_laid(truth, laid)
    if read is None:
        raise ValueError("is missing")
    return seen_screws(laid, read)


def _read_me_notes(truth: Truth, laid: Sequence[Laid], seen: Sequence[Seen]) -> Iterator[Note]:
    job, show = truth.front.job, truth.front.job.ruler.text
    across, along = job.first_strip
    unit = "mm" if file_unit(truth.front) is Unit.MM else "inches"
    yield Note("programs/ holds the", (), ("programs/ holds the machine code", "drawings/", "solids/", "job-sheet.pdf"))
    yield Note(
        "Machine code and", (), (f"Machine code and DXF are in {unit};", "STL, which holds no unit", "are in mm")
    )
    yield Note("ZERO", ("0", "0", "0", show(across), show(along)), (ZERO, "skimmed top", "Never zero on the face"))
    yield Note("Order of work")
    yield from work_notes(truth, laid, seen)
    for one, screws in zip(laid, seen, strict=True):
        yield from _held_notes(truth, one, screws)
    if any(one.screws() or some.longer for one, some in zip(laid, seen, strict=True)):
        yield _limit_note(job)
        yield from _left_out_note(laid, seen)
    for one in laid:
        first, last = one.numbers[0], one.numbers[-1]
        strips = (str(first), str(last)) if first != last else (str(first),)
        yield Note(
            f"Fixture {one.number}", (str(one.places[0].door), *strips, show(one.right - one.left), show(one.length))
        )
    yield from _blank_notes(truth)
    yield from (Note(lead) for lead in ("Cautions", "Machine", "Dust", "Screws", "First of all"))


ZERO = "the lower left machined corner of the spoilboard"


def work_notes(truth: Truth, laid: Sequence[Laid], seen: Sequence[Seen]) -> Iterator[Note]:
    """Yield the steps of the work as they should be said, with their numbers."""
    job, first = truth.front.job, laid[0]
    show, board, blank = job.ruler.text, spoilboard_of(job), first.blank
    longer = sorted({number for one in seen for number in one.longer})
    stay = (*map(str, longer), show(job.machine.waste)) if longer else ()
    sunk = (drilled(job.ruler, board.bore), show(board.sunk), show(board.under_head))
    used = any(one.final or one.longer for one in seen)
    steps = [
        Note("Blanks", (show(blank, 2), *stay, show(blank, 2)), ("to width and to length", "--blank")),
        Note("Spoilboard", faults=lambda text: _board_faults(truth, laid, text)),
        Note("Corner", (), ("lower and its left edge", "zero for all")),
        Note("Holes", (drilled(job.ruler, clearance_hole(job.fixing.shank)[0]),), ("through at every screw",)),
        Note("Back", sunk, ("Sink every hole from the back", "no head stands out")),
        Note(
            "Load",
            (show(job.ruler.down(first.low)),) if first.low >= 3.0 else (),
            ("skimmed top up", "backs down, TOP ends up"),
        ),
        Note("Bed", (), ("clamp it on its outermost stretch alone",)),
        Note("Zero", (), (ZERO, "z on its skimmed top")),
        Note("Air run", (show(job.ruler.up(blank + job.machine.clear)),), ("Then set z back",)),
        Note("1-rough", (), ("straight cutter",)),
        Note("Change", (), ("Put the ball in and set z again",)),
        Note("2-finish", (), ("Run it with the ball",)),
        Note("Measure", (), ("Before anything is loosened",)),
        Note("Unload", (), ("mark each strip with its number",)),
    ]
    steps = [note for note in steps if used or note.lead not in ("Holes", "Back")]
    for number, note in enumerate(steps, start=1):
        yield Note(f"{number}. {note.lead}", note.numbers, note.words, note.faults)


def drilled(ruler: Ruler, mm: float) -> str:
    """Return a diameter as drills have it: to a tenth of a mm, or to 1/64 in."""
    part = 0.1 if ruler.unit is Unit.MM else MM_PER_INCH / 64.0
    return Ruler(ruler.unit, max(64, ruler.fraction)).text(round(mm / part) * part)


def _board_faults(truth: Truth, laid: Sequence[Laid], text: str) -> Iterator[str]:
    """Yield what is wrong with what is said of the spoilboards: how thick they are, and that every fixture has one."""
    job = truth.front.job
    board, show = spoilboard_of(job), job.ruler.text
    sizes = (board.bought, 10.0 if job.unit is Unit.MM else 12.7, board.bought - board.thickness, board.thickness)
    wanted = [number for size in sizes for number in numbers_in(show(size))]
    found = numbers_in(text)
    if found[len(found) - len(wanted) :] != wanted:
        yield f"says {', '.join(found)} of the spoilboard, not {', '.join(wanted)}"
    groups = re.findall(r"board (\d+) for fixtures? (\d+(?:, \d+)*)", text)
    serves = sorted(int(one) for _, some in groups for one in some.split(", "))
    every = [one.number for one in laid]
    if "One board serves every fixture" not in text and serves != every:
        yield "does not give every fixture one spoilboard"


def board_numbers(text: str, laid: Sequence[Laid]) -> dict[int, int]:
    """Return which spoilboard each fixture takes, as the text says it."""
    groups = re.findall(r"board (\d+) for fixtures? (\d+(?:, \d+)*)", text)
    said = {int(one): int(board) for board, some in groups for one in some.split(", ")}
    return {one.number: said.get(one.number, 1) for one in laid}


def _held_notes(truth: Truth, laid: Laid, seen: Seen) -> Iterator[Note]:
    """Yield what should be said of the screws of a fixture, and of strips that they do not hold."""
    yield Note(f"Fixture {laid.number}", faults=lambda text: _held_faults(truth, laid, seen, text))


def _held_faults(truth: Truth, laid: Laid, seen: Seen, text: str) -> Iterator[str]:
    counts, _, loose = text.partition("Fewer than two screws")
    yield from count_faults(truth, laid, seen, counts)
    wanted = seen.loose(laid)
    numbers = [] if len(wanted) == len(laid.numbers) else [str(number) for number in wanted]
    if bool(loose) != bool(wanted) or (wanted and numbers_in(loose) != numbers):
        yield f"says of fixture {laid.number} that {numbers_in(loose) or 'none'} are held by fewer than two screws, not {numbers or wanted}"
    if wanted and (len(wanted) == len(laid.numbers)) != ("each of its strips" in loose):
        yield f"says which strips of fixture {laid.number} are loose, and it is not so"
    hold = truth.front.job.machine.hold
    by = {Hold.TAPE: "double-sided tape", Hold.VACUUM: "by vacuum through the spoilboard"}.get(
        hold, "tape over the whole back or by vacuum"
    )
    if wanted and by not in loose:
        yield f"does not say {by!r} of the loose strips of fixture {laid.number}"


def count_faults(truth: Truth, laid: Laid, seen: Seen, text: str) -> Iterator[str]:
    """Yield what is wrong with how many screws of each length are said to be in: "12 of 20 mm, 4 of 25 mm"."""
    job = truth.front.job
    known = {job.ruler.text(length): length for length in lengths_for_cutting(job)}
    found = re.findall(r"(\d+) of ((?:\d+ )?\d+(?:[./]\d+)? (?:mm|in))", text)
    wanted = len(seen.final) + 2 * len(seen.longer)
    if sum(int(count) for count, _ in found) != wanted:
        said = ", ".join(f"{count} of {length}" for count, length in found) or "none"
        yield f"says {said} of the screws of fixture {laid.number}, {wanted} in all"
    strange = [length for _, length in found if length not in known]
    if strange:
        yield f"says screws of {strange[0]}, which are not to be had"


def _limit_note(job: Job) -> Note:
    sizes = (least_above(job), job.limit("screw_cover").value, job.limit("screw_overcut").value)
    return Note("No cutter may", tuple(map(job.ruler.fine, sizes)), ("nearer to a screw",))


def _left_out_note(laid: Sequence[Laid], seen: Sequence[Seen]) -> Iterator[Note]:
    """Yield what should be said of how near the cutters come, and of holes that stay empty."""
    used = any(one.final or one.longer for one in seen)
    out = [
        screw.strip for one, some in zip(laid, seen, strict=True) for screw in one.screws() if screw not in some.final
    ]
    if not used and not out:
        return
    strips = [str(number) for number in sorted(set(out))]
    empty = [*([str(len(out))] if len(out) > 1 else []), *strips] if out else []

    def faults(text: str) -> Iterator[str]:
        near, rest = (
            (text.partition("away from them.")[0], text.partition("away from them.")[2]) if used else ("", text)
        )
        if used:
            yield from near_faults(laid, seen, near)
        if numbers_in(rest) != empty:
            yield f"says {', '.join(numbers_in(rest)) or 'none'} of the holes that stay empty, not {', '.join(empty) or 'none'}"

    lead = "Measured from the" if used else (f"{len(out)} of the" if len(out) > 1 else "One of the")
    yield Note(lead, faults=faults)


def near_faults(laid: Sequence[Laid], seen: Sequence[Seen], text: str) -> Iterator[str]:
    """Yield that a text says the cutters stay further away from screws than they do, or nearer than they may."""
    job, said = laid[0].front.job, numbers_in(text)
    if len(said) != 1:
        yield "does not say how near the cutters come to the screws"
        return
    far = job.ruler.unit.in_mm * _value(said[0])
    if far < least_above(job) - job.ruler.mark:
        yield f"says that cutters come as near as {said[0]} to a screw"
    under, bite = spoilboard_of(job).under_head, job.limit("bite_least").value
    shortest = min(
        (length - under for length in lengths_for_cutting(job) if length - under >= bite - 1e-4), default=0.0
    )
    nearest = min(
        (room_above(one, screw, shortest) for one, some in zip(laid, seen, strict=True) for screw in some.final),
        default=math.inf,
    )
    most = nearest + 2.0 * job.ruler.mark
    # In hollows tighter than itself the ball keeps further away.
    if far > most and far > most + max(map(most_kept, laid)):
        yield f"says that cutters stay {said[0]} away from every screw, and they do not"


def _value(text: str) -> float:
    """Return a printed number: "5.02", "1 3/8"."""
    return float(sum(map(Fraction, text.split()), Fraction(0)))


def _blank_notes(truth: Truth) -> Iterator[Note]:
    """Yield what should be said of the blanks: their thickness, the wood above the face, and the thinnest place."""
    front = truth.front
    job, asked = front.job, ordered(truth)
    show, fine = job.ruler.text, job.ruler.fine
    measured = job.as_built.blank
    said = (show(measured, 3), show(job.wood.blank, 3)) if measured else (show(job.wood.blank, 3),)
    yield Note("Blanks", said)
    measures = [front.measures_of(number) for number in asked.strips]
    high = max(measures, key=lambda one: one.thickest.height)
    thin = min(measures, key=lambda one: one.thinnest.height)
    above = fine(max(asked.blank - high.thickest.height, 0.0))
    at = (str(high.number), show(high.thickest.from_top))
    leave = fine(job.machine.leave)
    bare = [one for one in measures if asked.blank - one.thickest.height < job.machine.leave - 1e-9]
    if bare:
        wanted = [number for part in (leave, above, *at) for number in numbers_in(part)]

        def faults(text: str) -> Iterator[str]:
            if numbers_in(text)[-len(wanted) :] != wanted:
                yield f"says {', '.join(numbers_in(text))} of raw skin, not {', '.join(wanted)}"

        yield Note("Raw skin may", faults=faults)
    else:
        yield Note("Wood above the", (above, *at, leave))
    where = (str(thin.number), show(thin.thinnest.from_top))
    yield Note("Heights are counted", (fine(thin.thinnest.height), *where, show(front.surface.floor, 3)))


def _hollow_faults(truth: Truth, notes: Sequence[tuple[str, str]]) -> Iterator[str]:
    """Yield what is wrong with what is said of hollows tighter than the ball: its radius, and the limit."""
    job = truth.front.job
    for _, text in notes[:1]:
        radius = job.ruler.text(job.machine.finishing.radius, 3)
        limit = job.ruler.fine(job.limit("ball_standing").value)
        if f"radius {radius} up to" not in text or f"{limit} " not in text:
            yield f"does not say the radius {radius} and the limit {limit} of hollows"
    if len(notes) > 1:
        yield "speaks of hollows twice"


@reader(JOB_SHEET)
def compare_job_sheet(path: Path, name: str, truth: Truth) -> list[Compared]:
    """Compare the sheet with the text beside it, step by step, its tables with job, programs' times and surface."""
    pages = _pages(path)
    faults = _page_faults(truth, pages)
    printed = bare("".join(pages))
    beside = truth.folder / READ_ME
    said = paragraphs(beside.read_text("utf-8")) if beside.is_file() else []
    notes = [_led(line) for line in said]
    leads = [note for note in notes if re.match(r"\d+\. |ZERO$|Machine$|Dust$|Screws$|First of all$", note[0])]
    for lead, text in leads:
        start = f"{lead.replace('. ', ' ')}." if lead[0].isdigit() else lead
        if bare(start) + bare(text) not in printed:
            faults.append(f"does not say under {lead!r} what {PurePosixPath(READ_ME).name} says")
    if not faults:
        faults += [
            f"does not say {cell!r} under {column!r}"
            for column, cells in _tables(truth, "\n".join(said))
            if (cell := _missing(cells, printed))
        ]
    return [
        Compared(
            name,
            "every step with the text beside it; cutters, files, minutes and readings; mark and number of every page",
            points=len(leads),
            faults=tuple(dict.fromkeys(faults)),
        )
    ]


def _pages(path: Path) -> list[str]:
    found = document(path)
    return [found[index].get_textpage().get_text_bounded().replace("\r", "") for index in range(len(found))]


# A line that is cut short holds more letters than this.
_LONG = 30


def _page_faults(truth: Truth, pages: Sequence[str]) -> list[str]:
    """Return what is wrong with marks, numbers of sheets and whether the front is cleared, page by page."""
    faults = [fault for page in pages for fault in truth.mark_faults(page)]
    cleared, count = ordered(truth).cleared, truth.front.count
    every = strips_in_words(ordered(truth).strips, count)
    for number, page in enumerate(pages, start=1):
        if f"Sheet {number} of {len(pages)}" not in page:
            faults.append(f"does not say that it is sheet {number} of {len(pages)}")
        if ("NOT CLEARED" in page) == cleared:
            faults.append("says NOT CLEARED" if cleared else "does not say NOT CLEARED on every page")
        titles = [line.rpartition(" · ")[2].rstrip("…") for line in page.splitlines() if " · " in line]
        # A title that is too long for its line is cut short, and where many strips stand before it, is cut off.
        if not any(title and printable(truth.front.job.title).startswith(title) for title in titles) and not any(
            line.endswith("…") and every.startswith(line[:-1].rstrip())
            for line in page.splitlines()
            if len(line) > _LONG
        ):
            faults.append("does not bear the title of the job on every page")
    return list(dict.fromkeys(faults))


def _missing(cells: Sequence[Sequence[str]], printed: str) -> str:
    """Return the first cell of a column that is not printed after the one before it; each may be said in several ways."""
    ways = {""}
    for index, cell in enumerate(cells):
        ways = {way + bare(one) for way in ways for one in cell}
        ways = {way for way in ways if way in printed}
        if not ways:
            return cells[index][0]
    return ""


def _tables(truth: Truth, said: str) -> Iterator[tuple[str, list[list[str]]]]:
    """Yield each column of the sheet's tables, and its cells from the top, each in all ways in which it may be rounded."""
    job, laid = truth.front.job, all_laid(truth)
    machine, show, unit = job.machine, job.ruler.text, job.unit
    cuts = (machine.roughing, machine.finishing)
    sizes = (machine.roughing.cutter, 2.0 * machine.finishing.radius)
    yield "cutter", [[f"{kind}, {show(size, 3)}"] for kind, size in zip(("straight", "ball"), sizes, strict=True)]
    yield "out of its holder by", [_deep(truth, laid[0].blank, stage) for stage in _STAGES]
    yield "edges", [[str(cut.flutes)] for cut in cuts]
    yield "turns a minute", [[f"{cut.spindle:.0f}"] for cut in cuts]
    yield "feed in the cut", [[feed_words(cut.feed, unit)] for cut in cuts]
    yield "feed on the way in", [[feed_words(cut.plunge, unit)] for cut in cuts]
    names = [f"{one.name}_{stage}_{unit_word(truth.front)}.ngc" for one in laid for stage in _STAGES]
    minutes = {row["file"]: row["minutes"] for row in times_rows(truth)}
    boards = board_numbers(said, laid)
    for one in laid:
        yield (
            "before it",
            [[f"load fixture {one.number} on board {boards[one.number]}, air run"], ["change the cutter, set z again"]],
        )
    yield from (("file", [[name]]) for name in names)
    yield from (("minutes", [_rounded(minutes.get(f"programs/{name}", "0"))]) for name in names)
    yield "About", [[f"About {way} in all" for way in _rounded(minutes.get("all", "0"))]]
    for one in laid:
        for from_top, height in _readings(one):
            yield "from TOP", [[job.ruler.bare(from_top)]]
            yield "height at left edge", [[f"{height:.2f}" if unit is Unit.MM else f"{height / unit.in_mm:.3f}"]]
    yield "sanding", [[f"{show(machine.leave, 3)} for sanding"]]


def _deep(truth: Truth, blank: float, stage: str) -> list[str]:
    """Return in which ways it may be said how far a cutter must stand out: by the lowest places of its programs, which are rounded."""
    unit, ruler = file_unit(truth.front), truth.front.job.ruler
    lowest = [
        float(row[f"z from {unit.value}"]) for row in times_rows(truth) if stage in row["file"] and row["moves"] != "1"
    ]
    if not lowest:
        return [ruler.text(0.0)]
    deep, half = blank - min(lowest) * unit.in_mm, (0.005 if unit is Unit.MM else 0.0005) * unit.in_mm
    return list(dict.fromkeys(ruler.text(ruler.up(deep + off)) for off in (-half, 0.0, half)))


def _rounded(minutes: str) -> list[str]:
    """Return in which ways minutes with one decimal may be said in whole ones."""
    return list(dict.fromkeys(in_minutes(60.0 * float(minutes) + off) for off in (-3.0, 0.0, 3.0)))


def _readings(laid: Laid) -> Iterator[tuple[float, float]]:
    """Yield where along a fixture's first strip it is measured, mm from the top, and the height there at its left edge, sanding left on."""
    place, job = laid.places[0], laid.front.job
    whole = 10.0 if job.unit is Unit.MM else 12.7
    for share in (0.2, 0.5, 0.8):
        from_top = min(max(math.floor(share * place.length / whole) * whole, 0.0), place.length)
        height = float(laid.front.surface.at(np.array([[place.left]]), np.array([[place.top - from_top]]))[0, 0])
        yield from_top, min(height + job.machine.leave, laid.blank)


@reader(f"{FOLDER}/drawings/*_plan.pdf")
def compare_plan_sheet(path: Path, name: str, truth: Truth) -> list[Compared]:
    """Compare the sheet of a plan: its numbers with layout and job, its screws one by one, its mark and numbers of sheets."""
    laid, pages = laid_for(name, truth), _pages(path)
    faults = _page_faults(truth, pages)
    printed, rows = bare("".join(pages)), 0
    if not faults:
        try:
            seen = seen_of(truth, laid)
        except ValueError as error:
            return [Compared(name, "", faults=(f"cannot be compared: its DXF {error}",))]
        faults += [
            f"does not say {text[:60]!r}" for text in _sheet_words(truth, laid, seen) if bare(text) not in printed
        ]
        table = _screw_table(truth, pages)
        rows = len(table)
        faults += _table_faults(truth, laid, seen, table)
    return [
        Compared(
            name,
            "sizes, heights and holes with layout and job; every screw with its place, length and bite; mark and number of every page",
            points=5 * rows,
            faults=tuple(dict.fromkeys(faults)),
        )
    ]


def _sheet_words(truth: Truth, laid: Laid, seen: Seen) -> Iterator[str]:
    """Yield what the sheet of a plan must say."""
    job = truth.front.job
    ruler, show, board = job.ruler, job.ruler.text, spoilboard_of(job)
    low, across, along = show(ruler.down(laid.low)), *job.first_strip
    yield f"Plan of fixture {laid.number}, door {laid.places[0].door}"
    yield f"x 0, y 0 is {ZERO}, the same for every fixture; z 0 is its skimmed top"
    yield f"x {show(across)}, y {show(along)}."
    yield f"It runs {show(ruler.down(rule('fixture_keep_off')))} outside all that the cutter passes over."
    _, wide, _, long = board_of(laid).tolist()
    yield f"{show(wide)} x {show(long)}, bought {show(board.bought)} thick, skimmed to {show(board.thickness)}."
    yield f"End blocks, 2: {show(laid.right - laid.left)} x {show(job.machine.waste)}, {show(laid.blank, 3)} thick as the blanks"
    if laid.low >= 3.0:
        yield f"may stand as high as {low} above the spoilboard"
        if laid.spacer:
            yield f"{len(laid.places) - 1}, black in the picture: {show(laid.spacer, 3)} wide, {show(laid.length)} long, lower than {low}."
    if seen.final or seen.longer:
        through, bore = (drilled(ruler, size) for size in (clearance_hole(job.fixing.shank)[0], board.bore))
        deep, under = show(board.sunk), show(board.under_head)
        yield f"Holes through the spoilboard {through}, sunk from its back {bore} wide and {deep} deep: {under} stay"
        pilot = pilot_hole(job.fixing.shank, softwood=species(job.wood.species).softwood)
        part = 0.1 if job.unit is Unit.MM else MM_PER_INCH / 64.0
        down = Ruler(ruler.unit, max(64, ruler.fraction)).text(math.floor(pilot / part + 1e-6) * part)
        yield f"Pilot holes {down}."
        sizes = (least_above(job), job.limit("screw_cover").value, job.limit("screw_overcut").value)
        far, cover, deeper = map(ruler.fine, sizes)
        yield f"No cutter may come nearer to a screw than {far}: {cover} of cover and {deeper} for a cut that goes too deep."


_CELLS = r"((?:[\d/.]+(?: [\d/]+)?\n)+)"
_SCREWS = re.compile(
    rf"strip\n{_CELLS}x\n{_CELLS}y\n{_CELLS}length\nscrew\n{_CELLS}bite\n{_CELLS}stays off\ncutter\n{_CELLS}"
)


def _screw_table(truth: Truth, pages: Sequence[str]) -> list[tuple[int, float, float, float, float, float]]:
    """Return the rows of the table of screws, mm: strip, x, y, length, bite, how far the cutter stays off."""
    unit, rows = truth.front.job.unit.in_mm, []
    for found in _SCREWS.finditer("\n".join(pages) + "\n"):
        columns = [part.split("\n")[:-1] for part in found.groups()]
        for strip, *sizes in zip(*columns, strict=True):
            x, y, length, bite, off = (_value(size) * unit for size in sizes)
            rows.append((int(strip), x, y, length, bite, off))
    return rows


def _table_faults(
    truth: Truth, laid: Laid, seen: Seen, table: Sequence[tuple[int, float, float, float, float, float]]
) -> Iterator[str]:
    """Yield what is wrong with the table of screws: which there are, where, how long, how deep, and how near the cutter comes."""
    job, board = truth.front.job, spoilboard_of(truth.front.job)
    near, wanted = truth.printed_rounding(1), len(seen.final) + 2 * len(seen.longer)
    if len(table) != wanted:
        yield f"lists {len(table)} screws, its DXF shows {wanted}"
        return
    half = job.machine.waste / 2.0
    for strip, x, y, length, bite, off in table:
        where = f"the screw of strip {strip} at x {truth.length(x)}, y {truth.length(y)}"
        held = next(
            (one for one in seen.final if one.strip == strip and abs(one.x - x) <= near and abs(one.y - y) <= near),
            None,
        )
        aside = strip in seen.longer and min(abs(y - laid.bottom + half), abs(y - laid.top - half)) <= near
        if held is None and not aside:
            yield f"lists {where}, which its DXF does not show"
            continue
        if not any(abs(length - one) <= near for one in lengths_for_cutting(job)):
            yield f"gives {where} a length of {truth.length(length)}, which is not to be had"
        if abs(length - board.under_head - bite) > 2.0 * near + job.ruler.mark:
            yield f"says that {where} bites {truth.length(bite)}, not {truth.length(length - board.under_head)}"
        if bite > (held.bite if held else laid.blank) + near:
            yield f"says that {where} goes deeper than its hole"
        if off < least_above(job) - near - job.ruler.mark:
            yield f"lets the cutter come as near as {truth.length(off)} to {where}"
        if held is None or off >= 9.0:
            continue
        most = room_above(laid, held, length - board.under_head) + near + job.ruler.mark + 0.1
        # In hollows tighter than itself the ball keeps further away.
        if off > most and off > most + most_kept(laid):
            yield f"says that the cutter stays {truth.length(off)} off {where}, which it does not"
