"""Proof: every file that a build wrote, read back by readers that are not ours and compared with the front of its job file."""

# ruff: noqa: F401
# Readers register themselves; those of files for machines where such a file is met.
from facade.proof import pictures, report, sheets, solids, tables
from facade.proof.compared import Compared, Proof, Verdict
from facade.proof.picture import proof_picture
from facade.proof.proving import prove
from facade.proof.telling import proof_data, proof_lines

__all__ = ["Compared", "Proof", "Verdict", "proof_data", "proof_lines", "proof_picture", "prove"]
