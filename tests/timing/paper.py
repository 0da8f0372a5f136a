"""How long the paper pack takes, as processes of their own; never part of the test suite.

python tests/timing/paper.py                     the whole pack, one strip alone, and the help, of the bench front
python tests/timing/paper.py --kinds             besides, each kind of sheet: planning, drawing, SVG and PDF
python tests/timing/paper.py --used              how much paper each kind takes, how much of it is used, and what area alone asks for
"""

from __future__ import annotations

import argparse
import itertools
import statistics
import sys
import tempfile
import time
from pathlib import Path

from build import BENCH, timed

PARTS = {"whole pack, A4": ["--all"], "strip 17 alone": ["--strip", "17"], "side templates alone": ["--only", "sides"]}


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--kinds", action="store_true")
    parser.add_argument("--used", action="store_true")
    parser.add_argument("--runs", type=int, default=5)
    options = parser.parse_args()
    if options.used:
        for name in ("hall-cabinet", "studio-wall", "curtain-doors"):
            used(Path(__file__).parents[2] / "presets" / f"{name}.toml")
        return
    with tempfile.TemporaryDirectory() as folder:
        job = Path(folder) / "bench.toml"
        job.write_text(BENCH.format(width=1200, height=700, edge=7, step=1), "utf-8")
        for name, asked in PARTS.items():
            command = [sys.executable, "-m", "facade", "paper", str(job), "--out", folder, *asked]
            runs = [timed(command) for _ in range(options.runs)]
            seconds = [one for one, _ in runs]
            memory = max(peak for _, peak in runs)
            print(
                f"{name:24} {min(seconds):.2f} to {max(seconds):.2f} s, median {statistics.median(seconds):.2f} s, {memory:.0f} MB"
            )
        if options.kinds:
            by_kind(job)


def used(job: Path) -> None:
    """Print for each kind of sheet how many there are, how much of their room pieces fill, and the fewest that area would allow."""
    from facade import build_front, read_job
    from facade.paper import Order, doors_printed, pack_of
    from facade.printing.papers import roll_paper, sheet_paper
    from facade.templates.pack import paper_needed, paper_taken
    from facade.templates.piece import Kind
    from facade.templates.ways import sheets_of

    front = build_front(read_job(job))
    for paper in (sheet_paper("A4"), roll_paper(610.0, front.job.ruler)):
        print(f"{job.stem}, way {front.job.way.value}, {paper.name}")
        for kind in Kind:
            sheets = pack_of(front, Order(paper, kinds=(kind,), doors=doors_printed(front))).sheets
            rooms = [sheet.page.room.width * sheet.page.room.height for sheet in sheets]
            fewest = paper_needed(sheets) / max(rooms, default=1.0)
            length = f", {paper_taken(sheets) / paper.short / 1000:.2f} m" if paper.roll else ""
            own = "" if kind in sheets_of(front.job) else "   (of another way)"
            print(
                f"  {kind.value:12} {len(sheets):4} sheets{length}: {paper_needed(sheets) / max(sum(rooms), 1.0):.0%} used, "
                f"by area {fewest:.1f}{own}"
            )


def by_kind(job: Path) -> None:
    """Print what each kind of sheet takes, the strips cut and measured before."""
    from facade import build_front, read_job
    from facade.exporters.pdf import pdf_page, to_pdf
    from facade.exporters.svg import to_svg
    from facade.paper import Order, pack_of
    from facade.printing.papers import sheet_paper
    from facade.templates.piece import Kind

    front = build_front(read_job(job))
    front.measures()
    for kind in Kind:
        times = [time.perf_counter()]
        pack = pack_of(front, Order(sheet_paper("A4"), kinds=(kind,)))
        times.append(time.perf_counter())
        drawings = [drawing for _, drawing in pack.drawings()]
        times.append(time.perf_counter())
        sheets = [to_svg(drawing) for drawing in drawings]
        times.append(time.perf_counter())
        pages = [pdf_page(drawing, svg=svg) for drawing, svg in zip(drawings, sheets, strict=True)]
        to_pdf("bench", pages)
        times.append(time.perf_counter())
        plan, draw, svg, pdf = (after - before for before, after in itertools.pairwise(times))
        print(
            f"{kind.value:12} {len(pages):4} sheets: plan {plan:.3f}, draw {draw:.3f}, SVG {svg:.3f}, PDF {pdf:.3f} s"
        )


if __name__ == "__main__":
    main()
