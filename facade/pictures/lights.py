"""The lights that a front may stand in: those of a room, by their names, and how much they make of its relief."""

from __future__ import annotations

import numpy as np

from facade.front import Front
from facade.job.model import Edge, LightFrom, Picture
from facade.pictures.carving import Carving
from facade.pictures.light import Lamp, Light

# Common practice: a row of lamps 0.6 to 1 m before the wall, light strips 50 to 100 mm before the face. Lengths in mm.
_CEILING = Lamp(Edge.TOP, beyond=700.0, out=800.0)
_STRIP_BEYOND, _STRIP_OUT = 30.0, 80.0
# From the front light comes out of half the room: this share from everywhere, the rest from so many degrees around.
_FLAT, _WIDE = 0.45, 35.0
_SIDES = {
    LightFrom.LEFT: Edge.LEFT,
    LightFrom.RIGHT: Edge.RIGHT,
    LightFrom.TOP: Edge.TOP,
    LightFrom.BOTTOM: Edge.BOTTOM,
}
_WORDS = {
    LightFrom.LEFT: "window on the left",
    LightFrom.RIGHT: "window on the right",
    LightFrom.TOP: "light from above",
    LightFrom.BOTTOM: "light from below",
    LightFrom.FRONT: "flat light from the front",
    LightFrom.CEILING: "lamps in the ceiling, 0.8 m before the face",
    LightFrom.STRIP_ABOVE: "light strip close above",
    LightFrom.STRIP_BELOW: "light strip close below",
}


def light_of(picture: Picture, tall: float) -> Light:
    """Return the light of a picture of a front that is `tall` mm high."""
    if picture.light in _SIDES:
        light = Light.beyond(_SIDES[picture.light], picture.light_height)
        return Light(light.azimuth + picture.light_turn, light.height) if picture.light_turn else light
    if picture.light is LightFrom.FRONT:
        return Light(180.0, 90.0, _FLAT, spread=_WIDE)
    if picture.light is LightFrom.CEILING:
        return Light.near(_CEILING, tall)
    edge = Edge.TOP if picture.light is LightFrom.STRIP_ABOVE else Edge.BOTTOM
    return Light.near(Lamp(edge, _STRIP_BEYOND, _STRIP_OUT), tall)


def light_words(picture: Picture) -> str:
    """Return a light in words."""
    words = _WORDS[picture.light]
    if picture.light not in _SIDES:
        return words
    turned = f", turned by {picture.light_turn:g}" if picture.light_turn else ""
    return f"{words}, {picture.light_height:g} degrees above the face{turned}"


def contrast(front: Front, carving: Carving) -> float:
    """Return how many times as bright bright slopes of the wood are as dark ones: 19 places of 20 lie between these.

    Figure of the wood and the lamps' falling off are left out: it is what the relief alone does under this light.
    """
    strips, x, y = front.layout.strips, carving.grid.x, carving.grid.y
    edges = np.array([edge for strip in strips for edge in (strip.left, strip.right)])
    across = np.searchsorted(edges, x) % 2 == 1
    along = (y > strips[0].bottom) & (y < strips[0].top)
    low, high = np.percentile((carving.wood / carving.level)[np.ix_(along, across)], [2.5, 97.5])
    return float(high / max(low, 1e-6))
