"""Opening: does the front fit the opening as it was measured, and do the readings agree?"""

from __future__ import annotations

from dataclasses import dataclass

from facade.checks.finding import Finding, Weight
from facade.doors.opening import (
    DIAGONALS,
    HEIGHTS,
    LEANS,
    WIDTHS,
    Name,
    OpeningFit,
    Slip,
    Taper,
    fit_opening,
    odd_one,
)
from facade.front import Front
from facade.job import Hand
from facade.lengths import Ruler

_FITS = 0.01  # mm; less is written off


def check(front: Front) -> list[Finding]:
    """Return how the front fits its opening, which readings want taking again, and where edge strips are planed."""
    fit = fit_opening(front.job, front.layout)
    if fit is None:
        return [
            Finding(
                "opening",
                Weight.KNOW,
                "The opening was not measured, or not said: doors are made for front.width and front.height as they stand.",
                source="said in the job",
                cure="Measure three widths, three heights and both diagonals, and write them into [opening].",
            )
        ]
    asked = _Asked(front, fit)
    found = [*asked.sizes(), *asked.doubts(), *asked.spreads(), *asked.squareness(), *asked.tapers()]
    return [*found, *asked.twist(), *asked.doors()]


@dataclass(frozen=True)
class _Asked:
    """One opening and the front that was meant for it."""

    front: Front
    fit: OpeningFit

    @property
    def _ruler(self) -> Ruler:
        return self.front.job.ruler

    @property
    def _source(self) -> str:
        when = self.fit.opening.measured
        return f"measured by you ({when})" if when else "measured by you"

    def sizes(self) -> list[Finding]:
        """Return what of the front's width and height does not fit."""
        plan, fit = self.front.job.front, self.fit
        names = zip(("width", "height"), ("wide", "high"), fit.tightest, strict=True)
        sizes = zip((plan.width, plan.height), (fit.width, fit.height), strict=True)
        look = self._inset_size if fit.inset else self._overlay_size
        return [
            found
            for (word, how, name), (given, right) in zip(names, sizes, strict=True)
            for found in look(word, how, name, given, right)
        ]

    def _inset_size(self, word: str, how: str, name: Name, given: float, right: float) -> list[Finding]:
        show, over = self._ruler.text, given - right
        if over > _FITS:
            sentence = (
                f"The front is {show(given, 2)} {how}, the opening only {show(right, 2)} ({name}): it does not go in."
            )
            return [self._size(Weight.STOPS, word, sentence, name, given, right)]
        if -over > self.fit.off:
            sentence = (
                f"The front is {show(given, 2)} {how} and stands in an opening of {show(right, 2)} ({name}): the reveals "
                f"become {show(-over, 2)} wider in all than was said."
            )
            return [self._size(Weight.LOOK, word, sentence, name, given, right)]
        return []

    def _overlay_size(self, word: str, how: str, name: Name, given: float, right: float) -> list[Finding]:
        if right - given <= _FITS:
            return []
        show, overlap = self._ruler.text, self.fit.opening.overlap
        sentence = (
            f"The front is {show(given, 2)} {how} but has {show(right, 2)} to cover: the greatest reading, "
            f"{show(right - 2 * overlap, 2)} ({name}), and an overlap of {show(overlap, 2)} on both sides."
        )
        return [self._size(Weight.STOPS, word, sentence, name, given, right)]

    def _size(self, weight: Weight, word: str, sentence: str, name: Name, given: float, right: float) -> Finding:
        slip = self.fit.doubtful(name)
        again = f"First measure the {name} again; the other readings give {self._read(slip)}. " if slip else ""
        return Finding(
            "opening",
            weight,
            sentence,
            topic=f"{word} of the front",
            value=given,
            limit=right,
            source=self._source,
            cure=f"{again}Set front.{word} to {self._ruler.text(right, 3)}.",
        )

    def _read(self, slip: Slip) -> str:
        return self._reading(slip.name, slip.others_give)

    def _reading(self, name: Name, value: float) -> str:
        text = self._ruler.text(abs(value))
        if name not in LEANS:
            return text
        return f"{text} to the {'left' if value < 0 else 'right'}"

    def doubts(self) -> list[Finding]:
        """Return the reading that the others speak against, or those of which one must."""
        doubt = self.fit.doubt
        if doubt is None:
            return []
        show = self._ruler.text
        if doubt.slip:
            sentence = self._slip_words(doubt.slip)
            cure = self._slip_cure(doubt.slip)
        elif doubt.slips:
            names = " or the ".join(slip.name for slip in doubt.slips)
            gives = " or ".join(f"{self._read(slip)} for the {slip.name}" for slip in doubt.slips)
            sentence = f"The readings do not agree by {show(abs(doubt.closure.left))}: either the {names} is off."
            cure = f"Measure these again; the other readings give {gives}."
        else:
            sentence = (
                f"The readings do not agree, and no single one explains it: {doubt.closure.words}, "
                f"{show(abs(doubt.closure.left))} apart."
            )
            cure = f"Measure the opening again, until what is held against another agrees within {show(self.fit.off)}."
        off = doubt.slip.off if doubt.slip else abs(doubt.closure.left)
        return [self._look("reading that disagrees", sentence, off, "readings", cure)]

    def _slip_words(self, slip: Slip) -> str:
        read, given = self._reading(slip.name, slip.read), self._read(slip)
        row = next((names for names in (WIDTHS, HEIGHTS, DIAGONALS) if slip.name in names), ())
        others = [self._ruler.text(self.fit.readings[name]) for name in row if name is not slip.name]
        against = f" against {' and '.join(others)}" if others else ""
        return f"{_first_upper(slip.name)} {read}{against}: it disagrees with the other readings, which give {given}."

    def _slip_cure(self, slip: Slip) -> str:
        given = self._read(slip)
        if slip.name in (*WIDTHS, *HEIGHTS):
            return f"Measure the {slip.name} again, or fit the doors to it: {given} makes the readings agree."
        return f"Measure the {slip.name} again: {given} makes the readings agree; if it stands, measure all the others."

    def spreads(self) -> list[Finding]:
        """Return widths or heights that differ although no reading is in doubt: an opening that is not even."""
        found = []
        for names in (WIDTHS, HEIGHTS):
            values = [self.fit.readings[name] for name in names]
            spread = max(values) - min(values)
            if spread > self.fit.off and not any(self.fit.doubtful(name) for name in names):
                sentence, cure = self._spread_words(names), self._spread_cure(values)
                found.append(self._look(_row(names), sentence, spread, "readings", cure))
        return found

    def _spread_cure(self, values: list[float]) -> str:
        show, fit = self._ruler.text, self.fit
        made = min(values) if fit.inset else max(values)
        grows = "the gap grows" if fit.inset else "the overlap grows"
        by = show(max(values) - min(values))
        return f"Measure again, or fit the doors to it: made for {show(made)}, {grows} by up to {by} elsewhere."

    def _spread_words(self, names: tuple[Name, Name, Name]) -> str:
        show = {name: self._ruler.text(self.fit.readings[name]) for name in names}
        odd = odd_one(self.fit.readings, names, self.fit.off)
        bear = self._borne_out()
        if odd is not None:
            others = " and ".join(show[name] for name in names if name is not odd)
            return f"{_first_upper(odd)} {show[odd]} against {others}.{bear}"
        listed = ", ".join(f"{show[name]} {name.split(' ', 1)[1]}" for name in names)
        return f"The {names[0].split(' ', 1)[0]} runs from {listed}.{bear}"

    def _borne_out(self) -> str:
        """Return whether other readings say the same, as long as it is known which of them to believe."""
        if len(self.fit.readings) == len(WIDTHS) + len(HEIGHTS):
            return " Nothing else was measured to compare."
        return " The other readings bear it out." if self.fit.doubt is None or self.fit.doubt.slip else ""

    def squareness(self) -> list[Finding]:
        """Return whether the opening is out of square."""
        shift, doubt = self.fit.out_of_square, self.fit.doubt
        unsure = doubt is not None and any(slip.name in DIAGONALS for slip in doubt.slips) and doubt.slip is None
        if shift is None or shift <= self.fit.off or unsure:
            return []
        show = self._ruler.text
        falling, rising = (self.fit.trusted[name] for name in DIAGONALS)
        sentence = f"The opening is {show(shift)} out of square over its height: its diagonals are {show(falling)} and {show(rising)}."
        cure = f"Pull the case square: push its upper side {show(shift)} to the {'right' if falling > rising else 'left'}, "
        return [self._look("out of square", sentence, shift, "readings", f"{cure}or plane the doors to it.")]

    def tapers(self) -> list[Finding]:
        """Return the edge strips that must be planed so that the gaps at the sides stay even."""
        return [self._taper(taper) for taper in self.fit.planed]

    def _taper(self, taper: Taper) -> Finding:
        show, left_on = self._ruler.text, self._ruler.text(self.fit.left_on)
        strip = self.front.layout.strip(taper.strip)
        right = taper.side is Hand.RIGHT
        shared = (
            ""
            if LEANS[0] in self.fit.readings
            else " (half of what the widths differ by; how the sides lean is not said)"
        )
        return Finding(
            "opening",
            Weight.LOOK,
            f"The gap beside strip {strip.number}, at the {taper.side} side of the opening, changes by {show(taper.most)} from "
            f"top to bottom{shared}.",
            topic="taper at the sides",
            strip=strip.number,
            door=strip.door,
            from_top=0.0 if taper.at_top else strip.length,
            from_left=strip.width if right else 0.0,
            value=taper.most,
            limit=self.fit.taper_seen,
            source=f"{self._source}; limit: {self.front.job.limit('taper').source}",
            cure=f"Plane the {taper.side} edge of strip {strip.number}: from {show(taper.at_top)} at the top to "
            f"{show(taper.at_bottom)} at the bottom; leave {left_on} on until the door hangs.",
        )

    def twist(self) -> list[Finding]:
        """Return whether the corners of the opening lie out of one plane."""
        twist, limit, show = self.fit.opening.twist, self.front.job.limit("warp"), self._ruler.text
        if twist <= limit.value:
            return []
        sentence = (
            f"The corners of the opening are {show(twist)} out of one plane, more than {show(limit.value)}: flat doors stand "
            "proud at one corner."
        )
        cure = f"Pack one corner of the case forward by {show(twist)}, or share it out: half of it at the hinges of two corners."
        return [self._look("twist of the opening", sentence, twist, "warp", cure)]

    def _look(self, topic: str, sentence: str, value: float, name: str, cure: str) -> Finding:
        limit = self.front.job.limit(name)
        return Finding(
            "opening",
            Weight.LOOK,
            sentence,
            topic=topic,
            value=value,
            limit=limit.value,
            source=f"{self._source}; limit: {limit.source}",
            cure=cure,
        )

    def doors(self) -> list[Finding]:
        """Return the sizes that doors for this opening have."""
        fit, show = self.fit, self._ruler.text
        rests = "smallest" if fit.inset else "greatest"
        why = "so that it goes in everywhere" if fit.inset else "so that it covers everywhere"
        sentence = f"The opening asks for a front of {show(fit.width, 2)} by {show(fit.height, 2)}, from its {rests} readings, {why}"
        if fit.doors:
            sizes = list(dict.fromkeys(f"{show(wide, 2)} by {show(high, 2)}" for wide, high in fit.doors))
            one = "a door" if len(fit.doors) == 1 else f"{len(fit.doors)} doors" if len(sizes) == 1 else "doors"
            sentence += f": {one} of {', '.join(sizes)}"
        return [Finding("opening", Weight.KNOW, f"{sentence}.", source=self._source)]


def _row(names: tuple[Name, Name, Name]) -> str:
    return "widths differ" if names is WIDTHS else "heights differ"


def _first_upper(text: str) -> str:
    return text[:1].upper() + text[1:]
