"""What is said about a route's files in words: on the screen, and in the text that lies beside them."""

from __future__ import annotations

import textwrap
from collections.abc import Iterator, Sequence

from facade.cnc.fixture import fixtures
from facade.cnc.order import Order, Route, blank_of
from facade.front import Front
from facade.layout import StripPlace
from facade.lengths import Unit

READ_ME = "read-me.txt"


def route_lines(front: Front, order: Order) -> Iterator[str]:
    """Yield what is to be known of a route before anything is cut, a sentence or two to a line."""
    if order.route is Route.SIDE:
        from facade.cnc.side_files import side_lines

        yield from side_lines(front, order)
        return
    from facade.cnc.surfaces import blank_report

    show = front.job.ruler.text
    for fixture in fixtures(front, order):
        yield f"Fixture {fixture.number}: door {fixture.door}, {_which(fixture.places)}, {show(fixture.width)} by {show(fixture.length)}"
    yield from blank_report(front, order)


def _which(places: Sequence[StripPlace]) -> str:
    first, last = places[0].number, places[-1].number
    return f"strips {first} to {last}" if first != last else f"strip {first}"


def note_names(front: Front, order: Order) -> list[str]:
    """Return the name of the text."""
    return [READ_ME]


def note_files(front: Front, order: Order) -> Iterator[tuple[str, bytes, str]]:
    """Yield the text that lies beside the files of the face route."""
    paragraphs = [textwrap.fill(line, 100, subsequent_indent="  ") for line in _text(front, order)]
    yield (
        READ_ME,
        ("\n".join(paragraphs) + "\n").encode("utf-8"),
        "read this first: zero, stock, order of work, what was left on",
    )


def _text(front: Front, order: Order) -> Iterator[str]:
    job, show = front.job, front.job.ruler.text
    machine, blank = job.machine, blank_of(front, order)
    low = max(front.surface.floor - 2.0, 0.0)
    yield f"{job.title}, mark {front.mark}"
    if not order.cleared:
        yield "NOT CLEARED: the checks stop this front. Cut nothing from these files."
    yield ""
    yield (
        f"Machine code and drawings are in {'mm' if job.machine_unit is Unit.MM else 'inches'}; STL, which holds no unit, and 3MF, which "
        "holds one, are in mm. The unit stands in every file's name."
    )
    yield (
        "Zero is the LOWER LEFT MACHINED CORNER OF THE SPOILBOARD, the same for every fixture. Z0 is its skimmed top, the back of the "
        f"strips, not the face: a blank that is thicker or thinner cannot make the cut deeper. The first strip's lower left corner lies at "
        f"x {show(job.first_strip[0])}, y {show(job.first_strip[1])}."
    )
    yield ""
    yield f"1. Mill the blanks to {show(blank, 2)} and to length and width; measure one, and say what it measures with --blank."
    yield (
        "2. Screw the spoilboard down, skim it flat, and lay out the fixture by its plan. Strips lie in their order on the door, their "
        "TOP ends away from the zero, screwed from behind through the spoilboard in their FINAL pilot holes."
    )
    yield (
        f"3. Waste as thick as the blanks goes on for {show(machine.waste)} at both ends. Spacers, battens and wedges stand no higher "
        f"than {show(low)}: the cutter passes over them."
    )
    yield "4. No clamp and no screw from above inside the dashed line of the plan."
    yield "5. Set the zero, run the file in the air above the wood, and watch that it stays inside the plan."
    yield "6. Run 1-rough with the straight cutter, change the cutter, set Z again, run 2-finish with the ball. Thin strips come last."
    yield (
        f"7. What is left on for sanding is {show(machine.leave, 2)}. Measure three places of the first strip against its height "
        "picture or its table of offsets before the next fixture goes on."
    )
    yield ""
    yield from route_lines(front, order)
    yield ""
    yield (
        "Cautions. Machine code moves a machine without looking. Check zero, stock and clamps; run it in the air first; stay by the "
        "machine with a hand at its stop; wear eye and ear protection, and have the dust taken off at the cutter. Speeds and feeds are "
        "starting points of our own. Local rules, the manuals of machine and cutter, and trained practice come first."
    )
