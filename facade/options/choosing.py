"""The most different of many variants."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from facade.arrays import Array


def most_different(shapes: Sequence[Array], count: int, first: int = 0) -> list[int]:
    """Return which of the shapes (n,) to show, in the order in which they are found: each the farthest from all before it.

    Farthest-point sampling (T. F. Gonzalez, "Clustering to minimize the maximum intercluster distance", 1985), from the `first` one on.
    """
    points = np.stack(list(shapes))
    chosen = [first]
    nearest = np.linalg.norm(points - points[first], axis=1)
    while len(chosen) < min(count, len(points)):
        # What is no farther than rounding is the same shape again.
        following = int(nearest.argmax())
        if nearest[following] <= 1e-9:
            break
        chosen.append(following)
        nearest = np.minimum(nearest, np.linalg.norm(points - points[following], axis=1))
    return chosen
