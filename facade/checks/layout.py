"""Layout: how the doors were divided, and whether the strips can be made and hung."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import islice
from typing import Any

from facade.checks import screws, swing, thickness
from facade.checks.asking import if_told, is_trying
from facade.checks.cures import typed, ways
from facade.checks.finding import Finding, Weight
from facade.checks.trying import stops_nothing
from facade.checks.words import at_least, told_apart
from facade.doors.gaps import as_typed, gapped, off_typed, with_gap
from facade.doors.movement import gaps_close
from facade.doors.spreading import spread
from facade.doors.trying import layout_with
from facade.front import Front
from facade.job import Job
from facade.job.changing import job_with
from facade.layout import Layout, layout_notes
from facade.rules import rule

_CHECK = "layout"
_OF_STRIPS = (thickness.check, screws.check, swing.check)  # what asks about strips that become wider, narrower or more
_RIPPING = "Ripping narrow stock: push block, riving knife, nothing thin between fence and blade."


def check(front: Front) -> list[Finding]:
    """Return what was solved, and what about widths and gaps wants a look."""
    told = [*layout_notes(front.job, front.layout.designed), *_as_built(front)]
    notes = [
        Finding(_CHECK, Weight.KNOW, note, topic=f"divided, {number}") for number, note in enumerate(told, start=1)
    ]
    return [*_not_as_typed(front), *_narrow(front), *_wide_gaps(front), *_tight(front), *notes]


def _as_built(front: Front) -> Iterator[str]:
    """Yield what came out otherwise than designed, and what follows from it; what is said of several doors once."""
    for words in dict.fromkeys(one.sentences for one in spread(front)):
        yield from [" ".join(words)] if words else []


def _not_as_typed(front: Front) -> Iterator[Finding]:
    """Yield that what was left over went into gaps that were typed."""
    job, layout = front.job.as_designed, front.layout.designed
    if not off_typed(job, layout) or job.strips.gap is None:
        return
    gap = job.strips.gap
    doors = [number for number, one in enumerate(layout.divisions, start=1) if one.count > 1]
    door = max(doors, key=lambda number: abs(layout.divisions[number - 1].gap - gap))
    division, show = layout.divisions[door - 1], job.ruler.text
    where = f" on door {door}" if job.front.door_widths else ""
    without = (
        "leave strips.edge out: what is left over then goes to the edges of the doors"
        if job.strips.edge is not None
        else ""
    )
    yield Finding(
        _CHECK,
        Weight.LOOK,
        f"Gaps were typed as {show(gap, 3)} and are {show(division.gap, 3)}{where}: strips of {show(division.width, 3)} do not end evenly, "
        f"and the {show(abs(division.left_over), 2)} left over is shared out over the gaps.",
        topic="gap not as typed",
        door=door,
        value=division.gap,
        limit=gap,
        source="said in the job",
        cure=if_told(lambda: ways(*_evenly(front), "" if job.front.hidden_joint else without)),
    )


def _evenly(front: Front) -> Iterator[str]:
    """Yield what makes the gaps what is typed."""
    for settings in as_typed(front.job.as_designed, front.layout.designed):
        said = typed(front.job, settings)
        if "strips.gap" not in settings and _closes_with(front, settings):
            continue
        if "strips.width" in settings:
            if stops_nothing(front, settings, _OF_STRIPS, some_strips=True):
                yield f"rip the strips to a width that ends evenly with these gaps: {said}"
        elif "strips.edge" in settings:
            yield f"leave it at the edges of the doors: {said}"
        else:
            yield f"keep the gaps as they are, and say so: {said}"


def _closes_with(front: Front, settings: dict[str, Any]) -> bool:
    layout = layout_with(front.job, settings)
    return layout is None or gaps_close(job_with(front.job, settings), layout)


def _narrow(front: Front) -> Iterator[Finding]:
    width, limit, job = _narrowest(front.layout), front.job.limit("narrow_strip"), front.job
    if width >= limit.value - 1e-6:
        return
    is_wide, wanted = told_apart(job.ruler, width, limit.value)
    sound = (
        one for one in _wider(front) if _all_wide(job, one) and stops_nothing(front, one, _OF_STRIPS, some_strips=True)
    )
    yield Finding(
        _CHECK,
        Weight.LOOK,
        f"Strips of {is_wide} are narrow: less than {wanted} is hard to rip, hold and screw.",
        topic="narrow strips",
        value=width,
        limit=limit.value,
        source=limit.source,
        cure=if_told(
            lambda: (
                ways(*(f"take wider strips: {typed(job, one)}" for one in islice(sound, 1)))
                or "Take fewer, wider strips."
            )
        ),
        caution=_RIPPING,
    )


def _narrowest(layout: Layout) -> float:
    return min(strip.width for strip in layout.strips)


def _all_wide(job: Job, settings: dict[str, Any]) -> bool:
    layout = layout_with(job, settings)
    return layout is not None and _narrowest(layout) >= job.limit("narrow_strip").value - 1e-6


def _wider(front: Front) -> Iterator[dict[str, Any]]:
    """Yield settings with strips that are wide enough, if they can be laid out: fewer, or of another width."""
    job, strips, division = front.job, front.job.strips, front.layout.divisions[0]
    limit = job.limit("narrow_strip").value
    width = {"strips.width": job.ruler.up(limit)} if strips.width is not None else {}
    if width and strips.count is None:
        yield width
    if strips.count is not None:
        doors = len(front.layout.doors)
        room = division.total - 2.0 * (strips.edge or 0.0) + division.gap
        each = min(int(room / (limit + division.gap) + 1e-6), division.count - 1)
        for fewer in range(each, max(each - 4, 0), -1):
            yield width | {"strips.count": fewer * doors}


def _wide_gaps(front: Front) -> Iterator[Finding]:
    """Yield that more of the doors is gap than wood."""
    job, some = front.job, gapped(front.layout)
    worst = max(some, key=lambda one: one.gap - one.width, default=None)
    if worst is None or worst.gap <= worst.width + 1e-6:
        return
    gap, strip = told_apart(job.ruler, worst.gap, worst.width)
    sound = (
        one
        for one in _closer(front)
        if _mostly_wood(job, one) and stops_nothing(front, one, _OF_STRIPS, some_strips=True)
    )
    yield Finding(
        _CHECK,
        Weight.LOOK,
        f"Gaps of {gap} are wider than the strips of {strip} between them: more of the doors is seen than of the relief.",
        topic="gaps wider than strips",
        door=front.layout.divisions.index(worst) + 1,
        value=worst.gap,
        limit=worst.width,
        source="measured on the layout",
        cure=if_told(
            lambda: (
                ways(*(f"{_closer_words(one)}: {typed(job, one)}" for one in sound))
                or "Take wider strips, more of them, or narrower gaps."
            )
        ),
    )


def _closer(front: Front) -> Iterator[dict[str, Any]]:
    """Yield settings with the usual gap, if they can be laid out: by the gap itself, by the strips' width or by their number."""
    job, strips, division = front.job, front.job.strips, front.layout.divisions[0]
    gap, edges = job.ruler.down(rule("gap")), 2.0 * (strips.edge or 0.0)
    if strips.gap is not None and (strips.count is None or strips.width is None):
        yield {"strips.gap": gap}
        return
    typed_gap = {"strips.gap": gap} if strips.gap is not None else {}
    if strips.width is not None and strips.count is not None:
        doors, room = len(front.layout.doors), division.total - edges
        yield {"strips.count": int((room + gap) / (strips.width + gap) + 1e-6) * doors} | typed_gap
        yield {"strips.width": job.ruler.down((room - (division.count - 1) * gap) / division.count)} | typed_gap


def _closer_words(settings: dict[str, Any]) -> str:
    if "strips.count" in settings:
        return "take more strips"
    return "take wider strips" if "strips.width" in settings else "take narrower gaps"


def _mostly_wood(job: Job, settings: dict[str, Any]) -> bool:
    layout = layout_with(job, settings)
    return layout is not None and all(one.gap <= one.width for one in gapped(layout)) and _narrowest(layout) >= 1.0


def _tight(front: Front) -> Iterator[Finding]:
    """Yield that gaps are tight, where movement does not say already that they close."""
    job, limit = front.job, front.job.limit("tight_gap")
    gap = min((division.gap for division in gapped(front.layout)), default=limit.value)
    if gap >= limit.value - 1e-6 or gaps_close(job, front.layout):
        return
    is_wide, wanted = told_apart(job.ruler, gap, limit.value)
    usual = job.ruler.up(max(rule("gap") - 1.0, limit.value))
    settings = with_gap(job, front.layout, usual)
    if settings is not None and not is_trying() and not stops_nothing(front, settings, _OF_STRIPS, some_strips=True):
        settings = None
    yield Finding(
        _CHECK,
        Weight.LOOK,
        f"Gaps of {is_wide} leave the strips little room to swell: less than {wanted} closes with a little finish, grit or a week that "
        "is damper than reckoned with.",
        topic="tight gaps",
        value=gap,
        limit=limit.value,
        source=limit.source,
        cure=ways(f"leave gaps of {at_least(job.ruler, usual)}: {typed(job, settings)}" if settings else "")
        or "Leave wider gaps, by narrower or fewer strips.",
    )
