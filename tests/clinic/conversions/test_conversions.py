"""Conversions in the clinic: chosen by the lead, bound, shown beside what was measured, and never in its place."""

from __future__ import annotations

import json
import shutil
import subprocess
from collections.abc import Callable
from dataclasses import replace
from datetime import timedelta
from pathlib import Path
from typing import Any

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.db import DatabaseError, connection, transaction
from django.http import HttpResponse
from django.test import Client
from django.utils.html import escape

from clinic.desk.examples import HIGH, address, another, sign
from clinic.examples import Clinic, reading
from clinic.journal.test_tampering import from_outside, protect_again
from quietlimb.clinic.conversions.models import BroughtConversion
from quietlimb.clinic.desk.basis import basis_of
from quietlimb.clinic.equipment.models import Instrument
from quietlimb.clinic.journal.models import Entry
from quietlimb.clinic.people.models import Person
from quietlimb.clinic.sessions.models import Series, SignedValue
from quietlimb.clinic.verifying import verify
from quietlimb.engine.conversion import Conversion, convert
from quietlimb.exchange.conversion_json import conversion_text
from quietlimb.words.conversion import ONLY_BESIDE

SignIn = Callable[[Person], Client]
STUDY = "A study that is invented for this test"
PLUS_FOUR = Conversion(
    quantity="systolic",
    converts_to="femoral catheter",
    species="cat",
    site="forelimb",
    technique="oscillometric",
    instrument="the box of the study",
    cuff_shares=(0.3, 0.4),
    sedation="awake",
    middle=150.0,
    at_middle=154.0,
    slope=1.0,
    middle_sd=2.0,
    slope_sd=0.05,
    correlation=0.0,
    between_sd=5.0,
    residual_sd=6.0,
    df=11.0,
    low=100.0,
    high=250.0,
    animals=12,
    pairs=48,
    study=STUDY,
    version="2",
)


@pytest.fixture
def measured(clinic: Clinic) -> Clinic:
    """A session of a cat that levels off at 168 mmHg, with a cuff of 34 % of the limb; still open."""
    for k, systolic in enumerate(HIGH):
        reading(clinic, 1.5 * k, systolic, systolic - 30, systolic - 50)
    return clinic


def bring(browser: Client, text: str, instrument: Instrument | None = None) -> HttpResponse:
    """The lead drops a file."""
    sent: dict[str, Any] = {"file": SimpleUploadedFile("tail.json", text.encode())}
    if instrument is not None:
        sent["instrument"] = str(instrument.pk)
    answer: HttpResponse = browser.post("/comparisons/conversions/bring", sent)
    return answer


def brought(browser: Client, clinic: Clinic, **otherwise: Any) -> BroughtConversion:
    """A conversion for the practice's grey box, in use."""
    text = conversion_text(replace(PLUS_FOUR, **otherwise), invented=False)
    answer = bring(browser, text, clinic.instrument)
    assert answer.status_code == 302, answer.text
    return BroughtConversion.objects.latest("brought_at")


def page(browser: Client, clinic: Clinic) -> str:
    """Of the session."""
    return str(browser.get(address(clinic, "result")).text)


def test_without_one_nothing_is_converted(measured: Clinic, signed_in: SignIn) -> None:
    """The default is none: neither page tells of a conversion.

    Oracle: by construction.
    """
    browser = signed_in(measured.nurse)
    assert "onverted" not in page(browser, measured)
    assert "no conversion is in use" in browser.get("/comparisons/conversions").text


def test_the_converted_value_stands_beside_and_moves_nothing(measured: Clinic, signed_in: SignIn) -> None:
    """Value and prediction interval are the engine's; charted pressure, answer and category are as without it.

    Oracle: by construction, a line that adds 4 mmHg, converted by the engine called directly.
    """
    browser = signed_in(measured.lead)
    before = basis_of(measured.session, measured.series)
    row = brought(browser, measured)
    basis = basis_of(measured.session, measured.series)
    assert basis.charted is not None
    assert basis.charted.systolic is not None
    assert (basis.charted, basis.interpretation) == (before.charted, before.interpretation)
    around = replace(basis.circumstances, instrument="the box of the study")
    wanted = convert(basis.charted.systolic, PLUS_FOUR, around, "systolic").converted
    assert wanted.value == pytest.approx(basis.charted.systolic.value + 4.0)
    (line,) = basis.converted.converted
    assert f"as measured {basis.charted.systolic.value:.0f} mmHg" in line
    assert f"{wanted.value:.0f} mmHg (95 % prediction interval {wanted.low:.0f} to {wanted.high:.0f})" in line
    assert f"{STUDY}, version 2, from 12 animals" in line
    assert line.endswith(ONLY_BESIDE)
    told = page(browser, measured)
    assert escape(line) in told
    assert told.index("systolic as charted") < told.index(escape(line)) < told.index("What it means")
    entry = Entry.objects.get(what="conversion brought in")
    assert (entry.who, entry.thing_id) == (measured.lead, row.pk)
    assert row.fingerprint in entry.after
    assert verify().trouble is None


def test_what_was_signed_keeps_it_in_note_page_and_bundle(
    measured: Clinic, signed_in: SignIn, tmp_path: Path, client: Client
) -> None:
    """Signed with it, note, PDF and bundle tell it, also once it is withdrawn; sessions after that do not.

    Oracle: by construction; the PDF as poppler's pdftotext reads it, where it is installed.
    """
    row = brought(signed_in(measured.lead), measured)
    browser = signed_in(measured.veterinarian)
    assert sign(browser, measured).status_code == 302
    (line,) = basis_of(measured.session, measured.series).converted.converted
    withdrawn = signed_in(measured.lead).post(
        f"/comparisons/conversions/{row.pk}/withdraw", {"why": "another cuff now"}
    )
    assert withdrawn.status_code == 302
    after = another(measured, 7)
    browser = signed_in(measured.veterinarian)
    assert "onverted to" not in page(browser, after)
    told = page(browser, measured)
    assert told.count(escape(line)) == 2  # beside the pressure, and in the note to copy
    bundle = json.loads(browser.get(address(measured, "bundle.json")).text)
    notes = [note for each in bundle["entry"] for note in each["resource"].get("note", ())]
    assert {"text": line} in notes
    listed = browser.get("/comparisons/conversions").text
    assert "another cuff now" in listed
    assert Entry.objects.get(what="conversion withdrawn").why == "another cuff now"
    assert SignedValue.objects.get().charted == basis_of(measured.session, measured.series).systolic_mmhg
    assert verify().trouble is None
    if shutil.which("pdftotext") is None:
        pytest.skip("pdftotext (poppler) is not installed")
    (tmp_path / "page.pdf").write_bytes(browser.get(address(measured, "page.pdf")).content)
    done = subprocess.run(["pdftotext", tmp_path / "page.pdf", "-"], capture_output=True, text=True, check=True)
    assert "converted to femoral catheter: 172 mmHg" in " ".join(done.stdout.split())


@pytest.mark.parametrize(
    ("otherwise", "says"),
    [
        ({"low": 180.0}, "168 mmHg lies beyond 180 to 250 mmHg"),
        ({"cuff_shares": (0.4, 0.5)}, "the cuff is 34% of the limb"),
        ({"sedation": "anaesthetised"}, "sedation is awake"),
    ],
)
def test_where_it_does_not_hold_the_page_says_why(
    measured: Clinic, signed_in: SignIn, otherwise: dict[str, Any], says: str
) -> None:
    """Beyond its range, of other cuffs or of animals in another state, nothing is converted, and note and page say so.

    Oracle: by construction.
    """
    browser = signed_in(measured.lead)
    brought(browser, measured, **otherwise)
    lines = basis_of(measured.session, measured.series).converted
    assert lines.converted == lines.others == ()
    assert says in lines.refused[0]
    told = page(browser, measured)
    assert escape(lines.refused[0]) in told
    assert "; converted to" not in told
    assert lines.for_the_record == lines.refused


@pytest.mark.parametrize("otherwise", [{"species": "dog"}, {"site": "tail"}, {"quantity": "mean", "species": "dog"}])
def test_one_for_others_is_told_apart_and_not_in_the_record(
    measured: Clinic, signed_in: SignIn, otherwise: dict[str, Any]
) -> None:
    """Of a conversion for another species or site the page says that it does not hold; the note does not.

    Oracle: by construction.
    """
    browser = signed_in(measured.lead)
    brought(browser, measured, **otherwise)
    lines = basis_of(measured.session, measured.series).converted
    assert lines.for_the_record == ()
    assert escape(lines.others[0]) in page(browser, measured)


def test_it_holds_for_the_instrument_that_it_was_brought_in_for(measured: Clinic, signed_in: SignIn) -> None:
    """A second instrument of the same kind is another; one that no file names takes any.

    Oracle: by construction.
    """
    browser = signed_in(measured.lead)
    other = Instrument.objects.create(practice=measured.practice, name="blue box", technique="oscillometric")
    text = conversion_text(PLUS_FOUR, invented=False)
    assert bring(browser, text, other).status_code == 302
    (line,) = basis_of(measured.session, measured.series).converted.others
    assert "instrument is grey box" in line
    assert "brought in for blue box" in line
    Series.objects.filter(pk=measured.series.pk).update(instrument=other)
    moved = Series.objects.select_related("instrument", "session").get(pk=measured.series.pk)
    assert len(basis_of(measured.session, moved).converted.converted) == 1
    any_text = conversion_text(replace(PLUS_FOUR, instrument=None, study="another"), invented=False)
    assert bring(browser, any_text).status_code == 302
    assert len(basis_of(measured.session, measured.series).converted.converted) == 1


def test_a_file_that_names_an_instrument_as_the_register_does_is_bound_to_it(
    measured: Clinic, signed_in: SignIn
) -> None:
    """Without a choice the one instrument of that name is taken.

    Oracle: by construction.
    """
    text = conversion_text(replace(PLUS_FOUR, instrument="grey box"), invented=False)
    assert bring(signed_in(measured.lead), text).status_code == 302
    assert BroughtConversion.objects.get().instrument == measured.instrument


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ("no JSON at all", "this is no JSON"),
        (conversion_text(PLUS_FOUR, invented=False).replace("154.0", "164.0"), "changed after it was written"),
        (conversion_text(PLUS_FOUR, invented=True), "rests on invented pairs"),
        (conversion_text(PLUS_FOUR, invented=False), "say which of yours that is"),
        (conversion_text(replace(PLUS_FOUR, study="s" * 401), invented=False), "has 401 letters"),
        ("x" * 20_001, "more than 20 kB"),
    ],
)
def test_what_cannot_be_used_is_refused_with_the_remedy(
    clinic: Clinic, signed_in: SignIn, text: str, says: str
) -> None:
    """No conversion, one that was changed, of invented pairs, for an unknown instrument, too long: nothing is kept.

    Oracle: by construction.
    """
    answer = bring(signed_in(clinic.lead), text)
    assert answer.status_code == 422
    assert says in answer.text
    assert not BroughtConversion.objects.exists()
    assert not Entry.objects.exists()


def test_another_method_and_a_second_version_in_use_are_refused(clinic: Clinic, signed_in: SignIn) -> None:
    """A Doppler unit is not what it was found with; version 3 waits until version 2 is withdrawn.

    Oracle: by construction.
    """
    browser = signed_in(clinic.lead)
    doppler = Instrument.objects.create(
        practice=clinic.practice, name="pencil", technique="doppler", slots=["systolic"]
    )
    text = conversion_text(PLUS_FOUR, invented=False)
    assert "pencil measures otherwise" in bring(browser, text, doppler).text
    first = brought(browser, clinic)
    third = conversion_text(replace(PLUS_FOUR, version="3"), invented=False)
    refused = bring(browser, third, clinic.instrument)
    assert refused.status_code == 422
    assert "Version 2 of this study is in use; withdraw it first" in refused.text
    assert "Show it no longer" in refused.text
    empty = browser.post(f"/comparisons/conversions/{first.pk}/withdraw", {"why": ""})
    assert empty.status_code == 422
    browser.post(f"/comparisons/conversions/{first.pk}/withdraw", {"why": "replaced"})
    assert bring(browser, third, clinic.instrument).status_code == 302


def test_everybody_sees_it_and_takes_the_file_as_it_came(clinic: Clinic, signed_in: SignIn) -> None:
    """A nurse sees study, range and what it rests on, no form to bring or withdraw, and takes the same bytes.

    Oracle: by construction.
    """
    row = brought(signed_in(clinic.lead), clinic)
    browser = signed_in(clinic.nurse)
    told = browser.get("/comparisons/conversions").text
    for each in (STUDY, "100 - 250 mmHg", "30% to 40% of the limb", "12 animals, 48 pairs", "calls it the box"):
        assert each in told
    assert "<form" not in told[told.index("<h1>") :]
    assert browser.get(f"/comparisons/conversions/{row.pk}/file").content == bytes(row.content)


@pytest.mark.parametrize(
    ("statement", "says"),
    [
        (f"UPDATE conversions_broughtconversion SET sha256 = '{'0' * 64}'", "does not have the files"),
        ("UPDATE conversions_broughtconversion SET version = '9'", "is not what the journal tells"),
        ("DELETE FROM conversions_broughtconversion", "is in the journal and gone"),
    ],
)
def test_the_database_refuses_to_change_it_and_a_change_is_found(
    clinic: Clinic, signed_in: SignIn, statement: str, says: str
) -> None:
    """Refused; where somebody took the protection away, the journal tells of it.

    Oracle: by construction.
    """
    brought(signed_in(clinic.lead), clinic)
    with pytest.raises(DatabaseError, match="stands for good"), transaction.atomic(), connection.cursor() as cursor:
        cursor.execute(statement)
    with from_outside() as cursor:
        cursor.execute(statement)
        protect_again(cursor)
        assert says in str(verify().trouble)


def test_one_that_is_no_longer_understood_stops_no_session(measured: Clinic, signed_in: SignIn) -> None:
    """Bytes that this engine cannot take: the session's page stands, the page of conversions says so.

    Oracle: by construction.
    """
    BroughtConversion.objects.create(
        practice=measured.practice, brought_by=measured.lead, brought_at=measured.started_at + timedelta(days=1),
        file_name="c.json", sha256="0" * 64, content=b"{}", study="an old one", version="1",
    )  # fmt: skip
    browser = signed_in(measured.nurse)
    assert browser.get(address(measured, "result")).status_code in (200, 302)
    assert "name a file of" in browser.get("/comparisons/conversions").text
