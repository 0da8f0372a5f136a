"""Machine code for the fixtures of an order: what each file is called, says in its head and holds; how long it takes."""

from __future__ import annotations

import csv
import io
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from enum import StrEnum
from functools import cached_property, partial

import numpy as np

from facade.arrays import Array
from facade.cnc.code import as_written, machine_code
from facade.cnc.cutting import chip_load, cutting_speed, effective_diameter
from facade.cnc.drop import BallEnd, FlatEnd, Tool
from facade.cnc.duration import total_time
from facade.cnc.finishing import clear_height, finishing, finishing_ground
from facade.cnc.fixture import Fixture, file_stem, fixtures
from facade.cnc.ground import Ground
from facade.cnc.moves import Moves, moved
from facade.cnc.order import Order
from facade.cnc.roughing import roughing, roughing_ground
from facade.cnc.screwing import near_screws
from facade.front import Front
from facade.job import Finishing, Roughing
from facade.lengths import MM_PER_INCH, Ruler, Unit

# The folder of machine code in that of the route.
PROGRAMS = "programs"
CODE = ".ngc"
TIMES = "times.csv"
_PURPOSES = {
    "1-rough": "machine code: takes the waste off in levels with a straight cutter; run it first",
    "2-finish": "machine code: carves the face along the strips with a ball-ended cutter",
}


class Stage(StrEnum):
    """The two cuts of a fixture, as they are called in names of files."""

    ROUGH = "1-rough"
    FINISH = "2-finish"


@dataclass(frozen=True)
class Program:
    """One file of machine code before it is written: its cutter's way from the corner of the spoilboard, and the greatest ridge to be
    expected, mm (0 for roughing)."""

    fixture: Fixture
    stage: Stage
    moves: Moves
    scallop: float

    @property
    def plan(self) -> Roughing | Finishing:
        """Its cutter and speeds."""
        return plan_of(self.fixture.front, self.stage)

    @cached_property
    def seconds(self) -> float:
        """How long it takes."""
        return total_time(self.moves, self.fixture.front.job.machine, self.plan.speeds)

    @property
    def name(self) -> str:
        """The file's name in the folder of the route."""
        return code_name(self.fixture, self.stage)


@dataclass(frozen=True)
class Written:
    """A file of machine code, its line of the table of times, its seconds, how far its cutter reaches below the blanks' top, mm, and
    the greatest ridge that is to be expected.

    `near` (places, lengths) is how far it stays from the fixture's screws.
    """

    name: str
    text: str
    row: list[str]
    seconds: float
    fixture: int
    stage: Stage
    deep: float
    ridge: float
    near: Array


def plan_of(front: Front, stage: Stage) -> Roughing | Finishing:
    """Return the cutter and speeds of a cut."""
    machine = front.job.machine
    return machine.roughing if stage is Stage.ROUGH else machine.finishing


def tool_of(front: Front, stage: Stage) -> Tool:
    """Return the cutter of a cut."""
    machine = front.job.machine
    return FlatEnd(machine.roughing.cutter / 2) if stage is Stage.ROUGH else BallEnd(machine.finishing.radius)


def code_name(fixture: Fixture, stage: Stage) -> str:
    """Return the name of a file of machine code in the folder of the route, its unit in it."""
    return f"{PROGRAMS}/{file_stem(fixture, stage.value)}{CODE}"


def code_names(front: Front, order: Order) -> list[str]:
    """Return the names of all files of machine code of an order, and of the table of their times."""
    return [*(code_name(fixture, stage) for fixture in fixtures(front, order) for stage in Stage), TIMES]


def code_file(one: Written) -> tuple[str, bytes, str]:
    """Return a file of machine code: its name, its bytes, what it is for."""
    return one.name, one.text.encode("ascii"), _PURPOSES[one.stage.value]


def times_file(front: Front, made: Sequence[Written]) -> tuple[str, bytes, str]:
    """Return the table of the times of all files of machine code: its name, its bytes, what it is for."""
    total = minutes(sum(one.seconds for one in made))
    return (
        TIMES,
        _times(front, made).encode("utf-8"),
        f"how long each file runs, about {total} in all; cutters and extents",
    )


def written(fixture: Fixture, stage: Stage, *, cleared: bool, ground: Ground | None = None) -> Written:
    """Return the file of machine code of one cut of a fixture; `ground` as in `program`.

    Raises JobError when a step is wider than its cutter.
    """
    one = program(fixture, stage, ground)
    job, plan = one.fixture.front.job, one.plan
    text = machine_code(
        one.moves,
        _head(one, cleared=cleared),
        unit=job.machine_unit,
        words=job.machine.words,
        speeds=plan.speeds,
    )
    tool = tool_of(fixture.front, stage)
    deep = fixture.blank - float(one.moves.extent[0, 2]) if len(one.moves.places) > 1 else 0.0
    near = near_screws(fixture, one.moves, tool)
    return Written(one.name, text, _row(one), one.seconds, fixture.number, stage, deep, one.scallop, near)


def program(fixture: Fixture, stage: Stage, ground: Ground | None = None) -> Program:
    """Return the cutter's way of one cut of a fixture; `ground` is what the finishing ball finds, where it is known."""
    if stage is Stage.FINISH:
        cut = finishing(fixture, finishing_ground(fixture) if ground is None else ground)
        return Program(fixture, stage, _written_way(fixture, cut.moves), cut.scallop)
    moves = roughing(fixture, roughing_ground(fixture)) or _standing(fixture)
    return Program(fixture, stage, _written_way(fixture, moves), 0.0)


def _written_way(fixture: Fixture, moves: Moves) -> Moves:
    """Return moves from the corner of the spoilboard, as they are written: all that is told of a file is told of these."""
    return as_written(moved(moves, *fixture.first_strip), fixture.front.job.machine_unit)


def _standing(fixture: Fixture) -> Moves:
    """Return the way of a cutter that has nothing to do."""
    return Moves(np.array([[0.0, 0.0, clear_height(fixture)]]), np.zeros(1, dtype=np.uint8))


def _head(one: Program, *, cleared: bool) -> Iterator[str]:
    """Yield what stands at the head of a file, a comment each."""
    if not cleared:
        yield "NOT CLEARED: the checks stop this front. Cut nothing from this file."
    fixture, front = one.fixture, one.fixture.front
    job, unit = front.job, front.job.machine_unit
    show = partial(Ruler(unit, job.fraction).text, decimals=3)
    first, last = fixture.numbers[0], fixture.numbers[-1]
    yield f"{job.title[:120]}, mark {front.mark}"
    yield f"Fixture {fixture.number}, door {fixture.door}, strips {first} to {last}: {_stage_in_words(one)}"
    yield f"All lengths in {'mm' if unit is Unit.MM else 'inches'}."
    yield "Zero: lower left machined corner of the spoilboard. Z0 is its skimmed top, the back of the strips."
    yield f"Strip {first} lies with its lower left corner at X {show(fixture.first_strip[0])}, Y {show(fixture.first_strip[1])}."
    yield "X runs across the strips to the right, Y along them to their TOP ends, Z out of the face."
    yield (
        f"Stock: blanks {show(fixture.blank)} thick, {show(fixture.length)} long; waste of {show(fixture.waste)} beyond both ends; "
        f"spacers {show(fixture.spacer)} wide."
    )
    yield f"Nothing beside the strips may stand higher than {show(fixture.low)} where the cutter goes."
    yield from _cutter(one)
    yield from _extent(one)
    yield f"Time: about {minutes(one.seconds)}, from its moves, with {job.machine.acceleration:g} mm/s2 of acceleration."
    yield "Check first: zero, stock, clamps. Run it in the air first. Stay by the machine. Eye, ear and dust protection."
    yield "Local rules, the manuals of machine and cutter, and trained practice come first."


def _stage_in_words(one: Program) -> str:
    if one.stage is Stage.FINISH:
        return "finishing with a ball, after roughing"
    return "roughing in levels" if len(one.moves.places) > 1 else "roughing, but there is nothing to take off"


def _cutter(one: Program) -> Iterator[str]:
    """Yield what is said of the cutter, its speeds and what it leaves."""
    job, plan = one.fixture.front.job, one.plan
    unit = job.machine_unit
    ruler = Ruler(unit, job.fraction)
    tooth = chip_load(plan.feed, plan.spindle, plan.flutes)
    if isinstance(plan, Finishing):
        kind = f"ball-ended, radius {ruler.text(plan.radius, 3)}"
    else:
        kind = f"straight, diameter {ruler.text(plan.cutter, 3)}"
    reach = ruler.text(one.fixture.blank - float(one.moves.extent[0, 2]), 2) if len(one.moves.places) > 1 else ""
    yield f"Cutter: {kind}, {plan.flutes} edges" + (f"; it must reach {reach} below its holder." if reach else ".")
    yield (
        f"Spindle {plan.spindle:.0f} turns a minute, feed {speed(plan.feed, unit)}, {speed(plan.plunge, unit)} on the way in."
    )
    yield (
        f"Chip load = feed / [turns x edges] = {_fine(tooth, unit)} a tooth. Starting points of our own: the papers of machine "
        "and cutter decide."
    )
    if isinstance(plan, Finishing):
        wide = effective_diameter(2 * plan.radius, job.machine.roughing.leave)
        yield (
            f"At the depth that roughing leaves the ball cuts {_fine(wide, unit)} wide: its edge runs at "
            f"{_edge_speed(cutting_speed(wide, plan.spindle), unit)} there."
        )
        yield (
            f"Ridges between passes: at most {_fine(one.scallop, unit)} expected. Left on for sanding: "
            f"{ruler.text(job.machine.leave, 3)}."
        )
    else:
        left = ruler.text(job.machine.leave + plan.leave, 3)
        yield f"Left on above the finished face: {left}. Levels of at most {ruler.text(plan.level, 3)}."


def _extent(one: Program) -> Iterator[str]:
    if len(one.moves.places) < 2:
        return
    unit = one.fixture.front.job.machine_unit
    low, high = one.moves.extent.tolist()
    parts = (f"{axis} {_plain(a, unit)} to {_plain(b, unit)}" for axis, a, b in zip("XYZ", low, high, strict=True))
    yield f"Extent of the cutter's tip at its feeds: {', '.join(parts)}."


def _plain(mm: float, unit: Unit) -> str:
    return f"{mm / unit.in_mm:.{2 if unit is Unit.MM else 3}f}"


def _fine(mm: float, unit: Unit) -> str:
    """Return a length that a fraction of an inch would not show."""
    return f"{mm:.3f} mm" if unit is Unit.MM else f"{mm / MM_PER_INCH:.5f} in"


def speed(feed: float, unit: Unit) -> str:
    """Return a feed in the unit's words."""
    return f"{feed:.0f} mm/min" if unit is Unit.MM else f"{feed / MM_PER_INCH:.1f} in/min"


def _edge_speed(metres: float, unit: Unit) -> str:
    return f"{metres:.0f} m/min" if unit is Unit.MM else f"{metres / 0.3048:.0f} ft/min"


def minutes(seconds: float) -> str:
    """Return a time in words: "45 min", "1 h 25 min"."""
    hours, rest = divmod(max(1, round(seconds / 60)), 60)
    return f"{hours} h {rest:02d} min" if hours else f"{rest} min"


def _row(one: Program) -> list[str]:
    job = one.fixture.front.job
    low, high = one.moves.extent.tolist() if len(one.moves.places) > 1 else ([0.0] * 3, [0.0] * 3)
    sizes = [_plain(value, job.machine_unit) for pair in zip(low, high, strict=True) for value in pair]
    first, last = one.fixture.numbers[0], one.fixture.numbers[-1]
    plan = one.plan
    size = plan.radius * 2 if isinstance(plan, Finishing) else plan.cutter
    cutter = f"{'ball' if isinstance(plan, Finishing) else 'straight'} {_plain(size, job.machine_unit)}"
    shown = [str(one.fixture.number), str(one.fixture.door), str(first), str(last), one.name, cutter]
    return [*shown, str(len(one.moves.places)), f"{one.seconds / 60:.1f}", *sizes]


def _times(front: Front, made: Sequence[Written]) -> str:
    """Return the table of all files in the order in which they are run, fixture by fixture, with their sum."""
    unit = front.job.machine_unit.value
    head = ["fixture", "door", "first strip", "last strip", "file", f"cutter {unit}", "moves", "minutes"]
    head += [f"{axis} {end} {unit}" for axis in "xyz" for end in ("from", "to")]
    text = io.StringIO()
    writer = csv.writer(text, lineterminator="\n")
    writer.writerow(head)
    writer.writerows(one.row for one in sorted(made, key=lambda one: one.name))
    total = sum(one.seconds for one in made)
    writer.writerow(["", "", "", "", "all", "", "", f"{total / 60:.1f}", *[""] * 6])
    return text.getvalue()
