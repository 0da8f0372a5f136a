"""Options: variants of a job that can be made and differ, side by side, and one of them as a job file."""

from facade.options.exploring import MOST_SHOWN, Option, Options, axes_of, explore
from facade.options.page import options_page
from facade.options.sheet import options_sheet
from facade.options.taking import NOTES, notes_of, take

__all__ = [
    "MOST_SHOWN",
    "NOTES",
    "Option",
    "Options",
    "axes_of",
    "explore",
    "notes_of",
    "options_page",
    "options_sheet",
    "take",
]
