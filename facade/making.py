"""Making what comes of each strip: its sheet, its lines of the tables, its solids. Several processes may share the strips.

The bytes do not depend on how many they are.
"""

from __future__ import annotations

import os
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from enum import StrEnum
from pathlib import Path
from typing import TYPE_CHECKING

from facade.exporters.stl import facets, to_stl
from facade.exporters.svg import to_template
from facade.exporters.tables import offsets_rows, parts_row
from facade.files import Written, put
from facade.front import Front, build_front
from facade.job import Job
from facade.measuring import Measures
from facade.mesh import Grid, closed_solid, strip_grid, thinned_grid
from facade.processes import copies_possible, leave_when_told, pool
from facade.slicer import Strip
from facade.templates.sides import side_sheet

if TYPE_CHECKING:
    from multiprocessing.connection import Connection

# The whole front in one file is for looking at: its facets stay this close to the surface, mm, while there are at most so
# many heights in it; a wall gets a coarser picture instead of a file that nothing opens. What a phone shows may be coarser.
SOLID_TOLERANCE = 0.01
VIEW_TOLERANCE = 0.05
MOST_HEIGHTS = 600_000
# From so many heights on, several processes are quicker than one, by how they start: as copies of this one, or anew.
WORTH_COPIES = 200_000
WORTH_NEW = 6_000_000


class Output(StrEnum):
    """What can be made."""

    SIDES = "sides"
    STRIPS = "strips"
    OFFSETS = "offsets"
    PARTS = "parts"
    SOLID = "solid"
    VIEW = "view"
    PICTURE = "picture"
    REPORT = "report"
    CHECK = "check"
    PAPER = "paper"
    CNC_SIDE = "cnc-side"
    CNC_FACE = "cnc-face"


# What a build makes unless it is asked for something else; and what needs no strip to be made.
USUAL = tuple(output for output in Output if output not in (Output.CNC_SIDE, Output.CNC_FACE))
_WITHOUT_STRIPS = {Output.PICTURE, Output.REPORT, Output.CHECK, Output.PAPER, Output.CNC_SIDE, Output.CNC_FACE}
Wanted = frozenset[Output]


@dataclass(frozen=True)
class StripMade:
    """What comes of one strip: files already written, lines for the tables, its part of the whole front.

    `whole` and `view` are its heights on fewer rows and columns, and the tolerance that they keep, mm.
    """

    measures: Measures
    side: Written | None
    solid: Written | None
    offsets: str
    parts: str
    whole: tuple[Grid, float] | None
    view: tuple[Grid, float] | None


def side_name(front: Front, number: int) -> str:
    """Return the name of a strip's side sheet."""
    return f"sides/{_strip_name(front, number)}.svg"


def solid_name(front: Front, number: int) -> str:
    """Return the name of a strip's solid; an STL holds no unit, so the name does."""
    return f"strips/{_strip_name(front, number)}_mm.stl"


def _strip_name(front: Front, number: int) -> str:
    """Return "strip-07": numbers padded so that names sort as the strips hang."""
    return f"strip-{number:0{max(2, len(str(front.count)))}d}"


def worthwhile_workers(front: Front) -> int:
    """Return how many processes pay for a front of this size."""
    step = front.job.sampling.step
    heights = sum(strip.width * strip.length for strip in front.layout.strips) / (step * step)
    return max(1, os.cpu_count() or 1) if heights > (WORTH_COPIES if copies_possible() else WORTH_NEW) else 1


@contextmanager
def strips_being_made(
    front: Front, fresh: Path, wanted: Wanted, workers: int, *, cleared: bool = True
) -> Iterator[Iterator[StripMade]]:
    """Start making every strip into the folder `fresh`, and give the results in order as they come.

    Sheets of a front that is not `cleared` say so. With more than one worker the strips are made while the caller does something else.
    """
    numbers = front.numbers if wanted - _WITHOUT_STRIPS else ()
    if workers == 1 or not numbers:
        yield (make_strip(front, number, fresh, wanted, cleared=cleared) for number in numbers)
        return
    start = "fork" if copies_possible() else "spawn"
    # A copy has the front already; a process that starts anew makes it.
    given = front if start == "fork" else front.job
    with pool(workers, start, _start_worker, (given, fresh, wanted, cleared)) as shared:
        yield shared.map(_make_in_worker, numbers, chunksize=4)


_worker: tuple[Front, Path, Wanted, bool] | None = None


def _start_worker(told: Connection, given: Front | Job, fresh: Path, wanted: Wanted, cleared: bool) -> None:
    global _worker
    leave_when_told(told)
    _worker = (given if isinstance(given, Front) else build_front(given), fresh, wanted, cleared)


def _make_in_worker(number: int) -> StripMade:
    assert _worker is not None
    front, fresh, wanted, cleared = _worker
    return make_strip(front, number, fresh, wanted, cleared=cleared)


def make_strip(front: Front, number: int, fresh: Path, wanted: Wanted, *, cleared: bool = True) -> StripMade:
    """Make all that one strip gives; a pure function of job and number but for the files it writes."""
    strip, most = front.strip(number), max(32, MOST_HEIGHTS // front.count)
    return StripMade(
        measures=front.measures_of(number),
        side=_put_side(front, strip, fresh, cleared=cleared) if Output.SIDES in wanted else None,
        solid=_put_solid(front, strip, fresh) if Output.STRIPS in wanted else None,
        offsets=offsets_rows(front, strip) if Output.OFFSETS in wanted else "",
        parts=parts_row(front, strip) if Output.PARTS in wanted else "",
        whole=thinned_grid(strip, SOLID_TOLERANCE, most) if Output.SOLID in wanted else None,
        view=thinned_grid(strip, VIEW_TOLERANCE, most) if Output.VIEW in wanted else None,
    )


def _put_side(front: Front, strip: Strip, fresh: Path, *, cleared: bool) -> Written:
    return put(fresh, side_name(front, strip.number), to_template(side_sheet(front, strip, cleared=cleared)))


def _put_solid(front: Front, strip: Strip, fresh: Path) -> Written:
    header = f"facade, unit mm, mark {front.mark}, strip {strip.number} of {front.count}, back at z = 0"
    data = to_stl([facets(closed_solid(strip_grid(strip)))], header)
    return put(fresh, solid_name(front, strip.number), data)
