"""Stream: the lines of slow water round stones, with ripples riding on them."""

from __future__ import annotations

import math
from typing import Annotated, Literal

import numpy as np
from pydantic import Field

from facade.arrays import Array
from facade.fields import Degrees, Model, Number, Pattern, Point, Seed, Share, about
from facade.reliefs.base import Canvas, Heights, Relief, relief_kind
from facade.reliefs.undulation import undulation


class Stone(Model):
    """A round stone in the stream."""

    centre: Point = about("middle of the stone: from the left, from the lower edge")
    radius: Pattern = about("radius of the stone at the water")
    height: Number = about("how far the stone's top stands above the ripples", 0.6)


def stone_share(square: Array, radius: float, keen: float = math.inf) -> Array:
    """Return a^2/r^2 outside a stone of radius a and 1 inside, from the squared distance to its middle.

    With a finite `keen` the corner at the stone's outline is rounded: (1 + (r/a)^(2 keen))^(-1/keen), smooth everywhere.
    """
    ratio = square / (radius * radius)
    if math.isinf(keen):
        share: Array = 1.0 / np.maximum(ratio, 1.0)
        return share
    # Past 1e12 the powers would overflow and the share is nothing anyway.
    rounded: Array = (1.0 + np.minimum(ratio, 1e12) ** keen) ** (-1.0 / keen)
    return rounded


def stream_function(
    x: Array, y: Array, stones: list[tuple[float, float, float]], *, speed: float = 1.0, keen: float = math.inf
) -> Array:
    """Return the stream function of a flow to the right past round stones (x, y, radius).

    psi = U (r - a^2/r) sin(theta) = U y (1 - a^2/r^2) for one stone (Batchelor, "An Introduction to Fluid Dynamics", 1967,
    section 6.6); several stones are added, which is close while they stand a diameter or more apart. Inside a stone it is constant.
    """
    psi = y + 0.0 * x
    for right, up, radius in stones:
        square = (x - right) ** 2 + (y - up) ** 2
        psi = psi - (y - up) * stone_share(square, radius, keen)
    return speed * psi


def _pebble(square: Array, radius: float) -> Array:
    """Return 1 on a pebble's round top, falling to 0 at the radius: (1 - (r/a)^4)^3, level and uncreased at its foot."""
    below = np.maximum(1.0 - (square / (radius * radius)) ** 2, 0.0)
    pebble: Array = below * below * below
    return pebble


@relief_kind
class Stream(Relief):
    """Flow lines round stones, from potential flow past round pillars, with ripples across them and a slight meander."""

    summary = "flow lines round stones, ripples riding on them"
    example = {
        "length": 92,
        "flow": 78,
        "ripple": 0.15,
        "stones": [{"centre": [210, 400], "radius": 100}, {"centre": [490, 200], "radius": 85}],
    }

    kind: Literal["stream"] = "stream"
    length: Pattern = about("from flow line to flow line, in open water")
    flow: Degrees = about("degrees anticlockwise from the right that the water runs towards", 90.0)
    ripple: Share = about("height of the ripples across the flow against the flow lines", 0.15)
    ripple_length: Pattern | None = about("from ripple to ripple; left out, three times the length", None)
    meander: Share = about("how far the flow lines stray in open water, in lengths", 0.3)
    stones: Annotated[tuple[Stone, ...], Field(max_length=32)] = about("the stones, one table each", ())
    seed: Seed = about("another number, another meander", 1)

    @property
    def terms(self) -> int:
        return 1 + 6 * len(self.stones)

    def heights(self, canvas: Canvas) -> Heights:
        cos, sin = math.cos(math.radians(self.flow)), math.sin(math.radians(self.flow))
        turned = [
            (cos * stone.centre[0] + sin * stone.centre[1], cos * stone.centre[1] - sin * stone.centre[0], stone.radius)
            for stone in self.stones
        ]
        line = 2.0 * math.pi / self.length
        ripple_line = 2.0 * math.pi / (self.ripple_length or 3.0 * self.length)
        far = 4.5 * self.length

        def stream(x: Array, y: Array) -> Array:
            along, across = cos * x + sin * y, cos * y - sin * x
            psi = stream_function(along, across, turned, keen=6.0)
            # The flow's other half, phi = U x (1 + a^2/r^2): ripples stand across it and bend round the stones with it.
            phi = along
            open_water = wet = slow = np.ones(())
            land: Array = np.zeros(())
            for (right, up, radius), stone in zip(turned, self.stones, strict=True):
                ahead, aside = (along - right) ** 2, (across - up) ** 2
                square = ahead + aside
                near = stone_share(square, radius, 6.0)
                phi = phi + (along - right) * near
                open_water = open_water * (1.0 - near)
                # Speed squared: 1 - 2 near cos 2 theta + near^2. Where lines crowd they are made lower, never steeper.
                fast = near * (near - 2.0 * (ahead - aside) / (square + 0.01 * radius * radius))
                slow = slow / np.sqrt(1.0 + 0.75 * fast)
                wet = wet * (1.0 - _pebble(square, 1.1 * radius))
                land = land + (1.0 + stone.height) * _pebble(square, 1.3 * radius)
            psi = psi + (1.4 * self.meander * self.length) * open_water * undulation(x / far, y / far, seed=self.seed)
            water = np.cos(psi * line) + 0.45 * np.cos(psi * (0.58 * line) + 1.0)
            water *= 1.0 / 1.45
            water *= slow
            # Ripples come in short crests: each is carried forward and back across the flow.
            water += self.ripple * np.cos(phi * ripple_line + 1.5 * np.sin(psi * (0.37 * line))) * open_water
            return water * wet + land

        return stream

    def finest(self, canvas: Canvas) -> float:
        # Beside a round stone the water runs twice as fast, so that lines stand twice as close (potential flow).
        lines = [self.length, *([self.ripple_length or 3.0 * self.length] if self.ripple else [])]
        close = 2.0 if self.stones else 1.0
        return min([min(lines) / (close + self.meander), *(stone.radius for stone in self.stones)])
