"""The order of work at the face route, in words: the same on the plans, on the sheet for the machine and in the text beside the files."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence

from facade.cnc.fixture import Fixture
from facade.cnc.screwing import Holding, least_above, spoilboard_of
from facade.front import Front
from facade.job import Hold, Job
from facade.lengths import MM_PER_INCH, Ruler, Unit
from facade.measuring.screws import clearance_hole

Told = tuple[str, str]
"""A word or two that stand in bold, and what is said."""

ZERO = "the lower left machined corner of the spoilboard"


def numbers_in_words(numbers: Sequence[int]) -> str:
    """Return "strip 7" or "strips 3, 4, 9"."""
    return f"strip{'s' if len(numbers) > 1 else ''} {', '.join(map(str, numbers))}"


def zero_words(front: Front) -> str:
    """Return where the zero of all files for the machine is, and where the first strip lies from it."""
    show, (across, along) = front.job.ruler.text, front.job.first_strip
    return (
        f"x 0, y 0 is {ZERO}, the same for every fixture; z 0 is its skimmed top, the back of the strips. The first strip's lower left "
        f"corner lies at x {show(across)}, y {show(along)}. Never zero on the face: blanks vary."
    )


def order_of_work(front: Front, found: Sequence[Fixture], held: Sequence[Holding]) -> list[Told]:
    """Return what is done, step by step, from the blanks to the strips that come off."""
    job, show = front.job, front.job.ruler.text
    first = found[0]
    return [
        ("Blanks", _blanks(job, first, held)),
        ("Spoilboard", _spoilboard(job, held)),
        ("Corner", _corner(held)),
        *(_through(job) if any(one.used for one in held) else ()),
        ("Load", _load(job, first, held)),
        (
            "Bed",
            "Sweep bed and board clean, lay the board back against the stops, and clamp it on its outermost stretch alone. It must "
            "lie flat and "
            "not rock: a chip under it is cut into the strips.",
        ),
        (
            "Zero",
            f"x and y at {ZERO}, z on its skimmed top, beside the strips. Look whether the clamps stand outside the dashed line of "
            "the plan.",
        ),
        (
            "Air run",
            f"Raise z by {show(job.ruler.up(first.blank + job.machine.clear))} and let the first file of the fixture run above the "
            "wood. Then set "
            "z back.",
        ),
        ("1-rough", "Run it with the straight cutter."),
        ("Change", "Put the ball in and set z again, on the same place of the spoilboard. x and y stay as they are."),
        ("2-finish", "Run it with the ball. Thin strips come last."),
        (
            "Measure",
            "Before anything is loosened, measure the first strip at its three places. Where it is off, stop and look for the "
            "reason: zero, "
            "a chip under the board, a worn cutter.",
        ),
        (
            "Unload",
            "Take the board off, draw the screws from behind, mark each strip with its number. The stops stay: lay the next fixture on the "
            "board that is named for it, look at the zero again, and go on from Load.",
        ),
    ]


def _blanks(job: Job, first: Fixture, held: Sequence[Holding]) -> str:
    show = job.ruler.text
    longer = sorted({number for one in held for number in one.longer})
    stays = (
        f" Those of {numbers_in_words(longer)} stay {show(first.waste)} longer at both ends, for a screw in the waste; the end blocks are "
        "cut out there."
        if longer
        else ""
    )
    return (
        f"Mill them to {show(first.blank, 2)} thick, to width and to length.{stays} Measure one: where it is not {show(first.blank, 2)}, "
        "write these files again with --blank."
    )


def _spoilboard(job: Job, held: Sequence[Holding]) -> str:
    show, board = job.ruler.text, spoilboard_of(job)
    boards = max(one.board for one in held)
    many = f"{boards} boards" if boards > 1 else "One board"
    shared = "; ".join(
        f"board {number} for fixture{'s' if len(one.shared) > 1 else ''} {', '.join(map(str, one.shared))}"
        for number, one in sorted({one.board: one for one in held}.items())
    )
    serves = f": {shared}" if boards > 1 else " serves every fixture"
    return (
        f"{many}{serves}. Flat and even, {show(board.bought)} thick, some {show(10.0 if job.unit is Unit.MM else 12.7)} larger than "
        "on its plan. "
        "Clamp it to the bed at its right and upper edges, and skim the rest of its top: at most "
        f"{show(board.most_skimmed)} may come off, and {show(board.thickness)} must remain, as thick as the door's board, or the screws "
        "bite otherwise than in the table."
    )


def _corner(held: Sequence[Holding]) -> str:
    return (
        "Without moving it mill its lower and its left edge straight, with the straight cutter: they meet in the corner that is zero for "
        f"all. Set x and y there{'; mill every further board at this same x and y' if max(one.board for one in held) > 1 else ''}. "
        "Then fix three "
        "stops on the bed, two against the lower edge and one against the left, lower than the board's top."
    )


def _through(job: Job) -> list[Told]:
    """Return how holes for screws go through the board, and how their heads are sunk."""
    board, show = spoilboard_of(job), job.ruler.text
    return [
        (
            "Holes",
            f"Drill the board from the plan's drawing, still in its place: {drill(job.ruler, clearance_hole(job.fixing.shank)[0])} "
            "through at "
            "every screw of the fixtures that it serves. Their plans have one zero, so that one board takes them all.",
        ),
        (
            "Back",
            f"Take the board off and turn it over. Sink every hole from the back, {drill(job.ruler, board.bore)} wide and "
            f"{show(board.sunk)} deep: {show(board.under_head)} of wood stays under each head, and no head stands out, so that the board "
            "lies flat and stiff on the bed without laths.",
        ),
    ]


def _load(job: Job, first: Fixture, held: Sequence[Holding]) -> str:
    show = job.ruler.text
    aside = first.low >= 3.0
    sides = (
        "the left batten, then the strips, backs down, TOP ends up, in their "
        f"order{', spacers between them' if first.spacer else ''}, then the "
        "upper end block and the right batten, pressed tight with the wedges"
        if aside
        else "then the strips, backs down, TOP ends up, in their order, then the upper end block, pressed tight"
    )
    turned = (
        " Clamp two bars across, turn the whole over, and drive the screws of the table from behind, none longer: their final pilot holes "
        "are drilled through the board's, in a bush and against a stop, no deeper than the bite. Turn it back and take the bars off."
        if any(one.used for one in held)
        else ""
    )
    below = f"by screws from behind with tips below {show(job.ruler.down(first.low))}, or " if aside else ""
    return (
        f"On the bench, the skimmed top up: the lower end block, {sides}.{turned} End blocks{' and battens' if aside else ''} hold "
        f"{below}by "
        "glue."
    )


def loose_words(front: Front, fixture: Fixture, holding: Holding) -> str:
    """Return what is to be known of strips that fewer than two screws hold; "" where there are none."""
    loose = holding.loose(fixture.numbers)
    if not loose:
        return ""
    whose = "each of its strips" if len(loose) == len(fixture.numbers) else numbers_in_words(loose)
    how = {
        Hold.TAPE: "with double-sided tape over the whole back",
        Hold.VACUUM: "by vacuum through the spoilboard",
    }.get(
        front.job.machine.hold,
        "with double-sided tape over the whole back or by vacuum, for no screw in their waste keeps far enough away",
    )
    return f"Fewer than two screws may be in {whose}: hold what is loose {how}, tried on waste first."


def limit_words(front: Front) -> str:
    """Return how near a cutter may come to a screw that is in."""
    job, show = front.job, front.job.ruler.fine
    return (
        f"No cutter may come nearer to a screw than {show(least_above(job))}: {show(job.limit('screw_cover').value)} of cover and "
        f"{show(job.limit('screw_overcut').value)} for a cut that goes too deep."
    )


def screws_words(front: Front, holding: Holding) -> str:
    """Return how near the cutters come to the screws that are in, and which holes stay empty; "" where there are no screws."""
    used, out = holding.used, holding.left_out
    said = []
    if used:
        nearest = min(one.above for one in used)
        far = front.job.ruler.fine(math.floor(nearest * 100) / 100)
        said.append(f"Measured from the moves, the programs stay at least {far} away from them.")
    if out:
        strips = sorted({one.held.strip for one in out})
        many = f"{len(out)} of the final holes, in {numbers_in_words(strips)}, stay"
        few = f"One of the final holes, in {numbers_in_words(strips)}, stays"
        said.append(
            f"{many if len(out) > 1 else few} empty: no screw that can be bought bites there and keeps so far away. Screws go in "
            "there when "
            "the carving is done."
        )
    return " ".join(said)


def cautions(job: Job) -> list[Told]:
    """Return the usual cautions of this work."""
    return [
        (
            "Machine",
            "It moves without looking. Check zero, stock and clamps; run the file in the air first; stay beside it with a hand at "
            "its stop; "
            "keep hands, hair and sleeves away while anything turns. Isolate it before a cutter is changed.",
        ),
        (
            "Dust",
            "Fine dust of wood harms the lungs, that of some woods more. Have it taken off at the cutter, wear a mask for fine dust, "
            "and leave it running a while before you sweep. Eye and ear protection.",
        ),
        (
            "Screws",
            "A carbide cutter that meets a screw breaks and throws its splinters: no screw but those of the table, no longer ones.",
        ),
        (
            "First of all",
            "Speeds and feeds are starting points of our own. Local rules, the manuals of machine and cutter, and trained practice "
            "come first.",
        ),
    ]


def drill(ruler: Ruler, mm: float) -> str:
    """Return a diameter as drills have it, to a tenth of a millimetre or to 1/64 in."""
    part = 0.1 if ruler.unit is Unit.MM else MM_PER_INCH / 64.0
    return Ruler(ruler.unit, max(64, ruler.fraction)).text(round(mm / part) * part)


def screw_counts(ruler: Ruler, holding: Holding) -> Iterator[str]:
    """Yield how many screws of each length are in, "12 of 20 mm", the shortest first."""
    lengths = [one.length for one in holding.used if one.length is not None]
    for length in sorted(set(lengths)):
        yield f"{lengths.count(length)} of {ruler.text(length)}"
