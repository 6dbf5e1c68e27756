"""The journal: written with what it tells, chained, and refused any change."""

from __future__ import annotations

import hashlib
import json

import pytest
from django.db import DatabaseError, connection, transaction

from clinic.examples import Clinic
from quietlimb.clinic.canonical import canonical
from quietlimb.clinic.journal import writing
from quietlimb.clinic.journal.models import Entry
from quietlimb.clinic.journal.protection import PROTECTED, unprotected


def test_an_entry_tells_who_what_when_and_what_was_before_and_after(clinic: Clinic) -> None:
    """Each entry follows the one before it in its own practice's chain.

    Oracle: by construction; the hash is worked out here by hand.
    """
    first = writing.write(clinic.nurse, "animal added", clinic.animal)
    second = writing.write(
        clinic.nurse,
        "animal changed",
        clinic.animal,
        before={"name": "Thistle"},
        after={"name": "Burr"},
        why="misheard",
    )
    other = writing.write(clinic.stranger, "practice set up", clinic.stranger.practice)
    assert (first.sequence, second.sequence, other.sequence) == (1, 2, 1)
    assert (first.previous, second.previous, other.previous) == ("", first.hash, "")
    assert json.loads(first.after)["name"] == "Thistle"
    second.refresh_from_db()
    told = {
        "id": str(second.pk),
        "practice_id": str(clinic.practice.pk),
        "sequence": 2,
        "who_id": str(clinic.nurse.pk),
        "when": second.when.isoformat(timespec="microseconds"),
        "what": "animal changed",
        "thing": "animal",
        "thing_id": str(clinic.animal.pk),
        "before": '{"name":"Thistle"}',
        "after": '{"name":"Burr"}',
        "why": "misheard",
        "previous": first.hash,
    }
    by_hand = json.dumps(told, sort_keys=True, separators=(",", ":"))
    assert second.hash == hashlib.sha256(by_hand.encode()).hexdigest() == writing.hash_of(second)


def test_an_entry_leaves_with_the_transaction_that_failed(clinic: Clinic) -> None:
    """What did not happen is not told.

    Oracle: by construction.
    """

    @transaction.atomic
    def add_and_fail() -> None:
        writing.write(clinic.nurse, "animal added", clinic.animal)
        raise RuntimeError

    with pytest.raises(RuntimeError):
        add_and_fail()
    assert not Entry.objects.exists()


def test_secrets_are_not_told(clinic: Clinic) -> None:
    """Neither password nor short code gets into the journal, not even hashed.

    Oracle: by construction.
    """
    entry = writing.write(None, "person added", clinic.nurse)
    assert "argon2" not in entry.after
    assert "wren" in entry.after


@pytest.mark.parametrize("statement", ["UPDATE {} SET id = id", "DELETE FROM {}"])
def test_the_database_refuses_to_change_the_journal(clinic: Clinic, statement: str) -> None:
    """Update and delete fail in the database itself.

    Oracle: by construction, SQL without the framework between.
    """
    writing.write(clinic.nurse, "animal added", clinic.animal)
    with pytest.raises(DatabaseError, match="stands for good"), transaction.atomic(), connection.cursor() as cursor:
        cursor.execute(statement.format("journal_entry"))
    assert Entry.objects.count() == 1


def test_every_table_that_stands_for_good_is_protected(clinic: Clinic) -> None:
    """The migrations protect all three, and a trigger that was taken away is missed.

    Oracle: by construction.
    """
    assert unprotected(connection) == []
    with connection.cursor() as cursor:
        name = "no_delete" if connection.vendor == "sqlite" else "no_change"
        on = "" if connection.vendor == "sqlite" else f" ON {PROTECTED[1]}"
        cursor.execute(f"DROP TRIGGER {PROTECTED[1]}_{name}{on}")
    assert unprotected(connection) == [PROTECTED[1]]


def test_the_canonical_form_is_one_text_for_one_value() -> None:
    """Order of keys does not matter, numbers keep their last digit, nan is refused.

    Oracle: by construction.
    """
    assert canonical({"b": 0.1 + 0.2, "a": "ä"}) == '{"a":"\\u00e4","b":0.30000000000000004}'
    with pytest.raises(ValueError, match="not JSON compliant"):
        canonical(float("nan"))
