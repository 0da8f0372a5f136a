"""Printers that were measured, by the maker's own names for them; kept outside the job, in the user's settings."""

from __future__ import annotations

import json
import math
from dataclasses import asdict, dataclass
from pathlib import Path

from facade.errors import FileError, mistake
from facade.files import put_settings
from facade.printing.correction import MOST, Correction
from facade.printing.papers import Margins, Paper, sheet_paper


@dataclass(frozen=True)
class Printer:
    """What is known of a printer: its paper, its margins in mm, and its correction."""

    name: str
    paper: str
    margins: Margins
    short: float = 1.0
    long: float = 1.0

    @property
    def correction(self) -> Correction:
        """By what lengths are multiplied before printing."""
        return Correction(self.short, self.long, self.name)

    @property
    def sheet(self) -> Paper:
        """The paper that it usually holds."""
        return sheet_paper(self.paper, self.margins)


def settings_file() -> Path:
    """Return where printers are kept."""
    from platformdirs import user_config_path

    return Path(user_config_path("facade", appauthor=False)) / "printers.json"


def printers() -> dict[str, Printer]:
    """Return all printers by name; raises FileError when the file cannot be read."""
    path = settings_file()
    if not path.exists():
        return {}
    try:
        stored = json.loads(path.read_text("utf-8"))
        known = [Printer(**{**one, "margins": Margins(**one["margins"])}) for one in stored]
        sound = all(_sound(one) for one in known)
    except (OSError, ValueError, TypeError, KeyError, AttributeError, RecursionError) as error:
        raise FileError(f"{path} cannot be read: move it away, and measure the printers again") from error
    if not sound:
        raise FileError(f"{path} holds what no printer can do: move it away, and measure the printers again")
    return {one.name: one for one in known}


def _sound(one: Printer) -> bool:
    factors = (one.short, one.long)
    return all(math.isfinite(factor) and abs(factor - 1.0) <= 2 * MOST for factor in factors) and bool(one.sheet)


def printer(name: str) -> Printer:
    """Return a printer; raises JobError for a name that is not there."""
    known = printers()
    if name not in known:
        names = ", ".join(repr(one) for one in known) or "none was measured yet"
        raise mistake(
            "printer", f"printer {name!r} is not known ({names}): measure its calibration sheet, then `facade printer`"
        )
    return known[name]


def keep_printer(one: Printer) -> Path:
    """Keep what is known of a printer and return the file; raises FileError."""
    return _store({**printers(), one.name: one})


def forget_printer(name: str) -> Path:
    """Forget a printer and return the file; raises JobError for a name that is not there."""
    known = printers()
    del known[printer(name).name]
    return _store(known)


def _store(known: dict[str, Printer]) -> Path:
    path = settings_file()
    text = json.dumps([asdict(known[name]) for name in sorted(known)], indent=1, ensure_ascii=False) + "\n"
    put_settings(path, text.encode("utf-8"))
    return path
