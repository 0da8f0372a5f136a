"""The lists: parts, triangle, joints to feel, chart to tick."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

from facade.templates import list_chart, list_joints, list_parts, list_triangle
from facade.templates.piece import Asked, Piece, Room

# On a roll no list is wider than this, mm: nobody reads a line of five metres.
_WIDEST = 420.0


def pieces(asked: Asked) -> Iterator[Piece]:
    """Yield the pieces of every list; triangle and chart, which are about whole doors, only where one is asked for."""
    room = Room(min(asked.room.width, _WIDEST), asked.room.height)
    asked = replace(asked, strips=tuple(sorted(set(asked.strips))), room=room)
    if not asked.strips:
        return
    yield from list_parts.pieces(asked)
    if asked.whole_doors:
        yield from list_triangle.pieces(asked)
    yield from list_joints.pieces(asked)
    if asked.whole_doors:
        yield from list_chart.pieces(asked)
