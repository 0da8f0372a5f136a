"""The picture of what the checks found: the front with the places marked, and bars of thickness and slope of every strip.

It is grey throughout, so that a print shows all that the screen does: what stops the job is black, what wants a look white.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from facade.checks import Finding, Group, Weight, grouped
from facade.drawing import printable
from facade.front import Front
from facade.pictures.plot import INK, PALE, PAPER, Page, View, plain_front, view_of, wrapped

_MARGIN = 44
_AXIS = 84  # room at the left for what bars measure
_TITLE, _WORDS, _SMALL = 34, 24, 20
_TALLEST = 900  # pixels of the front
_BARS = 150
_DISC = 17
_MOST_TOLD = 14


@dataclass(frozen=True)
class _Told:
    """A group of findings with its number on the picture."""

    number: int
    group: Group
    places: tuple[tuple[float, float], ...]


def check_picture(front: Front, findings: Sequence[Finding], width: int = 1700) -> bytes:
    """Return a PNG of the front with the places of findings marked, `width` pixels wide."""
    told = _told(front, findings)
    view = view_of(front, _MARGIN + _AXIS, 0, width - 2 * _MARGIN - _AXIS, _TALLEST)
    lines = _legend(told, width - 2 * _MARGIN - 70)
    head = _MARGIN + 100
    tall = round(front.layout.height * view.scale)
    bars = head + tall + 40
    legend = bars + 2 * (_BARS + 60) + 40
    page = Page(width, legend + sum(34 * len(words) + 12 for _, words in lines) + 60)
    _head(page, front, findings)
    view = View(view.scale, view.left, head, view.height)
    page.image.paste(plain_front(front, view), (round(view.left), head))
    _numbers(page, front, view, head + tall + 6)
    _thickness(page, front, view, bars)
    _slopes(page, front, view, bars + _BARS + 60)
    _marks(page, front, view, told)
    _write_legend(page, lines, legend)
    return page.png()


def _told(front: Front, findings: Sequence[Finding]) -> list[_Told]:
    """Return what is marked, numbered: what stops the job, then what wants a look."""
    groups = [group for group in grouped(findings) if group.worst.weight is not Weight.KNOW]
    found = []
    for number, group in enumerate(groups, start=1):
        worst = group.worst
        some = [
            one for one in findings if (one.check, one.topic, one.weight) == (worst.check, worst.topic, worst.weight)
        ]
        some = [worst, *(one for one in some if one is not worst)] if worst.topic else [worst]
        places = [place for one in some if (place := _place(front, one)) is not None]
        found.append(_Told(number, group, tuple(places)))
    return found


def _place(front: Front, finding: Finding) -> tuple[float, float] | None:
    """Return where a finding is, mm on the front: its place on the strip, or the middle of its strip or door."""
    layout = front.layout
    if finding.strip is not None:
        strip = layout.strip(finding.strip)
        across = strip.width / 2 if finding.from_left is None else finding.from_left
        down = strip.length / 2 if finding.from_top is None else finding.from_top
        return strip.left + across, strip.top - down
    if finding.door is not None:
        door = layout.doors[finding.door - 1]
        return (door.left + door.right) / 2, (door.bottom + door.top) / 2
    return None


def _head(page: Page, front: Front, findings: Sequence[Finding]) -> None:
    stopped = any(finding.stops for finding in findings)
    page.words(printable(front.job.title)[:70], _MARGIN, _MARGIN - 6, _TITLE, bold=True)
    said = "NOT CLEARED: black marks stop it" if stopped else "Nothing that was checked stops it"
    page.words(f"Can it be made?  {said}.  Mark {front.mark}", _MARGIN, _MARGIN + 40, _WORDS)


def _numbers(page: Page, front: Front, view: View, y: float) -> None:
    """Write strips' numbers under the front, as many as fit."""
    strips = front.layout.strips
    wide = page.width_of("0" * len(str(len(strips))), _SMALL) + 12
    every = max(1, math.ceil(wide / (view.scale * front.layout.width / len(strips))))
    every = next(step for step in (1, 2, 5, 10, 20, 50, 100, 200, 500, 1000, 10_000) if step >= every)
    for strip in strips:
        if (strip.number == 1 and every != 2) or strip.number % every == 0:
            page.words(str(strip.number), view.x((strip.left + strip.right) / 2), y, _SMALL, anchor="ma")


def _thickness(page: Page, front: Front, view: View, top: float) -> None:
    """Draw from the thinnest to the thickest place of each strip."""
    ruler, blank = front.job.ruler, front.job.blank
    limit = front.job.limit("thin_screwed" if front.job.fixing.by.value == "screws" else "thin_glued")
    scale = _Scale(page, view, front, top, blank, f"thickness, {ruler.unit.value}")
    scale.level(limit.value, ruler.number(limit.value))
    scale.level(blank, ruler.number(blank))
    for strip in front.measures():
        scale.bar(
            strip.number, strip.thinnest.height, strip.thickest.height, dark=strip.thinnest.height < limit.value - 1e-6
        )


def _slopes(page: Page, front: Front, view: View, top: float) -> None:
    """Draw the steepest place along the grain of each strip."""
    limits = [front.job.limit(name).value for name in ("slope_watch", "slope_steep", "slope_most")]
    measures = front.measures()
    most = max([limits[-1] + 5, *(strip.grain.steepest.degrees for strip in measures)])
    scale = _Scale(page, view, front, top, most, "steepest slope along, degrees")
    for limit in limits:
        scale.level(limit, f"{limit:g}")
    for strip in measures:
        scale.bar(strip.number, 0.0, strip.grain.steepest.degrees, dark=strip.grain.steepest.degrees > limits[1])


class _Scale:
    """A row of bars under the front, one for each strip, straight below it."""

    def __init__(self, page: Page, view: View, front: Front, top: float, most: float, name: str) -> None:
        self._page, self._view, self._layout = page, view, front.layout
        self._top, self._most = top + 30, most
        self._left, self._right = view.x(0.0), view.x(front.layout.width)
        page.words(name, _MARGIN, top - 2, _SMALL, bold=True)
        page.draw.line([self._left, self._row(0.0), self._right, self._row(0.0)], fill=INK, width=2)

    def _row(self, value: float) -> float:
        return self._top + _BARS * (1.0 - min(value / self._most, 1.0))

    def level(self, value: float, words: str) -> None:
        """Draw a dashed line across at a value."""
        y, x = self._row(value), self._left
        while x < self._right:
            self._page.draw.line([x, y, min(x + 8, self._right), y], fill=90, width=1)
            x += 14
        self._page.words(words, self._left - 8, y, _SMALL, anchor="rm")

    def bar(self, number: int, low: float, high: float, *, dark: bool) -> None:
        """Draw the bar of a strip from one value to another."""
        strip = self._layout.strip(number)
        left, right = self._view.x(strip.left), max(self._view.x(strip.right) - 1, self._view.x(strip.left) + 1)
        self._page.draw.rectangle(
            [left, self._row(high), right, self._row(low)], fill=INK if dark else PALE, outline=90
        )


def _marks(page: Page, front: Front, view: View, told: list[_Told]) -> None:
    """Draw a dot at each place, and beside the worst of each group its number in a disc."""
    taken: list[tuple[float, float]] = []
    for one in told:
        ink = INK if one.group.worst.weight is Weight.STOPS else PAPER
        for x, y in one.places[1:]:
            _dot(page, view.x(x), view.y(y), ink)
    for one in told:
        if not one.places:
            continue
        ink = INK if one.group.worst.weight is Weight.STOPS else PAPER
        x, y = view.x(one.places[0][0]), view.y(one.places[0][1])
        disc = _free_spot(page, x, y, taken)
        taken.append(disc)
        page.draw.line([x, y, *disc], fill=INK, width=2)
        _dot(page, x, y, ink)
        _disc(page, *disc, one.number, ink)


def _free_spot(page: Page, x: float, y: float, taken: list[tuple[float, float]]) -> tuple[float, float]:
    """Return the nearest place for a disc beside (x, y) that covers no other disc."""
    best = (x, y)
    for ring in range(2, 14):
        for step in range(16):
            angle = math.pi * (step / 8.0 - 0.25)
            best = (x + ring * _DISC * math.cos(angle), y + ring * _DISC * math.sin(angle))
            inside = _MARGIN <= best[0] <= page.image.width - _MARGIN and best[1] >= _MARGIN + 80
            if inside and all(math.dist(best, other) > 2.2 * _DISC for other in taken):
                return best
    return best


def _dot(page: Page, x: float, y: float, ink: int) -> None:
    page.draw.ellipse([x - 6, y - 6, x + 6, y + 6], fill=ink, outline=INK, width=2)


def _disc(page: Page, x: float, y: float, number: int, ink: int) -> None:
    page.draw.ellipse([x - _DISC, y - _DISC, x + _DISC, y + _DISC], fill=ink, outline=INK, width=3)
    page.words(str(number), x, y, _WORDS, bold=True, anchor="mm", ink=PAPER if ink == INK else INK)


def _legend(told: list[_Told], wide: float) -> list[tuple[_Told | None, list[str]]]:
    """Return what each number means, in lines; very many are cut short with a word about the rest."""
    found: list[tuple[_Told | None, list[str]]] = []
    for one in told[:_MOST_TOLD]:
        worst = one.group.worst
        words = " ".join(filter(None, (worst.sentence, one.group.also, worst.cure)))
        found.append((one, wrapped(words, _WORDS, wide)))
    if len(told) > _MOST_TOLD:
        found.append((None, [f"and {len(told) - _MOST_TOLD} more: facade check lists them all"]))
    return found


def _write_legend(page: Page, lines: list[tuple[_Told | None, list[str]]], top: float) -> None:
    y = top
    for told, words in lines:
        if told is not None:
            _disc(page, _MARGIN + _DISC, y + 14, told.number, INK if told.group.worst.weight is Weight.STOPS else PAPER)
        for line in words:
            page.words(line, _MARGIN + 70, y, _WORDS)
            y += 34
        y += 12
    page.words("Black stops the job, white wants a look. Dots: the same at other places.", _MARGIN, y + 8, _SMALL)
