"""If something goes wrong: fault by fault what to do, the cheapest way first, on one sheet."""

from __future__ import annotations

from collections.abc import Iterator
from functools import partial

from facade.drawing import Drawing
from facade.front import Front
from facade.templates.piece import Asked, Piece, Room
from facade.templates.tables import PLAIN, PLAIN_PITCH, Block, flow, flowed, heading, paragraph, tolerance

# Pages of running text larger than this are no easier to read, mm.
_WIDEST = 275.0
_HIGHEST = 375.0
# Up to this a low strip is packed up from behind, and a hollow met by its neighbours, mm (common practice).
_PACKED, _MET = 1.0, 2.0


def pieces(asked: Asked) -> list[Piece]:
    """Return the page, wide as its columns and no higher than needed."""
    room = Room(min(asked.room.width, _WIDEST), min(asked.room.height, _HIGHEST))
    through = flow(room)
    return flowed("If something goes wrong", list(_blocks(asked.front, through.width)), through)


def _blocks(front: Front, width: float) -> Iterator[Block]:
    yield heading("The cheapest way first", width)
    yield paragraph(
        "Most blunders come of haste. Ways are tried in their order. Times are for a practised hand, from memory; drying is not counted.",
        width,
    )
    for fault, ways in _faults(front):
        yield Block(PLAIN_PITCH + 1.4, partial(_draw_fault, fault), leads=True)
        for number, way in enumerate(ways, 1):
            yield paragraph(way, width, lead=f"{number}")


def _draw_fault(fault: str, piece: Drawing, left: float, top: float) -> None:
    piece.label(fault, left, top - 4.4, PLAIN, bold=True)


def _faults(front: Front) -> Iterator[tuple[str, tuple[str, ...]]]:
    """Yield each fault with its ways out, the cheapest first (common practice; times from memory)."""
    ruler, mismatch = front.job.ruler, front.job.limit("mismatch").value
    step, packed, met = (tolerance(ruler, size) for size in (mismatch, _PACKED, _MET))
    yield (
        "Carved too deep",
        (
            f"Under {step}: sand both neighbours to meet it, 10 minutes.",
            f"To {met}: lower the neighbours too, in a long smooth dip, half an hour. Where the strip is low all over: pack it up from "
            "behind, 10 minutes.",
            "Deeper, or on the floor line: a new strip, 2 hours.",
        ),
    )
    yield (
        "Strip ruined",
        (
            "A crack: thin glue, tape, clamps; move the screw that made it, half an hour.",
            "Turn to the spare blank of the same board and print this strip alone (`facade paper JOB --strip 23`), 2 hours.",
            "No wood left: hang the door without it and share out the gaps (`--missing 23`, `--keep`), half an hour, if the eye allows "
            "it.",
        ),
    )
    yield (
        "Chipped edge, torn grain",
        (
            "The chip is found: glue it back under tape, 10 minutes.",
            "Ease both facing edges a little more, over their whole length, 10 minutes.",
            "Carve the other way, from crest to hollow, with a fresh disc, and sand; last, let in a patch along the grain, half an hour.",
        ),
    )
    yield (
        "Blank too thin",
        (
            f"Up to {packed}: veneer or card behind it; heights from its own BACK less what is packed, 10 minutes.",
            "All blanks thinner: measure one, print anew (`--blank`, `--keep`), 20 minutes. Heights from the BACK hold, depths change.",
        ),
    )
    yield (
        "Strip stands proud",
        ("Plane its BACK, never the face, 10 minutes.",),
    )
    yield (
        "Strip bowed or cupped",
        (
            "Let it lie a week where it will hang, air on all sides.",
            "Slight: screws draw it down, more of them in the middle. Otherwise a new strip, 2 hours.",
        ),
    )
    yield (
        "Door cupped",
        (
            "Slacken the screws, wait a week, tighten from the middle outwards.",
            "Glued: finish the back with as many coats as the front, and wait a season. A stiffener across the back is the last way.",
        ),
    )
    yield (
        "Strips mixed up",
        (
            "Triangle on the backs and numbers on the ends, 10 minutes.",
            "Hold neighbours together: facing lines nearly agree, see the list of joints, 20 minutes.",
        ),
    )
    yield (
        "Traced on the wrong side",
        (
            "Not sawn yet: plane the line off, trace again, 10 minutes.",
            "Sawn: look whether the strip serves elsewhere, on a mirrored door above all; otherwise a new strip, 2 hours.",
        ),
    )
    yield (
        "A rule does not measure true",
        (
            "“Fit to page” off, print that sheet again, 5 minutes.",
            "Calibration sheet: measure, type both figures, print again, 20 minutes.",
            "Without a true printer: the table of offsets and the stick are struck by a steel rule, 10 minutes a strip.",
        ),
    )
    yield (
        "Paper wet, torn or lost",
        (
            "Let it dry flat and check its rules: damp paper grows.",
            "Print the sheet again by its number (`--sheet 12`), 5 minutes; its heights can be struck by hand too.",
        ),
    )
    yield (
        "Gaps run out",
        (
            "Measure ten strips and ten spacers, strike the stick anew (`--stack`, `--spacers`), 20 minutes. A tenth on every gap is "
            "not seen.",
        ),
    )
    yield ("Time runs out", ("Finish one door and hang it; the others follow.",))
