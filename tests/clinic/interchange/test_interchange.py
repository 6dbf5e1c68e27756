"""Sessions handed on as FHIR and CSV, and sessions from elsewhere taken in."""

from __future__ import annotations

import html
import json
import re
from collections.abc import Callable
from dataclasses import replace
from datetime import timedelta
from pathlib import Path
from typing import Any

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.core.management import call_command
from django.http import HttpResponse
from django.test import Client
from fhir.resources.R4B.bundle import Bundle

from clinic.desk.examples import HIGH, another, sign
from clinic.examples import Clinic, reading
from exchange.invented_bundles import ANIMAL, FIRST, NOTHING, bundle
from quietlimb.clinic.animals.models import Animal, Event
from quietlimb.clinic.desk.months import history_of
from quietlimb.clinic.interchange.forms import as_text
from quietlimb.clinic.interchange.incoming import MOST_BYTES
from quietlimb.clinic.journal.models import Entry
from quietlimb.clinic.people.models import Person
from quietlimb.clinic.sessions.models import Session, SignedValue
from quietlimb.clinic.sessions.selectors import last_series_of
from quietlimb.clinic.stores import PRACTICE, TEACHING
from quietlimb.clinic.technique.selectors import measured_between
from quietlimb.clinic.verifying import verify
from quietlimb.exchange.fhir_bundle import bundle_text
from quietlimb.exchange.fhir_invariants import violations
from quietlimb.exchange.fhir_reading import read_bundle
from quietlimb.exchange.fhir_sessions import BundleSession
from quietlimb.exchange.history_csv import read_history

SignIn = Callable[[Person], Client]


def measured(clinic: Clinic) -> None:
    """Readings of every kind: whole, systolic alone, spoiled, struck through."""
    for k, systolic in enumerate(HIGH):
        reading(clinic, 1.5 * k, systolic, 130.25 if k else None, 101 if k else None, pulse_rate=180 if k else None)
    reading(clinic, 10, None, spoiled="moved")
    reading(clinic, 11, 260, struck_at=clinic.started_at, struck_by=clinic.nurse, struck_because="slip")


def signed(clinic: Clinic, browser: Client) -> None:
    """The session of the clinic, measured and signed by the veterinarian."""
    measured(clinic)
    assert sign(browser, clinic).status_code == 302


def address(clinic: Clinic, what: str) -> str:
    """An address of the clinic's animal."""
    return f"/animals/{clinic.animal.pk}/{what}"


def test_a_signed_session_goes_out_as_a_bundle(clinic: Clinic, signed_in: SignIn) -> None:
    """Each row is a reading with its own numbers; the value, who signed it and what it rests on stand in the session.

    Oracle: reference library, fhir.resources 8.3.0, and our own invariants; numbers by construction, without tolerance.
    """
    browser = signed_in(clinic.veterinarian)
    signed(clinic, browser)
    answer = browser.get(f"/sessions/{clinic.session.pk}/bundle.json")
    assert answer.status_code == 200
    assert answer.headers["Content-Type"].startswith("application/fhir+json")
    assert "Thistle-2024-01-04.json" in answer.headers["Content-Disposition"]
    Bundle.model_validate_json(answer.content)
    assert violations(json.loads(answer.content)) == []
    (session,) = read_bundle(answer.content).sessions
    rows = list(clinic.series.readings.all())
    assert [(each.key, each.systolic, each.mean, each.diastolic, each.pulse_rate) for each in session.readings] == [
        (str(row.pk), row.systolic, row.mean, row.diastolic, row.pulse_rate) for row in rows
    ]
    assert [each.taken_at for each in session.readings] == [row.taken_at for row in rows]
    assert [(each.set_aside, each.struck) for each in session.readings[-2:]] == [("moved", False), ("", True)]
    value, kept = session.value, SignedValue.objects.get()
    assert value is not None
    assert value.systolic == pytest.approx(kept.chosen, abs=5e-4)
    assert value.signed.by == "Heron"
    assert set(value.used) <= {str(row.pk) for row in rows[:6]}
    assert len(value.used) >= 3
    around = session.readings[0].circumstances
    assert (around.site, around.side, around.cuff_width_cm, around.instrument) == ("forelimb", "left", 3.0, "grey box")
    assert (around.read_by, around.acclimatisation_min) == ("Wren", 5.0)
    assert b"Mr Invented" not in answer.content  # the owner is nobody's business there


def test_what_was_signed_is_handed_on_whatever_became_of_the_rows(clinic: Clinic, signed_in: SignIn) -> None:
    """An amended value stands in the bundle, with who, when and why; a value taken back is none.

    Oracle: by construction.
    """
    browser = signed_in(clinic.veterinarian)
    signed(clinic, browser)
    browser.post(f"/sessions/{clinic.session.pk}/amend", {"why": "wrong line", "chosen": "171"})
    clinic.session.series.update(site="tail")
    (session,) = read_bundle(browser.get(f"/sessions/{clinic.session.pk}/bundle.json").content).sessions
    assert session.value is not None
    assert session.value.systolic == 171.0
    assert session.value.amended[0].why == "wrong line"
    assert session.readings[0].circumstances.site == "forelimb"
    browser.post(f"/sessions/{clinic.session.pk}/amend", {"why": "another animal", "withdrawn": "on"})
    (session,) = read_bundle(browser.get(f"/sessions/{clinic.session.pk}/bundle.json").content).sessions
    assert session.value is not None
    assert session.value.systolic is None


def test_an_animal_goes_out_with_its_signed_sessions_alone(clinic: Clinic, signed_in: SignIn) -> None:
    """Of three sessions two are signed, one of them without a pressure; the third is not handed on.

    Oracle: by construction.
    """
    browser = signed_in(clinic.veterinarian)
    assert browser.get(address(clinic, "bundle.json")).status_code == 409
    signed(clinic, browser)
    empty = another(clinic, 7, ())
    assert sign(browser, empty).status_code == 302
    another(clinic, 14, ending="closed")
    found = read_bundle(browser.get(address(clinic, "bundle.json")).content)
    assert [each.key for each in found.sessions] == [str(clinic.session.pk), str(empty.session.pk)]
    nothing = found.sessions[1].value
    assert nothing is not None
    assert (nothing.systolic, found.sessions[1].readings) == (None, ())
    assert not found.invented


def test_demo_data_are_marked_in_the_bundle(clinic: Clinic, signed_in: SignIn) -> None:
    """An invented practice hands on nothing that could pass for a patient's, and nothing of it is taken in elsewhere.

    Oracle: by construction.
    """
    browser = signed_in(clinic.veterinarian)
    clinic.practice.invented = True
    clinic.practice.save()
    signed(clinic, browser)
    made = browser.get(address(clinic, "bundle.json")).content
    found = read_bundle(made)
    assert found.invented
    assert found.animal.name == "invented: Thistle"
    clinic.practice.invented = False
    clinic.practice.save()
    refused = shown(browser, clinic, made)
    assert refused.status_code == 422
    assert "test data" in refused.text
    unmarked = made.replace(b"HTEST", b"NONE")  # its mark was edited away: the animal's name still tells
    assert unmarked != made
    refused = shown(browser, clinic, unmarked)
    assert refused.status_code == 422
    assert "test data" in refused.text
    assert read_bundle(unmarked.replace(b"invented: ", b"Invented:")).invented
    assert not read_bundle(unmarked.replace(b"invented: ", b"The invented: ")).invented


def test_the_sessions_of_an_animal_go_out_as_a_table(clinic: Clinic, signed_in: SignIn, tmp_path: Path) -> None:
    """The table reads back as the history that the animal's page is made of; times stand by the practice's clock.

    Oracle: by construction, `history_of`, exactly.
    """
    browser = signed_in(clinic.veterinarian)
    signed(clinic, browser)
    another(clinic, 14, ending="closed")
    Event.objects.create(practice=clinic.practice, animal=clinic.animal, on="2024-01-05", kind="started")
    answer = browser.get(address(clinic, "sessions.csv"))
    path = tmp_path / "sessions.csv"
    path.write_bytes(answer.content)
    found, wanted = read_history(path), history_of(clinic.animal)
    assert [(each.day, each.systolic_mmhg, each.own_sd_mmhg, each.readings) for each in found.sessions] == [
        (each.day, each.systolic_mmhg, each.own_sd_mmhg, each.readings) for each in wanted.sessions
    ]
    assert found.events == wanted.events
    assert [each.circumstances for each in found.sessions] == [each.circumstances for each in wanted.sessions]


def test_files_of_an_invented_practice_are_named_so(clinic: Clinic, signed_in: SignIn) -> None:
    """Bundles and the table; a patient's are not.

    Oracle: by construction.
    """
    browser = signed_in(clinic.veterinarian)
    signed(clinic, browser)
    pages = [address(clinic, "sessions.csv"), f"/sessions/{clinic.session.pk}/bundle.json"]
    assert not any("invented" in browser.get(page).headers["Content-Disposition"] for page in pages)
    clinic.practice.invented = True
    clinic.practice.save()
    assert all('filename="invented-' in browser.get(page).headers["Content-Disposition"] for page in pages)


def shown(browser: Client, clinic: Clinic, content: bytes | dict[str, Any]) -> HttpResponse:
    """The page that tells what would happen."""
    raw = content if isinstance(content, bytes) else bundle_text(content).encode()
    answer: HttpResponse = browser.post(address(clinic, "import"), {"file": SimpleUploadedFile("there.json", raw)})
    return answer


def sent_on(page: HttpResponse) -> dict[str, str]:
    """What the page's button sends."""
    found = re.findall(r'<input type="hidden" name="(file_name|content|fingerprint)" value="([^"]*)">', page.text)
    same = {"same": "yes"} if 'name="same"' in page.text else {}
    return {name: html.unescape(value) for name, value in found} | same


def now_past(*sessions: BundleSession) -> dict[str, Any]:
    """The invented bundle, moved to days that have been."""
    back = timedelta(days=3650)

    def moved(session: BundleSession) -> BundleSession:
        rows = tuple(replace(each, taken_at=each.taken_at - back) for each in session.readings)
        ended = session.ended_at and session.ended_at - back
        return replace(session, started_at=session.started_at - back, ended_at=ended, readings=rows)

    return bundle(*map(moved, sessions or (FIRST, NOTHING)))


@pytest.mark.parametrize("who", ["veterinarian", "lead"])
def test_a_look_writes_nothing_and_the_import_what_was_shown(who: str, clinic: Clinic, signed_in: SignIn) -> None:
    """Series, readings and their reasons are what the bundle tells; the session is marked, ended, and not signed.

    Oracle: by construction, numbers without tolerance.
    """
    browser = signed_in(getattr(clinic, who))
    before = Session.objects.count()
    page = shown(browser, clinic, now_past())
    assert page.status_code == 200
    assert Session.objects.count() == before
    for part in (
        "Bramble",
        "Signed there: 162.125 mmHg, by Heron",
        "It holds no reading",
        "grey box",
        "162 - 171 mmHg",
    ):
        assert part in html.unescape(page.text), part
    done = browser.post(address(clinic, "import/done"), sent_on(page))
    assert done.status_code == 200
    session = Session.objects.exclude(imported_id="").get()
    assert (session.ending, session.place, session.held_by, session.read_by) == ("closed", "carrier", "Heron", None)
    assert "there.json" in session.imported_from
    assert "the small one, 2.5 cm" in session.imported_from
    assert not session.signed_values.exists()
    first, second = session.series.all()
    assert [(row.systolic, row.mean, row.diastolic, row.pulse_rate, row.spoiled) for row in first.readings.all()] == [
        (171.0, 131.0, 111.0, 182.0, ""),
        (163.3, 128.1, 107.0, None, ""),
        (None, None, None, None, "moved"),
    ]
    assert (second.technique, second.site, second.readings.get().systolic) == ("doppler", "tail", 0.1 + 162.2)
    assert Entry.objects.filter(what="session imported", who=getattr(clinic, who)).count() == 1
    assert Entry.objects.filter(what="reading imported").count() == 4
    verify()
    assert "Imported, not measured here" in browser.get(f"/sessions/{session.pk}/result").text
    assert "imported" in browser.get(f"/animals/{clinic.animal.pk}").text


def test_the_same_session_comes_once(clinic: Clinic, signed_in: SignIn) -> None:
    """Sent twice, or handed back to where it was measured, nothing is written; what changed meanwhile is shown again.

    Oracle: by construction.
    """
    browser = signed_in(clinic.veterinarian)
    sent = sent_on(shown(browser, clinic, now_past(FIRST)))
    assert browser.post(address(clinic, "import/done"), sent).status_code == 200
    count = Session.objects.count()
    again = browser.post(address(clinic, "import/done"), sent)
    assert again.status_code == 409
    assert "It is here already" in again.text
    assert not sent_on(shown(browser, clinic, now_past(FIRST)))
    signed(clinic, browser)
    own = browser.get(f"/sessions/{clinic.session.pk}/bundle.json").content
    assert "It is here already" in shown(browser, clinic, own).text
    assert Session.objects.count() == count


def test_an_imported_session_is_signed_here_like_any_other(clinic: Clinic, signed_in: SignIn) -> None:
    """It waits under Today, and the veterinarian who signs it is the one of this practice.

    Oracle: by construction.
    """
    browser = signed_in(clinic.veterinarian)
    browser.post(address(clinic, "import/done"), sent_on(shown(browser, clinic, now_past(FIRST))))
    session = Session.objects.exclude(imported_id="").get()
    today = browser.get("/").text
    assert str(session.pk) in today
    assert "imported" in today
    here = replace(clinic, session=session, series=session.series.first())
    assert sign(browser, here).status_code == 302
    assert SignedValue.objects.get().signed_by == clinic.veterinarian
    page = browser.get(f"/sessions/{session.pk}/result").text
    assert "Imported, not measured here." in page[page.index('<textarea id="note"') :]
    verify()


def test_what_the_file_cannot_be_is_refused_with_the_entry(clinic: Clinic, signed_in: SignIn) -> None:
    """No JSON, another species, a day to come, too large: the page says why, and nothing is written.

    Oracle: by construction.
    """
    browser = signed_in(clinic.veterinarian)
    before = Session.objects.count()
    for content, says in (
        (b"", "no JSON"),
        (b"{" * 100, "no JSON"),
        (b" " * (MOST_BYTES + 1), "too large"),
        (bundle_text(bundle(FIRST, animal=replace(ANIMAL, species="dog"))).encode(), "entry 1 (Patient)"),
    ):
        page = shown(browser, clinic, content)
        assert page.status_code == 422
        assert says in page.text
    future = shown(browser, clinic, bundle(replace(FIRST, value=None)))
    assert "has not come yet" in future.text
    assert not sent_on(future)
    long = now_past(replace(FIRST, ended_at=FIRST.started_at + timedelta(days=2)))
    assert "longer than a day" in shown(browser, clinic, long).text
    for sent in ({}, {"file_name": "x", "content": "?", "fingerprint": "x"}):
        assert browser.post(address(clinic, "import/done"), sent).status_code == 422
    assert Session.objects.count() == before


@pytest.mark.parametrize(
    "content",
    ["", "?", "é", "====", as_text(b""), as_text(b"0" * 50_000_000), as_text(b"[" * 100_000), as_text(b"{}")[:-6]],
)
def test_what_the_second_page_is_sent_is_trusted_no_more(content: str, clinic: Clinic, signed_in: SignIn) -> None:
    """No text, no base64, cut off, packed far beyond what a file may be, too deep: refused, and nothing is written.

    Oracle: by construction.
    """
    browser = signed_in(clinic.veterinarian)
    sent = {"file_name": "x", "fingerprint": "x", "content": content}
    assert browser.post(address(clinic, "import/done"), sent).status_code == 422
    assert Session.objects.count() == 1


def test_another_animal_is_asked_about(clinic: Clinic, signed_in: SignIn) -> None:
    """Where name, number or birth differ from those here, the page asks; a session before the birth is refused.

    Oracle: by construction.
    """
    Animal.objects.filter(pk=clinic.animal.pk).update(link_id="B-2", born="2022-01-01")
    browser = signed_in(clinic.lead)
    page = html.unescape(shown(browser, clinic, now_past(FIRST)).text)
    assert "Is this the same animal?" in page
    assert "in the file Bramble Þorn, here Thistle" in page
    assert "in the file A-17, here B-2" in page
    assert "before the animal was born" in page


def test_what_was_imported_says_nothing_of_the_work_here(clinic: Clinic, signed_in: SignIn) -> None:
    """The next session is not recalled from it, and it counts in no figure of technique.

    Oracle: by construction.
    """
    browser = signed_in(clinic.lead)
    browser.post(address(clinic, "import/done"), sent_on(shown(browser, clinic, now_past(FIRST))))
    imported = Session.objects.exclude(imported_id="").get()
    Session.objects.filter(pk=imported.pk).update(started_at=clinic.started_at + timedelta(days=1))
    assert last_series_of(clinic.animal) == clinic.series
    day = clinic.started_at.date()
    measured_here, _ = measured_between(clinic.lead, day, day + timedelta(days=3))
    assert measured_here == []  # the one measured here is still open


@pytest.mark.django_db(databases=[PRACTICE, TEACHING])
def test_the_migrations_tell_what_the_models_say() -> None:
    """No column or constraint of a model is missing in the migrations.

    Oracle: by construction, the framework's own comparison.
    """
    call_command("makemigrations", "--check", "--dry-run", verbosity=0)


def test_a_bundle_of_another_animal_is_taken_only_where_somebody_says_so(clinic: Clinic, signed_in: SignIn) -> None:
    """Name and number differ: one touch imports nothing and asks again; said, it is imported, and Today tells what was
    signed there beside what is charted here.

    Oracle: by construction.
    """
    browser = signed_in(clinic.veterinarian)
    sent = sent_on(shown(browser, clinic, now_past(FIRST)))
    assert sent.pop("same") == "yes"
    count = Session.objects.count()
    answer = browser.post(address(clinic, "import/done"), sent)
    assert answer.status_code == 422
    assert "nothing was imported" in answer.text
    assert Session.objects.count() == count
    assert browser.post(address(clinic, "import/done"), {**sent, "same": "yes"}).status_code == 200
    today = html.unescape(browser.get("/").text)
    assert "charted here" in today
    assert "Signed there: 162.125 mmHg, by Heron" in today
