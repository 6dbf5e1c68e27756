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

from clinic.desk.examples import HIGH, address, sign
from clinic.examples import Clinic, reading
from quietlimb.clinic.journal.models import Entry
from quietlimb.clinic.journal.protection import PROTECTED, statements
from quietlimb.clinic.people.models import Person
from quietlimb.clinic.sessions.models import Amendment, SignedValue
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
