"""Making an inspection folder, which the journal tells."""

from __future__ import annotations

import hashlib
from datetime import datetime

from quietlimb.clinic.inspection.folder import Period, inspection_folder
from quietlimb.clinic.journal import writing as journal
from quietlimb.clinic.people.models import Person
from quietlimb.clinic.stores import together


def folder_make(by: Person, *, period: Period, at: datetime) -> bytes:
    """The ZIP; who made it for which days, and its sha256, stand in the journal. Raises FolderError as it does."""
    content = inspection_folder(by.practice, period, made_by=by, at=at)
    told: dict[str, object] = {
        "first": period.first.isoformat(),
        "last": period.last.isoformat(),
        "sha256": hashlib.sha256(content).hexdigest(),
    }
    with together():
        journal.write(by, "inspection folder made", by.practice, after=told)
    return content
