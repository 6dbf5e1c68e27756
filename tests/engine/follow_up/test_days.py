"""Days as dates or as numbers."""

from __future__ import annotations

from datetime import date, datetime
from typing import Any

import numpy as np
import pytest

from engine.follow_up.examples import AROUND
from quietlimb.engine.errors import ParameterError
from quietlimb.engine.follow_up.days import day_of
from quietlimb.engine.follow_up.follow import follow
from quietlimb.engine.follow_up.history import History, PastSession, TreatmentEvent

DAY = date(2031, 2, 4)
NUMBER = 2030 * 365 + 507 - 20 + 5 + 31 + 4  # of 4 February 2031


@pytest.mark.parametrize("day", [DAY, datetime(2031, 2, 4, 10, 30), NUMBER, np.int64(NUMBER)])
def test_a_date_and_its_number_are_one_day(day: Any) -> None:
    """Also with a time, and as a whole number of numpy.

    Oracle: published, the calendar: 2030 years of 365 days, 507 - 20 + 5 leap days before 2031, 31 of January and 4.
    """
    found = day_of(day, "on_day")
    assert (found, type(found)) == (NUMBER, int)


@pytest.mark.parametrize("day", ["2031-02-04", 741_477.0, True, None])
def test_what_is_no_day_is_refused_by_name(day: Any) -> None:
    """Text, a fraction, a truth value or nothing, with what to give in its place.

    Oracle: by construction.
    """
    with pytest.raises(ParameterError, match="on_day is") as caught:
        day_of(day, "on_day")
    assert "datetime.date" in caught.value.remedy


def test_a_history_of_dates_is_one_of_numbers() -> None:
    """Sessions, events, birth and what is asked may be dates; the answer and its fingerprint are the same.

    Oracle: by construction; equality.
    """

    def followed(as_day: Any) -> Any:
        begun, visits = as_day(date(2031, 2, 1)), [as_day(date(2031, month, 1)) for month in (1, 2, 3)]
        sessions = tuple(
            PastSession(day=day, systolic_mmhg=160.0, own_sd_mmhg=4.0, circumstances=AROUND) for day in visits
        )
        events = (TreatmentEvent(day=begun, step="begun"),)
        told = History(species="cat", sessions=sessions, events=events, born_day=as_day(date(2020, 5, 1)))
        assert told.before(visits[1]).sessions == sessions[:2]
        return follow(told, on_day=as_day(date(2031, 4, 1)), since_day=visits[0], until_day=visits[1])

    dates, numbers = followed(lambda day: day), followed(date.toordinal)
    assert dates.fingerprint == numbers.fingerprint
    assert (dates.level, dates.between_days, dates.recheck) == (numbers.level, numbers.between_days, numbers.recheck)
