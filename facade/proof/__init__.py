"""Proof: every file that a build wrote, read back by readers that are not ours and compared with the front of its job file."""

# ruff: noqa: F401
# Readers register themselves.
from facade.proof import (
    code,
    face_words,
    lying_drawings,
    lying_words,
    pictures,
    plans,
    report,
    sheets,
    solids,
    surfaces,
    tables,
)
from facade.proof.compared import Compared, Proof, Verdict
from facade.proof.picture import proof_picture
from facade.proof.proving import prove
from facade.proof.telling import proof_data, proof_lines

__all__ = ["Compared", "Proof", "Verdict", "proof_data", "proof_lines", "proof_picture", "prove"]
