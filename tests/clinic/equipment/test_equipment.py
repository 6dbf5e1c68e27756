"""Instruments and cuffs in the hands of the practice lead."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import pytest
from django.test import Client

from clinic.bench.examples import checked, day
from clinic.desk.examples import signed_value
from clinic.examples import Clinic, reading
from quietlimb.clinic.equipment.models import Cuff, Instrument
from quietlimb.clinic.journal.models import Entry
from quietlimb.clinic.people.models import Person
from quietlimb.clinic.sessions.models import Ending, Series
from quietlimb.clinic.sessions.services import session_end
from quietlimb.clinic.verifying import verify

SignIn = Callable[[Person], Client]


def instrument(**changed: Any) -> dict[str, Any]:
    """The form of an instrument, filled in: as the grey box of the examples."""
    return {
        "name": "grey box",
        "serial_number": "",
        "technique": "oscillometric",
        "slot_1": "systolic",
        "slot_2": "mean",
        "slot_3": "diastolic",
        "slot_4": "pulse_rate",
        "held_static": "on",
        "why": "",
        **changed,
    }


def test_slots_stand_in_the_order_of_the_display(clinic: Clinic, signed_in: SignIn) -> None:
    """The order is told once and is the one at the table; a gap closes; Doppler has one slot whatever was chosen.

    Oracle: by construction.
    """
    browser = signed_in(clinic.lead)
    told = instrument(name="blue box", slot_1="pulse_rate", slot_2="", slot_3="systolic", slot_4="diastolic")
    assert browser.post("/instruments/add", told).status_code == 302
    assert browser.post("/instruments/add", instrument(name="listening box", technique="doppler")).status_code == 302
    assert Instrument.objects.get(name="blue box").slots == ["pulse_rate", "systolic", "diastolic"]
    assert Instrument.objects.get(name="listening box").slots == ["systolic"]
    page = browser.get("/instruments").text
    assert "shows pulse rate, systolic, diastolic" in page
    browser.post(f"/instruments/{clinic.instrument.pk}/edit", instrument(slot_2="diastolic", slot_3="mean"))
    table = signed_in(clinic.nurse).get(f"/sessions/{clinic.session.pk}").text
    assert table.index("Systolic") < table.index("Diastolic") < table.index("Mean")


@pytest.mark.parametrize("slots", [{"slot_1": ""}, {"slot_2": "systolic"}, {"slot_1": "height"}])
def test_impossible_slots_are_refused(clinic: Clinic, signed_in: SignIn, slots: dict[str, str]) -> None:
    """Without a systolic pressure, with one twice, or with a number that there is not.

    Oracle: by construction.
    """
    answer = signed_in(clinic.lead).post("/instruments/add", instrument(**slots))
    assert answer.status_code == 422
    assert Instrument.objects.count() == 1


def test_a_change_is_told_with_its_reason(clinic: Clinic, signed_in: SignIn) -> None:
    """Out of service: the journal has before, after and why; the start of a session no longer offers it.

    Oracle: by construction.
    """
    browser, address = signed_in(clinic.lead), f"/instruments/{clinic.instrument.pk}/edit"
    browser.post(address, instrument(out_of_service="on", why="fell from the table"))
    entry = Entry.objects.get()
    assert (entry.what, entry.why, entry.who) == ("instrument changed", "fell from the table", clinic.lead)
    page = browser.get(address).text
    assert "fell from the table" in page
    assert "out of service: <del>no</del> &rarr; <ins>yes</ins>" in page
    assert "<strong>out of service</strong>" in browser.get("/instruments").text
    assert "grey box</option>" not in signed_in(clinic.nurse).get(f"/start/{clinic.animal.pk}").text
    assert Series.objects.get().instrument == clinic.instrument
    assert verify().trouble is None


@pytest.mark.parametrize("width", ["0.4", "101", "nan", "inf", "wide", ""])
def test_a_cuff_has_a_possible_width(clinic: Clinic, signed_in: SignIn, width: str) -> None:
    """From half a centimetre to a metre, as the database holds it too.

    Oracle: by construction.
    """
    told = {"name": "a cuff", "width_cm": width, "length_cm": ""}
    assert signed_in(clinic.lead).post("/instruments/cuffs/add", told).status_code == 422
    assert signed_in(clinic.lead).post("/instruments/cuffs/add", {**told, "width_cm": "4.5"}).status_code == 302
    assert Cuff.objects.get(name="a cuff").width_cm == 4.5


def test_two_things_in_service_do_not_share_a_name(clinic: Clinic, signed_in: SignIn) -> None:
    """Added or renamed, in capitals or not; once the first is out of service its name is free.

    Oracle: by construction.
    """
    browser = signed_in(clinic.lead)
    told = {"name": "The Small One", "width_cm": "4.5", "length_cm": ""}
    answer = browser.post("/instruments/cuffs/add", told)
    assert answer.status_code == 422
    assert "Another cuff has this name" in answer.text
    assert browser.post("/instruments/add", instrument(name="Grey box")).status_code == 422
    assert browser.post("/instruments/cuffs/add", {**told, "name": "the other one"}).status_code == 302
    other = Cuff.objects.get(name="the other one")
    assert browser.post(f"/instruments/cuffs/{other.pk}/edit", {**told, "why": ""}).status_code == 422
    first, as_it_is = (
        f"/instruments/cuffs/{clinic.cuff.pk}/edit",
        {"name": clinic.cuff.name, "width_cm": "3", "why": ""},
    )
    assert browser.post(first, {**as_it_is, "length_cm": "", "out_of_service": "on"}).status_code == 302
    assert browser.post(f"/instruments/cuffs/{other.pk}/edit", {**told, "why": ""}).status_code == 302
    assert browser.post(first, {**as_it_is, "length_cm": ""}).status_code == 422


def test_what_a_signed_value_rests_on_is_not_changed(clinic: Clinic, signed_in: SignIn) -> None:
    """Before the signature a wrong width is put right; afterwards neither width nor kind, but the name still.

    Oracle: by construction.
    """
    browser = signed_in(clinic.lead)
    address, told = f"/instruments/cuffs/{clinic.cuff.pk}/edit", {"name": "the small one", "length_cm": "", "why": ""}
    assert browser.post(address, {**told, "width_cm": "3.2"}).status_code == 302
    for k in range(3):
        reading(clinic, k, 150)
    ended = session_end(clinic.nurse, session=clinic.session, ending=Ending.CLOSED, at=clinic.started_at)
    signed_value(clinic.veterinarian, ended, None, at=clinic.started_at, reason="not to be relied on")
    answer = browser.post(address, {**told, "width_cm": "4"})
    assert answer.status_code == 422
    assert "take it out of service and add it anew" in answer.text
    assert browser.post(address, {**told, "width_cm": "3.2", "name": "the old small one"}).status_code == 302
    box = f"/instruments/{clinic.instrument.pk}/edit"
    assert browser.post(box, instrument(technique="doppler")).status_code == 422
    assert Cuff.objects.get().width_cm == 3.2
    assert Instrument.objects.get().technique == "oscillometric"


def test_a_manometer_measures_no_animal(clinic: Clinic, signed_in: SignIn) -> None:
    """It stands in the register without numbers and is offered for no session; a Doppler unit is read on one.

    Oracle: by construction.
    """
    browser = signed_in(clinic.lead)
    told = instrument(name="brass gauge", technique="manometer", asset_tag="A 17", loan="lent to the branch, until May")
    assert browser.post("/instruments/add", told).status_code == 302
    gauge = Instrument.objects.get(name="brass gauge")
    assert (gauge.technique, gauge.gauge, gauge.kind_name) == ("", "manometer", "manometer")
    page = browser.get("/instruments").text
    assert "A 17" in page
    assert "on loan: lent to the branch, until May" in page
    doppler = instrument(name="crystal", technique="doppler", read_on=str(gauge.pk))
    assert browser.post("/instruments/add", doppler).status_code == 302
    assert Instrument.objects.get(name="crystal").read_on == gauge
    assert "read on brass gauge" in browser.get("/instruments").text
    assert browser.post("/instruments/add", instrument(name="x", read_on=str(gauge.pk))).status_code == 302
    assert Instrument.objects.get(name="x").read_on is None
    page = signed_in(clinic.nurse).get(f"/start/{clinic.animal.pk}").text
    assert "crystal</option>" in page
    assert "brass gauge</option>" not in page


def test_a_doppler_unit_tells_in_the_register_that_its_manometer_failed(clinic: Clinic, signed_in: SignIn) -> None:
    """In the list and on its own page, where it stood as in service.

    Oracle: by construction.
    """
    gauge = Instrument.objects.create(practice=clinic.practice, name="brass gauge", gauge="manometer")
    crystal = Instrument.objects.create(practice=clinic.practice, name="crystal", technique="doppler", read_on=gauge)
    browser = signed_in(clinic.nurse)
    assert "Its manometer" not in browser.get("/instruments").text
    assert "In service" in browser.get(f"/instruments/{crystal.pk}").text
    checked(clinic, day(3, 1), good=False, kind="static", thing=gauge)
    says = "Its manometer brass gauge is out of service, failed 1 March 2024 (static accuracy)"
    assert says in browser.get("/instruments").text
    page = browser.get(f"/instruments/{crystal.pk}").text
    assert says in page
    assert "In service" not in page


@pytest.mark.parametrize("shown", ["in", "out", "lent", "asks"])
def test_the_register_is_filtered_by_its_address(clinic: Clinic, signed_in: SignIn, shown: str) -> None:
    """In service, out of it, on loan, asking for something: the thing of each kind, and not the others.

    Oracle: by construction.
    """
    Instrument.objects.create(practice=clinic.practice, name="old box", technique="oscillometric", out_of_service=True)
    Cuff.objects.create(practice=clinic.practice, name="borrowed cuff", width_cm=4.0, loan="from the branch")
    page = signed_in(clinic.nurse).get(f"/instruments?show={shown}").text
    there = {name for name in ("grey box", "old box", "borrowed cuff") if f"<b>{name}</b>" in page}
    expected = {"in": {"grey box", "borrowed cuff"}, "out": {"old box"}, "lent": {"borrowed cuff"}, "asks": set()}
    assert there == expected[shown]
