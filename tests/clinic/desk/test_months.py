"""An animal over months: which sessions count, events, organs seen later, impossible days."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from datetime import timedelta

import pytest
from django.test import Client
from django.utils import timezone

from clinic.desk.examples import HIGH, address, another, sign
from clinic.examples import Clinic, reading
from quietlimb.clinic.animals.models import Animal, Event, OrganFinding, Recheck
from quietlimb.clinic.desk.basis import basis_of
from quietlimb.clinic.desk.course import course_of
from quietlimb.clinic.desk.months import history_of
from quietlimb.clinic.people.models import Person
from quietlimb.clinic.sessions.models import Session
from quietlimb.engine.circumstances import Circumstances
from quietlimb.engine.follow_up.follow import follow
from quietlimb.engine.follow_up.history import History, PastSession, TreatmentEvent
from quietlimb.engine.standards.acvim_2018 import SEVERELY_HYPERTENSIVE_FROM
from quietlimb.words import follow_up as words

SignIn = Callable[[Person], Client]


@pytest.fixture
def measured(clinic: Clinic) -> Clinic:
    """A session with six readings; still open."""
    for k, systolic in enumerate(HIGH):
        reading(clinic, 1.5 * k, systolic, systolic - 30, systolic - 50)
    return clinic


def months(*systolic: float) -> History:
    """Sessions a month apart."""
    around = Circumstances(species="cat", method="oscillometric", site="forelimb", instrument="grey box")
    sessions = [
        PastSession(day=738000 + 30 * k, systolic_mmhg=value, own_sd_mmhg=3.0, circumstances=around)
        for k, value in enumerate(systolic)
    ]
    return History(species="cat", sessions=tuple(sessions))


def test_a_session_without_a_valid_value_does_not_count(measured: Clinic) -> None:
    """Nobody has signed: closed it counts as charted, ended without a valid value it does not.

    Oracle: by construction.
    """
    for ending, sessions in (("closed", 1), ("no valid value", 0)):
        Session.objects.filter(pk=measured.session.pk).update(ending=ending, ended_at=timezone.now())
        assert len(history_of(measured.animal).sessions) == sessions


def test_an_event_told_twice_is_one_change(measured: Clinic, signed_in: SignIn) -> None:
    """Sent twice it is one row; stepped up and down on one day are two, and one change; the pages answer, the recheck
    follows.

    Oracle: by construction.
    """
    browser = signed_in(measured.veterinarian)
    assert sign(browser, measured).status_code == 302
    for kind in ("started", "started", "stepped up", "stepped down"):
        sent = {"on": "2024-01-05", "kind": kind}
        assert browser.post(f"/animals/{measured.animal.pk}/events", sent).status_code == 302
    assert Event.objects.count() == 3
    assert [event.step for event in history_of(measured.animal).events] in (["begun", "changed"], ["changed", "begun"])
    assert browser.get(f"/animals/{measured.animal.pk}").status_code == 200
    assert Recheck.objects.get().since.isoformat() == "2024-01-05"


def test_an_event_to_come_is_refused(clinic: Clinic, signed_in: SignIn) -> None:
    """Tomorrow is refused with the reason, today is taken.

    Oracle: by construction.
    """
    browser = signed_in(clinic.veterinarian)
    today = timezone.localdate()
    for on, status in ((today + timedelta(days=1), 422), (today, 302)):
        answer = browser.post(f"/animals/{clinic.animal.pk}/events", {"on": on.isoformat(), "kind": "started"})
        assert answer.status_code == status
        assert ("still to come" in answer.text) == (status == 422)


@pytest.mark.parametrize("born", ["1950-01-01", "2100-01-01"])
def test_an_impossible_day_of_birth_stops_no_page(measured: Clinic, signed_in: SignIn, born: str) -> None:
    """The age is then not told.

    Oracle: by construction.
    """
    Animal.objects.filter(pk=measured.animal.pk).update(born=born)
    browser = signed_in(measured.veterinarian)
    session = Session.objects.get(pk=measured.session.pk)
    assert basis_of(session, measured.series).background.age_years is None
    for page in (address(measured, "result"), f"/animals/{measured.animal.pk}"):
        assert browser.get(page).status_code == 200
    assert sign(browser, measured).status_code == 302
    assert browser.get(f"/animals/{measured.animal.pk}").status_code == 200


@pytest.mark.parametrize(("days", "taken"), [(-31, False), (-30, True), (0, True), (7, True), (8, False)])
def test_eyes_seen_soon_after_belong_to_the_session(
    measured: Clinic, signed_in: SignIn, days: int, taken: bool
) -> None:
    """Up to a week after and a month before it is taken, on its own day, and counts; farther away it is refused.

    Oracle: by construction; both lengths are invented.
    """
    on = measured.started_at.date() + timedelta(days=days)
    browser = signed_in(measured.veterinarian)
    answer = browser.post(address(measured, "organs"), {"on": on.isoformat(), "brain-state": "absent"})
    assert answer.status_code == (302 if taken else 422)
    assert [row.on for row in OrganFinding.objects.all()] == ([on] if taken else [])
    assert ("brain" in basis_of(measured.session, measured.series).organs) == taken


def test_a_finding_is_not_told_of_a_day_to_come(measured: Clinic, signed_in: SignIn) -> None:
    """Also where the day would still belong to the session.

    Oracle: by construction.
    """
    at = timezone.now() - timedelta(days=2)
    Session.objects.filter(pk=measured.session.pk).update(started_at=at)
    browser = signed_in(measured.veterinarian)
    for days, status in ((1, 422), (0, 302)):
        sent = {"on": (timezone.localdate() + timedelta(days=days)).isoformat(), "brain-state": "absent"}
        assert browser.post(address(measured, "organs"), sent).status_code == status


def test_an_earlier_session_has_the_organs_that_were_seen_soon_after(measured: Clinic) -> None:
    """Seen two days after the first session, they count for it when the second is looked at.

    Oracle: by construction.
    """
    Session.objects.filter(pk=measured.session.pk).update(ending="closed", ended_at=measured.started_at)
    on = measured.started_at.date() + timedelta(days=2)
    OrganFinding.objects.create(
        practice=measured.practice, animal=measured.animal, on=on, organ="kidneys", state="present"
    )
    second = another(measured, 60)
    (earlier,) = basis_of(second.session, second.series).background.history
    assert dict(earlier.organs) == {"kidneys": "present"}
    assert basis_of(second.session, second.series).organs == {}


def test_what_is_urgent_stands_before_the_course() -> None:
    """A severe session is told first, and not once more among the cautions.

    Oracle: by construction, the engine's own list of what is urgent.
    """
    told = course_of(follow(months(150, 152, 149, 192), on_day=738000 + 95))
    assert told.urgent == (words.caution("latest-severe", SEVERELY_HYPERTENSIVE_FROM),)
    assert not set(told.urgent) & set(told.cautions)


def test_no_change_is_told_with_its_condition() -> None:
    """Where the latest session lies apart from the rest, as the command line tells it.

    Oracle: by construction, the caution and the verdicts of the engine on the same history.
    """
    found = follow(months(150, 151, 149, 150, 170), on_day=738000 + 125)
    assert "latest-unsettled" in found.cautions
    unchanged = [each for each in (found.since_last, found.since_first) if each and each.verdict == "about the same"]
    course = course_of(found)
    told = [line for line, _figures in (course.changed, *course.changes) if words.unless_a_change_begins() in line]
    assert len(told) == len(unchanged) > 0


def test_the_page_says_that_unsigned_sessions_count(measured: Clinic, signed_in: SignIn) -> None:
    """Only where there is one that has ended.

    Oracle: by construction.
    """
    browser, says = signed_in(measured.veterinarian), "nobody has signed yet count as charted"
    assert says not in browser.get(f"/animals/{measured.animal.pk}").text
    Session.objects.filter(pk=measured.session.pk).update(ending="closed", ended_at=measured.started_at)
    assert says in browser.get(f"/animals/{measured.animal.pk}").text
    sign(browser, measured)
    assert says not in browser.get(f"/animals/{measured.animal.pk}").text


def test_one_sentence_tells_what_treatment_did_and_what_was_to_be_expected() -> None:
    """The change since treatment was begun stands first, with how high the session before it stood; the rest follows.

    Oracle: by construction.
    """
    events = (TreatmentEvent(day=738000 + 90, step="begun"), TreatmentEvent(day=738000 + 125, step="changed"))
    history = replace(months(165, 166, 164, 188, 150, 149), events=events)
    course = course_of(follow(history, on_day=738000 + 155))
    assert "(treatment begun)" in course.changed[0]
    assert "mmHg above the level" in course.expected
    assert course.expected not in course.cautions
    assert all("(treatment begun)" not in line for line, _figures in course.changes)


def test_the_list_of_sessions_shows_what_nobody_has_signed(measured: Clinic, signed_in: SignIn) -> None:
    """An ended session stands with its charted pressure, as not signed; a signed value without a decimal of its own.

    Oracle: by construction.
    """
    browser, page = signed_in(measured.veterinarian), f"/animals/{measured.animal.pk}"
    Session.objects.filter(pk=measured.session.pk).update(ending="closed", ended_at=measured.started_at)
    assert '<span class="number">168 mmHg not signed' in browser.get(page).text
    sign(browser, measured)
    assert '<span class="number">168 mmHg signed' in browser.get(page).text


def test_an_amended_value_is_told_where_the_charted_one_stands(measured: Clinic, signed_in: SignIn) -> None:
    """On the card and above the pressure; not before the amendment.

    Oracle: by construction.
    """
    browser = signed_in(measured.veterinarian)
    sign(browser, measured)
    assert "What follows is of the value as charted" not in browser.get(address(measured, "result")).text
    browser.post(address(measured, "amend"), {"chosen": "160", "why": "a slip"})
    assert browser.get(address(measured, "result")).text.count("Amended: 160 mmHg stands.") == 2
    browser.post(address(measured, "amend"), {"withdrawn": "on", "why": "another animal"})
    assert "no value stands. What follows" in browser.get(address(measured, "result")).text
