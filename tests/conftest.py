"""The order of the whole: what takes a worker longest goes first, so that none is left alone with it at the end."""

from __future__ import annotations

from pathlib import Path

import pytest

TESTS = Path(__file__).parent
LONGEST = ("clinic/test_on_postgresql.py", "clinic/browser", "validation", "cli", "test_style_and_types.py")


def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    """Files keep their order among themselves, and tests theirs within a file."""

    def place(item: pytest.Item) -> int:
        path = item.path.relative_to(TESTS).as_posix() if item.path.is_relative_to(TESTS) else ""
        return next((n for n, start in enumerate(LONGEST) if path.startswith(start)), len(LONGEST))

    items.sort(key=place)
