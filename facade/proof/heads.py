"""Heads of machine code: every line said anew from job, layout and the moves that were read, word by word and number by number."""

from __future__ import annotations

import math
import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from facade.drawing import printable
from facade.job import Finishing
from facade.lengths import MM_PER_INCH, Ruler, Unit
from facade.proof.laid import Laid, file_unit, ordered
from facade.proof.programs import Program
from facade.proof.reckoning import seconds_of
from facade.proof.truth import Truth

# Comments hold no brackets, and no semicolon, at which some readers stop.
_PLAIN = str.maketrans("();", "[],")
_TITLE = 120  # letters of a title at most
_NUMBER = re.compile(r"-?\d+(?: \d+/\d+|/\d+|\.\d+)?")
_MINUTES = re.compile(r"about (?:(\d+) h )?(\d+) min")


@dataclass(frozen=True)
class Ridges:
    """Ridges between passes, mm: as they are to be expected, as they are at least, and the highest that may be expected.

    Where the job asks for a step, how high they are to be expected hangs on how finely the strips' bends are read: from the ridges that
    the cut leaves to those in the tightest hollows that count, all is true.
    """

    expected: float = 0.0
    least: float = 0.0
    highest: float = 0.0


def head_faults(truth: Truth, laid: Laid, plan: object, program: Program, ridges: Ridges) -> Iterator[str]:
    """Yield which lines of a head are missing, or say other than they should.

    Places and minutes are printed rounded: they may be off by one of their last decimals, as what was rounded was before.
    """
    wanted = [_comment(line) for line in _lines(truth, laid, plan, program, ridges.expected)]
    stepped = isinstance(plan, Finishing) and plan.step is not None
    unit = truth.front.job.machine_unit.in_mm
    between = (ridges.least / unit, ridges.highest / unit) if stepped else None
    for index, should in enumerate(wanted):
        said = program.head[index] if index < len(program.head) else ""
        if said != should and not _alike(said, should, between):
            yield (
                f"its head says {_short(said)!r}, not {_short(should)!r}"
                if said
                else f"its head does not say {_short(should)!r}"
            )
            return
    if len(program.head) > len(wanted):
        yield f"its head says besides: {_short(program.head[len(wanted)])!r}"


def _comment(text: str) -> str:
    return printable(text).encode("ascii", "replace").decode().translate(_PLAIN)


def _short(text: str) -> str:
    return text if len(text) <= 90 else f"{text[:87]}..."


def _alike(said: str, should: str, between: tuple[float, float] | None) -> bool:
    """Return whether two lines differ in rounding alone: those with places of the cutter's tip, and the one with its minutes.

    Ridges that are foretold may be anything `between` two heights, in the program's unit, where these are given.
    """
    if _NUMBER.sub("#", said) != _NUMBER.sub("#", should):
        return False
    if said.startswith("Time"):
        rest = [_MINUTES.sub("", line) for line in (said, should)]
        return rest[0] == rest[1] and abs(_minutes(said) - _minutes(should)) <= 1
    if said.startswith("Ridges"):
        return between is not None and _between(said, should, *between)
    if not said.startswith(("Extent", "Cutter")):
        return False
    return all(map(_near, _NUMBER.findall(said), _NUMBER.findall(should)))


def _between(said: str, should: str, least: float, highest: float) -> bool:
    """Return whether a line foretells ridges between two heights, and says for the rest what it should."""
    (high, *others), (_, *rest) = _NUMBER.findall(said), _NUMBER.findall(should)
    decimal = 10.0 ** -len(high.partition(".")[2])
    return others == rest and least - decimal <= float(high) <= highest + decimal


def _near(one: str, other: str) -> bool:
    if one == other:
        return True
    decimals = [len(text.partition(".")[2]) for text in (one, other)]
    return (
        " " not in one + other
        and "/" not in one + other
        and abs(float(one) - float(other)) < 1.01 * 10.0 ** -max(*decimals, 2)
    )


def _minutes(line: str) -> int:
    found = _MINUTES.search(line)
    return 60 * int(found[1] or 0) + int(found[2]) if found else -1


def _lines(truth: Truth, laid: Laid, plan: object, program: Program, ridges: float) -> Iterator[str]:
    """Yield what a head should say, line by line."""
    job, unit = truth.front.job, file_unit(truth.front)
    ruler, numbers = Ruler(unit, job.fraction), laid.numbers
    if not ordered(truth).cleared:
        yield "NOT CLEARED: the checks stop this front. Cut nothing from this file."
    yield f"{job.title[:_TITLE]}, mark {truth.front.mark}"
    does = "roughing in levels" if len(program.places) > 1 else "roughing, but there is nothing to take off"
    if isinstance(plan, Finishing):
        does = "finishing with a ball, after roughing"
    yield f"Fixture {laid.number}, door {laid.places[0].door}, strips {numbers[0]} to {numbers[-1]}: {does}"
    yield f"All lengths in {'mm' if unit is Unit.MM else 'inches'}."
    yield "Zero: lower left machined corner of the spoilboard. Z0 is its skimmed top, the back of the strips."
    across, along = (ruler.text(place, 3) for place in job.first_strip)
    yield f"Strip {numbers[0]} lies with its lower left corner at X {across}, Y {along}."
    yield "X runs across the strips to the right, Y along them to their TOP ends, Z out of the face."
    thick, long, waste, spacer = (
        ruler.text(size, 3) for size in (laid.blank, laid.length, job.machine.waste, laid.spacer)
    )
    yield f"Stock: blanks {thick} thick, {long} long; waste of {waste} beyond both ends; spacers {spacer} wide."
    yield f"Nothing beside the strips may stand higher than {ruler.text(laid.low, 3)} where the cutter goes."
    yield from _cutter(truth, laid, plan, program, ridges)
    low, high = _extent(program)
    if len(low):
        pairs = (f"{axis} {_tip(a, unit)} to {_tip(b, unit)}" for axis, a, b in zip("XYZ", low, high, strict=True))
        yield f"Extent of the cutter's tip at its feeds: {', '.join(pairs)}."
    seconds = seconds_of(program, job.machine)
    yield f"Time: about {in_minutes(seconds)}, from its moves, with {job.machine.acceleration:g} mm/s2 of acceleration."
    yield "Check first: zero, stock, clamps. Run it in the air first. Stay by the machine. Eye, ear and dust protection."
    yield "Local rules, the manuals of machine and cutter, and trained practice come first."


def _extent(program: Program) -> tuple[Sequence[float], Sequence[float]]:
    extent = program.extent
    return ([], []) if extent is None else (extent[0].tolist(), extent[1].tolist())


def _tip(mm: float, unit: Unit) -> str:
    return f"{mm / unit.in_mm:.{2 if unit is Unit.MM else 3}f}"


def in_minutes(seconds: float) -> str:
    """Return a time in words: "45 min", "1 h 25 min"."""
    whole = max(1, round(seconds / 60))
    return f"{whole // 60} h {whole % 60:02d} min" if whole >= 60 else f"{whole} min"


def _cutter(truth: Truth, laid: Laid, plan: object, program: Program, ridges: float) -> Iterator[str]:
    """Yield what is said of the cutter and its speeds.

    A chip is the feed by the turns and the edges; a ball that is a deep cuts 2 sqrt(a (D - a)) wide, and its edge runs at pi D n there
    (standard milling formulas; plane geometry).
    """
    machine, unit = truth.front.job.machine, file_unit(truth.front)
    ruler = Ruler(unit, truth.front.job.fraction)
    ball = isinstance(plan, Finishing)
    cut = machine.finishing if ball else machine.roughing
    speeds = cut.speeds
    kind = (
        f"ball-ended, radius {ruler.text(machine.finishing.radius, 3)}"
        if ball
        else f"straight, diameter {ruler.text(machine.roughing.cutter, 3)}"
    )
    low, _ = _extent(program)
    reach = f"; it must reach {ruler.text(laid.blank - low[2], 2)} below its holder." if len(low) else "."
    yield f"Cutter: {kind}, {cut.flutes} edges{reach}"
    feed, plunge = feed_words(speeds.feed, unit), feed_words(speeds.plunge, unit)
    yield f"Spindle {speeds.spindle:.0f} turns a minute, feed {feed}, {plunge} on the way in."
    chip = _fine(speeds.feed / (speeds.spindle * cut.flutes), unit)
    yield f"Chip load = feed / [turns x edges] = {chip} a tooth. Starting points of our own: the papers of machine and cutter decide."
    left = ruler.text(machine.leave, 3)
    if not ball:
        stays = ruler.text(machine.leave + machine.roughing.leave, 3)
        yield f"Left on above the finished face: {stays}. Levels of at most {ruler.text(machine.roughing.level, 3)}."
        return
    around = 2.0 * machine.finishing.radius
    deep = min(machine.roughing.leave, around / 2.0)
    wide = 2.0 * math.sqrt(deep * (around - deep))
    runs = math.pi * wide * speeds.spindle / 1000.0
    yield (
        f"At the depth that roughing leaves the ball cuts {_fine(wide, unit)} wide: its edge runs at "
        f"{f'{runs:.0f} m/min' if unit is Unit.MM else f'{runs / 0.3048:.0f} ft/min'} there."
    )
    yield f"Ridges between passes: at most {_fine(ridges, unit)} expected. Left on for sanding: {left}."


def feed_words(feed: float, unit: Unit) -> str:
    """Return a feed in words of the unit."""
    return f"{feed:.0f} mm/min" if unit is Unit.MM else f"{feed / MM_PER_INCH:.1f} in/min"


def _fine(mm: float, unit: Unit) -> str:
    return f"{mm:.3f} mm" if unit is Unit.MM else f"{mm / MM_PER_INCH:.5f} in"
