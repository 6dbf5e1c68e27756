"""When it is enough for today."""

from __future__ import annotations

from collections.abc import Callable
from datetime import UTC, datetime, timedelta

from django.test import Client

from clinic.examples import Clinic, reading
from quietlimb.clinic.people.models import Person
from quietlimb.clinic.sessions.resting import MOST_MINUTES, MOST_READINGS, stop_for_today

START = datetime(2024, 1, 4, 9, 0, tzinfo=UTC)


def test_too_many_inflations_or_minutes_stop_the_day() -> None:
    """One fewer, or a second less, does not.

    Oracle: invented limits, 15 inflations and 30 min, frozen here.
    """
    assert (MOST_READINGS.value, MOST_MINUTES.value) == (15, 30)
    many = [START + timedelta(minutes=k) for k in range(15)]
    assert stop_for_today([]) is None
    assert stop_for_today(many[:-1]) is None
    assert stop_for_today(many) == "readings"
    assert stop_for_today([START + timedelta(minutes=30), START]) == "minutes"
    assert stop_for_today([START + timedelta(minutes=30, seconds=-1), START]) is None


def test_the_page_says_stop_over_all_series_and_takes_readings_still(
    clinic: Clinic, signed_in: Callable[[Person], Client]
) -> None:
    """Spoiled inflations count too, and the next reading is not refused.

    Oracle: by construction.
    """
    browser, address = signed_in(clinic.nurse), f"/series/{clinic.series.pk}/part"
    for k in range(14):
        reading(clinic, k, 160, spoiled="moved" if k % 2 else "")
    assert "Stop for today" not in browser.get(address).text
    reading(clinic, 14, 160)
    assert "Stop for today" in browser.get(address).text
