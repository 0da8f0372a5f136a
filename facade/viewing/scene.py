"""A front as the viewer takes it: heights of every strip as whole numbers, and what is needed to light them."""

from __future__ import annotations

import json
from typing import Any

import numpy as np
from numpy.typing import NDArray

from facade.front import Front
from facade.pictures.finish import finish_of
from facade.pictures.front import linear
from facade.pictures.lights import light_of, light_words
from facade.pictures.wood import board_numbers, board_of
from facade.wood.species import species

COARSE, FINE = (5, 90), (16, 350)  # columns and rows of a strip while a slider moves, and when it rests
_MOST = 2_000_000  # heights of a scene; a wall gets fewer rows
_WIDEST = 8192  # columns of all strips side by side, that every graphics card takes
_LEVELS = 65535


def grid_of(front: Front, wanted: tuple[int, int]) -> tuple[int, int]:
    """Return the columns and rows of a strip: those wanted, fewer where there are very many strips."""
    columns = max(2, min(wanted[0], _WIDEST // len(front.numbers)))
    return columns, max(2, min(wanted[1], _MOST // (columns * len(front.numbers))))


def heights_of(front: Front, columns: int, rows: int) -> NDArray[np.uint16]:
    """Return the heights (rows, strips * columns), lowest row first, in parts of 65535 of the blank; both edges and ends exact."""
    strips = front.layout.strips
    share = np.linspace(0.0, 1.0, columns)
    x = np.concatenate([strip.left + share * (strip.right - strip.left) for strip in strips])
    y = np.linspace(strips[0].bottom, strips[0].top, rows)
    heights = front.surface.at(x[None, :], y[:, None])
    return np.rint(heights * (_LEVELS / front.job.wood.blank)).astype("<u2")


def about(front: Front, columns: int, rows: int) -> dict[str, Any]:
    """Return all but the heights: sizes in mm, wood and light as the viewer's shaders take them."""
    layout, job = front.layout, front.job
    return {
        "title": job.title,
        "mark": front.mark,
        "unit": job.unit.value,
        "columns": columns,
        "rows": rows,
        "blank": job.wood.blank,
        "width": layout.width,
        "height": layout.height,
        "bottom": layout.strips[0].bottom,
        "top": layout.strips[0].top,
        "strips": [[strip.left, strip.right, strip.door] for strip in layout.strips],
        "numbers": list(layout.numbers),
        "doors": [[door.left, door.right, door.bottom, door.top] for door in layout.doors],
        "wood": _wood(front),
        "light": _light(front),
    }


def _wood(front: Front) -> dict[str, Any]:
    """Return colours, linear, rings and boards, as `facade.pictures.wood` has them."""
    kind, finish, strips = species(front.job.wood.species), finish_of(front.job.picture.finish), front.layout.strips
    numbers = board_numbers(strips)
    ends = {number: [index for index, one in enumerate(numbers) if one == number] for number in numbers}
    boards = {number: board_of(number, strips[mine[0]].left, strips[mine[-1]].right) for number, mine in ends.items()}
    return {
        "dark": finish.colour(linear(kind.dark)).tolist(),
        "light": finish.colour(linear(kind.light)).tolist(),
        "drinks": finish.drinks,
        "ring": kind.ring,
        "contrast": kind.contrast,
        "streak": kind.streak,
        "late": kind.late,
        "boards": [
            [
                boards[one].pith,
                boards[one].depth,
                boards[one].lean,
                boards[one].drift,
                boards[one].start,
                boards[one].tone,
            ]
            for one in numbers
        ],
    }


def _light(front: Front) -> dict[str, Any]:
    light = light_of(front.job.picture, front.layout.height)
    lamp = light.lamp
    return {
        "words": light_words(front.job.picture),
        "direction": list(light.direction),
        "ambient": light.ambient,
        "lamp": [1.0 if lamp.edge.value == "top" else -1.0, lamp.beyond, lamp.out] if lamp else None,
    }


def packed(front: Front, wanted: tuple[int, int], **more: Any) -> bytes:
    """Return a scene: the length of what is said of it (4 bytes, low first), that as JSON, then the heights, 2 bytes each."""
    columns, rows = grid_of(front, wanted)
    said = json.dumps(about(front, columns, rows) | more, separators=(",", ":")).encode("utf-8")
    said += b" " * (-len(said) % 4)
    return len(said).to_bytes(4, "little") + said + heights_of(front, columns, rows).tobytes()
