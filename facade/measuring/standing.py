"""What the cutter leaves standing on each strip, which hollows are tight for a disc, and which cutter would clear them."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from facade.arrays import Array
from facade.closing import Body, Disc, Window
from facade.layout import StripPlace
from facade.measuring.close import PLACES_PER_WAVE
from facade.measuring.resting import Rest, rest_near
from facade.reach import Face

# Half of the base over which the radius of a hollow is measured, mm.
BASE = 4.0
_AT_ONCE = 1_500_000  # heights that are looked at in one go
_CLOSEST = 0.1  # mm between two rows
# A strip's worst places are looked at closely, so many at most; what is this near, mm, is one place.
_LOOKED_AT, _ONE_PLACE = 4, 4.0
_HARDLY = 0.03  # mm by which another place may be worse
_COUNTS = 0.1  # mm that a disc would leave: less is a ripple, no hollow

Marks = NDArray[np.bool_]


@dataclass(frozen=True)
class Standing:
    """Wood left on a strip: how much at its worst place, where on its face, on which area, in which rows and columns."""

    face: int
    strip: StripPlace
    height: float
    x: float
    y: float
    area: float
    window: Window


@dataclass(frozen=True)
class Tight:
    """The tightest hollow along a strip: its radius and where it is; `line` is 0 the left edge, 1 the middle, 2 the right."""

    strip: StripPlace
    radius: float
    y: float
    line: int


@dataclass(frozen=True)
class Band:
    """Neighbouring strips that are looked at in one go: their columns on the face, and what is left on each place."""

    number: int
    face: Face
    strips: tuple[StripPlace, ...]
    columns: tuple[slice, ...]
    above: Array

    def parts(self) -> Iterator[tuple[StripPlace, slice, slice]]:
        """Yield each strip with its columns on the face and within the band."""
        first = self.columns[0].start
        for strip, part in zip(self.strips, self.columns, strict=True):
            yield strip, part, slice(part.start - first, part.stop - first)


def bands(number: int, face: Face, limit: float) -> Iterator[Band]:
    """Yield the strips of a face in bands, so that a wall takes no more memory than a door; what is far within the limit is none."""
    rows, columns = len(face.y), columns_of(face)
    many = max(1, int(_AT_ONCE / rows / (len(face.x) / len(columns))))
    for start in range(0, len(columns), many):
        some = columns[start : start + many]
        yield Band(
            number, face, face.strips[start : start + many], some, _above(face, some[0].start, some[-1].stop, limit)
        )


def _above(face: Face, first: int, last: int, limit: float) -> Array:
    """Return how much more the cutter leaves on some columns, (rows, columns); nothing where a sketch shows no more than half the limit.

    The sketch is drawn on every second row. Between two of them a circle is step^2 / (8 R) off: where that is not small
    beside the limit there is no sketch, nor where waves could hide.
    """
    rows = len(face.y)
    between = (2.0 * face.spacing[1]) ** 2 / (8.0 * face.body.extent[1])
    if between < limit / 10.0 and face.parts == 1:
        own, closed = replace(face, y=face.y[::2]).left_by_cutter((slice(0, rows // 2 + 1), slice(first, last)))
        if float((closed - own).max()) <= limit / 2.0:
            return np.zeros((rows, last - first))
    own, closed = face.left_by_cutter((slice(0, rows), slice(first, last)))
    closed -= own
    return closed


def columns_of(face: Face) -> tuple[slice, ...]:
    """Return the columns of a face that lie on each of its strips, one at least."""
    ends = (face.laid.reshape(-1, 2) - face.x[0]) / face.spacing[0]
    first, last = np.ceil(ends[:, 0] - 1e-6).astype(int), np.floor(ends[:, 1] + 1e-6).astype(int)
    return tuple(slice(a, max(b, a) + 1) for a, b in zip(first.tolist(), last.tolist(), strict=True))


def left_standing(band: Band, limit: float) -> Iterator[Standing]:
    """Yield the strips of a band on which more than the limit is left standing."""
    if band.above.max() <= limit:
        return
    for strip, on_face, part in band.parts():
        above = band.above[:, part]
        marks = above > limit
        if not marks.any():
            continue
        worst = worst_of(band.face, above, 0, on_face.start, limit)
        if worst.height > limit:
            yield Standing(
                face=band.number,
                strip=strip,
                height=worst.height,
                x=worst.x,
                y=worst.y,
                area=int(marks.sum()) * math.prod(band.face.spacing),
                window=(_span(np.nonzero(marks)[0], 0), _span(np.nonzero(marks)[1], on_face.start)),
            )


def worst_of(face: Face, above: Array, row: int, column: int, limit: float, enough: float = math.inf) -> Rest:
    """Return the worst place of part of a face, looked at closely; `above` is what a grid shows from a row and a column of it on.

    A grid shows too much rather than too little: place after place is looked at, the worst first, until no other can be worse,
    or some were found to be within the limit. More than `enough` needs no more looking.
    """
    above = above.copy()
    wood = float(face.x[column]), float(face.x[column + above.shape[1] - 1])
    around = [max(1, round(_ONE_PLACE / step)) for step in (face.spacing[1], face.spacing[0])]
    best = Rest(0.0, wood[0], float(face.y[row]))
    for _ in range(_LOOKED_AT if face.parts == 1 else 2 * _LOOKED_AT):
        i, j = divmod(int(above.argmax()), above.shape[1])
        shown = float(above[i, j])
        if shown <= max(best.height + _HARDLY, limit) or best.height > enough:
            break
        found = rest_near(face, float(face.x[column + j]), float(face.y[row + i]), shown, wood)
        best = max(best, found, key=lambda rest: rest.height)
        above[max(i - around[0], 0) : i + around[0] + 1, max(j - around[1], 0) : j + around[1] + 1] = 0.0
    return best


def _span(places: NDArray[np.intp], first: int) -> slice:
    """Return all from the least to the greatest of some places that are counted from `first`."""
    return slice(first + int(places.min()), first + int(places.max()) + 1)


def tight_hollows(band: Band, needed: float, limit: float, standing: Sequence[Standing] = ()) -> Iterator[Tight]:
    """Yield the tightest hollow along each strip, on its edges and middle, of less than the needed radius.

    Left out is what a disc of that radius would follow to within a tenth of a millimetre, and hollows in which more than the
    limit is left standing anyway, on the strips that are known for it.
    """
    face = _lengthwise(band.face)
    base = max(1, round(BASE / face.spacing[1]))
    if len(face.y) <= 2 * base:
        return
    radius = _radii_on_lines(band, face, needed, base)
    # The same place is in a row of the band's own.
    row_of = np.rint((face.y[base:-base] - face.y[0]) / band.face.spacing[1]).astype(np.intp)
    left = {one.strip.number: one.height for one in standing}
    for index, (strip, _, part) in enumerate(band.parts()):
        on_strip = radius[:, 3 * index : 3 * index + 3]
        if on_strip.min() < needed:
            above = np.max(band.above[row_of][:, part], axis=1)
            # The grid shows too much by as much as at the worst place.
            told: Marks = above > limit + float(above.max()) - left.get(strip.number, 0.0)
            apart = _apart(on_strip.min(axis=1) < needed, told)
            on_strip = np.where(apart[:, None], on_strip, np.inf)
            row, line = divmod(int(on_strip.argmin()), 3)
            if on_strip[row, line] < needed:
                yield Tight(strip, float(on_strip[row, line]), float(face.y[row + base]), line)


def base_at(face: Face, x: float, y: float) -> float:
    """Return half of the base over which the radius of a hollow at a place is measured, mm: less where it is a short wave's."""
    quarter = face.surface.shortest / 4.0
    if quarter >= BASE / 2.0:
        return BASE
    spots = x + quarter * np.array([-1.0, 0.0, 1.0, 0.0, 0.0]), y + quarter * np.array([0.0, 0.0, 0.0, -1.0, 1.0])
    left, here, right, below, above = face.surface.at(face.on_front(spots[0]), spots[1]).tolist()
    deep = max(left + right, below + above) / 2.0 - here
    return quarter / 2.0 if deep >= _COUNTS else BASE


def _lengthwise(face: Face) -> Face:
    """Return a face on rows that are close enough to each other to tell its shortest waves along the strips."""
    close = max(face.surface.shortest / PLACES_PER_WAVE / 2.0, _CLOSEST)
    many = max(1, math.ceil(face.spacing[1] / close - 1e-9)) if face.surface.shortest < 2.0 * BASE else 1
    return replace(face, parts=1, y=np.linspace(face.y[0], face.y[-1], many * (len(face.y) - 1) + 1))


def _radii_on_lines(band: Band, face: Face, needed: float, base: int) -> Array:
    """Return the radii of the hollows along left edge, middle and right edge of each strip, inf where they do not count."""
    lines = np.array([[strip.left, (strip.left + strip.right) / 2, strip.right] for strip in band.strips])
    blade = replace(face, body=Disc(needed, 0.0), x=face.on_board(lines).ravel())
    own, closed = blade.left_by_cutter((slice(0, len(face.y)), slice(0, lines.size)))
    step = face.spacing[1]
    radius = radii(own, base, step)
    quarter = round(face.surface.shortest / 4.0 / step) if face.surface.shortest < 2.0 * BASE else 0
    if quarter:
        # A hollow of a short wave, a quarter of it to each side, is deep enough to count on its own.
        rows = slice(base - quarter, len(own) - base + quarter)
        deep = (own[rows][2 * quarter :] + own[rows][: -2 * quarter]) / 2.0 - own[base:-base] >= _COUNTS
        half = max(1, quarter // 2)
        close = radii(own[base - half : len(own) - base + half], half, step)
        radius = np.where(deep, np.minimum(radius, close), radius)
    radius[closed[base:-base] - own[base:-base] < _COUNTS] = np.inf
    return radius


def radii(heights: Array, base: int, step: float) -> Array:
    """Return the radius of the hollow along each column, (rows - 2 base, columns); inf where it is none.

    R = (1 + z'^2)^(3/2) / z'' (curvature of a plane curve), with z'' = (z(+b) + z(-b) - 2 z(0)) / b^2 over b = `base` rows
    of `step` mm.
    """
    before, after = heights[: -2 * base], heights[2 * base :]
    bend = (after + before - 2.0 * heights[base:-base]) / (base * step) ** 2
    slope = (after - before) / (2.0 * base * step)
    radius: Array = np.where(bend > 1e-9, (1.0 + slope * slope) ** 1.5 / np.maximum(bend, 1e-9), np.inf)
    return radius


def _apart(marks: Marks, told: Marks) -> Marks:
    """Return the marks of those runs that hold no place which is told already."""
    run = np.cumsum(np.diff(marks, prepend=False) & marks)
    apart: Marks = marks & ~np.isin(run, run[marks & told])
    return apart


def first_that_clears(
    laid: Sequence[Face], places: Sequence[tuple[int, Window]], bodies: Sequence[Body], limit: float
) -> int | None:
    """Return which of the bodies, each smaller than the one before, is the first to leave at most the limit at all places.

    A place is the number of its face, rows and columns. None where not even the last body does.
    """
    laid_for: dict[tuple[int, int], Face] = {}

    def clears(which: int, number: int, window: Window) -> bool:
        face = laid_for.setdefault((which, number), replace(laid[number], body=bodies[which]))
        own, closed = face.left_by_cutter(window)
        closed -= own
        return worst_of(face, closed, window[0].start, window[1].start, limit, limit).height <= limit

    first, last = 0, len(bodies) - 1
    if last < 0:
        return None
    for number, window in places:
        if clears(first, number, window):
            continue
        if not clears(last, number, window):
            return None
        low, first = first, last
        while first - low > 1:
            middle = (low + first) // 2
            low, first = (low, middle) if clears(middle, number, window) else (middle, first)
    return first
