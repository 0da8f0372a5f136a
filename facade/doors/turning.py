"""Outlines that turn about a pin, as plane geometry: where two meet first, and with how much room they pass.

All is seen from above: across and forward, in mm. Outlines are compared by their distance from the pin: at each distance the
turning outline stands at one angle in front of the pin's plane, what stands beside it at another, and they meet when it has
turned by what the two leave of 180 degrees. Since two straight-sided outlines meet first at a corner of one of them, it is
enough to look at the distances of all corners: within the outlines the result is exact. Plane geometry; no source needed.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from facade.arrays import Array

FINE = 0.004  # mm to which room is found
FAR = 1e5  # mm; farther than anything on a front

_BAND = 8  # rows looked at as one before any of them is looked at alone

Value = Callable[["Outline", "Outline"], Array]


@dataclass(frozen=True)
class Pin:
    """Where a door turns: mm from its hinge edge inwards, and from the back of the strips forward."""

    inward: float
    forward: float


@dataclass(frozen=True)
class Outline:
    """Outlines seen from above, a row for each height y: mm away from an edge (points,), and mm forward (rows, points)."""

    away: Array
    forward: Array

    def over(self, rows: slice) -> Outline:
        """Return some of the rows; an outline that is the same all along has one row for all."""
        return self if len(self.forward) == 1 else Outline(self.away, self.forward[rows])

    def row(self, number: int) -> Outline:
        """Return one of the rows, counted from 0; an outline that is the same all along has one row for all."""
        return self.over(slice(number, number + 1))

    def highest(self) -> Outline:
        """Return one row that covers all rows."""
        return Outline(self.away, self.forward.max(axis=0, keepdims=True))

    def lowest(self) -> Outline:
        """Return one row that all rows cover."""
        return Outline(self.away, self.forward.min(axis=0, keepdims=True))

    def bands(self) -> Outline:
        """Return one row for each band of rows, that covers them."""
        starts = np.arange(0, len(self.forward), _BAND)
        return Outline(self.away, np.maximum.reduceat(self.forward, starts, axis=0))


def body(forward: float) -> Outline:
    """Return the outline of a body that is the same at all heights y."""
    if math.isinf(forward):
        return Outline(np.zeros(2), np.array([[-FAR, FAR]]))
    return Outline(np.array([0.0, 0.0, FAR]), np.array([[-FAR, forward, forward]]))


def steps(reach: float) -> Array:
    """Return places up to `reach`, 1 mm apart at first, farther out a fortieth of their distance."""
    far = np.arange(1.0, 41.0)
    while far[-1] < reach:
        far = np.append(far, far[-1] * 1.025)
    return far


def closing_sweep(width: float, depth: float) -> float:
    """Return how far the back corner of a meeting edge swings out beyond that edge, mm.

    It stands `width` from the pin and `depth` behind it: sqrt(w^2 + t^2) - w; plane geometry.
    """
    return math.hypot(width, depth) - width


def sums(pin: Pin, room: float) -> Value:
    """Return a function of two outlines that returns their greatest sums of angles (rows,), with `room` mm between them."""
    return lambda door, other: nearest(pin, np.full(len(door.forward), room), door, other)[0]


def nearest(pin: Pin, room: Array, door: Outline, other: Outline) -> tuple[Array, Array, Array]:
    """Return where door and neighbour meet first, all (rows,), with `room` mm (rows,) between their edges.

    The sum of the angles, in radians, that both stand before the board's plane at the distance from the pin where this sum
    is greatest: they meet when the door has turned by what it leaves of pi. Then the place on the door that meets: mm from
    its hinge edge, and mm forward.
    """
    # From below the pin to the hinge edge first: where the pin stands behind the board, its back is an edge that may meet.
    across = np.concatenate([[0.0], door.away - pin.inward])[None, :]
    up = np.concatenate([door.forward[:, :1], door.forward], axis=1) - pin.forward
    over, raised = other.away + pin.inward + room[:, None], other.forward - pin.forward
    across, over = np.broadcast_to(across, up.shape), np.broadcast_to(over, (len(up), over.shape[1]))
    raised = np.broadcast_to(raised, over.shape)
    radius = np.concatenate([np.hypot(across, up), np.hypot(over, raised)], axis=1)
    lead = _lead(across, up, radius)
    total = lead + _lead(over, raised, radius)
    best = total.argmax(axis=1)[:, None]
    total, lead, radius = (np.take_along_axis(some, best, axis=1)[:, 0] for some in (total, lead, radius))
    found = np.isfinite(lead)
    lead, radius = np.where(found, lead, 0.0), np.where(found, radius, 0.0)
    return total, pin.inward + radius * np.cos(lead), pin.forward + radius * np.sin(lead)


def _lead(across: Array, up: Array, radius: Array) -> Array:
    """Return the angle in radians at which an outline stands before the pin's plane, at each distance from the pin.

    `across` and `up` (rows, points) are from the pin, `radius` (rows, places). Below zero it stands behind that plane;
    minus infinity where it does not reach. The outline is filled behind: where it is met first, coming from the front.
    """
    raised = np.maximum(up, 0.0)
    rising = np.maximum.accumulate(np.hypot(across, raised), axis=1)
    angle, height = _crossing(across, raised, _search(rising, radius, "left"), radius)
    behind = ~(height > 0.0)
    if behind.any() and (up[:, 1:] < 0.0).any():
        distance = np.hypot(across, up)
        falling = np.minimum.accumulate(distance[:, ::-1], axis=1)[:, ::-1]
        below, _ = _crossing(across, up, _search(falling, radius, "right"), radius)
        # No piece ends beyond the last point, which is there all the same.
        below = np.where(radius == distance[:, -1:], np.arctan2(up[:, -1:], across[:, -1:]), below)
        angle = np.where(behind, below, angle)
    return angle


def _search(rising: Array, radius: Array, side: str) -> NDArray[np.intp]:
    """Return for each place of `radius` (rows, places) where it falls among `rising` (rows, points) of its row."""
    rows, points = rising.shape
    apart = 4.0 * FAR * np.arange(rows)[:, None]
    found = np.searchsorted((rising + apart).ravel(), (radius + apart).ravel(), "left" if side == "left" else "right")
    places: NDArray[np.intp] = found.reshape(radius.shape) - points * np.arange(rows)[:, None]
    return places


def _crossing(across: Array, up: Array, outer: NDArray[np.intp], radius: Array) -> tuple[Array, Array]:
    """Return angle and height where outlines cross circles: on the piece that ends at the point `outer`, all (rows, places).

    Minus infinity where there is no such piece.
    """
    points = across.shape[1]
    end = np.clip(outer, 1, points - 1)
    x, y = np.take_along_axis(across, end - 1, axis=1), np.take_along_axis(up, end - 1, axis=1)
    dx, dy = np.take_along_axis(across, end, axis=1) - x, np.take_along_axis(up, end, axis=1) - y
    length = np.maximum(dx * dx + dy * dy, 1e-18)
    along = x * dx + y * dy
    share = (np.sqrt(np.maximum(along * along - length * (x * x + y * y - radius * radius), 0.0)) - along) / length
    share = np.where(outer == 0, 0.0, np.clip(share, 0.0, 1.0))
    x, y = x + share * dx, y + share * dy
    there = (outer < points) & ((outer > 0) | (np.hypot(x, y) <= radius))
    return np.where(there, np.arctan2(y, x), -np.inf), np.where(there, y, -np.inf)


def sweep_of_all(pin: Pin, limit: float, door: Outline, other: Outline) -> float:
    """Return the least room with which every row turns without meeting: that of one row after the other that still meets."""
    most = _sweep(pin, limit, door.highest(), other.highest())
    sweep = _sweep(pin, limit, door.highest(), other.lowest())
    while sweep < most - FINE:
        total, row = worst_row(sums(pin, sweep), door, other)
        if row is None or total <= limit:
            return sweep
        again = _sweep(pin, limit, door.row(row), other.row(row))
        sweep = max(again, sweep + FINE)
    return min(sweep, most)


def _sweep(pin: Pin, limit: float, door: Outline, other: Outline) -> float:
    """Return the least room with which a row turns without meeting, to 0.004 mm; `limit` is the sum of angles allowed."""

    def clear(room: float) -> bool:
        return float(sums(pin, room)(door, other)[0]) <= limit

    low, high = 0.0, float(np.hypot(door.away - pin.inward, door.forward - pin.forward).max())
    if clear(1e-9):
        return 0.0
    while high - low > FINE:
        middle = (low + high) / 2.0
        low, high = (low, middle) if clear(middle) else (middle, high)
    return high


def worst_row(value: Value, door: Outline, other: Outline) -> tuple[float, int | None]:
    """Return the greatest sum of angles of all rows, to 0.02 degrees, and its row; None where the highest places decide it.

    A sum does not fall when an outline grows, so rows are looked at together as long as that can settle it.
    """
    fine = math.radians(0.02)
    top = float(value(door.highest(), other.highest())[0])
    if float(value(door.highest(), other.lowest())[0]) >= top - fine:
        return top, None
    bounds = value(door.bands(), other.bands())
    best, row = -math.inf, 0
    for band in np.argsort(-bounds):
        if bounds[band] <= best + fine:
            break
        rows = slice(int(band) * _BAND, (int(band) + 1) * _BAND)
        values = value(door.over(rows), other.over(rows))
        if float(values.max()) > best:
            best, row = float(values.max()), rows.start + int(values.argmax())
    return best, row


def foremost_at(door: Outline, place: float) -> int:
    """Return the point of an outline nearest to a place; of several one above the other the foremost."""
    far = np.abs(door.away - place)
    return int(np.where(far <= far.min() + 1e-6, door.forward.max(axis=0), -np.inf).argmax())
