"""Anybody sends anything to every address: no page breaks, nothing is written that the journal does not tell, and
nothing of another practice is touched.

Each example is undone, so the next one finds the same clinic. The examples are the same each time.
"""

from __future__ import annotations

import json
import pkgutil
import uuid
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import timedelta
from importlib import import_module
from itertools import chain
from typing import Any
from urllib.parse import urlencode

import pytest
from django.apps import apps
from django.core.files.uploadedfile import SimpleUploadedFile
from django.db import transaction
from django.forms import BaseForm
from django.http.cookie import SimpleCookie
from django.test import Client
from django.test.client import BOUNDARY, MULTIPART_CONTENT, encode_multipart
from django.urls import reverse
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

import quietlimb.clinic
from clinic.examples import Clinic, reading
from clinic.test_rights import EVERYBODY, ROUTES, key_of, someone
from quietlimb.clinic.animals.models import Animal
from quietlimb.clinic.canonical import columns
from quietlimb.clinic.journal.models import Entry
from quietlimb.clinic.people.models import Attempts, KnownAddress, Membership
from quietlimb.clinic.sessions.models import Reading, Series, Session

# the pages of the teaching room work on the learners' store
pytestmark = pytest.mark.django_db(databases=["default", "teaching"])

FUZZED = settings(
    deadline=None,
    derandomize=True,
    database=None,
    suppress_health_check=[HealthCheck.function_scoped_fixture, HealthCheck.too_slow],
)

# Tables of which no entry tells: the journal itself, and from where somebody tried to sign in.
UNTOLD = (Entry, Attempts, KnownAddress)
METHODS = ("GET", "POST", "HEAD", "OPTIONS", "PUT", "PATCH", "DELETE")
IN_QUERIES = ("q", "series", "from", "to", "by", "theme", "width", "next", "code", "page", "sort")
IN_BODIES = ("client_id", "ordinal", "taken_at", "systolic", "spoiled", "why", "do", "contact", "looked_at", "table")


def forms() -> Iterator[type[BaseForm]]:
    """Every form of the clinic."""
    for found in pkgutil.walk_packages(quietlimb.clinic.__path__, "quietlimb.clinic."):
        if found.name.endswith(".forms"):
            for thing in vars(import_module(found.name)).values():
                if isinstance(thing, type) and issubclass(thing, BaseForm) and hasattr(thing, "base_fields"):
                    yield thing


FIELDS = sorted({*IN_BODIES, *chain.from_iterable(form.base_fields for form in forms())})
CHOICES = sorted(
    {
        str(value)
        for form in forms()
        for field in form.base_fields.values()
        if isinstance(getattr(field, "choices", None), list)
        for value, _ in field.choices
        if not isinstance(value, list | tuple)
    }
)

AWKWARD = (
    "", "0", "-1", "1e999", "nan", "inf", "9" * 30, "\0", "\ud7ff", "é", "\u202e", "2024-01-04", "0001-01-01",
    "9999-12-31", "2024-02-30", "0001-01-01T00:00:00+23:59", "9999-12-31T23:59:59-23:59", "true",
    "'; --", "{}", "x" * 5000,
)  # fmt: skip


@dataclass(frozen=True, kw_only=True)
class Scene:
    """A clinic and one beside it with rows of its own, a browser of everybody, and all keys that there are."""

    clinic: Clinic
    browsers: dict[str, Client]
    cookies: dict[str, str]
    keys: tuple[str, ...]
    addresses: dict[str, tuple[str, ...]]
    before: dict[tuple[str, Any], tuple[Any, str]]


@pytest.fixture
def scene(clinic: Clinic) -> Scene:
    """Everybody has signed in; the practice on the hill has an animal, a session and a reading too."""
    elsewhere = clinic.stranger.practice
    animal = Animal.objects.create(practice=elsewhere, name="Bramble", species="dog")
    at = {"practice": elsewhere, "started_at": clinic.started_at, "started_by": clinic.stranger}
    session = Session.objects.create(animal=animal, **at)
    theirs = Series.objects.create(practice=elsewhere, session=session, ordinal=1, technique="oscillometric")
    row = reading(clinic, 0, 171, practice=elsewhere, series=theirs, saved_by=clinic.stranger)
    things = {key: key_of(clinic, key) for key in sorted({route.key for route in ROUTES.values() if route.key})}
    ours = {
        "animal": animal.pk,
        "session": session.pk,
        "series": theirs.pk,
        "reading": row.pk,
        "colleague": clinic.stranger.pk,
    }
    addresses = {
        name: tuple(
            reverse(name, args=[key] if key else [])
            for key in ((things[route.key], ours.get(route.key, uuid.UUID(int=0))) if route.key else (None,))
        )
        for name, route in ROUTES.items()
    }
    known = [str(row.client_id), *(str(each) for each in Reading.objects.values_list("client_id", flat=True))]
    browsers = {who: someone(clinic, who, Client()) for who in EVERYBODY}
    return Scene(
        clinic=clinic,
        browsers=browsers,
        cookies={who: browser.cookies.output(header="", sep=";") for who, browser in browsers.items()},
        keys=(*map(str, things.values()), *map(str, ours.values()), *known),
        addresses=addresses,
        before=rows(),
    )


def rows() -> dict[tuple[str, Any], tuple[Any, str]]:
    """Practice and columns of every row that the journal tells of."""
    found = {}
    for model in apps.get_models():
        if not model.__module__.startswith("quietlimb.") or issubclass(model, UNTOLD):
            continue
        for row in model._default_manager.all():
            told = columns(row)
            told.pop("last_login", None)
            practice = row.pk if model.__name__ == "Practice" else getattr(row, "practice_id", None)
            found[model.__name__, row.pk] = practice, repr(told)
    return found


def send(scene: Scene, who: str, method: str, address: str, body: bytes, kind: str, headers: dict[str, str]) -> int:
    """The status of an answer, whose promises are looked at; afterwards everything is as before."""
    browser = scene.browsers[who]
    browser.cookies = SimpleCookie(scene.cookies[who])
    home = None if who == "nobody" else (scene.clinic.stranger if who == "stranger" else scene.clinic.nurse).practice_id
    before = scene.before
    with transaction.atomic():
        answer = browser.generic(method, address, body, content_type=kind, headers=headers)
        status: int = answer.status_code
        after = rows()
        told = set(Entry.objects.values_list("thing_id", flat=True))  # there was no entry before
        transaction.set_rollback(True)
    changed = {key for key in {*before, *after} if before.get(key) != after.get(key)}
    assert status < 500, (status, answer.content[:300])
    assert {key for key in changed if key[1] not in told and not _told_otherwise(key, after, told)} == set()
    assert all(practice == home for key in changed for practice, _ in [after.get(key) or before[key]])
    if method in ("GET", "HEAD", "OPTIONS"):
        assert not changed
    return status


def _told_otherwise(key: tuple[str, Any], after: dict[tuple[str, Any], Any], told: set[Any]) -> bool:
    """A role is told with the person who has it."""
    return key[0] == "Membership" and Membership.objects.filter(pk=key[1], person__in=told).exists()


@st.composite
def requests(draw: st.DrawFn, keys: tuple[str, ...]) -> tuple[str, bytes, str, dict[str, str]]:
    """Query, body, its kind and headers."""
    values = st.one_of(st.sampled_from(CHOICES), st.sampled_from(AWKWARD), st.sampled_from(keys), st.text(max_size=20))
    query = draw(st.dictionaries(st.sampled_from(IN_QUERIES), values, max_size=2))
    headers = draw(
        st.dictionaries(
            st.sampled_from(
                ("Accept", "Accept-Language", "Referer", "Host", "HX-Request", "HX-Target", "HX-Current-URL",
                 "HX-Current-URL-URI-AutoEncoded", "If-None-Match", "X-CSRFToken", "X-Forwarded-For", "Cookie", "Range")
            ),
            st.one_of(
                st.sampled_from(("true", "*/*", "en;q=x", "a", "localhost", "http://[::1", "%ff", "bytes=0-")),
                st.text(st.characters(min_codepoint=32, max_codepoint=255), max_size=20),
            ),
            max_size=2,
        )
    )  # fmt: skip
    form = st.dictionaries(st.sampled_from(FIELDS), values, max_size=12)
    shape = draw(st.sampled_from(("form", "form", "multipart", "json", "bytes", "nothing")))
    if shape == "form":
        pairs = {name: value.encode("utf-8", "surrogatepass") for name, value in draw(form).items()}
        return _query(query), urlencode(pairs).encode(), "application/x-www-form-urlencoded", headers
    if shape == "multipart":
        sent: dict[str, Any] = dict(draw(form))
        if draw(st.booleans()):
            name = draw(st.sampled_from(("a.csv", "a\0.csv", "r.edf", "h.hea", "\u202e.csv", "x" * 300)))
            sent["file"] = SimpleUploadedFile(name, draw(st.binary(max_size=60)))
        return _query(query), encode_multipart(BOUNDARY, sent), MULTIPART_CONTENT, headers
    if shape == "json":
        return _query(query), json.dumps(draw(JSON)).encode(), "application/json", headers
    if shape == "bytes":
        kinds = (
            "application/json",
            MULTIPART_CONTENT,
            "multipart/form-data",
            "text/plain; charset=nonsense",
            "",
            "\x7f",
        )
        return _query(query), draw(st.binary(max_size=80)), draw(st.sampled_from(kinds)), headers
    return _query(query), b"", "application/x-www-form-urlencoded", headers


JSON = st.recursive(
    st.one_of(st.none(), st.booleans(), st.integers(), st.floats(), st.sampled_from(AWKWARD)),
    lambda inner: (
        st.lists(inner, max_size=3)
        | st.dictionaries(st.sampled_from(FIELDS) | st.text(max_size=5), inner, max_size=4)
    ),
    max_leaves=8,
)  # fmt: skip


def _query(told: dict[str, str]) -> str:
    return "?" + urlencode({name: value.encode("utf-8", "surrogatepass") for name, value in told.items()})


@pytest.mark.parametrize("part", range(6))
def test_every_address_stands_whatever_is_sent(part: int, scene: Scene) -> None:
    """Random verbs, queries, forms, files, JSON, bytes and headers, by everybody, with keys of either practice.

    Oracle: by construction: no answer is a server's error, what changed is told in the journal, nothing changed in
    another practice, and by looking nothing changes at all.
    """
    names = sorted(ROUTES)[part::6]

    @settings(FUZZED, max_examples=60)
    @given(st.data())
    def fuzz(data: st.DataObject) -> None:
        name = data.draw(st.sampled_from(names))
        address = data.draw(st.sampled_from(scene.addresses[name]))
        who = data.draw(st.sampled_from(EVERYBODY))
        usual = ROUTES[name].method.upper()
        method = data.draw(st.sampled_from((usual, usual, "POST", *METHODS)))
        query, body, kind, headers = data.draw(requests(scene.keys))
        send(scene, who, method, address + query, body, kind, headers)

    fuzz()


def test_a_reading_stands_whatever_its_numbers_are(scene: Scene) -> None:
    """Readings whose parts are each as they should be or awkward, with new keys, kept ones and those of others.

    Oracle: by construction, as above; at least one example in twenty is saved, else nothing would have been tried.
    """
    clinic = scene.clinic
    good = {
        "client_id": st.uuids().map(str),
        "ordinal": st.integers(0, 9),
        "taken_at": st.integers(0, 60).map(lambda k: (clinic.started_at + timedelta(minutes=k)).isoformat()),
        "systolic": st.integers(90, 220),
        "mean": st.none(),
        "diastolic": st.none() | st.integers(40, 80),
        "pulse_rate": st.none() | st.integers(90, 220),
        "spoiled": st.just(""),
        "sure": st.just(True),
        "typed_by": st.none() | st.sampled_from(scene.keys),
    }
    awkward = st.one_of(JSON, st.sampled_from(AWKWARD), st.sampled_from(scene.keys), st.floats(), st.integers())
    answers: list[int] = []

    @settings(FUZZED, max_examples=90)
    @given(st.data())
    def fuzz(data: st.DataObject) -> None:
        wrong = data.draw(st.sets(st.sampled_from(sorted(good)), max_size=2))
        told = {name: data.draw(awkward if name in wrong else usual) for name, usual in good.items()}
        address = data.draw(st.sampled_from(scene.addresses["reading-add"]))
        who = data.draw(st.sampled_from(("owner", "owner", "veterinarian", "stranger")))
        answers.append(send(scene, who, "POST", address, json.dumps(told).encode(), "application/json", {}))

    fuzz()
    assert answers.count(201) > len(answers) / 20


def test_a_recording_stands_whatever_is_in_it(scene: Scene) -> None:
    """Files that begin as a recording does and go on as they like, under keys of either practice.

    Oracle: by construction, as above.
    """
    starts = (
        b"", b"time_s,cuff_pressure_mmhg\n0,180\n0.01,179.9\n", b"0       ", b"h 1 100 10\nh.dat 16 10(0)/mmHg\n",
        b"\xef\xbb\xbf", b"# species: cat\ntime_s,cuff_pressure_mmhg\n", b"PK\x03\x04",
        b"time_s;cuff_pressure_mmhg\n0;1e308\n1;-1e308\n",
    )  # fmt: skip
    names = st.sampled_from(("r.csv", "r.edf", "h.hea", "h.dat", "r.CSV", "../r.csv", "r.csv.zip", "\u00e4.csv"))

    @settings(FUZZED, max_examples=50)
    @given(st.data())
    def fuzz(data: st.DataObject) -> None:
        content = st.builds(bytes.__add__, st.sampled_from(starts), st.binary(max_size=60))
        files = [SimpleUploadedFile(data.draw(names), data.draw(content)) for _ in range(data.draw(st.integers(0, 3)))]
        sent = {
            "file": files,
            "client_id": data.draw(st.uuids().map(str) | st.sampled_from((*scene.keys, *AWKWARD))),
            "taken_at": data.draw(st.just(scene.clinic.started_at.isoformat()) | st.sampled_from(AWKWARD)),
        }
        address = data.draw(st.sampled_from(scene.addresses["recording-add"]))
        who = data.draw(st.sampled_from(("owner", "owner", "veterinarian", "stranger")))
        send(scene, who, "POST", address, encode_multipart(BOUNDARY, sent), MULTIPART_CONTENT, {})

    fuzz()
