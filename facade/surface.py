"""The finished shape: the relief fitted to the wood, in mm above the back of the strips."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from facade.arrays import Array, smooth_maximum, smooth_minimum, smooth_step
from facade.errors import mistake
from facade.job import Cap, DoorPattern, Edge, Fade, Fit, Job, Keep, Land, Pull, Shape
from facade.layout import EXACT, Layout
from facade.reliefs import Canvas, Heights, combined

# Heights are rounded to 2^-20 mm, about a nanometre: machines whose sines differ in the last bit then agree on every height.
GRAIN = float(2**20)
# Extremes are looked for on a grid of this step, then closed in on until they hold to a millionth of the range.
_SEARCH_STEP = 4.0  # mm
_TILE = 400  # places across and along that are looked at in one go
_BEND = 10.0 / math.sqrt(3.0)  # greatest second derivative of smooth_step
_REMEMBERED = 4_000_000  # heights of a relief that are kept where it is asked for them again: 32 MB
_ROUNDING = 1.0  # mm over which a land "at least" and a cap are rounded into the relief

Step = Callable[[Array, Array, Array], Array]
"""A change of the heights at (x, y): takes x, y, z and gives the new z."""


@dataclass(frozen=True)
class Fitted:
    """The straight line from relief to mm: height = offset + scale * relief, and the relief's extremes it rests on."""

    offset: float
    scale: float
    lowest: float
    highest: float

    @property
    def reach(self) -> tuple[float, float]:
        """Lowest and highest height in mm that the relief alone asks for."""
        return self.offset + self.scale * self.lowest, self.offset + self.scale * self.highest


class Surface:
    """The one place where a height comes from."""

    def __init__(
        self, relief: Heights, spread: Heights | None, fitted: Fitted, steps: list[Step], floor: float, highest: float
    ) -> None:
        """`spread` turns a place's x on the front into its x on the relief, None where they are the same."""
        self._relief = relief
        self._spread = spread
        self.fitted = fitted
        self._steps = steps
        self.floor = floor
        self.highest = highest

    def at(self, x: Array, y: Array) -> Array:
        """Return the finished heights in mm at (x, y) on the front, arrays in mm, of one dimension or more, that broadcast together.

        An open grid, x of shape (1, n) and y of shape (m, 1), is quickest. No height is below the floor or above what
        the blank leaves after sanding.
        """
        z = self.wanted(x, y)
        z *= GRAIN
        np.rint(z, out=z)
        z /= GRAIN
        # Last, since rounding might bring a height a hair below the floor.
        np.clip(z, self.floor, self.highest, out=z)
        return z

    def remember(self) -> None:
        """Keep the relief's heights at places that are asked for, so that surfaces made like this one need not ask again."""
        self._relief = _remembering(self._relief)

    def wanted(self, x: Array, y: Array) -> Array:
        """Return the heights as designed, before floor and blank cut them off; shape as in `at`."""
        u = x if self._spread is None else self._spread(x, y)
        z = np.asarray(self._relief(u, y), dtype=np.float64)
        shape = np.broadcast_shapes(x.shape, y.shape)
        z = np.array(np.broadcast_to(z, shape)) if z.shape != shape else z.copy()
        z *= self.fitted.scale
        z += self.fitted.offset
        for step in self._steps:
            z = step(x, y, z)
        return z


def _remembering(relief: Heights) -> Heights:
    """Return a relief that remembers its heights at the places it was asked for, up to so many."""
    known: dict[tuple[tuple[int, ...], tuple[int, ...], bytes, bytes], Array] = {}
    room = _REMEMBERED

    def heights(x: Array, y: Array) -> Array:
        nonlocal room
        key = (x.shape, y.shape, x.tobytes(), y.tobytes())
        if key not in known:
            z = np.asarray(relief(x, y), dtype=np.float64)
            if z.size > room:
                return z
            known[key], room = z, room - z.size
        return known[key]

    return heights


def make_surface(job: Job, layout: Layout, like: Surface | None = None) -> Surface:
    """Return the surface of a job: relief, fit, then fades, lands, pulls and caps, then floor and blank.

    `like` is a surface with the same layers on the same layout: its relief need not be made again.
    """
    if like is None:
        canvas, spread = _canvas(job, layout)
        relief = combined(job.layers, canvas)
        lowest, highest = _finite_extremes(relief, canvas)
    else:
        relief, spread, lowest, highest = like._relief, like._spread, like.fitted.lowest, like.fitted.highest
    fitted = _fit(job, lowest, highest)
    steps = [_fade(fade, job) for fade in job.fades]
    steps += [_land(land, job) for land in job.lands]
    steps += [_pull(pull) for pull in job.pulls]
    steps += [_cap(cap, job, layout) for cap in job.caps]
    return Surface(relief, spread, fitted, steps, job.wood.floor, job.highest)


def _canvas(job: Job, layout: Layout) -> tuple[Canvas, Heights | None]:
    """Return the rectangle the relief is made for, and how x on the front becomes x on it."""
    pattern, packed = job.carving.doors, job.carving.packed
    if pattern is DoorPattern.CONTINUOUS and not packed:
        return Canvas(layout.width, layout.height), None
    places, on_relief = [], []
    width = 0.0
    for door in layout.doors:
        strips = layout.strips[door.first_strip - 1 : door.last_strip]
        start = width if pattern is DoorPattern.CONTINUOUS else 0.0
        edges = np.array([edge for strip in strips for edge in (strip.left, strip.right)])
        if packed:
            sizes = np.cumsum([0.0] + [strip.width for strip in strips])
            local = np.repeat(sizes, 2)[1:-1]
            size = float(sizes[-1])
        else:
            local, size = edges - door.left, door.width
        if pattern is DoorPattern.MIRRORED and door.number % 2 == 0:
            local = size - local
        places.append(edges)
        on_relief.append(start + local)
        width = start + size if pattern is DoorPattern.CONTINUOUS else max(width, size)
    known, wanted = np.concatenate(places), np.concatenate(on_relief)
    if ((np.diff(known) < EXACT) & (np.abs(np.diff(wanted)) > EXACT)).any():
        raise mistake(
            "front.space",
            f"`front.space` must be more than 0 where strips of {pattern.value} doors would touch with different heights "
            f"(got {job.ruler.text(layout.space, 3)}): leave a space, or give `strips.edge`",
        )
    return Canvas(width, layout.height), lambda x, y: np.interp(x, known, wanted)


def _finite_extremes(relief: Heights, canvas: Canvas) -> tuple[float, float]:
    with np.errstate(all="ignore"):
        lowest, highest = extremes(relief, canvas)
    if not np.isfinite([lowest, highest]).all():
        raise mistake(
            "layers", "`layers` must give finite heights (they overflow): make sizes larger, or amounts smaller"
        )
    return lowest, highest


def _fit(job: Job, lowest: float, highest: float) -> Fitted:
    """Return the scale and offset that the job's fit asks for."""
    if job.carving.fit is Fit.AS_GIVEN:
        return Fitted(0.0, 1.0, lowest, highest)
    depth = job.highest - job.wood.floor if job.carving.fit is Fit.FULL else float(job.carving.depth or 0.0)
    spread = highest - lowest
    if spread <= 1e-9 * max(1.0, abs(lowest), abs(highest)):
        return Fitted(job.highest, 0.0, lowest, highest)
    scale = depth / spread
    return Fitted(job.highest - scale * highest, scale, lowest, highest)


def extremes(relief: Heights, canvas: Canvas) -> tuple[float, float]:
    """Return the lowest and highest value of a relief on its canvas, to a millionth of the range between them.

    They are looked for every 4 mm, or in 48 parts of a small side, whatever the job's own step; then the best places
    are closed in on, 4 times finer at each turn. Valleys narrower than the search step may be missed.
    """
    columns = max(48, int(np.ceil(canvas.width / _SEARCH_STEP)))
    rows = max(48, int(np.ceil(canvas.height / _SEARCH_STEP)))
    x = np.linspace(0.0, canvas.width, columns + 1)
    y = np.linspace(0.0, canvas.height, rows + 1)
    found = []
    for sign in (1.0, -1.0):
        found.append(_Best(sign, canvas))
    for across in _parts(x):
        for band in _parts(y):
            z = np.broadcast_to(relief(across[None, :], band[:, None]), (len(band), len(across)))
            for best in found:
                best.look(across, band, z)
    spacing = (canvas.width / columns, canvas.height / rows)
    lowest, highest = (best.close_in(relief, spacing) for best in found)
    return lowest, highest


def _parts(places: Array) -> list[Array]:
    """Return places in parts that stay in cache and let a relief work on a small piece of its lattice."""
    return np.array_split(places, -(-len(places) // _TILE))


class _Best:
    """The most promising places for the lowest (sign 1) or highest (sign -1) value."""

    _KEEP = 24

    def __init__(self, sign: float, canvas: Canvas) -> None:
        self._sign = sign
        self._canvas = canvas
        self._x = np.empty(0)
        self._y = np.empty(0)
        self._z = np.empty(0)

    def look(self, x: Array, y: Array, z: Array) -> None:
        flat = (self._sign * z).ravel()
        keep = min(self._KEEP, len(flat))
        some = np.argpartition(flat, keep - 1)[:keep] if keep < len(flat) else np.arange(len(flat))
        row, column = np.divmod(some, len(x))
        self._merge(x[column], y[row], flat[some])

    def _merge(self, x: Array, y: Array, z: Array) -> None:
        x, y, z = np.concatenate([self._x, x]), np.concatenate([self._y, y]), np.concatenate([self._z, z])
        # Ties are broken by place, so that the order of looking never counts.
        order = np.lexsort((y, x, z))[: self._KEEP]
        self._x, self._y, self._z = x[order], y[order], z[order]

    def close_in(self, relief: Heights, spacing: tuple[float, float]) -> float:
        reach_x, reach_y = spacing
        step = np.linspace(-1.0, 1.0, 9)
        for _ in range(7):
            around_x = np.clip(self._x[:, None, None] + reach_x * step[None, None, :], 0.0, self._canvas.width)
            around_y = np.clip(self._y[:, None, None] + reach_y * step[None, :, None], 0.0, self._canvas.height)
            around_x, around_y = np.broadcast_arrays(around_x, around_y)
            z = self._sign * np.broadcast_to(
                relief(around_x.reshape(1, -1), around_y.reshape(1, -1)), (1, around_x.size)
            )
            z = z.reshape(len(self._x), -1)
            best = z.argmin(axis=1)
            each = np.arange(len(best))
            self._x = around_x.reshape(len(best), -1)[each, best]
            self._y = around_y.reshape(len(best), -1)[each, best]
            self._z = z[each, best]
            reach_x, reach_y = reach_x / 4.0, reach_y / 4.0
        return float(self._sign * self._z.min())


def _fade(fade: Fade, job: Job) -> Step:
    height = job.highest if fade.height is None else fade.height
    sides = {Edge.LEFT: 0.0, Edge.BOTTOM: 0.0, Edge.RIGHT: job.front.width, Edge.TOP: job.front.height}
    side, level = sides[fade.edge], fade.edge in (Edge.TOP, Edge.BOTTOM)

    def apply(x: Array, y: Array, z: Array) -> Array:
        share = smooth_step(np.abs((y if level else x) - side) / fade.width)
        return height + share * (z - height)

    return apply


def land_share(land: Land, x: Array, y: Array) -> Array:
    """Return 1 on the land, 0 beyond its blend, smoothly falling between."""
    right, up = np.abs(x - land.centre[0]), np.abs(y - land.centre[1])
    half_width, half_height = land.size[0] / 2, land.size[1] / 2
    if land.shape is Shape.RECTANGLE:
        away = np.hypot(np.maximum(right - half_width, 0.0), np.maximum(up - half_height, 0.0))
    else:
        # Distance along the ray from the middle: exact on a circle, a little generous on a long ellipse.
        reach = np.hypot(right / half_width, up / half_height)
        away = np.where(reach > 1.0, np.hypot(right, up) * (1.0 - 1.0 / np.maximum(reach, 1.0)), 0.0)
    if land.blend == 0.0:
        return (away <= 0.0).astype(np.float64)
    return 1.0 - smooth_step(away / land.blend)


def _land(land: Land, job: Job) -> Step:
    height = job.highest if land.height is None else land.height

    def apply(x: Array, y: Array, z: Array) -> Array:
        target = height if land.keep is Keep.FLAT else smooth_maximum(z, height, _ROUNDING)
        return z + land_share(land, x, y) * (target - z)

    return apply


def pull_wall(pull: Pull, depth: float) -> float:
    """Return how wide the wall of a pull is, from rim to bottom, where it goes `depth` mm deep.

    The wall is `depth` times smooth_step, whose second derivative is nowhere more than 10/sqrt(3). As wide as this, its
    radius is nowhere less than that of the rim, however an even face slopes around it: a curve's curvature is never more
    than its second derivative.
    """
    return math.sqrt(_BEND * depth * pull.edge)


def pull_depth(pull: Pull) -> float:
    """Return how deep a pull is carved below the relief around it: less than wanted where its walls would meet before."""
    reach = min(pull.size) / 2
    return min(pull.depth, reach * reach / (_BEND * pull.edge))


def pull_share(pull: Pull, x: Array, y: Array) -> Array:
    """Return 1 on the bottom of a pull, 0 from its rim on outwards, smoothly falling between.

    The outline has two straight sides and two half circles; the wall is measured square to it.
    """
    half_width, half_height = pull.size[0] / 2, pull.size[1] / 2
    reach = min(half_width, half_height)
    right = np.maximum(np.abs(x - pull.centre[0]) - (half_width - reach), 0.0)
    up = np.maximum(np.abs(y - pull.centre[1]) - (half_height - reach), 0.0)
    return smooth_step((reach - np.hypot(right, up)) / pull_wall(pull, pull_depth(pull)))


def _pull(pull: Pull) -> Step:
    depth = pull_depth(pull)

    def apply(x: Array, y: Array, z: Array) -> Array:
        beside = any(
            float(places.min()) > middle + size / 2 or float(places.max()) < middle - size / 2
            for places, middle, size in zip((x, y), pull.centre, pull.size, strict=True)
        )
        return z if beside else z - depth * pull_share(pull, x, y)

    return apply


def _cap(cap: Cap, job: Job, layout: Layout) -> Step:
    doors = [door for door in layout.doors if cap.door in (None, door.number)]
    level = cap.edge in (Edge.TOP, Edge.BOTTOM)

    def apply(x: Array, y: Array, z: Array) -> Array:
        for door in doors:
            side = {Edge.LEFT: door.left, Edge.RIGHT: door.right, Edge.TOP: door.top, Edge.BOTTOM: door.bottom}[
                cap.edge
            ]
            rise = smooth_step((np.abs((y if level else x) - side) - cap.width) / cap.blend)
            limit = cap.height + rise * (job.highest + _ROUNDING - cap.height)
            here = (x >= door.left) & (x <= door.right)
            z = np.where(here, smooth_minimum(z, limit, _ROUNDING), z)
        return z

    return apply
