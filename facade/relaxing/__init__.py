"""Relaxing: the smallest change of a design that clears what stops it, as a new job file. The old one is not touched."""

from facade.relaxing.search import Relaxed, relax

__all__ = ["Relaxed", "relax"]
