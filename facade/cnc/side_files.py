"""All files of the side route: profiles strip by strip and several at a time, their sizes, and what is to be known of them."""

from __future__ import annotations

import csv
import io
from collections.abc import Iterator, Sequence
from functools import partial

from facade.cnc.order import Order, strip_word, unit_word, wanted_strips
from facade.cnc.profiles import profile_of
from facade.cnc.side_bays import Bay, batches, bay_of, bays_of_board
from facade.cnc.side_drawing import Lying, side_drawing, with_plain_ids
from facade.cnc.side_notes import READ_ME, SIZES, Told, read_me, standing_lines, which
from facade.cnc.side_runs import runs_of
from facade.cnc.side_sheet import JOB_SHEET, job_sheet
from facade.front import Front
from facade.layout import StripPlace
from facade.lengths import Unit
from facade.processes import shared_out

File = tuple[str, bytes, str]
_COLUMNS = (
    "length",
    "width",
    "greatest height",
    "height at bottom end",
    "height at top end",
    "left bottom finished",
    "right bottom finished",
    "left top finished",
    "right top finished",
)


def side_names(front: Front, order: Order) -> list[str]:
    """Return the names of all files that `side_files` gives; raises JobError where cutter, strips and bed do not go together."""
    found = batches(bay_of(front, order), order)
    stems = [_strip_stem(front, number) for number in wanted_strips(front, order)]
    stems += [_batch_stem(front, index, some) for index, some in enumerate(found, start=1)]
    return [*(f"{stem}.{ending}" for stem in stems for ending in ("dxf", "svg")), SIZES, READ_ME, JOB_SHEET]


def side_files(front: Front, order: Order) -> Iterator[File]:
    """Yield profiles of every strip and of strips that are cut together, their sizes, and what is to be known.

    Raises JobError as `bay_of` and `batches` do.
    """
    bay = bay_of(front, order)
    some, bays = batches(bay, order), bays_of_board(bay)
    lying = {}
    for files, one in shared_out(partial(_strip_files, bay, bays), wanted_strips(front, order)):
        lying[one.profile.place.number] = one
        yield from files
    jobs = [(index, [lying[place.number] for place in places]) for index, places in enumerate(some, start=1)]
    for files in shared_out(partial(_batch_files, bay, bays), jobs):
        yield from files
    told = Told(bay, order, tuple(lying.values()), bays)
    yield SIZES, _sizes(front, told.strips).encode("utf-8"), "what a calliper should read on each part"
    yield READ_ME, read_me(told).encode("utf-8"), "read this first: zero, holding, what is cut in which order, layers"
    yield (
        JOB_SHEET,
        job_sheet(told),
        "to be printed and taken to the machine: order of work, cutter, zero, files, holding, what a calliper should read",
    )


def _strip_files(bay: Bay, bays: int, number: int) -> tuple[list[File], Lying]:
    lying = lying_of(bay, number)
    title = f"{bay.front.job.title}: strip {number}, mark {bay.front.mark}"
    purpose = "one strip on its side: what is cut, what holds it, both edge lines"
    return _both(bay, bays, _strip_stem(bay.front, number), [lying], title, purpose), lying


def lying_of(bay: Bay, number: int) -> Lying:
    """Return a strip in its bay, with what is cut of it."""
    profile = profile_of(bay.front, number, bay.blank)
    return Lying(profile, runs_of(bay, profile))


def _batch_files(bay: Bay, bays: int, batch: tuple[int, list[Lying]]) -> list[File]:
    index, strips = batch
    places = [one.profile.place for one in strips]
    title = f"{bay.front.job.title}: strips cut together, {index}, mark {bay.front.mark}"
    return _both(bay, bays, _batch_stem(bay.front, index, places), strips, title, "strips that are cut together")


def _both(bay: Bay, bays: int, stem: str, strips: Sequence[Lying], title: str, purpose: str) -> list[File]:
    from facade.exporters.dxf import to_dxf
    from facade.exporters.svg import to_svg

    drawing, origin = side_drawing(bay, strips, title, bays)
    return [
        (
            f"{stem}.dxf",
            to_dxf(drawing, bay.front.job.machine_unit, origin).encode("utf-8"),
            f"{purpose}: for the machine",
        ),
        (
            f"{stem}.svg",
            to_svg(with_plain_ids(drawing)).encode("utf-8"),
            f"{purpose}: to look at, and for what reads SVG",
        ),
    ]


def _strip_stem(front: Front, number: int) -> str:
    """Return "strips/strip-07_door-1_right-side-up_18x20x800_mm": width, thickness of the blank and length."""
    place = front.layout.strip(number)
    sizes = "x".join(_size(front, size) for size in (place.width, front.job.blank, place.length))
    return f"strips/strip-{strip_word(front, number)}_door-{place.door}_right-side-up_{sizes}_{unit_word(front)}"


def _size(front: Front, mm: float) -> str:
    unit = front.job.machine_unit
    return f"{mm:.2f}".rstrip("0").rstrip(".") if unit is Unit.MM else f"{mm / unit.in_mm:.3f}"


def _batch_stem(front: Front, index: int, places: Sequence[StripPlace]) -> str:
    first, last = (strip_word(front, place.number) for place in (places[0], places[-1]))
    strips = f"strips-{first}-to-{last}" if first != last else f"strip-{first}"
    return f"together/together-{index:02d}_door-{places[0].door}_{strips}_{unit_word(front)}"


def _sizes(front: Front, strips: Sequence[Lying]) -> str:
    """Return the table of sizes, in the job's unit; heights are those of the face as it is cut, and of both edges when finished."""
    unit = front.job.unit
    text = io.StringIO()
    writer = csv.writer(text, lineterminator="\n")
    writer.writerow(["strip", "door", "file", *(f"{name} {unit.value}" for name in _COLUMNS), "step cuts"])
    for lying in strips:
        one = lying.profile
        place = one.place
        sizes = [place.length, place.width, float(one.outline[:, 1].max()), one.cut[0, 1], one.cut[-1, 1]]
        sizes += [line[end, 1] for end in (0, -1) for line in (one.left, one.right)]
        shown = [f"{size / unit.in_mm:.{2 if unit is Unit.MM else 3}f}" for size in sizes]
        file = f"{_strip_stem(front, place.number)}.dxf"
        writer.writerow([place.number, place.door, file, *shown, len(lying.runs.steps)])
    return text.getvalue()


def side_lines(front: Front, order: Order) -> Iterator[str]:
    """Yield what is said of the route on the screen: what is cut together, what holds it, and what the cutter leaves."""
    machine, bay = front.job.machine, bay_of(front, order)
    for index, places in enumerate(batches(bay, order), start=1):
        yield f"Together {index}: door {places[0].door}, {which(places)}"
    yield f"Held by {machine.hold.value}, a batten behind and stops at both ends (machine.hold); cut: {machine.cut.value} (machine.cut)"
    yield from standing_lines(front, list(shared_out(partial(lying_of, bay), wanted_strips(front, order))))
