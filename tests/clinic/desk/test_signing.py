"""Signing, amending, and finding what was changed behind the application's back."""

from __future__ import annotations

import json
from datetime import timedelta

import pytest
from django.db import DatabaseError, connection, transaction

from clinic.examples import Clinic, reading
from clinic.test_rights import a_comparison, a_conversion, of_a_cuff_that_failed
from quietlimb.clinic.animals.models import Animal
from quietlimb.clinic.canonical import seal_of
from quietlimb.clinic.desk.basis import basis_of
from quietlimb.clinic.desk.signing import amendment_add, value_sign
from quietlimb.clinic.equipment.models import Decision
from quietlimb.clinic.journal.models import Entry
from quietlimb.clinic.journal.protection import PROTECTED, statements
from quietlimb.clinic.sessions.entry import EntryError
from quietlimb.clinic.sessions.models import Amendment, Ending, Series, Session, SignedValue
from quietlimb.clinic.sessions.selectors import told_of
from quietlimb.clinic.sessions.services import session_end
from quietlimb.clinic.verifying import verify


@pytest.fixture
def signed(clinic: Clinic) -> SignedValue:
    """The clinic's session with four readings, ended and signed with another value than the charted one."""
    for k, systolic in enumerate((176, 168, 164, 163)):
        reading(clinic, 1.3 * k, systolic, systolic - 33.5, systolic - 55)
    end(clinic)
    return sign(clinic, chosen=160.0, reason="very nervous")


def end(clinic: Clinic) -> None:
    """The nurse closes the session."""
    at = clinic.started_at + timedelta(minutes=20)
    session_end(clinic.nurse, session=clinic.session, ending=Ending.CLOSED, at=at)


def sign(
    clinic: Clinic, *, chosen: float | None, reason: str = "", series: Series | None = None, looked_at: str = ""
) -> SignedValue:
    """The veterinarian signs, having looked at what is there now."""
    series = series or clinic.series
    return value_sign(
        clinic.veterinarian,
        session=clinic.session,
        series=series,
        looked_at=looked_at or basis_of(clinic.session, series).digest,
        chosen=chosen,
        reason=reason,
        at=clinic.started_at + timedelta(hours=1),
    )


def behind_the_back(table: str, statement: str) -> None:
    """Change a protected table as somebody with the database file can: without its triggers, which are put back."""
    with connection.cursor() as cursor:
        if connection.vendor == "sqlite":
            cursor.execute(f"DROP TRIGGER {table}_no_update")
            cursor.execute(f"DROP TRIGGER {table}_no_delete")
        else:
            cursor.execute(f"DROP TRIGGER {table}_no_change ON {table}")
        cursor.execute(statement)
        for protecting in statements(connection.vendor, table):
            cursor.execute(protecting, None)


def test_a_signed_value_carries_all_it_rests_on(clinic: Clinic, signed: SignedValue) -> None:
    """Charted and chosen value, reason, rule set, engine, fingerprint, and the answer as it was shown.

    Oracle: reference, the engine's answer about the same rows.
    """
    signed.refresh_from_db()
    told = told_of(clinic.series)
    assert told is not None
    assert told.charted.systolic is not None
    assert signed.charted == told.charted.systolic.value
    assert (signed.chosen, signed.reason, signed.rules) == (160.0, "very nervous", "acvim-2018")
    assert signed.fingerprint == told.charted.fingerprint
    frozen = json.loads(signed.frozen)
    assert frozen["told"]["fingerprint"] == signed.fingerprint
    assert frozen["series"]["columns"]["systolic"] == [176, 168, 164, 163]
    assert verify().trouble is None


def test_another_value_needs_a_reason_and_a_session_is_signed_once(clinic: Clinic) -> None:
    """The charted value needs none; no valid value is another value too.

    Oracle: by construction.
    """
    reading(clinic, 0, 150)
    end(clinic)
    for chosen in (140.0, None):
        with pytest.raises(EntryError, match="say why"):
            sign(clinic, chosen=chosen, reason="  ")
    sign(clinic, chosen=basis_of(clinic.session, clinic.series).systolic_mmhg)
    with pytest.raises(EntryError, match="amendment"):
        sign(clinic, chosen=150.0, reason="again")


def test_a_series_of_another_session_is_not_signed(clinic: Clinic) -> None:
    """Neither that of another animal of the practice nor that of another practice; nothing is written.

    Oracle: by construction.
    """
    animal = Animal.objects.create(practice=clinic.practice, name="Teasel", species="cat")
    session = Session.objects.create(
        practice=clinic.practice, animal=animal, started_at=clinic.started_at, started_by=clinic.nurse
    )
    other = session.series.create(practice=clinic.practice, ordinal=1, technique="oscillometric")
    reading(clinic, 0, 150, series=other)
    with pytest.raises(EntryError, match="another session"):
        sign(clinic, chosen=150.0, reason="typed here", series=other)
    assert not SignedValue.objects.exists()
    assert not Entry.objects.exists()


@pytest.mark.parametrize(
    ("systolic", "chosen", "ending"),
    [(150.0, 150.0, "closed"), (150.0, None, "no valid value"), (None, None, "none obtained")],
)
def test_signing_ends_an_open_session(
    clinic: Clinic, systolic: float | None, chosen: float | None, ending: str
) -> None:
    """Closed with a value, otherwise as what it was: no valid value, or none obtained.

    Oracle: by construction.
    """
    if systolic is not None:
        reading(clinic, 0, systolic)
    sign(clinic, chosen=chosen, reason="as seen")
    assert Session.objects.get(pk=clinic.session.pk).ending == ending
    assert verify().trouble is None


def test_none_obtained_is_signed_as_that(clinic: Clinic) -> None:
    """Without a series there is no value and no fingerprint, and it verifies.

    Oracle: by construction.
    """
    session_end(clinic.nurse, session=clinic.session, ending=Ending.NONE_OBTAINED, at=clinic.started_at)
    found = value_sign(
        clinic.veterinarian,
        session=clinic.session,
        series=None,
        looked_at=basis_of(clinic.session, None).digest,
        chosen=None,
        reason="",
        at=clinic.started_at,
    )
    assert (found.charted, found.chosen, found.fingerprint) == (None, None, "")
    assert verify().trouble is None


def test_an_amendment_stands_beside_and_the_value_stays(clinic: Clinic, signed: SignedValue) -> None:
    """With who, when and why; without a reason there is none.

    Oracle: by construction.
    """
    at = clinic.started_at + timedelta(days=1)
    with pytest.raises(EntryError):
        amendment_add(clinic.veterinarian, signed_value=signed, chosen=165.0, text="", why=" ", at=at)
    amendment_add(clinic.veterinarian, signed_value=signed, chosen=165.0, text="", why="slip of the pen", at=at)
    signed.refresh_from_db()
    assert signed.chosen == 160.0
    assert signed.amendments.get().chosen == 165.0
    assert verify().trouble is None


@pytest.mark.parametrize("table", PROTECTED)
@pytest.mark.parametrize("statement", [f"UPDATE {{}} SET id = '{'0' * 32}'", "DELETE FROM {}"])
def test_the_database_refuses_to_change_what_stands_for_good(
    clinic: Clinic, signed: SignedValue, table: str, statement: str
) -> None:
    """Update and delete fail in the database itself, for all of these tables.

    Oracle: by construction, SQL without the framework between.
    """
    amendment_add(clinic.veterinarian, signed_value=signed, chosen=None, text="x", why="y", at=clinic.started_at)
    a_comparison(clinic)
    a_conversion(clinic)
    Decision.objects.create(
        practice=clinic.practice,
        failed=of_a_cuff_that_failed(clinic),
        session=signed.session,
        what="stands",
        by=clinic.veterinarian,
        at=clinic.started_at,
    )
    with pytest.raises(DatabaseError, match="stands for good"), transaction.atomic(), connection.cursor() as cursor:
        cursor.execute(statement.format(table))


CHANGES = {
    "a chosen value": ("measuring_signedvalue", "UPDATE measuring_signedvalue SET chosen = 120", "has been changed"),
    "a frozen reading": (
        "measuring_signedvalue",
        "UPDATE measuring_signedvalue SET frozen = replace(frozen, '176', '126')",
        "has been changed",
    ),
    "an amendment": ("measuring_amendment", "UPDATE measuring_amendment SET why = 'z'", "amendment"),
    "an entry": ("journal_entry", "UPDATE journal_entry SET what = 'nothing' WHERE sequence = 1", "entry 1 (nothing)"),
    "an entry gone": ("journal_entry", "DELETE FROM journal_entry WHERE sequence = 1", "entry 1 is missing"),
    "two last entries gone": (
        "journal_entry",
        "DELETE FROM journal_entry WHERE sequence > 1",
        "not in the journal",
    ),
}


@pytest.mark.parametrize("what", CHANGES)
def test_what_was_changed_behind_the_back_is_found(clinic: Clinic, signed: SignedValue, what: str) -> None:
    """The first thing that is not as it was written is named.

    Oracle: by construction, each change made with the triggers taken away for the moment.
    """
    amendment_add(clinic.veterinarian, signed_value=signed, chosen=None, text="x", why="y", at=clinic.started_at)
    assert [entry.what for entry in Entry.objects.order_by("sequence")] == [
        "session ended",
        "recheck set",
        "value signed",
        "recheck set",
        "amendment added",
    ]
    assert verify().trouble is None
    table, statement, found = CHANGES[what]
    behind_the_back(table, statement)
    trouble = verify().trouble
    assert trouble is not None
    assert found in trouble


def test_a_change_with_a_new_seal_is_found_by_the_journal(clinic: Clinic, signed: SignedValue) -> None:
    """Whoever works out the seal anew still contradicts the journal; a wrong fingerprint is found by itself.

    Oracle: by construction.
    """
    signed.chosen = 120.0
    behind_the_back(
        "measuring_signedvalue", f"UPDATE measuring_signedvalue SET chosen = 120, seal = '{seal_of(signed)}'"
    )
    assert "is not what the journal tells of it" in str(verify().trouble)
    signed.fingerprint = "0" * 64
    behind_the_back(
        "measuring_signedvalue",
        f"UPDATE measuring_signedvalue SET fingerprint = '{signed.fingerprint}', seal = '{seal_of(signed)}'",
    )
    assert "does not have the fingerprint" in str(verify().trouble)
    assert Amendment.objects.count() == 0
