"""Every address of the clinic, opened by everybody: what each of them gets stands in one table."""

from __future__ import annotations

import ast
import hashlib
import json
import uuid
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from datetime import timedelta
from pathlib import Path
from typing import Any

import pytest
from django.contrib.auth.models import AnonymousUser
from django.test import Client
from django.urls import URLPattern, URLResolver, get_resolver, reverse

import quietlimb.clinic
from clinic.examples import PASSWORD, Clinic, reading
from quietlimb.clinic.animals.models import Animal, Recheck
from quietlimb.clinic.comparisons.models import Comparison
from quietlimb.clinic.conversions.models import BroughtConversion
from quietlimb.clinic.equipment.models import Check
from quietlimb.clinic.rights import ALLOWED, actions, may, visible
from quietlimb.clinic.sessions.models import Reading, Recording, Session
from quietlimb.clinic.stores import PRACTICE, TEACHING

EVERYBODY = ("owner", "colleague", "veterinarian", "lead", "researcher", "stranger", "nobody")


@dataclass(frozen=True, kw_only=True)
class Route:
    """What each of `EVERYBODY` gets, in that order, for one address and verb.

    key  : whose key stands in the address: an attribute of the clinic
    sent : what is posted
    """

    method: str
    gets: tuple[int, int, int, int, int, int, int]
    key: str | None = None
    sent: dict[str, Any] = field(default_factory=dict)
    as_json: bool = False


# 200 seen, 201 made, 302 led on, 403 not hers to do, 404 not there for her, 409 not signed yet, 422 refused as typed
ROUTES: dict[str, Route] = {
    "today": Route(method="get", gets=(200, 200, 200, 200, 403, 200, 302)),
    "trust": Route(method="get", gets=(404, 404, 404, 404, 404, 404, 404)),
    "trust-authority": Route(method="get", gets=(404, 404, 404, 404, 404, 404, 404)),
    "sign-in": Route(method="get", gets=(200, 200, 200, 200, 200, 200, 200)),
    "change-person": Route(method="post", gets=(422, 422, 422, 422, 422, 422, 302)),
    "sign-out": Route(method="post", gets=(302, 302, 302, 302, 302, 302, 302)),
    "here": Route(method="get", gets=(200, 200, 200, 200, 200, 200, 200)),
    "first-lead": Route(method="get", gets=(404, 404, 404, 404, 404, 404, 404)),
    "practice": Route(method="get", gets=(403, 403, 403, 200, 403, 200, 302)),
    "own-page": Route(method="get", gets=(200, 200, 200, 200, 200, 200, 302)),
    "animals": Route(method="get", gets=(200, 200, 200, 200, 403, 200, 302)),
    "start": Route(method="get", gets=(200, 200, 200, 403, 403, 200, 302)),
    "start-with": Route(method="get", key="animal", gets=(200, 200, 200, 403, 403, 404, 302)),
    "table": Route(method="get", key="session", gets=(200, 200, 200, 200, 403, 404, 302)),
    "live-start": Route(method="post", key="series", gets=(422, 422, 422, 403, 403, 404, 302)),
    "live-stop": Route(method="post", key="series", gets=(200, 200, 200, 403, 403, 404, 302)),
    # nobody listens
    "live-stream": Route(method="get", key="series", gets=(404, 404, 404, 404, 403, 404, 302)),
    "live-here": Route(method="get", key="series", gets=(200, 200, 200, 200, 403, 404, 302)),
    "live-look": Route(method="post", key="series", gets=(422, 422, 422, 403, 403, 404, 302)),
    "live-recover": Route(method="post", key="series", gets=(409, 409, 409, 403, 403, 404, 302)),
    "teaching": Route(method="get", gets=(200, 200, 200, 200, 200, 200, 302)),
    "teaching-begin": Route(method="post", sent={"case": "none"}, gets=(404, 404, 404, 404, 404, 404, 302)),
    # a run of nobody
    "teaching-claim": Route(method="post", key="session", gets=(404, 404, 404, 404, 404, 404, 302)),
    "teaching-take-back": Route(method="post", key="session", gets=(404, 404, 404, 404, 404, 404, 302)),
    "teaching-class": Route(method="get", gets=(403, 403, 403, 200, 403, 200, 302)),
    "teaching-case-add": Route(method="get", gets=(403, 403, 403, 200, 403, 200, 302)),
    "teaching-case-retire": Route(method="post", key="session", gets=(403, 403, 403, 404, 403, 404, 302)),
    # in the teaching room alone
    "training-inflate": Route(method="post", key="series", gets=(404, 404, 404, 403, 403, 404, 302)),
    "training-wait": Route(method="post", key="session", gets=(404, 404, 404, 403, 403, 404, 302)),
    "training-debrief": Route(method="get", key="session", gets=(404, 404, 404, 403, 403, 404, 302)),
    "another-series": Route(
        method="post", key="session", sent={"technique": "doppler"}, gets=(302, 302, 302, 403, 403, 404, 302)
    ),
    "circumstances": Route(method="get", key="session", gets=(200, 200, 200, 403, 403, 404, 302)),
    "session-end": Route(
        method="post", key="session", sent={"ending": "had enough"}, gets=(302, 302, 302, 403, 403, 404, 302)
    ),
    "result": Route(method="get", key="session", gets=(200, 200, 200, 200, 403, 404, 302)),
    "session-picture": Route(method="get", key="session", gets=(404, 404, 404, 404, 403, 404, 302)),
    "organs-add": Route(
        method="post",
        key="session",
        sent={"left-state": "absent", "left-view": "whole"},
        gets=(403, 403, 302, 403, 403, 404, 302),
    ),
    # refused, for nobody has looked at the page; the rights come first
    "sign": Route(
        method="post",
        key="session",
        sent={"value": "charted", "looked_at": "something else", "nothing_comes": "on"},
        gets=(403, 403, 409, 403, 403, 404, 302),
    ),
    "late-readings": Route(method="post", key="session", gets=(403, 403, 302, 403, 403, 404, 302)),
    "amend": Route(method="post", key="session", sent={"why": "a slip"}, gets=(403, 403, 409, 403, 403, 404, 302)),
    "session-page": Route(method="get", key="session", gets=(409, 409, 409, 409, 403, 404, 302)),
    "owner-page": Route(method="get", key="session", gets=(409, 409, 409, 409, 403, 404, 302)),
    "owner-pdf": Route(method="get", key="session", gets=(409, 409, 409, 409, 403, 404, 302)),
    "session-readings": Route(method="get", key="session", gets=(409, 409, 409, 409, 403, 404, 302)),
    "animal": Route(method="get", key="animal", gets=(200, 200, 200, 200, 403, 404, 302)),
    "months-picture": Route(method="get", key="animal", gets=(404, 404, 404, 404, 403, 404, 302)),
    "event-add": Route(
        method="post",
        key="animal",
        sent={"on": "2024-01-04", "kind": "started"},
        gets=(403, 403, 302, 403, 403, 404, 302),
    ),
    "condition-add": Route(
        method="post", key="animal", sent={"what": "illness:diabetes"}, gets=(403, 403, 302, 403, 403, 404, 302)
    ),
    "condition-end": Route(
        method="post", key="condition", sent={"until": "2024-01-04"}, gets=(403, 403, 302, 403, 403, 404, 302)
    ),
    "series-part": Route(method="get", key="series", gets=(200, 200, 200, 200, 403, 404, 302)),
    "series-sentence": Route(method="get", key="series", gets=(200, 200, 200, 200, 403, 404, 302)),
    "reading-add": Route(
        method="post",
        key="series",
        sent={"client_id": "a new key", "ordinal": 1, "taken_at": "a good time", "systolic": 150},
        as_json=True,
        gets=(201, 201, 201, 403, 403, 404, 302),
    ),
    "recording-add": Route(method="post", key="series", gets=(422, 422, 422, 403, 403, 404, 302)),
    "recording": Route(method="get", key="recorded", gets=(200, 200, 200, 200, 403, 404, 302)),
    # the bytes here are no recording, which is found out after the rights
    "recording-picture": Route(method="get", key="recorded", gets=(422, 422, 422, 422, 403, 404, 302)),
    "recording-file": Route(method="get", key="recorded", gets=(200, 200, 200, 200, 403, 404, 302)),
    "recording-again": Route(method="post", key="recorded", gets=(422, 422, 422, 403, 403, 404, 302)),
    "reading-strike": Route(method="post", key="reading", gets=(302, 302, 302, 403, 403, 404, 302)),
    "practice-settings": Route(method="post", gets=(403, 403, 403, 422, 403, 422, 302)),
    "people": Route(method="get", gets=(403, 403, 403, 200, 403, 200, 302)),
    "person-add": Route(method="post", gets=(403, 403, 403, 422, 403, 422, 302)),
    "person": Route(method="get", key="colleague", gets=(403, 403, 403, 200, 403, 404, 302)),
    "person-code": Route(method="post", key="colleague", gets=(403, 403, 403, 201, 403, 404, 302)),
    "person-role": Route(
        method="post", key="colleague", sent={"role": "lead"}, gets=(403, 403, 403, 302, 403, 404, 302)
    ),
    "person-active": Route(
        method="post", key="colleague", sent={"do": "deactivate"}, gets=(403, 403, 403, 302, 403, 404, 302)
    ),
    "competence-add": Route(method="post", key="colleague", gets=(403, 403, 403, 422, 403, 404, 302)),
    "competence": Route(method="get", key="competence", gets=(403, 403, 403, 200, 403, 404, 302)),
    "instruments": Route(method="get", gets=(200, 200, 200, 200, 403, 200, 302)),
    "instrument-add": Route(method="post", gets=(403, 403, 403, 422, 403, 422, 302)),
    "instrument": Route(method="get", key="instrument", gets=(200, 200, 200, 200, 403, 404, 302)),
    "instrument-edit": Route(method="get", key="instrument", gets=(403, 403, 403, 200, 403, 404, 302)),
    "cuff-add": Route(method="post", gets=(403, 403, 403, 422, 403, 422, 302)),
    "cuff": Route(method="get", key="cuff", gets=(200, 200, 200, 200, 403, 404, 302)),
    "cuff-edit": Route(method="get", key="cuff", gets=(403, 403, 403, 200, 403, 404, 302)),
    # nurse and lead check, the veterinarian decides on sessions
    "check-schedule": Route(method="post", gets=(403, 403, 403, 422, 403, 422, 302)),
    "instrument-check": Route(method="get", key="instrument", gets=(200, 200, 403, 200, 403, 404, 302)),
    "cuff-check": Route(method="post", key="cuff", gets=(422, 422, 403, 422, 403, 404, 302)),
    "check": Route(method="get", key="check", gets=(200, 200, 200, 200, 403, 404, 302)),
    "check-correct": Route(method="get", key="check", gets=(200, 200, 403, 200, 403, 404, 302)),
    # of static checks alone
    "check-picture": Route(method="get", key="check", gets=(404, 404, 404, 404, 403, 404, 302)),
    "check-recording": Route(method="get", key="check", gets=(200, 200, 200, 200, 403, 404, 302)),
    "decide": Route(
        method="post",
        key="check",
        sent={"session": "the session", "what": "stands", "why": "as at home"},
        gets=(403, 403, 302, 403, 403, 404, 302),
    ),
    "import": Route(method="post", gets=(403, 403, 403, 422, 403, 422, 302)),
    "import-done": Route(method="post", gets=(403, 403, 403, 422, 403, 422, 302)),
    "technique": Route(method="get", gets=(403, 403, 403, 200, 403, 200, 302)),
    "recheck-contact": Route(
        method="post", key="recheck", sent={"contact": "booked"}, gets=(302, 302, 302, 302, 403, 404, 302)
    ),
    "recheck-letter": Route(method="get", key="recheck", gets=(200, 200, 200, 200, 403, 404, 302)),
    "inspection": Route(
        method="post",
        sent={"day": "2024-01-31", "months": 1},
        gets=(403, 403, 403, 200, 403, 200, 302),
    ),
    "session-fhir": Route(method="get", key="session", gets=(409, 409, 409, 409, 403, 404, 302)),
    "animal-fhir": Route(method="get", key="animal", gets=(409, 409, 409, 409, 403, 404, 302)),
    "animal-csv": Route(method="get", key="animal", gets=(200, 200, 200, 200, 403, 404, 302)),
    "sessions-import": Route(method="post", key="animal", gets=(403, 403, 422, 422, 403, 404, 302)),
    "sessions-import-done": Route(method="post", key="animal", gets=(403, 403, 422, 422, 403, 404, 302)),
    "comparisons": Route(method="get", gets=(200, 200, 200, 200, 200, 200, 302)),
    "comparison-add": Route(method="post", gets=(403, 403, 403, 422, 422, 422, 302)),
    "comparison-keep": Route(method="post", gets=(403, 403, 403, 422, 422, 422, 302)),
    # no session here has both kinds, which is found out after the rights
    "comparison-pairs": Route(method="post", sent={"technique": "doppler"}, gets=(403, 403, 403, 409, 409, 409, 302)),
    "comparison": Route(method="get", key="comparison", gets=(200, 200, 200, 200, 200, 404, 302)),
    # the bytes here are no pairs, which is found out after the rights
    "comparison-figure": Route(method="get", key="comparison", gets=(422, 422, 422, 422, 422, 404, 302)),
    "comparison-report": Route(method="get", key="comparison", gets=(422, 422, 422, 422, 422, 404, 302)),
    "comparison-bundle": Route(method="get", key="comparison", gets=(422, 422, 422, 422, 422, 404, 302)),
    "comparison-file": Route(method="get", key="comparison", gets=(200, 200, 200, 200, 200, 404, 302)),
    "comparison-results": Route(method="get", key="comparison", gets=(200, 200, 200, 200, 200, 404, 302)),
    "comparison-retire": Route(
        method="post", key="comparison", sent={"why": "a slip"}, gets=(403, 403, 403, 302, 302, 404, 302)
    ),
    "conversions": Route(method="get", gets=(200, 200, 200, 200, 200, 200, 302)),
    "conversion-bring": Route(method="post", gets=(403, 403, 403, 422, 403, 422, 302)),
    "conversion-file": Route(method="get", key="conversion", gets=(200, 200, 200, 200, 200, 404, 302)),
    "conversion-withdraw": Route(
        method="post", key="conversion", sent={"why": "a slip"}, gets=(403, 403, 403, 302, 403, 404, 302)
    ),
    "export": Route(method="post", gets=(403, 403, 403, 200, 200, 200, 302)),
    "cuffs": Route(method="get", key="animal", gets=(200, 200, 200, 403, 403, 404, 302)),
    "session-settle": Route(
        method="post", key="session", sent={"do": "again"}, gets=(302, 302, 302, 403, 403, 404, 302)
    ),
    "session-call": Route(method="post", key="session", gets=(302, 302, 302, 403, 403, 404, 302)),
    "animal-edit": Route(method="post", key="animal", gets=(422, 422, 422, 403, 403, 404, 302)),
    "animal-merge": Route(method="post", key="animal", gets=(422, 422, 422, 403, 403, 404, 302)),
    "session-move": Route(method="post", key="session", gets=(422, 422, 422, 403, 403, 404, 302)),
    "own-choices": Route(method="post", sent={"pressure_unit": "kPa"}, gets=(302, 302, 302, 302, 302, 302, 302)),
    "own-password": Route(
        method="post", sent={"old": "not this", "new": "x"}, gets=(422, 422, 422, 422, 422, 422, 302)
    ),
    "welcome": Route(method="get", gets=(200, 200, 200, 200, 200, 200, 200)),
}


def names(patterns: list[URLPattern | URLResolver]) -> Iterator[str]:
    """The name of every address; one without a name is a mistake of ours."""
    for pattern in patterns:
        if isinstance(pattern, URLResolver):
            yield from names(pattern.url_patterns)
        else:
            assert pattern.name, f"{pattern.pattern} has no name"
            yield pattern.name


def someone(clinic: Clinic, who: str, client: Client) -> Client:
    """A browser of one of `EVERYBODY`; the owner of the session is the nurse who started it."""
    if who != "nobody":
        person = clinic.nurse if who == "owner" else getattr(clinic, who)
        assert client.post("/sign-in", {"username": person.username, "password": PASSWORD}).status_code == 302
    return client


def of_a_recording(clinic: Clinic) -> Reading:
    """A reading of bytes that are no recording."""
    kept = Recording.objects.create(practice=clinic.practice, sha256="0" * 64, name="r.csv", content=b"no recording")
    return reading(clinic, 0, None, recording=kept)


def of_a_cuff_that_failed(clinic: Clinic) -> Check:
    """A check of a cuff that failed after the clinic's session, with a file."""
    kept = Recording.objects.create(practice=clinic.practice, sha256="1" * 64, name="c.csv", content=b"a file")
    at = clinic.started_at + timedelta(days=1)
    return Check.objects.create(
        practice=clinic.practice,
        cuff=clinic.cuff,
        kind="look",
        done_at=at,
        entered_at=at,
        by=clinic.nurse,
        good=False,
        typed='{"condition":"unfit","cleaned":false}',
        recording=kept,
    )


def a_comparison(clinic: Clinic) -> Comparison:
    """One of bytes that are no pairs."""
    return Comparison.objects.create(
        practice=clinic.practice,
        name="tail cuff",
        made_by=clinic.lead,
        made_at=clinic.started_at,
        file_name="p.csv",
        sha256=hashlib.sha256(b"no pairs").hexdigest(),
        content=b"no pairs",
        engine="0.0.1",
    )


def a_conversion(clinic: Clinic) -> BroughtConversion:
    """One of bytes that are no conversion."""
    return BroughtConversion.objects.create(
        practice=clinic.practice,
        brought_by=clinic.lead,
        brought_at=clinic.started_at,
        file_name="c.json",
        sha256=hashlib.sha256(b"no conversion").hexdigest(),
        content=b"no conversion",
        study="a study",
        version="1",
    )


MADE: dict[str, Callable[[Clinic], Any]] = {
    "reading": lambda clinic: reading(clinic, 0, 150),
    "recorded": of_a_recording,
    "recheck": lambda clinic: Recheck.objects.create(
        practice=clinic.practice,
        animal=clinic.animal,
        since="2024-01-04",
        due_from="2024-01-11",
        due_by="2024-01-18",
        why="second session",
    ),
    "comparison": a_comparison,
    "conversion": a_conversion,
    "condition": lambda clinic: clinic.animal.conditions.create(
        practice=clinic.practice, kind="illness", code="diabetes"
    ),
    "check": of_a_cuff_that_failed,
    "competence": lambda clinic: clinic.colleague.competences.create(
        practice=clinic.practice, subject="Doppler", since="2024-01-01"
    ),
}


def key_of(clinic: Clinic, what: str) -> uuid.UUID:
    """The key of a thing of the clinic; what it has none of is made for the purpose."""
    thing = MADE[what](clinic) if what in MADE else getattr(clinic, what)
    key: uuid.UUID = thing.pk
    return key


def test_every_address_stands_in_the_table() -> None:
    """The table names all addresses of the clinic and no others.

    Oracle: by construction, the framework's own list.
    """
    assert sorted(names(get_resolver().url_patterns)) == sorted(ROUTES)


@pytest.mark.django_db(databases=[PRACTICE, TEACHING])
@pytest.mark.parametrize("who", EVERYBODY)
@pytest.mark.parametrize("name", ROUTES)
def test_an_address_answers_everybody_as_the_table_says(name: str, who: str, clinic: Clinic, client: Client) -> None:
    """Owner of the session, colleagues in each role, a stranger of another practice and nobody get what they should.

    Oracle: by construction, the rights that the design gives to each role.
    """
    route = ROUTES[name]
    keys = [key_of(clinic, route.key)] if route.key else []
    address = reverse(name, args=keys)
    browser = someone(clinic, who, client)
    made = {"a new key": str(uuid.uuid4()), "a good time": clinic.started_at.isoformat()}
    made["the session"] = str(clinic.session.pk)
    sent = {name: made.get(value, value) for name, value in route.sent.items()}
    if route.as_json:
        answer = browser.post(address, json.dumps(sent), content_type="application/json")
    else:
        answer = getattr(browser, route.method)(address, sent)
    assert answer.status_code == route.gets[EVERYBODY.index(who)]
    if answer.status_code == 200 and "text/html" in answer.headers.get("Content-Type", ""):
        assert '<a href="">' not in answer.text  # the parts of the clinic lead somewhere on every page


def test_a_role_that_ended_gives_no_right(clinic: Clinic) -> None:
    """Rights go with the roles held today; who may no longer sign in has none.

    Oracle: by construction.
    """
    assert may(clinic.nurse, "measure", clinic.session)
    clinic.nurse.memberships.update(until="2100-01-01")
    fresh = type(clinic.nurse).objects.get(pk=clinic.nurse.pk)
    assert actions(fresh) == frozenset()
    assert not may(fresh, "measure", clinic.session)


def test_a_stranger_sees_no_row_and_may_do_nothing(clinic: Clinic) -> None:
    """Whatever roles somebody has in another practice, they count for nothing here.

    Oracle: by construction.
    """
    everything = sorted(set().union(*ALLOWED.values()))
    assert actions(clinic.stranger) == set(everything)
    for action in everything:
        assert not may(clinic.stranger, action, clinic.session)
    assert not visible(clinic.stranger, Animal).exists()
    assert not visible(clinic.stranger, Session).exists()
    assert visible(clinic.nurse, Animal).get() == clinic.animal


def test_nobody_and_the_researcher_see_no_animal(clinic: Clinic) -> None:
    """Without signing in, and with the right to export and to compare alone, no animal is visible.

    Oracle: by construction.
    """
    assert not visible(AnonymousUser(), Animal).exists()
    assert not visible(clinic.researcher, Animal).exists()


CLINIC = Path(quietlimb.clinic.__file__).parent
PAGES = sorted([*CLINIC.rglob("views.py"), *CLINIC.rglob("forms.py"), CLINIC / "today.py", CLINIC / "frame.py"])


@pytest.mark.parametrize("path", PAGES, ids=lambda path: f"{path.parent.name}/{path.name}")
def test_pages_get_rows_through_rights_alone(path: Path) -> None:
    """No page asks a table itself, by its manager or by a short cut of the framework.

    Oracle: by construction, the names by which the framework's tables are asked.
    """
    tree = ast.parse(path.read_text(encoding="utf-8"))
    asked = {node.attr for node in ast.walk(tree) if isinstance(node, ast.Attribute)}
    asked |= {alias.name for node in ast.walk(tree) if isinstance(node, ast.ImportFrom) for alias in node.names}
    assert not asked & {"objects", "_default_manager", "_base_manager", "get_object_or_404", "get_list_or_404"}
