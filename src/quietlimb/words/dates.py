"""Dates and times as people write them."""

from __future__ import annotations

from datetime import datetime

from quietlimb.words.language import _, mark

MONTHS = (
    mark("January"),
    mark("February"),
    mark("March"),
    mark("April"),
    mark("May"),
    mark("June"),
    mark("July"),
    mark("August"),
    mark("September"),
    mark("October"),
    mark("November"),
    mark("December"),
)
_DATE_ALONE = len("2031-03-03")


def date_and_time(text: str) -> str:
    """`3 March 2031, 09:10`, or `3 March 2031` of a date alone; what is no ISO 8601 date stays as it was given.

    The time is that of the clock on the wall, to the minute; its offset from UTC is left out.
    """
    try:
        moment = datetime.fromisoformat(text.strip())
    except ValueError:
        return text
    date = _("{day} {month} {year}").format(day=moment.day, month=_(MONTHS[moment.month - 1]), year=moment.year)
    return date if len(text.strip()) <= _DATE_ALONE else _("{date}, {time}").format(date=date, time=f"{moment:%H:%M}")
