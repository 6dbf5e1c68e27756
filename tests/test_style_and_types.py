"""The style and type checks that `run.py check` makes, as tests."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[1]

CHECKS = {
    "ruff check": ["ruff", "check", "--no-cache", "."],
    "ruff format": ["ruff", "format", "--no-cache", "--check", "."],
    "mypy, strict": ["mypy"],
}


@pytest.mark.parametrize("name", CHECKS)
def test_the_tree_is_clean(name: str) -> None:
    """The checker finds nothing.

    Oracle: reference tools, ruff and mypy in the versions of the lock file, with the settings of pyproject.toml.
    """
    done = subprocess.run([sys.executable, "-m", *CHECKS[name]], cwd=ROOT, capture_output=True, text=True, check=False)
    assert done.returncode == 0, done.stdout + done.stderr
