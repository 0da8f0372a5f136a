"""Swing: does every door turn past its neighbours, the case and the wall?"""

from __future__ import annotations

import math
from itertools import islice

from facade.checks.cures import added, length
from facade.checks.finding import Finding, Weight
from facade.doors.clearing import clearing_cap, closing_bevel, opens_leaving, room_told, swing_with, turns_clear
from facade.doors.swing import Passage, Place, Swing, swings
from facade.front import Front
from facade.job.hanging import Neighbour, Pivot
from facade.job.model import Cap, Job

_OWN_PATH = (
    "The pin is taken as fixed: a hinge that slides the door over as it turns follows a path of its own, on its sheet."
)
_CAUTION = (
    "Bevel the board before strips are screwed to it, or keep the screws clear of the bevel: a blade that meets a screw throws "
    "pieces. The tool's manual, local rules and trained practice come first."
)
_SQUARE = 90.0
_PIVOTS = {Pivot.FRONT: "a pin at the front", Pivot.KNIFE: "knife hinges"}


def check(front: Front) -> list[Finding]:
    """Return the doors that touch something before they are as far open as they must be, or all but touch it."""
    if front.job.hinges is None:
        return [_not_checked()]
    found: list[Finding] = []
    for swing in swings(front):
        if swing.width <= 0.0:
            found.append(_pin_outside(front.job, swing))
        for passage in swing.passages:
            found += _said(front, swing, passage)
    return found


def _said(front: Front, swing: Swing, passage: Passage) -> list[Finding]:
    if passage.angle is not None:
        at_wall = passage.stands is Neighbour.WALL and passage.place is Place.HINGE
        return [_wall(front, passage) if at_wall else _stopped(front, swing, passage)]
    limit = front.job.limit("swing_clearance").value
    return [_close(front, swing, passage)] if passage.room - passage.sweep < limit - 1e-6 else []


def _not_checked() -> Finding:
    return Finding(
        "swing",
        Weight.KNOW,
        "Swing was not checked: the job does not say how the doors turn.",
        cure='Say it: [hinges] with pivot = "back", "front" or "knife", and what stands at both ends under [beside].',
    )


def _pin_outside(job: Job, swing: Swing) -> Finding:
    show, width = job.ruler.text, swing.width + swing.pin.inward
    return Finding(
        "swing",
        Weight.LOOK,
        f"The pin of door {swing.door} lies {show(swing.pin.inward)} inwards, and the door is only {show(width)} wide: its swing "
        "was not checked.",
        topic="pin",
        door=swing.door,
        value=swing.pin.inward,
        limit=width,
        source="measured on the layout",
        cure=f"Say hinges.inward as the hinge has it, less than {show(width)}.",
    )


def _stopped(front: Front, swing: Swing, passage: Passage) -> Finding:
    job, needed, show = front.job, _needed(front.job, passage), front.job.ruler.text
    return Finding(
        "swing",
        Weight.STOPS,
        f"Door {passage.door} touches {passage.against} when it is opened {passage.angle:.0f} degrees, with {_where(job, passage)}: to "
        f"open {_opens(job):.0f} degrees its {passage.place.value} needs {show(needed)} there, and has {show(passage.room)}.",
        topic=passage.place.value,
        strip=passage.strip,
        door=passage.door,
        from_top=passage.from_top,
        value=passage.room,
        limit=needed,
        source=job.limit("swing_clearance").source,
        cure=_cure(front, swing, passage),
        caution=_caution(front, swing, passage),
    )


def _close(front: Front, swing: Swing, passage: Passage) -> Finding:
    job, show, limit = front.job, front.job.ruler.text, front.job.limit("swing_clearance")
    left = passage.room - passage.sweep
    return Finding(
        "swing",
        Weight.LOOK,
        f"The {passage.place.value} of door {passage.door} passes {passage.against} with {show(left)} to spare, less than "
        f"{show(limit.value)}, at {_where(job, passage)}.",
        topic=passage.place.value,
        strip=passage.strip,
        door=passage.door,
        from_top=passage.from_top,
        value=left,
        limit=limit.value,
        source=limit.source,
        cure=_cure(front, swing, passage),
        caution=_caution(front, swing, passage),
    )


def _wall(front: Front, passage: Passage) -> Finding:
    job, angle, opens = front.job, passage.angle or 0.0, _opens(front.job)
    return Finding(
        "swing",
        Weight.KNOW if angle >= _SQUARE else Weight.LOOK,
        f"Door {passage.door} opens only {_down(angle)} degrees of {opens:.0f}: then it touches the wall with {_where(job, passage)}.",
        topic="wall",
        strip=passage.strip,
        door=passage.door,
        from_top=passage.from_top,
        value=angle,
        limit=opens,
        unit="degrees",
        source="said in the job" if job.hinges and "opens" in job.hinges.model_fields_set else "rule of thumb",
        cure=_wall_cure(front, passage),
    )


def _where(job: Job, passage: Passage) -> str:
    part = f"the board behind strip {passage.strip}" if passage.on_board else f"strip {passage.strip}"
    if passage.from_top is None:
        return f"{part} along its whole length"
    return f"{part}, {job.ruler.text(passage.from_top, 0)} from the top"


def _cure(front: Front, swing: Swing, passage: Passage) -> str:
    job = front.job
    ways = [_more_room(job, passage, _needed(job, passage))]
    if passage.place is Place.HINGE:
        cap = clearing_cap(front, passage)
        ways += [f"keep the relief low there with {_cap_words(job, cap)}"] if cap else []
        ways += _other_pivots(front, passage)
        none = "" if cap else " No height cap clears it."
        return f"{_listed(ways)}.{none} {_OWN_PATH}"
    bevel = _bevel(front, swing, passage)
    if bevel is not None:
        off, degrees = bevel
        show = job.ruler.text(room_told(job, off))
        ways.append(f"bevel that edge by {degrees:.1f} degrees, so that {show} come off its back corner")
    return f"{_listed(ways)}."


def _needed(job: Job, passage: Passage) -> float:
    """Return the room that leaves the clearance wanted, mm, as a job writes it."""
    return room_told(job, passage.sweep + job.limit("swing_clearance").value)


def _more_room(job: Job, passage: Passage, room: float) -> str:
    """Return how more room is left; a reveal never less than the least that a closed door has."""
    if passage.neighbour is None:
        least = room_told(job, job.limit("reveal_least").value)
        return f"leave a reveal of {job.ruler.text(max(room, least))} at the {passage.edge.value}"
    first, second = sorted((passage.door, passage.neighbour))
    return f"leave a space of {job.ruler.text(room)} between doors {first} and {second}"


def _cap_words(job: Job, cap: Cap) -> str:
    """Return a cap as the job file says it."""
    width, height = (length(job, mm) for mm in (cap.width, cap.height))
    return added("caps", {"door": str(cap.door), "edge": f'"{cap.edge.value}"', "width": width, "height": height})


def _other_pivots(front: Front, passage: Passage) -> list[str]:
    """Return the first pivot with which the door would turn clear."""
    clear = (words for pivot, words in _others(front.job) if turns_clear(front, passage.door, pivot))
    return list(islice(clear, 1))


def _others(job: Job) -> list[tuple[Pivot, str]]:
    """Return the pivots that the job does not have, and how to take them."""
    if job.hinges is None:
        return []
    own = " without inward and forward" if {"inward", "forward"} & job.hinges.model_fields_set else ""
    return [
        (pivot, f'take {words}, hinges.pivot = "{pivot.value}"{own}')
        for pivot, words in _PIVOTS.items()
        if pivot is not job.hinges.pivot
    ]


def _bevel(front: Front, swing: Swing, passage: Passage) -> tuple[float, float] | None:
    """Return the bevel, mm and degrees, that cures a meeting edge; None where more room is wanted all the same."""
    if passage.place is Place.HINGE or passage.sweep <= 0.0:
        return None
    if passage.room < front.job.limit("swing_clearance").value:
        return None
    return closing_bevel(swing.width, swing.pin.forward + front.job.board.thickness)


def _caution(front: Front, swing: Swing, passage: Passage) -> str:
    return "" if _bevel(front, swing, passage) is None else _CAUTION


def _wall_cure(front: Front, passage: Passage) -> str:
    job, angle = front.job, passage.angle or 0.0
    far = passage if angle >= _SQUARE else _opened(front, passage, _SQUARE)
    wanted = _opens(job) if angle >= _SQUARE else min(_SQUARE, _opens(job))
    ways = [f"{_more_room(job, passage, _needed(job, far))} to open {wanted:.0f} degrees"]
    if angle < _SQUARE:
        ways += _pivots_past(front, passage)
    stop = _down(opens_leaving(front, passage, job.limit("swing_clearance").value))
    if stop >= 45:
        ways.append(f"stop the door at {stop} degrees, hinges.opens = {stop}")
    return f"{_listed(ways)}. {_OWN_PATH}"


def _opened(front: Front, passage: Passage, degrees: float) -> Passage:
    """Return a passage as it is when the door need open only so far."""
    swing = swing_with(front, passage.door, opens=min(degrees, _opens(front.job)))
    return next(one for one in swing.passages if (one.place, one.neighbour) == (passage.place, passage.neighbour))


def _pivots_past(front: Front, passage: Passage) -> list[str]:
    """Return the pivot with which the door would open at least square to the front."""
    for pivot, words in _others(front.job):
        swing = swing_with(front, passage.door, pivot=pivot)
        reached = min((_opens(front.job) if one.angle is None else one.angle for one in swing.passages), default=0.0)
        if reached >= min(_SQUARE, _opens(front.job)):
            return [f"{words}, which opens {_down(reached)} degrees"]
    return []


def _opens(job: Job) -> float:
    return job.hinges.opens if job.hinges else 0.0


def _down(angle: float) -> int:
    return math.floor(angle + 1e-6)


def _listed(ways: list[str]) -> str:
    words = ways[0] if len(ways) == 1 else ", or ".join(ways)
    return words[:1].upper() + words[1:]
