"""A job in inches speaks of inches only, on the screen too."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from facade.cli import main

INCHES = """title = "Narrow and thin"
unit = "in"
[front]
width = 20
height = 12
[strips]
count = 80
gap = 0
[wood]
species = "black walnut"
blank = "3/4 in"
floor = "3/16 in"
[[layers]]
kind = "hills"
size = 3
"""


@pytest.mark.parametrize("floor", ["3/16 in", "1/8 in", "5/16 in"])
def test_findings_and_rules_of_a_job_in_inches_name_no_millimetres(
    floor: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    (tmp_path / "inches.toml").write_text(INCHES.replace("3/16 in", floor))
    main(["check", str(tmp_path / "inches.toml")])
    said = capsys.readouterr().out
    assert " in" in said
    assert not re.search(r"\bmm\b", said)
