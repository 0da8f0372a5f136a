"""Relaxing: the smallest change of a design that clears what stops it, as a new job file. The old one is not touched."""

from facade.relaxing.search import Refused, Relaxed, relax

__all__ = ["Refused", "Relaxed", "relax"]
