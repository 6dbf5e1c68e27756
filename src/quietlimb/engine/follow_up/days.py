"""Days as whole numbers.

Counted as in the proleptic Gregorian calendar, 1 January of year 1 being day 1. The engine has no clock and no
calendar; whatever counts its own day so, as `datetime.date` does, may stand for a day.
"""

from __future__ import annotations

from numbers import Integral
from typing import Protocol

from quietlimb.engine.errors import ParameterError


class Dated(Protocol):
    """What knows its day, such as `datetime.date`."""

    def toordinal(self) -> int:
        """Days since 31 December of the year before year 1."""


def day_of(day: int | Dated, name: str) -> int:
    """The number of a day.

    name : of what the day is told for, as an error names it

    Raises
    ------
    ParameterError : neither a whole number nor a date (`not-a-day`).
    """
    told: object = day
    if hasattr(told, "toordinal"):
        return int(told.toordinal())
    if not isinstance(told, bool) and isinstance(told, Integral):
        return int(told)
    raise ParameterError(
        "not-a-day", f"{name} is {told!r}", "give a datetime.date, or the whole number that its toordinal() gives"
    )
