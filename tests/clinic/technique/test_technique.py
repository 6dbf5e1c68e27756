"""The page of technique."""

from __future__ import annotations

from collections.abc import Callable
from datetime import date, timedelta

import pytest
from django.test import Client

from clinic.examples import Clinic, reading
from quietlimb.clinic.people.models import Person
from quietlimb.clinic.sessions.models import Recording, Session
from quietlimb.clinic.technique.selectors import measured_between

SignIn = Callable[[Person], Client]
DAY = date(2024, 1, 4)


def ended(clinic: Clinic) -> None:
    """The clinic's session with six readings of a falling pressure, one spoiled, one struck through; closed."""
    for k, systolic in enumerate((182.0, 165.0, 156.0, 152.0, 151.0, 150.0)):
        reading(clinic, 2 * k, systolic)
    reading(clinic, 13, 210.0, spoiled="moved")
    reading(clinic, 14, 15.0, struck_at=clinic.started_at, struck_by=clinic.nurse)
    Session.objects.filter(pk=clinic.session.pk).update(
        ending="closed", ended_at=clinic.started_at + timedelta(minutes=20), ended_by=clinic.nurse
    )


def test_rows_become_plain_values(clinic: Clinic) -> None:
    """Five minutes of acclimatisation, six readings that count of seven, one reason, one struck; minutes by the engine.

    Oracle: by construction; that such a fall takes some minutes to level, and less than the ten that it lasted, is
    common sense.
    """
    ended(clinic)
    (found,), beyond = measured_between(clinic.lead, DAY, DAY)
    assert beyond == 0
    assert (found.reader, found.closed, found.settled_min) == ("Wren", True, 5.0)
    assert (found.longest_counted, found.readings, found.struck, found.spoiled) == (6, 7, 1, ("moved",))
    assert found.typed_systolic == {"oscillometric": (182.0, 165.0, 156.0, 152.0, 151.0, 150.0, 210.0)}
    (minutes,) = found.levelled
    assert minutes is None or 2.0 <= minutes <= 10.0


def test_recordings_have_no_typed_digits(clinic: Clinic) -> None:
    """What an instrument wrote itself is nobody's preference; a series that cannot be charted does not stop the page.

    Oracle: by construction.
    """
    ended(clinic)
    recording = Recording.objects.create(practice=clinic.practice, sha256="0" * 64, name="a.csv", content=b"a")
    reading(clinic, 16, 160.0, recording=recording)
    (found,), _beyond = measured_between(clinic.lead, DAY, DAY)
    assert 160.0 not in found.typed_systolic["oscillometric"]
    assert found.levelled == ()


@pytest.mark.parametrize(
    ("first", "last", "sessions"),
    [(DAY, DAY, 1), (DAY - timedelta(1), DAY - timedelta(1), 0), (DAY + timedelta(1), DAY + timedelta(9), 0)],
)
def test_both_days_of_the_period_belong_to_it(clinic: Clinic, first: date, last: date, sessions: int) -> None:
    """And nothing of other days, of open sessions, or of another practice.

    Oracle: by construction.
    """
    assert measured_between(clinic.lead, first, last) == ([], 0)
    ended(clinic)
    assert len(measured_between(clinic.lead, first, last)[0]) == sessions
    assert measured_between(clinic.stranger, first, last) == ([], 0)


def test_the_period_stands_in_the_address(clinic: Clinic, signed_in: SignIn) -> None:
    """Figures with their intervals; people are named only when asked for.

    Oracle: by construction; 14 % and its interval of 1 in 7 are Wilson's by scipy, rounded.
    """
    ended(clinic)
    browser = signed_in(clinic.lead)
    page = browser.get("/practice/technique?from=2024-01-01&to=2024-01-31").text
    assert "1 January 2024 to 31 January 2024" in page
    assert "<b>14 %</b> <small>3 to 51 %, 1 of 7</small>" in page
    assert "moved 1" in page
    assert '<th scope="row">Wren</th>' not in page
    asked = browser.get("/practice/technique?from=2024-01-01&to=2024-01-31&by=person").text
    assert '<th scope="row">Wren</th>' in asked
    assert "No session ended in this time" in browser.get("/practice/technique").text


def test_figures_say_what_they_are(clinic: Clinic, signed_in: SignIn) -> None:
    """A count has its unit, a p its meaning, a source its name; nothing is called level where the session cannot tell.

    Oracle: by construction.
    """
    ended(clinic)
    page = signed_in(clinic.lead).get("/practice/technique?from=2024-01-01&to=2024-01-31").text
    for words in ("1 session</span>", "come about by chance alone", "Not seen to fall or rise", "ACVIM 2018"):
        assert words in page
    for words in ("ACVIM2018", "Levelled off"):
        assert words not in page


@pytest.mark.parametrize(
    "asked",
    ["from=2024-02-01&to=2024-01-01", "from=yesterday", "to=9999-99-99", "from=0001-01-01&to=9999-12-31", "to="],
)
def test_an_impossible_period_is_told(clinic: Clinic, signed_in: SignIn, asked: str) -> None:
    """With the field to look at.

    Oracle: by construction.
    """
    answer = signed_in(clinic.lead).get(f"/practice/technique?{asked}")
    assert answer.status_code == 422
    assert 'role="alert"' in answer.text


def test_the_page_says_what_is_dropped_and_which_sessions_have_no_reading(clinic: Clinic, signed_in: SignIn) -> None:
    """The rule set's first reading is dropped: five of six are averaged. A session without a reading is told.

    Oracle: published, the rule set's own protocol, as the engine cites it.
    """
    ended(clinic)
    Session.objects.create(
        practice=clinic.practice,
        animal=clinic.animal,
        started_at=clinic.started_at + timedelta(hours=1),
        started_by=clinic.nurse,
        ending="none obtained",
        ended_at=clinic.started_at + timedelta(hours=2),
    )
    page = signed_in(clinic.lead).get("/practice/technique", {"from": DAY.isoformat(), "to": DAY.isoformat()}).text
    assert "asks for 6: the first is dropped, 5 are averaged" in page
    assert '<span class="count">2 sessions</span>' in page
    assert "1 of them ended without a reading" in page
