"""A person's own choices."""

from __future__ import annotations

import json
from collections.abc import Callable

from django.test import Client

from clinic.examples import Clinic, reading
from quietlimb.clinic.journal.models import Entry
from quietlimb.clinic.people.models import Person
from quietlimb.clinic.pressures import kpa, kpa_with_interval
from quietlimb.clinic.sessions.models import Session
from quietlimb.engine.values import Estimate

SignIn = Callable[[Person], Client]


def test_choices_are_one_s_own_and_told_in_the_journal(clinic: Clinic, signed_in: SignIn) -> None:
    """Nobody else's pages change; what is no choice is refused.

    Oracle: by construction.
    """
    browser = signed_in(clinic.nurse)
    assert browser.post("/me/choices", {"pressure_unit": "kPa", "left_handed": "on"}).status_code == 302
    chosen = {each.name: (each.pressure_unit, each.left_handed) for each in Person.objects.all()}
    assert chosen.pop("Wren") == ("kPa", True)
    assert set(chosen.values()) == {("mmHg", False)}
    entry = Entry.objects.get(what="own choices changed")
    assert json.loads(entry.before)["pressure_unit"] == "mmHg"
    assert 'class="left-handed"' in browser.get("/me").text
    assert browser.post("/me/choices", {"pressure_unit": "cmH2O"}).status_code == 422


def test_kpa_stands_beside_mmhg_for_who_chose_it(clinic: Clinic, signed_in: SignIn) -> None:
    """First kPa, on the table, the page of the session and Today; what is kept stays in mmHg; others see mmHg alone.

    Oracle: by construction; 150 mmHg is 20.0 kPa by the definition in `engine.units`.
    """
    for k in range(6):
        reading(clinic, k, 150)
    pages = (f"/sessions/{clinic.session.pk}", f"/sessions/{clinic.session.pk}/result")
    browser = signed_in(clinic.nurse)
    for page in pages:
        assert "kPa" not in browser.get(page).text
    Person.objects.filter(pk=clinic.nurse.pk).update(pressure_unit="kPa")
    for page in pages:
        text = browser.get(page).text
        assert "20.0 (" in text
        assert '<small class="kpa">20.0</small>' in text
        assert "150 (" in text
        assert text.index("20.0 (") < text.index("150 (")
        assert "20.0 kPa; mmHg: 150" in text
    Session.objects.update(ending="closed", ended_at=clinic.started_at, ended_by=clinic.nurse)
    assert "20.0 kPa <small>150 mmHg</small>" in browser.get("/").text
    Session.objects.update(ending="", ended_at=None, ended_by=None)
    table = browser.get(pages[0]).text
    assert "Systolic, kPa" in table
    assert "Pulse, kPa" not in table
    assert "09:12 21.6/17.1/13.9 180" in table


def test_a_pressure_in_kpa_has_one_decimal() -> None:
    """Also each end of an interval.

    Oracle: by construction, 1 mmHg = 0.133322387415 kPa: 120 is 15.9987, 150 is 19.998, 142 is 18.932, 155 is 20.665.
    """
    assert kpa(120.0) == "16.0"
    pressure = Estimate(value=150.0, low=142.0, high=155.0, own_sd=3.0, shared_sd=None)
    assert kpa_with_interval(pressure) == "20.0 (18.9 to 20.7)"
