"""Finger pulls on the finished surface: how deep, high and round they are, and what would make them so."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from facade.arrays import Array, smooth_step
from facade.front import Front
from facade.job import Job, Limit, Pull
from facade.surface import pull_depth, pull_share, pull_wall

MEASURED = 0.05  # mm; what is less beyond a limit is not worth a word
_UNEVEN = 1.5  # mm that a crowned face may take off a pull before it wants a land
_FINE = 0.5  # mm between the places where a rim's radius is taken


@dataclass(frozen=True)
class PullMeasures:
    """A pull on the finished surface; mm, places on the front.

    `depth` is measured below a straightedge laid over the rim upright; `height` and `width` are clear where half of the
    depth that fingers need is there; `wood` is the thinnest place, `radius` that of the sharpest convex place upright through
    the middle.
    """

    strips: tuple[int, ...]
    depth: float
    height: float
    width: float
    rim: float
    wood: float
    wood_at: tuple[float, float]
    radius: float
    radius_at: tuple[float, float]


def measure_pull(front: Front, pull: Pull) -> PullMeasures | None:
    """Return a pull's measures, None where it lies on no strip."""
    columns, numbers = columns_on_strips(front, pull.centre[0], pull.size[0], 1.0)
    if not len(columns):
        return None
    rows = rows_on_strips(front, pull.centre[1], pull.size[1], 0.25)
    heights = front.surface.at(columns[None, :], rows[:, None])
    depth = _straightedge(front, pull, columns, rows) - heights
    inside = pull_share(pull, columns[None, :], rows[:, None]) > 0.0
    depth = np.where(inside, depth, 0.0)
    row, column = np.unravel_index(int(depth.argmax()), depth.shape)
    thin = np.unravel_index(int(np.where(inside, heights, np.inf).argmin()), depth.shape)
    clear = _extents(depth, rows, front.job.limit("finger_depth").value / 2)
    aside = np.abs(columns - pull.centre[0])
    middle = aside <= max(min(pull.size[0] / 4, (pull.size[0] - pull.size[1]) / 2), float(aside.min()))
    across = columns[depth[np.abs(rows - pull.centre[1]).argmin()] >= front.job.limit("finger_depth").value / 2]
    radius, radius_at = _sharpest(front, pull, float(columns[aside.argmin()]))
    return PullMeasures(
        strips=numbers,
        depth=float(depth[row, column]),
        height=float(clear[middle].min()),
        width=float(np.ptp(across)) if len(across) else 0.0,
        rim=float(heights[row, column] + depth[row, column]),
        wood=float(heights[thin]),
        wood_at=(float(columns[thin[1]]), float(rows[thin[0]])),
        radius=radius,
        radius_at=radius_at,
    )


def columns_on_strips(front: Front, middle: float, size: float, step: float) -> tuple[Array, tuple[int, ...]]:
    """Return places across that lie on strips, about 200 at most, both ends exact, and the numbers of the strips."""
    left, right = middle - size / 2, middle + size / 2
    strips = [strip for strip in front.layout.strips if strip.right > left and strip.left < right]
    step = max(step, size / 200)
    parts = []
    for strip in strips:
        start, end = max(strip.left, left), min(strip.right, right)
        parts.append(np.linspace(start, end, math.ceil((end - start) / step) + 1))
    places = np.concatenate(parts) if parts else np.empty(0)
    return places, tuple(strip.number for strip in strips)


def rows_on_strips(front: Front, middle: float, size: float, step: float) -> Array:
    """Return places along that lie on the strips, at most about 400, both ends exact."""
    strip = front.layout.strips[0]
    low, high = max(middle - size / 2, strip.bottom), min(middle + size / 2, strip.top)
    return np.linspace(low, max(low, high), max(2, math.ceil((high - low) / max(step, size / 400)) + 1))


def _straightedge(front: Front, pull: Pull, columns: Array, rows: Array) -> Array:
    """Return the heights (rows, columns) of a straightedge that lies upright over the rim at each column."""
    reach = min(pull.size) / 2
    beside = np.maximum(np.abs(columns - pull.centre[0]) - (pull.size[0] / 2 - reach), 0.0)
    half = pull.size[1] / 2 - reach + np.sqrt(np.maximum(reach**2 - beside**2, 0.0))
    below, above = (front.surface.at(columns, pull.centre[1] + sign * half) for sign in (-1.0, 1.0))
    share = (rows[:, None] - (pull.centre[1] - half)) / np.maximum(2 * half, 1e-9)
    edge: Array = below + share * (above - below)
    return edge


def _extents(depth: Array, rows: Array, least: float) -> Array:
    """Return for each column how far it is from the first to the last place of at least some depth."""
    deep = depth >= least
    first, last = deep.argmax(axis=0), len(rows) - 1 - deep[::-1].argmax(axis=0)
    across = np.arange(depth.shape[1])
    reach = _crossing(depth, rows, last, 1, least, across) - _crossing(depth, rows, first, -1, least, across)
    extents: Array = np.where(deep.any(axis=0), reach, 0.0)
    return extents


def _crossing(depth: Array, rows: Array, at: np.ndarray, way: int, least: float, across: np.ndarray) -> Array:
    """Return where each column comes to a depth, between the last row that has it and the next."""
    beyond = np.clip(at + way, 0, len(rows) - 1)
    inner, outer = depth[at, across], depth[beyond, across]
    share = np.where(inner > outer, (inner - least) / np.maximum(inner - outer, 1e-12), 0.0)
    place: Array = rows[at] + share * (rows[beyond] - rows[at])
    return place


def _sharpest(front: Front, pull: Pull, x: float) -> tuple[float, tuple[float, float]]:
    """Return the least convex radius upright through x, from just below the pull to just above it, and its place.

    Curvature -z'' / (1 + z'^2)^(3/2), by central differences.
    """
    rows = rows_on_strips(front, pull.centre[1], pull.size[1] + 2 * pull.edge, 0.0)
    step = max(_FINE, float(np.ptp(rows)) / 4000)
    rows = np.arange(rows[0], rows[-1], step)
    if len(rows) < 3:
        return math.inf, (x, pull.centre[1])
    z = front.surface.at(np.array([[x]]), rows[:, None])[:, 0]
    slope, bend = (z[2:] - z[:-2]) / (2 * step), (z[2:] - 2 * z[1:-1] + z[:-2]) / step**2
    curvature = -bend / (1.0 + slope**2) ** 1.5
    row = int(curvature.argmax())
    most = float(curvature[row])
    return (1.0 / most if most > 1e-9 else math.inf), (x, float(rows[row + 1]))


@dataclass(frozen=True)
class PullCure:
    """The pull as it keeps all its limits; the height of a land that it needs under it, mm, and of how much thicker blanks."""

    pull: Pull
    land: float | None
    thicker: float


def cure_of(job: Job, pull: Pull, measured: PullMeasures) -> PullCure:
    """Return what makes a pull deep, high and round enough, and leaves wood enough.

    On a face that is a little crowned what this takes off is added: to the depth what is missing of the depth carved, to the
    height what is missing of the height that the walls leave on a level face. A face that is more uneven, too low or creased
    wants a land.
    """
    wanted = job.limit("finger_depth").value
    lost, lower = _worth(pull_depth(pull) - measured.depth), _crowned(pull, measured, wanted)
    cut_short = measured.wood <= job.wood.floor + 1e-6
    uneven = lower > _UNEVEN or (lost > _UNEVEN and not cut_short)
    # Sharper than its own rim, it meets a face that is creased or cut off flat there.
    creased = measured.radius < 0.9 * min(pull.edge, job.limit("finger_edge").value)
    cured = _cured(job, pull, measured, 0.0 if cut_short else lost, lower)
    if not (uneven or creased or _too_low(job, cured, measured)):
        return PullCure(cured, None, 0.0)
    cured = _cured(job, pull, measured, 0.0, 0.0)
    height = max(_ground(job) + _taken(job, cured), measured.rim if uneven or creased else 0.0)
    if height <= job.highest:
        return PullCure(cured, min(job.ruler.up(height), job.highest), 0.0)
    return PullCure(cured, job.highest, job.ruler.up(_ground(job) + _taken(job, cured) - job.highest))


def least_wood(job: Job) -> Limit:
    """Return how much wood must be left under a pull: what fingers press on, and no less than breaks in the hand."""
    return max((job.limit("finger_wood"), job.limit("thin_least")), key=lambda limit: limit.value)


def _ground(job: Job) -> float:
    """Return how high the bottom of a pull must stay."""
    return max(job.wood.floor, least_wood(job).value)


def _taken(job: Job, cured: Pull) -> float:
    """Return how much deeper than its rim a pull goes: no deeper than fingers need where the floor ends it anyway."""
    wanted = job.limit("finger_depth").value
    return max(wanted, pull_depth(cured)) if job.wood.floor < least_wood(job).value else wanted


def _too_low(job: Job, cured: Pull, measured: PullMeasures) -> bool:
    """Return whether the face is too low for a pull that leaves the wood that it must."""
    least, wanted = least_wood(job).value, job.limit("finger_depth").value
    shallow = measured.depth < wanted - MEASURED and measured.wood <= job.wood.floor + 1e-6
    low = measured.rim - _taken(job, cured) < _ground(job) - MEASURED
    return measured.wood < least - 1e-6 or shallow or low


def _cured(job: Job, pull: Pull, measured: PullMeasures, lost: float, lower: float) -> Pull:
    """Return a pull that is deep, high and round enough where its depth is less by `lost`, its clear height by `lower`."""
    wanted = job.limit("finger_depth").value
    sharp = measured.radius < 0.98 * job.limit("finger_edge").value
    edge = max(pull.edge, job.ruler.up(job.limit("finger_edge").value)) if sharp else pull.edge
    depth = max(pull.depth, job.ruler.up(wanted + lost)) if measured.depth < wanted - MEASURED else pull.depth
    cured = pull.model_copy(update={"depth": depth, "edge": edge})
    walls = 2 * pull_wall(cured, min(depth, wanted + lost))
    height = max(walls, job.limit("finger_height").value + 2 * _half_deep(cured, wanted) + lower)
    size = tuple(
        now if now >= least else job.ruler.up(least) for now, least in zip(pull.size, (walls, height), strict=True)
    )
    return cured.model_copy(update={"size": size})


def _half_deep(pull: Pull, wanted: float) -> float:
    """Return how far inside the rim a pull is half as deep as fingers need, on a level face."""
    share = np.linspace(0.0, 1.0, 2001)
    deep = pull.depth * smooth_step(share)
    return pull_wall(pull, pull.depth) * float(np.interp(wanted / 2, deep, share))


def _crowned(pull: Pull, measured: PullMeasures, wanted: float) -> float:
    """Return how much lower a pull is clear than it would be on a level face."""
    carved = pull.model_copy(update={"depth": pull_depth(pull)})
    if carved.depth < wanted / 2 or measured.height == 0.0:
        return 0.0
    return _worth(pull.size[1] - 2 * _half_deep(carved, wanted) - measured.height)


def _worth(lost: float) -> float:
    """Return what is lost, nothing where it is less than is measured."""
    return lost if lost > MEASURED else 0.0
