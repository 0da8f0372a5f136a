"""What is asked of a strip again and again, read off its real heights once and small enough to keep for every strip of a wall."""

from __future__ import annotations

from facade.measuring.measures import Measures, measure

__all__ = ["Measures", "measure"]
