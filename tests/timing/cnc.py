"""How long machine code and its run in the computer take; never part of the test suite.

    python tests/timing/cnc.py                     the bench front: finishing code and its sweep in one process, and the whole command
    python tests/timing/cnc.py --peer FILE         beside a program that does the same with general libraries, in one run

The bench front: 54 strips of 20 mm, a ball of radius 4 mm, passes 1 mm apart, heights every 0.5 mm. FILE takes --radius, --grid and
--stages and prints one line of JSON with the stages' `seconds`, `closing` and `toolpath` among them.
"""

from __future__ import annotations

import argparse
import json
import subprocess
import sys
import tempfile
import time
from pathlib import Path

import numpy as np
from build import BENCH, report, timed

from facade.cnc.code import machine_code
from facade.cnc.fixture import Fixture, fixtures
from facade.cnc.machining import Stage, program
from facade.cnc.moves import Kind
from facade.cnc.order import Order, Route
from facade.front import build_front
from facade.job import read_job
from facade.proof.sweeping import Cutter, lowest_over, parts_of

MACHINE = """
[machine.finishing]
radius = 4
step = 1
"""
GRID = 0.5


def code_of(fixture: Fixture) -> tuple[int, float, float]:
    """Return the letters of a fixture's finishing code, and the seconds that it and its sweep took."""
    began = time.perf_counter()
    one = program(fixture, Stage.FINISH)
    plan, job = one.plan, fixture.front.job
    text = machine_code(one.moves, [], unit=job.unit, words=job.machine.words, speeds=plan.speeds)
    made = time.perf_counter()
    x, y = (np.arange(0.0, size + GRID / 2, GRID) for size in (fixture.width, fixture.length))
    cutter = Cutter(job.machine.finishing.radius, ball=True)
    # On the machine the first strip lies beside the corner that is zero.
    places = one.moves.places - np.array([*job.first_strip, 0.0])
    lowest_over(x, y, parts_of(places, one.moves.kinds[1:] != Kind.RAPID), cutter)
    return len(text), made - began, time.perf_counter() - made


def bench(job: Path) -> tuple[float, float]:
    """Return the seconds of finishing code and of its sweep for a whole front, by one process."""
    front = build_front(read_job(job))
    parts = [code_of(fixture) for fixture in fixtures(front, Order(Route.FACE))]
    return sum(part[1] for part in parts), sum(part[2] for part in parts)


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--runs", type=int, default=5)
    parser.add_argument("--peer", type=Path)
    options = parser.parse_args()
    with tempfile.TemporaryDirectory() as name:
        job = Path(name) / "bench.toml"
        job.write_text(BENCH.format(width=1200, height=700, edge=7, step=1) + MACHINE, "utf-8")
        runs = [bench(job) for _ in range(options.runs)]
        print(f"{'':<34} {'least':>7} {'middle':>7} {'most':>7}")
        ours = report("finishing code, one process", [(code, 0) for code, _ in runs])
        report("its sweep, one process", [(sweep, 0) for _, sweep in runs])
        for route in Route:
            command = [sys.executable, "-m", "facade", "cnc", str(job), "--route", route.value, "--out", name]
            report(f"facade cnc --route {route.value}", [timed(command) for _ in range(options.runs)])
        if options.peer:
            theirs = report("general libraries: passes alone", [peer(options.peer) for _ in range(3)])
            print(f"ratio: {theirs / ours:.1f}")


def peer(file: Path) -> tuple[float, float]:
    """Return the seconds of the other program's ball and passes, and its memory."""
    command = [sys.executable, str(file), "--grid", str(GRID), "--radius", "4", "--stages", "field,closing,toolpath"]
    line = json.loads(subprocess.run(command, capture_output=True, text=True, check=True).stdout)
    return line["seconds"]["closing"] + line["seconds"]["toolpath"], line["peak_rss_MB"]


if __name__ == "__main__":
    main()
