"""Settings with which the gaps between strips become what is wanted, found by laying the front out with them."""

from __future__ import annotations

import math
from typing import Any

from facade.doors.trying import layout_with
from facade.job.changing import Settings, job_with
from facade.job.model import Job
from facade.layout import Division, Layout
from facade.lengths import MM_PER_INCH, Unit

# A gap that is off by less than this is as it was typed: no more than a job file's last decimal leaves.
AS_TYPED = 0.005  # mm


def gapped(layout: Layout) -> list[Division]:
    """Return the doors' divisions that have gaps."""
    return [division for division in layout.divisions if division.count > 1]


def off_typed(job: Job, layout: Layout) -> float:
    """Return by how much the gaps are wider or narrower than the job says at most, mm; 0 where they are as typed."""
    if job.strips.gap is None:
        return 0.0
    most = max((abs(division.gap - job.strips.gap) for division in gapped(layout)), default=0.0)
    return most if most > AS_TYPED else 0.0


def with_gap(job: Job, layout: Layout, gap: float) -> dict[str, Any] | None:
    """Return settings with which every gap is at least `gap` mm, and as typed; None where there are none.

    Strips become narrower, by their own width where count and width are given, else as the layout solves it.
    """
    strips = job.strips
    if strips.count is not None and strips.width is not None:
        division = layout.divisions[0]
        total = division.total - 2.0 * (strips.edge or 0.0)
        width = job.ruler.down((total - (division.count - 1) * gap) / division.count)
        settings: dict[str, Any] = {"strips.width": width} | ({"strips.gap": gap} if strips.gap is not None else {})
        return settings if width >= 1.0 and _wide_enough(job, settings, gap) else None
    settings = {"strips.gap": gap}
    changed = _wide_enough(job, settings, gap)
    if changed is not None and any(abs(division.gap - gap) > AS_TYPED for division in gapped(changed)):
        # What is left over widens the gaps: say the gap that comes of it.
        settings = {"strips.gap": finely_down(job, min(division.gap for division in gapped(changed)))}
        changed = _wide_enough(job, settings, gap)
    return settings if changed is not None else None


def _wide_enough(job: Job, settings: Settings, gap: float) -> Layout | None:
    layout = layout_with(job, settings)
    if layout is None or any(division.gap < gap - 1e-6 for division in gapped(layout)):
        return None
    return layout


def finely_down(job: Job, mm: float) -> float:
    """Return a length rounded down to the last decimal that a cure shows: a thousandth of a mm, or a ten-thousandth of an inch."""
    part = 0.001 if job.unit is Unit.MM else MM_PER_INCH / 10_000
    return round(math.floor(mm / part + 1e-6) * part, 9)


def as_typed(job: Job, layout: Layout) -> list[dict[str, Any]]:
    """Return settings with which the gaps are what the job says: strips of another width, more at the edges, or another gap."""
    strips, (division, *_) = job.strips, gapped(layout)
    gap, width, edge = strips.gap, strips.width, strips.edge or 0.0
    if gap is None or width is None:
        return []
    doors = len(layout.doors) if job.front.hidden_joint else 1
    count = division.count * doors
    whole = count * width + (count - 1) * division.gap
    widths = [finely_down(job, (whole - (n - 1) * gap) / n) for n in (count, count + doors)]
    nearest = min(widths, key=lambda one: abs(one - width))
    tried: list[dict[str, Any]] = [
        {"strips.width": nearest},
        {"strips.edge": finely_down(job, edge + (count - 1) * (division.gap - gap) / 2.0)},
        {"strips.gap": finely_down(job, division.gap)},
    ]
    return [settings for settings in tried if _is_as_typed(job, settings)]


def _is_as_typed(job: Job, settings: Settings) -> bool:
    layout = layout_with(job, settings)
    return layout is not None and off_typed(job_with(job, settings), layout) == 0.0
