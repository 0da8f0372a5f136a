"""The code is clean for the linter and the type checker."""

import subprocess
import sys
from pathlib import Path

ROOT = Path(__file__).parent.parent


def said_by(*command: str) -> str:
    done = subprocess.run([sys.executable, "-m", *command], cwd=ROOT, capture_output=True, text=True, check=False)
    return "" if done.returncode == 0 else done.stdout + done.stderr


def test_ruff_finds_nothing() -> None:
    assert said_by("ruff", "check", "--no-cache", "facade", "tests") == ""


def test_mypy_finds_nothing() -> None:
    assert said_by("mypy", "--cache-dir", "/dev/null" if sys.platform != "win32" else "nul") == ""
