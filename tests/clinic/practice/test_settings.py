"""The settings of a practice."""

from __future__ import annotations

import json
from collections.abc import Callable
from typing import Any

import pytest
from django.test import Client

from clinic.desk.examples import signed_value
from clinic.examples import Clinic, reading
from quietlimb.clinic.journal.changing import changes_of
from quietlimb.clinic.journal.models import Entry
from quietlimb.clinic.people.models import Person, Practice
from quietlimb.clinic.sessions.models import Ending, Series, Session
from quietlimb.clinic.sessions.services import session_end
from quietlimb.clinic.verifying import verify

SignIn = Callable[[Person], Client]
SETTINGS = "/practice/settings"


def settings(**changed: object) -> dict[str, Any]:
    """The form filled in."""
    return {
        "name": "Practice at the Mill Pond",
        "time_zone": "UTC",
        "rules": "acvim-2018",
        "planned_readings": 6,
        "telephone_day": "",
        "telephone_night": "",
        "retention": "",
        **changed,
    }


def test_a_change_is_kept_and_told_with_before_and_after(clinic: Clinic, signed_in: SignIn) -> None:
    """Who changed which setting from what to what; a form sent unchanged tells nothing.

    Oracle: by construction.
    """
    browser = signed_in(clinic.lead)
    assert browser.post(SETTINGS, settings(planned_readings=8, telephone_day="01 234")).status_code == 302
    assert browser.post(SETTINGS, settings(planned_readings=8, telephone_day="01 234")).status_code == 302
    entry = Entry.objects.get(what="settings changed")
    assert entry.who == clinic.lead
    before, after = json.loads(entry.before), json.loads(entry.after)
    assert (before["planned_readings"], after["planned_readings"]) == (6, 8)
    (told,) = changes_of(clinic.practice)
    assert told.differences == (("planned readings", "6", "8"), ("telephone by day", "-", "01 234"))
    page = browser.get(SETTINGS).text
    assert "planned readings: <del>6</del> &rarr; <ins>8</ins>" in page
    assert verify().trouble is None


def test_another_practice_keeps_its_settings(clinic: Clinic, signed_in: SignIn) -> None:
    """The lead of one practice changes hers alone.

    Oracle: by construction.
    """
    signed_in(clinic.stranger).post(SETTINGS, settings(name="Practice on the Hill", planned_readings=9))
    assert Practice.objects.get(pk=clinic.practice.pk).planned_readings == 6
    assert Practice.objects.get(pk=clinic.stranger.practice_id).planned_readings == 9


@pytest.mark.parametrize(
    ("name", "value"),
    [
        ("planned_readings", 0),
        ("planned_readings", 21),
        ("time_zone", "Middle/Earth"),
        ("rules", "isfm-2017"),  # for cats alone: dogs of the practice could not be charted
        ("rules", "nothing"),
        ("name", ""),
        ("retention", "nul\0"),
    ],
)
def test_impossible_settings_are_refused(clinic: Clinic, signed_in: SignIn, name: str, value: object) -> None:
    """The page comes back with the reason, the frame keeps the old name, nothing is written.

    Oracle: by construction.
    """
    answer = signed_in(clinic.lead).post(SETTINGS, settings(**{name: value}))
    assert answer.status_code == 422
    assert 'role="alert"' in answer.text
    assert "Practice at the Mill Pond" in answer.text
    assert not Entry.objects.exists()


def test_a_new_plan_holds_for_series_opened_from_now_on(clinic: Clinic, signed_in: SignIn) -> None:
    """The series at the table keeps its plan; the next session of the same animal gets the new one, and is offered it.

    Oracle: by construction.
    """
    clinic.practice.planned_readings = 9
    clinic.practice.save()
    browser = signed_in(clinic.nurse)
    assert 'name="planned_readings" value="9"' in browser.get(f"/start/{clinic.animal.pk}").text
    browser.post(f"/start/{clinic.animal.pk}", {"technique": "doppler"})
    assert Series.objects.get(pk=clinic.series.pk).planned_readings == 6
    assert Series.objects.exclude(pk=clinic.series.pk).get().planned_readings == 9


def test_what_is_signed_keeps_its_rule_set(clinic: Clinic, signed_in: SignIn) -> None:
    """After the change the signed value stands by the old rule set, and a new one is signed by the new.

    Oracle: by construction.
    """
    for k in range(6):
        reading(clinic, 2 * k, 150 + k % 2)
    ended = session_end(clinic.nurse, session=clinic.session, ending=Ending.CLOSED, at=clinic.started_at)
    told = {"chosen": None, "reason": "asked for by the test", "at": clinic.started_at}
    old = signed_value(clinic.veterinarian, ended, clinic.series, **told)
    signed_in(clinic.lead).post(SETTINGS, settings(rules="iris-2019"))
    old.refresh_from_db()
    assert old.rules == "acvim-2018"
    later = Session.objects.create(
        practice=clinic.practice,
        animal=clinic.animal,
        started_at=clinic.started_at,
        started_by=clinic.nurse,
        ending="closed",
        ended_at=clinic.started_at,
    )
    new = signed_value(clinic.veterinarian, Session.objects.get(pk=later.pk), None, **told)
    assert new.rules == "iris-2019"
    assert verify().trouble is None
