"""Opening: does the front fit the opening as it was measured, and do the readings agree?"""

from __future__ import annotations

from dataclasses import dataclass

from facade.checks.cures import typed, ways
from facade.checks.finding import Finding, Weight
from facade.checks.reveals import reveal_findings
from facade.doors.fitting import fitting_settings
from facade.doors.opening import OpeningFit, Slip, Span, Taper, fit_opening, odd_one, usual_reveal
from facade.doors.quadrilateral import DIAGONALS, HEIGHTS, LEANS, WIDTHS, Name
from facade.front import Front
from facade.job import Edge
from facade.lengths import Ruler

_TOLD = 0.05  # mm; what leaning sides take is told from here on
_LEAST = 10.0  # mm; no front is smaller


def check(front: Front) -> list[Finding]:
    """Return how the front fits its opening, which readings want taking again, and where edges are planed."""
    fit = fit_opening(front.job, front.layout)
    if fit is None:
        return [
            Finding(
                "opening",
                Weight.KNOW,
                "The opening was not measured, or not said: doors are made for front.width and front.height as they stand.",
                source="said in the job",
                cure="Measure three widths, three heights and both diagonals, and write them into [opening].",
            ),
            *reveal_findings(front, None),
        ]
    asked = _Asked(front, fit)
    found = [*asked.sizes(), *reveal_findings(front, fit), *asked.doubts(), *asked.spreads(), *asked.squareness()]
    return [*found, *asked.tapers(), *asked.twist(), *asked.doors(), *asked.assumed()]


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
        look = self._inset_size if self.fit.inset else self._overlay_size
        return [found for span in self.fit.spans for found in look(span)]

    def _inset_size(self, span: Span) -> list[Finding]:
        show, given = self._ruler.text, f"The front is {self._ruler.text(span.given, 2)} {_how(span)}"
        if self.fit.stops(span):
            sentence = f"{given}, its reveals included; the opening takes only {self._takes(span)}: it does not go in."
            return [self._size(Weight.STOPS, span, sentence)]
        if span.fits - span.given > self.fit.off:
            sentence = (
                f"{given} and stands in an opening that takes {self._takes(span)}: the reveals become "
                f"{show(span.fits - span.given, 2)} wider in all than was said."
            )
            return [self._size(Weight.LOOK, span, sentence)]
        return []

    def _takes(self, span: Span) -> str:
        """Return what goes into the opening, and what that rests on."""
        show = self._ruler.text
        if span.lost < _TOLD:
            return f"{show(span.fits, 2)} ({span.reading})"
        return f"{show(span.fits, 2)} ({span.reading}, {show(span.tightest, 2)}, less {self._lost(span)})"

    def _lost(self, span: Span) -> str:
        """Return what goes to sides that lean, or to sill and head."""
        because = "its sides lean" if span.word == "width" else "sill and head slope"
        return f"{self._ruler.text(span.lost, 2)} because {because}"

    def _overlay_size(self, span: Span) -> list[Finding]:
        if not self.fit.stops(span):
            return []
        show, overlap = self._ruler.text, self.fit.opening.overlap
        more = f", {self._lost(span)}," if span.lost >= _TOLD else ""
        sentence = (
            f"The front is {show(span.given, 2)} {_how(span)} but has {show(span.fits, 2)} to cover: the greatest reading, "
            f"{show(span.tightest - 2 * overlap, 2)} ({span.reading}),{more} and an overlap of {show(overlap, 2)} on both sides."
        )
        return [self._size(Weight.STOPS, span, sentence)]

    def _size(self, weight: Weight, span: Span, sentence: str) -> Finding:
        slip = self.fit.doubtful(span.reading)
        again = f"First measure the {span.reading} again; the other readings give {self._read(slip)}. " if slip else ""
        return Finding(
            "opening",
            weight,
            sentence,
            topic=f"{span.word} of the front",
            value=span.given,
            limit=span.fits,
            source=self._source,
            cure=f"{again}{self._size_cure(span)}",
        )

    def _size_cure(self, span: Span) -> str:
        """Return the settings of a front that fits, with reveals that are enough and strips that lie evenly."""
        job = self.front.job
        size = job.ruler.down(span.fits) if self.fit.inset else job.ruler.up(span.fits)
        reveals = {
            edge: usual_reveal(job)
            for edge, planned in zip(span.edges, span.planned, strict=True)
            if self.fit.inset and planned < self.fit.least
        }
        width, height = (size, None) if span.word == "width" else (None, size)
        settings = fitting_settings(job, width=width, height=height, reveals=reveals) if size >= _LEAST else None
        if settings is None:
            return f"No front of this opening's {span.word} can be laid out with these strips: measure it again, or change the strips."
        return ways(f"set {typed(job, settings)}")

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
        """Return the edges that must be planed so that the gaps beside them stay even."""
        return [self._taper(taper) for taper in self.fit.planed]

    def _taper(self, taper: Taper) -> Finding:
        show, strips = self._ruler.text, self.front.layout.strips
        at_end = taper.last > taper.first
        strip = strips[-1] if taper.edge is Edge.RIGHT or (at_end and not taper.upright) else strips[0]
        at_foot = taper.edge is Edge.BOTTOM or (at_end and taper.upright)
        at_right = taper.edge is Edge.RIGHT or (at_end and not taper.upright)
        what, first, last = self._taper_words(taper, strip.number)
        doors = "doors hang" if len(self.front.layout.doors) > 1 else "door hangs"
        return Finding(
            "opening",
            Weight.LOOK,
            f"The gap {self._beside(taper, strip.number)} changes by {show(taper.most)} from {first} to {last}{self._leans()}.",
            topic=f"taper at the {taper.edge.value}",
            strip=strip.number,
            door=strip.door,
            from_top=strip.length if at_foot else 0.0,
            from_left=strip.width if at_right else 0.0,
            value=taper.most,
            limit=self.fit.taper_seen,
            source=f"{self._source}; limit: {self.front.job.limit('taper').source}",
            cure=f"Plane {what}: from {show(taper.first)} at the {first} to {show(taper.last)} at the {last}; leave "
            f"{show(taper.left_on)} on until the {doors}.",
        )

    def _beside(self, taper: Taper, strip: int) -> str:
        if taper.upright:
            return f"beside strip {strip}, at the {taper.edge.value} side of the opening,"
        doors = "doors" if len(self.front.layout.doors) > 1 else "door"
        return f"{'above' if taper.edge is Edge.TOP else 'below'} the {doors}"

    def _taper_words(self, taper: Taper, strip: int) -> tuple[str, str, str]:
        """Return what is planed, and where from and to."""
        if taper.upright:
            return f"the {taper.edge.value} edge of strip {strip}", "top", "bottom"
        doors = "doors" if len(self.front.layout.doors) > 1 else "door"
        return f"the {taper.edge.value} ends of the {doors}", "left", "right"

    def _leans(self) -> str:
        """Return what is taken for granted of how the sides lean, where no plumb line was held to them."""
        if self.fit.plumbed:
            return ""
        if self.fit.squared:
            return " (the sill taken as level; how the sides lean was not measured)"
        return " (the sill taken as level, the opening as square; how the sides lean is not said)"

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
        lost = [self._lost(span) for span in fit.spans if span.lost >= _TOLD]
        less = f" {'less' if fit.inset else 'and'} {' and '.join(lost)}," if lost else ""
        sentence = f"The opening asks for a front of {show(fit.width, 2)} by {show(fit.height, 2)}, from its {rests} readings,{less} {why}"
        if fit.doors:
            sizes = list(dict.fromkeys(f"{show(wide, 2)} by {show(high, 2)}" for wide, high in fit.doors))
            one = "a door" if len(fit.doors) == 1 else f"{len(fit.doors)} doors" if len(sizes) == 1 else "doors"
            sentence += f": {one} of {', '.join(sizes)}{self._reveals()}"
        return [Finding("opening", Weight.KNOW, f"{sentence}.{self._taken_up()}", source=self._source)]

    def _taken_up(self) -> str:
        """Return by how much an inset front is larger than what goes in where its reveals have room for that."""
        over = [
            f"{self._ruler.text(span.given - span.fits, 2)} {'wider' if span.word == 'width' else 'higher'}"
            for span in self.fit.spans
            if self.fit.inset and not self.fit.stops(span) and span.given - span.fits > _TOLD
        ]
        return f" The front of the job is {' and '.join(over)}; its reveals take that up." if over else ""

    def _reveals(self) -> str:
        """Return which reveals these doors have where the job leaves too little."""
        if self.fit.reveals == self.front.job.reveals:
            return ""
        return f", with reveals of {self._ruler.text(usual_reveal(self.front.job), 3)} where the job leaves too little"

    def assumed(self) -> list[Finding]:
        """Return what is taken for granted of an opening that was not wholly measured, and what measuring would tell."""
        fit, show = self.fit, self._ruler.text
        if not fit.squared:
            sentence = (
                "No diagonals were measured: the opening is taken as square, so far as the other readings leave it open, "
                "and its sill as level."
            )
            cure = (
                "Measure both diagonals, corner to corner, into opening.diagonals: they tell whether the opening is racked, in "
                f"which case {'less goes in' if fit.inset else 'more is to be covered'} than widths and heights say."
            )
            return [Finding("opening", Weight.KNOW, sentence, source=self._source, cure=cure)]
        shift = fit.out_of_square or 0.0
        if fit.plumbed or shift < _TOLD:
            return []
        other = shift * fit.corners.bottom_right[0] / max(fit.corners.top_left[1], 1.0)
        sentence = (
            f"How the sides lean was not measured: the sill is taken as level, so that what the diagonals differ by is a lean of "
            f"the sides, {show(shift, 2)} from bottom to top."
        )
        cure = (
            "Hold a plumb line to both sides, into opening.plumb: if they stand plumb, sill and head slope instead, by "
            f"{show(other, 2)} from end to end, and it is height that is lost."
        )
        return [Finding("opening", Weight.KNOW, sentence, source=self._source, cure=cure)]


def _how(span: Span) -> str:
    return "wide" if span.word == "width" else "high"


def _row(names: tuple[Name, Name, Name]) -> str:
    return "widths differ" if names is WIDTHS else "heights differ"


def _first_upper(text: str) -> str:
    return text[:1].upper() + text[1:]
