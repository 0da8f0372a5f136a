"""Pieces on sheets: on shelves, so that little paper is wasted, and those that belong together on one sheet.

First fit on shelves, in the given order (E. G. Coffman, M. R. Garey, D. S. Johnson and R. E. Tarjan, "Performance bounds for
level-oriented two-dimensional packing algorithms", SIAM Journal on Computing 9, 1980, from memory). Pieces of a front come in few
sizes, so that shelves fill well; those of one strip stay together.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field, replace

from facade.templates.piece import Piece, Room

# Between two pieces, mm: room for scissors.
APART = 1.0
_HAIR = 1e-9


@dataclass(frozen=True)
class Placed:
    """A piece and where its lower left corner lies, mm, y counted downwards from the top of the room to the piece's top."""

    piece: Piece
    x: float
    down: float


@dataclass(frozen=True)
class _Shelf:
    """Pieces of about one size, side by side: `along` the shelf and `across` it."""

    start: float
    across: float
    used: float = 0.0


@dataclass
class _Sheet:
    """Shelves with their pieces; `found` are the places of the pieces that were tried last."""

    shelves: list[_Shelf] = field(default_factory=list)
    placed: list[Placed] = field(default_factory=list)
    found: list[tuple[float, float]] = field(default_factory=list)

    def with_room(
        self, sizes: Sequence[tuple[float, float]], along_room: float, across_room: float
    ) -> list[_Shelf] | None:
        """Return its shelves with further pieces of these sizes on them, None where one finds no room."""
        shelves, self.found = list(self.shelves), []
        for along, across in sizes:
            fits = (
                number
                for number, shelf in enumerate(shelves)
                if shelf.used + along <= along_room + _HAIR and across <= shelf.across + _HAIR
            )
            index = next(fits, len(shelves))
            if index == len(shelves):
                start = shelves[-1].start + shelves[-1].across + APART if shelves else 0.0
                if start + across > across_room + _HAIR:
                    return None
                shelves.append(_Shelf(start, across))
            shelf = shelves[index]
            self.found.append((shelf.used, shelf.start))
            shelves[index] = replace(shelf, used=shelf.used + along + APART)
        return shelves


def units_of(pieces: Sequence[Piece], room: Room) -> list[list[Piece]]:
    """Return pieces that are to share a sheet together, others alone; so are those of which one sheet cannot hold all."""
    units: list[list[Piece]] = []
    for one in pieces:
        if units and one.together and units[-1][-1].together == one.together:
            units[-1].append(one)
        else:
            units.append([one])
    return [part for unit in units for part in ([unit] if _fits(unit, room) else [[one] for one in unit])]


def _fits(unit: Sequence[Piece], room: Room) -> bool:
    sizes = [(one.width, one.height) for one in unit]
    return len(unit) == 1 or _Sheet().with_room(sizes, room.width, room.height) is not None


def packed(pieces: Sequence[Piece], room: Room, *, in_order: bool = False) -> list[list[Placed]]:
    """Return the pieces by sheets: on level or on upright shelves, whichever takes fewer sheets, and of these less room.

    No piece may be larger than the room. With `in_order` no piece comes on a sheet before one that it follows.
    """
    for piece in pieces:
        assert piece.width <= room.width + _HAIR, piece.name
        assert piece.height <= room.height + _HAIR, piece.name
    together = units_of(pieces, room)
    tried = [_on_shelves(together, room, upright=False, in_order=in_order)]
    single = [[one] for one in pieces]
    if all(len(unit) == 1 for unit in together):
        tried.append(_on_shelves(single, room, upright=True, in_order=in_order))
    return min(tried, key=lambda sheets: (len(sheets), extent(sheets[-1])[0] if sheets else 0.0))


def extent(placed: Sequence[Placed]) -> tuple[float, float]:
    """Return width and height, mm, that pieces on a sheet take up from its upper left corner."""
    return (
        max((one.x + one.piece.width for one in placed), default=0.0),
        max((one.down + one.piece.height for one in placed), default=0.0),
    )


def _on_shelves(units: Sequence[Sequence[Piece]], room: Room, *, upright: bool, in_order: bool) -> list[list[Placed]]:
    """Put every unit on the first sheet that has room for it, or on a new one; `in_order` on the last sheet or a new one."""
    along_room, across_room = (room.height, room.width) if upright else (room.width, room.height)
    sheets: list[_Sheet] = []
    for unit in units:
        sizes = [(one.height, one.width) if upright else (one.width, one.height) for one in unit]
        for sheet in sheets[-1:] if in_order else sheets:
            shelves = sheet.with_room(sizes, along_room, across_room)
            if shelves is not None:
                break
        else:
            sheet = _Sheet()
            shelves = sheet.with_room(sizes, along_room, across_room)
            sheets.append(sheet)
        assert shelves is not None, unit[0].name
        sheet.shelves = shelves
        for one, (along, down) in zip(unit, sheet.found, strict=True):
            sheet.placed.append(Placed(one, *((down, along) if upright else (along, down))))
    return [sheet.placed for sheet in sheets]
