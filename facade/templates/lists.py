"""The lists: parts, triangle, joints to feel, chart to tick, table of offsets."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

from facade.templates import list_chart, list_joints, list_offsets, list_parts, list_triangle
from facade.templates.piece import Asked, Piece, Room

# On a roll no list is wider than this, mm: nobody reads a line of five metres.
_WIDEST = 420.0


def pieces(asked: Asked) -> Iterator[Piece]:
    """Yield the pieces of every list; triangle and chart, which are about all strips, only where all are asked for."""
    room = Room(min(asked.room.width, _WIDEST), asked.room.height)
    asked = replace(asked, strips=tuple(sorted(set(asked.strips))), room=room)
    if not asked.strips:
        return
    whole = set(asked.strips) == set(asked.front.numbers)
    yield from list_parts.pieces(asked)
    if whole:
        yield from list_triangle.pieces(asked)
    yield from list_joints.pieces(asked)
    if whole:
        yield from list_chart.pieces(asked)
    yield from list_offsets.pieces(asked)
