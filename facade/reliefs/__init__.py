"""Reliefs: the shapes a front can take, each a pure function of places on the front.

To add a kind: write a file with a class of `Relief` under `@relief_kind`, import it here and name it in `AnyRelief`.
"""

from __future__ import annotations

from typing import Annotated

from pydantic import Field

from facade.reliefs.base import KINDS, Canvas, Combine, Heights, Mirror, Relief
from facade.reliefs.drape import Drape
from facade.reliefs.dunes import Dunes
from facade.reliefs.facets import Facets
from facade.reliefs.grid import Grid, Mesh
from facade.reliefs.hills import Hills, Ridges
from facade.reliefs.layers import MANY_TERMS, combined, finest, terms
from facade.reliefs.points import Points
from facade.reliefs.rings import Rings
from facade.reliefs.stream import Stream
from facade.reliefs.swell import Swell
from facade.reliefs.waves import Waves

AnyRelief = Annotated[
    Waves | Rings | Dunes | Hills | Ridges | Swell | Stream | Drape | Facets | Points | Grid | Mesh,
    Field(discriminator="kind"),
]

__all__ = [
    "KINDS",
    "MANY_TERMS",
    "AnyRelief",
    "Canvas",
    "Combine",
    "Heights",
    "Mirror",
    "Relief",
    "combined",
    "finest",
    "terms",
]
