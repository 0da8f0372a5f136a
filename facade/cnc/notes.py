"""What is said about a route's files in words: on the screen, and in the text that lies beside them."""

from __future__ import annotations

import textwrap
from collections.abc import Iterator, Sequence

from facade.cnc.fixture import Fixture, fixtures
from facade.cnc.order import Order, Route
from facade.cnc.screwing import Holding
from facade.cnc.working import cautions, limit_words, loose_words, order_of_work, screw_counts, screws_words, zero_words
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


def note_file(front: Front, order: Order, found: Sequence[Fixture], held: Sequence[Holding]) -> tuple[str, bytes, str]:
    """Return the text that lies beside the files of the face route: its name, its bytes, what it is for."""
    paragraphs = [textwrap.fill(line, 100, subsequent_indent="  ") for line in _text(front, order, found, held)]
    return (
        READ_ME,
        ("\n".join(paragraphs) + "\n").encode("utf-8"),
        "read this first: zero, stock, order of work, what was left on",
    )


def _text(front: Front, order: Order, found: Sequence[Fixture], held: Sequence[Holding]) -> Iterator[str]:
    job = front.job
    yield f"{job.title}, mark {front.mark}"
    if not order.cleared:
        yield "NOT CLEARED: the checks stop this front. Cut nothing from these files."
    yield ""
    yield (
        "programs/ holds the machine code, drawings/ a plan of every fixture, solids/ the finished surface; job-sheet.pdf goes to "
        "the machine."
    )
    yield (
        f"Machine code and DXF are in {'mm' if job.machine_unit is Unit.MM else 'inches'}; SVG is true to size; STL, which holds no unit, "
        "and 3MF, which holds one, are in mm. The unit stands in every file's name."
    )
    yield ""
    yield f"ZERO: {zero_words(front)}"
    yield ""
    yield "Order of work"
    for number, (lead, text) in enumerate(order_of_work(front, found, held), start=1):
        yield f"{number}. {lead}: {text}"
    yield ""
    for fixture, holding in zip(found, held, strict=True):
        counts = ", ".join(screw_counts(job.ruler, holding)) or "none"
        yield f"Fixture {fixture.number}: spoilboard {holding.board}; screws from behind: {counts}."
        loose = loose_words(front, fixture, holding)
        if loose:
            yield f"  {loose}"
    if any(holding.screws for holding in held):
        yield limit_words(front)
        yield screws_words(front, Holding(tuple(one for holding in held for one in holding.screws)))
    yield ""
    yield from route_lines(front, order)
    yield ""
    yield "Cautions"
    for lead, text in cautions(job):
        yield f"{lead}: {text}"
