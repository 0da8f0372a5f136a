"""All files of the side route: profiles strip by strip and several at a time, their sizes, and what is to be known of them."""

from __future__ import annotations

import csv
import io
from collections.abc import Iterator, Sequence
from functools import cached_property, partial
from typing import Any

from facade.checks.finding import Finding
from facade.cnc.making import File, Kept, Making, Task, all_made, as_it_is
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


class SideMaking(Making[Kept]):
    """Profiles of every strip and of strips that are cut together, their sizes, and what is to be known of them, while they are made."""

    @cached_property
    def bay(self) -> Bay:
        """Where the strips lie; raises JobError as `bay_of` does."""
        return bay_of(self.front, self.order)

    @cached_property
    def bays(self) -> int:
        """How many of them the board has."""
        return bays_of_board(self.bay)

    @cached_property
    def batches(self) -> list[list[StripPlace]]:
        """What is cut together; raises JobError as `batches` does."""
        return batches(self.bay, self.order)

    @property
    def tasks(self) -> list[Task]:
        """A task for each strip: its files, and its lines, of which all else is made."""
        _ = self.batches, self.bays
        return [partial(self._strip, number) for number in wanted_strips(self.front, self.order)]

    def _strip(self, number: int) -> tuple[Lying, list[Kept]]:
        lying, job = lying_of(self.bay, number), self.front.job
        title = f"{job.title}: strip {number}, mark {self.front.mark}"
        purpose = "one strip on its side: what is cut, what holds it, both edge lines"
        return lying, self.kept(self._both(_strip_stem(self.front, number), [lying], title, purpose))

    def findings(self, results: Iterator[Any]) -> list[Finding]:
        """Return nothing: all that the side route finds wrong it refuses."""
        return []

    def files(self, results: Iterator[Any]) -> Iterator[Kept]:
        """Yield what comes of every file: while copies draw strips one by one, those that are cut together are drawn here."""
        found: dict[int, Lying] = {}
        for index, places in enumerate(self.batches, start=1):
            while not all(place.number in found for place in places):
                lying, kept = next(results)
                found[lying.profile.place.number] = lying
                yield from kept
            yield from self.kept(self._together(index, [found[place.number] for place in places]))
        _remember(self.front, self.order, tuple(found.values()))
        yield from self.kept(_told_files(Told(self.bay, self.order, tuple(found.values()), self.bays)))

    def _together(self, index: int, strips: Sequence[Lying]) -> list[File]:
        title = f"{self.front.job.title}: strips cut together, {index}, mark {self.front.mark}"
        stem = _batch_stem(self.front, index, [one.profile.place for one in strips])
        return self._both(stem, strips, title, "strips that are cut together")

    def _both(self, stem: str, strips: Sequence[Lying], title: str, purpose: str) -> list[File]:
        from facade.exporters.dxf import to_dxf
        from facade.exporters.svg import to_svg

        drawing, origin = side_drawing(self.bay, strips, title, self.bays)
        dxf, svg = to_dxf(drawing, self.front.job.machine_unit, origin), to_svg(with_plain_ids(drawing))
        return [
            (f"{stem}.dxf", dxf.encode("utf-8"), f"{purpose}: for the machine"),
            (f"{stem}.svg", svg.encode("utf-8"), f"{purpose}: to look at, and for what reads SVG"),
        ]


def side_files(front: Front, order: Order) -> Iterator[File]:
    """Yield all files of the side route.

    Raises JobError as `bay_of` and `batches` do.
    """
    return all_made(SideMaking(front, order, as_it_is))


def lying_of(bay: Bay, number: int) -> Lying:
    """Return a strip in its bay, with what is cut of it."""
    profile = profile_of(bay.front, number, bay.blank)
    return Lying(profile, runs_of(bay, profile))


def _told_files(told: Told) -> Iterator[File]:
    """Yield the files that are about all strips."""
    yield SIZES, _sizes(told.front, told.strips).encode("utf-8"), "what a calliper should read on each part"
    yield READ_ME, read_me(told).encode("utf-8"), "read this first: zero, holding, what is cut in which order, layers"
    yield (
        JOB_SHEET,
        job_sheet(told),
        "to be printed and taken to the machine: order of work, cutter, zero, files, holding, what a calliper should read",
    )


_last: tuple[Front, Order, tuple[Lying, ...]] | None = None


def _remember(front: Front, order: Order, found: tuple[Lying, ...]) -> None:
    """Keep what the last strips of an order are, for who tells of them."""
    global _last
    _last = (front, order.as_asked, found)


def _lying_strips(front: Front, order: Order) -> tuple[Lying, ...]:
    """Return the strips of an order in their bays."""
    if _last is None or _last[0] is not front or _last[1] != order.as_asked:
        bay = bay_of(front, order)
        _remember(front, order, tuple(shared_out(partial(lying_of, bay), wanted_strips(front, order))))
    assert _last is not None
    return _last[2]


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
    yield from standing_lines(front, _lying_strips(front, order))
