"""Read me first: the front as a line picture, the order of work with its gates, and how the sheets are used."""

from __future__ import annotations

import itertools
import math
from collections.abc import Iterator, Sequence
from dataclasses import replace
from functools import partial

import numpy as np

from facade.arrays import Array
from facade.checks.finding import Finding, Group, grouped
from facade.drawing import Anchor, Drawing, Pen, text_width
from facade.front import Front
from facade.job import Job, Way
from facade.job.bench import Held
from facade.lengths import MM_PER_INCH, Ruler, Unit
from facade.measuring.screws import length_while_carving, needs_of
from facade.templates.frame import LARGE, strips_in_words
from facade.templates.hatch import crosses, slants
from facade.templates.piece import Asked, Kind, Piece, Room
from facade.templates.tables import (
    PLAIN,
    PLAIN_PITCH,
    SMALL,
    TITLE,
    Block,
    Flow,
    boxes,
    flow,
    flowed,
    heading,
    paragraph,
    reduction,
    tick,
    tolerance,
    wrapped,
)
from facade.templates.ways import GOES, other_ways, way_in_words

# Pages of running text larger than this are no easier to read, mm.
_WIDEST = 275.0
_HIGHEST = 375.0
# The picture of the front, mm: the most of its height, and so many lines across it.
_PICTURE_HIGH = 76.0
_LEAST_LINES = 12
_MOST_LINES = 20
_LINES_APART = 4.0
# Along a line of the picture a height is taken about every so many mm of paper.
_POINTS_APART = 0.8
_NUMBERS = 4.6
# A line in the key is so long, mm.
_SAMPLE = 16.0
TITLE_TYPE = 6.5


def pieces(asked: Asked) -> list[Piece]:
    """Return the pages, each as wide as its columns and no higher than needed.

    Where the checks stop the job the first says what stops it, in the place of the picture.
    """
    first, *others = _pages(asked, None)
    return [replace(first, stopped=partial(_stopped, asked)), *others]


def _stopped(asked: Asked, findings: Sequence[Finding]) -> Drawing:
    return _pages(asked, findings)[0].draw()


def _pages(asked: Asked, findings: Sequence[Finding] | None) -> list[Piece]:
    room = Room(min(asked.room.width, _WIDEST), min(asked.room.height, _HIGHEST))
    through = flow(room)
    front = asked.front
    width = through.width
    # A tall front is no larger across the page than in a column.
    in_column = front.layout.width / front.layout.height * _PICTURE_HIGH < width
    title = _title(front, room.width)
    wide = width if in_column else room.width
    picture = _picture(front, wide, room.height - title.height)
    if findings:
        picture = replace(picture, draw=partial(_draw_stops, front.job.ruler, findings, wide, picture.height))
    top = title if in_column else _both(title, picture)
    blocks = [*([picture] if in_column else []), *_blocks(asked, through)]
    return flowed("Read me first", blocks, through, top)


def _blocks(asked: Asked, through: Flow) -> Iterator[Block]:
    """Yield all that is said, in its order."""
    width, front = through.width, asked.front
    yield from _index(asked, width)
    yield from _facts(front, width)
    yield from _way(front.job, width)
    yield from _order(front.job, width)
    yield from _printing(front.job.ruler, width, asked.paper)
    yield from _laying(front.job, width)
    yield from _key(front, width)
    yield from _cautions(width)


def _both(first: Block, second: Block) -> Block:
    def draw(piece: Drawing, left: float, top: float) -> None:
        first.draw(piece, left, top)
        second.draw(piece, left, top - first.height)

    return Block(first.height + second.height, draw)


def _title(front: Front, width: float) -> Block:
    size = TITLE_TYPE if text_width(front.job.title, TITLE_TYPE, bold=True) <= 1.6 * width else TITLE
    lines = wrapped(front.job.title, size, width, bold=True)
    words = wrapped(f"Mark {front.mark}: {_MARK}", PLAIN, width)
    height = len(lines) * 1.3 * size + len(words) * PLAIN_PITCH + 3.0
    return Block(height, partial(_draw_title, lines, size, words))


def _draw_title(
    lines: Sequence[str], size: float, words: Sequence[str], piece: Drawing, left: float, top: float
) -> None:
    y = top
    for line in lines:
        piece.label(line, left, y - size, size, bold=True)
        y -= 1.3 * size
    for line in words:
        piece.label(line, left, y - 3.6, PLAIN)
        y -= PLAIN_PITCH


_MARK = "every sheet, the signed picture and every part carry it. Another mark is another design."


# The front as a picture ---------------------------------------------------------------------------------------------------


def _picture(front: Front, width: float, most: float) -> Block:
    """Return the front, reduced, in pure lines: doors, strips, their numbers, and sections across."""
    layout = front.layout
    high = min(_PICTURE_HIGH, most - 25.0)
    scale = reduction(layout.width, layout.height, width - 1.0, high)
    words = wrapped(f"Seen from the front, 1 : {scale:g}. Lines: sections across, heights enlarged.", SMALL, width)
    height = layout.height / scale + _NUMBERS + len(words) * 3.7 + 2.6
    return Block(height, partial(_draw_picture, front, scale, words, width))


def _draw_picture(
    front: Front, scale: float, words: Sequence[str], width: float, piece: Drawing, left: float, top: float
) -> None:
    layout = front.layout
    corner = np.array([left + (width - layout.width / scale) / 2, top - _NUMBERS - layout.height / scale])
    doors = np.array([[door.left, door.right, door.bottom, door.top] for door in layout.doors]) / scale
    strips = np.array([[one.left, one.right, one.bottom, one.top] for one in layout.strips]) / scale
    piece.lines(boxes(*strips.T) + corner, Pen.FINE, "picture-strips")
    piece.lines(sections(front, scale) + corner, Pen.CONTOUR, "picture-sections")
    piece.lines(boxes(*doors.T) + corner, Pen.OUTLINE, "picture-doors")
    _numbers(piece, front, scale, corner)
    for index, line in enumerate(words):
        piece.label(line, left + width / 2, float(corner[1]) - 3.6 - index * 3.7, SMALL, Anchor.MIDDLE)


def _numbers(piece: Drawing, front: Front, scale: float, corner: Array) -> None:
    """Write the strips' numbers that have room above them, every fifth in bold; with little room every fifth alone, or fewer."""
    places = front.layout.strips
    wide = text_width(str(front.count), SMALL, bold=True) + 0.8
    pitch = min((place.width for place in places), default=1.0) / scale
    every = next(step for step in (1, 5, 10, 50, 100, 500, 1000, 10_000) if step * pitch >= wide or step == 10_000)
    for place in places:
        if place.number % every == 0 or len(places) == 1:
            x = float(corner[0]) + (place.left + place.right) / 2 / scale
            y = float(corner[1]) + place.top / scale + 1.3
            piece.label(str(place.number), x, y, SMALL, Anchor.MIDDLE, bold=place.number % 5 == 0)


def sections(front: Front, scale: float) -> Array:
    """Return level sections of the strips one above another as runs (strips * lines, points, 2), mm of paper from the front's corner.

    What a lower section hides of one behind it is drawn along the lower one. Heights are enlarged so that the relief reads.
    """
    places = front.layout.strips
    low, high = places[0].bottom / scale, places[0].top / scale
    count = int(np.clip((high - low) / _LINES_APART, _LEAST_LINES, _MOST_LINES))
    pitch = (high - low - 0.4) / (count + 0.6)
    left, width = np.array([place.left for place in places]), np.array([place.width for place in places])
    points = int(np.clip(math.ceil(width.max() / scale / _POINTS_APART) + 1, 2, 40))
    x = left[:, None] + np.linspace(0.0, 1.0, points) * width[:, None]
    levels = np.linspace(low + 0.2, low + 0.2 + pitch * (count - 1), count)
    y = np.multiply(levels, scale)[:, None]
    heights = front.surface.at(x.reshape(1, -1), y).reshape(count, len(places), points)
    spread = max(float(np.ptp(heights)), 1e-9)
    up = (heights - heights.min()) / spread * (1.5 * pitch) if spread > 0.01 else np.zeros_like(heights)
    # Each section stands before those above it.
    drawn = np.maximum.accumulate(levels[:, None, None] + up, axis=0)
    return np.stack([np.broadcast_to(x / scale, drawn.shape), drawn], axis=-1).reshape(-1, points, 2)


# What stops it ------------------------------------------------------------------------------------------------------------


def _draw_stops(
    ruler: Ruler,
    findings: Sequence[Finding],
    width: float,
    height: float,
    piece: Drawing,
    left: float,
    top: float,
) -> None:
    """Write what stops the job and where, in full as far as there is room, in a black frame."""
    piece.lines(boxes(left, left + width, top - height + 2.0, top), Pen.BACK, "stopped")
    head = wrapped("NOT CLEARED: stopped by the checks. Cut nothing.", LARGE, width - 5.0, bold=True)
    y = top - 1.5
    for line in head:
        piece.label(line, left + 2.5, y - LARGE, LARGE, bold=True)
        y -= 1.35 * LARGE
    rows = int((y - (top - height + 2.0) - 1.5) / PLAIN_PITCH)
    for line in _stops_in_words(ruler, grouped(findings), width - 5.0, rows):
        piece.label(line, left + 2.5, y - 3.4, PLAIN)
        y -= PLAIN_PITCH


def _stops_in_words(ruler: Ruler, groups: Sequence[Group], width: float, rows: int) -> list[str]:
    """Return in lines what stops a job and where: sentences where all have room, else places, and how many more there are."""
    for words in (_in_full, _in_short):
        told = [wrapped(words(ruler, group), PLAIN, width) for group in groups]
        if sum(map(len, told)) <= rows:
            return list(itertools.chain.from_iterable(told))
    kept: list[str] = []
    for index, lines in enumerate(told):
        more = wrapped(f"and {len(told) - index} more: facade check tells them.", PLAIN, width)
        if len(kept) + len(lines) + len(more) > rows:
            return [*kept, *more][: max(rows, 0)]
        kept += lines
    return kept


def _in_full(ruler: Ruler, group: Group) -> str:
    return " ".join(filter(None, (group.worst.sentence, group.also)))


def _in_short(ruler: Ruler, group: Group) -> str:
    worst = group.worst
    on = f"strip {worst.strip}" if worst.strip is not None else f"door {worst.door}" if worst.door is not None else ""
    down = f"{ruler.text(worst.from_top, 0)} from TOP" if worst.from_top is not None else ""
    where = ", ".join(filter(None, (on, down)))
    about = f"{worst.check}, {worst.topic}" if worst.topic else worst.check
    return f"{about}: {where}. {group.also}".strip() if where else f"{about}. {group.also}".strip()


# What is said -------------------------------------------------------------------------------------------------------------


def _facts(front: Front, width: float) -> Iterator[Block]:
    job, show = front.job, front.job.ruler.text
    layout = front.layout
    yield heading("The front", width)
    yield paragraph(f"{show(layout.width)} wide, {show(layout.height)} high", width, lead="Front")
    yield paragraph(_doors_in_words(front), width, lead="Doors")
    yield paragraph(_strips_in_words(front), width, lead="Strips")
    yield paragraph(_gaps_in_words(front), width, lead="Gaps")
    floor = f"nothing lower than the floor, {show(front.surface.floor)} above the BACK"
    yield paragraph(f"{show(job.blank)} thick, of {job.wood.species}; {floor}", width, lead="Blanks")
    yield paragraph(f"every {show(job.station)} from the TOP end", width, lead="Stations")
    yield paragraph(_held_in_words(front), width, lead="Held by")


def _lengths(ruler: Ruler, lengths: Sequence[float], *, fine: bool = False) -> str:
    """Return lengths in words, those that read the same once: "450 mm", "450 mm and 600 mm", "300 mm to 620 mm"."""
    show = ruler.fine if fine else ruler.text
    words = list(dict.fromkeys(show(length) for length in lengths))
    if len(words) > 2:
        return f"{show(min(lengths))} to {show(max(lengths))}"
    return " and ".join(words)


def _doors_in_words(front: Front) -> str:
    doors, ruler = front.layout.doors, front.job.ruler
    wide = _lengths(ruler, [door.width for door in doors])
    return f"{len(doors)}, {wide} wide, {ruler.text(doors[0].height)} high"


def _strips_in_words(front: Front) -> str:
    ruler = front.job.ruler
    wide = _lengths(ruler, [place.width for place in front.layout.strips], fine=_is_spread_anew(front))
    return f"{len(front.numbers)}, {wide} wide, {ruler.text(front.layout.strips[0].length)} long"


def _is_spread_anew(front: Front) -> bool:
    """Whether strips hang elsewhere than designed: gaps and widths are then as they came out, and told as finely as the head does."""
    return front.layout.plan is not None


def _gaps_in_words(front: Front) -> str:
    ruler, layout = front.job.ruler, front.layout
    gaps = [division.gap for division in layout.divisions if division.count > 1]
    words = f"{_lengths(ruler, gaps, fine=_is_spread_anew(front))} between strips" if gaps else "none"
    if len(layout.doors) < 2:
        return words
    joints = [right.left - left.right for left, right in itertools.pairwise(layout.strips) if left.door != right.door]
    return f"{words}, {_lengths(ruler, joints)} where two doors meet"


def _held_in_words(front: Front) -> str:
    """Say how strips are held to their doors, as the checks find it: where none takes two screws none is held by them."""
    job = front.job
    if job.fixing.by is not Held.SCREWS:
        return {
            Held.GLUE: "glue over the whole back",
            Held.BEAD: "a bead of glue along the middle third of the back",
        }[job.fixing.by]
    plans = {number: front.measures_of(number).screws for number in front.numbers}
    screws = [screw for plan in plans.values() for screw in plan.screws]
    without = [number for number, plan in plans.items() if not plan.screws]
    if not screws:
        return "nothing yet: no strip takes two screws. Settle how they are held before any board is drilled"
    needs = needs_of(job)
    changed = sum(length_while_carving(job, needs, screw) != screw.length for screw in screws)
    said = [
        f"screws from behind, shank {job.ruler.fine(job.fixing.shank)}; lengths and places on the sheet Boards",
        f"while carving {changed} of the {len(screws)} must be shorter, or left out: the sheet says which"
        if changed
        else "",
        f"{strips_in_words(without, front.count)} take{'s' if len(without) == 1 else ''} none: settle how before drilling"
        if without
        else "",
    ]
    return "; ".join(filter(None, said))


def _patch(ruler: Ruler) -> str:
    return ruler.text(250.0 if ruler.unit is Unit.MM else 10 * MM_PER_INCH)


def _order(job: Job, width: float) -> Iterator[Block]:
    """Yield the order of work; at a gate work stops until what it asks for is there (common practice)."""
    ruler = job.ruler
    warp = tolerance(ruler, job.limit("warp").value)
    mismatch = tolerance(ruler, job.limit("mismatch").value)
    dated = "date and name"
    yield heading("Order of work", width)
    yield paragraph("At a gate the work stops until it is passed. Tick, date and sign.", width)
    yield tick("Opening measured; door sizes, hinges and swing settled; relief drawn inside them.", width)
    yield tick(
        "The client has signed a dated picture with this mark, with wood, finish, gap and price. Nothing is bought before.",
        width,
        lead="GATE A: picture signed",
        dated=dated,
    )
    yield tick(
        f"Test patch of four strips, {_patch(ruler)} long, at the steepest or thinnest place: carved, sanded, finished. Minutes noted.",
        width,
    )
    yield tick(
        "Seen in the room, in its own light, by day and at night. The minutes noted now replace guesses.",
        width,
        lead="GATE B: patch approved",
        dated=dated,
    )
    yield tick("Wood and door boards bought, and left to settle where they will be worked.", width)
    yield tick("Door boards cut, drilled and hung EMPTY.", width)
    yield tick(
        f"They open and close freely, gaps are right, none is out of flat by more than {warp}. Cheap to put right now, dear later.",
        width,
        lead="GATE C: bare doors swing and are flat",
        dated=dated,
    )
    yield tick("Door boards darkened where they show through the gaps.", width)
    yield tick("Strips ripped, milled to size, numbered on BACK and TOP end; triangle struck across the backs.", width)
    yield tick("Profiles marked. One pilot strip taken through every step before the others.", width)
    yield tick("Sawn or roughed, carved to the carve lines, checked with the gauges, sanded.", width)
    yield tick(
        f"All strips laid on their doors in raking light, every joint felt by the list, none off it by more than {mismatch}. Photograph.",
        width,
        lead="GATE D: dry layout right",
        dated=dated,
    )
    yield tick("Finish on all faces of the strips, the same number of coats.", width)
    yield tick("Mounted with spacers; every fifth strip checked by the position stick.", width)
    yield tick("Hung and adjusted; handed over with a spare strip, this pack and what was used.", width)


def _way(job: Job, width: float) -> Iterator[Block]:
    """Yield the way of work that the sheets are for, and what the others are."""
    yield heading("Which way of work", width)
    yield paragraph(_sentence(GOES[job.way]), width, lead=f"{way_in_words(job)}:".capitalize(), alone=True)
    others = "; ".join(f"{way.value}: {GOES[way]}" for way in Way if way is not job.way)
    yield paragraph(
        f"Sheets of other ways are left out: {others}. Another way is said in the job file: {other_ways(job)}.", width
    )


def _index(asked: Asked, width: float) -> Iterator[Block]:
    """Yield what each kind of sheet is for and where it is; what the pack holds is asked now, since the pack asks this module."""
    from facade.templates.pack import TEMPLATES

    blocks = [heading("What is where, and for what", width)]
    for kind, first, last in asked.index:
        where = f"{first}" if first == last else f"{first} to {last}"
        blocks.append(paragraph(f"{TEMPLATES[kind].title}: {TEMPLATES[kind].purpose}.", width, lead=where))
    if Kind.OFFSETS not in asked.kinds:
        blocks.append(
            paragraph(
                "No true printer? `facade paper JOB --only offsets`: its figures, and the stick, are struck by a steel rule.",
                width,
            )
        )
    yield from blocks


def _sentence(words: str) -> str:
    return f"{words[:1].upper()}{words[1:].rstrip('.')}."


def _printing(ruler: Ruler, width: float, paper: str) -> Iterator[Block]:
    rule = "100 mm" if ruler.unit is Unit.MM else "4 in"
    yield heading("Printing", width)
    yield tick(f"Paper: {paper}. Scale 100 %, or “actual size”. “Fit to page” off.", width)
    yield tick(
        f"Lay a steel rule on both rules of a sheet: each {rule} within {tolerance(ruler, 0.3)}. If not, print the calibration sheet, "
        "measure its two lines, give the two figures for this printer, and print again.",
        width,
    )
    yield tick(
        "Check again after a change of paper, printer, tray or weather. One sheet that measures true says nothing about the next.",
        width,
    )


def _laying(job: Job, width: float) -> Iterator[Block]:
    yield heading("Laying, sticking, tracing", width)
    yield tick(
        f"Strike the stations on the wood with the story stick, every {job.ruler.text(job.station)} from the TOP end, round all sides.",
        width,
    )
    yield tick(
        "Lay every sheet on the stations of the wood, never on another sheet: small errors of paper and printer would add up.",
        width,
    )
    yield tick("Check number, LEFT or RIGHT, and TOP; lay the back line on the arris of the back.", width)
    yield paragraph(
        "Repositionable spray, waiting 15 to 30 seconds before laying; or tape on the wood first and the paper on the tape; or a glue "
        "stick. Try on waste.",
        width,
        lead="Stick:",
    )
    yield paragraph(
        "Water pastes swell paper by about 1 %: not where length counts. Spirits lift the paper; air the room, no flame.",
        width,
        lead="Mind:",
    )
    yield paragraph("Through carbon paper, or pricked through at the stations and joined.", width, lead="Or trace:")
    yield paragraph(
        "Each side is drawn as it is seen when you look at it, back along the bottom. A RIGHT side is never a LEFT turned over.",
        width,
        lead="No mirror:",
    )


def small(ruler: Ruler, mm: float) -> str:
    """Return a length in words, as a decimal number where the ruler's own would be off by more than a tenth of it."""
    shown = round(mm / ruler.mark) * ruler.mark
    return ruler.text(mm) if abs(shown - mm) <= 0.1 * mm else ruler.text(mm, 3)


def _key(front: Front, width: float) -> Iterator[Block]:
    wood, ruler = front.job.wood, front.job.ruler
    lines = (
        (Pen.CARVE, f"carve line: stop here; sanding takes the last {small(ruler, wood.sanding)}"),
        (Pen.FINISHED, "finished line: where the wood ends when all is done; printed heights are to it"),
        (Pen.SAW, f"saw line: {small(ruler, wood.sawing)} above the higher side; leave it standing"),
        (Pen.FLOOR, f"floor: nothing is cut below it, {small(ruler, front.surface.floor)} above the BACK"),
        (Pen.BACK, "BACK of the strip, the glue face: heights are measured from it"),
        (Pen.FOLD, "fold here"),
    )
    yield heading("Which line is which", width)
    for pen, meaning in lines:
        yield _sample(meaning, width, partial(_line_sample, pen), 0.0)
    slanting = _sample("waste on a LEFT side: slanting lines", width, partial(_hatch_sample, "left"), 7.0)
    yield replace(slanting, leads=True)
    yield _sample("waste on a RIGHT side: crosses", width, partial(_hatch_sample, "right"), 7.0)


def _sample(meaning: str, width: float, sample: partial[None], least: float) -> Block:
    lines = wrapped(meaning, PLAIN, width - _SAMPLE - 3.0)
    height = max(len(lines) * PLAIN_PITCH, least) + 1.4
    return Block(height, partial(_draw_sample, lines, sample))


def _draw_sample(lines: Sequence[str], sample: partial[None], piece: Drawing, left: float, top: float) -> None:
    sample(piece, left, top)
    for index, line in enumerate(lines):
        piece.label(line, left + _SAMPLE + 3.0, top - 3.3 - index * PLAIN_PITCH, PLAIN)


def _line_sample(pen: Pen, piece: Drawing, left: float, top: float) -> None:
    piece.line([[left, top - 2.2], [left + _SAMPLE, top - 2.2]], pen, f"sample-{pen.name.lower()}")


def _hatch_sample(side: str, piece: Drawing, left: float, top: float) -> None:
    hatch = slants if side == "left" else crosses
    along, low = np.array([left, left + _SAMPLE]), np.array([top - 6.4, top - 6.4])
    piece.lines(hatch(along, low, top - 0.4), Pen.HATCH, f"sample-{side}")
    piece.lines(boxes(left, left + _SAMPLE, top - 6.8, top - 0.2), Pen.OUTLINE)


def _cautions(width: float) -> Iterator[Block]:
    """Yield the usual cautions; they defer to local rules, manuals and trained practice.

    Exposure: Directive 2002/44/EC (vibration: action value 2.5 m/s2, limit 5 m/s2 over 8 hours; 60 to 90 minutes follow for tools
    of 5 to 7 m/s2), IARC Monographs 100C (wood dust), OSHA 29 CFR 1910.95 (noise: action level 85 dBA), NFPA (oily rags).
    """
    yield heading("Cautions", width)
    yield paragraph(
        "What is printed was drawn and checked by figures, no more. Local rules, the makers' manuals and trained practice come first.",
        width,
    )
    for lead, text in (
        (
            "Disc:",
            "Only discs that the grinder's maker allows, rated above its speed; no toothed or chain disc. Guard and side handle on, both "
            "hands, steady feet. Work screwed down, never held. No screw where the disc may reach.",
        ),
        (
            "Bandsaw:",
            "Strip held in a carrier, flat on the table, guard down to the work; fingers never in line with the blade.",
        ),
        (
            "Dust:",
            "Hardwood dust harms lungs and nose, and can cause cancer. Extraction, a fitted P3 or N100 mask or a powered hood, also when "
            "sanding by hand.",
        ),
        ("Noise:", "Disc and extractor reach 90 to 105 dB(A): ear defenders from 85 on."),
        (
            "Vibration:",
            "Plan no more than 60 to 90 minutes of trigger time a day; the tool's own figure decides. Numb or white fingers: stop.",
        ),
        (
            "Rags:",
            "Rags with oil catch fire by themselves within hours. Spread them flat outdoors, or put them under water in a metal can with a "
            "lid. Never in a heap.",
        ),
        ("Spray, spirits:", "Fresh air, no flame, no sparks."),
    ):
        yield paragraph(text, width, lead=lead)
