"""The readers of files for machines, which most builds have none of: imported, they register themselves."""

# ruff: noqa: F401
from facade.proof import code, face_words, lying_drawings, lying_words, plans, surfaces
