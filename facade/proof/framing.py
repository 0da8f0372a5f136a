"""What every sheet says and shows besides its pieces: its head and its foot, word for word, held against the job."""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, replace

import numpy as np

from facade.errors import printable
from facade.lengths import MM_PER_INCH
from facade.proof.built import as_built_in_words
from facade.proof.svg import Line, Sheet, Stroke, Word
from facade.proof.truth import ROUNDING, Truth

# How a sheet is laid out: the head is so high, mm, its four rows so far below its upper edge; the foot is as high. On a lying page
# whose frame stands along its left end the foot is higher.
HEAD, FOOT, NARROW_FOOT = 15.5, 15.0, 19.0
_TITLE, _ABOUT, _MARK, _PRINT = 4.6, 9.4, 10.0, 13.4
_CUTTING = (
    "Saw and disc: work held, guards on, eyes, ears and lungs protected. Local rules, manuals and training come first."
)
_DRILLING = (
    "Drilling: work held down, stop tried on waste, eyes protected. Local rules, manuals and training come first."
)
_LAYING = "Lay every piece on the stations struck on the wood, never on another piece."
_FOLDING = "Cut out, fold back along both dashed lines, backs on the back; lay on the stations struck on the wood."
_TOLD = {True: "Both rules must read true by a steel rule.", False: "Stopped by the checks: cut nothing."}
_CORRECTED = re.compile(r"corrected for: .*, short side ([+−±][0-9.]+) %, long side ([+−±][0-9.]+) %")
_UNCORRECTED = "not corrected for a printer"
_SHEET = re.compile(r"Sheet (\d+) of (\d+)")
_STRIPS = re.compile(r"(strips? (?P<some>[\d, to]+)|whole front,) (of )?(?P<count>\d+)( strips)?")
# Percents are printed with two decimals.
PERCENT = 0.00005
# A word belongs to a row where it stands so close to it, mm.
_ROW = 0.06
# Where arrows of a frame along the left end of a page point on the page.
_TURNED = {"up": "left", "down": "right", "left": "down", "right": "up"}
_BOTH_TOPS = ("TOP, LEFT sides", "TOP, RIGHT sides")


@dataclass(frozen=True)
class Kind:
    """A kind of sheet: its title, where TOP may be on it, its caution, and what stands above its rule."""

    title: str
    tops: Sequence[str]
    caution: str = ""
    laying: str = ""


KINDS = {
    "first": Kind("Read me first", ("up",)),
    "calibration": Kind("Calibration sheet", ("up",)),
    "sticks": Kind("Position stick and story stick", ("up", "left")),
    "sides": Kind("Side templates", ("both",), _CUTTING, _LAYING),
    "wraps": Kind("Fold-round templates", ("left",), _CUTTING, _FOLDING),
    "faces": Kind("Face sheets", ("up",), _CUTTING),
    "holes": Kind("Depth holes", ("left",), _DRILLING),
    "gauges": Kind("Check gauges", ("up", "left")),
    "boards": Kind("Boards", ("up",), _DRILLING),
    "lists": Kind("Lists", ("up",)),
    "wrong": Kind("If something goes wrong", ("up",), _CUTTING),
    "offsets": Kind("Table of offsets", ("up",)),
}
ALONE = Kind("Side template", ("both",), _CUTTING)


@dataclass(frozen=True)
class Asked:
    """What a frame should say: which sheet of how many, of which strips (None where that is not known), whether it is new."""

    number: int
    count: int
    strips: Sequence[int] | None
    new: bool = False


@dataclass(frozen=True)
class FrameRead:
    """What came of a frame: which of the words are its own, the factors of its printer's correction, and its faults."""

    own: frozenset[int]
    factors: tuple[float, float]
    faults: tuple[str, ...]


def is_turned(sheet: Sheet) -> bool:
    """Whether the frame of a sheet stands along its left end: then the rule along its foot stands upright."""
    rule = sheet.named("rule-along")
    return rule is not None and bool(np.ptp(rule.points[:, 1]) > np.ptp(rule.points[:, 0]))


def upright(sheet: Sheet) -> Sheet:
    """Return a sheet as it is when one reads its frame: one that stands along the left end is turned by a quarter, clockwise."""
    if not is_turned(sheet):
        return sheet
    lines = tuple(
        replace(line, points=np.column_stack([line.points[:, 1], sheet.width - line.points[:, 0]]))
        for line in sheet.lines
    )
    words = tuple(replace(word, x=word.y, y=sheet.width - word.x, turn=word.turn - 90.0) for word in sheet.words)
    return replace(sheet, width=sheet.height, height=sheet.width, lines=lines, words=words)


def same_words(said: str, wanted: str) -> bool:
    """Whether words are those that should stand there; they may be cut with an ellipsis where there was no room."""
    wanted = printable(wanted)
    return said == wanted or (said.endswith("…") and len(said) > 1 and wanted.startswith(said[:-1]))


def read_frame(sheet: Sheet, kind: Kind, asked: Asked, truth: Truth) -> FrameRead:
    """Return what comes of the frame of a sheet, corrected for its printer or not."""
    turned = is_turned(sheet)
    sheet = upright(sheet)
    factors, faults = factors_of(sheet, truth)
    reading = _Reading(sheet, truth, factors, turned=turned)
    faults += reading.head(kind, asked)
    faults += reading.foot(kind)
    factors = factors[::-1] if turned else factors
    mirrored = ["looks mirrored: its words read backwards"] if any(word.mirrored for word in sheet.words) else []
    return FrameRead(frozenset(reading.own), factors, (*mirrored, *faults))


class _Reading:
    """Words of a frame as they are found, one after the other."""

    def __init__(self, sheet: Sheet, truth: Truth, factors: tuple[float, float], *, turned: bool) -> None:
        self._sheet, self._truth = sheet, truth
        self._turned, self._foot = turned, NARROW_FOOT if turned else FOOT
        self._up = factors[1]
        self.own: set[int] = set()

    def _row(self, y: float) -> list[tuple[int, Word]]:
        """Return the words at a height in true mm, from the left."""
        near = [
            (index, word)
            for index, word in enumerate(self._sheet.words)
            if abs(word.y / self._up - y) < _ROW and abs(word.turn) < 1.0
        ]
        return sorted(near, key=lambda one: one[1].x)

    def _take(self, row: list[tuple[int, Word]], wanted: str, what: str) -> Iterator[str]:
        """Take the word that should stand in a row; yields what is wrong where it does not."""
        found = next(((index, word) for index, word in row if same_words(word.text, wanted)), None)
        if found is not None:
            self.own.add(found[0])
            return
        others = [word.text for index, word in row if index not in self.own and word.text]
        said = f"says {others[0][:60]!r} where" if others else "lacks"
        yield f"{said} {what} should be: {wanted[:80]!r}" if others else f"lacks {what}: {wanted[:80]!r}"

    def head(self, kind: Kind, asked: Asked) -> Iterator[str]:
        """Yield what is wrong with the head."""
        truth, words = self._truth, self._sheet.words
        said = [(index, found) for index, word in enumerate(words) if (found := _SHEET.fullmatch(word.text))]
        if len(said) != 1:
            yield "does not say which sheet it is"
            return
        index, found = said[0]
        if (int(found[1]), int(found[2])) != (asked.number, asked.count):
            yield f"says that it is sheet {found[1]} of {found[2]}"
        self.own.add(index)
        top = words[index].y / self._up + _TITLE
        yield from self._take(self._row(top - _MARK), f"Mark {truth.front.mark}", "its mark")
        yield from self._take(self._row(top - _TITLE), kind.title, "its title")
        yield from self._about(top, asked)
        unit, ruler = truth.front.job.unit, truth.front.job.ruler
        inches = f"inches, to 1/{ruler.fraction}"
        lengths = ("lengths in mm", "mm") if unit.in_mm == 1.0 else (f"lengths in {inches}", inches, "inches")
        row = self._row(top - _PRINT)
        starts = [f"PRINT AT 100 % · {said} · " for said in lengths]
        own, start = next(
            ((one, start) for one in row for start in starts if one[1].text.startswith(start)), (None, starts[0])
        )
        if own is None:
            yield from self._take(row, start + _UNCORRECTED, "how it is printed")
        else:
            self.own.add(own[0])
            said_of = own[1].text.removeprefix(start)
            if not (same_words(said_of, _UNCORRECTED) or _CORRECTED.fullmatch(said_of) or said_of.endswith("…")):
                yield f"says {said_of!r} of its correction"
        yield from self._flags(top, asked)
        yield from self._top(kind, top)

    def _about(self, top: float, asked: Asked) -> Iterator[str]:
        """Yield what is wrong with the row that names the strips and the job."""
        front, row = self._truth.front, self._row(top - _ABOUT)
        if state := as_built_in_words(front):
            both = [*row, *self._row(top - _PRINT)]
            yield from self._take(both, f"{state} ·", "what came out otherwise than designed")
        if asked.strips is not None:
            count = front.count if asked.strips else len(front.numbers)
            yield from self._take(
                row, f"{strips_in_words(asked.strips, count)} · {front.job.title}", "its strips and job"
            )
            return
        own = next((one for one in row if _STRIPS.match(one[1].text)), None)
        if own is None:
            yield "does not say of which strips it is"
            return
        self.own.add(own[0])
        said, _, title = own[1].text.partition(" · ")
        found = _STRIPS.fullmatch(said.removesuffix("…"))
        count = front.count if found and found["some"] else len(front.numbers)
        if found and int(found["count"]) != count and not said.endswith("…"):
            yield f"says {said!r}, but there are {count} strips"
        if not said.endswith("…") and not same_words(title, front.job.title):
            yield f"says {title[:60]!r} where its job should be: {front.job.title[:60]!r}"

    def _flags(self, top: float, asked: Asked) -> Iterator[str]:
        """Yield what is wrong with NOT CLEARED and NEW at the end of the head."""
        wanted = {"NOT CLEARED": self._truth.manifest.get("cleared") is False, "NEW": asked.new, "NOT CHECKED": False}
        row = self._row(top - 6.4)
        for word, there in wanted.items():
            found = next((index for index, one in row if one.text == word), None)
            if found is not None:
                self.own.add(found)
            if there is not (found is not None):
                yield f"{'lacks' if there else 'says'} {word}"

    def _top(self, kind: Kind, top: float) -> Iterator[str]:
        """Yield what is wrong with the words and the arrows that say where TOP is."""
        arrows = [line.points for line in self._sheet.lines if line.kind == "top-arrow"]
        words = [
            (index, word)
            for index, word in enumerate(self._sheet.words)
            if word.y / self._up > top - HEAD and (word.text == "TOP" or word.text in _BOTH_TOPS)
        ]
        self.own |= {index for index, _ in words}
        said = tuple(word.text for _, word in sorted(words, key=lambda one: one[1].text))
        ways = [_TURNED[_way(one)] if self._turned else _way(one) for one in arrows]
        found = (
            "both"
            if said == _BOTH_TOPS and ways == ["left", "right"]
            else ways[0]
            if said == ("TOP",) and len(ways) == 1
            else ""
        )
        if found not in kind.tops:
            yield "does not say where TOP is" if not found else f"has TOP {found}"

    def foot(self, kind: Kind) -> Iterator[str]:
        """Yield what is wrong with the foot: words of the rules, what lines mean, cautions."""
        truth, words = self._truth, self._sheet.words
        rule = "100 mm" if truth.front.job.unit.in_mm == 1.0 else "4 in"
        along, up = (self._sheet.named(name) for name in ("rule-along", "rule-up"))
        if along is None or up is None:
            return
        at_rule = float(along.points[0, 1]) / self._up
        base = at_rule - self._foot + 6.7
        yield from self._take(self._row(at_rule), rule, "the length of its rule")
        turned = [index for index, word in enumerate(words) if abs(word.turn) > 1.0 and word.text == rule]
        self.own |= set(turned[:1])
        if not turned:
            yield f"lacks the length of its rule up: {rule!r}"
        cleared = truth.manifest.get("cleared") is not False
        yield from self._take(self._row(at_rule), _TOLD[cleared], "what its rules must read")
        yield from self._take(self._row(base + 0.6), kind.caution, "its caution")
        above, key = self._row(base + self._foot - 2.4), self._row(base + 4.4)
        allowance = allowance_words(truth)
        # Where lines are explained one by one, the plain words stand above the rule, unless how to lay the sheet does.
        plain = kind.laying or allowance
        if any(line.kind == "key" for line in self._sheet.lines):
            yield from self._take(above, plain, "what its lines mean")
            self.own |= {index for index, _ in (*key, *(self._row(base + 8.6) if self._turned else ()))}
        else:
            yield from self._take(key, allowance, "what its lines mean")
            self.own |= {index for index, word in above if not word.text}


def _way(arrow: np.ndarray) -> str:
    """Return which way a triangle points, (4, 2) or (3, 2) places, its tip first."""
    tip, back = arrow[0], arrow[1:3].mean(axis=0)
    across, up = tip - back
    if abs(up) > abs(across):
        return "up" if up > 0 else "down"
    return "left" if across < 0 else "right"


def strips_in_words(strips: Iterable[int], count: int) -> str:
    """Return "strips 1 to 4, 9 of 54", or "whole front, 54 strips" for none."""
    numbers = sorted(set(strips))
    if not numbers:
        return f"whole front, {count} strips"
    starts = [one for one in numbers if one - 1 not in numbers]
    ends = [one for one in numbers if one + 1 not in numbers]
    runs = [str(start) if start == end else f"{start} to {end}" for start, end in zip(starts, ends, strict=True)]
    return f"strip{'s' if len(numbers) > 1 else ''} {', '.join(runs)} of {count}"


def allowance_words(truth: Truth) -> str:
    """Return what lines stand for, as every sheet says it."""
    wood, show = truth.front.job.wood, truth.front.job.ruler.text
    return (
        f"Heights: finished, above the back. Carve line {show(wood.sanding)} higher, for sanding. "
        f"Saw line {show(wood.sawing)} above the higher side."
    )


def key_words(sheet: Sheet, factors: tuple[float, float]) -> list[str]:
    """Return what the lines of a sheet are said to mean, in the order of reading: the words in the rows of its samples."""
    turned = is_turned(sheet)
    sheet, up = upright(sheet), factors[0 if turned else 1]
    rows = sorted({round(float(line.points[0, 1]), 3) for line in sheet.lines if line.kind == "key"}, reverse=True)
    said = []
    for row in rows:
        near = [word for word in sheet.words if abs(word.y / up - row / up + 0.9) < _ROW and abs(word.turn) < 1.0]
        said += [word.text for word in sorted(near, key=lambda word: word.x)]
    return said


def factors_of(sheet: Sheet, truth: Truth) -> tuple[tuple[float, float], list[str]]:
    """Return by what lengths on a sheet are multiplied across and up for its printer, by its words, and what its rules get wrong."""
    wanted = 100.0 if truth.front.job.unit.in_mm == 1.0 else 4 * MM_PER_INCH
    measured = [_rule(sheet.named(name), axis) for axis, name in enumerate(("rule-along", "rule-up"))]
    if None in measured:
        return (1.0, 1.0), ["lacks a rule"]
    across, up = (float(one or 0.0) / wanted for one in measured)
    if _UNCORRECTED in sheet.text:
        wrong = [one for one in (across, up) if abs(one - 1.0) * wanted > ROUNDING]
        return (1.0, 1.0), [
            f"its rules measure {truth.length(one * wanted)}, not {truth.length(wanted)}" for one in wrong[:1]
        ]
    found = _CORRECTED.search(sheet.text)
    if found is None:
        return (across, up), []
    short, long = (1.0 + float(text.replace("−", "-").replace("±", "")) / 100.0 for text in found.groups())
    ways = ((short, long), (long, short))
    near = PERCENT + ROUNDING / wanted
    fits = any(abs(across - one) <= near and abs(up - other) <= near for one, other in ways)
    return (across, up), [] if fits else [
        f"its rules measure {truth.length(across * wanted)} and {truth.length(up * wanted)}, which is not the correction that it states"
    ]


def _rule(line: Line | None, axis: int) -> float | None:
    """Return how long a rule is along its axis, mm, None where it is not there."""
    return None if line is None or len(line.points) < 2 else float(np.ptp(line.points[:, axis]))


# How lines look by what they are, wherever they stand: width in mm, whether dashed.
LOOKS = {
    "back": Stroke(0.7, dashed=False, filled=False),
    "carve": Stroke(0.45, dashed=False, filled=False),
    "finished": Stroke(0.2, dashed=False, filled=False),
    "saw": Stroke(0.3, dashed=True, filled=False),
    "floor": Stroke(0.25, dashed=True, filled=False),
    "blank": Stroke(0.25, dashed=False, filled=False),
    "waste": Stroke(0.13, dashed=False, filled=False),
    "stations": Stroke(0.18, dashed=False, filled=False),
    "arrow": Stroke(0.0, dashed=False, filled=True),
}


def look_faults(lines: Iterable[tuple[str, Line]]) -> Iterator[str]:
    """Yield the lines that do not look like what they are: by them a maker knows where to stop."""
    for kind, line in lines:
        look = LOOKS.get(kind)
        if look is not None and look != line.stroke:
            is_so = "dashed" if line.stroke.dashed else "full"
            yield f"its {kind} line looks like another: {line.stroke.width:g} mm wide, {is_so}"
