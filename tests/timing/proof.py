"""How long a proof takes, as processes of its own; never part of the test suite.

python tests/timing/proof.py                     the bench front with its usual pack, with all kinds of sheets, with both routes for machines
python tests/timing/proof.py --kinds             besides, what each kind of file takes one process
"""

from __future__ import annotations

import argparse
import os
import statistics
import subprocess
import sys
import tempfile
import time
from collections import Counter
from pathlib import Path

from build import BENCH, timed

COMMAND = [sys.executable, "-m", "facade"]


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--kinds", action="store_true")
    parser.add_argument("--runs", type=int, default=5)
    options = parser.parse_args()
    with tempfile.TemporaryDirectory() as folder:
        job = Path(folder) / "bench.toml"
        job.write_text(BENCH.format(width=1200, height=700, edge=7, step=1), "utf-8")
        routes = [["build"], ["cnc", "--route", "side"], ["cnc", "--route", "face"]]
        kinds = {"usual pack": [["build"]], "all sheets": [["paper", "--all"]], "both routes": routes}
        for name, commands in kinds.items():
            for command in commands:
                subprocess.run([*COMMAND, *command, str(job), "--out", folder], stdout=subprocess.DEVNULL, check=True)
            runs = [timed([*COMMAND, "proof", f"{folder}/bench"]) for _ in range(options.runs)]
            seconds = [one for one, _ in runs]
            memory = max(peak for _, peak in runs)
            files = sum(path.is_file() for path in (Path(folder) / "bench").rglob("*"))
            print(
                f"{name:12} {files} files: {min(seconds):.2f} to {max(seconds):.2f} s, median {statistics.median(seconds):.2f} s, "
                f"{memory:.0f} MB"
            )
        if options.kinds:
            by_kind(Path(folder) / "bench")


def by_kind(folder: Path) -> None:
    """Print what each kind of file takes, read by one process."""
    os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")
    from facade.proof.readers import reader_of
    from facade.proof.truth import read_truth

    truth = read_truth(folder)
    times: Counter[str] = Counter()
    counts: Counter[str] = Counter()
    for name in truth.files:
        compare = reader_of(name)
        if compare is None:
            continue
        began = time.perf_counter()
        compare(folder / name, name, truth)
        top, _, rest = name.partition("/")
        kind = (
            name.rpartition("-")[2] if top == "paper" else f"{top} {rest.rpartition('.')[2]}" if "cnc-" in top else top
        )
        times[kind] += time.perf_counter() - began
        counts[kind] += 1
    for kind, seconds in times.most_common():
        print(f"{kind:18} {counts[kind]:4} files: {seconds:.3f} s")


if __name__ == "__main__":
    main()
