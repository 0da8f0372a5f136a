"""How long a whole build takes, and what memory, as processes of their own; never part of the test suite.

    python tests/timing/build.py                     the bench front at 1 mm, built again unchanged, and at 0.5 mm
    python tests/timing/build.py --wall              walls of growing area: time and memory a square metre
    python tests/timing/build.py --peer FILE         beside a program that does the same with general libraries, in one run

The bench front: 1.2 x 0.7 m, 54 strips of 20 mm, gradient noise in 5 octaves. FILE takes --grid and --stages and prints
one line of JSON with `total` seconds and `peak_rss_MB`.
"""

from __future__ import annotations

import argparse
import json
import os
import statistics
import subprocess
import sys
import tempfile
import time
from pathlib import Path

BENCH = """title = "Bench"
[front]
width = {width}
height = {height}
[strips]
width = 20
gap = 2
edge = {edge}
[wood]
species = "white ash"
blank = 30
floor = 6
[sampling]
step = {step}
[[layers]]
kind = "hills"
size = 400
octaves = 5
"""
STAGES = "field,mesh,sections,svg,stl_front,stl_strips,picture"


def timed_build(job: Path, *, again: bool = False) -> tuple[float, float]:
    """Return seconds and memory of a build of its own, or of the same `again`, into a folder that is gone afterwards."""
    with tempfile.TemporaryDirectory() as out:
        command = [sys.executable, "-m", "facade", "build", str(job), "--out", out]
        first = timed(command)
        return timed(command) if again else first


def timed(command: list[str]) -> tuple[float, float]:
    """Return a process's seconds and its peak memory in MB (the largest of it and its own children)."""
    began = time.perf_counter()
    process = subprocess.Popen(command, stdout=subprocess.DEVNULL)
    _, status, usage = os.wait4(process.pid, 0)
    seconds = time.perf_counter() - began
    assert status == 0, command
    return seconds, usage.ru_maxrss / (1024 if sys.platform != "darwin" else 1024**2)


def bench_job(folder: Path, width: float, height: float, step: float) -> Path:
    """Write a bench job and return its path."""
    count = int((width + 2) // 22)
    edge = (width - count * 20 - (count - 1) * 2) / 2
    job = folder / f"bench-{width:g}x{height:g}-{step:g}.toml"
    job.write_text(BENCH.format(width=width, height=height, edge=edge, step=step), encoding="utf-8")
    return job


def report(name: str, runs: list[tuple[float, float]]) -> float:
    """Print least, middle and greatest seconds and the greatest memory; return the middle."""
    seconds = sorted(run[0] for run in runs)
    middle = statistics.median(seconds)
    print(
        f"{name:<34} {seconds[0]:7.2f} {middle:7.2f} {seconds[-1]:7.2f} s   {max(run[1] for run in runs):6.0f} MB",
        flush=True,
    )
    return middle


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--runs", type=int, default=5)
    parser.add_argument("--wall", action="store_true")
    parser.add_argument("--peer", type=Path)
    options = parser.parse_args()
    print(f"{'':<34} {'least':>7} {'middle':>7} {'most':>7}")
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        if options.wall:
            for width in (7500.0, 15000.0, 30000.0):
                seconds, memory = timed_build(bench_job(folder, width, 3000.0, 1.0))
                print(
                    f"wall of {width / 1000:g} x 3 m: {seconds:.1f} s, {seconds / (width * 3e-3):.2f} s a square metre, {memory:.0f} MB"
                )
            return
        for step in (1.0, 0.5):
            job = bench_job(folder, 1200, 700, step)
            ours = report(f"build, step {step:g} mm", [timed_build(job) for _ in range(options.runs)])
            if step == 1.0:
                report("the same again, unchanged", [timed_build(job, again=True) for _ in range(options.runs)])
            if options.peer and step == 1.0:
                command = [sys.executable, str(options.peer), "--grid", "1", "--strips", "54", "--stages", STAGES]
                lines = [
                    json.loads(subprocess.run(command, capture_output=True, text=True, check=True).stdout)
                    for _ in range(3)
                ]
                theirs = report(
                    "general libraries, grid 1 mm", [(line["total"], line["peak_rss_MB"]) for line in lines]
                )
                print(f"ratio: {theirs / ours:.1f}")


if __name__ == "__main__":
    main()
