"""How long the closing by a ball takes beside a general library's, on the same heights in one run; never part of the test suite.

python tests/timing/closing.py            a front of 1.2 x 0.7 m at 1 mm, a gentle and a steep relief, ball of 25 mm
python tests/timing/closing.py --front    the check of the cutter, and all strips fitted to it, on the bench front
"""

from __future__ import annotations

import argparse
import statistics
import time
from collections.abc import Callable
from functools import partial

import numpy as np

from facade.arrays import Array
from facade.checks.cutter import check
from facade.closing import Ball, closing
from facade.front import build_front
from facade.job import Job, make_job

SPACING = (1.0, 1.0)


def relief(slope: float) -> Array:
    """Return six waves of 80 to 180 mm with a greatest slope."""
    chance = np.random.default_rng(1)
    x, y = np.arange(1200.0)[None, :], np.arange(700.0)[:, None]
    z = np.zeros((700, 1200))
    for length, turn, phase in chance.uniform((80.0, 0.0, 0.0), (180.0, 2 * np.pi, 2 * np.pi), (6, 3)):
        z += length * np.sin(2 * np.pi / length * (x * np.cos(turn) + y * np.sin(turn)) + phase)
    steepest: float = np.hypot(*np.gradient(z)).max()
    return z * (slope / steepest)


def milliseconds(work: Callable[[], object], runs: int = 5) -> float:
    """Return the middle of some runs."""
    times = []
    for _ in range(runs):
        began = time.perf_counter()
        work()
        times.append(time.perf_counter() - began)
    return 1e3 * statistics.median(times)


def compare(name: str, slope: float) -> None:
    """Print how long both take, and whether they give the same numbers."""
    from scipy.ndimage import grey_closing

    heights, body = relief(slope), Ball(25.0)
    away = np.arange(-25.0, 26.0)
    below = body.below(away[None, :], away[:, None])
    inside = np.isfinite(below)
    shape = np.where(inside, below, 0.0)
    began = time.perf_counter()
    theirs = grey_closing(heights, footprint=inside, structure=shape)
    library = 1e3 * (time.perf_counter() - began)
    ours = milliseconds(lambda: closing(heights, body, SPACING))
    same = np.array_equal(theirs, closing(heights, body, SPACING))
    print(
        f"{name:<8} slope {slope:.2f}: {ours:6.0f} ms, general library {library:6.0f} ms, {library / ours:4.0f} times; equal bits: {same}"
    )


def checked(job: Job) -> None:
    """Check what the cutter leaves."""
    check(build_front(job))


def cut(job: Job) -> None:
    """Cut all strips."""
    for _ in build_front(job).strips():
        pass


def front_times() -> None:
    """Print how long the check takes, and cutting all strips as designed and fitted to the cutter."""
    for depth in (8, 14, 23):
        job = {
            "title": "Bench",
            "front": {"width": 1200, "height": 700},
            "strips": {"width": 20, "gap": 2, "edge": 7},
            "wood": {"species": "white ash", "blank": 30, "floor": 6},
            "carving": {"fit": "depth", "depth": depth},
            "layers": [{"kind": "hills", "size": 400, "octaves": 5}],
        }
        plain, fitted = (make_job(job | {"cutter": {"fit": fit}}) for fit in (False, True))
        times = [milliseconds(partial(checked, plain), 3)]
        times += [milliseconds(partial(cut, job), 3) for job in (plain, fitted)]
        print(
            f"depth {depth} mm: check {times[0]:.0f} ms; strips {times[1]:.0f} ms, fitted to the cutter {times[2]:.0f} ms"
        )


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--front", action="store_true")
    if parser.parse_args().front:
        front_times()
        return
    compare("gentle", 0.12)
    compare("steep", 0.46)


if __name__ == "__main__":
    main()
