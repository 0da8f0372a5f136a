"""What a finish does to the look of wood: how deep its colours are, and how much darker end grain and steep places turn."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from facade.job.model import FinishKind
from facade.pictures.chance import Floats


@dataclass(frozen=True)
class Finish:
    """Colours of the wood are raised to the power `depth` and multiplied by `share`; `drinks` is how much end grain darkens, 0 to 1."""

    depth: float
    share: float
    drinks: float

    def colour(self, linear: Floats) -> Floats:
        """Return a colour of the wood, linear, under the finish."""
        found: Floats = (self.share * np.power(linear, self.depth)).astype(np.float32)
        return found


# By eye; the colours of the species are those of oiled wood. End grain drinks more oil and more stain than the face: common practice.
_FINISHES = {
    FinishKind.RAW: Finish(depth=0.82, share=0.96, drinks=0.12),
    FinishKind.OIL: Finish(depth=1.0, share=1.0, drinks=0.5),
    FinishKind.DARK: Finish(depth=1.15, share=0.55, drinks=0.65),
}


def finish_of(kind: FinishKind) -> Finish:
    """Return what a finish does."""
    return _FINISHES[kind]
