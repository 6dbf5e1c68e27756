"""Numbers as people type them: with a decimal point or a decimal comma; and what to say when it is none."""

from __future__ import annotations

import math
import re

import click

_DECIMAL = re.compile(r"[+-]?(\d+([.,]\d*)?|[.,]\d+)")


class Number(click.ParamType[float]):
    """A finite decimal number; `158.5` and `158,5` are the same.

    least, most : limits, both allowed; None means none
    """

    name = "number"

    def __init__(self, *, least: float | None = None, most: float | None = None) -> None:
        self.least, self.most = least, most

    def convert(self, value: object, param: click.Parameter | None, ctx: click.Context | None) -> float:
        """The number; a text that is none, or lies outside the limits, is wrong use."""
        text = str(value).strip()
        if not _DECIMAL.fullmatch(text) and not isinstance(value, float):
            self.fail(f"{text!r} is not a number; write it like 158, 158.5 or 158,5", param, ctx)
        number = float(text.replace(",", "."))
        if not math.isfinite(number):
            self.fail(f"{text!r} is no finite number", param, ctx)
        if (self.least is not None and number < self.least) or (self.most is not None and number > self.most):
            self.fail(f"{text} is outside {self.least:g} to {self.most:g}", param, ctx)
        return number


class NumberCommand(click.Command):
    """A command that takes a number first: `-5` there is a number out of place, not an unknown option."""

    def parse_args(self, ctx: click.Context, args: list[str]) -> list[str]:
        """As every command; a negative number is told as such."""
        given = tuple(args)  # the parser empties its own list
        try:
            return super().parse_args(ctx, args)
        except click.NoSuchOption as error:
            if not error.option_name.lstrip("-")[:1].isdigit():
                raise
            negative = next((arg for arg in given if arg.startswith(error.option_name)), error.option_name)
            raise click.UsageError(f"{negative} is below 0, and this number must be above 0", ctx) from None
