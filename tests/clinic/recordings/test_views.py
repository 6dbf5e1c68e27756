"""Recordings at the table: read at once, kept as they came, read again."""

from __future__ import annotations

import hashlib
import uuid
from collections.abc import Callable
from datetime import timedelta
from pathlib import Path
from typing import Any

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.http import HttpResponse
from django.test import Client

from clinic.examples import Clinic, reading
from quietlimb.clinic.journal.models import Entry
from quietlimb.clinic.people.models import Person, Practice
from quietlimb.clinic.sessions.models import Reading, Recording
from quietlimb.clinic.sessions.results import result_object
from quietlimb.clinic.sessions.selectors import told_of
from quietlimb.clinic.verifying import verify
from quietlimb.engine.reading import read
from quietlimb.engine.version import ENGINE_VERSION
from quietlimb.exchange.recording_csv import read_recording, write_recording
from quietlimb.simulator.sessions import simulate_session

SignIn = Callable[[Person], Client]


@pytest.fixture(scope="module")
def files(tmp_path_factory: pytest.TempPathFactory) -> list[Path]:
    """Two invented recordings as files, by an instrument that is not called a simulator."""
    folder = tmp_path_factory.mktemp("recordings")
    paths = []
    for k, made in enumerate(simulate_session(5, species="cat", course="falling").recordings[:2], start=1):
        path = folder / f"r{k}.csv"
        write_recording(made.recording, path)
        lines = path.read_text(encoding="utf-8").splitlines(keepends=True)
        told = ("# instrument", "# animal", "# started_at", "# remarks")
        path.write_text("".join(line for line in lines if not line.startswith(told)), encoding="utf-8")
        paths.append(path)
    return paths


def drop(browser: Client, clinic: Clinic, *paths: Path, minute: float = 1, **changed: Any) -> HttpResponse:
    """Files of one recording, as the page sends them."""
    told = {
        "client_id": str(uuid.uuid4()),
        "taken_at": (clinic.started_at + timedelta(minutes=minute)).isoformat(),
        "file": [SimpleUploadedFile(path.name, path.read_bytes()) for path in paths],
        **changed,
    }
    answer: HttpResponse = browser.post(f"/series/{clinic.series.pk}/recordings", told)
    return answer


def test_a_recording_is_read_at_once_and_kept_as_it_came(clinic: Clinic, signed_in: SignIn, files: list[Path]) -> None:
    """Its reading is the engine's own, its bytes are the file's, the part of the page shows it, the journal tells it.

    Oracle: reference, the engine on the file; hashlib of CPython for the bytes.
    """
    browser = signed_in(clinic.nurse)
    answers = [drop(browser, clinic, path, minute=k) for k, path in enumerate(files)]
    assert [answer.status_code for answer in answers] == [201, 201]
    rows = list(Reading.objects.order_by("taken_at"))
    for row, path in zip(rows, files, strict=True):
        assert row.recording is not None
        assert bytes(row.recording.content) == path.read_bytes()
        assert row.recording.sha256 == hashlib.sha256(path.read_bytes()).hexdigest()
        assert row.recording.results == {ENGINE_VERSION: result_object(read(read_recording(path, species="cat")))}
    found = read(read_recording(files[0], species="cat"))
    assert found.systolic is not None
    assert f"<td>{found.systolic.value:.0f}</td>" in answers[1].text
    told = told_of(clinic.series)
    assert told is not None
    assert told.charted.systolic is not None
    assert [entry.what for entry in Entry.objects.order_by("sequence")][:4] == ["recording kept", "reading added"] * 2
    assert verify().trouble is None


def test_the_same_recording_is_one_row(clinic: Clinic, signed_in: SignIn, files: list[Path]) -> None:
    """Sent again under its key or under another, it is there already; in another session it is refused.

    Oracle: by construction.
    """
    browser, key = signed_in(clinic.nurse), str(uuid.uuid4())
    codes = [drop(browser, clinic, files[0], client_id=k).status_code for k in (key, key, str(uuid.uuid4()))]
    assert codes == [201, 200, 200]
    assert (Reading.objects.count(), Recording.objects.count()) == (1, 1)
    other = clinic.session
    other.pk, other._state.adding = uuid.uuid4(), True
    other.save()
    clinic.series.pk, clinic.series.session, clinic.series._state.adding = uuid.uuid4(), other, True
    clinic.series.save()
    refused = drop(browser, clinic, files[0])
    assert (refused.status_code, refused.json()["code"]) == (409, "kept-elsewhere")
    Reading.objects.update(struck_at=clinic.started_at, struck_by=clinic.nurse)
    assert drop(browser, clinic, files[0]).status_code == 201
    assert Recording.objects.count() == 1


def test_typed_and_recorded_readings_are_never_pooled(clinic: Clinic, signed_in: SignIn, files: list[Path]) -> None:
    """Dropped beside typed readings, or in a series by Doppler, recordings open one series like it and stay together;
    a reading typed among recordings goes back to the typed ones, once.

    Oracle: by construction.
    """
    browser = signed_in(clinic.nurse)
    reading(clinic, 0, 170)
    answers = [drop(browser, clinic, path, minute=k) for k, path in enumerate(files)]
    page = f"/sessions/{clinic.session.pk}?series=2"
    assert [answer.headers["Quietlimb-Series"] for answer in answers] == [page, page]
    second = clinic.session.series.get(ordinal=2)
    assert second.readings.count() == 2
    assert (second.cuff, second.site, second.technique) == (clinic.cuff, "forelimb", "oscillometric")
    assert browser.get(page).status_code == 200
    told = {"client_id": str(uuid.uuid4()), "ordinal": 3, "taken_at": clinic.started_at.isoformat(), "systolic": 150}
    typed = [browser.post(f"/series/{second.pk}/readings", told, content_type="application/json") for _ in range(2)]
    assert [answer.status_code for answer in typed] == [201, 200]
    assert {answer.headers["Quietlimb-Series"] for answer in typed} == {f"/sessions/{clinic.session.pk}?series=1"}
    assert clinic.series.readings.count() == 2
    Reading.objects.update(struck_at=clinic.started_at, struck_by=clinic.nurse)
    clinic.series.technique = "doppler"
    clinic.series.save()
    page = f"/sessions/{clinic.session.pk}?series=3"
    assert drop(browser, clinic, files[0]).headers["Quietlimb-Series"] == page
    assert clinic.session.series.get(ordinal=3).instrument is None


def test_an_invented_recording_has_no_place_in_a_patient_s_record(
    clinic: Clinic, signed_in: SignIn, tmp_path: Path
) -> None:
    """Refused in a practice, taken in an invented one.

    Oracle: by construction, the simulator writes its name into the file.
    """
    made = simulate_session(6, species="cat").recordings[0].recording
    path = tmp_path / "made.csv"
    write_recording(made, path)
    lines = path.read_text(encoding="utf-8").splitlines(keepends=True)
    path.write_text("".join(line for line in lines if not line.startswith("# started_at")), encoding="utf-8")
    browser = signed_in(clinic.nurse)
    refused = drop(browser, clinic, path)
    assert (refused.status_code, refused.json()["code"]) == (409, "invented")
    assert not Recording.objects.exists()
    Practice.objects.filter(pk=clinic.practice.pk).update(invented=True)
    assert drop(browser, clinic, path).status_code == 201


def test_what_cannot_be_read_is_not_kept_and_says_why(clinic: Clinic, signed_in: SignIn, tmp_path: Path) -> None:
    """Name, place and remedy; another day's recording, a dog's under a cat, no file, no key.

    Oracle: by construction.
    """
    browser, path = signed_in(clinic.nurse), tmp_path / "r.csv"
    path.write_text("time_s,cuff_pressure_mmHg\n0,x\n", encoding="utf-8")
    assert "r.csv" not in drop(browser, clinic, path).json()["says"]
    assert drop(browser, clinic, path).status_code == 422
    assert drop(browser, clinic).json()["code"] == "no-file"
    assert drop(browser, clinic, path, client_id="").json()["code"] == "no-key"
    assert drop(browser, clinic, path, taken_at="2019-01-01T00:00:00Z").json()["code"] == "another-day"
    assert not Recording.objects.exists()


def test_the_time_is_the_recording_s_own_where_it_tells_one(
    clinic: Clinic, signed_in: SignIn, files: list[Path], tmp_path: Path
) -> None:
    """With an offset as it stands, without by the practice's clock; another day is refused.

    Oracle: by construction; the practice's clock is set to a zone one hour from UTC in January.
    """
    Practice.objects.filter(pk=clinic.practice.pk).update(time_zone="Europe/Berlin")
    browser, text = signed_in(clinic.nurse), files[0].read_text(encoding="utf-8")
    for told, hour in (("2024-01-04T09:30:00+00:00", 9), ("2024-01-04T09:30:00", 8)):
        path = tmp_path / f"{hour}.csv"
        path.write_text(f"# started_at: {told}\n{text}", encoding="utf-8")
        assert drop(browser, clinic, path).status_code == 201
        assert Reading.objects.latest("saved_at").taken_at.hour == hour
    path.write_text(f"# started_at: 2024-02-04T09:30:00\n{text}", encoding="utf-8")
    assert drop(browser, clinic, path).json()["code"] == "another-day"


def test_a_newer_engine_reads_it_again_and_both_results_stay(
    clinic: Clinic, signed_in: SignIn, files: list[Path]
) -> None:
    """The page shows both with the difference, and offers it only where this engine has not read it.

    Oracle: by construction: an older result that is 2 mmHg higher is put in by hand.
    """
    browser = signed_in(clinic.nurse)
    drop(browser, clinic, files[0])
    row, kept = Reading.objects.get(), Recording.objects.get()
    address = f"/readings/{row.pk}/recording"
    assert "Read it with engine" not in browser.get(address).text
    older = {**kept.results[ENGINE_VERSION]}
    older["systolic"] = {**older["systolic"], "value": older["systolic"]["value"] + 2}
    Recording.objects.update(results={"0.0.1": older})
    assert "Read it with engine" in browser.get(address).text
    assert browser.post(f"{address}/again").status_code == 302
    assert set(Recording.objects.get().results) == {"0.0.1", ENGINE_VERSION}
    page = browser.get(address).text
    assert "-2.0" in page
    assert "Read it with engine" not in page
    assert Entry.objects.latest("sequence").what == "recording read again"
    before = Entry.objects.count()
    assert browser.post(f"{address}/again").status_code == 302
    assert Entry.objects.count() == before


def test_picture_and_file_are_those_of_the_recording(clinic: Clinic, signed_in: SignIn, files: list[Path]) -> None:
    """The picture is SVG with the reading's pressure in it, the file is the bytes that came.

    Oracle: by construction.
    """
    browser = signed_in(clinic.nurse)
    drop(browser, clinic, files[0])
    address = f"/readings/{Reading.objects.get().pk}/recording"
    drawn = browser.get(f"{address}/picture")
    found = read(read_recording(files[0], species="cat")).systolic
    assert found is not None
    assert drawn.headers["Content-Type"] == "image/svg+xml"
    assert f"systolic {found.value:.0f}" in drawn.text
    assert browser.get(f"{address}/picture?theme=dark").text != drawn.text
    file = browser.get(f"{address}/file")
    assert file.content == files[0].read_bytes()
    assert file.headers["Content-Disposition"] == 'attachment; filename="r1.csv"'


def test_a_key_of_another_reading_is_refused(clinic: Clinic, signed_in: SignIn, files: list[Path]) -> None:
    """The key of a typed reading of this session, or of one of another practice, is 409, and nothing is kept.

    Oracle: by construction.
    """
    browser = signed_in(clinic.nurse)
    elsewhere = clinic.stranger.practice
    typed, theirs = reading(clinic, 0, 150), reading(clinic, 0, 150, practice=elsewhere)
    for row in (typed, theirs):
        answer = drop(browser, clinic, files[0], client_id=str(row.client_id))
        assert (answer.status_code, answer.json()["code"]) == (409, "key-taken")  # type: ignore[attr-defined]
    assert not Recording.objects.exists()
    assert not Entry.objects.exists()
    assert Reading.objects.count() == 2
