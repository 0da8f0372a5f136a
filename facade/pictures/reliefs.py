"""A picture of each kind of relief, carved as its own example says into one small door."""

from __future__ import annotations

from facade.front import build_front
from facade.job import make_job
from facade.pictures.front import front_picture
from facade.presets import presets_folder
from facade.reliefs import KINDS


def relief_picture(kind: str, width: int = 900) -> bytes:
    """Return a PNG, `width` pixels wide, of a door carved with the example of a kind of relief.

    Raises KeyError for a kind that is not there. Files that an example reads are those of the presets.
    """
    settings = {
        "title": kind,
        "front": {"width": 700, "height": 600},
        "strips": {"width": 18, "gap": 3},
        "wood": {"species": "sugar maple", "blank": 24, "floor": 8},
        "picture": {"light_height": 17.0},
        "sampling": {"step": 2.0},
        "layers": [{"kind": kind, **KINDS[kind].example}],
    }
    return front_picture(build_front(make_job(settings, name=kind, folder=presets_folder())), width)
