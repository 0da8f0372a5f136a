"""The job file: its models, its reading, its mistakes in plain sentences, its schema."""

from facade.job.bench import Cutter, CutterShape, ErrorBudget, Fixing, Held
from facade.job.hanging import (
    BareDoor,
    Beside,
    Board,
    Climate,
    Hand,
    HingeRow,
    Hinges,
    Mounting,
    Neighbour,
    Opening,
    Pivot,
    Pull,
    Room,
)
from facade.job.limits import Limit
from facade.job.machine import Finishing, Machine, Roughing, Side, Words
from facade.job.model import Around, Cap, DoorPattern, Edge, Fade, Fit, Job, Keep, Land, Reveals, Shape
from facade.job.reading import make_job, read_job, settings_of, with_lines

__all__ = [
    "Around",
    "BareDoor",
    "Beside",
    "Board",
    "Cap",
    "Climate",
    "Cutter",
    "CutterShape",
    "DoorPattern",
    "Edge",
    "ErrorBudget",
    "Fade",
    "Finishing",
    "Fit",
    "Fixing",
    "Hand",
    "Held",
    "HingeRow",
    "Hinges",
    "Job",
    "Keep",
    "Land",
    "Limit",
    "Machine",
    "Mounting",
    "Neighbour",
    "Opening",
    "Pivot",
    "Pull",
    "Reveals",
    "Room",
    "Roughing",
    "Shape",
    "Side",
    "Words",
    "make_job",
    "read_job",
    "settings_of",
    "with_lines",
]
