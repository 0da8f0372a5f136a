"""What a proof says on the screen, as lines: a table by folders, what failed file by file, and the verdict."""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import groupby
from pathlib import PurePosixPath

from facade.drawing import printable
from facade.lengths import Ruler, Unit
from facade.proof.compared import Anew, Compared, Proof, Verdict, joined

_HEADS = ("file", "points", "off at most", "allowed", "least left", "verdict")

# So many files of one folder that fail have a row each; more of them share one. So many faults are told.
_MOST_ALONE, _MOST_TOLD = 8, 40


@dataclass(frozen=True)
class _Row:
    """A row of the table: several files of one folder and one verdict, or one file that fails."""

    name: str
    compared: Compared
    count: int


def proof_lines(proof: Proof) -> list[str]:
    """Return the proof as lines: the table, why files fail, and whether any does. Lengths are in the job's unit."""
    front, ruler = proof.front, proof.front.job.ruler
    rows = list(_rows(proof))
    lines = [f"Proof of {proof.folder}: {printable(front.job.title)}, {len(front.numbers)} strips, mark {front.mark}"]
    lines += ["Every file read back by general readers and compared with the front that its job file gives.", ""]
    lines += _table([_HEADS, *(_cells(row, ruler) for row in rows)])
    lines += ["", "What was compared:"]
    agreeing = [row for row in rows if row.compared.what and row.compared.verdict is Verdict.AGREES]
    lines += [f"  {row.name}: {row.compared.what}" for row in agreeing]
    told = list(_told(proof.compared))
    lines += ["", "FAILS:"] if told else []
    lines += told[:_MOST_TOLD] + ([f"  and {len(told) - _MOST_TOLD} more"] if len(told) > _MOST_TOLD else [])
    notes = [f"  {one.name}: {one.note}" for one in proof.compared if one.note]
    lines += ["", "To know:", *notes] if notes else []
    return [*lines, "", verdict(proof), anew_words(proof)]


def _told(compared: Sequence[Compared]) -> Iterator[str]:
    """Yield a line for each cause: what is said of several files alike once, and what follows from another file counted with that."""
    follow = Counter(one.follows for one in compared if one.follows)
    alike: dict[tuple[PurePosixPath, str], list[str]] = {}
    for one in compared:
        if not one.follows:
            for fault in one.faults:
                alike.setdefault((PurePosixPath(one.name).parent, fault), []).append(one.name)
    for (_, fault), names in alike.items():
        more = f" and {len(names) - 1} more of that folder" if len(names) > 1 else ""
        after = f" ({_files(follow[names[0]])} follow from it)" if len(names) == 1 and names[0] in follow else ""
        yield f"  {names[0]}{more}: {fault}{after}"


def anew_words(proof: Proof) -> str:
    """Return what came of making every file once more, apart from what the readers found."""
    anew = proof.anew
    if anew is None:
        return "Bytes were not made anew; this makes every file once more and compares: facade proof --anew"
    if anew.why:
        return f"Bytes: {anew.why}."
    others = f"; others: {', '.join(anew.differing[:_MOST_ALONE])}" if anew.differing else ""
    more = f" and {len(anew.differing) - _MOST_ALONE} more" if len(anew.differing) > _MOST_ALONE else ""
    return f"Made anew: {anew.equal} of {anew.total} equal{others}{more}."


def proof_data(proof: Proof) -> dict[str, object]:
    """Return the proof for a program to read; lengths in mm, whatever the job's unit."""
    return {
        "folder": str(proof.folder),
        "mark": proof.front.mark,
        "failed": proof.failed,
        "failed_strips": list(proof.failed_strips),
        "deviation_mm": proof.deviation,
        "made_anew": _anew_data(proof.anew),
        "files": [_data(one) for one in proof.compared],
    }


def _anew_data(anew: Anew | None) -> dict[str, object] | None:
    if anew is None:
        return None
    return {"files": anew.total, "equal": anew.equal, "differing": list(anew.differing), "why_not": anew.why}


def _data(one: Compared) -> dict[str, object]:
    return {
        "name": one.name,
        "verdict": one.verdict.value,
        "compared": one.what,
        "points": one.points,
        "deviation_mm": _finite(one.deviation),
        "allowed_mm": one.allowed,
        "least_mm": one.least,
        "faults": list(one.faults),
        "follows": one.follows,
        "skipped": one.skipped,
        "note": one.note,
    }


def _finite(value: float | None) -> float | None:
    """Return a number that JSON can hold: none for what is no number."""
    return value if value is not None and math.isfinite(value) else None


def verdict(proof: Proof) -> str:
    """Return the short answer."""
    failing, skipped = (
        sum(one.verdict is kind for one in proof.compared) for kind in (Verdict.FAILS, Verdict.NOT_COMPARED)
    )
    rest = f" {skipped} not compared." if skipped else ""
    if failing:
        following = sum(bool(one.follows) for one in proof.compared)
        also = f", and {following} that follow" if following else ""
        count = failing - following
        return f"FAILS: {count} of {_files(len(proof.compared))}{also}. Cut nothing from them; build anew.{rest}"
    agreeing = len(proof.compared) - skipped
    said = "agrees" if agreeing == 1 else "agree, each within what is allowed for its kind"
    return f"{_files(agreeing)} {said}.{rest}"


def small(mm: float | None, ruler: Ruler) -> str:
    """Return a small length in the job's unit: four decimals of a mm, five of an inch; "" for none."""
    if mm is None:
        return ""
    return f"{mm:.4f} mm" if ruler.unit is Unit.MM else f"{mm / ruler.unit.in_mm:.5f} in"


def _files(count: int) -> str:
    return f"{count} file{'s' if count != 1 else ''}"


def _rows(proof: Proof) -> Iterator[_Row]:
    """Yield the rows: files of a folder that came out alike together, each that fails by itself."""
    following = [one for one in proof.compared if one.follows]
    others = [one for one in proof.compared if not one.follows]
    for key, group in groupby(sorted(others, key=_group), key=_group):
        some = list(group)
        if len(some) == 1 or (key[2] is Verdict.FAILS and len(some) <= _MOST_ALONE):
            yield from (_Row(one.name, one, 1) for one in some)
        else:
            yield _Row(_together(some), joined(some), len(some))
    if following:
        yield _Row(f"made of it before, {_files(len(following))}", joined(following), len(following))


def _group(one: Compared) -> tuple[str, str, Verdict, str]:
    path = PurePosixPath(one.name)
    if path.parent == PurePosixPath("."):
        return ("", one.name, one.verdict, "")
    return (path.parent.as_posix(), path.suffix + one.what, one.verdict, one.skipped)


def _together(some: Sequence[Compared]) -> str:
    """Return the name of a group: "paper/*-sides.svg", 88 files."""
    path = PurePosixPath(some[0].name)
    endings = {PurePosixPath(one.name).stem.rpartition("-")[2] for one in some}
    kind = f"*-{endings.pop()}" if len(endings) == 1 else "*"
    return f"{path.parent}/{kind}{path.suffix}, {len(some)} files"


def _cells(row: _Row, ruler: Ruler) -> tuple[str, ...]:
    one = row.compared
    least = "" if one.least is None else ruler.fine(one.least)
    points = f"{one.points:,}" if one.points else ""
    allowed = small(one.allowed, ruler)
    why = one.skipped if one.verdict is Verdict.NOT_COMPARED else ""
    return (
        row.name,
        points,
        small(one.deviation, ruler),
        allowed,
        least,
        ": ".join(filter(None, (one.verdict.value, why))),
    )


def _table(rows: Sequence[Sequence[str]]) -> list[str]:
    """Return rows as lines: first and last column to the left, figures to the right."""
    wide = [max(len(row[column]) for row in rows) for column in range(len(rows[0]))]
    last = len(wide) - 1
    return [
        "  ".join(
            cell.ljust(wide[column]) if column == 0 else cell if column == last else cell.rjust(wide[column])
            for column, cell in enumerate(row)
        ).rstrip()
        for row in rows
    ]
