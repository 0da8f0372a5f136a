"""Movement: what dry and damp weeks do to the strips, to the gaps between them, and to the doors."""

from __future__ import annotations

import math
from collections.abc import Iterator
from functools import cached_property
from itertools import islice
from typing import Any

from facade.checks import screws, swing, thickness, weight
from facade.checks.asking import if_told
from facade.checks.cures import typed, ways
from facade.checks.finding import Finding, Weight
from facade.checks.trying import stops_nothing
from facade.doors.gaps import gapped, with_gap
from facade.doors.movement import DoorMovement, Moisture, door_movements, moisture_of, movements_with, swelling
from facade.doors.trying import layout_with
from facade.front import Front
from facade.job import Job
from facade.job.bench import Held
from facade.lengths import Unit
from facade.wood import species

_CHECK = "movement"
_MOVES = "handbook"  # where the movement of wood comes from
# % moisture that equilibrium is good to (Wood Handbook, FPL-GTR-282, chapter 4): a gap is proposed with so much in hand.
_IN_HAND = 1.0
_LEAST_GAP = 0.5  # mm below which a gap is tight anyway
_THICKER = 12  # tries with a thicker board, a step each


def check(front: Front) -> list[Finding]:
    """Return what moisture does: wood to let settle, gaps that close, doors that bow, and the numbers behind it."""
    moisture, doors = moisture_of(front.job), door_movements(front)
    cures = _Cures(front, doors)
    return [
        *_unsettled(front.job, moisture),
        *_closing(front, doors, cures),
        *_bowing(front, doors, cures),
        _numbers(front, moisture, doors),
    ]


def _unsettled(job: Job, moisture: Moisture) -> list[Finding]:
    """Return whether the wood is far from anything that the room will bring it to."""
    driest, dampest = sorted((moisture.driest, moisture.dampest))
    off = job.limit("moisture_off")
    if driest - off.value <= moisture.now <= dampest + off.value:
        return []
    wet = moisture.now > dampest
    limit = dampest + off.value if wet else driest - off.value
    words = f"more than {off.value:g} % {'damper' if wet else 'drier'} than it will ever be there"
    return [
        Finding(
            _CHECK,
            Weight.LOOK,
            f"The wood is at {moisture.now:.1f} % moisture, where it hangs it will be at {driest:.1f} to {dampest:.1f} %: {words}.",
            topic="wood not settled",
            value=moisture.now,
            limit=limit,
            unit="%",
            source=off.source,
            cure=ways(
                f"let it settle in dry stacks until a meter reads {driest:.1f} to {dampest:.1f} %, mill it then, and say what it "
                f"reads: {typed(job, {'wood.moisture': round((driest + dampest) / 2.0, 1)})}"
            ),
        )
    ]


def _closing(front: Front, doors: list[DoorMovement], cures: _Cures) -> Iterator[Finding]:
    """Yield the doors whose strips push each other in the dampest weeks."""
    closing = [door for door in doors if door.closes]
    for door in closing:
        glued = door.cladding.held is not Held.SCREWS
        yield Finding(
            _CHECK,
            Weight.STOPS if glued else Weight.LOOK,
            _closing_words(front, door),
            topic="gaps close",
            door=door.door,
            value=door.growth,
            limit=door.cladding.gap,
            source=_MOVES,
            cure=if_told(lambda: cures.words),
        )


def _closing_words(front: Front, door: DoorMovement) -> str:
    show, clad = front.job.ruler.text, door.cladding
    gaps = f"close their gaps of {show(clad.gap, 2)}" if clad.gap > 0.0 else "are packed tight"
    first = f"The strips of {_name(front, door)} {gaps}: in the dampest weeks each is {front.job.ruler.fine(door.growth)} wider"
    if door.pushes <= 0.0:
        return f"{first}. The edges of the door give the room, if the strips can slide."
    return (
        f"{first}, and all {clad.count} want {front.job.ruler.fine(door.pushes)} more than the gaps and edges of the door give. "
        + ("They push out at its sides." if clad.held is Held.SCREWS else "They press on each other and on their glue.")
    )


def _bowing(front: Front, doors: list[DoorMovement], cures: _Cures) -> Iterator[Finding]:
    """Yield the doors that bow too far, those that cannot be used before those that want a look."""
    watch, most = front.job.limit("warp"), front.job.limit("warp_most")
    for heavy, limit, above in ((Weight.STOPS, most, math.inf), (Weight.LOOK, watch, most.value)):
        some = [door for door in doors if limit.value < abs(door.bow) <= above]
        for door in some:
            yield Finding(
                _CHECK,
                heavy,
                f"{_name(front, door).capitalize()} may bow by up to {front.job.ruler.fine(abs(door.bow), 1)} over its width of "
                f"{front.job.ruler.text(door.cladding.width)}: {_way(door)}. More than {front.job.ruler.text(limit.value)} "
                f"{'cannot stay' if heavy is Weight.STOPS else 'shows'}.",
                topic="door bows",
                door=door.door,
                value=abs(door.bow),
                limit=limit.value,
                source=limit.source,
                cure=if_told(lambda: cures.words),
            )


def _way(door: DoorMovement) -> str:
    shape = "its face bulges" if door.bow > 0.0 else "its face hollows"
    damp = door.bow == door.cladding.bow(door.dampest)
    return f"{shape} in the {'dampest' if damp else 'driest'} weeks"


def _name(front: Front, door: DoorMovement) -> str:
    return f"door {door.door}" if len(front.layout.doors) > 1 else "the door"


class _Cures:
    """What keeps gaps open and doors flat: tried once for all doors of a front, told wherever one of them is complained of."""

    def __init__(self, front: Front, doors: list[DoorMovement]) -> None:
        self.front, self.job = front, front.job
        self.closing = any(door.closes for door in doors)
        self.gap = _open_gap(front, doors) if self.closing else None

    @cached_property
    def words(self) -> str:
        """The smallest change after which gaps stay open and doors flat, then others, each with what it gives."""
        return ways(*islice(self._clearing(), _MOST_WAYS)) or _NOTHING

    def _clearing(self) -> Iterator[str]:
        for words, settings in self._changes():
            doors = movements_with(self.front, settings)
            if doors is not None and all(_clears(self.job, door) for door in doors) and self._stops_nothing(settings):
                yield f"{words} ({_gives(self.job, doors)}): {typed(self.job, settings)}"

    def _changes(self) -> Iterator[tuple[str, dict[str, Any]]]:
        """Yield what could be changed, in words and as settings, the smallest change first."""
        held, gap = self.job.fixing.by, self.gap
        bead = "glue only the middle third of each strip", {"fixing.by": Held.BEAD}
        wider = None if gap is None else (self._gap_words(gap), gap)
        if held is Held.GLUE:
            yield bead
        if wider:
            yield wider
        if wider and held is Held.GLUE:
            yield f"{wider[0]} and {bead[0]}", wider[1] | bead[1]
        if self.job.wood.rings < 90.0:
            yield "take quarter-sawn wood, rings at 90 degrees to the face", {"wood.rings": 90.0}
        if self.closing:
            yield from self._milled_damper()
        yield from self._thicker_boards()
        if held is not Held.SCREWS and (wider or not self.closing):
            words, settings = wider or ("", {})
            by_screws = "hold the strips by screws in wide holes"
            yield f"{words} and {by_screws}" if words else by_screws, settings | {"fixing.by": Held.SCREWS}

    def _gap_words(self, settings: dict[str, Any]) -> str:
        layout = layout_with(self.job, settings)
        assert layout is not None
        gap = min(one.gap for one in gapped(layout))
        return f"leave gaps of at least {self.job.ruler.text(gap, 2)}{' by narrower strips' if 'strips.width' in settings else ''}"

    def _milled_damper(self) -> Iterator[tuple[str, dict[str, Any]]]:
        """Yield wood milled as dry as it may be for gaps to stay open: the first that clears."""
        moisture = moisture_of(self.job)
        driest, dampest = sorted((moisture.driest, moisture.dampest))
        for half in range(math.ceil(2 * max(moisture.now, driest)), math.floor(2 * dampest) + 1):
            settings = {"wood.moisture": half / 2}
            if all(_clears(self.job, door) for door in movements_with(self.front, settings) or ()):
                yield f"mill and mount the wood at {half / 2:g} % moisture", settings
                return

    def _thicker_boards(self) -> Iterator[tuple[str, dict[str, Any]]]:
        """Yield the thinnest board that clears, of some that are a little thicker than the job's."""
        step = 1.0 if self.job.unit is Unit.MM else 25.4 / 16.0
        for more in range(1, _THICKER + 1):
            board = round(step * (math.floor(self.job.board.thickness / step + 1e-6) + more), 9)
            settings = {"board.thickness": board}
            if all(_clears(self.job, door) for door in movements_with(self.front, settings) or ()):
                yield f"take a board {self.job.ruler.text(board)} thick", settings
                return

    def _stops_nothing(self, settings: dict[str, Any]) -> bool:
        """Return whether no other check stops the front that it did not stop before, of those that ask what is changed."""
        if "board.thickness" in settings:
            return stops_nothing(self.front, settings, (swing.check, weight.check), same_strips=True)
        if settings.get("fixing.by") is Held.SCREWS:
            # Gaps that become wider besides move no strip by more than that.
            return stops_nothing(self.front, {"fixing.by": Held.SCREWS}, (thickness.check, screws.check))
        return True


_NOTHING = "Nothing that was tried clears it: take narrower strips, a wood that moves less, or hold them by screws."
_MOST_WAYS = 4


def _open_gap(front: Front, doors: list[DoorMovement]) -> dict[str, Any] | None:
    """Return settings with gaps that stay open in weeks a little damper than the dampest."""
    job, moisture = front.job, moisture_of(front.job)
    damper = max(moisture.driest, moisture.dampest) + _IN_HAND
    strain = swelling(species(job.wood.species), job.wood.rings, moisture.now, damper)
    growth = max(door.cladding.growth(strain) for door in doors)
    return with_gap(job, front.layout, job.ruler.up(max(growth, _LEAST_GAP)))


def _clears(job: Job, door: DoorMovement) -> bool:
    return not door.closes and abs(door.bow) <= min(job.limit("warp").value, job.limit("warp_most").value)


def _gives(job: Job, doors: list[DoorMovement]) -> str:
    if doors[0].cladding.held is Held.SCREWS:
        return "gaps stay open, no bow to speak of"
    return f"bow {job.ruler.fine(max(abs(door.bow) for door in doors), 1)} at most"


def _numbers(front: Front, moisture: Moisture, doors: list[DoorMovement]) -> Finding:
    """Return the moistures, what they do to the widest strip, and the greatest bow."""
    job = front.job
    widest = max(doors, key=lambda door: door.cladding.strip)
    worst = max(doors, key=lambda door: abs(door.bow))
    strip = widest.cladding
    return Finding(
        _CHECK,
        Weight.KNOW,
        f"Moisture: {moisture.now:.1f} % when milled, {moisture.driest:.1f} % in the driest and {moisture.dampest:.1f} % in the "
        f"dampest weeks (equilibrium, good to about 1 %). A strip of {job.ruler.text(strip.strip, 2)} becomes "
        f"{_becomes(job, strip.growth(widest.driest))} and {_becomes(job, strip.growth(widest.dampest))}. {_bow_words(job, worst)}",
        topic="movement in numbers",
        value=abs(worst.bow),
        source=_MOVES,
    )


def _becomes(job: Job, change: float) -> str:
    return f"{job.ruler.fine(abs(change))} {'wider' if change >= 0.0 else 'narrower'}"


def _bow_words(job: Job, worst: DoorMovement) -> str:
    if worst.cladding.held is Held.SCREWS:
        return (
            "Where screws in wide holes hold them, in which they slide, strips bow their door by nothing to speak of."
        )
    if worst.cladding.balanced:
        return "The board is balanced: both faces pull alike, so no bow is reckoned with."
    return f"Expected bow of a door: {job.ruler.fine(abs(worst.bow), 1)} at most, an upper bound (elastic, evenly moist, nothing creeps)."
