"""What is said of strips on their side: where they lie, what holds them, what is cut in which order, and what is measured."""

from __future__ import annotations

import textwrap
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np

from facade.arrays import Array
from facade.cnc.order import Order
from facade.cnc.side_bays import HOLDER_OFF, Bay, batches, levels
from facade.cnc.side_drawing import END, END_MIDDLE, FACE, FACE_MIDDLE, OUTLINE, SQUARE, STEP, STEP_MIDDLE, Lying
from facade.front import Front
from facade.job import Cut, Hold
from facade.layout import StripPlace
from facade.lengths import Unit
from facade.measuring.screws import pilot_hole

SIZES, READ_ME = "sizes.csv", "read-me.txt"
# A hollow in which less than this is left standing is not worth a word, mm.
_WORTH = 0.05
# What a vacuum of 0.8 bar presses with, N on each cm2 and pounds on each square inch; and the share of it that friction holds aside.
_PRESSED = {Unit.MM: 8.0, Unit.INCH: 11.6}
_FRICTION = 0.3
_CM2_IN_SQUARE_INCH = 6.4516


@dataclass(frozen=True)
class Part:
    """A part of what is said, under a heading: sentences, each with a word or two that lead it."""

    heading: str
    notes: tuple[tuple[str, str], ...]


@dataclass(frozen=True)
class Told:
    """What is told of: the bays, what was asked for, the strips in them, and how many bays the board has."""

    bay: Bay
    order: Order
    strips: tuple[Lying, ...]
    bays: int

    @property
    def front(self) -> Front:
        """The front that the strips are of."""
        return self.bay.front


def read_me(told: Told) -> str:
    """Return the text that lies beside the files."""
    return "\n".join(_lines(told)) + "\n"


def _lines(told: Told) -> Iterator[str]:
    yield f"{told.front.job.title}, mark {told.front.mark}"
    if not told.order.cleared:
        yield "NOT CLEARED: the checks stop this front. Cut nothing from these files."
    for part in (*side_parts(told), layers(told.front)):
        yield ""
        yield part.heading
        for lead, text in part.notes:
            yield textwrap.fill(f"{lead}: {text}", 100, initial_indent="  ", subsequent_indent="    ")


def side_parts(told: Told) -> list[Part]:
    """Return all that must be known at the machine, in the order in which it is needed."""
    bay, strips = told.bay, told.strips
    return [
        Part("Strips, view, zero", tuple(_zero(bay, strips))),
        Part("Board and holding", (*_board(bay, told.bays), *_holding(bay))),
        Part("Cutter", tuple(_cutter(bay))),
        Part("What is cut", tuple(_cuts(bay, strips))),
        Part("Order of work", tuple(_order_of_work(told))),
        Part("What to measure", tuple(_measured(bay, strips))),
        Part("Cautions", tuple(_cautions())),
    ]


def _zero(bay: Bay, strips: Sequence[Lying]) -> Iterator[tuple[str, str]]:
    job, show = bay.front.job, bay.front.job.ruler.text
    width = sorted({show(one.profile.place.width, 2) for one in strips})
    yield (
        "Unit",
        f"DXF is in {'mm' if job.machine_unit is Unit.MM else 'inches'}, as its header and its name say; SVG is true to size.",
    )
    yield (
        "Blanks",
        f"backs and sides milled, {show(bay.blank, 3)} from back to raw face, {' or '.join(width)} wide, "
        f"{show(bay.length + 2 * bay.waste, 2)} long"
        + (
            f": {show(bay.waste)} of waste at each end."
            if bay.waste
            else ", as long as the strips: their ends are milled."
        ),
    )
    yield (
        "View",
        "from above, as it lies on the machine. Each strip lies on its LEFT side, its right side up: back along the bottom, BOTTOM end at "
        "the left, TOP end at the right.",
    )
    along, across = bay.first
    yield (
        "Zero",
        f"x 0, y 0 of EVERY file is the lower left corner of the board, drawn as a cross. It stays free, so that it can be found again "
        f"after every change. The corner of the first strip's back and BOTTOM end lies at x {show(along)}, y {show(across)}; each further "
        f"strip of a together file {show(bay.pitch, 3)} higher. z 0 is the top of the board, on which the strips lie.",
    )


def _board(bay: Bay, bays: int) -> Iterator[tuple[str, str]]:
    show = bay.front.job.ruler.text
    length, wide = bay.board(bays)
    yield (
        "Board",
        f"{show(length, 2)} by {show(wide, 2)}, its lower and left edges square to each other, skimmed flat and fixed to the "
        f"machine's table, nothing of that inside a keep-out. It has {_count(bays, 'bay')}; strips cut alone lie in the first.",
    )
    yield (
        "Stops",
        f"in each bay a batten behind the strip, {show(bay.length + 2 * bay.waste, 2)} by {show(bay.batten, 3)}, and a stop at each end, "
        f"{show(bay.stop, 3)} by {show(bay.batten + bay.stop_up, 3)}, which reaches {show(bay.stop_up, 3)} up beside the strip from its "
        f"back. All screwed to the board from below or with sunk heads, none higher than {show(bay.widest, 2)}, as the strips are wide.",
    )
    yield (
        "Push",
        "the batten and the stop at the BOTTOM end take what the cutter pushes. Press the strip against both before it is fixed; a strip "
        "that does not touch them along its length is not held.",
    )


def _holding(bay: Bay) -> Iterator[tuple[str, str]]:
    job, show = bay.front.job, bay.front.job.ruler.text
    hold = job.machine.hold
    if hold.in_waste:
        out = -float(bay.screws[0, 0])
        yield (
            "Screws",
            f"one in the waste at each end, down through the strip into the board: {show(out, 2)} beyond the strip's end, "
            f"{show(bay.screw_up, 2)} from its back. {show(bay.screw, 2)} by {show(bay.screw_length, 2)}, heads of {show(bay.head, 2)} "
            f"sunk flush; drill {show(bay.hole, 2)} through the waste, {show(pilot_hole(bay.screw, softwood=False), 1)} in the board. They "
            f"bite {show(bay.screw_length - bay.widest, 1)}: the board must be thicker. The cutter keeps {show(bay.keep, 2)} off "
            f"their heads.",
        )
        yield (
            "Middle",
            "screws hold the ends alone; between them the cutter presses the strip on its batten. A length of double-sided tape under it, "
            "close to its back, keeps a long strip from lifting and humming.",
        )
    if hold is Hold.SCREWS:
        yield "Ends", "sawn to length at the dashed lines after the face is cut (layer: saw to length)."
    if hold is Hold.TABS:
        side = job.machine.side
        yield (
            "Tabs",
            f"the end cuts take the strip off its waste but for a tab at the back of each end, as wide as the strip: {show(side.tab, 3)} "
            f"high where it is lowest, {show(side.tab + side.cutter / 2, 3)} at the end itself, as the cutter is round, and "
            f"{show(side.cutter, 3)} long. Saw them by hand, and plane the ends flush.",
        )
    if hold is Hold.TAPE:
        yield (
            "Tape",
            f"double-sided, within the area drawn, {_area(bay)} under each strip, clear of the cutter's tip. It holds the strip DOWN; "
            f"pushed "
            "aside it creeps: batten and stops do that work. z 0 is then the top of the tape, not of the board.",
        )
    if hold is Hold.VACUUM:
        area, force = (bay.cm2, "N") if job.unit is Unit.MM else (bay.cm2 / _CM2_IN_SQUARE_INCH, "lb")
        pressed = _PRESSED[job.unit] * area
        yield (
            "Vacuum",
            f"seal the area drawn, {_area(bay)} under each strip, clear of the cutter's tip. 0.8 bar presses that down with about "
            f"{pressed:.0f} {force}, of which friction holds about {_FRICTION * pressed:.0f} {force} aside: too little for a strip this "
            "narrow to rest on it alone. Batten and stops take the push. z 0 is the top of the seal when it is pressed flat.",
        )
    yield (
        "Clear",
        "nothing but the strip may be inside the dashed outline (layer: keep-out), neither clamp nor screw nor hand.",
    )


def _area(bay: Bay) -> str:
    left, right, bottom, top = bay.area.tolist()
    show, unit = bay.front.job.ruler.text, bay.front.job.unit
    size = f"{bay.cm2:.0f} cm2" if unit is Unit.MM else f"{bay.cm2 / _CM2_IN_SQUARE_INCH:.1f} square inches"
    return f"{show(right - left)} by {show(top - bottom)} ({size})"


def _cutter(bay: Bay) -> Iterator[tuple[str, str]]:
    side, show = bay.front.job.machine.side, bay.front.job.ruler.text
    deep = bay.widest + side.below
    yield (
        "Kind",
        f"straight, {show(side.cutter, 3)}, {_count(side.flutes, 'cutting edge')}; one that cuts down or straight does not lift strips.",
    )
    if side.length is None:
        yield (
            "Edge",
            f"at least {show(bay.front.job.ruler.up(deep), 2)} long, so that the last run is cut at its whole depth at once. With a "
            f"shorter "
            "one cut the last run in the levels too; what is above the edge must then be no thicker than the cutter. "
            "machine.side.length tells how long yours is.",
        )
    elif levels(bay.front, bay.widest).last_at_once:
        yield "Edge", f"{show(side.length, 3)} long; the cut is {show(deep, 3)} deep."
    else:
        shank = "" if side.shank is None else f", and is {show(side.shank, 3)}"
        yield (
            "Edge",
            f"{show(side.length, 3)} long, the cut {show(deep, 3)} deep: above the edge the shank goes down beside wood that is cut. It "
            f"must be no thicker than the cutter{shank}.",
        )
    reach = bay.front.job.ruler.up(deep + HOLDER_OFF)
    stands = "" if side.reach is None else f"; yours stands out {show(side.reach, 3)}"
    yield (
        "Holder",
        f"the cutter must stand out of it at least {show(reach)}, so that it stays above the strips{stands}.",
    )
    chip = side.feed / (side.spindle * side.flutes)
    yield (
        "Speeds",
        f"{side.spindle:.0f} turns a minute, feed {_feed(bay, side.feed)}, down {_feed(bay, side.plunge)}: "
        f"{bay.front.job.ruler.fine(chip, 3)} "
        "to a cutting edge. Starting points of our own or the job's: the papers of machine and cutter decide.",
    )


def _feed(bay: Bay, feed: float) -> str:
    unit = bay.front.job.unit
    return f"{feed:.0f} mm/min" if unit is Unit.MM else f"{feed / unit.in_mm:.0f} in/min"


def _cuts(bay: Bay, strips: Sequence[Lying]) -> Iterator[tuple[str, str]]:
    job, show = bay.front.job, bay.front.job.ruler.text
    machine, side = job.machine, job.machine.side
    most = max(len(one.runs.steps) for one in strips)
    yield (
        "Line",
        f"an OPEN run along the face, layer {FACE}: {show(job.wood.sanding, 2)} above the HIGHER of the two finished edges, level across "
        f"the strip, nowhere above the raw face. The cutter's OUTSIDE goes along it; the cutter itself is on the side of the raw "
        f"face, away "
        f"from the back. Have your program set it off by {show(side.cutter / 2, 3)} to that side, or take layer {FACE_MIDDLE}, the way of "
        "the cutter's middle, and set nothing off. Never both.",
    )
    yield (
        "Way in, way out",
        f"the middle of the cutter goes down {show(bay.lead, 3)} beyond the strip's end and comes up as far beyond the other, where "
        f"its whole "
        "diameter is clear of wood and stops. Nothing is cut at the back.",
    )
    yield "Direction", _direction(machine.cut)
    if most:
        yield (
            "Steps",
            f"layer {STEP}, with {STEP_MIDDLE} for the middle: up to {most} runs before the face cut, the highest first. Each takes "
            f"at most "
            f"{show(side.step, 3)}; they leave {show(side.leave, 3)} for the face cut. {SIZES} says how many each strip has.",
        )
    else:
        yield "Steps", f"none: nowhere more than {show(side.step, 3)} of wood stands above the line."
    for width in sorted({round(one.profile.place.width, 6) for one in strips}):
        yield "Depth", _depth(bay, width, steps=most > 0)
    if machine.hold is Hold.TABS:
        yield (
            "End cuts",
            f"after the face cut, layer {END} with {END_MIDDLE} for the middle: from the raw face towards the back in the same levels, the "
            "cutter in the waste, its outside on the end. They stop short of the batten and leave the tabs.",
        )


def _direction(cut: Cut) -> str:
    climb = (
        "from the BOTTOM end to the TOP end, as its line is drawn. The strip is at the right hand of the way: climb cutting, with a "
        "spindle "
        "that turns clockwise seen from above. It presses the strip on its batten and lays fibres down where the grain runs out, instead "
        "of tearing them up ahead of the edge."
    )
    if cut is Cut.CLIMB:
        return f"every run goes {climb} It can snatch on a machine with play: take smaller steps there."
    return (
        f"step cuts go to and fro, as their lines are drawn; the face cut goes {climb} Going back, the cutter pulls the strip off its "
        f"batten "
        "and towards the stop at its TOP end, and screws hold its ends alone: take machine.cut climb for strips that can bow by what the "
        "steps leave."
    )


def _depth(bay: Bay, width: float, *, steps: bool) -> str:
    ruler, found = bay.front.job.ruler, levels(bay.front, width)
    tips = ", ".join(f"z {ruler.fine(tip)}" for tip in found.tips)
    deep = f"strips {ruler.text(width, 2)} wide: tip at {tips}"
    under = bay.front.job.machine.side.below
    into = f", {ruler.fine(under)} into the board" if under else ""
    several = f"in {_count(len(found.tips), 'level')}{into}"
    if not steps or not found.last_at_once or len(found.tips) == 1:
        return f"{deep}: {several}, every run at one level before the next."
    return (
        f"{deep}: step cuts {several}, all of them at one level before the next; then the face cut at z {ruler.fine(found.tips[-1])} at "
        "once. Strips without step cuts: the face cut in these levels."
    )


def _order_of_work(told: Told) -> Iterator[tuple[str, str]]:
    bay, first = told.bay, told.strips[0].profile.place.number
    top = {Hold.TAPE: "the tape", Hold.VACUUM: "the seal, pressed flat"}.get(bay.front.job.machine.hold, "the board")
    yield (
        "1",
        f"measure the proof square on the screen: {_square(bay.front)} each way. Set x and y at the board's corner, z on the top of {top}.",
    )
    yield "2", "run the file in the air, the tip above the strips, and watch that it passes every stop and screw."
    yield "3", f"first of all in scrap: cut strip {first}, and measure it."
    for index, (places, minutes) in enumerate(_minutes(told), start=1):
        yield (
            str(index + 3),
            f"together {index}: {which(places)} of door {places[0].door}, from the lowest bay up, numbers on their right sides: about "
            f"{max(1, round(minutes))} min of cutting. {_after(bay.front.job.machine.hold)}",
        )


def _after(hold: Hold) -> str:
    return {
        Hold.SCREWS: "Draw the screws; saw to length.",
        Hold.TABS: "Draw the screws; saw the tabs and plane the ends.",
        Hold.VACUUM: "Stop the spindle before the vacuum.",
        Hold.TAPE: "Lever strips off along their length, with the grain.",
    }[hold]


def _minutes(told: Told) -> Iterator[tuple[list[StripPlace], float]]:
    """Yield the strips that are cut together, and how long the cutter is in its runs."""
    by_number = {one.profile.place.number: one for one in told.strips}
    for places in batches(told.bay, told.order):
        yield places, sum(minutes_of(told.bay, by_number[place.number]) for place in places)


def minutes_of(bay: Bay, lying: Lying) -> float:
    """Return how long a strip's runs take, with their ways down and back, at the speeds of the job."""
    machine, place = bay.front.job.machine, lying.profile.place
    side, found = machine.side, levels(bay.front, place.width)
    runs, deep = lying.runs, len(found.tips)
    once = 1 if runs.steps and found.last_at_once else deep
    cut = deep * sum(_long(step.middle) for step in runs.steps) + once * _long(runs.last.middle)
    cut += deep * sum(map(_long, bay.end_middles))
    count = deep * (len(runs.steps) + len(bay.end_cuts)) + once
    down = count * (machine.clear + place.width)
    return cut / side.feed + down / side.plunge + (cut + down) / machine.rapid


def _long(run: Array) -> float:
    return float(np.hypot(*np.diff(run, axis=0).T).sum())


def _measured(bay: Bay, strips: Sequence[Lying]) -> Iterator[tuple[str, str]]:
    front, show = bay.front, bay.front.job.ruler.text
    first = strips[0].profile
    heights = ", ".join(
        f"{show(height, 2)} {where}"
        for height, where in (
            (float(first.outline[:, 1].max()), "at its greatest"),
            (float(first.cut[0, 1]), "at its BOTTOM end"),
            (float(first.cut[-1, 1]), "at its TOP end"),
        )
    )
    yield "Calliper", f"strip {first.place.number}, back to face, as cut: {heights}. All strips: {SIZES}."
    yield (
        "By hand",
        "the face is cut level across the strip, so that the lower edge keeps up to "
        f"{show(max(one.profile.twist for one in strips), 1)} more than the sanding allowance: carve that to the lines of both sides.",
    )
    for line in standing_lines(front, strips):
        yield "Hollows", line


def standing_lines(front: Front, strips: Sequence[Lying]) -> Iterator[str]:
    """Yield the strips in whose hollows the cutter leaves wood standing, the worst first, at most three of them."""
    show = front.job.ruler.text
    worst = sorted((one for one in strips if one.runs.standing > _WORTH), key=lambda one: -one.runs.standing)
    for one in worst[:3]:
        yield (
            f"Strip {one.profile.place.number}: the cutter leaves {front.job.ruler.fine(one.runs.standing)} standing in a hollow "
            f"{show(one.runs.standing_at)} from the TOP end, which is tighter than itself. Carve it by hand, or take a thinner cutter."
        )
    if len(worst) > 3:
        yield f"{len(worst) - 3} more strips have such hollows."


def _cautions() -> Iterator[tuple[str, str]]:
    yield (
        "Held",
        "narrow strips on their side are hard to hold. Try every screw, tab, seal or tape by hand before the spindle starts; no hand "
        "inside "
        "the keep-out while it turns.",
    )
    yield (
        "Machine",
        "check unit, zero, stock and stops; run every file in the air first; stay by the machine with a hand at its stop. Eye and ear "
        "protection.",
    )
    yield (
        "Dust",
        "of many hardwoods harms the lungs: take it off at the cutter, and wear a mask when strips are changed and swept.",
    )
    yield "First", "local rules, the manuals of machine and cutter, and trained practice."


def layers(front: Front) -> Part:
    """Return what is on which layer of the drawings."""
    job, show = front.job, front.job.ruler.text
    hold = job.machine.hold
    found = [
        ("proof square", f"{_square(front)} each way, the first thing in the file."),
        ("zero, board", "the cross is x 0, y 0; the board as large as the most bays need."),
        (FACE, "TO BE CUT: the last run, as the cutter's outside goes."),
        (FACE_MIDDLE, "the same run, as the cutter's middle goes."),
        (STEP, "TO BE CUT before it: steps from the raw face, as the cutter's outside goes."),
        (STEP_MIDDLE, "the same runs, as the cutter's middle goes."),
        (
            OUTLINE,
            "the strip as it is left, one closed run, for programs that want one. A cutter led round it would go through stops and back.",
        ),
        ("left line, right line", "the finished height along both edges."),
        ("saw line", f"{show(job.wood.sawing, 2)} above the higher edge, for a bandsaw instead."),
        (
            "screw pilots",
            "the final holes, in the back. number: to be engraved. blank: the wood as milled, waste and all.",
        ),
        ("stops, keep-out", "the batten and the stops of each bay; where nothing else may be."),
    ]
    if hold.in_waste:
        found.append(("holding screws, screw heads", "the holes of the screws in the waste, and their heads."))
    if hold is Hold.SCREWS:
        found.append(("saw to length", "where the ends are sawn after the face is cut."))
    if hold is Hold.TABS:
        found.append(
            (
                END,
                f"TO BE CUT last: the ends, as the cutter's outside goes; {END_MIDDLE}: as its middle goes. tabs: what they leave.",
            )
        )
    if not hold.in_waste:
        found.append(("holding area", f"where the {'tape' if hold is Hold.TAPE else 'seal'} goes under the strip."))
    return Part("Layers", tuple(found))


def _square(front: Front) -> str:
    return front.job.ruler.text(SQUARE[front.job.unit])


def which(places: Sequence[StripPlace]) -> str:
    """Return "strips 3 to 9", or "strip 3"."""
    first, last = places[0].number, places[-1].number
    return f"strips {first} to {last}" if first != last else f"strip {first}"


def _count(number: int, what: str) -> str:
    return f"{number} {what}" if number == 1 else f"{number} {what}s"
