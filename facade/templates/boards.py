"""Boards: drilling the boards of the doors for the screws of their strips, and the board that strips are carved on."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from facade.drawing import Pen
from facade.front import Front
from facade.job.bench import Held
from facade.templates.board_carving import alike, carving_pieces
from facade.templates.board_drilling import COLUMN, HIGHEST, WIDEST, drilling_pieces
from facade.templates.piece import Asked, Lines, Piece, Room
from facade.templates.tables import flow, flowed, heading, paragraph
from facade.templates.ways import ON_CARVING_BOARD

_HELD = {Held.GLUE: "glued over their whole backs", Held.BEAD: "glued along the middle third of their backs"}


def pieces(asked: Asked) -> Iterator[Piece]:
    """Yield for each door the drilling of its board, then the carving boards."""
    front = asked.front
    doors = asked.doors
    if front.job.fixing.by is Held.SCREWS:
        for door in doors:
            yield from drilling_pieces(asked, door)
    else:
        yield from _no_screws(asked)
    if front.job.way in ON_CARVING_BOARD or front.job.carving.board:
        for group in alike(front, doors):
            yield from carving_pieces(asked, group)


def key(front: Front, lines: Lines) -> Sequence[tuple[Pen, str]]:
    """Return what each line means, in words."""
    return ((Pen.BACK, "board"), (Pen.FLOOR, "strips"), (Pen.FOLD, "no clamp or screw inside"))


def _no_screws(asked: Asked) -> list[Piece]:
    """Return one piece which says that no board is drilled."""
    room = Room(min(asked.room.width, WIDEST), min(asked.room.height, HIGHEST))
    through = flow(room, min(COLUMN, room.width))
    how = _HELD[asked.front.job.fixing.by]
    words = f"The strips are {how}: the boards of the doors are not drilled for screws."
    blocks = [heading("No screws", through.width), paragraph(words, through.width)]
    return flowed("no screws", blocks, through)
