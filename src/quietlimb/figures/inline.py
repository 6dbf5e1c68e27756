"""Rows as the data of a chart, carried inside its specification."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any


def inline(rows: Sequence[Mapping[str, Any]]) -> Any:
    """The rows as altair's inline data: plain dictionaries, so that no table library is needed."""
    import altair as alt

    return alt.Data(values=[dict(row) for row in rows])  # type: ignore[no-untyped-call]
