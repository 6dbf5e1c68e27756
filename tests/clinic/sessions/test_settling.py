"""Time to settle at the table: corrected, begun again, noted, and never in the way of a reading."""

from __future__ import annotations

from collections.abc import Callable
from datetime import datetime, timedelta

import pytest
from django.test import Client

from clinic.examples import Clinic, reading
from quietlimb.clinic.charting import described
from quietlimb.clinic.journal.models import Entry
from quietlimb.clinic.people.models import Person
from quietlimb.clinic.sessions.entry import EntryError
from quietlimb.clinic.sessions.models import Session, SignedValue
from quietlimb.clinic.sessions.services import session_settle
from quietlimb.clinic.sessions.settling import DOS, early_line, published, settled_since, settling_of, to_go

SignIn = Callable[[Person], Client]


def minute(clinic: Clinic, minutes: float) -> datetime:
    """So long after the session started; the animal came in at -5."""
    return clinic.started_at + timedelta(minutes=minutes)


def settle(clinic: Clinic, do: str, at: float) -> Session:
    """One touch at this minute."""
    found = next(each for each in DOS if each == do)
    return session_settle(clinic.nurse, session=clinic.session, do=found, at=minute(clinic, at))


def test_minus_and_plus_move_the_time_by_five_minutes_and_no_further_than_now(clinic: Clinic) -> None:
    """Each step is in the journal with before and after; a step that changes nothing is not.

    Oracle: by construction.
    """
    assert settle(clinic, "more", 0).acclimatised_since == minute(clinic, -10)
    assert settle(clinic, "less", 0).acclimatised_since == minute(clinic, -5)
    assert settle(clinic, "less", 0).acclimatised_since == minute(clinic, 0)
    assert settle(clinic, "less", 0).acclimatised_since == minute(clinic, 0)
    assert Entry.objects.filter(what="time to settle changed").count() == 3
    clinic.session.acclimatised_since = None
    clinic.session.save()
    assert settle(clinic, "more", 2).acclimatised_since == minute(clinic, -3)


def test_a_disturbance_begins_anew_and_leaves_what_was_measured_its_own_minutes(clinic: Clinic) -> None:
    """Before the first reading the time begins anew; after it the earlier readings keep theirs, the later get the new.

    Oracle: by construction.
    """
    assert settle(clinic, "again", 1).acclimatised_since == minute(clinic, 1)
    first = reading(clinic, 4, 160)
    row = settle(clinic, "again", 6)
    assert row.acclimatised_since == minute(clinic, 1)
    assert settling_of(row, minute(clinic, 8)).since == minute(clinic, 6)
    assert settled_since(row, first.taken_at) == minute(clinic, 1)
    assert settled_since(row, minute(clinic, 9)) == minute(clinic, 6)
    assert settled_since(row, minute(clinic, 0)) is None
    moved = settle(clinic, "more", 8)
    assert settled_since(moved, minute(clinic, 9)) == minute(clinic, 1)
    clinic.series.session = row
    assert described(clinic.series, first).acclimatisation_min == 3.0
    later = reading(clinic, 14, 150)
    assert described(clinic.series, later).acclimatisation_min == 8.0


@pytest.mark.parametrize(
    ("minutes", "words"),
    [
        (0, "5 minutes still to go"),
        (4, "1 minute still to go"),
        (5, "long enough; 10 minutes are better"),
        (9, "long enough; 10 minutes are better"),
        (10, "long enough"),
        (500, "long enough"),
    ],
)
def test_what_is_still_to_go_is_told_by_the_published_minutes(minutes: int, words: str) -> None:
    """Five to ten minutes.

    Oracle: from memory, ACVIM 2018, protocol, as `engine.standards.acvim_2018` marks them.
    """
    assert to_go(minutes) == words


def test_the_published_minutes_stand_with_source_and_standing() -> None:
    """For cats the study that asks for an hour stands beside.

    Oracle: by construction, what `engine.standards` cites.
    """
    assert "5 to 10 minutes (ACVIM 2018, from memory" in published("dog")
    assert "60" not in published("dog")
    assert "asks for 60" in published("cat")


def test_starting_early_is_noted_and_not_blocked(clinic: Clinic, signed_in: SignIn) -> None:
    """A reading after three of five minutes is saved, and the part of the page notes it; after five there is no note.

    Oracle: by construction.
    """
    early = reading(clinic, -2, 160)
    assert early_line(clinic.session, [early]) == "Started after 3 of 5 minutes to settle: noted."
    assert "Started after 3 of 5 minutes" in signed_in(clinic.nurse).get(f"/series/{clinic.series.pk}/part").text
    assert early_line(clinic.session, [reading(clinic, 0, 160)]) == ""
    assert early_line(clinic.session, []) == ""


def test_the_part_answers_a_touch_and_a_signed_session_refuses_it(clinic: Clinic, signed_in: SignIn) -> None:
    """A swap gets the part alone, a plain post the page; what nobody offers is refused; signed, nothing moves.

    Oracle: by construction.
    """
    browser, address = signed_in(clinic.nurse), f"/sessions/{clinic.session.pk}/settled"
    part = browser.post(address, {"do": "again"}, headers={"HX-Request": "true"})
    assert part.text.lstrip().startswith('<section id="settling"')
    assert browser.post(address, {"do": "again"}).headers["Location"] == f"/sessions/{clinic.session.pk}"
    assert browser.post(address, {"do": "never"}).status_code == 422
    SignedValue.objects.create(
        practice=clinic.practice,
        session=clinic.session,
        signed_by=clinic.veterinarian,
        signed_at=clinic.started_at,
        rules="acvim-2018",
        engine="0",
        frozen="{}",
        seal="0" * 64,
    )
    assert browser.post(address, {"do": "more"}).status_code == 409
    with pytest.raises(EntryError, match="signed"):
        settle(clinic, "more", 0)
