"""What the meaning of a session rests on, also where its readings cannot be charted."""

from __future__ import annotations

from collections.abc import Callable

import pytest
from django.test import Client
from django.utils.html import escape

from clinic.desk.examples import HIGH, address, another, sign, unread_recording
from clinic.examples import Clinic, reading
from quietlimb.clinic.desk.basis import basis_of, series_to_show, thawed
from quietlimb.clinic.desk.months import history_of
from quietlimb.clinic.people.models import Person
from quietlimb.clinic.sessions.models import Session, SignedValue
from quietlimb.clinic.verifying import verify
from quietlimb.engine.follow_up.follow import follow

SignIn = Callable[[Person], Client]


@pytest.mark.parametrize("typed", [True, False])
def test_what_cannot_be_charted_is_said_and_stops_no_page(clinic: Clinic, signed_in: SignIn, typed: bool) -> None:
    """Typed readings among recordings, or a recording that was not read: the card says so and what to do; every page
    that meets the series answers; nothing but no value, or a value with its reason, can be signed.

    Oracle: by construction.
    """
    if typed:
        reading(clinic, 0, 170)
    unread_recording(clinic, 2)
    browser = signed_in(clinic.veterinarian)
    page = browser.get(address(clinic, "result"))
    assert page.status_code == 200
    says = "typed readings stand among recordings; open a series for each." if typed else "has not been read by engine"
    assert says in basis_of(clinic.session, clinic.series).trouble
    assert page.text.index(escape(says)) < page.text.index("Nothing charted")
    assert browser.get(address(clinic, "picture.svg")).status_code == 404
    Session.objects.filter(pk=clinic.session.pk).update(ending="closed", ended_at=clinic.started_at)
    for other in ("/", f"/animals/{clinic.animal.pk}", f"/sessions/{clinic.session.pk}"):
        assert browser.get(other).status_code == 200
    assert sign(browser, clinic).status_code == 302
    signed = SignedValue.objects.get()
    assert (signed.chosen, signed.charted, signed.series) == (None, None, None)
    assert thawed(signed).trouble == basis_of(clinic.session, clinic.series).trouble
    for after in (address(clinic, "result"), f"/animals/{clinic.animal.pk}"):
        assert browser.get(after).status_code == 200
    assert verify().trouble is None


def test_the_series_that_cannot_be_charted_is_shown_first(clinic: Clinic) -> None:
    """It may have been the highest; asked for by its number, the other one is shown.

    Oracle: by construction.
    """
    reading(clinic, 0, 170)
    unread_recording(clinic, 2)
    second = clinic.session.series.create(practice=clinic.practice, ordinal=2, technique="oscillometric")
    reading(clinic, 5, 190, series=second)
    for asked, shown in (("", clinic.series), ("2", second), ("7", clinic.series)):
        assert series_to_show(clinic.session, asked) == shown
    clinic.series.readings.update(struck_at=clinic.started_at, struck_by=clinic.nurse)
    assert series_to_show(clinic.session) == second


def test_the_change_from_day_to_day_is_the_animals_own(clinic: Clinic) -> None:
    """Five sessions that hardly differ: the standard deviation that `follow` finds, below that of any animal; the same
    after signing. By another method it stays that of any animal.

    Oracle: by construction, the engine's own answer; 10 mmHg is the engine's value for cats without a history.
    """
    for k, systolic in enumerate(HIGH):
        reading(clinic, 1.5 * k, systolic)
    Session.objects.filter(pk=clinic.session.pk).update(ending="closed", ended_at=clinic.started_at)
    assert basis_of(clinic.session, clinic.series).day_to_day_sd is None
    for days in (30, 60, 90, 120):
        another(clinic, days, ending="closed")
    last = another(clinic, 150)
    basis = basis_of(last.session, last.series)
    least = follow(history_of(clinic.animal), on_day=last.session.started_at.date()).least
    assert least is not None
    assert basis.interpretation.day_to_day_sd == basis.day_to_day_sd == pytest.approx(least.between_sd.value)
    assert basis.interpretation.day_to_day_sd < 10.0
    last.series.technique = "doppler"
    assert basis_of(last.session, last.series).day_to_day_sd is None


def test_what_was_signed_is_thawed_with_the_animals_own_change(clinic: Clinic, signed_in: SignIn) -> None:
    """Frozen and thawed, the interpretation is the same, although it rests on other sessions.

    Oracle: by construction.
    """
    for k, systolic in enumerate(HIGH):
        reading(clinic, 1.5 * k, systolic)
    Session.objects.filter(pk=clinic.session.pk).update(ending="closed", ended_at=clinic.started_at)
    last = another(clinic, 30)
    before = basis_of(last.session, last.series)
    assert sign(signed_in(clinic.veterinarian), last).status_code == 302
    again = thawed(SignedValue.objects.get())
    assert again.day_to_day_sd == before.day_to_day_sd is not None
    assert again.interpretation == before.interpretation
    assert again.digest == before.digest
