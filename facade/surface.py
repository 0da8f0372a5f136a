"""The finished shape: the relief fitted to the wood, in mm above the back of the strips."""

from __future__ import annotations

import itertools
import math
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from facade.arrays import Array, smooth_maximum, smooth_minimum, smooth_step
from facade.errors import mistake
from facade.job import Cap, DoorPattern, Edge, Fade, Fit, Job, Keep, Land, Pull, Shape
from facade.layout import EXACT, Door, Layout
from facade.reliefs import Canvas, Heights, combined, finest

# Heights are rounded to 2^-20 mm, about a nanometre: machines whose sines differ in the last bit then agree on every height.
GRAIN = float(2**20)
# Extremes are looked for on a grid of this step, then closed in on until they hold to a millionth of the range.
_SEARCH_STEP = 4.0  # mm
# Waves shorter than two of its steps are looked at so many times each, on a grid of at most so many places.
_SEARCHES, _MOST_SEARCHED = 4.0, 12_000_000
_SAME = 1e-5  # share of the range by which an extreme found on the finer grid is another one
_TILE = 400  # places across and along that are looked at in one go
_BEND = 10.0 / math.sqrt(3.0)  # greatest second derivative of smooth_step
_REMEMBERED = 4_000_000  # heights of a relief that are kept where it is asked for them again: 32 MB
_ROUNDING = 1.0  # mm over which a land "at least" and a cap are rounded into the relief

# What is this far beyond the reach of a land or a cap, mm, is beyond it whatever was rounded on the way.
_HAIR = 1e-6
# Nobody asks for heights further beyond the outermost strips than this, mm.
_BEYOND = 1000.0

Step = Callable[[Array, Array, Array], Array]
"""A change of the heights at (x, y): takes x, y, z and gives the new z, which may be the z it took, changed in place."""
Box = tuple[float, float, float, float]
"""Part of the front: from x, to x, from y, to y, mm."""


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
        self,
        relief: Heights,
        spread: Heights | None,
        fitted: Fitted,
        steps: list[Step],
        floor: float,
        highest: float,
        shortest: float = math.inf,
    ) -> None:
        """`spread` turns a place's x on the front into its x on the relief, None where they are the same.

        `shortest` is about how short the relief's shortest wave is, mm.
        """
        self._relief = relief
        self._spread = spread
        self.fitted = fitted
        self._steps = steps
        self.floor = floor
        self.highest = highest
        self.shortest = shortest

    def at(self, x: Array, y: Array) -> Array:
        """Return the finished heights in mm at (x, y) on the front, arrays in mm, of one dimension or more, that broadcast together.

        An open grid, x of shape (1, n) and y of shape (m, 1), is quickest. No height is below the floor or above what
        the blank leaves after sanding.
        """
        return self._finished(x, y, self._fitted_relief(x, y))

    def _finished(self, x: Array, y: Array, relief: Array) -> Array:
        """Return the same from the fitted relief's heights, which are written over."""
        z = self._changed(x, y, relief)
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
        return self._changed(x, y, self._fitted_relief(x, y))

    def _fitted_relief(self, x: Array, y: Array) -> Array:
        """Return the heights that the relief alone asks for, in an array of its own; shape as in `at`."""
        u = x if self._spread is None else self._spread(x, y)
        z = np.asarray(self._relief(u, y), dtype=np.float64)
        shape = np.broadcast_shapes(x.shape, y.shape)
        z = np.array(np.broadcast_to(z, shape)) if z.shape != shape else z.copy()
        z *= self.fitted.scale
        z += self.fitted.offset
        return z

    def _changed(self, x: Array, y: Array, z: Array) -> Array:
        """Return the relief's heights with fades, lands, pulls and caps; they are written over."""
        for step in self._steps:
            z = step(x, y, z)
        return z


@dataclass(frozen=True)
class Moves:
    """Where strips hang and where they were carved: edges from the left, mm on the front, two for each strip.

    `jumps` (n, 4) are gaps in which strips were left out: the gap's sides where it is, and the edges beside it as carved.
    """

    hung: Array
    carved: Array
    jumps: Array


class Moved(Surface):
    """A surface whose strips hang elsewhere than they were carved for: each keeps the heights that it was designed with.

    In a gap in which strips were left out it runs straight from one edge to the next.
    """

    def __init__(self, carved: Surface, moves: Moves) -> None:
        self.carved, self.moves = carved, moves
        self.fitted, self.floor, self.highest = carved.fitted, carved.floor, carved.highest
        self.shortest = carved.shortest

    def of(self, carved: Surface) -> Moved:
        """Return another surface with its strips hung like these."""
        return Moved(carved, self.moves)

    def at(self, x: Array, y: Array) -> Array:
        return self._moved(self.carved.at, x, y)

    def wanted(self, x: Array, y: Array) -> Array:
        return self._moved(self.carved.wanted, x, y)

    def remember(self) -> None:
        self.carved.remember()

    def _moved(self, heights: Heights, x: Array, y: Array) -> Array:
        z = heights(np.interp(x, self.moves.hung, self.moves.carved), y)
        for left, right, *beside in self.moves.jumps.tolist():
            inside = (x > left) & (x < right)
            if not inside.any():
                continue
            across, along = np.broadcast_arrays(x, y)
            inside = np.broadcast_to(inside, across.shape)
            edge, far = (heights(np.full(int(inside.sum()), one), along[inside]) for one in beside)
            z[inside] = edge + (across[inside] - left) / (right - left) * (far - edge)
        return z


def as_carved(surface: Surface) -> Surface:
    """Return a surface with every strip where it was carved for, before any of them moved."""
    return surface.carved if isinstance(surface, Moved) else surface


def _moves(layout: Layout) -> Moves:
    """Return where the strips of a layout hang and where they were carved; beyond the outermost nothing is stretched."""
    carved = [layout.designed.strip(place.number) for place in layout.strips]
    hung = np.array([edge for place in layout.strips for edge in (place.left, place.right)])
    were = np.array([edge for place in carved for edge in (place.left, place.right)])
    jumps = [
        (here.right, beside.left, was.right, then.left)
        for (here, beside), (was, then) in zip(
            itertools.pairwise(layout.strips), itertools.pairwise(carved), strict=True
        )
        if then.number > was.number + 1 and beside.left > here.right
    ]
    ends = [(were[0] - _BEYOND, hung[0] - _BEYOND), (were[-1] + _BEYOND, hung[-1] + _BEYOND)]
    were = np.concatenate([[ends[0][0]], were, [ends[1][0]]])
    hung = np.concatenate([[ends[0][1]], hung, [ends[1][1]]])
    return Moves(hung, were, np.array(jumps).reshape(-1, 4))


def both_at(first: Surface, second: Surface, x: Array, y: Array) -> tuple[Array, Array]:
    """Return the heights of two surfaces at (x, y), shapes as in `Surface.at`; one of them is made `like` the other.

    Their relief, which takes by far the longest, is worked out once.
    """
    relief = first._fitted_relief(x, y)
    return first._finished(x, y, relief.copy()), second._finished(x, y, relief)


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


def make_surface(job: Job, layout: Layout, like: Surface | None = None, *, layers: bool = True) -> Surface:
    """Return the surface of a job: relief, fit, then fades, lands, pulls and caps, then floor and blank.

    `like` is a surface of the same layers on the same layout: its relief is not looked through again. Where the `layers` are
    not the same its fit is taken: near enough where they are the same shapes at another size. Where strips hang elsewhere than
    they were designed to, their heights move with them.
    """
    if isinstance(like, Moved):
        return like.of(make_surface(job, layout.designed, like.carved, layers=layers))
    if layout.plan is not None:
        return Moved(make_surface(job, layout.plan, like, layers=layers), _moves(layout))
    if like is not None and layers:
        relief, spread, shortest = like._relief, like._spread, like.shortest
        fitted = _fit(job, like.fitted.lowest, like.fitted.highest)
    else:
        canvas, spread = _canvas(job, layout)
        relief, shortest = combined(job.layers, canvas), finest(job.layers, canvas)
        fitted = _fit(job, *_finite_extremes(relief, canvas, shortest)) if like is None else like.fitted
    return Surface(relief, spread, fitted, _steps(job, layout), job.wood.floor, min(job.highest, job.blank), shortest)


def _steps(job: Job, layout: Layout) -> list[Step]:
    steps = [_fade(fade, job) for fade in job.fades]
    local = [(_land_box(land), _land(land, job)) for land in job.lands]
    local += [(_pull_box(pull), _pull(pull)) for pull in job.pulls]
    steps += [_locally(local)] if local else []
    steps += [_cap(cap, job, layout) for cap in job.caps]
    return steps


def _canvas(job: Job, layout: Layout) -> tuple[Canvas, Heights | None]:
    """Return the rectangle the relief is made for, and how x on the front becomes x on it."""
    pattern, packed = job.carving.doors, job.carving.packed
    if pattern is DoorPattern.CONTINUOUS and not packed:
        return Canvas(layout.width, layout.height), None
    places, on_relief = [], []
    width = 0.0
    for door in layout.doors:
        strips = layout.on_door(door)
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


def _finite_extremes(relief: Heights, canvas: Canvas, shortest: float) -> tuple[float, float]:
    """Return the lowest and highest value of a relief; raises JobError where they are not finite."""
    with np.errstate(all="ignore"):
        lowest, highest = extremes(relief, canvas, shortest)
    if not np.isfinite([lowest, highest]).all():
        raise mistake(
            "layers", "`layers` must give finite heights (they overflow): make sizes larger, or amounts smaller"
        )
    return lowest, highest


def _fit(job: Job, lowest: float, highest: float) -> Fitted:
    """Return the scale and offset that the job's fit asks for, by the relief's extremes."""
    if job.carving.fit is Fit.AS_GIVEN:
        return Fitted(0.0, 1.0, lowest, highest)
    depth = job.highest - job.wood.floor if job.carving.fit is Fit.FULL else float(job.carving.depth or 0.0)
    spread = highest - lowest
    if spread <= 1e-9 * max(1.0, abs(lowest), abs(highest)):
        return Fitted(job.highest, 0.0, lowest, highest)
    scale = depth / spread
    return Fitted(job.highest - scale * highest, scale, lowest, highest)


def extremes(relief: Heights, canvas: Canvas, shortest: float = math.inf) -> tuple[float, float]:
    """Return the lowest and highest value of a relief on its canvas, to a millionth of the range between them.

    They are looked for every 4 mm, or in 48 parts of a small side, whatever the job's own step; then the best places
    are closed in on, 4 times finer at each turn. Waves that could hide between these places, `shortest` mm long, are looked
    for on a finer grid as well.
    """
    lowest, highest = _extremes(relief, canvas, _SEARCH_STEP)
    if shortest < 2.0 * _SEARCH_STEP and math.isfinite(highest - lowest):
        step = max(shortest / _SEARCHES, math.sqrt(canvas.width * canvas.height / _MOST_SEARCHED))
        lower, higher = _extremes(relief, canvas, step)
        hair = _SAME * (max(highest, higher) - min(lowest, lower))
        lowest, highest = lower if lower < lowest - hair else lowest, higher if higher > highest + hair else highest
    return lowest, highest


def _extremes(relief: Heights, canvas: Canvas, step: float) -> tuple[float, float]:
    """Return the lowest and highest value that are found from places at most `step` apart."""
    columns = max(48, int(np.ceil(canvas.width / step)))
    rows = max(48, int(np.ceil(canvas.height / step)))
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


def _locally(changes: Sequence[tuple[Box, Step]]) -> Step:
    """Return changes of the heights, one after the other, each worked out in its own box alone: outside it changes nothing."""
    boxes = np.array([box for box, _ in changes])

    def apply(x: Array, y: Array, z: Array) -> Array:
        if not z.size:
            return z
        reached = (
            (boxes[:, 0] <= x.max()) & (boxes[:, 1] >= x.min()) & (boxes[:, 2] <= y.max()) & (boxes[:, 3] >= y.min())
        )
        for index in np.flatnonzero(reached).tolist():
            box, change = changes[index]
            _change_in(box, change, x, y, z)
        return z

    return apply


def _change_in(box: Box, change: Step, x: Array, y: Array, z: Array) -> None:
    """Change the heights z at (x, y), in place, where they lie in a box."""
    left, right, bottom, top = box
    across, along = (x >= left) & (x <= right), (y >= bottom) & (y <= top)
    if x.ndim == y.ndim == 2 and x.shape[0] == 1 and y.shape[1] == 1:
        columns, rows = np.flatnonzero(across[0]), np.flatnonzero(along[:, 0])
        if len(columns) and len(rows):
            column, row = slice(columns[0], columns[-1] + 1), slice(rows[0], rows[-1] + 1)
            z[row, column] = change(x[:, column], y[row], z[row, column])
        return
    inside = np.broadcast_to(across & along, z.shape)
    if inside.any():
        x, y = np.broadcast_to(x, z.shape), np.broadcast_to(y, z.shape)
        z[inside] = change(x[inside], y[inside], z[inside])


def _around(centre: tuple[float, float], size: tuple[float, float], beyond: float) -> Box:
    x, y = (size[0] / 2 + beyond, size[1] / 2 + beyond)
    return centre[0] - x, centre[0] + x, centre[1] - y, centre[1] + y


def _land_box(land: Land) -> Box:
    """Return the box that a land with its blend lies in: on a ray from the middle, nothing is nearer than the box's sides."""
    return _around(land.centre, land.size, land.blend + _HAIR)


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


def _pull_box(pull: Pull) -> Box:
    return _around(pull.centre, pull.size, _HAIR)


def pulled(pulls: Iterable[Pull], x: Array, y: Array) -> NDArray[np.bool_]:
    """Return where pulls are carved; x and y broadcast together."""
    inside = np.zeros(np.broadcast_shapes(x.shape, y.shape), dtype=bool)
    for pull in pulls:
        inside |= pull_share(pull, x, y) > 0.0
    return inside


def _pull(pull: Pull) -> Step:
    depth = pull_depth(pull)
    return lambda x, y, z: z - depth * pull_share(pull, x, y)


def _cap(cap: Cap, job: Job, layout: Layout) -> Step:
    return _locally(
        [(_door_box(door), _capped(cap, door, job)) for door in layout.doors if cap.door in (None, door.number)]
    )


def _door_box(door: Door) -> Box:
    return door.left, door.right, -math.inf, math.inf


def _capped(cap: Cap, door: Door, job: Job) -> Step:
    level = cap.edge in (Edge.TOP, Edge.BOTTOM)
    side = {Edge.LEFT: door.left, Edge.RIGHT: door.right, Edge.TOP: door.top, Edge.BOTTOM: door.bottom}[cap.edge]

    def apply(x: Array, y: Array, z: Array) -> Array:
        rise = smooth_step((np.abs((y if level else x) - side) - cap.width) / cap.blend)
        limit = cap.height + rise * (job.highest + _ROUNDING - cap.height)
        return smooth_minimum(z, limit, _ROUNDING)

    return apply
