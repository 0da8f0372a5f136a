"""Machine code: held to its words, to the speeds, heights and places of the job, then run on blanks in the computer."""

from __future__ import annotations

from collections.abc import Iterator
from enum import StrEnum
from pathlib import Path, PurePosixPath

import numpy as np
from numpy.typing import NDArray

from facade.arrays import Array
from facade.job import Finishing, Roughing
from facade.lengths import Unit
from facade.proof.carved import RIDGES, Carved, carved, foretold, highest_foretold
from facade.proof.compared import Compared
from facade.proof.face_words import times_row
from facade.proof.heads import Ridges, head_faults
from facade.proof.laid import Laid, file_unit, laid_for, unit_word
from facade.proof.programs import Program, read_program
from facade.proof.readers import reader
from facade.proof.roughed import Roughed, roughed
from facade.proof.truth import Truth

_HAIR = 0.001  # mm; less than this is rounding
# The cutter's rim comes so far clear of the wood before it turns, and the last of the way down above the blanks goes at a feed, mm.
_OUTSIDE = 1.0
_ON_GRID = 1.0 + _HAIR  # mm that a way may run further, to a place of its grid


class Stage(StrEnum):
    """The two cuts of a fixture, as they are called in names of files."""

    ROUGH = "1-rough"
    FINISH = "2-finish"


@reader("cnc-face/programs/*.ngc")
def compare_code(path: Path, name: str, truth: Truth) -> list[Compared]:
    """Hold a fixture's machine code to its words and to the job, and run it on the fixture's blanks."""
    laid, stage = laid_for(name, truth), _stage(name)
    if PurePosixPath(name).name != f"{laid.name}_{stage.value}_{unit_word(truth.front)}.ngc":
        raise KeyError("no machine code of this front is called so")
    text = path.read_bytes().decode("ascii")
    program = read_program(text, file_unit(truth.front), truth.front.job.machine.words)
    faults = [*truth.mark_faults("\n".join(program.head)), *program.faults]
    if not len(program.places):
        return [Compared(name, _WHAT[stage], faults=tuple(faults), failed=tuple(laid.numbers))]
    faults += _speed_faults(truth, stage, program)
    faults += _way_faults(truth, laid, stage, program)
    return [
        *times_row(truth, laid, plan_of(truth, stage), name, program),
        _run(truth, laid, stage, name, program, faults),
    ]


_WHAT = {
    Stage.ROUGH: (
        "its words, head, speeds, heights and places with the job; run on the blanks: nothing cut that is wanted, no more than a level "
        "in a move, nothing left out"
    ),
    Stage.FINISH: "its words, head, speeds, heights and places with the job; run on the blanks: depth, height of the ridges",
}


def _stage(name: str) -> Stage:
    for stage in Stage:
        if f"_{stage.value}_" in name:
            return stage
    raise KeyError("no cut of a fixture is called so")


def _run(truth: Truth, laid: Laid, stage: Stage, name: str, program: Program, faults: list[str]) -> Compared:
    ridges = Ridges()
    cut: Roughed | Carved
    if stage is Stage.ROUGH:
        cut = roughed(truth, laid, program)
    else:
        expected = foretold(laid)
        cut = carved(truth, laid, program, expected)
        ridges = Ridges(expected, cut.ridge - RIDGES, highest_foretold(laid))
    told = [*faults, *cut.faults]
    # A head is reckoned from the moves: where these are wrong there is one fault to tell.
    told = told or list(head_faults(truth, laid, plan_of(truth, stage), program, ridges))
    return Compared(
        name,
        _WHAT[stage],
        points=cut.points,
        deviation=cut.deviation,
        allowed=cut.allowed,
        least=cut.least,
        faults=tuple(told),
        note=cut.note(truth),
        along=cut.along,
        failed=cut.failed or tuple(laid.numbers) if told else (),
    )


def plan_of(truth: Truth, stage: Stage) -> Roughing | Finishing:
    """Return the cutter and speeds that the job has for a cut."""
    machine = truth.front.job.machine
    return machine.roughing if stage is Stage.ROUGH else machine.finishing


def cutter_radius(truth: Truth, stage: Stage) -> float:
    """Return the radius of a cut's cutter, mm."""
    machine = truth.front.job.machine
    return machine.roughing.cutter / 2 if stage is Stage.ROUGH else machine.finishing.radius


def clear_height(laid: Laid) -> float:
    """Return the height at which the cutter travels, mm."""
    return laid.blank + laid.front.job.machine.clear


def _speed_faults(truth: Truth, stage: Stage, program: Program) -> Iterator[str]:
    """Yield what is wrong with turns and feeds: straight down at the plunge feed, all else at the feed of the cut."""
    speeds, unit = plan_of(truth, stage).speeds, file_unit(truth.front)
    if program.spindle != round(speeds.spindle):
        yield f"turns its spindle {program.spindle:.0f} times a minute, not {speeds.spindle:.0f}"
    down = _straight(program) & (program.places[1:, 2] < program.places[:-1, 2])
    # A feed has one decimal.
    near = 0.05 * unit.in_mm + 1e-6
    for some, wanted, does in ((down, speeds.plunge, "comes down"), (~down, speeds.feed, "cuts")):
        wrong = program.cuts & some & (np.abs(program.feeds - wanted) > near)
        if wrong.any():
            first = int(wrong.argmax())
            said, should = (f"{feed / unit.in_mm:.1f}" for feed in (float(program.feeds[first]), wanted))
            yield f"{does} at F{said}, not F{should}, in its line {int(program.lines[first + 1])}"


def _straight(program: Program) -> NDArray[np.bool_]:
    """Return which moves go straight up or down."""
    return np.asarray(np.abs(np.diff(program.places[:, :2], axis=0)).max(axis=1) < _HAIR / 10)


def _way_faults(truth: Truth, laid: Laid, stage: Stage, program: Program) -> Iterator[str]:
    """Yield what is wrong with the way itself: how it travels, begins and ends, places beside the fixture, below what may stand there."""
    yield from _travel_faults(truth, laid, program)
    places, radius = program.places, cutter_radius(truth, stage)
    start, end = places[:-1], places[1:]
    machine = truth.front.job.machine
    cut = np.concatenate([start[program.cuts], end[program.cuts]])
    over = machine.waste + radius + _OUTSIDE + _ON_GRID
    beside = 2.0 * machine.finishing.radius + radius
    out = _outside(cut, (laid.left - beside, laid.right + beside), (laid.bottom - over, laid.top + over))
    if out.any():
        yield f"goes beside the fixture, to {_place(truth, cut[int(out.argmax())])}"
    deep = places[:, 2] < laid.low - _HAIR
    if deep.any():
        yield f"goes lower than {truth.length(laid.low)}, where spacers and battens are, at {_place(truth, places[int(deep.argmax())])}"
    if machine.bed is not None:
        wide = np.ptp(places[:, :2], axis=0)
        if (wide > np.array(machine.bed) + _HAIR).any():
            yield f"goes over {truth.length(float(wide[0]))} by {truth.length(float(wide[1]))}, more than the machine's bed"


def _outside(places: Array, across: tuple[float, float], along: tuple[float, float]) -> NDArray[np.bool_]:
    low, high = np.array([across[0], along[0]]), np.array([across[1], along[1]])
    return np.asarray(((places[:, :2] < low) | (places[:, :2] > high)).any(axis=1))


def _travel_faults(truth: Truth, laid: Laid, program: Program) -> Iterator[str]:
    """Yield what is wrong with rapids: they go across at the clear height alone, and down no further than just above the blanks."""
    places, clear = program.places, clear_height(laid)
    start, end = places[:-1], places[1:]
    straight, low = _straight(program), np.minimum(start[:, 2], end[:, 2])
    through = program.rapid & (low < laid.blank - _HAIR) & ~(straight & (end[:, 2] >= start[:, 2]))
    if through.any():
        yield f"goes through wood in a rapid, or down into it, to {_place(truth, end[int(through.argmax())])}"
        return
    across = program.rapid & ~straight & (low < clear - _HAIR)
    if across.any():
        yield f"travels lower than {_height(truth, clear)}, to {_place(truth, end[int(across.argmax())])}"
    near = program.rapid & straight & (end[:, 2] < laid.blank + _OUTSIDE - _HAIR)
    if near.any():
        yield f"comes down in a rapid to {_place(truth, end[int(near.argmax())])}, {_height(truth, laid.blank)} are the blanks"
    for which, place in (("begins", places[0]), ("ends", places[-1])):
        if abs(float(place[2]) - clear) > _HAIR:
            yield f"{which} at {_place(truth, place)}, not at {_height(truth, clear)}"
    high = places[:, 2] > clear + _HAIR
    if high.any():
        yield f"rises to {_place(truth, places[int(high.argmax())])}, higher than {_height(truth, clear)}"


def _height(truth: Truth, z: float) -> str:
    unit = file_unit(truth.front)
    return f"Z{z / unit.in_mm:.{2 if unit is Unit.MM else 3}f}"


def _place(truth: Truth, place: Array) -> str:
    unit = file_unit(truth.front)
    x, y, z = (place / unit.in_mm).tolist()
    decimals = 2 if unit is Unit.MM else 3
    return f"X{x:.{decimals}f} Y{y:.{decimals}f} Z{z:.{decimals}f}"
