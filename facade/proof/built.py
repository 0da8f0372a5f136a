"""What came out otherwise than designed, worked out anew: where strips hang then, and the words that every sheet says of it."""

from __future__ import annotations

import itertools
from collections.abc import Iterator

from facade.front import Front
from facade.layout import Layout, lay_out

_NEAR = 1e-6  # mm
_TOLD = 0.005  # mm; gaps that differ by less read the same
_STACKED = 10
_RUNS = 3


def placing_faults(front: Front) -> Iterator[str]:
    """Yield strips that do not hang where they must: the first and the last of a door as designed, even gaps between all."""
    state, plan = front.job.as_built, lay_out(front.job.as_designed)
    found = {place.number: place for place in front.layout.strips}
    wanted = [place for place in plan.strips if place.number not in set(state.missing)]
    if sorted(found) != [place.number for place in wanted]:
        yield "does not hold the strips that are not left out"
        return
    for door in plan.doors:
        own, kept = ([place for place in some if place.door == door.number] for some in (plan.strips, wanted))
        width = own[0].width if state.stack is None else state.stack / _STACKED
        left, right = own[0].left, own[-1].right
        for k, place in enumerate(kept):
            share = k / (len(kept) - 1) if len(kept) > 1 else 0.5
            at = left + share * (right - width - left)
            if abs(found[place.number].left - at) > _NEAR or abs(found[place.number].right - at - width) > _NEAR:
                yield f"strip {place.number} hangs {found[place.number].left - at:.3f} mm beside its place"
                return


def as_built_in_words(front: Front) -> str:
    """Return what the head of every sheet says of what came out otherwise, "" where nothing did."""
    state, plan = front.job.as_built, lay_out(front.job.as_designed)
    parts = []
    if missing := sorted(set(state.missing)):
        parts.append(f"without {_runs(missing, 'strip')}")
    if state.stack is not None:
        parts.append(f"strips {_shown(front, state.stack / _STACKED)} wide")
    parts += [_gaps(front, plan)] if missing or state.stack is not None else []
    if state.blank is not None:
        parts.append(f"blanks {_shown(front, state.blank)}")
    return ", ".join(part for part in parts if part)


def _shown(front: Front, mm: float) -> str:
    """Return a length without its unit: to a hundredth of a mm; a fraction of an inch, or a thousandth where it is none."""
    number = front.job.ruler.fine(mm).split()
    if number[-1] == "mm" or "." not in number[0]:
        return " ".join(number[:-1])
    return f"{mm / 25.4:.3f}".rstrip("0")


def _runs(numbers: list[int], thing: str) -> str:
    """Return "23", "3 and 7 to 9"; of many runs how many strips they are."""
    groups = [list(some) for _, some in itertools.groupby(numbers, key=lambda number: number - numbers.index(number))]
    words = [str(some[0]) if len(some) == 1 else f"{some[0]} to {some[-1]}" for some in groups]
    return f"{len(numbers)} {thing}s" if len(words) > _RUNS else _and(words)


def _and(words: list[str]) -> str:
    return " and ".join(filter(None, (", ".join(words[:-1]), words[-1])))


def _gaps(front: Front, plan: Layout) -> str:
    """Return the gaps where some are not as designed, from the least to the widest, or one with its doors where that is not all."""
    gaps = {door.number: _gap(front.layout, door.number) for door in plan.doors}
    designed = {door.number: _gap(plan, door.number) for door in plan.doors}
    changed = {
        number: _shown(front, gap)
        for number, gap in gaps.items()
        if gap is not None and abs(gap - (designed[number] or 0.0)) >= _TOLD
    }
    words = list(dict.fromkeys(changed.values()))
    if not words:
        return ""
    if len(words) == 1 and len(changed) == len(plan.doors):
        return f"gaps {words[0]}"
    if len(words) > 1:
        known = [gap for gap in gaps.values() if gap is not None]
        return f"gaps {_shown(front, min(known))} to {_shown(front, max(known))}"
    doors = _runs(sorted(changed), "door")
    if not doors.endswith("s"):
        doors = f"door{'s' if len(changed) > 1 else ''} {doors}"
    return f"gaps {words[0]} on {doors}"


def _gap(layout: Layout, door: int) -> float | None:
    own = [place for place in layout.strips if place.door == door]
    return own[1].left - own[0].right if len(own) > 1 else None
