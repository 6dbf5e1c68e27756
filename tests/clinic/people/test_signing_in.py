"""Signing in and out, resting, changing person."""

from __future__ import annotations

import re
from collections.abc import Callable
from datetime import timedelta

import pytest
from django.test import Client
from django.utils import timezone

from clinic.examples import PASSWORD, SHORT_CODE, Clinic
from quietlimb.clinic.journal.models import Entry
from quietlimb.clinic.people.expiry import PASSWORD_AT, TOUCHED_AT
from quietlimb.clinic.people.models import Attempts, Person

SignIn = Callable[[Person], Client]


def let_pass(browser: Client, since: str, minutes: float) -> None:
    """Make the browser's memory older."""
    session = browser.session
    session[since] -= minutes * 60
    session.save()


def who(browser: Client) -> str | None:
    """The name in the frame of Today; None where signing in is asked for."""
    answer = browser.get("/")
    if answer.status_code == 302:
        return None
    return next(name for name in ("Wren", "Linnet", "Heron") if f"<summary>{name}</summary>" in answer.text)


def test_name_and_password_lead_to_where_one_was_going(clinic: Clinic, client: Client) -> None:
    """Capitals in the name do not matter; an address elsewhere is not followed.

    Oracle: by construction.
    """
    typed = {"username": " WREN ", "password": PASSWORD, "next": "/me"}
    assert client.post("/sign-in", typed).headers["location"] == "/me"
    typed["next"] = "https://elsewhere.example/"
    assert client.post("/sign-in", typed).headers["location"] == "/"


@pytest.mark.parametrize("typed", [{"username": "wren", "password": "x"}, {"username": "nobody", "password": PASSWORD}])
def test_a_wrong_name_and_a_wrong_password_get_the_same_answer(
    clinic: Clinic, client: Client, typed: dict[str, str]
) -> None:
    """The answer does not tell whether there is such a person.

    Oracle: by construction.
    """
    answer = client.post("/sign-in", typed)
    assert answer.status_code == 422
    assert "Name or password is wrong." in answer.text


def test_who_may_no_longer_sign_in_is_out_at_once(clinic: Clinic, signed_in: SignIn) -> None:
    """A person who was set inactive is a stranger at the next click.

    Oracle: by construction.
    """
    browser = signed_in(clinic.nurse)
    assert who(browser) == "Wren"
    Person.objects.filter(pk=clinic.nurse.pk).update(is_active=False)
    assert who(browser) is None


def test_after_a_rest_a_short_code_brings_one_back(clinic: Clinic, signed_in: SignIn) -> None:
    """Idle for longer than the limit, the page asks who is here; the short code is enough, for a colleague too.

    Who was here is named, and her code is the first to type. To hand over, she is no choice, and nobody is named.

    Oracle: by construction; the limit is 20 min.
    """
    browser = signed_in(clinic.nurse)
    let_pass(browser, TOUCHED_AT, 19)
    assert who(browser) == "Wren"
    let_pass(browser, TOUCHED_AT, 21)
    assert who(browser) is None
    page = browser.get("/sign-in").text
    assert page.count("Who is here?") == 1
    ids = re.findall(r' id="(\w+)"', page)
    assert len(ids) == len(set(ids))
    assert re.findall(r"<(?:input|select)[^>]* autofocus[^>]* id=.(\w+)", page) == ["change_code"]
    assert '<option value="wren" selected>' in page
    assert browser.post("/change-person", {"username": "wren", "code": "0000"}).status_code == 422
    assert browser.post("/change-person", {"username": "wren", "code": SHORT_CODE}).status_code == 302
    assert who(browser) == "Wren"
    page = browser.get("/sign-in").text
    assert '<option value="wren"' not in page
    assert '<option value="" selected>' in page
    assert re.findall(r"<(?:input|select)[^>]* autofocus[^>]* id=.(\w+)", page) == ["change_username"]
    assert browser.post("/change-person", {"username": "linnet", "code": SHORT_CODE}).status_code == 302
    assert who(browser) == "Linnet"


def test_a_short_code_never_lasts_longer_than_the_password(clinic: Clinic, signed_in: SignIn) -> None:
    """Half a day after the password, whoever took over by short code since then types a password again.

    Oracle: by construction; the limit is 12 h.
    """
    browser = signed_in(clinic.nurse)
    browser.post("/change-person", {"username": "linnet", "code": SHORT_CODE})
    let_pass(browser, PASSWORD_AT, 12 * 60 + 1)
    assert who(browser) is None
    assert "Who is here?" not in browser.get("/sign-in").text
    assert browser.post("/change-person", {"username": "linnet", "code": SHORT_CODE}).headers["location"] == "/sign-in"


def test_a_stranger_does_not_take_over(clinic: Clinic, signed_in: SignIn) -> None:
    """The short code of somebody of another practice opens nothing here.

    Oracle: by construction.
    """
    browser = signed_in(clinic.nurse)
    assert browser.post("/change-person", {"username": "magpie", "code": SHORT_CODE}).status_code == 422
    assert who(browser) == "Wren"


def test_a_short_code_is_guessed_five_times_and_no_more(clinic: Clinic, signed_in: SignIn) -> None:
    """After five wrong codes the right one is refused too, until the person has typed her password.

    Oracle: by construction.
    """
    browser = signed_in(clinic.nurse)
    for guess in range(5):
        browser.post("/change-person", {"username": "linnet", "code": f"100{guess}"})
    answer = browser.post("/change-person", {"username": "linnet", "code": SHORT_CODE})
    assert answer.status_code == 422
    assert "Too many tries. Sign in with your password." in answer.text
    Attempts.objects.update(last_at=timezone.now() - timedelta(days=1))
    assert browser.post("/change-person", {"username": "linnet", "code": SHORT_CODE}).status_code == 422
    signed_in(clinic.colleague)
    assert browser.post("/change-person", {"username": "linnet", "code": SHORT_CODE}).status_code == 302


def test_signing_out_forgets_the_browser(clinic: Clinic, signed_in: SignIn) -> None:
    """Afterwards a short code opens nothing.

    Oracle: by construction.
    """
    browser = signed_in(clinic.nurse)
    browser.post("/sign-out")
    assert browser.post("/change-person", {"username": "wren", "code": SHORT_CODE}).headers["location"] == "/sign-in"
    assert who(browser) is None


def test_one_sets_a_short_code_with_ones_password(clinic: Clinic, signed_in: SignIn) -> None:
    """Only with the password, and no code that anybody tries first; the journal tells of it without the code.

    Oracle: by construction.
    """
    browser = signed_in(clinic.nurse)
    for typed in (
        {"password": "x", "code": "8302"},
        {"password": PASSWORD, "code": "1111"},
        {"password": PASSWORD, "code": "12a4"},
    ):
        assert browser.post("/me", typed).status_code == 422
    assert browser.post("/me", {"password": PASSWORD, "code": "8302"}).status_code == 200
    nurse = Person.objects.get(pk=clinic.nurse.pk)
    assert nurse.has_short_code("8302")
    assert not nurse.has_short_code(SHORT_CODE)
    assert nurse.short_code.startswith("argon2")
    assert Entry.objects.get(what="short code set").who == clinic.nurse


def test_a_form_from_elsewhere_is_refused(clinic: Clinic) -> None:
    """Without the page's token nothing is accepted.

    Oracle: by construction.
    """
    answer = Client(enforce_csrf_checks=True).post("/sign-in", {"username": "wren", "password": PASSWORD})
    assert answer.status_code == 403
    assert "older than your sign-in" in answer.text


def test_cookies_are_kept_from_scripts_and_other_sites(clinic: Clinic, client: Client) -> None:
    """Both cookies are marked so.

    Oracle: by construction.
    """
    client.get("/sign-in")
    client.post("/sign-in", {"username": "wren", "password": PASSWORD})
    assert set(client.cookies) == {"quietlimb", "quietlimb-form"}
    for cookie in client.cookies.values():
        assert cookie["httponly"]
        assert cookie["samesite"] == "Lax"


def test_times_are_those_of_the_practice(clinic: Clinic, signed_in: SignIn) -> None:
    """Today shows the start of the open session by the practice's clock.

    Oracle: by construction; 09:00 in UTC is 10:00 in Oslo in January.
    """
    clinic.practice.time_zone = "Europe/Oslo"
    clinic.practice.save()
    assert "4 January, 10:00" in signed_in(clinic.nurse).get("/").text
    assert timezone.get_current_timezone_name() == "UTC"
    assert timedelta(0) == timezone.localtime().utcoffset()


def test_guessing_the_password_on_ones_own_page_is_slowed_down_too(clinic: Clinic, signed_in: SignIn) -> None:
    """Somebody at a browser that was left open does not get to try passwords without end.

    Oracle: by construction.
    """
    browser = signed_in(clinic.nurse)
    for _ in range(5):
        assert "This is not your password." in browser.post("/me", {"password": "x", "code": "8302"}).text
    answer = browser.post("/me", {"password": PASSWORD, "code": "8302"})
    assert answer.status_code == 422
    assert "Too many tries" in answer.text


def test_a_page_that_asks_by_itself_keeps_nobody_signed_in(clinic: Clinic, signed_in: SignIn) -> None:
    """The part of a page that an open page asks for again and again does not count as a touch; a reading does.

    Oracle: by construction; the limit is 20 min.
    """
    browser = signed_in(clinic.nurse)
    for path, comes_back in ((f"/series/{clinic.series.pk}/part", False), (f"/sessions/{clinic.session.pk}", True)):
        let_pass(browser, TOUCHED_AT, 15)
        assert browser.get(path).status_code == 200
        let_pass(browser, TOUCHED_AT, 6)
        assert (who(browser) == "Wren") is comes_back
        browser.post("/change-person", {"username": "wren", "code": SHORT_CODE})


def test_pages_are_not_kept_by_the_browser(clinic: Clinic, signed_in: SignIn) -> None:
    """After signing out, the button back shows nothing of what was there.

    Oracle: published, RFC 9111 section 5.2.2.5: no-store.
    """
    assert "no-store" in signed_in(clinic.nurse).get("/").headers["Cache-Control"]


def test_who_sees_nothing_of_today_comes_to_a_page_that_is_hers(clinic: Clinic, client: Client) -> None:
    """A researcher signs in and is not told at once that this is not hers.

    Oracle: by construction.
    """
    answer = client.post("/sign-in", {"username": "sorrel", "password": PASSWORD}, follow=True)
    assert answer.redirect_chain == [("/export", 302)]
    assert answer.status_code == 200
