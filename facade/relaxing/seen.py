"""How far a surface moved, and how much of that the eye sees."""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import cached_property

import numpy as np
from scipy.ndimage import label

from facade.arrays import Array
from facade.front import Front
from facade.layout import Layout

_ACROSS, _ALONG = 5, 200  # places across a strip and along all of them at which two surfaces are compared
# All three by eye, our own choice: a slope that changes by a degree is seen as a place of its own under a raking light; a relief
# that only becomes paler is seen half as well as one that becomes another; separate places catch the eye besides: few
# of them one by one, many as a texture, which is why their root counts.
_NOTICED = 1.0  # degrees
_PALER = 0.5
_PLACES = 0.1  # degrees


@dataclass(frozen=True)
class Moved:
    """How far a surface moved: the greatest and the mean distance over the wood, mm, and where the greatest is."""

    most: float
    mean: float
    strip: int
    from_top: float


@dataclass(frozen=True)
class Seen:
    """What the eye sees of a change, under a light that rakes: slopes, not heights.

    `other` is the root mean square over the wood of what slopes changed, degrees, after the relief is made as pale or as strong as
    the changed one all over: what has become another shape. `paler` is what it became paler or stronger by, degrees of its own
    root mean square. `places` are the separate places where a slope became another by more than a degree.
    """

    other: float
    paler: float
    places: int

    @property
    def weight(self) -> float:
        """How much is seen, in degrees: changes are chosen by the least of it."""
        return self.other + _PALER * self.paler + _PLACES * math.sqrt(self.places)


class Places:
    """The places of a layout at which surfaces are compared: so many across every strip, in rows along all of them."""

    def __init__(self, layout: Layout) -> None:
        self._strips = layout.strips
        self._x = np.concatenate([np.linspace(strip.left, strip.right, _ACROSS) for strip in layout.strips])
        first = layout.strips[0]
        self._y = np.linspace(first.bottom, first.top, _ALONG)

    @cached_property
    def _widths(self) -> Array:
        return np.array([strip.width for strip in self._strips])

    def heights(self, front: Front) -> Array:
        """Return the heights of a front at all places, (rows, strips, places across)."""
        z = front.surface.at(self._x[None, :], self._y[:, None])
        return z.reshape(_ALONG, len(self._strips), _ACROSS)

    def seen(self, before: Array, after: Array) -> Seen:
        """Return how much the eye sees of the change between two sets of heights."""
        was, now = self._slopes(before), self._slopes(after)
        own = float((was * was).sum())
        kept = float((was * now).sum()) / own if own > 0.0 else 1.0
        other = now - kept * was
        size = math.prod(other.shape[1:])
        steep = np.hypot(other[0], other[1]) > math.tan(math.radians(_NOTICED))
        _, places = label(steep.reshape(_ALONG, -1), structure=np.ones((3, 3)))
        return Seen(
            other=math.degrees(math.sqrt(float((other * other).sum()) / size)),
            paler=math.degrees(abs(1.0 - kept) * math.sqrt(own / size)),
            places=int(places),
        )

    def _slopes(self, z: Array) -> Array:
        """Return slopes along and across, (2, rows, strips, places across), mm a mm: central differences within each strip."""
        along = np.gradient(z, float(self._y[1] - self._y[0]), axis=0)
        across = np.gradient(z, axis=2) / (self._widths / (_ACROSS - 1))[None, :, None]
        return np.stack([along, across])


def how_far(before: Front, after: Front) -> Moved:
    """Return how far the surface moved between two fronts of one layout, at every place where heights of their strips are taken."""
    most, total, area = (0.0, 1, 0.0), 0.0, 0.0
    for was, now in zip(before.strips(), after.strips(), strict=True):
        apart = np.abs(now.heights - was.heights)
        total += float(apart.mean()) * now.width * now.length
        area += now.width * now.length
        row = int(apart.max(axis=1).argmax())
        most = max(most, (float(apart.max()), now.number, float(now.from_top[row])), key=lambda one: one[0])
    return Moved(most[0], total / area, most[1], most[2])
