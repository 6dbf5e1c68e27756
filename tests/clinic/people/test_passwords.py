"""A person changes her own password."""

from __future__ import annotations

from collections.abc import Callable

import pytest
from django.test import Client

from clinic.examples import PASSWORD, Clinic
from quietlimb.clinic.journal.models import Entry
from quietlimb.clinic.people.models import Person

SignIn = Callable[[Person], Client]
NEW = "another limb that keeps quiet"


def test_a_new_password_holds_and_signs_out_everywhere_else(clinic: Clinic, signed_in: SignIn) -> None:
    """She stays where she is; another browser that knew the old one is a stranger; the old one opens nothing.

    Oracle: by construction.
    """
    elsewhere = Client()
    assert elsewhere.post("/sign-in", {"username": "wren", "password": PASSWORD}).status_code == 302
    browser = signed_in(clinic.nurse)
    answer = browser.post("/me/password", {"old": PASSWORD, "new": NEW})
    assert answer.status_code == 200
    assert "The password is changed." in answer.text
    assert browser.get("/").status_code == 200
    assert elsewhere.get("/").status_code == 302
    assert Client().post("/sign-in", {"username": "wren", "password": PASSWORD}).status_code == 422
    assert Client().post("/sign-in", {"username": "wren", "password": NEW}).status_code == 302
    entry = Entry.objects.get(what="password changed")
    assert entry.who == clinic.nurse
    assert "argon2" not in entry.after


@pytest.mark.parametrize(
    ("old", "new", "says"),
    [
        ("not hers at all", NEW, "This is not your password."),
        (PASSWORD, "short", "at least 10 characters"),
        (PASSWORD, "password1234", "too common"),
        (PASSWORD, "", "required"),
    ],
)
def test_what_is_refused_leaves_the_old_one(clinic: Clinic, signed_in: SignIn, old: str, new: str, says: str) -> None:
    """Not without the old one, and not a weak one.

    Oracle: by construction; the framework's own rules for weak ones.
    """
    browser = signed_in(clinic.nurse)
    answer = browser.post("/me/password", {"old": old, "new": new})
    assert answer.status_code == 422
    assert says in answer.text
    assert not Entry.objects.exists()
    assert Client().post("/sign-in", {"username": "wren", "password": PASSWORD}).status_code == 302
