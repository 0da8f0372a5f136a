"""What is said of an option: its figures, its findings and its own values, in the job's unit."""

from __future__ import annotations

from facade.front import Front
from facade.job.places import name_of
from facade.lengths import MM_PER_INCH, Unit
from facade.options.exploring import Option, Options

# A board foot is 144 cubic inches: common practice in the timber trade.
_BOARD_FOOT = 144.0 * MM_PER_INCH**3


def figure_lines(option: Option) -> list[str]:
    """Return an option's figures, one line each: the strips, the shape, the wood, the light."""
    tried, front = option.shown.tried, option.front
    figures, show = tried.figures, front.job.ruler.text
    assert figures is not None
    return [
        f"{figures.strips} strips of {front.job.wood.species}",
        f"carved {show(figures.depth, 1)} deep, thinnest {show(figures.thinnest, 1)}",
        f"steepest {figures.steepest:.0f} degrees along the grain",
        f"blanks {wood_text(front, figures.blanks)}, {figures.waste:.0%} of it carved away",
        f"bright slopes to dark ones {option.shown.contrast:.1f} : 1",
    ]


def tried_text(options: Options) -> str:
    """Return how many variants were tried, and whether they can be made."""
    unmade = f"{options.unmade} of which cannot be made" if options.unmade else "all of which can be made"
    return f"{len(options.options)} options out of {options.tried} variants, {unmade}"


def wood_text(front: Front, volume: float) -> str:
    """Return a volume of wood as it is bought: mm3 in, cubic metres or board feet out."""
    if front.job.unit is Unit.MM:
        return f"{volume / 1e9:.4f} m3"
    return f"{volume / _BOARD_FOOT:.1f} board feet"


def verdict_line(option: Option) -> str:
    """Return what the checks found, in one line."""
    tried = option.shown.tried
    look = f"{tried.looks} to look at" if tried.looks else "nothing to look at"
    return f"CANNOT BE MADE: {len(tried.stops)} stop it" if tried.stops else f"nothing stops it, {look}"


def value_lines(option: Option) -> list[str]:
    """Return what is its own, as it stands in a job file; of the job as it stands, that it is."""
    if not option.point:
        return ["the job as it stands"]
    return [f"{name_of(path)} = {_value(value)}" for path, value in option.point]


def _value(value: str | int | float) -> str:
    return f'"{value}"' if isinstance(value, str) else f"{value:g}"
