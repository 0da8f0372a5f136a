"""Wood as a solid: growth rings round a pith and fibres along the strip, seen wherever the carving cuts them."""

from __future__ import annotations

import math
from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from facade.arrays import Array
from facade.layout import StripPlace
from facade.pictures.chance import Floats, Sheet, chance, even_noise, lines_needed, one_chance
from facade.wood.species import Species

# All of these are this project's own choice, by eye. Lengths in mm.
_BOARD = (95.0, 185.0)  # narrowest and widest board that strips are ripped from
_PITH_DEPTH = (28.0, 105.0)  # of the pith behind the back of the strips
_LEAN = 0.028  # of the pith against the strip, towards the face
_FINE = 20  # places of the ring table to the mm
_RINGS = 1 << 13  # places of the ring table
_WANDER = ((150.0, 34.0, 1.5), (52.0, 13.0, 0.35))  # of the rings: length along, width across, how far
_FIBRES = ((9.0, 0.35, 0.5), (23.0, 0.5, 0.4), (130.0, 2.6, 0.4))  # length along, width across, strength
_DEEPER = 0.55  # how far another fibre lies aside when the carving is 1 mm deeper
# Rays: places to the radian round the pith, how long their flecks are along the strip, from how strong a noise on they show.
_RAY_PLACES, _RAY_LENGTH, _RAY_FROM = 110, 26.0, 0.55
_BOARD_TONE, _STRIP_TONE = 0.085, 0.035  # lighter or darker, at most


@dataclass(frozen=True)
class Board:
    """One board: where its pith runs, how it leans, where its rings start, how bright it is."""

    pith: float
    depth: float
    lean: float
    drift: float
    start: float
    tone: float


def board_numbers(strips: tuple[StripPlace, ...]) -> list[int]:
    """Return for each strip the number of its board; neighbours share a board until it is used up."""
    numbers = []
    board, end = -1, -math.inf
    for strip in strips:
        if strip.right > end:
            board += 1
            end = strip.left + max(strip.width, _between(_BOARD, board, 1))
        numbers.append(board)
    return numbers


def board_of(number: int, left: float, right: float) -> Board:
    """Return the board whose strips lie between left and right on the front, mm."""
    aside = one_chance(number, 2) - 0.5
    lean = one_chance(number, 4) - 0.5
    return Board(
        pith=(left + right) / 2 + 1.3 * aside * (right - left),
        depth=_between(_PITH_DEPTH, number, 3),
        lean=_LEAN * (lean + math.copysign(0.5, lean)),
        drift=0.02 * (one_chance(number, 5) - 0.5),
        start=one_chance(number, 6) * _RINGS,
        tone=1.0 + _BOARD_TONE * (2.0 * one_chance(number, 7) - 1.0),
    )


def _between(limits: tuple[float, float], *keys: int) -> float:
    return limits[0] + (limits[1] - limits[0]) * one_chance(*keys)


def ring_table(species: Species, pixel: float) -> Floats:
    """Return how dark the wood is, 0 to 1, by distance from the pith: rings of uneven width, averaged over a pixel.

    Shape (8192,), 20 places to the mm; it closes on itself.
    """
    count = round(_RINGS / _FINE / species.ring)
    widths = 0.55 + 0.9 * chance(np.arange(count), 11).astype(np.float64)
    slow = 1.0 + 0.35 * np.sin(np.arange(count) * (2.0 * math.pi * 3 / count))
    starts = np.concatenate([[0.0], np.cumsum(widths * slow)])
    place = np.arange(_RINGS) * (starts[-1] / _RINGS)
    ring = np.searchsorted(starts, place, "right") - 1
    along = (place - starts[ring]) / (starts[ring + 1] - starts[ring])
    strength = 0.55 + 0.45 * chance(ring, 12)
    # Dark wood comes on slowly over the ring and ends at once where the next ring begins.
    dark = strength * np.clip(along, 0.0, 1.0) ** species.late
    return _averaged(dark, max(pixel, 0.25) * _FINE)


def _averaged(values: Array, width: float) -> Floats:
    """Return a closed row of values, each averaged over `width` places."""
    reach = min(max(1, round(width)), len(values))
    total = np.cumsum(np.concatenate([[0.0], values, values[:reach]]))
    mean = (total[reach : reach + len(values)] - total[: len(values)]) / reach
    averaged: Floats = np.roll(mean, reach // 2).astype(np.float32)
    return averaged


def from_pith(aside: Floats, depth: Floats, lean: Floats, drift: Floats, y: Array, z: Floats) -> Floats:
    """Return how far places (rows, columns) on rows y at heights z are from the line of their pith, mm.

    Each column is `aside` of its pith and `depth` before it at the lower edge; the pith leans by so many mm to the mm upwards, to the face
    and sideways. Rings are cylinders round it, so that a plane cuts them in ellipses, a hollow in closed contours.
    """
    up = y.astype(np.float32)[:, None]
    radius: Floats = z + up * lean
    radius += depth
    radius *= radius
    away = up * drift
    away = away + aside
    away *= away
    return np.sqrt(radius + away)


class Figure:
    """The figure of a front's strips, ready to be looked up at any place of the carved surface."""

    def __init__(self, species: Species, strips: tuple[StripPlace, ...], x: Array, height: float, pixel: float) -> None:
        """`x` are the columns of the picture, mm; `height` is the front's, `pixel` the size of a pixel, mm."""
        nearest = _nearest_strip(strips, x)
        numbers = np.array(board_numbers(strips))
        boards = [_board(strips, numbers, number) for number in range(int(numbers[-1]) + 1)]
        column = numbers[nearest]
        self._from_pith = (x - np.array([board.pith for board in boards])[column]).astype(np.float32)
        self._depth = np.array([board.depth for board in boards], dtype=np.float32)[column]
        self._lean = np.array([board.lean for board in boards], dtype=np.float32)[column]
        self._drift = np.array([board.drift for board in boards], dtype=np.float32)[column]
        self._start = np.array([board.start for board in boards], dtype=np.float32)[column]
        own = _STRIP_TONE * (2.0 * chance(np.array([strip.number for strip in strips]), 13) - 1.0)
        self.tone: Floats = np.array([board.tone for board in boards], dtype=np.float32)[column] + own[nearest]
        dark = ring_table(species, pixel)
        self._light = (1.0 - np.float32(species.contrast) * dark).astype(np.float32)
        gathered = 1.0 - species.pores + species.pores * dark / max(float(dark.mean()), 1e-6)
        self._pores = (0.42 * species.streak * gathered).astype(np.float32)
        self._wander = [_wander(octave, x, column, height, pixel) for octave in range(len(_WANDER))]
        self._pitch = max(0.12, 0.6 * pixel)
        self._fibre = ((x - x[0]) / self._pitch).astype(np.float32)
        self._fibres = _fibres(float(x[-1] - x[0]), height, pixel, self._pitch)
        self._ray_strength = 0.3 * species.rays * min(1.0, 2.0 / pixel)
        self._rays = _rays(height, pixel, self._ray_strength) if species.rays else None

    def light_at(self, y: Array, z: Floats) -> Floats:
        """Return how light the wood is, from its dark colour, 0, to its light one, 1, on rows y at heights z, mm."""
        radius = from_pith(self._from_pith, self._depth, self._lean, self._drift, y, z)
        for sheet in self._wander:
            sheet.add_to(radius, y)
        radius *= _FINE
        radius += self._start
        place = radius.astype(np.int32)
        place &= _RINGS - 1
        light: Floats = self._light.take(place, mode="clip")
        pores = self._pores.take(place, mode="clip")
        pores *= self._fibres_at(y, z)
        light += pores
        if self._rays:
            light += self._flecks(self._rays, y, z)
        return light

    def _flecks(self, rays: Sheet, y: Array, z: Floats) -> Floats:
        """Return how much lighter rays make the wood: they lie in planes through the pith, and show where the face is such a plane."""
        deep = z + self._depth
        turn = np.arctan(self._from_pith / deep)
        known = np.zeros((len(y), rays.lines.shape[1]), dtype=np.float32)
        rays.add_to(known, y)
        index = ((turn + np.float32(math.pi / 2)) * _RAY_PLACES).astype(np.int32)
        index += (np.arange(len(y), dtype=np.int32) * known.shape[1])[:, None]
        flecks: Floats = known.ravel().take(index, mode="clip")
        flecks -= np.float32(_RAY_FROM * self._ray_strength)
        np.maximum(flecks, 0.0, out=flecks)
        # The face is as much along the rays as the pith lies aside.
        along = np.sin(turn)
        along *= along
        flecks *= along * along
        return flecks

    def _fibres_at(self, y: Array, z: Floats) -> Floats:
        width = self._fibres[0].lines.shape[1]
        strands = np.zeros((len(y), width), dtype=np.float32)
        for sheet in self._fibres:
            sheet.add_to(strands, y)
        place = z * np.float32(_DEEPER / self._pitch)
        place += self._fibre
        index = place.astype(np.int32)
        index += (np.arange(len(y), dtype=np.int32) * width)[:, None]
        fibres: Floats = strands.ravel().take(index, mode="clip")
        return fibres


def _nearest_strip(strips: tuple[StripPlace, ...], x: Array) -> NDArray[np.intp]:
    middles = [(one.right + other.left) / 2 for one, other in pairwise(strips)]
    return np.searchsorted(np.array(middles), x)


def _board(strips: tuple[StripPlace, ...], numbers: NDArray[np.int_], number: int) -> Board:
    mine = np.flatnonzero(numbers == number)
    return board_of(number, strips[mine[0]].left, strips[mine[-1]].right)


def _wander(octave: int, x: Array, column: NDArray[np.int_], height: float, pixel: float) -> Sheet:
    """Return how far rings stray, mm: smooth across a board, and unlike that of the next board."""
    along, across, far = _WANDER[octave]
    spacing = max(along, 3.0 * pixel)
    line = np.arange(lines_needed(height, spacing))[:, None]
    place = x / across
    left = np.floor(place).astype(np.int64)
    share = (place - left).astype(np.float32)
    share = share * share * (3.0 - 2.0 * share)
    key = column * 977 + octave * 31
    low, high = chance(line, left[None, :], key[None, :]), chance(line, left[None, :] + 1, key[None, :])
    return Sheet((2.0 * far * (low + share * (high - low) - 0.5)).astype(np.float32), spacing, 0.0)


def _fibres(width: float, height: float, pixel: float, pitch: float) -> list[Sheet]:
    """Return the fibres: rows of fine noise that hold along the strip, calmer where a pixel spans several of them."""
    count = int((width + 60.0) / pitch) + 8
    sheets = []
    for octave, (along, across, strength) in enumerate(_FIBRES):
        spacing = max(along, 2.5 * pixel)
        noise = even_noise(count + 9001, across / pitch, 20 + octave)
        starts = (chance(np.arange(lines_needed(height, spacing)), 30 + octave) * 9000).astype(np.intp)
        calm = strength * min(1.0, math.sqrt(across * along / (pixel * spacing)))
        lines = np.stack([noise[start : start + count] for start in starts])
        sheets.append(Sheet(lines * np.float32(calm), spacing, 0.0, even=True))
    return sheets


def _rays(height: float, pixel: float, strength: float) -> Sheet:
    """Return the rays round the pith: short rows of noise, weaker where a pixel spans a fleck."""
    count, spacing = int(math.pi * _RAY_PLACES) + 2, max(_RAY_LENGTH, 2.5 * pixel)
    noise = even_noise(count + 9001, 2.0, 40)
    starts = (chance(np.arange(lines_needed(height, spacing)), 41) * 9000).astype(np.intp)
    lines = np.stack([noise[start : start + count] for start in starts])
    return Sheet(lines * np.float32(strength), spacing, 0.0, even=True)
