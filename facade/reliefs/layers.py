"""Placing a relief on the front and joining layers of relief into one."""

from __future__ import annotations

import math
from collections.abc import Sequence

from facade.arrays import Array, smooth_maximum, smooth_minimum, smooth_step
from facade.reliefs.base import Canvas, Combine, Heights, Mirror, Relief

# Where two layers cross, the higher or lower is rounded over this difference: a sharp groove could not be carved.
_ROUNDING = 0.1


def placed(relief: Relief, canvas: Canvas) -> Heights:
    """Return the relief's heights, mirrored, stretched and turned about the middle of the canvas, then moved."""
    heights = relief.heights(canvas)
    across, up = canvas.width / 2, canvas.height / 2
    right, higher = relief.move
    turn = math.radians(-relief.turn)
    cos, sin = math.cos(turn) / relief.stretch, math.sin(turn) / relief.stretch
    flip_x = -1.0 if relief.mirror is Mirror.LEFT_RIGHT else 1.0
    flip_y = -1.0 if relief.mirror is Mirror.UP_DOWN else 1.0
    amount = relief.amount

    def unturned(x: Array, y: Array) -> Array:
        u, v = (x - (right + across)) / relief.stretch, (y - (higher + up)) / relief.stretch
        return amount * heights(flip_x * u + across, flip_y * v + up)

    def turned(x: Array, y: Array) -> Array:
        u, v = x - (right + across), y - (higher + up)
        return amount * heights(flip_x * (cos * u - sin * v) + across, flip_y * (sin * u + cos * v) + up)

    if relief.turn:
        return turned
    if relief.stretch == 1.0 and relief.move == (0.0, 0.0) and relief.mirror is Mirror.NONE:
        return heights if amount == 1.0 else lambda x, y: amount * heights(x, y)
    return unturned


def combined(layers: Sequence[Relief], canvas: Canvas) -> Heights:
    """Return all layers as one relief, joined in order to a flat beginning.

    A mask is not seen itself: it gives the share, 0 where it is at most -1 and 1 where it is at least 1, to which the
    next layer joins; masks in a row multiply.
    """
    parts = [(layer.combine, placed(layer, canvas)) for layer in layers]

    def together(x: Array, y: Array) -> Array:
        total: Array | None = None
        share: Array | None = None
        for combine, heights in parts:
            layer = heights(x, y)
            if combine is Combine.MASK:
                lets = smooth_step(0.5 + 0.5 * layer)
                share = lets if share is None else share * lets
                continue
            joined = layer if total is None else _joined(combine, total, layer)
            if share is not None:
                below = 0.0 if total is None else total
                joined = below + share * (joined - below)
            total, share = joined, None
        assert total is not None
        return total

    return together


def finest(layers: Sequence[Relief], canvas: Canvas) -> float:
    """Return about how short the shortest wave of all layers together is, mm; inf for none.

    A product of two waves has waves in which their cycles are added: sin a sin b = (cos(a - b) - cos(a + b)) / 2.
    """
    cycles, product = 0.0, 0.0
    for layer in layers:
        product += 1.0 / (layer.stretch * layer.finest(canvas)) if layer.amount else 0.0
        if layer.combine is Combine.MULTIPLY:
            cycles += product
        elif layer.combine is not Combine.MASK:
            cycles = max(cycles, product)
        product = product if layer.combine is Combine.MASK else 0.0
    return 1.0 / cycles if cycles else math.inf


MANY_TERMS = 20
"""Of a relief with more terms than this fewer heights are worked out, and fewer changes tried."""


def terms(layers: Sequence[Relief]) -> int:
    """Return how many terms all layers add up at each place: a measure of the work."""
    return sum(layer.terms for layer in layers)


def _joined(combine: Combine, below: Array, layer: Array) -> Array:
    if combine is Combine.ADD:
        return below + layer
    if combine is Combine.MULTIPLY:
        return below * layer
    if combine is Combine.HIGHER:
        return smooth_maximum(below, layer, _ROUNDING)
    if combine is Combine.LOWER:
        return smooth_minimum(below, layer, _ROUNDING)
    return layer
