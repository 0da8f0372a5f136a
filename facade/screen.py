"""What is said on the screen about findings, files and rules: lines of text, ready to print."""

from __future__ import annotations

import re
import shlex
import shutil
import textwrap
from collections.abc import Iterable, Iterator, Sequence
from pathlib import Path
from typing import TYPE_CHECKING

from facade.checks import Finding, Group, Weight, grouped
from facade.layout import rules_used
from facade.lengths import Ruler

if TYPE_CHECKING:
    from facade.build import Build
    from facade.cnc.order import Order as CncOrder
    from facade.front import Front
    from facade.options import Options
    from facade.paper import Order
    from facade.printing.printers import Printer
    from facade.relaxing import Relaxed
    from facade.templates.pack import Pack

_NARROWEST, _WIDEST = 60, 110
_NAME = 25  # letters for the name of a file before what it is for


def count_of(number: int, thing: str) -> str:
    """Return "1 strip", "2 strips"."""
    return f"{number} {thing}{'s' if number != 1 else ''}"


def size_of(size: int) -> str:
    """Return a file's size in kB or MB."""
    return f"{size / 1e6:.1f} MB" if size >= 1e5 else f"{size / 1e3:.0f} kB"


def stops(findings: Iterable[Finding]) -> bool:
    """Whether any finding stops the job."""
    return any(finding.stops for finding in findings)


def verdict(findings: Sequence[Finding]) -> str:
    """Return the short answer to whether it can be made."""
    groups = grouped(findings)
    weights = [group.worst.weight for group in groups]
    look = f" {weights.count(Weight.LOOK)} to look at." if Weight.LOOK in weights else ""
    if Weight.STOPS not in weights:
        return f"nothing that was checked stops it.{look}"
    about = ", ".join(dict.fromkeys(group.worst.check for group in groups if group.worst.weight is Weight.STOPS))
    number = weights.count(Weight.STOPS)
    return f"NOT CLEARED. {count_of(number, 'finding')} stop{'s' if number == 1 else ''} it: {about}.{look}"


def finding_lines(findings: Iterable[Finding], ruler: Ruler) -> Iterator[str]:
    """Yield the findings by weight, those that say the same drawn together; each caution once."""
    groups = grouped(findings)
    told: set[str] = set()
    for weight in Weight:
        some = [group for group in groups if group.worst.weight is weight]
        if some:
            yield ""
            yield f"{weight.value.capitalize()}:"
        for group in some:
            yield from _group_lines(group, ruler, told)


def _group_lines(group: Group, ruler: Ruler, told: set[str]) -> Iterator[str]:
    finding = group.worst
    yield from _wrapped(f"- {finding.sentence}", "  ", "    ")
    limit = limit_text(finding, ruler)
    more = (f"Limit {limit}." if limit else "", group.also)
    for words in (" ".join(filter(None, more)), finding.cure):
        yield from _wrapped(words, "    ", "    ")
    if finding.caution and finding.caution not in told:
        told.add(finding.caution)
        yield from _wrapped(f"Caution: {finding.caution}", "    ", "    ")


def limit_text(finding: Finding, ruler: Ruler) -> str:
    """Return a finding's limit with its unit and where it comes from, "" where it has none."""
    if finding.limit is None or finding.weight is Weight.KNOW:
        return ""
    number = ruler.text(finding.limit, 2) if finding.unit == "mm" else f"{finding.limit:.4g} {finding.unit}".rstrip()
    return f"{number}, {finding.source}" if finding.source else number


def _wrapped(words: str, first: str, then: str) -> list[str]:
    width = min(max(shutil.get_terminal_size((100, 24)).columns, _NARROWEST), _WIDEST)
    return textwrap.wrap(words, width, initial_indent=first, subsequent_indent=then, break_on_hyphens=False)


def strip_lines(front: Front, number: int) -> Iterator[str]:
    """Yield what a maker asks about one strip: size, thickness, which way to carve it, screws."""
    from facade.measuring.grain import strokes

    strip, ruler = front.measures_of(number), front.job.ruler
    show, low, high = ruler.text, strip.thinnest, strip.thickest
    steep = strip.grain.steepest
    yield ""
    yield f"Strip {number}, door {strip.door}: {show(strip.length)} long, {show(strip.width, 2)} wide"
    yield f"  thinnest   {show(low.height)}, {show(low.from_top)} from the top, {show(low.from_left)} from its left edge"
    yield f"  thickest   {show(high.height)}, {show(high.from_top)} from the top, {show(high.from_left)} from its left edge"
    yield f"  steepest   {steep.degrees:.0f} degrees along the grain, {show(steep.from_top)} from the top"
    for line in dict.fromkeys(end.line for end in strip.grain.ends):
        ways = strokes(strip.grain.turns, strip.grain.ends, strip.length)
        words = [f"{ruler.number(way.start, 0)} to {ruler.number(way.end, 0)}" for way in ways if way.line is line]
        yield from _wrapped(f"carve {line.value}: {', '.join(words) or 'level'}", "  ", "             ")
    if strip.screws.screws:
        words = [f"{show(screw.length)} at {ruler.number(screw.from_top, 0)}" for screw in strip.screws.screws]
        yield f"  screws     {', '.join(words)}"
        barred = [f"{ruler.number(first, 0)} to {ruler.number(last, 0)}" for first, last in strip.screws.barred]
        yield from _wrapped(f"no screw   {', '.join(barred)}", "  ", "             ")
    yield f"Carve from crest to hollow, each stretch in the direction given; places are {ruler.unit.value} from the top."


def rule_lines(front: Front) -> Iterator[str]:
    """Yield the rules that stand in where the job says nothing."""
    used = rules_used(front.job, front.layout)
    if used:
        yield ""
        yield "Not said in the job, so taken from the rules:"
    for rule in used:
        yield f"  {rule.name:<8} {front.job.ruler.text(rule.value, 2):<8} {rule.source}: {rule.about}"


def build_lines(front: Front, build: Build, seconds: float) -> Iterator[str]:
    """Yield what was made, what to look at first, and what the checks found."""
    from facade.build import summary
    from facade.drawing import printable

    strips, doors = count_of(len(front.numbers), "strip"), count_of(len(front.layout.doors), "door")
    yield f"{printable(front.job.title)}: {strips} on {doors}, mark {build.mark}"
    if build.former_mark:
        yield (
            f"{build.folder} held mark {build.former_mark} before: prints and parts of it do not belong to this design."
        )
    yield ""
    if any(file.name == "front.png" for file in build.files):
        yield f"Look first at {build.folder / 'front.png'}"
        yield ""
    for name, count, size, purpose in summary(build):
        many = f"{count} files, " if count > 1 else ""
        yield f"  {name:<14} {many}{size_of(size)}: {purpose}"
    yield ""
    total = size_of(sum(file.size for file in build.files))
    yield f"{len(build.files) + 1} files in {build.folder}, {total}, in {seconds:.1f} s"
    yield from _unchanged_line(build)
    yield ""
    yield from _wrapped(f"Can it be made? {verdict(build.findings)}", "", "")
    if stops(build.findings):
        yield "Every sheet is marked NOT CLEARED. Cut nothing from them."
    yield from finding_lines(build.findings, front.job.ruler)
    yield from rule_lines(front)


def _unchanged_line(build: Build) -> Iterator[str]:
    if not build.anew:
        yield "Nothing has changed since they were made: all of them are as they were, and none was made anew."


def kept_lines(build: Build) -> Iterator[str]:
    """Yield which files of the maker's had to make room for files of the same names."""
    if build.kept:
        yield ""
    for name, now in build.kept:
        yield from _wrapped(
            f"{name} was saved or changed while this was built: it is kept beside the new one, as {build.folder / now}.",
            "",
            "  ",
        )


def paper_lines(front: Front, build: Build, seconds: float) -> Iterator[str]:
    """Yield which sheets came out, what each kind is for, and what was held back."""
    from facade.drawing import printable
    from facade.templates.frame import strips_in_words

    assert build.pack is not None
    yield f"{printable(front.job.title)}, mark {build.mark}: print {build.folder / 'paper.pdf'} at 100 %"
    if build.held_back:
        yield ""
        held = strips_in_words(build.held_back, front.count)
        words = f"Not printed again, for what was printed of them still holds: {held}. With --all they are printed too."
        yield from _wrapped(words, "", "")
    if build.pack.new:
        yield from _wrapped(
            f"Changed since, and marked NEW: {strips_in_words(sorted(build.pack.new), front.count)}.", "", ""
        )
    yield ""
    yield f"{len(build.pack.sheets)} sheets in {seconds:.1f} s; the same as SVG in {build.folder / 'paper'}"
    yield from _unchanged_line(build)
    yield ""
    yield from _wrapped(f"Can it be made? {verdict(build.findings)}", "", "")
    if stops(build.findings):
        yield "Every sheet is marked NOT CLEARED. Cut nothing from them."


def plan_lines(front: Front, order: Order) -> Iterator[str]:
    """Yield how much paper an order takes before it is drawn: of which kind how much, and what for."""
    from facade.paper import pack_of, whole_pack

    pack = pack_of(front, order)
    yield whole_pack(front, order, pack)
    yield from _planned(front, order, pack)
    yield from _kinds_of_sheets(pack)
    yield ""


def pack_lines(front: Front, order: Order, pack: Pack) -> Iterator[str]:
    """Yield how much paper the pack of a build takes before it is drawn, and which sheets are left out."""
    from facade.paper import count_words

    yield f"Paper: {count_words(pack)}."
    yield from _planned(front, order, pack)
    yield ""


def _planned(front: Front, order: Order, pack: Pack) -> Iterator[str]:
    """Yield how much of the paper is used, which way of work it is for, how another is chosen, and which doors it is of."""
    from facade.paper import door_words, use_words
    from facade.templates.ways import other_ways, way_in_words

    yield from _wrapped(use_words(pack), "", "")
    words = f"Way of work: {way_in_words(front.job)}. Sheets of other ways are left out; for these: {other_ways(front.job)}."
    yield from _wrapped(words, "", "")
    yield from _wrapped(door_words(front, order), "", "")


def _kinds_of_sheets(pack: Pack) -> Iterator[str]:
    """Yield a line for each kind of sheet: how many, their numbers, their title, what they are for."""
    from facade.templates.pack import TEMPLATES

    yield ""
    for kind, template in TEMPLATES.items():
        numbers = [sheet.number for sheet in pack.sheets if sheet.kind is kind]
        if numbers:
            run = f"sheet {numbers[0]}" if len(numbers) == 1 else f"{numbers[0]} to {numbers[-1]}"
            yield from _wrapped(f"{len(numbers):>4}  {run:<12} {template.title}: {template.purpose}", "", " " * 19)


def part_lines(front: Front, folder: Path, pack: Pack, sheets: int, seconds: float) -> Iterator[str]:
    """Yield where some sheets are that were printed alone."""
    from facade.drawing import printable

    yield f"{printable(front.job.title)}, mark {front.mark}: {count_of(sheets, 'sheet')}, print {folder / 'paper.pdf'} at 100 %"
    yield from _kinds_of_sheets(pack) if sheets == len(pack.sheets) else ()
    if pack.cleared is None:
        yield "The checks were not asked for this print, and its sheets say so: facade build, or facade check, asks them."
    elif not pack.cleared:
        yield "The checks stop this job: the sheets are marked NOT CLEARED. Cut nothing from them."
    yield f"In {seconds:.1f} s; the same as SVG in {folder / 'paper'}"


def cnc_lines(front: Front, build: Build, order: CncOrder, seconds: float) -> Iterator[str]:
    """Yield what files there are for a machine, what each is for, how long they run, and what to look at first."""
    from facade.cnc.notes import route_lines
    from facade.drawing import printable

    folder = build.folder / order.folder
    files = [file for file in build.files if file.name.startswith(f"{order.folder}/")]
    yield f"{printable(front.job.title)}, mark {build.mark}: {count_of(len(files), 'file')} in {folder}"
    yield ""
    for ending, purpose in _kinds_of_files(
        [(file.name.removeprefix(f"{order.folder}/"), file.purpose) for file in files]
    ):
        yield from _wrapped(f"{ending:<{_NAME}} {purpose}", "  ", " " * (_NAME + 3))
    yield ""
    for line in route_lines(front, order):
        yield from _wrapped(line, "", "  ")
    size = size_of(sum(file.size for file in files))
    yield f"{size} in {seconds:.1f} s. Have them proved before wood is cut: facade proof {shlex.quote(str(build.folder))}"
    yield ""
    yield from _wrapped(f"Can it be made? {verdict(build.findings)}", "", "")
    if stops(build.findings):
        yield "Every file for the machine says NOT CLEARED. Cut nothing from them."


_ENDING = re.compile(r"(_\d-[a-z]+|_plan|_heights)?(_mm|_inch)?\.\w+$")


def _kinds_of_files(files: Sequence[tuple[str, str]]) -> Iterator[tuple[str, str]]:
    """Yield each purpose once, with the name of its file, or with how many there are of what ending."""
    purposes: dict[str, list[str]] = {}
    for name, purpose in files:
        purposes.setdefault(purpose, []).append(name)
    for purpose, names in sorted(purposes.items(), key=lambda item: item[1][0]):
        folder, ending = names[0].rpartition("/")[:2], _ENDING.search(names[0])
        alone = len(names) == 1 and len(names[0]) < _NAME
        yield (names[0] if alone or not ending else f"{len(names)} {''.join(folder)}*{ending[0]}"), purpose


def option_lines(found: Options, written: Sequence[Path], job: Path, seconds: float) -> Iterator[str]:
    """Yield what options there are, what each is, and how one is taken."""
    from facade.options.telling import figure_lines, tried_text, value_lines, verdict_line

    yield f"{tried_text(found)}:"
    for option in found.options:
        yield ""
        yield f"{option.letter}  mark {option.shown.tried.mark}: {verdict_line(option)}"
        yield from _wrapped("; ".join(figure_lines(option)), "   ", "   ")
        yield from _wrapped("; ".join(value_lines(option)), "   ", "   ")
    yield ""
    for path in written:
        yield f"Wrote {path}"
    taken = f"facade options {shlex.quote(str(job))} --take {found.options[-1].letter}"
    yield f"In {seconds:.1f} s. Look at {written[0]}, then take one: {taken}"


def printer_lines(known: Iterable[Printer]) -> Iterator[str]:
    """Yield the printers that were measured, and how to measure one."""
    found = list(known)
    for one in found:
        yield f"{one.name}: {one.paper}, margins {one.margins.sides:g} mm at the sides, {one.margins.ends:g} mm at the ends"
        yield f"  {one.correction.words}"
    if not found:
        yield "No printer was measured yet. Print the calibration sheet at 100 %, measure its lines with a steel rule, and type:"
        yield '  facade printer "hall printer" --paper A4 --short 179.6 --long 250.8'


def relaxed_lines(relaxed: Relaxed, written: Sequence[Path], *, looks: bool = False) -> Iterator[str]:
    """Yield what was changed to clear a job, how far its surface moved, what is left, and which bounds stood in the way.

    `looks` says that what is to be looked at was to be cleared too.
    """
    from facade.drawing import printable

    show, moved = relaxed.before.job.ruler, relaxed.moved
    title = printable(relaxed.before.job.title)
    nothing = "nothing stops it, and nothing is to be looked at" if looks else "nothing stops it"
    if not relaxed.changes and not relaxed.left:
        yield f"{title}, mark {relaxed.before.mark}: {nothing}, so nothing was changed or written."
        return
    if relaxed.changes:
        yield f"{title}: from mark {relaxed.before.mark} to {relaxed.after.mark}"
        yield from (line for change in relaxed.changes for line in _wrapped(f"- {change}", "  ", "    "))
        yield (
            f"The surface moved {show.fine(moved.most)} at most (strip {moved.strip}, {show.text(moved.from_top)} from the top), "
            f"{show.fine(moved.mean)} on average."
        )
        yield f"Wrote {' and '.join(map(str, written))}."
    if not relaxed.left:
        now = "stops it now, or wants a look" if looks else "stops it now"
        yield f"Nothing that was checked {now}. Look at the picture, then check and build the new job file."
        return
    within = "within the bounds of the job's table [relax]"
    yield from _wrapped(
        f"No change of the relief {within} clears the following{'' if relaxed.changes else '; nothing was written'}:",
        "",
        "",
    )
    yield from finding_lines(relaxed.left, relaxed.before.job.ruler)
    yield ""
    yield "What stood in the way:"
    for reason in dict.fromkeys(one.reason for one in relaxed.refused):
        of = [
            f"{one.check} ({one.topic})" if one.topic else one.check for one in relaxed.refused if one.reason == reason
        ]
        yield from _wrapped(f"- {', '.join(dict.fromkeys(of))}: {reason}", "  ", "    ")
