"""The lines of strips that lie on their side: what a straight cutter cuts along the face, and both edge lines.

A strip lies on its LEFT side and is seen from its right: its back along the bottom, its BOTTOM end at the left, its TOP end at the right.
Both edge lines are drawn in this one view, so that nothing is mirrored.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from facade.arrays import Array
from facade.front import Front
from facade.layout import StripPlace
from facade.slicer import edge_heights
from facade.thinning import thin_each

# No straight piece of a profile is shorter than this, mm: machines hesitate at shorter ones (common practice).
SHORTEST = 0.2
# A corner is looked for at so many places between two of a line.
_PARTS = 32


@dataclass(frozen=True)
class Profile:
    """One strip's lines, each (points, 2): mm from its BOTTOM end and above its back.

    `cut` is the face as it is cut, `saw` the line for a bandsaw; `twist` is the most that the two edges differ, mm.
    """

    place: StripPlace
    cut: Array
    saw: Array
    left: Array
    right: Array
    twist: float

    @property
    def outline(self) -> Array:
        """The closed outline of what is left: back, both ends and face, counter-clockwise."""
        length = self.place.length
        return np.concatenate([[[0.0, 0.0], [length, 0.0]], self.cut[::-1]])


def profile_of(front: Front, number: int, blank: float) -> Profile:
    """Return the profile of a strip in a blank this thick, straight lines within the job's tolerance of it.

    Raises JobError for a strip that is not there.
    """
    job, place = front.job, front.layout.strip(number)
    count = math.floor(place.length / SHORTEST)
    x = np.linspace(0.0, place.length, count + 1)

    def lines_at(some: Array) -> dict[str, Array]:
        left, right = edge_heights(front.surface, place, place.length - some)
        higher = np.maximum(left, right)
        cut, saw = (np.minimum(higher + more, blank) for more in (job.wood.sanding, job.wood.sawing))
        return {"cut": cut, "saw": saw, "left": left, "right": right}

    lines, tolerance = lines_at(x), job.machine.side.tolerance
    corners = _corners(x, lines, lines_at, tolerance)
    keep = thin_each(np.stack(list(lines.values())), tolerance / 2)
    return Profile(
        place=place,
        **{
            name: with_corners(x, line, some, corners[name])
            for (name, line), some in zip(lines.items(), keep, strict=True)
        },
        twist=float(np.abs(lines["left"] - lines["right"]).max()),
    )


def _corners(
    x: Array, lines: dict[str, Array], lines_at: Callable[[Array], dict[str, Array]], tolerance: float
) -> dict[str, Array]:
    """Return where each line has a corner between two places, (corners, 3): the place before, x and height, mm.

    A line may turn where both edges or a line and the raw face cross, and at an edge of the surface itself: of a land, on the floor. Where
    it turns by t from one piece to the next, pieces h long, the straight line is t h / 4 off at most; what may count is looked at closely.
    """
    turns = {name: np.pad(np.abs(np.diff(line, 2)), 1) for name, line in lines.items()}
    cells = np.flatnonzero(np.max([turn[:-1] + turn[1:] for turn in turns.values()], axis=0) > tolerance)
    if not len(cells):
        return {name: np.empty((0, 3)) for name in lines}
    share = np.arange(1, _PARTS) / _PARTS
    fine = x[cells, None] + share * (x[1] - x[0])
    close = lines_at(fine.ravel())
    found = {}
    for name, line in lines.items():
        heights = close[name].reshape(fine.shape)
        off = np.abs(heights - line[cells, None] - share * np.diff(line)[cells, None])
        where, most = (np.arange(len(cells)), off.argmax(axis=1)), np.zeros(len(x) + 1)
        most[cells + 1] = off[where]
        # A line that bends tightly is off as much in the pieces beside.
        sharp = off[where] > np.maximum(tolerance / 2, 2.0 * np.maximum(most[cells], most[cells + 2]))
        found[name] = np.column_stack([cells, fine[where], heights[where]])[sharp]
    return found


def crossings(x: Array, one: Array, other: Array) -> Array:
    """Return where two lines cross between two places, (crossings, 3): the place before, x and height, mm."""
    apart = one - other
    at = np.flatnonzero(apart[:-1] * apart[1:] < 0.0)
    share = apart[at] / (apart[at] - apart[at + 1])
    return np.column_stack([at, x[at] + share * (x[at + 1] - x[at]), one[at] + share * (one[at + 1] - one[at])])


def with_corners(x: Array, line: Array, keep: NDArray[np.bool_], corners: Array) -> Array:
    """Return the places (n, 2) of a line that are kept; a corner between two of its places takes the place of both."""
    keep = keep.copy()
    places = np.column_stack([x, line])
    if not len(corners):
        return np.asarray(places[keep])
    before = corners[:, 0].astype(np.intp)
    inner = corners[(before >= 1) & (before < len(x) - 2)]
    # Corners in neighbouring cells would stand too close: the first of them is kept.
    inner = inner[np.argsort(inner[:, 0], kind="stable")]
    apart = np.r_[True, np.diff(inner[:, 0]) > 3] if len(inner) else np.empty(0, dtype=bool)
    inner = inner[apart]
    before = inner[:, 0].astype(np.intp)
    keep[before - 1] = keep[before + 2] = True
    keep[before] = keep[before + 1] = False
    found = np.concatenate([places[keep], inner[:, 1:]])
    return found[np.argsort(found[:, 0], kind="stable")]
