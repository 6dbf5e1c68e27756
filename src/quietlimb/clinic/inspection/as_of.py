"""Rows as they were at a moment, told by the journal."""

from __future__ import annotations

import json
from collections.abc import Iterable
from datetime import datetime
from typing import Any
from uuid import UUID

from quietlimb.clinic.canonical import canonical, columns
from quietlimb.clinic.journal.models import Entry
from quietlimb.clinic.people.models import Person, Practice
from quietlimb.clinic.rows import PracticeRow

Row = dict[str, Any]


def as_of(practice: Practice, rows: Iterable[PracticeRow | Person | Practice], until: datetime) -> list[Row]:
    """Columns of these rows of one kind as they were just before `until`; rows made later are left out.

    A row that the journal never tells of is taken as it is now. Secrets are no columns.
    """
    now = {row.pk: row for row in rows}
    if not now:
        return []
    kind = str(next(iter(now.values()))._meta.model_name)
    told: dict[UUID, Row | None] = {}
    entries = Entry.objects.filter(practice=practice, thing=kind).order_by("sequence")
    for thing_id, when, before, after in entries.values_list("thing_id", "when", "before", "after").iterator():
        was, became = _columns(thing_id, before), _columns(thing_id, after)
        if when < until and became:
            told[thing_id] = became
        elif became and thing_id not in told:
            told[thing_id] = was
    found = [told[key] if key in told else json.loads(canonical(columns(row))) for key, row in now.items()]
    return [row for row in found if row is not None]


def _columns(thing_id: UUID, text: str) -> Row | None:
    """The columns that an entry tells; None where it tells something else of the row, as that a folder was made."""
    found = json.loads(text) if text else None
    return found if isinstance(found, dict) and found.get("id") == str(thing_id) else None
