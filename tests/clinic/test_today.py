"""Today: what waits, the urgent first."""

from __future__ import annotations

from collections.abc import Callable
from datetime import date, timedelta

from django.test import Client

from clinic.examples import PASSWORD, Clinic, person, reading
from quietlimb.clinic.animals.models import Animal, Recheck
from quietlimb.clinic.beginning import steps_of
from quietlimb.clinic.equipment.models import Cuff, Instrument
from quietlimb.clinic.people.models import Person, Practice, Role
from quietlimb.clinic.sessions.models import Recording, Session
from quietlimb.clinic.today import due, open_sessions, waiting_for_the_veterinarian


def another_session(clinic: Clinic, name: str, systolic: float, ended_min: float) -> Session:
    """An ended session of another animal, with one series of three readings."""
    animal = Animal.objects.create(practice=clinic.practice, name=name, species="dog")
    session = Session.objects.create(
        practice=clinic.practice,
        animal=animal,
        started_at=clinic.started_at,
        started_by=clinic.nurse,
        ending="closed",
        ended_at=clinic.started_at + timedelta(minutes=ended_min),
        ended_by=clinic.nurse,
    )
    series = session.series.create(practice=clinic.practice, ordinal=1, technique="oscillometric")
    for k in range(3):
        reading(clinic, 2 * k, systolic + k, series=series)
    return session


def test_the_urgent_come_first_then_the_longest_waiting(clinic: Clinic) -> None:
    """180 mmHg and over stands before all others, however late it came; an open session does not wait.

    Oracle: by construction; the line of 180 mmHg is from memory (ACVIM 2018).
    """
    for name, systolic, ended in (("Fern", 140, 1), ("Bramble", 150, 2), ("Teasel", 195, 30)):
        another_session(clinic, name, systolic, ended)
    found = waiting_for_the_veterinarian(clinic.veterinarian)
    assert [(each.session.animal.name, each.urgent) for each in found] == [
        ("Teasel", True),
        ("Fern", False),
        ("Bramble", False),
    ]
    assert list(open_sessions(clinic.nurse)) == [clinic.session]
    assert waiting_for_the_veterinarian(clinic.stranger) == []
    assert not open_sessions(clinic.stranger)


def test_the_page_names_what_waits_with_its_number(clinic: Clinic, signed_in: Callable[[Person], Client]) -> None:
    """The urgent session is marked in words.

    Oracle: by construction.
    """
    another_session(clinic, "Teasel", 195, 5)
    page = signed_in(clinic.veterinarian).get("/").text
    assert page.index("Waiting for the veterinarian") < page.index("Teasel") < page.index("Open sessions")
    assert "<strong>urgent</strong>" in page


def test_who_is_due_stands_with_why_and_since_when(clinic: Clinic) -> None:
    """From the first day of its window an animal is due, after the last one overdue; a dead one never.

    Oracle: by construction.
    """
    day = date(2100, 3, 1)
    Recheck.objects.create(
        practice=clinic.practice,
        animal=clinic.animal,
        since=date(2100, 1, 4),
        due_from=day,
        due_by=day + timedelta(days=7),
        why="second session",
    )
    assert due(clinic.nurse, day - timedelta(days=1)) == []
    assert [each.overdue for each in due(clinic.nurse, day)] == [False]
    assert [each.overdue for each in due(clinic.nurse, day + timedelta(days=8))] == [True]
    Animal.objects.filter(pk=clinic.animal.pk).update(deceased_on=day)
    assert due(clinic.nurse, day) == []


def test_what_cannot_be_charted_does_not_hide_the_rest(clinic: Clinic, signed_in: Callable[[Person], Client]) -> None:
    """Its session stands after the urgent ones, before the others, and says so; a charted series of it still counts.

    Oracle: by construction.
    """
    another_session(clinic, "Fern", 140, 1)
    another_session(clinic, "Teasel", 195, 30)
    recording = Recording.objects.create(practice=clinic.practice, sha256="0" * 64, name="a.csv", content=b"a")
    for name, systolic, ended in (("Sedge", 130, 40), ("Reed", 196, 50)):
        session = another_session(clinic, name, systolic, ended)
        unread = session.series.create(practice=clinic.practice, ordinal=2, technique="oscillometric")
        reading(clinic, 0, None, series=unread, recording=recording)
    found = waiting_for_the_veterinarian(clinic.veterinarian)
    assert [(each.session.animal.name, each.urgent, each.whole) for each in found] == [
        ("Reed", True, False),
        ("Teasel", True, True),
        ("Sedge", False, False),
        ("Fern", False, True),
    ]
    assert "cannot be charted: look at it" in signed_in(clinic.veterinarian).get("/").text


def test_a_new_lead_is_told_what_is_missing_until_it_is_there(clinic: Clinic, client: Client) -> None:
    """In an empty practice: people, instrument, cuffs, telephone, each with its page; to nobody but the lead.

    Oracle: by construction.
    """
    practice = Practice.objects.create(name="Practice by the Weir")
    plover = person(practice, "Plover", Role.LEAD)
    client.post("/sign-in", {"username": "plover", "password": PASSWORD})
    page = client.get("/").text
    assert "To begin with" in page
    for href in ("/practice/people/add", "/instruments/add", "/instruments/cuffs/add", "/practice/settings"):
        assert f'href="{href}"' in page
        assert client.get(href).status_code == 200
    assert "Import them from a table" in client.get("/animals").text
    assert "Add the first one above" in client.get("/instruments").text
    nurse = person(practice, "Siskin", Role.NURSE)
    assert steps_of(nurse) == []
    person(practice, "Egret", Role.VETERINARIAN)
    Cuff.objects.create(practice=practice, name="c", width_cm=3.0)
    Instrument.objects.create(practice=practice, name="i", technique="doppler", slots=["systolic"])
    Practice.objects.filter(pk=practice.pk).update(telephone_day="1", telephone_night="2")
    assert steps_of(Person.objects.get(pk=plover.pk)) == []
    page = client.get("/").text
    assert "To begin with" not in page
    assert "1 in service has no check yet" in page
