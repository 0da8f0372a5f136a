"""The sheet that is read beside a fixture: its parts with their sizes, its screws, how it is loaded, and what must stay low."""

from __future__ import annotations

from collections.abc import Sequence
from functools import partial

import numpy as np

from facade.arrays import Array
from facade.cnc.fixture import KEEP_OFF, Fixture
from facade.cnc.job_sheet import draw_zero_arrows, machine_page
from facade.cnc.plan_parts import Plan, corners
from facade.cnc.screwing import Driven, Holding
from facade.cnc.working import limit_words, loose_words, screw_counts, screws_words, zero_words
from facade.drawing import Anchor, Drawing, Pen
from facade.lengths import Ruler
from facade.printing.correction import Correction
from facade.templates.board_drilling import crossed, drill_size, number_row
from facade.templates.frame import LARGE, PLAIN, Heading, Page, framed, strips_in_words
from facade.templates.packing import Placed, packed
from facade.templates.piece import Piece, Room, Top
from facade.templates.tables import (
    Block,
    Column,
    Row,
    Table,
    flow,
    flowed,
    paragraph,
    reduction,
    table_pieces,
    widest_number,
)

# Mm round the picture: letters above and at its sides, words and numbers of the strips.
_WORDS = 6.0
_LETTERS = 5.0
_NUMBERS = 12.5
_NUMBERS_DOWN = 3.4
_ASIDE = 5.0
_APART = 7.0
# Beside a picture of at most this share of the room the words stand at its right, else below.
_NARROW = 0.6
_PICTURE = 0.62
_KEY = (
    (Pen.OUTLINE, "strip"),
    (Pen.CUT, "end block, batten"),
    (Pen.FOLD, "keep clear"),
    (Pen.BOX, "clamp"),
    (Pen.BACK, "spoilboard; arrows: zero"),
)
_CAUTION = "Air run first. Work held, guards on, eyes and ears protected. Local rules, manuals and training come first."


def plan_sheets(fixture: Fixture, holding: Holding, *, cleared: bool | None = True) -> list[Drawing]:
    """Return the sheets of a fixture that is held so, on A4 or Letter; `cleared` as the frame of every sheet says it."""
    page = machine_page(fixture.front)
    plan = Plan(fixture, holding)
    pieces = [*_first(plan, page.room), *_screw_pieces(plan, page.room)]
    sheets = packed(pieces, page.room)
    return [_sheet(plan, page, placed, number, len(sheets), cleared) for number, placed in enumerate(sheets, start=1)]


def _sheet(plan: Plan, page: Page, placed: Sequence[Placed], number: int, count: int, cleared: bool | None) -> Drawing:
    heading = Heading(
        title=f"Plan of fixture {plan.fixture.number}, door {plan.fixture.door}",
        strips=plan.fixture.numbers,
        sheet=number,
        sheets=count,
        top=Top.UP,
        correction=Correction().words,
        key=_KEY,
        caution=_CAUTION,
        laying="Seen from ABOVE, as on the machine; reduced: take no length off the picture.",
        cleared=cleared,
    )
    drawing = framed(plan.front, page, heading)
    left, top = page.corner
    for one in placed:
        drawing.put(one.piece.draw(), left + one.x, top - one.down - one.piece.height)
    return drawing


def _first(plan: Plan, room: Room) -> list[Piece]:
    """Return the picture with its parts in words, at its right where it is narrow, else below it, and how it is loaded."""
    tall = _scale(plan, Room(room.width * _NARROW, room.height))
    wide = _scale(plan, Room(room.width, room.height * _PICTURE))
    name, through = f"plan of fixture {plan.fixture.number}", flow(room)
    parts, loading = [*_zero(plan), *_parts(plan)], [*_held(plan), *_loading(plan)]
    if tall > wide:
        top = Block(_picture_size(plan, wide).height, partial(_draw_picture, plan, wide))
        return flowed(name, _blocks([*parts, *loading], through.width), through, top)
    size = _picture_size(plan, tall)
    beside = Room(room.width - size.width - _APART, room.height)
    words, *more = flowed(name, _blocks(parts, beside.width), flow(beside, beside.width))
    height = max(size.height, words.height)
    first = Piece(name, room.width, height, partial(_draw_beside, plan, tall, words, room.width, height))
    return [first, *more, *flowed(name, _blocks(loading, through.width), through)]


def _scale(plan: Plan, room: Room) -> float:
    left, right, bottom, top = plan.board.tolist()
    above = _WORDS + _LETTERS + _NUMBERS
    return reduction(right - left, top - bottom, room.width - 2 * _ASIDE, room.height - above)


def _picture_size(plan: Plan, scale: float) -> Room:
    left, right, bottom, top = plan.board.tolist()
    return Room((right - left) / scale + 2 * _ASIDE, (top - bottom) / scale + _WORDS + _LETTERS + _NUMBERS)


def _draw_beside(plan: Plan, scale: float, words: Piece, width: float, height: float) -> Drawing:
    piece = Drawing(width, height, words.name)
    _draw_picture(plan, scale, piece, 0.0, height)
    piece.put(words.draw(), width - words.width, height - words.height)
    return piece


def _draw_picture(plan: Plan, scale: float, piece: Drawing, left: float, top: float) -> None:
    """Draw the fixture, reduced, its upper left corner at (left, top); letters name its parts."""
    board, fixture = plan.board, plan.fixture
    piece.label(f"1 : {scale:g}, TOP ends up", left + _ASIDE, top - 4.0, PLAIN)
    x = left + _ASIDE - float(board[0]) / scale
    y = top - _WORDS - _LETTERS - float(board[3]) / scale
    shift = np.array([x, y])
    for spacer in plan.spacers:
        piece.shape(corners(spacer) / scale + shift, Pen.SOLID, "spacers")
    for rectangles, pen, name in (
        (board[None], Pen.BACK, "spoilboard"),
        (plan.strips, Pen.OUTLINE, "outline"),
        (plan.ends, Pen.CUT, "waste"),
        (plan.battens, Pen.CUT, "battens"),
        (plan.wedges, Pen.FINISHED, "wedges"),
        (plan.keep_out[None], Pen.FOLD, "keep-out"),
        (plan.clamps, Pen.BOX, "clamps"),
        (plan.stops, Pen.BOX, "stops"),
    ):
        for rectangle in rectangles:
            piece.shape(corners(rectangle) / scale + shift, pen, name)
    for lower_left, _, upper_right, _ in (corners(wedge) / scale + shift for wedge in plan.wedges):
        piece.line([lower_left, upper_right], Pen.FINISHED, "wedges")
    screws = np.array([[one.held.x, one.held.y] for one in plan.driven]).reshape(-1, 2) / scale + shift
    piece.lines(crossed(screws[:, 0], screws[:, 1]), Pen.OUTLINE, "screws")
    draw_zero_arrows(piece, shift + np.array(plan.corner) / scale, 14.0)
    _letters(piece, plan, scale, shift)
    middles = (fixture.lefts + fixture.rights) / 2 / scale + x
    foot = float(board[2]) / scale + y
    number_row(piece, middles, foot - _NUMBERS_DOWN, fixture.numbers, left, left + _picture_size(plan, scale).width)


def _letters(piece: Drawing, plan: Plan, scale: float, shift: Array) -> None:
    """Write which part is which: A spoilboard, B end blocks, C battens, D wedges, E clamps, F stops; and where zero is."""
    left, right, _, top = plan.board.tolist()
    x, y = shift.tolist()
    level = y + top / scale + 1.2
    battens = plan.battens[:, :2].mean(axis=1).tolist()
    across = [(left - 2.6 * scale, "A"), (plan.fixture.width / 2, "B"), *((middle, "C") for middle in battens)]
    for at, letter in across:
        piece.label(letter, x + at / scale, level, PLAIN, Anchor.MIDDLE, bold=True)
    # Clamps are named at the left alone, those at the right are alike: there the wedges are named.
    left_clamps = [clamp for clamp in plan.clamps if clamp[0] == left]
    below, other, _ = plan.stops
    foot = y + float(other[2]) / scale - 3.2
    for stop in (below, other):
        piece.label("F", x + float(stop[0] + stop[1]) / 2 / scale, foot, PLAIN, Anchor.MIDDLE, bold=True)
    corner = x + left / scale
    piece.label("ZERO", corner - 4.5, foot - 5.0, LARGE, bold=True)
    beside = ((x + left / scale - 2.6, left_clamps, "E"), (x + right / scale + 2.6, plan.wedges, "D"))
    for at, rectangles, letter in beside:
        for rectangle in rectangles:
            middle = y + float(rectangle[2] + rectangle[3]) / 2 / scale
            piece.label(letter, at, middle - 1.1, PLAIN, Anchor.MIDDLE, bold=True)


def _blocks(told: Sequence[tuple[str, str]], width: float) -> list[Block]:
    return [paragraph(text, width, lead=lead) for lead, text in told if text]


def _zero(plan: Plan) -> list[tuple[str, str]]:
    """Say where the zero of the files is, and what must be low."""
    ruler, fixture = plan.front.job.ruler, plan.fixture
    low = (
        "Inside the dashed line nothing but strips and end blocks may stand as high as "
        f"{ruler.text(ruler.down(fixture.low))} above the spoilboard: the cutter may come down that far beside them."
    )
    clear = (
        f"No clamp, and no screw from above, inside the dashed line. It runs {ruler.text(ruler.down(KEEP_OFF))} outside all that "
        "the cutter passes over."
    )
    return [
        ("ZERO", zero_words(plan.front)),
        ("LOW", low if plan.holds_aside else _no_room_for_low(plan)),
        ("CLEAR", clear),
    ]


def _no_room_for_low(plan: Plan) -> str:
    return (
        f"The floor of {plan.front.job.ruler.text(plan.front.surface.floor, 3)} leaves no height for battens, wedges and spacers: "
        "leave them out, and hold the strips in a way tried on waste."
    )


def _parts(plan: Plan) -> list[tuple[str, str]]:
    """Say what is to be cut, by the letters of the picture."""
    job, fixture = plan.front.job, plan.fixture
    ruler = job.ruler
    low = f"lower than {ruler.text(ruler.down(fixture.low))}"
    wood = plan.spoilboard
    parts = [
        (
            "A",
            f"Spoilboard {plan.holding.board}, {_size(ruler, plan.board)}, bought {ruler.text(wood.bought)} thick, skimmed to "
            f"{ruler.text(wood.thickness)}.{_shared(plan)}",
        ),
        (
            "B",
            f"End blocks, 2: {_size(ruler, plan.ends[0])}, {ruler.text(fixture.blank, 3)} thick as the blanks, of waste.",
        ),
    ]
    held = [
        ("E", "Clamps, on the outermost stretch of the spoilboard only."),
        ("F", "Stops on the bed, 3, lower than the spoilboard's top: it goes back against them."),
    ]
    if not plan.holds_aside:
        return [*parts, *held]
    return [
        *parts,
        ("C", f"Battens, 2: {_size(ruler, plan.battens[0])}, {low}."),
        ("D", f"Wedges, {len(plan.wedges)} pairs: {_size(ruler, plan.wedges[0])} together, {low}."),
        *held,
        ("Spacers", _spacers(plan, low)),
    ]


def _shared(plan: Plan) -> str:
    others = [number for number in plan.holding.shared if number != plan.fixture.number]
    return (
        f" It serves fixture{'s' if len(others) > 1 else ''} {', '.join(map(str, others))} as well." if others else ""
    )


def _spacers(plan: Plan, low: str) -> str:
    ruler, fixture = plan.front.job.ruler, plan.fixture
    if not len(plan.spacers):
        return "None: the strips lie tight against each other." if len(fixture.places) > 1 else ""
    return f"{len(plan.spacers)}, black in the picture: {ruler.text(fixture.spacer, 3)} wide, {ruler.text(fixture.length)} long, {low}."


def _size(ruler: Ruler, rectangle: Array) -> str:
    left, right, bottom, top = rectangle.tolist()
    return f"{ruler.text(right - left)} x {ruler.text(top - bottom)}"


def _held(plan: Plan) -> list[tuple[str, str]]:
    """Say how strips are screwed on, and how the rest is held."""
    ruler, wood = plan.front.job.ruler, plan.spoilboard
    loose = loose_words(plan.front, plan.fixture, plan.holding)
    if not plan.driven:
        return [("Strips", "No screws from behind may be in them."), ("LOOSE", loose)]
    counts = ", ".join(screw_counts(ruler, plan.holding))
    holes = (
        f"Screws from behind, none longer than in the table: {counts}. Holes through the spoilboard {drill_size(ruler, plan.clearance)}, "
        f"sunk from its back {drill_size(ruler, wood.bore)} wide and {ruler.text(wood.sunk)} deep: {ruler.text(wood.under_head)} "
        "stay under "
        f"each head. Pilot holes {drill_size(ruler, plan.pilot, down=True)}."
    )
    told = [
        ("Strips", holes),
        ("Cutter", f"{limit_words(plan.front)} {screws_words(plan.front, plan.holding)}"),
        ("LOOSE", loose),
    ]
    return [one for one in told if one[1]]


def _loading(plan: Plan) -> list[tuple[str, str]]:
    """Say in which order the fixture is loaded, and what is to be looked at before the first cut; the job sheet says it step by step."""
    fixture, job = plan.fixture, plan.front.job
    numbers = fixture.numbers
    order = f"strips {numbers[0]} to {numbers[-1]} from the left" if len(numbers) > 1 else f"strip {numbers[0]}"
    low, between = plan.holds_aside, ", spacers between them" if len(plan.spacers) else ""
    fix = "lower end block and left batten" if low else "lower end block"
    tight = "then the right batten; press tight with the wedges" if low else "pressed tight"
    blocks = f"End blocks hold by glue, or by screws from behind with tips below {job.ruler.text(job.ruler.down(fixture.low))}."
    longer = plan.holding.longer
    stay = (
        f" Blanks of {strips_in_words(longer, plan.front.count)} stay {job.ruler.text(fixture.waste)} longer at both ends."
        if longer
        else ""
    )
    turned = " Turn it over between two clamped bars, and drive the screws." if plan.driven else ""
    return [
        (
            "Load",
            f"On the bench, the skimmed top up{', its back counterbored' if plan.driven else ''}. Fix the {fix}, "
            f"square to {'each other' if low else 'the left edge'}. "
            f"{blocks if low else 'Glue the end blocks.'}{stay}",
        ),
        ("Then", f"Backs down, TOP ends up, {order}{between}. Then the upper end block, {tight}.{turned}"),
        (
            "Check",
            "Numbers from the left as in the picture; every strip flat on the spoilboard; no head above its back; width, length and "
            "thickness "
            "measured.",
        ),
        (
            "First",
            "Back against the stops and clamped, set the zero. Run it above the wood, the cutter's tip higher than the blanks. Then "
            "try one "
            "strip of waste.",
        ),
    ]


def _screw_pieces(plan: Plan, room: Room) -> list[Piece]:
    if not plan.driven:
        return []
    ruler, fixture = plan.front.job.ruler, plan.fixture
    across, along = fixture.first_strip
    far = widest_number(ruler, max(fixture.width + across, fixture.length + along))
    deep = widest_number(ruler, 100.0)
    columns = (
        Column(("strip",), str(plan.front.count), bold=True),
        Column(("x",), far),
        Column(("y",), far),
        Column(("screw", "length"), deep, bold=True),
        Column(("bite",), deep),
        Column(("cutter", "stays off"), deep),
    )
    note = (
        "While they are carved. From zero: x to the right, y towards the TOP ends. Bite: how deep the screw goes into the wood. "
        "Cutter stays "
        "off: how far both programs stay from the screw, measured from their moves; farther than shown does not matter."
    )
    rows = partial(_rows, ruler, plan.driven, fixture.first_strip)
    about = [(one.held.strip,) for one in plan.driven]
    table = Table("Screws from behind", columns, len(plan.driven), rows, about, note)
    return table_pieces(table, room)


def _rows(ruler: Ruler, screws: Sequence[Driven], zero: tuple[float, float], first: int, after: int) -> list[Row]:
    return [
        (
            str(one.held.strip),
            ruler.number(zero[0] + one.held.x),
            ruler.number(zero[1] + one.held.y),
            ruler.bare(one.length or 0.0),
            ruler.number(ruler.down(one.bite)),
            ruler.number(ruler.down(one.above)),
        )
        for one in screws[first:after]
    ]
