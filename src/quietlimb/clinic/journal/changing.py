"""Changing a row and telling the journal, in one step; and what the journal tells of a row's changes."""

from __future__ import annotations

import json
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import datetime
from uuid import UUID

from django.db import transaction
from django.db.models import Model

from quietlimb.clinic.canonical import columns
from quietlimb.clinic.journal import writing as journal
from quietlimb.clinic.journal.models import Entry
from quietlimb.clinic.people.models import Person, Practice
from quietlimb.clinic.rows import PracticeRow

# Bookkeeping that tells a person nothing.
UNTOLD = frozenset({"id", "practice_id", "last_login", "imported"})


@transaction.atomic
def change(
    by: Person | None, what: str, row: PracticeRow | Person | Practice, *, fields: Sequence[str], why: str = ""
) -> bool:
    """Save these fields of a row as they are in `row`, with before and after in the journal.

    Returns whether anything was different; where nothing was, nothing is written. The other fields stay as they are in
    the database, whatever `row` remembers of them.
    """
    stored = type(row)._default_manager.select_for_update().get(pk=row.pk)
    before = columns(stored)
    for name in fields:
        setattr(stored, name, getattr(row, name))
    after = columns(stored)
    if after == before:
        return False
    stored.save(update_fields=list(fields))
    journal.write(by, what, stored, before=before, after=after, why=why)
    return True


@dataclass(frozen=True, slots=True, kw_only=True)
class Change:
    """One entry of the journal as a line to read.

    differences : name of the field, value before, value after, as text; empty where the row was new
    """

    when: datetime
    who: str
    what: str
    why: str
    differences: tuple[tuple[str, str, str], ...]


def changes_of(practice: Practice, things: Iterable[UUID], model: type[Model], *, most: int = 20) -> list[Change]:
    """What the journal tells of these rows of one kind, the latest first."""
    entries = Entry.objects.filter(practice=practice, thing_id__in=list(things)).select_related("who")
    names = {field.attname: str(field.verbose_name) for field in model._meta.concrete_fields}
    return [
        Change(
            when=entry.when,
            who=entry.who.name if entry.who else "",
            what=entry.what,
            why=entry.why,
            differences=_differences(entry, names),
        )
        for entry in entries.order_by("-sequence")[:most]
    ]


def _differences(entry: Entry, names: dict[str, str]) -> tuple[tuple[str, str, str], ...]:
    if not entry.before or not entry.after:
        return ()
    before, after = json.loads(entry.before), json.loads(entry.after)
    return tuple(
        (names.get(key, key), _text(before.get(key)), _text(after.get(key)))
        for key in names
        if key not in UNTOLD and before.get(key) != after.get(key)
    )


def _text(value: object) -> str:
    if value is None or value == "":
        return "-"
    if isinstance(value, bool):
        return "yes" if value else "no"
    return ", ".join(map(str, value)) if isinstance(value, list) else str(value)
