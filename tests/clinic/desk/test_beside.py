"""Several series of a session and several sessions of a day: nothing urgent is hidden by another."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace
from datetime import timedelta

import pytest
from django.test import Client
from django.utils import timezone

from clinic.desk.examples import address, another, sign
from clinic.examples import Clinic, reading
from quietlimb.clinic.animals.models import Recheck
from quietlimb.clinic.desk.basis import basis_of, series_to_show, thawed
from quietlimb.clinic.desk.documents import note
from quietlimb.clinic.desk.months import history_of
from quietlimb.clinic.people.models import Person
from quietlimb.clinic.sessions.models import Series, Session, SignedValue
from quietlimb.clinic.today import waiting_for_the_veterinarian

SignIn = Callable[[Person], Client]
LOW = (64, 61, 60, 61, 61, 61)


def measured(clinic: Clinic, systolic: Sequence[float], series: Series | None = None) -> None:
    """Six readings of a series, by default of the clinic's."""
    for k, value in enumerate(systolic):
        reading(clinic, 1.5 * k, value, series=series or clinic.series)


def by_doppler(clinic: Clinic, systolic: Sequence[float]) -> Series:
    """A second series of the session."""
    made = clinic.session.series.create(practice=clinic.practice, ordinal=2, technique="doppler", site="forelimb")
    measured(clinic, systolic, made)
    return made


def end(session: Session) -> None:
    """Close it."""
    Session.objects.filter(pk=session.pk).update(ending="closed", ended_at=timezone.now())


@pytest.mark.parametrize("severe_first", [True, False])
def test_the_severe_session_of_a_day_is_acted_on(clinic: Clinic, signed_in: SignIn, severe_first: bool) -> None:
    """168 and 188 signed on one day, by two methods, in either order: recheck, animal's page and owner's pages tell the
    severe one, the other session's page leads to it.

    Oracle: by construction; 180 mmHg and 1 to 2 weeks are from memory (ACVIM 2018).
    """
    browser = signed_in(clinic.veterinarian)
    measured(clinic, [168] * 6)
    second = another(clinic, 0, [188] * 6)
    Session.objects.filter(pk=second.session.pk).update(
        started_at=clinic.started_at + timedelta(minutes=-30 if severe_first else 30)
    )
    Series.objects.filter(pk=second.series.pk).update(technique="doppler", instrument=None)
    for each in (clinic, second):
        assert sign(browser, each).status_code == 302
    row = Recheck.objects.get()
    assert row.why == "severely raised pressure, to be confirmed"
    assert (row.due_by - clinic.started_at.date()).days == 14
    assert row.last_charted == pytest.approx(188.0, abs=0.5)
    page = browser.get(f"/animals/{clinic.animal.pk}").text
    assert "is severely raised. It is to be acted on" in page
    assert "severely raised pressure, to be confirmed" in page
    assert "Measured once more that day it was very high: 188 mmHg." in browser.get(address(clinic, "owner")).text
    assert "Measured once more" not in browser.get(address(second, "owner")).text
    other = browser.get(address(clinic, "result")).text
    assert f"/sessions/{second.session.pk}/result" in other
    assert "188 mmHg</a> (signed). It stands too" in other


def test_an_earlier_session_of_the_day_counts_for_the_status(clinic: Clinic, signed_in: SignIn) -> None:
    """After 188, signed, an empty session of the same day does not tell the animal as never measured.

    Oracle: by construction.
    """
    measured(clinic, [188] * 6)
    sign(signed_in(clinic.veterinarian), clinic)
    empty = another(clinic, 0, ())
    Session.objects.filter(pk=empty.session.pk).update(started_at=clinic.started_at + timedelta(hours=1))
    page = signed_in(clinic.veterinarian).get(address(empty, "result")).text
    assert "No session that could be used" not in page
    assert "High pressure suspected" in page


def test_what_a_signature_covers_is_told(clinic: Clinic, signed_in: SignIn) -> None:
    """Each tab says method, site and pressure; the card and the note name the series beside it.

    Oracle: by construction.
    """
    measured(clinic, [144] * 6)
    doppler = by_doppler(clinic, [188] * 6)
    browser = signed_in(clinic.veterinarian)
    page = browser.get(address(clinic, "result")).text
    assert "The signature covers series 2 alone" in page
    assert page.count("Series 1 (grey box, left forelimb, the small one, chest down, in the carrier): 144 mmHg") == 2
    assert sign(browser, replace(clinic, series=doppler)).status_code == 302
    signed = SignedValue.objects.get()
    assert signed.series == doppler
    assert "Beside it, not signed: Series 1 (grey box" in note(signed, thawed(signed))
    assert thawed(signed).digest == basis_of(clinic.session, doppler).digest


def test_a_series_beside_which_another_asks_for_more_is_signed_with_a_reason(clinic: Clinic, signed_in: SignIn) -> None:
    """144 beside 188: said at the top, refused without a reason, taken with one. The other way round none is asked.

    Oracle: by construction.
    """
    measured(clinic, [144] * 6)
    by_doppler(clinic, [188] * 6)
    browser, query = signed_in(clinic.veterinarian), "?series=1"
    page = browser.get(address(clinic, "result") + query).text
    assert "188 mmHg. It asks for more than the series shown here" in page
    digest = basis_of(clinic.session, clinic.series).digest
    sent = {"value": "charted", "looked_at": digest, "nothing_comes": "on"}
    answer = browser.post(address(clinic, "sign") + query, sent)
    assert answer.status_code == 422
    assert "188 mmHg. Say why this series is charted and not that one." in answer.text
    told = {**sent, "reason": "the probe lay over bone"}
    assert browser.post(address(clinic, "sign") + query, told).status_code == 302
    assert SignedValue.objects.get().reason == "the probe lay over bone"


def test_a_low_pressure_is_urgent_as_a_high_one_is(clinic: Clinic, signed_in: SignIn) -> None:
    """Low in one series, 165 in the other: shown first, marked on Today, taken by the months, and no record calls it
    normal. The card speaks to whoever reads it.

    Oracle: common practice, 90 mmHg; the rest by construction.
    """
    measured(clinic, [165] * 6)
    low = by_doppler(clinic, LOW)
    end(clinic.session)
    (waiting,) = waiting_for_the_veterinarian(clinic.veterinarian)
    assert (waiting.urgent, waiting.low, waiting.shown) == (True, True, "61")
    assert series_to_show(clinic.session) == low
    assert history_of(clinic.animal).sessions[0].systolic_mmhg == pytest.approx(61.0, abs=0.5)
    browser = signed_in(clinic.veterinarian)
    assert "<strong>urgent</strong> <strong>low pressure</strong>" in browser.get("/").text
    page = browser.get(address(clinic, "result")).text
    assert "call the veterinarian" not in page
    assert "Look at the animal now" in page
    assert "Not raised <small>under 140 mmHg" in page
    assert "call the veterinarian" in signed_in(clinic.nurse).get(address(clinic, "result")).text
    browser = signed_in(clinic.veterinarian)
    assert sign(browser, replace(clinic, series=low)).status_code == 302
    signed = SignedValue.objects.get()
    told = note(signed, thawed(signed))
    assert "61 mmHg (below 90: possible hypotension), by Heron" in told
    assert "normotensive 1" not in told
    assert "call the veterinarian" not in browser.get(f"/animals/{clinic.animal.pk}").text
