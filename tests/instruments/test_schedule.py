"""When a check is due."""

from __future__ import annotations

from datetime import date, timedelta
from typing import get_args

import pytest

from quietlimb.engine.errors import ParameterError
from quietlimb.engine.values import Cited
from quietlimb.instruments.schedule import SCHEDULE, Scheduled, due, months_later

LAST = date(2031, 1, 31)


def test_every_scheduled_check_has_its_interval():
    """A dial twice a year, an electronic instrument yearly, cuffs and pairs monthly, a look each day.

    Oracle: from memory (ACVIM 2018: half-yearly) and common practice, as the project's page on devices has them.
    """
    assert set(SCHEDULE) == set(get_args(Scheduled))
    assert {kind: (every.value, every.unit) for kind, every in SCHEDULE.items()} == {
        "look": (1.0, "d"),
        "static-aneroid": (6.0, "months"),
        "static-electronic": (12.0, "months"),
        "paired": (1.0, "months"),
        "cuff": (1.0, "months"),
    }


@pytest.mark.parametrize(
    ("today", "state", "left"),
    [
        (date(2031, 2, 1), "good", 180),
        (date(2031, 7, 16), "good", 15),
        (date(2031, 7, 17), "due soon", 14),
        (date(2031, 7, 31), "due soon", 0),
        (date(2031, 8, 1), "overdue", -1),
    ],
)
def test_a_dial_is_good_then_due_soon_then_overdue(today: date, state: str, left: int):
    """From 14 days before; the day itself is in time.

    Oracle: common practice.
    """
    found = due(LAST, "static-aneroid", today)
    assert (found.state, found.days_left, found.on) == (state, left, date(2031, 7, 31))


def test_months_end_where_they_end():
    """31 January and a month is the last of February, in a leap year the 29th.

    Oracle: by construction, the calendar.
    """
    assert months_later(LAST, 1) == date(2031, 2, 28)
    assert months_later(date(2032, 1, 31), 1) == date(2032, 2, 29)
    assert months_later(date(2031, 12, 5), 13) == date(2033, 1, 5)


def test_a_short_interval_is_not_due_soon_all_the_time():
    """A monthly check warns in its last week; a daily one on its day alone.

    Oracle: our own choice: a quarter of the interval.
    """
    assert due(date(2031, 3, 1), "cuff", date(2031, 3, 20)).state == "good"
    assert due(date(2031, 3, 1), "cuff", date(2031, 3, 25)).state == "due soon"
    assert due(date(2031, 3, 1), "look", date(2031, 3, 1)).state == "good"
    assert due(date(2031, 3, 1), "look", date(2031, 3, 2)).state == "due soon"
    assert due(date(2031, 3, 1), "look", date(2031, 3, 3)).state == "overdue"


def test_never_done_is_overdue():
    """Oracle: common practice: without a check there is no valid mark."""
    found = due(None, "static-electronic", LAST)
    assert (found.state, found.on, found.days_left) == ("overdue", None, None)


def test_a_setting_takes_the_place_of_the_schedule():
    """A house that checks its dials every 90 days.

    Oracle: by construction.
    """
    own = {**SCHEDULE, "static-aneroid": Cited(90.0, "d", "practice", "this house", "common practice")}
    assert due(LAST, "static-aneroid", LAST, own).on == LAST + timedelta(days=90)


@pytest.mark.parametrize(("value", "unit"), [(0.0, "d"), (1.5, "months"), (2.0, "years"), (1e6, "d")])
def test_an_impossible_schedule_is_refused(value: float, unit: str):
    """Oracle: by construction."""
    own: dict[Scheduled, Cited] = {"cuff": Cited(value, unit, "practice", "-", "invented")}
    with pytest.raises(ParameterError) as refused:
        due(LAST, "cuff", LAST, own)
    assert refused.value.code == "impossible-schedule"


def test_a_check_of_tomorrow_and_one_without_schedule_are_refused():
    """Oracle: by construction."""
    with pytest.raises(ParameterError, match="but today is"):
        due(LAST, "cuff", LAST - timedelta(days=1))
    with pytest.raises(ParameterError, match="not in the schedule"):
        due(LAST, "cuff", LAST, {})
