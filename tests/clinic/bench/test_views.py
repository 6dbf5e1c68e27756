"""The pages of the bench: what is entered is judged and kept, in either unit, and what fails is followed to its end."""

from __future__ import annotations

import json
from collections.abc import Callable
from typing import Any

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.test import Client
from django.utils import timezone

from clinic.bench.examples import checked, day, measured, not_held, reference
from clinic.examples import Clinic, reading
from quietlimb.clinic.bench.chart import drift_of
from quietlimb.clinic.bench.judging import DOWN_MMHG, HOLDS_MMHG, UP_MMHG
from quietlimb.clinic.equipment.models import Check, CheckSchedule, Cuff, Decision, Instrument
from quietlimb.clinic.journal.models import Entry
from quietlimb.clinic.people.models import Person
from quietlimb.clinic.sessions.models import Recording, Session, SignedValue
from quietlimb.clinic.verifying import verify
from quietlimb.engine.units import KPA_PER_MMHG
from quietlimb.instruments.drift import DriftPoint, drift
from quietlimb.instruments.limits import STATIC_LIMITS

SignIn = Callable[[Person], Client]
POINTS = (*UP_MMHG, *DOWN_MMHG)


def static(clinic: Clinic, off: float = 1.0, *, per: float = 1.0, **told: Any) -> dict[str, Any]:
    """The form of a static check, filled in: the instrument off by so much everywhere.

    per : of the unit that is typed, in one mmHg
    """
    standard = Instrument.objects.filter(gauge="reference").first() or reference(clinic)
    found: dict[str, Any] = {"day": "2024-03-01", "time": "10:30", "reference": str(standard.pk), "step": "1"}
    found |= {"limit": "automated", "remarks": "", "room_c": "21"}
    for k, mmhg in enumerate(POINTS, start=1):
        found[f"reference_{k}"] = round(mmhg * per, 2)
        found[f"shown_{k}"] = round((mmhg + off) * per, 2)
    return {**found, **told}


def at_the_bench(clinic: Clinic, kind: str) -> str:
    """The address of a check of the clinic's instrument."""
    return f"/instruments/{clinic.instrument.pk}/check?kind={kind}"


def test_a_static_check_is_judged_and_kept(clinic: Clinic, signed_in: SignIn) -> None:
    """Off by 1 mmHg everywhere: good, with the worst error as its figure, what was typed, the reference and the limit.

    Oracle: by construction; the limit of 3 mmHg is from memory (IEC 80601-2-30).
    """
    browser = signed_in(clinic.nurse)
    answer = browser.post(at_the_bench(clinic, "static"), static(clinic))
    assert answer.status_code == 302, answer.content
    row = Check.objects.get()
    assert (row.good, row.figure, row.unit, row.limit, row.room_c) == (
        True,
        pytest.approx(1.0),
        "mmHg",
        "automated",
        21.0,
    )
    assert row.reference is not None
    assert row.reference.name == "the standard"
    assert len(json.loads(row.typed)["points"]) == len(POINTS)
    page = browser.get(answer.headers["Location"]).text
    assert "Good" in page
    assert "worst error +1.0 (" in page
    assert "from memory" in page
    drawn = browser.get(f"/instruments/checks/{row.pk}/picture?width=360&theme=dark")
    assert drawn.headers["Content-Type"] == "image/svg+xml"
    assert "going down" in drawn.text
    assert Entry.objects.get().what == "check added"
    assert verify().trouble is None


def test_what_is_typed_in_kpa_is_kept_in_mmhg(clinic: Clinic, signed_in: SignIn) -> None:
    """Points to go to and fields in kPa; kept in mmHg, shown in kPa to who chose that.

    Oracle: by construction, 1 mmHg is 0.133322387415 kPa.
    """
    browser = signed_in(clinic.nurse)
    address = at_the_bench(clinic, "static") + "&unit=kPa"
    page = browser.get(address).text
    assert "Up to 33.3 kPa" in page
    assert browser.post(address, static(clinic, per=KPA_PER_MMHG)).status_code == 302
    row = Check.objects.get()
    assert row.figure == pytest.approx(1.0, abs=0.15)  # two decimals of a kPa, twice
    points = json.loads(row.typed)["points"]
    assert [each["reference_mmhg"] for each in points] == pytest.approx(list(POINTS), abs=0.05)
    clinic.nurse.pressure_unit = "kPa"
    clinic.nurse.save()
    page = browser.get(f"/instruments/checks/{row.pk}").text
    assert "reference, kPa" in page
    assert "33.3" in page
    assert '<text class="tick" x="0" y="16">kPa</text>' in browser.get(f"/instruments/{clinic.instrument.pk}").text


def test_mmhg_taken_for_kpa_is_asked_about(clinic: Clinic, signed_in: SignIn) -> None:
    """kPa typed where mmHg is asked for: refused with the remedy, and nothing is kept.

    Oracle: by construction, no cuff is checked below 45 mmHg alone.
    """
    answer = signed_in(clinic.nurse).post(at_the_bench(clinic, "static"), static(clinic, per=KPA_PER_MMHG))
    assert answer.status_code == 422
    assert "if these are kPa" in answer.text
    assert not Check.objects.exists()


@pytest.mark.parametrize(
    ("told", "says"),
    [
        ({"day": "2199-01-01"}, "has not come yet"),
        ({"reference": ""}, "Choose the reference manometer"),
        ({"shown_3": "9999"}, "is too much"),
        ({"reference_3": ""}, "Type what the reference shows"),
        ({f"shown_{k}": "" for k in range(1, 12)}, "there is no point"),
    ],
)
def test_what_cannot_be_a_check_is_refused_in_place(
    clinic: Clinic, signed_in: SignIn, told: dict[str, str], says: str
) -> None:
    """With the reason, what was typed still there, and nothing kept.

    Oracle: by construction.
    """
    answer = signed_in(clinic.nurse).post(at_the_bench(clinic, "static"), static(clinic, **told))
    assert answer.status_code == 422
    assert says in answer.text
    assert not Check.objects.exists()


def test_two_points_do_not_bring_a_failed_instrument_back(clinic: Clinic, signed_in: SignIn) -> None:
    """Off by 5 mmHg it fails. Two good points going up are told to be too few, and answer nothing; off by 5 mmHg
    they would have failed.

    Oracle: by construction.
    """
    browser, address = signed_in(clinic.nurse), at_the_bench(clinic, "static")
    assert browser.post(address, static(clinic, off=5.0)).status_code == 302
    two = {f"shown_{k}": "" for k in range(3, 12)}
    answer = browser.post(address, static(clinic, off=0.0, day="2024-03-02", **two))
    assert answer.status_code == 422
    assert "This cannot be judged: Different pressures: 2" in answer.text
    assert [row.good for row in Check.objects.all()] == [False]
    assert browser.post(address, static(clinic, off=5.0, day="2024-03-03", **two)).status_code == 302
    assert [row.good for row in Check.objects.all()] == [False, False]


def test_a_failing_check_is_followed_to_its_end(clinic: Clinic, signed_in: SignIn) -> None:
    """Off by 9 mmHg: out of service, two sessions in doubt, closed one by one by the veterinarian; a good check and the
    lead bring it back, and Today has nothing of it any more.

    Oracle: by construction.
    """
    sessions = [clinic.session, measured(clinic, day(2, 1))]
    nurse = signed_in(clinic.nurse)
    leak = {"day": "2024-01-02", "time": "09:00", "limit": "automated", "step": "1"}
    leak |= {"start_1": "250", "held_1": "60", "end_1": "248"}
    assert nurse.post(at_the_bench(clinic, "leak"), leak).status_code == 302
    assert nurse.post(at_the_bench(clinic, "static"), static(clinic, day="2024-01-02")).status_code == 302
    address = nurse.post(at_the_bench(clinic, "static"), static(clinic, 9.0)).headers["Location"]
    failed = Check.objects.get(good=False)
    clinic.instrument.refresh_from_db()
    assert clinic.instrument.out_of_service
    page = nurse.get(address).text
    assert "2 sessions since the last good check, 2 to decide" in page.replace("\n", " ")
    assert f'action="/instruments/checks/{failed.pk}/decide"' not in page
    assert (
        "failed 1 March 2024 (static accuracy): 2 sessions since the last good check, 2 to decide"
        in nurse.get("/").text
    )
    assert "Decision pending" in nurse.get(f"/sessions/{sessions[0].pk}/result").text

    vet = signed_in(clinic.veterinarian)
    assert "2 sessions to decide" in vet.get("/").text
    decide = f"/instruments/checks/{failed.pk}/decide"
    told = {"session": str(sessions[0].pk), "what": "stands", "why": "135, whichever way it erred"}
    assert vet.post(decide, {**told, "why": ""}).status_code == 422
    assert vet.post(decide, told).status_code == 302
    assert "1 session to decide" in vet.get("/").text
    assert vet.post(decide, {**told, "session": str(sessions[1].pk), "what": "owner called"}).status_code == 302
    assert "to decide" not in vet.get("/").text
    assert "Decided: stands, by Heron" in vet.get(f"/sessions/{sessions[0].pk}/result").text
    assert Decision.objects.count() == 2

    lead = signed_in(clinic.lead)
    edit = f"/instruments/{clinic.instrument.pk}/edit"
    shown = {f"slot_{k}": slot for k, slot in enumerate(clinic.instrument.slots, start=1)}
    back = {"name": "grey box", "technique": "oscillometric", "held_static": "on", "why": "adjusted", **shown}
    assert lead.post(edit, back).status_code == 422
    assert lead.post(at_the_bench(clinic, "static"), static(clinic, 0.0, day="2024-03-08")).status_code == 302
    assert lead.post(edit, back).status_code == 302
    clinic.instrument.refresh_from_db()
    assert not clinic.instrument.out_of_service
    assert "failed 1 March" not in lead.get("/").text
    assert verify().trouble is None


def test_one_look_at_zero_is_no_static_check(clinic: Clinic, signed_in: SignIn) -> None:
    """It is told what is wanting, and nothing is kept.

    Oracle: common practice.
    """
    told = static(clinic, 0.0)
    told |= {f"shown_{k}": "" for k in range(2, len(POINTS) + 1)}
    answer = signed_in(clinic.nurse).post(at_the_bench(clinic, "static"), told)
    assert answer.status_code == 422
    assert "This cannot be judged: Different pressures: 1; usual are 5 or more." in answer.text
    assert not Check.objects.exists()


def test_a_leak_is_held_whole_or_not_at_all(clinic: Clinic, signed_in: SignIn) -> None:
    """Ten mmHg a minute fails a cuff; a hold without its seconds is asked about.

    Oracle: by construction; 4 mmHg a minute is from memory (ISO 81060-1).
    """
    browser = signed_in(clinic.nurse)
    address = f"/instruments/cuffs/{clinic.cuff.pk}/check?kind=leak"
    told = {
        "day": "2024-03-01",
        "time": "10:30",
        "limit": "non-automated",
        "step": "1",
        "start_1": "250",
        "end_1": "240",
    }
    answer = browser.post(address, told)
    assert answer.status_code == 422
    assert "Tell start, seconds and end" in answer.text
    assert browser.post(address, {**told, "held_1": "60"}).status_code == 302
    row = Check.objects.get()
    assert (row.good, row.figure, row.cuff) == (False, pytest.approx(10.0), clinic.cuff)
    clinic.cuff.refresh_from_db()
    assert clinic.cuff.out_of_service
    assert len(HOLDS_MMHG) == 3


@pytest.mark.parametrize("head", [[], ["# species: cat"], ["# species: dog"]], ids=["silent", "cat", "dog"])
def test_a_recording_is_judged_and_kept_with_its_bytes(head: list[str], clinic: Clinic, signed_in: SignIn) -> None:
    """260 mmHg let out within 4 s: good, whatever species the sensor's file tells; the file is the one that came, and
    can be had again.

    Oracle: by construction; 10 s are from memory (ISO 81060-1).
    """
    browser = signed_in(clinic.nurse)
    lines = ["time_s,cuff_pressure_mmhg"]
    for k in range(1001):
        second = k / 100
        pressure = min(270.0, 90.0 * second) if second < 4 else max(0.0, 270.0 - 90.0 * (second - 4))
        lines.append(f"{second:.2f},{pressure:.2f}")
    content = "\n".join([*head, *lines]).encode()
    told = {"day": "2024-03-01", "time": "10:30", "limit": "adult"}
    answer = browser.post(at_the_bench(clinic, "exhaust"), {**told, "file": SimpleUploadedFile("out.csv", content)})
    assert answer.status_code == 302, answer.text
    row = Check.objects.get()
    assert row.good
    assert row.figure == pytest.approx((260 - 15) / 90, abs=0.1)
    assert row.recording is not None
    assert row.recording.is_whole
    assert browser.get(f"/instruments/checks/{row.pk}/recording").content == content
    assert [entry.what for entry in Entry.objects.order_by("sequence")] == ["recording kept", "check added"]
    refused = browser.post(at_the_bench(clinic, "exhaust"), {**told, "file": SimpleUploadedFile("x.csv", b"nothing")})
    assert refused.status_code == 422
    assert browser.post(at_the_bench(clinic, "exhaust"), told).status_code == 422
    assert Recording.objects.count() == 1
    assert verify().trouble is None


@pytest.mark.parametrize(("seconds", "kept", "says"), [(30, 1, "no session is in doubt"), (200, 0, "No exhaust was")])
def test_a_slow_exhaust_fails_and_a_closed_cuff_is_none(
    seconds: int, kept: int, says: str, clinic: Clinic, signed_in: SignIn
) -> None:
    """From 270 mmHg to nothing in 30 s, 9 mmHg a second: failed, out of service, and no session in doubt. In 200 s,
    1.35 mmHg a second: no exhaust, nothing kept, nothing out of service.

    Oracle: by construction; 10 s are from memory (ISO 81060-1), the slowest exhaust is invented.
    """
    browser = signed_in(clinic.nurse)
    rows = [f"{k / 50:.2f},{max(270.0 * (1.0 - k / 50 / seconds), 0.0):.3f}" for k in range(50 * seconds)]
    sent = SimpleUploadedFile("out.csv", "\n".join(["time_s,cuff_pressure_mmhg", *rows]).encode())
    told = {"day": "2024-03-01", "time": "10:30", "limit": "adult", "file": sent}
    answer = browser.post(at_the_bench(clinic, "exhaust"), told, follow=True)
    assert says in answer.text
    assert Check.objects.filter(good=False).count() == kept
    assert Instrument.objects.get(pk=clinic.instrument.pk).out_of_service == bool(kept)


def test_a_reference_brings_its_certificate_along(clinic: Clinic, signed_in: SignIn) -> None:
    """Its correction is added; once its certificate says that it is off, it is no reference any more.

    Oracle: by construction, an instrument 1 mmHg high against a reference that shows 1 mmHg too little.
    """
    browser = signed_in(clinic.nurse)
    standard = reference(clinic)
    page = browser.get(f"/instruments/{standard.pk}/check").text
    assert "Coverage factor" in page
    told = {"day": "2024-01-10", "issuer": "Invented Laboratory", "number": "7", "outcome": "good"}
    told |= {"expanded_mmhg": "0.4", "coverage_factor": "2", "correction_mmhg": "1", "valid_until": "2025-01-10"}
    assert browser.post(f"/instruments/{standard.pk}/check", told).status_code == 302
    assert browser.post(at_the_bench(clinic, "static"), static(clinic, 1.0)).status_code == 302
    row = Check.objects.get(kind="static")
    assert row.figure == pytest.approx(0.0, abs=1e-9)
    assert json.loads(row.typed)["reference"]["expanded_mmhg"] == 0.4
    checked(clinic, day(2, 1), good=False, thing=standard)
    Instrument.objects.filter(pk=standard.pk).update(out_of_service=False)
    answer = browser.post(at_the_bench(clinic, "static"), static(clinic, 1.0))
    assert answer.status_code == 422
    assert "take another reference manometer" in answer.text


def test_a_reference_that_failed_names_the_checks_that_were_held_against_it(clinic: Clinic, signed_in: SignIn) -> None:
    """Those since its last good certificate; not the one before, and not one that was corrected.

    Oracle: by construction.
    """
    browser = signed_in(clinic.nurse)
    standard = reference(clinic)
    checked(clinic, day(1, 1), good=True, thing=standard)
    rows = [checked(clinic, day(2, k), good=True, kind="display", reference=standard) for k in (1, 9)]
    checked(clinic, day(2, 5), good=True, thing=standard)
    corrected = checked(clinic, day(2, 9), good=True, kind="display", reference=standard, corrects=rows[1], why="slip")
    failed = checked(clinic, day(3, 1), good=False, thing=standard)
    page = browser.get(f"/instruments/checks/{failed.pk}").text
    assert "Checks held against it" in page
    assert f"/instruments/checks/{corrected.pk}" in page
    assert not any(f"/instruments/checks/{row.pk}" in page for row in rows)
    assert "None was measured with it since" not in page


def test_a_correction_names_what_it_corrects(clinic: Clinic, signed_in: SignIn) -> None:
    """With its reason; the page of the first says that it counts no longer.

    Oracle: by construction.
    """
    browser = signed_in(clinic.nurse)
    browser.post(at_the_bench(clinic, "static"), static(clinic, 9.0))
    first = Check.objects.get()
    address = f"/instruments/checks/{first.pk}/correct"
    assert browser.post(address, static(clinic, 1.0)).status_code == 422
    assert browser.post(address, static(clinic, 1.0, why="the pump was still running")).status_code == 302
    assert Check.objects.get(corrects=first).why == "the pump was still running"
    assert "Counts no longer" in browser.get(f"/instruments/checks/{first.pk}").text
    assert browser.post(address, static(clinic, 1.0, why="again")).status_code == 422


def test_the_page_of_an_instrument_says_when_to_have_it_serviced(clinic: Clinic, signed_in: SignIn) -> None:
    """Five checks that climb by half a mmHg each: chart with limits, and a day before which to have it serviced.

    The certificate of the manometer, the same each time, does not make the chart deaf.

    Oracle: by construction, a straight line to a limit of 3 mmHg; the chart of errors that tell no uncertainty.
    """
    browser = signed_in(clinic.nurse)
    for year, off in zip(range(2019, 2024), (0.0, 0.5, 1.0, 1.5, 2.0), strict=True):
        told = static(clinic, off, day=f"{year}-03-01", step="0.1")
        assert browser.post(at_the_bench(clinic, "static"), told).status_code == 302
    drifts = "by its drift to be serviced before"
    assert drifts in browser.get("/").text
    page = browser.get(f"/instruments/{clinic.instrument.pk}").text
    assert page.count('<circle class="dot"') == 5
    assert "limit 3" in page
    assert "Have it serviced before" in page
    assert "+0.50 mmHg a year" in page
    rows = list(Check.objects.order_by("done_at"))
    found = drift_of(rows, None)
    assert found is not None
    assert found.chart is not None
    days = [row.done_at.date() for row in rows]
    points = [DriftPoint(on=on, error_mmhg=row.figure or 0.0) for on, row in zip(days, rows, strict=True)]
    alone = drift(points, STATIC_LIMITS["automated"].most).chart
    assert alone is not None
    assert found.chart.half_mmhg == pytest.approx(alone.half_mmhg)


def test_a_look_says_what_was_found_and_when_it_was_cleaned(clinic: Clinic, signed_in: SignIn) -> None:
    """Worn stays in service, unfit does not.

    Oracle: by construction.
    """
    browser = signed_in(clinic.nurse)
    address = f"/instruments/cuffs/{clinic.cuff.pk}/check?kind=look"
    told = {"day": "2024-03-01", "time": "10:30", "condition": "worn", "cleaned": "on"}
    assert browser.post(address, told).status_code == 302
    page = browser.get(f"/instruments/cuffs/{clinic.cuff.pk}").text
    assert "Worn, but it holds" in page
    assert "Last cleaned on 1 March 2024" in page
    assert browser.post(address, {**told, "day": "2024-03-02", "condition": "unfit"}).status_code == 302
    clinic.cuff.refresh_from_db()
    assert clinic.cuff.out_of_service


def test_the_lead_sets_how_often_to_check(clinic: Clinic, signed_in: SignIn) -> None:
    """The trade's intervals stand there first.

    Oracle: common practice: 6, 12 and 1 months; 12 for a reference are invented.
    """
    browser = signed_in(clinic.lead)
    page = browser.get("/instruments/schedule").text
    for name, months in (("aneroid", 6), ("electronic", 12), ("cuff", 1), ("reference", 12)):
        assert f'name="{name}_months" value="{months}"' in page
    told = {"aneroid_months": 3, "electronic_months": 12, "cuff_months": 1, "reference_months": 24}
    assert browser.post("/instruments/schedule", {**told, "cuff_months": 0}).status_code == 422
    assert browser.post("/instruments/schedule", told).status_code == 302
    assert CheckSchedule.objects.get().reference_months == 24


def test_what_is_overdue_says_so_where_an_instrument_is_chosen(clinic: Clinic, signed_in: SignIn) -> None:
    """At the start of a session: it warns and is not barred.

    Oracle: by construction.
    """
    not_held(clinic)
    checked(clinic, day(1, 2).replace(year=2022), good=True)
    page = signed_in(clinic.nurse).get(f"/start/{clinic.animal.pk}").text
    assert "grey box (overdue since 2 January 2023: service certificate)</option>" in page


def test_what_is_overdue_says_so_where_a_cuff_is_chosen(clinic: Clinic, signed_in: SignIn) -> None:
    """At the start of a session and in the part that follows the limb; one that was never checked says nothing.

    Oracle: by construction; a month for cuffs is common practice.
    """
    checked(clinic, day(1, 2), good=True, thing=clinic.cuff, kind="look")
    Cuff.objects.create(practice=clinic.practice, name="never looked at", width_cm=3.4)
    browser = signed_in(clinic.nurse)
    told = "the small one, 3 cm, {} (overdue since 2 February 2024: look over)</option>"
    assert told.format("34 % of the limb, fits") in browser.get(f"/start/{clinic.animal.pk}").text
    address = f"/animals/{clinic.animal.pk}/cuffs"
    assert (
        told.format("26 % of the limb, slightly narrow: may read high")
        in browser.get(address, {"limb_circumference_cm": "11.4"}).text
    )
    plain = browser.get(address, {"limb_circumference_cm": ""}).text
    assert "the small one, 3 cm (overdue since 2 February 2024: look over)</option>" in plain
    assert "never looked at, 3.4 cm</option>" in plain


def test_a_unit_whose_manometer_failed_says_so_where_it_is_chosen(clinic: Clinic, signed_in: SignIn) -> None:
    """Also beside what is taken as last time, one that is out of service only, and what is on loan; none is barred.

    Oracle: by construction.
    """
    gauge = Instrument.objects.create(practice=clinic.practice, name="brass gauge", gauge="manometer")
    crystal = Instrument.objects.create(practice=clinic.practice, name="crystal", technique="doppler", read_on=gauge)
    measured(clinic, day(2, 1), technique="doppler", instrument=crystal)
    Instrument.objects.filter(pk=clinic.instrument.pk).update(loan="from the branch, until May")
    clinic.cuff.loan = "to the branch"
    clinic.cuff.save()
    browser, address = signed_in(clinic.nurse), f"/start/{clinic.animal.pk}"
    page = browser.get(address).text
    assert "crystal</option>" in page
    assert "Mind:" not in page
    assert "grey box (on loan: from the branch, until May)</option>" in page
    assert f"{clinic.cuff.name} (on loan: to the branch), " in page
    checked(clinic, day(3, 1), good=False, kind="static", thing=gauge)
    out = "crystal (its manometer brass gauge is out of service"
    page = browser.get(address).text
    assert f"{out}, failed 1 March 2024 (static accuracy))</option>" in page
    assert f"<strong>Mind: {out}, failed" in page
    checked(clinic, day(3, 5), good=True, kind="static", thing=gauge)
    overdue = "overdue since 5 September 2024: static accuracy"
    assert f"{out}, {overdue})</option>" in browser.get(address).text
    Instrument.objects.filter(pk=gauge.pk).update(out_of_service=False)
    assert f"crystal ({overdue})</option>" in browser.get(address).text
    assert "crystal (its manometer" not in browser.get(address).text


@pytest.mark.parametrize(
    ("certified", "mark", "says"),
    [
        (None, "the standard (no certificate)", "had no certificate, and its uncertainty is taken as 1 mmHg"),
        ("2022-01-10", "the standard (certificate ended 10 January 2023)", "had ended on 10 January 2023"),
        ("2024-01-10", "the standard (certificate ended 10 January 2025)", ""),
    ],
    ids=["never", "ended", "in-time"],
)
def test_a_reference_without_a_certificate_that_counts_is_told(
    clinic: Clinic, signed_in: SignIn, certified: str | None, mark: str, says: str
) -> None:
    """Where it is chosen, by today; and in the check that it was used for, by the day of that check, 1 March 2024.

    Oracle: common practice, a gauge without a certificate shows a difference only; a year is invented.
    """
    browser = signed_in(clinic.nurse)
    standard = reference(clinic)
    if certified is not None:
        told = {"day": certified, "issuer": "Invented Laboratory", "outcome": "good"}
        told |= {"expanded_mmhg": "0.4", "coverage_factor": "2", "correction_mmhg": "0"}
        assert browser.post(f"/instruments/{standard.pk}/check", told).status_code == 302
    assert f"{mark}</option>" in browser.get(at_the_bench(clinic, "static")).text
    page = browser.get(browser.post(at_the_bench(clinic, "static"), static(clinic)).headers["Location"]).text
    assert ("Caution: the" in page) == bool(says)
    assert says in page


@pytest.mark.parametrize(
    ("signed", "says"),
    [
        (None, "charted 135 mmHg, normotensive; the nearest boundary, 140 mmHg, is 5 mmHg away"),
        (182.0, "signed 182 mmHg, severely hypertensive; the nearest boundary, 180 mmHg, is 2 mmHg away"),
    ],
    ids=["charted", "signed"],
)
def test_who_decides_sees_how_near_a_boundary_the_session_was(
    clinic: Clinic, signed_in: SignIn, signed: float | None, says: str
) -> None:
    """The charted pressure with its category, and the signed one where there is one; what a leak means is not told as
    a shift of all pressures.

    Oracle: by construction; boundaries from memory (ACVIM 2018).
    """
    for k in range(4):
        reading(clinic, k, 135)
    if signed is not None:
        SignedValue.objects.create(
            practice=clinic.practice,
            session=clinic.session,
            signed_by=clinic.veterinarian,
            signed_at=timezone.now(),
            charted=135.0,
            chosen=signed,
            rules="ACVIM 2018",
            engine="0",
            frozen="{}",
        )
    Session.objects.update(ending="closed", ended_at=timezone.now())
    static_failed = checked(clinic, day(3, 1), good=False, thing=not_held(clinic))
    leaks = checked(clinic, day(3, 1), good=False, thing=clinic.cuff, kind="look")
    browser = signed_in(clinic.veterinarian)
    page = browser.get(f"/instruments/checks/{static_failed.pk}").text
    assert says in page
    assert "moves every pressure by about as much" in page
    assert "moves every pressure by about as much" not in browser.get(f"/instruments/checks/{leaks.pk}").text
