"""How fast relaxing is; never part of the test suite.

    python tests/timing/relaxing.py

The hall cabinet with a floor of 4 mm, as it is and with folds of 60 mm, which neither its disc nor its floor can take; what stops it is
cleared, then what is to be looked at too. Seconds are the processor's; each in a process of its own, with the memory that it took.
"""

from __future__ import annotations

import multiprocessing
import resource
import sys
import tempfile
import time
from pathlib import Path

from facade.job import read_job
from facade.relaxing import relax

PRESET = Path(__file__).parents[2] / "presets" / "hall-cabinet.toml"
JOBS = {
    "a floor of 4": {"floor = 8 ": "floor = 4 "},
    "a floor of 4, folds of 60": {"floor = 8 ": "floor = 4 ", "size = 190": "size = 60"},
}


def run(name: str, looks: bool) -> None:
    text = PRESET.read_text("utf-8")
    for old, new in JOBS[name].items():
        text = text.replace(old, new)
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "hall-cabinet.toml"
        path.write_text(text, encoding="utf-8")
        start = time.process_time()
        made = relax(read_job(path), path.parent, looks=looks)
    # Kilobytes, but for macOS, which counts bytes.
    most = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / (2**20 if sys.platform == "darwin" else 2**10)
    print(
        f"{name + (', looks too' if looks else ''):<40} {time.process_time() - start:5.1f} s {most:5.0f} MB, "
        f"{len(made.changes)} changes, {len(made.left)} left"
    )


def main() -> None:
    for name in JOBS:
        for looks in (False, True):
            process = multiprocessing.get_context("spawn").Process(target=run, args=(name, looks))
            process.start()
            process.join()


if __name__ == "__main__":
    main()
