"""Profiles for strips that lie on their side: what a straight cutter cuts, with both edge lines, strip by strip and several at a time.

A strip lies on its LEFT side and is seen from its right: its back along the bottom, its BOTTOM end at the left, its TOP end at the right.
Both edge lines are drawn in this one view, so that nothing is mirrored. The zero of each file is the lower left corner of the strip's
back; in a file of several strips that of the first.
"""

from __future__ import annotations

import csv
import io
import math
import textwrap
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from functools import partial

import numpy as np

from facade.arrays import Array
from facade.cnc.fixture import KEEP_OFF, MOST, neighbours, shared_evenly
from facade.cnc.order import Order, strip_word, unit_word, wanted_strips
from facade.cnc.strokes import strokes
from facade.drawing import Drawing, Pen
from facade.errors import mistake
from facade.front import Front
from facade.layout import StripPlace
from facade.lengths import MM_PER_INCH, Unit
from facade.measuring.screws import pilot_hole
from facade.processes import shared_out
from facade.slicer import edge_heights
from facade.thinning import thin_each
from facade.wood.species import species

SIZES, READ_ME = "sizes.csv", "read-me.txt"
# No straight piece of a profile is shorter than this, mm: machines hesitate at shorter ones (common practice).
SHORTEST = 0.2
# Side of the proof square, mm, in each unit.
SQUARE = {Unit.MM: 100.0, Unit.INCH: 4 * MM_PER_INCH}
# Mm: white round a drawing; the least width of a stop behind a strip, and what the cutter keeps off it; figures, and where they stand.
_MARGIN = 5.0
_STOP, _OFF_STOP = 3.0, 1.0
_FIGURES, _FIGURES_IN, _FIGURES_UP = 5.0, 8.0, 1.5
# A hollow in which less than this is left standing is not worth a word, mm.
_WORTH = 0.05

File = tuple[str, bytes, str]


@dataclass(frozen=True)
class Profile:
    """One strip's lines, each (points, 2): mm from its BOTTOM end and above its back.

    `cut` is what the cutter follows along the face; `standing` is what it leaves there in hollows tighter than itself, mm, and
    `standing_at` where from the TOP end; `twist` is the most that the two edges differ, mm.
    """

    place: StripPlace
    cut: Array
    saw: Array
    left: Array
    right: Array
    standing: float
    standing_at: float
    twist: float

    @property
    def outline(self) -> Array:
        """The closed run that is cut: back, both ends and face, counter-clockwise."""
        length = self.place.length
        return np.concatenate([[[0.0, 0.0], [length, 0.0]], self.cut[::-1]])


def profile_of(front: Front, number: int) -> Profile:
    """Return the profile of a strip, straight lines within the job's tolerance of it; raises JobError for a strip that is not there."""
    job, place = front.job, front.layout.strip(number)
    count = math.floor(place.length / SHORTEST)
    x = np.linspace(0.0, place.length, count + 1)
    left, right = edge_heights(front.surface, place, place.length - x)
    higher, tolerance = np.maximum(left, right), job.machine.side.tolerance
    crossings = _crossings(x, left, right)
    cut = _capped(x, higher, crossings, job.wood.sanding, job.wood.blank, tolerance)
    standing = _left_standing(x, np.minimum(higher + job.wood.sanding, job.wood.blank), job.machine.side.cutter / 2)
    worst = int(standing.argmax())
    return Profile(
        place=place,
        cut=cut,
        saw=_capped(x, higher, crossings, job.wood.sawing, job.wood.blank, tolerance),
        left=_thinned(x, left, tolerance),
        right=_thinned(x, right, tolerance),
        standing=float(standing[worst]),
        standing_at=place.length - float(x[worst]),
        twist=float(np.abs(left - right).max()),
    )


def _crossings(x: Array, one: Array, other: Array) -> Array:
    """Return where two lines cross between two places, (crossings, 3): the place before, x and height, mm."""
    apart = one - other
    at = np.flatnonzero(apart[:-1] * apart[1:] < 0.0)
    share = apart[at] / (apart[at] - apart[at + 1])
    return np.column_stack([at, x[at] + share * (x[at + 1] - x[at]), one[at] + share * (one[at + 1] - one[at])])


def _capped(x: Array, higher: Array, crossings: Array, more: float, cap: float, tolerance: float) -> Array:
    """Return the line that runs `more` above the higher edge and nowhere above the cap, (points, 2), its corners kept."""
    line = higher + more
    corners = crossings + np.array([0.0, 0.0, more])
    corners = np.concatenate([corners[corners[:, 2] < cap], _crossings(x, line, np.full(len(x), cap))])
    return _thinned(x, np.minimum(line, cap), tolerance, corners)


def _thinned(x: Array, line: Array, tolerance: float, corners: Array | None = None) -> Array:
    """Return a line with as few places as stay close to it; a corner between two places takes the place of both."""
    keep = thin_each(line[None], tolerance / 2)[0]
    places = np.column_stack([x, line])
    if corners is None or not len(corners):
        return np.asarray(places[keep])
    before = corners[:, 0].astype(np.intp)
    inner = corners[(before > 1) & (before < len(x) - 3)]
    # Corners in neighbouring cells would stand too close: the first of them is kept.
    inner = inner[np.argsort(inner[:, 0], kind="stable")]
    apart = np.r_[True, np.diff(inner[:, 0]) > 3] if len(inner) else np.empty(0, dtype=bool)
    inner = inner[apart]
    before = inner[:, 0].astype(np.intp)
    keep[before - 1] = keep[before + 2] = True
    keep[before] = keep[before + 1] = False
    found = np.concatenate([places[keep], inner[:, 1:]])
    return found[np.argsort(found[:, 0], kind="stable")]


def _left_standing(x: Array, line: Array, radius: float) -> Array:
    """Return what a straight cutter that runs along above a line leaves standing on it, mm: its closing by the circle."""
    step = float(x[1] - x[0])
    reach = math.floor(radius / step)
    offsets = np.arange(-reach, reach + 1)
    rise = radius - np.sqrt(radius * radius - (offsets * step) ** 2)
    # Beyond both ends the line goes on as it leaves them.
    wide = np.pad(line, 2 * reach, mode="reflect", reflect_type="odd")
    middles = np.max([wide[reach + i : len(wide) - reach + i] - rise[i + reach] for i in offsets.tolist()], axis=0)
    closed = np.min([middles[reach + i : len(middles) - reach + i] + rise[i + reach] for i in offsets.tolist()], axis=0)
    return np.asarray(np.maximum(closed - line, 0.0))


def side_names(front: Front, order: Order) -> list[str]:
    """Return the names of all files that `side_files` gives; raises JobError where cutter, strips and bed do not go together."""
    stems = [_strip_stem(front, number) for number in wanted_strips(front, order)]
    stems += [_batch_stem(front, index, some) for index, some in enumerate(batches(front, order), start=1)]
    return [*(f"{stem}.{ending}" for stem in stems for ending in ("dxf", "svg")), SIZES, READ_ME]


def side_files(front: Front, order: Order) -> Iterator[File]:
    """Yield profiles of every strip and of strips that are cut together, their sizes, and what is to be known.

    Raises JobError for a cutter that is too short, a way between stops that is too narrow for it, and a bed that is too small.
    """
    numbers, some = wanted_strips(front, order), batches(front, order)
    profiles = []
    for files, profile in shared_out(partial(_strip_files, front), numbers):
        profiles.append(profile)
        yield from files
    by_number = {profile.place.number: profile for profile in profiles}
    for index, places in enumerate(some, start=1):
        drawing, origin = _drawing(front, [by_number[place.number] for place in places], index)
        stem = _batch_stem(front, index, places)
        yield from _both(front, stem, drawing, origin, "profiles of strips that are cut together on one fixture")
    yield SIZES, _sizes(front, profiles).encode("utf-8"), "what a calliper should read on each part"
    yield (
        READ_ME,
        _read_me(front, order, profiles).encode("utf-8"),
        "read this first: zero, view, layers, what is left on",
    )


def _strip_files(front: Front, number: int) -> tuple[list[File], Profile]:
    profile = profile_of(front, number)
    drawing, origin = _drawing(front, [profile])
    purpose = "profile of one strip on its side, both edge lines in it"
    return list(_both(front, _strip_stem(front, number), drawing, origin, purpose)), profile


def _both(front: Front, stem: str, drawing: Drawing, origin: tuple[float, float], purpose: str) -> Iterator[File]:
    from facade.exporters.dxf import to_dxf
    from facade.exporters.svg import to_svg

    yield f"{stem}.dxf", to_dxf(drawing, front.job.machine_unit, origin).encode("utf-8"), f"{purpose}: for the machine"
    yield f"{stem}.svg", to_svg(drawing).encode("utf-8"), f"{purpose}: to look at, and for what reads SVG"


def _strip_stem(front: Front, number: int) -> str:
    """Return "strip-07_door-1_right-side-up_18x20x800_mm": width, thickness of the blank and length."""
    place = front.layout.strip(number)
    sizes = "x".join(_size(front, size) for size in (place.width, front.job.wood.blank, place.length))
    return f"strips/strip-{strip_word(front, number)}_door-{place.door}_right-side-up_{sizes}_{unit_word(front)}"


def _size(front: Front, mm: float) -> str:
    unit = front.job.machine_unit
    return f"{mm:.2f}".rstrip("0").rstrip(".") if unit is Unit.MM else f"{mm / unit.in_mm:.3f}"


def _batch_stem(front: Front, index: int, places: Sequence[StripPlace]) -> str:
    first, last = (strip_word(front, place.number) for place in (places[0], places[-1]))
    strips = f"strips-{first}-to-{last}" if first != last else f"strip-{first}"
    return f"together/together-{index:02d}_door-{places[0].door}_{strips}_{unit_word(front)}"


def batches(front: Front, order: Order) -> list[list[StripPlace]]:
    """Return the strips that are cut together, from the left; raises JobError as `side_files` does."""
    _refuse_short_cutter(front, order)
    apart = room_between(front)
    found = []
    for run in neighbours(front, wanted_strips(front, order)):
        found += shared_evenly(run, _most(front, run[0].length, apart))
    return found


def _refuse_short_cutter(front: Front, order: Order) -> None:
    length, show = front.job.machine.side.length, front.job.ruler.text
    widest = max(front.layout.strip(number).width for number in wanted_strips(front, order))
    if length is not None and length < widest:
        raise mistake(
            "machine.side.length",
            f"`machine.side.length` must be at least the strips' width of {show(widest, 3)} (got {show(length, 3)}): take a cutter with a "
            "longer edge",
        )


def room_between(front: Front) -> float:
    """Return the room between two blanks that are cut together, mm; raises JobError where the cutter does not pass beside a stop."""
    side, show = front.job.machine.side, front.job.ruler.text
    apart = 2.0 * side.cutter if side.apart is None else side.apart
    least = side.cutter + _OFF_STOP + _STOP
    if apart < least:
        raise mistake(
            "machine.side.apart",
            f"`machine.side.apart` must be at least {show(least, 3)}: a cutter of {show(side.cutter, 3)} must pass between a strip and the "
            f"stop of the next (got {show(apart, 3)}): lay the strips further apart, or take a thinner cutter",
        )
    return apart


def _most(front: Front, length: float, apart: float) -> int:
    """Return how many strips the bed takes; raises JobError where it takes none, or fewer than were asked for."""
    machine, show = front.job.machine, front.job.ruler.text
    most = machine.strips or MOST
    if machine.bed is None:
        return most
    across, along = machine.bed
    over = 2.0 * machine.side.cutter
    if length + over > along:
        raise mistake(
            "machine.bed",
            f"`machine.bed` must reach at least {show(length + over)} along strips of {show(length)} with the cutter's way round them "
            f"(got {show(along)}): take a machine that reaches further",
        )
    fit = math.floor((across - over + apart) / (front.job.wood.blank + apart) + 1e-9)
    if fit < (machine.strips or 1):
        raise mistake(
            "machine.strips" if fit else "machine.bed",
            f"`machine.bed` reaches {show(across)} across, enough for {max(fit, 0)} strips on their sides with the cutter between them "
            f"(got `machine.strips` of {machine.strips or 1}): take fewer strips at a time",
        )
    return min(most, fit)


def _drawing(front: Front, profiles: Sequence[Profile], index: int = 0) -> tuple[Drawing, tuple[float, float]]:
    """Return the drawing of some strips one above the other, and where on it the files' zero is."""
    job, length = front.job, profiles[0].place.length
    around, square = job.machine.side.cutter + KEEP_OFF, SQUARE[job.unit]
    pitch = job.wood.blank + room_between(front)
    low = around + KEEP_OFF + square
    origin = (_MARGIN + around, _MARGIN + low)
    height = (len(profiles) - 1) * pitch + job.wood.blank
    wide = max(length, square) + 2 * around
    name = f"strip {profiles[0].place.number}" if not index else f"strips cut together, {index}"
    drawing = Drawing(
        wide + 2 * _MARGIN, height + low + around + 2 * _MARGIN, f"{job.title}: {name}, mark {front.mark}"
    )
    parts = Drawing(0.0, 0.0, "")
    parts.shape(_box(0.0, square, -low, -low + square), Pen.RULE, "proof square")
    for up, profile in enumerate(profiles):
        one = Drawing(0.0, 0.0, "")
        _draw_strip(one, front, profile)
        if index:
            stop = pitch - job.wood.blank - job.machine.side.cutter - _OFF_STOP
            one.shape(_box(0.0, length, -stop, 0.0), Pen.BOX, "stops")
        parts.put(one, 0.0, up * pitch)
    parts.shape(_box(-around, length + around, -around, height + around), Pen.FOLD, "keep-out")
    drawing.put(parts, *origin)
    return drawing, origin


def _box(left: float, right: float, bottom: float, top: float) -> list[list[float]]:
    return [[left, bottom], [right, bottom], [right, top], [left, top]]


def _draw_strip(drawing: Drawing, front: Front, profile: Profile) -> None:
    """Draw what is cut, what is marked, and the blank that it is cut from."""
    job, place = front.job, profile.place
    drawing.shape(profile.outline, Pen.CUT, "outline")
    drawing.line(profile.left, Pen.FINISHED, "left line")
    drawing.line(profile.right, Pen.CARVE, "right line")
    drawing.line(profile.saw, Pen.SAW, "saw line")
    drawing.shape(_box(0.0, place.length, 0.0, job.wood.blank), Pen.OUTLINE, "blank")
    pilot = pilot_hole(job.fixing.shank, softwood=species(job.wood.species).softwood)
    for screw in front.measures_of(place.number).screws.screws:
        middle = place.length - screw.from_top
        drawing.shape(_box(middle - pilot / 2, middle + pilot / 2, 0.0, screw.bite), Pen.HOLE, "screw pilots")
    near = profile.cut[:, 0] < _FIGURES_IN + 5 * _FIGURES
    room = float(np.minimum(profile.left[:, 1].min(), profile.cut[near, 1].min())) - 2 * _FIGURES_UP
    size = min(_FIGURES, max(room, 1.0))
    for run in strokes(str(place.number), _FIGURES_IN, _FIGURES_UP, size):
        drawing.line(run, Pen.FINISHED, "number")


def _sizes(front: Front, profiles: Sequence[Profile]) -> str:
    """Return the table of sizes, in the job's unit; heights are those of the outline as it is cut, and of both edges when finished."""
    unit = front.job.unit
    head = ["strip", "door", "file"]
    head += [
        f"{name} {unit.value}"
        for name in (
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
    ]
    text = io.StringIO()
    writer = csv.writer(text, lineterminator="\n")
    writer.writerow(head)
    for one in profiles:
        place = one.place
        sizes = [place.length, place.width, float(one.outline[:, 1].max()), one.cut[0, 1], one.cut[-1, 1]]
        sizes += [line[end, 1] for end in (0, -1) for line in (one.left, one.right)]
        shown = [f"{size / unit.in_mm:.{2 if unit is Unit.MM else 3}f}" for size in sizes]
        writer.writerow([place.number, place.door, f"{_strip_stem(front, place.number)}.dxf", *shown])
    return text.getvalue()


def standing_lines(front: Front, profiles: Sequence[Profile]) -> Iterator[str]:
    """Yield the strips in whose hollows the cutter leaves wood standing, the worst first, at most three of them."""
    show = front.job.ruler.text
    worst = sorted((one for one in profiles if one.standing > _WORTH), key=lambda one: -one.standing)
    for one in worst[:3]:
        yield (
            f"Strip {one.place.number}: the cutter leaves {show(one.standing, 2)} standing in a hollow {show(one.standing_at)} from the "
            "TOP end, which is tighter than itself. Carve it by hand, or take a thinner cutter."
        )
    if len(worst) > 3:
        yield f"{len(worst) - 3} more strips have such hollows."


def _read_me(front: Front, order: Order, profiles: Sequence[Profile]) -> str:
    return "\n".join(textwrap.fill(line, 100, subsequent_indent="  ") for line in _text(front, order, profiles)) + "\n"


def _text(front: Front, order: Order, profiles: Sequence[Profile]) -> Iterator[str]:
    job, show = front.job, front.job.ruler.text
    side = job.machine.side
    square = "100 mm" if job.unit is Unit.MM else "4 in"
    read = "100.00" if job.unit is Unit.MM else "4.000"
    yield f"{job.title}, mark {front.mark}"
    if not order.cleared:
        yield "NOT CLEARED: the checks stop this front. Cut nothing from these files."
    yield ""
    yield f"DXF is in {'mm' if job.machine_unit is Unit.MM else 'inches'}, as its header and its name say; SVG is true to size."
    yield (
        "Each strip lies on its LEFT side, its right side up: back along the bottom, BOTTOM end at the left, TOP end at the right. Zero is "
        "the lower left corner of its back; in a file of several strips that of the first."
    )
    yield ""
    yield "Layers"
    yield f"  proof square: {square} each way. Measure it before anything is cut."
    yield (
        f"  outline: what is cut. Along the face it runs {show(job.wood.sanding, 2)} above the HIGHER of the two finished edges, level "
        "across the strip, and nowhere above the blank."
    )
    yield "  left line, right line: the finished height along both edges."
    yield f"  saw line: {show(job.wood.sawing, 2)} above the higher edge, for a bandsaw instead."
    yield "  screw pilots: the final holes, in the back. blank: the wood as milled. number: to be engraved."
    yield "  stops: behind each strip that is cut together with others. keep-out: clamps and screws stay outside it."
    yield ""
    yield (
        f"Cutter: straight, {show(side.cutter, 3)}, its edge at least {show(max(one.place.width for one in profiles), 2)} long. Cut with "
        "its outside on the outline, as the machine's own program sets it off."
    )
    yield (
        f"What is left for fairing by hand: the face is cut level across the strip, so that the lower edge keeps up to "
        f"{show(max(one.twist for one in profiles), 1)} more than the sanding allowance."
    )
    yield from standing_lines(front, profiles)
    yield ""
    yield f"Before the first strip: the proof square must measure {read}; cut strip {profiles[0].place.number} in scrap, and read its"
    yield f"sizes with a calliper against {SIZES}."
    yield ""
    yield (
        "Cautions. Narrow strips on their side are hard to hold: stops on both sides and at both ends, clamps outside the keep-out, no "
        "hand near the cutter. Check zero, stock and clamps; run the file in the air first; stay by the machine. Eye, ear and dust "
        "protection. Local rules, the manuals of machine and cutter, and trained practice come first."
    )
