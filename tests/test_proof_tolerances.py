"""Tolerances of the proof of machine files, from both sides: just within nothing is said, just beyond it is."""

from __future__ import annotations

import csv
import io
import math
import shutil
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from test_proof_cnc import PLAN, hole_changed, made, redrawn
from test_proof_code import FINISH, ROUGH
from test_proof_side import moved, profile
from test_proof_side import redrawn as redrawn_side

from facade.arrays import Array
from facade.front import build_front
from facade.job import make_job
from facade.lengths import Unit
from facade.proof import carved as finished
from facade.proof import faces, roughed
from facade.proof.carved import carved, foretold
from facade.proof.code import compare_code
from facade.proof.laid import Laid, laid_for
from facade.proof.lying import widened
from facade.proof.lying_drawings import lying_of
from facade.proof.profiles import read_dxf
from facade.proof.programs import Program, read_program
from facade.proof.svg import Line, Stroke
from facade.proof.sweeping import Cutter, lowest_over, parts_of
from facade.proof.truth import ROUNDING, Truth, read_truth

SIDES = pytest.mark.parametrize(("off", "seen"), [(0.75, False), (1.25, True)], ids=["just within", "just beyond"])


@pytest.fixture(scope="module")
def whole(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Files of both routes."""
    return made(tmp_path_factory.mktemp("proved"))


@pytest.fixture
def folder(whole: Path, tmp_path: Path) -> Path:
    """The same files in a folder of their own, that a test may spoil."""
    shutil.copytree(whole, tmp_path / whole.name)
    return tmp_path / whole.name


@pytest.fixture
def truth(folder: Path) -> Truth:
    return read_truth(folder)


def program_of(truth: Truth, name: str) -> Program:
    return read_program((truth.folder / name).read_text("ascii"), Unit.MM, truth.front.job.machine.words)


def raised(program: Program, by: float) -> Program:
    return replace(program, places=program.places + [0.0, 0.0, by])


# The side route


@SIDES
@pytest.mark.parametrize(
    "layer",
    ["board", "zero", "stops", "blank", "keep-out", "saw to length", "screw pilots", "holding screws", "screw heads"],
)
@pytest.mark.parametrize("way", [(1.0, 0.0), (0.0, -1.0)], ids=["along", "across"])
def test_what_holds_a_strip_on_its_side(
    truth: Truth, layer: str, way: tuple[float, float], off: float, seen: bool
) -> None:
    change = moved(layer, x=way[0] * off * ROUNDING, y=way[1] * off * ROUNDING)
    assert (redrawn_side(truth, profile(truth, 4), change).words != "agrees") is seen


def places_on(truth: Truth, name: str, layer: str) -> Array:
    read_dxf.cache_clear()
    run = read_dxf(truth.folder / name, Unit.MM).on(layer)[0]
    return np.asarray(run[np.argsort(run[:, 0])])


@SIDES
def test_the_way_of_the_middle_along_a_face(truth: Truth, off: float, seen: bool) -> None:
    """By as much as straight lines may run off, of the line and of the way itself, and rounding."""
    name = profile(truth, 4)
    line, middle = (places_on(truth, name, layer) for layer in ("face cut", "face cut middle"))
    x = np.linspace(line[0, 0], line[-1, 0], round(line[-1, 0] - line[0, 0]))
    least = float((np.interp(x, *middle.T) - widened(line, lying_of(truth).radius, x)).min())
    allowed = 2 * truth.front.job.machine.side.tolerance + ROUNDING
    change = moved("face cut middle", y=-off * allowed - least)
    assert ("face cut middle" in redrawn_side(truth, name, change).words) is seen


@SIDES
def test_a_step_cut(truth: Truth, off: float, seen: bool) -> None:
    """What it leaves for the last run may be uneven; all of its places are as low as they can be and may not be lower."""
    name = profile(truth, 4)
    lying, face, step = lying_of(truth), places_on(truth, name, "face cut"), places_on(truth, name, "step cut")
    side = lying.front.job.machine.side
    x = np.arange(face[0, 0], face[-1, 0], 0.25)
    height = np.maximum(np.interp(x, *face.T) + side.leave, lying.asked.blank - side.step)
    above = float((np.interp(x, *step.T) - height).min())
    change = moved("step cut", "step cut middle", y=-off * 0.15 - above)
    assert ("its step cut 1 of strip 4 is" in redrawn_side(truth, name, change).words) is seen


# The face route: drawings


@SIDES
@pytest.mark.parametrize("layer", ["outline", "waste", "battens", "keep-out", "spoilboard", "spacers"])
def test_what_lies_on_a_fixture(folder: Path, layer: str, off: float, seen: bool) -> None:
    def change(document) -> None:
        for one in document.modelspace().query(f'LWPOLYLINE[layer=="{layer}"]'):
            one.translate(0.0, off * ROUNDING, 0.0)

    assert (redrawn(folder, f"{PLAN}.dxf", change).words != "agrees") is seen


@SIDES
@pytest.mark.parametrize("layer", ["screw pilots", "screw clearance", "counterbores"])
def test_holes_of_a_fixture(folder: Path, layer: str, off: float, seen: bool) -> None:
    """A hole drawn too wide by so much, since its place may be on another's."""

    def wider(holes) -> None:
        for hole in holes:
            hole.dxf.radius += off * ROUNDING / 2.0

    assert (redrawn(folder, f"{PLAN}.dxf", hole_changed(layer, wider)).words != "agrees") is seen


@SIDES
def test_where_a_pilot_hole_is(folder: Path, off: float, seen: bool) -> None:
    change = hole_changed("screw pilots", lambda holes: holes[0].translate(0.0, off * ROUNDING, 0.0))
    assert ("its screws are up to" in redrawn(folder, f"{PLAN}.dxf", change).words) is seen


# The face route: programs


def highest_and_least(truth: Truth, laid: Laid, program: Program, cutter: Cutter, step: float) -> tuple[float, float]:
    """Return how far the highest and the lowest place of strips is off what is wanted, mm."""
    parts, leave = parts_of(program.places, program.cuts), truth.front.job.machine.leave
    found = []
    for index, (left, right) in enumerate(zip(laid.lefts.tolist(), laid.rights.tolist(), strict=True)):
        x, y = (
            np.linspace(low, high, math.ceil((high - low) / step - 1e-9) + 1)
            for low, high in ((left, right), (laid.bottom, laid.top))
        )
        off = np.minimum(lowest_over(x, y, parts, cutter), laid.blank) - laid.heights(index, x, y) - leave
        found.append((float(off.max()), float(off.min())))
    return max(one for one, _ in found), min(one for _, one in found)


@SIDES
def test_ridges(truth: Truth, off: float, seen: bool) -> None:
    laid, program = laid_for(FINISH, truth), program_of(truth, FINISH)
    ball = Cutter(truth.front.job.machine.finishing.radius, ball=True)
    high, _ = highest_and_least(truth, laid, program, ball, 0.5)
    ridges = foretold(laid)
    lifted = raised(program, ridges + off * finished.RIDGES - high)
    assert any("standing on strip" in fault for fault in carved(truth, laid, lifted, ridges).faults) is seen


@SIDES
def test_how_deep_roughing_may_go(truth: Truth, off: float, seen: bool) -> None:
    laid, program = laid_for(ROUGH, truth), program_of(truth, ROUGH)
    lowered = raised(program, -3.0)

    def deepest(one: Program) -> float:
        wood = roughed._wood(laid)
        flat = Cutter(truth.front.job.machine.roughing.cutter / 2, ball=False)
        stock, _, _ = roughed._run(laid, wood, parts_of(one.places, one.cuts), flat)
        wanted = wood.wanted[wood.on_strip][:, wood.on_length] + truth.front.job.machine.leave
        return float((stock[wood.on_strip][:, wood.on_length] - np.minimum(wanted, laid.blank)).min())

    low = deepest(lowered)
    assert low < -0.5
    one = raised(lowered, -low - off * finished.GOUGE)
    assert any("too deep" in fault for fault in roughed.roughed(truth, laid, one).faults) is seen


@SIDES
def test_how_much_wood_a_move_may_take(truth: Truth, off: float, seen: bool) -> None:
    """The job's level is made so much less than what a move takes."""
    laid, program = laid_for(ROUGH, truth), program_of(truth, ROUGH)
    flat = Cutter(truth.front.job.machine.roughing.cutter / 2, ball=False)
    _, most, _ = roughed._run(laid, roughed._wood(laid), parts_of(program.places, program.cuts), flat)
    settings = truth.front.job.model_dump(mode="json", exclude_unset=True)
    settings.setdefault("machine", {}).setdefault("roughing", {})["level"] = most.depth - off * roughed._MORE
    other = replace(truth, front=build_front(make_job(settings)))
    found = roughed.roughed(other, laid, program)
    assert any("in one move" in fault for fault in found.faults) is seen


# The face route: the table of times


def with_figure(folder: Path, column: str, change: Callable[[float], float]) -> None:
    path = folder / "cnc-face/times.csv"
    rows = list(csv.DictReader(io.StringIO(path.read_text("utf-8-sig"))))
    rows[0][column] = f"{change(float(rows[0][column])):.6f}"
    out = io.StringIO()
    writer = csv.DictWriter(out, list(rows[0]), lineterminator="\r\n")
    writer.writeheader()
    writer.writerows(rows)
    path.write_text(out.getvalue(), "utf-8")


@SIDES
@pytest.mark.parametrize("column", ["z from mm", "y to mm"])
def test_a_figure_of_the_table_of_times(truth: Truth, column: str, off: float, seen: bool) -> None:
    """Half of its last decimal, and what is rounded in the program."""
    name = next(name for name in sorted(truth.files) if name.endswith("1-rough_mm.ngc"))
    extent = program_of(truth, name).extent
    assert extent is not None
    said = dict(zip(("z from mm", "y to mm"), (extent[0, 2], extent[1, 1]), strict=True))[column]
    with_figure(truth.folder, column, lambda _: said + off * 0.0056)
    faults = [fault for one in compare_code(truth.folder / name, name, truth) for fault in one.faults]
    assert any(f"under {column!r}" in fault for fault in faults) is seen


# Lines of equal depth on faces


@SIDES
@pytest.mark.parametrize("way", [1.0, -1.0], ids=["deeper", "shallower"])
def test_the_depth_of_a_line_on_a_face(truth: Truth, off: float, seen: bool, way: float) -> None:
    """A line along which the surface is off a whole step by a share of what is allowed there."""
    place, (step, heavy) = truth.front.layout.strip(3), faces.spacing(truth)
    from_top = np.linspace(2.0, place.length - 2.0, 20001)
    across = np.linspace(2.0, place.width - 2.0, 15)
    depths = truth.front.job.wood.blank - truth.front.surface.at(
        place.left + across[:, None], place.top - from_top[None, :]
    )
    index = round(float(np.median(depths)) / step)
    at = []
    for x, along in zip(across.tolist(), depths, strict=True):
        places = np.column_stack([np.full(len(from_top), x), from_top])
        wanted = index * step + way * off * faces._allowed(places, place, truth)
        crossing = np.flatnonzero(np.diff(np.sign(along - wanted)))
        at += [places[crossing[0]]] if len(crossing) else []
    assert len(at) > 5
    wide = faces._HEAVY if index % heavy == 0 else faces._LIGHT
    line = Line("depth", np.array(at), stroke=Stroke(wide, dashed=False, filled=False))
    faults = faces.compare_depths([(line, np.array(at))], place, truth).faults
    assert any("runs where the surface is" in fault for fault in faults) is seen
