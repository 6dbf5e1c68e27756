"""The teaching room. Oracle: by construction, what is done there is looked for in both stores."""

from __future__ import annotations

import uuid
from collections.abc import Callable

import pytest
from django.test import Client
from django.urls import get_script_prefix

from clinic.examples import Clinic
from quietlimb.clinic.animals.models import Animal
from quietlimb.clinic.journal.models import Entry
from quietlimb.clinic.people.models import Person
from quietlimb.clinic.sessions.models import Reading, Session
from quietlimb.clinic.stores import PRACTICE, TEACHING

pytestmark = pytest.mark.django_db(databases=[PRACTICE, TEACHING])
SignIn = Callable[[Person], Client]
TYPED = {"systolic": 148, "taken_at": "", "ordinal": 1, "spoiled": ""}


def counts(store: str) -> list[int]:
    return [each.objects.using(store).count() for each in (Animal, Session, Reading, Entry)]


def started(browser: Client) -> Session:
    """A session with a new animal, by the pages."""
    answer = browser.post("/teaching/room/start", {"name": "Learning Tom", "species": "cat"})
    assert answer.status_code == 302, answer.content.decode()
    animal = Animal.objects.using(TEACHING).get()
    answer = browser.post(answer.headers["Location"], {"technique": "doppler", "planned_readings": "3"})
    assert answer.status_code == 302, answer.content.decode()
    assert answer.headers["Location"].startswith("/teaching/room/")
    return Session.objects.using(TEACHING).get(animal=animal)


def test_a_whole_session_leaves_nothing_in_the_practices_store(clinic: Clinic, signed_in: SignIn) -> None:
    browser, before = signed_in(clinic.nurse), counts(PRACTICE)
    session = started(browser)
    told = {**TYPED, "client_id": str(uuid.uuid4()), "taken_at": session.started_at.isoformat()}
    series = session.series.get()
    address = f"/teaching/room/series/{series.pk}/readings"
    answer = browser.post(address, told, content_type="application/json")
    assert answer.status_code == 201, answer.content.decode()
    answer = browser.post(f"/teaching/room/sessions/{session.pk}/end", {"ending": "closed"})
    assert answer.status_code == 302
    assert counts(PRACTICE) == before
    assert counts(TEACHING)[:3] == [1, 1, 1]


def test_every_page_of_it_says_what_it_is(clinic: Clinic, signed_in: SignIn) -> None:
    browser = signed_in(clinic.nurse)
    session = started(browser)
    for address in ("/", "/animals", f"/sessions/{session.pk}"):
        text = browser.get(f"/teaching/room{address}").content.decode()
        assert "TRAINING ANIMAL - not a patient" in text
        assert '<body class="learning' in text
        assert 'href="/teaching/room/animals"' in text
    assert "TRAINING ANIMAL" not in browser.get("/").content.decode()


def test_a_patient_is_not_found_in_the_room_and_a_training_animal_not_outside(
    clinic: Clinic, signed_in: SignIn
) -> None:
    browser = signed_in(clinic.nurse)
    session = started(browser)
    assert browser.get(f"/sessions/{clinic.session.pk}").status_code == 200
    assert browser.get(f"/teaching/room/sessions/{clinic.session.pk}").status_code == 404
    assert browser.get(f"/sessions/{session.pk}").status_code == 404


def test_who_learns_is_nurse_and_veterinarian_there_and_no_lead(clinic: Clinic, signed_in: SignIn) -> None:
    browser = signed_in(clinic.lead)
    session = started(browser)  # a lead measures nothing in the practice
    assert browser.get(f"/teaching/room/sessions/{session.pk}/result").status_code == 200
    assert browser.get("/teaching/room/practice").status_code == 403
    assert browser.get("/practice").status_code == 200


def test_passwords_and_codes_are_told_outside_the_room(clinic: Clinic, signed_in: SignIn) -> None:
    answer = signed_in(clinic.nurse).get("/teaching/room/me?a=1")
    assert (answer.status_code, answer.headers["Location"]) == (302, "/me?a=1")


def test_nobody_gets_in_without_signing_in(clinic: Clinic, client: Client) -> None:
    answer = client.get("/teaching/room/animals")
    assert answer.status_code == 302
    assert answer.headers["Location"].startswith("/teaching/room/sign-in?next=/teaching/room/animals")
    assert Person.objects.using(TEACHING).count() == 0


def test_a_new_name_is_known_in_the_room(clinic: Clinic, signed_in: SignIn) -> None:
    browser = signed_in(clinic.nurse)
    assert browser.get("/teaching/room/").status_code == 200
    Person.objects.filter(pk=clinic.nurse.pk).update(name="Of another name")
    assert "Of another name" in browser.get("/teaching/room/").content.decode()


def test_the_address_of_other_pages_stays_as_it_was(clinic: Clinic, signed_in: SignIn) -> None:
    signed_in(clinic.nurse).get("/teaching/room/")
    assert get_script_prefix() == "/"
