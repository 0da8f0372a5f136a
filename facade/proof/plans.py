"""Plans of fixtures: every line of the DXF, read by ezdxf, with layout, screws and job; the SVG with the DXF; the sheet beside it."""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from facade.arrays import Array
from facade.drawing import printable
from facade.job import Job, fixture_rule
from facade.lengths import MM_PER_INCH, Unit
from facade.measuring.screws import clearance_hole, lengths_sold, pilot_hole, stock_lengths
from facade.proof.compared import Compared
from facade.proof.laid import FOLDER, Held, Laid, file_unit, laid_for, unit_word
from facade.proof.lying_drawings import figures, same_lines
from facade.proof.profiles import Read, read_dxf, square_faults
from facade.proof.readers import reader
from facade.proof.svg import read_svg
from facade.proof.truth import ROUNDING, Truth
from facade.rules import rule
from facade.wood.species import species

_LAYERS = (
    "proof square",
    "spoilboard",
    "outline",
    "spacers",
    "waste",
    "battens",
    "wedges",
    "keep-out",
    "clamps",
    "stops",
    "zero",
    "number",
)
_HOLES = ("screw pilots", "screw clearance", "counterbores")
# Battens, wedges and spacers that would have to be lower than this hold nothing, mm: common practice.
_LEAST_LOW = 3.0
# A pair of wedges, and a counterbore's drill, in each unit, mm.
_WEDGE = {Unit.MM: 16.0, Unit.INCH: 0.625 * MM_PER_INCH}
_DRILL = {Unit.MM: 1.0, Unit.INCH: MM_PER_INCH / 16.0}
# Screws that hold a strip; how well a distance from a screw is known that the surface tells, mm.
ENOUGH = 2
_NEAR_SCREW = 0.05
_STEP = 0.25


@dataclass(frozen=True)
class Spoilboard:
    """What a spoilboard must be so that screws bite as they should and heads are sunk into its back, mm."""

    thickness: float
    bore: float
    sunk: float

    @property
    def under_head(self) -> float:
        """Wood that is left under a screw's head."""
        return self.thickness - self.sunk

    @property
    def bought(self) -> float:
        """How thick it is before it is skimmed."""
        return self.thickness + rule("fixture_skim")


def spoilboard_of(job: Job) -> Spoilboard:
    """Return the spoilboard of a job: as thick as the door's board, or as its sunk heads need wood under them.

    Heads are sunk in halves of the drill's sizes, so deep that some screw which can be had bites as little as one may.
    """
    shank, drill = job.fixing.shank, _DRILL[job.unit]
    high = rule("screw_head_high") * shank + rule("screw_head_below")
    least, under = _up(max(high, job.fixing.countersink), drill / 2.0), job.limit("board_under_head").value
    thickness = max(job.board.thickness, job.ruler.up(least + under))
    depths = [least + half * drill / 2.0 for half in range(int((thickness - under - least) / (drill / 2.0) + 1e-6) + 1)]
    bite = job.limit("bite_least").value

    def least_bite(sunk: float) -> float:
        bites = (length - (thickness - sunk) for length in lengths_for_cutting(job))
        return round(min((one for one in bites if one >= bite - 1e-4), default=math.inf), 6)

    sunk = min(depths, key=least_bite)
    return Spoilboard(thickness, _up(rule("screw_head") * shank + rule("screw_head_room"), drill), sunk)


def _up(size: float, whole: float) -> float:
    return math.ceil(size / whole - 1e-9) * whole


def least_above(job: Job) -> float:
    """Return how far a cutter must stay from a screw that is in, mm."""
    return job.limit("screw_cover").value + job.limit("screw_overcut").value


@dataclass(frozen=True)
class Seen:
    """The screws that a plan shows while strips are carved: which of the final holes, and the strips with one in the waste at both ends."""

    final: tuple[Held, ...]
    longer: tuple[int, ...]

    def loose(self, laid: Laid) -> list[int]:
        """Return the strips that fewer than two screws hold."""
        counts = Counter([one.strip for one in self.final] + 2 * list(self.longer))
        return [number for number in laid.numbers if counts[number] < ENOUGH]


def plan_of_laid(truth: Truth, laid: Laid) -> Read | None:
    """Return the plan of a fixture as its DXF has it, None where there is none."""
    path = truth.folder / FOLDER / "drawings" / f"{laid.name}_plan_{unit_word(truth.front)}.dxf"
    return read_dxf(path, file_unit(truth.front)) if path.is_file() else None


def seen_screws(laid: Laid, read: Read) -> Seen:
    """Return which screws a plan shows; raises ValueError for one that is at no place for a screw."""
    final, waste = laid.screws(), _in_waste(laid)
    found: list[Held] = []
    aside: Counter[int] = Counter()
    for x, y, _ in read.holes_on("screw clearance").tolist():
        near = [one for one in final if max(abs(one.x - x), abs(one.y - y)) <= ROUNDING]
        beside = [strip for strip, at_x, at_y in waste if max(abs(at_x - x), abs(at_y - y)) <= ROUNDING]
        if not near and not beside:
            raise ValueError(
                f"shows a screw at x {x:.3f}, y {y:.3f} mm, off every final pilot hole and the middle of the waste"
            )
        found += near
        aside.update(beside)
    if any(count != 2 for count in aside.values()):
        raise ValueError(f"shows a screw in the waste of strip {min(aside)} at one end alone")
    return Seen(tuple(found), tuple(sorted(aside)))


def _in_waste(laid: Laid) -> list[tuple[int, float, float]]:
    """Return where screws in the waste stand: in the middle of a strip's own waste, at both ends."""
    half = laid.front.job.machine.waste / 2.0
    middles = ((laid.lefts + laid.rights) / 2.0).tolist()
    return [
        (number, x, y)
        for number, x in zip(laid.numbers, middles, strict=True)
        for y in (laid.bottom - half, laid.top + half)
    ]


@reader(f"{FOLDER}/drawings/*_plan_*.dxf")
def compare_plan(path: Path, name: str, truth: Truth) -> list[Compared]:
    """Compare all that a plan shows with layout, screws and job: strips, waste, what holds them, holes, numbers, what is kept clear."""
    laid = laid_for(name, truth)
    read = read_dxf(path, file_unit(truth.front))
    faults = [*read.faults, *square_faults(truth, read)]
    strange = sorted(read.layers - {*_LAYERS, *_HOLES})
    faults += [f"holds a layer {strange[0]!r}, which no plan has"] if strange else []
    off, points = 0.0, 0
    if not faults:
        for layer, wanted in _wanted(laid):
            found = _boxes(read.on(layer))
            points += 4 * len(found)
            apart = _far(found, wanted)
            off = max(off, apart if np.isfinite(apart) else 0.0)
            if not np.isfinite(apart):
                faults.append(f"shows {len(found)} {layer}, not {len(wanted)}")
            elif apart > ROUNDING:
                faults.append(f"its {layer} {'is' if layer == 'waste' else 'are'} up to {truth.length(apart)} off")
        faults += _hole_faults(truth, laid, read)
        faults += _free_faults(truth, laid, read)
        faults += _number_faults(laid, read)
    return [
        Compared(
            name,
            "unit, proof square; strips, waste, what holds them, every hole and number with layout, screws and job",
            points=points + len(read.holes),
            deviation=off,
            allowed=ROUNDING,
            faults=tuple(faults),
            failed=tuple(laid.numbers) if faults else (),
        )
    ]


def _boxes(runs: Sequence[Array]) -> Array:
    """Return the boxes (n, 4) round runs: left, right, bottom, top."""
    return np.array([[run[:, 0].min(), run[:, 0].max(), run[:, 1].min(), run[:, 1].max()] for run in runs]).reshape(
        -1, 4
    )


def _far(found: Array, wanted: Array) -> float:
    """Return how far boxes are off those that should be there, in any order, mm; inf where there are more or fewer."""
    if len(found) != len(wanted):
        return math.inf
    if not len(found):
        return 0.0
    apart = np.abs(found[:, None, :] - wanted[None, :, :]).max(axis=2)
    return float(max(apart.min(axis=0).max(), apart.min(axis=1).max()))


def _wanted(laid: Laid) -> Iterator[tuple[str, Array]]:
    """Yield each kind of what lies on a fixture, and where: boxes (n, 4)."""
    job = laid.front.job
    waste, aside = job.machine.waste, laid.low >= _LEAST_LOW
    strips = [[left, right, laid.bottom, laid.top] for left, right in zip(laid.lefts, laid.rights, strict=True)]
    yield "outline", np.array(strips)
    ends = [
        [laid.left, laid.right, laid.bottom - waste, laid.bottom],
        [laid.left, laid.right, laid.top, laid.top + waste],
    ]
    yield "waste", np.array(ends)
    gaps = zip(laid.rights[:-1].tolist(), laid.lefts[1:].tolist(), strict=True)
    spacers = [[left, right, laid.bottom, laid.top] for left, right in gaps if aside and laid.spacer > 0.0]
    yield "spacers", np.array(spacers).reshape(-1, 4)
    wide, wedge = fixture_rule("fixture_batten", job.unit), _WEDGE[job.unit]
    low, high = laid.bottom - waste, laid.top + waste
    battens = [[laid.left - wide, laid.left, low, high], [laid.right + wedge, laid.right + wedge + wide, low, high]]
    yield "battens", np.array(battens if aside else []).reshape(-1, 4)
    yield "keep-out", kept_clear(laid)[None]
    yield "spoilboard", board_of(laid)[None]


def kept_clear(laid: Laid) -> Array:
    """Return where no clamp may be, (4,): all that the cutters pass over, and what is kept off it."""
    machine = laid.front.job.machine
    over = machine.over + rule("fixture_keep_off")
    return np.array(
        [laid.left - over, laid.right + over, laid.bottom - machine.waste - over, laid.top + machine.waste + over]
    )


def board_of(laid: Laid) -> Array:
    """Return the spoilboard (4,), its machined corner at zero, as large as the widest fixture of the job asks, up to a round size."""
    job = laid.front.job
    whole = fixture_rule("fixture_whole", job.unit)
    keep = kept_clear(laid)
    right = max(float(keep[1]), laid.right + _WEDGE[job.unit] + fixture_rule("fixture_batten", job.unit))
    wide, long = (
        right + fixture_rule("fixture_clamp", job.unit) + laid.widest - (laid.right - laid.left),
        float(keep[3]),
    )
    return np.array([0.0, _up(wide, whole), 0.0, _up(long, whole)])


def _hole_faults(truth: Truth, laid: Laid, read: Read) -> Iterator[str]:
    """Yield what is wrong with holes: a pilot hole for every final screw, and through the board, sunk, where one may be in."""
    job = truth.front.job
    softwood = species(job.wood.species).softwood
    sizes = (
        pilot_hole(job.fixing.shank, softwood=softwood),
        clearance_hole(job.fixing.shank)[0],
        spoilboard_of(job).bore,
    )
    for layer, size in zip(_HOLES, sizes, strict=True):
        across = 2.0 * read.holes_on(layer)[:, 2]
        if len(across) and float(np.abs(across - size).max()) > ROUNDING:
            wrong = float(across[np.abs(across - size).argmax()])
            yield f"its {layer} are {truth.length(wrong)} wide, not {truth.length(size)}"
    pilots, wanted = (
        read.holes_on("screw pilots")[:, :2],
        np.array([[one.x, one.y] for one in laid.screws()]).reshape(-1, 2),
    )
    if len(pilots) != len(wanted):
        yield f"shows {len(pilots)} pilot holes, not {len(wanted)}"
        return
    if len(pilots):
        apart = np.abs(pilots[:, None, :] - wanted[None, :, :]).max(axis=2)
        worst = float(max(apart.min(axis=0).max(), apart.min(axis=1).max()))
        if worst > ROUNDING:
            yield f"its screws are up to {truth.length(worst)} off"
            return
    through, sunk = (read.holes_on(layer)[:, :2] for layer in _HOLES[1:])
    if through.shape != sunk.shape or (len(through) and float(np.abs(through - sunk).max()) > ROUNDING):
        yield "does not sink every hole for a screw"
        return
    try:
        seen = seen_screws(laid, read)
    except ValueError as error:
        yield str(error)
        return
    yield from _choice_faults(truth, laid, seen)


def room_above(laid: Laid, screw: Held, tip: float) -> float:
    """Return how far a cutter that leaves the surface, and what is left on for sanding, stays from a screw whose tip is so high, mm.

    The screw is a cylinder up to its tip. Nothing is below the surface but wood, so that the distance is that of the nearest place of it.
    """
    job = laid.front.job
    index = laid.numbers.index(screw.strip)
    reach = least_above(job) + job.fixing.shank / 2.0 + 3.0
    x = _around(screw.x, reach, float(laid.lefts[index]), float(laid.rights[index]))
    y = _around(screw.y, reach, laid.bottom, laid.top)
    above = np.maximum(laid.heights(index, x, y) + job.machine.leave - tip, 0.0)
    beside = np.maximum(np.hypot(x[None, :] - screw.x, y[:, None] - screw.y) - job.fixing.shank / 2.0, 0.0)
    return float(np.hypot(above, beside).min())


def _around(middle: float, reach: float, first: float, last: float) -> Array:
    low, high = max(first, middle - reach), min(last, middle + reach)
    return np.linspace(low, high, max(2, math.ceil((high - low) / _STEP)) + 1)


def lengths_for_cutting(job: Job) -> list[float]:
    """Return the lengths of screws that may be in while strips are carved, rising, mm."""
    return sorted({*stock_lengths(job), *lengths_sold(job)})


def _choice_faults(truth: Truth, laid: Laid, seen: Seen) -> Iterator[str]:
    """Yield screws that may not be in, or are left out though they may."""
    job = truth.front.job
    under, least, bite = spoilboard_of(job).under_head, least_above(job), job.limit("bite_least").value
    for one in laid.screws():
        fitting = [length for length in lengths_for_cutting(job) if bite - 1e-4 <= length - under <= one.bite + 1e-4]
        room = room_above(laid, one, fitting[0] - under) if fitting else -math.inf
        where = f"strip {one.strip}, {truth.length(laid.top - one.y)} from the top"
        if one in seen.final and room < least - _NEAR_SCREW:
            yield f"shows a screw in {where}, to which the cutter comes nearer than {truth.length(least)}"
        if one not in seen.final and room > least + _NEAR_SCREW + job.machine.finishing.scallop:
            yield f"leaves out the screw in {where}, which may be in"


def _free_faults(truth: Truth, laid: Laid, read: Read) -> Iterator[str]:
    """Yield clamps, wedges and stops that are in the way, or not where they hold something."""
    keep, board = kept_clear(laid), board_of(laid)
    clamps, stops, wedges = (_boxes(read.on(layer)) for layer in ("clamps", "stops", "wedges"))
    if not len(clamps):
        yield "shows no clamps"
    for left, right, bottom, top in clamps.tolist():
        if (
            right > keep[0] + ROUNDING
            and left < keep[1] - ROUNDING
            and top > keep[2] + ROUNDING
            and bottom < keep[3] - ROUNDING
        ):
            yield "shows a clamp inside what is kept clear"
        if not _inside(np.array([left, right, bottom, top]), board):
            yield "shows a clamp beside the spoilboard"
        if left < fixture_rule("fixture_clamp", truth.front.job.unit) / 2.0 and bottom < ROUNDING:
            yield "shows a clamp on the corner that is zero"
    touching = [
        (abs(top) <= ROUNDING and board[0] <= left and right <= board[1])
        or (abs(right) <= ROUNDING and board[2] <= bottom and top <= board[3])
        for left, right, bottom, top in stops.tolist()
    ]
    if len(stops) != 3 or not all(touching):
        yield "does not show three stops, two at the lower edge of the spoilboard and one at its left"
    wanted = [laid.right, laid.right + _WEDGE[truth.front.job.unit]]
    if laid.low >= _LEAST_LOW and (not len(wedges) or float(np.abs(wedges[:, :2] - wanted).max()) > ROUNDING):
        yield "its wedges are not between the last strip and the right batten"
    if laid.low < _LEAST_LOW and len(wedges):
        yield "shows wedges, for which the floor leaves no height"
    zero = read.on("zero")
    if (
        not zero
        or float(np.abs(np.concatenate(zero)).min(axis=0).max()) > ROUNDING
        or float(np.concatenate(zero).min()) < -ROUNDING
    ):
        yield "does not draw its zero where x and y are 0"


def _inside(box: Array, other: Array) -> bool:
    return bool(
        box[0] >= other[0] - ROUNDING
        and box[1] <= other[1] + ROUNDING
        and box[2] >= other[2] - ROUNDING
        and box[3] <= other[3] + ROUNDING
    )


def _number_faults(laid: Laid, read: Read) -> Iterator[str]:
    """Yield the strips whose number does not stand on them: its figures are read."""
    strokes = read.on("number")
    for number, left, right in zip(laid.numbers, laid.lefts.tolist(), laid.rights.tolist(), strict=True):
        own = [run for run in strokes if left - ROUNDING <= run[:, 0].min() and run[:, 0].max() <= right + ROUNDING]
        said = figures(own)
        if said != str(number):
            yield f"its number for strip {number} reads {said or 'nothing'}"


@reader(f"{FOLDER}/drawings/*_plan_mm.svg")
def compare_plan_picture(path: Path, name: str, truth: Truth) -> list[Compared]:
    """Compare every line of an SVG with the DXF of its fixture, both read by others, and its words."""
    laid = laid_for(name, truth)
    read = plan_of_laid(truth, laid)
    if read is None:
        return [Compared(name, "", faults=("there is no DXF of its fixture to compare it with",))]
    sheet = read_svg(path)
    square = next((line.points for line in sheet.lines if line.kind == "proof-square"), None)
    if square is None or not read.runs:
        return [Compared(name, "", faults=("holds no proof square",))]
    off, faults = same_lines(sheet, read, square.min(axis=0) - read.runs[0].places.min(axis=0))
    if off > ROUNDING:
        faults.append(f"its lines are up to {truth.length(off)} off those of its DXF")
    faults += truth.mark_faults(path.read_text("utf-8"))
    title = printable(f"{truth.front.job.title}: plan of fixture {laid.number}, mark {truth.front.mark}")
    if not faults and title not in _unescaped(path.read_text("utf-8")):
        faults.append(f"is not titled {title[:60]!r}")
    faults += [f"says {word.text[:40]!r}, which no plan does" for word in sheet.words[:1]]
    return [
        Compared(
            name,
            "every line with the DXF of its fixture; title, mark",
            points=sum(len(line.points) for line in sheet.lines),
            deviation=off if np.isfinite(off) else None,
            allowed=ROUNDING,
            faults=tuple(faults),
        )
    ]


def _unescaped(text: str) -> str:
    from html import unescape

    return unescape(text)
