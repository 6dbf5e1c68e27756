"""Whoever edits the database from outside is refused by it, or found by `verify`, in every column that is to stand."""

from __future__ import annotations

import uuid
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from datetime import timedelta
from typing import Any

import pytest
from django.db import DatabaseError, connection, models, transaction
from django.test import Client
from django.utils import timezone

from clinic.desk.examples import HIGH, address, sign, signed_value
from clinic.examples import Clinic, reading
from quietlimb.clinic.canonical import columns
from quietlimb.clinic.journal import writing as journal
from quietlimb.clinic.journal.models import Entry
from quietlimb.clinic.journal.protection import PROTECTED, SAID_BY_A_READING, statements
from quietlimb.clinic.people.models import Person
from quietlimb.clinic.sessions.entry import entered
from quietlimb.clinic.sessions.models import Amendment, Reading, SignedValue
from quietlimb.clinic.sessions.selectors import so_far_of
from quietlimb.clinic.sessions.services import reading_add, reading_strike
from quietlimb.clinic.verifying import verify

SignIn = Callable[[Person], Client]

STANDS = (Entry, SignedValue, Amendment)
COLUMNS = [(model, field) for model in STANDS for field in model._meta.concrete_fields]
NAMES = [f"{model.__name__}.{field.name}" for model, field in COLUMNS]


@pytest.fixture
def signed(clinic: Clinic, signed_in: SignIn) -> Clinic:
    """The clinic with a signed and amended session."""
    for k, value in enumerate(HIGH):
        reading(clinic, 1.5 * k, value)
    browser = signed_in(clinic.veterinarian)
    assert sign(browser, clinic).status_code == 302
    assert browser.post(address(clinic, "amend"), {"text": "by the left leg", "why": "a slip"}).status_code == 302
    assert verify().trouble is None
    return clinic


@contextmanager
def from_outside() -> Iterator[Any]:
    """A cursor of somebody who takes the protection away and puts it back; at the end all is as before."""
    with transaction.atomic(), connection.cursor() as cursor:
        sqlite = connection.vendor == "sqlite"
        if sqlite:
            for table in PROTECTED:
                for verb in ("update", "delete"):
                    cursor.execute(f"DROP TRIGGER {table}_no_{verb}")
        else:
            cursor.execute("SET LOCAL session_replication_role = replica")
        yield cursor
        transaction.set_rollback(True)


def protect_again(cursor: Any) -> None:
    """As it was before, so that the missing protection is not what is found."""
    if connection.vendor != "sqlite":
        cursor.execute("SET LOCAL session_replication_role = origin")
        return
    for table in PROTECTED:
        for statement in statements("sqlite", table):
            cursor.execute(statement)


def another(model: type[models.Model], field: models.Field[Any, Any]) -> Any:
    """A value for the column that it does not have now."""
    now = getattr(model._default_manager.earliest("pk"), field.attname)
    if isinstance(field, models.ForeignKey):
        other = field.remote_field.model._default_manager.exclude(pk=now).first()
        return uuid.uuid4() if other is None else other.pk
    if isinstance(field, models.UUIDField):
        return uuid.uuid4()
    if isinstance(field, models.BooleanField):
        return not now
    if isinstance(field, models.DateTimeField):
        return now + timedelta(seconds=1)
    if isinstance(field, models.IntegerField | models.FloatField):
        return (now or 0) + 1000  # a place in the chain that nobody has
    return now[:-1] + ("1" if now.endswith("0") else "0") if now else "0"


@pytest.mark.parametrize(("model", "field"), COLUMNS, ids=NAMES)
def test_a_column_that_stands_for_good_is_refused_and_found(
    model: type[models.Model], field: models.Field[Any, Any], signed: Clinic
) -> None:
    """Each column of journal, signed values and amendments: an update is refused; one made past that is found.

    Oracle: by construction, SQL without the framework between, over the tables' own list of columns.
    """
    table, row = model._meta.db_table, model._default_manager.earliest("pk")
    change = f'UPDATE {table} SET "{field.column}" = %s WHERE id = %s'
    values = [
        field.get_db_prep_save(another(model, field), connection),
        model._meta.pk.get_db_prep_save(row.pk, connection),
    ]
    with pytest.raises(DatabaseError, match="stands for good"), transaction.atomic(), connection.cursor() as cursor:
        cursor.execute(change, values)
    with from_outside() as cursor:
        cursor.execute(change, values)
        assert cursor.rowcount == 1
        protect_again(cursor)
        found = verify().trouble
    assert found is not None
    assert "not protected" not in found
    assert verify().trouble is None


@pytest.mark.parametrize("model", STANDS)
def test_a_row_that_stands_for_good_is_missed(model: type[models.Model], signed: Clinic) -> None:
    """The first row of each table: its removal is refused; where it was removed all the same, it is missed.

    Oracle: by construction. The last entries of a chain are not missed, as the guide says.
    """
    table = model._meta.db_table
    order = "sequence" if model is Entry else "id"
    remove = f"DELETE FROM {table} WHERE id = (SELECT id FROM {table} ORDER BY {order} LIMIT 1)"
    with pytest.raises(DatabaseError, match="stands for good"), transaction.atomic(), connection.cursor() as cursor:
        cursor.execute(remove)
    with from_outside() as cursor:
        cursor.execute(remove)
        assert cursor.rowcount == 1
        protect_again(cursor)
        found = verify().trouble
    assert found is not None
    assert "not protected" not in found


@pytest.fixture
def read(clinic: Clinic) -> Clinic:
    """The clinic with a session that was typed reading by reading, one of them struck through, and then signed."""
    for k, systolic in enumerate((*HIGH, 111)):
        at = clinic.started_at + timedelta(minutes=2 * k)
        sent = {"client_id": str(uuid.uuid4()), "ordinal": k, "taken_at": at.isoformat(), "systolic": systolic}
        sent |= {"mean": 100, "diastolic": 80, "pulse_rate": 180, "spoiled": "moved" if k == 1 else ""}
        so_far = so_far_of(clinic.series)
        told = entered(
            {**sent, "sure": True}, technique="oscillometric", started_at=clinic.started_at, now=at, so_far=so_far
        )
        row, _ = reading_add(clinic.nurse, series=clinic.series, entered=told, at=at)
    reading_strike(clinic.nurse, reading_id=row.pk, why="a slip", at=at)
    signed_value(clinic.veterinarian, clinic.session, clinic.series, chosen=168.0, reason="the last ones")
    assert verify().trouble is None
    return clinic


OF_A_READING = [field for field in Reading._meta.concrete_fields if field.column in SAID_BY_A_READING]


@pytest.mark.parametrize("field", OF_A_READING, ids=lambda field: field.column)
def test_what_a_reading_says_is_refused_and_found_by_name(field: models.Field[Any, Any], read: Clinic) -> None:
    """Each column of the first reading: an update is refused; one made past that is found, with before and after.

    Oracle: by construction, SQL without the framework between.
    """
    row = Reading.objects.get(ordinal=0)
    now = getattr(row, field.attname)
    other: Any = 111 if isinstance(now, int | float) else "moved"
    if isinstance(field, models.ForeignKey | models.UUIDField):
        other = uuid.uuid4()
    elif isinstance(field, models.DateTimeField):
        other = now + timedelta(seconds=1)
    change = f'UPDATE measuring_reading SET "{field.column}" = %s WHERE id = %s'
    values = [
        field.get_db_prep_save(other, connection),
        Reading._meta.pk.get_db_prep_save(row.pk, connection),
    ]
    with pytest.raises(DatabaseError, match="stands for good"), transaction.atomic(), connection.cursor() as cursor:
        cursor.execute(change, values)
    with from_outside() as cursor:
        cursor.execute(change, values)
        protect_again(cursor)
        found = verify().trouble
    assert found is not None
    assert "not protected" not in found
    if field.column == "systolic":
        assert f"reading 1 is not as it was signed: systolic is 111.0, was {HIGH[0]}.0" in found


def test_a_reading_that_was_removed_is_refused_and_missed(read: Clinic) -> None:
    """Of a signed session, and one struck through before, which the journal alone tells of.

    Oracle: by construction.
    """
    for ordinal in (0, len(HIGH)):
        remove = f"DELETE FROM measuring_reading WHERE ordinal = {ordinal}"
        with pytest.raises(DatabaseError, match="stands for good"), transaction.atomic(), connection.cursor() as cursor:
            cursor.execute(remove)
        with from_outside() as cursor:
            cursor.execute(remove)
            protect_again(cursor)
            found = verify().trouble
        assert found is not None
        assert "is gone" in found


def test_a_strike_that_was_taken_back_is_found(read: Clinic) -> None:
    """Striking through is allowed, so the database lets it be changed; the journal tells it otherwise.

    Oracle: by construction.
    """
    with transaction.atomic(), connection.cursor() as cursor:
        cursor.execute("UPDATE measuring_reading SET struck_because = 'no reason' WHERE struck_at IS NOT NULL")
        assert cursor.rowcount == 1
        found = verify().trouble
        transaction.set_rollback(True)
    assert found is not None
    assert "struck_because is no reason, was a slip" in found
    with transaction.atomic(), connection.cursor() as cursor:
        cursor.execute("UPDATE measuring_reading SET struck_at = NULL WHERE struck_at IS NOT NULL")
        found = verify().trouble
        transaction.set_rollback(True)
    assert found is not None
    assert "rests on 6 readings, and 7 of them are there" in found


def test_a_reading_that_was_put_beside_a_signed_value_is_found(read: Clinic) -> None:
    """A row that no service wrote is not in the journal.

    Oracle: by construction.
    """
    with transaction.atomic():
        put_in = reading(read, 30, 170)
        found = verify().trouble
        transaction.set_rollback(True)
    assert found is not None
    assert f"reading {put_in.pk} stands beside its readings" in found


def test_what_comes_or_is_struck_through_after_the_signature_is_as_written(read: Clinic) -> None:
    """A late reading, and one struck through later: the value rests on what was frozen, and nothing is wrong.

    Oracle: by construction, rows written as the services write them.
    """
    at = timezone.now() + timedelta(minutes=1)
    late = reading(read, 30, 170)
    first = Reading.objects.get(ordinal=0)
    before = columns(first)
    first.struck_at, first.struck_by, first.struck_because = at, read.nurse, "of another animal"
    first.save(update_fields=["struck_at", "struck_by", "struck_because"])
    with transaction.atomic():
        journal.write(read.nurse, "reading added", late)
        journal.write(read.nurse, "reading struck through", first, before=before, after=columns(first))
    assert verify().trouble is None
