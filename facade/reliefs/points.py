"""Points: the smoothest surface through given heights."""

from __future__ import annotations

from typing import Annotated, Literal

import numpy as np
from pydantic import Field, model_validator

from facade.arrays import Array
from facade.fields import Model, Place, Point, about
from facade.reliefs.base import Canvas, Heights, Relief, relief_kind


class Given(Model):
    """A height that the surface must pass through."""

    place: Point = about("from the left, from the lower edge")
    height: Place = about("height there; against the others, or in the job's unit when the fit is 'as given'")


def _kernel(square: Array) -> Array:
    """Return r^2 log r of the squared distances, 0 at r = 0."""
    with np.errstate(divide="ignore", invalid="ignore"):
        bent: Array = 0.5 * square * np.log(square)
    return np.where(square > 0, bent, 0.0)


def thin_plate(places: Array, heights: Array) -> tuple[Array, Array]:
    """Return the weights (n,) and the plane (3,) of the thin plate that passes through the heights.

    z = sum of w_i r_i^2 log r_i + a + b x + c y (J. Duchon, 1977). Raises ValueError when the places lie on one line.
    """
    count = len(places)
    away = places[:, None] - places[None]
    plane = np.column_stack([np.ones(count), places])
    if np.linalg.matrix_rank(plane - [0.0, *places.mean(axis=0)]) < 3:
        raise ValueError("the points must not all lie on one line")
    matrix = np.block([[_kernel((away**2).sum(axis=2)), plane], [plane.T, np.zeros((3, 3))]])
    solved = np.linalg.solve(matrix, np.concatenate([heights, np.zeros(3)]))
    return solved[:count], solved[count:]


@relief_kind
class Points(Relief):
    """A thin plate bent through given heights, as a batten is sprung through marks but both ways at once."""

    summary = "the smoothest surface through heights you give"
    example = {
        "points": [
            {"place": [right, up], "height": height}
            for up, heights in (
                (60, (3, 14, 2, 12, 5, 16, 4)),
                (300, (12, 1, 15, 4, 13, 0, 9)),
                (540, (2, 11, 5, 14, 3, 10, 1)),
            )
            for right, height in zip(range(0, 701, 116), heights, strict=True)
        ]
    }

    kind: Literal["points"] = "points"
    points: Annotated[tuple[Given, ...], Field(min_length=3, max_length=400)] = about(
        "the given heights, three or more"
    )

    @model_validator(mode="after")
    def _apart(self) -> Points:
        places = np.array([given.place for given in self.points])
        away = ((places[:, None] - places[None]) ** 2).sum(axis=2)
        np.fill_diagonal(away, np.inf)
        first, second = np.unravel_index(int(away.argmin()), away.shape)
        if away[first, second] < 1e-6:
            raise ValueError(f"points {first + 1} and {second + 1} stand at the same place: leave one out")
        self._plate()
        return self

    def _plate(self) -> tuple[Array, Array, Array, float]:
        """Return places, weights and plane in units of the points' own spread, which keeps the sums well conditioned."""
        places = np.array([given.place for given in self.points])
        spread = float(np.ptp(places, axis=0).max())
        return places, *thin_plate(places / spread, np.array([given.height for given in self.points])), spread

    @property
    def terms(self) -> int:
        return len(self.points)

    def heights(self, canvas: Canvas) -> Heights:
        places, weights, plane, spread = self._plate()

        def points(x: Array, y: Array) -> Array:
            total: Array = plane[0] + plane[1] / spread * x + plane[2] / spread * y
            for (right, up), weight in zip(places, weights, strict=True):
                square = ((x - right) / spread) ** 2 + ((y - up) / spread) ** 2
                total += weight * _kernel(square)
            return total

        return points

    def finest(self, canvas: Canvas) -> float:
        places = np.array([given.place for given in self.points])
        square = ((places[:, None] - places[None]) ** 2).sum(axis=2)
        np.fill_diagonal(square, np.inf)
        return float(np.sqrt(square.min()))
