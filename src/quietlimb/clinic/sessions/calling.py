"""Fetching the veterinarian: the session stands first on Today, whatever its pressure, until somebody signs it."""

from __future__ import annotations

from datetime import datetime

from quietlimb.clinic.journal.changing import change
from quietlimb.clinic.people.models import Person
from quietlimb.clinic.sessions.models import Session
from quietlimb.clinic.sessions.services import lock_unsigned
from quietlimb.clinic.stores import together


@together()
def veterinarian_call(by: Person, *, session: Session, at: datetime) -> Session:
    """Call; called twice, the first time stands. Raises EntryError where the session is signed."""
    return _set(by, session, "veterinarian called", at=at)


@together()
def call_take_back(by: Person, *, session: Session) -> Session:
    """Take a call back, as one made by a slip of the finger; the journal keeps both."""
    return _set(by, session, "call taken back", at=None)


def _set(by: Person, session: Session, what: str, *, at: datetime | None) -> Session:
    lock_unsigned(session.pk)
    row = Session.objects.get(pk=session.pk)
    if (row.called_at is None) != (at is None):
        row.called_at, row.called_by = at, None if at is None else by
        change(by, what, row, fields=("called_at", "called_by"))
    return row
