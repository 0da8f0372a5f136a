"""The proof's own sweep, its reader of machine code and its clock, each against plain brute force or a reader that is not ours."""

from __future__ import annotations

import itertools
import math
from types import SimpleNamespace

import numpy as np
import pytest
from gcodeparser import parse_gcode_lines

from facade.job import Words
from facade.lengths import Unit
from facade.proof.programs import Program, read_program
from facade.proof.reckoning import seconds_of
from facade.proof.sweeping import Cutter, lowest_over, parts_of

X, Y = np.linspace(0.0, 12.0, 25), np.linspace(0.0, 30.0, 61)


def stepped(places: np.ndarray, cutter: Cutter) -> np.ndarray:
    """The lowest of the underside where the cutter is looked at every 0.002 mm of its way, and never more than 0.002 mm further up or down."""
    lowest = np.full((len(Y), len(X)), np.inf)
    for start, end in itertools.pairwise(places):
        count = math.ceil(float(np.abs(end - start).max()) / 0.002) + 1
        for share in np.linspace(0.0, 1.0, count):
            x, y, z = start + share * (end - start)
            rows, columns = np.abs(Y - y) < cutter.radius, np.abs(X - x) < cutter.radius
            if rows.any() and columns.any():
                aside = np.hypot(X[None, columns] - x, Y[rows, None] - y)
                rise = np.where(aside < cutter.radius, 0.0, np.inf)
                if cutter.ball:
                    rise = rise + cutter.radius - np.sqrt(np.maximum(cutter.radius**2 - aside**2, 0.0))
                block = np.ix_(rows, columns)
                lowest[block] = np.minimum(lowest[block], z + rise)
    return lowest


def a_way(seed: int) -> np.ndarray:
    """Passes along y, there and back, then moves anywhere."""
    chance = np.random.default_rng(seed)
    passes = []
    for number, x in enumerate((1.13, 3.27, 6.61, 9.9)):
        y = np.sort(chance.uniform(-4.0, 34.0, 12))
        some = np.column_stack([np.full(12, x), y, 10.0 + np.cumsum(chance.normal(0.0, 0.6, 12))])
        passes.append(some[::-1] if number % 2 else some)
    return np.concatenate([*passes, chance.uniform([0, 0, 8], [12, 30, 13], (4, 3))])


@pytest.mark.parametrize("ball", [True, False], ids=["ball", "flat"])
@pytest.mark.parametrize("radius", [0.83, 2.91])
def test_the_sweep_is_what_small_steps_come_near_to(ball: bool, radius: float) -> None:
    places, cutter = a_way(1), Cutter(radius, ball)
    found = lowest_over(X, Y, parts_of(places, np.ones(len(places) - 1, dtype=bool)), cutter)
    near = stepped(places, cutter)
    both = np.isfinite(found) & np.isfinite(near)
    assert both.sum() >= np.isfinite(found).sum() - 40 > 100
    # Small steps never come lower than the whole move does, and nearly as low but right at the rim.
    assert (found[both] <= near[both] + 1e-6).all()
    assert np.quantile(near[both] - found[both], 0.97) < 0.01


def test_moves_that_do_not_cut_sweep_nothing() -> None:
    places = a_way(2)
    assert np.isinf(
        lowest_over(X, Y, parts_of(places, np.zeros(len(places) - 1, dtype=bool)), Cutter(2.0, ball=True))
    ).all()


CODE = """(a head)
{unit} G17 G90 G94
G40 G49 G80 G54
G0 Z{z}
S12000 M3
G4 P5
G0 X{x} Y{y}
G0 Z{near}
G1 Z{low} F800.0
G1 Y{up} F2400.0
G1 X{right} Z{other}
G1 X-{x} Y-{y}
G0 Z{z}
M5
M2
"""
MM = CODE.format(
    unit="G21",
    z="40.000",
    x="12.125",
    y="3.500",
    near="21.000",
    low="8.250",
    up="90.000",
    right="14.001",
    other="9.999",
)
INCH = CODE.format(
    unit="G20",
    z="1.50000",
    x="0.48125",
    y="0.13750",
    near="0.82677",
    low="0.32480",
    up="3.54331",
    right="0.55122",
    other="0.39366",
)


@pytest.mark.parametrize(("text", "unit"), [(MM, Unit.MM), (INCH, Unit.INCH)], ids=["mm", "inch"])
def test_places_are_those_that_another_reader_finds(text: str, unit: Unit) -> None:
    found = read_program(text, unit, Words.RS274)
    assert found.faults == ()
    here, places, rapid, feed, feeds = {"X": math.nan, "Y": math.nan, "Z": math.nan}, [], [], math.nan, []
    for line in parse_gcode_lines(text):
        if line.command not in (("G", 0), ("G", 1)):
            continue
        here |= {axis: line.params[axis] for axis in "XYZ" if axis in line.params}
        feed = line.params.get("F", feed)
        places.append([here[axis] * unit.in_mm for axis in "XYZ"])
        rapid.append(line.command == ("G", 0))
        feeds.append(feed * unit.in_mm)
    # The first move rises only; the second goes over the first place.
    assert np.allclose(found.places, places[1:], atol=1e-9)
    assert found.rapid.tolist() == rapid[2:]
    assert np.allclose(found.feeds[~found.rapid], np.array(feeds[2:])[~found.rapid])
    assert found.spindle == 12000


def slowly(program: Program, machine: SimpleNamespace) -> float:
    """The time of a program, move by move and place by place: forwards, backwards, then three stretches of each move."""
    places, pull = program.places, machine.acceleration
    steps = [places[index + 1] - places[index] for index in range(len(places) - 1)]
    most = [(machine.rapid if fast else feed) / 60.0 for fast, feed in zip(program.rapid, program.feeds, strict=True)]
    speeds = [0.0]
    for index in range(1, len(steps)):
        one, other = (steps[k] / np.linalg.norm(steps[k]) for k in (index - 1, index))
        half = math.acos(np.clip(-float(one @ other), -1.0, 1.0)) / 2.0
        radius = 0.02 * math.sin(half) / max(1.0 - math.sin(half), 1e-12)
        speeds.append(min(math.sqrt(pull * radius), most[index - 1], most[index]))
    speeds.append(0.0)
    lengths = [float(np.linalg.norm(step)) for step in steps]
    for index, length in enumerate(lengths):
        speeds[index + 1] = min(speeds[index + 1], math.sqrt(speeds[index] ** 2 + 2 * pull * length))
    for index in range(len(lengths) - 1, -1, -1):
        speeds[index] = min(speeds[index], math.sqrt(speeds[index + 1] ** 2 + 2 * pull * lengths[index]))
    seconds = 0.0
    for index, length in enumerate(lengths):
        first, last = speeds[index], speeds[index + 1]
        top = min(most[index], math.sqrt((first**2 + last**2) / 2 + pull * length))
        rising, falling = (top**2 - first**2) / (2 * pull), (top**2 - last**2) / (2 * pull)
        seconds += (2 * top - first - last) / pull + max(length - rising - falling, 0.0) / top
    return seconds


def test_minutes_are_those_of_a_machine_that_is_followed_move_by_move() -> None:
    program = read_program(MM, Unit.MM, Words.RS274)
    machine = SimpleNamespace(rapid=5000.0, acceleration=400.0)
    assert seconds_of(program, machine) == pytest.approx(slowly(program, machine), rel=1e-9)
    assert (
        seconds_of(program, machine)
        > float(np.linalg.norm(np.diff(program.places, axis=0), axis=1).sum()) / 5000.0 * 60.0
    )
