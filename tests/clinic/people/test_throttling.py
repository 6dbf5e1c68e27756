"""Guessing is slowed down, and nobody is locked out by somebody else's guesses."""

from __future__ import annotations

from datetime import timedelta

import pytest
from django.test import Client

from clinic.examples import PASSWORD, Clinic
from quietlimb.clinic.people import signing_in, throttling
from quietlimb.clinic.people.models import Attempts

PRACTICE, ELSEWHERE = "192.0.2.1", "198.51.100.7"


def attempt(client: Client, username: str, password: str, address: str) -> int:
    """One try; 302 is in, 422 is not."""
    return client.post("/sign-in", {"username": username, "password": password}, REMOTE_ADDR=address).status_code


def test_a_handful_of_slips_costs_nothing_and_more_cost_time(clinic: Clinic, client: Client) -> None:
    """After five slips the right password has to wait as well; after the wait it opens, and the slips are forgotten.

    Oracle: by construction.
    """
    for _ in range(4):
        attempt(client, "wren", "x", PRACTICE)
    assert throttling.wait_for_sign_in("wren", PRACTICE) == 0
    attempt(client, "wren", "x", PRACTICE)
    assert 0 < throttling.wait_for_sign_in("wren", PRACTICE) <= 15
    assert attempt(client, "wren", PASSWORD, PRACTICE) == 422
    for row in Attempts.objects.all():
        Attempts.objects.filter(pk=row.pk).update(last_at=row.last_at - timedelta(seconds=16))
    assert attempt(client, "wren", PASSWORD, PRACTICE) == 302
    assert throttling.wait_for_sign_in("wren", PRACTICE) == 0


def test_nobody_at_the_practice_waits_for_what_others_guess_there(clinic: Clinic, client: Client) -> None:
    """Behind one address somebody tries hundred names; who has signed in there before still walks in.

    Oracle: by construction.
    """
    assert attempt(client, "wren", PASSWORD, PRACTICE) == 302
    for k in range(100):
        throttling.try_sign_in(f"guess{k}", PRACTICE)
    assert throttling.wait_for_sign_in("guess200", PRACTICE) > 0
    assert throttling.wait_for_sign_in("linnet", PRACTICE) > 0
    assert attempt(client, "wren", PASSWORD, PRACTICE) == 302


def test_nobody_can_be_locked_out_from_afar(clinic: Clinic, client: Client) -> None:
    """Guesses at one name from many addresses make strangers wait, and not the person at her usual place.

    Oracle: by construction.
    """
    assert attempt(client, "wren", PASSWORD, PRACTICE) == 302
    for k in range(50):
        throttling.try_sign_in("wren", f"198.51.100.{k}")
    assert throttling.wait_for_sign_in("wren", "203.0.113.9") > 0
    assert attempt(client, "wren", PASSWORD, PRACTICE) == 302


def test_names_and_addresses_are_not_kept(clinic: Clinic) -> None:
    """The table of attempts holds digests alone.

    Oracle: by construction.
    """
    throttling.try_sign_in("wren", ELSEWHERE)
    digests = list(Attempts.objects.values_list("digest", flat=True))
    assert len(digests) == 3
    assert all(len(digest) == 64 and int(digest, 16) for digest in digests)


@pytest.mark.parametrize(("failures", "wait_s"), [(0, 0), (4, 0), (5, 15), (6, 30), (10, 480), (11, 900), (99, 900)])
def test_each_further_failure_doubles_the_wait_up_to_a_limit(failures: int, wait_s: int) -> None:
    """15 s, 30 s, 60 s ... a quarter of an hour.

    Oracle: by construction.
    """
    assert throttling.NAME_HERE.wait_s(failures) == wait_s


def test_guesses_that_come_at_once_are_not_all_looked_at(
    clinic: Clinic, client: Client, monkeypatch: pytest.MonkeyPatch
) -> None:
    """While one password is looked at, further tries arrive: no more than five are looked at, short codes likewise.

    Oracle: by construction, each look starts the next try before it answers.
    """
    looked: list[str] = []

    def look(*arguments: object, **named: object) -> None:
        looked.append("password")
        if len(looked) < 50:
            attempt(Client(), "wren", "x", PRACTICE)

    monkeypatch.setattr(signing_in, "authenticate", look)
    assert attempt(client, "wren", "x", PRACTICE) == 422
    assert len(looked) == throttling.NAME_HERE.free
    assert [throttling.try_code("wren") for _ in range(7)] == [True] * 5 + [False] * 2


def test_those_who_sign_in_rightly_do_not_make_others_wait(clinic: Clinic, client: Client) -> None:
    """A right password takes its try back: a hundred of them from one address cost a newcomer there nothing.

    Oracle: by construction; the limit of an address is 40.
    """
    for _ in range(100):
        assert throttling.try_sign_in("wren", PRACTICE) == 0
        throttling.signed_in(clinic.nurse, PRACTICE)
    assert throttling.wait_for_sign_in("linnet", PRACTICE) == 0


def test_an_address_that_waits_makes_no_more_rows(clinic: Clinic) -> None:
    """Names without end from one address do not fill the table.

    Oracle: by construction; forty tries with two rows each, and one of the address.
    """
    for k in range(60):
        throttling.try_sign_in(f"guess{k}", ELSEWHERE)
    assert Attempts.objects.count() == 2 * throttling.ADDRESS.free + 1
