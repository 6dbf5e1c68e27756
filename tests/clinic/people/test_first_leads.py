"""A second practice on the same clinic: made where the clinic runs, set up by its lead, and blind to the first."""

from __future__ import annotations

import re
from collections.abc import Callable
from datetime import timedelta
from pathlib import Path

import pytest
from django.test import Client
from django.urls import reverse
from django.utils import timezone

from clinic.examples import PASSWORD, Clinic
from clinic.serving import asked, filled, verified
from clinic.test_backup import run
from clinic.test_rights import ROUTES, key_of
from quietlimb.clinic.journal.models import Entry
from quietlimb.clinic.people.first_leads import PracticeError, practice_invite
from quietlimb.clinic.people.models import Person, Practice
from quietlimb.clinic.stores import PRACTICE, TEACHING

SignIn = Callable[[Person], Client]
LEAD = {"time_zone": "Europe/Lisbon", "name": "Plover", "username": "plover", "password": PASSWORD}
OF_THE_FIRST = ("Mill Pond", "Thistle", "Mr Invented", "grey box", "the small one", "Wren", "Linnet", "Heron", "Alder")


def set_up(browser: Client, code: str, **told: str) -> Person:
    """The lead of the second practice, who has typed her code at the page for it."""
    answer = browser.post("/first", {**LEAD, "code": code, **told})
    assert answer.status_code == 302, answer.text
    return Person.objects.get(username="plover")


def test_the_code_opens_the_page_once_and_makes_a_lead_of_the_named_practice(clinic: Clinic, client: Client) -> None:
    """Before there is a code, and after it was used, there is no such page; the name is the one given at the command.

    Oracle: by construction.
    """
    assert client.get("/first").status_code == 404
    code = practice_invite("Practice by the Weir")
    page = client.get("/first").text
    assert "practice_name" not in page
    assert "Weir" not in page  # the page is open to everybody
    lead = set_up(client, code.lower().replace("-", " "))
    assert (lead.practice.name, lead.practice.time_zone) == ("Practice by the Weir", "Europe/Lisbon")
    assert lead.roles == {"lead"}
    assert client.get("/practice").status_code == 200
    assert client.get("/first").status_code == 404
    told = list(Entry.objects.filter(practice=lead.practice).order_by("sequence").values_list("what", flat=True))
    assert told == ["code for the first lead given", "practice set up", "person added", "role given"]
    assert code.replace("-", "") not in "".join(Entry.objects.values_list("after", flat=True))


@pytest.mark.django_db(databases=[PRACTICE, TEACHING])
def test_the_second_practice_sees_nothing_of_the_first(clinic: Clinic, client: Client) -> None:
    """Every address, as its lead in all roles: no name of the first practice, and no page for a key of it.

    Oracle: by construction, the names in the invented practice.
    """
    lead = set_up(client, practice_invite("Practice by the Weir"))
    for role in ("nurse", "veterinarian"):
        lead.memberships.create(practice=lead.practice, role=role, since="2020-01-01")
    keys = {key: key_of(clinic, key) for key in {route.key for route in ROUTES.values()} if key}
    for name, route in ROUTES.items():
        if route.key:
            address = reverse(name, args=[keys[route.key]])
            # a result that no case here has is refused alike to everybody
            assert getattr(client, route.method)(address, route.sent).status_code == 404, name
        elif name not in ("sign-out", "sign-in", "welcome"):
            for query in ("", "?q=Thistle", "?q=Wren", "?show=former"):
                text = client.get(reverse(name) + query).text
                # what was typed into the search
                text = re.sub(r'(value|data-letters)="[^"]*"|<small>[^<]*</small>', "", text)
                assert not [word for word in OF_THE_FIRST if word in text], (name, query)


def test_a_code_that_is_wrong_old_or_void_makes_nobody(clinic: Clinic, client: Client) -> None:
    """Asked again, only the latest code opens; after three days none does.

    Oracle: by construction, the time of the guide.
    """
    first = practice_invite("Practice by the Weir")
    second = practice_invite(" practice by the weir ")
    for code in ("AAAA-BBBB-CCCC", first):
        assert client.post("/first", {**LEAD, "code": code}).status_code == 422
    Practice.objects.filter(name="Practice by the Weir").update(first_code_until=timezone.now() - timedelta(seconds=1))
    assert client.get("/first").status_code == 404
    assert client.post("/first", {**LEAD, "code": second}).status_code == 404
    assert not Person.objects.filter(username="plover").exists()
    with pytest.raises(PracticeError, match="There is a practice of this name"):
        practice_invite("practice at the MILL pond")
    for name in ("", "  ", "x" * 121, "a\nb"):
        with pytest.raises(PracticeError, match="no name"):
            practice_invite(name)


def test_all_that_is_wrong_is_told_at_once(clinic: Clinic, client: Client) -> None:
    """A wrong code beside a short password and a name that somebody has: three reasons, each at its field.

    Oracle: by construction.
    """
    practice_invite("Practice by the Weir")
    page = client.post("/first", {**LEAD, "code": "AAAA", "password": "short", "username": "Wren"}).text
    assert "This is not the code." in page
    assert "at least 10 characters" in page
    assert "Somebody signs in by this name" in page
    assert page.count('role="alert"') == 3


def test_the_command_prints_a_code_and_leaves_the_first_practice_alone(tmp_path: Path) -> None:
    """As a whole program on a filled folder; a folder without a clinic gets no practice.

    Oracle: by construction; the tables are read past the clinic.
    """
    data = tmp_path / "data"
    filled(data)
    before = asked(data, "SELECT count(*) FROM people_person")
    done = run(data, "practice", "Practice by the Weir")
    assert done.returncode == 0, done.stderr
    assert re.search(r"/first .*: ([A-Z2-9]{4}-){2}[A-Z2-9]{4}\n", done.stdout)
    assert asked(data, "SELECT count(*) FROM people_person") == before
    assert asked(data, "SELECT count(*) FROM people_practice WHERE name = 'Practice by the Weir'") == [(1,)]
    assert verified(data).returncode == 0
    refused = run(tmp_path / "none", "practice", "Practice by the Weir")
    assert refused.returncode == 1
    assert not (tmp_path / "none").exists()
