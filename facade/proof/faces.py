"""Lines of equal depth as they are read: wherever one runs, the surface is as deep below the raw face as one of the steps."""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

import numpy as np

from facade.arrays import Array
from facade.layout import StripPlace
from facade.lengths import MM_PER_INCH
from facade.proof.svg import Line, Sheet, Word
from facade.proof.truth import ROUNDING, Truth
from facade.slicer import stations

# Steps of depth, mm, finest first, and every how many of them a line is heavier; no more of them than the last over the whole depth.
_STEPS = {
    "mm": ((2.0, 5), (5.0, 2), (10.0, 5)),
    "in": ((MM_PER_INCH / 16, 4), (MM_PER_INCH / 8, 4), (MM_PER_INCH / 4, 4)),
}
_MOST = 14
_HEAVY, _LIGHT = 0.4, 0.22
# Lines are drawn through heights 1 mm apart: between these the surface bends away from them, more where it is rough.
_GRID = 1.0
_LEAST = 0.02
# Where the surface is all but level a tick may rise by so much, mm.
_LEVEL = 0.02
_HEAD = re.compile(r"Door (\d+)(?:: column \d+ of \d+, part \d+ of \d+)? · (.+?) to (.+) from TOP")


@dataclass(frozen=True)
class FaceRead:
    """What came of the lines on one strip's face: its number, their points, how far they are off in depth, mm, and the faults."""

    strip: int
    points: int
    deviation: float
    faults: tuple[str, ...]


def spacing(truth: Truth) -> tuple[float, int]:
    """Return by how much lines of equal depth are apart, mm, and every how many of them one is heavier."""
    deepest = truth.front.job.blank - truth.front.surface.floor
    steps = _STEPS[truth.front.job.unit.value]
    return next((one for one in steps if deepest / one[0] <= _MOST), steps[-1])


def compare_depths(
    lines: Sequence[tuple[Line, Array]], place: StripPlace, truth: Truth, words: Sequence[tuple[float, str]] = ()
) -> FaceRead:
    """Return what comes of lines of equal depth on a strip, each with its places (n, 2), mm from its left edge and its top.

    `words` are the depths that are written on its middle line, each with where the line crosses it that it is of, mm from the top.
    """
    step, heavy = spacing(truth)
    worst, faults = 0.0, []
    said = list(_said_faults(lines, place, words, truth))
    if not lines:
        return FaceRead(place.number, 0, 0.0, tuple(said))
    for line, at in lines:
        depths = _depths(at, place, truth)
        index = int(np.rint(np.median(depths) / step))
        off, near = np.abs(depths - index * step), _allowed(at, place, truth)
        worst = max(worst, float(off.max()))
        if not (off <= near).all():
            faults.append(
                f"strip {place.number}: a line of depth {truth.length(index * step)} runs where the surface is "
                f"{truth.length(float(depths[int((off - near).argmax())]))} deep"
            )
        elif (abs(line.stroke.width - (_HEAVY if index % heavy == 0 else _LIGHT)) > 0.01) and line.stroke.width:
            faults.append(
                f"strip {place.number}: the line of depth {truth.length(index * step)} is not as heavy as it should be"
            )
    return FaceRead(place.number, sum(len(at) for _, at in lines), worst, (*faults[:2], *said[:1]))


def _said_faults(
    lines: Sequence[tuple[Line, Array]], place: StripPlace, words: Sequence[tuple[float, str]], truth: Truth
) -> Iterator[str]:
    """Yield depths that are written where no line of that depth is."""
    if not words:
        return
    step, _ = spacing(truth)
    near_middle = [at[np.abs(at[:, 0] - place.width / 2) <= place.width / 4 + 0.01] for _, at in lines]
    depths = [step * float(np.rint(np.median(_depths(at, place, truth)) / step)) for _, at in lines]
    for where, text in words:
        there = [
            depth for at, depth in zip(near_middle, depths, strict=True) if (np.abs(at[:, 1] - where) < 0.01).any()
        ]
        if not any(abs(depth - truth.read_number(text)) <= truth.printed_rounding(1) for depth in there):
            yield f"strip {place.number}: says depth {text} {truth.length(where)} from the top, where no such line is"


def _depths(at: Array, place: StripPlace, truth: Truth) -> Array:
    x = np.clip(place.left + at[:, 0], place.left, place.right)
    y = np.clip(place.top - at[:, 1], place.bottom, place.top)
    found: Array = truth.front.job.blank - truth.front.surface.at(x, y)
    return found


def _allowed(at: Array, place: StripPlace, truth: Truth) -> Array:
    """Return how far the depth under a line may be off, (n,) mm: by what the surface does within the grid that lines are drawn on."""
    around = [(dx, dy) for dx in (-_GRID, 0.0, _GRID) for dy in (-_GRID, 0.0, _GRID) if dx or dy]
    middle = _depths(at, place, truth)
    bend = np.zeros(len(at))
    for dx, dy in around[:4]:
        one, other = (_depths(at + np.array([way * dx, way * dy]), place, truth) for way in (1.0, -1.0))
        bend = np.maximum(bend, np.abs(one + other - 2.0 * middle))
    found: Array = _LEAST + bend
    return found


def compare_faces(sheet: Sheet, truth: Truth) -> Iterator[FaceRead]:
    """Yield what comes of every strip on the full-size tiles of a sheet in true mm; reduced doors are for looking at."""
    strips = [line for line in sheet.lines if line.name.startswith("strip-") and len(line.points) == 4]
    depths = [line for line in sheet.lines if line.kind == "depth"]
    heads = [(word, found) for word in sheet.words if (found := _HEAD.fullmatch(word.text))]
    for line in strips:
        (left, low), (right, top) = line.points.min(axis=0), line.points.max(axis=0)
        number = _number(sheet.words, (left + right) / 2, top)
        head = min(
            (one for one in heads if one[0].y > top and one[0].x <= right),
            key=lambda one: (one[0].y - top, -one[0].x),
            default=None,
        )
        if number is None or head is None or number not in truth.front.numbers:
            yield FaceRead(0, 0, 0.0, ("a strip on a tile bears no number",))
            continue
        place = truth.front.layout.strip(number)
        start, end = (_station(text, place.length, truth) for text in (head[1][2], head[1][3]))
        if start is None or end is None or abs(end - start - (top - low)) > ROUNDING or place.door != int(head[1][1]):
            yield FaceRead(
                number, 0, 0.0, (f"strip {number}: its tile is not of the stretch, or the door, that it says",)
            )
            continue
        if abs(right - left - place.width) > ROUNDING:
            yield FaceRead(number, 0, 0.0, (f"strip {number}: is {truth.length(right - left)} wide on its tile",))
            continue
        own = [
            one
            for one in depths
            if (one.points >= np.array([left, low]) - 0.01).all()
            and (one.points <= np.array([right, top]) + 0.01).all()
        ]
        words = [
            (top - word.y - 1.0 + start, word.text)
            for word in depth_words(sheet.words)
            if left < word.x < right and low < word.y < top
        ]
        placed = [(one, np.column_stack([one.points[:, 0] - left, top - one.points[:, 1] + start])) for one in own]
        read = compare_depths(placed, place, truth, words)
        ticks = [
            np.column_stack([one.points[:, 0] - left, top - one.points[:, 1] + start])
            for one in sheet.lines
            if one.kind == "falls" and _is_within(one.points, (left, low), (right, top))
        ]
        yield replace(read, faults=(*read.faults, *fall_faults(ticks, place, truth)))


def _is_within(points: Array, low: tuple[float, float], high: tuple[float, float]) -> bool:
    return bool((points >= np.array(low) - 0.01).all() and (points <= np.array(high) + 0.01).all())


def fall_faults(ticks: Sequence[Array], place: StripPlace, truth: Truth) -> Iterator[str]:
    """Yield ticks, each from a line of equal depth to where it is deeper (2 n, 2), mm from the left edge and the top, that rise."""
    for one in ticks:
        depths = _depths(one, place, truth)
        if (depths[1::2] < depths[::2] - _LEVEL).any():
            yield f"strip {place.number}: has a tick on the higher side of a line"
            return


def _number(words: Sequence[Word], x: float, top: float) -> int | None:
    near = [
        word
        for word in words
        if word.text.isdigit() and word.bold and abs(word.x - x) < 0.01 and abs(word.y - top - 1.6) < 0.01
    ]
    return int(near[0].text) if near else None


def _station(text: str, length: float, truth: Truth) -> float | None:
    """Return the station next to words that name it to a whole mm, None where there is none such."""
    try:
        said = truth.read_number(text.removesuffix(truth.front.job.unit.value))
    except (ValueError, ZeroDivisionError):
        return None
    marks = stations(length, truth.front.job.station)
    nearest = float(marks[np.abs(marks - said).argmin()])
    return nearest if abs(nearest - said) <= truth.printed_rounding(0) else None


def depth_words(words: Sequence[Word]) -> list[Word]:
    """Return the words that stand on lines of equal depth: plain figures in the middle of their place."""
    return [
        word for word in words if word.anchor == "middle" and not word.bold and re.fullmatch(r"\d[\d ./]*", word.text)
    ]
