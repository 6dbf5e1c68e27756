"""When each check is due: how often, by whose word, and whether it is good, due soon or overdue on a given day."""

from __future__ import annotations

import calendar
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date, timedelta
from typing import Final, Literal

from quietlimb.engine.errors import ParameterError
from quietlimb.engine.values import Cited

# What is checked regularly. Static accuracy and leak belong together; a dial loses its accuracy sooner.
Scheduled = Literal["look", "static-aneroid", "static-electronic", "paired", "cuff"]
DueState = Literal["good", "due soon", "overdue"]

DAYS, MONTHS = "d", "months"
MOST_DAYS, MOST_MONTHS = 3660.0, 120.0

# Zero, tube and look of the cuff each day; a dial also after any drop; a paired reading on a calm animal, by another
# instrument, for the trend of the difference; leak and hook-and-loop of each cuff.
SCHEDULE: Final[Mapping[Scheduled, Cited]] = {
    "look": Cited(1.0, DAYS, "practice", "zero, tube and cuff, each day", "common practice"),
    "static-aneroid": Cited(6.0, MONTHS, "ACVIM2018", "calibration twice a year", "from memory"),
    "static-electronic": Cited(12.0, MONTHS, "practice", "at least once a year", "common practice"),
    "paired": Cited(1.0, MONTHS, "practice", "paired check on a calm animal", "common practice"),
    "cuff": Cited(1.0, MONTHS, "practice", "leak and hook-and-loop of cuffs", "common practice"),
}
DUE_SOON_DAYS: Final = Cited(14.0, DAYS, "practice", "warning before a check is overdue", "common practice")


@dataclass(frozen=True, slots=True, kw_only=True)
class Due:
    """How a check stands on a day.

    state     : good; due soon, from 14 days before on (of short intervals: in their last quarter); overdue, after it
    on        : the day by which it is due; None where it was never done
    days_left : until then, below 0 after it; None where it was never done [d]
    every     : how often, with its source
    """

    state: DueState
    on: date | None
    days_left: int | None
    every: Cited


def due(last: date | None, kind: Scheduled, today: date, schedule: Mapping[Scheduled, Cited] = SCHEDULE) -> Due:
    """When a check last done on `last` is due again, seen from `today`.

    A check never done is overdue. The day itself still counts as in time. Due on the same day of the month, or on its
    last day where it has no such day.

    Raises
    ------
    ParameterError : `no-schedule`, `impossible-schedule`; `check-in-future`, when `last` lies after `today`.
    """
    if kind not in schedule:
        raise ParameterError("no-schedule", f"{kind} is not in the schedule", f"choose one of {', '.join(schedule)}")
    every = schedule[kind]
    most = MOST_DAYS if every.unit == DAYS else MOST_MONTHS
    if every.unit not in (DAYS, MONTHS) or not 1.0 <= every.value <= most or every.value != int(every.value):
        raise ParameterError(
            "impossible-schedule",
            f"{kind} every {every.value:g} {every.unit}",
            f"give whole days up to {MOST_DAYS:g}, or whole months up to {MOST_MONTHS:g}",
        )
    if last is None:
        return Due(state="overdue", on=None, days_left=None, every=every)
    if last > today:
        raise ParameterError(
            "check-in-future", f"the last check is of {last}, but today is {today}", "look at the date of the check"
        )
    count = int(every.value)
    on = last + timedelta(days=count) if every.unit == DAYS else months_later(last, count)
    left = (on - today).days
    warning = min(DUE_SOON_DAYS.value, (on - last).days / 4.0)
    state: DueState = "overdue" if left < 0 else "due soon" if left <= warning else "good"
    return Due(state=state, on=on, days_left=left, every=every)


def months_later(day: date, months: int) -> date:
    """The same day so many months later, or the last day of that month where it has no such day."""
    month = day.month - 1 + months
    year, month = day.year + month // 12, month % 12 + 1
    return date(year, month, min(day.day, calendar.monthrange(year, month)[1]))
