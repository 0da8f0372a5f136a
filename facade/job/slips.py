"""Figures far outside furniture: asked about in a sentence that names the slip that they look like."""

from __future__ import annotations

import math
from dataclasses import dataclass

from facade.job.lines import Place
from facade.job.mistakes import field_name, looks_like_mm
from facade.job.model import Job
from facade.lengths import MM_PER_INCH, Unit


@dataclass(frozen=True)
class _Figure:
    """A length of the job, the limit that asks about it, and from what figure on it would be a usual one in mm."""

    place: Place
    mm: float
    limit: str
    usual: float


def out_of_scale(job: Job) -> list[tuple[Place, str]]:
    """Return the lengths that are far outside furniture, each with a sentence; a job's own limit answers for it."""
    inches = job.unit is Unit.INCH
    figures = [
        _Figure(("front", "width"), job.front.width, "front_widest_inch" if inches else "front_widest", 100.0),
        _Figure(("front", "height"), job.front.height, "front_highest", 100.0),
        _Figure(("wood", "blank"), job.wood.blank, "blank_thickest", 8.0),
    ]
    if job.strips.width is not None:
        figures.append(_Figure(("strips", "width"), job.strips.width, "strip_widest", 8.0))
    found = [(one.place, _too_large(job, one)) for one in figures if one.mm > job.limit(one.limit).value + 1e-6]
    return [*found, *_inches_as_mm(job), *_pulls_through(job)]


def _too_large(job: Job, figure: _Figure) -> str:
    show, limit = job.ruler.text, job.limit(figure.limit).value
    return (
        f"`{field_name(figure.place)}` must be at most {show(limit)} (got {show(figure.mm, 3)}): {_slip(job, figure.mm, figure.usual)} "
        f"If it is meant, say so: limits.{figure.limit} = {math.ceil(figure.mm / job.unit.in_mm - 1e-6)}"
    )


def _slip(job: Job, mm: float, usual: float) -> str:
    """Return what a figure that is too large looks like: millimetres in a job in inches, or a digit too many."""
    if job.unit is Unit.INCH and mm / MM_PER_INCH >= usual:
        return f"{looks_like_mm(mm / MM_PER_INCH)}."
    return "is there a digit too many, or is a decimal point missing?"


def _inches_as_mm(job: Job) -> list[tuple[Place, str]]:
    """Return a small front of thin wood, as one whose inches were read as millimetres has."""
    front, wood, small, thin = job.front, job.wood, job.limit("front_smallest"), job.limit("blank_thinnest")
    large = max(front.width, front.height) >= small.value or wood.blank >= thin.value
    if job.unit is Unit.INCH or large:
        return []
    return [
        (
            ("unit",),
            f"`unit` is mm, and a front of {front.width:g} mm by {front.height:g} mm with a blank of {wood.blank:g} mm looks like inches: "
            f'write unit = "in", or lengths such as "{wood.blank:g} in". If it is meant, say so: limits.blank_thinnest = '
            f"{math.floor(wood.blank)}",
        )
    ]


def _pulls_through(job: Job) -> list[tuple[Place, str]]:
    """Return the pulls that are deeper than the wood is thick."""
    show, blank = job.ruler.text, job.wood.blank
    return [
        (
            ("pulls", index, "depth"),
            f"`pulls[{index + 1}].depth` must be less than the blank, {show(blank, 3)}, or the pull goes through (got "
            f"{show(pull.depth, 3)}): {_slip(job, pull.depth, 3.0)}",
        )
        for index, pull in enumerate(job.pulls)
        if pull.depth >= blank - 1e-9
    ]
