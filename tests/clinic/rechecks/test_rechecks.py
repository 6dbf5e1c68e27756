"""Telling owners that it is time."""

from __future__ import annotations

from collections.abc import Callable
from datetime import timedelta

import pytest
from django.test import Client
from django.utils import timezone

from clinic.examples import Clinic
from quietlimb.clinic.animals.models import Animal, Event, Recheck
from quietlimb.clinic.journal.models import Entry
from quietlimb.clinic.people.models import Person, Practice
from quietlimb.clinic.verifying import verify

SignIn = Callable[[Person], Client]


@pytest.fixture
def recheck(clinic: Clinic) -> Recheck:
    """Thistle was due yesterday."""
    today = timezone.localdate()
    return Recheck.objects.create(
        practice=clinic.practice,
        animal=clinic.animal,
        since=today - timedelta(days=30),
        due_from=today - timedelta(days=9),
        due_by=today - timedelta(days=1),
        why="a reason for the record alone",
        last_charted=171.0,
    )


def test_what_came_of_it_is_kept_with_who_and_when(clinic: Clinic, recheck: Recheck, signed_in: SignIn) -> None:
    """Told again as it was, nothing is written; another state replaces it; an empty one takes it back. All is journal.

    Oracle: by construction.
    """
    browser, address = signed_in(clinic.nurse), f"/due/{recheck.pk}/contact"
    for told in ("contacted", "contacted", "booked"):
        assert browser.post(address, {"contact": told}).headers["location"] == "/"
    recheck.refresh_from_db()
    assert (recheck.contact, recheck.contact_by, recheck.contact_on) == ("booked", clinic.nurse, timezone.localdate())
    page = browser.get("/").text
    assert f"booked {timezone.localdate():%-d %B}, Wren" in page
    assert 'aria-label="Thistle: booked" aria-pressed="true"' in page
    browser.post(address, {"contact": ""})
    recheck.refresh_from_db()
    assert (recheck.contact, recheck.contact_by, recheck.contact_on) == ("", None, None)
    assert list(Entry.objects.values_list("what", flat=True)) == [
        "owner contacted",
        "owner booked",
        "contact taken back",
    ]
    assert browser.post(address, {"contact": "shouted at"}).status_code == 422
    assert browser.post(address).status_code == 422
    assert verify().trouble is None


def test_a_new_window_starts_without_a_contact(clinic: Clinic, recheck: Recheck, signed_in: SignIn) -> None:
    """What was said before the window was set anew is not shown for it, and can be told again.

    Oracle: by construction.
    """
    browser, today = signed_in(clinic.nurse), timezone.localdate()
    Recheck.objects.filter(pk=recheck.pk).update(
        contact="booked", contact_on=today - timedelta(days=31), contact_by=clinic.colleague
    )
    assert "Linnet" not in browser.get("/").text
    browser.post(f"/due/{recheck.pk}/contact", {"contact": "booked"})
    recheck.refresh_from_db()
    assert (recheck.contact_on, recheck.contact_by) == (today, clinic.nurse)


def test_the_letter_tells_when_and_how_and_nothing_of_the_record(
    clinic: Clinic, recheck: Recheck, signed_in: SignIn
) -> None:
    """No pressure, no reason, no prescription; the practice's telephones; the owner's name and address.

    Oracle: by construction.
    """
    Practice.objects.filter(pk=clinic.practice.pk).update(telephone_day="01 234", telephone_night="01 999")
    Event.objects.create(
        practice=clinic.practice, animal=clinic.animal, on="2024-01-01", kind="started", prescription="an invented dose"
    )
    page = signed_in(clinic.nurse).get(f"/due/{recheck.pk}/letter").text
    page = page.partition('<article class="letter">')[2]  # keys around it may hold any digits
    for words in ("Thistle", "Mr Invented", "Please call 01 234", "By night: 01 999", "Never stop them on your own"):
        assert words in page
    for words in ("171", "an invented dose", "a reason for the record alone", " mg"):
        assert words not in page
    Recheck.objects.filter(pk=recheck.pk).update(due_by=timezone.localdate())
    assert "should be measured again between" in signed_in(clinic.nurse).get(f"/due/{recheck.pk}/letter").text


def test_nobody_writes_about_an_animal_that_has_died(clinic: Clinic, recheck: Recheck, signed_in: SignIn) -> None:
    """There is no letter.

    Oracle: by construction.
    """
    Animal.objects.filter(pk=clinic.animal.pk).update(deceased_on="2024-01-05")
    assert signed_in(clinic.nurse).get(f"/due/{recheck.pk}/letter").status_code == 404


def test_the_letter_of_an_invented_practice_says_so(clinic: Clinic, recheck: Recheck, signed_in: SignIn) -> None:
    """The mark stands outside of what is left out in print.

    Oracle: by construction.
    """
    Practice.objects.filter(pk=clinic.practice.pk).update(invented=True)
    page = signed_in(clinic.nurse).get(f"/due/{recheck.pk}/letter").text
    assert page.index("INVENTED - not a patient") < page.index("<header")
