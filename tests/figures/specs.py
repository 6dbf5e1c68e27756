"""What a test reads out of a chart specification."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any


def rows(spec: dict[str, Any], *fields: str) -> list[dict[str, Any]]:
    """Every row of the specification's data that has all these fields, each once."""
    found: list[dict[str, Any]] = []
    for data in [*spec.get("datasets", {}).values(), *(d["values"] for d in _inline(spec))]:
        for row in data:
            if all(field in row for field in fields) and row not in found:
                found.append(row)
    return found


def _inline(part: Any) -> Iterator[dict[str, Any]]:
    if isinstance(part, dict):
        if isinstance(part.get("data"), dict) and "values" in part["data"]:
            yield part["data"]
        for value in part.values():
            yield from _inline(value)
    elif isinstance(part, list):
        for value in part:
            yield from _inline(value)
