"""Check gauges as they are read: the line to cut is the finished surface, across a door or along a strip, as the words on it say."""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np

from facade.arrays import Array
from facade.proof.svg import Line, Sheet, Word
from facade.proof.truth import ROUNDING, Truth
from facade.slicer import stations

# The straight edge of a gauge is so far above the highest wood that there may be, mm.
BODY = 42.0
# Straight runs of the line to cut stay so close to the surface at places so far apart, mm.
STRAIGHT, _STEP = 0.008, 0.25
ALLOWED = STRAIGHT + ROUNDING
_ACROSS = re.compile(r"ACROSS door (\d+) at (.+) from TOP")
_PART = re.compile(r"(?:part (\d+) of (\d+) · )?strips? (\d+)(?: to (\d+))? · (\S+)")
_ALONG = re.compile(r"ALONG strip (\d+), on its middle line")
_STRETCH = re.compile(r"(?:part (\d+) of (\d+): )?([\d /.]+) to (.+) from TOP · (\S+)")


@dataclass(frozen=True)
class GaugeRead:
    """What came of one gauge: its points, how far its line is off at most, mm, and its faults."""

    points: int
    deviation: float
    faults: tuple[str, ...]


@dataclass(frozen=True)
class _Gauge:
    """A gauge on a sheet: along it, heights of its line (points,), where its ticks are, mm, and its words from the top."""

    left: float
    edge: float
    along: Array
    heights: Array
    ticks: Array
    words: tuple[Word, ...]

    def said(self, pattern: re.Pattern[str]) -> re.Match[str] | None:
        """Return what its words say by a pattern, on one line or on several."""
        lines = [word for word in self.words if not word.text.isdigit()]
        for first in range(len(lines)):
            for last in range(first + 1, min(first + 4, len(lines)) + 1):
                found = pattern.fullmatch(" ".join(word.text for word in lines[first:last]))
                if found:
                    return found
        return None


def compare_gauges(sheet: Sheet, truth: Truth) -> Iterator[GaugeRead]:
    """Yield what comes of every gauge on a sheet in true mm."""
    ticks = [line for line in sheet.lines if line.kind == "ticks"]
    outlines = [line for line in sheet.lines if line.kind in ("across-gauge", "along-gauge")]
    if len(ticks) != len(outlines):
        yield GaugeRead(0, 0.0, ("a gauge has no ticks",))
        return
    for outline, own in zip(outlines, ticks, strict=True):
        yield _compare(_gauge(sheet, outline, own, truth), outline.kind == "across-gauge", truth)


def _gauge(sheet: Sheet, outline: Line, ticks: Line, truth: Truth) -> _Gauge:
    """Return a gauge: its outline is the line to cut from the left, then its straight edge back."""
    points = outline.points
    closed = bool(np.abs(points[0] - points[-1]).max() < ROUNDING)
    line = points[: -3 if closed else -2]
    left, right, edge = float(line[0, 0]), float(line[-1, 0]), float(points[:, 1].max())
    heights = line[:, 1] - edge + truth.front.surface.highest + BODY
    inside = [
        word
        for word in sheet.words
        if left - 0.1 <= word.x <= right + 0.1 and float(line[:, 1].min()) - 1.0 <= word.y < edge
    ]
    inside.sort(key=lambda word: (-word.y, word.x))
    at = np.unique(ticks.points.reshape(-1, 2, 2)[:, 0, 0]) - left
    return _Gauge(left, edge, line[:, 0] - left, heights, at, tuple(inside))


def _compare(gauge: _Gauge, across: bool, truth: Truth) -> GaugeRead:
    if any(abs(word.turn) > 1.0 for word in gauge.words):
        # A narrow gauge has its words on end, as many as there is room for.
        return GaugeRead(0, 0.0, ())
    read = _across(gauge, truth) if across else _along(gauge, truth)
    if isinstance(read, str):
        return GaugeRead(0, 0.0, (read,))
    name, wanted, places, ticks, words = read
    off = np.abs(np.interp(places, gauge.along, gauge.heights) - wanted)
    faults = []
    if not float(off.max()) <= ALLOWED:
        faults.append(f"{name}: its line is {truth.length(float(off.max()))} off the surface")
    if len(ticks) != len(gauge.ticks) or float(np.abs(np.sort(ticks) - gauge.ticks).max(initial=0.0)) > ROUNDING:
        faults.append(f"{name}: its ticks are not at the edges of strips, or at stations")
    elif not faults:
        faults += [f"{name}: {fault}" for fault in _edge_faults(gauge, words)]
    return GaugeRead(len(places), float(off.max()), tuple(faults))


_Read = tuple[str, Array, Array, Array, list[tuple[float, str]]]
"""A gauge's name; heights wanted at places along it, mm; where its ticks should be; what may stand along it, and where."""


def _places(gauge: _Gauge) -> Array:
    length = float(gauge.along[-1])
    return np.linspace(0.0, length, int(np.ceil(length / _STEP)) + 1)


def _across(gauge: _Gauge, truth: Truth) -> _Read | str:
    front = truth.front
    found, part = gauge.said(_ACROSS), gauge.said(_PART)
    door = next((one for one in front.layout.doors if found and one.number == int(found[1])), None)
    if found is None or door is None or part is None:
        return "a gauge does not say where it goes across which door"
    name = f"across door {door.number} at {found[2]}"
    if part[5] != front.mark:
        return f"{name}: bears mark {part[5]}"
    station = _station(found[2], door.height, truth)
    first, last = int(part[3]), int(part[4] or part[3])
    if station is None or not door.first_strip <= first <= last <= door.last_strip:
        return f"{name}: is at no station, or over no strips, of this door"
    strips = [place for place in front.layout.strips if first <= place.number <= last]
    edges = np.array([edge for strip in strips for edge in (strip.left, strip.right)]) - door.left
    length = float(gauge.along[-1])
    start = _start(gauge.ticks, edges, part[1] in (None, "1"))
    if start is None:
        return f"{name}: its ticks are not the edges of strips {first} to {last}"
    places = _places(gauge)
    heights = front.surface.at((door.left + start + places)[None, :], np.array([[door.top - station]]))[0]
    at = edges - start
    ticks = at[(at >= -1e-3) & (at <= length + 1e-3)]
    words = [((strip.left + strip.right) / 2 - door.left - start, str(strip.number)) for strip in strips]
    return name, heights, places, ticks, words


def _start(ticks: Array, edges: Array, whole: bool) -> float | None:
    """Return where on its door a gauge starts, mm from the LEFT edge: where its ticks are the edges that it says it is over."""
    if whole:
        return 0.0
    if not len(ticks):
        return None
    for edge in edges[:2].tolist():
        start = edge - float(ticks[0])
        near = np.abs(edges[None, :] - start - ticks[:, None]).min(axis=1)
        if float(near.max()) <= ROUNDING:
            return float(start)
    return None


def _along(gauge: _Gauge, truth: Truth) -> _Read | str:
    front = truth.front
    found, stretch = gauge.said(_ALONG), gauge.said(_STRETCH)
    if found is None or stretch is None or int(found[1]) not in front.numbers:
        return "a gauge does not say along which strip it goes"
    place = front.layout.strip(int(found[1]))
    name = f"along strip {place.number}"
    if stretch[5] != front.mark:
        return f"{name}: bears mark {stretch[5]}"
    start, end = (_station(text, place.length, truth) for text in (stretch[3], stretch[4]))
    length = float(gauge.along[-1])
    if start is None or end is None or abs(end - start - length) > ROUNDING:
        return f"{name}: is not as long as it says"
    places = _places(gauge)
    middle = np.array([[(place.left + place.right) / 2]])
    heights = front.surface.at(middle, (place.top - start - places)[:, None])[:, 0]
    marks = stations(place.length, front.job.station)
    marks = marks[(marks >= start - 1e-3) & (marks <= end + 1e-3)]
    bare = front.job.ruler.bare
    return name, heights, places, marks - start, [(mark - start, bare(mark)) for mark in marks.tolist()]


def _station(text: str, length: float, truth: Truth) -> float | None:
    """Return the station that words name, mm from the top, None where there is none such."""
    try:
        said = truth.read_number(text.removesuffix(truth.front.job.unit.value))
    except (ValueError, ZeroDivisionError):
        return None
    marks = stations(length, truth.front.job.station)
    nearest = float(marks[np.abs(marks - said).argmin()])
    return nearest if abs(nearest - said) <= truth.printed_rounding(1) else None


def _edge_faults(gauge: _Gauge, words: Sequence[tuple[float, str]]) -> Iterator[str]:
    """Yield numbers along the line that are not those of the strips, or stations, where they stand."""
    known = {text for _, text in words}
    for word in gauge.words:
        if word.anchor != "middle" or not re.fullmatch(r"\d[\d ./]*", word.text):
            continue
        near = [at for at, text in words if text == word.text]
        wide = word.size * len(word.text)
        if word.text not in known or min(abs(at - word.x + gauge.left) for at in near) > wide:
            yield f"has {word.text} along its line where that is not"
            return
