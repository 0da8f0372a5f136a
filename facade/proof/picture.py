"""The picture of a proof: the front with how far its files are off, strip by strip, in shades that a grey print keeps apart."""

from __future__ import annotations

import math

import numpy as np
from PIL import Image

from facade.drawing import printable
from facade.pictures.plot import INK, PAPER, Page, View, plain_front, view_of
from facade.proof.compared import BINS, Proof
from facade.proof.telling import verdict

_MARGIN, _HEAD, _FOOT = 44, 150, 176
_TITLE, _WORDS, _SMALL = 34, 24, 20
_TALLEST = 900
_DISC = 17
# Deviations, mm, below which a place has the shade; beyond the last it is black. Far enough apart to be told in print.
_SHADES = ((0.001, 248), (0.004, 222), (0.012, 186), (0.04, 138), (0.1, 80), (math.inf, 0))
_UNKNOWN = 255
# So wide is the rim of plain relief that is left at each side of a strip, of its width: what it is stays to be seen.
_RIM = 0.18


def proof_picture(proof: Proof, width: int = 1700) -> bytes:
    """Return a PNG of the front with the largest deviation of all files along every strip, `width` pixels wide."""
    front = proof.front
    view = view_of(front, _MARGIN, _HEAD, width - 2 * _MARGIN, _TALLEST)
    tall = round(front.layout.height * view.scale)
    page = Page(width, _HEAD + tall + _FOOT)
    page.words(printable(front.job.title)[:70], _MARGIN, _MARGIN - 14, _TITLE, bold=True)
    page.words(f"Do the files agree with the front?  Mark {front.mark}", _MARGIN, _MARGIN + 30, _WORDS)
    page.words(verdict(proof), _MARGIN, _MARGIN + 60, _WORDS, bold=proof.failed)
    page.image.paste(plain_front(front, view), (round(view.left), _HEAD))
    _strips(page, proof, view)
    _failed(page, proof, view)
    _numbers(page, proof, view, _HEAD + tall + 8)
    _legend(page, proof, _HEAD + tall + 56)
    return page.png()


def _strips(page: Page, proof: Proof, view: View) -> None:
    """Lay the shades of deviation over the strips, a rim of the relief left at both sides."""
    for place in proof.front.layout.strips:
        spreads = [one.along[place.number] for one in proof.compared if place.number in one.along]
        if not spreads:
            continue
        off = np.max([spread for spread in spreads if len(spread) == BINS] or [np.full(BINS, -1.0)], axis=0)
        rim = _RIM * place.width
        left, right = (
            round(view.x(place.left + rim)),
            max(round(view.x(place.right - rim)), round(view.x(place.left)) + 1),
        )
        top, bottom = round(view.y(place.top)), round(view.y(place.bottom))
        band = Image.fromarray(_shades(off)[:, None]).resize(
            (max(1, right - left), bottom - top), Image.Resampling.NEAREST
        )
        page.image.paste(band, (left, top))


def _shades(off: np.ndarray) -> np.ndarray:
    """Return the shade of each deviation, mm; white where nothing was measured."""
    limits, shades = np.array([limit for limit, _ in _SHADES]), np.array([shade for _, shade in _SHADES])
    found = shades[np.minimum(np.searchsorted(limits, off, side="right"), len(shades) - 1)]
    return np.where(off < 0, _UNKNOWN, found).astype(np.uint8)


def _failed(page: Page, proof: Proof, view: View) -> None:
    """Frame each strip that fails, and write its number over it in a disc, in rows so that neighbours stay apart."""
    for index, number in enumerate(proof.failed_strips):
        place = proof.front.layout.strip(number)
        box = [view.x(place.left), view.y(place.top), view.x(place.right), view.y(place.bottom)]
        page.draw.rectangle([round(edge) for edge in box], outline=INK, width=3)
        x, y = view.x((place.left + place.right) / 2), view.y(place.top) + 30 + 2.6 * _DISC * (index % 3)
        page.draw.ellipse([x - _DISC, y - _DISC, x + _DISC, y + _DISC], fill=PAPER, outline=INK, width=3)
        page.words(str(number), x, y, _SMALL, bold=True, anchor="mm")


def _numbers(page: Page, proof: Proof, view: View, y: float) -> None:
    """Write strips' numbers under the front, as many as fit."""
    strips = proof.front.layout.strips
    wide = page.width_of("0" * len(str(len(strips))), _SMALL) + 12
    least = wide / (view.scale * proof.front.layout.width / len(strips))
    every = next(step for step in (1, 2, 5, 10, 20, 50, 100, 200, 500, 1000, 10_000) if step >= least)
    for strip in strips:
        if (strip.number == 1 and every != 2) or strip.number % every == 0:
            page.words(str(strip.number), view.x((strip.left + strip.right) / 2), y, _SMALL, anchor="ma")


def _legend(page: Page, proof: Proof, y: float) -> None:
    """Draw what the shades mean, in the job's unit."""
    x: float = _MARGIN
    page.words("Largest deviation of any file, along the strip:", x, y, _SMALL)
    y += 32
    unit = proof.front.job.unit
    last = 0.0
    for limit, shade in _SHADES:
        text = f"from {last / unit.in_mm:.4g}" if math.isinf(limit) else f"under {limit / unit.in_mm:.2g}"
        page.draw.rectangle([x, y, x + 40, y + 26], fill=shade, outline=INK)
        words = f"{text} {unit.value}"
        page.words(words, x + 48, y + 1, _SMALL)
        x += 48 + page.width_of(words, _SMALL) + 28
        last = limit
    page.words("Strips in a black frame with their number: a file of theirs fails.", _MARGIN, y + 40, _SMALL)
