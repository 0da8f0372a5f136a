"""Machine code, read by gcodeparser: held to the standard's rules, then run on blanks in the computer."""

from __future__ import annotations

import math
import re
from collections.abc import Iterator
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from facade.arrays import Array
from facade.closing import Ball, closing
from facade.cnc.code import LONGEST_LINE
from facade.cnc.drop import Tool
from facade.cnc.finishing import finishing_ground
from facade.cnc.fixture import Fixture, fixtures
from facade.cnc.machining import Stage, code_name, tool_of
from facade.cnc.order import Order, Route
from facade.cnc.passes import bend_between, scallop
from facade.cnc.sweep import Stock, swept
from facade.job import Words
from facade.job.machine import OUTSIDE
from facade.lengths import Unit
from facade.proof.compared import Compared, spread_along
from facade.proof.readers import reader
from facade.proof.truth import Truth

# What a cutter may go too deep, and ridges be higher than was foretold, mm.
GOUGE, RIDGES = 0.005, 0.02
_STEP = 0.5  # mm between places that are looked at, at most
_HAIR = 0.001
_ON_GRID = 1.0 + _HAIR  # mm that a way may run further, to a place of its grid
_COMMENT = re.compile(r"\([^()\n]*\)")
# NISTIR 6556, 3.3 to 3.3.5: an optional line number, then words of a letter and a plain number.
_WORDS = re.compile(r"(?:N\d{1,5}[ \t]*)?(?:[A-Z][ \t]*[-+]?(?:\d+\.?\d*|\.\d+)[ \t]*)*", re.IGNORECASE)
_KNOWN = frozenset("NGMXYZFSP")
# NISTIR 6556, table 4: what must be set before anything moves, besides the unit.
_MODES = ("G17", "G90", "G94")
_UNITS = {"G21": Unit.MM, "G20": Unit.INCH}
_UNREADABLE = "has a line that is no words and numbers"
_ACROSS = (-0.8, -0.4, 0.0, 0.4, 0.8)  # of the cutter's radius, where wood is looked for under it


@dataclass(frozen=True)
class Program:
    """A file as read: the places (n, 3) that its tip goes to, mm, which moves (n - 1,) are rapids, and what is wrong with it."""

    places: Array
    rapid: NDArray[np.bool_]
    faults: tuple[str, ...]

    @property
    def cuts(self) -> NDArray[np.bool_]:
        """Which moves are made at a feed."""
        return ~self.rapid


@reader("cnc-face/programs/*.ngc")
def compare_code(path: Path, name: str, truth: Truth) -> list[Compared]:
    """Run a fixture's files of machine code one after the other on its blanks; what is said is about both."""
    fixture, stage = _meant(name, truth)
    names = {one: f"cnc-face/{code_name(fixture, one)}" for one in Stage}
    if stage is Stage.ROUGH and _there(truth, names[Stage.FINISH]):
        # It is run before the finishing cut, when that file's turn comes.
        return []
    stock = _blanks(fixture)
    found = []
    for one, file in names.items():
        if not _there(truth, file):
            continue
        text = (truth.folder / file).read_text("ascii")
        program = read_code(text, truth.front.job.machine_unit, truth.front.job.machine.words)
        across, along = truth.front.job.first_strip
        program = replace(program, places=program.places - [across, along, 0.0])
        faults = (*truth.mark_faults(text), *program.faults)
        compared, stock = _run(truth, fixture, one, file, program, stock, faults)
        found.append(compared)
    return found


def _there(truth: Truth, name: str) -> bool:
    return name in truth.files and (truth.folder / name).is_file()


def _meant(name: str, truth: Truth) -> tuple[Fixture, Stage]:
    """Return the fixture and the cut that a file is for, by its name; raises KeyError for one that no order gives."""
    order = Order.of_data(Route.FACE, truth.manifest["cnc"]["face"])
    for fixture in fixtures(truth.front, order):
        for stage in Stage:
            if code_name(fixture, stage) == name.removeprefix("cnc-face/"):
                return fixture, stage
    raise KeyError("no fixture of this front is called so")


def read_code(text: str, unit: Unit, words: Words) -> Program:
    """Return what a text of machine code says, and how it breaks the standard's rules."""
    from gcodeparser import parse_gcode_lines

    bare = _COMMENT.sub("", text)
    faults = list(_standard_faults(text, bare, unit, words))
    if any(_UNREADABLE in fault for fault in faults):
        return Program(np.empty((0, 3)), np.empty(0, dtype=bool), tuple(faults))
    lines = parse_gcode_lines(bare)
    moves = [line for line in lines if line.command in (("G", 0), ("G", 1))]
    axes = [np.array([line.params.get(axis, np.nan) for line in moves], dtype=np.float64) for axis in "XYZ"]
    places = np.column_stack([_carried_on(axis) for axis in axes]) * _said_unit(bare, unit).in_mm
    known = np.isfinite(places).all(axis=1)
    rapid = np.array([line.command[1] == 0 for line in moves], dtype=bool)
    # Before all three axes are known the cutter only rises; that must be its first move.
    early = np.flatnonzero(~known)
    if any(not rapid[index] or moves[index].params.keys() - {"Z"} for index in early.tolist()):
        faults.append("moves before all three axes have a place")
    return Program(places[known], rapid[known][1:], tuple(faults))


def _carried_on(values: Array) -> Array:
    """Return values with each gap filled by the last one before it."""
    known = np.where(np.isnan(values), 0, np.arange(len(values)))
    return np.asarray(values[np.maximum.accumulate(known)]) if len(values) else values


def _said_unit(bare: str, usual: Unit) -> Unit:
    said = [unit for word, unit in _UNITS.items() if re.search(rf"\b{word}\b", bare)]
    return said[0] if len(said) == 1 else usual


def _standard_faults(text: str, bare: str, unit: Unit, words: Words) -> Iterator[str]:
    """Yield what breaks the rules of NISTIR 6556, or does not fit the job."""
    lines = bare.splitlines()
    longest = max(map(len, text.splitlines()), default=0)
    if longest > LONGEST_LINE:
        yield f"has a line of {longest} characters; {LONGEST_LINE} are allowed"
    odd = next((line for line in lines if line.strip() and line != "%" and not _WORDS.fullmatch(line)), None)
    if odd is not None:
        yield f"{_UNREADABLE}: {odd[:40]!r}"
    letters = set(re.findall(r"[A-Za-z]", bare)) - _KNOWN
    if letters:
        yield f"has words that are not used here: {', '.join(sorted(letters))}"
    said = [one for word, one in _UNITS.items() if re.search(rf"\b{word}\b", bare)]
    if said != [unit]:
        yield f"does not say once that it is in {'mm' if unit is Unit.MM else 'inches'}"
    yield from _order_faults(lines, bare, words)


def _order_faults(lines: list[str], bare: str, words: Words) -> Iterator[str]:
    """Yield what stands in the wrong order: modes before moves, spindle and feed before cuts, a stop at the end."""
    rapid, cut = (re.search(rf"\b{word}\b", bare) for word in ("G0", "G1"))
    start = bare[: min((found.start() for found in (rapid, cut) if found), default=0)]
    missing = [word for word in _MODES if not re.search(rf"\b{word}\b", start)]
    if missing:
        yield f"moves before {', '.join(missing)} is set"
    if cut and not re.search(r"\bM3\b", bare[: cut.start()]):
        yield "cuts before its spindle turns"
    if cut and not re.match(r"G1\b[^\n]*\bF\d", bare[cut.start() :]):
        yield "cuts before a feed is set"
    end = [re.sub(r"^N\d+[ \t]*", "", line).strip() for line in lines if line.strip()]
    wanted = ["M5", "M2"] if words is Words.RS274 else ["M5", "M30", "%"]
    if end[-len(wanted) :] != wanted:
        yield "does not stop its spindle and end"


def _blanks(fixture: Fixture) -> Stock:
    """Return the fixture's blanks from the first strip to the last."""
    x, y = (
        np.linspace(0.0, size, max(2, math.ceil(size / _STEP - 1e-9)) + 1) for size in (fixture.width, fixture.length)
    )
    return Stock(x, y, np.full((len(y), len(x)), fixture.blank))


def _run(
    truth: Truth, fixture: Fixture, stage: Stage, name: str, program: Program, stock: Stock, faults: tuple[str, ...]
) -> tuple[Compared, Stock]:
    """Return what comes of one file, and what is left of the wood after it."""
    tool = tool_of(truth.front, stage)
    wanted = fixture.heights(stock.x, stock.y) + truth.front.job.machine.leave
    after = Stock(stock.x, stock.y, swept(stock, program.places, program.cuts, tool))
    on: NDArray[np.bool_] = np.broadcast_to(fixture.on_strip(stock.x), stock.heights.shape)
    off = after.heights - np.minimum(wanted, fixture.blank)
    ridges = _foretold(fixture) if stage is Stage.FINISH else None
    said = [*faults, *_way_faults(truth, fixture, program, tool), *_gouge_faults(truth, fixture, stock, off, on)]
    bridged = (
        np.zeros(off.shape, dtype=bool) if ridges is None else _bridged(fixture, stock, np.where(on, off, 0.0), ridges)
    )
    said += _ridge_faults(truth, fixture, after, off, on, ridges, bridged) if ridges is not None else []
    least = float(after.heights[on].min())
    failed = _failed_strips(fixture, stock, off, ridges) if said else ()
    along = {
        place.number: _along(fixture, stock, off, index)
        for index, place in enumerate(fixture.places)
        if ridges is not None
    }
    compared = Compared(
        name,
        _WHAT[stage],
        points=int(on.sum()),
        deviation=float(np.abs(off[on & ~bridged]).max()) if ridges is not None else None,
        allowed=ridges + RIDGES if ridges is not None else None,
        least=least,
        faults=tuple(said),
        note=_note(truth, program, stock, tool, float(np.where(on & bridged, off, 0.0).max())),
        along=along,
        failed=failed,
    )
    return compared, after


def _note(truth: Truth, program: Program, stock: Stock, tool: Tool, most: float) -> str:
    """Return what share of the way is in air, and how much the ball leaves in hollows that are tighter than itself."""
    air = f"{_air_share(program, stock, tool):.0%} of the way at a feed is in air"
    return f"{air}; {truth.length(most)} left in hollows tighter than the ball" if most > 0.0 else air


_WHAT = {
    Stage.ROUGH: "the standard's rules; run on the blanks: rapids, stock, floor, nothing cut that finishing leaves",
    Stage.FINISH: "the standard's rules; run on the roughed blanks: rapids, stock, floor, depth, height of the ridges",
}


def _foretold(fixture: Fixture) -> float:
    """Return the greatest ridge that the job's step gives, mm, or that it asks for."""
    plan = fixture.front.job.machine.finishing
    if plan.step is None:
        return plan.scallop
    ground = finishing_ground(fixture)
    bend = bend_between(plan.radius, *ground.slopes, ground.bends[0])
    return scallop(float(1.0 / bend.max()), plan.step)


def _way_faults(truth: Truth, fixture: Fixture, program: Program, tool: Tool) -> Iterator[str]:
    """Yield what is wrong with the way itself: rapids through wood, places beside the fixture, below what may stand there."""
    places = program.places
    if not len(places):
        return
    start, end = places[:-1], places[1:]
    inside = np.minimum(start[:, 2], end[:, 2]) < fixture.blank - _HAIR
    rises = (np.abs(end - start)[:, :2].max(axis=1) < _HAIR) & (end[:, 2] >= start[:, 2])
    through = program.rapid & inside & ~rises & _over_wood(fixture, start, end, tool.radius)
    if through.any():
        yield f"goes through wood in a rapid, at {_place(truth, end[int(through.argmax())])}"
    cut = np.concatenate([start[program.cuts], end[program.cuts]]) if program.cuts.any() else places[:0]
    over = fixture.waste + tool.radius + OUTSIDE + _ON_GRID
    beside = 2.0 * truth.front.job.machine.finishing.radius + tool.radius
    low, high = np.array([-beside, -over]), np.array([fixture.width + beside, fixture.length + over])
    out = ((cut[:, :2] < low) | (cut[:, :2] > high)).any(axis=1)
    if out.any():
        yield f"goes beside the fixture, to {_place(truth, cut[int(out.argmax())])}"
    deep = places[:, 2] < fixture.low - _HAIR
    if deep.any():
        yield f"goes lower than {truth.length(fixture.low)}, where spacers and battens are, at {_place(truth, places[int(deep.argmax())])}"


def _over_wood(fixture: Fixture, start: Array, end: Array, radius: float) -> NDArray[np.bool_]:
    """Return which moves pass over the fixture's wood, the cutter's radius taken in."""
    low, high = np.minimum(start, end), np.maximum(start, end)
    across = (high[:, 0] > -radius) & (low[:, 0] < fixture.width + radius)
    return across & (high[:, 1] > -fixture.waste - radius) & (low[:, 1] < fixture.length + fixture.waste + radius)


def _place(truth: Truth, place: Array) -> str:
    unit = truth.front.job.machine_unit.in_mm
    x, y, z = ((place + np.array([*truth.front.job.first_strip, 0.0])) / unit).tolist()
    decimals = 2 if unit == 1.0 else 3
    return f"X{x:.{decimals}f} Y{y:.{decimals}f} Z{z:.{decimals}f}"


def _gouge_faults(truth: Truth, fixture: Fixture, stock: Stock, off: Array, on: NDArray[np.bool_]) -> Iterator[str]:
    """Yield where a strip is cut too deep, and where below the floor."""
    deep = np.where(on, off, np.inf)
    row, column = divmod(int(deep.argmin()), off.shape[1])
    if deep[row, column] < -GOUGE:
        index = int(np.searchsorted(fixture.lefts, stock.x[column] + 1e-9, side="right")) - 1
        yield (
            f"cuts strip {fixture.numbers[index]} {truth.length(-float(deep[row, column]))} too deep, "
            f"{truth.length(fixture.length - float(stock.y[row]))} from the top"
        )


def _ridge_faults(
    truth: Truth,
    fixture: Fixture,
    after: Stock,
    off: Array,
    on: NDArray[np.bool_],
    ridges: float,
    bridged: NDArray[np.bool_],
) -> Iterator[str]:
    """Yield where more is left standing than the ridges foretold, hollows that the ball bridges left out."""
    left = np.where(on & ~bridged, off, -np.inf)
    row, column = divmod(int(left.argmax()), left.shape[1])
    if left[row, column] > ridges + RIDGES:
        index = int(np.searchsorted(fixture.lefts, after.x[column] + 1e-9, side="right")) - 1
        yield (
            f"leaves {truth.length(float(left[row, column]))} standing on strip {fixture.numbers[index]}, "
            f"{truth.length(fixture.length - float(after.y[row]))} from the top; {truth.length(ridges)} was foretold"
        )


def _bridged(fixture: Fixture, stock: Stock, off: Array, ridges: float) -> NDArray[np.bool_]:
    """Return which places lie in hollows that are tighter than the ball, so that it does not touch them; looked at where it matters."""
    if float(off.max()) <= ridges + RIDGES:
        return np.zeros(off.shape, dtype=bool)
    ground, ball = finishing_ground(fixture), Ball(fixture.front.job.machine.finishing.radius)
    rows, columns = (
        slice(int(np.abs(grid - places[0]).argmin()), int(np.abs(grid - places[-1]).argmin()) + 1)
        for grid, places in ((ground.y, stock.y), (ground.x, stock.x))
    )
    closed = closing(ground.heights, ball, ground.spacing, (rows, columns))
    return np.asarray(closed - ground.heights[rows, columns] > _HAIR)


def _failed_strips(fixture: Fixture, stock: Stock, off: Array, ridges: float | None) -> tuple[int, ...]:
    """Return the strips that a fault may be about: cut too deep or not deep enough; all where no strip is."""
    most = np.inf if ridges is None else ridges + RIDGES
    wrong = []
    for index, number in enumerate(fixture.numbers):
        some = off[:, _columns(fixture, stock, index)]
        if some.min() < -GOUGE or some.max() > most:
            wrong.append(number)
    return tuple(wrong or fixture.numbers)


def _columns(fixture: Fixture, stock: Stock, index: int) -> slice:
    first, last = np.searchsorted(stock.x, [fixture.lefts[index] - 1e-9, fixture.rights[index] + 1e-9])
    return slice(int(first), int(last))


def _along(fixture: Fixture, stock: Stock, off: Array, index: int) -> Array:
    return spread_along(
        fixture.length - stock.y, np.abs(off[:, _columns(fixture, stock, index)]).max(axis=1), fixture.length
    )


def _air_share(program: Program, stock: Stock, tool: Tool) -> float:
    """Return which share of the way at a feed meets no wood that stood there before this file, looked at five places across it."""
    start, end = program.places[:-1][program.cuts], program.places[1:][program.cuts]
    lengths = np.sqrt(((end - start) ** 2).sum(axis=1))
    if not lengths.sum():
        return 1.0
    middle = (start + end) / 2
    meets = np.zeros(len(middle), dtype=bool)
    row = np.rint((middle[:, 1] - stock.y[0]) / stock.spacing[1]).astype(np.intp)
    for share in _ACROSS:
        x = middle[:, 0] + share * tool.radius
        column = np.rint((x - stock.x[0]) / stock.spacing[0]).astype(np.intp)
        inside = (row >= 0) & (row < len(stock.y)) & (column >= 0) & (column < len(stock.x))
        under = middle[:, 2] + np.asarray(tool.rise(np.full(1, (share * tool.radius) ** 2)))[0]
        stood = stock.heights[np.clip(row, 0, len(stock.y) - 1), np.clip(column, 0, len(stock.x) - 1)]
        meets |= inside & (stood > under + _HAIR)
    return float(lengths[~meets].sum() / lengths.sum())
