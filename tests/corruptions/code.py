"""Corruptions of machine code: every class of word, places, passes, and what its head says."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator, Sequence

from corruptions.corruption import (
    Act,
    Corruption,
    Nothing,
    by,
    copy_of,
    exchanged,
    lines,
    matched,
    number,
    plus,
    replaced,
    swapped_with,
    text,
    together,
)

ROUGH, FINISH = "cnc-face/*fixture-01*_1-rough_mm.ngc", "cnc-face/*fixture-01*_2-finish_mm.ngc"
CUT_FEED, PLUNGE_FEED = r"^G1 [XY].* F([\d.]+)$", r"^G1 Z[\d.-]+ F([\d.]+)$"


def words_in(line: str, *, after: str) -> Act:
    """Return what puts a line of words behind the first line that begins with some words."""
    return matched(rf"^({re.escape(after)}.*)$", rf"\1\n{line}")


def in_the_middle(line: str) -> Act:
    """Return what puts a line of words into the middle of the moves."""

    def change(said: list[str]) -> list[str]:
        middle = _moves(said)[len(_moves(said)) // 2]
        return [*said[:middle], line, *said[middle:]]

    return lines(change)


def above_the_wood(line: str) -> Act:
    """Return what puts a line of words behind a move up to the clear height, in the middle of the file."""

    def change(said: list[str]) -> list[str]:
        ups = [index for index, one in enumerate(said) if one.startswith("G0 Z")]
        middle = ups[len(ups) // 2]
        return [*said[: middle + 1], line, *said[middle + 1 :]]

    return lines(change)


def _moves(said: Sequence[str]) -> list[int]:
    return [index for index, line in enumerate(said) if line.startswith("G1 ")]


def _passes(said: Sequence[str]) -> list[list[int]]:
    """Return the lines of each pass: what is cut between two moves at rapid, in order."""
    found: list[list[int]] = []
    for index in _moves(said):
        if found and index == found[-1][-1] + 1:
            found[-1].append(index)
        else:
            found.append([index])
    return found


def without(choose: Callable[[list[list[int]]], Sequence[int]]) -> Act:
    """Return what leaves out lines, chosen among the passes."""

    def change(said: list[str]) -> list[str]:
        gone = set(choose(_passes(said)))
        return [line for index, line in enumerate(said) if index not in gone]

    return lines(change)


def longest(passes: list[list[int]]) -> list[int]:
    return max(passes, key=len)


def deepest_level(said: list[str]) -> list[str]:
    """Leave out the passes of the level that has most of them."""
    passes = _passes(said)
    heights = [min(_z(said[index]) for index in one if " Z" in said[index]) for one in passes]
    level = max(set(heights), key=heights.count)
    gone = {index for one, height in zip(passes, heights, strict=True) if height == level for index in one}
    if not gone or len(gone) == len(_moves(said)):
        raise Nothing("there is one level alone")
    return [line for index, line in enumerate(said) if index not in gone]


def _z(line: str) -> float:
    found = re.search(r"Z([-\d.]+)", line)
    return float(found[1]) if found else 1e9


def shifted(axis: str, mm: float) -> Act:
    """Return what shifts every place along an axis."""
    return number(rf"^G[01].*{axis}([-\d.]+)", plus(mm), every=True)


def one_place(axis: str, mm: float) -> Act:
    """Return what shifts one place of the longest pass, half way along the strips."""

    def change(said: list[str]) -> list[str]:
        way = longest(_passes(said))
        over_strips = [index for index in way if re.match(r"G1 Y1[012]\d\.\d+ Z", said[index])]
        some = over_strips or [index for index in way if f" {axis}" in said[index]]
        index = some[len(some) // 2]
        found = re.search(rf"{axis}([-\d.]+)", said[index])
        assert found
        moved = f"{axis}{float(found[1]) + mm:.3f}"
        return [*said[:index], said[index].replace(found[0], moved), *said[index + 1 :]]

    return lines(change)


def beyond_the_waste(said: list[str]) -> list[str]:
    """Let the longest pass end 40 mm further along."""
    last = longest(_passes(said))[-1]
    return [*said[:last], re.sub(r"Y([-\d.]+)", lambda m: f"Y{float(m[1]) + 40:.3f}", said[last]), *said[last + 1 :]]


def as_rapid(said: list[str]) -> list[str]:
    """Make one move in the middle of the longest pass a rapid."""
    some = longest(_passes(said))
    index = some[len(some) // 2]
    return [*said[:index], said[index].replace("G1 ", "G0 "), *said[index + 1 :]]


def without_rise(said: list[str]) -> list[str]:
    """Leave out a move up to the clear height in the middle of the file, so that the next rapid goes through the wood."""
    ups = [index for index, line in enumerate(said) if line.startswith("G0 Z") and said[index - 1].startswith("G1")]
    middle = ups[len(ups) // 2]
    return [*said[:middle], *said[middle + 1 :]]


def _start(said: Sequence[str]) -> int:
    return next(index for index, line in enumerate(said) if not line.startswith("("))


def reversed_moves(said: list[str]) -> list[str]:
    """Run the passes from the last to the first, without their rapids."""
    some = [said[index] for index in _moves(said)]
    first = _moves(said)[0]
    return [*said[:first], *reversed(some), "M5", "M2", ""]


def head(old: str, new: str) -> Act:
    """Return what changes words of the head: the first that match a pattern within its comments."""
    return matched(rf"^(\(.*?){old}", rf"\g<1>{new}")


def head_number(pattern: str, change: Callable[[float], float]) -> Act:
    return number(rf"^\(.*?{pattern}", change)


def crossed(said: str) -> str:
    """Write X where Y stood and Y where X stood, in the moves."""
    start = said.index("\nG")
    return said[:start] + said[start:].replace("X", "\0").replace("Y", "X").replace("\0", "Y")


def _both() -> Iterator[Corruption]:
    """Yield what is done to a finishing file as well as to a roughing file."""
    for on, cut in ((FINISH, "finishing"), (ROUGH, "roughing")):
        for what, act in (
            ("every feed ten times as high", number(r"F([\d.]+)$", by(10), every=True)),
            ("the feed in the cut ten times as high", number(CUT_FEED, by(10), every=True)),
            ("the feed on the way in ten times as high", number(PLUNGE_FEED, by(10), every=True)),
            ("turns of the spindle ten times as many", number(r"^S(\d+)", by(10))),
            ("one place 0.1 mm lower", one_place("Z", -0.1 if cut == "finishing" else -1.2)),
            ("one place 1 mm lower", one_place("Z", -1.0 if cut == "finishing" else -2.0)),
            ("half a pass left out", without(lambda passes: longest(passes)[len(longest(passes)) // 2 :])),
            ("a pass left out", without(longest)),
            ("a rapid through the wood", lines(as_rapid)),
            ("a rise to the clear height left out", lines(without_rise)),
            ("everything 0.1 mm lower", shifted("Z", -0.1)),
            ("everything 1 mm to the right", shifted("X", 1.0)),
            ("the second half left out", lines(lambda said: [*said[: len(said) // 2], "G0 Z30.000", "M5", "M2", ""])),
            ("another fixture's file under its name", copy_of(on.replace("01", "02"))),
        ):
            yield Corruption("machine code", on, f"{cut}: {what}", act)


_WORDS: tuple[tuple[str, Act], ...] = (
    ("feeds in the cut and on the way in exchanged", exchanged("F3000.0", "F1000.0")),
    ("one feed in the middle ten times as high", number(CUT_FEED, by(10), which=1)),
    ("the feed in the cut 1 % higher", number(CUT_FEED, by(1.01), every=True)),
    ("the feed in the cut half as high", number(CUT_FEED, by(0.5), every=True)),
    ("a feed of 0", number(CUT_FEED, by(0), which=1)),
    ("one feed left out", matched(r"^(G1 [XY].*) F[\d.]+$", r"\1", which=1)),
    ("all feeds left out", matched(r" F[\d.]+$", "", every=True)),
    ("S0", matched(r"^S\d+ M3", "S0 M3")),
    ("turns one tenth", number(r"^S(\d+)", by(0.1))),
    ("turns of the spindle 1 % more", number(r"^S(\d+)", by(1.01))),
    ("other turns in the middle", above_the_wood("S8000")),
    ("M4 in place of M3", matched(r" M3$", " M4")),
    ("M3 left out", matched(r" M3$", "")),
    ("the spindle starts after the first cut", together(matched(r"^S\d+ M3\n", ""), above_the_wood("S18000 M3"))),
    ("G4 P0", matched(r"^G4 P\d+", "G4 P0")),
    ("the wait left out", matched(r"^G4 P\d+\n", "")),
    ("a wait of 500 s", matched(r"^G4 P\d+", "G4 P500")),
    ("a wait in the cut", in_the_middle("G4 P5")),
    ("G91 in place of G90", replaced("G90", "G91")),
    ("G91 in the middle", in_the_middle("G91")),
    ("G90 said again in the middle", above_the_wood("G90")),
    ("G92 X0 Y0 in the middle", above_the_wood("G92 X0 Y0")),
    ("G52 X1 in the middle", above_the_wood("G52 X1")),
    ("G10 L2 P1 Z-1 before the moves", words_in("G10 L2 P1 Z-1", after="G4 P")),
    ("G55 in place of G54", replaced("G54", "G55")),
    ("G55 in the middle", above_the_wood("G55")),
    ("G54 left out", replaced(" G54", "")),
    ("G53 before a rapid", matched(r"^G0 X", "G53 G0 X", which=3)),
    ("G28 in the middle", above_the_wood("G28")),
    ("G30 in the middle", above_the_wood("G30")),
    ("G93 in place of G94", replaced("G94", "G93")),
    ("G93 in the middle", in_the_middle("G93")),
    ("G94 left out", replaced(" G94", "")),
    ("G41 in place of G40", replaced("G40", "G41")),
    ("G41 D1 in the middle", above_the_wood("G41 D1")),
    ("G40 left out", replaced("G40 ", "")),
    ("G43 H1 in place of G49", replaced("G49", "G43 H1")),
    ("G43 H1 in the middle", above_the_wood("G43 H1")),
    ("G49 left out", replaced(" G49", "")),
    ("G80 left out", replaced(" G80", "")),
    ("G81, a drilling cycle", above_the_wood("G81 X10 Y10 Z2 R25 F100")),
    ("G83, a drilling cycle", above_the_wood("G83 X10 Y10 Z2 R25 Q1 F100")),
    ("G82, a drilling cycle", above_the_wood("G82 X10 Y10 Z2 R25 P1")),
    ("G2, an arc", in_the_middle("G2 X10 Y10 I5 J5")),
    ("G3, an arc", in_the_middle("G3 X10 Y10 R20")),
    ("G18 in place of G17", replaced("G17", "G18")),
    ("G17 left out", replaced("G17 ", "")),
    ("G20, inches, in place of G21", replaced("G21", "G20")),
    ("G21 left out", replaced("G21 ", "")),
    ("G20 in the middle", above_the_wood("G20")),
    ("G64 P0.5, corners rounded", words_in("G64 P0.5", after="G4 P")),
    ("G61 in the middle", above_the_wood("G61")),
    ("G38.2, a probe", above_the_wood("G38.2 Z0 F50")),
    ("G33, a thread", above_the_wood("G33 Z15 K1")),
    ("G98 in the middle", above_the_wood("G98")),
    ("M0 in the cut", in_the_middle("M0")),
    ("M1 in the cut", in_the_middle("M1")),
    ("M2 in the middle", in_the_middle("M2")),
    ("M30 in the middle", in_the_middle("M30")),
    ("M5 in the cut", in_the_middle("M5")),
    ("M5 above the wood, then on", above_the_wood("M5")),
    ("M6 T2, another cutter, in the middle", above_the_wood("M6 T2")),
    ("T2 in the start", words_in("T2", after="G21")),
    ("M7, mist", words_in("M7", after="S")),
    ("M8, coolant", words_in("M8", after="S")),
    ("M9 in the middle", above_the_wood("M9")),
    ("M48 in the middle", above_the_wood("M48")),
    ("M98 P1, a sub-program", above_the_wood("M98 P1")),
    ("M5 at the end left out", matched(r"^M5\n", "")),
    ("M2 at the end left out", matched(r"^M2\n", "")),
    ("moves after the end", lines(lambda said: [*said, "G0 Z30.000", "G1 X10.000 Y10.000 Z1.000 F3000.0", ""])),
    ("a fourth axis", matched(r"^(G1 Y[\d.-]+)$", r"\1 A90", which=2)),
    ("I and J in a straight move", matched(r"^(G1 Y[\d.-]+)$", r"\1 I1 J1", which=2)),
    ("R in a straight move", matched(r"^(G1 Y[\d.-]+)$", r"\1 R5", which=2)),
    ("a parameter set", above_the_wood("#1=5")),
    ("an expression for a place", matched(r"^G1 Y([\d.]+)$", r"G1 Y[\1+1]", which=2)),
    ("a line that may be skipped", matched(r"^G1 ", "/G1 ", which=30)),
    ("two moves of one line", matched(r"^(G1 Y[\d.-]+)\n(G1)", r"\1 \2", which=2)),
    ("a message that waits", above_the_wood("(MSG, change the cutter and go on)")),
    ("a word doubled", matched(r"^G1 (Y[\d.-]+)$", r"G1 \1 \1", which=2)),
    ("a letter in a number", matched(r"^G1 Y(\d)", r"G1 YO\1", which=2)),
    ("an exponent in a number", matched(r"^G1 Y([\d.]+)$", r"G1 Y\g<1>E0", which=2)),
    ("the clear height 20.5", matched(r"^G0 Z30\.000", "G0 Z20.500", every=True)),
    ("the clear height 60", matched(r"^G0 Z30\.000", "G0 Z60.000", every=True)),
    ("one rise to 21 alone", matched(r"^G0 Z30\.000", "G0 Z21.000", which=2)),
    ("a rapid into the wood", matched(r"^G0 Z21\.000", "G0 Z18.000", which=1)),
    ("a rapid rise made at the feed", matched(r"^G0 Z30\.000", "G1 Z30.000", which=2)),
    ("the first rise left out", matched(r"^G0 Z30\.000\n", "")),
)

_PLACES: tuple[tuple[str, Act], ...] = (
    ("everything 0.1 mm to the right", shifted("X", 0.1)),
    ("everything 0.1 mm along", shifted("Y", 0.1)),
    ("everything 1 mm along", shifted("Y", 1.0)),
    ("everything 0.1 mm higher", shifted("Z", 0.1)),
    ("everything 1 mm lower", shifted("Z", -1.0)),
    ("one place 0.1 mm higher", one_place("Z", 0.1)),
    ("one place 30 mm along", one_place("Y", 30.0)),
    ("one place 3 mm beside", number(r"^G0 X([\d.]+)", plus(3), which=1)),
    ("mirrored left to right", number(r"^G[01].*X([-\d.]+)", lambda x: 93.5 - x, every=True)),
    ("mirrored top to bottom", number(r"^G[01].*Y([-\d.]+)", lambda y: 130 - y, every=True)),
    ("X and Y exchanged", text(crossed)),
    ("one part in a thousand longer", number(r"^G[01].*Y([-\d.]+)", by(1.001), every=True)),
    ("inches under the word for mm", number(r"[XYZ]([-\d.]+)", by(1 / 25.4), every=True)),
    ("the first half of the passes left out", without(lambda p: [i for one in p[: len(p) // 2] for i in one])),
    ("all passes left out", without(lambda passes: [index for one in passes for index in one])),
    ("the ways backwards, without their rapids", lines(reversed_moves)),
    ("every second place of the longest pass left out", without(lambda passes: longest(passes)[2:-2:2])),
    ("the end of a pass beyond the waste", lines(beyond_the_waste)),
    ("the roughing file under its name", copy_of(ROUGH)),
    ("roughing and finishing exchanged", swapped_with(ROUGH)),
)

_HEAD: tuple[tuple[str, Act], ...] = (
    ("zero at another corner", head("[Ll]ower left", "upper right")),
    ("Z0 said to be the face", head("back of the strips", "face of the strips")),
    ("another radius of the cutter", head_number(r"radius ([\d.]+)", plus(2))),
    ("another number of edges", head_number(r"(\d+) edges", plus(1))),
    ("another reach of the cutter", head_number(r"reach ([\d.]+)", plus(-4))),
    ("the first strip at another place", head_number(r"X ([\d.]+) mm", plus(10))),
    ("strips 1 to 5", head("strips 1 to 4", "strips 1 to 5")),
    ("fixture 2", head("Fixture 1", "Fixture 2")),
    ("door 2", head("door 1", "door 2")),
    ("another thickness of the blanks", head_number(r"blanks ([\d.]+)", plus(2))),
    ("another length of the blanks", head_number(r"thick, ([\d.]+)", plus(-10))),
    ("another waste at the ends", head_number(r"waste of ([\d.]+)", plus(-10))),
    ("another width of the spacers", head_number(r"spacers ([\d.]+)", plus(1))),
    ("another height that may stand beside", head_number(r"higher than ([\d.]+)", plus(6))),
    ("another spindle", head_number(r"Spindle (\d+)", by(0.5))),
    ("another feed", head_number(r"feed (\d+)", by(0.5))),
    ("another feed on the way in", head_number(r"(\d+) mm/min on the way in", by(2))),
    ("another chip load", head_number(r"= ([\d.]+) mm a tooth", by(2))),
    ("other ridges", head_number(r"at most ([\d.]+) mm expected", by(3))),
    ("more left on for sanding", head_number(r"for sanding: ([\d.]+)", plus(0.3))),
    ("another extent across", head_number(r"X [-\d.]+ to ([\d.]+)", plus(10))),
    ("another extent along", head_number(r"Y ([-\d.]+) to", plus(10))),
    ("another least height", head_number(r"Z ([\d.]+) to", plus(1))),
    ("other minutes", head_number(r"Time: about (\d+)", by(3))),
    ("lengths said to be inches", head("in mm", "in inches")),
    ("another direction of X", head("to the right", "to the left")),
    ("another mark", head(r"mark \w{4}-\w{4}", "mark 7Q2M-X4KD")),
    ("no mark", head(r", mark \w{4}-\w{4}", "")),
    ("another title", head("Small hall cabinet", "Large hall cabinet")),
    ("the check before running left out", matched(r"^\(Check first.*\n", "")),
    ("the caution left out", matched(r"^\(Local rules.*\n", "")),
    ("a sentence that does harm", words_in("(Clamps may stand anywhere.)", after="(All lengths")),
    ("the whole head left out", matched(r"^\(.*\)\n", "", every=True)),
    ("finishing said to be roughing", head("finishing with a ball", "roughing in levels")),
)

CORRUPTIONS: tuple[Corruption, ...] = (
    *_both(),
    Corruption("machine code", ROUGH, "roughing: a level left out", lines(deepest_level)),
    Corruption("machine code", ROUGH, "roughing: all feeds those of finishing", replaced("F2500.0", "F3000.0", 0)),
    Corruption("machine code", ROUGH, "roughing: head: another diameter", head_number(r"diameter ([\d.]+)", plus(-2))),
    Corruption("machine code", ROUGH, "roughing: head: other levels", head_number(r"at most ([\d.]+) mm", plus(2))),
    *(Corruption("machine code", FINISH, f"words: {what}", act) for what, act in _WORDS),
    *(Corruption("machine code", FINISH, f"places: {what}", act) for what, act in _PLACES),
    *(Corruption("machine code", FINISH, f"head: {what}", act) for what, act in _HEAD),
)
