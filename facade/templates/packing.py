"""Pieces on sheets: in their order, on shelves, so that little paper is wasted.

First fit on shelves, in the given order (E. G. Coffman, M. R. Garey, D. S. Johnson and R. E. Tarjan, "Performance bounds for
level-oriented two-dimensional packing algorithms", SIAM Journal on Computing 9, 1980, from memory). Pieces of a front come in few
sizes, so that shelves fill well; those of one strip stay together.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field

from facade.templates.piece import Piece, Room

# Between two pieces, mm: room for scissors.
APART = 1.5
_HAIR = 1e-9


@dataclass(frozen=True)
class Placed:
    """A piece and where its lower left corner lies, mm, y counted downwards from the top of the room to the piece's top."""

    piece: Piece
    x: float
    down: float


@dataclass
class _Shelf:
    """Pieces of about one size, side by side: `along` the shelf and `across` it."""

    start: float
    across: float
    used: float = 0.0


@dataclass
class _Sheet:
    shelves: list[_Shelf] = field(default_factory=list)
    placed: list[Placed] = field(default_factory=list)


def packed(pieces: Sequence[Piece], room: Room) -> list[list[Placed]]:
    """Return the pieces by sheets: on level or on upright shelves, whichever takes fewer sheets, and of these less room.

    No piece may be larger than the room.
    """
    for piece in pieces:
        assert piece.width <= room.width + _HAIR, piece.name
        assert piece.height <= room.height + _HAIR, piece.name
    level, upright = _on_shelves(pieces, room, upright=False), _on_shelves(pieces, room, upright=True)
    return min((level, upright), key=lambda sheets: (len(sheets), extent(sheets[-1])[0] if sheets else 0.0))


def extent(placed: Sequence[Placed]) -> tuple[float, float]:
    """Return width and height, mm, that pieces on a sheet take up from its upper left corner."""
    return (
        max((one.x + one.piece.width for one in placed), default=0.0),
        max((one.down + one.piece.height for one in placed), default=0.0),
    )


def _on_shelves(pieces: Sequence[Piece], room: Room, *, upright: bool) -> list[list[Placed]]:
    """Put every piece on the first shelf of the last sheet that holds it, on a new shelf, or on a new sheet."""
    along_room, across_room = (room.height, room.width) if upright else (room.width, room.height)
    sheets: list[_Sheet] = []
    for piece in pieces:
        along, across = (piece.height, piece.width) if upright else (piece.width, piece.height)
        shelf = _shelf_for(sheets, along, across, along_room, across_room)
        place = (shelf.used, shelf.start)
        x, down = (place[1], place[0]) if upright else place
        sheets[-1].placed.append(Placed(piece, x, down))
        shelf.used += along + APART
    return [sheet.placed for sheet in sheets]


def _shelf_for(sheets: list[_Sheet], along: float, across: float, along_room: float, across_room: float) -> _Shelf:
    if sheets:
        for shelf in sheets[-1].shelves:
            if shelf.used + along <= along_room + _HAIR and across <= shelf.across + _HAIR:
                return shelf
        last = sheets[-1].shelves[-1]
        start = last.start + last.across + APART
        if start + across <= across_room + _HAIR:
            shelf = _Shelf(start, across)
            sheets[-1].shelves.append(shelf)
            return shelf
    shelf = _Shelf(0.0, across)
    sheets.append(_Sheet([shelf]))
    return shelf
