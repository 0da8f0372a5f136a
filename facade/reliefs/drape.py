"""Drape: cloth hanging from the top edge in folds that open as they fall."""

from __future__ import annotations

import math
from typing import Annotated, Literal

import numpy as np
from pydantic import Field

from facade.arrays import Array, smooth_step
from facade.fields import Pattern, Seed, Share, about
from facade.reliefs.base import Canvas, Heights, Relief, relief_kind
from facade.reliefs.undulation import undulation


@relief_kind
class Drape(Relief):
    """Hanging cloth: close, shallow pleats at the top that spread, deepen and merge two by two as they fall."""

    summary = "hanging cloth in folds that open as they fall"
    example = {"fold": 110, "fall": 520, "sway": 0.5, "seed": 2}

    kind: Literal["drape"] = "drape"
    fold: Pattern = about("from fold to fold, half way down the fall")
    fall: Pattern = about("how far down from the top the folds reach their full depth")
    sway: Share = about("how far folds stray from their line, in folds", 0.4)
    spread: Share = about("how much the folds spread from the middle of the front as they fall; 0: plumb", 0.5)
    top: Share = about("depth of the folds at the top against their full depth", 0.3)
    softness: Annotated[float, Field(strict=True, ge=0, le=0.45)] = about(
        "0: even waves; 0.45: round folds, narrow hollows", 0.3
    )
    seed: Seed = about("another number, another cloth", 1)

    def heights(self, canvas: Canvas) -> Heights:
        middle = canvas.width / 2
        far, tall = 2.6 * self.fold, 0.9 * self.fall

        def drape(x: Array, y: Array) -> Array:
            fallen = (canvas.height - y) / self.fall
            opened = smooth_step(fallen)
            # tanh lets the folds spread steadily at first and hang plumb at last, however long the cloth.
            wide = 1.0 + 0.5 * self.spread * np.tanh(fallen - 0.5)
            stray = undulation(x / far, y / tall, seed=self.seed)
            turn = ((x - middle) / (self.fold * wide) + 1.1 * self.sway * stray) * (2.0 * math.pi)
            pair = 0.5 * turn + 1.1 * undulation(x / (1.3 * far), y / tall, seed=self.seed, turn=1)
            depth = self.top + (1.0 - self.top) * opened
            return depth * (_folds(turn, self.softness) + 0.9 * opened * _folds(pair, self.softness))

        return drape

    def finest(self, canvas: Canvas) -> float:
        return self.fold / (1.3 + self.sway)


def _folds(turn: Array, softness: float) -> Array:
    """Return a cosine whose angle lags at the crest: round folds with narrow hollows between them."""
    folds: Array = np.cos(turn + softness * np.sin(turn))
    return folds
