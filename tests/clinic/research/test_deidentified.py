"""The de-identified export: what is in it, and that nothing in it names anybody."""

from __future__ import annotations

import csv
import hashlib
import io
import random
import re
import string
import zipfile
from collections.abc import Callable
from datetime import UTC, date, datetime, timedelta

import pytest
from django.apps import apps
from django.db import models
from django.test import Client

from clinic.desk.examples import HIGH, another, sign
from clinic.examples import Clinic, invented_clinic, reading
from quietlimb.clinic.animals.models import Animal, Event, Owner, Recheck
from quietlimb.clinic.journal.models import Entry
from quietlimb.clinic.people.models import Person, Practice
from quietlimb.clinic.research import deidentified as building
from quietlimb.clinic.research.deidentified import deidentified
from quietlimb.clinic.sessions.models import Recording, Session, SignedValue
from quietlimb.clinic.verifying import verify

SignIn = Callable[[Person], Client]


def files(content: bytes) -> dict[str, str]:
    """The texts of a ZIP by name."""
    with zipfile.ZipFile(io.BytesIO(content)) as packed:
        assert packed.testzip() is None
        return {name: packed.read(name).decode() for name in packed.namelist()}


def rows(content: bytes, name: str) -> list[dict[str, str]]:
    """A table of a ZIP."""
    return list(csv.DictReader(io.StringIO(files(content)[name])))


def word(draw: random.Random) -> str:
    """A name that stands nowhere by chance: 12 letters, of 26 ** 12."""
    return "".join(draw.choices(string.ascii_lowercase, k=12)).capitalize()


def filled(draw: random.Random) -> Practice:
    """A practice in which every text that can be typed is a random name, with sessions of every kind."""
    clinic = invented_clinic(datetime(2023, 11, 7, 9, 0, tzinfo=UTC) + timedelta(days=draw.randrange(60)))
    for k, value in enumerate(HIGH):
        reading(clinic, 1.5 * k, value, 130, 100)
    reading(clinic, 12, 260, struck_at=clinic.started_at, struck_by=clinic.nurse, struck_because="x")
    more = another(clinic, 11, ending="closed")
    kept = Recording.objects.create(practice=clinic.practice, sha256="0" * 64, name="x", content=b"x")
    reading(more, 20, None, recording=kept, series=more.series)
    Session.objects.filter(pk=clinic.session.pk).update(
        ending="closed", ended_at=clinic.started_at, imported_id="x", imported_from="x"
    )
    Event.objects.create(practice=clinic.practice, animal=clinic.animal, on="2024-01-05", kind="started")
    Recheck.objects.create(
        practice=clinic.practice, animal=clinic.animal, since="2024-01-04", due_from="2024-01-11", due_by="2024-02-01"
    )
    clinic.nurse.competences.create(practice=clinic.practice, subject="x", since="2020-01-01")
    Owner.objects.filter(practice=clinic.practice).update(email="x@example.org")
    for model in apps.get_models():
        if not model.__module__.startswith("quietlimb.clinic") or model is SignedValue or model is Entry:
            continue
        typed = [
            field.name
            for field in model._meta.concrete_fields
            if isinstance(field, models.CharField | models.TextField)
            and not field.choices
            and not field.primary_key
            and field.name not in ("password", "short_code", "first_code", "time_zone", "rules", "digest")
        ]
        for row in model._default_manager.all():
            values = {name: word(draw).lower() if name == "username" else word(draw) for name in typed}
            model._default_manager.filter(pk=row.pk).update(**values)
    Practice.objects.filter(pk=clinic.practice.pk).update(name=word(draw))
    return Practice.objects.get(pk=clinic.practice.pk)


def identifying() -> set[str]:
    """Every text, key and date of the database that is not a word of a fixed list."""
    found = set()
    for model in apps.get_models():
        if not model.__module__.startswith("quietlimb.clinic"):
            continue
        for row in model._default_manager.all():
            for field in model._meta.concrete_fields:
                value = getattr(row, field.attname)
                if field.choices or value is None or isinstance(value, bool | float | int | bytes):
                    continue
                if isinstance(value, datetime):
                    found |= {value.date().isoformat(), value.strftime("%H:%M:%S")}
                elif isinstance(value, date):
                    found.add(value.isoformat())
                elif field.name not in ("time_zone", "rules", "engine", "frozen", "what", "thing"):
                    found.add(str(value))
    return {text for text in found if len(text) > 3}


@pytest.mark.django_db
@pytest.mark.parametrize("seed", range(4))
def test_no_text_key_or_date_of_the_database_is_in_it(seed: int) -> None:
    """With random names in every column that can be typed, none of them is found in any file, nor any key or day.

    Oracle: by construction. A name of 12 letters stands there by chance in no lifetime.
    """
    practice = filled(random.Random(7100 + seed))
    content, counts = deidentified(practice)
    assert counts.sessions == 2
    assert counts.readings == 13
    whole = "\n".join([*files(content), *files(content).values()]).casefold()
    told = identifying()
    assert len(told) > 60
    assert practice.name in told
    assert [text for text in told if text.casefold() in whole] == []
    assert not re.search(r"\d{4}-\d\d-\d\d", whole)
    with zipfile.ZipFile(io.BytesIO(content)) as packed:
        assert {info.date_time for info in packed.infolist()} == {building.LONG_AGO}


def test_the_search_of_that_test_finds_what_leaks(clinic: Clinic, monkeypatch: pytest.MonkeyPatch) -> None:
    """Were breeds written as typed, or keys kept, the search would say so.

    Oracle: by construction.
    """
    another(clinic, 3, ending="closed")
    Animal.objects.update(breed="Xqzvtklmprsd")
    monkeypatch.setattr(building, "FEWEST_OF_A_BREED", 1)
    content, _ = deidentified(clinic.practice)
    whole = "\n".join(files(content).values()).casefold()
    assert [text for text in identifying() if text.casefold() in whole] == ["Xqzvtklmprsd"]


def test_days_ages_and_numbers_are_told(clinic: Clinic, signed_in: SignIn) -> None:
    """Days count from the first session, ages in whole years up to 15, and the readings are those of the rows.

    Oracle: by construction.
    """
    browser = signed_in(clinic.veterinarian)
    Animal.objects.update(born="2004-06-01", sex="female neutered")
    for k, value in enumerate(HIGH):
        reading(clinic, 1.5 * k, value, 130.25, 101)
    reading(clinic, 12, None, spoiled="moved")
    reading(clinic, 13, 260, struck_at=clinic.started_at, struck_by=clinic.nurse)
    assert sign(browser, clinic).status_code == 302
    another(clinic, 14, ending="closed")
    another(clinic, 20)  # still open
    content, counts = deidentified(clinic.practice)
    (animal,) = rows(content, "animals.csv")
    assert (animal["species"], animal["sex"], animal["age_years"], animal["breed"]) == (
        "cat",
        "female neutered",
        "15",
        "other",
    )
    sessions = sorted(rows(content, "sessions.csv"), key=lambda row: int(row["day"]))
    assert [(row["day"], row["signed"], row["imported"], row["animal"]) for row in sessions] == [
        ("0", "yes", "no", animal["animal"]),
        ("14", "no", "no", animal["animal"]),
    ]
    assert float(sessions[0]["stands_mmHg"]) == pytest.approx(SignedValue.objects.get().chosen, abs=0.05)
    assert sessions[0]["acclimatisation_min"] == "5.0"
    first = [row for row in rows(content, "readings.csv") if row["session"] == sessions[0]["session"]]
    assert [(row["number"], row["minute"], row["systolic_mmHg"], row["spoiled"]) for row in first] == [
        *((str(k + 1), str(1.5 * k), str(float(value)), "") for k, value in enumerate(HIGH)),
        ("7", "12.0", "", "moved"),
    ]
    assert {(row["method"], row["cuff_width_cm"], row["mean_mmHg"]) for row in first[:6]} == {
        ("oscillometric", "3.0", "130.2")
    }
    assert (counts.animals, counts.sessions, counts.readings, counts.alone) == (1, 2, 13, 1)
    assert "here 1 of 1 animals share" in files(content)["README.txt"]


@pytest.mark.parametrize(("owners", "told"), [(5, "invented longhair"), (4, "other")])
def test_a_breed_is_told_from_five_owners_up(owners: int, told: str, clinic: Clinic) -> None:
    """Five animals of a breed are told when they have five owners, in one spelling; else as other.

    Oracle: by construction, the limit that the design sets.
    """
    Animal.objects.update(breed="")
    theirs = [Owner.objects.create(practice=clinic.practice, name=f"o{k}") for k in range(owners)]
    for k in range(5):
        cat = Animal.objects.create(
            practice=clinic.practice,
            owner=theirs[k % owners],
            name="n",
            species="cat",
            breed=("Invented  Longhair ", "invented longhair")[k % 2],
        )
        Session.objects.create(
            practice=clinic.practice,
            animal=cat,
            started_at=clinic.started_at,
            started_by=clinic.nurse,
            ending="closed",
            ended_at=clinic.started_at,
        )
    content, _ = deidentified(clinic.practice)
    assert {row["breed"] for row in rows(content, "animals.csv")} == {told}


def test_keys_are_drawn_anew_and_lead_nowhere(clinic: Clinic) -> None:
    """Two exports of the same rows share no key, and each file is sorted by keys that were drawn.

    Oracle: by construction; 64 random bits do not meet by chance.
    """
    for days in (3, 6, 9):
        another(clinic, days, ending="closed")
    one, two = deidentified(clinic.practice)[0], deidentified(clinic.practice)[0]
    keys = [{row["session"] for row in rows(content, "sessions.csv")} for content in (one, two)]
    assert len(keys[0]) == 3
    assert not keys[0] & keys[1]
    listed = [row["session"] for row in rows(one, "sessions.csv")]
    assert listed == sorted(listed)


def test_the_researcher_gets_it_and_the_journal_tells(clinic: Clinic, signed_in: SignIn) -> None:
    """She comes to the page by signing in, finds nothing else in the navigation, and each export is told with its hash.

    Oracle: by construction.
    """
    another(clinic, 3, ending="closed")
    browser = signed_in(clinic.researcher)
    assert (
        browser.post("/sign-in", {"username": "sorrel", "password": "a quiet limb is asked for"}).headers["Location"]
        == "/export"
    )
    page = browser.get("/export").text
    assert '"/export"' in page
    assert '"/animals"' not in page
    answer = browser.post("/export")
    assert answer.headers["Content-Type"] == "application/zip"
    entry = Entry.objects.get(what="de-identified export made")
    assert entry.who == clinic.researcher
    assert hashlib.sha256(answer.content).hexdigest() in entry.after
    assert rows(answer.content, "sessions.csv")[0]["session"] not in entry.after
    verify()


def test_another_practice_is_not_in_it_and_demo_data_say_so(clinic: Clinic) -> None:
    """The rows are those of one practice; in an invented one every file is named so.

    Oracle: by construction.
    """
    another(clinic, 3, ending="closed")
    content, counts = deidentified(clinic.stranger.practice)
    assert (counts.animals, counts.sessions) == (0, 0)
    assert rows(content, "animals.csv") == []
    clinic.practice.invented = True
    made = files(deidentified(clinic.practice)[0])
    assert all(name.startswith("invented-") for name in made)
    assert made["invented-README.txt"].startswith("INVENTED")


def test_too_much_is_refused_with_the_reason(
    clinic: Clinic, signed_in: SignIn, monkeypatch: pytest.MonkeyPatch
) -> None:
    """More sessions than an export holds end in a sentence, and nothing is told in the journal.

    Oracle: by construction.
    """
    monkeypatch.setattr(building, "MOST_SESSIONS", 0)
    another(clinic, 3, ending="closed")
    answer = signed_in(clinic.lead).post("/export")
    assert answer.status_code == 409
    assert "more than 0 sessions" in answer.text
    assert not Entry.objects.filter(what="de-identified export made").exists()
