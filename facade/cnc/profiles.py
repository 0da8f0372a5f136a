"""The lines of strips that lie on their side: what a straight cutter cuts along the face, and both edge lines.

A strip lies on its LEFT side and is seen from its right: its back along the bottom, its BOTTOM end at the left, its TOP end at the right.
Both edge lines are drawn in this one view, so that nothing is mirrored.
"""

from __future__ import annotations

import math
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
    left, right = edge_heights(front.surface, place, place.length - x)
    higher = np.maximum(left, right)
    corners, none = crossings(x, left, right), np.empty((0, 3))
    (cut, cut_corners), (saw, saw_corners) = (
        _capped(x, higher, corners, more, blank) for more in (job.wood.sanding, job.wood.sawing)
    )
    twist, lines = float(np.abs(left - right).max()), np.stack([cut, saw, left, right])
    keep = thin_each(lines, job.machine.side.tolerance / 2)
    cut, saw, left, right = (
        with_corners(x, line, some, its)
        for line, some, its in zip(lines, keep, (cut_corners, saw_corners, none, none), strict=True)
    )
    return Profile(place, cut, saw, left, right, twist)


def crossings(x: Array, one: Array, other: Array) -> Array:
    """Return where two lines cross between two places, (crossings, 3): the place before, x and height, mm."""
    apart = one - other
    at = np.flatnonzero(apart[:-1] * apart[1:] < 0.0)
    share = apart[at] / (apart[at] - apart[at + 1])
    return np.column_stack([at, x[at] + share * (x[at + 1] - x[at]), one[at] + share * (one[at + 1] - one[at])])


def _capped(x: Array, higher: Array, corners: Array, more: float, cap: float) -> tuple[Array, Array]:
    """Return the line that runs `more` above the higher edge and nowhere above the cap, and its corners (corners, 3)."""
    line = higher + more
    corners = corners + np.array([0.0, 0.0, more])
    corners = np.concatenate([corners[corners[:, 2] < cap], crossings(x, line, np.full(len(x), cap))])
    return np.minimum(line, cap), corners


def with_corners(x: Array, line: Array, keep: NDArray[np.bool_], corners: Array) -> Array:
    """Return the places (n, 2) of a line that are kept; a corner between two of its places takes the place of both."""
    keep = keep.copy()
    places = np.column_stack([x, line])
    if not len(corners):
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
