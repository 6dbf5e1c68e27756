"""People, roles, first passwords, competence."""

from __future__ import annotations

import html
import re
from collections.abc import Callable
from datetime import date, timedelta
from typing import Any

import pytest
from django.test import Client
from django.utils import timezone

from clinic.examples import PASSWORD, Clinic
from quietlimb.clinic.journal.models import Entry
from quietlimb.clinic.people.models import Competence, Membership, Person
from quietlimb.clinic.staff.selectors import ending_competences
from quietlimb.clinic.verifying import verify

SignIn = Callable[[Person], Client]
NEW = {"name": "Plover", "username": "Plover", "roles": ["nurse", "veterinarian"]}
HER_OWN = "the hedge is high in May"


def code_on(page: str) -> str:
    """The code that a page shows."""
    found = re.search(r'<p class="code">([A-Z0-9-]+)</p>', page)
    assert found
    return found[1]


def told(**columns: Any) -> dict[str, Any]:
    """The form of a competence, filled in."""
    return {
        "subject": "Doppler in cats",
        "taught_by": "",
        "taught_elsewhere": "",
        "observed_sessions": 3,
        "since": "2024-01-04",
        "until": "",
        **columns,
    }


def test_a_new_person_sets_her_password_herself_by_a_code_that_works_once(
    clinic: Clinic, signed_in: SignIn, client: Client
) -> None:
    """She cannot sign in before; small letters and blanks in the code do not matter; the second try is refused.

    Neither password nor code stands in the journal.

    Oracle: by construction.
    """
    answer = signed_in(clinic.lead).post("/practice/people/add", NEW)
    assert answer.status_code == 201
    code = code_on(answer.text)
    made = Person.objects.get(username="plover")
    assert (made.practice, made.has_usable_password()) == (clinic.practice, False)
    assert made.roles == {"nurse", "veterinarian"}
    hers = Client()
    typed = {"username": " Plover", "code": code.lower().replace("-", " "), "password": HER_OWN}
    assert hers.post("/welcome", {**typed, "code": "AAAA-BBBB-CCCC"}).status_code == 422
    assert hers.post("/welcome", {**typed, "password": "plover1234"}).status_code == 422
    assert hers.post("/welcome", typed).headers["location"] == "/me"
    assert hers.get("/").status_code == 200
    assert Client().post("/welcome", typed).status_code == 422
    assert Client().post("/sign-in", {"username": "plover", "password": HER_OWN}).status_code == 302
    letters = code.replace("-", "")
    for entry in Entry.objects.all():
        assert not re.search(f'{letters}|{HER_OWN}|argon2|first_code"', entry.before + entry.after)
    assert verify().trouble is None


def test_a_code_ends_after_three_days_and_with_the_next_one(clinic: Clinic, signed_in: SignIn) -> None:
    """An old code, and one that was replaced, say the same as a wrong one. Her old password holds until then.

    Oracle: by construction.
    """
    browser, address = signed_in(clinic.lead), f"/practice/people/{clinic.nurse.pk}/code"
    first, second = (code_on(browser.post(address).text) for _ in range(2))
    typed = {"username": "wren", "password": HER_OWN}
    assert Client().post("/sign-in", {**typed, "password": PASSWORD}).status_code == 302
    assert Client().post("/welcome", {**typed, "code": first}).status_code == 422
    Person.objects.filter(pk=clinic.nurse.pk).update(first_code_until=timezone.now() - timedelta(seconds=1))
    assert Client().post("/welcome", {**typed, "code": second}).status_code == 422
    Person.objects.filter(pk=clinic.nurse.pk).update(first_code_until=timezone.now() + timedelta(days=1))
    assert Client().post("/welcome", {**typed, "code": second}).status_code == 302
    assert Client().post("/sign-in", {**typed, "password": PASSWORD}).status_code == 422


def test_guessing_codes_is_slowed_down(clinic: Clinic, signed_in: SignIn) -> None:
    """After six wrong codes even the right one has to wait; after four it does not, and she is signed in.

    Oracle: by construction.
    """
    code = code_on(signed_in(clinic.lead).post(f"/practice/people/{clinic.nurse.pk}/code").text)
    guesser = Client(REMOTE_ADDR="192.0.2.7")
    typed = {"username": "wren", "password": HER_OWN}
    for _ in range(6):
        guesser.post("/welcome", {**typed, "code": "AAAA-AAAA-AAAA"})
    answer = guesser.post("/welcome", {**typed, "code": code})
    assert answer.status_code == 422
    assert "Too many tries" in answer.text
    slow = Client(REMOTE_ADDR="192.0.2.8")
    for _ in range(4):
        slow.post("/welcome", {**typed, "code": "AAAA-AAAA-AAAA"})
    assert slow.post("/welcome", {**typed, "code": code}).status_code == 302
    assert slow.get("/").status_code == 200


def test_a_name_is_taken_in_every_practice(clinic: Clinic, signed_in: SignIn) -> None:
    """Whoever signs in by it, the page says so; nothing is written.

    Oracle: by construction.
    """
    browser = signed_in(clinic.lead)
    for username in ("wren", "MAGPIE"):
        answer = browser.post("/practice/people/add", {**NEW, "username": username})
        assert answer.status_code == 422
        assert "Somebody signs in by this name" in answer.text
        assert (
            browser.post(f"/practice/people/{clinic.colleague.pk}", {"name": "L", "username": username}).status_code
            == 422
        )
    assert not Entry.objects.exists()


def test_roles_are_given_and_ended_and_their_rows_stay(clinic: Clinic, signed_in: SignIn) -> None:
    """Given twice it is held once; ended, it stands with its end, and her rights are gone at the next click.

    Oracle: by construction.
    """
    browser, address = signed_in(clinic.lead), f"/practice/people/{clinic.nurse.pk}/role"
    for _ in range(2):
        assert browser.post(address, {"role": "researcher", "do": "give"}).status_code == 302
    browser.post(address, {"role": "nurse", "do": "end"})
    rows = Membership.objects.filter(person=clinic.nurse).values_list("role", "until")
    assert sorted(rows) == [("nurse", timezone.localdate()), ("researcher", None)]
    assert Person.objects.get(pk=clinic.nurse.pk).roles == {"researcher"}
    assert list(Entry.objects.values_list("what", flat=True)) == ["role given", "role ended"]
    assert browser.post(address, {"role": "queen"}).status_code == 422


def test_somebody_always_leads_the_practice(clinic: Clinic, signed_in: SignIn) -> None:
    """The last lead can neither end her role nor be deactivated; with a second one she can.

    Oracle: by construction.
    """
    browser, hers = signed_in(clinic.lead), f"/practice/people/{clinic.lead.pk}"
    for page, sent in (("role", {"role": "lead", "do": "end"}), ("active", {"do": "deactivate"})):
        answer = browser.post(f"{hers}/{page}", sent)
        assert answer.status_code == 422
        assert "make somebody else practice lead first" in html.unescape(answer.text)
    browser.post(f"/practice/people/{clinic.nurse.pk}/role", {"role": "lead", "do": "give"})
    assert browser.post(f"{hers}/role", {"role": "lead", "do": "end"}).status_code == 302
    assert browser.get("/practice").status_code == 403


def test_who_has_left_is_out_and_stays_in_the_books(clinic: Clinic, signed_in: SignIn) -> None:
    """She is signed out at once, a waiting code is void, her sessions keep her name; she may be let in again.

    Oracle: by construction.
    """
    nurse, lead = Client(), signed_in(clinic.lead)
    nurse.post("/sign-in", {"username": "wren", "password": PASSWORD})
    code = code_on(lead.post(f"/practice/people/{clinic.nurse.pk}/code").text)
    lead.post(f"/practice/people/{clinic.nurse.pk}/active", {"do": "deactivate"})
    assert nurse.get("/").status_code == 302
    assert Client().post("/welcome", {"username": "wren", "code": code, "password": HER_OWN}).status_code == 422
    clinic.session.refresh_from_db()
    assert clinic.session.started_by == clinic.nurse
    assert "Wren" not in lead.get("/practice/people").text
    assert "Wren" in lead.get("/practice/people?show=former").text
    lead.post(f"/practice/people/{clinic.nurse.pk}/active", {"do": "activate"})
    assert Client().post("/sign-in", {"username": "wren", "password": PASSWORD}).status_code == 302


def test_competence_stands_with_what_by_whom_and_until_when(clinic: Clinic, signed_in: SignIn) -> None:
    """It is added and changed, with before and after; an end before the beginning and teaching oneself are refused.

    Oracle: by construction.
    """
    browser, address = signed_in(clinic.lead), f"/practice/people/{clinic.nurse.pk}/competence"
    assert browser.post(address, told(until="2023-01-01")).status_code == 422
    assert browser.post(address, told(taught_by=str(clinic.nurse.pk))).status_code == 422
    assert browser.post(address, told(taught_by=str(clinic.stranger.pk))).status_code == 422
    assert browser.post(address, told(taught_by=str(clinic.veterinarian.pk))).status_code == 302
    row = Competence.objects.get()
    assert (row.person, row.taught_by, row.observed_sessions) == (clinic.nurse, clinic.veterinarian, 3)
    browser.post(f"/practice/competence/{row.pk}", told(observed_sessions=5))
    page = browser.get(f"/practice/competence/{row.pk}").text
    assert "sessions watched: <del>3</del> &rarr; <ins>5</ins>" in page
    assert "5 sessions watched" in browser.get(f"/practice/people/{clinic.nurse.pk}").text


@pytest.mark.parametrize(
    ("days", "warned", "over"), [(61, False, False), (60, True, False), (0, True, False), (-1, True, True)]
)
def test_a_warning_comes_sixty_days_before_the_end(clinic: Clinic, days: int, warned: bool, over: bool) -> None:
    """On the last day it is still good, the day after it has ended. Sixty days are invented.

    Oracle: by construction.
    """
    day = date(2100, 5, 3)
    Competence.objects.create(
        practice=clinic.practice, person=clinic.nurse, subject="Doppler", since="2099-01-01", until=day
    )
    found = ending_competences(clinic.lead, day - timedelta(days=days))
    assert [each.over for each in found] == ([over] if warned else [])
    assert ending_competences(clinic.nurse, day) == ending_competences(clinic.stranger, day) == []


def test_what_was_taught_again_and_who_has_left_are_not_warned_about(clinic: Clinic, signed_in: SignIn) -> None:
    """A later row of the same subject, however written, renews it. The lead is told on Today, the nurse is not.

    Oracle: by construction.
    """
    today = timezone.localdate()
    old = {"practice": clinic.practice, "since": "2020-01-01", "until": today}
    for person, subject in ((clinic.nurse, "Doppler"), (clinic.colleague, "Tail cuff"), (clinic.researcher, "Doppler")):
        Competence.objects.create(person=person, subject=subject, **old)
    Competence.objects.create(
        practice=clinic.practice, person=clinic.nurse, subject="doppler ", since=today, until=None
    )
    Person.objects.filter(pk=clinic.researcher.pk).update(is_active=False)
    assert [each.competence.person for each in ending_competences(clinic.lead, today)] == [clinic.colleague]
    assert "Tail cuff" in signed_in(clinic.lead).get("/").text
    assert "Tail cuff" not in signed_in(clinic.nurse).get("/").text
