"""Reveals: is there room around doors that stand in their case?"""

from __future__ import annotations

from collections.abc import Mapping

from facade.checks.cures import typed, ways
from facade.checks.finding import Finding, Weight
from facade.doors.fitting import fitting_settings
from facade.doors.opening import TOUCHES, OpeningFit, Span, usual_reveal
from facade.front import Front
from facade.job import Edge, Job, Neighbour

_NEAR = 0.01  # mm; less is written off
_WHERE = {Edge.LEFT: "at the left", Edge.RIGHT: "at the right", Edge.TOP: "above", Edge.BOTTOM: "below"}
_AXES = ((Edge.LEFT, Edge.RIGHT), (Edge.TOP, Edge.BOTTOM))


def reveal_findings(front: Front, fit: OpeningFit | None) -> list[Finding]:
    """Return the sides of inset doors at which no reveal, or too little, is left.

    With the opening measured it is what really remains of it beside, above and below the doors; else what the job says, at
    the sides where a case side or a wall stands, and above and below hinged doors in a case.
    """
    if fit is not None:
        if not fit.inset:
            return []
        spans = [span for span in fit.spans if not fit.stops(span)]
        rooms = [dict(zip(span.edges, span.remains, strict=True)) for span in spans]
        return [one for span, room in zip(spans, rooms, strict=True) for one in _of_axis(front, room, span)]
    held = held_edges(front.job)
    said = front.job.reveals
    rooms = [{edge: getattr(said, edge.value) for edge in axis if edge in held} for axis in _AXES]
    return [one for room in rooms for one in _of_axis(front, room, None)]


def held_edges(job: Job) -> tuple[Edge, ...]:
    """Return the edges of a front without a measured opening beside which something stands that doors must clear.

    A case side that ends behind the doors' boards is none: the doors lie over it.
    """
    sides = ((Edge.LEFT, job.beside.left), (Edge.RIGHT, job.beside.right))
    in_case = [
        edge for edge, side in sides if side.stands is Neighbour.CASE and side.forward > -job.board.thickness + _NEAR
    ]
    walls = [edge for edge, side in sides if side.stands is Neighbour.WALL]
    above = [Edge.TOP, Edge.BOTTOM] if in_case and job.hinges is not None else []
    return (*in_case, *walls, *above)


def _of_axis(front: Front, rooms: Mapping[Edge, float], span: Span | None) -> list[Finding]:
    """Return what stops, and what wants a look, of the reveals at both ends of one direction."""
    limit = front.job.limit("reveal_least").value
    none = {edge: room for edge, room in rooms.items() if room <= TOUCHES and (span is not None or limit > 0)}
    narrow = {edge: room for edge, room in rooms.items() if edge not in none and room < limit - _NEAR}
    found = [_none(front, none, span)] if none else []
    return [*found, _narrow(front, narrow, span)] if narrow else found


def _none(front: Front, rooms: Mapping[Edge, float], span: Span | None) -> Finding:
    show, several = front.job.ruler.text, len(front.layout.doors) > 1
    doors = "the doors" if several else "the door"
    if span is None:
        sentence = f"No reveal {_places(rooms)}: {doors} would touch what stands there."
    else:
        taken = "are" if several else "is"
        sentence = (
            f"No reveal {_places(rooms)}: {doors} {taken} {show(span.doors, 2)} {_how(span, several)} in an opening that takes "
            f"{show(span.fits, 2)}."
        )
    return _finding(front, Weight.STOPS, "no reveal", sentence, rooms, span)


def _narrow(front: Front, rooms: Mapping[Edge, float], span: Span | None) -> Finding:
    fine, limit = front.job.ruler.fine, front.job.limit("reveal_least")
    least = min(rooms.values())
    sentence = (
        f"The reveal {_places(rooms)} is {fine(least)}, less than {fine(limit.value)}: a door binds there when it swells, or when "
        "its hinges settle."
    )
    return _finding(front, Weight.LOOK, "narrow reveal", sentence, rooms, span)


def _how(span: Span, several: bool) -> str:
    if span.word == "height":
        return "high"
    return "wide with their spaces" if several else "wide"


def _finding(
    front: Front, weight: Weight, topic: str, sentence: str, rooms: Mapping[Edge, float], span: Span | None
) -> Finding:
    limit = front.job.limit("reveal_least")
    axis = "above and below" if next(iter(rooms)) in _AXES[1] else "at the sides"
    return Finding(
        "opening",
        weight,
        sentence,
        topic=f"{topic} {axis}",
        value=max(min(rooms.values()), 0.0),
        limit=limit.value,
        source=limit.source,
        cure=reveal_cure(front.job, rooms, span),
    )


def reveal_cure(job: Job, rooms: Mapping[Edge, float], span: Span | None) -> str:
    """Return the settings that give some sides the usual reveal, and what must change with them."""
    usual, said = usual_reveal(job), job.reveals
    wanted = {
        edge: job.ruler.up(max(getattr(said, edge.value) + usual - room, 0.0)) if span else usual
        for edge, room in rooms.items()
    }
    settings = fitting_settings(job, reveals=wanted)
    if settings is None:
        return f"Leave {job.ruler.text(usual, 3)} {_places(rooms)}: doors so much smaller need other strips."
    return ways(f"set {typed(job, settings)}", _other_ways(job, rooms, span))


def _other_ways(job: Job, rooms: Mapping[Edge, float], span: Span | None) -> str:
    """Return how a job without an opening says that nothing stands there; an opening leaves no other way."""
    if span is not None or not {Edge.TOP, Edge.BOTTOM} & set(rooms):
        return ""
    return 'if the doors lie over their case there, say so under [opening], with its mounting as "overlay"'


def _places(rooms: Mapping[Edge, float]) -> str:
    return " and ".join(_WHERE[edge] for edge in Edge if edge in rooms)
