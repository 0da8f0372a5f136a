"""Where on its strip a printed stretch starts: by the figures of places that stand along it."""

from __future__ import annotations

import re
from collections.abc import Iterable

import numpy as np

from facade.layout import StripPlace
from facade.proof.svg import Word
from facade.proof.truth import ROUNDING, Truth


def start_of(row: Iterable[Word], left: float, place: StripPlace, truth: Truth) -> float | None:
    """Return which place from the top, mm, is at the left end of a stretch with TOP at the left; None where its figures do not say.

    Figures at the ends may stand a little aside of their places, so that the start is the station that most of them agree on.
    """
    said = [truth.read_number(word.text) - (word.x - left) for word in row if re.fullmatch(r"\d[\d ./]*", word.text)]
    near = truth.printed_rounding(1) + ROUNDING
    starts = np.arange(0.0, place.length, truth.front.job.station)
    votes = [sum(abs(one - start) <= near for one in said) for start in starts.tolist()]
    return float(starts[int(np.argmax(votes))]) if max(votes) else None
