"""Days as people type them."""

from __future__ import annotations

from datetime import date

import click


class Day(click.ParamType[date]):
    """A date as 2031-02-04."""

    name = "date"

    def convert(self, value: object, param: click.Parameter | None, ctx: click.Context | None) -> date:
        """The date; any other text is wrong use."""
        if isinstance(value, date):
            return value
        try:
            return date.fromisoformat(str(value).strip())
        except ValueError:
            self.fail(f"{value!r} is no date; write year, month and day as 2031-02-04", param, ctx)
