"""Movement: what dry and damp weeks do to the strips, to the gaps between them, and to the doors."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace

from facade.checks.finding import Finding, Weight
from facade.doors.movement import DoorMovement, Moisture, door_movements, moisture_of, swelling
from facade.front import Front
from facade.job import Job
from facade.job.bench import Held
from facade.lengths import Unit
from facade.wood import species
from facade.wood.strength import stiffness_across

_CHECK = "movement"
_MOVES = "handbook"  # where the movement of wood comes from
# % moisture that equilibrium is good to (Wood Handbook, FPL-GTR-282, chapter 4): a gap is proposed with so much in hand.
_IN_HAND = 1.0
_LEAST_GAP = 0.5  # mm below which a gap is tight anyway
_THICKER = 12  # tries with a thicker board, a step each


def check(front: Front) -> list[Finding]:
    """Return what moisture does: wood to let settle, gaps that close, doors that bow, and the numbers behind it."""
    moisture, doors = moisture_of(front.job), door_movements(front)
    return [
        *_unsettled(front.job, moisture),
        *_closing(front, doors),
        *_bowing(front, doors),
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
            cure=f"Let it settle in dry stacks until a meter reads {driest:.1f} to {dampest:.1f} %, and mill it then.",
        )
    ]


def _closing(front: Front, doors: list[DoorMovement]) -> Iterator[Finding]:
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
            cure=_cure(front, door),
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


def _bowing(front: Front, doors: list[DoorMovement]) -> Iterator[Finding]:
    """Yield the doors that bow too far, those that cannot be used before those that want a look."""
    watch, most = front.job.limit("warp"), front.job.limit("warp_most")
    for weight, limit, above in ((Weight.STOPS, most, math.inf), (Weight.LOOK, watch, most.value)):
        some = [door for door in doors if limit.value < abs(door.bow) <= above]
        for door in some:
            yield Finding(
                _CHECK,
                weight,
                f"{_name(front, door).capitalize()} may bow by up to {front.job.ruler.fine(abs(door.bow), 1)} over its width of "
                f"{front.job.ruler.text(door.cladding.width)}: {_way(door)}. More than {front.job.ruler.text(limit.value)} "
                f"{'cannot stay' if weight is Weight.STOPS else 'shows'}.",
                topic="door bows",
                door=door.door,
                value=abs(door.bow),
                limit=limit.value,
                source=limit.source,
                cure=_cure(front, door),
            )


def _way(door: DoorMovement) -> str:
    shape = "its face bulges" if door.bow > 0.0 else "its face hollows"
    damp = door.bow == door.cladding.bow(door.dampest)
    return f"{shape} in the {'dampest' if damp else 'driest'} weeks"


def _name(front: Front, door: DoorMovement) -> str:
    return f"door {door.door}" if len(front.layout.doors) > 1 else "the door"


@dataclass(frozen=True)
class _Change:
    """A change that the maker could make, in words, and how the door would move then."""

    words: str
    door: DoorMovement


def _cure(front: Front, door: DoorMovement) -> str:
    """Return the smallest change after which gaps stay open and the door flat, then others, each with what it gives."""
    clearing = [change for change in _changes(front, door) if _clears(front.job, change.door)]
    if not clearing:
        return "Nothing that was tried clears it: take narrower strips, a wood that moves less, or hold them by screws."
    first, *others = (f"{change.words} ({_gives(front.job, change.door)})" for change in clearing[:4])
    return f"{first[0].upper()}{first[1:]}." + (f" Or: {'; '.join(others)}." if others else "")


def _clears(job: Job, door: DoorMovement) -> bool:
    return not door.closes and abs(door.bow) <= min(job.limit("warp").value, job.limit("warp_most").value)


def _gives(job: Job, door: DoorMovement) -> str:
    if door.cladding.held is Held.SCREWS:
        return "gaps stay open, no bow to speak of"
    return f"bow {job.ruler.fine(abs(door.bow), 1)} at most"


def _changes(front: Front, door: DoorMovement) -> Iterator[_Change]:
    """Yield what could be changed, the smallest change first."""
    changes: tuple[Callable[[Front, DoorMovement], _Change | None], ...] = (
        _with_bead,
        _with_gap,
        _with_bead_and_gap,
        _with_rings_upright,
        _milled_damper,
        _with_thicker_board,
        _with_screws,
    )
    yield from (change for make in changes if (change := make(front, door)) is not None)


def _with_bead(front: Front, door: DoorMovement) -> _Change | None:
    if door.cladding.held is not Held.GLUE:
        return None
    return _Change(
        "glue only the middle third of each strip", replace(door, cladding=replace(door.cladding, held=Held.BEAD))
    )


def _with_gap(front: Front, door: DoorMovement) -> _Change | None:
    """Return the door with gaps that stay open in weeks a little damper than the dampest."""
    clad, job = door.cladding, front.job
    if not door.closes:
        return None
    moisture = moisture_of(job)
    damper = max(moisture.driest, moisture.dampest) + _IN_HAND
    strain = swelling(species(job.wood.species), job.wood.rings, moisture.now, damper)
    gap = job.ruler.up(max(clad.growth(strain), _LEAST_GAP))
    # Wider gaps come off the strips.
    strip = clad.strip - (gap - clad.gap) * (clad.count - 1) / clad.count
    if strip < 1.0:
        return None
    wider = replace(clad, gap=gap, strip=strip)
    return _Change(f"leave gaps of at least {job.ruler.text(gap, 2)}", replace(door, cladding=wider))


def _with_bead_and_gap(front: Front, door: DoorMovement) -> _Change | None:
    gap, bead = _with_gap(front, door), _with_bead(front, door)
    if gap is None or bead is None:
        return None
    both = replace(gap.door, cladding=replace(gap.door.cladding, held=Held.BEAD))
    return _Change(f"{gap.words} and {bead.words}", both)


def _with_rings_upright(front: Front, door: DoorMovement) -> _Change | None:
    if front.job.wood.rings >= 90.0:
        return None
    return _Change("take quarter-sawn wood, rings at 90 degrees to the face", _remilled(front, door, rings=90.0))


def _milled_damper(front: Front, door: DoorMovement) -> _Change | None:
    """Return the door of wood milled as dry as it may be for its gaps to stay open."""
    moisture = moisture_of(front.job)
    driest, dampest = sorted((moisture.driest, moisture.dampest))
    if not door.closes or door.cladding.gap <= 0.0:
        return None
    for half in range(math.ceil(2 * max(moisture.now, driest)), math.floor(2 * dampest) + 1):
        milled = _remilled(front, door, now=half / 2)
        if _clears(front.job, milled):
            return _Change(f"mill and mount the wood at {half / 2:g} % moisture", milled)
    return None


def _remilled(
    front: Front, door: DoorMovement, *, rings: float | None = None, now: float | None = None
) -> DoorMovement:
    """Return the door of wood sawn or dried otherwise."""
    wood, moisture = species(front.job.wood.species), moisture_of(front.job)
    rings = front.job.wood.rings if rings is None else rings
    now = moisture.now if now is None else now
    stiffness = stiffness_across(wood.stiffness, wood.across_radial, wood.across_tangential, rings)
    return replace(
        door,
        cladding=replace(door.cladding, stiffness=stiffness),
        driest=swelling(wood, rings, now, moisture.driest),
        dampest=swelling(wood, rings, now, moisture.dampest),
    )


def _with_thicker_board(front: Front, door: DoorMovement) -> _Change | None:
    """Return the door on the thinnest board that clears it, of some that are a little thicker than its own."""
    step = 1.0 if front.job.unit is Unit.MM else 25.4 / 16.0
    for more in range(1, _THICKER + 1):
        board = step * (math.floor(door.cladding.board / step + 1e-6) + more)
        thicker = replace(door, cladding=replace(door.cladding, board=board))
        if _clears(front.job, thicker):
            return _Change(f"take a board {front.job.ruler.text(board)} thick", thicker)
    return None


def _with_screws(front: Front, door: DoorMovement) -> _Change | None:
    if door.cladding.held is Held.SCREWS:
        return None
    gap = _with_gap(front, door)
    words, clad = (f"{gap.words} and ", gap.door.cladding) if gap else ("", door.cladding)
    return _Change(
        f"{words}hold the strips by screws in wide holes", replace(door, cladding=replace(clad, held=Held.SCREWS))
    )


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
        return "Held by screws in wide holes, in which they slide, strips bow their door by nothing to speak of."
    if worst.cladding.balanced:
        return "The board is balanced: both faces pull alike, so no bow is reckoned with."
    return f"Expected bow of a door: {job.ruler.fine(abs(worst.bow), 1)} at most, an upper bound (elastic, evenly moist, nothing creeps)."
