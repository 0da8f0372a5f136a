"""Swing: does every door turn past its neighbours, the case and the wall?"""

from __future__ import annotations

import math
from dataclasses import replace
from functools import cached_property
from typing import Any

from facade.checks.asking import is_trying
from facade.checks.cures import added, length, typed, ways
from facade.checks.finding import Finding, Weight
from facade.checks.words import told_apart
from facade.doors.clearing import (
    Topic,
    bevel,
    clearing_cap,
    opens_leaving,
    opens_to,
    pivots,
    room_told,
    rooms_that_clear,
    topic_of,
    troubles,
    turns,
)
from facade.doors.swing import Passage, Swing, swings
from facade.doors.trying import front_with
from facade.front import Front
from facade.job.bench import Held
from facade.job.changing import job_with
from facade.job.hanging import Pivot
from facade.job.model import Cap, Job

_OWN_PATH = (
    "The pin is taken as fixed: a hinge that slides the door over as it turns follows a path of its own, on its sheet."
)
_CAUTION = (
    "Bevel the board before strips are screwed to it, or keep the screws clear of the bevel: a blade that meets a screw throws "
    "pieces. The tool's manual, local rules and trained practice come first."
)
_SQUARE = 90.0
_LEAST_STOP = 45  # degrees; a door that opens less is of no use
_PIVOTS = {Pivot.FRONT: "take a pin at the front", Pivot.KNIFE: "take knife hinges"}
_SIDES = {"front.reveals.left": "left", "front.reveals.right": "right"}


def check(front: Front) -> list[Finding]:
    """Return the doors that touch something before they are as far open as they must be, or all but touch it."""
    if front.job.hinges is None:
        return [_not_checked()]
    found: list[Finding] = []
    turning = swings(front)
    cures = _Cures(front, turning)
    for swing in turning:
        if swing.width <= 0.0:
            found.append(_pin_outside(front.job, swing))
        for passage in swing.passages:
            found += _said(front, cures, passage)
    return found


def _said(front: Front, cures: _Cures, passage: Passage) -> list[Finding]:
    if passage.angle is not None:
        at_wall = topic_of(passage) is Topic.WALL
        return [_wall(front, cures, passage) if at_wall else _stopped(front, cures, passage)]
    limit = front.job.limit("swing_clearance").value
    return [_close(front, cures, passage)] if passage.room - passage.sweep < limit - 1e-6 else []


def _not_checked() -> Finding:
    return Finding(
        "swing",
        Weight.KNOW,
        "Swing was not checked: the job does not say how the doors turn.",
        topic="not checked",
        cure='Say under [hinges] where the pivot is: "back", "front" or "knife"; and what stands at both ends under [beside].',
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
        cure=f"Say hinges.inward as the hinge has it: it must be less than {show(width)}.",
    )


def _stopped(front: Front, cures: _Cures, passage: Passage) -> Finding:
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
        cure=cures.edge(passage),
        caution=_CAUTION if "hinges.bevel" in cures.edge(passage) else "",
    )


def _close(front: Front, cures: _Cures, passage: Passage) -> Finding:
    job, limit, left = front.job, front.job.limit("swing_clearance"), passage.room - passage.sweep
    spare, wanted = told_apart(job.ruler, left, limit.value)
    return Finding(
        "swing",
        Weight.LOOK,
        f"The {passage.place.value} of door {passage.door} passes {passage.against} with {spare} to spare, less than "
        f"{wanted}, at {_where(job, passage)}.",
        topic=passage.place.value,
        strip=passage.strip,
        door=passage.door,
        from_top=passage.from_top,
        value=left,
        limit=limit.value,
        source=limit.source,
        cure=cures.edge(passage),
        caution=_CAUTION if "hinges.bevel" in cures.edge(passage) else "",
    )


def _wall(front: Front, cures: _Cures, passage: Passage) -> Finding:
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
        source="said in the job"
        if job.hinges and "opens" in job.hinges.model_fields_set
        else "rule of thumb (hinges.opens)",
        cure=cures.wall(passage),
        caution=_CAUTION if "hinges.bevel" in cures.wall(passage) else "",
    )


def _where(job: Job, passage: Passage) -> str:
    part = f"the board behind strip {passage.strip}" if passage.on_board else f"strip {passage.strip}"
    if passage.from_top is None:
        return f"{part} along its whole length"
    return f"{part}, {job.ruler.text(passage.from_top, 0)} from the top"


def _needed(job: Job, passage: Passage) -> float:
    """Return the room that leaves the clearance wanted, mm, as a job writes it."""
    return room_told(job, passage.sweep + job.limit("swing_clearance").value)


class _Cures:
    """What clears the doors of a front: tried once for all doors, told wherever one of them is complained of."""

    def __init__(self, front: Front, turning: list[Swing]) -> None:
        self.front = front
        self.turning = turning
        self._told: dict[Passage, str] = {}
        self._room_words: dict[tuple[Topic, float], list[str]] = {}

    def edge(self, passage: Passage) -> str:
        """Return what clears an edge that touches something, or all but does; "" while another cure is tried."""
        if is_trying():
            return ""
        if passage not in self._told:
            topic = topic_of(passage)
            if topic is Topic.MEETING:
                self._told[passage] = ways(*self._rooms(topic), *self._bevel) or _NOTHING
            else:
                cap = self._cap(passage)
                low = f"keep the relief low there with {_cap_words(self.front.job, cap)}" if cap else ""
                none = "" if cap else " No height cap clears it."
                told = ways(*self._rooms(topic), low, *self._pivots)
                self._told[passage] = f"{told or _NOTHING}{none} {_OWN_PATH}"
        return self._told[passage]

    def _cap(self, passage: Passage) -> Cap | None:
        """Return the height cap that clears a hinge edge, None where there is none or the strips there would be too thin."""
        job, cap = self.front.job, clearing_cap(self.front, passage)
        thin = job.limit("thin_screwed" if job.fixing.by is Held.SCREWS else "thin_glued").value
        return cap if cap is not None and cap.height >= thin else None

    def wall(self, passage: Passage) -> str:
        """Return what lets doors open farther before they touch a wall, or has them stop before; "" while another is tried."""
        if is_trying():
            return ""
        if passage not in self._told:
            square = (passage.angle or 0.0) < _SQUARE
            told = ways(
                *self._rooms(Topic.WALL, _SQUARE if square else None), *(self._past_walls if square else ()), self._stop
            )
            self._told[passage] = f"{told or _NOTHING} {_OWN_PATH}"
        return self._told[passage]

    def _rooms(self, topic: Topic, opens: float | None = None) -> list[str]:
        """Return the ways of giving the doors more room, enough to open as far as they must, or `opens` degrees."""
        job = self.front.job
        opened = min(_opens(job) if opens is None else opens, _opens(job))
        if (topic, opened) not in self._room_words:
            to = f" to open {opened:.0f} degrees" if topic is Topic.WALL else ""
            front, turning = self.front, self.turning
            if opened < _opens(job):
                front = replace(front, job=job_with(job, {"hinges.opens": opened}))
                turning = swings(front)
            settings = rooms_that_clear(front, turning, topic)
            self._room_words[topic, opened] = [_words_of_room(job, one, to) for one in settings]
        return self._room_words[topic, opened]

    @cached_property
    def _stopped(self) -> set[Topic]:
        return {one.topic for one in troubles(self.front, self.turning) if one.stops}

    @cached_property
    def _bevel(self) -> list[str]:
        """Return the bevel of meeting edges that clears them."""
        settings = bevel(self.front)
        if settings is None or not self._turn(Topic.MEETING, settings):
            return []
        return [f"bevel the board{_at_its_edge(self.front, settings)}: {typed(self.front.job, settings)}"]

    @cached_property
    def _pivots(self) -> list[str]:
        """Return the first pivot with which all doors turn clear, with a bevel where it asks for one."""
        for settings in pivots(self.front):
            for more in self._with_bevel(settings):
                if self._turn(Topic.HINGE, more):
                    return [_pivot_words(self.front.job, more)]
        return []

    @cached_property
    def _past_walls(self) -> list[str]:
        """Return the first pivot with which every door opens at least square to the front."""
        job = self.front.job
        for settings in pivots(self.front):
            for more in self._with_bevel(settings):
                changed = front_with(self.front, more)
                reached = opens_to(changed) if changed else 0.0
                if reached >= min(_SQUARE, _opens(job)):
                    return [f"{_pivot_words(job, more)}, which opens {_down(reached)} degrees"]
        return []

    def _with_bevel(self, settings: dict[str, Any]) -> list[dict[str, Any]]:
        changed = front_with(self.front, settings)
        more = None if changed is None or changed.job.hinges is None else bevel(changed)
        return [settings] if more is None else [settings, settings | more]

    def _turn(self, topic: Topic, settings: dict[str, Any]) -> bool:
        changed = front_with(self.front, settings)
        return changed is not None and turns(changed, topic, stopped=self._stopped)

    @cached_property
    def _stop(self) -> str:
        """Return the stop that keeps every door clear of its wall."""
        clearance = self.front.job.limit("swing_clearance").value
        walls = [one for swing in self.turning for one in swing.passages if topic_of(one) is Topic.WALL]
        stop = min((_down(opens_leaving(self.front, one, clearance)) for one in walls), default=0)
        return (
            f"stop the doors at {stop} degrees: {typed(self.front.job, {'hinges.opens': stop})}"
            if stop >= _LEAST_STOP
            else ""
        )


_NOTHING = "Make the doors otherwise: nothing that was tried clears it."


def _words_of_room(job: Job, settings: dict[str, Any], to: str) -> str:
    show, said = job.ruler.text, typed(job, settings)
    (place, room), *more = settings.items()
    if not more and place in _SIDES:
        return f"leave a reveal of {show(room)} at the {_SIDES[place]}{to}: {said}"
    if not more and place == "front.space":
        return f"leave a space of {show(room)} between doors{to}: {said}"
    if place == "front.hidden_joint" or (more and "front.hidden_joint" in settings):
        return f"give the doors a space of their own{to}: {said}"
    return f"{'leave wider gaps' if 'strips.gap' in settings else 'give the doors more room'}{to}: {said}"


def _at_its_edge(front: Front, settings: dict[str, Any]) -> str:
    """Return where a bevel is and what comes off, in words."""
    job = front.job
    off = room_told(job, job.board.thickness * math.tan(math.radians(settings["hinges.bevel"])))
    return f" at its meeting edge, so that {job.ruler.text(off)} come off its back corner"


def _pivot_words(job: Job, settings: dict[str, Any]) -> str:
    bevelled = ", the board bevelled at its meeting edge" if "hinges.bevel" in settings else ""
    return f"{_PIVOTS[settings['hinges.pivot']]}{bevelled}: {typed(job, settings)}"


def _cap_words(job: Job, cap: Cap) -> str:
    """Return a cap as the job file says it."""
    width, height = (length(job, mm) for mm in (cap.width, cap.height))
    return added("caps", {"door": str(cap.door), "edge": f'"{cap.edge.value}"', "width": width, "height": height})


def _opens(job: Job) -> float:
    return job.hinges.opens if job.hinges else 0.0


def _down(angle: float) -> int:
    return math.floor(angle + 1e-6)
