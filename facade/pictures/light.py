"""Light on the relief: Lambert's law, the shadows that heights throw, and what reaches the bottom of a gap."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from facade.job.model import Edge
from facade.pictures.chance import Floats

AMBIENT = 0.2  # share of a level face's light that comes from the whole room
# The light is not a point: its rays come from this many degrees above and below its middle, and to both sides.
_SPREAD = 4.0
_RAYS = 5
_SIDEWAYS = math.tan(math.radians(12.0))
_LOWEST_RAY = 1.5  # degrees
_SOFT_BELOW = 1.2  # mm: the same at the bottom of a gap, far below the edge that throws it
_SOFT = 0.35  # mm of height over which the edge of a single ray's shadow runs out


@dataclass(frozen=True)
class Light:
    """A light far away beyond one edge of the front, `height` degrees above its face."""

    edge: Edge
    height: float

    @property
    def direction(self) -> tuple[float, float, float]:
        """Unit vector from the front towards the light: right, up, out."""
        flat, out = math.cos(math.radians(self.height)), math.sin(math.radians(self.height))
        right = {Edge.LEFT: -flat, Edge.RIGHT: flat}.get(self.edge, 0.0)
        up = {Edge.BOTTOM: -flat, Edge.TOP: flat}.get(self.edge, 0.0)
        return right, up, out

    @property
    def sideways(self) -> bool:
        """Whether the light crosses the strips rather than running along them."""
        return self.edge in (Edge.LEFT, Edge.RIGHT)

    @property
    def tangents(self) -> list[float]:
        """How steeply each of the light's rays falls: mm of height per mm along the face."""
        heights = np.linspace(self.height - _SPREAD, self.height + _SPREAD, _RAYS)
        return [math.tan(math.radians(min(max(height, _LOWEST_RAY), 89.0))) for height in heights]


def lambert(right: Floats, up: Floats, light: Light) -> Floats:
    """Return the share of the light that a place takes: the cosine between its normal and the light, never below 0.

    `right` and `up` are the slopes dz/dx and dz/dy. Lambert's cosine law (J. H. Lambert, "Photometria", 1760).
    """
    to_right, to_up, out = light.direction
    facing = out - to_right * right - to_up * up
    facing /= np.sqrt(1.0 + right * right + up * up)
    return np.maximum(facing, 0.0)


def ceiling(heights: Floats, step: float, edge: Edge, tangent: float) -> Floats:
    """Return the height below which each place lies in the shadow of what stands between it and the light.

    `heights` in mm, rows from the top, `step` mm apart; the rays fall by `tangent` and come from beyond `edge`.
    """
    axis = 1 if edge in (Edge.LEFT, Edge.RIGHT) else 0
    away = np.arange(heights.shape[axis], dtype=np.float32) * np.float32(step * tangent)
    if edge in (Edge.RIGHT, Edge.BOTTOM):
        away = away[::-1]
    fall = away[None, :] if axis else away[:, None]
    shadow = heights + fall
    towards = shadow[:, ::-1] if edge is Edge.RIGHT else shadow[::-1] if edge is Edge.BOTTOM else shadow
    np.maximum.accumulate(towards, axis=axis, out=towards)
    shadow -= fall
    return shadow


def ceilings(heights: Floats, step: float, light: Light) -> Iterator[Floats]:
    """Yield the ceiling of the shadow for each of the light's rays."""
    for tangent in light.tangents:
        yield ceiling(heights, step, light.edge, tangent)


def lit(shadow: Floats, places: Floats | float, *, soft: float = _SOFT) -> Floats:
    """Return 1 where places stand above the ceiling of the shadow, 0 where they are `soft` mm and more below it."""
    share = places - shadow
    share *= 1.0 / soft
    share += 1.0
    return np.clip(share, 0.0, 1.0, out=share)


def slot_sky(near: Floats, far: Floats, wall: Floats) -> Floats:
    """Return half of the sky above the bottom of a slot: the half that one wall hides in part, averaged over a pixel.

    `near` and `far` are the pixel's distances from the wall, which stands `wall` mm above the bottom. From the bottom
    of a long slot a place at t sees the share t / sqrt(t^2 + h^2) of that half; the average is exact.
    """
    wide = np.maximum(far - near, 0.01)
    high = wall * wall
    sky: Floats = np.sqrt((near + wide) ** 2 + high)
    sky -= np.sqrt(near * near + high)
    sky *= 0.5 / wide
    return sky


def slot_light(from_left: Floats, from_right: Floats, left: Floats, right: Floats, light: Light) -> Floats:
    """Return the share of the light's rays that reach the bottom of a slot between two walls.

    Distances from the walls and their heights, mm. A light along the slot is held to be 12 degrees wide to each side.
    """
    tangents = light.tangents
    if light.sideways:
        away, wall = (from_left, left) if light.edge is Edge.LEFT else (from_right, right)
        shares = [lit(wall - away * np.float32(tangent), 0.0, soft=_SOFT_BELOW) for tangent in tangents]
        across: Floats = np.mean(shares, axis=0, dtype=np.float32)
        return across
    fall = np.float32(tangents[_RAYS // 2] / _SIDEWAYS)
    along: Floats = np.minimum(from_left * fall / np.maximum(left, np.float32(0.01)), 1.0)
    along += np.minimum(from_right * fall / np.maximum(right, np.float32(0.01)), 1.0)
    along *= 0.5
    return along


def eased_edge(light: Light, towards: Edge) -> float:
    """Return how bright a strip's rounded edge is against its level face, on average over a quarter round.

    Seen from the front the normal's share towards the edge falls evenly from 1 to 0 over the round.
    """
    to_right, to_up, out = light.direction
    side = {Edge.LEFT: -to_right, Edge.RIGHT: to_right, Edge.TOP: to_up, Edge.BOTTOM: -to_up}[towards]
    lean = (np.arange(64) + 0.5) / 64
    facing = np.sqrt(1.0 - lean * lean) * out + lean * side
    return float(np.maximum(facing, 0.0).mean() / out)
