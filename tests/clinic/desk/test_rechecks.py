"""Who is due and by when: one row, and every page shows it."""

from __future__ import annotations

from collections.abc import Callable
from datetime import date, timedelta

import pytest
from django.test import Client
from django.utils import timezone

from clinic.desk.examples import HIGH, address, another, sign
from clinic.examples import Clinic, reading
from quietlimb.clinic.animals.models import Animal, OrganFinding, Recheck
from quietlimb.clinic.desk.months import history_of
from quietlimb.clinic.desk.rechecks import recheck_of
from quietlimb.clinic.journal.models import Entry
from quietlimb.clinic.people.models import Person
from quietlimb.clinic.sessions import services
from quietlimb.clinic.sessions.models import Ending, Session
from quietlimb.clinic.today import due

SignIn = Callable[[Person], Client]


def ends(clinic: Clinic, ending: Ending = Ending.CLOSED) -> Recheck:
    """The nurse ends the session; what is then asked for."""
    session = Session.objects.select_related("animal__practice", "practice").get(pk=clinic.session.pk)
    services.session_end(clinic.nurse, session=session, ending=ending, at=timezone.now())
    return Recheck.objects.get()


def measured(clinic: Clinic) -> Clinic:
    """Six readings of a cat at 168 mmHg."""
    for k, systolic in enumerate(HIGH):
        reading(clinic, 1.5 * k, systolic)
    return clinic


def test_a_session_that_nobody_signed_sets_the_day_everywhere(clinic: Clinic, signed_in: SignIn) -> None:
    """The end of a session sets the day, told as not signed on Today, letter and the animal's page; with the signature
    that goes. All three tell the same days.

    Oracle: by construction.
    """
    row = ends(measured(clinic))
    assert (row.unsigned, row.why, row.since) == (True, "raised pressure, to be confirmed", date(2024, 1, 4))
    browser = signed_in(clinic.veterinarian)
    (listed,) = due(clinic.nurse, timezone.localdate())
    assert (listed.recheck, listed.overdue) == (row, True)
    by = f"{row.due_by:%-d %B %Y}"
    pages = [browser.get(each).text for each in ("/", f"/animals/{clinic.animal.pk}", f"/due/{row.pk}/letter")]
    assert all(by in page for page in pages)
    assert "not signed yet" in pages[0]
    assert all("nobody has signed yet" in page for page in pages[1:])
    assert f"<b>overdue since {by}</b>" in pages[1]
    assert sign(browser, clinic).status_code == 302
    row.refresh_from_db()
    assert not row.unsigned
    assert "nobody has signed" not in browser.get(f"/animals/{clinic.animal.pk}").text


def test_one_who_was_measured_is_not_overdue(clinic: Clinic, signed_in: SignIn) -> None:
    """Signed long ago and overdue; measured again today and not signed: not on Today's list, no letter says overdue.

    Oracle: by construction.
    """
    browser = signed_in(clinic.veterinarian)
    sign(browser, measured(clinic))
    assert due(clinic.nurse, timezone.localdate())
    again = another(clinic, (timezone.localdate() - clinic.started_at.date()).days)
    row = ends(again)
    assert due(clinic.nurse, timezone.localdate()) == []
    assert row.since == timezone.localdate()
    assert "overdue" not in browser.get(f"/animals/{clinic.animal.pk}").text
    assert "was to be measured again by" not in browser.get(f"/due/{row.pk}/letter").text


def test_what_comes_in_after_the_end_moves_the_day(clinic: Clinic) -> None:
    """A reading struck through after the end brings the pressure under 140: no day; as it was, nothing is written.

    Oracle: by construction.
    """
    rows = [reading(clinic, 2 * k, 150) for k in range(2)] + [reading(clinic, 9, 128)]
    assert ends(clinic).why == "raised pressure, to be confirmed"
    entries = Entry.objects.filter(what="recheck set").count()
    services.after_the_end(clinic.nurse, Session.objects.get(pk=clinic.session.pk))
    assert Entry.objects.filter(what="recheck set").count() == entries
    for row in rows[:2]:
        services.reading_strike(clinic.nurse, reading_id=row.pk, why="another animal", at=timezone.now())
    assert not Recheck.objects.exists()


def test_what_is_put_right_after_the_end_moves_the_day(clinic: Clinic) -> None:
    """Told afterwards to have been sedated, an ended session sets no day; told awake again, it does.

    Oracle: by construction.
    """
    ends(measured(clinic))
    session = Session.objects.select_related("animal__practice", "practice").get(pk=clinic.session.pk)
    for sedation, there in ((Session.Consciousness.SEDATED, False), (Session.Consciousness.AWAKE, True)):
        session.sedation = sedation
        services.circumstances_correct(
            clinic.nurse, session=session, series=clinic.series, of_session=["sedation"], of_series=[]
        )
        assert Recheck.objects.exists() is there


@pytest.mark.parametrize("ending", [Ending.NO_VALID_VALUE, Ending.NONE_OBTAINED])
def test_without_a_valid_value_the_session_is_repeated(clinic: Clinic, signed_in: SignIn, ending: Ending) -> None:
    """Nothing obtained, or nothing valid, signed so or not: within two weeks, on Today and on the owner's page.

    Oracle: invented, 1 to 14 days.
    """
    if ending == Ending.NO_VALID_VALUE:
        measured(clinic)
    browser = signed_in(clinic.veterinarian)
    row = ends(clinic, ending)
    day = clinic.started_at.date()
    assert (row.due_from - day, row.due_by - day) == (timedelta(days=1), timedelta(days=14))
    told = {"value": "none", "reason": "the limb moved"} if ending == Ending.NO_VALID_VALUE else {}
    assert sign(browser, clinic, **told).status_code == 302
    row = Recheck.objects.get()
    assert (row.due_by - day, row.last_charted) == (timedelta(days=14), None)
    assert "No day is set yet" not in browser.get(address(clinic, "owner")).text
    assert "it is repeated" in browser.get("/").text


def test_damage_is_not_forgotten_because_nobody_came(clinic: Clinic) -> None:
    """Seen at the session, it counts for the day of the next one, however long ago that was.

    Oracle: from memory, ACVIM 2018: 1 to 2 weeks with damage.
    """
    OrganFinding.objects.create(
        practice=clinic.practice, animal=clinic.animal, on="2024-01-04", organ="kidneys", state="present"
    )
    assert ends(measured(clinic)).why == "raised pressure with organ damage"


def test_nobody_waits_for_an_animal_that_has_died(clinic: Clinic, signed_in: SignIn) -> None:
    """Its page names no day, and no recheck at all.

    Oracle: by construction.
    """
    ends(measured(clinic))
    Animal.objects.filter(pk=clinic.animal.pk).update(deceased_on="2024-01-05")
    page = signed_in(clinic.veterinarian).get(f"/animals/{clinic.animal.pk}").text
    assert "Deceased on 5 January 2024" in page
    assert "Next recheck" not in page
    assert "overdue" not in page


def test_the_row_is_what_is_worked_out_anew(clinic: Clinic, signed_in: SignIn) -> None:
    """After each step of a long story the row has the days that its history gives now.

    Oracle: slower twin, worked out from the rows each time.
    """

    def agrees() -> None:
        animal = Animal.objects.select_related("practice").get(pk=clinic.animal.pk)
        found, row = recheck_of(animal, history_of(animal)), Recheck.objects.filter(animal=animal).first()
        days = None if row is None else (row.due_from.toordinal(), row.due_by.toordinal())
        assert days == (None if found is None else (found.earliest_day, found.latest_day))

    browser = signed_in(clinic.veterinarian)
    ends(measured(clinic))
    agrees()
    sign(browser, clinic)
    agrees()
    browser.post(f"/animals/{clinic.animal.pk}/events", {"on": "2024-01-05", "kind": "started"})
    agrees()
    second = another(clinic, 20, [191] * 6)
    ends(second)
    agrees()
    browser.post(address(second, "organs"), {"kidneys-state": "present"})
    agrees()
    sign(browser, second)
    browser.post(address(second, "amend"), {"withdrawn": "on", "why": "another animal"})
    agrees()
