"""Fetching the veterinarian at once."""

from __future__ import annotations

from collections.abc import Callable
from datetime import timedelta

import pytest
from django.test import Client

from clinic.examples import Clinic, reading
from quietlimb.clinic.journal.models import Entry
from quietlimb.clinic.people.models import Person
from quietlimb.clinic.sessions.calling import call_take_back, veterinarian_call
from quietlimb.clinic.sessions.entry import EntryError
from quietlimb.clinic.sessions.models import Series, Session, SignedValue
from quietlimb.clinic.today import waiting_for_the_veterinarian

SignIn = Callable[[Person], Client]


def test_a_called_session_stands_first_whatever_its_number(clinic: Clinic, signed_in: SignIn) -> None:
    """Open, at 118 mmHg, it stands before an ended one of 200; who called and when is told, here and in the journal.

    Oracle: by construction.
    """
    ended = Session.objects.create(
        practice=clinic.practice,
        animal=clinic.animal,
        started_at=clinic.started_at - timedelta(hours=1),
        started_by=clinic.nurse,
        ending="closed",
        ended_at=clinic.started_at,
        ended_by=clinic.nurse,
    )
    high = ended.series.create(practice=clinic.practice, ordinal=1, technique="oscillometric")
    for k in range(3):
        reading(clinic, k - 60, 200 + k, series=high)
        reading(clinic, k, 118 + k)
    browser = signed_in(clinic.nurse)
    address = f"/sessions/{clinic.session.pk}/call"
    part = browser.post(address, {"do": "call"}, headers={"HX-Request": "true"})
    assert "Veterinarian called by Wren" in part.text
    found = waiting_for_the_veterinarian(clinic.veterinarian)
    assert [(each.session, each.urgent) for each in found] == [(clinic.session, True), (ended, True)]
    today = browser.get("/").text
    assert "called by Wren" in today
    assert Entry.objects.get(what="veterinarian called").who == clinic.nurse
    assert "Veterinarian called by Wren" in browser.get(f"/sessions/{clinic.session.pk}/result").text
    assert browser.post(address, {"do": "take-back"}).status_code == 302
    assert [each.session for each in waiting_for_the_veterinarian(clinic.veterinarian)] == [ended]
    assert Entry.objects.filter(what="call taken back").count() == 1


def test_a_call_does_not_show_what_is_still_kept_back(clinic: Clinic) -> None:
    """By Doppler before the planned count, Today tells the call and no pressure.

    Oracle: by construction.
    """
    Series.objects.filter(pk=clinic.series.pk).update(technique="doppler", instrument=None)
    for k in range(3):
        reading(clinic, k, 200)
    veterinarian_call(clinic.nurse, session=clinic.session, at=clinic.started_at)
    (found,) = waiting_for_the_veterinarian(clinic.nurse)
    assert (found.urgent, found.systolic_mmhg, found.shown) == (True, None, "")


def test_called_twice_the_first_time_stands_and_signed_it_is_over(clinic: Clinic) -> None:
    """One entry in the journal for two touches; a signed session is neither called to nor listed.

    Oracle: by construction.
    """
    first = veterinarian_call(clinic.nurse, session=clinic.session, at=clinic.started_at)
    again = veterinarian_call(clinic.colleague, session=first, at=clinic.started_at + timedelta(minutes=1))
    assert (again.called_by, again.called_at) == (clinic.nurse, clinic.started_at)
    assert Entry.objects.filter(what="veterinarian called").count() == 1
    SignedValue.objects.create(
        practice=clinic.practice,
        session=clinic.session,
        signed_by=clinic.veterinarian,
        signed_at=clinic.started_at,
        rules="acvim-2018",
        engine="0",
        frozen="{}",
        seal="0" * 64,
    )
    assert waiting_for_the_veterinarian(clinic.veterinarian) == []
    with pytest.raises(EntryError, match="signed"):
        call_take_back(clinic.nurse, session=clinic.session)
