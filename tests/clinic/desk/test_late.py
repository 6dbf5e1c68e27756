"""A reading that a tablet had kept and that comes once its session is signed: beside it, seen, and never lost."""

from __future__ import annotations

import json
import re
import uuid
from collections.abc import Callable
from datetime import timedelta
from typing import Any

import pytest
from django.http import HttpResponse
from django.test import Client

from clinic.desk.examples import HIGH, address, sign
from clinic.examples import Clinic, reading
from quietlimb.clinic.journal.models import Entry
from quietlimb.clinic.people.models import Person
from quietlimb.clinic.sessions.models import LateReading, Reading, SignedValue
from quietlimb.clinic.today import late_readings
from quietlimb.clinic.verifying import verify

SignIn = Callable[[Person], Client]


@pytest.fixture
def signed(clinic: Clinic, signed_in: SignIn) -> Clinic:
    """The clinic with its session measured and signed."""
    for k, systolic in enumerate(HIGH):
        reading(clinic, 1.5 * k, systolic)
    assert sign(signed_in(clinic.veterinarian), clinic).status_code == 302
    return clinic


def send(browser: Client, clinic: Clinic, **told: Any) -> HttpResponse:
    """A reading, as a tablet sends what it has kept."""
    sent = {
        "client_id": str(uuid.uuid4()),
        "ordinal": 9,
        "taken_at": (clinic.started_at + timedelta(minutes=12)).isoformat(),
        "systolic": 171,
        "sure": True,
        **told,
    }
    answer: HttpResponse = browser.post(
        f"/series/{clinic.series.pk}/readings", json.dumps(sent), content_type="application/json"
    )
    return answer


def test_it_is_kept_beside_what_was_signed_once_and_moves_nothing(signed: Clinic, signed_in: SignIn) -> None:
    """Acknowledged by its key, so that the tablet lets it go; one row however often it is sent; the value stands.

    Oracle: by construction.
    """
    frozen = SignedValue.objects.get().frozen
    browser, key = signed_in(signed.nurse), str(uuid.uuid4())
    told = {"client_id": key, "typed_by": str(signed.colleague.pk)}
    answers = [send(browser, signed, **told) for _ in range(2)]
    assert [answer.status_code for answer in answers] == [201, 200]
    assert {answer.headers["Quietlimb-Saved"] for answer in answers} == {key}
    assert "kept beside it" in answers[0].text
    assert "171 mmHg" in answers[0].text
    assert re.search(r"Signed by Heron, [^:]+:\d\d: 1\d\d mmHg", answers[0].text)
    assert send(browser, signed, **told, systolic=172).status_code == 409
    row = LateReading.objects.get()
    assert (row.systolic, row.saved_by, row.typed_by) == (171, signed.nurse, signed.colleague)
    assert Reading.objects.count() == len(HIGH)
    assert SignedValue.objects.get().frozen == frozen
    assert Entry.objects.filter(what="reading kept beside the signed session").count() == 1
    assert verify().trouble is None


def test_the_veterinarian_sees_it_on_today_and_on_the_page_until_she_has_looked(
    signed: Clinic, signed_in: SignIn
) -> None:
    """The nurse cannot say that it was looked at; what came in since her page was opened waits on.

    Oracle: by construction.
    """
    browser = signed_in(signed.nurse)
    send(browser, signed)
    assert browser.post(address(signed, "late")).status_code == 403
    browser = signed_in(signed.veterinarian)
    today, page = browser.get("/").text, browser.get(address(signed, "result")).text
    assert "Came after the signature" in today
    assert "171" in today
    assert "not looked at yet" in page
    shown = LateReading.objects.get()
    send(browser, signed, systolic=173)
    assert browser.post(address(signed, "late"), {"late": [str(shown.pk)]}).status_code == 302
    shown.refresh_from_db()
    assert shown.looked_by == signed.veterinarian
    assert [each.numbers for each in late_readings(signed.veterinarian)] == [("173",)]
    assert late_readings(signed.stranger) == []
    assert "looked at by Heron" in browser.get(address(signed, "result")).text


def test_an_amendment_is_the_way_to_take_it_into_account(signed: Clinic, signed_in: SignIn) -> None:
    """Amended from the page that showed it, it waits no longer.

    Oracle: by construction.
    """
    browser = signed_in(signed.veterinarian)
    send(browser, signed)
    row = LateReading.objects.get()
    assert f'name="late" value="{row.pk}"' in browser.get(address(signed, "result")).text
    sent = {"chosen": "170", "why": "two readings came later", "late": [str(row.pk)]}
    assert browser.post(address(signed, "amend"), sent).status_code == 302
    assert late_readings(signed.veterinarian) == []
    row.refresh_from_db()
    assert row.looked_at is not None


@pytest.mark.parametrize(
    ("told", "urgent"),
    [
        ({"systolic": 180}, True),
        ({"systolic": 89, "sure": True}, True),
        ({"systolic": 150}, False),
        ({"spoiled": "moved"}, False),
    ],
)
def test_a_late_one_that_cannot_wait_is_marked(
    signed: Clinic, signed_in: SignIn, told: dict[str, Any], urgent: bool
) -> None:
    """From 180 mmHg up and under 90 mmHg; one that spoiled says nothing.

    Oracle: from memory (ACVIM 2018) and common practice, the engine's own lines.
    """
    send(signed_in(signed.nurse), signed, **{"systolic": 240, **told} if told.get("spoiled") else told)
    assert [each.urgent for each in late_readings(signed.veterinarian)] == [urgent]


def test_signing_an_open_session_is_asked_about(clinic: Clinic, signed_in: SignIn) -> None:
    """Nothing is signed unless she says that nothing more comes; a session that has ended is not asked about.

    Oracle: by construction.
    """
    for k, systolic in enumerate(HIGH):
        reading(clinic, 1.5 * k, systolic)
    browser = signed_in(clinic.veterinarian)
    answer = sign(browser, clinic, nothing_comes="")
    assert answer.status_code == 422
    assert "Ask at the table first" in answer.text
    assert not SignedValue.objects.exists()
    browser.post(f"/sessions/{clinic.session.pk}/end", {"ending": "closed"})
    assert "The session is still open" not in browser.get(address(clinic, "result")).text
    assert sign(browser, clinic, nothing_comes="").status_code == 302
