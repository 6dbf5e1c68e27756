"""Changing a row and telling the journal, in one step; and what the journal tells of a row's changes."""

from __future__ import annotations

import json
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Protocol
from uuid import UUID

from quietlimb.clinic.canonical import columns
from quietlimb.clinic.journal import writing as journal
from quietlimb.clinic.journal.models import Entry
from quietlimb.clinic.people.models import Person, Practice
from quietlimb.clinic.rows import PracticeRow
from quietlimb.clinic.stores import together

USUAL, MOST = 20, 500  # entries on a page
# Bookkeeping that tells a person nothing.
UNTOLD = frozenset({"id", "practice_id", "last_login", "imported"})


@together()
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


@together()
def end(by: Person, what: str, row: PracticeRow, *, as_: str, why: str, at: datetime) -> bool:
    """Say once that a row that stands for good is no longer used: `as_`_at, `as_`_by, `as_`_why.

    Returns False where that was said already. The journal tells these columns alone: the row may hold a file.
    """
    stored = type(row)._default_manager.select_for_update().get(pk=row.pk)
    if getattr(stored, f"{as_}_at") is not None:
        return False

    def told() -> dict[str, object]:
        return {name: value for name, value in columns(stored).items() if name.startswith(f"{as_}_")}

    before = told()
    for name, value in (("at", at), ("by", by), ("why", why)):
        setattr(stored, f"{as_}_{name}", value)
    stored.save(update_fields=[f"{as_}_{name}" for name in ("at", "by", "why")])
    journal.write(by, what, stored, before=before, after=told(), why=why)
    return True


@dataclass(frozen=True, slots=True, kw_only=True)
class Change:
    """One entry of the journal as a line to read.

    about       : which of several rows; empty for the first one that was asked about
    differences : name of the field, value before, value after, as text; empty where the row was new
    """

    when: datetime
    who: str
    what: str
    about: str
    why: str
    differences: tuple[tuple[str, str, str], ...]


class Wanted(Protocol):
    """What is wanted of a list of changes: its `changes`, the order, and its `changed`, which of them."""

    def of(self, name: str) -> str:
        """The choice of this name."""


def changes_of(row: PracticeRow | Person | Practice, *others: PracticeRow, asked: Wanted | None = None) -> list[Change]:
    """What the journal tells of a row and of others that belong to it, the latest first where nothing is asked."""
    oldest, shown = (False, "") if asked is None else (asked.of("changes") == "oldest", asked.of("changed"))
    practice_id = row.pk if isinstance(row, Practice) else row.practice_id
    rows: dict[UUID, PracticeRow | Person | Practice] = {each.pk: each for each in (row, *others)}
    entries = Entry.objects.filter(practice=practice_id, thing_id__in=list(rows)).select_related("who")
    if shown == "values":
        entries = entries.exclude(before="").exclude(after="")
    found = entries.order_by("sequence" if oldest else "-sequence")[: MOST if shown else USUAL]
    return [
        Change(
            when=entry.when,
            who=entry.who.name if entry.who else "",
            what=entry.what,
            about="" if entry.thing_id == row.pk else str(rows[entry.thing_id]),
            why=entry.why,
            differences=_differences(entry, rows[entry.thing_id]),
        )
        for entry in found
    ]


def _differences(entry: Entry, row: PracticeRow | Person | Practice) -> tuple[tuple[str, str, str], ...]:
    if not entry.before or not entry.after:
        return ()
    before, after = json.loads(entry.before), json.loads(entry.after)
    return tuple(
        (str(field.verbose_name), _text(before.get(field.attname)), _text(after.get(field.attname)))
        for field in row._meta.concrete_fields
        if field.attname not in UNTOLD and before.get(field.attname) != after.get(field.attname)
    )


def _text(value: object) -> str:
    if value is None or value == "":
        return "-"
    if isinstance(value, bool):
        return "yes" if value else "no"
    return ", ".join(map(str, value)) if isinstance(value, list) else str(value)
