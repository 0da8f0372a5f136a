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


_AZIMUTHS = {Edge.RIGHT: 0.0, Edge.TOP: 90.0, Edge.LEFT: 180.0, Edge.BOTTOM: 270.0}
_BRIGHT = 2.6  # of a level face near lamps, at most
_CROSSES = 0.2  # share of a light's way that goes across the strips, from which on gaps let it through
_SKY = ((15.0, 0.25), (45.0, 0.5))  # heights of rays from the room, and the share of its light that each stands for


@dataclass(frozen=True)
class Lamp:
    """A row of lamps along the whole upper or lower edge of the front, `beyond` that edge and `out` in front of the back, mm."""

    edge: Edge
    beyond: float
    out: float


@dataclass(frozen=True)
class Light:
    """A light far away: `azimuth` degrees from the right, anticlockwise as the front is seen, `height` degrees above its face.

    `ambient` is the share of a level face's light that comes from the whole room; rays come from up to `spread` degrees above and
    below. Where the light is a row of lamps near by, direction and height are those in the middle of the front.
    """

    azimuth: float
    height: float
    ambient: float = AMBIENT
    lamp: Lamp | None = None
    spread: float = _SPREAD

    @classmethod
    def beyond(cls, edge: Edge, height: float) -> Light:
        """Return a light beyond one edge of the front."""
        return cls(_AZIMUTHS[edge], height)

    @classmethod
    def near(cls, lamp: Lamp, tall: float, ambient: float = AMBIENT) -> Light:
        """Return the light of a row of lamps near a front that is `tall` mm high."""
        height = math.degrees(math.atan2(lamp.out, lamp.beyond + tall / 2))
        return cls(_AZIMUTHS[lamp.edge], height, ambient, lamp)

    @property
    def direction(self) -> tuple[float, float, float]:
        """Unit vector from the front towards the light: right, up, out."""
        flat, out = math.cos(math.radians(self.height)), math.sin(math.radians(self.height))
        right, up = math.cos(math.radians(self.azimuth)), math.sin(math.radians(self.azimuth))
        # What is no more than rounding is none: a light straight from an edge.
        return flat * _whole(right), flat * _whole(up), out

    @property
    def sideways(self) -> bool:
        """Whether the light crosses the strips rather than running along them."""
        right, up, _ = self.direction
        return abs(right) >= abs(up) and right != 0.0

    @property
    def crosses(self) -> bool:
        """Whether it goes across the strips enough for gaps to let it through."""
        right, up, _ = self.direction
        return abs(right) > _CROSSES * math.hypot(right, up)

    @property
    def from_left(self) -> bool:
        """Whether it comes from the left rather than from the right."""
        return self.direction[0] < 0.0

    @property
    def tangents(self) -> list[float]:
        """How steeply each of the light's rays falls: mm of height per mm along the face."""
        heights = np.linspace(self.height - self.spread, self.height + self.spread, _RAYS)
        # What comes from beyond 90 degrees falls as steeply from the other side.
        return [math.tan(math.radians(min(max(90.0 - abs(90.0 - height), _LOWEST_RAY), 89.0))) for height in heights]


def _whole(share: float) -> float:
    return 0.0 if abs(share) < 1e-9 else share


def lambert(right: Floats, up: Floats, light: Light) -> Floats:
    """Return the share of the light that a place takes: the cosine between its normal and the light, never below 0.

    `right` and `up` are the slopes dz/dx and dz/dy. Lambert's cosine law (J. H. Lambert, "Photometria", 1760).
    """
    to_right, to_up, out = light.direction
    facing = out - to_right * right - to_up * up
    facing /= np.sqrt(1.0 + right * right + up * up)
    return np.maximum(facing, 0.0)


def lamp_light(right: Floats, up: Floats, z: Floats, y: Floats, lamp: Lamp, tall: float) -> Floats:
    """Return the light that places take from a row of lamps, 1 for what level faces of the front take on average.

    Close to lamps the eye, as a camera, takes less of it: nothing level is brighter than 2.6.

    `y` (rows, 1) mm above the lower edge of a front that is `tall`; slopes and heights (rows, columns). Light of a long row falls off
    with the distance, and with the cosine between normal and lamp (Lambert's cosine law).
    """
    away = _away(y, lamp, tall)
    aside = away if lamp.edge is Edge.TOP else -away
    facing = lamp.out - z - aside * up
    facing /= np.sqrt(1.0 + right * right + up * up)
    facing /= away * away + (lamp.out - z) ** 2
    places = _away(np.linspace(0.0, tall, 201, dtype=np.float32), lamp, tall)
    level = lamp.out / (places**2 + lamp.out**2)
    facing /= max(float(level.mean()), float(level.max()) / _BRIGHT)
    return np.maximum(facing, 0.0)


def _away(y: Floats, lamp: Lamp, tall: float) -> Floats:
    """Return how far places are from a row of lamps, along the face, mm; never nearer than the lamps are beyond the edge."""
    away = lamp.beyond + (tall - y if lamp.edge is Edge.TOP else y)
    nearest: Floats = np.maximum(away, np.float32(min(lamp.beyond, 5.0)))
    return nearest


def ceiling(heights: Floats, step: float, light: Light, tangent: float) -> Floats:
    """Return the height below which each place lies in the shadow of what stands between it and the light.

    `heights` in mm, rows from the top, `step` mm apart; the rays fall by `tangent` and come from the light's side.
    """
    right, up, _ = light.direction
    if right == 0.0 or up == 0.0:
        return _straight_ceiling(heights, step * tangent, axis=1 if up == 0.0 else 0, backwards=right > 0.0 or up < 0.0)
    if abs(right) >= abs(up):
        # From one column to the next a ray goes so many rows down.
        fall = step * tangent * math.hypot(right, up) / abs(right)
        return _slanting_ceiling(heights, up / abs(right), fall, backwards=right > 0.0)
    fall = step * tangent * math.hypot(right, up) / abs(up)
    return _slanting_ceiling(heights.T, -right / abs(up), fall, backwards=up < 0.0).T


def _straight_ceiling(heights: Floats, fall: float, *, axis: int, backwards: bool) -> Floats:
    away = np.arange(heights.shape[axis], dtype=np.float32) * np.float32(fall)
    if backwards:
        away = away[::-1]
    drop = away[None, :] if axis else away[:, None]
    shadow = heights + drop
    towards = shadow if not backwards else shadow[:, ::-1] if axis else shadow[::-1]
    np.maximum.accumulate(towards, axis=axis, out=towards)
    shadow -= drop
    return shadow


def _slanting_ceiling(heights: Floats, slant: float, fall: float, *, backwards: bool) -> Floats:
    """Return the ceiling for rays that go from column to column, and by `slant` (-1 to 1) rows down on the way, `fall` mm deeper."""
    turned = np.array((heights[:, ::-1] if backwards else heights).T, order="C", copy=True)
    down, share = (slant >= 0.0), np.float32(abs(slant))
    for line, before in zip(turned[1:], turned[:-1], strict=True):
        shadow = before.copy()
        # What the ray met a column ago, between the row at its side and the next one towards the light.
        if down:
            shadow[1:] += share * (before[:-1] - before[1:])
        else:
            shadow[:-1] += share * (before[1:] - before[:-1])
        shadow -= np.float32(fall)
        np.maximum(line, shadow, out=line)
    found = turned.T
    return found[:, ::-1] if backwards else found


def lamp_ceiling(heights: Floats, y: Floats, lamp: Lamp, tall: float, out: float) -> Floats:
    """Return the height below which places lie in the shadow of what stands between them and lamps `out` mm before the back.

    A lamp sees a place where nothing nearer lies as steeply below it, by (out - z) / distance.
    """
    away = _away(y, lamp, tall)
    steep = (out - heights) / away
    towards = steep if lamp.edge is Edge.TOP else steep[::-1]
    np.minimum.accumulate(towards, axis=0, out=towards)
    shadow: Floats = out - steep * away
    return shadow


def ceilings(heights: Floats, step: float, y: Floats, tall: float, light: Light) -> Iterator[Floats]:
    """Yield the ceiling of the shadow for each of the light's rays; `y` (rows, 1) mm above the lower edge of a front that is `tall`."""
    lamp = light.lamp
    if lamp:
        for share in np.linspace(0.85, 1.15, _RAYS):
            yield lamp_ceiling(heights, y, lamp, tall, lamp.out * float(share))
        return
    for tangent in light.tangents:
        yield ceiling(heights, step, light, tangent)


def sky(heights: Floats, right: Floats, up: Floats, step: float) -> Floats:
    """Return the share of the light from the whole room that each place sees: what it leans away from, and over what stands around it.

    A place leaning by b sees (1 + cos b) / 2 of an even room. Towards each of the four sides what hides 15 degrees takes a quarter of
    that side's share, what hides 45 degrees half of it more (an even sky weighs sin^2 of its height).
    """
    seen = np.full_like(heights, 4.0 * (1.0 - sum(share for _, share in _SKY)))
    for azimuth in _AZIMUTHS.values():
        for height, share in _SKY:
            hidden = ceiling(heights, step, Light(azimuth, height), math.tan(math.radians(height)))
            seen += np.float32(share) * lit(hidden, heights)
    seen *= 0.125
    leaning: Floats = np.sqrt(1.0 + right * right + up * up)
    np.reciprocal(leaning, out=leaning)
    leaning += 1.0
    seen *= leaning
    return seen


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
        away, wall = (from_left, left) if light.from_left else (from_right, right)
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
