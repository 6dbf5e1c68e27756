"""Dates and times in words."""

from __future__ import annotations

import pytest

from quietlimb.words.dates import MONTHS, date_and_time


@pytest.mark.parametrize(
    ("text", "told"),
    [
        ("2100-01-01T09:00:00+00:00", "1 January 2100, 09:00"),
        ("2031-12-24 23:59", "24 December 2031, 23:59"),
        ("2031-05-03T09:10:59.5Z", "3 May 2031, 09:10"),
        ("2031-03-03", "3 March 2031"),
        ("last Tuesday", "last Tuesday"),
        ("2031-02-30", "2031-02-30"),
        ("", ""),
    ],
)
def test_dates_are_told_as_people_write_them(text: str, told: str) -> None:
    """To the minute, without the offset; a date alone stays one; what is no date stays as given.

    Oracle: by construction, ISO 8601.
    """
    assert date_and_time(text) == told


def test_there_are_twelve_months() -> None:
    """Each has its own name.

    Oracle: common practice.
    """
    assert len(set(MONTHS)) == 12
