"""What a test needs and this machine lacks: the test is skipped, or fails where QUIETLIMB_NO_SKIPS=1 is set."""

from __future__ import annotations

import os
from typing import NoReturn

import pytest


def missing(why: str) -> NoReturn:
    """Skip, or fail, with the reason."""
    if os.environ.get("QUIETLIMB_NO_SKIPS") == "1":
        pytest.fail(why, pytrace=False)
    pytest.skip(why)
