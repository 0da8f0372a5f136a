"""Corruptions of sheets of paper: labels, figures and lines of every kind, as SVG."""

from __future__ import annotations

import re
from collections.abc import Iterator

from corruptions.corruption import (
    Act,
    Corruption,
    Nothing,
    copy_of,
    exchanged,
    matched,
    number,
    plus,
    replaced,
    swapped_with,
    text,
)
from corruptions.drawings import aside, left_out, middle, mirrored, path, resized, turned
from facade.cli import SHEETS

SIDE = "sides/strip-03.svg"


def sheet(kind: str) -> str:
    return f"paper/*-{kind}.svg"


def label(old: str, new: str) -> Act:
    """Return what writes another label in place of one that is just so."""
    return replaced(f">{old}</text>", f">{new}</text>")


def labels_exchanged(one: str, other: str) -> Act:
    return exchanged(f">{one}</text>", f">{other}</text>")


def gone(old: str) -> Act:
    """Return what leaves out the first label that holds some words."""
    return matched(rf"<text [^>]*>[^<]*{re.escape(old)}[^<]*</text>", "")


def figure(pattern: str, by: float, which: int = 0) -> Act:
    """Return what changes the figure of that index among labels that are figures alone."""
    return number(rf">({pattern})</text>", plus(by), which=which)


def label_moved(old: str, x: float) -> Act:
    """Return what moves a label to the right, mm."""

    def change(said: str) -> str:
        found = re.search(rf'<text x="([\d.]+)"([^>]*)>{re.escape(old)}</text>', said)
        if not found:
            raise Nothing(f"no label {old}")
        return said.replace(found[0], f'<text x="{float(found[1]) + x:.3f}"{found[2]}>{old}</text>', 1)

    return text(change)


def _on_every_kind() -> Iterator[Corruption]:
    """Yield what is done to a sheet whatever it shows."""
    for kind in SHEETS:
        for what, act in (
            ("another mark", matched(r">Mark \w{4}-\w{4}<", ">Mark 7Q2M-X4KD<")),
            ("TOP reads BOTTOM", replaced(">TOP<", ">BOTTOM<")),
            ("another number of the sheet", number(r">Sheet (\d+) of", plus(1))),
            ("printed 1 % smaller", resized(0.99)),
            ("a word left out of its head", gone("PRINT AT 100 %")),
        ):
            yield Corruption(f"sheet, {kind}", sheet(kind), what, act)
    for kind in ("first", "sticks", "sides", "wraps", "faces", "holes", "gauges", "boards", "lists"):
        yield Corruption(
            f"sheet, {kind}", sheet(kind), "another sheet under its name", copy_of("paper/*.svg", which=-2)
        )
    for kind in ("sides", "faces", "lists", "boards"):
        yield Corruption(f"sheet, {kind}", sheet(kind), "mirrored left to right", text(mirrored))
        yield Corruption(
            f"sheet, {kind}", sheet(kind), "lengths said to be inches", replaced("lengths in mm", "lengths in inches")
        )
        yield Corruption(
            f"sheet, {kind}", sheet(kind), "another title", replaced("Small hall cabinet", "Large hall cabinet", 0)
        )


def _sides() -> Iterator[Corruption]:
    """Yield what is done to the side template of a strip."""
    for what, act in (
        ("the carve line 0.3 mm lower", path("left-carve", aside(0.0, 0.3))),
        ("one point of the finished line 0.3 mm off", path("left-finished", middle(0.0, 0.3))),
        ("the finished line seen from the other end", path("right-finished", turned)),
        ("the saw line 0.5 mm lower", path("right-saw", aside(0.0, 0.5))),
        ("the floor 1 mm lower", path("left-floor", aside(0.0, 1.0))),
        ("the blank 1 mm higher", path("left-blank", aside(0.0, -1.0))),
        ("the back 0.5 mm aside", path("left-back", aside(0.5, 0.0))),
        ("an end 2 mm aside", path("left-end", aside(2.0, 0.0))),
        ("carve and finished line exchanged", exchanged('id="left-carve"', 'id="left-finished"')),
        ("left and right lines exchanged", exchanged('id="left-', 'id="right-')),
        ("LEFT and RIGHT exchanged", exchanged("3 LEFT", "3 RIGHT")),
        ("the finished line missing", left_out("left-finished")),
        ("the carve line missing", left_out("right-carve")),
        ("the saw line missing", left_out("left-saw")),
        ("the floor missing", left_out("right-floor")),
        ("stations 1 mm along", path("left-stations", aside(1.0, 0.0))),
        ("the stations missing", left_out("right-stations")),
        ("the wood's hatch under the other side", path("left-waste", aside(0.0, 41.0))),
        ("the TOP arrow turned round", path("left-arrow", turned)),
        ("a rule 1 mm short", path("rule-along", lambda some: [some[0], (some[1][0] - 1.0, some[1][1])])),
        ("a figure 0.1 higher", figure(r"1\d\.\d", 0.1)),
        ("two figures exchanged", labels_exchanged("16.0", "17.5")),
        ("a station's figure", label("50", "60")),
        ("a station's figure 10 mm aside", label_moved("50", 10.0)),
        ("another strip", matched(r">3 LEFT<", ">4 LEFT<")),
        ("another neighbour", replaced("faces strip 2", "faces strip 4")),
        ("the neighbour left out", replaced("faces strip 4", "")),
        ("another blank", replaced("x 20 mm", "x 22 mm")),
        ("another sanding allowance", replaced("sand 0.8 mm off", "sand 0.5 mm off")),
        ("another saw allowance", replaced("saw here, 1.5 mm", "saw here, 0.5 mm")),
        ("another allowance in the head", replaced("Carve line 0.8 mm", "Carve line 0.5 mm")),
        (
            "the finished line's key says carve",
            replaced("finished line; heights are to it", "carve line; heights are to it"),
        ),
        ("strip 4 in the head", replaced("strip 3 of 8", "strip 4 of 8")),
        ("the caution left out", gone("Local rules")),
        ("another strip's sheet under its name", copy_of("sides/*.svg", which=4)),
        ("exchanged with another strip's", swapped_with("sides/*.svg", which=4)),
        (
            "the words NOT CLEARED added",
            replaced("</svg>", '<text x="60" y="60" font-size="9">NOT CLEARED</text></svg>'),
        ),
        ("an arrow in words turned round", replaced("← TOP", "→ TOP")),
    ):
        yield Corruption("side template", SIDE, what, act)
    for what, act in (
        ("the carve line 0.3 mm lower", path("left-carve", aside(0.0, 0.3))),
        ("one point of the finished line 0.3 mm off", path("left-finished", middle(0.0, 0.3))),
        ("stations 1 mm along", path("left-stations", aside(1.0, 0.0))),
        ("LEFT and RIGHT exchanged", exchanged("1 LEFT", "1 RIGHT")),
        ("another neighbour", replaced("faces strip 2", "faces strip 3")),
        ("a figure 0.1 higher", figure(r"1\d\.\d", 0.1)),
    ):
        yield Corruption("sheet, sides", sheet("sides"), what, act)


def _wraps() -> Iterator[Corruption]:
    for what, act in (
        ("the carve line 0.3 mm lower", path("left-carve", aside(0.0, 0.3))),
        ("one point of the finished line 0.3 mm off", path("right-finished", middle(0.3, 0.0))),
        ("the carve line seen from the other end", path("right-carve", turned)),
        ("a fold 1 mm aside", path("fold", aside(0.0, 1.0))),
        ("a line of equal depth 2 mm aside", path("depth", aside(2.0, 0.0))),
        ("a line of equal depth missing", left_out("depth")),
        ("the zone without screws missing", left_out("no-screw")),
        ("the zone without screws 20 mm aside", path("no-screw", aside(20.0, 0.0))),
        ("the carving arrows turned round", path("strokes-left", turned)),
        ("stations 1 mm along", path("stations", aside(1.0, 0.0))),
        ("a depth 0.1 deeper", figure(r"[1-9]\.\d", 0.1)),
        ("LEFT and RIGHT exchanged", exchanged("LEFT", "RIGHT")),
        ("FACE reads BACK", replaced("1 FACE", "1 BACK")),
        ("another neighbour", replaced("right faces strip 2", "right faces strip 3")),
        ("another sanding allowance", replaced("sand 0.8 mm off", "sand 0.5 mm off")),
        ("the back 0.5 mm aside", path("left-back", aside(0.0, 0.5))),
    ):
        yield Corruption("sheet, wraps", sheet("wraps"), what, act)


def _faces() -> Iterator[Corruption]:
    for what, act in (
        ("a line of equal depth 2 mm aside", path("depth-3", aside(2.0, 0.0))),
        ("one point of a line of equal depth 2 mm off", path("depth-3", middle(2.0, 0.0))),
        ("a line of equal depth missing", left_out("depth-3")),
        ("an edge of a strip 1 mm aside", path("strip-1", aside(1.0, 0.0))),
        ("stations 1 mm along", path("stations", aside(0.0, 1.0))),
        ("two strips' numbers exchanged", labels_exchanged("2", "3")),
        ("a depth's figure", label("6", "8")),
        ("a station's figure", label("50", "60")),
        ("another door", replaced("Door 1", "Door 2", 0)),
        ("another step of depth", replaced("every 2 mm", "every 1 mm")),
    ):
        yield Corruption("sheet, faces", sheet("faces"), what, act)


def _holes() -> Iterator[Corruption]:
    for what, act in (
        ("the holes 1 mm aside", path("holes", aside(1.0, 0.0))),
        ("one hole 3 mm off", path("holes", middle(3.0, 0.0))),
        ("the holes missing", left_out("holes")),
        ("an edge 1 mm aside", path("left-edge", aside(0.0, 1.0))),
        ("LEFT EDGE and RIGHT EDGE exchanged", labels_exchanged("LEFT EDGE", "RIGHT EDGE")),
        ("a deeper setting under a hole", matched(r">1</text>", ">3</text>")),
        ("another setting of the stop", matched(r"Stop 1: 2", "Stop 1: 4")),
        ("another setting in a map's foot", replaced("stop 1: 2", "stop 1: 4")),
        ("another strip's number", matched(r">2</text>(?=[^§]*RIGHT EDGE)", ">5</text>")),
    ):
        yield Corruption(
            "sheet, holes", sheet("holes"), what, act, holds='id="holes"' if "stop 1" in what or "hole" in what else ""
        )


def _gauges() -> Iterator[Corruption]:
    for what, act, holds in (
        ("a gauge 0.3 mm lower", path("across-gauge", aside(0.0, 0.3)), "across-gauge"),
        ("one point of a gauge 0.3 mm off", path("across-gauge", middle(0.0, 0.3)), "across-gauge"),
        ("a gauge mirrored", path("across-gauge", turned), "across-gauge"),
        ("a gauge missing", left_out("across-gauge"), "across-gauge"),
        ("ticks 1 mm aside", path("ticks", aside(1.0, 0.0)), "across-gauge"),
        ("LEFT and RIGHT exchanged", labels_exchanged("LEFT", "RIGHT"), "across-gauge"),
        ("another door", replaced("ACROSS door 1", "ACROSS door 2"), "across-gauge"),
        ("at another station", replaced("at 25", "at 50"), "across-gauge"),
        ("other strips", replaced("strips 1 to 4 ·", "strips 5 to 8 ·"), "across-gauge"),
        (
            "seen from the other end",
            replaced("BOTTOM end and look to TOP", "TOP end and look to BOTTOM"),
            "across-gauge",
        ),
        ("a gauge along a strip 0.3 mm lower", path("along-gauge", aside(0.0, 0.3)), "along-gauge"),
        ("one point of a gauge along a strip 0.3 mm off", path("along-gauge", middle(0.0, 0.3)), "along-gauge"),
    ):
        yield Corruption("sheet, gauges", sheet("gauges"), what, act, holds=holds)


def _boards() -> Iterator[Corruption]:
    drilling, carving, screws, spacers = (
        "AS SEEN FROM THE BACK",
        "Carving board, doors",
        "seen from the BACK: screws",
        ": spacers",
    )
    for what, act, holds in (
        ("a screw 1 mm aside", path("screws", middle(1.0, 0.0)), drilling),
        ("all screws 1 mm aside", path("screws", aside(1.0, 0.0)), drilling),
        ("the screws mirrored", path("screws", turned), drilling),
        ("the screws missing", left_out("screws"), drilling),
        ("a strip's edges 1 mm aside", path("strips", aside(1.0, 0.0)), drilling),
        ("the board 2 mm aside", path("board", aside(2.0, 0.0)), drilling),
        ("seen from the front", replaced("AS SEEN FROM THE BACK", "AS SEEN FROM THE FRONT"), drilling),
        ("another size of pilot holes", number(r"Pilot holes ([\d.]+)", plus(1)), drilling),
        ("another thickness of the board", number(r"high, ([\d.]+) mm thick", plus(-3)), drilling),
        ("longer screws", number(r"of (\d+) mm,", plus(5)), drilling),
        ("less cover", number(r"least ([\d.]+) mm away", plus(-2)), drilling),
        ("a screw's place across", figure(r"34\.7", 1.0), screws),
        ("a screw's place down", figure(r"80\.0", 5.0), screws),
        ("a longer screw in the table", label("25", "30"), screws),
        ("a deeper bite", figure(r"12\.0", 3.0), screws),
        ("another cover", figure(r"3\.\d", 1.0), screws),
        ("two strips exchanged", labels_exchanged("4", "3"), screws),
        ("a spacer 0.5 mm higher", figure(r"14\.\d", 0.5), spacers),
        ("two gaps exchanged", labels_exchanged("1 and 2", "2 and 3"), spacers),
        ("a clamp on the strips", path("clamps", aside(30.0, 0.0)), carving),
        ("an end block 5 mm aside", path("ends", aside(0.0, 5.0)), carving),
        ("the board of another size", number(r"Board, 1: ([\d.]+)", plus(-50)), carving),
        (
            "a dummy of another thickness",
            number(r"Dummy strips, 2: [\d.]+ mm x [\d.]+ mm x ([\d.]+)", plus(2)),
            carving,
        ),
        ("the spacers of another width", number(r"each door: ([\d.]+)", plus(1)), carving),
    ):
        yield Corruption("sheet, boards", sheet("boards"), what, act, holds=holds)


def _lists() -> Iterator[Corruption]:
    parts, joints, edges, offsets = "Part list", "Joints to feel", "Edges of each strip", "Strip 1, door 1"
    triangle = "Triangle on the backs of door 2"
    for what, act, holds in (
        ("a thinnest place", figure(r"13\.2", 1.0), parts),
        ("where it is thinnest", label("32", "42"), parts),
        ("a width", replaced("21.1 x 20 x 130", "22.1 x 20 x 130"), parts),
        ("two thinnest places exchanged", labels_exchanged("13.2", "13.4"), parts),
        ("a neighbour", label("end", "3"), parts),
        ("yes reads no for a centre line", label("yes", "no"), parts),
        ("another sentence", replaced("above the BACK", "above the FLOOR"), parts),
        ("a place of the triangle", figure(r"97\.5", 10.0), triangle),
        ("two strips of the triangle exchanged", labels_exchanged("8", "7"), triangle),
        ("the triangle 5 mm aside", path("triangle", aside(5.0, 0.0)), triangle),
        ("numbers of the TOP ends exchanged", labels_exchanged("5", "6"), triangle),
        ("a step at a joint", matched(r">(\d+) \+(\d\.\d)<", r">\1 +9.9<"), joints),
        ("which strip stands higher at a joint", matched(r">(\d+) \+", lambda m: f">{int(m[1]) + 1} +"), joints),
        ("an edge's height", figure(r"14\.5", 0.3), edges),
        ("LEFT and RIGHT exchanged", labels_exchanged("LEFT", "RIGHT"), edges),
        ("two strips exchanged", labels_exchanged("2", "3"), edges),
        ("a step of the wall chart left out", gone("gauged"), edges),
        ("a height of the table", figure(r"14\.5", 0.3), offsets),
        ("a depth of the table", figure(r"5\.5", 0.3), offsets),
        ("high and deep exchanged", labels_exchanged("high", "deep"), offsets),
        ("L and R exchanged", labels_exchanged("L", "R"), offsets),
        ("another strip over a table", replaced("Strip 1, door 1", "Strip 2, door 1"), offsets),
        ("a station of the table", label("75", "80"), offsets),
    ):
        kind = "offsets" if holds == offsets else "lists"
        yield Corruption(f"sheet, {kind}", sheet(kind), what, act, holds=holds)


def _sticks() -> Iterator[Corruption]:
    position, story = ">Position stick<", ">Story stick<"
    for what, act, holds in (
        ("left edges 1 mm aside", path("left-edges", aside(1.0, 0.0)), position),
        ("one right edge 1 mm off", path("right-edges", middle(1.0, 0.0)), position),
        ("a figure 0.3 higher", figure(r"48\.2", 0.3), position),
        ("a figure of the table 0.3 higher", figure(r"69\.4", 0.3, which=-1), position),
        ("LEFT and RIGHT exchanged", labels_exchanged("LEFT", "RIGHT"), position),
        ("two strips exchanged", labels_exchanged("2", "3"), position),
        ("the end of the stick 2 mm aside", path("stick-end", aside(2.0, 0.0)), position),
        ("a mark missing", left_out("right-edges"), position),
        ("another width of the door", replaced("93.5 mm wide", "94.5 mm wide"), position),
        ("stations 1 mm along", path("stations", aside(1.0, 0.0)), story),
        ("a station's figure", label("50", "60"), story),
        ("another length of a strip", replaced("130 mm long", "140 mm long"), story),
    ):
        yield Corruption("sheet, sticks", sheet("sticks"), what, act, holds=holds)


def _others() -> Iterator[Corruption]:
    for what, act in (
        ("a line to measure 1 mm short", path("line-A", lambda some: [some[0], (some[1][0] - 1.0, some[1][1])])),
        ("a line missing", left_out("line-C")),
        ("SHORT SIDE and LONG SIDE exchanged", exchanged("SHORT SIDE", "LONG SIDE")),
        ("another length in words", replaced("SHORT SIDE: 180 mm", "SHORT SIDE: 181 mm")),
        ("said to be corrected", replaced("not corrected for a printer", "corrected for the hall printer")),
    ):
        yield Corruption("sheet, calibration", sheet("calibration"), what, act)
    for what, act in (
        ("the picture's strips 2 mm aside", path("picture-strips", aside(2.0, 0.0))),
        ("the picture's sections missing", left_out("picture-sections")),
        ("another width of the front", replaced("190 mm wide", "200 mm wide")),
        ("another number of strips", replaced("8, 21.1 mm wide", "9, 21.1 mm wide")),
        ("another gap", replaced("3 mm between strips", "4 mm between strips")),
        ("another floor", replaced("the floor, 8 mm", "the floor, 6 mm")),
        ("another wood", replaced("white ash", "red oak", 0)),
        ("a gate left out", gone("GATE A")),
        ("two strips' numbers exchanged", labels_exchanged("2", "3")),
        ("another screw", replaced("shank 3.5 mm", "shank 5 mm")),
    ):
        yield Corruption("sheet, first", sheet("first"), what, act, holds=">Read me first<")


CORRUPTIONS: tuple[Corruption, ...] = (
    *_on_every_kind(),
    *_sides(),
    *_wraps(),
    *_faces(),
    *_holes(),
    *_gauges(),
    *_boards(),
    *_lists(),
    *_sticks(),
    *_others(),
)
