"""What is set strip by strip on a carving board: how high its spacers are, and where the rows lie when strips are packed tight."""

from __future__ import annotations

import itertools
from collections.abc import Sequence
from functools import partial

import numpy as np

from facade.arrays import Array
from facade.drawing import Anchor
from facade.front import Front
from facade.layout import Door
from facade.lengths import MM_PER_INCH, Ruler, Unit
from facade.templates.board_drilling import strips_of
from facade.templates.tables import Column, Row, Table, widest_number

# Length of a spacer, mm, in each unit; how far spacers stand from the TOP end, as a share of the strip's length. Common practice.
_SPACER = {Unit.MM: 40.0, Unit.INCH: 1.5 * MM_PER_INCH}
SPACERS_AT = (0.2, 0.8)
# The carve lines beside a spacer are looked at in so many places along it.
_ALONG = 9


def spacer_length(strip: float, unit: Unit) -> float:
    """Return how long spacers are beside strips of a length, mm."""
    return min(_SPACER[unit], strip / 5)


def spacer_levels(front: Front, door: Door) -> Array:
    """Return how high the spacers for a door are, mm above the board (2, gaps): upper and lower row, from the left.

    Each is flush with the carve line of the lower side beside it, and nowhere higher; those beside the dummies are the outermost.
    """
    places = strips_of(front, door)
    length = places[0].length
    half = spacer_length(length, front.job.unit) / 2
    from_top = np.array(SPACERS_AT)[:, None] * length + np.linspace(-half, half, _ALONG)
    edges = np.array([edge for place in places for edge in (place.left, place.right)])
    heights = front.surface.at(edges, (places[0].top - from_top)[..., None])
    beside = np.minimum(heights[..., 1:-1:2], heights[..., 2::2])
    lowest = np.concatenate([heights[..., :1], beside, heights[..., -1:]], axis=-1).min(axis=1)
    return np.asarray(lowest + front.job.wood.sanding)


def spacer_table(front: Front, door: Door, strips: Sequence[int]) -> Table:
    """Return the heights of the spacers for a door, those beside the strips that are asked for."""
    ruler, numbers = front.job.ruler, [place.number for place in strips_of(front, door)]
    names = ["B", *map(str, numbers), "B"]
    about = [tuple(number for number in pair if number in set(strips)) for pair in _pairs(numbers)]
    gaps = [index for index, own in enumerate(about) if own]
    high = widest_number(ruler, front.job.blank)
    columns = (
        Column(("gap between",), f"{front.count} and {front.count}", Anchor.MIDDLE, bold=True),
        Column(("upper", "spacer"), high),
        Column(("lower", "spacer"), high),
    )
    upper, lower = (ruler.text(share * strips_of(front, door)[0].length) for share in SPACERS_AT)
    note = (
        "Heights above the board; B is a dummy. Each is level with the carve line of the lower side beside it, rounded down. "
        f"The middles of the upper ones are {upper} from the TOP ends of the strips, those of the lower ones {lower}."
    )
    rows = partial(_spacer_rows, front, door, names, gaps)
    return Table(
        f"Carving board, door {door.number}: spacers", columns, len(gaps), rows, [about[k] for k in gaps], note
    )


def _pairs(numbers: Sequence[int]) -> list[tuple[int, ...]]:
    """Return what lies on both sides of each gap on a carving board: beside the outermost strips are dummies without a number."""
    return [tuple(numbers[:1]), *itertools.pairwise(numbers), tuple(numbers[-1:])]


def _spacer_rows(
    front: Front, door: Door, names: Sequence[str], gaps: Sequence[int], first: int, after: int
) -> list[Row]:
    ruler, (upper, lower) = front.job.ruler, spacer_levels(front, door).tolist()
    return [
        (
            f"{names[gap]} and {names[gap + 1]}",
            ruler.number(ruler.down(upper[gap])),
            ruler.number(ruler.down(lower[gap])),
        )
        for gap in gaps[first:after]
    ]


def row_table(front: Front, door: Door, across: Sequence[float], strips: Sequence[int]) -> Table:
    """Return where the rows of screws lie on a board with strips packed tight.

    `across` are mm from the board's edge that is left when seen from the back, of all strips of the door from the left as seen
    from the front.
    """
    rows_at = {place.number: at for place, at in zip(strips_of(front, door), across, strict=True)}
    own = [number for number in reversed(rows_at) if number in set(strips)]
    at = [rows_at[number] for number in own]
    columns = (
        Column(("strip",), str(front.count), bold=True),
        Column(("from left", "edge, BACK"), widest_number(front.job.ruler, max(across))),
    )
    note = "Across to the row of each strip, from the carving board's edge that is left when seen from the back."
    rows = partial(_across_rows, front.job.ruler, own, at)
    return Table(
        f"Carving board, door {door.number}, seen from the BACK: rows",
        columns,
        len(own),
        rows,
        [(one,) for one in own],
        note,
    )


def _across_rows(ruler: Ruler, numbers: Sequence[int], across: Sequence[float], first: int, after: int) -> list[Row]:
    return [
        (str(number), ruler.number(at)) for number, at in zip(numbers[first:after], across[first:after], strict=True)
    ]
